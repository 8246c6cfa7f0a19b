"""Property sets of products and of their types, and what the shop wants from them: marks, grade, finish.

Sets come in one pass over the relations. A product's own sets come before its type's;
sets of one level are in the order of their names, so that two files that differ only in
the order of their entities say the same. A set that is there twice is read twice and
does no harm: the first known value counts.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass

from takeoff.ifc import words
from takeoff.ifc.context import Context, Entity, argument, entities, related

_MARKS = {name: rank for rank, name in enumerate(words.MARK_PROPERTIES)}
_ASSEMBLIES = {name: rank for rank, name in enumerate(words.ASSEMBLY_MARK_PROPERTIES)}
_GRADES = {name: rank for rank, name in enumerate(words.GRADE_PROPERTIES)}
_FINISHES = {name: rank for rank, name in enumerate(words.FINISH_PROPERTIES)}
_SECTIONS = {name: rank for rank, name in enumerate(words.SECTION_PROPERTIES)}
_MEANINGS = (
    ("mark", _MARKS),
    ("assembly", _ASSEMBLIES),
    ("grade", _GRADES),
    ("finish", _FINISHES),
    ("section", _SECTIONS),
)
_REFERENCE = 1000
"""Rank of ``Reference`` of a Pset_*Common: after every property that means a part mark."""

_IDENTIFIER = re.compile(
    r"^(ID[0-9A-Fa-f]{6,}[-0-9A-Fa-f]*"  # an internal number with its prefix
    r"|\{?[0-9A-Fa-f]{8}-(?:[0-9A-Fa-f]{4}-){3}[0-9A-Fa-f]{12}\}?"  # UUID
    r"|[0-3][0-9A-Za-z_$]{21}"  # IfcGloballyUniqueId
    r"|[0-9]+(?:\.[0-9]+){2,}"  # paths of internal numbers
    r"|[0-9]{5,}"  # database numbers
    r"|0)$"
)


def looks_like_mark(text: str) -> bool:
    """Whether a Tag can be a mark: short, with no more than one space, and no identifier of the authoring program."""
    return 0 < len(text) <= 24 and text.count(" ") <= 1 and not _IDENTIFIER.match(text)


@dataclass(frozen=True, slots=True)
class Stated:
    """What a property set says: (meaning, rank, text), the best of each meaning."""

    values: tuple[tuple[str, int, str], ...] = ()


_NOTHING = Stated()
_VALUED = ("IfcPropertySingleValue", "IfcPropertyEnumeratedValue")


class Properties:
    """Property sets by element, and the type of each element."""

    def __init__(self, ctx: Context) -> None:
        self._sets: dict[int, list[Entity]] = defaultdict(list)
        self.types: dict[int, Entity] = {}
        """IfcTypeObject by element id."""
        self._stated: dict[int, Stated] = {}
        self._sorted: dict[int, tuple[Entity, ...]] = {}
        self._names: dict[str, tuple[tuple[str, int], ...]] = {}
        self._said: dict[int, tuple[tuple[str, int, str], ...]] = {}
        """What a property says, by its id; a file may share one among many sets."""
        for definition, elements in related(ctx.file, "IfcRelDefinesByProperties", 5, 4):
            inner = definition.is_a() == "IfcPropertySetDefinitionSet"
            definitions = entities(argument(definition, 0)) if inner else (definition,)
            for element in elements:
                self._sets[element.id()] += definitions
        for kind, elements in related(ctx.file, "IfcRelDefinesByType", 5, 4):
            for element in elements:
                self.types[element.id()] = kind

    def sets(self, element: Entity) -> tuple[Entity, ...]:
        """The element's own property sets, then its type's, each level by name. Quantities too."""
        key = element.id()
        own = self._in_order(key, self._sets.get(key, ()))
        kind = self.types.get(key)
        if kind is None:
            return own
        type_key = kind.id()
        if type_key not in self._sorted:
            self._sets[type_key] += entities(argument(kind, 5)) if kind.is_a("IfcTypeObject") else ()
        return own + self._in_order(type_key, self._sets[type_key])

    def _in_order(self, key: int, found: list[Entity] | tuple[()]) -> tuple[Entity, ...]:
        known = self._sorted.get(key)
        if known is None:
            if len(found) > 1:
                found = sorted(found, key=lambda e: (str(argument(e, 2) or ""), str(argument(e, 0))))
            known = self._sorted[key] = tuple(found)
        return known

    def meaning(self, element: Entity) -> dict[str, tuple[int, str]]:
        """Mark, assembly, grade, finish and section as (rank of the property's name, text), those that are stated."""
        best: dict[str, tuple[int, str]] = {}
        for definition in self.sets(element):
            key = definition.id()
            stated = self._stated.get(key)
            if stated is None:
                stated = self._stated[key] = self._read(definition)
            for meaning, rank, text in stated.values:
                if meaning not in best or rank < best[meaning][0]:
                    best[meaning] = (rank, text)
        return best

    def _read(self, definition: Entity) -> Stated:
        if definition.is_a() != "IfcPropertySet":
            return _NOTHING
        common = re.match(r"Pset_\w+Common$", str(argument(definition, 2) or "")) is not None
        found: list[tuple[str, int, str]] = []
        for prop in entities(argument(definition, 4)):
            key = prop.id()
            said = self._said.get(key)
            if said is None:
                said = self._said[key] = self._one(prop)
            if said:
                found += said
            elif common and argument(prop, 0) == "Reference" and prop.is_a() in _VALUED:
                text = _text(prop)
                if text:
                    found.append(("mark", _REFERENCE, text))
        return Stated(tuple(found)) if found else _NOTHING

    def _one(self, prop: Entity) -> tuple[tuple[str, int, str], ...]:
        """(meaning, rank, text) for each meaning of a property's name; none where it has no text."""
        name = str(argument(prop, 0) or "")
        meanings = self._names.get(name)
        if meanings is None:
            meanings = self._names[name] = _meanings(name)
        if not meanings or prop.is_a() not in _VALUED:
            return ()
        text = _text(prop)
        return tuple((meaning, rank, text) for meaning, rank in meanings) if text else ()


def _meanings(name: str) -> tuple[tuple[str, int], ...]:
    bare = words.plain(name)
    found = []
    for meaning, ranks in _MEANINGS:
        rank = ranks.get(bare)
        if rank is not None:
            found.append((meaning, rank))
    return tuple(found)


def _text(prop: Entity) -> str:
    value = argument(prop, 2)
    if isinstance(value, tuple):  # an enumerated value
        value = value[0] if len(value) == 1 else None
    return words.known(argument(value, 0)) if entities(value) else ""
