"""bars.pdf: bars to order, the patterns drawn to scale, the running order; last, the office's pages."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from takeoff.plans import BarPattern, Bars
from takeoff.settings import Settings
from takeoff.sheets import bar_office, draw, measure, running_sheet
from takeoff.sheets.bar_drawing import layout
from takeoff.sheets.bar_words import (
    bars_words,
    batch_words,
    grade_words,
    length_title,
    rules_words,
    sections_by_name,
)
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.measure import measuring
from takeoff.sheets.page import Page
from takeoff.sheets.tables import TOTAL, Column, Row
from takeoff.sheets.wording import designation, marks_words, pieces_words
from takeoff.steel import Takeoff
from takeoff.words import say, speaking

MOST_STOPS_ROWS = 4
"""Rows of the table of stops that stay on the page of their bar."""


def bars(takeoff: Takeoff, settings: Settings, plans: Bars, path: Path) -> bool:
    """Write bars.pdf to ``path``; True. OSError where it cannot be written, ValueError for an unknown paper."""
    with speaking(settings.documents.language), measuring(settings.documents):
        draw.write(compose(takeoff, settings, plans), path, say("Cutting plan and running order"))
    return True


def compose(takeoff: Takeoff, settings: Settings, plans: Bars) -> list[Page]:
    """The pages of bars.pdf: the shop's, then the office's."""
    head = imprint(takeoff, settings, say("Bars"))
    flow = Flow(head, name="bars", entry=say("Bars to order"))
    flow.heading(say("Bars to order"), 16.0)
    flow.paragraph(say("Planned with: {rules}", rules=rules_words(settings.bars)))
    _order(flow, plans)
    _left_out(flow, plans)
    if plans.plans:
        _kept(flow, plans)
        flow.turn("patterns", say("Cutting patterns"))
        _patterns(flow, plans)
    if plans.running and (plans.running.set_ups or plans.running.elsewhere):
        flow.turn("running", say("Running order"))
        running_sheet.compose(flow, plans, settings.bars.punches_per_head, settings.line.heads)
    if any(plan.patterns for plan in plans.plans):
        flow.turn("office", say("For the office"))
        bar_office.compose(flow, plans)
    number_pages(flow.pages, head)
    return flow.pages


def _order(flow: Flow, plans: Bars) -> None:
    if not plans.order:
        flow.paragraph(say("No bars: nothing that is certain is cut from bars."))
        return
    columns = (
        Column(say("Section"), flex=1.0, bold=True),
        Column(say("Grade"), flex=0.5),
        Column(say("Finish"), flex=0.3),
        Column(length_title(), "right"),
        Column(say("Bars"), "right", bold=True),
        Column("kg", "right"),
        Column(say("From")),
        Column(say("Heat"), least=60.0),
        Column(say("Certificate"), least=70.0),
    )
    names = sections_by_name(plans)
    rows = [
        Row(
            (
                names.get(line.section, line.section),
                grade_words(line.grade),
                line.finish,
                measure.length(line.stock_length),
                str(line.bars),
                "" if line.weight is None else measure.mass(line.weight),
                say("own stock") if line.in_stock else say("order"),
                "",
                "",
            )
        )
        for line in plans.order
    ]
    weight = sum(line.weight or 0.0 for line in plans.order)
    count = sum(line.bars for line in plans.order)
    rows.append(Row((say("All"), "", "", "", str(count), measure.mass(weight), "", "", ""), TOTAL))
    flow.table(columns, rows)


def _left_out(flow: Flow, plans: Bars) -> None:
    if plans.waiting:
        flow.heading(say("Waiting"))
        flow.paragraph(
            say(
                "{pieces} of {marks} on hold, for which no bar is planned: {list}. Answer their queries, then run the "
                "lists again before ordering.",
                pieces=pieces_words(sum(many for _, many in plans.waiting)),
                marks=marks_words(len(plans.waiting)),
                list=", ".join(f"{many} × {mark}" for mark, many in plans.waiting),
            )
        )
    long = [mark for plan in plans.plans for mark in plan.too_long]
    if long:
        flow.heading(say("Longer than any bar"))
        flow.paragraph(say("In no cutting plan, see the queries: {marks}.", marks=", ".join(long)))
    short = [f"{many} × {mark}" for plan in plans.plans for mark, many in plan.not_cut]
    if short:
        flow.heading(say("Not enough bars"))
        flow.paragraph(say("No bar is left for these pieces, see the queries: {marks}.", marks=", ".join(short)))


def _kept(flow: Flow, plans: Bars) -> None:
    counts: dict[tuple[int, int], int] = {}
    for number, plan in enumerate(plans.plans):
        for pattern in plan.patterns:
            if pattern.kept:
                counts[number, -pattern.offcut] = counts.get((number, -pattern.offcut), 0) + pattern.times
    if not counts:
        return
    flow.heading(say("Off-cuts to keep"))
    columns = (
        Column(say("Section"), flex=1.0, bold=True),
        Column(say("Grade"), flex=0.5),
        Column(length_title(), "right"),
        Column(say("Pieces"), "right"),
    )
    rows = [
        Row(
            (
                designation(plans.plans[n].section),
                grade_words(plans.plans[n].grade),
                measure.length(-length),
                str(many),
            )
        )
        for (n, length), many in sorted(counts.items())
    ]
    flow.table(columns, rows)


def _patterns(flow: Flow, plans: Bars) -> None:
    flow.heading(say("Cutting patterns"), 16.0)
    flow.paragraph(
        say(
            "Bars lie with the end that goes in first on the left. Stops run from that end to the end of each piece, "
            "in cutting order. Grey is scrap, crossed is an off-cut to keep: mark it with section, grade and heat."
        )
    )
    longest = max((p.stock_length for plan in plans.plans for p in plan.patterns), default=1)
    scale = (flow.right - flow.left) / longest
    for plan in plans.plans:
        if not plan.patterns:
            continue
        flow.heading(
            say(
                "{batch}: {bars}, {used} % used",
                batch=batch_words(plan),
                bars=bars_words(plan.bars),
                used=measure.figure(plan.used * 100.0, 1),
            ),
            keep=110.0,
        )
        for pattern in plan.patterns:
            _pattern(flow, pattern, scale)


def _pattern(flow: Flow, pattern: BarPattern, scale: float) -> None:
    columns, rows = _stops(pattern)
    drawing = layout(pattern, flow.left, flow.right, scale)
    flow.need(drawing.height + 29.0 + 11.0 * min(MOST_STOPS_ROWS, len(rows) + 1))
    flow.paragraph(
        say(
            "Pattern {number}: {times} × bar of {length} ({source}), {pieces}, {offcut}",
            number=pattern.number,
            times=pattern.times,
            length=measure.with_unit(pattern.stock_length),
            source=say("own stock") if pattern.in_stock else say("new"),
            pieces=pieces_words(len(pattern.pieces)),
            offcut=_offcut(pattern),
        ),
        9.0,
        True,
    )
    flow.add(drawing.items(flow.y))
    flow.gap(drawing.height + 5.0)
    flow.table(columns, rows, 7.0)


def _offcut(pattern: BarPattern) -> str:
    if not pattern.offcut:
        return say("no off-cut")
    length = measure.with_unit(pattern.offcut)
    return (
        say("off-cut {length}, keep", length=length) if pattern.kept else say("off-cut {length}, scrap", length=length)
    )


def _stops(pattern: BarPattern) -> tuple[tuple[Column, ...], Sequence[Row]]:
    columns = (
        Column(say("Mark"), bold=True, least=60.0),
        Column(say("In one bar"), "right", least=44.0),
        Column(say("In all"), "right", least=40.0),
        Column(length_title(), "right", least=50.0),
        Column(say("Stops from the front end") if measure.inches() else say("Stops from the front end, mm"), flex=1.0),
    )
    rows = []
    for mark, many in pattern.marks().items():
        there = [piece for piece in pattern.pieces if piece.mark == mark]
        stops = "   ".join(measure.length(piece.stop) for piece in there)
        cells = (mark, str(many), str(many * pattern.times), measure.length(there[0].length), stops)
        rows.append(Row(cells))
    return columns, rows
