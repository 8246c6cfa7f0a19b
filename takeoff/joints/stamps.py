"""Where the piece mark is stamped: near the left end, outside, clear of holes, cuts, bolts and other plies.

Vocabulary: band (the strip of a face that the text stands in), blocked (the parts of a band, in x, that something is
in), cover (what another part lying on the outside of a face hides of it).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from takeoff.joints.plies import IntArray, Plies
from takeoff.queries import ASSUMED, register
from takeoff.rules.findings import REMARKS, Ruling
from takeoff.settings import StampSettings
from takeoff.steel import ANGLE, CHS, FLAT, PLATE, ROUND, Face, FloatArray, Piece, Stamp
from takeoff.words import later

STAMP_NO_PLACE = register(
    "stamp-no-place",
    ASSUMED,
    "Marks without a clear place for a stamp of {2}: {0} ({1}).",
    "Stamp them where other plies or washers will hide it, smaller, or hang a tag on them.",
)

FACE_MM: Final = 100.0
"""Turning to the next face or side is worth this much nearer to the end."""
BAND_MM: Final = 10.0
"""So is leaving the middle of a face."""
REMARKS[STAMP_NO_PLACE] = later("no clear place for a stamp")

Spans = list[tuple[float, float]]
Covers = dict[tuple[int, int, int], list[FloatArray]]
BOLT_ROOM: Final = 0.9
"""A washer takes this times the hole's diameter round the hole's centre: it is a little less than twice the bolt."""


def covers(plies: Plies, pieces: Sequence[Piece]) -> Covers:
    """By (piece, face, far side): corners (4, 2) of what other parts hide there, in (x, across).

    The far side is that of flats and plates; the inside of other walls is not stamped.
    """
    if not len(plies.piece):
        return {}
    outside = np.where(plies.inward > 0, plies.before, plies.after)
    inside = np.where(plies.inward > 0, plies.after, plies.before)
    flat = np.array([p.section.shape in (FLAT, PLATE) for p in pieces], dtype=bool)[plies.piece]
    near, far = np.flatnonzero(outside >= 0), np.flatnonzero((inside >= 0) & flat)
    rows, others = np.concatenate([near, far]), np.concatenate([outside[near], inside[far]])
    if not len(rows):
        return {}
    keys = np.stack(
        [
            plies.piece[rows], plies.place[rows], plies.face[rows], plies.piece[others], plies.place[others],
            plies.face[others], np.repeat([0, 1], [len(near), len(far)]),
        ],
        axis=1,
    )  # fmt: skip
    corners = _corners(keys, pieces)
    # Like parts of a mark hide like places; each is kept once.
    rounded = np.round(corners).reshape(-1, 8).astype(np.intp)
    likes: dict[tuple[int, ...], int] = {}
    for row, like in enumerate(map(tuple, np.column_stack([keys[:, [0, 2, 6]], rounded]).tolist())):
        likes.setdefault(like, row)
    found: Covers = {}
    for like in sorted(likes):
        found.setdefault((like[0], like[1], like[2]), []).append(corners[likes[like]])
    return found


def _corners(keys: IntArray, pieces: Sequence[Piece]) -> FloatArray:
    """The rectangles (n, 4, 2) of the other faces in (x, across) of mine, for rows (piece, place, face) twice."""
    first = np.concatenate([[0], np.cumsum([len(piece.frames) for piece in pieces])])
    origins = np.array([frame.origin for piece in pieces for frame in piece.frames])
    axes = np.array([frame.axes for piece in pieces for frame in piece.frames])
    # A piece and a face as one number: sorting numbers is much faster than sorting rows.
    most = max(len(piece.faces) for piece in pieces)
    shapes, which = np.unique(keys[:, 3] * most + keys[:, 5], return_inverse=True)
    theirs = np.array([_rectangle(pieces[n // most], n % most) for n in shapes.tolist()])[which]
    walls, mine = np.unique(keys[:, 0] * most + keys[:, 2], return_inverse=True)
    faces = [pieces[n // most].faces[n % most] for n in walls.tolist()]
    origin = np.array([face.origin for face in faces])[mine]
    direction = np.array([face.direction for face in faces])[mine]
    here, there = first[keys[:, 0]] + keys[:, 1], first[keys[:, 3]] + keys[:, 4]
    model = theirs @ axes[there] + origins[there][:, None]
    local = (model - origins[here][:, None]) @ np.swapaxes(axes[here], 1, 2)
    across = ((local[..., 1:] - origin[:, None]) * direction[:, None]).sum(axis=2)
    return np.stack([local[..., 0], across], axis=2)


def _rectangle(piece: Piece, wall: int) -> FloatArray:
    """Corners (4, 3) of a face's whole strip in the piece frame."""
    face = piece.faces[wall]
    across = np.array([face.low, face.low, face.high, face.high])
    return np.column_stack(
        [
            [0.0, piece.length, piece.length, 0.0],
            face.origin[0] + across * face.direction[0],
            face.origin[1] + across * face.direction[1],
        ]
    )


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
    """The place nearest to the left end; a later face or side only where that is a good deal nearer."""
    length = max(1, len(piece.mark)) * settings.width_mm
    flat = piece.section.shape in (FLAT, PLATE)
    tries = [(k, side) for k in range(len(piece.faces)) for side in ((0, 1) if flat else (0,))]
    best: tuple[float, Stamp] | None = None
    for rank, (k, side) in enumerate(tries):
        face = piece.faces[k]
        for height, middle in enumerate(_middles(piece, face, settings)):
            low, high = middle - settings.height_mm / 2, middle + settings.height_mm / 2
            blocked = _blocked(piece, face, hidden.get((number, k, side), ()), low, high, settings.clear_mm)
            x = _first_gap(piece, face, blocked, middle, length, settings)
            if x is None:
                continue
            cost = x + rank * FACE_MM + height * BAND_MM
            # By a clear millimetre: the noise of a model's coordinates must not decide.
            if best is None or cost < best[0] - 1.0:
                best = cost, Stamp(face.name, round(x, 1), round(middle, 1), length, settings.height_mm, bool(side))
    return best[1] if best else None


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
