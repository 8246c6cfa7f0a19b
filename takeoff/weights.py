"""Weights and surface of a piece: gross, net and what zinc or paint covers.

Gross is the section's mass per metre times the overall length; a plate's section is its smallest
rectangle. Net takes off what is not there: the ends cut away, notches, a plate's outline, holes.

How the volumes are found
-------------------------
end cuts   The steel between the planes is the integral over the section of the length left at each
           point. Where every plane passes over the whole section and none meets another inside it, that
           is the area times the length at the centroid: exact. Otherwise the section is summed in cells
           of a hundredth of its width: within some 0.1 % of what is cut away.
notches    What a face's outline lacks against the rectangle cut by the planes, times the wall; each
           corner where two walls meet belongs to one of them. Root radii count with neither.
holes      Area times the wall of the face, square through it. A countersunk hole counts with its
           smaller diameter; a blind one as deep as it goes, and not at all where its depth is not known.

The surface is the lateral one of the overall length, ends, cuts and holes not deducted; a plate has the two
faces of its outline and the strip along its edge. The inside of a tube is not counted.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np

from takeoff import steel
from takeoff.outlines import flatten
from takeoff.sections import loops, shapes
from takeoff.steel import Face, FloatArray, Hole, Piece, Plane, Section
from takeoff.units import STEEL_DENSITY

_CELLS = 100
_NOISE_MM2 = 1.0
"""A face that lacks less than this against its rectangle has no notch."""


def gross(section: Section, length: float, density: float = STEEL_DENSITY) -> float:
    """Mass in kg of the bar that ``length`` mm of a section (or a plate's rectangle) is cut from.

    The table's mass per metre where the section has one, else its area times ``density`` in kg/m3.
    """
    if section.standard:
        return section.mass_kg_per_m * length * 1e-3
    return section.area_mm2 * length * density * 1e-9


def surface(section: Section, length: float) -> float:
    """Lateral surface in m2 of ``length`` mm of a section; of a plate, its rectangle's faces and edges."""
    if section.shape == steel.PLATE:
        return (2 * section.h * length + 2 * section.tw * (section.h + length)) * 1e-6
    return section.perimeter_mm * length * 1e-6


def weigh(
    piece: Piece,
    left: tuple[Plane, ...],
    right: tuple[Plane, ...],
    density: float = STEEL_DENSITY,
) -> tuple[float, float, float]:
    """Gross kg, net kg and surface m2 of one piece, ended by planes in its piece frame.

    ``density`` in kg/m3 is applied to what is taken off, and to gross where no table gives a mass per metre.
    """
    section, length = piece.section, piece.length
    whole = gross(section, length, density)
    covered = surface(section, length)
    if piece.outline:
        area, edge = _outline(piece)
        removed = max(section.h * length - area, 0.0) * section.tw
        if section.shape == steel.PLATE:
            covered = (2 * area + edge * section.tw) * 1e-6
    else:
        planes = left + right
        kept = kept_volume(section, length, planes)
        removed = section.area_mm2 * length - kept + _notches(piece, planes)
    removed += sum(_hole_volume(hole, piece.faces) for hole in piece.holes)
    net = min(max(whole - removed * density * 1e-9, 0.0), whole)
    return whole, net, covered


def kept_volume(section: Section, length: float, planes: tuple[Plane, ...]) -> float:
    """Volume in mm3 of a prism from x = 0 to ``length`` inside every plane."""
    lower, upper, sides = _bounds(planes, length)
    if not sides:
        rings = np.concatenate(shapes.rings(section))
        low, high = _values(lower, rings), _values(upper, rings)
        first, last = low.argmax(axis=0), high.argmin(axis=0)
        one_low = np.ptp(low.max(axis=0) - low[first[0]]) < 1e-9
        one_high = np.ptp(high.min(axis=0) - high[last[0]]) < 1e-9
        if one_low and one_high and np.all(high.min(axis=0) >= low.max(axis=0)):
            middle = np.array([_centroid(section)])
            begin = float(_values(lower, middle)[first[0], 0])
            end = float(_values(upper, middle)[last[0], 0])
            return section.area_mm2 * (end - begin)
    points, areas = _cells(section)
    begin, end = _values(lower, points).max(axis=0), _values(upper, points).min(axis=0)
    lengths = np.maximum(end - begin, 0.0)
    for normal_u, normal_v, limit in sides:
        lengths[points @ np.array([normal_u, normal_v]) > limit] = 0.0
    return float(np.sum(lengths * areas))


_Bound = tuple[float, float, float]


def _bounds(planes: Iterable[Plane], length: float) -> tuple[list[_Bound], list[_Bound], list[_Bound]]:
    """Lower and upper bounds of x as (constant, per u, per v), and planes along the piece (u, v, limit)."""
    lower: list[_Bound] = [(0.0, 0.0, 0.0)]
    upper: list[_Bound] = [(length, 0.0, 0.0)]
    sides: list[_Bound] = []
    for plane in planes:
        nx, nu, nv = plane.normal
        limit = sum(n * p for n, p in zip(plane.normal, plane.point, strict=True))
        if abs(nx) < 1e-9:
            sides.append((nu, nv, limit))
            continue
        (upper if nx > 0 else lower).append((limit / nx, -nu / nx, -nv / nx))
    return lower, upper, sides


def _values(bounds: Sequence[_Bound], points: FloatArray) -> FloatArray:
    """(number of bounds, number of points): each bound's x at each (u, v)."""
    table = np.array(bounds)
    return table[:, :1] + table[:, 1:] @ points.T


@lru_cache(maxsize=1024)
def _centroid(section: Section) -> tuple[float, float]:
    total = np.zeros(3)
    for ring in shapes.rings(section):
        u, v = ring.T
        u1, v1 = np.roll(u, -1), np.roll(v, -1)
        cross = u * v1 - u1 * v
        total += (cross.sum() / 2, ((u + u1) * cross).sum() / 6, ((v + v1) * cross).sum() / 6)
    return float(total[1] / total[0]), float(total[2] / total[0])


@lru_cache(maxsize=256)
def _cells(section: Section) -> tuple[FloatArray, FloatArray]:
    """Centres (n, 2) and areas (n,) of small cells that fill the section, scaled to its exact area."""
    rings = shapes.rings(section)
    u = np.concatenate([ring[:, 0] for ring in rings])
    breaks = np.unique(np.round(u, 6))
    points: list[FloatArray] = []
    areas: list[FloatArray] = []
    largest = max(section.h, section.b) / _CELLS
    for a, b in itertools.pairwise(breaks):
        count = max(1, math.ceil((b - a) / largest))
        for number in range(count):
            middle = a + (b - a) * (number + 0.5) / count
            crossings = np.sort(np.concatenate([_crossings(ring, middle) for ring in rings]))
            for low, high in zip(crossings[::2], crossings[1::2], strict=True):
                parts = max(2, math.ceil((high - low) / largest))
                v = low + (high - low) * (np.arange(parts) + 0.5) / parts
                points.append(np.column_stack([np.full(parts, middle), v]))
                areas.append(np.full(parts, (b - a) / count * (high - low) / parts))
    area = np.concatenate(areas)
    return np.concatenate(points), area * (section.area_mm2 / area.sum())


def _crossings(ring: FloatArray, u: float) -> FloatArray:
    below = ring[:, 0] < u
    hits = np.flatnonzero(below != np.roll(below, -1))
    start, end = ring[hits], ring[(hits + 1) % len(ring)]
    share = (u - start[:, 0]) / (end[:, 0] - start[:, 0])
    return np.asarray(start[:, 1] + share * (end[:, 1] - start[:, 1]), dtype=float)


# ---------------------------------------------------------------- outlines and notches


def _outline(piece: Piece) -> tuple[float, float]:
    """Area mm2 and edge length mm of a plate's outline, notches gone; with bevels the mean of both sides' areas."""
    loop = [(corner.x, corner.across, corner.bulge) for corner in piece.outline]
    area, edge = abs(loops.area(loop)), loops.length(loop)
    # Notches are in the drawn outline only, whose arcs are chords: the difference of two chord polygons is exact.
    whole = np.array(flatten(piece.outline))
    missing = _area(whole) - sum(_area(drawn.points) for drawn in piece.outlines)
    if piece.outlines and missing > _NOISE_MM2:
        area -= missing
        edge += sum(_girth(drawn.points) for drawn in piece.outlines) - _girth(whole)
    for drawn in piece.outlines:
        if drawn.far is not None:
            area = (area + _area(drawn.far)) / 2
    return area, edge


def _notches(piece: Piece, planes: tuple[Plane, ...]) -> float:
    """Volume in mm3 that the faces' outlines lack against the prism cut by the planes."""
    faces = {face.name: face for face in piece.faces}
    total = 0.0
    for drawn in piece.outlines:
        face = faces.get(drawn.face)
        # A plane cuts the developed wall of a tube along a curve, not along a straight line.
        if face is None or len(drawn.points) < 3 or (face.name == "wall" and planes):
            continue
        low, high = _own_band(piece.section, face)
        band = [(0.0, -1.0, -low), (0.0, 1.0, high)]
        full = np.array([(0.0, face.low), (piece.length, face.low), (piece.length, face.high), (0.0, face.high)])
        for plane in planes:
            full = _clip(full, *_trace(plane, face))
        there = np.asarray(drawn.points, dtype=float)
        for nx, na, limit in band:
            full, there = _clip(full, nx, na, limit), _clip(there, nx, na, limit)
        missing = _area(full) - _area(there)
        if missing > _NOISE_MM2:
            total += missing * face.thickness
    return total


def _own_band(section: Section, face: Face) -> tuple[float, float]:
    """The part of a face's width that no other wall owns too: webs lie between their flanges."""
    if section.shape == steel.ANGLE:
        return (section.tw, face.high) if face.name == "B" else (face.low, face.high)
    if section.shape == steel.RHS:
        between = (section.tw, face.high - section.tw)
        return between if face.name in ("top", "bottom") else (face.low, face.high)
    if face.name == "web":
        return section.tf2 or section.tf, section.h - section.tf
    if face.name == "stem":
        return section.tf, face.high
    return face.low, face.high


def _trace(plane: Plane, face: Face) -> tuple[float, float, float]:
    """The half-plane (per x, per across, limit) that a cut leaves of a face, on its outside."""
    nx, nu, nv = plane.normal
    along = nu * face.direction[0] + nv * face.direction[1]
    limit = nx * plane.point[0]
    limit += nu * (plane.point[1] - face.origin[0]) + nv * (plane.point[2] - face.origin[1])
    return nx, along, limit


def _clip(polygon: FloatArray, nx: float, na: float, limit: float) -> FloatArray:
    """The part of a polygon (n, 2) where nx x + na across <= limit."""
    if not len(polygon):
        return polygon
    height = polygon @ np.array([nx, na]) - limit
    kept: list[FloatArray] = []
    for index, point in enumerate(polygon):
        after = (index + 1) % len(polygon)
        if height[index] <= 0:
            kept.append(point)
        if (height[index] <= 0) != (height[after] <= 0):
            share = height[index] / (height[index] - height[after])
            kept.append(point + share * (polygon[after] - point))
    return np.array(kept).reshape(-1, 2)


def _area(polygon: FloatArray) -> float:
    if len(polygon) < 3:
        return 0.0
    x, y = (polygon - polygon[0]).T
    return abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))) / 2


def _girth(polygon: FloatArray) -> float:
    return float(np.hypot(*(np.roll(polygon, -1, axis=0) - polygon).T).sum())


# ---------------------------------------------------------------- holes


def hole_area(hole: Hole) -> float:
    """Area in mm2 of a hole: round, slot with round ends, or rectangle with corners of half its diameter."""
    d = hole.diameter
    if hole.kind == "rectangle":
        return hole.slot_length * hole.width - (1 - math.pi / 4) * d * d
    if hole.slot_length > d:
        return math.pi / 4 * d * d + (hole.slot_length - d) * d
    return math.pi / 4 * d * d


def _hole_volume(hole: Hole, faces: Sequence[Face]) -> float:
    if hole.kind == "blind":
        return hole_area(hole) * hole.depth
    return next((hole_area(hole) * face.thickness for face in faces if face.name == hole.face), 0.0)
