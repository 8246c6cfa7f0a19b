"""Levels, sides and the way a piece stands, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from takeoff.dispatch import DOWN, LEFT, RIGHT, UP, Level, Stand
from takeoff.sheets import measure
from takeoff.sheets.wording import face_name
from takeoff.steel import Section
from takeoff.words import say


def height_words(height: float) -> str:
    """A height in the model with its sign: ``+2.125 m``, ``-0.300 m``, ``+6'-11 5/8"``."""
    sign = "-" if height < -0.5 else "+"
    if measure.inches():
        return sign + measure.length(abs(height))
    return say("{sign}{height} m", sign=sign, height=measure.figure(abs(height) / 1000, 3))


def level_words(number: int, levels: Mapping[int, Level]) -> str:
    """``Level 2, from +2.125 m``."""
    if number not in levels:
        return say("Place not known")
    return say("Level {number}, from {height}", number=number, height=height_words(levels[number].height))


def sides_words(sides: Sequence[str]) -> str:
    """The face of the structure: ``face +X``, ``corner +X +Y``, ``inside``."""
    if not sides:
        return say("inside")
    if len(sides) == 1:
        return say("face {side}", side=sides[0])
    return say("corner {sides}", sides=" ".join(sides))


def _look(direction: str, sides: Sequence[str]) -> str:
    if direction == UP:
        return say("up")
    if direction == DOWN:
        return say("down")
    if len(sides) == 1 and direction == sides[0]:
        return say("outward")
    if len(sides) == 1 and direction == opposite(sides[0]):
        return say("inward")
    return direction


def opposite(side: str) -> str:
    """The side across the structure."""
    if side[:1] in "+-":
        return ("-" if side[0] == "+" else "+") + side[1:]
    return f"{(float(side.rstrip('°')) + 180.0) % 360.0:.0f}°"


def end_words(stand: Stand) -> str:
    """Which end is up, or where the right end of a level piece points."""
    if stand.way.end_up == RIGHT:
        return say("right end up")
    if stand.way.end_up == LEFT:
        return say("left end up")
    if not stand.way.right_to:
        return ""
    return say("level, right end to {side}", side=_look(stand.way.right_to, stand.sides))


def outside_words(stand: Stand, section: Section) -> str:
    """Where the outsides of its legs or sides look: ``leg A outward, leg B up``."""
    names = {
        "back": say("back of the web"),
        "web": say("drawn side of the web"),
        "flange": say("outside of the flange"),
        "face": say("drawn side"),
    }
    return ", ".join(
        f"{names.get(name) or face_name(section.shape, name)} {_look(direction, stand.sides)}"
        for name, direction in stand.way.outsides
        if direction
    )
