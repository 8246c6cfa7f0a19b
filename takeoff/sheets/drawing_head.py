"""The lines over a drawing: what it shows, its scale, and the hole sizes with their symbols."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from takeoff.sheets import fonts, symbols
from takeoff.sheets.page import Box, Item, Text
from takeoff.sheets.symbols import Size
from takeoff.steel import Hole
from takeoff.words import say

SIZE: Final = 7.0
STEP: Final = 10.0
FIRST: Final = 13.0
"""Height of the first line with the room under it (pt)."""
SIGN: Final = 12.0
"""Room of a symbol before its words (pt)."""


def height(note: str, holes: Sequence[Hole], width: float) -> float:
    """Room that the lines need, where the note is at most so long (pt)."""
    items = compose(note, holes, (0.0, 0.0, width, 0.0))
    lowest = min(item.y for item in items if isinstance(item, Text))
    return FIRST + (-8.0 - lowest)


def compose(note: str, holes: Sequence[Hole], box: Box) -> list[Item]:
    """The note at the top of ``box``, and behind it the hole sizes where there is more than one."""
    x0, _, x1, y1 = box
    y = y1 - 8.0
    lines = fonts.wrap(note, SIZE, x1 - x0)
    items: list[Item] = [Text(x0, y - k * STEP, line, SIZE) for k, line in enumerate(lines)]
    y -= (len(lines) - 1) * STEP
    x = x0 + fonts.width(lines[-1], SIZE) + 14.0
    sizes = list(symbols.sizes(holes).values())
    for size in sizes if len(sizes) > 1 else []:
        words = _words(size, x1 - x0)
        wide = SIGN + fonts.width(words, SIZE)
        if x + wide > x1:
            x, y = x0, y - STEP
        items += symbols.legend_symbol(size, x + 5.0, y + 2.5)
        items.append(Text(x + SIGN, y, words, SIZE))
        x += wide + 12.0
    return items


def _words(size: Size, room: float) -> str:
    words = say("{size}: {count}", size=size.words, count=size.count)
    return fonts.shorten(words, SIZE, room - SIGN)
