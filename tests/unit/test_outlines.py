"""Outlines of faces after cuts, clips and notches: against shapely, trigonometry and points in space."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from steelwork import CHS114, FL100, L80X60, L100, PRISMS, U160, hole, member, plate, rectangle, skew

from takeoff.outlines import corner_rows, face_loops, face_polygon, flatten
from takeoff.sections.shapes import faces
from takeoff.steel import Notch, Vertex
from takeoff.turned import apex

QUARTER = np.tan(np.pi / 8)


def area(loop):
    return shapely.Polygon(loop).area


@pytest.mark.parametrize("section", PRISMS.values(), ids=PRISMS)
def test_a_square_cut_piece_has_whole_faces(section):
    body = member(section, 500).body
    for number, face in enumerate(faces(section)):
        (loop,) = face_loops(body, (), number)
        assert area(loop) == pytest.approx(500 * (face.high - face.low))
        assert shapely.Polygon(loop).exterior.is_ccw
    assert corner_rows(body, ()) == []


@settings(max_examples=60, deadline=None)
@given(
    section=st.sampled_from(tuple(PRISMS.values())),
    angle=st.floats(1.0, 50.0),
    lean=st.floats(0.0, 6.28),
    end=st.sampled_from(("left", "right")),
    deep=st.booleans(),
)
def test_a_cut_face_is_what_lies_inside_the_plane(section, angle, lean, end, deep):
    # The origin's plane point is far enough inside that the cut crosses every face.
    plane = skew(450 if end == "left" else 550, angle, end=end, toward=(np.cos(lean), np.sin(lean)))
    body = member(section, 1000, **{end: (plane,)}).body
    rng = np.random.default_rng(7)
    for number, face in enumerate(faces(section)):
        polygon = shapely.Polygon(face_loops(body, (), number, deep)[0])
        points = np.column_stack([rng.uniform(0, 1000, 200), rng.uniform(face.low, face.high, 200)])
        inward = face.thickness if deep else 0.0
        at = np.array(face.origin) + points[:, 1:] * face.direction + inward * np.array(face.inward)
        space = np.column_stack([points[:, 0], at])
        height = (space - plane.point) @ np.array(plane.normal)
        clear = np.abs(height) > 1e-6
        inside = shapely.contains_xy(polygon, points[:, 0], points[:, 1])
        assert (inside == (height < 0))[clear].all()


def test_two_planes_at_one_end_clip_both_corners():
    up, down = skew(520, 45, end="right", toward=(0, 1)), skew(400, 45, end="right", toward=(0, -1))
    body = member(FL100, 450, right=(up, down)).body
    (loop,) = face_loops(body, (), 0)
    # x + across <= 520 and x - across <= 400 within a rectangle of 450 x 100.
    expected = shapely.Polygon([(0, 0), (400, 0), (450, 50), (450, 70), (420, 100), (0, 100)])
    assert shapely.Polygon(loop).symmetric_difference(expected).area < 1e-6


def test_a_notch_is_taken_off_its_face_only():
    notch = Notch("A", ((0, 40), (60, 40), (60, 100), (0, 100)))
    body = member(L100, 500).body
    assert area(face_loops(body, (notch,), 0)[0]) == pytest.approx(500 * 100 - 60 * 60)
    assert area(face_loops(body, (notch,), 1)[0]) == pytest.approx(500 * 100)
    assert {row[0] for row in corner_rows(body, (notch,))} == {0}


def test_a_notch_through_the_face_leaves_two_loops():
    gap = Notch("web", ((200, -5), (260, -5), (260, 165), (200, 165)))
    loops = face_loops(member(U160, 500).body, (gap,), 0)
    assert [round(area(loop)) for loop in loops] == [240 * 160, 200 * 160]


def test_notches_of_body_and_member_add_up():
    one, other = (
        Notch("A", ((0, 40), (60, 40), (60, 80), (0, 80))),
        Notch("A", ((440, 40), (500, 40), (500, 80), (440, 80))),
    )
    body = member(L80X60, 500, notches=(one,)).body
    assert area(face_loops(body, (other,), 0)[0]) == pytest.approx(500 * 80 - 2 * 60 * 40)


@pytest.mark.parametrize("radius", [10.0, 40.0, 100.0])
@pytest.mark.parametrize("sense", [1, -1])
def test_an_arc_of_a_plate_has_its_radius(radius, sense):
    # A quarter circle in the corner (300, 200): bulging outwards round, or hollow.
    part = plate(((0, 0), (300, 0), (300, 200 - radius, sense * QUARTER), (300 - radius, 200), (0, 200)))
    points = np.array(flatten(part.body.outline))
    centre = np.array((300 - radius, 200 - radius) if sense > 0 else (300, 200))
    arc = points[(points > centre - radius - 1e-6).all(axis=1) & (points[:, 0] >= 300 - radius - 1e-6)]
    arc = arc[(arc[:, 1] >= 200 - radius - 1e-6)]
    assert len(arc) > 10
    assert np.linalg.norm(arc - centre, axis=1) == pytest.approx(radius)
    exact = 300 * 200 - (1 - np.pi / 4) * radius**2 if sense > 0 else 300 * 200 - np.pi / 4 * radius**2
    assert area(points) == pytest.approx(exact, abs=0.002 * radius**2)
    here, there = part.body.outline[2], part.body.outline[3]
    assert np.linalg.norm(np.array(apex(here, there)) - centre) == pytest.approx(radius)


@given(
    bulge=st.floats(-3.0, 3.0).filter(lambda b: abs(b) > 0.01),
    start=st.tuples(st.floats(-100, 100), st.floats(-100, 100)),
    chord=st.tuples(st.floats(5, 100), st.floats(-100, 100)),
)
def test_arcs_of_any_bulge_lie_on_one_circle(bulge, start, chord):
    """Bulge = tan(included angle / 4): a chord c has the radius c (1 + b^2) / (4 |b|)."""
    here = Vertex(*start, bulge)
    there = Vertex(start[0] + chord[0], start[1] + chord[1])
    points = np.array(flatten((here, there)))
    radius = np.hypot(*chord) * (1 + bulge**2) / (4 * abs(bulge))
    middle = np.array(apex(here, there))
    # The centre is a radius from the apex toward the chord's middle (or past it).
    rise = middle - np.array([here.x + there.x, here.across + there.across]) / 2
    centre = middle - rise / np.linalg.norm(rise) * radius
    assert np.linalg.norm(points[:-1] - centre, axis=1) == pytest.approx(radius, rel=1e-6)
    left = chord[0] * rise[1] - chord[1] * rise[0]
    assert (left < 0) == (bulge > 0)


def test_round_sections_have_no_developed_outline():
    body = member(CHS114, 500).body
    assert face_loops(body, (), 0) == ()
    assert face_polygon(body, (), 0) is None


def test_a_plate_s_outline_is_told_by_its_corners():
    corners = ((0, 0), (300, 0), (300, 100), (100, 200), (0, 200))
    assert [row[1:3] for row in corner_rows(plate(corners).body, ())] == [tuple(map(float, c)) for c in corners]


def test_holes_are_no_matter_to_an_outline():
    part = plate(rectangle(300, 200), holes=(hole("face", 50, 50),))
    assert area(face_loops(part.body, (), 0)[0]) == pytest.approx(300 * 200)
