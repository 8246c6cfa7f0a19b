"""One sheet for each piece mark: what it is, its drawing, its holes, what is open about it.

A sheet has fixed places for title, drawing, tables and sign-off; whatever does not fit goes
on to continuation pages at the same type size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from takeoff.queries import Query
from takeoff.sheets import end_view, fonts, piece_notes, piece_title, symbols, views
from takeoff.sheets.bands import bands
from takeoff.sheets.furniture import Imprint, inner
from takeoff.sheets.page import Box, Item, Line, Page, Text, fitted
from takeoff.sheets.piece_title import Use
from takeoff.sheets.tables import Column, Row, column_widths, set_table
from takeoff.steel import HELD, Piece
from takeoff.units import millimetres

TITLE: Final = 62.0
BAND: Final = 24.0
HOLD_BAND: Final = 38.0
SIGN_OFF: Final = 30.0
GAP: Final = 4.0
TABLE: Final = 7.0
"""Type size of the tables (pt)."""
BROAD: Final = 2.6
"""A piece no longer than so many times the width of its unfolded faces has its tables beside the drawing."""
NOTE_ROOM: Final = 172.0
"""Least width of the notes (pt)."""
NOTES: Final = (Column("Notes"),)


def page_name(piece: Piece) -> str:
    """Where links to the sheet lead."""
    return f"piece {piece.mark}"


@dataclass(frozen=True, slots=True)
class _Places:
    drawing: Box
    table: Box
    notes: Box
    end_view: Box


def compose(
    piece: Piece, used: Sequence[Use], queries: Sequence[Query], imprint: Imprint, cut_from: Sequence[int] = ()
) -> list[Page]:
    """The sheet of ``piece`` and its continuation pages.

    ``queries`` are those that concern it, ``cut_from`` the bar patterns that it is cut from.
    """
    page = imprint.page(True, page_name(piece), f"{piece.mark}  {piece.section.designation}", 1)
    x0, y0, x1, y1 = inner(page)
    page.items += piece_title.strip(piece, used, (x0, y1 - TITLE, x1, y1))
    top = y1 - TITLE - GAP
    if piece.opposite_hand_of:
        page.items += piece_title.opposite_hand(piece, (x0, top - BAND, x1, top))
        top -= BAND + GAP
    if piece.status == HELD:
        reasons = piece_notes.hold_reasons(piece, queries)
        page.items += piece_title.hold(reasons, (x0, top - HOLD_BAND, x1, top))
        top -= HOLD_BAND + GAP
    page.items += piece_title.sign_off((x0, y0, x1, y0 + SIGN_OFF))
    bottom = y0 + SIGN_OFF + 11.0

    columns, rows = piece_notes.hole_table(piece)
    notes = piece_notes.notes(piece, queries, cut_from)
    drawn = bands(piece)
    broad = bool(drawn) and piece.length < BROAD * sum(band.width for band in drawn)
    place = _beside if broad else _under
    places = place((x0, bottom, x1, top), columns, rows, notes)
    drawings = views.plan(piece, places.drawing)
    if drawings:
        composed = views.compose(piece, places.drawing, drawings[0])
        page.items += composed.items
        page.items += _legend(piece, places.drawing, composed)
    else:
        words = "No drawing: the shape of this piece is not certain." if piece.status == HELD else "No face to punch."
        left, low, right, high = places.drawing
        page.items.append(Text((left + right) / 2, (low + high) / 2, words, 11.0, True, "middle"))
    page.items += end_view.compose(piece, places.end_view)
    rest, left = _blocks(page, columns, rows, places.table)
    note_box = places.notes if broad else (left, *places.notes[1:])
    rest_notes = _fill(page, NOTES, notes, [note_box[2] - note_box[0]], note_box)
    if rest or rest_notes or len(drawings) > 1:
        page.items.append(Text(x1, y0 + SIGN_OFF + 2.5, "continued on the next page", 7.0, True, "end"))
    if piece.status == HELD:
        page.items += piece_title.hold_across((x0, bottom, x1, top))
    pages = [page]
    further = iter(drawings[1:])
    while (drawing := next(further, None)) or rest or rest_notes:
        page, rest, rest_notes = _continued(piece, imprint, drawing, columns, rest, rest_notes)
        pages.append(page)
    return pages


def _under(room: Box, columns: Sequence[Column], rows: Sequence[Row], notes: Sequence[Row]) -> _Places:
    """Long pieces: the drawing as wide as the sheet, tables and end view under it."""
    x0, y0, x1, y1 = room
    widths = column_widths(columns, rows, (x1 - x0) * 0.6, TABLE)
    needed = max(_height(columns, rows, widths), _height(NOTES, notes, [NOTE_ROOM]))
    middle = y0 + max(130.0, min(182.0, needed))
    view = (x1 - 165.0, y0, x1, middle)
    return _Places(
        drawing=(x0, middle + 6.0, x1, y1),
        table=(x0, y0, view[0] - 8.0 - NOTE_ROOM, middle),
        notes=(x0, y0, view[0] - 8.0, middle),
        end_view=view,
    )


def _beside(room: Box, columns: Sequence[Column], rows: Sequence[Row], notes: Sequence[Row]) -> _Places:
    """Broad pieces: the drawing on the left in full height, end view, tables and notes to its right."""
    x0, y0, x1, y1 = room
    split = x0 + (x1 - x0) * 0.6
    view_bottom = y1 - 104.0
    widths = column_widths(columns, rows, x1 - split, TABLE)
    table_height = _height(columns, rows, widths)
    note_height = _height(NOTES, notes, [x1 - split])
    room_left = view_bottom - 2 * GAP - y0
    # the table has its way down to a third of the room, which the notes then keep
    note_top = y0 + max(min(note_height, room_left / 3), min(note_height, room_left - table_height))
    return _Places(
        drawing=(x0, y0, split - 8.0, y1),
        table=(split, note_top + GAP, x1, view_bottom - GAP),
        notes=(split, y0, x1, note_top),
        end_view=(split, view_bottom, x1, y1),
    )


def _continued(
    piece: Piece,
    imprint: Imprint,
    drawing: views.Stretch | None,
    columns: Sequence[Column],
    rows: Sequence[Row],
    notes: Sequence[Row],
) -> tuple[Page, tuple[Row, ...], tuple[Row, ...]]:
    """A further page: the next part of the drawing, or more of the tables."""
    page = imprint.page(True)
    x0, y0, x1, y1 = inner(page)
    mark = fitted(Text(x0, y1 - 20.0, fonts.printable(piece.mark), 22.0, True), (x1 - x0) * 0.4, 9.0)
    if mark.width > (x1 - x0) * 0.4:
        mark = Text(mark.x, mark.y, fonts.shorten(mark.text, 9.0, (x1 - x0) * 0.4, True), 9.0, True)
    words = f"continued · {piece.section.designation} · {millimetres(piece.length)} mm · {piece.quantity} off"
    words = fonts.shorten(words, 9.0, (x1 - x0) * 0.55)
    page.items += [mark, Text(x1, y1 - 20.0, words, 9.0, anchor="end"), Line(x0, y1 - 26.0, x1, y1 - 26.0, 0.8)]
    top = y1 - 32.0
    if drawing is not None:
        low = y0 + 150.0 if rows or notes else y0
        place = (x0, low + 6.0, x1, top)
        composed = views.compose(piece, place, drawing)
        page.items += composed.items
        page.items += _legend(piece, place, composed)
        top = low
    rest, left = _blocks(page, columns, rows, (x0, y0, x1 - (NOTE_ROOM if notes else 0.0), top))
    rest_notes = _fill(page, NOTES, notes, [x1 - left], (left, y0, x1, top))
    if piece.status == HELD:
        page.items += piece_title.hold_across((x0, y0, x1, y1 - 32.0))
    return page, rest, rest_notes


def _blocks(page: Page, columns: Sequence[Column], rows: Sequence[Row], box: Box) -> tuple[tuple[Row, ...], float]:
    """Set a table in blocks side by side; what did not fit, and where the next block would begin."""
    left, low, right, top = box
    widths = column_widths(columns, rows, right - left, TABLE)
    rest = tuple(rows)
    while rest and left + sum(widths) <= right + 0.01:
        shorter = _fill(page, columns, rest, widths, (left, low, right, top))
        if len(shorter) == len(rest):
            break
        rest = shorter
        left += sum(widths) + 12.0
    return rest, left


def _fill(
    page: Page, columns: Sequence[Column], rows: Sequence[Row], widths: Sequence[float], box: Box
) -> tuple[Row, ...]:
    """Set what fits of a table into ``box``; returns what did not."""
    if not rows:
        return ()
    part = set_table(columns, rows, widths, box[0], box[3], box[1], TABLE)
    page.items += part.items
    return part.rest


def _height(columns: Sequence[Column], rows: Sequence[Row], widths: Sequence[float]) -> float:
    """Height of a table set in one piece."""
    return 1.0 - set_table(columns, rows, widths, 0.0, 0.0, -1e9, TABLE).bottom if rows else 0.0


def _legend(piece: Piece, box: Box, drawn: views.Views) -> list[Item]:
    """Hole sizes with their symbols where there is more than one, on the drawing's first line or under it."""
    sizes = list(symbols.sizes(piece.holes).values())
    if len(sizes) < 2:
        return []
    items: list[Item] = []
    y, x = box[3] - 8.0, box[2]
    low = drawn.note_end + 12.0
    for size in reversed(sizes):
        words = f"{size.words}: {size.count}"
        wide = fonts.width(words, 7.0) + 14.0
        if x - wide < low:
            if y < box[3] - 10.0:
                break
            y, x, low = y - 10.0, box[2], box[0]
        items.append(Text(x, y, words, 7.0, anchor="end"))
        items += symbols.legend_symbol(size, x - wide + 6.0, y + 2.5)
        x -= wide + 10.0
    return items
