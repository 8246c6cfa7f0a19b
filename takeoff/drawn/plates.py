"""Flats and plates: bodies between two parallel broad sides.

Vocabulary: near (the side seen, on which countersinks open), far, edge (what joins the two
outlines), mouth (where a hole meets a broad side).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.drawn import curves
from takeoff.drawn.axis import directions, tidy
from takeoff.drawn.hulls import convex, off_hull
from takeoff.drawn.mesh import Mesh
from takeoff.drawn.patches import Mask, boundary, components, points_of
from takeoff.drawn.results import Refused
from takeoff.drawn.sizes import meant, slack_of
from takeoff.drawn.slices import signed_area
from takeoff.sections import loops, plates, shapes
from takeoff.sections.measures import snap
from takeoff.sections.recognise import recognise
from takeoff.sections.voids import Void
from takeoff.steel import FLAT, OTHER, Body, DrawnHole, FloatArray, Section, Vertex

IsFlat = Callable[[float, float, float], bool]
"""Whether a rectangle of width, thickness and length (mm) is a flat."""

_SQUARE: Final = 0.02
_LEVEL: Final = 0.999
_CONE: Final = 0.05
"""Facets of one cone lean alike within this."""


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """A broad side: its outline and mouths as loops of points (n, 2), seen from the near side, anti-clockwise."""

    outline: FloatArray
    mouths: list[FloatArray]
    net: float


def read_plate(mesh: Mesh, tolerance: float, is_flat: IsFlat) -> tuple[Body, FloatArray, FloatArray] | None:
    """The body, axes (3, 3) and origin (3,) where the mesh is a flat or plate; None where it is not one.

    Raises Refused where it is one with holes or edges that are not read.
    """
    for direction in directions(mesh, 3):
        found = _between(mesh, tidy(direction), tolerance, is_flat)
        if found is not None:
            return found
    return None


def _between(
    mesh: Mesh, normal: FloatArray, tolerance: float, is_flat: IsFlat
) -> tuple[Body, FloatArray, FloatArray] | None:
    height = mesh.points @ normal
    top, bottom = float(height.max()), float(height.min())
    facing = mesh.normals @ normal
    high = np.logical_and.reduceat(height[mesh.ring_points] > top - tolerance, mesh.starts) & (facing > 0.9)
    low = np.logical_and.reduceat(height[mesh.ring_points] < bottom + tolerance, mesh.starts) & (facing < -0.9)
    if not high.any() or not low.any():
        return None
    # the true height of a side is the mean of its points, not its highest one
    top = float(height[points_of(mesh, np.flatnonzero(high))].mean())
    bottom = float(height[points_of(mesh, np.flatnonzero(low))].mean())
    thick = top - bottom
    if thick <= tolerance:
        return None
    e1 = _square_to(mesh, normal)
    e2 = np.cross(normal, e1)
    flat = mesh.points @ np.array([e1, e2]).T
    if thick > 1.01 * float(np.hypot(*np.ptp(flat, axis=0))) + 1.0:
        return None  # a bar seen on its end: nothing that is drawn there is as wide as this is thick
    if _elsewhere(mesh, flat, high, low, tolerance):
        return None
    upper, lower = _side(mesh, high, flat), _side(mesh, low, flat)
    if upper is None or lower is None or not _same(upper.outline, lower.outline, tolerance):
        return None
    outline = curves.tidy(upper.outline, tolerance)
    if not _broad(outline, upper.mouths, thick, tolerance):
        return None
    holes, over = _holes(mesh, high, low, flat, height, (top, bottom), upper, tolerance)
    if over:
        # seen from the other side, so that countersinks open towards the viewer
        return _between(mesh, -normal, tolerance, is_flat)
    rectangle = plates.smallest_rectangle(curves.with_arcs(upper.outline, tolerance))
    (ox, oy), (c, s) = rectangle.origin, rectangle.x
    x, v = c * e1 + s * e2, c * e2 - s * e1
    axes = np.array([x, np.cross(v, x), v])
    origin = ox * e1 + oy * e2 + top * normal
    turn = math.degrees(math.atan2(s, c))
    placed = tuple(_placed(hole, rectangle, turn) for hole in holes)
    placed = tuple(sorted(placed, key=lambda h: (round(h.x, 2), round(h.across, 2))))
    _check_mouths(upper)
    _check_volume(mesh, upper, lower, thick, holes)
    thick, width, length = (meant(size, slack_of(tolerance)) for size in (thick, rectangle.width, rectangle.length))
    flat_bar = is_flat(width, thick, length)
    if _is_box(rectangle):
        section = shapes.flat(width, thick) if flat_bar else shapes.plate(width, thick)
        return Body(section, length, holes=placed), axes, origin
    if flat_bar:
        from takeoff.drawn.flats import as_flat

        found = as_flat(rectangle, width, thick, length, placed, tolerance)
        if found is not None:
            return found, axes, origin
    section = shapes.plate(width, thick)
    vertices = tuple(Vertex(_near(x), _near(y), round(bulge, 6)) for x, y, bulge in rectangle.outline)
    return Body(section, length, outline=vertices, holes=placed), axes, origin


def _elsewhere(mesh: Mesh, flat: FloatArray, high: Mask, low: Mask, tolerance: float) -> bool:
    """Whether two sides plainly have not the same outline, a quick look: their boxes differ."""
    boxes = []
    for mask in (high, low):
        corners = flat[points_of(mesh, np.flatnonzero(mask))]
        boxes.append(np.concatenate([corners.min(axis=0), corners.max(axis=0)]))
    return float(np.abs(boxes[0] - boxes[1]).max()) > 10 * tolerance + 0.1


def _near(value: float) -> float:
    return round(value, 4) + 0.0


def _square_to(mesh: Mesh, normal: FloatArray) -> FloatArray:
    """A direction in the plate's plane: that of the most edge area, so that sides come out square."""
    for direction in directions(mesh, 12):
        if abs(float(direction @ normal)) < _SQUARE:
            flat = direction - (direction @ normal) * normal
            return tidy(flat / np.linalg.norm(flat))
    spare = np.eye(3)[int(np.abs(normal).argmin())]
    flat = spare - (spare @ normal) * normal
    return np.asarray(flat / np.linalg.norm(flat))


def _side(mesh: Mesh, mask: Mask, flat: FloatArray) -> _Side | None:
    """A broad side's loops; None where it has several outlines."""
    found = [flat[loop] for loop in boundary(mesh, mask)]
    areas = [signed_area(loop) for loop in found]
    if not found:
        return None
    turn = 1.0 if sum(areas) > 0 else -1.0
    outlines = [loop for loop, area in zip(found, areas, strict=True) if area * turn > 0]
    mouths = [loop for loop, area in zip(found, areas, strict=True) if area * turn < 0]
    if len(outlines) != 1:
        return None
    outline = outlines[0] if turn > 0 else outlines[0][::-1]
    mouths = [loop if turn < 0 else loop[::-1] for loop in mouths]
    return _Side(outline, mouths, abs(sum(areas)))


def _same(a: FloatArray, b: FloatArray, tolerance: float) -> bool:
    """Whether two outlines are one: every corner of each lies on a corner of the other."""
    a, b = curves.tidy(a, tolerance), curves.tidy(b, tolerance)
    if len(a) != len(b):
        return False
    apart = np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1])
    return bool(max(apart.min(axis=0).max(), apart.min(axis=1).max()) <= 2 * tolerance)


def _broad(outline: FloatArray, mouths: list[FloatArray], thick: float, tolerance: float) -> bool:
    """Whether it is a plate seen on its broad side, not a bar seen on its end."""
    corners = [(float(x), float(y), 0.0) for x, y in outline]
    inners = [[(float(x), float(y), 0.0) for x, y in loop] for loop in mouths]
    found = recognise(corners, inners, tolerance)
    if found is None and mouths:
        found = recognise(corners, (), tolerance)
    if found is not None and found.section.shape not in (FLAT, OTHER):
        return thick < _wall(found.section)
    return thick <= plates.smallest_rectangle(corners).width + tolerance


def _wall(section: Section) -> float:
    """The least wall of a section: what is drawn shorter than this is cut from a plate."""
    walls = [t for t in (section.tw, section.tf, section.tf2) if t > 0]
    return min(walls) if walls else min(section.h, section.b)


def _is_box(rectangle: plates.Rectangle) -> bool:
    full = rectangle.length * rectangle.width
    straight = len(rectangle.outline) == 4 and not any(corner[2] for corner in rectangle.outline)
    return straight and abs(full - loops.area(rectangle.outline)) <= 1e-5 * full + 0.02 * rectangle.length


@dataclass(frozen=True, slots=True)
class _Hole:
    void: Void
    kind: str
    depth: float
    outer: float = 0.0


def _holes(
    mesh: Mesh,
    high: Mask,
    low: Mask,
    flat: FloatArray,
    height: FloatArray,
    levels: tuple[float, float],
    upper: _Side,
    tolerance: float,
) -> tuple[list[_Hole], bool]:
    """The holes, and whether the plate must be turned over to see their mouths. None where an edge is bevelled."""
    top, bottom = levels
    normal_up = mesh.normals @ _plane_normal(mesh, high)
    found: list[_Hole] = []
    near_only, far_only = 0, 0
    for part in components(mesh, ~(high | low)):
        own = points_of(mesh, part)
        at_top, at_bottom = own[height[own] > top - tolerance], own[height[own] < bottom + tolerance]
        lean = np.abs(normal_up[part])
        upright = bool((lean < _SQUARE).all())
        if len(at_top) and _on(upper.outline, flat[at_top]):
            if not upright:
                raise Refused("bevel")
            continue
        mouths = [convex(flat[points]) if len(points) > 2 else None for points in (at_top, at_bottom)]
        place = flat[own].mean(axis=0)
        voids = [None if m is None else curves.shape_of(m, tolerance) for m in mouths]
        bent_in = any(
            m is not None and off_hull(flat[points], m) > 2 * tolerance
            for m, points in zip(mouths, (at_top, at_bottom), strict=True)
        )
        spot = f"{place[0] - upper.outline[:, 0].min():.0f}"
        if bent_in or any(m is not None and v is None for m, v in zip(mouths, voids, strict=True)):
            raise Refused("odd-hole", "its broad side", spot)
        first, second = voids
        if upright and first is not None and second is not None:
            found.append(_Hole(first, first.kind, math.inf))
            continue
        if first is not None and second is not None:
            cone = lean[lean >= _SQUARE]
            # one cone, and no step
            sunk = first.kind == second.kind == "round" and abs(first.diameter - second.diameter) > 2 * tolerance
            if not sunk or float(np.ptp(cone)) > _CONE or cone.max() > _LEVEL:
                raise Refused("recess", "its broad side", spot)
            if first.diameter > second.diameter:
                near_only += 1
                found.append(_Hole(second, "countersunk", math.inf, first.diameter))
            else:
                far_only += 1
                found.append(_Hole(first, "countersunk", math.inf, second.diameter))
            continue
        one = first or second
        tip = lean[lean >= _SQUARE]
        # a flat bottom or a drill's tip under an upright wall
        if one is None or one.kind != "round" or len(tip) == len(lean) or float(np.ptp(tip)) > _CONE:
            raise Refused("recess", "its broad side", spot)
        depth = top - float(height[own].min()) if first is not None else float(height[own].max()) - bottom
        near_only, far_only = near_only + (first is not None), far_only + (first is None)
        found.append(_Hole(one, "blind", depth))
    if near_only and far_only:
        raise Refused("both-sides")
    return found, far_only > 0


def _plane_normal(mesh: Mesh, mask: Mask) -> FloatArray:
    total = (mesh.normals[mask] * mesh.areas[mask][:, None]).sum(axis=0)
    return np.asarray(total / np.linalg.norm(total))


def _on(outline: FloatArray, points: FloatArray) -> bool:
    """Whether all points are corners of the outline."""
    apart = np.hypot(points[:, None, 0] - outline[None, :, 0], points[:, None, 1] - outline[None, :, 1])
    return bool(apart.min(axis=1).max() < 1e-6)


def _placed(hole: _Hole, rectangle: plates.Rectangle, turn: float) -> DrawnHole:
    void = hole.void
    x, across = rectangle.place((void.x, void.y))
    angle = (void.slot_angle - turn) % 180.0 if void.kind != "round" else 0.0
    return DrawnHole(
        "face",
        _near(x),
        _near(across),
        snap(void.diameter),
        snap(void.slot_length),
        0.0 if angle > 180 - 1e-4 or angle < 1e-4 else _near(angle),
        snap(void.width or hole.outer),
        hole.kind,
        round(hole.depth, 4),
        "solid",
    )


def _check_mouths(side: _Side) -> None:
    """Raises Refused where a mouth lies over the outline's edge or over another one: facets that cross."""
    if not side.mouths:
        return
    from shapely import Polygon, union_all

    mouths = [Polygon(mouth) for mouth in side.mouths]
    joined = union_all(mouths)
    apart = joined.area > sum(mouth.area for mouth in mouths) - 0.01
    if not apart or not Polygon(side.outline).contains(joined):
        raise Refused("tangled")


def _check_volume(mesh: Mesh, upper: _Side, lower: _Side, thick: float, holes: list[_Hole]) -> None:
    """The steel between the sides against the mesh's; countersinks and blind holes lie between both sides' nets."""
    most, least = max(upper.net, lower.net) * thick, min(upper.net, lower.net) * thick
    if any(hole.kind in ("countersunk", "blind") for hole in holes):
        good = least * 0.995 <= mesh.volume <= most * 1.005
    else:
        good = abs(mesh.volume - most) <= 0.002 * most
    if not good:
        raise Refused("volume", f"{most:.0f}", f"{mesh.volume:.0f}")
