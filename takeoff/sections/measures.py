"""The dimensions an outline would have if it were this shape or that one.

Every function takes an outline laid along its axes (:class:`LaidOutline`) and returns the section its
measures make, or None where it plainly is another shape. Whether the outline really is that section is
not decided here but by holding both against each other.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.sections import shapes
from takeoff.sections.loops import after_each
from takeoff.steel import FloatArray, Section

_NO_SLOPE: Final = 0.002
"""Flanges this nearly parallel (0.1 degrees) are parallel."""
_STOUTEST_ANGLE: Final = 0.35
"""Thickness over the shorter leg; rolled angles stay below 0.3. More is a cut plate."""
_SIXTY_FOURTH: Final = 25.4 / 64


@dataclass(frozen=True, slots=True, eq=False)
class LaidOutline:
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
    hits = np.flatnonzero(below != after_each(below))
    after = (hits + 1) % len(level)
    share = (at - level[hits]) / (level[after] - level[hits])
    return sorted((along[hits] + share * (along[after] - along[hits])).tolist())


def _sides(o: LaidOutline) -> tuple[float, float]:
    """Depth and width; one number where they are equal within the grain."""
    if o.close(o.h, o.b):
        side = snap((o.h + o.b) / 2)
        return side, side
    return snap(o.h), snap(o.b)


def snap(value: float) -> float:
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


def _flat(o: LaidOutline) -> Section | None:
    if o.h < o.b - o.tolerance:
        return None
    return shapes.flat(*_sides(o))


def _angle(o: LaidOutline) -> Section | None:
    if o.h < o.b - o.tolerance:
        return None
    leg, foot = o.across(0.62 * o.h), o.up(0.62 * o.b)
    if len(leg) != 2 or len(foot) != 2 or not (o.close(leg[0], 0) and o.close(foot[0], 0)):
        return None
    if not o.close(leg[1], foot[1]) or leg[1] > _STOUTEST_ANGLE * o.b:
        return None
    t = snap((leg[1] + foot[1]) / 2)
    u, v = o.points.T
    root = _radius(u - t, v - t, o.tolerance)
    high, wide = v > 0.62 * o.h, u > 0.62 * o.b
    x = np.concatenate([t - u[high], t - v[wide]])
    y = np.concatenate([o.h - v[high], o.b - u[wide]])
    # The outside of a leg is no toe, though it too lies off the inner face.
    off = np.concatenate([u[high], v[wide]]) > o.tolerance
    toe = _radius(x[off], y[off], o.tolerance)
    return shapes.angle(*_sides(o), t, root, toe)


def _channel(o: LaidOutline) -> Section | None:
    web = o.across(0.501 * o.h)
    if len(web) != 2 or not o.close(web[0], 0):
        return None
    tw = snap(web[1])
    flange = _flange(o, tw + 0.38 * (o.b - tw), tw + 0.7 * (o.b - tw), top=True)
    if flange is None:
        return None
    slope, thickness = flange
    at = shapes.flange_gauge(snap(o.h), snap(o.b), tw)
    u, v = o.points.T
    root, toe = _flange_radii(o, slope, thickness, u - tw, np.minimum(v, o.h - v), o.b - tw, tw)
    tf = snap(thickness(at))
    return shapes.channel(snap(o.h), snap(o.b), tw, tf, root, toe, slope)


def _i_section(o: LaidOutline) -> Section | None:
    web = o.across(0.501 * o.h)
    if len(web) != 2 or not o.close(web[0] + web[1], o.b):
        return None
    tw = snap(web[1] - web[0])
    u, v = o.points.T
    found = []
    for height in (v, o.h - v):
        near = height < 0.3 * o.h
        if not near.any():
            return None
        half = float(np.ptp(u[near])) / 2
        lying = LaidOutline(np.column_stack([u, height]), None, o.tolerance)
        flange = _outstands(lying, half, tw)
        if flange is None:
            return None
        slope, thickness = flange
        low = height < 0.5 * o.h
        outstand = np.abs(u[low] - o.b / 2)
        radii = _flange_radii(o, slope, thickness, outstand - tw / 2, height[low], half - tw / 2, tw / 2)
        found.append((snap(2 * half), snap(thickness(half / 2)), slope, *radii))
    (b2, tf2, slope, r1, r2), (b, tf, *_rest) = found
    if o.close(b, b2) and o.close(tf, tf2):
        b = b2 = snap((b + b2) / 2)
        tf = tf2 = snap((tf + tf2) / 2)
    if (b2, tf2) > (b, tf):
        return None
    return shapes.i_section(snap(o.h), b, tw, tf, r1, b2, tf2, slope, r2)


def _tee(o: LaidOutline) -> Section | None:
    stem = o.across(0.76 * o.h)
    if len(stem) != 2 or not o.close(stem[0] + stem[1], o.b):
        return None
    tw = snap(stem[1] - stem[0])
    flange = _outstands(o, o.b / 2, tw)
    if flange is None:
        return None
    slope, thickness = flange
    u, v = o.points.T
    outstand = np.abs(u - o.b / 2)
    root, toe = _flange_radii(o, slope, thickness, outstand - tw / 2, v, (o.b - tw) / 2, tw / 2)
    return shapes.tee(snap(o.h), snap(o.b), tw, snap(thickness(o.b / 4)), root, toe, slope)


def _outstands(o: LaidOutline, half: float, tw: float) -> tuple[float, Callable[[float], float]] | None:
    """Slope and thickness (by distance from the web's centre line) of the lower flange of an I or T."""
    outstand = half - tw / 2
    near, far = (tw / 2 + share * outstand for share in (0.55, 0.8))
    found = _flange(o, o.b / 2 + near, o.b / 2 + far, top=False)
    if found is None:
        return None
    slope, thickness = found
    return slope, lambda distance: thickness(o.b / 2 + distance)


def _flange(o: LaidOutline, near: float, far: float, top: bool) -> tuple[float, Callable[[float], float]] | None:
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
    o: LaidOutline,
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


def _lipped_channel(o: LaidOutline) -> Section | None:
    web, flanges = o.across(0.501 * o.h), o.up(0.5 * o.b)
    if len(web) != 2 or not o.close(web[0], 0) or len(flanges) != 4 or not o.close(flanges[0], 0):
        return None
    if not o.close(flanges[1], web[1]):
        return None
    t = snap(web[1])
    u, v = o.points.T
    x, y = u, np.minimum(v, o.h - v)
    lip = _lip(o, x, y, t)
    near = x < 0.5 * o.b
    r = _radius(x[near] - t, y[near] - t, o.tolerance)
    bend = near & (np.minimum(x, y) < t - o.tolerance)
    r_out = _radius(x[bend], y[bend], o.tolerance)
    return shapes.lipped_channel(snap(o.h), snap(o.b), t, lip, r, r_out)


def _zed(o: LaidOutline) -> Section | None:
    web, flange = o.across(0.501 * o.h), o.up(0.8 * o.b)
    if len(web) != 2 or len(flange) != 2 or not o.close(flange[0], 0):
        return None
    t = snap(web[1] - web[0])
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
    return shapes.zed(snap(o.h), snap(width), t, lip, r, r_out)


def _lip(o: LaidOutline, x: FloatArray, y: FloatArray, t: float) -> float:
    """How far the lip at the right end stands up from the outside of the flange; 0 where there is none."""
    end = x > o.b - o.tolerance
    top = snap(float(y[end].max())) if end.any() else 0.0
    return top if top > t + o.tolerance else 0.0


def hollow(o: LaidOutline) -> Section | None:
    """A rectangular hollow section, taller than wide or square."""
    if o.hole is None or o.h < o.b - o.tolerance:
        return None
    low, high = o.hole.min(axis=0), o.hole.max(axis=0)
    walls = (low[0], low[1], o.b - high[0], o.h - high[1])
    if max(walls) - min(walls) > 2 * o.tolerance:
        return None
    t = snap(float(np.mean(walls)))
    u, v = o.points.T
    outer = _radius(np.minimum(u, o.b - u), np.minimum(v, o.h - v), o.tolerance)
    u, v = o.hole.T
    x = np.minimum(u - low[0], high[0] - u)
    y = np.minimum(v - low[1], high[1] - v)
    inner = _radius(x, y, o.tolerance)
    if 2 * inner >= float((high - low).min()) - 2 * o.tolerance:
        # A round hole in a square plate is no hollow of a hollow section.
        return None
    return shapes.rhs(*_sides(o), t, outer, inner)


SOLID: Final = (_flat, _angle, _channel, _i_section, _tee, _lipped_channel, _zed)
"""The measures of solid sections, in the order they are tried."""


def measured(measure: Callable[[LaidOutline], Section | None], shape: LaidOutline) -> Section | None:
    """The section a measure makes of an outline, or None."""
    try:
        return measure(shape)
    except ValueError:
        # Dimensions that make no such section: it is another shape.
        return None
