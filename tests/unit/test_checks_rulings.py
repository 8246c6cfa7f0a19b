"""Checks by the trade's rules: the hole, found, asked; gathered by cause; switched and made to hold."""

from dataclasses import replace

import pytest
from steelwork import FL100, IPE200, L100, RHS120, U160, bolt_in, fastener, frame, hole, member, model, plate, skew
from test_checks import piece_of

from takeoff.checks import JOB_CHECKS, check_job
from takeoff.making import finish_holes
from takeoff.pipeline import work_out
from takeoff.queries import KINDS
from takeoff.rules.findings import REMARKS, Ruling, gathered, named
from takeoff.sections import shapes
from takeoff.settings import ADJUSTABLE_CHECKS, CheckSettings, DistanceSettings, HoleSettings, Settings, ZincSettings


def rulings(part, settings=None):
    """(code, found, asked) of every check by the rules on one part, worst last."""
    settings = settings or Settings()
    piece = finish_holes(piece_of(part), settings)
    found = [ruling for check in JOB_CHECKS for ruling in check(piece, settings)]
    return [(r.code, r.found and round(r.found, 2), r.asked and round(r.asked, 2)) for r in found]


def drilled(section, *holes, length=500.0, **more):
    return member(section, length, holes=tuple(holes), **more)


@pytest.mark.parametrize("end", ["left", "right"])
@pytest.mark.parametrize(("x", "found"), [(21.6, []), (21.5, [("hole-end-distance", 21.5, 21.6)])])
def test_end_distance(end, x, found):
    assert rulings(drilled(L100, hole("A", x if end == "left" else 500 - x, 50))) == found


@pytest.mark.parametrize(("across", "found"), [(78.4, []), (78.5, [("hole-edge-distance", 21.5, 21.6)])])
def test_edge_distance_to_the_toe_only(across, found):
    assert rulings(drilled(L100, hole("A", 100, across))) == found
    # The heel is no edge: a hole beside it has steel all the way.
    assert rulings(drilled(L100, hole("A", 100, 17.5))) == []


def test_flanges_have_edges_and_webs_have_none():
    assert rulings(drilled(IPE200, hole("web", 100, 20))) == []
    assert rulings(drilled(IPE200, hole("top", 100, 35))) == [("hole-edge-distance", 15.0, 21.6)]
    assert rulings(drilled(IPE200, hole("top", 100, -35))) == [("hole-edge-distance", 15.0, 21.6)]
    assert rulings(drilled(U160, hole("bottom", 100, 45))) == [("hole-edge-distance", 20.0, 21.6)]
    # Every wall of a hollow section goes on round its corners.
    assert rulings(drilled(RHS120, hole("front", 100, 15))) == []
    for face, across in (("front", 105), ("top", 15), ("top", 65), ("bottom", 65)):
        assert rulings(drilled(RHS120, hole(face, 100, across))) == []


def test_true_distance_to_a_skew_end():
    # The end leans 45 degrees over leg A: at across 60 the steel begins at x = 60, and a hole 30 further along is
    # 30 / sqrt 2 = 21.2 mm from the cut, though 90 from the extreme end.
    part = drilled(L100, hole("A", 90, 60), left=(skew(0, 45, end="left", toward=(0.0, 1.0)),))
    assert rulings(part) == [("hole-end-distance", 21.21, 21.6)]


def test_true_distance_to_a_plates_corner():
    # The corner (0, 0) is clipped 60 x 60: from (50, 45) to the cut x + y = 60 is 35 / sqrt 2 = 24.7; a hole of 22
    # wants 26.4.
    corners = ((60, 0), (200, 0), (200, 150), (0, 150), (0, 60))
    assert rulings(plate(corners, holes=(hole("face", 50, 45, 22),))) == [("hole-edge-distance", 24.75, 26.4)]
    assert rulings(plate(corners, holes=(hole("face", 60, 45, 22),))) == []


def test_a_slot_is_measured_from_its_ends_and_its_axis():
    # 18 x 40 along the piece: the slot's end lies 11 mm nearer to the end of the piece than its middle.
    part = drilled(FL100, hole("face", 37, 50, kind="slot", slot_length=40.0))
    assert rulings(part) == [("hole-end-distance", 26.0, 27.0)]
    assert rulings(drilled(FL100, hole("face", 38, 50, kind="slot", slot_length=40.0))) == []


@pytest.mark.parametrize(
    ("second", "found"),
    [
        ((139.6, 50), []),
        ((139.5, 50), [("hole-pitch", 39.5, 39.6)]),
        ((100, 50 - 43.2), []),
        ((100, 50 - 43.1), [("hole-pitch", 43.1, 43.2)]),
    ],
)
def test_pitch_along_and_across(second, found):
    wide = shapes.flat(150, 10)
    assert rulings(drilled(wide, hole("face", 100, 75), hole("face", second[0], second[1] + 25))) == found


def test_a_plate_does_not_tell_which_way_it_is_loaded():
    square = ((0, 0), (200, 0), (200, 200), (0, 200))
    assert rulings(plate(square, holes=(hole("face", 100, 50), hole("face", 100, 90)))) == []


@pytest.mark.parametrize(
    ("own", "found"),
    [
        ({"end_mm": {"M16": 45.0}}, [("hole-edge-distance", 40.0, 45.0)]),
        ({"edge_mm": {"M16": 45.0}}, [("hole-edge-distance", 40.0, 45.0)]),
        ({"end_mm": {"M16": 45.0}, "edge_mm": {"M16": 35.0}}, []),
    ],
)
def test_a_plate_is_held_against_the_clients_end_distance_too(own, found):
    square = ((0, 0), (200, 0), (200, 200), (0, 200))
    settings = Settings(distances=DistanceSettings(rule="own", **own))
    piece = finish_holes(piece_of(plate(square, holes=(hole("face", 100, 40),))), settings)
    piece = replace(piece, holes=tuple(replace(h, bolt="M16") for h in piece.holes))
    got = [(r.code, r.found, r.asked) for check in JOB_CHECKS for r in check(piece, settings)]
    assert got == found


def test_greatest_edge_distance_is_off_by_default():
    part = drilled(shapes.flat(300, 10), hole("face", 100, 100))
    assert rulings(part) == []
    on = Settings(distances=DistanceSettings(maximum=True))
    assert {code for code, _, _ in rulings(part, on)} == {"hole-edge-maximum"}


def test_holes_that_are_no_bolts_are_not_asked_about():
    part = drilled(L100, hole("A", 15, 50, 14.0), at=member(L100, 1).frame)
    other = member(FL100, 200, at=part.frame)
    assert rulings(other) == []
    bolted = fastener(bolt_in(part, "A", 60, 50))
    takeoff = work_out(model([part], [bolted]), Settings())
    # The bolt's own hole is right; the one of 14 mm at the end has no bolt.
    assert "hole-end-distance" not in {q.code for q in takeoff.queries}


def test_a_hole_without_its_bolt_is_held_against_the_rules_beside_bolted_ones():
    """Two holes 25 apart leave 7 mm of steel between them, whichever of their bolts the model draws."""
    part = drilled(L100, hole("A", 15, 50, 18.0), hole("A", 85, 50, 18.0), at=member(L100, 1).frame)
    bolted = fastener(bolt_in(part, "A", 60, 50))
    codes = {q.code for q in work_out(model([part], [bolted]), Settings()).queries}
    assert {"hole-end-distance", "hole-pitch"} <= codes


@pytest.mark.parametrize(
    ("bolt", "diameter", "code", "said"),
    [
        (16.0, 18.0, None, ""),
        (16.0, 16.0, "hole-without-clearance", "M16 in 16 mm (normal 18,"),
        (16.0, 16.3, "hole-without-clearance", "M16 in 16.3 mm"),
        (16.0, 19.0, "hole-of-no-class", "M16 in 19 mm (normal 18,"),
        (17.3, 19.0, "hole-of-no-class", "d 17.3 in 19 mm (the bolt is of no nominal size)"),
    ],
)
def test_a_hole_that_does_not_suit_its_bolt_is_asked_about(bolt, diameter, code, said):
    one, two = member(FL100, 400), member(FL100, 400, at=frame((0, 10, 0)))
    fixed = fastener(bolt_in(one, "face", 100, 50), diameter=bolt, hole_diameter=diameter)
    asked = {q.code: q.message for q in work_out(model([one, two], [fixed]), Settings()).queries}
    found = {c: m for c, m in asked.items() if c in ("hole-without-clearance", "hole-of-no-class")}
    assert set(found) == ({code} if code else set())
    assert said in found.get(code, "")


@pytest.mark.parametrize(
    ("holes", "diameter", "said"),
    [
        ({}, 18.0, None),
        ({}, 17.5, None),  # a tower's hole is one of the classes, and nothing in the settings speaks against it
        ({"towers": True}, 17.5, None),
        ({"towers": True}, 18.0, "M16 in 18 mm is normal, 17.5 asked"),
        ({"clearance_mm": {"M16": 1.5}}, 18.0, "M16 in 18 mm is normal, 17.5 asked"),
        ({"clearance_mm": {"M16": 1.5}}, 17.5, None),
        ({"clearance_mm": {"M20": 1.5}}, 18.0, None),
        ({"towers": True}, None, None),  # by the rule
    ],
)
def test_the_models_holes_are_held_against_what_the_job_asks(holes, diameter, said):
    one, two = member(FL100, 400), member(FL100, 400, at=frame((0, 10, 0)))
    fixed = fastener(bolt_in(one, "face", 100, 50), hole_diameter=diameter)
    takeoff = work_out(model([one, two], [fixed]), Settings(holes=HoleSettings(**holes)))
    found = [q.message for q in takeoff.queries if q.code == "hole-unlike-the-job"]
    assert len(found) == (said is not None)
    assert not said or said in found[0]


# ---------------------------------------------------------------- the bath


def test_hollow_parts_want_vents_when_they_are_galvanised():
    dipped = Settings(zinc=ZincSettings(parts="all"))
    assert [code for code, _, _ in rulings(member(RHS120, 900), dipped)] == ["hollow-no-vent"]
    assert rulings(drilled(RHS120, hole("front", 100, 60)), dipped) == []
    assert rulings(member(RHS120, 900)) == []  # nothing says that it is galvanised
    assert [c for c, _, _ in rulings(member(RHS120, 900, finish="galvanised"))] == ["hollow-no-vent"]


def test_longer_than_the_bath():
    dipped = Settings(zinc=ZincSettings(parts="all", bath_mm=7000.0))
    assert rulings(member(L100, 7001), dipped) == [("longer-than-bath", 7001.0, 7000.0)]
    assert rulings(member(L100, 7000), dipped) == []


# ---------------------------------------------------------------- gathering


def test_one_query_a_cause_with_the_worst_of_it():
    found = [
        ("A10", Ruling("hole-end-distance", "the rule", "hole A1", 20.0, 21.6)),
        ("A2", Ruling("hole-end-distance", "the rule", "hole A3", 15.0, 21.6)),
        ("A2", Ruling("hole-end-distance", "another rule", "hole A4", 20.0, 26.4)),
    ]
    severity = Settings().checks.severity
    other, one = gathered(found, {"A2": ("g2",), "A10": ("g10", "g11")}, severity)
    assert one.message == (
        "Holes nearer to the end than the rule asks: 2 (A2, A10). Worst: hole A3 of A2, 15 mm found, 21.6 mm asked."
    )
    assert (one.severity, one.piece_mark, one.global_ids) == ("check", "", ("g2", "g10", "g11"))
    assert (other.piece_mark, other.global_ids) == ("A2", ("g2",))
    assert gathered(found[::-1], {"A2": ("g2",), "A10": ("g10", "g11")}, severity) == [other, one]


def test_marks_are_named_in_a_persons_order():
    assert named(["A10", "A2", "A2"]) == "A2, A10"
    assert named([f"P{n}" for n in range(1, 13)]).endswith("P8 and 4 more")


@pytest.mark.parametrize(("what", "status"), [("off", "listed"), ("assumed", "listed"), ("hold", "held")])
def test_a_check_is_switched_by_its_code(what, status):
    part = drilled(L100, hole("A", 15, 50))
    severity = {**Settings().checks.severity, "hole-end-distance": what}
    takeoff = work_out(model([part]), Settings(checks=CheckSettings(severity)))
    found = [q.severity for q in takeoff.queries if q.code == "hole-end-distance"]
    assert found == ([] if what == "off" else [what])
    assert (takeoff.pieces[0].status, takeoff.member_status[0]) == (status, status)


def test_what_holds_is_said_on_the_piece_only_where_it_is_found():
    wrong, right = drilled(L100, hole("A", 15, 50)), drilled(L100, hole("A", 40, 50))
    settings = Settings(checks=CheckSettings({**Settings().checks.severity, "hole-end-distance": "hold"}))
    pieces = [replace(finish_holes(piece_of(p), settings), mark=m) for p, m in ((wrong, "A1"), (right, "A2"))]
    asked, held, remarks = check_job(pieces, {"A1": (wrong.global_id,), "A2": (right.global_id,)}, settings)
    assert [q.code for q in asked] == ["hole-end-distance"]
    assert held == {"A1": [asked[0].message]}
    assert remarks == {"A1": ("hole A1: 15 mm from the end, 21.6 asked (EN 1993-1-8 Table 3.3, 1.2 d0)",)}


def test_every_switchable_check_is_a_query_with_that_severity():
    assert {code: KINDS[code].severity for code in ADJUSTABLE_CHECKS} == dict(ADJUSTABLE_CHECKS)
    assert set(REMARKS) == {c for c in ADJUSTABLE_CHECKS if not c.startswith("bolt-")}
    assert "hold" not in ADJUSTABLE_CHECKS.values()  # nothing of them holds a piece unless the shop says so
