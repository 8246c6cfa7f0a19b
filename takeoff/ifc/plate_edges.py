"""Plates whose edges openings and cuts run over: the outline that is left, as if the plate had been drawn with it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np

from takeoff.drawn.curves import with_arcs
from takeoff.outlines import flatten, rectangle
from takeoff.sections import plates, shapes
from takeoff.steel import PLATE, Body, DrawnHole, FloatArray, Frame, Notch, Vertex

ARC_MM: Final = 0.02
"""Corners of what is left this near to one circle are on it."""
_BOX_MM2: Final = 1e-6


def trimmed(
    body: Body, frame: Frame, notches: Sequence[Notch], holes: Sequence[DrawnHole] = ()
) -> tuple[Body, Frame, tuple[DrawnHole, ...]] | None:
    """The plate without its notches, its frame and its ``holes`` in that; None where the body keeps its notches.

    A plate's frame is that of the smallest rectangle round it, which a cut may change. Only plates with square
    edges are trimmed; what would fall in two is not.
    """
    if body.section.shape != PLATE or body.left or body.right or body.notches or not notches:
        return None
    found = _trimmed(body, tuple(notches), tuple(holes))
    if found is None:
        return None
    left, (ox, oy), (c, s), moved = found
    ex, _, ev = frame.axes
    x, v = c * ex + s * ev, c * ev - s * ex
    return left, Frame(frame.origin + ox * ex + oy * ev, np.array([x, np.cross(v, x), v])), moved


_Trimmed = tuple[Body, tuple[float, float], tuple[float, float], tuple[DrawnHole, ...]]


@lru_cache(maxsize=4096)
def _trimmed(body: Body, notches: tuple[Notch, ...], holes: tuple[DrawnHole, ...]) -> _Trimmed | None:
    """The body left, its origin and direction in the old one's (x, across), and the holes in it."""
    from shapely import Polygon, union_all
    from shapely.geometry.polygon import orient

    (face,) = shapes.faces(body.section)
    points = flatten(body.outline) if body.outline else rectangle(face, body.length)
    # grown by a hair, so that a notch that ends a rounding error short of the edge leaves no skin there
    gone = union_all([Polygon(notch.loop).buffer(1e-4, join_style="mitre") for notch in notches])
    left = Polygon(points).difference(gone)
    if left.geom_type != "Polygon" or left.interiors:
        return None
    ring: FloatArray = np.array(orient(left).exterior.coords[:-1])
    seat = plates.smallest_rectangle(with_arcs(ring, ARC_MM))
    turn = math.degrees(math.atan2(seat.x[1], seat.x[0]))

    def placed(hole: DrawnHole) -> DrawnHole:
        x, across = seat.place((hole.x, hole.across))
        angle = 0.0 if hole.kind in ("round", "countersunk", "blind") else (hole.slot_angle - turn) % 180.0
        angle = 0.0 if angle > 180.0 - 1e-6 else round(angle, 6)
        return replace(hole, x=round(x, 6) + 0.0, across=round(across, 6) + 0.0, slot_angle=angle)

    vertices = tuple(Vertex(round(x, 3) + 0.0, round(y, 3) + 0.0, round(b, 6)) for x, y, b in seat.outline)
    length, width = round(seat.length, 3), round(seat.width, 3)
    boxed = len(vertices) == 4 and not any(v.bulge for v in vertices)
    if boxed and abs(left.area - seat.length * seat.width) <= _BOX_MM2 * left.area:
        vertices = ()
    plate = Body(
        shapes.plate(width, body.section.tw),
        length,
        outline=vertices,
        holes=tuple(placed(hole) for hole in body.holes),
        problems=body.problems,
    )
    return plate, seat.origin, seat.x, tuple(placed(hole) for hole in holes)
