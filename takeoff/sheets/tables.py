"""Tables set on paper: column widths, wrapped cells, repeated headings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from takeoff.sheets import fonts
from takeoff.sheets.page import Item, Line, Link, Text, frame

SIZE: Final = 7.5
PAD: Final = 3.0
LEADING: Final = 1.22
"""Distance of base lines, as a share of the size."""
PLAIN, BOLD, GROUP, TOTAL = "plain", "bold", "group", "total"
LONG_ROW: Final = 12
"""A row of more lines than this may be broken over the foot of a page."""


@dataclass(frozen=True, slots=True)
class Column:
    """``align`` is left or right. ``flex`` columns share the room that is left and wrap; ``least`` pt wide at least."""

    title: str
    align: str = "left"
    flex: float = 0.0
    least: float = 0.0
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """``cells`` one a column; a group row has one cell that runs across. ``link`` names the page the row leads to."""

    cells: tuple[str, ...]
    style: str = PLAIN
    link: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of a table that stands on one page; ``rest`` did not fit."""

    items: tuple[Item, ...]
    bottom: float
    rest: tuple[Row, ...]


def column_widths(columns: Sequence[Column], rows: Sequence[Row], room: float, size: float = SIZE) -> list[float]:
    """Widths in pt that fill no more than ``room``.

    Columns take what their longest cell needs; flexible ones share what is left. Where
    that is too little for the others, all give way in proportion and wrap.
    """
    natural: list[float] = []
    for index, column in enumerate(columns):
        words = column.title.split(" ") if column.title else [""]
        need = max(fonts.width(word, size, True) for word in words)
        for row in rows:
            if row.style != GROUP:
                bold = column.bold or row.style in (BOLD, TOTAL)
                need = max(need, fonts.width(fonts.printable(row.cells[index]), size, bold))
        natural.append(max(need + 2 * PAD, column.least))
    if sum(natural) <= room:
        flex = sum(column.flex for column in columns)
        spare = room - sum(natural) if flex else 0.0
        return [w + (spare * c.flex / flex if flex else 0.0) for w, c in zip(natural, columns, strict=True)]
    fixed = sum(w for w, c in zip(natural, columns, strict=True) if not c.flex)
    flexible = [w for w, c in zip(natural, columns, strict=True) if c.flex]
    left = room - fixed
    if flexible and left >= 50.0 * len(flexible):
        return _share(natural, columns, left)
    # Not even the figures fit: widest columns give way first, the narrow ones keep their figures whole.
    cap = _cap(natural, room)
    return [min(w, cap) for w in natural]


def _share(natural: list[float], columns: Sequence[Column], left: float) -> list[float]:
    """Flexible columns never take more than they need; what one does not need the others get."""
    cap = _cap([w for w, c in zip(natural, columns, strict=True) if c.flex], left)
    return [min(w, cap) if c.flex else w for w, c in zip(natural, columns, strict=True)]


def _cap(widths: Sequence[float], room: float) -> float:
    """The width to cut the widest down to, so that all together fill ``room``."""
    ordered = sorted(widths)
    left, count = room, len(ordered)
    for width in ordered:
        if width * count > left:
            return left / count
        left -= width
        count -= 1
    return ordered[-1]


def set_table(
    columns: Sequence[Column],
    rows: Sequence[Row],
    widths: Sequence[float],
    x: float,
    top: float,
    bottom: float,
    size: float = SIZE,
) -> Part:
    """As many of ``rows`` as fit between ``top`` and ``bottom``, under a heading.

    Nothing is set where not even the heading and one row fit; the rows then come back as ``rest``.
    """
    step = size * LEADING
    right = x + sum(widths)
    heads = [fonts.wrap(c.title, size, w - 2 * PAD + 0.01, True) for c, w in zip(columns, widths, strict=True)]
    headed = any(column.title for column in columns)
    tall = max(len(h) for h in heads) * step + 3.0 if headed else 0.0
    lefts = [x + sum(widths[:i]) for i in range(len(widths))]
    items: list[Item] = [frame((x, top - tall, right, top), 0.0, 0.88)] if headed else []
    for column, lines, left, width in zip(columns, heads, lefts, widths, strict=True):
        base = top - tall + (len(lines) - 1) * step + 1.4
        items += _cell(lines, left, width, base, column.align, size, True)
    items.append(Line(x, top - tall, right, top - tall, 0.8))
    y = top - tall
    for index, row in enumerate(rows):
        cells = _lines(row, columns, widths, size)
        deep = max(len(cell) for cell in cells)
        height = deep * step + 2.4
        # A group line never stands alone at the foot of a page; a long row after it may be broken.
        follow = 0.0
        if row.style == GROUP and index + 1 < len(rows):
            after = max(len(cell) for cell in _lines(rows[index + 1], columns, widths, size))
            follow = (after if after <= LONG_ROW else 3) * step + 2.4
        if y - height - follow < bottom:
            kept = int((y - bottom - 2.4) / step)
            if deep > LONG_ROW and kept >= 3:
                _set_row(items, row, [cell[:kept] for cell in cells], columns, lefts, widths, right, y, step, size)
                y -= kept * step + 2.4
                later = Row(tuple(" ".join(cell[kept:]) for cell in cells), row.style)
                return Part(tuple(items), y, (later, *rows[index + 1 :]))
            return Part(tuple(items) if index else (), y if index else top, tuple(rows[index:]))
        _set_row(items, row, cells, columns, lefts, widths, right, y, step, size)
        y -= height
    return Part(tuple(items), y, ())


def _lines(row: Row, columns: Sequence[Column], widths: Sequence[float], size: float) -> list[tuple[str, ...]]:
    if row.style == GROUP:
        return [fonts.wrap(row.cells[0], size, sum(widths) - 2 * PAD, True)]
    bold = row.style in (BOLD, TOTAL)
    return [
        fonts.wrap(cell, size, width - 2 * PAD + 0.01, bold or column.bold)
        for cell, column, width in zip(row.cells, columns, widths, strict=True)
    ]


def _set_row(
    items: list[Item],
    row: Row,
    lines: Sequence[tuple[str, ...]],
    columns: Sequence[Column],
    lefts: Sequence[float],
    widths: Sequence[float],
    right: float,
    y: float,
    step: float,
    size: float,
) -> None:
    deep = max(len(cell) for cell in lines)
    bottom = y - deep * step - 2.4
    x = lefts[0]
    if row.style == GROUP:
        base = y - step
        items += [Text(x + PAD, base - i * step, line, size, True) for i, line in enumerate(lines[0])]
    else:
        bold = row.style in (BOLD, TOTAL)
        for cell, column, left, width in zip(lines, columns, lefts, widths, strict=True):
            items += _cell(cell, left, width, y - step, column.align, size, bold or column.bold)
    items.append(Line(x, bottom, right, bottom, 0.25))
    if row.style == TOTAL:
        items.append(Line(x, y, right, y, 0.8))
    if row.link:
        items.append(Link((x, bottom, right, y), row.link))


def _cell(
    lines: Sequence[str], left: float, width: float, base: float, align: str, size: float, bold: bool
) -> list[Item]:
    step = size * LEADING
    base += 1.2
    if align == "right":
        return [
            Text(left + width - PAD, base - i * step, line, size, bold, "end") for i, line in enumerate(lines) if line
        ]
    return [Text(left + PAD, base - i * step, line, size, bold) for i, line in enumerate(lines) if line]
