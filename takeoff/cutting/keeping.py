"""Among plans of one price: as much as can be of what is left over gathered in off-cuts that are kept.

An off-cut to keep is planned as one more piece: with k more pieces of the shortest length
worth keeping, a plan at the same price leaves k off-cuts of use, and its other bars are the
fuller for it. So the engine that finds cheap plans finds those of little useless waste too,
in problems far too big to list their patterns. The most such pieces are looked for first,
then the longest one of them that takes up the rest.

What it does not know: whether its plan has the least useless waste there is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.cutting import engine
from takeoff.cutting.problem import Plan, Problem, Use, plan_of
from takeoff.cutting.tidy import Waste, total_waste

TRIES: Final = 10
"""Engine runs of a problem of few sizes, ..."""
WORK: Final = 360
"""... and of more sizes no more than this many sizes in all the runs together, but ``LEAST``."""
LEAST: Final = 2


@dataclass(slots=True)
class _Search:
    """The best plan so far, and how many runs are left to better it."""

    problem: Problem
    waste: Waste
    best: Plan
    least: int
    tries: int
    seconds: Callable[[], float]

    def holds(self, lengths: Mapping[int, int]) -> bool:
        """Whether a plan at the price of the best is found that holds off-cuts of ``lengths`` (capacity, how many)."""
        seconds = self.seconds()
        if self.tries <= 0 or seconds <= 0.0:
            return False
        self.tries -= 1
        wider, fillers = _with_fillers(self.problem, lengths)
        if wider is None:
            return False
        solved = engine.solve(wider, seconds, self.best.price)
        if solved.plan.short or solved.plan.price > self.best.price:
            return False
        plan = _without(self.problem, wider, solved.plan, fillers)
        waste = total_waste(self.problem, plan, self.waste)
        if not plan.short and plan.price <= self.best.price and waste < self.least:
            self.best, self.least = plan, waste
        return True


def keep_more(problem: Problem, plan: Plan, waste: Waste, shortest: int, seconds: Callable[[], float]) -> Plan:
    """A plan no dearer with no more useless waste than ``plan``.

    shortest: capacity that an off-cut to keep takes up. seconds: what the safety valve leaves; the runs are counted.
    """
    least = total_waste(problem, plan, waste)
    if plan.short or not least or shortest <= 0 or shortest > max(problem.capacities):
        return plan
    tries = max(LEAST, min(TRIES, WORK // len(problem.sizes)))
    search = _Search(problem, waste, plan, least, tries, seconds)
    most = _slack(problem, plan) // shortest
    if not most:
        return plan
    few, many = _kept(problem, plan, shortest), most + 1
    turn = most
    while few < turn < many and search.tries and search.least:
        if search.holds({shortest: turn}):
            few = turn
        else:
            many = turn
        turn = (few + many) // 2
    if few and search.least:
        _lengthen(search, shortest, few)
    return search.best


def _lengthen(search: _Search, shortest: int, many: int) -> None:
    """One of the off-cuts as long as can be, at best by all that is left over else."""
    short, long = (
        0,
        min(_slack(search.problem, search.best) - many * shortest, max(search.problem.capacities) - shortest),
    )
    more = long
    while more > short and search.tries and search.least:
        lengths = {shortest: many - 1, shortest + more: 1} if many > 1 else {shortest + more: 1}
        if search.holds(lengths):
            short = more
        else:
            long = more - 1
        more = (short + long + 1) // 2


def _slack(problem: Problem, plan: Plan) -> int:
    """What the bars of a plan could hold beyond their pieces."""
    return sum((problem.capacities[use.bar] - problem.used(use.pattern)) * many for use, many in plan.times.items())


def _kept(problem: Problem, plan: Plan, shortest: int) -> int:
    return sum(
        many for use, many in plan.times.items() if problem.capacities[use.bar] - problem.used(use.pattern) >= shortest
    )


def _with_fillers(problem: Problem, lengths: Mapping[int, int]) -> tuple[Problem | None, frozenset[int]]:
    """The problem with further pieces, and their sizes; each is made longer by the mm that set it apart from a size."""
    demand = {int(size): int(many) for size, many in zip(problem.sizes, problem.demand, strict=True)}
    fillers: set[int] = set()
    for length, many in sorted(lengths.items()):
        while length in demand:
            length += 1
        demand[length] = many
        fillers.add(length)
    if max(demand) > max(problem.capacities):
        return None, frozenset()
    sizes = sorted(demand, reverse=True)
    wider = Problem(
        np.array(sizes, dtype=np.int64),
        np.array([demand[size] for size in sizes], dtype=np.int64),
        problem.capacities,
        problem.prices,
        problem.available,
    )
    return wider, frozenset(fillers)


def _without(problem: Problem, wider: Problem, plan: Plan, fillers: frozenset[int]) -> Plan:
    """The plan of the wider problem with its fillers left out again."""
    place = {int(size): i for i, size in enumerate(problem.sizes)}
    rows = []
    for use, many in plan.times.items():
        pieces = [(int(wider.sizes[i]), count) for i, count in use.pattern]
        pattern = tuple(sorted((place[size], count) for size, count in pieces if size not in fillers))
        rows.append((Use(use.bar, pattern), many))
    return plan_of(problem, rows)
