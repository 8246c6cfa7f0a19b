"""Cutting plans against published examples with a known optimum, each with its source."""

import pytest

from takeoff.stock import cutting_plan


def test_rolls_of_5600():
    """Thirteen widths from rolls of 5600 mm: 73 rolls, 0.401 % waste, in no fewer than 10 patterns.

    Source: the illustration in Wikipedia's article "Cutting stock problem", [seen].
    """
    widths = [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200]
    wanted = [22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20]
    assert sum(w * n for w, n in zip(widths, wanted, strict=True)) == 407160  # as the article says
    plan = cutting_plan(widths, wanted, [(5600, 1, None)])
    assert (plan.bars, plan.lower_bound, plan.proved) == (73, 73, True)
    assert sum(o * p.times for o, p in zip(plan.offcuts, plan.patterns, strict=True)) / 407160 == pytest.approx(
        0.00401, abs=0.00002
    )
    assert len(plan.patterns) >= 10


def test_rolls_of_100():
    """Four widths from rolls of 100 inches: 453 rolls, where the linear relaxation needs 452.25.

    Source: Chvatal, "Linear Programming" (1983), chapter 13; widths and orders [seen] in a
    teaching notebook that quotes them, the 453 from memory.
    """
    plan = cutting_plan([45, 36, 31, 14], [97, 610, 395, 211], [(100, 1, None)])
    assert (plan.bars, plan.lower_bound, plan.proved) == (453, 453, True)
