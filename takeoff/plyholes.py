"""The holes of one bolt held against each other, from ply to ply.

Vocabulary: miss (distance between the middles of two plies' holes, square to the bolt), clearance (what two holes
together leave the bolt: the mean of their diameters less its own).
Only where the model draws one of them: holes that all follow from the bolt agree by themselves. Slots and
rectangles are left alone, since they are there for holes that do not meet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Final

import numpy as np

from takeoff.holerows import KINDS, SOURCES, Holes
from takeoff.queries import CHECK, Query, query, register
from takeoff.rules.hole_classes import AGREE_MM
from takeoff.rules.sizes import size_name
from takeoff.sections.shapes import faces
from takeoff.steel import Fastener, FloatArray, Member, Passage
from takeoff.units import COINCIDENCE_MM, millimetres

UNLIKE_PLIES = register(
    "hole-sizes-of-one-bolt",
    CHECK,
    "{0} bolts of {1} pass holes of different size in the parts they join: {2} mm in one, {3} mm in another.",
    "Ask the designer which size holds. Each part is listed with the hole that it draws.",
)
HOLES_MISS = register(
    "holes-miss-each-other",
    CHECK,
    "The holes of {0} bolts miss each other from part to part by more than their clearance, by up to {1} mm.",
    "The bolt does not go in: ask the designer which part is right. Each hole is listed where it is drawn.",
)
_ROUND: Final = (KINDS.index("round"), KINDS.index("countersunk"))


def ply_queries(
    members: Sequence[Member], fasteners: Sequence[Fastener], passages: Sequence[Passage], holes: Holes
) -> tuple[Query, ...]:
    """Bolts whose plies have holes of different size, one query a pair of sizes; and those whose holes miss."""
    rows = holes.rows
    drawn = (rows["source"] & ~SOURCES["bolt"]) != 0
    round_ones = np.isin(rows["kind"], _ROUND) & (rows["passage"] >= 0) & (rows["diameter"] > 0)
    if not (drawn & round_ones).any():
        return ()
    mine = rows[round_ones & np.isin(rows["passage"], np.unique(rows["passage"][drawn & round_ones]))]
    mine = mine[np.argsort(mine["passage"], kind="stable")]
    unlike: dict[tuple[float, float, float], list[np.void]] = {}
    missing: list[tuple[float, list[np.void]]] = []
    for group in _together(mine):
        sizes = [float(row["diameter"]) for row in group]
        bolt = max(float(row["bolt"]) for row in group)
        if max(sizes) - min(sizes) > AGREE_MM:
            unlike.setdefault((bolt, round(min(sizes), 2), round(max(sizes), 2)), []).extend(group)
        over = _over(group, bolt, members, passages)
        if over > 0:
            missing.append((over, group))

    def ids(found: Sequence[np.void]) -> tuple[str, ...]:
        bolts = sorted({fasteners[passages[int(row["passage"])].fastener].global_id for row in found})
        return (*bolts, *sorted({members[int(row["member"])].global_id for row in found}))

    asked = []
    for (bolt, least, most), found in sorted(unlike.items()):
        many = len({int(row["passage"]) for row in found})
        name = size_name(bolt) if bolt else "a size that is not known"
        asked.append(query(UNLIKE_PLIES, many, name, millimetres(least), millimetres(most), global_ids=ids(found)))
    if missing:
        worst = max(over for over, _ in missing)
        every = [row for _, group in missing for row in group]
        asked.append(query(HOLES_MISS, len(missing), f"{worst:.1f}", global_ids=ids(every)))
    return tuple(asked)


def _together(rows: np.ndarray) -> Iterator[list[np.void]]:
    """Rows of one passage; those of a passage with two or more of them."""
    starts = np.flatnonzero(np.concatenate(([True], np.diff(rows["passage"]) != 0)))
    ends = np.concatenate((starts[1:], [len(rows)]))
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        if end - start > 1:
            yield list(rows[start:end])


def _over(group: list[np.void], bolt: float, members: Sequence[Member], passages: Sequence[Passage]) -> float:
    """By how many mm two of the holes miss each other beyond their clearance; 0 where the bolt goes in."""
    if not bolt:
        return 0.0
    worst = 0.0
    places = [_off(row, members, passages) for row in group]
    for (one, here), (other, there) in combinations(zip(group, places, strict=True), 2):
        if here is None or there is None:
            continue
        room = max((float(one["diameter"]) + float(other["diameter"])) / 2 - bolt, 0.0)
        over = float(np.linalg.norm(here - there)) - room
        # what a hole off its bolt is forgiven is not asked about here either
        worst = max(worst, over if over > 10 * COINCIDENCE_MM else 0.0)
    return worst


def _off(row: np.void, members: Sequence[Member], passages: Sequence[Passage]) -> FloatArray | None:
    """How far a hole's middle lies off its bolt's axis, as a vector of the model; None where no ply is its own."""
    member = members[int(row["member"])]
    if member.body is None or member.frame is None:
        return None
    face = faces(member.body.section)[int(row["face"])]
    for ply in passages[int(row["passage"])].plies:
        if ply.member == row["member"] and ply.face == face.name:
            dx, da = float(row["x"]) - ply.x, float(row["across"]) - ply.across
            return np.asarray(np.array([dx, da * face.direction[0], da * face.direction[1]]) @ member.frame.axes)
    return None
