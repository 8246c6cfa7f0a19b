"""Holes, bolts and the room round them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Annotated

from takeoff.settings.option import Option, check_size


def _check_set(text: str) -> str:
    """A set as ``2 nuts 1 washer 1 spring``; also called with each zone, which may be anything but such a number."""
    if re.fullmatch(r"(above|below)\b.*", text) and not re.fullmatch(r"(above|below) -?\d+(\.\d+)?", text):
        return 'must give a height as "above 6000"'
    if re.match(r"\d+\s+\w", text) and not re.fullmatch(r"(\d+ (nuts?|washers?|springs?)\s*)+", text):
        return 'must be a set as "2 nuts 1 washer 1 spring"'
    return ""


@dataclass(frozen=True, slots=True)
class HoleSettings:
    """How a hole's diameter follows from its bolt where the model does not say one."""

    rule: Annotated[
        str,
        Option(
            "Table of nominal clearances: EN 1090-2 (Table 11) or AISC 360 (Tables J3.3 and J3.3M). "
            "Inch bolts are always taken from AISC 360.",
            choices=("EN 1090-2", "AISC 360"),
        ),
    ] = "EN 1090-2"
    towers: Annotated[bool, Option("Take the table's reduction of 0.5 mm for towers and masts.")] = False
    clearance_mm: Annotated[
        dict[str, float],
        Option(
            "The shop's or client's own clearance by bolt size, over the table: {M16 = 1.5}. "
            "It is added to the bolt's diameter.",
            low=0.0,
            high=20.0,
            check=check_size,
        ),
    ] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BoltSettings:
    """The bolt order."""

    spare_percent: Annotated[
        float, Option("Spare bolts on top of what the model needs, of each size.", low=0.0, high=100.0)
    ] = 3.0
    spare_minimum: Annotated[int, Option("At least so many spares of each size.", low=0, high=10_000)] = 2
    washers: Annotated[int, Option("Washers a bolt where the model does not say.", low=0, high=4)] = 1
    nuts: Annotated[int, Option("Nuts a bolt where the model does not say.", low=0, high=4)] = 1
    standard: Annotated[
        str,
        Option(
            "Standard of a bolt where the model does not say one; ISO 4014 becomes ISO 4017 where the grip is short.",
            choices=("ISO 4014", "ISO 4017", "DIN 7990", "EN 14399-3", "EN 14399-4"),
        ),
    ] = "ISO 4014"
    length: Annotated[
        str,
        Option(
            "Where the model states a length and the rule asks another: which is ordered.",
            choices=("model", "rule"),
        ),
    ] = "model"
    spring_washers: Annotated[int, Option("Spring washers a bolt.", low=0, high=2)] = 0
    spring_washer_mm: Annotated[
        dict[str, float],
        Option(
            "Thickness of a spring washer by bolt size, over the values of DIN 127 (from memory).",
            low=0.5,
            high=20.0,
            check=check_size,
        ),
    ] = field(default_factory=dict)
    taper_washer_mm: Annotated[
        dict[str, float],
        Option(
            "Thickness at the hole of the taper washer on a sloped flange by bolt size, over the values of DIN 434 "
            "(from memory).",
            low=1.0,
            high=30.0,
            check=check_size,
        ),
    ] = field(default_factory=dict)
    threads_out_of_shear: Annotated[bool, Option("Choose lengths whose thread ends before the last shear plane.")] = (
        False
    )
    sets: Annotated[
        dict[str, str],
        Option(
            'Nuts and washers by zone, over the numbers above: {site = "2 nuts 1 washer", "above 6000" = '
            '"1 nut 1 washer 1 spring"}. A zone is shop, site, an assembly mark of the model, or "above" or "below" '
            "a height in mm of the model. The first zone that fits goes.",
            check=_check_set,
        ),
    ] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ClearanceSettings:
    """Room for nuts, washers and tools."""

    nut_mm: Annotated[
        float,
        Option(
            "Least gap between a nut or head in one leg and the bolts of the other (common practice, no source).",
            low=0.0,
            high=50.0,
        ),
    ] = 1.0
    fillet_mm: Annotated[
        float,
        Option(
            "How far a washer or nut may lie over the root fillet (common practice, no source).", low=0.0, high=20.0
        ),
    ] = 1.0
    socket_mm: Annotated[
        dict[str, float],
        Option(
            "Outside diameter of the socket by bolt size; otherwise 1.25 times the width across flats and 8 mm "
            "(common practice, no source).",
            low=5.0,
            high=200.0,
            check=check_size,
        ),
    ] = field(default_factory=dict)
