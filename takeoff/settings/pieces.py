"""Identity, marks, weights, zinc, flats."""

from __future__ import annotations

import string
from dataclasses import dataclass, field
from typing import Annotated

from takeoff.settings.option import Option


def _check_scheme(scheme: str) -> str:
    try:
        fields = [name for _, name, _, _ in string.Formatter().parse(scheme) if name is not None]
        scheme.format(letter="A", number=1)
    except (ValueError, KeyError, IndexError, AttributeError):
        fields = []
    if "number" not in fields or not set(fields) <= {"letter", "number"}:
        return "must hold {number} and may hold {letter}, as in {letter}{number} or {letter}-{number:03}"
    return ""


def _check_letters(text: str) -> str:
    if text and not any(c.isspace() for c in text) and len(text) <= 8:
        return ""
    return "must be one to eight characters without a space"


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
    """Piece marks and assembly marks."""

    source: Annotated[
        str,
        Option(
            "model: keep the model's own mark where one mark is one shape (erection drawings carry it), with a suffix "
            "(P12-1, P12-2) where it covers several; what has none gets a mark by the scheme. scheme: all get a mark "
            "by the scheme (assemblies: AS1, AS2). A mark in the register is kept either way.",
            choices=("model", "scheme"),
        ),
    ] = "model"
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
