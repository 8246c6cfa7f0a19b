"""Bolts node by node, nodes alike at one level together."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np

from takeoff.dispatch import BoltKind, NodeBolts
from takeoff.erection.places import Profile, level_of
from takeoff.order import natural
from takeoff.steel import BOUGHT_OUT, LEFT_OUT, BoltRow, FloatArray, Takeoff

Marks = tuple[tuple[str, int], ...]
Made = tuple[tuple[BoltKind, float | None, int], ...]


def ordered(row: BoltRow, takeoff: Takeoff) -> bool:
    """Whether a row's bolts stand on the order list."""
    return row.bolts > 0 and takeoff.model.fasteners[row.fastener].kind == "bolt" and row.status not in (
        LEFT_OUT, BOUGHT_OUT,
    )  # fmt: skip


def kind_of(row: BoltRow, takeoff: Takeoff) -> BoltKind:
    """The line of the order list that a row's bolts belong to."""
    fastener = takeoff.model.fasteners[row.fastener]
    standard = row.bolt_set.standard if row.bolt_set else fastener.standard
    by_rule = (row.bolt_set.source if row.bolt_set else row.length_source) == "rule"
    return BoltKind(fastener.diameter or 0.0, row.length or 0.0, fastener.grade, standard, by_rule)


def bolts_of_nodes(
    takeoff: Takeoff, heights: FloatArray, profile: Profile
) -> tuple[tuple[NodeBolts, ...], tuple[int, ...]]:
    """Bolts of every node, nodes alike at one level together, and the level of every bolt row."""
    node_of = {joint.number: joint.node for joint in takeoff.joints}
    place = _node_places(takeoff)
    numbers = sorted(place)
    points = np.array([place[n] for n in numbers]).reshape(-1, 3)
    node_level = dict(zip(numbers, level_of(np.round(points[:, 2], 1), heights, profile.reach).tolist(), strict=True))
    node_sides = {n: profile.sides(row) for n, row in zip(numbers, profile.near(points), strict=True)}
    fasteners = takeoff.model.fasteners
    loose = [
        float(f.bolts[0].point[2]) if (f := fasteners[row.fastener]).bolts and row.joint not in node_of else 0.0
        for row in takeoff.bolt_rows
    ]
    loose_level = level_of(np.round(np.array(loose), 1), heights, profile.reach).tolist()
    row_levels: list[int] = []
    bolts: dict[int, Counter[tuple[BoltKind, float | None]]] = defaultdict(Counter)
    at_level: dict[int, Counter[tuple[BoltKind, float | None]]] = defaultdict(Counter)
    kinds: dict[tuple[object, ...], BoltKind] = {}
    for row, level in zip(takeoff.bolt_rows, loose_level, strict=True):
        node = node_of.get(row.joint) if row.joint is not None else None
        has_place = node in node_level or bool(fasteners[row.fastener].bolts)
        own_level = (node_level.get(node, level) if node is not None else level) if has_place else 0
        row_levels.append(own_level)
        if not ordered(row, takeoff):
            continue
        fastener = fasteners[row.fastener]
        key = (fastener.diameter, row.length, fastener.grade, fastener.standard, row.bolt_set, row.length_source)
        kind = kinds.get(key)
        if kind is None:
            kind = kinds[key] = kind_of(row, takeoff)
        grip = None if row.grip is None else round(row.grip * 2) / 2
        (at_level[own_level] if node is None else bolts[node])[kind, grip] += row.bolts
    members: dict[int, set[int]] = defaultdict(set)
    for joint in takeoff.joints:
        members[joint.node].update(joint.members)
    alike: dict[tuple[int, Marks, Made], list[int]] = {}
    for node in sorted(bolts):
        counted = Counter(takeoff.member_marks[m] or takeoff.model.members[m].name for m in members[node])
        marks = tuple(sorted(counted.items(), key=lambda item: natural(item[0])))
        alike.setdefault((node_level.get(node, 0), marks, _sorted_bolts(bolts[node])), []).append(node)
    found = []
    for (level, marks, made), nodes in alike.items():
        sides = tuple(sorted({node_sides.get(node, ()) for node in nodes}, key=lambda s: (not s, len(s), s)))
        found.append(NodeBolts(level, tuple(nodes), sides, marks, made))
    for level in sorted(at_level):
        found.append(NodeBolts(level, (), (), (), _sorted_bolts(at_level[level])))
    return tuple(sorted(found, key=lambda n: (n.level, not n.nodes, n.nodes))), tuple(row_levels)


def _sorted_bolts(
    counted: Counter[tuple[BoltKind, float | None]],
) -> tuple[tuple[BoltKind, float | None, int], ...]:
    ordered_keys = sorted(counted, key=lambda k: (k[0], k[1] is None, k[1] or 0.0))
    return tuple((*key, counted[key]) for key in ordered_keys)


def _node_places(takeoff: Takeoff) -> dict[int, FloatArray]:
    """The middle of each node's bolts."""
    fasteners = takeoff.model.fasteners
    if not takeoff.joints:
        return {}
    points = np.array([fasteners[p.fastener].bolts[p.bolt].point for p in takeoff.passages]).reshape(-1, 3)
    passages = np.array([p for joint in takeoff.joints for p in joint.passages], dtype=np.int64)
    nodes = np.repeat([joint.node for joint in takeoff.joints], [len(joint.passages) for joint in takeoff.joints])
    if not len(passages):
        return {}
    known, at = np.unique(nodes, return_inverse=True)
    many = np.bincount(at)
    middles = np.stack([np.bincount(at, weights=points[passages, axis]) / many for axis in range(3)], axis=1)
    return dict(zip(known.tolist(), middles, strict=True))
