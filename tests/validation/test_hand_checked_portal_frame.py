"""portal_frame_marks.ifc against arithmetic done by hand from the file's own numbers.

Nine columns and twelve beams, each in an assembly of its own, marks 1001 to 1008 in Tag and property sets. Profiles
are IfcIShapeProfileDef with real dimensions; no cuts, no openings, no bolts.
"""

from __future__ import annotations

import math

import pytest
from real_models import taken

from takeoff.steel import Takeoff

NAME = "portal_frame_marks.ifc"

# Mark: how many (counted in the file by Tag), profile (#65, #340, #606, #1065, #1416, #1596, #881): width, depth,
# web, flange, root radius; length (#70, #349, #607, #1066, #1418, #1597, #885, #1774); kg/m of the handbooks for UK
# sections (BS 4-1, from memory; the name in the file carries it rounded to a whole number).
PIECES = {
    "1001": (3, (254.6, 254.1, 8.6, 14.2, 12.7), 5000, 73.1),
    "1002": (3, (370.5, 362.0, 12.3, 20.7, 15.2), 5000, 152.9),
    "1003": (3, (305.3, 307.9, 9.9, 15.4, 15.2), 5000, 96.9),
    "1004": (2, (171.5, 355.0, 7.4, 11.5, 10.2), 6000, 51.0),
    "1005": (2, (227.6, 602.6, 10.5, 14.8, 12.7), 7200, 101.2),
    "1006": (2, (101.6, 177.8, 4.8, 7.9, 7.6), 7200, 19.0),
    "1007": (4, (142.4, 403.2, 6.8, 11.2, 10.2), 6000, 46.0),
    "1008": (2, (142.4, 403.2, 6.8, 11.2, 10.2), 7200, 46.0),
}


@pytest.fixture(scope="module")
def takeoff() -> Takeoff:
    return taken(NAME)


def test_marks_quantities_lengths(takeoff: Takeoff) -> None:
    """The model's marks are kept: each is one shape. 1007 and 1008 are one section in two lengths."""
    assert {p.mark: (p.quantity, p.length) for p in takeoff.pieces} == {
        mark: (quantity, pytest.approx(length, abs=0.01)) for mark, (quantity, _, length, _) in PIECES.items()
    }
    assert sum(p.quantity for p in takeoff.pieces) == 21 == len(takeoff.model.members)
    assert all(p.model_marks == (p.mark,) for p in takeoff.pieces)


def test_sections_grade_and_ends(takeoff: Takeoff) -> None:
    for piece in takeoff.pieces:
        b, h, tw, tf, r = PIECES[piece.mark][1]
        s = piece.section
        assert s.shape == "I"
        assert (s.b, s.h, s.tw, s.tf, s.r1) == pytest.approx((b, h, tw, tf, r), abs=0.001)
        # #139 is STEEL/S275J0; the material's word is not part of the grade.
        assert piece.grade == "S275J0"
        assert (piece.holes, piece.cuts, piece.opposite_hand_of) == ((), (), "")


def test_weights(takeoff: Takeoff) -> None:
    """2 b tf + (h - 2 tf) tw + (4 - pi) r^2, times length and 7850 kg/m3; and the handbooks' kg/m within 0.6 %.

    The handbooks print one decimal, and their rounded 19.0 is 0.5 % below the area of its own dimensions.
    """
    total = 0.0
    for piece in takeoff.pieces:
        quantity, (b, h, tw, tf, r), length, listed = PIECES[piece.mark]
        area = 2 * b * tf + (h - 2 * tf) * tw + (4 - math.pi) * r**2
        mass = area * length * 7.85e-6
        assert piece.gross == pytest.approx(mass, rel=1e-5), piece.mark
        assert piece.net == pytest.approx(piece.gross, rel=1e-9)
        assert piece.gross / length * 1000 == pytest.approx(listed, rel=0.006), piece.mark
        total += quantity * mass
    assert takeoff.balance["net_weight_kg"] == pytest.approx(total, rel=1e-5)


def test_assemblies(takeoff: Takeoff) -> None:
    """Every part stands alone in an IfcElementAssembly that carries the same tag."""
    found = {a.mark: (a.quantity, a.pieces) for a in takeoff.assemblies}
    assert found == {mark: (quantity, ((mark, 1),)) for mark, (quantity, *_) in PIECES.items()}
    assert takeoff.member_assemblies == takeoff.member_marks


def test_nothing_to_ask_but_the_bolts(takeoff: Takeoff) -> None:
    assert [q.code for q in takeoff.queries] == ["model-without-bolts"]
