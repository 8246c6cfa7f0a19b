"""Placements and transformation operators as matrices, by the standard's own definitions.

Matrices act on columns: ``matrix @ (x, y, z, 1)``; columns 0 to 2 are the axes,
column 3 the origin in mm. Axes follow IfcBuildAxes, IfcFirstProjAxis,
IfcSecondProjAxis and IfcBaseAxis of ISO 16739-1: the first axis given is kept, the
next ones are made square to it, and an operator's given axes decide its hand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from takeoff.ifc.context import DAMAGE, Context, Entity, Unread, argument
from takeoff.steel import FloatArray

_IDENTITY = np.eye(4)
_TINY = 1e-9


def placement(ctx: Context, entity: Entity | None) -> FloatArray:
    """An IfcObjectPlacement's (4, 4) in mm, parents included; identity for None.

    Raises Unread for placements that are not local ones (grid, linear) and for chains
    that bite their own tail. Do not change the array: it is shared.
    """
    if entity is None:
        return _IDENTITY
    found = ctx.placements.get(entity.id())
    if found is not None:
        return found  # type: ignore[no-any-return]
    chain: list[Entity] = []
    seen: set[int] = set()
    base: FloatArray = _IDENTITY
    while entity is not None:
        key = entity.id()
        known = ctx.placements.get(key)
        if known is not None:
            base = known
            break
        if key in seen:
            raise Unread("its placement refers to itself")
        seen.add(key)
        _require_local(entity)
        chain.append(entity)
        entity = argument(entity, 0)
    for link in reversed(chain):
        base = base @ axis2placement3d(ctx, argument(link, 1))
        ctx.placements[link.id()] = base
    return base


def frames(ctx: Context, products: Sequence[Entity]) -> tuple[FloatArray, dict[int, str]]:
    """Placements of many products at once: (n, 4, 4) mm, and a sentence by index where one cannot be read.

    Rows of products that cannot be read are not-a-number. Much quicker than one by
    one: axes are made square in one go, and chains multiplied a generation at a time.
    """
    chains = _Chains(ctx)
    wanted: list[int] = []
    rows, row_of = chains.rows, chains.row_of
    for product in products:
        entity = argument(product, 5)
        if entity is None:
            wanted.append(-1)
            continue
        try:
            row = rows.get(entity.id())
            wanted.append(row_of(entity) if row is None else row)
        except DAMAGE:
            wanted.append(chains.lost(_DAMAGED))
    world = chains.matrices()
    failed = chains.failed
    result = world[np.array(wanted, dtype=int)] if wanted else np.empty((0, 4, 4))
    problems = {i: failed[row] for i, row in enumerate(wanted) if row in failed} if failed else {}
    for i in problems:
        result[i] = np.nan
    return result, problems


class _Chains:
    """Chains of local placements as rows of arrays, each placement once."""

    def __init__(self, ctx: Context) -> None:
        self.ctx = ctx
        self.rows: dict[int, int] = {}
        """Row by placement id."""
        self.failed: dict[int, str] = {}
        """A sentence by row that cannot be read; its descendants have it too."""
        self._parents: list[int] = []
        self._depths: list[int] = []
        self._numbers: list[tuple[float, ...]] = []
        # asking each placement for its class costs as much as reading it
        self._plain = not any(ctx.file.by_type(kind) for kind in _other_placements(ctx.schema))

    def row_of(self, entity: Entity) -> int:
        """The row of a placement, its parents' rows made first."""
        key = entity.id()
        if self._plain:  # the usual case: a local placement whose parent is there already
            above = entity.get_argument(0)
            row = -1 if above is None else self.rows.get(above.id())
            if row is not None:
                return self._add(key, entity, row, "")
        chain: list[tuple[int, Entity]] = []
        known, broken = -1, ""
        step: Entity | None = entity
        while step is not None:
            key = step.id()
            row = self.rows.get(key)
            if row is not None:
                known = row
                break
            if any(key == link for link, _ in chain):
                broken = "its placement refers to itself"
                break
            chain.append((key, step))
            if not (self._plain or step.is_a("IfcLocalPlacement")):
                broken = _not_local(step)
                break
            step = argument(step, 0)
        for key, link in reversed(chain):
            known = self._add(key, link, known, broken)
        return known

    def _add(self, key: int, link: Entity, parent: int, broken: str) -> int:
        row = self.rows[key] = len(self._parents)
        self._parents.append(parent)
        self._depths.append(self._depths[parent] + 1 if parent >= 0 else 0)
        sentence = broken or (self.failed.get(parent, "") if self.failed else "")
        if not sentence:
            try:
                self._numbers.append(_numbers(self.ctx, link.get_argument(1)))
                return row
            except Unread as error:
                sentence = error.sentence
            except DAMAGE:
                sentence = _DAMAGED
        self._numbers.append(_NO_AXES)
        self.failed[row] = sentence
        return row

    def lost(self, sentence: str) -> int:
        """A row for a placement that is none."""
        self._parents.append(-1)
        self._depths.append(0)
        self._numbers.append(_NO_AXES)
        self.failed[len(self._parents) - 1] = sentence
        return len(self._parents) - 1

    def matrices(self) -> FloatArray:
        """(n + 1, 4, 4) in model coordinates; the last is for products without a placement."""
        world = np.empty((len(self._parents) + 1, 4, 4))
        world[-1] = _IDENTITY
        if not self._parents:
            return world
        local, bad = _square(np.array(self._numbers))
        for row in np.flatnonzero(bad).tolist():
            self.failed.setdefault(row, _PARALLEL)
        levels, above = np.array(self._depths), np.array(self._parents)
        for level in range(int(levels.max()) + 1):
            rows = np.flatnonzero(levels == level)
            world[rows] = local[rows] if level == 0 else world[above[rows]] @ local[rows]
        lost = ~np.isfinite(world[:-1]).all(axis=(1, 2))
        for row in np.flatnonzero(lost).tolist():
            self.failed.setdefault(row, _PARALLEL)
        return world


def _other_placements(schema: str) -> tuple[str, ...]:
    return ("IfcGridPlacement", "IfcLinearPlacement") if schema == "IFC4X3" else ("IfcGridPlacement",)


_NO_AXES = (0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 0.0, 0.0)
_DAMAGED = "its placement is damaged in the file"
_PARALLEL = "the two axes of its placement are parallel or have no length"


def _require_local(entity: Entity) -> None:
    if not entity.is_a("IfcLocalPlacement"):
        raise Unread(_not_local(entity))


def _not_local(entity: Entity) -> str:
    if entity.is_a("IfcGridPlacement"):
        return "it is placed by a grid, which is not read yet"
    return f"it is placed by an {entity.is_a()}, which is not read yet"


def _numbers(ctx: Context, entity: Entity) -> tuple[float, ...]:
    """Location, Axis, RefDirection of a 3-D (or 2-D) placement as nine numbers, defaults filled in."""
    if entity is None:
        return _NO_AXES
    if entity.is_a() != "IfcAxis2Placement3D":
        if entity.is_a("IfcAxis2Placement2D"):
            x, y = ctx.point(argument(entity, 0))[:2]
            ref = argument(entity, 1)
            rx, ry = ctx.direction(ref)[:2] if ref is not None else (1.0, 0.0)
            return (x, y, 0.0, 0.0, 0.0, 1.0, rx, ry, 0.0)
        raise Unread(f"its placement is an {entity.is_a()}, which is not read yet")
    mm = ctx.mm
    get = entity.get_argument
    x, y, *more = get(0).get_argument(0)
    height = more[0] * mm if more else 0.0
    axis, ref = get(1), get(2)
    known = ctx.directions
    z = _UP if axis is None else known.get(axis.id()) or ctx.direction(axis)
    if ref is not None:
        side = known.get(ref.id()) or ctx.direction(ref)
    else:
        along_x = abs(z[1]) <= _TINY * abs(z[0]) and abs(z[2]) <= _TINY * abs(z[0])
        side = (0.0, 1.0, 0.0) if along_x else (1.0, 0.0, 0.0)
    if len(z) == len(side) == 3:
        return (x * mm, y * mm, float(height), *z, *side)
    return (x * mm, y * mm, float(height), *_three(z), *_three(side))


_UP = (0.0, 0.0, 1.0)


def _three(values: tuple[float, ...]) -> tuple[float, float, float]:
    return (values[0], values[1], values[2] if len(values) > 2 else 0.0)


def _square(numbers: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(n, 9) of location, axis, reference direction -> (n, 4, 4), and which are degenerate."""
    with np.errstate(invalid="ignore", divide="ignore"):
        z = numbers[:, 3:6] / np.linalg.norm(numbers[:, 3:6], axis=1, keepdims=True)
        ref = numbers[:, 6:9] / np.linalg.norm(numbers[:, 6:9], axis=1, keepdims=True)
        x = ref - np.einsum("ij,ij->i", ref, z)[:, None] * z
        size = np.linalg.norm(x, axis=1, keepdims=True)
        x = x / size
    matrix = np.zeros((len(numbers), 4, 4))
    matrix[:, :3, 0] = x
    matrix[:, :3, 1] = np.cross(z, x)
    matrix[:, :3, 2] = z
    matrix[:, :3, 3] = numbers[:, :3]
    matrix[:, 3, 3] = 1.0
    bad = ~(size[:, 0] > 1e-6)
    matrix[bad] = np.nan
    return matrix, bad


def axis2placement3d(ctx: Context, entity: Entity | None) -> FloatArray:
    """(4, 4) in mm of an IfcAxis2Placement3D; a 2-D one lies in z = 0; identity for None. Shared array."""
    if entity is None:
        return _IDENTITY
    key = entity.id()
    found = ctx.axes.get(key)
    if found is None:
        matrices, bad = _square(np.array([_numbers(ctx, entity)]))
        if bad[0]:
            raise Unread(_PARALLEL)
        found = ctx.axes[key] = matrices[0]
    return found  # type: ignore[no-any-return]


def axis2placement2d(ctx: Context, entity: Entity | None) -> FloatArray:
    """(3, 3) in mm of an IfcAxis2Placement2D; identity for None.

    A 3-D placement used in a plane is projected on it; seen from below it is mirrored.
    """
    if entity is None:
        return np.eye(3)
    if entity.is_a("IfcAxis2Placement3D"):
        whole = axis2placement3d(ctx, entity)
        if abs(abs(whole[2, 2]) - 1.0) > 1e-6:
            raise Unread("a curve of its profile does not lie in the profile's plane")
        return np.array([[whole[0, 0], whole[0, 1], whole[0, 3]], [whole[1, 0], whole[1, 1], whole[1, 3]], [0, 0, 1.0]])
    x, y = ctx.point(argument(entity, 0))[:2]
    ref = argument(entity, 1)
    c, s = _unit2(ctx.direction(ref)) if ref is not None else (1.0, 0.0)
    return np.array([[c, -s, x], [s, c, y], [0.0, 0.0, 1.0]])


def operator2d(ctx: Context, entity: Entity) -> FloatArray:
    """(3, 3) in mm of an IfcCartesianTransformationOperator2D, non-uniform ones too.

    IfcBaseAxis for two dimensions: Axis1 is kept, the second axis is square to it on
    the side Axis2 points to; with Axis2 alone the first axis is square to it.
    """
    first, second = argument(entity, 0), argument(entity, 1)
    if first is not None:
        ux, uy = _unit2(ctx.direction(first))
        vx, vy = -uy, ux
        if second is not None:
            given = ctx.direction(second)
            if given[0] * vx + given[1] * vy < 0:
                vx, vy = -vx, -vy
    elif second is not None:
        vx, vy = _unit2(ctx.direction(second))
        ux, uy = vy, -vx
    else:
        ux, uy, vx, vy = 1.0, 0.0, 0.0, 1.0
    scale = _scale(argument(entity, 3), 1.0)
    scale2 = scale
    if entity.is_a("IfcCartesianTransformationOperator2DnonUniform"):
        scale2 = _scale(argument(entity, 4), scale)
    x, y = ctx.point(argument(entity, 2))[:2]
    return np.array([[ux * scale, vx * scale2, x], [uy * scale, vy * scale2, y], [0.0, 0.0, 1.0]])


def operator3d(ctx: Context, entity: Entity | None) -> FloatArray:
    """(4, 4) in mm of an IfcCartesianTransformationOperator3D; identity for None.

    IfcBaseAxis for three dimensions: Axis3 is kept, Axis1 made square to it, Axis2
    square to both on the side it points to: an Axis2 that points the other way mirrors.
    Shared array.
    """
    if entity is None:
        return _IDENTITY
    key = entity.id()
    found = ctx.axes.get(key)
    if found is None:
        found = ctx.axes[key] = _operator3d(ctx, entity)
    return found


def _operator3d(ctx: Context, entity: Entity) -> FloatArray:
    if not entity.is_a("IfcCartesianTransformationOperator3D"):
        raise Unread(f"its mapping is an {entity.is_a()}, which does not fit a solid")
    first, second, third = argument(entity, 0), argument(entity, 1), argument(entity, 4)
    if first is None and second is None and third is None and argument(entity, 3) in (None, 1.0):
        matrix = np.eye(4)
        matrix[:3, 3] = _three(ctx.point(argument(entity, 2)))
        if entity.is_a() == "IfcCartesianTransformationOperator3D":
            return matrix
    z = _unit3(ctx.direction(third)) if third is not None else np.array([0.0, 0.0, 1.0])
    if first is not None:
        given = _unit3(ctx.direction(first))
    else:
        given = np.array([0.0, 1.0, 0.0]) if abs(abs(z[0]) - 1.0) <= _TINY else np.array([1.0, 0.0, 0.0])
    x = _unit3(tuple(given - (given @ z) * z))
    arg = _unit3(ctx.direction(second)) if second is not None else _default_second(z, x)
    y = _unit3(tuple(arg - (arg @ z) * z - (arg @ x) * x))
    scale = _scale(argument(entity, 3), 1.0)
    scale2 = scale3 = scale
    if entity.is_a("IfcCartesianTransformationOperator3DnonUniform"):
        scale2 = _scale(argument(entity, 5), scale)
        scale3 = _scale(argument(entity, 6), scale)
    matrix = np.eye(4)
    matrix[:3, 0] = x * scale
    matrix[:3, 1] = y * scale2
    matrix[:3, 2] = z * scale3
    matrix[:3, 3] = _three(ctx.point(argument(entity, 2)))
    return matrix


def _default_second(z: FloatArray, x: FloatArray) -> FloatArray:
    """What IfcSecondProjAxis projects without an argument: (0, 1, 0); where that vanishes, z x x is left."""
    given = np.array([0.0, 1.0, 0.0])
    if np.linalg.norm(given - (given @ z) * z - (given @ x) * x) > 1e-6:
        return given
    return np.cross(z, x)


def _scale(value: float | None, default: float) -> float:
    scale = default if value is None else float(value)
    if not (scale > 0 and math.isfinite(scale)):
        raise Unread(f"its mapping has the scale {scale:g}")
    return scale


def _unit2(values: tuple[float, ...]) -> tuple[float, float]:
    size = math.hypot(values[0], values[1])
    if not size > 0:
        raise Unread(_PARALLEL)
    return values[0] / size, values[1] / size


def _unit3(values: tuple[float, ...]) -> FloatArray:
    vector = np.array(_three(values))
    size = float(np.linalg.norm(vector))
    if not size > _TINY:
        raise Unread(_PARALLEL)
    return vector / size
