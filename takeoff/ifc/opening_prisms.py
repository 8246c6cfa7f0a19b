"""The solids of openings as prisms: a loop in a plane, and how far it is pushed.

A box can be seen as a prism three ways and a flat-faced prism at least one; every way is
kept, and the face that is cut picks the one that stands square to it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.ifc import curves
from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.facets import FACETED, Shell, oriented, shells, vector_areas
from takeoff.ifc.maps import map_matrix
from takeoff.ifc.paths import path_points
from takeoff.ifc.placements import axis2placement2d, axis2placement3d, operator2d
from takeoff.ifc.representations import body_items
from takeoff.sections import loops
from takeoff.steel import FloatArray

Loop = curves.Loop
FLAT_MM: Final = 0.01
"""Corners of a prism's end lie in one plane to this."""
SQUARE: Final = 1e-6
_DEPTH: Final = 16


@dataclass(frozen=True, slots=True, eq=False)
class Prism:
    """``loop`` of (x, y, bulge) in the plane of ``axes`` (3, 3: rows x, y and the direction pushed, unit and
    square to each other) through ``origin`` (3,), pushed from 0 to ``depth``. All mm, coordinates of its owner."""

    origin: FloatArray
    axes: FloatArray
    loop: Loop
    depth: float

    def moved(self, matrix: FloatArray) -> Prism:
        """The prism under a (4, 4) that is rigid, mirrored or of uniform scale; Unread else."""
        turn = matrix[:3, :3]
        axes = self.axes @ turn.T
        scale = float(np.linalg.norm(axes[0]))
        unit = axes / scale
        if not np.allclose(unit @ unit.T, np.eye(3), atol=1e-5):
            raise Unread("it is stretched unevenly")
        loop = tuple((x * scale, y * scale, b) for x, y, b in self.loop) if abs(scale - 1) > 1e-9 else self.loop
        return Prism(turn @ self.origin + matrix[:3, 3], unit, loop, self.depth * scale)


Solid = tuple[Prism, ...]
"""One solid, every way it can be seen as a prism."""


def solids_of(ctx: Context, product: Entity) -> list[Solid]:
    """The solids a product draws, in its own axes; Unread with a sentence where one is not understood."""
    items = body_items(product)
    if not items:
        raise Unread("it has no body")
    return [solid for item in items for solid in item_solids(ctx, item)]


def item_solids(ctx: Context, item: Entity, depth: int = 0) -> list[Solid]:
    """The solids one representation item draws, in the axes of its representation."""
    if depth > _DEPTH:
        raise Unread("it refers to itself")
    kind = item.is_a()
    if kind == "IfcMappedItem":
        matrix = map_matrix(ctx, item)
        parts = argument(argument(argument(item, 0), 1), 3)
        found = [solid for part in parts for solid in item_solids(ctx, part, depth + 1)]
        return found if matrix is None else [tuple(p.moved(matrix) for p in solid) for solid in found]
    if kind == "IfcExtrudedAreaSolid":
        return _extruded(ctx, item)
    if kind in ("IfcAdvancedBrep", "IfcAdvancedBrepWithVoids"):
        raise Unread("it is drawn with curved faces, which is not read yet")
    if kind in FACETED:
        return [_of_shell(shell) for shell in shells(ctx, item)]
    if kind == "IfcCsgSolid":
        return item_solids(ctx, argument(item, 0), depth + 1)
    if kind in ("IfcBooleanResult", "IfcBooleanClippingResult") and argument(item, 0) == "UNION":
        return item_solids(ctx, argument(item, 1), depth + 1) + item_solids(ctx, argument(item, 2), depth + 1)
    if kind in ("IfcRightCircularCylinder", "IfcBlock"):
        return [_primitive(ctx, item, kind)]
    if kind in ("IfcSweptDiskSolid", "IfcSweptDiskSolidPolygonal"):
        return [_rod(ctx, item)]
    raise Unread(f"it is drawn as an {kind}, which is not read yet")


def profile_loops(ctx: Context, profile: Entity, depth: int = 0) -> list[Loop]:
    """The outlines of a solid profile in mm; a composite has several. Unread for hollow and other ones."""
    if depth > _DEPTH:
        raise Unread("its profile refers to itself")
    kind = profile.is_a()
    if kind == "IfcCircleProfileDef":
        place = axis2placement2d(ctx, argument(profile, 2))
        return [curves.turned(loops.circle(2 * float(argument(profile, 3)) * ctx.mm), place)]
    if kind in ("IfcRectangleProfileDef", "IfcRoundedRectangleProfileDef"):
        place = axis2placement2d(ctx, argument(profile, 2))
        x, y = (float(argument(profile, i)) * ctx.mm / 2 for i in (3, 4))
        radius = float(argument(profile, 5)) * ctx.mm if kind == "IfcRoundedRectangleProfileDef" else 0.0
        return [curves.turned(_rectangle(x, y, radius), place)]
    if kind == "IfcArbitraryClosedProfileDef":
        return [curves.loop(ctx, argument(profile, 2))]
    if kind == "IfcCompositeProfileDef":
        return [loop for part in argument(profile, 2) for loop in profile_loops(ctx, part, depth + 1)]
    if kind in ("IfcDerivedProfileDef", "IfcMirroredProfileDef"):
        mirrored = kind == "IfcMirroredProfileDef"
        matrix = np.diag([-1.0, 1.0, 1.0]) if mirrored else operator2d(ctx, argument(profile, 3))
        sizes = np.linalg.norm(matrix[:2, :2], axis=0)
        if abs(sizes[0] - sizes[1]) > SQUARE:
            raise Unread("its profile is stretched unevenly")
        return [curves.turned(loop, matrix) for loop in profile_loops(ctx, argument(profile, 2), depth + 1)]
    raise Unread(f"its profile is an {kind}, which is not read as an opening")


def _rectangle(x: float, y: float, radius: float) -> Loop:
    """A rectangle of half sides x and y about the origin; a slot where the radius is half a side."""
    if radius <= 0:
        return ((-x, -y, 0.0), (x, -y, 0.0), (x, y, 0.0), (-x, y, 0.0))
    r = min(radius, x, y)
    corner = math.tan(math.pi / 8)
    points = (
        (-x + r, -y, 0.0), (x - r, -y, corner), (x, -y + r, 0.0), (x, y - r, corner),
        (x - r, y, 0.0), (-x + r, y, corner), (-x, y - r, 0.0), (-x, -y + r, corner),
    )  # fmt: skip
    kept = [p for i, p in enumerate(points) if math.dist(p[:2], points[(i + 1) % 8][:2]) > curves.WELD_MM]
    return tuple(kept)


def _extruded(ctx: Context, item: Entity) -> list[Solid]:
    matrix = axis2placement3d(ctx, argument(item, 1))
    ratios = np.array(ctx.direction(argument(item, 2)), dtype=float)
    size = float(np.linalg.norm(ratios))
    depth = float(argument(item, 3)) * ctx.mm
    if not (size > 0 and depth > 0):
        raise Unread("it is extruded by nothing")
    along = ratios / size
    if abs(along[2]) < 1 - 1e-9:
        raise Unread("it is extruded askew to its profile, which is not read yet")
    sign = 1.0 if along[2] > 0 else -1.0
    axes = np.array([matrix[:3, 0], matrix[:3, 1], sign * matrix[:3, 2]])
    return [_all_ways(Prism(matrix[:3, 3], axes, loop, depth)) for loop in profile_loops(ctx, argument(item, 0))]


def _all_ways(prism: Prism) -> Solid:
    """The prism, and where it is a box the two other ways to see it."""
    corners = np.array([c[:2] for c in prism.loop])
    if len(corners) != 4 or any(c[2] for c in prism.loop):
        return (prism,)
    first, second = corners[1] - corners[0], corners[3] - corners[0]
    long, wide = float(np.hypot(*first)), float(np.hypot(*second))
    square = abs(float(first @ second)) <= SQUARE * long * wide
    if not square or np.abs(corners[0] + first + second - corners[2]).max() > FLAT_MM:
        return (prism,)
    x = (first[0] * prism.axes[0] + first[1] * prism.axes[1]) / long
    y = (second[0] * prism.axes[0] + second[1] * prism.axes[1]) / wide
    z = prism.axes[2]
    corner = prism.origin + corners[0] @ prism.axes[:2]

    def box(a: float, b: float) -> Loop:
        return ((0.0, 0.0, 0.0), (a, 0.0, 0.0), (a, b, 0.0), (0.0, b, 0.0))

    return (
        prism,
        Prism(corner, np.array([y, z, x]), box(wide, prism.depth), long),
        Prism(corner, np.array([z, x, y]), box(prism.depth, long), wide),
    )


def _of_shell(shell: Shell) -> Solid:
    """Every direction in which all corners lie in two planes with like ends."""
    turned_out = oriented(shell)
    areas = vector_areas(turned_out)
    sizes = np.linalg.norm(areas, axis=1)
    normals = areas / sizes[:, None]
    found: list[Prism] = []
    for normal in normals:
        if any(abs(float(normal @ prism.axes[2])) > 0.9999 for prism in found):
            continue
        along = shell.points @ normal
        low, high = float(along.min()), float(along.max())
        in_ends = np.minimum(along - low, high - along) <= FLAT_MM
        caps = np.abs(normals @ normal) > 0.9999
        if not in_ends.all() or high - low <= FLAT_MM or (np.abs(normals[~caps] @ normal) > 1e-3).any():
            continue
        ring = _cap(turned_out, np.flatnonzero(normals @ normal > 0.9999).tolist())
        if ring is None:
            raise Unread("its body has a hole in it")
        x = shell.points[ring[1]] - shell.points[ring[0]]
        x = x - float(x @ normal) * normal
        x /= np.linalg.norm(x)
        axes = np.array([x, np.cross(-normal, x), -normal])
        origin = shell.points[ring[0]]
        flat = (shell.points[list(ring)] - origin) @ axes[:2].T
        found.append(Prism(origin, axes, tuple((float(a), float(b), 0.0) for a, b in flat), high - low))
    if not found:
        raise Unread("it is drawn as facets that are no prism, which is not read yet")
    return tuple(found)


def _cap(shell: Shell, numbers: Sequence[int]) -> tuple[int, ...] | None:
    """The outline of facets in one plane; None where it is not one loop."""
    ahead: dict[int, list[int]] = {}
    edges = {
        (a, b) for n in numbers for ring in shell.facets[n] for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
    }
    for a, b in edges:
        if (b, a) not in edges:
            ahead.setdefault(a, []).append(b)
    if not ahead or any(len(after) != 1 for after in ahead.values()):
        return None
    start = min(ahead)
    ring = [start]
    while (following := ahead[ring[-1]][0]) != start:
        if following not in ahead or len(ring) > len(ahead):
            return None
        ring.append(following)
    return tuple(ring) if len(ring) == len(ahead) else None


def _primitive(ctx: Context, item: Entity, kind: str) -> Solid:
    matrix = axis2placement3d(ctx, argument(item, 0))
    axes = matrix[:3, :3].T
    if kind == "IfcBlock":
        x, y, z = (float(argument(item, i)) * ctx.mm for i in (1, 2, 3))
        loop: Loop = ((0.0, 0.0, 0.0), (x, 0.0, 0.0), (x, y, 0.0), (0.0, y, 0.0))
        return _all_ways(Prism(matrix[:3, 3], axes, loop, z))
    height, radius = (float(argument(item, i)) * ctx.mm for i in (1, 2))
    return (Prism(matrix[:3, 3], axes, loops.circle(2 * radius), height),)


def _rod(ctx: Context, item: Entity) -> Solid:
    path = path_points(ctx, argument(item, 0), 0)
    if len(path) != 2 or path[0] is None or path[1] is None:
        raise Unread("it is swept along a bent line, which is not read yet")
    start, end = path[0], path[1]
    length = float(np.linalg.norm(end - start))
    if not length > 0:
        raise Unread("it is swept along nothing")
    z = (end - start) / length
    helper = np.eye(3)[int(np.argmin(np.abs(z)))]
    x = np.cross(helper, z)
    x /= np.linalg.norm(x)
    axes = np.array([x, np.cross(z, x), z])
    return (Prism(start, axes, loops.circle(2 * float(argument(item, 1)) * ctx.mm), length),)
