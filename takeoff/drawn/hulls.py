"""Convex hulls of points in the plane."""

from __future__ import annotations

import numpy as np

from takeoff.sections.loops import after_each
from takeoff.steel import FloatArray


def convex(points: FloatArray) -> FloatArray:
    """The hull's corners (m, 2), anti-clockwise from the lowest leftmost; points on its sides are kept out."""
    spots = sorted({(round(float(x), 5), round(float(y), 5)): (float(x), float(y)) for x, y in points}.values())
    if len(spots) < 3:
        return np.array(spots, dtype=float).reshape(-1, 2)

    def half(run: list[tuple[float, float]]) -> list[tuple[float, float]]:
        chain: list[tuple[float, float]] = []
        for x, y in run:
            while len(chain) > 1:
                (ax, ay), (bx, by) = chain[-2], chain[-1]
                if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                    break
                chain.pop()
            chain.append((x, y))
        return chain

    return np.array(half(spots)[:-1] + half(spots[::-1])[:-1], dtype=float)


def off_hull(points: FloatArray, hull: FloatArray) -> float:
    """The largest distance of the points (n, 2) from the hull's sides, mm: 0 where the points are a convex loop."""
    ahead = after_each(hull) - hull
    squared = np.maximum((ahead**2).sum(axis=1), 1e-18)
    offset = points[:, None, :] - hull[None, :, :]
    share = np.clip((offset * ahead).sum(axis=2) / squared, 0.0, 1.0)
    gap = np.hypot(*np.moveaxis(offset - share[:, :, None] * ahead, 2, 0))
    return float(gap.min(axis=1).max())
