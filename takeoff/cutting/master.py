"""The linear programme over the pool, kept alive in the solver so that every solve starts from the last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from takeoff.cutting.pool import Pool
from takeoff.cutting.problem import BoolArray, FloatArray, IntArray, Problem


class _Quiet(highspy.Highs):
    def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
        # Called first thing when a solver is made; enabling callbacks prints a banner unless
        # output is off by then, and only the command line may print.
        self.setOptionValue("output_flag", False)


def solver() -> highspy.Highs:
    """A silent solver on one thread with a fixed seed."""
    highs: highspy.Highs = _Quiet()  # type: ignore[no-untyped-call]
    for option, value in (("output_flag", False), ("threads", 1), ("random_seed", 1)):
        highs.setOptionValue(option, value)
    return highs


@dataclass(frozen=True)
class Relaxation:
    """A solved linear programme: ``price`` and duals in units of the dearest bar's price.

    ``times`` (m,) of the pool's patterns, ``missing`` (n,) pieces of each size not cut,
    ``duals`` (n,) of the sizes, ``iterations`` of the simplex method.
    """

    price: float
    times: FloatArray
    missing: FloatArray
    duals: FloatArray
    limits: FloatArray
    iterations: int


class Master:
    """min price x times, every size cut at least as often as demanded, no more bars than there are.

    A size may stay uncut at a price far above any bar's, so that there is always a
    solution; what is still uncut at the end cannot be cut from the bars there are.
    """

    def __init__(self, problem: Problem, pool: Pool) -> None:
        self.problem, self.pool = problem, pool
        self.unit = float(max(problem.prices))
        self.columns = 0
        self.highs = solver()
        self.highs.setOptionValue("presolve", "off")
        n = len(problem.sizes)
        infinity = highspy.kHighsInf
        for demand in problem.demand:
            self.highs.addRow(float(demand), infinity, 0, np.array([], np.int32), np.array([], np.float64))
        for kind in problem.limited:
            most = problem.available[kind]
            assert most is not None
            self.highs.addRow(-infinity, float(most), 0, np.array([], np.int32), np.array([], np.float64))
        self.rows = {kind: n + j for j, kind in enumerate(problem.limited)}
        # Longer pieces are dearer to leave uncut: what cannot be cut is then as little steel as can be.
        for i, size in enumerate(problem.sizes):
            dear = 20.0 * float(size) / float(problem.sizes[0]) + 20.0
            self.highs.addCol(dear, 0.0, infinity, 1, np.array([i], np.int32), np.array([1.0]))
        self.allowed: BoolArray = np.ones(0, dtype=bool)
        self.grow()

    def grow(self) -> None:
        """Take over what the pool has gained."""
        new = self.pool.uses[self.columns :]
        if not new:
            return
        starts: list[int] = []
        indices: list[int] = []
        values: list[float] = []
        costs: list[float] = []
        for use in new:
            starts.append(len(indices))
            for i, many in use.pattern:
                indices.append(i)
                values.append(float(many))
            if use.bar in self.rows:
                indices.append(self.rows[use.bar])
                values.append(1.0)
            costs.append(self.problem.prices[use.bar] / self.unit)
        self.highs.addCols(
            len(new),
            np.array(costs),
            np.zeros(len(new)),
            np.full(len(new), highspy.kHighsInf),
            len(indices),
            np.array(starts, np.int32),
            np.array(indices, np.int32),
            np.array(values),
        )
        self.columns = len(self.pool)
        self.allowed = np.concatenate([self.allowed, np.ones(len(new), dtype=bool)])

    def demand(self, demand: IntArray, left: Sequence[int | None], barred: Sequence[int] = ()) -> None:
        """Ask for another demand (n,) from what is ``left`` of each kind of bar.

        Patterns that would cut too much are not allowed, nor are those of ``barred``.
        """
        infinity = highspy.kHighsInf
        for i, many in enumerate(demand):
            self.highs.changeRowBounds(i, float(many), infinity)
        for kind, row in self.rows.items():
            stock = left[kind]
            assert stock is not None
            self.highs.changeRowBounds(row, -infinity, float(stock))
        allowed: BoolArray = np.all(self.pool.counts <= demand[:, None], axis=0)
        allowed[list(barred)] = False
        n = len(self.problem.sizes)
        for column in np.flatnonzero(allowed != self.allowed):
            top = infinity if allowed[column] else 0.0
            self.highs.changeColBounds(int(column) + n, 0.0, top)
        self.allowed = allowed

    def solve(self) -> Relaxation:
        """Solve what is asked. RuntimeError where the solver gives up, which no sound programme makes it do."""
        self.highs.run()
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            # a basis gone bad after many changes of bounds: from scratch, once
            self.highs.clearSolver()
            self.highs.run()
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            raise RuntimeError(f"linear programme not solved: {self.highs.getModelStatus()}")
        solution = self.highs.getSolution()
        n = len(self.problem.sizes)
        values, duals = np.array(solution.col_value), np.array(solution.row_dual)
        info = self.highs.getInfo()
        return Relaxation(
            float(info.objective_function_value),
            values[n:],
            values[:n],
            duals[:n],
            duals[n:],
            int(info.simplex_iteration_count),
        )
