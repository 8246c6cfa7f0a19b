"""Drawn fasteners: where the head bears, which way the bolt runs, how long and thick its shank is."""

from __future__ import annotations

import math
from typing import Any

import ifcopenshell
import numpy as np
import pytest
from entity_scene import Scene, shared
from hypothesis import given, settings
from hypothesis import strategies as st

from takeoff.ifc.context import Context
from takeoff.ifc.fasteners import fastener_kind, read_fasteners
from takeoff.ifc.solid_writer import hex_sizes
from takeoff.ifc.writer import ModelWriter
from takeoff.steel import BOUGHT_OUT, HELD, LEFT_OUT, LISTED, Fastener


def codes(fastener: Fastener) -> list[str]:
    return [problem.code for problem in fastener.problems]


def read_one(scene: Scene, product: Any) -> Fastener:
    (found,) = read_fasteners(scene.ctx, [product])
    return found


def prism(sides: int, radius: float, low: float, high: float, leave_out: int = 0) -> tuple[list[Any], list[Any]]:
    """Corners and facets of a regular prism along z; ``leave_out`` corners of its circle are missing."""
    ring = [2 * math.pi * i / sides for i in range(sides - leave_out)]
    n = len(ring)
    points = [(radius * math.cos(a), radius * math.sin(a), z) for z in (low, high) for a in ring]
    facets: list[Any] = [(tuple(range(n - 1, -1, -1)),), (tuple(range(n, 2 * n)),)]
    facets += [((i, (i + 1) % n, (i + 1) % n + n, i + n),) for i in range(n)]
    return points, facets


def together(*parts: tuple[list[Any], list[Any]]) -> tuple[list[Any], list[Any]]:
    points: list[Any] = []
    facets: list[Any] = []
    for p, f in parts:
        base = len(points)
        points += p
        facets += [tuple(tuple(i + base for i in ring) for ring in rings) for rings in f]
    return points, facets


# M16: across flats 24, head 10, nut 13 high (ISO 4014, ISO 4032, from the sizes the writer uses)
FLATS, HEAD, NUT = hex_sizes(16)
CORNER = FLATS / math.sqrt(3)
GRIP, LENGTH = 20.0, 45.0


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize("unit", ["mm", "m", "inch"])
@pytest.mark.parametrize("body", ["full", "faceted", "shank"])
def test_a_written_bolt_is_found_again(schema: str, unit: str, body: str, tmp_path: Any) -> None:
    turn = np.array([[0.36, 0.48, -0.8], [-0.8, 0.6, 0.0], [0.48, 0.64, 0.6]])
    model = ModelWriter(schema, unit, origin=(2.1e5, 4.3e5, 1e4), rotation=turn, offset="site")
    places = [((100, 20, 30), (0, 0.6, 0.8)), ((160, 20, 30), (0, 0.6, 0.8))]
    model.bolts(places, 16, GRIP, length=LENGTH, body=body)
    file = ifcopenshell.open(str(model.save(tmp_path / "m.ifc")))
    ctx = Context(file, "m")
    (found,) = read_fasteners(ctx, file.by_type("IfcMechanicalFastener"))
    assert found.diameter == pytest.approx(16, abs=1e-6)
    assert found.length == pytest.approx(LENGTH, abs=1e-6)
    assert found.status == LISTED
    assert found.problems == ()
    assert len(found.bolts) == 2
    for bolt, (point, way) in zip(found.bolts, places, strict=True):
        there = np.array([2.1e5, 4.3e5, 1e4]) + turn @ np.array(point, dtype=float)
        assert np.abs(np.array(bolt.point) - there).max() < 1e-3
        assert np.abs(np.array(bolt.direction) - turn @ np.array(way)).max() < 1e-6
        assert bolt.shank == pytest.approx(LENGTH, abs=1e-3)
        assert bolt.drawn_diameter == pytest.approx(16, abs=1e-3)


def test_separate_shells_of_one_brep_are_one_bolt_with_its_head_at_the_closed_end() -> None:
    """Head, shank, washer and nut as disjoint shells; the shank is a circle that leaves out a corner."""
    scene = Scene()
    points, facets = together(
        prism(6, CORNER, 35, 35 + NUT),
        prism(13, 15, 32, 35),
        prism(13, 8, 0, 60, leave_out=1),
        prism(6, CORNER, -HEAD, 0),
    )
    product = scene.product("IfcMechanicalFastener", [scene.brep(points, facets)], NominalDiameter=16.0)
    found = read_one(scene, product)
    (bolt,) = found.bolts
    assert bolt.point == pytest.approx((0, 0, 0), abs=1e-3)
    assert bolt.direction == pytest.approx((0, 0, 1), abs=1e-9)
    assert bolt.shank == pytest.approx(60, abs=1e-3)
    assert bolt.drawn_diameter == pytest.approx(16, abs=1e-3)


def test_the_nut_is_where_the_shank_sticks_out_whichever_way_the_bolt_is_drawn() -> None:
    scene = Scene()
    points, facets = together(prism(6, CORNER, 0, NUT), prism(12, 8, -5, 50), prism(6, CORNER, 50, 50 + HEAD))
    found = read_one(scene, scene.product("IfcMechanicalFastener", [scene.brep(points, facets)], NominalDiameter=16.0))
    (bolt,) = found.bolts
    assert bolt.point == pytest.approx((0, 0, 50), abs=1e-3)
    assert bolt.direction == pytest.approx((0, 0, -1), abs=1e-9)
    assert bolt.shank == pytest.approx(55, abs=1e-3)


def test_holes_drawn_round_the_shank_do_not_make_it_thicker() -> None:
    scene = Scene()
    bolt_points, bolt_facets = together(prism(6, CORNER, -HEAD, 0), prism(12, 8, 0, 60), prism(6, CORNER, 30, 43))
    plies = together(prism(12, 9, 0, 12), prism(12, 9, 12.8, 27))
    items = [scene.brep(bolt_points, bolt_facets), scene.brep(*plies)]
    found = read_one(scene, scene.product("IfcMechanicalFastener", items, NominalDiameter=16.0))
    (bolt,) = found.bolts
    assert bolt.drawn_diameter == pytest.approx(16, abs=1e-3)
    assert bolt.shank == pytest.approx(60, abs=1e-3)


def rotation(a: float, b: float, c: float) -> np.ndarray[Any, Any]:
    """A proper rotation from three angles."""
    turn = np.eye(3)
    for angle, (i, j) in ((a, (0, 1)), (b, (1, 2)), (c, (0, 1))):
        step = np.eye(3)
        step[i, i] = step[j, j] = math.cos(angle)
        step[i, j], step[j, i] = -math.sin(angle), math.sin(angle)
        turn = step @ turn
    return turn


@settings(max_examples=30, deadline=None)
@given(
    angles=st.tuples(*[st.floats(-3.1, 3.1)] * 3),
    at=st.tuples(*[st.floats(-1e5, 1e5)] * 3),
    diameter=st.sampled_from([8.0, 12.0, 16.0, 24.0]),
    sides=st.integers(8, 24),
    grip=st.floats(10, 80),
)
def test_a_drawn_bolt_is_found_wherever_it_is_drawn(
    angles: tuple[float, ...], at: tuple[float, ...], diameter: float, sides: int, grip: float
) -> None:
    """Corners in place, as exporters write them, not moved by placements; head, shank and nut of any size."""
    flats, head, nut = hex_sizes(diameter)
    tip = grip + nut + 0.3 * diameter
    points, facets = together(
        prism(sides, diameter / 2, 0, tip),
        prism(6, flats / math.sqrt(3), -head, 0),
        prism(6, flats / math.sqrt(3), grip, grip + nut),
    )
    turn = rotation(*angles)
    moved = np.array(points) @ turn.T + np.array(at)
    scene = Scene()
    (bolt,) = read_one(scene, scene.product("IfcMechanicalFastener", [scene.brep(moved.tolist(), facets)])).bolts
    assert np.abs(np.array(bolt.point) - at).max() < 2e-3
    assert np.abs(np.array(bolt.direction) - turn[:, 2]).max() < 1e-4
    assert bolt.shank == pytest.approx(tip, abs=2e-3)
    assert bolt.drawn_diameter == pytest.approx(diameter, abs=5e-3)


def test_two_bolts_on_one_line_are_two() -> None:
    scene = Scene()

    def one(z: float) -> tuple[list[Any], list[Any]]:
        return together(prism(6, CORNER, z - HEAD, z), prism(12, 8, z, z + 45), prism(6, CORNER, z + 20, z + 33))

    product = scene.product("IfcMechanicalFastener", [scene.brep(*together(one(0), one(300)))], NominalDiameter=16.0)
    found = read_one(scene, product)
    assert sorted(round(b.point[2], 3) for b in found.bolts) == [0, 300]
    assert all(b.shank == pytest.approx(45, abs=1e-3) for b in found.bolts)


def test_the_count_property_joins_what_gaps_would_part() -> None:
    """The holes of one bolt through both walls of a tube, drawn as two discs: one bolt, where the model says one."""
    scene = Scene()
    body = scene.brep(*together(prism(24, 9, 0, 10), prism(24, 9, 140, 150)))
    product = scene.product("IfcMechanicalFastener", [body], NominalDiameter=16.0)
    scene.properties(product, {"Bolt count": 1})
    found = read_one(scene, product)
    assert len(found.bolts) == 1
    assert found.bolts[0].shank == pytest.approx(150, abs=1e-3)
    assert codes(found) == []


def test_a_count_that_differs_is_said() -> None:
    scene = Scene()
    product = scene.product("IfcMechanicalFastener", [scene.extruded(scene.circle(16), 40)], NominalDiameter=16.0)
    scene.properties(product, {"Bolt count": 3})
    found = read_one(scene, product)
    assert len(found.bolts) == 1
    assert found.count == 3
    assert codes(found) == ["bolt-count-differs"]
    assert found.problems[0].values == ("3", "1")


def test_a_head_in_one_piece_with_its_shank_is_found_by_the_radii() -> None:
    """A turned body: shank, then a countersunk head."""
    scene = Scene()
    profile = scene.polygon([(0, 0), (8, 0), (8, 40), (15, 47), (0, 47)])
    axis = scene.add("IfcAxis1Placement", scene.point(0, 0, 0), scene.way(0, 1, 0))
    body = scene.add("IfcRevolvedAreaSolid", profile, scene.axes(), axis, 2 * math.pi)
    (bolt,) = read_one(scene, scene.product("IfcMechanicalFastener", [body])).bolts
    assert bolt.point == pytest.approx((0, 40, 0), abs=1e-6)
    assert bolt.direction == pytest.approx((0, -1, 0), abs=1e-9)
    assert bolt.shank == pytest.approx(40)
    assert bolt.drawn_diameter == pytest.approx(16)


def test_a_rod_swept_along_a_line_and_one_built_of_cylinders() -> None:
    scene = Scene()
    line = scene.add("IfcPolyline", [scene.point(0, 0, 0), scene.point(0, 30, 0), scene.point(0, 70, 0)])
    swept = scene.add("IfcSweptDiskSolid", line, 6.0)
    (rod,) = read_one(scene, scene.product("IfcMechanicalFastener", [swept])).bolts
    assert (rod.shank, rod.drawn_diameter) == pytest.approx((70, 12))
    shank = scene.add("IfcRightCircularCylinder", scene.axes((5, 0, 0)), 50.0, 6.0)
    head = scene.add("IfcRightCircularCylinder", scene.axes((5, 0, -8)), 8.0, 10.0)
    whole = scene.add("IfcBooleanResult", "UNION", shank, head)
    solid = scene.add("IfcCsgSolid", whole)
    (bolt,) = read_one(scene, scene.product("IfcMechanicalFastener", [solid])).bolts
    assert bolt.point == pytest.approx((5, 0, 0))
    assert bolt.direction == pytest.approx((0, 0, 1))
    assert (bolt.shank, bolt.drawn_diameter) == pytest.approx((50, 12))


def test_a_curved_boundary_body_is_read_by_its_cylinders() -> None:
    """A shank of 16 and a head of 26 as cylindrical faces between circular edges."""
    scene = Scene()

    def cylinder(radius: float, low: float, high: float) -> Any:
        surface = scene.add("IfcCylindricalSurface", scene.axes(), radius)
        bounds = []
        for z in (low, high):
            vertex = scene.add("IfcVertexPoint", scene.point(radius, 0, z))
            curve = scene.add("IfcCircle", scene.axes((0, 0, z)), radius)
            edge = scene.add("IfcEdgeCurve", vertex, vertex, curve, True)
            loop = scene.add("IfcEdgeLoop", [scene.add("IfcOrientedEdge", None, None, edge, True)])
            bounds.append(scene.add("IfcFaceBound", loop, True))
        return scene.add("IfcAdvancedFace", bounds, surface, True)

    body = scene.add("IfcAdvancedBrep", scene.add("IfcClosedShell", [cylinder(8, 0, 50), cylinder(13, -10, 0)]))
    (bolt,) = read_one(scene, scene.product("IfcMechanicalFastener", [body])).bolts
    assert bolt.point == pytest.approx((0, 0, 0))
    assert bolt.direction == pytest.approx((0, 0, 1))
    assert (bolt.shank, bolt.drawn_diameter) == pytest.approx((50, 16))


def test_a_damaged_body_is_held_and_does_not_stop_the_others() -> None:
    scene = Scene()
    broken = scene.add("IfcExtrudedAreaSolid", scene.circle(16), scene.axes(), None, 40.0)
    products = [
        scene.product("IfcMechanicalFastener", [broken], NominalDiameter=16.0),
        scene.product("IfcMechanicalFastener", [scene.extruded(scene.circle(16), 40)], NominalDiameter=16.0),
    ]
    first, second = read_fasteners(scene.ctx, products)
    assert first.status == HELD
    assert "damaged" in first.reason
    assert len(second.bolts) == 1


def test_a_plate_drawn_with_its_anchors_is_no_bolt_and_is_said() -> None:
    scene = Scene()
    rods = [scene.extruded(scene.circle(20, x, y), 400) for x in (-60, 60) for y in (-60, 60)]
    plate = scene.extruded(scene.rectangle(200, 200), 15)
    found = read_one(scene, scene.product("IfcMechanicalFastener", [*rods, plate], NominalDiameter=20.0))
    assert [round(b.drawn_diameter) for b in found.bolts] == [20] * 4
    assert codes(found) == ["bolt-odd-bodies"]
    assert found.problems[0].values == ("1",)


def test_the_legs_of_a_bent_rod_are_bolts_and_the_bend_is_said() -> None:
    """A U-bolt of 12 mm: two legs of 80, a half circle of radius 40 between them."""
    scene = Scene()
    points = scene.add(
        "IfcCartesianPointList3D", [[-40.0, 0, -80], [-40.0, 0, 0], [0.0, 0, 40], [40.0, 0, 0], [40.0, 0, -80]]
    )
    segments = [
        scene.add("IfcLineIndex", [1, 2]), scene.add("IfcArcIndex", [2, 3, 4]), scene.add("IfcLineIndex", [4, 5]),
    ]  # fmt: skip
    curve = scene.add("IfcIndexedPolyCurve", points, segments)
    rod = scene.add("IfcSweptDiskSolid", curve, 6.0)
    found = read_one(scene, scene.product("IfcMechanicalFastener", [rod], NominalDiameter=12.0))
    assert sorted((b.point[0], b.shank) for b in found.bolts) == [(-40, 80), (40, 80)]
    assert codes(found) == ["bolt-bent"]
    # one thing to buy, which no list of straight bolts has
    assert (found.kind, found.pieces, found.length) == ("rod", 1, None)


def test_a_count_is_shared_among_the_mapped_items_of_a_group() -> None:
    """Two bolts through a tube, each drawn as two discs of its holes, mapped twice."""
    scene = Scene()
    discs = scene.brep(*together(prism(24, 9, 0, 10), prism(24, 9, 140, 150)))
    source = scene.add(
        "IfcRepresentationMap", scene.axes(), scene.add("IfcShapeRepresentation", None, "Body", "Brep", [discs])
    )
    items = []
    for x in (0, 80):
        operator = scene.add("IfcCartesianTransformationOperator3D", None, None, scene.point(x, 0, 0), None, None)
        items.append(scene.add("IfcMappedItem", source, operator))
    product = scene.product("IfcMechanicalFastener", items, NominalDiameter=16.0)
    scene.properties(product, {"Bolt count": 2})
    found = read_one(scene, product)
    assert [(b.point[0], b.shank) for b in found.bolts] == [
        pytest.approx((0, 150), abs=1e-3), pytest.approx((80, 150), abs=1e-3),
    ]  # fmt: skip
    assert codes(found) == []


def test_a_fastener_placed_by_a_grid_is_held() -> None:
    scene = Scene()
    product = scene.product("IfcMechanicalFastener", [scene.extruded(scene.circle(16), 40)], NominalDiameter=16.0)
    product.ObjectPlacement = scene.add("IfcGridPlacement")
    found = read_one(scene, product)
    assert (found.status, found.bolts) == (HELD, ())
    assert "grid" in found.reason


def test_an_assembly_of_fasteners_is_left_to_its_parts() -> None:
    scene = Scene()
    whole = scene.product("IfcBuildingElementProxy", None, Name="Bolts M16")
    part = scene.product("IfcMechanicalFastener", [scene.extruded(scene.circle(16), 40)], NominalDiameter=16.0)
    scene.add("IfcRelAggregates", GlobalId=scene.guid(), RelatingObject=whole, RelatedObjects=[part])
    first, second = read_fasteners(scene.ctx, [whole, part])
    assert (first.status, first.bolts) == (LEFT_OUT, ())
    assert first.reason
    assert len(second.bolts) == 1


def test_a_body_that_is_not_understood_is_held_with_its_name() -> None:
    scene = Scene()
    profile = scene.add("IfcIShapeProfileDef", "AREA", None, scene.flat_axes(), 100.0, 100.0, 5.0, 8.0)
    found = read_one(scene, scene.product("IfcMechanicalFastener", [scene.extruded(profile, 100)]))
    assert found.status == HELD
    assert "IfcIShapeProfileDef" in found.reason
    assert found.bolts == ()
    assert "bolt-not-read" in codes(found)


def test_a_placed_bolt_without_a_body_stands_at_its_placement() -> None:
    scene = Scene()
    product = scene.product(
        "IfcMechanicalFastener", None, scene.axes((10, 20, 30), z=(0, 1, 0)), NominalDiameter=16.0, NominalLength=50.0
    )
    found = read_one(scene, product)
    (bolt,) = found.bolts
    assert bolt.point == (10, 20, 30)
    assert bolt.direction == (0, 1, 0)
    assert (bolt.shank, bolt.drawn_diameter) == (50, 0)
    assert codes(found) == ["bolt-without-body"]


def test_mirrored_and_scaled_maps_move_bolts_as_the_standard_says() -> None:
    scene = Scene()
    body = scene.extruded(scene.circle(8, x=10), 20)
    source = scene.add(
        "IfcRepresentationMap", scene.axes(), scene.add("IfcShapeRepresentation", None, "Body", "SweptSolid", [body])
    )
    operator = scene.add(
        "IfcCartesianTransformationOperator3D",
        scene.way(1, 0, 0), scene.way(0, 1, 0), scene.point(100, 0, 0), 2.0, scene.way(0, 0, -1),
    )  # fmt: skip
    item = scene.add("IfcMappedItem", source, operator)
    (bolt,) = read_one(scene, scene.product("IfcMechanicalFastener", [item])).bolts
    assert bolt.point == pytest.approx((120, 0, 0))
    assert bolt.direction == pytest.approx((0, 0, -1))
    assert (bolt.shank, bolt.drawn_diameter) == pytest.approx((40, 16))


@pytest.mark.parametrize(
    ("ifc_class", "predefined", "text", "kind"),
    [
        ("IfcMechanicalFastener", "", "", "bolt"),
        ("IfcMechanicalFastener", "ANCHORBOLT", "", "anchor"),
        ("IfcMechanicalFastener", "", "DIN 934 Mutter M16", "nut"),
        ("IfcFastener", "", "Weld", "weld"),
        ("IfcFastener", "GLUE", "", "other"),
        ("IfcBeam", "", "MOER_M10", "nut"),
        ("IfcBuildingElementProxy", "", "Tapbout M10x30", "bolt"),
        ("IfcBuildingElementProxy", "", "Carrosseriering M18x40", "washer"),
        ("IfcBeam", "", "DRAADSTANG M12", "rod"),
        ("IfcDiscreteAccessory", "", "Anchor plate", ""),
        ("IfcBeam", "", "HEA200", ""),
        ("IfcBeam", "", "Spring M16", ""),
    ],
)
def test_kinds_by_class_and_words(ifc_class: str, predefined: str, text: str, kind: str) -> None:
    """The words are common practice of the languages, no source."""
    assert fastener_kind(ifc_class, predefined, text) == kind


def test_welds_nuts_and_washers_are_accounted_for_without_bolts() -> None:
    scene = Scene()
    body = [scene.extruded(scene.circle(30), 4)]
    products = [
        scene.product("IfcFastener", body, Name="Weld"),
        scene.product("IfcBuildingElementProxy", body, Name="Washer M16"),
        scene.product("IfcBeam", body, Name="MOER_M10"),
    ]
    found = read_fasteners(scene.ctx, products)
    assert [(f.kind, f.status, f.bolts) for f in found] == [
        ("weld", LEFT_OUT, ()), ("washer", BOUGHT_OUT, ()), ("nut", BOUGHT_OUT, ()),
    ]  # fmt: skip
    assert all(f.reason for f in found)


def test_bolt_groups_of_a_real_model_count_what_their_property_counts() -> None:
    file = ifcopenshell.open(str(shared("bolt_groups_excerpt.ifc")))
    products = file.by_type("IfcMechanicalFastener")
    found = read_fasteners(Context(file, "m"), products)
    assert len(found) == 25
    for fastener in found:
        assert fastener.count is not None
        assert len(fastener.bolts) == fastener.count
        # the file states the nuts and washers of whole groups
        assert {p.code for p in fastener.problems} <= {"bolt-counts-of-groups"}
        assert fastener.hole_diameter
        assert fastener.place == "site"
        for bolt in fastener.bolts:
            # drawn is the bolt, or, where the bolt is not drawn, its hole
            assert min(abs(bolt.drawn_diameter - d) for d in (fastener.diameter, fastener.hole_diameter)) < 0.01
            assert bolt.shank == pytest.approx(fastener.length, abs=0.11)
    # by hand from the file: placement (5529.99993, 12500.00009, 2879.99989) with z = +y and x = -z makes the
    # local y axis -x; the only bolt is drawn from y = 0 to 10.1, a long hole's shape 14 wide
    first = next(f for f in found if f.global_id == "1LDUm30000534qCZarEJSo")
    (bolt,) = first.bolts
    assert bolt.point == pytest.approx((5529.99993515, 12500.00009373, 2879.99988556), abs=1e-4)
    assert bolt.direction == pytest.approx((-1, 0, 0), abs=1e-9)
    assert (bolt.shank, bolt.drawn_diameter) == pytest.approx((10.1, 14), abs=1e-3)
    assert (first.slot_x, first.slot_y, first.diameter, first.hole_diameter) == pytest.approx((0, 10, 12, 14))
    # four M20 x 65 with head, washers, nut and the holes of both plies drawn: the shank is the bolt's
    group = next(f for f in found if f.global_id == "1L6cdG0000PJ4qCZStEJGs")
    assert len(group.bolts) == 4
    assert all((b.shank, b.drawn_diameter) == pytest.approx((65, 20), abs=0.01) for b in group.bolts)
    assert (group.nuts, group.washers) == (1, 2)  # of one bolt; the group states 4 and 8


def test_bolts_drawn_as_proxies_of_a_real_model() -> None:
    file = ifcopenshell.open(str(shared("handrails_openings.ifc")))
    products = [
        p
        for p in file.by_type("IfcBuildingElementProxy")
        if p.Representation is not None and fastener_kind(p.is_a(), "", p.Name or "")
    ]
    found = read_fasteners(Context(file, "m"), products)
    bolts = {f.name: f for f in found if f.kind == "bolt"}
    sizes = {"Tapbout M8x16": (8, 16), "Tapbout M10x30": (10, 30), "Tapbout M16x35": (16, 35)}
    for name, (diameter, length) in sizes.items():
        (bolt,) = bolts[name].bolts
        assert (bolts[name].diameter, bolts[name].length) == (diameter, length)
        assert bolt.shank == pytest.approx(length, abs=0.01)  # from under the head to the point
    assert {f.status for f in found if f.kind in ("nut", "washer")} == {BOUGHT_OUT}


def test_welds_of_a_real_model_are_left_out_with_a_reason() -> None:
    file = ifcopenshell.open(str(shared("stairs_embeds_breps.ifc")))
    found = read_fasteners(Context(file, "m"), file.by_type("IfcFastener"))
    assert len(found) == 36
    assert {(f.kind, f.status) for f in found} == {("weld", LEFT_OUT)}
    assert all(f.reason and not f.bolts for f in found)
