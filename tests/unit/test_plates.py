"""Smallest rectangles, cutting and voids of outlines, worked out by hand or against shapely (a general library)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from takeoff.sections import loops, plates
from takeoff.sections.voids import void
from takeoff.units import COINCIDENCE_MM


def straight(*corners):
    return tuple((float(x), float(y), 0.0) for x, y in corners)


def moved(loop, angle, x=0.0, y=0.0):
    c, s = math.cos(angle), math.sin(angle)
    return tuple((c * a - s * b + x, s * a + c * b + y, bulge) for a, b, bulge in loop)


GUSSET = straight((0, 0), (300, 0), (380, 120), (300, 240), (60, 240), (0, 100))
TRIANGLE = straight((0, 0), (100, 0), (0, 60))
SQUARE = straight((0, 0), (100, 0), (100, 100), (0, 100))
U = straight((0, 0), (100, 0), (100, 100), (70, 100), (70, 30), (30, 30), (30, 100), (0, 100))
SLOTTED = ((20.0, 0.0, 0.0), (180.0, 0.0, 1.0), (180.0, 40.0, 0.0), (20.0, 40.0, 1.0))


def test_the_longer_side_lies_along_x():
    found = plates.smallest_rectangle(straight((0, 0), (50, 0), (50, 80), (0, 80)))
    assert (found.length, found.width) == pytest.approx((80, 50))
    assert abs(found.x[1]) == pytest.approx(1)


def test_a_right_triangle_lies_on_its_longest_edge():
    """All three rectangles on its edges have twice its area: they tie exactly, and the longest edge decides."""
    found = plates.smallest_rectangle(TRIANGLE)
    assert found.length == pytest.approx(math.hypot(100, 60))
    assert found.width == pytest.approx(6000 / math.hypot(100, 60))


def test_within_half_a_percent_the_longest_edge_decides():
    """A corner cut a little: the rectangle on the cut is the smaller one, by less than 0.5 %."""
    found = plates.smallest_rectangle(straight((0, 0), (200, 0), (200, 100), (0.2, 100)))
    assert found.length == pytest.approx(200)
    assert found.width == pytest.approx(100)


def test_arcs_count_with_their_swell():
    found = plates.smallest_rectangle(moved(SLOTTED, 0.7))
    assert (found.length, found.width) == pytest.approx((200, 40))
    circle = plates.smallest_rectangle(loops.circle(80, 5, 6))
    assert (circle.length, circle.width) == pytest.approx((80, 80))


@given(
    st.sampled_from([GUSSET, TRIANGLE, SQUARE, U, SLOTTED]),
    st.floats(0, 6.28),
    st.floats(-1e4, 1e4),
    st.integers(0, 7),
    st.booleans(),
)
def test_the_outline_in_its_rectangle_does_not_depend_on_how_it_was_drawn(shape, angle, shift, first, backwards):
    drawn = moved(shape, angle, shift, -shift)
    drawn = drawn[first % len(drawn) :] + drawn[: first % len(drawn)]
    if backwards:
        drawn = plates.backwards(drawn)
    here, there = plates.smallest_rectangle(shape), plates.smallest_rectangle(drawn)
    assert np.allclose(here.outline, there.outline, atol=1e-6)
    x, across = there.place(drawn[0][:2])
    assert any(math.dist((x, across), corner[:2]) < 1e-6 for corner in there.outline)


@given(st.sampled_from([GUSSET, TRIANGLE, SQUARE, U]), st.floats(0, 6.28), st.floats(-0.2, 1.2))
def test_cutting_leaves_the_area_that_shapely_leaves(shape, angle, share):
    normal = (math.cos(angle), math.sin(angle))
    reach = [x * normal[0] + y * normal[1] for x, y, _ in shape]
    offset = min(reach) + share * (max(reach) - min(reach))
    point = (normal[0] * offset, normal[1] * offset)
    side = (-normal[1], normal[0])
    far = [
        (point[0] + a * 1e4 * side[0] - b * 1e4 * normal[0], point[1] + a * 1e4 * side[1] - b * 1e4 * normal[1])
        for a, b in ((-1, 0), (-1, 1), (1, 1), (1, 0))
    ]
    kept = Polygon([c[:2] for c in shape]).intersection(Polygon(far)).area
    found = plates.cut(shape, point, normal)
    # corners closer than a tenth of the coincidence become one, which moves an edge of at most the girth by as much
    girth = sum(math.dist(a[:2], b[:2]) for a, b in loops.edges(shape))
    assert sum(loops.area(part) for part in found) == pytest.approx(kept, abs=COINCIDENCE_MM / 10 * girth)


def test_cutting_a_broad_part_off_is_exact():
    for share in (0.2, 0.5, 0.8):
        (left,) = plates.cut(TRIANGLE, (100 * share, 0), (1, 0))
        assert loops.area(left) == pytest.approx(3000 * (1 - (1 - share) ** 2), abs=1e-6)


def test_a_cut_can_leave_two_parts():
    found = plates.cut(U, (0, 60), (0, -1))
    assert sorted(loops.area(part) for part in found) == pytest.approx([1200, 1200])


def test_cutting_an_arc_keeps_it_one():
    """A circle of 80 cut 20 from its middle: the segment's area is r2 acos(d/r) - d sqrt(r2 - d2)."""
    segment = 1600 * math.acos(0.5) - 20 * math.sqrt(1600 - 400)
    left, right = (plates.cut(loops.circle(80), (20, 0), (sign, 0)) for sign in (1, -1))
    assert loops.area(left[0]) == pytest.approx(math.pi * 1600 - segment)
    assert loops.area(right[0]) == pytest.approx(segment)


@pytest.mark.parametrize("angle", [0, 0.3, 1.9])
def test_voids_are_named(angle):
    slot = void(moved(SLOTTED, angle, 7, 8))
    assert (slot.kind, slot.diameter, slot.slot_length) == ("slot", pytest.approx(40), pytest.approx(200))
    assert math.radians(slot.slot_angle) == pytest.approx(angle)
    rectangle = void(moved(straight((0, 0), (30, 0), (30, 10), (0, 10)), angle))
    assert (rectangle.kind, rectangle.slot_length, rectangle.width) == (
        "rectangle",
        pytest.approx(30),
        pytest.approx(10),
    )
    ring = [(9 * math.cos(i * math.pi / 12), 9 * math.sin(i * math.pi / 12)) for i in range(24)]
    assert void(moved(straight(*ring), angle, 3, 4)).diameter == pytest.approx(18)
    assert void(moved(loops.circle(22), angle, 3, 4)).diameter == pytest.approx(22)


def test_what_is_no_round_slot_or_rectangle_has_no_name():
    hexagon = [(9 * math.cos(i * math.pi / 3), 9 * math.sin(i * math.pi / 3)) for i in range(6)]
    assert void(straight(*hexagon)) is None
    assert void(TRIANGLE) is None
    assert void(straight((0, 0), (30, 0), (33, 10), (3, 10))) is None
