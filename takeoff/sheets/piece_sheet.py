"""One sheet for each piece mark: what it is, its drawing, its holes, what is open about it.

A sheet has fixed places for title, drawing, tables and sign-off; whatever does not fit goes
on to continuation pages at the same type size.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from takeoff.queries import Query
from takeoff.sheets import end_view, fonts, measure, piece_notes, piece_title, views
from takeoff.sheets.bands import Stretch, bands, flat_on
from takeoff.sheets.furniture import Imprint, inner
from takeoff.sheets.page import Box, Line, Link, Page, Text, fitted
from takeoff.sheets.piece_title import Use
from takeoff.sheets.tables import Column, Row, column_widths, set_table
from takeoff.sheets.wording import designation
from takeoff.steel import HELD, Piece
from takeoff.words import say

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
VIEW_ROOM: Final = 165.0
"""Width of the end view under a long piece (pt)."""
TABLE_HEIGHTS: Final = (130.0, 145.0, 160.0, 182.0, 196.0, 210.0, 224.0)
"""Heights that are tried for the tables under a drawing (pt)."""
USUAL_HEIGHT: Final = 182.0
CUT_LIST: Final = "cut list"
"""Where a sheet's head leads back to."""


def note_columns() -> tuple[Column, ...]:
    """The heading of the notes."""
    return (Column(say("Notes")),)


def page_name(mark: str) -> str:
    """Where links to the sheet of a mark lead."""
    return f"piece {mark}"


def entry(piece: Piece) -> str:
    """Its line in the reader's contents."""
    return f"{piece.mark}  {designation(piece.section)}  {measure.with_unit(piece.length)}"


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
    page = imprint.page(True, page_name(piece.mark), entry(piece), 1)
    x0, y0, x1, y1 = inner(page)
    page.items += piece_title.strip(piece, used, (x0, y1 - TITLE, x1, y1))
    page.items.append(Link((x0, y1 - TITLE, x1, y1), CUT_LIST))
    top = y1 - TITLE - GAP
    if piece.opposite_hand_of:
        page.items += piece_title.opposite_hand(piece, (x0, top - BAND, x1, top), page_name(piece.opposite_hand_of))
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
    room = (x0, bottom, x1, top)
    places = (_beside if broad else _under)(piece, room, columns, rows, notes)
    further = deque(views.plan(piece, places.drawing))
    details: deque[Stretch] = deque()
    if further:
        composed = views.compose(piece, places.drawing, further.popleft())
        page.items += composed.items
        details += composed.details
    else:
        words = (
            say("No drawing: the shape of this piece is not certain.")
            if piece.status == HELD
            else say("No face to punch.")
        )
        left, low, right, high = places.drawing
        page.items.append(Text((left + right) / 2, (low + high) / 2, words, 11.0, True, "middle"))
    page.items += end_view.compose(piece, places.end_view)
    rest, left = blocks(page, columns, rows, places.table)
    note_box = places.notes if broad else (left, *places.notes[1:])
    rest_notes = fill(page, note_columns(), notes, [note_box[2] - note_box[0]], note_box)
    if rest or rest_notes or further or details:
        page.items.append(Text(x1, y0 + SIGN_OFF + 2.5, say("continued on the next page"), 7.0, True, "end"))
    if piece.status == HELD:
        page.items += piece_title.hold_across((x0, bottom, x1, top))
    pages = [page]
    while further or rest or rest_notes or details:
        drawing = further.popleft() if further else None
        if not (drawing or rest or rest_notes):
            drawing = details.popleft()
        page, rest, rest_notes, more = _continued(piece, imprint, drawing, columns, rest, rest_notes, len(details) + 1)
        details += more
        pages.append(page)
    return pages


def _under(piece: Piece, room: Box, columns: Sequence[Column], rows: Sequence[Row], notes: Sequence[Row]) -> _Places:
    """Long pieces: the drawing as wide as the sheet, tables and end view under it.

    The tables get as much height as takes all of them, if that leaves the drawing enough.
    """
    x0, y0, x1, y1 = room
    right = x1 - VIEW_ROOM - 8.0
    spare = y1 - y0 - 6.0 - views.wanted(piece, x1 - x0)
    heights = [high for high in TABLE_HEIGHTS if high <= spare] or [TABLE_HEIGHTS[0]]
    fitting = (high for high in heights if _all_fit(columns, rows, notes, (x0, y0, right, y0 + high)))
    middle = y0 + next(fitting, min(heights[-1], USUAL_HEIGHT))
    view = (x1 - VIEW_ROOM, y0, x1, min(middle, y0 + USUAL_HEIGHT))
    return _Places(
        drawing=(x0, middle + 6.0, x1, y1),
        table=(x0, y0, right - NOTE_ROOM, middle),
        notes=(x0, y0, right, middle),
        end_view=view,
    )


def _all_fit(columns: Sequence[Column], rows: Sequence[Row], notes: Sequence[Row], box: Box) -> bool:
    """Whether the table and the notes beside it fit the box."""
    x0, y0, x1, y1 = box
    trial = Page(0.0, 0.0)
    rest, left = blocks(trial, columns, rows, (x0, y0, x1 - NOTE_ROOM, y1))
    return not rest and not fill(trial, note_columns(), notes, [x1 - left], (left, y0, x1, y1))


def _beside(piece: Piece, room: Box, columns: Sequence[Column], rows: Sequence[Row], notes: Sequence[Row]) -> _Places:
    """Broad pieces: the drawing on the left in full height, end view, tables and notes to its right."""
    x0, y0, x1, y1 = room
    split = x0 + (x1 - x0) * 0.55
    view_bottom = y1 - (70.0 if flat_on(piece) else 104.0)
    table_height = _block_height(columns, rows, x1 - split)
    note_height = _height(note_columns(), notes, [x1 - split])
    room_left = view_bottom - 2 * GAP - y0
    # the table has its way down to a third of the room, which the notes then keep
    note_top = y0 + max(min(note_height, room_left / 3), min(note_height, room_left - table_height))
    return _Places(
        drawing=(x0, y0, split - 8.0, y1),
        table=(split, note_top + GAP, x1, view_bottom - GAP),
        notes=(split, y0, x1, note_top),
        end_view=(split, view_bottom, x1, y1),
    )


def _block_height(columns: Sequence[Column], rows: Sequence[Row], room: float) -> float:
    """Least height at which a table fits ``room`` pt of width in blocks side by side."""
    widths = column_widths(columns, rows, room, TABLE)
    high = _height(columns, rows, widths)
    side_by_side = max(1, int((room + 12.01) / (sum(widths) + 12.0)))
    tried = high / side_by_side
    while tried < high:
        if not blocks(Page(0.0, 0.0), columns, rows, (0.0, 0.0, room, tried))[0]:
            return tried
        tried += TABLE
    return high


def _continued(
    piece: Piece,
    imprint: Imprint,
    drawing: Stretch | None,
    columns: Sequence[Column],
    rows: Sequence[Row],
    notes: Sequence[Row],
    details_from: int,
) -> tuple[Page, tuple[Row, ...], tuple[Row, ...], tuple[Stretch, ...]]:
    """A further page: the next part of the drawing, or more of the tables; what is left, and details still to draw."""
    page = imprint.page(True)
    x0, y0, x1, y1 = inner(page)
    mark = fitted(Text(x0, y1 - 20.0, fonts.printable(piece.mark), 22.0, True), (x1 - x0) * 0.4, 9.0)
    if mark.width > (x1 - x0) * 0.4:
        mark = Text(mark.x, mark.y, fonts.shorten(mark.text, 9.0, (x1 - x0) * 0.4, True), 9.0, True)
    words = say(
        "continued · {section} · {length} · {quantity} off",
        section=designation(piece.section),
        length=measure.with_unit(piece.length),
        quantity=piece.quantity,
    )
    words = fonts.shorten(words, 9.0, (x1 - x0) * 0.55)
    page.items += [mark, Text(x1, y1 - 20.0, words, 9.0, anchor="end"), Line(x0, y1 - 26.0, x1, y1 - 26.0, 0.8)]
    top = y1 - 32.0
    more: tuple[Stretch, ...] = ()
    if drawing is not None:
        low = y0 + 150.0 if rows or notes else y0
        place = (x0, low + 6.0, x1, top)
        composed = views.compose(piece, place, drawing, details_from)
        page.items += composed.items
        more = composed.details
        top = low
    rest, left = blocks(page, columns, rows, (x0, y0, x1 - (NOTE_ROOM if notes else 0.0), top))
    rest_notes = fill(page, note_columns(), notes, [x1 - left], (left, y0, x1, top))
    if piece.status == HELD:
        page.items += piece_title.hold_across((x0, y0, x1, y1 - 32.0))
    return page, rest, rest_notes, more


def blocks(page: Page, columns: Sequence[Column], rows: Sequence[Row], box: Box) -> tuple[tuple[Row, ...], float]:
    """Set a table in blocks side by side; what did not fit, and where the next block would begin."""
    left, low, right, top = box
    widths = column_widths(columns, rows, right - left, TABLE)
    rest = tuple(rows)
    while rest and left + sum(widths) <= right + 0.01:
        shorter = fill(page, columns, rest, widths, (left, low, right, top))
        if len(shorter) == len(rest):
            break
        rest = shorter
        left += sum(widths) + 12.0
    return rest, left


def fill(
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
