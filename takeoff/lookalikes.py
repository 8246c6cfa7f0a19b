"""Marks that a tired eye takes for each other: less than 5 mm, one hole, the hand or the grade apart.

Vocabulary
----------
look-alikes   two marks of one section whose outlines and holes agree within the settings' distance in some position
              that a person could turn one of them to, but for one hole at most; grade and finish may differ
apart         what differs between them is said, largest distance first of its kind

Only marks of one section and nearly one length are held against each other, so that a job of thousands of marks takes
as long as it has neighbours.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.dispatch import Difference, LookAlike
from takeoff.order import natural
from takeoff.sections.turns import Turn, turns
from takeoff.steel import CHS, ROUND, FloatArray, Piece
from takeoff.units import DIAMETER_MM

SAME_MM: Final = 0.1
"""Places this close are one: what is less is the noise of a model and can be told by nobody."""
MOST_HOLES: Final = 1
"""Holes that may have no match for two marks to look alike."""


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """A piece as rows: holes (n, 5) of face, x, across, diameter, slot length; corners (m, 3) of face, x, across."""

    piece: Piece
    holes: FloatArray
    corners: FloatArray


def find_look_alikes(pieces: Sequence[Piece], within: float) -> tuple[LookAlike, ...]:
    """Pairs of look-alikes in the order of their marks; ``within`` mm is how far places may be apart."""
    order = {piece.mark: k for k, piece in enumerate(sorted(pieces, key=lambda p: natural(p.mark)))}
    buckets: dict[tuple[str, str], list[Piece]] = defaultdict(list)
    for piece in pieces:
        buckets[piece.section.shape, piece.section.designation].append(piece)
    found = []
    for bucket in buckets.values():
        if len(bucket) < 2:
            continue
        seen = [_seen(piece) for piece in sorted(bucket, key=lambda p: (p.length, order[p.mark]))]
        for one, other in _near(seen, within):
            if order[one.piece.mark] > order[other.piece.mark]:
                one, other = other, one
            apart = _apart(one, other, within)
            if apart is not None:
                found.append(LookAlike(one.piece.mark, other.piece.mark, apart))
    return tuple(sorted(found, key=lambda pair: (order[pair.mark], order[pair.other])))


def _near(seen: Sequence[_Seen], within: float) -> Iterator[tuple[_Seen, _Seen]]:
    """Pairs that may look alike, ``seen`` being in order of length, and the hands of each other.

    No turn changes how far a hole is from the middle of the length. Sorted, these distances of two look-alikes agree
    place by place, a place earlier or later once the odd hole is passed: what does not is told apart in one sweep.
    """
    lengths = np.array([one.piece.length for one in seen])
    widths = np.array([one.piece.section.h for one in seen])
    counts = np.array([len(one.holes) for one in seen])
    sketches = np.full((len(seen), int(counts.max()) + 2), np.inf)
    for k, one in enumerate(seen):
        sketches[k, 1 : counts[k] + 1] = np.sort(np.abs(one.holes[:, 1] - lengths[k] / 2))
    number = {one.piece.mark: k for k, one in enumerate(seen)}
    for k, one in enumerate(seen):
        mate = number.get(one.piece.opposite_hand_of)
        if mate is not None and (mate > k or seen[mate].piece.opposite_hand_of != one.piece.mark):
            yield one, seen[mate]
        stop = int(np.searchsorted(lengths, lengths[k] + within))
        window = slice(k + 1, stop)
        own = sketches[k, 1 : counts[k] + 1]
        # the middles are half the difference of the lengths apart at most
        reach = 1.5 * within
        hit = np.zeros((max(0, stop - k - 1), counts[k]), dtype=bool)
        for shift in range(3):
            # infinite less infinite is no number and no hit, nor is what lies beyond the last column
            beside = sketches[window, shift : shift + counts[k]]
            hit[:, : beside.shape[1]] |= np.abs(beside - own[None, : beside.shape[1]]) < reach
        alike = (
            ((~hit).sum(axis=1) <= MOST_HOLES)
            & (np.abs(counts[window] - counts[k]) <= MOST_HOLES)
            & (np.abs(widths[window] - widths[k]) < within)
        )
        for other in (seen[k + 1 + int(j)] for j in np.flatnonzero(alike)):
            if not _hands(one.piece, other.piece):
                yield one, other


def _hands(one: Piece, other: Piece) -> bool:
    return other.mark == one.opposite_hand_of or one.mark == other.opposite_hand_of


def _seen(piece: Piece) -> _Seen:
    number = {face.name: k for k, face in enumerate(piece.faces)}
    holes = [
        (number[h.face], h.x, h.across, h.width if h.kind == "rectangle" else h.diameter, h.slot_length)
        for h in piece.holes
        if h.face in number
    ]
    corners = [
        np.column_stack([np.full(len(o.points), number[o.face]), o.points])
        for o in piece.outlines
        if o.face in number and len(o.points)
    ]
    return _Seen(
        piece,
        np.array(holes, dtype=float).reshape(-1, 5),
        np.concatenate(corners) if corners else np.zeros((0, 3)),
    )


def _apart(one: _Seen, other: _Seen, within: float) -> tuple[Difference, ...] | None:
    """What tells them apart, in the position where they are most alike; None where they do not look alike."""
    mine, yours = one.piece, other.piece
    words = []
    if mine.grade != yours.grade:
        words.append(Difference("grade", mine.grade, yours.grade))
    if mine.finish != yours.finish:
        words.append(Difference("finish", mine.finish, yours.finish))
    if _hands(mine, yours):
        return (Difference("hand"), *words)
    best: tuple[tuple[int, float], tuple[Difference, ...]] | None = None
    for turn in turns(yours.section, yours.length):
        if turn.swaps:
            continue
        away = _outline(one.corners, _turned(other.corners, turn), within)
        if away is None:
            continue
        matched = _holes(one, _turned(other.holes, turn), other, within)
        if matched is None:
            continue
        lost, shift, found = matched
        if away > SAME_MM:
            found = (Difference("outline", other_mm=away), *found)
        score = (lost, round(shift + away, 3))
        if best is None or score < best[0]:
            best = (score, found)
    if best is None:
        return None
    if abs(mine.length - yours.length) > SAME_MM:
        words.insert(0, Difference("length", own_mm=mine.length, other_mm=yours.length))
    if abs(mine.section.h - yours.section.h) > SAME_MM:
        words.insert(0, Difference("width", own_mm=mine.section.h, other_mm=yours.section.h))
    return (*words, *best[1]) or (Difference("nothing"),)


def _turned(rows: FloatArray, turn: Turn) -> FloatArray:
    if not len(rows):
        return rows
    out = rows.copy()
    number = rows[:, 0].astype(int)
    out[:, 0] = np.array([move.to for move in turn.moves])[number]
    if turn.reverses:
        out[:, 1] = turn.translation[0] - rows[:, 1]
    sign, shift = np.array([m.sign for m in turn.moves])[number], np.array([m.shift for m in turn.moves])[number]
    out[:, 2] = sign * rows[:, 2] + shift
    return out


def _distances(a: FloatArray, b: FloatArray) -> FloatArray:
    """(n, m) distances of places; infinite between faces."""
    gap = np.hypot(a[:, None, 1] - b[None, :, 1], a[:, None, 2] - b[None, :, 2])
    gap[a[:, None, 0] != b[None, :, 0]] = np.inf
    return np.asarray(gap)


def _outline(a: FloatArray, b: FloatArray, within: float) -> float | None:
    """How far the corners of two outlines are apart; None where it is more than ``within``."""
    if not len(a) or not len(b):
        return 0.0 if len(a) == len(b) else None
    gap = _distances(a, b)
    away = float(max(gap.min(axis=0).max(), gap.min(axis=1).max()))
    return away if away < within else None


def _holes(
    one: _Seen, turned: FloatArray, other: _Seen, within: float
) -> tuple[int, float, tuple[Difference, ...]] | None:
    """Holes without a match, how far the others are apart at most, and the differences in words."""
    mine = one.holes
    girth = one.piece.section.shape in (CHS, ROUND)
    if girth and not np.array_equal(mine, turned):
        return None  # what a tube looks like when it is rolled about its axis is not worked out here
    gap = _distances(mine, turned)
    pairs: list[tuple[int, int]] = []
    if gap.size:
        order = np.argsort(np.round(gap, 4), axis=None, kind="stable")
        free_a, free_b = set(range(len(mine))), set(range(len(turned)))
        for a, b in zip(*np.unravel_index(order, gap.shape), strict=True):
            if gap[a, b] >= within or not free_a:
                break
            if a in free_a and b in free_b:
                free_a.discard(int(a))
                free_b.discard(int(b))
                pairs.append((int(a), int(b)))
    lost_a = sorted(set(range(len(mine))) - {a for a, _ in pairs})
    lost_b = sorted(set(range(len(turned))) - {b for _, b in pairs})
    if max(len(lost_a), len(lost_b)) > MOST_HOLES:
        return None
    labels = [h.label for h in one.piece.holes], [h.label for h in other.piece.holes]
    found: list[Difference] = []
    if lost_a or lost_b:
        found.append(Difference("hole", labels[0][lost_a[0]] if lost_a else "", labels[1][lost_b[0]] if lost_b else ""))
    shift = max((float(gap[a, b]) for a, b in pairs), default=0.0)
    if shift > SAME_MM:
        found.append(Difference("hole place", other_mm=shift))
    sizes = [
        (a, b) for a, b in sorted(pairs)
        if abs(mine[a, 3] - turned[b, 3]) > DIAMETER_MM or abs(mine[a, 4] - turned[b, 4]) > SAME_MM
    ]  # fmt: skip
    if sizes:
        a, b = sizes[0]
        column = 3 if abs(mine[a, 3] - turned[b, 3]) > DIAMETER_MM else 4
        names = f"{labels[0][a]} + {len(sizes) - 1}" if len(sizes) > 1 else labels[0][a]
        found.append(Difference("hole size", names, labels[1][b], float(mine[a, column]), float(turned[b, column])))
    return max(len(lost_a), len(lost_b)), shift, tuple(found)
