"""The outside faces of a section: the walls that are punched, and where the trade measures on them."""

from __future__ import annotations

import math
from functools import lru_cache

from takeoff import steel
from takeoff.sections.outlines import is_lipped_channel, is_zed
from takeoff.steel import Face, Point2, Section

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
