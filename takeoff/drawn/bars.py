"""Bars: a constant section along an axis, with ends, holes and notches.

Every facet of the mesh must be accounted for: it runs along the bar on the section's outline, it
lies in a plane that ends the bar, or it belongs to a feature (a hole or notch). A facet that is
none of these means that the body is not what it seems, and it is refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from takeoff.drawn import features, oddities
from takeoff.drawn.axis import axis as find_axis
from takeoff.drawn.axis import directions, tidy
from takeoff.drawn.curves import tidy as tidy_loop
from takeoff.drawn.ends import end_planes
from takeoff.drawn.mesh import IntArray, Mesh
from takeoff.drawn.patches import Mask, components
from takeoff.drawn.plates import IsFlat
from takeoff.drawn.results import Refused
from takeoff.drawn.slices import Slice, abscissae, cut, signed_area
from takeoff.drawn.volumes import check_volume
from takeoff.sections import shapes
from takeoff.sections.measures import snap
from takeoff.sections.recognise import Recognised, recognise
from takeoff.steel import FLAT, Body, FloatArray, Section

_SLICES: Final = 10
_ALONG: Final = 0.02
"""A facet with less of its normal than this along the axis may lie on the section's outline."""


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """A mesh in its piece axes: ``points`` (n, 3) x, u, v; x from 0 to ``length``.

    ``outline`` (n, 2) and ``hollows`` are the drawn section in (u, v); ``side`` (m,) the side of
    the section each facet lies on (of all loops one after another), -1 where on none.
    """

    mesh: Mesh
    points: FloatArray
    normals: FloatArray
    section: Section
    length: float
    outline: FloatArray
    hollows: tuple[FloatArray, ...]
    side: IntArray
    tolerance: float

    @property
    def loops(self) -> tuple[FloatArray, ...]:
        """The outline and the hollows."""
        return (self.outline, *self.hollows)


def read_bar(mesh: Mesh, tolerance: float, is_flat: IsFlat) -> tuple[Body, FloatArray, FloatArray]:
    """The body, axes (3, 3) and origin (3,) of a bar; raises Refused where it is none that can be read."""
    axis = find_axis(mesh)
    across = _across(mesh, axis)
    slices = [cut(mesh, axis, across, at) for at in abscissae(mesh, axis, _SLICES)]
    slices = [s for s in slices if s.area > 0]
    if not slices:
        raise Refused("no-axis")
    slices.sort(key=lambda s: (-round(s.area, 1), s.x))
    whole, found = _section(slices, tolerance)
    if found is None:
        return _odd(mesh, axis, across, whole, slices, tolerance)
    section, axes, origin = _framed(found, axis, across)
    bar = _bar(mesh, whole, section, axes, origin, across, tolerance)
    strange = components(mesh, bar.side < 0)
    left, right, rest = end_planes(bar, strange, _diagnosed(mesh, axis, slices, tolerance))
    holes, notches = features.read(bar, rest, (*left, *right), _diagnosed(mesh, axis, slices, tolerance))
    body = Body(_named(section, bar.length, is_flat), bar.length, left, right, (), notches, holes)
    check_volume(bar, body)
    start = float((mesh.points @ axes[0]).min())
    return body, axes, np.array([start, *origin]) @ axes


def _diagnosed(mesh: Mesh, axis: FloatArray, slices: list[Slice], tolerance: float) -> oddities.Diagnosis:
    return oddities.Diagnosis(slices, tolerance)


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


def _section(slices: list[Slice], tolerance: float) -> tuple[Slice, Recognised | None]:
    """The fullest slice that is a known section; else the fullest, and None."""
    most = slices[0].area
    for candidate in slices:
        if candidate.area < 0.999 * most:
            break
        found = _recognised(candidate, tolerance)
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
    return recognise(corners, inners, tolerance)


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
    # a hair's growth closes the seams between slices that differ by the grain
    union = union_all(shapes_).buffer(tolerance / 2, join_style="mitre").buffer(-tolerance / 2, join_style="mitre")
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
    loops = [loop @ turn - np.array(origin) for loop in whole.loops]
    # seen against the first axis a loop runs the other way
    loops = [loop if (signed_area(loop) > 0) == (k == 0) else loop[::-1] for k, loop in enumerate(loops)]
    loops = [tidy_loop(loop, tolerance) for loop in loops]
    normals = mesh.normals @ axes.T
    side = _sides(mesh, points, normals, loops, tolerance)
    length = snap(float(points[:, 0].max()))
    return Bar(mesh, points, normals, section, length, loops[0], tuple(loops[1:]), side, tolerance)


def _sides(
    mesh: Mesh, points: FloatArray, normals: FloatArray, loops: list[FloatArray], tolerance: float
) -> IntArray:
    """The side of the section's outline on which each facet lies with all its points, -1: none."""
    starts = np.concatenate(loops)
    ends = np.concatenate([np.roll(loop, -1, axis=0) for loop in loops])
    along = ends - starts
    squared = np.maximum((along**2).sum(axis=1), 1e-18)
    offset = points[:, None, 1:] - starts[None, :, :]
    share = np.clip((offset * along).sum(axis=2) / squared, 0.0, 1.0)
    gap = np.hypot(*np.moveaxis(offset - share[:, :, None] * along, 2, 0))
    near = gap <= tolerance
    on = np.logical_and.reduceat(near[mesh.ring_points], mesh.starts, axis=0)
    # where a facet is on several sides (corners rounded in steps finer than the tolerance) its normal decides
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / np.sqrt(squared)[:, None]
    facing = normals[:, 1:] @ outward.T
    score = np.where(on & (facing > 0.5), facing, -1.0)
    best = score.argmax(axis=1)
    good = (score.max(axis=1) > 0.5) & (np.abs(normals[:, 0]) < 0.5)
    return np.where(good, best, -1).astype(np.int64)


def _named(section: Section, length: float, is_flat: IsFlat) -> Section:
    """A rectangle is a flat or a plate by its name and sizes."""
    if section.shape != FLAT or is_flat(section.h, section.tw, length):
        return section
    return shapes.plate(section.h, section.tw)


def _odd(
    mesh: Mesh, axis: FloatArray, across: FloatArray, whole: Slice, slices: list[Slice], tolerance: float
) -> tuple[Body, FloatArray, FloatArray]:
    """A bar of no known shape, read where it is square or skew cut and nothing else; else refused, saying what it is."""
    diagnosis = oddities.Diagnosis(slices, tolerance)
    diagnosis.refuse_section(whole)
    outline = tidy_loop(whole.outers[0], tolerance)
    corners = [(float(x), float(y)) for x, y in outline]
    inners = [[(float(x), float(y)) for x, y in tidy_loop(loop, tolerance)] for loop in whole.inners]
    section = shapes.other(corners, inners)
    low = outline.min(axis=0)
    axes = np.array([axis, *across])
    bar = _bar(mesh, whole, section, axes, (float(low[0]), float(low[1])), across, tolerance)
    left, right, rest = end_planes(bar, components(mesh, bar.side < 0), diagnosis)
    if rest:
        diagnosis.refuse_changes()
        raise Refused("odd-holes", section.designation)
    body = Body(section, bar.length, left, right)
    check_volume(bar, body)
    start = float((mesh.points @ axis).min())
    return body, axes, np.array([start, float(low[0]), float(low[1])]) @ axes


def bar_mask(bar: Bar) -> Mask:
    """The facets that lie on the section's outline."""
    return np.asarray(bar.side >= 0)
