"""Bodies for the 3-D view: a mesh per piece mark, in the piece frame, millimetres.

Vocabulary: a *ring* is a closed loop of section points (u, v); a *wall* is one face of
a section with its thickness; a *loft* is the body between two loops with the same number
of points.

A piece whose ends are plane is its section's rings between two slanted ends. A plate, and
a piece with notches or clipped corners, is put together wall by wall from the outlines of
its faces, so that what is missing from a face is missing here too; root and toe radii are
left out then. Holes are not cut into the meshes: the page lays them on the faces. Tubes and
rounds are shown with square ends, whatever their cut.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from takeoff.review.triangles import triangulate
from takeoff.sections import loops, shapes
from takeoff.steel import CHS, OTHER, ROUND, Body, Face, FaceOutline, FloatArray, Piece, Plane, Section
from takeoff.units import COINCIDENCE_MM

IntArray = npt.NDArray[np.int64]
End = Callable[[FloatArray], FloatArray]
"""The x of an end at section points (n, 2)."""

FIT_MM = 0.5
"""A plane end explains the faces' outlines within this; more, and walls are drawn."""
CHORD_MM = 0.5
"""Arcs are drawn as chords no farther than this from the arc."""
ARC_STEP_DEG = 15.0
"""Step of the arcs of an outline that no piece mark has flattened already."""
CORNER_DEG = 35.0
"""A turn of a loop sharper than this is drawn as an edge; chords of an arc turn less."""


STRAIGHT_DEG = 0.2
"""A turn of an outline smaller than this is a stop on a straight edge."""


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """``points`` (n, 3) mm of the piece frame, ``triangles`` (m, 3) outward, ``edges`` (k, 2) to draw as lines."""

    points: FloatArray
    triangles: IntArray
    edges: IntArray

    @property
    def volume(self) -> float:
        """Signed volume in mm3, by the divergence theorem; where walls overlap they count twice."""
        a, b, c = (self.points[self.triangles[:, k]] for k in range(3))
        return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


def piece_mesh(piece: Piece) -> Mesh:
    """The body of a piece mark without its holes; raises ValueError where it has none that can be drawn."""
    if piece.section.shape in (CHS, ROUND):
        return prism(piece.section, _at(0.0), _at(piece.length))
    faces = {face.name: face for face in piece.faces}
    outlines = {o.face: o for o in piece.outlines if o.face in faces and len(o.points) >= 3}
    ends = _plane_ends(faces, outlines) if outlines else (_at(0.0), _at(piece.length))
    if ends is not None:
        return prism(piece.section, *ends)
    return joined([_wall(face, outlines.get(face.name), piece.length) for face in piece.faces])


def body_mesh(body: Body) -> Mesh:
    """The body of a part that belongs to no piece mark: its drawn outline or its section between its planes."""
    if len(body.outline) >= 2:
        points = loops.flatten([(v.x, v.across, v.bulge) for v in body.outline], ARC_STEP_DEG)
        near = np.column_stack((points[:, 0], np.zeros(len(points)), points[:, 1]))
        return loft([points], near, near + np.array([0.0, body.section.tw, 0.0]))
    return prism(body.section, _cut(body.left, 0.0, False), _cut(body.right, body.length, True))


def prism(section: Section, left: End, right: End) -> Mesh:
    """A section's rings between two ends; raises ValueError where its dimensions enclose no steel."""
    rings = [simplified(np.asarray(ring, dtype=float)) for ring in _rings(section)]
    points = np.concatenate(rings)
    return loft(rings, np.column_stack((left(points), points)), np.column_stack((right(points), points)))


def _rings(section: Section) -> tuple[FloatArray, ...]:
    if section.shape == OTHER and len(section.outline) < 3 and not shapes.faces(section):
        raise ValueError(f"section {section.designation!r} has no outline")
    try:
        return shapes.rings(section)
    except ValueError:
        # Measured radii that do not fit their corners: the view does without them.
        return shapes.rings(replace(section, r1=0.0, r2=0.0))


def loft(rings: Sequence[FloatArray], near: FloatArray, far: FloatArray) -> Mesh:
    """The body between ``near`` and ``far`` (n, 3), both running along ``rings`` (outer first, then inner)."""
    count = len(near)
    caps = triangulate(rings)
    sides: list[IntArray] = []
    edges: list[IntArray] = []
    start = 0
    for number, loop in enumerate(rings):
        here = np.arange(start, start + len(loop))
        if (loops.area([(x, y, 0.0) for x, y in loop]) < 0) == (number == 0):
            here = here[::-1]
        then = np.roll(here, -1)
        sides += [
            np.column_stack((here, then, then + count)),
            np.column_stack((here, then + count, here + count)),
        ]
        sharp = np.arange(start, start + len(loop))[_corners(loop)]
        edges += [
            np.column_stack((here, then)),
            np.column_stack((here, then)) + count,
            np.column_stack((sharp, sharp + count)),
        ]
        start += len(loop)
    triangles = np.concatenate([*sides, caps[:, ::-1], caps + count])
    mesh = Mesh(np.concatenate((near, far)), triangles, np.concatenate(edges))
    return mesh if mesh.volume >= 0 else Mesh(mesh.points, triangles[:, ::-1], mesh.edges)


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """Several meshes as one."""
    starts = np.cumsum([0, *(len(m.points) for m in meshes)])
    return Mesh(
        np.concatenate([m.points for m in meshes]),
        np.concatenate([m.triangles + s for m, s in zip(meshes, starts, strict=False)]),
        np.concatenate([m.edges + s for m, s in zip(meshes, starts, strict=False)]),
    )


def simplified(loop: FloatArray) -> FloatArray:
    """A loop without the points that lie within CHORD_MM of its chords; a view needs no finer arcs."""
    from shapely.geometry import Polygon

    polygon = Polygon(loop)
    coarse = polygon.simplify(CHORD_MM, preserve_topology=True)
    points = np.asarray(coarse.exterior.coords, dtype=float)[:-1]
    return points if len(points) >= 3 else loop


def _wall(face: Face, outline: FaceOutline | None, length: float) -> Mesh:
    if outline is None:
        points = np.array([(0.0, face.low), (length, face.low), (length, face.high), (0.0, face.high)])
        far = points
    else:
        points = np.asarray(outline.points, dtype=float)
        far = points
        if outline.far is not None and len(outline.far) == len(points):
            far = np.asarray(outline.far, dtype=float)
    inward = face.thickness * np.array([0.0, *face.inward])
    return loft([points], on_face(face, points), on_face(face, far) + inward)


def on_face(face: Face, points: FloatArray) -> FloatArray:
    """Points (n, 2) of (x, across) on the outside of a face, in the piece frame (n, 3)."""
    section = np.asarray(face.origin) + points[:, 1:2] * np.asarray(face.direction)
    return np.column_stack((points[:, 0], section))


def _plane_ends(faces: dict[str, Face], outlines: dict[str, FaceOutline]) -> tuple[End, End] | None:
    """The plane left and right end that the faces' outlines agree on, or None."""
    where: list[FloatArray] = []
    left: list[float] = []
    right: list[float] = []
    for name, outline in outlines.items():
        face = faces[name]
        points = _straightened(np.asarray(outline.points, dtype=float))
        if outline.far is not None or len(points) != 4:
            return None
        for across in (face.low, face.high):
            ends = points[np.abs(points[:, 1] - across) <= FIT_MM, 0]
            if len(ends) != 2:
                return None
            where.append(np.asarray(face.origin) + across * np.asarray(face.direction))
            left.append(float(ends.min()))
            right.append(float(ends.max()))
    first, last = _fitted(np.array(where), np.array(left)), _fitted(np.array(where), np.array(right))
    return None if first is None or last is None else (first, last)


def _fitted(where: FloatArray, x: FloatArray) -> End | None:
    # About the mean, so that a direction no sample varies in gets no slope (minimum norm).
    middle, mean = where.mean(axis=0), float(x.mean())
    slope = np.linalg.lstsq(where - middle, x - mean, rcond=1e-9)[0]
    if np.abs((where - middle) @ slope + mean - x).max() > FIT_MM:
        return None
    return lambda points: (points - middle) @ slope + mean


def _at(x: float) -> End:
    return lambda points: np.full(len(points), x)


def _cut(planes: tuple[Plane, ...], square: float, right: bool) -> End:
    """Where several planes end the body, the innermost at each section point; never beyond the square end."""

    def end(points: FloatArray) -> FloatArray:
        x = np.full(len(points), square)
        for plane in planes:
            nx, *across = plane.normal
            if abs(nx) < 1e-6:
                continue
            at = plane.point[0] - (points - np.asarray(plane.point[1:])) @ np.asarray(across) / nx
            x = np.minimum(x, at) if right else np.maximum(x, at)
        return x

    return end


def _turns(loop: FloatArray) -> FloatArray:
    """How much a loop turns at each of its points, degrees, 0 to 180."""
    ahead = np.roll(loop, -1, axis=0) - loop
    behind = np.roll(ahead, 1, axis=0)
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    turns: FloatArray = np.degrees(np.abs(np.arctan2(cross, np.einsum("ij,ij->i", behind, ahead))))
    return turns


def _corners(loop: FloatArray) -> npt.NDArray[np.bool_]:
    return _turns(loop) > CORNER_DEG


def _straightened(loop: FloatArray) -> FloatArray:
    """A loop without repeated points and without stops on its straight edges."""
    loop = loop[np.abs(loop - np.roll(loop, 1, axis=0)).max(axis=1) > COINCIDENCE_MM]
    return loop[_turns(loop) > STRAIGHT_DEG] if len(loop) >= 3 else loop
