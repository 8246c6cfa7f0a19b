"""Outlines, faces, areas and perimeters of sections against plain geometry."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

from takeoff import steel
from takeoff.sections import loops, shapes, tables

EXAMPLES = [
    shapes.angle(100, 65, 8, 10, 5),
    shapes.angle(90, 90, 5, 11, 5.5),
    shapes.channel(200, 75, 6, 12.5, 12),
    shapes.channel(160, 65, 7.5, 10.5, 10.5, 5.5, 0.08),
    shapes.i_section(200, 100, 5.6, 8.5, 12),
    shapes.i_section(300, 120, 8, 10, 0, 200, 14),
    shapes.i_section(200, 90, 7.5, 11.3, 7.5, slope=0.14, r2=4.5),
    shapes.tee(100, 120, 8, 9, 8),
    shapes.flat(80, 8),
    shapes.plate(250, 10),
    shapes.rhs(100, 50, 4, 8, 4),
    shapes.lipped_channel(200, 75, 2, 20, 3),
    shapes.lipped_channel(100, 50, 3, 0, 3),
    shapes.zed(200, 75, 2, 20, 3),
    shapes.zed(100, 50, 5),
]
ROUND = [shapes.chs(76.1, 4), shapes.round_bar(20)]
ids = [section.designation for section in EXAMPLES]


def solid(section):
    outer, *inner = shapes.rings(section)
    return Polygon(outer, inner)


@pytest.mark.parametrize("section", EXAMPLES + ROUND, ids=lambda section: section.designation)
def test_area_and_perimeter_are_those_of_the_drawn_polygon(section):
    """shapely computes area and length of the flattened outline on its own."""
    polygon = solid(section)
    assert polygon.is_valid
    assert polygon.area == pytest.approx(section.area_mm2, rel=1e-3)
    assert polygon.exterior.length == pytest.approx(section.perimeter_mm, rel=1e-3)
    assert polygon.exterior.is_ccw
    assert section.mass_kg_per_m == pytest.approx(section.area_mm2 * 7.85e-3)


@pytest.mark.parametrize("section", EXAMPLES, ids=ids)
def test_the_box_is_h_by_b_and_stands_where_the_frame_says(section):
    low, high = shapes.outline(section).min(axis=0), shapes.outline(section).max(axis=0)
    assert high - low == pytest.approx((section.b, section.h))
    centred = section.shape in (steel.I_SHAPE, steel.T_SHAPE)
    assert low == pytest.approx((-section.b / 2 if centred else 0.0, 0.0))


@pytest.mark.parametrize("section", EXAMPLES, ids=ids)
def test_faces_lie_on_the_outline_and_their_walls_in_the_steel(section):
    steel_here = solid(section)
    faces = shapes.faces(section)
    assert faces
    for face in faces:
        origin, direction, inward = map(np.array, (face.origin, face.direction, face.inward))
        assert direction @ inward == 0
        # Clear of root and toe radii and of tapers; the middle of the wall is steel all along.
        along = face.low + (face.high - face.low) * np.array([0.3, 0.35, 0.65, 0.7])
        tapered = section.slope > 0 and face.name in ("top", "bottom")
        for across in along:
            point = origin + across * direction
            assert steel_here.exterior.distance(Point(point)) < 1e-6
            wall = LineString([point - inward, point + inward * (section.h + section.b)])
            depth = steel_here.intersection(wall)
            first = depth.geoms[0] if depth.geom_type.startswith("Multi") else depth
            if not tapered:
                assert first.length == pytest.approx(face.thickness, abs=1e-6)
        ends = [origin + across * direction for across in (face.low, face.high)]
        hull = np.array(steel_here.envelope.bounds).reshape(2, 2)
        assert all((hull[0] - 1e-9 <= end).all() and (end <= hull[1] + 1e-9).all() for end in ends)


def test_faces_are_numbered_from_where_the_trade_measures():
    """Positions of the frame table: heel, back of web, web and stem centre lines, outside of the bottom flange."""
    angle = {face.name: face for face in shapes.faces(shapes.angle(100, 65, 8))}
    assert (angle["A"].high, angle["B"].high) == (100, 65)
    assert angle["A"].origin == angle["B"].origin == (0, 0)
    beam = {face.name: face for face in shapes.faces(shapes.i_section(200, 100, 6, 9))}
    assert beam["web"].origin == (-3, 0)
    assert (beam["top"].low, beam["top"].high, beam["top"].direction) == (-50, 50, (-1, 0))
    tee = {face.name: face for face in shapes.faces(shapes.tee(80, 100, 6, 9))}
    assert list(tee) == ["stem", "bottom"]
    tube = shapes.faces(shapes.chs(100, 5))[0]
    assert tube.high == pytest.approx(math.pi * 100)
    assert [face.name for face in shapes.faces(shapes.rhs(100, 50, 4))] == ["front", "top", "back", "bottom"]
    assert shapes.faces(shapes.other([(0, 0), (9, 0), (0, 9)])) == ()


def test_the_shapes_sort_their_own_sizes():
    assert shapes.angle(65, 100, 8).h == 100
    assert shapes.flat(8, 80).designation == "FL 80x8"
    assert shapes.rhs(50, 100, 4).h == 100
    assert shapes.i_section(300, 120, 8, 10, 0, 200, 14) == shapes.i_section(300, 200, 8, 14, 0, 120, 10)
    assert shapes.i_section(300, 120, 8, 10, 0, 120, 10) == shapes.i_section(300, 120, 8, 10)


@pytest.mark.parametrize(
    "make",
    [
        lambda: shapes.angle(100, 8, 8),
        lambda: shapes.angle(100, 65, 8, 80),
        lambda: shapes.channel(100, 50, 5, 50),
        lambda: shapes.channel(100, 50, 5, 3, slope=0.5),
        lambda: shapes.i_section(100, 50, 60, 5),
        lambda: shapes.tee(10, 50, 5, 10),
        lambda: shapes.flat(80, 0),
        lambda: shapes.rhs(100, 50, 25),
        lambda: shapes.rhs(100, 50, 4, 30),
        lambda: shapes.chs(50, 25),
        lambda: shapes.lipped_channel(100, 50, 2, 60),
        lambda: shapes.round_bar(-1),
        lambda: shapes.other([(0, 0), (1, 1)]),
    ],
)
def test_impossible_dimensions_are_refused(make):
    with pytest.raises(ValueError, match=r"\w"):
        make()


def test_other_outlines_move_to_their_box_and_lose_their_voids():
    section = shapes.other([(10, 10), (10, 30), (50, 30), (50, 10)], [[(20, 15), (30, 15), (30, 25), (20, 25)]])
    assert (section.h, section.b) == (20, 40)
    assert section.area_mm2 == pytest.approx(40 * 20 - 100)
    assert min(section.outline) == (0, 0)


def test_loops_with_arcs():
    """Circle of 20 mm: pi x 100 and pi x 20; a stadium 30 x 10: 20 x 10 + pi x 25."""
    assert loops.area(loops.circle(20, 1e6, -1e6)) == pytest.approx(math.pi * 100)
    assert loops.length(loops.circle(20)) == pytest.approx(math.pi * 20)
    stadium = ((0.0, 0.0, 0.0), (20.0, 0.0, 1.0), (20.0, 10.0, 0.0), (0.0, 10.0, 1.0))
    assert loops.area(stadium) == pytest.approx(200 + math.pi * 25)
    assert loops.area(loops.fillet([(0, 0, 5), (30, 0, 5), (30, 10, 5), (0, 10, 5)])) == pytest.approx(
        200 + math.pi * 25
    )
    for a, b in pairwise(loops.flatten(stadium, 10.0)):
        assert Polygon(loops.flatten(stadium, 1.0)).buffer(0.3).contains(LineString([a, b]))


def test_matching_takes_the_entry_and_never_a_near_one():
    entry = tables.by_designation()["L100x65x8"]
    assert tables.match(shapes.angle(100, 65, 8)) == entry
    assert tables.match(shapes.angle(100.1, 64.9, 8.05, 10, 5)) == entry
    for near in (
        shapes.angle(100, 65, 8.3),
        shapes.angle(101, 65, 8),
        shapes.angle(100, 65, 8, 20, 5),
        shapes.i_section(200, 100, 5.6, 8.5, 12, 90, 8.5),
    ):
        assert tables.match(near) == near
    # in sixteenths of an inch it has its AISC name, but no table's radii or mass
    inch = shapes.angle(101.6, 76.2, 7.9375)
    assert tables.match(inch) == replace(inch, designation="L4X3X5/16")


def test_matching_can_weigh_by_dimensions():
    entry = tables.match(shapes.angle(100, 100, 8))
    computed = tables.match(shapes.angle(100, 100, 8), mass="computed")
    assert computed.designation == entry.designation
    assert computed.standard == ""
    assert computed.mass_kg_per_m == pytest.approx(entry.area_mm2 * 7.85e-3)
    with pytest.raises(ValueError, match="table or computed"):
        tables.match(entry, mass="guess")


def test_no_two_entries_fit_one_section():
    for entry in tables.entries():
        assert tables.match(entry) == entry
