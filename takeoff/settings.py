"""The shop's settings, typed, with defaults. A rule's number stands here or in a table with its source."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class HoleSettings:
    """How a hole's diameter follows from its bolt where the model does not say one."""

    rule: str = "EN 1090-2"
    """Table of nominal clearances: ``EN 1090-2`` (Table 11)."""
    towers: bool = False
    """Take the table's reduction of 0.5 mm for towers and masts."""
    clearance_mm: dict[str, float] = field(default_factory=dict)
    """The shop's or client's own clearance by bolt size, over the table: {"M16": 1.5}."""


@dataclass(frozen=True, slots=True)
class IdentitySettings:
    """When two parts are the same piece."""

    position_mm: float = 0.5
    length_mm: float = 0.5
    diameter_mm: float = 0.1
    clearance_share: float = 0.25
    """Hole positions never differ by more than this share of the bolt's clearance in its hole."""


@dataclass(frozen=True, slots=True)
class MarkSettings:
    """Piece marks. ``keep`` the model's where one mark is one shape, else the scheme."""

    keep_model_marks: bool = True
    scheme: str = "{letter}{number}"
    """``{letter}`` is the shape's from ``letters``, ``{number}`` counts within it from ``start``."""
    start: int = 1
    letters: dict[str, str] = field(
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
    mass: str = "table"
    """``table``: published mass per metre where the section is in a table; ``computed``: from dimensions."""
    density_kg_m3: float = 7850.0


@dataclass(frozen=True, slots=True)
class BoltSettings:
    spare_percent: float = 3.0
    spare_minimum: int = 2
    washers: int = 1
    """Washers per bolt where the model does not say."""
    nuts: int = 1


@dataclass(frozen=True, slots=True)
class FlatSettings:
    """Which rectangles are flats (rolled bars) and which plates."""

    widths_mm: tuple[float, ...] = (
        20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 90, 100, 110, 120, 130, 140, 150, 160,
    )  # fmt: skip
    thicknesses_mm: tuple[float, ...] = (3, 4, 5, 6, 8, 10, 12, 15, 16, 18, 20, 22, 25, 30, 35, 40)


@dataclass(frozen=True, slots=True)
class DocumentSettings:
    job: str = ""
    revision: str = ""
    date: str = ""
    """Printed date; empty: the model file's own."""
    paper: str = "A4"


@dataclass(frozen=True, slots=True)
class Settings:
    holes: HoleSettings = field(default_factory=HoleSettings)
    identity: IdentitySettings = field(default_factory=IdentitySettings)
    marks: MarkSettings = field(default_factory=MarkSettings)
    weights: WeightSettings = field(default_factory=WeightSettings)
    bolts: BoltSettings = field(default_factory=BoltSettings)
    flats: FlatSettings = field(default_factory=FlatSettings)
    documents: DocumentSettings = field(default_factory=DocumentSettings)
