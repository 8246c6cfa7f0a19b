"""What a drawn bolt of some thickness can be: the bolt, its thread, or the hole it stands in.

Vocabulary: root (diameter at the bottom of the thread), fit bolt (its shank fills the hole, a millimetre over the
thread's size).
Sources: the root of ISO 68-1, d - 1.2269 P, with the pitches of ISO 261 (coarse), of ASME B1.1 for inch sizes; the
shank of fit bolts, d + 1, of EN 14399-8 and DIN 7968, 7999. All from memory, high confidence. Holes: hole_classes.py.
Does not know: reduced shanks and what one maker draws.
"""

from __future__ import annotations

import re
from types import MappingProxyType
from typing import Final

from takeoff.rules.clearances import RULES
from takeoff.rules.hole_classes import NORMAL, OWN, TOWER, TWO_MM, hole_classes
from takeoff.rules.sizes import INCH, INCH_MM, inch_size, metric_size
from takeoff.settings import HoleSettings

ROOT_SHARE: Final = 1.2269
PITCHES: Final = MappingProxyType(
    {5: 0.8, 6: 1.0, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2.0, 16: 2.0, 18: 2.5, 20: 2.5, 22: 2.5, 24: 3.0, 27: 3.0,
     30: 3.5, 33: 3.5, 36: 4.0, 39: 4.0, 42: 4.5, 45: 4.5, 48: 5.0, 52: 5.0, 56: 5.5, 60: 5.5, 64: 6.0}
)  # fmt: skip
"""Coarse pitch in mm of a metric size."""
THREADS: Final = MappingProxyType(
    {"1/4": 20, "5/16": 18, "3/8": 16, "7/16": 14, "1/2": 13, "9/16": 12, "5/8": 11, "3/4": 10, "7/8": 9, "1": 8,
     "1-1/8": 7, "1-1/4": 7, "1-3/8": 6, "1-1/2": 6, "1-3/4": 5, "2": 4.5}
)  # fmt: skip
"""Coarse threads to an inch of an inch size."""
FIT_BOLT: Final = re.compile(r"14399-8|7968|7999")
_USUAL: Final = (NORMAL, TOWER, TWO_MM, OWN)
"""Holes that a bolt is drawn as. An oversize hole is not among them: it is as thick as the next bolt."""
SAME_MM: Final = 0.5
SAME_SHARE: Final = 0.03
"""Diameters this close are one: a circle drawn with few sides is that much thinner or thicker (common practice)."""


def explained(nominal: float, drawn: float, hole: float, standard: str, holes: HoleSettings) -> bool:
    """Whether a body ``drawn`` mm thick can be a bolt of ``nominal`` mm; ``hole``: its stated diameter, 0 for none."""
    same = max(SAME_MM, SAME_SHARE * nominal)
    if root(nominal) - same / 2 <= drawn <= nominal + same:
        return True
    # A model may be drawn by another table than the job's.
    rules = (holes, *(HoleSettings(rule=rule) for rule in RULES))
    sizes = [c.diameter for rule in rules for c in hole_classes(nominal, rule) if c.name in _USUAL]
    if not sizes:
        # A size of no table: what the tables add for bolts up to 14, up to 24, and over.
        sizes = [nominal + more for more in (1.0, 2.0, 3.0)]
    if hole:
        sizes.append(hole)
    if FIT_BOLT.search(standard):
        sizes.append(nominal + 1.0)
    return any(abs(drawn - size) <= same for size in sizes)


def root(nominal: float) -> float:
    """Diameter at the bottom of the thread; of a size of no table 0.8 of it, the least of those that are."""
    metric, inch = metric_size(nominal), inch_size(nominal)
    if metric is not None:
        return nominal - ROOT_SHARE * PITCHES[metric]
    if inch is not None:
        return INCH[inch] * INCH_MM - ROOT_SHARE * INCH_MM / THREADS[inch]
    return 0.8 * nominal
