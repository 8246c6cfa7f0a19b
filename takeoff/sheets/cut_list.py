"""The front of cut-and-punch.pdf: cover with totals, cautions and balance, then the cut list and the stations."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Final

from takeoff.order import natural
from takeoff.queries import ASSUMED, CHECK, HOLD, SEVERITIES
from takeoff.settings import Settings
from takeoff.sheets import cut_order, measure, punch_list, reading, station_list
from takeoff.sheets.balance import bolt_checks, other_figures, part_checks, set_balance
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import Imprint, supersedes
from takeoff.sheets.page import Page
from takeoff.sheets.piece_sheet import CUT_LIST, page_name
from takeoff.sheets.register_facts import register_facts
from takeoff.sheets.tables import GROUP, TOTAL, Column, Row
from takeoff.sheets.wording import designation, marks_words, parts_words, pieces_words
from takeoff.steel import HELD, LEFT_OUT, Piece, Takeoff
from takeoff.words import say, spoken


def cautions() -> tuple[str, ...]:
    """What is to be known before the quantity is run."""
    return (
        say("Before the quantity is run"),
        say(
            "Check the first piece of every mark against the drawing before running the rest, and sign for it on its "
            "sheet."
        ),
        say("What deviates from the drawings goes to the engineer; nobody mends it on the line."),
        say(
            "Where machine files are used: make the test piece first (takeoff test-piece, an unequal angle with a hole "
            "in each leg). If it comes out as its opposite hand, the files are not for that line."
        ),
        say(
            "These lists follow the model, and the checks in them only assist. The codes in force where the structure "
            "stands and the licensed engineer decide."
        ),
    )


MOST_ROWS: Final = 200
"""Lines printed of parts that have no sheet; members.csv has them all."""


def compose(
    takeoff: Takeoff,
    settings: Settings,
    imprint: Imprint,
    sheet_pages: Mapping[str, int],
    contents: Mapping[str, int] | None = None,
) -> list[Page]:
    """Cover, cut list, hits by punch and the list of every station.

    ``sheet_pages`` is the page number of each mark's sheet, ``contents`` that of every named page of the front.
    """
    flow = Flow(imprint, name="cover", entry=say("Cover"))
    _cover(flow, takeoff, settings, sheet_pages, contents or {})
    flow.turn(CUT_LIST, say("Cut list"))
    _cut_list(flow, takeoff, sheet_pages)
    punch_list.compose(flow, takeoff.pieces)
    _without_sheet(flow, takeoff)
    station_list.compose(flow, takeoff)
    return flow.pages


def _cover(
    flow: Flow, takeoff: Takeoff, settings: Settings, sheet_pages: Mapping[str, int], contents: Mapping[str, int]
) -> None:
    model, documents = takeoff.model, settings.documents
    flow.heading(say("Cut and punch"), 24.0)
    if documents.job:
        flow.paragraph(documents.job, 13.0, True)
    flow.gap(4.0)
    facts = (
        (say("Model"), model.name),
        (say("Checksum"), model.checksum),
        (say("Schema, unit"), " · ".join(part for part in (model.schema, model.length_unit) if part)),
        (say("Written by"), model.application),
        (say("Revision"), documents.revision),
        (say("Date"), documents.date or model.date[:10]),
        (say("Supersedes"), supersedes(takeoff, settings)),
        *register_facts(takeoff),
        (say("Lengths in"), say("feet, inches and sixteenths") if measure.inches() else "mm"),
        (
            say("Running dimensions"),
            say("from the RIGHT end of the piece") if measure.from_right() else say("from the left end of the piece"),
        ),
    )
    columns = (Column("", bold=True), Column("", flex=1.0))
    flow.table(columns, [Row(fact) for fact in facts if fact[1]], 8.5)

    pieces = takeoff.pieces
    held = [piece for piece in pieces if piece.status == HELD]
    severities = Counter(query.severity for query in takeoff.queries)
    names = {HOLD: say("hold"), CHECK: say("check"), ASSUMED: say("assumed")}
    open_points = ", ".join(f"{severities[s]} {names[s]}" for s in SEVERITIES if severities[s]) or say("none")
    fitted = sum(bool(piece.holes) for piece in pieces)
    totals = [
        (
            say("Piece marks"),
            str(len(pieces)),
            say("{count} on hold", count=len(held)) if held else say("none on hold"),
        ),
        (say("Pieces"), str(_total(pieces, "one")), ""),
        (say("Holes to make"), str(_total(pieces, "holes")), say("in {marks}", marks=marks_words(fitted))),
        (say("Length of bars and plates"), f"{measure.figure(_total(pieces, 'length') / 1000, 1)} m", ""),
        (say("Gross weight"), f"{measure.figure(_total(pieces, 'gross'), 1)} kg", ""),
        (say("Net weight"), f"{measure.figure(_total(pieces, 'net'), 1)} kg", say("after cuts and holes")),
        (say("Surface"), f"{measure.figure(_total(pieces, 'surface'), 1)} m²", say("holes not deducted")),
        (say("Queries"), str(len(takeoff.queries)), open_points),
    ]
    flow.heading(say("Totals"), 12.0)
    flow.table(
        (Column("", bold=True, least=150.0), Column("", "right", least=90.0), Column("", flex=1.0)),
        [Row(t) for t in totals],
        8.5,
    )
    flow.boxed(cautions(), 10.0)
    unmeasured = sum(
        status == HELD and not mark for status, mark in zip(takeoff.member_status, takeoff.member_marks, strict=True)
    )
    if unmeasured:
        flow.boxed(
            (
                say("On hold: {parts} could not be measured.", parts=parts_words(unmeasured)),
                say("They have no sheet; see the end of the cut list."),
            ),
            9.0,
        )
    if held:
        marks = ", ".join(piece.mark for piece in held)
        flow.boxed((say("On hold: {marks}. Do not make.", marks=marks_words(len(held))), marks), 9.0)
    flow.heading(say("In this document"), 12.0)
    _contents(flow, takeoff, sheet_pages, contents)
    flow.heading(say("Everything in the model accounted for"), 12.0)
    set_balance(flow, [*part_checks(takeoff.balance), *bolt_checks(takeoff.balance)], other_figures(takeoff.balance))
    flow.heading(say("Rules used"), 12.0)
    for rule in map(spoken, takeoff.rules or (say("none stated"),)):
        flow.paragraph(f"• {rule}", 8.0)
    flow.need(reading.HEIGHT)
    flow.page.more.append(("reading", say("How to read the sheets"), 0))
    reading.compose(flow)


def _contents(flow: Flow, takeoff: Takeoff, sheet_pages: Mapping[str, int], contents: Mapping[str, int]) -> None:
    """What stands on which page; every row leads there."""
    rows = [
        (say("How to read the sheets"), "reading"),
        (say("Cut list, hits by punch, parts without a sheet"), CUT_LIST),
    ]
    if takeoff.stations:
        rows.append((say("By station"), "stations"))
    made = [Row((title, str(contents.get(name, ""))), link=name) for title, name in rows]
    if takeoff.pieces:
        first = min(takeoff.pieces, key=lambda piece: sheet_pages.get(piece.mark, 0)).mark
        title = say("Sheets of the pieces, in the order of the cut list")
        made.append(Row((title, str(sheet_pages.get(first, ""))), link=page_name(first)))
    flow.table((Column("", flex=1.0), Column("", "right", bold=True, least=40.0)), made, 8.5)


def _total(pieces: tuple[Piece, ...], what: str) -> float:
    """Sum over all pieces: ``one`` counts them, ``holes`` their holes, else the named number of a piece."""
    if what == "one":
        return sum(piece.quantity for piece in pieces)
    if what == "holes":
        return sum(len(piece.holes) * piece.quantity for piece in pieces)
    return sum(float(getattr(piece, what)) * piece.quantity for piece in pieces)


def _cut_list(flow: Flow, takeoff: Takeoff, sheet_pages: Mapping[str, int]) -> None:
    flow.heading(say("Cut list"), 16.0)
    if not takeoff.pieces:
        flow.paragraph(say("No steel piece to cut: see the queries."))
        return
    flow.paragraph(
        say("By section and grade, longest first. Lengths overall, skew ends included. Weights of one piece.")
    )
    columns = (
        Column(say("Mark"), bold=True, flex=0.4, least=50.0),
        Column(say("Qty"), "right", bold=True),
        Column(say("Length") if measure.inches() else say("Length mm"), "right", bold=True),
        Column(say("Gross kg"), "right"),
        Column(say("Net kg"), "right"),
        Column(say("Net all kg"), "right"),
        Column(say("Holes"), "right"),
        Column(say("Opposite hand"), flex=0.4),
        Column(say("Finish"), flex=0.6),
        Column("", bold=True),
        Column(say("Page"), "right"),
    )
    rows: list[Row] = []
    net_all = 0.0
    for _, pieces in cut_order.groups(takeoff.pieces):
        rows.append(Row((group_line(pieces),), GROUP))
        for piece in pieces:
            line = round(piece.net * piece.quantity, 1)
            net_all += line
            rows.append(
                Row(
                    (
                        piece.mark,
                        str(piece.quantity),
                        measure.length(piece.length),
                        measure.figure(piece.gross, 2),
                        measure.figure(piece.net, 2),
                        measure.figure(line, 1),
                        str(len(piece.holes)),
                        piece.opposite_hand_of,
                        piece.finish,
                        say("HOLD") if piece.status == HELD else "",
                        str(sheet_pages.get(piece.mark, "")),
                    ),
                    link=page_name(piece.mark),
                )
            )
    quantity = sum(piece.quantity for piece in takeoff.pieces)
    rows.append(Row((say("All"), str(quantity), "", "", "", measure.figure(net_all, 1), "", "", "", "", ""), TOTAL))
    flow.table(columns, rows)


def group_line(pieces: Sequence[Piece]) -> str:
    """Section, grade, pieces and metres of a group."""
    quantity = sum(piece.quantity for piece in pieces)
    metres = sum(piece.length * piece.quantity for piece in pieces) / 1000.0
    grade = pieces[0].grade or say("grade not stated")
    return f"{designation(pieces[0].section)} · {grade} · {pieces_words(quantity)} · {measure.figure(metres, 2)} m"


def _without_sheet(flow: Flow, takeoff: Takeoff) -> None:
    """Parts of the model that no piece stands for: on hold because they could not be measured, or left out."""
    for status, title, meaning in (
        (
            HELD,
            say("On hold, not measured: {parts}"),
            say("No length, no holes, no sheet: do not make them from these lists."),
        ),
        (LEFT_OUT, say("Left out: {parts}"), say("Parts of the model that are not steel to cut and punch.")),
    ):
        counted: Counter[tuple[str, str, str]] = Counter()
        for member, mark, own, reason in zip(
            takeoff.model.members, takeoff.member_marks, takeoff.member_status, takeoff.member_reasons, strict=True
        ):
            if own == status and not mark:
                name = member.mark or member.name or say("without a name")
                counted[name, member.section_text, reason or member.reason or say("no reason given")] += 1
        if not counted:
            continue
        flow.heading(title.format(parts=parts_words(sum(counted.values()))), 12.0)
        flow.paragraph(meaning)
        rows = sorted(counted.items(), key=lambda item: (item[0][2], natural(item[0][0]), item[0][1]))
        columns = (
            Column(say("Mark or name in the model"), flex=1.0, bold=True),
            Column(say("Section in the model"), flex=1.0),
            Column(say("Parts"), "right"),
            Column(say("Why"), flex=2.0),
        )
        flow.table(columns, [Row((name, text, str(many), why)) for (name, text, why), many in rows[:MOST_ROWS]])
        if len(rows) > MOST_ROWS:
            more = say("{count} more lines of this kind in tables/members.csv.", count=len(rows) - MOST_ROWS)
            flow.paragraph(more, bold=True)
