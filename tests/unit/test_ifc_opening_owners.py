"""Openings that no relation ties to a part: given to the part they are certainly of, else asked about."""

from __future__ import annotations

import pytest
from build import Build, Ring

from takeoff.pipeline import take_off
from takeoff.settings import Settings

STEEL = {"material": "S235JR"}


def codes(found):
    return [query.code for query in found.queries if query.code.startswith("opening")]


def holes(found):
    return {
        member.global_id: [(round(h.x, 3), round(h.across, 3), h.diameter) for h in member.holes]
        for member in found.model.members
    }


@pytest.mark.parametrize("absolute", [False, True])
def test_an_opening_without_a_relation_is_its_parts_as_if_it_had_one(tmp_path, absolute):
    """Placed on the part, or in the world and through this part alone: the same hole as with the relation."""
    model = Build()
    part = model.angle((100, 200, 300), length=800, legs=(100, 65, 8), **STEEL)
    other = model.angle((100, 900, 300), length=800, legs=(100, 65, 8), **STEEL)
    model.cut(part, "A", Ring(120, 55, 18), 60, voids=False, absolute=absolute)
    model.cut(other, "A", Ring(120, 55, 18), 60)
    found = take_off([model.save(tmp_path / "m.ifc")], Settings())
    assert holes(found) == {part.global_id: [(120, 55, 18)], other.global_id: [(120, 55, 18)]}
    assert codes(found) == ["opening-adopted"]
    (asked,) = (query for query in found.queries if query.code == "opening-adopted")
    assert (asked.severity, asked.global_ids) == ("assumed", (part.global_id,))
    assert [piece.quantity for piece in found.pieces] == [2]


def test_an_opening_through_two_parts_is_nobodys_unless_it_is_placed_on_one(tmp_path):
    for absolute, expected in ((True, "opening-of-nothing"), (False, "opening-adopted")):
        model = Build()
        near = model.flat((0, 0, 0), length=400, size=(100, 10), **STEEL)
        far = model.flat((0, 10, 0), length=400, size=(100, 10), **STEEL)
        model.cut(near, "face", Ring(100, 50, 18), 100, voids=False, absolute=absolute)
        found = take_off([model.save(tmp_path / f"{absolute}.ifc")], Settings())
        assert codes(found) == [expected]
        assert holes(found) == {near.global_id: [] if absolute else [(100, 50, 18)], far.global_id: []}


def test_a_pocket_over_the_end_of_a_part_is_not_the_parts(tmp_path):
    """A pocket in a wall that a beam's end sits in has no relation to the beam: it does not shorten it."""
    model = Build()
    part = model.flat(length=400, size=(100, 10), **STEEL)
    model.cut(part, "face", ((-100, -50), (60, -50), (60, 150), (-100, 150)), 100, voids=False, absolute=True)
    found = take_off([model.save(tmp_path / "m.ifc")], Settings())
    assert codes(found) == ["opening-of-nothing"]
    assert found.model.members[0].notches == ()


def test_an_opening_that_meets_nothing_is_asked_about(tmp_path):
    model = Build()
    part = model.flat(length=400, size=(100, 10), **STEEL)
    model.cut(part, "face", Ring(100, 300, 18), 100, voids=False, absolute=True)
    found = take_off([model.save(tmp_path / "m.ifc")], Settings())
    assert codes(found) == ["opening-of-nothing"]


def test_an_opening_placed_on_a_part_that_cannot_be_read_holds_it(tmp_path):
    model = Build()
    part = model.flat(length=400, size=(100, 10), **STEEL)
    model.cut(part, "face", ((50, 20), (90, 20), (60, 60)), 100, voids=False)
    found = take_off([model.save(tmp_path / "m.ifc")], Settings())
    assert sorted(codes(found)) == ["opening-adopted", "opening-shape-unknown"]
    assert found.member_status == ("held",)


def test_adopted_openings_and_related_ones_make_one_slot(tmp_path):
    model = Build()
    part = model.flat(length=400, size=(100, 10), **STEEL)
    model.cut(part, "face", Ring(100, 50, 18), 100)
    model.cut(part, "face", Ring(130, 50, 18), 100, voids=False)
    model.cut(part, "face", ((100, 41), (130, 41), (130, 59), (100, 59)), 100, voids=False)
    found = take_off([model.save(tmp_path / "m.ifc")], Settings())
    (hole,) = found.model.members[0].holes
    assert (hole.kind, hole.x, hole.across, hole.diameter, hole.slot_length) == ("slot", 115, 50, 18, 48)
