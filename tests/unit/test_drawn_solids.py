"""Bodies made by hand, read from their facets: sections, sizes, holes, and what is refused and why."""

import math

import numpy as np
import pytest
from drawn_meshes import (
    Mesh,
    at_x,
    bar,
    circle,
    countersunk,
    drilled,
    is_flat,
    loft,
    pierced,
    plate,
    section_bar,
    slot,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from takeoff.drawn import Drawn, Refusal, grain_of, read_solid
from takeoff.sections import loops, shapes, tables

ANGLE = [(0, 0), (80, 0), (80, 8), (8, 8), (8, 80), (0, 80)]
RECTANGLE = [(0, 0), (300, 0), (300, 100), (0, 100)]
TURN = Rotation.from_euler("xyz", (31.0, -17.0, 112.0), degrees=True).as_matrix()


def read(mesh, points=None, **named):
    return read_solid(mesh.array if points is None else points, mesh.facets, is_flat, **named)


def body(mesh, points=None, **named):
    found = read(mesh, points, **named)
    assert isinstance(found, Drawn), found.sentence
    assert np.allclose(found.axes @ found.axes.T, np.eye(3), atol=1e-9)
    assert np.linalg.det(found.axes) == pytest.approx(1)
    return found.body


def refused(mesh, points=None, **named):
    found = read(mesh, points, **named)
    assert isinstance(found, Refusal)
    assert found.sentence
    return found.code


SECTIONS = [
    shapes.angle(100, 65, 8, 10, 5),
    shapes.angle(70, 70, 7),
    shapes.angle(150, 150, 15, 16, 8),
    shapes.channel(200, 75, 8.5, 11.5, 11.5, 6.0, 0.08),
    shapes.channel(160, 65, 7.5, 10.5, 10.5),
    shapes.i_section(200, 100, 5.6, 8.5, 12),
    shapes.i_section(300, 200, 8, 14, 10, 150, 12),
    shapes.tee(100, 100, 8, 10, 9),
    shapes.rhs(100, 60, 5, 10, 5),
    shapes.rhs(80, 80, 4),
    shapes.chs(114.3, 5),
    shapes.round_bar(20),
    shapes.flat(80, 10),
    shapes.lipped_channel(100, 60, 3, 15, 3),
    shapes.zed(150, 60, 2, 20, 3),
]


@pytest.mark.parametrize("section", SECTIONS, ids=lambda s: s.designation)
@pytest.mark.parametrize("move", [None, TURN], ids=["square", "turned"])
def test_a_prism_of_a_section_is_that_section(section, move):
    mesh = section_bar(section, 900)
    points = mesh.array if move is None else mesh.array @ move.T + (1234.5, -777.7, 55.5)
    found = body(mesh, points)
    assert found.section.shape == section.shape
    for name in ("h", "b", "tw", "tf", "b2", "tf2", "slope", "lip"):
        assert getattr(found.section, name) == pytest.approx(getattr(section, name), abs=0.002), name
    for name in ("r1", "r2"):
        assert getattr(found.section, name) == pytest.approx(getattr(section, name), abs=0.02), name
    assert found.length == pytest.approx(900, abs=0.002)
    assert (found.left, found.right, found.holes, found.notches, found.outline) == ((), (), (), (), ())


@pytest.mark.parametrize("designation", ["L 100x100x10", "UPN 200", "IPE 200", "HEB 220"])
def test_a_section_drawn_with_its_roundings_is_the_tables(designation):
    """Dimensions of EN 10056-1, DIN 1026-1 and EN 10365 as the tables of the project hold them."""
    entry = tables.by_designation()[tables.key(designation)]
    assert tables.match(body(section_bar(entry, 700)).section).designation == entry.designation


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_holes_come_back_where_they_were_drawn(data):
    """Any unequal angle, any holes clear of edges and of each other, any place and turn."""
    whole = st.integers
    a = data.draw(whole(60, 200), "leg A")
    b = data.draw(whole(40, a - 5), "leg B")
    t = data.draw(whole(4, max(4, b // 6)), "thickness")
    d = data.draw(whole(8, (b - t - 4) // 2), "diameter") if b - t - 4 >= 16 else 8
    count = data.draw(whole(1, 6), "holes")
    pitch = 2 * d + data.draw(whole(2, 60), "pitch")
    low, high = t + d / 2 + 1, b - d / 2 - 1
    sides = data.draw(st.sampled_from([8, 12, 16, 24]), "sides")
    outline = [(0, 0), (b, 0), (b, t), (t, t), (t, a), (0, a)]
    holes, wanted = [], []
    for k in range(count):
        x, across = 10 + d + k * pitch, low + (high - low) * data.draw(st.floats(0, 1), "across")
        if k % 2:
            holes.append((5, 3, [(px, a - ps) for px, ps in circle(d, x, across, sides)][::-1], t))
        else:
            holes.append((0, 2, circle(d, x, across, sides), t))
        wanted.append(("BA"[k % 2], x, across))
    length = 20 + 2 * d + count * pitch
    mesh = pierced(outline, length, holes)
    turn = Rotation.from_euler("xyz", [data.draw(st.floats(-180, 180)) for _ in range(3)], degrees=True).as_matrix()
    found = body(mesh, mesh.array @ turn.T + (1e4, -2e4, 3e3))
    assert (found.section.h, found.section.b, found.section.tw) == (a, b, t)
    assert found.length == pytest.approx(length, abs=0.002)
    assert all(hole.diameter == pytest.approx(d, abs=0.002) for hole in found.holes)
    for (face, x, across), hole in zip(sorted(wanted), found.holes, strict=True):
        assert hole.face == face
        assert (hole.x, hole.across) == (pytest.approx(x, abs=0.02), pytest.approx(across, abs=0.02))


@pytest.mark.parametrize("sides", [12, 16, 20, 32, 64])
def test_tubes_are_fitted_through_their_corners(sides):
    tube = body(bar(circle(114.3, sides=sides), 1000, [circle(104.3, sides=sides)])).section
    assert (tube.shape, tube.h, tube.tw) == ("CHS", 114.3, 5.0)
    rod = body(bar(circle(20, sides=sides), 1000)).section
    assert (rod.shape, rod.h) == ("round", 20.0)


def test_a_coarse_round_is_one_only_where_the_corners_say_so():
    assert body(bar(circle(20, sides=8), 500)).section.designation == "RND 20"
    # 20 mm over the flats: an eight-sided bar or a round drawn outside itself
    assert refused(bar(circle(20 / math.cos(math.pi / 8), sides=8), 500)) == "coarse"


@pytest.mark.parametrize("hand", [1, -1])
@pytest.mark.parametrize("far", [False, True])
def test_the_heel_and_the_hand(hand, far):
    """A hole at 45 mm from the heel of leg A, 60 mm from the left end as the frame of an angle looks at it."""
    mesh = bar([(0, 0), (65, 0), (65, 8), (8, 8), (8, 100), (0, 100)], 500)
    points = mesh.array * (1, 1, hand) if far else mesh.array * (1, hand, 1)
    found = read(mesh, points)
    assert isinstance(found, Drawn)
    assert (found.body.section.h, found.body.section.b) == (100, 65)
    x, u, v = found.axes
    assert np.allclose(np.cross(u, v), x)
    # leg A is the longer one, whichever way the mesh was mirrored: it runs along v, leg B along u
    assert abs(v[2]) == pytest.approx(1)
    assert abs(u[1]) == pytest.approx(1)
    assert v[2] == (hand if far else 1)
    assert u[1] == (1 if far else hand)
    heel = found.origin + found.axes.T @ (0, 0, 0)
    assert heel[1:] == pytest.approx((0, 0), abs=1e-9)


UNEQUAL = [(0, 0), (65, 0), (65, 8), (8, 8), (8, 100), (0, 100)]


def in_leg_a(x, across, d, sides=24):
    """A hole of the long leg, ``across`` from the heel: its outside is the side from the top down to the heel."""
    return 5, 3, [(px, 100 - ps) for px, ps in circle(d, x, across, sides)][::-1], 8


def in_leg_b(x, across, d, sides=24):
    return 0, 2, circle(d, x, across, sides), 8


@pytest.mark.parametrize("mirror", [(1, 1, 1), (1, -1, 1), (1, 1, -1), (-1, 1, 1), (-1, -1, -1)])
def test_holes_of_both_legs_from_the_heel_and_the_left_end(mirror):
    """Worked by hand: A at x 60, across 55; B at x 90, across 35 in an angle 500 long, seen on the outside of leg A.

    The mesh has leg B along +y and leg A along +z, so that x = u cross v runs along +x; each mirror image turns
    the left end to the other side.
    """
    mesh = pierced(UNEQUAL, 500, [in_leg_a(60, 55, 18), in_leg_b(90, 35, 14)])
    holes = body(mesh, mesh.array * mirror).holes
    found = [(h.face, h.x, h.across, h.diameter) for h in holes]
    if np.prod(mirror) > 0:
        assert found == [("A", 60, 55, 18), ("B", 90, 35, 14)]
    else:
        assert found == [("A", 440, 55, 18), ("B", 410, 35, 14)]


def test_holes_so_close_that_no_slice_shows_the_whole_section():
    places = range(20, 200, 15)
    holes = [in_leg_a(x, 30, 14) for x in places[::2]] + [in_leg_a(x, 70, 20) for x in places[1::2]]
    holes += [in_leg_b(x, 35, 20) for x in range(12, 200, 24)]
    found = body(pierced(UNEQUAL, 205, holes))
    assert found.section.designation == "L 100x65x8"
    assert len(found.holes) == len(holes)


def test_a_hole_that_stands_askew_is_refused_by_its_angle():
    mesh = pierced(UNEQUAL, 500, [in_leg_a(60, 55, 18)])
    points = mesh.array
    inner = (abs(points[:, 1] - 8) < 1e-9) & (np.hypot(points[:, 0] - 60, points[:, 2] - 55) < 10)
    points[inner, 0] += 8 * math.tan(math.radians(20))
    found = read(mesh, points)
    assert (found.code, found.values) == ("askew-hole", ("61", "20"))


def test_facets_that_cross_are_refused():
    assert refused(plate(RECTANGLE, 10, [circle(22, 100, 50), circle(22, 110, 50)])) == "tangled"
    assert refused(plate(RECTANGLE, 10, [circle(22, 5, 50)])) == "tangled"


# ---------------------------------------------------------------- holes of plates


@pytest.mark.parametrize("sides", [8, 12, 16, 24, 32, 64])
def test_a_round_hole_is_measured_at_its_corners(sides):
    (hole,) = body(plate(RECTANGLE, 10, [circle(22, 100, 40, sides, 0.1)])).holes
    assert (hole.kind, hole.face, hole.source) == ("round", "face", "solid")
    assert hole.diameter == pytest.approx(22, abs=1e-6)
    assert math.isinf(hole.depth)
    assert min(hole.x, 300 - hole.x) == pytest.approx(100, abs=1e-4)


def test_a_hexagon_is_no_round_hole():
    assert refused(plate(RECTANGLE, 10, [circle(22, 100, 50, 6)])) == "odd-hole"


@pytest.mark.parametrize("angle", [0, 30, 90, 145])
@pytest.mark.parametrize("steps", [4, 8, 16])
def test_a_slot(angle, steps):
    (hole,) = body(plate(RECTANGLE, 10, [slot(48, 18, 120, 50, angle, steps)])).holes
    assert (hole.kind, hole.diameter, hole.slot_length) == ("slot", pytest.approx(18), pytest.approx(48))
    # the plate may be seen from either side and end
    assert min(abs(hole.slot_angle - a) for a in (angle, 180 - angle)) == pytest.approx(0, abs=1e-3)


def test_a_rectangle_and_a_bent_in_hole():
    (hole,) = body(plate(RECTANGLE, 10, [[(10, 10), (40, 10), (40, 30), (10, 30)]])).holes
    assert (hole.kind, hole.slot_length, hole.width) == ("rectangle", 30, 20)
    dented = [(10, 10), (40, 10), (40, 30), (25, 25), (10, 30)]
    assert refused(plate(RECTANGLE, 10, [dented])) == "odd-hole"


@pytest.mark.parametrize("angle", [0.0, 25.0, 90.0])
def test_a_rectangle_with_rounded_corners(angle):
    corners = loops.fillet([(-30, -20, 6), (30, -20, 6), (30, 20, 6), (-30, 20, 6)])
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    mouth = [(120 + c * x - s * y, 50 + s * x + c * y) for x, y in loops.flatten(corners, 15)]
    (hole,) = body(plate(RECTANGLE, 10, [mouth])).holes
    assert (hole.kind, hole.slot_length, hole.width, hole.diameter) == ("rectangle", 60, 40, 12)
    assert min(abs(hole.slot_angle - a) for a in (angle, 180 - angle)) == pytest.approx(0, abs=1e-3)


def test_countersunk_holes_open_towards_the_viewer():
    (hole,) = body(countersunk(RECTANGLE, 10, 60, 40, 14, 28, 7)).holes
    assert (hole.kind, hole.diameter, hole.width) == ("countersunk", 14, 28)
    for near, far in ((28, 14), (14, 28)):
        found = read(plate(RECTANGLE, 10, [circle(near, 60, 40)], [circle(far, 60, 40)]))
        (hole,) = found.body.holes
        assert (hole.kind, hole.diameter) == ("countersunk", 14)
        # u points into the plate from the side on which the larger mouth lies
        assert found.axes[1][2] == pytest.approx(-1 if near > far else 1)


def test_a_hole_chamfered_on_both_sides_is_no_countersunk_one():
    mesh = countersunk(RECTANGLE, 10, 60, 40, 14, 20, 3)
    mesh.points = [
        (60 + (x - 60) * 20 / 14, 40 + (y - 40) * 20 / 14, z)
        if z == 0 and math.hypot(x - 60, y - 40) < 8
        else (x, y, z)
        for x, y, z in mesh.points
    ]
    assert refused(mesh) == "recess"


def test_a_blind_hole_has_its_depth():
    (hole,) = body(drilled(RECTANGLE, 10, 60, 40, 18, 6)).holes
    assert (hole.kind, hole.diameter, hole.depth) == ("blind", 18, pytest.approx(6))


def test_holes_from_both_sides_are_not_read():
    mesh = plate(RECTANGLE, 10, [circle(28, 60, 40), circle(14, 200, 40)], [circle(14, 60, 40), circle(28, 200, 40)])
    assert refused(mesh) == "both-sides"


def test_an_outline_keeps_its_arcs():
    rounded = [(0, 0), (300, 0)]
    rounded += [(300 - 40 + 40 * math.cos(t), 160 + 40 * math.sin(t)) for t in np.linspace(0, math.pi / 2, 9)]
    rounded += [(0, 200)]
    outline = body(plate(rounded, 12)).outline
    assert len(outline) == 5
    bulges = [v.bulge for v in outline if v.bulge]
    assert bulges == [pytest.approx(math.tan(math.pi / 8), abs=1e-6)]


def test_a_clipped_corner_is_no_arc():
    clipped = [(0, 0), (200, 0), (200, 60), (160, 100), (0, 100)]
    assert [v.bulge for v in body(plate(clipped, 7)).outline] == [0] * 5
    octagon = circle(200, sides=8)
    assert [v.bulge for v in body(plate(octagon, 7)).outline] == [0] * 8


def test_a_flat_with_skew_and_clipped_ends_is_a_flat():
    found = body(plate([(0, 0), (400, 0), (430, 80), (40, 80), (0, 40)], 10, [circle(18, 60, 40)]))
    assert found.section.designation == "FL 80x10"
    assert not found.outline
    assert sorted((len(found.left), len(found.right))) == [1, 1]
    assert found.length == pytest.approx(430)


# ---------------------------------------------------------------- refusals


def test_what_is_no_straight_bar_says_what_it_is():
    small = [(u * 0.8, v * 0.8) for u, v in ANGLE]
    assert refused(loft([at_x(ANGLE, 0), at_x(small, 900)])) == "tapered"
    arc = [[((500 - v) * math.sin(a), u, (500 - v) * math.cos(a)) for u, v in ANGLE] for a in np.linspace(0, 1, 9)]
    bow = loft(arc)
    bow.facets = [tuple(ring[::-1] for ring in facet) for facet in bow.facets]
    assert refused(bow) == "curved"
    crank = loft([[(x, u + rise, v) for u, v in ANGLE] for x, rise in ((0, 0), (300, 0), (340, 20), (800, 20))])
    assert refused(crank) == "curved"


def test_what_is_bent_or_opened_says_so():
    c, s, t = math.cos(math.radians(70)), math.sin(math.radians(70)), math.tan(math.radians(35))
    inner = (8 / t, 8)
    tip = (inner[0] + 80 * c, inner[1] + 80 * s)
    opened = [(0, 0), (100, 0), (100, 8), inner, tip, (tip[0] - 8 * s, tip[1] + 8 * c)]
    found = read(bar(opened, 600))
    assert isinstance(found, Refusal)
    assert (found.code, found.values) == ("opened", ("70",))
    assert refused(bar([(0, 0), (100, 0), (100, 8), (12, 8), (12, 100), (0, 100)], 600)) == "uneven"
    bent = [(0, -60), (6, -60), (6, 0), (100, 0), (100, 50), (94, 50), (94, 6), (0, 6)]
    assert read(bar(bent, 600)).values == ("6", "3")


def joined(a, b, turn=False):
    mesh = Mesh()
    for part in (a, b):
        first = len(mesh.points)
        mesh.points += part.points
        mesh.facets += [tuple(tuple(i + first for i in ring) for ring in facet) for facet in part.facets]
    return mesh


def test_several_bodies_and_hollows():
    beside = bar([(u + 200, v) for u, v in ANGLE], 500)
    assert refused(joined(bar(ANGLE, 500), beside)) == "several"
    block = bar([(0, 0), (80, 0), (80, 20), (0, 20)], 500)
    hollow = bar([(5, 5), (60, 5), (60, 15), (5, 15)], 400)
    hollow.points = [(x + 20, y, z) for x, y, z in hollow.points]
    hollow.facets = [tuple(ring[::-1] for ring in facet) for facet in hollow.facets]
    assert refused(joined(block, hollow)) == "hollow"


def test_the_same_body_twice_is_one():
    assert body(joined(bar(ANGLE, 500), bar(ANGLE, 500))).length == 500


def test_nothing_and_nonsense():
    empty = Mesh()
    assert refused(empty, np.empty((0, 3))) == "nothing"
    mesh = bar(ANGLE, 500)
    points = mesh.array
    points[3, 1] = np.nan
    assert refused(mesh, points) == "no-place"
    sheet = Mesh()
    ring = sheet.ring([(0, 0, 0), (100, 0, 0), (100, 50, 0), (0, 50, 0)])
    sheet.facet(ring)
    assert refused(sheet) == "open"


# ---------------------------------------------------------------- untidy meshes


def test_facets_turned_repeated_and_inside_out():
    mesh = bar([(0, 0), (65, 0), (65, 8), (8, 8), (8, 100), (0, 100)], 500)
    plain = body(mesh)
    inside_out = [tuple(ring[::-1] for ring in facet) for facet in mesh.facets]
    some = [facet if k % 3 else tuple(ring[::-1] for ring in facet) for k, facet in enumerate(mesh.facets)]
    for facets in (inside_out, some, mesh.facets + mesh.facets[2:5]):
        mesh.facets = facets
        assert body(mesh) == plain


def test_a_point_in_the_middle_of_an_edge():
    """A facet split where its neighbour is not: the edges do not match until the point is put into both."""
    mesh = bar(ANGLE, 500)
    middle = len(mesh.points)
    mesh.points.append((250.0, 0.0, 0.0))
    (a, b, c, d), *_ = mesh.facets[0]
    mesh.facets[0] = ((a, b, c, d),)
    (e, f, g, h), *_ = mesh.facets[-3]  # the side that ends at the heel
    heel = {i for i in (e, f, g, h) if mesh.points[i][1:] == (0.0, 0.0)}
    assert len(heel) == 2
    ring = [e, f, g, h]
    for k in range(4):
        if {ring[k], ring[(k + 1) % 4]} == heel:
            ring.insert(k + 1, middle)
            break
    mesh.facets[-3] = (tuple(ring),)
    assert body(mesh).length == 500


def test_a_missing_flat_face_is_put_in_where_only_one_fits():
    for gone in (0, 3, -1, -2):
        mesh = bar(ANGLE, 500)
        del mesh.facets[gone]
        assert body(mesh).section.designation == "L 80x80x8"
        assert refused(mesh, solid=False) == "open"
    tube = bar(circle(114.3), 1000, [circle(104.3)])
    del tube.facets[-2:]
    assert body(tube).section.designation == "CHS 114.3x5"


def test_a_hole_without_walls_is_not_closed_over():
    mesh = plate(RECTANGLE, 10, [circle(22, 100, 50)])
    walls = [facet for facet in mesh.facets if len(facet) == 1 and len(facet[0]) == 4 and min(facet[0]) > 7]
    assert len(walls) == 24
    mesh.facets = [facet for facet in mesh.facets if facet not in walls]
    assert refused(mesh) == "open"


@pytest.mark.parametrize("place", [(4000.3, 5000.7, 100.1), (40000.3, 50000.7, 1000.1), (200000.3, 300000.7, 1000.1)])
def test_single_precision_far_from_the_origin(place):
    mesh = bar([(0, 0), (65, 0), (65, 8), (8, 8), (8, 100), (0, 100)], 2000)
    points = (mesh.array @ TURN.T + place).astype(np.float32).astype(float)
    grain = grain_of(points)
    assert grain > 0
    found = body(mesh, points, grain=grain)
    assert found.section.designation == "L 100x65x8"
    assert found.length == pytest.approx(2000, abs=3 * grain + 0.005)


@pytest.mark.parametrize("decimals", [3, 2, 1])
def test_rounded_coordinates(decimals):
    mesh = bar(ANGLE, 2000)
    points = np.round(mesh.array @ TURN.T, decimals)
    assert grain_of(points) == pytest.approx(10.0**-decimals)
    assert body(mesh, points, grain=grain_of(points)).section.designation == "L 80x80x8"


def test_coordinates_rounded_too_coarsely_are_refused_and_round_ones_are_not():
    mesh = bar(ANGLE, 2000)
    points = np.round(mesh.array @ TURN.T)
    assert refused(mesh, points, grain=grain_of(points)) == "grain"
    assert grain_of(mesh.array) == 1.0
    assert body(mesh, grain=1.0).section.designation == "L 80x80x8"


def test_grain_in_another_unit():
    feet = np.array([[0.1234567, 1.0, 2.0], [3.25, 0.5, 7.0]]) * 304.8
    assert grain_of(feet, 304.8) == pytest.approx(0.0)
    assert grain_of(np.round(feet / 304.8, 3) * 304.8, 304.8) == pytest.approx(0.3048)
    assert grain_of(np.array([[math.pi, math.e, 1 / 3]])) == 0.0


def test_the_answer_depends_on_the_shape_alone():
    mesh = section_bar(shapes.channel(200, 75, 8.5, 11.5, 11.5), 900)
    first = body(mesh)
    order = np.random.default_rng(1).permutation(len(mesh.points))
    place = np.argsort(order)
    shuffled = mesh.array[order]
    facets = [tuple(tuple(int(place[i]) for i in ring) for ring in facet) for facet in mesh.facets][::-1]
    mesh.facets = facets
    assert body(mesh, shuffled) == first
