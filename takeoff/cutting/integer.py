"""The integer programme over known patterns: a better plan, or proof that they hold none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import highspy
import numpy as np
import scipy.sparse as sparse

from takeoff.cutting.master import solver
from takeoff.cutting.problem import FloatArray, Plan, Problem, Use, plan_of

COLUMNS: Final = 4_000
"""More columns than this make the solver's own heuristics run out of hand."""


@dataclass(frozen=True)
class Outcome:
    """``plan``: one that keeps to the limit, if found. ``exhausted``: these patterns hold none better."""

    plan: Plan | None
    exhausted: bool


def search(
    problem: Problem,
    uses: Sequence[Use],
    limit: int,
    nodes: int,
    seconds: float,
    costs: FloatArray | None = None,
    exactly: bool = False,
) -> Outcome:
    """The best plan over ``uses`` at a price of at most ``limit``, within so many nodes.

    The limit stands as a row of the programme, not as a start: the solver has been seen to
    take a worse start for a better one. ``costs`` (m,) replaces the price as what is
    minimised; ``exactly`` cuts the demand and no piece more. ``seconds`` is a safety valve.
    """
    n, m, kinds = len(problem.sizes), len(uses), problem.limited
    entries = [(i, j, many) for j, use in enumerate(uses) for i, many in use.pattern]
    entries += [(n + kinds.index(use.bar), j, 1) for j, use in enumerate(uses) if use.bar in kinds]
    unit = problem.step
    price = np.array([problem.prices[use.bar] // unit for use in uses], dtype=float)
    entries += [(n + len(kinds), j, price[j]) for j in range(m)]
    rows, columns, values = zip(*entries, strict=True)
    matrix = sparse.csc_matrix((np.array(values, float), (rows, columns)), shape=(n + len(kinds) + 1, m))
    infinity = highspy.kHighsInf
    demand = problem.demand.astype(float)
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = m, matrix.shape[0]
    lp.col_cost_ = price if costs is None else costs
    lp.col_lower_ = np.zeros(m)
    lp.col_upper_ = np.array(
        [min((-(-int(problem.demand[i]) // many) for i, many in use.pattern), default=0) for use in uses], dtype=float
    )
    # with pieces in surplus allowed a pattern may be needed as often as its scarcest size asks for
    if not exactly:
        lp.col_upper_ = np.array(
            [max((-(-int(problem.demand[i]) // many) for i, many in use.pattern), default=0) for use in uses],
            dtype=float,
        )
    lp.row_lower_ = np.concatenate([demand, np.full(len(kinds) + 1, -infinity)])
    most = [float(problem.available[k] or 0) for k in kinds]
    lp.row_upper_ = np.concatenate([demand if exactly else np.full(n, infinity), most, [float(limit // unit)]])
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = matrix.indptr, matrix.indices, matrix.data
    lp.integrality_ = [highspy.HighsVarType.kInteger] * m
    highs = solver()
    highs.setOptionValue("mip_max_nodes", nodes)
    highs.setOptionValue("time_limit", seconds)
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_abs_gap", 0.999 if costs is None else 1e-6)
    highs.passModel(lp)
    highs.run()
    status = highs.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return Outcome(None, True)
    info = highs.getInfo()
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Outcome(None, False)
    times = np.rint(np.array(highs.getSolution().col_value)).astype(np.int64)
    plan = plan_of(problem, [(use, int(t)) for use, t in zip(uses, times, strict=True)])
    # the solver's tolerance is no proof that the rounded plan cuts everything, or keeps within the stock
    if plan.short or plan.price > limit or not _in_stock(problem, plan):
        return Outcome(None, False)
    return Outcome(plan, status == highspy.HighsModelStatus.kOptimal)


def _in_stock(problem: Problem, plan: Plan) -> bool:
    for kind in problem.limited:
        many = sum(times for use, times in plan.times.items() if use.bar == kind)
        if many > (problem.available[kind] or 0):
            return False
    return True
