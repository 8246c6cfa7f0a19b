"""Gauge lines beside the usual ones, and how holes are made."""

import pytest
from steelwork import IPE200, L100, U160, hole, member, model

from takeoff.pipeline import work_out
from takeoff.rules.wording import gauge_words
from takeoff.sections import shapes
from takeoff.sections.tables import by_designation
from takeoff.settings import GaugeSettings, PunchingSettings, Settings


def made(section, *holes, **settings):
    (piece,) = work_out(model([member(section, 500, holes=holes, grade="S355J2")]), Settings(**settings)).pieces
    return piece


def test_only_a_deviation_is_worded():
    # DIN 997, from memory: 55 in a leg of 100, for holes up to 25.
    assert gauge_words(made(L100, hole("A", 100, 55))) == ""
    words = gauge_words(made(L100, hole("A", 100, 60)))
    assert words == "A line 1: 60, usual 55 (DIN 997, from memory)"
    assert "hole 26, usual up to 25" in gauge_words(made(L100, hole("A", 100, 55, 26.0)))


def test_each_line_of_each_leg():
    piece = made(L100, hole("A", 100, 35), hole("A", 200, 75), hole("B", 100, 55))
    assert sorted(line.deviation for line in piece.gauges) == [-20, 0, 20]


def test_the_clients_gauge_goes_first():
    piece = made(L100, hole("A", 100, 60), gauges=GaugeSettings(legs_mm={"100": 60.0}))
    assert gauge_words(piece) == ""
    assert piece.gauges[0].source == "settings, gauges.legs_mm"


@pytest.mark.parametrize(("table", "lines"), [("none", 0), ("AISC", 0), ("CISC", 1), ("SP 6", 1)])
def test_another_table(table, lines):
    assert len(made(L100, hole("A", 100, 55), gauges=GaugeSettings(table=table)).gauges) == lines


def test_flanges():
    # IPE 200: 56 between the lines; UPN 140: 35 from the back of the web; both DIN 997, from memory.
    ipe = made(by_designation()["IPE200"], hole("top", 100, 28, 11.0), hole("top", 100, -28, 11.0))
    assert [(line.mm, line.deviation) for line in ipe.gauges] == [(56, 0), (56, 0)]
    upn = made(by_designation()["UPN140"], hole("top", 100, 37, 13.0))
    assert [line.deviation for line in upn.gauges] == [2]
    assert made(IPE200, hole("web", 100, 100)).gauges == ()
    assert made(U160, hole("web", 100, 80)).gauges == ()


@pytest.mark.parametrize(
    ("drawn", "make"),
    [
        (hole("A", 100, 55), "punch"),
        (hole("A", 100, 55, 7.0), "drill"),
        (hole("A", 100, 55, kind="countersunk"), "drill"),
        (hole("A", 100, 55, kind="slot", slot_length=40.0), "punch"),
        (hole("A", 100, 55, 0.0, kind="rectangle", slot_length=40.0, width=20.0), "cut"),
    ],
)
def test_how_a_hole_is_made(drawn, make):
    (found,) = made(L100, drawn).holes
    assert found.make == make
    assert bool(found.force_kn) is (make == "punch")


def test_reamed_holes_are_punched_smaller():
    (found,) = made(
        shapes.angle(100, 100, 8), hole("A", 100, 55), punching=PunchingSettings(execution_class="EXC4")
    ).holes
    assert (found.make, found.punch_mm) == ("punch and ream", 16)
    # The force is that of the hole that is punched: pi x 16 x 8 x 0.8 x 630 N/mm2.
    assert found.force_kn == pytest.approx(202.7, abs=0.1)
