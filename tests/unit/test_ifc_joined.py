"""Parts drawn as several bodies: read as one piece where that is certain, else held with what they are."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from entity_scene import BOX_FACETS, Scene, box_points

from takeoff.ifc.reader import Reader
from takeoff.settings import Settings
from takeoff.steel import Member

Six = tuple[float, float, float, float, float, float]


class Part(Scene):
    """One part of several bodies; boxes are (x0, x1, y0, y1, z0, z1)."""

    def box(self, sides: Six, drawn: str = "extruded") -> Any:
        x0, x1, y0, y1, z0, z1 = sides
        if drawn == "faceted":
            return self.brep(box_points((x1 - x0, y1 - y0, z1 - z0), (x0, y0, z0)), BOX_FACETS)
        if drawn == "along x":  # the same box, pushed along x
            axes = self.axes((x0, (y0 + y1) / 2, (z0 + z1) / 2), z=(1, 0, 0), x=(0, 1, 0))
            return self.extruded(self.rectangle(y1 - y0, z1 - z0), x1 - x0, axes)
        axes = self.axes(((x0 + x1) / 2, (y0 + y1) / 2, z0))
        return self.extruded(self.rectangle(x1 - x0, y1 - y0), z1 - z0, axes)

    def angle(self, start: float, stop: float) -> Any:
        profile = self.add("IfcLShapeProfileDef", "AREA", None, None, 100.0, 65.0, 8.0)
        return self.extruded(profile, stop - start, self.axes((0, 0, start)))

    def mapped(self, items: list[Any], second: tuple[float, float, float] = (0, 1, 0)) -> Any:
        shown = self.add("IfcShapeRepresentation", None, "Body", "SweptSolid", items)
        source = self.add("IfcRepresentationMap", self.axes(), shown)
        operator = self.add(
            "IfcCartesianTransformationOperator3D",
            self.way(1, 0, 0),
            self.way(*second),
            self.point(5, 6, 7),
            1.0,
            self.way(0, 0, 1),
        )
        return self.add("IfcMappedItem", source, operator)

    def read(self, items: list[Any], name: str = "") -> tuple[Member, list[str]]:
        self.product("IfcBeam", items, Name=name)
        model, queries = Reader(self.ctx, Settings(), lambda what, share: None).model()
        return model.members[0], [q.code for q in queries if q.code != "part-no-grade"]


def boxes(sides: list[Six], name: str = "", drawn: str = "extruded") -> tuple[Member, list[str]]:
    part = Part()
    return part.read([part.box(six, drawn) for six in sides], name)


@pytest.mark.parametrize("drawn", ["extruded", "faceted", "along x"])
@pytest.mark.parametrize(
    ("sides", "designation", "length"),
    [
        pytest.param([(0, 200, 0, 300, 0, 10), (200, 400, 0, 300, 0, 10)], "PL 10", 400, id="plate in halves"),
        pytest.param([(0, 8, 0, 60, 0, 500), (0, 8, 0, 60, 500, 1000)], "FL 60x8", 1000, id="flat in two lengths"),
        pytest.param([(0, 8, 0, 100, 0, 1000), (8, 65, 0, 8, 0, 1000)], "L 100x65x8", 1000, id="leg beside leg"),
        pytest.param([(0, 8, 0, 100, 0, 1000), (0, 65, 0, 8, 0, 1000)], "L 100x65x8", 1000, id="legs overlap"),
        pytest.param(
            [(-50, 50, 0, 8.5, 0, 700), (-2.8, 2.8, 8.5, 191.5, 0, 700), (-50, 50, 191.5, 200, 0, 700)],
            "IPE 200", 700, id="web and flanges of a rolled section",
        ),
    ],
)  # fmt: skip
def test_bodies_that_are_certainly_one_piece(sides: list[Six], designation: str, length: float, drawn: str) -> None:
    member, codes = boxes(sides, drawn=drawn)
    assert (member.status, codes) == ("listed", ["part-bodies-joined"])
    assert member.body is not None
    assert (member.body.section.designation, member.body.length) == (designation, pytest.approx(length))


@pytest.mark.parametrize(
    ("sides", "words"),
    [
        pytest.param([(0, 8, 0, 60, 0, 500), (8, 16, 0, 60, 0, 500)], "on one another", id="stacked"),
        pytest.param([(0, 8, 0, 60, 0, 500), (0, 8, 0, 60, 510, 900)], "do not touch", id="apart"),
        pytest.param([(0, 8, 0, 101, 0, 900), (8, 63, 0, 8, 0, 900)], "L 101x63x8, in no table", id="no rolled angle"),
        pytest.param([(0, 8, 0, 60, 0, 500), (-50, 60, -40, 90, 500, 510)], "built up", id="end plate"),
        pytest.param([(0, 300, 0, 300, 0, 10), (5, 305, 0, 300, 0, 10)], "over the other", id="drawn twice, moved"),
    ],
)
def test_bodies_that_are_not_are_held_with_what_they_are(sides: list[Six], words: str) -> None:
    member, codes = boxes(sides)
    assert (member.status, codes) == ("held", ["part-several-bodies"])
    assert words in member.reason
    assert member.body is None


@pytest.mark.parametrize("form", ["brep", "triangles"])
@pytest.mark.parametrize(
    ("sides", "words"),
    [
        pytest.param([(0, 200, 0, 300, 0, 10), (200, 400, 0, 300, 0, 10)], "PL 10", id="plate in halves"),
        pytest.param([(0, 8, 0, 100, 0, 1000), (8, 65, 0, 8, 0, 1000)], "L 100x65x8", id="leg beside leg"),
        pytest.param([(0, 8, 0, 60, 0, 500), (0, 8, 0, 60, 500, 900)], "FL 60x8", id="flat in two lengths"),
        pytest.param([(0, 8, 0, 60, 0, 500), (8, 16, 5, 55, 20, 400)], "built up", id="stacked"),
        pytest.param([(0, 8, 0, 60, 0, 500), (20, 28, 0, 60, 0, 500)], "do not touch", id="apart"),
        pytest.param([(0, 300, 0, 300, 0, 10), (100, 140, 100, 140, 0, 10)], "over the other", id="a hole as a shell"),
    ],
)
def test_several_shells_of_one_mesh_are_the_same_as_several_bodies(sides: list[Six], words: str, form: str) -> None:
    part = Part()
    points: list[tuple[float, float, float]] = []
    facets: list[tuple[tuple[int, ...], ...]] = []
    for x0, x1, y0, y1, z0, z1 in sides:
        first = len(points)
        points += box_points((x1 - x0, y1 - y0, z1 - z0), (x0, y0, z0))
        facets += [tuple(tuple(i + first for i in ring) for ring in facet) for facet in BOX_FACETS]
    if form == "brep":
        item = part.brep(points, facets)
    else:
        halves = [[ring[a] + 1 for a in three] for (ring,) in facets for three in ((0, 1, 2), (0, 2, 3))]
        rows = part.add("IfcCartesianPointList3D", [[float(c) for c in p] for p in points])
        item = part.add("IfcTriangulatedFaceSet", rows, None, True, halves)
    member, codes = part.read([item])
    if member.status == "held":
        assert words in member.reason
    else:
        assert member.body is not None
        assert (member.body.section.designation, codes) == (words, ["part-bodies-joined"])


def test_the_name_of_the_part_says_that_two_legs_are_one_angle() -> None:
    member, codes = boxes([(0, 8, 0, 101, 0, 900), (8, 63, 0, 8, 0, 900)], "L101x63x8")
    assert (member.status, codes) == ("listed", ["part-bodies-joined"])


def test_lengths_of_an_angle_end_to_end_and_one_over_the_other() -> None:
    part = Part()
    member, codes = part.read([part.angle(500, 1200), part.angle(0, 500)])
    assert codes == ["part-bodies-joined"]
    assert member.body is not None
    assert (member.body.section.designation, member.body.length) == ("L 100x65x8", 1200)
    part = Part()
    assert part.read([part.angle(0, 500), part.angle(5, 505)])[1] == ["part-several-bodies"]
    part = Part()
    assert part.read([part.angle(0, 500), part.angle(501, 900)])[1] == ["part-several-bodies"]


@pytest.mark.parametrize("second", [(0, 1, 0), (0, -1, 0)], ids=["as it is", "mirrored"])
def test_a_map_of_several_bodies_is_the_map_of_the_whole(second: tuple[float, float, float]) -> None:
    """The same body in the same place as one extrusion mapped alike."""
    part, twin = Part(), Part()
    member, _ = part.read([part.mapped([part.angle(0, 500), part.angle(500, 1200)], second)])
    whole, codes = twin.read([twin.mapped([twin.angle(0, 1200)], second)])
    assert codes == []
    assert member.body == whole.body
    assert member.frame is not None
    assert whole.frame is not None
    assert np.allclose(member.frame.axes, whole.frame.axes)
    assert np.allclose(member.frame.origin, whole.frame.origin)


def test_holes_of_a_plate_in_halves_one_of_them_across_the_seam() -> None:
    """A plate 400 x 300 with a hole in each half and one over the seam, which each half has a half of."""
    part = Part()

    def half(left: float, right: float, notch: list[tuple[float, float]], hole: float) -> Any:
        ring = [(left, 0.0), (right, 0.0), (right, 300.0), (left, 300.0)]
        edge = [*ring[:2], *notch, *ring[2:]] if left == 0 else [*ring, *notch]
        points = [part.point(*p) for p in edge]
        curve = part.add("IfcPolyline", [*points, points[0]])
        circle = part.add("IfcCircle", part.flat_axes(hole, 80), 11.0)
        return part.extruded(part.add("IfcArbitraryProfileDefWithVoids", "AREA", None, curve, [circle]), 10)

    turn = np.linspace(-np.pi / 2, np.pi / 2, 19)
    left = [(200 - 9 * float(np.cos(a)), 150 + 9 * float(np.sin(a))) for a in turn]
    right = [(200 + 9 * float(np.cos(a)), 150 - 9 * float(np.sin(a))) for a in turn]
    member, codes = part.read([half(0, 200, left, 60), half(200, 400, right, 350)])
    assert codes == ["part-bodies-joined"]
    assert member.body is not None
    found = sorted((round(h.diameter, 2), h.kind) for h in member.body.holes)
    assert found == [(18.0, "round"), (22.0, "round"), (22.0, "round")]
    assert member.frame is not None
    places = sorted(
        tuple(np.round(member.frame.to_model((h.x, 0, h.across))[:2], 1).tolist()) for h in member.body.holes
    )
    assert places == [(60.0, 80.0), (200.0, 150.0), (350.0, 80.0)]
