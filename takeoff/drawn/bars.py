"""Bars: a constant section along an axis, with ends, holes and notches.

Every facet of the mesh must be accounted for: it runs along the bar on the section's outline, it
lies in a plane that ends the bar, or it belongs to a feature (a hole or notch). A facet that is
none of these means that the body is not what it seems, and it is refused.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from takeoff.drawn import features, oddities
from takeoff.drawn.axis import axis as find_axis
from takeoff.drawn.axis import directions, tidy
from takeoff.drawn.curves import tidy as tidy_loop
from takeoff.drawn.curves import with_arcs
from takeoff.drawn.ends import end_planes
from takeoff.drawn.mesh import IntArray, Mesh
from takeoff.drawn.plates import IsFlat
from takeoff.drawn.results import Refused
from takeoff.drawn.sizes import coarse_round, meant, round_of, rounded, slack_of
from takeoff.drawn.slices import Slice, abscissae, cuts, signed_area
from takeoff.drawn.volumes import check_volume
from takeoff.sections import loops, plates, shapes
from takeoff.sections.odd import laid
from takeoff.sections.outlines import loops_of
from takeoff.sections.recognise import Recognised, recognise
from takeoff.steel import FLAT, OTHER, Body, FloatArray, Section

_SLICES: Final = 10
_ALONG: Final = 0.02
"""A facet with less of its normal than this along the axis may lie on the section's outline."""


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """A mesh in its piece axes: ``points`` (n, 3) x, u, v; x from 0 to ``length``.

    ``outline`` (n, 2) and ``hollows`` are the drawn section in (u, v), ``pieces`` its loops with arcs; ``side`` (m,)
    the edge of them on which each facet lies (those of all loops one after another), -1: on none.
    """

    mesh: Mesh
    points: FloatArray
    normals: FloatArray
    section: Section
    length: float
    outline: FloatArray
    hollows: tuple[FloatArray, ...]
    pieces: tuple[loops.Loop, ...]
    side: IntArray
    tolerance: float


def read_bar(mesh: Mesh, tolerance: float, is_flat: IsFlat) -> tuple[Body, FloatArray, FloatArray]:
    """The body, axes (3, 3) and origin (3,) of a bar; raises Refused where it is none that can be read."""
    axis = find_axis(mesh)
    across = _across(mesh, axis)
    slices = cuts(mesh, axis, across, abscissae(mesh, axis, _SLICES))
    slices = [s for s in slices if s.area > 0]
    if not slices:
        raise Refused("no-axis")
    slices.sort(key=lambda s: (-round(s.area, 1), s.x))
    whole, found = _section(mesh, across, slices, tolerance)
    if found is None:
        return _odd(mesh, axis, across, whole, slices, tolerance)
    section, axes, origin = _framed(found, axis, across)
    section = rounded(section, slack_of(tolerance))
    bar = _bar(mesh, whole, section, axes, origin, across, tolerance)
    diagnosis = oddities.Diagnosis(slices, tolerance)
    left, right, rest = end_planes(bar, diagnosis)
    holes, notches = features.read(bar, rest, (*left, *right), diagnosis)
    body = Body(_named(section, bar.length, is_flat), bar.length, left, right, (), notches, holes)
    check_volume(bar, body)
    start = float((mesh.points @ axes[0]).min())
    return body, axes, np.array([start, *origin]) @ axes


def _across(mesh: Mesh, axis: FloatArray) -> FloatArray:
    """Two directions (2, 3) square to the axis and each other, axis = first x second; along the heaviest facets."""
    first = None
    for direction in directions(mesh, 12):
        if abs(float(direction @ axis)) < _ALONG:
            first = direction
            break
    if first is None:
        first = np.eye(3)[int(np.abs(axis).argmin())]
    first = first - (first @ axis) * axis
    first = tidy(first / np.linalg.norm(first))
    return np.array([first, np.cross(axis, first)])


def _section(mesh: Mesh, across: FloatArray, slices: list[Slice], tolerance: float) -> tuple[Slice, Recognised | None]:
    """The fullest slice that is a known section; else the fullest, and None."""
    most = slices[0].area
    for candidate in slices:
        if candidate.area < 0.999 * most:
            break
        found = round_of(mesh, across, candidate, tolerance) or _recognised(candidate, tolerance)
        if found is not None:
            return candidate, found
    joined = _joined(slices, tolerance)
    if joined is not None:
        found = _recognised(joined, tolerance)
        if found is not None:
            return joined, found
    return slices[0], None


def _recognised(candidate: Slice, tolerance: float) -> Recognised | None:
    outers = candidate.outers
    if len(outers) != 1 or len(candidate.inners) > 1:
        return None
    corners = [(float(x), float(y), 0.0) for x, y in tidy_loop(outers[0], tolerance)]
    inners = [[(float(x), float(y), 0.0) for x, y in tidy_loop(loop, tolerance)] for loop in candidate.inners]
    return recognise(corners, inners, tolerance) or coarse_round(tidy_loop(outers[0], tolerance), inners, tolerance)


def _joined(slices: list[Slice], tolerance: float) -> Slice | None:
    """What all slices show together: holes one after another may leave no place where the whole section shows."""
    if len(slices) < 2:
        return None
    from shapely import Polygon, union_all

    shapes_ = []
    for s in slices:
        for outer in s.outers:
            shape = Polygon(outer, [inner for inner in s.inners if Polygon(outer).contains(Polygon(inner))])
            shapes_.append(shape if shape.is_valid else shape.buffer(0))
    # on a fine grid, which closes the seams between slices that differ by rounding
    union = union_all(shapes_, grid_size=tolerance / 10)
    if union.geom_type != "Polygon":
        return None
    union = union.simplify(tolerance / 4)
    found = [np.array(union.exterior.coords[:-1])]
    found = [loop if signed_area(loop) > 0 else loop[::-1] for loop in found]
    for ring in union.interiors:
        loop = np.array(ring.coords[:-1])
        found.append(loop if signed_area(loop) < 0 else loop[::-1])
    return Slice(slices[0].x, tuple(found), float(union.area))


def _framed(found: Recognised, axis: FloatArray, across: FloatArray) -> tuple[Section, FloatArray, tuple[float, float]]:
    """The section, the piece axes (rows x, u, v) and the datum's place along u and v."""
    u = found.u[0] * across[0] + found.u[1] * across[1]
    v = found.v[0] * across[0] + found.v[1] * across[1]
    x = np.cross(u, v)
    datum = found.origin[0] * across[0] + found.origin[1] * across[1]
    return found.section, np.array([x, u, v]), (float(datum @ u), float(datum @ v))


def _bar(
    mesh: Mesh,
    whole: Slice,
    section: Section,
    axes: FloatArray,
    origin: tuple[float, float],
    across: FloatArray,
    tolerance: float,
) -> Bar:
    points = mesh.points @ axes.T
    points -= np.array([points[:, 0].min(), *origin])
    turn = across @ axes[1:].T
    rings = [loop @ turn - np.array(origin) for loop in whole.loops]
    # seen against the first axis a loop runs the other way
    rings = [ring if (signed_area(ring) > 0) == (k == 0) else ring[::-1] for k, ring in enumerate(rings)]
    rings = [tidy_loop(ring, tolerance) for ring in rings]
    normals = mesh.normals @ axes.T
    pieces = [with_arcs(ring, tolerance) for ring in rings] if section.shape == OTHER else list(loops_of(section))
    # holes drawn in a tube's flat sides have corners on these, not on the circle
    drawn = [tuple((float(u), float(v), 0.0) for u, v in ring) for ring in rings]
    side = _sides(mesh, points, normals, [*pieces, *drawn], tolerance)
    length = meant(float(points[:, 0].max()), slack_of(tolerance))
    return Bar(mesh, points, normals, section, length, rings[0], tuple(rings[1:]), tuple(pieces), side, tolerance)


def _sides(mesh: Mesh, points: FloatArray, normals: FloatArray, pieces: list[loops.Loop], tolerance: float) -> IntArray:
    """The side (straight or arc) of the section's outline on which each facet lies with all its points, -1: none.

    Facets of a rounding have their corners on its arc, though not in the same places at both ends.
    """
    near: list[npt.NDArray[np.bool_]] = []
    facing: list[Callable[[FloatArray], FloatArray]] = []
    circles: dict[tuple[float, ...], int] = {}
    for k, (a, b) in enumerate(edge for piece in pieces for edge in loops.edges(piece)):
        distance, outward = _from_side(points[:, 1:], a, b)
        near.append(distance <= tolerance)
        facing.append(outward)
        if a[2]:
            # a facet may lie over the seam of two arcs of one circle
            cx, cy, radius, _, sweep = plates.arc(a, b)
            circle = (round(cx, 3), round(cy, 3), round(radius, 3), math.copysign(1.0, sweep))
            first = circles.setdefault(circle, k)
            if first != k:
                near[first] = near[first] | near[k]
    on = np.logical_and.reduceat(np.array(near).T[mesh.ring_points], mesh.starts, axis=0)
    middles = np.add.reduceat(points[mesh.ring_points, 1:], mesh.starts, axis=0)
    middles /= np.diff(np.append(mesh.starts, len(mesh.ring_points)))[:, None]
    score = np.full(on.shape, -1.0)
    for k, outward in enumerate(facing):
        rows = np.flatnonzero(on[:, k])
        if len(rows):
            score[rows, k] = (normals[rows, 1:] * outward(middles[rows])).sum(axis=1)
    # a side of the section before one of the drawing
    best = np.round(score, 3).argmax(axis=1)
    good = (score.max(axis=1) > 0.5) & (np.abs(normals[:, 0]) < 0.5)
    return np.where(good, best, -1).astype(np.int64)


def _from_side(
    points: FloatArray, a: loops.Corner, b: loops.Corner
) -> tuple[FloatArray, Callable[[FloatArray], FloatArray]]:
    """Distances (n,) of points from an edge of an outline, and what gives the outward direction at a point."""
    start, stop = np.array(a[:2]), np.array(b[:2])
    if not a[2]:
        along = stop - start
        size = max(float(np.hypot(*along)), 1e-12)
        share = np.clip((points - start) @ along / size**2, 0.0, 1.0)
        normal = np.array([along[1], -along[0]]) / size
        return np.hypot(*(points - start - share[:, None] * along).T), lambda at: np.broadcast_to(normal, at.shape)
    cx, cy, radius, begin, sweep = plates.arc(a, b)
    offset = points - (cx, cy)
    turn = np.arctan2(offset[:, 1], offset[:, 0])
    ahead = (turn - begin) % (2 * math.pi) if sweep > 0 else (begin - turn) % (2 * math.pi)
    within = ahead <= abs(sweep)
    ends = np.minimum(np.hypot(*(points - start).T), np.hypot(*(points - stop).T))
    distance = np.where(within, np.abs(np.hypot(*offset.T) - radius), ends)
    sign = 1.0 if sweep > 0 else -1.0

    def outward(at: FloatArray) -> FloatArray:
        away = at - (cx, cy)
        return np.asarray(sign * away / np.maximum(np.hypot(*away.T), 1e-9)[:, None])

    return distance, outward


def _named(section: Section, length: float, is_flat: IsFlat) -> Section:
    """A rectangle is a flat or a plate by its name and sizes."""
    if section.shape != FLAT or is_flat(section.h, section.tw, length):
        return section
    return shapes.plate(section.h, section.tw)


def _odd(
    mesh: Mesh, axis: FloatArray, across: FloatArray, whole: Slice, slices: list[Slice], tolerance: float
) -> tuple[Body, FloatArray, FloatArray]:
    """A bar of no known shape: read where planes end it and nothing else; else refused, saying what it is."""
    diagnosis = oddities.Diagnosis(slices, tolerance)
    diagnosis.refuse_section(whole)
    found = laid(tidy_loop(whole.outers[0], tolerance), [tidy_loop(loop, tolerance) for loop in whole.inners])
    section, axes, origin = _framed(found, axis, across)
    bar = _bar(mesh, whole, section, axes, origin, across, tolerance)
    oddities.refuse_block(section, bar.length)
    left, right, rest = end_planes(bar, diagnosis)
    if rest:
        diagnosis.refuse_changes()
        raise Refused("odd-holes", section.designation)
    body = Body(section, bar.length, left, right)
    check_volume(bar, body)
    start = float((mesh.points @ axes[0]).min())
    return body, axes, np.array([start, *origin]) @ axes
