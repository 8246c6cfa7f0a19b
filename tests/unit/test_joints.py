"""Where pieces meet: room for nuts and tools, an angle in another, legs that are opened, stamps."""

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from steelwork import FL100, FRAME, L100, bolt, bolt_in, fastener, frame, hole, member, model, plate, rectangle

from takeoff.joints.clearances import NEAR_MM, parts_of, room_to_root, socket
from takeoff.joints.plies import table
from takeoff.pipeline import work_out
from takeoff.rules.wording import bend_words, grind_words
from takeoff.sections import shapes
from takeoff.sections.tables import by_designation
from takeoff.settings import BoltSettings, ClearanceSettings, Settings, StampSettings
from takeoff.steel import Frame

L100X10 = by_designation()["L100x100x10"]
L90X8 = by_designation()["L90x90x8"]


def done(parts, fasteners=(), settings=None):
    takeoff = work_out(model(parts, fasteners), settings or Settings())
    return takeoff, {takeoff.member_marks[i]: None for i in range(len(parts))}


def piece_of(takeoff, part):
    index = takeoff.model.members.index(part)
    return next(p for p in takeoff.pieces if index in p.members)


def asked(takeoff, code):
    return [q.message for q in takeoff.queries if q.code == code]


# ---------------------------------------------------------------- plies


def test_a_ply_knows_its_face_and_the_way_of_its_bolt():
    part = member(L100, 500)
    inward, outward = bolt_in(part, "A", 100, 60), bolt((300.0, 40.0, 8.0), (0, 0, -1))
    takeoff, _ = done([part], [fastener(inward), fastener(outward)])
    plies = table(takeoff.pieces, takeoff.passages, takeoff.model.fasteners)
    piece = takeoff.pieces[0]
    found = sorted((piece.faces[f].name, round(a, 3), i) for f, a, i in zip(plies.face, plies.across, plies.inward))  # noqa: B905
    assert sorted((a, i) for _, a, i in found) == [(40, -1), (60, 1)]
    assert {name for name, _, _ in found} == {"A", "B"}


# ---------------------------------------------------------------- beside the root


@pytest.mark.parametrize(("across", "found"), [(36.1, False), (35.9, True)])
def test_a_washer_beside_the_root(across, found):
    # L 100x100x10: the root begins 10 + 12 = 22 from the heel; a washer of M16 is 30 across and may lie 1 mm over it.
    angle, flat = member(L100X10, 500), member(FL100, 400, at=frame((20, -10, 0)))
    takeoff, _ = done([angle, flat], [fastener(bolt_in(angle, "A", 200, across, head=10.0))])
    assert len(takeoff.passages[0].plies) == 2
    assert bool(asked(takeoff, "washer-on-fillet")) is found


def test_a_head_outside_lies_on_no_root():
    # The other way round: the head is inside, without a washer and 27.7 over corners. A washer would lie on the root.
    angle, flat = member(L100X10, 500), member(FL100, 400, at=frame((20, -10, 0)))
    turned = bolt((200.0, 10.0, 35.0), (0, -1, 0))
    takeoff, _ = done([angle, flat], [fastener(turned)])
    assert len(takeoff.passages[0].plies) == 2
    assert asked(takeoff, "washer-on-fillet") == []


@pytest.mark.parametrize(("across", "found"), [(29.1, False), (28.9, True)])
def test_a_socket_beside_the_other_leg(across, found):
    # M16: 1.25 x 24 + 8 = 38 outside, so 19 mm from the bolt to the inside of the other leg, 10 from the heel.
    angle, flat = member(L100X10, 500), member(FL100, 400, at=frame((20, -10, -20)))
    takeoff, _ = done([angle, flat], [fastener(bolt_in(angle, "A", 200, across, head=10.0))])
    assert bool(asked(takeoff, "socket-at-leg")) is found


def test_room_of_each_section():
    ipe = by_designation()["IPE200"]
    assert room_to_root(ipe, "web", 30.0, False) == pytest.approx((30 - 8.5 - 12, 30 - 8.5))
    assert room_to_root(ipe, "top", -28.0, True) == pytest.approx((28 - 2.8 - 12, 28 - 2.8))
    assert room_to_root(ipe, "top", -28.0, False) is None
    assert room_to_root(L100X10, "B", 55.0, True) == (33, 45)
    assert room_to_root(FL100, "face", 50.0, True) is None


def test_sizes_of_a_bolt_and_its_socket():
    sizes = parts_of(16.0, "ISO 4017")
    assert (sizes.flats, sizes.nut, sizes.washer) == (24, 14.8, 30)
    assert parts_of(17.3, "") is None
    assert socket(16.0, 24, ClearanceSettings()) == 38
    assert socket(16.0, 24, ClearanceSettings(socket_mm={"M16": 34.0})) == 34


# ---------------------------------------------------------------- between the legs


def corner(x_b, across=55.0):
    """An angle with a bolt in each leg through a flat outside, nuts inside; the second bolt at ``x_b``."""
    angle = member(L100X10, 600)
    one = member(FL100, 560, at=frame((20, -10, 0)))
    other = member(
        FL100, 560, at=Frame(np.array([20.0, 100.0, -10.0]), np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]]) * 1.0)
    )
    bolts = (bolt_in(angle, "A", 300, across, head=10.0), bolt_in(angle, "B", x_b, across, head=10.0))
    return [angle, one, other], fastener(*bolts, length=45.0)


def test_the_gap_between_the_nuts_of_two_legs():
    # M16 x 45 through 20: the thread ends 10 + 45 - 20 = 35 from the outside of its leg. The other bolt's thread is
    # 55 - 8 = 47 from there: 12 in both directions, 12 sqrt 2 = 16.97. The nuts (27.8 in, 41.1 away) are farther.
    parts, fixed = corner(300)
    takeoff, _ = done(parts, [fixed])
    piece = piece_of(takeoff, parts[0])
    assert len(takeoff.passages[0].plies) == 2
    assert piece.nut_clearance == 16.97
    assert asked(takeoff, "nuts-meet") == []


def test_a_second_nut_of_the_settings_counts():
    # A second nut reaches 10 + 3 + 2 x 14.8 = 42.6 from the outside; the other bolt's washer (30 wide) is 55 - 15 = 40
    # from there, its nut's corners 55 - 13.86 = 41.14: they meet.
    parts, fixed = corner(300)
    single, _ = done(parts, [fixed])
    double, _ = done(parts, [fixed], Settings(bolts=BoltSettings(sets={"below 9000": "2 nuts 1 washer"})))
    assert piece_of(single, parts[0]).nut_clearance == 16.97
    assert piece_of(double, parts[0]).nut_clearance < 0


def test_nuts_that_meet_are_told_with_the_number():
    parts, fixed = corner(300, across=38.0)
    takeoff, _ = done(parts, [fixed])
    piece = piece_of(takeoff, parts[0])
    assert piece.nut_clearance < 0
    (said,) = asked(takeoff, "nuts-meet")
    assert "M16 in A, M16 in B" in said


def test_bolts_far_along_are_not_near():
    parts, fixed = corner(300 + NEAR_MM + 40, across=38.0)
    takeoff, _ = done(parts, [fixed])
    assert piece_of(takeoff, parts[0]).nut_clearance is None
    staggered, fixed = corner(345, across=38.0)
    takeoff, _ = done(staggered, [fixed])
    # 45 apart along, less half the corners of two nuts, 24 / sqrt 3 each.
    assert piece_of(takeoff, staggered[0]).nut_clearance == pytest.approx(45 - 2 * 24 / 3**0.5, abs=0.01)


# ---------------------------------------------------------------- angle in angle


def nested(off=0.0, inner=L90X8):
    """A long angle and a short one in its corner, from x 100 to 400, bolted through both legs."""
    outer = member(L100X10, 600)
    lying = member(inner, 300, at=frame((100, 10 + off, 10 + off)))
    bolts = (bolt_in(outer, "A", 200, 60), bolt_in(outer, "B", 300, 60))
    return outer, lying, fastener(*bolts, length=45.0)


def test_the_heel_of_an_angle_in_an_angle_is_ground():
    outer, lying, fixed = nested()
    takeoff, _ = done([outer, lying], [fixed])
    assert len(takeoff.passages[0].plies) == 2
    (grind,) = piece_of(takeoff, lying).heel_grinds
    assert (grind.x_from, grind.x_to, grind.radius, grind.members) == (0, 300, 12, 1)
    assert grind_words(piece_of(takeoff, lying)) == "x 0 to 300 to radius 12 or a chamfer of 12 x 45 degrees"
    assert piece_of(takeoff, outer).heel_grinds == ()
    # The station's own list says all that the grinder needs.
    assert [step.why for step in piece_of(takeoff, lying).routing if step.station == "heel grind"] == [
        "x 0 to 300 to radius 12 or a chamfer of 12 x 45 degrees"
    ]


def test_only_what_lies_inside_is_ground():
    outer = member(L100X10, 250)
    lying = member(L90X8, 300, at=frame((100, 10, 10)))
    takeoff, _ = done([outer, lying], [fastener(bolt_in(outer, "A", 200, 60), length=45.0)])
    (grind,) = piece_of(takeoff, lying).heel_grinds
    assert grind.x_to - grind.x_from == 150


def test_a_station_counts_the_pieces_that_need_it():
    """Two alike angles, one inside another and one by itself: one is ground, and the station has one."""
    outer, lying, _ = nested()
    holder = member(FL100, 600, at=frame((0, 5000, 0)))
    alone = member(L90X8, 300, at=frame((100, 5010, 10)))
    holes = fastener(bolt_in(alone, "A", 100, 50, head=10.0), length=45.0)
    alike = fastener(bolt_in(lying, "A", 100, 50, head=10.0), bolt_in(lying, "B", 200, 50, head=10.0), length=45.0)
    other = member(FL100, 300, at=frame((0, 5000, 5000)))
    pair = fastener(bolt_in(alone, "B", 200, 50, head=10.0), length=45.0)
    takeoff, _ = done([outer, lying, holder, alone, other], [alike, holes, pair])
    piece = piece_of(takeoff, lying)
    (grind,) = piece.heel_grinds
    rows = [r for r in takeoff.stations if r.station == "heel grind"]
    assert [(r.mark, r.quantity) for r in rows] == [(piece.mark, grind.members)]
    assert sum(r.weight for r in rows) == pytest.approx(piece.net * grind.members)
    assert grind.members < piece.quantity
    assert "(1 of 2)" in rows[0].why


def test_an_angle_held_off_by_packers_needs_none():
    # 4 mm off in both directions, the corner is (12 - 4) sqrt 2 = 11.3 from the root's centre: inside its 12.
    outer, lying, fixed = nested(off=4.0)
    takeoff, _ = done([outer, lying], [fixed])
    assert piece_of(takeoff, lying).heel_grinds == ()


def test_back_to_back_angles_need_none():
    one = member(L100X10, 600)
    other = member(L100X10, 600, at=frame((0, 0, 0), u=(0.0, 0.0, 1.0)))
    takeoff, _ = done([one, other], [fastener(bolt((300.0, 10.0, 55.0), (0, -1, 0), 45))])
    assert all(p.heel_grinds == () for p in takeoff.pieces)


# ---------------------------------------------------------------- legs opened or closed


@pytest.mark.parametrize(("degrees", "words"), [(1.5, "opened by 1.5"), (-1.5, "closed by 1.5"), (0.9, "")])
def test_a_leg_that_meets_a_leaning_plate(degrees, words):
    """A flat turned about the angle's line: leg A follows it, so the angle between the legs changes by as much."""
    angle = member(L100, 500)
    a = radians(degrees)
    # The flat's normal leans: its far side rises where leg A opens, about the line 55 mm up the leg.
    along, away = np.array([0.0, -sin(a), cos(a)]), np.array([0.0, cos(a), sin(a)])
    origin = np.array([20.0, 0.0, 55.0]) - 50 * along - 10.0 * away
    flat = member(FL100, 400, at=Frame(origin, np.array([[1.0, 0, 0], away, along])))
    takeoff, _ = done([angle, flat], [fastener(bolt_in(angle, "A", 200, 55, head=10.0), length=45.0)])
    assert len(takeoff.passages[0].plies) == 2
    said = bend_words(piece_of(takeoff, angle))
    assert words in said
    assert bool(said) is bool(words)
    # The flat is 400 long and begins at 20: the leg is bent as far as it lies on the leg, not at the bolt alone.
    assert said.startswith("leg A, x 20 to 420: ") or not words


def leaning(degrees, x, length=120):
    """A flat across leg A of an angle at the origin from ``x`` on, leaning by so many degrees."""
    a = radians(degrees)
    along, away = np.array([0.0, -sin(a), cos(a)]), np.array([0.0, cos(a), sin(a)])
    origin = np.array([x, 0.0, 55.0]) - 50 * along - 10.0 * away
    return member(FL100, length, at=Frame(origin, np.array([[1.0, 0, 0], away, along])))


def test_each_end_of_a_brace_is_bent_for_itself():
    brace = member(L100, 2000)
    near, far = leaning(3.0, -40.0), leaning(-2.0, 1900.0)
    bolts = [bolt_in(brace, "A", x, 55, head=10.0) for x in (30, 60, 1930, 1970)]
    takeoff, _ = done([brace, near, far], [fastener(*bolts, length=45.0)])
    said = bend_words(piece_of(takeoff, brace))
    assert said == "leg A, x 0 to 80: opened by 3.0 degrees; leg A, x 1900 to 2000: closed by 2.0 degrees"
    stations = {(s.station, s.why) for s in piece_of(takeoff, brace).routing}
    assert ("flange opening", "leg A, x 0 to 80: opened by 3.0 degrees") in stations
    assert ("flange closing", "leg A, x 1900 to 2000: closed by 2.0 degrees") in stations
    # The same lean at both ends: two spans still, for what lies between is not bent.
    takeoff, _ = done([brace, near, leaning(3.0, 1900.0)], [fastener(*bolts, length=45.0)])
    assert [(b.x_from, b.x_to) for b in piece_of(takeoff, brace).flange_bends] == [(0, 80), (1900, 2000)]
    # Two flats side by side: one span.
    beside = fastener(*bolts[:2], bolt_in(brace, "A", 150, 55, head=10.0))
    takeoff, _ = done([brace, near, leaning(3.0, 80.0)], [beside])
    assert [(b.x_from, b.x_to) for b in piece_of(takeoff, brace).flange_bends] == [(0, 200)]


# ---------------------------------------------------------------- stamps


def test_the_stamp_is_near_the_left_end_on_leg_a():
    part = member(L100, 500, mark="K7")
    takeoff, _ = done([part])
    stamp = takeoff.pieces[0].stamp
    assert (stamp.face, stamp.x, stamp.across, stamp.length) == ("A", 20, 54, 16)


def test_the_stamp_keeps_clear_of_holes_and_ends():
    part = member(shapes.flat(60, 8), 500, mark="K7", holes=(hole("face", 30, 30), hole("face", 90, 30)))
    takeoff, _ = done([part])
    stamp = takeoff.pieces[0].stamp
    for h in takeoff.pieces[0].holes:
        gap = max(stamp.x - (h.x + 9), (h.x - 9) - (stamp.x + stamp.length), abs(h.across - stamp.across) - 9 - 5)
        assert gap >= 5 - 1e-6
    short = member(shapes.flat(60, 8), 30, mark="K7")
    takeoff, _ = done([short])
    assert takeoff.pieces[0].stamp is None
    assert len(asked(takeoff, "stamp-no-place")) == 1


def test_the_stamp_keeps_clear_of_other_plies():
    angle = member(L100, 600, mark="K7")
    gusset = plate(rectangle(200, 150), 8.0, at=frame((0, -8, -10)))
    takeoff, _ = done([angle, gusset], [fastener(bolt_in(angle, "A", 50, 55, head=8.0), length=45.0)])
    stamp = piece_of(takeoff, angle).stamp
    free = stamp.face != "A" or stamp.x >= 200 + StampSettings().clear_mm
    assert free
    # With nothing on it the same face takes the stamp at its end.
    assert done([angle])[0].pieces[0].stamp.x == 20


def test_a_flat_is_stamped_on_the_side_that_shows():
    """A flat on a long angle: one side lies on the angle, the other shows, and the stamp is there."""
    angle = member(L100, 2000)
    flat = member(FL100, 1000, at=frame((20, -10, 0)))
    bolts = [bolt_in(angle, "A", x, 55, head=10.0) for x in (120, 180)]
    takeoff, _ = done([angle, flat], [fastener(*bolts, length=45.0)])
    piece = piece_of(takeoff, flat)
    outside = piece.frames[0].axes[1] @ np.array([0.0, 1.0, 0.0])
    # The near side looks away from u; the angle is on the side of +y.
    assert piece.stamp.far is bool(outside < 0)
    # The angle's own leg A is hidden from x 20 on: leg B takes the stamp at the left end.
    stamp = piece_of(takeoff, angle).stamp
    assert (stamp.face, stamp.x) == ("B", 20)


def test_nothing_turns_with_the_model():
    """Moved and turned in space, the same joints have the same room, grinds and stamps."""
    turn = np.linalg.qr(np.array([[1.0, 0.3, -0.2], [0.1, 1.0, 0.4], [0.3, -0.2, 1.0]]))[0]
    turn *= np.sign(np.linalg.det(turn))
    shift = np.array([51_000.0, -3_000.0, 12_000.0])

    def moved(part):
        at = part.frame
        return replace(part, frame=Frame(at.origin @ turn.T + shift, at.axes @ turn.T))

    def moved_bolts(fixed):
        bolts = tuple(
            bolt((turn @ np.array(b.point) + shift).tolist(), (turn @ np.array(b.direction)).tolist(), b.shank)
            for b in fixed.bolts
        )
        return fixed._replace(bolts=bolts)

    outer, lying, fixed = nested()
    here, _ = done([outer, lying], [fixed])
    there, _ = done([moved(outer), moved(lying)], [moved_bolts(fixed)])
    for a, b in zip(here.pieces, there.pieces, strict=True):
        assert a.heel_grinds == b.heel_grinds
        assert a.stamp == b.stamp
        assert a.nut_clearance == pytest.approx(b.nut_clearance, abs=0.02) if a.nut_clearance else not b.nut_clearance
    assert FRAME.origin.tolist() == [0, 0, 0]
