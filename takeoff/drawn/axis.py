"""The direction along which a bar's section is constant."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from takeoff.drawn.curves import fit_circle
from takeoff.drawn.hulls import convex
from takeoff.drawn.mesh import Mesh
from takeoff.drawn.results import Refused
from takeoff.steel import FloatArray

SQUARE: Final = 0.01
"""A facet whose normal has less than this along the axis runs along it (0.6 degrees)."""
_CANDIDATES: Final = 6
_SAME: Final = 0.002
_HEAVIEST: Final = 300
_KEPT: Final = 24
_ROUND_MM: Final = 0.05
"""Points of a round lie this near to one cylinder."""
_CREASES: Final = 80
_SHARED_MM: Final = 0.005
"""Creases that part by less over the bar's length share a direction."""


def axis(mesh: Mesh) -> FloatArray:
    """Unit vector (3,) perpendicular to the most facet area, refined by the facets and creases along it.

    Its sign is that of its largest component. Raises Refused where facets look every way.
    """
    normals, areas = mesh.normals, mesh.areas
    _, vectors = np.linalg.eigh(np.einsum("i,ij,ik->jk", areas, normals, normals))
    candidates = [vectors[:, 0]]
    main = directions(mesh, _CANDIDATES)
    one, two = np.tril_indices(len(main), -1)
    crossed = np.cross(np.array(main)[one], np.array(main)[two])
    sizes = np.linalg.norm(crossed, axis=1)
    candidates += list((crossed / np.maximum(sizes, 0.02)[:, None])[sizes > 0.02])
    tries = np.array(candidates)
    along = np.abs(normals @ tries.T) < SQUARE
    score = np.round(areas @ along, 3)
    best = tries[int(score.argmax())]
    if score.max() < 0.3 * areas.sum():
        raise Refused("no-axis")
    for limit in (SQUARE, SQUARE / 3):
        near = np.abs(normals @ best) < limit
        if int(near.sum()) < 2:
            break
        values, vectors = np.linalg.eigh(np.einsum("i,ij,ik->jk", areas[near], normals[near], normals[near]))
        if values[1] < 1e-6 * values[2]:
            break
        best = vectors[:, 0]
    round_ = _by_cylinder(mesh, best)
    best = _by_creases(mesh, best) if round_ is None else round_
    return tidy(best if best[int(np.abs(best).argmax())] > 0 else -best)


def tidy(direction: FloatArray) -> FloatArray:
    """Exactly along an axis of the coordinates where it is within a hair of it, so that square things stay square."""
    clean = np.where(np.abs(direction) < 1e-9, 0.0, direction)
    return np.asarray(clean / np.linalg.norm(clean), dtype=float)


def _by_creases(mesh: Mesh, axis: FloatArray) -> FloatArray:
    """The mean of the creases that run along the axis: a long edge errs less than a narrow facet's normal."""
    edges = mesh.edges[mesh.crease]
    steps = mesh.points[edges[:, 1]] - mesh.points[edges[:, 0]]
    along = steps @ axis
    sizes = np.linalg.norm(steps, axis=1)
    extent = float(np.ptp(mesh.points @ axis))
    straight = np.flatnonzero((np.abs(along) > 0.2 * extent) & (np.abs(along) > sizes * (1 - 1e-5)))
    if not len(straight):
        return axis
    straight = straight[np.argsort(-np.round(sizes[straight], 2), kind="stable")[:_CREASES]]
    ways = steps[straight] * (np.sign(along[straight]) / sizes[straight])[:, None]
    # Creases of a rounding drawn in other steps at each end run askew: the direction most others share is the axis.
    apart = np.linalg.norm(ways[:, None, :] - ways[None, :, :], axis=2)
    shared = (apart < _SHARED_MM / extent) @ sizes[straight]
    lead = int(np.round(shared, 2).argmax())
    alike = apart[lead] < _SHARED_MM / extent
    mean = (ways[alike] * sizes[straight][alike, None]).sum(axis=0)
    return np.asarray(mean / np.linalg.norm(mean), dtype=float)


def _by_cylinder(mesh: Mesh, axis: FloatArray) -> FloatArray | None:
    """The axis of the cylinder through the outermost points, None where they lie on none.

    A round drawn in other steps at each end has neither creases nor facets along its axis.
    """
    spare = np.eye(3)[int(np.abs(axis).argmin())]
    e1 = np.cross(axis, spare)
    e1 /= np.linalg.norm(e1)
    across = np.array([e1, np.cross(axis, e1)])
    flat = mesh.points @ across.T
    rim = convex(flat)
    if len(rim) < 12:
        return None
    x, y, radius, off = fit_circle(rim)
    if off > 0.05 * radius:
        return None
    band = max(2 * off, 0.02 * radius)
    outer = mesh.points[np.hypot(flat[:, 0] - x, flat[:, 1] - y) > radius - band]
    place = outer @ axis
    middle = float(place.mean())
    flat = outer @ across.T
    # centre (x, y) + (place - middle) * tilt, and radius: Gauss and Newton's steps
    values = np.array([x, y, 0.0, 0.0, radius])
    for _ in range(8):
        offset = flat - values[:2] - (place - middle)[:, None] * values[2:4]
        away = np.maximum(np.hypot(*offset.T), 1e-9)
        unit = offset / away[:, None]
        slope = np.column_stack([-unit, -(place - middle)[:, None] * unit, -np.ones(len(away))])
        step, *_ = np.linalg.lstsq(slope, -(away - values[4]), rcond=None)
        values = values + step
        if float(np.abs(step[:2]).max()) < 1e-7 and abs(step[4]) < 1e-7:
            break
    offset = flat - values[:2] - (place - middle)[:, None] * values[2:4]
    if float(np.abs(np.hypot(*offset.T) - values[4]).max()) > _ROUND_MM:
        return None
    tilted = axis + values[2] * across[0] + values[3] * across[1]
    return np.asarray(tilted / np.linalg.norm(tilted), dtype=float)


def directions(mesh: Mesh, most: int) -> list[FloatArray]:
    """The normals of the most facet area, opposite ones as one, the heaviest first; each the mean of its facets."""
    return _directions(mesh)[:most]


@lru_cache(maxsize=4)
def _directions(mesh: Mesh) -> list[FloatArray]:
    order = np.argsort(-np.round(mesh.areas, 3), kind="stable")[:_HEAVIEST]
    leads = np.empty((0, 3))
    totals: list[FloatArray] = []
    sums: list[float] = []
    for i in order.tolist():
        n, area = mesh.normals[i], float(mesh.areas[i])
        dots = leads @ n
        alike = np.flatnonzero(np.abs(dots) > 1 - _SAME * _SAME)
        if len(alike):
            k = int(alike[0])
            totals[k] = totals[k] + area * n * np.sign(dots[k])
            sums[k] += area
        elif len(leads) < _KEPT:
            leads = np.vstack([leads, n])
            totals.append(area * n)
            sums.append(area)
    ranked = sorted(range(len(sums)), key=lambda k: (-round(sums[k], 2), k))
    return [totals[k] / np.linalg.norm(totals[k]) for k in ranked]
