"""The trade's rules against numbers that others published, the source beside each.

"Seen" means read in a public copy of the named standard, handbook or open package; what is from memory says so.
"""

import math

import pytest

from takeoff.rules import edges, gauges, hole_classes
from takeoff.rules.bolt_lengths import Grip, bolt_length, hr_clamp, hr_grip
from takeoff.rules.bolt_mass import bolt_set_mass
from takeoff.rules.clearances import clearance
from takeoff.rules.fasteners import bolts
from takeoff.rules.punching import DRILL, PUNCH, make_of
from takeoff.settings import DistanceSettings, GaugeSettings, HoleSettings, PunchingSettings

EUROPEAN, AMERICAN = HoleSettings(), HoleSettings(rule="AISC 360")
IN = 25.4


def sizes(diameter, settings):
    return {c.name: (c.diameter, c.slot_length) for c in hole_classes.hole_classes(diameter, settings)}


# EN 1090-2:2018 Table 11, seen in three public copies that agree: bolt, normal, oversize, short slot, long slot.
EN_1090_2 = [
    (12, 13, 15, 16, 30),
    (14, 15, 17, 18, 35),
    (16, 18, 20, 22, 40),
    (20, 22, 24, 26, 50),
    (22, 24, 26, 28, 55),
    (24, 26, 30, 32, 60),
    (27, 30, 35, 37, 67.5),
    (30, 33, 38, 40, 75),
    (36, 39, 44, 46, 90),
]


@pytest.mark.parametrize(("bolt", "normal", "oversize", "short", "long"), EN_1090_2)
def test_hole_sizes_en_1090_2(bolt, normal, oversize, short, long):
    found = sizes(bolt, EUROPEAN)
    assert found["normal"] == (normal, 0)
    assert found["oversize"] == (oversize, 0)
    assert found["short slot"] == (normal, short)
    assert found["long slot"] == (normal, long)
    assert bolt + clearance(bolt, EUROPEAN)[0] == normal


# Table 11, note on towers and masts: begins so in a public copy; the 0.5 mm and these sizes are from memory.
@pytest.mark.parametrize(("bolt", "hole"), [(12, 12.5), (16, 17.5), (20, 21.5), (24, 25.5), (27, 29.5)])
def test_tower_holes(bolt, hole):
    assert sizes(bolt, EUROPEAN)["tower"] == (hole, 0)
    assert bolt + clearance(bolt, HoleSettings(towers=True))[0] == hole


# AISC 360 Table J3.3M, Structural Steel Designer's Handbook p. 5.47 Table 5.11 (seen).
AISC_METRIC = [
    (16, 18, 20, 22, 40),
    (20, 22, 24, 26, 50),
    (22, 24, 28, 30, 55),
    (24, 27, 30, 32, 60),
    (27, 30, 35, 37, 67),
    (30, 33, 38, 40, 75),
    (36, 39, 44, 46, 90),
]


@pytest.mark.parametrize(("bolt", "normal", "oversize", "short", "long"), AISC_METRIC)
def test_hole_sizes_aisc_metric(bolt, normal, oversize, short, long):
    found = sizes(bolt, AMERICAN)
    assert found == {
        "normal": (normal, 0), "oversize": (oversize, 0), "short slot": (normal, short), "long slot": (normal, long),
    }  # fmt: skip
    assert bolt + clearance(bolt, AMERICAN)[0] == normal


# AISC 360-16 Table J3.3, two public code tables (seen): bolt, standard, oversize, short and long slot, inches.
AISC_INCH = [
    (1 / 2, 9 / 16, 5 / 8, 11 / 16, 1 + 1 / 4),
    (5 / 8, 11 / 16, 13 / 16, 7 / 8, 1 + 9 / 16),
    (3 / 4, 13 / 16, 15 / 16, 1, 1 + 7 / 8),
    (7 / 8, 15 / 16, 1 + 1 / 16, 1 + 1 / 8, 2 + 3 / 16),
    (1, 1 + 1 / 8, 1 + 1 / 4, 1 + 5 / 16, 2 + 1 / 2),
]


@pytest.mark.parametrize(("bolt", "standard", "oversize", "short", "long"), AISC_INCH)
def test_hole_sizes_aisc_inch(bolt, standard, oversize, short, long):
    found = sizes(bolt * IN, EUROPEAN)  # inch bolts are the American table's under any rule
    expected = {
        "normal": (standard, 0),
        "oversize": (oversize, 0),
        "short slot": (standard, short),
        "long slot": (standard, long),
    }
    assert set(found) == set(expected)
    for name, (diameter, length) in expected.items():
        assert found[name] == pytest.approx((diameter * IN, length * IN), abs=1e-4)


# AISC 360-16 Tables J3.4M and J3.4, public copy p. 16.1-131 and 132 (seen); CSA S16 Table 6 rolled edge gives the same.
@pytest.mark.parametrize(
    ("bolt", "edge"),
    [(16, 22), (20, 26), (22, 28), (24, 30), (27, 34), (30, 38), (36, 46), (42, 1.25 * 42)]
    + [(b * IN, e * IN) for b, e in [(1 / 2, 3 / 4), (5 / 8, 7 / 8), (3 / 4, 1), (7 / 8, 9 / 8), (1, 5 / 4)]]
    + [(9 / 8 * IN, 1.5 * IN), (5 / 4 * IN, 13 / 8 * IN), (1.5 * IN, 1.875 * IN)],
)
def test_edge_distances_aisc(bolt, edge):
    least = edges.edge_distance(bolt, bolt + 2, False, DistanceSettings(rule="AISC 360"))
    assert least.mm == pytest.approx(edge, abs=0.01)


# EN 1993-1-8 Table 3.3 as printed in a public code that quotes it (seen): 1.2 d0, slots 1.5 d0, 2.2 d0, 2.4 d0.
@pytest.mark.parametrize(
    ("hole", "slot", "e1", "p1", "p2"),
    [(18, False, 21.6, 39.6, 43.2), (22, False, 26.4, 48.4, 52.8), (26, True, 39, 57.2, 62.4)],
)
def test_distances_en_1993_1_8(hole, slot, e1, p1, p2):
    en = DistanceSettings()
    assert edges.end_distance(0, hole, slot, en).mm == pytest.approx(e1)
    assert edges.edge_distance(0, hole, slot, en).mm == pytest.approx(e1)
    assert edges.pitch(0, hole, 60, 0, en).mm == pytest.approx(p1)
    assert edges.pitch(0, hole, 0, 60, en).mm == pytest.approx(p2)


def test_greatest_edge_distances():
    # EN 1993-1-8 Table 3.3: 4t + 40 mm (seen); AISC 360-16 J3.5: 12 t, at most 150 mm (seen).
    assert edges.greatest_edge(10, DistanceSettings()).mm == 80
    assert edges.greatest_edge(10, DistanceSettings(rule="AISC 360")).mm == 120
    assert edges.greatest_edge(20, DistanceSettings(rule="AISC 360")).mm == 150


def test_pitch_aisc():
    # AISC 360 J3.3, 2 2/3 d: Handbook p. 5.47 (seen); between wide holes a clear d governs (2016; from memory).
    american = DistanceSettings(rule="AISC 360")
    assert edges.pitch(20, 22, 60, 0, american).mm == pytest.approx(53.33, abs=0.01)
    assert edges.pitch(20, 36, 60, 0, american).mm == 56


# CISC Handbook p. 6-168, usual gauges as transcribed in one public code table (seen): leg, g, (g1, g1 + g2).
@pytest.mark.parametrize(
    ("leg", "lines"),
    [(45, (23,)), (50, (28,)), (60, (35,)), (75, (45,)), (90, (60,)), (100, (65,)), (125, (45, 80, 99)),
     (150, (55, 90, 120)), (200, (80, 115, 160))],
)  # fmt: skip
def test_usual_gauges_cisc(leg, lines):
    found = gauges.leg_gauges(leg, GaugeSettings(table="CISC"))
    assert found.lines == lines
    assert "CISC" in found.source


# AISC Manual Table 1-7A as transcribed in one public code table (seen), inches: leg, lines from the heel.
@pytest.mark.parametrize(
    ("leg", "lines"),
    [(2, (1.125,)), (2.5, (1.375,)), (3, (1.75,)), (3.5, (2,)), (4, (2.5,)), (5, (2, 3, 3.75)), (6, (2.25, 3.5, 4.75)),
     (8, (3, 4.5, 6))],
)  # fmt: skip
def test_usual_gauges_aisc(leg, lines):
    found = gauges.leg_gauges(leg * IN, GaugeSettings(table="AISC"))
    assert found.lines == pytest.approx([line * IN for line in lines], abs=0.01)


def test_gauges_from_memory_say_so():
    # DIN 997 as reprinted in handbooks: 35 mm in a leg of 60, from memory.
    found = gauges.leg_gauges(60, GaugeSettings())
    assert found.lines == (35,)
    assert "memory" in found.source


def test_the_clamp_example_of_en_14399_3():
    """M30 x 100, published by a maker: clamp 48 to 69, grip 40 to 57 with two washers, 44 to 63 with one (seen)."""
    least, most = hr_clamp("M30", 100)
    assert (least, math.floor(most)) == (48, 69)
    assert hr_grip("M30", 100, 2) == (40, 57)
    assert hr_grip("M30", 100, 1) == (44, 63)
    assert bolt_length(30, Grip(57, washers=2), "EN 14399-3").length == 100
    assert bolt_length(30, Grip(58, washers=2), "EN 14399-3").length == 105


# DIN 7990:2008 amendment list (seen): M16 x 130 clamps up to 105.5, x 135 up to 110.5; x 140 from 110.5.
@pytest.mark.parametrize(("grip", "length"), [(105.5, 130), (105.6, 135), (110.5, 135), (110.6, 140)])
def test_din_7990_lengths(grip, length):
    assert bolt_length(16, Grip(grip), "DIN 7990").length == length


def test_the_worked_example_of_an_inch_bolt():
    """7/8 in through 10 + 9.7 mm without a washer: 0.776 + 1.125 = 1.901, so 2 in (a published selection aid, seen)."""
    choice = bolt_length(7 / 8 * IN, Grip(19.7, washers=0))
    assert choice.length == pytest.approx(2 * IN)
    assert choice.least == pytest.approx(1.901 * IN, abs=0.02)


# RCSC / LRFD Table C1, public copy (seen): add-to-grip; a flat washer adds 5/32 in, a bevel washer 5/16 in.
@pytest.mark.parametrize(
    ("size", "add"),
    [(1 / 2, 11 / 16), (5 / 8, 7 / 8), (3 / 4, 1), (7 / 8, 9 / 8), (1, 5 / 4), (9 / 8, 3 / 2), (5 / 4, 13 / 8),
     (11 / 8, 7 / 4), (3 / 2, 15 / 8)],
)  # fmt: skip
def test_add_to_grip(size, add):
    assert bolt_length(size * IN, Grip(1 * IN, washers=0)).least == pytest.approx((1 + add) * IN)
    assert bolt_length(size * IN, Grip(1 * IN, washers=1)).least == pytest.approx((1 + add + 5 / 32) * IN)
    assert bolt_length(size * IN, Grip(1 * IN, washers=0, tapers=1)).least == pytest.approx((1 + add + 5 / 16) * IN)


@pytest.mark.parametrize(
    ("diameter", "length", "ls_min", "lg_max"),
    # EN 14399-4 ls and lg as two makers print them (seen).
    [(12, 35, 6.75, 12), (16, 50, 16, 22), (20, 60, 19.5, 27), (24, 70, 22, 31), (27, 80, 30, 39), (30, 80, 25.5, 36)],
)
def test_shank_of_en_14399_4(diameter, length, ls_min, lg_max):
    bolt = bolts()["EN 14399-4", f"M{diameter}"]
    unthreaded = length - bolt.thread_length(length)
    assert unthreaded == lg_max
    assert unthreaded - 3 * bolt.pitch == ls_min


# DIN 7990:2008-04 Table 3, kg per 1000 bolts with nut (seen).
@pytest.mark.parametrize(
    ("diameter", "length", "mass"),
    [(12, 30, 56.2), (12, 75, 95.8), (16, 35, 125), (16, 95, 221), (24, 45, 393), (27, 60, 611), (30, 140, 1256)],
)
def test_masses_of_din_7990(diameter, length, mass):
    assert bolt_set_mass(diameter, length, 1, 0, "DIN 7990")[0] * 1000 == pytest.approx(mass, rel=0.011)


# ASD 1989 and LRFD 1999 M2.5 (the thickness rule seen): up to the bolt's diameter and 1/8 in.
@pytest.mark.parametrize(("thickness", "how"), [(22.2, PUNCH), (22.3, DRILL)])
def test_punching_aisc_1989(thickness, how):
    settings = PunchingSettings(rule="AISC 1989")
    assert make_of(20.64, 3 / 4 * IN, thickness, "A36", settings).how == how  # 19.05 + 3.175 = 22.225
