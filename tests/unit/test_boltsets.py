"""What each bolt is ordered with: the model's length held against the rule's, zones, the order list."""

from dataclasses import replace

import pytest
from steelwork import FL100, bolt, bolt_in, fastener, frame, member, model

from takeoff.pipeline import work_out
from takeoff.sections.tables import by_designation
from takeoff.settings import BoltSettings, CheckSettings, Settings


def joint(number=1, *, z=0.0, thick=FL100, **more):
    """Two flats 10 mm thick, bolted together by one entity of ``number`` bolts M16."""
    one = member(thick, 400, at=frame((0, 0, z)))
    two = member(thick, 400, at=frame((0, 10, z)))
    bolts = [bolt_in(one, "face", 60.0 * (k + 1), 50) for k in range(number)]
    return [one, two], fastener(*bolts, **more)


def ordered(parts, *fixed, bolts=None, **settings):
    takeoff = work_out(model(parts, fixed), Settings(bolts=bolts or BoltSettings(), **settings))
    return takeoff, {q.code: q for q in takeoff.queries if q.code.startswith("bolt-length")}


def test_a_length_is_chosen_where_the_model_has_none():
    parts, fixed = joint(3)
    takeoff, asked = ordered(parts, fixed)
    (line,) = takeoff.bolt_lines
    # 20 + 3 + 14.8 + 2 = 39.8.
    assert (line.length, line.standard, line.length_source, line.quantity) == (40, "ISO 4017", "rule", 3)
    assert line.weight > 0
    assert asked["bolt-length-chosen"].severity == "assumed"
    assert asked["bolt-length-chosen"].message.startswith("3 bolts state no length")
    assert "bolt-length-not-stated" not in asked
    assert [(r.length, r.rule_length, r.length_source) for r in takeoff.bolt_rows] == [(40, 40, "rule")]
    assert takeoff.length_example.startswith("M16: grip 20 + washer 3 + nut 14.8 + one pitch 2 = 39.8")


@pytest.mark.parametrize(
    ("length", "code"),
    [
        (40, None),
        (39.8, None),
        (39.7, "bolt-length-short"),
        (35, "bolt-length-short"),
        (55, None),
        (60, "bolt-length-long"),
    ],
)
def test_a_stated_length_is_compared(length, code):
    parts, fixed = joint(2, length=float(length), standard="ISO 4017")
    takeoff, asked = ordered(parts, fixed)
    assert set(asked) == ({code} if code else set())
    (line,) = takeoff.bolt_lines
    assert (line.length, line.length_source) == (length, "model")
    if code:
        assert f"M16 x {length:g} through 20 mm, by the rule 40 (2)" in asked[code].message


def test_the_rules_length_is_ordered_where_the_settings_say_so():
    parts, fixed = joint(2, length=35.0, standard="ISO 4017")
    takeoff, asked = ordered(parts, fixed, bolts=BoltSettings(length="rule"))
    assert [(b.length, b.length_source) for b in takeoff.bolt_lines] == [(40, "rule")]
    assert "bolt-length-short" in asked  # it is still told that the model says otherwise


def test_the_nut_on_the_shank_is_told():
    # ISO 4014 M16 x 80 has 42 mm of plain shank: through 20 the nut never clamps.
    parts, fixed = joint(1, length=80.0, standard="ISO 4014")
    _, asked = ordered(parts, fixed)
    assert "the nut meets the plain shank" in asked["bolt-length-long"].message


def test_the_nut_on_the_shank_is_told_by_the_shops_standard_where_the_model_names_none():
    # As above; the standard is the shop's, which the question says.
    parts, fixed = joint(1, length=80.0)
    _, asked = ordered(parts, fixed, bolts=BoltSettings(standard="ISO 4014"))
    said = asked["bolt-length-long"].message
    assert "plain shank if it is ISO 4014, which the model does not say" in said


def test_a_stated_length_is_held_against_the_clients_shear_planes():
    # Two flats of 10: the last plane lies 10 under the head; an ISO 4017 has its thread there whatever its length.
    parts, fixed = joint(2, length=40.0, standard="ISO 4017")
    assert "bolt-thread-in-shear" not in {q.code for q in ordered(parts, fixed)[0].queries}
    takeoff, _ = ordered(parts, fixed, bolts=BoltSettings(threads_out_of_shear=True))
    (asked,) = [q for q in takeoff.queries if q.code == "bolt-thread-in-shear"]
    assert "2 bolts have theirs in one: M16 x 40 through 20 mm, as ISO 4017 (2)" in asked.message
    # DIN 7990 M16 x 50 has 50 - 21 = 29 plain (thread length from memory).
    parts, fixed = joint(1, length=50.0, standard="DIN 7990")
    takeoff, _ = ordered(parts, fixed, bolts=BoltSettings(threads_out_of_shear=True))
    assert "bolt-thread-in-shear" not in {q.code for q in takeoff.queries}


def test_an_inch_grip_is_not_rounded_past_a_quarter_inch():
    # 3/4 in through two plies of 27/64 in: 27/32 + 1 + 5/32 = 2 in to the point.
    thick = replace(FL100, tw=27 / 64 * 25.4, b=27 / 64 * 25.4)
    one, two = member(thick, 400), member(thick, 400, at=frame((0, thick.tw, 0)))
    takeoff, _ = ordered([one, two], fastener(bolt_in(one, "face", 60, 50), diameter=19.05))
    assert takeoff.bolt_lines[0].length == pytest.approx(50.8)
    assert "grip 0.844 + add 1 + 1 flat washer 5/32 = 2.000 in" in takeoff.length_example


def test_no_rule_no_length():
    parts, fixed = joint(2, standard="EN 14399-4")
    takeoff, asked = ordered(parts, fixed)
    assert takeoff.bolt_lines[0].length is None
    assert "Table A.1" in asked["bolt-length-no-rule"].message
    assert "bolt-length-not-stated" in asked
    off = CheckSettings({**Settings().checks.severity, "bolt-length-no-rule": "off"})
    assert "bolt-length-no-rule" not in ordered(parts, fixed, checks=off)[1]


def test_a_bolt_through_one_part_gets_no_length():
    parts, fixed = joint(1)
    takeoff, asked = ordered(parts[:1], fixed)
    assert takeoff.bolt_lines[0].length is None
    assert set(asked) == {"bolt-length-not-stated"}


@pytest.mark.parametrize("kind", ["anchor", "rod", "stud"])
def test_only_bolts_get_a_length_by_their_grip(kind):
    parts, fixed = joint(1, kind=kind)
    takeoff, asked = ordered(parts, fixed)
    assert asked == {}
    assert [(r.length, r.rule_length) for r in takeoff.bolt_rows] == [(None, None)]


def test_bolts_of_one_entity_may_clamp_differently():
    one, two = member(FL100, 400), member(FL100, 100, at=frame((0, 10, 0)))
    thick = member(replace(FL100, tw=20.0, b=20.0), 200, at=frame((200, 10, 0)))
    fixed = fastener(bolt_in(one, "face", 50, 50), bolt_in(one, "face", 300, 50))
    takeoff, _ = ordered([one, two, thick], fixed)
    assert sorted((b.length, b.quantity) for b in takeoff.bolt_lines) == [(40, 1), (50, 1)]
    assert sorted((r.grip, r.length) for r in takeoff.bolt_rows) == [(20, 40), (30, 50)]


@pytest.mark.parametrize(
    ("zone", "more", "nuts"),
    [
        ("site", {"place": "site"}, 2),
        ("site", {"place": "shop"}, 1),
        ("above 900", {"z": 1000.0}, 2),
        ("above 1200", {"z": 1000.0}, 1),
        ("below 1200", {"z": 1000.0}, 2),
    ],
)
def test_other_sets_in_a_zone(zone, more, nuts):
    parts, fixed = joint(1, **more)
    takeoff, _ = ordered(parts, fixed, bolts=BoltSettings(sets={zone: "2 nuts 2 washers 1 spring"}))
    (line,) = takeoff.bolt_lines
    assert (line.nuts, line.washers, line.springs) == ((2, 2, 1) if nuts == 2 else (1, 1, 0))
    # 20 + 2 x 3 + 3.5 + 2 x 14.8 + 2 = 61.1.
    assert line.length == (65 if nuts == 2 else 40)
    told = {q.code: q.message for q in takeoff.queries}
    assert told["nuts-washers-assumed"].endswith("; in the zones of bolts.sets what they say.")
    assert ("washers-not-weighed" in told) is (nuts == 2)


def test_a_sloped_flange_takes_a_taper_washer():
    channel = member(by_designation()["UPN140"], 400)
    flat = member(FL100, 300, at=frame((50, 85, -10), u=(0.0, 0.0, 1.0), x=(1.0, 0.0, 0.0)))
    # Along +z: up through the flat and the bottom flange, the nut inside on the slope.
    up, down = bolt((150.0, 35.0, -10.0), (0, 0, 1)), bolt((150.0, 35.0, 10.0), (0, 0, -1))
    for fixed in (up, down):
        takeoff, _ = ordered([channel, flat], fastener(fixed))
        assert len(takeoff.passages[0].plies) == 2
        assert takeoff.bolt_lines[0].tapers == 1


def test_shop_and_site_on_the_order_list():
    parts, fixed = joint(3, place="shop")
    more, others = joint(2, z=500.0, place="site")
    takeoff, _ = ordered([*parts, *more], fixed, others)
    (line,) = takeoff.bolt_lines
    assert (line.quantity, line.shop, line.site, line.spare, line.to_order) == (5, 3, 2, 2, 7)


def test_sets_weigh_the_same_in_the_list_and_in_the_assemblies():
    parts, fixed = joint(3)
    more, others = joint(2, z=500.0, length=45.0, nuts=2)
    takeoff, _ = ordered([*parts, *more], fixed, others)
    assert sum(a.bolt_weight * a.quantity for a in takeoff.assemblies) == pytest.approx(
        sum(line.weight for line in takeoff.bolt_lines)
    )
