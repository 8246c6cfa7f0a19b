"""An angle inside another one, whose heel is ground for the root radius, and legs opened or closed to meet a face.

Vocabulary
----------
outer, inner   of two angles whose legs lie on each other along the same line, the one that holds the other
root           the fillet between the legs of the outer one; the inner one's heel is sharp (EN 10056-1)
opening        the angle between the legs becomes more than 90 degrees by so many; closing: less (negative)
A heel ground to the root's radius clears it; so does a 45 degree chamfer of that size. A leg is opened about the heel;
a face that is skew along the piece (a twist) is not made good by that and is not listed here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import atan2, cos, degrees, hypot, radians
from typing import Final

import numpy as np

from takeoff.joints.plies import IntArray, Plies
from takeoff.steel import ANGLE, FlangeBend, HeelGrind, Piece

ALIKE_COS: Final = cos(radians(2.0))
"""Angles within 2 degrees of each other lie along the same line."""
APART_MM: Final = 1.0
"""How far the model's inner angle may run into the outer one's legs and still lie inside it."""
SKEW_COS: Final = cos(radians(0.2))
"""Faces within 0.2 degrees are parallel: most are, and need no closer look."""


def heel_grinds(plies: Plies, pieces: Sequence[Piece]) -> dict[int, tuple[HeelGrind, ...]]:
    """By piece: where its heel is ground because it lies in the root of another angle."""
    pairs = _touching(plies, pieces)
    found: dict[int, list[tuple[int, float, float, float]]] = {}
    for one, other in pairs:
        for outer, inner in ((one, other), (other, one)):
            grind = _grind(pieces, outer, inner)
            if grind:
                found.setdefault(inner[0], []).append((inner[1], *grind))
    return {piece: _joined(spans) for piece, spans in found.items()}


def _touching(plies: Plies, pieces: Sequence[Piece]) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    """Pairs of angles, each (piece, place), that follow each other on a bolt; each pair once."""
    angle = np.array([p.section.shape == ANGLE for p in pieces], dtype=bool)
    if not len(plies.piece):
        return []
    rows = np.flatnonzero((plies.after >= 0) & angle[plies.piece])
    rows = rows[angle[plies.piece[plies.after[rows]]]]
    nexts = plies.after[rows]
    pairs = np.stack([plies.piece[rows], plies.place[rows], plies.piece[nexts], plies.place[nexts]], axis=1)
    return [((a, b), (c, d)) for a, b, c, d in np.unique(pairs, axis=0).tolist()]


def _grind(
    pieces: Sequence[Piece], outer: tuple[int, int], inner: tuple[int, int]
) -> tuple[float, float, float] | None:
    """From x to x of the inner angle, and the radius; None where its heel does not lie in the outer one's root."""
    holder, lying = pieces[outer[0]], pieces[inner[0]]
    frame, own = holder.frames[outer[1]], lying.frames[inner[1]]
    if abs(float(frame.axes[0] @ own.axes[0])) < ALIKE_COS:
        return None
    legs = frame.axes[1:] @ own.axes[1:].T
    if legs.max(axis=1).min() < ALIKE_COS:
        return None
    ends = frame.to_piece(np.array([own.origin, own.origin + lying.length * own.axes[0]]))
    s = holder.section
    # The heel's place from the corner of the outer one's inner faces, at both ends of the inner angle.
    off = ends[:, 1:] - s.tw
    if off.min() < -APART_MM or off.max() > max(s.r1, APART_MM) or not _in_root(off.mean(axis=0).tolist(), s.r1):
        return None
    span = np.clip(ends[:, 0], 0.0, holder.length)
    if abs(span[1] - span[0]) < 1.0:
        return None
    xs = sorted(abs(float(x - ends[0, 0])) for x in span)
    return round(xs[0], 1), round(xs[1], 1), s.r1


def _in_root(off: Sequence[float], radius: float) -> bool:
    """Whether a sharp heel at this place from the inner corner runs into the fillet; an unknown radius: yes."""
    u, v = max(off[0], 0.0), max(off[1], 0.0)
    if radius <= 0:
        return True
    if u >= radius or v >= radius:
        return False
    return hypot(radius - u, radius - v) > radius + 0.05


def _joined(spans: Iterable[tuple[int, float, float, float]]) -> tuple[HeelGrind, ...]:
    """Like spans of several members as one, with how many members need it."""
    groups: list[tuple[float, float, float, set[int]]] = []
    for place, left, right, radius in sorted(spans, key=lambda span: span[1:]):
        for low, high, r, places in groups:
            if abs(low - left) < 1.0 and abs(high - right) < 1.0 and r == radius:
                places.add(place)
                break
        else:
            groups.append((left, right, radius, {place}))
    return tuple(HeelGrind(low, high, r, r, len(places)) for low, high, r, places in groups)


def flange_bends(plies: Plies, pieces: Sequence[Piece], least_deg: float) -> dict[int, tuple[FlangeBend, ...]]:
    """By piece: legs that meet a face at more than ``least_deg``, and by how much they are opened or closed.

    Of two angles the thinner one is bent, then the narrower one; of an angle and another shape the angle.
    """
    rows = _skew_rows(plies, pieces)
    turned: dict[tuple[int, int, int, float], list[float]] = {}
    for row in rows.tolist():
        for mine, other in _bent_one(row, int(plies.after[row]), plies, pieces):
            bend = _bend(mine, other, plies, pieces)
            if abs(bend) > least_deg:
                key = (int(plies.piece[mine]), int(plies.place[mine]), int(plies.face[mine]), round(bend, 1))
                turned.setdefault(key, []).append(float(plies.x[mine]))
    found: dict[int, dict[tuple[str, float, float, float], set[int]]] = {}
    for (piece, place, face, bend), xs in turned.items():
        span = (pieces[piece].faces[face].name, round(min(xs)), round(max(xs)), bend)
        found.setdefault(piece, {}).setdefault(span, set()).add(place)
    return {
        piece: tuple(FlangeBend(*span, len(places)) for span, places in sorted(spans.items()))
        for piece, spans in found.items()
    }


def _skew_rows(plies: Plies, pieces: Sequence[Piece]) -> IntArray:
    """Rows whose next ply is not parallel to them."""
    rows = np.flatnonzero(plies.after >= 0)
    if not len(rows):
        return rows
    normals = _normals(plies, pieces)
    square = abs((normals[rows] * normals[plies.after[rows]]).sum(axis=1))
    return np.asarray(rows[square < SKEW_COS])


def _normals(plies: Plies, pieces: Sequence[Piece]) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """The inward normal (n, 3) of every row's face in the model."""
    out = np.zeros((len(plies.piece), 3))
    for p in np.unique(plies.piece).tolist():
        piece = pieces[p]
        rows = np.flatnonzero(plies.piece == p)
        inward = np.array([wall.inward for wall in piece.faces])[plies.face[rows]]
        axes = np.array([f.axes for f in piece.frames])[plies.place[rows]]
        out[rows] = inward[:, :1] * axes[:, 1] + inward[:, 1:] * axes[:, 2]
    return out


def _bent_one(row: int, after: int, plies: Plies, pieces: Sequence[Piece]) -> Iterable[tuple[int, int]]:
    """(row that is bent, row it is bent to); nothing where neither is an angle."""

    def stiffness(r: int) -> tuple[float, float, int]:
        section = pieces[int(plies.piece[r])].section
        return section.tw, section.h, int(plies.piece[r])

    angles = [r for r in (row, after) if pieces[int(plies.piece[r])].section.shape == ANGLE]
    if not angles:
        return ()
    mine = min(angles, key=stiffness)
    return ((mine, after if mine == row else row),)


def _bend(mine: int, other: int, plies: Plies, pieces: Sequence[Piece]) -> float:
    """Degrees by which my leg is opened to lie on the other's face."""

    def wall(row: int) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], Piece]:
        piece = pieces[int(plies.piece[row])]
        inward = piece.faces[int(plies.face[row])].inward
        axes = piece.frames[int(plies.place[row])].axes
        return inward[0] * axes[1] + inward[1] * axes[2], piece

    normal, _ = wall(other)
    piece = pieces[int(plies.piece[mine])]
    axes = piece.frames[int(plies.place[mine])].axes
    u, v = float(normal @ axes[1]), float(normal @ axes[2])
    into, along = (u, v) if piece.faces[int(plies.face[mine])].name == "A" else (v, u)
    if into < 0:
        into, along = -into, -along
    return degrees(atan2(along, into))


def with_angle_work(
    pieces: Sequence[Piece], grinds: dict[int, tuple[HeelGrind, ...]], bends: dict[int, tuple[FlangeBend, ...]]
) -> list[Piece]:
    """The pieces with their heel grinds and flange bends."""
    return [
        replace(piece, heel_grinds=grinds.get(k, ()), flange_bends=bends.get(k, ()))
        if k in grinds or k in bends
        else piece
        for k, piece in enumerate(pieces)
    ]
