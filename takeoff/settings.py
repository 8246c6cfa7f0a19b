"""The shop's settings, typed, with defaults. A rule's number stands here or in a table with its source.

An option's explanation and what it may hold stand beside the option, once, so that the
default file, its check (settings_file.py) and the documentation cannot disagree.
"""

from __future__ import annotations

import math
import re
import string
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Any


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


@dataclass(frozen=True, slots=True)
class HoleSettings:
    """How a hole's diameter follows from its bolt where the model does not say one."""

    rule: Annotated[str, Option("Table of nominal clearances: EN 1090-2 (Table 11).", choices=("EN 1090-2",))] = (
        "EN 1090-2"
    )
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
class Settings:
    holes: HoleSettings = field(default_factory=HoleSettings)
    identity: IdentitySettings = field(default_factory=IdentitySettings)
    marks: MarkSettings = field(default_factory=MarkSettings)
    weights: WeightSettings = field(default_factory=WeightSettings)
    bolts: BoltSettings = field(default_factory=BoltSettings)
    flats: FlatSettings = field(default_factory=FlatSettings)
    documents: DocumentSettings = field(default_factory=DocumentSettings)
