"""Checks of a finished piece: each passes just inside its limit and fails just outside."""

from dataclasses import replace

import numpy as np
import pytest
from steelwork import (
    CHS114,
    FL100,
    IPE200,
    L80X60,
    L100,
    RHS120,
    T100,
    U160,
    hole,
    member,
    plate,
    skew,
)

from takeoff.checks import CHECKS, check_piece
from takeoff.holes import find_holes
from takeoff.marks import mark_pieces
from takeoff.pieces import group_members
from takeoff.piecework import make_pieces
from takeoff.sections import shapes
from takeoff.settings import Settings
from takeoff.steel import Notch

JUST = 0.2
"""More than a hole may touch a limit by, mm."""


def piece_of(part):
    holes, _ = find_holes([part], (), (), Settings())
    groups = group_members([part], holes, Settings().identity)
    marking, _ = mark_pieces(groups, [part], Settings().marks)
    return make_pieces(groups, marking, [part])[0]


def codes(section, *holes, length=500.0, **more):
    part = holes_in(section, holes, length, **more)
    return [q.code for q in check_piece(piece_of(part), (part.global_id,))]


def holes_in(section, holes, length=500.0, **more):
    return member(section, length, holes=tuple(holes), **more)


# ---------------------------------------------------------------- edges


@pytest.mark.parametrize(("across", "found"), [(91.0 - JUST, []), (91.0, []), (91.0 + JUST, ["hole-off-edge"])])
def test_toe_of_a_leg(across, found):
    assert codes(L100, hole("A", 100, across)) == found


@pytest.mark.parametrize("face", ["A", "B"])
@pytest.mark.parametrize(("across", "found"), [(17.0 + JUST, []), (17.0, []), (17.0 - JUST, ["hole-in-other-wall"])])
def test_heel_of_an_angle(face, across, found):
    # The other leg is 8 thick: a hole of 18 is clear of it from 8 + 9.
    assert codes(L100, hole(face, 100, across)) == found


def test_over_the_heel_is_off_the_edge_too():
    assert codes(L100, hole("A", 100, 5.0)) == ["hole-off-edge", "hole-in-other-wall"]


def test_the_sentence_says_hole_leg_and_by_how_much():
    part = holes_in(L80X60, [hole("A", 100, 73.0)])
    (found,) = check_piece(piece_of(part), (part.global_id,))
    assert found.message == "Off the edge of leg A by 2 mm: hole A1 (18 mm)."
    assert (found.severity, found.piece_mark, found.global_ids) == ("hold", "A1", (part.global_id,))


def test_holes_of_one_cause_are_one_query_that_counts_and_names_them():
    holes = [hole("A", 100, 73.0), hole("A", 200, 74.0), hole("A", 300, 72.0, 22.0), hole("B", 100, 55.0)]
    part = holes_in(L80X60, holes)
    leg_a, leg_b = check_piece(piece_of(part), (part.global_id,))
    assert leg_a.message == "Off the edge of leg A by up to 3 mm: 3 holes: A1, A2, A3 (18, 22 mm)."
    assert leg_b.message == "Off the edge of leg B by 4 mm: hole B1 (18 mm)."
    three = holes_in(FL100, [hole("face", x, 50) for x in (100, 115, 131)])
    (met,) = check_piece(piece_of(three), (three.global_id,))
    assert met.message == (
        "Holes in the face run into each other, 15 to 16 mm between their centres: 2 pairs: F1 and F2, F2 and F3."
    )
    wall = holes_in(L80X60, [hole("A", 100, 12.0)])
    (into,) = check_piece(piece_of(wall), (wall.global_id,))
    assert into.message == "Into leg B from leg A by 3 mm: hole A1 (18 mm)."


@pytest.mark.parametrize(("x", "found"), [(9.0, []), (9.0 - JUST, ["hole-off-end"])])
@pytest.mark.parametrize("end", ["left", "right"])
def test_end_of_a_piece(x, found, end):
    assert codes(L80X60, hole("A", x if end == "left" else 500 - x, 45)) == found


def test_skew_end():
    # The cut leans 30 degrees: the hole's middle must be 9 mm from it, measured square to it.
    cut = skew(500, 30, end="right", toward=(0, 1))
    limit = 500 - 50 * np.tan(np.radians(30)) - 9 / np.cos(np.radians(30))
    assert codes(FL100, hole("face", limit - JUST, 50), right=(cut,)) == []
    assert codes(FL100, hole("face", limit + JUST, 50), right=(cut,)) == ["hole-off-edge"]


def test_notch():
    taken = Notch("A", ((0, 60), (60, 60), (60, 100), (0, 100)))
    assert codes(L100, hole("A", 69.0 + JUST, 80), notches=(taken,)) == []
    assert codes(L100, hole("A", 69.0 - JUST, 80), notches=(taken,)) == ["hole-off-edge"]


def test_plate_outline():
    corners = ((0, 0), (300, 0), (300, 60), (160, 200), (0, 200))
    # The clipped edge is x + across = 360; a hole of 18 is 9 from it at 360 - 9 sqrt 2.
    for more, expected in ((-JUST, []), (JUST, ["hole-off-edge"])):
        x = 360 - 9 * np.sqrt(2) - 120 + more
        part = plate(corners, holes=(hole("face", x, 120),))
        assert [q.code for q in check_piece(piece_of(part), ())] == expected


# ---------------------------------------------------------------- walls behind a face


@pytest.mark.parametrize(
    ("section", "face", "across", "found"),
    [
        (U160, "web", 10.5 + 9, []),
        (U160, "web", 10.5 + 9 - JUST, ["hole-in-other-wall"]),
        (U160, "web", 160 - 10.5 - 9, []),
        (U160, "web", 160 - 10.5 - 9 + JUST, ["hole-in-other-wall"]),
        (U160, "top", 7.5 + 9, []),
        (U160, "bottom", 7.5 + 9 - JUST, ["hole-in-other-wall"]),
        (IPE200, "web", 8.5 + 9, []),
        (IPE200, "web", 8.5 + 9 - JUST, ["hole-in-other-wall"]),
        (IPE200, "top", 2.8 + 9, []),
        (IPE200, "top", 2.8 + 9 - JUST, ["hole-in-other-wall"]),
        (IPE200, "bottom", -2.8 - 9, []),
        (IPE200, "bottom", -2.8 - 9 + JUST, ["hole-in-other-wall"]),
        (IPE200, "top", 0.0, ["hole-in-other-wall"]),
        (T100, "stem", 10 + 9, []),
        (T100, "stem", 10 + 9 - JUST, ["hole-in-other-wall"]),
        (T100, "bottom", 4 + 9 - JUST, ["hole-in-other-wall"]),
        (RHS120, "front", 5 + 9, []),
        (RHS120, "front", 5 + 9 - JUST, ["hole-in-other-wall"]),
        (RHS120, "top", 80 - 5 - 9 + JUST, ["hole-in-other-wall"]),
    ],
)
def test_walls_behind_a_face(section, face, across, found):
    assert codes(section, hole(face, 100, across)) == found


def test_monosymmetric_i_has_its_own_flanges():
    mono = shapes.i_section(200, 120, 6, 10, b2=80, tf2=8)
    assert codes(mono, hole("web", 100, 8 + 9)) == []
    assert codes(mono, hole("web", 100, 200 - 10 - 9 + JUST)) == ["hole-in-other-wall"]
    assert codes(mono, hole("bottom", 100, 40 - 9)) == []
    assert codes(mono, hole("bottom", 100, 40 - 9 + JUST)) == ["hole-off-edge"]


# ---------------------------------------------------------------- overlap


@pytest.mark.parametrize(("pitch", "found"), [(18.0, []), (18.0 - JUST, ["holes-overlap"])])
def test_holes_side_by_side(pitch, found):
    assert codes(FL100, hole("face", 100, 40), hole("face", 100 + pitch, 40)) == found
    assert codes(FL100, hole("face", 100, 40), hole("face", 100, 40 + pitch)) == found


def test_holes_of_two_faces_do_not_meet():
    assert codes(L100, hole("A", 100, 50), hole("B", 100, 50)) == []


def slot(x, across, length, angle):
    return hole("face", x, across, 18.0, slot_length=length, slot_angle=angle, kind="slot")


def test_slots_along_and_across():
    # Overall 58: ends 29 from the middle along the slot, 9 across it.
    assert codes(FL100, slot(29.0, 50, 58.0, 0.0)) == []
    assert codes(FL100, slot(29.0 - JUST, 50, 58.0, 0.0)) == ["hole-off-end"]
    assert codes(FL100, slot(100, 29.0, 58.0, 90.0)) == []
    assert codes(FL100, slot(100, 29.0 - JUST, 58.0, 90.0)) == ["hole-off-edge"]
    assert codes(FL100, slot(100, 9.0, 58.0, 0.0)) == []


def test_a_slot_runs_into_a_hole_at_its_end():
    # End arc's middle is at 100 + 20; two radii make 18.
    assert codes(FL100, slot(100, 50, 58.0, 0.0), hole("face", 138.0, 50)) == []
    assert codes(FL100, slot(100, 50, 58.0, 0.0), hole("face", 138.0 - JUST, 50)) == ["holes-overlap"]
    assert codes(FL100, slot(100, 50, 58.0, 90.0), hole("face", 118.0, 50)) == []


def test_a_long_slot_is_seen_past_a_hole_between():
    # From the left: a hole low, one high, and the middle of a slot that reaches back to the first.
    found = codes(FL100, hole("face", 100, 20), hole("face", 150, 80), slot(170, 20, 150.0, 0.0))
    assert found == ["holes-overlap"]


def rectangle(x, across, long, short, angle=0.0):
    return hole("face", x, across, 0.0, slot_length=long, width=short, slot_angle=angle, kind="rectangle")


def test_rectangles():
    assert codes(FL100, rectangle(20, 50, 40, 30)) == []
    assert codes(FL100, rectangle(20 - JUST, 50, 40, 30)) == ["hole-off-end"]
    assert codes(FL100, rectangle(100, 15, 40, 30)) == []
    assert codes(FL100, rectangle(100, 15 - JUST, 40, 30)) == ["hole-off-edge"]
    assert codes(FL100, rectangle(100, 20, 40, 30, 90.0)) == []
    assert codes(FL100, rectangle(100, 20 - JUST, 40, 30, 90.0)) == ["hole-off-edge"]


def test_a_rectangle_askew_reaches_with_its_corners():
    # 40 x 20 at 45 degrees reaches (40 + 20) / 2 / sqrt 2 to each side.
    reach = 30 / np.sqrt(2)
    assert codes(FL100, rectangle(100, reach, 40, 20, 45.0)) == []
    assert codes(FL100, rectangle(100, reach - JUST, 40, 20, 45.0)) == ["hole-off-edge"]


def test_a_rectangle_askew_beside_a_skew_end_is_judged_by_its_own_corners():
    """The box round a rectangle has corners that the rectangle has not."""
    # The end runs along x + across = 460, as the rectangle's long side does.
    cut = skew(460, 45, end="right", toward=(0, 1))
    x = 460 - 50 - 10 * np.sqrt(2)
    assert codes(FL100, rectangle(x - JUST, 50, 40, 20, 135.0), right=(cut,)) == []
    assert codes(FL100, rectangle(x + JUST, 50, 40, 20, 135.0), right=(cut,)) == ["hole-off-edge"]


def test_rectangles_overlap_too():
    assert codes(FL100, rectangle(100, 50, 40, 30), rectangle(140, 50, 40, 30)) == []
    assert codes(FL100, rectangle(100, 50, 40, 30), rectangle(140 - JUST, 50, 40, 30)) == ["holes-overlap"]
    assert codes(FL100, rectangle(100, 50, 40, 30), hole("face", 129.0, 50)) == []
    assert codes(FL100, rectangle(100, 50, 40, 30), hole("face", 129.0 - JUST, 50)) == ["holes-overlap"]
    # Past the corner of a rectangle there is room.
    assert codes(FL100, rectangle(100, 40, 40, 30), hole("face", 127, 62)) == []


# ---------------------------------------------------------------- rounds and other sections


def test_tube():
    girth = np.pi * 114.3
    assert codes(CHS114, hole("wall", 100, 0.0), hole("wall", 100, girth / 2)) == []
    assert codes(CHS114, hole("wall", 5, 100.0)) == ["hole-off-end"]


def test_holes_on_either_side_of_a_tube_s_datum_may_overlap():
    girth = np.pi * 114.3
    assert codes(CHS114, hole("wall", 100, 4.0), hole("wall", 100, girth - 10.0)) == ["holes-overlap"]
    assert codes(CHS114, hole("wall", 100, 4.0), hole("wall", 100, girth - 15.0)) == []
    # The datum stays with the first hole, between the two.
    first = hole("wall", 50, 0.0, 14.0)
    assert codes(CHS114, first, hole("wall", 100, 8.0), hole("wall", 100, girth - 8.0)) == ["holes-overlap"]
    assert codes(CHS114, first, hole("wall", 100, 10.0), hole("wall", 100, girth - 10.0)) == []


def test_a_section_without_faces_is_held():
    part = member(shapes.other([(0, 0), (50, 0), (50, 20), (20, 20), (20, 60), (0, 60)]), 500)
    assert [q.code for q in check_piece(piece_of(part), ())] == ["section-without-faces"]


@pytest.mark.parametrize("section", [L100, U160, IPE200, T100, RHS120, FL100, CHS114], ids=lambda s: s.shape)
def test_a_good_piece_has_no_findings(section):
    face = shapes.faces(section)[0]
    middle = (face.low + face.high) / 2
    holes = [hole(face.name, x, middle) for x in (50, 100, 450)]
    assert codes(section, *holes) == []


def test_every_check_takes_a_piece_without_holes():
    piece = replace(piece_of(member(L100, 500)), holes=())
    assert [list(check(piece)) for check in CHECKS] == [[]] * len(CHECKS)
