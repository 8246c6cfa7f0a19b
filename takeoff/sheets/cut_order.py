"""The order in which pieces are cut: by section and grade, longest first, the two hands of a piece together."""

from __future__ import annotations

from collections.abc import Sequence

from takeoff.order import natural
from takeoff.steel import SHAPES, Piece

Key = tuple[str, str, str]
"""Shape, designation, grade."""


def groups(pieces: Sequence[Piece]) -> list[tuple[Key, list[Piece]]]:
    """The pieces of each section and grade: angles first, then by section as people count, then by grade."""
    found: dict[Key, list[Piece]] = {}
    for piece in pieces:
        key = (piece.section.shape, piece.section.designation, piece.grade)
        found.setdefault(key, []).append(piece)
    return [(key, _longest_first(found[key])) for key in sorted(found, key=_rank)]


def _rank(key: Key) -> tuple[int, tuple[tuple[int, int, str], ...], str]:
    shape, designation, grade = key
    return (SHAPES.index(shape) if shape in SHAPES else len(SHAPES), natural(designation), grade)


def _longest_first(pieces: Sequence[Piece]) -> list[Piece]:
    own = {piece.mark: piece for piece in pieces}

    def place(piece: Piece) -> tuple[float, tuple[tuple[int, int, str], ...]]:
        return -round(piece.length, 2), natural(piece.mark)

    def pair(piece: Piece) -> tuple[float, tuple[tuple[int, int, str], ...]]:
        other = own.get(piece.opposite_hand_of)
        return min(place(piece), place(other)) if other else place(piece)

    return sorted(pieces, key=lambda piece: (pair(piece), place(piece)))
