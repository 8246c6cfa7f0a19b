"""Nuts and washers that the model draws as entities of their own, counted with the bolt on whose axis they stand.

A nut belongs to the bolt whose line goes through its middle, along the shank or within a bolt's diameter and a half
of its ends. What no bolt goes through stays hardware by itself.
Only bolts of the order list take them, where their nuts and washers are ordered: those on rods and anchors are bought
out by themselves.
Does not know: how many nuts and washers are drawn in one body with their bolt.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.ifc.fastener_words import BOLT, NUT, WASHER
from takeoff.queries import ASSUMED, CHECK, register
from takeoff.steel import LISTED, Bolt, Fastener, FloatArray, Problem

NUTS_JOINED = register(
    "nuts-drawn-apart",
    ASSUMED,
    "The model states no nuts or no washers for these bolts, but draws them as entities of their own: those that stand "
    "on a bolt's axis were counted as its own.",
    "Look at one of these bolts: a nut or washer that is drawn in one body with its bolt was not counted beside them.",
)
MORE_DRAWN = register(
    "nuts-more-drawn",
    CHECK,
    "These bolts state {0} {1} each, but {2} stand on each of their axes as entities of their own.",
    "Ask the designer how many are meant; those that are drawn were counted.",
)
UNEVEN = register(
    "nuts-drawn-uneven",
    CHECK,
    "On the axes of these groups of {0} bolts stand {1} {2}, which is no whole number for each bolt.",
    "Ask the designer how many go on each bolt; those drawn were not counted with the group.",
)

OFF_SHARE: Final = 0.2
"""A nut's middle lies no farther off its bolt's axis than this share of the diameter; bolts are two diameters apart."""
BEYOND: Final = 1.5
"""Diameters beyond the ends of the drawn shank that a nut or washer may stand: it bears there."""
BEND: Final = 0.03
"""Sine of the angle between a nut's axis and its bolt's: a taper washer leans by 8 %, but its hole does not."""
NEAREST: Final = 6
"""Points of bolts that are looked at about each nut."""


@dataclass(frozen=True, slots=True)
class Loose:
    """Nuts or washers of one entity: ``kind``, their size in mm where it is known, and their axes."""

    kind: str
    diameter: float | None
    axes: tuple[Bolt, ...]


def join(fasteners: Sequence[Fastener], loose: Sequence[Loose]) -> tuple[list[Fastener], list[tuple[str, int]]]:
    """The fasteners with what stands on them; for each entity the GlobalId of a bolt it joined and how many did."""
    made = list(fasteners)
    places = [(i, a) for i, entity in enumerate(loose) for a in range(len(entity.axes))]
    owners = _owners(made, [(loose[i], loose[i].axes[a]) for i, a in places])
    counts: dict[int, Counter[str]] = {}
    taken: list[list[int]] = [[] for _ in loose]
    for (i, _), owner in zip(places, owners, strict=True):
        if owner is not None:
            counts.setdefault(owner, Counter())[loose[i].kind] += 1
            taken[i].append(owner)
    refused: set[tuple[int, str]] = set()
    for f, found in counts.items():
        for kind in (NUT, WASHER):
            if found[kind]:
                fastener = _counted(made[f], kind, found[kind])
                if fastener is None:
                    refused.add((f, kind))
                    words = ("nuts", "washers")[kind == WASHER]
                    problem = Problem(UNEVEN, (str(len(made[f].bolts)), str(found[kind]), words))
                    fastener = made[f]._replace(problems=(*made[f].problems, problem))
                made[f] = fastener
    joined = []
    for entity, owned in zip(loose, taken, strict=True):
        kept = [f for f in owned if (f, entity.kind) not in refused]
        joined.append((min(made[f].global_id for f in kept) if kept else "", len(kept)))
    return made, joined


def _counted(fastener: Fastener, kind: str, number: int) -> Fastener | None:
    """The fastener with so many nuts or washers on all of its bolts; None where they do not share out evenly."""
    each, rest = divmod(number, len(fastener.bolts))
    if rest:
        return None
    stated = fastener.nuts if kind == NUT else fastener.washers
    words = "washers" if kind == WASHER else "nuts"
    if stated is not None and each <= stated:
        return fastener
    problem = Problem(NUTS_JOINED) if stated is None else Problem(MORE_DRAWN, (str(stated), words, str(each)))
    problems = fastener.problems if problem in fastener.problems else (*fastener.problems, problem)
    if kind == NUT:
        return fastener._replace(nuts=each, problems=problems)
    return fastener._replace(washers=each, problems=problems)


def _owners(fasteners: Sequence[Fastener], nuts: Sequence[tuple[Loose, Bolt]]) -> list[int | None]:
    """The fastener on one of whose bolts each nut stands; None for one that stands on none."""
    lines = [
        (f, bolt, fastener.diameter or bolt.drawn_diameter)
        for f, fastener in enumerate(fasteners)
        if fastener.status == LISTED and fastener.kind == BOLT
        for bolt in fastener.bolts
    ]
    lines = [(f, bolt, diameter) for f, bolt, diameter in lines if diameter > 0]
    if not lines or not nuts:
        return [None] * len(nuts)
    from scipy.spatial import cKDTree

    start = np.array([bolt.point for _, bolt, _ in lines])
    along = np.array([bolt.direction for _, bolt, _ in lines])
    shank = np.array([bolt.shank for _, bolt, _ in lines])
    thick = np.array([diameter for _, _, diameter in lines])
    number, points = _strung(start, along, shank, thick)
    middles = np.array([np.array(nut.point) + np.array(nut.direction) * nut.shank / 2 for _, nut in nuts])
    ways = np.array([nut.direction for _, nut in nuts])
    near = cKDTree(points).query(middles, k=min(NEAREST, len(points)))[1].reshape(len(nuts), -1)
    chosen = number[near]
    away = middles[:, None] - start[chosen]
    t = np.einsum("nki,nki->nk", away, along[chosen])
    off = np.linalg.norm(away - t[:, :, None] * along[chosen], axis=2)
    bent = np.linalg.norm(np.cross(along[chosen], ways[:, None]), axis=2)
    reach, size = BEYOND * thick[chosen], thick[chosen]
    own = np.array([np.inf if entity.diameter is None else entity.diameter for entity, _ in nuts])
    # its own hole tells a nut for a thinner bolt
    fits = (off <= OFF_SHARE * size) & (bent <= BEND) & (own[:, None] >= size - 0.5)
    fits &= (t >= -reach) & (t <= shank[chosen] + reach)
    ids = [fasteners[f].global_id for f, _, _ in lines]
    rank = np.empty(len(lines))
    rank[sorted(range(len(lines)), key=lambda k: ids[k])] = np.arange(len(lines))
    # the nearest axis; of two in one place the first by GlobalId, whatever the order in the file
    cost = np.where(fits, np.round(off, 3) * 1e9 + rank[chosen], np.inf)
    best = cost.argmin(axis=1)
    every = np.arange(len(nuts))
    found = np.isfinite(cost[every, best]).tolist()
    return [lines[k][0] if ok else None for k, ok in zip(chosen[every, best].tolist(), found, strict=True)]


def _strung(
    start: FloatArray, along: FloatArray, shank: FloatArray, thick: FloatArray
) -> tuple[np.ndarray[tuple[int], np.dtype[np.intp]], FloatArray]:
    """Points along every bolt no more than its diameter apart, and the bolt each is of."""
    low, high = -BEYOND * thick, shank + BEYOND * thick
    many = np.ceil((high - low) / thick).astype(np.intp) + 1
    number = np.repeat(np.arange(len(start)), many)
    step = np.arange(len(number)) - np.repeat(np.cumsum(many) - many, many)
    t = low[number] + step * (high - low)[number] / (many - 1)[number]
    return number, start[number] + along[number] * t[:, None]
