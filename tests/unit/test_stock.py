"""The cutting plan as a library call: held against exhaustive search, constructed optima and a checker of its own."""

import itertools
import random
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import optimize

from takeoff.cutting import checker
from takeoff.cutting.greedy import greedy_plan
from takeoff.cutting.problem import Problem
from takeoff.stock import cutting_plan


def check(plan, lengths, quantities, stock, *, kerf=0, trim=0, stub=0):
    """Fit, demand and stock of a plan from its patterns alone, one bar at a time; shares nothing with the package."""
    cut = [0] * len(lengths)
    taken = [0] * len(stock)
    cost = 0
    for (bar, times, pieces), kind, offcut in zip(plan.patterns, plan.kinds, plan.offcuts, strict=True):
        assert stock[kind][0] == bar
        assert times >= 1
        at, count = trim, 0
        for length, many in zip(lengths, pieces, strict=True):
            for _ in range(many):
                at += length + (kerf if count else 0)
                count += 1
        assert count
        assert at + stub <= bar
        assert offcut == max(0, bar - at - kerf)
        taken[kind] += times
        cost += times * stock[kind][1]
        for i, many in enumerate(pieces):
            cut[i] += many * times
    for most, many in zip((s[2] for s in stock), taken, strict=True):
        assert most is None or many <= most
    assert [c + m for c, m in zip(cut, plan.missing, strict=True)] == list(quantities)
    assert min(plan.missing, default=0) >= 0
    assert plan.bars == sum(taken)
    assert plan.cost == pytest.approx(cost)
    if not any(plan.missing):
        assert plan.lower_bound <= plan.cost
        if plan.proved:
            assert plan.lower_bound == plan.cost


def least_cost(lengths, quantities, stock, kerf=0, trim=0, stub=0):
    """The cheapest cost by trying everything; None where the stock cannot hold the demand."""
    patterns = []
    for kind, (bar, _, _) in enumerate(stock):
        for pieces in itertools.product(*(range(q + 1) for q in quantities)):
            n = sum(pieces)
            used = sum(p * length for p, length in zip(pieces, lengths, strict=True)) + kerf * (n - 1)
            if n and used <= bar - trim - stub:
                patterns.append((kind, pieces))

    @lru_cache(None)
    def rest_cost(rest, left):
        if not any(rest):
            return 0
        first = next(i for i, many in enumerate(rest) if many)
        best = None
        for kind, pieces in patterns:
            if not pieces[first] or left[kind] == 0 or any(p > r for p, r in zip(pieces, rest, strict=True)):
                continue
            fewer = tuple(n - 1 if k == kind and n is not None else n for k, n in enumerate(left))
            more = rest_cost(tuple(r - p for r, p in zip(rest, pieces, strict=True)), fewer)
            if more is not None and (best is None or more + stock[kind][1] < best):
                best = more + stock[kind][1]
        return best

    return rest_cost(tuple(quantities), tuple(most for _, _, most in stock))


def first_fit_decreasing(lengths, quantities, bar, kerf=0, trim=0):
    """Bars that first-fit decreasing takes of one length (Johnson 1973), piece by piece."""
    rooms = []
    for length in sorted((n for n, q in zip(lengths, quantities, strict=True) for _ in range(q)), reverse=True):
        for i, room in enumerate(rooms):
            if length + kerf <= room:
                rooms[i] -= length + kerf
                break
        else:
            rooms.append(bar - trim - length)
    return len(rooms)


@st.composite
def tiny(draw):
    n = draw(st.integers(1, 4))
    lengths = draw(st.lists(st.integers(5, 40), min_size=n, max_size=n))
    quantities = draw(st.lists(st.integers(0, 3), min_size=n, max_size=n))
    kinds = st.tuples(st.integers(20, 90), st.integers(1, 100), st.one_of(st.none(), st.integers(0, 3)))
    stock = draw(st.lists(kinds, min_size=1, max_size=3))
    amounts = {
        "kerf": draw(st.sampled_from((0, 1, 3))),
        "trim": draw(st.integers(0, 3)),
        "stub": draw(st.integers(0, 4)),
    }
    return lengths, quantities, stock, amounts


@settings(max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(tiny())
def test_tiny_cases_cost_what_exhaustive_search_finds(case):
    lengths, quantities, stock, amounts = case
    plan = cutting_plan(lengths, quantities, stock, **amounts)
    check(plan, lengths, quantities, stock, **amounts)
    least = least_cost(lengths, quantities, stock, **amounts)
    if least is None:
        assert any(plan.missing)
    else:
        assert not any(plan.missing)
        assert plan.cost == least
        assert plan.proved


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(st.integers(300, 5900), st.integers(1, 60)), min_size=1, max_size=25),
    st.integers(0, 20),
    st.integers(0, 60),
    st.sampled_from((0, 900)),
)
def test_every_plan_is_sound_and_no_worse_than_first_fit(pieces, kerf, trim, keep):
    lengths, quantities = zip(*pieces, strict=True)
    stock = [(6000, 6000, None), (12000, 12000, None)]
    plan = cutting_plan(lengths, quantities, stock, kerf=kerf, trim=trim, keep=keep)
    check(plan, lengths, quantities, stock, kerf=kerf, trim=trim)
    assert not any(plan.missing)
    for bar in (6000, 12000):
        if max(lengths) <= bar - trim:
            assert plan.cost <= bar * first_fit_decreasing(lengths, quantities, bar, kerf, trim)


@pytest.mark.parametrize("seed", range(3))
def test_bars_cut_up_into_three_are_put_together_again(seed):
    """Triplets: every bar was cut into three pieces without waste, so the number of bars is known."""
    cut = random.Random(seed)
    lengths = []
    for _ in range(60):
        a = cut.randrange(380, 490)
        b = cut.randrange(250, (1000 - a) // 2 + 1)
        lengths += [a, b, 1000 - a - b]
    plan = cutting_plan(lengths, [1] * len(lengths), [(1000, 1, None)])
    check(plan, lengths, [1] * len(lengths), [(1000, 1, None)])
    assert (plan.bars, plan.proved, set(plan.offcuts)) == (60, True, {0})


def test_bars_of_two_lengths_cut_up_without_waste():
    cut = random.Random(5)
    lengths, kerf, trim = [], 4, 30
    for bar in [6000] * 12 + [12000] * 9:
        room = bar - trim
        while room > 2600:
            piece = cut.randrange(700, 1900)
            lengths.append(piece)
            room -= piece + kerf
        lengths.append(room)
    stock = [(6000, 6000, None), (12000, 12000, None)]
    plan = cutting_plan(lengths, [1] * len(lengths), stock, kerf=kerf, trim=trim)
    check(plan, lengths, [1] * len(lengths), stock, kerf=kerf, trim=trim)
    # the trims make 12 m bars the better buy, so a plan cannot cost more than the one that was cut up
    assert plan.cost <= 12 * 6000 + 9 * 12000
    assert plan.proved


def test_the_last_piece_needs_no_kerf_where_it_ends_with_the_bar():
    # 4 x 2997 + 3 x 3 = 11 997, and with a fourth kerf 12 000 exactly; of 2998 only three fit with four kerfs
    plan = cutting_plan([2997], [40], [(12000, 1, None)], kerf=3)
    assert (plan.bars, plan.offcuts) == (10, (0,))
    assert cutting_plan([2998], [40], [(12001, 1, None)], kerf=3).bars == 10
    assert cutting_plan([2999], [40], [(12004, 1, None)], kerf=3).bars == 14


def test_trim_and_stub_are_lost_to_pieces_and_the_stub_stays_with_the_offcut():
    plan = cutting_plan([1000], [5], [(6000, 1, None)], trim=10, stub=990)
    assert (plan.bars, plan.offcuts) == (1, (990,))
    assert cutting_plan([1000], [5], [(6000, 1, None)], trim=10, stub=991).bars == 2


def test_equal_lengths_of_several_marks_are_planned_as_one_and_shared_out_again():
    plan = cutting_plan([2000, 2000, 2000], [1, 1, 1], [(6000, 1, None)])
    assert plan.patterns == ((6000, 1, (1, 1, 1)),)


def test_dear_and_cheap_bars():
    # four pieces of 3 m: two 6 m bars at 7, or one 12 m bar at 13
    assert cutting_plan([3000], [4], [(6000, 7, None), (12000, 13, None)]).cost == 13
    assert cutting_plan([3000], [4], [(6000, 6, None), (12000, 13, None)]).cost == 12
    assert cutting_plan([3000], [4], [(6000, 6.25, None), (12000, 12.5, 0)]).cost == 12.5


def test_what_the_stock_cannot_hold_is_named_and_the_rest_is_cut():
    stock = [(6000, 1, 2)]
    plan = cutting_plan([5000, 900], [3, 2], stock)
    check(plan, [5000, 900], [3, 2], stock)
    assert plan.missing == (1, 0)
    assert (plan.lower_bound, plan.proved) == (0, False)


def test_a_tight_stock_that_first_fit_does_not_manage():
    # 15 = 5 + 5 + 5 and twice 11 = 5 + 4 + 2 ... fill every bar to the end; filling bars one by one does not find it
    lengths, quantities, stock = [5, 4, 2], [5, 1, 4], [(11, 1, 1), (15, 1, 1), (11, 1, 1)]
    sizes, demand = np.array(lengths), np.array(quantities)
    assert greedy_plan(Problem(sizes, demand, (11, 15, 11), (1, 1, 1), (1, 1, 1))).short
    plan = cutting_plan(lengths, quantities, stock)
    check(plan, lengths, quantities, stock)
    assert not any(plan.missing)


def test_pieces_longer_than_any_bar_are_missing():
    plan = cutting_plan([13000, 5000], [2, 2], [(12000, 1, None)])
    assert plan.missing == (2, 0)
    # they are no part of the bound: the rest is known to need its one bar
    assert (plan.bars, plan.lower_bound, plan.proved) == (1, 1, True)
    assert cutting_plan([13000], [2], [(12000, 1, None)]).missing == (2,)


def test_nothing_to_cut():
    plan = cutting_plan([], [], [(6000, 1, None)])
    assert (plan.bars, plan.cost, plan.proved, plan.patterns) == (0, 0, True, ())
    assert cutting_plan([500], [0], [(6000, 1, None)]).patterns == ()


def test_the_order_of_arguments_does_not_change_the_cost_and_two_calls_are_alike():
    cut = random.Random(11)
    lengths = [cut.randrange(400, 5900) for _ in range(25)]
    quantities = [cut.randrange(1, 9) for _ in lengths]
    stock = [(6000, 6100, None), (12000, 11900, None), (7000, 3000, 4)]
    plan = cutting_plan(lengths, quantities, stock, kerf=3, trim=20)
    assert plan == cutting_plan(lengths, quantities, stock, kerf=3, trim=20)
    turned = cutting_plan(lengths[::-1], quantities[::-1], stock[::-1], kerf=3, trim=20)
    assert turned.cost == plan.cost
    assert sorted((p.stock_length, p.times, p.quantities[::-1]) for p in turned.patterns) == sorted(plan.patterns)


def test_at_one_cost_useless_waste_is_kept_small():
    # two bars either way: 100 + 100 left, both of no use, or 200 + 0 of which 200 is kept
    plan = cutting_plan([500, 400, 900, 100], [1, 1, 1, 0], [(1000, 1, None)], keep=150)
    assert plan.cost == 2
    lengths, quantities = [450, 550, 350], [2, 1, 1]
    plan = cutting_plan(lengths, quantities, [(1000, 1, None)], keep=150)
    assert plan.cost == 2
    assert sum(o * p.times for o, p in zip(plan.offcuts, plan.patterns, strict=True) if o < 150) == 0


def test_two_bars_cut_alike_leave_two_offcuts_of_use():
    # 6 + 3 would leave 5990 - 6 x 953 = 272 of no use; 5 + 4 leave 1225 and 2178
    plan = cutting_plan([950], [9], [(6000, 6000, None)], kerf=3, trim=10, stub=103, keep=1000)
    check(plan, [950], [9], [(6000, 6000, None)], kerf=3, trim=10, stub=103)
    assert sorted((p.quantities, offcut) for p, offcut in zip(plan.patterns, plan.offcuts, strict=True)) == [
        ((4,), 2178),
        ((5,), 1225),
    ]


def least_useless(lengths, quantities, bar, bars, keep):
    """The least useless waste of so many bars of one length, every way of filling them tried; no kerf, no trims."""
    patterns = [
        (pieces, left if left < keep else 0)
        for pieces in itertools.product(*(range(q + 1) for q in quantities))
        if any(pieces) and (left := bar - sum(p * n for p, n in zip(pieces, lengths, strict=True))) >= 0
    ]

    @lru_cache(None)
    def best(rest, more):
        if not any(rest):
            return 0
        if not more:
            return float("inf")
        return min(
            (
                waste + best(tuple(r - p for r, p in zip(rest, pieces, strict=True)), more - 1)
                for pieces, waste in patterns
                if all(p <= r for p, r in zip(pieces, rest, strict=True))
            ),
            default=float("inf"),
        )

    return best(tuple(quantities), bars)


def test_useless_waste_of_small_plans_is_the_least_there_is():
    draw = random.Random(17)
    for _ in range(25):
        lengths = draw.sample(range(130, 520), 3)
        quantities = [draw.randint(1, 4) for _ in lengths]
        plan = cutting_plan(lengths, quantities, [(1000, 1, None)], keep=200)
        waste = sum(o * p.times for o, p in zip(plan.offcuts, plan.patterns, strict=True) if o < 200)
        assert waste == least_useless(tuple(lengths), tuple(quantities), 1000, plan.bars, 200)


def useless(plan, keep):
    return sum(o * p.times for o, p in zip(plan.offcuts, plan.patterns, strict=True) if o < keep)


def least_useless_by_programme(lengths, quantities, bar, bars, keep, kerf, trim, stub):
    """The same for more pieces: an integer programme of scipy over every pattern there is, with kerf and trims."""
    patterns, wastes = [], []
    stack = [((), 0)]
    while stack:
        begun, used = stack.pop()
        if len(begun) == len(lengths):
            if any(begun):
                left = max(0, bar - trim - used)
                patterns.append(begun)
                wastes.append(left if left < keep else 0)
            continue
        i = len(begun)
        for many in range(quantities[i] + 1):
            more = used + many * (lengths[i] + kerf)
            if more > bar - trim - stub + kerf:
                break
            stack.append(((*begun, many), more))
    table = np.array(patterns, dtype=float).T
    demand = np.array(quantities, dtype=float)
    rows = [
        optimize.LinearConstraint(table, demand, demand),
        optimize.LinearConstraint(np.ones(len(patterns)), 0, bars),
    ]
    found = optimize.milp(wastes, constraints=rows, integrality=np.ones(len(patterns)), options={"time_limit": 60.0})
    assert found.success
    return round(found.fun)


@pytest.mark.parametrize("seed", range(4))
def test_useless_waste_of_longer_lists_is_within_a_fifth_of_the_least_there_is(seed):
    """Ten lengths from 12 m bars, thousands of patterns; without the stage for waste it is half as much again."""
    draw = random.Random(seed)
    lengths = draw.sample(range(1400, 5900), 10)
    quantities = [draw.randint(2, 12) for _ in lengths]
    cut = {"kerf": 3, "trim": 10, "stub": 103}
    plan = cutting_plan(lengths, quantities, [(12000, 12000, None)], keep=1000, **cut)
    check(plan, lengths, quantities, [(12000, 12000, None)], **cut)
    assert plan.proved
    least = least_useless_by_programme(lengths, quantities, 12000, plan.bars, 1000, **cut)
    assert least <= useless(plan, 1000) <= 1.2 * least


def test_whole_offcuts_are_left_where_all_other_bars_can_be_filled():
    """Forty bars cut up without waste and four cut to an off-cut of 900 and more: none of it need be useless."""
    cut = random.Random(3)
    lengths = []
    for k in range(44):
        room = 6000 if k < 40 else 6000 - cut.randrange(900, 1300)
        while room > 2600:
            piece = cut.randrange(700, 1900)
            lengths.append(piece)
            room -= piece
        lengths.append(room)
    plan = cutting_plan(lengths, [1] * len(lengths), [(6000, 6000, None)], keep=900)
    check(plan, lengths, [1] * len(lengths), [(6000, 6000, None)])
    # the off-cuts come to less than a bar, so 44 bars are the fewest
    assert sum(lengths) > 43 * 6000
    assert (plan.bars, plan.proved) == (44, True)
    assert useless(plan, 900) <= 30


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(st.integers(900, 5900), st.integers(1, 20)), min_size=1, max_size=9),
    st.sampled_from((0, 3, 20)),
    st.sampled_from((0, 103)),
    st.sampled_from((400, 1000, 3000)),
)
def test_the_stage_for_waste_makes_no_plan_dearer_or_more_wasteful(pieces, kerf, stub, keep):
    lengths, quantities = zip(*pieces, strict=True)
    stock = [(6000, 6000, None), (12000, 12000, None)]
    amounts = {"kerf": kerf, "trim": 10, "stub": stub}
    without = cutting_plan(lengths, quantities, stock, **amounts)
    plan = cutting_plan(lengths, quantities, stock, keep=keep, **amounts)
    check(plan, lengths, quantities, stock, **amounts)
    assert plan.cost == without.cost
    assert useless(plan, keep) <= useless(without, keep)


def test_few_patterns_where_they_cost_nothing():
    plan = cutting_plan([3000, 2000], [10, 10], [(6000, 1, None)])
    assert (plan.cost, plan.proved) == (9, True)
    assert len(plan.patterns) <= 3


def test_an_alternative_has_fewer_patterns_and_says_what_it_costs():
    cut = random.Random(2)
    lengths = [cut.randrange(400, 5900) for _ in range(40)]
    quantities = [cut.randrange(1, 40) for _ in lengths]
    stock = [(12000, 12000, None)]
    plan = cutting_plan(lengths, quantities, stock, kerf=3, trim=20, alternative=True)
    other = plan.alternative
    assert other is not None
    check(other, lengths, quantities, stock, kerf=3, trim=20)
    assert len(other.patterns) < len(plan.patterns)
    assert plan.cost <= other.cost <= 1.02 * plan.cost
    assert other.lower_bound == plan.lower_bound


def test_the_clock_is_only_a_safety_valve_and_is_mentioned():
    cut = random.Random(3)
    lengths = [cut.randrange(400, 5900) for _ in range(120)]
    quantities = [cut.randrange(1, 4) for _ in lengths]
    stock = [(cut.randrange(6000, 12000), cut.randrange(5000, 9000), 30) for _ in range(6)] + [(12000, 12000, None)]
    plan = cutting_plan(lengths, quantities, stock, kerf=3, trim=20, seconds=0.0)
    check(plan, lengths, quantities, stock, kerf=3, trim=20)
    assert plan.stopped
    assert not plan.proved


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([1000], [1, 2], [(6000, 1, None)]), "1 lengths but 2 quantities"),
        (([1000.5], [1], [(6000, 1, None)]), "whole"),
        (([-5], [1], [(6000, 1, None)]), "negative"),
        (([0], [1], [(6000, 1, None)]), "length of 0"),
        (([1000], [1], [(6000, float("nan"), None)]), "price"),
        (([1000], [1], [(6000, 0, None)]), "free"),
    ],
)
def test_arguments_that_make_no_sense(arguments, words):
    with pytest.raises(ValueError, match=words):
        cutting_plan(*arguments)


def test_the_package_checks_its_own_plans_and_sees_each_fault():
    def faults(patterns, kinds=(0,), missing=(0,), **more):
        amounts = {"kerf": 0, "trim": 0, "stub": 0, **more}
        return checker.faults([1000], [5], [(6000, 1, 1), (3000, 1, None)], patterns, kinds, missing, **amounts)

    assert faults([(6000, 1, [5])]) == []
    assert "do not fit" in faults([(6000, 1, [5])], kerf=300)[0]
    assert "do not fit" in faults([(6000, 1, [5])], trim=600, stub=500)[0]
    assert "4 of 5" in faults([(6000, 1, [4])])[0]
    assert faults([(6000, 1, [4])], missing=(1,)) == []
    assert any("of 1 there are" in f for f in faults([(6000, 5, [1])]))
    assert "said to come from" in faults([(6000, 1, [5])], kinds=(1,))[0]
    assert any("cuts nothing" in f for f in faults([(6000, 1, [5]), (3000, 1, [0])], kinds=(0, 1)))
