"""Least distances of holes from ends, edges and each other, and the greatest from an edge.

Vocabulary: end distance (from a hole's centre to the end of the part, along it), edge distance (across it), pitch
(between centres), d (the bolt), d0 (the hole), slot end (centre of the radius at a slot's end).
Sources: EN 1993-1-8 Table 3.3 (e1, e2 1.2 d0; slots 1.5 d0 from the slot's axis and slot end; p1 2.2 d0, p2 2.4 d0;
maximum 4t + 40 mm); AISC 360 J3.3 (2 2/3 d), J3.5 (12 t, 150 mm), Tables J3.4 and J3.4M. Staggered rows (L 2.4 d0,
p2 1.2 d0), the American clear distance d between holes and the additions C2 for oversize holes and slots are from
memory. A client's own values, by bolt size, go before both.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

from takeoff.rules.fasteners import rows
from takeoff.rules.sizes import INCH_MM, inch_size, size_name
from takeoff.settings import DistanceSettings
from takeoff.words import Figure, Phrase, phrase

EN, AISC, OWN = "EN 1993-1-8", "AISC 360", "own"

ROUND_FACTOR: Final = 1.2
SLOT_FACTOR: Final = 1.5
PITCH_ALONG: Final = 2.2
PITCH_ACROSS: Final = 2.4
STAGGERED_ACROSS: Final = 1.2
AISC_PITCH: Final = 8 / 3


class Least(NamedTuple):
    """Least distance in mm and where it is from."""

    mm: float
    source: str


@lru_cache(maxsize=1)
def _table() -> dict[str, float]:
    return {row["size"]: float(row["edge_mm"]) for row in rows("edges_aisc.csv")}


def _own(table: dict[str, float], bolt: float, option: str) -> Least | None:
    value = table.get(size_name(bolt)) if bolt else None
    return None if value is None else Least(value, phrase("settings, {option}", option=f"distances.{option}"))


def end_distance(bolt: float, hole: float, slot: bool, settings: DistanceSettings, oversize: bool = False) -> Least:
    """Least distance of a hole from the end: ``bolt`` (0: not known) and ``hole`` diameters in mm.

    For a slot it is from the slot end and from its axis. Zero where the rule says nothing (own without a value; a
    bolt not known under the American rule).
    """
    return _own(settings.end_mm, bolt, "end_mm") or _edge(bolt, hole, slot, settings.rule, oversize)


def edge_distance(bolt: float, hole: float, slot: bool, settings: DistanceSettings, oversize: bool = False) -> Least:
    """Least distance of a hole from an edge along the part; see :func:`end_distance`."""
    return _own(settings.edge_mm, bolt, "edge_mm") or _edge(bolt, hole, slot, settings.rule, oversize)


def _en_table(factor: float) -> Phrase:
    return phrase("EN 1993-1-8 Table 3.3, {factor} d0", factor=Figure(f"{factor:g}"))


def _edge(bolt: float, hole: float, slot: bool, rule: str, oversize: bool) -> Least:
    if rule == EN:
        factor = SLOT_FACTOR if slot else ROUND_FACTOR
        return Least(factor * hole, _en_table(factor))
    if rule == AISC and bolt:
        size = inch_size(bolt) or size_name(bolt)
        known = _table().get(size)
        least = known if known is not None else 1.25 * bolt
        more = _addition(bolt, slot, oversize)
        source = phrase("AISC 360 Table {table}", table="J3.4" if inch_size(bolt) else "J3.4M")
        if known is None:
            source = phrase("{source}, 1.25 d", source=source)
        if more:
            source = phrase(
                "{source} and {more} mm (Table J3.5, from memory)", source=source, more=Figure(f"{more:.1f}")
            )
        return Least(least + more, source)
    return Least(0.0, "")


def _addition(bolt: float, slot: bool, oversize: bool) -> float:
    """C2 of Table J3.5, from memory: for oversize holes and short slots across the edge."""
    if not (slot or oversize):
        return 0.0
    inch = bolt / INCH_MM
    if slot:
        more = 1 / 8 if inch <= 1.01 else 3 / 16
    else:
        more = 1 / 16 if inch < 0.9 else 1 / 8
    return more * INCH_MM


def pitch(bolt: float, hole: float, along: float, across: float, settings: DistanceSettings) -> Least:
    """Least distance between two holes that lie ``along`` and ``across`` (mm, absolute) from each other.

    Along the part 2.2 d0, across it 2.4 d0; between staggered rows 2.4 d0 where the rows are at least 1.2 d0 apart.
    Rows closer than that are taken as one row along the part.
    """
    own = _own(settings.pitch_mm, bolt, "pitch_mm")
    if own:
        return own
    if settings.rule == EN:
        if across < STAGGERED_ACROSS * hole:
            return Least(PITCH_ALONG * hole, _en_table(PITCH_ALONG))
        source = _en_table(PITCH_ACROSS)
        if along >= 1.0:
            source = phrase("{source} (staggered rows, from memory)", source=source)
        return Least(PITCH_ACROSS * hole, source)
    if settings.rule == AISC and bolt:
        spaced, clear = AISC_PITCH * bolt, hole + bolt
        if clear > spaced:
            return Least(clear, phrase("AISC 360-16 J3.3, d clear between holes (from memory)"))
        return Least(spaced, "AISC 360 J3.3, 2 2/3 d")
    return Least(0.0, "")


def greatest_edge(thickness: float, settings: DistanceSettings) -> Least:
    """Greatest distance of a hole from the nearest edge of steel exposed to weather; infinite without a rule."""
    if settings.rule == EN:
        return Least(4 * thickness + 40.0, phrase("EN 1993-1-8 Table 3.3, 4t + 40 mm"))
    if settings.rule == AISC:
        return Least(min(12 * thickness, 150.0), phrase("AISC 360 J3.5, 12 t and 150 mm"))
    return Least(math.inf, "")
