"""The way from a greedy plan to a proved one."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from takeoff.cutting import bounds, integer, knapsack
from takeoff.cutting.diving import dive
from takeoff.cutting.generation import generate
from takeoff.cutting.greedy import greedy_plan
from takeoff.cutting.master import Master, Relaxation
from takeoff.cutting.pool import Pool
from takeoff.cutting.problem import Plan, Problem, Use, better

TABLES: Final = 3_000
DIVES: Final = ((0.7, 0), (0.95, 60), (0.5, 60))
"""(share of a bar from which a pattern is taken, times it may go back), one dive each."""
NODES: Final = 100
"""Nodes of an integer programme over the pool."""
NEAREST: Final = 500
"""Patterns of the pool it may have: those of the least reduced price."""
EXACT: Final = 2_500
"""Patterns of the exact step at most."""
EXACT_NODES: Final = 1_000
PASSES: Final = 1
"""Integer programmes one after the other, each to better the last plan."""


@dataclass(frozen=True)
class Solved:
    """``bound``: no plan is cheaper (0 where something is missing). ``stopped``: the clock ended the search early.

    ``pool`` holds the patterns met, for plans that look at other things than the price.
    """

    plan: Plan
    bound: int
    pool: Pool
    stopped: bool

    @property
    def proved(self) -> bool:
        return not self.plan.short and self.plan.price <= self.bound


class _Clock:
    """The safety valve. It is looked at between steps; the plan so far is valid at every one of them."""

    def __init__(self, seconds: float) -> None:
        self.end = time.monotonic() + seconds
        self.rang = False

    def alive(self) -> bool:
        self.rang = self.rang or time.monotonic() > self.end
        return not self.rang

    def left(self) -> float:
        return max(1.0, self.end - time.monotonic())


def solve(problem: Problem, seconds: float, limit: int | None = None) -> Solved:
    """The cheapest plan that the counts of this module allow, with its bound.

    limit: a plan at this price will do, and it is looked for by greedy plans and dives alone; the bound is then no
    less than the limit, or shows that there is no such plan.
    """
    clock = _Clock(seconds)
    plan = greedy_plan(problem)
    pool = Pool(problem)
    for use in plan.times:
        pool.add(use)
    master = Master(problem, pool)
    made = generate(
        problem,
        master,
        problem.demand,
        problem.available,
        TABLES,
        None if plan.short else plan.price,
        None,
        clock.alive,
    )
    if made.bound is None:
        return Solved(_as_much_as_there_is(problem, master, plan, clock.alive), 0, pool, clock.rang)
    bound = problem.rounded_up(made.bound.numerator, made.bound.denominator)
    if limit is not None:
        if bound > limit:
            return Solved(plan, bound, pool, clock.rang)
        bound = limit
    done = _Done(plan, bound)
    if not done:
        for near, setbacks in DIVES:
            if not clock.alive():
                break
            done.plan = dive(problem, master, done.plan, bound, near, setbacks, clock.alive)
            for use in done.plan.times:
                pool.add(use)
            master.grow()
            if done:
                break
    if not done and limit is None and clock.alive():
        _prove(problem, master, done, clock)
    return Solved(done.plan, done.bound, pool, clock.rang)


class _Done:
    """The plan and bound so far; true when they meet."""

    def __init__(self, plan: Plan, bound: int) -> None:
        self.plan, self.bound = plan, bound

    def __bool__(self) -> bool:
        return not self.plan.short and self.plan.price <= self.bound


def _as_much_as_there_is(problem: Problem, master: Master, plan: Plan, alive: Callable[[], bool]) -> Plan:
    """The bars cannot hold the demand: leave as little of it as the dives find."""
    for near, setbacks in DIVES:
        plan = dive(problem, master, plan, 0, near, setbacks, alive)
    return plan


def _prove(problem: Problem, master: Master, done: _Done, clock: _Clock) -> None:
    """Integer programmes: over the pool for a better plan, then over every pattern such a plan could use."""
    master.demand(problem.demand, problem.available)
    made = generate(problem, master, problem.demand, problem.available, TABLES, alive=clock.alive)
    relaxation = made.relaxation
    if made.bound is not None:
        done.bound = max(done.bound, problem.rounded_up(made.bound.numerator, made.bound.denominator))
    if done:
        return
    uses = _all_that_help(problem, relaxation, done)
    if uses is None:
        near = _nearest(problem, master, relaxation)
        for _ in range(PASSES):
            found = integer.search(problem, near, _below(problem, done), NODES, clock.left())
            if found.plan is None:
                break
            done.plan = better(problem, done.plan, found.plan) or done.plan
            if done or found.exhausted or not clock.alive():
                break
        uses = None if done else _all_that_help(problem, relaxation, done)
    if uses is None or done or not clock.alive():
        return
    if uses:
        found = integer.search(problem, uses, _below(problem, done), EXACT_NODES, clock.left())
        done.plan = better(problem, done.plan, found.plan) or done.plan
        if not found.exhausted:
            return
    done.bound = done.plan.price


def _below(problem: Problem, done: _Done) -> int:
    """The price of the next better plan; with a plan that lacks pieces any price will do."""
    if done.plan.short:
        return int(problem.demand.sum()) * max(problem.prices)
    return done.plan.price - problem.step


def _nearest(problem: Problem, master: Master, relaxation: Relaxation) -> list[Use]:
    """Patterns of the pool by reduced price, as many as the solver takes well."""
    pool = master.pool
    prices = np.array(problem.prices, dtype=float) / master.unit
    for row, kind in enumerate(problem.limited):
        prices[kind] -= relaxation.limits[row]
    reduced = prices[pool.bars] - relaxation.duals @ pool.counts
    order = np.argsort(np.round(reduced, 9), kind="stable")[:NEAREST]
    return [pool.uses[int(c)] for c in np.sort(order)]


def _all_that_help(problem: Problem, relaxation: Relaxation, done: _Done) -> list[Use] | None:
    """Every pattern that a plan cheaper than the best can use; None where they are too many.

    With feasible duals, a plan's price is their bound plus the reduced prices of its
    patterns: none of these may exceed the room between the bound and the next better
    price (reduced cost fixing). Whole numbers throughout.
    """
    if done.plan.short:
        return None
    values = bounds.whole(relaxation.duals)
    order = np.argsort(values / problem.sizes, kind="stable")
    table = knapsack.fill(problem.sizes, problem.demand, values, problem.capacities, order)
    most = [int(table.best[c]) for c in problem.capacities]
    total = sum(int(v) * int(d) for v, d in zip(values, problem.demand, strict=True))
    scale = min(
        (Fraction(p, w) for p, w, u in zip(problem.prices, most, problem.available, strict=True) if u is None and w),
        default=Fraction(int(max(problem.prices)), int(bounds.SCALE)),
    )
    limits = [
        min(Fraction(0), p - scale * w) if u is not None else Fraction(0)
        for p, w, u in zip(problem.prices, most, problem.available, strict=True)
    ]
    bound = scale * total + sum(u * y for u, y in zip(problem.available, limits, strict=True) if u is not None)
    room = _below(problem, done) - bound
    if room < 0:
        return []
    uses: list[Use] = []
    for kind, capacity in enumerate(problem.capacities):
        if problem.available[kind] == 0:
            continue
        least = (problem.prices[kind] - limits[kind] - room) / scale
        found = knapsack.patterns_worth(
            problem.sizes, problem.demand, values, capacity, float(np.floor(float(least))) - 1.0, EXACT - len(uses)
        )
        if found is None:
            return None
        uses += [Use(kind, pattern) for pattern in found]
    return uses
