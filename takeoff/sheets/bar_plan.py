"""bars.pdf: bars to order and how good the plan is, the patterns drawn to scale, the running order."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from takeoff.plans import BarPattern, BarPlan, Bars
from takeoff.settings import Settings
from takeoff.sheets import draw, running_sheet
from takeoff.sheets.bar_drawing import HEIGHT, bar
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.page import Page
from takeoff.sheets.tables import TOTAL, Column, Row
from takeoff.sheets.wording import several
from takeoff.steel import Takeoff
from takeoff.units import kilograms, millimetres

TITLE = "Bars"


def bars(takeoff: Takeoff, settings: Settings, plans: Bars, path: Path) -> bool:
    """Write bars.pdf to ``path``; True. OSError where it cannot be written, ValueError for an unknown paper."""
    draw.write(compose(takeoff, settings, plans), path, "Cutting plan and running order")
    return True


def compose(takeoff: Takeoff, settings: Settings, plans: Bars) -> list[Page]:
    """The pages of bars.pdf: the office's first, then the shop's."""
    head = imprint(takeoff, settings, TITLE)
    flow = Flow(head, name="bars", entry="Bars to order")
    flow.heading("Bars to order", 16.0)
    flow.paragraph(f"Planned with {'; '.join(plans.rules)}.")
    _order(flow, plans)
    _left_out(flow, plans)
    if plans.plans:
        _goodness(flow, plans)
        _kept(flow, plans)
        flow.turn("patterns", "Cutting patterns")
        _patterns(flow, plans)
    if plans.running and (plans.running.set_ups or plans.running.elsewhere):
        flow.turn("running", "Running order")
        running_sheet.compose(flow, plans, settings.bars.punches_per_head)
    number_pages(flow.pages, head)
    return flow.pages


def _order(flow: Flow, plans: Bars) -> None:
    if not plans.order:
        flow.paragraph("No bars: nothing that is certain is cut from bars.")
        return
    columns = (
        Column("Section", flex=1.0, bold=True),
        Column("Grade", flex=0.5),
        Column("Finish", flex=0.3),
        Column("Length mm", "right"),
        Column("Bars", "right", bold=True),
        Column("kg", "right"),
        Column("From"),
        Column("Heat", least=60.0),
        Column("Certificate", least=70.0),
    )
    rows = [
        Row(
            (
                line.section,
                line.grade or "not stated",
                line.finish,
                str(line.stock_length),
                str(line.bars),
                "" if line.weight is None else kilograms(line.weight),
                "own stock" if line.in_stock else "order",
                "",
                "",
            )
        )
        for line in plans.order
    ]
    weight = sum(line.weight or 0.0 for line in plans.order)
    count = sum(line.bars for line in plans.order)
    rows.append(Row(("All", "", "", "", str(count), kilograms(weight), "", "", ""), TOTAL))
    flow.table(columns, rows)


def _left_out(flow: Flow, plans: Bars) -> None:
    if plans.waiting:
        pieces = sum(many for _, many in plans.waiting)
        marks = ", ".join(f"{many} × {mark}" for mark, many in plans.waiting)
        flow.heading("Waiting")
        flow.paragraph(
            f"{several(pieces, 'piece')} of {several(len(plans.waiting), 'mark')} on hold, for which no bar is "
            f"planned: {marks}. Answer their queries, then run the lists again before ordering."
        )
    long = [mark for plan in plans.plans for mark in plan.too_long]
    if long:
        flow.heading("Longer than any bar")
        flow.paragraph(f"In no cutting plan, see the queries: {', '.join(long)}.")
    short = [f"{many} × {mark}" for plan in plans.plans for mark, many in plan.not_cut]
    if short:
        flow.heading("Not enough bars")
        flow.paragraph(f"No bar is left for these pieces, see the queries: {', '.join(short)}.")


def _goodness(flow: Flow, plans: Bars) -> None:
    flow.heading("How good the plan is")
    flow.paragraph(
        "Used is the length of the pieces over that of the bars. The least is proved: no plan from these bars needs "
        "less. A cost is in the prices of the settings, where nothing else is said a mm of bar."
    )
    columns = (
        Column("Section", flex=1.0, bold=True),
        Column("Grade", flex=0.5),
        Column("Bars", "right"),
        Column("Used", "right"),
        Column("Patterns", "right"),
        Column("Least", flex=1.5),
        Column("With fewer patterns", flex=1.2),
    )
    rows = [
        Row(
            (
                plan.section.designation,
                plan.grade or "not stated",
                str(plan.bars),
                f"{plan.used * 100.0:.1f} %",
                str(len(plan.patterns)),
                _bound(plan),
                _second(plan),
            )
        )
        for plan in plans.plans
        if plan.patterns
    ]
    flow.table(columns, rows, 7.0)


def _bound(plan: BarPlan) -> str:
    if plan.not_cut:
        words = "no bound: the stock is too small"
    elif plan.least_bars is not None:
        words = f"at least {several(plan.least_bars, 'bar is', 'bars are')} needed, the plan uses {plan.bars}"
    else:
        unit = "mm of bar are needed" if plan.in_mm else "is the least cost"
        uses = f"the plan uses {plan.cost:.10g}" if plan.in_mm else f"the plan's is {plan.cost:.10g}"
        words = f"{'at least ' if plan.in_mm else ''}{plan.least_cost:.10g} {unit}, {uses}"
    if not plan.proved and plan.least_cost:
        words += f" ({(plan.cost / plan.least_cost - 1.0) * 100.0:.2g} % above)"
    return f"{words}; the search was ended by the clock" if plan.stopped else words


def _second(plan: BarPlan) -> str:
    if plan.second is None:
        return ""
    extra = f"{plan.second.extra_cost * 100.0:.2f} % dearer" if plan.second.extra_cost else "at the same cost"
    return f"{several(plan.second.patterns, 'pattern')}, {several(plan.second.bars, 'bar')}, {extra}"


def _kept(flow: Flow, plans: Bars) -> None:
    counts: dict[tuple[int, int], int] = {}
    for number, plan in enumerate(plans.plans):
        for pattern in plan.patterns:
            if pattern.kept:
                counts[number, -pattern.offcut] = counts.get((number, -pattern.offcut), 0) + pattern.times
    if not counts:
        return
    flow.heading("Off-cuts to keep")
    columns = (
        Column("Section", flex=1.0, bold=True),
        Column("Grade", flex=0.5),
        Column("Length mm", "right"),
        Column("Pieces", "right"),
    )
    rows = [
        Row((plans.plans[n].section.designation, plans.plans[n].grade or "not stated", str(-length), str(many)))
        for (n, length), many in sorted(counts.items())
    ]
    flow.table(columns, rows)


def _patterns(flow: Flow, plans: Bars) -> None:
    flow.heading("Cutting patterns", 16.0)
    flow.paragraph(
        "Bars lie with the end that goes in first on the left. Stops are in mm from that end to the end of each piece. "
        "Grey is scrap, crossed is an off-cut to keep: mark it with section, grade and heat."
    )
    longest = max(p.stock_length for plan in plans.plans for p in plan.patterns) if plans.order else 1
    scale = (flow.right - flow.left) / longest
    for plan in plans.plans:
        if not plan.patterns:
            continue
        name = " ".join(word for word in (plan.section.designation, plan.grade, plan.finish) if word)
        flow.heading(f"{name}: {several(plan.bars, 'bar')}, {plan.used * 100.0:.1f} % used", keep=110.0)
        for pattern in plan.patterns:
            _pattern(flow, pattern, scale)


def _pattern(flow: Flow, pattern: BarPattern, scale: float) -> None:
    columns, rows = _stops(pattern)
    flow.need(HEIGHT + 24.0 + 11.0 * min(4, len(rows) + 1))
    source = "own stock" if pattern.in_stock else "new"
    if not pattern.offcut:
        offcut = "no off-cut"
    else:
        offcut = f"off-cut {pattern.offcut} mm, {'keep' if pattern.kept else 'scrap'}"
    flow.paragraph(
        f"Pattern {pattern.number}:  {pattern.times} ×  bar of {pattern.stock_length} mm ({source}), "
        f"{several(len(pattern.pieces), 'piece')}, {offcut}",
        9.0,
        True,
    )
    flow.add(bar(pattern, flow.left, flow.y, scale))
    flow.gap(HEIGHT + 5.0)
    flow.table(columns, rows, 7.0)


def _stops(pattern: BarPattern) -> tuple[tuple[Column, ...], Sequence[Row]]:
    columns = (
        Column("Mark", bold=True, least=60.0),
        Column("In one bar", "right", least=44.0),
        Column("In all", "right", least=40.0),
        Column("Length mm", "right", least=50.0),
        Column("Stops from the front end, mm", flex=1.0),
    )
    rows = []
    for mark, many in pattern.marks().items():
        there = [piece for piece in pattern.pieces if piece.mark == mark]
        stops = "   ".join(millimetres(piece.stop) for piece in there)
        cells = (mark, str(many), str(many * pattern.times), millimetres(there[0].length), stops)
        rows.append(Row(cells))
    return columns, rows
