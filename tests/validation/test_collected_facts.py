"""The package's tables against the facts collected beside the project, value by value.

The facts say of every row where it was read: [seen] in a public copy of the named standard, handbook or open package,
or MEMORY. A number from memory has to say so in the package too. Skipped where the collection is not there.
"""

import csv
import re
from fractions import Fraction
from pathlib import Path

import pytest

from takeoff.rules import edges, gauges, hole_classes
from takeoff.rules.bolt_lengths import ADD_TO_GRIP_IN, HR_WASHER_MM, ISO_888
from takeoff.rules.fasteners import LONGEST, bolts, nuts, rows, washers
from takeoff.settings import DistanceSettings, GaugeSettings, HoleSettings

FACTS = Path(__file__).resolve().parents[2].parent / "shared" / "facts"
IN = 25.4

pytestmark = pytest.mark.skipif(not FACTS.is_dir(), reason="the collected facts are not beside the project")


def facts(name):
    with (FACTS / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def inches(text):
    """``1-1/4`` as 1.25; also ``1.25``."""
    whole, _, part = text.strip().partition("-")
    return float(Fraction(whole)) + (float(Fraction(part)) if part else 0.0)


def pair(text, number=float):
    return tuple(number(side) for side in text.split(" x "))


def classes(diameter, rule="EN 1090-2"):
    found = hole_classes.hole_classes(diameter, HoleSettings(rule=rule))
    return {c.name: (c.diameter, c.slot_length) if c.slot_length else c.diameter for c in found}


def _plain(found, column):
    """The rows of one size; those from a size on are formulas (``>=M36``: d + 3), checked in the published values."""
    plain = [row for row in found if not row[column].startswith(">=")]
    assert len(plain) >= 5
    return plain


def test_holes_of_en_1090_2():
    for row in facts("holes_en1090_2.csv"):
        found = classes(float(row["d_mm"]))
        assert found["normal"] == float(row["hole_normal_mm"])
        assert found["oversize"] == float(row["hole_oversize_mm"])
        assert found["short slot"] == pair(row["short_slot_WxL_mm"])
        assert found["long slot"] == pair(row["long_slot_WxL_mm"])


def test_metric_holes_of_aisc():
    for row in _plain(facts("holes_aisc_metric.csv"), "bolt"):
        found = classes(float(row["d_mm"]), "AISC 360")
        assert found["normal"] == float(row["standard_mm"])
        assert found["oversize"] == float(row["oversize_mm"])
        assert found["short slot"] == pytest.approx(pair(row["short_slot_WxL_mm"]))
        assert found["long slot"] == pytest.approx(pair(row["long_slot_WxL_mm"]))


def test_inch_holes_of_aisc():
    for row in _plain(facts("holes_aisc_inch.csv"), "bolt_in"):
        found = classes(inches(row["bolt_in"]) * IN)
        assert found["normal"] == pytest.approx(inches(row["standard_in"]) * IN)
        assert found["oversize"] == pytest.approx(inches(row["oversize_in"]) * IN)
        for name, column in (("short slot", "short_slot_WxL_in"), ("long slot", "long_slot_WxL_in")):
            assert found[name] == pytest.approx(tuple(side * IN for side in pair(row[column], inches)))


@pytest.mark.parametrize(
    ("name", "bolt", "edge", "unit"),
    [
        ("edge_aisc_j3_4m_mm.csv", "bolt_mm", "min_edge_distance_mm", 1.0),
        ("edge_aisc_j3_4_inch.csv", "bolt_in", "min_edge_distance_in", IN),
    ],
)
def test_edge_distances_of_aisc(name, bolt, edge, unit):
    american = DistanceSettings(rule="AISC 360")
    seen = 0
    for row in facts(name):
        if not re.fullmatch(r"[\d./-]+", row[bolt]) or not re.fullmatch(r"[\d./-]+", row[edge]):
            continue  # "over 36: 1.25 d" and the like
        diameter = inches(row[bolt]) * unit
        assert edges.edge_distance(diameter, diameter + 2, False, american).mm == pytest.approx(
            inches(row[edge]) * unit
        )
        seen += 1
    assert seen >= 7


def test_distances_of_en_1993_1_8():
    least = {row["symbol"]: row["min_x_d0"] for row in facts("edge_spacing_en1993_1_8_table3_3.csv")}
    rule = DistanceSettings()
    assert edges.end_distance(16, 10, False, rule).mm == pytest.approx(10 * float(least["e1"]))
    assert edges.edge_distance(16, 10, False, rule).mm == pytest.approx(10 * float(least["e2"]))
    assert edges.edge_distance(16, 10, True, rule).mm == pytest.approx(10 * float(least["e3 (slot)"]))


def _leg(row, column):
    return float(row[column]) if row.get(column) else None


def test_gauges_of_the_cisc_handbook():
    for row in facts("gauge_cisc_angles_mm.csv"):
        usual = gauges.leg_gauges(float(row["leg_mm"]), GaugeSettings(table="CISC"))
        assert _leg(row, "g_mm") in (None, *usual.lines)
        if row["g1_mm"]:
            assert {float(row["g1_mm"]), float(row["g1_mm"]) + float(row["g2_mm"])} <= set(usual.lines)


def test_gauges_of_aisc():
    for row in facts("gauge_aisc_angles_inch.csv"):
        usual = gauges.leg_gauges(float(row["leg_in"]) * IN, GaugeSettings(table="AISC"))
        lines = [float(row["g_in"]) * IN]
        if row["g1_in"] and row["g2_in"]:
            lines += [float(row["g1_in"]) * IN, (float(row["g1_in"]) + float(row["g2_in"])) * IN]
        for line in lines:
            assert any(abs(line - found) < 0.06 for found in usual.lines), (row, usual)


@pytest.mark.parametrize(
    ("name", "table", "first"),
    [
        ("gauge_din997_angles_mm.csv", "DIN 997", "w1_from_heel_mm"),
        ("gauge_sp6_india_angles_mm.csv", "SP 6", "a_single_mm"),
    ],
)
def test_gauges_from_memory_are_those_recalled_and_say_so(name, table, first):
    for row in facts(name):
        usual = gauges.leg_gauges(float(row["leg_mm"]), GaugeSettings(table=table))
        assert float(row[first]) in usual.lines
        assert "MEMORY" in row["source"]
        assert "memory" in usual.source


def test_bolts_of_the_metric_standards():
    compared = 0
    for row in facts("bolts_metric_dims.csv"):
        standard = row["standard"].split(" (")[0]
        bolt = bolts().get((standard, row["size"]))
        if bolt is None:
            continue
        compared += 1
        assert bolt.pitch == float(row["pitch_P_mm"])
        assert bolt.head == pytest.approx(float(row["head_height_k_mm"]))
        assert bolt.flats == float(row["across_flats_s_mm"])
        columns = ("thread_b_for_L_le_125_mm", "thread_b_for_125_lt_L_le_200_mm", "thread_b_for_L_gt_200_mm")
        if not bolt.full:
            assert [t for t in bolt.thread if t] == [float(row[c]) for c in columns if row[c]][
                : len([t for t in bolt.thread if t])
            ]
        if row["min_length_mm"] and bolt.shortest:
            assert bolt.shortest == float(row["min_length_mm"])
        longest = LONGEST.get((standard, row["size"]))
        if row["max_length_mm"] and longest and (standard, row["size"]) != ("ISO 4017", "M27"):
            assert longest == float(row["max_length_mm"])
    assert compared >= 20


def test_nuts_and_washers():
    compared = 0
    for row in facts("nuts_metric_dims.csv"):
        nut = nuts().get((row["standard"].split(" (")[0], row["size"]))
        if nut:
            compared += 1
            assert (nut.height, nut.flats) == (float(row["height_m_mm"]), float(row["across_flats_s_mm"]))
            assert "MEMORY" not in row["source"] or "memory" in nut.source, row
    for row in facts("washers_metric_dims.csv"):
        washer = washers().get((row["standard"].split("/")[0], row["size"]))
        if washer:
            compared += 1
            assert (washer.outer, washer.thickness) == (float(row["outer_d2_max_mm"]), float(row["thickness_h_mm"]))
    for row in facts("washers_en14399_6_tolerance.csv"):
        assert HR_WASHER_MM[row["size"]] == (float(row["h_min_mm"]), float(row["h_max_mm"]))
    assert compared >= 20


def test_inch_bolts_and_the_series_of_lengths():
    for row in facts("bolts_inch_structural.csv"):
        size = row["size_in"]
        assert ADD_TO_GRIP_IN[size] == inches(row["add_to_grip_in"])
        bolt, nut = bolts()["ASME B18.2.6", size], nuts()["ASME B18.2.6", size]
        assert bolt.thread_length(100.0) == pytest.approx(inches(row["thread_length_in"]) * IN)
        assert bolt.flats == pytest.approx(inches(row["across_flats_F_in"]) * IN)
        assert bolt.head == pytest.approx(inches(row["head_height_H_in"]) * IN, abs=0.001)
        assert nut.height == pytest.approx(inches(row["nut_height_in"]) * IN, abs=0.001)
    series = facts("bolt_length_series.csv")[0]["lengths"]
    assert list(ISO_888) == [int(n) for n in series.split()]


def test_every_row_of_the_package_names_its_source():
    for path in sorted((Path(hole_classes.__file__).parent / "data").glob("*.csv")):
        assert all(row["source"].strip() for row in rows(path.name)), path.name
