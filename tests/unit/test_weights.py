"""Gross, net and surface against closed forms, and against shapely's areas summed along the piece."""

import math

import numpy as np
import pytest
from shapely.geometry import Polygon

from takeoff import weights
from takeoff.sections import shapes, tables
from takeoff.steel import FaceOutline, Hole, Piece, Plane, Vertex

DENSITY = 7850e-9


def piece(section, length, holes=(), outlines=(), outline=()):
    return Piece(
        mark="A1",
        section=section,
        grade="S355",
        finish="",
        length=length,
        holes=tuple(holes),
        cuts=(),
        faces=shapes.faces(section),
        outlines=tuple(FaceOutline(face, np.array(points, dtype=float)) for face, points in outlines),
        outline=tuple(outline),
    )


def hole(face, diameter=17.5, **more):
    return Hole(label="A1", face=face, x=100.0, across=40.0, diameter=diameter, **more)


def summed(section, length, planes, steps=4000):
    """Volume between planes: shapely's area of the section left at each x, summed by the midpoint rule."""
    outer, *inner = shapes.rings(section)
    whole = Polygon(outer, inner)
    far = 1e5
    total = 0.0
    for x in (np.arange(steps) + 0.5) * length / steps:
        left = whole
        for plane in planes:
            nx, nu, nv = plane.normal
            limit = float(np.dot(plane.normal, plane.point)) - nx * x
            size = math.hypot(nu, nv)
            if size < 1e-12:
                if limit < 0:
                    left = Polygon()
                continue
            foot = np.array([nu, nv]) * limit / size**2
            along, back = np.array([-nv, nu]) / size * far, -np.array([nu, nv]) / size * far
            left = left.intersection(Polygon([foot - along, foot + along, foot + along + back, foot - along + back]))
        total += left.area * length / steps
    return total * section.area_mm2 / whole.area


def test_a_plain_bar():
    """L 100x100x8, 2.000 m at 12.2 kg/m (EN 10056-1) is 24.4 kg; 0.390 m2/m painted."""
    section = tables.by_designation()["L100x100x8"]
    gross, net, surface = weights.weigh(piece(section, 2000.0), (), ())
    assert gross == pytest.approx(24.4)
    assert net == pytest.approx(gross)
    assert surface == pytest.approx(0.780, abs=0.001)


def test_holes_slots_and_rectangles():
    section = shapes.angle(100, 100, 10)
    holes = [
        hole("A", 22.0),
        hole("B", 18.0, slot_length=40.0, kind="slot"),
        hole("A", 0.0, slot_length=30.0, width=20.0, kind="rectangle"),
        hole("A", 20.0, kind="blind"),
        hole("A", 12.0, kind="blind", depth=4.0),
    ]
    gross, net, _ = weights.weigh(piece(section, 1000.0, holes), (), ())
    area = math.pi * 11**2 + (math.pi * 9**2 + 22 * 18) + 30 * 20
    assert gross - net == pytest.approx((area * 10 + math.pi * 6**2 * 4) * DENSITY)


def skew(x, degrees, other=0.0, side=1.0):
    """A cut through (x, 0, 0) turned from square about u by ``degrees``, about v by ``other``."""
    a, b = math.tan(math.radians(degrees)), math.tan(math.radians(other))
    normal = np.array([1.0, b, a]) * side
    normal /= np.linalg.norm(normal)
    return Plane((x, 0.0, 0.0), tuple(normal.tolist()))


@pytest.mark.parametrize(
    "section",
    [
        shapes.angle(100, 65, 8, 10, 5),
        shapes.i_section(200, 100, 5.6, 8.5, 12),
        shapes.rhs(100, 50, 4, 8, 4),
        shapes.chs(76.1, 4),
        shapes.flat(80, 8),
    ],
    ids=lambda section: section.designation,
)
@pytest.mark.parametrize(
    ("left", "right"),
    [
        ((skew(100, 30, 0, -1),), (skew(500, 20),)),
        ((), (skew(450, 15, 25),)),
        ((skew(100, 30, 0, -1), skew(60, -40, 0, -1)), (skew(500, 0), skew(540, 45, 10))),
        ((Plane((0, 0, 70), (0.0, 0.0, 1.0)),), ()),
    ],
    ids=["one plane an end", "two ways", "planes that meet", "along the piece"],
)
def test_what_the_planes_leave(section, left, right):
    planes = left + right
    kept = weights.kept_volume(section, 600.0, planes)
    truth = summed(section, 600.0, planes)
    # The cells are good for 0.1 % of what is cut away, a cut along the piece for one cell in a hundred.
    along = any(plane.normal[0] == 0 for plane in planes)
    assert kept == pytest.approx(truth, rel=0.01 if along else 1e-3)


def test_one_plane_over_the_whole_section_is_exact():
    """A flat 100x10 cut at 45 degrees across its width loses 100 x 100 / 2 x 10 mm3."""
    section = shapes.flat(100, 10)
    kept = weights.kept_volume(section, 500.0, (skew(500.0, 45.0),))
    assert kept == pytest.approx(500 * 1000 - 100 * 100 / 2 * 10, rel=1e-12)


def test_a_notch_counts_once_where_two_walls_meet():
    """The end 30 mm of leg B and the heel cut away: leg A keeps 10 to 100 mm of it."""
    section = shapes.angle(100, 80, 10)
    outlines = [
        ("A", [(0, 0), (470, 0), (470, 10), (500, 10), (500, 100), (0, 100)]),
        ("B", [(0, 0), (470, 0), (470, 80), (0, 80)]),
    ]
    gross, net, _ = weights.weigh(piece(section, 500.0, outlines=outlines), (), ())
    assert gross - net == pytest.approx(30 * 80 * 10 * DENSITY, rel=1e-6)


def test_an_outline_that_only_shows_the_end_cut_is_no_notch():
    section = shapes.flat(100, 10)
    cut = skew(500.0, 45.0)
    drawn = [("face", [(0, 0), (500, 0), (400, 100), (0, 100)])]
    with_outline = weights.weigh(piece(section, 500.0, outlines=drawn), (), (cut,))
    assert with_outline == pytest.approx(weights.weigh(piece(section, 500.0), (), (cut,)))


def test_a_plate_is_weighed_by_its_rectangle_and_its_outline():
    """300 x 200 x 10 with a corner 60 x 60 cut and a round end of radius 100."""
    outline = [
        Vertex(0, 0),
        Vertex(200, 0, bulge=1.0),
        Vertex(200, 200),
        Vertex(60, 200),
        Vertex(0, 140),
    ]
    area = 200 * 200 - 60 * 60 / 2 + math.pi * 100**2 / 2
    edge = 200 + math.pi * 100 + 140 + 60 * math.sqrt(2) + 140
    plate = piece(shapes.plate(200, 10), 300.0, [hole("face", 22.0)], outline=outline)
    gross, net, surface = weights.weigh(plate, (), ())
    assert gross == pytest.approx(300 * 200 * 10 * DENSITY)
    assert net == pytest.approx((area - math.pi * 11**2) * 10 * DENSITY)
    assert surface == pytest.approx((2 * area + edge * 10) * 1e-6)


def test_net_is_never_more_than_gross_nor_below_nothing():
    section = shapes.flat(20, 5)
    assert weights.weigh(piece(section, 30.0, [hole("face", 90.0)]), (), ())[1] == 0.0
    too_large = [("face", [(0, 0), (40, 0), (40, 30), (0, 30)])]
    gross, net, _ = weights.weigh(piece(section, 30.0, outlines=too_large), (), ())
    assert net == gross


def test_density_weighs_what_no_table_does():
    listed = tables.by_designation()["L100x100x8"]
    assert weights.weigh(piece(listed, 1000.0), (), (), density=8000.0)[0] == pytest.approx(12.2)
    gross, net, _ = weights.weigh(piece(shapes.flat(100, 10), 1000.0, [hole("face", 20.0)]), (), (), density=8000.0)
    assert gross == pytest.approx(8.0)
    assert gross - net == pytest.approx(math.pi * 100 * 10 * 8000e-9)
