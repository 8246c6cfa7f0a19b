"""Profile definitions as sections in the profile's plane.

A profile is evaluated by the standard's own definitions (ISO 16739-1), never by a
geometry kernel: a parametric profile lies about the centre of its bounding box, its
Position moves it, a derived profile's operator is applied to all of that (a mirrored
one's turns x about), and what comes out is a section with the place and the
directions of its own axes in the plane of the profile. These axes may be left-handed
there: the piece then runs against the extrusion (see :mod:`takeoff.steel`).

Not read (Unread says why): sloping legs of angles, tapered stems, ellipses,
trapezia, composite and centre-line profiles, non-uniform scaling of anything but
a rectangle.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from takeoff import steel
from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.curves import Loop, loop, turned
from takeoff.ifc.placements import axis2placement2d, operator2d
from takeoff.sections import loops, plates, shapes
from takeoff.sections.recognise import recognise
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


_Local = tuple[Section, Point2, Point2, Point2]
"""A section with its axes before Position."""


class Profiles:
    """Profiles of one file, each entity evaluated once."""

    def __init__(self, ctx: Context) -> None:
        self._ctx = ctx
        self._known: dict[tuple[int, float], Profile | Unread] = {}

    def read(self, entity: Entity, scale: float = 1.0) -> Profile:
        """The profile of an IfcProfileDef, ``scale`` times as large; raises Unread where it cannot be read."""
        key = (entity.id(), scale)
        found = self._known.get(key)
        if found is None:
            try:
                found = self._evaluate(entity, np.diag([scale, scale, 1.0]), 0)
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
            scale = _uniform(matrix)
            profile = _OUTLINES[kind](self._ctx, entity, matrix, scale)
            return replace(profile, text=text)
        if kind in _PARAMETRIC or kind in _BOXES:
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


def _uniform(matrix: FloatArray) -> float:
    """The one scale of a matrix; Unread where there are two."""
    first, second = math.hypot(matrix[0, 0], matrix[1, 0]), math.hypot(matrix[0, 1], matrix[1, 1])
    if abs(first - second) > 1e-9 * first:
        raise Unread("its profile is stretched in one direction, which is not read yet")
    return first


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


class _Sizes:
    """A parametric profile's dimensions by position, in mm times the scale it is drawn with."""

    def __init__(self, ctx: Context, entity: Entity, scale: float) -> None:
        self.ctx = ctx
        self._entity = entity
        self._factor = ctx.mm * scale

    def need(self, index: int, what: str) -> float:
        value = argument(self._entity, index)
        if value is None or not float(value) > 0 or not math.isfinite(value):
            raise Unread(f"its profile does not say its {what}")
        return float(value) * self._factor

    def may(self, index: int) -> float:
        """An optional dimension; 0 where the file leaves it out."""
        value = argument(self._entity, index)
        if value is None:
            return 0.0
        if not 0 <= float(value) < 1e9:
            raise Unread(f"a dimension of its profile is {float(value):g}")
        return float(value) * self._factor

    def slope(self, index: int) -> float:
        """The tangent of an optional angle."""
        value = argument(self._entity, index)
        return math.tan(abs(float(value)) * self.ctx.rad) if value else 0.0

    def straight(self, index: int, what: str) -> None:
        if argument(self._entity, index):
            raise Unread(f"{what} of its profile taper, which is not read yet")


def _parametric(ctx: Context, entity: Entity, whole: FloatArray, kind: str) -> Profile:
    sizes = _Sizes(ctx, entity, _uniform(whole))
    try:
        section, origin, u, v = _PARAMETRIC[kind](sizes)
    except ValueError as error:
        raise Unread(f"its profile has impossible dimensions ({error})") from error
    factor = _uniform(whole)
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


def _angle(s: _Sizes) -> _Local:
    depth, t = s.need(3, "depth"), s.need(5, "thickness")
    width = s.may(4) or depth
    s.straight(8, "the legs")
    section = shapes.angle(depth, width, t, s.may(6), s.may(7))
    heel = (-width / 2, -depth / 2)
    return (section, heel, (1, 0), (0, 1)) if depth >= width else (section, heel, (0, 1), (1, 0))


def _channel(s: _Sizes) -> _Local:
    h, b = s.need(3, "depth"), s.need(4, "flange width")
    section = shapes.channel(
        h, b, s.need(5, "web thickness"), s.need(6, "flange thickness"), s.may(7), s.may(8), s.slope(9)
    )
    return section, (-b / 2, -h / 2), (1, 0), (0, 1)


def _i_shape(s: _Sizes) -> _Local:
    b, h = s.need(3, "width"), s.need(4, "depth")
    newer = s.ctx.schema != "IFC2X3"
    section = shapes.i_section(
        h,
        b,
        s.need(5, "web thickness"),
        s.need(6, "flange thickness"),
        s.may(7),
        slope=s.slope(9) if newer else 0.0,
        r2=s.may(8) if newer else 0.0,
    )
    return section, (0, -h / 2), (1, 0), (0, 1)


def _asymmetric_i(s: _Sizes) -> _Local:
    bottom, h, tw = s.need(3, "bottom flange width"), s.need(4, "depth"), s.need(5, "web thickness")
    bottom_t = s.need(6, "bottom flange thickness")
    top, top_t = s.need(8, "top flange width"), s.may(9) or bottom_t
    newer = s.ctx.schema != "IFC2X3"
    slope = s.slope(12) if newer else 0.0
    if newer and abs(s.slope(14) - slope) > 1e-6:
        raise Unread("the flanges of its profile taper differently, which is not read yet")
    section = shapes.i_section(h, top, tw, top_t, s.may(7), bottom, bottom_t, slope)
    if (top, top_t) >= (bottom, bottom_t):
        return section, (0, -h / 2), (1, 0), (0, 1)
    return section, (0, h / 2), (1, 0), (0, -1)  # the wider flange is the section's top


def _tee(s: _Sizes) -> _Local:
    h, b = s.need(3, "depth"), s.need(4, "flange width")
    s.straight(10, "the stem's sides")
    section = shapes.tee(
        h, b, s.need(5, "stem thickness"), s.need(6, "flange thickness"), s.may(7), s.may(8), s.slope(11)
    )
    return section, (0, h / 2), (1, 0), (0, -1)  # IFC draws the flange on top, the frame has it below


def _hollow_box(s: _Sizes) -> _Local:
    x, y, t = s.need(3, "width"), s.need(4, "depth"), s.need(5, "wall thickness")
    section = shapes.rhs(y, x, t, s.may(7), s.may(6))
    corner = (-x / 2, -y / 2)
    return (section, corner, (1, 0), (0, 1)) if y >= x else (section, corner, (0, 1), (1, 0))


def _round(s: _Sizes) -> _Local:
    return shapes.round_bar(2 * s.need(3, "radius")), (0, 0), (1, 0), (0, 1)


def _tube(s: _Sizes) -> _Local:
    return shapes.chs(2 * s.need(3, "radius"), s.need(4, "wall thickness")), (0, 0), (1, 0), (0, 1)


def _lipped(s: _Sizes) -> _Local:
    h, b = s.need(3, "depth"), s.need(4, "width")
    section = shapes.lipped_channel(h, b, s.need(5, "wall thickness"), s.need(6, "girth"), s.may(7))
    return section, (-b / 2, -h / 2), (1, 0), (0, 1)


def _zed(s: _Sizes) -> _Local:
    """A Z: the bottom flange points to +x, the top one back. The flange width is taken over the web."""
    h, b, tw, tf = s.need(3, "depth"), s.need(4, "flange width"), s.need(5, "web"), s.need(6, "flange")
    if s.may(7) or abs(tw - tf) <= 1e-6:
        if abs(tw - tf) > 1e-6:
            raise Unread("its Z profile has flanges of another thickness than its web, which is not read yet")
        section = shapes.zed(h, b, tw, 0.0, s.may(7))
    else:
        far = 2 * b - tw
        lower = ((b - tw, 0), (far, 0), (far, tf), (b, tf))
        section = shapes.other((*lower, (b, h), (0, h), (0, h - tf), (b - tw, h - tf)))
    return section, (-section.b / 2, -h / 2), (1, 0), (0, 1)


_PARAMETRIC: dict[str, Callable[[_Sizes], _Local]] = {
    "IfcLShapeProfileDef": _angle,
    "IfcUShapeProfileDef": _channel,
    "IfcIShapeProfileDef": _i_shape,
    "IfcAsymmetricIShapeProfileDef": _asymmetric_i,
    "IfcTShapeProfileDef": _tee,
    "IfcRectangleHollowProfileDef": _hollow_box,
    "IfcCircleProfileDef": _round,
    "IfcCircleHollowProfileDef": _tube,
    "IfcCShapeProfileDef": _lipped,
    "IfcZShapeProfileDef": _zed,
}


# ------------------------------------------------------------ rectangles


def _rectangle(ctx: Context, entity: Entity, whole: FloatArray) -> Profile:
    sizes = _Sizes(ctx, entity, 1.0)
    first = sizes.need(3, "width") * math.hypot(whole[0, 0], whole[1, 0])
    second = sizes.need(4, "depth") * math.hypot(whole[0, 1], whole[1, 1])
    square = abs(whole[0, 0] * whole[0, 1] + whole[1, 0] * whole[1, 1])
    if square > 1e-9 * math.hypot(whole[0, 0], whole[1, 0]) * math.hypot(whole[0, 1], whole[1, 1]):
        raise Unread("its profile is skewed by its mapping")
    return Profile("", box=Box(_point(whole, (0.0, 0.0)), _direction(whole, (1.0, 0.0)), first, second))


def _rounded(ctx: Context, entity: Entity, whole: FloatArray) -> Profile:
    scale = _uniform(whole)
    sizes = _Sizes(ctx, entity, 1.0)
    x, y, r = sizes.need(3, "width") / 2, sizes.need(4, "depth") / 2, sizes.may(5)
    if r == 0:
        return _rectangle(ctx, entity, whole)
    try:
        edge = loops.fillet([(-x, -y, r), (x, -y, r), (x, y, r), (-x, y, r)])
    except ValueError as error:
        raise Unread(f"its profile has impossible dimensions ({error})") from error
    return _drawn(plates.anticlockwise(turned(edge, whole)), (), scale)


_BOXES: dict[str, Callable[[Context, Entity, FloatArray], Profile]] = {
    "IfcRectangleProfileDef": _rectangle,
    "IfcRoundedRectangleProfileDef": _rounded,
}


# ------------------------------------------------------------ drawn outlines


def _closed(ctx: Context, entity: Entity, matrix: FloatArray, scale: float) -> Profile:
    outer = turned(loop(ctx, argument(entity, 2)), matrix)
    return _drawn(plates.anticlockwise(outer), (), scale)


def _closed_with_voids(ctx: Context, entity: Entity, matrix: FloatArray, scale: float) -> Profile:
    outer = turned(loop(ctx, argument(entity, 2)), matrix)
    inners = tuple(plates.anticlockwise(turned(loop(ctx, curve), matrix)) for curve in argument(entity, 3) or ())
    return _drawn(plates.anticlockwise(outer), inners, scale)


_OUTLINES: dict[str, Callable[[Context, Entity, FloatArray, float], Profile]] = {
    "IfcArbitraryClosedProfileDef": _closed,
    "IfcArbitraryProfileDefWithVoids": _closed_with_voids,
}


def _drawn(outer: Loop, inners: tuple[Loop, ...], scale: float) -> Profile:
    """A profile from its loops: a rectangle, a known section, or an outline only."""
    outer = plates.merged(outer)
    if len(outer) < 2 or loops.area(outer) <= 0:
        raise Unread("an outline of its profile has no area")
    box = None if inners else as_box(outer)
    if box is not None:
        return Profile("", box=box, outer=outer)
    found = recognise(outer, inners)
    rolled = None
    if found is not None and found.section.shape not in (steel.FLAT, steel.PLATE, steel.OTHER):
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
