"""A second plan of few patterns: the longest run first.

Each step cuts the pattern that can be repeated most often while it fills its bar well
enough (the sequential heuristic of Haessler, "Controlling cutting pattern changes in
one-dimensional trim problems", Operations Research 23, 1975).
"""

from __future__ import annotations

from typing import Final

from takeoff.cutting.greedy import finish, fullest
from takeoff.cutting.problem import IntArray, Pattern, Plan, Problem, Use, plan_of

ALLOWED: Final = (0.003, 0.006, 0.012, 0.025)
"""Shares of a bar that a pattern may leave empty; one plan is made for each."""
DEARER: Final = 0.02
"""A plan dearer than this over the best is of no interest, however few its patterns."""


def few_patterns(problem: Problem, best: Plan) -> Plan | None:
    """The plan with the fewest patterns, and fewer than ``best``, at a price not far above it; else None."""
    if best.short:
        return None
    choice: Plan | None = None
    for allowed in ALLOWED:
        plan = _longest_runs(problem, allowed)
        if plan.short or plan.price > best.price * (1 + DEARER) or len(plan.times) >= len(best.times):
            continue
        if choice is None or (len(plan.times), plan.price) < (len(choice.times), choice.price):
            choice = plan
    return choice


def _longest_runs(problem: Problem, allowed: float) -> Plan:
    demand, left = problem.demand.copy(), list(problem.available)
    uses: list[tuple[Use, int]] = []
    while demand.any():
        best = _longest_run(problem, demand, left, allowed)
        if best is None:
            uses += finish(problem, demand, left, fullest)
            break
        use, many = best
        for i, count in use.pattern:
            demand[i] -= count * many
        stock = left[use.bar]
        if stock is not None:
            left[use.bar] = stock - many
        uses.append((use, many))
    return plan_of(problem, uses)


def _longest_run(problem: Problem, demand: IntArray, left: list[int | None], allowed: float) -> tuple[Use, int] | None:
    """The pattern with the longest run of those that fill their bar, found by halving the length of the run."""
    run = int(demand.max())
    while run > 0:
        choice: tuple[float, int, Pattern] | None = None
        for kind, capacity in enumerate(problem.capacities):
            stock = left[kind]
            if stock is not None and stock < run:
                continue
            pattern = fullest(problem.sizes, demand // run, capacity)
            used = problem.used(pattern)
            if used >= capacity * (1 - allowed):
                each = problem.prices[kind] / used
                if choice is None or (each, kind) < choice[:2]:
                    choice = (each, kind, pattern)
        if choice is not None:
            _, kind, pattern = choice
            many = min(int(demand[i]) // count for i, count in pattern)
            stock = left[kind]
            return Use(kind, pattern), many if stock is None else min(many, stock)
        run = min(run - 1, int(run * 0.8))
    return None
