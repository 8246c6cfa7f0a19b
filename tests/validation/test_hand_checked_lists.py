"""The command itself on two public models: what it writes into the tables, against numbers worked out by hand.

The arithmetic stands in test_hand_checked_angles_and_plates.py and test_hand_checked_portal_frame.py.
"""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest
from real_models import model_path

Table = list[dict[str, str]]


def lists(name: str, folder: Path) -> dict[str, Table]:
    """The tables that ``takeoff lists`` writes for a model; exit status 0: nothing is held."""
    done = subprocess.run(
        [sys.executable, "-m", "takeoff", "lists", str(model_path(name)), "-o", str(folder)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    tables = {}
    for path in (folder / "tables").glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as file:
            tables[path.stem] = list(csv.DictReader(file))
    return tables


def test_angles_and_plates(tmp_path: Path) -> None:
    tables = lists("angles_and_plates_small.ifc", tmp_path / "out")
    pieces = sorted((p["shape"], int(p["quantity"]), float(p["length_mm"]), p["grade"]) for p in tables["pieces"])
    assert pieces == [
        ("I", 1, pytest.approx(778.80, abs=0.01), "A992"),
        ("I", 1, pytest.approx(1268.26, abs=0.01), "A992"),
        ("I", 1, 1524.0, "A992"),
        ("RHS", 1, pytest.approx(677.42, abs=0.01), "A500-GR.B"),
        ("angle", 1, pytest.approx(292.1, abs=0.01), "A36"),
        ("angle", 1, pytest.approx(330.2, abs=0.01), "A36"),
        ("angle", 2, 254.0, "A36"),
        ("plate", 1, pytest.approx(304.8, abs=0.01), "A36"),
        ("plate", 1, pytest.approx(512.76, abs=0.01), "A36"),
        ("plate", 2, pytest.approx(318.45, abs=0.01), "A36"),
        ("plate", 2, pytest.approx(318.85, abs=0.01), "A36"),
    ]
    assert len(tables["members"]) == 14
    assert {m["status"] for m in tables["members"]} == {"listed"}
    # The column's web opening, 356.616 along the piece and 178.308 across, its middle on the web's middle.
    [hole] = tables["holes"]
    column = next(p for p in tables["pieces"] if p["piece_mark"] == hole["piece_mark"])
    assert (column["shape"], float(column["length_mm"])) == ("I", 1524.0)
    assert (hole["face"], hole["kind"], hole["source"]) == ("web", "rectangle", "opening")
    assert float(hole["x_mm"]) == pytest.approx(427.26, abs=0.011)
    assert float(hole["across_mm"]) == pytest.approx(178.31, abs=0.011)
    assert float(hole["slot_length_mm"]) == pytest.approx(356.62, abs=0.011)
    assert float(hole["width_mm"]) == pytest.approx(178.31, abs=0.011)
    # The brace's end: a notch 9.5 wide and 254 deep in two opposite walls.
    brace = next(p for p in tables["pieces"] if p["shape"] == "RHS")
    notches = [c for c in tables["cuts"] if c["piece_mark"] == brace["piece_mark"]]
    assert [c["kind"] for c in notches] == ["notch", "notch"]
    for notch in notches:
        depth = float(notch["x_mm"]) if notch["end"] == "left" else float(brace["length_mm"]) - float(notch["x_mm"])
        assert depth == pytest.approx(254, abs=0.011)
        assert float(notch["size_mm"]) == pytest.approx(9.5, abs=0.011)
    # Clipped corners: six corners of the plate 19.1, five of the gusset.
    thick = {p["piece_mark"]: float(p["thickness_mm"]) for p in tables["pieces"]}
    outline = [c for c in tables["cuts"] if c["kind"] == "outline"]
    assert sorted(thick[c["piece_mark"]] for c in outline) == [9.5] * 5 + [19.1] * 6


def test_portal_frame(tmp_path: Path) -> None:
    tables = lists("portal_frame_marks.ifc", tmp_path / "out")
    found = {p["piece_mark"]: (int(p["quantity"]), float(p["length_mm"]), p["grade"]) for p in tables["pieces"]}
    assert found == {
        "1001": (3, 5000, "S275J0"),
        "1002": (3, 5000, "S275J0"),
        "1003": (3, 5000, "S275J0"),
        "1004": (2, 6000, "S275J0"),
        "1005": (2, 7200, "S275J0"),
        "1006": (2, 7200, "S275J0"),
        "1007": (4, 6000, "S275J0"),
        "1008": (2, 7200, "S275J0"),
    }
    assert tables["holes"] == []
    assert tables["cuts"] == []
    assert len(tables["members"]) == 21
    # Members' places: every column (IfcColumn) stands upright and is 5 m long.
    for member in tables["members"]:
        ends = [[float(member[f"{end}_{axis}_mm"]) for axis in "xyz"] for end in ("left", "right")]
        run = [abs(a - b) for a, b in zip(*ends, strict=True)]
        assert sum(d * d for d in run) ** 0.5 == pytest.approx(float(member["length_mm"]), abs=0.02)
        if member["ifc_class"] == "IfcColumn":
            assert run == pytest.approx([0, 0, 5000], abs=0.02)
