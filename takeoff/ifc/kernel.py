"""Bodies that need booleans or curved surfaces, meshed by the geometry kernel in a process of its own.

The kernel may crash or hang: a batch of bodies goes to one worker, and where the worker ends early the
body it was at is refused and the rest go to another. A body the kernel draws empty, or leaves a
part of out, is refused too.

Not for parametric profiles that are mirrored or derived: the kernel draws them unmirrored.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from weakref import WeakKeyDictionary

import ifcopenshell
import ifcopenshell.util.element
import numpy as np

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.facets import Facet
from takeoff.steel import FloatArray

SECONDS_A_BODY: Final = 20.0
"""A worker that takes longer over its batch than this for each body hangs."""
SECONDS_TO_START: Final = 30.0

KERNEL: Final = {
    "IfcAdvancedBrep": "curved faces",
    "IfcAdvancedBrepWithVoids": "curved faces with voids",
    "IfcCsgSolid": "simple bodies joined",
    "IfcBlock": "a block",
    "IfcRightCircularCylinder": "a cylinder",
    "IfcRevolvedAreaSolid": "a profile turned about an axis",
    "IfcBooleanResult": "bodies joined or cut",
    "IfcBooleanClippingResult": "a body cut",
}
"""Classes meshed here, and what they draw a body as."""

_CACHE: WeakKeyDictionary[Context, dict[int, Meshed | str]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, eq=False)
class Meshed:
    """``points`` (n, 3) mm in the item's coordinates and ``facets``, triangles."""

    points: FloatArray
    facets: tuple[Facet, ...]


def meshed(ctx: Context, item: Entity, others: Sequence[Entity] = ()) -> Meshed:
    """The mesh of an item, made once; ``others`` are meshed in the same batch. Raises Unread where there is none."""
    cache = _CACHE.setdefault(ctx, {})
    if item.id() not in cache:
        batch: dict[int, Entity] = {}
        for each in (item, *others):
            if each.id() in cache:
                continue
            trap = _mirrored(ctx, each)
            if trap:
                cache[each.id()] = trap
            else:
                batch[each.id()] = each
        if batch:
            cache.update(_batch(ctx, list(batch.values())))
    found = cache[item.id()]
    if isinstance(found, str):
        raise Unread(found)
    return found


def _mirrored(ctx: Context, item: Entity) -> str:
    """Why the kernel may not draw an item, empty where it may."""
    for entity in ctx.file.traverse(item):
        if entity.is_a("IfcDerivedProfileDef") and entity.ParentProfile.is_a("IfcParameterizedProfileDef"):
            return "a mirrored or derived profile is joined to or cut by other bodies in it, which is not read yet"
    return ""


def _batch(ctx: Context, items: Sequence[Entity]) -> dict[int, Meshed | str]:
    """Meshes or sentences by the items' ids."""
    text, numbers = _excerpt(ctx, items)
    results: dict[int, Meshed | str] = {}
    waiting = list(numbers)
    with tempfile.TemporaryDirectory(prefix="takeoff-") as folder:
        while waiting:
            lines, why = _run(Path(folder), text, waiting)
            for line in lines:
                number = int(line["id"])
                results[numbers[number]] = _result(line)
                waiting.remove(number)
            if waiting and why:
                # the worker ended at the first body it has not answered for
                results[numbers[waiting.pop(0)]] = f"the geometry kernel {why} over its body"
    return results


def _result(line: dict[str, Any]) -> Meshed | str:
    if "error" in line:
        return "the geometry kernel cannot draw its body, or a part of it"
    points = np.array(line["points"], dtype=float).reshape(-1, 3) * 1000.0
    triangles = np.array(line["triangles"], dtype=int).reshape(-1, 3)
    return Meshed(points, tuple((tuple(t),) for t in triangles.tolist()))


def _run(folder: Path, text: str, waiting: list[int]) -> tuple[list[dict[str, Any]], str]:
    """The lines one worker wrote, and how it ended early: empty where it did not."""
    source, target = folder / "job.json", folder / "meshes.jsonl"
    source.write_text(json.dumps({"file": text, "items": waiting}), encoding="utf-8")
    target.write_text("", encoding="utf-8")
    why = ""
    command = [sys.executable, "-m", "takeoff.ifc.kernel_worker", str(source), str(target)]
    try:
        done = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=SECONDS_TO_START + SECONDS_A_BODY * len(waiting),
            check=False,
        )
        if done.returncode:
            why = "crashed"
    except subprocess.TimeoutExpired:
        why = "did not come to an end"
    lines = []
    for line in target.read_text(encoding="utf-8").splitlines():
        try:
            lines.append(json.loads(line))
        except json.JSONDecodeError:
            break  # the line it was writing when it ended
    if len(lines) < len(waiting) and not why:
        why = "stopped"
    return lines, why


def _excerpt(ctx: Context, items: Sequence[Entity]) -> tuple[str, dict[int, int]]:
    """A file of the items alone, as text, and the items' ids by their numbers in it."""
    library: Any = ifcopenshell
    excerpt = library.file(schema=ctx.schema)
    for project in ctx.file.by_type("IfcProject")[:1]:
        if project.UnitsInContext is not None:
            units = excerpt.add(project.UnitsInContext)
            excerpt.create_entity("IfcProject", GlobalId=str(argument(project, 0)), UnitsInContext=units)
    numbers = {excerpt.add(item).id(): item.id() for item in items}
    _cylinders(excerpt, numbers)
    return str(excerpt.to_string()), numbers


def _cylinders(excerpt: Any, numbers: dict[int, int]) -> None:
    """Cylinders as extruded circles, which are the same and which the kernel can draw."""
    for cylinder in excerpt.by_type("IfcRightCircularCylinder"):
        flat = excerpt.create_entity("IfcCartesianPoint", (0.0, 0.0))
        place = excerpt.create_entity("IfcAxis2Placement2D", flat)
        circle = excerpt.create_entity("IfcCircleProfileDef", "AREA", None, place, cylinder.Radius)
        up = excerpt.create_entity("IfcDirection", (0.0, 0.0, 1.0))
        swept = excerpt.create_entity("IfcExtrudedAreaSolid", circle, cylinder.Position, up, cylinder.Height)
        # a body that is a cylinder and no more: the extrusion itself is asked for
        for whole in (cylinder, *(e for e in excerpt.get_inverse(cylinder) if e.is_a("IfcCsgSolid"))):
            if whole.id() in numbers:
                numbers[swept.id()] = numbers.pop(whole.id())
        ifcopenshell.util.element.replace_element(cylinder, swept)
