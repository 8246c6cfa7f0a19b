"""What a face looks like from outside once cuts, clips and notches have taken their share.

Vocabulary
----------
outline   the closed loop of a face in (x, across), anti-clockwise
far side  the same wall seen on its inside; differs from the outside only where a cut is bevelled through the
          thickness
corner    a point of an outline; a run of straight edges between corners is what a tape can measure
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import atan, ceil, cos, hypot, radians, sin
from typing import Any

import numpy as np

from takeoff.sections.shapes import faces
from takeoff.steel import CHS, ROUND, Body, Face, FloatArray, Notch, Plane, Point2, Vertex
from takeoff.units import COINCIDENCE_MM

TWO_SIDED = ("face", "web", "stem")
"""Walls that some turn lays over, so that the viewer sees their other side."""
ARC_STEP_DEG = 5.0
"""Arcs of a plate's outline are drawn and measured by steps of this angle: 0.1 % of the radius."""


def flatten(loop: tuple[Vertex, ...]) -> list[Point2]:
    """Corners of a loop with its arcs as short chords, mm; the first point is not repeated."""
    points: list[Point2] = []
    for here, there in pairwise((*loop, loop[0])):
        points.append((here.x, here.across))
        if abs(here.bulge) < 1e-9:
            continue
        angle = 4 * atan(here.bulge)
        dx, dy = there.x - here.x, there.across - here.across
        # The centre lies off the middle of the chord, to its left for a bulge below half a circle.
        off = (1 / here.bulge - here.bulge) / 4
        cx, cy = (here.x + there.x) / 2 - off * dy, (here.across + there.across) / 2 + off * dx
        rx, ry = here.x - cx, here.across - cy
        steps = max(2, ceil(abs(angle) / radians(ARC_STEP_DEG)))
        for k in range(1, steps):
            c, s = cos(angle * k / steps), sin(angle * k / steps)
            points.append((cx + c * rx - s * ry, cy + s * rx + c * ry))
    return points


def clip(points: list[Point2], face: Face, plane: Plane, deep: bool) -> list[Point2]:
    """The part of a convex loop on ``face`` (its inside where ``deep``) that a cut leaves."""
    inward = face.thickness if deep else 0.0
    n = plane.normal

    def height(x: float, across: float) -> float:
        u = face.origin[0] + across * face.direction[0] + inward * face.inward[0]
        v = face.origin[1] + across * face.direction[1] + inward * face.inward[1]
        return n[0] * (x - plane.point[0]) + n[1] * (u - plane.point[1]) + n[2] * (v - plane.point[2])

    kept: list[Point2] = []
    for a, b in pairwise([*points, points[0]] if points else []):
        ha, hb = height(*a), height(*b)
        if ha <= 1e-9:
            kept.append(a)
        if (ha > 1e-9 and hb < -1e-9) or (ha < -1e-9 and hb > 1e-9):
            f = ha / (ha - hb)
            kept.append((a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])))
    return _tidy(kept)


def _tidy(points: list[Point2]) -> list[Point2]:
    """Without repeated points and without points in the middle of a straight edge."""
    distinct: list[Point2] = []
    for p in points:
        if not distinct or hypot(p[0] - distinct[-1][0], p[1] - distinct[-1][1]) > COINCIDENCE_MM / 10:
            distinct.append(p)
    while len(distinct) > 1 and hypot(distinct[0][0] - distinct[-1][0], distinct[0][1] - distinct[-1][1]) <= (
        COINCIDENCE_MM / 10
    ):
        distinct.pop()
    count = len(distinct)
    if count < 3:
        return distinct
    corners = []
    for k, p in enumerate(distinct):
        a, b = distinct[k - 1], distinct[(k + 1) % count]
        chord = hypot(b[0] - a[0], b[1] - a[1])
        off = abs((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / chord if chord else 1.0
        if off > COINCIDENCE_MM / 10:
            corners.append(p)
    return corners


def rectangle(face: Face, length: float) -> list[Point2]:
    """The whole face of a square-cut piece, anti-clockwise in (x, across)."""
    return [(0.0, face.low), (length, face.low), (length, face.high), (0.0, face.high)]


def is_plain(body: Body, notches: tuple[Notch, ...]) -> bool:
    """Whether every face is a full rectangle."""
    return not (body.left or body.right or body.outline or body.notches or notches)


@lru_cache(maxsize=65536)
def face_loops(body: Body, notches: tuple[Notch, ...], number: int, deep: bool = False) -> tuple[FloatArray, ...]:
    """Loops (n, 2) of face ``number`` of the body, largest first, as cuts and notches leave it.

    More than one loop means that the cuts split the face. Round sections have none.
    """
    face = faces(body.section)[number]
    if body.section.shape in (CHS, ROUND):
        return ()
    points = flatten(body.outline) if body.outline else rectangle(face, body.length)
    for plane in (*body.left, *body.right):
        if body.outline:
            break
        points = clip(points, face, plane, deep)
    gone = [notch for notch in (*body.notches, *notches) if notch.face == face.name]
    if not gone:
        return (np.array(points, dtype=float).reshape(-1, 2),)
    import shapely

    rest = shapely.Polygon(points)
    for notch in gone:
        rest = rest.difference(shapely.Polygon(_beyond(notch.loop, face, body.length)))
    parts = [p for p in getattr(rest, "geoms", [rest]) if p.geom_type == "Polygon" and p.area > 1.0]
    parts.sort(key=lambda p: (-p.area, p.bounds))
    loops = []
    for part in parts:
        ring = shapely.geometry.polygon.orient(part).exterior
        loops.append(np.array(_tidy([(float(x), float(y)) for x, y in ring.coords[:-1]])))
    return tuple(loops)


def _beyond(loop: tuple[Point2, ...], face: Face, length: float) -> list[Point2]:
    """A notch's loop with the corners at the face's ends and edges put a hundredth of a millimetre outside it.

    A notch that stops a rounding error short of the end would leave a hair of steel there, and be a hole.
    """

    def outward(value: float, low: float, high: float) -> float:
        if value < low + COINCIDENCE_MM:
            return min(value, low - COINCIDENCE_MM)
        return max(value, high + COINCIDENCE_MM) if value > high - COINCIDENCE_MM else value

    return [(outward(x, 0.0, length), outward(across, face.low, face.high)) for x, across in loop]


@lru_cache(maxsize=65536)
def face_polygon(body: Body, notches: tuple[Notch, ...], number: int) -> Any:
    """The face as a shapely geometry, or None for a round section."""
    import shapely

    loops = face_loops(body, notches, number)
    if not loops:
        return None
    polygons = [shapely.Polygon(loop) for loop in loops if len(loop) >= 3]
    return shapely.union_all(polygons) if len(polygons) != 1 else polygons[0]


def corner_rows(body: Body, notches: tuple[Notch, ...]) -> list[tuple[int, float, float, float, bool]]:
    """What tells one blank from another besides section and length: rows (face, x, across, bulge, far side).

    Empty for square ends. A wall that is seen from either side (a flat, a web, a stem) also gives its far side: a
    bevel has a hand, and a web turned over shows its other edge.
    """
    if is_plain(body, notches):
        return []
    if body.outline and not (body.notches or notches):
        return [(0, v.x, v.across, v.bulge, False) for v in body.outline]
    rows: list[tuple[int, float, float, float, bool]] = []
    for number, face in enumerate(faces(body.section)):
        full = {(round(x, 3), round(a, 3)) for x, a in rectangle(face, body.length)}
        for deep in (False, True) if face.name in TWO_SIDED else (False,):
            for loop in face_loops(body, notches, number, deep):
                corners = [(float(x), float(a)) for x, a in loop]
                if {(round(x, 3), round(a, 3)) for x, a in corners} != full:
                    rows.extend((number, x, a, 0.0, deep) for x, a in corners)
    return rows
