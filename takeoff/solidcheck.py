"""The lists' net weight against the volume of the model's own solids, a part of each mark.

Drawn section against drawn solid: models draw rolled sections with their radii or sharp, and rounds as polygons. The
solid agrees where one of these ways of drawing the section explains it; that the radii are missing is stated once a
section. Holes that only a bolt tells of are not in the solids.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from takeoff.queries import ASSUMED, CHECK, Query, query, register
from takeoff.sections import loops, shapes
from takeoff.steel import CHS, LISTED, ROUND, Hole, Member, Piece, Section, SolidCheck

SOLID_DIFFERS = register(
    "solid-weight-differs",
    CHECK,
    "Mark {0} weighs {1} kg net in the lists; the solid that the model draws of it weighs {2} kg ({3} %).",
    "Hold the sheet of this mark against the model: a cut, a notch or a hole is read differently or drawn otherwise.",
)
DRAWN_SHARP = register(
    "section-drawn-sharp",
    ASSUMED,
    "The model draws {0} without its radii: its solids weigh {1} % of what the lists say by the section's table.",
    "Nothing: the rolled section has the radii.",
)
NOT_MEASURED = register(
    "solid-not-measured",
    CHECK,
    "The weight of {0} marks could not be held against the model's solids ({1}).",
    "Check the weight of one of them by hand.",
)

SHARE: Final = 0.01
"""The lists and the solid agree within this share."""
SURE: Final = 0.003
"""A solid this near to a way of drawing the section is drawn so."""
STATED: Final = 0.001
"""Radii that make less than this of a section are not worth a line."""
SIDES: Final = range(6, 65)
"""Polygons that rounds are drawn as."""
MIRRORED: Final = "has a mirrored or derived profile"
"""Beginning of why a part is left out by rule, which needs no query."""
AS_LISTED, SHARP, POLYGON, DIFFERS, NONE = "as listed", "sharp", "polygon", "differs", ""


def one_of_each(pieces: Sequence[Piece], members: Sequence[Member]) -> dict[str, str]:
    """The GlobalId of the part to measure by mark, of marks that are not held: the first in order."""
    return {piece.mark: min(members[i].global_id for i in piece.members) for piece in pieces if piece.status == LISTED}


def compare(
    pieces: Sequence[Piece],
    measured_part: Mapping[str, str],
    volumes: Mapping[str, float | str],
    density: float,
) -> tuple[tuple[SolidCheck, ...], tuple[Query, ...]]:
    """What the solids say of each mark, and what is asked. Volumes mm3 by GlobalId, ``density`` kg/m3."""
    checks: list[SolidCheck] = []
    asked: list[Query] = []
    sharp: dict[str, tuple[float, list[str]]] = {}
    for piece in pieces:
        if piece.mark not in measured_part:
            continue
        global_id = measured_part[piece.mark]
        volume = volumes.get(global_id, "was not measured")
        if isinstance(volume, str):
            checks.append(SolidCheck(piece.mark, global_id, piece.net, None, NONE, volume))
            continue
        check = _check(piece, global_id, volume, density)
        checks.append(check)
        if check.drawn == DIFFERS and check.solid is not None:
            share = f"{100 * (check.solid / check.listed - 1):+.1f}" if check.listed else "all"
            asked.append(
                query(
                    SOLID_DIFFERS,
                    piece.mark,
                    f"{check.listed:.2f}",
                    f"{check.solid:.2f}",
                    share,
                    piece_mark=piece.mark,
                    global_ids=(global_id,),
                )
            )
        elif check.drawn == SHARP:
            name = piece.section.designation
            part = _areas(piece.section)[SHARP] / piece.section.area_mm2
            sharp.setdefault(name, (part, []))[1].append(global_id)
    for name, (part, ids) in sorted(sharp.items()):
        if abs(part - 1) > STATED:
            asked.append(query(DRAWN_SHARP, name, f"{100 * part:.1f}", global_ids=tuple(sorted(ids))))
    return tuple(checks), (*asked, *_unmeasured(checks))


def _unmeasured(checks: Sequence[SolidCheck]) -> list[Query]:
    """A query a reason, but for the profiles that are left out by rule."""
    reasons = sorted({c.why for c in checks if c.why and not c.why.startswith(MIRRORED)})
    found = []
    for why in reasons:
        of = [c for c in checks if c.why == why]
        ids = tuple(sorted(c.global_id for c in of))
        found.append(query(NOT_MEASURED, len(of), f"the part {why}", global_ids=ids))
    return found


def _check(piece: Piece, global_id: str, volume: float, density: float) -> SolidCheck:
    """A mark's piece against a solid of it. The solid's mass has the bolts' holes taken off, the list's weight not."""
    kilograms = density * 1e-9
    section = piece.section
    drilled = sum(_undrawn(hole, piece) for hole in piece.holes)
    cut_away = (piece.gross - piece.net) / kilograms
    listed = section.area_mm2 * piece.length - cut_away
    solid = volume - drilled
    off = {
        drawn: abs(solid - listed * area / section.area_mm2) / (listed or 1.0)
        for drawn, area in _areas(section).items()
    }
    drawn = min(off, key=lambda way: (off[way], way))
    if off[drawn] > (SHARE if off[AS_LISTED] <= SHARE or section.shape not in (CHS, ROUND) else SURE):
        drawn = DIFFERS
    elif drawn != AS_LISTED and off[drawn] > SURE and off[AS_LISTED] <= SHARE:
        drawn = AS_LISTED
    return SolidCheck(piece.mark, global_id, listed * kilograms, solid * kilograms, drawn)


def _areas(section: Section) -> dict[str, float]:
    """The section's area in mm2 by the way it may be drawn, the likeliest first."""
    areas = {AS_LISTED: section.area_mm2}
    if section.r1 or section.r2:
        outer, *inner = shapes.loops_of(replace(section, r1=0.0, r2=0.0))
        areas[SHARP] = loops.area(outer) + sum(loops.area(hole) for hole in inner)
    if section.shape in (CHS, ROUND):
        for n in SIDES:
            turn = 2 * math.pi / n
            areas[f"{POLYGON} of {n} sides"] = section.area_mm2 * math.sin(turn) / turn
    return areas


def _undrawn(hole: Hole, piece: Piece) -> float:
    """Volume in mm3 of a hole that only a bolt tells of."""
    if hole.source != "bolt":
        return 0.0
    wall = next((face.thickness for face in piece.faces if face.name == hole.face), 0.0)
    d = hole.diameter
    return (math.pi / 4 * d * d + max(hole.slot_length - d, 0.0) * d) * wall
