"""Outlines of sections: the polygon or loops of a section from its dimensions, and which folded shape it is.

Coordinates are the (u, v) of the frame table in :mod:`takeoff.steel`.

The flange thickness of a tapered flange is measured at half the flange width of a channel up to
300 mm deep, at half the outstand of a deeper one (DIN 1026-1), and at a quarter of the width from
the flange's edge otherwise (DIN 1025-1); see :func:`flange_gauge`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Final

from takeoff import steel
from takeoff.sections import loops
from takeoff.sections.loops import Loop
from takeoff.steel import FloatArray, Section

_Corners = list[tuple[float, float, float]]

_SHALLOW_MM: Final = 310.0
"""Between the depths of 300 and 320 mm, where DIN 1026-1 changes the place, and clear of both."""


def is_lipped_channel(section: Section) -> bool:
    """A cold-formed channel, with or without lips (shape ``other``)."""
    return section.shape == steel.OTHER and section.tw > 0 and section.b2 == 0


def is_zed(section: Section) -> bool:
    """A Z section (shape ``other``)."""
    return section.shape == steel.OTHER and section.tw > 0 and section.b2 > 0


def _require(good: bool, what: str) -> None:
    if not good:
        raise ValueError(what)


def _angle_corners(s: Section) -> _Corners:
    # Thin angles of the mill catalogues name a toe radius larger than the leg is thick.
    t, toe = s.tw, min(s.r2, s.tw)
    return [(0, 0, 0), (s.b, 0, 0), (s.b, t, toe), (t, t, s.r1), (t, s.h, toe), (0, s.h, 0)]


def flange_gauge(h: float, b: float, tw: float) -> float:
    """Where a channel's tapered flange has its nominal thickness, from the back of the web (DIN 1026-1)."""
    return b / 2 if h <= _SHALLOW_MM else (b + tw) / 2


def _channel_corners(s: Section) -> _Corners:
    at = flange_gauge(s.h, s.b, s.tw)
    tip = s.tf - s.slope * (s.b - at)
    root = s.tf + s.slope * (at - s.tw)
    _require(tip > 0 and 2 * root < s.h, "the taper does not fit the channel's flanges")
    low = [(0, 0, 0), (s.b, 0, 0), (s.b, tip, s.r2), (s.tw, root, s.r1)]
    return low + [(u, s.h - v, radius) for u, v, radius in reversed(low)]


def _i_corners(s: Section) -> _Corners:
    half = s.tw / 2
    bottom = _flange_corners(s, s.b2 or s.b, s.tf2 or s.tf)
    top = _flange_corners(s, s.b, s.tf)
    _require(
        bottom[2][1] + top[2][1] < s.h and half < min(bottom[0][0], top[0][0]),
        "the taper does not fit the flanges",
    )
    right = bottom + [(u, s.h - v, radius) for u, v, radius in reversed(top)]
    return right + [(-u, v, radius) for u, v, radius in reversed(right)]


def _flange_corners(s: Section, b: float, tf: float) -> _Corners:
    """The right half of a bottom flange from its outer edge to the web."""
    tip = tf - s.slope * b / 4
    root = tf + s.slope * (b / 4 - s.tw / 2)
    _require(tip > 0, "the taper does not fit the flanges")
    return [(b / 2, 0, 0), (b / 2, tip, s.r2), (s.tw / 2, root, s.r1)]


def _tee_corners(s: Section) -> _Corners:
    right = [*_flange_corners(s, s.b, s.tf), (s.tw / 2, s.h, 0)]
    _require(right[2][1] < s.h, "the taper does not fit the flange")
    return right + [(-u, v, radius) for u, v, radius in reversed(right)]


def _flat_corners(s: Section) -> _Corners:
    return [(0, 0, 0), (s.b, 0, 0), (s.b, s.h, 0), (0, s.h, 0)]


def lipped_corners(s: Section) -> _Corners:
    """Corners of a cold-formed channel, with their radii."""
    t, inner, outer = s.tw, s.r2, s.r1
    low: _Corners
    if s.lip:
        low = [(0, 0, outer), (s.b, 0, outer), (s.b, s.lip, 0), (s.b - t, s.lip, 0)]
        low += [(s.b - t, t, inner), (t, t, inner)]
    else:
        low = [(0, 0, outer), (s.b, 0, 0), (s.b, t, 0), (t, t, inner)]
    return low + [(u, s.h - v, radius) for u, v, radius in reversed(low)]


def zed_corners(s: Section) -> _Corners:
    """Corners of a Z, with their radii."""
    t, inner, outer, left = s.tw, s.r2, s.r1, s.b2 - s.tw
    low: _Corners = [(left, 0, outer)]
    if s.lip:
        low += [(s.b, 0, outer), (s.b, s.lip, 0), (s.b - t, s.lip, 0), (s.b - t, t, inner)]
    else:
        low += [(s.b, 0, 0), (s.b, t, 0)]
    low += [(s.b2, t, inner)]
    return low + [(s.b - u, s.h - v, radius) for u, v, radius in low]


_CORNERS: dict[str, Callable[[Section], _Corners]] = {
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
        return (loops.fillet(lipped_corners(section)),)
    if is_zed(section):
        return (loops.fillet(zed_corners(section)),)
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
