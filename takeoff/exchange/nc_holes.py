"""Holes (BO) of a numerical control file, and sharp-cornered openings (IK), which BO cannot describe.

A line is ``face x[ref] y d t[l b h w]``: absolute place, diameter, depth (0: through). A slot or rectangle stands
where its first end arc has its centre; b and h are distances between centres, overall lengths less the diameter; w
is the angle of b, anti-clockwise as seen from outside. A countersink is a line of its own, diameter at the surface
with an ``s`` in front and its depth, b and h 0, w the full angle, followed by the hole through at the same place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import atan2, cos, degrees, pi, radians, sin, tan
from textwrap import wrap
from typing import Final

from takeoff.exchange.nc_codes import (
    COMMENT,
    COUNTERSINK_ASSUMED,
    COUNTERSINK_LEFT_OUT,
    HOLE_LEFT_OUT,
    SLOT_SENSE,
    number,
)
from takeoff.exchange.nc_contours import contour
from takeoff.exchange.nc_frames import BEHIND, FRONT, Placing
from takeoff.exchange.reaming import as_punched, reaming_words
from takeoff.exchange.sides import Side
from takeoff.outlines import TWO_SIDED
from takeoff.queries import Query, query
from takeoff.sections.loops import Corner
from takeoff.steel import Hole, Piece
from takeoff.units import COINCIDENCE_MM

Skip = Callable[[Piece, Hole], str | None]
"""Why the line cannot make a hole, as the end of a sentence; None where it can."""

_ANGLE_DEG: Final = 1e-3
_COMMENT_WIDE: Final = 50
"""Characters of labels in one line of comment."""


def holes(
    piece: Piece,
    placing: Placing,
    sunk: Mapping[str, Side],
    countersink_deg: float,
    skip: Skip | None = None,
) -> tuple[list[str], list[Query], list[str]]:
    """The BO block and IK blocks of a piece, a query for everything that is not in them as the lists have it, and the
    labels of the holes that are not in them at all.

    ``sunk`` says which side countersinks are on. A hole that is reamed has the diameter punched first. Holes that
    ``skip`` gives a reason for are left out, with a comment for those of one reason and one query for the mark.
    """
    drilled: list[str] = []
    cut: list[str] = []
    asked: list[Query] = []
    left_out: dict[str, list[str]] = {}
    written: list[Hole] = []
    no_sink: dict[str, list[str]] = {}
    slots: list[str] = []
    for finished in piece.holes:
        hole = as_punched(finished)
        side = sunk.get(hole.label)
        reason = _why_not(piece, placing, finished, side, skip)
        if reason:
            left_out.setdefault(reason, []).append(hole.label)
            continue
        written.append(finished)
        if hole.kind in ("slot", "rectangle") and hole.slot_length > hole.diameter + COINCIDENCE_MM:
            angle = _angle(placing, hole)
            if placing.seats[hole.face].seen < 0 and _has_sense(hole, angle):
                slots.append(hole.label)
            if hole.kind == "rectangle" and hole.diameter < COINCIDENCE_MM:
                cut += _opening(placing, hole)
            else:
                drilled.append(_slot_line(placing, hole, angle))
        elif hole.kind == "blind" and side is not None:
            drilled.append(_round_line(placing, hole, _letter(placing, hole, side), side.depth or 0.0))
        elif hole.kind == "countersunk":
            lines, why = _countersunk(piece, placing, hole, side, countersink_deg)
            drilled += lines
            if why:
                no_sink.setdefault(why, []).append(hole.label)
        else:
            drilled.append(_round_line(placing, hole, placing.seats[hole.face].letter))
    if any(line.split()[3].startswith("s") for line in drilled):
        asked.append(query(COUNTERSINK_ASSUMED, piece.mark, f"{countersink_deg:g}", piece_mark=piece.mark))
    if slots:
        asked.append(query(SLOT_SENSE, ", ".join(slots), piece.mark, piece_mark=piece.mark))
    if no_sink:
        told = "; ".join(f"{', '.join(names)}: {why}" for why, names in no_sink.items())
        asked.append(query(COUNTERSINK_LEFT_OUT, piece.mark, told, piece_mark=piece.mark))
    gone = [name for names in left_out.values() for name in names]
    labels = [", ".join(names) for names in left_out.values()]
    if left_out:
        told = "; ".join(f"{names}: {reason}" for names, reason in zip(labels, left_out, strict=True))
        asked.append(query(HOLE_LEFT_OUT, piece.mark, told, piece_mark=piece.mark))
    comments = [f"{COMMENT} NOT IN THIS FILE: holes {part}" for names in labels for part in wrap(names, _COMMENT_WIDE)]
    comments += [f"{COMMENT} REAM AFTER: {words}." for words in reaming_words(piece, written)]
    return [*comments, *(["BO", *drilled] if drilled else []), *cut], asked, gone


def _round_line(placing: Placing, hole: Hole, letter: str, depth: float = 0.0) -> str:
    return f"{_place(placing, hole, letter)} {number(hole.diameter):>9} {number(depth):>8}"


def _countersunk(
    piece: Piece, placing: Placing, hole: Hole, side: Side | None, angle: float
) -> tuple[list[str], str | None]:
    """The lines of a countersunk hole, and why its countersink is not among them."""
    wall = next(face.thickness for face in piece.faces if face.name == hole.face)
    depth = (hole.width - hole.diameter) / 2 / tan(radians(angle / 2))
    why = None
    if depth <= 0:
        why = "its diameter at the surface is not known"
    elif depth > wall + COINCIDENCE_MM:
        why = f"with {angle:g} degrees it would be deeper than the wall"
    elif side is None:
        why = "which side it is on is not known"
    elif side.far and hole.face not in TWO_SIDED:
        why = "it is open toward the inside of its face"
    if why:
        return [_round_line(placing, hole, placing.seats[hole.face].letter)], why
    letter = _letter(placing, hole, side)
    mouth = f"{_place(placing, hole, letter)} {'s' + number(hole.width):>9} {number(depth):>8}"
    return [f"{mouth} {number(0.0)} {number(0.0)} {number(angle)}", _round_line(placing, hole, letter)], None


def _why_not(piece: Piece, placing: Placing, hole: Hole, side: Side | None, skip: Skip | None) -> str | None:
    """Why a hole cannot be in the file, as the end of a sentence."""
    if hole.face not in placing.seats:
        return f"its face {hole.face} has no place in such a file"
    if hole.kind == "blind" and (side is None or side.depth is None):
        return "how deep this blind hole goes is not known"
    if hole.kind == "blind" and side is not None and side.far and hole.face not in TWO_SIDED:
        return "it is open toward the inside of its face"
    if hole.kind != "rectangle" and hole.diameter < COINCIDENCE_MM:
        return "its diameter is not known"
    if hole.kind == "rectangle" and not 0 < hole.diameter + COINCIDENCE_MM < hole.slot_length:
        return "its sizes make no opening"
    sharp = hole.kind == "rectangle" and hole.diameter < COINCIDENCE_MM
    if sharp and hole.face == "wall" and not all(0 <= q <= _girth(placing) for _, q, _ in _corners(placing, hole)):
        return "it lies across the line where the development of a round begins"
    return skip(piece, hole) if skip else None


def _letter(placing: Placing, hole: Hole, side: Side | None) -> str:
    """The face that a hole on one side of the wall is open to."""
    letter = placing.seats[hole.face].letter
    # A plate's placing tells which of its sides lies in front.
    if side is None or side.far == placing.over:
        return letter
    return {FRONT: BEHIND, BEHIND: FRONT}[letter]


def _place(placing: Placing, hole: Hole, letter: str, dx: float = 0.0, dq: float = 0.0) -> str:
    """Face and place of a line, ``dx`` and ``dq`` mm from the hole's middle."""
    x, q = placing.point(hole.face, hole.x, hole.across)
    return f"  {letter} {number(x + dx):>10}{placing.seats[hole.face].edge} {number(q + dq):>10}"


def _angle(placing: Placing, hole: Hole) -> float:
    """The angle of a slot in degrees, 0 <= w < 180, anti-clockwise as seen from outside."""
    seat = placing.seats[hole.face]
    lean = radians(hole.slot_angle)
    w = degrees(atan2(seat.seen * seat.sign * sin(lean), placing.x_sign * cos(lean))) % 180.0
    return 0.0 if w > 180.0 - _ANGLE_DEG or w < _ANGLE_DEG else w


def _has_sense(hole: Hole, angle: float) -> bool:
    """Whether it matters which way round an angle is counted."""
    return angle > _ANGLE_DEG if hole.kind == "slot" else True


def _slot_line(placing: Placing, hole: Hole, angle: float) -> str:
    """A slot or a rectangle with rounded corners, from the centre of its first end arc."""
    seat = placing.seats[hole.face]
    b = hole.slot_length - hole.diameter
    h = max(hole.width - hole.diameter, 0.0) if hole.kind == "rectangle" else 0.0
    dx, dq = _start(angle, seat.seen, b, h)
    if hole.face == "wall":
        # Before the datum line of a bar or tube the development goes on from its other edge.
        dq += _girth(placing) * (placing.point(hole.face, hole.x, hole.across)[1] + dq < 0)
    return (
        f"{_place(placing, hole, seat.letter, dx, dq)} {number(hole.diameter):>9} {number(0.0) + 'l':>8} "
        f"{number(b)} {number(h)} {number(angle)}"
    )


def _start(angle: float, seen: int, b: float, h: float) -> tuple[float, float]:
    """From the middle of a slot or rectangle to the centre of its first end arc, in (x, q).

    b runs along ``angle`` and h a quarter turn further, both anti-clockwise as seen from outside.
    """
    c, s = cos(radians(angle)), sin(radians(angle))
    return -(b * c - h * s) / 2, -seen * (b * s + h * c) / 2


def _girth(placing: Placing) -> float:
    """The outer circumference of a round, as wide as its development, mm."""
    return pi * placing.height


def _opening(placing: Placing, hole: Hole) -> list[str]:
    """A rectangle with sharp corners as an inner contour."""
    seat = placing.seats[hole.face]
    return contour("IK", seat.letter, seat.edge, _corners(placing, hole), seat.seen)


def _corners(placing: Placing, hole: Hole) -> list[Corner]:
    """Corners of a rectangle in the file's (x, q), mm."""
    c, s = cos(radians(hole.slot_angle)), sin(radians(hole.slot_angle))
    corners = []
    for along, aside in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)):
        dx, da = along * hole.slot_length, aside * hole.width
        x, q = placing.point(hole.face, hole.x + dx * c - da * s, hole.across + dx * s + da * c)
        corners.append((x, q, 0.0))
    return corners
