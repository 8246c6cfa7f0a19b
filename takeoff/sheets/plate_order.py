"""Plate to order by thickness and grade, as a chapter of the weights."""

from __future__ import annotations

from collections.abc import Sequence

from takeoff.dispatch import PlateLine
from takeoff.sheets import measure
from takeoff.sheets.adding import add_up
from takeoff.sheets.flow import Flow
from takeoff.sheets.tables import TOTAL, Column, Row
from takeoff.sheets.wording import thickness
from takeoff.words import say


def set_plate_order(flow: Flow, plates: Sequence[PlateLine]) -> None:
    """The table with its total; nothing where there is no plate."""
    if not plates:
        return
    finished, held = any(line.finish for line in plates), any(line.held for line in plates)
    columns = (
        Column(say("Thickness mm"), "right", bold=True),
        Column(say("Grade"), flex=1.0, bold=True),
        *((Column(say("Finish"), flex=0.6),) if finished else ()),
        Column(say("Marks"), "right"),
        Column(say("Pieces"), "right"),
        *((Column(say("Of these on hold"), "right"),) if held else ()),
        Column(say("Longest"), "right"),
        Column(say("Widest"), "right"),
        Column(say("Area m²"), "right"),
        Column(say("Gross kg"), "right", bold=True),
    )
    areas = add_up([line.area for line in plates], 2)
    weights = add_up([line.weight for line in plates])
    rows = [
        Row(
            (
                thickness(line.thickness), line.grade or say("not stated"),
                *((line.finish,) if finished else ()),
                str(line.marks), str(line.pieces),
                *((str(line.held),) if held else ()),
                measure.length(line.longest), measure.length(line.widest),
                measure.figure(area, 2), measure.figure(weight, 1),
            )
        )
        for line, area, weight in zip(plates, areas, weights, strict=True)
    ]  # fmt: skip
    rows.append(
        Row(
            (
                say("All"), "", *(("",) if finished else ()),
                str(sum(line.marks for line in plates)), str(sum(line.pieces for line in plates)),
                *((str(sum(line.held for line in plates)),) if held else ()),
                "", "", measure.figure(sum(areas), 2), measure.figure(sum(weights), 1),
            ),
            TOTAL,
        )
    )  # fmt: skip
    flow.heading(say("Plate order"), 12.0, 50.0)
    flow.table(columns, rows)
    flow.paragraph(
        say(
            "Areas are of the smallest rectangles round the pieces, without kerf and off-cut: plates are not nested "
            "here. Flats are in the cutting plan with the bars."
        )
    )
