"""Sizes as they were meant: roundings drawn in steps and coordinates rounded by the file err by hundredths."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from takeoff.drawn.curves import LEAST_SIDES, fit_circle
from takeoff.drawn.mesh import Mesh
from takeoff.drawn.slices import Slice
from takeoff.sections import shapes
from takeoff.sections.loops import after_each
from takeoff.sections.measures import snap
from takeoff.sections.recognise import Recognised
from takeoff.steel import ANGLE, CHANNEL, CHS, FLAT, I_SHAPE, RHS, ROUND, T_SHAPE, FloatArray, Section

FINE_MM: Final = 0.02
"""What coordinates in double precision agree within."""
_GRAINS: Final = ((0.5, 0.06), (0.1, 0.02), (25.4 / 32, 0.02))
"""Steps radii are given in, and how near to one a measured radius is that one."""


def slack_of(tolerance: float) -> float:
    """The file's rounding that a tolerance was taken for: none for the finest."""
    return 0.0 if tolerance <= FINE_MM else tolerance / 3


def meant(value: float, slack: float) -> float:
    """A size at half or tenths of a mm where one is within ``slack``, the file's own rounding, mm."""
    for step in (0.5, 0.1):
        whole = round(value / step) * step
        if abs(value - whole) <= slack:
            return round(whole, 6)
    return snap(value)


def rounded(section: Section, slack: float) -> Section:
    """The section with its sizes at the steps they are drawn for; unchanged where they are at none.

    ``slack`` is by how much the file rounds coordinates, mm.
    """
    r1, r2 = _radius(section.r1, slack), _radius(section.r2, slack)
    h, b, tw, tf, b2, tf2 = (
        meant(size, slack) for size in (section.h, section.b, section.tw, section.tf, section.b2, section.tf2)
    )
    s = replace(section, h=h, b=b, tw=tw, tf=tf, b2=b2, tf2=tf2)
    if s == section and (r1, r2) == (s.r1, s.r2):
        return section
    try:
        if s.shape == ANGLE:
            return shapes.angle(s.h, s.b, s.tw, r1, r2)
        if s.shape == CHANNEL:
            return shapes.channel(s.h, s.b, s.tw, s.tf, r1, r2, s.slope)
        if s.shape == I_SHAPE:
            return shapes.i_section(s.h, s.b, s.tw, s.tf, r1, s.b2, s.tf2, s.slope, r2)
        if s.shape == T_SHAPE:
            return shapes.tee(s.h, s.b, s.tw, s.tf, r1, r2, s.slope)
        if s.shape == RHS:
            return shapes.rhs(s.h, s.b, s.tw, r1, r2)
        if s.shape == CHS:
            return shapes.chs(s.h, s.tw)
        if s.shape == ROUND:
            return shapes.round_bar(s.h)
        if s.shape == FLAT:
            return shapes.flat(s.h, s.b)
    except ValueError:
        # The rounder size is a hair too large for the section: it stays as measured.
        return section
    return section


def round_of(mesh: Mesh, across: FloatArray, slice_: Slice, tolerance: float) -> Recognised | None:
    """The tube or round bar whose slice is nearly circular, by the mesh's own corners.

    Where both ends are drawn in different steps a slice's corners lie inside the circle; the points do not.
    """
    loops = slice_.loops
    if len(loops) > 2 or min(len(loop) for loop in loops) < 12:
        return None
    circles = [fit_circle(loop) for loop in loops]
    (x, y, radius, off), *inner = circles
    if off > 0.03 * radius or any(c[3] > 0.03 * c[2] or np.hypot(c[0] - x, c[1] - y) > 0.05 * radius for c in inner):
        return None
    points = mesh.points @ across.T
    outer = _through_points(points, x, y, 1.0, 0.0, tolerance)
    if outer is None:
        return None
    x, y, radius = outer
    if not inner:
        return Recognised(shapes.round_bar(snap(2 * radius)), (x, y), (1.0, 0.0), (0.0, 1.0))
    hollow = _through_points(points, x, y, -1.0, 0.9 * inner[0][2], tolerance)
    if hollow is None or math.hypot(hollow[0] - x, hollow[1] - y) > 2 * tolerance:
        return None
    section = shapes.chs(snap(2 * radius), snap(radius - hollow[2]))
    return Recognised(section, (x, y), (1.0, 0.0), (0.0, 1.0))


def _through_points(
    points: FloatArray, x: float, y: float, side: float, least: float, tolerance: float
) -> tuple[float, float, float] | None:
    """The circle through the outermost (``side`` 1) or innermost (-1) points beyond ``least`` from a rough middle."""
    found = None
    for _ in range(3):
        away = np.hypot(points[:, 0] - x, points[:, 1] - y)
        away = away if side > 0 else np.where(away < least, np.inf, away)
        limit = float((side * away).max())
        # the rough middle is off by as much as the slice's corners are
        band = 0.03 * abs(limit) if found is None else 3 * tolerance
        ring = points[side * away >= limit - band]
        if len(ring) < 8:
            return None
        x, y, radius, off = fit_circle(ring)
        found = (x, y, radius, off)
    assert found is not None
    return (found[0], found[1], found[2]) if found[3] <= tolerance else None


def coarse_round(points: FloatArray, inners: Sequence[object], tolerance: float) -> Recognised | None:
    """A round bar drawn with 8 to 11 sides, where that is certain: even sides, and the corners' circle, not the width
    over the sides, is of whole millimetres."""
    count = len(points)
    if inners or not LEAST_SIDES <= count < 12:
        return None
    x, y, radius, off = fit_circle(points)
    sides = np.hypot(*(after_each(points) - points).T)
    over = 2 * radius * math.cos(math.pi / count)
    if off > tolerance or float(np.ptp(sides)) > 2 * tolerance:
        return None
    if abs(2 * radius - round(2 * radius)) > tolerance or abs(over - round(over, 1)) <= tolerance:
        return None
    return Recognised(shapes.round_bar(round(2 * radius)), (x, y), (1.0, 0.0), (0.0, 1.0))


def _radius(value: float, slack: float) -> float:
    for step, near in _GRAINS:
        whole = round(value / step) * step
        if abs(value - whole) <= near + slack:
            return round(whole, 6) + 0.0
    return round(value, 2)
