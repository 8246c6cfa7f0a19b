"""Plate to order, by thickness, grade and finish. Flats and bars are in the cutting plan."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from takeoff.dispatch import PlateLine
from takeoff.steel import HELD, PLATE, Piece


def plate_order(pieces: Sequence[Piece]) -> tuple[PlateLine, ...]:
    """A line for each thickness, grade and finish, thinnest first. Held pieces count, and are counted apart too.

    Areas are of the smallest rectangles round the pieces, m2, without kerf and off-cut: nothing is nested.
    """
    groups: dict[tuple[float, str, str], list[Piece]] = defaultdict(list)
    for piece in pieces:
        if piece.section.shape == PLATE:
            groups[round(piece.section.tw, 2), piece.grade, piece.finish].append(piece)
    return tuple(
        PlateLine(
            thickness, grade, finish, len(group), sum(p.quantity for p in group),
            sum(p.length * p.section.h * p.quantity for p in group) / 1e6,
            sum(p.gross * p.quantity for p in group),
            max(p.length for p in group), max(p.section.h for p in group),
            sum(p.quantity for p in group if p.status == HELD),
        )
        for (thickness, grade, finish), group in sorted(groups.items())
    )  # fmt: skip
