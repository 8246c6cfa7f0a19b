"""Sizes of bolts, nuts and washers by their standards: tables read once, with the source of every row.

Vocabulary: pitch (of the thread), flats (width across flats), thread (length of the thread, b in the standards),
full (threaded to the head), family (the nut and washer that belong to a bolt's standard). Lengths mm.
Does not know clamp lengths of EN 14399-4 (its Table A.1 was not at hand).
"""

from __future__ import annotations

import csv
import re
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Final, NamedTuple

from takeoff.rules.sizes import inch_size, metric_size

DIN_7990, HV, HR, ISO_4017, ISO_4014, INCH = (
    "DIN 7990", "EN 14399-4", "EN 14399-3", "ISO 4017", "ISO 4014", "ASME B18.2.6",
)  # fmt: skip

_FAMILIES: Final = (
    # words in the model's text, bolt standards in order of preference, nut, washer
    (("DIN7990",), (DIN_7990,), "ISO 4032", "DIN 7989-1"),
    (("14399-4", "14399-8", "DIN6914", "DIN7999"), (HV,), "EN 14399-4", "EN 14399-6"),
    (("14399-3",), (HR,), "EN 14399-3", "EN 14399-6"),
    (("4017", "DIN933"), (ISO_4017,), "ISO 4032", "ISO 7089"),
    (("4014", "DIN931"), (ISO_4014, ISO_4017), "ISO 4032", "ISO 7089"),
)
_GENERAL: Final = ((ISO_4014, ISO_4017), "ISO 4032", "ISO 7089")
_INCH: Final = ((INCH,), INCH, "ASTM F436")

_BARE: Final = ("931", "933", "7990", "6914", "7999")
"""Models also write a standard of DIN as its bare number."""

LONGEST: Final = MappingProxyType(
    {
        ("ISO 4014", "M10"): 150, ("ISO 4014", "M12"): 150, ("ISO 4014", "M14"): 160, ("ISO 4014", "M16"): 200,
        ("ISO 4014", "M18"): 180, ("ISO 4014", "M20"): 300, ("ISO 4014", "M22"): 220, ("ISO 4014", "M24"): 220,
        ("ISO 4014", "M27"): 220, ("ISO 4014", "M30"): 300, ("ISO 4014", "M33"): 320, ("ISO 4014", "M36"): 360,
        ("ISO 4017", "M10"): 100, ("ISO 4017", "M12"): 120, ("ISO 4017", "M14"): 140, ("ISO 4017", "M16"): 150,
        ("ISO 4017", "M18"): 200, ("ISO 4017", "M20"): 160, ("ISO 4017", "M22"): 200, ("ISO 4017", "M24"): 180,
        ("ISO 4017", "M27"): 200, ("ISO 4017", "M30"): 200, ("ISO 4017", "M33"): 200, ("ISO 4017", "M36"): 200,
        ("DIN 7990", "M12"): 120, ("DIN 7990", "M16"): 150, ("DIN 7990", "M20"): 180,
    }
)  # fmt: skip
"""The longest of a size, an open table of fasteners; ISO 4017 M27 is from memory (that table prints 100). DIN 7990: the
last rows of its Table 3 (2008), 200 for larger sizes."""


class Bolt(NamedTuple):
    """A size of a bolt standard. ``thread`` up to 125, up to 200 and over 200 mm length."""

    pitch: float
    head: float
    flats: float
    thread: tuple[float | None, float | None, float | None]
    full: bool
    shortest: float
    source: str

    def thread_length(self, length: float) -> float | None:
        """Length of the thread of a bolt of this length; None where the table has none."""
        if self.full:
            return length
        thread = self.thread[0 if length <= 125 else 1 if length <= 200 else 2]
        return None if thread is None else min(thread, length)


class Nut(NamedTuple):
    """A size of a nut standard."""

    height: float
    flats: float
    source: str


class Washer(NamedTuple):
    """A size of a washer standard."""

    inner: float
    outer: float
    thickness: float
    source: str


class Family(NamedTuple):
    """Bolt standards in order of preference, their nut and washer; ``assumed`` says what was not stated."""

    bolts: tuple[str, ...]
    nut: str
    washer: str
    assumed: str


def size_of(diameter_mm: float) -> str:
    """``M16`` or ``3/4``; empty for a diameter that is no nominal size."""
    metric = metric_size(diameter_mm)
    return f"M{metric}" if metric is not None else inch_size(diameter_mm) or ""


@lru_cache(maxsize=1024)
def family(standard: str, inch: bool) -> Family:
    """What belongs to the standard a model names; an ordinary hexagon bolt where it names none of the tables'."""
    if inch:
        return Family(*_INCH, "" if "B18.2.6" in standard else "taken as a heavy hexagon structural bolt")
    text = re.sub(r"\s|ISO(?=\d{5})", "", standard.upper())
    if text in _BARE:
        text = f"DIN{text}"
    for words, standards, nut, washer in _FAMILIES:
        if any(re.search(rf"(?<!\d){re.escape(word)}(?!\d)", text) for word in words):
            return Family(standards, nut, washer, "")
    said = f"the standard {standard} is not in the tables" if standard.strip() else "no standard stated"
    return Family(*_GENERAL, f"{said}, taken as an ordinary hexagon bolt")


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a table in ``takeoff/rules/data``."""
    text = files("takeoff.rules").joinpath("data", name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@lru_cache(maxsize=1)
def bolts() -> MappingProxyType[tuple[str, str], Bolt]:
    """Bolts by (standard, size)."""

    def thread(text: str) -> float | None:
        return float(text) if text else None

    return MappingProxyType(
        {
            (row["standard"], row["size"]): Bolt(
                float(row["pitch_mm"]),
                float(row["head_mm"]),
                float(row["flats_mm"]),
                (
                    thread(row["thread_to_125_mm"]),
                    thread(row["thread_to_200_mm"]),
                    thread(row["thread_over_200_mm"]),
                ),
                row["full_thread"] == "yes",
                float(row["shortest_mm"] or 0),
                row["source"],
            )
            for row in rows("bolts.csv")
        }
    )


@lru_cache(maxsize=1)
def nuts() -> MappingProxyType[tuple[str, str], Nut]:
    """Nuts by (standard, size)."""
    return MappingProxyType(
        {
            (row["standard"], row["size"]): Nut(float(row["height_mm"]), float(row["flats_mm"]), row["source"])
            for row in rows("nuts.csv")
        }
    )


@lru_cache(maxsize=1)
def washers() -> MappingProxyType[tuple[str, str], Washer]:
    """Washers by (standard, size)."""
    return MappingProxyType(
        {
            (row["standard"], row["size"]): Washer(
                float(row["inner_mm"]), float(row["outer_mm"]), float(row["thickness_mm"]), row["source"]
            )
            for row in rows("washers.csv")
        }
    )
