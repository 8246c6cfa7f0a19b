"""Zinc on the pieces: what galvanising adds to a piece's weight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from takeoff.rules.zinc import coating, is_weighed
from takeoff.settings import ZincSettings
from takeoff.steel import CHS, RHS, Piece


def with_zinc(pieces: Sequence[Piece], settings: ZincSettings) -> list[Piece]:
    """The pieces with kg of zinc on each: surface times the coating of its thinnest wall.

    Hollow sections have their inside covered too: their surface counts twice, less the wall. Pieces whose surface is
    not known, or that are given no such weight, have none.
    """
    return [replace(p, zinc=zinc_on(p, settings)) for p in pieces]


def zinc_on(piece: Piece, settings: ZincSettings) -> float:
    """kg of zinc on one piece; 0 where it is given none."""
    if not is_weighed(piece.finish, settings):
        return 0.0
    walls = [face.thickness for face in piece.faces] or [piece.section.tw or piece.section.h]
    surface = piece.surface
    if piece.section.shape in (RHS, CHS) and piece.section.tw:
        outer = piece.section.perimeter_mm
        # The inner perimeter is shorter by 8 walls (a tube: 2 pi walls).
        inner = outer - (8.0 if piece.section.shape == RHS else 2 * 3.141592653589793) * piece.section.tw
        surface += max(0.0, inner) * piece.length * 1e-6
    return surface * coating(min(walls), settings.coating_g_m2) / 1000.0
