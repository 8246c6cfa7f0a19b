"""Profiles by the standard's definition: every corner of the drawn steel against a plain evaluation here.

The evaluation in this file follows ISO 16739-1: a parametric profile lies about the centre of its
bounding box, Position moves it, an operator's 2-D transformation is applied to the outcome. It shares
no code with the reader. The geometry library's own kernel is no oracle here: it ignores mirroring
of parametric profiles.
"""

import cmath
import math

import numpy as np
import pytest
from ifc_scene import Scene

from takeoff.ifc.bodies import Bodies
from takeoff.ifc.context import Unread
from takeoff.ifc.profiles import Profiles
from takeoff.sections import loops
from takeoff.settings import Settings

# corners about the centre of the box, anti-clockwise, sharp
CORNERS = {
    "L long leg up": [(-30, -50), (30, -50), (30, -42), (-22, -42), (-22, 50), (-30, 50)],
    "L long leg along": [(-50, -30), (50, -30), (50, -22), (-42, -22), (-42, 30), (-50, 30)],
    "U": [(-25, -50), (25, -50), (25, -41), (-19, -41), (-19, 41), (25, 41), (25, 50), (-25, 50)],
    "T": [(-4, -60), (4, -60), (4, 48), (45, 48), (45, 60), (-45, 60), (-45, 48), (-4, 48)],
    "C": [
        (-25, -50), (25, -50), (25, -32), (22, -32), (22, -47), (-22, -47),
        (-22, 47), (22, 47), (22, 32), (25, 32), (25, 50), (-25, 50),
    ],
    "I with a wide bottom": [
        (-60, -80), (60, -80), (60, -70), (4, -70), (4, 72), (40, 72), (40, 80), (-40, 80), (-40, 72), (-4, 72),
        (-4, -70), (-60, -70),
    ],
}  # fmt: skip
ATTRIBUTES = {
    "L long leg up": ("IfcLShapeProfileDef", {"Depth": 100.0, "Width": 60.0, "Thickness": 8.0}),
    "L long leg along": ("IfcLShapeProfileDef", {"Depth": 60.0, "Width": 100.0, "Thickness": 8.0}),
    "U": (
        "IfcUShapeProfileDef",
        {"Depth": 100.0, "FlangeWidth": 50.0, "WebThickness": 6.0, "FlangeThickness": 9.0},
    ),
    "T": (
        "IfcTShapeProfileDef",
        {"Depth": 120.0, "FlangeWidth": 90.0, "WebThickness": 8.0, "FlangeThickness": 12.0},
    ),
    "C": ("IfcCShapeProfileDef", {"Depth": 100.0, "Width": 50.0, "WallThickness": 3.0, "Girth": 18.0}),
    "I with a wide bottom": (
        "IfcAsymmetricIShapeProfileDef",
        {
            "BottomFlangeWidth": 120.0, "OverallDepth": 160.0, "WebThickness": 8.0, "BottomFlangeThickness": 10.0,
            "TopFlangeWidth": 80.0, "TopFlangeThickness": 8.0,
        },
    ),
}  # fmt: skip
OPERATORS = {
    # name: (Axis1, Axis2, LocalOrigin, Scale), and the map of the complex plane the standard makes of it
    "left to right": ((-1.0, 0.0), (0.0, 1.0), (0.0, 0.0), None, lambda z: -z.conjugate()),
    "upside down": ((1.0, 0.0), (0.0, -1.0), (0.0, 0.0), 1.0, lambda z: z.conjugate()),
    "moved and turned": ((0.6, 0.8), None, (7.0, -3.0), None, lambda z: z * (0.6 + 0.8j) + (7 - 3j)),
    "turned by Axis2 alone": (None, (-1.0, 0.0), (0.0, 0.0), None, lambda z: z * 1j),
    "turned and mirrored": (
        (0.6, 0.8), (0.8, -0.6), (1.0, 2.0), None, lambda z: z.conjugate() * (0.6 + 0.8j) + (1 + 2j),
    ),
    "a tenth larger, mirrored": (
        (-1.0, 0.0), (0.0, 1.0), (0.0, 0.0), 1.1, lambda z: -z.conjugate() * 1.1,
    ),
}  # fmt: skip
PLACES = {"no position": None, "at the datum": ((30.0, 50.0), (1.0, 0.0)), "turned": ((12.0, -5.0), (0.8, 0.6))}


def placed(kind, place):
    corners = [complex(x, y) for x, y in CORNERS[kind]]
    if place is None:
        return corners
    (ox, oy), (dx, dy) = place
    turn = cmath.exp(1j * math.atan2(dy, dx))
    return [z * turn + complex(ox, oy) for z in corners]


def solid(corners, low, high):
    return np.array([(z.real, z.imag, h) for h in (low, high) for z in corners])


def same_points(found, expected, tolerance=1e-6):
    """The same set of points, in any order."""
    assert len(found) == len(expected)
    gaps = np.linalg.norm(found[:, None, :] - expected[None, :, :], axis=2)
    assert gaps.min(axis=1).max() < tolerance
    assert gaps.min(axis=0).max() < tolerance


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("kind", CORNERS)
def test_a_parametric_profile_stands_where_the_standard_puts_it(kind, place):
    scene = Scene()
    found, _ = scene.corners(scene.extrude(scene.profile(*ATTRIBUTES[kind], PLACES[place]), 700))
    same_points(found, solid(placed(kind, PLACES[place]), 0, 700))


@pytest.mark.parametrize("operator", OPERATORS)
@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("kind", CORNERS)
def test_a_derived_profile_is_its_parent_under_the_operator(kind, place, operator):
    *given, rule = OPERATORS[operator]
    scene = Scene()
    derived = scene.derived(scene.profile(*ATTRIBUTES[kind], PLACES[place]), *given)
    found, _ = scene.corners(scene.extrude(derived, 700))
    same_points(found, solid([rule(z) for z in placed(kind, PLACES[place])], 0, 700))


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("kind", CORNERS)
def test_a_mirrored_profile_is_mirrored_about_y_whatever_operator_is_written(kind, place):
    scene = Scene()
    parent = scene.profile(*ATTRIBUTES[kind], PLACES[place])
    operator = scene.file.create_entity(
        "IfcCartesianTransformationOperator2D", LocalOrigin=scene.point(0, 0), Scale=1.0
    )
    mirrored = scene.file.create_entity("IfcMirroredProfileDef", ProfileType="AREA", ParentProfile=parent)
    del operator
    found, _ = scene.corners(scene.extrude(mirrored, 700, (0, 0, -1)))
    same_points(found, solid([-z.conjugate() for z in placed(kind, PLACES[place])], -700, 0))


def test_a_profile_derived_twice_takes_both_operators():
    scene = Scene()
    *first, rule = OPERATORS["turned and mirrored"]
    *second, other = OPERATORS["left to right"]
    once = scene.derived(scene.profile(*ATTRIBUTES["L long leg up"], None), *first)
    found, _ = scene.corners(scene.extrude(scene.derived(once, *second), 500))
    same_points(found, solid([other(rule(z)) for z in placed("L long leg up", None)], 0, 500))


@pytest.mark.parametrize("kind", CORNERS)
@pytest.mark.parametrize("scale", [None, 2.0])
def test_a_mirrored_map_mirrors_the_steel(kind, scale):
    scene = Scene()
    item = scene.extrude(scene.profile(*ATTRIBUTES[kind], PLACES["turned"]), 700)
    # x to -z, y to y, z to -x: left-handed
    mapped = scene.mapped(item, (0, 0, -1), (0, 1, 0), (-1, 0, 0), (10, 20, 30), scale)
    found, _ = scene.corners(mapped)
    drawn = solid(placed(kind, PLACES["turned"]), 0, 700) * (scale or 1.0)
    expected = np.column_stack([-drawn[:, 2] + 10, drawn[:, 1] + 20, -drawn[:, 0] + 30])
    same_points(found, expected)


def test_bodies_alike_are_one_object_whether_mapped_or_not():
    scene = Scene()
    profile = scene.profile(*ATTRIBUTES["U"], None)
    bodies = Bodies(scene.ctx, Settings())
    plain = bodies.read(scene.extrude(profile, 700), "")[0]
    again = bodies.read(scene.extrude(profile, 700), "")[0]
    turned = scene.mapped(scene.extrude(profile, 700), (0, 1, 0), (-1, 0, 0), (0, 0, 1), (5, 5, 5))
    assert plain is again
    assert bodies.read(turned, "")[0] is plain


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3"])
def test_asymmetric_i_in_every_schema(schema):
    """IFC2x3 names the bottom flange's attributes as those of the whole section."""
    scene = Scene(schema)
    sizes = dict(ATTRIBUTES["I with a wide bottom"][1])
    if schema == "IFC2X3":
        for old, new in (("OverallWidth", "BottomFlangeWidth"), ("FlangeThickness", "BottomFlangeThickness")):
            sizes[old] = sizes.pop(new)
    origin = scene.file.create_entity("IfcAxis2Placement2D", Location=scene.point(0, 0))
    profile = scene.file.create_entity("IfcAsymmetricIShapeProfileDef", ProfileType="AREA", Position=origin, **sizes)
    found, body = scene.corners(scene.extrude(profile, 700))
    same_points(found, solid(placed("I with a wide bottom", None), 0, 700))
    assert (body.section.b, body.section.b2, body.section.tf, body.section.tf2) == (120, 80, 10, 8)


def area_of(profile):
    return loops.area(profile.outer) - sum(loops.area(edge) for edge in profile.inners)


@pytest.mark.parametrize(
    ("name", "sizes", "area_cm2"),
    [
        # EN 10056-1: L 100 x 75 x 8, r1 10, r2 5
        (
            "IfcLShapeProfileDef",
            {"Depth": 100.0, "Width": 75.0, "Thickness": 8.0, "FilletRadius": 10.0, "EdgeRadius": 5.0},
            13.5,
        ),
        # EN 10365: IPE 200
        (
            "IfcIShapeProfileDef",
            {
                "OverallWidth": 100.0, "OverallDepth": 200.0, "WebThickness": 5.6, "FlangeThickness": 8.5,
                "FilletRadius": 12.0,
            },
            28.5,
        ),
        # EN 10365 (DIN 1026-1): UPN 200, inner faces at 8 %
        (
            "IfcUShapeProfileDef",
            {
                "Depth": 200.0, "FlangeWidth": 75.0, "WebThickness": 8.5, "FlangeThickness": 11.5,
                "FilletRadius": 11.5, "EdgeRadius": 6.0, "FlangeSlope": math.atan(0.08),
            },
            32.2,
        ),
        # EN 10210-2: SHS 100 x 100 x 5, outer radius 7.5, inner 5
        (
            "IfcRectangleHollowProfileDef",
            {"XDim": 100.0, "YDim": 100.0, "WallThickness": 5.0, "InnerFilletRadius": 5.0, "OuterFilletRadius": 7.5},
            18.7,
        ),
        # EN 10210-2: CHS 88.9 x 5
        ("IfcCircleHollowProfileDef", {"Radius": 44.45, "WallThickness": 5.0}, 13.2),
    ],
)  # fmt: skip
def test_fillets_and_slopes_give_the_published_area(name, sizes, area_cm2):
    """Areas as printed in the named standards' tables (values from memory, three figures)."""
    scene = Scene()
    profile = Profiles(scene.ctx).read(scene.file.create_entity(name, ProfileType="AREA", **sizes))
    assert profile.rolled.section.area_mm2 / 100 == pytest.approx(area_cm2, rel=0.005)
    assert area_of(profile) == pytest.approx(profile.rolled.section.area_mm2, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "sizes", "words"),
    [
        ("IfcEllipseProfileDef", {"SemiAxis1": 10.0, "SemiAxis2": 5.0}, "ellipse"),
        ("IfcTrapeziumProfileDef", {"BottomXDim": 10.0, "TopXDim": 5.0, "YDim": 4.0, "TopXOffset": 1.0}, "trapezium"),
        ("IfcLShapeProfileDef", {"Depth": 100.0, "Width": 60.0, "Thickness": 80.0}, "impossible"),
        ("IfcLShapeProfileDef", {"Depth": 100.0, "Thickness": 8.0, "LegSlope": 0.05}, "taper"),
        ("IfcLShapeProfileDef", {"Depth": 100.0, "Width": 0.0, "Thickness": 8.0}, "its width"),
    ],
)
def test_what_is_not_read_says_so(name, sizes, words):
    scene = Scene()
    with pytest.raises(Unread, match=words):
        Profiles(scene.ctx).read(scene.file.create_entity(name, ProfileType="AREA", **sizes))


@pytest.mark.parametrize("radius", [None, 9.0])
def test_a_stretched_profile_is_what_its_outline_becomes_or_not_read(radius):
    """Scale2 doubles y (ISO 16739-1, IfcCartesianTransformationOperator2DnonUniform): depth and flange thickness."""
    scene = Scene()
    name, sizes = ATTRIBUTES["U"]
    operator = scene.file.create_entity(
        "IfcCartesianTransformationOperator2DnonUniform", LocalOrigin=scene.point(0, 0), Scale=1.0, Scale2=2.0
    )
    derived = scene.file.create_entity(
        "IfcDerivedProfileDef",
        ProfileType="AREA",
        ParentProfile=scene.profile(name, {**sizes, "FilletRadius": radius}, None),
        Operator=operator,
    )
    if radius:
        with pytest.raises(Unread, match="stretched"):
            Profiles(scene.ctx).read(derived)
        return
    found = Profiles(scene.ctx).read(derived).rolled
    section = found.section
    assert section.shape == "channel"
    assert (section.h, section.b) == (2 * sizes["Depth"], sizes["FlangeWidth"])
    assert (section.tw, section.tf) == (sizes["WebThickness"], 2 * sizes["FlangeThickness"])
