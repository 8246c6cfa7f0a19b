"""Pieces as the shop makes them: labels, gauge lines, frames, hands named, sections of one size together."""

from dataclasses import replace

import numpy as np
import pytest
from steelwork import CHS114, FL100, IPE200, L80X60, L100, U160, frame, hole, member, mirrored, moved, rotation, skew

from takeoff.gauges import gauge_lines
from takeoff.holes import find_holes
from takeoff.marks import mark_pieces
from takeoff.pieces import group_members
from takeoff.piecework import make_pieces
from takeoff.sections import shapes
from takeoff.settings import Settings


def pieces_of(*members):
    holes, _ = find_holes(members, (), (), Settings())
    groups = group_members(members, holes, Settings().identity)
    marking, _ = mark_pieces(groups, members, Settings().marks)
    return make_pieces(groups, marking, members)


def piece_of(*members):
    (piece,) = pieces_of(*members)
    return piece


def test_labels_run_along_each_face():
    holes = (hole("B", 50, 40), hole("A", 300, 45), hole("A", 40, 45), hole("A", 40, 70), hole("B", 200, 40))
    piece = piece_of(member(L80X60, 500, holes=holes))
    assert [(h.label, h.face, h.x, h.across) for h in piece.holes] == [
        ("A1", "A", 40.0, 45.0), ("A2", "A", 40.0, 70.0), ("A3", "A", 300.0, 45.0),
        ("B1", "B", 50.0, 40.0), ("B2", "B", 200.0, 40.0),
    ]  # fmt: skip


def test_every_face_has_its_letter():
    i = piece_of(member(IPE200, 500, holes=(hole("web", 50, 60), hole("top", 60, 30), hole("bottom", 70, 30))))
    assert {h.face: h.label for h in i.holes} == {"web": "W1", "top": "T1", "bottom": "U1"}
    tube = piece_of(member(CHS114, 500, holes=(hole("wall", 50, 0.0),)))
    assert [h.label for h in tube.holes] == ["R1"]
    # Labels are unique in a piece of any shape.
    rhs = piece_of(
        member(shapes.rhs(120, 80, 5), 500, holes=tuple(hole(f, 50, 40) for f in ("front", "top", "back", "bottom")))
    )
    assert len({h.label for h in rhs.holes}) == 4


def test_gauge_lines_from_the_heel():
    piece = piece_of(
        member(L80X60, 500, holes=(hole("A", 50, 60), hole("A", 100, 35.2), hole("A", 160, 35), hole("B", 70, 33)))
    )
    assert [(h.label, h.across, h.gauge_line) for h in piece.holes] == [
        ("A1", 60.0, 2), ("A2", 35.2, 1), ("A3", 35.0, 1), ("B1", 33.0, 1),
    ]  # fmt: skip


def test_gauge_lines_gather_within_half_a_millimetre():
    assert gauge_lines([40.0, 35.0, 35.5, 36.1]) == [35.25, 36.1, 40.0]
    assert gauge_lines([]) == []


@pytest.mark.parametrize(
    ("section", "given", "seen"),
    [
        # The contract: the smallest sorted list of (x, face, across, diameter) of the frames that fit.
        (L100, ("A", 400, 55), ("B", 100.0, 55.0)),
        (U160, ("web", 400, 60), ("web", 100.0, 100.0)),
        (FL100, ("face", 400, 70), ("face", 100.0, 30.0)),
        (IPE200, ("web", 400, 150), ("web", 100.0, 50.0)),
        (L80X60, ("A", 400, 45), ("A", 400.0, 45.0)),
    ],
    ids=lambda v: getattr(v, "shape", None),
)
def test_the_canonical_frame_is_the_contract_s(section, given, seen):
    piece = piece_of(member(section, 500, holes=(hole(*given),)))
    assert [(h.face, h.x, h.across) for h in piece.holes] == [seen]


def test_opposite_hands_name_each_other_and_no_one_else():
    one = member(L80X60, 500, holes=(hole("A", 100, 45),))
    pieces = pieces_of(one, mirrored(one), member(L80X60, 700))
    mate = {p.members: p.opposite_hand_of for p in pieces}
    mark = {p.members: p.mark for p in pieces}
    assert mate == {(0,): mark[(1,)], (1,): mark[(0,)], (2,): ""}


def test_frames_of_a_turned_member_lay_it_as_the_piece_is_drawn():
    turn = rotation((0.3, -1.2, 2.0))
    one = member(FL100, 500, holes=(hole("face", 100, 30), hole("face", 180, 60)), at=frame((10, 20, 30)))
    other = moved(member(FL100, 500, holes=(hole("face", 400, 70), hole("face", 320, 40))), turn, (1e6, 2e6, 3e3))
    piece = piece_of(one, other)
    assert piece.quantity == 2
    assert np.allclose(piece.frames[0].to_model([100, 0, 30]), [110, 20, 60])
    # The second lies the other way round: its right end is the piece's left, about its own face's middle.
    assert np.allclose(piece.frames[1].to_model([100, 0, 30]), other.frame.to_model([400, 0, 70]))
    assert np.allclose(piece.frames[1].axes[1], other.frame.axes[1])


def test_the_left_and_right_ends_of_the_piece_are_in_the_model():
    part = member(L80X60, 500, at=frame((1000, 0, 0), (0, 0, 1), (1, 0, 0)))
    (at,) = piece_of(part).frames
    assert np.allclose(at.to_model([[0, 0, 0], [500, 0, 0]]), [[1000, 0, 0], [1000, 0, 500]])


def test_cuts_and_outlines_are_turned_with_the_piece():
    cut = skew(100 * np.tan(np.radians(20)), 20, end="left", toward=(0, -1))
    part = member(FL100, 500, left=(cut,), holes=(hole("face", 400, 80),))
    piece = piece_of(part)
    (row,) = piece.cuts
    assert (row.kind, row.size) == ("skew", pytest.approx(100 * np.tan(np.radians(20)), abs=1e-3))
    (outline,) = piece.outlines
    assert outline.points[:, 0].min() == pytest.approx(0.0)
    assert outline.points[:, 0].max() == pytest.approx(500.0)
    # A corner of the outline in space is the same from the piece's frame and from the member's.
    (at,) = piece.frames
    corners = np.array([[x, 0, a] for x, a in outline.points])
    space = part.frame.to_piece(at.to_model(corners))
    assert ((space - cut.point) @ np.array(cut.normal) < 1e-6).all()


def test_sections_by_size_not_by_name():
    one = member(L100, 500)
    other = member(replace(L100, designation="L100X8 of another file", standard="EN 10056-1"), 500)
    near = member(shapes.angle(100.05, 100, 8), 500)
    far = member(shapes.angle(100, 100, 8.2), 500)
    assert sorted(p.quantity for p in pieces_of(one, other, near, far)) == [1, 3]


def test_model_marks_and_sections_are_kept_for_reading():
    parts = [member(FL100, 500, mark=m, section_text=s) for m, s in (("8", "FL100x10"), ("7", "PL10*100"), ("8", ""))]
    piece = piece_of(*parts)
    assert piece.model_marks == ("7", "8")
    assert piece.model_sections == ("FL100x10", "PL10*100")


def test_a_part_without_a_body_is_no_piece():
    assert pieces_of(member(FL100, 500), replace(member(FL100, 500), body=None, frame=None))[0].members == (0,)
    assert pieces_of() == ()
