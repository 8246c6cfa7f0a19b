"""The shop's settings, typed, with defaults. A rule's number stands here or in a table with its source.

An option's explanation and what it may hold stand beside the option, once, so that the
default file, its check (settings_file.py) and the documentation cannot disagree.
"""

from __future__ import annotations

import math
import re
import string
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Any, Final


@dataclass(frozen=True, slots=True)
class Option:
    """What an option means and what it may hold.

    ``low`` and ``high`` bound a number, or every number of a list or table, both included.
    ``check`` gets the value (of a list or table: each key and value) and returns what is
    wrong with it as the end of a sentence, or an empty string.
    """

    about: str
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[str, ...] = ()
    check: Callable[[Any], str] | None = None


def _check_scheme(scheme: str) -> str:
    try:
        fields = [name for _, name, _, _ in string.Formatter().parse(scheme) if name is not None]
        scheme.format(letter="A", number=1)
    except (ValueError, KeyError, IndexError, AttributeError):
        fields = []
    if "number" not in fields or not set(fields) <= {"letter", "number"}:
        return "must hold {number} and may hold {letter}, as in {letter}{number} or {letter}-{number:03}"
    return ""


def _check_date(text: str) -> str:
    try:
        date.fromisoformat(text or "2031-04-30")
    except ValueError:
        return "must be empty or a date as 2031-04-30"
    return ""


def _check_size(size: str) -> str:
    if re.fullmatch(r"M\d+(\.\d)?|[1-4](-\d+/\d+)?|\d+/\d+", size):
        return ""
    return 'must name bolt sizes as "M16" or "3/4"'


def _check_letters(text: str) -> str:
    if text and not any(c.isspace() for c in text) and len(text) <= 8:
        return ""
    return "must be one to eight characters without a space"


def _check_filled(text: str) -> str:
    return "" if text.strip() else "must not be empty"


def _check_width(text: str) -> str:
    return "" if re.fullmatch(r"\d+(\.\d+)?", text) else "must name widths of legs in mm as 60"


def _check_angle_size(text: str) -> str:
    return "" if re.fullmatch(r"\d+(\.\d+)?x\d+(\.\d+)?x\d+(\.\d+)?", text) else "must be a size as 60x60x6"


def _check_flat_size(text: str) -> str:
    return "" if re.fullmatch(r"\d+(\.\d+)?x\d+(\.\d+)?", text) else "must be a size as 60x8"


def _check_set(text: str) -> str:
    """A set as ``2 nuts 1 washer 1 spring``; also called with each zone, which may be anything but such a number."""
    if re.fullmatch(r"(above|below)\b.*", text) and not re.fullmatch(r"(above|below) -?\d+(\.\d+)?", text):
        return 'must give a height as "above 6000"'
    if re.match(r"\d+\s+\w", text) and not re.fullmatch(r"(\d+ (nuts?|washers?|springs?)\s*)+", text):
        return 'must be a set as "2 nuts 1 washer 1 spring"'
    return ""


ADJUSTABLE_CHECKS: Final[Mapping[str, str]] = {
    "hole-of-no-class": "check",
    "hole-two-mm-clearance": "check",
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
    "hollow-no-vent": "check",
    "longer-than-bath": "check",
    "stamp-no-place": "assumed",
}
"""The checks a shop may switch: code -> what is done with a finding unless the settings say otherwise."""


def _check_stamp(scheme: str) -> str:
    try:
        fields = {name for _, name, _, _ in string.Formatter().parse(scheme) if name is not None}
        scheme.format(mark="A1", revision="B")
    except (ValueError, KeyError, IndexError, AttributeError):
        fields = {""}
    if fields <= {"mark", "revision"} and (not scheme or "mark" in fields):
        return ""
    return "must be empty, or hold {mark} and may hold {revision}, as in {mark} {revision}"


def _check_layer(name: str) -> str:
    # The signs that DXF does not allow in a name.
    if 0 < len(name) <= 255 and name == name.strip() and not any(c in '<>/\\":;?*|=,`' or c < " " for c in name):
        return ""
    return 'must be a name without any of < > / \\ " : ; ? * | = , `'


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
            check=_check_size,
        ),
    ] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class IdentitySettings:
    """When two parts are the same piece."""

    position_mm: Annotated[
        float, Option("Hole positions of one mark differ by no more than this.", low=0.01, high=5.0)
    ] = 0.5
    length_mm: Annotated[float, Option("Lengths of one mark differ by no more than this.", low=0.01, high=5.0)] = 0.5
    diameter_mm: Annotated[
        float, Option("Hole diameters of one mark differ by no more than this.", low=0.01, high=1.0)
    ] = 0.1
    clearance_share: Annotated[
        float,
        Option(
            "Nor do hole positions differ by more than this share of the bolt's clearance in its hole.",
            low=0.01,
            high=1.0,
        ),
    ] = 0.25


@dataclass(frozen=True, slots=True)
class MarkSettings:
    """Piece marks."""

    keep_model_marks: Annotated[
        bool,
        Option(
            "Keep the model's own piece mark where one mark is one shape (erection drawings carry it); "
            "other pieces get a mark by the scheme."
        ),
    ] = True
    scheme: Annotated[
        str,
        Option(
            "A new mark: {letter} is the shape's from [marks.letters], {number} counts within the letter.",
            check=_check_scheme,
        ),
    ] = "{letter}{number}"
    start: Annotated[int, Option("The first number.", low=0, high=1_000_000)] = 1
    letters: Annotated[
        dict[str, str],
        Option("The letter of each shape; shapes not named keep theirs.", check=_check_letters),
    ] = field(
        default_factory=lambda: {
            "angle": "A",
            "channel": "C",
            "I": "B",
            "T": "T",
            "flat": "F",
            "plate": "P",
            "RHS": "H",
            "CHS": "R",
            "round": "D",
            "other": "X",
        }
    )


@dataclass(frozen=True, slots=True)
class WeightSettings:
    """Masses."""

    mass: Annotated[
        str,
        Option(
            "table: the published mass per metre where the section is in a table, else from dimensions; "
            "computed: always from dimensions.",
            choices=("table", "computed"),
        ),
    ] = "table"
    density_kg_m3: Annotated[float, Option("Density of steel.", low=7000.0, high=9000.0)] = 7850.0


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
            check=_check_size,
        ),
    ] = field(default_factory=dict)
    taper_washer_mm: Annotated[
        dict[str, float],
        Option(
            "Thickness at the hole of the taper washer on a sloped flange by bolt size, over the values of DIN 434 "
            "(from memory).",
            low=1.0,
            high=30.0,
            check=_check_size,
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
            check=_check_size,
        ),
    ] = field(default_factory=dict)
    edge_mm: Annotated[
        dict[str, float],
        Option("The client's own least edge distance by bolt size.", low=1.0, high=500.0, check=_check_size),
    ] = field(default_factory=dict)
    pitch_mm: Annotated[
        dict[str, float],
        Option("The client's own least distance between holes by bolt size.", low=1.0, high=500.0, check=_check_size),
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
            check=_check_size,
        ),
    ] = field(default_factory=dict)


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
            check=_check_filled,
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


@dataclass(frozen=True, slots=True)
class ZincSettings:
    """Hot-dip galvanising."""

    parts: Annotated[
        str,
        Option(
            "Which parts are galvanised: all, those whose finish in the model says so, or none; weights: the model's "
            "finish decides what is asked about, but every part is given its weight with zinc.",
            choices=("weights", "all", "finish", "none"),
        ),
    ] = "weights"
    coating_g_m2: Annotated[
        float,
        Option(
            "The client's own zinc coating; 0: the mean coating of ISO 1461 by thickness (from memory).",
            low=0.0,
            high=3000.0,
        ),
    ] = 0.0
    bath_mm: Annotated[
        float,
        Option("Longest piece for a single dip (common practice, no source).", low=1000.0, high=30_000.0),
    ] = 12_500.0


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


@dataclass(frozen=True, slots=True)
class FlatSettings:
    """Which rectangles are flats (rolled bars) and which plates."""

    widths_mm: Annotated[
        tuple[float, ...], Option("Widths that are rolled as flats.", low=1.0, high=2000.0)
    ] = (
        20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 90, 100, 110, 120, 130, 140, 150, 160,
    )  # fmt: skip
    thicknesses_mm: Annotated[
        tuple[float, ...], Option("Thicknesses that are rolled as flats.", low=0.5, high=300.0)
    ] = (3, 4, 5, 6, 8, 10, 12, 15, 16, 18, 20, 22, 25, 30, 35, 40)


def _check_bar_length(key: str) -> str:
    if re.fullmatch(r"[1-9]\d{2,4}", key):
        return ""
    return 'must name lengths in whole mm as "12000"'


def _check_whole(value: float) -> str:
    # The plan counts in whole mm; rounding in secret would put every stop behind it in the wrong place.
    return "" if float(value).is_integer() else "must be in whole mm"


def _check_stock(key: str) -> str:
    parts = [part.strip() for part in key.split(",")]
    if len(parts) == 3 and parts[0] and re.fullmatch(r"[1-9]\d{1,4}", parts[2]):
        return ""
    return 'must name section, grade and length in mm as "L 100x100x10, S355J2, 3400"'


@dataclass(frozen=True, slots=True)
class BarSettings:
    """Stock bars, how they are cut, heads of the line. Defaults: common practice, no source."""

    lengths_mm: Annotated[
        tuple[float, ...],
        Option("Lengths of new bars, in whole mm.", low=500.0, high=30_000.0, check=_check_whole),
    ] = (6000, 12000)
    prices: Annotated[
        dict[str, float],
        Option(
            "Price of one bar by length, over its length in mm: {6000 = 6300} makes 6 m bars 5 % dearer a metre.",
            low=0.001,
            high=1_000_000.0,
            check=_check_bar_length,
        ),
    ] = field(default_factory=dict)
    available: Annotated[
        dict[str, int],
        Option(
            "How many bars of a length are to be had for each section and grade: {12000 = 40}; others: as many as "
            "wanted.",
            low=0,
            high=1_000_000,
            check=_check_bar_length,
        ),
    ] = field(default_factory=dict)
    in_stock: Annotated[
        dict[str, int],
        Option(
            'Bars and off-cuts that the shop has: {"L 100x100x10, S355J2, 3400" = 2}, section and grade as in the '
            "lists.",
            low=0,
            high=1_000_000,
            check=_check_stock,
        ),
    ] = field(default_factory=dict)
    in_stock_price: Annotated[
        float,
        Option(
            "What a mm of them counts, as a share of the cheapest new bar's; below 1 so that they are used first.",
            low=0.0,
            high=1.0,
        ),
    ] = 0.5
    kerf_mm: Annotated[
        float, Option("Kerf of the saw or slug of the shear, in whole mm.", low=0.0, high=50.0, check=_check_whole)
    ] = 3.0
    front_trim_mm: Annotated[
        float,
        Option(
            "Cut off the end that goes in first, in whole mm, kerf included.", low=0.0, high=500.0, check=_check_whole
        ),
    ] = 10.0
    end_trim_mm: Annotated[
        float,
        Option("At the other end, of no use for a piece, in whole mm.", low=0.0, high=500.0, check=_check_whole),
    ] = 10.0
    grip_mm: Annotated[
        float,
        Option(
            "What the grip cannot feed and no piece can be cut from, in whole mm.",
            low=0.0,
            high=2000.0,
            check=_check_whole,
        ),
    ] = 100.0
    keep_mm: Annotated[
        float,
        Option("The shortest off-cut worth keeping, in whole mm.", low=1.0, high=12_000.0, check=_check_whole),
    ] = 1000.0
    punches_per_head: Annotated[
        int, Option("Punches that a head holds at a time; a head works one face of the section.", low=1, high=12)
    ] = 3


def bar_faults(bars: BarSettings) -> Iterator[str]:
    """What in the options of the bars does not go together, in sentences."""
    if not bars.lengths_mm:
        yield (
            "`bars.lengths_mm` must name one length at least, not []. "
            "Where no new bars are to be had, name their length and set it to 0 in `bars.available`."
        )
        return
    known = " and ".join(f"{length:g}" for length in sorted(bars.lengths_mm))
    for name, table in (("prices", bars.prices), ("available", bars.available)):
        for key in table:
            if float(key) not in bars.lengths_mm:
                yield (
                    f"`bars.{name}` names bars of {key} mm, and `bars.lengths_mm` holds {known}. "
                    f"Add {key} there or take it out here."
                )


@dataclass(frozen=True, slots=True)
class DocumentSettings:
    """What is printed on the sheets."""

    job: Annotated[str, Option("The job, printed on every page.")] = ""
    revision: Annotated[str, Option("The model's revision, printed on every page.")] = ""
    date: Annotated[str, Option("The date printed, as 2031-04-30; empty: the model file's own.", check=_check_date)] = (
        ""
    )
    paper: Annotated[str, Option("Paper of the sheets.", choices=("A4", "Letter"))] = "A4"


@dataclass(frozen=True, slots=True)
class NcSettings:
    """Numerical control files."""

    u_datum: Annotated[
        str,
        Option(
            "Where y is 0 on the second leg of an angle (face u): toe, as follows from the standard, or heel. Run the "
            "test piece (`takeoff test-piece`) before changing it: the wrong one moves every hole of that leg.",
            choices=("toe", "heel"),
        ),
    ] = "toe"
    v_leg: Annotated[
        str,
        Option("Which leg of an unequal angle lies in front (face v).", choices=("longer", "shorter")),
    ] = "longer"
    marking: Annotated[
        str,
        Option(
            "What is stamped, in letters by [stamp]: {mark} and, where the job has one, {revision}; empty: nothing.",
            check=_check_stamp,
        ),
    ] = "{mark} {revision}"
    countersink_deg: Annotated[float, Option("Full angle of countersinks.", low=60.0, high=150.0)] = 90.0


@dataclass(frozen=True, slots=True)
class DxfSettings:
    """Drawings 1:1 for cutting (DXF)."""

    outline_layer: Annotated[str, Option("Layer of outlines.", check=_check_layer)] = "OUTLINE"
    hole_layer: Annotated[str, Option("Layer of holes.", check=_check_layer)] = "HOLES"
    mark_layer: Annotated[str, Option("Layer of the mark's text.", check=_check_layer)] = "MARK"
    fold_layer: Annotated[str, Option("Layer of the heel line of developed angles.", check=_check_layer)] = "HEEL"
    far_side_layer: Annotated[
        str, Option("Layer of what is on the far side: a bevelled end's other edge.", check=_check_layer)
    ] = "FAR_SIDE"
    angle_legs: Annotated[bool, Option("Draw angles too, both legs developed about the heel.")] = False


@dataclass(frozen=True, slots=True)
class Settings:
    holes: HoleSettings = field(default_factory=HoleSettings)
    identity: IdentitySettings = field(default_factory=IdentitySettings)
    marks: MarkSettings = field(default_factory=MarkSettings)
    weights: WeightSettings = field(default_factory=WeightSettings)
    bolts: BoltSettings = field(default_factory=BoltSettings)
    distances: DistanceSettings = field(default_factory=DistanceSettings)
    gauges: GaugeSettings = field(default_factory=GaugeSettings)
    clearances: ClearanceSettings = field(default_factory=ClearanceSettings)
    punching: PunchingSettings = field(default_factory=PunchingSettings)
    line: LineSettings = field(default_factory=LineSettings)
    stamp: StampSettings = field(default_factory=StampSettings)
    zinc: ZincSettings = field(default_factory=ZincSettings)
    checks: CheckSettings = field(default_factory=CheckSettings)
    flats: FlatSettings = field(default_factory=FlatSettings)
    bars: BarSettings = field(default_factory=BarSettings)
    documents: DocumentSettings = field(default_factory=DocumentSettings)
    nc: NcSettings = field(default_factory=NcSettings)
    dxf: DxfSettings = field(default_factory=DxfSettings)
