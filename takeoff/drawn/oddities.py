"""What a body is that is refused: tapered, curved, bent, an opened angle, built up."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NoReturn

import numpy as np

from takeoff.drawn.curves import LEAST_SIDES, fit_circle, tidy
from takeoff.drawn.results import Refused
from takeoff.drawn.slices import Slice
from takeoff.steel import FloatArray

_MOST_LEGS = 6
"""More legs than this are steps of a curve."""


@dataclass(frozen=True, slots=True, eq=False)
class _Leg:
    """Two sides of an outline that face each other: their direction, the middle between them, their distance."""

    along: FloatArray
    middle: FloatArray
    gap: float
    overlap: float


class Diagnosis:
    """The slices of a body, asked what it is when it is not a plain bar."""

    def __init__(self, slices: list[Slice], tolerance: float) -> None:
        self._slices = sorted(slices, key=lambda s: s.x)
        self._tolerance = tolerance

    def refuse_changes(self) -> None:
        """Raises Refused where the section grows or wanders along the length; does nothing where it is constant."""
        if len(self._slices) < 2:
            return
        areas = np.array([s.area for s in self._slices])
        boxes = np.array([_box(s) for s in self._slices])
        x = np.array([s.x for s in self._slices])
        steps = np.diff(areas)
        spread = float(np.ptp(areas)) / float(areas.max())
        same_way = bool((steps >= -1e-6 * areas.max()).all() or (steps <= 1e-6 * areas.max()).all())
        if spread > 0.01 and same_way and len(areas) > 2 and _linear(x, boxes):
            first, last = sorted((float(areas[0]), float(areas[-1])))
            raise Refused("tapered", f"{first:.0f}", f"{last:.0f}")
        drift = _drift(boxes)
        if drift > 5 * self._tolerance:
            raise Refused("curved", f"{drift:.1f}")

    def refuse_feature(self, x: float) -> NoReturn:
        """Raises Refused: the section changes, or a feature near ``x`` is not read."""
        self.refuse_changes()
        raise Refused("feature", f"{x:.0f}")

    def refuse_section(self, whole: Slice) -> None:
        """Raises Refused where the section is one that is held: bent, opened, of several parts."""
        self.refuse_changes()
        if len(whole.outers) > 1:
            raise Refused("split", len(whole.outers))
        if len(whole.inners) > 1:
            raise Refused("voids", len(whole.inners))
        _refuse_coarse(whole, self._tolerance)
        if not whole.inners:
            refuse_bent(tidy(whole.outers[0], self._tolerance), self._tolerance)


def _box(s: Slice) -> FloatArray:
    points = np.concatenate(s.loops)
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def _refuse_coarse(whole: Slice, tolerance: float) -> None:
    """Raises Refused where outline and hollow are even polygons of 8 to 11 sides: drawn for a round, or not."""
    for loop in whole.loops:
        points = tidy(loop, tolerance)
        sides = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
        if not LEAST_SIDES <= len(points) < 12 or float(np.ptp(sides)) > 2 * tolerance:
            return
        if fit_circle(points)[3] > tolerance:
            return
    raise Refused("coarse", len(tidy(whole.outers[0], tolerance)))


def _drift(boxes: FloatArray) -> float:
    """How far the section wanders as a whole: both its sides by nearly the same."""
    middles = (boxes[:, :2] + boxes[:, 2:]) / 2
    moved = np.ptp(middles, axis=0)
    grown = np.ptp(boxes[:, 2:] - boxes[:, :2], axis=0)
    return float(np.where(grown < 0.5 * moved, moved, 0.0).max())


def _linear(x: FloatArray, boxes: FloatArray) -> bool:
    """Whether the box's sides move evenly along the length, as a taper's do and a built-up bar's do not."""
    matrix = np.column_stack([x, np.ones(len(x))])
    fit, *_ = np.linalg.lstsq(matrix, boxes, rcond=None)
    off = np.abs(matrix @ fit - boxes).max()
    moved = float(np.ptp(boxes, axis=0).max())
    return moved > 0.1 and off <= max(0.05, 0.05 * moved)


def refuse_bent(loop: FloatArray, tolerance: float) -> None:
    """Raises Refused where an outline is a strip of one thickness with corners, or two legs that are no angle."""
    sides = np.roll(loop, -1, axis=0) - loop
    sizes = np.hypot(*sides.T)
    perimeter = float(sizes.sum())
    x, y = (loop - loop[0]).T
    area = abs(float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())) / 2
    root = perimeter * perimeter / 16 - area
    if root <= 0:
        return
    # a strip as long as half the perimeter less its thickness
    thin = perimeter / 4 - math.sqrt(root)
    legs: list[_Leg] = []
    long = [k for k in range(len(loop)) if sizes[k] > 2.2 * thin]
    for n, i in enumerate(long):
        for j in long[n + 1 :]:
            turn = abs(float(sides[i] @ sides[j])) / (sizes[i] * sizes[j])
            if turn < 0.9999 or sides[i] @ sides[j] > 0:
                continue
            along = sides[i] / sizes[i]
            gap = abs(float(along[0] * (loop[j] - loop[i])[1] - along[1] * (loop[j] - loop[i])[0]))
            share = sorted(float((p - loop[i]) @ along) for p in (loop[j], loop[(j + 1) % len(loop)]))
            overlap = min(share[1], float(sizes[i])) - max(share[0], 0.0)
            if gap < 1.6 * thin and overlap > 1.5 * thin:
                start = max(share[0], 0.0) + overlap / 2
                middle = loop[i] + start * along + gap / 2 * np.array([-along[1], along[0]])
                legs.append(_Leg(along, middle, gap, overlap))
    if len(legs) < 2 or sum(2 * leg.overlap for leg in legs) < 0.55 * perimeter:
        return
    thick = [leg.gap for leg in legs]
    if len(legs) == 2:
        angle = _opening(*legs)
        if abs(angle - 90.0) > 0.2:
            raise Refused("opened", f"{angle:.1f}".removesuffix(".0"))
        if max(thick) - min(thick) > 5 * tolerance:
            raise Refused("uneven", f"{min(thick):.1f}", f"{max(thick):.1f}")
    if max(thick) - min(thick) <= 5 * tolerance and _ends(loop, sizes, sum(thick) / len(thick)) <= 2:
        if len(legs) > _MOST_LEGS:
            raise Refused("rolled", f"{sum(thick) / len(thick):.1f}".removesuffix(".0"))
        raise Refused("bent", f"{sum(thick) / len(thick):.1f}".removesuffix(".0"), len(legs))


def _ends(loop: FloatArray, sizes: FloatArray, thick: float) -> int:
    """How many sides of a strip's outline are its ends: as long as it is thick, with two corners out."""
    sides = np.roll(loop, -1, axis=0) - loop
    out = _turn(np.roll(sides, 1, axis=0), sides) > 0
    return int((np.isclose(sizes, thick, rtol=0.1) & out & np.roll(out, -1)).sum())


def _turn(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _opening(a: _Leg, b: _Leg) -> float:
    """Degrees between two legs, seen from where their middle lines meet."""
    meet = np.linalg.lstsq(np.column_stack([a.along, -b.along]), b.middle - a.middle, rcond=None)[0]
    corner = a.middle + meet[0] * a.along
    one, two = a.middle - corner, b.middle - corner
    cos = float(one @ two) / max(float(np.hypot(*one) * np.hypot(*two)), 1e-9)
    return math.degrees(math.acos(max(-1.0, min(1.0, cos))))
