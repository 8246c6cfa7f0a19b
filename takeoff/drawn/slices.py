"""Cross-sections of a mesh square to its axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.drawn.mesh import Mesh
from takeoff.drawn.patches import Mask
from takeoff.sections.loops import after_each
from takeoff.steel import FloatArray

_FEW: Final = 4


@dataclass(frozen=True, slots=True, eq=False)
class Slice:
    """Loops (n, 2) of a cut at ``x``: steel's outsides anti-clockwise, hollows clockwise; ``area`` in mm2."""

    x: float
    loops: tuple[FloatArray, ...]
    area: float

    @property
    def outers(self) -> list[FloatArray]:
        return [loop for loop in self.loops if signed_area(loop) > 0]

    @property
    def inners(self) -> list[FloatArray]:
        return [loop for loop in self.loops if signed_area(loop) < 0]


def signed_area(loop: FloatArray) -> float:
    """mm2 of a polygon (n, 2), positive anti-clockwise."""
    x, y = (loop - loop[0]).T
    return float((x * after_each(y) - after_each(x) * y).sum()) / 2


def abscissae(mesh: Mesh, axis: FloatArray, most: int) -> list[float]:
    """Middles of the widest gaps between the points' places along the axis, in their order."""
    x = np.unique(np.round(mesh.points @ axis, 4))
    gaps = np.diff(x)
    wide = np.argsort(-np.round(gaps, 3), kind="stable")[:most]
    found = [float(x[i] + gaps[i] / 2) for i in wide if gaps[i] > 0.05]
    if 0 < len(found) < _FEW:
        # quarter points too, so that a taper without points between its ends shows
        found += [float(x[wide[0]] + gaps[wide[0]] * share) for share in (0.2, 0.8)]
    return sorted(found)


def cuts(mesh: Mesh, axis: FloatArray, across: FloatArray, places: Sequence[float]) -> list[Slice]:
    """The cuts at ``places`` along the axis, in the two directions ``across`` (2, 3).

    Their corners lie on the mesh's creases only, so that triangles add none.
    """
    place = mesh.points @ axis
    ends = place[mesh.edges]
    return [_cut(mesh, place, ends, across, at) for at in places]


def _cut(mesh: Mesh, place: FloatArray, ends: FloatArray, across: FloatArray, at: float) -> Slice:
    below = ends < at
    crossing = np.flatnonzero(below[:, 0] != below[:, 1])
    if not len(crossing):
        return Slice(at, (), 0.0)
    a, b = mesh.edges[crossing].T
    share = (at - place[a]) / (place[b] - place[a])
    points = (mesh.points[a] + share[:, None] * (mesh.points[b] - mesh.points[a])) @ across.T
    links = _links(mesh, crossing, points)
    creased = mesh.crease[crossing].tolist()
    loops: list[tuple[FloatArray, float]] = []
    seen = [False] * len(crossing)
    for first in range(len(crossing)):
        if seen[first] or len(links[first]) != 2:
            continue
        run, here, before = [], first, -1
        while not seen[here]:
            seen[here] = True
            run.append(here)
            both = links[here]
            if len(both) != 2:
                break
            there = both[0] if both[0] != before else both[1]
            before, here = here, there
        corners = [k for k in run if creased[k]]
        if len(corners) > 2:
            loop = points[corners]
            area = signed_area(loop)
            if abs(area) > 1e-3:
                loops.append((loop, area))
    return _turned(at, loops)


def _links(mesh: Mesh, crossing: np.ndarray, points: FloatArray) -> list[list[int]]:
    """Which crossings are joined by a facet: neighbours in the order along the line in which it is cut."""
    by_facet: dict[int, list[int]] = {}
    for k, (one, two) in enumerate(mesh.sides[crossing].tolist()):
        by_facet.setdefault(one, []).append(k)
        by_facet.setdefault(two, []).append(k)
    links: list[list[int]] = [[] for _ in crossing]
    for members in by_facet.values():
        if len(members) > 2:  # a facet with a notch or hole is cut more than once
            spread = points[members]
            far = spread[int(np.hypot(*(spread - spread[0]).T).argmax())] - spread[0]
            members = [members[i] for i in np.argsort(spread @ far, kind="stable")]
        for i in range(0, len(members) - 1, 2):
            links[members[i]].append(members[i + 1])
            links[members[i + 1]].append(members[i])
    return links


def _turned(at: float, loops: list[tuple[FloatArray, float]]) -> Slice:
    """Loops, with their signed areas, by how many others hold them: steel in an even number, hollows in an odd one."""
    if len(loops) == 1:
        loop, area = loops[0]
        if area <= 0:
            loop = loop[::-1]
            area = signed_area(loop)
        return Slice(at, (loop,), area)
    depths = _depths([loop for loop, _ in loops]) if len(loops) > 1 else []
    found: list[tuple[FloatArray, float]] = []
    for (loop, area), depth in zip(loops, depths, strict=True):
        if (area > 0) != (depth % 2 == 0):
            loop = loop[::-1]
            area = signed_area(loop)
        found.append((loop, area))
    found.sort(key=lambda pair: -abs(pair[1]))
    return Slice(at, tuple(loop for loop, _ in found), sum(area for _, area in found))


def _depths(loops: list[FloatArray]) -> list[int]:
    """How many larger loops hold each one."""
    boxes = np.array([(*loop.min(axis=0), *loop.max(axis=0)) for loop in loops])
    # loops whose boxes are apart are in none of each other: the legs left of a section cut through its holes
    reach: Mask = np.all(boxes[:, None, :2] <= boxes[None, :, 2:], axis=2)
    meet = np.logical_and(reach, reach.T)
    if int(meet.sum()) == len(loops):
        return [0] * len(loops)
    from shapely import Polygon

    shapes = [Polygon(loop) for loop in loops]
    depths = []
    for i, shape in enumerate(shapes):
        larger = [j for j in np.flatnonzero(meet[i]).tolist() if j != i and shapes[j].area > shape.area]
        if larger:
            middle = shape.representative_point()
            larger = [j for j in larger if shapes[j].contains(middle)]
        depths.append(len(larger))
    return depths
