"""Polygons that mean curves: arcs in an outline, and what shape a hole is.

A curve drawn in straight steps has its corners on the curve, so that circles are fitted through
corners, never round or inside the sides.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from takeoff.sections.loops import Corner, Loop, after_each, before_each
from takeoff.sections.voids import Void
from takeoff.steel import FloatArray

LEAST_SIDES: Final = 8
"""A polygon of fewer sides is not taken for a circle: hexagons are drawn as such."""
STEP_DEG: Final = 31.0
"""Sides of an outline's arc turn by no more than this; clipped corners turn by 45 degrees."""
_WHOLE_DEG: Final = 0.02
LEAST_STEPS: Final = 4
"""Fewer sides than this are no arc: four corners lie on a circle by chance (any even trapezium)."""


def tidy(loop: FloatArray, tolerance: float) -> FloatArray:
    """The polygon without corners that lie on the line between their neighbours."""
    points = np.asarray(loop, dtype=float)
    limit = min(tolerance, 0.005)
    while len(points) > 3:
        before, after = before_each(points), after_each(points)
        chord = after - before
        step = points - before
        size = np.maximum(np.hypot(*chord.T), 1e-12)
        off = np.abs(chord[:, 0] * step[:, 1] - chord[:, 1] * step[:, 0]) / size
        forward = (step * (after - points)).sum(axis=1) > 0
        flat = (off < limit) & forward
        flat |= np.hypot(*step.T) < 1e-6
        # Never two neighbours at once: each is judged by the line between the others.
        flat &= ~before_each(flat)
        if not flat.any():
            break
        points = points[~flat]
    return points


def fit_circle(points: FloatArray) -> tuple[float, float, float, float]:
    """Centre x, y, radius and the largest distance from it of points (n, 2), by least squares."""
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    matrix = np.column_stack([x, y, np.ones(len(x))])
    (p, q, s), *_ = np.linalg.lstsq(matrix, x * x + y * y, rcond=None)
    radius = math.sqrt(max(float(s + p * p / 4 + q * q / 4), 0.0))
    away = np.hypot(x - p / 2, y - q / 2)
    return float(middle[0] + p / 2), float(middle[1] + q / 2), radius, float(np.abs(away - radius).max())


def shape_of(loop: FloatArray, tolerance: float) -> Void | None:
    """The circle, slot or rectangle a closed polygon (n, 2) is drawn for, or None.

    A rectangle's ``diameter`` is twice the radius of its corners, 0 where they are sharp.
    """
    points = tidy(loop, tolerance)
    found = _circle(points, tolerance) or _rectangle(points, tolerance)
    return found or _slot(points, tolerance) or _rounded_rectangle(points, tolerance)


def _circle(points: FloatArray, tolerance: float) -> Void | None:
    if len(points) < LEAST_SIDES:
        return None
    x, y, radius, off = fit_circle(points)
    sides = np.hypot(*(after_each(points) - points).T)
    if off > tolerance or sides.max() > 2 * radius * math.sin(math.pi / LEAST_SIDES) * 1.02 + tolerance:
        return None
    return Void(x, y, 2 * radius)


def _rectangle(points: FloatArray, tolerance: float) -> Void | None:
    if len(points) != 4:
        return None
    sides = after_each(points) - points
    sizes = np.hypot(*sides.T)
    turns = np.abs((sides * after_each(sides)).sum(axis=1)) / np.maximum(sizes, after_each(sizes))
    if turns.max() > 2 * tolerance:
        return None
    long = 0 if sizes[0] >= sizes[1] - 1e-6 else 1
    x, y = points.mean(axis=0)
    width = float((sizes[1 - long] + sizes[3 - long]) / 2)
    length = float((sizes[long] + sizes[(long + 2) % 4]) / 2)
    return Void(float(x), float(y), 0.0, length, _straight(sides[long]), width, kind="rectangle")


def _slot(points: FloatArray, tolerance: float) -> Void | None:
    """Two half circles and two equal lines between them."""
    count = len(points)
    if count < LEAST_SIDES:
        return None
    sides = after_each(points) - points
    sizes = np.hypot(*sides.T)
    i, j = sorted(int(k) for k in np.argsort(-np.round(sizes, 4), kind="stable")[:2])
    if abs(sizes[i] - sizes[j]) > 2 * tolerance or sides[i] @ sides[j] > 0:
        return None
    along = sides[i] - sides[j]
    along = along / np.hypot(*along)
    normal = np.array([-along[1], along[0]])
    gap = abs(float((points[i] - points[j]) @ normal))
    radius = gap / 2
    ends = []
    for first, last in ((i + 1, j), (j + 1, i + count)):
        run = points[[k % count for k in range(first, last + 1)]]
        middle = (run[0] + run[-1]) / 2
        away = np.hypot(*(run - middle).T)
        steps = np.hypot(*np.diff(run, axis=0).T)
        if len(run) < 4 or np.abs(away - radius).max() > 1.5 * tolerance:
            return None
        if steps.max() > 2 * radius * math.sin(math.radians(31)) + tolerance:
            return None
        ends.append(middle)
    pitch = float(np.hypot(*(ends[1] - ends[0])))
    x, y = (ends[0] + ends[1]) / 2
    return Void(float(x), float(y), gap, pitch + gap, _straight(ends[1] - ends[0]), kind="slot")


def _rounded_rectangle(points: FloatArray, tolerance: float) -> Void | None:
    """Four sides at right angles and four quarter circles between them, of one radius."""
    count = len(points)
    if count < 12:
        return None
    sides = after_each(points) - points
    sizes = np.hypot(*sides.T)
    four = sorted(int(k) for k in np.argsort(-np.round(sizes, 4), kind="stable")[:4])
    along = sides[four[0]] / sizes[four[0]]
    flat = points @ np.array([along, [-along[1], along[0]]]).T
    low, high = flat.min(axis=0), flat.max(axis=0)
    for n, k in enumerate(four):
        # each straight side lies on the box and is square to the one before
        one, two = flat[k], flat[(k + 1) % count]
        axis = 1 - n % 2
        edge = low if (n in (0, 3)) else high
        if max(abs(one[axis] - edge[axis]), abs(two[axis] - edge[axis])) > tolerance:
            return None
    radius = float(np.median([abs(flat[four[0], 0] - low[0]), abs(flat[(four[0] + 1) % count, 0] - high[0])]))
    middle = (low + high) / 2
    inner = (high - low) / 2 - radius
    if radius <= tolerance or (inner <= 0).any():
        return None
    offset = np.abs(flat - middle) - inner
    straight = {j % count for k in four for j in (k, k + 1)}
    round_ = np.array([k not in straight for k in range(count)])
    if not round_.any() or (offset[round_] < -tolerance).any():
        return None
    if float(np.abs(np.hypot(*np.maximum(offset, 0.0).T) - radius).max()) > tolerance:
        return None
    steps = np.delete(sizes, four)
    if steps.max() > 2 * radius * math.sin(math.radians(STEP_DEG / 2)) + tolerance:
        return None
    x, y = middle @ np.array([along, [-along[1], along[0]]])
    size = high - low
    long = 0 if size[0] >= size[1] - 1e-6 else 1
    way = along if long == 0 else np.array([-along[1], along[0]])
    return Void(
        float(x), float(y), 2 * radius, float(size[long]), _straight(way), float(size[1 - long]), kind="rectangle"
    )


def _straight(direction: FloatArray) -> float:
    """Degrees from +x toward +y, 0 up to 180."""
    angle = math.degrees(math.atan2(float(direction[1]), float(direction[0]))) % 180.0
    return 0.0 if angle > 180.0 - 1e-6 else angle


# ---------------------------------------------------------------- arcs of outlines


def with_arcs(loop: FloatArray, tolerance: float) -> Loop:
    """The polygon as a loop whose runs of corners on one circle are arcs; runs not certain stay straight."""
    points = tidy(loop, tolerance)
    count = len(points)
    sides = after_each(points) - points
    heading = np.arctan2(sides[:, 1], sides[:, 0])
    # turn[k]: how much the outline turns at corner k
    turn = (heading - before_each(heading) + math.pi) % (2 * math.pi) - math.pi
    if count >= 2 * LEAST_STEPS:
        x, y, _, off = fit_circle(points)
        if off <= tolerance and np.abs(turn).max() <= math.radians(STEP_DEG):
            half = points[0]
            other = (2 * x - half[0], 2 * y - half[1])
            bulge = 1.0 if turn.sum() > 0 else -1.0
            return ((float(half[0]), float(half[1]), bulge), (other[0], other[1], bulge))
    runs = _runs(points, turn, tolerance)
    if not runs:
        return tuple((float(x), float(y), 0.0) for x, y in points)
    begins = dict(runs)
    inner = {k % count for first, last in runs for k in range(first + 1, last)}
    out: list[Corner] = []
    for k in range(count):
        if k in inner:
            continue
        bulge = 0.0
        if k in begins:
            run = points[[m % count for m in range(k, begins[k] + 1)]]
            bulge = _bulge(run)
        out.append((float(points[k, 0]), float(points[k, 1]), bulge))
    return tuple(out)


def _runs(points: FloatArray, turn: FloatArray, tolerance: float) -> list[tuple[int, int]]:
    """Longest runs (first, last corner; last may pass the count) of corners on one circle, turning one way."""
    count = len(points)
    bent = (np.abs(turn) <= math.radians(STEP_DEG)) & (np.abs(turn) > 1e-4)
    start = next((k for k in range(count) if not (bent[k] and bent[k - 1])), 0)
    runs = []
    k = start
    end = start + count
    while k < end:
        # grow from the side k..k+1 while the corners passed bend and lie on the circle of the first ones
        last = k + 1
        while last < end and bent[last % count] and turn[last % count] * turn[(k + 1) % count] > 0:
            grown = points[[m % count for m in range(k, last + 2)]]
            if len(grown) > 3 and not _on_circle(grown, tolerance):
                break
            last += 1
        if last - k >= LEAST_STEPS:
            runs.append((k % count, k % count + last - k))
            k = last
        else:
            k += 1
    return runs


def _on_circle(points: FloatArray, tolerance: float) -> bool:
    """Whether a run lies on one circle in even steps, but for shorter ones at its ends."""
    _, _, _, off = fit_circle(points)
    steps = np.hypot(*np.diff(points, axis=0).T)
    inner = steps[1:-1]
    if not len(inner):
        return off <= tolerance
    even = float(np.ptp(inner)) <= max(0.05 * float(inner.mean()), 4 * tolerance)
    return off <= tolerance and even and max(steps[0], steps[-1]) <= float(inner.max()) * 1.05 + 2 * tolerance


def _bulge(run: FloatArray) -> float:
    x, y, _, _ = fit_circle(run)
    angles = np.unwrap(np.arctan2(run[:, 1] - y, run[:, 0] - x))
    sweep = math.degrees(float(angles[-1] - angles[0]))
    # half and quarter circles exactly, so that they are drawn again in as many steps wherever they stand
    whole = round(sweep)
    return math.tan(math.radians(whole if abs(sweep - whole) < _WHOLE_DEG else sweep) / 4)
