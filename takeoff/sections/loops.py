"""Closed loops of straight edges and arcs, in the plane of a section.

A loop is a tuple of corners ``(x, y, bulge)`` in mm. ``bulge`` is tan(included angle / 4)
of the edge that starts at the corner: 0 is straight, positive turns left (anti-clockwise),
so that it swells outwards from a loop that runs anti-clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from takeoff.steel import FloatArray

Corner = tuple[float, float, float]
Loop = tuple[Corner, ...]
Row = TypeVar("Row", bound=np.generic)

FLATTEN_DEG = 4.0
"""Step of a flattened arc; the chords of a full circle lose 0.08 % of its area."""


def fillet(corners: Iterable[tuple[float, float, float]]) -> Loop:
    """The loop of a polygon whose corners ``(x, y, radius)`` are rounded, sharp where radius is 0.

    Raises ValueError where neighbouring roundings do not fit on their edge.
    """
    points = list(corners)
    count = len(points)
    ends: list[list[tuple[float, float, float]]] = []
    taken = [0.0] * count
    for index, (x, y, radius) in enumerate(points):
        if radius < 0:
            raise ValueError("a radius is negative")
        if radius == 0:
            ends.append([(x, y, 0.0)])
            continue
        before, after = points[index - 1], points[(index + 1) % count]
        a = (before[0] - x, before[1] - y)
        b = (after[0] - x, after[1] - y)
        la, lb = math.hypot(*a), math.hypot(*b)
        turn = math.atan2(-a[0] * b[1] + a[1] * b[0], -(a[0] * b[0] + a[1] * b[1]))
        reach = radius * abs(math.tan(turn / 2))
        taken[index - 1] += reach
        taken[index] += reach
        ends.append(
            [
                (x + a[0] / la * reach, y + a[1] / la * reach, math.tan(turn / 4)),
                (x + b[0] / lb * reach, y + b[1] / lb * reach, 0.0),
            ]
        )
    for index, reach in enumerate(taken):
        here, there = points[index], points[(index + 1) % count]
        if reach > math.hypot(there[0] - here[0], there[1] - here[1]) + 1e-9:
            raise ValueError("the radii do not fit between the corners")
    return tuple(corner for pair in ends for corner in pair)


def edges(loop: Sequence[Corner]) -> Iterable[tuple[Corner, Corner]]:
    """Each corner with the next one."""
    return zip(loop, (*loop[1:], loop[0]), strict=True)


def area(loop: Sequence[Corner]) -> float:
    """Signed area in mm2, exact for arcs; positive when the loop runs anti-clockwise."""
    if len(loop) < 2:
        return 0.0
    x0, y0 = loop[0][0], loop[0][1]
    total = 0.0
    for (ax, ay, bulge), (bx, by, _) in edges(loop):
        total += ((ax - x0) * (by - y0) - (bx - x0) * (ay - y0)) / 2
        if bulge:
            angle = 4 * math.atan(bulge)
            radius = math.hypot(bx - ax, by - ay) / (2 * math.sin(angle / 2))
            total += radius * radius * (angle - math.sin(angle)) / 2
    return total


def length(loop: Sequence[Corner]) -> float:
    """Length of the closed loop in mm, exact for arcs."""
    total = 0.0
    for (ax, ay, bulge), (bx, by, _) in edges(loop):
        chord = math.hypot(bx - ax, by - ay)
        if bulge:
            angle = 4 * math.atan(abs(bulge))
            chord *= (angle / 2) / math.sin(angle / 2)
        total += chord
    return total


def flatten(loop: Sequence[Corner], step_deg: float = FLATTEN_DEG) -> FloatArray:
    """The loop as a polygon (n, 2) whose corners lie on it; arcs in steps of at most ``step_deg``."""
    points: list[tuple[float, float]] = []
    for (ax, ay, bulge), (bx, by, _) in edges(loop):
        points.append((ax, ay))
        if not bulge or (ax == bx and ay == by):
            continue
        angle = 4 * math.atan(bulge)
        steps = math.ceil(abs(math.degrees(angle)) / step_deg - 1e-9)
        half = math.tan(angle / 2)
        if abs(half) < 1e-12:
            continue
        # The centre lies to the left of the chord for a positive bulge of less than half a circle.
        cx = (ax + bx) / 2 - (by - ay) / (2 * half)
        cy = (ay + by) / 2 + (bx - ax) / (2 * half)
        for number in range(1, steps):
            part = angle * number / steps
            cos, sin = math.cos(part), math.sin(part)
            points.append((cx + (ax - cx) * cos - (ay - cy) * sin, cy + (ax - cx) * sin + (ay - cy) * cos))
    return np.array(points, dtype=float)


def after_each(rows: npt.NDArray[Row]) -> npt.NDArray[Row]:
    """For each row of a closed run the next one: numpy's roll by -1, which is slow for short loops."""
    return np.concatenate((rows[1:], rows[:1]))


def before_each(rows: npt.NDArray[Row]) -> npt.NDArray[Row]:
    """For each row of a closed run the one before it: numpy's roll by 1."""
    return np.concatenate((rows[-1:], rows[:-1]))


def circle(diameter: float, x: float = 0.0, y: float = 0.0) -> Loop:
    """A circle as two half circles, anti-clockwise."""
    radius = diameter / 2
    return ((x - radius, y, 1.0), (x + radius, y, 1.0))
