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


SAME_DEG: Final = 0.15
SAME_MM: Final = 1.5
"""Bends this near to each other are one: nearly parallel members of a mark differ by the model's rounding."""

Bent = tuple[str, float, float, float]
"""Face, from x to x, degrees."""


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
    """By piece: legs that meet a face at more than ``least_deg``, by how much they are opened or closed, and where.

    A leg is bent as far as the other part's face lies over it, at each end of a brace for itself. Of two angles the
    thinner one is bent, then the narrower one; of an angle and another shape the angle.
    """
    turned: dict[tuple[int, int], dict[tuple[int, int, int], list[Bent]]] = {}
    for row in _skew_rows(plies, pieces).tolist():
        for mine, other in _bent_one(row, int(plies.after[row]), plies, pieces):
            bend = _bend(mine, other, plies, pieces)
            if abs(bend) > least_deg:
                found = turned.setdefault((int(plies.piece[mine]), int(plies.place[mine])), {})
                met = (int(plies.face[mine]), int(plies.piece[other]), int(plies.place[other]))
                face = pieces[int(plies.piece[mine])].faces[int(plies.face[mine])].name
                span = _span(mine, other, plies, pieces) if met not in found else found[met][0][1:3]
                x = float(plies.x[mine])
                found.setdefault(met, []).append((face, min(span[0], x), max(span[1], x), bend))
    entries: dict[int, list[tuple[Bent, int]]] = {}
    for (piece, place), meetings in turned.items():
        joined = _run_together([bent for met in meetings.values() for bent in met])
        entries.setdefault(piece, []).extend((bent, place) for bent in joined)
    return {piece: _bends(_members_alike(found)) for piece, found in sorted(entries.items())}


def _members_alike(entries: Sequence[tuple[Bent, int]]) -> list[tuple[Bent, set[int]]]:
    """Bends of several members that are one, each with its members; by size, so that no member's place decides."""
    groups: list[tuple[Bent, set[int]]] = []
    for bent, place in sorted(entries):
        for known, places in groups:
            if _alike(known, bent):
                places.add(place)
                break
        else:
            groups.append((bent, {place}))
    return groups


def _bends(groups: Sequence[tuple[Bent, set[int]]]) -> tuple[FlangeBend, ...]:
    """The bends of a piece in the order of its faces and x."""
    return tuple(
        sorted(
            FlangeBend(face, float(round(low)), float(round(high)), round(bend, 1), len(places))
            for (face, low, high, bend), places in groups
        )
    )


def _run_together(bents: Sequence[Bent]) -> list[Bent]:
    """Spans of one member and face with one bend, those that meet as one."""
    merged: list[Bent] = []
    for face, low, high, bend in sorted(bents):
        for k, (other_face, other_low, other_high, other_bend) in enumerate(merged):
            if other_face == face and abs(other_bend - bend) <= SAME_DEG and low <= other_high + 1.0:
                merged[k] = (face, min(low, other_low), max(high, other_high), other_bend)
                break
        else:
            merged.append((face, low, high, bend))
    return merged


def _alike(one: Bent, other: Bent) -> bool:
    """Whether two members of a mark are bent alike."""
    near = abs(one[1] - other[1]) <= SAME_MM and abs(one[2] - other[2]) <= SAME_MM
    return one[0] == other[0] and near and abs(one[3] - other[3]) <= SAME_DEG


def _span(mine: int, other: int, plies: Plies, pieces: Sequence[Piece]) -> tuple[float, float]:
    """From x to x of my piece: where the other one's face lies over mine; where it does not, at the bolt."""
    import shapely

    piece, theirs = pieces[int(plies.piece[mine])], pieces[int(plies.piece[other])]
    wall, hers = piece.faces[int(plies.face[mine])], theirs.faces[int(plies.face[other])]
    across = np.array([hers.low, hers.low, hers.high, hers.high])
    corners = np.column_stack(
        [
            [0.0, theirs.length, theirs.length, 0.0],
            hers.origin[0] + across * hers.direction[0],
            hers.origin[1] + across * hers.direction[1],
        ]
    )
    frame, own = theirs.frames[int(plies.place[other])], piece.frames[int(plies.place[mine])]
    local = own.to_piece(frame.to_model(corners))
    flat = np.column_stack([local[:, 0], (local[:, 1:] - np.array(wall.origin)) @ np.array(wall.direction)])
    over = shapely.box(0.0, wall.low, piece.length, wall.high).intersection(shapely.Polygon(flat).convex_hull)
    x = float(plies.x[mine])
    return (x, x) if over.is_empty else (float(over.bounds[0]), float(over.bounds[2]))


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
