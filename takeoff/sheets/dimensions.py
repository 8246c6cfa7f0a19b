"""Running dimensions: figures from one datum, set apart so that none overlaps, each led to its place.

Every figure is rounded from its own distance to the datum, never summed from others
(ISO 129-1 calls this superimposed running dimensioning; the datum carries a small circle).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from takeoff.sheets import fonts
from takeoff.sheets.page import DIMENSION_TEXT, Disc, Item, Line, Shape, Text

PITCH: Final = DIMENSION_TEXT * 1.14
"""Least distance of neighbouring figures, base line to base line (pt)."""
TICK: Final = 3.0
LEADER: Final = 12.0
"""From the dimension line to the figures."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on a dimension line: where on paper, from where its witness line comes, and its figure."""

    at: float
    witness: float
    text: str
    bold: bool = False
    dashed: bool = False
    """Its witness line runs over steel that it does not measure."""


def spread(wanted: Sequence[float], pitch: float, low: float, high: float) -> list[float] | None:
    """Places near ``wanted`` (ascending) at least ``pitch`` apart between ``low`` and ``high``.

    The sum of squared shifts is least (neighbours that collide are pooled and share their
    mean). None where there is no room for so many.
    """
    count = len(wanted)
    if count == 0:
        return []
    reach = high - low - (count - 1) * pitch
    if reach < -1e-9:
        return None
    pools: list[tuple[float, int]] = []
    for index, place in enumerate(wanted):
        mean, size = place - index * pitch, 1
        while pools and pools[-1][0] >= mean:
            before, many = pools.pop()
            mean, size = (before * many + mean * size) / (many + size), many + size
        pools.append((mean, size))
    level = [mean for mean, size in pools for _ in range(size)]
    return [min(max(value, low), low + max(reach, 0.0)) + index * pitch for index, value in enumerate(level)]


def capacity(room: float) -> int:
    """How many figures stand side by side in ``room`` pt."""
    return int(room / PITCH) + 1


def depth(texts: Sequence[str]) -> float:
    """Room that a dimension line with its figures needs beside the view (pt)."""
    if not texts:
        return TICK + 5.0
    longest = max(fonts.width(text, DIMENSION_TEXT, True) for text in texts)
    return TICK + 3.0 + LEADER + longest + 2.0


def along(marks: Sequence[Mark], y: float, up: bool, low: float, high: float, datum: float | None) -> list[Item] | None:
    """Running dimensions along the piece: a line at ``y``, figures on end above (``up``) or below it.

    ``low`` to ``high`` is the room for figures; ``datum`` where the end measured from is on paper, None
    where it is not on this stretch. None where the figures do not fit.
    """
    if not marks:
        return []
    places = spread([mark.at + DIMENSION_TEXT * 0.36 for mark in marks], PITCH, low, high)
    if places is None:
        return None
    sign = 1.0 if up else -1.0
    ends = [mark.at for mark in marks] + ([] if datum is None else [datum])
    left, right = min(ends), max(ends)
    items: list[Item] = [Line(left, y, right, y, 0.4)]
    if datum is not None:
        items.append(Disc(datum, y, 1.8, 0.5, 1.0))
    for mark, place in zip(marks, places, strict=True):
        middle = place - DIMENSION_TEXT * 0.36
        foot, head = y + sign * TICK, y + sign * (LEADER - 1.0)
        items.append(Line(mark.at, mark.witness, mark.at, foot, 0.25, (2.0, 2.0) if mark.dashed else ()))
        items.append(Shape(((mark.at - 1.4, y - 1.4), (mark.at + 1.4, y + 1.4)), 0.7, False))
        items.append(Line(mark.at, foot, middle, head, 0.25))
        anchor = "start" if up else "end"
        at = y + sign * LEADER
        items.append(Text(place, at, mark.text, DIMENSION_TEXT, mark.bold, anchor, 90.0))
    return items


def across(
    marks: Sequence[Mark], x: float, right: bool, low: float, high: float, datums: Sequence[float]
) -> list[Item] | None:
    """Dimensions across the piece: a line at ``x``, level figures to the right or left of it.

    ``datums`` are the heights on paper of the lines measured from. None where the figures do not fit.
    """
    if not marks:
        return []
    shift = DIMENSION_TEXT * 0.36
    places = spread([mark.at - shift for mark in marks], PITCH, low, high)
    if places is None:
        return None
    sign = 1.0 if right else -1.0
    items: list[Item] = []
    heights = [mark.at for mark in marks] + list(datums)
    items.append(Line(x, min(heights), x, max(heights), 0.4))
    items += [Disc(x, datum, 1.8, 0.5, 1.0) for datum in datums]
    for mark, place in zip(marks, places, strict=True):
        items.append(Line(mark.witness, mark.at, x + sign * TICK, mark.at, 0.25))
        items.append(Shape(((x - 1.4, mark.at - 1.4), (x + 1.4, mark.at + 1.4)), 0.7, False))
        items.append(Line(x + sign * TICK, mark.at, x + sign * (LEADER - 1.0), place + shift, 0.25))
        at = x + sign * LEADER
        items.append(Text(at, place, mark.text, DIMENSION_TEXT, mark.bold, "start" if right else "end"))
    return items
