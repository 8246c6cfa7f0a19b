"""Cross-sections of a mesh square to its axis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.drawn.mesh import Mesh
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
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2


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


def cut(mesh: Mesh, axis: FloatArray, across: FloatArray, at: float) -> Slice:
    """The cut at ``at`` along the axis, in the two directions ``across`` (2, 3).

    Its corners lie on the mesh's creases only, so that triangles add none.
    """
    place = mesh.points @ axis
    start, stop = mesh.edges.T
    crossing = np.flatnonzero((place[start] < at) != (place[stop] < at))
    if not len(crossing):
        return Slice(at, (), 0.0)
    a, b = start[crossing], stop[crossing]
    share = (at - place[a]) / (place[b] - place[a])
    points = (mesh.points[a] + share[:, None] * (mesh.points[b] - mesh.points[a])) @ across.T
    links = _links(mesh, crossing, points)
    loops = []
    seen = [False] * len(crossing)
    for first in range(len(crossing)):
        if seen[first] or len(links[first]) != 2:
            continue
        run, here, before = [], first, -1
        while not seen[here]:
            seen[here] = True
            run.append(here)
            ahead = links[here]
            if len(ahead) != 2:
                break
            there = ahead[0] if ahead[0] != before else ahead[1]
            before, here = here, there
        corners = [k for k in run if mesh.crease[crossing[k]]]
        if len(corners) > 2:
            loop = points[corners]
            if abs(signed_area(loop)) > 1e-3:
                loops.append(loop)
    return _turned(at, loops)


def _links(mesh: Mesh, crossing: np.ndarray, points: FloatArray) -> list[list[int]]:
    """Which crossings are joined by a facet: neighbours in the order along the line in which it is cut."""
    by_facet: dict[int, list[int]] = {}
    for k, (one, two) in enumerate(mesh.sides[crossing].tolist()):
        by_facet.setdefault(one, []).append(k)
        by_facet.setdefault(two, []).append(k)
    links: list[list[int]] = [[] for _ in crossing]
    for members in by_facet.values():
        if len(members) > 2:
            spread = points[members]
            far = spread[int(np.hypot(*(spread - spread[0]).T).argmax())] - spread[0]
            members = [members[i] for i in np.argsort(spread @ far, kind="stable")]
        for i in range(0, len(members) - 1, 2):
            links[members[i]].append(members[i + 1])
            links[members[i + 1]].append(members[i])
    return links


def _turned(at: float, loops: list[FloatArray]) -> Slice:
    """Loops by how many others hold them: steel inside an even number, a hollow inside an odd one."""
    if len(loops) == 1:
        loop = loops[0] if signed_area(loops[0]) > 0 else loops[0][::-1]
        return Slice(at, (loop,), signed_area(loop))
    from shapely import Polygon

    shapes = [Polygon(loop) for loop in loops]
    found = []
    for i, loop in enumerate(loops):
        middle = shapes[i].representative_point()
        depth = sum(
            1 for j, other in enumerate(shapes) if j != i and other.area > shapes[i].area and other.contains(middle)
        )
        outside = depth % 2 == 0
        found.append(loop if (signed_area(loop) > 0) == outside else loop[::-1])
    found.sort(key=lambda loop: -abs(signed_area(loop)))
    return Slice(at, tuple(found), sum(signed_area(loop) for loop in found))
