"""The holes of one bolt from ply to ply: sizes that differ, and holes that miss each other."""

import pytest
from steelwork import FL100, L100, bolt, fastener, frame, hole, member

from takeoff.connections import connect
from takeoff.holes import find_holes
from takeoff.plyholes import ply_queries
from takeoff.settings import Settings

SETTINGS = Settings()


def asked(members, fasteners):
    """Queries by code."""
    made, _ = connect(members, fasteners)
    holes, _ = find_holes(members, fasteners, made.passages, SETTINGS)
    return {q.code: q for q in ply_queries(members, fasteners, made.passages, holes)}


def two_flats(one, other):
    """Flats of 10 mm on each other with these holes; a bolt M16 through (200, 50) of both."""
    parts = [
        member(FL100, 400, body_holes=one),
        member(FL100, 400, at=frame((0, 10, 0)), body_holes=other),
    ]
    return parts, [fastener(bolt((200, 0, 50)))]


def test_eighteen_in_one_ply_and_twenty_two_in_the_other():
    parts, bolts = two_flats([hole("face", 200, 50, 18)], [hole("face", 200, 50, 22)])
    found = asked(parts, bolts)
    assert list(found) == ["hole-sizes-of-one-bolt"]
    message = found["hole-sizes-of-one-bolt"].message
    assert all(text in message for text in ("1 bolts of M16", "18 mm", "22 mm"))
    assert {part.global_id for part in parts} < set(found["hole-sizes-of-one-bolt"].global_ids)


def test_a_drawn_hole_beside_one_by_the_rule():
    # EN 1090-2:2018 Table 11: 18 for M16
    parts, bolts = two_flats([hole("face", 200, 50, 22)], [])
    assert "18 mm in one, 22 mm" in asked(parts, bolts)["hole-sizes-of-one-bolt"].message
    parts, bolts = two_flats([hole("face", 200, 50, 18)], [])
    assert asked(parts, bolts) == {}


@pytest.mark.parametrize("other", [hole("face", 200, 50, 18, slot_length=30, kind="slot"), hole("face", 200, 50, 18)])
def test_a_slot_and_equal_holes_are_not_asked_about(other):
    assert asked(*two_flats([hole("face", 200, 50, 18)], [other])) == {}


def test_sizes_are_grouped_by_cause():
    parts, bolts = [], []
    for k in range(3):
        pair, _ = two_flats([hole("face", 200, 50, 18)], [hole("face", 200, 50, 22 if k else 20)])
        parts += [member_at(p, 1000.0 * k) for p in pair]
        bolts += [fastener(bolt((200, 0, 50 + 1000.0 * k)))]
    made, _ = connect(parts, bolts)
    holes, _ = find_holes(parts, bolts, made.passages, SETTINGS)
    found = ply_queries(parts, bolts, made.passages, holes)
    assert [q.message.split(" ")[0] for q in found] == ["1", "2"]


def member_at(part, up):
    at = part.frame
    return member(FL100, 400, at=frame((0, at.origin[1], up)), body_holes=part.body.holes)


@pytest.mark.parametrize(("off", "missed"), [(0.9, False), (1.2, True), (2.0, True)])
def test_holes_that_miss_each_other_by_more_than_their_clearance(off, missed):
    # two holes of 18 leave a bolt of 16 an offset of 2 mm between their middles
    parts, bolts = two_flats([hole("face", 200 - off, 50, 18)], [hole("face", 200 + off, 50, 18)])
    found = asked(parts, bolts)
    assert ("holes-miss-each-other" in found) is missed
    if missed:
        assert f"by up to {2 * off - 2:.1f} mm" in found["holes-miss-each-other"].message


def test_the_miss_is_measured_in_the_model_not_in_each_part():
    # the second flat lies end for end, so that its x runs the other way: both holes are off the same way
    one = member(FL100, 400, body_holes=[hole("face", 201.5, 50, 18)])
    other = member(FL100, 400, at=frame((400, 20, 0), (-1, 0, 0), (0, -1, 0)), body_holes=[hole("face", 198.5, 50, 18)])
    assert asked([one, other], [fastener(bolt((200, 0, 50)))]) == {}
    other = member(FL100, 400, at=frame((400, 20, 0), (-1, 0, 0), (0, -1, 0)), body_holes=[hole("face", 201.5, 50, 18)])
    assert "holes-miss-each-other" in asked([one, other], [fastener(bolt((200, 0, 50)))])


def test_a_part_alone_and_a_bolt_without_drawn_holes_say_nothing():
    assert asked([member(L100, 400)], [fastener(bolt((200, -5, 50)))]) == {}
    assert asked(*two_flats([], [])) == {}
