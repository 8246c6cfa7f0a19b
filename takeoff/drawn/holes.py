"""Holes of a bar, in flat walls and in the walls of tubes.

Vocabulary: feature (facets that touch and neither run along the bar nor end it), wall (a face of the section
that can be punched), mouth (where a hole meets the outside of its wall), depth (from the outside of the
wall inward), upright (square to the wall).

A hole's facets stand upright all round; its shape is that of its points seen along the hole, so that a hole
which runs into a root radius is read like any other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from takeoff.drawn import curves
from takeoff.drawn.hulls import convex, off_hull
from takeoff.drawn.mesh import IntArray
from takeoff.drawn.patches import Mask, points_of
from takeoff.drawn.results import Refused
from takeoff.outlines import clip
from takeoff.sections.loops import after_each
from takeoff.sections.measures import snap
from takeoff.sections.voids import Void
from takeoff.steel import CHS, DrawnHole, Face, FloatArray, Plane, Point2

if TYPE_CHECKING:
    from takeoff.drawn.bars import Bar

SQUARE: Final = 0.02
BOTTOM: Final = 0.999
_TILT_DEG: Final = 1.0
_RADIAL_MM: Final = 0.5
"""A hole in a tube aims at the tube's middle to this."""


@dataclass(frozen=True, slots=True, eq=False)
class Feature:
    """Facets that touch: their numbers, their points (n, 3) and normals (m, 3) in the piece axes, their areas (m,)."""

    facets: IntArray
    points: FloatArray
    normals: FloatArray
    areas: FloatArray

    @property
    def x(self) -> float:
        return float(self.points[:, 0].mean())


# ---------------------------------------------------------------- holes in flat walls


def in_walls(bar: Bar, feature: Feature, walls: tuple[Face, ...]) -> DrawnHole | None:
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


def _mostly(feature: Feature, lean: FloatArray) -> bool:
    """Whether some of the feature stands square to the wall, or it is a cone all through."""
    return bool((lean < 0.9).any())


def _hole(
    bar: Bar, feature: Feature, wall: Face, seen: FloatArray, depth: FloatArray, lean: FloatArray
) -> DrawnHole | None:
    upright = lean < SQUARE
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
    tilt = _tilt(feature, wall)
    if tilt is not None:
        raise Refused("askew-hole", spot, f"{tilt:.0f}")
    mouth = convex(mouth_points)
    void = curves.shape_of(mouth, bar.tolerance) if len(mouth) > 2 else None
    if void is not None and void.kind != "round" and _walled(bar, feature, wall, mouth, upright):
        raise Refused("recess", f"face {wall.name}", spot)
    if len(mouth) < 3 or not _closed_round(feature, wall):
        return None
    bottom = lean > BOTTOM
    cone = ~upright & ~bottom
    if void is None or void.kind != "round" or (bottom.any() and cone.any()) or not _one_cone(lean[cone]):
        raise Refused("recess", f"face {wall.name}", spot)
    if bottom.any():
        if not _one_level(bar, feature, bottom, wall):
            raise Refused("recess", f"face {wall.name}", spot)
        deep = float(depth.max())
        if deep >= wall.thickness - 2 * bar.tolerance:
            # through the wall, ending in the root radius behind it
            return _drawn(void, wall.name, "round")
        return _drawn(void, wall.name, "blind", depth=round(deep, 4))
    inner = convex(seen[depth > float(depth.max()) - 2 * bar.tolerance])
    throat = curves.shape_of(inner, bar.tolerance) if len(inner) > 2 else None
    if throat is None or throat.kind != "round" or abs(throat.diameter - void.diameter) <= 2 * bar.tolerance:
        raise Refused("recess", f"face {wall.name}", spot)
    if throat.diameter > void.diameter:
        raise Refused("inner-countersink", f"face {wall.name}", spot)
    return _drawn(throat, wall.name, "countersunk", outer=void.diameter)


def _closed(bar: Bar, feature: Feature, wall: Face, loop: FloatArray) -> bool:
    """Whether facets stand along every side of the loop and face its middle: a hole, not a notch or a boss."""
    if len(loop) < 4:
        return False
    direction = np.array([0.0, *wall.direction])
    facing = np.column_stack([feature.normals[:, 0], feature.normals @ direction])
    sides = after_each(loop) - loop
    inward = np.column_stack([-sides[:, 1], sides[:, 0]]) / np.hypot(*sides.T)[:, None]
    on_side = (facing @ inward.T > 0.99).any(axis=1)
    everything = np.ones(len(facing), dtype=bool)
    return _walled(bar, feature, wall, loop, everything) and bool(on_side[feature.areas > 1.0].all())


def _tilt(feature: Feature, wall: Face) -> float | None:
    """Degrees from square of a hole whose facets all stand along one askew direction; None where they do not."""
    weighted = np.einsum("i,ij,ik->jk", feature.areas, feature.normals, feature.normals)
    values, vectors = np.linalg.eigh(weighted)
    along = vectors[:, 0]
    if (np.abs(feature.normals @ along) > SQUARE).any() or values[1] < 0.2 * values[2]:
        return None
    square = abs(float(along @ np.array([0.0, *wall.inward])))
    tilt = math.degrees(math.acos(min(1.0, square)))
    return tilt if _TILT_DEG < tilt < 60.0 else None


def _one_cone(lean: FloatArray) -> bool:
    """Whether facets lean alike: a sphere's do not."""
    return len(lean) == 0 or float(np.ptp(lean)) < 0.05


def _walled(bar: Bar, feature: Feature, wall: Face, loop: FloatArray, upright: Mask) -> bool:
    """Whether upright facets stand along every side of a loop."""
    direction = np.array([0.0, *wall.direction])
    facing = np.column_stack([feature.normals[upright, 0], feature.normals[upright] @ direction])
    sides = after_each(loop) - loop
    sizes = np.hypot(*sides.T)
    inward = np.column_stack([-sides[:, 1], sides[:, 0]]) / sizes[:, None]
    return bool((facing @ inward.T > 0.99).any(axis=0)[sizes > 4 * bar.tolerance].all())


def _closed_round(feature: Feature, wall: Face) -> bool:
    """Whether the facets of a cone or blind hole face its middle from all round."""
    direction = np.array([0.0, *wall.direction])
    facing = np.column_stack([feature.normals[:, 0], feature.normals @ direction])
    size = np.hypot(*facing.T)
    angles = np.sort(np.arctan2(facing[size > 0.1, 1], facing[size > 0.1, 0]))
    if len(angles) < 6:
        return False
    gaps = np.diff(np.append(angles, angles[0] + 2 * math.pi))
    return bool(gaps.max() < math.radians(65.0))


def _one_level(bar: Bar, feature: Feature, bottom: Mask, wall: Face) -> bool:
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


def check_apart(bar: Bar, holes: list[DrawnHole], walls: tuple[Face, ...], planes: tuple[Plane, ...]) -> None:
    """Raises Refused where holes of a wall overlap or lie over its end: facets that cross."""
    from shapely import Polygon, box, union_all
    from shapely.affinity import rotate, translate

    for wall in walls:
        shapes_ = []
        for hole in holes:
            if hole.face == wall.name:
                long = max(hole.slot_length, hole.diameter) / 2
                short = (hole.width if hole.kind == "rectangle" else hole.diameter) / 2
                rest = 0.0 if hole.kind == "rectangle" else short
                core = box(-long + rest, -short + rest, long - rest, short - rest)
                shape = core.buffer(rest) if rest else core
                shapes_.append(translate(rotate(shape, hole.slot_angle, origin=(0, 0)), hole.x, hole.across))
        if not shapes_:
            continue
        joined = union_all(shapes_)
        full: list[Point2] = [(0.0, wall.low), (bar.length, wall.low), (bar.length, wall.high), (0.0, wall.high)]
        for plane in planes:
            full = clip(full, wall, plane, False)
        slack = 0.01 + bar.tolerance * sum(shape.length for shape in shapes_)
        apart = joined.area > sum(shape.area for shape in shapes_) - slack
        if not apart or not Polygon(full).buffer(2 * bar.tolerance).contains(joined):
            raise Refused("tangled")


# ---------------------------------------------------------------- holes in tubes and rounds


def in_tube(bar: Bar, feature: Feature, wall: Face) -> DrawnHole | None:
    """The hole in a tube's wall, or through a round, that a feature draws; None where it is none."""
    weighted = np.einsum("i,ij,ik->jk", feature.areas, feature.normals, feature.normals)
    _, vectors = np.linalg.eigh(weighted)
    along = vectors[:, 0]
    if (np.abs(feature.normals @ along) > SQUARE).any() or abs(along[0]) > 0.9:
        return None
    if abs(along[0]) > SQUARE:
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
