"""What a comparison says of one edit at a time, and what becomes of released pieces.

What a shop can do to a finished piece is common practice, no source: steel can be taken away, not put back.
"""

from dataclasses import replace

import numpy as np
import pytest
from steelwork import (
    CHS114,
    FL100,
    L80X60,
    L100,
    U160,
    bolt_in,
    fastener,
    global_id,
    hole,
    member,
    mirrored,
    model,
    moved,
    plate,
    rectangle,
    rotation,
    skew,
)

from takeoff.comparing import compare, state_of
from takeoff.pipeline import work_out
from takeoff.sections import shapes
from takeoff.settings import IdentitySettings, Settings
from takeoff.steel import Frame

RULES = IdentitySettings()


def at(x, y=0.0, z=0.0):
    return Frame(np.array([x, y, z], dtype=float), np.eye(3))


def angle(y, *, section=L100, length=1000.0, holes=((100, 55, 18), (900, 55, 18), (300, 40, 18)), **more):
    """An angle with holes in leg A at (x, across, diameter), of which the last one gives it a hand."""
    return member(section, length, at=at(0, y), holes=tuple(hole("A", *h) for h in holes), grade="S355J2", **more)


def scene():
    return [
        angle(0),
        angle(500),
        member(U160, 1200, at=at(0, 1000), holes=(hole("web", 60, 80), hole("top", 200, 30))),
        plate(((0, 0), (300, 0), (300, 200), (80, 200), (0, 120)), at=at(0, 2000), holes=(hole("face", 60, 60),)),
        member(CHS114, 900, at=at(0, 3000), holes=(hole("wall", 100, 0), hole("wall", 100, 179.54))),
        member(FL100, 400, at=at(0, 4000), holes=(hole("face", 50, 50), hole("face", 300, 50, 22))),
    ]


def state(parts, fasteners=()):
    return state_of(work_out(model(parts, fasteners), Settings()))


def compared(old, new, **more):
    return compare(state(old), state(new), RULES, **more)


def pieces_of(comparison):
    """Rows about pieces; the weight follows."""
    return [change for change in comparison.changes if change.change != "weight"]


def edited(number, **fields):
    parts = scene()
    parts[number] = replace(parts[number], **fields)
    return parts


def renewed(parts):
    """The same steel from another export: other GlobalIds, names and order."""
    return [replace(part, global_id=global_id(), name=f"part {k}", mark=f"Z{k}") for k, part in enumerate(parts)][::-1]


MOTIONS = {
    "still": lambda part: part,
    "shifted": lambda part: moved(part, np.eye(3), (12_000, -3_000, 500)),
    "turned": lambda part: moved(part, rotation((0.3, -0.2, 1.1)), (500, 20_000, -70)),
}


@pytest.mark.parametrize("motion", MOTIONS)
def test_other_ids_names_order_and_place_are_no_change(motion):
    old = scene()
    new = [MOTIONS[motion](part) for part in renewed(old)]
    found = compared(old, new)
    assert found.changes == ()
    assert not found.differs
    assert found.renamed  # the names gave other marks, which is said and counts for nothing


EDITS = {
    "hole moved": (
        edited(2, holes=(hole("web", 72.5, 80), hole("top", 200, 30))),
        "hole W1 moved 12.5 mm to the right",
    ),
    "hole gone": (edited(2, holes=(hole("web", 60, 80),)), "hole T1 gone (dia 18)"),
    "hole added": (
        edited(2, holes=(hole("web", 60, 80), hole("top", 200, 30), hole("bottom", 500, 30))),
        "hole U1 added (dia 18)",
    ),
    "hole size": (edited(2, holes=(hole("web", 60, 80, 22), hole("top", 200, 30))), "hole W1 dia 18 to dia 22"),
    "grade": (edited(2, grade="S275JR"), "grade not stated to S275JR"),
    "finish": (edited(2, finish="galvanised"), "finish not stated to galvanised"),
    "length": (
        edited(2, body=replace(scene()[2].body, length=1180.0)),
        "length 1200 to 1180 (-20)",
    ),
    "section": (
        edited(2, body=replace(scene()[2].body, section=shapes.channel(160, 65, 9, 10.5))),
        "section U 160x65x7.5x10.5 to U 160x65x9x10.5",
    ),
}


@pytest.mark.parametrize("ids", ["same", "new"])
@pytest.mark.parametrize("edit", EDITS)
def test_one_edit_is_one_row_that_says_it(edit, ids):
    new, words = EDITS[edit]
    old = scene()
    # The scenes were made one by one, so each part has another GlobalId: give it that of its place, or none.
    new = [replace(p, global_id=o.global_id if ids == "same" else global_id()) for p, o in zip(new, old, strict=True)]
    (change,) = pieces_of(compared(old, new))
    assert change.change == "shape"
    assert (change.quantity_old, change.quantity_new) == (1, 1)
    assert change.what == words


def test_a_mirrored_part_is_another_piece():
    old = scene()
    new = [mirrored(old[0]), *old[1:]]
    rows = pieces_of(compared(old, new))
    assert [row.change for row in rows] == ["shape", "quantity"]
    assert "hole" in rows[0].what


def test_quantity_added_and_gone():
    old = scene()
    more = compared(old, [*old, angle(700)])
    assert [(c.change, c.quantity_old, c.quantity_new) for c in pieces_of(more)] == [("quantity", 2, 3)]
    fewer = compared(old, [*old[:2], *old[3:]])
    assert [(c.change, c.quantity_old, c.quantity_new) for c in pieces_of(fewer)] == [("gone", 1, 0)]
    another = compared(old, [*old, member(L80X60, 700, at=at(0, 9000))])
    assert [(c.change, c.quantity_old, c.quantity_new) for c in pieces_of(another)] == [("added", 0, 1)]


def test_one_of_several_changed():
    old = scene()
    new = [angle(0, holes=((104, 55, 18), (900, 55, 18), (300, 40, 18)), global_id=old[0].global_id), *old[1:]]
    rows = pieces_of(compared(old, new))
    assert [(c.change, c.quantity_old, c.quantity_new, c.quantity) for c in rows] == [
        ("shape", 2, 1, 1),
        ("quantity", 2, 1, None),
    ]
    # The old sheet's A1 is B3 on the new one: the equal angle is drawn on its other leg now.
    assert rows[0].what == "1 of 2: hole A1 (new B3) moved 4 mm to the right"


def test_bolts():
    parts = [angle(0), plate(rectangle(200, 100), at=Frame(np.array([50.0, -10, 0]), np.eye(3)))]
    one = [fastener(bolt_in(parts[0], "A", 100, 55, head=10.0, shank=45), length=45.0)]
    two = [*one, fastener(bolt_in(parts[0], "A", 160, 55, head=10.0, shank=45), length=45.0)]
    found = compare(state(parts, one), state(parts, two), RULES)
    (bolts,) = [c for c in found.changes if c.change == "bolts"]
    assert (bolts.quantity_old, bolts.quantity_new) == (1, 2)
    assert "bolt 16 x 45" in bolts.what


# ---------------------------------------------------------------- released pieces

BASE = ((100, 55, 18), (900, 55, 18), (300, 40, 18))
VERDICTS = {
    "as it was": ({}, "as it was", ""),
    "hole added": ({"holes": (*BASE, (500, 55, 18))}, "rework", "add 1 hole"),
    "hole opened up": ({"holes": ((100, 55, 22), *BASE[1:])}, "rework", "open up 1 hole"),
    "shorter at the right": ({"length": 970.0}, "rework", "shorten by 30 mm at the right end"),
    "shorter at the left": (
        {"length": 970.0, "holes": ((70, 55, 18), (870, 55, 18), (270, 40, 18))},
        "rework",
        "shorten by 30 mm at the left end",
    ),
    "cut off with its hole": ({"length": 880.0, "holes": (BASE[0], BASE[2])}, "rework", "shorten by 120 mm"),
    "cope added": ({"right": (skew(1000.0, 20, end="right", toward=(0.0, 1.0)),)}, "rework", "cut the outline of A"),
    "hole moved": ({"holes": ((112, 55, 18), *BASE[1:])}, "scrap", "hole A1 is elsewhere"),
    "hole gone": ({"holes": BASE[1:]}, "scrap", "not wanted"),
    "hole smaller": ({"holes": ((100, 55, 14), *BASE[1:])}, "scrap", "too large"),
    "longer": ({"length": 1010.0}, "scrap", "10 mm too short"),
    "thicker": ({"section": shapes.angle(100, 100, 10)}, "scrap", "section L 100x100x10 is needed"),
    "grade": ({"grade": "S275JR"}, "ask the engineer", "grade S275JR"),
}


@pytest.mark.parametrize("case", VERDICTS)
def test_verdicts_on_what_was_released(case):
    fields, verdict, words = VERDICTS[case]
    fields = dict(fields)
    grade = fields.pop("grade", "S355J2")
    section = fields.pop("section", L100)
    holes = fields.pop("holes", BASE)
    old = [angle(0), angle(500)]
    new = [
        replace(
            member(section, fields.get("length", 1000.0), at=part.frame, right=fields.get("right", ()),
                   holes=tuple(hole("A", *h) for h in holes)),
            grade=grade, global_id=part.global_id,
        )
        for part in old
    ]  # fmt: skip
    before, after = state(old), state(new)
    (piece,) = before.pieces
    found = compare(before, after, RULES, [(piece, 2, RULES)], "register.json")
    first = found.changes[0]
    assert (first.change, first.verdict, first.quantity) == ("released", verdict, 2)
    assert words in first.what
    assert found.differs == (verdict != "as it was")


def test_released_pieces_are_shared_out():
    """Five released: two stay, one is reworked, one scrapped for a moved hole, one is not needed at all."""
    old = [angle(500.0 * k) for k in range(5)]
    new = [
        old[0],
        old[1],
        angle(1000, holes=(*BASE, (500, 55, 18)), global_id=old[2].global_id),
        angle(1500, holes=((112, 55, 18), *BASE[1:]), global_id=old[3].global_id),
    ]
    before = state(old)
    (piece,) = before.pieces
    found = compare(before, state(new), RULES, [(piece, 5, RULES)], "register.json")
    rows = [(c.verdict, c.quantity, c.mark_new == "") for c in found.changes if c.change == "released"]
    assert rows == [("scrap", 1, True), ("scrap", 1, False), ("rework", 1, False), ("as it was", 2, False)]
    assert [c.change for c in found.changes][:4] == ["released"] * 4


def test_a_plate_is_reworked_in_whichever_way_it_lies():
    corners = rectangle(300, 200)
    old = [plate(corners, holes=(hole("face", 60, 60), hole("face", 240, 160)))]
    # Narrower than long now, so that its sheet shows it turned by a quarter: 120 mm are cut off at one end.
    new = [plate(rectangle(180, 200), holes=(hole("face", 60, 60),), global_id=old[0].global_id)]
    before = state(old)
    found = compare(before, state(new), RULES, [(before.pieces[0], 1, RULES)], "register.json")
    assert found.changes[0].verdict == "rework"
    assert "shorten by 120 mm" in found.changes[0].what
