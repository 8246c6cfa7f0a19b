"""One scene in every dialect: the same pieces, holes, marks and bolts, however the steel was written down.

Lengths and hole positions agree within 0.05 mm (facets are welded, inches rounded at the tenth decimal), diameters
within 0.1 mm, weights within 0.1 %.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from dialects import AXES, Dialect, pairs, possible, selection, steel, write
from scene import Scene, mirrored

from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import Takeoff

MM, DIAMETER_MM, SHARE = 0.05, 0.1, 0.001
SCENES = {"as designed": steel(), "mirrored": mirrored(steel())}
CHOSEN = selection()


def lists(scene: Scene, path: Path, how: Dialect) -> dict[str, Any]:
    """Plain values by label of the parts."""
    ids = write(scene, path, how)
    takeoff = take_off([path], Settings())
    label = {global_id: name for name, global_id in ids.items()}
    return {"pieces": _pieces(takeoff, label), "bolts": _bolts(takeoff, label)}


def _pieces(takeoff: Takeoff, label: dict[str, str]) -> dict[str, Any]:
    found = {}
    for piece in takeoff.pieces:
        names = tuple(sorted(label[takeoff.model.members[i].global_id] for i in piece.members))
        s = piece.section
        found[piece.mark] = {
            "parts": names,
            "status": (piece.status, *piece.reasons),
            "section": (s.shape, s.designation, s.standard),
            "sizes": [s.h, s.b, s.tw, s.tf, piece.length],
            "holes": [(h.face, h.kind, h.bolt) for h in piece.holes],
            "places": [n for h in piece.holes for n in (h.x, h.across, h.slot_length, h.slot_angle)],
            "diameters": [h.diameter for h in piece.holes],
            "weights": [piece.gross, piece.net, piece.surface],
            "opposite": piece.opposite_hand_of,
        }
    return found


def _bolts(takeoff: Takeoff, label: dict[str, str]) -> dict[str, Any]:
    rows: Counter[Any] = Counter()
    for row in takeoff.bolt_rows:
        bolt = takeoff.model.fasteners[row.fastener]
        through = tuple(sorted(label[takeoff.model.members[i].global_id] for i in row.members))
        rows[bolt.diameter and round(bolt.diameter, 1), row.grip and round(row.grip, 1), through, row.status] += (
            row.bolts
        )
    return dict(rows)


def differences(one: dict[str, Any], other: dict[str, Any]) -> list[str]:
    found = []
    if one["bolts"] != other["bolts"]:
        found.append(f"bolts: {one['bolts']} != {other['bolts']}")
    for mark in sorted(one["pieces"].keys() | other["pieces"].keys()):
        a, b = one["pieces"].get(mark), other["pieces"].get(mark)
        if a is None or b is None:
            found.append(f"{mark}: only in one: {a or b}")
            continue
        for key, tolerance in (("sizes", MM), ("places", MM), ("diameters", DIAMETER_MM), ("weights", 0.0)):
            numbers = pytest.approx(a[key], abs=tolerance, rel=SHARE if key == "weights" else 0.0)
            if len(a[key]) != len(b[key]) or b[key] != numbers:
                found.append(f"{mark} {key}: {a[key]} != {b[key]}")
        found += [
            f"{mark} {key}: {a[key]} != {b[key]}"
            for key in ("parts", "status", "section", "holes", "opposite")
            if a[key] != b[key]
        ]
    return found


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], dict[str, Any]]:
    """The lists of the plainest dialect by hand and by whether the holes are slots."""
    folder = tmp_path_factory.mktemp("plain")
    return {
        (hand, holes): lists(SCENES[hand], folder / f"{hand} {holes}.ifc", Dialect(hand=hand, holes=holes))
        for hand in SCENES
        for holes in ("none", "slots")
    }


def test_every_pair_of_values_is_tried() -> None:
    tried = {pair for how in CHOSEN for pair in pairs(how)}
    for axis, values in AXES.items():
        assert {getattr(how, axis) for how in CHOSEN} == set(values)
    for first, one in AXES.items():
        for second, other in AXES.items():
            if first < second:
                for a in one:
                    for b in other:
                        if possible(Dialect(**{first: a, second: b})):
                            assert tried & {((first, a), (second, b)), ((second, b), (first, a))}, (a, b)
    assert len(CHOSEN) == len(set(CHOSEN)) < 100
    assert selection() == CHOSEN


def test_the_plain_lists_are_the_scenes_own_numbers(plain: dict[tuple[str, str], dict[str, Any]]) -> None:
    """An unequal angle has one frame: its holes are listed as they were put in. M16 in 18 mm: EN 1090-2, table 11."""
    pieces = plain["as designed", "none"]["pieces"].values()
    assert {p["status"] for p in pieces} == {("listed",)}
    (uneven,) = [p for p in pieces if "uneven" in p["parts"]]
    assert uneven["holes"] == [("A", "round", "M16"), ("A", "round", "M16"), ("B", "round", "M16")]
    assert uneven["places"] == pytest.approx([60, 55, 0, 0, 130, 55, 0, 0, 1100, 45, 0, 0], abs=MM)
    assert uneven["diameters"] == [18, 18, 18]
    (other,) = [p for p in plain["mirrored", "none"]["pieces"].values() if "uneven" in p["parts"]]
    assert other["places"] == pytest.approx([1070, 55, 0, 0, 1140, 55, 0, 0, 100, 45, 0, 0], abs=MM)
    both = [through for _, _, through, _ in plain["as designed", "none"]["bolts"] if len(through) == 2]
    assert both == [("mate", "uneven")]


@pytest.mark.parametrize("how", CHOSEN, ids=str)
def test_the_lists_are_the_same(how: Dialect, plain: dict[tuple[str, str], dict[str, Any]], tmp_path: Path) -> None:
    found = lists(SCENES[how.hand], tmp_path / "model.ifc", how)
    assert differences(plain[how.hand, "slots" if how.holes == "slots" else "none"], found) == []
