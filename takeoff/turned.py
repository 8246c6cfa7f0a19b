"""A piece laid another way: what a turn does to its features, its body and its place in the model.

Vocabulary
----------
feature   a row of numbers that tells one shape from another: a hole, a corner of an outline, an arc's apex, the
          skew end of a round
side      which side of the wall a feature belongs to: near (0), far (1), or both (-1: it goes through)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import atan, atan2, cos, degrees, hypot, pi, radians, sin
from typing import Final

import numpy as np

from takeoff.outlines import TWO_SIDED, corner_rows
from takeoff.sections.shapes import faces
from takeoff.sections.turns import Turn
from takeoff.steel import CHS, ROUND, Body, FloatArray, Frame, Notch, Plane, Vertex
from takeoff.units import COINCIDENCE_MM

TYPE, FACE, X, ACROSS, SIZE, SLOT, ANGLE, WIDTH, KIND, DEPTH, SIDE, BOLT = range(12)
COLUMNS: Final = 12
HOLE, CORNER, ARC, ROUND_END = 0.0, 1.0, 2.0, 3.0
BOTH, NEAR, FAR = -1.0, 0.0, 1.0


def blank_features(body: Body, notches: tuple[Notch, ...]) -> FloatArray:
    """Features (n, COLUMNS) of a body without its holes: corners of what is not a full rectangle."""
    if body.section.shape in (CHS, ROUND):
        return np.concatenate([_round_ends(body), _round_notches(body, notches)])
    sided = [face.name in TWO_SIDED and not body.outline for face in faces(body.section)]
    rows = []
    for face, x, across, _, deep in corner_rows(body, notches):
        row = [0.0] * COLUMNS
        row[TYPE], row[FACE], row[X], row[ACROSS] = CORNER, face, x, across
        row[SIDE] = (FAR if deep else NEAR) if sided[face] else BOTH
        rows.append(row)
    if body.outline:
        for here, there in zip(body.outline, (*body.outline[1:], body.outline[0]), strict=True):
            if abs(here.bulge) > 1e-9:
                row = [0.0] * COLUMNS
                x, across = apex(here, there)
                row[TYPE], row[X], row[ACROSS], row[SIDE] = ARC, x, across, BOTH
                rows.append(row)
    return np.array(rows, dtype=float).reshape(-1, COLUMNS)


def apex(here: Vertex, there: Vertex) -> tuple[float, float]:
    """The middle of the arc from one vertex to the next, mm."""
    dx, dy = there.x - here.x, there.across - here.across
    # Half the chord times the bulge is the rise; a positive bulge bows to the right of the edge.
    return (here.x + there.x) / 2 + here.bulge * dy / 2, (here.across + there.across) / 2 - here.bulge * dx / 2


def _round_ends(body: Body) -> FloatArray:
    """Skew ends of a round: where the plane cuts the axis, which way it leans, and by how many degrees."""
    rows = []
    for plane in (*body.left, *body.right):
        lean = hypot(plane.normal[1], plane.normal[2])
        if lean < 1e-6:
            continue
        n = plane.normal
        row = [0.0] * COLUMNS
        at = plane.point[0] + (n[1] * plane.point[1] + n[2] * plane.point[2]) / n[0]
        # Developed positions run clockwise from the side nearest to the viewer (-u). The side that loses most steel
        # stays that side when the ends change places.
        angle = atan2(n[2], -n[1]) % (2 * pi)
        row[TYPE], row[X], row[ACROSS], row[SIZE] = ROUND_END, at, angle * body.section.h / 2, degrees(atan(lean))
        row[SIDE] = BOTH
        rows.append(row)
    return np.array(rows, dtype=float).reshape(-1, COLUMNS)


def _round_notches(body: Body, notches: tuple[Notch, ...]) -> FloatArray:
    """Corners of what is cut out of the developed wall of a round."""
    points = [point for notch in (*body.notches, *notches) for point in notch.loop]
    rows = np.zeros((len(points), COLUMNS))
    rows[:, TYPE], rows[:, SIDE] = CORNER, BOTH
    if points:
        rows[:, X], rows[:, ACROSS] = np.array(points).T
    return rows


def turn_features(rows: FloatArray, turn: Turn, girth: float = 0.0) -> FloatArray:
    """Features after a turn; ``girth`` is the developed circumference of a round, else 0."""
    if not len(rows):
        return rows
    out = rows.copy()
    number = rows[:, FACE].astype(int)
    moves = turn.moves
    sign = np.array([m.sign for m in moves])[number]
    shift = np.array([m.shift for m in moves])[number]
    over = np.array([m.over for m in moves])[number]
    out[:, FACE] = np.array([m.to for m in moves])[number]
    lean = np.radians(rows[:, ANGLE])
    if turn.swaps:
        r, t = turn.rotation, turn.translation
        out[:, X] = r[0, 2] * rows[:, ACROSS] + t[0]
        out[:, ACROSS] = r[2, 0] * rows[:, X] + t[2]
        dx, da = r[0, 2] * np.sin(lean), r[2, 0] * np.cos(lean)
    else:
        dx, da = np.cos(lean) * turn.rotation[0, 0], np.sin(lean) * sign
        out[:, X] = turn.translation[0] - rows[:, X] if turn.reverses else rows[:, X]
        out[:, ACROSS] = sign * rows[:, ACROSS] + shift
    slotted = rows[:, SLOT] > 0
    out[slotted, ANGLE] = straight_angle(np.degrees(np.arctan2(da, dx)), period(rows))[slotted]
    if girth:
        out[:, ACROSS] = wrap(out[:, ACROSS], girth)
    sided = over & (rows[:, SIDE] >= 0)
    out[sided, SIDE] = 1.0 - rows[sided, SIDE]
    return out


def mirror_features(rows: FloatArray, length: float) -> FloatArray:
    """The same features on the opposite hand: mirrored across the middle of the length."""
    out = rows.copy()
    out[:, X] = length - rows[:, X]
    slotted = rows[:, SLOT] > 0
    out[slotted, ANGLE] = straight_angle(180.0 - rows[:, ANGLE], period(rows))[slotted]
    return out


def period(rows: FloatArray) -> FloatArray:
    """By how many degrees each feature turns into itself: a square hole by 90, any other by 180."""
    square = (rows[:, WIDTH] > 0) & (np.abs(rows[:, WIDTH] - rows[:, SLOT]) <= COINCIDENCE_MM)
    return np.where(square, 90.0, 180.0)


def straight_angle(angle: FloatArray, period: FloatArray) -> FloatArray:
    """A direction without a sense: 0 <= angle < period, with the period less a hair as 0."""
    folded = np.mod(angle, period)
    folded[folded > period - 1e-3] = 0.0
    return np.asarray(folded, dtype=float)


def wrap(across: FloatArray, girth: float) -> FloatArray:
    """Developed positions from 0 up to the girth, a hair below the girth being 0."""
    folded = np.mod(across, girth)
    folded[girth - folded < 1e-3] = 0.0
    return np.asarray(folded, dtype=float)


def turn_frame(frame: Frame, turn: Turn) -> Frame:
    """The frame in which a member looks as its piece is drawn, given the frame of its body."""
    axes = turn.rotation @ frame.axes
    origin = frame.origin - (turn.rotation.T @ turn.translation) @ frame.axes
    return Frame(origin, axes)


def turn_frames(frames: Sequence[Frame], turns: Sequence[Turn]) -> list[Frame]:
    """:func:`turn_frame` for many members at once; most of them share a few turns."""
    found: list[Frame | None] = [None] * len(frames)
    by_turn: dict[int, list[int]] = {}
    for k, turn in enumerate(turns):
        by_turn.setdefault(id(turn), []).append(k)
    for rows in by_turn.values():
        turn = turns[rows[0]]
        axes = np.array([frames[k].axes for k in rows])
        origins = np.array([frames[k].origin for k in rows])
        turned = turn.rotation @ axes
        moved = origins - (turn.rotation.T @ turn.translation) @ axes
        for n, k in enumerate(rows):
            found[k] = Frame(moved[n], turned[n])
    return [frame for frame in found if frame is not None]


def turn_body(body: Body, notches: tuple[Notch, ...], turn: Turn) -> Body:
    """The blank after a turn: its planes, outline and notches (the member's own added), without holes."""
    planes = [_turn_plane(plane, turn) for plane in (*body.left, *body.right)]
    outline = _turn_outline(body.outline, turn)
    names = [face.name for face in faces(body.section)]
    turned_notches = []
    for notch in (*body.notches, *notches):
        rows = np.zeros((len(notch.loop), COLUMNS))
        rows[:, FACE] = names.index(notch.face)
        rows[:, X:SIZE] = notch.loop
        moved = turn_features(rows, turn)
        turned_notches.append(Notch(names[int(moved[0, FACE])], tuple((float(r[X]), float(r[ACROSS])) for r in moved)))
    return replace(
        body,
        left=tuple(p for p in planes if p.normal[0] < 0),
        right=tuple(p for p in planes if p.normal[0] >= 0),
        outline=outline,
        notches=tuple(turned_notches),
        holes=(),
    )


def _turn_plane(plane: Plane, turn: Turn) -> Plane:
    point = turn.rotation @ np.array(plane.point) + turn.translation
    normal = turn.rotation @ np.array(plane.normal)
    return Plane(
        (float(point[0]), float(point[1]), float(point[2])), (float(normal[0]), float(normal[1]), float(normal[2]))
    )


def _turn_outline(outline: tuple[Vertex, ...], turn: Turn) -> tuple[Vertex, ...]:
    if not outline:
        return ()
    rows = np.zeros((len(outline), COLUMNS))
    rows[:, X] = [v.x for v in outline]
    rows[:, ACROSS] = [v.across for v in outline]
    moved = turn_features(rows, turn)
    points = [(float(r[X]), float(r[ACROSS])) for r in moved]
    bulges = [v.bulge for v in outline]
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]], strict=True))
    if area < 0:
        # Seen from the other side the loop runs clockwise: walk it backwards; an edge then starts at its other end.
        points.reverse()
        bulges = [*bulges[-2::-1], bulges[-1]]
    first = min(range(len(points)), key=lambda k: (round(points[k][0], 2), round(points[k][1], 2)))
    order = [*range(first, len(points)), *range(first)]
    return tuple(Vertex(points[k][0], points[k][1], bulges[k]) for k in order)


def slot_ends(x: float, across: float, length: float, width: float, angle: float) -> tuple[tuple[float, float], ...]:
    """Centres of a slot's two end arcs, mm, from its middle, overall length, width and angle in degrees."""
    half = max(0.0, (length - width) / 2)
    dx, da = half * cos(radians(angle)), half * sin(radians(angle))
    return (x - dx, across - da), (x + dx, across + da)
