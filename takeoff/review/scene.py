"""Where everything stands in the 3-D view: one mesh a piece mark, one placement a member, one row a bolt.

Model coordinates are taken relative to the middle of the model in double precision before
they become 32-bit floats, so that a georeferenced model keeps its hundredths of a millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from takeoff.review.solids import Mesh, body_mesh, piece_mesh
from takeoff.steel import Body, FloatArray, Frame, Piece, Takeoff

BOLT_MM = 16.0
"""Thickness of a bolt in the view where the model states none; the page does not print it."""


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Parts of one shape: ``piece`` indexes Takeoff.pieces, -1 for parts of no piece mark."""

    piece: int
    mesh: Mesh
    members: tuple[int, ...]
    first: int
    """Number of its first placement among all."""


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """``placements`` (n, 9): origin less ``centre``, x axis, u axis. ``bolts`` (m, 7): start less
    ``centre``, vector to the far end, diameter. ``bolt_of`` (m, 2): fastener, bolt in it.
    ``absent`` are the members, ``absent_fasteners`` the fasteners that cannot be shown.
    """

    centre: FloatArray
    batches: tuple[Batch, ...]
    placements: FloatArray
    bolts: FloatArray
    bolt_of: FloatArray
    absent: tuple[int, ...]
    absent_fasteners: tuple[int, ...]


def scene(takeoff: Takeoff) -> Scene:
    """The view of a takeoff: every piece, then the parts of no piece mark that have a body and a place."""
    shapes: list[tuple[int, Piece | Body, list[tuple[int, Frame]]]] = [
        (number, piece, list(zip(piece.members, piece.frames, strict=True)))
        for number, piece in enumerate(takeoff.pieces)
    ]
    listed = {member for _, _, placed in shapes for member, _ in placed}
    others: dict[int, tuple[Body, list[tuple[int, Frame]]]] = {}
    for number, member in enumerate(takeoff.model.members):
        if number not in listed and member.body is not None and member.frame is not None:
            others.setdefault(id(member.body), (member.body, []))[1].append((number, member.frame))
    shapes += [(-1, body, placed) for body, placed in others.values()]

    batches: list[Batch] = []
    frames: list[Frame] = []
    for number, shape, placed in shapes:
        mesh = _mesh(shape) if placed else None
        if mesh is not None:
            batches.append(Batch(number, mesh, tuple(member for member, _ in placed), len(frames)))
            frames += [frame for _, frame in placed]
    shown = {member for batch in batches for member in batch.members}
    placements = np.empty((len(frames), 9))
    if frames:
        placements[:, :3] = np.array([frame.origin for frame in frames])
        placements[:, 3:] = np.array([frame.axes for frame in frames])[:, :2].reshape(-1, 6)
    bolts, bolt_of = _bolts(takeoff)
    places = np.concatenate((placements[:, :3], bolts[:, :3]))
    centre = (places.min(axis=0) + places.max(axis=0)) / 2.0 if len(places) else np.zeros(3)
    placements[:, :3] -= centre
    bolts[:, :3] -= centre
    return Scene(
        centre=centre,
        batches=tuple(batches),
        placements=placements,
        bolts=bolts,
        bolt_of=bolt_of,
        absent=tuple(k for k in range(len(takeoff.model.members)) if k not in shown),
        absent_fasteners=tuple(k for k, f in enumerate(takeoff.model.fasteners) if not f.bolts),
    )


def _mesh(shape: Piece | Body) -> Mesh | None:
    """The mesh of a shape; None where its dimensions enclose no steel: its parts then are listed as absent."""
    try:
        return piece_mesh(shape) if isinstance(shape, Piece) else body_mesh(shape)
    except ValueError:
        return None


def _bolts(takeoff: Takeoff) -> tuple[FloatArray, FloatArray]:
    """Each bolt from the outer face under its head to the one under its nut; as drawn where it joins nothing."""
    reach = {(p.fastener, p.bolt): (p.plies[0].enter, p.plies[-1].leave) for p in takeoff.passages if p.plies}
    rows: list[tuple[float, ...]] = []
    whose: list[tuple[int, int]] = []
    for f, fastener in enumerate(takeoff.model.fasteners):
        for b, bolt in enumerate(fastener.bolts):
            diameter = fastener.diameter or bolt.drawn_diameter or BOLT_MM
            start, end = reach.get((f, b), (0.0, bolt.shank or 2.0 * diameter))
            rows.append((*bolt.point, *bolt.direction, start, end, diameter))
            whose.append((f, b))
    if not rows:
        return np.empty((0, 7)), np.empty((0, 2))
    table = np.array(rows, dtype=float)
    begin, finish, axis = table[:, 6:7], table[:, 7:8], table[:, 3:6]
    return (
        np.column_stack((table[:, :3] + axis * begin, axis * (finish - begin), table[:, 8])),
        np.array(whose, dtype=float),
    )
