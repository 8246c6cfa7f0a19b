"""Curves as loops: lengths and areas from geometry's own formulas, ends from the file's trimming."""

import math

import pytest
from ifc_scene import Scene

from takeoff.ifc.context import Unread
from takeoff.ifc.curves import loop, reversed_loop, turned
from takeoff.sections import loops


def degrees(scene):
    """The scene with plane angles in degrees."""
    factor = scene.file.create_entity(
        "IfcMeasureWithUnit",
        ValueComponent=scene.file.create_entity("IfcPlaneAngleMeasure", math.pi / 180),
        UnitComponent=scene.file.create_entity("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN"),
    )
    dimensions = scene.file.create_entity("IfcDimensionalExponents", 0, 0, 0, 0, 0, 0, 0)
    unit = scene.file.create_entity(
        "IfcConversionBasedUnit",
        Dimensions=dimensions, UnitType="PLANEANGLEUNIT", Name="DEGREE", ConversionFactor=factor,
    )  # fmt: skip
    assignment = scene.file.by_type("IfcUnitAssignment")[0]
    assignment.Units = [assignment.Units[0], unit]
    return type(scene.ctx)(scene.file, "scene")


def circle(scene, x, y, radius, ref=None):
    place = scene.file.create_entity(
        "IfcAxis2Placement2D", Location=scene.point(x, y), RefDirection=scene.direction(*ref) if ref else None
    )
    return scene.file.create_entity("IfcCircle", Position=place, Radius=float(radius))


def trimmed(scene, basis, start, end, sense=True, master="PARAMETER"):
    def trim(value):
        if isinstance(value, tuple):
            return [scene.point(*value)]
        return [scene.file.create_entity("IfcParameterValue", float(value))]

    return scene.file.create_entity(
        "IfcTrimmedCurve",
        BasisCurve=basis, Trim1=trim(start), Trim2=trim(end), SenseAgreement=sense, MasterRepresentation=master,
    )  # fmt: skip


def line(scene, origin, direction, magnitude=1.0):
    vector = scene.file.create_entity("IfcVector", Orientation=scene.direction(*direction), Magnitude=magnitude)
    return scene.file.create_entity("IfcLine", Pnt=scene.point(*origin), Dir=vector)


def composite(scene, *parts):
    segments = [
        scene.file.create_entity("IfcCompositeCurveSegment", Transition="CONTINUOUS", SameSense=same, ParentCurve=curve)
        for curve, same in parts
    ]
    return scene.file.create_entity("IfcCompositeCurve", Segments=segments, SelfIntersect=False)


def slot(scene, ctx, by):
    """A slot 80 long and 20 wide about (100, 50), drawn with arcs ``by`` parameter or point."""
    right, left = circle(scene, 130, 50, 10), circle(scene, 70, 50, 10)
    unit = ctx.rad
    if by == "parameter":
        arcs = [trimmed(scene, right, -math.pi / 2 / unit, math.pi / 2 / unit),
                trimmed(scene, left, math.pi / 2 / unit, 3 * math.pi / 2 / unit)]  # fmt: skip
        lines = [trimmed(scene, line(scene, (130, 60), (-1, 0), 2.0), 0, 30),
                 trimmed(scene, line(scene, (70, 40), (3, 0), 1.0), 0, 60)]  # fmt: skip
    else:
        arcs = [trimmed(scene, right, (130, 40), (130, 60), True, "CARTESIAN"),
                trimmed(scene, left, (70, 60), (70, 40), True, "CARTESIAN")]  # fmt: skip
        lines = [trimmed(scene, line(scene, (130, 60), (-1, 0)), (130, 60), (70, 60), True, "CARTESIAN"),
                 trimmed(scene, line(scene, (70, 40), (1, 0)), (70, 40), (130, 40), True, "CARTESIAN")]  # fmt: skip
    return composite(scene, (arcs[0], True), (lines[0], True), (arcs[1], True), (lines[1], True))


@pytest.mark.parametrize("by", ["parameter", "point"])
@pytest.mark.parametrize("angle", ["radians", "degrees"])
def test_a_slot_of_arcs_and_lines(by, angle):
    scene = Scene()
    ctx = degrees(scene) if angle == "degrees" else scene.ctx
    found = loop(ctx, slot(scene, ctx, by))
    assert loops.area(found) == pytest.approx(math.pi * 100 + 60 * 20)
    assert loops.length(found) == pytest.approx(20 * math.pi + 120)
    assert len(found) == 4


def test_senses_that_run_backwards_make_the_same_loop():
    scene = Scene()
    right, left = circle(scene, 130, 50, 10), circle(scene, 70, 50, 10)
    drawn = composite(
        scene,
        (trimmed(scene, right, math.pi / 2, -math.pi / 2, False), False),
        (trimmed(scene, line(scene, (70, 60), (1, 0)), 0, 60), False),
        (trimmed(scene, left, math.pi / 2, 3 * math.pi / 2), True),
        (trimmed(scene, line(scene, (70, 40), (1, 0)), 0, 60), True),
    )
    assert loops.area(loop(scene.ctx, drawn)) == pytest.approx(math.pi * 100 + 60 * 20)


def test_a_circle_and_its_mirror_image():
    scene = Scene()
    found = loop(scene.ctx, circle(scene, 3, 4, 10, ref=(0.6, 0.8)))
    assert loops.area(found) == pytest.approx(math.pi * 100)
    assert loops.area(reversed_loop(found)) == pytest.approx(-math.pi * 100)
    mirrored = turned(found, [[-1, 0, 0], [0, 1, 0], [0, 0, 1]])
    assert loops.area(mirrored) == pytest.approx(-math.pi * 100)
    assert loops.length(mirrored) == pytest.approx(20 * math.pi)


@pytest.mark.parametrize("middle", [30, 90, 170, 200, 300, 350])
def test_arcs_through_three_points_of_any_size(middle):
    """An arc of twice ``middle`` degrees and its chord: the segment's area is r2 (a - sin a) / 2."""
    scene = Scene()
    sweep = math.radians(2 * middle if middle <= 180 else middle)
    angles = (0.0, sweep / 2, sweep)
    corners = [(50 + 10 * math.cos(a), 20 + 10 * math.sin(a)) for a in angles]
    points = scene.file.create_entity("IfcCartesianPointList2D", CoordList=corners)
    segments = [
        scene.file.create_entity("IfcArcIndex", (1, 2, 3)),
        scene.file.create_entity("IfcLineIndex", (3, 1)),
    ]
    curve = scene.file.create_entity("IfcIndexedPolyCurve", Points=points, Segments=segments)
    assert loops.area(loop(scene.ctx, curve)) == pytest.approx(50 * (sweep - math.sin(sweep)))


def test_a_polyline_left_open_is_closed_and_a_composite_is_not():
    scene = Scene()
    corners = ((0, 0), (40, 0), (40, 30), (0, 30))
    curve = scene.file.create_entity("IfcPolyline", Points=[scene.point(*c) for c in corners])
    assert loops.area(loop(scene.ctx, curve)) == pytest.approx(1200)
    again = scene.file.create_entity("IfcPolyline", Points=[scene.point(*c) for c in (*corners, corners[0])])
    assert loop(scene.ctx, again) == loop(scene.ctx, curve)
    with pytest.raises(Unread, match="open by 30"):
        loop(scene.ctx, composite(scene, (curve, True)))


def test_what_is_not_read_or_contradicts_itself_says_so():
    scene = Scene()
    place = scene.file.create_entity("IfcAxis2Placement2D", Location=scene.point(0, 0))
    ellipse = scene.file.create_entity("IfcEllipse", Position=place, SemiAxis1=10.0, SemiAxis2=5.0)
    with pytest.raises(Unread, match="ellipse"):
        loop(scene.ctx, ellipse)
    even = scene.file.create_entity("IfcEllipse", Position=place, SemiAxis1=10.0, SemiAxis2=10.0)
    assert loops.area(loop(scene.ctx, even)) == pytest.approx(math.pi * 100)
    both = scene.file.create_entity(
        "IfcTrimmedCurve",
        BasisCurve=circle(scene, 0, 0, 10),
        Trim1=[scene.file.create_entity("IfcParameterValue", 0.0), scene.point(0, 10)],
        Trim2=[scene.file.create_entity("IfcParameterValue", 1.0)],
        SenseAgreement=True, MasterRepresentation="PARAMETER",
    )  # fmt: skip
    with pytest.raises(Unread, match="disagree"):
        loop(scene.ctx, both)
    with pytest.raises(Unread, match="IfcLine"):
        loop(scene.ctx, line(scene, (0, 0), (1, 0)))
