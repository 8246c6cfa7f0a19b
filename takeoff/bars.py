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
from typing import Final, TypedDict

from takeoff.order import natural
from takeoff.plans import BarPattern, BarPiece, BarPlan, Bars, OrderLine, SecondPattern, SecondPlan
from takeoff.queries import ASSUMED, CHECK, Query, query, register
from takeoff.settings import BarSettings, unpriced
from takeoff.steel import HELD, PLATE, Piece, Section, Takeoff
from takeoff.stock import CuttingPlan, cutting_plan
from takeoff.units import COINCIDENCE_MM, millimetres

TOO_LONG: Final = register(
    "bar-too-short",
    CHECK,
    "Too long for every bar, and in no cutting plan: {0}. The longest piece that a bar of {1} mm gives is {2} mm.",
    "Order longer bars and add their length to [bars] in the settings, or ask the designer for a splice.",
)
STOCK_USED_UP: Final = register(
    "bars-not-enough",
    CHECK,
    "{0}: the bars that are to be had do not hold {1}.",
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

    Raises ValueError where a length of ``settings`` is not in whole mm, or some lengths have a price and others none.
    """
    _check(settings)
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
    # Two finishes of one section draw on the same rack, and on the same limit of new bars.
    rest, new = _in_stock(settings), _Limits(settings)
    reach: list[tuple[int, int]] = []
    for batch in sorted(batches, key=lambda b: (b[0], natural(b[1]), b[2:])):
        limits = new.left(batch)
        plan, lines, longest = _plan(batches[batch], settings, rest, limits, sum(len(p.patterns) for p in plans))
        plans.append(plan)
        order += lines
        reach.append(longest)
        for pattern in plan.patterns:
            if pattern.in_stock:
                rest[batch[1], batch[2], pattern.stock_length] -= pattern.times
            elif pattern.stock_length in limits:
                limits[pattern.stock_length] -= pattern.times
    queries = [*_too_long(takeoff, plans, reach), *_used_up(takeoff, plans), *_strangers(takeoff, settings)]
    rules = _rules(settings)
    if batches and settings == replace(BarSettings(), punches_per_head=settings.punches_per_head):
        queries.append(query(ASSUMED_STOCK, ", ".join(rules)))
    return Bars(tuple(plans), tuple(order), tuple(waiting), rules, tuple(queries))


class _Whose(TypedDict):
    piece_mark: str
    global_ids: tuple[str, ...]


class _Limits:
    """How many new bars of each length are left for a section and grade; only of lengths that have a limit."""

    def __init__(self, settings: BarSettings) -> None:
        self.all = {int(length): many for length, many in settings.available.items()}
        self.of: dict[tuple[str, str], dict[int, int]] = {}

    def left(self, batch: Batch) -> dict[int, int]:
        """The numbers of a batch, to be reduced by what is cut for it."""
        return self.of.setdefault((batch[1], batch[2]), dict(self.all))


def _check(settings: BarSettings) -> None:
    if sentence := unpriced(settings):
        raise ValueError(sentence)
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


def _too_long(takeoff: Takeoff, plans: Sequence[BarPlan], reach: Sequence[tuple[int, int]]) -> Iterable[Query]:
    """One query for all marks that the same longest bar is too short for."""
    found: dict[tuple[int, int], list[str]] = defaultdict(list)
    for plan, bar_and_piece in zip(plans, reach, strict=True):
        found[bar_and_piece] += plan.too_long
    for (bar, piece), marks in sorted(found.items()):
        if marks:
            pieces = _of_marks(takeoff, marks)
            words = ", ".join(f"{p.quantity} x {p.mark} of {millimetres(p.length)} mm" for p in pieces)
            yield query(TOO_LONG, words, bar, piece, **_whose(takeoff, pieces))


def _used_up(takeoff: Takeoff, plans: Sequence[BarPlan]) -> Iterable[Query]:
    """One query for each section and grade whose bars run out, whatever the finish."""
    found: dict[str, dict[str, int]] = defaultdict(dict)
    for plan in plans:
        if plan.not_cut:
            found[_name(plan.section, plan.grade)] |= dict(plan.not_cut)
    for name, missing in found.items():
        pieces = _of_marks(takeoff, missing)
        words = ", ".join(f"{missing[piece.mark]} x {piece.mark}" for piece in pieces)
        yield query(STOCK_USED_UP, name, words, **_whose(takeoff, pieces))


def _of_marks(takeoff: Takeoff, marks: Iterable[str]) -> list[Piece]:
    wanted = set(marks)
    return sorted((p for p in takeoff.pieces if p.mark in wanted), key=lambda p: natural(p.mark))


def _whose(takeoff: Takeoff, pieces: Sequence[Piece]) -> _Whose:
    """The parts that a query is about, and the mark where it is about one alone."""
    members = takeoff.model.members
    ids = {members[i].global_id for piece in pieces for i in piece.members}
    return {"piece_mark": pieces[0].mark if len(pieces) == 1 else "", "global_ids": tuple(sorted(ids))}


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
    pieces: Sequence[Piece],
    settings: BarSettings,
    rack: Mapping[tuple[str, str, int], int],
    limits: Mapping[int, int],
    before: int,
) -> tuple[BarPlan, tuple[OrderLine, ...], tuple[int, int]]:
    """The plan of one batch, its bars to order, the longest bar and the longest piece (mm) that it gives.

    Its patterns are numbered on from ``before``.
    """
    section, grade = pieces[0].section, pieces[0].grade
    # Whole millimetres, pieces rounded up: tenths gain nothing and make the plan ten times as slow.
    lengths = [math.ceil(piece.length - COINCIDENCE_MM) for piece in pieces]
    stock: list[tuple[int, float, int | None]] = []
    for length in sorted({int(value) for value in settings.lengths_mm}):
        price = settings.prices.get(str(length), float(length))
        stock.append((length, price, limits.get(length)))
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
    # A bar of which none is left is one that ran out, not one that is too short.
    longest_bar = max((bar for bar, _, _ in stock if settings.available.get(str(bar)) != 0), default=0)
    longest = max(0, longest_bar - front - stub)
    too_long = [i for i, length in enumerate(lengths) if longest_bar and length > longest]
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
        _second(made, pieces, new),
        tuple(pieces[i].mark for i in too_long),
        tuple((pieces[i].mark, made.missing[i]) for i in short),
    )
    lines = tuple(_order(plan, prices))
    return plan, lines, (longest_bar, longest)


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


def _second(made: CuttingPlan, pieces: Sequence[Piece], new: int) -> SecondPlan | None:
    """The plan of fewer patterns, where there is one; kinds of bar from ``new`` on are the shop's own."""
    other = made.alternative
    if other is None:
        return None
    longest_first = sorted(range(len(pieces)), key=lambda i: (-pieces[i].length, natural(pieces[i].mark)))
    patterns = tuple(
        SecondPattern(
            cut.stock_length,
            kind >= new,
            cut.times,
            tuple((pieces[i].mark, cut.quantities[i]) for i in longest_first if cut.quantities[i]),
        )
        for cut, kind in zip(other.patterns, other.kinds, strict=True)
    )
    return SecondPlan(patterns, other.cost / made.cost - 1.0 if made.cost else 0.0)


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
