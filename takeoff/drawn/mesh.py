"""A drawn body as a clean mesh: welded, each facet once, facets facing outward, flat faces found.

Vocabulary: a *ring* is a closed run of point numbers; a *facet* its outer ring and those of its
holes; a *face* the facets that lie in one plane and touch; a *crease* an edge between two
faces. Points are mm, relative to one of the body's own points, so that a place far off
costs no digits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from takeoff.drawn.caps import capped
from takeoff.drawn.results import Refused
from takeoff.steel import FloatArray

IntArray = npt.NDArray[np.int64]
Ring = tuple[int, ...]
Facet = tuple[Ring, ...]

WELD_MM: Final = 0.001
"""Points this close are one point."""


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """``points`` (n, 3); ``facets`` seen anti-clockwise from outside, holes clockwise.

    ``normals`` (m, 3) unit and ``areas`` (m,) mm2 of facets; ``ring_points`` are all rings' points one
    after another, facet ``i``'s from ``starts[i]`` on. ``edges`` (e, 2) have exactly two facets
    ``sides`` (e, 2): the first runs from edge[0] to edge[1]. ``face`` (m,) numbers the facets' faces.
    """

    points: FloatArray
    facets: tuple[Facet, ...]
    normals: FloatArray
    areas: FloatArray
    ring_points: IntArray
    starts: IntArray
    edges: IntArray
    sides: IntArray
    face: IntArray
    crease: npt.NDArray[np.bool_]
    volume: float


def clean(points: npt.ArrayLike, facets: Sequence[Facet], grain: float = 0.0, solid: bool = True) -> Mesh:
    """The mesh of one closed body. ``grain`` is how coarsely its coordinates are rounded, mm.

    Where it claims to be ``solid`` a missing flat face is put in if no other can close the gap.

    Raises Refused where facets are missing, or where there are several bodies or none.
    """
    array = np.asarray(points, dtype=float).reshape(-1, 3)
    if not np.isfinite(array).all():
        raise Refused("no-place")
    if not len(array) or not facets:
        raise Refused("nothing")
    weld = max(WELD_MM, min(grain, 0.02))
    whole = _tidy(array, facets, _welded(array, weld), weld)
    if not whole:
        raise Refused("nothing")
    flat = max(0.002, 2 * grain)
    whole = _stitched(array, whole, weld)
    lone = _lone_edges(whole) if solid else []
    if lone:
        whole = capped(array, whole, lone, flat)
    whole = _oriented(array, whole)
    used, inverse = np.unique(np.array([i for facet in whole for ring in facet for i in ring]), return_inverse=True)
    number = dict(zip(used.tolist(), range(len(used)), strict=True))
    renumbered = tuple(tuple(tuple(number[i] for i in ring) for ring in facet) for facet in whole)
    return _mesh(array[used], renumbered, np.asarray(inverse, dtype=np.int64), flat)


def _mesh(points: FloatArray, facets: tuple[Facet, ...], ring_points: IntArray, flat: float) -> Mesh:
    sizes = np.array([sum(len(ring) for ring in facet) for facet in facets])
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.int64)
    vectors = vector_areas(points, facets)
    areas = np.linalg.norm(vectors, axis=1)
    normals = vectors / areas[:, None]
    first = points[ring_points[starts]]
    volume = float((vectors * (first - points.mean(axis=0))).sum() / 3)
    edges, sides = _paired(facets)
    face, crease = _faces(points, ring_points, starts, sizes, normals, areas, sides, flat)
    return Mesh(points, facets, normals, areas, ring_points, starts, edges, sides, face, crease, volume)


# ---------------------------------------------------------------- cleaning


def _welded(points: FloatArray, weld: float) -> list[int]:
    """For each point the number of the first one it is one with."""
    from scipy.spatial import cKDTree

    same = list(range(len(points)))
    for i, j in sorted(cKDTree(points).query_pairs(weld)):
        a, b = _root(same, i), _root(same, j)
        same[max(a, b)] = min(a, b)
    return [_root(same, i) for i in range(len(points))]


def _root(parent: list[int], i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


def _tidy(points: FloatArray, facets: Sequence[Facet], same: list[int], weld: float) -> list[Facet]:
    """Facets with welded points; those without area and repeated ones are gone."""
    kept: dict[frozenset[frozenset[int]], Facet] = {}
    for facet in facets:
        rings = [_ring([same[i] for i in ring]) for ring in facet]
        rings = [ring for ring in rings if len(ring) > 2]
        if rings:
            kept.setdefault(frozenset(map(frozenset, rings)), tuple(rings))
    found = list(kept.values())
    if not found:
        return []
    areas = np.linalg.norm(vector_areas(points, [(f[0],) for f in found]), axis=1)
    sizes = np.array([len(f[0]) for f in found])
    firsts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    corners = points[[i for f in found for i in f[0]]]
    low, high = (reduce.reduceat(corners, firsts, axis=0) for reduce in (np.minimum, np.maximum))
    wide = areas > 0.5 * weld * (high - low).max(axis=1)
    return [f for f, good in zip(found, wide.tolist(), strict=True) if good]


def _ring(ring: list[int]) -> Ring:
    """Without repeated points and without spikes (out and back again)."""
    if len(ring) == 3:
        return tuple(ring) if len(set(ring)) == 3 else ()
    while True:
        kept = [p for i, p in enumerate(ring) if p != ring[i - 1]]
        count = len(kept)
        spikes = {i for i in range(count) if kept[i - 1] == kept[(i + 1) % count]} if count > 2 else set()
        if not spikes and count == len(ring):
            return tuple(kept)
        if spikes:
            first = min(spikes)
            kept = [p for i, p in enumerate(kept) if i != first]
        if len(kept) < 3:
            return ()
        ring = kept


def _stitched(points: FloatArray, facets: list[Facet], weld: float) -> list[Facet]:
    """Points that lie on another facet's edge are put into that edge, so that facets meet edge to edge."""
    for _ in range(3):
        lone = _lone_edges(facets)
        if not lone:
            return facets
        ends = sorted({p for edge in lone for p in edge})
        places = points[ends]
        inserts: dict[tuple[int, int], list[int]] = {}
        for a, b in lone:
            along = points[b] - points[a]
            size = float(np.linalg.norm(along))
            share = (places - points[a]) @ along / size**2
            off = np.linalg.norm(places - points[a] - share[:, None] * along, axis=1)
            between = (off <= 2 * weld) & (share * size > weld) & ((1 - share) * size > weld)
            if between.any():
                order = np.argsort(share[between])
                inserts[a, b] = [ends[i] for i in np.flatnonzero(between)[order]]
        if not inserts:
            return facets
        facets = [tuple(_filled(ring, inserts) for ring in facet) for facet in facets]
    return facets


def _filled(ring: Ring, inserts: dict[tuple[int, int], list[int]]) -> Ring:
    out: list[int] = []
    for a, b in pairwise((*ring, ring[0])):
        out.append(a)
        if (a, b) in inserts:
            out += inserts[a, b]
        elif (b, a) in inserts:
            out += inserts[b, a][::-1]
    return _ring(out)


def _lone_edges(facets: Sequence[Facet]) -> list[tuple[int, int]]:
    starts, stops, _ = _directed(facets)
    size = int(max(starts.max(), stops.max())) + 1
    keys, counts = np.unique(np.minimum(starts, stops) * size + np.maximum(starts, stops), return_counts=True)
    return [(int(k) // size, int(k) % size) for k in keys[counts % 2 == 1]]


def _directed(facets: Sequence[Facet]) -> tuple[IntArray, IntArray, IntArray]:
    """Start, stop and facet of every ring's edges, in their order."""
    starts = np.array([i for facet in facets for ring in facet for i in ring], dtype=np.int64)
    stops = np.array([i for facet in facets for ring in facet for i in (*ring[1:], ring[0])], dtype=np.int64)
    owner = np.repeat(np.arange(len(facets)), [sum(map(len, facet)) for facet in facets])
    return starts, stops, owner.astype(np.int64)


def _oriented(points: FloatArray, facets: list[Facet]) -> list[Facet]:
    """All facets outward; raises Refused where the surface is open, crossed, of several bodies or of none."""
    vectors = vector_areas(points, facets)
    facets = [_holes_against(points, f) if len(f) > 1 else f for f in facets]
    turn, groups = _turns(facets)
    signs = np.array(turn, dtype=float)
    middle = points.mean(axis=0)
    firsts = points[[f[0][0] for f in facets]] - middle
    sizes = (vectors * firsts).sum(axis=1) / 3 * signs
    volumes = [float(sizes[group].sum()) for group in groups]
    _one_body(points, facets, groups, volumes)
    for group, volume in zip(groups, volumes, strict=True):
        if volume < 0:
            signs[group] *= -1
    return [f if s > 0 else tuple(ring[::-1] for ring in f) for f, s in zip(facets, signs.tolist(), strict=True)]


def _turns(facets: list[Facet]) -> tuple[list[int], list[list[int]]]:
    """For each facet 1, or -1 where it must be turned to run with its neighbours, and the facets that hang together."""
    starts, stops, owner = _directed(facets)
    size = int(max(starts.max(), stops.max())) + 1
    forward = starts < stops
    keys = np.minimum(starts, stops) * size + np.maximum(starts, stops)
    order = np.argsort(keys, kind="stable")
    _, firsts, counts = np.unique(keys[order], return_index=True, return_counts=True)
    if (counts == 1).any():
        raise Refused("open", int((counts == 1).sum()))
    if (counts % 2 == 1).any():
        raise Refused("crossed")
    neighbours: list[list[tuple[int, bool]]] = [[] for _ in facets]
    one, two = order[firsts[counts == 2]], order[firsts[counts == 2] + 1]
    against = forward[one] == forward[two]
    for i, j, turned in zip(owner[one].tolist(), owner[two].tolist(), against.tolist(), strict=True):
        neighbours[i].append((j, turned))
        neighbours[j].append((i, turned))
    turn = [0] * len(facets)
    groups: list[list[int]] = []
    for start in range(len(facets)):
        if turn[start]:
            continue
        turn[start] = 1
        queue = [start]
        for i in queue:
            for j, turned in neighbours[i]:
                wanted = -turn[i] if turned else turn[i]
                if not turn[j]:
                    turn[j] = wanted
                    queue.append(j)
                elif turn[j] != wanted:
                    raise Refused("crossed")
        groups.append(queue)
    return turn, groups


def _one_body(points: FloatArray, facets: list[Facet], groups: list[list[int]], volumes: list[float]) -> None:
    if len(groups) == 1:
        if abs(volumes[0]) < 1.0:
            raise Refused("flat")
        return
    boxes = []
    for group in groups:
        corners = points[sorted({p for i in group for ring in facets[i] for p in ring})]
        boxes.append((corners.min(axis=0), corners.max(axis=0)))
    largest = max(range(len(groups)), key=lambda k: abs(volumes[k]))
    low, high = boxes[largest]
    if all(k == largest or ((a > low).all() and (b < high).all()) for k, (a, b) in enumerate(boxes)):
        inside = sum(abs(v) for v in volumes) - abs(volumes[largest])
        if inside > 0.2 * abs(volumes[largest]):
            raise Refused("hollow")
    raise Refused("several", len(groups))


def _holes_against(points: FloatArray, facet: Facet) -> Facet:
    """The largest ring first, the others running against it."""
    vectors = vector_areas(points, [(ring,) for ring in facet])
    order = sorted(range(len(facet)), key=lambda i: (-round(float(np.linalg.norm(vectors[i])), 6), i))
    outer = order[0]
    rest = [facet[i] if vectors[i] @ vectors[outer] < 0 else facet[i][::-1] for i in order[1:]]
    return (facet[outer], *rest)


def vector_areas(points: FloatArray, facets: Sequence[Facet]) -> FloatArray:
    """(m, 3) area times normal by the right-hand rule of the outer ring, holes deducted (Newell's sum)."""
    rings = [ring for facet in facets for ring in facet]
    sizes = np.array([len(ring) for ring in rings])
    here = np.array([i for ring in rings for i in ring])
    ahead = np.array([i for ring in rings for i in (*ring[1:], ring[0])])
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    base = points[np.repeat(here[starts], sizes)]
    (ax, ay, az), (bx, by, bz) = (points[here] - base).T, (points[ahead] - base).T
    crossed = np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=1)
    vectors: FloatArray = 0.5 * np.add.reduceat(crossed, starts, axis=0)
    if len(rings) == len(facets):
        return vectors
    firsts = np.concatenate([[0], np.cumsum([len(f) for f in facets])[:-1]])
    owner = np.repeat(firsts, [len(f) for f in facets])
    signs = np.where(np.einsum("ij,ij->i", vectors, vectors[owner]) > 0, -1.0, 1.0)
    signs[firsts] = 1.0
    result: FloatArray = np.add.reduceat(vectors * signs[:, None], firsts, axis=0)
    return result


# ---------------------------------------------------------------- edges and faces


def _paired(facets: Sequence[Facet]) -> tuple[IntArray, IntArray]:
    """Edges and the two facets of each; an edge of four facets appears twice, each with one that runs against it."""
    starts, stops, owner = _directed(facets)
    size = int(max(starts.max(), stops.max())) + 1
    forward = starts < stops
    keys = np.minimum(starts, stops) * size + np.maximum(starts, stops)
    ones, others = np.flatnonzero(forward), np.flatnonzero(~forward)
    ones = ones[np.argsort(keys[ones], kind="stable")]
    others = others[np.argsort(keys[others], kind="stable")]
    if len(ones) != len(others) or not np.array_equal(keys[ones], keys[others]):
        raise Refused("crossed")
    return np.column_stack([starts[ones], stops[ones]]), np.column_stack([owner[ones], owner[others]])


def _faces(
    points: FloatArray,
    ring_points: IntArray,
    starts: IntArray,
    sizes: IntArray,
    normals: FloatArray,
    areas: FloatArray,
    sides: IntArray,
    flat: float,
) -> tuple[IntArray, npt.NDArray[np.bool_]]:
    """The face of each facet and which edges are creases; by vertex distances, since normals of slivers err."""
    one, two = sides.T
    larger = np.where(areas[one] >= areas[two], one, two)
    smaller = np.where(areas[one] >= areas[two], two, one)
    facing = np.einsum("ij,ij->i", normals[one], normals[two]) > 0.5
    counts = sizes[smaller]
    which = np.repeat(np.arange(len(sides)), counts)
    offset = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    corner = points[ring_points[np.repeat(starts[smaller], counts) + offset]]
    base = points[ring_points[starts[larger]]]
    away = np.abs(np.einsum("ij,ij->i", corner - base[which], normals[larger][which]))
    worst = np.zeros(len(sides))
    np.maximum.at(worst, which, away)
    level = facing & (worst <= flat)
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    count = len(areas)
    graph = coo_matrix((np.ones(int(level.sum())), (one[level], two[level])), shape=(count, count))
    _, face = connected_components(graph, directed=False)
    numbers: IntArray = np.asarray(face).astype(np.int64)
    crease: npt.NDArray[np.bool_] = numbers[one] != numbers[two]
    return numbers, crease
