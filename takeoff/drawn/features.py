"""Holes and notches of a bar: what the facets mean that neither run along it nor end it.

Vocabulary: feature (such facets that touch), wall (a face of the section that can be punched), mouth
(where a hole meets the outside of its wall), depth (from the outside of the wall inward).

A hole's facets stand square to its wall all round; its shape is that of its points seen along the hole, so
that a hole which runs into a root radius is read like any other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from takeoff.drawn import curves
from takeoff.drawn.hulls import convex, off_hull
from takeoff.drawn.mesh import IntArray
from takeoff.drawn.notches import missing
from takeoff.drawn.oddities import Diagnosis
from takeoff.drawn.patches import Mask, boundary, points_of
from takeoff.drawn.results import Refused
from takeoff.outlines import clip
from takeoff.sections import loops
from takeoff.sections.measures import snap
from takeoff.sections.shapes import faces
from takeoff.sections.voids import Void
from takeoff.steel import CHS, ROUND, DrawnHole, Face, FloatArray, Notch, Plane, Point2

if TYPE_CHECKING:
    from takeoff.drawn.bars import Bar

_SQUARE: Final = 0.02
_BOTTOM: Final = 0.999
_RADIAL_MM: Final = 0.5
"""A hole in a tube aims at the tube's middle to this."""


@dataclass(frozen=True, slots=True, eq=False)
class _Feature:
    """Facets that touch: their numbers, their points (n, 3) and normals (m, 3) in the piece axes, their areas (m,)."""

    facets: IntArray
    points: FloatArray
    normals: FloatArray
    areas: FloatArray

    @property
    def x(self) -> float:
        return float(self.points[:, 0].mean())


def read(
    bar: Bar, parts: list[IntArray], planes: tuple[Plane, ...], diagnosis: Diagnosis
) -> tuple[tuple[DrawnHole, ...], tuple[Notch, ...]]:
    """The holes and notches that ``parts`` (facet numbers) draw; raises Refused for a part that is neither."""
    walls = faces(bar.section)
    if parts and not walls:
        diagnosis.refuse_changes()
        raise Refused("odd-holes", bar.section.designation)
    holes: list[DrawnHole] = []
    rest: list[_Feature] = []
    round_ = bar.section.shape in (CHS, ROUND)
    for part in parts:
        numbers = points_of(bar.mesh, part)
        feature = _Feature(part, bar.points[numbers], bar.normals[part], bar.mesh.areas[part])
        found = _in_tube(bar, feature, walls[0]) if round_ else _in_walls(bar, feature, walls)
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
    order = {face.name: k for k, face in enumerate(walls)}
    holes.sort(key=lambda h: (order[h.face], round(h.x, 2), round(h.across, 2), h.diameter))
    return tuple(holes), notches


# ---------------------------------------------------------------- holes in flat walls


def _in_walls(bar: Bar, feature: _Feature, walls: tuple[Face, ...]) -> DrawnHole | None:
    """The hole of a wall that a feature draws; None where it is no hole."""
    for wall in walls:
        inward = np.array([0.0, *wall.inward])
        direction = np.array([0.0, *wall.direction])
        depth = (feature.points - np.array([0.0, *wall.origin])) @ inward
        across = (feature.points - np.array([0.0, *wall.origin])) @ direction
        if float(depth.min()) < -2 * bar.tolerance or not _touches(depth, bar.tolerance):
            continue
        if across.min() < wall.low - bar.tolerance or across.max() > wall.high + bar.tolerance:
            continue
        lean = np.abs(feature.normals @ inward)
        if not _mostly(feature, lean):
            continue
        seen = np.column_stack([feature.points[:, 0], across])
        found = _hole(bar, feature, wall, seen, depth, lean)
        if found is not None:
            return found
    return None


def _touches(depth: FloatArray, tolerance: float) -> bool:
    return int((np.abs(depth) <= 2 * tolerance).sum()) >= 3


def _mostly(feature: _Feature, lean: FloatArray) -> bool:
    """Whether some of the feature stands square to the wall, or it is a cone all through."""
    return bool((lean < 0.9).any())


def _hole(
    bar: Bar, feature: _Feature, wall: Face, seen: FloatArray, depth: FloatArray, lean: FloatArray
) -> DrawnHole | None:
    upright = lean < _SQUARE
    spot = f"{feature.x:.0f}"
    mouth_points = seen[np.abs(depth) <= 2 * bar.tolerance]
    if upright.all():
        loop = convex(seen)
        if not _closed(bar, feature, wall, loop):
            return None
        void = curves.shape_of(loop, bar.tolerance) if off_hull(seen, loop) <= 2 * bar.tolerance else None
        if void is None:
            raise Refused("odd-hole", f"face {wall.name}", spot)
        return _drawn(void, wall.name, void.kind)
    mouth = convex(mouth_points)
    void = curves.shape_of(mouth, bar.tolerance) if len(mouth) > 2 else None
    if void is not None and void.kind != "round" and _walled(bar, feature, wall, mouth, upright):
        raise Refused("recess", f"face {wall.name}", spot)
    if len(mouth) < 3 or not _closed_round(feature, wall):
        return None
    bottom = lean > _BOTTOM
    cone = ~upright & ~bottom
    if void is None or void.kind != "round" or (bottom.any() and cone.any()) or not _one_cone(lean[cone]):
        raise Refused("recess", f"face {wall.name}", spot)
    if bottom.any():
        if not _one_level(bar, feature, bottom, wall):
            raise Refused("recess", f"face {wall.name}", spot)
        return _drawn(void, wall.name, "blind", depth=round(float(depth.max()), 4))
    inner = convex(seen[depth > float(depth.max()) - 2 * bar.tolerance])
    throat = curves.shape_of(inner, bar.tolerance) if len(inner) > 2 else None
    if throat is None or throat.kind != "round":
        raise Refused("recess", f"face {wall.name}", spot)
    if throat.diameter > void.diameter:
        raise Refused("inner-countersink", f"face {wall.name}", spot)
    return _drawn(throat, wall.name, "countersunk", outer=void.diameter)


def _closed(bar: Bar, feature: _Feature, wall: Face, loop: FloatArray) -> bool:
    """Whether facets stand along every side of the loop and face its middle: a hole, not a notch or a boss."""
    if len(loop) < 4:
        return False
    direction = np.array([0.0, *wall.direction])
    facing = np.column_stack([feature.normals[:, 0], feature.normals @ direction])
    sides = np.roll(loop, -1, axis=0) - loop
    inward = np.column_stack([-sides[:, 1], sides[:, 0]]) / np.hypot(*sides.T)[:, None]
    on_side = (facing @ inward.T > 0.99).any(axis=1)
    everything = np.ones(len(facing), dtype=bool)
    return _walled(bar, feature, wall, loop, everything) and bool(on_side[feature.areas > 1.0].all())


def _one_cone(lean: FloatArray) -> bool:
    """Whether facets lean alike: a sphere's do not."""
    return len(lean) == 0 or float(np.ptp(lean)) < 0.05


def _walled(bar: Bar, feature: _Feature, wall: Face, loop: FloatArray, upright: Mask) -> bool:
    """Whether upright facets stand along every side of a loop."""
    direction = np.array([0.0, *wall.direction])
    facing = np.column_stack([feature.normals[upright, 0], feature.normals[upright] @ direction])
    sides = np.roll(loop, -1, axis=0) - loop
    sizes = np.hypot(*sides.T)
    inward = np.column_stack([-sides[:, 1], sides[:, 0]]) / sizes[:, None]
    return bool((facing @ inward.T > 0.99).any(axis=0)[sizes > 4 * bar.tolerance].all())


def _closed_round(feature: _Feature, wall: Face) -> bool:
    """Whether the facets of a cone or blind hole face its middle from all round."""
    direction = np.array([0.0, *wall.direction])
    facing = np.column_stack([feature.normals[:, 0], feature.normals @ direction])
    size = np.hypot(*facing.T)
    angles = np.sort(np.arctan2(facing[size > 0.1, 1], facing[size > 0.1, 0]))
    if len(angles) < 6:
        return False
    gaps = np.diff(np.append(angles, angles[0] + 2 * math.pi))
    return bool(gaps.max() < math.radians(65.0))


def _one_level(bar: Bar, feature: _Feature, bottom: Mask, wall: Face) -> bool:
    inward = np.array([0.0, *wall.inward])
    depths = []
    for facet in feature.facets[bottom].tolist():
        corners = bar.points[points_of(bar.mesh, np.array([facet]))]
        depths += ((corners - np.array([0.0, *wall.origin])) @ inward).tolist()
    return bool(max(depths) - min(depths) <= 2 * bar.tolerance)


def _drawn(void: Void, face: str, kind: str, depth: float = math.inf, outer: float = 0.0) -> DrawnHole:
    angle = 0.0 if void.slot_angle > 180 - 1e-4 or void.slot_angle < 1e-4 else round(void.slot_angle, 4)
    return DrawnHole(
        face,
        round(void.x, 4) + 0.0,
        round(void.y, 4) + 0.0,
        snap(void.diameter),
        snap(void.slot_length),
        angle,
        snap(void.width or outer),
        kind,
        depth,
        "solid",
    )


# ---------------------------------------------------------------- holes in tubes and rounds


def _in_tube(bar: Bar, feature: _Feature, wall: Face) -> DrawnHole | None:
    """The hole in a tube's wall, or through a round, that a feature draws; None where it is none."""
    weighted = np.einsum("i,ij,ik->jk", feature.areas, feature.normals, feature.normals)
    _, vectors = np.linalg.eigh(weighted)
    along = vectors[:, 0]
    if (np.abs(feature.normals @ along) > _SQUARE).any() or abs(along[0]) > 0.9:
        return None
    if abs(along[0]) > _SQUARE:
        raise Refused("askew-hole", f"{feature.x:.0f}", f"{math.degrees(math.asin(abs(along[0]))):.0f}")
    along = np.array([0.0, along[1], along[2]]) / math.hypot(along[1], along[2])
    radius = bar.section.h / 2
    places = feature.points @ along
    if bar.section.shape == CHS:
        if float(places.max()) > 0 > float(places.min()):
            return None
        inward = along if float(places.mean()) < 0 else -along
        turn = _turn(inward)
    else:
        turn, inward = min(((_turn(d), d) for d in (along, -along)), key=lambda pair: round(pair[0], 6))
    direction = np.array([0.0, math.sin(turn), math.cos(turn)])
    seen = np.column_stack([feature.points[:, 0], feature.points @ direction])
    loop = convex(seen)
    face = Face(
        "wall", (0.0, 0.0), (float(direction[1]), float(direction[2])), wall.inward, wall.thickness, -radius, radius
    )
    if not _closed(bar, feature, face, loop) or off_hull(seen, loop) > 2 * bar.tolerance:
        return None
    void = curves.shape_of(loop, bar.tolerance)
    if void is None:
        raise Refused("odd-hole", "its wall", f"{feature.x:.0f}")
    if abs(void.y) > _RADIAL_MM:
        raise Refused("feature", f"{feature.x:.0f}")
    across = radius * (turn + math.asin(max(-1.0, min(1.0, void.y / radius))))
    placed = Void(void.x, across, void.diameter, void.slot_length, void.slot_angle, void.width, void.kind)
    return _drawn(placed, "wall", void.kind)


def _turn(inward: FloatArray) -> float:
    """Radians round the tube from the point nearest to the viewer to where a hole comes in."""
    turn = math.atan2(-float(inward[2]), float(inward[1])) % (2 * math.pi)
    return 0.0 if turn > 2 * math.pi - 1e-9 else turn


# ---------------------------------------------------------------- notches


def _notches(
    bar: Bar, parts: list[_Feature], walls: tuple[Face, ...], planes: tuple[Plane, ...], diagnosis: Diagnosis
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
        area = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2
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
        if not loops_ or abs(float(normal @ np.array([0.0, *wall.inward]))) > _SQUARE:
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


def _refuse(bar: Bar, facet: int, feature: _Feature, walls: tuple[Face, ...], diagnosis: Diagnosis) -> None:
    diagnosis.refuse_changes()
    normal = bar.normals[facet]
    for wall in walls:
        if abs(float(normal @ np.array([0.0, *wall.inward]))) > _BOTTOM:
            raise Refused("recess", f"face {wall.name}", f"{feature.x:.0f}")
    diagnosis.refuse_feature(feature.x)
