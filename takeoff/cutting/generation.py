"""Column generation: solve the relaxation, price out better patterns, until none is left or the bound suffices."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from takeoff.cutting import bounds, knapsack
from takeoff.cutting.master import Master, Relaxation
from takeoff.cutting.pool import filled_up
from takeoff.cutting.problem import IntArray, Problem

A_KIND = 12
"""Columns of one kind of bar that one table may give."""


@dataclass(frozen=True)
class Generated:
    """The last relaxation, and the best bound on the price of the demand asked (None: it cannot be cut at all).

    ``complete``: no pattern would improve the relaxation.
    """

    relaxation: Relaxation
    bound: Fraction | None
    complete: bool
    tables: int


def generate(
    problem: Problem,
    master: Master,
    demand: IntArray,
    left: Sequence[int | None],
    tables: int,
    enough: int | None = None,
    aim: int | None = None,
    alive: Callable[[], bool] = lambda: True,
) -> Generated:
    """Generate patterns for ``demand`` (n,) from the bars ``left``, with at most ``tables`` knapsack tables.

    Stops early where the bound reaches the price ``enough``, and where the relaxation is
    good enough: no dearer than ``aim``, or without one, so near the bound that a better one
    could not lift it by a step; and when ``alive`` says so. The bound holds at any moment.
    """
    pool = master.pool
    best = Fraction(0)
    relaxation = master.solve()
    rows = {kind: j for j, kind in enumerate(problem.limited)}
    prices = np.array(problem.prices) / master.unit
    asked = [k for k, many in enumerate(left) if many is None or many > 0]
    capacities = [problem.capacities[k] for k in asked]
    if not asked:
        return Generated(relaxation, None if demand.any() else best, True, 0)
    for turn in range(1, tables + 1):
        values = bounds.whole(relaxation.duals)
        values[demand == 0] = 0.0
        # dearest by length last: late lots then improve on a good filling, each giving a pattern
        order = np.argsort(values / problem.sizes, kind="stable")
        table = knapsack.fill(problem.sizes, demand, values, capacities, order)
        most = [0.0] * len(left)
        for k, capacity in zip(asked, capacities, strict=True):
            most[k] = float(table.best[capacity])
        bound = bounds.farley(values, demand, problem.prices, left, most)
        if bound is None:
            return Generated(relaxation, None, False, turn)
        best = max(best, bound)
        reached = problem.rounded_up(best.numerator, best.denominator)
        if enough is not None and reached >= enough:
            return Generated(relaxation, best, False, turn)
        price = relaxation.price * master.unit * (1 - 1e-9)
        near = price <= aim if aim is not None else reached >= problem.rounded_up(int(price))
        if near and not relaxation.missing.any():
            return Generated(relaxation, best, False, turn)
        new = 0
        for position, (k, capacity) in enumerate(zip(asked, capacities, strict=True)):
            least = (prices[k] - (relaxation.limits[rows[k]] if k in rows else 0.0) + 1e-9) * bounds.SCALE
            for pattern in knapsack.further(table, position, capacity, least, A_KIND):
                new += pool.add(filled_up(problem, k, pattern, demand))
        if new and not alive():
            break
        if not new:
            return Generated(relaxation, best, True, turn)
        master.grow()
        relaxation = master.solve()
    return Generated(relaxation, best, False, tables)
