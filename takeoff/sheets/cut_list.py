"""The front of cut-and-punch.pdf: cover with totals, cautions and balance, then the cut list and the stations."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Final

from takeoff.order import natural
from takeoff.queries import SEVERITIES
from takeoff.settings import Settings
from takeoff.sheets import station_list
from takeoff.sheets.balance import bolt_checks, other_figures, part_checks, set_balance
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import Imprint
from takeoff.sheets.page import Page
from takeoff.sheets.piece_sheet import page_name
from takeoff.sheets.tables import GROUP, TOTAL, Column, Row
from takeoff.sheets.wording import several
from takeoff.steel import HELD, LEFT_OUT, SHAPES, Piece, Takeoff
from takeoff.units import millimetres

CAUTIONS: Final = (
    "Before the quantity is run",
    "Check the first piece of every mark against the drawing before running the rest, and sign for it on its sheet.",
    "What deviates from the drawings goes to the engineer; nobody mends it on the line.",
    "Where machine files are used: make the test piece first (takeoff test-piece, an unequal angle with a hole in each "
    "leg). If it comes out as its opposite hand, the files are not for that line.",
    "These lists follow the model, and the checks in them only assist. The codes in force where the structure stands "
    "and the licensed engineer decide.",
)

MOST_ROWS: Final = 200
"""Lines printed of parts that have no sheet; members.csv has them all."""


def compose(takeoff: Takeoff, settings: Settings, imprint: Imprint, sheet_pages: Mapping[str, int]) -> list[Page]:
    """Cover, cut list and the list of every station. ``sheet_pages`` is the page number of each mark's sheet."""
    flow = Flow(imprint, name="cover", entry="Cover")
    _cover(flow, takeoff, settings)
    flow.turn("cut list", "Cut list")
    _cut_list(flow, takeoff, sheet_pages)
    _without_sheet(flow, takeoff)
    station_list.compose(flow, takeoff)
    return flow.pages


def _cover(flow: Flow, takeoff: Takeoff, settings: Settings) -> None:
    model, documents = takeoff.model, settings.documents
    flow.heading("Cut and punch", 24.0)
    if documents.job:
        flow.paragraph(documents.job, 13.0, True)
    flow.gap(4.0)
    facts = (
        ("Model", model.name),
        ("Checksum", model.checksum),
        ("Schema, unit", " · ".join(part for part in (model.schema, model.length_unit) if part)),
        ("Written by", model.application),
        ("Revision", documents.revision),
        ("Date", documents.date or model.date),
    )
    columns = (Column("", bold=True), Column("", flex=1.0))
    flow.table(columns, [Row(fact) for fact in facts if fact[1]], 8.5)

    pieces = takeoff.pieces
    held = [piece for piece in pieces if piece.status == HELD]
    severities = Counter(query.severity for query in takeoff.queries)
    open_points = ", ".join(f"{severities[s]} {s}" for s in SEVERITIES if severities[s]) or "none"
    totals = [
        ("Piece marks", str(len(pieces)), f"{len(held)} on hold" if held else "none on hold"),
        ("Pieces", str(_total(pieces, "one")), ""),
        ("Holes to punch", str(_total(pieces, "holes")), f"in {sum(bool(p.holes) for p in pieces)} marks"),
        ("Length of bars and plates", f"{_total(pieces, 'length') / 1000:.1f} m", ""),
        ("Gross weight", f"{_total(pieces, 'gross'):.1f} kg", ""),
        ("Net weight", f"{_total(pieces, 'net'):.1f} kg", "after cuts and holes"),
        ("Surface", f"{_total(pieces, 'surface'):.1f} m²", "holes not deducted"),
        ("Queries", str(len(takeoff.queries)), open_points),
    ]
    flow.heading("Totals", 12.0)
    flow.table(
        (Column("", bold=True, least=150.0), Column("", "right", least=90.0), Column("", flex=1.0)),
        [Row(t) for t in totals],
        8.5,
    )
    flow.boxed(CAUTIONS, 10.0)
    unmeasured = sum(
        status == HELD and not mark for status, mark in zip(takeoff.member_status, takeoff.member_marks, strict=True)
    )
    if unmeasured:
        flow.boxed(
            (
                f"On hold: {several(unmeasured, 'part')} could not be measured.",
                "They have no sheet; see the end of the cut list.",
            ),
            9.0,
        )
    if held:
        marks = ", ".join(piece.mark for piece in held)
        flow.boxed((f"On hold: {several(len(held), 'mark')}. Do not make.", marks), 9.0)
    flow.heading("Everything in the model accounted for", 12.0)
    set_balance(flow, [*part_checks(takeoff.balance), *bolt_checks(takeoff.balance)], other_figures(takeoff.balance))
    flow.heading("Rules used", 12.0)
    for rule in takeoff.rules or ("none stated",):
        flow.paragraph(f"• {rule}", 8.0)


def _total(pieces: tuple[Piece, ...], what: str) -> float:
    """Sum over all pieces: ``one`` counts them, ``holes`` their holes, else the named number of a piece."""
    if what == "one":
        return sum(piece.quantity for piece in pieces)
    if what == "holes":
        return sum(len(piece.holes) * piece.quantity for piece in pieces)
    return sum(float(getattr(piece, what)) * piece.quantity for piece in pieces)


def _section_order(key: tuple[str, str, str]) -> tuple[int, tuple[tuple[int, int, str], ...], str]:
    """Angles first, then by section as people count, then by grade."""
    shape, designation, grade = key
    return (SHAPES.index(shape) if shape in SHAPES else len(SHAPES), natural(designation), grade)


def _cut_list(flow: Flow, takeoff: Takeoff, sheet_pages: Mapping[str, int]) -> None:
    flow.heading("Cut list", 16.0)
    if not takeoff.pieces:
        flow.paragraph("No steel piece to cut: see the queries.")
        return
    flow.paragraph("By section and grade, longest first. Lengths overall, skew ends included. Weights of one piece.")
    columns = (
        Column("Mark", bold=True, flex=0.4, least=50.0),
        Column("Qty", "right", bold=True),
        Column("Length mm", "right", bold=True),
        Column("Gross kg", "right"),
        Column("Net kg", "right"),
        Column("Net all kg", "right"),
        Column("Holes", "right"),
        Column("Opposite hand", flex=0.4),
        Column("Finish", flex=0.6),
        Column("", bold=True),
        Column("Sheet", "right"),
    )
    groups: dict[tuple[str, str, str], list[Piece]] = {}
    for piece in takeoff.pieces:
        key = (piece.section.shape, piece.section.designation, piece.grade)
        groups.setdefault(key, []).append(piece)
    rows: list[Row] = []
    net_all = 0.0
    for (shape, designation, grade), pieces in sorted(groups.items(), key=lambda item: _section_order(item[0])):
        quantity = sum(piece.quantity for piece in pieces)
        metres = sum(piece.length * piece.quantity for piece in pieces) / 1000.0
        name = designation if designation else shape
        rows.append(
            Row((f"{name} · {grade or 'grade not stated'} · {several(quantity, 'piece')} · {metres:.2f} m",), GROUP)
        )
        for piece in sorted(pieces, key=lambda p: (-round(p.length, 2), p.mark)):
            line = round(piece.net * piece.quantity, 1)
            net_all += line
            rows.append(
                Row(
                    (
                        piece.mark,
                        str(piece.quantity),
                        millimetres(piece.length),
                        f"{piece.gross:.2f}",
                        f"{piece.net:.2f}",
                        f"{line:.1f}",
                        str(len(piece.holes)),
                        piece.opposite_hand_of,
                        piece.finish,
                        "HOLD" if piece.status == HELD else "",
                        str(sheet_pages.get(piece.mark, "")),
                    ),
                    link=page_name(piece),
                )
            )
    quantity = sum(piece.quantity for piece in takeoff.pieces)
    rows.append(Row(("All", str(quantity), "", "", "", f"{net_all:.1f}", "", "", "", "", ""), TOTAL))
    flow.table(columns, rows)


def _without_sheet(flow: Flow, takeoff: Takeoff) -> None:
    """Parts of the model that no piece stands for: on hold because they could not be measured, or left out."""
    for status, title, meaning in (
        (HELD, "On hold, not measured", "No length, no holes, no sheet: do not make them from these lists."),
        (LEFT_OUT, "Left out", "Parts of the model that are not steel to cut and punch."),
    ):
        counted: Counter[tuple[str, str, str]] = Counter()
        for member, mark, own, reason in zip(
            takeoff.model.members, takeoff.member_marks, takeoff.member_status, takeoff.member_reasons, strict=True
        ):
            if own == status and not mark:
                name = member.mark or member.name or "without a name"
                counted[name, member.section_text, reason or member.reason or "no reason given"] += 1
        if not counted:
            continue
        flow.heading(f"{title}: {several(sum(counted.values()), 'part')}", 12.0)
        flow.paragraph(meaning)
        rows = sorted(counted.items(), key=lambda item: (item[0][2], natural(item[0][0]), item[0][1]))
        columns = (
            Column("Mark or name in the model", flex=1.0, bold=True),
            Column("Section in the model", flex=1.0),
            Column("Parts", "right"),
            Column("Why", flex=2.0),
        )
        flow.table(columns, [Row((name, text, str(many), why)) for (name, text, why), many in rows[:MOST_ROWS]])
        if len(rows) > MOST_ROWS:
            flow.paragraph(f"{len(rows) - MOST_ROWS} more lines of this kind in tables/members.csv.", bold=True)
