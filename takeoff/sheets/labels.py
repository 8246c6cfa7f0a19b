"""Names of holes beside their symbols, each where nothing else stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Final

from takeoff.sheets.page import DIMENSION_TEXT, Box, Text
from takeoff.sheets.symbols import LEAST_RADIUS, size_key
from takeoff.steel import Hole


@dataclass(frozen=True, slots=True)
class Spot:
    """A hole on paper: its centre and the half extent of its symbol."""

    hole: Hole
    x: float
    y: float
    reach: float


def label(rows: Sequence[Sequence[Spot]], taken: list[Box], room: Box) -> tuple[list[Text], int]:
    """Labels of the holes of each face (in running order) inside ``room``, and how many found no place.

    Where a face has holes of several sizes, the size stands with the name wherever it changes.
    ``taken`` are the boxes already in use.
    """
    texts: list[Text] = []
    lost = 0
    every = [spot for row in rows for spot in row]
    taken = list(taken)
    for row in rows:
        mixed = len({size_key(spot.hole) for spot in row}) > 1
        before: tuple[str, str] | None = None
        wanted: list[tuple[Spot, str]] = []
        for spot in row:
            key = size_key(spot.hole)
            words = " ".join(part for part in (spot.hole.label, *key) if part)
            wanted.append((spot, words if mixed and key != before else spot.hole.label))
            before = key
        # the long labels first: where it gets tight, a bare name still finds a gap
        for spot, words in sorted(wanted, key=lambda item: item[1] == item[0].hole.label):
            text = _place(words, spot, every, taken, room)
            if text is None and words != spot.hole.label:
                text = _place(spot.hole.label, spot, every, taken, room)
            if text is None:
                lost += 1
                continue
            texts.append(text)
            taken.append(text.box())
    return texts, lost


def _place(words: str, spot: Spot, others: Sequence[Spot], taken: Sequence[Box], room: Box) -> Text | None:
    """The nearest free place round the symbol that no reader takes for a neighbour's."""
    near = max(LEAST_RADIUS, spot.reach)
    for away in (near * 0.75 + 0.8, near + 4.0, near + 9.0):
        for right, up in _SIDES:
            # beside the hole's own line the corner of the text may reach under the curve of the symbol
            lift = away if right else max(away, near + 1.5)
            x = spot.x + right * away
            y = spot.y + (lift if up else -lift - DIMENSION_TEXT * 0.75)
            text = Text(x, y, words, DIMENSION_TEXT, anchor=_ANCHORS[right], halo=True)
            box = text.box()
            inside = box[0] >= room[0] and box[2] <= room[2] and box[1] >= room[1] and box[3] <= room[3]
            if inside and not any(meet(box, other) for other in taken) and _nearest(box, spot, others):
                return text
    return None


_SIDES: Final = ((1, True), (1, False), (-1, True), (-1, False), (0, True), (0, False))
"""Right, left of or on the hole's own line, above or below it."""
_ANCHORS: Final = {1: "start", -1: "end", 0: "middle"}


def _nearest(box: Box, spot: Spot, others: Sequence[Spot]) -> bool:
    """Whether the label clears every symbol and its hole is clearly nearer to it than any other."""

    def gap(other: Spot) -> float:
        dx = max(box[0] - other.x, other.x - box[2], 0.0)
        dy = max(box[1] - other.y, other.y - box[3], 0.0)
        return hypot(dx, dy) - other.reach

    own = gap(spot)
    return own > -0.5 and all(gap(other) > max(own, 0.0) + 1.0 for other in others if other is not spot)


def meet(a: Box, b: Box) -> bool:
    """Whether two boxes overlap."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
