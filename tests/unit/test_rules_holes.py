"""Classes of hole, distances, punching and the line's limits: just inside and just outside."""

import pytest

from takeoff.rules import edges, punching, zinc
from takeoff.rules import line as limits
from takeoff.rules.hole_classes import class_of, sizes_in_words
from takeoff.rules.sizes import diameter_of, size_name
from takeoff.sections import shapes
from takeoff.settings import DistanceSettings, HoleSettings, LineSettings, PunchingSettings, ZincSettings


@pytest.mark.parametrize(
    ("bolt", "hole", "slot", "name"),
    [
        (16, 18, 0, "normal"),
        (16, 17.5, 0, "tower"),
        (16, 20, 0, "oversize"),
        (16, 19, 0, "none"),
        (16, 17, 0, "none"),
        (16, 16, 0, "fitted"),
        (16, 16.3, 0, "fitted"),
        (16, 15, 0, "too small"),
        (16, 18, 22, "short slot"),
        (16, 18, 30, "long slot"),
        (16, 18, 40, "long slot"),
        (16, 18, 41, "none"),
        (16, 20, 30, "none"),
        (16, 17.5, 22, "short slot"),
        (12, 14, 0, "2 mm clearance"),
        (12, 13, 0, "normal"),
        (10, 11, 0, "normal"),
        (42, 45, 0, "normal"),
        (17.3, 19, 0, "none"),
        (17.3, 17, 0, "too small"),
    ],
)
def test_class_of_a_hole(bolt, hole, slot, name):
    assert class_of(bolt, hole, slot, HoleSettings()) == name


def test_the_american_table_gives_largest_sizes():
    american = HoleSettings(rule="AISC 360")
    assert class_of(16, 19, 0, american) == "oversize"
    assert class_of(16, 17, 0, american) == "normal"
    assert class_of(16, 20.5, 0, american) == "none"
    assert class_of(19.05, 22, 0, HoleSettings()) == "oversize"


def test_the_clients_own_clearance_is_a_class():
    own = HoleSettings(clearance_mm={"M20": 1.0})
    assert class_of(20, 21, 0, own) == "own"
    assert class_of(20, 22, 0, own) == "normal"
    assert sizes_in_words(20, own).startswith("own 21, normal 22")


@pytest.mark.parametrize("diameter", [16, 19.05, 25.4, 17.3, 33])
def test_a_name_gives_its_diameter_back(diameter):
    assert diameter_of(size_name(diameter)) == pytest.approx(diameter, abs=0.06)
    assert diameter_of("") == 0


def test_a_clients_distances_go_before_the_code():
    own = DistanceSettings(end_mm={"M16": 25}, edge_mm={"M16": 20}, pitch_mm={"M16": 40})
    assert edges.end_distance(16, 18, False, own) == (25, "settings, distances.end_mm")
    assert edges.edge_distance(16, 18, False, own).mm == 20
    assert edges.pitch(16, 18, 60, 60, own).mm == 40
    assert edges.end_distance(20, 22, False, own).mm == pytest.approx(26.4)
    assert edges.end_distance(20, 22, False, DistanceSettings(rule="own")).mm == 0


def test_staggered_rows():
    en = DistanceSettings()
    # Rows 21.6 mm apart (1.2 d0) are two rows: 2.4 d0 on the slant; nearer ones count as one: 2.2 d0.
    assert edges.pitch(16, 18, 30, 21.6, en).mm == pytest.approx(43.2)
    assert edges.pitch(16, 18, 30, 21.5, en).mm == pytest.approx(39.6)


@pytest.mark.parametrize(
    ("hole", "thickness", "settings", "how"),
    [
        (18, 18, {}, "punch"),
        (18, 18.1, {}, "drill"),
        (18, 8, {"execution_class": "EXC3"}, "punch and ream"),
        (18, 3, {"execution_class": "EXC3"}, "punch"),
        (18, 17, {"execution_class": "EXC4"}, "drill"),
        (18, 25, {"rule": "AISC 360"}, "punch"),
        (18, 12.1, {"thickness_mm": {"S355": 12}}, "drill"),
        (18, 12, {"thickness_mm": {"S355": 12}}, "punch"),
        (18, 14, {"thickness_mm": {"S235": 12}}, "punch"),
    ],
)
def test_may_it_be_punched(hole, thickness, settings, how):
    make = punching.make_of(hole, 16, thickness, "S355J2", PunchingSettings(**settings))
    assert make.how == how
    assert make.punch_mm == (16 if how == "punch and ream" else 0)
    assert make.why


def test_high_strength_plate_is_drilled():
    american = PunchingSettings(rule="AISC 1989")
    assert punching.make_of(20.6, 19.05, 13, "A514", american).how == "drill"
    assert punching.make_of(20.6, 19.05, 13, "A36", american).how == "punch"


def test_punching_force_is_the_sheared_area_by_the_strength():
    # pi x 18 x 8 = 452 mm2; 0.8 x 630 N/mm2: 228 kN.
    assert punching.punching_force(18, 8, "S355J2") == pytest.approx(228, abs=0.5)
    assert punching.punching_force(18, 8, "S235JR") < punching.punching_force(18, 8, "unheard of")


@pytest.mark.parametrize(
    ("thickness", "mass"), [(8, 610), (6.1, 610), (6, 505), (3.1, 505), (3, 395), (1.5, 395), (1.4, 325)]
)
def test_zinc_by_thickness(thickness, mass):
    assert zinc.coating(thickness) == mass
    assert zinc.coating(thickness, own=900) == 900


def test_who_goes_into_the_bath():
    assert zinc.is_galvanised("hot dip galvanised", ZincSettings())
    assert not zinc.is_galvanised("", ZincSettings())
    assert zinc.is_weighed("", ZincSettings())
    assert zinc.is_galvanised("", ZincSettings(parts="all"))
    assert not zinc.is_weighed("", ZincSettings(parts="finish"))
    assert not zinc.is_weighed("galvanised", ZincSettings(parts="none"))


@pytest.mark.parametrize(
    ("section", "fits"),
    [
        (shapes.angle(30, 30, 3), True),
        (shapes.angle(160, 160, 19), True),
        (shapes.angle(160, 160, 20), False),
        (shapes.angle(180, 90, 10), False),
        (shapes.angle(40, 25, 4), False),
        (shapes.flat(50, 5), True),
        (shapes.flat(45, 5), False),
        (shapes.flat(160, 20), False),
        (shapes.channel(160, 65, 7.5, 10.5), True),
        (shapes.channel(180, 70, 8, 11), False),
        (shapes.i_section(120, 64, 4.4, 6.3), False),
    ],
)
def test_the_lines_envelope(section, fits):
    refused = limits.section_refused(section, LineSettings())
    assert (refused == "") is fits, refused


def test_a_line_without_channels():
    line = LineSettings(channel_largest_mm=0.0)
    assert "no channels" in limits.section_refused(shapes.channel(120, 55, 7, 9), line)


def test_slots_by_repeated_hits():
    # A slot 18 x 40: 22 mm to travel in steps of 9 mm: 3 steps after the first hit.
    assert limits.slot_hits(18, 40, LineSettings()) == 4
    assert limits.slot_hits(18, 27, LineSettings()) == 2
    assert limits.slot_hits(18, 40, LineSettings(slots=False)) == 0


def test_which_punch_reaches():
    line = LineSettings(heel_mm=15, heel_special_mm=11)
    assert [limits.heel_punch(g, 5, line) for g in (20, 19.9, 16, 15.9)] == ["normal", "special", "special", ""]
    assert limits.in_rack(17.9, LineSettings(rack_mm=(13, 18)))
    assert not limits.in_rack(17.5, LineSettings(rack_mm=(13, 18)))
    assert limits.in_rack(17.5, LineSettings())
