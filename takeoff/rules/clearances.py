"""How much larger a hole is than its bolt.

Vocabulary: nominal clearance (hole diameter less bolt diameter), normal round hole.
Sources: EN 1090-2:2018 Table 11 with its notes, or AISC 360 Table J3.3M, for metric bolts; AISC 360-16 Table J3.3
(standard hole) for inch bolts, which the European table does not cover. The reduction for towers and masts
(note to Table 11) is 0.5 mm from memory, high confidence.
"""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType
from typing import Final

from takeoff.rules.fasteners import rows
from takeoff.rules.sizes import INCH_MM, inch_size, metric_size, size_name
from takeoff.settings import HoleSettings

__all__ = ["clearance", "size_name"]

TOWER_REDUCTION_MM: Final = 0.5
RULES: Final = ("EN 1090-2", "AISC 360")


@lru_cache(maxsize=1)
def _metric() -> MappingProxyType[int, float]:
    return MappingProxyType(
        {int(row["diameter_mm"]): float(row["clearance_normal_mm"]) for row in rows("holes_en_1090_2.csv")}
    )


@lru_cache(maxsize=1)
def _inch() -> MappingProxyType[str, float]:
    return MappingProxyType(
        {
            row["size"]: (float(row["standard_hole_in"]) - float(row["diameter_in"])) * INCH_MM
            for row in rows("holes_aisc_inch.csv")
        }
    )


@lru_cache(maxsize=1)
def _aisc_metric() -> MappingProxyType[int, float]:
    return MappingProxyType(
        {
            int(row["diameter_mm"]): float(row["standard_mm"]) - float(row["diameter_mm"])
            for row in rows("holes_aisc_metric.csv")
        }
    )


def clearance(diameter_mm: float, holes: HoleSettings) -> tuple[float, str]:
    """The clearance in mm of a normal round hole for a bolt, and a sentence that says where it is from.

    The shop's own clearance for the size goes first, then the table. A diameter that is neither a
    metric nor an inch size is treated as a metric bolt of the next size in the table, and the
    sentence says so. Raises ValueError for a diameter that is not positive or an unknown rule.
    """
    if not diameter_mm > 0:
        raise ValueError("a bolt needs a diameter")
    if holes.rule not in RULES:
        raise ValueError(f"no table of clearances is called {holes.rule}")
    name = size_name(diameter_mm)
    own = holes.clearance_mm.get(name)
    if own is not None:
        return own, f"{name}: clearance {own:g} mm from the settings."
    inch = inch_size(diameter_mm)
    if inch is not None and inch in _inch():
        value = round(_inch()[inch], 4)
        return value, (
            f"{name} in: clearance {value:g} mm, standard hole of AISC 360-16 Table J3.3; "
            "EN 1090-2 does not cover inch bolts."
        )
    size = metric_size(diameter_mm)
    if holes.rule == "AISC 360" and size is not None and size >= min(_aisc_metric()):
        listed = size if size in _aisc_metric() else max(entry for entry in _aisc_metric() if entry < size)
        note = "" if listed == size else f", as M{listed}"
        return _aisc_metric()[listed], f"{name}: clearance {_aisc_metric()[listed]:g} mm, AISC 360 Table J3.3M{note}."
    return _en_1090_2(diameter_mm, name, holes.towers)


def _en_1090_2(diameter_mm: float, name: str, towers: bool) -> tuple[float, str]:
    table = _metric()
    size = metric_size(diameter_mm)
    smallest, largest = min(table), max(table)
    nominal = float(size) if size is not None else diameter_mm
    if nominal < smallest:
        listed, note = smallest, f", as M{smallest} (note a)"
    elif nominal > largest:
        listed, note = largest, f", as M{largest} (note b)"
    else:
        listed, note = min(entry for entry in table if entry >= nominal), ""
    if size is None:
        note = f", as M{listed}: the diameter is no nominal size"
    value = table[listed]
    sentence = f"{name}: clearance {value:g} mm, EN 1090-2:2018 Table 11{note}"
    if towers:
        value -= TOWER_REDUCTION_MM
        sentence = (
            f"{name}: clearance {value:g} mm, EN 1090-2:2018 Table 11{note}, "
            "reduced by 0.5 mm for towers and masts (the figure is from memory)"
        )
    return value, sentence + "."
