"""Angles in inches go by their AISC designation, angles in millimetres by their sizes."""

import pytest

from takeoff.sections import designations, shapes, tables

IN = 25.4


@pytest.mark.parametrize(
    ("sizes", "name"),
    [
        ((4, 3, 5 / 16), "L4X3X5/16"),
        ((4, 4, 1 / 2), "L4X4X1/2"),
        ((2.5, 2.5, 1 / 4), "L2-1/2X2-1/2X1/4"),
        ((6, 3.5, 3 / 8), "L6X3-1/2X3/8"),
        ((5, 5, 3 / 4), "L5X5X3/4"),
    ],
)
def test_an_inch_angle(sizes, name):
    section = tables.match(shapes.angle(*(size * IN for size in sizes)))
    assert section.designation == name
    again = designations.read(name)
    assert (again.h, again.b, again.tw) == pytest.approx((section.h, section.b, section.tw), abs=1e-3)


def test_its_numbers_stay():
    plain = shapes.angle(4 * IN, 4 * IN, IN / 2, 9.5)
    named = tables.match(plain)
    assert (named.area_mm2, named.mass_kg_per_m, named.standard) == (plain.area_mm2, plain.mass_kg_per_m, "")


@pytest.mark.parametrize("sizes", [(100, 100, 8), (101, 90, 8), (100.3, 100.3, 8.2), (127, 127, 9)])
def test_a_metric_angle(sizes):
    section = tables.match(shapes.angle(*sizes))
    assert section.designation.startswith("L ")
