"""How gauges, grinds, bends and routings are worded, alike in the tables and on the sheets.

In the language spoken: tables are written in English. What a stage keeps is a phrase.
"""

from __future__ import annotations

from typing import Final

from takeoff.rules.punching import PUNCH
from takeoff.steel import FlangeBend, GaugeLine, HeelGrind, Hole, Piece
from takeoff.units import millimetres
from takeoff.words import Figure, Phrase, later, phrase, say, spoken

_STATIONS: Final = {
    "elsewhere": later("elsewhere"),
    "shear": later("shear"),
    "stamp": later("stamp"),
    "punch": later("punch"),
    "slot": later("slot"),
    "drill": later("drill"),
    "ream": later("ream"),
    "cut opening": later("cut opening"),
    "skew": later("skew"),
    "clip": later("clip"),
    "notch": later("notch"),
    "bevel": later("bevel"),
    "heel grind": later("heel grind"),
    "flange opening": later("flange opening"),
    "flange closing": later("flange closing"),
}


def station_name(station: str) -> str:
    """A station of the routing, in the language spoken."""
    return say(_STATIONS[station])


def routing_words(piece: Piece) -> str:
    """``shear 2; punch 12; skew 1``: what each station does to one piece."""
    totals: dict[str, int] = {}
    for step in piece.routing:
        totals[step.station] = totals.get(step.station, 0) + step.each
    return "; ".join(f"{station_name(station)} {number}" for station, number in totals.items())


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
        sizes = {"mm": Figure(millimetres(line.mm)), "usual": Figure(millimetres(line.usual))}
        words.append(say("{mm}, usual {usual}", **sizes))
    if line.hole:
        sizes = {"hole": Figure(millimetres(line.hole)), "largest": Figure(millimetres(line.largest))}
        words.append(say("hole {hole}, usual up to {largest}", **sizes))
    return say(
        "{face} line {line}: {sizes} ({source})",
        face=line.face,
        line=line.line,
        sizes=", ".join(words),
        source=line.source,
    )


def grind_words(piece: Piece) -> str:
    """Where the heel is ground and how much; empty where it is not."""
    return "; ".join(spoken(grind_phrase(grind, piece.quantity)) for grind in piece.heel_grinds)


def grind_phrase(grind: HeelGrind, quantity: int) -> Phrase:
    """``x 0 to 300 to radius 12 or a chamfer of 12 x 45 degrees (2 of 4)``: one grind of a mark of so many pieces."""
    fields = {
        "start": Figure(millimetres(grind.x_from)),
        "end": Figure(millimetres(grind.x_to)),
        "radius": Figure(millimetres(grind.radius or 0.0)),
        "chamfer": Figure(millimetres(grind.chamfer or 0.0)),
    }
    if grind.radius and grind.chamfer:
        words = phrase("x {start} to {end} to radius {radius} or a chamfer of {chamfer} x 45 degrees", **fields)
    elif grind.radius:
        words = phrase("x {start} to {end} to radius {radius}", **fields)
    elif grind.chamfer:
        words = phrase(
            "x {start} to {end} to the root (radius not known: measure it) or a chamfer of {chamfer} x 45 degrees",
            **fields,
        )
    else:
        words = phrase("x {start} to {end} to the root (radius not known: measure it)", **fields)
    return _of_all(words, grind.members, quantity)


def bend_words(piece: Piece) -> str:
    """Which legs are opened or closed and by how much; empty where none is."""
    return "; ".join(spoken(bend_phrase(bend, piece.quantity)) for bend in piece.flange_bends)


def bend_phrase(bend: FlangeBend, quantity: int) -> Phrase:
    """``leg A, x 0 to 80: opened by 3.0 degrees (2 of 4)``: one bend of a mark of so many pieces."""
    fields = {
        "face": bend.face,
        "start": Figure(millimetres(bend.x_from)),
        "end": Figure(millimetres(bend.x_to)),
        "angle": Figure(f"{abs(bend.degrees):.1f}"),
    }
    if bend.degrees > 0:
        words = phrase("leg {face}, x {start} to {end}: opened by {angle} degrees", **fields)
    else:
        words = phrase("leg {face}, x {start} to {end}: closed by {angle} degrees", **fields)
    return _of_all(words, bend.members, quantity)


def _of_all(words: Phrase, members: int, quantity: int) -> Phrase:
    """How many of a mark's parts need it, where not all do."""
    if members >= quantity:
        return words
    return phrase("{work} ({members} of {quantity})", work=words, members=members, quantity=quantity)
