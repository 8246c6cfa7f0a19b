"""Marks, grades, assemblies and what becomes of each part: listed, held, left out, bought out."""

from collections import Counter

import ifcopenshell
import pytest
from build import Build

from takeoff.ifc.materials import grade_of, judge
from takeoff.ifc.properties import looks_like_mark
from takeoff.ifc.reader import read
from takeoff.ifc.step_text import Typed
from takeoff.ifc.words import bought_out, looks_like_section, names_flat, not_steel, sizes
from takeoff.ifc.writer import ModelWriter, frame
from takeoff.settings import Settings

AT = frame((0, 0, 0), (1, 0, 0), (0, 0, 1))


class Job:
    def __init__(self, schema="IFC4"):
        self.writer = ModelWriter(schema)
        self.angle = self.writer.profiles.angle(100, 65, 8, name="L100x65x8")

    def part(self, profile=None, length=1000, **named):
        named.setdefault("material", "S355J2")
        return self.writer.member(profile or self.angle, AT, length, **named)

    def read(self, tmp_path):
        return read(self.writer.save(tmp_path / "m.ifc"), Settings())


def one(tmp_path, **named):
    job = Job()
    job.part(**named)
    model, queries = job.read(tmp_path)
    (member,) = model.members
    return member, {query.code: query for query in queries}


# ---------------------------------------------------------------- marks


@pytest.mark.parametrize(
    ("named", "mark"),
    [
        ({"psets": {"Any": {"Part mark": "A12"}}, "name": "beam"}, "A12"),
        ({"psets": {"Any": {"Positionsnummer": "A12"}}}, "A12"),
        ({"psets": {"Any": {"Repère": "A12"}}}, "A12"),
        ({"psets": {"Pset_MemberCommon": {"Reference": "A12"}}}, "A12"),
        ({"psets": {"Pset_MemberCommon": {"Reference": "L100x65x8"}}, "tag": "A12"}, "A12"),
        ({"psets": {"Other": {"Reference": "X"}}, "tag": "A12"}, "A12"),
        ({"tag": "1007"}, "1007"),
        ({"tag": "ID551A69D0-0000-0266-3134"}, ""),
        ({"tag": "454425.1027891.979946.932"}, ""),
        ({"tag": "4d6b8a52-88d1-4d3c-9d0c-6a2f9f0f6c11"}, ""),
        ({"tag": "0ymXLmGUz4WPyHYyZL4hYc"}, ""),
        ({"tag": "0", "name": "A-1"}, "A-1"),
        ({"name": "L100x65x8"}, ""),
        ({"name": "BEAM"}, ""),
        ({"psets": {"Pset_MemberCommon": {"Reference": "Diagonal"}}}, ""),
        ({"psets": {"Any": {"Part mark": "LEG2"}}}, "LEG2"),
        ({"psets": {"Pset_MemberCommon": {"Reference": "Diagonal"}}, "tag": "A12"}, "A12"),
        ({"name": "Leg 2"}, ""),
        ({"psets": {"Any": {"Part mark": "$"}}, "tag": "A12"}, "A12"),
        ({"psets": {"Any": {"Part mark": ""}}, "tag": "A12"}, "A12"),
    ],
)
def test_the_mark_is_taken_from_where_it_is_surest(tmp_path, named, mark):
    member, _ = one(tmp_path, **named)
    assert member.mark == mark


def test_a_name_taken_for_a_mark_is_said(tmp_path):
    member, queries = one(tmp_path, name="D17")
    assert member.mark == "D17"
    assert queries["mark-from-name"].global_ids == (member.global_id,)


def test_marks_that_disagree_are_asked_about(tmp_path):
    member, queries = one(tmp_path, psets={"Any": {"Part mark": "A12"}}, tag="B7")
    assert member.mark == "A12"
    assert "A12" in queries["mark-disputed"].message
    assert "B7" in queries["mark-disputed"].message


def test_a_set_that_is_there_twice_does_no_harm(tmp_path):
    job = Job()
    part = job.part(psets={"Common": {"Part mark": "A1", "Finish": "galvanised"}})
    again = job.writer._pset("Common", {"Part mark": "A1"})
    job.writer._relate("IfcRelDefinesByProperties", again, part.ref)
    model, queries = job.read(tmp_path)
    assert [(m.mark, m.finish) for m in model.members] == [("A1", "galvanised")]
    assert queries == ()


def test_sets_of_the_type_count_where_the_part_says_nothing(tmp_path):
    job = Job()
    job.writer.type("IfcMember", "chord", material="S275JR", psets={"Steel": {"Coating": "HDG"}})
    job.part(type_name="chord", material=None)
    job.part(type_name="chord", material="S355J0", psets={"Steel": {"Coating": "none"}})
    model, _ = job.read(tmp_path)
    assert sorted((m.grade, m.finish) for m in model.members) == [("S275JR", "HDG"), ("S355J0", "HDG")]


@pytest.mark.parametrize("value", [1.79e308, Typed("IfcReal", 1.7976931348623157e308)])
def test_sentinels_are_nothing(tmp_path, value):
    member, _ = one(tmp_path, psets={"Any": {"Finish": value, "Part mark": value}})
    assert (member.finish, member.mark) == ("", "")


@pytest.mark.parametrize("text", ["A1", "1007", "HW-12b", "TR-02-02", "L21"])
def test_what_looks_like_a_mark(text):
    assert looks_like_mark(text)


# ---------------------------------------------------------------- materials


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        ("STEEL/S355JR", "S355JR"), ("S355", "S355"), ("S355JO", "S355J0"), ("S235JRG2", "S235JRG2"),
        ("E335", "E335"), ("Steel - S 275", "S275"),
        ("Stahl S460NL", "S460NL"), ("S355J2+N", "S355J2+N"), ("A36", "A36"),
        ("A500-GR.B", "A500-GR.B"), ("ASTM A572 Gr. 50", "A572 Gr. 50"), ("Q235B", "Q235B"), ("SS400", "SS400"),
        ("St52-3", "St52-3"), ("C45/55", ""), ("Structural Steel", ""), ("1.0038", "1.0038"), ("A992", "A992"),
        ("350W", "350W"), ("E250 A", "E250 A"),
    ],
)  # fmt: skip
def test_grades_in_the_words_of_models(text, grade):
    """Names as seen in public models, and designations of EN 10025, ASTM, GB, JIS, DIN, CSA, IS (memory)."""
    assert grade_of(text) == grade


@pytest.mark.parametrize(
    ("text", "foreign"),
    [
        ("CONCRETE/C45/55", "concrete"), ("C25/30", "concrete"), ("Beton", "concrete"), ("wood_spruce_beam", "timber"),
        ("Holz GL24h", "timber"), ("Glas", "glass"), ("EPDM", "rubber or plastic"), ("ALUMINIUM", "aluminium"),
        ("stone_sand-lime", "masonry"), ("MISCELLANEOUS/RUBBER_ZACHT", "rubber or plastic"), ("S355JR", ""),
        ("metal_steel-galvanized", ""), ("Undefined/3500", ""), ("", ""), ("Woodford steel", ""),
    ],
)  # fmt: skip
def test_materials_that_are_not_steel(text, foreign):
    assert judge(text).foreign == foreign


def test_a_name_that_is_no_known_grade_is_kept_and_one_that_only_says_steel_is_no_grade():
    assert judge("STEEL/Weldox 700").grade == "Weldox 700"
    assert judge("Structural steel") == judge("Structural steel").__class__("Structural steel", "", "", True)
    assert judge("Default").grade == ""
    assert judge("Undefined/3500").grade == ""


@pytest.mark.parametrize(
    ("make", "expected"),
    [
        ("IfcMaterialList", ("S235JR", "")),
        ("IfcMaterialLayerSetUsage", ("S235JR", "")),
        ("IfcMaterialProfileSetUsage", ("S235JR", "L 100x65x8")),
        ("IfcMaterialConstituentSet", ("S235JR", "")),
    ],
)
def test_grades_come_out_of_every_material_set(make, expected):
    from ifc_scene import Scene

    from takeoff.ifc.materials import Materials

    scene = Scene()
    new = scene.file.create_entity
    steel, zinc = new("IfcMaterial", Name="S235JR"), new("IfcMaterial", Name="Zinc")
    if make == "IfcMaterialList":
        top = new(make, Materials=[zinc, steel])
    elif make == "IfcMaterialLayerSetUsage":
        layers = [new("IfcMaterialLayer", Material=m, LayerThickness=1.0) for m in (zinc, steel)]
        top = new(
            make,
            ForLayerSet=new("IfcMaterialLayerSet", MaterialLayers=layers),
            LayerSetDirection="AXIS1",
            DirectionSense="POSITIVE",
            OffsetFromReferenceLine=0.0,
        )
    elif make == "IfcMaterialProfileSetUsage":
        profile = new("IfcLShapeProfileDef", ProfileType="AREA", ProfileName="L 100x65x8", Depth=100.0, Thickness=8.0)
        one_profile = new("IfcMaterialProfile", Material=steel, Profile=profile)
        top = new(make, ForProfileSet=new("IfcMaterialProfileSet", MaterialProfiles=[one_profile]))
    else:
        parts = [new("IfcMaterialConstituent", Material=m) for m in (zinc, steel)]
        top = new(make, MaterialConstituents=parts)
    member = new("IfcMember", GlobalId="1" * 22)
    new("IfcRelAssociatesMaterial", GlobalId="2" * 22, RelatedObjects=[member], RelatingMaterial=top)
    material, section = Materials(scene.ctx, {}).of(member)
    assert (material.grade, section) == expected


def test_parts_without_a_grade_are_asked_about_once(tmp_path):
    job = Job()
    job.part(material=None)
    job.part(material="Steel")
    job.part()
    model, queries = job.read(tmp_path)
    (query,) = queries
    assert query.code == "part-no-grade"
    assert set(query.global_ids) == {m.global_id for m in model.members if not m.grade}
    assert len(query.global_ids) == 2


# ---------------------------------------------------------------- what becomes of parts


@pytest.mark.parametrize(
    ("named", "status", "words"),
    [
        ({}, "listed", ""),
        ({"material": "Concrete C30/37"}, "left out", "concrete"),
        ({"material": "Holz"}, "left out", "timber"),
        # an angle is a rolled section of steel, whatever a word says: never lost for it
        ({"material": None, "psets": {"Any": {"Part mark": "Beton_BO-21"}}}, "held", "concrete"),
        ({"name": "Gitterrost 30/30"}, "listed", ""),
        ({"name": "MOER_M16"}, "listed", ""),
        ({"name": "anchor M24"}, "listed", ""),
        ({"name": "anchor plate"}, "listed", ""),
        ({"kind": "IfcBuildingElementProxy"}, "listed", ""),
        ({"kind": "IfcDiscreteAccessory"}, "listed", ""),
        ({"kind": "IfcDiscreteAccessory", "material": None}, "listed", ""),
        ({"kind": "IfcColumn"}, "listed", ""),
    ],
)
def test_what_becomes_of_a_part(tmp_path, named, status, words):
    member, _ = one(tmp_path, **named)
    assert member.status == status
    assert words in member.reason
    assert bool(member.reason) == (status != "listed")


@pytest.mark.parametrize(
    ("named", "status", "words"),
    [
        ({"material": None, "psets": {"Any": {"Part mark": "Beton_BO-21"}}}, "left out", "concrete"),
        ({"name": "Gitterrost 30/30"}, "bought out", "grating"),
        ({"name": "MOER_M16"}, "bought out", "nut"),
        ({"name": "anchor M24"}, "bought out", "anchor"),
    ],
)
def test_what_becomes_of_a_part_that_is_no_rolled_section(tmp_path, named, status, words):
    model = Build()
    model.flat(**{"material": "S235JR", **named})
    (member,) = read(model.save(tmp_path / "m.ifc"), Settings())[0].members
    assert (member.status, words in member.reason) == (status, True)


def box(u=100.0, v=100.0, length=100.0):
    points = [(x, y, z) for x in (0, length) for y in (0, u) for z in (0, v)]
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    return points, faces


def pyramid(side=100.0):
    """A body that is no bar and no plate."""
    points = [(0, 0, 0), (side, 0, 0), (side, side, 0), (0, side, 0), (side / 2, side / 2, side)]
    return points, [(0, 3, 2, 1), (0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)]


def test_bodies_that_cannot_be_read_are_held_and_grouped_by_cause(tmp_path):
    job = Job()
    for _ in range(3):
        job.writer.mesh(*pyramid(), kind="IfcBeam", material="S355J2", name="PL100")
    model, queries = job.read(tmp_path)
    assert {m.status for m in model.members} == {"held"}
    (query,) = queries
    assert query.code in ("part-drawn-body", "part-body-unread")
    assert (query.severity, len(query.global_ids)) == ("hold", 3)
    assert all(m.reason for m in model.members)


def test_a_proxy_that_says_nothing_is_left_out_and_said(tmp_path):
    job = Job()
    job.writer.mesh(*box(), kind="IfcBuildingElementProxy", name="origin")
    job.writer.plate([(0, 0), (300, 0), (300, 200), (0, 200)], AT, 10, kind="IfcDiscreteAccessory", name="gusset 2")
    model, queries = job.read(tmp_path)
    assert sorted((m.name, m.status) for m in model.members) == [("gusset 2", "listed"), ("origin", "left out")]
    assert [q.code for q in queries] == ["part-not-clear", "part-no-grade"]


def test_a_part_without_a_body_is_held_and_one_made_of_parts_is_not(tmp_path):
    job = Job()
    whole = job.writer.product("IfcBeam", AT, None, AT, name="truss", material="S355J2")
    job.part(assembly=whole)
    job.writer.product("IfcBeam", AT, None, AT, name="girder", material="S355J2")
    model, queries = job.read(tmp_path)
    assert Counter(m.status for m in model.members) == {"listed": 1, "left out": 1, "held": 1}
    assert [q.code for q in queries] == ["part-no-body"]


def test_bolts_drawn_as_proxies_are_fasteners(tmp_path):
    job = Job()
    job.writer.bolt((100, -8, 45), (0, 1, 0), 16, 16, kind="IfcBuildingElementProxy", name="Bolt M16x45")
    job.part()
    model, _ = job.read(tmp_path)
    assert [f.ifc_class for f in model.fasteners] == ["IfcBuildingElementProxy"]
    assert len(model.members) == 1


def test_two_bodies_in_one_part_are_held(tmp_path):
    job = Job()
    solids = job.writer.solids
    twice = [solids.extrude(job.angle, 1000), solids.extrude(job.angle, 1000, start=5)]
    same = [solids.extrude(job.angle, 1000), solids._step.add(solids.extrude(job.angle, 1000) and _again(job))]
    job.writer.product("IfcMember", AT, solids.shape(twice, "SweptSolid"), AT, material="S355J2")
    job.writer.product("IfcMember", AT, solids.shape(same, "SweptSolid"), AT, material="S355J2")
    model, queries = job.read(tmp_path)
    assert sorted(m.status for m in model.members) == ["held", "listed"]
    assert [q.code for q in queries] == ["part-several-bodies"]


def _again(job):
    """The text of the same extrusion once more, as an entity of its own."""
    axes = job.writer.solids.axis3((0, 0, 0))
    along = job.writer.step.direction((0, 0, 1))
    return f"IFCEXTRUDEDAREASOLID({job.angle},{axes},{along},1000.)"


def test_a_thick_block_without_a_material_is_asked_about(tmp_path):
    job = Job()
    job.part(profile=job.writer.profiles.rectangle(300, 300), length=3000, material=None)
    model, queries = job.read(tmp_path)
    assert model.members[0].status == "held"
    assert {q.code for q in queries} == {"part-too-thick", "part-no-grade"}


def test_a_damaged_part_is_held_and_the_others_are_read(tmp_path):
    job = Job()
    job.part()
    job.part(length=1500)
    path = job.writer.save(tmp_path / "m.ifc")
    text = path.read_text()
    solid = next(line for line in text.splitlines() if "IFCEXTRUDEDAREASOLID" in line and "1500." in line)
    path.write_text(text.replace(solid, solid.replace("1500.", "$")))
    model, queries = read(path, Settings())
    assert sorted(m.status for m in model.members) == ["held", "listed"]
    assert [q.code for q in queries] == ["part-damaged"]


def test_steel_of_other_kinds_is_said_and_concrete_is_not(tmp_path):
    job = Job()
    job.writer.mesh(*box(), kind="IfcRailing", material="S235JR")
    job.writer.mesh(*box(), kind="IfcSlab", material="C25/30")
    assembly = job.writer.assembly("frame")
    job.part(assembly=assembly)
    model, queries = job.read(tmp_path)
    assert len(model.members) == 1
    (query,) = queries
    assert query.code == "elements-not-read"
    assert "1 IfcRailing" in query.message


# ---------------------------------------------------------------- assemblies


def test_assemblies_are_nested_and_parts_know_the_innermost(tmp_path):
    job = Job()
    tower = job.writer.assembly("tower", tag="T1")
    panel = job.writer.assembly("panel", tag="P1", parent=tower)
    inner = job.part(assembly=panel)
    outer = job.part(assembly=tower)
    loose = job.part()
    model, _ = job.read(tmp_path)
    members = {m.global_id: m for m in model.members}
    assert members[inner.global_id].assembly == panel.global_id
    assert members[outer.global_id].assembly == tower.global_id
    assert members[loose.global_id].assembly == ""
    assert {a.global_id: (a.mark, a.parent) for a in model.assemblies} == {
        tower.global_id: ("T1", ""),
        panel.global_id: ("P1", tower.global_id),
    }


def test_an_assembly_without_a_mark_takes_the_one_its_parts_agree_on(tmp_path):
    job = Job()
    agreed, split = job.writer.assembly("one"), job.writer.assembly("two")
    for _ in range(2):
        job.part(assembly=agreed, psets={"Any": {"Assembly mark": "K2"}})
    for mark in ("K3", "K4"):
        job.part(assembly=split, psets={"Any": {"Assembly mark": mark}})
    model, _ = job.read(tmp_path)
    assert {a.name: a.mark for a in model.assemblies} == {"one": "K2", "two": ""}


# ---------------------------------------------------------------- words


@pytest.mark.parametrize(
    "text", ["FL100x10", "Strip 50x10", "STRIP15*280", "flat bar 80 x 8", 'FB1/4"x1"', "Flach 60x6"]
)
def test_names_of_flats(text):
    assert names_flat(text)
    assert looks_like_section(text)


@pytest.mark.parametrize("text", ["PL10", "L100x10", "flange plate", "A12", "FLA", "HEB220"])
def test_names_that_are_no_flats(text):
    assert not names_flat(text) or text == "FLA"


def test_sizes_in_names():
    assert sizes("STRIP15*280") == (15, 280)
    assert sizes('FB1/4"x1"') == pytest.approx((6.35, 25.4))
    assert sizes("FL 1 1/2x3/8") == pytest.approx((38.1, 9.525))


@pytest.mark.parametrize("text", ["A12", "1007", "C12", "R5", "W3", "D17", "TR-02"])
def test_marks_are_no_sections(text):
    assert not looks_like_section(text)


@pytest.mark.parametrize("text", ["L 100x65x8", "HEB220", "IPE 200", "UB406*140*46", "PL19.1", "120*8", "HSS6x6x.375"])
def test_sections_are_sections(text):
    assert looks_like_section(text)


def test_words_are_whole_words():
    assert bought_out("Rostock platform") == ""
    assert not_steel("Woodbridge mast") == ""
    assert bought_out("LOOPROOSTER 40x40") == "grating"


@pytest.mark.parametrize(("called", "asked"), [("L70x70x7", False), ("L80x80x8", True)])
def test_a_profile_that_is_called_another_section_is_asked_about(tmp_path, called, asked):
    model = Build()
    model.angle(legs=(70, 70, 7), profile_name=called, material="S235JR")
    found, queries = read(model.save(tmp_path / "m.ifc"), Settings())
    assert found.members[0].status == "listed"
    assert ("section-name-disagrees" in {q.code for q in queries}) == asked


# ---------------------------------------------------------------- parts without a placement


def test_a_part_without_a_placement_is_read_where_it_is_drawn_and_asked_about(tmp_path):
    """ISO 16739-1, IfcProduct: a representation needs a placement (rule PlacementForShapeRepresentation)."""
    job = Job()
    job.part(name="placed")
    job.part(name="adrift")
    path = job.writer.save(tmp_path / "m.ifc")
    file = ifcopenshell.open(str(path))
    (adrift,) = (part for part in file.by_type("IfcMember") if part.Name == "adrift")
    adrift.ObjectPlacement = None
    file.write(str(path))
    model, queries = read(path, Settings())
    (asked,) = (q for q in queries if q.code == "part-not-placed")
    assert asked.global_ids == (adrift.GlobalId,)
    assert asked.severity == "check"
    assert {m.status for m in model.members} == {"listed"}
