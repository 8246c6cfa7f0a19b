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
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.sections import loops, shapes
from takeoff.sections.agreement import agrees
from takeoff.sections.loops import Corner
from takeoff.steel import FloatArray, Point2, Section

TOLERANCE_MM: Final = 0.02
SAME_POINT_MM: Final = 1e-4
_STEP_DEG: Final = 5.0
_ROUND_SIDES: Final = 12
_NO_SLOPE: Final = 0.002
"""Flanges this nearly parallel (0.1 degrees) are parallel."""
_STOUTEST_ANGLE: Final = 0.35
"""Thickness over the shorter leg; rolled angles stay below 0.3. More is a cut plate."""
_SIXTY_FOURTH: Final = 25.4 / 64


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
    measures = _SOLID if hole is None else (_rhs,)
    for u, v in _variants(direction):
        axes = np.array([u, v])
        lying = points @ axes.T
        low = lying.min(axis=0)
        shape = _Outline(lying - low, None if hole is None else hole @ axes.T - low, tolerance)
        for measure in measures:
            section = _try(measure, shape)
            if section is None or not _confirmed(section, shape):
                continue
            corner = low + np.array([_centred(section, shape), 0.0])
            x, y = corner @ axes
            return Recognised(section, (float(x), float(y)), u, v)
    return None


# ---------------------------------------------------------------- the outline, laid along its axes


@dataclass(frozen=True, slots=True, eq=False)
class _Outline:
    """The polygon with the lower left corner of its box at (0, 0)."""

    points: FloatArray
    hole: FloatArray | None
    tolerance: float

    @property
    def b(self) -> float:
        return float(self.points[:, 0].max())

    @property
    def h(self) -> float:
        return float(self.points[:, 1].max())

    def across(self, v: float) -> list[float]:
        """Where the line at height ``v`` crosses the outline, from left to right."""
        return _crossings(self.points[:, 1], self.points[:, 0], v)

    def up(self, u: float) -> list[float]:
        """Where the upright line at ``u`` crosses the outline, from below."""
        return _crossings(self.points[:, 0], self.points[:, 1], u)

    def close(self, a: float, b: float) -> bool:
        return abs(a - b) <= self.tolerance


def _crossings(level: FloatArray, along: FloatArray, at: float) -> list[float]:
    below = level < at
    hits = np.flatnonzero(below != np.roll(below, -1))
    after = (hits + 1) % len(level)
    share = (at - level[hits]) / (level[after] - level[hits])
    return sorted((along[hits] + share * (along[after] - along[hits])).tolist())


def _polygon(loop: Sequence[Corner]) -> FloatArray | None:
    """The loop as an anti-clockwise polygon without repeated points, or None where it has no area."""
    if len(loop) < 2:
        return None
    points = loops.flatten(loop, _STEP_DEG)
    if not np.all(np.isfinite(points)):
        return None
    apart = np.hypot(*(points - np.roll(points, 1, axis=0)).T) > SAME_POINT_MM
    points = np.asarray(points[apart], dtype=float)
    if len(points) < 3:
        return None
    x, y = (points - points[0]).T
    twice = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    if abs(twice) < 1.0:
        return None
    return points if twice > 0 else np.ascontiguousarray(points[::-1])


def _main_direction(points: FloatArray) -> Point2:
    """Unit vector along the longest side, improved by every side parallel or square to it."""
    kept = points
    while True:
        chord = np.roll(kept, -1, axis=0) - np.roll(kept, 1, axis=0)
        step = kept - np.roll(kept, 1, axis=0)
        rise = np.abs(chord[:, 0] * step[:, 1] - chord[:, 1] * step[:, 0]) / np.maximum(np.hypot(*chord.T), 1e-12)
        flat = rise < 5e-4
        # Never two neighbours at once: each is judged by the line between the others.
        flat &= ~np.roll(flat, 1)
        if not flat.any() or len(kept) - int(flat.sum()) < 3:
            break
        kept = kept[~flat]
    sides = np.roll(kept, -1, axis=0) - kept
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


def _snap(value: float) -> float:
    """A dimension without the drawing's noise: tenths of a mm or 64ths of an inch where it is one."""
    for grain in (0.1, _SIXTY_FOURTH):
        whole = round(value / grain) * grain
        if abs(value - whole) <= 0.006:
            return round(whole, 6)
    return round(value, 4)


def _radius(x: FloatArray, y: FloatArray, tolerance: float, tilt: float = 0.0) -> float:
    """Radius of a rounded corner from points (x, y) on it; 0 where there are none.

    ``x`` and ``y`` are distances from the two sides of the corner, along the sides: the point is
    ``x`` along the first and ``y`` along the second. The sides enclose 90 degrees + ``tilt`` (radians).
    """
    inside = (x > tolerance) & (y > tolerance)
    if not inside.any():
        return 0.0
    x, y = x[inside], y[inside]
    depth = np.minimum(x, y)
    best = depth >= 0.6 * depth.max()
    x, y = x[best], y[best]
    half = (math.pi / 2 + tilt) / 2
    cos = math.cos(2 * half)
    square = x * x + y * y + 2 * x * y * cos
    # The corner's bisector has length 1 / sin(half) per unit of radius to the centre.
    along = (x + y) * math.cos(half) / math.sin(half)
    cot = (math.cos(half) / math.sin(half)) ** 2
    root = np.sqrt(np.maximum(along * along - cot * square, 0.0))
    return round(float(np.median((along + root) / cot)), 3)


def _confirmed(section: Section, shape: _Outline) -> bool:
    outer, *inner = shapes.loops_of(section)
    moved = shape.points - np.array([_centred(section, shape), 0.0])
    if not agrees(moved, outer, shape.tolerance):
        return False
    if shape.hole is None or not inner:
        return shape.hole is None and not inner
    return agrees(shape.hole, inner[0], shape.tolerance)


def _centred(section: Section, shape: _Outline) -> float:
    """u of the section's origin from the left side of the box."""
    return shape.b / 2 if section.shape in ("I", "T") else 0.0


def _try(measure: Callable[[_Outline], Section | None], shape: _Outline) -> Section | None:
    try:
        return measure(shape)
    except ValueError:
        # Dimensions that make no such section: it is another shape.
        return None


# ---------------------------------------------------------------- the shapes


def _flat(o: _Outline) -> Section | None:
    if o.h < o.b - o.tolerance:
        return None
    return shapes.flat(_snap(o.h), _snap(o.b))


def _angle(o: _Outline) -> Section | None:
    if o.h < o.b - o.tolerance:
        return None
    leg, foot = o.across(0.62 * o.h), o.up(0.62 * o.b)
    if len(leg) != 2 or len(foot) != 2 or not (o.close(leg[0], 0) and o.close(foot[0], 0)):
        return None
    if not o.close(leg[1], foot[1]) or leg[1] > _STOUTEST_ANGLE * o.b:
        return None
    t = _snap((leg[1] + foot[1]) / 2)
    u, v = o.points.T
    root = _radius(u - t, v - t, o.tolerance)
    high, wide = v > 0.62 * o.h, u > 0.62 * o.b
    x = np.concatenate([t - u[high], t - v[wide]])
    y = np.concatenate([o.h - v[high], o.b - u[wide]])
    # The outside of a leg is no toe, though it too lies off the inner face.
    off = np.concatenate([u[high], v[wide]]) > o.tolerance
    toe = _radius(x[off], y[off], o.tolerance)
    return shapes.angle(_snap(o.h), _snap(o.b), t, root, toe)


def _channel(o: _Outline) -> Section | None:
    web = o.across(0.501 * o.h)
    if len(web) != 2 or not o.close(web[0], 0):
        return None
    tw = _snap(web[1])
    flange = _flange(o, tw + 0.38 * (o.b - tw), tw + 0.7 * (o.b - tw), top=True)
    if flange is None:
        return None
    slope, thickness = flange
    at = shapes.flange_gauge(_snap(o.h), _snap(o.b), tw)
    u, v = o.points.T
    root, toe = _flange_radii(o, slope, thickness, u - tw, np.minimum(v, o.h - v), o.b - tw, tw)
    tf = _snap(thickness(at))
    return shapes.channel(_snap(o.h), _snap(o.b), tw, tf, root, toe, slope)


def _i_section(o: _Outline) -> Section | None:
    web = o.across(0.501 * o.h)
    if len(web) != 2 or not o.close(web[0] + web[1], o.b):
        return None
    tw = _snap(web[1] - web[0])
    u, v = o.points.T
    found = []
    for height in (v, o.h - v):
        near = height < 0.3 * o.h
        if not near.any():
            return None
        half = float(np.ptp(u[near])) / 2
        lying = _Outline(np.column_stack([u, height]), None, o.tolerance)
        flange = _outstands(lying, half, tw)
        if flange is None:
            return None
        slope, thickness = flange
        low = height < 0.5 * o.h
        outstand = np.abs(u[low] - o.b / 2)
        radii = _flange_radii(o, slope, thickness, outstand - tw / 2, height[low], half - tw / 2, tw / 2)
        found.append((_snap(2 * half), _snap(thickness(half / 2)), slope, *radii))
    (b2, tf2, slope, r1, r2), (b, tf, *_rest) = found
    if (b2, tf2) > (b, tf):
        return None
    return shapes.i_section(_snap(o.h), b, tw, tf, r1, b2, tf2, slope, r2)


def _tee(o: _Outline) -> Section | None:
    stem = o.across(0.76 * o.h)
    if len(stem) != 2 or not o.close(stem[0] + stem[1], o.b):
        return None
    tw = _snap(stem[1] - stem[0])
    flange = _outstands(o, o.b / 2, tw)
    if flange is None:
        return None
    slope, thickness = flange
    u, v = o.points.T
    outstand = np.abs(u - o.b / 2)
    root, toe = _flange_radii(o, slope, thickness, outstand - tw / 2, v, (o.b - tw) / 2, tw / 2)
    return shapes.tee(_snap(o.h), _snap(o.b), tw, _snap(thickness(o.b / 4)), root, toe, slope)


def _outstands(o: _Outline, half: float, tw: float) -> tuple[float, Callable[[float], float]] | None:
    """Slope and thickness (by distance from the web's centre line) of the lower flange of an I or T."""
    outstand = half - tw / 2
    near, far = (tw / 2 + share * outstand for share in (0.55, 0.8))
    found = _flange(o, o.b / 2 + near, o.b / 2 + far, top=False)
    if found is None:
        return None
    slope, thickness = found
    return slope, lambda distance: thickness(o.b / 2 + distance)


def _flange(o: _Outline, near: float, far: float, top: bool) -> tuple[float, Callable[[float], float]] | None:
    """Slope and thickness by u of the lower flange, from two upright cuts; alike at the top where asked."""
    if far - near <= o.tolerance:
        return None
    cuts = [o.up(near), o.up(far)]
    if any(len(cut) < 2 or not o.close(cut[0], 0) for cut in cuts):
        return None
    if top and any(len(cut) != 4 or abs(cut[1] + cut[2] - o.h) > 2 * o.tolerance for cut in cuts):
        return None
    first, second = cuts[0][1], cuts[1][1]
    slope = (first - second) / (far - near)
    if abs(slope) < _NO_SLOPE:
        level = (first + second) / 2
        return 0.0, lambda u: level
    if slope < 0:
        return None
    # Whole thousandths where the drawing means them: 8 %, 5 %, 14 %, one in six.
    tidy = next((s for s in (round(slope, 3), 1 / 6) if abs(s - slope) < 2e-4), slope)
    return tidy, lambda u: first - slope * (u - near)


def _flange_radii(
    o: _Outline,
    slope: float,
    thickness: Callable[[float], float],
    x: FloatArray,
    height: FloatArray,
    outstand: float,
    offset: float,
) -> tuple[float, float]:
    """Root and toe radius of flanges; ``x`` is the distance from the web, ``height`` from the outside."""
    tilt = math.atan(slope)
    inner = np.array([thickness(float(d) + offset) for d in x])
    # Along the flange's inner face a distance is longer than along u by 1 / cos(tilt).
    above = height - inner
    low = height < 0.5 * o.h
    root = _radius(x[low] / math.cos(tilt), above[low], o.tolerance, tilt=tilt)
    rest = outstand - x
    end = (rest < 0.3 * outstand) & (height > o.tolerance) & low
    toe = _radius(rest[end] / math.cos(tilt), -above[end], o.tolerance, tilt=tilt)
    return root, toe


def _lipped_channel(o: _Outline) -> Section | None:
    web, flanges = o.across(0.501 * o.h), o.up(0.5 * o.b)
    if len(web) != 2 or not o.close(web[0], 0) or len(flanges) != 4 or not o.close(flanges[0], 0):
        return None
    if not o.close(flanges[1], web[1]):
        return None
    t = _snap(web[1])
    u, v = o.points.T
    x, y = u, np.minimum(v, o.h - v)
    lip = _lip(o, x, y, t)
    near = x < 0.5 * o.b
    r = _radius(x[near] - t, y[near] - t, o.tolerance)
    bend = near & (np.minimum(x, y) < t - o.tolerance)
    r_out = _radius(x[bend], y[bend], o.tolerance)
    return shapes.lipped_channel(_snap(o.h), _snap(o.b), t, lip, r, r_out)


def _zed(o: _Outline) -> Section | None:
    web, flange = o.across(0.501 * o.h), o.up(0.8 * o.b)
    if len(web) != 2 or len(flange) != 2 or not o.close(flange[0], 0):
        return None
    t = _snap(web[1] - web[0])
    width = (o.b + t) / 2
    if not (o.close(web[1], width) and o.close(flange[1], t)):
        return None
    # Both halves laid on one: a Z is its own image after half a turn.
    upper = o.points[:, 1] > o.h / 2
    half = np.where(upper[:, None], (o.b, o.h) - o.points, o.points)
    x, y = half.T
    lip = _lip(o, x, y, t)
    near = x < 0.5 * (width + o.b)
    r = _radius(x[near] - width, y[near] - t, o.tolerance)
    bend = near & (np.minimum(x - width + t, y) < t - o.tolerance)
    r_out = _radius(x[bend] - width + t, y[bend], o.tolerance)
    return shapes.zed(_snap(o.h), _snap(width), t, lip, r, r_out)


def _lip(o: _Outline, x: FloatArray, y: FloatArray, t: float) -> float:
    """How far the lip at the right end stands up from the outside of the flange; 0 where there is none."""
    end = x > o.b - o.tolerance
    top = _snap(float(y[end].max())) if end.any() else 0.0
    return top if top > t + o.tolerance else 0.0


def _rhs(o: _Outline) -> Section | None:
    if o.hole is None or o.h < o.b - o.tolerance:
        return None
    low, high = o.hole.min(axis=0), o.hole.max(axis=0)
    walls = (low[0], low[1], o.b - high[0], o.h - high[1])
    if max(walls) - min(walls) > 2 * o.tolerance:
        return None
    t = _snap(float(np.mean(walls)))
    u, v = o.points.T
    outer = _radius(np.minimum(u, o.b - u), np.minimum(v, o.h - v), o.tolerance)
    u, v = o.hole.T
    x = np.minimum(u - low[0], high[0] - u)
    y = np.minimum(v - low[1], high[1] - v)
    inner = _radius(x, y, o.tolerance)
    if 2 * inner >= float((high - low).min()) - 2 * o.tolerance:
        # A round hole in a square plate is no hollow of a hollow section.
        return None
    return shapes.rhs(_snap(o.h), _snap(o.b), t, outer, inner)


_SOLID: Final = (_flat, _angle, _channel, _i_section, _tee, _lipped_channel, _zed)


# ---------------------------------------------------------------- round


def _round(points: FloatArray, hole: FloatArray | None, tolerance: float) -> Recognised | None:
    """A round or a tube: circles, or polygons of at least 12 sides with their corners on one."""
    outer = _circle(points, tolerance)
    if outer is None:
        return None
    centre, d = outer
    place = (float(centre[0]), float(centre[1]))
    if hole is None:
        return Recognised(shapes.round_bar(_snap(d)), place, (1.0, 0.0), (0.0, 1.0))
    inner = _circle(hole, tolerance)
    if inner is None or math.hypot(*(inner[0] - centre)) > tolerance:
        return None
    try:
        section = shapes.chs(_snap(d), _snap((d - inner[1]) / 2))
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
