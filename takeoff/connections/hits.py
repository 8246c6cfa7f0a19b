"""Where bolt axes pass the walls of parts, for all bolts at once.

Vocabulary
----------
axis      the line of a bolt from its bearing face under the head toward the nut
hit       a wall that the line passes: where it enters and leaves, and the place on the outside of the face
along     a wall that a bolt lies in lengthwise instead of passing it

Candidate pairs come from a k-d tree; the test itself is arithmetic on arrays. A hit is no ply yet: which of them
belong to a bolt is for the walk of the folder.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from takeoff.outlines import face_polygon
from takeoff.sections.shapes import faces, rings
from takeoff.steel import CHS, ROUND, Fastener, FloatArray, Member, Section

REACH_MM = 100.0
"""How far past the drawn shank plies are looked for. More steel than this beyond a shank is no shank of it."""
STEEP_DEG = 60.0
"""A bolt that meets a wall flatter than this against its normal runs along the wall, not through it."""
SHANK_MM = 200.0
"""Longer shanks are looked for in pieces of this length."""
MOST_POINTS = 1000
"""Into which a shank is cut; what is longer than a fifth of a kilometre is no rod."""
MARGIN_MM = 2.0
"""Added to half the bolt's diameter when looking for holes that run off an edge."""

IntArray = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Axes:
    """Bolts as arrays: which fastener and bolt, start (n, 3), unit direction (n, 3), shank (n,), radius (n,)."""

    fastener: IntArray
    bolt: IntArray
    start: FloatArray
    direction: FloatArray
    shank: FloatArray
    radius: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Hits:
    """Axis-through-wall hits as parallel arrays."""

    axis: IntArray
    member: IntArray
    face: IntArray
    enter: FloatArray
    leave: FloatArray
    x: FloatArray
    across: FloatArray
    tilt: FloatArray

    def take(self, which: npt.NDArray[np.bool_] | IntArray) -> Hits:
        return Hits(*(getattr(self, name)[which] for name in self.__slots__))

    @staticmethod
    def join(parts: Sequence[Hits]) -> Hits:
        return Hits(*(np.concatenate([getattr(p, name) for p in parts]) for name in Hits.__slots__))


def axes_of(fasteners: Sequence[Fastener]) -> Axes:
    """All bolts of all fasteners, in order."""
    owner: list[int] = []
    number: list[int] = []
    start: list[tuple[float, float, float]] = []
    direction: list[tuple[float, float, float]] = []
    shank: list[float] = []
    radius: list[float] = []
    for f, fastener in enumerate(fasteners):
        nominal = fastener.diameter
        for b, bolt in enumerate(fastener.bolts):
            owner.append(f)
            number.append(b)
            start.append(bolt.point)
            direction.append(bolt.direction)
            shank.append(bolt.shank)
            radius.append((nominal if nominal else bolt.drawn_diameter) / 2)
    return Axes(
        np.array(owner, dtype=np.intp),
        np.array(number, dtype=np.intp),
        np.array(start, dtype=float).reshape(-1, 3),
        np.array(direction, dtype=float).reshape(-1, 3),
        np.array(shank, dtype=float),
        np.array(radius, dtype=float),
    )


def _near(
    origin: FloatArray, x_axis: FloatArray, centre: FloatArray, length: FloatArray, half: FloatArray, axes: Axes
) -> tuple[IntArray, IntArray]:
    """Pairs (member row, bolt row) close enough to be tested, through a k-d tree of the bolts.

    A long rod is several points of the tree: one rod must not widen the search round every bolt.
    """
    parts = np.clip(np.ceil(axes.shank / SHANK_MM), 1, MOST_POINTS).astype(np.intp)
    bolt_of = np.repeat(np.arange(len(parts)), parts)
    number = np.arange(len(bolt_of)) - (np.cumsum(parts) - parts)[bolt_of]
    piece = axes.shank / parts
    middle = axes.start[bolt_of] + axes.direction[bolt_of] * ((number + 0.5) * piece[bolt_of])[:, None]
    reach = float(piece.max(initial=0.0)) / 2 + REACH_MM
    step = np.maximum(300.0, half)
    count = np.maximum(1, np.ceil(length / step)).astype(np.intp)
    row = np.repeat(np.arange(len(origin)), count)
    first = np.concatenate(([0], np.cumsum(count)[:-1]))
    place = (np.arange(len(row)) - first[row] + 0.5) * (length / count)[row]
    points = origin[row] + centre[row] + x_axis[row] * place[:, None]
    ball = np.hypot(half, length / count / 2)[row] + reach
    tree = cKDTree(middle)
    found = tree.query_ball_point(points, ball, return_sorted=False)
    sizes = np.fromiter((len(f) for f in found), dtype=np.intp, count=len(found))
    if not sizes.sum():
        empty = np.zeros(0, dtype=np.intp)
        return empty, empty
    bolts = bolt_of[np.concatenate([np.asarray(f, dtype=np.intp) for f in found if f])]
    code = np.sort(np.repeat(row, sizes) * len(parts) + bolts)
    code = code[np.concatenate(([True], code[1:] != code[:-1]))]
    return code // len(parts), code % len(parts)


def find_hits(members: Sequence[Member], solid: Sequence[int], axes: Axes) -> tuple[Hits, tuple[tuple[int, int], ...]]:
    """Every wall that a bolt's line passes, and the walls that it lies in lengthwise."""
    none = np.zeros(0, dtype=np.intp)
    empty = Hits(none, none, none, *(np.zeros(0) for _ in range(5)))
    if not solid or not len(axes.start):
        return empty, ()
    bodies = [members[i].body for i in solid]
    frames = [members[i].frame for i in solid]
    origin = np.array([f.origin for f in frames if f is not None])
    rotation = np.array([f.axes for f in frames if f is not None])
    length = np.array([b.length for b in bodies if b is not None])

    table, offset, count, box, is_round = _face_table([b.section for b in bodies if b is not None])
    middle = (box[:, 0:2] + box[:, 2:4]) / 2
    centre = middle[:, 0:1] * rotation[:, 1] + middle[:, 1:2] * rotation[:, 2]
    half = np.hypot(*(box[:, 2:4] - box[:, 0:2]).T) / 2
    near_member, near_bolt = _near(origin, rotation[:, 0], centre, length, half, axes)
    index = np.asarray(solid, dtype=np.intp)

    flat = ~is_round[near_member]
    pair_m, pair_b = _through_box(near_member[flat], near_bolt[flat], origin, rotation, length, box, axes)
    repeat = count[pair_m]
    m = np.repeat(pair_m, repeat)
    b = np.repeat(pair_b, repeat)
    starts = np.concatenate(([0], np.cumsum(repeat)[:-1])) if len(repeat) else none
    face = np.arange(len(m)) - np.repeat(starts, repeat)
    t = table[offset[m] + face]

    local = np.einsum("nij,nj->ni", rotation[m], axes.start[b] - origin[m])
    heading = np.einsum("nij,nj->ni", rotation[m], axes.direction[b])
    relative = local[:, 1:3] - t[:, 0:2]
    depth = np.einsum("ni,ni->n", relative, t[:, 4:6])
    sink = np.einsum("ni,ni->n", heading[:, 1:3], t[:, 4:6])
    thick = t[:, 6]
    tilt = np.degrees(np.arccos(np.clip(np.abs(sink), 0, 1)))
    crossing = tilt < STEEP_DEG
    safe = np.where(crossing, sink, 1.0)
    outside = -depth / safe
    inside = (thick - depth) / safe
    x = local[:, 0] + heading[:, 0] * outside
    across = np.einsum("ni,ni->n", relative, t[:, 2:4]) + outside * np.einsum("ni,ni->n", heading[:, 1:3], t[:, 2:4])
    margin = axes.radius[b] + MARGIN_MM
    enter = np.minimum(outside, inside)
    leave = np.maximum(outside, inside)
    on_face = (
        (x > -margin)
        & (x < length[m] + margin)
        & (across > t[:, 7] - margin)
        & (across < t[:, 8] + margin)
        & (enter < axes.shank[b] + REACH_MM)
        & (leave > -REACH_MM)
    )
    keep = crossing & on_face
    hits = Hits(b, index[m], face, enter, leave, x, across, tilt).take(keep)
    along = _lengthwise(local, heading, relative, depth, t, length[m], axes.shank[b], axes.radius[b])
    lying = tuple((int(index[m[k]]), int(b[k])) for k in np.flatnonzero(~crossing & along))

    rounds = np.flatnonzero(is_round[near_member])
    if len(rounds):
        extra = [
            hit for k in rounds for hit in _through_round(members, int(index[near_member[k]]), int(near_bolt[k]), axes)
        ]
        if extra:
            columns = list(zip(*extra, strict=True))
            arrays = [np.array(c, dtype=np.intp if i < 3 else float) for i, c in enumerate(columns)]
            hits = Hits.join([hits, Hits(*arrays)])
    return hits, lying


def _through_box(
    m: IntArray, b: IntArray, origin: FloatArray, rotation: FloatArray, length: FloatArray, box: FloatArray, axes: Axes
) -> tuple[IntArray, IntArray]:
    """The pairs whose bolt, lengthened by the reach, comes into the box round the member: most candidates do not."""
    local = np.einsum("nij,nj->ni", rotation[m], axes.start[b] - origin[m])
    heading = np.einsum("nij,nj->ni", rotation[m], axes.direction[b])
    one = local - REACH_MM * heading
    other = local + (axes.shank[b] + REACH_MM)[:, None] * heading
    margin = (axes.radius[b] + MARGIN_MM)[:, None]
    low = np.column_stack([np.zeros(len(m)), box[m, 0:2]]) - margin
    high = np.column_stack([length[m], box[m, 2:4]]) + margin
    inside = (np.minimum(one, other) < high).all(axis=1) & (np.maximum(one, other) > low).all(axis=1)
    return m[inside], b[inside]


def _lengthwise(
    local: FloatArray,
    heading: FloatArray,
    relative: FloatArray,
    depth: FloatArray,
    t: FloatArray,
    length: FloatArray,
    shank: FloatArray,
    radius: FloatArray,
) -> npt.NDArray[np.bool_]:
    """Where the middle of a drawn shank lies inside a wall that it does not cross."""
    half = (shank / 2)[:, None]
    spot = local + heading * half
    deep = depth + np.einsum("ni,ni->n", heading[:, 1:3], t[:, 4:6]) * half[:, 0]
    across = np.einsum("ni,ni->n", relative, t[:, 2:4]) + half[:, 0] * np.einsum("ni,ni->n", heading[:, 1:3], t[:, 2:4])
    inside = (
        (deep > 0)
        & (deep < t[:, 6])
        & (across > t[:, 7] + radius)
        & (across < t[:, 8] - radius)
        & (spot[:, 0] > radius)
        & (spot[:, 0] < length - radius)
    )
    return np.asarray(inside & (shank > 0), dtype=np.bool_)


def _face_table(
    sections: Sequence[object],
) -> tuple[FloatArray, IntArray, IntArray, FloatArray, npt.NDArray[np.bool_]]:
    """Faces of all sections in one table: origin, direction, inward, thickness, low, high; where each starts; the
    section's box (u0, v0, u1, v1); whether it is round."""

    rows: list[tuple[float, ...]] = []
    known: dict[Section, int] = {}
    starts: list[int] = []
    counts: list[int] = []
    boxes: list[tuple[float, float, float, float]] = []
    rounds: list[bool] = []
    which = np.empty(len(sections), dtype=np.intp)
    for i, section in enumerate(sections):
        assert isinstance(section, Section)
        number = known.get(section)
        if number is None:
            number = known[section] = len(starts)
            starts.append(len(rows))
            all_faces = faces(section)
            counts.append(len(all_faces))
            rows.extend((*f.origin, *f.direction, *f.inward, f.thickness, f.low, f.high) for f in all_faces)
            outer = rings(section)[0]
            low, high = outer.min(axis=0), outer.max(axis=0)
            boxes.append((low[0], low[1], high[0], high[1]))
            rounds.append(section.shape in (CHS, ROUND))
        which[i] = number
    table = np.array(rows, dtype=float).reshape(-1, 9)
    return (
        table,
        np.array(starts, dtype=np.intp)[which],
        np.array(counts, dtype=np.intp)[which],
        np.array(boxes, dtype=float).reshape(-1, 4)[which],
        np.array(rounds, dtype=bool)[which],
    )


def _through_round(members: Sequence[Member], member: int, b: int, axes: Axes) -> Iterable[tuple[float, ...]]:
    """Hits of one bolt with a tube (a ply each wall) or a round bar (one ply), as rows of Hits."""
    body, frame = members[member].body, members[member].frame
    assert body is not None
    assert frame is not None
    start = frame.to_piece(axes.start[b])
    way = frame.direction_to_piece(axes.direction[b])
    radial = float(np.hypot(way[1], way[2]))
    if radial < np.sin(np.radians(90 - STEEP_DEG)):
        return
    outer = body.section.h / 2
    p, d = start[1:3], way[1:3] / radial
    near = -float(p @ d)
    off = float(np.hypot(*(p + near * d)))
    if off >= outer:
        return
    reach = float(np.sqrt(outer**2 - off**2))
    inner = outer - body.section.tw if body.section.shape == CHS else 0.0
    hollow = float(np.sqrt(inner**2 - off**2)) if inner > off else 0.0
    spans = [(near - reach, near - hollow, near - reach), (near + hollow, near + reach, near + reach)]
    if hollow == 0.0:
        spans = [(near - reach, near + reach, near - reach)]
    face = faces(body.section)[0]
    datum = float(np.arctan2(face.origin[1], face.origin[0]))
    sense = float(np.sign(face.origin[0] * face.direction[1] - face.origin[1] * face.direction[0])) or 1.0
    for enter, leave, outside in spans:
        where = p + outside * d
        angle = (float(np.arctan2(where[1], where[0])) - datum) * sense % (2 * np.pi)
        x = float(start[0] + way[0] * outside / radial)
        margin = axes.radius[b] + MARGIN_MM
        enter, leave = enter / radial, leave / radial
        if not -margin < x < body.length + margin:
            continue
        if enter > axes.shank[b] + REACH_MM or leave < -REACH_MM:
            continue
        tilt = float(np.degrees(np.arccos(np.clip(abs(where @ way[1:3]) / outer, 0, 1))))
        yield (b, member, 0, enter, leave, x, angle * outer, tilt)


def inside_outline(members: Sequence[Member], hits: Hits, axes: Axes) -> Hits:
    """Drop hits in steel that cuts, notches or a plate's outline took away.

    A hit whose circle still touches the steel stays: the hole that runs off the edge is found by the checks.
    """
    import shapely

    keep = np.ones(len(hits.axis), dtype=bool)
    special: dict[int, bool] = {}
    for member in np.unique(hits.member):
        body = members[int(member)].body
        assert body is not None
        special[int(member)] = bool(
            body.outline or body.left or body.right or body.notches or members[int(member)].notches
        )
    shaped = np.flatnonzero(np.array([special[int(m)] for m in hits.member], dtype=bool))
    if not len(shaped):
        return hits

    order = shaped[np.lexsort((hits.face[shaped], hits.member[shaped]))]
    keys = hits.member[order] * 16 + hits.face[order]
    for rows in np.split(order, np.flatnonzero(np.diff(keys)) + 1):
        part = members[int(hits.member[rows[0]])]
        assert part.body is not None
        polygon = face_polygon(part.body, part.notches, int(hits.face[rows[0]]))
        if polygon is None:
            continue
        away = shapely.distance(shapely.points(hits.x[rows], hits.across[rows]), polygon)
        keep[rows] = away < axes.radius[hits.axis[rows]] + MARGIN_MM
    return hits.take(keep)
