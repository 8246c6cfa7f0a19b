"""Rows of cuts: angles and sizes by trigonometry, and the same for the piece whichever way it is read."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steelwork import CHS114, FL100, IPE200, L80X60, PRISMS, member, plate, skew

from takeoff.cuts import cuts_of, face_outlines
from takeoff.sections.shapes import faces
from takeoff.steel import Notch, Plane
from takeoff.turned import turn_body

TAN = {angle: np.tan(np.radians(angle)) for angle in (10, 15, 20, 30, 45)}


def rows(part):
    return [(c.end, c.face, c.kind, c.x, c.across, c.angle, c.size) for c in cuts_of(part.body)]


@pytest.mark.parametrize("section", PRISMS.values(), ids=PRISMS)
def test_square_ends_are_no_rows(section):
    assert cuts_of(member(section, 500).body) == ()


@pytest.mark.parametrize("angle", TAN)
def test_skew_right_end(angle):
    run = 100 * TAN[angle]
    (row,) = rows(member(FL100, 500, right=(skew(500, angle, end="right", toward=(0, 1)),)))
    # The cut leaves the piece's longest point at the bottom edge and comes in at the top.
    assert row == ("right", "face", "skew", pytest.approx(500 - run, abs=1e-3), 100.0, pytest.approx(angle, abs=1e-3),
                   pytest.approx(run, abs=1e-3))  # fmt: skip


@pytest.mark.parametrize("angle", TAN)
def test_skew_left_end(angle):
    run = 100 * TAN[angle]
    (row,) = rows(member(FL100, 500, left=(skew(0, angle, end="left", toward=(0, 1)),)))
    assert row == ("left", "face", "skew", pytest.approx(run, abs=1e-3), 100.0, pytest.approx(angle, abs=1e-3),
                   pytest.approx(run, abs=1e-3))  # fmt: skip


def test_skew_angle_shows_on_both_legs():
    # Leans 20 degrees along leg A (v) and not along B: B is cut square, set back by nothing at the heel.
    (row,) = rows(member(L80X60, 500, right=(skew(500, 20, end="right", toward=(0, 1)),)))
    assert row[:3] == ("right", "A", "skew")
    assert row[6] == pytest.approx(80 * TAN[20], abs=1e-3)
    found = rows(member(L80X60, 500, right=(skew(500, 20, end="right", toward=(0.6, 0.8)),)))
    assert [(r[1], r[2]) for r in found] == [("A", "skew"), ("B", "skew")]
    # A plane x + tan 20 (0.6 u + 0.8 v) = 500.
    assert [r[6] for r in found] == [
        pytest.approx(80 * 0.8 * TAN[20], abs=1e-3),
        pytest.approx(60 * 0.6 * TAN[20], abs=1e-3),
    ]


def test_an_end_set_back_square_on_a_face_is_a_row_of_its_own():
    """Leaning along leg A only, from the toe: leg B is cut square but short of the overall length."""
    plane = skew(500 - 80 * TAN[15], 15, end="right", toward=(0, -1))
    found = rows(member(L80X60, 500, right=(plane,)))
    back = 80 * TAN[15]
    assert found[0][:3] == ("right", "A", "skew")
    assert found[0][3:] == pytest.approx((500 - back, 0.0, 15.0, back), abs=1e-3)
    assert found[1][:3] == ("right", "B", "skew")
    assert found[1][3] == pytest.approx(500 - back, abs=1e-3)
    assert found[1][5:] == (0.0, 0.0)


def test_clipped_corner():
    # 45 degrees through (460, 100) and (500, 60).
    (row,) = rows(member(FL100, 500, right=(skew(560, 45, end="right", toward=(0, 1)),)))
    assert row == (
        "right",
        "face",
        "clip",
        pytest.approx(460.0),
        pytest.approx(60.0),
        pytest.approx(45.0),
        pytest.approx(40.0),
    )


def test_both_corners_clipped():
    planes = (skew(560, 45, end="right", toward=(0, 1)), skew(460, 45, end="right", toward=(0, -1)))
    found = rows(member(FL100, 500, right=planes))
    assert [r[2] for r in found] == ["clip", "clip"]
    assert sorted(r[4] for r in found) == [pytest.approx(40.0), pytest.approx(60.0)]
    assert [r[6] for r in found] == [pytest.approx(40.0)] * 2


@pytest.mark.parametrize("end", ["left", "right"])
@pytest.mark.parametrize("sense", [1, -1])
def test_bevel_through_the_thickness(end, sense):
    at = {"left": 0.0, "right": 500.0}[end]
    if sense < 0:
        at += 10 * TAN[30] if end == "left" else -10 * TAN[30]
    part = member(FL100, 500, **{end: (skew(at, 30, end=end, toward=(sense, 0)),)})
    found = [r for r in rows(part) if r[2] == "bevel"]
    assert len(found) == 1
    assert found[0][0] == end
    assert found[0][5:] == (pytest.approx(30.0, abs=1e-3), pytest.approx(10 * TAN[30], abs=1e-3))
    (outline,) = face_outlines(part.body)
    assert outline.far is not None
    assert abs(np.ptp(outline.points[:, 0]) - np.ptp(outline.far[:, 0])) == pytest.approx(10 * TAN[30])


def test_a_bevel_has_one_row_and_no_square_skew_beside_it():
    """The side seen ends square at 490, 10 mm short of the other side: one bevel of 45 degrees, nothing else."""
    lean = Plane((490.0, 0.0, 0.0), (0.5**0.5, -(0.5**0.5), 0.0))
    assert rows(member(FL100, 500, right=(lean,))) == [
        ("right", "face", "bevel", pytest.approx(490.0), 0.0, pytest.approx(45.0), pytest.approx(10.0))
    ]


def test_a_bevel_through_a_part_of_the_thickness_has_its_own_angle_and_two_have_a_row_each():
    """45 degrees from half the thickness of 10 mm on: it runs back by 5 mm."""
    c = 0.5**0.5
    seen, hidden = Plane((495.0, 0.0, 0.0), (c, -c, 0.0)), Plane((505.0, 0.0, 0.0), (c, c, 0.0))
    (row,) = rows(member(FL100, 500, right=(seen,)))
    assert row[2:4] == ("bevel", pytest.approx(495.0))
    assert row[5:] == (pytest.approx(45.0), pytest.approx(5.0))
    both = rows(member(FL100, 500, right=(seen, hidden)))
    assert [(r[2], round(r[3], 3), round(r[5], 3), round(r[6], 3)) for r in both] == [
        ("bevel", 495.0, 45.0, 5.0),
        ("bevel", 500.0, 45.0, 5.0),
    ]


def test_a_flat_without_bevel_shows_no_far_side():
    (outline,) = face_outlines(member(FL100, 500, right=(skew(500, 30, end="right", toward=(0, 1)),)).body)
    assert outline.far is None


@pytest.mark.parametrize(
    ("xs", "end", "x"), [((0, 60), "left", 60.0), ((440, 500), "right", 440.0), ((200, 260), "edge", 200.0)]
)
def test_notches(xs, end, x):
    loop = ((xs[0], 70), (xs[1], 70), (xs[1], 130), (xs[0], 130))
    (row,) = rows(member(FL100, 500, notches=(Notch("face", loop),)))
    # From across 70 to the edge at 100; what the loop has beyond the steel is no notch.
    assert row == (end, "face", "notch", x, 70.0, 0.0, 30.0)


def test_outline_corners_with_their_angles():
    found = rows(plate(((0, 0), (300, 0), (300, 100), (200, 200), (0, 200))))
    assert [(r[3], r[4]) for r in found] == [(0, 0), (300, 0), (300, 100), (200, 200), (0, 200)]
    assert [round(r[5], 3) for r in found] == [90, 90, 135, 135, 90]
    # The inner angles of a pentagon add up to 540 degrees.
    assert sum(r[5] for r in found) == pytest.approx(540.0)


def test_outline_arc_with_its_radius():
    found = rows(plate(((0, 0), (300, 0), (300, 160, np.tan(np.pi / 8)), (260, 200), (0, 200))))
    assert [r[6] for r in found] == [0.0, 0.0, pytest.approx(40.0), 0.0, 0.0]


@pytest.mark.parametrize("end", ["left", "right"])
@pytest.mark.parametrize("lean", [0.0, 1.0, 2.5, 4.0])
def test_skew_tube_is_cut_deepest_where_the_row_says(end, lean):
    radius, angle = 114.3 / 2, 25
    run = 2 * radius * np.tan(np.radians(angle))
    toward = (np.cos(lean), np.sin(lean))
    plane = skew(run / 2 if end == "left" else 800 - run / 2, angle, end=end, toward=toward)
    (row,) = rows(member(CHS114, 800, **{end: (plane,)}))
    assert row[:3] == (end, "wall", "skew")
    assert row[5:] == (pytest.approx(angle, abs=1e-3), pytest.approx(run, abs=1e-3))
    assert row[3] == pytest.approx(run if end == "left" else 800 - run, abs=1e-3)
    w = row[4] / radius
    point = np.array([row[3], -radius * np.cos(w), radius * np.sin(w)])
    assert (point - plane.point) @ np.array(plane.normal) == pytest.approx(0.0, abs=0.01)


@settings(max_examples=40, deadline=None)
@given(
    section=st.sampled_from((FL100, L80X60, IPE200)),
    angle=st.floats(2.0, 40.0),
    lean=st.floats(0.0, 6.28),
)
def test_a_piece_laid_another_way_has_the_same_cuts(section, angle, lean):
    from takeoff.sections.turns import turns

    reach = 260 * np.tan(np.radians(angle))
    part = member(section, 1000, right=(skew(1000 - reach, angle, end="right", toward=(np.cos(lean), np.sin(lean))),))
    here = sorted((r[2], round(r[5], 2), round(r[6], 2)) for r in rows(part) if r[1] != "web")
    for turn in turns(section, 1000.0):
        body = turn_body(part.body, (), turn)
        assert sum(bool(p) for p in (body.left, body.right)) == 1
        assert bool(body.left) == turn.reverses
        there = sorted((c.kind, round(c.angle, 2), round(c.size, 2)) for c in cuts_of(body) if c.face != "web")
        assert [t[0] for t in there] == [h[0] for h in here]
        assert np.allclose([t[1:] for t in there], [h[1:] for h in here], atol=0.011)


def test_faces_come_in_the_order_of_the_sheets():
    part = member(IPE200, 1000, left=(skew(200, 20, end="left", toward=(0.6, 0.8)),))
    order = [f.name for f in faces(IPE200)]
    assert [c.face for c in cuts_of(part.body)] == [n for n in order if n in {c.face for c in cuts_of(part.body)}]
