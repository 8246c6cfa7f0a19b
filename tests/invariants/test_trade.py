"""Routing, gauges, stamps, zinc and room in the joints do not depend on how the model was written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from digest import differences, take
from random_scene import bolted_through_scene, random_scene
from scene import Scene, write
from test_random import any_writing

from takeoff.steel import Takeoff


def trade(takeoff: Takeoff) -> dict[str, Any]:
    pieces = {
        piece.mark: {
            "routing": [tuple(step) for step in piece.routing],
            "off line": piece.off_line,
            "gauges": [tuple(line) for line in piece.gauges],
            "stamp": tuple(piece.stamp) if piece.stamp else (),
            "zinc": piece.zinc,
            "grinds": [tuple(grind) for grind in piece.heel_grinds],
            "bends": [tuple(bend) for bend in piece.flange_bends],
            "gap": piece.nut_clearance if piece.nut_clearance is not None else "none near",
            "remarks": piece.remarks,
        }
        for piece in takeoff.pieces
    }
    return {"pieces": pieces, "stations": [tuple(row) for row in takeoff.stations], "bolt": takeoff.length_example}


@pytest.mark.parametrize("make", [lambda seed: random_scene(seed)[0], bolted_through_scene], ids=["random", "bolted"])
@pytest.mark.parametrize("seed", range(4))
def test_same_trade_in_another_writing(make: Callable[[int], Scene], seed: int, tmp_path: Path) -> None:
    scene = make(seed)
    first, second = tmp_path / "a.ifc", tmp_path / "b.ifc"
    write(scene, first)
    write(scene, second, any_writing(seed))
    one = trade(take(first))
    assert any(piece["routing"] for piece in one["pieces"].values())
    assert differences(one, trade(take(second))) == []
