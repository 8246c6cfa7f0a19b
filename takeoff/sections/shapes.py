"""Sections from their dimensions: outline, faces, area, perimeter and mass.

Vocabulary: root radius (fillet between leg and leg, or flange and web), toe radius (at the
inner edge of a leg's or flange's end), slope (taper of the inner flange faces).
Coordinates are the (u, v) of the frame table in :mod:`takeoff.steel`. Area and perimeter are
exact for the outline with its arcs; the perimeter is the outer one, what paint or zinc covers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from takeoff import steel
from takeoff.sections import loops
from takeoff.sections.faces import faces
from takeoff.sections.outlines import (
    flange_gauge,
    is_lipped_channel,
    is_zed,
    lipped_corners,
    loops_of,
    outline,
    rings,
    zed_corners,
)
from takeoff.steel import Point2, Section
from takeoff.units import STEEL_DENSITY

__all__ = [
    "angle",
    "channel",
    "chs",
    "faces",
    "flange_gauge",
    "flat",
    "i_section",
    "is_lipped_channel",
    "is_zed",
    "lipped_channel",
    "loops_of",
    "number",
    "other",
    "outline",
    "plate",
    "rhs",
    "rings",
    "round_bar",
    "tee",
    "zed",
]


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
    return _folded(section, lipped_corners(section))


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
    return _folded(section, zed_corners(section))


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
