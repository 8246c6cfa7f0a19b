"""One body, drawn as an extruded outline and as facets: the same section, or held with the same words."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from drawn_meshes import Mesh, at_x, bar
from entity_scene import Scene

from takeoff.ifc.reader import Reader
from takeoff.sections import loops, shapes
from takeoff.settings import Settings
from takeoff.steel import Member


def strip(points: Any, thick: float) -> list[tuple[float, float]]:
    """A sheet of one thickness along a line, anti-clockwise."""
    from shapely import LineString
    from shapely.geometry.polygon import orient

    shape = LineString(points).buffer(thick / 2, cap_style="flat", join_style="mitre")
    return [(float(x), float(y)) for x, y in orient(shape).exterior.coords[:-1]]


def read(scene: Scene, item: Any) -> Member:
    scene.product("IfcBeam", [item])
    model, _ = Reader(scene.ctx, Settings(), lambda what, share: None).model()
    return model.members[0]


def both(outline: Any, length: float = 1000.0) -> tuple[Member, Member]:
    points = [(float(x), float(y)) for x, y in outline]
    if loops.area([(x, y, 0.0) for x, y in points]) < 0:
        points.reverse()
    one, other = Scene(), Scene()
    mesh = bar(points, length)
    return read(one, one.extruded(one.polygon(points), length)), read(other, other.brep(mesh.points, mesh.facets))


TURN = math.radians(110)
ARC = [(100 * math.cos(a / 20), 100 * math.sin(a / 20)) for a in range(40)]
UNEVEN = [(0, 0), (65, 0), (65, 8), (16, 8), (16, 100), (0, 100)]
BEVELLED = [(0, 0), (200, 0), (210, 10), (0, 10)]


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        (strip([(0, 100), (0, 0), (100 * math.sin(TURN), 100 * math.cos(TURN))], 8), "legs stand at 110 degrees"),
        (strip([(0, 100), (0, 0), (80, 0), (120, 50)], 6), "6 mm thick bent to 3 legs"),
        (strip([(0, 0), (30, 0), (30, 50), (80, 50), (80, 0), (110, 0)], 4), "4 mm thick bent to 5 legs"),
        (strip(ARC, 6), "6 mm thick rolled to a curve"),
        (UNEVEN, "legs are 8.0 and 16.0 mm thick"),
        (BEVELLED, "edges of its plate are bevelled"),
    ],
)  # fmt: skip
def test_what_is_no_rolled_section_is_held_saying_what_it_is(outline: Any, words: str) -> None:
    for member in both(outline):
        assert member.status == "held"
        assert words in member.reason


@pytest.mark.parametrize("turn", [0.0, 25.0, 90.0, 200.0])
def test_a_bar_of_no_known_shape_is_one_section_however_it_lies(turn: float) -> None:
    cross = [(0, 40), (40, 40), (40, 0), (50, 0), (50, 40), (90, 40), (90, 50), (50, 50), (50, 95), (40, 95), (40, 50), (0, 50)]  # fmt: skip  # noqa: E501
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    extruded, drawn = both(np.array(cross) @ np.array([[c, s], [-s, c]]))
    plain, _ = both(cross)
    for member in (extruded, drawn):
        assert member.status == "listed"
        assert member.body is not None
        assert plain.body is not None
        assert member.body.section.designation == plain.body.section.designation == "SECTION 95x90"
        assert np.allclose(member.body.section.outline, plain.body.section.outline, atol=0.01)


@pytest.mark.parametrize(
    "section",
    [
        shapes.lipped_channel(150, 60, 3, 20, 3),
        shapes.lipped_channel(150, 60, 3, 20),
        shapes.zed(150, 60, 3, 20, 3),
        shapes.zed(150, 60, 3),
    ],
)
def test_cold_formed_channels_and_zeds_are_that_whether_extruded_or_drawn(section: Any) -> None:
    for member in both(shapes.outline(section)):
        assert member.body is not None
        assert member.body.section.designation == section.designation


def test_a_coarse_round_is_one_whether_extruded_or_drawn() -> None:
    eight = [(20 * math.cos(k * math.pi / 4), 20 * math.sin(k * math.pi / 4)) for k in range(8)]
    assert [m.body.section.designation for m in both(eight) if m.body] == ["RND 40", "RND 40"]


def loft(start: Any, stop: Any, length: float) -> Mesh:
    mesh = Mesh()
    left, right = mesh.ring(at_x(start, 0)), mesh.ring(at_x(stop, length))
    mesh.skin(left, right)
    mesh.facet(left[::-1])
    mesh.facet(right)
    return mesh


ANGLE = [(0, 0), (65, 0), (65, 8), (8, 8), (8, 100), (0, 100)]
LARGER = [(0, 0), (100, 0), (100, 12), (12, 12), (12, 150), (0, 150)]


@pytest.mark.parametrize(
    ("start", "stop", "areas"),
    [
        (ANGLE, LARGER, "1256 to 2856"),
        ([(-30, -5), (30, -5), (30, 5), (-30, 5)], [(-60, -10), (60, -10), (60, 10), (-60, 10)], "600 to 2400"),
        ([(0, 0), (400, 0), (400, 20), (0, 20)], [(0, 0), (400, 0), (400, 10), (0, 10)], "4000 to 8000"),
        ([(0, 0), (40, 0), (40, 40), (0, 40)], [(15, 15), (25, 15), (25, 25), (15, 25)], "100 to 1600"),
    ],
)
@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_a_taper_in_whole_millimetres_is_called_a_taper_not_rounded(start: Any, stop: Any, areas: str, turn: float) -> None:  # fmt: skip  # noqa: E501
    """Areas of the ends by hand."""
    mesh = loft(start, stop, 1200)
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    points = mesh.array @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    scene = Scene()
    member = read(scene, scene.brep(points.tolist(), mesh.facets))
    assert member.status == "held"
    assert f"from {areas} mm2: it is tapered" in member.reason


def test_a_bar_in_whole_millimetres_that_lies_askew_is_held_whatever_it_seems_to_measure() -> None:
    mesh = bar(ANGLE, 1500)
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    points = np.round(mesh.array @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]))
    scene = Scene()
    member = read(scene, scene.brep(points.tolist(), mesh.facets))
    assert member.status == "held"
    assert "rounded to 1 mm" in member.reason
