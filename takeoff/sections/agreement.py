"""Whether a drawn outline is the outline of a section, everywhere and both ways."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from takeoff.sections import loops
from takeoff.sections.loops import Corner, after_each
from takeoff.steel import FloatArray

COARSEST_DEG: Final = 46.0
"""A rounding drawn in straight steps has steps no coarser than this: two to a right angle. One step is a chamfer."""
_FINE_DEG: Final = 1.0


def agrees(points: FloatArray, loop: Sequence[Corner], tolerance: float) -> bool:
    """True where the polygon ``points`` (n, 2) is ``loop``, its arcs drawn in steps with the corners on the arc.

    Every corner of the polygon lies on the loop and every point of the loop on the polygon within
    ``tolerance`` mm, but for the rise of an arc over its steps.
    """
    pieces = [_piece(a, b) for a, b in loops.edges(loop)]
    starts = np.concatenate([piece[0] for piece in pieces])
    ends = np.concatenate([piece[1] for piece in pieces])
    radii = np.concatenate([np.full(len(piece[0]), piece[2]) for piece in pieces])

    distance, _ = _distances(points, starts, ends)
    if distance.max() > tolerance:
        return False

    following = after_each(points)
    distance, nearest = _distances((points + following) / 2, starts, ends)
    chord = np.hypot(*(following - points).T)
    radius = radii[nearest]
    curved = np.isfinite(radius)
    rise = np.zeros(len(points))
    rise[curved] = chord[curved] ** 2 / (8 * radius[curved])
    longest = 2 * radius * math.sin(math.radians(COARSEST_DEG / 2)) + tolerance
    if np.any(distance > tolerance + 1.1 * rise) or np.any((distance > tolerance) & (chord > longest)):
        return False

    distance, _ = _distances(starts, points, following)
    allowed = np.full(len(starts), tolerance)
    curved = np.isfinite(radii)
    allowed[curved] += radii[curved] * (1 - math.cos(math.radians(COARSEST_DEG / 2)))
    return not np.any(distance > allowed)


def _piece(a: Corner, b: Corner) -> tuple[FloatArray, FloatArray, float]:
    """Starts and ends of an edge's straight steps, and its radius (infinite: straight)."""
    if not a[2]:
        return np.array([a[:2]], dtype=float), np.array([b[:2]], dtype=float), math.inf
    steps = loops.flatten((a, (b[0], b[1], 0.0)), _FINE_DEG)
    radius = math.hypot(b[0] - a[0], b[1] - a[1]) / (2 * abs(math.sin(2 * math.atan(a[2]))))
    return steps[:-1], steps[1:], radius


def _distances(points: FloatArray, starts: FloatArray, ends: FloatArray) -> tuple[FloatArray, np.ndarray]:
    """Distance (n,) of each point to the nearest of the segments (m, 2), and which one it is."""
    along = ends - starts
    squared = np.maximum((along**2).sum(axis=1), 1e-18)
    offset = points[:, None, :] - starts[None, :, :]
    share = np.clip((offset * along).sum(axis=2) / squared, 0.0, 1.0)
    gap = np.hypot(*np.moveaxis(offset - share[:, :, None] * along, 2, 0))
    nearest = gap.argmin(axis=1)
    return gap[np.arange(len(points)), nearest], nearest
