"""Sections of no known shape: laid so that one outline is one section, however a model turns it.

Its longest sides lie along the axes, and its greater extent stands upright; of the ways that leaves, the one
whose corners sort lowest is taken. A section seen from the piece's other end is its mirror image.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from takeoff.sections import plates, shapes
from takeoff.sections.recognise import Recognised
from takeoff.steel import FloatArray, Point2

_GRAIN_MM: Final = 0.05
"""Corners are told apart by steps of this; sides this nearly equal are equally long."""


def laid(outline: FloatArray, hollows: Sequence[FloatArray] = ()) -> Recognised:
    """The section ``other`` of polygons (n, 2), and its frame in their coordinates: see :class:`Recognised`."""
    loop = plates.merged(plates.anticlockwise([(float(x), float(y), 0.0) for x, y in outline]))
    outline = np.array([corner[:2] for corner in loop])
    best: tuple[float, list[tuple[int, int]], FloatArray, FloatArray] | None = None
    for x, y in _directions(outline):
        for v in (np.array([x, y]), np.array([-y, x]), np.array([-x, -y]), np.array([y, -x])):
            for side in (1.0, -1.0):
                axes = np.array([[side * v[1], -side * v[0]], v])
                lying = outline @ axes.T
                low = lying.min(axis=0)
                steps: list[list[int]] = np.round((lying - low) / _GRAIN_MM).astype(int).tolist()
                corners = sorted((a, b) for a, b in steps)
                height = round(float(np.ptp(lying[:, 1])) / _GRAIN_MM)
                if best is None or (-height, corners) < (-best[0], best[1]):
                    best = (height, corners, axes, low)
    assert best is not None
    _, _, axes, low = best

    def seen(ring: FloatArray) -> list[Point2]:
        points: list[Point2] = [(round(a, 6) + 0.0, round(b, 6) + 0.0) for a, b in (ring @ axes.T - low).tolist()]
        points = points if np.linalg.det(axes) > 0 else points[::-1]
        first = min(range(len(points)), key=lambda i: tuple(round(c / _GRAIN_MM) for c in points[i]))
        return points[first:] + points[:first]

    section = shapes.other(seen(outline), [seen(hollow) for hollow in hollows])
    (ua, ub), (va, vb) = (axes + 0.0).tolist()
    x, y = (low @ axes).tolist()
    return Recognised(section, (x, y), (ua, ub), (va, vb))


def _directions(outline: FloatArray) -> list[tuple[float, float]]:
    """Unit vectors along the longest sides, parallel and square ones once."""
    sides = np.roll(outline, -1, axis=0) - outline
    sizes = np.hypot(*sides.T)
    found: list[tuple[float, float]] = []
    for (x, y), size in zip(sides.tolist(), sizes.tolist(), strict=True):
        if size < float(sizes.max()) - _GRAIN_MM:
            continue
        c, s = (0.0 if abs(value / size) < 1e-9 else value / size for value in (x, y))
        if all(min(abs(c * b - s * a), abs(c * a + s * b)) > 1e-4 for a, b in found):
            found.append((c, s))
    return found
