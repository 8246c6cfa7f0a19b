"""The mark register: what is remembered, what is compared with it, what is refused."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from steelwork import FL100, L80X60, L100, global_id, hole, member, mirrored, moved, plate, rotation, skew

from takeoff.exchange.nc import nc_files
from takeoff.identity import make_canonical
from takeoff.piecework import make_pieces
from takeoff.pipeline import work_out
from takeoff.register import RegisterError, read_register
from takeoff.register.file import FEATURES, FORMAT, parsed, written
from takeoff.register.shapes import group_of, shape_of
from takeoff.released import Register
from takeoff.sections import shapes
from takeoff.settings import Settings
from takeoff.steel import Model, ModelAssembly, Notch
from takeoff.turned import COLUMNS

HERE = Path("register.json")


def settings(revision="A", **groups):
    """Settings of a job; ``groups`` are changes by group."""
    base = Settings()
    base = replace(base, documents=replace(base.documents, revision=revision))
    return replace(base, **{name: replace(getattr(base, name), **values) for name, values in groups.items()})


def issued(parts, content=b"", options=None, assemblies=(), projects=("P" * 22,), name="mast"):
    """A run on these parts with the register in ``content``: the takeoff, and the register's new content."""
    known = parsed(content, HERE) if content else Register()
    model = Model(name, "IFC4", "0" * 64, "2031-04-30", tuple(parts), (), tuple(assemblies), projects=projects)
    found = work_out(model, options or settings(), register=known)
    return found, written(found.release.register)


def angle(*xs, length=1000.0, section=L80X60, **more):
    return member(section, length, holes=tuple(hole("A", x, 45) for x in xs), **more)


def codes(found):
    return {q.code: q for q in found.queries if "mark" in q.code or "register" in q.code}


# ---------------------------------------------------------------- marks that last


def test_a_known_piece_keeps_its_mark_and_a_new_one_never_gets_it():
    first, content = issued([angle(100), angle(200)])
    assert first.member_marks == ("A1", "A2")
    # Without the register the new piece, first in shop order, would be A1.
    parts = [angle(200), angle(100, length=500.0), angle(100)]
    second, content = issued(parts, content, settings("B"))
    assert second.member_marks == ("A2", "A3", "A1")
    assert work_out(second.model, settings("B")).member_marks == ("A3", "A1", "A2")
    assert second.release.pieces == (("A3",), ("A1", "A2"), (), ())


def test_a_retired_mark_is_not_given_again_and_comes_back_with_its_shape():
    _, content = issued([angle(100), angle(200)])
    second, content = issued([angle(100), angle(300)], content, settings("B"))
    assert second.member_marks == ("A1", "A3")
    assert second.release.pieces.retired == ("A2",)
    third, content = issued([angle(300), angle(200)], content, settings("C"))
    assert third.member_marks == ("A3", "A2")
    assert third.release.pieces.retired == ("A1",)


def test_small_changes_do_not_add_up():
    """0.2 mm an issue is within the tolerance of the issue before; held against the released shape it adds up."""
    marks, content = [], b""
    for number in range(4):
        found, content = issued([angle(100.0 + 0.2 * number)], content, settings(f"R{number}"))
        marks += found.member_marks
        assert found.pieces[0].holes[0].x == (100.0 if number < 3 else 100.6)
    assert marks == ["A1", "A1", "A1", "A2"]


def test_a_known_piece_keeps_its_frame():
    """An equal angle lies one of two ways; which is chosen for a new piece, decides the smallest list of holes."""
    part = angle(100, 400, section=L100)
    turned = member(L100, 1000, holes=(hole("B", 900, 45), hole("B", 600, 45)))
    first, content = issued([part])
    table = first.pieces[0].holes
    for other in (part, turned, moved(turned, rotation((1, 2, 3)), (500, 600, 700))):
        found, _ = issued([other], content, settings("B"))
        assert found.pieces[0].holes == table
        assert found.member_marks == ("A1",)


def test_the_released_shape_represents_before_the_commoner_near_twin():
    first, content = issued([angle(100.0)])
    found, _ = issued([angle(100.4), angle(100.4), angle(100.0)], content, settings("B"))
    assert found.member_marks == ("A1", "A1", "A1")
    assert found.pieces[0].holes == first.pieces[0].holes
    # Without it the commoner one would.
    assert work_out(found.model, settings()).pieces[0].holes[0].x == 100.4


@pytest.mark.parametrize(("before", "after"), [(0.5, 0.2), (0.2, 1.0)])
def test_tolerances_changed_later_move_no_part_to_another_mark(before, after):
    drilled = [angle(x, 500.0) for x in (100.0, 100.15, 100.3, 100.45, 100.6)]
    # Holes of openings have no bolt, so that the tolerance alone decides.
    first, content = issued(drilled, options=settings(identity={"position_mm": before}))
    second, content = issued(drilled, content, settings("B", identity={"position_mm": after}))
    assert second.member_marks == first.member_marks
    assert "register-tolerances-differ" in codes(second)
    assert "register-tolerances-differ" not in codes(first)


def test_a_section_of_a_chain_stays_with_its_mark_when_a_thinner_one_comes():
    """8.00 and 8.08 are one section; 7.93 is one with 8.00 but not with 8.08, and it comes first in order."""
    thin, middle, thick = (shapes.angle(80, 60, t) for t in (7.93, 8.0, 8.08))
    first, content = issued([angle(100, section=middle), angle(100, section=middle), angle(100, section=thick)])
    assert first.member_marks == ("A1",) * 3
    parts = [angle(100, section=thin), angle(100, section=middle), angle(100, section=thick)]
    second, _ = issued(parts, content, settings("B"))
    assert second.member_marks[1:] == ("A1", "A1")


def test_opposite_hands_stay_named_to_each_other():
    one = angle(100)
    first, content = issued([one])
    assert first.pieces[0].opposite_hand_of == ""
    # Alone in its issue, the new hand names the released one all the same.
    second, content = issued([mirrored(one)], content, settings("B"))
    assert [(p.mark, p.opposite_hand_of) for p in second.pieces] == [("A2", "A1")]
    third, content = issued([one], content, settings("C"))
    assert [(p.mark, p.opposite_hand_of) for p in third.pieces] == [("A1", "A2")]
    # A near twin of the opposite hand, commoner than it, does not part them.
    twin = mirrored(angle(100.9))
    near = [mirrored(angle(100.45)), twin, twin, one, mirrored(one)]
    fourth, content = issued(near, content, settings("D"))
    by_mark = {p.mark: p for p in fourth.pieces}
    assert (by_mark["A1"].opposite_hand_of, by_mark["A2"].opposite_hand_of) == ("A2", "A1")


def test_hands_named_under_wider_tolerances_stay_named():
    parts = [angle(100), mirrored(angle(100.9))]
    first, content = issued(parts, options=settings(identity={"position_mm": 1.0}))
    assert [p.opposite_hand_of for p in first.pieces] == ["A2", "A1"]
    second, _ = issued(parts, content, settings("B"))
    assert [p.opposite_hand_of for p in second.pieces] == ["A2", "A1"]


def test_a_piece_on_hold_reserves_its_mark_and_releases_nothing():
    held = angle(100, status="held", reason="A hole is not certain.")
    first, content = issued([held, angle(200)])
    assert first.pieces[0].status == "held"
    assert first.release.pieces.reserved == ("A1",)
    entry = parsed(content, HERE).piece("A1")
    assert (entry.released, entry.most, entry.shown) == (None, 0, "A")
    second, content = issued([angle(100), angle(100), angle(200)], content, settings("B"))
    assert second.member_marks == ("A1", "A1", "A2")
    entry = parsed(content, HERE).piece("A1")
    assert (entry.released, dict(entry.quantities), entry.shown) == ("B", {"B": 2}, "A")


def test_quantities_are_of_an_issue_and_do_not_double():
    _, content = issued([angle(100)] * 3 + [angle(200)])
    _, again = issued([angle(100)] * 3 + [angle(200)], content)
    assert again == content
    _, content = issued([angle(100)], content, settings("B"))
    one, other = parsed(content, HERE).pieces
    assert (dict(one.quantities), dict(other.quantities)) == ({"A": 3, "B": 1}, {"A": 1})
    assert (one.most, other.most) == (3, 1)
    # An issue written anew without the piece says so; what the shop may have cut is not forgotten.
    _, content = issued([angle(200)], content, settings("B"))
    assert dict(parsed(content, HERE).pieces[0].quantities) == {"A": 3, "B": 0}
    assert [i.revision for i in parsed(content, HERE).issues] == ["A", "B"]


def test_without_a_revision_the_models_date_is_the_issue_and_that_is_said():
    found, content = issued([angle(100)], options=settings(""))
    assert parsed(content, HERE).issues[0].revision == "2031-04-30"
    assert "2031-04-30" in codes(found)["register-revision-assumed"].message


def test_lists_of_the_run_that_begins_a_register_are_those_of_the_run_that_finds_it():
    parts = [
        angle(100.123456789, 499.87654321, grade="S355J2", left=(skew(20, 30, end="left"),)),
        plate(((0, 0), (300.00000123, 0), (300, 150), (200, 200.0000004), (0, 200)), holes=(hole("face", 80, 70, 18),)),
        member(FL100, 500.1234567, holes=(hole("face", 50, 30, 14, slot_length=30.0, slot_angle=30.0, kind="slot"),)),
        member(L100, 900, notches=(Notch("A", ((0, 60), (0, 100), (80, 100), (80, 60))),)),
    ]
    parts += [moved(mirrored(p), rotation((1, 2, 3)), (1, 2, 3)) for p in parts]
    first, content = issued(parts)
    second, again = issued(parts, content)
    assert again == content
    assert first.queries == second.queries
    for one, other in zip(first.pieces, second.pieces, strict=True):
        for name in ("mark", "holes", "cuts", "length", "gross", "net", "surface", "outline", "spread", "members"):
            assert getattr(one, name) == getattr(other, name), name
        for here, there in zip(one.outlines, other.outlines, strict=True):
            np.testing.assert_array_equal(here.points, there.points)


def test_weights_follow_the_table_of_this_run():
    heavier = replace(L80X60, mass_kg_per_m=2 * L80X60.mass_kg_per_m, standard="another table")
    first, content = issued([angle(100)])
    second, _ = issued([angle(100, section=heavier)], content, settings("B"))
    assert second.member_marks == first.member_marks
    assert second.pieces[0].gross == pytest.approx(2 * first.pieces[0].gross)


def test_the_machine_file_and_the_stamp_of_a_released_mark_stay_its_own():
    """a/1 and a_1 are one name to a file system: who came first keeps it, whatever comes later."""
    _, content = issued([angle(100, mark="a/1")])
    second, content = issued([angle(100, mark="a/1"), angle(200, mark="a_1")], content, settings("B"))
    names = nc_files(second, Settings()).names
    assert names["a/1"] == "a_1.nc"
    assert names["a_1"] != "a_1.nc"
    third, content = issued([angle(200, mark="a_1")], content, settings("C"))
    assert nc_files(third, Settings()).names == {"a_1": names["a_1"]}


# ---------------------------------------------------------------- marks of the model


def test_the_model_may_rename_a_released_piece_but_not_its_mark():
    _, content = issued([angle(100, mark="D7"), angle(200, mark="D8")])
    found, _ = issued([angle(100, mark="D9"), angle(200, mark="D8")], content, settings("B"))
    assert found.member_marks == ("D7", "D8")
    asked = codes(found)["mark-changed-in-model"]
    assert asked.message == "The model marks D9 what the register knows as D7; it is made under D7."
    assert asked.piece_mark == "D7"


def test_a_released_mark_that_the_model_gives_to_another_shape_gets_a_suffix():
    _, content = issued([angle(100, mark="D7")])
    parts = [angle(300, mark="D7")]
    found, content = issued(parts, content, settings("B"))
    assert found.member_marks == ("D7-1",)
    assert codes(found)["mark-released-otherwise"].piece_mark == "D7-1"
    again, _ = issued(parts, content, settings("B"))
    assert again.queries == found.queries
    # Beside the piece that it was released for it is a mark that covers two shapes.
    both, _ = issued([*parts, angle(100, mark="D7")], content, settings("C"))
    assert both.member_marks == ("D7-1", "D7")
    assert "D7, D7-1" in codes(both)["mark-covers-shapes"].message


def test_a_released_mark_stays_when_the_shop_changes_to_its_own_scheme():
    _, content = issued([angle(100, mark="D7")])
    found, _ = issued(
        [angle(100, mark="D7"), angle(200, mark="D8")], content, settings("B", marks={"source": "scheme"})
    )
    assert found.member_marks == ("D7", "A1")


# ---------------------------------------------------------------- assemblies


def frames_of(*assemblies, gap=300.0):
    """For each name two angles and a flat that stand the same way, each lot somewhere else."""
    parts = []
    for number, name in enumerate(assemblies):
        lot = [angle(100), moved(angle(200), np.eye(3), (0, 400, 0)), moved(member(FL100, 500), np.eye(3), (0, 0, gap))]
        turn, shift = rotation((0.1 * number, 0.2, 0.3)), (9000.0 * number, 0, 0)
        parts += [replace(moved(p, turn, shift), global_id=global_id(), assembly=name) for p in lot]
    return parts


def test_an_assembly_keeps_its_mark_and_another_never_gets_it():
    first, content = issued(frames_of("a"), assemblies=[ModelAssembly("a")])
    assert {a.mark: a.quantity for a in first.assemblies} == {"AS1": 1}
    # Of the same pieces, one of them a little further away: another assembly, and first by name.
    parts = [*frames_of("0", gap=310.0), *frames_of("x", "y")]
    names = [ModelAssembly(name) for name in ("0", "x", "y")]
    second, content = issued(parts, content, settings("B"), names)
    assert {a.mark: a.instances for a in second.assemblies} == {"AS1": ("x", "y"), "AS2": ("0",)}
    third, content = issued(frames_of("z", gap=310.0), content, settings("C"), [ModelAssembly("z")])
    assert [a.mark for a in third.assemblies] == ["AS2"]
    assert third.release.assemblies == ((), ("AS2",), ("AS1",), ())
    assert [dict(a.quantities) for a in parsed(content, HERE).assemblies] == [{"A": 1, "B": 2}, {"B": 1, "C": 1}]


def test_a_released_assembly_mark_that_the_model_gives_to_another_gets_a_suffix():
    _, content = issued(frames_of("a"), assemblies=[ModelAssembly("a", mark="K1")])
    found, _ = issued(frames_of("b", gap=310.0), content, settings("B"), [ModelAssembly("b", mark="K1")])
    assert [a.mark for a in found.assemblies] == ["K1-1"]
    assert codes(found)["assembly-mark-changed"].global_ids == ("b",)


def test_an_assembly_with_a_piece_on_hold_is_reserved():
    parts = frames_of("a")
    parts[0] = replace(parts[0], status="held", reason="A hole is not certain.")
    found, content = issued(parts, assemblies=[ModelAssembly("a")])
    assert found.release.assemblies.reserved == ("AS1",)
    assert parsed(content, HERE).assemblies[0].released is None


# ---------------------------------------------------------------- whose register it is


def test_a_register_of_another_project_is_refused():
    _, content = issued([angle(100)])
    with pytest.raises(RegisterError, match="belongs to another project"):
        issued([angle(100)], content, projects=("Q" * 22,))
    # One of several models of the job is enough; the others' projects are known from then on.
    _, content = issued([angle(100)], content, projects=("P" * 22, "Q" * 22))
    issued([angle(100)], content, projects=("Q" * 22,))


def test_the_jobs_name_decides_where_both_have_one():
    named = settings(documents={"revision": "A", "job": "Test mast 1"})
    _, content = issued([angle(100)], options=named)
    # Programs may give a project a new GlobalId at every export.
    issued([angle(100)], content, named, projects=("Q" * 22,))
    other = settings(documents={"revision": "A", "job": "Test mast 2"})
    with pytest.raises(RegisterError, match="of the job Test mast 1, and the settings name the job Test mast 2"):
        issued([angle(100)], content, other)
    issued([angle(100)], content)


def test_an_issue_without_any_earlier_piece_is_asked_about():
    _, content = issued([angle(100), angle(200)])
    corrected, _ = issued([angle(100)], content)
    assert "register-nothing-known" not in codes(corrected)
    other = [angle(300)]
    found, content = issued(other, content, settings("B"))
    assert codes(found)["register-nothing-known"].message.startswith("None of the 2 marks")
    assert issued(other, content, settings("B"))[0].queries == found.queries
    assert "register-nothing-known" not in codes(issued([angle(300), angle(200)], content, settings("C"))[0])


def test_an_issue_is_the_whole_job():
    """Else the second of two models, run by itself, would say that nothing of the first is released."""
    _, content = issued([angle(100)], name="mast + platform")
    with pytest.raises(RegisterError, match=r"issue A as lists of mast \+ platform, and this is platform\."):
        issued([angle(200)], content, name="platform")
    issued([angle(100)], content, name="platform + mast")
    issued([angle(200)], content, settings("B"), name="platform")


def test_a_model_that_does_not_say_which_job_it_is_needs_a_name():
    with pytest.raises(RegisterError, match="Name the job under"):
        issued([angle(100)], projects=())
    issued([angle(100)], options=settings(documents={"job": "Test mast"}), projects=())


# ---------------------------------------------------------------- the file


@pytest.fixture
def content():
    """A register with a bit of everything."""
    parts = [
        *frames_of("a"),
        angle(100, 300, mark="D\N{GREEK SMALL LETTER OMEGA}", left=(skew(20, 30, end="left"),)),
        plate(((0, 0), (300, 0, 0.3), (300, 150), (200, 200), (0, 200)), holes=(hole("face", 80, 70, 18),)),
        member(L100, 900, notches=(Notch("A", ((0, 60), (0, 100), (80, 100), (80, 60))),)),
        mirrored(angle(100)),
    ]
    return issued(parts, assemblies=[ModelAssembly("a")])[1]


def test_what_is_written_is_what_is_read(content, tmp_path):
    path = tmp_path / "register.json"
    path.write_bytes(content)
    register = read_register(path)
    assert written(register) == content
    assert len(FEATURES) == COLUMNS
    for line in content.decode().splitlines():
        assert line.count('"mark": ') <= 1, "a line for each mark, so that two states can be compared line by line"
    assert json.loads(content)["pieces"][0]["mark"]


def test_a_piece_can_be_made_from_the_register_alone(content):
    """Comparing two issues draws pieces that no model has any more."""
    from takeoff.identity import Marking

    first, _ = issued([angle(100, 300, left=(skew(20, 30, end="left"),))])
    entry = first.release.register.pieces[0]
    (piece,) = make_pieces([group_of(entry)], Marking((entry.mark,), ((),)), ())
    here = first.pieces[0]
    assert (piece.cuts, piece.length, piece.section) == (here.cuts, here.length, here.section)
    assert [(h.label, h.x, h.across, h.diameter) for h in piece.holes] == [
        (h.label, h.x, h.across, h.diameter) for h in here.holes
    ]
    make_canonical(shape_of(entry))


def refused(content):
    with pytest.raises(RegisterError) as caught:
        parsed(content, HERE)
    return str(caught.value)


def test_every_damage_is_refused(content):
    """Any byte lost, any line lost, any number changed: never half a register."""
    step = max(1, len(content) // 60)
    for at in range(0, len(content) - 2, step):
        assert "damaged" in refused(content[:at])
        other = bytes([content[at] ^ 1])
        assert "damaged" in refused(content[:at] + other + content[at + 1 :])
    lines = content.splitlines(keepends=True)
    for k in range(len(lines)):
        assert "damaged" in refused(b"".join([*lines[:k], *lines[k + 1 :]]))
    for text in (b"", b"[]", b"null", b"{}", b"ISO-10303-21;\n", b"\xff\xfe", b'{"file": "takeoff mark register"}'):
        assert "damaged" in refused(text)


def test_a_newer_format_is_refused_without_calling_it_damaged(content):
    newer = content.replace(f'"format": {FORMAT}'.encode(), f'"format": {FORMAT + 1}'.encode())
    assert "newer version" in refused(newer)
    assert "damaged" not in refused(newer)


def test_a_register_that_is_not_there_is_named(tmp_path):
    with pytest.raises(RegisterError, match=r"gone\.json cannot be read: no such file"):
        read_register(tmp_path / "gone.json")
