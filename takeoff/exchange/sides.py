"""Which side of the wall a countersink or a blind hole is on, and how deep it goes, as files for machines need it."""

from __future__ import annotations

from dataclasses import dataclass

from takeoff.steel import Piece


@dataclass(frozen=True, slots=True)
class Side:
    """``far``: the hole is open toward the side away from the viewer of its face. ``depth`` mm, None: not drawn."""

    far: bool = False
    depth: float | None = None


def sides(piece: Piece) -> dict[str, Side]:
    """The side of each countersunk or blind hole of a piece, by its label; none where it is not known."""
    return {hole.label: Side(hole.side == "far", hole.depth or None) for hole in piece.holes if hole.side}
