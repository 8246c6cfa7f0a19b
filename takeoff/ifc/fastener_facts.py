"""What a fastener is said to be, put together from attributes, properties, type and names.

Order of trust for diameter and length: the entity's attribute, its type's attribute,
properties by the rank of their name, the size in a name. What is drawn is never trusted
over any of them (drawn shanks often have the hole's diameter); it only tells in which
unit a number was meant, and stands in, as an assumption, where nothing is stated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from takeoff.ifc.fastener_properties import SENTINEL, Stated, merged
from takeoff.ifc.fastener_words import (
    ANCHOR,
    BOLT,
    GRADE,
    MM_PER_INCH,
    NUT,
    OTHER,
    PREDEFINED,
    ROD,
    STANDARD,
    STEP_BOLT,
    STUD,
    WASHER,
    WELD,
    Size,
    first,
    kind_of,
    size_of,
)
from takeoff.queries import ASSUMED, CHECK, register
from takeoff.rules.shanks import explained
from takeoff.settings import HoleSettings
from takeoff.steel import Problem
from takeoff.units import millimetres

DIAMETER_DRAWN = register(
    "bolt-diameter-drawn",
    ASSUMED,
    "No diameter is stated for these bolts; the drawn one, {0} mm, was taken as the bolt's. It may be the hole's.",
    "Have the bolts' nominal diameters written into the model, or confirm this one.",
)
DIAMETER_UNKNOWN = register(
    "bolt-diameter-unknown",
    CHECK,
    "No diameter is stated or drawn for these bolts.",
    "Have the bolts' nominal diameters written into the model.",
)
DIAMETER_DISPUTED = register(
    "bolt-diameter-disputed",
    CHECK,
    "The model states two diameters for these bolts: {0} mm ({1}) and {2} mm ({3}). The first was used.",
    "Ask the designer which bolt is meant and have the model put right.",
)
DIAMETER_UNLIKE = register(
    "bolt-diameter-unlike-drawing",
    CHECK,
    "These bolts are stated as {0} mm but drawn {1} mm thick, which is neither the bolt, nor its thread, nor {2}. "
    "The stated diameter was used, for the bolts and for their holes.",
    "Ask the designer which bolt is meant before punching, and have the model put right.",
)
LENGTH_DRAWN = register(
    "bought-length-drawn",
    ASSUMED,
    "These {0}s state no length; the drawn one, {1} mm, was taken.",
    "Check it against a drawing before they are ordered.",
)
UNIT_REPAIRED = register(
    "bolt-unit-repaired",
    ASSUMED,
    "The stated {0} {1} of these bolts makes no sense in the unit it is in; it was read as {2} mm.",
    "Confirm the size, or have the model written again with sizes in its own unit.",
)

SMALLEST_MM: Final = 3.0
LARGEST_MM: Final = 200.0
"""Diameters outside these are taken for a wrong unit: bolts and anchors in steelwork lie between."""
LONGEST_MM: Final = 6000.0
"""Longest bolt, rod or anchor a length is believed for."""
_KEEP_LENGTH: Final = (STEP_BOLT, ANCHOR, STUD, ROD)
"""Kinds whose length follows from no grip."""
UNITS_MM: Final = (1.0, MM_PER_INCH, 1000.0, 10.0, 304.8)
"""Units a bare number is tried in, likeliest first: mm, inch, metre, centimetre, foot."""


@dataclass(frozen=True, slots=True)
class Facts:
    """Fields of a steel.Fastener that follow from what the model says, and what is wrong with them."""

    kind: str = BOLT
    diameter: float | None = None
    length: float | None = None
    grade: str = ""
    standard: str = ""
    hole_diameter: float | None = None
    slot_x: float = 0.0
    slot_y: float = 0.0
    nuts: int | None = None
    washers: int | None = None
    place: str = ""
    count: int | None = None
    problems: tuple[Problem, ...] = ()


def kind_of_class(ifc_class: str, predefined: str, texts: Sequence[str]) -> str:
    """The kind of a fastener entity; empty for a product of another class whose texts speak of no fastener."""
    said = next((kind for kind in map(kind_of, texts) if kind), "")
    stated = PREDEFINED.get(predefined, "")
    if ifc_class == "IfcMechanicalFastener":
        return stated if stated and stated != BOLT else said or BOLT
    if ifc_class == "IfcFastener":
        return stated or said or OTHER
    return said


def facts_of(
    kind: str,
    diameters: Sequence[tuple[str, float]],
    lengths: Sequence[tuple[str, float]],
    texts: Sequence[str],
    sets: Sequence[Stated],
    mm: float,
    drawn_diameter: float,
    drawn_length: float,
    holes: HoleSettings,
    straight: bool = True,
) -> Facts:
    """``diameters`` and ``lengths``: (where from, value in file units) of attributes; ``drawn_`` in mm, 0 for none.

    ``holes`` tells which hole a bolt may be drawn as; of what is not ``straight`` a leg's length is not its own.
    """
    if kind in (WELD, OTHER):
        return Facts(kind=kind)
    problems: list[Problem] = []
    stated = merged(sets)
    size = next((s for s in (size_of(t) for t in texts) if s.diameter), Size())

    found = [(_mm("diameter", v * mm, v, drawn_diameter, problems), source) for source, v in diameters if _real(v)]
    if "diameter" in stated:
        found.append((_stated(stated, "diameter", mm, drawn_diameter, problems), "property"))
    if size.diameter:
        found.append((size.diameter, f"name, {size.text}"))
    known = [(value, source) for value, source in found if value]
    diameter = known[0][0] if known else None
    for value, source in known[1:]:
        if abs(value - known[0][0]) > 0.1:
            first_one = (millimetres(known[0][0]), known[0][1])
            problems.append(Problem(DIAMETER_DISPUTED, (*first_one, millimetres(value), source)))
            break
    if diameter is None and drawn_diameter:
        diameter = round(drawn_diameter, 2)
        problems.append(Problem(DIAMETER_DRAWN, (millimetres(diameter),)))
    elif diameter is None:
        problems.append(Problem(DIAMETER_UNKNOWN))

    length: float | None = None
    for _, value in lengths:
        if _real(value):
            length = _mm("length", value * mm, value, drawn_length, problems)
            break
    if not length and "length" in stated:
        length = _stated(stated, "length", mm, drawn_length, problems)
    if not length and size.length and kind not in (NUT, WASHER):  # a washer's second size is its outer diameter
        length = size.length
    if not length and drawn_length and straight and kind in _KEEP_LENGTH:
        # No rule gives their length: a rod or anchor is as long as it is drawn.
        length = round(drawn_length, 1)
        problems.append(Problem(LENGTH_DRAWN, (kind, millimetres(length))))
    hole = _stated(stated, "hole", mm, diameter or drawn_diameter, problems) if "hole" in stated else None
    standard = stated.get("standard") or first(STANDARD, texts)
    whole = " ".join((standard, *texts))
    named = bool(known) and diameter is not None and kind not in (NUT, WASHER)
    if named and diameter and drawn_diameter and not explained(diameter, drawn_diameter, hole or 0.0, whole, holes):
        its_hole = f"its hole of {millimetres(hole)} mm" if hole else "a usual hole for it"
        problems.append(Problem(DIAMETER_UNLIKE, (millimetres(diameter), millimetres(drawn_diameter), its_hole)))
    slots = [_stated(stated, name, mm, 0.0, problems) if name in stated else None for name in ("slot_x", "slot_y")]
    return Facts(
        kind=kind,
        diameter=_clean(diameter),
        length=_clean(length) or None,
        grade=stated.get("grade") or first(GRADE, texts),
        standard=standard,
        hole_diameter=_clean(hole) or None,
        slot_x=_clean(slots[0]) or 0.0,
        slot_y=_clean(slots[1]) or 0.0,
        nuts=stated.get("nuts"),
        washers=stated.get("washers"),
        place=stated.get("place") or "",
        count=stated.get("count") or None,
        problems=tuple(problems),
    )


def _clean(value: float | None) -> float | None:
    """Without the noise of a change of unit: 40 mm written in inches must still be the table's 40 mm bolt."""
    return None if value is None else round(value, 4)


def _real(value: float | None) -> bool:
    return value is not None and math.isfinite(value) and 0 < value < SENTINEL


def _stated(stated: dict[str, Any], meaning: str, mm: float, drawn: float, problems: list[Problem]) -> float | None:
    typed: float | None
    bare: float | None
    typed, bare = stated[meaning]
    if bare is None:
        if typed is None or not typed > 0:
            return 0.0
        return _mm(meaning, typed, typed / mm, drawn, problems)
    if not bare > 0:
        return 0.0
    # a number without a type: millimetres where that makes sense, else whatever fits the drawing
    for factor in (1.0, mm, *UNITS_MM[1:]):
        if _fits(meaning, bare * factor, drawn):
            if factor not in (1.0, mm):
                problems.append(_repaired(meaning, bare, bare * factor))
            return bare * factor
    return bare


def _mm(meaning: str, value: float, raw: float, drawn: float, problems: list[Problem]) -> float | None:
    """``value`` mm where it makes sense, else ``raw`` in the unit in which it does."""
    if not value > 0:
        return None
    if _fits(meaning, value, drawn) or (_possible(meaning, value) and meaning in ("length", "slot_x", "slot_y")):
        return value
    for factor in UNITS_MM:
        if _fits(meaning, raw * factor, drawn):
            problems.append(_repaired(meaning, raw, raw * factor))
            return raw * factor
    return value


def _repaired(meaning: str, raw: float, value: float) -> Problem:
    return Problem(UNIT_REPAIRED, (meaning.replace("_", " "), f"{raw:g}", millimetres(value)))


def _possible(meaning: str, value: float) -> bool:
    if meaning in ("diameter", "hole"):
        return SMALLEST_MM <= value <= LARGEST_MM
    if meaning == "length":
        return SMALLEST_MM <= value <= LONGEST_MM
    return value <= LARGEST_MM


def _fits(meaning: str, value: float, drawn: float) -> bool:
    """Whether a value is possible and of the drawing's order of size; units differ by a factor of ten or more."""
    if not _possible(meaning, value):
        return False
    return not drawn or meaning.startswith("slot") or drawn / 4 < value < drawn * 4
