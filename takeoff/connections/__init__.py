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
from scipy.spatial import cKDTree

from takeoff.connections.hits import Axes, Hits, IntArray, axes_of, find_hits, inside_outline
from takeoff.connections.nodes import find_joints, graph_of
from takeoff.queries import CHECK, Query, query, register
from takeoff.sections.shapes import faces
from takeoff.steel import Fastener, FloatArray, Joint, Member, Passage, Ply
from takeoff.units import CONTACT_MM, PARALLEL_DEG

OVERLAP_MM = 1.0
"""Two plies may share this much of the axis before the members are said to run through each other."""
FLUSH_MM = 1e-6
"""Plies closer than this touch exactly; the rest is the noise of their coordinates."""

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
    """What the search found. ``solid`` lists the members that were looked at.

    ``along`` lists (member, passage) where a bolt lies in a wall lengthwise; ``untouched`` the members with a
    body that no bolt passes.
    """

    passages: tuple[Passage, ...]
    joints: tuple[Joint, ...]
    along: tuple[tuple[int, int], ...]
    solid: tuple[int, ...]

    @property
    def graph(self) -> nx.Graph[tuple[str, int]]:
        """The connection graph: ("member", i) and ("joint", number) nodes; an edge's ``bolts`` counts them."""
        return graph_of(self.solid, self.joints)

    @property
    def untouched(self) -> tuple[int, ...]:
        """The members that no bolt passes: those that meet no joint."""
        touched = {i for joint in self.joints for i in joint.members}
        return tuple(i for i in self.solid if i not in touched)


def connect(members: Sequence[Member], fasteners: Sequence[Fastener]) -> tuple[Connections, tuple[Query, ...]]:
    """Find every bolt's way through the steel.

    Returns the connections (a Passage for every bolt, also for one through nothing) and the queries.
    """
    axes = axes_of(fasteners)
    solid = [i for i, m in enumerate(members) if m.is_made]
    hits, along = find_hits(members, solid, axes)
    hits = inside_outline(members, hits, axes)
    passages, twice = _walk(members, fasteners, axes, hits)
    joints = find_joints(passages)
    connections = Connections(
        passages=passages,
        joints=joints,
        along=along,
        solid=tuple(solid),
    )
    return connections, tuple(_queries(members, fasteners, connections, twice))


def _walk(
    members: Sequence[Member], fasteners: Sequence[Fastener], axes: Axes, hits: Hits
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


def _face_names(members: Sequence[Member], hits: Hits) -> list[str]:
    """The face's name of every hit."""
    by_member: dict[int, tuple[str, ...]] = {}
    for i in np.unique(hits.member).tolist():
        body = members[i].body
        assert body is not None
        by_member[i] = tuple(face.name for face in faces(body.section))
    return [by_member[i][k] for i, k in zip(hits.member.tolist(), hits.face.tolist(), strict=True)]


def _plain(axes: Axes, hits: Hits, bounds: IntArray) -> tuple[npt.NDArray[np.bool_], FloatArray, FloatArray]:
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


def _doubles(axes: Axes, passages: Sequence[Passage]) -> tuple[int, ...]:
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
