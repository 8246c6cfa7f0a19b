"""The faces of a piece laid flat, one band each, in the order in which they unfold.

Every face is seen from outside with x to the right; whether ``across`` then grows up or
down the paper follows from the frame: with x to the right and the face's outside toward
the viewer, up the paper is the direction across the section that makes the three
right-handed. Leg A of an angle so stands on the heel line and leg B hangs below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.sheets.arcs import Arc, of_loop, of_vertices
from takeoff.steel import ANGLE, FLAT, PLATE, Face, FloatArray, Piece, Point2, Vertex

_UNFOLDED: Final = ("top", "A", "web", "stem", "face", "front", "wall", "B", "bottom", "back")
_FIRST: Final = ("A", "web", "stem", "face", "front", "wall")
ARC_STEPS: Final = 12
"""Straight pieces that a quarter circle of an outline is drawn with."""


@dataclass(frozen=True, slots=True)
class Band:
    """A face to draw. ``up``: across grows up the paper.

    ``outlines`` in (x, across): one loop, more where cuts split the face. ``far`` is the
    inside of the wall where a bevel makes it differ.
    """

    face: Face
    up: bool
    outlines: tuple[tuple[Point2, ...], ...]
    far: tuple[tuple[Point2, ...], ...]
    corners: tuple[Point2, ...]
    """Corners of the outline that are not corners of the plain rectangle, without the points of arcs."""
    arcs: tuple[Arc, ...] = ()
    ring: tuple[Point2, ...] = ()
    """All corners of a plate's outline, anti-clockwise, without the points of arcs; empty for other pieces."""

    @property
    def width(self) -> float:
        return self.face.high - self.face.low


@dataclass(frozen=True, slots=True)
class Stretch:
    """What one drawing shows: some of the faces, from ``start`` to ``end`` mm; ``detail`` numbers an enlarged one."""

    faces: tuple[Band, ...]
    start: float
    end: float
    detail: int = 0


def flat_on(piece: Piece) -> bool:
    """Whether the piece is a plate or flat, of which one broad side is all there is to see."""
    return piece.section.shape in (PLATE, FLAT)


def grows_up(face: Face) -> bool:
    """Whether ``across`` runs up the paper when the face is seen from outside, x to the right."""
    wu, wv = face.inward
    return -wv * face.direction[0] + wu * face.direction[1] >= 0.0


def bands(piece: Piece) -> list[Band]:
    """The faces to draw: both legs of an angle, else every punched or cut face, at least the main one."""
    faces = sorted(piece.faces, key=lambda face: _rank(face.name))
    if not faces:
        return []
    named = {hole.face for hole in piece.holes} | {cut.face for cut in piece.cuts if cut.kind == "notch"}
    if piece.section.shape == ANGLE:
        drawn = faces
    else:
        drawn = [face for face in faces if face.name in named]
    if not drawn:
        drawn = [min(faces, key=lambda face: (face.name not in _FIRST, _rank(face.name)))]
    return [_band(piece, face) for face in drawn]


def _rank(name: str) -> tuple[int, str]:
    return (_UNFOLDED.index(name) if name in _UNFOLDED else len(_UNFOLDED), name)


def _band(piece: Piece, face: Face) -> Band:
    up = grows_up(face)
    box = (
        (0.0, face.low),
        (piece.length, face.low),
        (piece.length, face.high),
        (0.0, face.high),
    )
    if piece.outline and flat_on(piece):
        ring, arcs = of_vertices(piece.outline)
        return Band(face, up, (polygon(piece.outline),), (), _odd(tuple(ring), box), tuple(arcs), tuple(ring))
    own = [outline for outline in piece.outlines if outline.face == face.name and len(outline.points) >= 3]
    loops = tuple(_loop(outline.points) for outline in own) or (box,)
    far = tuple(_loop(outline.far) for outline in own if outline.far is not None)
    found = [of_loop(loop) for loop in loops]
    corners = tuple(point for points, _ in found for point in points)
    return Band(face, up, loops, far, _odd(corners, box), tuple(arc for _, arcs in found for arc in arcs))


def _loop(points: FloatArray) -> tuple[Point2, ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _odd(points: tuple[Point2, ...], box: tuple[Point2, ...]) -> tuple[Point2, ...]:
    """The points that are no corner of the rectangle."""
    return tuple(p for p in points if all(abs(p[0] - c[0]) > 0.05 or abs(p[1] - c[1]) > 0.05 for c in box))


def polygon(outline: tuple[Vertex, ...]) -> tuple[Point2, ...]:
    """A plate's outline with its arcs as short straight pieces, in (x, across)."""
    points: list[Point2] = []
    for here, there in zip(outline, (*outline[1:], outline[0]), strict=True):
        points.append((here.x, here.across))
        if here.bulge:
            points += _arc(here, there)
    return tuple(points)


def _arc(here: Vertex, there: Vertex) -> list[Point2]:
    """Points of the arc between two corners, without the corners. Bulge as in DXF: tan of a quarter of the angle."""
    start = complex(here.x, here.across)
    chord = complex(there.x, there.across) - start
    half = 2.0 * float(np.arctan(here.bulge))  # half the included angle
    steps = max(2, int(np.ceil(abs(half) * 2 / (np.pi / 2) * ARC_STEPS)))
    # The centre lies on the chord's bisector; a positive bulge bends to the right of the chord, anti-clockwise.
    centre = start + chord / 2 + 1j * chord / 2 / float(np.tan(half))
    spoke = start - centre
    turned = [centre + spoke * np.exp(1j * 2 * half * k / steps) for k in range(1, steps)]
    return [(float(p.real), float(p.imag)) for p in turned]


def between(points: Sequence[tuple[float, float]], start: float, end: float) -> list[tuple[float, float]]:
    """The part of a polygon with start <= x <= end (clipped side by side)."""
    kept = list(points)
    for bound, keep_above in ((start, True), (end, False)):
        clipped: list[tuple[float, float]] = []
        for (xa, ya), (xb, yb) in zip(kept, [*kept[1:], *kept[:1]], strict=True):
            inside_a = xa >= bound if keep_above else xa <= bound
            inside_b = xb >= bound if keep_above else xb <= bound
            if inside_a:
                clipped.append((xa, ya))
            if inside_a != inside_b:
                t = (bound - xa) / (xb - xa)
                clipped.append((bound, ya + t * (yb - ya)))
        kept = clipped
    return kept


def refined(points: Sequence[tuple[float, float]], knots: Sequence[float]) -> list[tuple[float, float]]:
    """The polygon with a point wherever an edge crosses a knot, so that it bends only there."""
    fine: list[tuple[float, float]] = []
    for (xa, ya), (xb, yb) in zip(points, [*points[1:], *points[:1]], strict=True):
        fine.append((xa, ya))
        inner = [x for x in knots if min(xa, xb) < x < max(xa, xb)]
        fine += [(x, ya + (x - xa) / (xb - xa) * (yb - ya)) for x in (inner if xb > xa else reversed(inner))]
    return fine
