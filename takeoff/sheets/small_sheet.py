"""Two small pieces on one sheet, one above the other, each with its own drawing, hole table, notes and sign-off.

A piece is small where all of its figures and sentences fit half a sheet; what does not fit has a sheet of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from takeoff.queries import Query
from takeoff.sheets import end_view, fonts, measure, piece_notes, piece_sheet, views
from takeoff.sheets.furniture import Imprint, inner
from takeoff.sheets.lengthwise import COMPRESSED
from takeoff.sheets.page import Box, Item, Line, Link, Page, Text, fitted, frame
from takeoff.sheets.piece_sheet import CUT_LIST, entry, page_name
from takeoff.sheets.piece_title import Use, places
from takeoff.sheets.tables import column_widths
from takeoff.sheets.wording import designation
from takeoff.steel import HELD, Piece
from takeoff.words import say

GAP: Final = 12.0
"""Between the two pieces (pt)."""
HEAD: Final = 30.0
FOOT: Final = 15.0
VIEW: Final = 82.0
"""Height of the end view (pt)."""
VIEW_ROOM: Final = 132.0
TABLE_ROOM: Final = 218.0
"""Width of the end view and most for the hole table over it (pt)."""
APART: Final = 8.0
DRAWING: Final = 0.56
"""Share of the drawing in the width that it has together with the notes."""


def panel(
    piece: Piece,
    used: Sequence[Use],
    queries: Sequence[Query],
    imprint: Imprint,
    lower: bool,
    cut_from: Sequence[int] = (),
) -> Page | None:
    """A page with the piece on its upper or ``lower`` half; None where it needs a sheet of its own. Held pieces do."""
    if piece.status == HELD:
        return None
    page = imprint.page(True, page_name(piece.mark), entry(piece), 1)
    x0, y0, x1, y1 = inner(page)
    middle = (y0 + y1) / 2
    box = (x0, y0, x1, middle - GAP / 2) if lower else (x0, middle + GAP / 2, x1, y1)
    items = _half(piece, used, queries, box, cut_from)
    if items is None:
        return None
    page.items += items
    return page


def add(page: Page, lower: Page) -> None:
    """Put what stands on ``lower``'s lower half onto ``page``, whose lower half is free."""
    x0, y0, x1, y1 = inner(page)
    page.items.append(Line(x0, (y0 + y1) / 2, x1, (y0 + y1) / 2, 0.4, (6.0, 4.0)))
    page.items += lower.items
    page.more.append((lower.name, lower.entry, lower.level))


def _half(
    piece: Piece, used: Sequence[Use], queries: Sequence[Query], box: Box, cut_from: Sequence[int]
) -> list[Item] | None:
    x0, y0, x1, y1 = box
    low, top = y0 + FOOT + 5.0, y1 - HEAD - 4.0
    columns, rows = piece_notes.hole_table(piece)
    widths = column_widths(columns, rows, TABLE_ROOM, piece_sheet.TABLE)
    middle = max(sum(widths), VIEW_ROOM)
    split = x0 + (x1 - x0 - middle - 2 * APART) * DRAWING
    notes_at = split + middle + 2 * APART
    place = (x0, low, split, top)
    stretches = views.plan(piece, place)
    if len(stretches) != 1:
        return None
    drawn = views.compose(piece, place, stretches[0])
    if drawn.details or drawn.lost or drawn.manner == COMPRESSED:
        return None  # a sheet of its own shows it better
    sheet = Page(0.0, 0.0)
    sheet.items += drawn.items
    sheet.items += end_view.compose(piece, (split + APART, low, notes_at - APART, low + VIEW))
    table_box = (split + APART, low + VIEW + 4.0, split + APART + sum(widths), top)
    rest, _ = piece_sheet.blocks(sheet, columns, rows, table_box)
    where = say("Where used: {places}.", places="; ".join(places(piece, used)))
    notes = [piece_notes.note(where), *piece_notes.notes(piece, queries, cut_from)]
    note_box = (notes_at, low, x1, top)
    rest_notes = piece_sheet.fill(sheet, piece_sheet.note_columns(), notes, [x1 - notes_at], note_box)
    if rest or rest_notes:
        return None
    head = _head(piece, (x0, y1 - HEAD, x1, y1))
    return None if head is None else [*head, *sheet.items, *_sign_off((x0, y0, x1, y0 + FOOT))]


def _head(piece: Piece, box: Box) -> list[Item] | None:
    """Mark, quantity, section, grade, length; the opposite hand on black. None where the mark is too long."""
    x0, y0, x1, y1 = box
    mark = Text(x0 + 5.0, y0 + 8.0, piece.mark, 20.0, True)
    if mark.width > 120.0:
        return None
    items: list[Item] = [frame(box, 1.2), Link(box, CUT_LIST), mark]
    x = x0 + max(90.0, mark.width + 14.0)
    items.append(Text(x, y0 + 9.0, say("{quantity} off", quantity=piece.quantity), 13.0, True))
    x += 70.0
    right = x1
    if piece.opposite_hand_of:
        words = say("OPPOSITE HAND: {other}", other=piece.opposite_hand_of)
        text = fitted(Text(0.0, 0.0, words, 10.0, True), 190.0, 7.0)
        if text.width > 190.0:
            return None
        right = x1 - text.width - 16.0
        band = (right, y0, x1, y1)
        items += [
            frame(band, 0.0, 0.0),
            Text(right + 8.0, y0 + 11.0, words, text.size, True, white=True),
            Link(band, page_name(piece.opposite_hand_of)),
        ]
    grade = piece.grade or say("grade not stated")
    first = f"{designation(piece.section)} · {grade} · {measure.with_unit(piece.length)}"
    second = say(
        "Finish {finish} · net {each} kg each, {all} kg in all",
        finish=piece.finish or say("not stated"),
        each=measure.mass(piece.net),
        all=measure.mass(piece.net * piece.quantity),
    )
    one = fitted(Text(x, y0 + 16.5, first, 11.0, True), right - x - 6.0, 7.0)
    if one.width > right - x - 6.0:
        return None
    return [*items, one, Text(x, y0 + 5.5, fonts.shorten(second, 7.5, right - x - 6.0), 7.5)]


def _sign_off(box: Box) -> list[Item]:
    """Room to sign for the first and the last piece."""
    x0, y0, x1, _ = box
    items: list[Item] = [frame(box, 0.6)]
    half = (x1 - x0) / 2
    for index, which in enumerate((say("FIRST PIECE"), say("LAST PIECE"))):
        x = x0 + index * half
        items.append(Text(x + 5.0, y0 + 4.0, which, 7.5, True))
        for label, start, end in ((say("name"), 0.28, 0.64), (say("date"), 0.68, 0.98)):
            items.append(Text(x + half * start, y0 + 4.0, label, 7.0))
            items.append(Line(x + half * start + 24.0, y0 + 3.5, x + half * end, y0 + 3.5, 0.4))
    return items
