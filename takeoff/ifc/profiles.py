"""Profile definitions as sections in the profile's plane.

A profile is evaluated by the standard's own definitions (ISO 16739-1), never by a
geometry kernel: a parametric profile lies about the centre of its bounding box, its
Position moves it, a derived profile's operator is applied to all of that (a mirrored
one's turns x about), and what comes out is a section with the place and the
directions of its own axes in the plane of the profile. These axes may be left-handed
there: the piece then runs against the extrusion (see :mod:`takeoff.steel`).

Not read (Unread says why): sloping legs of angles, tapered stems, ellipses,
trapezia, composite and centre-line profiles, arcs that non-uniform scaling makes
ellipses.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from takeoff import steel
from takeoff.drawn.sizes import coarse_round
from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.curves import Loop, loop, turned
from takeoff.ifc.parametric import PARAMETRIC, Sizes
from takeoff.ifc.placements import axis2placement2d, operator2d
from takeoff.sections import loops, plates, shapes
from takeoff.sections.recognise import TOLERANCE_MM, recognise
from takeoff.steel import FloatArray, Point2, Section


@dataclass(frozen=True, slots=True)
class Rolled:
    """A section and where its axes lie in the profile's plane, mm. ``u`` and ``v`` are unit vectors."""

    section: Section
    origin: Point2
    u: Point2
    v: Point2


@dataclass(frozen=True, slots=True)
class Box:
    """A plain rectangle: its middle, the direction of its first side, and both sides in mm."""

    middle: Point2
    along: Point2
    first: float
    second: float


@dataclass(frozen=True, slots=True)
class Profile:
    """What a profile definition draws. Exactly one of ``box``, ``rolled`` and ``outer`` alone tells the kind.

    ``outer`` and ``inners`` (anti-clockwise) are set wherever the profile could be the outline of a
    plate; ``wall`` is the least thickness of ``rolled``: what is extruded by less is a plate.
    """

    text: str
    rolled: Rolled | None = None
    box: Box | None = None
    outer: Loop = ()
    inners: tuple[Loop, ...] = ()
    wall: float = 0.0
    assumed: str = ""
    """What had to be assumed to read it."""


class Profiles:
    """Profiles of one file, each entity evaluated once."""

    def __init__(self, ctx: Context) -> None:
        self._ctx = ctx
        self._known: dict[tuple[object, ...], Profile | Unread] = {}

    def read(self, entity: Entity, scale: float = 1.0) -> Profile:
        """The profile of an IfcProfileDef, ``scale`` times as large; raises Unread where it cannot be read."""
        return self._read((entity.id(), scale), entity, np.diag([scale, scale, 1.0]))

    def stretched(self, entity: Entity, matrix: FloatArray) -> Profile:
        """The profile under a (3, 3) that may stretch or shear it; raises Unread where it cannot be read."""
        return self._read((entity.id(), matrix.tobytes()), entity, matrix)

    def _read(self, key: tuple[object, ...], entity: Entity, matrix: FloatArray) -> Profile:
        found = self._known.get(key)
        if found is None:
            try:
                found = self._evaluate(entity, matrix, 0)
            except Unread as error:
                found = error
            self._known[key] = found
        if isinstance(found, Unread):
            raise found
        return found

    def all(self) -> list[Profile]:
        """Every profile that was read so far."""
        return [found for found in self._known.values() if isinstance(found, Profile)]

    def _evaluate(self, entity: Entity, matrix: FloatArray, depth: int) -> Profile:
        if depth > 16:
            raise Unread("its profile is derived from itself")
        kind = entity.is_a()
        if argument(entity, 0) == "CURVE":
            raise Unread("its profile is a line without a thickness")
        text = str(argument(entity, 1) or "").strip()
        if kind in ("IfcDerivedProfileDef", "IfcMirroredProfileDef"):
            mirrored = kind == "IfcMirroredProfileDef"
            operator = _MIRROR if mirrored else operator2d(self._ctx, argument(entity, 3))
            parent = self._evaluate(argument(entity, 2), matrix @ operator, depth + 1)
            return replace(parent, text=text or parent.text)
        if kind in _OUTLINES:
            profile = _OUTLINES[kind](self._ctx, entity, matrix)
            return replace(profile, text=text)
        if kind in PARAMETRIC or kind in _BOXES:
            whole = matrix @ axis2placement2d(self._ctx, argument(entity, 2))
            if kind in _BOXES:
                profile = _BOXES[kind](self._ctx, entity, whole)
            else:
                profile = _parametric(self._ctx, entity, whole, kind)
            return replace(profile, text=text)
        words = {
            "IfcCompositeProfileDef": "several profiles in one",
            "IfcCenterLineProfileDef": "a line with a thickness",
            "IfcEllipseProfileDef": "an ellipse",
            "IfcTrapeziumProfileDef": "a trapezium",
        }
        raise Unread(f"its profile is {words.get(kind, f'an {kind}')}, which is not read yet")


_MIRROR = np.diag([-1.0, 1.0, 1.0])
"""IfcMirroredProfileDef: Axis1 is (-1, 0), Axis2 is (0, 1), whatever operator the file writes."""


def _is_uniform(matrix: FloatArray) -> bool:
    """Whether a matrix turns, mirrors and scales, but neither stretches nor shears."""
    (a, b), (c, d) = matrix[0, :2].tolist(), matrix[1, :2].tolist()
    first, second = math.hypot(a, c), math.hypot(b, d)
    return abs(first - second) <= 1e-9 * first and abs(a * b + c * d) <= 1e-9 * first * second


def _uniform(matrix: FloatArray) -> float:
    """The one scale of a matrix; Unread where there are two."""
    if not _is_uniform(matrix):
        raise Unread("its profile is stretched in one direction, which is not read yet")
    return math.hypot(matrix[0, 0], matrix[1, 0])


def _point(matrix: FloatArray, point: Point2) -> Point2:
    x, y = point
    return (
        float(matrix[0, 0] * x + matrix[0, 1] * y + matrix[0, 2]),
        float(matrix[1, 0] * x + matrix[1, 1] * y + matrix[1, 2]),
    )


def _direction(matrix: FloatArray, vector: Point2) -> Point2:
    x, y = vector
    dx = float(matrix[0, 0] * x + matrix[0, 1] * y)
    dy = float(matrix[1, 0] * x + matrix[1, 1] * y)
    size = math.hypot(dx, dy)
    return dx / size, dy / size


def _wall(section: Section) -> float:
    """The least wall of a section: what is extruded by less than this is cut from a plate."""
    walls = [t for t in (section.tw, section.tf, section.tf2) if t > 0]
    return min(walls) if walls else min(section.h, section.b)


# ------------------------------------------------------------ parametric


def _parametric(ctx: Context, entity: Entity, whole: FloatArray, kind: str) -> Profile:
    even = _is_uniform(whole)
    factor = _uniform(whole) if even else 1.0
    sizes = Sizes(ctx, entity, factor)
    try:
        section, origin, u, v = PARAMETRIC[kind](sizes)
    except ValueError as error:
        raise Unread(f"its profile has impossible dimensions ({error})") from error
    if not even:
        # stretched, an angle's legs differ in thickness: it is what its outline says
        own = Rolled(section, origin, u, v)
        outer, *inners = (_mapped(_seated(own, edge), whole) for edge in shapes.loops_of(section))
        return _drawn(outer, tuple(inners))
    place = _point(whole, (origin[0] / factor, origin[1] / factor))
    rolled = Rolled(section, place, _direction(whole, u), _direction(whole, v))
    outer, *inners = (_seated(rolled, edge) for edge in shapes.loops_of(section))
    assumed = "flange width of a Z profile measured over the web" if kind == "IfcZShapeProfileDef" else ""
    return Profile("", rolled, None, outer, tuple(inners), _wall(section), assumed)


def _seated(rolled: Rolled, edge: Loop) -> Loop:
    """A loop of the section's own axes in the profile's plane, anti-clockwise."""
    matrix = np.array(
        [
            [rolled.u[0], rolled.v[0], rolled.origin[0]],
            [rolled.u[1], rolled.v[1], rolled.origin[1]],
            [0.0, 0.0, 1.0],
        ]
    )
    return plates.anticlockwise(turned(edge, matrix))


# ------------------------------------------------------------ rectangles


def _rectangle(ctx: Context, entity: Entity, whole: FloatArray) -> Profile:
    sizes = Sizes(ctx, entity, 1.0)
    first = sizes.need(3, "width") * math.hypot(whole[0, 0], whole[1, 0])
    second = sizes.need(4, "depth") * math.hypot(whole[0, 1], whole[1, 1])
    square = abs(whole[0, 0] * whole[0, 1] + whole[1, 0] * whole[1, 1])
    if square > 1e-9 * math.hypot(whole[0, 0], whole[1, 0]) * math.hypot(whole[0, 1], whole[1, 1]):
        raise Unread("its profile is skewed by its mapping")
    return Profile("", box=Box(_point(whole, (0.0, 0.0)), _direction(whole, (1.0, 0.0)), first, second))


def _rounded(ctx: Context, entity: Entity, whole: FloatArray) -> Profile:
    sizes = Sizes(ctx, entity, 1.0)
    x, y, r = sizes.need(3, "width") / 2, sizes.need(4, "depth") / 2, sizes.may(5)
    if r == 0:
        return _rectangle(ctx, entity, whole)
    try:
        edge = loops.fillet([(-x, -y, r), (x, -y, r), (x, y, r), (-x, y, r)])
    except ValueError as error:
        raise Unread(f"its profile has impossible dimensions ({error})") from error
    return _drawn(_mapped(edge, whole), ())


_BOXES: dict[str, Callable[[Context, Entity, FloatArray], Profile]] = {
    "IfcRectangleProfileDef": _rectangle,
    "IfcRoundedRectangleProfileDef": _rounded,
}


# ------------------------------------------------------------ drawn outlines


def _closed(ctx: Context, entity: Entity, matrix: FloatArray) -> Profile:
    return _drawn(_mapped(loop(ctx, argument(entity, 2)), matrix), ())


def _closed_with_voids(ctx: Context, entity: Entity, matrix: FloatArray) -> Profile:
    outer = _mapped(loop(ctx, argument(entity, 2)), matrix)
    return _drawn(outer, tuple(_mapped(loop(ctx, curve), matrix) for curve in argument(entity, 3) or ()))


def _mapped(edge: Loop, matrix: FloatArray) -> Loop:
    """A loop under a (3, 3), anti-clockwise; Unread where arcs would become ellipses."""
    if any(corner[2] for corner in edge) and not _is_uniform(matrix):
        raise Unread("its profile is stretched in one direction and its arcs with it, which is not read yet")
    return plates.anticlockwise(turned(edge, matrix))


_OUTLINES: dict[str, Callable[[Context, Entity, FloatArray], Profile]] = {
    "IfcArbitraryClosedProfileDef": _closed,
    "IfcArbitraryProfileDefWithVoids": _closed_with_voids,
}


def _drawn(outer: Loop, inners: tuple[Loop, ...]) -> Profile:
    """A profile from its loops: a rectangle, a known section, or an outline only."""
    outer = plates.merged(outer)
    if len(outer) < 2 or loops.area(outer) <= 0:
        raise Unread("an outline of its profile has no area")
    box = None if inners else as_box(outer)
    if box is not None:
        return Profile("", box=box, outer=outer)
    found = recognise(outer, inners) or coarse_round(loops.flatten(outer), inners, TOLERANCE_MM)
    rolled = None
    if found is not None and found.section.shape not in (steel.FLAT, steel.PLATE):
        rolled = Rolled(found.section, found.origin, found.u, found.v)
    wall = _wall(rolled.section) if rolled is not None else 0.0
    return Profile("", rolled, None, outer, inners, wall)


def as_box(outer: Loop) -> Box | None:
    """A loop of four straight edges with square corners as a box, else None."""
    if len(outer) != 4 or any(corner[2] for corner in outer):
        return None
    rectangle = plates.smallest_rectangle(outer)
    if abs(rectangle.length * rectangle.width - loops.area(outer)) > 1e-6 * loops.area(outer):
        return None
    (ox, oy), (cx, cy) = rectangle.origin, rectangle.x
    dx, dy = rectangle.length / 2, rectangle.width / 2
    return Box((ox + cx * dx - cy * dy, oy + cy * dx + cx * dy), rectangle.x, rectangle.length, rectangle.width)
