"""What fasteners are said to be: sizes, grades, holes, in whatever unit, language or place they are stated."""

from __future__ import annotations

from typing import Any

import pytest
from entity_scene import Scene

from takeoff.ifc.fastener_properties import meanings, place_of, plain
from takeoff.ifc.fastener_words import GRADE, STANDARD, first, size_of
from takeoff.ifc.fasteners import read_fasteners
from takeoff.queries import KINDS
from takeoff.steel import Fastener


def bolt(
    unit: str = "mm",
    drawn: float = 16,
    length: float = 45,
    values: dict[str, Any] | None = None,
    schema: str = "IFC4",
    **named: Any,
) -> Fastener:
    scene = Scene(schema, unit)
    product = scene.product("IfcMechanicalFastener", [scene.extruded(scene.circle(drawn), length)], **named)
    if values:
        scene.properties(product, values)
    (found,) = read_fasteners(scene.ctx, [product])
    return found


def codes(fastener: Fastener) -> list[str]:
    return [problem.code for problem in fastener.problems]


@pytest.mark.parametrize(("unit", "per_mm"), [("mm", 1.0), ("m", 1e-3), ("inch", 1 / 25.4)])
def test_attributes_are_in_the_unit_of_the_file(unit: str, per_mm: float) -> None:
    found = bolt(unit, NominalDiameter=16 * per_mm, NominalLength=45 * per_mm)
    assert (found.diameter, found.length) == pytest.approx((16, 45))
    assert found.problems == ()


@pytest.mark.parametrize(
    ("unit", "stated", "diameter"),
    [
        ("m", 16.0, 16.0),  # millimetres in a file in metres
        ("mm", 0.016, 16.0),  # metres in a file in millimetres
        ("mm", 0.75, 19.05),  # inches in a file in millimetres
        ("inch", 16.0, 16.0),  # millimetres in a file in inches
    ],
)
def test_a_diameter_in_another_unit_than_the_file_is_put_right_and_said(
    unit: str, stated: float, diameter: float
) -> None:
    found = bolt(unit, drawn=diameter + 2, NominalDiameter=stated)
    assert found.diameter == pytest.approx(diameter)
    assert "bolt-unit-repaired" in codes(found)


def test_the_drawn_diameter_does_not_overrule_the_stated_one() -> None:
    found = bolt(drawn=18, NominalDiameter=16.0)
    assert found.diameter == 16
    assert found.bolts[0].drawn_diameter == pytest.approx(18)
    assert codes(found) == []


def test_a_drawn_diameter_is_taken_only_where_nothing_is_stated_and_said() -> None:
    found = bolt(drawn=18)
    assert found.diameter == 18
    assert codes(found) == ["bolt-diameter-drawn"]
    assert found.problems[0].values == ("18",)


def test_two_stated_diameters_are_disputed() -> None:
    found = bolt(NominalDiameter=16.0, Name="Bolt M20x60")
    assert found.diameter == 16
    assert "bolt-diameter-disputed" in codes(found)


def test_a_diameter_far_from_the_drawing_is_said() -> None:
    found = bolt(drawn=30, NominalDiameter=16.0)
    assert found.diameter == 16
    assert codes(found) == ["bolt-diameter-unlike-drawing"]


def test_names_give_what_attributes_do_not() -> None:
    found = bolt(Name="Bolt M16x45 8.8 ISO 4014")
    assert (found.diameter, found.length, found.grade, found.standard) == (16, 45, "8.8", "ISO 4014")
    assert found.problems == ()


def test_properties_by_their_meaning_in_several_languages() -> None:
    values: dict[str, Any] = {
        "Nenndurchmesser": ("IfcLengthMeasure", 16.0),
        "Schraubenlänge": ("IfcPositiveLengthMeasure", 45.0),
        "Festigkeitsklasse": "10.9",
        "Norm": "EN 14399-4",
        "Lochdurchmesser": 18.0,
        "Anzahl Muttern": 1,
        "washer_count": 2,
        "Montageort": "Baustelle",
        "Slotted hole x": ("IfcLengthMeasure", 10.0),
    }
    found = bolt(values=values)
    assert (found.diameter, found.length) == (16, 45)
    assert (found.grade, found.standard) == ("10.9", "EN 14399-4")
    assert (found.hole_diameter, found.slot_x, found.slot_y) == (18, 10, 0)
    assert (found.nuts, found.washers, found.place) == (1, 2, "site")
    assert found.problems == ()


def test_a_length_property_follows_the_file_and_a_bare_number_is_millimetres() -> None:
    found = bolt("m", values={"Bolt size": ("IfcLengthMeasure", 0.016), "Bolt hole diameter": 18.0})
    assert (found.diameter, found.hole_diameter) == pytest.approx((16, 18))
    assert found.problems == ()


def test_sizes_written_as_text_and_numbers_that_stand_for_nothing() -> None:
    found = bolt(values={"Bolt size": "M16", "Bolt length": 1.79e308, "Bolt grade": " ", "Bolt count": -1})
    assert found.diameter == 16
    assert found.length is None
    assert found.grade == ""
    assert found.count is None


def test_the_type_speaks_where_the_bolt_does_not() -> None:
    scene = Scene()
    product = scene.product("IfcMechanicalFastener", [scene.extruded(scene.circle(18), 40)])
    kind = scene.add(
        "IfcMechanicalFastenerType",
        GlobalId=scene.guid(),
        Name="M16 anchor",
        PredefinedType="ANCHORBOLT",
        NominalDiameter=16.0,
        NominalLength=400.0,
    )
    scene.add("IfcRelDefinesByType", GlobalId=scene.guid(), RelatedObjects=[product], RelatingType=kind)
    (found,) = read_fasteners(scene.ctx, [product])
    assert (found.kind, found.diameter, found.length) == ("anchor", 16, 400)


@pytest.mark.parametrize(
    ("text", "diameter", "length"),
    [
        ("M16", 16, 0),
        ("M16x45", 16, 45),
        ("BOUT_M12*110", 12, 110),
        ("M20x1.5x60", 20, 60),  # fine thread of ISO 261: pitch 1.5
        ("M 24 x 80", 24, 80),
        ('3/4" x 2 1/2"', 19.05, 63.5),  # 1 inch = 25.4 mm
        ('1-1/8"', 28.575, 0),
        ("BEAM12", 0, 0),
        ("HEM16", 0, 0),
    ],
)
def test_sizes_in_names(text: str, diameter: float, length: float) -> None:
    size = size_of(text)
    assert (size.diameter, size.length) == pytest.approx((diameter, length))


def test_grades_and_standards_in_names() -> None:
    assert first(GRADE, ["HEX M20-10.9 HV"]) == "10.9"  # ISO 898-1
    assert first(GRADE, ["3/4 A325"]) == "A325"  # ASTM
    assert first(GRADE, ["L110.9 plate"]) == ""
    assert first(STANDARD, ["Bolt DIN 7990 M16"]) == "DIN 7990"
    assert first(STANDARD, ["EN 14399-4"]) == "EN 14399-4"


def test_places_in_words() -> None:
    assert place_of("Site") == "site"
    assert place_of("Werkstatt") == "shop"
    assert place_of("Level 3") == ""
    assert place_of("shop or site") == ""


def test_the_table_of_meanings_is_sound() -> None:
    known = {"diameter", "length", "grade", "standard", "hole", "slot_x", "slot_y", "nuts", "washers", "count", "place"}
    assert {meaning for meaning, _ in meanings().values()} == known


def test_codes_have_a_sentence_that_takes_their_values() -> None:
    found = [
        *bolt(drawn=18).problems,
        *bolt(drawn=30, NominalDiameter=16.0).problems,
        *bolt(NominalDiameter=16.0, Name="Bolt M20x60").problems,
        *bolt(drawn=18, NominalDiameter=0.016).problems,
    ]
    assert len(found) >= 4
    for problem in found:
        sentence = KINDS[problem.code].sentence.format(*problem.values)
        assert "{" not in sentence


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
def test_every_schema_keeps_the_attributes_at_their_positions(schema: str) -> None:
    found = bolt(schema=schema, NominalDiameter=16.0, NominalLength=45.0, Name="B", ObjectType="DIN 7990")
    assert (found.diameter, found.length, found.standard) == (16, 45, "DIN 7990")


@pytest.mark.parametrize(
    ("stated", "drawn", "values", "asked"),
    [
        # EN 1090-2:2018 Table 11: normal round hole of M16 is 18, of M20 22, of M12 13; 14 by EN 1993-1-8, 3.6.1(5)
        (16, 18, {}, False),
        (20, 22, {}, False),
        (12, 13, {}, False),
        (12, 14, {}, False),
        # AISC 360 Table J3.3M: standard hole of M24 is 27; Table J3.3: of 3/4 in. 13/16 in.
        (24, 27, {}, False),
        (19.05, 20.64, {}, False),
        # root of the thread by ISO 68-1, d - 1.2269 P: 13.55 for M16, 16.93 for M20 (from memory)
        (16, 13.55, {}, False),
        (20, 16.93, {}, False),
        # the next size of bolt up or down is another bolt
        (16, 20, {}, True),
        (20, 16, {}, True),
        (24, 30, {}, True),
        (12, 16, {}, True),
        (16, 12, {}, True),
        # a stated hole explains it; a stated hole of another size does not
        (16, 20, {"Hole diameter": 20.0}, False),
        (16, 22, {"Hole diameter": 18.0}, True),
        # fit bolts of EN 14399-8 have a shank of d + 1 (from memory)
        (27, 28, {"Bolt standard": "EN 14399-8"}, False),
        (27, 28, {}, True),
    ],
)
def test_a_drawn_body_is_the_bolt_its_thread_or_its_hole_or_else_asked_about(
    stated: float, drawn: float, values: dict[str, Any], asked: bool
) -> None:
    found = bolt(drawn=drawn, NominalDiameter=float(stated), values=values)
    assert found.diameter == stated
    assert ("bolt-diameter-unlike-drawing" in codes(found)) is asked
    for problem in found.problems:
        if problem.code == "bolt-diameter-unlike-drawing":
            assert "stated diameter was used" in KINDS[problem.code].sentence


@pytest.mark.parametrize(
    "name",
    ["Diametre du trou", "Diametro del foro", "Diâmetro do furo", "Diametro del agujero", "Srednica otworu",
     "Hole Diameter (mm)", "Bolt_Hole_Dia", "Loch-Ø"],
)  # fmt: skip
def test_a_hole_diameter_is_known_with_or_without_its_accents(name: str) -> None:
    """People and programs leave accents out, and write the unit behind (common practice, no source)."""
    assert meanings()[plain(name)][0] == "hole"
