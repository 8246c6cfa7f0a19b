"""From a takeoff to bars: a cutting plan for each section, grade and finish, and what to order.

Plates are cut from sheets, not bars, and have no part in it. Held pieces wait: no bar is
cut for a piece that is not certain. What it does not know: mill tolerances on the length
of a bar, and straightness.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from takeoff.order import natural
from takeoff.plans import BarPattern, BarPiece, BarPlan, Bars, OrderLine, SecondPlan
from takeoff.queries import ASSUMED, CHECK, Query, query, register
from takeoff.settings import BarSettings
from takeoff.steel import HELD, PLATE, Piece, Section, Takeoff
from takeoff.stock import CuttingPlan, cutting_plan
from takeoff.units import COINCIDENCE_MM, millimetres

TOO_LONG: Final = register(
    "bar-too-short",
    CHECK,
    "{0}: {1} mm long, and the longest piece that a bar of {2} gives is {3} mm, so it is in no cutting plan.",
    "Order a longer bar for it and add its length to [bars] in the settings, or ask the designer for a splice.",
)
STOCK_USED_UP: Final = register(
    "bars-not-enough",
    CHECK,
    "{0}: the bars that are to be had do not hold {1} of {2}.",
    "Raise or take out the limit under [bars] in the settings, or order bars for these pieces.",
)
RACK_NOT_USED: Final = register(
    "bars-in-stock-no-section",
    CHECK,
    "The job has nothing of the section and grade of these bars in stock: {0}.",
    "Write section and grade under in_stock in [bars] as the lists do; if the job has none of them, all is well.",
)
ASSUMED_STOCK: Final = register(
    "bars-assumed",
    ASSUMED,
    "The cutting plan takes the shop to have {0}.",
    "Write the shop's own bars, kerf, trims and grip under [bars] in the settings.",
)

Batch = tuple[str, str, str, str]
"""Shape, designation, grade, finish."""


def plan_bars(takeoff: Takeoff, settings: BarSettings) -> Bars:
    """Cutting plans for everything of a takeoff that is cut from bars, with what to ask.

    Raises ValueError where a length of ``settings`` is not in whole mm.
    """
    _check_whole(settings)
    batches: dict[Batch, list[Piece]] = defaultdict(list)
    waiting: list[tuple[str, int]] = []
    for piece in takeoff.pieces:
        if piece.section.shape == PLATE or not piece.quantity:
            continue
        if piece.status == HELD:
            waiting.append((piece.mark, piece.quantity))
        else:
            key = (piece.section.shape, piece.section.designation, piece.grade, piece.finish)
            batches[key].append(piece)
    plans: list[BarPlan] = []
    order: list[OrderLine] = []
    queries: list[Query] = []
    rest = _in_stock(settings)
    for batch in sorted(batches, key=lambda b: (b[0], natural(b[1]), b[2:])):
        plan, lines, found = _plan(batches[batch], settings, rest, sum(len(p.patterns) for p in plans))
        plans.append(plan)
        order += lines
        queries += found
        for pattern in plan.patterns:
            if pattern.in_stock:
                # two finishes of one section draw on the same rack
                rest[batch[1], batch[2], pattern.stock_length] -= pattern.times
    queries += _strangers(takeoff, settings)
    rules = _rules(settings)
    if batches and settings == replace(BarSettings(), punches_per_head=settings.punches_per_head):
        queries.append(query(ASSUMED_STOCK, ", ".join(rules)))
    return Bars(tuple(plans), tuple(order), tuple(waiting), rules, tuple(queries))


def _check_whole(settings: BarSettings) -> None:
    amounts = (settings.kerf_mm, settings.front_trim_mm, settings.end_trim_mm, settings.grip_mm, settings.keep_mm)
    for value in (*settings.lengths_mm, *amounts):
        if not float(value).is_integer():
            raise ValueError(f"{value} mm of the settings of the bars is not in whole mm")


def _strangers(takeoff: Takeoff, settings: BarSettings) -> Iterable[Query]:
    """One query on the bars in stock that are of no section and grade of the job: a slip of the pen, it may be."""
    there = {(piece.section.designation, piece.grade) for piece in takeoff.pieces if piece.section.shape != PLATE}
    strange = sorted(
        {
            f"{designation} {grade}".strip()
            for (designation, grade, _), many in _in_stock(settings).items()
            if many and (designation, grade) not in there
        },
        key=natural,
    )
    if strange:
        yield query(RACK_NOT_USED, "; ".join(strange))


def _in_stock(settings: BarSettings) -> dict[tuple[str, str, int], int]:
    rack: dict[tuple[str, str, int], int] = defaultdict(int)
    for key, many in settings.in_stock.items():
        section, grade, length = (part.strip() for part in key.split(","))
        rack[section, grade, int(length)] += many
    return rack


def _rules(settings: BarSettings) -> tuple[str, ...]:
    lengths = " and ".join(f"{length:g}" for length in sorted(settings.lengths_mm))
    limits = [f"at most {many} of {length} mm" for length, many in sorted(settings.available.items())]
    own = sum(settings.in_stock.values())
    if own:
        limits.append(f"{own} bars and off-cuts of the shop's own in all sections")
    if settings.prices:
        limits.append("prices by bar")
    return (
        f"bars of {lengths} mm",
        *limits,
        f"kerf {settings.kerf_mm:g} mm",
        f"trims {settings.front_trim_mm:g} and {settings.end_trim_mm:g} mm",
        f"{settings.grip_mm:g} mm that the grip cannot feed",
        f"off-cuts kept from {settings.keep_mm:g} mm on",
    )


def _plan(
    pieces: Sequence[Piece], settings: BarSettings, rack: dict[tuple[str, str, int], int], before: int
) -> tuple[BarPlan, tuple[OrderLine, ...], list[Query]]:
    """The plan of one batch and its bars to order; its patterns are numbered on from ``before``."""
    section, grade = pieces[0].section, pieces[0].grade
    # Whole millimetres, pieces rounded up: tenths gain nothing and make the plan ten times as slow.
    lengths = [math.ceil(piece.length - COINCIDENCE_MM) for piece in pieces]
    stock: list[tuple[int, float, int | None]] = []
    for length in sorted({int(value) for value in settings.lengths_mm}):
        price = settings.prices.get(str(length), float(length))
        stock.append((length, price, settings.available.get(str(length))))
    new = len(stock)
    # What a mm of new bar costs at the least; bars of the shop's own count as a share of it, in the same money.
    rate = min((price / bar for bar, price, _ in stock), default=1.0)
    for (designation, of_grade, length), many in sorted(rack.items()):
        if (designation, of_grade) == (section.designation, grade) and many > 0:
            counts = length * rate * settings.in_stock_price
            stock.append((length, max(0.001, round(counts, 3 if counts >= 1.0 else 6)), many))
    kerf, front, grip = int(settings.kerf_mm), int(settings.front_trim_mm), int(settings.grip_mm)
    # The last cut's kerf lies in the end trim, but not in what the grip holds.
    stub = max(int(settings.end_trim_mm), grip + kerf if grip else 0)
    made = cutting_plan(
        lengths,
        [piece.quantity for piece in pieces],
        stock,
        kerf=kerf,
        trim=front,
        stub=stub,
        keep=int(settings.keep_mm),
        alternative=True,
    )
    patterns = tuple(
        BarPattern(
            before + number,
            cut.stock_length,
            kind >= new,
            cut.times,
            _placed(pieces, cut.quantities, front, kerf),
            offcut,
            offcut >= settings.keep_mm,
        )
        for number, (cut, kind, offcut) in enumerate(zip(made.patterns, made.kinds, made.offcuts, strict=True), 1)
    )
    bar_length = sum(p.stock_length * p.times for p in patterns)
    piece_length = sum(piece.length * p.times for p in patterns for piece in p.pieces)
    longest = max(bar - front - stub for bar, _, most in stock if most != 0) if any(s[2] != 0 for s in stock) else 0
    too_long = [i for i, length in enumerate(lengths) if length > longest]
    short = [i for i, many in enumerate(made.missing) if many and i not in too_long]
    prices = {(bar, kind >= new): price for kind, (bar, price, _) in enumerate(stock)}
    plan = BarPlan(
        section,
        grade,
        pieces[0].finish,
        patterns,
        made.cost,
        made.lower_bound,
        _least_bars(made, stock),
        not settings.prices and len(stock) == new,
        made.proved,
        made.stopped,
        piece_length / bar_length if bar_length else 0.0,
        _second(made),
        tuple(pieces[i].mark for i in too_long),
        tuple((pieces[i].mark, made.missing[i]) for i in short),
    )
    lines = tuple(_order(plan, prices))
    queries = [
        query(
            TOO_LONG,
            pieces[i].mark,
            millimetres(pieces[i].length),
            f"{max((bar for bar, _, _ in stock), default=0)} mm",
            max(longest, 0),
            piece_mark=pieces[i].mark,
        )
        for i in too_long
    ]
    queries += [
        query(
            STOCK_USED_UP, _name(section, grade), f"{made.missing[i]} pieces", pieces[i].mark, piece_mark=pieces[i].mark
        )
        for i in short
    ]
    return plan, lines, queries


def _name(section: Section, grade: str) -> str:
    return f"{section.designation} {grade}".strip()


def _placed(pieces: Sequence[Piece], quantities: Sequence[int], front: int, kerf: int) -> tuple[BarPiece, ...]:
    """The pieces of one bar from its front: the longest first, so that a slip costs a short one."""
    order = sorted(range(len(pieces)), key=lambda i: (-pieces[i].length, natural(pieces[i].mark)))
    placed = []
    at = float(front)
    for i in order:
        for _ in range(quantities[i]):
            placed.append(BarPiece(pieces[i].mark, pieces[i].length, at, at + pieces[i].length))
            at += pieces[i].length + kerf
    return tuple(placed)


def _least_bars(made: CuttingPlan, stock: Sequence[tuple[int, float, int | None]]) -> int | None:
    """The bound as a number of bars, where all bars cost the same."""
    prices = {price for _, price, most in stock if most != 0}
    if len(prices) != 1 or not made.lower_bound:
        return None
    return math.ceil(round(made.lower_bound / prices.pop(), 6))


def _second(made: CuttingPlan) -> SecondPlan | None:
    other = made.alternative
    if other is None:
        return None
    return SecondPlan(len(other.patterns), other.bars, other.cost / made.cost - 1.0 if made.cost else 0.0)


def _order(plan: BarPlan, prices: Mapping[tuple[int, bool], float]) -> Iterable[OrderLine]:
    """Bars by length. What the bound leaves for a length, with the other lengths as planned, is its least number."""
    counts: dict[tuple[int, bool], int] = defaultdict(int)
    for pattern in plan.patterns:
        counts[pattern.stock_length, pattern.in_stock] += pattern.times
    for (length, in_stock), bars in sorted(counts.items()):
        mass = plan.section.mass_kg_per_m
        price = prices[length, in_stock]
        others = plan.cost - bars * price
        least = max(0, math.ceil(round((plan.least_cost - others) / price, 6))) if price and plan.least_cost else None
        yield OrderLine(
            plan.section.designation,
            plan.grade,
            plan.finish,
            length,
            in_stock,
            bars,
            bars * length / 1000.0 * mass if mass > 0 else None,
            least,
        )
