"""The running order: tool changes counted against exhaustive search, and every hole hit once."""

import itertools
import random
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_job import ANGLE_FACES, ANGLE_SECTION, FLAT_FACES, FLAT_SECTION

from takeoff.plans import BarPattern, BarPiece, BarPlan, Tool
from takeoff.running import Demand, changes, running_order, sequence
from takeoff.settings import LineSettings
from takeoff.steel import ANGLE, CHANNEL, Face, Hole, Piece, Section


def tool(diameter, head="1"):
    return Tool(head, float(diameter), 0.0, 0.0, "round")


def job(number, *tools):
    """One bar that needs these tools at once."""
    return (Demand(0, BarPattern(number, 6000, False, 1, (), 0, False), frozenset(tools), ()),)


def fewest_mountings(sets, punches):
    """The least that can be mounted when the sets are run in this order: every choice of what to take out tried.

    Shares nothing with the package: a search over everything one head may hold.
    """
    states = {frozenset(): 0}
    for needed in sets:
        reached = {}
        for held, cost in states.items():
            spare = held - needed
            for many in range(len(spare) + 1):
                for kept in itertools.combinations(sorted(spare), many):
                    now = needed | set(kept)
                    if len(now) <= punches:
                        key, price = frozenset(now), cost + len(needed - held)
                        reached[key] = min(reached.get(key, price), price)
        states = reached
    return min(states.values())


SETS = st.lists(st.sets(st.integers(13, 19), min_size=1, max_size=3), min_size=1, max_size=6)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(SETS)
def test_changes_of_an_order_are_the_fewest_there_can_be(sets):
    jobs = [job(i, *map(tool, needed)) for i, needed in enumerate(sets)]
    assert changes(jobs, 3) == fewest_mountings([frozenset(map(tool, needed)) for needed in sets], 3)


def test_the_order_is_near_the_best_of_all_orders():
    """Against all orders of five bars: never worse than one change in ten more in all, mostly the best."""
    draw = random.Random(7)
    best_in_all = found_in_all = given_in_all = 0
    for _ in range(40):
        sets = [frozenset(map(tool, draw.sample(range(13, 20), draw.randint(1, 3)))) for _ in range(5)]
        jobs = [job(i, *needed) for i, needed in enumerate(sets)]
        best = min(fewest_mountings(order, 3) for order in itertools.permutations(sets))
        found = changes(sequence(jobs, frozenset(), 3), 3)
        assert best <= found <= best + 1
        best_in_all += best
        found_in_all += found
        given_in_all += changes(jobs, 3)
    assert found_in_all <= best_in_all * 1.03
    assert found_in_all < given_in_all


def test_heads_are_counted_apart():
    # three in each of two heads fit at once
    one = job(1, *(tool(d, head) for d in (13, 17, 21) for head in ("A", "B")))
    assert changes([one, one], 3) == 6


def piece(mark, length, *holes, section=ANGLE_SECTION, faces=ANGLE_FACES, quantity=1):
    made = tuple(Hole(f"{face}{i}", face, 50.0 * i, across, d) for i, (face, across, d) in enumerate(holes, 1))
    return Piece(mark, section, "S355J2", "", length, made, (), faces, (), members=tuple(range(quantity)))


def plan(section, *patterns):
    """A plan of (number, times, marks with lengths)."""
    made = []
    for number, times, pieces in patterns:
        at, placed = 0.0, []
        for mark, length in pieces:
            placed.append(BarPiece(mark, length, at, at + length))
            at += length
        made.append(BarPattern(number, 6000, False, times, tuple(placed), 6000 - int(at), False))
    return BarPlan(section, "S355J2", "", tuple(made), 0, 0, None, True, True, False, 1.0)


@pytest.fixture
def shop():
    pieces = [
        piece("A1", 1500.0, ("A", 35.0, 13.0), ("A", 65.0, 13.0), ("B", 35.0, 18.0)),
        piece("A2", 1000.0, ("A", 35.0, 18.0)),
        piece("A3", 900.0, *(("A", 35.0, float(d)) for d in (14, 18, 22, 26))),
        piece("A4", 800.0),
        piece("F1", 500.0, ("face", 40.0, 18.0), section=FLAT_SECTION, faces=FLAT_FACES),
    ]
    plans = (
        plan(ANGLE_SECTION, (1, 2, [("A1", 1500.0), ("A1", 1500.0), ("A2", 1000.0)]), (2, 1, [("A3", 900.0)])),
        plan(FLAT_SECTION, (3, 4, [("F1", 500.0)] * 3)),
        plan(ANGLE_SECTION, (4, 1, [("A4", 800.0), ("A2", 1000.0)])),
    )
    return plans, {p.mark: p for p in pieces}


def test_every_hole_is_hit_once_and_no_head_holds_too_much(shop):
    plans, pieces = shop
    running = running_order(plans, pieces, 3)
    wanted = Counter()
    for made in plans:
        for pattern in made.patterns:
            for placed in pattern.pieces:
                for hole in pieces[placed.mark].holes:
                    # leg B has a head of its own; a flat shares that of leg A
                    wanted["2" if hole.face == "B" else "1", hole.diameter] += pattern.times
    hit = Counter()
    for set_up in running.set_ups:
        assert max(Counter(t.head for t in set_up.tools).values(), default=0) <= 3
        assert set(set_up.mounted) <= set(set_up.tools)
        for hits in set_up.hits:
            assert hits.tool in set_up.tools
            hit[hits.tool.head, hits.tool.diameter] += hits.hits
    assert hit == wanted
    assert {n for set_up in running.set_ups for n in set_up.patterns} == {1, 2, 3, 4}
    assert running.changes == sum(len(set_up.mounted) for set_up in running.set_ups)
    assert running.changes <= running.by_mark_changes


def test_a_piece_with_more_sizes_than_a_head_holds_is_run_in_two_set_ups(shop):
    plans, pieces = shop
    running = running_order(plans, pieces, 3)
    with_a3 = [set_up for set_up in running.set_ups if "A3" in set_up.marks]
    assert len(with_a3) == 2
    sizes = [{hits.tool.diameter for hits in set_up.hits} for set_up in with_a3]
    assert set.union(*sizes) >= {14.0, 18.0, 22.0, 26.0}


def test_hits_name_steel_and_gauge_lines(shop):
    plans, pieces = shop
    running = running_order(plans, pieces, 3)
    (set_up,) = (s for s in running.set_ups if "A1" in s.marks)
    hits = {(h.tool.head, h.tool.diameter): h for h in set_up.hits}
    assert (hits["1", 13.0].hits, hits["1", 13.0].thickness, hits["1", 13.0].lines) == (8, 8.0, (35.0, 65.0))
    assert (hits["1", 13.0].face, hits["2", 18.0].face, hits["2", 18.0].hits) == ("A", "B", 4)


def test_sections_stay_together_and_by_mark_they_may_not():
    first = plan(ANGLE_SECTION, (1, 1, [("A1", 900.0)]), (2, 1, [("A3", 900.0)]))
    other = plan(FLAT_SECTION, (3, 1, [("A2", 900.0)]))
    pieces = {mark: piece(mark, 900.0, ("A", 35.0, 18.0)) for mark in ("A1", "A2", "A3")}
    running = running_order((first, other), pieces, 3)
    assert (running.sections, running.by_mark_sections) == (2, 3)
    assert [s.new_section for s in running.set_ups] == [True, True]
    assert [s.mounted for s in running.set_ups] == [(tool(18.0),), ()]


def test_drilled_holes_need_no_punch_and_reamed_ones_a_smaller_one():
    holes = (
        Hole("A1", "A", 50.0, 35.0, 18.0, make="drill"),
        Hole("A2", "A", 90.0, 35.0, 22.0, make="punch and ream", punch_mm=20.0),
        Hole("A3", "A", 130.0, 35.0, 30.0, make="cut"),
    )
    made = replace(piece("A1", 900.0), holes=holes, off_line=("Too thick to punch.",))
    running = running_order((plan(ANGLE_SECTION, (1, 1, [("A1", 900.0)])),), {"A1": made}, 3)
    (set_up,) = running.set_ups
    assert set_up.tools == (tool(20.0),)
    assert [hits.hits for hits in set_up.hits] == [1]
    assert running.partly == ("A1",)


def one_bar(number, section, mark):
    return plan(section, (number, 1, [(mark, 900.0)]))


def test_a_flat_is_punched_by_the_head_of_leg_a_with_the_punch_that_is_there():
    pieces = {
        "A1": piece("A1", 900.0, ("A", 35.0, 18.0), ("B", 35.0, 14.0)),
        "F1": piece("F1", 900.0, ("face", 40.0, 18.0), section=FLAT_SECTION, faces=FLAT_FACES),
    }
    running = running_order((one_bar(1, ANGLE_SECTION, "A1"), one_bar(2, FLAT_SECTION, "F1")), pieces, 3)
    # 18 in the first head for both, 14 in the second
    assert running.changes == 2
    assert {t for set_up in running.set_ups for t in set_up.mounted} == {tool(18.0), tool(14.0, "2")}


def test_a_line_with_one_head_holds_the_punches_of_both_legs_in_it():
    pieces = {"A1": piece("A1", 900.0, *(("AB"[k % 2], 35.0, float(d)) for k, d in enumerate((14, 18, 22, 26))))}
    plans = (one_bar(1, ANGLE_SECTION, "A1"),)
    two = running_order(plans, pieces, 3)
    assert [(len(s.tools), {t.head for t in s.tools}) for s in two.set_ups] == [(4, {"1", "2"})]
    one = running_order(plans, pieces, 3, LineSettings(heads=1))
    # four sizes do not fit a head of three
    assert len(one.set_ups) == 2
    assert {t.head for s in one.set_ups for t in s.tools} == {"1"}


def test_a_slot_is_made_by_hits_of_a_round_punch():
    slot = Hole("A1", "A", 50.0, 35.0, 18.0, slot_length=40.0, kind="slot")
    made = replace(piece("A1", 900.0, ("A", 65.0, 18.0)), holes=(slot, Hole("A2", "A", 120.0, 35.0, 18.0)))
    (set_up,) = running_order((one_bar(1, ANGLE_SECTION, "A1"),), {"A1": made}, 3).set_ups
    # steps of half the width: (40 - 18) / 9 = 2.4, so 3 steps and 4 hits; and the round hole
    assert [(h.tool, h.hits) for h in set_up.hits] == [(tool(18.0), 5)]
    (none,) = running_order((one_bar(1, ANGLE_SECTION, "A1"),), {"A1": made}, 3, LineSettings(slots=False)).set_ups
    assert [h.hits for h in none.hits] == [1]


def test_a_hole_near_the_heel_needs_a_punch_of_its_own():
    # L 100x100x8: 15 mm beside the other leg is the normal punch's least, 11 the special one's
    pieces = {"A1": piece("A1", 900.0, ("A", 20.0, 14.0), ("A", 35.0, 14.0))}
    (set_up,) = running_order((one_bar(1, ANGLE_SECTION, "A1"),), pieces, 3).set_ups
    assert sorted(t.kind for t in set_up.tools) == ["near the heel", "round"]


def test_what_the_line_does_not_make_is_not_mounted_for():
    pieces = {"A1": piece("A1", 900.0, ("A", 35.0, 14.0), ("A", 35.0, 18.0))}

    def off_line(piece, hole):
        return "no punch of 18 mm in the rack" if hole.diameter == 18.0 else None

    (set_up,) = running_order((one_bar(1, ANGLE_SECTION, "A1"),), pieces, 3, off_line=off_line).set_ups
    assert set_up.tools == (tool(14.0),)
    channel = Section(CHANNEL, "C 100", 100.0, 50.0, 6.0, 8.5)
    face = (Face("web", (0.0, 0.0), (0.0, 1.0), (1.0, 0.0), 6.0, 0.0, 100.0),)
    flange = piece("C1", 900.0, ("web", 50.0, 14.0), ("top", 30.0, 18.0), section=channel, faces=face)
    (set_up,) = running_order((one_bar(1, channel, "C1"),), {"C1": flange}, 3).set_ups
    assert set_up.tools == (tool(14.0),)


def test_an_angle_larger_than_the_line_takes_is_sawn():
    large = Section(ANGLE, "L 200x200x20", 200.0, 200.0, 20.0)
    running = running_order((one_bar(7, large, "A1"),), {"A1": piece("A1", 900.0, section=large)}, 3)
    assert (running.elsewhere, running.set_ups) == ((7,), ())


def test_a_piece_changed_in_its_middle_counts_no_hole_twice():
    """Four sizes in a leg, run in two turns; the next piece asks for one of the first turn again."""
    pieces = {
        "A1": piece("A1", 1500.0, *(("A", 35.0, float(d)) for d in (14, 18, 22, 26))),
        "A2": piece("A2", 900.0, ("A", 35.0, 14.0)),
    }
    running = running_order((plan(ANGLE_SECTION, (1, 1, [("A1", 1500.0), ("A2", 900.0)])),), pieces, 3)
    hits = Counter()
    for set_up in running.set_ups:
        for h in set_up.hits:
            hits[h.tool.diameter] += h.hits
    assert hits == {14.0: 2, 18.0: 1, 22.0: 1, 26.0: 1}


def test_the_order_by_mark_is_compared_with_as_many_sections():
    """Marks alternate between two sections: bar by bar both are set up again and again."""
    rows = {"A1": (ANGLE_SECTION, 13.0), "A3": (ANGLE_SECTION, 14.0), "A5": (ANGLE_SECTION, 13.0)}
    rows |= {"A2": (FLAT_SECTION, 17.0), "A4": (FLAT_SECTION, 18.0)}
    pieces = {}
    for mark, (section, size) in rows.items():
        face, faces = ("A", ANGLE_FACES) if section is ANGLE_SECTION else ("face", FLAT_FACES)
        pieces[mark] = piece(mark, 900.0, (face, 35.0, size), section=section, faces=faces)
    plans = tuple(
        plan(section, *((int(m[1]), 1, [(m, 900.0)]) for m, (of, _) in sorted(rows.items()) if of is section))
        for section in (ANGLE_SECTION, FLAT_SECTION)
    )
    running = running_order(plans, pieces, 1)
    # one punch a head. Together: 13 14 13 17 18 by mark, 13 13 14 17 18 as found. Bar by bar: 13 17 14 18 13
    assert (running.changes, running.kept_by_mark_changes, running.by_mark_changes) == (4, 5, 5)
    assert (running.sections, running.by_mark_sections) == (2, 5)


def test_sections_that_the_line_does_not_take_are_left_out():
    tube = Section("RHS", "RHS 100x60x4", 100.0, 60.0, 4.0)
    pieces = {"A1": piece("A1", 900.0, ("A", 35.0, 18.0)), "H1": piece("H1", 900.0, section=tube)}
    plans = (plan(tube, (1, 1, [("H1", 900.0)])), plan(ANGLE_SECTION, (2, 1, [("A1", 900.0)])))
    running = running_order(plans, pieces, 3)
    assert running.elsewhere == (1,)
    assert [set_up.patterns for set_up in running.set_ups] == [(2,)]
    assert (running.sections, running.by_mark_sections) == (1, 1)


def test_nothing_to_run():
    running = running_order((), {}, 3)
    assert (running.set_ups, running.changes, running.sections) == ((), 0, 0)


def drawn_shop(draw, sections, bars):
    """Sections of one bar each piece, with holes of a few drawn sizes in one face."""
    plans, pieces, number = [], {}, 0
    marks = draw.sample(range(1, 100), sections * bars)
    for s in range(sections):
        section = Section(ANGLE, f"L {50 + 10 * s}x{50 + 10 * s}x5", 50.0 + 10 * s, 50.0 + 10 * s, 5.0)
        patterns = []
        for _ in range(bars):
            mark = f"A{marks[number]}"
            number += 1
            holes = [("A", 30.0, float(d)) for d in draw.sample(range(13, 21), draw.randint(1, 3))]
            pieces[mark] = piece(mark, 900.0, *holes, section=section)
            patterns.append((number, 1, [(mark, 900.0)]))
        plans.append(plan(section, *patterns))
    return tuple(plans), pieces


def sizes_of(pieces, pattern):
    return frozenset(hole.diameter for placed in pattern.pieces for hole in pieces[placed.mark].holes)


def test_one_bar_a_section_is_run_in_the_best_order_of_all():
    """Five sections of one bar: no order of the 120 mounts fewer tools, counted by a search of its own."""
    draw = random.Random(5)
    for _ in range(12):
        plans, pieces = drawn_shop(draw, 5, 1)
        sets = [sizes_of(pieces, pattern) for made in plans for pattern in made.patterns]
        best = min(fewest_mountings(order, 3) for order in itertools.permutations(sets))
        assert running_order(plans, pieces, 3).changes == best


@pytest.mark.parametrize(("sections", "bars"), [(2, 2), (3, 3), (9, 2)])
def test_no_order_by_mark_that_keeps_sections_together_is_better(sections, bars):
    """Also with the sections in the order of their first marks, worked out here from the plans alone."""
    draw = random.Random(6)
    for _ in range(25):
        plans, pieces = drawn_shop(draw, sections, bars)
        running = running_order(plans, pieces, 3)
        assert running.sections == sections
        assert running.changes <= running.kept_by_mark_changes
        if running.by_mark_sections == sections:
            assert running.changes <= running.by_mark_changes
        rows = [
            sorted((int(pattern.pieces[0].mark[1:]), sizes_of(pieces, pattern)) for pattern in made.patterns)
            for made in plans
        ]
        sets = [sizes for row in sorted(rows, key=lambda row: row[0][0]) for _, sizes in row]
        assert running.changes <= fewest_mountings(sets, 3)


def test_many_bars_in_seven_sections_are_ordered_in_a_moment_and_always_alike():
    plans, pieces = drawn_shop(random.Random(8), 7, 12)
    assert running_order(plans, pieces, 3) == running_order(plans, pieces, 3)
