"""Every ply of every bolt in the frame of its piece, as arrays: what the modules of this folder work on.

Vocabulary: row (one ply of one bolt), inward (+1: the bolt, from head to nut, goes into the face from its outside),
before and after (the row of the next ply toward the head and toward the nut, -1: none).
Tubes and rounds, and plies of parts that are no pieces, have no row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from takeoff.steel import CHS, ROUND, Fastener, FloatArray, Passage, Piece

IntArray = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Plies:
    """Arrays of n rows. Distances ``enter``, ``leave`` along the bolt; ``x``, ``across`` in the piece frame, mm.

    ``place`` says which of the piece's members (and frames) it is; ``face`` indexes the piece's faces. ``head`` and
    ``end`` are where the bolt's first ply is entered and its last one left.
    """

    piece: IntArray
    place: IntArray
    member: IntArray
    face: IntArray
    x: FloatArray
    across: FloatArray
    inward: IntArray
    passage: IntArray
    fastener: IntArray
    enter: FloatArray
    leave: FloatArray
    head: FloatArray
    end: FloatArray
    before: IntArray
    after: IntArray


def table(pieces: Sequence[Piece], passages: Sequence[Passage], fasteners: Sequence[Fastener]) -> Plies:
    """The rows of all passages, in the order of the passages and their plies."""
    home = {m: (p, k) for p, piece in enumerate(pieces) for k, m in enumerate(piece.members)}
    numbers: list[tuple[int, int, int, int, int, int]] = []
    sizes: list[tuple[float, float, float, float]] = []
    bolts: list[tuple[float, ...]] = []
    for number, passage in enumerate(passages):
        if not passage.plies:
            continue
        bolt = fasteners[passage.fastener].bolts[passage.bolt]
        axis = (*bolt.point, *bolt.direction)
        head, end = passage.plies[0].enter, passage.plies[-1].leave
        previous = -1
        for order, ply in enumerate(passage.plies):
            found = home.get(ply.member)
            if found is None or pieces[found[0]].section.shape in (CHS, ROUND) or not pieces[found[0]].faces:
                continue
            adjacent = previous if previous >= 0 and numbers[previous][4] == order - 1 else -1
            numbers.append((*found, ply.member, number, order, adjacent))
            sizes.append((ply.enter, ply.leave, head, end))
            bolts.append(axis)
            previous = len(numbers) - 1
    ints = np.array(numbers, dtype=np.intp).reshape(-1, 6)
    reals = np.array(sizes, dtype=float).reshape(-1, 4)
    axes = np.array(bolts, dtype=float).reshape(-1, 6)
    before = ints[:, 5]
    after = np.full(len(ints), -1, dtype=np.intp)
    after[before[before >= 0]] = np.flatnonzero(before >= 0)
    face, x, across, inward = _on_faces(pieces, ints, reals, axes)
    owner = np.array([p.fastener for p in passages], dtype=np.intp)
    return Plies(
        piece=ints[:, 0], place=ints[:, 1], member=ints[:, 2], face=face, x=x, across=across, inward=inward,
        passage=ints[:, 3], fastener=owner[ints[:, 3]] if len(ints) else ints[:, 3], enter=reals[:, 0],
        leave=reals[:, 1], head=reals[:, 2], end=reals[:, 3], before=before, after=after,
    )  # fmt: skip


def _on_faces(
    pieces: Sequence[Piece], ints: IntArray, reals: FloatArray, axes: FloatArray
) -> tuple[IntArray, FloatArray, FloatArray, IntArray]:
    """Face, x, across and sense of every row: the face that the middle of the ply lies in, most square to the bolt."""
    count = len(ints)
    face, inward = np.zeros(count, dtype=np.intp), np.ones(count, dtype=np.intp)
    x, across = np.zeros(count), np.zeros(count)
    middle = axes[:, :3] + axes[:, 3:] * ((reals[:, 0] + reals[:, 1]) / 2)[:, None]
    order = np.argsort(ints[:, 0], kind="stable")
    starts = np.searchsorted(ints[order, 0], np.arange(len(pieces) + 1))
    for p, piece in enumerate(pieces):
        rows = order[starts[p] : starts[p + 1]]
        if not len(rows):
            continue
        origins = np.array([f.origin for f in piece.frames])[ints[rows, 1]]
        turns = np.array([f.axes for f in piece.frames])[ints[rows, 1]]
        local = np.einsum("nij,nj->ni", turns, middle[rows] - origins)
        way = np.einsum("nij,nj->ni", turns, axes[rows, 3:])
        best = np.full(len(rows), -np.inf)
        x[rows] = local[:, 0]
        for k, wall in enumerate(piece.faces):
            into, along = np.array(wall.inward), np.array(wall.direction)
            off = local[:, 1:] - np.array(wall.origin)
            depth = off @ into
            square = way[:, 1:] @ into
            score = abs(square) - np.maximum(0.0, abs(depth - wall.thickness / 2) - wall.thickness / 2 - 0.5)
            better = score > best
            best[better] = score[better]
            face[rows[better]] = k
            across[rows[better]] = (off @ along)[better]
            inward[rows[better]] = np.where(square[better] >= 0, 1, -1)
    return face, x, across, inward
