"""cut-and-punch.pdf: cover, cut list, one sheet for each piece mark."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from takeoff.queries import Query
from takeoff.settings import Settings
from takeoff.sheets import cut_list, cut_order, draw, piece_sheet, piece_title, small_sheet
from takeoff.sheets.furniture import Imprint, imprint, number_pages
from takeoff.sheets.measure import measuring
from takeoff.sheets.page import Link, Page
from takeoff.steel import Takeoff
from takeoff.words import say, speaking

CutFrom = Mapping[str, tuple[int, ...]]
"""For each mark the numbers of the bar patterns that it is cut from."""


def cut_and_punch(takeoff: Takeoff, settings: Settings, path: Path, cut_from: CutFrom | None = None) -> dict[str, int]:
    """Write cut-and-punch.pdf to ``path``; the page of every piece mark's sheet, from 1.

    OSError where it cannot be written, ValueError for an unknown paper.
    """
    with speaking(settings.documents.language):
        pages, numbers = _compose(takeoff, settings, cut_from or {})
        draw.write(pages, path, say("Cut and punch"))
    return numbers


def compose(takeoff: Takeoff, settings: Settings, cut_from: CutFrom | None = None) -> list[Page]:
    """The pages of cut-and-punch.pdf, sheets in the order of the cut list."""
    with speaking(settings.documents.language):
        return _compose(takeoff, settings, cut_from or {})[0]


def _compose(takeoff: Takeoff, settings: Settings, cut_from: CutFrom) -> tuple[list[Page], dict[str, int]]:
    """Pages, and the page of every mark."""
    with measuring(settings.documents):
        head = imprint(takeoff, settings, say("Cut and punch"))
        sheets, first = _sheets(takeoff, settings, head, cut_from)
        # The cut list says on which page a sheet is, so its own length comes first; figures do not change it.
        front = cut_list.compose(takeoff, settings, head, first)
        numbers = {mark: len(front) + index + 1 for mark, index in first.items()}
        contents = {
            name: index
            for index, page in enumerate(front, start=1)
            for name in (page.name, *(name for name, _, _ in page.more))
        }
        pages = [*cut_list.compose(takeoff, settings, head, numbers, contents), *sheets]
        _without_loose_links(pages)
        number_pages(pages, head)
    return pages, {piece.mark: numbers[piece.mark] for piece in takeoff.pieces}


def _sheets(
    takeoff: Takeoff, settings: Settings, head: Imprint, cut_from: CutFrom
) -> tuple[list[Page], dict[str, int]]:
    """The sheets in the order of the cut list, so that both hands of a piece lie together; where each mark's is."""
    queries = _by_mark(takeoff)
    used = piece_title.uses(takeoff)
    together = settings.documents.small_pieces == "together"
    sheets: list[Page] = []
    first: dict[str, int] = {}
    for _, pieces in cut_order.groups(takeoff.pieces):
        start = len(sheets)
        room: Page | None = None
        """The last page, where its lower half is free."""
        for piece, after in zip(pieces, [*pieces[1:], None], strict=True):
            if after is not None and after.mark == piece.opposite_hand_of:
                room = None  # both hands on one sheet
            what = (used.get(piece.mark, ()), queries.get(piece.mark, ()))
            patterns = cut_from.get(piece.mark, ())
            panel = small_sheet.panel(piece, *what, head, room is not None, patterns) if together else None
            if panel is not None and room is not None:
                first[piece.mark] = len(sheets) - 1
                small_sheet.add(room, panel)
                room = None
                continue
            first[piece.mark] = len(sheets)
            if panel is not None:
                sheets.append(room := panel)
                continue
            room = None
            sheets += piece_sheet.compose(piece, *what, head, patterns)
        sheets[start].chapter = cut_list.group_line(pieces)
    return sheets, first


def _without_loose_links(pages: Sequence[Page]) -> None:
    """Take out links to what is not printed: an opposite hand that only the register knows."""
    names = {name for page in pages for name in (page.name, *(name for name, _, _ in page.more))}
    for page in pages:
        page.items = [item for item in page.items if not isinstance(item, Link) or item.target in names]


def _by_mark(takeoff: Takeoff) -> dict[str, list[Query]]:
    """The queries that concern each piece: those on its mark, and those that name one of its members."""
    mark_of = {
        member.global_id: mark for member, mark in zip(takeoff.model.members, takeoff.member_marks, strict=True) if mark
    }
    found: dict[str, list[Query]] = {}
    for query in takeoff.queries:
        marks = dict.fromkeys(mark_of[global_id] for global_id in query.global_ids if global_id in mark_of)
        if query.piece_mark:
            marks = {query.piece_mark: None}
        for mark in marks:
            found.setdefault(mark, []).append(query)
    return found
