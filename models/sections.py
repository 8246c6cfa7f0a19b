"""Rolled sections of the demo models: EN 10056-1 angles, UPN channels of EN 10365, in mm."""

from __future__ import annotations

from takeoff.ifc.step_text import Ref
from takeoff.ifc.writer import ModelWriter

ANGLES = {
    # designation: leg A, leg B, thickness, root radius, toe radius
    "L150x100x10": (150, 100, 10, 12, 6),
    "L120x120x12": (120, 120, 12, 13, 6.5),
    "L100x100x10": (100, 100, 10, 12, 6),
    "L100x100x8": (100, 100, 8, 12, 6),
    "L75x50x6": (75, 50, 6, 7, 3.5),
    "L60x60x6": (60, 60, 6, 8, 4),
    "L60x40x5": (60, 40, 5, 6, 3),
    "L50x50x5": (50, 50, 5, 7, 3.5),
}
CHANNELS = {
    # designation: depth, flange, web, flange thickness (at half the flange), root radius, toe radius
    "UPN140": (140, 60, 7, 10, 10, 5),
    "UPN120": (120, 55, 7, 9, 9, 4.5),
}
FLANGE_SLOPE = 0.0798298
"""Radians: 8 % taper of UPN flanges up to 300 mm depth."""


def section(model: ModelWriter, designation: str) -> Ref:
    """The profile of a designation: angles by name, channels by name, ``FL60x8`` for a flat."""
    if designation in ANGLES:
        a, b, t, r1, r2 = ANGLES[designation]
        return model.profiles.angle(a, b, t, r1, r2, name=designation)
    if designation in CHANNELS:
        h, b, tw, tf, r1, r2 = CHANNELS[designation]
        return model.profiles.channel(h, b, tw, tf, r1, r2, slope=FLANGE_SLOPE, name=designation)
    if designation.startswith("FL"):
        width, thickness = map(float, designation[2:].split("x"))
        return model.profiles.rectangle(thickness, width, name=designation)
    raise ValueError(f"no section {designation} here")
