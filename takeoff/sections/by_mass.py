"""Designations that name a depth and a mass instead of dimensions: W16x36, C8x11.5, W410x53, UB 203x133x25.

Such a name says its nominal depth (inches, or mm where it is over 44) and the mass of a foot in pounds, of a metre
in kg where the depth is in mm (ASTM A6/A6M; the British series by serial size and kg/m). It is held against
what was measured: the shape, the depth and the mass of the measured area. The tables' own radii are not in it.
"""

from __future__ import annotations

import re
from typing import Final

from takeoff.steel import CHANNEL, I_SHAPE, T_SHAPE, Section
from takeoff.units import STEEL_DENSITY

INCH_MM: Final = 25.4
POUND_PER_FOOT: Final = 0.45359237 / 0.3048
"""kg/m."""
MASS_SHARE: Final = 0.06
"""Roundings left out of a drawing make it up to 3 % lighter, names round the mass (common practice, no source)."""
LEAST_DEPTH: Final = 0.88
"""Sections of a series are seldom shallower than this share of the depth they are called by, often deeper."""
_SHAPES: Final = {
    **dict.fromkeys(("W", "WF", "S", "HP", "UB", "UC", "UKB", "UKC", "UBP"), I_SHAPE),
    **dict.fromkeys(("C", "MC"), CHANNEL),
    **dict.fromkeys(("WT", "ST"), T_SHAPE),
}
_MOST_INCHES: Final = {"C": 18.0, "MC": 18.0, "S": 24.0, "ST": 12.0}
"""The deepest of a series in inches. What is deeper is in mm for W, HP and WT; C100x50 may be depth by width."""
_DEEPEST: Final = 44.0
_NAME: Final = re.compile(r"([A-Z]{1,3}) ?(\d+(?:\.\d+)?)[X×*](?:(\d+(?:\.\d+)?)[X×*])?(\d+(?:\.\d+)?)")


def agrees(text: str, section: Section) -> bool | None:
    """Whether a section may be the one a name of depth and mass means; None where the text is no such name."""
    found = _NAME.fullmatch(re.sub(r" ?([X×*]) ?", r"\1", " ".join(text.upper().split())))
    if found is None or found[1] not in _SHAPES:
        return None
    british = found[1].startswith("U")
    if british != (found[3] is not None):
        return None  # C150x50x20x3 and the like name sizes
    depth, mass = float(found[2]), float(found[4])
    if depth <= _MOST_INCHES.get(found[1], _DEEPEST) and not british:
        depth, mass = depth * INCH_MM, mass * POUND_PER_FOOT
    elif found[1] in _MOST_INCHES:
        return None
    measured = section.area_mm2 * STEEL_DENSITY * 1e-6
    return (
        section.shape == _SHAPES[found[1]]
        and section.h >= LEAST_DEPTH * depth
        and abs(measured - mass) <= MASS_SHARE * mass
    )
