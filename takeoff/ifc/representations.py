"""Which of a product's representations is its body."""

from __future__ import annotations

from takeoff.ifc.context import Entity, argument

_BODIES = ("Body", "Facetation", "Tessellation", "Body-Fallback", "Body-FallBack")
"""Identifiers of bodies, the one to prefer first (ISO 16739-1, IfcShapeRepresentation)."""
_SOLID_TYPES = (
    "SweptSolid", "AdvancedSweptSolid", "Clipping", "CSG", "Brep", "AdvancedBrep", "SolidModel", "Tessellation",
    "SurfaceModel", "MappedRepresentation", "SectionedSpine",
)  # fmt: skip


def body_items(product: Entity) -> tuple[Entity, ...]:
    """The items of a product's body; empty where it has none.

    A representation without an identifier counts where its type is one of solids. Items
    that are no bodies (styles, texts) are left out.
    """
    shape = argument(product, 6)
    if shape is None:
        return ()
    representations: tuple[Entity, ...] = argument(shape, 2) or ()
    if len(representations) == 1 and argument(representations[0], 1) == _BODIES[0]:
        items: tuple[Entity, ...] = argument(representations[0], 3) or ()
        if len(items) == 1:
            return items
    best: tuple[int, tuple[Entity, ...]] | None = None
    for representation in representations:
        identifier, kind = argument(representation, 1), argument(representation, 2)
        if identifier in _BODIES:
            rank = _BODIES.index(identifier)
        elif not identifier and (kind in _SOLID_TYPES or not kind):
            rank = len(_BODIES)
        else:
            continue
        if best is None or rank < best[0]:
            best = (rank, argument(representation, 3) or ())
    if best is None:
        return ()
    items = best[1]
    return items if len(items) < 2 else tuple(item for item in items if not item.is_a("IfcStyledItem"))
