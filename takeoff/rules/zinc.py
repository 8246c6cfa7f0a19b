"""Zinc of hot-dip galvanising: mean coating by the thickness of the steel.

Source: ISO 1461, mean coating of parts that are not centrifuged (over 6 mm 85 um, over 3 to 6 mm 70 um, 1.5 to 3 mm
55 um, under 1.5 mm 45 um; density of zinc 7.2 g/cm3, so 610, 505, 395, 325 g/m2): from memory, high confidence. It
is the least mean the standard asks; what a bath deposits is more, above all on reactive steel.
"""

from __future__ import annotations

from typing import Final

from takeoff.settings import ZincSettings
from takeoff.words import phrase

CLASSES: Final = ((6.0, 610.0), (3.0, 505.0), (1.5, 395.0), (0.0, 325.0))
"""(steel thicker than mm, g/m2); at 1.5 and 3 mm exactly the thicker and thinner class as the standard words it."""
SOURCE: Final = phrase("ISO 1461, mean coating by thickness, from memory")


def coating(thickness: float, own: float = 0.0) -> float:
    """Zinc in g/m2 on steel of a thickness in mm; ``own`` from the settings goes first."""
    if own > 0:
        return own
    for over, mass in CLASSES:
        # 1.5 mm belongs to "1.5 to 3", 3 and 6 mm to the class below ("over").
        if thickness > over or (over == 1.5 and thickness == over):
            return mass
    return CLASSES[-1][1]


def is_galvanised(finish: str, settings: ZincSettings) -> bool:
    """Whether the settings, or the model's finish where they ask for it, put a part into the zinc bath."""
    if settings.parts in ("finish", "weights"):
        words = finish.lower()
        return any(word in words for word in ("galv", "zinc", "zink", "hdg", "1461"))
    return settings.parts == "all"


def is_weighed(finish: str, settings: ZincSettings) -> bool:
    """Whether a part is given its weight with zinc."""
    return settings.parts == "weights" or is_galvanised(finish, settings)
