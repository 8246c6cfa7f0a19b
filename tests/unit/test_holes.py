"""Holes: whose diameter is taken, what is one hole, and what is asked or held.

Clearances are of EN 1090-2:2018 Table 11: M12 1 mm, M16 2 mm, M20 2 mm, M24 2 mm, M27 3 mm.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steelwork import FL100, L100, SHS100, bolt, bolt_in, fastener, frame, hole, member, moved, rotation, vectors

from takeoff.connections import connect
from takeoff.holerows import DIAMETER_SOURCES, KINDS, SOURCES
from takeoff.holes import find_holes
from takeoff.settings import HoleSettings, Settings
from takeoff.steel import DrawnHole

SETTINGS = Settings()


def found(members, fasteners=(), settings=SETTINGS):
    """Holes and queries (by code) of parts and their fasteners."""
    made, _ = connect(members, fasteners)
    holes, queries = find_holes(members, fasteners, made.passages, settings)
    return holes, {q.code: q for q in queries}


def only(members, fasteners=(), settings=SETTINGS):
    holes, queries = found(members, fasteners, settings)
    assert len(holes.rows) == 1
    row = holes.rows[0]
    said = {
        "x": float(row["x"]),
        "across": float(row["across"]),
        "diameter": float(row["diameter"]),
        "bolt": float(row["bolt"]),
        "kind": KINDS[row["kind"]],
        "from": DIAMETER_SOURCES[row["diameter_source"]],
        "source": "+".join(word for word, bit in SOURCES.items() if row["source"] & bit),
    }
    return said, holes, queries


def flat(**more):
    return member(FL100, 400, **more)


def at(x=200.0, across=50.0, shank=40.0):
    return bolt((x, 0, across), (0, 1, 0), shank)


# ---------------------------------------------------------------- whose diameter


@pytest.mark.parametrize(("size", "diameter"), [(12, 13.0), (16, 18.0), (20, 22.0), (24, 26.0), (27, 30.0)])
def test_the_rule_where_the_model_says_nothing(size, diameter):
    said, holes, queries = only([flat()], [fastener(at(), diameter=float(size))])
    assert said == {
        "x": 200.0, "across": 50.0, "diameter": diameter, "bolt": size, "kind": "round", "from": "rule",
        "source": "bolt",
    }  # fmt: skip
    assert list(queries) == ["hole-size-from-rule"]
    assert queries["hole-size-from-rule"].severity == "assumed"
    assert f"M{size}" in queries["hole-size-from-rule"].message
    assert holes.held == {}


def test_one_query_for_the_job():
    members = [flat(), flat(at=frame((0, 10, 0)))]
    made = [fastener(at(50), at(100), diameter=16.0), fastener(at(200), diameter=20.0)]
    holes, queries = found(members, made)
    assert len(holes.rows) == 6
    assert list(queries) == ["hole-size-from-rule"]
    assert queries["hole-size-from-rule"].message.startswith("The model states no diameter for 6 holes.")
    assert queries["hole-size-from-rule"].message.index("M16") < queries["hole-size-from-rule"].message.index("M20")


def test_the_shops_own_clearance_and_the_towers_one():
    own = Settings(holes=HoleSettings(clearance_mm={"M16": 1.5}))
    assert only([flat()], [fastener(at())], own)[0]["diameter"] == 17.5
    # EN 1090-2 Table 11, note on towers and masts: less 0.5 mm (from memory).
    towers = Settings(holes=HoleSettings(towers=True))
    assert only([flat()], [fastener(at())], towers)[0]["diameter"] == 17.5


def test_a_drawn_hole_goes_before_the_rule():
    said, _, queries = only([flat(holes=(hole("face", 200, 50, 17.0),))], [fastener(at())])
    assert (said["diameter"], said["from"], said["source"], said["bolt"]) == (17.0, "opening", "bolt+opening", 16.0)
    assert queries == {}


def test_a_property_goes_before_a_drawn_hole():
    part = flat(holes=(hole("face", 200, 50, 17.0),))
    said, _, queries = only([part], [fastener(at(), hole_diameter=18.0)])
    assert (said["diameter"], said["from"], said["source"]) == (18.0, "property", "bolt+opening")
    assert list(queries) == ["hole-diameters-disagree"]
    assert "18 mm" in queries["hole-diameters-disagree"].message
    assert "17 mm" in queries["hole-diameters-disagree"].message
    assert queries["hole-diameters-disagree"].global_ids == (part.global_id,)


def test_a_property_that_agrees_with_the_drawn_hole_is_no_query():
    said, _, queries = only([flat(holes=(hole("face", 200, 50, 18.0),))], [fastener(at(), hole_diameter=18.05)])
    assert said["diameter"] == 18.0
    assert queries == {}


def test_a_property_goes_before_the_rule():
    said, _, queries = only([flat()], [fastener(at(), hole_diameter=19.0)])
    assert (said["diameter"], said["from"]) == (19.0, "property")
    assert queries == {}


def test_no_diameter_at_all_is_held():
    said, holes, queries = only([flat()], [fastener(at(), diameter=None)])
    assert (said["diameter"], said["from"]) == (0.0, "unknown")
    assert holes.held == {0: ("hole-size-unknown",)}
    assert list(queries) == ["hole-size-unknown"]


def test_a_drawn_hole_makes_up_for_an_unknown_bolt():
    said, holes, queries = only([flat(holes=(hole("face", 200, 50, 18.0),))], [fastener(at(), diameter=None)])
    assert (said["diameter"], said["bolt"]) == (18.0, 0.0)
    assert holes.held == {}
    assert queries == {}


# ---------------------------------------------------------------- one place, one hole


def test_a_drawn_hole_stands_where_it_is_drawn():
    part = flat(holes=(hole("face", 203.0, 50, 18.0),))
    said, holes, queries = only([part], [fastener(at())])
    assert said["x"] == 203.0
    assert list(queries) == ["hole-off-its-bolt"]
    assert "3.0 mm" in queries["hole-off-its-bolt"].message
    assert holes.held == {}


def test_a_bolt_within_its_clearance_is_where_the_hole_is():
    said, _, queries = only([flat(holes=(hole("face", 200.9, 50, 18.0),))], [fastener(at())])
    assert said["x"] == 200.9
    assert queries == {}


def test_a_bolt_beside_a_drawn_hole_makes_its_own():
    part = flat(holes=(hole("face", 100, 50, 18.0),))
    holes, queries = found([part], [fastener(at())])
    assert holes.rows["x"].tolist() == [100.0, 200.0]
    assert list(queries) == ["hole-size-from-rule", "bolt-holes-not-drawn", "holes-without-bolt"]


def test_a_hole_without_bolt_is_punched_and_asked_about():
    said, _, queries = only([flat(holes=(hole("face", 100, 50, 14.0),))])
    assert (said["diameter"], said["source"], said["bolt"]) == (14.0, "opening", 0.0)
    assert list(queries) == ["holes-without-bolt"]


def test_a_hole_drawn_twice_is_one():
    part = flat(holes=(hole("face", 100, 50, 18.0),), body_holes=(hole("face", 100.01, 50, 18.0, source="solid"),))
    said, holes, _ = only([part])
    assert said["source"] == "opening+solid"
    assert holes.merged == 1


def test_two_walls_drawn_at_one_place_are_two_holes():
    holes, _ = found([member(SHS100, 400, holes=(hole("front", 100, 50), hole("back", 100, 50)))])
    assert len(holes.rows) == 2


def test_each_bolt_takes_the_nearest_hole():
    part = flat(holes=(hole("face", 200, 50, 30.0), hole("face", 228, 50, 30.0)))
    holes, queries = found([part], [fastener(at(202), at(226), diameter=27.0)])
    assert holes.rows["passage"].tolist() == [0, 1]
    assert "holes-without-bolt" not in queries


@settings(max_examples=30, deadline=None)
@given(vector=vectors, second=st.floats(-0.4, 0.4))
def test_bolts_that_the_model_has_twice_make_one_hole(vector, second):
    """Two gauge lines across each other: the noise of a turned model must not part the doubles."""
    turn = rotation(vector)
    places = [(x, a) for x in (60.0, 120.0) for a in (30.0, 70.0)]
    made = fastener(*(at(*p) for p in places), *(at(x + second, a) for x, a in places))
    made = moved(made, turn, (12345.6, 7.8, -9.1))
    part = moved(flat(), turn, (12345.6, 7.8, -9.1))
    holes, _ = found([part], [made])
    assert len(holes.rows) == 4
    assert (holes.ply_count, holes.merged) == (8, 4)


def test_thousands_of_bolts_in_one_place_are_one_hole():
    """A file that lost its placements: pairs of them would fill the memory."""
    made = fastener(*[at()] * 20_000)
    connections, queries = connect([flat()], [made])
    assert [q.message.split(" ")[0] for q in queries if q.code == "bolt-twice"] == ["19999"]
    holes, _ = find_holes([flat()], [made], connections.passages, SETTINGS)
    assert (len(holes.rows), holes.ply_count, holes.merged) == (1, 20_000, 19_999)


@pytest.mark.parametrize("order", [1, -1])
def test_two_sizes_of_bolt_in_one_place_make_the_larger_hole(order):
    made = [fastener(at(), diameter=16.0), fastener(at(200.2), diameter=20.0)][::order]
    assert only([flat()], made)[0]["diameter"] == 22.0


# ---------------------------------------------------------------- kinds


@pytest.mark.parametrize("diameter", [0.0, 6.0])
def test_a_bolt_in_a_rectangular_opening(diameter):
    """A rectangle's diameter is that of its corners; the bolt goes through its sides."""
    opening = DrawnHole("face", 200, 50, diameter, slot_length=40, width=20, kind="rectangle")
    said, holes, queries = only([flat(holes=(opening,))], [fastener(at())])
    assert said["kind"] == "rectangle"
    assert holes.held == {}
    assert queries == {}


def test_a_bolt_too_large_for_a_rectangular_opening():
    opening = DrawnHole("face", 200, 50, 0.0, slot_length=40, width=14, kind="rectangle")
    _, holes, queries = only([flat(holes=(opening,))], [fastener(at())])
    assert holes.held == {0: ("hole-too-small",)}
    assert "16 mm" in queries["hole-too-small"].message
    assert "14 mm" in queries["hole-too-small"].message


@pytest.mark.parametrize(("drawn", "held"), [(15.95, False), (15.8, True)])
def test_a_bolt_too_large_for_its_hole(drawn, held):
    _, holes, queries = only([flat(holes=(hole("face", 200, 50, drawn),))], [fastener(at())])
    assert (holes.held == {0: ("hole-too-small",)}) is held
    assert ("hole-too-small" in queries) is held


def test_a_stated_hole_smaller_than_its_bolt():
    _, holes, queries = only([flat()], [fastener(at(), hole_diameter=14.0)])
    assert holes.held == {0: ("hole-too-small",)}
    assert "hole-too-small" in queries


def test_a_bolt_along_a_drawn_slot_stays_in_it():
    slot = hole("face", 200, 50, 18.0, slot_length=40.0, slot_angle=0.0, kind="slot")
    said, _, queries = only([flat(holes=(slot,))], [fastener(at(210.0), hole_diameter=18.0)])
    assert (said["x"], said["kind"]) == (200.0, "slot")
    assert queries == {}


def test_a_stated_slot_is_held_unless_it_is_drawn():
    members = [flat(), flat(at=frame((0, 10, 0)), holes=(hole("face", 200, 50, 18.0, slot_length=30, kind="slot"),))]
    holes, queries = found(members, [fastener(at(), slot_x=12.0)])
    assert holes.held == {0: ("hole-slot-direction",)}
    assert queries["hole-slot-direction"].severity == "hold"


# ---------------------------------------------------------------- askew


@pytest.mark.parametrize(("tilt", "code"), [(1.5, None), (4.0, "bolt-oblique"), (14.0, "bolt-too-oblique")])
def test_askew_bolts(tilt, code):
    a = np.radians(tilt)
    holes, queries = found([flat()], [fastener(bolt((200, 0, 50), (np.sin(a), np.cos(a), 0)))])
    assert {c for c in queries if c.startswith("bolt")} == ({code} if code else set())
    assert holes.held == ({0: ("bolt-too-oblique",)} if code == "bolt-too-oblique" else {})


def test_an_opening_drawn_askew_is_held():
    holes, queries = found([flat(holes=(hole("face", 200, 50, tilt_deg=20.0),))])
    assert holes.held == {0: ("bolt-too-oblique",)}
    assert queries["bolt-too-oblique"].message.startswith("1 bolts or drawn holes stand askew")


# ---------------------------------------------------------------- order and far places


def test_rows_are_sorted_and_complete():
    members = [member(L100, 400), flat(at=frame((0, 500.0, 0)))]
    made = fastener(
        *(bolt_in(members[0], face, x, 50) for x in (300, 100) for face in ("B", "A")), bolt((200, 500, 50))
    )
    holes, _ = found(members, [made])
    assert list(zip(holes.rows["member"], holes.rows["face"], holes.rows["x"], strict=True)) == [
        (0, 0, 100.0), (0, 0, 300.0), (0, 1, 100.0), (0, 1, 300.0), (1, 0, 200.0),
    ]  # fmt: skip


@settings(max_examples=20, deadline=None)
@given(vector=vectors)
def test_far_from_the_origin_holes_stay_within_a_hundredth(vector):
    # A georeferenced model: easting 500 km, northing 5000 km, in mm.
    turn, shift = rotation(vector), (5e8, 5e9, 1.2e5)
    part = member(L100, 4000.0)
    made = fastener(*(bolt_in(part, "A", x, 55.0) for x in (37.5, 1234.5, 3990.1)))
    holes, _ = found([moved(part, turn, shift)], [moved(made, turn, shift)])
    assert holes.rows["x"].tolist() == pytest.approx([37.5, 1234.5, 3990.1], abs=0.01)
    assert holes.rows["across"].tolist() == pytest.approx([55.0] * 3, abs=0.01)


def test_nothing_at_all():
    holes, queries = found([])
    assert len(holes.rows) == 0
    assert queries == {}
