"""Missing flat faces of a solid: closed where only one flat face can close the gap.

A gap all round which the facets already lie in the gap's own plane is left alone: it may be the mouth
of a hole whose walls are missing, and closing it would lose the hole.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from takeoff.steel import FloatArray

if TYPE_CHECKING:
    from takeoff.drawn.mesh import Facet, Ring

_SHARE = 0.34
"""No more of the surface than this may be missing: a tube without its wall is no tube."""


def capped(points: FloatArray, facets: list[Facet], lone: list[tuple[int, int]], flat: float) -> list[Facet]:
    """The facets with flat gaps closed; unchanged where a gap is not flat or not certain.

    ``lone`` are the edges that only one facet has.
    """
    loops = _loops(facets, {frozenset(edge) for edge in lone})
    if not loops:
        return facets
    users = _users(facets, lone)
    groups: list[tuple[FloatArray, float, list[Ring]]] = []
    for loop in loops:
        corners = points[list(loop)]
        middle = corners.mean(axis=0)
        area = _vector(corners)
        size = float(np.linalg.norm(area))
        if size < 1e-6:
            return facets
        normal = area / size
        if float(np.abs((corners - middle) @ normal).max()) > flat:
            return facets
        if not _creased(points, facets, users, loop, normal, flat):
            return facets
        for first, level, members in groups:
            if abs(float(normal @ first)) > 0.9999 and abs(float(middle @ first) - level) <= 2 * flat:
                members.append(loop)
                break
        else:
            groups.append((normal, float(middle @ normal), [loop]))
    made: list[Facet] = []
    for normal, _, members in groups:
        made += _faces(points, normal, members)
    whole = sum(float(np.linalg.norm(_vector(points[list(f[0])]))) for f in facets)
    new = sum(float(np.linalg.norm(sum(_vector(points[list(ring)]) for ring in f))) for f in made)
    return facets + made if new <= _SHARE * whole else facets


def _loops(facets: list[Facet], lone: set[frozenset[int]]) -> list[Ring]:
    """Closed runs of lone edges, against the facets beside them; none where they branch."""
    ahead: dict[int, int] = {}
    for facet in facets:
        for ring in facet:
            for a, b in pairwise((*ring, ring[0])):
                if frozenset((a, b)) in lone:
                    if b in ahead:
                        return []
                    ahead[b] = a
    loops: list[Ring] = []
    while ahead:
        start = min(ahead)
        run = [start]
        here = ahead.pop(start)
        while here != start:
            run.append(here)
            if here not in ahead:
                return []
            here = ahead.pop(here)
        loops.append(tuple(run))
    return loops


def _users(facets: list[Facet], lone: list[tuple[int, int]]) -> dict[frozenset[int], int]:
    wanted = {frozenset(edge) for edge in lone}
    return {
        edge: number
        for number, facet in enumerate(facets)
        for ring in facet
        for edge in map(frozenset, pairwise((*ring, ring[0])))
        if edge in wanted
    }


def _creased(
    points: FloatArray,
    facets: list[Facet],
    users: dict[frozenset[int], int],
    loop: Ring,
    normal: FloatArray,
    flat: float,
) -> bool:
    """Whether a facet beside the gap lies in another plane."""
    base = points[loop[0]]
    for a, b in pairwise((*loop, loop[0])):
        ring = facets[users[frozenset((a, b))]][0]
        if float(np.abs((points[list(ring)] - base) @ normal).max()) > 2 * flat:
            return True
    return False


def _faces(points: FloatArray, normal: FloatArray, loops: list[Ring]) -> list[Facet]:
    """Facets of the loops of one plane: a loop inside another is a hole of it."""
    if len(loops) == 1:
        return [(loops[0],)]
    from shapely import Polygon

    spare = np.eye(3)[int(np.abs(normal).argmin())]
    e1 = np.cross(normal, spare)
    flat = points @ np.array([e1, np.cross(normal, e1)]).T
    shapes = [Polygon(flat[list(loop)]) for loop in loops]
    order = sorted(range(len(loops)), key=lambda k: -shapes[k].area)
    made: list[list[Ring]] = []
    outer: list[int] = []
    for k in order:
        spot = shapes[k].representative_point()
        holder = next((n for n, o in enumerate(outer) if shapes[o].contains(spot)), None)
        if holder is None:
            outer.append(k)
            made.append([loops[k]])
        else:
            made[holder].append(loops[k])
    return [tuple(rings) for rings in made]


def _vector(corners: FloatArray) -> FloatArray:
    """Area times normal of a closed polygon (n, 3)."""
    offset = corners - corners[0]
    return np.asarray(0.5 * np.cross(offset, np.roll(offset, -1, axis=0)).sum(axis=0))
