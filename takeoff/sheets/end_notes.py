"""The ends and edges of a piece as sentences: cuts, lengths along heel and toe, bevels of a compound cut, arcs."""

from __future__ import annotations

from math import cos, radians, tan
from typing import Final

from takeoff.sheets import measure
from takeoff.sheets.bands import Band, bands, flat_on
from takeoff.sheets.wording import angle, face_name
from takeoff.steel import ANGLE, Cut, Piece
from takeoff.units import COINCIDENCE_MM, PRINT_EXACT_MM
from takeoff.words import say

SQUARE_MM: Final = 0.05
"""A cut that runs back by less is square: figures print to 0.1 mm."""
SHALLOW_DEG: Final = 0.05
"""Angles print to 0.1 degree."""


def lines(piece: Piece) -> list[str]:
    """What is to be known of ends and edges, a sentence each."""
    if not piece.faces:
        return [say("Not known.")]
    found = [_cut_words(piece, cut) for cut in piece.cuts if cut.kind != "outline"]
    drawn = bands(piece)
    found += [line for band in drawn for line in _arcs(piece, band)]
    if flat_on(piece):
        if any(cut.kind == "outline" for cut in piece.cuts) and any(band.ring and band.corners for band in drawn):
            found.insert(0, say("Outline: corners in the table, anti-clockwise."))
        return found or [say("Plain rectangle.")]
    if not piece.cuts:
        return [say("Both ends square.")]
    for band in drawn:
        found += _lengths(piece, band)
    return [*found, *_compound(piece, drawn), *_beyond(piece, drawn)]


def _lengths(piece: Piece, band: Band) -> list[str]:
    """Lengths along both edges of a face, where the ends are not square."""
    low, high = _reach(band, band.face.low), _reach(band, band.face.high)
    if low is None or high is None:
        return []
    if all(abs(a) < COINCIDENCE_MM and abs(b - piece.length) < COINCIDENCE_MM for a, b in (low, high)):
        return []
    fields = {"face": face_name(piece.section.shape, band.face.name)}
    if not band.up and band.face.name not in ("A", "B"):
        low, high = high, low
    for name, (start, end) in (("low", low), ("high", high)):
        ends = [measure.running(x, piece.length) for x in (start, end)]
        if measure.from_right():
            ends.reverse()
        fields |= {name: measure.length(end - start), f"{name}_from": ends[0], f"{name}_to": ends[1]}
    if band.face.name in ("A", "B"):
        return [
            say(
                "{face}: heel {low} long, x {low_from} to {low_to}; toe {high} long, x {high_from} to {high_to}",
                **fields,
            )
        ]
    return [
        say(
            "{face}: lower edge {low} long, x {low_from} to {low_to}; "
            "upper edge {high} long, x {high_from} to {high_to}",
            **fields,
        )
    ]


def _reach(band: Band, across: float) -> tuple[float, float] | None:
    """First and last x of the outline on one edge of the face; None where it has no corner there."""
    xs = [x for loop in band.outlines for x, y in loop if abs(y - across) < 0.05]
    return (min(xs), max(xs)) if len(xs) > 1 else None


def _cut_words(piece: Piece, cut: Cut) -> str:
    """A row of cuts.csv as a sentence; what its numbers mean depends on the kind."""
    place = _place(piece, cut)
    fields = {
        "place": place,
        "angle": angle(cut.angle),
        "x": measure.running(cut.x, piece.length),
        "across": measure.length(cut.across),
        "size": measure.length(cut.size),
    }
    if cut.kind == "skew" and cut.size < SQUARE_MM:
        return say("{place}: square, at x {x}", **fields)
    if cut.kind == "skew":
        return say("{place}: skew {angle} from square, from x {x}, runs back {size}", **fields)
    if cut.kind == "bevel" and (deep := _bevelled_depth(piece, cut)):
        fields["deep"] = measure.length(deep)
        # its x is where it leaves the side seen: a bevel of the far side leaves that one at the end
        if min(cut.x, piece.length - cut.x) > SQUARE_MM:
            return say(
                "{place}: bevel {angle} from square, through {deep} of the thickness from the side seen, from x {x}, "
                "runs back {size}",
                **fields,
            )
        return say(
            "{place}: bevel {angle} from square, through {deep} of the thickness from the far side, runs back {size}",
            **fields,
        )
    if cut.kind == "bevel":
        return say("{place}: bevel through the thickness {angle} from square, from x {x}, runs back {size}", **fields)
    if cut.kind == "clip":
        return say(
            "{place}: corner clipped {angle} from square, from x {x} to across {across}, {size} off the end", **fields
        )
    if cut.kind == "notch":
        return say("{place}: notch, inner end at x {x}, from across {across}, {size} wide", **fields)
    return say("{place}: {kind} at x {x}, across {across}, {angle}, {size}", kind=cut.kind, **fields)


def _bevelled_depth(piece: Piece, cut: Cut) -> float:
    """How much of the thickness a bevel takes, mm; 0 where it goes through all of it."""
    skew = max((row.angle for row in piece.cuts if row.kind == "skew" and row.end == cut.end), default=0.0)
    deep = cut.size * cos(radians(skew)) / tan(radians(cut.angle))
    return deep if deep < piece.section.tw - PRINT_EXACT_MM else 0.0


def _place(piece: Piece, cut: Cut) -> str:
    end = {"left": say("left end"), "right": say("right end"), "edge": say("edge")}.get(cut.end, cut.end)
    if not cut.face or flat_on(piece):
        return end
    return f"{end}, {face_name(piece.section.shape, cut.face)}"


def _compound(piece: Piece, drawn: list[Band]) -> list[str]:
    """The bevel of each leg where one plane cuts both: what is a skew on one leg runs through the other's thickness."""
    if piece.section.shape != ANGLE:
        return []
    found = []
    by_face = {band.face.name: band for band in drawn}
    for end in ("left", "right"):
        own = {cut.face: cut for cut in piece.cuts if cut.end == end and cut.kind == "skew"}
        others = [cut for cut in piece.cuts if cut.end == end and cut.kind not in ("skew",)]
        if set(own) != {"A", "B"} or others or max(cut.angle for cut in own.values()) < SHALLOW_DEG:
            continue
        heels = [_outer(by_face[face], 0.0, end) for face in ("A", "B")]
        if None in heels or abs(float(heels[0] or 0.0) - float(heels[1] or 0.0)) > PRINT_EXACT_MM:
            continue
        for face, across in (("A", "B"), ("B", "A")):
            lean = own[across].angle
            if lean < SHALLOW_DEG:
                continue
            toe = _outer(by_face[across], by_face[across].face.high, end)
            if toe is None:
                continue
            back = (toe - float(heels[0] or 0.0)) * (1.0 if end == "left" else -1.0)
            fields = {
                "end": say("left end") if end == "left" else say("right end"),
                "face": face_name(piece.section.shape, face),
                "angle": angle(lean),
                "size": measure.length(piece.section.tw * tan(radians(lean))),
            }
            if back > 0:
                found.append(
                    say("{end}, {face}: bevel {angle} through the thickness, inside shorter by {size}", **fields)
                )
            else:
                found.append(
                    say("{end}, {face}: bevel {angle} through the thickness, inside longer by {size}", **fields)
                )
    return found


def _outer(band: Band, across: float, end: str) -> float | None:
    reach = _reach(band, across)
    if reach is None:
        return None
    return reach[0] if end == "left" else reach[1]


def _beyond(piece: Piece, drawn: list[Band]) -> list[str]:
    """Why the length is more than any face shows: the farthest point lies on the inside of a wall."""
    if len(drawn) < len(piece.faces):
        return []
    xs = [x for band in drawn for loop in band.outlines for x, _ in loop]
    found = []
    for end, gap in (("left", min(xs)), ("right", piece.length - max(xs))):
        if gap <= PRINT_EXACT_MM:
            continue
        fields = {"length": measure.with_unit(piece.length), "gap": measure.length(gap)}
        if end == "left":
            found.append(
                say(
                    "The length {length} runs to the point farthest out, at the left end on the inside of a wall, "
                    "{gap} beyond the outside faces.",
                    **fields,
                )
            )
        else:
            found.append(
                say(
                    "The length {length} runs to the point farthest out, at the right end on the inside of a wall, "
                    "{gap} beyond the outside faces.",
                    **fields,
                )
            )
    return found


def _arcs(piece: Piece, band: Band) -> list[str]:
    """Radius and centre of every arc of the outline."""
    found = []
    for arc in band.arcs:
        fields = {
            "face": face_name(piece.section.shape, band.face.name),
            "radius": measure.length(arc.radius),
            "x": measure.running(arc.centre[0], piece.length),
            "across": measure.length(arc.centre[1]),
            "from_x": measure.running(arc.start[0], piece.length),
            "from_across": measure.length(arc.start[1]),
            "to_x": measure.running(arc.end[0], piece.length),
            "to_across": measure.length(arc.end[1]),
        }
        found.append(
            say(
                "{face}: arc of radius {radius}, centre x {x}, across {across}, "
                "from x {from_x}, across {from_across} to x {to_x}, across {to_across}",
                **fields,
            )
        )
    return found
