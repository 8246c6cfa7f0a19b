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
from takeoff.steel import LISTED, Piece, Takeoff

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "invariants"))

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


def compare(takeoff: Takeoff, path: Path, skip: frozenset[str] = frozenset()) -> int:
    """Check every listed piece against the solid of its first member; the number of pieces checked."""
    first = {takeoff.model.members[p.members[0]].global_id: p for p in takeoff.pieces if p.status == LISTED}
    solids = volumes(path, set(first) - skip)
    wrong = {}
    for global_id, volume in solids.items():
        piece = first[global_id]
        mass = (volume - drilled(piece)) * 7.85e-6
        if abs(piece.net - mass) > SHARE * mass:
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


@pytest.mark.parametrize("name", ["trestle_bay.ifc", "mast.ifc"])
def test_demo_models(name: str) -> None:
    path = ROOT / "models" / name
    takeoff = take_off([path], COMPUTED)
    assert compare(takeoff, path) == len(takeoff.pieces)


@pytest.mark.parametrize(
    ("name", "least"),
    [
        ("angles_and_plates_small.ifc", 11),
        ("portal_frame_marks.ifc", 8),
        ("beams_cardinal_points.ifc", 1),
        ("beams_profile_usage.ifc", 1),
        ("design_transfer_ifc4.ifc", 2),
        ("handrails_openings.ifc", 5),
        ("bolt_groups_excerpt.ifc", 5),
        ("structure_tessellated_ifc4.ifc", 0),
        ("stairs_embeds_breps.ifc", 0),
    ],
)
def test_real_models(name: str, least: int) -> None:
    path = model_path(name)
    takeoff = take_off([path], COMPUTED)
    assert compare(takeoff, path) >= least
