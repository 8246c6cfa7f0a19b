"""Bolt bags, bundles, plate to order: nothing lost, nothing twice, no limit passed."""

from collections import Counter
from dataclasses import replace

import pytest
from demo_jobs import MAST, TRESTLE, demo
from hypothesis import given
from hypothesis import strategies as st
from small_job import ANGLE_FACES, ANGLE_SECTION, FLAT_SECTION

from takeoff.boltbags import line_kind, pack_bolts
from takeoff.bundles import PIECE_BEYOND_BUNDLE, pack
from takeoff.erection import plan_erection
from takeoff.plateorder import plate_order
from takeoff.settings import ErectionSettings, ShippingSettings
from takeoff.steel import HELD, PLATE, Piece, Section


def piece(mark, length, quantity, net, *, section=ANGLE_SECTION, **more):
    return Piece(
        mark, section, more.pop("grade", "S355J2"), more.pop("finish", ""), length, (), (), ANGLE_FACES, (),
        members=(0,) * quantity, net=net, gross=net, **more,
    )  # fmt: skip


@pytest.mark.parametrize("by", ["level", "assembly"])
@pytest.mark.parametrize("name", [MAST, TRESTLE])
def test_bags_and_spares_make_up_the_order(name, by):
    takeoff, dispatch = demo(name)
    bags = pack_bolts(takeoff, dispatch.erection.row_levels, ShippingSettings(bags_by=by))
    packed = {False: Counter(), True: Counter()}
    hardware = Counter()
    for bag in bags:
        for line in bag.lines:
            packed[bag.spare][line.kind] += line.bolts
            hardware[line.kind, "nuts"] += line.nuts
            hardware[line.kind, "washers"] += line.washers
    assert [bag.spare for bag in bags] == [False] * (len(bags) - 1) + [True]
    for line in takeoff.bolt_lines:
        kind = line_kind(line)
        assert packed[False][kind] == line.quantity
        assert packed[True][kind] == line.spare
        assert hardware[kind, "nuts"] == line.nuts + line.spare_nuts
        assert hardware[kind, "washers"] == line.washers + line.spare_washers
    assert sum(sum(c.values()) for c in packed.values()) == sum(line.to_order for line in takeoff.bolt_lines)


def test_bags_weigh_what_the_order_list_weighs():
    takeoff, dispatch = demo(MAST)
    weights = [line.weight for bag in dispatch.bags if not bag.spare for line in bag.lines]
    assert sum(weights) == pytest.approx(sum(line.weight for line in takeoff.bolt_lines))


def test_the_trestle_by_level_counted_by_hand():
    """models/README.md: 2 x (cleat 2 + 2, horizontal 1) below, a brace's 2 at each post, 4 + 2 x 4 at the cap beam."""
    _, dispatch = demo(TRESTLE)
    bolts = {bag.section: sum(line.bolts for line in bag.lines) for bag in dispatch.bags if not bag.spare}
    assert bolts == {"1": 10, "2": 4, "3": 12}
    assert [round(level.height) for level in dispatch.erection.levels] == [0, 888, 2315]


def test_each_spare_takes_the_nuts_of_its_bolt():
    takeoff, _ = demo(TRESTLE)
    for line in takeoff.bolt_lines:
        # README: every bolt of the trestle has one nut and one washer
        assert line.spare_nuts == line.spare_washers == line.spare > 0


@pytest.mark.parametrize("by", ["section", "level"])
def test_every_piece_of_the_mast_is_in_one_bundle(by):
    takeoff, dispatch = demo(MAST)
    levels = {}
    for stand in dispatch.erection.stands:
        levels.setdefault(stand.mark, Counter())[stand.level] += len(stand.members)
    bundles, unpacked, asked = pack(takeoff.pieces, levels, ShippingSettings(bundle_by=by))
    packed = Counter()
    for bundle in bundles:
        packed.update(dict(bundle.lines))
    assert packed == {p.mark: p.quantity for p in takeoff.pieces}
    assert unpacked == asked == ()
    assert sum(b.weight for b in bundles) == pytest.approx(sum((p.net + p.zinc) * p.quantity for p in takeoff.pieces))
    if by == "level":
        assert {b.level for b in bundles} == {level.number for level in dispatch.erection.levels}


jobs = st.lists(
    st.tuples(
        st.integers(50, 16_000), st.integers(1, 300), st.floats(0.05, 900.0), st.booleans(),
        st.sampled_from(["", "galvanised"]), st.sampled_from([ANGLE_SECTION, FLAT_SECTION]),
    ),
    max_size=12,
)  # fmt: skip


@given(jobs, st.sampled_from([250.0, 2000.0]), st.sampled_from([0.0, 0.5, 1.0]))
def test_no_bundle_passes_a_limit_and_nothing_is_lost(made, limit, share):
    settings = ShippingSettings(bundle_kg=limit, shortest_share=share)
    pieces = [
        piece(f"A{k}", float(length), many, net, section=section, finish=finish, status=HELD if held else "listed")
        for k, (length, many, net, held, finish, section) in enumerate(made)
    ]
    bundles, unpacked, asked = pack(pieces, {}, settings)
    of = {p.mark: p for p in pieces}
    packed = Counter()
    for bundle in bundles:
        packed.update(dict(bundle.lines))
        parts = [of[mark] for mark, _ in bundle.lines]
        assert len({p.finish for p in parts}) == 1
        assert bundle.length == max(p.length for p in parts)
        if bundle.over:
            assert bundle.pieces == 1
            assert parts[0].length > settings.bundle_mm or parts[0].net > limit
            continue
        assert bundle.weight <= limit * (1 + 1e-6)
        assert bundle.length <= settings.bundle_mm
        if not bundle.boxed:
            assert len({p.section.designation for p in parts}) == 1
            assert min(p.length for p in parts) >= share * bundle.length - 1e-9
    assert packed + Counter({m: n for m, n, _ in unpacked}) == Counter({p.mark: p.quantity for p in pieces})
    assert {m for m, _, _ in unpacked} == {p.mark for p in pieces if p.status == HELD}
    assert bool(asked) == any(b.over for b in bundles)
    assert [b.number for b in bundles] == list(range(1, len(bundles) + 1))


def test_a_piece_beyond_the_limits_goes_by_itself_and_is_asked_about():
    bundles, _, asked = pack([piece("A1", 13_500.0, 2, 80.0), piece("A2", 6000.0, 1, 40.0)], {}, ShippingSettings())
    assert [(b.lines, b.over) for b in bundles] == [
        ((("A1", 1),), ("length",)), ((("A1", 1),), ("length",)), ((("A2", 1),), ()),
    ]  # fmt: skip
    (question,) = asked
    assert question.code == PIECE_BEYOND_BUNDLE
    assert question.piece_mark == "A1"
    assert "2 pieces are longer than 12000 mm" in question.message


def test_a_bundle_takes_what_fills_it_exactly():
    bundles, _, _ = pack([piece("A1", 3000.0, 30, 0.1)], {}, ShippingSettings(bundle_kg=1.0))
    assert [b.pieces for b in bundles] == [10, 10, 10]


def test_plate_is_ordered_by_thickness_and_grade():
    thin, thick = Section(PLATE, "PL 8", 200.0, 8.0, 8.0), Section(PLATE, "PL 20", 300.0, 20.0, 20.0)
    wide = replace(thin, h=250.0)
    lines = plate_order(
        [
            piece("P1", 400.0, 4, 5.0, section=thin),
            piece("P2", 500.0, 2, 7.8, section=wide, status=HELD),
            piece("P3", 400.0, 1, 5.0, section=thin, grade="S235JR"),
            piece("P4", 300.0, 4, 14.1, section=thick),
            piece("A1", 300.0, 4, 14.1),
        ]
    )
    told = [(li.thickness, li.grade, li.marks, li.pieces, li.longest, li.widest, li.held) for li in lines]
    assert told == [
        (8.0, "S235JR", 1, 1, 400.0, 200.0, 0), (8.0, "S355J2", 2, 6, 500.0, 250.0, 2),
        (20.0, "S355J2", 1, 4, 300.0, 300.0, 0),
    ]  # fmt: skip
    # 4 x 0.4 x 0.2 + 2 x 0.5 x 0.25
    assert lines[1].area == pytest.approx(0.57)
    assert lines[1].weight == pytest.approx(4 * 5.0 + 2 * 7.8)


def test_bolts_of_no_place_have_a_bag():
    takeoff, _ = demo(TRESTLE)
    levels = plan_erection(takeoff, ErectionSettings()).row_levels
    bags = pack_bolts(takeoff, (0, *levels[1:]), ShippingSettings())
    assert [bag.section for bag in bags if not bag.spare][-1] == ""
    assert sum(line.bolts for bag in bags if not bag.spare for line in bag.lines) == 26
