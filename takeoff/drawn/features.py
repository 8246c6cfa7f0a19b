"""Holes and notches of a bar: what the facets mean that neither run along it nor end it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from takeoff.drawn.holes import BOTTOM, SQUARE, Feature, check_apart, in_tube, in_walls
from takeoff.drawn.mesh import IntArray
from takeoff.drawn.notches import missing
from takeoff.drawn.oddities import Diagnosis
from takeoff.drawn.patches import boundary, points_of
from takeoff.drawn.results import Refused
from takeoff.outlines import clip
from takeoff.sections import loops
from takeoff.sections.loops import after_each
from takeoff.sections.shapes import faces
from takeoff.steel import CHS, ROUND, DrawnHole, Face, FloatArray, Notch, Plane, Point2

if TYPE_CHECKING:
    from takeoff.drawn.bars import Bar


def read(
    bar: Bar, parts: list[IntArray], planes: tuple[Plane, ...], diagnosis: Diagnosis
) -> tuple[tuple[DrawnHole, ...], tuple[Notch, ...]]:
    """The holes and notches that ``parts`` (facet numbers) draw; raises Refused for a part that is neither."""
    walls = faces(bar.section)
    if parts and not walls:
        diagnosis.refuse_changes()
        raise Refused("odd-holes", bar.section.designation)
    holes: list[DrawnHole] = []
    rest: list[Feature] = []
    round_ = bar.section.shape in (CHS, ROUND)
    for part in parts:
        numbers = points_of(bar.mesh, part)
        feature = Feature(part, bar.points[numbers], bar.normals[part], bar.mesh.areas[part])
        found = in_tube(bar, feature, walls[0]) if round_ else in_walls(bar, feature, walls)
        if found is None:
            rest.append(feature)
        else:
            holes.append(found)
    notches: tuple[Notch, ...] = ()
    if rest:
        if round_:
            diagnosis.refuse_changes()
            raise Refused("shaped-end")
        notches = _notches(bar, rest, walls, planes, diagnosis)
    if not round_:
        check_apart(bar, holes, walls, planes)
    order = {face.name: k for k, face in enumerate(walls)}
    holes.sort(key=lambda h: (order[h.face], round(h.x, 2), round(h.across, 2), h.diameter))
    return tuple(holes), notches


# ---------------------------------------------------------------- notches


def _notches(
    bar: Bar, parts: list[Feature], walls: tuple[Face, ...], planes: tuple[Plane, ...], diagnosis: Diagnosis
) -> tuple[Notch, ...]:
    """Notches that explain every facet of the features; raises Refused where one is not explained."""
    found: dict[str, list[tuple[Point2, ...]]] = {}
    for wall in walls:
        patches = _missing(bar, wall, planes)
        if patches:
            found[wall.name] = patches
    for feature in parts:
        for k, facet in enumerate(feature.facets.tolist()):
            if not _explained(bar, facet, feature.normals[k], walls, found):
                _refuse(bar, facet, feature, walls, diagnosis)
    notches = []
    for wall in walls:
        notches += [Notch(wall.name, loop) for loop in found.get(wall.name, [])]
    if not notches:
        diagnosis.refuse_feature(parts[0].x)
    return tuple(notches)


def _missing(bar: Bar, wall: Face, planes: tuple[Plane, ...]) -> list[tuple[Point2, ...]]:
    """Loops of steel that the outside of a wall lacks, in (x, across)."""
    from shapely import Polygon, union_all

    sides, low, high = _outside(bar, wall)
    mask = np.isin(bar.side, sides)
    if not mask.any():
        return []
    direction = np.array([0.0, *wall.direction])
    flat = np.column_stack([bar.points[:, 0], (bar.points - np.array([0.0, *wall.origin])) @ direction])
    solid = []
    for loop in boundary(bar.mesh, mask):
        shape = Polygon(flat[loop])
        outline = np.cross(direction, [0.0, *wall.inward])[0] < 0
        x, y = (flat[loop] - flat[loop][0]).T
        area = float((x * after_each(y) - after_each(x) * y).sum()) / 2
        if (area > 0) == outline:
            solid.append(shape if shape.is_valid else shape.buffer(0))
    full: list[Point2] = [(0.0, low), (bar.length, low), (bar.length, high), (0.0, high)]
    for plane in planes:
        full = clip(full, wall, plane, False)
    if len(full) < 3:
        return []
    gone = missing(full, union_all(solid), 2 * bar.tolerance)
    return [_stretched(loop, low, high, wall, bar.tolerance) for loop in gone]


def _outside(bar: Bar, wall: Face) -> tuple[IntArray, float, float]:
    """The sides of the section that lie on a wall's outside, and the band of ``across`` they cover."""
    edges = [edge for piece in bar.pieces for edge in loops.edges(piece)]
    starts, ends = np.array([a[:2] for a, _ in edges]), np.array([b[:2] for _, b in edges])
    straight = np.array([not a[2] for a, _ in edges])
    origin, inward, direction = (np.array(v) for v in (wall.origin, wall.inward, wall.direction))
    limit = 2 * bar.tolerance
    on = (np.abs((starts - origin) @ inward) < limit) & (np.abs((ends - origin) @ inward) < limit)
    long = np.hypot(*(ends - starts).T) > 4 * bar.tolerance
    chosen = np.flatnonzero(on & long & straight)
    if not len(chosen):
        return chosen, wall.low, wall.high
    places = np.concatenate([(starts[chosen] - origin) @ direction, (ends[chosen] - origin) @ direction])
    return chosen, float(places.min()), float(places.max())


def _stretched(loop: tuple[Point2, ...], low: float, high: float, wall: Face, tolerance: float) -> tuple[Point2, ...]:
    """A notch that reaches the edge of a wall's flat part goes on over its rounded corner."""
    out = []
    for x, across in loop:
        if across < low + 2 * tolerance:
            across = wall.low
        elif across > high - 2 * tolerance:
            across = wall.high
        out.append((x, across))
    return tuple(out)


def _explained(
    bar: Bar, facet: int, normal: FloatArray, walls: tuple[Face, ...], found: dict[str, list[tuple[Point2, ...]]]
) -> bool:
    """Whether each corner of a facet stands square to a wall on the edge of one of its notches.

    A facet across several walls (a cope through web and flange) has its corners on the notches of each.
    """
    from shapely import LinearRing, Point

    corners = bar.points[points_of(bar.mesh, np.array([facet]))]
    good = np.zeros(len(corners), dtype=bool)
    for wall in walls:
        loops_ = found.get(wall.name, [])
        if not loops_ or abs(float(normal @ np.array([0.0, *wall.inward]))) > SQUARE:
            continue
        across = (corners - np.array([0.0, *wall.origin])) @ np.array([0.0, *wall.direction])
        depth = (corners - np.array([0.0, *wall.origin])) @ np.array([0.0, *wall.inward])
        # the roundings beside a wall go with it
        more = bar.section.r1 + 3 * bar.tolerance
        reach = wall.thickness + more + bar.section.slope * bar.section.b
        for k in np.flatnonzero(~good & (depth >= -more) & (depth <= reach)):
            spot = Point(corners[k, 0], across[k])
            good[k] = any(LinearRing(loop).distance(spot) <= 4 * bar.tolerance for loop in loops_)
    return bool(good.all())


def _refuse(bar: Bar, facet: int, feature: Feature, walls: tuple[Face, ...], diagnosis: Diagnosis) -> None:
    diagnosis.refuse_changes()
    normal = bar.normals[facet]
    for wall in walls:
        if abs(float(normal @ np.array([0.0, *wall.inward]))) > BOTTOM:
            raise Refused("recess", f"face {wall.name}", f"{feature.x:.0f}")
    diagnosis.refuse_feature(feature.x)
