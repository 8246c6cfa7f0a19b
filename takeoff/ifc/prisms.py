"""An extruded profile as a piece: bars along the extrusion, flats and plates whichever way they are drawn.

The *sweep* is the extrusion in its own axes: the profile in the plane of x and y, the
steel from z = ``low`` to ``high``. What comes out is a Body and the piece frame's place in
those axes, always right-handed. A rectangle's thickness is its least side and its
length its greatest, whatever was extruded; any other outline extruded by less than its
own walls is a plate.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from takeoff.drawn.oddities import refuse_block, refuse_outline
from takeoff.drawn.results import Refused
from takeoff.ifc.context import Unread
from takeoff.ifc.cuts import RIP, HalfSpace, ends, reach, to_frame
from takeoff.ifc.opening_shapes import shape_of
from takeoff.ifc.profiles import Box, Profile, Rolled, as_box
from takeoff.ifc.words import names_flat, sizes
from takeoff.sections import loops, plates, shapes, tables
from takeoff.sections.odd import laid
from takeoff.sections.recognise import TOLERANCE_MM
from takeoff.settings import FlatSettings, Settings
from takeoff.steel import Body, DrawnHole, FloatArray, Frame, Plane, Section, Vertex
from takeoff.units import COINCIDENCE_MM

Vec3 = tuple[float, float, float]

NAME_MM = 0.5
"""A size in a flat's name this near to a side of its rectangle is that side."""
THROUGH_MM = COINCIDENCE_MM
"""A cut whose line shifts by less than this between a plate's two sides is square to the plate."""


Swept = tuple[Body, Frame, list[HalfSpace]]
"""Body, its frame in the sweep's axes, and the bounded cuts (in the sweep's axes) that take only a part of it."""


def prism(
    profile: Profile,
    low: float,
    high: float,
    cuts: Sequence[HalfSpace],
    text: str,
    settings: Settings,
) -> Swept:
    """The body of a profile swept from z = ``low`` to ``high``, cut by half spaces given in the sweep's axes.

    ``text`` is what the model calls the section: it says whether a rectangle is a flat, and helps to
    find the table's entry. Raises Unread with a sentence for what cannot be read.
    """
    depth = high - low
    if not depth > COINCIDENCE_MM:
        raise Unread("its extrusion has no length")
    if profile.box is not None:
        return _from_box(profile.box, low, high, cuts, text, settings)
    if profile.rolled is not None and not depth < profile.wall:
        return _bar(profile, low, high, cuts, text, settings)
    if not profile.outer:
        raise Unread("its extrusion is shorter than its walls are thick")
    rectangle = plates.smallest_rectangle(profile.outer)
    if profile.rolled is None and depth > rectangle.width:
        return _odd_bar(profile, low, high, cuts)
    return _plate(profile.outer, profile.inners, low, high, cuts, text, settings)


# ------------------------------------------------------------ bars


def _bar(profile: Profile, low: float, high: float, cuts: Sequence[HalfSpace], text: str, settings: Settings) -> Swept:
    rolled = profile.rolled
    assert rolled is not None
    section = tables.match(rolled.section, text, settings.weights.mass)
    return _seated_bar(rolled, low, high, cuts, section)


def _seated_bar(rolled: Rolled, low: float, high: float, cuts: Sequence[HalfSpace], section: Section) -> Swept:
    """A bar whose section lies in the profile's plane as ``rolled`` says, listed as ``section``."""
    (ux, uy), (vx, vy) = rolled.u, rolled.v
    hand = 1.0 if ux * vy - uy * vx > 0 else -1.0
    start = low if hand > 0 else high
    frame = _frame((*rolled.origin, start), (0, 0, hand), (ux, uy, 0), (vx, vy, 0))
    # the length is what the model draws: a table's toe radii would move the extreme point of a skew end
    return _cut_bar(section, high - low, frame, cuts, _corners(rolled.section))


def _odd_bar(profile: Profile, low: float, high: float, cuts: Sequence[HalfSpace]) -> Swept:
    """A bar of no known shape: its outline is the section. Unread where it is bent, opened or uneven."""
    points = loops.flatten(profile.outer)
    inners = [plates.polygon(_flattened(inner)) for inner in profile.inners]
    try:
        refuse_outline([points, *inners], TOLERANCE_MM)
        found = laid(points, inners)
        refuse_block(found.section, high - low)
    except Refused as error:
        raise Unread(error.refusal.sentence) from None
    return _seated_bar(Rolled(found.section, found.origin, found.u, found.v), low, high, cuts, found.section)


def _flattened(loop: loops.Loop) -> loops.Loop:
    return tuple((float(x), float(y), 0.0) for x, y in loops.flatten(loop))


@lru_cache(maxsize=1024)
def _corners(section: Section) -> FloatArray:
    """The outer polygon (n, 2) of a section with arcs fine enough for a length: within 0.01 mm on a 250 mm round."""
    return loops.flatten(shapes.loops_of(section)[0], 1.0)


def _cut_bar(
    section: Section, length: float, frame: Frame, cuts: Sequence[HalfSpace], corners: FloatArray | None = None
) -> Swept:
    """``corners`` (n, 2) of the section as drawn; None: as the section has them."""
    if not cuts:
        return Body(section, length), frame, []
    corners = _corners(section) if corners is None else corners
    planes, partly = _planes(cuts, frame, corners, 0.0, length)
    found = ends(planes, corners, length)
    moved = Frame(frame.origin + found.start * frame.axes[0], frame.axes)
    return Body(section, found.stop - found.start, found.left, found.right), moved, partly


def _planes(
    cuts: Sequence[HalfSpace], frame: Frame, corners: FloatArray, start: float, stop: float
) -> tuple[list[HalfSpace], list[HalfSpace]]:
    """The cuts that are planes as far as the piece goes, in its own axes, and those that take only a part.

    A bounded cut is held against what other cuts leave: an overlong extrusion reaches past its boundary.
    """
    planes: list[HalfSpace] = []
    bounded: list[tuple[HalfSpace, HalfSpace]] = []
    for cut in cuts:
        here = to_frame(cut, frame)
        if here.boundary is None:
            planes.append(HalfSpace(here.point, here.gone))
        else:
            bounded.append((cut, here))
    while bounded:
        start, stop = _left_of(planes, corners, start, stop)
        reached = [reach(here, corners, start, stop) for _, here in bounded]
        planes += [HalfSpace(h.point, h.gone) for (_, h), how in zip(bounded, reached, strict=True) if how == "all"]
        rest = [pair for pair, how in zip(bounded, reached, strict=True) if how == "some"]
        if "all" not in reached:
            return planes, [cut for cut, _ in rest]
        bounded = rest
    return planes, []


def _left_of(planes: list[HalfSpace], corners: FloatArray, start: float, stop: float) -> tuple[float, float]:
    """From where to where along x planes leave something of a prism; all of it where that is not simple."""
    square = [plane for plane in planes if abs(plane.gone[0]) > RIP]
    for plane in square:
        xs = plane.point[0] - (corners - plane.point[1:]) @ plane.gone[1:] / plane.gone[0]
        if plane.gone[0] > 0:
            stop = min(stop, float(xs.max()))
        else:
            start = max(start, float(xs.min()))
    return (start, stop) if start < stop else (start, start)


# ------------------------------------------------------------ rectangles


def _from_box(box: Box, low: float, high: float, cuts: Sequence[HalfSpace], text: str, settings: Settings) -> Swept:
    c, s = box.along
    sides = [
        (box.first, 0, (c, s, 0.0)),
        (box.second, 1, (-s, c, 0.0)),
        (high - low, 2, (0.0, 0.0, 1.0)),
    ]
    (thick, _, _), (width, _, v), (length, _, x) = sorted(sides, key=lambda side: side[:2])
    if not thick > COINCIDENCE_MM:
        raise Unread("its rectangle has no thickness")
    middle = np.array([*box.middle, (low + high) / 2])
    ex, ev = np.array(x), np.array(v)
    eu = np.cross(ev, ex)
    frame = Frame(middle - ex * length / 2 - ev * width / 2 - eu * thick / 2, np.array([ex, eu, ev]))
    if is_flat(width, thick, length, text, settings.flats):
        section = shapes.flat(width, thick)
        try:
            flat = _cut_bar(section, length, frame, cuts)
            # what the cuts leave decides: an overlong flat cut to a stub is a plate, as one drawn at its length is
            if is_flat(width, thick, flat[0].length, text, settings.flats):
                return flat
        except Unread:
            if not _all_through(cuts, frame, thick):
                raise
    section = shapes.plate(width, thick)
    if not cuts:
        return Body(section, length), frame, []
    planes, partly = _planes(cuts, frame, shapes.outline(section), 0.0, length)
    if not _all_through(planes, None, thick):
        if any(abs(plane.gone[0]) < RIP and abs(plane.gone[1]) > 1e-6 for plane in planes):
            raise Unread("a long edge of its plate is bevelled by a cut, which is not read yet")
        return _cut_bar(section, length, frame, cuts)
    outline = ((0.0, 0.0, 0.0), (length, 0.0, 0.0), (length, width, 0.0), (0.0, width, 0.0))
    return (*_through(outline, (), frame, thick, planes, text, settings), partly)


def is_flat(width: float, thick: float, length: float, text: str, flats: FlatSettings) -> bool:
    """Whether a rectangle is a flat: its name says so, or its width and thickness are rolled sizes.

    A name with other sizes than the rectangle's is not believed: a stub of a flat shorter than the
    flat is wide lies with its longer side along x, so that its width is not the flat's.
    """
    if names_flat(text):
        named = sizes(text)[:2]
        near = [min((abs(size - value) for value in (width, thick)), default=0.0) for size in named]
        if all(distance <= NAME_MM for distance in near):
            return True
    rolled = _among(width, flats.widths_mm) and _among(thick, flats.thicknesses_mm)
    return rolled and length >= 2 * width - COINCIDENCE_MM


def _among(value: float, sizes: Sequence[float]) -> bool:
    return any(abs(value - size) <= COINCIDENCE_MM * 5 for size in sizes)


# ------------------------------------------------------------ plates


def _plate(
    outer: loops.Loop,
    inners: Sequence[loops.Loop],
    low: float,
    high: float,
    cuts: Sequence[HalfSpace],
    text: str,
    settings: Settings,
) -> Swept:
    thick = high - low
    # seen from +z, so that x runs right and across up: the near side is the upper one
    frame = _frame((0, 0, high), (1, 0, 0), (0, 0, -1), (0, 1, 0))
    corners = np.array([(u, v) for u in (0.0, thick) for v in _spread(outer, 1)])
    planes, partly = _planes(cuts, frame, corners, *_spread(outer, 0))
    if not _all_through(planes, None, thick):
        raise Unread("the edges of its plate are bevelled by a cut, which is not read yet")
    return (*_through(outer, inners, frame, thick, planes, text, settings), partly)


def _spread(outer: loops.Loop, axis: int) -> tuple[float, float]:
    points = loops.flatten(outer)
    return float(points[:, axis].min()), float(points[:, axis].max())


def _all_through(cuts: Sequence[HalfSpace], frame: Frame | None, thick: float) -> bool:
    """Whether every cut is square to the plate of a frame (None: the cuts are in its axes)."""
    for cut in cuts:
        here = cut if frame is None else to_frame(cut, frame)
        if here.boundary is not None or abs(here.gone[1]) * thick > THROUGH_MM:
            return False
    return True


def _through(
    outer: loops.Loop,
    inners: Sequence[loops.Loop],
    frame: Frame,
    thick: float,
    planes: Sequence[HalfSpace],
    text: str,
    settings: Settings,
) -> tuple[Body, Frame]:
    """A plate from its outline in (x, across) of a frame, cut by planes square to it."""
    shape = outer
    for plane in planes:
        left = plates.cut(
            shape, (float(plane.point[0]), float(plane.point[2])), (float(plane.gone[0]), float(plane.gone[2]))
        )
        if not left:
            raise Unread("its cuts leave nothing of it")
        if len(left) > 1:
            raise Unread("its cuts leave several parts of it")
        shape = left[0]
    rectangle = plates.smallest_rectangle(shape)
    (ox, oy), (c, s) = rectangle.origin, rectangle.x
    x = c * frame.axes[0] + s * frame.axes[2]
    v = c * frame.axes[2] - s * frame.axes[0]
    seated = Frame(frame.origin + ox * frame.axes[0] + oy * frame.axes[2], np.array([x, np.cross(v, x), v]))
    holes, lost = _voids(_kept(inners, shape) if planes else inners, rectangle)
    if lost:
        raise Unread(f"{lost} of the openings of its outline are neither round, slotted nor rectangular")
    length, width = rectangle.length, rectangle.width
    if is_flat(width, thick, length, text, settings.flats):
        skew = _flat_ends(rectangle)
        if skew is not None:
            return Body(shapes.flat(width, thick), length, *skew, holes=holes), seated
    boxed = as_box(shape) is not None
    outline = () if boxed else tuple(Vertex(*corner) for corner in rectangle.outline)
    return Body(shapes.plate(width, thick), length, outline=outline, holes=holes), seated


def _flat_ends(rectangle: plates.Rectangle) -> tuple[tuple[Plane, ...], tuple[Plane, ...]] | None:
    """The end planes of a flat drawn as an outline: straight, convex, both edges parallel; None where it is none.

    So a flat with skew ends is the same piece whether it was drawn as an outline or cut from a bar.
    """
    left: list[Plane] = []
    right: list[Plane] = []
    edges = set()
    turns = list(loops.edges(rectangle.outline))
    for i, ((x0, y0, bulge), (x1, y1, _)) in enumerate(turns):
        ex, ey = x1 - x0, y1 - y0
        size = math.hypot(ex, ey)
        (px, py, _), (qx, qy, _) = turns[i - 1]
        if bulge or (qx - px) * ey - (qy - py) * ex <= 0:  # an arc, or a corner that turns inwards
            return None
        nx, ny = ey / size, -ex / size
        if abs(nx) * size <= COINCIDENCE_MM:  # runs along the flat: must be one of its edges
            edges.add(0 if ny < 0 else 1)
            if abs(y0 - (0.0 if ny < 0 else rectangle.width)) > COINCIDENCE_MM:
                return None
            continue
        if abs(nx) < RIP:
            return None
        if abs(ny) * size > COINCIDENCE_MM:
            # the point on the piece's own x axis, as for planes that cut a bar
            plane = Plane((x0 + ny / nx * y0, 0.0, 0.0), (nx, 0.0, ny))
            (right if nx > 0 else left).append(plane)
    return (tuple(left), tuple(right)) if edges == {0, 1} else None


def _kept(inners: Sequence[loops.Loop], shape: loops.Loop) -> list[loops.Loop]:
    """The voids that lie within what a cut left of a plate; Unread where the cut runs through one."""
    from shapely import Polygon

    whole = Polygon(loops.flatten(shape))
    kept = []
    for inner in inners:
        hole = Polygon(loops.flatten(inner))
        if whole.buffer(COINCIDENCE_MM).contains(hole):
            kept.append(inner)
        elif whole.intersection(hole).area > COINCIDENCE_MM:
            raise Unread("a cut runs through an opening of its outline")
    return kept


def _voids(inners: Sequence[loops.Loop], rectangle: plates.Rectangle) -> tuple[tuple[DrawnHole, ...], int]:
    turn = math.degrees(math.atan2(rectangle.x[1], rectangle.x[0]))
    holes, lost = [], 0
    for inner in inners:
        found = shape_of(inner)
        if found is None:
            lost += 1
            continue
        x, across = rectangle.place((found.x, found.y))
        angle = (found.slot_angle - turn) % 180.0 if found.kind != "round" else 0.0
        place = (x, across, found.diameter, found.slot_length, angle if angle < 180 - 1e-7 else 0.0, found.width)
        holes.append(DrawnHole("face", *place, kind=found.kind, source="solid"))
    return tuple(holes), lost


def _frame(origin: Sequence[float], x: Vec3, u: Vec3, v: Vec3) -> Frame:
    return Frame(np.array(origin, dtype=float), np.array([x, u, v], dtype=float))
