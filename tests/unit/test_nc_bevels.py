"""Bevelled ends of flats in files for machines: what an angle says, and what is left to be bevelled by hand."""

import io
import math
from itertools import pairwise

import ezdxf
import nc_reader
import pytest
import steelwork as sw

from takeoff.exchange.machine import machine_files
from takeoff.pipeline import work_out
from takeoff.settings import Settings
from takeoff.sheets import end_notes
from takeoff.steel import Plane

SETTINGS = Settings()
C = 0.5**0.5
HOLE = sw.hole("face", 120, 40)
L, T, W = 500.0, 10.0, 100.0

# Planes of the right end of a flat 500 long, 10 thick, whose near side is u = 0.
FULL = Plane((490.0, 0.0, 0.0), (C, -C, 0.0))
NEAR_PART = Plane((495.0, 0.0, 0.0), (C, -C, 0.0))
FAR_PART = Plane((505.0, 0.0, 0.0), (C, C, 0.0))


def made(*planes, end="right"):
    if end == "left":
        planes = [Plane((L - p.point[0], *p.point[1:]), (-p.normal[0], *p.normal[1:])) for p in planes]
    ends = {end: tuple(planes)}
    takeoff = work_out(sw.model([sw.member(sw.FL100, L, body_holes=(HOLE,), **ends)]), SETTINGS)
    machine, asked = machine_files(takeoff, SETTINGS, nc=True, dxf=True)
    (text,) = machine.kinds["nc"].files.values()
    (drawing,) = machine.kinds["dxf"].files.values()
    document = ezdxf.read(io.StringIO(drawing.decode()))
    audit = document.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    return takeoff.pieces[0], nc_reader.read(text), document, [q for q in asked.queries if q.code.startswith("machine")]


def xs(document, layer):
    found = [p[0] for e in document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]') for p in e.get_points("xy")]
    return (min(found), max(found)) if found else None


@pytest.mark.parametrize("end", ["left", "right"])
def test_a_full_bevel_has_its_angle(end):
    _piece, file, document, asked = made(FULL, end=end)
    assert sorted(map(abs, file.angles)) == pytest.approx([0, 0, 0, 45], abs=0.01)
    assert "machine-bevel" in {q.code for q in asked}
    # What is cut out of the plate is the whole piece, its bevel after.
    assert xs(document, "OUTLINE") == (0.0, 500.0)
    spans = sorted(hi - lo for lo, hi in (xs(document, "BEVEL"), xs(document, "FAR_SIDE")))
    assert spans == pytest.approx([490.0, 500.0])


@pytest.mark.parametrize("planes", [(NEAR_PART,), (FAR_PART,), (NEAR_PART, FAR_PART)], ids=["near", "far", "both"])
@pytest.mark.parametrize("end", ["left", "right"])
def test_a_bevel_of_a_part_of_the_thickness_is_no_angle_and_the_piece_keeps_its_length(planes, end):
    piece, file, document, asked = made(*planes, end=end)
    assert piece.length == pytest.approx(500.0)
    assert file.angles == (0.0, 0.0, 0.0, 0.0)
    # The blank is whole: no contour at all, or one as long as the piece.
    assert all({p[0] for p in c.points} == {0.0, 500.0} for c in file.contours)
    assert [q.code for q in asked] == ["machine-bevel-left-out"]
    assert f"{piece.cuts[0].end} end" in asked[0].message
    assert any(c.startswith(f"NOT IN THIS FILE: bevel at the {piece.cuts[0].end} end") for c in file.comments)
    assert xs(document, "OUTLINE") == (0.0, 500.0)
    words = [e.dxf.text for e in document.modelspace().query("TEXT")]
    assert any("bevel at the" in w for w in words)


@pytest.mark.parametrize("end", ["left", "right"])
def test_bevels_from_both_sides_of_a_skew_end_are_cut_at_the_nose(end):
    """Both planes lean by 20 degrees across too: the nose is a line at mid-thickness, skew by that angle."""
    s, c = math.sin(math.radians(20)), math.cos(math.radians(20))
    # Through (500, T/2, 0): the nose, whose lower corner is the piece's extreme point.
    planes = [Plane((500.0, T / 2, 0.0), (c * C, lean * C, s * C)) for lean in (-1.0, 1.0)]
    _piece, file, _, asked = made(*planes, end=end)
    assert "machine-bevel-left-out" in {q.code for q in asked}
    (outline,) = file.contours
    assert sorted(p[0] for p in outline.points)[-1] == pytest.approx(500.0, abs=0.02)
    assert sorted(p[0] for p in outline.points)[0] == pytest.approx(0.0, abs=0.02)
    slants = [abs(b[0] - a[0]) for a, b in pairwise(outline.points) if abs(b[1] - a[1]) > 1 and abs(b[0] - a[0]) > 1]
    assert slants == [pytest.approx(W * math.tan(math.radians(20)), abs=0.02)]
    assert sorted(map(abs, file.angles)) == pytest.approx([0, 0, 0, 20], abs=0.02)


def test_an_end_that_is_bevelled_in_part_and_clipped_has_no_file_and_says_so():
    clip = Plane((480.0, 0.0, 100.0), (C, 0.0, C))
    takeoff = work_out(sw.model([sw.member(sw.FL100, L, right=(NEAR_PART, clip), body_holes=(HOLE,))]), SETTINGS)
    machine, asked = machine_files(takeoff, SETTINGS, nc=True, dxf=True)
    assert {kind: len(m.files) for kind, m in machine.kinds.items()} == {"nc": 0, "dxf": 0}
    assert all(m.without for m in machine.kinds.values())
    assert {q.code for q in asked.queries if q.code.startswith("machine")} == {"machine-no-file"}


def test_a_clipped_and_fully_bevelled_flat_is_drawn_as_it_is_cut_out():
    """By hand: 500 x 100 less the corner that a plane at 45 degrees takes: 480 at the top edge, 20 x 20 / 2."""
    clip = Plane((480.0, 0.0, 100.0), (C, 0.0, C))
    _, _, document, _ = made(FULL, clip)
    (outline,) = document.modelspace().query('LWPOLYLINE[layer=="OUTLINE"]')
    corners = [p[:2] for p in outline.get_points("xy")]
    area = abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*corners, corners[0]]))) / 2
    assert area == pytest.approx(500 * 100 - 20 * 20 / 2, abs=0.1)


def test_the_sheet_says_how_much_of_the_thickness_is_bevelled():
    """By hand: 45 degrees from 5 mm back takes 5 of the 10 mm."""

    def line(*planes):
        takeoff = work_out(sw.model([sw.member(sw.FL100, L, right=planes, body_holes=(HOLE,))]), SETTINGS)
        return " ".join(end_notes.lines(takeoff.pieces[0]))

    assert "of the thickness" not in line(FULL)
    assert "through 5 of the thickness" in line(NEAR_PART)
    both = line(NEAR_PART, FAR_PART)
    assert both.count("through 5 of the thickness") == 2
    assert "from the side seen" in both
    assert "from the far side" in both
