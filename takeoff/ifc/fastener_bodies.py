"""What a fastener's representation draws, as turned bodies in the product's own axes.

Read are flat-faced bodies, extruded profiles, revolved profiles, swept disks with
straight runs, constructive solids of cylinders, cones and blocks, booleans of these
(what is taken away is left out of account: a bolt's axis does not depend on its bore),
curved boundary bodies with cylindrical faces, and mapped items of any of them.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Final
from weakref import WeakKeyDictionary

import numpy as np

from takeoff.ifc import curves
from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.facets import FACETED, Facet, Shell, shells
from takeoff.ifc.maps import map_matrix
from takeoff.ifc.paths import path_points, spatial, straight_runs
from takeoff.ifc.placements import axis2placement2d, axis2placement3d, operator2d
from takeoff.ifc.turned import Round, Slab, Turned, from_shell, levels, measured
from takeoff.sections.loops import flatten
from takeoff.steel import FloatArray

_DEPTH: Final = 16

SAME_MM: Final = 1e-4
"""Shells whose corners lie alike to this are evaluated once; it is also all that such sharing moves an axis."""

_CACHE: WeakKeyDictionary[Context, dict[int, tuple[Turned, ...]]] = WeakKeyDictionary()
_SHAPES: WeakKeyDictionary[Context, dict[tuple[bytes, tuple[Facet, ...]], Turned | None]] = WeakKeyDictionary()


def turned_bodies(ctx: Context, item: Entity) -> tuple[Turned, ...]:
    """The turned bodies one item draws, in the axes its representation is in; cached by item.

    Empty where the item draws no solid. Raises Unread with a sentence where it draws one
    that is not understood.
    """
    return _cached(ctx, item, 0)


def _cached(ctx: Context, item: Entity, depth: int) -> tuple[Turned, ...]:
    cache = _CACHE.setdefault(ctx, {})
    key = item.id()
    found = cache.get(key)
    if found is None:
        found = cache[key] = tuple(_read(ctx, item, depth))
    return found


def _read(ctx: Context, item: Entity, depth: int) -> list[Turned]:
    if depth > _DEPTH:
        raise Unread("its body refers to itself")
    kind = item.is_a()
    if kind == "IfcMappedItem":
        matrix = map_matrix(ctx, item)
        source = argument(argument(item, 0), 1)
        bodies = [body for part in argument(source, 3) for body in _cached(ctx, part, depth + 1)]
        return bodies if matrix is None else [body.moved(matrix) for body in bodies]
    if kind in ("IfcAdvancedBrep", "IfcAdvancedBrepWithVoids"):
        return _curved_faces(ctx, item)
    if kind in FACETED:
        return [_of_shell(ctx, shell) for shell in shells(ctx, item)]
    if kind in ("IfcExtrudedAreaSolid", "IfcExtrudedAreaSolidTapered"):
        return _extruded(ctx, item)
    if kind in ("IfcRevolvedAreaSolid", "IfcRevolvedAreaSolidTapered"):
        return [_revolved(ctx, item)]
    if kind in ("IfcSweptDiskSolid", "IfcSweptDiskSolidPolygonal"):
        return _swept_disk(ctx, item)
    if kind == "IfcCsgSolid":
        return _read(ctx, argument(item, 0), depth + 1)
    if kind in ("IfcBooleanResult", "IfcBooleanClippingResult"):
        bodies = _read(ctx, argument(item, 1), depth + 1)
        if argument(item, 0) == "UNION":
            bodies = bodies + _read(ctx, argument(item, 2), depth + 1)
        return bodies
    if kind in ("IfcRightCircularCylinder", "IfcRightCircularCone", "IfcBlock", "IfcSphere"):
        return [_primitive(ctx, item, kind)]
    if item.is_a("IfcCurve") or item.is_a("IfcPoint") or kind in ("IfcGeometricSet", "IfcGeometricCurveSet"):
        return []
    raise Unread(f"its body is an {kind}, which is not read as a fastener")


def _of_shell(ctx: Context, shell: Shell) -> Turned:
    cache = _SHAPES.setdefault(ctx, {})
    base = shell.points[0]
    # evaluated from the snapped corners, so that it does not matter which of them came first
    snapped = np.round((shell.points - base) / SAME_MM) * SAME_MM + 0.0
    key = (snapped.tobytes(), shell.facets)
    if key in cache:
        body = cache[key]
    else:
        body = cache[key] = from_shell(Shell(snapped, shell.facets, shell.closed))
    if body is None:
        raise Unread("its body has no straight axis")
    return replace(body, point=body.point + base)


def _placed(matrix: FloatArray, centre: tuple[float, float], along: FloatArray) -> tuple[FloatArray, FloatArray]:
    point = matrix[:3, :3] @ np.array([centre[0], centre[1], 0.0]) + matrix[:3, 3]
    return point, matrix[:3, :3] @ along


def _extruded(ctx: Context, item: Entity) -> list[Turned]:
    matrix = axis2placement3d(ctx, argument(item, 1))
    ratios = np.array(ctx.direction(argument(item, 2)), dtype=float)
    size = float(np.linalg.norm(ratios))
    depth = float(argument(item, 3)) * ctx.mm
    if not (size > 0 and depth > 0):
        raise Unread("its body is extruded by nothing")
    along = ratios / size
    found = []
    tapered = item.is_a() == "IfcExtrudedAreaSolidTapered"
    ends = [shape for shape, _ in profile_shapes(ctx, item.EndSweptArea, 0)] if tapered else []
    for i, (shape, bored) in enumerate(profile_shapes(ctx, argument(item, 0), 0)):
        point, direction = _placed(matrix, shape.centre, along)
        diameter = (shape.diameter + ends[i].diameter) / 2 if i < len(ends) else shape.diameter
        slab = Slab(0.0, depth, diameter, shape.corners, shape.length)
        found.append(Turned(point, direction, (slab,), bored))
    return found


def profile_shapes(ctx: Context, profile: Entity, depth: int) -> list[tuple[Round, bool]]:
    """The outer shape of a profile in mm, and whether it is hollow; one for each part of a composite."""
    if depth > _DEPTH:
        raise Unread("its profile refers to itself")
    kind = profile.is_a()
    if kind in ("IfcCircleProfileDef", "IfcCircleHollowProfileDef"):
        place = axis2placement2d(ctx, argument(profile, 2))
        diameter = 2 * float(argument(profile, 3)) * ctx.mm
        if not diameter > 0:
            raise Unread("its profile has no size")
        return [(Round((float(place[0, 2]), float(place[1, 2])), diameter, 0.0, 0), "Hollow" in kind)]
    if kind in ("IfcRectangleProfileDef", "IfcRoundedRectangleProfileDef", "IfcRectangleHollowProfileDef"):
        place = axis2placement2d(ctx, argument(profile, 2))
        x, y = (float(argument(profile, i)) * ctx.mm / 2 for i in (3, 4))
        corners = np.array([[x, y, 1.0], [-x, y, 1.0], [-x, -y, 1.0], [x, -y, 1.0]]) @ place.T
        return [(_shape(corners[:, :2]), "Hollow" in kind)]
    if kind in ("IfcArbitraryClosedProfileDef", "IfcArbitraryProfileDefWithVoids"):
        loop = curves.loop(ctx, argument(profile, 2))
        return [(_shape(flatten(loop)), kind == "IfcArbitraryProfileDefWithVoids")]
    if kind == "IfcCompositeProfileDef":
        return [shape for part in argument(profile, 2) for shape in profile_shapes(ctx, part, depth + 1)]
    if kind in ("IfcDerivedProfileDef", "IfcMirroredProfileDef"):
        mirrored = kind == "IfcMirroredProfileDef"
        matrix = np.diag([-1.0, 1.0, 1.0]) if mirrored else operator2d(ctx, argument(profile, 3))
        scale = abs(float(np.linalg.det(matrix[:2, :2]))) ** 0.5
        found = []
        for shape, bored in profile_shapes(ctx, argument(profile, 2), depth + 1):
            x, y, _ = matrix @ np.array([*shape.centre, 1.0])
            moved = Round((float(x), float(y)), shape.diameter * scale, shape.length * scale, shape.corners)
            found.append((moved, bored))
        return found
    raise Unread(f"its profile is an {kind}, which is not read as a fastener")


def _shape(corners: FloatArray) -> Round:
    shape = measured(corners)
    if shape is None:
        raise Unread("its profile has no area")
    return shape


def _revolved(ctx: Context, item: Entity) -> Turned:
    if abs(float(argument(item, 3)) * ctx.rad) < 2 * math.pi - 1e-3:
        raise Unread("its body is not turned all the way round")
    matrix = axis2placement3d(ctx, argument(item, 1))
    axis = argument(item, 2)
    origin = np.array([*ctx.point(argument(axis, 0)), 0.0][:3])
    ratios = argument(axis, 1)
    along = np.array(ctx.direction(ratios) if ratios is not None else (0.0, 0.0, 1.0))
    along = along / np.linalg.norm(along)
    if abs(along[2]) > 1e-6:
        raise Unread("its body is turned about an axis outside its profile's plane")
    corners = _turned_profile(ctx, argument(item, 0))
    moved = corners - origin[:2]
    t = moved @ along[:2]
    r = np.abs(moved @ np.array([-along[1], along[0]]))
    slabs = tuple(Slab(low, high, _widest(t, r, (low + high) / 2)) for low, high in pairwise(levels(t)))
    if not slabs:
        raise Unread("its body is turned from nothing")
    point = matrix[:3, :3] @ origin + matrix[:3, 3]
    return Turned(point, matrix[:3, :3] @ along, slabs, bored=bool(r.min() > 0.1))


def _turned_profile(ctx: Context, profile: Entity) -> FloatArray:
    kind = profile.is_a()
    if kind == "IfcRectangleProfileDef":
        place = axis2placement2d(ctx, argument(profile, 2))
        x, y = (float(argument(profile, i)) * ctx.mm / 2 for i in (3, 4))
        return (np.array([[x, y, 1.0], [-x, y, 1.0], [-x, -y, 1.0], [x, -y, 1.0]]) @ place.T)[:, :2]
    if kind in ("IfcArbitraryClosedProfileDef", "IfcArbitraryProfileDefWithVoids"):
        return flatten(curves.loop(ctx, argument(profile, 2)))
    raise Unread(f"its body is turned from an {kind}, which is not read as a fastener")


def _widest(t: FloatArray, r: FloatArray, middle: float) -> float:
    """Diameter at ``middle`` of the body turned from the closed outline (t, r)."""
    best = 0.0
    for (ta, ra), (tb, rb) in pairwise([*zip(t, r, strict=True), (t[0], r[0])]):
        if (ta < middle) != (tb < middle):
            best = max(best, float(ra + (rb - ra) * (middle - ta) / (tb - ta)))
    return 2 * best


def _swept_disk(ctx: Context, item: Entity) -> list[Turned]:
    radius = float(argument(item, 1)) * ctx.mm
    if not radius > 0:
        raise Unread("its body has no radius")
    bored = argument(item, 2) is not None
    path = path_points(ctx, argument(item, 0), 0)
    runs = straight_runs(path)
    bent = len(runs) > 1 or any(point is None for point in path)
    # the legs of a hooked or bent rod are bolts, its bends and hooks are not
    legs = [run for run in runs if np.linalg.norm(run[1] - run[0]) > 6 * radius] or runs[:1]
    if not legs:
        raise Unread("its body is swept along a curve without a straight run")
    found = []
    for start, end in legs:
        length = float(np.linalg.norm(end - start))
        slab = Slab(0.0, length, 2 * radius)
        found.append(Turned(start, (end - start) / length, (slab,), bored, bent))
    return found


def _primitive(ctx: Context, item: Entity, kind: str) -> Turned:
    matrix = axis2placement3d(ctx, argument(item, 0))
    up = matrix[:3, 2]
    if kind == "IfcSphere":
        radius = float(argument(item, 1)) * ctx.mm
        return Turned(matrix[:3, 3], up, (Slab(-radius, radius, 2 * radius),))
    if kind == "IfcBlock":
        x, y, z = (float(argument(item, i)) * ctx.mm for i in (1, 2, 3))
        corners = np.array([[0, 0], [x, 0], [x, y], [0, y]], dtype=float)
        shape = _shape(corners)
        point, direction = _placed(matrix, shape.centre, np.array([0.0, 0.0, 1.0]))
        return Turned(point, direction, (Slab(0.0, z, shape.diameter, shape.corners, shape.length),))
    height, radius = (float(argument(item, i)) * ctx.mm for i in (1, 2))
    diameter = radius if kind == "IfcRightCircularCone" else 2 * radius
    return Turned(matrix[:3, 3], up, (Slab(0.0, height, diameter),))


def _curved_faces(ctx: Context, item: Entity) -> list[Turned]:
    """Cylindrical, conical and flat faces about the cylinders' axes; one body an axis."""
    axes: list[tuple[FloatArray, FloatArray]] = []
    parts: list[tuple[Entity, FloatArray]] = []
    for face in argument(argument(item, 0), 0):
        surface = face.FaceSurface
        corners = _corners(ctx, face)
        parts.append((surface, corners))
        if surface.is_a("IfcCylindricalSurface"):
            place = axis2placement3d(ctx, surface.Position)
            if not any(_same_line(place[:3, 3], place[:3, 2], *axis) for axis in axes):
                axes.append((place[:3, 3], place[:3, 2]))
    if not axes:
        return [_of_shell(ctx, shell) for shell in shells(ctx, item)]
    slabs: list[list[Slab]] = [[] for _ in axes]
    for surface, corners in parts:
        for number, (point, direction) in enumerate(axes):
            along = (corners - point) @ direction
            if len(along) == 0 or np.ptp(along) <= 0.01:
                continue
            off = corners - point - along[:, None] * direction
            reach = float(np.linalg.norm(off, axis=1).max())
            start, end = float(along.min()), float(along.max())
            if surface.is_a("IfcCylindricalSurface"):
                place = axis2placement3d(ctx, surface.Position)
                if _same_line(place[:3, 3], place[:3, 2], point, direction):
                    slabs[number].append(Slab(start, end, 2 * float(surface.Radius) * ctx.mm))
            elif len(axes) == 1:
                slabs[number].append(Slab(start, end, 2 * reach, len(corners)))
    return [
        Turned(point, direction, tuple(sorted(found, key=lambda s: (s.start, s.end, s.diameter))))
        for (point, direction), found in zip(axes, slabs, strict=True)
        if found
    ]


def _corners(ctx: Context, face: Entity) -> FloatArray:
    found = []
    for bound in argument(face, 0):
        loop = argument(bound, 0)
        if not loop.is_a("IfcEdgeLoop"):
            continue
        for oriented in loop.EdgeList:
            edge = oriented.EdgeElement
            found += [spatial(ctx.point(v.VertexGeometry)) for v in (edge.EdgeStart, edge.EdgeEnd)]
    return np.array(found).reshape(-1, 3)


def _same_line(point: FloatArray, direction: FloatArray, other: FloatArray, along: FloatArray) -> bool:
    if abs(float(direction @ along)) < 0.9999:
        return False
    return float(np.linalg.norm(np.cross(point - other, along))) < 0.1
