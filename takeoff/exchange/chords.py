"""Outlines drawn in short straight lines: arcs where they mean arcs, a query where they mean another curve.

Copes and notches come as chords from every kind of body; what cuts them out can follow an arc.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from typing import Final

from takeoff.drawn.curves import LEAST_STEPS, STEP_DEG, with_arcs
from takeoff.exchange.nc_codes import CHORDS
from takeoff.queries import Query, query
from takeoff.sections.loops import Corner
from takeoff.steel import FloatArray, Piece
from takeoff.units import COINCIDENCE_MM

_FEWEST: Final = 7
"""Corners of an outline with a run that can be an arc: an arc has five or more, and two more close the loop."""
_CHORD_MM: Final = 25.0
"""Longer straight lines are edges of their own, however little the outline turns between them."""


def drawn_loop(points: FloatArray) -> list[Corner]:
    """Corners (x, across, bulge) of a drawn outline (n, 2) whose runs of corners on one circle are arcs.

    The corners of such a run lie on the arc; a run that is not certain stays as it is drawn.
    """
    if len(points) < _FEWEST:
        return [(float(x), float(across), 0.0) for x, across in points]
    return list(with_arcs(points, COINCIDENCE_MM))


def chord_query(piece: Piece, written: Iterable[tuple[str, list[Corner]]]) -> list[Query]:
    """A query if the outlines as ``written``, each with its face, have a curve that is no arc, in straight lines.

    The sentence names no kind of file, so that a mark with several files is asked about once.
    """
    faces = sorted({name for name, loop in written if _has_chords(loop)})
    return [query(CHORDS, piece.mark, ", ".join(faces), piece_mark=piece.mark)] if faces else []


def _has_chords(loop: list[Corner]) -> bool:
    """Whether short straight lines follow each other that turn the same way by little, as often as an arc's would."""
    if len(loop) < _FEWEST:
        return False
    run, before = 0, 0.0
    # Round twice, so that a run across the first corner is seen whole.
    edges = list(pairwise([*loop, *loop, loop[0]]))
    for (one, corner), (_, after) in pairwise(edges):
        turn = _turn(one, corner, after)
        short = not one[2] and not corner[2] and max(_span(one, corner), _span(corner, after)) <= _CHORD_MM
        bends = short and 0.01 < abs(turn) <= STEP_DEG
        run = run + 1 if bends and turn * before > 0 else int(bends)
        before = turn if bends else 0.0
        if run >= LEAST_STEPS:
            return True
    return False


def _span(a: Corner, b: Corner) -> float:
    return math.hypot(b[0] - a[0], b[1] - a[1])


def _turn(a: Corner, b: Corner, c: Corner) -> float:
    """Degrees by which a way from a over b to c turns at b, positive to the left."""
    cross = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
    return math.degrees(math.atan2(cross, (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])))
