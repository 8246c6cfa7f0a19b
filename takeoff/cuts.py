"""End cuts, clips, notches and outline corners of a piece, as rows a person can set a saw or a punch by.

Vocabulary
----------
skew      the whole end of a face, not square; ``size`` is how far it runs back along the piece
clip      a corner of a face cut off; ``size`` is what it takes of the end, along the end
bevel     a cut askew through the thickness of a flat or plate, or through a part of it; ``x`` is where it leaves the
          broad side that is seen, ``size`` is how far it runs back
notch     steel missing at an end or edge; ``x`` is its inner end, ``across`` its low side, ``size`` its height
outline   a corner of a plate; ``size`` is the radius of the arc that starts there, 0 for a straight edge

``x`` of a skew or clip is where the cut leaves the edge of the face, ``across`` that edge (a clip: where the cut meets
the end); ``angle`` is measured from square.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import atan2, degrees, hypot, pi

from takeoff.outlines import clip, face_loops, rectangle
from takeoff.sections.shapes import faces
from takeoff.steel import CHS, FLAT, PLATE, ROUND, Body, Cut, Face, FaceOutline, Plane, Point2, Vertex

SQUARE_MM = 0.05
"""An end that runs back by less over a face is square."""


def face_outlines(body: Body) -> tuple[FaceOutline, ...]:
    """The faces of a piece's body as they look from outside; a face that cuts split has several."""
    found = []
    for number, face in enumerate(faces(body.section)):
        loops = face_loops(body, (), number)
        far = face_loops(body, (), number, True) if body.section.shape in (FLAT, PLATE) and not body.outline else ()
        for k, loop in enumerate(loops):
            other = far[k] if k < len(far) else None
            if other is not None and len(other) == len(loop) and abs(other - loop).max() < SQUARE_MM:
                other = None
            found.append(FaceOutline(face.name, loop, other))
    return tuple(found)


def cuts_of(body: Body) -> tuple[Cut, ...]:
    """Rows of cuts.csv for a piece's body (holes are no matter here)."""
    if body.outline:
        rows = _outline_rows(body.outline)
    elif body.section.shape in (CHS, ROUND):
        rows = _round_rows(body)
    else:
        rows = [row for face in faces(body.section) for row in _end_rows(body, face)]
    rows += _notch_rows(body)
    rows = [_clean(row) for row in rows]
    ends = {"left": 0, "right": 1, "edge": 2}
    names = {face.name: k for k, face in enumerate(faces(body.section))}
    if body.outline:
        return tuple(rows)
    return tuple(
        sorted(rows, key=lambda c: (ends[c.end], names.get(c.face, 9), c.kind, round(c.x, 3), round(c.across, 3)))
    )


def _clean(row: Cut) -> Cut:
    """Without the noise of the model's coordinates: to a ten-thousandth of a millimetre, and no -0."""
    x, across, angle, size = (round(value, 4) + 0.0 for value in (row.x, row.across, row.angle, row.size))
    return replace(row, x=x, across=across, angle=angle, size=size)


def _outline_rows(outline: tuple[Vertex, ...]) -> list[Cut]:
    rows = []
    for before, here, after in zip((outline[-1], *outline[:-1]), outline, (*outline[1:], outline[0]), strict=True):
        incoming = atan2(here.across - before.across, here.x - before.x)
        outgoing = atan2(after.across - here.across, after.x - here.x)
        inner = 180.0 - degrees(outgoing - incoming)
        radius = 0.0
        if abs(here.bulge) > 1e-9:
            chord = hypot(after.x - here.x, after.across - here.across)
            radius = chord * (1 + here.bulge**2) / (4 * abs(here.bulge))
        rows.append(Cut("edge", "face", "outline", here.x, here.across, inner % 360.0, radius))
    return rows


def _end_rows(body: Body, face: Face) -> list[Cut]:
    rows: list[Cut] = []
    flat = body.section.shape in (FLAT, PLATE)
    for end, planes in (("left", body.left), ("right", body.right)):
        near = rectangle(face, body.length)
        for plane in planes:
            near = clip(near, face, plane, False)
        edges = _cut_edges(near, face, body.length, end)
        height = face.high - face.low
        for a, b in edges:
            run, rise = abs(a[0] - b[0]), abs(a[1] - b[1])
            # rounded: a cut square to this face meets both edges at one x, and noise must not choose between them
            inner, outer = sorted((a, b), key=lambda p: (-round(_setback(p, body.length, end), 3), p[1]))
            angle = degrees(atan2(run, rise))
            if flat and run < SQUARE_MM:
                continue  # where a bevel leaves the side seen: its own row says so
            if rise > height - SQUARE_MM:
                rows.append(Cut(end, face.name, "skew", inner[0], inner[1], angle, run))
            else:
                rows.append(Cut(end, face.name, "clip", inner[0], outer[1], angle, rise))
        if flat:
            rows += [row for plane in planes for row in _bevel(plane, face, body.length, end)]
    return rows


def _setback(point: Point2, length: float, end: str) -> float:
    return point[0] if end == "left" else length - point[0]


def _cut_edges(loop: list[Point2], face: Face, length: float, end: str) -> list[tuple[Point2, Point2]]:
    """Edges of the loop that a cut made: neither along the piece's edges nor its square end."""
    found = []
    for a, b in pairwise([*loop, loop[0]] if loop else []):
        along = abs(a[1] - b[1]) < SQUARE_MM and min(abs(a[1] - face.low), abs(a[1] - face.high)) < SQUARE_MM
        if along:
            continue
        back = max(_setback(a, length, end), _setback(b, length, end))
        other = max(_setback(a, length, "right" if end == "left" else "left"),
                    _setback(b, length, "right" if end == "left" else "left"))  # fmt: skip
        if back < SQUARE_MM or other < SQUARE_MM:
            continue
        found.append((a, b))
    return found


def _bevel(plane: Plane, face: Face, length: float, end: str) -> list[Cut]:
    """The row of a plane that leans through the thickness of a flat; none where it is square to its broad side."""
    nx, nu, nv = plane.normal
    lean = abs(nu / nx)
    if lean * face.thickness < SQUARE_MM:
        return []

    def setback(across: float, depth: float) -> float:
        u = face.origin[0] + across * face.direction[0] + depth * face.inward[0]
        v = face.origin[1] + across * face.direction[1] + depth * face.inward[1]
        x = plane.point[0] - (nu * (u - plane.point[1]) + nv * (v - plane.point[2])) / nx
        return max(x if end == "left" else length - x, 0.0)

    sides = [(setback(across, 0.0), setback(across, face.thickness), across) for across in (face.low, face.high)]
    near, far, across = max(sides, key=lambda s: (round(abs(s[0] - s[1]), 3), -s[2]))
    angle = degrees(atan2(abs(nu), hypot(nx, nv)))
    return [Cut(end, face.name, "bevel", near if end == "left" else length - near, across, angle, abs(near - far))]


def _round_rows(body: Body) -> list[Cut]:
    rows = []
    for end, planes in (("left", body.left), ("right", body.right)):
        for plane in planes:
            lean = hypot(plane.normal[1], plane.normal[2])
            angle = degrees(atan2(lean, abs(plane.normal[0])))
            run = body.section.h * lean / abs(plane.normal[0])
            if run > SQUARE_MM:
                around = atan2(plane.normal[2], -plane.normal[1]) % (2 * pi)
                x = run if end == "left" else body.length - run
                rows.append(Cut(end, "wall", "skew", x, around * body.section.h / 2, angle, run))
    return rows


def _notch_rows(body: Body) -> list[Cut]:
    rows = []
    bounds = {face.name: face for face in faces(body.section)}
    for notch in body.notches:
        xs = [p[0] for p in notch.loop]
        acrosses = [p[1] for p in notch.loop]
        face = bounds[notch.face]
        if min(xs) < SQUARE_MM:
            end, x = "left", max(xs)
        elif max(xs) > body.length - SQUARE_MM:
            end, x = "right", min(xs)
        else:
            end, x = "edge", min(xs)
        low, high = max(min(acrosses), face.low), min(max(acrosses), face.high)
        rows.append(Cut(end, notch.face, "notch", x, low, 0.0, high - low))
    return rows
