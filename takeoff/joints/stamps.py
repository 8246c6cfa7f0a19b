"""Where the piece mark is stamped: near the left end, outside, clear of holes, cuts, bolts and other plies.

Vocabulary: band (the strip of a face that the text stands in), blocked (the parts of a band, in x, that something is
in), cover (what another part lying on the outside of a face hides of it).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from takeoff.joints.plies import Plies
from takeoff.queries import ASSUMED, register
from takeoff.rules.findings import Ruling
from takeoff.settings import StampSettings
from takeoff.steel import ANGLE, CHS, PLATE, ROUND, Face, FloatArray, Piece, Stamp

STAMP_NO_PLACE = register(
    "stamp-no-place",
    ASSUMED,
    "Marks without a clear place for a stamp of {2}: {0} ({1}).",
    "Stamp them where other plies or washers will hide it, smaller, or hang a tag on them.",
)

Spans = list[tuple[float, float]]
Covers = dict[tuple[int, int], list[FloatArray]]
BOLT_ROOM: Final = 0.9
"""A washer takes this times the hole's diameter round the hole's centre: it is a little less than twice the bolt."""


def covers(plies: Plies, pieces: Sequence[Piece]) -> Covers:
    """By (piece, face): corners (4, 2) of what other parts hide of its outside, in (x, across)."""
    outer = np.where(plies.inward > 0, plies.before, plies.after)
    rows = np.flatnonzero(outer >= 0)
    if not len(rows):
        return {}
    others = outer[rows]
    keys = np.stack(
        [
            plies.piece[rows], plies.place[rows], plies.face[rows], plies.piece[others], plies.place[others],
            plies.face[others],
        ],
        axis=1,
    )  # fmt: skip
    found: Covers = {}
    seen: set[tuple[object, ...]] = set()
    for p, place, face, q, there, wall in np.unique(keys, axis=0).tolist():
        corners = _corners(pieces[p], place, face, pieces[q], there, wall)
        key = (p, face, *np.round(corners).ravel().tolist())
        if key not in seen:
            seen.add(key)
            found.setdefault((p, face), []).append(corners)
    return found


def _corners(piece: Piece, place: int, face: int, other: Piece, there: int, wall: int) -> FloatArray:
    """The other face's rectangle (4, 2) in (x, across) of mine."""
    theirs, mine = other.faces[wall], piece.faces[face]
    xs = np.array([0.0, other.length, other.length, 0.0])
    across = np.array([theirs.low, theirs.low, theirs.high, theirs.high])
    points = np.column_stack(
        [xs, theirs.origin[0] + across * theirs.direction[0], theirs.origin[1] + across * theirs.direction[1]]
    )
    local = piece.frames[place].to_piece(other.frames[there].to_model(points))
    off = local[:, 1:] - np.array(mine.origin)
    return np.column_stack([local[:, 0], off @ np.array(mine.direction)])


def stamped(
    pieces: Sequence[Piece], hidden: Covers, settings: StampSettings
) -> tuple[list[Piece], list[tuple[str, Ruling]]]:
    """The pieces with the place of their stamp, and those that have none."""
    done, missing = [], []
    for number, piece in enumerate(pieces):
        if piece.section.shape in (CHS, ROUND) or not piece.faces:
            done.append(piece)
            continue
        stamp = _place(number, piece, hidden, settings)
        done.append(replace(piece, stamp=stamp))
        if stamp is None:
            size = f"{settings.height_mm:g} mm high, {settings.width_mm:g} mm a character"
            missing.append((piece.mark, Ruling(STAMP_NO_PLACE, size, "it")))
    return done, missing


def _place(number: int, piece: Piece, hidden: Covers, settings: StampSettings) -> Stamp | None:
    length = max(1, len(piece.mark)) * settings.width_mm
    for k, face in enumerate(piece.faces):
        for middle in _middles(piece, face, settings):
            low, high = middle - settings.height_mm / 2, middle + settings.height_mm / 2
            blocked = _blocked(piece, face, hidden.get((number, k), ()), low, high, settings.clear_mm)
            x = _first_gap(piece, face, blocked, middle, length, settings)
            if x is not None:
                return Stamp(face.name, round(x, 1), round(middle, 1), length, settings.height_mm)
    return None


def _middles(piece: Piece, face: Face, settings: StampSettings) -> list[float]:
    """Heights to try for the text: the middle of the free face, then near its edges."""
    low, high = face.low, face.high
    if piece.section.shape == ANGLE:
        low = piece.section.tw
    need = settings.height_mm / 2 + settings.clear_mm
    if high - low < 2 * need:
        return []
    tries = [(low + high) / 2, high - need, low + need]
    return list(dict.fromkeys(round(t, 2) for t in tries))


def _blocked(piece: Piece, face: Face, hidden: Iterable[FloatArray], low: float, high: float, clear: float) -> Spans:
    """Spans of x in a band that holes with their bolts, the outline or other plies take."""
    spans: Spans = []
    for hole in piece.holes:
        if hole.face != face.name:
            continue
        reach = max(hole.diameter * (BOLT_ROOM if hole.bolt else 0.5), hole.slot_length / 2, hole.width / 2) + clear
        if low - reach < hole.across < high + reach:
            spans.append((hole.x - reach, hole.x + reach))
    for corners in hidden:
        spans += _crossing(corners, low - clear, high + clear, clear, filled=True)
    for outline in piece.outlines:
        if outline.face == face.name:
            # The heel of an angle and the other walls' outsides are no edges, but stand outside of every band.
            spans += _crossing(outline.points, low - clear + 0.01, high + clear - 0.01, clear, filled=False)
    return sorted(spans)


def _crossing(points: FloatArray, low: float, high: float, clear: float, *, filled: bool) -> Spans:
    """Spans of x in which a polygon's sides (``filled``: a convex polygon itself) lie in a band."""
    start, stop = points, np.roll(points, -1, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        rise = stop[:, 1] - start[:, 1]
        t0 = np.where(rise != 0, (low - start[:, 1]) / rise, np.where(start[:, 1] < low, 2.0, -1.0))
        t1 = np.where(rise != 0, (high - start[:, 1]) / rise, np.where(start[:, 1] > high, -2.0, 2.0))
    first = np.clip(np.minimum(t0, t1), 0.0, 1.0)
    last = np.clip(np.maximum(t0, t1), 0.0, 1.0)
    inside = (np.minimum(start[:, 1], stop[:, 1]) <= high) & (np.maximum(start[:, 1], stop[:, 1]) >= low)
    if not inside.any():
        return []
    run = stop[:, 0] - start[:, 0]
    a, b = start[:, 0] + first * run, start[:, 0] + last * run
    lows, highs = np.minimum(a, b)[inside] - clear, np.maximum(a, b)[inside] + clear
    if filled:
        return [(float(lows.min()), float(highs.max()))]
    return list(zip(lows.tolist(), highs.tolist(), strict=True))


def _first_gap(
    piece: Piece, face: Face, blocked: Spans, middle: float, length: float, settings: StampSettings
) -> float | None:
    """The nearest x to the left end where the text fits on steel."""
    x = settings.from_end_mm if piece.section.shape != PLATE else settings.clear_mm
    candidates = [x, *(high for _, high in blocked if high > x)]
    for left in sorted(candidates):
        right = left + length
        if right > piece.length - settings.clear_mm:
            return None
        if any(low < right and high > left for low, high in blocked):
            continue
        if _on_steel(piece, face, left + length / 2, middle):
            return left
    return None


def _on_steel(piece: Piece, face: Face, x: float, across: float) -> bool:
    """Whether a point lies on the steel of a face: an odd number of sides to its right."""
    for outline in piece.outlines:
        if outline.face != face.name:
            continue
        start, stop = outline.points, np.roll(outline.points, -1, axis=0)
        over = (start[:, 1] > across) != (stop[:, 1] > across)
        if not over.any():
            continue
        share = (across - start[over, 1]) / (stop[over, 1] - start[over, 1])
        at = start[over, 0] + share * (stop[over, 0] - start[over, 0])
        if int((at > x).sum()) % 2:
            return True
    return False
