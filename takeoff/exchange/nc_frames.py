"""From the piece frame to the coordinates of the numerical control file: one function a shape.

The standard's axes
-------------------
x runs along the piece in the direction of feed, 0 at its smallest x; Y runs from the plane of face u up to the plane
of face o; Z from the plane of face h to the plane of face v. The lowest Y and Z of the section are 0. Faces v
(front) and h (behind) are read in (x, Y), faces o (top) and u (bottom) in (x, Z).

x, Y, Z are right-handed: somebody who looks at v sees x to the right and Y up, and Z toward him. So v and u are seen
from outside as their coordinates run (anti-clockwise is anti-clockwise), o and h the other way round.

The piece frame (:mod:`takeoff.steel`) has x to the right, v up and u away from the viewer of the first face. Both
frames are right-handed, so that a shape whose first face is the front and whose lower face is the bottom has, with
no mirror anywhere,

    x = x        Y = v - (lowest v)        Z = (highest u) - u

and every shape but two is laid so. The exceptions (a T, and what a setting or a countersink turns round) are proper
turns by half a circle, never mirror images. What follows for each face stands beside it below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi
from typing import Final

from takeoff import steel
from takeoff.sections.outlines import is_lipped_channel
from takeoff.steel import Face, Section

FRONT, TOP, BOTTOM, BEHIND = "v", "o", "u", "h"
LOW, HIGH, AXIS = "u", "o", "s"
"""Reference letters: measure from the edge where the face's second coordinate is low, high, or from its axis."""

CODES: Final = ("I", "L", "U", "B", "RU", "RO", "M", "C", "T", "SO")
"""Profile codes of the standard. RO is the round tube, RU the solid round."""


@dataclass(frozen=True, slots=True)
class Seat:
    """Where a face of the piece lies in the file: ``letter``, and q = ``sign`` * across + ``shift`` in mm.

    ``seen`` is +1 where somebody outside sees (x, q) as drawn on paper, x right and q up, and -1 where
    he sees it mirrored. ``edge`` is the reference letter: the edge that holes of this face are measured from.
    """

    letter: str
    sign: float
    shift: float
    seen: int
    edge: str


@dataclass(frozen=True, slots=True)
class Placing:
    """How a piece lies in its file: header sizes in mm and the seat of each of its faces.

    x in the file = ``x_sign`` * x + ``x_shift``. ``over``: a flat or plate that lies on its other side.
    """

    code: str
    height: float
    width: float
    flange: float
    web: float
    radius: float
    seats: dict[str, Seat]
    x_sign: float = 1.0
    x_shift: float = 0.0
    over: bool = False

    def x(self, x: float) -> float:
        """The file's x in mm of a piece's x."""
        return self.x_sign * x + self.x_shift

    def point(self, face: str, x: float, across: float) -> tuple[float, float]:
        """The file's (x, q) in mm of a point on a face of the piece."""
        seat = self.seats[face]
        return self.x(x), seat.sign * across + seat.shift


def place(
    section: Section,
    length: float,
    *,
    u_datum: str = "toe",
    v_leg: str = "longer",
    over: bool = False,
) -> Placing | None:
    """How a piece of this section and length lies in its file; None for a shape that has no place in one.

    ``u_datum`` and ``v_leg`` are those of the settings and matter to angles only. ``over`` lays a flat or plate on
    its other side, for countersinks that face away from the viewer.
    """
    if section.shape == steel.ANGLE:
        return _angle(section, length, u_datum, v_leg)
    if section.shape == steel.CHANNEL:
        return _channel(section, "U")
    if is_lipped_channel(section):
        return _channel(section, "C")
    if section.shape == steel.I_SHAPE:
        return _i_shape(section)
    if section.shape == steel.T_SHAPE:
        return _tee(section)
    if section.shape in (steel.FLAT, steel.PLATE):
        return _plate(section, over)
    if section.shape == steel.RHS:
        return _rhs(section)
    if section.shape in (steel.CHS, steel.ROUND):
        return _round(section)
    return None


def _angle(s: Section, length: float, u_datum: str, v_leg: str) -> Placing:
    """Leg A (the longer) is the front, heel at the bottom; leg B is the bottom, its toe behind.

    v: Y = v, and ``across`` of leg A is v. A gauge g from the heel is q = g; the heel is the low edge.
    u: Z = b - u, and ``across`` of leg B is u. A gauge g from the heel is q = b - g; the heel is the high edge,
       because the zero point of Z is the toe of that leg. Derived from the standard's rule for face letters and
       its zero point, not stated in its text for angles: ``u_datum`` = "heel" writes q = g for a control that
       reads the second leg from its heel, and then that face is seen mirrored.

    ``v_leg`` = "shorter" lays leg B in front: x' = L - x, v' = u, u' = v, the half turn about the bisector of the
    legs (the determinant of (x, u, v) -> (-x, v, u) is +1). The same piece with its ends and its legs exchanged.
    """
    toe = u_datum == "toe"
    front, under, h, b = "A", "B", s.h, s.b
    if v_leg == "shorter":
        front, under, h, b = "B", "A", s.b, s.h
    seats = {
        front: Seat(FRONT, 1.0, 0.0, 1, LOW),
        under: Seat(BOTTOM, -1.0, b, 1, HIGH) if toe else Seat(BOTTOM, 1.0, 0.0, -1, LOW),
    }
    laid = Placing("L", h, b, s.tw, s.tw, s.r1, seats)
    return replace(laid, x_sign=-1.0, x_shift=length) if v_leg == "shorter" else laid


def _channel(s: Section, code: str) -> Placing:
    """The back of the web is the front, flanges away from it: Y = v, Z = b - u.

    web -> v: q = v = across. top -> o and bottom -> u: ``across`` is u from the back of the web, so q = b - across:
    the toes are at 0, the back of the web is the high edge.
    """
    seats = {
        "web": Seat(FRONT, 1.0, 0.0, 1, LOW),
        "top": Seat(TOP, -1.0, s.b, -1, HIGH),
        "bottom": Seat(BOTTOM, -1.0, s.b, 1, HIGH),
    }
    return Placing(code, s.h, s.b, s.tf or s.tw, s.tw, s.r1, seats)


def _i_shape(s: Section) -> Placing:
    """The web is the front, Y = v; Z = b / 2 - u with b the wider flange, u from the web's centre line.

    web -> v: q = v = across. top -> o and bottom -> u: ``across`` is -u (toward the viewer), so q = b / 2 + across,
    measured from the flange's axis. Flanges that differ make a special section (SO): a header has room for one.
    """
    half = s.b / 2
    seats = {
        "web": Seat(FRONT, 1.0, 0.0, 1, LOW),
        "top": Seat(TOP, 1.0, half, -1, AXIS),
        "bottom": Seat(BOTTOM, 1.0, half, 1, AXIS),
    }
    return Placing("SO" if s.b2 else "I", s.h, s.b, s.tf, s.tw, s.r1, seats)


def _tee(s: Section) -> Placing:
    """The flange is the top, faces o and h. The piece frame has it at the bottom: half a turn about x,
    (u, v) -> (-u, h - v), brings it up and the side of the stem that was seen behind: Y = h - v, Z = b / 2 + u.

    stem -> h: ``across`` is v, so q = h - across; the flange is the high edge. bottom -> o: ``across`` is -u, so
    q = b / 2 - across, measured from the axis.
    """
    seats = {
        "stem": Seat(BEHIND, -1.0, s.h, -1, HIGH),
        "bottom": Seat(TOP, -1.0, s.b / 2, -1, AXIS),
    }
    return Placing("T", s.h, s.b, s.tf, s.tw, s.r1, seats)


def _plate(s: Section, over: bool) -> Placing:
    """The broad side that is seen is the front: q = v = across. ``over``: half a turn about x, q = h - across.

    By the standard a plate has no flange: flange width and thickness are 0.
    """
    seat = Seat(FRONT, -1.0, s.h, 1, HIGH) if over else Seat(FRONT, 1.0, 0.0, 1, LOW)
    return Placing("B", s.h, 0.0, 0.0, s.tw, 0.0, {"face": seat}, over=over)


def _rhs(s: Section) -> Placing:
    """Front wall in front, Y = v, Z = b - u.

    front -> v and back -> h: q = v = across. top -> o and bottom -> u: ``across`` is u from the front wall, so
    q = b - across; the front wall is the high edge.
    """
    seats = {
        "front": Seat(FRONT, 1.0, 0.0, 1, LOW),
        "top": Seat(TOP, -1.0, s.b, -1, HIGH),
        "back": Seat(BEHIND, 1.0, 0.0, -1, LOW),
        "bottom": Seat(BOTTOM, -1.0, s.b, 1, HIGH),
    }
    return Placing("M", s.h, s.b, s.tw, s.tw, s.r1, seats)


def _round(s: Section) -> Placing:
    """The wall, developed, is a plate in front as wide as the outer circumference: q = across.

    ``across`` runs upward as the viewer outside sees it, so the development is not mirrored. A tube's sizes are
    its diameter, twice, and its wall; a solid round has no wall. (The standard's text gives no sizes for rounds.)
    """
    code = "RO" if s.shape == steel.CHS else "RU"
    return Placing(code, s.h, s.h, s.tw, s.tw, 0.0, {"wall": Seat(FRONT, 1.0, 0.0, 1, LOW)})


def developed_width(face: Face, section: Section) -> float:
    """How far q of a face goes, mm: its width, or a round's outer circumference."""
    return pi * section.h if face.name == "wall" else face.high - face.low
