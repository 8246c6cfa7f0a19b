"""Dives: round the relaxation, generate patterns for the rest, again until nothing is left.

Where a level shows that no better plan lies below it, the last rounding is taken back by
half, and a single pattern that led there is barred: a depth-first search that goes back
only so many times.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from takeoff.cutting.generation import generate
from takeoff.cutting.greedy import finish, fullest, longest_first
from takeoff.cutting.master import Master
from takeoff.cutting.problem import FloatArray, IntArray, Plan, Problem, Use, better, plan_of

TABLES: Final = 60
"""Knapsack tables a level of a dive may take."""
FEW: Final = 400
"""Pieces left from which a level also tries to finish with the best fitting pieces."""
EDGE: Final = 1e-6

Chosen = list[tuple[int, int]]
"""(column, bars), the surest first."""


@dataclass(slots=True)
class _Level:
    """What is still to be cut (n,), from which bars, after which patterns; ``chosen`` leads to the next level."""

    demand: IntArray
    left: list[int | None]
    fixed: list[tuple[Use, int]]
    barred: list[int] = field(default_factory=list)
    chosen: Chosen = field(default_factory=list)


def dive(
    problem: Problem, master: Master, best: Plan, bound: int, near: float, setbacks: int, alive: Callable[[], bool]
) -> Plan:
    """The best plan found on the way down, or ``best``; at the price ``bound`` it stops at once.

    ``near``: where nothing can be rounded down, patterns used at least so often of a bar
    are taken, the surest first, and at least one. It goes back at most ``setbacks``
    times. Leaves the master asking for a part of the demand.
    """
    levels = [_Level(problem.demand.copy(), list(problem.available), [])]
    while levels and alive():
        level = levels[-1]
        if not level.demand.any():
            break
        if _hopeful(problem, master, level, best, bound, near, alive) and level.chosen:
            below = _below(master, level)
            levels.append(below)
            best = _finished(problem, below, best)
            if not best.short and best.price <= bound:
                break
        elif setbacks and len(levels) > 1:
            setbacks -= 1
            levels.pop()
            _take_back(levels[-1])
            if levels[-1].chosen:
                levels.append(_below(master, levels[-1]))
        else:
            break
    return best


def _hopeful(
    problem: Problem,
    master: Master,
    level: _Level,
    best: Plan,
    bound: int,
    near: float,
    alive: Callable[[], bool],
) -> bool:
    """Solve a level and choose what to take; False where nothing better than ``best`` lies below."""
    master.demand(level.demand, level.left, level.barred)
    spent = sum(problem.prices[use.bar] * many for use, many in level.fixed)
    enough = None if best.short else best.price - spent
    made = generate(problem, master, level.demand, level.left, TABLES, enough, max(bound - spent, 0), alive)
    relaxation = made.relaxation
    if enough is not None:
        if made.bound is None or problem.rounded_up(made.bound.numerator, made.bound.denominator) >= enough:
            return False
        price = relaxation.price * master.unit * (1 - 1e-9) - EDGE
        if made.complete and problem.rounded_up(int(np.ceil(price))) >= enough:
            return False
    level.chosen = _rounded(master, relaxation.times, level, near)
    return True


def _rounded(master: Master, times: FloatArray, level: _Level, near: float) -> Chosen:
    """Whole bars to take from a relaxation, as many as demand and stock allow."""
    demand, left = level.demand.copy(), list(level.left)
    floors = np.floor(times + EDGE).astype(np.int64)
    parts = times - floors
    chosen: Chosen = []

    def take(column: int, many: int) -> None:
        use = master.pool.uses[column]
        many = min([many, *(int(demand[i]) // count for i, count in use.pattern)])
        stock = left[use.bar]
        if stock is not None:
            many = min(many, stock)
            left[use.bar] = stock - many
        if many:
            for i, count in use.pattern:
                demand[i] -= count * many
            chosen.append((column, many))

    for column in np.argsort(-floors, kind="stable"):
        if floors[column] == 0:
            break
        take(int(column), int(floors[column]))
    for column in np.argsort(-np.round(parts, 9), kind="stable"):
        if parts[column] <= EDGE or (chosen and parts[column] < near):
            break
        take(int(column), 1)
    return chosen


def _below(master: Master, level: _Level) -> _Level:
    demand, left, fixed = level.demand.copy(), list(level.left), list(level.fixed)
    for column, many in level.chosen:
        use = master.pool.uses[column]
        for i, count in use.pattern:
            demand[i] -= count * many
        stock = left[use.bar]
        if stock is not None:
            left[use.bar] = stock - many
        fixed.append((use, many))
    return _Level(demand, left, fixed, list(level.barred))


def _take_back(level: _Level) -> None:
    """Half of what was chosen; of a single pattern half its bars; and one bar of one pattern is barred."""
    if len(level.chosen) > 1:
        level.chosen = level.chosen[: len(level.chosen) // 2]
    elif level.chosen:
        column, many = level.chosen[0]
        level.chosen = [(column, many // 2)] if many > 1 else []
        if many == 1:
            level.barred.append(column)


def _finished(problem: Problem, level: _Level, best: Plan) -> Plan:
    for filler in (longest_first, fullest):
        if filler is longest_first or level.demand.sum() <= FEW:
            rest = finish(problem, level.demand, level.left, filler)
            best = better(problem, best, plan_of(problem, [*level.fixed, *rest])) or best
    return best
