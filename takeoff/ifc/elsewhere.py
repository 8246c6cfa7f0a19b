"""Steel in elements of kinds that are not read: railings, stairs, slabs of chequer plate, assemblies drawn whole."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import ifcopenshell

from takeoff.ifc.context import Context, Entity, argument
from takeoff.ifc.representations import body_items
from takeoff.queries import CHECK, Query, query, register

OTHER_STEEL = register(
    "elements-not-read",
    CHECK,
    "Steel in elements of other kinds is not in the lists ({0}).",
    "Ask whether it belongs to the job; have it written as members and plates if it does.",
)


def steel_elsewhere(
    ctx: Context, read: Sequence[str], is_steel: Callable[[Entity], bool], has_parts: Callable[[Entity], bool]
) -> list[Query]:
    """A query that counts elements of other classes than ``read`` with a body of steel of their own, if any."""
    found: list[tuple[str, str]] = []
    for kind in _other_classes(ctx, (*read, "IfcFeatureElement")):
        for element in ctx.file.by_type(kind, include_subtypes=False):
            if is_steel(element) and not has_parts(element) and body_items(element):
                found.append((kind, str(argument(element, 0))))
    if not found:
        return []
    kinds = sorted({kind for kind, _ in found})
    names = ", ".join(f"{sum(kind == other for other, _ in found)} {kind}" for kind in kinds)
    return [query(OTHER_STEEL, names, global_ids=tuple(sorted(global_id for _, global_id in found)))]


def _other_classes(ctx: Context, passed: Sequence[str]) -> list[str]:
    """Classes of elements in the file that are none of ``passed`` nor their subclasses."""
    schema = ifcopenshell.ifcopenshell_wrapper.schema_by_name(ctx.file.schema_identifier)
    classes = []
    for name in ctx.file.types():
        declaration = schema.declaration_by_name(name)
        if declaration._is("IfcElement") and not any(_is(declaration, kind) for kind in passed):
            classes.append(str(declaration.name()))
    return sorted(classes)


def _is(declaration: Entity, kind: str) -> bool:
    try:
        return bool(declaration._is(kind))
    except RuntimeError:  # a class that this schema does not have
        return False
