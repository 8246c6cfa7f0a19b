"""Bounded half spaces and bodies taken away from bodies, against the geometry library's own volume."""

import math

import ifcopenshell
import ifcopenshell.geom
import numpy as np
import pytest
from ifc_scene import Scene

from takeoff.ifc.bodies import Bodies
from takeoff.ifc.context import Unread
from takeoff.sections import loops, shapes
from takeoff.settings import Settings

CHANNEL = ("IfcUShapeProfileDef", {"Depth": 100.0, "FlangeWidth": 50.0, "WebThickness": 6.0, "FlangeThickness": 9.0})


def axes(scene, origin, z=(0, 0, 1), x=(1, 0, 0)):
    return scene.file.create_entity(
        "IfcAxis2Placement3D", Location=scene.point(*origin), Axis=scene.direction(*z), RefDirection=scene.direction(*x)
    )


def plane(scene, origin, normal, x):
    return scene.file.create_entity("IfcPlane", Position=axes(scene, origin, normal, x))


def bounded(scene, surface, agreement, place, corners):
    curve = scene.file.create_entity("IfcPolyline", Points=[scene.point(*c) for c in (*corners, corners[0])])
    return scene.file.create_entity(
        "IfcPolygonalBoundedHalfSpace",
        BaseSurface=surface, AgreementFlag=agreement, Position=place, PolygonalBoundary=curve,
    )  # fmt: skip


def difference(scene, first, second, kind="IfcBooleanClippingResult"):
    return scene.file.create_entity(kind, Operator="DIFFERENCE", FirstOperand=first, SecondOperand=second)


def volume(item):
    """mm3 of an item as the geometry library meshes it."""
    shape = ifcopenshell.geom.create_shape(ifcopenshell.geom.settings(), item)
    points = np.array(shape.verts).reshape(-1, 3)
    a, b, c = (points[np.array(shape.faces).reshape(-1, 3)[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6) * 1e9


def steel(body):
    """mm3 of a body with square ends less its holes and notches."""
    lost = 0.0
    thick = {face.name: face.thickness for face in shapes.faces(body.section)}
    for notch in body.notches:
        lost += abs(loops.area([(x, y, 0.0) for x, y in notch.loop])) * thick[notch.face]
    for hole in body.holes:
        assert hole.kind == "round"
        lost += math.pi / 4 * hole.diameter**2 * thick[hole.face]
    return body.section.area_mm2 * body.length - lost


def read(scene, item):
    return Bodies(scene.ctx, Settings()).read(item, "")[0]


@pytest.mark.parametrize("agreement", [False, True])
def test_a_boundary_round_the_whole_section_is_a_plane_cut(agreement):
    scene = Scene()
    bar = scene.extrude(scene.profile(*CHANNEL), 1000)
    # the plane's normal points to what stays where the flag is true, to what goes where it is false
    z = -1 if agreement else 1
    cut = bounded(
        scene, plane(scene, (0, 0, 700), (0.6 * z, 0, 0.8 * z), (0.8, 0, -0.6)), agreement,
        axes(scene, (0, 0, 0)), ((-60, -60), (60, -60), (60, 60), (-60, 60)),
    )  # fmt: skip
    item = difference(scene, bar, cut)
    body = read(scene, item)
    # the plane falls by 0.75 across the flanges, which reach 25 to either side of the middle
    assert body.length == pytest.approx(700 + 0.75 * 25)
    assert len(body.left + body.right) == 1
    assert body.notches == ()


def test_a_boundary_beside_the_steel_takes_nothing():
    scene = Scene()
    bar = scene.extrude(scene.profile(*CHANNEL), 1000)
    cut = bounded(
        scene, plane(scene, (0, 0, 700), (0, 0, 1), (1, 0, 0)), False, axes(scene, (200, 0, 0)),
        ((-60, -60), (60, -60), (60, 60), (-60, 60)),
    )  # fmt: skip
    body = read(scene, difference(scene, bar, cut))
    assert body.length == pytest.approx(1000)
    assert body.left + body.right == ()


def test_a_boundary_over_a_part_of_the_section_is_a_notch():
    """The bottom flange cut back by 100 mm: the web's lower 15 mm go with it."""
    scene = Scene()
    bar = scene.extrude(scene.profile(*CHANNEL), 1000)
    cut = bounded(
        scene, plane(scene, (0, 0, 900), (0, 0, 1), (1, 0, 0)), False, axes(scene, (0, -50, 0)),
        ((-60, -60), (60, -60), (60, 15), (-60, 15)),
    )  # fmt: skip
    item = difference(scene, bar, cut)
    body = read(scene, item)
    assert body.problems == ()
    assert body.length == pytest.approx(1000)
    assert {notch.face for notch in body.notches} == {"web", "bottom"}
    # web and flange share the corner 6 x 9 x 100, which both notches count
    assert steel(body) + 6 * 9 * 100 == pytest.approx(volume(item), rel=1e-9)


def test_a_solid_taken_away_is_a_hole():
    scene = Scene()
    bar = scene.extrude(scene.profile(*CHANNEL), 1000)
    drill = scene.file.create_entity(
        "IfcExtrudedAreaSolid",
        SweptArea=scene.file.create_entity("IfcCircleProfileDef", ProfileType="AREA", Radius=9.0),
        Position=axes(scene, (-60, 12, 300), (1, 0, 0), (0, 1, 0)),
        ExtrudedDirection=scene.direction(0, 0, 1), Depth=60.0,
    )  # fmt: skip
    item = difference(scene, bar, drill, "IfcBooleanResult")
    body = read(scene, item)
    (hole,) = body.holes
    assert (hole.face, hole.diameter, hole.source) == ("web", pytest.approx(18), "solid")
    assert (hole.x, hole.across) == (pytest.approx(300), pytest.approx(62))
    assert steel(body) == pytest.approx(volume(item), rel=1e-3)


def test_a_solid_that_takes_an_end_off_shortens_it():
    scene = Scene()
    bar = scene.extrude(scene.profile(*CHANNEL), 1000)
    box = scene.file.create_entity("IfcRectangleProfileDef", ProfileType="AREA", XDim=200.0, YDim=200.0)
    end = scene.file.create_entity(
        "IfcExtrudedAreaSolid",
        SweptArea=box, Position=axes(scene, (0, 0, 900)), ExtrudedDirection=scene.direction(0, 0, 1), Depth=300.0,
    )  # fmt: skip
    item = difference(scene, bar, end, "IfcBooleanResult")
    body = read(scene, item)
    assert body.length == pytest.approx(900)
    assert steel(body) == pytest.approx(volume(item), rel=1e-3)


def test_a_union_is_read_from_its_surface_and_curved_cuts_are_named():
    scene = Scene()
    bar = scene.extrude(scene.profile(*CHANNEL), 1000)
    both = scene.file.create_entity("IfcBooleanResult", Operator="UNION", FirstOperand=bar, SecondOperand=bar)
    assert (read(scene, both).section.shape, read(scene, both).length) == ("channel", pytest.approx(1000))
    surface = scene.file.create_entity("IfcCylindricalSurface", Position=axes(scene, (0, 0, 0)), Radius=40.0)
    half = scene.file.create_entity("IfcHalfSpaceSolid", BaseSurface=surface, AgreementFlag=False)
    with pytest.raises(Unread, match="IfcCylindricalSurface"):
        read(scene, difference(scene, bar, half))


def test_an_extrusion_askew_is_not_read_as_square():
    scene = Scene()
    with pytest.raises(Unread, match="askew"):
        read(scene, scene.extrude(scene.profile(*CHANNEL), 1000, (0.1, 0, 1)))


def sampled(body, section):
    """mm3 of a section as it is drawn between a body's end planes, sampled every half millimetre."""
    from shapely import Polygon, contains_xy

    ring = shapes.outline(section)
    u, v = np.meshgrid(np.arange(0.25, ring[:, 0].max(), 0.5), np.arange(0.25, ring[:, 1].max(), 0.5))
    inside = contains_xy(Polygon(ring), u, v)
    u, v = u[inside], v[inside]
    ends = []
    for planes, limit, pick in ((body.left, 0.0, np.maximum), (body.right, body.length, np.minimum)):
        x = np.full(len(u), limit)
        for cut in planes:
            n, at = cut.normal, cut.point
            x = pick(x, at[0] - (n[1] * (u - at[1]) + n[2] * (v - at[2])) / n[0])
        ends.append(x)
    return float((ends[1] - ends[0]).sum()) / 4


@pytest.mark.parametrize("reach", [120, 200, 2000])
@pytest.mark.parametrize("square_first", [False, True])
def test_a_bounded_skew_cut_of_an_overlong_extrusion_is_a_plane_where_a_square_cut_takes_the_rest(reach, square_first):
    """The boundary stands on the sloping plane and does not follow the 1,100 mm that the square cut takes."""
    scene = Scene()
    angle = ("IfcLShapeProfileDef", {"Depth": 100.0, "Width": 65.0, "Thickness": 8.0})
    item = scene.extrude(scene.profile(*angle), 2000)
    normal = np.array([0.5, 0.4, 1.0]) / np.linalg.norm([0.5, 0.4, 1.0])
    across = np.cross(normal, (0.0, 0.0, 1.0))
    across = tuple((across / np.linalg.norm(across)).tolist())
    normal = tuple(normal.tolist())
    edge = ((-reach, -reach), (reach, -reach), (reach, reach), (-reach, reach))
    skew = bounded(
        scene, plane(scene, (0, 0, 880), normal, across), False, axes(scene, (0, 0, 880), normal, across), edge
    )  # fmt: skip
    level = scene.file.create_entity(
        "IfcHalfSpaceSolid", BaseSurface=plane(scene, (0, 0, 890), (0, 0, 1), (1, 0, 0)), AgreementFlag=False
    )  # fmt: skip
    for cut in (level, skew) if square_first else (skew, level):
        item = difference(scene, item, cut)
    body = read(scene, item)
    assert body.problems == ()
    assert body.length == pytest.approx(890, abs=0.001)
    assert len(body.left + body.right) == 1
    assert sampled(body, shapes.angle(100, 65, 8)) == pytest.approx(volume(item), rel=2e-5)
