"""Hole symbols: the hole to scale with a centre cross, and a filling that tells sizes apart without colour."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import cos, pi, radians, sin

from takeoff.sheets.page import Disc, Item, Line, Shape
from takeoff.sheets.wording import assumed, opening
from takeoff.steel import Hole
from takeoff.words import say

LEAST_RADIUS = 1.5


@dataclass(frozen=True, slots=True)
class Size:
    """Holes punched alike: what they look like on the drawing and what the legend says."""

    text: str
    """What to punch, and whether its diameter is assumed."""
    bolt: str
    filling: int
    count: int
    sample: Hole

    @property
    def words(self) -> str:
        return say("{size} for {bolt}", size=self.text, bolt=self.bolt) if self.bolt else self.text


def size_key(hole: Hole) -> tuple[str, str]:
    return opening(hole), hole.bolt


def sizes(holes: Sequence[Hole]) -> dict[tuple[str, str], Size]:
    """The sizes in a piece, commonest first; the commonest round and the commonest long one stay open."""
    alike: dict[tuple[str, str], list[Hole]] = {}
    for hole in holes:
        alike.setdefault(size_key(hole), []).append(hole)
    made: dict[tuple[str, str], Size] = {}
    fillings: Counter[bool] = Counter()
    for key, own in sorted(alike.items(), key=lambda item: (-len(item[1]), item[0])):
        long = bool(own[0].slot_length)
        text = key[0]
        if all(assumed(hole) for hole in own):
            text = say("{size} assumed", size=text)
        elif any(assumed(hole) for hole in own):
            text = say("{size} partly assumed", size=text)
        made[key] = Size(text, key[1], fillings[long], len(own), own[0])
        fillings[long] += 1
    return made


def legend_symbol(size: Size, x: float, y: float) -> list[Item]:
    """The symbol of a size as the legend shows it: level, 7 pt long."""
    hole = replace(size.sample, slot_angle=0.0)
    span = hole.slot_length or hole.diameter or 1.0
    return symbol(hole, x, y, 7.0 / span, True, size.filling, 1e9)


def symbol(hole: Hole, x: float, y: float, scale: float, up: bool, filling: int, most: float) -> list[Item]:
    """The symbol of a hole at (x, y) on paper. ``most`` caps the radius where the length is compressed."""
    if hole.slot_length:
        return _long(hole, x, y, scale, up, filling, most)
    radius = max(LEAST_RADIUS, min(hole.diameter / 2 * scale, most))
    items: list[Item] = [Disc(x, y, radius, 0.7, 1.0)]
    items += filling_of(x, y, radius, filling)
    if hole.kind == "countersunk":
        # to scale where the head is known and the hole is drawn to scale itself
        head = radius * hole.head_diameter / hole.diameter if hole.head_diameter and hole.diameter else 0.0
        items.append(_ring(x, y, max(head, radius * 1.3), hole.side == "far"))
    if hole.kind == "blind":
        items.append(_ring(x, y, radius * 0.5, hole.side == "far"))
    return items + _cross(x, y, radius * 1.4)


def _ring(x: float, y: float, radius: float, far: bool) -> Item:
    """A thin circle; dashed for what is open to the far side."""
    if not far:
        return Disc(x, y, radius, 0.5)
    turns = [pi * k / 18 for k in range(36)]
    points = tuple((x + radius * cos(t), y + radius * sin(t)) for t in turns)
    return Shape(points, 0.5, True, None, (1.6, 1.2))


def _cross(x: float, y: float, reach: float) -> list[Item]:
    return [Line(x - reach, y, x + reach, y, 0.3), Line(x, y - reach, x, y + reach, 0.3)]


def filling_of(x: float, y: float, radius: float, filling: int) -> list[Item]:
    """0 open, 1 left half black, 2 black, 3 ring, 4 upper half black; further sizes stay open and are labelled."""
    if filling == 1:
        return [_half(x, y, radius, pi / 2)]
    if filling == 2:
        return [Disc(x, y, radius, 0.7, 0.0)]
    if filling == 3:
        return [Disc(x, y, radius * 0.55, 0.7, 0.0)]
    return [_half(x, y, radius, 0.0)] if filling == 4 else []


def _half(x: float, y: float, radius: float, start: float) -> Shape:
    turns = [start + pi * k / 12 for k in range(13)]
    return Shape(tuple((x + radius * cos(t), y + radius * sin(t)) for t in turns), 0.0, True, 0.0)


def _long(hole: Hole, x: float, y: float, scale: float, up: bool, filling: int, most: float) -> list[Item]:
    """A slot with round ends, or a rectangle, turned by its angle."""
    turn = radians(hole.slot_angle if up else -hole.slot_angle)
    half = hole.slot_length / 2 * scale
    side = (hole.width if hole.kind == "rectangle" else hole.diameter) / 2 * scale
    shrink = min(1.0, most / half) if half else 1.0
    half, side = half * shrink, max(side * shrink, 0.8)
    if hole.kind == "rectangle":
        local = [(-half, -side), (half, -side), (half, side), (-half, side)]
    else:
        straight = max(half - side, 0.0)
        local = [(straight + side * cos(t), side * sin(t)) for t in (-pi / 2 + pi * k / 8 for k in range(9))]
        local += [(-a, -b) for a, b in local]
    c, s = cos(turn), sin(turn)
    points = tuple((x + a * c - b * s, y + a * s + b * c) for a, b in local)
    fill = {1: 0.6, 2: 0.0}.get(filling, 1.0)
    return [Shape(points, 0.7, True, fill), *_cross(x, y, max(side * 1.3, 2.0))]
