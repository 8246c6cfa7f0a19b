"""Bodies that only the geometry kernel can mesh: read from its mesh, refused where its worker fails or crashes."""

import gc
import io
import json
import math
import sys

import numpy as np
import pytest
from entity_scene import Scene

from takeoff.ifc import kernel, kernel_process, kernel_worker
from takeoff.ifc.bodies import Bodies
from takeoff.ifc.context import Unread
from takeoff.settings import Settings


def read(scene, item):
    return Bodies(scene.ctx, Settings()).read(item, "")[0]


def block(scene, x=200.0, y=80.0, z=10.0):
    return scene.add("IfcBlock", scene.axes(), x / scene.mm, y / scene.mm, z / scene.mm)


def cylinder(scene, d, x, y, low=-5.0, high=20.0):
    return scene.add("IfcRightCircularCylinder", scene.axes((x, y, low)), (high - low) / scene.mm, d / 2 / scene.mm)


def less(scene, first, second):
    return scene.add("IfcBooleanResult", "DIFFERENCE", first, second)


def csg(scene, tree):
    return scene.add("IfcCsgSolid", tree)


@pytest.mark.parametrize("unit", ["mm", "m", "inch"])
def test_a_block_less_cylinders_is_a_flat_with_holes(unit):
    scene = Scene(unit=unit)
    tree = less(scene, less(scene, block(scene), cylinder(scene, 18, 40, 30)), cylinder(scene, 22, 150, 50))
    body = read(scene, csg(scene, tree))
    assert (body.section.designation, body.length) == ("FL 80x10", pytest.approx(200))
    near, far = body.holes
    assert sorted((round(h.diameter, 2), h.kind) for h in body.holes) == [(18, "round"), (22, "round")]
    assert math.hypot(near.x - far.x, near.across - far.across) == pytest.approx(math.hypot(110, 20), abs=0.02)


def test_a_cylinder_alone_is_a_round_bar():
    scene = Scene()
    assert read(scene, csg(scene, cylinder(scene, 20, 0, 0, 0, 600))).section.designation == "RND 20"


def test_an_operand_the_kernel_leaves_out_is_a_refusal():
    """It cannot draw cones here, and without a word hands back the block without the hole."""
    scene = Scene()
    cone = scene.add("IfcRightCircularCone", scene.axes((50, 50, -5)), 20.0, 9.0)
    with pytest.raises(Unread, match="cannot draw"):
        read(scene, csg(scene, less(scene, block(scene), cone)))


def test_a_sphere_takes_no_drilled_hole():
    scene = Scene()
    ball = scene.add("IfcSphere", scene.axes((100, 40, 10)), 9.0)
    with pytest.raises(Unread, match="recess"):
        read(scene, csg(scene, less(scene, block(scene), ball)))


def test_bodies_joined_are_read_from_their_surface():
    scene = Scene()
    leg = scene.extruded(scene.polygon([(0, 0), (80, 0), (80, 8), (0, 8)]), 500)
    other = scene.extruded(scene.polygon([(0, 0), (8, 0), (8, 80), (0, 80)]), 500)
    body = read(scene, scene.add("IfcBooleanResult", "UNION", leg, other))
    assert (body.section.designation, body.length) == ("L 80x80x8", pytest.approx(500))


def turned(scene, width, thick, radius, angle):
    """A rectangle ``thick`` by ``width`` turned about y at ``radius``."""
    place = scene.flat_axes(radius, width / 2)
    profile = scene.add("IfcRectangleProfileDef", "AREA", None, place, thick / scene.mm, width / scene.mm)
    about = scene.add("IfcAxis1Placement", scene.point(0, 0, 0), scene.way(0, 1, 0))
    return scene.add("IfcRevolvedAreaSolid", profile, scene.axes(), about, angle)


def test_a_profile_turned_full_circle_is_a_tube_and_less_is_held():
    scene = Scene()
    body = read(scene, turned(scene, 500, 4, 28.15, 2 * math.pi))
    assert (body.section.designation, body.length) == ("CHS 60.3x4", pytest.approx(500, abs=1e-3))
    with pytest.raises(Unread, match=r"turned about an axis.*rolled"):
        read(scene, turned(scene, 500, 4, 300, 1.0))


def advanced(scene, length, width, thick, holes=()):
    """A plate with cylindrical holes (x, y, diameter) as planes, cylinders, lines and circles (ISO 16739-1)."""
    vertices, edges = {}, {}

    def vertex(p):
        return (
            vertices.setdefault(p, None)
            or vertices.update({p: scene.add("IfcVertexPoint", scene.point(*p))})
            or vertices[p]
        )

    def run(edge, forward):
        return scene.add("IfcOrientedEdge", None, None, edge, forward)

    def line(a, b):
        for (start, stop), forward in (((a, b), True), ((b, a), False)):
            if (start, stop) in edges:
                return run(edges[start, stop], forward)
        step = np.subtract(b, a)
        size = float(np.linalg.norm(step))
        vector = scene.add("IfcVector", scene.way(*(step / size)), size / scene.mm)
        straight = scene.add("IfcLine", scene.point(*a), vector)
        edges[a, b] = scene.add("IfcEdgeCurve", vertex(a), vertex(b), straight, True)
        return run(edges[a, b], True)

    def face(surface, *loops, same=True):
        bounds = [
            scene.add("IfcFaceBound" if k else "IfcFaceOuterBound", scene.add("IfcEdgeLoop", loop), True)
            for k, loop in enumerate(loops)
        ]
        return scene.add("IfcAdvancedFace", bounds, surface, same)

    def plane(origin, normal, x):
        return scene.add("IfcPlane", scene.axes(origin, normal, x))

    low = [(0.0, 0.0, 0.0), (length, 0.0, 0.0), (length, width, 0.0), (0.0, width, 0.0)]
    high = [(x, y, thick) for x, y, _ in low]
    tops = [[line(high[k], high[(k + 1) % 4]) for k in range(4)]]
    bottoms = [[line(low[-k], low[-k - 1]) for k in range(4)]]
    faces = []
    for x, y, d in holes:
        r = d / 2
        surface = scene.add("IfcCylindricalSurface", scene.axes((x, y, 0)), r / scene.mm)
        right, left = {}, {}
        half = {}
        for z in (0.0, thick):
            right[z], left[z] = (x + r, y, z), (x - r, y, z)
            ring = scene.add("IfcCircle", scene.axes((x, y, z)), r / scene.mm)
            half[z] = [
                scene.add("IfcEdgeCurve", vertex(a), vertex(b), ring, True)
                for a, b in ((right[z], left[z]), (left[z], right[z]))
            ]
        tops.append([run(half[thick][1], False), run(half[thick][0], False)])
        bottoms.append([run(half[0.0][0], True), run(half[0.0][1], True)])
        for k, (a, b) in enumerate(((right, left), (left, right))):
            sides = [
                run(half[0.0][k], False), line(a[0.0], a[thick]), run(half[thick][k], True), line(b[thick], b[0.0]),
            ]  # fmt: skip
            faces.append(face(surface, sides, same=False))
    faces += [face(plane(high[0], (0, 0, 1), (1, 0, 0)), *tops), face(plane(low[0], (0, 0, -1), (1, 0, 0)), *bottoms)]
    for k in range(4):
        a, b, c, d = low[k], low[(k + 1) % 4], high[(k + 1) % 4], high[k]
        along = np.subtract(b, a) / np.linalg.norm(np.subtract(b, a))
        faces.append(face(plane(a, (along[1], -along[0], 0), along), [line(a, b), line(b, c), line(c, d), line(d, a)]))
    return scene.add("IfcAdvancedBrep", scene.add("IfcClosedShell", faces))


@pytest.mark.parametrize("unit", ["mm", "inch"])
def test_an_advanced_brep(unit):
    scene = Scene(unit=unit)
    body = read(scene, advanced(scene, 200.0, 80.0, 10.0, [(40.0, 30.0, 18.0), (150.0, 50.0, 22.0)]))
    assert (body.section.designation, body.length) == ("FL 80x10", pytest.approx(200))
    assert [(h.kind, h.diameter) for h in body.holes] == [("round", 18), ("round", 22)]
    assert [(h.x, h.across) for h in body.holes] == [pytest.approx((40, 30)), pytest.approx((150, 50))]


def test_an_advanced_brep_of_flat_faces_needs_no_kernel(monkeypatch):
    monkeypatch.setattr(kernel, "_ask", lambda *_: pytest.fail("the kernel was asked"))
    scene = Scene()
    assert read(scene, advanced(scene, 200.0, 80.0, 10.0)).section.designation == "FL 80x10"


def test_a_mirrored_parametric_profile_never_goes_to_the_kernel(monkeypatch):
    monkeypatch.setattr(kernel, "_ask", lambda *_: pytest.fail("the kernel was asked"))
    scene = Scene()
    angle = scene.add("IfcLShapeProfileDef", "AREA", None, scene.flat_axes(), 100.0, 65.0, 8.0)
    operator = scene.add("IfcCartesianTransformationOperator2D", scene.way(-1, 0), scene.way(0, 1), scene.point(0, 0))
    mirrored = scene.add("IfcDerivedProfileDef", "AREA", None, angle, operator)
    bar = scene.extruded(mirrored, 500)
    with pytest.raises(Unread, match="mirrored"):
        read(scene, scene.add("IfcBooleanResult", "UNION", bar, bar))


# ---------------------------------------------------------------- the process


BLOCK = {"points": [0.0] * 9, "triangles": [0, 1, 2]}


def stand_in(monkeypatch, script):
    """Another program in the worker's place; it has each job as ``job``, how many it had as ``count``."""
    lines = [
        "import json, os, sys, time",
        "for count, line in enumerate(sys.stdin):",
        "    job = json.loads(line)",
        f"    {script}",
        f"    print(json.dumps({BLOCK!r}), flush=True)",
    ]
    monkeypatch.setattr(kernel_process, "_command", lambda: [sys.executable, "-c", "\n".join(lines)])


@pytest.mark.parametrize(
    ("script", "words"),
    [
        ("os.abort() if '777' in job['file'] else None", "crashed"),
        ("time.sleep(60) if '777' in job['file'] else None", "did not come to an end"),
    ],
)
def test_one_bad_body_costs_no_other(monkeypatch, script, words):
    stand_in(monkeypatch, script)
    monkeypatch.setattr(kernel_process, "SECONDS_A_BODY", 0.5)
    monkeypatch.setattr(kernel_process, "SECONDS_TO_START", 5.0 if words == "crashed" else 0.5)
    scene = Scene()
    items = [csg(scene, block(scene, length)) for length in (100.0, 777.0, 300.0)]
    got = []
    for item in items:
        try:
            got.append(len(kernel.meshed(scene.ctx, item).facets))
        except Unread as error:
            got.append(error.sentence)
    assert (got[0], got[2]) == (1, 1)
    assert words in got[1]
    # what is known of a body is not asked again
    with pytest.raises(Unread, match=words):
        kernel.meshed(scene.ctx, items[1])


def test_a_program_that_does_not_start_is_a_refusal(monkeypatch):
    monkeypatch.setattr(kernel_process, "_command", lambda: [sys.executable, "-c", ""])
    scene = Scene()
    with pytest.raises(Unread, match="crashed"):
        kernel.meshed(scene.ctx, csg(scene, block(scene)))


def test_the_process_ends_with_its_model():
    scene = Scene()
    kernel.meshed(scene.ctx, csg(scene, block(scene)))
    process = kernel._KNOWN[scene.ctx].process._process
    assert process.poll() is None
    scene._ctx = None
    gc.collect()
    assert process.poll() is not None


def test_the_worker_answers_line_by_line():
    scene = Scene()
    good, empty = block(scene), scene.add("IfcRightCircularCone", scene.axes(), 20.0, 9.0)
    text = scene.file.to_string()
    jobs = io.StringIO("".join(json.dumps({"file": text, "item": e.id()}) + "\n" for e in (good, empty, good)))
    out = io.StringIO()
    kernel_worker.serve(jobs, out)
    first, second, third = (json.loads(line) for line in out.getvalue().splitlines())
    assert first == third
    assert len(first["triangles"]) == 36
    assert max(first["points"]) == pytest.approx(0.2)
    assert "error" in second
