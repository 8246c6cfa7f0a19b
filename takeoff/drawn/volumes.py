"""What was read, measured again: its volume against the mesh's."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from takeoff.drawn.results import Refused
from takeoff.sections.shapes import faces
from takeoff.steel import Body, DrawnHole, Face, Plane

if TYPE_CHECKING:
    from takeoff.drawn.bars import Bar

_FACETS: Final = 0.1
_SHARE: Final = 0.005
"""More than this share of the mesh's volume apart is another body."""


def check_volume(bar: Bar, body: Body) -> None:
    """Raises Refused where prism less cuts, holes and notches is not the drawn volume within half a per cent."""
    from shapely import Polygon

    section = Polygon(bar.outline, bar.hollows)
    walls = {wall.name: wall for wall in faces(bar.section)}
    holes = sum(_hole(hole, walls[hole.face]) for hole in body.holes)
    total = _prism(section, body) - holes - _notched(bar, body, section)
    over = bar.mesh.volume - total
    # a hole of eight sides takes a tenth less than its circle
    if not -_SHARE * bar.mesh.volume <= over <= _SHARE * bar.mesh.volume + _FACETS * holes:
        raise Refused("volume", f"{total:.0f}", f"{bar.mesh.volume:.0f}")


def _prism(section: Any, body: Body) -> float:
    """The section swept from the left planes to the right ones, mm3, exactly."""
    if section.area <= 0:
        return 0.0
    return _end(section, body.right, body.length, 1.0) - _end(section, body.left, 0.0, -1.0)


def _end(section: Any, planes: Sequence[Plane], limit: float, sign: float) -> float:
    """The integral of x over the section on the surface that ends it: the planes' innermost."""
    # x = a + b u + c v on each plane; the square end is one of them
    flat = [(limit, 0.0, 0.0)]
    for plane in planes:
        nx, nu, nv = plane.normal
        offset = nx * plane.point[0] + nu * plane.point[1] + nv * plane.point[2]
        flat.append((offset / nx, -nu / nx, -nv / nx))
    total = 0.0
    for k, (a, b, c) in enumerate(flat):
        part = section
        for j, (a2, b2, c2) in enumerate(flat):
            if j != k and not part.is_empty:
                part = _half(part, sign * (a2 - a), sign * (b2 - b), sign * (c2 - c))
        if not part.is_empty and part.area > 0:
            spot = part.centroid
            total += part.area * (a + b * spot.x + c * spot.y)
    return total


def _half(section: Any, a: float, b: float, c: float) -> Any:
    """The part of a section where a + b u + c v >= 0."""
    from shapely import Polygon

    size = math.hypot(b, c)
    if size < 1e-12:
        return section if a >= 0 else Polygon()
    nu, nv, d = b / size, c / size, a / size
    far = 1e4
    u, v = -d * nu, -d * nv
    corners = [
        (u - far * nv, v + far * nu),
        (u + far * nv, v - far * nu),
        (u + far * nv + far * nu, v - far * nu + far * nv),
        (u - far * nv + far * nu, v + far * nu + far * nv),
    ]
    return section.intersection(Polygon(corners))


def _hole(hole: DrawnHole, wall: Face) -> float:
    deep = min(hole.depth, wall.thickness)
    if hole.kind == "rectangle":
        return (hole.slot_length * hole.width - (1 - math.pi / 4) * hole.diameter**2) * deep
    area = math.pi / 4 * hole.diameter**2
    if hole.slot_length > hole.diameter:
        area += (hole.slot_length - hole.diameter) * hole.diameter
    return area * deep


def _notched(bar: Bar, body: Body, section: Any) -> float:
    """Volume that notches take, mm3: at each place along the bar the section's part under the walls they open."""
    if not body.notches:
        return 0.0
    from shapely import LineString, MultiPoint, Polygon, union_all

    walls = {wall.name: wall for wall in faces(bar.section)}
    places = sorted({round(x, 4) for notch in body.notches for x, _ in notch.loop})
    total = 0.0
    for start, stop in pairwise(places):
        # a notch's width changes evenly between its corners: Simpson's rule is exact for the areas it sweeps
        for share, weight in ((0.0, 1.0), (0.5, 4.0), (1.0, 1.0)):
            x = start + (stop - start) * min(max(share, 1e-6), 1 - 1e-6)
            gone = []
            for notch in body.notches:
                wall = walls[notch.face]
                line = Polygon(notch.loop).intersection(LineString([(x, wall.low - 1.0), (x, wall.high + 1.0)]))
                for part in getattr(line, "geoms", [line]):
                    if part.is_empty or part.length < 1e-9:
                        continue
                    low, high = part.bounds[1], part.bounds[3]
                    gone.append(_under(bar, wall, low, high, MultiPoint))
            if gone:
                lost = section.intersection(union_all(gone)).area
                total += lost * weight / 6 * (stop - start)
    return total


def _under(bar: Bar, wall: Face, low: float, high: float, points: Any) -> Any:
    """The rectangle of the section's plane behind a stretch of a wall's outside."""
    deep = wall.thickness + bar.section.slope * bar.section.b / 2
    corners = []
    for across, depth in ((low, 0.0), (high, 0.0), (high, deep), (low, deep)):
        u = wall.origin[0] + across * wall.direction[0] + depth * wall.inward[0]
        v = wall.origin[1] + across * wall.direction[1] + depth * wall.inward[1]
        corners.append((u, v))
    return points(corners).convex_hull
