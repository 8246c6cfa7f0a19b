"""Identity and hand: every position of a shape is one mark, its mirror image another, in any order of the parts."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from steelwork import (
    CHS114,
    FL100,
    IPE200,
    L80X60,
    L100,
    PRISMS,
    RHS120,
    ROUNDS,
    T100,
    U160,
    hole,
    holes_of,
    member,
    mirrored,
    moved,
    places,
    plate,
    rotation,
    skew,
    vectors,
)

from takeoff.holes import find_holes
from takeoff.identity import agreement
from takeoff.marks import mark_pieces
from takeoff.pieces import group_members
from takeoff.piecework import make_pieces
from takeoff.sections import shapes
from takeoff.sections.shapes import faces
from takeoff.sections.turns import around, turns
from takeoff.settings import IdentitySettings, Settings
from takeoff.steel import Bolt, DrawnHole, Fastener, Notch, Passage, Ply
from takeoff.turned import turn_body, turn_features, turn_frame

LENGTH = 900.0
SETTINGS = Settings()
ALL = tuple(PRISMS.values())
FEW = settings(max_examples=25, deadline=None)


def grouped(*members, rules=SETTINGS.identity, fasteners=(), passages=()):
    holes, _ = find_holes(members, fasteners, passages, SETTINGS)
    return group_members(members, holes, rules), holes


def pieces_of(*members):
    groups, _ = grouped(*members)
    marking, _ = mark_pieces(groups, members, SETTINGS.marks)
    return make_pieces(groups, marking, members)


def sizes(*members, **more):
    """How many members each group has, and whether each group is without a hand."""
    groups, _ = grouped(*members, **more)
    return sorted(len(g.members) for g in groups), [g.opposite == n for n, g in enumerate(groups)]


def is_opposite_pair(one, other):
    groups, _ = grouped(one, other)
    return len(groups) == 2 and groups[0].opposite == 1 and groups[1].opposite == 0


def in_position(part, turn):
    """The same part as a model would draw it from another position: body turned, frame turned with it."""
    names = [f.name for f in faces(part.body.section)]
    body = turn_body(part.body, part.notches, turn)
    found = []
    for drawn in part.holes:
        rows = np.zeros((1, 12))
        rows[0, 1:4] = names.index(drawn.face), drawn.x, drawn.across
        rows[0, 5], rows[0, 6] = drawn.slot_length, drawn.slot_angle
        girth = np.pi * part.body.section.h if part.body.section in ROUNDS.values() else 0.0
        moved_row = turn_features(rows, turn, girth)[0]
        found.append(
            replace(
                drawn,
                face=names[int(moved_row[1])],
                x=float(moved_row[2]),
                across=float(moved_row[3]),
                slot_angle=float(moved_row[6]),
            )
        )
    return replace(part, body=body, holes=tuple(found), notches=(), frame=turn_frame(part.frame, turn))


def place_of(part, drawn):
    """Where a hole's centre is on the outside of its face, in the model."""
    face = next(f for f in faces(part.body.section) if f.name == drawn.face)
    if part.body.section in ROUNDS.values():
        radius = part.body.section.h / 2
        w = drawn.across / radius
        return part.frame.to_model([drawn.x, -radius * np.cos(w), radius * np.sin(w)])
    at = np.array(face.origin) + drawn.across * np.array(face.direction)
    return part.frame.to_model([drawn.x, *at])


def axis_distance(point, axis_point, direction):
    away = point - axis_point
    return float(np.linalg.norm(away - (away @ direction) * direction))


def notch(section, length, end):
    """A clipped rectangle at one end of the first face."""
    face = faces(section)[0]
    low, high = face.high - 25.0, face.high
    xs = (0.0, 60.0) if end == "left" else (length - 60.0, length)
    return Notch(face.name, ((xs[0], low), (xs[1], low), (xs[1], high), (xs[0], high)))


@st.composite
def parts(draw, sections=ALL, kinds=("round", "slot", "rectangle")):
    """A random part of a random section: holes, skew ends, a notch."""
    section = draw(st.sampled_from(sections))
    toward = draw(st.sampled_from(((0.0, 1.0), (1.0, 0.0), (0.6, -0.8))))
    angle = draw(st.sampled_from((0.0, 0.0, 12.0, 27.5)))
    side = draw(st.sampled_from(("left", "right")))
    ends = {"left": (), "right": ()}
    if angle:
        # The plane passes outside of the section's box at its extreme point, so that no end is left to nothing.
        reach = np.tan(np.radians(angle)) * 260.0
        ends[side] = (skew(reach if side == "left" else LENGTH - reach, angle, end=side, toward=toward),)
    notches = (notch(section, LENGTH, draw(st.sampled_from(("left", "right")))),) if draw(st.booleans()) else ()
    return member(
        section, LENGTH, left=ends["left"], right=ends["right"], notches=notches,
        holes=draw(holes_of(section, LENGTH, kinds=kinds)), grade="S355J2",
    )  # fmt: skip


@st.composite
def plates(draw):
    """A random plate, square at times: a corner cut off, an arc, round holes, slots, rectangles."""
    length, width = draw(st.sampled_from(((200.0, 200.0), (300.0, 200.0), (300.0, 140.0))))
    corners = [(0.0, 0.0), (length, 0.0)]
    shape = draw(st.sampled_from(("whole", "clipped", "arc", "wedge")))
    if shape == "clipped":
        corners += [(length, width - 40.0), (length - 60.0, width), (0.0, width)]
    elif shape == "arc":
        corners += [(length, width - 40.0, np.tan(np.pi / 8)), (length - 40.0, width), (0.0, width)]
    elif shape == "wedge":
        corners += [(length, width), (70.0, width), (0.0, width - 55.0)]
    else:
        corners += [(length, width), (0.0, width)]
    section = shapes.plate(width, 10.0)
    return plate(corners, holes=draw(holes_of(section, length)), grade="S355J2")


any_part = st.one_of(parts(), plates())


# ---------------------------------------------------------------- positions and motions


@FEW
@given(part=any_part, vector=vectors, shift=places)
def test_every_position_anywhere_in_the_model_is_one_piece(part, vector, shift):
    turn_about = rotation(vector)
    copies = [
        moved(in_position(part, turn), turn_about, np.array(shift) * n)
        for n, turn in enumerate(turns(part.body.section, part.body.length))
    ]
    groups, _ = grouped(part, *copies)
    assert [len(g.members) for g in groups] == [1 + len(copies)]
    assert groups[0].spread < 0.01
    (piece,) = pieces_of(part, *copies)
    # The same holes, canonically, whichever of them is alone.
    for copy in copies:
        (alone,) = pieces_of(copy)
        mine = [(h.face, h.kind, h.x, h.across, h.diameter, h.slot_angle % 180, h.slot_length) for h in alone.holes]
        theirs = [(h.face, h.kind, h.x, h.across, h.diameter, h.slot_angle % 180, h.slot_length) for h in piece.holes]
        assert [m[:2] for m in mine] == [t[:2] for t in theirs]
        assert np.allclose([m[2:] for m in mine], [t[2:] for t in theirs], atol=0.01)


@FEW
@given(part=any_part, vector=vectors, shift=places)
def test_the_frames_put_every_hole_where_the_member_has_it(part, vector, shift):
    turn_about = rotation(vector)
    members = [
        moved(in_position(part, turn), turn_about, np.array(shift) + n)
        for n, turn in enumerate(turns(part.body.section, part.body.length))
    ]
    (piece,) = pieces_of(*members)
    assert piece.quantity == len(members)
    for index, at in zip(piece.members, piece.frames, strict=True):
        assert np.linalg.det(at.axes) == pytest.approx(1.0)
        own = members[index]
        walls = {f.name: f for f in faces(own.body.section)}
        axes = [
            (place_of(own, drawn), np.array([0.0, *walls[drawn.face].inward]) @ own.frame.axes) for drawn in own.holes
        ]
        free = list(range(len(axes)))
        for found in piece.holes:
            face = walls[found.face]
            across = np.array(face.origin) + found.across * np.array(face.direction)
            point = at.to_model([found.x, *across])
            k = min(free, key=lambda n: axis_distance(point, *axes[n]))
            assert axis_distance(point, *axes[k]) < 0.5
            free.remove(k)


@FEW
@given(part=any_part)
def test_the_mirror_image_is_the_opposite_hand_unless_the_part_is_its_own(part):
    other = mirrored(part)
    groups, _ = grouped(part, other)
    if len(groups) == 1:
        # Then the part alone says that it has no hand.
        assert groups[0].opposite == 0
        assert grouped(part)[0][0].opposite == 0
    else:
        assert (groups[0].opposite, groups[1].opposite) == (1, 0)
        assert grouped(part)[0][0].opposite is None
    # And the mirror image of the mirror image is the part.
    assert len(grouped(part, mirrored(other))[0]) == 1


@FEW
@given(part=st.one_of(parts(sections=(FL100,), kinds=("round", "slot", "rectangle")), plates()))
def test_flats_and_plates_with_plain_holes_have_no_hand(part):
    # A bevel through the thickness would give them one.
    assume(all(plane.normal[1] == 0 for plane in part.body.left + part.body.right))
    assert sizes(part, mirrored(part)) == ([2], [True])


@pytest.mark.parametrize("section", PRISMS.values(), ids=PRISMS)
def test_a_countersunk_hole_beside_a_plain_one_gives_a_hand(section):
    face = faces(section)[0]
    across = face.low + 0.4 * (face.high - face.low)
    part = member(
        section, LENGTH, holes=(hole(face.name, 100, across, kind="countersunk"), hole(face.name, 300, across + 9))
    )
    groups, _ = grouped(part, mirrored(part))
    # An H laid over shows the countersink on the far side of its web: it too has a hand then.
    assert len(groups) == 2


def test_a_countersunk_flat_has_a_hand():
    one = member(FL100, 400, holes=(hole("face", 50, 30, kind="countersunk"), hole("face", 200, 50)))
    assert is_opposite_pair(one, mirrored(one))


# ---------------------------------------------------------------- hands that a person can see


def test_equal_angle_whose_mirror_image_is_its_leg_exchange_has_no_hand():
    part = member(L100, 500, holes=(hole("A", 50, 55), hole("B", 50, 55)))
    assert sizes(part, mirrored(part)) == ([2], [True])


def test_an_angle_punched_in_the_middle_of_its_length_has_no_hand():
    one = member(L80X60, 500, holes=(hole("A", 250, 45),))
    assert sizes(one, mirrored(one)) == ([2], [True])


def test_one_hole_off_the_middle_gives_an_unequal_angle_a_hand():
    one = member(L80X60, 500, holes=(hole("A", 100, 45),))
    assert is_opposite_pair(one, mirrored(one))


def test_one_hole_off_the_middle_gives_an_equal_angle_a_hand():
    # Turned end for end its legs are exchanged: the hole comes into leg A at x, or into leg B at 500 - x.
    one = member(L100, 500, holes=(hole("A", 100, 55),))
    assert is_opposite_pair(one, mirrored(one))
    assert sizes(one, member(L100, 500, holes=(hole("B", 400, 55),)))[0] == [2]
    assert sizes(one, member(L100, 500, holes=(hole("B", 100, 55),)))[0] == [1, 1]


def test_channel_with_a_hole_in_one_flange_has_a_hand_and_in_the_web_none():
    flange = member(U160, 500, holes=(hole("top", 100, 35),))
    web = member(U160, 500, holes=(hole("web", 100, 80),))
    assert is_opposite_pair(flange, mirrored(flange))
    assert sizes(web, mirrored(web)) == ([2], [True])


@pytest.mark.parametrize("section", [IPE200, RHS120, T100], ids=lambda s: s.shape)
def test_sections_with_a_plane_of_symmetry_have_no_hand_for_holes_through_it(section):
    # A web or stem is its own mirror image across its thickness, an RHS across the middle of its wall.
    part = member(section, 500, holes=(hole(faces(section)[0].name, 100, 60.0),))
    assert sizes(part, mirrored(part)) == ([2], [True])


def test_skew_end_gives_an_angle_a_hand():
    one = member(L80X60, 500, right=(skew(480, 10, end="right", toward=(0, 1)),))
    assert is_opposite_pair(one, mirrored(one))


def test_bevel_gives_a_flat_no_hand_but_a_compound_one_does():
    bevel = member(FL100, 500, right=(skew(495, 20, end="right", toward=(1, 0)),))
    assert sizes(bevel, mirrored(bevel)) == ([2], [True])
    compound = member(FL100, 500, right=(skew(470, 20, end="right", toward=(0.8, 0.6)),))
    assert is_opposite_pair(compound, mirrored(compound))


# ---------------------------------------------------------------- rounds


@st.composite
def tubes(draw):
    section = draw(st.sampled_from(tuple(ROUNDS.values())))
    girth = np.pi * section.h
    number = draw(st.integers(1, 4))
    found = []
    for k in range(number):
        x = round(LENGTH / (number + 1) * (k + 1) + draw(st.floats(-60, 60)), 1)
        found.append(hole("wall", x, round(draw(st.floats(0, 0.999)) * girth, 2), 14.0))
    return member(section, LENGTH, holes=tuple(found))


@FEW
@given(part=tubes(), across=st.floats(0.0, 300.0), reverse=st.booleans(), vector=vectors, shift=places)
def test_a_tube_may_lie_any_way_round(part, across, reverse, vector, shift):
    turn = around(part.body.section, LENGTH, across % (np.pi * part.body.section.h), reverse)
    other = moved(in_position(part, turn), rotation(vector), shift)
    groups, _ = grouped(part, other)
    assert len(groups) == 1
    assert groups[0].spread < 0.01


@FEW
@given(part=tubes(), angle=st.floats(3.0, 40.0), lean=st.floats(0.0, 6.28), across=st.floats(0, 300), rev=st.booleans())
def test_a_skew_tube_may_lie_any_way_round(part, angle, lean, across, rev):
    d = part.body.section.h
    run = d / 2 * np.tan(np.radians(angle))
    end = skew(run, angle, end="left", toward=(np.cos(lean), np.sin(lean)))
    part = replace(part, body=replace(part.body, left=(end,)))
    other = in_position(part, around(part.body.section, LENGTH, across % (np.pi * d), rev))
    assert len(grouped(part, other)[0]) == 1
    assert len(grouped(part, mirrored(mirrored(part)))[0]) == 1


def test_a_notched_tube_is_another_piece_and_may_lie_any_way_round():
    loop = ((0.0, 20.0), (60.0, 20.0), (60.0, 70.0), (0.0, 70.0))
    part = member(CHS114, LENGTH, notches=(Notch("wall", loop),), holes=(hole("wall", 300, 120),))
    plain = member(CHS114, LENGTH, holes=(hole("wall", 300, 120),))
    assert sizes(part, plain)[0] == [1, 1]
    for across, reverse in ((0.0, True), (200.0, False), (333.0, True)):
        assert sizes(part, in_position(part, around(CHS114, LENGTH, across, reverse)))[0] == [2]
    assert is_opposite_pair(part, mirrored(part))


def test_a_tube_with_one_skew_end_has_no_hand():
    # A plane holds the axis and the direction of the skew: the tube is its own mirror image in it.
    part = member(CHS114, 600, left=(skew(30, 20, end="left", toward=(0, 1)),))
    assert sizes(part, mirrored(part)) == ([2], [True])


def test_a_tube_with_skew_ends_turned_against_each_other_has_a_hand():
    turned = (np.cos(0.7), np.sin(0.7))
    part = member(
        CHS114,
        600,
        left=(skew(30, 20, end="left", toward=(0, 1)),),
        right=(skew(570, 20, end="right", toward=turned),),
    )
    assert is_opposite_pair(part, mirrored(part))


# ---------------------------------------------------------------- near twins


def twin(offset, **more):
    return member(L80X60, 1000.0, holes=(hole("A", 100.0, 45.0), hole("A", 300.0 + offset, 45.0)), **more)


@settings(max_examples=40, deadline=None)
@given(order=st.permutations(range(9)), counts=st.lists(st.integers(1, 3), min_size=9, max_size=9))
def test_chains_of_near_twins_group_alike_in_any_order(order, counts):
    steps = [round(0.3 * k, 1) for k in range(9)]

    def outcome(sequence):
        members = [twin(steps[k], name=str(k)) for k in sequence for _ in range(counts[k])]
        groups, _ = grouped(*members)
        return sorted((round(max(g.rows[:2, 2]), 3), sorted(members[i].name for i, _, _ in g.members)) for g in groups)

    reference = outcome(range(9))
    assert outcome(order) == reference
    for second, names in reference:
        assert all(abs(steps[int(name)] + 300.0 - second) <= 0.5 + 1e-6 for name in names)
    # The ends of the chain are 2.4 mm apart: one group could not hold them.
    assert len(reference) >= 3


@settings(max_examples=25, deadline=None)
@given(
    order=st.permutations(range(9)), which=st.lists(st.integers(0, 3), min_size=9, max_size=9), vector=vectors,
    shift=places,
)  # fmt: skip
def test_chains_group_alike_however_each_part_is_drawn(order, which, vector, shift):
    def outcome(members):
        groups, _ = grouped(*members)
        return sorted(sorted(members[i].name for i, _, _ in g.members) for g in groups)

    plain = [
        member(FL100, 1000.0, name=str(k), holes=(hole("face", 100, 40), hole("face", 300 + 0.3 * k, 40)))
        for k in range(9)
    ]
    turned = [
        moved(in_position(plain[k], turns(FL100, 1000.0)[which[k]]), rotation(np.array(vector) * k), shift)
        for k in order
    ]
    assert outcome(turned) == outcome(plain)


def test_the_commonest_of_near_twins_is_the_piece():
    members = [twin(0.0), twin(0.4), twin(0.4), twin(0.8)]
    (group,) = grouped(*members)[0]
    assert len(group.members) == 4
    assert group.spread == pytest.approx(0.4)
    assert [round(away, 3) for _, _, away in group.members] == [0.4, 0.0, 0.0, 0.4]


def test_length_and_diameter_within_their_tolerances_only():
    assert sizes(member(FL100, 1000.0), member(FL100, 1000.5))[0] == [2]
    assert sizes(member(FL100, 1000.0), member(FL100, 1000.51))[0] == [1, 1]
    at = {"x": 100, "across": 50}
    assert sizes(
        member(FL100, 500, holes=(hole("face", **at, diameter=18.0),)),
        member(FL100, 500, holes=(hole("face", **at, diameter=18.1),)),
    )[0] == [2]
    assert sizes(
        member(FL100, 500, holes=(hole("face", **at, diameter=18.0),)),
        member(FL100, 500, holes=(hole("face", **at, diameter=18.2),)),
    )[0] == [1, 1]


@pytest.mark.parametrize("difference", [0.9, 1.5, 2.9])
def test_a_wide_length_tolerance_is_kept_across_whole_millimetres(difference):
    wide = IdentitySettings(length_mm=3.0)
    assert sizes(member(FL100, 1000.0), member(FL100, 1000.0 + difference), rules=wide)[0] == [2]
    right = member(L80X60, 1000.0, holes=(hole("A", 300, 45),))
    left = member(L80X60, 1000.0 + difference, holes=(hole("A", 700, 45),))
    groups, _ = grouped(right, left, rules=wide)
    assert [g.opposite for g in groups] == [1, 0]


def bolted(offset, diameter, hole_diameter):
    """A part with two bolt holes, the second off by ``offset``, and the fasteners and passages that make them."""
    part = member(L80X60, 1000.0)
    made = Fastener("x" * 22, "IfcMechanicalFastener", diameter=diameter, hole_diameter=hole_diameter, bolts=(
        Bolt((0, 0, 0), (0, 1, 0), 30.0), Bolt((0, 0, 0), (0, 1, 0), 30.0),
    ))  # fmt: skip
    return part, made, [100.0, 300.0 + offset]


@pytest.mark.parametrize(
    ("diameter", "hole_diameter", "offset", "together"),
    [
        # M12 in a 13 mm hole (EN 1090-2 Table 11: clearance 1 mm): a quarter is 0.25 mm.
        (12.0, 13.0, 0.24, True),
        (12.0, 13.0, 0.26, False),
        # M16 in 18: a quarter of 2 mm is the 0.5 mm of the positions themselves.
        (16.0, 18.0, 0.49, True),
        (16.0, 18.0, 0.51, False),
        # M27 in 30: a quarter of 3 mm is 0.75 mm, but 0.5 mm is the limit.
        (27.0, 30.0, 0.6, False),
    ],
)
def test_positions_within_a_quarter_of_the_clearance(diameter, hole_diameter, offset, together):
    members, fasteners, passages = [], [], []
    for k, away in enumerate((0.0, offset)):
        part, made, xs = bolted(away, diameter, hole_diameter)
        members.append(part)
        fasteners.append(made)
        for b, x in enumerate(xs):
            passages.append(Passage(k, b, (Ply(k, "A", 0.0, 6.0, x, 45.0, 0.0),), 6.0, 6.0))
    groups, _ = grouped(*members, fasteners=fasteners, passages=passages)
    assert len(groups) == (1 if together else 2)


@pytest.mark.parametrize("field", ["grade", "finish"])
def test_grades_and_finishes_are_kept_apart(field):
    assert sizes(member(FL100, 500, **{field: "one"}), member(FL100, 500, **{field: "two"}))[0] == [1, 1]


def test_names_marks_and_places_are_no_matter():
    one = member(FL100, 500, name="brace", mark="7", assembly="a" * 22, section_text="PL10*100")
    assert sizes(one, moved(member(FL100, 500), rotation((1, 2, 3)), (1e6, 2e6, 3)))[0] == [2]


def test_a_flat_and_a_plate_of_one_size_are_one_piece_in_either_order():
    first = member(FL100, 300, name="a")
    second = member(shapes.plate(100, 10), 300, name="b")
    one = pieces_of(first, second)
    other = pieces_of(second, first)
    assert len(one) == len(other) == 1
    assert one[0].section == other[0].section


def test_a_bolt_known_to_one_member_only_is_named_in_either_order():
    drawn = hole("A", 100, 45, 18.0)
    plain, with_bolt = member(L80X60, 500, holes=(drawn,)), member(L80X60, 500, holes=(drawn,))
    made = Fastener("y" * 22, "IfcMechanicalFastener", diameter=16.0, bolts=(Bolt((0, 0, 0), (0, 1, 0), 30.0),))

    def holes_with(order):
        members = [plain, with_bolt] if order else [with_bolt, plain]
        at = members.index(with_bolt)
        passages = (Passage(0, 0, (Ply(at, "A", 0.0, 6.0, 100.0, 45.0, 0.0),), 6.0, 6.0),)
        holes, _ = find_holes(members, (made,), passages, SETTINGS)
        groups = group_members(members, holes, SETTINGS.identity)
        marking, _ = mark_pieces(groups, members, SETTINGS.marks)
        (piece,) = make_pieces(groups, marking, members)
        return piece.holes

    assert holes_with(True) == holes_with(False)


def test_the_frame_does_not_hang_on_the_noise_of_the_coordinates():
    """A hole at 9.525 mm (3/8 in) from either end lies on the edge between two hundredths."""
    kept = set()
    for noise in (-1e-9, 0.0, 1e-9, 2e-9):
        holes = (hole("face", 9.525 + noise, 50), hole("face", 500 - 9.525 + noise, 50), hole("face", 200, 30))
        (piece,) = pieces_of(member(FL100, 500, holes=holes))
        kept.add(tuple((h.x, h.across) for h in piece.holes))
    assert len(kept) == 1


def test_a_square_hole_has_no_direction():
    def part(angle):
        return member(FL100, 500, holes=(
            DrawnHole("face", 100, 50, 0.0, slot_length=20, width=20, slot_angle=angle, kind="rectangle"),
        ))  # fmt: skip

    assert sizes(part(0.0), part(90.0))[0] == [2]
    assert sizes(part(30.0), part(120.0))[0] == [2]
    assert sizes(part(0.0), part(45.0))[0] == [1, 1]


def test_many_shapes_of_one_length_are_not_compared_each_with_each(monkeypatch):
    """A job of hundreds of braces of one length and number of holes must not take the square of the time."""
    import takeoff.pieces

    asked = []
    whole = takeoff.pieces.fit
    monkeypatch.setattr(takeoff.pieces, "fit", lambda *args, **more: asked.append(1) or whole(*args, **more))
    members = [member(L80X60, 2000, holes=(hole("A", 60, 45), hole("A", 100 + 2 * k, 45))) for k in range(300)]
    groups, _ = grouped(*members)
    assert len(groups) == 300
    assert len(asked) < 10 * len(groups)


# ---------------------------------------------------------------- agreement


@FEW
@given(part=parts(), shuffle=st.randoms(use_true_random=False), noise=st.floats(0.0, 0.3))
def test_agreement_does_not_depend_on_the_order_of_the_features(part, shuffle, noise):
    groups, _ = grouped(part)
    rows = groups[0].rows
    other = rows.copy()
    other[:, 2] += noise
    index = list(range(len(rows)))
    shuffle.shuffle(index)
    assert agreement(rows, other[index], SETTINGS.identity) == pytest.approx(noise, abs=1e-9)
    assert agreement(rows, other[index][1:], SETTINGS.identity) is None


def test_two_features_are_not_both_paired_with_one():
    rows = np.zeros((2, 12))
    rows[:, 2] = 100.0, 100.4
    other = rows.copy()
    other[1, 2] = 100.0
    assert agreement(rows, other, SETTINGS.identity) == pytest.approx(0.4)
    other[:, 2] = 100.8, 100.9
    assert agreement(rows, other, SETTINGS.identity) is None
