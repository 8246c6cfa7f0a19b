"""Any section, drawn anywhere and anyhow, is recognised with its frame; what is no section is not."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from takeoff.sections import loops, shapes, tables
from takeoff.sections.recognise import recognise


def drawn(loop, turn=0.0, mirror=False, move=(0.0, 0.0), start=0, step=None, backwards=False):
    """A loop laid somewhere: flattened in steps of ``step`` degrees, turned, mirrored, moved, reversed."""
    if step:
        loop = [(x, y, 0.0) for x, y in loops.flatten(loop, step)]
    side = -1.0 if mirror else 1.0
    c, s = math.cos(turn), math.sin(turn)
    laid = [(c * x * side - s * y + move[0], s * x * side + c * y + move[1], bulge * side) for x, y, bulge in loop]
    if backwards:
        points = laid[::-1]
        laid = [(x, y, -points[(index + 1) % len(points)][2]) for index, (x, y, _) in enumerate(points)]
    start %= len(laid)
    return laid[start:] + laid[:start]


@st.composite
def sections(draw):
    kind = draw(
        st.sampled_from(["angle", "channel", "taper", "I", "mono", "T", "flat", "rhs", "chs", "round", "C", "Z"])
    )
    whole = st.integers
    if kind == "angle":
        t = draw(whole(3, 20))
        b = draw(whole(4 * t, 200))
        a = draw(st.one_of(st.just(b), whole(b, b + 100)))
        r1 = draw(st.sampled_from((0, t, 1.2 * t)))
        return shapes.angle(a, b, t, r1, r1 / 2)
    if kind in ("channel", "taper"):
        h = draw(whole(80, 400))
        b = draw(whole(50, min(h, 120)))
        t = draw(whole(5, 12))
        r1 = draw(st.sampled_from((0.0, 8.0, 10.0)))
        if kind == "taper":
            slope = draw(st.sampled_from((0.05, 0.08)))
            toe = min((t + 3) / 2, 0.9 * (t + 3 - slope * b / 2))
            return shapes.channel(h, b, t, t + 3, t + 3, toe, slope)
        return shapes.channel(h, b, t, t + draw(whole(0, 4)), r1)
    if kind in ("I", "mono"):
        h, b = draw(whole(100, 600)), draw(whole(80, 300))
        tw, tf, r1 = draw(whole(4, 12)), draw(whole(5, 20)), draw(st.sampled_from((0.0, 9.0, 12.0)))
        more = (b + draw(whole(10, 60)), tf + draw(whole(0, 6))) if kind == "mono" else ()
        return shapes.i_section(h, b, tw, tf, r1, *more)
    if kind == "T":
        return shapes.tee(draw(whole(80, 200)), draw(whole(80, 200)), draw(whole(5, 12)), draw(whole(5, 12)), 8.0)
    if kind == "flat":
        return shapes.flat(draw(whole(20, 400)), draw(whole(3, 40)))
    if kind == "rhs":
        t = draw(st.sampled_from((2.0, 4.0, 6.3, 10.0)))
        r_out = draw(st.sampled_from((0.0, 1.5, 2.0))) * t
        return shapes.rhs(draw(whole(60, 300)), draw(whole(60, 200)), t, r_out, max(r_out - t, 0.0))
    if kind == "chs":
        return shapes.chs(draw(whole(40, 400)), draw(st.sampled_from((2.0, 3.2, 8.0))))
    if kind == "round":
        return shapes.round_bar(draw(whole(8, 100)))
    t = draw(st.sampled_from((1.5, 2.0, 3.0)))
    make = shapes.lipped_channel if kind == "C" else shapes.zed
    return make(draw(whole(100, 300)), draw(whole(40, 90)), t, draw(st.sampled_from((0, 15, 25))), t)


def assert_same(found, section):
    assert found is not None
    for name in ("h", "b", "tw", "tf", "b2", "tf2", "lip"):
        assert getattr(found, name) == pytest.approx(getattr(section, name), abs=0.01), name
    assert found.shape == section.shape
    assert found.slope == pytest.approx(section.slope, abs=0.001)
    assert found.r1 == pytest.approx(section.r1, abs=0.1)
    assert found.r2 == pytest.approx(section.r2, abs=0.1)
    assert found.area_mm2 == pytest.approx(section.area_mm2, rel=0.002)


@settings(max_examples=250, deadline=None)
@given(
    sections(),
    st.floats(0, 2 * math.pi),
    st.booleans(),
    st.tuples(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5)),
    st.integers(0, 40),
    st.sampled_from((None, None, 3.0, 7.5, 15.0)),
    st.booleans(),
    st.integers(0, 2**32 - 1),
)
def test_any_section_anywhere(section, turn, mirror, move, start, step, backwards, seed):
    noise = np.random.default_rng(seed)
    inputs = []
    for loop in shapes.loops_of(section):
        laid = drawn(loop, turn, mirror, move, start, step, backwards)
        inputs.append([(x + noise.uniform(-1e-6, 1e-6), y + noise.uniform(-1e-6, 1e-6), b) for x, y, b in laid])
    found = recognise(inputs[0], inputs[1:])
    assert found is not None
    assert_same(found.section, section)
    # The frame is a pair of unit vectors at right angles, and the section drawn from it is the drawing.
    frame = np.array([found.u, found.v])
    assert frame @ frame.T == pytest.approx(np.eye(2), abs=1e-12)
    redrawn = shapes.outline(found.section) @ frame + found.origin
    corners = np.array([(x, y) for x, y, _ in inputs[0]])
    if section.shape not in ("CHS", "round"):
        lines = np.roll(redrawn, -1, axis=0) - redrawn
        offset = corners[:, None] - redrawn[None]
        share = np.clip((offset * lines).sum(axis=2) / (lines**2).sum(axis=1), 0, 1)
        gaps = np.hypot(*np.moveaxis(offset - share[..., None] * lines, 2, 0)).min(axis=1)
        assert gaps.max() < 0.06
    else:
        away = np.hypot(*(corners - found.origin).T)
        assert away == pytest.approx(np.full(len(away), section.h / 2), abs=0.02)


@pytest.mark.parametrize("mirror", [False, True])
def test_heel_and_legs_of_an_unequal_angle(mirror):
    section = shapes.angle(100, 65, 8, 10, 5)
    loop = drawn(shapes.loops_of(section)[0], mirror=mirror, move=(500.0, -40.0))
    found = recognise(loop)
    assert found is not None
    side = -1.0 if mirror else 1.0
    assert found.origin == pytest.approx((500.0, -40.0), abs=1e-6)
    assert found.u == pytest.approx((side, 0.0))
    assert found.v == pytest.approx((0.0, 1.0))


def test_symmetric_sections_get_a_right_handed_frame():
    for section in (
        shapes.angle(80, 80, 8, 10, 5),
        shapes.channel(160, 65, 7.5, 10.5, 10.5, 5.5, 0.08),
        shapes.i_section(200, 100, 5.6, 8.5, 12),
        shapes.tee(100, 100, 8, 9),
        shapes.flat(80, 8),
    ):
        for mirror in (False, True):
            found = recognise(drawn(shapes.loops_of(section)[0], 0.3, mirror))
            assert found is not None
            assert found.u[0] * found.v[1] - found.u[1] * found.v[0] == pytest.approx(1.0)


def test_a_monosymmetric_beam_has_its_wider_flange_on_top():
    loop = [(x, -y, 0.0) for x, y in shapes.outline(shapes.i_section(300, 200, 8, 14, 0, 120, 10))]
    found = recognise(loop)
    assert found is not None
    assert (found.section.b, found.section.tf, found.section.b2, found.section.tf2) == (200, 14, 120, 10)
    assert found.v == pytest.approx((0.0, -1.0))


def test_points_along_straight_sides_and_repeated_points_do_no_harm():
    section = shapes.angle(100, 65, 8)
    corners = [(x, y) for x, y, _ in shapes.loops_of(section)[0]]
    loop = []
    for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1], strict=True):
        loop += [(x0, y0, 0.0), (x0, y0, 0.0)]
        loop += [(x0 + (x1 - x0) * k / 5, y0 + (y1 - y0) * k / 5, 0.0) for k in range(1, 5)]
    found = recognise([*loop, loop[0]])
    assert found is not None
    assert found.section == section


def polygon(*points):
    return [(float(x), float(y), 0.0) for x, y in points]


@pytest.mark.parametrize(
    "loop",
    [
        polygon((0, 0), (65, 0), (65, 8), (8, 8), (8, 97), (0, 100)),
        polygon((0, 0), (65, 0), (65, 8), (10, 8), (10, 100), (0, 100)),
        polygon((0, 0), (65, 0), (65, 8), (8, 8), (12, 100), (4, 100)),
        polygon((0, 0), (65, 0), (65, 8), (12, 8), (8, 12), (8, 100), (0, 100)),
        polygon((0, 0), (300, 0), (300, 150), (150, 150), (150, 300), (0, 300)),
        polygon((0, 0), (100, 0), (100, 80), (90, 90), (0, 90)),
        polygon((0, 0), (100, 0), (50, 80)),
        polygon((0, 0), (100, 0), (120, 40), (20, 40)),
        polygon((0, 0), (60, 0), (60, 8), (6, 8), (6, 190), (60, 190), (60, 200), (0, 200)),
        polygon(*[(50 * math.cos(k * math.pi / 4), 50 * math.sin(k * math.pi / 4)) for k in range(8)]),
        [(0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 40.0, 0.4), (0.0, 40.0, 0.0)],
        polygon((0, 0), (1, 0), (2, 0)),
        polygon((0, 0), (1, 1)),
        polygon((0, 0), (float("nan"), 1), (2, 5)),
    ],
    ids=[
        "skew toe",
        "legs of two thicknesses",
        "leg not square",
        "chamfered root",
        "stout cut plate",
        "clipped plate",
        "triangle",
        "parallelogram",
        "channel of two flanges",
        "octagon",
        "rounded end",
        "no area",
        "two points",
        "no number",
    ],
)
def test_what_is_no_section_is_not_guessed(loop):
    assert recognise(loop) is None


def test_voids_make_hollow_sections_only_where_they_are_their_hollow():
    outer = polygon((0, 0), (100, 0), (100, 100), (0, 100))
    assert recognise(outer, [polygon((5, 5), (95, 5), (95, 95), (5, 95))]).section == shapes.rhs(100, 100, 5)
    assert recognise(outer, [polygon((5, 5), (90, 5), (90, 95), (5, 95))]) is None
    assert recognise(outer, [loops.circle(20, 50, 50)]) is None
    assert recognise(outer, [loops.circle(20, 30, 30), loops.circle(20, 70, 70)]) is None
    assert recognise(loops.circle(100), [loops.circle(90, 3, 0)]) is None
    assert recognise(loops.circle(100), [loops.circle(90)]).section == shapes.chs(100, 5)


@pytest.mark.parametrize("step", [None, 5.0, 22.5, 45.0])
def test_every_rolled_section_is_found_in_its_table(step):
    for entry in tables.entries()[::7]:
        loop = drawn(shapes.loops_of(entry)[0], 1.0, True, (12.5, 900.0), 3, step)
        found = recognise(loop)
        assert found is not None, entry.designation
        assert tables.match(found.section) == entry


@pytest.mark.parametrize(("digits", "tolerance"), [(2, 0.02), (1, 0.15)])
def test_a_coarse_drawing_is_read_with_its_grain(digits, tolerance):
    """Coordinates rounded in a turned position: the two flanges of a beam are still alike, equal legs equal."""
    for entry in tables.entries()[::11]:
        loop = drawn(shapes.loops_of(entry)[0], 0.7, False, (0.0, 0.0), 0, 7.5)
        found = recognise([(round(x, digits), round(y, digits), 0.0) for x, y, _ in loop], tolerance=tolerance)
        assert found is not None, entry.designation
        assert tables.match(found.section) == entry
