"""The section a part is called against the section it is drawn with.

Both are used: where they agree the table's section stands; where they do not, what was measured stands and
the difference is asked about.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from takeoff.sections import by_mass, designations
from takeoff.steel import FLAT, PLATE, Section

OUTSIDE_MM: Final = 0.6
"""Names round inches and half millimetres: 203.2 is called 203, 7.5 may be called 8 in no table."""
THICKNESS_MM: Final = 0.3
"""Thicknesses of the tables differ by 0.2 mm at least between sizes of one name; names round by less than this."""
_BROAD: Final = (FLAT, PLATE)


@lru_cache(maxsize=65536)
def disagreement(text: str, section: Section) -> tuple[str, str] | None:
    """What a part is called and what it measures, where the two are different sections; None where they agree.

    None too where the text names no section that is known. Flats and plates are held to their thickness
    only: what a name calls the width is often the size before trimming.
    """
    if not text:
        return None
    if by_mass.agrees(text, section) is False:
        return text, section.designation
    named = designations.read(text)
    if named is None:
        return None
    if named.shape in _BROAD and section.shape in _BROAD:
        thin = min(t for t in (named.b, named.tw, named.h) if t > 0)
        return None if abs(thin - section.tw) <= THICKNESS_MM else (text, section.designation)
    if named.shape != section.shape:
        return text, section.designation
    sizes = (abs(named.h - section.h), abs(named.b - section.b))
    walls = [abs(a - b) for a, b in ((named.tw, section.tw), (named.tf, section.tf)) if a > 0 and b > 0]
    if max(sizes) > OUTSIDE_MM or max(walls, default=0.0) > THICKNESS_MM:
        return text, section.designation
    return None
