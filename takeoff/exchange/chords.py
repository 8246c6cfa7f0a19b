"""Arcs that a file for machines holds as straight lines, because only the drawn outline of the face has them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from takeoff.drawn.curves import with_arcs
from takeoff.exchange.nc_codes import CHORDS
from takeoff.queries import Query, query
from takeoff.sections.loops import Corner
from takeoff.steel import Piece
from takeoff.units import COINCIDENCE_MM

_FEWEST: Final = 7
"""Corners of an outline with a run that can be an arc: an arc has five or more, and two more close the loop."""


def chord_query(piece: Piece, written: Iterable[tuple[str, list[Corner]]]) -> list[Query]:
    """A query if the outlines as ``written``, each with its face, have runs of straight lines that mean arcs.

    The sentence names no kind of file, so that a mark with several files is asked about once.
    """
    faces = sorted({name for name, loop in written if _has_chords(loop)})
    return [query(CHORDS, piece.mark, ", ".join(faces), piece_mark=piece.mark)] if faces else []


def _has_chords(loop: list[Corner]) -> bool:
    if len(loop) < _FEWEST or any(bulge for _, _, bulge in loop):
        return False
    corners = np.array([(x, across) for x, across, _ in loop])
    return any(bulge for _, _, bulge in with_arcs(corners, COINCIDENCE_MM))
