"""A flat whose ends are cut: its outline as planes and notches."""

from __future__ import annotations

from math import hypot

from takeoff.drawn.notches import missing
from takeoff.outlines import clip, rectangle
from takeoff.sections import loops, shapes
from takeoff.sections.plates import Rectangle
from takeoff.steel import Body, DrawnHole, Notch, Plane, Point2

_RIP = 0.05
"""An edge whose normal has less than this along the flat runs along it: no end cut."""
_MOST = 4
"""More planes at an end are a shaped plate, no cut flat."""


def as_flat(
    outline: Rectangle,
    width: float,
    thick: float,
    length: float,
    holes: tuple[DrawnHole, ...],
    tolerance: float,
) -> Body | None:
    """The flat with skew, clipped or notched ends that an outline is, or None, a plate then: its ends are rounded."""
    from shapely import Polygon

    flattened: list[list[float]] = loops.flatten(outline.outline).tolist()
    corners: list[Point2] = [(x, y) for x, y in flattened]
    left: list[Plane] = []
    right: list[Plane] = []
    for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
        size = hypot(bx - ax, by - ay)
        nx, nv = (by - ay) / size, -(bx - ax) / size
        if any(nx * (x - ax) + nv * (y - ay) > tolerance for x, y in corners):
            continue  # steel beyond it: a notch's edge
        if abs(nv) < 1e-4 and (min(ax, bx) < tolerance or max(ax, bx) > length - tolerance):
            continue  # a square end
        if max(ay, by) < tolerance or min(ay, by) > width - tolerance:
            continue  # the flat's own edge
        if abs(nx) < _RIP:
            return None
        plane = Plane((ax + ay * nv / nx, 0.0, 0.0), (nx, 0.0, nv))
        (left if nx < 0 else right).append(plane)
    if max(len(left), len(right)) > _MOST:
        return None
    section = shapes.flat(width, thick)
    if section.h != width:
        return None
    (face,) = shapes.faces(section)
    full = rectangle(face, length)
    for plane in (*left, *right):
        full = clip(full, face, plane, False)
    notches = tuple(Notch("face", loop) for loop in missing(full, Polygon(corners), tolerance))
    return Body(section, length, tuple(left), tuple(right), notches=notches, holes=holes)
