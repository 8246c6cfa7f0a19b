"""Bodies that need booleans or curved surfaces, meshed by the geometry kernel in a process of its own.

The kernel may crash or hang: the body it was at is then refused, and the next one gets a new process. A body the
kernel draws empty, or leaves a part of out, is refused too.

Not for parametric profiles that are mirrored or derived: the kernel draws them unmirrored.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any, Final
from weakref import WeakKeyDictionary, finalize

import ifcopenshell
import ifcopenshell.util.element
import numpy as np

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.facets import Facet
from takeoff.ifc.kernel_process import Ended, KernelProcess
from takeoff.steel import FloatArray

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


@dataclass(frozen=True, slots=True, eq=False)
class Meshed:
    """``points`` (n, 3) mm in the item's coordinates and ``facets``, triangles."""

    points: FloatArray
    facets: tuple[Facet, ...]


@dataclass(slots=True)
class _Known:
    """The meshes of one file, or why there is none, by item; and the process that makes them."""

    meshes: dict[int, Meshed | str] = field(default_factory=dict)
    process: KernelProcess = field(default_factory=KernelProcess)


_KNOWN: WeakKeyDictionary[Context, _Known] = WeakKeyDictionary()


def meshed(ctx: Context, item: Entity) -> Meshed:
    """The mesh of an item, made once. Raises Unread where there is none."""
    known = _KNOWN.get(ctx)
    if known is None:
        known = _KNOWN[ctx] = _Known()
        finalize(ctx, known.process.close)
    found = known.meshes.get(item.id())
    if found is None:
        found = known.meshes[item.id()] = _mirrored(ctx, item) or _ask(ctx, item, known.process)
    if isinstance(found, str):
        raise Unread(found)
    return found


def _mirrored(ctx: Context, item: Entity) -> str:
    """Why the kernel may not draw an item, empty where it may."""
    for entity in ctx.file.traverse(item):
        if entity.is_a("IfcDerivedProfileDef") and entity.ParentProfile.is_a("IfcParameterizedProfileDef"):
            return "a mirrored or derived profile is joined to or cut by other bodies in it, which is not read yet"
    return ""


def _ask(ctx: Context, item: Entity, process: KernelProcess) -> Meshed | str:
    """The mesh or a sentence."""
    text, number = _excerpt(ctx, item)
    try:
        answer: dict[str, Any] = json.loads(process.ask(json.dumps({"file": text, "item": number})))
    except Ended as end:
        return f"the geometry kernel {end} over its body"
    if "error" in answer:
        return "the geometry kernel cannot draw its body, or a part of it"
    points = np.array(answer["points"], dtype=float).reshape(-1, 3) * 1000.0
    triangles = np.array(answer["triangles"], dtype=int).reshape(-1, 3)
    return Meshed(points, tuple((tuple(t),) for t in triangles.tolist()))


def _excerpt(ctx: Context, item: Entity) -> tuple[str, int]:
    """A file of the item alone, as text, and the item's id in it."""
    library: Any = ifcopenshell
    excerpt = library.file(schema=ctx.schema)
    for project in ctx.file.by_type("IfcProject")[:1]:
        if project.UnitsInContext is not None:
            units = excerpt.add(project.UnitsInContext)
            excerpt.create_entity("IfcProject", GlobalId=str(argument(project, 0)), UnitsInContext=units)
    number = _cylinders(excerpt, excerpt.add(item).id())
    return str(excerpt.to_string()), number


def _cylinders(excerpt: Any, number: int) -> int:
    """Cylinders as extruded circles, which are the same and which the kernel can draw; the id of the item then."""
    for cylinder in excerpt.by_type("IfcRightCircularCylinder"):
        flat = excerpt.create_entity("IfcCartesianPoint", (0.0, 0.0))
        place = excerpt.create_entity("IfcAxis2Placement2D", flat)
        circle = excerpt.create_entity("IfcCircleProfileDef", "AREA", None, place, cylinder.Radius)
        up = excerpt.create_entity("IfcDirection", (0.0, 0.0, 1.0))
        swept = excerpt.create_entity("IfcExtrudedAreaSolid", circle, cylinder.Position, up, cylinder.Height)
        # a body that is a cylinder and no more: the extrusion itself is asked for
        whole = (cylinder, *(e for e in excerpt.get_inverse(cylinder) if e.is_a("IfcCsgSolid")))
        if number in {e.id() for e in whole}:
            number = swept.id()
        ifcopenshell.util.element.replace_element(cylinder, swept)
    return number
