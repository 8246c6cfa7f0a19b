"""Members as arrays: the middle line of each, and where the outsides of its legs or sides look."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from takeoff.steel import ANGLE, CHANNEL, FLAT, I_SHAPE, PLATE, RHS, T_SHAPE, FloatArray, Piece, Section

IntArray = npt.NDArray[np.int64]

SLENDER: Final = 8.0
"""A bar this many times as long as its section is high is a long piece: it begins a level."""
FEW: Final = 4
"""Posts that tell where a structure's faces are: fewer than these do not."""


class Standing(NamedTuple):
    """Members in order of pieces: piece number, member, ends of the middle axis, model directions of two outsides."""

    piece: IntArray
    member: IntArray
    left: FloatArray
    right: FloatArray
    outsides: tuple[FloatArray, FloatArray]


def _middle(section: Section) -> tuple[float, float]:
    """The middle of the section's box, in (u, v) of the piece frame."""
    if section.shape in (ANGLE, CHANNEL, FLAT, PLATE, RHS):
        return section.b / 2, section.h / 2
    if section.shape in (I_SHAPE, T_SHAPE):
        return 0.0, section.h / 2
    if section.outline:
        us, vs = zip(*section.outline, strict=True)
        return (min(us) + max(us)) / 2, (min(vs) + max(vs)) / 2
    return 0.0, 0.0


OUTSIDES: Final[dict[str, tuple[tuple[str, tuple[float, float]], ...]]] = {
    ANGLE: (("A", (-1.0, 0.0)), ("B", (0.0, -1.0))),
    CHANNEL: (("back", (-1.0, 0.0)),),
    I_SHAPE: (("web", (-1.0, 0.0)),),
    T_SHAPE: (("flange", (0.0, -1.0)),),
    FLAT: (("face", (-1.0, 0.0)),),
    PLATE: (("face", (-1.0, 0.0)),),
    RHS: (("front", (-1.0, 0.0)),),
}
"""Shape -> what of it is named, and where its outside looks in (u, v)."""


def standing_of(pieces: Sequence[Piece]) -> Standing:
    """Every member that has a frame, piece by piece."""
    numbers, members, lefts, rights = [], [], [], []
    outsides: tuple[list[FloatArray], list[FloatArray]] = ([], [])
    for k, piece in enumerate(pieces):
        many = len(piece.frames)
        if not many:
            continue
        origins = np.array([frame.origin for frame in piece.frames])
        axes = np.array([frame.axes for frame in piece.frames])
        u, v = _middle(piece.section)
        left = origins + u * axes[:, 1] + v * axes[:, 2]
        numbers.append(np.full(many, k))
        members.append(np.array(piece.members[:many]))
        lefts.append(left)
        rights.append(left + piece.length * axes[:, 0])
        named = OUTSIDES.get(piece.section.shape, ())
        for slot, found in enumerate(outsides):
            way = named[slot][1] if slot < len(named) else (0.0, 0.0)
            found.append(way[0] * axes[:, 1] + way[1] * axes[:, 2])
    if not numbers:
        none = np.zeros((0, 3))
        return Standing(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), none, none, (none, none))
    return Standing(
        np.concatenate(numbers).astype(np.int64),
        np.concatenate(members).astype(np.int64),
        np.concatenate(lefts),
        np.concatenate(rights),
        (np.concatenate(outsides[0]), np.concatenate(outsides[1])),
    )


def long_pieces(standing: Standing, pieces: Sequence[Piece]) -> npt.NDArray[np.bool_]:
    """Which members are long pieces; all of them where there is none."""
    slender = np.array(
        [p.section.shape != PLATE and p.length >= SLENDER * max(p.section.h, p.section.b) for p in pieces], dtype=bool
    )
    found = slender[standing.piece] if len(pieces) else np.zeros(0, dtype=bool)
    return found if found.any() else np.ones(len(found), dtype=bool)


def posts(standing: Standing, pieces: Sequence[Piece]) -> Standing:
    """The long pieces that rise: legs, posts and braces tell where the faces are. Every piece where there are few.

    A platform or a row of steps sticks out of a structure without being its face.
    """
    along = standing.right - standing.left
    rise = np.abs(along[:, 2]) >= 0.5 * np.linalg.norm(along, axis=1)
    chosen = np.flatnonzero(rise & long_pieces(standing, pieces))
    if len(chosen) < FEW:
        return standing
    return Standing(
        standing.piece[chosen], standing.member[chosen], standing.left[chosen], standing.right[chosen],
        (standing.outsides[0][chosen], standing.outsides[1][chosen]),
    )  # fmt: skip
