"""The volume of parts' own solids by the geometry kernel: a second opinion on what the lists say they weigh.

The kernel knows nothing of this package's way of reading bodies. It may crash or hang on a damaged one, so this runs
in a process of its own (see takeoff.beside). It draws mirrored and derived parametric profiles wrongly: parts that
have one are not measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Final

import numpy as np

from takeoff.ifc.context import DAMAGE, Context, Entity, ReadError
from takeoff.ifc.doors import open_model

ANGULAR_RAD: Final = 0.1
LINEAR_M: Final = 0.0001
"""Steps in which curves are drawn: chords take less than 0.2 % of a round bar, less of all else."""
CLOSED: Final = 1e-4
"""Of its surface, by which the sum of a closed solid's facets as vectors differs from nothing at most."""

Volume = float | str
"""mm3, or why there is none: the end of a sentence that begins with a mark."""


def volumes(paths: Sequence[Path], wanted: Sequence[str], length_unit: str = "") -> dict[str, Volume]:
    """The volume of each wanted element by its GlobalId, openings taken off, from the first file that has it.

    Files that cannot be opened any more are passed over: their elements are missing from the answer.
    """
    return _volumes(_opened(paths, length_unit), wanted)


def volumes_asked_for(
    paths: Sequence[Path], asked: Connection, asking: Connection, length_unit: str = ""
) -> dict[str, Volume]:
    """The same, of the elements whose GlobalIds ``asked`` brings once the files are open.

    ``asking`` is this process's copy of the other end: open here, it would hide that the other process is gone.
    """
    asking.close()
    opened = _opened(paths, length_unit)
    try:
        wanted = asked.recv()
    except EOFError:  # nobody wants to know any more
        return {}
    return _volumes(opened, wanted)


def _opened(paths: Sequence[Path], length_unit: str) -> list[Context]:
    import ifcopenshell.geom  # noqa: F401  (loads while there is time)

    opened = []
    for path in paths:
        try:
            opened.append(open_model(path, length_unit))
        except ReadError:
            continue  # the run itself says so
    return opened


def _volumes(opened: Sequence[Context], wanted: Sequence[str]) -> dict[str, Volume]:
    found: dict[str, Volume] = {}
    for ctx in opened:
        found |= _in_file(ctx, [global_id for global_id in wanted if global_id not in found])
    return found


def _in_file(ctx: Context, wanted: Sequence[str]) -> dict[str, Volume]:
    found: dict[str, Volume] = {}
    products: list[Entity] = []
    for global_id in wanted:
        try:
            product = ctx.file.by_guid(global_id)
        except RuntimeError:  # it is in another file
            continue
        try:
            mirrored = _draws_mirrored(ctx, product)
        except DAMAGE:
            found[global_id] = "is damaged in the file"
            continue
        if mirrored:
            found[global_id] = "has a mirrored or derived profile, which the kernel draws wrongly"
        else:
            products.append(product)
            found[global_id] = "is not drawn by the kernel"
    if products:
        found |= _drawn(ctx, products)
    return found


def _draws_mirrored(ctx: Context, product: Entity) -> bool:
    shape = product.Representation
    return shape is not None and any(
        entity.is_a("IfcDerivedProfileDef") and entity.ParentProfile.is_a("IfcParameterizedProfileDef")
        for entity in ctx.file.traverse(shape)
    )


def _drawn(ctx: Context, products: Sequence[Entity]) -> dict[str, Volume]:
    import ifcopenshell.geom

    geometry: Any = ifcopenshell.geom
    settings = geometry.settings()
    settings.set("mesher-angular-deflection", ANGULAR_RAD)
    settings.set("mesher-linear-deflection", LINEAR_M)
    iterator = geometry.iterator(settings, ctx.file, 1, include=list(products))
    found: dict[str, Volume] = {}
    more = iterator.initialize()
    while more:
        shape = iterator.get()
        # the library reads the file's own unit, which the settings may have to give
        found[str(shape.guid)] = _volume(shape.geometry, ctx.mm / _metres(ctx))
        more = iterator.next()
    return found


def _metres(ctx: Context) -> float:
    """What the kernel takes one unit of the file for, in metres: its own unit, else metres."""
    return ctx.mm / 1000.0 if not ctx.length_doubt else 1.0


def _volume(mesh: Any, mm: float) -> Volume:
    points = np.array(mesh.verts, dtype=float).reshape(-1, 3) * mm
    corners = points[np.array(mesh.faces, dtype=int).reshape(-1, 3)]
    if not len(corners):
        return "is not drawn by the kernel"
    corners = corners - points.mean(axis=0)
    areas = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    surface = float(np.linalg.norm(areas, axis=1).sum())
    if not float(np.linalg.norm(areas.sum(axis=0))) <= CLOSED * surface:
        return "is drawn with a solid that does not close"
    return abs(float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])))) / 6
