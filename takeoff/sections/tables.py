"""Tables of rolled sections: which entry a measured section is, and what the standard says it weighs.

The tables hold dimensions and published masses (facts, each row with its source); area and
surface are computed from them. Rows whose published mass contradicts their own dimensions by
more than 0.53 % are not in the tables: such a section is weighed by its dimensions.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Final

from takeoff import steel
from takeoff.sections import shapes
from takeoff.steel import Section
from takeoff.units import STEEL_DENSITY

OUTSIDE_MM: Final = 0.25
"""Depths and widths this close to the table's are the table's: covers 203.2 listed as 203."""
THICKNESS_MM: Final = 0.15
"""The same for thicknesses, whose steps in the tables are 0.2 mm and more."""
RADIUS_MM: Final = 1.5
RADIUS_SHARE: Final = 0.25
"""A drawn root radius this far from the table's (the larger of the two) is still that section:
published tables disagree by as much. Sharp corners are how simplified models draw any section."""
INCH_MM: Final = 25.4
SIXTEENTH_MM: Final = 0.03
"""Legs and thicknesses this close to sixteenths of an inch are inch sizes."""
SLOPE: Final = 0.025
"""The same for the taper of flanges; parallel flanges are a tapered section drawn simply."""


def key(designation: str) -> str:
    """A designation without spaces and case, with x as the only separator."""
    return designation.replace(" ", "").replace("*", "x").replace("×", "x").upper().replace("X", "x")


@lru_cache(maxsize=1)
def entries() -> tuple[Section, ...]:
    """Every section of the tables, with the published mass and the name of its table."""
    return tuple(_angles()) + tuple(_beams_and_channels())


@lru_cache(maxsize=1)
def by_designation() -> MappingProxyType[str, Section]:
    """The entries by :func:`key` of their designation."""
    return MappingProxyType({key(section.designation): section for section in entries()})


def match(section: Section, text: str = "", mass: str = "table") -> Section:
    """The table's entry for a measured section, or the section unchanged where no single entry fits.

    Depth, width and thicknesses must agree; radii and taper may be drawn or left out, but not
    contradict the entry. ``text`` (what the model calls the section) only decides between entries
    that fit alike. ``mass`` ``computed`` keeps the entry's name and dimensions and weighs it by them,
    with ``standard`` empty; see settings.weights. Raises ValueError for another ``mass``.
    """
    if mass not in ("table", "computed"):
        raise ValueError(f"mass is table or computed, not {mass}")
    found = _match(section, key(text))
    if found is None:
        return american(section)
    if mass == "computed":
        return _computed(found)
    return found


@lru_cache(maxsize=4096)
def american(section: Section) -> Section:
    """An angle in sixteenths of an inch under its AISC designation (``L4X3X5/16``); others unchanged.

    The name follows from the dimensions; the data of the AISC database is not here. Whole millimetres are metric.
    """
    sizes = (section.h, section.b, section.tw)
    if section.shape != steel.ANGLE or all(abs(size - round(size)) < SIXTEENTH_MM for size in sizes):
        return section
    sixteenths = [round(size / INCH_MM * 16) for size in sizes]
    if any(abs(n * INCH_MM / 16 - size) > SIXTEENTH_MM for n, size in zip(sixteenths, sizes, strict=True)):
        return section
    return replace(section, designation="L" + "X".join(map(_fraction, sixteenths)))


def _fraction(sixteenths: int) -> str:
    """``1-1/4`` for 20 sixteenths of an inch."""
    whole, rest = divmod(sixteenths, 16)
    if not rest:
        return str(whole)
    part = f"{rest // math.gcd(rest, 16)}/{16 // math.gcd(rest, 16)}"
    return f"{whole}-{part}" if whole else part


@lru_cache(maxsize=4096)
def _match(section: Section, text: str) -> Section | None:
    fitting = [entry for entry in entries() if _fits(section, entry)]
    if len(fitting) > 1:
        fitting = [entry for entry in fitting if key(entry.designation) in text]
    return fitting[0] if len(fitting) == 1 else None


def _fits(section: Section, entry: Section) -> bool:
    if section.shape != entry.shape or section.b2 or section.tf2:
        return False
    if max(abs(section.h - entry.h), abs(section.b - entry.b)) > OUTSIDE_MM:
        return False
    if max(abs(section.tw - entry.tw), abs(section.tf - entry.tf)) > THICKNESS_MM:
        return False
    if section.slope and abs(section.slope - entry.slope) > SLOPE:
        return False
    return _radius_fits(section.r1, entry.r1) and _radius_fits(section.r2, entry.r2)


def _radius_fits(drawn: float, listed: float) -> bool:
    return drawn == 0 or abs(drawn - listed) <= max(RADIUS_MM, RADIUS_SHARE * listed)


@lru_cache(maxsize=1024)
def _computed(entry: Section) -> Section:
    return replace(entry, mass_kg_per_m=entry.area_mm2 * STEEL_DENSITY * 1e-6, standard="")


def _rows(name: str) -> Iterator[dict[str, str]]:
    text = files("takeoff.sections").joinpath("data", name).read_text(encoding="utf-8")
    return iter(csv.DictReader(text.splitlines()))


def _angles() -> Iterator[Section]:
    for row in _rows("angles.csv"):
        sizes = (float(row[column]) for column in ("a_mm", "b_mm", "t_mm", "r1_mm", "r2_mm"))
        yield _named(shapes.angle(*sizes), row)


def _beams_and_channels() -> Iterator[Section]:
    for row in _rows("beams_and_channels.csv"):
        h, b, tw, tf, r1, r2, slope = (
            float(row[column]) for column in ("h_mm", "b_mm", "tw_mm", "tf_mm", "r1_mm", "r2_mm", "slope")
        )
        if row["shape"] == steel.CHANNEL:
            yield _named(shapes.channel(h, b, tw, tf, r1, r2, slope), row)
        else:
            yield _named(shapes.i_section(h, b, tw, tf, r1, slope=slope, r2=r2), row)


def _named(section: Section, row: dict[str, str]) -> Section:
    return replace(
        section,
        designation=row["designation"],
        mass_kg_per_m=float(row["mass_kg_per_m"]),
        standard=row["standard"],
    )
