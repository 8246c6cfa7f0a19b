"""How bolts are written is no matter: one by one or in groups, head on this side or that, shank long or short."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from digest import differences, digest, take
from scene import Bolts, Opening, Scene, Steel, Writing, plain, write

from takeoff.ifc.profile_writer import Ring
from takeoff.ifc.writer import ModelWriter, frame


def singles(scene: Scene) -> Scene:
    """Every bolt a fastener entity of its own."""
    return replace(scene, bolts=tuple(replace(g, places=(place,)) for g in scene.bolts for place in g.places))


def reversed_bolts(scene: Scene) -> Scene:
    """Head and nut change sides."""
    return replace(
        scene,
        bolts=tuple(
            replace(
                g,
                places=tuple((tuple(np.array(p) + np.array(d) * g.grip), tuple(-np.array(d))) for p, d in g.places),
            )
            for g in scene.bolts
        ),
    )


@pytest.mark.parametrize("change", [singles, reversed_bolts], ids=["singles", "reversed"])
@pytest.mark.parametrize("body", ["full", "shank", "faceted"])
def test_same_holes_and_bolts(change: Callable[[Scene], Scene], body: str, tmp_path: Path) -> None:
    first, second = tmp_path / "a.ifc", tmp_path / "b.ifc"
    ids = write(plain(), first)
    one = digest(take(first), ids)
    ids = write(change(plain()), second, Writing(bolt_body=body))
    other = digest(take(second), ids)
    for key in ("pieces", "assemblies", "bolt lines", "joints"):
        assert differences(one[key], other[key]) == [], key


@pytest.mark.parametrize("length", [8.0, 14.0, 30.0, 60.0])
def test_a_wrong_shank_length_changes_no_hole(length: float, tmp_path: Path) -> None:
    """Drawn shanks are often too short or too long; plies are found by walking, not by the shank's end."""
    counts = []
    for long in (None, length):
        model = ModelWriter()
        at = frame((0, 0, 0), (1, 0, 0), (0, 0, 1))
        angle = model.profiles.angle(60, 60, 6, 8, 4)
        model.member(angle, at, 500, material="S355J2")
        outline = ((0, 0), (120, 0), (120, 80), (0, 80))
        model.plate(outline, frame((20, -10, 0), (1, 0, 0), (0, 0, 1)), 10, material="S355J2")
        u = at.axes[1]  # the plate lies on the outside of leg A
        head = np.array([60.0, 0, 35]) - u * 10
        model.bolts([(head, u)], 16, 16, length=long, stated=False, name="M16", body="full")
        takeoff = take(model.save(tmp_path / f"{long}.ifc"))
        counts.append([(len(p.plies), p.grip) for p in takeoff.passages])
    assert counts[0] == counts[1] == [(2, pytest.approx(16, abs=0.01))]


def test_an_opening_and_a_bolt_at_one_place_are_one_hole(tmp_path: Path) -> None:
    """The drawn hole's diameter is taken; a second drawn hole without a bolt stays a hole of its own."""
    at = frame((0, 0, 0), (2, 1, 0), (0, 0, 1))
    part = Steel(
        "angle", "angle", (60, 60, 6, 8, 4), at, 800,
        openings=(Opening("A", Ring(100, 35, 17.5)), Opening("A", Ring(200, 35, 17.5))),
    )  # fmt: skip
    head = at.to_model((100, -10, 35))
    plate = Steel(
        "plate", "plate", (10,), frame(at.to_model((60, -10, 5)), at.axes[0], at.axes[2]), 80,
        outline=((0, 0), (80, 0), (80, 60), (0, 60)),
    )  # fmt: skip
    scene = Scene((part, plate), (Bolts(((tuple(head), tuple(at.axes[1])),), 16, 16),))
    path = tmp_path / "model.ifc"
    write(scene, path)
    takeoff = take(path)
    [angle] = [p for p in takeoff.pieces if p.section.shape == "angle"]
    assert sorted((h.source, h.bolt, h.diameter) for h in angle.holes) == [
        ("bolt+opening", "M16", pytest.approx(17.5, abs=0.01)),
        ("opening", "", pytest.approx(17.5, abs=0.01)),
    ]
    [other] = [p for p in takeoff.pieces if p.section.shape != "angle"]
    # EN 1090-2:2018 Table 11: 2 mm for M16; the plate draws no hole.
    assert [(h.source, h.diameter) for h in other.holes] == [("bolt", 18.0)]
