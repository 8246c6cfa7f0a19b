"""The trestle bay against what a person counted: models/README.md and models/trestle_bay.expected.csv."""

from __future__ import annotations

import csv
import math
from collections import Counter
from pathlib import Path

import pytest

from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import LISTED, Piece, Takeoff

MODELS = Path(__file__).resolve().parents[2] / "models"
Row = dict[str, str]
HoleKey = tuple[str, float, float, float]


@pytest.fixture(scope="module")
def takeoff() -> Takeoff:
    return take_off([MODELS / "trestle_bay.ifc"], Settings())


@pytest.fixture(scope="module")
def expected() -> list[Row]:
    with (MODELS / "trestle_bay.expected.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def holes_of_row(row: Row) -> list[HoleKey]:
    holes = []
    for text in row["holes"].split():
        face, x, across, diameter = text.split(":")
        holes.append((face, float(x), float(across), float(diameter)))
    return sorted(holes)


def holes_of_piece(piece: Piece) -> list[HoleKey]:
    return sorted((h.face, round(h.x, 2), round(h.across, 2), round(h.diameter, 2)) for h in piece.holes)


def matched(takeoff: Takeoff, expected: list[Row]) -> dict[str, Piece]:
    """Piece by the name it has in the counted list: shape, length and holes say which it is."""
    found: dict[str, Piece] = {}
    for row in expected:
        alike = [
            p
            for p in takeoff.pieces
            if p.section.shape == row["shape"]
            and abs(p.length - float(row["length_mm"])) < 0.01
            and holes_of_piece(p) == holes_of_row(row)
        ]
        assert len(alike) == 1, (row["piece"], [(p.mark, holes_of_piece(p)) for p in takeoff.pieces])
        found[row["piece"]] = alike[0]
    return found


def test_every_piece_as_counted(takeoff: Takeoff, expected: list[Row]) -> None:
    pieces = matched(takeoff, expected)
    assert len(takeoff.pieces) == len(expected) == 10
    for row in expected:
        piece = pieces[row["piece"]]
        assert piece.quantity == int(row["quantity"]), row
        assert piece.grade == row["grade"], row
        assert piece.status == LISTED
        assert ("".join(piece.model_marks)) == row["model_mark"], row
        if row["model_mark"]:
            assert piece.mark == row["model_mark"]  # one mark is one shape there: it is kept
        if row["section"]:
            assert piece.section.designation.replace(" ", "") == row["section"]
        if row["width_mm"]:
            assert piece.section.h == pytest.approx(float(row["width_mm"]), abs=0.01)
        if row["thickness_mm"]:
            assert piece.section.tw == pytest.approx(float(row["thickness_mm"]), abs=0.01)
        assert piece.gross == pytest.approx(float(row["gross_weight_kg"]), abs=0.006), row
        other = pieces[row["opposite_hand_of"]].mark if row["opposite_hand_of"] else ""
        assert piece.opposite_hand_of == other, row


def test_bolts_as_counted(takeoff: Takeoff) -> None:
    """models/README.md: 16 M16 and 10 M20 by grip; 24 bolts through two plies, two through three."""
    size = {f: fastener.diameter for f, fastener in enumerate(takeoff.model.fasteners)}
    grips = Counter((size[p.fastener], round(p.grip, 2)) for p in takeoff.passages)
    assert grips == {
        (16, 13): 4, (16, 16): 4, (16, 20): 4, (16, 25): 4, (20, 17): 4, (20, 20): 4, (20, 24): 2,
    }  # fmt: skip
    assert Counter(len(p.plies) for p in takeoff.passages) == {2: 24, 3: 2}
    assert all(p.plies_mm == pytest.approx(p.grip, abs=0.01) and not p.gaps for p in takeoff.passages)
    ordered: Counter[float | None] = Counter()
    lengths: Counter[tuple[float | None, float | None]] = Counter()
    for line in takeoff.bolt_lines:
        ordered[line.diameter] += line.quantity
        lengths[line.diameter, line.length] += line.quantity
        assert line.grade == "8.8"
        assert (line.nuts, line.washers) == (line.quantity, line.quantity)  # one of each a bolt, as the model says
    assert ordered == {16: 16, 20: 10}
    assert lengths == {(16, 35): 4, (16, 40): 8, (16, 45): 4, (20, 45): 8, (20, 50): 2}


def test_stated_lengths_are_those_the_rule_asks(takeoff: Takeoff) -> None:
    """models/README.md works them out by hand: EN 1090-2, 8.2.2 with ISO 7089, ISO 4032 and ISO 888."""
    worked = {(16, 13): 35, (16, 16): 40, (16, 20): 40, (16, 25): 45, (20, 17): 45, (20, 20): 45, (20, 24): 50}
    size = {f: fastener.diameter for f, fastener in enumerate(takeoff.model.fasteners)}
    rows = {(size[r.fastener], round(r.grip or 0.0)): (r.length, r.rule_length) for r in takeoff.bolt_rows}
    assert rows == {key: (length, length) for key, length in worked.items()}


def test_counts_and_balance(takeoff: Takeoff) -> None:
    b = takeoff.balance
    assert (b["parts_in_model"], b["parts_listed"]) == (13, 13)
    assert (b["bolts_in_model"], b["bolts_listed"]) == (26, 26)
    assert b["plies_over_bolts"] == b["bolt_holes"] == b["holes_by_pieces"] == b["holes_by_members"] == 54
    assert {q.severity for q in takeoff.queries} == {"assumed"}  # nothing to hold, nothing to check
    assert {q.code for q in takeoff.queries} == {"hole-size-from-rule", "stamp-no-place"}


def test_weights_as_counted(takeoff: Takeoff, expected: list[Row]) -> None:
    """models/README.md, Weights: gross of the bay 165.25; post net 35.83, gusset net 1.804 kg."""
    pieces = matched(takeoff, expected)
    assert takeoff.balance["gross_weight_kg"] == pytest.approx(165.25, abs=0.01)
    assert pieces["post left"].net == pytest.approx(35.83, abs=0.005)
    assert pieces["post right"].net == pytest.approx(35.83, abs=0.005)
    assert pieces["gusset"].net == pytest.approx(1.804, abs=0.0005)
    # Every hole of the bay: area times wall, by hand from the counted table; 10 mm posts and so on.
    wall = {"post left": 10, "post right": 10, "cap beam": 7, "horizontal": 6, "tie": 8, "brace left": 6,
            "brace right": 6, "cleat": 10, "gusset": 10, "base plate": 15}  # fmt: skip
    drilled = 0.0
    for row in expected:
        area = sum(math.pi / 4 * d * d for *_, d in holes_of_row(row))
        drilled += int(row["quantity"]) * area * wall[row["piece"]]
    net = takeoff.balance["gross_weight_kg"] - drilled * 7.85e-6
    assert takeoff.balance["net_weight_kg"] == pytest.approx(net, abs=0.001)


def test_one_assembly(takeoff: Takeoff) -> None:
    [bay] = takeoff.assemblies
    assert (bay.mark, bay.quantity, bay.bolts) == ("TB1", 1, 26)
    assert sum(count for _, count in bay.pieces) == 13
