"""Plans in milliseconds: bars filled one after the other with the longest, or the best fitting, pieces."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from takeoff.cutting.problem import IntArray, Pattern, Plan, Problem, Use, better, plan_of

FEW: Final = 2_000

Filler = Callable[[IntArray, IntArray, int], Pattern]


def longest_first(sizes: IntArray, demand: IntArray, capacity: int) -> Pattern:
    """One bar: the longest piece that still fits, again and again. ``sizes`` fall.

    Bars filled so one after the other are first-fit decreasing (Johnson, "Near-optimal bin
    packing algorithms", 1973): a later piece goes into the first bar it fits.
    """
    pattern: list[tuple[int, int]] = []
    for i in np.flatnonzero(demand):
        many = min(int(demand[i]), capacity // int(sizes[i]))
        if many:
            pattern.append((int(i), many))
            capacity -= many * int(sizes[i])
    return tuple(pattern)


def fullest(sizes: IntArray, demand: IntArray, capacity: int) -> Pattern:
    """One bar: the longest piece, and with it the pieces that fill the bar best.

    The sums that can be reached are the bits of one number, so that adding a piece is a
    shift; walked back, longer pieces first.
    """
    there = np.flatnonzero((demand > 0) & (sizes <= capacity))
    if not len(there):
        return ()
    counts: dict[int, int] = {int(there[0]): 1}
    room = capacity - int(sizes[there[0]])
    mask = (1 << (room + 1)) - 1
    lots: list[tuple[int, int]] = []
    for i in there[::-1]:
        most, lot = min(int(demand[i]) - int(i == there[0]), room // int(sizes[i])), 1
        while most > 0:
            lots.append((int(i), min(lot, most)))
            most -= min(lot, most)
            lot *= 2
    reached = [1]
    for i, many in lots:
        reached.append((reached[-1] | reached[-1] << int(sizes[i]) * many) & mask)
    rest = reached[-1].bit_length() - 1
    for stage in range(len(lots), 0, -1):
        if reached[stage - 1] >> rest & 1:
            continue
        i, many = lots[stage - 1]
        counts[i] = counts.get(i, 0) + many
        rest -= int(sizes[i]) * many
    return tuple(sorted(counts.items()))


def finish(problem: Problem, demand: IntArray, left: Sequence[int | None], filler: Filler) -> list[tuple[Use, int]]:
    """Cut ``demand`` (n,) from what is ``left`` of each kind of bar: the bar cheapest for what it holds comes next."""
    demand, left = demand.copy(), list(left)
    uses: list[tuple[Use, int]] = []
    while demand.any():
        choice: tuple[float, int, Pattern] | None = None
        for kind, capacity in enumerate(problem.capacities):
            stock = left[kind]
            if stock is not None and stock <= 0:
                continue
            pattern = filler(problem.sizes, demand, capacity)
            if pattern:
                each = problem.prices[kind] / problem.used(pattern)
                if choice is None or (each, kind) < choice[:2]:
                    choice = (each, kind, pattern)
        if choice is None:
            break
        _, kind, pattern = choice
        many = min(int(demand[i]) // count for i, count in pattern)
        stock = left[kind]
        if stock is not None:
            many = min(many, stock)
            left[kind] = stock - many
        for i, count in pattern:
            demand[i] -= count * many
        uses.append((Use(kind, pattern), many))
    return uses


def greedy_plan(problem: Problem) -> Plan:
    """The best of the greedy plans: all kinds of bar together, and each kind that has no limit by itself."""
    best: Plan | None = None
    # the best fitting pieces take a while to find, and pay where few are left over
    fillers = (longest_first, fullest) if problem.demand.sum() <= FEW else (longest_first,)
    nothing = tuple(0 for _ in problem.prices)
    choices: list[tuple[int | None, ...]] = [problem.available]
    if len(problem.prices) > 1:
        choices += [
            (*nothing[:k], None, *nothing[k + 1 :])
            for k, many in enumerate(problem.available)
            if many is None and problem.capacities[k] >= problem.sizes[0]
        ]
    for left in choices:
        for filler in fillers:
            best = better(problem, best, plan_of(problem, finish(problem, problem.demand, left, filler)))
    assert best is not None
    return best
