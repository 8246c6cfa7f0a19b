"""Functional tolerances of manufacture, for the first piece's inspection.

Source: EN 1090-2, Annex B, classes 1 and 2, every value from memory and not looked up in a copy; rows of the table say
so, and so does the sheet. They are printed beside what is measured; nothing is held by them.
"""

from __future__ import annotations

import csv
from functools import lru_cache
from importlib.resources import files
from typing import Final, NamedTuple

LENGTH, SQUARENESS, HOLE, GROUPS, EDGE, SIZE, NOTCH = (
    "length", "squareness", "hole position", "group spacing", "hole to edge", "hole size", "notch",
)  # fmt: skip
SOURCE: Final = "EN 1090-2 Annex B"


class Tolerance(NamedTuple):
    """From ``minus`` mm below to ``plus`` mm above the nominal."""

    minus: float
    plus: float
    source: str


@lru_cache(maxsize=1)
def _table() -> dict[tuple[str, int], tuple[float, float, float, str]]:
    text = files("takeoff.rules").joinpath("data", "tolerances_en1090_2.csv").read_text(encoding="utf-8")
    return {
        (row["item"], int(row["class"])): (
            float(row["minus_mm"]), float(row["plus_mm"]), float(row["share"]), row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    }  # fmt: skip


def tolerance(item: str, functional_class: int, size: float = 0.0) -> Tolerance:
    """The tolerance of an item, one of the module's names; ``size`` mm is its length or depth.

    KeyError for an item or class that the table does not have.
    """
    minus, plus, share, source = _table()[item, functional_class]
    return Tolerance(minus + share * size, plus + share * size, source)
