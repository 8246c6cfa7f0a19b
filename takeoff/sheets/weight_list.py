"""weights.pdf: tonnage per assembly, per section and grade, and the surface to coat."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

from takeoff.rules.zinc import SOURCE
from takeoff.settings import Settings
from takeoff.sheets import draw
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.page import Page
from takeoff.sheets.tables import GROUP, TOTAL, Column, Row
from takeoff.sheets.wording import several
from takeoff.steel import HELD, Piece, Takeoff


def weights(takeoff: Takeoff, settings: Settings, path: Path) -> bool:
    """Write weights.pdf to ``path``; True. OSError where it cannot be written, ValueError for an unknown paper."""
    draw.write(compose(takeoff, settings), path, "Weights")
    return True


def compose(takeoff: Takeoff, settings: Settings) -> list[Page]:
    """The pages of weights.pdf."""
    head = imprint(takeoff, settings, "Weights")
    flow = Flow(head, name="weights", entry="Weights")
    flow.heading("Weights and surface", 16.0)
    flow.paragraph(
        "kg and m². Gross weight is mass per metre times overall length (plates: the smallest rectangle); "
        "net is after cuts and holes. The surface is the lateral surface, holes not deducted. Every total is the sum "
        "of the lines printed above it, so it can be checked on the page."
    )
    _assemblies(flow, takeoff)
    _sections(flow, takeoff, settings)
    _held(flow, takeoff)
    number_pages(flow.pages, head)
    return flow.pages


def _assemblies(flow: Flow, takeoff: Takeoff) -> None:
    columns = (
        Column("Assembly", flex=1.0, bold=True),
        Column("Qty", "right"),
        Column("Pieces in one", "right"),
        Column("Bolts in one", "right"),
        Column("Gross of one", "right"),
        Column("Net of one", "right"),
        Column("Bolts of one", "right"),
        Column("m² of one", "right"),
        Column("Gross all", "right"),
        Column("Net all", "right"),
        Column("Bolts all", "right"),
        Column("m² all", "right"),
    )
    rows: list[Row] = []
    totals = [0.0] * 4
    for assembly in takeoff.assemblies:
        one = (assembly.gross, assembly.net, assembly.bolt_weight, assembly.surface)
        # Rounded line by line: the printed column then adds up to its printed total.
        all_of_them = [round(value * assembly.quantity, 1) for value in one]
        totals = [total + value for total, value in zip(totals, all_of_them, strict=True)]
        rows.append(
            Row(
                (
                    assembly.mark,
                    str(assembly.quantity),
                    str(sum(many for _, many in assembly.pieces)),
                    str(assembly.bolts),
                    *(f"{value:.2f}" for value in one),
                    *(f"{value:.1f}" for value in all_of_them),
                )
            )
        )
    if not rows:
        flow.paragraph("No assemblies.")
        return
    rows.append(Row(("All", "", "", "", "", "", "", "", *(f"{value:.1f}" for value in totals)), TOTAL))
    flow.heading("By assembly")
    flow.table(columns, rows, 7.0)


def _sections(flow: Flow, takeoff: Takeoff, settings: Settings) -> None:
    groups: dict[str, dict[tuple[str, str], list[Piece]]] = defaultdict(lambda: defaultdict(list))
    for piece in takeoff.pieces:
        groups[piece.section.shape][piece.section.designation, piece.grade].append(piece)
    columns: tuple[Column, ...] = (
        Column("Section", flex=1.0, bold=True),
        Column("Grade", flex=0.5),
        Column("kg/m", "right"),
        Column("from", flex=0.5),
        Column("Marks", "right"),
        Column("Pieces", "right"),
        Column("Length m", "right"),
        Column("Gross kg", "right"),
        Column("Net kg", "right"),
        Column("Surface m²", "right"),
    )
    zinc = any(piece.zinc > 0 for piece in takeoff.pieces)
    if zinc:
        columns = (*columns, Column("Zinc kg", "right"), Column("White kg", "right"))
    rows: list[Row] = []
    pieces = marks = 0
    totals = [0.0] * (5 if zinc else 3)
    for shape, sections in groups.items():
        rows.append(Row((shape,), GROUP))
        for (designation, grade), members in sections.items():
            section = members[0].section
            values = [
                round(sum(getattr(piece, name) * piece.quantity for piece in members), 1)
                for name in ("gross", "net", "surface")
            ]
            if zinc:
                coat = round(sum(piece.zinc * piece.quantity for piece in members), 1)
                values += [coat, values[1] + coat]
            quantity = sum(piece.quantity for piece in members)
            metres = sum(piece.length * piece.quantity for piece in members) / 1000.0
            marks += len(members)
            pieces += quantity
            totals = [total + value for total, value in zip(totals, values, strict=True)]
            mass = f"{section.mass_kg_per_m:.2f}" if section.mass_kg_per_m else ""
            source = (section.standard or "computed") if mass else ""
            figures = (f"{metres:.2f}", *(f"{value:.1f}" for value in values))
            counts = (str(len(members)), str(quantity))
            rows.append(Row((designation, grade or "not stated", mass, source, *counts, *figures)))
    if not rows:
        flow.paragraph("No steel pieces.")
        return
    rows.append(Row(("All", "", "", "", str(marks), str(pieces), "", *(f"{value:.1f}" for value in totals)), TOTAL))
    flow.heading("By section and grade")
    flow.table(columns, rows, 7.0)
    if zinc:
        own = settings.zinc.coating_g_m2
        source = f"{own:g} g/m² (settings)" if own else f"{SOURCE}; the least mean it asks, baths leave more"
        flow.paragraph(
            "White weight is net weight with zinc: the surface of the pieces that are galvanised, inside of tubes "
            f"included, times the coating. Coating: {source}."
        )


def _held(flow: Flow, takeoff: Takeoff) -> None:
    held = [piece for piece in takeoff.pieces if piece.status == HELD]
    if held:
        net = sum(piece.net * piece.quantity for piece in held)
        quantity = sum(piece.quantity for piece in held)
        flow.heading("Of these on hold")
        flow.paragraph(
            f"{several(quantity, 'piece')} of {several(len(held), 'mark')}, {net:.1f} kg net: not certain until their "
            f"queries are answered. Marks: {', '.join(piece.mark for piece in held)}."
        )
