"""The planes that end a bar.

A plane ends the bar where a facet lies in it and the whole body on one side of it. All other
facets across the bar belong to holes and notches.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from takeoff.drawn.mesh import IntArray
from takeoff.drawn.oddities import Diagnosis
from takeoff.drawn.patches import components
from takeoff.drawn.results import Refused
from takeoff.steel import FloatArray, Plane

if TYPE_CHECKING:
    from takeoff.drawn.bars import Bar

_RIP: Final = 0.05
"""A plane with less of its normal than this along the bar is no end cut."""
_MOST: Final = 4
"""An end of more planes is rounded."""
_LEAST_MM2: Final = 0.2


def end_planes(
    bar: Bar, strange: list[IntArray], diagnosis: Diagnosis
) -> tuple[tuple[Plane, ...], tuple[Plane, ...], list[IntArray]]:
    """Skew planes of the left and right end, and the facets, in touching parts, that are left over."""
    mesh = bar.mesh
    ended = np.zeros(len(mesh.areas), dtype=bool)
    left: list[Plane] = []
    right: list[Plane] = []
    facets = np.concatenate(strange) if strange else np.empty(0, dtype=np.int64)
    # square ends are planes as well; facets finer than the grain go with whichever plane they lie in
    for face in _faces(bar, facets):
        normal, offset = _plane(bar, face)
        if mesh.areas[face].sum() < _LEAST_MM2:
            continue
        beyond = bar.points @ normal - offset
        limit = 2 * bar.tolerance
        if float(beyond.max()) > limit:
            continue
        if abs(normal[0]) < _RIP:
            diagnosis.refuse_changes()
            raise Refused("rip", f"{np.degrees(np.arcsin(abs(normal[0]))):.1f}")
        ended[face] = True
        extent = float(np.ptp(-(bar.outline @ normal[1:]) / normal[0]))
        if extent <= bar.tolerance:
            continue
        n = normal
        if extent <= 2 * bar.tolerance and abs(n[0]) > 0.99999:
            continue
        plane = Plane((round(offset / float(n[0]), 6), 0.0, 0.0), (float(n[0]), float(n[1]), float(n[2])))
        (left if n[0] < 0 else right).append(plane)
    for planes, name in ((left, "left"), (right, "right")):
        planes.sort(key=lambda p: (round(p.point[0], 3), tuple(round(c, 4) for c in p.normal)))
        if len(planes) > _MOST:
            raise Refused("rounded-end", name, len(planes))
    over = _slivers(bar, facets[~ended[facets]], ended)
    mask = np.zeros(len(mesh.areas), dtype=bool)
    mask[over] = True
    return tuple(left), tuple(right), components(mesh, mask)


def _faces(bar: Bar, facets: IntArray) -> list[IntArray]:
    """Facets by the plane they lie in, the largest first; patches of one plane together."""
    mesh = bar.mesh
    groups: dict[int, list[int]] = {}
    for i in facets.tolist():
        groups.setdefault(int(mesh.face[i]), []).append(i)
    patches = [np.array(group, dtype=np.int64) for group in groups.values()]
    patches.sort(key=lambda p: (-round(float(mesh.areas[p].sum()), 2), int(p[0])))
    merged: list[tuple[FloatArray, float, list[IntArray]]] = []
    for patch in patches:
        corners = bar.points[_corners(bar, patch)]
        for normal, offset, members in merged:
            facing = float((bar.normals[patch] * mesh.areas[patch][:, None]).sum(axis=0) @ normal)
            if facing > 0 and float(np.abs(corners @ normal - offset).max()) <= bar.tolerance:
                members.append(patch)
                break
        else:
            normal, offset = _plane(bar, patch)
            merged.append((normal, offset, [patch]))
    return [np.concatenate(members) for _, _, members in merged]


def _corners(bar: Bar, facets: IntArray) -> IntArray:
    mesh = bar.mesh
    ends = np.append(mesh.starts, len(mesh.ring_points))
    return np.unique(np.concatenate([mesh.ring_points[ends[i] : ends[i + 1]] for i in facets.tolist()]))


def _plane(bar: Bar, facets: IntArray) -> tuple[FloatArray, float]:
    """Unit normal and offset: the facets' mean normal, square where it is so within a hair; the points' mean place."""
    total = (bar.normals[facets] * bar.mesh.areas[facets][:, None]).sum(axis=0)
    normal = total / np.linalg.norm(total)
    normal = np.where(np.abs(normal) < 1e-7, 0.0, normal)
    normal = normal / np.linalg.norm(normal)
    places = bar.points[_corners(bar, facets)] @ normal
    return normal, float(places.mean())


def _slivers(bar: Bar, facets: IntArray, ended: np.ndarray) -> IntArray:
    """Without facets thinner than the tolerance: they are what rounding leaves between faces."""
    mesh = bar.mesh
    kept = []
    for i in facets.tolist():
        corners = bar.points[_corners(bar, np.array([i]))]
        span = float(np.ptp(corners, axis=0).max())
        if mesh.areas[i] > bar.tolerance * span:
            kept.append(i)
    return np.array(kept, dtype=np.int64)
