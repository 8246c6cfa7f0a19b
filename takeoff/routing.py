"""The way of every piece through the shop: what the line does, what it cannot and why, and a list for each station.

Vocabulary
----------
station    where one kind of work is done: shear, punch, drill, ream, skew ...
off line   what the punching and shearing line does not take, with the reason
elsewhere  work the line does not do and no station of this list is for: plate cutting, saws, tubes
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import hypot
from typing import Final

from takeoff.queries import ASSUMED, Query, query, register
from takeoff.rules import line as limits
from takeoff.rules import punching
from takeoff.rules.sizes import diameter_of
from takeoff.rules.wording import bend_phrase, grind_phrase
from takeoff.settings import LineSettings, Settings
from takeoff.steel import ANGLE, CHANNEL, FLAT, PLATE, Hole, Operation, Piece, StationRow
from takeoff.turned import slot_ends
from takeoff.units import millimetres
from takeoff.words import Figure, joined, phrase, sentence

SHEAR, PUNCH, SLOT, REAM, DRILL, CUT_HOLE = "shear", "punch", "slot", "ream", "drill", "cut opening"
SKEW, CLIP, NOTCH, BEVEL = "skew", "clip", "notch", "bevel"
GRIND, OPENING, CLOSING, STAMP, ELSEWHERE = "heel grind", "flange opening", "flange closing", "stamp", "elsewhere"
STATIONS: Final = (
    ELSEWHERE, SHEAR, STAMP, PUNCH, SLOT, DRILL, REAM, CUT_HOLE, SKEW, CLIP, NOTCH, BEVEL, GRIND, OPENING, CLOSING,
)  # fmt: skip
"""In shop order."""
SHEARED: Final = (ANGLE, FLAT, CHANNEL)

EXACT_MM2: Final = 1.0
"""Two edges of a plate that turn inward by less than this product run on: rounding of the model."""
NO_SLOTS: Final = phrase("the line makes no slots")

LINE_ASSUMED = register(
    "line-assumed",
    ASSUMED,
    "The routing goes by a line of common practice: angles {0} to {1}, flats {2} to {3}, channels {4} to {5}, pieces "
    "{6} to {7} mm long. {8} of {9} marks of angles, flats and channels are not wholly made on it.",
    "Describe the shop's own line under [line] in the settings.",
)


def route(piece: Piece, settings: Settings) -> Piece:
    """The piece with its routing and with why the line does not take it, or not all of it."""
    refused = limits.section_refused(piece.section, settings.line)
    if not refused:
        refused = limits.length_refused(piece.length, settings.line)
    on_line = not refused
    reasons: list[str] = [sentence(refused)] if refused else []
    steps: list[Operation] = []
    plate = _plate_way(piece) if piece.section.shape == PLATE else ""
    if on_line:
        steps.append(Operation(SHEAR, 2))
    elif plate:
        steps.append(Operation(ELSEWHERE, 1, phrase("plate: {way}", way=plate)))
    else:
        steps.append(Operation(ELSEWHERE, 1, phrase("cut to length: {why}", why=refused)))
    steps.append(Operation(STAMP, 1, _stamp(piece, on_line and settings.line.stamps)))
    holes, found = _holes(piece, settings, on_line)
    steps += holes
    reasons += found
    if piece.section.shape != PLATE:
        ends, found = _ends(piece, settings.line, on_line)
        steps += ends
        reasons += found
    steps += [Operation(GRIND, 1, grind_phrase(grind, piece.quantity), grind.members) for grind in piece.heel_grinds]
    steps += [
        Operation(OPENING if bend.degrees > 0 else CLOSING, 1, bend_phrase(bend, piece.quantity), bend.members)
        for bend in piece.flange_bends
    ]
    if plate:
        reasons = [_plate_reason(plate, steps)]
    return replace(piece, routing=_merged(steps), off_line=tuple(dict.fromkeys(reasons)))


def _plate_way(piece: Piece) -> str:
    """How a plate gets its outline: sheared where all its edges are straight and none turns inward, else burnt."""
    corners = piece.outline
    burnt = any(corner.bulge for corner in corners) or any(cut.kind == "notch" for cut in piece.cuts)
    turns = []
    for k, corner in enumerate(corners):
        before, after = corners[k - 1], corners[(k + 1) % len(corners)]
        along = (corner.x - before.x) * (after.across - corner.across)
        turns.append(along - (corner.across - before.across) * (after.x - corner.x))
    inward = any(t < -EXACT_MM2 for t in turns) and any(t > EXACT_MM2 for t in turns)
    if burnt or inward:
        return phrase("cut by flame or saw to its outline")
    return phrase("sheared or cut by flame to its outline")


def _plate_reason(way: str, steps: Sequence[Operation]) -> str:
    """What makes a plate instead of the line: how it gets its outline, then its holes."""
    made = [station for station in (PUNCH, SLOT, DRILL, REAM, CUT_HOLE) if any(s.station == station for s in steps)]
    words = {
        PUNCH: phrase("punched"),
        SLOT: phrase("slots punched"),
        DRILL: phrase("drilled"),
        REAM: phrase("reamed"),
        CUT_HOLE: phrase("openings cut"),
    }
    if not made:
        return phrase("A plate: {way}.", way=way)
    holes = joined(", ", [words[station] for station in made])
    return phrase("A plate: {way}; holes: {holes} on a plate machine.", way=way, holes=holes)


def _stamp(piece: Piece, by_head: bool) -> str:
    """How the mark gets on, where not by the line's marking head."""
    if piece.stamp is None:
        return phrase("no clear place: hang a tag on it")
    return "" if by_head else phrase("by hand")


def _merged(steps: Sequence[Operation]) -> tuple[Operation, ...]:
    """One operation a station and reason, in shop order."""
    totals: dict[tuple[str, str, int], int] = {}
    for step in steps:
        key = (step.station, step.why, step.pieces)
        totals[key] = totals.get(key, 0) + step.each
    ordered = sorted(totals, key=lambda key: (STATIONS.index(key[0]), *key[1:]))
    return tuple(Operation(station, totals[station, why, pieces], why, pieces) for station, why, pieces in ordered)


def _holes(piece: Piece, settings: Settings, on_line: bool) -> tuple[list[Operation], list[str]]:
    steps: list[Operation] = []
    reasons: list[str] = []
    for hole in piece.holes:
        if hole.make == punching.CUT or not hole.diameter > 0:
            steps.append(Operation(CUT_HOLE, 1))
            continue
        if hole.make == punching.DRILL or not hole.make:
            why = _drilled(piece, hole, settings)
            steps.append(Operation(DRILL, 1, why))
            reasons += [sentence(why)] if on_line else []
            continue
        wrong = _off_line(piece, hole, settings) if on_line else ""
        if wrong:
            reasons.append(sentence(wrong))
            steps.append(Operation(DRILL, 1, wrong))
            continue
        near = on_line and _reach(piece, hole, settings.line) == "special"
        special = phrase("special punch near the heel") if near else ""
        if hole.slot_length > hole.diameter:
            steps += _slot(hole, settings.line, on_line)
        else:
            steps.append(Operation(PUNCH, 1, special if on_line else phrase("not on the line")))
        if hole.make == punching.REAM:
            sizes = {"first": Figure(f"{hole.punch_mm:.4g}"), "size": Figure(f"{hole.diameter:.4g}")}
            steps.append(Operation(REAM, 1, phrase("punched {first}, reamed to {size}", **sizes)))
    if on_line:
        reasons += _crowded(piece, settings)
    return steps, reasons


def _drilled(piece: Piece, hole: Hole, settings: Settings) -> str:
    """Why a hole is drilled and not punched."""
    if hole.kind in ("countersunk", "blind"):
        sunk = hole.kind == "countersunk"
        return phrase("countersunk holes are drilled") if sunk else phrase("blind holes are drilled")
    if piece.section.shape in punching.DIELESS:
        return phrase("drilled: {why}", why=punching.NO_DIE)
    thickness = next(face.thickness for face in piece.faces if face.name == hole.face)
    slot = hole.slot_length > hole.diameter
    made = punching.make_of(hole.diameter, diameter_of(hole.bolt), thickness, piece.grade, settings.punching, slot)
    return phrase("drilled: {why}", why=made.why)


def _slot(hole: Hole, line: LineSettings, on_line: bool) -> list[Operation]:
    if not on_line:
        return [Operation(SLOT, 1, phrase("not on the line"))]
    hits = _hits(hole, line)
    if not hits:
        return [Operation(CUT_HOLE, 1, NO_SLOTS)]
    return [Operation(SLOT, hits, phrase("{hits} hits each", hits=hits))]


def _reach(piece: Piece, hole: Hole, line: LineSettings) -> str:
    """Which punch reaches a hole of an angle or a channel's flange; ``normal`` where no other wall is near."""
    section = piece.section
    if section.shape == ANGLE:
        return limits.heel_punch(hole.across, section.tw, line)
    if section.shape == CHANNEL and hole.face == "web":
        return limits.heel_punch(min(hole.across, section.h - hole.across), section.tf, line)
    return "normal"


def _off_line(piece: Piece, hole: Hole, settings: Settings) -> str:
    """Why the line does not punch a hole that may be punched; empty where it does."""
    line = settings.line
    first = hole.punch_mm or hole.diameter
    size = Figure(f"{first:.4g}")
    if piece.section.shape == CHANNEL and hole.face != "web":
        return phrase("holes in flanges of channels are not reached by the line's head")
    if not limits.in_rack(first, line):
        return phrase("no punch of {size} mm in the rack", size=size)
    if not _reach(piece, hole, line):
        across = Figure(f"{hole.across:.4g}")
        return phrase("holes {across} mm from the heel are nearer than the special punch reaches", across=across)
    force = punching.punching_force(first, next(f.thickness for f in piece.faces if f.name == hole.face), piece.grade)
    if line.force_kn and force > line.force_kn:
        forces = {"force": f"{force:.0f}", "most": Figure(f"{line.force_kn:g}")}
        return phrase("{size} mm needs {force} kN, more than the line's {most} kN", size=size, **forces)
    # The first and last hit of a slot lie at the centres of its ends.
    xs = [hole.x]
    if hole.slot_length > hole.diameter:
        xs = [x for x, _ in slot_ends(hole.x, hole.across, hole.slot_length, hole.diameter, hole.slot_angle)]
    if line.end_mm and min(*xs, *(piece.length - x for x in xs)) < line.end_mm - limits.EXACT:
        return phrase("holes nearer to the end than {least} mm", least=Figure(millimetres(line.end_mm)))
    return ""


def hole_off_line(piece: Piece, hole: Hole, settings: Settings) -> str | None:
    """Why the line does not make a hole of a piece that it takes, as the end of a sentence; None where it does.

    None too for every hole of a piece that the line does not take: that is another machine's. Sizes beyond those of
    a head and holes too near each other are no reason: such a piece is run through the line twice.
    """
    left = _left(piece, hole, settings)
    return left[1] if left else None


def hole_left_to(piece: Piece, hole: Hole, settings: Settings) -> str | None:
    """As :func:`hole_off_line`, with the station that makes the hole instead."""
    left = _left(piece, hole, settings)
    return f"{left[1]} (station {left[0]})" if left else None


def _left(piece: Piece, hole: Hole, settings: Settings) -> tuple[str, str] | None:
    """The station of a hole that the line leaves, and why it does."""
    if limits.section_refused(piece.section, settings.line) or limits.length_refused(piece.length, settings.line):
        return None
    if hole.make == punching.CUT or not hole.diameter > 0:
        return CUT_HOLE, phrase("it is an opening to be cut")
    if hole.make == punching.DRILL or not hole.make:
        return DRILL, _drilled(piece, hole, settings)
    wrong = _off_line(piece, hole, settings)
    if wrong:
        return DRILL, wrong
    return (CUT_HOLE, NO_SLOTS) if hole.slot_length > hole.diameter and not _hits(hole, settings.line) else None


def _hits(hole: Hole, line: LineSettings) -> int:
    return limits.slot_hits(hole.diameter, hole.slot_length, line)


def _crowded(piece: Piece, settings: Settings) -> list[str]:
    """More sizes in a leg than the head has punches, and holes too near each other for two strokes."""
    found: list[str] = []
    line, punches = settings.line, settings.bars.punches_per_head
    faces = dict.fromkeys(h.face for h in piece.holes)
    punched = {h.face for h in piece.holes if h.make in (punching.PUNCH, punching.REAM)}
    if piece.section.shape == ANGLE and len(punched) > line.heads:
        found.append(phrase("Holes in both legs: the line has one head, so the piece runs through it twice."))
    for face in faces:
        mine = [h for h in piece.holes if h.face == face and h.make in (punching.PUNCH, punching.REAM)]
        sizes = sorted({round(h.punch_mm or h.diameter, 1) for h in mine})
        if len(sizes) > punches:
            fields: dict[str, object] = {"face": face, "count": len(sizes), "punches": punches}
            fields["sizes"] = joined(", ", [Figure(f"{s:g}") for s in sizes])
            found.append(
                phrase("Face {face} has {count} sizes of hole ({sizes}): its head carries {punches}.", **fields)
            )
        if line.between_mm and _near(mine, line.between_mm):
            least = Figure(f"{line.between_mm:g}")
            found.append(
                phrase("Holes of face {face} lie nearer to each other than {least} mm.", face=face, least=least)
            )
    return found


def _near(holes: Sequence[Hole], least: float) -> bool:
    """Whether any two holes of a face are nearer to each other than ``least`` mm, on whichever gauge lines."""
    ordered = sorted(holes, key=lambda h: h.x)
    for k, one in enumerate(ordered):
        for other in ordered[k + 1 :]:
            if other.x - one.x >= least - limits.EXACT:
                break
            if hypot(one.x - other.x, one.across - other.across) < least - limits.EXACT:
                return True
    return False


def _ends(piece: Piece, line: LineSettings, on_line: bool) -> tuple[list[Operation], list[str]]:
    """Skew ends once an end; clips, notches and bevels one by one."""
    steps: list[Operation] = []
    reasons: list[str] = []
    skew = {cut.end for cut in piece.cuts if cut.kind == "skew" and cut.size > 0.05}
    bevel = {cut.end for cut in piece.cuts if cut.kind == "bevel"}
    for station, number in (
        (SKEW, len(skew)),
        (BEVEL, len(bevel)),
        (CLIP, sum(cut.kind == "clip" for cut in piece.cuts)),
        (NOTCH, sum(cut.kind == "notch" for cut in piece.cuts)),
    ):
        if number:
            steps.append(Operation(station, number))
    if skew and on_line and not line.skew:
        reasons.append(phrase("Its skew ends are cut off the line."))
    return steps, reasons


def stations(pieces: Sequence[Piece]) -> tuple[StationRow, ...]:
    """The list of every station in shop order, a row a mark; the kg are those of all its pieces that pass it (net)."""
    rows = []
    for piece in pieces:
        for step in piece.routing:
            many = min(step.pieces, piece.quantity) or piece.quantity
            rows.append(StationRow(step.station, piece.mark, many, step.each, piece.net * many, step.why))
    order = {piece.mark: k for k, piece in enumerate(pieces)}
    rows.sort(key=lambda row: (STATIONS.index(row.station), order[row.mark], row.why))
    return tuple(rows)


def line_query(pieces: Sequence[Piece], settings: Settings) -> tuple[Query, ...]:
    """That the line that does not take some bars is one of common practice, unless the shop described its own."""
    line = settings.line
    off = sum(bool(piece.off_line) for piece in pieces if piece.section.shape in SHEARED)
    if line != LineSettings() or not off:
        return ()
    bars = sum(piece.section.shape in SHEARED for piece in pieces)
    return (
        query(
            LINE_ASSUMED, line.angle_least, line.angle_largest, line.flat_least, line.flat_largest,
            millimetres(line.channel_least_mm), millimetres(line.channel_largest_mm), millimetres(line.shortest_mm),
            millimetres(line.longest_mm), off, bars,
        ),
    )  # fmt: skip
