"""Usual gauges: where the lines of holes usually lie in angle legs and in flanges.

Vocabulary: gauge (distance of a line of holes from the heel; in a flange from the back of a channel's web, or between
the two lines of an I), alone (a leg with one line), first and second (a leg with two).
Sources: CISC Handbook and AISC Manual Table 1-7A, each seen in one transcription; DIN 997, SP 6 and the flange gauges
from memory, unverified: offered, never enforced.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

from takeoff.rules.fasteners import rows
from takeoff.settings import GaugeSettings
from takeoff.words import phrase

SAME_LEG_MM: Final = 0.6
"""A leg this near to a width of the table is that width: inch legs are rounded in models."""
FLANGE_SOURCE: Final = phrase("{table}, from memory", table="DIN 997")


class Usual(NamedTuple):
    """Usual gauges of a wall in mm, the largest hole it usually takes (0: the table does not say) and their source."""

    lines: tuple[float, ...]
    largest_hole: float
    source: str


@lru_cache(maxsize=4)
def _legs(table: str) -> tuple[tuple[float, Usual], ...]:
    found = []
    for row in rows("gauges_angles.csv"):
        if row["table"] == table:
            lines = {float(row[c]) for c in ("alone_mm", "first_mm", "second_mm") if row[c]}
            source = phrase("{table}, from memory", table=table) if row["source"] == "from memory" else row["source"]
            usual = Usual(tuple(sorted(lines)), float(row["largest_hole_mm"] or 0), source)
            found.append((float(row["leg_mm"]), usual))
    return tuple(found)


def leg_gauges(width: float, settings: GaugeSettings) -> Usual | None:
    """The usual gauges of an angle's leg of a width in mm; None where the table has no such leg."""
    for leg, gauge in settings.legs_mm.items():
        if abs(float(leg) - width) <= SAME_LEG_MM:
            return Usual((gauge,), 0.0, phrase("settings, {option}", option="gauges.legs_mm"))
    for leg_mm, usual in _legs(settings.table):
        if abs(leg_mm - width) <= SAME_LEG_MM:
            return usual
    return None


@lru_cache(maxsize=1)
def _flanges() -> dict[str, Usual]:
    return {
        row["section"]: Usual((float(row["gauge_mm"]),), float(row["largest_hole_mm"] or 0), FLANGE_SOURCE)
        for row in rows("gauges_flanges.csv")
    }


def flange_gauge(designation: str, settings: GaugeSettings) -> Usual | None:
    """The usual gauge in a flange of a rolled section (``IPE 200``, ``UPN 140``); None where it is in no table."""
    for name, gauge in settings.flanges_mm.items():
        if _plain(name) == _plain(designation):
            return Usual((gauge,), 0.0, phrase("settings, {option}", option="gauges.flanges_mm"))
    return _flanges().get(designation) if settings.flanges == "DIN 997" else None


def _plain(name: str) -> str:
    """A designation without what people write differently: ``IPE200``."""
    return name.replace(" ", "").upper()
