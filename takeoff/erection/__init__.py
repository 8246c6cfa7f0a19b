"""Where every piece stands and how, level by level and face by face, and the bolts node by node.

Vocabulary
----------
level     a height from which long pieces rise, or one of the settings; a piece belongs to the last level at or below
          its lower end, a short one to that at or below its middle
sides     of the structure in plan: four, along and across the way most of its steel runs
profile   how far the structure reaches to its sides at each level: a tower that narrows keeps its faces
face      a piece lies in one when both its ends do; in two at a corner; in none inside
way       which end of a piece is up and where the outsides of its legs look

Does not know: storeys, grid lines and erection sequence of the drawings. Sides are named by the model's axes: which
of them is north no model says reliably.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import radians, sin
from typing import Final

import numpy as np
import numpy.typing as npt

from takeoff.dispatch import LEFT, RIGHT, Erection, FaceView, Level, Stand, Way
from takeoff.erection.nodes import bolts_of_nodes
from takeoff.erection.places import SIDE_COUNT, Profile, level_heights, level_of, plan_axes
from takeoff.erection.standing import OUTSIDES, Standing, long_pieces, posts, standing_of
from takeoff.order import natural
from takeoff.settings import ErectionSettings
from takeoff.steel import FloatArray, Piece, Takeoff

LEVEL_SINE: Final = sin(radians(5.0))
"""A piece that rises less than this lies level."""


def plan_erection(takeoff: Takeoff, settings: ErectionSettings) -> Erection:
    """Levels, stands and bolts of nodes. Every member of every piece is in one stand, held ones too."""
    standing = standing_of(takeoff.pieces)
    heights = level_heights(standing, takeoff.pieces, settings)
    axes = plan_axes(standing)
    profile = Profile(posts(standing, takeoff.pieces), heights, axes, settings)
    stands, views = _stands(takeoff, standing, heights, profile)
    nodes, row_levels = bolts_of_nodes(takeoff, heights, profile)
    levels = tuple(Level(k, height) for k, height in enumerate(heights.tolist(), start=1))
    return Erection(levels, stands, nodes, profile.names, views, row_levels)


def _views(
    pieces: Sequence[Piece], standing: Standing, near: npt.NDArray[np.bool_], profile: Profile
) -> tuple[FaceView, ...]:
    """Every face that has pieces, seen from outside; ``near`` (n, 4) as Profile.near of both ends."""
    found = []
    for side in range(SIDE_COUNT):
        rows = np.flatnonzero(near[:, side] & ~near[:, (side + 2) % SIDE_COUNT])
        if not len(rows):
            continue
        # who looks inward has the side a quarter turn on, anti-clockwise, at his right
        right = profile.axes[(side + 1) % SIDE_COUNT]
        points = [np.column_stack([p[rows, :2] @ right, p[rows, 2]]) for p in (standing.left, standing.right)]
        ends = np.round(np.concatenate(points, axis=1), 1).tolist()
        marks = [pieces[k].mark for k in standing.piece[rows].tolist()]
        lines = sorted(
            ((mark, x0, z0, x1, z1) for mark, (x0, z0, x1, z1) in zip(marks, ends, strict=True)), key=_upward
        )
        found.append(FaceView(profile.names[side], profile.names[(side + 1) % SIDE_COUNT], tuple(lines)))
    return tuple(found)


def _upward(line: tuple[str, float, float, float, float]) -> tuple[object, ...]:
    return min(line[2], line[4]), min(line[1], line[3]), line


def _stands(
    takeoff: Takeoff, standing: Standing, heights: FloatArray, profile: Profile
) -> tuple[tuple[Stand, ...], tuple[FaceView, ...]]:
    pieces = takeoff.pieces
    low = np.minimum(standing.left[:, 2], standing.right[:, 2])
    middle = (standing.left + standing.right) / 2
    own = np.where(long_pieces(standing, pieces), low, middle[:, 2])
    level = level_of(np.round(own.astype(float), 1), heights, profile.reach)
    near = profile.near(standing.left) & profile.near(standing.right)
    along = standing.right - standing.left
    lengths = np.linalg.norm(along, axis=1)
    along = along / np.where(lengths < 1e-9, 1.0, lengths)[:, None]
    rise = np.where(along[:, 2] > LEVEL_SINE, 1, np.where(along[:, 2] < -LEVEL_SINE, 2, 0))
    flat = along.copy()
    flat[:, 2] = 0.0
    points_to = np.where(rise == 0, profile.looks(flat), -1)
    outside = [profile.looks(o) for o in standing.outsides]
    columns = (
        level,
        near @ np.array([1, 2, 4, 8]),
        standing.piece,
        rise,
        points_to + 1,
        outside[0] + 1,
        outside[1] + 1,
    )
    code = np.zeros(len(level), dtype=np.int64)
    for column, size in zip(columns, (1, 16, max(1, len(pieces)), 3, 7, 7, 7), strict=True):
        code = code * size + column
    order = np.lexsort((standing.member, code))
    starts = np.flatnonzero(np.diff(code[order], prepend=-1))
    found = []
    for rows in np.split(order, starts[1:]) if len(order) else []:
        first = int(rows[0])
        piece = pieces[int(standing.piece[first])]
        named = OUTSIDES.get(piece.section.shape, ())
        way = Way(
            ("", RIGHT, LEFT)[int(rise[first])],
            profile.word(int(points_to[first])),
            tuple((name, profile.word(int(outside[slot][first]))) for slot, (name, _) in enumerate(named)),
        )
        places = np.round(middle[rows], 1)
        bounds = [tuple(f(places, axis=0).tolist()) for f in (np.min, np.max)]
        found.append(
            Stand(
                int(level[first]),
                profile.sides(near[first]),
                piece.mark,
                way,
                tuple(standing.member[rows].tolist()),
                bounds[0],
                bounds[1],
            )
        )
    nowhere = (0.0, 0.0, 0.0)
    for piece in pieces:
        rest = piece.members[len(piece.frames) :]
        if rest:
            found.append(Stand(0, (), piece.mark, Way("", "", ()), rest, nowhere, nowhere))
    order_of = {name: k for k, name in enumerate(profile.names)}

    def key(stand: Stand) -> tuple[object, ...]:
        sides = tuple(order_of[s] for s in stand.sides)
        return stand.level, not sides, len(sides), sides, natural(stand.mark), stand.way, stand.low

    return tuple(sorted(found, key=key)), _views(pieces, standing, near, profile)
