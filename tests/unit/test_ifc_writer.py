"""The model writer, checked by the library's schema validator and its geometry kernel."""

from __future__ import annotations

import math
from pathlib import Path

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.util.element
import ifcopenshell.util.placement
import ifcopenshell.util.shape
import ifcopenshell.validate
import numpy as np
import pytest

from takeoff.ifc.lattice import write_lattice
from takeoff.ifc.profile_writer import Ring
from takeoff.ifc.solid_writer import prism
from takeoff.ifc.step_text import SCHEMAS, Typed, real, string
from takeoff.ifc.writer import UNITS_MM, Length, ModelWriter, Part, bolt_length, frame
from takeoff.steel import Frame

UNITS = tuple(UNITS_MM)
TURN = np.array([[0.36, 0.48, -0.8], [-0.8, 0.6, 0.0], [0.48, 0.64, 0.6]])
"""A rotation with short decimals."""


def solid(path: Path, part: Part) -> tuple[np.ndarray, float]:
    """World corners in mm and volume in mm3 of a part, by OpenCASCADE."""
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    file = ifcopenshell.open(path)
    shape = ifcopenshell.geom.create_shape(settings, file.by_guid(part.global_id))
    corners = np.array(shape.geometry.verts).reshape(-1, 3) * 1000
    return corners, ifcopenshell.util.shape.get_volume(shape.geometry) * 1e9


def box(path: Path, part: Part, at: Frame | None = None) -> np.ndarray:
    """Low and high corner of a part in its piece frame."""
    corners = (at or part.frame).to_piece(solid(path, part)[0])
    return np.array([corners.min(0), corners.max(0)])


def every_profile(model: ModelWriter) -> dict[str, object]:
    p = model.profiles
    corners = [(0, 0), (80, 0), (80, 40, 0.3), (0, 40)]
    made = {
        "angle": p.angle(100, 75, 8, 10, 5, name="L100x75x8"),
        "channel": p.channel(140, 60, 7, 10, 10, 5, slope=0.0798),
        "I": p.i_shape(200, 100, 5.6, 8.5, 12),
        "asymmetric": p.asymmetric_i(200, 80, 120, 6, 9, 12),
        "tee": p.tee(100, 90, 7, 9, 8),
        "flat": p.rectangle(8, 60),
        "RHS": p.hollow_rectangle(60, 100, 5, 7.5, 5),
        "round": p.circle(24),
        "CHS": p.hollow_circle(60.3, 4),
        "C": p.c_shape(150, 60, 2, 20, 3),
        "Z": p.z_shape(150, 60, 5, 7, 6),
        "polyline": p.closed([(0, 0), (80, 0), (80, 40)], [Ring(60, 15, 10)]),
        "composite": p.closed(corners, [[(10, 10), (20, 10), (20, 20)]], curve="composite"),
        "derived": p.derived(p.angle(100, 75, 8, at="centre"), (-1, 0), (0, 1), (10, 20)),
    }
    if model.step.schema != "IFC2X3":
        made["indexed"] = p.closed(corners, [Ring(20, 20, 10)], curve="indexed")
        made["mirrored"] = p.mirrored(p.angle(100, 75, 8))
    return made


@pytest.mark.parametrize("schema", SCHEMAS)
@pytest.mark.parametrize("unit", UNITS)
def test_everything_written_obeys_the_schema(schema: str, unit: str, tmp_path: Path) -> None:
    model = ModelWriter(schema, unit, (1e6, 2e6, 300), TURN)
    outer = model.assembly("Mast", tag="M")
    inner = model.assembly("Face", parent=outer, psets={"P": {"Reference": "F1"}})
    for i, profile in enumerate(every_profile(model).values()):
        at = frame((0, 200.0 * i, 0), (1, 0, 0), (0, 0, 1))
        named = {"material": "S355J2", "tag": str(i), "type_name": "T", "assembly": inner}
        model.member(profile, at, 500, clips=[((450, 0, 0), (1, 0, 0.2))], **named)
    part = model.member(model.profiles.angle(70, 70, 7), frame((0, 0, 0), (1, 0, 0), (0, 1, 1)), 900, "IfcBeam")
    model.opening(part, Ring(50, 40, 18), part.frame, 7)
    model.opening(part, [(80, 20), (120, 20), (120, 40)], part.frame, 7, absolute=True)
    model.plate([(0, 0), (90, 0), (90, 60)], part.frame, 8, shared=True)
    points, faces = prism([(0, 0), (50, 0), (0, 50)], 0, 200)
    model.mesh(points, faces)
    if schema != "IFC2X3":
        model.mesh(points, faces, form="tessellation")
    for body in ("full", "shank", "faceted", "none"):
        model.bolts([((0, 0, 0), (0, 0, 1)), ((50, 0, 0), (0, 1, 0))], 16, 20, body=body, type_name="B")
    model.type("IfcMember", "U", material="S235JR", psets={"P": {"a": 1, "b": 2.5, "c": True, "d": Length(3)}})
    path = model.save(tmp_path / "m.ifc")
    log = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(str(path), log)
    assert log.statements == []


@pytest.mark.parametrize("style", ["z", "-z", "x", "-x"])
@pytest.mark.parametrize("agreement", [False, True])
@pytest.mark.parametrize("shared", [False, True])
def test_four_ways_of_writing_one_angle(style: str, agreement: bool, shared: bool, tmp_path: Path) -> None:
    """Heel on the origin, leg A along v, leg B along u; the cut takes the steel its normal points to."""
    model = ModelWriter(unit="inch")
    at = frame((100, 200, 300), (1, 2, 3), (0, 0, 1))
    clips = [((600, 0, 0), (1, 0, -0.5))]
    profile = model.profiles.angle(100, 75, 8)
    part = model.member(profile, at, 1000, style=style, agreement=agreement, shared=shared, clips=clips)
    path = model.save(tmp_path / "m.ifc")
    corners, _ = solid(path, part)
    assert box(path, part) == pytest.approx(np.array([[0, 0, 0], [650, 75, 100]]), abs=1e-3)
    local = at.to_piece(corners)
    assert local[np.isclose(local[:, 2], 0, atol=1e-3), 0].max() == pytest.approx(600, abs=1e-3)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("angle", (0, 0), (75, 100)),
        ("channel", (0, 0), (60, 140)),
        ("I", (-50, 0), (50, 200)),
        ("tee", (-45, 0), (45, 100)),
        ("flat", (0, 0), (8, 60)),
        ("RHS", (0, 0), (60, 100)),
        ("C", (0, 0), (60, 150)),
        ("polyline", (0, 0), (80, 40)),
    ],
)
def test_profiles_lie_on_their_datum(
    name: str, low: tuple[float, ...], high: tuple[float, ...], tmp_path: Path
) -> None:
    """The piece frame of ``takeoff.steel``: heel, back of web, outside of the bottom flange."""
    model = ModelWriter()
    part = model.member(every_profile(model)[name], frame((5, 6, 7), (0, 1, 0), (1, 0, 0)), 400)
    found = box(model.save(tmp_path / "m.ifc"), part)
    assert found == pytest.approx(np.array([[0, *low], [400, *high]]), abs=1e-3)


def test_the_flange_of_a_tee_lies_at_the_bottom(tmp_path: Path) -> None:
    model = ModelWriter()
    part = model.member(model.profiles.tee(100, 90, 7, 9), frame((0, 0, 0), (1, 0, 0), (0, 0, 1)), 100)
    corners, _ = solid(model.save(tmp_path / "m.ifc"), part)
    wide = corners[np.abs(corners[:, 1]) > 40]
    assert wide[:, 2].max() == pytest.approx(9)


@pytest.mark.parametrize(
    ("sizes", "area_cm2"),
    [((100, 100, 10, 12, 6), 19.2), ((60, 60, 6, 8, 4), 6.91), ((75, 50, 6, 7, 3.5), 7.19)],
)
def test_angles_have_the_published_area(sizes: tuple[float, ...], area_cm2: float, tmp_path: Path) -> None:
    """EN 10056-1, areas in three figures; the kernel draws the radii as chords, so within 0.5 %."""
    model = ModelWriter()
    part = model.member(model.profiles.angle(*sizes), frame((0, 0, 0), (1, 0, 0), (0, 0, 1)), 1000)
    _, volume = solid(model.save(tmp_path / "m.ifc"), part)
    assert volume / 1000 / 100 == pytest.approx(area_cm2, rel=0.005)


@pytest.mark.parametrize(("schema", "curve"), [("IFC2X3", "composite"), ("IFC4", "composite"), ("IFC4", "indexed")])
def test_a_plate_with_a_round_end(schema: str, curve: str, tmp_path: Path) -> None:
    """Area of a rectangle with a half circle, less a hole; bulge 1 turns the edge out to the right."""
    model = ModelWriter(schema)
    at = frame((10, 20, 30), (0, 0, 1), (1, 0, 0))
    outline = [(0, 0), (200, 0, 1), (200, 100), (0, 100)]
    part = model.plate(outline, at, 12, [Ring(50, 50, 40)], curve=curve)
    path = model.save(tmp_path / "m.ifc")
    area = 200 * 100 + math.pi * 50**2 / 2 - math.pi * 20**2
    # The kernel draws circles as polygons.
    assert solid(path, part)[1] == pytest.approx(area * 12, rel=0.01)
    assert box(path, part) == pytest.approx(np.array([[0, 0, 0], [250, 12, 100]]), abs=0.5)


def test_openings_stand_where_they_are_put(tmp_path: Path) -> None:
    """One through leg A relative to the part, one through leg B placed in the world, on a turned site."""
    model = ModelWriter("IFC4", "m", (5e5, 4e6, 100), TURN)
    at = frame((100, 200, 300), (1, 0.3, 0.2), (0, 0, 1))
    part = model.member(model.profiles.angle(100, 75, 8), at, 1000, style="x")
    other = Frame(at.origin, at.axes[[0, 2, 1]])
    model.opening(part, [(40, 40), (60, 40), (60, 70)], at, 20)
    model.opening(part, [(40, 30), (70, 30), (70, 60)], other, 20, absolute=True)
    corners, volume = solid(model.save(tmp_path / "m.ifc"), part)
    local = at.to_piece((corners - (5e5, 4e6, 100)) @ TURN).round(2) + 0.0
    inner = {tuple(c) for c in local if 1 < c[0] < 999}
    leg_a = {(x, u, v) for x, v in ((40, 40), (60, 40), (60, 70)) for u in (0.0, 8.0)}
    leg_b = {(x, u, v) for x, u in ((40, 30), (70, 30), (70, 60)) for v in (0.0, 8.0)}
    assert inner == leg_a | leg_b
    assert volume == pytest.approx((100 + 67) * 8 * 1000 - 8 * (300 + 450), rel=1e-6)


@pytest.mark.parametrize("offset", ["site", "parts"])
def test_the_whole_model_moves(offset: str, tmp_path: Path) -> None:
    """World point = rotation @ model point + origin, to 0.01 mm at a map's distance."""
    model = ModelWriter("IFC4", "mm", (5e8, 6e9, 1e5), TURN, offset)
    at = frame((100, 200, 300), (1, 2, 3), (0, 0, 1))
    part = model.member(model.profiles.angle(100, 75, 8), at, 1000)
    file = ifcopenshell.open(model.save(tmp_path / "m.ifc"))
    place = ifcopenshell.util.placement.get_local_placement(file.by_guid(part.global_id).ObjectPlacement)
    assert place[:3, 3] == pytest.approx(TURN @ (100, 200, 300) + (5e8, 6e9, 1e5), abs=0.01)
    assert place[:3, 2] == pytest.approx(TURN @ at.axes[0], abs=1e-9)
    assert place[:3, 0] == pytest.approx(TURN @ at.axes[1], abs=1e-9)


@pytest.mark.parametrize("body", ["full", "faceted"])
def test_a_group_of_bolts(body: str, tmp_path: Path) -> None:
    """Head of 10 mm below the point, shank to the length, M16 hexagon 24 across flats (ISO 4014, ISO 4032)."""
    model = ModelWriter(unit="m")
    places = [((100, 0, 0), (0, 0, 1)), ((0, 500, 0), (1, 0, 0))]
    part = model.bolts(places, 16, grip=20, length=45, body=body)
    path = model.save(tmp_path / "m.ifc")
    corners, _ = solid(path, part)
    first = corners[corners[:, 1] < 250]
    second = corners[corners[:, 1] > 250]
    assert (first[:, 2].min(), first[:, 2].max()) == pytest.approx((-10, 45), abs=1e-3)
    assert (second[:, 0].min(), second[:, 0].max()) == pytest.approx((-10, 45), abs=1e-3)
    assert np.hypot(first[:, 0] - 100, first[:, 1]).max() == pytest.approx(12 / math.cos(math.pi / 6), abs=1e-3)
    file = ifcopenshell.open(path)
    bolt = file.by_guid(part.global_id)
    assert (bolt.NominalDiameter, bolt.NominalLength) == pytest.approx((0.016, 0.045))


def test_relations_can_be_found_again(tmp_path: Path) -> None:
    model = ModelWriter("IFC4", "inch")
    mast = model.assembly("Mast", tag="M1")
    face = model.assembly("Face", parent=mast)
    at = frame((0, 0, 0), (1, 0, 0), (0, 0, 1))
    part = model.member(
        model.profiles.angle(70, 70, 7), at, 500, name="Strebe Łódź", tag="A'1", material="S355J2", assembly=face,
        psets={"Marks": {"Reference": "B7", "Width": Length(25.4), "Count": 3, "Free": Typed("IfcText", "x")}},
        type_name="Brace",
    )  # fmt: skip
    file = ifcopenshell.open(model.save(tmp_path / "m.ifc"))
    found = file.by_guid(part.global_id)
    assert (found.Name, found.Tag) == ("Strebe Łódź", "A'1")
    assert ifcopenshell.util.element.get_material(found).Name == "S355J2"
    assert ifcopenshell.util.element.get_type(found).Name == "Brace"
    values = ifcopenshell.util.element.get_pset(found, "Marks")
    assert (values["Reference"], values["Width"], values["Count"], values["Free"]) == ("B7", 1.0, 3, "x")
    parent = ifcopenshell.util.element.get_aggregate(found)
    assert parent.GlobalId == face.global_id
    assert ifcopenshell.util.element.get_aggregate(parent).GlobalId == mast.global_id


def test_a_mirrored_profile_keeps_its_parent(tmp_path: Path) -> None:
    """Only what is written: the kernel does not mirror parametric parents, so it cannot be the judge."""
    model = ModelWriter()
    at = frame((0, 0, 0), (1, 0, 0), (0, 0, 1))
    angle = model.profiles.angle(100, 75, 8, at="centre")
    one = model.member(model.profiles.derived(angle, (-1, 0), (0, 1), (3, 4)), at, 500)
    two = model.member(model.profiles.mirrored(angle), at, 500)
    file = ifcopenshell.open(model.save(tmp_path / "m.ifc"))
    areas = [file.by_guid(p.global_id).Representation.Representations[0].Items[0].SweptArea for p in (one, two)]
    assert [a.is_a() for a in areas] == ["IfcDerivedProfileDef", "IfcMirroredProfileDef"]
    assert areas[0].Operator.Axis1.DirectionRatios == (-1, 0)
    assert areas[0].Operator.LocalOrigin.Coordinates == (3, 4)
    assert areas[1].ParentProfile == areas[0].ParentProfile
    assert (areas[1].ParentProfile.Depth, areas[1].ParentProfile.Width) == (100, 75)


def test_two_runs_write_the_same_bytes(tmp_path: Path) -> None:
    paths = [write_lattice(tmp_path / f"{i}.ifc", 1) for i in range(2)]
    assert paths[0].read_bytes() == paths[1].read_bytes()


def test_global_ids_are_unique(tmp_path: Path) -> None:
    file = ifcopenshell.open(write_lattice(tmp_path / "m.ifc", 3))
    ids = [e.GlobalId for e in file.by_type("IfcRoot")]
    assert len(set(ids)) == len(ids)


@pytest.mark.parametrize(
    ("value", "text"),
    [(1, "1."), (-0.0, "0."), (12.5, "12.5"), (1e-7, "1.E-07"), (2.5e-7, "2.5E-07"), (6e9, "6000000000.")],
)
def test_reals_are_spelt_as_step_wants(value: float, text: str) -> None:
    """ISO 10303-21 6.4.2: a decimal point always, E for the exponent."""
    assert real(value) == text


def test_strings_are_spelt_as_step_wants() -> None:
    """ISO 10303-21 6.4.3: apostrophes and backslashes doubled, other alphabets by code."""
    assert string("a'b\\c") == "'a''b\\\\c'"
    assert string("Łódź") == "'\\X2\\0141\\X0\\\\X2\\00F3\\X0\\d\\X2\\017A\\X0\\'"


def test_bolt_lengths() -> None:
    """Grip, nut (ISO 4032) and 5 mm, up to the next 5 mm: 20 + 14.8 + 5 = 39.8."""
    assert bolt_length(16, 20) == 40
    assert bolt_length(20, 26) == 50


def test_wrong_use_is_refused() -> None:
    with pytest.raises(ValueError, match="schema IFC5"):
        ModelWriter("IFC5")
    with pytest.raises(ValueError, match="unit parsec"):
        ModelWriter(unit="parsec")
    with pytest.raises(ValueError, match="offset"):
        ModelWriter(offset="context")
    model = ModelWriter("IFC2X3")
    with pytest.raises(ValueError, match="polyline has no arcs"):
        model.profiles.closed([(0, 0, 1), (10, 0), (10, 10)])
    with pytest.raises(ValueError, match="IFC2X3 has no entity"):
        model.profiles.closed([(0, 0, 1), (10, 0), (10, 10)], curve="indexed")
    with pytest.raises(ValueError, match="no attribute Tagg"):
        model.step.entity("IfcMember", Tagg="x")
    with pytest.raises(ValueError, match="body is full"):
        model.bolt((0, 0, 0), (0, 0, 1), 16, 20, body="round")
    with pytest.raises(ValueError, match="style y"):
        model.member(model.profiles.circle(10), frame((0, 0, 0), (1, 0, 0), (0, 0, 1)), 10, style="y")
    with pytest.raises(ValueError, match="one panel"):
        write_lattice("never.ifc", 0)
