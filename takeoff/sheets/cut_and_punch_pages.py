"""cut-and-punch.pdf: cover, cut list, one sheet for each piece mark."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from takeoff.queries import Query
from takeoff.settings import Settings
from takeoff.sheets import cut_list, draw, piece_sheet, piece_title
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.page import Page
from takeoff.steel import Takeoff

TITLE = "Cut and punch"


CutFrom = Mapping[str, tuple[int, ...]]
"""For each mark the numbers of the bar patterns that it is cut from."""


def cut_and_punch(takeoff: Takeoff, settings: Settings, path: Path, cut_from: CutFrom | None = None) -> dict[str, int]:
    """Write cut-and-punch.pdf to ``path``; the page of every piece mark's sheet, from 1.

    OSError where it cannot be written, ValueError for an unknown paper.
    """
    pages, numbers = _compose(takeoff, settings, cut_from or {})
    draw.write(pages, path, TITLE)
    return numbers


def compose(takeoff: Takeoff, settings: Settings, cut_from: CutFrom | None = None) -> list[Page]:
    """The pages of cut-and-punch.pdf, sheets in the order of the marks."""
    return _compose(takeoff, settings, cut_from or {})[0]


def _compose(takeoff: Takeoff, settings: Settings, cut_from: CutFrom) -> tuple[list[Page], dict[str, int]]:
    """Pages, and the page of every mark."""
    head = imprint(takeoff, settings, TITLE)
    queries = _by_mark(takeoff)
    used = piece_title.uses(takeoff)
    sheets: list[Page] = []
    first: dict[str, int] = {}
    for piece in takeoff.pieces:
        first[piece.mark] = len(sheets)
        sheets += piece_sheet.compose(
            piece, used.get(piece.mark, ()), queries.get(piece.mark, ()), head, cut_from.get(piece.mark, ())
        )
    # The cut list says on which page a sheet is, so its own length comes first; figures do not change it.
    front = len(cut_list.compose(takeoff, settings, head, first))
    numbers = {mark: front + index + 1 for mark, index in first.items()}
    pages = cut_list.compose(takeoff, settings, head, numbers)
    pages += sheets
    number_pages(pages, head)
    return pages, numbers


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
