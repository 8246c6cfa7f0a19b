"""The connection graph: which bolt passes which leg, in what order, and what it joins.

Vocabulary
----------
axis      the line of a bolt, from its bearing face under the head toward the nut
shank     the part of the axis that the model draws; its length is often wrong
ply       one thickness of steel that the axis passes
grip      from the outer face of the first ply to the outer face of the last
gap       open space between two plies of one grip
joint     the bolts that join the same parts at one place
node      the place where members meet: joints whose bolts follow each other along a shared member

From the shank the search walks outward, ply by ply, as long as the next ply touches the last. Open space is
crossed only where the drawn shank itself crosses it; the far flange of a beam is never reached through air.

Does not know: whether the model's steel is complete. A bolt through one part only is reported, not judged.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from takeoff.queries import CHECK, Query, query, register
from takeoff.sections.shapes import faces
from takeoff.steel import CHS, ROUND, Fastener, FloatArray, Joint, Member, Passage, Ply
from takeoff.units import CONTACT_MM, PARALLEL_DEG

REACH_MM = 100.0
"""How far past the drawn shank plies are looked for. More steel than this beyond a shank is no shank of it."""
NODE_MM = 300.0
"""Bolts that follow each other along a member by no more than this belong to one node (common practice)."""
STEEP_DEG = 60.0
"""A bolt that meets a wall flatter than this against its normal runs along the wall, not through it."""
OVERLAP_MM = 1.0
"""Two plies may share this much of the axis before the members are said to run through each other."""
FLUSH_MM = 1e-6
"""Plies closer than this touch exactly; the rest is the noise of their coordinates."""
SHANK_MM = 200.0
"""Longer shanks are looked for in pieces of this length."""
MOST_POINTS = 1000
"""Into which a shank is cut; what is longer than a fifth of a kilometre is no rod."""
MARGIN_MM = 2.0
"""Added to half the bolt's diameter when looking for holes that run off an edge."""

IntArray = npt.NDArray[np.intp]

BOLT_THROUGH_NOTHING = register(
    "bolt-through-nothing",
    CHECK,
    "{0} bolts of {1} fasteners pass through no steel part that could be read.",
    "Check whether the part they belong to is in another model or was left out or held here.",
)
BOLT_THROUGH_ONE_PART = register(
    "bolt-through-one-part",
    CHECK,
    "{0} bolts of {1} fasteners pass through one part only ({2} parts).",
    "The part on the other side may be in another model; their holes are in the lists. Ask the designer.",
)
GRIP_HAS_GAP = register(
    "grip-has-gap",
    CHECK,
    "{0} bolts clamp plies that do not touch; the widest gap is {1} mm.",
    "Check packers: grip_mm includes the gap, plies_mm does not. Order the length only when this is settled.",
)
PLIES_OVERLAP = register(
    "plies-overlap",
    CHECK,
    "At {0} bolts the members run through each other, by up to {1} mm.",
    "The model has two parts in one place: ask the designer which of them gives way.",
)
BOLT_ALONG_LEG = register(
    "bolt-along-leg",
    "hold",
    "A bolt runs along a leg of this part, inside its thickness.",
    "The bolt cannot be put in. Ask the designer where the hole belongs.",
)
BOLT_TWICE = register(
    "bolt-twice",
    CHECK,
    "{0} bolts stand where another bolt of the model already stands.",
    "Counted as often as the model has them; the hole is punched once. Check the bolt count.",
)


@dataclass(frozen=True, slots=True, eq=False)
class Connections:
    """What the graph says. ``graph`` has ("member", i) and ("joint", number) nodes; edges count the bolts.

    ``along`` lists (member, passage) where a bolt lies in a wall lengthwise; ``untouched`` the members with a
    body that no bolt passes.
    """

    passages: tuple[Passage, ...]
    joints: tuple[Joint, ...]
    graph: nx.Graph[tuple[str, int]]
    along: tuple[tuple[int, int], ...]
    untouched: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Axes:
    """Bolts as arrays: which fastener and bolt, start (n, 3), unit direction (n, 3), shank (n,), radius (n,)."""

    fastener: IntArray
    bolt: IntArray
    start: FloatArray
    direction: FloatArray
    shank: FloatArray
    radius: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Hits:
    """Axis-through-wall hits as parallel arrays."""

    axis: IntArray
    member: IntArray
    face: IntArray
    enter: FloatArray
    leave: FloatArray
    x: FloatArray
    across: FloatArray
    tilt: FloatArray

    def take(self, which: npt.NDArray[np.bool_] | IntArray) -> _Hits:
        return _Hits(*(getattr(self, name)[which] for name in self.__slots__))

    @staticmethod
    def join(parts: Sequence[_Hits]) -> _Hits:
        return _Hits(*(np.concatenate([getattr(p, name) for p in parts]) for name in _Hits.__slots__))


def connect(members: Sequence[Member], fasteners: Sequence[Fastener]) -> tuple[Connections, tuple[Query, ...]]:
    """Find every bolt's way through the steel.

    Returns the connections (a Passage for every bolt, also for one through nothing) and the queries.
    """
    axes = _axes(fasteners)
    solid = [i for i, m in enumerate(members) if m.is_made]
    hits, along = _hits(members, solid, axes)
    hits = _inside_outline(members, hits, axes)
    passages, twice = _walk(members, fasteners, axes, hits)
    joints = _joints(passages)
    graph = _graph(solid, joints)
    touched = {ply.member for passage in passages for ply in passage.plies}
    connections = Connections(
        passages=passages,
        joints=joints,
        graph=graph,
        along=along,
        untouched=tuple(i for i in solid if i not in touched),
    )
    return connections, tuple(_queries(members, fasteners, connections, twice))


def _axes(fasteners: Sequence[Fastener]) -> _Axes:
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
    return _Axes(
        np.array(owner, dtype=np.intp),
        np.array(number, dtype=np.intp),
        np.array(start, dtype=float).reshape(-1, 3),
        np.array(direction, dtype=float).reshape(-1, 3),
        np.array(shank, dtype=float),
        np.array(radius, dtype=float),
    )


def _near(
    origin: FloatArray, x_axis: FloatArray, centre: FloatArray, length: FloatArray, half: FloatArray, axes: _Axes
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


def _hits(members: Sequence[Member], solid: Sequence[int], axes: _Axes) -> tuple[_Hits, tuple[tuple[int, int], ...]]:
    """Every wall that a bolt's line passes, and the walls that it lies in lengthwise."""
    none = np.zeros(0, dtype=np.intp)
    empty = _Hits(none, none, none, *(np.zeros(0) for _ in range(5)))
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
    pair_m, pair_b = near_member[flat], near_bolt[flat]
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
    hits = _Hits(b, index[m], face, enter, leave, x, across, tilt).take(keep)
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
            hits = _Hits.join([hits, _Hits(*arrays)])
    return hits, lying


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
    from takeoff.sections.shapes import rings
    from takeoff.steel import Section

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


def _through_round(members: Sequence[Member], member: int, b: int, axes: _Axes) -> Iterable[tuple[float, ...]]:
    """Hits of one bolt with a tube (a ply each wall) or a round bar (one ply), as rows of _Hits."""
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


def _inside_outline(members: Sequence[Member], hits: _Hits, axes: _Axes) -> _Hits:
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
    from takeoff.outlines import face_polygon

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


def _walk(
    members: Sequence[Member], fasteners: Sequence[Fastener], axes: _Axes, hits: _Hits
) -> tuple[tuple[Passage, ...], tuple[int, ...]]:
    """Choose, bolt by bolt, the plies that the walk outward from the shank reaches."""
    order = np.lexsort((hits.face, hits.member, hits.leave, hits.enter, hits.axis))
    hits = hits.take(order)
    bounds = np.searchsorted(hits.axis, np.arange(len(axes.start) + 1))
    plain, grip, steel = _plain(axes, hits, bounds)
    names = _face_names(members, hits)
    columns = (hits.member, hits.enter, hits.leave, hits.x, hits.across, hits.tilt)
    member, enter, leave, x, across, tilt = (c.tolist() for c in columns)
    plies = list(map(Ply, member, names, enter, leave, x, across, tilt))
    passages: list[Passage] = []
    rows = zip(
        axes.fastener.tolist(), axes.bolt.tolist(), bounds[:-1].tolist(), bounds[1:].tolist(), axes.shank.tolist(),
        plain.tolist(), grip.tolist(), steel.tolist(), strict=True,
    )  # fmt: skip
    for fastener, bolt, first, last, shank, simple, through, thick in rows:
        if simple:
            passages.append(Passage(fastener, bolt, tuple(plies[first:last]), through, thick))
        else:
            chosen = _chain(enter, leave, first, last, shank)
            passages.append(_passage(fastener, bolt, [plies[k] for k in chosen]))
    return tuple(passages), _doubles(axes, passages)


def _face_names(members: Sequence[Member], hits: _Hits) -> list[str]:
    """The face's name of every hit."""
    by_member: dict[int, tuple[str, ...]] = {}
    for i in np.unique(hits.member).tolist():
        body = members[i].body
        assert body is not None
        by_member[i] = tuple(face.name for face in faces(body.section))
    return [by_member[i][k] for i, k in zip(hits.member.tolist(), hits.face.tolist(), strict=True)]


def _plain(axes: _Axes, hits: _Hits, bounds: IntArray) -> tuple[npt.NDArray[np.bool_], FloatArray, FloatArray]:
    """Bolts whose drawn shank passes every ply there is, each touching the next: nothing to choose or to ask.

    Also their grips and the steel in them. Most bolts of a good model are so; the others are walked one by one.
    """
    total = len(axes.start)
    plain = np.diff(bounds) > 0
    shank = axes.shank[hits.axis]
    passed = np.minimum(hits.leave, shank) - np.maximum(hits.enter, 0.0) > CONTACT_MM / 2
    plain[hits.axis[~passed]] = False
    same = np.diff(hits.axis) == 0
    step = hits.enter[1:] - hits.leave[:-1]
    plain[hits.axis[1:][same & (np.abs(step) > FLUSH_MM)]] = False
    grip, steel = np.zeros(total), np.zeros(total)
    if len(hits.axis):
        firsts = bounds[:-1][plain]
        lasts = bounds[1:][plain] - 1
        grip[plain] = hits.leave[lasts] - hits.enter[firsts]
        steel = np.where(plain, np.bincount(hits.axis, hits.leave - hits.enter, total), 0.0)
    return plain, grip, steel


def _chain(enter: list[float], leave: list[float], first: int, last: int, shank: float) -> list[int]:
    """Rows first..last (sorted by ``enter``) that belong to the grip of a bolt with this drawn shank."""
    rows = range(first, last)
    core = [k for k in rows if leave[k] > -CONTACT_MM and enter[k] < shank + CONTACT_MM]
    # Steel that the shank only touches does not count while there is steel that it passes.
    passed = [k for k in core if min(leave[k], shank) - max(enter[k], 0.0) > CONTACT_MM / 2]
    if passed:
        core = passed
    if not core:
        return []
    if len(core) == last - first:
        return core
    low = min(enter[k] for k in core)
    high = max(leave[k] for k in core)
    chosen = set(core)
    grown = True
    while grown:
        grown = False
        for k in rows:
            if k in chosen:
                continue
            if enter[k] <= high + CONTACT_MM and leave[k] >= low - CONTACT_MM:
                chosen.add(k)
                low, high = min(low, enter[k]), max(high, leave[k])
                grown = True
    return sorted(chosen)


def _passage(fastener: int, bolt: int, plies: list[Ply]) -> Passage:
    if not plies:
        return Passage(fastener, bolt, (), 0.0, 0.0)
    gaps = []
    steel = 0.0
    covered = plies[0].enter
    for k, ply in enumerate(plies):
        if ply.enter - covered > FLUSH_MM and k:
            gaps.append((k - 1, ply.enter - covered))
        steel += max(0.0, ply.leave - max(ply.enter, covered))
        covered = max(covered, ply.leave)
    return Passage(fastener, bolt, tuple(plies), covered - plies[0].enter, steel, tuple(gaps))


def _doubles(axes: _Axes, passages: Sequence[Passage]) -> tuple[int, ...]:
    """Bolts whose line and place are another bolt's already."""
    bolts = np.flatnonzero([bool(passage.plies) for passage in passages])
    if len(bolts) < 2:
        return ()
    direction = axes.direction[bolts]
    middle = axes.start[bolts] + direction * (axes.shank[bolts] / 2)[:, None]
    # Exact doubles first: a file that lost its placements has thousands in one place, too many to be paired.
    places = np.column_stack([np.round(middle, 2), np.round(np.abs(direction), 3)])
    first = np.sort(np.unique(places, axis=0, return_index=True)[1])
    twice = set(np.delete(bolts, first).tolist())
    tree = cKDTree(middle[first])
    pairs = first[tree.query_pairs(CONTACT_MM / 2, output_type="ndarray")]
    parallel = np.abs(np.abs(np.einsum("ij,ij->i", direction[pairs[:, 0]], direction[pairs[:, 1]])) - 1) < 1e-3
    twice.update(bolts[pairs[parallel].max(axis=1)].tolist())
    return tuple(sorted(twice))


def _graph(solid: Sequence[int], joints: Sequence[Joint]) -> nx.Graph[tuple[str, int]]:
    """Members and the joints that join them."""
    graph: nx.Graph[tuple[str, int]] = nx.Graph()
    graph.add_nodes_from(("member", i) for i in solid)
    graph.add_edges_from(
        (("joint", joint.number), ("member", i), {"bolts": len(joint.passages)})
        for joint in joints
        for i in joint.members
    )
    return graph


def _joints(passages: Sequence[Passage]) -> tuple[Joint, ...]:
    """Joints and the nodes that they form.

    Along every member the bolts are taken in running order; neighbours within NODE_MM are at one place. Bolts at
    one place through the same parts are a joint, and joints at one place are a node.
    """
    parts: dict[tuple[int, ...], int] = {}
    part_of = [
        parts.setdefault(tuple(sorted({ply.member for ply in passage.plies})), len(parts)) for passage in passages
    ]
    plies = [ply for passage in passages for ply in passage.plies]
    if not plies:
        return ()
    through = [len(passage.plies) for passage in passages]
    columns = list(zip(*plies, strict=True))
    member, x = np.array(columns[0]), np.array(columns[4])
    bolt = np.repeat(np.arange(len(passages)), through)
    part = np.array(part_of)[bolt]
    count = len(passages)
    order = np.lexsort((bolt, x, part, member))
    near = (np.diff(member[order]) == 0) & (np.diff(part[order]) == 0) & (np.diff(x[order]) <= NODE_MM)
    links = csr_array((np.ones(int(near.sum())), (bolt[order][:-1][near], bolt[order][1:][near])), (count, count))
    component = connected_components(links, directed=False)[1]
    members_of = {number: key for key, number in parts.items()}
    bolts: dict[int, list[int]] = {}
    for p, group in enumerate(component.tolist()):
        if passages[p].plies:
            bolts.setdefault(group, []).append(p)
    numbered = sorted(bolts.values(), key=lambda group: group[0])
    joint_of = np.zeros(count, dtype=np.intp)
    for number, bolted in enumerate(numbered, start=1):
        joint_of[bolted] = number
    # Joints meet in a node where their bolts follow each other along a member.
    order = np.lexsort((bolt, x, member))
    near = (np.diff(member[order]) == 0) & (np.diff(x[order]) <= NODE_MM)
    one, other = joint_of[bolt[order][:-1][near]], joint_of[bolt[order][1:][near]]
    meeting: nx.Graph[int] = nx.Graph()
    meeting.add_nodes_from(range(1, len(numbered) + 1))
    meeting.add_edges_from(np.unique(np.sort(np.column_stack([one, other]), axis=1), axis=0).tolist())
    node_of: dict[int, int] = {}
    for number, place in enumerate(sorted(nx.connected_components(meeting), key=min), start=1):
        node_of.update(dict.fromkeys(place, number))
    return tuple(
        Joint(number, members_of[part_of[bolted[0]]], tuple(bolted), node_of[number])
        for number, bolted in enumerate(numbered, start=1)
    )


def _queries(
    members: Sequence[Member], fasteners: Sequence[Fastener], found: Connections, twice: tuple[int, ...]
) -> Iterable[Query]:
    passages = found.passages

    def owners(which: Iterable[int]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(fasteners[passages[p].fastener].global_id for p in which))

    nothing = [p for p, passage in enumerate(passages) if not passage.plies]
    if nothing:
        ids = owners(nothing)
        yield query(BOLT_THROUGH_NOTHING, len(nothing), len(ids), global_ids=ids)
    single = [p for p, passage in enumerate(passages) if len({ply.member for ply in passage.plies}) == 1]
    if single:
        ids = owners(single)
        parts = tuple(dict.fromkeys(members[passages[p].plies[0].member].global_id for p in single))
        yield query(BOLT_THROUGH_ONE_PART, len(single), len(ids), len(parts), global_ids=ids + parts)
    gaps = {p: max(width for _, width in passage.gaps) for p, passage in enumerate(passages) if passage.gaps}
    wide = [p for p, width in gaps.items() if width > CONTACT_MM]
    if wide:
        widest = max(gaps[p] for p in wide)
        yield query(GRIP_HAS_GAP, len(wide), f"{widest:.1f}", global_ids=owners(wide))
    clash: dict[int, float] = {}
    for p, passage in enumerate(passages):
        lost = sum(ply.leave - ply.enter for ply in passage.plies) - passage.plies_mm
        if lost > OVERLAP_MM:
            clash[p] = lost
    if clash:
        yield query(PLIES_OVERLAP, len(clash), f"{max(clash.values()):.1f}", global_ids=owners(clash))
    if twice:
        yield query(BOLT_TWICE, len(twice), global_ids=owners(twice))
    for member in sorted({m for m, _ in found.along}):
        yield query(BOLT_ALONG_LEG, global_ids=(members[member].global_id,))


def is_square(ply: Ply) -> bool:
    """Whether the bolt meets the face squarely enough to be punched as drawn."""
    return ply.tilt_deg <= PARALLEL_DEG
