"""How the nouns of steel are written on paper: sizes, faces, counts, empty values."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from takeoff.rules.sizes import size_name
from takeoff.sheets import measure
from takeoff.steel import (
    ANGLE,
    BOUGHT_OUT,
    CHANNEL,
    FLAT,
    HELD,
    I_SHAPE,
    LEFT_OUT,
    LISTED,
    PLATE,
    RHS,
    T_SHAPE,
    Hole,
    Section,
)
from takeoff.words import decimal, say

CHECKSUM_LETTERS: Final = 12


def face_name(shape: str, face: str) -> str:
    """A face as the shop calls it; a tube's top and bottom are walls, a T's bottom its flange."""
    if shape == RHS and face == "top":
        return say("top wall")
    if shape == RHS and face == "bottom":
        return say("bottom wall")
    if shape == T_SHAPE and face == "bottom":
        return say("flange")
    names = {
        "A": say("leg A"),
        "B": say("leg B"),
        "web": say("web"),
        "stem": say("stem"),
        "top": say("top flange"),
        "bottom": say("bottom flange"),
        "face": say("broad side"),
        "front": say("front wall"),
        "back": say("back wall"),
        "wall": say("wall"),
    }
    return names.get(face, face)


def datum(shape: str) -> str:
    """What ``across`` is measured from, in words."""
    names = {
        ANGLE: say("heel"),
        CHANNEL: say("outside of the bottom flange on the web; back of the web on the flanges"),
        I_SHAPE: say("outside of the bottom flange on the web; web centre line on the flanges"),
        T_SHAPE: say("outside of the flange on the stem; stem centre line on the flange"),
        FLAT: say("bottom edge"),
        PLATE: say("bottom edge of the smallest rectangle round the plate"),
        RHS: say("outside of the bottom wall on front and back; outside of the front wall on top and bottom"),
    }
    return names.get(shape, say("datum line of the face"))


def holes_words(count: int) -> str:
    """``no holes``, ``1 hole``, ``2 holes``."""
    if not count:
        return say("no holes")
    return say("1 hole") if count == 1 else say("{count} holes", count=count)


def pieces_words(count: int) -> str:
    """``1 piece``, ``2 pieces``."""
    return say("1 piece") if count == 1 else say("{count} pieces", count=count)


def parts_words(count: int) -> str:
    """``1 part``, ``2 parts``."""
    return say("1 part") if count == 1 else say("{count} parts", count=count)


def marks_words(count: int) -> str:
    """``1 mark``, ``2 marks``."""
    return say("1 mark") if count == 1 else say("{count} marks", count=count)


def assumed(hole: Hole) -> bool:
    """Whether its diameter is not the model's but its bolt's with a clearance added."""
    return hole.diameter_source == "rule" and hole.diameter > 0


def number(value: float | None) -> str:
    """Millimetres, empty where not known."""
    return "" if value is None else measure.metric(value)


def thickness(value: float) -> str:
    """A thickness, closer than lengths: rolled inch sizes are no tenths of a millimetre."""
    if measure.inches():
        return measure.size(value)
    return decimal(f"{round(value, 2):g}")


def count(value: int | None) -> str:
    """A number of things, empty where not known."""
    return "" if value is None else str(value)


def bolt_size(diameter: float | None) -> str:
    """``M16``, ``3/4``; empty where not known."""
    return "" if diameter is None else size_name(diameter)


def opening(hole: Hole) -> str:
    """What to punch: ``Ø18``, ``18 × 40 overall`` for a slot or rectangle, with its kind where it is special.

    A hole that is reamed has both: ``punch Ø16, ream to Ø18``.
    """
    if hole.slot_length:
        width = hole.width if hole.kind == "rectangle" else hole.diameter
        text = say("{width} × {length} overall", width=measure.size(width), length=measure.size(hole.slot_length))
    else:
        text = f"Ø{measure.size(hole.diameter)}"
    if hole.punch_mm:
        # The punch that is set is the smaller one: it stands first.
        return say("punch Ø{first}, ream to {size}", first=measure.size(hole.punch_mm), size=text)
    if hole.kind == "rectangle":
        return say("{size} rectangle", size=text)
    special = kind_words(hole)
    return f"{text} {special}" if special else text


def kind_words(hole: Hole) -> str:
    """The kind of a hole that is neither round nor a slot: ``CSK FAR SIDE Ø32``, ``BLIND 12 DEEP, NEAR SIDE``.

    The side is seen on the face as it is drawn. What the model does not say is left out, but for a blind hole's depth.
    """
    if hole.kind == "countersunk":
        words = {"near": say("CSK NEAR SIDE"), "far": say("CSK FAR SIDE")}.get(hole.side, say("CSK"))
        return f"{words} Ø{measure.size(hole.head_diameter)}" if hole.head_diameter else words
    if hole.kind == "blind":
        deep = (
            say("BLIND {depth} DEEP", depth=measure.size(hole.depth)) if hole.depth else say("BLIND, DEPTH NOT KNOWN")
        )
        side = {"near": say("NEAR SIDE"), "far": say("FAR SIDE")}.get(hole.side, "")
        return f"{deep}, {side}" if side else deep
    return {"rectangle": say("rectangle")}.get(hole.kind, "" if hole.kind in ("round", "slot") else hole.kind)


def slot(hole: Hole) -> str:
    """Overall size and angle of what is not round, as in ``opening``; empty for a round hole."""
    if not hole.slot_length:
        return ""
    width = hole.width if hole.kind == "rectangle" else hole.diameter
    fields = {"width": measure.size(width), "length": measure.size(hole.slot_length), "angle": angle(hole.slot_angle)}
    return say("{width} × {length} at {angle}", **fields)


def angle(degrees: float) -> str:
    """Degrees, to a tenth where they are not whole."""
    text = f"{degrees:.1f}"
    if text.endswith(".0"):
        text = text[:-2]
    return f"{'0' if text == '-0' else decimal(text)}°"


def mass_source(section: Section) -> str:
    """Where the mass per metre comes from."""
    if not section.mass_kg_per_m:
        return ""
    source = section.standard or say("computed from dimensions")
    return say("{mass} kg/m ({source})", mass=measure.figure(section.mass_kg_per_m, 2), source=source)


def designation(section: Section) -> str:
    """The section as ISO 5261:1995 writes it, with the sign × between sizes; a plate by its thickness.

    ``L 100 × 75 × 8``, ``FL 60 × 8`` (the standard's sign of a flat is a rectangle; its letters print everywhere).
    From memory of tables 1 and 2 of the standard. Inch names stay as the trade writes them.
    """
    text = section.designation or section.shape
    if '"' in text or "/" in text:
        return text
    text = re.sub(r"(?<=[0-9.])\s*[x×X*]\s*(?=[0-9.])", " × ", text)
    return re.sub(r"^(L|FL|PL|RHS|SHS|CHS|T|C|U)(?=[0-9])", r"\1 ", text)


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
    return say("{names} and {count} more in {where}", names=text, count=more, where=where) if more else text


def some(items: Iterable[str], most: int, where: str) -> str:
    """The first ``most`` items, and how many more there are and ``where`` they stand."""
    listed = list(items)
    text = ", ".join(listed[:most])
    if len(listed) <= most:
        return text
    return say("{names} and {count} more in {where}", names=text, count=len(listed) - most, where=where)


def status_words(status: str) -> str:
    """Whether a part or bolt is listed, held, left out or bought out."""
    names = {
        LISTED: say("listed"),
        HELD: say("held"),
        LEFT_OUT: say("left out"),
        BOUGHT_OUT: say("bought out"),
    }
    return names.get(status, status)
