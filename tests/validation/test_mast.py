"""The mast: a clean job. Nothing is held, every bolt clamps touching plies, hands come in pairs, sums hold."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import LISTED, Takeoff

MODEL = Path(__file__).resolve().parents[2] / "models" / "mast.ifc"


@pytest.fixture(scope="module")
def takeoff() -> Takeoff:
    return take_off([MODEL], Settings())


def test_nothing_held_nothing_lost(takeoff: Takeoff) -> None:
    """models/README.md: 163 parts, 582 bolts."""
    assert Counter(takeoff.member_status) == {LISTED: 163}
    assert all(p.status == LISTED for p in takeoff.pieces)
    assert sum(p.quantity for p in takeoff.pieces) == 163
    assert {q.severity for q in takeoff.queries} == {"assumed"}
    # The mast leans and its faces are staggered: some of its gussets differ by a quarter of a millimetre.
    # Packers of 2 mm are thinner than the line takes, and a few small parts have no room for a stamp.
    assert {q.code for q in takeoff.queries} == {"hole-size-from-rule", "line-assumed", "near-twins", "stamp-no-place"}


def test_bolts_by_size(takeoff: Takeoff) -> None:
    """models/README.md's table of bolts."""
    ordered: Counter[float | None] = Counter()
    for line in takeoff.bolt_lines:
        ordered[line.diameter] += line.quantity
    assert ordered == {12: 150, 16: 368, 20: 48, 24: 16}
    assert sum(row.bolts for row in takeoff.bolt_rows) == 582


def test_every_bolt_clamps_two_plies_without_an_open_gap(takeoff: Takeoff) -> None:
    assert len(takeoff.passages) == 582
    for passage in takeoff.passages:
        assert len(passage.plies) >= 2
        assert all(width <= 2.0 for _, width in passage.gaps)
        assert passage.grip == pytest.approx(passage.plies_mm, abs=2.0)


def test_parts_by_section(takeoff: Takeoff) -> None:
    """models/README.md's table of parts, by shape and size."""
    counts: Counter[tuple[str, float, float]] = Counter()
    for p in takeoff.pieces:
        counts[p.section.shape, round(p.section.h, 2), round(p.section.tw, 2)] += p.quantity
    assert counts["angle", 100, 10] + counts["angle", 100, 8] == 8
    assert counts["angle", 120, 12] == 8
    assert counts["angle", 60, 6] + counts["angle", 50, 5] == 32
    assert counts["angle", 75, 6] + counts["angle", 60, 5] == 12
    assert counts["channel", 120, 7] == 4
    assert counts["flat", 50, 8] == 15


def test_holes_of_splices_take_the_models_diameter(takeoff: Takeoff) -> None:
    """A property gives the splices' holes 21.5 mm; M20 plus the table's 2 mm would be 22."""
    stated = {h.diameter for p in takeoff.pieces for h in p.holes if h.bolt == "M20"}
    assert stated == {21.5}
    assert {h.diameter for p in takeoff.pieces for h in p.holes if h.bolt == "M16"} == {18.0}


def test_nuts_of_the_legs_miss_each_other(takeoff: Takeoff) -> None:
    """models/README.md: the splice bolts of one leg stand half a pitch of 80 mm above those of the other."""
    legs = [p for p in takeoff.pieces if p.section.shape == "angle" and p.section.h == 100.0]
    assert len(legs) == 6  # three hands, lower and upper
    for leg in legs:
        by_leg = [sorted(h.x for h in leg.holes if h.face == face and h.bolt == "M20") for face in ("A", "B")]
        assert [len(xs) for xs in by_leg] == [3, 3]
        assert min(abs(a - b) for a in by_leg[0] for b in by_leg[1]) == pytest.approx(40, abs=0.01)
        assert leg.nut_clearance is not None
        assert leg.nut_clearance >= 1.0


def test_braces_come_in_opposite_hands(takeoff: Takeoff) -> None:
    """Opposite faces of the mast are mirror images, so each brace has its opposite hand in the same number."""
    pieces = {p.mark: p for p in takeoff.pieces}
    handed = [p for p in takeoff.pieces if p.opposite_hand_of]
    assert len(handed) >= 8
    for piece in handed:
        other = pieces[piece.opposite_hand_of]
        assert other.opposite_hand_of == piece.mark
        assert other.section == piece.section
        assert other.length == pytest.approx(piece.length, abs=0.5)
        assert len(other.holes) == len(piece.holes)
        assert other.net == pytest.approx(piece.net, rel=1e-3)
    for piece in (
        p for p in handed if p.section.shape == "angle" and p.section.h in (50.0, 60.0) and p.section.b == p.section.h
    ):
        assert pieces[piece.opposite_hand_of].quantity == piece.quantity


def test_sums(takeoff: Takeoff) -> None:
    b = takeoff.balance
    assert b["plies_over_bolts"] == b["bolt_holes"] == b["holes_by_pieces"] == b["holes_by_members"]
    for kind in ("gross", "net"):
        assert b[f"{kind}_weight_kg"] == pytest.approx(b[f"{kind}_weight_from_members_kg"], abs=1e-6)
    assert b["net_weight_kg"] == pytest.approx(b["net_weight_from_assemblies_kg"], abs=1e-6)
    assert sum(a.quantity * a.bolts for a in takeoff.assemblies) == 582
