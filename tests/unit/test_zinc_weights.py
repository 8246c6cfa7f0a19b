"""Zinc on pieces, assemblies and the job: one sum, and white is black with zinc."""

import pytest
from steelwork import L100, RHS120, frame, member, model, plate, rectangle
from test_lists import rows

from takeoff.pipeline import work_out
from takeoff.settings import Settings, ZincSettings
from takeoff.sheets import weight_list
from takeoff.sheets.page import Text
from takeoff.steel import ModelAssembly
from takeoff.summary import figures


def job(zinc=None, finish=""):
    """Two alike assemblies of an angle and a plate, and a loose tube."""
    parts = []
    for k, name in enumerate(("AS-A", "AS-B")):
        parts.append(member(L100, 1000, at=frame((0, 3000.0 * k, 0)), assembly=name, finish=finish))
        parts.append(plate(rectangle(300, 200), 5.0, at=frame((0, 3000.0 * k + 500, 0)), assembly=name, finish=finish))
    parts.append(member(RHS120, 800, at=frame((0, 9000, 0)), finish=finish))
    known = [ModelAssembly(name) for name in ("AS-A", "AS-B")]
    return work_out(model(parts, (), known), Settings(zinc=zinc or ZincSettings()))


def test_zinc_by_assembly_is_surface_by_coating():
    takeoff = job()
    (pair,) = [a for a in takeoff.assemblies if a.quantity == 2]
    # ISO 1461, least mean coating, from memory: 610 g/m2 over 6 mm, 505 over 3 to 6. The angle is 8 thick with the
    # surface of its section, the plate 5: two faces of 0.3 x 0.2 m and an edge of 1 m.
    angle = L100.perimeter_mm * 1000 * 1e-6 * 0.610
    flat = (2 * 0.3 * 0.2 + 1.0 * 0.005) * 0.505
    assert pair.zinc == pytest.approx(angle + flat)


def test_assemblies_pieces_and_the_job_add_up():
    takeoff = job()
    by_pieces = sum(p.zinc * p.quantity for p in takeoff.pieces)
    assert sum(a.zinc * a.quantity for a in takeoff.assemblies) == pytest.approx(by_pieces)
    white = figures(takeoff).white_weight_kg
    assert white == pytest.approx(figures(takeoff).net_weight_kg + by_pieces)
    for row in rows(takeoff, "assemblies"):
        assert float(row["white_weight_kg"]) == pytest.approx(
            float(row["net_weight_kg"]) + float(row["zinc_kg"]), abs=0.0021
        )


def test_a_tube_has_zinc_inside_too():
    (tube,) = [p for p in job().pieces if p.section.shape == "RHS"]
    # 120 x 80 x 5: sides less the corners' rounding outside and as much less eight walls inside; 505 g/m2 on 5 mm.
    inside = RHS120.perimeter_mm - 8 * 5
    assert tube.zinc == pytest.approx((RHS120.perimeter_mm + inside) * 800 * 1e-6 * 0.505)


def test_without_zinc_no_column_says_anything():
    takeoff = job(ZincSettings(parts="none"))
    assert figures(takeoff).white_weight_kg is None
    assert {(r["zinc_kg"], r["white_weight_kg"]) for r in rows(takeoff, "assemblies")} == {("", "")}
    words = " ".join(
        i.text for page in weight_list.compose(takeoff, Settings()) for i in page.items if isinstance(i, Text)
    )
    assert "White" not in words


def test_the_sheet_has_white_beside_black_by_assembly():
    takeoff = job()
    pages = weight_list.compose(takeoff, Settings())
    texts = [item for page in pages for item in page.items if isinstance(item, Text)]
    (pair,) = [a for a in takeoff.assemblies if a.quantity == 2]
    line = next(t.y for t in texts if t.text == pair.mark)
    figures_there = [t.text for t in sorted(texts, key=lambda t: t.box()[0]) if abs(t.y - line) < 0.1]
    black, white = f"{pair.net:.2f}", f"{pair.net + pair.zinc:.2f}"
    assert figures_there[4:7] == [f"{pair.gross:.2f}", black, white]
    # Lines may be a tenth off, so that they add up to the total.
    assert float(figures_there[11]) == pytest.approx((pair.net + pair.zinc) * 2, abs=0.151)
