"""Joints, the nodes in which they meet, and the graph of members and joints (networkx).

Vocabulary
----------
joint     the bolts that join the same parts at one place
node      the place where members meet: joints whose bolts follow each other along a shared member
hanger    a joint of parts that hang on one member and on nothing else, as a climbing step's or a sign's
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import networkx as nx
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from takeoff.steel import FloatArray, Joint, Passage

NODE_MM = 300.0
"""Bolts that follow each other along a member by no more than this belong to one node (common practice)."""


def graph_of(solid: Sequence[int], joints: Sequence[Joint]) -> nx.Graph[tuple[str, int]]:
    """Members and the joints that join them."""
    graph: nx.Graph[tuple[str, int]] = nx.Graph()
    graph.add_nodes_from(("member", i) for i in solid)
    graph.add_edges_from(
        (("joint", joint.number), ("member", i), {"bolts": len(joint.passages)})
        for joint in joints
        for i in joint.members
    )
    return graph


def find_joints(passages: Sequence[Passage]) -> tuple[Joint, ...]:
    """Joints and the nodes that they form.

    Along every member the bolts are taken in running order; neighbours within NODE_MM are at one place. Bolts at
    one place through the same parts are a joint, and joints at one place are a node. A hanger joins no two places:
    steps all the way up a leg do not make one node of it. It goes to the nearest joint at its place, or stands alone
    or with other hangers within half of NODE_MM.
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
    hangs = _hangers([members_of[part_of[bolted[0]]] for bolted in numbered])
    # Joints meet in a node where their bolts follow each other along a member.
    order = np.lexsort((bolt, x, member))
    along, at, joint = member[order], x[order], joint_of[bolt[order]]
    firm = ~hangs[joint]
    pairs = (
        _neighbours(along[firm], at[firm], joint[firm], NODE_MM),
        _neighbours(along[~firm], at[~firm], joint[~firm], NODE_MM / 2),
    )
    one, other = (np.concatenate(side) for side in zip(*pairs, strict=True))
    meeting: nx.Graph[int] = nx.Graph()
    meeting.add_nodes_from(range(1, len(numbered) + 1))
    base = len(numbered) + 1
    codes = np.unique(np.minimum(one, other) * base + np.maximum(one, other))
    meeting.add_edges_from(zip((codes // base).tolist(), (codes % base).tolist(), strict=True))
    meeting.add_edges_from(_nearest(along, at, joint, hangs))
    node_of: dict[int, int] = {}
    for number, place in enumerate(sorted(nx.connected_components(meeting), key=min), start=1):
        node_of.update(dict.fromkeys(place, number))
    return tuple(
        Joint(number, members_of[part_of[bolted[0]]], tuple(bolted), node_of[number])
        for number, bolted in enumerate(numbered, start=1)
    )


def _hangers(parts: Sequence[tuple[int, ...]]) -> NDArray[np.bool_]:
    """By number of the joint, from 1: whether all its parts but one are in no other joint. Element 0 is unused."""
    joints_of = Counter(member for members in parts for member in members)
    return np.array([False, *(sum(joints_of[m] > 1 for m in members) <= 1 for members in parts)])


def _neighbours(
    along: NDArray[np.intp], at: FloatArray, joint: NDArray[np.intp], within: float
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of joints whose bolts follow each other along a member ``within`` so many mm."""
    near = (np.diff(along) == 0) & (np.diff(at) <= within)
    return joint[:-1][near], joint[1:][near]


def _nearest(
    along: NDArray[np.intp], at: FloatArray, joint: NDArray[np.intp], hangs: NDArray[np.bool_]
) -> Iterator[tuple[int, int]]:
    """Each hanger with the nearest joint that is none, within NODE_MM along their member; at a tie the earlier one."""
    best: dict[int, tuple[float, int]] = {}
    for way in (1, -1):
        last_member, last_x, last_joint = -1, 0.0, 0
        for member, x, number in zip(along[::way].tolist(), at[::way].tolist(), joint[::way].tolist(), strict=True):
            if not hangs[number]:
                last_member, last_x, last_joint = member, x, number
            elif last_member == member and abs(x - last_x) <= NODE_MM:
                found = (abs(x - last_x), last_joint)
                best[number] = min(best.get(number, found), found)
    return ((number, nearest) for number, (_, nearest) in sorted(best.items()))
