"""How gauges, grinds, bends and routings are worded, alike in the tables and on the sheets."""

from __future__ import annotations

from takeoff.rules.punching import PUNCH
from takeoff.steel import FlangeBend, GaugeLine, HeelGrind, Hole, Piece
from takeoff.units import millimetres


def routing_words(piece: Piece) -> str:
    """``shear 2; punch 12; skew 1``: what each station does to one piece."""
    totals: dict[str, int] = {}
    for step in piece.routing:
        totals[step.station] = totals.get(step.station, 0) + step.each
    return "; ".join(f"{station} {number}" for station, number in totals.items())


def size_to_punch(hole: Hole) -> float:
    """The punch's diameter (a slot's width) in mm: less than the hole's where it is reamed; 0: not punched."""
    return hole.diameter if hole.make == PUNCH else hole.punch_mm


def stamp_words(piece: Piece) -> str:
    """The face of the stamp, and that it is the far side; empty where there is none."""
    if piece.stamp is None:
        return ""
    return f"{piece.stamp.face}, far side" if piece.stamp.far else piece.stamp.face


def gauge_words(piece: Piece) -> str:
    """The gauge lines that are not usual ones, and larger holes than usual; empty where all are usual."""
    return "; ".join(_gauge(line) for line in piece.gauges if line.deviation or line.hole)


def _gauge(line: GaugeLine) -> str:
    words = []
    if line.deviation:
        words.append(f"{millimetres(line.mm)}, usual {millimetres(line.usual)}")
    if line.hole:
        words.append(f"hole {millimetres(line.hole)}, usual up to {millimetres(line.largest)}")
    return f"{line.face} line {line.line}: {', '.join(words)} ({line.source})"


def grind_words(piece: Piece) -> str:
    """Where the heel is ground and how much; empty where it is not."""
    return "; ".join(grind_phrase(grind, piece.quantity) for grind in piece.heel_grinds)


def grind_phrase(grind: HeelGrind, quantity: int) -> str:
    """``x 0 to 300 to radius 12 or a chamfer of 12 x 45 degrees (2 of 4)``: one grind of a mark of so many pieces."""
    size = f"to radius {millimetres(grind.radius)}" if grind.radius else "to the root (radius not known: measure it)"
    if grind.chamfer:
        size += f" or a chamfer of {millimetres(grind.chamfer)} x 45 degrees"
    return f"x {millimetres(grind.x_from)} to {millimetres(grind.x_to)} {size}{_of_all(grind.members, quantity)}"


def bend_words(piece: Piece) -> str:
    """Which legs are opened or closed and by how much; empty where none is."""
    return "; ".join(bend_phrase(bend, piece.quantity) for bend in piece.flange_bends)


def bend_phrase(bend: FlangeBend, quantity: int) -> str:
    """``leg A, x 0 to 80: opened by 3.0 degrees (2 of 4)``: one bend of a mark of so many pieces."""
    word = "opened" if bend.degrees > 0 else "closed"
    span = f"x {millimetres(bend.x_from)} to {millimetres(bend.x_to)}"
    return f"leg {bend.face}, {span}: {word} by {abs(bend.degrees):.1f} degrees{_of_all(bend.members, quantity)}"


def _of_all(members: int, quantity: int) -> str:
    """How many of a mark's parts need it, where not all do."""
    return f" ({members} of {quantity})" if members < quantity else ""
