"""A lower bound that holds whatever the state of the column generation.

Duals of a linear programme that still lacks columns are not feasible. Scaled down they
are (Farley, "A note on bounding a class of linear programming problems", Operations
Research 38, 1990): no pattern is then worth more than its bar costs. Everything is
whole numbers and fractions here; no rounding can make the bound too high.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

import numpy as np

from takeoff.cutting.problem import FloatArray, IntArray

SCALE: Final = 2.0**36
"""Duals as multiples of the dearest bar are rounded to whole multiples of 1 / SCALE."""


def whole(duals: FloatArray) -> FloatArray:
    """Duals (n,) in units of the dearest bar's price, rounded down to whole 1 / SCALE, none negative."""
    return np.floor(np.maximum(duals, 0.0) * SCALE)


def farley(
    values: FloatArray,
    demand: IntArray,
    prices: Sequence[int],
    available: Sequence[int | None],
    most: Sequence[float],
) -> Fraction | None:
    """The best bound on the price of cutting ``demand`` that multiples of ``values`` (n,) prove.

    ``most`` is the value of the best pattern of each kind of bar. With the values scaled
    by t, a bar without limit must not be worth more than its price; one of which there
    are u adds -u x (what it is worth over its price). The bound is concave and piecewise
    linear in t, so its maximum lies at one of the breaks. None: it grows without end, so
    the bars that there are cannot hold the demand.
    """
    total = sum(int(v) * int(d) for v, d in zip(values, demand, strict=True))
    worth = [int(m) for m in most]
    ends = [Fraction(p, w) for p, w, u in zip(prices, worth, available, strict=True) if u is None and w > 0]
    kinks = [(Fraction(p, w), p, w, u) for p, w, u in zip(prices, worth, available, strict=True) if u is not None and w]
    cap = min(ends, default=None)
    if cap is None and total > sum(w * u for _, _, w, u in kinks):
        return None
    tries = {t for t, *_ in kinks if cap is None or t < cap}
    if cap is not None:
        tries.add(cap)
    if not tries:
        return Fraction(0)
    values_at = (
        t * total + sum((min(Fraction(0), u * (p - t * w)) for _, p, w, u in kinks), Fraction(0)) for t in tries
    )
    return max(values_at)
