"""Masses against an independent one: the volume of the model's own solids, by the geometry kernel.

``ifcopenshell.geom`` meshes each body with its openings; the volume follows from the mesh by the divergence theorem.
Left out: parts with mirrored or derived parametric profiles, which the kernel draws unmirrored and mis-scaled. Holes
that follow from bolts are not in the solids: their volume is taken off the kernel's. Curved surfaces are meshed
as chords, so the kernel's volume of rounded parts errs by up to some 0.05 %.
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import ifcopenshell
import ifcopenshell.geom
import numpy as np
import pytest
from real_models import model_path

from takeoff.pipeline import take_off
from takeoff.settings import Settings, WeightSettings
from takeoff.steel import ANGLE, CHANNEL, CHS, I_SHAPE, LISTED, ROUND, T_SHAPE, Piece, Section, Takeoff

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "invariants"))

from random_scene import odd_scene, random_scene  # noqa: E402
from scene import Writing, plain, write  # noqa: E402

COMPUTED = replace(Settings(), weights=WeightSettings(mass="computed"))
"""Masses from dimensions: a table's printed mass is rounded, the kernel's volume is not."""
SHARE = 0.001


def volumes(path: Path, wanted: set[str]) -> dict[str, float]:
    """Volume in mm3 by GlobalId. Missing: the kernel refused the product."""
    settings = ifcopenshell.geom.settings()
    settings.set("mesher-linear-deflection", 0.0001)
    settings.set("mesher-angular-deflection", 0.1)
    model = ifcopenshell.open(str(path))
    products = [p for g in sorted(wanted) if (p := model.by_guid(g))]
    found: dict[str, float] = {}
    iterator = ifcopenshell.geom.iterator(settings, model, 1, include=products)
    if not iterator.initialize():
        return found
    while True:
        shape = iterator.get()
        points = np.array(shape.geometry.verts).reshape(-1, 3) * 1000.0
        corners = points[np.array(shape.geometry.faces).reshape(-1, 3)] - points.mean(axis=0)
        volume = float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum()) / 6
        found[shape.guid] = abs(volume)
        if not iterator.next():
            return found


def drilled(piece: Piece) -> float:
    """Volume in mm3 of the piece's holes that only a bolt tells of: plain cylinders through a wall."""
    wall = {face.name: face.thickness for face in piece.faces}
    return sum(
        math.pi / 4 * hole.diameter**2 * wall[hole.face]
        for hole in piece.holes
        if hole.source == "bolt" and hole.kind == "round"
    )


def left_out_by_drawing(section: Section) -> float:
    """Share of a section that a drawn body with sharp corners and faceted rounds may lack or have too much.

    Root and toe radii of a rolled section, (1 - pi/4) r^2 each; an octagon in a circle has 0.900 of its area.
    """
    if section.shape in (CHS, ROUND):
        return 1 / 0.9003 - 1
    roots, toes = {ANGLE: (1, 2), CHANNEL: (2, 2), I_SHAPE: (4, 0), T_SHAPE: (2, 0)}.get(section.shape, (0, 0))
    lost = (1 - math.pi / 4) * (roots * section.r1**2 + toes * section.r2**2)
    return lost / (section.area_mm2 - lost)


def compare(takeoff: Takeoff, path: Path, drawn: bool = False) -> int:
    """Check every listed piece against the solid of its first member; the number of pieces checked.

    ``drawn``: the model's bodies are facets, without radii and with polygons for circles (holes too: 0.1 % more).
    """
    first = {takeoff.model.members[p.members[0]].global_id: p for p in takeoff.pieces if p.status == LISTED}
    solids = volumes(path, set(first))
    wrong = {}
    for global_id, volume in solids.items():
        piece = first[global_id]
        mass = (volume - drilled(piece)) * 7.85e-6
        share = 2 * SHARE + left_out_by_drawing(piece.section) if drawn else SHARE
        if abs(piece.net - mass) > share * mass:
            wrong[piece.mark] = (piece.section.designation, round(piece.net, 4), round(mass, 4))
    assert wrong == {}
    return len(solids)


WRITINGS = {
    "plain": Writing(),
    "composite profiles along -x, foot": Writing(profile="composite", style="-x", unit="foot"),
    "IFC2X3 in inch, mapped": Writing(schema="IFC2X3", unit="inch", shared=True, agreement=True),
}


@pytest.mark.parametrize("how", WRITINGS.values(), ids=WRITINGS.keys())
def test_scene(how: Writing, tmp_path: Path) -> None:
    """Angles, channel, I, T, flats, plates, hollow sections, with openings and a skew end."""
    path = tmp_path / "model.ifc"
    write(plain(), path, how)
    takeoff = take_off([path], COMPUTED)
    assert compare(takeoff, path) == len(takeoff.pieces)


@pytest.mark.parametrize("seed", range(5))
def test_random_scenes(seed: int, tmp_path: Path) -> None:
    """Holes and slots in any face, notches, rounded plates, ends cut by one plane or two, tubes, lipped channels."""
    for name, scene in {"random": random_scene(seed)[0], "odd": odd_scene(seed)}.items():
        path = tmp_path / f"{name}.ifc"
        write(scene, path)
        takeoff = take_off([path], COMPUTED)
        assert compare(takeoff, path) == len(takeoff.pieces)


@pytest.mark.parametrize("name", ["trestle_bay.ifc", "mast.ifc"])
def test_demo_models(name: str) -> None:
    path = ROOT / "models" / name
    takeoff = take_off([path], COMPUTED)
    assert compare(takeoff, path) == len(takeoff.pieces)


@pytest.mark.parametrize(
    ("name", "least", "drawn"),
    [
        ("angles_and_plates_small.ifc", 11, False),
        ("portal_frame_marks.ifc", 8, False),
        ("beams_cardinal_points.ifc", 1, False),
        ("beams_profile_usage.ifc", 1, False),
        ("design_transfer_ifc4.ifc", 2, False),
        ("handrails_openings.ifc", 5, True),
        ("bolt_groups_excerpt.ifc", 5, True),
        ("structure_tessellated_ifc4.ifc", 0, True),
        ("stairs_embeds_breps.ifc", 0, True),
    ],
)
def test_real_models(name: str, least: int, drawn: bool) -> None:
    path = model_path(name)
    takeoff = take_off([path], COMPUTED)
    assert compare(takeoff, path, drawn) >= least
