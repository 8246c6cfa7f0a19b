"""Tolerances (one each) and how numbers are printed. Everything inside is mm, kg, degrees."""

from __future__ import annotations

from math import copysign, gcd
from typing import Final

COINCIDENCE_MM: Final = 0.01
"""Two points of one part this close are one point; also the snap of the ordering of shapes."""
GROUPING_MM: Final = 0.5
"""Lengths and hole positions of one piece mark differ by no more than this."""
DIAMETER_MM: Final = 0.1
"""Diameters of one piece mark differ by no more than this."""
CONTACT_MM: Final = 2.0
"""Plies this close count as touching (battered structures)."""
PARALLEL_DEG: Final = 2.0
"""Faces this nearly parallel count as parallel; a bolt this nearly square is square."""
PRINT_MM: Final = 0.5
"""Sheets print whole or half millimetres where a number is one within PRINT_EXACT_MM."""
PRINT_EXACT_MM: Final = 0.05

STEEL_DENSITY: Final = 7850.0
"""kg/m3, EN 1991-1-1 table A.4 gives 77 to 78.5 kN/m3; 7850 is the value of the section standards."""


def millimetres(value: float) -> str:
    """A length for print: whole or half mm where it is one, else one decimal. ``-0`` never appears."""
    half = round(value * 2) / 2
    if abs(value - half) <= PRINT_EXACT_MM:
        value = half
    # A hair more, so that 6.35, which is a little less in binary, prints as 6.4.
    text = f"{value + copysign(1e-9, value):.1f}"
    if text.endswith(".0"):
        text = text[:-2]
    return "0" if text == "-0" else text


def feet_inches(value: float) -> str:
    """A length in mm as feet, inches and sixteenths: ``3'-0 1/2"``, below a foot ``11 15/16"``; nought is ``0``.

    Rounded once, to the nearest sixteenth of an inch, half away from nought; fractions in lowest terms. The inch is
    25.4 mm (ISO 31-1:1992, and the international yard of 1959). The way of writing is common practice, no source.
    """
    sixteenths = int(abs(value) / 25.4 * 16 + 0.5 + 1e-9)
    if not sixteenths:
        return "0"
    feet, rest = divmod(sixteenths, 12 * 16)
    inches, part = divmod(rest, 16)
    fraction = ""
    if part:
        shared = gcd(part, 16)
        fraction = f"{part // shared}/{16 // shared}"
    whole = str(inches) if inches or feet or not fraction else ""
    text = " ".join(word for word in (whole, fraction) if word) + '"'
    return ("-" if value < 0 else "") + (f"{feet}'-{text}" if feet else text)


def kilograms(value: float) -> str:
    """A mass for print: two decimals below 10 kg, one below 1000 kg, whole above."""
    if abs(value) < 10:
        return f"{value:.2f}"
    return f"{value:.1f}" if abs(value) < 1000 else f"{value:.0f}"
