"""The office's pages of bars.pdf: how good the plan is, plans of fewer patterns, what the running order saves.

They stand last and say that they are for the office, so that a print for the shop leaves them out.
"""

from __future__ import annotations

from takeoff.plans import BarPlan, Bars
from takeoff.sheets import measure
from takeoff.sheets.bar_words import (
    bars_words,
    batch_words,
    grade_words,
    length_title,
    patterns_words,
)
from takeoff.sheets.flow import Flow
from takeoff.sheets.tables import Column, Row
from takeoff.sheets.wording import designation
from takeoff.words import decimal, say


def compose(flow: Flow, plans: Bars) -> None:
    """Set the office's pages from where ``flow`` stands."""
    flow.heading(say("For the office"), 16.0)
    flow.paragraph(say("Not for the shop: leave these pages out of its print."), 8.5, True)
    _goodness(flow, plans)
    _seconds(flow, plans)
    _changes(flow, plans)


def _goodness(flow: Flow, plans: Bars) -> None:
    flow.heading(say("How good the plan is"))
    flow.paragraph(
        say(
            "Used is the length of the pieces over that of the bars. The least is proved: no plan from these bars "
            "needs less. A cost is in the prices of the settings; without prices it is the bars' length in mm."
        )
    )
    columns = (
        Column(say("Section"), flex=1.0, bold=True),
        Column(say("Grade"), flex=0.5),
        Column(say("Finish"), flex=0.3),
        Column(say("Bars"), "right"),
        Column(say("Used"), "right"),
        Column(say("Patterns"), "right"),
        Column(say("Least"), flex=1.5),
        Column(say("With fewer patterns"), flex=1.2),
    )
    rows = [
        Row(
            (
                designation(plan.section),
                grade_words(plan.grade),
                plan.finish,
                str(plan.bars),
                f"{measure.figure(plan.used * 100.0, 1)} %",
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
        words = say("no bound: the stock is too small")
    elif plan.least_bars is not None:
        words = (
            say("at least 1 bar is needed, the plan uses {bars}", bars=plan.bars)
            if plan.least_bars == 1
            else say("at least {least} bars are needed, the plan uses {bars}", least=plan.least_bars, bars=plan.bars)
        )
    elif plan.in_mm:
        words = say(
            "at least {least} of bar are needed, the plan uses {bars}",
            least=measure.with_unit(plan.least_cost),
            bars=measure.with_unit(plan.cost),
        )
    else:
        words = say(
            "{least} is the least cost, the plan's is {cost}",
            least=decimal(f"{plan.least_cost:.10g}"),
            cost=decimal(f"{plan.cost:.10g}"),
        )
    if not plan.proved and plan.least_cost:
        above = decimal(f"{(plan.cost / plan.least_cost - 1.0) * 100.0:.2g}")
        words = say("{words} ({share} % above)", words=words, share=above)
    return say("{words}; the search was ended by the clock", words=words) if plan.stopped else words


def _second(plan: BarPlan) -> str:
    second = plan.second
    if second is None:
        return ""
    extra = (
        say("{share} % dearer", share=measure.figure(second.extra_cost * 100.0, 2))
        if second.extra_cost
        else say("at the same cost, with more useless off-cuts")
    )
    return ", ".join((patterns_words(len(second.patterns)), bars_words(second.bars), extra))


def _seconds(flow: Flow, plans: Bars) -> None:
    """The plans of fewer patterns in full, so that one can be cut instead."""
    found = [plan for plan in plans.plans if plan.second is not None]
    if not found:
        return
    flow.heading(say("Plans with fewer patterns"))
    flow.paragraph(say("They may be cut instead of the plan of the section: fewer patterns to set, at the cost named."))
    columns = (
        Column(length_title(), "right", least=55.0),
        Column(say("From"), least=55.0),
        Column(say("Bars"), "right", least=40.0),
        Column(say("Pieces of one bar, in cutting order"), flex=1.0),
    )
    for plan in found:
        assert plan.second is not None
        flow.heading(f"{batch_words(plan)}: {_second(plan)}", 9.0, 60.0)
        rows = [
            Row(
                (
                    measure.length(pattern.stock_length),
                    say("own stock") if pattern.in_stock else say("order"),
                    str(pattern.times),
                    ", ".join(f"{many} × {mark}" for mark, many in pattern.marks),
                )
            )
            for pattern in plan.second.patterns
        ]
        flow.table(columns, rows, 7.0)


def _changes(flow: Flow, plans: Bars) -> None:
    running = plans.running
    if running is None or not running.set_ups:
        return
    flow.heading(say("What the running order saves"))
    columns = (
        Column(say("Order"), flex=1.0, bold=True),
        Column(say("Punches put in"), "right"),
        Column(say("Sections set up"), "right"),
    )
    rows = [
        Row((say("as planned"), str(running.changes), str(running.sections))),
        Row((say("by mark, sections kept together"), str(running.kept_by_mark_changes), str(running.sections))),
        Row((say("by mark, bar after bar"), str(running.by_mark_changes), str(running.by_mark_sections))),
    ]
    flow.table(columns, rows, 7.0)
    flow.paragraph(say("The punches of the first set-up are counted in all three."))
