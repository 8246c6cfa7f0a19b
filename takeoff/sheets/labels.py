"""Names of holes beside their symbols, each where nothing else stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin
from typing import Final

from takeoff.sheets.page import DIMENSION_TEXT, Box, Line, Text
from takeoff.sheets.symbols import LEAST_RADIUS, size_key
from takeoff.steel import Hole

APART: Final = 2.0
"""Room kept beside a name (pt)."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A hole on paper: its centre and the half extent of its symbol."""

    hole: Hole
    x: float
    y: float
    reach: float


def label(rows: Sequence[Sequence[Spot]], taken: list[Box], room: Box) -> tuple[list[Text | Line], list[Spot]]:
    """Labels of the holes of each face (in running order) inside ``room``, and the holes whose names found no place.

    Where a face has holes of several sizes, the size stands with the name wherever it changes.
    ``taken`` are the boxes already in use.
    """
    items: list[Text | Line] = []
    lost: list[Spot] = []
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
                text = _within(spot, taken)
            if text is None:
                text, leader = _led(spot, every, taken, room)
                if text is None or leader is None:
                    lost.append(spot)
                    continue
                items.append(leader)
            items.append(text)
            x0, y0, x1, y1 = text.box()
            # names side by side read as one
            taken.append((x0 - APART, y0, x1 + APART, y1))
    return items, lost


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


def _within(spot: Spot, taken: Sequence[Box]) -> Text | None:
    """The name inside a large symbol, right of the cross."""
    for up in (True, False):
        y = spot.y + (2.0 if up else -2.0 - DIMENSION_TEXT * 0.75)
        text = Text(spot.x + 1.5, y, spot.hole.label, DIMENSION_TEXT, halo=True)
        x0, y0, x1, y1 = text.box()
        far = max(abs(y0 - spot.y), abs(y1 - spot.y))
        if hypot(x1 - spot.x, far) <= spot.reach and not any(meet((x0, y0, x1, y1), other) for other in taken):
            return text
    return None


def _led(spot: Spot, others: Sequence[Spot], taken: Sequence[Box], room: Box) -> tuple[Text | None, Line | None]:
    """The name farther off, with a leader to the hole that crosses no other hole and no text."""
    for away in _AWAY:
        for k in range(16):
            turn = radians(22.5 * k + 22.5)
            dx, dy = cos(turn), sin(turn)
            near = max(LEAST_RADIUS, spot.reach) + 0.5
            tip = (spot.x + dx * (near + away), spot.y + dy * (near + away))
            anchor = "start" if dx > 0.3 else "end" if dx < -0.3 else "middle"
            lift = 0.5 if dy > 0.3 else -DIMENSION_TEXT * 0.75 if dy < -0.3 else -2.5
            text = Text(tip[0], tip[1] + lift, spot.hole.label, DIMENSION_TEXT, anchor=anchor, halo=True)
            box = text.box()
            inside = box[0] >= room[0] and box[2] <= room[2] and box[1] >= room[1] and box[3] <= room[3]
            if not inside or any(meet(box, other) for other in taken):
                continue
            way = [(spot.x + dx * (near + away * s / 6), spot.y + dy * (near + away * s / 6)) for s in range(6)]
            if any(hypot(x - o.x, y - o.y) < o.reach + 0.5 for o in others if o is not spot for x, y in way) or any(
                _reaches(box, o) for o in others
            ):
                continue
            if any(b[0] <= x <= b[2] and b[1] <= y <= b[3] for b in taken for x, y in way):
                continue
            return text, Line(*way[0], *tip, 0.3)
    return None, None


def _reaches(box: Box, spot: Spot) -> bool:
    """Whether a symbol runs into the box."""
    dx = max(box[0] - spot.x, spot.x - box[2], 0.0)
    dy = max(box[1] - spot.y, spot.y - box[3], 0.0)
    return hypot(dx, dy) < spot.reach


_AWAY: Final = (9.0, 14.0, 20.0, 28.0)
"""Lengths of leader that are tried (pt)."""
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
