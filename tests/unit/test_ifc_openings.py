"""Openings as holes and notches of a part's faces."""

from __future__ import annotations

import math
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import numpy as np
import pytest
from entity_scene import BOX_FACETS, Scene, box_points, shared
from hypothesis import given, settings
from hypothesis import strategies as st

from takeoff.ifc.bodies import Bodies
from takeoff.ifc.context import Context
from takeoff.ifc.openings import read_openings
from takeoff.ifc.placements import placement
from takeoff.sections import shapes
from takeoff.settings import Settings
from takeoff.steel import Body, DrawnHole, Frame, Notch, Problem, Section, Vertex

LENGTH = 1000.0
ANGLE = shapes.angle(100, 75, 8)
TURN = np.array([[0.36, 0.48, -0.8], [-0.8, 0.6, 0.0], [0.48, 0.64, 0.6]])
Found = tuple[tuple[DrawnHole, ...], tuple[Notch, ...], tuple[Problem, ...]]


def opened(
    scene: Scene,
    solids: list[Any],
    section: Section = ANGLE,
    body: Body | None = None,
    axes: Any = None,
    frame: Frame | None = None,
) -> Found:
    """What openings, each of one solid in the axes given, take from a part whose piece frame is the world's."""
    made = [scene.product("IfcOpeningElement", [solid], axes) for solid in solids]
    part = body or Body(section, LENGTH)
    place = frame or Frame(np.zeros(3), np.eye(3))
    return read_openings(scene.ctx, None, part, place, made)


def codes(found: Found) -> list[str]:
    return [problem.code for problem in found[2]]


def along_u(scene: Scene, x: float, v: float, start: float = -5.0) -> Any:
    """Axes of an opening pushed along +u (into leg A): its x is the piece's x, its y is v."""
    return scene.axes((x, start, v), z=(0, 1, 0), x=(-1, 0, 0))


@pytest.mark.parametrize("unit", ["mm", "inch"])
def test_a_round_hole_in_each_leg_of_an_angle(unit: str) -> None:
    scene = Scene(unit=unit)
    in_a = scene.extruded(scene.circle(18), 20, along_u(scene, 200, 55))
    in_b = scene.extruded(scene.circle(22), 20, scene.axes((300, 45, -5)))
    holes, notches, problems = opened(scene, [in_a, in_b])
    assert [(h.face, h.kind) for h in holes] == [("A", "round"), ("B", "round")]
    assert [(h.x, h.across, h.diameter) for h in holes] == [
        pytest.approx((200, 55, 18), abs=1e-5),
        pytest.approx((300, 45, 22), abs=1e-5),
    ]
    assert all(math.isinf(h.depth) and h.tilt_deg == 0 for h in holes)
    assert notches == ()
    assert problems == ()


def test_placement_and_frame_far_off_and_turned() -> None:
    scene = Scene()
    frame = Frame(np.array([5e5, -3e5, 1e4]), TURN)
    solid = scene.extruded(scene.circle(18), 20)
    centre, way = frame.to_model((200, -5, 55)), frame.axes[1]
    axes = scene.axes(centre.tolist(), z=way.tolist(), x=frame.axes[0].tolist())
    holes, _, problems = opened(scene, [solid], axes=axes, frame=frame)
    assert (holes[0].face, holes[0].x, holes[0].across) == (
        "A",
        pytest.approx(200, abs=1e-4),
        pytest.approx(55, abs=1e-4),
    )
    assert problems == ()


@settings(max_examples=30, deadline=None)
@given(
    name=st.sampled_from(["angle", "channel", "I", "T", "flat", "RHS"]),
    pick=st.integers(0, 3),
    x=st.floats(50, 950),
    share=st.floats(0.3, 0.7),
    turned_by=st.floats(0, 6),
    depth=st.floats(0.5, 60),
)
def test_a_hole_is_found_on_the_face_it_goes_through(
    name: str, pick: int, x: float, share: float, turned_by: float, depth: float
) -> None:
    """Any face of any shape, the part anywhere: the hole's place is put into the model by the face's own definition."""
    section = {
        "angle": ANGLE,
        "channel": shapes.channel(200, 75, 8.5, 11.5),
        "I": shapes.i_section(300, 150, 8, 12, 15),
        "T": shapes.tee(100, 100, 8, 10),
        "flat": shapes.flat(100, 10),
        "RHS": shapes.rhs(150, 100, 6),
    }[name]
    faces = shapes.faces(section)
    face = faces[pick % len(faces)]
    # clear of the other walls, which a hole in the middle of a flange would meet
    if name in ("I", "T") and face.name != "web" and face.name != "stem":
        share = 0.8
    across = face.low + share * (face.high - face.low)
    frame = Frame(np.array([5e4, -3e4, 1e3]), TURN)
    outside = np.array([x, *(np.array(face.origin) + across * np.array(face.direction))])
    inward = np.array([0.0, *face.inward])
    start = frame.to_model(outside - 2 * inward)
    way = inward @ frame.axes
    side = np.cos(turned_by) * frame.axes[0] + np.sin(turned_by) * np.cross(way, frame.axes[0])
    scene = Scene()
    pushed = 2 + face.thickness + min(depth, 40)
    axes = scene.axes(start.tolist(), z=way.tolist(), x=side.tolist())
    holes, notches, problems = opened(
        scene, [scene.extruded(scene.circle(14), pushed)], section, axes=axes, frame=frame
    )
    assert problems == ()
    assert notches == ()
    (hole,) = holes
    assert (hole.face, hole.kind) == (face.name, "round")
    assert (hole.x, hole.across, hole.diameter) == pytest.approx((x, across, 14), abs=1e-4)


def test_a_slot_of_two_arcs_and_two_lines_and_one_drawn_in_steps() -> None:
    """18 wide, 40 long overall, its length at 30 degrees to x."""
    scene = Scene()
    pitch, radius = 22.0, 9.0
    ends = [
        (math.cos(a) * radius + pitch / 2, math.sin(a) * radius) for a in np.linspace(-math.pi / 2, math.pi / 2, 13)
    ]
    steps = [*ends, *((-x, -y) for x, y in ends)]
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    stepped = scene.polygon([(c * x - s * y, s * x + c * y) for x, y in steps])
    rounded = scene.rectangle(40, 18, radius=9)
    for profile, turn in ((stepped, 30.0), (rounded, 0.0)):
        # pushed against u from behind, so that x and v keep their sense: y of the profile is v
        axes = scene.axes((300, 20, 55), z=(0, -1, 0), x=(1, 0, 0))
        holes, _, problems = opened(scene, [scene.extruded(profile, 40, axes)])
        (hole,) = holes
        assert hole.kind == "slot"
        assert (hole.x, hole.across) == pytest.approx((300, 55), abs=1e-4)
        assert (hole.diameter, hole.slot_length, hole.slot_angle) == pytest.approx((18, 40, turn), abs=1e-3)
        assert problems == ()


def test_the_angle_of_a_slot_is_seen_from_outside() -> None:
    """On leg B x runs to the right and across away from the heel: pushed along +v the profile is seen mirrored."""
    scene = Scene()
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    base = scene.rectangle(40, 20)
    turned = scene.add(
        "IfcRectangleProfileDef", "AREA", None,
        scene.add("IfcAxis2Placement2D", scene.point(0, 0), scene.way(c, s)), base.XDim, base.YDim,
    )  # fmt: skip
    # z = +v, x = +x: y of the profile is -u on leg B
    axes = scene.axes((300, 40, -3), z=(0, 0, 1), x=(1, 0, 0))
    (hole,), _, _ = opened(scene, [scene.extruded(turned, 20, axes)])
    assert hole.face == "B"
    along = np.array([1.0, 0, 0]) * c + np.array([0, 1.0, 0]) * s  # the rectangle's long side in the piece frame
    seen = math.degrees(math.atan2(along[1], along[0])) % 180
    assert hole.slot_angle == pytest.approx(seen, abs=1e-4)


def test_rectangles_sharp_rounded_and_with_corners_drawn_in_steps() -> None:
    scene = Scene()
    corner = [(20 + 10 * math.cos(a), 10 + 10 * math.sin(a)) for a in np.linspace(0, math.pi / 2, 9)]
    steps = [
        *corner, *((-x, y) for x, y in reversed(corner)), *((-x, -y) for x, y in corner),
        *((x, -y) for x, y in reversed(corner)),
    ]  # fmt: skip
    expected = ((scene.rectangle(60, 40), 0.0), (scene.rectangle(60, 40, 10), 20.0), (scene.polygon(steps), 20.0))
    for profile, diameter in expected:
        (hole,), _, problems = opened(scene, [scene.extruded(profile, 30, along_u(scene, 500, 50))])
        assert hole.kind == "rectangle"
        assert (hole.slot_length, hole.width, hole.diameter) == pytest.approx((60, 40, diameter), abs=1e-3)
        assert (hole.x, hole.across, hole.slot_angle) == pytest.approx((500, 50, 0), abs=1e-4)
        assert problems == ()


def test_a_polygon_of_twelve_sides_is_a_circle() -> None:
    scene = Scene()
    ring = [(9 * math.cos(i * math.pi / 6), 9 * math.sin(i * math.pi / 6)) for i in range(12)]
    (hole,), _, _ = opened(scene, [scene.extruded(scene.polygon(ring), 30, along_u(scene, 500, 50))])
    assert (hole.kind, hole.diameter) == ("round", pytest.approx(18))


def test_depths() -> None:
    scene = Scene()
    exactly = scene.extruded(scene.circle(18), 8, along_u(scene, 100, 55, start=0))
    shallow = scene.extruded(scene.circle(18), 3, along_u(scene, 200, 55, start=0))
    from_inside = scene.extruded(scene.circle(18), 30, along_u(scene, 300, 55, start=4))
    found = opened(scene, [exactly, shallow, from_inside])
    assert [(h.x, h.kind, h.depth) for h in found[0]] == [(100, "round", math.inf), (200, "blind", 3)]
    assert codes(found) == ["opening-not-through"]
    assert found[2][0].values == ("A", "300.0", "short of its outside")


def test_a_hole_askew_carries_its_angle_and_is_measured_on_the_outside() -> None:
    scene = Scene()
    tilt = math.radians(10)
    way = (math.sin(tilt), math.cos(tilt), 0)
    start = np.array([200, 0, 55]) - 20 * np.array(way)
    axes = scene.axes(start.tolist(), z=way, x=(math.cos(tilt), -math.sin(tilt), 0))
    (hole,), _, problems = opened(scene, [scene.extruded(scene.circle(18), 60, axes)])
    assert (hole.x, hole.across, hole.diameter) == pytest.approx((200, 55, 18), abs=1e-5)
    assert hole.tilt_deg == pytest.approx(10, abs=1e-5)
    assert problems == ()


def test_an_opening_over_an_edge_is_a_notch_clipped_to_the_face() -> None:
    scene = Scene()
    # a box 60 x 40 about the toe's end of leg A: x from -30 to 30, v from 80 to 120
    found = opened(scene, [scene.extruded(scene.rectangle(60, 40), 30, along_u(scene, 0, 100))])
    assert found[0] == ()
    assert found[1] == (Notch("A", ((0.0, 80.0), (30.0, 80.0), (30.0, 100.0), (0.0, 100.0))),)
    assert found[2] == ()


def test_a_cope_takes_flange_and_web_of_a_beam() -> None:
    """A block over the top flange and the upper web at the left end, whichever way it was pushed."""
    scene = Scene()
    beam = shapes.i_section(300, 150, 8, 12, 0)
    ways = [
        scene.extruded(scene.rectangle(200, 100), 400, scene.axes((0, -200, 300), z=(0, 1, 0))),
        scene.extruded(scene.rectangle(400, 100), 200, scene.axes((-100, 0, 300), z=(1, 0, 0), x=(0, 1, 0))),
        scene.brep(box_points((200, 400, 100), (-100, -200, 250)), BOX_FACETS),
    ]
    for solid in ways:
        holes, notches, problems = opened(scene, [solid], beam)
        assert holes == ()
        assert problems == ()
        assert {n.face: n.loop for n in notches} == {
            "web": ((0.0, 250.0), (100.0, 250.0), (100.0, 300.0), (0.0, 300.0)),
            "top": ((0.0, -75.0), (100.0, -75.0), (100.0, 75.0), (0.0, 75.0)),
        }


def test_one_opening_through_both_walls_of_a_tube_makes_two_holes() -> None:
    scene = Scene()
    tube = shapes.rhs(150, 100, 6)
    through = scene.extruded(scene.circle(22), 120, scene.axes((400, -10, 60), z=(0, 1, 0)))
    one_wall = scene.extruded(scene.circle(22), 30, scene.axes((500, -10, 60), z=(0, 1, 0)))
    holes, _, problems = opened(scene, [through, one_wall], tube)
    assert sorted((h.face, h.x, h.across) for h in holes) == [("back", 400, 60), ("front", 400, 60), ("front", 500, 60)]
    assert problems == ()


def test_round_tubes_are_developed() -> None:
    """A hole square to a tube of 100 mm a quarter turn from the viewer: across is a quarter of pi x 100."""
    scene = Scene()
    tube = shapes.chs(100, 5)
    solid = scene.extruded(scene.circle(20), 200, scene.axes((400, 0, 100), z=(0, 0, -1)))
    holes, _, problems = opened(scene, [solid], tube)
    assert problems == ()
    assert [(h.face, h.diameter) for h in holes] == [("wall", 20), ("wall", 20)]
    assert [h.across for h in holes] == pytest.approx([math.pi * 100 / 4, 3 * math.pi * 100 / 4])


def test_a_slot_for_a_gusset_in_the_end_of_a_round_tube() -> None:
    scene = Scene()
    tube = shapes.chs(100, 5)
    solid = scene.extruded(scene.rectangle(300, 10), 200, scene.axes((0, -100, 0), z=(0, 1, 0)))
    holes, notches, problems = opened(scene, [solid], tube)
    assert (holes, problems) == ((), ())
    half = 50 * math.asin(5 / 50)
    assert [n.loop[2] for n in notches] == [
        pytest.approx((150, half), abs=1e-5), pytest.approx((150, math.pi * 50 + half), abs=1e-5),
    ]  # fmt: skip


def test_what_is_not_understood_holds_with_a_sentence() -> None:
    scene = Scene()
    triangle = scene.extruded(scene.polygon([(0, 0), (30, 0), (0, 30)]), 30, along_u(scene, 500, 50))
    assert codes(opened(scene, [triangle])) == ["opening-shape-unknown"]
    steep = (math.sin(1.0), math.cos(1.0), 0)
    axes = scene.axes((480, -20, 50), z=steep, x=(math.cos(1.0), -math.sin(1.0), 0))
    assert codes(opened(scene, [scene.extruded(scene.circle(18), 90, axes)])) == ["opening-askew"]
    sphere = scene.add("IfcSphere", scene.axes((500, 0, 50)), 20.0)
    assert codes(opened(scene, [scene.add("IfcCsgSolid", sphere)])) == ["opening-not-read"]
    # a round bore along leg A that leaves part of its thickness
    bore = scene.extruded(scene.circle(5), 100, scene.axes((-10, 4, 50), z=(1, 0, 0), x=(0, 1, 0)))
    assert codes(opened(scene, [bore])) == ["opening-along-wall"]
    other = shapes.other([(0, 0), (50, 0), (50, 20), (0, 40)])
    assert codes(opened(scene, [triangle], other)) == ["opening-no-face"]


def test_an_opening_that_misses_the_part_is_said() -> None:
    scene = Scene()
    beside = scene.extruded(scene.circle(18), 30, along_u(scene, 500, 150))
    before = scene.extruded(scene.circle(18), 3, along_u(scene, 500, 50, start=-10))
    assert codes(opened(scene, [beside])) == ["opening-removes-nothing"]
    assert codes(opened(scene, [before])) == ["opening-removes-nothing"]


def test_one_hole_drawn_twice_is_one_and_overlapping_ones_hold() -> None:
    scene = Scene()

    def at(x: float) -> Any:
        return scene.extruded(scene.circle(18), 20, along_u(scene, x, 55))

    twice = opened(scene, [at(200), at(200)])
    assert len(twice[0]) == 1
    assert codes(twice) == []
    assert codes(opened(scene, [at(200), at(210)])) == ["opening-overlap"]


def test_plates_are_clipped_to_their_outline() -> None:
    """A triangular plate: a hole on its slanting edge is a notch, one outside it takes nothing away."""
    scene = Scene()
    outline = (Vertex(0, 0), Vertex(200, 0), Vertex(0, 200))
    plate = Body(shapes.plate(200, 10), 200, outline=outline)

    def at(x: float, across: float) -> Any:
        return scene.extruded(scene.circle(20), 40, along_u(scene, x, across))

    inside = opened(scene, [at(50, 50)], body=plate)
    assert [(h.x, h.across) for h in inside[0]] == [(50, 50)]
    on_edge = opened(scene, [at(100, 100)], body=plate)
    assert on_edge[0] == ()
    assert len(on_edge[1]) == 1
    assert all(x + across <= 200 + 1e-6 for x, across in on_edge[1][0].loop)
    assert codes(opened(scene, [at(150, 150)], body=plate)) == ["opening-removes-nothing"]


def test_mapped_openings_and_several_bodies_in_one() -> None:
    scene = Scene()
    body = scene.extruded(scene.circle(18), 20)
    source = scene.add(
        "IfcRepresentationMap", scene.axes(), scene.add("IfcShapeRepresentation", None, "Body", "SweptSolid", [body])
    )
    items = []
    for x in (100, 200):
        operator = scene.add(
            "IfcCartesianTransformationOperator3D",
            scene.way(1, 0, 0), None, scene.point(x, -5, 55), None, scene.way(0, 1, 0),
        )  # fmt: skip
        items.append(scene.add("IfcMappedItem", source, operator))
    opening = scene.product("IfcOpeningElement", items)
    frame = Frame(np.zeros(3), np.eye(3))
    holes, _, problems = read_openings(scene.ctx, None, Body(ANGLE, LENGTH), frame, [opening])
    assert [(h.x, h.across, h.diameter) for h in holes] == [(100, 55, 18), (200, 55, 18)]
    assert problems == ()


def real(name: str) -> tuple[Any, Context]:
    file = ifcopenshell.open(str(shared(name)))
    return file, Context(file, name)


def test_the_web_of_a_real_column_is_cut_by_one_rounded_rectangle() -> None:
    """angles_and_plates_small.ifc, column #1473, by hand.

    The column stands at (4572, 7620, -609.6), runs 1524 up along +z and has its web in the plane y = 7620: its
    local y axis is -x of the model. The opening #1681 starts at (4661.154, 7490.05, 308.83104), its x axis is -x
    and its y axis +z of the model, and it is pushed 259.9 along +y. Its outline is 178.308 by 356.616 with corners
    of radius 20. So on the web: x from 918.43104 to 1275.04704, across from 89.154 to 267.462 of 356.616.
    """
    file, ctx = real("angles_and_plates_small.ifc")
    column = file.by_id(1473)
    section = shapes.i_section(356.616, 254.88901, 9.5249996 + 3.1750004, 18.288, 21.3995)
    # x up, u toward -y (square to the web), v along -x: right-handed, x = u x v
    axes = np.array([[0.0, 0, 1], [0, 1, 0], [-1, 0, 0]])
    assert np.cross(axes[1], axes[2]) == pytest.approx(axes[0])
    frame = Frame(np.array([4572.0 + 178.308, 7620.0, -609.6]), axes)
    (hole,), notches, problems = read_openings(ctx, column, Body(section, 1524.0), frame)
    assert (notches, problems) == ((), ())
    assert (hole.face, hole.kind) == ("web", "rectangle")
    assert (hole.x, hole.across) == pytest.approx((609.6 + 308.83104 + 356.616 / 2, 178.308), abs=1e-3)
    assert (hole.slot_length, hole.width, hole.slot_angle) == pytest.approx((356.616, 178.308, 0), abs=1e-3)
    assert hole.diameter == pytest.approx(2 * 20, abs=1e-3)


def test_the_end_of_a_real_brace_is_slotted_for_its_gusset() -> None:
    """angles_and_plates_small.ifc, brace #1193, by hand.

    The brace starts at (5007.3895, 7620, 282.98953) and runs 677.4228 along (1, 0, 1)/sqrt 2. The opening #1267 is
    9.5 wide along y about y = 7620.012 and 266.7 long about a point (146.2651, 24.35984) away in x and z, which is
    120.649 along the brace: from -12.701 to 253.999. It cuts the two walls whose normals lie in the x-z plane.
    """
    file, ctx = real("angles_and_plates_small.ifc")
    brace = file.by_id(1193)
    side = 152.39999
    section = shapes.rhs(side, side, 9.5249996, 19.05, 9.5250004)
    h = math.sqrt(0.5)
    x, v = np.array([h, 0, h]), np.array([0.0, 1, 0])
    u = np.cross(v, x)
    corner = np.array([5007.3895, 7620.0, 282.98953]) - side / 2 * (u + v)
    holes, notches, problems = read_openings(ctx, brace, Body(section, 677.4228), Frame(corner, np.array([x, u, v])))
    assert (holes, problems) == ((), ())
    assert [n.face for n in notches] == ["front", "back"]
    along = (5153.6546 - 5007.3895 + 307.34937 - 282.98953) * h + 266.7 / 2
    low, high = 76.199995 + 0.012 - 4.75, 76.199995 + 0.012 + 4.75
    for notch in notches:
        assert np.array(notch.loop) == pytest.approx(
            np.array([(0, low), (along, low), (along, high), (0, high)]), abs=1e-3
        )


def test_round_openings_of_real_flats() -> None:
    """handrails_openings.ifc: every opening of its flats is a circle right through, as large as it is drawn."""
    file, ctx = real("handrails_openings.ifc")
    openings = file.by_type("IfcOpeningElement")
    assert len(openings) == 18
    for opening in openings:
        host = opening.VoidsElements[0].RelatingBuildingElement
        solid = host.Representation.Representations[0].Items[0]
        drawn = opening.Representation.Representations[0].Items[0].SweptArea.OuterCurve.Radius * 2
        # a frame of the host's own: its placement, piece x along the longest side of its rectangle
        body, local, _ = Bodies(ctx, Settings()).read(solid, host.Name)
        place = placement(ctx, host.ObjectPlacement) @ local
        frame = Frame(place[:3, 3], place[:3, :3].T)
        (hole,), notches, problems = read_openings(ctx, host, body, frame, [opening])
        assert (notches, problems) == ((), ())
        assert (hole.kind, hole.diameter) == ("round", pytest.approx(drawn, abs=1e-6))
        # the circle's centre by its placement alone
        centre = frame.to_piece(placement(ctx, opening.ObjectPlacement)[:3, 3])
        assert (hole.x, hole.across) == pytest.approx((centre[0], centre[2]), abs=1e-3)


def solid_volume(file: Any, product: Any, *, opened: bool) -> float:
    """Volume in mm3 of a geometry kernel's mesh, with or without the product's openings."""
    settings = ifcopenshell.geom.settings()
    settings.set("disable-opening-subtractions", not opened)
    shape = ifcopenshell.geom.create_shape(settings, product).geometry
    corners = np.array(shape.verts).reshape(-1, 3) * 1000.0
    triangles = corners[np.array(shape.faces).reshape(-1, 3)]
    return abs(float(np.einsum("ij,ij->i", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2])).sum())) / 6


def test_what_openings_take_away_agrees_with_a_geometry_kernel() -> None:
    """An independent oracle: the volume ifcopenshell.geom loses to the openings of the column and the brace."""
    file, _ = real("angles_and_plates_small.ifc")
    column, brace = file.by_id(1473), file.by_id(1193)
    lost = solid_volume(file, column, opened=False) - solid_volume(file, column, opened=True)
    # the web is 12.7 thick; the corners of 20 are drawn in eight steps a quarter
    step = math.pi / 16
    corner = 20 * 20 * (1 - 8 * math.sin(step) / 2)
    assert lost == pytest.approx((356.616 * 178.308 - 4 * corner) * 12.7, rel=1e-4)
    lost = solid_volume(file, brace, opened=False) - solid_volume(file, brace, opened=True)
    assert lost == pytest.approx(2 * 9.5 * 253.999 * 9.5249996, rel=1e-4)
