"""The stages together: everything adds up, nothing depends on order, place or which end is called the start."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steelwork import (
    FL100,
    IPE200,
    L80X60,
    L100,
    RHS120,
    bolt,
    bolt_in,
    changed,
    fastener,
    frame,
    hole,
    member,
    mirrored,
    model,
    moved,
    places,
    plate,
    rectangle,
    rotation,
    vectors,
)

from takeoff.connections import BOLT_ALONG_LEG
from takeoff.pipeline import work_out
from takeoff.sections.shapes import faces
from takeoff.sections.turns import turns
from takeoff.settings import Settings
from takeoff.steel import HELD, LEFT_OUT, LISTED, ModelAssembly, Problem
from takeoff.turned import turn_frame


def node(assembly=""):
    """A leg, a gusset on it, a diagonal and its mirror image on the gusset: eleven bolts, one of them short."""
    leg = member(L100, 3000, at=frame((0, 0, 0), (0, 0, 1), (1, 0, 0)), grade="S355J2", assembly=assembly)
    gusset = plate(rectangle(320, 240), 8.0, at=frame((20, -8.0, 900)), grade="S235JR", assembly=assembly)
    first = member(L80X60, 1000, at=frame((180, 0, 950), (1, 0, 0), (0, 1, 0)), grade="S235JR", assembly=assembly)
    second = member(L80X60, 1000, at=frame((1180, 0, 1110), (-1, 0, 0), (0, 1, 0)), grade="S235JR", assembly=assembly)
    across = (0.0, 1.0, 0.0)
    on_leg = [bolt((55, -8.0, z), across, 35.0) for z in (930, 990, 1050, 1110)]
    on_first = [bolt((x, -8.0, 990), across, 32.0) for x in (210, 260, 310)]
    on_second = [bolt((x, -8.0, 1070), across, 32.0) for x in (210, 260, 310)]
    group = fastener(*on_leg, diameter=16.0, length=40.0, grade="8.8", nuts=1, washers=1, assembly=assembly)
    single = [
        fastener(b, diameter=16.0, length=35.0, grade="8.8", nuts=1, washers=1, assembly=assembly)
        for b in (*on_first, *on_second)
    ]
    lone = fastener(bolt((55, 0.0, 2000), across, 10.0), diameter=20.0, length=40.0, assembly=assembly)
    return [leg, gusset, first, second], [group, *single, lone]


def worked(members, fasteners=(), assemblies=()):
    return work_out(model(members, fasteners, assemblies), Settings())


def content(found):
    """What the lists say of pieces, without what names parts of the model."""
    return [
        (
            p.mark, p.quantity, p.section.designation, p.grade, p.length, p.opposite_hand_of, p.status,
            p.holes, p.cuts, round(p.gross, 6), round(p.net, 6), round(p.surface, 9),
        )
        for p in found.pieces
    ]  # fmt: skip


def test_the_node_by_hand():
    found = worked(*node())
    by_section = {p.section.designation: p for p in found.pieces}
    leg, gusset = by_section["L 100x100x8"], by_section["PL 8"]
    # Bolts at z = 930 to 1110 and 2000, 55 from the heel in x: along leg B, whose direction is u.
    assert [(h.label, h.x, h.across) for h in leg.holes] == [
        ("B1", 930.0, 55.0), ("B2", 990.0, 55.0), ("B3", 1050.0, 55.0), ("B4", 1110.0, 55.0), ("B5", 2000.0, 55.0),
    ]  # fmt: skip
    assert Counter(h.diameter for h in leg.holes) == {18.0: 4, 22.0: 1}
    assert len(gusset.holes) == 10
    # Leg: 3 m of 12.06 kg/m (sharp corners: (100 + 92) x 8 mm2 x 7850 kg/m3).
    assert leg.gross == pytest.approx(3 * 192 * 8 * 7850e-6)
    assert leg.net == pytest.approx(leg.gross - (4 * 18**2 + 22**2) * np.pi / 4 * 8 * 7850e-9)
    # The diagonals have their holes 30, 80 and 130 from opposite ends: an unequal angle's hands.
    diagonals = [p for p in found.pieces if p.section.h == 80]
    assert [[h.x for h in p.holes] for p in diagonals] == [[30.0, 80.0, 130.0], [870.0, 920.0, 970.0]]
    assert {h.across for p in diagonals for h in p.holes} == {40.0}
    assert [p.opposite_hand_of for p in diagonals] == [diagonals[1].mark, diagonals[0].mark]
    codes = {q.code for q in found.queries}
    assert codes >= {"bolt-through-one-part", "hole-size-from-rule", "nuts-washers-assumed"}
    assert not any(q.severity == "hold" for q in found.queries)


def test_the_balance():
    found = worked(*node())
    b = found.balance
    assert b["plies_over_bolts"] == 4 * 2 + 6 * 2 + 1
    assert b["plies_over_bolts"] == b["bolt_holes"] + b["bolt_holes_merged"]
    assert b["bolt_holes_merged"] == 0
    assert b["holes_by_pieces"] == b["holes_by_members"] == 21
    assert b["bolts_in_model"] == sum(line.quantity for line in found.bolt_lines) == 11
    assert b["gross_weight_kg"] == pytest.approx(b["gross_weight_from_members_kg"])
    assert b["net_weight_kg"] == pytest.approx(b["net_weight_from_members_kg"])
    assert b["net_weight_kg"] == pytest.approx(b["net_weight_from_assemblies_kg"])
    assert b["bolt_weight_kg"] == pytest.approx(sum(line.weight for line in found.bolt_lines))


def test_a_bolt_that_the_model_has_twice_is_in_the_balance():
    members, fasteners = node()
    found = worked(members, [*fasteners, changed(fasteners[0], global_id="z" * 22)])
    b = found.balance
    assert (b["plies_over_bolts"], b["bolt_holes"], b["bolt_holes_merged"]) == (29, 21, 8)
    assert any(q.code == "bolt-twice" for q in found.queries)


def test_every_part_is_accounted_for():
    members, fasteners = node()
    lost = replace(members[0], global_id="y" * 22, body=None, frame=None, status=HELD, reason="It cannot be read.")
    wood = replace(lost, global_id="x" * 22, status=LEFT_OUT, reason="It is timber.")
    found = worked([*members, lost, wood], fasteners)
    b = found.balance
    assert b["parts_in_model"] == b["parts_listed"] + b["parts_held"] + b["parts_bought_out"] + b["parts_left_out"] == 6
    assert (b["parts_held"], b["parts_left_out"]) == (1, 1)
    assert found.member_reasons[4:] == ("It cannot be read.", "It is timber.")
    assert found.member_marks[4:] == ("", "")
    assert sum(p.quantity for p in found.pieces) == 4


def test_a_problem_of_one_part_holds_its_piece_with_the_sentence():
    one, other = member(FL100, 500), member(FL100, 500, problems=(Problem(BOLT_ALONG_LEG),))
    found = worked([one, other])
    (piece,) = found.pieces
    assert piece.status == HELD
    assert piece.reasons == ("A bolt runs along a leg of this part, inside its thickness.",)
    assert found.member_status == (HELD, HELD)


def test_a_good_job_has_nothing_to_ask_but_what_was_assumed():
    members, fasteners = node()
    found = worked(members, fasteners[:-1])
    assert {q.severity for q in found.queries} == {"assumed"}
    assert {p.status for p in found.pieces} == {LISTED}


def test_every_member_s_holes_are_where_its_bolts_are():
    """The promise that a piece drawn once fits every place it goes to."""
    members, fasteners = node()
    turn = rotation((0.4, -2.0, 1.1))
    copies = [moved(p, turn, (1e7, 2e7, 3e5)) for p in members]
    made = [moved(f, turn, (1e7, 2e7, 3e5)) for f in fasteners]
    found = worked([*members, *copies], [*fasteners, *made])
    every = [*fasteners, *made]
    through = {i: [] for i in range(8)}
    for passage in found.passages:
        one = every[passage.fastener].bolts[passage.bolt]
        for ply in passage.plies:
            through[ply.member].append((np.array(one.point), np.array(one.direction)))
    assert sum(map(len, through.values())) == 42
    for piece in found.pieces:
        walls = {f.name: f for f in piece.faces}
        for i, at in zip(piece.members, piece.frames, strict=True):
            assert len(piece.holes) == len(through[i])
            for drilled in piece.holes:
                face = walls[drilled.face]
                spot = at.to_model([drilled.x, *(np.array(face.origin) + drilled.across * np.array(face.direction))])
                away = [np.linalg.norm((spot - p) - ((spot - p) @ d) * d) for p, d in through[i]]
                assert min(away) < 0.5


@settings(max_examples=12, deadline=None)
@given(order=st.randoms(use_true_random=False), vector=vectors, shift=places)
def test_shuffled_and_moved_the_lists_are_the_same(order, vector, shift):
    members, fasteners = node("a")
    others = [replace(moved(p, rotation((1, 1, 0)), (9e3, 0, 0)), assembly="b") for p in members]
    second = [changed(moved(f, rotation((1, 1, 0)), (9e3, 0, 0)), assembly="b") for f in fasteners]
    assemblies = (ModelAssembly("a"), ModelAssembly("b"))
    parts, bolts = [*members, *others], [*fasteners, *second]
    here = worked(parts, bolts, assemblies)
    turn = rotation(vector)
    parts, bolts = [moved(p, turn, shift) for p in parts], [moved(f, turn, shift) for f in bolts]
    order.shuffle(parts)
    order.shuffle(bolts)
    there = worked(parts, bolts, assemblies[::-1])
    near = [
        (*row[:7], [(h.label, h.face, round(h.x, 2), round(h.across, 2), h.diameter, h.source) for h in row[7]])
        for row in content(here)
    ]
    assert near == [
        (*row[:7], [(h.label, h.face, round(h.x, 2), round(h.across, 2), h.diameter, h.source) for h in row[7]])
        for row in content(there)
    ]
    assert [(a.mark, a.quantity, a.pieces, a.bolts) for a in here.assemblies] == [
        (a.mark, a.quantity, a.pieces, a.bolts) for a in there.assemblies
    ]
    assert [replace(x, weight=None) for x in here.bolt_lines] == [replace(x, weight=None) for x in there.bolt_lines]
    assert {k: pytest.approx(v) for k, v in here.balance.items()} == dict(there.balance)
    assert [(q.code, q.message, q.piece_mark) for q in here.queries] == [
        (q.code, q.message, q.piece_mark) for q in there.queries
    ]


def test_two_runs_say_the_same():
    one, other = worked(*node()), worked(*node())
    assert content(one) == content(other)


@pytest.mark.parametrize("section", [L100, IPE200, FL100, RHS120], ids=lambda s: s.shape)
def test_a_member_drawn_from_its_other_end_keeps_its_mark(section):
    first = member(section, 1000)
    head = faces(section)[0].name
    bolts = [bolt_in(first, head, x, 40, shank=12) for x in (50, 110, 900)]
    turn = turns(section, 1000.0)[-1]
    other = member(section, 1000, at=turn_frame(first.frame, turn))
    here, there = (worked([m], [fastener(*bolts)]) for m in (first, other))
    assert content(here) == content(there)


def test_the_mirror_image_of_a_job_has_the_opposite_hands():
    members, fasteners = node()
    away = (0.0, -5000.0, 0.0)
    there = [moved(mirrored(p), np.eye(3), away) for p in members]
    bolts = [moved(mirrored(f), np.eye(3), away) for f in fasteners]
    found = worked([*members, *there], [*fasteners, *bolts])
    mark = found.member_marks
    by_mark = {p.mark: p for p in found.pieces}
    # A square plate with its holes and no countersink has no hand; a leg with holes off its middle has.
    assert mark[1] == mark[5]
    assert mark[0] != mark[4]
    assert by_mark[mark[0]].opposite_hand_of == mark[4]
    assert by_mark[mark[0]].net == pytest.approx(by_mark[mark[4]].net)


def test_a_hole_off_the_edge_holds_the_piece_and_names_it():
    part = member(L100, 500, holes=(hole("A", 100, 95),))
    found = worked([part, member(L100, 700)])
    held = [p for p in found.pieces if p.status == HELD]
    assert [p.length for p in held] == [500.0]
    (asked,) = (q for q in found.queries if q.code == "hole-off-edge")
    assert (asked.piece_mark, asked.global_ids) == (held[0].mark, (part.global_id,))
    assert asked.message in held[0].reasons[0]


def test_an_empty_model():
    found = worked([])
    assert (found.pieces, found.bolt_lines, found.queries) == ((), (), ())
    assert found.balance["parts_in_model"] == 0
