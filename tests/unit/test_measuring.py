"""The lists' weights against the model's own solids: what agrees, what is asked, and a kernel that crashes or hangs."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from build import Build, Ring

from takeoff import measuring
from takeoff.cli import main
from takeoff.ifc.solids import volumes
from takeoff.pipeline import take_off
from takeoff.settings import ModelSettings, Settings
from takeoff.steel import Takeoff

STEEL = {"material": "S355J2"}
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="a worker that is not forked does not see a replaced kernel")


def checked(path: Path, settings: Settings | None = None, takeoff: Takeoff | None = None) -> Takeoff:
    settings = settings or Settings()
    with measuring.Solids([path], settings) as solids:
        takeoff = takeoff or take_off([path], settings)
        solids.ask(takeoff)
        return measuring.with_solids(takeoff, solids)


def codes(takeoff: Takeoff) -> list[str]:
    return [q.code for q in takeoff.queries if q.code.startswith(("solid-", "section-drawn"))]


def test_volumes_are_the_solids_own(tmp_path: Path) -> None:
    """Worked by hand: an angle of two rectangles, a plate less a round opening, openings taken off once."""
    model = Build(unit="inch")
    angle = model.angle(legs=(100, 75, 8), length=1000)
    plate = model.plate(((0, 0), (300, 0), (300, 200), (0, 200)), (0, 900, 0), thickness=12)
    model.hole(plate, "face", 100, 80, 50)
    found = volumes([model.save(tmp_path / "m.ifc")], [angle.global_id, plate.global_id])
    assert found[angle.global_id] == pytest.approx((100 * 8 + 67 * 8) * 1000, rel=1e-6)
    assert found[plate.global_id] == pytest.approx(300 * 200 * 12 - 3.14159265 / 4 * 50**2 * 12, rel=1e-4)


def test_bolted_parts_agree_though_no_hole_is_drawn(tmp_path: Path) -> None:
    """Sixteen 26 mm holes are 4 % of this angle: they must not be held against the solid, which has none."""
    model = Build()
    model.angle(legs=(70, 70, 7, 9, 4.5), length=800, **STEEL)
    model.flat((0, 0, 0), (1, 0, 0), (0, 0, 1), length=800, size=(70, 8), **STEEL)
    for x in range(40, 800, 48):
        model.bolt((x, 8, 40), (0, -1, 0), 24, grip=15, material="8.8")
    takeoff = checked(model.save(tmp_path / "m.ifc"))
    assert {c.drawn for c in takeoff.solids} == {"as listed"}
    assert all(c.solid == pytest.approx(c.listed, rel=1e-3) for c in takeoff.solids)
    assert codes(takeoff) == []


def test_a_mark_that_weighs_something_else_is_named_with_both_numbers(tmp_path: Path) -> None:
    model = Build()
    part = model.angle(legs=(70, 70, 7), length=1000, **STEEL)
    path = model.save(tmp_path / "m.ifc")
    takeoff = take_off([path], Settings())
    (piece,) = takeoff.pieces
    heavier = replace(
        takeoff, pieces=(replace(piece, length=1015.0, gross=piece.gross * 1.015, net=piece.net * 1.015),)
    )
    (query,) = [q for q in checked(path, takeoff=heavier).queries if q.code == "solid-weight-differs"]
    assert query.severity == "check"
    assert query.piece_mark == piece.mark
    assert query.global_ids == (part.global_id,)
    # drawn sharp: (70 + 63) x 7 mm2 x 1000 mm x 7.85e-6; listed: 940 mm2 (EN 10056-1, radii 9 and 4.5) x 1015 mm
    assert "7.49 kg" in query.message
    assert "7.31 kg" in query.message
    slightly = replace(
        takeoff, pieces=(replace(piece, length=1004.0, gross=piece.gross * 1.004, net=piece.net * 1.004),)
    )
    assert "solid-weight-differs" not in codes(checked(path, takeoff=slightly))


def test_a_section_drawn_without_its_radii_is_stated_once(tmp_path: Path) -> None:
    """HEB 200, EN 10365: 61.3 kg/m with r = 18; drawn sharp it has 4 x (1 - pi/4) x 18^2 = 278 mm2 less of 7808."""
    model = Build()
    for i, length in enumerate((900, 1000, 1100)):
        profile = model.profiles.i_shape(200, 200, 9, 15)
        model.member(profile, (0, 900 * i, 0), length=length, name="HEB200", object_type="HEB200", **STEEL)
    takeoff = checked(model.save(tmp_path / "m.ifc"))
    assert {p.section.designation for p in takeoff.pieces} == {"HEB 200"}
    assert codes(takeoff) == ["section-drawn-sharp"]
    (query,) = [q for q in takeoff.queries if q.code == "section-drawn-sharp"]
    assert "96.4 %" in query.message
    assert {c.drawn for c in takeoff.solids} == {"sharp"}


def test_rounds_drawn_as_polygons_agree(tmp_path: Path) -> None:
    """An octagon in a circle has sin(45 degrees) / (pi / 4) = 0.900 of its area."""
    model = Build()
    points = [(30 * c, 30 * s) for c, s in _octagon()]
    model.member(model.profiles.closed(points), length=900, name="R60", object_type="R60", **STEEL)
    model.member(model.profiles.circle(60), (0, 900, 0), length=950, **STEEL)
    takeoff = checked(model.save(tmp_path / "m.ifc"))
    listed = {p.mark for p in takeoff.pieces if p.status == "listed"}
    assert {c.mark for c in takeoff.solids} == listed
    assert codes(takeoff) == []


def _octagon() -> list[tuple[float, float]]:
    import math

    return [(math.cos(i * math.pi / 4), math.sin(i * math.pi / 4)) for i in range(8)]


def test_mirrored_profiles_are_left_out_by_rule(tmp_path: Path) -> None:
    model = Build()
    p = model.profiles
    model.member(p.derived(p.angle(90, 60, 8), axis1=(-1, 0), axis2=(0, 1)), **STEEL)
    takeoff = checked(model.save(tmp_path / "m.ifc"))
    (check,) = takeoff.solids
    assert check.solid is None
    assert "mirrored" in check.why
    assert codes(takeoff) == []


def test_the_unit_of_the_settings_holds_for_the_solids_too(tmp_path: Path) -> None:
    model = Build(unit="cm")
    model.angle(legs=(100, 100, 10), length=1500, **STEEL)
    path = model.save(tmp_path / "m.ifc")
    path.write_text(path.read_text().replace(".LENGTHUNIT.", ".TIMEUNIT."))
    takeoff = checked(path, replace(Settings(), model=ModelSettings(length_unit="cm")))
    (check,) = takeoff.solids
    assert check.solid == pytest.approx(check.listed, rel=0.01)


def four(tmp_path: Path) -> tuple[Path, list[str]]:
    model = Build()
    parts = [model.angle((0, 900 * i, 0), length=900 + 10 * i, **STEEL) for i in range(4)]
    return model.save(tmp_path / "m.ifc"), sorted(part.global_id for part in parts)


@LINUX
def test_a_kernel_that_crashes_costs_one_part_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, ids = four(tmp_path)

    def crash(paths: Sequence[Path], wanted: Sequence[str], unit: str = "") -> dict[str, float | str]:
        if ids[2] in wanted:
            os.kill(os.getpid(), signal.SIGKILL)
        return volumes(paths, wanted, unit)

    monkeypatch.setattr(measuring, "volumes", crash)
    monkeypatch.setattr(measuring, "volumes_asked_for", lambda paths, asked, _, unit: crash(paths, asked.recv(), unit))
    takeoff = checked(path)
    assert {c.global_id for c in takeoff.solids if c.solid is None} == {ids[2]}
    (query,) = [q for q in takeoff.queries if q.code == "solid-not-measured"]
    assert query.global_ids == (ids[2],)


@LINUX
def test_a_worker_that_is_dead_before_it_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, _ = four(tmp_path)
    monkeypatch.setattr(measuring, "volumes_asked_for", lambda *_: os.kill(os.getpid(), signal.SIGKILL))
    takeoff = checked(path)
    assert all(c.solid is not None for c in takeoff.solids)


@LINUX
def test_a_kernel_that_hangs_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, ids = four(tmp_path)

    def hang(*_: object) -> dict[str, float | str]:
        time.sleep(60)
        return {}

    monkeypatch.setattr(measuring, "volumes_asked_for", hang)
    monkeypatch.setattr(measuring, "SECONDS", 0.1)
    monkeypatch.setattr(measuring, "SECONDS_A_SOLID", 0.0)
    start = time.monotonic()
    takeoff = checked(path)
    assert time.monotonic() - start < 20
    (query,) = [q for q in takeoff.queries if q.code == "solid-not-measured"]
    assert query.global_ids == tuple(ids)


@LINUX
def test_a_worker_ends_with_the_process_that_asks(tmp_path: Path) -> None:
    """Killed outright, a run cannot end its worker."""
    path, _ = four(tmp_path)
    code = (
        "import os, sys, time; from pathlib import Path; from takeoff.measuring import Solids; "
        "from takeoff.settings import Settings; solids = Solids([Path(sys.argv[1])], Settings()); "
        "print(solids.process_id, flush=True); time.sleep(60)"
    )
    run = subprocess.Popen([sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE, text=True)
    assert run.stdout is not None
    worker = int(run.stdout.readline())
    run.kill()
    run.wait()
    run.stdout.close()
    end = time.monotonic() + 20
    while Path(f"/proc/{worker}").exists() and "zombie" not in Path(f"/proc/{worker}/status").read_text():
        assert time.monotonic() < end, "the worker is still there"
        time.sleep(0.05)


def test_summary_says_how_they_compare(tmp_path: Path) -> None:
    model = Build()
    part = model.angle(legs=(70, 70, 7), length=1000, **STEEL)
    model.cut(part, "A", Ring(500, 40, 30))
    path = model.save(tmp_path / "m.ifc")
    assert main(["lists", str(path), "-o", str(tmp_path / "out"), "--no-bars"]) in (0, 1)
    solids = json.loads((tmp_path / "out" / "summary.json").read_text())["solids"]
    assert solids["marks_measured"] == 1
    assert solids["marks_that_differ"] == []
    assert solids["marks_not_measured"] == {}
    ((mark, row),) = solids["by_mark"].items()
    assert row["global_id"] == part.global_id
    # (70 + 63) x 7 mm2 x 1000 mm less a 30 mm hole through 7 mm, 7850 kg/m3
    assert row["solid_kg"] == pytest.approx((133 * 7 * 1000 - 706.858 * 7) * 7.85e-6, abs=2e-3)
    assert row["lists_kg"] == pytest.approx(row["solid_kg"], rel=0.01)
    assert mark
