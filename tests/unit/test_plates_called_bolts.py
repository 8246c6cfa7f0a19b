"""Plates that are called after their bolts: held, never a bolt as thick as the plate is wide."""

import numpy as np
import pytest
from build import Build

from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import HELD


@pytest.mark.parametrize("name", ["Schrauben-Lasche", "Bolt", "Boulon plat"])
def test_a_flat_called_after_its_bolts_is_no_bolt(tmp_path, name):
    b = Build()
    b.flat(length=200, size=(80, 10), name=name, material="S355", kind="IfcPlate")
    b.bolt(np.array([50.0, 0, 40]), (0, 1, 0), 16, grip=10, length=35)
    takeoff = take_off([b.save(tmp_path / "m.ifc")], Settings())
    (called,) = [f for f in takeoff.model.fasteners if f.status == HELD]
    assert "drawn as a flat or plate" in called.reason
    assert {line.diameter for line in takeoff.bolt_lines} == {16.0}
