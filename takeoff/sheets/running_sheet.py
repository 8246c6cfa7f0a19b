"""The running order on paper: set-up after set-up, what to mount and what then runs."""

from __future__ import annotations

from collections.abc import Iterable

from takeoff.plans import Bars, SetUp, Tool
from takeoff.sheets.flow import Flow
from takeoff.sheets.tables import BOLD, GROUP, PLAIN, Column, Row
from takeoff.sheets.wording import face_name, opening, several
from takeoff.steel import Hole
from takeoff.units import millimetres


def compose(flow: Flow, plans: Bars, punches: int) -> None:
    """Set the running order of ``plans`` from where ``flow`` stands."""
    running = plans.running
    if running is None:
        return
    shapes = {pattern.number: plan.section.shape for plan in plans.plans for pattern in plan.patterns}
    flow.heading("Running order", 16.0)
    flow.paragraph(
        f"{several(len(running.set_ups), 'set-up')}: {several(running.changes, 'punch', 'punches')} put in and "
        f"{several(running.sections, 'section')} set up. In the order of the marks it would be "
        f"{several(running.by_mark_changes, 'punch', 'punches')} and {several(running.by_mark_sections, 'section')}. "
        f"A head holds {several(punches, 'punch', 'punches')}. Hits are of all bars of the set-up; gauge lines are "
        "in mm from the datum of the face, as on the piece sheets."
    )
    if running.elsewhere:
        noun = "Pattern" if len(running.elsewhere) == 1 else "Patterns"
        flow.paragraph(f"Not for the line: {noun.lower()} {', '.join(map(str, running.elsewhere))}, to be sawn.")
    if running.partly:
        flow.paragraph(
            f"Not wholly made on the line: {', '.join(running.partly)}. Their sheets and the routing say what is done "
            "elsewhere; holes that are drilled or cut are not counted here."
        )
    columns = (
        Column("Head", bold=True, least=60.0),
        Column("Punch", least=60.0),
        Column("", least=40.0),
        Column("Steel mm", "right"),
        Column("Hits", "right"),
        Column("Gauge lines mm", flex=1.0),
    )
    rows: list[Row] = []
    for number, set_up in enumerate(running.set_ups, 1):
        rows += _set_up(number, set_up, shapes[set_up.patterns[0]])
    flow.table(columns, rows)


def _set_up(number: int, set_up: SetUp, shape: str) -> Iterable[Row]:
    name = " ".join(word for word in (set_up.section, set_up.grade, set_up.finish) if word)
    new = " (new section)" if set_up.new_section else ""
    noun = "pattern" if len(set_up.patterns) == 1 else "patterns"
    patterns = ", ".join(map(str, set_up.patterns))
    yield Row(
        (
            f"Set-up {number}:  {name}{new}.  {several(set_up.bars, 'bar')}, {noun} {patterns}.  "
            f"Pieces {', '.join(set_up.marks)}",
        ),
        GROUP,
    )
    hits: dict[Tool, list[tuple[str, str, str]]] = {}
    for hit in set_up.hits:
        lines = "   ".join(millimetres(line) for line in hit.lines)
        hits.setdefault(hit.tool, []).append((millimetres(hit.thickness), str(hit.hits), lines))
    # what stays in a head that has no part in this section is nobody's concern here
    heads = {tool.head for tool in hits}
    tools = [tool for tool in set_up.tools if tool.head in heads]
    for tool in tools:
        put_in = "put in" if tool in set_up.mounted else "stays"
        for place, (steel, many, lines) in enumerate(hits.get(tool, [("", "", "not used here")])):
            first = (face_name(shape, tool.head), _size(tool), put_in) if place == 0 else ("", "", "")
            yield Row((*first, steel, many, lines), BOLD if place == 0 and put_in == "put in" else PLAIN)
    if not tools:
        yield Row(("no punching", "", "", "", "", ""))


def _size(tool: Tool) -> str:
    return opening(Hole("", tool.head, 0.0, 0.0, tool.diameter, tool.slot_length, width=tool.width, kind=tool.kind))
