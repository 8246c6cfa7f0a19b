"""Among plans of one price: the relaxation of useless waste by column generation, and a programme over what it finds.

The price of the plan is fixed, so it stands as a row; what is minimised is the useless
waste of the patterns, and every size is cut exactly as often as asked, since pieces too
many would count as waste avoided. A pattern is worth its pieces' duals, and its waste is a
straight line of what it uses up to the off-cut worth keeping, where it drops to nothing:
two knapsack tables, one for bars whose off-cut is kept and one for all others, find the
best of both kinds exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import highspy
import numpy as np
import scipy.sparse as sparse

from takeoff.cutting import bounds, integer, knapsack
from takeoff.cutting.master import solver
from takeoff.cutting.problem import FloatArray, Plan, Problem, Use
from takeoff.cutting.tidy import Waste, total_waste

TURNS: Final = 300
"""Rounds of column generation at most."""
A_KIND: Final = 6
"""Columns that one table may give for one kind of bar."""
COLUMNS: Final = 300
"""Patterns of the programme: those of the plan and those of the least reduced waste."""
NODES: Final = 40
EDGE: Final = 1e-6
NEAR: Final = 0.004
"""Share of the waste by which a plan may lie above the relaxation and be good enough."""
SIZES: Final = 30
"""Sizes up to which it is tried: beyond, the programme takes seconds and hardly ever betters a plan."""


def least_waste(
    problem: Problem,
    plan: Plan,
    waste: Waste,
    shortest: int,
    full: int,
    uses: Sequence[Use],
    seconds: Callable[[], float],
) -> Plan:
    """A plan no dearer with no more useless waste.

    shortest: capacity that an off-cut to keep takes up. full: off-cut in mm of a bar whose capacity is used up.
    uses: further patterns to begin with. seconds: what the safety valve leaves.
    """
    before = total_waste(problem, plan, waste)
    if plan.short or not before or len(problem.sizes) > SIZES or seconds() <= 0.0:
        return plan
    pool = dict.fromkeys([*plan.times, *sorted(uses)])
    reduced, least = _generate(problem, plan, pool, waste, shortest, full, seconds)
    if least is None or before - least <= max(1.0, NEAR * before) or seconds() <= 0.0:
        return plan
    chosen = _nearest(list(pool), reduced, plan)
    costs = np.array([waste(use.bar, problem.used(use.pattern)) for use in chosen], dtype=float)
    found = integer.search(problem, chosen, plan.price, NODES, max(1.0, seconds()), costs, exactly=True)
    if found.plan is None or found.plan.price > plan.price or total_waste(problem, found.plan, waste) >= before:
        return plan
    return found.plan


def _nearest(uses: Sequence[Use], reduced: FloatArray, plan: Plan) -> list[Use]:
    order = np.argsort(np.round(reduced, 6), kind="stable")[:COLUMNS]
    return sorted({*plan.times, *(uses[int(i)] for i in order)})


def _generate(
    problem: Problem,
    plan: Plan,
    pool: dict[Use, None],
    waste: Waste,
    shortest: int,
    full: int,
    seconds: Callable[[], float],
) -> tuple[FloatArray, float | None]:
    """Fill ``pool``; the reduced waste of each of its patterns, and the least waste (None: too many rounds)."""
    relaxation = _Relaxation(problem, plan)
    done = False
    for _ in range(TURNS):
        relaxation.grow(list(pool), waste)
        duals, limits, price = relaxation.solve()
        new = _priced(problem, duals, limits, price, shortest, full)
        fresh = [use for use in new if use not in pool]
        pool.update(dict.fromkeys(fresh))
        if not fresh:
            done = True
            break
        if seconds() <= 0.0:
            break
    uses = list(pool)
    relaxation.grow(uses, waste)
    duals, limits, price = relaxation.solve()
    rows = {kind: j for j, kind in enumerate(problem.limited)}
    reduced = np.array(
        [
            waste(use.bar, problem.used(use.pattern))
            - sum(duals[i] * many for i, many in use.pattern)
            - (limits[rows[use.bar]] if use.bar in rows else 0.0)
            - price * problem.prices[use.bar] / problem.step
            for use in uses
        ]
    )
    return reduced, relaxation.least if done else None


def _priced(
    problem: Problem, duals: FloatArray, limits: FloatArray, price: float, shortest: int, full: int
) -> list[Use]:
    """Patterns of less waste than their duals say there must be: of bars whose off-cut is kept, and of the others."""
    kinds = [k for k, many in enumerate(problem.available) if many is None or many > 0]
    rows = {kind: j for j, kind in enumerate(problem.limited)}
    found = []
    # with the waste written as a line, what a pattern uses is worth a mm each
    for worth, less in ((duals, shortest), (duals + problem.sizes, 0)):
        unit = max(1.0, float(np.max(np.abs(worth))))
        values = np.floor(np.maximum(worth, 0.0) / unit * bounds.SCALE)
        rooms = {k: problem.capacities[k] - less for k in kinds if problem.capacities[k] >= less}
        if not rooms or not values.any():
            continue
        order = np.argsort(values / problem.sizes, kind="stable")
        table = knapsack.fill(problem.sizes, problem.demand, values, list(rooms.values()), order)
        for position, (k, room) in enumerate(rooms.items()):
            fixed = -price * problem.prices[k] / problem.step - (limits[rows[k]] if k in rows else 0.0)
            if not less:
                fixed += problem.capacities[k] + full
            least = (fixed + EDGE * 10) / unit * bounds.SCALE
            found += [Use(k, pattern) for pattern in knapsack.further(table, position, room, least, A_KIND) if pattern]
    return found


class _Relaxation:
    """min waste x times; every size cut exactly, no more bars than there are, the price of the plan."""

    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.problem = problem
        self.columns = 0
        self.least = 0.0
        self.highs = solver()
        self.highs.setOptionValue("presolve", "off")
        infinity = highspy.kHighsInf
        none, empty = np.array([], np.int32), np.array([], np.float64)
        for many in problem.demand:
            self.highs.addRow(float(many), float(many), 0, none, empty)
        for kind in problem.limited:
            self.highs.addRow(-infinity, float(problem.available[kind] or 0), 0, none, empty)
        self.highs.addRow(-infinity, float(plan.price // problem.step), 0, none, empty)
        self.rows = {kind: len(problem.sizes) + j for j, kind in enumerate(problem.limited)}
        self.last = len(problem.sizes) + len(problem.limited)

    def grow(self, uses: Sequence[Use], waste: Waste) -> None:
        """Take over the patterns that are new."""
        new = uses[self.columns :]
        if not new:
            return
        entries = []
        for j, use in enumerate(new):
            entries += [(i, j, float(many)) for i, many in use.pattern]
            if use.bar in self.rows:
                entries.append((self.rows[use.bar], j, 1.0))
            entries.append((self.last, j, float(self.problem.prices[use.bar] // self.problem.step)))
        rows, columns, values = zip(*entries, strict=True)
        matrix = sparse.csc_matrix((np.array(values), (rows, columns)), shape=(self.last + 1, len(new)))
        self.highs.addCols(
            len(new),
            np.array([waste(use.bar, self.problem.used(use.pattern)) for use in new], dtype=float),
            np.zeros(len(new)),
            np.full(len(new), highspy.kHighsInf),
            matrix.nnz,
            matrix.indptr[:-1].astype(np.int32),
            matrix.indices.astype(np.int32),
            matrix.data,
        )
        self.columns = len(uses)

    def solve(self) -> tuple[FloatArray, FloatArray, float]:
        """Duals of the sizes, of the stock, and of the price. The plan's own patterns make it feasible."""
        self.highs.run()
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            self.highs.clearSolver()
            self.highs.run()
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            raise RuntimeError(f"linear programme not solved: {self.highs.getModelStatus()}")
        duals = np.array(self.highs.getSolution().row_dual)
        n = len(self.problem.sizes)
        self.least = float(self.highs.getInfo().objective_function_value)
        return duals[:n], duals[n : self.last], float(duals[self.last])
