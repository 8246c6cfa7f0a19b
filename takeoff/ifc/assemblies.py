"""Assemblies of the model and which of them each part lies in."""

from __future__ import annotations

from takeoff.ifc import words
from takeoff.ifc.context import Context, Entity, argument, related
from takeoff.ifc.properties import Properties, looks_like_mark
from takeoff.steel import ModelAssembly


class Assemblies:
    """Aggregation: the parts of a whole, through any depth."""

    def __init__(self, ctx: Context) -> None:
        self.whole: dict[int, Entity] = {}
        """The element a part was aggregated into, by the part's id."""
        self.broken_up: set[int] = set()
        """Ids of elements that have parts."""
        for whole, parts in related(ctx.file, "IfcRelAggregates", 4, 5):
            if not whole.is_a("IfcElement"):
                continue
            self.broken_up.add(whole.id())
            for part in parts:
                self.whole[part.id()] = whole
        self._innermost: dict[int, str] = {}

    def innermost(self, element: Entity) -> str:
        """GlobalId of the nearest IfcElementAssembly above an element, empty where it is loose."""
        whole = self.whole.get(element.id())
        if whole is None:
            return ""
        key = whole.id()
        found = self._innermost.get(key)
        if found is None:
            found = self._innermost[key] = self._climb(whole)
        return found

    def _climb(self, whole: Entity) -> str:
        seen: set[int] = set()
        step: Entity | None = whole
        while step is not None and step.id() not in seen:
            if step.is_a("IfcElementAssembly"):
                return str(argument(step, 0))
            seen.add(step.id())
            step = self.whole.get(step.id())
        return ""


def read_assemblies(
    ctx: Context, assemblies: Assemblies, properties: Properties, parts: list[Entity]
) -> list[ModelAssembly]:
    """Every IfcElementAssembly with its mark, in the order of GlobalIds.

    The mark is the assembly's own property, else its Tag where that looks like one, else the
    assembly mark on which the properties of all its parts agree.
    """
    agreed: dict[int, set[str]] = {}
    for part in parts:
        whole = assemblies.whole.get(part.id())
        if whole is not None:
            stated = properties.meaning(part).get("assembly")
            agreed.setdefault(whole.id(), set()).add(stated[1] if stated else "")
    found = []
    for element in ctx.file.by_type("IfcElementAssembly"):
        meaning = properties.meaning(element)
        stated = meaning.get("assembly") or meaning.get("mark")
        mark = stated[1] if stated else ""
        if not mark:
            tag = words.known(argument(element, 7))
            mark = tag if looks_like_mark(tag) else ""
        if not mark:
            said = agreed.get(element.id(), set())
            mark = next(iter(said)) if len(said) == 1 else ""
        name = str(argument(element, 2) or "").strip()
        found.append(ModelAssembly(str(argument(element, 0)), name, mark, assemblies.innermost(element), ctx.name))
    return sorted(found, key=lambda assembly: assembly.global_id)
