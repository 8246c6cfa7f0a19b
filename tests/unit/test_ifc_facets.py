"""Flat-faced bodies read from their entities."""

from __future__ import annotations

import ifcopenshell
import ifcopenshell.geom
import numpy as np
import pytest
from entity_scene import BOX_FACETS, Scene, box_points, shared

from takeoff.ifc.context import Context, Unread
from takeoff.ifc.facets import Shell, oriented, shells, vector_areas, volume, weld


def only(scene: Scene, item: object) -> Shell:
    (shell,) = shells(scene.ctx, item)
    return shell


@pytest.mark.parametrize("unit", ["mm", "m", "inch"])
def test_a_box_keeps_its_volume_and_area_in_any_unit(unit: str) -> None:
    scene = Scene(unit=unit)
    shell = only(scene, scene.brep(box_points((30, 20, 10), (1e6, -2e6, 5)), BOX_FACETS))
    assert len(shell.points) == 8
    assert shell.closed
    assert volume(shell) == pytest.approx(6000, rel=1e-6)
    assert np.linalg.norm(vector_areas(shell), axis=1).sum() == pytest.approx(2 * (600 + 300 + 200), rel=1e-6)


def test_the_same_box_as_every_kind_of_face_set() -> None:
    scene = Scene()
    points, mm = box_points((30, 20, 10)), 1.0
    brep = scene.brep(points, BOX_FACETS)
    shell = brep.Outer
    listed = scene.add("IfcCartesianPointList3D", [[v * mm for v in p] for p in points])
    triangles = [[r[0] + 1, r[i] + 1, r[i + 1] + 1] for (r,) in BOX_FACETS for i in (1, 2)]
    polygons = [scene.add("IfcIndexedPolygonalFace", [i + 1 for i in r]) for (r,) in BOX_FACETS]
    kinds = [
        brep,
        shell,
        scene.add("IfcShellBasedSurfaceModel", [shell]),
        scene.add("IfcFaceBasedSurfaceModel", [scene.add("IfcConnectedFaceSet", shell.CfsFaces)]),
        scene.add("IfcTriangulatedFaceSet", Coordinates=listed, CoordIndex=triangles),
        scene.add("IfcPolygonalFaceSet", Coordinates=listed, Faces=polygons),
    ]
    for item in kinds:
        found = only(scene, item)
        assert found.closed, item.is_a()
        assert volume(oriented(found)) == pytest.approx(6000), item.is_a()


def test_point_numbers_of_a_face_set_go_through_its_list() -> None:
    scene = Scene()
    points = box_points((30, 20, 10))
    listed = scene.add("IfcCartesianPointList3D", [[9.0, 9.0, 9.0], *map(list, points[::-1])])
    numbers = [9 - i for i in range(8)]  # through PnIndex 1 is the box's first point again
    polygons = [scene.add("IfcIndexedPolygonalFace", [i + 1 for i in r]) for (r,) in BOX_FACETS]
    item = scene.add("IfcPolygonalFaceSet", Coordinates=listed, Faces=polygons, PnIndex=numbers)
    assert volume(only(scene, item)) == pytest.approx(6000)


def test_points_a_face_set_does_not_have_are_refused() -> None:
    scene = Scene()
    listed = scene.add("IfcCartesianPointList3D", [[0.0, 0, 0], [1.0, 0, 0], [0, 1.0, 0]])
    item = scene.add("IfcTriangulatedFaceSet", Coordinates=listed, CoordIndex=[[1, 2, 4]])
    with pytest.raises(Unread, match="points it does not have"):
        shells(scene.ctx, item)


def frame_with_hole() -> tuple[list[tuple[float, float, float]], list[tuple[tuple[int, ...], ...]]]:
    """A 100 x 60 x 10 plate with a 40 x 20 hole: caps with inner bounds."""
    outer, inner = box_points((100, 60, 10)), box_points((40, 20, 10), (30, 20, 0))
    sides = [tuple(r) for (r,) in BOX_FACETS[2:]]
    facets: list[tuple[tuple[int, ...], ...]] = [
        ((0, 3, 2, 1), (8, 9, 10, 11)),
        ((4, 5, 6, 7), (12, 13, 14, 15)),
        *((side,) for side in sides),
        *((tuple(i + 8 for i in reversed(side)),) for side in sides),
    ]
    return outer + inner, facets


def test_inner_bounds_are_holes_whichever_way_they_run() -> None:
    scene = Scene()
    points, facets = frame_with_hole()
    shell = only(scene, scene.brep(points, facets))
    assert shell.closed
    cap = np.linalg.norm(vector_areas(shell), axis=1)[0]
    assert cap == pytest.approx(100 * 60 - 40 * 20)
    assert volume(oriented(shell)) == pytest.approx((100 * 60 - 40 * 20) * 10)


def test_facets_turned_about_are_turned_back() -> None:
    scene = Scene()
    mixed = [tuple(tuple(reversed(r)) for r in rings) if i in (1, 4) else rings for i, rings in enumerate(BOX_FACETS)]
    inside_out = [tuple(tuple(reversed(r)) for r in rings) for rings in BOX_FACETS]
    for facets in (mixed, inside_out):
        shell = oriented(only(scene, scene.brep(box_points((30, 20, 10)), facets)))
        assert volume(shell) == pytest.approx(6000)
        assert np.abs(vector_areas(shell).sum(axis=0)).max() < 1e-9  # a closed surface has no net area


def test_bodies_that_do_not_touch_are_shells_of_their_own() -> None:
    scene = Scene()
    points = box_points((10, 10, 10)) + box_points((5, 5, 5), (50, 0, 0))
    facets = [*BOX_FACETS, *(tuple(tuple(i + 8 for i in r) for r in rings) for rings in BOX_FACETS)]
    found = shells(scene.ctx, scene.brep(points, facets))
    assert [round(volume(s)) for s in found] == [1000, 125]


def test_points_drawn_twice_are_one_and_vanishing_or_repeated_facets_are_gone() -> None:
    scene = Scene()
    points = box_points((10, 10, 10))
    soup = [tuple(points[i]) for (r,) in BOX_FACETS for i in r]  # every facet with points of its own
    facets = [((4 * k, 4 * k + 1, 4 * k + 2, 4 * k + 3),) for k in range(6)]
    facets += [((0, 1, 2, 3),), ((0, 1, 1),)]
    shell = only(scene, scene.brep(soup, facets))
    assert len(shell.points) == 8
    assert len(shell.facets) == 6
    assert shell.closed


def test_an_open_shell_is_not_closed() -> None:
    scene = Scene()
    assert not only(scene, scene.brep(box_points((10, 10, 10)), BOX_FACETS[:5])).closed


def test_weld_joins_points_across_the_sides_of_its_cells() -> None:
    rng = np.random.default_rng(7)
    base = rng.uniform(-50, 50, (300, 3)).round(2)
    near = base + rng.uniform(-4e-4, 4e-4, base.shape)
    same = weld(np.concatenate([base, near]))
    first = {tuple(p): i for i, p in reversed(list(enumerate(base.tolist())))}
    for i, p in enumerate(base.tolist()):
        assert same[300 + i] == first[tuple(p)]


def test_curved_bodies_are_refused() -> None:
    scene = Scene()
    solid = scene.extruded(scene.circle(20), 10)
    with pytest.raises(Unread, match="no flat faces"):
        shells(scene.ctx, solid)


@pytest.mark.parametrize("name", ["bolt_groups_excerpt.ifc", "structure_tessellated_ifc4.ifc"])
def test_volumes_agree_with_a_geometry_kernel(name: str) -> None:
    """An independent oracle: the mesh ifcopenshell.geom makes of the same item."""
    file = ifcopenshell.open(str(shared(name)))
    ctx = Context(file, name)
    kinds = ("IfcFacetedBrep", "IfcTriangulatedFaceSet") if file.schema != "IFC2X3" else ("IfcFacetedBrep",)
    items = [item for kind in kinds for item in file.by_type(kind)]
    # the volume of a surface with gaps depends on where it stands, so only closed bodies can be compared
    closed = [item for item in items if all(shell.closed for shell in shells(ctx, item))][:12]
    assert len(closed) >= 3
    settings = ifcopenshell.geom.settings()
    for item in closed:
        shape = ifcopenshell.geom.create_shape(settings, item)
        corners = np.array(shape.verts).reshape(-1, 3) * 1000.0
        triangles = corners[np.array(shape.faces).reshape(-1, 3)]
        mesh = float(np.einsum("ij,ij->i", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2])).sum()) / 6
        own = sum(abs(volume(oriented(shell))) for shell in shells(ctx, item))
        assert own == pytest.approx(abs(mesh), rel=1e-3), item
