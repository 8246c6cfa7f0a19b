"""What property sets state of fasteners, by the meaning of a property's name (takeoff/ifc/data).

Lengths come out in mm. A property's own unit wins; a value that is typed as a length
is in the file's unit; a bare number's unit is not known, and is left to be judged.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any, Final
from weakref import WeakKeyDictionary

from takeoff.ifc.context import Context, Entity, ReadError, argument, si_factor
from takeoff.ifc.fastener_words import rows, size_of

LENGTHS: Final = frozenset({"diameter", "length", "hole", "slot_x", "slot_y"})
COUNTS: Final = frozenset({"nuts", "washers", "count"})
LENGTH_TYPES: Final = frozenset({"IfcLengthMeasure", "IfcPositiveLengthMeasure", "IfcNonNegativeLengthMeasure"})
SENTINEL: Final = 1e30
"""Numbers this large stand for "not set" (largest double and the like)."""


@dataclass(frozen=True, slots=True)
class Stated:
    """What one property set says: (meaning, rank of the name, value), best names first.

    Lengths are (mm or None, bare number or None); counts int; the rest text.
    """

    values: tuple[tuple[str, int, Any], ...] = ()


EMPTY: Final = Stated()


class _Kept:
    """What has been read of one file: sets by id, one object for sets that say the same, properties by id."""

    def __init__(self) -> None:
        self.sets: dict[int, Stated] = {}
        self.same: dict[Stated, Stated] = {}
        self.properties: dict[int, tuple[str, int, Any] | None] = {}


_KEPT: WeakKeyDictionary[Context, _Kept] = WeakKeyDictionary()


def plain(name: str) -> str:
    """A property's name for comparison: without spaces, marks, case, accents and "mm" in brackets at its end."""
    bare = re.sub(r"[(\[]\s*mm\s*[)\]]\s*$", "", name.strip())
    letters = unicodedata.normalize("NFKD", bare.casefold().replace("ł", "l"))
    return re.sub(r"[\W_]+", "", "".join(c for c in letters if not unicodedata.combining(c)))


@cache
def meanings() -> dict[str, tuple[str, int]]:
    """Plain name -> (meaning, rank); the lower rank wins."""
    found: dict[str, tuple[str, int]] = {}
    for rank, row in enumerate(rows("fastener_properties.csv")):
        found.setdefault(plain(row["name"]), (row["meaning"], rank))
    return found


@cache
def _places() -> dict[str, str]:
    return {plain(row["word"]): row["place"] for row in rows("fastener_places.csv")}


def place_of(text: str) -> str:
    """``shop``, ``site`` or empty."""
    known = _places()
    whole = known.get(plain(text), "")
    if whole:
        return whole
    found = {known[word] for word in map(plain, re.findall(r"[^\W\d_]+", text)) if word in known}
    return found.pop() if len(found) == 1 else ""


def stated_of(ctx: Context, property_set: Entity) -> Stated:
    """What an IfcPropertySet states of a fastener; cached by set, and sets that say the same give one object."""
    kept = _KEPT.get(ctx)
    if kept is None:
        kept = _KEPT[ctx] = _Kept()
    key = property_set.id()
    found = kept.sets.get(key)
    if found is None:
        new = _read(ctx, property_set, kept.properties)
        found = kept.sets[key] = kept.same.setdefault(new, new)
    return found


def merged(sets: Iterable[Stated]) -> dict[str, Any]:
    """Meaning -> value over several sets; the better name wins, then the set given first."""
    best: dict[str, tuple[int, Any]] = {}
    for stated in sets:
        for meaning, rank, value in stated.values:
            if meaning not in best or rank < best[meaning][0]:
                best[meaning] = (rank, value)
    return {meaning: value for meaning, (_, value) in best.items()}


def _read(ctx: Context, property_set: Entity, kept: dict[int, tuple[str, int, Any] | None]) -> Stated:
    if property_set.is_a() != "IfcPropertySet":
        return EMPTY
    found: list[tuple[str, int, Any]] = []
    for prop in argument(property_set, 4) or ():
        key = prop.id()
        if key not in kept:
            kept[key] = _one(ctx, prop)
        said = kept[key]
        if said is not None:
            found.append(said)
    return Stated(tuple(sorted(found, key=lambda item: item[1]))) if found else EMPTY


def _one(ctx: Context, prop: Entity) -> tuple[str, int, Any] | None:
    """(meaning, rank, value) of one property; None where it means nothing here or has no value."""
    entry = meanings().get(_plain(argument(prop, 0)))
    if entry is None or prop.is_a() != "IfcPropertySingleValue":
        return None
    value = argument(prop, 2)
    if value is None:
        return None
    result = _value(ctx, entry[0], value, argument(prop, 3))
    return None if result is None else (*entry, result)


_plain = cache(plain)


def _value(ctx: Context, meaning: str, value: Entity, unit: Entity | None) -> Any:
    raw = argument(value, 0)
    if meaning in LENGTHS:
        return _length(ctx, value.is_a(), raw, unit)
    if meaning in COUNTS:
        number = _as_number(raw)
        return int(number) if number is not None and number >= 0 and number == int(number) else None
    if meaning == "place":
        if isinstance(raw, bool):
            return "site" if raw else "shop"
        return place_of(str(raw)) or None
    text = str(raw).strip()
    return text if text and text not in ("$", "-", "*") and not isinstance(raw, bool) else None


def _length(ctx: Context, kind: str, raw: Any, unit: Entity | None) -> tuple[float | None, float | None] | None:
    number = _as_number(raw)
    if number is None:
        size = size_of(str(raw)) if isinstance(raw, str) else None
        if size is not None and size.diameter:
            return (size.diameter, None)
        return None
    if number < 0:
        return None
    if unit is not None and unit.is_a("IfcNamedUnit") and unit.UnitType == "LENGTHUNIT":
        try:
            return (number * si_factor(unit) * 1000.0, None)
        except ReadError:  # a unit without a size is no unit: the number is judged like a bare one
            return (None, number)
    if kind in LENGTH_TYPES:
        return (number * ctx.mm, None)
    return (None, number)


def _as_number(raw: Any) -> float | None:
    if isinstance(raw, bool):
        return None
    if isinstance(raw, str):
        text = raw.strip().casefold().removesuffix("mm").strip().replace(",", ".")
        try:
            raw = float(text)
        except ValueError:
            return None
    number = float(raw)
    return number if math.isfinite(number) and abs(number) < SENTINEL else None
