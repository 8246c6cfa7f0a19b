"""A document that runs from page to page: headings, paragraphs and tables one under the other."""

from __future__ import annotations

from collections.abc import Sequence

from takeoff.sheets import fonts
from takeoff.sheets.furniture import Imprint, inner
from takeoff.sheets.page import Item, Line, Page, Text, frame
from takeoff.sheets.tables import LEADING, SIZE, Column, Row, column_widths, set_table


class Flow:
    """Pages filled from the top; a new one is begun when something does not fit."""

    def __init__(self, imprint: Imprint, landscape: bool = False, name: str = "", entry: str = "") -> None:
        self.imprint = imprint
        self.landscape = landscape
        self.pages: list[Page] = []
        self.y = 0.0
        self.turn(name, entry)

    @property
    def page(self) -> Page:
        return self.pages[-1]

    @property
    def left(self) -> float:
        return inner(self.page)[0]

    @property
    def right(self) -> float:
        return inner(self.page)[2]

    @property
    def bottom(self) -> float:
        return inner(self.page)[1]

    def turn(self, name: str = "", entry: str = "", level: int = 0) -> None:
        """Begin a new page."""
        page = self.imprint.page(self.landscape, name, entry, level)
        self.pages.append(page)
        x0, _, x1, y1 = inner(page)
        source = fonts.shorten(self.imprint.source, 7.0, (x1 - x0) * 0.6)
        page.items += [
            Text(x0, y1 - 8.0, self.imprint.title, 8.0, True),
            Text(x1, y1 - 8.0, source, 7.0, anchor="end"),
            Line(x0, y1 - 12.0, x1, y1 - 12.0, 0.8),
        ]
        self.y = y1 - 18.0

    def need(self, height: float) -> None:
        """Turn the page unless ``height`` pt are left on it."""
        if self.y - height < self.bottom:
            self.turn()

    def gap(self, height: float) -> None:
        self.y -= height

    def add(self, items: Sequence[Item]) -> None:
        self.page.items += items

    def heading(self, text: str, size: float = 12.0, keep: float = 40.0) -> None:
        """A heading that stays with the next ``keep`` pt."""
        lines = fonts.wrap(text, size, self.right - self.left, True)
        self.need(len(lines) * size * LEADING + keep)
        self.y -= size * 0.5
        for line in lines:
            self.y -= size
            self.add([Text(self.left, self.y, line, size, True)])
            self.y -= size * (LEADING - 1.0)
        self.y -= 3.0

    def paragraph(self, text: str, size: float = 8.5, bold: bool = False, indent: float = 0.0) -> None:
        for line in fonts.wrap(text, size, self.right - self.left - indent, bold):
            self.need(size * LEADING)
            self.y -= size
            self.add([Text(self.left + indent, self.y, line, size, bold)])
            self.y -= size * (LEADING - 1.0)
        self.y -= 2.0

    def boxed(self, lines: Sequence[str], size: float = 9.0, bold_first: bool = True) -> None:
        """Paragraphs in a strong frame that stays on one page."""
        pad = 6.0
        room = self.right - self.left - 2 * pad
        texts = [
            (line, bold_first and i == 0)
            for i, paragraph in enumerate(lines)
            for line in fonts.wrap(paragraph, size, room, bold_first and i == 0)
        ]
        height = len(texts) * size * LEADING + 2 * pad - 2.0
        self.need(height)
        top = self.y
        self.add([frame((self.left, top - height, self.right, top), 1.2)])
        y = top - pad + 1.0
        for line, bold in texts:
            y -= size
            self.add([Text(self.left + pad, y, line, size, bold)])
            y -= size * (LEADING - 1.0)
        self.y = top - height - 6.0

    def table(self, columns: Sequence[Column], rows: Sequence[Row], size: float = SIZE, full: bool = True) -> None:
        """A table; its heading is repeated on every page. ``full``: as wide as the page."""
        if not rows:
            return
        widths = column_widths(columns, rows, self.right - self.left, size)
        spare = self.right - self.left - sum(widths)
        if full and spare > 0:
            widths = [w + spare / len(widths) for w in widths]
        rest: tuple[Row, ...] = tuple(rows)
        while rest:
            part = set_table(columns, rest, widths, self.left, self.y, self.bottom, size)
            if not part.items:
                self.turn()
                continue
            self.add(part.items)
            self.y, rest = part.bottom, part.rest
            if rest:
                self.turn()
        self.y -= 6.0
