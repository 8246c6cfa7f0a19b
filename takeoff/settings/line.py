"""The line: punching, what it takes, where it stamps."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Annotated

from takeoff.settings.option import Option, check_filled


def _check_angle_size(text: str) -> str:
    return "" if re.fullmatch(r"\d+(\.\d+)?x\d+(\.\d+)?x\d+(\.\d+)?", text) else "must be a size as 60x60x6"


def _check_flat_size(text: str) -> str:
    return "" if re.fullmatch(r"\d+(\.\d+)?x\d+(\.\d+)?", text) else "must be a size as 60x8"


@dataclass(frozen=True, slots=True)
class PunchingSettings:
    """Which holes may be punched."""

    rule: Annotated[
        str,
        Option(
            "EN 1090-2 (6.6.3: thickness up to the hole's diameter; from memory), AISC 1989 (M2.5: up to the bolt's "
            "diameter and 3 mm), or AISC 360 (2005 and later: no limit of thickness; from memory).",
            choices=("EN 1090-2", "AISC 1989", "AISC 360"),
        ),
    ] = "EN 1090-2"
    execution_class: Annotated[
        str,
        Option(
            "Execution class of EN 1090-2; from EXC3 holes in steel over 3 mm are punched undersize and reamed "
            "(from memory).",
            choices=("EXC1", "EXC2", "EXC3", "EXC4"),
        ),
    ] = "EXC2"
    thickness_mm: Annotated[
        dict[str, float],
        Option(
            "The shop's or client's own greatest thickness to punch by how the grade begins: {S355 = 12}.",
            low=1.0,
            high=60.0,
            check=check_filled,
        ),
    ] = field(default_factory=dict)
    undersize_mm: Annotated[
        float, Option("How much smaller a hole is punched that is reamed after.", low=0.5, high=10.0)
    ] = 2.0


@dataclass(frozen=True, slots=True)
class LineSettings:
    """What the punching and shearing line can do. The defaults are common practice, without a source.

    How many punches a head holds, and what the grip cannot feed, stand with the bars.
    """

    angle_least: Annotated[str, Option("The smallest angle it takes.", check=_check_angle_size)] = "30x30x3"
    angle_largest: Annotated[str, Option("The largest angle it takes.", check=_check_angle_size)] = "160x160x19"
    flat_least: Annotated[str, Option("The smallest flat it takes.", check=_check_flat_size)] = "50x5"
    flat_largest: Annotated[str, Option("The largest flat it takes.", check=_check_flat_size)] = "160x19"
    channel_least_mm: Annotated[float, Option("The least depth of a channel; 0: none.", low=0, high=500)] = 80.0
    channel_largest_mm: Annotated[float, Option("The greatest depth of a channel; 0: none.", low=0, high=500)] = 160.0
    heads: Annotated[
        int,
        Option("Punching heads: 2, one for each leg of an angle, or 1. Flats and channels use one.", low=1, high=2),
    ] = 2
    rack_mm: Annotated[
        tuple[float, ...],
        Option("Diameters of the punches in the rack; empty: whatever a hole needs.", low=3.0, high=100.0),
    ] = ()
    force_kn: Annotated[float, Option("Punching force of a head; 0: not checked.", low=0, high=10_000)] = 0.0
    slots: Annotated[bool, Option("Slots are made by repeated hits of a round punch.")] = True
    slot_step_share: Annotated[
        float, Option("Step of the hits along a slot, as a share of its width.", low=0.05, high=1.0)
    ] = 0.5
    heel_mm: Annotated[
        float,
        Option("Least distance of a hole's centre from the inside of the other leg, normal punch.", low=0, high=100),
    ] = 15.0
    heel_special_mm: Annotated[
        float, Option("The same with the special punch for holes near the heel.", low=0, high=100)
    ] = 11.0
    between_mm: Annotated[
        float, Option("Least distance between the centres of two holes; 0: not checked.", low=0, high=500)
    ] = 0.0
    end_mm: Annotated[
        float, Option("Least distance of a hole's centre from the end; 0: not checked.", low=0, high=500)
    ] = 0.0
    shortest_mm: Annotated[float, Option("The shortest piece it shears.", low=0, high=5000)] = 60.0
    longest_mm: Annotated[float, Option("The longest piece it takes.", low=100, high=50_000)] = 12_000.0
    skew: Annotated[bool, Option("The shear can be set to skew cuts.")] = False
    stamps: Annotated[bool, Option("It has a marking head.")] = True
    open_deg: Annotated[
        float,
        Option("Legs that meet a face at more than this are opened or closed (degrees).", low=0.1, high=30.0),
    ] = 1.0


@dataclass(frozen=True, slots=True)
class StampSettings:
    """The piece mark stamped into the steel."""

    height_mm: Annotated[float, Option("Height of a character.", low=3.0, high=50.0)] = 10.0
    width_mm: Annotated[float, Option("Room a character takes along the piece.", low=2.0, high=50.0)] = 8.0
    from_end_mm: Annotated[float, Option("Nearest that the stamp begins to the left end.", low=0.0, high=1000.0)] = 20.0
    clear_mm: Annotated[float, Option("Clear of holes, cuts and other plies by this.", low=0.0, high=100.0)] = 5.0
