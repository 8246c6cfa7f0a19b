"""Drawn bodies through their entities: maps, mirrors, scales, clips, and one reading for many alike."""

import numpy as np
import pytest
from drawn_meshes import bar, circle, plate
from entity_scene import Scene

from takeoff.ifc import drawn_bodies
from takeoff.ifc.bodies import Bodies
from takeoff.ifc.context import Unread
from takeoff.sections.named import disagreement
from takeoff.settings import Settings

ANGLE = [(0, 0), (65, 0), (65, 8), (8, 8), (8, 100), (0, 100)]


def brep(scene, mesh):
    return scene.brep(mesh.points, mesh.facets)


def mapped(scene, item, x=(1, 0, 0), y=(0, 1, 0), z=(0, 0, 1), origin=(0, 0, 0), scale=None):
    context = scene.add("IfcGeometricRepresentationContext", None, "Model", 3, 1e-5, scene.axes(), None)
    shown = scene.add("IfcShapeRepresentation", context, "Body", "Brep", [item])
    source = scene.add("IfcRepresentationMap", scene.axes(), shown)
    ways = [scene.way(*way) for way in (x, y, z)]
    target = scene.add("IfcCartesianTransformationOperator3D", ways[0], ways[1], scene.point(*origin), scale, ways[2])
    return scene.add("IfcMappedItem", source, target)


def read(scene, item, text="", bodies=None):
    body, axes, _ = (bodies or Bodies(scene.ctx, Settings())).read(item, text)
    return body, axes


def test_a_brep_in_every_unit():
    for unit in ("mm", "m", "inch"):
        scene = Scene(unit=unit)
        body, axes = read(scene, brep(scene, bar(ANGLE, 500)))
        assert (body.section.designation, body.length) == ("L 100x65x8", pytest.approx(500, abs=1e-3))
        assert np.linalg.det(axes[:3, :3]) == pytest.approx(1)


def test_mirrored_and_scaled_maps_are_seen_as_they_are_drawn():
    scene = Scene()
    item = brep(scene, bar(ANGLE, 500))
    body, axes = read(scene, mapped(scene, item, origin=(0, 0, 1000)))
    assert axes[2, 3] == pytest.approx(1000)
    flipped, other = read(scene, mapped(scene, item, y=(0, -1, 0)))
    assert flipped.section == body.section
    assert np.linalg.det(other[:3, :3]) == pytest.approx(1)
    # leg B pointed along +y and points along -y now
    assert axes[:3, 1] == pytest.approx((0, 1, 0), abs=1e-9)
    assert other[:3, 1] == pytest.approx((0, -1, 0), abs=1e-9)
    # an exchange of legs would be another piece: leg A still points along z
    assert other[:3, 2] == pytest.approx((0, 0, 1), abs=1e-9)
    double, _ = read(scene, mapped(scene, item, scale=2.0))
    assert (double.section.h, double.section.tw, double.length) == (200, 16, 1000)


def test_bodies_alike_are_read_once(monkeypatch):
    calls = []
    real = drawn_bodies.read_solid

    def counted(*args):
        calls.append(1)
        return real(*args)

    monkeypatch.setattr(drawn_bodies, "read_solid", counted)
    scene = Scene()
    bodies = Bodies(scene.ctx, Settings())
    found = []
    for place in range(5):
        mesh = bar(ANGLE, 500)
        mesh.points = [(x + 1000.0 * place, y, z) for x, y, z in mesh.points]
        found.append(read(scene, brep(scene, mesh), bodies=bodies))
    assert len(calls) == 1
    assert all(body is found[0][0] for body, _ in found)
    starts = np.sort([axes[0, 3] for _, axes in found])
    assert np.diff(starts) == pytest.approx([1000] * 4)


def test_a_rectangle_is_a_flat_by_its_name():
    scene = Scene()
    item = brep(scene, bar([(0, 0), (9, 0), (9, 83), (0, 83)], 400))
    assert read(scene, item)[0].section.shape == "plate"
    assert read(scene, item, "FL83x9")[0].section.shape == "flat"


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("L100x65x8", False),
        ("L100/65/8", False),
        ("", False),
        ("brace", False),
        ("L100x65x10", True),
        ("L90x65x8", True),
        ("L100x8", True),
        ("UPN 100", True),
        ("FL100x8", True),
    ],
)
def test_a_name_that_says_another_section_is_asked_about(text, asked):
    scene = Scene()
    body, _ = read(scene, brep(scene, bar(ANGLE, 500)), text)
    assert body.section.designation == "L 100x65x8"
    assert disagreement(text, body.section) == ((text, "L 100x65x8") if asked else None)


@pytest.mark.parametrize(("text", "asked"), [("PL10*300", False), ("FL 100x10", False), ("PL12", True)])
def test_plates_are_held_to_their_thickness(text, asked):
    scene = Scene()
    item = brep(scene, plate([(0, 0), (300, 0), (260, 200), (0, 180)], 10))
    assert bool(disagreement(text, read(scene, item, text)[0].section)) == asked


def test_a_drawn_body_cut_by_a_plane_is_read_from_what_is_left():
    scene = Scene()
    item = brep(scene, bar(ANGLE, 500))
    plane = scene.add("IfcPlane", scene.axes((300, 0, 0), (1, 0, 0), (0, 1, 0)))
    half = scene.add("IfcHalfSpaceSolid", plane, False)
    body, _ = read(scene, scene.add("IfcBooleanClippingResult", "DIFFERENCE", item, half))
    assert (body.section.designation, body.length) == ("L 100x65x8", pytest.approx(300, abs=1e-3))


def test_surfaces_that_do_not_say_they_close_are_not_closed_for_them():
    scene = Scene()
    mesh = bar(ANGLE, 500)
    del mesh.facets[-1]
    solid = brep(scene, mesh)
    assert read(scene, solid)[0].section.designation == "L 100x65x8"
    faces = scene.add("IfcConnectedFaceSet", list(solid.Outer.CfsFaces))
    with pytest.raises(Unread, match="not closed"):
        read(scene, scene.add("IfcFaceBasedSurfaceModel", [faces]))


def test_what_is_refused_is_a_sentence():
    scene = Scene()
    two = bar(ANGLE, 500)
    other = plate([(0, 0), (300, 0), (300, 100), (0, 100)], 10, [circle(22, 100, 50)])
    first = len(two.points)
    two.points += [(x + 900, y, z) for x, y, z in other.points]
    two.facets += [tuple(tuple(i + first for i in ring) for ring in facet) for facet in other.facets]
    with pytest.raises(Unread, match="1 x FL 100x10, 1 x L 100x65x8, which do not touch"):
        read(scene, brep(scene, two))
