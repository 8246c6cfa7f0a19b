"""The cutting plan: pieces out of stock bars with little waste, and a bound that says how little is possible.

This is the library call; from a takeoff to plans for each section is bars.py's work.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, NamedTuple

import numpy as np

from takeoff.cutting import checker, engine, keeping, leftover, runs, tidy
from takeoff.cutting.problem import Plan, Problem, Use

SECONDS: Final = 120.0
"""The safety valve of one plan. Plans stop by counts, long before, on any usual job."""

FEW_SIZES: Final = 150
"""Up to so many lengths a plan of fewer patterns at the same cost is looked for unasked."""

Stock = tuple[int, float, int | None]
"""Length in mm, price of one bar, and how many there are (None: as many as wanted)."""


class CutPattern(NamedTuple):
    """``times`` bars of ``stock_length`` mm are cut alike; ``quantities`` runs over the lengths asked for."""

    stock_length: int
    times: int
    quantities: tuple[int, ...]


@dataclass(frozen=True)
class CuttingPlan:
    """What to cut from which bars.

    ``bars`` in all, their ``cost``, and ``lower_bound``: no plan costs less. ``proved``: the
    plan is the cheapest there is. ``patterns`` in cutting order, ``kinds`` which entry of the
    stock each is cut from, ``offcuts`` what is left of each bar in mm. ``missing`` counts,
    for each length, the pieces for which there is no bar (too long, or the stock is too
    small). Pieces too long for every bar are no part of the bound or the proof; where the
    stock is too small the bound is 0. ``stopped``: the clock ended the search, so another machine
    might find a better plan. ``alternative``: a plan with fewer patterns that costs more.
    """

    patterns: tuple[CutPattern, ...]
    kinds: tuple[int, ...]
    offcuts: tuple[int, ...]
    bars: int
    cost: float
    lower_bound: float
    proved: bool
    missing: tuple[int, ...]
    stopped: bool = False
    alternative: CuttingPlan | None = None

    @property
    def gap(self) -> float:
        """How far the cost may lie above the least, as a share of the bound; 0 where proved."""
        return 0.0 if self.proved or not self.lower_bound else self.cost / self.lower_bound - 1.0


def cutting_plan(
    lengths: Sequence[int],
    quantities: Sequence[int],
    stock: Sequence[Stock],
    *,
    kerf: int = 0,
    trim: int = 0,
    stub: int = 0,
    keep: int = 0,
    alternative: bool = False,
    seconds: float = SECONDS,
) -> CuttingPlan:
    """Cut ``quantities`` of ``lengths`` from ``stock`` at the least cost; then with the least useless waste.

    lengths: whole mm, each > 0; a length may come more than once.
    quantities: pieces of each length, >= 0.
    stock: (length, price, available) of each kind of bar.
    kerf: mm between two pieces, and behind the last one unless it ends with the bar.
    trim: mm of every bar that are scrap, both ends together.
    stub: mm that stay behind the last cut at least (what a grip cannot feed); it is part of
    the off-cut.
    keep: an off-cut from this length on is of use again; 0: none is.
    alternative: look for a second plan with fewer patterns too.
    seconds: a safety valve; a plan that it cut short says so.

    The same arguments give the same plan on every machine, and in whatever order lengths
    and stock are named, the same cost. Raises ValueError for arguments that make no sense.
    """
    _check(lengths, quantities, stock, (kerf, trim, stub, keep))
    longest = max((bar - trim - stub for bar, _, most in stock if most != 0), default=0)
    wanted: dict[int, int] = {}
    for length, many in zip(lengths, quantities, strict=True):
        # Equal lengths of several marks are one size to the engine, and are shared out again after.
        if many and length <= longest:
            wanted[length] = wanted.get(length, 0) + many
    sizes = sorted(wanted, reverse=True)
    order = sorted(
        (k for k, (bar, _, most) in enumerate(stock) if sizes and most != 0 and bar - trim - stub >= sizes[-1]),
        key=lambda k: (-stock[k][0], stock[k][1], stock[k][2] is None, stock[k][2] or 0, k),
    )
    if not sizes:
        return CuttingPlan((), (), (), 0, 0, 0, not any(quantities), tuple(quantities))
    prices, unit = _whole_prices([stock[k][1] for k in order])
    problem = Problem(
        np.array(sizes, dtype=np.int64) + kerf,
        np.array([wanted[size] for size in sizes], dtype=np.int64),
        tuple(stock[k][0] - trim - stub + kerf for k in order),
        prices,
        tuple(stock[k][2] for k in order),
    )

    def offcut(kind: int, used: int) -> int:
        # the last cut needs no kerf where the piece ends with the bar
        return max(0, stock[order[kind]][0] - trim - used)

    def useless(kind: int, used: int) -> int:
        left = offcut(kind, used)
        return 0 if left >= keep else left

    end = time.monotonic() + seconds

    def left() -> float:
        return end - time.monotonic()

    solved = engine.solve(problem, seconds)
    best = solved.plan
    if keep and not solved.stopped:
        best = tidy.less_waste(problem, best, solved.pool, useless, seconds)
        # what an off-cut to keep takes of a bar's capacity, and what is left behind a full bar
        shortest, full = keep + kerf - stub, stub - kerf
        best = keeping.keep_more(problem, best, useless, shortest, left)
        best = leftover.least_waste(problem, best, useless, shortest, full, solved.pool.uses, left)
    best = tidy.fewer_patterns(problem, best, useless)
    second = runs.few_patterns(problem, best) if alternative or len(sizes) <= FEW_SIZES else None
    if second and second.price == best.price:
        # no dearer: then less waste decides, and after it fewer patterns
        wastes = [tidy.total_waste(problem, plan, useless) for plan in (best, second)]
        if wastes[1] <= wastes[0]:
            best, second = second, None

    def public(plan: Plan, other: CuttingPlan | None) -> CuttingPlan:
        rows = _shared_out(lengths, quantities, plan, sizes)
        uses = sorted(rows, key=lambda row: (row[0].bar, -row[1], [-q for q in row[2]]))
        patterns = tuple(CutPattern(stock[order[use.bar]][0], many, pieces) for use, many, pieces in uses)
        made = [sum(p.times * p.quantities[i] for p in patterns) for i in range(len(lengths))]
        bound = 0 if plan.short else solved.bound
        result = CuttingPlan(
            patterns,
            tuple(order[use.bar] for use, _, _ in uses),
            tuple(offcut(use.bar, problem.used(use.pattern)) for use, _, _ in uses),
            sum(p.times for p in patterns),
            _number(Fraction(plan.price, unit)),
            _number(Fraction(bound, unit)),
            bound > 0 and plan.price <= bound,
            tuple(q - m for q, m in zip(quantities, made, strict=True)),
            solved.stopped,
            other,
        )
        wrong = checker.faults(
            lengths,
            quantities,
            stock,
            result.patterns,
            result.kinds,
            result.missing,
            kerf=kerf,
            trim=trim,
            stub=stub,
        )
        if wrong:
            raise RuntimeError(f"an unsound cutting plan: {'; '.join(wrong)}")
        return result

    return public(best, public(second, None) if second and alternative else None)


def _check(lengths: Sequence[int], quantities: Sequence[int], stock: Sequence[Stock], amounts: tuple[int, ...]) -> None:
    if len(lengths) != len(quantities):
        raise ValueError(f"{len(lengths)} lengths but {len(quantities)} quantities")
    whole = (*lengths, *quantities, *amounts, *(bar for bar, _, _ in stock))
    whole += tuple(most for _, _, most in stock if most is not None)
    for value in whole:
        if isinstance(value, bool) or not isinstance(value, int | np.integer):
            raise ValueError(f"{value!r} is not a whole number")
        if value < 0:
            raise ValueError(f"{value} is negative")
    if 0 in lengths or any(bar == 0 for bar, _, _ in stock):
        raise ValueError("a length of 0")
    if not all(math.isfinite(price) and price >= 0 for _, price, _ in stock):
        raise ValueError("a price that is negative or not a number")


def _whole_prices(prices: Sequence[float]) -> tuple[tuple[int, ...], int]:
    """Prices as whole numbers of 1 / unit, and the unit. They are taken to a millionth.

    ValueError where every bar is free: there is then nothing to minimise.
    """
    exact = [Fraction(round(Fraction(str(price)) * 1_000_000), 1_000_000) for price in prices]
    unit = math.lcm(*(price.denominator for price in exact))
    whole = tuple(int(price * unit) for price in exact)
    if not any(whole):
        raise ValueError("every bar is free: give at least one a price")
    return whole, unit


def _number(value: Fraction) -> float:
    return int(value) if value.denominator == 1 else float(value)


def _shared_out(
    lengths: Sequence[int], quantities: Sequence[int], plan: Plan, sizes: Sequence[int]
) -> list[tuple[Use, int, tuple[int, ...]]]:
    """The plan's patterns with every size shared out to the entries of that length, in their order.

    A pattern is split only where one entry's pieces run out within it.
    """
    places: dict[int, list[int]] = {}
    for i, length in enumerate(lengths):
        places.setdefault(length, []).append(i)
    rest = list(quantities)
    rows: dict[tuple[Use, tuple[int, ...]], int] = {}
    for use, times in plan.times.items():
        left = times
        while left:
            pieces = [0] * len(lengths)
            run = left
            for size, many in use.pattern:
                need = many
                for i in places[sizes[size]]:
                    took = min(need, rest[i])
                    if took:
                        pieces[i] = took
                        need -= took
                        run = min(run, rest[i] // took)
            for i, took in enumerate(pieces):
                rest[i] -= took * run
            key = (use, tuple(pieces))
            rows[key] = rows.get(key, 0) + run
            left -= run
    return [(use, times, pieces) for (use, pieces), times in rows.items()]
