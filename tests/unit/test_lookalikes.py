"""Marks that look alike: what is told apart, and what is not taken for alike."""

import numpy as np
import pytest
from demo_jobs import MAST, demo
from hypothesis import given
from hypothesis import strategies as st
from small_job import ANGLE_FACES, ANGLE_SECTION, FLAT_FACES, FLAT_SECTION

from takeoff.dispatch import Difference
from takeoff.lookalikes import _apart, _seen, find_look_alikes
from takeoff.sheets.look_alike_words import differences, reverse
from takeoff.steel import FaceOutline, Hole, Piece

PLACES = ((40.0, "A"), (110.0, "A"), (650.0, "B"), (1130.0, "A"))


def rectangle(face, length, high):
    return FaceOutline(face, np.array([[0.0, 0.0], [length, 0.0], [length, high], [0.0, high]]))


def angle(mark, length=1200.0, places=PLACES, *, diameter=18.0, grade="S355J2", **more):
    holes = tuple(Hole(f"{face}{k}", face, x, 55.0, diameter, bolt="M16") for k, (x, face) in enumerate(places))
    return Piece(
        mark, ANGLE_SECTION, grade, more.pop("finish", ""), length, holes, (), ANGLE_FACES,
        (rectangle("A", length, 100.0), rectangle("B", length, 100.0)), members=(0,), **more,
    )  # fmt: skip


def flat(mark, xs, length=300.0):
    holes = tuple(Hole(f"F{k}", "face", x, across, 18.0) for k, (x, across) in enumerate(xs))
    return Piece(
        mark,
        FLAT_SECTION,
        "S235JR",
        "",
        length,
        holes,
        (),
        FLAT_FACES,
        (rectangle("face", length, 80.0),),
        members=(0,),
    )


def found(*pieces, within=5.0):
    return {
        (pair.mark, pair.other): [d.what for d in pair.differences] for pair in find_look_alikes(pieces, within)
    }  # fmt: skip


def test_what_differs_is_named():
    shifted = ((40.0, "A"), (113.0, "A"), (650.0, "B"), (1130.0, "A"))
    assert found(angle("A1"), angle("A2", places=shifted)) == {("A1", "A2"): ["hole place"]}
    assert found(angle("A1"), angle("A2", places=PLACES[:3])) == {("A1", "A2"): ["hole"]}
    assert found(angle("A1"), angle("A2", grade="S235JR")) == {("A1", "A2"): ["grade"]}
    assert found(angle("A1"), angle("A2", finish="galvanised")) == {("A1", "A2"): ["finish"]}
    assert found(angle("A1"), angle("A2", diameter=22.0)) == {("A1", "A2"): ["hole size"]}
    (pair,) = find_look_alikes([angle("A1"), angle("A2", 1203.0)], 5.0)
    assert [d.what for d in pair.differences] == ["length", "outline"]
    assert pair.differences[0] == Difference("length", own_mm=1200.0, other_mm=1203.0)
    moved = ((40.0, "A"), (310.0, "A"), (650.0, "B"), (1130.0, "A"))
    (pair,) = find_look_alikes([angle("A1"), angle("A2", places=moved)], 5.0)
    assert pair.differences == (Difference("hole", "A1", "A1"),)


def test_hands_are_named_whatever_else():
    one, other = angle("A1", opposite_hand_of="A2"), angle("A2", places=((70.0, "B"),), opposite_hand_of="A1")
    assert found(one, other) == {("A1", "A2"): ["hand"]}


def test_what_is_plainly_different_is_not_alike():
    two_moved = ((40.0, "A"), (310.0, "A"), (750.0, "B"), (1130.0, "A"))
    assert found(angle("A1"), angle("A2", places=two_moved)) == {}
    assert found(angle("A1"), angle("A2", places=PLACES[:2])) == {}
    assert found(angle("A1"), angle("A2", 1205.1)) == {}
    assert found(angle("A1"), flat("F1", [(40.0, 40.0)])) == {}


def test_a_piece_laid_the_other_way_is_found():
    """Turned end for end the flat's holes come within 3 mm of the other's; as drawn they are 40 apart."""
    one, other = flat("F1", [(30.0, 20.0), (120.0, 40.0)]), flat("F2", [(178.0, 40.0), (270.0, 60.0)])
    assert found(one, other) == {("F1", "F2"): ["hole place"]}
    (pair,) = find_look_alikes([one, other], 5.0)
    assert pair.differences[0].other_mm == pytest.approx(2.0)


def test_legs_of_an_equal_angle_change_places():
    """The turn that exchanges the legs also exchanges the ends: A at 100 becomes B at 1100."""
    assert found(angle("A1", places=((100.0, "A"),)), angle("A2", places=((1098.0, "B"),))) == {
        ("A1", "A2"): ["hole place"]
    }


def test_how_far_is_the_settings():
    assert found(angle("A1"), angle("A2", 1203.0), within=2.0) == {}


def test_no_order_of_pieces_changes_the_pairs():
    pieces = [angle("A10"), angle("A2", 1201.0), angle("A1", 1202.0), angle("A3", grade="S235JR")]
    assert find_look_alikes(pieces, 5.0) == find_look_alikes(pieces[::-1], 5.0)
    assert next(iter(found(*pieces))) == ("A1", "A2")


def test_seen_from_the_other_mark_the_values_change_places():
    (pair,) = find_look_alikes([angle("A1"), angle("A2", 1203.0, grade="S235JR")], 5.0)
    assert differences(pair).startswith("length 1200 / 1203; grade S355J2 / S235JR")
    assert differences(reverse(pair)).startswith("length 1203 / 1200; grade S235JR / S355J2")


@given(st.lists(st.tuples(st.integers(30, 1170), st.sampled_from("AB")), min_size=1, max_size=9, unique=True))
def test_a_mark_looks_like_itself_under_another_name_and_says_that_nothing_differs(places):
    assert found(angle("A1", places=places), angle("A2", places=places)) == {("A1", "A2"): ["nothing"]}


def test_opposite_hands_of_the_mast_are_all_among_its_look_alikes():
    takeoff, dispatch = demo(MAST)
    hands = {tuple(sorted((p.mark, p.opposite_hand_of))) for p in takeoff.pieces if p.opposite_hand_of}
    named = {
        tuple(sorted((pair.mark, pair.other)))
        for pair in dispatch.look_alikes
        if any(d.what == "hand" for d in pair.differences)
    }
    assert named == hands
    assert len(hands) > 5


few = st.lists(st.tuples(st.integers(1, 12).map(lambda k: 90.0 * k), st.sampled_from("AB")), max_size=4, unique=True)


@given(st.lists(st.tuples(few, st.sampled_from([1200.0, 1202.0, 1204.5, 1206.0])), min_size=2, max_size=5))
def test_the_sweep_loses_no_pair(made):
    """Held against every pair looked at one by one."""
    pieces = [angle(f"A{k}", length, places) for k, (places, length) in enumerate(made)]
    alone = {}
    for k, one in enumerate(pieces):
        for other in pieces[k + 1 :]:
            if abs(one.length - other.length) < 5.0:
                apart = _apart(_seen(one), _seen(other), 5.0)
                if apart is not None:
                    alone[one.mark, other.mark] = [d.what for d in apart]
    assert found(*pieces) == alone
