"""Drawings 1:1, read back by the library that wrote them and audited by it."""

import io
import math
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import steelwork as sw
from ezdxf.math import Vec2, bulge_to_arc

from takeoff.exchange.dxf import dxf_files
from takeoff.pipeline import work_out
from takeoff.sections import shapes
from takeoff.settings import Settings
from takeoff.steel import HELD, Notch

L100X65 = shapes.angle(100, 65, 8, 10, 5)


def make(*members, angle_legs=False):
    settings = Settings()
    settings = replace(settings, dxf=replace(settings.dxf, angle_legs=angle_legs))
    takeoff = work_out(sw.model(members), settings)
    return takeoff, dxf_files(takeoff, settings)


def drawing(made):
    (content,) = made.files.values()
    document = ezdxf.read(io.StringIO(content.decode("utf-8")))
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    return document


def on(document, layer, kind):
    return [e for e in document.modelspace() if e.dxf.layer == layer and e.dxftype() == kind]


def area(polyline):
    """Area of a closed polyline with its arcs, mm2, positive anti-clockwise."""
    points = list(polyline.get_points("xyb"))
    total = 0.0
    for (ax, ay, bulge), (bx, by, _) in zip(points, [*points[1:], points[0]], strict=True):
        total += (ax * by - bx * ay) / 2
        if bulge:
            _, _, _, radius = bulge_to_arc(Vec2(ax, ay), Vec2(bx, by), bulge)
            half = 2 * math.atan(abs(bulge))
            total += math.copysign(radius**2 * (half - math.sin(half) * math.cos(half)), bulge)
    return total


def test_a_plate_is_drawn_one_to_one():
    corners = ((0, 0), (400, 0), (400, 150), (330, 220), (0, 220))
    part = sw.plate(
        corners, 12.0, body_holes=(sw.hole("face", 50, 40, 14), sw.hole("face", 300, 60, 22)), grade="S355J2"
    )
    takeoff, made = make(part)
    document = drawing(made)
    # DXF reference: $INSUNITS 4 is millimetres, AC1024 is R2010, $MEASUREMENT 1 metric.
    assert (document.dxfversion, document.header["$INSUNITS"], document.header["$MEASUREMENT"]) == ("AC1024", 4, 1)
    (outline,) = on(document, "OUTLINE", "LWPOLYLINE")
    assert outline.closed
    assert area(outline) == pytest.approx(400 * 220 - 70 * 70 / 2)
    holes = on(document, "HOLES", "CIRCLE")
    want = sorted((h.x, h.across, h.diameter / 2) for h in takeoff.pieces[0].holes)
    have = sorted((h.dxf.center.x, h.dxf.center.y, h.dxf.radius) for h in holes)
    assert np.array(have) == pytest.approx(np.array(want))
    words = " ".join(e.dxf.text for e in on(document, "MARK", "TEXT"))
    assert takeoff.pieces[0].mark in words
    assert "t = 12" in words
    assert "S355J2" in words
    assert {e.dxf.layer for e in document.modelspace()} == {"OUTLINE", "HOLES", "MARK"}


def test_arcs_are_arcs():
    part = sw.plate(((0, 0), (200, 0, 1.0), (200, 200), (0, 200)), 10.0, body_holes=(sw.hole("face", 50, 60),))
    part = replace(part, body=replace(part.body, length=300.0))
    (outline,) = on(drawing(make(part)[1]), "OUTLINE", "LWPOLYLINE")
    assert len(outline) == 4
    assert area(outline) == pytest.approx(200 * 200 + math.pi * 100**2 / 2)


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0])
def test_slots_and_rectangles_are_closed_loops_of_the_right_area(angle):
    """By hand: a slot 50 x 20 is 30 x 20 and a circle of 20; a rectangle 60 x 40 with corners of 10 lacks
    (4 - pi) 10^2; a sharp one is 2400.
    """
    slot = sw.hole("face", 80, 60, 20, slot_length=50, slot_angle=angle, kind="slot")
    soft = sw.hole("face", 200, 70, 20, slot_length=60, width=40, slot_angle=angle, kind="rectangle")
    hard = sw.hole("face", 320, 80, 0, slot_length=60, width=40, slot_angle=angle, kind="rectangle")
    takeoff, made = make(sw.plate(sw.rectangle(400, 200), 10.0, body_holes=(slot, soft, hard)))
    loops = on(drawing(made), "HOLES", "LWPOLYLINE")
    assert all(loop.closed for loop in loops)
    want = [30 * 20 + math.pi * 100, 60 * 40 - (4 - math.pi) * 100, 2400.0]
    # Corners are rounded to a ten-thousandth of a millimetre.
    assert sorted(area(loop) for loop in loops) == pytest.approx(sorted(want), rel=1e-5)
    corners = [np.array(list(loop.get_points("xyb"))) for loop in loops]
    middles = sorted(tuple(c[:, :2].mean(axis=0).round(3).tolist()) for c in corners)
    holes = takeoff.pieces[0].holes
    assert np.array(middles) == pytest.approx(np.array(sorted((h.x, h.across) for h in holes)), abs=0.001)
    (mine,) = [h for h in holes if h.kind == "slot"]
    (its,) = [c for c, loop in zip(corners, loops, strict=True) if area(loop) < 1000]
    assert sorted(its[:, 2].round(6).tolist()) == [0.0, 0.0, 1.0, 1.0]
    along = its[1, :2] - its[0, :2] if its[0, 2] == 0 else its[2, :2] - its[1, :2]
    assert math.degrees(math.atan2(along[1], along[0])) % 180 == pytest.approx(mine.slot_angle % 180, abs=0.01)


def test_a_skew_flat_and_a_notched_plate_show_their_outline():
    cut = sw.skew(0.0, 30.0, end="left")
    _, made = make(sw.member(sw.FL100, 400.0, left=(cut,), body_holes=(sw.hole("face", 200, 40),)))
    (outline,) = on(drawing(made), "OUTLINE", "LWPOLYLINE")
    assert area(outline) == pytest.approx(400 * 100 - 100 * 100 * math.tan(math.radians(30)) / 2, rel=1e-6)
    notch = Notch("face", ((-5, 50), (60, 50), (60, 120), (-5, 120)))
    plate = sw.plate(sw.rectangle(400, 200), 10.0, notches=(notch,), body_holes=(sw.hole("face", 200, 40),))
    (outline,) = on(drawing(make(plate)[1]), "OUTLINE", "LWPOLYLINE")
    assert area(outline) == pytest.approx(400 * 200 - 60 * 70, rel=1e-3)


def test_legs_of_an_angle_are_developed_about_the_heel_where_asked():
    part = sw.member(L100X65, 900.0, body_holes=(sw.hole("A", 70, 65, 22), sw.hole("B", 240, 38, 18)))
    assert make(part)[1].files == {}
    takeoff, made = make(part, angle_legs=True)
    document = drawing(made)
    have = {h.dxf.radius * 2: (h.dxf.center.x, h.dxf.center.y) for h in on(document, "HOLES", "CIRCLE")}
    want = {h.diameter: (h.x, h.across if h.face == "A" else -h.across) for h in takeoff.pieces[0].holes}
    assert have == want
    (heel,) = on(document, "HEEL", "LINE")
    assert (tuple(heel.dxf.start)[:2], tuple(heel.dxf.end)[:2]) == ((0.0, 0.0), (900.0, 0.0))
    ys = [p[1] for outline in on(document, "OUTLINE", "LWPOLYLINE") for p in outline.get_points("xy")]
    assert (min(ys), max(ys)) == (-65.0, 100.0)


@pytest.mark.parametrize("hand", [False, True])
def test_a_countersink_is_noted_with_its_side_and_its_hole_drawn(hand):
    """A piece may be drawn with its countersink away from the viewer: the part's own frame tells."""
    sunk = sw.hole("face", 60, 50, 18, kind="countersunk", width=34.0)
    part = sw.plate(sw.rectangle(400, 180), 12.0, body_holes=(sunk, sw.hole("face", 200, 70, 22)))
    part = sw.mirrored(part) if hand else part
    takeoff, made = make(part)
    document = drawing(made)
    circles = on(document, "HOLES", "CIRCLE")
    assert sorted(c.dxf.radius for c in circles) == [9.0, 11.0]
    (note,) = [e.dxf.text for e in on(document, "MARK", "TEXT") if "countersunk" in e.dxf.text]
    # The viewer looks along +u of the piece; the part's own mouths are on the near side of its body.
    far = takeoff.pieces[0].frames[0].axes[1] @ part.frame.axes[1] < 0
    assert note.split(": ")[1] == f"countersunk to 34, on {'the far' if far else 'this'} side"


def test_a_blind_hole_is_noted_with_its_depth_and_not_cut():
    part = sw.plate(sw.rectangle(400, 180), 12.0, body_holes=(sw.hole("face", 60, 50, 18, kind="blind", depth=7.0),))
    document = drawing(make(part)[1])
    assert on(document, "HOLES", "CIRCLE") == []
    assert any("blind hole 18, 7 deep" in e.dxf.text for e in on(document, "MARK", "TEXT"))


def test_what_is_sunk_lies_on_a_layer_of_its_own():
    sunk = sw.hole("face", 60, 50, 18, kind="countersunk", width=34.0)
    blind = sw.hole("face", 200, 50, 14, kind="blind", depth=7.0)
    document = drawing(make(sw.plate(sw.rectangle(400, 180), 12.0, body_holes=(sunk, blind)))[1])
    assert sorted(c.dxf.radius for c in on(document, "COUNTERSINK", "CIRCLE")) == [7.0, 17.0]
    assert [c.dxf.radius for c in on(document, "HOLES", "CIRCLE")] == [9.0]


@pytest.mark.parametrize("leg", ["A", "B"])
def test_an_arc_drawn_in_chords_is_an_arc_on_a_developed_leg(leg):
    """Half a circle of 20 mm bitten from the toe: its area by hand, less a hundredth outside of the edge."""
    width = 100.0 if leg == "A" else 65.0
    bow = [(450 - 20 * math.cos(a), width - 20 * math.sin(a)) for a in np.radians(np.arange(0, 181, 10))]
    part = sw.member(L100X65, 900.0, notches=(Notch(leg, (*bow, (470, width + 1), (430, width + 1))),))
    document = drawing(make(part, angle_legs=True)[1])
    outlines = on(document, "OUTLINE", "LWPOLYLINE")
    (mine,) = [o for o in outlines if any(b for *_, b in o.get_points("xyb"))]
    assert len(mine) <= 8
    assert abs(area(mine)) == pytest.approx(900 * width - math.pi * 20**2 / 2, abs=1.0)


def test_held_plates_have_none_and_other_shapes_are_not_spoken_of():
    held = sw.plate(
        sw.rectangle(400, 180), 12.0, status=HELD, reason="Not certain.", body_holes=(sw.hole("face", 60, 50),)
    )
    takeoff, made = make(held, sw.member(sw.U160, 700.0))
    plate = next(p.mark for p in takeoff.pieces if p.status == HELD)
    assert made.without == {plate: "it is held"}
    assert made.files == {}


def test_two_runs_write_the_same_bytes_and_leave_the_library_as_it_was():
    part = sw.plate(sw.rectangle(400, 180), 12.0, body_holes=(sw.hole("face", 60, 50),))
    before = ezdxf.options.write_fixed_meta_data_for_testing
    assert make(part)[1].files == make(part)[1].files
    assert ezdxf.options.write_fixed_meta_data_for_testing == before


def test_other_hash_seeds_and_times_write_the_same_bytes(tmp_path):
    """Processes whose sets run in different orders, each started at a time of its own."""
    program = (
        "import sys; from pathlib import Path; sys.path.insert(0, sys.argv[1]);"
        "import steelwork as sw; import test_dxf;"
        "part = sw.plate(sw.rectangle(400, 180), 12.0, body_holes=(sw.hole('face', 60, 50),));"
        "(content,) = test_dxf.make(part)[1].files.values(); Path(sys.argv[2]).write_bytes(content)"
    )
    written = []
    for seed in ("1", "2", "5"):
        path = tmp_path / seed
        here = str(Path(__file__).parent)
        command = [sys.executable, "-c", program, here, str(path)]
        subprocess.run(command, check=True, env={**os.environ, "PYTHONHASHSEED": seed})
        written.append(path.read_bytes())
    assert len(set(written)) == 1
