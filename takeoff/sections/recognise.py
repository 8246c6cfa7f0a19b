"""Which section a drawn outline is, and where its frame stands.

Vocabulary: root (corner between leg and leg or flange and web), toe (inner corner at the end of a leg
or flange), variant (one of the eight ways a section can lie along an outline's main direction).

The outline is measured as if it were each shape in turn, the section built from those dimensions,
and its outline held against the drawn one (:mod:`takeoff.sections.agreement`). What does not agree
everywhere is not that shape: a bent leg or unequal legs' thicknesses end in None.

Does not know: bent sheet other than C and Z, castellated or built-up sections, and whether an outline is a
member's section or a plate's shape (a T-shaped gusset is a T here): the caller sees the length.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.sections import loops, shapes
from takeoff.sections.agreement import agrees
from takeoff.sections.loops import Corner, after_each, before_each
from takeoff.sections.measures import SOLID, LaidOutline, hollow, measured, snap
from takeoff.steel import FloatArray, Point2, Section

TOLERANCE_MM: Final = 0.02
SAME_POINT_MM: Final = 1e-4
_STEP_DEG: Final = 5.0
_ROUND_SIDES: Final = 12


@dataclass(frozen=True, slots=True)
class Recognised:
    """A section and its frame (see the table in :mod:`takeoff.steel`) in the loop's coordinates.

    ``u`` and ``v`` are unit vectors at right angles. They are a left-handed pair where the shape
    demands it (an unequal angle or a Z seen from its other end): the caller then turns x round.
    """

    section: Section
    origin: Point2
    u: Point2
    v: Point2


def recognise(
    outer: Sequence[Corner], inners: Sequence[Sequence[Corner]] = (), tolerance: float = TOLERANCE_MM
) -> Recognised | None:
    """The section of a closed outline with voids, or None where it is none of the known shapes.

    Loops are corners (x, y, bulge) in mm, in any direction, not closed by repeating the first corner
    (a repeated one does no harm). ``tolerance`` is the grain of the drawing. The dimensions are the
    drawn ones: look them up with :func:`takeoff.sections.tables.match`.
    """
    points = _polygon(outer)
    holes = [_polygon(inner) for inner in inners]
    if points is None or any(hole is None for hole in holes) or len(holes) > 1:
        return None
    hole = holes[0] if holes else None
    found = _round(points, hole, tolerance)
    if found is not None:
        return found
    direction = _main_direction(points)
    measures = SOLID if hole is None else (hollow,)
    for u, v in _variants(direction):
        axes = np.array([u, v])
        lying = points @ axes.T
        low = lying.min(axis=0)
        shape = LaidOutline(lying - low, None if hole is None else hole @ axes.T - low, tolerance)
        for measure in measures:
            section = measured(measure, shape)
            if section is None or not _confirmed(section, shape):
                continue
            corner = low + np.array([_centred(section, shape), 0.0])
            x, y = corner @ axes
            return Recognised(section, (float(x), float(y)), u, v)
    return None


# ---------------------------------------------------------------- the outline, laid along its axes


def _polygon(loop: Sequence[Corner]) -> FloatArray | None:
    """The loop as an anti-clockwise polygon without repeated points, or None where it has no area."""
    if len(loop) < 2:
        return None
    points = loops.flatten(loop, _STEP_DEG)
    if not np.all(np.isfinite(points)):
        return None
    apart = np.hypot(*(points - before_each(points)).T) > SAME_POINT_MM
    points = np.asarray(points[apart], dtype=float)
    if len(points) < 3:
        return None
    x, y = (points - points[0]).T
    twice = float(np.sum(x * after_each(y) - after_each(x) * y))
    if abs(twice) < 1.0:
        return None
    return points if twice > 0 else np.ascontiguousarray(points[::-1])


def _main_direction(points: FloatArray) -> Point2:
    """Unit vector along the longest side, improved by every side parallel or square to it."""
    kept = points
    while True:
        chord = after_each(kept) - before_each(kept)
        step = kept - before_each(kept)
        rise = np.abs(chord[:, 0] * step[:, 1] - chord[:, 1] * step[:, 0]) / np.maximum(np.hypot(*chord.T), 1e-12)
        flat = rise < 5e-4
        # Never two neighbours at once: each is judged by the line between the others.
        flat &= ~before_each(flat)
        if not flat.any() or len(kept) - int(flat.sum()) < 3:
            break
        kept = kept[~flat]
    sides = after_each(kept) - kept
    lengths = np.hypot(*sides.T)
    angles = np.arctan2(sides[:, 1], sides[:, 0])
    main = angles[lengths.argmax()]
    turn = (angles - main + math.pi / 4) % (math.pi / 2) - math.pi / 4
    near = np.abs(turn) < math.radians(0.2)
    main += float(np.average(turn[near], weights=lengths[near] ** 2))
    return math.cos(main), math.sin(main)


def _variants(direction: Point2) -> list[tuple[Point2, Point2]]:
    """The eight pairs (u, v), right-handed ones first; tidy zeros and ones where the outline lies square."""
    c, s = (0.0 if abs(value) < 1e-9 else value for value in direction)
    turns = [(c, s), (-s, c), (-c, -s), (s, -c)]
    turns = [(u[0] + 0.0, u[1] + 0.0) for u in turns]
    # The same order whatever side of the outline was the longest.
    turns.sort(key=lambda u: round(math.atan2(u[1], u[0]), 6) % (2 * math.pi))
    right = [(u, (-u[1] + 0.0, u[0] + 0.0)) for u in turns]
    return right + [(u, (-v[0] + 0.0, -v[1] + 0.0)) for u, v in right]


def _confirmed(section: Section, shape: LaidOutline) -> bool:
    outer, *inner = shapes.loops_of(section)
    moved = shape.points - np.array([_centred(section, shape), 0.0])
    if not agrees(moved, outer, shape.tolerance):
        return False
    if shape.hole is None or not inner:
        return shape.hole is None and not inner
    return agrees(shape.hole, inner[0], shape.tolerance)


def _centred(section: Section, shape: LaidOutline) -> float:
    """u of the section's origin from the left side of the box."""
    return shape.b / 2 if section.shape in ("I", "T") else 0.0


# ---------------------------------------------------------------- round


def _round(points: FloatArray, hole: FloatArray | None, tolerance: float) -> Recognised | None:
    """A round or a tube: circles, or polygons of at least 12 sides with their corners on one."""
    outer = _circle(points, tolerance)
    if outer is None:
        return None
    centre, d = outer
    place = (float(centre[0]), float(centre[1]))
    if hole is None:
        return Recognised(shapes.round_bar(snap(d)), place, (1.0, 0.0), (0.0, 1.0))
    inner = _circle(hole, tolerance)
    if inner is None or math.hypot(*(inner[0] - centre)) > tolerance:
        return None
    try:
        section = shapes.chs(snap(d), snap((d - inner[1]) / 2))
    except ValueError:
        return None
    return Recognised(section, place, (1.0, 0.0), (0.0, 1.0))


def _circle(points: FloatArray, tolerance: float) -> tuple[FloatArray, float] | None:
    """Centre and diameter of the circle through the corners (least squares), or None."""
    if len(points) < _ROUND_SIDES:
        return None
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    matrix = np.column_stack([x, y, np.ones(len(x))])
    (p, q, s), *_rest = np.linalg.lstsq(matrix, x * x + y * y, rcond=None)
    centre = np.array([p / 2, q / 2])
    radius = math.sqrt(max(s + p * p / 4 + q * q / 4, 0.0))
    away = np.hypot(x - centre[0], y - centre[1])
    if np.abs(away - radius).max() > tolerance:
        return None
    angles = np.sort(np.arctan2(y - centre[1], x - centre[0]))
    gaps = np.diff(np.append(angles, angles[0] + 2 * math.pi))
    if gaps.max() > 2 * math.pi / _ROUND_SIDES * 1.02:
        return None
    return centre + middle, 2 * radius
