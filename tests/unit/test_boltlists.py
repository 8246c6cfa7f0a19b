"""Bolts counted: rows of each fastener, the order list with spares, alike joints, bought-out hardware."""

from dataclasses import replace

import pytest
from steelwork import FL100, bolt, changed, fastener, frame, member, model

from takeoff.boltlists import bought_out, order_list
from takeoff.boltsets import bolt_sets
from takeoff.connections import connect
from takeoff.pipeline import work_out
from takeoff.settings import BoltSettings, Settings
from takeoff.steel import BOUGHT_OUT, LEFT_OUT, ModelAssembly


def flats(count=2, t=10.0):
    return [member(FL100, 3000, at=frame((0, t * k, 0))) for k in range(count)]


def bolts(*xs, shank=45.0):
    return [bolt((x, 0, 50), (0, 1, 0), shank) for x in xs]


def ordered(fasteners, members=None, **options):
    members = flats() if members is None else members
    made, _ = connect(members, fasteners)
    shop = Settings(bolts=BoltSettings(**options))
    sets, _ = bolt_sets(members, fasteners, made.passages, (), shop)
    lines, mass, queries = order_list(fasteners, made.passages, sets, shop.bolts)
    return lines, mass, {q.code: q for q in queries}


def m16(*xs, **more):
    more.setdefault("length", 45.0)
    more.setdefault("nuts", 1)
    more.setdefault("washers", 1)
    return fastener(*bolts(*xs), diameter=16.0, grade="8.8", **more)


# ---------------------------------------------------------------- order list


@pytest.mark.parametrize(
    ("quantity", "percent", "least", "spare"),
    [(10, 3.0, 2, 2), (100, 3.0, 2, 3), (101, 3.0, 2, 4), (100, 0.0, 0, 0), (1, 5.0, 0, 1), (40, 10.0, 2, 4)],
)
def test_spares_are_a_percentage_rounded_up_and_at_least_some(quantity, percent, least, spare):
    (line,), _, _ = ordered([m16(*range(100, 100 + 20 * quantity, 20))], spare_percent=percent, spare_minimum=least)
    assert (line.quantity, line.spare, line.to_order) == (quantity, spare, quantity + spare)


def test_a_line_for_each_size_length_grade_and_standard():
    made = [
        m16(100),
        m16(150, 200),
        m16(250, length=50.0),
        changed(m16(300), grade="10.9"),
        m16(350, standard="ISO 4017"),
        fastener(*bolts(400), diameter=20.0, length=45.0, grade="8.8"),
    ]
    lines, _, _ = ordered(made)
    assert [(x.diameter, x.length, x.grade, x.standard, x.quantity) for x in lines] == [
        (16.0, 45.0, "10.9", "", 1),
        (16.0, 45.0, "8.8", "", 3),
        (16.0, 45.0, "8.8", "ISO 4017", 1),
        (16.0, 50.0, "8.8", "", 1),
        (20.0, 45.0, "8.8", "", 1),
    ]


def test_a_group_counts_every_bolt_of_it():
    (line,), mass, queries = ordered([m16(100, 200, 300, nuts=2, washers=0)])
    assert (line.quantity, line.nuts, line.washers) == (3, 6, 0)
    assert line.weight == pytest.approx(mass[0]) == 3 * ordered([m16(100, nuts=2, washers=0)])[0][0].weight
    assert queries == {}


def test_nuts_and_washers_are_assumed_with_a_query():
    (line,), _, queries = ordered([m16(100, 200, nuts=None, washers=None), m16(300, nuts=2)], nuts=1, washers=2)
    assert (line.nuts, line.washers) == (4, 5)
    assert queries["nuts-washers-assumed"].severity == "assumed"
    assert queries["nuts-washers-assumed"].message.startswith("2 bolts")


def test_a_bolt_through_one_part_without_a_stated_length_is_listed_without_one():
    # Its grip is not known, so no rule gives a length either.
    (line,), mass, queries = ordered([m16(100, 200, length=None)], flats(1))
    assert (line.length, line.quantity, line.weight, mass) == (None, 2, None, {})
    assert set(queries) == {"bolt-length-not-stated", "bolt-weight-unknown"}
    assert queries["bolt-length-not-stated"].message.startswith("2 bolts")


@pytest.mark.parametrize(("length", "short"), [(20.5, False), (20.0, True), (19.6, True), (19.0, True)])
def test_a_bolt_shorter_than_its_grip(length, short):
    _, _, queries = ordered([m16(100, length=length)])
    assert ("bolt-shorter-than-grip" in queries) is short
    if short:
        assert f"{length:g} mm long through 20.0 mm" in queries["bolt-shorter-than-grip"].message


def test_what_is_left_out_or_bought_out_is_not_ordered_as_a_bolt():
    made = [
        changed(m16(100), status=LEFT_OUT, reason="It is in another job."),
        changed(m16(200), status=BOUGHT_OUT),
        fastener(*bolts(300), diameter=24.0, kind="anchor", length=500.0, name="anchor bolt"),
        m16(400),
    ]
    lines, _, _ = ordered(made)
    assert [x.quantity for x in lines] == [1]
    members = flats()
    found = bought_out(members, made, connect(members, made)[0].passages)
    assert sorted((b.size, b.quantity) for b in found) == [("16 x 45", 1), ("24 x 500", 1)]


# ---------------------------------------------------------------- rows of the fasteners


def worked(members, fasteners, assemblies=()):
    return work_out(model(members, fasteners, assemblies), Settings())


def test_rows_of_an_entity_add_up_to_its_bolts():
    short = member(FL100, 200, at=frame((0, 20, 0)))
    group = m16(50, 110, 500, 5000)
    made = [group, changed(m16(), kind="weld", status=LEFT_OUT, reason="It is a weld.")]
    found = worked([*flats(), short], made)
    rows = [r for r in found.bolt_rows if r.fastener == 0]
    assert [(r.bolts, r.grip, r.members) for r in rows] == [(1, 20.0, (0, 1)), (2, 30.0, (0, 1, 2)), (1, None, ())]
    assert sum(r.bolts for r in rows) == len(group.bolts)
    (weld,) = (r for r in found.bolt_rows if r.fastener == 1)
    assert (weld.bolts, weld.status, weld.reason) == (0, LEFT_OUT, "It is a weld.")


def test_an_entity_without_a_bolt_is_left_out_with_a_reason():
    (row,) = worked(flats(), [m16()]).bolt_rows
    assert (row.bolts, row.status) == (0, LEFT_OUT)
    assert row.reason


def test_a_fastener_s_row_names_its_assembly_mark():
    parts = [replace(p, assembly="a") for p in flats()]
    found = worked(parts, [m16(100, assembly="a"), m16(200)], (ModelAssembly("a", mark="K1"),))
    assert [r.assembly_mark for r in found.bolt_rows] == ["K1", ""]


# ---------------------------------------------------------------- joints


def joint_numbers(found):
    return [j.alike for j in found.joints]


def test_joints_of_the_same_make_up_share_a_number():
    def pair(y, at, section=FL100):
        parts = [member(FL100, 400, at=frame((0, y, 0))), member(section, 400, at=frame((0, y + 10, 0)))]
        return parts, fastener(
            *(bolt((x, y, 50), (0, 1, 0), 45) for x in at), diameter=16.0, length=45.0, nuts=1, washers=1
        )

    first, one = pair(0, (100, 160))
    second, two = pair(500, (100, 160))
    third, three = pair(1000, (100, 160, 220))
    found = worked([*first, *second, *third], [one, two, three])
    assert len(found.joints) == 3
    by_size = {len(j.passages): set() for j in found.joints}
    for j in found.joints:
        by_size[len(j.passages)].add(j.alike)
    assert len(by_size[2]) == 1
    assert by_size[3].isdisjoint(by_size[2])


def test_another_grade_or_length_is_another_joint():
    parts = [member(FL100, 400, at=frame((0, y + k, 0))) for y in (0, 500, 1000) for k in (0, 10)]
    made = [
        fastener(bolt((100, y, 50), (0, 1, 0), 45), diameter=16.0, length=length, grade=grade)
        for y, length, grade in ((0, 45.0, "8.8"), (500, 45.0, "10.9"), (1000, 50.0, "8.8"))
    ]
    assert sorted(joint_numbers(worked(parts, made))) == [1, 2, 3]


# ---------------------------------------------------------------- bought out


def test_bought_out_parts_are_counted_by_name_and_size():
    parts = [
        member(FL100, 100, name="rod M20", section_text="M20", status=BOUGHT_OUT, reason="It is a rod.")
        for _ in range(3)
    ]
    found = bought_out([replace(p, body=None, frame=None) for p in parts], [], [])
    assert [(b.name, b.size, b.quantity) for b in found] == [("rod M20", "M20", 3)]
    assert found[0].global_ids == tuple(sorted(p.global_id for p in parts))
