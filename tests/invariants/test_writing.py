"""The same steel, however it is written: the same pieces, holes, marks, weights, assemblies and bolts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from digest import differences, digest, take
from scene import Writing, plain, write
from scipy.spatial.transform import Rotation

TURN = Rotation.from_euler("zyx", [37.123, -21.7, 64.01], degrees=True).as_matrix()
FAR = (5.0e8, -3.2e8, 1.7e5)

WRITINGS = {
    # Schema
    "IFC2X3": Writing(schema="IFC2X3"),
    "IFC4X3_ADD2": Writing(schema="IFC4X3_ADD2"),
    # Unit
    **{unit: Writing(unit=unit) for unit in ("um", "cm", "dm", "m", "inch", "foot", "yard")},
    "inch IFC2X3": Writing(schema="IFC2X3", unit="inch"),
    # Place in the world
    "turned": Writing(rotation=TURN),
    "turned parts": Writing(rotation=TURN, offset="parts"),
    "far site": Writing(origin=FAR, rotation=TURN),
    "far parts": Writing(origin=FAR, rotation=TURN, offset="parts"),
    "far parts in m": Writing(origin=FAR, rotation=TURN, offset="parts", unit="m"),
    "far parts in foot": Writing(origin=FAR, rotation=TURN, offset="parts", unit="foot"),
    # Order
    **{f"shuffled {seed}": Writing(order=seed) for seed in (1, 2, 3)},
    "shuffled IFC2X3": Writing(order=4, schema="IFC2X3"),
    # Extrusion
    **{f"along {style}": Writing(style=style) for style in ("-z", "x", "-x")},
    "planes agree": Writing(agreement=True),
    # Profiles
    **{profile: Writing(profile=profile) for profile in ("derived", "mirrored", "composite", "polyline")},
    "derived IFC2X3": Writing(profile="derived", schema="IFC2X3", unit="inch"),
    "derived along -x": Writing(profile="derived", style="-x"),
    "polyline along -z": Writing(profile="polyline", style="-z"),
    # Where the profile lies in its plane
    "centred": Writing(seat=(0, 0, 0)),
    "aside": Writing(seat=(123.4, -56.7, 0)),
    "quarter turn": Writing(seat=(0, 0, 90)),
    "turned askew": Writing(seat=(-20, 11, 33.3), style="x", unit="inch"),
    "derived, turned askew": Writing(seat=(-20, 11, 33.3), profile="derived", style="-z"),
    "mirrored, half turn": Writing(seat=(0, 5, 180), profile="mirrored"),
    # Bodies
    "mapped": Writing(shared=True),
    "mapped and shuffled": Writing(shared=True, order=5),
    "indexed outlines": Writing(curve="indexed"),
    "polyline outlines": Writing(curve="polyline"),
    "absolute openings": Writing(openings_absolute=True),
    "absolute openings, far": Writing(openings_absolute=True, origin=FAR, rotation=TURN, offset="parts"),
    "shanks only": Writing(bolt_body="shank"),
    "faceted bolts": Writing(bolt_body="faceted"),
    # All at once
    "everything": Writing(
        schema="IFC2X3", unit="foot", origin=FAR, rotation=TURN, offset="parts", style="-x", profile="derived",
        shared=True, order=6, agreement=True, openings_absolute=True, bolt_body="faceted",
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    path = tmp_path_factory.mktemp("plain") / "plain.ifc"
    ids = write(plain(), path)
    return digest(take(path), ids)


def test_reference_holds_the_scene(reference: dict[str, Any]) -> None:
    """The scene's own numbers: an unequal angle has one frame, so its holes are given as they were written."""
    pieces = reference["pieces"]
    assert all(p["status"] == ("listed", ()) for p in pieces.values())
    uneven = next(p for p in pieces.values() if "uneven" in p["members"])
    assert uneven["members"] == ["uneven", "uneven again"]
    # EN 1090-2:2018 Table 11: 1 mm on M12, 2 mm on M16.
    expected = [("A", 40, 40, 18), ("A", 100, 40, 18), ("B", 1150, 28, 13)]
    assert [h[1] for h in uneven["holes"]] == [e[0] for e in expected]
    for hole, (_, x, across, diameter) in zip(uneven["holes"], expected, strict=True):
        assert hole[2:5] == pytest.approx((x, across, diameter), abs=0.01)
    even = next(p for p in pieces.values() if "even" in p["members"])
    assert even["members"] == ["even", "even turned"]
    hands = {name: next(p for p in pieces.values() if name in p["members"]) for name in ("even hand", "uneven hand")}
    marks = {name: mark for mark, p in pieces.items() for name in p["members"]}
    assert hands["even hand"]["opposite"] == marks["even"]
    assert hands["uneven hand"]["opposite"] == marks["uneven"]
    # 30 bolts through two plies each, and one through two walls of one part.
    assert reference["balance"]["plies_over_bolts"] == 2 * 31
    assert sum(line[4] for line in reference["bolt lines"]) == 31


@pytest.mark.parametrize("how", WRITINGS.values(), ids=WRITINGS.keys())
def test_same_lists(how: Writing, reference: dict[str, Any], tmp_path: Path) -> None:
    path = tmp_path / "model.ifc"
    ids = write(plain(), path, how)
    assert differences(reference, digest(take(path), ids)) == []
