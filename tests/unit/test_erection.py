"""Where pieces stand: levels, faces, which end up, which side; bolts node by node."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from demo_jobs import MAST, TRESTLE, demo

from takeoff.erection import plan_erection
from takeoff.settings import ErectionSettings
from takeoff.steel import Frame

DEFAULTS = ErectionSettings()


def stands_of(plan, mark):
    return [stand for stand in plan.stands if stand.mark == mark]


@pytest.mark.parametrize("name", [MAST, TRESTLE])
def test_every_piece_stands_as_often_as_it_is_made(name):
    takeoff, dispatch = demo(name)
    stood = Counter()
    members = []
    for stand in dispatch.erection.stands:
        stood[stand.mark] += len(stand.members)
        members += stand.members
    assert stood == {piece.mark: piece.quantity for piece in takeoff.pieces}
    assert len(members) == len(set(members))
    for stand in dispatch.erection.stands:
        assert {takeoff.member_marks[m] for m in stand.members} == {stand.mark}


@pytest.mark.parametrize("name", [MAST, TRESTLE])
def test_the_bolts_of_all_nodes_are_the_order_list(name):
    takeoff, dispatch = demo(name)
    by_kind = Counter()
    for node in dispatch.erection.nodes:
        for kind, _, each in node.bolts:
            by_kind[kind.diameter, kind.length, kind.grade] += each * max(1, len(node.nodes))
    assert by_kind == {(li.diameter, li.length, li.grade): li.quantity for li in takeoff.bolt_lines}


def test_the_upper_end_is_the_higher_one_in_the_model():
    takeoff, dispatch = demo(MAST)
    pieces = {piece.mark: piece for piece in takeoff.pieces}
    seen = Counter()
    for stand in dispatch.erection.stands:
        piece = pieces[stand.mark]
        for member in stand.members:
            frame = piece.frames[piece.members.index(member)]
            rise = piece.length * frame.axes[0][2]
            seen[stand.way.end_up] += 1
            if stand.way.end_up:
                assert rise > 0 if stand.way.end_up == "right" else rise < 0
            else:
                assert abs(rise) <= np.sin(np.radians(5.0)) * piece.length
    assert set(seen) == {"left", "right", ""}


def test_the_legs_of_the_mast_stand_at_its_corners_heel_outward():
    """models/mast.py: heels on the corners NE (+X +Y), NW, SW and SE; HANDS says which leg is which."""
    _, dispatch = demo(MAST)
    corners = {
        mark: sorted(stand.sides for stand in stands_of(dispatch.erection, mark))
        for mark in ("ML1", "ML2", "ML3", "MU1", "MU2", "MU3")
    }
    assert corners["ML1"] == corners["MU1"] == [("+X", "+Y")]
    assert corners["ML3"] == corners["MU3"] == [("-X", "-Y")]
    assert corners["ML2"] == corners["MU2"] == [("+X", "-Y"), ("+Y", "-X")]
    for mark in corners:
        for stand in stands_of(dispatch.erection, mark):
            assert {direction for _, direction in stand.way.outsides} == set(stand.sides)
    lower, upper = ({s.level for s in stands_of(dispatch.erection, m)} for m in ("ML1", "MU1"))
    assert lower == {1}
    (splice,) = upper
    # SPLICE = 4450 along a leg that leans 1 in 25 two ways, from the base plates
    assert dispatch.erection.levels[splice - 1].height == pytest.approx(4450 * (1 - 1 / 25**2), abs=15)


def test_faces_of_the_mast_have_the_same_pieces_two_and_two():
    """Opposite faces are mirror images (models/mast.py), so they hold as many pieces of the same lengths."""
    takeoff, dispatch = demo(MAST)
    lengths = {piece.mark: round(piece.length) for piece in takeoff.pieces}
    found = {}
    for stand in dispatch.erection.stands:
        if len(stand.sides) == 1 and not stand.mark.startswith("F"):  # splice flats and steps, on one leg only
            of_face = found.setdefault(stand.sides[0], Counter())
            of_face[stand.level, lengths[stand.mark]] += len(stand.members)
    assert set(found) == {"+X", "+Y", "-X", "-Y"}
    braces = {side: {k: n for k, n in c.items() if k[1] > 900} for side, c in found.items()}
    assert braces["+X"] == braces["-X"]
    assert braces["+Y"] == braces["-Y"]


def turned(takeoff, degrees, shift=(0.0, 0.0, 0.0)):
    """The takeoff's pieces about the model's Z, without its joints."""
    a = np.radians(degrees)
    turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    move = np.array(shift)
    pieces = tuple(
        replace(p, frames=tuple(Frame(turn @ f.origin + move, f.axes @ turn.T) for f in p.frames))
        for p in takeoff.pieces
    )
    return replace(takeoff, pieces=pieces, joints=(), bolt_rows=())


@pytest.mark.parametrize("degrees", [33.0, 90.0, 200.0])
def test_a_model_that_stands_askew_has_the_same_faces_under_other_names(degrees):
    takeoff, dispatch = demo(MAST)
    plan = plan_erection(turned(takeoff, degrees, (1_250_000.0, -70_000.0, 320.0)), DEFAULTS)

    def gist(erection):
        return Counter((s.level, len(s.sides), s.mark, len(s.members), s.way.end_up) for s in erection.stands)

    assert gist(plan) == gist(dispatch.erection)
    assert [level.height for level in plan.levels] == pytest.approx(
        [level.height + 320.0 for level in dispatch.erection.levels], abs=0.1
    )
    if degrees == 33.0:
        assert plan.sides == ("33°", "123°", "213°", "303°")
    else:
        assert set(plan.sides) <= {"+X", "+Y", "-X", "-Y", "20°", "110°", "200°", "290°"}


def test_levels_of_the_settings_are_taken():
    takeoff, _ = demo(MAST)
    plan = plan_erection(takeoff, ErectionSettings(levels_mm=(4000.0, 0.0)))
    assert [level.height for level in plan.levels] == [0.0, 4000.0]
    assert {stand.level for stand in plan.stands} == {1, 2}
    assert {stand.level for stand in stands_of(plan, "MU1")} == {2}
    assert sum(len(stand.members) for stand in plan.stands) == sum(p.quantity for p in takeoff.pieces)


def test_no_order_of_pieces_and_no_noise_changes_the_plan():
    takeoff, _ = demo(MAST)
    bare = replace(takeoff, joints=(), bolt_rows=())
    noisy = tuple(
        replace(p, frames=tuple(Frame(f.origin + 1e-7, f.axes) for f in p.frames)) for p in reversed(bare.pieces)
    )
    one, other = plan_erection(bare, DEFAULTS), plan_erection(replace(bare, pieces=noisy), DEFAULTS)
    assert one.levels == other.levels
    assert [s._replace(low=(), high=()) for s in one.stands] == [s._replace(low=(), high=()) for s in other.stands]


def test_pieces_without_a_place_are_not_lost():
    takeoff, _ = demo(TRESTLE)
    lost = replace(takeoff.pieces[0], frames=())
    plan = plan_erection(replace(takeoff, pieces=(lost, *takeoff.pieces[1:])), DEFAULTS)
    (stand,) = stands_of(plan, lost.mark)
    assert stand.level == 0
    assert stand.members == lost.members


def test_a_takeoff_without_pieces_has_no_levels():
    takeoff, _ = demo(TRESTLE)
    plan = plan_erection(replace(takeoff, pieces=(), joints=(), bolt_rows=()), DEFAULTS)
    assert plan.levels == plan.stands == plan.nodes == ()


def test_a_face_is_seen_from_outside():
    """Looking along -X from outside with Z up, Y runs to the right; a piece in two faces is in both views."""
    takeoff, dispatch = demo(MAST)
    views = {view.side: view for view in dispatch.erection.views}
    assert {side: view.right for side, view in views.items()} == {"+X": "+Y", "+Y": "-X", "-X": "-Y", "-Y": "+X"}
    in_faces = Counter()
    for stand in dispatch.erection.stands:
        for side in stand.sides:
            in_faces[side, stand.mark] += len(stand.members)
    assert Counter((side, line[0]) for side, view in views.items() for line in view.lines) == in_faces
    pieces = {piece.mark: piece for piece in takeoff.pieces}
    (horizontal,) = [s for s in stands_of(dispatch.erection, "MH2") if s.sides == ("+X",)]
    frame = pieces["MH2"].frames[pieces["MH2"].members.index(horizontal.members[0])]
    (line,) = [line for line in views["+X"].lines if line[0] == "MH2"]
    # within its section: the line is the middle's, the frame is at the heel
    assert line[1] == pytest.approx(frame.origin[1], abs=60)
    assert line[3] == pytest.approx((frame.origin + frame.axes[0] * pieces["MH2"].length)[1], abs=60)
    assert line[2] == pytest.approx(frame.origin[2], abs=60)
