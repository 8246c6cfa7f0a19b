"""Assemblies alike by a rigid motion of their pieces; totals over assemblies and loose parts."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steelwork import (
    CHS114,
    FL100,
    L80X60,
    bolt,
    fastener,
    frame,
    hole,
    member,
    mirrored,
    model,
    moved,
    rotation,
    vectors,
)

from takeoff.pipeline import work_out
from takeoff.sections.turns import turns
from takeoff.settings import Settings
from takeoff.steel import ModelAssembly
from takeoff.turned import turn_body, turn_frame


def frame_of_parts(assembly, *, handed=True):
    """A post, a brace on it and a strap, all in one assembly."""
    holes = (hole("A", 100, 45), hole("A", 160, 45)) if handed else (hole("A", 470, 45), hole("A", 530, 45))
    return [
        member(L80X60, 1000, at=frame((0, 0, 0), (0, 0, 1), (1, 0, 0)), holes=holes, assembly=assembly),
        member(FL100, 400, at=frame((100, 50, 200), (1, 0, 0), (0, 1, 0)), assembly=assembly),
        member(FL100, 600, at=frame((100, 150, 400), (0.6, 0.8, 0), (-0.8, 0.6, 0)), assembly=assembly),
    ]


def worked(*parts, fasteners=(), assemblies=()):
    found = work_out(model(parts, fasteners, assemblies), Settings())
    return found, {a.mark: a for a in found.assemblies}


def known(*ids, mark="", parent=""):
    return tuple(ModelAssembly(i, mark=mark, parent=parent) for i in ids)


@settings(max_examples=20, deadline=None)
@given(vector=vectors, shift=st.tuples(*(st.floats(-1e6, 1e6) for _ in range(3))))
def test_alike_under_any_motion(vector, shift):
    turn = rotation(vector)
    first = frame_of_parts("a")
    second = [moved(p, turn, shift) for p in frame_of_parts("b")]
    found, by_mark = worked(*first, *second[::-1], assemblies=known("a", "b"))
    (one,) = found.assemblies
    assert one.quantity == 2
    assert sorted(one.instances) == ["a", "b"]
    assert sum(n for _, n in one.pieces) == 3
    assert set(by_mark) == {"AS1"}


def test_a_mirror_image_of_handed_pieces_is_not_alike():
    first = frame_of_parts("a")
    second = [mirrored(p) for p in frame_of_parts("b")]
    found, _ = worked(*first, *second, assemblies=known("a", "b"))
    assert [a.quantity for a in found.assemblies] == [1, 1]
    assert found.assemblies[0].pieces != found.assemblies[1].pieces


def test_a_mirror_image_of_pieces_without_hand_is_not_alike_either():
    """Each piece is its own mirror image, but they stand the other way round."""
    first = frame_of_parts("a", handed=False)
    second = [mirrored(p) for p in frame_of_parts("b", handed=False)]
    found, _ = worked(*first, *second, assemblies=known("a", "b"))
    assert [a.quantity for a in found.assemblies] == [1, 1]
    assert found.assemblies[0].pieces == found.assemblies[1].pieces


@pytest.mark.parametrize("which", range(4))
def test_a_symmetric_piece_may_lie_any_way(which):
    """The strap of the second assembly is drawn from its other end, or from its other side."""
    first, second = frame_of_parts("a"), frame_of_parts("b")
    turn = turns(FL100, 400.0)[which]
    part = second[1]
    second[1] = member(
        FL100, 400, at=turn_frame(part.frame, turn), assembly="b", left=turn_body(part.body, (), turn).left
    )
    found, _ = worked(*first, *second, assemblies=known("a", "b"))
    assert [a.quantity for a in found.assemblies] == [2]


def test_a_holed_piece_laid_the_other_way_is_not_alike():
    def pair(assembly, over):
        holes = (hole("face", 100, 30),)
        strap = member(FL100, 400, at=frame((100, 50, 200)), holes=holes, assembly=assembly)
        if over:
            # End for end in its place.
            strap = member(FL100, 400, at=frame((500, 50, 300), (-1, 0, 0), (0, 1, 0)), holes=holes, assembly=assembly)
        return [member(L80X60, 1000, assembly=assembly), strap]

    found, _ = worked(*pair("a", False), *pair("b", True), assemblies=known("a", "b"))
    assert [a.quantity for a in found.assemblies] == [1, 1]


def test_a_piece_moved_by_more_than_the_tolerance_is_not_alike():
    for away, count in ((1.0, 1), (5.0, 2)):
        second = frame_of_parts("b")
        second[1] = moved(second[1], np.eye(3), (away, 0, 0))
        found, _ = worked(*frame_of_parts("a"), *second, assemblies=known("a", "b"))
        assert len(found.assemblies) == count


@pytest.mark.parametrize("around", [0.0, 0.4, 2.0])
@pytest.mark.parametrize("reverse", [False, True])
def test_a_plain_tube_may_lie_any_way_round(around, reverse):
    """What a tube's frame says of up and of its ends is the drawing's matter."""

    def pair(assembly, spin, back):
        u = (0.0, np.cos(spin), np.sin(spin))
        at = frame((50, 60, 70), (1, 0, 0), u)
        if back:
            at = frame((650, 60, 70), (-1, 0, 0), u)
        return [member(CHS114, 600, at=at, assembly=assembly), member(L80X60, 900, assembly=assembly)]

    found, _ = worked(*pair("a", 0.0, False), *pair("b", around, reverse), assemblies=known("a", "b"))
    assert [a.quantity for a in found.assemblies] == [2]


def test_a_holed_tube_may_be_drawn_from_either_end_but_not_lie_turned():
    def pair(assembly, holes, at):
        return [member(CHS114, 600, at=at, holes=holes, assembly=assembly), member(L80X60, 900, assembly=assembly)]

    half = np.pi * 114.3 / 2
    one = pair("a", (hole("wall", 100, 0.0),), frame((50, 60, 70)))
    # Half a turn about u, on which the datum lies.
    same = pair("b", (hole("wall", 500, 0.0),), frame((650, 60, 70), (-1, 0, 0), (0, 1, 0)))
    spun = pair("b", (hole("wall", 100, half),), frame((50, 60, 70)))
    assert [a.quantity for a in worked(*one, *same, assemblies=known("a", "b"))[0].assemblies] == [2]
    assert [a.quantity for a in worked(*one, *spun, assemblies=known("a", "b"))[0].assemblies] == [1, 1]


def test_nested_assemblies_count_by_the_innermost():
    parts = [*frame_of_parts("inner"), member(FL100, 900, assembly="outer")]
    assemblies = (ModelAssembly("outer", mark="O1"), ModelAssembly("inner", mark="I1", parent="outer"))
    _, by_mark = worked(*parts, assemblies=assemblies)
    assert {m: sum(n for _, n in a.pieces) for m, a in by_mark.items()} == {"O1": 1, "I1": 3}


def test_marks_of_the_model_where_they_mean_one_assembly():
    first, second = frame_of_parts("a"), [moved(p, np.eye(3), (5000, 0, 0)) for p in frame_of_parts("b")]
    third = [member(FL100, 700, assembly="c")]
    assemblies = (ModelAssembly("a", mark="K1"), ModelAssembly("b", mark="K1"), ModelAssembly("c", mark="K2"))
    found, by_mark = worked(*first, *second, *third, assemblies=assemblies)
    assert {m: a.quantity for m, a in by_mark.items()} == {"K1": 2, "K2": 1}
    assert found.member_assemblies == ("K1",) * 6 + ("K2",)


def test_a_mark_of_unlike_assemblies_is_no_mark():
    parts = [*frame_of_parts("a"), member(FL100, 700, assembly="b")]
    found, by_mark = worked(*parts, assemblies=(ModelAssembly("a", mark="K1"), ModelAssembly("b", mark="K1")))
    assert set(by_mark) == {"K1-1", "K1-2"}
    asked = next(q for q in found.queries if q.code == "assembly-mark-covers")
    assert set(asked.global_ids) == {"a", "b"}


def test_an_assembly_marked_loose_is_not_the_loose_parts():
    found, by_mark = worked(*frame_of_parts("a"), member(FL100, 700), assemblies=(ModelAssembly("a", mark="loose"),))
    assert {sum(n for _, n in a.pieces) for a in by_mark.values()} == {3, 1}
    assert len(found.assemblies) == 2


def test_totals_add_up_over_assemblies_and_loose_parts():
    first = frame_of_parts("a")
    second = [moved(p, np.eye(3), (5000, 0, 0)) for p in frame_of_parts("b")]
    loose = [member(FL100, 700), member(L80X60, 300)]
    clamp = bolt((200, 50, 250), (0, 1, 0), 30.0)
    made = [
        fastener(clamp, diameter=16.0, length=40.0, assembly="a"),
        moved(fastener(clamp, diameter=16.0, length=40.0, assembly="b"), np.eye(3), (5000, 0, 0)),
        fastener(clamp, diameter=16.0, length=40.0),
    ]
    found, by_mark = worked(*first, *second, *loose, fasteners=made, assemblies=known("a", "b"))
    pieces = {p.mark: p for p in found.pieces}
    assert {a.mark: a.quantity for a in found.assemblies} == {"AS1": 2, "loose": 1}
    for field in ("gross", "net", "surface"):
        total = sum(getattr(a, field) * a.quantity for a in found.assemblies)
        assert total == pytest.approx(sum(getattr(p, field) * p.quantity for p in found.pieces))
        for row in found.assemblies:
            assert getattr(row, field) == pytest.approx(sum(getattr(pieces[m], field) * n for m, n in row.pieces))
    assert {m: a.bolts for m, a in by_mark.items()} == {"AS1": 1, "loose": 1}
    (line,) = found.bolt_lines
    assert sum(a.bolt_weight * a.quantity for a in found.assemblies) == pytest.approx(line.weight)
    assert any(q.code == "parts-in-no-assembly" for q in found.queries)


def test_a_model_without_assemblies_is_all_loose_and_no_query():
    found, by_mark = worked(member(FL100, 700), member(FL100, 700))
    assert [(m, a.quantity, a.pieces) for m, a in by_mark.items()] == [("loose", 1, (("F1", 2),))]
    assert not any(q.code == "parts-in-no-assembly" for q in found.queries)


@settings(max_examples=15, deadline=None)
@given(order=st.permutations(range(9)))
def test_marks_do_not_depend_on_the_order_of_the_parts(order):
    parts = [
        *frame_of_parts("a"),
        *(moved(p, rotation((1, 2, 3)), (9000, 0, 0)) for p in frame_of_parts("b")),
        member(FL100, 250, assembly="c"),
        member(FL100, 350, assembly="d"),
        member(FL100, 350),
    ]
    here, _ = worked(*parts, assemblies=known("a", "b", "c", "d"))
    there, _ = worked(*(parts[k] for k in order), assemblies=known("d", "b", "c", "a"))
    assert [there.member_assemblies[order.index(k)] for k in range(9)] == list(here.member_assemblies)
    assert there.assemblies == here.assemblies
