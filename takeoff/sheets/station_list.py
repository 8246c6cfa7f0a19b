"""The routing on paper: for each station what comes to it, how often it works, and the weight it handles."""

from __future__ import annotations

from itertools import groupby

from takeoff.rules.wording import station_name
from takeoff.sheets import measure
from takeoff.sheets.flow import Flow
from takeoff.sheets.tables import TOTAL, Column, Row
from takeoff.sheets.wording import pieces_words
from takeoff.steel import Takeoff
from takeoff.words import say, spoken


def compose(flow: Flow, takeoff: Takeoff) -> None:
    """A table a station in shop order, on pages of its own; nothing where there is no routing."""
    if not takeoff.stations:
        return
    flow.turn("stations", say("By station"))
    flow.heading(say("By station"), 16.0)
    flow.paragraph(
        say(
            "By mark. Each: hits, holes or cuts of one piece. Net weight of all pieces of the mark; a mark that a "
            "station takes for two reasons has its quantity and weight once."
        )
    )
    columns = (
        Column(say("Mark"), bold=True, least=60.0),
        Column(say("Qty"), "right", least=36.0),
        Column(say("Each"), "right", least=36.0),
        Column(say("In all"), "right", bold=True, least=44.0),
        Column(say("Net all kg"), "right", least=52.0),
        Column(say("Why, how"), flex=1.0),
    )
    for station, group in groupby(takeoff.stations, key=lambda row: row.station):
        rows: list[Row] = []
        pieces = work = 0
        weight = 0.0
        before = ""
        for row in group:
            line = round(row.weight, 1)
            first = row.mark != before
            if first:
                pieces, weight = pieces + row.quantity, weight + line
            work += row.each * row.quantity
            lead = (row.mark, str(row.quantity)) if first else ("", "")
            kg = measure.figure(line, 1) if first else ""
            rows.append(Row((*lead, str(row.each), str(row.each * row.quantity), kg, spoken(row.why))))
            before = row.mark
        rows.append(Row((say("All"), str(pieces), "", str(work), measure.figure(weight, 1), ""), TOTAL))
        name = station_name(station)
        name = f"{name[:1].upper()}{name[1:]}"
        fields = {"station": name, "pieces": pieces_words(pieces), "work": work}
        flow.heading(say("{station}: {pieces}, {work} in all", **fields), 11.0)
        flow.table(columns, rows, 7.0)
