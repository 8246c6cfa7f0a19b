"""Arcs in an outline: a radius and a centre say more on paper than forty corners.

Outlines come as corners with bulges (plates) or as fine chords (copes, notches, faceted models). A run of chords is
taken for an arc where its corners turn the same way by small angles and lie on one circle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, degrees, hypot
from typing import Final

import numpy as np

from takeoff.steel import Point2, Vertex

MOST_TURN_DEG: Final = 25.0
"""Chords of an arc turn by no more than this from one to the next: a circle of 16 sides or finer."""
LEAST_TURN_DEG: Final = 0.05
FIT_MM: Final = 0.05
"""Corners of one arc lie no farther from its circle; figures print to 0.1 mm."""
LEAST_POINTS: Final = 4


@dataclass(frozen=True, slots=True)
class Arc:
    """An arc of an outline from ``start`` to ``end``, mm in (x, across); ``middle`` lies half-way along it."""

    start: Point2
    end: Point2
    middle: Point2
    centre: Point2
    radius: float


def of_vertices(outline: Sequence[Vertex]) -> tuple[list[Point2], list[Arc]]:
    """Corners and arcs of a plate's outline."""
    if not any(vertex.bulge for vertex in outline):
        return of_loop([(vertex.x, vertex.across) for vertex in outline])
    arcs = []
    for here, there in zip(outline, (*outline[1:], outline[0]), strict=True):
        if here.bulge:
            start, end = complex(here.x, here.across), complex(there.x, there.across)
            chord = end - start
            # the centre lies on the chord's bisector, to its left for a bulge below half a circle
            centre = start + chord / 2 + 1j * chord * (1 / here.bulge - here.bulge) / 4
            middle = start + chord / 2 - 1j * chord / 2 * here.bulge
            arcs.append(Arc(_point(start), _point(end), _point(middle), _point(centre), abs(start - centre)))
    return [(vertex.x, vertex.across) for vertex in outline], arcs


def of_loop(points: Sequence[Point2]) -> tuple[list[Point2], list[Arc]]:
    """Corners and arcs of a closed loop of chords: the corners without those inside an arc."""
    count = len(points)
    if count <= LEAST_POINTS:
        return list(points), []
    turns = [_turn(points[k - 1], points[k], points[(k + 1) % count]) for k in range(count)]
    bends = [_bend(turn) for turn in turns]
    first = next((k for k in range(count) if not bends[k]), None)
    if first is None:
        return list(points), []
    arcs: list[Arc] = []
    inside: set[int] = set()
    k = first
    while k < first + count:
        end = k
        while (
            end + 1 < first + count and bends[(end + 1) % count] and bends[(end + 1) % count] == bends[(k + 1) % count]
        ):
            end += 1
        if end > k:
            run = list(range(k + 1, end + 1))
            fitted = _arc(points, run)
            if fitted is not None:
                arc, taken = fitted
                arcs.append(arc)
                inside |= {index % count for index in taken[1:-1]}
            k = end
        else:
            k += 1
    return [point for k, point in enumerate(points) if k not in inside], arcs


def _arc(points: Sequence[Point2], run: Sequence[int]) -> tuple[Arc, list[int]] | None:
    """The arc through a run of corners, with its first and last corner where they lie on it too."""
    count = len(points)
    for left, right in ((0, 0), (1, 0), (0, 1), (1, 1)):
        kept = list(run[left : len(run) - right])
        if len(kept) < LEAST_POINTS - 1:
            continue
        circle = _circle([points[k % count] for k in kept])
        if circle is None:
            continue
        centre, radius = circle
        chords = [_span(points[a % count], points[b % count]) for a, b in pairwise(kept)]
        for before in (True, False):
            beyond = kept[0] - 1 if before else kept[-1] + 1
            last = kept[0] if before else kept[-1]
            on = abs(_span(points[beyond % count], centre) - radius) <= FIT_MM
            if on and _span(points[beyond % count], points[last % count]) <= 1.5 * max(chords):
                kept = [beyond, *kept] if before else [*kept, beyond]
        if len(kept) < LEAST_POINTS:
            continue
        ends = points[kept[0] % count], points[kept[-1] % count]
        return Arc(*ends, points[kept[len(kept) // 2] % count], centre, radius), kept
    return None


def _circle(points: Sequence[Point2]) -> tuple[Point2, float] | None:
    """Centre and radius of the circle nearest to the points; None where they lie on none."""
    array = np.array(points)
    mean = array.mean(axis=0)
    x, y = (array - mean).T
    # x² + y² = 2ax + 2by + c, least squares about the mean
    solved, _, rank, _ = np.linalg.lstsq(np.column_stack((2 * x, 2 * y, np.ones(len(x)))), x * x + y * y, rcond=None)
    if rank < 3:
        return None
    a, b, c = (float(value) for value in solved)
    radius = float(np.sqrt(max(c + a * a + b * b, 0.0)))
    centre = (float(mean[0]) + a, float(mean[1]) + b)
    if max(abs(_span(point, centre) - radius) for point in points) > FIT_MM:
        return None
    return centre, radius


def _bend(turn: float) -> int:
    return (1 if turn > 0 else -1) if LEAST_TURN_DEG < abs(turn) <= MOST_TURN_DEG else 0


def _turn(a: Point2, b: Point2, c: Point2) -> float:
    cross = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
    return degrees(atan2(cross, (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])))


def _span(a: Point2, b: Point2) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])


def _point(place: complex) -> Point2:
    return place.real, place.imag
