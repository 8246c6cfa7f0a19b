"""angles_and_plates_small.ifc against arithmetic done by hand from the file's own numbers.

Instance names (#...) are those of the file, lengths mm. The file has no bolts, no marks and no assemblies;
sections by dimensions. Masses are 7850 kg/m3 times volumes worked out beside them.
"""

from __future__ import annotations

import math

import pytest
from real_models import piece_of, taken

from takeoff.steel import Takeoff

NAME = "angles_and_plates_small.ifc"
STEEL = 7.85e-6  # kg/mm3
COLUMN, BRACE = "13c6Dt00001p4nCpGmDZ0q", "13c6Dt00003p4nCpGmDZ0r"
CLIPPED, GUSSET = "13c6Dt0003iJ4nCpGmDZ4q", "13c6Dt00005J4nCpGmDZ0s"


@pytest.fixture(scope="module")
def takeoff() -> Takeoff:
    return taken(NAME)


def test_pieces(takeoff: Takeoff) -> None:
    """14 parts, 11 pieces: three pairs are alike, everything else differs in section or length."""
    found = sorted((p.section.shape, p.quantity, p.grade, round(p.length, 2)) for p in takeoff.pieces)
    assert found == sorted(
        [
            # #664, #752: L 101.6 x 88.9 x 9.525, both 254 long (#676, #764), no holes.
            ("angle", 2, "A36", 254.0),
            ("angle", 1, "A36", 292.1),  # #850
            ("angle", 1, "A36", 330.2),  # #938
            # #564: 2278.7992 long, cut at x = 778.79918 by #592, its far side gone.
            ("I", 1, "A992", 778.8),
            # #1313: from -1500, 2768.2595 long, its first 1500 cut off by #1345.
            ("I", 1, "A992", 1268.26),
            ("I", 1, "A992", 1524.0),  # #1429
            # #1120: from -1500, 2177.4228 long, cut at 0 by #1153.
            ("RHS", 1, "A500-GR.B", 677.42),
            ("plate", 2, "A36", 318.85),  # #174 and #268, one the other one turned over
            ("plate", 2, "A36", 318.45),  # #350 and #434
            ("plate", 1, "A36", 304.8),  # #521, a rectangle 9.5 x 234.9 extruded 304.8
            # #1078: 512.75543 wide with its corner 0.001 outside (#1010).
            ("plate", 1, "A36", 512.76),
        ]
    )
    assert set(takeoff.member_status) == {"listed"}
    # No hardware, no hands: every piece is its own mirror image.
    assert all(p.opposite_hand_of == "" for p in takeoff.pieces)
    # One opening has no bolt, and there are no bolts at all. W16X36 and W14X68 are drawn with webs of 9.52 and 12.7
    # (3/8 and 1/2 inch) where ASTM A6 has 0.295 and 0.415 inch (AISC manual, from memory). Nothing else is to be asked.
    assert {q.code for q in takeoff.queries} == {"holes-without-bolt", "model-without-bolts", "section-name-disagrees"}


def test_sections(takeoff: Takeoff) -> None:
    """Sizes as drawn: W14X68 #1301, W16X36 #552, TS6X6X3/8 #1108, angles #664 and #838."""
    sizes = {(s.shape, *(round(x, 2) for x in (s.h, s.b, s.tw))) for s in (p.section for p in takeoff.pieces)}
    assert {
        ("I", 356.62, 254.89, 12.7),
        ("I", 402.84, 177.42, 9.52),
        ("RHS", 152.4, 152.4, 9.52),
        ("angle", 101.6, 88.9, 9.52),
        ("angle", 101.6, 101.6, 9.52),
    } <= sizes


def test_column_web_opening(takeoff: Takeoff) -> None:
    """The column's rounded rectangular opening in the web.

    #1470: the column's axes are z = (0, -1, 0), x = (0, 0, 1), so y = z cross x = (-1, 0, 0); its body (#1426: axis
    -x, extruded backward) runs 1524 up from Z = -609.6, the web lies along model X with its middle on X = 4572.
    #1504: the opening's x is (-1, 0, 0), its z (0, 1, 0), so y = (0, 0, 1): 178.308 along -X, 356.616 up.
    X: 4661.154 - 178.308 = 4482.846 to 4661.154, middle 4572: the web's middle line, across 356.616 / 2 = 178.308.
    Z: 308.83104 + 609.6 = 918.43104 above the foot to 1275.04704, middle 1096.73904; from the head 1524 - that
    = 427.26096, the lesser of the two and therefore the piece's left end. Corners: 20 mm (#1519, #1555).
    """
    column = piece_of(takeoff, COLUMN)
    [hole] = column.holes
    assert (hole.face, hole.kind, hole.source) == ("web", "rectangle", "opening")
    assert hole.x == pytest.approx(427.26096, abs=0.01)
    assert hole.across == pytest.approx(178.308, abs=0.01)
    assert hole.slot_length == pytest.approx(356.616, abs=0.01)
    assert hole.width == pytest.approx(178.308, abs=0.01)
    assert hole.slot_angle == pytest.approx(0, abs=0.01)
    assert hole.diameter == pytest.approx(40, abs=0.01)
    # Flanges 2 x 254.88901 x 18.288, web (356.616 - 2 x 18.288) x 12.7, four root fillets (1 - pi/4) 21.3995^2.
    area = 2 * 254.88901 * 18.288 + (356.616 - 36.576) * 12.7 + 4 * (1 - math.pi / 4) * 21.3995**2
    opening = 356.616 * 178.308 - 4 * (1 - math.pi / 4) * 20**2
    assert column.gross == pytest.approx(area * 1524 * STEEL, rel=1e-5)
    assert column.net == pytest.approx((area * 1524 - opening * 12.7) * STEEL, rel=1e-5)


def test_brace_end_slot(takeoff: Takeoff) -> None:
    """The slot in the end of the square brace: a notch in each of two opposite walls.

    #1187: axes z = (0, -1, 0), x = (s, 0, s), y = (-s, 0, s) with s = 0.70710678. #1224, the opening: x = (-s, 0, s),
    that is the brace's y. From the brace's origin it lies at (146.2651, 0.012, 24.35984):
    along x 170.62494 s = 120.65, along y -121.90526 s = -86.2, along z -0.012.
    Its profile (#1241) is 9.5 along z and 266.7 along x, extruded 172.4 along y: it goes through both walls that y
    is square to (-86.2 to 86.2 against 76.2), x from 120.65 - 133.35 = -12.7, outside the end, to 254,
    z from -4.762 to 4.738: from 71.438 (76.2 - 4.762) or 71.462 on.
    """
    brace = piece_of(takeoff, BRACE)
    assert brace.holes == ()
    first, second = brace.cuts
    assert {first.face, second.face} in ({"top", "bottom"}, {"front", "back"})
    for notch in (first, second):
        assert notch.kind == "notch"
        depth = notch.x if notch.end == "left" else brace.length - notch.x
        assert depth == pytest.approx(254.0, abs=0.01)
        assert notch.size == pytest.approx(9.5, abs=0.01)
        assert min(abs(notch.across - 71.438), abs(notch.across - 71.462)) < 0.01
    # Two walls 9.525 thick lose 254 x 9.5 each.
    assert brace.gross - brace.net == pytest.approx(2 * 254 * 9.5 * 9.525 * STEEL, rel=1e-4)


def test_plate_with_two_clipped_corners(takeoff: Takeoff) -> None:
    """#102 and #196: 120.65 x 318.8494 x 19.1 with 25.4 x 45 degrees off both corners of one long side."""
    plate = piece_of(takeoff, CLIPPED)
    assert plate.quantity == 2
    assert plate.section.h == pytest.approx(120.65, abs=0.01)
    assert plate.section.tw == pytest.approx(19.1, abs=1e-6)
    expected = [
        (0, 0), (318.8494, 0), (318.8494, 95.25), (293.4494, 120.65), (25.4, 120.65), (0, 95.25),
    ]  # fmt: skip
    upside_down = [(x, 120.65 - across) for x, across in expected]
    corners = sorted((c.x, c.across) for c in plate.cuts)
    assert {c.kind for c in plate.cuts} == {"outline"}
    assert any(
        all(p == pytest.approx(q, abs=0.01) for p, q in zip(corners, sorted(wanted), strict=True))
        for wanted in (expected, upside_down)
    )
    assert plate.net == pytest.approx((120.65 * 318.8494 - 25.4**2) * 19.1 * STEEL, rel=1e-5)


def test_gusset_with_one_clipped_corner(takeoff: Takeoff) -> None:
    """#1001: 512.755 x 486.848 x 9.5, one corner cut from (369.071, 486.848) to (512.755, 343.164): 143.684 each way.

    One corner stands 0.001 outside the rectangle (#1010). In its own rectangle the clip leaves both sides 143.684
    from a corner.
    """
    gusset = piece_of(takeoff, GUSSET)
    assert gusset.quantity == 1
    assert len(gusset.cuts) == 5
    assert gusset.length == pytest.approx(512.756, abs=0.01)
    assert gusset.section.h == pytest.approx(486.848, abs=0.01)
    angles = sorted(c.angle for c in gusset.cuts)
    assert angles == pytest.approx([90, 90, 90, 135, 135], abs=0.01)
    clip = [(c.x, c.across) for c in gusset.cuts if c.angle > 100]
    run, rise = (abs(a - b) for a, b in zip(*clip, strict=True))
    assert (run, rise) == pytest.approx((143.684, 143.684), abs=0.01)
    assert gusset.net == pytest.approx((512.75543 * 486.84845 - 143.68408**2 / 2) * 9.5 * STEEL, rel=1e-4)


def test_angle_weight(takeoff: Takeoff) -> None:
    """#664: (101.6 + 88.9 - 9.525) x 9.525 + (1 - pi/4) 9.525^2 = 1743.27 mm2, 254 long: 3.476 kg."""
    [angle] = [p for p in takeoff.pieces if p.quantity == 2 and p.section.shape == "angle"]
    area = (101.6 + 88.9 - 9.525) * 9.525 + (1 - math.pi / 4) * 9.525**2
    assert angle.net == pytest.approx(area * 254 * STEEL, rel=1e-5)
