"""Hole diameters against the printed tables: EN 1090-2:2018 Table 11 and AISC 360-16 Table J3.3."""

import pytest

from takeoff.rules.clearances import clearance
from takeoff.settings import HoleSettings


@pytest.mark.parametrize(
    ("bolt", "hole"),
    [
        (12, 13), (14, 15), (16, 18), (18, 20), (20, 22), (22, 24), (24, 26), (27, 30), (30, 33), (36, 39),
    ],
)  # fmt: skip
def test_normal_round_holes(bolt, hole):
    value, source = clearance(bolt, HoleSettings())
    assert bolt + value == hole
    assert "EN 1090-2:2018 Table 11" in source


@pytest.mark.parametrize(("bolt", "hole"), [(8, 9), (10, 11), (39, 42), (48, 51)])
def test_sizes_outside_the_table_follow_its_notes(bolt, hole):
    value, source = clearance(bolt, HoleSettings())
    assert bolt + value == hole
    assert "note" in source


@pytest.mark.parametrize(("bolt", "hole"), [(12, 12.5), (16, 17.5), (20, 21.5), (24, 25.5), (27, 29.5)])
def test_towers_and_masts(bolt, hole):
    """The note of Table 11 for towers and masts; its 0.5 mm is a value from memory, high confidence."""
    value, source = clearance(bolt, HoleSettings(towers=True))
    assert bolt + value == hole
    assert "memory" in source


@pytest.mark.parametrize(
    ("bolt", "hole"),
    [(1 / 2, 9 / 16), (5 / 8, 11 / 16), (3 / 4, 13 / 16), (7 / 8, 15 / 16), (1, 1 + 1 / 8), (1 + 1 / 4, 1 + 3 / 8)],
)
@pytest.mark.parametrize("towers", [False, True])
def test_inch_bolts(bolt, hole, towers):
    value, source = clearance(bolt * 25.4, HoleSettings(towers=towers))
    assert bolt * 25.4 + value == pytest.approx(hole * 25.4, abs=1e-3)
    assert "AISC 360-16 Table J3.3" in source
