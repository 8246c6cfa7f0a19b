"""Closed curves of profiles and openings as loops of corners with bulges.

Loop: a tuple of (x, y, bulge), mm in the curve's plane, closed, the first corner not
repeated. ``bulge`` belongs to the edge that starts at the corner: the tangent of a
quarter of the arc's angle, positive where the arc runs anti-clockwise, 0 for a
straight edge. Loops keep the direction in which the file draws them.

Not read: ellipses, splines, offset curves, clothoids (Unread says which).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.placements import axis2placement2d
from takeoff.steel import FloatArray

Corner = tuple[float, float, float]
Loop = tuple[Corner, ...]
_Edge = tuple[float, float, float, float, float]
"""x, y of the start, x, y of the end, bulge."""

WELD_MM = 0.001
"""Corners this close are one corner."""
GAP_MM = 0.1
"""Ends of neighbouring segments further apart than this leave an outline open."""
DISPUTE_MM = 0.5
"""A trimming point this far from the trimming parameter's point contradicts it."""


def loop(ctx: Context, curve: Entity) -> Loop:
    """The closed loop a curve draws; Unread where it is open, empty, or of a kind not read."""
    edges = _edges(ctx, curve, 0)
    if not edges:
        raise Unread("an outline of its profile is empty")
    return _closed(edges, may_close=curve.is_a("IfcPolyline") or curve.is_a("IfcIndexedPolyCurve"))


def open_path(ctx: Context, curve: Entity) -> Loop:
    """The corners of an open curve, its last point included (bulge 0)."""
    edges = _edges(ctx, curve, 0)
    if not edges:
        raise Unread("a curve of its profile is empty")
    corners = [(x, y, bulge) for x, y, _, _, bulge in edges]
    return (*corners, (edges[-1][2], edges[-1][3], 0.0))


def turned(corners: Iterable[Corner], matrix: FloatArray) -> Loop:
    """The loop under a (3, 3) matrix: rigid, mirrored or of uniform scale. Mirroring turns bulges about."""
    (a, b, x0), (c, d, y0) = matrix[0], matrix[1]
    sign = 1.0 if a * d - b * c > 0 else -1.0
    return tuple((float(a * x + b * y + x0), float(c * x + d * y + y0), sign * bulge) for x, y, bulge in corners)


def reversed_loop(corners: Sequence[Corner]) -> Loop:
    """The same loop run the other way."""
    n = len(corners)
    return tuple((corners[i][0], corners[i][1], -corners[i - 1][2]) for i in range(n - 1, -1, -1))


def _closed(edges: list[_Edge], *, may_close: bool) -> Loop:
    corners: list[Corner] = []
    last_x, last_y = edges[-1][2], edges[-1][3]
    for i, (x0, y0, x1, y1, bulge) in enumerate(edges):
        gap = math.hypot(x0 - edges[i - 1][2], y0 - edges[i - 1][3])
        if gap > GAP_MM and (i or not may_close):
            raise Unread(f"an outline of its profile is open by {gap:.1f} mm")
        if bulge or math.hypot(x1 - x0, y1 - y0) > WELD_MM:
            corners.append((x0, y0, bulge))
    if math.hypot(edges[0][0] - last_x, edges[0][1] - last_y) > GAP_MM:
        corners.append((last_x, last_y, 0.0))
    if len(corners) < (2 if any(corner[2] for corner in corners) else 3):
        raise Unread("an outline of its profile has no area")
    return tuple(corners)


def _edges(ctx: Context, curve: Entity, depth: int) -> list[_Edge]:
    if depth > 16:
        raise Unread("a curve of its profile refers to itself")
    kind = curve.is_a()
    if kind == "IfcPolyline":
        points = [ctx.point(point) for point in argument(curve, 0)]
        return [(a[0], a[1], b[0], b[1], 0.0) for a, b in pairwise(points)]
    if kind == "IfcIndexedPolyCurve":
        return _indexed(ctx, curve)
    if curve.is_a("IfcCompositeCurve"):
        return _composite(ctx, curve, depth)
    if kind == "IfcTrimmedCurve":
        return _trimmed(ctx, curve, depth)
    if kind in ("IfcCircle", "IfcEllipse"):
        matrix, radius = _circle(ctx, curve)
        return _arc(matrix, radius, 0.0, 2.0 * math.pi)
    raise Unread(f"a curve of its profile is an {kind}, which is not read yet")


def _circle(ctx: Context, curve: Entity) -> tuple[FloatArray, float]:
    """Placement (3, 3) and radius in mm; Unread for an ellipse that is not a circle."""
    radius = float(argument(curve, 1)) * ctx.mm
    if curve.is_a("IfcEllipse"):
        other = float(argument(curve, 2)) * ctx.mm
        if abs(other - radius) > WELD_MM:
            raise Unread("a curve of its profile is an ellipse, which is not read yet")
    if not radius > 0:
        raise Unread(f"a circle of its profile has the radius {radius:g} mm")
    return axis2placement2d(ctx, argument(curve, 0)), radius


def _arc(matrix: FloatArray, radius: float, start: float, sweep: float) -> list[_Edge]:
    """Edges of an arc from an angle over a signed sweep, none over a half circle."""
    steps = 1 if abs(sweep) <= math.pi + 1e-9 else 2
    hand = 1.0 if matrix[0, 0] * matrix[1, 1] - matrix[0, 1] * matrix[1, 0] > 0 else -1.0
    bulge = hand * math.tan(sweep / steps / 4.0)
    points = [_at(matrix, radius, start + sweep * i / steps) for i in range(steps + 1)]
    if abs(abs(sweep) - 2.0 * math.pi) < 1e-12:
        points[-1] = points[0]
    return [(*a, *b, bulge) for a, b in pairwise(points)]


def _at(matrix: FloatArray, radius: float, angle: float) -> tuple[float, float]:
    c, s = radius * math.cos(angle), radius * math.sin(angle)
    return (
        float(matrix[0, 0] * c + matrix[0, 1] * s + matrix[0, 2]),
        float(matrix[1, 0] * c + matrix[1, 1] * s + matrix[1, 2]),
    )


def _trims(trims: Sequence[Any], ctx: Context) -> tuple[float | None, tuple[float, ...] | None]:
    """Parameter and point of one trimming set, either may be missing."""
    value: float | None = None
    point: tuple[float, ...] | None = None
    for trim in trims:
        if trim.is_a("IfcCartesianPoint"):
            point = ctx.point(trim)
        else:
            value = float(argument(trim, 0))
    return value, point


def _trimmed(ctx: Context, curve: Entity, depth: int) -> list[_Edge]:
    basis = argument(curve, 0)
    starts, ends = _trims(argument(curve, 1), ctx), _trims(argument(curve, 2), ctx)
    forward = bool(argument(curve, 3))
    by_point = argument(curve, 4) == "CARTESIAN"
    if basis.is_a("IfcLine"):
        a, b = (_on_line(ctx, basis, *trim, by_point=by_point) for trim in (starts, ends))
        return [(*a, *b, 0.0)]
    if basis.is_a("IfcConic"):
        if not (basis.is_a("IfcCircle") or basis.is_a("IfcEllipse")):
            raise Unread(f"a curve of its profile is an {basis.is_a()}, which is not read yet")
        matrix, radius = _circle(ctx, basis)
        first, last = (_on_circle(ctx, matrix, radius, *trim, by_point=by_point) for trim in (starts, ends))
        sweep = (last - first) % (2.0 * math.pi)
        if sweep * radius < WELD_MM or (2.0 * math.pi - sweep) * radius < WELD_MM:
            sweep = 2.0 * math.pi  # trimmed where it starts: the whole circle
        if not forward:
            sweep = sweep - 2.0 * math.pi if sweep < 2.0 * math.pi else -sweep
        edges = _arc(matrix, radius, first, sweep)
        return _pinned(edges, starts[1], ends[1])
    if basis.is_a("IfcTrimmedCurve") or basis.is_a("IfcPolyline"):
        whole = _edges(ctx, basis, depth + 1)
        first_point, last_point = starts[1], ends[1]
        if first_point is not None and last_point is not None and whole:
            for run in (whole, _backwards(whole)):
                starts_there = math.dist(run[0][:2], first_point[:2]) <= WELD_MM
                if starts_there and math.dist(run[-1][2:4], last_point[:2]) <= WELD_MM:
                    return run
    raise Unread(f"a curve of its profile is a trimmed {basis.is_a()}, which is not read yet")


def _pinned(edges: list[_Edge], start: tuple[float, ...] | None, end: tuple[float, ...] | None) -> list[_Edge]:
    """An arc with its ends moved onto the trimming points, which its neighbours share."""
    if start is not None and end is not None and math.dist(start[:2], end[:2]) > WELD_MM:
        first, last = edges[0], edges[-1]
        if math.dist(first[:2], start[:2]) <= GAP_MM:
            edges[0] = (start[0], start[1], *first[2:])
        last = edges[-1]
        if math.dist(last[2:4], end[:2]) <= GAP_MM:
            edges[-1] = (last[0], last[1], end[0], end[1], last[4])
    return edges


def _on_line(
    ctx: Context, line: Entity, value: float | None, point: tuple[float, ...] | None, *, by_point: bool
) -> tuple[float, float]:
    if point is not None and (by_point or value is None):
        return point[0], point[1]
    if value is None:
        raise Unread("a line of its profile is not trimmed")
    origin = ctx.point(argument(line, 0))
    vector = argument(line, 1)
    ratios = ctx.direction(argument(vector, 0))
    size = math.hypot(ratios[0], ratios[1])
    if not size > 0:
        raise Unread("a line of its profile has no direction")
    reach = value * float(argument(vector, 1)) * ctx.mm / size
    found = (origin[0] + reach * ratios[0], origin[1] + reach * ratios[1])
    if point is not None and math.dist(found, point[:2]) > DISPUTE_MM:
        raise Unread("the trimming points and parameters of its profile's curves disagree")
    return found


def _on_circle(
    ctx: Context,
    matrix: FloatArray,
    radius: float,
    value: float | None,
    point: tuple[float, ...] | None,
    *,
    by_point: bool,
) -> float:
    """The angle in radians from the circle's own x axis, in its own sense."""
    if point is not None:
        dx, dy = point[0] - matrix[0, 2], point[1] - matrix[1, 2]
        angle = math.atan2(matrix[0, 1] * dx + matrix[1, 1] * dy, matrix[0, 0] * dx + matrix[1, 0] * dy)
        if by_point or value is None:
            if abs(math.hypot(dx, dy) - radius) > DISPUTE_MM:
                raise Unread("an arc of its profile is trimmed off its circle")
            return angle
    if value is None:
        raise Unread("an arc of its profile is not trimmed")
    stated = value * ctx.rad
    if point is not None and math.dist(_at(matrix, radius, stated), point[:2]) > DISPUTE_MM:
        raise Unread("the trimming points and parameters of its profile's curves disagree")
    return stated


def _backwards(edges: list[_Edge]) -> list[_Edge]:
    return [(x1, y1, x0, y0, -bulge) for x0, y0, x1, y1, bulge in reversed(edges)]


def _composite(ctx: Context, curve: Entity, depth: int) -> list[_Edge]:
    edges: list[_Edge] = []
    for segment in argument(curve, 0):
        if not segment.is_a("IfcCompositeCurveSegment"):
            raise Unread(f"a curve of its profile has an {segment.is_a()}, which is not read yet")
        part = _edges(ctx, argument(segment, 2), depth + 1)
        edges += part if argument(segment, 1) else _backwards(part)
    return edges


def _indexed(ctx: Context, curve: Entity) -> list[_Edge]:
    coordinates = argument(argument(curve, 0), 0)
    points = [(float(p[0]) * ctx.mm, float(p[1]) * ctx.mm) for p in coordinates]
    segments = argument(curve, 1)
    if segments is None:
        return [(*a, *b, 0.0) for a, b in pairwise(points)]
    edges: list[_Edge] = []
    for segment in segments:
        indices = argument(segment, 0)
        if not all(1 <= i <= len(points) for i in indices):
            raise Unread("a curve of its profile names a point that is not there")
        run = [points[i - 1] for i in indices]
        if segment.is_a("IfcArcIndex"):
            if len(run) != 3:
                raise Unread("an arc of its profile does not have three points")
            edges += _through(*run)
        else:
            edges += [(*a, *b, 0.0) for a, b in pairwise(run)]
    return edges


def _through(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> list[_Edge]:
    """The arc from a over b to c. The angle seen from b is half of what the rest of the circle spans."""
    ax, ay, cx, cy = a[0] - b[0], a[1] - b[1], c[0] - b[0], c[1] - b[1]
    cross = cx * ay - cy * ax
    seen = math.atan2(abs(cross), ax * cx + ay * cy)
    bulge = math.copysign(math.tan((math.pi - seen) / 2.0), cross)
    if abs(bulge) < 1e-9:
        return [(*a, *c, 0.0)]
    if math.dist(a, c) <= WELD_MM:
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        radius = math.dist(a, b) / 2
        matrix = _centred(middle)
        return _arc(matrix, radius, math.atan2(a[1] - middle[1], a[0] - middle[0]), 2.0 * math.pi)
    if abs(bulge) <= 1.0 + 1e-9:
        return [(*a, *c, bulge)]
    # more than half a circle: cut it at its middle, so that no bulge is large
    height = bulge * math.dist(a, c) / 2.0
    ux, uy = (c[0] - a[0]) / math.dist(a, c), (c[1] - a[1]) / math.dist(a, c)
    top = ((a[0] + c[0]) / 2 + uy * height, (a[1] + c[1]) / 2 - ux * height)
    half = math.tan(math.atan(bulge) / 2.0)
    return [(*a, *top, half), (*top, *c, half)]


def _centred(centre: tuple[float, float]) -> FloatArray:
    return np.array([[1.0, 0.0, centre[0]], [0.0, 1.0, centre[1]], [0.0, 0.0, 1.0]])
