"""What a punching and shearing line can do with a section, a length and a hole.

Vocabulary: envelope (the smallest and largest section it takes), head (carries the punches of one leg), rack (the
punches at hand), normal and special punch (the second reaches nearer to the heel), hits (strokes for one slot).
All limits are the shop's settings; their defaults are common practice, without a source.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

from takeoff.settings import LineSettings
from takeoff.steel import ANGLE, CHANNEL, FLAT, Section
from takeoff.units import millimetres
from takeoff.words import Figure, phrase

RACK_MM: Final = 0.15
"""A punch this close to a hole's diameter makes it."""
EXACT: Final = 1e-6


@lru_cache(maxsize=64)
def _size(text: str) -> tuple[float, ...]:
    return tuple(float(part) for part in text.split("x"))


def section_refused(section: Section, line: LineSettings) -> str:
    """Why the line does not take a section at all, as the end of a sentence; empty where it does."""
    if section.shape == ANGLE:
        least, most = _size(line.angle_least), _size(line.angle_largest)
        legs, thickness = (section.h, section.b), section.tw
        if min(legs) < min(least[:2]) - EXACT or thickness < least[2] - EXACT:
            return phrase("it is smaller than the line's smallest angle, {size}", size=line.angle_least)
        if max(legs) > max(most[:2]) + EXACT or min(legs) > min(most[:2]) + EXACT or thickness > most[2] + EXACT:
            return phrase("it is larger than the line's largest angle, {size}", size=line.angle_largest)
        return ""
    if section.shape == FLAT:
        least, most = _size(line.flat_least), _size(line.flat_largest)
        if section.h < least[0] - EXACT or section.tw < least[1] - EXACT:
            return phrase("it is smaller than the line's smallest flat, {size}", size=line.flat_least)
        if section.h > most[0] + EXACT or section.tw > most[1] + EXACT:
            return phrase("it is larger than the line's largest flat, {size}", size=line.flat_largest)
        return ""
    if section.shape == CHANNEL:
        if not line.channel_largest_mm:
            return phrase("the line takes no channels")
        if not line.channel_least_mm - EXACT <= section.h <= line.channel_largest_mm + EXACT:
            return phrase(
                "its depth is outside the line's {least} to {largest} mm",
                least=Figure(millimetres(line.channel_least_mm)),
                largest=Figure(millimetres(line.channel_largest_mm)),
            )
        return ""
    return phrase("the line takes angles, flats and channels")


def length_refused(length: float, line: LineSettings) -> str:
    """Why the line does not take a piece of a length in mm; empty where it does."""
    if length < line.shortest_mm - EXACT:
        return phrase(
            "it is shorter than the {length} mm the line shears", length=Figure(millimetres(line.shortest_mm))
        )
    if length > line.longest_mm + EXACT:
        return phrase("it is longer than the {length} mm the line takes", length=Figure(millimetres(line.longest_mm)))
    return ""


def in_rack(diameter: float, line: LineSettings) -> bool:
    """Whether there is a punch for a diameter in mm; an empty rack has any."""
    return not line.rack_mm or min(abs(diameter - d) for d in line.rack_mm) <= RACK_MM


def slot_hits(width: float, length: float, line: LineSettings) -> int:
    """Strokes of a round punch that make a slot of a width and overall length in mm; 0 where the line makes none."""
    if not line.slots:
        return 0
    return math.ceil(max(0.0, length - width) / (line.slot_step_share * width) - EXACT) + 1


def heel_punch(gauge: float, other_leg: float, line: LineSettings) -> str:
    """Which punch reaches a hole at a gauge in mm beside a leg of a thickness: normal, special, or empty for none."""
    room = gauge - other_leg
    if room >= line.heel_mm - EXACT:
        return "normal"
    return "special" if room >= line.heel_special_mm - EXACT else ""
