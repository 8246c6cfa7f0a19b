"""Nominal sizes of bolts: what a diameter in mm is called.

Does not know pitches: a size is a diameter here.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

METRIC: Final = (5, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 42, 45, 48, 52, 56, 60, 64)
"""ISO 262, coarse series of bolts; with the second choice 14, 18, 22, 27, 33, 39, 45, 52, 60."""
INCH: Final = {
    "1/4": 0.25,
    "5/16": 0.3125,
    "3/8": 0.375,
    "7/16": 0.4375,
    "1/2": 0.5,
    "9/16": 0.5625,
    "5/8": 0.625,
    "3/4": 0.75,
    "7/8": 0.875,
    "1": 1.0,
    "1-1/8": 1.125,
    "1-1/4": 1.25,
    "1-3/8": 1.375,
    "1-1/2": 1.5,
    "1-3/4": 1.75,
    "2": 2.0,
}
"""Unified inch sizes in inches; ASME B1.1 coarse series."""
INCH_MM: Final = 25.4
CLOSE_MM: Final = 0.1
"""A diameter this close to a nominal one is that size: metric first, then inch."""


@lru_cache(maxsize=1024)
def metric_size(diameter_mm: float) -> int | None:
    """The metric size within 0.1 mm, or None."""
    near = min(METRIC, key=lambda size: abs(size - diameter_mm))
    return near if abs(near - diameter_mm) <= CLOSE_MM else None


@lru_cache(maxsize=1024)
def inch_size(diameter_mm: float) -> str | None:
    """The inch size within 0.1 mm (``3/4``) of a diameter that is no metric size, or None."""
    if metric_size(diameter_mm) is not None:
        return None
    near = min(INCH, key=lambda size: abs(INCH[size] * INCH_MM - diameter_mm))
    return near if abs(INCH[near] * INCH_MM - diameter_mm) <= CLOSE_MM else None


def size_name(diameter_mm: float) -> str:
    """``M16``, ``3/4``, or ``d 17.3`` for a diameter in mm that is no nominal size."""
    metric = metric_size(diameter_mm)
    if metric is not None:
        return f"M{metric}"
    inch = inch_size(diameter_mm)
    if inch is not None:
        return inch
    return f"d {diameter_mm:.1f}".removesuffix(".0")


@lru_cache(maxsize=1024)
def diameter_of(name: str) -> float:
    """The diameter in mm that :func:`size_name` gave a name to; 0 for an empty name. Raises ValueError for others."""
    if not name:
        return 0.0
    if name in INCH:
        return INCH[name] * INCH_MM
    return float(name.removeprefix("M").removeprefix("d "))
