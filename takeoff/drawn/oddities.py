"""What a body is that is refused: tapered, curved, bent, an opened angle, built up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NoReturn

import numpy as np
import numpy.typing as npt

from takeoff.drawn.axis import directions
from takeoff.drawn.curves import LEAST_SIDES, fit_circle, tidy
from takeoff.drawn.mesh import Mesh
from takeoff.drawn.results import Refused
from takeoff.drawn.slices import Slice, cuts
from takeoff.sections.loops import after_each, before_each
from takeoff.steel import FloatArray, Section
from takeoff.units import COINCIDENCE_MM

_BEND_DEG = 20.0
"""A strip that turns by more at one corner is bent there, by less it is rolled."""
_THICKEST = 2.2
"""A leg no thicker than this times the mean of all is one: unequal thicknesses make the mean lean to the thinner."""
_THIN = 0.25
"""Thickness over width, up to which a flat section with sloping narrow sides is a bevelled plate."""
_END_MM = 0.5
"""Facets that stray by less along an axis lie square across it."""
_TAPER_MM = 0.5
"""Ends that differ by less are none of a taper."""
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
        refuse_outline(whole.loops, self._tolerance)


def refuse_block(section: Section, length: float) -> None:
    """Raises Refused where a bar of no known shape is shorter than it is deep: a plate tapered in its thickness."""
    deep = max(section.h, section.b)
    if length < deep - COINCIDENCE_MM:
        raise Refused("block", f"{section.h:.0f}", f"{section.b:.0f}", f"{length:.0f}")


def refuse_taper(mesh: Mesh, grain: float) -> None:
    """Raises Refused where a body grows or shrinks evenly between two flat ends, by more than its ``grain`` makes (mm).

    The axis square to most of a taper's facets leans, so its ends are looked for themselves.
    """
    least, flat = max(_TAPER_MM, 4 * grain), max(_END_MM, 1.5 * grain)
    for axis in directions(mesh, 12):
        place = mesh.points @ axis
        low, high = float(place.min()), float(place.max())
        at_ends = [np.abs(place[mesh.ring_points] - at) < flat for at in (low, high)]
        ended = all(np.logical_and.reduceat(there, mesh.starts).any() for there in at_ends)
        if high - low < 1.0 or not ended:
            continue
        across = _square_axes(axis)
        stations = [low + (high - low) * share for share in (0.1, 0.3, 0.5, 0.7, 0.9)]
        slices = cuts(mesh, axis, across, stations)
        if any(len(s.outers) != 1 for s in slices):
            continue
        areas = np.array([s.area for s in slices])
        boxes = np.array([_box(s) for s in slices])
        if float((boxes[:, 2:] - boxes[:, :2]).max()) > high - low:
            continue  # a plate seen on its broad side: its edges are bevelled
        steps = np.diff(areas)
        if not (bool((steps > 0).all()) or bool((steps < 0).all())) or float(np.ptp(areas)) < 0.01 * areas.max():
            continue
        # from end to end, by the slope between the outer stations
        grown = float(np.ptp(boxes[:, 2:] - boxes[:, :2], axis=0).max()) / 0.8
        if grown > least and _linear(np.array(stations), boxes):
            # widths that change evenly make areas a parabola, known at its ends
            curve = np.polyfit(np.array(stations) - low, areas, 2)
            ends = sorted(max(float(np.polyval(curve, at)), 0.0) for at in (0.0, high - low))
            raise Refused("tapered", f"{ends[0]:.0f}", f"{ends[1]:.0f}")


def _square_axes(axis: FloatArray) -> FloatArray:
    """Two directions (2, 3) square to the axis and to each other, axis = first x second."""
    first = np.cross(axis, np.eye(3)[int(np.abs(axis).argmin())])
    first = first / np.linalg.norm(first)
    return np.array([first, np.cross(axis, first)])


def _box(s: Slice) -> FloatArray:
    points = np.concatenate(s.loops)
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def refuse_outline(loops: Sequence[FloatArray], tolerance: float) -> None:
    """Raises Refused where a section, its outline first, is one that is held: a coarse round, bent, opened, rolled."""
    _refuse_coarse(loops, tolerance)
    if len(loops) == 1:
        outline = tidy(loops[0], tolerance)
        _refuse_bevelled(outline, tolerance)
        refuse_bent(outline, tolerance)


def _refuse_bevelled(loop: FloatArray, tolerance: float) -> None:
    """Raises Refused where a section is a flat one whose narrow sides slope: a plate with bevelled edges."""
    sides = after_each(loop) - loop
    sizes = np.hypot(*sides.T)
    long, next_long = (int(i) for i in np.argsort(-sizes, kind="stable")[:2])
    along = sides[long] / sizes[long]
    if abs(float(along @ sides[next_long])) < sizes[next_long] * (1 - 1e-6) or not _convex(sides):
        return
    away = (loop - loop[long]) @ np.array([-along[1], along[0]])
    gap = float(abs(away[next_long]))
    if gap <= _THIN * sizes[next_long] and float(np.abs(away).max()) <= gap + tolerance:
        raise Refused("bevel")


def _convex(sides: FloatArray) -> bool:
    return bool((_turn(before_each(sides), sides) > 0).all())


def _refuse_coarse(outlines: Sequence[FloatArray], tolerance: float) -> None:
    """Raises Refused where outline and hollow are even polygons of 8 to 11 sides: drawn for a round, or not."""
    for loop in outlines:
        points = tidy(loop, tolerance)
        sides = np.hypot(*(after_each(points) - points).T)
        if not LEAST_SIDES <= len(points) < 12 or float(np.ptp(sides)) > 2 * tolerance:
            return
        if fit_circle(points)[3] > tolerance:
            return
    raise Refused("coarse", len(tidy(outlines[0], tolerance)))


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
    sides = after_each(loop) - loop
    sizes = np.hypot(*sides.T)
    perimeter = float(sizes.sum())
    x, y = (loop - loop[0]).T
    area = abs(float((x * after_each(y) - after_each(x) * y).sum())) / 2
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
            if gap < _THICKEST * thin and overlap > 1.5 * thin:
                start = max(share[0], 0.0) + overlap / 2
                middle = loop[i] + start * along + gap / 2 * np.array([-along[1], along[0]])
                legs.append(_Leg(along, middle, gap, overlap))
    if len(legs) < 2 or sum(2 * leg.overlap for leg in legs) < 0.55 * perimeter:
        _refuse_rolled(loop, sizes, thin, tolerance)
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


def _refuse_rolled(loop: FloatArray, sizes: FloatArray, thick: float, tolerance: float) -> None:
    """Raises Refused where an outline of many short sides is a strip: two ends, and one thickness between its sides."""
    ends = np.flatnonzero(_is_end(loop, sizes, thick))
    if len(ends) != 2:
        return
    from shapely import LineString, Point

    first, second = ends.tolist()
    count = len(loop)
    one = loop[first + 1 : second + 1]
    other = np.concatenate([loop[second + 1 :], loop[: first + 1]])
    if min(len(one), len(other)) < 3 or count < 8:
        return
    gap = (float(sizes[first]) + float(sizes[second])) / 2
    slack = 0.03 * gap + 2 * tolerance
    for side, line in ((one, LineString(other)), (other, LineString(one))):
        if any(abs(line.distance(Point(p)) - gap) > slack for p in side.tolist()):
            return
    steps = np.diff(one, axis=0)
    turns = np.degrees(np.abs(np.arctan2(_turn(steps[:-1], steps[1:]), (steps[:-1] * steps[1:]).sum(axis=1))))
    words = f"{gap:.1f}".removesuffix(".0")
    sharp = int((turns > _BEND_DEG).sum())
    raise Refused("bent", words, sharp + 1) if sharp else Refused("rolled", words)


def _ends(loop: FloatArray, sizes: FloatArray, thick: float) -> int:
    """How many sides of a strip's outline are its ends."""
    return int(_is_end(loop, sizes, thick).sum())


def _is_end(loop: FloatArray, sizes: FloatArray, thick: float) -> npt.NDArray[np.bool_]:
    """Which sides of a strip's outline are ends: as long as it is thick, with two square corners out."""
    sides = after_each(loop) - loop
    before = before_each(sides)
    square = _turn(before, sides) > 0.9 * np.hypot(*before.T) * np.hypot(*sides.T)
    return np.asarray(np.isclose(sizes, thick, rtol=0.1) & square & after_each(square))


def _turn(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _opening(a: _Leg, b: _Leg) -> float:
    """Degrees between two legs, seen from where their middle lines meet."""
    meet = np.linalg.lstsq(np.column_stack([a.along, -b.along]), b.middle - a.middle, rcond=None)[0]
    corner = a.middle + meet[0] * a.along
    one, two = a.middle - corner, b.middle - corner
    cos = float(one @ two) / max(float(np.hypot(*one) * np.hypot(*two)), 1e-9)
    return math.degrees(math.acos(max(-1.0, min(1.0, cos))))
