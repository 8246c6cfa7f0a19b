"""May a hole be punched, and with what force.

Vocabulary: make (punch, punch and ream, drill), undersize (how much smaller a hole is punched that is reamed after).
Sources: EN 1090-2, 6.6.3 (thickness up to the hole's nominal diameter; EXC3 and EXC4 over 3 mm punched undersize and
reamed): from memory, high confidence. AISC specifications of 1989 and 1999, M2.5: thickness up to the bolt's diameter
and 1/8 in, seen; later editions without a limit and A514 over 1/2 in drilled: from memory. Strengths: the upper
tensile strengths of EN 10025-2 and ASTM A36, A572, A992: from memory. Shear strength 0.8 of it: common practice.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import Final, NamedTuple

from takeoff.settings import PunchingSettings
from takeoff.steel import CHS, RHS, ROUND
from takeoff.words import Figure, phrase

PUNCH, REAM, DRILL, CUT = "punch", "punch and ream", "drill", "cut"

THIN_MM: Final = 3.0
AISC_MORE_MM: Final = 3.175
A514_MM: Final = 12.7
SHEAR_SHARE: Final = 0.8
_STRENGTHS: Final = (
    # grade, upper tensile strength N/mm2
    (r"S ?235|FE ?360|ST ?37", 510.0),
    (r"S ?275|FE ?430|ST ?44", 560.0),
    (r"S ?355|FE ?510|ST ?52", 630.0),
    (r"S ?420", 680.0),
    (r"S ?450", 720.0),
    (r"S ?460", 720.0),
    (r"A ?36\b", 550.0),
    (r"A ?572|A ?992|A ?529", 620.0),
    (r"Q ?235", 500.0),
    (r"Q ?355|Q ?345", 630.0),
)
UNKNOWN_STRENGTH: Final = 630.0
"""Where the grade is not known the force is that of S355: too much rather than too little for ordinary steel."""


DIELESS: Final = (RHS, CHS, ROUND)
NO_DIE: Final = phrase("no die stands behind the wall of hollow sections and in rounds (common practice, no source)")
"""Shapes whose holes are drilled, and why."""


class Make(NamedTuple):
    """How a hole is made, the diameter punched first where it is reamed (0: none), and why."""

    how: str
    punch_mm: float
    why: str


@lru_cache(maxsize=4096)
def _make(
    hole: float, bolt: float, thickness: float, grade: str, rule: str, execution: str, own: float | None, under: float,
    slot: bool,
) -> Make:  # fmt: skip
    size = phrase("{hole} mm in {steel} mm", hole=Figure(f"{hole:.4g}"), steel=Figure(f"{thickness:g}"))
    if own is not None and thickness > own:
        return Make(
            DRILL,
            0.0,
            phrase(
                "{size}: thicker than {own} mm (settings, punching.thickness_mm)", size=size, own=Figure(f"{own:g}")
            ),
        )
    if rule == "EN 1090-2":
        if thickness > hole + 1e-6:
            return Make(
                DRILL, 0.0, phrase("{size}: thicker than the hole is wide (EN 1090-2, 6.6.3, from memory)", size=size)
            )
        if execution in ("EXC3", "EXC4") and thickness > THIN_MM:
            if slot:
                why = phrase(
                    "{size}, {execution}: a slot is not reamed, its ends are drilled and the rest cut (common "
                    "practice, no source)",
                    size=size,
                    execution=execution,
                )
                return Make(DRILL, 0.0, why)
            if hole - under >= thickness:
                return Make(
                    REAM,
                    hole - under,
                    phrase(
                        "{size}, {execution}: undersize and reamed (EN 1090-2, from memory)",
                        size=size,
                        execution=execution,
                    ),
                )
            return Make(
                DRILL,
                0.0,
                phrase(
                    "{size}, {execution}: too thick to punch undersize (EN 1090-2, from memory)",
                    size=size,
                    execution=execution,
                ),
            )
        return Make(
            PUNCH, 0.0, phrase("{size}, {execution}: EN 1090-2, 6.6.3, from memory", size=size, execution=execution)
        )
    if re.search(r"A ?514", grade.upper()) and thickness > A514_MM:
        return Make(DRILL, 0.0, phrase("{size}: A514 over 1/2 in is drilled (AISC M2.5, from memory)", size=size))
    if rule == "AISC 1989":
        limit = (bolt or hole) + AISC_MORE_MM
        if thickness > limit:
            return Make(
                DRILL,
                0.0,
                phrase(
                    "{size}: thicker than the bolt and 1/8 in, {limit} mm (AISC 1989, M2.5)",
                    size=size,
                    limit=Figure(f"{limit:.4g}"),
                ),
            )
        return Make(PUNCH, 0.0, phrase("{size}: up to the bolt and 1/8 in (AISC 1989, M2.5)", size=size))
    return Make(PUNCH, 0.0, phrase("{size}: no limit of thickness (AISC 360, M2.5, from memory)", size=size))


def make_of(
    hole: float, bolt: float, thickness: float, grade: str, settings: PunchingSettings, slot: bool = False
) -> Make:
    """How a hole is made: ``hole`` its diameter (a ``slot``'s width), ``bolt`` 0 where not known, mm."""
    own = [t for begins, t in settings.thickness_mm.items() if grade.upper().startswith(begins.upper())]
    return _make(
        hole, bolt, thickness, grade, settings.rule, settings.execution_class, min(own, default=None),
        settings.undersize_mm, slot,
    )  # fmt: skip


@lru_cache(maxsize=1024)
def tensile_strength(grade: str) -> tuple[float, bool]:
    """Upper tensile strength in N/mm2 by the grade's name, and whether the grade is known."""
    for pattern, strength in _STRENGTHS:
        if re.search(pattern, grade.upper()):
            return strength, True
    return UNKNOWN_STRENGTH, False


def punching_force(hole: float, thickness: float, grade: str) -> float:
    """Force in kN to punch a round hole: its circumference x thickness x 0.8 of the tensile strength.

    The formula is that of shearing in manufacturing handbooks, the share 0.8 common practice without a source; wear
    of the punch and the die's clearance are not counted.
    """
    return math.pi * hole * thickness * SHEAR_SHARE * tensile_strength(grade)[0] / 1000.0
