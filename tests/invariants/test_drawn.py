"""The same steel drawn as facets instead of extruded profiles: the same pieces, holes and marks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from digest import differences, digest, take
from scene import Corner, Scene, Writing, angle_outline, plain, write

from takeoff.ifc.solid_writer import prism
from takeoff.ifc.writer import ModelWriter


def bolted_only() -> Scene:
    """The parts of the scene that are angles, flats and plates without drawn openings or skew ends, and their bolts."""
    scene = plain()
    parts = tuple(
        p
        for p in scene.parts
        if p.shape in ("angle", "plate", "flat")
        and not p.openings
        and not p.clips
        and not any(word in p.label for word in ("channel", "beam", "tee", "bar"))
    )
    near = [p.frame.origin for p in parts]
    bolts = tuple(
        g for g in scene.bolts if min(float(np.linalg.norm(np.array(g.places[0][0]) - o)) for o in near) < 1300
    )
    return Scene(parts, bolts, scene.assemblies)


def write_drawn(scene: Scene, path: Path, form: str, how: Writing) -> dict[str, str]:
    """The scene with every part as a closed body of flat faces."""
    model = ModelWriter(how.schema, how.unit, how.origin, how.rotation, how.offset)
    assemblies: dict[str, Any] = {}
    for label, parent in scene.assemblies:
        assemblies[label] = model.assembly(label, parent=assemblies.get(parent))
    ids = {}
    for part in scene.parts:
        outline: tuple[Corner, ...]
        if part.shape == "plate":  # outline in (x, v), steel along u: extruded the other way round to face outwards
            points, faces = prism(part.outline, 0, part.size[0])
            vertices = points[:, [0, 2, 1]]
            faces = [list(reversed(face)) for face in faces]
        else:
            w, t = part.size[:2]
            outline = ((0, 0), (t, 0), (t, w), (0, w))
            if part.shape == "angle":
                outline = angle_outline(*part.size[:3], rounded=False)
            points, faces = prism(outline, 0, part.length)
            vertices = points[:, [2, 0, 1]]
        # Triangles fan out from a face's first corner: from the heel, which sees the whole of an angle's end.
        faces = [face[face.index(min(face)) :] + face[: face.index(min(face))] for face in faces]
        made = model.mesh(
            vertices, faces, part.frame, "IfcPlate" if part.shape == "plate" else "IfcMember", form,
            material=part.grade, assembly=assemblies.get(part.assembly),
        )  # fmt: skip
        ids[part.label] = made.global_id
    for group in scene.bolts:
        model.bolts(
            group.places, group.diameter, group.grip, name=f"M{group.diameter:g}", material="8.8",
            assembly=assemblies.get(group.assembly),
        )  # fmt: skip
    model.save(path)
    return ids


@pytest.mark.parametrize(
    ("form", "how"),
    [
        ("brep", Writing(schema="IFC2X3")),
        ("brep", Writing(unit="inch", origin=(5e6, -3e6, 1e5), offset="site")),
        ("tessellation", Writing()),
        ("tessellation", Writing(schema="IFC4X3_ADD2", unit="m")),
    ],
    ids=["brep", "brep in inch", "tessellation", "tessellation in m"],
)
def test_facets_give_the_same_lists(form: str, how: Writing, tmp_path: Path) -> None:
    scene = bolted_only()
    first, second = tmp_path / "a.ifc", tmp_path / "b.ifc"
    ids = write(scene, first, replace(Writing(), profile="polyline"))
    one = digest(take(first), ids)
    ids = write_drawn(scene, second, form, how)
    other = digest(take(second), ids)
    assert len(one["pieces"]) >= 6
    for key in ("pieces", "bolt lines", "bolt rows", "joints"):
        assert differences(one[key], other[key]) == [], key
