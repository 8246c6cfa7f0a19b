"""Gauge lines beside the usual ones, and how holes are made."""

import pytest
from steelwork import CHS114, IPE200, L100, RHS120, RND30, U160, hole, member, model

from takeoff.pipeline import work_out
from takeoff.rules.wording import gauge_words, size_to_punch
from takeoff.sections import shapes
from takeoff.sections.tables import by_designation
from takeoff.settings import GaugeSettings, PunchingSettings, Settings
from takeoff.sheets.shop_notes import make_words
from takeoff.sheets.wording import opening


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


@pytest.mark.parametrize(
    ("settings", "deviation", "source"),
    [
        ({}, 4, "DIN 997, from memory"),
        ({"table": "CISC"}, 4, "DIN 997, from memory"),
        ({"flanges_mm": {"ipe200": 60.0}}, 0, "settings, gauges.flanges_mm"),
        ({"flanges": "none"}, None, ""),
        ({"flanges": "none", "flanges_mm": {"IPE 200": 58.0}}, 2, "settings, gauges.flanges_mm"),
    ],
)
def test_gauges_in_flanges_have_their_own_table(settings, deviation, source):
    piece = made(by_designation()["IPE200"], hole("top", 100, 30, 11.0), gauges=GaugeSettings(**settings))
    assert [(line.deviation, line.source) for line in piece.gauges] == (
        [] if deviation is None else [(deviation, source)]
    )


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


@pytest.mark.parametrize(
    ("section", "face", "across"), [(RHS120, "front", 60), (CHS114, "wall", 100.0), (RND30, "wall", 20.0)]
)
def test_where_no_die_stands_behind_the_wall_holes_are_drilled(section, face, across):
    piece = made(section, hole(face, 100, across, 14.0))
    assert [(h.make, h.force_kn) for h in piece.holes] == [("drill", 0)]
    assert [s.why for s in piece.routing if s.station == "drill"] == [
        "drilled: no die stands behind the wall of hollow sections and in rounds (common practice, no source)"
    ]


def test_reamed_holes_are_punched_smaller():
    (found,) = made(
        shapes.angle(100, 100, 8), hole("A", 100, 55), punching=PunchingSettings(execution_class="EXC4")
    ).holes
    assert (found.make, found.punch_mm) == ("punch and ream", 16)
    # What stands in the table is the size to punch, of every punched hole; the finished one stands beside it.
    assert size_to_punch(found) == 16
    (plain, drilled) = made(L100, hole("A", 100, 55), hole("A", 200, 55, 7.0)).holes
    assert [size_to_punch(plain), size_to_punch(drilled)] == [18, 0]
    assert make_words(found) == "punch 16, ream"
    assert opening(found) == "punch Ø16, ream to Ø18"
    # The force is that of the hole that is punched: pi x 16 x 8 x 0.8 x 630 N/mm2.
    assert found.force_kn == pytest.approx(202.7, abs=0.1)
