"""The rules a run went by: each named with its source, and the client's own before them."""

import pytest

from takeoff.rulebook import rules_used
from takeoff.settings import (
    BoltSettings,
    DistanceSettings,
    GaugeSettings,
    LineSettings,
    PunchingSettings,
    Settings,
    ZincSettings,
)


def words(**settings):
    return "; ".join(rules_used(Settings(**settings)))


def test_every_rule_names_its_source():
    said = words()
    for source in (
        "EN 1090-2 Table 11", "distances: EN 1993-1-8", "punching: EN 1090-2, EXC2", "EN 1090-2, 8.2.2", "RCSC",
        "DIN 997 (from memory)", "line: common practice, no source", "ISO 1461, mean coating by thickness, from memory",
    ):  # fmt: skip
        assert source in said


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        (
            {"distances": DistanceSettings(rule="AISC 360", end_mm={"M16": 30.0})},
            "AISC 360, the client's own end before it",
        ),
        ({"bolts": BoltSettings(length="rule", threads_out_of_shear=True)}, "bolt lengths: EN 1090-2"),
        ({"bolts": BoltSettings(threads_out_of_shear=True)}, "threads out of the shear planes"),
        ({"gauges": GaugeSettings(table="CISC", flanges="none")}, "gauges: CISC, flanges none"),
        ({"gauges": GaugeSettings(legs_mm={"60": 33.0})}, "the client's own before them"),
        ({"line": LineSettings(heads=1)}, "line: the shop's own"),
        ({"zinc": ZincSettings(coating_g_m2=700.0)}, "zinc: 700 g/m2 (settings)"),
        ({"punching": PunchingSettings(execution_class="EXC3")}, "EXC3"),
    ],
)
def test_what_the_shop_or_the_client_set_is_said(settings, said):
    assert said in words(**settings)


def test_no_zinc_no_word_of_it():
    assert "zinc" not in words(zinc=ZincSettings(parts="none"))
