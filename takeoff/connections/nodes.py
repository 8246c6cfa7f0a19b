"""Joints, the nodes in which they meet, and the graph of members and joints (networkx).

Vocabulary
----------
joint     the bolts that join the same parts at one place
node      the place where members meet: joints whose bolts follow each other along a shared member
"""

from __future__ import annotations

from collections.abc import Sequence

import networkx as nx
import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from takeoff.steel import Joint, Passage

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
    base = len(numbered) + 1
    codes = np.sort(np.minimum(one, other) * base + np.maximum(one, other))
    codes = codes[np.concatenate(([True], codes[1:] != codes[:-1]))] if len(codes) else codes
    meeting.add_edges_from(zip((codes // base).tolist(), (codes % base).tolist(), strict=True))
    node_of: dict[int, int] = {}
    for number, place in enumerate(sorted(nx.connected_components(meeting), key=min), start=1):
        node_of.update(dict.fromkeys(place, number))
    return tuple(
        Joint(number, members_of[part_of[bolted[0]]], tuple(bolted), node_of[number])
        for number, bolted in enumerate(numbered, start=1)
    )
