"""Holes against the classes of hole of their bolts, and hollow or long parts against the zinc bath."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from takeoff.queries import CHECK, register
from takeoff.rules import hole_classes
from takeoff.rules.findings import REMARKS, Ruling, hole_at
from takeoff.rules.sizes import diameter_of
from takeoff.rules.zinc import is_galvanised
from takeoff.settings import Settings
from takeoff.steel import CHS, RHS, Piece
from takeoff.units import millimetres
from takeoff.words import Figure, later, phrase

HOLE_OF_NO_CLASS = register(
    "hole-of-no-class",
    CHECK,
    "Holes that are none of the classes of their bolt: {2}; {0} holes ({1}).",
    "Ask the designer for the bolt or the hole, or set the client's own clearance under [holes] in the settings.",
)
HOLE_TWO_MM = register(
    "hole-two-mm-clearance",
    CHECK,
    "Holes with 2 mm clearance: {2}; {0} holes ({1}). EN 1993-1-8, 3.6.1(5) allows them where the design took them "
    "into account (from memory).",
    "Ask the designer whether the joints were designed for them.",
)
HOLE_FITTED = register(
    "hole-without-clearance",
    CHECK,
    "Holes with no clearance for their bolt, {2}: {0} ({1}). Only a fitted bolt goes through.",
    "Ask the designer whether fitted bolts are meant. A galvanised bolt does not go through such a hole.",
)
HOLE_UNLIKE_JOB = register(
    "hole-unlike-the-job",
    CHECK,
    "Holes of another class than the settings ask for the job: {2}; {0} holes ({1}).",
    "They are made as the model has them. Ask the designer, or mend the clearance under [holes] in the settings.",
)
HOLLOW_NO_VENT = register(
    "hollow-no-vent",
    CHECK,
    "Hollow marks without a hole to vent and drain them in the zinc bath: {0} ({1}).",
    "Where their ends are closed they burst in the bath: ask the designer for vent holes. Open ends need none.",
)
LONGER_THAN_BATH = register(
    "longer-than-bath",
    CHECK,
    "Marks longer than the zinc bath of {2}: {0} ({1}). Longest: {3}, {4} mm.",
    "Ask the galvaniser for a double dip, or set his bath under [zinc] in the settings.",
)
REMARKS[HOLE_OF_NO_CLASS] = later("{where}: {cause}: none of the classes")
REMARKS[HOLE_TWO_MM] = later("{where}: {cause}: 2 mm clearance")
REMARKS[HOLE_FITTED] = later("{where}: {cause}: no clearance, for a fitted bolt only")
REMARKS[HOLE_UNLIKE_JOB] = "{where}: {cause}"
REMARKS[HOLLOW_NO_VENT] = later("no hole to vent and drain it in the zinc bath")
REMARKS[LONGER_THAN_BATH] = later("{found} mm long, the zinc bath takes {asked}")


_ASKED: Final = {
    hole_classes.NONE: HOLE_OF_NO_CLASS,
    hole_classes.TWO_MM: HOLE_TWO_MM,
    hole_classes.FITTED: HOLE_FITTED,
}
"""Classes that are asked about, and by which code."""


_ROUND_CLASSES: Final = (hole_classes.NORMAL, hole_classes.TOWER, hole_classes.OWN)


def classes(piece: Piece, settings: Settings) -> Iterator[Ruling]:
    """Holes that are none of their bolt's classes, or of one that has a condition."""
    for hole in piece.holes:
        code = _ASKED.get(hole.hole_class)
        if code is None:
            asked = hole_classes.asked_class(diameter_of(hole.bolt), settings.holes) if hole.bolt else None
            if asked and hole.hole_class in _ROUND_CLASSES and hole.hole_class != asked.name and not hole.slot_length:
                words = phrase(
                    "{bolt} in {size} mm is {hole_class}, {asked} asked",
                    bolt=hole.bolt,
                    size=Figure(f"{hole.diameter:.4g}"),
                    hole_class=hole_classes.PHRASES[hole.hole_class],
                    asked=Figure(f"{asked.diameter:.4g}"),
                )
                yield Ruling(HOLE_UNLIKE_JOB, words, hole_at(hole.label))
            continue
        size = f"{hole.diameter:.4g}"
        if hole.slot_length > hole.diameter:
            size += f" x {hole.slot_length:.4g}"
        sizes = hole_classes.sizes_in_words(diameter_of(hole.bolt), settings.holes)
        more = "" if code == HOLE_TWO_MM else f" ({sizes or 'the bolt is of no nominal size'})"
        yield Ruling(
            code, phrase("{bolt} in {size} mm", bolt=hole.bolt, size=Figure(size)), hole_at(hole.label), more=more
        )


def vents(piece: Piece, settings: Settings) -> Iterator[Ruling]:
    """Hollow parts for the zinc bath without a single hole."""
    if piece.section.shape in (RHS, CHS) and not piece.holes and is_galvanised(piece.finish, settings.zinc):
        yield Ruling(HOLLOW_NO_VENT, "", "it")


def bath(piece: Piece, settings: Settings) -> Iterator[Ruling]:
    """Parts that do not go into the zinc bath in one dip."""
    most = settings.zinc.bath_mm
    if piece.length > most and is_galvanised(piece.finish, settings.zinc):
        yield Ruling(LONGER_THAN_BATH, f"{millimetres(most)} mm", "length", piece.length, most)
