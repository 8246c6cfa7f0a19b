"""Several models as one job, and steel that the models hold twice."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Final

import numpy as np

from takeoff.queries import CHECK, Query, query, register
from takeoff.steel import (
    ANGLE,
    CHANNEL,
    CHS,
    FLAT,
    I_SHAPE,
    PLATE,
    RHS,
    ROUND,
    T_SHAPE,
    FloatArray,
    Member,
    Model,
    Piece,
    Section,
)

COUNTED_TWICE = register(
    "element-counted-twice",
    CHECK,
    "{0} elements have a GlobalId that another one has too; each of them was counted, so quantities may be double.",
    "If the models given are two states of one, or overlap, give the newest of each only.",
)

IN_ONE_PLACE = register(
    "parts-in-one-place",
    CHECK,
    "{0} parts of one mark stand where another one stands ({1}); each of them was counted, so quantities may be "
    "double.",
    "Ask which of them is meant; have the others taken out of the model, or give the newest of models that overlap.",
)

ONE_PLACE_MM: Final = 1.0
"""Parts alike whose middles are this close are in one place."""
PARALLEL: Final = 1.0 - 1e-4
"""Cosine between axes of parts that lie the same way: 0.8 degrees."""


def join_models(models: Sequence[Model]) -> Model:
    """One Model of all parts and fasteners, each of which says which file it comes from."""
    if len(models) == 1:
        return models[0]
    return Model(
        name=" + ".join(m.name for m in models),
        schema=", ".join(dict.fromkeys(m.schema for m in models)),
        checksum=" ".join(m.checksum for m in models),
        date=max((m.date for m in models), default=""),
        members=tuple(part for m in models for part in m.members),
        fasteners=tuple(part for m in models for part in m.fasteners),
        assemblies=tuple(part for m in models for part in m.assemblies),
        application=", ".join(dict.fromkeys(m.application for m in models if m.application)),
        length_unit=", ".join(dict.fromkeys(m.length_unit for m in models)),
        projects=tuple(sorted({project for m in models for project in m.projects})),
    )


def counted_twice(model: Model) -> tuple[Query, ...]:
    """A GlobalId names one element for ever: one that comes back is most likely the same steel a second time."""
    counts = Counter([m.global_id for m in model.members] + [f.global_id for f in model.fasteners])
    again = tuple(sorted(global_id for global_id, count in counts.items() if count > 1))
    if not again:
        return ()
    return (query(COUNTED_TWICE, sum(counts[g] for g in again), global_ids=again),)


def in_one_place(pieces: Sequence[Piece], members: Sequence[Member]) -> tuple[Query, ...]:
    """Parts of one mark in one place under GlobalIds of their own, a query a mark.

    The middles of their steel are within ONE_PLACE_MM and their axes parallel, whichever end each begins at: a piece
    that can be turned lies the same way in several frames. Angles that make a box have one box, but two middles.
    """
    from scipy.spatial import cKDTree

    several = [piece for piece in pieces if piece.quantity > 1]
    if not several:
        return ()
    owner = np.repeat(np.arange(len(several)), [piece.quantity for piece in several])
    who = np.concatenate([np.array(piece.members) for piece in several])
    axes = np.array([frame.axes for piece in several for frame in piece.frames])
    local = np.array([_middle(piece.section, piece.length) for piece in several])[owner]
    origins = np.array([frame.origin for piece in several for frame in piece.frames])
    middles = origins + np.einsum("ni,nij->nj", local, axes)
    pairs = cKDTree(middles).query_pairs(ONE_PLACE_MM, output_type="ndarray")
    if not len(pairs):
        return ()
    first, second = pairs.T
    turns = np.array([_quarter_turns(piece.section) for piece in several])[owner[first]]
    alike = (owner[first] == owner[second]) & _lie_alike(axes[first], axes[second], turns)
    found: dict[int, set[tuple[int, int]]] = defaultdict(set)
    for k, i, j in zip(owner[first][alike], who[first][alike], who[second][alike], strict=True):
        if members[i].global_id != members[j].global_id:  # else it is one element twice: counted_twice says so
            found[int(k)].add((int(i), int(j)))
    return tuple(_twice(several[k].mark, found[k], members) for k in sorted(found))


def _twice(mark: str, pairs: set[tuple[int, int]], members: Sequence[Member]) -> Query:
    ids = tuple(sorted({members[i].global_id for pair in pairs for i in pair}))
    named = sorted(" and ".join(sorted(members[i].global_id for i in pair)) for pair in pairs)
    some = ", ".join(named[:2]) + (f" and {len(named) - 2} more" if len(named) > 2 else "")
    return query(IN_ONE_PLACE, len(ids), some, piece_mark=mark, global_ids=ids)


def _middle(section: Section, length: float) -> tuple[float, float, float]:
    """The middle of a piece's steel in (x, u, v), radii left out."""
    h, b, tw, tf = section.h, section.b, section.tw, section.tf
    x = length / 2
    if section.shape == ANGLE:
        a, c = h * tw, (b - tw) * tw
        return x, (a * tw / 2 + c * (tw + b) / 2) / (a + c), (a * h / 2 + c * tw / 2) / (a + c)
    if section.shape == CHANNEL:
        a, c = h * tw, 2 * (b - tw) * tf
        return x, (a * tw / 2 + c * (tw + b) / 2) / (a + c), h / 2
    if section.shape == T_SHAPE:
        a, c = (h - tf) * tw, b * tf
        return x, 0.0, (a * (tf + h) / 2 + c * tf / 2) / (a + c)
    if section.shape == I_SHAPE:
        return x, 0.0, h / 2
    if section.shape in (CHS, ROUND):
        return x, 0.0, 0.0
    return x, b / 2, h / 2


def _quarter_turns(section: Section) -> int:
    """How a section may be turned and be itself: 0 by halves about its length, 1 by quarters or its legs exchanged,
    2 as one likes, 3 in its own plane."""
    if section.shape in (CHS, ROUND):
        return 2
    if section.shape in (FLAT, PLATE):
        return 3
    return int(section.shape in (ANGLE, RHS) and abs(section.h - section.b) <= ONE_PLACE_MM)


def _lie_alike(one: FloatArray, other: FloatArray, turns: FloatArray) -> FloatArray:
    """Whether pairs of frames (n, 3, 3) lie the same way, but for turns that keep the section."""
    x = np.abs(np.einsum("ni,ni->n", one[:, 0], other[:, 0])) >= PARALLEL
    u = np.abs(np.einsum("ni,ni->n", one[:, 1], other[:, 1])) >= PARALLEL
    crossed = np.abs(np.einsum("ni,ni->n", one[:, 1], other[:, 2])) >= PARALLEL
    lie: FloatArray = (x & (u | (crossed & (turns == 1)) | (turns == 2))) | (u & (turns == 3))
    return lie
