"""Distances, gauges, and which checks ask."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Final

from takeoff.settings.option import Option, check_filled, check_size


def _check_width(text: str) -> str:
    return "" if re.fullmatch(r"\d+(\.\d+)?", text) else "must name widths of legs in mm as 60"


@dataclass(frozen=True, slots=True)
class DistanceSettings:
    """Least distances of holes from ends, from edges and from each other."""

    rule: Annotated[
        str,
        Option(
            "EN 1993-1-8 (Table 3.3, by the hole), AISC 360 (J3.3, Tables J3.4 and J3.4M, by the bolt), or own: only "
            "the tables below.",
            choices=("EN 1993-1-8", "AISC 360", "own"),
        ),
    ] = "EN 1993-1-8"
    end_mm: Annotated[
        dict[str, float],
        Option(
            "The client's own least end distance by bolt size, over the rule: {M16 = 25}.",
            low=1.0,
            high=500.0,
            check=check_size,
        ),
    ] = field(default_factory=dict)
    edge_mm: Annotated[
        dict[str, float],
        Option("The client's own least edge distance by bolt size.", low=1.0, high=500.0, check=check_size),
    ] = field(default_factory=dict)
    pitch_mm: Annotated[
        dict[str, float],
        Option("The client's own least distance between holes by bolt size.", low=1.0, high=500.0, check=check_size),
    ] = field(default_factory=dict)
    maximum: Annotated[
        bool,
        Option("Ask about edge distances beyond the rule's maximum too (it is for steel exposed to weather)."),
    ] = False


@dataclass(frozen=True, slots=True)
class GaugeSettings:
    """Usual gauges, which a sheet compares its gauge lines with. They are offered, never enforced."""

    table: Annotated[
        str,
        Option(
            "Usual gauges of angle legs: DIN 997 (from memory), CISC, AISC (inch legs), SP 6 (from memory), or none.",
            choices=("DIN 997", "CISC", "AISC", "SP 6", "none"),
        ),
    ] = "DIN 997"
    legs_mm: Annotated[
        dict[str, float],
        Option(
            "The client's own gauge by the width of the leg in mm, over the table: {60 = 33}.",
            low=5.0,
            high=300.0,
            check=_check_width,
        ),
    ] = field(default_factory=dict)
    flanges: Annotated[
        str,
        Option(
            "Usual gauges in flanges of beams and channels: DIN 997 (from memory), or none.",
            choices=("DIN 997", "none"),
        ),
    ] = "DIN 997"
    flanges_mm: Annotated[
        dict[str, float],
        Option(
            'The client\'s own gauge in a flange by section, over the table: {"IPE 200" = 56}. Of a beam between its '
            "two lines, of a channel from the back of its web.",
            low=5.0,
            high=500.0,
            check=check_filled,
        ),
    ] = field(default_factory=dict)


ADJUSTABLE_CHECKS: Final[Mapping[str, str]] = {
    "hole-of-no-class": "check",
    "hole-two-mm-clearance": "check",
    "hole-without-clearance": "check",
    "hole-unlike-the-job": "check",
    "hole-end-distance": "check",
    "hole-edge-distance": "check",
    "hole-pitch": "check",
    "hole-edge-maximum": "check",
    "washer-on-fillet": "check",
    "socket-at-leg": "check",
    "nuts-meet": "check",
    "bolt-length-short": "check",
    "bolt-length-long": "check",
    "bolt-length-no-rule": "check",
    "bolt-thread-in-shear": "check",
    "hollow-no-vent": "check",
    "longer-than-bath": "check",
    "stamp-no-place": "assumed",
}
"""The checks a shop may switch: code -> what is done with a finding unless the settings say otherwise."""


@dataclass(frozen=True, slots=True)
class CheckSettings:
    """What the checks do with what they find."""

    severity: Annotated[
        dict[str, str],
        Option(
            "Each check by its code: off, assumed (a note), check (asked), or hold (the piece is held).",
            choices=("off", "assumed", "check", "hold"),
        ),
    ] = field(default_factory=lambda: dict(ADJUSTABLE_CHECKS))
