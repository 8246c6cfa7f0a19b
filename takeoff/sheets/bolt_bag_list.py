"""Bolt bags: what goes into each, and that bags and spares make up the order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from takeoff.dispatch import Bag, BagLine, BoltKind, Dispatch, Level
from takeoff.settings import Settings
from takeoff.sheets import measure
from takeoff.sheets.adding import add_up
from takeoff.sheets.bolt_words import kind_words
from takeoff.sheets.flow import Flow
from takeoff.sheets.places import level_words
from takeoff.sheets.tables import GROUP, TOTAL, Column, Row
from takeoff.steel import BoltLine, Takeoff
from takeoff.words import say


def set_bags(flow: Flow, takeoff: Takeoff, settings: Settings, dispatch: Dispatch) -> None:
    """A group of lines for each bag, then the proof; nothing where there are no bolts."""
    if not dispatch.bags:
        return
    levels = {level.number: level for level in dispatch.erection.levels}
    bags = dispatch.bags
    lines = [line for bag in bags for line in bag.lines]
    springs, tapers = any(line.springs for line in lines), any(line.tapers for line in lines)
    flow.turn("bags", say("Bolt bags"), 1)
    flow.heading(say("Bolt bags"))
    by = say("level of the structure") if settings.shipping.bags_by == "level" else say("assembly")
    flow.paragraph(say("A bag for each {section}, with nuts and washers; the spares are in a bag apart.", section=by))
    columns = (
        Column(say("Bolt"), flex=1.0, bold=True),
        Column(say("Bolts"), "right", bold=True, least=50.0),
        Column(say("Nuts"), "right", least=50.0),
        Column(say("Washers"), "right", least=50.0),
        *((Column(say("Spring washers"), "right"),) if springs else ()),
        *((Column(say("Taper washers"), "right"),) if tapers else ()),
        Column(say("kg"), "right", least=50.0),
        Column(say("Packed"), least=50.0),
    )
    weights = add_up([line.weight or 0.0 for line in lines], 2)
    rows: list[Row] = []
    start = 0
    for bag in bags:
        own = weights[start : start + len(bag.lines)]
        start += len(bag.lines)
        rows.append(Row((bag_words(bag, settings, levels),), GROUP))
        for line, weight in zip(bag.lines, own, strict=True):
            rows.append(_row(kind_words(line.kind), [line], weight, springs, tapers, line.weight is not None))
        known = any(line.weight is not None for line in bag.lines)
        rows.append(_row(say("All in the bag"), bag.lines, sum(own), springs, tapers, known, TOTAL))
    rows.append(_row(say("All bags"), lines, sum(weights), springs, tapers, style=TOTAL))
    flow.table(columns, rows, 7.0)
    if any(line.weight is None for line in lines):
        flow.paragraph(say("Where no weight stands, it is not known and is missing from the totals."))
    _proof(flow, takeoff, dispatch)


def bag_words(bag: Bag, settings: Settings, levels: Mapping[int, Level]) -> str:
    """``Bag 2 · Level 2, from +2.125 m``."""
    if bag.spare:
        return say("Bag {number} · spares", number=bag.number)
    if not bag.section:
        by_level = settings.shipping.bags_by == "level"
        section = say("place not known") if by_level else say("between assemblies, on site")
    elif settings.shipping.bags_by == "level":
        section = level_words(int(bag.section), levels)
    else:
        section = bag.section
    return say("Bag {number} · {section}", number=bag.number, section=section)


def _row(
    name: str, lines: Sequence[BagLine], weight: float, springs: bool, tapers: bool, weighed: bool = True,
    style: str = "plain",
) -> Row:  # fmt: skip
    return Row(
        (
            name,
            str(sum(line.bolts for line in lines)),
            str(sum(line.nuts for line in lines)),
            str(sum(line.washers for line in lines)),
            *((str(sum(line.springs for line in lines)),) if springs else ()),
            *((str(sum(line.tapers for line in lines)),) if tapers else ()),
            measure.figure(weight, 2) if weighed else "",
            "",
        ),
        style,
    )


def _proof(flow: Flow, takeoff: Takeoff, dispatch: Dispatch) -> None:
    """Bags + spares = to order, kind by kind."""
    packed: dict[BoltKind, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for bag in dispatch.bags:
        for line in bag.lines:
            entry = packed[line.kind]
            entry[1 if bag.spare else 0] += line.bolts
            entry[2] += line.nuts
            entry[3] += line.washers
    ordered = {_kind(line): line for line in takeoff.bolt_lines}
    rows = []
    totals = [0] * 5
    for kind in sorted(set(packed) | set(ordered)):
        in_bags, spare, nuts, washers = packed[kind]
        to_order = ordered[kind].to_order if kind in ordered else 0
        asked = _hardware(ordered[kind]) if kind in ordered else (0, 0)
        even = in_bags + spare == to_order and (nuts, washers) == asked
        figures = (in_bags, spare, to_order, nuts, washers)
        totals = [total + figure for total, figure in zip(totals, figures, strict=True)]
        said = say("agrees") if even else say("DOES NOT AGREE")
        rows.append(Row((kind_words(kind), *(str(f) for f in figures), said)))
    rows.append(Row((say("All"), *(str(total) for total in totals), ""), TOTAL))
    flow.heading(say("Bags and spares make up the order"), 11.0, 60.0)
    columns = (
        Column(say("Bolt"), flex=1.0, bold=True),
        Column(say("In bags"), "right"),
        Column(say("Spare"), "right"),
        Column(say("To order"), "right", bold=True),
        Column(say("Nuts"), "right"),
        Column(say("Washers"), "right"),
        Column("", bold=True),
    )
    flow.table(columns, rows)


def _kind(line: BoltLine) -> BoltKind:
    return BoltKind(line.diameter or 0.0, line.length or 0.0, line.grade, line.standard, line.length_source == "rule")


def _hardware(line: BoltLine) -> tuple[int, int]:
    return (line.nuts or 0) + line.spare_nuts, (line.washers or 0) + line.spare_washers
