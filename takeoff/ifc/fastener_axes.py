"""From the turned bodies of a fastener to its bolts: which is shank, head and nut.

Bodies on one line belong together; along the line they part where the steel between
two shanks is missing. Of a bolt's bodies the longest thin one is the shank, and of the
wide ones at its ends the head is, in this order: the one in one piece with the shank;
the one nothing sticks out of; the one without a bore; the lower one (common practice:
a head is 0.6 to 0.7, a nut 0.8 to 1.0 of the diameter high); the one with less washers.
Where all that is alike, the end the axis starts from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from takeoff.ifc.context import Unread
from takeoff.ifc.turned import Slab, Turned
from takeoff.steel import FloatArray

THIN: Final = 1.35
"""Up to this times the shank's diameter a body is shank, thread or the hole drawn round it; wider is head,
nut or washer (across corners a hexagon is at least 1.6 times, common practice)."""
ALIKE: Final = 1.02
"""Bodies up to this times the shank's diameter are the shank's own."""
CORE_SHARE: Final = 0.15
"""A stretch shorter than this share of its body is a chamfer or a point and says nothing of the shank."""
LINE_SHARE: Final = 0.2
"""Axes nearer than this share of the thinner diameter are one line: neighbouring bolts are two diameters apart."""
BEND: Final = 0.02
"""Sine of the angle up to which two bodies are on one line."""
OPEN_SHARE: Final = 2.0
"""Shanks further apart than this many diameters on one line are two bolts."""

ODD: Final = 1.5
"""A flat body this many times as wide as the bolts beside it is none."""

WIDEST_SQUARE_MM: Final = 51.0
"""A bolt drawn coarsely, as a square bar, is up to this over its corners: M36 (common practice, no source)."""
_FLAT: Final = 4

COLUMNS: Final = 8
"""x, y, z of the point under the head; x, y, z of the direction; drawn shank; drawn diameter."""


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """A body on a line: its extent along it and its thinnest diameter that counts."""

    start: float
    end: float
    core: float
    slabs: tuple[Slab, ...]
    bored: bool


def bolts_of(bodies: Sequence[Turned], count: int | None = None) -> FloatArray:
    """(n, 8) rows of COLUMNS, in the bodies' axes and order. ``count`` bolts are expected where the model says so:
    it decides whether separate stretches on one line are one bolt or several. Raises Unread for plates."""
    lines = [_line(group) for group in _collinear(bodies)]
    apart = [run for line in lines for run in _runs(*line, OPEN_SHARE)]
    if count is not None and len(apart) != count:
        whole = [run for line in lines for run in _runs(*line, float("inf"))]
        finest = [run for line in lines for run in _runs(*line, 0.0)]
        for other in (whole, finest):
            if len(other) == count:
                apart = other
                break
    rows = np.array([_bolt(*run) for run in apart], dtype=float).reshape(-1, COLUMNS)
    # a flat or plate that is only called after its bolts: its diagonal is no bolt's diameter
    flats = [len(parts) == 1 and {s.corners for s in parts[0].slabs} == {_FLAT} for _, _, parts in apart]
    if apart and all(flats) and (rows[:, 7] > WIDEST_SQUARE_MM).all():
        raise Unread("it is drawn as a flat or plate, whatever it is called: no bolt is so wide")
    return rows


def odd_ones(rows: FloatArray) -> npt.NDArray[np.bool_]:
    """Which rows (n,) are no bolts beside the others: bodies wider than long and far wider than the slender ones,
    such as a plate drawn with its anchors or a washer off every line."""
    length, diameter = rows[:, 6], rows[:, 7]
    slender = length > diameter
    if not slender.any():
        return np.zeros(len(rows), dtype=bool)
    odd: npt.NDArray[np.bool_] = ~slender & (diameter > ODD * np.median(diameter[slender]))
    return odd


def _core(slabs: Sequence[Slab]) -> float:
    extent = sum(slab.end - slab.start for slab in slabs)
    counted = [s.diameter for s in slabs if s.end - s.start >= CORE_SHARE * extent]
    return min(counted) if counted else min(slab.diameter for slab in slabs)


def _collinear(bodies: Sequence[Turned]) -> list[list[Turned]]:
    """Bodies in groups of one axis, in the order of each group's first body."""
    count = len(bodies)
    if count < 2:
        return [list(bodies)] if bodies else []
    points = np.array([b.point + (b.start + b.end) / 2 * b.direction for b in bodies])
    directions = np.array([b.direction for b in bodies])
    cores = np.array([_core(b.slabs) for b in bodies])
    lengths = np.array([b.end - b.start for b in bodies])
    free = np.ones(count, dtype=bool)
    group = np.full(count, -1)
    # the slenderest body knows its line best
    for seed in sorted(range(count), key=lambda i: (-round(float(lengths[i] / cores[i]), 3), i)):
        if not free[seed]:
            continue
        away = points - points[seed]
        off = np.linalg.norm(np.cross(away, directions[seed]), axis=1)
        bend = np.linalg.norm(np.cross(directions, directions[seed]), axis=1)
        near = free & (bend < BEND) & (off < LINE_SHARE * np.minimum(cores, cores[seed]))
        near[seed] = True
        group[near] = seed
        free &= ~near
    out: dict[int, list[Turned]] = {}
    for body, number in zip(bodies, group.tolist(), strict=True):
        out.setdefault(number, []).append(body)
    return list(out.values())


def _line(group: Sequence[Turned]) -> tuple[FloatArray, FloatArray, list[_Part]]:
    base = max(group, key=lambda b: (b.end - b.start) / _core(b.slabs))
    parts = []
    for body in group:
        offset = float((body.point - base.point) @ base.direction)
        sign = 1.0 if float(body.direction @ base.direction) > 0 else -1.0
        slabs = []
        for s in body.slabs:
            a, b = sorted((offset + sign * s.start, offset + sign * s.end))
            slabs.append(Slab(a, b, s.diameter, s.corners, s.length))
        slabs.sort(key=lambda s: s.start)
        parts.append(_Part(slabs[0].start, max(s.end for s in slabs), _core(slabs), tuple(slabs), body.bored))
    return base.point, base.direction, parts


def _runs(
    point: FloatArray, direction: FloatArray, parts: list[_Part], opening: float
) -> list[tuple[FloatArray, FloatArray, list[_Part]]]:
    """Parts of one line in separate bolts: shanks more than ``opening`` diameters apart are two."""
    thinnest = min(part.core for part in parts)
    thin = sorted((p for p in parts if p.core <= THIN * thinnest), key=lambda p: (p.start, p.end))
    wide = [p for p in parts if p.core > THIN * thinnest]
    groups: list[list[_Part]] = []
    reach = -np.inf
    for part in thin:
        if groups and part.start - reach <= max(opening * thinnest, 1.0):
            groups[-1].append(part)
        else:
            groups.append([part])
        reach = max(reach, part.end)
    extents = [(min(p.start for p in g), max(p.end for p in g)) for g in groups]
    for part in wide:
        middle = (part.start + part.end) / 2
        nearest = min(range(len(groups)), key=lambda i: (max(extents[i][0] - middle, middle - extents[i][1], 0.0), i))
        groups[nearest].append(part)
    return [(point, direction, group) for group in groups]


@dataclass(frozen=True, slots=True)
class _Wide:
    start: float
    end: float
    joined: bool
    """In one piece with the shank."""
    bored: bool


def _bolt(point: FloatArray, direction: FloatArray, parts: list[_Part]) -> tuple[float, ...]:
    thinnest = min(p.core for p in parts)
    shank = max(
        (p for p in parts if p.core <= THIN * thinnest),
        key=lambda p: (round(_thin_length(p, thinnest), 3), -round(p.core, 3)),
    )
    limit = THIN * shank.core
    wides = [_Wide(*run, joined=True, bored=False) for run in _wide_runs(shank, limit)]
    wides += [_Wide(p.start, p.end, joined=False, bored=p.bored) for p in parts if p is not shank and p.core > limit]
    # a thread drawn on its own lengthens the shank; holes drawn round it do not, unless they are all there is
    most = ALIKE * shank.core if wides else limit
    lengthening = [p for p in parts if p is shank or p.core <= most]
    stretches = [s for p in lengthening for s in p.slabs if s.diameter <= limit]
    a, b = min(s.start for s in stretches), max(s.end for s in stretches)
    extent = b - a
    own = [s for s in shank.slabs if s.diameter <= limit]
    long = sum(s.end - s.start for s in own)
    counted = [s.diameter for s in own if s.end - s.start >= CORE_SHARE * long]
    diameter = max(counted) if counted else shank.core
    middle = (a + b) / 2
    low = [w for w in wides if w.start + w.end <= 2 * middle]
    high = [w for w in wides if w.start + w.end > 2 * middle]
    head_is_low = _head_is_low(low, high, a, b, diameter)
    if head_is_low:
        bearing = min(low, key=lambda w: (w.start, -w.end)).end if low else a
        tip, sign = b, 1.0
    else:
        bearing = max(high, key=lambda w: (w.end, -w.start)).start if high else b
        tip, sign = a, -1.0
    length = sign * (tip - bearing)
    if length <= 0:  # the wide body covers all that is drawn of the shank
        bearing, length = (a, extent) if head_is_low else (b, extent)
    place = point + bearing * direction
    along = sign * direction
    return (*place.tolist(), *along.tolist(), length, diameter)


def _thin_length(part: _Part, thinnest: float) -> float:
    return sum(s.end - s.start for s in part.slabs if s.diameter <= THIN * thinnest)


def _wide_runs(part: _Part, limit: float) -> list[tuple[float, float]]:
    runs: list[tuple[float, float]] = []
    for slab in part.slabs:
        if slab.diameter <= limit:
            continue
        if runs and slab.start - runs[-1][1] <= 0.1:
            runs[-1] = (runs[-1][0], slab.end)
        else:
            runs.append((slab.start, slab.end))
    return runs


def _head_is_low(low: list[_Wide], high: list[_Wide], a: float, b: float, diameter: float) -> bool:
    if not low and not high:
        return True
    stick_low = min(w.start for w in low) - a if low else 0.0
    stick_high = b - max(w.end for w in high) if high else 0.0
    small = 0.05 * diameter
    if not low or not high:
        sticks_out = (stick_low if low else stick_high) > max(2 * small, 1.0)
        joined = any(w.joined for w in low + high)
        return bool(low) != (sticks_out and not joined)
    joined_low, joined_high = any(w.joined for w in low), any(w.joined for w in high)
    if joined_low != joined_high:
        return joined_low
    if abs(max(stick_low, 0.0) - max(stick_high, 0.0)) > small:
        return stick_low < stick_high
    outer_low = min(low, key=lambda w: (w.start, -w.end))
    outer_high = max(high, key=lambda w: (w.end, -w.start))
    if outer_low.bored != outer_high.bored:
        return outer_high.bored
    tall_low, tall_high = outer_low.end - outer_low.start, outer_high.end - outer_high.start
    if abs(tall_low - tall_high) > 0.03 * diameter:
        return tall_low < tall_high
    return len(low) <= len(high)
