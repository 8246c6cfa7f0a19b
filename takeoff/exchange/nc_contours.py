"""Outer contours (AK) of the faces that are no full rectangle, and inner ones (IK).

A contour is closed (its first point stands again at its end), every other point stands once. Outer ones run
anti-clockwise, inner ones clockwise, as seen from outside the face: so outer ones of v and u run anti-clockwise in
(x, q), those of o and h clockwise. A radius stands with the point where its arc begins, positive where the arc runs
anti-clockwise as seen from outside; no arc exceeds half a circle.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan, ceil, cos, hypot, sin, tan
from typing import Final

from takeoff import steel
from takeoff.exchange.bevels import before_bevelling, by_hand
from takeoff.exchange.chords import drawn_loop
from takeoff.exchange.nc_codes import number
from takeoff.exchange.nc_frames import BEHIND, BOTTOM, FRONT, TOP, Placing
from takeoff.sections import loops
from takeoff.sections.loops import Corner
from takeoff.steel import Piece

_ORDER: Final = (TOP, FRONT, BOTTOM, BEHIND)
_WHOLE_MM: Final = 0.05
"""A face whose outline keeps within this of its rectangle is a full one."""
_LONGEST_ARC: Final = 2.9
"""Radians: an arc nearer to half a circle is written as two, so that rounding never makes its chord too long."""


class NoContour(Exception):
    """An outline that contours cannot describe; the message ends the sentence "No file is written ...:"."""


def outer_contours(piece: Piece, placing: Placing) -> list[str]:
    """The AK blocks of a piece: of every face as soon as one is not a full rectangle, else none.

    Raises NoContour where cuts split a face or take it away.
    """
    shapes = written_outlines(piece)
    if all(_is_rectangle(piece, name, loop) for name, loop in shapes.items()):
        return []
    lines: list[str] = []
    for name in sorted(shapes, key=lambda n: _ORDER.index(placing.seats[n].letter)):
        seat = placing.seats[name]
        loop = turned([(*placing.point(name, x, across), bulge) for x, across, bulge in shapes[name]], placing, name)
        lines += contour("AK", seat.letter, seat.edge, loop, seat.seen)
    return lines


def written_outlines(piece: Piece) -> dict[str, list[Corner]]:
    """Corners (x, across, bulge) of each face's outline, anti-clockwise in (x, across)."""
    # An opening at a plate's edge is in the drawn face only.
    if piece.outline and not any(cut.kind == "notch" for cut in piece.cuts):
        return {"face": [(v.x, v.across, v.bulge) for v in piece.outline]}
    if piece.section.shape in (steel.CHS, steel.ROUND):
        # The header's angles describe the ends of a round; nothing else of it is cut.
        return {}
    found: dict[str, list[Corner]] = {}
    for drawn in piece.outlines:
        if drawn.face in found:
            raise NoContour(f"cuts part its face {drawn.face} in two, which one contour cannot say")
        found[drawn.face] = drawn_loop(drawn.points)
    for face in piece.faces:
        if len(found.get(face.name, ())) < 3:
            raise NoContour(f"cuts leave nothing of its face {face.name}, which no contour can say")
    if ends := by_hand(piece):
        whole = before_bevelling(piece, ends)
        if whole is None:
            raise NoContour("an end is bevelled through a part of its thickness or from both sides, and cut besides")
        found["face"] = whole
    return found


def _is_rectangle(piece: Piece, name: str, loop: Sequence[Corner]) -> bool:
    face = next(f for f in piece.faces if f.name == name)
    box = [(x, a) for x in (0.0, piece.length) for a in (face.low, face.high)]
    return len(loop) == 4 and all(
        not bulge and min(max(abs(x - bx), abs(a - ba)) for bx, ba in box) < _WHOLE_MM for x, a, bulge in loop
    )


def turned(loop: list[Corner], placing: Placing, name: str) -> list[Corner]:
    """A loop moved into (x, q): its arcs bow the other way where the move mirrors the face's own coordinates."""
    if placing.x_sign * placing.seats[name].sign < 0:
        return [(x, q, -bulge) for x, q, bulge in loop]
    return loop


def contour(code: str, letter: str, edge: str, loop: Sequence[Corner], seen: int) -> list[str]:
    """An AK or IK block of a loop (x, q, bulge) in mm; ``seen`` as in :class:`~takeoff.exchange.nc_frames.Seat`."""
    outer = code == "AK"
    corners = _distinct(_with_short_arcs(loop))
    anticlockwise = (loops.area(corners) > 0) == (seen > 0)
    if anticlockwise != outer:
        corners = backwards(corners)
    first = min(range(len(corners)), key=lambda k: (round(corners[k][0], 2), round(corners[k][1], 2)))
    corners = [*corners[first:], *corners[:first]]
    lines = [code]
    for here, there in loops.edges(corners):
        lines.append(_line(letter, edge, here, _radius(here, there) * seen))
    lines.append(_line(letter, edge, corners[0], 0.0))
    return lines


def _line(letter: str, edge: str, corner: Corner, radius: float) -> str:
    return f"  {letter} {number(corner[0]):>10}{edge} {number(corner[1]):>10} {number(radius):>10}"


def _radius(here: Corner, there: Corner) -> float:
    """Radius of the arc from one corner to the next, signed like its bulge; 0 for a straight edge."""
    if not here[2]:
        return 0.0
    bulge = here[2]
    return hypot(there[0] - here[0], there[1] - here[1]) * (1 + bulge * bulge) / (4 * bulge)


def backwards(loop: Sequence[Corner]) -> list[Corner]:
    """The loop in the other direction: an edge then starts at its other end, and its arc turns the other way."""
    count = len(loop)
    return [(loop[k][0], loop[k][1], -loop[k - 1][2]) for k in range(count - 1, -1, -1)]


def _with_short_arcs(loop: Sequence[Corner]) -> list[Corner]:
    """Arcs of more than 2.9 radians parted into equal ones."""
    found: list[Corner] = []
    for (ax, ay, bulge), (bx, by, _) in loops.edges(loop):
        angle = 4 * atan(bulge)
        parts = max(1, ceil(abs(angle) / _LONGEST_ARC))
        if parts == 1:
            found.append((ax, ay, bulge))
            continue
        # The centre lies to the left of the chord at this distance, on its right where that is negative.
        off = (1 / bulge - bulge) / 4
        cx, cy = (ax + bx) / 2 - off * (by - ay), (ay + by) / 2 + off * (bx - ax)
        for k in range(parts):
            c, s = cos(angle * k / parts), sin(angle * k / parts)
            x, y = cx + c * (ax - cx) - s * (ay - cy), cy + s * (ax - cx) + c * (ay - cy)
            found.append((x, y, tan(angle / parts / 4)))
    return found


def _distinct(loop: Sequence[Corner]) -> list[Corner]:
    """Corners that print alike once: points of a contour stand once, except the first."""
    found: list[Corner] = []
    for corner in loop:
        if found and (number(found[-1][0]), number(found[-1][1])) == (number(corner[0]), number(corner[1])):
            # The edge between them is shorter than what is printed; the later corner begins the edge that matters.
            found[-1] = (found[-1][0], found[-1][1], corner[2])
            continue
        found.append(corner)
    while len(found) > 1 and (number(found[0][0]), number(found[0][1])) == (number(found[-1][0]), number(found[-1][1])):
        found.pop()
    return found
