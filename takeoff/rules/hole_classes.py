"""Which class of hole a hole is for its bolt: normal, tower, oversize, short or long slot, fitted.

Vocabulary: class (a kind of hole with its size for a bolt), width (of a slot: its second side), own (the shop's or
client's clearance in the settings).
Sources: EN 1090-2:2018 Table 11; AISC 360 Tables J3.3 and J3.3M. The tower clearance (0.5 mm less, note to Table 11)
and the 2 mm clearance of M12 and M14 (EN 1993-1-8, 3.6.1(5)) are from memory. The American tables give the largest
sizes of a class, the European one nominal sizes: a size between two classes is the larger class in the first and
none in the second.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

from takeoff.rules.clearances import TOWER_REDUCTION_MM
from takeoff.rules.fasteners import rows
from takeoff.rules.sizes import INCH_MM, inch_size, metric_size, size_name
from takeoff.settings import HoleSettings
from takeoff.words import phrase

NORMAL, TOWER, OWN, FITTED, TWO_MM, OVERSIZE, SHORT, LONG = (
    "normal", "tower", "own", "fitted", "2 mm clearance", "oversize", "short slot", "long slot",
)  # fmt: skip
NONE, TOO_SMALL = "none", "too small"
PHRASES: Final = {
    NORMAL: phrase("normal"),
    TOWER: phrase("tower"),
    OWN: phrase("own"),
    FITTED: phrase("fitted"),
    TWO_MM: phrase("2 mm clearance"),
    OVERSIZE: phrase("oversize"),
    SHORT: phrase("short slot"),
    LONG: phrase("long slot"),
    NONE: phrase("no class"),
    TOO_SMALL: phrase("too small"),
}
"""How the classes are said on paper."""

FITTED_MM: Final = 0.3
"""A hole this close to its bolt is for a fitted bolt: a national code as read in a public copy."""
AGREE_MM: Final = 0.26
"""Sizes this close are the same: whole, half and quarter millimetres, sixteenths of an inch rounded."""


class HoleClass(NamedTuple):
    """A class of hole for one bolt: diameter or width, and overall length of a slot (0: round), mm."""

    name: str
    diameter: float
    slot_length: float
    source: str


@lru_cache(maxsize=256)
def _classes(diameter_mm: float, rule: str) -> tuple[HoleClass, ...]:
    inch = inch_size(diameter_mm)
    if inch is not None:
        return _inch(inch)
    size = metric_size(diameter_mm)
    if size is None:
        return ()
    if rule == "AISC 360" and size >= 16:
        return _aisc(size)
    return _european(size)


def _inch(size: str) -> tuple[HoleClass, ...]:
    for row in rows("holes_aisc_inch.csv"):
        if row["size"] == size:
            source = row["source"].split(":")[0]
            width = float(row["slot_width_in"]) * INCH_MM
            return (
                HoleClass(NORMAL, float(row["standard_hole_in"]) * INCH_MM, 0.0, source),
                HoleClass(OVERSIZE, float(row["oversize_hole_in"]) * INCH_MM, 0.0, source),
                HoleClass(SHORT, width, float(row["short_slot_in"]) * INCH_MM, source),
                HoleClass(LONG, width, float(row["long_slot_in"]) * INCH_MM, source),
            )
    return ()


def _aisc(size: int) -> tuple[HoleClass, ...]:
    source = "AISC 360 Table J3.3M"
    for row in rows("holes_aisc_metric.csv"):
        if int(row["diameter_mm"]) == size or (size > 36 and row["size"] == "M36"):
            # From M36 the table gives d + 3, d + 8, slots (d + 3) x (d + 10) and (d + 3) x 2.5 d.
            more = size - int(row["diameter_mm"])
            width = float(row["slot_width_mm"]) + more
            return (
                HoleClass(NORMAL, float(row["standard_mm"]) + more, 0.0, source),
                HoleClass(OVERSIZE, float(row["oversize_mm"]) + more, 0.0, source),
                HoleClass(SHORT, width, float(row["short_slot_mm"]) + more, source),
                HoleClass(LONG, width, float(row["long_slot_mm"]) + 2.5 * more, source),
            )
    return _european(size)


def _european(size: int) -> tuple[HoleClass, ...]:
    source = "EN 1090-2:2018 Table 11"
    table = {int(row["diameter_mm"]): row for row in rows("holes_en_1090_2.csv")}
    # Notes a and b: M12's values below M12, M36's above M36; between two sizes the next larger one's.
    row = table[min((entry for entry in table if entry >= size), default=max(table))]
    normal = size + float(row["clearance_normal_mm"])
    found = [
        HoleClass(NORMAL, normal, 0.0, source),
        HoleClass(TOWER, normal - TOWER_REDUCTION_MM, 0.0, f"{source}, note; 0.5 mm from memory"),
    ]
    if size in (12, 14):
        found.append(HoleClass(TWO_MM, size + 2.0, 0.0, "EN 1993-1-8, 3.6.1(5), from memory"))
    found += [
        HoleClass(OVERSIZE, size + float(row["clearance_oversize_mm"]), 0.0, source),
        HoleClass(SHORT, normal, size + float(row["clearance_short_slot_mm"]), source),
        HoleClass(LONG, normal, 2.5 * size, source),
    ]
    return tuple(found)


def hole_classes(diameter_mm: float, holes: HoleSettings) -> tuple[HoleClass, ...]:
    """The classes of hole for a bolt, smallest first, the shop's own in front; empty for a diameter of no size."""
    found = _classes(round(diameter_mm, 3), holes.rule)
    own = holes.clearance_mm.get(size_name(diameter_mm))
    if own is not None:
        found = (HoleClass(OWN, diameter_mm + own, 0.0, "settings, [holes]"), *found)
    return found


@lru_cache(maxsize=256)
def _asked(diameter_mm: float, rule: str, towers: bool, own: float | None) -> HoleClass | None:
    if own is not None:
        return HoleClass(OWN, diameter_mm + own, 0.0, "settings, [holes]")
    if not towers:
        return None
    return next((c for c in _classes(round(diameter_mm, 3), rule) if c.name == TOWER), None)


def asked_class(diameter_mm: float, holes: HoleSettings) -> HoleClass | None:
    """The class that the settings ask of a bolt's plain holes beyond the code: own, or that of towers; else None."""
    return _asked(diameter_mm, holes.rule, holes.towers, holes.clearance_mm.get(size_name(diameter_mm)))


def class_of(bolt_mm: float, diameter_mm: float, slot_length_mm: float, holes: HoleSettings) -> str:
    """The class of a round hole or slot for its bolt: a name of this module.

    ``diameter_mm`` is a slot's width; ``slot_length_mm`` 0 for a round hole. ``too small`` where the bolt does not go
    through, ``none`` where it is none of the classes or the bolt is of no nominal size. Slots shorter than the long
    slot and longer than the short one count as long slots. A tapped or countersunk hole is not for here.
    """
    classes = hole_classes(bolt_mm, holes)
    if not classes:
        return NONE if diameter_mm >= bolt_mm - 0.05 else TOO_SMALL
    if diameter_mm < bolt_mm - 0.05:
        return TOO_SMALL
    american = inch_size(bolt_mm) is not None or holes.rule == "AISC 360"
    if slot_length_mm > diameter_mm + AGREE_MM:
        return _slot_class(bolt_mm, diameter_mm, slot_length_mm, classes)
    rounds = [c for c in classes if not c.slot_length]
    for c in rounds:
        if abs(diameter_mm - c.diameter) <= AGREE_MM:
            return c.name
    if diameter_mm <= bolt_mm + FITTED_MM:
        return FITTED
    if american:
        return next((c.name for c in rounds if c.name != OWN and diameter_mm <= c.diameter), NONE)
    return NONE


def _slot_class(bolt: float, width: float, length: float, classes: tuple[HoleClass, ...]) -> str:
    widths = [c.diameter for c in classes if c.name in (NORMAL, TOWER, OWN, TWO_MM, SHORT)]
    if not min(widths) - AGREE_MM <= width <= max(widths) + AGREE_MM:
        return NONE
    for c in classes:
        if c.slot_length and length <= c.slot_length + AGREE_MM:
            return c.name
    return NONE


def sizes_in_words(bolt_mm: float, holes: HoleSettings) -> str:
    """The classes of a bolt with their sizes: ``normal 18, tower 17.5, oversize 20, short slot 18 x 22``."""
    return ", ".join(
        f"{c.name} {c.diameter:.4g}" + (f" x {c.slot_length:.4g}" if c.slot_length else "")
        for c in hole_classes(bolt_mm, holes)
    )
