"""Placements against the geometry library's own utility, operators against the standard's rules done by hand."""

import ifcopenshell.util.placement
import numpy as np
import pytest
from ifc_scene import Scene

from takeoff.ifc.context import Unread
from takeoff.ifc.placements import axis2placement2d, axis2placement3d, frames, operator2d, operator3d, placement


def axes(scene, origin, z=None, x=None):
    return scene.file.create_entity(
        "IfcAxis2Placement3D",
        Location=scene.point(*origin),
        Axis=scene.direction(*z) if z else None,
        RefDirection=scene.direction(*x) if x else None,
    )


def chain(scene, count=6, seed=1):
    """Local placements, each relative to the one before."""
    random = np.random.default_rng(seed)
    last, made = None, []
    for _ in range(count):
        z, x = np.linalg.qr(random.normal(size=(3, 2)))[0].T  # the library does not make axes square itself
        last = scene.file.create_entity(
            "IfcLocalPlacement",
            PlacementRelTo=last,
            RelativePlacement=axes(scene, random.normal(size=3) * 1e4, tuple(z), tuple(x)),
        )
        made.append(last)
    return made


def products(scene, places):
    return [
        scene.file.create_entity("IfcMember", GlobalId=f"{i:022d}", ObjectPlacement=place)
        for i, place in enumerate(places)
    ]


def test_chains_agree_with_the_library():
    scene = Scene()
    made = chain(scene)
    expected = [ifcopenshell.util.placement.get_local_placement(place) for place in made]
    for place, matrix in zip(made, expected, strict=True):
        assert np.allclose(placement(scene.ctx, place), matrix, atol=1e-7)
    found, problems = frames(Scene().ctx, [])
    assert found.shape == (0, 4, 4)
    assert problems == {}


def test_all_at_once_is_the_same_as_one_by_one():
    scene = Scene()
    made = chain(scene) + chain(scene, seed=2)
    parts = products(scene, [*made, None])
    found, problems = frames(scene.ctx, parts)
    assert problems == {}
    for matrix, place in zip(found, [*made, None], strict=True):
        assert np.allclose(matrix, placement(scene.ctx, place), atol=1e-7)


def test_a_georeferenced_origin_keeps_a_hundredth_of_a_millimetre():
    """481 km and 5456 km away, as UTM coordinates are, with a turn that has no exact decimals."""
    scene = Scene()
    place = scene.file.create_entity(
        "IfcLocalPlacement", RelativePlacement=axes(scene, (481e6, 5456e6, 1e5), (0, 0, 1), (0.8, 0.6, 0))
    )
    inner = scene.file.create_entity(
        "IfcLocalPlacement", PlacementRelTo=place, RelativePlacement=axes(scene, (1000.01, 0, 0))
    )
    found, _ = frames(scene.ctx, products(scene, [inner]))
    assert found[0, :3, 3] - np.array([481e6, 5456e6, 1e5]) == pytest.approx([800.008, 600.006, 0], abs=1e-5)


def test_grid_placements_and_their_children_are_refused_alone():
    scene = Scene()
    grid = scene.file.create_entity("IfcGridPlacement")
    child = scene.file.create_entity("IfcLocalPlacement", PlacementRelTo=grid, RelativePlacement=axes(scene, (0, 0, 0)))
    good = scene.file.create_entity("IfcLocalPlacement", RelativePlacement=axes(scene, (1, 2, 3)))
    found, problems = frames(scene.ctx, products(scene, [grid, child, good]))
    assert set(problems) == {0, 1}
    assert all("grid" in sentence for sentence in problems.values())
    assert np.isnan(found[:2]).all()
    assert found[2, :3, 3] == pytest.approx([1, 2, 3])


def test_placements_that_bite_their_tail_or_have_no_axes_are_refused():
    scene = Scene()
    first = scene.file.create_entity("IfcLocalPlacement", RelativePlacement=axes(scene, (0, 0, 0)))
    second = scene.file.create_entity(
        "IfcLocalPlacement", PlacementRelTo=first, RelativePlacement=axes(scene, (0, 0, 0))
    )
    first.PlacementRelTo = second
    flat = scene.file.create_entity("IfcLocalPlacement", RelativePlacement=axes(scene, (0, 0, 0), (0, 0, 1), (0, 0, 1)))
    _, problems = frames(scene.ctx, products(scene, [second, flat]))
    assert "refers to itself" in problems[0]
    assert "parallel" in problems[1]
    for place, words in ((second, "itself"), (flat, "parallel")):
        with pytest.raises(Unread, match=words):
            placement(scene.ctx, place)


def test_axes_are_made_square_to_the_one_that_leads():
    """ISO 16739-1, IfcFirstProjAxis: Axis is kept, RefDirection is projected; without it x is projected."""
    scene = Scene()
    found = axis2placement3d(scene.ctx, axes(scene, (0, 0, 0), (0, 0, 2), (3, 0, 3)))
    assert found[:3, :3] == pytest.approx(np.eye(3))
    tilted = axis2placement3d(scene.ctx, axes(scene, (0, 0, 0), (0.6, 0, 0.8)))
    assert tilted[:3, 0] == pytest.approx([0.8, 0, -0.6])
    along = axis2placement3d(scene.ctx, axes(scene, (0, 0, 0), (1, 0, 0)))
    assert along[:3, 0] == pytest.approx([0, 1, 0])
    assert axis2placement2d(scene.ctx, axes(scene, (5, 6, 0), (0, 0, -1), (1, 0, 0))) == pytest.approx(
        np.array([[1, 0, 5], [0, -1, 6], [0, 0, 1]])
    )


def operator(scene, first=None, second=None, third=None, scale=None, origin=(0, 0, 0), **more):
    name = "IfcCartesianTransformationOperator3D" + ("nonUniform" if more else "")
    directions = {f"Axis{i + 1}": scene.direction(*d) if d else None for i, d in enumerate((first, second, third))}
    return scene.file.create_entity(name, LocalOrigin=scene.point(*origin), Scale=scale, **directions, **more)


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({}, np.eye(3)),
        ({"first": (0, 1, 0), "second": (-1, 0, 0), "third": (0, 0, 1)}, [[0, -1, 0], [1, 0, 0], [0, 0, 1]]),
        # an Axis2 on the other side mirrors
        ({"first": (1, 0, 0), "second": (0, -1, 0), "third": (0, 0, 1)}, np.diag([1, -1, 1])),
        ({"third": (0, 0, -1)}, np.diag([1, 1, -1])),
        # Axis1 is projected square to Axis3, Axis2 to both
        ({"first": (1, 0, 5), "second": (9, 1, 7), "third": (0, 0, 1), "scale": 2.0}, 2 * np.eye(3)),
        ({"scale": 2.0, "Scale2": 3.0, "Scale3": 4.0}, np.diag([2, 3, 4])),
        ({"scale": 2.0, "Scale3": 4.0}, np.diag([2, 2, 4])),
    ],
)
def test_operators_in_space(given, expected):
    scene = Scene()
    found = operator3d(scene.ctx, operator(scene, **given, origin=(1, 2, 3)))
    assert found[:3, :3] == pytest.approx(np.array(expected, dtype=float))
    assert found[:3, 3] == pytest.approx([1, 2, 3])


def test_operators_in_the_plane_with_two_scales():
    scene = Scene()
    entity = scene.file.create_entity(
        "IfcCartesianTransformationOperator2DnonUniform",
        Axis1=scene.direction(0, 1), Axis2=scene.direction(1, 0), LocalOrigin=scene.point(1, 2), Scale=2.0, Scale2=3.0,
    )  # fmt: skip
    assert operator2d(scene.ctx, entity) == pytest.approx(np.array([[0, 3, 1], [2, 0, 2], [0, 0, 1.0]]))


@pytest.mark.parametrize("scale", [0.0, -1.0])
def test_a_scale_of_nothing_is_refused(scale):
    scene = Scene()
    with pytest.raises(Unread, match="scale"):
        operator3d(scene.ctx, operator(scene, scale=scale))
