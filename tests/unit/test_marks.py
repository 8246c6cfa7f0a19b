"""Piece marks: the model's where one mark is one shape, else by the scheme; never by the order of the parts."""

from hypothesis import given, settings
from hypothesis import strategies as st
from steelwork import CHS114, FL100, L80X60, L100, hole, member, mirrored

from takeoff.holes import find_holes
from takeoff.marks import mark_pieces
from takeoff.pieces import group_members
from takeoff.settings import MarkSettings, Settings


def marked(members, **options):
    """The mark of every member, and the queries by code."""
    holes, _ = find_holes(members, (), (), Settings())
    groups = group_members(members, holes, Settings().identity)
    marking, queries = mark_pieces(groups, members, MarkSettings(**options))
    marks = [""] * len(members)
    for mark, group in zip(marking.marks, groups, strict=True):
        for i, _, _ in group.members:
            marks[i] = mark
    assert len(set(marking.marks)) == len(groups)
    return marks, {q.code: q for q in queries}


def flat(length, mark="", **more):
    return member(FL100, length, mark=mark, **more)


def test_the_models_mark_is_kept():
    assert marked([flat(300, "P7"), flat(300, "P7"), flat(400, "12a")]) == (["P7", "P7", "12a"], {})


def test_a_mark_that_covers_two_shapes_is_no_mark():
    parts = [flat(300, "7"), flat(400, "7"), flat(500, "8")]
    marks, queries = marked(parts)
    assert marks == ["7-1", "7-2", "8"]
    found = queries["mark-covers-shapes"]
    assert found.message == "The model's mark 7 covers 2 different shapes; they are marked 7-1, 7-2 here."
    assert found.global_ids == (parts[0].global_id, parts[1].global_id)


def test_an_opposite_hand_under_its_mates_mark_is_another_shape():
    one = member(L80X60, 500, holes=(hole("A", 100, 45),), mark="7")
    marks, queries = marked([one, mirrored(one)])
    assert marks[0] != marks[1]
    assert set(marks) == {"7-1", "7-2"}
    assert "mark-covers-shapes" in queries


def test_a_shape_with_several_marks_keeps_the_commonest():
    parts = [flat(300, m) for m in ("9", "5", "9", "5", "9")]
    marks, queries = marked(parts)
    assert marks == ["9"] * 5
    assert queries["shape-has-marks"].piece_mark == "9"
    assert "5, 9" in queries["shape-has-marks"].message
    # As many of each: the smaller one.
    assert marked(parts[:4])[0] == ["5"] * 4


def test_an_unmarked_part_takes_the_mark_of_its_shape():
    parts = [flat(300, "7"), flat(300), flat(300)]
    marks, queries = marked(parts)
    assert marks == ["7"] * 3
    assert queries["shape-also-unmarked"].global_ids == (parts[1].global_id, parts[2].global_id)


def test_new_marks_follow_shape_section_and_length():
    parts = [member(CHS114, 900), flat(400), member(L100, 200), flat(300), member(L80X60, 900), member(L100, 100)]
    assert marked(parts)[0] == ["R1", "F2", "A3", "F1", "A1", "A2"]


def test_new_marks_go_on_above_the_models_own():
    assert marked([flat(300, "F41"), flat(400), flat(500)])[0] == ["F41", "F42", "F43"]


def test_new_marks_never_take_one_of_the_models():
    # F2 is the model's, though no mark here: it covers two shapes.
    parts = [flat(300, "F2"), flat(400, "F2"), flat(500)]
    marks, _ = marked(parts)
    assert marks == ["F2-1", "F2-2", "F3"]


def test_a_suffix_never_makes_a_mark_that_the_model_has():
    parts = [flat(300, "f2"), flat(400, "f2"), flat(500, "F2-1")]
    marks, _ = marked(parts)
    assert marks == ["f2-2", "f2-3", "F2-1"]


def test_a_shape_with_a_good_mark_beside_a_bad_one_keeps_the_good_one():
    parts = [flat(300, "7"), flat(300, "9"), flat(400, "7")]
    assert marked(parts)[0] == ["9", "9", "7-1"]


def test_opposite_hands_stand_next_to_each_other():
    first = [member(L80X60, 500, holes=(hole("A", x, 45),)) for x in (100, 120, 140)]
    parts = [*first, *map(mirrored, first)]
    marks, _ = marked(parts)
    numbers = [int(m[1:]) for m in marks]
    assert sorted(numbers) == list(range(1, 7))
    for k in range(3):
        assert abs(numbers[k] - numbers[k + 3]) == 1
        assert min(numbers[k], numbers[k + 3]) % 2 == 1


def test_the_scheme_and_its_start():
    parts = [flat(300), flat(400)]
    assert marked(parts, scheme="{letter}-{number:03}", start=7)[0] == ["F-007", "F-008"]
    assert marked(parts, scheme="{number}", letters={"flat": "Z"})[0] == ["1", "2"]
    assert marked(parts, letters={})[0] == ["X1", "X2"]


def test_model_marks_may_be_set_aside():
    marks, _ = marked([flat(300, "P7"), flat(400, "F1")], source="scheme")
    # F1 means another shape on the erection drawing, so it is not used here.
    assert marks == ["F2", "F3"]


@settings(max_examples=30, deadline=None)
@given(
    order=st.permutations(range(9)),
    own=st.lists(st.sampled_from(("", "", "7", "8", "A1", "A3")), min_size=9, max_size=9),
)
def test_marks_do_not_depend_on_the_order_of_the_parts(order, own):
    holed = [member(L80X60, 500, holes=(hole("A", x, 45),)) for x in (100, 100, 130)]
    parts = [*holed, *map(mirrored, holed[1:]), flat(300), flat(300), flat(400), member(L100, 500)]
    parts = [member_with(part, mark) for part, mark in zip(parts, own, strict=True)]
    here, _ = marked(parts)
    there, _ = marked([parts[k] for k in order])
    assert [there[order.index(k)] for k in range(9)] == here


def member_with(part, mark):
    from dataclasses import replace

    return replace(part, mark=mark)
