"""The running order on paper: set-up after set-up, what to mount and what then runs."""

from __future__ import annotations

from collections.abc import Iterable

from takeoff.plans import NEAR_HEEL, Bars, SetUp, Tool
from takeoff.sheets import measure
from takeoff.sheets.bar_words import bars_words, punches_words, sections_by_name, sections_words
from takeoff.sheets.flow import Flow
from takeoff.sheets.tables import BOLD, GROUP, PLAIN, Column, Row
from takeoff.sheets.wording import face_name, opening
from takeoff.steel import Hole
from takeoff.words import say


def compose(flow: Flow, plans: Bars, punches: int, heads: int) -> None:
    """Set the running order of ``plans`` from where ``flow`` stands; the line has ``heads`` of ``punches`` each."""
    running = plans.running
    if running is None:
        return
    shapes = {pattern.number: plan.section.shape for plan in plans.plans for pattern in plan.patterns}
    names = sections_by_name(plans)
    flow.heading(say("Running order"), 16.0)
    flow.paragraph(
        say(
            "{punches} put in and {sections} set up in all; a head holds {most}. Hits are of all bars of the set-up; "
            "gauge lines run from the datum of the face, as on the piece sheets.",
            punches=punches_words(running.changes),
            sections=sections_words(running.sections),
            most=punches_words(punches),
        )
    )
    if heads > 1:
        flow.paragraph(say("Head 1 punches leg A of angles, flats and webs of channels; head 2 leg B."))
    if running.elsewhere:
        numbers = ", ".join(map(str, running.elsewhere))
        flow.paragraph(
            say("Not for the line: pattern {numbers}, to be sawn.", numbers=numbers)
            if len(running.elsewhere) == 1
            else say("Not for the line: patterns {numbers}, to be sawn.", numbers=numbers)
        )
    if running.partly:
        flow.paragraph(
            say(
                "Not wholly made on the line: {marks}. Their sheets and the routing say what is done elsewhere; holes "
                "that the line does not make are not counted here.",
                marks=", ".join(running.partly),
            )
        )
    columns = (
        Column(say("Head"), bold=True),
        Column(say("Punch"), least=60.0),
        Column("", least=36.0),
        Column(say("Face"), least=50.0),
        Column(say("Steel") if measure.inches() else say("Steel mm"), "right"),
        Column(say("Hits"), "right"),
        Column(say("Gauge lines") if measure.inches() else say("Gauge lines mm"), flex=1.0),
    )
    rows: list[Row] = []
    for number, set_up in enumerate(running.set_ups, 1):
        rows += _set_up(number, set_up, shapes[set_up.patterns[0]], names)
    flow.table(columns, rows)


def _set_up(number: int, set_up: SetUp, shape: str, names: dict[str, str]) -> Iterable[Row]:
    section = names.get(set_up.section, set_up.section)
    batch = " ".join(word for word in (section, set_up.grade, set_up.finish) if word)
    patterns = ", ".join(map(str, set_up.patterns))
    fields = {"number": number, "batch": batch, "bars": bars_words(set_up.bars)}
    words = (
        say("Set-up {number}: {batch} (new section). {bars}.", **fields)
        if set_up.new_section
        else say("Set-up {number}: {batch}. {bars}.", **fields)
    )
    numbers = (
        say("Pattern {patterns}.", patterns=patterns)
        if len(set_up.patterns) == 1
        else say("Patterns {patterns}.", patterns=patterns)
    )
    pieces = say("Pieces {marks}", marks=", ".join(set_up.marks))
    yield Row((f"{words} {numbers} {pieces}",), GROUP)
    hits: dict[Tool, list[tuple[str, str, str, str]]] = {}
    for hit in set_up.hits:
        lines = "   ".join(measure.length(line) for line in hit.lines)
        row = (face_name(shape, hit.face), measure.size(hit.thickness), str(hit.hits), lines)
        hits.setdefault(hit.tool, []).append(row)
    # what stays in a head that has no part in this section is nobody's concern here
    heads = {tool.head for tool in hits}
    tools = [tool for tool in set_up.tools if tool.head in heads]
    for tool in tools:
        new = tool in set_up.mounted
        put_in = say("put in") if new else say("stays")
        for place, cells in enumerate(hits.get(tool, [("", "", "", say("not used here"))])):
            first = (tool.head, _size(tool), put_in) if place == 0 else ("", "", "")
            yield Row((*first, *cells), BOLD if place == 0 and new else PLAIN)
    if not tools:
        yield Row((say("no punching"), "", "", "", "", "", ""))


def _size(tool: Tool) -> str:
    if tool.kind == NEAR_HEEL:
        return say("Ø{size} near the heel", size=measure.size(tool.diameter))
    return opening(Hole("", tool.head, 0.0, 0.0, tool.diameter, tool.slot_length, width=tool.width, kind=tool.kind))
