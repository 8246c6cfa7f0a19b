"""Plates that openings and cuts run over the edge of: the outline that is left, as if it had been drawn."""

from __future__ import annotations

import numpy as np
import pytest
from build import Build, Ring

from takeoff.ifc.writer import frame
from takeoff.pipeline import take_off
from takeoff.settings import Settings

STEEL = {"material": "S235JR"}
PLATE = ((0, 0), (400, 0), (400, 217), (0, 217))
TURNED = frame((900, 50, 70), (0.36, 0.48, 0.8), (0.8, -0.6, 0.0))


@pytest.mark.parametrize(
    ("cutter", "left"),
    [
        pytest.param(
            ((-20, 150), (60, 150), (60, 250), (-20, 250)),
            ((0, 0), (400, 0), (400, 217), (60, 217), (60, 150), (0, 150)),
            id="corner cut out",
        ),
        pytest.param(
            ((-50, 217), (0, 137), (80, 217), (0, 297)), ((0, 0), (400, 0), (400, 217), (80, 217), (0, 137)),
            id="corner clipped",
        ),
        pytest.param(
            Ring(400, 100, 60), ((0, 0), (400, 0), (400, 70, -1.0), (400, 130), (400, 217), (0, 217)), id="half round"
        ),
        pytest.param(((300, -50), (500, -50), (500, 300), (300, 300)), ((0, 0), (300, 0), (300, 217), (0, 217)),
                     id="shorter"),
    ],
)  # fmt: skip
def test_an_opening_over_the_edge_of_a_plate_is_its_outline(tmp_path, cutter, left):
    """Both plates, with the opening and drawn without the steel, are one piece with its holes in the same places."""
    model = Build()
    whole = model.plate(PLATE, thickness=10, **STEEL)
    model.cut(whole, "face", cutter, 100)
    model.hole(whole, "face", 150, 60, 18)
    drawn = model.plate(left, TURNED.origin, TURNED.axes[0], TURNED.axes[2], 10, curve="indexed", **STEEL)
    model.hole(drawn, "face", 150, 60, 18)
    found = take_off([model.save(tmp_path / "m.ifc")], Settings())
    assert found.member_status == ("listed", "listed")
    (piece,) = found.pieces
    assert piece.quantity == 2
    by_id = {member.global_id: member for member in found.model.members}
    for part in (whole, drawn):
        member = by_id[part.global_id]
        (hole,) = member.holes
        here = member.frame.to_model((hole.x, 0.0, hole.across))
        there = part.frame.to_model((150, 0.0, 60))
        # the plate may be seen from its other side
        along = member.frame.axes[1] @ part.frame.axes[1]
        assert np.allclose(here - there, 0 if along > 0 else 10 * part.frame.axes[1], atol=1e-3)


def test_a_plate_that_falls_in_two_keeps_its_notch_and_is_asked_about(tmp_path):
    model = Build()
    whole = model.plate(PLATE, thickness=10, **STEEL)
    model.cut(whole, "face", ((180, -50), (220, -50), (220, 300), (180, 300)), 100)
    found = take_off([model.save(tmp_path / "m.ifc")], Settings())
    assert found.member_status == ("held",)
