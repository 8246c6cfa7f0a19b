"""Where along the paper a place along the piece is drawn: to scale, broken, or compressed.

Long thin pieces do not fit a sheet at a scale at which a leg can be read. First the
stretches without holes are broken out, everything else staying to scale; only where
even that does not fit is the length compressed, in order, and the sheet says so.
"""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

TO_SCALE, BROKEN, COMPRESSED = "to scale", "broken", "compressed"

STUB: Final = 16.0
"""Steel drawn to scale on either side of a break (pt)."""
GAP: Final = 10.0
"""Least width of the break itself (pt)."""
LEAST_BREAK: Final = 2 * STUB + GAP
WORTH: Final = 1.35
"""A stretch is broken out only where that saves paper: it is so many times longer than the break."""


@dataclass(frozen=True, slots=True)
class Lengthwise:
    """A rising broken line of (x mm, place pt); ``breaks`` are the places of the break symbols."""

    xs: tuple[float, ...]
    places: tuple[float, ...]
    breaks: tuple[float, ...]
    manner: str

    def at(self, x: float) -> float:
        """Place on paper of ``x``; the end stretches run on beyond the ends."""
        i = min(max(bisect_right(self.xs, x) - 1, 0), len(self.xs) - 2)
        x0, x1 = self.xs[i], self.xs[i + 1]
        p0, p1 = self.places[i], self.places[i + 1]
        return p0 + (p1 - p0) * (x - x0) / (x1 - x0)


def to_scale(start: float, end: float, scale: float, left: float) -> Lengthwise:
    """``scale`` is pt of paper per mm of steel; ``left`` where ``start`` is drawn."""
    return Lengthwise((start, end), (left, left + (end - start) * scale), (), TO_SCALE)


def broken(features: Sequence[float], scale: float, left: float, room: float) -> Lengthwise | None:
    """To scale round ``features`` (ascending x, both ends among them), the longest empty stretches broken out.

    None where no breaking makes it fit ``room``.
    """
    gaps = [(b - a) * scale for a, b in itertools.pairwise(features)]
    chosen: set[int] = set()
    total = sum(gaps)
    for index in sorted(range(len(gaps)), key=lambda i: (-gaps[i], i)):
        if total <= room:
            break
        if gaps[index] < LEAST_BREAK * WORTH:
            return None
        chosen.add(index)
        total += LEAST_BREAK - gaps[index]
    if total > room:
        return None
    over = sum(gaps[i] - LEAST_BREAK for i in chosen)
    share = min(1.0, (room - total) / over) if over else 0.0
    xs, places, breaks = [features[0]], [left], []
    for index, gap in enumerate(gaps):
        start, end = features[index], features[index + 1]
        place = places[-1]
        if index in chosen:
            # Spare paper goes to the breaks by what they leave out, so the longer stretch still looks longer,
            # but never so much that a break is no shorter than its steel.
            drawn = LEAST_BREAK + (gap - LEAST_BREAK) * min(share, 0.85)
            xs += [start + STUB / scale, end - STUB / scale, end]
            places += [place + STUB, place + drawn - STUB, place + drawn]
            breaks.append(place + drawn / 2)
        else:
            xs.append(end)
            places.append(place + gap)
    return Lengthwise(tuple(xs), tuple(places), tuple(breaks), BROKEN)


def compressed(features: Sequence[float], left: float, room: float) -> Lengthwise:
    """Every stretch between features gets a fair least width, the rest by its length: in order, not to scale."""
    gaps = [b - a for a, b in itertools.pairwise(features)]
    least = 0.55 * room / len(gaps)
    length = features[-1] - features[0]
    spare = room - least * len(gaps)
    places = [left]
    for gap in gaps:
        places.append(places[-1] + least + spare * gap / length)
    return Lengthwise(tuple(features), tuple(places), (), COMPRESSED)


def stretches(rows: Sequence[Sequence[float]], ends: tuple[float, float], most: int) -> list[tuple[float, float]]:
    """The piece cut into stretches so that no row of dimensions has more than ``most`` figures on one.

    ``rows`` hold the x of each face's figures. The cuts lie midway between features.
    """
    every = sorted({x for row in rows for x in row if ends[0] < x < ends[1]})
    own = [set(row) for row in rows]
    cuts: list[float] = []
    counts = [0] * len(rows)
    for index, x in enumerate(every):
        grown = [n + (x in places) for n, places in zip(counts, own, strict=True)]
        # two places are kept for the ends of the piece
        if max(grown) > most - 2:
            cuts.append((every[index - 1] + x) / 2)
            grown = [int(x in places) for places in own]
        counts = grown
    bounds = [ends[0], *cuts, ends[1]]
    return list(itertools.pairwise(bounds))
