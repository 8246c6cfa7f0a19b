"""Bodies with an axis: shanks, heads, nuts, washers, as slabs along their axis.

Vocabulary: a *turned* body is one solid that is round or a regular polygon about its
axis, perhaps stepped; a *slab* is a stretch of it between two changes of its section.

Does not know: bent bodies (None), and the pitch of a thread that is really drawn (its
section is sampled).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from takeoff.ifc.facets import Shell, oriented, vector_areas
from takeoff.steel import FloatArray

LEVEL_MM: Final = 0.01
"""Changes of section this close along the axis are one."""
ROUND_SHARE: Final = 0.03
"""Corners of a section this near to one circle, as a share of its radius, lie on it."""
MOST_SLABS: Final = 64
"""Bodies with more changes of section than this (drawn threads, domes) are sampled."""


@dataclass(frozen=True, slots=True)
class Slab:
    """From ``start`` to ``end`` mm along the axis; ``diameter`` over the corners, for a long hole's
    shape its width; ``corners`` of the section, 0 for a true circle; ``length`` of a long hole's shape."""

    start: float
    end: float
    diameter: float
    corners: int = 0
    length: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Turned:
    """``point`` (3,) on the axis where slabs are measured from, ``direction`` (3,) unit, slabs in order."""

    point: FloatArray
    direction: FloatArray
    slabs: tuple[Slab, ...]
    bored: bool = False
    """A hole runs along it: a nut or a washer."""
    bent: bool = False
    """One leg of a bent rod, whose bends are not told."""

    @property
    def start(self) -> float:
        return min(slab.start for slab in self.slabs)

    @property
    def end(self) -> float:
        return max(slab.end for slab in self.slabs)

    def moved(self, matrix: FloatArray) -> Turned:
        """The body under a (4, 4) matrix: rigid, mirrored or scaled."""
        along = matrix[:3, :3] @ self.direction
        stretch = float(np.linalg.norm(along))
        whole = abs(float(np.linalg.det(matrix[:3, :3])))
        across = (whole / stretch) ** 0.5
        slabs = self.slabs
        if abs(stretch - 1) > 1e-9 or abs(across - 1) > 1e-9:
            slabs = tuple(
                Slab(s.start * stretch, s.end * stretch, s.diameter * across, s.corners, s.length * across)
                for s in slabs
            )
        point = matrix[:3, :3] @ self.point + matrix[:3, 3]
        return replace(self, point=point, direction=along / stretch, slabs=slabs)


@dataclass(frozen=True, slots=True)
class Round:
    """A section measured: ``centre``, ``diameter`` over the corners or width, ``length`` where long, corners."""

    centre: tuple[float, float]
    diameter: float
    length: float
    corners: int


def measured(points: FloatArray) -> Round | None:
    """The circle through a section's corners (n, 2), or its smallest rectangle where they lie on none.

    The circle is the least-squares one (Kasa): a polygon that leaves out a corner of its
    circle keeps its centre, which its centroid would not. None where there is no area.
    """
    corners = hull(points)
    if len(corners) < 3:
        return None
    middle = corners.mean(axis=0)
    moved = corners - middle
    system = np.column_stack([2 * moved, np.ones(len(moved))])
    (x, y, c), *_ = np.linalg.lstsq(system, (moved**2).sum(axis=1), rcond=None)
    radius = float(np.sqrt(max(c + x * x + y * y, 0.0)))
    distances = np.hypot(moved[:, 0] - x, moved[:, 1] - y)
    if len(corners) > 3 and radius > 0 and np.abs(distances - radius).max() <= ROUND_SHARE * radius:
        centre = (float(middle[0] + x), float(middle[1] + y))
        return Round(centre, 2 * radius, 0.0, len(corners))
    return _rectangle(corners)


def _rectangle(corners: FloatArray) -> Round:
    best: tuple[float, float, float, tuple[float, float]] | None = None
    for edge in np.roll(corners, -1, axis=0) - corners:
        unit = edge / np.hypot(*edge)
        turned = corners @ np.array([[unit[0], -unit[1]], [unit[1], unit[0]]])
        low, high = turned.min(axis=0), turned.max(axis=0)
        size = high - low
        centre = (low + high) / 2
        back = (
            float(centre[0] * unit[0] - centre[1] * unit[1]),
            float(centre[0] * unit[1] + centre[1] * unit[0]),
        )
        if best is None or size[0] * size[1] < best[0] - 1e-9:
            best = (float(size[0] * size[1]), float(size.min()), float(size.max()), back)
    assert best is not None
    return Round(best[3], best[1], best[2], len(corners))


def hull(points: FloatArray) -> FloatArray:
    """Corners (n, 2) of the convex hull, anti-clockwise, points on a side left out."""
    unique = np.unique(np.round(points, 6), axis=0).tolist()
    if len(unique) < 3:
        return np.array(unique).reshape(-1, 2)
    spread = max(float(np.ptp(points, axis=0).max()), 1e-9)
    tiny = 1e-6 * spread * spread

    def half(ordered: list[list[float]]) -> list[list[float]]:
        out: list[list[float]] = []
        for p in ordered:
            while len(out) > 1:
                (ax, ay), (bx, by) = out[-2], out[-1]
                if (bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax) > tiny:
                    break
                out.pop()
            out.append(p)
        return out

    return np.array(half(unique)[:-1] + half(unique[::-1])[:-1])


def from_shell(shell: Shell) -> Turned | None:
    """The turned body a shell draws; None where its sections do not keep one axis or it has no thickness."""
    direction = axis_of(shell)
    if direction is None:
        return None
    edges = _edges(shell)
    return sliced(shell.points, edges, direction, bored=_bored(shell, direction))


def sliced(points: FloatArray, edges: FloatArray, direction: FloatArray, *, bored: bool = False) -> Turned | None:
    """Slabs of a body by slicing its ``edges`` (m, 2: rows of ``points``) halfway between its levels."""
    across, up = square_axes(direction)
    along = points @ direction
    stops = levels(along)
    if len(stops) < 2:
        return None
    plane = np.column_stack([points @ across, points @ up])
    first, second = edges[:, 0].astype(int), edges[:, 1].astype(int)
    slabs: list[Slab] = []
    centres: list[tuple[float, float]] = []
    for low, high in pairwise(stops):
        middle = (low + high) / 2
        ta, tb = along[first], along[second]
        crossing = (ta < middle) != (tb < middle)
        if not crossing.any():
            continue
        share = ((middle - ta[crossing]) / (tb[crossing] - ta[crossing]))[:, None]
        section = plane[first[crossing]] * (1 - share) + plane[second[crossing]] * share
        found = measured(section)
        if found is None:
            continue
        slabs.append(Slab(low, high, found.diameter, found.corners, found.length))
        centres.append(found.centre)
    if not slabs:
        return None
    longest = max(range(len(slabs)), key=lambda i: (slabs[i].end - slabs[i].start, -i))
    centre = centres[longest]
    for slab, place in zip(slabs, centres, strict=True):
        apart = float(np.hypot(place[0] - centre[0], place[1] - centre[1]))
        if apart > 0.2 * min(slab.diameter, slabs[longest].diameter):
            return None
    return Turned(centre[0] * across + centre[1] * up, direction, _joined(slabs), bored)


def _joined(slabs: Sequence[Slab]) -> tuple[Slab, ...]:
    """Neighbours of one section as one slab."""
    out: list[Slab] = []
    for slab in slabs:
        last = out[-1] if out else None
        if (
            last is not None
            and abs(last.end - slab.start) <= LEVEL_MM
            and abs(last.diameter - slab.diameter) <= 0.005 * slab.diameter
            and last.corners == slab.corners
        ):
            out[-1] = replace(last, end=slab.end)
        else:
            out.append(slab)
    return tuple(out)


def levels(along: FloatArray) -> list[float]:
    """Abscissae in mm at which a section may change, in order; evenly spaced samples where there are very many."""
    ordered = np.sort(along)
    kept = [float(ordered[0])]
    for value in ordered[1:].tolist():
        if value - kept[-1] > LEVEL_MM:
            kept.append(value)
    if len(kept) > MOST_SLABS:
        return [float(v) for v in np.linspace(kept[0], kept[-1], MOST_SLABS + 1)]
    return kept


def _edges(shell: Shell) -> FloatArray:
    pairs = {
        (a, b) if a < b else (b, a)
        for facet in shell.facets
        for ring in facet
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
    }
    return np.array(sorted(pairs), dtype=float).reshape(-1, 2)


def _bored(shell: Shell, direction: FloatArray) -> bool:
    """Whether walls face the axis."""
    turned_out = oriented(shell)
    areas = vector_areas(turned_out)
    centre = shell.points.mean(axis=0)
    middles = np.array([shell.points[list(facet[0])].mean(axis=0) for facet in turned_out.facets]) - centre
    side = np.abs(areas @ direction) < 0.1 * np.linalg.norm(areas, axis=1)
    return bool((np.einsum("ij,ij->i", middles, areas)[side] < 0).any())


def axis_of(shell: Shell) -> FloatArray | None:
    """The direction (3,) most facets lie along or across; of equal ones that with the roundest section."""
    areas = vector_areas(shell)
    sizes = np.linalg.norm(areas, axis=1)
    real = sizes > 1e-9
    if not real.any():
        return None
    sizes, normals = sizes[real], areas[real] / sizes[real][:, None]
    candidates = _candidates(normals, sizes)
    dots = np.abs(normals @ candidates.T)
    fitting = ((dots < 0.01) | (dots > 0.9999)).astype(float)
    scores = sizes @ fitting / sizes.sum()
    # a long hole's shape is not round, so roundness only decides between directions that fit alike
    best = np.flatnonzero(scores.round(2) == scores.round(2).max())
    if len(best) == 1:
        return candidates[best[0]]  # type: ignore[no-any-return]
    centred = shell.points - shell.points.mean(axis=0)
    spread = [round(_roundness(centred, candidates[i]), 3) for i in best]
    return candidates[best[spread.index(max(spread))]]  # type: ignore[no-any-return]


def _candidates(normals: FloatArray, sizes: FloatArray) -> FloatArray:
    x, y, z = normals.T
    leading = np.where(np.abs(z) > 1e-6, z, np.where(np.abs(y) > 1e-6, y, x))
    one_way = normals * np.sign(leading)[:, None]
    keys: dict[tuple[float, ...], int] = {}
    total: list[float] = []
    kept: list[FloatArray] = []
    for key, vector, size in zip(map(tuple, np.round(one_way, 3).tolist()), one_way, sizes, strict=True):
        at = keys.get(key)
        if at is None:
            keys[key] = len(kept)
            kept.append(vector)
            total.append(float(size))
        else:
            total[at] += float(size)
    order = sorted(range(len(kept)), key=lambda i: (-round(total[i], 6), kept[i].round(6).tolist()))
    top = [kept[i] for i in order[:12]]
    crossed = []
    for other in top[1:5]:
        vector = np.cross(top[0], other)
        size = float(np.linalg.norm(vector))
        if size > 0.1:
            crossed.append(vector / size)
    return np.array(crossed + top)


def _roundness(centred: FloatArray, direction: FloatArray) -> float:
    across, up = square_axes(direction)
    plane = np.column_stack([centred @ across, centred @ up])
    small, large = np.linalg.eigvalsh(plane.T @ plane)
    return float(small / large) if large > 0 else 0.0


def square_axes(direction: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two unit vectors square to a unit vector and to each other, right-handed with it."""
    helper = np.zeros(3)
    helper[int(np.argmin(np.abs(direction)))] = 1.0
    across = np.cross(helper, direction)
    across /= np.linalg.norm(across)
    return across, np.cross(direction, across)
