"""A few bars at a time planned anew: where odd off-cuts make the whole too hard, its parts are not.

Ruin and recreate (Schrimpf et al., "Record breaking optimization results using the ruin and
recreate principle", Journal of Computational Physics 159, 2000), with a part so small that
it is planned nearly to the best.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from typing import Final

import numpy as np

from takeoff.cutting.problem import Plan, Problem, Use, plan_of

ROUNDS: Final = 40
"""Parts tried at most."""
IN_VAIN: Final = 15
"""It ends after so many parts in a row that brought nothing."""
WORST: Final = 4
OTHERS: Final = 5
"""Bars of a part: of the most wasteful, and of all the rest."""

Planner = Callable[[Problem], Plan]


def repaired(problem: Problem, plan: Plan, bound: int, planner: Planner, alive: Callable[[], bool]) -> Plan:
    """``plan``, or a cheaper one after parts of it were planned anew by ``planner``. The same every time."""
    draw = random.Random(1)
    rate = min(price / capacity for price, capacity in zip(problem.prices, problem.capacities, strict=True))
    vain = 0
    for _ in range(ROUNDS):
        if plan.short or plan.price <= bound or vain >= IN_VAIN or not alive():
            break
        part = _part(problem, plan, rate, draw)
        cheaper = _planned_anew(problem, plan, part, planner)
        vain = 0 if cheaper else vain + 1
        plan = cheaper or plan
    return plan


def _part(problem: Problem, plan: Plan, rate: float, draw: random.Random) -> Counter[Use]:
    """Some of the bars that cost most beyond what their pieces are worth, and some others."""
    ranked = sorted(plan.times, key=lambda use: (problem.used(use.pattern) * rate - problem.prices[use.bar], use))
    worst = ranked[: 3 * WORST]
    part: Counter[Use] = Counter()
    for use in [*draw.sample(worst, min(WORST, len(worst))), *draw.choices(ranked, k=OTHERS)]:
        part[use] = min(part[use] + 1, plan.times[use])
    return part


def _planned_anew(problem: Problem, plan: Plan, part: Counter[Use], planner: Planner) -> Plan | None:
    """The plan with a part planned anew, where that is cheaper."""
    demand = np.zeros(len(problem.sizes), dtype=np.int64)
    for use, many in part.items():
        for i, count in use.pattern:
            demand[i] += count * many
    rest = Counter(plan.times)
    rest.subtract(part)
    taken: Counter[int] = Counter()
    for use, many in rest.items():
        taken[use.bar] += many
    index = np.flatnonzero(demand)
    small = Problem(
        problem.sizes[index],
        demand[index],
        problem.capacities,
        problem.prices,
        tuple(None if most is None else most - taken[kind] for kind, most in enumerate(problem.available)),
    )
    before = sum(problem.prices[use.bar] * many for use, many in part.items())
    made = planner(small)
    if made.short or made.price >= before:
        return None
    for use, many in made.times.items():
        rest[Use(use.bar, tuple((int(index[i]), count) for i, count in use.pattern))] += many
    return plan_of(problem, rest.items())
