"""Half spaces that cut a prism, and what they leave of it.

A *cut* is a plane with the side it takes away, perhaps bounded by a polygon. A cut is
square to the piece (it only shortens it), skew (an end plane), through a plate
(its outline changes), or a rip along the piece (not read: the section changes).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.curves import Loop, loop
from takeoff.ifc.opening_prisms import Prism
from takeoff.ifc.placements import axis2placement3d
from takeoff.sections import loops, plates
from takeoff.steel import FloatArray, Frame, Plane
from takeoff.units import COINCIDENCE_MM

FAR_MM = 1e6
"""Further than any part reaches."""
_SQUARE = 1e-6
RIP = 0.05
"""A plane whose normal has less than this along the piece runs along it, not across it."""


@dataclass(frozen=True, slots=True, eq=False)
class HalfSpace:
    """``point`` (3,) on the plane, ``gone`` (3,) the unit normal toward the steel that goes.

    ``boundary``, a loop, bounds it in the axes ``place`` (4, 4), endlessly along their z; None: unbounded.
    """

    point: FloatArray
    gone: FloatArray
    boundary: Loop | None = None
    place: FloatArray | None = None

    def moved(self, matrix: FloatArray) -> HalfSpace:
        """Under a (4, 4) matrix that is rigid, mirrored or uniformly scaled."""
        gone = matrix[:3, :3] @ self.gone
        return HalfSpace(
            matrix[:3, :3] @ self.point + matrix[:3, 3],
            gone / np.linalg.norm(gone),
            self.boundary,
            None if self.place is None else matrix @ self.place,
        )

    def stretched(self, matrix: FloatArray) -> HalfSpace:
        """Under any (4, 4) matrix; Unread where it is bounded."""
        if self.boundary is not None:
            raise Unread("it is cut within a boundary and then stretched by its mapping, which is not read yet")
        gone = np.linalg.inv(matrix[:3, :3]).T @ self.gone
        return HalfSpace(matrix[:3, :3] @ self.point + matrix[:3, 3], gone / np.linalg.norm(gone))


def half_space(ctx: Context, entity: Entity) -> HalfSpace:
    """An IfcHalfSpaceSolid or IfcPolygonalBoundedHalfSpace; Unread for other surfaces than planes.

    AgreementFlag true means that the half space lies on the side the plane's normal points
    away from (ISO 16739-1), so that the normal points out of what is taken away.
    """
    surface = argument(entity, 0)
    if not surface.is_a("IfcPlane"):
        raise Unread(f"it is cut by an {surface.is_a()}, which is not read yet")
    axes = axis2placement3d(ctx, argument(surface, 0))
    normal = axes[:3, 2]
    gone = -normal if argument(entity, 1) else normal
    if entity.is_a("IfcPolygonalBoundedHalfSpace"):
        place = axis2placement3d(ctx, argument(entity, 2))
        return HalfSpace(axes[:3, 3], gone, loop(ctx, argument(entity, 3)), place)
    if entity.is_a("IfcBoxedHalfSpace") or entity.is_a("IfcHalfSpaceSolid"):
        return HalfSpace(axes[:3, 3], gone)
    raise Unread(f"it is cut by an {entity.is_a()}, which is not read yet")


def reach(cut: HalfSpace, corners: FloatArray, start: float, stop: float) -> str:
    """How much of the prism's part beyond the plane the cut's boundary covers: ``all``, ``none`` or ``some``.

    ``corners`` (n, 2) of the section in (u, v), the prism from x = ``start`` to ``stop``; the cut in the
    same axes (x, u, v).
    """
    if cut.boundary is None or cut.place is None:
        return "all"
    from shapely import MultiPoint, Polygon

    lost = _beyond(cut, corners, start, stop)
    if not len(lost):
        return "none"
    inverse = np.linalg.inv(cut.place)
    seen = lost @ inverse[:3, :3].T + inverse[:3, 3]
    shadow: Any = MultiPoint(seen[:, :2]).convex_hull
    bounds: Any = Polygon(loops.flatten(cut.boundary))
    if not bounds.is_valid:
        raise Unread("the boundary of a cut crosses itself")
    if bounds.buffer(COINCIDENCE_MM).covers(shadow):
        return "all"
    if shadow.buffer(COINCIDENCE_MM).intersection(bounds).area < COINCIDENCE_MM:
        return "none"
    return "some"


def taken(cut: HalfSpace) -> list[Prism]:
    """What a bounded cut takes away as prisms, reaching further than any part; Unread where it is askew.

    Its plane stands square to the boundary's axis or along it: then it is the boundary pushed from the
    plane, or the boundary's part beyond the plane pushed both ways.
    """
    if cut.boundary is None or cut.place is None:
        raise ValueError("an unbounded cut is no prism")
    scale = float(np.linalg.norm(cut.place[:3, 0]))
    axes = cut.place[:3, :3].T / scale
    edge = tuple((x * scale, y * scale, bulge) for x, y, bulge in cut.boundary)
    origin = cut.place[:3, 3]
    along = float(cut.gone @ axes[2])
    offset = cut.point - origin
    if abs(along) > 1.0 - _SQUARE:
        start = origin + float(offset @ axes[2]) * axes[2]
        way = axes[2] if along > 0 else -axes[2]
        return [Prism(start, np.array([axes[0], axes[1], way]), edge, FAR_MM)]
    if abs(along) < _SQUARE:
        point = (float(offset @ axes[0]), float(offset @ axes[1]))
        kept = (-float(cut.gone @ axes[0]), -float(cut.gone @ axes[1]))
        return [
            Prism(origin - FAR_MM * axes[2], axes, part, 2 * FAR_MM)
            for part in plates.cut(plates.anticlockwise(edge), point, kept)
        ]
    raise Unread("a bounded cut takes a notch with a sloping side out of it, which is not read yet")


def _beyond(cut: HalfSpace, corners: FloatArray, start: float, stop: float) -> FloatArray:
    """Extreme points (n, 3) of the prism's part on the gone side of the plane."""
    ends = [np.column_stack([np.full(len(corners), x), corners]) for x in (start, stop)]
    near, far = ends
    starts = np.concatenate([near, near, far])
    stops = np.concatenate([far, np.roll(near, -1, axis=0), np.roll(far, -1, axis=0)])
    a, b = (starts - cut.point) @ cut.gone, (stops - cut.point) @ cut.gone
    crossing = a * b < 0
    share = a[crossing] / (a[crossing] - b[crossing])
    points = starts[crossing] + share[:, None] * (stops[crossing] - starts[crossing])
    return np.concatenate([near, far, points])[
        np.concatenate([(near - cut.point) @ cut.gone, (far - cut.point) @ cut.gone, np.zeros(len(points))]) > -1e-9
    ]


@dataclass(frozen=True, slots=True)
class Ends:
    """Where a cut prism begins and ends: overall, and the skew planes of each end; x as before cutting."""

    start: float
    stop: float
    left: tuple[Plane, ...]
    right: tuple[Plane, ...]


def ends(cuts: list[HalfSpace], corners: FloatArray, length: float) -> Ends:
    """The extreme points and end planes of a prism after unbounded cuts, all in (x, u, v) of the piece.

    Raises Unread where a plane rips along the piece, where the cuts cross within it, and
    where nothing is left. Planes that cut nothing are dropped.
    """
    start, stop = 0.0, length
    left: list[tuple[FloatArray, HalfSpace]] = []  # x of the plane as (a, b, c): x = a + b u + c v
    right: list[tuple[FloatArray, HalfSpace]] = []
    for cut in cuts:
        nx, nu, nv = (float(value) for value in cut.gone)
        reachable = corners @ np.array([nu, nv])
        offset = float(cut.point @ cut.gone)
        # distance past the plane of the prism's corners: lowest and highest
        highest = max(nx * start, nx * stop) + float(reachable.max()) - offset
        lowest = min(nx * start, nx * stop) + float(reachable.min()) - offset
        if highest <= COINCIDENCE_MM:
            continue
        if lowest >= -COINCIDENCE_MM:
            raise Unread("its cuts leave nothing of it")
        if abs(nx) < RIP:
            raise Unread("it is cut along its length, which is not read yet")
        plane = np.array([offset / nx, -nu / nx, -nv / nx])
        xs = plane[0] + corners @ plane[1:]
        if float(np.ptp(xs)) <= COINCIDENCE_MM:
            if nx > 0:
                stop = min(stop, float(xs.mean()))
            else:
                start = max(start, float(xs.mean()))
        else:
            (right if nx > 0 else left).append((plane, cut))
    if start >= stop:
        raise Unread("its cuts leave nothing of it")
    spots = _spots([plane for plane, _ in left + right], corners)
    low = _surface(spots, [p for p, _ in left], start, np.maximum)
    high = _surface(spots, [p for p, _ in right], stop, np.minimum)
    if left and right and bool((low >= high - COINCIDENCE_MM).any()):
        raise Unread("its end cuts meet within the section, which is not read yet")
    if not float(low.min()) < float(high.max()):
        raise Unread("its cuts leave nothing of it")
    first, last = float(low.min()), float(high.max())
    return Ends(
        first,
        last,
        tuple(_plane(p, c, first) for p, c in left if _cuts(p, spots, left, start, np.maximum)),
        tuple(_plane(p, c, first) for p, c in right if _cuts(p, spots, right, stop, np.minimum)),
    )


def _surface(spots: FloatArray, planes: list[FloatArray], limit: float, pick: Any) -> FloatArray:
    """x of an end over the section's spots (n, 2)."""
    x = np.full(len(spots), limit)
    for plane in planes:
        x = pick(x, plane[0] + spots @ plane[1:])
    return x


def _cuts(
    plane: FloatArray, spots: FloatArray, all_planes: list[tuple[FloatArray, HalfSpace]], limit: float, pick: Any
) -> bool:
    """Whether a plane still takes steel away beside the others of its end."""
    others = [p for p, _ in all_planes if p is not plane]
    without = _surface(spots, others, limit, pick)
    here = plane[0] + spots @ plane[1:]
    return bool((np.abs(pick(without, here) - without) > COINCIDENCE_MM / 10).any())


def _plane(plane: FloatArray, cut: HalfSpace, shift: float) -> Plane:
    """The cut as a value, its point on the piece's own x axis."""
    n = cut.gone
    return Plane((float(plane[0]) - shift, 0.0, 0.0), (float(n[0]), float(n[1]), float(n[2])))


def _spots(planes: list[FloatArray], corners: FloatArray) -> FloatArray:
    """Section points where an end's extreme can lie: corners, and where two planes' ridge meets an edge."""
    found = [corners]
    for i, a in enumerate(planes):
        for b in planes[:i]:
            d = a - b
            values = d[0] + corners @ d[1:]
            after = np.roll(values, -1)
            crossing = values * after < 0
            share = values[crossing] / (values[crossing] - after[crossing])
            step = np.roll(corners, -1, axis=0)[crossing] - corners[crossing]
            found.append(corners[crossing] + share[:, None] * step)
    return np.concatenate(found)


def to_frame(cut: HalfSpace, frame: Frame) -> HalfSpace:
    """The cut in the axes (x, u, v) of a frame."""
    matrix = np.eye(4)
    matrix[:3, :3] = frame.axes
    matrix[:3, 3] = -frame.axes @ frame.origin
    return cut.moved(matrix)
