"""The planes that end a bar.

A plane ends the bar where a facet lies in it and the whole body on one side of it. All other
facets across the bar belong to holes and notches.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Final

import numpy as np

from takeoff.drawn.mesh import IntArray
from takeoff.drawn.oddities import Diagnosis
from takeoff.drawn.patches import components, points_of
from takeoff.drawn.results import Refused
from takeoff.steel import FloatArray, Plane

if TYPE_CHECKING:
    from takeoff.drawn.bars import Bar

_RIP: Final = 0.05
"""A plane with less of its normal than this along the bar is no end cut."""
_MOST: Final = 4
"""An end of more planes is rounded."""
_WAYS: Final = np.array([way for way in product((-1.0, 0.0, 1.0), repeat=3) if any(way)])
"""Directions in which outermost points are looked for."""
_LEAST_MM2: Final = 0.2


def end_planes(bar: Bar, diagnosis: Diagnosis) -> tuple[tuple[Plane, ...], tuple[Plane, ...], list[IntArray]]:
    """Skew planes of the left and right end, and the facets, in touching parts, that are left over."""
    mesh = bar.mesh
    ended = np.zeros(len(mesh.areas), dtype=bool)
    left: list[Plane] = []
    right: list[Plane] = []
    facets = np.flatnonzero(bar.side < 0)
    # square ends are planes as well; facets finer than the grain go with whichever plane they lie in
    for face, normal, offset in _supporting(bar, facets):
        if mesh.areas[face].sum() < _LEAST_MM2:
            continue
        if abs(normal[0]) < _RIP:
            diagnosis.refuse_changes()
            degrees = float(np.degrees(np.arcsin(abs(normal[0]))))
            if degrees < 0.02:
                raise Refused("changing")
            raise Refused("rip", f"{degrees:.1f}")
        ended[face] = True
        extent = float(np.ptp(-(bar.outline @ normal[1:]) / normal[0]))
        if extent <= bar.tolerance:
            continue
        n = normal
        if extent <= 2 * bar.tolerance and abs(n[0]) > 0.99999:
            continue
        plane = Plane((round(offset / float(n[0]), 6), 0.0, 0.0), (float(n[0]), float(n[1]), float(n[2])))
        (left if n[0] < 0 else right).append(plane)
    reached = bar.points[points_of(mesh, np.flatnonzero(ended)), 0] if ended.any() else np.empty(0)
    whole = bar.points[:, 0]
    if not len(reached) or max(reached.min() - whole.min(), whole.max() - reached.max()) > 2 * bar.tolerance:
        # points beyond the planes that end it: an end cut to tips, or holes drawn past the steel
        diagnosis.refuse_changes()
        raise Refused("shaped-end")
    for planes, name in ((left, "left"), (right, "right")):
        planes.sort(key=lambda p: (round(p.point[0], 3), tuple(round(c, 4) for c in p.normal)))
        if len(planes) > _MOST:
            raise Refused("rounded-end", name, len(planes))
    over = _broad(bar, facets[~ended[facets]])
    mask = np.zeros(len(mesh.areas), dtype=bool)
    mask[over] = True
    return tuple(left), tuple(right), components(mesh, mask)


def _supporting(bar: Bar, facets: IntArray) -> list[tuple[IntArray, FloatArray, float]]:
    """Planes in which facets lie with the whole bar behind them: their facets, normal and offset, the largest first."""
    mesh = bar.mesh
    if not len(facets):
        return []
    _, which = np.unique(mesh.face[facets], return_inverse=True)
    total = np.zeros((int(which.max()) + 1, 3))
    np.add.at(total, which, bar.normals[facets] * mesh.areas[facets][:, None])
    normals = total / np.maximum(np.linalg.norm(total, axis=1), 1e-12)[:, None]
    one = np.zeros(len(total), dtype=np.int64)
    one[which] = facets
    first = bar.points[mesh.ring_points[mesh.starts[one]]]
    offsets = np.einsum("ij,ij->i", first, normals)
    # a quick look first: most patches are the walls of holes, with outermost points on both sides of their plane
    outermost = bar.points[np.unique((bar.points @ _WAYS.T).argmax(axis=0))]
    maybe = np.flatnonzero((outermost @ normals.T).max(axis=0) - offsets <= 4 * bar.tolerance)
    order = np.argsort(which, kind="stable")
    bounds = np.searchsorted(which[order], [maybe, maybe + 1])
    patches = [np.sort(facets[order[i:j]]) for i, j in bounds.T.tolist()]
    patches.sort(key=lambda p: (-round(float(mesh.areas[p].sum()), 2), int(p[0])))
    merged: list[tuple[list[IntArray], FloatArray, float]] = []
    for patch in patches:
        normal, offset = _plane(bar, patch)
        if float((bar.points @ normal).max()) - offset > 2 * bar.tolerance:
            continue
        corners = bar.points[points_of(mesh, patch)]
        for members, first, level in merged:
            if float(normal @ first) > 0 and float(np.abs(corners @ first - level).max()) <= bar.tolerance:
                members.append(patch)
                break
        else:
            merged.append(([patch], normal, offset))
    return [(np.concatenate(members), normal, offset) for members, normal, offset in merged]


def _plane(bar: Bar, facets: IntArray) -> tuple[FloatArray, float]:
    """Unit normal and offset: the facets' mean normal, square where it is so within a hair; the points' mean place."""
    total = (bar.normals[facets] * bar.mesh.areas[facets][:, None]).sum(axis=0)
    normal = total / np.linalg.norm(total)
    normal = np.where(np.abs(normal) < 1e-7, 0.0, normal)
    normal = normal / np.linalg.norm(normal)
    places = bar.points[points_of(bar.mesh, facets)] @ normal
    return normal, float(places.mean())


def _broad(bar: Bar, facets: IntArray) -> IntArray:
    """Without facets thinner than the tolerance: they are what rounding leaves between faces."""
    mesh = bar.mesh
    corners = bar.points[mesh.ring_points]
    low, high = (reduce.reduceat(corners, mesh.starts, axis=0) for reduce in (np.minimum, np.maximum))
    span = (high - low).max(axis=1)
    return np.asarray(facets[mesh.areas[facets] > bar.tolerance * span[facets]])
