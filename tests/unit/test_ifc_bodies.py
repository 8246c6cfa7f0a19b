"""Bodies: lengths, ends and places of cut, mapped and broad parts, against the geometry library's own mesh.

The mesh (``ifcopenshell.geom``) is an independent reading of the same file; it is used here only on bodies
without mirrored parametric profiles, where it is right.
"""

import math

import ifcopenshell
import ifcopenshell.geom
import numpy as np
import pytest

from takeoff.ifc.reader import read
from takeoff.ifc.writer import ModelWriter, frame
from takeoff.sections import loops, shapes
from takeoff.settings import Settings

ROOM = frame((1000, 2000, 300), (0.36, 0.48, 0.8), (0.8, -0.6, 0.0))
"""A frame that is square to nothing."""


def members(writer, tmp_path):
    model, queries = read(writer.save(tmp_path / "m.ifc"), Settings())
    return model.members, queries


def meshes(path):
    """Vertices (n, 3) in mm and volume in mm3 by GlobalId, openings not cut."""
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    file = ifcopenshell.open(path)
    found = {}
    for product in file.by_type("IfcElement"):
        if product.Representation is None:
            continue
        shape = ifcopenshell.geom.create_shape(settings, product)
        points = np.array(shape.geometry.verts).reshape(-1, 3) * 1000
        a, b, c = (points[np.array(shape.geometry.faces).reshape(-1, 3)[:, k]] for k in range(3))
        centre = points.mean(axis=0)
        volume = np.einsum("ij,ij->i", a - centre, np.cross(b - centre, c - centre)).sum() / 6
        found[product.GlobalId] = (points, volume)
    return found


def compare(path, tolerance=0.02):
    """Every member lies in its mesh's box in its own frame: the same box along x, u and v."""
    model, queries = read(path, Settings())
    mesh = meshes(path)
    for member in model.members:
        assert member.status == "listed", member.reason
        points, _ = mesh[member.global_id]
        here = member.frame.to_piece(points)
        assert here[:, 0].min() == pytest.approx(0, abs=tolerance)
        assert here[:, 0].max() == pytest.approx(member.body.length, abs=tolerance)
        ring = shapes.outline(member.body.section)
        if not member.body.left + member.body.right:
            assert here[:, 1:].min(axis=0) == pytest.approx(ring.min(axis=0), abs=tolerance)
            assert here[:, 1:].max(axis=0) == pytest.approx(ring.max(axis=0), abs=tolerance)
        assert np.allclose(member.frame.axes @ member.frame.axes.T, np.eye(3), atol=1e-9)
        assert np.linalg.det(member.frame.axes) == pytest.approx(1)
    return model, queries


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize("unit", ["mm", "m", "inch", "foot", "cm"])
def test_every_shape_in_every_unit_and_schema(tmp_path, schema, unit):
    writer = ModelWriter(schema, unit, origin=(481_234_567.89, 5_456_789_012.3, 123_456.7))
    p = writer.profiles
    made = [
        p.angle(100, 65, 8), p.angle(80, 80, 8), p.channel(100, 50, 6, 8.5), p.i_shape(200, 100, 5.6, 8.5),
        p.asymmetric_i(200, 100, 150, 8, 10, 12), p.tee(120, 100, 8, 10), p.hollow_rectangle(60, 100, 5),
        p.circle(24), p.hollow_circle(60.3, 4), p.c_shape(150, 60, 3, 20), p.rectangle(8, 60),
    ]  # fmt: skip
    parts = [writer.member(profile, ROOM, 750, style=style) for profile in made for style in ("z", "-x")]
    found, queries = members(writer, tmp_path)
    by_id = {member.global_id: member for member in found}
    assert {q.code for q in queries} <= {"part-no-grade", "profile-assumed"}
    offset = np.array((481_234_567.89, 5_456_789_012.3, 123_456.7))
    for part in parts:
        member = by_id[part.global_id]
        assert member.body.length == pytest.approx(750, abs=1e-6)
        ring = shapes.outline(member.body.section)
        points = member.frame.to_model([(x, u, v) for x in (0, member.body.length) for u, v in ring]) - offset
        # seen in the frame the writer was given: the extrusion's own box, from 0 to 750 along x
        here = ROOM.to_piece(points)
        assert here[:, 0].min() == pytest.approx(0, abs=0.001)
        assert here[:, 0].max() == pytest.approx(750, abs=0.001)


@pytest.mark.parametrize("style", ["z", "-z", "x", "-x"])
@pytest.mark.parametrize("agreement", [False, True])
def test_skew_ends_and_overlong_extrusions(tmp_path, style, agreement):
    writer = ModelWriter()
    angle = writer.profiles.angle(100, 65, 8)
    far, near = (1250.0, 0.0, 0.0), (250.0, 0.0, 0.0)
    clips = [
        (far, (math.cos(0.3), 0.0, math.sin(0.3))),  # skew in leg A's plane
        (near, (-math.cos(0.2), math.sin(0.2), 0.0)),  # skew in leg B's plane
        ((5000.0, 0, 0), (1.0, 0.0, 0.0)),  # cuts nothing
    ]
    writer.member(angle, ROOM, 3000, clips=clips, style=style, agreement=agreement)
    model, _ = compare(writer.save(tmp_path / "m.ifc"))
    body = model.members[0].body
    # leg A is cut back by 100 tan 0.3 at its tip, leg B at the near end by 65 tan 0.2
    assert body.length == pytest.approx(1250 - 250)
    assert (len(body.left), len(body.right)) == (1, 1)
    assert body.right[0].normal[0] > 0 > body.left[0].normal[0]


def test_square_cuts_only_shorten(tmp_path):
    writer = ModelWriter()
    channel = writer.profiles.channel(100, 50, 6, 8.5)
    writer.member(channel, ROOM, 3000, clips=[((400, 0, 0), (-1, 0, 0)), ((2400, 0, 0), (1, 0, 0))])
    model, _ = compare(writer.save(tmp_path / "m.ifc"))
    body = model.members[0].body
    assert body.length == pytest.approx(2000)
    assert body.left == () == body.right


def test_two_planes_at_one_end_meet_in_a_point_between_the_corners(tmp_path):
    """A flat cut to a point: the extreme is on the ridge, not at a corner."""
    writer = ModelWriter()
    flat = writer.profiles.rectangle(10, 60)
    slope = (math.cos(0.7), 0.0, math.sin(0.7))
    clips = [((500, 0, 30), slope), ((500, 0, 30), (slope[0], 0.0, -slope[2]))]
    writer.member(flat, ROOM, 1000, clips=clips)
    model, _ = compare(writer.save(tmp_path / "m.ifc"))
    body = model.members[0].body
    assert body.length == pytest.approx(500)
    assert len(body.right) == 2


@pytest.mark.parametrize(
    ("clips", "words"),
    [
        ([((0, 30, 0), (0.0, 1.0, 0.0))], "along its length"),
        ([((-10, 0, 0), (1.0, 0.0, 0.0))], "leave nothing"),
        ([((30, 0, 0), (0.7, 0.0, 0.7)), ((20, 0, 0), (-0.7, 0.0, 0.7))], "meet within"),
    ],
)
def test_cuts_that_are_not_read_hold_the_part(tmp_path, clips, words):
    writer = ModelWriter()
    writer.member(writer.profiles.angle(100, 65, 8), ROOM, 1000, clips=clips)
    found, queries = members(writer, tmp_path)
    assert found[0].status == "held"
    assert words in found[0].reason
    assert [q.severity for q in queries if q.code == "part-body-unread"] == ["hold"]


@pytest.mark.parametrize("sides", [(10, 80, 400), (80, 10, 400), (400, 80, 10), (10, 400, 80), (80, 400, 10)])
def test_a_rectangle_is_seen_alike_whatever_was_extruded(tmp_path, sides):
    writer = ModelWriter()
    writer.member(writer.profiles.rectangle(sides[0], sides[1]), ROOM, sides[2])
    model, _ = compare(writer.save(tmp_path / "m.ifc"))
    body = model.members[0].body
    assert body.section.shape == "flat"  # 80 x 10 is a rolled size, 400 at least twice 80
    assert (body.length, body.section.h, body.section.b) == pytest.approx((400, 80, 10))


@pytest.mark.parametrize(
    ("name", "sides", "shape"),
    [
        ("", (9, 83, 400), "plate"),
        ("FL83x9", (9, 83, 400), "flat"),
        ("Strip 83*9", (9, 83, 100), "flat"),
        ("PL9", (9, 83, 400), "plate"),
        ("STRIP 150x10", (10, 150, 90), "plate"),  # shorter than the flat is wide: its longer side is no length
        ("", (10, 80, 150), "plate"),
    ],
)
def test_flat_or_plate(tmp_path, name, sides, shape):
    writer = ModelWriter()
    writer.member(writer.profiles.rectangle(sides[0], sides[1], name), ROOM, sides[2])
    model, _ = compare(writer.save(tmp_path / "m.ifc"))
    assert model.members[0].body.section.shape == shape


GUSSET = ((0, 0), (300, 0), (380, 120), (300, 240), (60, 240), (0, 100))


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
def test_a_plate_is_its_outline_and_its_voids(tmp_path, schema):
    from takeoff.ifc.profile_writer import Ring

    writer = ModelWriter(schema)
    slot = [(200, 91, 0), (230, 91, 1), (230, 109, 0), (200, 109, 1)]
    curve = "composite"
    writer.plate(GUSSET, ROOM, 12, voids=[Ring(60, 60, 22), slot], curve=curve, name="gusset")
    model, _ = compare(writer.save(tmp_path / "m.ifc"))
    body = model.members[0].body
    corners = tuple((v.x, v.across, v.bulge) for v in body.outline)
    assert loops.area(corners) == pytest.approx(loops.area([(*p, 0.0) for p in GUSSET]))
    assert body.section.shape == "plate"
    assert body.section.tw == pytest.approx(12)
    _points, volume = meshes(tmp_path / "m.ifc")[model.members[0].global_id]
    steel = loops.area(corners) - math.pi * 121 - (math.pi * 81 + 30 * 18)
    assert volume == pytest.approx(12 * steel, rel=2e-3)
    # the holes are where they were written, whichever frame the plate took
    member = model.members[0]
    at = {h.kind: member.frame.to_model((h.x, 0, h.across)) for h in body.holes}
    for kind, spot in (("round", (60, 0, 60)), ("slot", (215, 0, 100))):
        gap = ROOM.to_piece(at[kind]) - np.array(spot)
        assert np.hypot(gap[0], gap[2]) == pytest.approx(0, abs=1e-6)
    hole = next(h for h in body.holes if h.kind == "slot")
    assert (hole.diameter, hole.slot_length) == pytest.approx((18, 48))
    direction = member.frame.axes.T @ (
        math.cos(math.radians(hole.slot_angle)), 0, math.sin(math.radians(hole.slot_angle))
    )  # fmt: skip
    assert abs(direction @ ROOM.axes[0]) == pytest.approx(1, abs=1e-9)


def test_a_plate_cut_by_a_plane_changes_its_outline(tmp_path):
    writer = ModelWriter()
    writer.member(writer.profiles.rectangle(12, 200), ROOM, 300, clips=[((250, 0, 150), (0.6, 0.0, 0.8))])
    model, _ = compare(writer.save(tmp_path / "m.ifc"))
    body = model.members[0].body
    corners = tuple((v.x, v.across, v.bulge) for v in body.outline)
    _, volume = meshes(tmp_path / "m.ifc")[model.members[0].global_id]
    assert len(corners) == 5
    assert loops.area(corners) * 12 == pytest.approx(volume, rel=1e-6)
    assert loops.area(corners) < 200 * 300


def test_shapes_drawn_as_outlines_are_the_same_shapes(tmp_path):
    writer = ModelWriter()
    angle = shapes.angle(100, 65, 8, 10, 5)
    (ring,) = shapes.loops_of(angle)
    for curve in ("indexed", "composite"):
        writer.member(writer.profiles.closed(ring, curve=curve), ROOM, 900)
    sharp = [(0, 0), (65, 0), (65, 8), (8, 8), (8, 100), (0, 100)]
    writer.member(writer.profiles.closed(sharp), ROOM, 900)
    found, _ = members(writer, tmp_path)
    assert {m.body.section.designation for m in found} == {"L 100x65x8"}
    for member in found:
        heel = ROOM.to_piece(member.frame.origin)
        assert heel[1:] == pytest.approx((0, 0), abs=1e-6)
        assert ROOM.direction_to_piece(member.frame.axes[2]) == pytest.approx((0, 0, 1), abs=1e-9)


def test_an_outline_thinner_than_its_walls_is_a_plate(tmp_path):
    writer = ModelWriter()
    writer.plate(((0, 0), (300, 0), (300, 80), (80, 80), (80, 400), (0, 400)), ROOM, 10)
    found, _ = members(writer, tmp_path)
    assert found[0].body.section.shape == "plate"
    assert found[0].body.section.tw == pytest.approx(10)
    assert len(found[0].body.outline) == 6


def test_a_flat_with_skew_ends_is_one_body_however_it_is_drawn(tmp_path):
    """Cut from a bar, drawn as an outline, or a wide plate cut by planes: the same section, length and ends."""
    writer = ModelWriter()
    slope = math.tan(0.4)
    cut = ((480 - 80 * slope, 0, 80), (math.cos(0.4), 0.0, math.sin(0.4)))
    writer.member(writer.profiles.rectangle(8, 80), ROOM, 600, clips=[cut])
    corners = [(0, 0), (480, 0), (480 - 80 * slope, 80), (0, 80)]
    writer.plate(corners, ROOM, 8)
    found, _ = members(writer, tmp_path)
    bodies = [m.body for m in found]
    assert [b.section.designation for b in bodies] == ["FL 80x8", "FL 80x8"]
    assert [b.length for b in bodies] == pytest.approx([480, 480])
    for member in found:
        (plane,) = member.body.left + member.body.right
        point = member.frame.to_model(plane.point)
        normal = member.frame.axes.T @ np.array(plane.normal)
        # the cut runs through the bar's far lower corner, square to the writer's u
        assert ROOM.direction_to_piece(normal) == pytest.approx(cut[1], abs=1e-9)
        assert (ROOM.to_piece(point) - np.array((480, 0, 0))) @ np.array(cut[1]) == pytest.approx(0, abs=1e-6)


def test_openings_of_a_plates_outline_go_with_what_is_cut_away(tmp_path):
    from takeoff.ifc.profile_writer import Ring

    for limit, left in ((250, 1), (500, 2)):
        writer = ModelWriter()
        profile = writer.profiles.closed(GUSSET, [Ring(60, 60, 22), Ring(320, 120, 22)])
        item = writer.solids.extrude(profile, 12)
        plane = writer.step.once(f"IFCPLANE({writer.solids.axis3((limit, 0, 0), (1, 0, 0), (0, 1, 0))})")
        half = writer.step.once(f"IFCHALFSPACESOLID({plane},.F.)")
        cut = writer.step.add(f"IFCBOOLEANCLIPPINGRESULT(.DIFFERENCE.,{item},{half})")
        writer.product("IfcPlate", ROOM, writer.solids.shape([cut], "Clipping"), ROOM, material="S235JR")
        found, _ = members(writer, tmp_path)
        assert len(found[0].body.holes) == left


def test_readers_of_drawn_bodies_have_one_place_to_stand_in(tmp_path, monkeypatch):
    """A mirrored map hands a drawn item's reader the mirroring, and puts its right-handed frame where it belongs."""
    from ifc_scene import Scene

    from takeoff.ifc import bodies

    seen = []

    def reader(ctx, item, matrix, text, settings):
        seen.append(matrix)
        return bodies.Body(shapes.chs(60, 4), 500), frame((1, 2, 3), (0, 0, 1), (1, 0, 0))

    monkeypatch.setitem(bodies.DRAWN_READERS, "IfcFacetedBrep", reader)
    scene = Scene()
    brep = scene.file.create_entity("IfcFacetedBrep", Outer=scene.file.create_entity("IfcClosedShell"))
    mapped = scene.mapped(brep, (1, 0, 0), (0, -1, 0), (0, 0, 1))
    _, place, _ = bodies.Bodies(scene.ctx, Settings()).read(mapped, "")
    assert np.allclose(np.diag(seen[0]), (1, 1, -1, 1))
    assert np.linalg.det(place[:3, :3]) == pytest.approx(1)
    # the reader saw (x, y, -z); the map turns y about: its point (1, 2, 3) lies at (1, -2, -3)
    assert place[:3, 3] == pytest.approx((1, -2, -3))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_any_shape_anywhere_with_any_cuts_has_the_meshs_length_and_planes(tmp_path, seed):
    random = np.random.default_rng(seed)
    writer = ModelWriter()
    p = writer.profiles
    profiles = [
        p.angle(100, 65, 8, 10, 5), p.angle(80, 80, 8), p.channel(100, 50, 6, 8.5, 8, 4),
        p.i_shape(200, 100, 5.6, 8.5, 12),
        p.tee(120, 100, 8, 10), p.hollow_rectangle(60, 100, 5), p.c_shape(150, 60, 3, 20), p.rectangle(8, 60),
    ]  # fmt: skip
    for number in range(40):
        turn = np.linalg.qr(random.normal(size=(3, 3)))[0]
        length = random.uniform(600, 2000)
        clips = []
        for _ in range(random.integers(0, 4)):
            end = random.choice([-1, 1])
            lean = random.choice([0, 0.3, 0.8]) * random.normal(size=2)
            normal = np.array([end, *lean]) / math.hypot(1, *lean)
            x = random.uniform(0.7, 1.1) * length if end > 0 else random.uniform(-0.1, 0.3) * length
            clips.append(((x, 0, 0), tuple(normal)))
        writer.member(
            profiles[number % len(profiles)], frame(random.normal(size=3) * 1e4, turn[0], turn[1]), length,
            clips=clips, style=str(random.choice(["z", "-z", "x", "-x"])), agreement=bool(random.integers(2)),
        )  # fmt: skip
    path = writer.save(tmp_path / "m.ifc")
    mesh = meshes(path)
    read_members = [m for m in read(path, Settings())[0].members if m.status == "listed"]
    assert len(read_members) > 30
    for member in read_members:
        here = member.frame.to_piece(mesh[member.global_id][0])
        assert here[:, 0].min() == pytest.approx(0, abs=0.05)  # the mesh's own arcs are coarse
        assert here[:, 0].max() == pytest.approx(member.body.length, abs=0.05)
        for plane in member.body.left + member.body.right:
            beyond = (here - np.array(plane.point)) @ np.array(plane.normal)
            assert beyond.max() == pytest.approx(0, abs=0.05)


@pytest.mark.parametrize(("inner", "name"), [(None, "RND 24"), (8.0, "CHS 24x4")])
def test_a_straight_disk_is_a_round_or_a_tube(inner, name):
    from ifc_scene import Scene

    from takeoff.ifc.bodies import Bodies
    from takeoff.ifc.context import Unread

    scene = Scene()
    line = scene.file.create_entity("IfcPolyline", Points=[scene.point(0, 0, 100), scene.point(300, 0, 500)])
    disk = scene.file.create_entity("IfcSweptDiskSolid", Directrix=line, Radius=12.0, InnerRadius=inner)
    body, place, _ = Bodies(scene.ctx, Settings()).read(disk, "")
    assert body.section.designation == name
    assert body.length == pytest.approx(500)
    assert place[:3, 0] == pytest.approx((0.6, 0, 0.8))
    assert place[:3, 3] == pytest.approx((0, 0, 100))
    assert np.linalg.det(place[:3, :3]) == pytest.approx(1)
    bent = scene.file.create_entity("IfcPolyline", Points=[scene.point(*p) for p in ((0, 0, 0), (9, 0, 0), (9, 9, 0))])
    hook = scene.file.create_entity("IfcSweptDiskSolid", Directrix=bent, Radius=12.0)
    with pytest.raises(Unread, match="bent"):
        Bodies(scene.ctx, Settings()).read(hook, "")


def test_a_z_profile_says_how_its_flange_was_measured(tmp_path):
    writer = ModelWriter()
    writer.member(writer.profiles.z_shape(200, 70, 6, 6), ROOM, 900, material="S235JR")
    found, queries = members(writer, tmp_path)
    assert found[0].status == "listed"
    assert found[0].body.section.b == pytest.approx(2 * 70 - 6)
    assert [q.code for q in queries] == ["profile-assumed"]
