"""The demo models are plausible steel.

Everything is measured on the solids that ``ifcopenshell.geom`` (OpenCASCADE) makes of the files,
not with this project's own reader: rays along the bolts say which plies they pass, a grid of points
says whether parts run through each other.
"""

from __future__ import annotations

import csv
import math
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.util.placement
import ifcopenshell.validate
import numpy as np
import pytest

from takeoff.ifc.lattice import write_lattice

MODELS = Path(__file__).parents[2] / "models"
NAMES = ("trestle_bay", "mast")
STEEL = ("IfcMember", "IfcColumn", "IfcBeam", "IfcPlate")
CLEARANCE = {12: 1, 16: 2, 20: 2, 24: 2}
"""EN 1090-2 Table 11: nominal clearance of normal round holes."""


@dataclass
class Mesh:
    global_id: str
    name: str
    corners: np.ndarray
    """(n, 3, 3) mm."""
    low: np.ndarray
    high: np.ndarray
    origin: np.ndarray
    axes: np.ndarray
    """Columns are the placement's axes."""

    def to_local(self, points: np.ndarray) -> np.ndarray:
        return (points - self.origin) @ self.axes

    def box(self) -> tuple[np.ndarray, np.ndarray]:
        local = self.to_local(self.corners.reshape(-1, 3))
        return local.min(0), local.max(0)


@dataclass
class Shank:
    global_id: str
    point: np.ndarray
    direction: np.ndarray
    diameter: float
    grip: float
    """Distance from under the head to the bearing face of the nut, as drawn."""


@dataclass
class Scene:
    file: ifcopenshell.file
    meshes: list[Mesh]
    shanks: list[Shank]


def read(name: str) -> Scene:
    file = ifcopenshell.open(MODELS / f"{name}.ifc")
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    settings.set("weld-vertices", False)
    meshes = []
    for kind in STEEL:
        for part in file.by_type(kind):
            shape = ifcopenshell.geom.create_shape(settings, part)
            points = np.array(shape.geometry.verts).reshape(-1, 3) * 1000
            corners = points[np.array(shape.geometry.faces).reshape(-1, 3)]
            flat = corners.reshape(-1, 3)
            place = ifcopenshell.util.placement.get_local_placement(part.ObjectPlacement)
            low, high = flat.min(0), flat.max(0)
            meshes.append(Mesh(part.GlobalId, part.Name, corners, low, high, place[:3, 3], place[:3, :3]))
    return Scene(file, meshes, [s for b in file.by_type("IfcMechanicalFastener") for s in shanks_of(b)])


def shanks_of(bolt: ifcopenshell.entity_instance) -> list[Shank]:
    """Bolts of a fastener as this project draws them: mapped extrusions of shank, head and nut along z."""
    place = ifcopenshell.util.placement.get_local_placement(bolt.ObjectPlacement)
    found = []
    for item in bolt.Representation.Representations[0].Items:
        moved = place @ ifcopenshell.util.placement.get_mappeditem_transformation(item)
        shank, _, nut = item.MappingSource.MappedRepresentation.Items
        found.append(
            Shank(
                bolt.GlobalId,
                moved[:3, 3],
                moved[:3, 2],
                shank.SweptArea.Radius * 2,
                nut.Position.Location.Coordinates[2],
            )
        )
    return found


def crossings(mesh: Mesh, starts: np.ndarray, direction: np.ndarray) -> list[np.ndarray]:
    """Distances along parallel rays where each meets the mesh, sorted, entry and exit in turn."""
    a, b, c = mesh.corners[:, 0], mesh.corners[:, 1], mesh.corners[:, 2]
    e1, e2 = b - a, c - a
    p = np.cross(direction, e2)
    det = np.einsum("ij,ij->i", e1, p)
    keep = np.abs(det) > 1e-9
    a, e1, e2, p, det = a[keep], e1[keep], e2[keep], p[keep], det[keep]
    out = []
    for start in starts:
        s = start - a
        u = np.einsum("ij,ij->i", s, p) / det
        q = np.cross(s, e1)
        v = (q @ direction) / det
        inside = (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9)
        hits = np.sort(np.einsum("ij,ij->i", e2, q)[inside] / det[inside])
        out.append(hits[np.concatenate(([True], np.diff(hits) > 1e-4))] if len(hits) else hits)
    return out


def square_axes(direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    side = np.cross(direction, np.eye(3)[np.argmin(np.abs(direction))])
    side /= np.linalg.norm(side)
    return side, np.cross(direction, side)


def plies_of(scene: Scene, shank: Shank) -> list[tuple[float, float, Mesh]]:
    """(enter, leave, mesh) along the bolt within reach of its drawn grip."""
    end = shank.point + shank.direction * shank.grip
    low, high = np.minimum(shank.point, end) - 1, np.maximum(shank.point, end) + 1
    found = []
    for mesh in scene.meshes:
        if (mesh.low > high).any() or (mesh.high < low).any():
            continue
        # A hair off the axis: a ray through the shared edge of two triangles is counted once or twice.
        start = shank.point + 0.0137 * square_axes(shank.direction)[0]
        (hits,) = crossings(mesh, start[None], shank.direction)
        assert len(hits) % 2 == 0, f"{mesh.name}: open solid"
        found += [
            (enter, leave, mesh) for enter, leave in hits.reshape(-1, 2) if leave > 0.5 and enter < shank.grip - 0.5
        ]
    return sorted(found, key=lambda ply: ply[0])


@pytest.fixture(scope="module", params=NAMES)
def scene(request: pytest.FixtureRequest) -> Scene:
    return read(request.param)


def test_every_bolt_clamps_touching_plies(scene: Scene) -> None:
    """From under the head to the nut there is steel, in two plies or more, with no gap above 0.5 mm."""
    for shank in scene.shanks:
        plies = plies_of(scene, shank)
        what = (
            f"{shank.global_id} at {shank.point.round(1)}: {[(round(a, 2), round(b, 2), m.name) for a, b, m in plies]}"
        )
        assert len(plies) >= 2, what
        edges = [0.0, *(x for a, b, _ in plies for x in (a, b)), shank.grip]
        gaps = np.diff(edges)[::2]
        assert np.abs(gaps).max() <= 0.5, what


def test_every_bolt_is_square_and_far_from_edges(scene: Scene) -> None:
    """Round each hole, at 1.2 hole diameters (EN 1993-1-8 Table 3.3), every ply is there in full thickness.

    Twelve rays parallel to the bolt stay in the ply; the plane through their entries is square to the
    bolt within 2 degrees.
    """
    for shank in scene.shanks:
        size = round(shank.diameter)
        reach = 1.2 * (size + CLEARANCE[size])
        a, b = square_axes(shank.direction)
        turns = [2 * math.pi * (i + 0.31) / 12 for i in range(12)]
        ring = np.array([math.cos(t) * a + math.sin(t) * b for t in turns])
        starts = shank.point + reach * ring
        for enter, leave, mesh in plies_of(scene, shank):
            what = f"{mesh.name} at bolt {shank.point.round(1)}"
            near = []
            for hits in crossings(mesh, starts, shank.direction):
                spans = [s for s in hits.reshape(-1, 2) if s[0] < leave and s[1] > enter]
                assert spans, f"{what}: the hole is too near an edge"
                near.append(spans[0])
            # One of the two sides is the outside face: flat, without the root radius.
            spread = np.ptp(np.array(near), axis=0).min()
            assert math.degrees(math.atan(spread / (2 * reach))) <= 2, f"{what}: not square"


def inside(mesh: Mesh, points: np.ndarray) -> np.ndarray:
    """Which points lie in the solid: parity of the surfaces above them along an oblique ray."""
    direction = np.array([0.2913, 0.3571, 0.8875])
    a, b, c = mesh.corners[:, 0], mesh.corners[:, 1], mesh.corners[:, 2]
    e1, e2 = b - a, c - a
    p = np.cross(direction, e2)
    det = np.einsum("ij,ij->i", e1, p)
    s = points[:, None] - a[None]
    u = np.einsum("nij,ij->ni", s, p) / det
    q = np.cross(s, e1[None])
    v = q @ direction / det
    t = np.einsum("nij,ij->ni", q, e2) / det
    hit = (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0)
    return np.asarray(hit.sum(1) % 2 == 1)


def common_points(one: Mesh, other: Mesh, step: float = 3.0) -> np.ndarray:
    """Points of a grid in ``one``'s own axes that lie inside both solids."""
    low, high = one.box()
    seen = one.to_local(other.corners.reshape(-1, 3))
    low, high = np.maximum(low, seen.min(0)), np.minimum(high, seen.max(0))
    if (high - low < 0.3).any():
        return np.empty((0, 3))
    start = one.box()[0] + step / 2
    axes = [
        start[i] + step * np.arange(math.ceil((low[i] - start[i]) / step), (high[i] - start[i]) // step + 1)
        for i in range(3)
    ]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), -1).reshape(-1, 3) @ one.axes.T + one.origin
    lowest, highest = other.box()
    local = other.to_local(grid)
    grid = grid[((local > lowest) & (local < highest)).all(1)]
    for mesh in (one, other):
        keep = [inside(mesh, chunk) for chunk in np.array_split(grid, max(1, len(grid) // 2000))]
        grid = grid[np.concatenate(keep)]
    return grid


def test_parts_do_not_run_through_each_other(scene: Scene) -> None:
    """No point of a 3 mm grid lies in two parts; parts in contact may share a tenth of a millimetre."""
    meshes = scene.meshes
    low, high = np.array([m.low for m in meshes]), np.array([m.high for m in meshes])
    near = (low[:, None] < high[None] - 0.3).all(2) & (low[None] < high[:, None] - 0.3).all(2)
    shared = {}
    for i, j in np.argwhere(np.triu(near, 1)):
        points = common_points(meshes[i], meshes[j])
        if len(points):
            shared[meshes[i].name, meshes[j].name, meshes[i].global_id] = points.mean(0).round().tolist()
    assert not shared


def test_a_part_inside_another_is_found() -> None:
    """The check above can fail: two boxes that share a corner of 10 mm, and two that touch."""

    def box(at: tuple[float, float, float]) -> Mesh:
        cube = np.array([[x, y, z] for x in (0, 50) for y in (0, 50) for z in (0, 50)], dtype=float) + at
        quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
        faces = [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
        corners = cube[np.array(faces)]
        return Mesh("", "box", corners, cube.min(0), cube.max(0), np.zeros(3), np.eye(3))

    assert len(common_points(box((0, 0, 0)), box((40, 40, 40))))
    assert not len(common_points(box((0, 0, 0)), box((49.9, 0, 0))))


@pytest.mark.parametrize("name", NAMES)
def test_the_files_are_what_their_script_writes(name: str, tmp_path: Path) -> None:
    """Byte for byte, twice: the models in the repository are never edited by hand."""
    run = [sys.executable, str(MODELS / "write_models.py"), str(tmp_path)]
    subprocess.run(run, check=True)
    written = (tmp_path / f"{name}.ifc").read_bytes()
    assert written == (MODELS / f"{name}.ifc").read_bytes()
    assert len(written) < 2_000_000


@pytest.mark.parametrize("name", NAMES)
def test_the_files_obey_the_schema(name: str) -> None:
    log = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(str(MODELS / f"{name}.ifc"), log)
    assert log.statements == []


def test_the_hand_count_of_the_trestle_adds_up() -> None:
    """Plies measured along the bolts = holes counted by hand in the expected lists; so are parts and bolts."""
    bay = read("trestle_bay")
    with (MODELS / "trestle_bay.expected.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert sum(int(row["quantity"]) for row in rows) == len(bay.meshes) == 13
    assert len(bay.shanks) == 26
    assert sorted(round(s.grip) for s in bay.shanks) == sorted(
        [13] * 4 + [16] * 4 + [17] * 4 + [20] * 8 + [24] * 2 + [25] * 4
    )
    counted = sum(int(row["quantity"]) * len(row["holes"].split()) for row in rows)
    assert sum(len(plies_of(bay, s)) for s in bay.shanks) == counted == 54


def test_the_mast_has_what_its_readme_says() -> None:
    mast = read("mast")
    names = Counter(m.name for m in mast.meshes)
    assert names == {
        "Leg": 8, "Splice flat": 16, "Packer": 24, "Base plate": 4, "Base cleat": 8, "Brace": 32,
        "Gusset": 40, "Horizontal": 12, "Platform channel": 4, "Step": 15,
    }  # fmt: skip
    assert Counter(round(s.diameter) for s in mast.shanks) == {12: 150, 16: 368, 20: 48, 24: 16}


def test_a_girder_of_any_size_is_plausible_too(tmp_path: Path) -> None:
    """The benchmark's model: counts, two touching plies a bolt, nothing runs through anything."""
    write_lattice(tmp_path / "girder.ifc", 2)
    girder = read(str(tmp_path / "girder"))
    assert len(girder.meshes) == 24 * 2 + 8
    assert len(girder.shanks) == 80 * 2
    test_every_bolt_clamps_touching_plies(girder)
    test_every_bolt_is_square_and_far_from_edges(girder)
    test_parts_do_not_run_through_each_other(girder)
