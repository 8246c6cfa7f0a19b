"""Sections from their dimensions: outline, faces, area, perimeter and mass.

Vocabulary: root radius (fillet between leg and leg, or flange and web), toe radius (at the
inner edge of a leg's or flange's end), slope (taper of the inner flange faces).
Coordinates are the (u, v) of the frame table in :mod:`takeoff.steel`. Area and perimeter are
exact for the outline with its arcs; the perimeter is the outer one, what paint or zinc covers.

The flange thickness of a tapered flange is measured at half the flange width of a channel up to
300 mm deep, at half the outstand of a deeper one (DIN 1026-1), and at a quarter of the width from
the flange's edge otherwise (DIN 1025-1); see :func:`flange_gauge`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from takeoff import steel
from takeoff.sections import loops
from takeoff.sections.loops import Loop
from takeoff.steel import Face, FloatArray, Point2, Section
from takeoff.units import STEEL_DENSITY


def number(value: float) -> str:
    """A dimension as a designation writes it: two decimals at most, no trailing zeros."""
    return f"{round(value + 1e-9, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


def _named(prefix: str, *sizes: float) -> str:
    return f"{prefix} {'x'.join(number(size) for size in sizes)}"


def _require(good: bool, what: str) -> None:
    if not good:
        raise ValueError(what)


def _complete(section: Section) -> Section:
    """The section with area, perimeter and mass from its outline."""
    outer, *inner = loops_of(section)
    area = loops.area(outer) + sum(loops.area(hole) for hole in inner)
    _require(area > 0, "the section has no steel")
    return replace(
        section,
        area_mm2=area,
        perimeter_mm=loops.length(outer),
        mass_kg_per_m=area * STEEL_DENSITY * 1e-6,
    )


def angle(a: float, b: float, t: float, r1: float = 0.0, r2: float = 0.0) -> Section:
    """An angle with legs ``a`` and ``b`` in either order, thickness ``t``, root radius ``r1``, toe radius ``r2``."""
    a, b = max(a, b), min(a, b)
    _require(0 < t < b, "an angle needs legs longer than its thickness")
    name = _named("L", a, b, t)
    return _complete(Section(steel.ANGLE, name, h=a, b=b, tw=t, tf=t, r1=r1, r2=r2))


def channel(h: float, b: float, tw: float, tf: float, r1: float = 0.0, r2: float = 0.0, slope: float = 0.0) -> Section:
    """A channel of depth ``h`` and flange width ``b``; ``tf`` at half the flange width where it tapers."""
    _require(0 < tw < b and 0 < 2 * tf < h and slope >= 0, "these are no dimensions of a channel")
    name = _named("U", h, b, tw, tf)
    return _complete(Section(steel.CHANNEL, name, h=h, b=b, tw=tw, tf=tf, r1=r1, r2=r2, slope=slope))


def i_section(
    h: float,
    b: float,
    tw: float,
    tf: float,
    r1: float = 0.0,
    b2: float = 0.0,
    tf2: float = 0.0,
    slope: float = 0.0,
    r2: float = 0.0,
) -> Section:
    """An I or H; ``b2`` and ``tf2`` are the bottom flange's where it differs from the top one.

    A monosymmetric section is turned so that its wider (then thicker) flange is on top:
    ``b`` then is the section's extent along u, as :class:`~takeoff.steel.Section` says.
    """
    b2, tf2 = b2 or b, tf2 or tf
    if (b2, tf2) > (b, tf):
        b, tf, b2, tf2 = b2, tf2, b, tf
    if (b, tf) == (b2, tf2):
        b2 = tf2 = 0.0
        name = _named("I", h, b, tw, tf)
    else:
        name = _named("I", h, b, tw, tf, b2, tf2)
    low_b, low_tf = b2 or b, tf2 or tf
    _require(
        0 < tw < min(b, low_b) and tf > 0 and low_tf > 0 and tf + low_tf < h and slope >= 0,
        "these are no dimensions of an I section",
    )
    return _complete(Section(steel.I_SHAPE, name, h=h, b=b, tw=tw, tf=tf, r1=r1, r2=r2, b2=b2, tf2=tf2, slope=slope))


def tee(h: float, b: float, tw: float, tf: float, r1: float = 0.0, r2: float = 0.0, slope: float = 0.0) -> Section:
    """A T of depth ``h`` (flange included) and flange width ``b``; ``r2`` rounds the flange's edges."""
    _require(0 < tw < b and 0 < tf < h and slope >= 0, "these are no dimensions of a T")
    name = _named("T", h, b, tw, tf)
    return _complete(Section(steel.T_SHAPE, name, h=h, b=b, tw=tw, tf=tf, r1=r1, r2=r2, slope=slope))


def flat(width: float, t: float) -> Section:
    """A flat: the larger of the two is its width."""
    width, t = max(width, t), min(width, t)
    _require(t > 0, "a flat needs a thickness")
    return _complete(Section(steel.FLAT, _named("FL", width, t), h=width, b=t, tw=t))


def plate(width: float, t: float) -> Section:
    """A plate of which ``width`` is the shorter side of its smallest rectangle, ``t`` the thickness."""
    _require(t > 0 and width > 0, "a plate needs a width and a thickness")
    return _complete(Section(steel.PLATE, _named("PL", t), h=width, b=t, tw=t))


def rhs(h: float, b: float, t: float, r_out: float = 0.0, r_in: float = 0.0) -> Section:
    """A rectangular hollow section; the taller side is ``h``. ``r_out`` and ``r_in`` are corner radii."""
    h, b = max(h, b), min(h, b)
    _require(0 < 2 * t < b, "the walls of the hollow section leave no hollow")
    _require(2 * r_out <= b + 1e-9 and 2 * r_in <= b - 2 * t + 1e-9, "the corner radii do not fit")
    return _complete(Section(steel.RHS, _named("RHS", h, b, t), h=h, b=b, tw=t, r1=r_out, r2=r_in))


def chs(d: float, t: float) -> Section:
    """A circular hollow section of outside diameter ``d``."""
    _require(0 < 2 * t < d, "the wall of the tube leaves no hollow")
    return _complete(Section(steel.CHS, _named("CHS", d, t), h=d, b=d, tw=t))


def round_bar(d: float) -> Section:
    """A solid round."""
    _require(d > 0, "a round needs a diameter")
    return _complete(Section(steel.ROUND, _named("RND", d), h=d, b=d))


def lipped_channel(
    h: float, b: float, t: float, lip: float = 0.0, r: float = 0.0, r_out: float | None = None
) -> Section:
    """A cold-formed channel; ``lip`` is measured over the flange, ``r`` is the inner bending radius.

    Shape ``other`` with ``tw``, ``lip``, ``r1`` (outer) and ``r2`` (inner) set. ``lip`` 0: plain.
    The outer radius is ``r`` + ``t`` where it is not given, as in a bent sheet, and 0 where ``r`` is.
    """
    _require(t > 0 and 2 * t < b and 2 * t < h, "these are no dimensions of a cold-formed channel")
    _require(lip == 0 or t < lip <= (h - t) / 2, "the lip does not fit")
    name = _named("C", h, b, lip, t) if lip else _named("C", h, b, t)
    outer = _bend(t, r) if r_out is None else r_out
    section = Section(steel.OTHER, name, h=h, b=b, tw=t, tf=t, r1=outer, r2=r, lip=lip)
    return _folded(section, _lipped_corners(section))


def zed(h: float, b: float, t: float, lip: float = 0.0, r: float = 0.0, r_out: float | None = None) -> Section:
    """A Z of depth ``h`` with flanges ``b`` wide, measured over the web; radii as for a lipped channel.

    Shape ``other``: ``b2`` holds the flange width and ``b`` the extent along u, 2 x flange - web.
    The bottom flange points along +u, the top flange back along -u; the origin is the lower left
    corner of the box, so that the web stands between u = b2 - t and u = b2.
    """
    _require(t > 0 and t < b and 2 * t < h, "these are no dimensions of a Z section")
    _require(lip == 0 or t < lip <= h - t, "the lip does not fit")
    name = _named("Z", h, b, lip, t) if lip else _named("Z", h, b, t)
    outer = _bend(t, r) if r_out is None else r_out
    section = Section(steel.OTHER, name, h=h, b=2 * b - t, tw=t, tf=t, r1=outer, r2=r, lip=lip, b2=b)
    return _folded(section, _zed_corners(section))


def other(outline: Sequence[Point2], inners: Sequence[Sequence[Point2]] = ()) -> Section:
    """Any other polygon (anti-clockwise or not), moved to the lower left corner of its box.

    ``inners`` are voids; they reduce area and mass, the outline does not show them.
    """
    points = np.asarray(outline, dtype=float)
    _require(points.ndim == 2 and len(points) >= 3, "an outline needs three corners")
    points = points - points.min(axis=0)
    loop = tuple((float(u), float(v), 0.0) for u, v in points)
    if loops.area(loop) < 0:
        loop = loop[::-1]
    b, h = (float(extent) for extent in points.max(axis=0))
    voids = sum(abs(loops.area([(u, v, 0.0) for u, v in inner])) for inner in inners)
    area = loops.area(loop) - voids
    _require(area > 0, "the section has no steel")
    return Section(
        steel.OTHER,
        f"SECTION {number(h)}x{number(b)}",
        h=h,
        b=b,
        outline=tuple((u, v) for u, v, _ in loop),
        area_mm2=area,
        perimeter_mm=loops.length(loop),
        mass_kg_per_m=area * STEEL_DENSITY * 1e-6,
    )


def _bend(t: float, r: float) -> float:
    return r + t if r else 0.0


def _folded(section: Section, corners: list[tuple[float, float, float]]) -> Section:
    loop = loops.fillet(corners)
    area = loops.area(loop)
    _require(area > 0, "the section has no steel")
    return replace(
        section,
        outline=tuple((float(u), float(v)) for u, v in loops.flatten(loop)),
        area_mm2=area,
        perimeter_mm=loops.length(loop),
        mass_kg_per_m=area * STEEL_DENSITY * 1e-6,
    )


def is_lipped_channel(section: Section) -> bool:
    """A cold-formed channel, with or without lips (shape ``other``)."""
    return section.shape == steel.OTHER and section.tw > 0 and section.b2 == 0


def is_zed(section: Section) -> bool:
    """A Z section (shape ``other``)."""
    return section.shape == steel.OTHER and section.tw > 0 and section.b2 > 0


# ---------------------------------------------------------------- outlines


def _angle_corners(s: Section) -> list[tuple[float, float, float]]:
    # Thin angles of the mill catalogues name a toe radius larger than the leg is thick.
    t, toe = s.tw, min(s.r2, s.tw)
    return [(0, 0, 0), (s.b, 0, 0), (s.b, t, toe), (t, t, s.r1), (t, s.h, toe), (0, s.h, 0)]


def flange_gauge(h: float, b: float, tw: float) -> float:
    """Where a channel's tapered flange has its nominal thickness, from the back of the web (DIN 1026-1)."""
    return b / 2 if h <= 300 else (b + tw) / 2


def _channel_corners(s: Section) -> list[tuple[float, float, float]]:
    at = flange_gauge(s.h, s.b, s.tw)
    tip = s.tf - s.slope * (s.b - at)
    root = s.tf + s.slope * (at - s.tw)
    _require(tip > 0 and 2 * root < s.h, "the taper does not fit the channel's flanges")
    low = [(0, 0, 0), (s.b, 0, 0), (s.b, tip, s.r2), (s.tw, root, s.r1)]
    return low + [(u, s.h - v, radius) for u, v, radius in reversed(low)]


def _i_corners(s: Section) -> list[tuple[float, float, float]]:
    half = s.tw / 2
    bottom = _flange_corners(s, s.b2 or s.b, s.tf2 or s.tf)
    top = _flange_corners(s, s.b, s.tf)
    _require(
        bottom[2][1] + top[2][1] < s.h and half < min(bottom[0][0], top[0][0]),
        "the taper does not fit the flanges",
    )
    right = bottom + [(u, s.h - v, radius) for u, v, radius in reversed(top)]
    return right + [(-u, v, radius) for u, v, radius in reversed(right)]


def _flange_corners(s: Section, b: float, tf: float) -> list[tuple[float, float, float]]:
    """The right half of a bottom flange from its outer edge to the web."""
    tip = tf - s.slope * b / 4
    root = tf + s.slope * (b / 4 - s.tw / 2)
    _require(tip > 0, "the taper does not fit the flanges")
    return [(b / 2, 0, 0), (b / 2, tip, s.r2), (s.tw / 2, root, s.r1)]


def _tee_corners(s: Section) -> list[tuple[float, float, float]]:
    right = [*_flange_corners(s, s.b, s.tf), (s.tw / 2, s.h, 0)]
    _require(right[2][1] < s.h, "the taper does not fit the flange")
    return right + [(-u, v, radius) for u, v, radius in reversed(right)]


def _flat_corners(s: Section) -> list[tuple[float, float, float]]:
    return [(0, 0, 0), (s.b, 0, 0), (s.b, s.h, 0), (0, s.h, 0)]


def _lipped_corners(s: Section) -> list[tuple[float, float, float]]:
    t, inner, outer = s.tw, s.r2, s.r1
    low: list[tuple[float, float, float]]
    if s.lip:
        low = [(0, 0, outer), (s.b, 0, outer), (s.b, s.lip, 0), (s.b - t, s.lip, 0)]
        low += [(s.b - t, t, inner), (t, t, inner)]
    else:
        low = [(0, 0, outer), (s.b, 0, 0), (s.b, t, 0), (t, t, inner)]
    return low + [(u, s.h - v, radius) for u, v, radius in reversed(low)]


def _zed_corners(s: Section) -> list[tuple[float, float, float]]:
    t, inner, outer, left = s.tw, s.r2, s.r1, s.b2 - s.tw
    low: list[tuple[float, float, float]] = [(left, 0, outer)]
    if s.lip:
        low += [(s.b, 0, outer), (s.b, s.lip, 0), (s.b - t, s.lip, 0), (s.b - t, t, inner)]
    else:
        low += [(s.b, 0, 0), (s.b, t, 0)]
    low += [(s.b2, t, inner)]
    return low + [(s.b - u, s.h - v, radius) for u, v, radius in low]


_CORNERS: dict[str, Callable[[Section], list[tuple[float, float, float]]]] = {
    steel.ANGLE: _angle_corners,
    steel.CHANNEL: _channel_corners,
    steel.I_SHAPE: _i_corners,
    steel.T_SHAPE: _tee_corners,
    steel.FLAT: _flat_corners,
    steel.PLATE: _flat_corners,
}


@lru_cache(maxsize=4096)
def loops_of(section: Section) -> tuple[Loop, ...]:
    """The outer loop, anti-clockwise, and the inner one of a hollow section, clockwise, arcs kept."""
    if section.shape in _CORNERS:
        return (loops.fillet(_CORNERS[section.shape](section)),)
    if section.shape == steel.RHS:
        h, b, t = section.h, section.b, section.tw
        outer = loops.fillet((u, v, section.r1) for u, v in ((0, 0), (b, 0), (b, h), (0, h)))
        box = ((t, t), (t, h - t), (b - t, h - t), (b - t, t))
        return outer, loops.fillet((u, v, section.r2) for u, v in box)
    if section.shape == steel.CHS:
        hole = loops.circle(section.h - 2 * section.tw)
        return loops.circle(section.h), tuple((u, v, -bulge) for u, v, bulge in reversed(hole))
    if section.shape == steel.ROUND:
        return (loops.circle(section.h),)
    if is_lipped_channel(section):
        return (loops.fillet(_lipped_corners(section)),)
    if is_zed(section):
        return (loops.fillet(_zed_corners(section)),)
    return (tuple((u, v, 0.0) for u, v in section.outline),)


@lru_cache(maxsize=4096)
def rings(section: Section) -> tuple[FloatArray, ...]:
    """The section as polygons (n, 2) in (u, v), anti-clockwise outside first, clockwise inside of a hollow one.

    Arcs are flattened in steps of 4 degrees, corners on the arc: the area is right within 0.1 %.
    The arrays are shared between callers and read-only.
    """
    polygons = tuple(loops.flatten(loop) for loop in loops_of(section))
    for polygon in polygons:
        polygon.flags.writeable = False
    return polygons


def outline(section: Section) -> FloatArray:
    """The outer polygon of :func:`rings`."""
    return rings(section)[0]


# ---------------------------------------------------------------- faces

_UP: Point2 = (0.0, 1.0)
_DOWN: Point2 = (0.0, -1.0)
_AWAY: Point2 = (1.0, 0.0)
_TOWARD: Point2 = (-1.0, 0.0)


@lru_cache(maxsize=4096)
def faces(section: Section) -> tuple[Face, ...]:
    """The outside faces that can be punched, in the order the sheets show them; none for shape ``other``
    but cold-formed C and Z, which have ``web``, ``top`` and ``bottom`` like a channel.

    A Z's flanges are measured from the outside of the web at the bend they start from. The wall of a
    tube or round is developed: ``origin`` is the point nearest to the viewer, (-d/2, 0), ``direction``
    the tangent there, and ``across`` runs along the circumference, upwards as seen by that viewer,
    from 0 to pi x d: it meets section point (-d/2 cos w, d/2 sin w) with w = across / (d/2).
    ``thickness`` of a solid round is its diameter. A tapered flange has its nominal thickness.
    """
    s = section
    if s.shape == steel.ANGLE:
        return (
            Face("A", (0.0, 0.0), _UP, _AWAY, s.tw, 0.0, s.h),
            Face("B", (0.0, 0.0), _AWAY, _UP, s.tw, 0.0, s.b),
        )
    if s.shape == steel.CHANNEL or is_lipped_channel(s):
        return (
            Face("web", (0.0, 0.0), _UP, _AWAY, s.tw, 0.0, s.h),
            Face("top", (0.0, s.h), _AWAY, _DOWN, s.tf, 0.0, s.b),
            Face("bottom", (0.0, 0.0), _AWAY, _UP, s.tf, 0.0, s.b),
        )
    if is_zed(s):
        return (
            Face("web", (s.b2 - s.tw, 0.0), _UP, _AWAY, s.tw, 0.0, s.h),
            Face("top", (s.b2, s.h), _TOWARD, _DOWN, s.tf, 0.0, s.b2),
            Face("bottom", (s.b2 - s.tw, 0.0), _AWAY, _UP, s.tf, 0.0, s.b2),
        )
    if s.shape == steel.I_SHAPE:
        half = (s.b2 or s.b) / 2
        return (
            Face("web", (-s.tw / 2, 0.0), _UP, _AWAY, s.tw, 0.0, s.h),
            Face("top", (0.0, s.h), _TOWARD, _DOWN, s.tf, -s.b / 2, s.b / 2),
            Face("bottom", (0.0, 0.0), _TOWARD, _UP, s.tf2 or s.tf, -half, half),
        )
    if s.shape == steel.T_SHAPE:
        return (
            Face("stem", (-s.tw / 2, 0.0), _UP, _AWAY, s.tw, 0.0, s.h),
            Face("bottom", (0.0, 0.0), _TOWARD, _UP, s.tf, -s.b / 2, s.b / 2),
        )
    if s.shape in (steel.FLAT, steel.PLATE):
        return (Face("face", (0.0, 0.0), _UP, _AWAY, s.tw, 0.0, s.h),)
    if s.shape == steel.RHS:
        return (
            Face("front", (0.0, 0.0), _UP, _AWAY, s.tw, 0.0, s.h),
            Face("top", (0.0, s.h), _AWAY, _DOWN, s.tw, 0.0, s.b),
            Face("back", (s.b, 0.0), _UP, _TOWARD, s.tw, 0.0, s.h),
            Face("bottom", (0.0, 0.0), _AWAY, _UP, s.tw, 0.0, s.b),
        )
    if s.shape in (steel.CHS, steel.ROUND):
        wall = s.tw or s.h
        return (Face("wall", (-s.h / 2, 0.0), _UP, _AWAY, wall, 0.0, math.pi * s.h),)
    return ()
