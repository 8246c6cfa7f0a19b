"""Triangles that fill a polygon, by cutting ears; inner loops are joined to the outer one by a bridge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from takeoff.steel import FloatArray

IntArray = npt.NDArray[np.int64]


def triangulate(loops: Sequence[FloatArray]) -> IntArray:
    """Triangles (m, 3), anti-clockwise, of the area inside the first loop and outside the others.

    ``loops`` are simple, (n, 2), in either direction; the indices count through all loops.
    A bridge runs between the nearest corners of two loops, which holds for the walls of tubes.
    """
    points = np.concatenate(loops)
    starts = np.cumsum([0, *(len(loop) for loop in loops)])
    polygon = _directed(loops[0], 0, anticlockwise=True)
    for start, loop in zip(starts[1:], loops[1:], strict=False):
        hole = _directed(loop, int(start), anticlockwise=False)
        gaps = np.linalg.norm(points[polygon][:, None] - points[hole][None], axis=2)
        at, to = np.unravel_index(int(gaps.argmin()), gaps.shape)
        turned = hole[to:] + hole[: to + 1]
        polygon = polygon[: at + 1] + turned + polygon[at:]
    return _ears(points, polygon)


def _directed(loop: FloatArray, start: int, *, anticlockwise: bool) -> list[int]:
    x, y = loop[:, 0], loop[:, 1]
    area = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
    order = list(range(start, start + len(loop)))
    return order if (area > 0) == anticlockwise else order[::-1]


def _ears(points: FloatArray, polygon: list[int]) -> IntArray:
    triangles: list[tuple[int, int, int]] = []
    left = list(polygon)
    at = 0
    refused = 0
    while len(left) > 3:
        size = len(left)
        a, b, c = left[at - 1], left[at], left[(at + 1) % size]
        turn = _cross(points[a], points[b], points[c])
        flat = abs(turn) <= 1e-9
        # A flat corner waits until it is the corner of some other ear, so that no edge is left with a
        # point in the middle of it. After a full round without an ear only float noise is left.
        if refused > size or (not flat and turn > 0 and not _any_inside(points, left, a, b, c)):
            if not flat:
                triangles.append((a, b, c))
            del left[at]
            at = at % len(left)
            refused = 0
        else:
            at = (at + 1) % size
            refused += 1
    if abs(_cross(*(points[k] for k in left))) > 1e-9:
        triangles.append((left[0], left[1], left[2]))
    return np.array(triangles, dtype=np.int64).reshape(-1, 3)


def _cross(a: FloatArray, b: FloatArray, c: FloatArray) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _any_inside(points: FloatArray, left: list[int], a: int, b: int, c: int) -> bool:
    others = points[[k for k in left if k not in (a, b, c)]]
    if not len(others):
        return False
    inside = np.ones(len(others), dtype=bool)
    for p, q in ((a, b), (b, c), (c, a)):
        edge = points[q] - points[p]
        off = others - points[p]
        inside &= edge[0] * off[:, 1] - edge[1] * off[:, 0] >= 0.0
    # A bridge stands twice in the polygon: its twin corners touch the triangle without being in the way.
    corners = points[[a, b, c]]
    twin = (np.abs(others[:, None] - corners[None]).max(axis=2) <= 1e-12).any(axis=1)
    return bool((inside & ~twin).any())
