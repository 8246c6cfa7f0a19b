"""A cutting problem in whole numbers, and plans for it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import gcd
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

Pattern = tuple[tuple[int, int], ...]
"""(index of the size, how many) of one bar, by index; only those that are cut."""


class Use(NamedTuple):
    """A pattern cut from bars of one kind."""

    bar: int
    pattern: Pattern


@dataclass(frozen=True)
class Problem:
    """Sizes to cut and bars to cut them from, all whole numbers of one unit.

    ``sizes`` (n,) strictly falling, each with ``demand`` (n,) >= 1 and no larger than the
    largest of ``capacities``. ``capacities``, ``prices`` >= 1 and ``available`` (None: as
    many as wanted) run over the kinds of bar.
    """

    sizes: IntArray
    demand: IntArray
    capacities: tuple[int, ...]
    prices: tuple[int, ...]
    available: tuple[int | None, ...]

    @cached_property
    def step(self) -> int:
        """Every plan's price is a multiple of this."""
        return gcd(*self.prices)

    @cached_property
    def limited(self) -> tuple[int, ...]:
        """The kinds of bar of which there are only so many."""
        return tuple(k for k, many in enumerate(self.available) if many is not None)

    def rounded_up(self, numerator: int, denominator: int = 1) -> int:
        """The least price that a plan can have which is no less than a fraction."""
        return -(-numerator // (denominator * self.step)) * self.step

    def used(self, pattern: Pattern) -> int:
        """How much of a capacity a pattern takes."""
        return sum(int(self.sizes[i]) * many for i, many in pattern)


@dataclass(frozen=True)
class Plan:
    """Bars to cut: how often each pattern. ``missing`` (n,) counts what no bar was left for."""

    times: Mapping[Use, int]
    price: int
    missing: IntArray

    @cached_property
    def short(self) -> bool:
        return bool(self.missing.any())

    def rank(self, problem: Problem) -> tuple[int, int]:
        """What is not cut (in size), then the price: the smaller plan is the better one."""
        return int(self.missing @ problem.sizes), self.price


def plan_of(problem: Problem, uses: Iterable[tuple[Use, int]]) -> Plan:
    """A plan from patterns that cut no less than the demand, or fall short of it.

    What is cut too much is taken off again, and each bar becomes the cheapest kind that
    still holds its pieces and is to be had.
    """
    over = -problem.demand.copy()
    rows = [(use, many) for use, many in uses if many > 0]
    for (_, pattern), many in rows:
        for i, count in pattern:
            over[i] += count * many
    times: dict[Use, int] = {}
    for use, many in rows:
        for trimmed, share in _trimmed(use, many, over):
            if trimmed.pattern:
                times[trimmed] = times.get(trimmed, 0) + share
    times = _cheapest(problem, times)
    price = sum(problem.prices[use.bar] * many for use, many in times.items())
    return Plan(dict(sorted(times.items())), price, np.maximum(-over, 0))


def _trimmed(use: Use, many: int, over: IntArray) -> Iterable[tuple[Use, int]]:
    """A use with surplus pieces left out, split where only some of its bars lose one."""
    if not any(over[i] > 0 for i, _ in use.pattern):
        return [(use, many)]
    groups: list[tuple[Pattern, int]] = [(use.pattern, many)]
    for i, count in use.pattern:
        surplus = int(min(over[i], count * many))
        if surplus <= 0:
            continue
        over[i] -= surplus
        split: list[tuple[Pattern, int]] = []
        for pattern, bars in groups:
            whole, part = divmod(surplus, count)
            whole = min(whole, bars)
            split.append((_less(pattern, i, count), whole))
            surplus -= whole * count
            rest = bars - whole
            if surplus and rest:
                split.append((_less(pattern, i, part), 1))
                surplus -= part
                rest -= 1
            split.append((pattern, rest))
        groups = [(pattern, bars) for pattern, bars in split if bars]
    return [(Use(use.bar, pattern), bars) for pattern, bars in groups]


def _less(pattern: Pattern, size: int, fewer: int) -> Pattern:
    return tuple((i, many - fewer * (i == size)) for i, many in pattern if many - fewer * (i == size) > 0)


def _cheapest(problem: Problem, times: Mapping[Use, int]) -> dict[Use, int]:
    """Each bar exchanged for the cheapest kind that holds its pieces, while there are some."""
    if len(problem.prices) == 1:
        return dict(times)
    left = list(problem.available)
    for use, many in times.items():
        stock = left[use.bar]
        if stock is not None:
            left[use.bar] = stock - many
    kinds = sorted(range(len(problem.prices)), key=lambda k: (problem.prices[k], problem.capacities[k], k))
    result: dict[Use, int] = {}
    for use, many in sorted(times.items()):
        room = problem.used(use.pattern)
        rest = many
        for kind in kinds:
            if problem.prices[kind] >= problem.prices[use.bar]:
                break
            if problem.capacities[kind] < room:
                continue
            stock = left[kind]
            moved = rest if stock is None else min(rest, max(stock, 0))
            if moved:
                better = Use(kind, use.pattern)
                result[better] = result.get(better, 0) + moved
                if stock is not None:
                    left[kind] = stock - moved
                own = left[use.bar]
                if own is not None:
                    left[use.bar] = own + moved
                rest -= moved
        if rest:
            result[use] = result.get(use, 0) + rest
    return result


def better(problem: Problem, one: Plan | None, other: Plan | None) -> Plan | None:
    """The better of two plans; the first where they are alike."""
    if one is None or other is None:
        return one or other
    return other if other.rank(problem) < one.rank(problem) else one


def pattern_of(counts: Sequence[int] | IntArray) -> Pattern:
    """Dense counts (n,) as a pattern."""
    dense = np.asarray(counts)
    return tuple((int(i), int(dense[i])) for i in np.flatnonzero(dense))
