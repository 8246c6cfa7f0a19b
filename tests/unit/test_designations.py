"""Designations as people write them. The sizes are in the text itself; inches are 25.4 mm."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from takeoff.sections import shapes, tables
from takeoff.sections.designations import read

SIZES = [
    ("L100x8", "angle", 100, 100, 8),
    ("L 100x100x8", "angle", 100, 100, 8),
    ("L65x100x8", "angle", 100, 65, 8),
    ("L100/65/8", "angle", 100, 65, 8),
    ("L100/8", "angle", 100, 100, 8),
    ("l 100 X 65 X 8", "angle", 100, 65, 8),
    ("L4x3x5/16", "angle", 101.6, 76.2, 7.9375),
    ("L3-1/2x3x1/4", "angle", 88.9, 76.2, 6.35),
    ("L3 1/2 x 3 x 1/4", "angle", 88.9, 76.2, 6.35),
    ("L2x2x.25", "angle", 50.8, 50.8, 6.35),
    ("FL80*8", "flat", 80, 8, 8),
    ("FL80/8", "flat", 80, 8, 8),
    ("STRIP10*80", "flat", 80, 10, 10),
    ("PL10*120", "plate", 120, 10, 10),
    ("PL 120/10", "plate", 120, 10, 10),
    ("PL10", "plate", 0, 10, 10),
    ("PL 1/2", "plate", 0, 12.7, 12.7),
    ("RHS100x50x4", "RHS", 100, 50, 4),
    ("SHS 80x4", "RHS", 80, 80, 4),
    ("TS6X6X3/8", "RHS", 152.4, 152.4, 9.525),
    ("CHS76,1x4", "CHS", 76.1, 76.1, 4),
    ("ROR 60.3*3", "CHS", 60.3, 60.3, 3),
    ("RD20", "round", 20, 20, 0),
    ("R10", "round", 10, 10, 0),
    ("Ø16", "round", 16, 16, 0),
    ("U 160x65x7.5x10.5", "channel", 160, 65, 7.5),
    ("C200x75x20x2", "other", 200, 75, 2),
    ("Z200x75x20x2", "other", 200, 148, 2),
]


@pytest.mark.parametrize(("text", "shape", "h", "b", "t"), SIZES)
def test_sizes(text, shape, h, b, t):
    section = read(text)
    assert section is not None
    assert (section.shape, section.h, section.b, section.tw) == pytest.approx((shape, h, b, t))


@pytest.mark.parametrize(
    ("text", "designation"),
    [
        ("UPN160", "UPN 160"),
        ("UNP 160", "UPN 160"),
        ("IPE200", "IPE 200"),
        ("HEA 200", "HEA 200"),
        ("HE200A", "HEA 200"),
        ("HE 200 B", "HEB 200"),
        ("PFC200x75", "PFC 200x75x23"),
    ],
)
def test_series_are_those_of_the_tables(text, designation):
    section = read(text)
    assert section is not None
    assert section.designation == designation
    assert section.standard == "EN 10365"


@pytest.mark.parametrize(
    "text",
    ["", "W16x36", "C10x15.3", "2L100x8", "U200", "BRACE", "L", "L100x100x0", "L8x100x90", "IPE 205", "L60x6mmx"],
)
def test_what_names_no_dimensions_is_not_guessed(text):
    assert read(text) is None


def test_every_entry_of_the_tables_is_read_back():
    for entry in tables.entries():
        for text in (entry.designation, entry.designation.replace(" ", ""), entry.designation.replace("x", "*")):
            assert read(text) == entry


size = st.integers(4, 60).map(lambda half: half / 2)


@settings(max_examples=60, deadline=None)
@given(st.integers(70, 300), st.integers(70, 300), size)
def test_a_section_from_sizes_is_read_back(h, b, t):
    for section in (
        shapes.angle(h, b, min(t, 25)),
        shapes.flat(h + 60, t),
        shapes.rhs(h, b, t),
        shapes.chs(h, t),
        shapes.round_bar(t),
        shapes.tee(h, b, t, t + 1),
        shapes.lipped_channel(h, b, min(t, 10), 20),
    ):
        assert read(section.designation) == tables.match(section)


@pytest.mark.parametrize(
    ("text", "designation"),
    [
        ("Winkel 100x65x8", "L 100x65x8"), ("cornière 100x10", "L 100x100x10"), ("KĄTOWNIK 100x8", "L 100x100x8"),
        ("∠100x8", "L 100x100x8"), ("Flach 80x8", "FL 80x8"), ("lapos 80*8", "FL 80x8"), ("Blech 10x200", "PL 10"),
        ("BL 10", "PL 10"), ("Tôle 10", "PL 10"), ("Rohr 76,1x4", "CHS 76.1x4"), ("Ø20", "RND 20"),
        ("Rond 20", "RND 20"),
    ],
)  # fmt: skip
def test_words_for_shapes_in_several_languages(text, designation):
    """The words are from memory."""
    found = read(text)
    assert found is not None
    assert found.designation == designation
