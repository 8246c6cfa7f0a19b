"""Figures rounded so that the lines of a list add up to its total, and the total is the rounded sum.

Every total of a job is then the same on every sheet, and can be checked with a pencil on the page.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import floor


def add_up(values: Sequence[float], decimals: int = 1) -> list[float]:
    """``values`` rounded to ``decimals`` so that they add up to their rounded sum, none off by a whole last place.

    By the largest remainder: what is cut off most is rounded up first, the first of equal ones.
    """
    unit: int = 10**decimals
    scaled = [value * unit for value in values]
    # a hair, so that 2.9999999 from adding up thousands of pieces counts as 3
    floors = [floor(value + 1e-6) for value in scaled]
    missing = round(sum(scaled)) - sum(floors)
    order = sorted(range(len(values)), key=lambda k: (-round(scaled[k] - floors[k], 6), k))
    for k in order[: max(0, missing)]:
        floors[k] += 1
    return [value / unit for value in floors]
