"""Flat-faced bodies straight from their entities: points and loops, no geometry kernel.

Vocabulary: a *ring* is a loop of point numbers without a repeated first one; a *facet*
is its outer ring and the rings of its holes; a *shell* is a connected set of facets.
A body of one item may hold many shells (a drawn bolt: head, shank, washers, nut).

Read are IfcFacetedBrep (with voids), IfcShellBasedSurfaceModel, IfcFaceBasedSurfaceModel,
IfcConnectedFaceSet and its shells, IfcTriangulatedFaceSet and IfcPolygonalFaceSet
(ISO 16739-1). Bounds made of edges are read where every edge is straight. Curved
surfaces are not facets: they raise Unread.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final
from weakref import WeakKeyDictionary

import numpy as np

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.steel import FloatArray

WELD_MM: Final = 0.001
"""Points of one body this close in every coordinate are one point."""

Ring = tuple[int, ...]
Facet = tuple[Ring, ...]

FACETED: Final = (
    "IfcFacetedBrep",
    "IfcFacetedBrepWithVoids",
    "IfcManifoldSolidBrep",
    "IfcAdvancedBrep",
    "IfcAdvancedBrepWithVoids",
    "IfcShellBasedSurfaceModel",
    "IfcFaceBasedSurfaceModel",
    "IfcConnectedFaceSet",
    "IfcClosedShell",
    "IfcOpenShell",
    "IfcTriangulatedFaceSet",
    "IfcTriangulatedIrregularNetwork",
    "IfcPolygonalFaceSet",
)
"""Classes ``shells`` reads; the advanced ones only where their edges are straight and their faces flat."""

_CACHE: WeakKeyDictionary[Context, dict[int, tuple[Shell, ...]]] = WeakKeyDictionary()
_SPLIT: WeakKeyDictionary[Context, dict[tuple[object, ...], tuple[Shell, ...]]] = WeakKeyDictionary()
"""By points and facets, of bodies drawn alike under other numbers."""


@dataclass(frozen=True, slots=True, eq=False)
class Shell:
    """A connected set of facets: ``points`` (n, 3) mm in the item's own coordinates, and ``facets``.

    ``closed``: every edge belongs to an even number of facets. Rings keep the order of the
    file (``oriented`` makes it consistent); repeated and vanishing facets are gone.
    """

    points: FloatArray
    facets: tuple[Facet, ...]
    closed: bool


def shells(ctx: Context, item: Entity) -> tuple[Shell, ...]:
    """The shells of a flat-faced item, in the order of their first facet; cached by item.

    Empty where the item draws nothing. Raises Unread where the item is of another kind,
    has curved faces, or names points it does not have.
    """
    cache = _CACHE.setdefault(ctx, {})
    key = item.id()
    found = cache.get(key)
    if found is None:
        found = cache[key] = _read(ctx, item)
    return found


def vector_areas(shell: Shell) -> FloatArray:
    """(facets, 3) area times unit normal in mm2, holes deducted, by the right-hand rule of the outer ring."""
    rings = [ring for facet in shell.facets for ring in facet]
    areas = ring_areas(shell.points, rings)
    if len(rings) == len(shell.facets):
        return areas
    starts = np.cumsum([0, *(len(facet) for facet in shell.facets)])[:-1]
    outer = np.repeat(starts, [len(facet) for facet in shell.facets])
    signs = np.where(np.einsum("ij,ij->i", areas, areas[outer]) > 0, -1.0, 1.0)
    signs[starts] = 1.0
    result: FloatArray = np.add.reduceat(areas * signs[:, None], starts, axis=0)
    return result


def ring_areas(points: FloatArray, rings: Sequence[Ring]) -> FloatArray:
    """Vector areas (rings, 3) mm2 of closed polygons, flat or not (Newell's sum), all at once."""
    if not rings:
        return np.empty((0, 3))
    sizes = [len(ring) for ring in rings]
    here = np.array([i for ring in rings for i in ring])
    ahead = np.array([i for ring in rings for i in (*ring[1:], ring[0])])
    starts = np.cumsum([0, *sizes])[:-1]
    base = points[np.repeat(here[starts], sizes)]  # near the ring, so that places far off lose no digits
    (ax, ay, az), (bx, by, bz) = (points[here] - base).T, (points[ahead] - base).T
    crossed = np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=1)
    area: FloatArray = 0.5 * np.add.reduceat(crossed, starts, axis=0)
    return area


def volume(shell: Shell) -> float:
    """Signed volume in mm3; positive where facets are seen anti-clockwise from outside."""
    rings = [ring for facet in shell.facets for ring in facet]
    if not rings:
        return 0.0
    points = shell.points - shell.points.mean(axis=0)
    # a flat ring is a third of its vector area times any of its points
    first = points[[ring[0] for ring in rings]]
    return float((ring_areas(points, rings) * first).sum()) / 3.0


def oriented(shell: Shell) -> Shell:
    """The shell with facets turned alike across shared edges, then outward by the signed volume.

    Holes of a facet run against its outer ring. A shell that is not closed, or has an
    edge of more than two facets, is turned as far as its edges tell.
    """
    facets = [f if len(f) == 1 else _holes_against(shell.points, f) for f in shell.facets]
    by_edge: dict[tuple[int, int], list[tuple[int, bool]]] = {}
    for number, facet in enumerate(facets):
        for a, b in _edges(facet):
            by_edge.setdefault((min(a, b), max(a, b)), []).append((number, a < b))
    turn: list[bool | None] = [None] * len(facets)
    neighbours: list[list[tuple[int, bool]]] = [[] for _ in facets]
    for users in by_edge.values():
        if len(users) == 2:  # an edge of four facets says nothing about which two belong together
            (i, first), (j, second) = users
            neighbours[i].append((j, first == second))
            neighbours[j].append((i, first == second))
    for start in range(len(facets)):
        if turn[start] is not None:
            continue
        turn[start] = False
        queue = [start]
        for i in queue:
            for j, same in neighbours[i]:
                if turn[j] is None:
                    turn[j] = bool(turn[i]) != same
                    queue.append(j)
    result = tuple(_turned(f) if t else f for f, t in zip(facets, turn, strict=True))
    whole = Shell(shell.points, result, shell.closed)
    if volume(whole) < 0:
        whole = Shell(shell.points, tuple(_turned(f) for f in result), shell.closed)
    return whole


def _turned(facet: Facet) -> Facet:
    return tuple(ring[::-1] for ring in facet)


def _holes_against(points: FloatArray, facet: Facet) -> Facet:
    areas = ring_areas(points, facet)
    holes = (r if a @ areas[0] < 0 else r[::-1] for r, a in zip(facet[1:], areas[1:], strict=True))
    return (facet[0], *holes)


def _edges(facet: Facet) -> Iterable[tuple[int, int]]:
    for ring in facet:
        yield from zip(ring, ring[1:] + ring[:1], strict=True)


def _read(ctx: Context, item: Entity) -> tuple[Shell, ...]:
    kind = item.is_a()
    if kind in ("IfcTriangulatedFaceSet", "IfcTriangulatedIrregularNetwork", "IfcPolygonalFaceSet"):
        points, facets = _tessellated(ctx, item, kind)
        return _split_once(ctx, points, facets)
    found: list[Shell] = []
    for face_set in _face_sets(item, kind):
        points, facets = _face_set(ctx, face_set)
        found += _split_once(ctx, points, facets)
    return tuple(found)


def _face_sets(item: Entity, kind: str) -> list[Entity]:
    if kind in ("IfcConnectedFaceSet", "IfcClosedShell", "IfcOpenShell"):
        return [item]
    if kind in ("IfcShellBasedSurfaceModel", "IfcFaceBasedSurfaceModel"):
        return list(argument(item, 0))
    if kind in FACETED:
        voids = list(argument(item, 1)) if kind.endswith("WithVoids") else []
        return [argument(item, 0), *voids]
    raise Unread(f"its body is an {kind}, which has no flat faces to read")


def _tessellated(ctx: Context, item: Entity, kind: str) -> tuple[FloatArray, list[list[Ring]]]:
    points = np.array(item.Coordinates.CoordList, dtype=float).reshape(-1, 3) * ctx.mm
    numbers: Sequence[int] | None = item.PnIndex
    facets: list[list[Ring]] = []
    if kind == "IfcPolygonalFaceSet":
        for face in item.Faces:
            rings = [tuple(face.CoordIndex)]
            if face.is_a("IfcIndexedPolygonalFaceWithVoids"):
                rings += [tuple(ring) for ring in face.InnerCoordIndices]
            facets.append(rings)
    else:
        facets = [[tuple(triangle)] for triangle in item.CoordIndex]
    try:
        result = [[_indices(ring, numbers, len(points)) for ring in rings] for rings in facets]
    except IndexError:
        raise Unread("its body names points it does not have") from None
    return points, result


def _indices(ring: Sequence[int], numbers: Sequence[int] | None, count: int) -> Ring:
    """From 1-based indices, through the optional list of point numbers, to 0-based ones."""
    out = tuple((numbers[i - 1] if numbers and i > 0 else i) - 1 for i in ring)
    if any(i < 0 or i >= count for i in out):
        raise IndexError
    return out


def _face_set(ctx: Context, face_set: Entity) -> tuple[FloatArray, list[list[Ring]]]:
    numbers: dict[int, int] = {}  # point entity -> row
    rows: list[tuple[float, ...]] = []
    facets: list[list[Ring]] = []
    for face in argument(face_set, 0):
        outer: list[Ring] = []
        inner: list[Ring] = []
        for bound in argument(face, 0):
            ring = []
            for point in _loop_points(argument(bound, 0)):
                key = point.id()
                row = numbers.get(key)
                if row is None:
                    row = numbers[key] = len(rows)
                    rows.append(ctx.point(point))
                ring.append(row)
            if argument(bound, 1) is False:
                ring.reverse()
            (outer if bound.is_a() == "IfcFaceOuterBound" else inner).append(tuple(ring))
        facets.append(outer + inner)
    points = np.array([row if len(row) == 3 else (*row, 0.0) for row in rows], dtype=float).reshape(-1, 3)
    return points, facets


def _loop_points(loop: Entity) -> Sequence[Entity]:
    kind = loop.is_a()
    if kind == "IfcPolyLoop":
        return argument(loop, 0)  # type: ignore[no-any-return]
    if kind == "IfcVertexLoop":
        return ()
    if kind == "IfcEdgeLoop":
        return [_edge_start(edge) for edge in loop.EdgeList]
    raise Unread(f"its body is bounded by an {kind}, which is not read yet")


def _edge_start(oriented_edge: Entity) -> Entity:
    edge = oriented_edge.EdgeElement if oriented_edge.is_a("IfcOrientedEdge") else oriented_edge
    if edge.is_a("IfcEdgeCurve") and edge.EdgeGeometry.is_a() not in ("IfcLine", "IfcPolyline"):
        raise Unread("its body has curved edges, which are not read yet")
    forward = oriented_edge.Orientation if oriented_edge.is_a("IfcOrientedEdge") else True
    vertex = edge.EdgeStart if forward else edge.EdgeEnd
    return vertex.VertexGeometry


def _split_once(ctx: Context, points: FloatArray, facets: list[list[Ring]]) -> tuple[Shell, ...]:
    """As ``_split``; models draw a body anew for every part, and welding takes longer than reading."""
    known = _SPLIT.setdefault(ctx, {})
    key = (points.tobytes(), tuple(tuple(map(tuple, rings)) for rings in facets))
    found = known.get(key)
    if found is None:
        found = known[key] = _split(points, facets)
    return found


def _split(points: FloatArray, facets: list[list[Ring]]) -> tuple[Shell, ...]:
    """Weld, drop vanishing and repeated facets, and part into connected shells."""
    if not np.isfinite(points).all():
        raise Unread("its body has points without a place")
    same = weld(points)
    whole: list[Facet] = []
    for rings in facets:
        kept = [ring for ring in (_without_repeats([same[i] for i in r]) for r in rings) if len(ring) > 2]
        if kept:
            whole.append(tuple(kept if len(kept) == 1 else _largest_first(points, kept)))
    real = _have_area(points, [facet[0] for facet in whole])
    clean: dict[frozenset[frozenset[int]], Facet] = {}
    for facet, has_area in zip(whole, real, strict=True):
        if has_area:
            clean.setdefault(frozenset(map(frozenset, facet)), facet)
    return tuple(_shell(points, group) for group in _connected(list(clean.values())))


def weld(points: FloatArray, tolerance: float = WELD_MM) -> list[int]:
    """For each of (n, 3) points the number of the first point within ``tolerance`` mm of it."""
    size = max(1.0, 4 * tolerance)
    # cells far wider than the tolerance: few points lie near a cell's side and need a second look
    shifted = points / size + 0.3714
    cells = np.floor(shifted).astype(np.int64)
    margin = tolerance / size
    lower: list[list[bool]] = ((shifted - cells) < margin).tolist()
    upper: list[list[bool]] = ((shifted - cells) > 1 - margin).tolist()
    grid: dict[tuple[int, ...], list[int]] = {}
    values = points.tolist()
    result: list[int] = []
    for i, (cell, (x, y, z)) in enumerate(zip(map(tuple, cells.tolist()), values, strict=True)):
        looked = [cell]
        if any(lower[i]) or any(upper[i]):
            ranges = [range(k - p, k + q + 1) for k, p, q in zip(cell, lower[i], upper[i], strict=True)]
            looked = list(product(*ranges))
        found = -1
        for place in looked:
            for j in grid.get(place, ()):
                u, v, w = values[j]
                close = abs(u - x) <= tolerance and abs(v - y) <= tolerance and abs(w - z) <= tolerance
                if close and (found < 0 or j < found):
                    found = j
        if found < 0:
            found = i
            grid.setdefault(cell, []).append(i)
        result.append(found)
    return result


def _without_repeats(ring: Sequence[int]) -> Ring:
    return tuple(p for i, p in enumerate(ring) if p != ring[i - 1])


def _largest_first(points: FloatArray, rings: list[Ring]) -> list[Ring]:
    """The outer ring first, whatever the file calls outer; holes keep their order."""
    sizes = np.linalg.norm(ring_areas(points, rings), axis=1).round(9).tolist()
    outer = max(range(len(rings)), key=lambda i: (sizes[i], -i))
    return [rings[outer], *(r for i, r in enumerate(rings) if i != outer)]


def _have_area(points: FloatArray, rings: Sequence[Ring]) -> list[bool]:
    """Which rings are wider than the weld."""
    if not rings:
        return []
    sizes = [len(ring) for ring in rings]
    starts = np.cumsum([0, *sizes])[:-1]
    corners = points[[i for ring in rings for i in ring]]
    low, high = (reduce.reduceat(corners, starts, axis=0) for reduce in (np.minimum, np.maximum))
    span = (high - low).max(axis=1)
    wide: list[bool] = (np.linalg.norm(ring_areas(points, rings), axis=1) > 0.5 * WELD_MM * span).tolist()
    return wide


def _connected(facets: list[Facet]) -> list[list[Facet]]:
    parent: dict[int, int] = {}

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for facet in facets:
        first = facet[0][0]
        parent.setdefault(first, first)
        anchor = root(first)
        for ring in facet:
            for point in ring:
                if point in parent:
                    other = root(point)
                    parent[other] = anchor
                else:
                    parent[point] = anchor
    groups: dict[int, list[Facet]] = {}
    for facet in facets:
        groups.setdefault(root(facet[0][0]), []).append(facet)
    return list(groups.values())


def _shell(points: FloatArray, facets: list[Facet]) -> Shell:
    used = sorted({i for facet in facets for ring in facet for i in ring})
    number = {old: new for new, old in enumerate(used)}
    renumbered = tuple(tuple(tuple(number[i] for i in ring) for ring in facet) for facet in facets)
    count: dict[tuple[int, int], int] = {}
    for facet in renumbered:
        for a, b in _edges(facet):
            edge = (a, b) if a < b else (b, a)
            count[edge] = count.get(edge, 0) + 1
    array = points[used]
    array.setflags(write=False)
    return Shell(array, renumbered, all(n % 2 == 0 for n in count.values()))
