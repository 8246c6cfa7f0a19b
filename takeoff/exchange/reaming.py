"""Holes that are punched small and reamed after: files for machines hold what the machine makes, the size to punch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from takeoff.queries import CHECK, Query, query, register
from takeoff.steel import Hole, Piece
from takeoff.units import millimetres

REAMED: Final = register(
    "machine-reamed",
    CHECK,
    "Holes that are reamed stand in the files for machines with the diameter punched first, not with the finished "
    "one: {0}.",
    "Ream them after the line, to the size on the piece's sheet.",
)
_MOST_MARKS: Final = 12
"""Marks named in the query; the sheets have them all."""


def as_punched(hole: Hole) -> Hole:
    """The hole as it is punched first: with its smaller diameter where it is reamed after, else unchanged.

    A slot keeps the centres of its ends, a rectangle those of its corners.
    """
    less = hole.diameter - hole.punch_mm
    if not hole.punch_mm or less <= 0:
        return hole
    return replace(
        hole,
        diameter=hole.punch_mm,
        slot_length=hole.slot_length - less if hole.slot_length else 0.0,
        width=hole.width - less if hole.kind == "rectangle" else hole.width,
    )


def reaming_words(piece: Piece, holes: Iterable[Hole]) -> list[str]:
    """``4 holes punched 16, to be reamed to 18``: a phrase for each size among ``holes`` of a piece."""
    sizes = Counter((hole.diameter, as_punched(hole).diameter) for hole in holes if as_punched(hole) is not hole)
    return [
        f"{many} {'hole' if many == 1 else 'holes'} punched {millimetres(first)}, to be reamed to "
        f"{millimetres(finished)}"
        for (finished, first), many in sorted(sizes.items())
    ]


def reamed_query(pieces: Iterable[Piece], ids: dict[str, tuple[str, ...]]) -> list[Query]:
    """One query for all ``pieces`` that have a file and holes to ream; ``ids``: GlobalIds by piece mark."""
    found = [(piece.mark, words) for piece in pieces if (words := reaming_words(piece, piece.holes))]
    if not found:
        return []
    told = [f"{mark}, {' and '.join(words)}" for mark, words in found[:_MOST_MARKS]]
    if len(found) > _MOST_MARKS:
        told.append(f"{len(found) - _MOST_MARKS} more marks")
    return [query(REAMED, "; ".join(told), global_ids=tuple(i for mark, _ in found for i in ids[mark]))]
