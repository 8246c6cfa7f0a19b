"""Bolts through plies: order, grip, gaps, what is reached and what is not.

Most cases are small enough to be worked out by hand; random ones are held against a search written another way:
points along the axis, asked one by one whether they lie in steel.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from steelwork import (
    CHS114,
    FL100,
    IPE200,
    L100,
    RHS120,
    RND30,
    U160,
    bolt,
    bolt_in,
    fastener,
    frame,
    member,
    moved,
    places,
    plate,
    rectangle,
    rotation,
    skew,
    vectors,
)

from takeoff.connections import connect, is_square
from takeoff.sections import shapes
from takeoff.sections.shapes import faces, rings

Y, Z = (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
FL8 = shapes.flat(100, 8)


def flat_at(y, section=FL100, length=400.0, x=0.0):
    """A flat on edge: its face looks to -y and lies at ``y``; holes are at (x, z)."""
    return member(section, length, at=frame((x, y, 0.0)))


def way(members, *bolts, **more):
    """Passages of single bolts, and the codes of the queries."""
    made, queries = connect(members, [fastener(b, **more) for b in bolts])
    return made, [q.code for q in queries]


def only(members, one, **more):
    made, codes = way(members, one, **more)
    return made.passages[0], codes


# ---------------------------------------------------------------- plies and grips


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
@pytest.mark.parametrize("sense", [1, -1])
def test_plies_come_in_order_from_the_head(order, sense):
    parts = [flat_at(0.0), flat_at(10.0, FL8)]
    start = (200, -3.0, 50) if sense > 0 else (200, 21.0, 50)
    members = [parts[k] for k in order]
    passage, codes = only(members, bolt(start, (0, sense, 0), 40.0))
    assert [order[p.member] for p in passage.plies] == ([0, 1] if sense > 0 else [1, 0])
    assert passage.grip == pytest.approx(18.0)
    assert passage.plies_mm == pytest.approx(18.0)
    assert passage.gaps == ()
    assert [(p.face, p.x, p.across, p.tilt_deg) for p in passage.plies] == [("face", 200.0, 50.0, 0.0)] * 2
    assert passage.plies[0].enter == pytest.approx(3.0)
    assert codes == []


@pytest.mark.parametrize("count", [3, 4])
def test_three_and_four_plies(count):
    members = [flat_at(10.0 * k) for k in range(count)]
    passage, codes = only(members[::-1], bolt((200, 0.0, 50), Y, 10.0 * count + 12))
    assert [count - 1 - p.member for p in passage.plies] == list(range(count))
    assert passage.grip == pytest.approx(10.0 * count)
    assert codes == []


def test_a_gap_that_the_shank_spans_is_in_the_grip():
    passage, codes = only([flat_at(0.0), flat_at(16.0)], bolt((200, 0.0, 50), Y, 40.0))
    assert passage.grip == pytest.approx(26.0)
    assert passage.plies_mm == pytest.approx(20.0)
    assert passage.gaps == ((0, pytest.approx(6.0)),)
    assert codes == ["grip-has-gap"]


def test_a_packer_in_the_gap_closes_it():
    packer = member(shapes.flat(60, 6), 60.0, at=frame((170, 10.0, 20)))
    passage, codes = only([flat_at(0.0), flat_at(16.0), packer], bolt((200, 0.0, 50), Y, 40.0))
    assert [p.member for p in passage.plies] == [0, 2, 1]
    assert (passage.grip, passage.plies_mm, passage.gaps) == (pytest.approx(26.0), pytest.approx(26.0), ())
    assert codes == []


def test_a_gap_within_contact_is_no_query():
    passage, codes = only([flat_at(0.0), flat_at(11.5)], bolt((200, 0.0, 50), Y, 40.0))
    assert passage.gaps == ((0, pytest.approx(1.5)),)
    assert codes == []


@pytest.mark.parametrize("shank", [0.0, 3.0, 12.0, 25.0])
def test_too_short_a_shank_is_walked_on_by_contact(shank):
    members = [flat_at(10.0 * k) for k in range(3)]
    passage, _ = only(members, bolt((200, 0.0, 50), Y, shank))
    assert passage.grip == pytest.approx(30.0)


def test_a_shank_without_length_starts_at_the_bearing_face_only():
    passage, _ = only([flat_at(0.0), flat_at(30.0)], bolt((200, 0.0, 50), Y, 0.0))
    assert [p.member for p in passage.plies] == [0]


def test_open_space_beyond_the_shank_is_not_crossed():
    passage, codes = only([flat_at(0.0), flat_at(10.0), flat_at(50.0)], bolt((200, 0.0, 50), Y, 35.0))
    assert [p.member for p in passage.plies] == [0, 1]
    assert codes == []


def test_steel_that_the_shank_only_touches_is_not_clamped_across_a_gap():
    # The tip comes to 0.5 mm from the next part, across open space.
    passage, _ = only([flat_at(0.0), flat_at(40.5)], bolt((200, 0.0, 50), Y, 40.0))
    assert [p.member for p in passage.plies] == [0]


def test_members_that_run_through_each_other_are_asked_about():
    passage, codes = only([flat_at(0.0), flat_at(6.0)], bolt((200, 0.0, 50), Y, 40.0))
    assert passage.grip == pytest.approx(16.0)
    assert passage.plies_mm == pytest.approx(16.0)
    assert codes == ["plies-overlap"]


def test_one_part_only_and_none():
    made, codes = way([flat_at(0.0)], bolt((200, 0.0, 50)), bolt((200, 0.0, 500)))
    assert [len(p.plies) for p in made.passages] == [1, 0]
    assert codes == ["bolt-through-nothing", "bolt-through-one-part"]
    assert made.passages[1].grip == 0.0


def test_a_bolt_that_the_model_has_twice():
    made, codes = way([flat_at(0.0), flat_at(10.0)], bolt((200, 0, 50)), bolt((200, 40.0, 50), (0, -1, 0)))
    assert [p.grip for p in made.passages] == [pytest.approx(20.0)] * 2
    assert codes == ["bolt-twice"]


@pytest.mark.parametrize(("away", "twice"), [(0.0, True), (0.6, True), (1.5, False)])
@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_a_bolt_near_another_is_the_same_one_within_a_millimetre(away, twice, sense):
    second = bolt((200 + away, 0.0 if sense > 0 else 40.0, 50), (0, sense, 0), 40.0)
    _, codes = way([flat_at(0.0), flat_at(10.0)], bolt((200, 0, 50)), second)
    assert ("bolt-twice" in codes) is twice


def test_bolts_across_each_other_are_two():
    members = [flat_at(0.0), member(FL8, 400, at=frame((0, 10, 40.0), (1, 0, 0), (0, 0, 1)))]
    _, codes = way(members, bolt((200, 0, 44), Y, 40.0), bolt((200, 20, 24), Z, 40.0))
    assert "bolt-twice" not in codes


def test_a_bolt_along_a_leg_is_held():
    made, codes = way([member(L100, 500)], bolt((100, 4.0, 30.0), Z, 40.0))
    assert made.along == ((0, 0),)
    assert made.passages[0].plies == ()
    assert "bolt-along-leg" in codes


def test_parts_that_no_bolt_touches():
    broken = replace(flat_at(70.0), body=None, frame=None)
    made, _ = way([flat_at(0.0), flat_at(300.0), broken], bolt((200, 0, 50)))
    assert made.untouched == (1,)


@pytest.mark.parametrize(
    ("members", "fasteners"), [((), ()), ((flat_at(0.0),), ()), ((), (fastener(bolt((0, 0, 0))),))]
)
def test_nothing_to_connect(members, fasteners):
    made, _ = connect(members, fasteners)
    assert len(made.passages) == sum(len(f.bolts) for f in fasteners)
    assert made.joints == ()


# ---------------------------------------------------------------- sections


def test_bolt_in_one_flange_never_reaches_the_far_flange():
    beam = member(IPE200, 500)
    gusset = member(FL100, 500, at=frame((0.0, 50.0, 200.0), (1, 0, 0), (0, 0, 1)))
    one = bolt_in(beam, "top", 250, 30.0, head=10.0, shank=45.0)
    passage, codes = only([beam, gusset], one)
    assert [(p.member, p.face) for p in passage.plies] == [(1, "face"), (0, "top")]
    assert passage.grip == pytest.approx(18.5)
    assert passage.plies[1].across == pytest.approx(30.0)
    assert codes == []


def test_rhs_both_walls_where_the_shank_spans_it_and_one_where_not():
    part = member(RHS120, 500)
    through, _ = only([part], bolt_in(part, "front", 250, 60, shank=100.0))
    assert [p.face for p in through.plies] == ["front", "back"]
    assert (through.grip, through.plies_mm) == (pytest.approx(80.0), pytest.approx(10.0))
    assert through.gaps == ((0, pytest.approx(70.0)),)
    blind, _ = only([part], bolt_in(part, "front", 250, 60, shank=40.0))
    assert [p.face for p in blind.plies] == ["front"]


def test_tube_both_walls_and_where_round_its_wall():
    part = member(CHS114, 500)
    # From above: the datum is on the viewer's side (-u), developed positions run upwards.
    passage, _ = only([part], bolt((250, 0.0, 60.0), (0, 0, -1), 130.0))
    assert [p.face for p in passage.plies] == ["wall", "wall"]
    girth = np.pi * 114.3
    assert [p.across for p in passage.plies] == [pytest.approx(girth / 4), pytest.approx(3 * girth / 4)]
    assert passage.grip == pytest.approx(114.3)
    assert passage.plies_mm == pytest.approx(10.0)
    assert [p.tilt_deg for p in passage.plies] == [pytest.approx(0.0, abs=1e-6)] * 2


def test_tube_off_its_axis_is_met_askew():
    # sin(tilt) = offset / radius.
    passage, _ = only([member(CHS114, 500)], bolt((250, 20.0, 60.0), (0, 0, -1), 130.0))
    assert passage.plies[0].tilt_deg == pytest.approx(np.degrees(np.arcsin(20 / 57.15)))
    assert passage.grip == pytest.approx(2 * np.sqrt(57.15**2 - 20**2))


def test_solid_round_is_one_ply():
    passage, _ = only([member(RND30, 500)], bolt((250, 0, 20.0), (0, 0, -1), 45.0))
    assert len(passage.plies) == 1
    assert passage.grip == pytest.approx(30.0)


def test_angle_on_channel_web():
    channel = member(U160, 600)
    leg = member(L100, 600, at=frame((600, 0, 30.0), (-1, 0, 0), (0, -1, 0)))
    one = bolt((300, -8.0, 80.0), Y, 35.0)
    passage, codes = only([channel, leg], one)
    assert [(p.member, p.face) for p in passage.plies] == [(1, "A"), (0, "web")]
    assert passage.plies[0].x == pytest.approx(300.0)
    assert passage.plies[0].across == pytest.approx(50.0)
    assert passage.plies[1].across == pytest.approx(80.0)
    assert passage.grip == pytest.approx(15.5)
    assert codes == []


# ---------------------------------------------------------------- outlines


def test_bolt_beside_a_skew_end_is_no_hole():
    # Leans over the whole width: at across 90 steel ends at 400 - 90 * tan 30.
    cut = member(FL100, 400, right=(skew(400, 30, end="right", toward=(0, 1)),))
    limit = 400 - 90 * np.tan(np.radians(30))
    inside, _ = only([cut], bolt((limit - 20, 0, 90)))
    outside, _ = only([cut], bolt((limit + 20, 0, 90)))
    assert len(inside.plies) == 1
    assert outside.plies == ()


def test_bolt_beside_a_plate_s_outline_is_no_hole():
    gusset = plate(((0, 0), (300, 0), (300, 60), (120, 200), (0, 200)))
    made, _ = way([gusset], bolt((60, 0, 150)), bolt((280, 0, 180)))
    assert [len(p.plies) for p in made.passages] == [1, 0]


def test_bolt_that_overlaps_the_edge_stays_for_the_checks():
    gusset = plate(rectangle(300, 200))
    passage, _ = only([gusset], bolt((295, 0, 100)), diameter=16.0)
    assert len(passage.plies) == 1
    passage, _ = only([gusset], bolt((320, 0, 100)), diameter=16.0)
    assert passage.plies == ()


# ---------------------------------------------------------------- askew


@pytest.mark.parametrize(("tilt", "square"), [(1.5, True), (5.0, False), (20.0, False)])
def test_a_bolt_askew_is_measured_on_the_outside(tilt, square):
    a = np.radians(tilt)
    heading = (np.sin(a), np.cos(a), 0.0)
    members = [flat_at(0.0), flat_at(10.0)]
    passage, _ = only(members, bolt(np.array([200, 0, 50]) - 5 * np.array(heading), heading, 60.0))
    assert [p.tilt_deg for p in passage.plies] == [pytest.approx(tilt)] * 2
    assert [is_square(p) for p in passage.plies] == [square] * 2
    # The outside of a flat is the side its face looks to: y = 0 and y = 10.
    assert passage.plies[0].x == pytest.approx(200.0)
    assert passage.plies[1].x == pytest.approx(200.0 + 10 * np.tan(a))
    assert passage.grip == pytest.approx(20.0 / np.cos(a))


def test_slightly_skew_plies_of_a_battered_face_touch():
    a = np.radians(1.5)
    leaning = member(FL100, 400, at=frame((0, 10.0, 0), (np.cos(a), np.sin(a), 0), (-np.sin(a), np.cos(a), 0)))
    passage, codes = only([flat_at(0.0), leaning], bolt((60, 0, 50), Y, 40.0))
    assert len(passage.plies) == 2
    assert passage.gaps[0][1] == pytest.approx(60 * np.tan(a), abs=0.01)
    assert codes == []


# ---------------------------------------------------------------- joints and nodes


def test_joints_and_nodes():
    leg = member(FL100, 3000)
    near = [member(FL8, 200, at=frame((x, 10.0, 0))) for x in (0.0, 200.0, 2000.0)]
    bolts = [bolt((x, 0, 50)) for x in (60, 120, 260, 320, 2060, 2120)]
    made, codes = way([leg, *near], *bolts)
    assert [(j.members, j.passages, j.node) for j in made.joints] == [
        ((0, 1), (0, 1), 1),
        ((0, 2), (2, 3), 1),
        ((0, 3), (4, 5), 2),
    ]
    assert codes == []


def test_steps_up_a_leg_make_no_single_node_of_it():
    """Two braced gussets 1200 apart, a step every 240 mm between: two nodes, as one counts them on the drawing."""
    leg = member(FL100, 3000)
    gussets = [member(FL8, 300, at=frame((x, 10.0, 60.0))) for x in (300.0, 1500.0)]
    braces = [member(FL8, 300, at=frame((x + 150.0, 18.0, 110.0))) for x in (300.0, 1500.0)]
    steps = [member(FL8, 60, at=frame((x - 30.0, 10.0, 0))) for x in (600.0, 840.0, 1080.0, 1320.0)]
    bolts = [bolt((x, 0, 80)) for x in (350, 1550)] + [bolt((x, 0, 50)) for x in (600, 840, 1080, 1320)]
    bolts += [bolt((x, 8.0, 130)) for x in (560, 1760)]
    made, _ = way([leg, *gussets, *braces, *steps], *bolts)
    node = {joint.members: joint.node for joint in made.joints}
    assert node[0, 1] == node[1, 3]
    assert node[0, 2] == node[2, 4]
    assert node[0, 1] != node[0, 2]
    # The steps 250 and 230 mm from a gusset's bolt belong to its node, those between to none.
    assert (node[0, 5], node[0, 8]) == (node[0, 1], node[0, 2])
    assert len({node[0, 1], node[0, 2], node[0, 6], node[0, 7]}) == 4


def test_the_same_parts_joined_at_two_places_are_two_joints():
    made, _ = way([flat_at(0.0, length=3000.0), flat_at(10.0, length=3000.0)], bolt((100, 0, 50)), bolt((2900, 0, 50)))
    assert [(j.members, j.node) for j in made.joints] == [((0, 1), 1), ((0, 1), 2)]


def test_the_graph_joins_joints_and_members():
    made, _ = way([flat_at(0.0), flat_at(10.0), flat_at(900.0)], bolt((200, 0, 50)), bolt((260, 0, 50)))
    assert set(made.graph.neighbors(("joint", 1))) == {("member", 0), ("member", 1)}
    assert made.graph.edges[("joint", 1), ("member", 0)]["bolts"] == 2
    assert made.graph.degree[("member", 2)] == 0


# ---------------------------------------------------------------- far from the origin, and at any size


@settings(max_examples=25, deadline=None)
@given(vector=vectors, shift=places)
def test_the_model_may_stand_anywhere(vector, shift):
    beam, leg = member(IPE200, 800), member(L100, 600, at=frame((100, -50.0, 200.0), (1, 0, 0), (0, 0, 1)))
    bolts = fastener(bolt_in(beam, "top", 300, 25, head=9, shank=45), bolt_in(beam, "web", 100, 100, head=4))
    turn = rotation(vector)
    # Georeferenced models stand millions of metres from their origin.
    far = np.array(shift) * 1e5
    here, _ = connect([beam, leg], [bolts])
    there, _ = connect([moved(beam, turn, far), moved(leg, turn, far)], [moved(bolts, turn, far)])
    for one, other in zip(here.passages, there.passages, strict=True):
        assert [(p.member, p.face) for p in one.plies] == [(p.member, p.face) for p in other.plies]
        for p, q in zip(one.plies, other.plies, strict=True):
            assert (p.x, p.across) == (pytest.approx(q.x, abs=0.01), pytest.approx(q.across, abs=0.01))


def test_one_long_rod_does_not_slow_the_others():
    """The k-d tree's radius follows the longest shank; the pairs it offers must stay few."""
    import time

    parts = [flat_at(100.0 * k, length=300.0) for k in range(2000)]
    bolts = [bolt((100.0 + 50 * j, 100.0 * k, 50)) for k in range(2000) for j in range(2)]
    begin = time.perf_counter()
    plain, _ = connect(parts, [fastener(*bolts)])
    without = time.perf_counter() - begin
    begin = time.perf_counter()
    rodded, _ = connect(parts, [fastener(*bolts), fastener(bolt((-50.0, 0.0, 500.0), Y, 60_000.0))])
    assert time.perf_counter() - begin < 8 * without + 0.5
    assert rodded.passages[:-1] == plain.passages


# ---------------------------------------------------------------- brute force


STEP = 0.2
SECTIONS = (FL100, FL8, L100, U160, IPE200, RHS120)


def in_steel(part, points):
    """Which model points lie in a square-cut part: by its section's polygon, point by point."""
    local = part.frame.to_piece(points)
    outer, *inner = rings(part.body.section)
    area = shapely.Polygon(outer, inner)
    shapely.prepare(area)
    within = shapely.contains_xy(area, local[:, 1], local[:, 2])
    return within & (local[:, 0] > 0) & (local[:, 0] < part.body.length)


def clamped(members, one):
    """Members a bolt clamps, by walking along its axis in small steps.

    Runs of steel are found by asking points; those the shank passes count, and any that touch those. None where a
    touch or a passage is within a step or two of its limit.
    """
    at = np.arange(-100.0, one.shank + 100.0, STEP) + STEP / 2
    points = np.array(one.point) + at[:, None] * np.array(one.direction)
    runs = []
    for number, part in enumerate(members):
        inside = np.concatenate(([False], in_steel(part, points), [False]))
        edges = np.flatnonzero(np.diff(inside.astype(int)))
        runs += [(at[a] - STEP / 2, at[b - 1] + STEP / 2, number) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    depths = [min(r[1], one.shank) - max(r[0], 0.0) for r in runs]
    gaps = [a - b for a, _, _ in runs for _, b, _ in runs]
    if any(abs(d - 1.0) < 2 * STEP or abs(d + 2.0) < 2 * STEP for d in depths) or any(
        abs(g - 2.0) < 2 * STEP for g in gaps
    ):
        return None
    passed = [r for r, depth in zip(runs, depths, strict=True) if depth > 1.0]
    # A shank that passes no steel but touches some starts there.
    chosen = set(passed or [r for r in runs if r[1] > -2.0 and r[0] < one.shank + 2.0])
    grown = True
    while grown and chosen:
        low, high = min(r[0] for r in chosen), max(r[1] for r in chosen)
        more = {r for r in runs if r[0] <= high + 2.0 and r[1] >= low - 2.0}
        grown = more != chosen
        chosen = more
    return sorted(chosen)


def scene(seed):
    """Members stacked near a plane, whole millimetres apart, and 25 bolts across them."""
    dice = np.random.default_rng(seed)
    members = []
    for _ in range(dice.integers(2, 7)):
        section = SECTIONS[dice.integers(len(SECTIONS))]
        u = (Y, (0, -1, 0), Z, (0, 0, -1))[dice.integers(4)]
        origin = (dice.integers(-5, 6) * 37.0, dice.integers(-6, 13) * 5.0, dice.integers(-4, 5) * 23.0)
        members.append(member(section, 400.0, at=frame(origin, (dice.choice((1.0, -1.0)), 0, 0), u)))
    bolts = []
    for _ in range(25):
        part = members[dice.integers(len(members))]
        face = faces(part.body.section)[0]
        on_face = (
            dice.integers(15, 386),
            *(np.array(face.origin) + dice.uniform(0.15, 0.85) * face.high * np.array(face.direction)),
        )
        heading = np.array([0.0, *face.inward]) @ part.frame.axes
        place = part.frame.to_model(on_face) - dice.integers(-2, 6) * 5.0 * heading
        bolts.append(bolt(place, heading, dice.choice((20.0, 33.0, 47.0, 90.0))))
    return members, bolts


def clear(members, one):
    """Whether no wall is met near an edge or a corner, where a disc and a point may differ."""
    tube = np.array(one.point) + np.arange(-100.0, one.shank + 100.0, 1.0)[:, None] * np.array(one.direction)
    side, along = np.cross(one.direction, (1.0, 0.0, 0.0)), np.array([1.0, 0.0, 0.0])
    middle = np.array([in_steel(part, tube) for part in members])
    around = [i * 11.0 * side + j * 11.0 * along for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]
    return all((np.array([in_steel(part, tube + away) for part in members]) == middle).all() for away in around)


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10_000), vector=vectors)
def test_random_scenes_against_points_along_the_axis(seed, vector):
    members, bolts = scene(seed)
    turn, shift = rotation(vector), (7e4, 1e3, -3e4)
    moved_bolts = [moved(fastener(b), turn, shift) for b in bolts]
    made, _ = connect([moved(m, turn, shift) for m in members], moved_bolts)
    for one, passage in zip(bolts, made.passages, strict=True):
        if not clear(members, one):
            continue
        expected = clamped(members, one)
        # A point may lie in a wall lengthwise: that is a bolt along a leg, no ply.
        if expected is None or any(run[1] - run[0] > 25.0 for run in expected):
            continue
        found = sorted((round(p.enter, 3), round(p.leave, 3), p.member) for p in passage.plies)
        assert [f[2] for f in found] == [e[2] for e in expected]
        for mine, theirs in zip(found, expected, strict=True):
            assert mine[:2] == (pytest.approx(theirs[0], abs=2 * STEP), pytest.approx(theirs[1], abs=2 * STEP))
        if found:
            assert passage.grip == pytest.approx(max(f[1] for f in found) - found[0][0], abs=0.01)


def test_the_random_scenes_are_not_empty():
    """What the comparison above rests on: in a made-up scene of the same kind, bolts do clamp two and three plies."""
    members = [flat_at(0.0), flat_at(10.0, FL8), member(L100, 400, at=frame((0, 18.0, 0)))]
    one = bolt((200, 0, 50), Y, 47.0)
    assert [run[2] for run in clamped(members, one)] == [0, 1, 2]
    assert clear(members, one)
    assert [p.member for p in only(members, one)[0].plies] == [0, 1, 2]
    assert {f.name for f in faces(L100)} == {"A", "B"}
