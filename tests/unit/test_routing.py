"""The way of a piece through the shop: what the line does, what it does not and why."""

import pytest
from steelwork import IPE200, L100, U160, hole, member, model, plate, rectangle, skew

from takeoff.pipeline import work_out
from takeoff.routing import STATIONS, hole_off_line
from takeoff.rules.wording import routing_words
from takeoff.sections import shapes
from takeoff.settings import BarSettings, LineSettings, PunchingSettings, Settings
from takeoff.steel import Notch

L60 = shapes.angle(60, 60, 6)


def made(part, **settings):
    (piece,) = work_out(model([part]), Settings(**settings)).pieces
    return piece


def drilled(section, *holes, length=500.0, **more):
    return member(section, length, holes=tuple(holes), **more)


def test_an_angle_is_sheared_stamped_and_punched_on_the_line():
    piece = made(drilled(L100, hole("A", 100, 55), hole("B", 100, 55)))
    assert routing_words(piece) == "shear 2; stamp 1; punch 2"
    assert piece.off_line == ()


@pytest.mark.parametrize(
    ("settings", "words", "said"),
    [
        ({"line": LineSettings(stamps=False)}, "shear 2; stamp 1; punch 1", ""),
        ({"line": LineSettings(rack_mm=(14.0,))}, "shear 2; stamp 1; drill 1", "No punch of 18 mm in the rack."),
        ({"line": LineSettings(force_kn=200.0)}, "shear 2; stamp 1; drill 1", "needs 228 kN"),
        ({"line": LineSettings(end_mm=101.0)}, "shear 2; stamp 1; drill 1", "nearer to the end than 101"),
        ({"line": LineSettings(heel_mm=50.0, heel_special_mm=40.0)}, "shear 2; stamp 1; punch 1", ""),
        ({"line": LineSettings(heel_mm=50.0, heel_special_mm=48.0)}, "shear 2; stamp 1; drill 1", "from the heel"),
        ({"line": LineSettings(longest_mm=400.0)}, "elsewhere 1; stamp 1; punch 1", "longer than the 400 mm"),
        ({"line": LineSettings(shortest_mm=600.0)}, "elsewhere 1; stamp 1; punch 1", "shorter than the 600 mm"),
        ({"line": LineSettings(angle_largest="90x90x12")}, "elsewhere 1; stamp 1; punch 1", "largest angle, 90x90x12"),
        ({"punching": PunchingSettings(execution_class="EXC3")}, "shear 2; stamp 1; punch 1; ream 1", ""),
        ({"punching": PunchingSettings(thickness_mm={"S": 7.0})}, "shear 2; stamp 1; drill 1", "thicker than 7 mm"),
    ],
)
def test_what_the_line_cannot_do(settings, words, said):
    piece = made(drilled(L100, hole("A", 100, 55), grade="S355J2"), **settings)
    assert routing_words(piece) == words
    assert said in " ".join(piece.off_line)
    assert bool(piece.off_line) is bool(said)


def test_how_the_mark_gets_on():
    def stamps(part, **settings):
        return [s.why for s in made(part, **settings).routing if s.station == "stamp"]

    assert stamps(member(L100, 500)) == [""]
    assert stamps(member(L100, 500), line=LineSettings(stamps=False)) == ["by hand"]
    assert stamps(plate(rectangle(300, 200))) == ["by hand"]
    assert stamps(plate(rectangle(20, 20))) == ["no clear place: hang a tag on it"]


def test_the_special_punch_is_said():
    piece = made(drilled(L60, hole("A", 100, 20, 12.0)))
    assert [(s.station, s.why) for s in piece.routing][-1] == ("punch", "special punch near the heel")


def test_more_sizes_than_punches_in_a_head():
    holes = [hole("A", 100 * k, 55, 14.0 + k) for k in range(1, 5)]
    assert "4 sizes of hole (15, 16, 17, 18)" in " ".join(made(drilled(L100, *holes)).off_line)
    assert made(drilled(L100, *holes), bars=BarSettings(punches_per_head=4)).off_line == ()
    # Each leg has its own head.
    both = [hole(face, 100 * k, 55, 14.0 + k) for face, k in (("A", 1), ("A", 2), ("B", 3), ("B", 4))]
    assert made(drilled(L100, *both)).off_line == ()


def test_a_line_with_one_head_runs_twice_for_two_legs():
    one, both = [hole("A", 100, 55)], [hole("A", 100, 55), hole("B", 200, 55)]
    single = LineSettings(heads=1)
    assert made(drilled(L100, *one), line=single).off_line == ()
    assert "one head" in made(drilled(L100, *both), line=single).off_line[0]
    assert made(drilled(L100, *both)).off_line == ()


def test_holes_too_near_for_two_strokes():
    close = drilled(L100, hole("A", 100, 55), hole("A", 129, 55))
    assert "nearer to each other than 30" in " ".join(made(close, line=LineSettings(between_mm=30.0)).off_line)


def test_two_holes_too_near_with_one_of_another_line_between_them():
    # In order along the piece the hole on the other line stands between the two.
    close = drilled(L100, hole("A", 100, 40), hole("A", 112, 80), hole("A", 124, 40))
    assert "nearer to each other than 30" in " ".join(made(close, line=LineSettings(between_mm=30.0)).off_line)
    assert made(close, line=LineSettings(between_mm=24.0)).off_line == ()


def test_a_slot_is_as_near_to_the_end_as_its_last_hit():
    # 18 x 40: its ends' centres lie 11 to both sides of its middle.
    part = drilled(L100, hole("A", 60, 55, kind="slot", slot_length=40.0))
    assert "nearer to the end" in " ".join(made(part, line=LineSettings(end_mm=49.5)).off_line)
    assert made(part, line=LineSettings(end_mm=49.0)).off_line == ()


def test_slots_are_not_reamed():
    part = drilled(L100, hole("A", 100, 55, kind="slot", slot_length=40.0), grade="S355J2")
    piece = made(part, punching=PunchingSettings(execution_class="EXC3"))
    assert routing_words(piece) == "shear 2; stamp 1; drill 1"
    assert "a slot is not reamed" in piece.off_line[0]
    assert piece.holes[0].punch_mm == 0


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        (rectangle(300, 200), "sheared or cut by flame"),
        (((0, 0), (300, 0), (300, 200), (40, 200), (0, 160)), "sheared or cut by flame"),
        (((0, 0), (300, 0), (300, 200), (150, 200), (150, 100), (0, 100)), "cut by flame or saw"),
        (((0, 0), (300, 0, 0.4), (300, 200), (0, 200)), "cut by flame or saw"),
    ],
)
def test_what_makes_a_plate_instead_of_the_line(corners, words):
    piece = made(plate(corners, holes=(hole("face", 60, 50), hole("face", 100, 50, 8.0))))
    (why,) = piece.off_line
    assert why == f"A plate: {words} to its outline; holes: punched, drilled on a plate machine."
    assert [(s.station, s.each) for s in piece.routing if s.station in ("punch", "drill")] == [
        ("punch", 1),
        ("drill", 1),
    ]
    assert made(plate(corners)).off_line == (f"A plate: {words} to its outline.",)


def test_a_slot_is_hit_repeatedly():
    piece = made(drilled(L100, hole("A", 100, 55, kind="slot", slot_length=40.0)))
    assert routing_words(piece) == "shear 2; stamp 1; slot 4"
    piece = made(drilled(L100, hole("A", 100, 55, kind="slot", slot_length=40.0)), line=LineSettings(slots=False))
    assert routing_words(piece) == "shear 2; stamp 1; cut opening 1"


def test_flanges_of_channels_and_other_sections():
    piece = made(drilled(U160, hole("web", 100, 80), hole("top", 100, 40)))
    assert routing_words(piece) == "shear 2; stamp 1; punch 1; drill 1"
    assert "flanges of channels" in piece.off_line[0]
    piece = made(drilled(IPE200, hole("web", 100, 100)))
    assert routing_words(piece) == "elsewhere 1; stamp 1; punch 1"
    assert piece.off_line == ("The line takes angles, flats and channels.",)


def test_thick_steel_is_drilled():
    thick = drilled(shapes.angle(150, 150, 18), hole("A", 100, 75, 14.0))
    piece = made(thick)
    assert routing_words(piece) == "shear 2; stamp 1; drill 1"
    assert piece.off_line == (
        "Drilled: 14 mm in 18 mm: thicker than the hole is wide (EN 1090-2, 6.6.3, from memory).",
    )
    sunk = drilled(L100, hole("A", 100, 55, kind="countersunk"))
    assert made(sunk).off_line == ("Countersunk holes are drilled.",)


def test_ends_and_edges():
    part = member(
        L100,
        500,
        left=(skew(0, 20, end="left"),),
        notches=(Notch("B", ((460.0, 60.0), (500.0, 60.0), (500.0, 100.0), (460.0, 100.0))),),
    )
    piece = made(part)
    assert {"skew", "notch"} <= {s.station for s in piece.routing}
    assert piece.off_line == ("Its skew ends are cut off the line.",)
    assert made(part, line=LineSettings(skew=True)).off_line == ()


def test_the_list_of_the_stations():
    parts = [drilled(L100, hole("A", 100, 55), mark="K1"), drilled(L100, hole("A", 100, 55), mark="K1")]
    parts.append(plate(rectangle(200, 150), holes=(hole("face", 50, 50),), mark="K2"))
    takeoff = work_out(model(parts), Settings())
    rows = [(r.station, r.mark, r.quantity, r.each) for r in takeoff.stations]
    assert rows == [
        ("elsewhere", "K2", 1, 1), ("shear", "K1", 2, 2), ("stamp", "K1", 2, 1), ("stamp", "K2", 1, 1),
        ("punch", "K1", 2, 1), ("punch", "K2", 1, 1),
    ]  # fmt: skip
    net = {p.mark: p.net * p.quantity for p in takeoff.pieces}
    assert all(row.weight == net[row.mark] for row in takeoff.stations)
    assert [STATIONS.index(r.station) for r in takeoff.stations] == sorted(STATIONS.index(r[0]) for r in rows)


def test_the_assumed_line_is_told_only_where_it_decides():
    fits, does_not = member(L100, 500), member(shapes.angle(200, 200, 20), 500)

    def told(part, **settings):
        return [q.code for q in work_out(model([part]), Settings(**settings)).queries if q.code == "line-assumed"]

    assert told(fits) == []
    assert told(does_not) == ["line-assumed"]
    assert told(does_not, line=LineSettings(shortest_mm=61.0)) == []


@pytest.mark.parametrize(
    ("section", "holes", "settings", "words"),
    [
        (L100, (hole("A", 100, 55), hole("A", 200, 18)), {}, ["nearer than the special punch"]),
        (L100, (hole("A", 100, 55), hole("B", 300, 55, 22.0)), {"rack_mm": (18.0,)}, ["no punch of 22 mm"]),
        (L100, (hole("A", 100, 55, kind="slot", slot_length=40.0),), {}, []),
        (L100, (hole("A", 100, 55, kind="slot", slot_length=40.0),), {"slots": False}, ["makes no slots"]),
        (L100, (hole("A", 100, 55, kind="countersunk"),), {}, ["countersunk holes are drilled"]),
        (L100, (hole("A", 100, 55),), {"force_kn": 100.0}, ["more than the line's 100 kN"]),
        (L100, (hole("A", 100, 55),), {"end_mm": 101.0}, ["nearer to the end"]),
        (U160, (hole("web", 100, 80), hole("top", 200, 40)), {}, ["flanges of channels"]),
        # Another machine's pieces keep all their holes.
        (IPE200, (hole("top", 100, 40), hole("web", 100, 100, kind="slot", slot_length=40.0)), {"slots": False}, []),
        (L100, (hole("A", 100, 19),), {"longest_mm": 400.0}, []),
        (L100, (hole("A", 100, 55), hole("A", 120, 55)), {"between_mm": 30.0}, []),
    ],
)
def test_why_the_line_does_not_make_a_hole(section, holes, settings, words):
    rules = Settings(line=LineSettings(**settings))
    (piece,) = work_out(model([drilled(section, *holes)]), rules).pieces
    found = [why for h in piece.holes if (why := hole_off_line(piece, h, rules))]
    assert len(found) == len(words)
    assert all(part in why for part, why in zip(words, found, strict=True))
    # What the line leaves is what other stations have to do.
    if found:
        others = sum(s.each for s in piece.routing if s.station in ("drill", "cut opening"))
        assert others == len(found)
