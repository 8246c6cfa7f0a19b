"""The same part described by a profile and drawn as facets: the same piece, hole for hole.

The facets are made by the kernel of ifcopenshell (Open CASCADE) from the parametric twin, its openings cut
out: nothing of this project draws them. The kernel ignores mirrored parametric profiles, so none are here.
"""

import math
import sys
from pathlib import Path

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.ifcopenshell_wrapper
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

sys.path.insert(0, str(Path(__file__).parents[1]))

from build import Build, Ring

from takeoff.drawn import Drawn, grain_of, read_solid
from takeoff.ifc.prisms import is_flat
from takeoff.ifc.reader import read
from takeoff.pipeline import take_off
from takeoff.sections import loops, shapes, tables
from takeoff.sections.shapes import faces
from takeoff.settings import Settings
from takeoff.steel import Frame

SETTINGS = Settings()
TURN = Rotation.from_euler("xyz", (31.0, -17.0, 112.0), degrees=True).as_matrix()
PLACE = np.array([12000.0, 30000.0, 4000.0])


def flat(width, thick, length):
    return is_flat(width, thick, length, "", SETTINGS.flats)


def hole_on(model, part, section, face, x, across, shape, depth=None, curve="polyline"):
    """An opening in any face of a section: a diameter, or an outline in (x, across)."""
    (wall,) = (f for f in faces(section) if f.name == face)
    along, u, v = part.frame.axes
    inward = wall.inward[0] * u + wall.inward[1] * v
    direction = wall.direction[0] * u + wall.direction[1] * v
    start = part.frame.origin + wall.origin[0] * u + wall.origin[1] * v - inward
    outline = Ring(x, across, shape) if isinstance(shape, int | float) else shape
    deep = wall.thickness + 2 if depth is None else depth + 1
    model.writer.opening(part, outline, Frame(start, np.array([along, inward, direction])), deep, curve=curve)


SLOT = [(200, 50, 0), (230, 50, 1), (230, 68, 0), (200, 68, 1)]
GUSSET = [(0, 0), (300, 0), (380, 120), (300, 240), (60, 240), (0, 100)]
ROUNDED = [(0, 0), (300, 0), (300, 150, 0.41421356), (250, 200), (0, 200)]


def scene(model):
    """Parts by label, each with openings or cuts, 3 m apart."""
    p = model.profiles
    parts = {}

    def at():
        return (0, 3000 * len(parts), 0)

    def angle(label, legs, length, *holes, **named):
        parts[label] = model.angle(at(), legs=legs, length=length, **named)
        for hole in holes:
            model.hole(parts[label], *hole)
        return parts[label]

    def member(label, profile, section, length, *holes, **named):
        parts[label] = model.member(profile, at(), length=length, **named)
        for hole in holes:
            hole_on(model, parts[label], section, *hole)
        return parts[label]

    angle("unequal", (100, 65, 8, 10, 5), 1000, ("A", 50, 55, 18), ("B", 120, 35, 14), ("A", 950, 20, 13.5))
    angle("sharp", (70, 70, 7), 800, ("A", 50, 40, 18), ("B", 90, 40, 18))
    row = [("A", 50 + 70 * i, 50 + 30 * (i % 2), 22) for i in range(8)]
    angle("many", (120, 120, 12, 13, 6.5), 3000, *row, *[("B", 2950 - 70 * i, 60, 22) for i in range(6)])
    angle("stub", (100, 100, 10, 12, 6), 80, ("A", 40, 55, 22), ("B", 40, 55, 22))
    skew = [((800, 0, 0), (math.cos(0.3), 0, math.sin(0.3))), ((0, 0, 0), (-math.cos(0.2), math.sin(0.2), 0))]
    angle("skew", (90, 90, 9, 11, 5.5), 900, ("A", 400, 50, 22), clips=skew)
    corner = [((880, 0, 60), (math.sqrt(0.5), 0, math.sqrt(0.5)))]
    angle("clipped", (90, 60, 8), 900, ("A", 60, 55, 18), ("B", 60, 35, 14), clips=corner)
    model.cut(angle("slotted", (90, 90, 8, 11, 5.5), 1200, ("A", 100, 50, 18)), "A", SLOT, curve="composite")
    end = [(-10, 50, 0), (60, 50, 0), (60, 100, 0), (-10, 100, 0)]
    model.cut(angle("notched", (80, 80, 8, 10, 5), 700, ("B", 200, 45, 18)), "A", end)
    edge = [(300, 60, 0), (360, 60, 0), (360, 100, 0), (300, 100, 0)]
    model.cut(angle("edge notch", (80, 80, 8, 10, 5), 700), "A", edge)
    heel = [(-5, -5, 0), (60, -5, 0), (60, 40, 0), (-5, 40, 0)]
    hole_on(model, angle("both legs", (100, 100, 10, 12, 6), 900), shapes.angle(100, 100, 10), "A", 0, 0, heel, 40)
    blind = shapes.angle(100, 100, 10)
    hole_on(model, angle("blind", (100, 100, 10, 12, 6), 900), blind, "A", 100, 60, 18, 5)
    hole_on(model, angle("root hole", (100, 100, 10, 12, 6), 900), blind, "A", 100, 22, 22, 11)
    open_slot = [(-5, 50, 0), (40, 50, 1), (40, 68, 0), (-5, 68, 0)]
    hole_on(model, angle("open slot", (100, 100, 10, 12, 6), 900), blind, "A", 0, 0, open_slot, None, "composite")

    u = shapes.channel(200, 75, 8.5, 11.5)
    holes = [("web", 300, 100, 22), ("top", 50, 45, 18), ("bottom", 60, 45, 18)]
    member("channel", p.channel(200, 75, 8.5, 11.5, 11.5), u, 1500, *holes)
    tapered = p.channel(200, 75, 8.5, 11.5, 11.5, 6, math.atan(0.08))
    member("tapered channel", tapered, u, 1500, ("web", 300, 100, 22), ("top", 50, 45, 18, 20))
    i = shapes.i_section(200, 100, 5.6, 8.5)
    member("beam", p.i_shape(200, 100, 5.6, 8.5, 12), i, 2000, ("web", 100, 100, 22), ("top", 50, -30, 14))
    coped = member("coped beam", p.i_shape(200, 100, 5.6, 8.5, 12), i, 1000)
    through = Frame(coped.frame.origin - 60 * coped.frame.axes[1], coped.frame.axes)
    model.writer.opening(coped, [(-10, 160), (80, 160), (80, 220), (-10, 220)], through, 120)
    window = loops.fillet([(400, 60, 12), (520, 60, 12), (520, 140, 12), (400, 140, 12)])
    member("window", p.i_shape(200, 100, 5.6, 8.5, 12), i, 1000, ("web", 0, 0, window, None, "composite"))
    t = shapes.tee(100, 100, 8, 10)
    member("tee", p.tee(100, 100, 8, 10, 9), t, 900, ("stem", 50, 60, 14), ("bottom", 60, 30, 14))
    box = shapes.rhs(100, 60, 5, 10, 5)
    four = [("front", 50, 50, 18), ("back", 70, 40, 18), ("top", 90, 30, 18), ("bottom", 110, 30, 18)]
    member("box", p.hollow_rectangle(60, 100, 5, 10, 5), box, 1000, *four)
    askew = [((900, 0, 0), (math.cos(0.4), 0, math.sin(0.4)))]
    member("square box", p.hollow_rectangle(80, 80, 4, 8, 4), box, 1000, clips=askew)
    parts["tube"] = model.member(p.hollow_circle(114.3, 5), at(), length=1000)
    along, v, w = parts["tube"].frame.axes
    aim = np.array([along, 0.6 * v + 0.8 * w, 0.6 * w - 0.8 * v])
    model.writer.opening(parts["tube"], Ring(300, 0, 22), Frame(parts["tube"].frame.origin, aim), 100)
    member("skew tube", p.hollow_circle(60.3, 4), box, 1000, clips=askew)
    member("rod", p.circle(20), box, 600)

    parts["flat"] = model.flat(at(), size=(80, 10), length=500)
    model.hole(parts["flat"], "face", 40, 40, 18)
    parts["skew flat"] = model.flat(at(), size=(80, 10), length=500, clips=[((450, 0, 0), askew[0][1])])
    bevel = [((450, 0, 0), (math.cos(0.4), math.sin(0.4), 0))]
    parts["bevelled flat"] = model.flat(at(), size=(80, 10), length=500, clips=bevel)
    voids = [Ring(60, 60, 22), [(200, 91, 0), (230, 91, 1), (230, 109, 0), (200, 109, 1)]]
    parts["gusset"] = model.plate(GUSSET, at(), voids=voids, curve="composite")
    parts["rounded"] = model.plate(ROUNDED, at(), curve="composite", voids=[Ring(60, 60, 22)])
    return parts


def meshes(path, polygons=False):
    """Points in mm, model coordinates, and facets by GlobalId."""
    settings = ifcopenshell.geom.settings()
    settings.set("mesher-angular-deflection", 0.3)
    if polygons:
        settings.set("triangulation-type", ifcopenshell.ifcopenshell_wrapper.POLYHEDRON_WITH_HOLES)
    model = ifcopenshell.open(str(path))  # held: the iterator does not hold it
    iterator = ifcopenshell.geom.iterator(settings, model, 1, geometry_library="opencascade")
    found = {}
    assert iterator.initialize()
    while True:
        shape = iterator.get()
        points = np.array(shape.geometry.verts).reshape(-1, 3) * 1000
        if polygons:
            facets = [tuple(tuple(map(int, r)) for r in f) for f in shape.geometry.polyhedral_faces_with_holes]
        else:
            facets = [(tuple(map(int, f)),) for f in np.array(shape.geometry.faces).reshape(-1, 3)]
        matrix = np.array(shape.transformation.matrix).reshape(4, 4, order="F")
        found[shape.guid] = points @ matrix[:3, :3].T + matrix[:3, 3] * 1000, facets
        if not iterator.next():
            return found


@pytest.fixture(scope="module")
def twins(tmp_path_factory):
    """By label: the parametric member, and its mesh as triangles and as polygons."""
    path = tmp_path_factory.mktemp("twins") / "parametric.ifc"
    model = Build()
    parts = scene(model)
    model.save(path)
    members = {m.global_id: m for m in read(path, SETTINGS)[0].members}
    drawn = {"triangles": meshes(path), "polygons": meshes(path, polygons=True)}
    return {
        label: (members[part.global_id], {form: drawn[form][part.global_id] for form in drawn})
        for label, part in parts.items()
    }


LABELS = tuple(scene(Build()))


def written(points, facets, how):
    """The mesh in another writing: points, facets, and what brings its places back."""
    if how == "turned":
        return points @ TURN.T + PLACE, facets, (TURN, PLACE)
    if how == "single":
        middle = points.mean(axis=0)
        there = ((points - middle) @ TURN.T + PLACE).astype(np.float32).astype(float)
        return there, facets, (TURN, PLACE - middle @ TURN.T)
    if how == "inside out":
        return points, [tuple(r[::-1] for r in f) for f in facets], None
    if how == "untidy":
        chosen = [f if k % 3 else tuple(r[::-1] for r in f) for k, f in enumerate(facets)]
        return points, chosen + chosen[::7], None
    return points, facets, None


def places(section, axes, origin, holes):
    """Centres of holes on their faces in the model, (n, 3)."""
    walls = {f.name: f for f in faces(section)}
    found = []
    for hole in holes:
        wall = walls[hole.face]
        if wall.name == "wall":
            turn = hole.across / (section.h / 2)
            uv = section.h / 2 * np.array([-math.cos(turn), math.sin(turn)])
        else:
            uv = np.array(wall.origin) + hole.across * np.array(wall.direction)
        found.append(np.array([hole.x, *uv]) @ axes + origin)
    return np.array(found).reshape(-1, 3)


@pytest.mark.parametrize("how", ["as it is", "turned", "single", "inside out", "untidy"])
@pytest.mark.parametrize("form", ["triangles", "polygons"])
@pytest.mark.parametrize("label", LABELS)
def test_a_drawn_body_is_its_twin(twins, label, form, how):
    member, forms = twins[label]
    points, facets, move = written(*forms[form], how)
    found = read_solid(points, facets, flat, grain_of(points))
    assert isinstance(found, Drawn), found.sentence
    axes, origin = found.axes, found.origin
    if move is not None:
        axes, origin = axes @ move[0], (origin - move[1]) @ move[0]
    section, twin = tables.match(found.body.section), member.body.section
    assert (section.shape, section.designation) == (twin.shape, twin.designation)
    for name in ("h", "b", "tw", "tf", "r1", "r2", "slope"):
        assert getattr(section, name) == pytest.approx(getattr(twin, name), abs=0.03), name
    assert found.body.length == pytest.approx(member.body.length, abs=0.02)
    assert np.linalg.det(axes) == pytest.approx(1)
    assert len(found.body.outline) == len(member.body.outline)
    assert len(found.body.notches) == len(member.notches + member.body.notches)
    cut = [len(b.left) + len(b.right) for b in (found.body, member.body)]
    assert cut[0] == cut[1]

    mine, theirs = found.body.holes, member.holes + member.body.holes
    assert len(mine) == len(theirs)
    here = places(section, axes, origin, mine)
    there = places(twin, member.frame.axes, member.frame.origin, theirs)
    # the web of an I, the stem of a T and a plate may be looked at from either side
    deep = twin.tw if twin.shape in ("I", "T", "flat", "plate") else 0.0
    for k, hole in enumerate(theirs):
        apart = np.linalg.norm(here - there[k], axis=1)
        near = int(apart.argmin())
        assert apart[near] <= deep + 0.02
        other = mine[near]
        assert (other.kind, other.depth) == (hole.kind, pytest.approx(hole.depth, abs=0.02))
        assert other.diameter == pytest.approx(hole.diameter, abs=0.02)
        assert other.slot_length == pytest.approx(hole.slot_length, abs=0.02)


@pytest.mark.parametrize("form", ["brep", "tessellation"])
@pytest.mark.parametrize("unit", ["mm", "m", "inch"])
def test_twins_in_one_model_share_a_mark(tmp_path, twins, form, unit):
    """Through the whole way: each part of the scene beside its drawn twin is one mark with two pieces of one weight."""
    model = Build(unit=unit, rotation=TURN)
    parts = scene(model)
    drawn = {}
    for label, (_, forms) in twins.items():
        points, facets = forms["triangles"]
        moved = points @ TURN.T + (10_000, 0, 0)
        at = Frame(np.zeros(3), np.eye(3))
        drawn[label] = model.writer.mesh(moved, [f[0] for f in facets], at, form=form)
    taken = take_off([model.save(tmp_path / "both.ifc")], SETTINGS)
    marks = {m.global_id: mark for m, mark in zip(taken.model.members, taken.member_marks, strict=True)}
    held = {m.global_id: m.reason for m in taken.model.members if m.status == "held"}
    apart = {
        label
        for label, part in parts.items()
        if marks[part.global_id] != marks[drawn[label].global_id] or drawn[label].global_id in held
    }
    assert apart == set()
