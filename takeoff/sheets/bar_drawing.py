"""One bar pattern drawn to scale: pieces with their marks and lengths, trim, off-cut."""

from __future__ import annotations

from typing import Final

from takeoff.plans import BarPattern
from takeoff.sheets import fonts
from takeoff.sheets.page import LEAST_TEXT, Item, Line, Shape, Text, frame
from takeoff.units import millimetres

HEIGHT: Final = 30.0
"""Of the bar on paper (pt); its depth is not to scale."""
MARK: Final = 8.0
LENGTH: Final = 7.0


def bar(pattern: BarPattern, x: float, top: float, scale: float) -> list[Item]:
    """The bar with its front end at ``x`` and its top edge at ``top``; ``scale`` pt a mm."""
    low = top - HEIGHT
    items: list[Item] = []
    begin = pattern.pieces[0].start if pattern.pieces else 0.0
    if begin > 0:
        items.append(frame((x, low, x + begin * scale, top), 0.4, 0.55))
    for piece in pattern.pieces:
        left, right = x + piece.start * scale, x + piece.stop * scale
        items.append(frame((left, low, right, top), 0.8))
        items += _labels(fonts.printable(piece.mark), millimetres(piece.length), left, right, low)
    end = x + pattern.stock_length * scale
    left = end - pattern.offcut * scale
    if pattern.offcut:
        items.append(frame((left, low, end, top), 0.6, None if pattern.kept else 0.85))
        if pattern.kept:
            # crossed: nothing is made of it here
            items += [Line(left, low, end, top, 0.3), Line(left, top, end, low, 0.3)]
        words = f"off-cut {pattern.offcut}"
        if fonts.width(words, LENGTH) + 4.0 <= end - left:
            items.append(Text((left + end) / 2, low + HEIGHT / 2 - 2.5, words, LENGTH, False, "middle", halo=True))
    items.append(Shape(((x, low), (end, low), (end, top), (x, top)), 1.2))
    return items


def _labels(mark: str, length: str, left: float, right: float, low: float) -> list[Item]:
    """Mark over length where the piece is wide enough, upright letters turned where it is not; the table has all."""
    wide, middle = right - left - 2.0, (left + right) / 2
    if fonts.width(mark, MARK, True) <= wide:
        items: list[Item] = [Text(middle, low + HEIGHT - 12.0, mark, MARK, True, "middle")]
        if fonts.width(length, LENGTH) <= wide:
            items.append(Text(middle, low + 6.0, length, LENGTH, False, "middle"))
        return items
    if wide >= LEAST_TEXT and fonts.width(mark, LEAST_TEXT, True) <= HEIGHT - 2.0:
        return [Text(middle + LEAST_TEXT * 0.36, low + HEIGHT / 2, mark, LEAST_TEXT, True, "middle", 90.0)]
    return []
