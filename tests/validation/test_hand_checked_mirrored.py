"""mirrored_profiles.ifc: an angle as IfcDerivedProfileDef, placed by the standard's definition, by hand.

The file is in inches; instance names (#...) are those of the file. ISO 16739-1: a derived profile is its parent
under a Cartesian transformation operator; here Axis1 is (-1, 0) and Axis2 (0, 1), the parent mirrored left to right.
"""

from __future__ import annotations

import numpy as np
import pytest
from real_models import piece_of, taken

NAME = "mirrored_profiles.ifc"
INCH = 25.4
ANGLE, TEE = "0ymXLmGUz4WPyHYyZL4hYc", "2S_Q9J_0X5DvSFQoaOgnQ$"


def test_mirrored_angle_lies_where_the_standard_puts_it() -> None:
    """The heel's line and the directions of both legs.

    #51: L 6 x 4 x 1/2 about the middle of its box: heel (-2, -3), leg 6 along +y, leg 4 along +x; mirrored:
    heel (2, -3), leg 4 along -x. #38: profile x is the item's y, profile y its z, extruded 6 along its x: the
    heel's line is (s, 2, -3), s = 0 to 6.
    #42: z = (-1, 0, 0), x = (0, 1, 0), y = z cross x = (0, 0, -1): (a, b, c) goes to (71 - c, -3 + a, 5.9375 - b).
    The heel: (74, -3 + s, 3.9375). Leg 6 (+c) runs along -x there, leg 4 (-b) along +z.
    #17: z = (-1, 0, 0), x = (0, 0, 1), y = (0, 1, 0): (a, b, c) goes to (2223.75 - c, b, 4139.8125 + a).
    The heel: (2219.8125, -3 + s, 4213.8125); leg 6 along (0, 0, -1), leg 4 along (-1, 0, 0). Unmirrored the heel
    would lie 4 in further, at X = 2215.8125, with leg 4 along +X.
    x of the piece is (leg B) x (leg A) = (-1, 0, 0) x (0, 0, -1) = (0, -1, 0): its left end is at Y = +3.
    """
    piece = piece_of(taken(NAME), ANGLE)
    [frame] = piece.frames
    assert piece.section.shape == "angle"
    assert (piece.section.h, piece.section.b, piece.section.tw) == pytest.approx((6 * INCH, 4 * INCH, 0.5 * INCH))
    assert piece.length == pytest.approx(6 * INCH, abs=1e-6)
    assert frame.origin == pytest.approx(np.array([2219.8125, 3.0, 4213.8125]) * INCH, abs=0.01)
    assert frame.axes == pytest.approx(np.array([[0, -1, 0], [-1, 0, 0], [0, 0, -1]]), abs=1e-9)


def test_mirrored_tee_is_a_tee() -> None:
    """#31: WT 8.125 x 7.125, stem 3/8, flange 5/8, 13 long: its mirror image is itself."""
    piece = piece_of(taken(NAME), TEE)
    s = piece.section
    assert (s.shape, s.h, s.b, s.tw, s.tf) == (
        "T", *(pytest.approx(x * INCH) for x in (8.125, 7.125, 0.375, 0.625)),
    )  # fmt: skip
    assert piece.length == pytest.approx(13 * INCH)
    assert piece.opposite_hand_of == ""


def test_pieces_and_weights() -> None:
    """Six parts, five pieces, in inches x 25.4. Masses of the handbook's designations (AISC, in lb/ft).

    L6x4x1/2 16.2, W8x18 18, WT8x25 25 lb/ft. Drawn with or without fillets, hence 2 %.
    """
    takeoff = taken(NAME)
    assert sorted((p.section.shape, p.quantity, round(p.length / INCH, 4)) for p in takeoff.pieces) == [
        ("I", 2, 7.625), ("RHS", 1, 6.625), ("T", 1, 13.0), ("angle", 1, 6.0), ("flat", 1, 6.0),
    ]  # fmt: skip
    pounds = {"angle": 16.2, "I": 18.0, "T": 25.0}
    for piece in takeoff.pieces:
        if piece.section.shape in pounds:
            expected = pounds[piece.section.shape] * 0.45359237 / 0.3048
            assert piece.gross / piece.length * 1000 == pytest.approx(expected, rel=0.02), piece.section.shape
        assert piece.holes == ()  # its openings cut nothing: no relation says so
