"""Holes that are reamed: files for machines have the diameter that is punched, and somebody is told to ream."""

import io
from dataclasses import replace

import ezdxf
import nc_reader
import pytest
import steelwork as sw

from takeoff.exchange.machine import machine_files
from takeoff.exchange.reaming import as_punched
from takeoff.pipeline import work_out
from takeoff.rules.wording import size_to_punch
from takeoff.settings import Settings
from takeoff.sheets.wording import opening
from takeoff.steel import Hole

EXC3 = Settings(punching=replace(Settings().punching, execution_class="EXC3", undersize_mm=2.0))


def parts():
    """18 mm holes in 10 mm: EN 1090-2, 6.6.3 (from memory): EXC3 over 3 mm is punched 2 mm smaller and reamed."""
    holes = (sw.hole("A", 70, 55, 18), sw.hole("B", 300, 50, 22))
    return [
        sw.member(sw.L100, 900.0, mark="A1", grade="S355J2", body_holes=holes),
        sw.plate(sw.rectangle(300, 200), 10.0, mark="P1", grade="S355J2", body_holes=(sw.hole("face", 40, 50, 18),)),
    ]  # fmt: skip


def test_machine_files_hold_the_size_to_punch_as_the_punch_list_does():
    takeoff = work_out(sw.model(parts()), EXC3)
    machine, _asked = machine_files(takeoff, EXC3, nc=True, dxf=True)
    made = machine.kinds["nc"]
    for piece in takeoff.pieces:
        file = nc_reader.read(made.files[made.names[piece.mark]])
        assert all(hole.punch_mm for hole in piece.holes)
        assert sorted(h.diameter for h in file.holes) == sorted(size_to_punch(h) for h in piece.holes)
        told = [c for c in file.comments if c.startswith("REAM AFTER")]
        assert len(told) == len({h.diameter for h in piece.holes})
        # What the sheet says of the same hole.
        assert opening(piece.holes[0]).startswith(f"punch Ø{piece.holes[0].punch_mm:g}, ream to ")
    document = ezdxf.read(io.StringIO(machine.kinds["dxf"].files["P1.dxf"].decode()))
    circles = [e.dxf.radius * 2 for e in document.modelspace().query('CIRCLE[layer=="HOLES"]')]
    assert circles == [16.0]
    texts = [e.dxf.text for e in document.modelspace().query("TEXT")]
    assert "1 hole punched 16, to be reamed to 18" in texts


def test_one_query_tells_the_shop_to_ream_with_every_part():
    takeoff = work_out(sw.model(parts()), EXC3)
    for kinds, marks in (({"nc": True}, 2), ({"dxf": True}, 1), ({"nc": True, "dxf": True}, 2)):
        _, asked = machine_files(takeoff, EXC3, **kinds)
        (question,) = [q for q in asked.queries if q.code == "machine-reamed"]
        assert "P1, 1 hole punched 16, to be reamed to 18" in question.message
        assert ("A1, 1 hole punched 16, to be reamed to 18 and 1 hole punched 20" in question.message) == (marks == 2)
        assert len(question.global_ids) == marks


def test_in_a_class_without_reaming_nothing_changes():
    settings = replace(EXC3, punching=replace(EXC3.punching, execution_class="EXC2"))
    takeoff = work_out(sw.model(parts()), settings)
    machine, asked = machine_files(takeoff, settings, nc=True)
    assert not [q for q in asked.queries if q.code == "machine-reamed"]
    made = machine.kinds["nc"]
    file = nc_reader.read(made.files[made.names["A1"]])
    assert sorted(h.diameter for h in file.holes) == [18.0, 22.0]


@pytest.mark.parametrize(
    ("hole", "sizes"),
    [
        (Hole("A1", "A", 0, 0, 18.0, punch_mm=16.0), (16.0, 0.0, 0.0)),
        (Hole("A1", "A", 0, 0, 18.0, slot_length=40.0, kind="slot", punch_mm=16.0), (16.0, 38.0, 0.0)),
        (Hole("A1", "A", 0, 0, 18.0), (18.0, 0.0, 0.0)),
    ],
)
def test_sizes_as_punched(hole, sizes):
    """By hand; a slot's ends keep their centres, 40 - 18 = 38 - 16 = 22 apart."""
    small = as_punched(hole)
    assert (small.diameter, small.slot_length, small.width) == sizes
