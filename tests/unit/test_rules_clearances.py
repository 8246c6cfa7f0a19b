"""Names of bolt sizes, and which rule a clearance comes from."""

import pytest

from takeoff.rules.clearances import clearance, size_name
from takeoff.settings import HoleSettings


@pytest.mark.parametrize(
    ("diameter", "name"),
    [(16, "M16"), (15.95, "M16"), (19.05, "3/4"), (22.225, "7/8"), (25.4, "1"), (22.0, "M22"), (17.3, "d 17.3")],
)
def test_names(diameter, name):
    assert size_name(diameter) == name


def test_the_shops_own_clearance_goes_first():
    holes = HoleSettings(clearance_mm={"M16": 1.2, "3/4": 2.0}, towers=True)
    assert clearance(16, holes)[0] == 1.2
    assert "settings" in clearance(16, holes)[1]
    assert clearance(19.05, holes)[0] == 2.0
    assert clearance(20, holes)[0] == 1.5


def test_a_diameter_that_is_no_size_says_so():
    value, sentence = clearance(17.3, HoleSettings())
    assert value == 2.0
    assert "no nominal size" in sentence


@pytest.mark.parametrize("diameter", [0.0, -16.0, float("nan")])
def test_a_bolt_needs_a_diameter(diameter):
    with pytest.raises(ValueError, match="diameter"):
        clearance(diameter, HoleSettings())


def test_an_unknown_rule_is_refused():
    with pytest.raises(ValueError, match="no table"):
        clearance(16, HoleSettings(rule="house rule"))
