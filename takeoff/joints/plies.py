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
    piece_of, place_of = _homes(pieces, passages)
    counts = np.array([len(passage.plies) for passage in passages], dtype=np.intp)
    through = [passage for passage in passages if passage.plies]
    plies = [ply for passage in through for ply in passage.plies]
    member = np.array([ply.member for ply in plies], dtype=np.intp)
    spans = np.array([ply[2:4] for ply in plies], dtype=float).reshape(-1, 2)
    ends = np.array([(passage.plies[0].enter, passage.plies[-1].leave) for passage in through]).reshape(-1, 2)
    drawn = [fasteners[passage.fastener].bolts[passage.bolt] for passage in through]
    lines = np.array([(*bolt.point, *bolt.direction) for bolt in drawn]).reshape(-1, 6)
    owner = np.array([passage.fastener for passage in passages], dtype=np.intp)
    number = np.repeat(np.arange(len(passages)), counts)
    along = np.repeat(np.arange(len(through)), counts[counts > 0])
    kept = np.flatnonzero(piece_of[member] >= 0) if len(member) else member
    ints = np.stack([piece_of[member[kept]], place_of[member[kept]], member[kept], number[kept]], axis=1)
    reals = np.column_stack([spans[kept], ends[along[kept]]])
    axes = lines[along[kept]]
    # The next row is the next ply only where no ply between them was left out.
    follows = (np.diff(kept) == 1) & (np.diff(number[kept]) == 0)
    before = np.full(len(kept), -1, dtype=np.intp)
    after = before.copy()
    second = np.flatnonzero(follows) + 1
    before[second], after[second - 1] = second - 1, second
    face, x, across, inward = _on_faces(pieces, ints, reals, axes)
    return Plies(
        piece=ints[:, 0], place=ints[:, 1], member=ints[:, 2], face=face, x=x, across=across, inward=inward,
        passage=ints[:, 3], fastener=owner[ints[:, 3]] if len(ints) else ints[:, 3], enter=reals[:, 0],
        leave=reals[:, 1], head=reals[:, 2], end=reals[:, 3], before=before, after=after,
    )  # fmt: skip


def _homes(pieces: Sequence[Piece], passages: Sequence[Passage]) -> tuple[IntArray, IntArray]:
    """The piece of every member and its place in it; -1 for those that have no rows."""
    last = max((ply.member for passage in passages for ply in passage.plies), default=-1)
    last = max([last, *(m for piece in pieces for m in piece.members)])
    piece_of, place_of = np.full(last + 1, -1, dtype=np.intp), np.zeros(last + 1, dtype=np.intp)
    for p, piece in enumerate(pieces):
        if piece.faces and piece.section.shape not in (CHS, ROUND):
            members = np.array(piece.members, dtype=np.intp)
            piece_of[members], place_of[members] = p, np.arange(len(members))
    return piece_of, place_of


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
