"""How the nouns of steel are written on paper: sizes, faces, counts, empty values."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from takeoff.rules.sizes import size_name
from takeoff.steel import ANGLE, CHANNEL, FLAT, I_SHAPE, PLATE, RHS, T_SHAPE, Hole, Section
from takeoff.units import millimetres

CHECKSUM_LETTERS: Final = 12

_FACES: Final = {
    "A": "leg A",
    "B": "leg B",
    "web": "web",
    "stem": "stem",
    "top": "top flange",
    "bottom": "bottom flange",
    "face": "broad side",
    "front": "front wall",
    "back": "back wall",
    "wall": "wall",
}
_DATUMS: Final = {
    ANGLE: "heel",
    CHANNEL: "outside of the bottom flange on the web; back of the web on the flanges",
    I_SHAPE: "outside of the bottom flange on the web; web centre line on the flanges",
    T_SHAPE: "outside of the flange on the stem; stem centre line on the flange",
    FLAT: "bottom edge",
    PLATE: "bottom edge of the smallest rectangle round the plate",
    RHS: "outside of the bottom wall on front and back; outside of the front wall on top and bottom",
}


def face_name(shape: str, face: str) -> str:
    """A face as the shop calls it; a tube's top and bottom are walls, a T's bottom its flange."""
    if shape == RHS and face in ("top", "bottom"):
        return f"{face} wall"
    if shape == T_SHAPE and face == "bottom":
        return "flange"
    return _FACES.get(face, face)


def datum(shape: str) -> str:
    """What ``across`` is measured from, in words."""
    return _DATUMS.get(shape, "datum line of the face")


def number(value: float | None) -> str:
    """Millimetres, empty where not known."""
    return "" if value is None else millimetres(value)


def thickness(value: float) -> str:
    """A thickness, closer than lengths: rolled inch sizes are no tenths of a millimetre."""
    return f"{round(value, 2):g}"


def count(value: int | None) -> str:
    """A number of things, empty where not known."""
    return "" if value is None else str(value)


def several(value: int, one: str, more: str | None = None) -> str:
    """``1 hole``, ``2 holes``."""
    return f"{value} {one if value == 1 else more or one + 's'}"


def bolt_size(diameter: float | None) -> str:
    """``M16``, ``3/4``; empty where not known."""
    return "" if diameter is None else size_name(diameter)


def opening(hole: Hole) -> str:
    """What to punch: ``Ø18``, ``18 × 40`` for a slot or rectangle, with its kind where it is special."""
    if hole.kind == "rectangle":
        return f"{number(hole.slot_length)} × {number(hole.width)}"
    if hole.slot_length:
        return f"{number(hole.diameter)} × {number(hole.slot_length)}"
    text = f"Ø{number(hole.diameter)}"
    return text if hole.kind in ("round", "slot") else f"{text} {hole.kind}"


def slot(hole: Hole) -> str:
    """Overall size and angle of what is not round; empty for a round hole."""
    if not hole.slot_length:
        return ""
    width = hole.width if hole.kind == "rectangle" else hole.diameter
    return f"{number(width)} × {number(hole.slot_length)} at {angle(hole.slot_angle)}"


def angle(degrees: float) -> str:
    """Degrees, to a tenth where they are not whole."""
    text = f"{degrees:.1f}"
    if text.endswith(".0"):
        text = text[:-2]
    return f"{'0' if text == '-0' else text}°"


def mass_source(section: Section) -> str:
    """Where the mass per metre comes from."""
    source = section.standard or "computed from dimensions"
    return f"{section.mass_kg_per_m:.2f} kg/m ({source})" if section.mass_kg_per_m else ""


def ranges(numbers: Iterable[int], most: int, where: str) -> str:
    """``1-4, 7``: the first ``most`` runs, and ``where`` the others stand."""
    runs: list[list[int]] = []
    for value in sorted(set(numbers)):
        if runs and value == runs[-1][1] + 1:
            runs[-1][1] = value
        else:
            runs.append([value, value])
    text = ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs[:most])
    more = sum(b - a + 1 for a, b in runs[most:])
    return f"{text} and {more} more in {where}" if more else text


def some(items: Iterable[str], most: int, where: str) -> str:
    """The first ``most`` items, and how many more there are and ``where`` they stand."""
    listed = list(items)
    text = ", ".join(listed[:most])
    return text if len(listed) <= most else f"{text} and {len(listed) - most} more in {where}"
