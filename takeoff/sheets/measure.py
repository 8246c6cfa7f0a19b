"""How lengths are printed on the sheets: the unit, and the end that running dimensions start from.

Both are the shop's settings and hold for a whole document, like the language. Every figure is rounded from its own
distance to the datum, never summed or taken from a rounded one.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Final

from takeoff.settings import DocumentSettings
from takeoff.sheets import fonts
from takeoff.units import DIAMETER_MM, feet_inches, kilograms, millimetres
from takeoff.words import decimal, say

SIXTEENTH: Final = 25.4 / 16


@dataclass(frozen=True, slots=True)
class _Way:
    inches: bool = False
    from_right: bool = False


_WAY: ContextVar[_Way] = ContextVar("way", default=_Way())  # noqa: B039  # frozen


@contextmanager
def measuring(documents: DocumentSettings) -> Iterator[None]:
    """What is composed within is measured as the settings ask."""
    before = _WAY.set(_Way(documents.units == "feet-inches", documents.datum_end == "right"))
    try:
        yield
    finally:
        _WAY.reset(before)


def _feet_inches(value: float) -> str:
    return feet_inches(value).replace(" ", fonts.NO_BREAK)


def inches() -> bool:
    """Whether lengths are printed in feet, inches and sixteenths."""
    return _WAY.get().inches


def from_right() -> bool:
    """Whether running dimensions start at the right end."""
    return _WAY.get().from_right


def figure(value: float, places: int) -> str:
    """A number with so many decimals, with the decimal sign of the language."""
    return decimal(f"{value:.{places}f}")


def metric(value: float) -> str:
    """Millimetres, whatever the unit of the sheets, with the decimal sign of the language."""
    return decimal(millimetres(value))


def mass(value: float) -> str:
    """Kilograms, with the decimal sign of the language."""
    return decimal(kilograms(value))


def length(value: float) -> str:
    """A length or distance in mm, as it is printed; without its unit in mm, with the signs in feet and inches."""
    return _feet_inches(value) if _WAY.get().inches else metric(value)


def with_unit(value: float) -> str:
    """``1845 mm``, ``6'-0 5/8"``."""
    return _feet_inches(value) if _WAY.get().inches else say("{length} mm", length=metric(value))


def size(value: float) -> str:
    """A diameter or thickness in mm: never rounded to a size that it is not.

    In inch shops a fraction where it is one within the tolerance of diameters, else millimetres, said so.
    """
    if not _WAY.get().inches:
        return metric(value)
    if value and abs(value - round(value / SIXTEENTH) * SIXTEENTH) <= DIAMETER_MM:
        return _feet_inches(value)
    return say("{length} mm", length=metric(value))


def running(x: float, whole: float) -> str:
    """The running dimension of ``x`` on a piece ``whole`` mm long, from the datum end."""
    return length(whole - x if _WAY.get().from_right else x)
