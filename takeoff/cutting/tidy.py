"""Among plans of one price: less waste that is of no use, then fewer different patterns."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Final

import numpy as np

from takeoff.cutting import integer
from takeoff.cutting.pool import Pool
from takeoff.cutting.problem import Pattern, Plan, Problem, Use, plan_of

NODES: Final = 50
COLUMNS: Final = 250
"""Up to so many, all patterns there are stand in the programme. Where more were found than
this, a few mm a bar are not worth it."""

Waste = Callable[[int, int], int]
"""(kind of bar, capacity used) -> mm of the off-cut that are of no use."""


def total_waste(problem: Problem, plan: Plan, waste: Waste) -> int:
    """The waste of a whole plan."""
    return sum(waste(use.bar, problem.used(use.pattern)) * many for use, many in plan.times.items())


def less_waste(problem: Problem, plan: Plan, pool: Pool, waste: Waste, seconds: float) -> Plan:
    """A plan no dearer with less waste, if an integer programme over the pool finds one."""
    before = total_waste(problem, plan, waste)
    if not before or plan.short:
        return plan
    every = _every_pattern(problem)
    uses = sorted({*plan.times, *_shortened(problem, pool.uses, plan)} if every is None else every)
    if len(uses) > COLUMNS:
        return plan
    costs = np.array([waste(use.bar, problem.used(use.pattern)) for use in uses], dtype=float)
    if not costs.any():
        return plan
    found = integer.search(problem, uses, plan.price, NODES, seconds, costs, exactly=True)
    if found.plan is None or found.plan.price > plan.price or total_waste(problem, found.plan, waste) >= before:
        return plan
    return found.plan


def _shortened(problem: Problem, uses: list[Use], plan: Plan) -> set[Use]:
    """The pool's patterns, and those of the plan with fewer of one size: these make a long off-cut elsewhere.

    All of the size left out, at least; and, while there is room, every number of it.
    """
    more = set(uses) | set(plan.times)
    fewer: set[Use] = set()
    for use in plan.times:
        for place, (i, many) in enumerate(use.pattern):
            before, after = use.pattern[:place], use.pattern[place + 1 :]
            if before or after:
                more.add(Use(use.bar, before + after))
            fewer |= {Use(use.bar, (*before, (i, left), *after)) for left in range(1, many)}
    return more | fewer if len(more | fewer) <= COLUMNS else more


def _every_pattern(problem: Problem) -> set[Use] | None:
    """All patterns there are, no more of a size than are wanted; None where they are too many for the programme."""
    sizes, demand = problem.sizes.tolist(), problem.demand.tolist()
    found: set[Use] = set()
    for bar, capacity in enumerate(problem.capacities):
        if problem.available[bar] == 0:
            continue
        begun: list[tuple[Pattern, int]] = [((), capacity)]
        for i, size in enumerate(sizes):
            begun += [
                ((*pattern, (i, many)), room - many * size)
                for pattern, room in begun
                for many in range(1, min(demand[i], room // size) + 1)
            ]
            # the empty one is none
            if len(begun) - 1 + len(found) > COLUMNS:
                return None
        found |= {Use(bar, pattern) for pattern, _ in begun if pattern}
    return found


def fewer_patterns(problem: Problem, plan: Plan, waste: Waste) -> Plan:
    """Two patterns made one wherever that keeps price and waste.

    Patterns p, cut a times, and q, cut b times, from one kind of bar are one pattern
    (a p + b q) / (a + b) where that is whole and fits (Foerster and Waescher, "Pattern
    reduction in one-dimensional cutting stock problems", International Journal of
    Production Research 38, 2000).
    """
    times = dict(plan.times)
    merged = True
    while merged:
        merged = False
        for one, other in combinations(sorted(times), 2):
            use = _one_of_two(problem, one, times[one], other, times[other])
            if use is None:
                continue
            a, b = times[one], times[other]
            parts = (one, a), (other, b)
            before = sum(waste(u.bar, problem.used(u.pattern)) * many for u, many in parts)
            if waste(use.bar, problem.used(use.pattern)) * (a + b) > before:
                continue
            del times[one], times[other]
            times[use] = times.get(use, 0) + a + b
            merged = True
            break
    return plan_of(problem, times.items())


def _one_of_two(problem: Problem, one: Use, a: int, other: Use, b: int) -> Use | None:
    if one.bar != other.bar:
        return None
    p, q = dict(one.pattern), dict(other.pattern)
    counts = {}
    for i in {*p, *q}:
        count, rest = divmod(a * p.get(i, 0) + b * q.get(i, 0), a + b)
        if rest:
            return None
        counts[i] = count
    pattern = tuple(sorted((i, count) for i, count in counts.items() if count))
    return Use(one.bar, pattern) if problem.used(pattern) <= problem.capacities[one.bar] else None
