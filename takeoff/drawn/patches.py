"""Sets of facets: what hangs together, and the loops that bound a set."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from takeoff.drawn.mesh import IntArray, Mesh

Mask = npt.NDArray[np.bool_]


def components(mesh: Mesh, mask: Mask) -> list[IntArray]:
    """The facets of a set in parts that share edges, in the order of their first facet."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    chosen = np.flatnonzero(mask)
    if not len(chosen):
        return []
    number = np.full(len(mask), -1)
    number[chosen] = np.arange(len(chosen))
    one, two = number[mesh.sides[:, 0]], number[mesh.sides[:, 1]]
    inner = (one >= 0) & (two >= 0)
    graph = coo_matrix((np.ones(int(inner.sum())), (one[inner], two[inner])), shape=(len(chosen), len(chosen)))
    count, labels = connected_components(graph, directed=False)
    order = sorted(range(count), key=lambda k: int(np.argmax(labels == k)))
    return [np.asarray(chosen[labels == k], dtype=np.int64) for k in order]


def boundary(mesh: Mesh, mask: Mask) -> list[list[int]]:
    """Loops of point numbers round a set of facets, the set on the left seen from outside."""
    one, two = mask[mesh.sides[:, 0]], mask[mesh.sides[:, 1]]
    ahead: dict[int, list[int]] = {}
    for (a, b), first in zip(mesh.edges[one != two].tolist(), one[one != two].tolist(), strict=True):
        start, stop = (a, b) if first else (b, a)
        ahead.setdefault(start, []).append(stop)
    loops = []
    while ahead:
        start = min(ahead)
        run = [start]
        here = start
        while True:
            ways = ahead[here]
            there = ways.pop()
            if not ways:
                del ahead[here]
            if there == start:
                break
            if there in run:
                # two loops that touch in a point: close the later one off
                k = run.index(there)
                loops.append(run[k:])
                run = run[: k + 1]
            else:
                run.append(there)
            here = there
            if here not in ahead:
                break
        loops.append(run)
    return [loop for loop in loops if len(loop) > 2]


def points_of(mesh: Mesh, facets: IntArray) -> IntArray:
    """The numbers of the points of some facets."""
    ends = np.append(mesh.starts, len(mesh.ring_points))
    return np.unique(np.concatenate([mesh.ring_points[ends[i] : ends[i + 1]] for i in facets.tolist()]))
