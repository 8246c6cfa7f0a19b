"""Names of depth and mass held against measured sections.

Dimensions and masses by ASTM A6/A6M and BS 4-1, from memory: W16x36 is 403 x 177 x 7.5 x 10.9 mm, C8x11.5 is
203 x 57.4 x 5.6 x 9.9 mm with flanges of 1 in 6, 203x133x25 is 203.2 x 133.2 x 5.7 x 7.8 mm.
"""

from __future__ import annotations

import pytest

from takeoff.sections import shapes
from takeoff.sections.by_mass import agrees
from takeoff.sections.named import disagreement

W16X36 = shapes.i_section(403, 177, 7.5, 10.9, 10)
C8X11 = shapes.channel(203.2, 57.4, 5.6, 9.9, 0, 0, 1 / 6)
UB203 = shapes.i_section(203.2, 133.2, 5.7, 7.8, 7.6)


@pytest.mark.parametrize(
    ("text", "section"),
    [
        ("W16x36", W16X36), ("W 16 X 36", W16X36), ("W410x53", W16X36), ("C8x11.5", C8X11), ("UB 203x133x25", UB203),
        ("W16x36", shapes.i_section(403, 177, 7.5, 10.9)),
    ],
)  # fmt: skip
def test_the_section_of_the_name(text, section):
    assert agrees(text, section) is True
    assert disagreement(text, section) is None


@pytest.mark.parametrize(
    ("text", "section"),
    [("W16x36", C8X11), ("W16x50", W16X36), ("W24x36", W16X36), ("C8x18.75", C8X11), ("UB 203x133x30", UB203)],
)
def test_another_section_is_asked_about(text, section):
    assert agrees(text, section) is False
    assert disagreement(text, section) == (text, section.designation)


@pytest.mark.parametrize(
    "text", ["", "L100x8", "C150x60x20x3", "C100x50", "UPN 160", "PL10x200", "W16", "HEA 200", "M16x50", "S355x10"]
)
def test_names_of_another_kind_say_nothing(text):
    assert agrees(text, W16X36) is None
