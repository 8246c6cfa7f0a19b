"""Which side of the wall a countersink or a blind hole is on, and how deep it goes, as the model's parts draw it.

A piece's hole tells where it is on the face; what it does in the depth of the wall stands with the holes that the
parts of the model draw. Their places are held against each other in the piece frame.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff import steel
from takeoff.sections.faces import faces
from takeoff.steel import DrawnHole, Face, Hole, Piece, Takeoff
from takeoff.units import GROUPING_MM

SUNK: Final = ("countersunk", "blind")


@dataclass(frozen=True, slots=True)
class Side:
    """``far``: the hole is open toward the side away from the viewer of its face. ``depth`` mm, None: not drawn."""

    far: bool = False
    depth: float | None = None


def sides(takeoff: Takeoff, piece: Piece) -> dict[str, Side]:
    """The side of each countersunk or blind hole of a piece, by its label; none for one that no part draws."""
    sunk = [hole for hole in piece.holes if hole.kind in SUNK]
    if not sunk or not piece.members:
        return {}
    drawn = _drawn(takeoff, piece)
    found = {}
    for hole in sunk:
        face = next(f for f in piece.faces if f.name == hole.face)
        place = _on_face(face, hole)
        near = [(float(np.linalg.norm((at - place)[_along(face)])), at, depth) for kind, at, depth in drawn
                if kind == hole.kind]  # fmt: skip
        if not near:
            continue
        distance, at, depth = min(near, key=lambda entry: entry[0])
        # Members of a mark may differ from it by the tolerance of grouping, in x and across.
        if distance > 2 * GROUPING_MM:
            continue
        inward = float((at - place) @ np.array([0.0, *face.inward]))
        found[hole.label] = Side(inward > face.thickness / 2, depth)
    return found


def _drawn(takeoff: Takeoff, piece: Piece) -> list[tuple[str, steel.FloatArray, float | None]]:
    """Countersunk and blind holes of the piece's first part: kind, mouth in the piece frame, depth."""
    member = takeoff.model.members[piece.members[0]]
    if member.body is None or member.frame is None:
        return []
    walls = {face.name: face for face in faces(member.body.section)}
    found = []
    for hole in (*member.body.holes, *member.holes):
        if hole.kind in SUNK and hole.face in walls:
            mouth = piece.frames[0].to_piece(member.frame.to_model(_on_face(walls[hole.face], hole)))
            found.append((hole.kind, mouth, hole.depth if np.isfinite(hole.depth) else None))
    return found


def _on_face(face: Face, hole: Hole | DrawnHole) -> steel.FloatArray:
    """The hole's middle on the outside of its face, (x, u, v) of the piece frame."""
    across = hole.across
    u, v = (o + across * d for o, d in zip(face.origin, face.direction, strict=True))
    return np.array([hole.x, u, v])


def _along(face: Face) -> list[int]:
    """Axes of the piece frame that lie in the face."""
    return [0, 1] if abs(face.direction[0]) > 0.5 else [0, 2]
