"""Stock bars and how they are cut."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Annotated

from takeoff.settings.option import Option


def _check_bar_length(key: str) -> str:
    if re.fullmatch(r"[1-9]\d{2,4}", key):
        return ""
    return 'must name lengths in whole mm as "12000"'


def _check_whole(value: float) -> str:
    # The plan counts in whole mm; rounding in secret would put every stop behind it in the wrong place.
    return "" if float(value).is_integer() else "must be in whole mm"


def _check_stock(key: str) -> str:
    parts = [part.strip() for part in key.split(",")]
    if len(parts) == 3 and parts[0] and re.fullmatch(r"[1-9]\d{1,4}", parts[2]):
        return ""
    return 'must name section, grade and length in mm as "L 100x100x10, S355J2, 3400"'


@dataclass(frozen=True, slots=True)
class BarSettings:
    """Stock bars, how they are cut, heads of the line. Defaults: common practice, no source."""

    lengths_mm: Annotated[
        tuple[float, ...],
        Option("Lengths of new bars, in whole mm.", low=500.0, high=30_000.0, check=_check_whole),
    ] = (6000, 12000)
    prices: Annotated[
        dict[str, float],
        Option(
            "Price of one bar, for every length or for none: {6000 = 6300, 12000 = 12000} makes 6 m bars 5 % dearer a "
            "metre. None: a mm of every bar costs the same.",
            low=0.001,
            high=1_000_000.0,
            check=_check_bar_length,
        ),
    ] = field(default_factory=dict)
    available: Annotated[
        dict[str, int],
        Option(
            "How many bars of a length are to be had for each section and grade: {12000 = 40}; others: as many as "
            "wanted.",
            low=0,
            high=1_000_000,
            check=_check_bar_length,
        ),
    ] = field(default_factory=dict)
    in_stock: Annotated[
        dict[str, int],
        Option(
            'Bars and off-cuts that the shop has: {"L 100x100x10, S355J2, 3400" = 2}, section and grade as in the '
            "lists.",
            low=0,
            high=1_000_000,
            check=_check_stock,
        ),
    ] = field(default_factory=dict)
    in_stock_price: Annotated[
        float,
        Option(
            "What a mm of them counts, as a share of the cheapest new bar's; below 1 so that they are used first.",
            low=0.0,
            high=1.0,
        ),
    ] = 0.5
    kerf_mm: Annotated[
        float, Option("Kerf of the saw or slug of the shear, in whole mm.", low=0.0, high=50.0, check=_check_whole)
    ] = 3.0
    front_trim_mm: Annotated[
        float,
        Option(
            "Cut off the end that goes in first, in whole mm, kerf included.", low=0.0, high=500.0, check=_check_whole
        ),
    ] = 10.0
    end_trim_mm: Annotated[
        float,
        Option("At the other end, of no use for a piece, in whole mm.", low=0.0, high=500.0, check=_check_whole),
    ] = 10.0
    grip_mm: Annotated[
        float,
        Option(
            "What the grip cannot feed and no piece can be cut from, in whole mm.",
            low=0.0,
            high=2000.0,
            check=_check_whole,
        ),
    ] = 100.0
    keep_mm: Annotated[
        float,
        Option("The shortest off-cut worth keeping, in whole mm.", low=1.0, high=12_000.0, check=_check_whole),
    ] = 1000.0
    punches_per_head: Annotated[
        int, Option("Punches that a head holds at a time; a head works one face of the section.", low=1, high=12)
    ] = 3


def unpriced(bars: BarSettings) -> str:
    """What is wrong where some lengths have a price and others have none, in a sentence; empty where nothing is.

    A bar without a price would count its mm against the others' money.
    """
    missing = [f"{length:g}" for length in sorted(bars.lengths_mm) if f"{length:g}" not in bars.prices]
    if not bars.prices or not missing:
        return ""
    return (
        f"`bars.prices` has a price for bars of {' and '.join(sorted(bars.prices, key=float))} mm and none for "
        f"{' and '.join(missing)} mm, so that their cost cannot be compared. "
        "Name the price of every length in `bars.lengths_mm`, or of none."
    )


def bar_faults(bars: BarSettings) -> Iterator[str]:
    """What in the options of the bars does not go together, in sentences."""
    if not bars.lengths_mm:
        yield (
            "`bars.lengths_mm` must name one length at least, not []. "
            "Where no new bars are to be had, name their length and set it to 0 in `bars.available`."
        )
        return
    known = " and ".join(f"{length:g}" for length in sorted(bars.lengths_mm))
    for name, table in (("prices", bars.prices), ("available", bars.available)):
        for key in table:
            if float(key) not in bars.lengths_mm:
                yield (
                    f"`bars.{name}` names bars of {key} mm, and `bars.lengths_mm` holds {known}. "
                    f"Add {key} there or take it out here."
                )
    strangers = any(float(key) not in bars.lengths_mm for key in bars.prices)
    if not strangers and (sentence := unpriced(bars)):
        yield sentence
