"""Fasteners of a model: bolts one by one or in groups, anchors, studs, rods, nuts, washers, welds.

``read_fasteners`` gives one steel.Fastener for every product, whatever it finds in it:
bolts, or a status with a reason. Bodies are evaluated once for each representation map;
placements of all products are worked out together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.fastener_axes import COLUMNS, bolts_of, odd_ones
from takeoff.ifc.fastener_bodies import turned_bodies
from takeoff.ifc.fastener_facts import Facts, facts_of, kind_of_class
from takeoff.ifc.fastener_properties import Stated, stated_of
from takeoff.ifc.fastener_words import BOLT, NUT, OTHER, ROD, STEP_BOLT, STUD, WASHER, WELD
from takeoff.ifc.maps import map_matrix
from takeoff.ifc.placements import frames
from takeoff.ifc.properties import Properties
from takeoff.ifc.representations import body_items
from takeoff.ifc.turned import Turned
from takeoff.queries import ASSUMED, CHECK, HOLD, register
from takeoff.settings import HoleSettings
from takeoff.steel import BOUGHT_OUT, HELD, LEFT_OUT, LISTED, Bolt, Fastener, FloatArray, Problem

NOT_READ = register(
    "bolt-not-read",
    HOLD,
    "These fasteners could not be read: {0}.",
    "Add their holes to the parts by hand, or have them written again as plain bolts.",
)
NO_BODY = register(
    "bolt-without-body",
    ASSUMED,
    "These bolts are placed but not drawn; each was taken at its placement, along its local z axis.",
    "Check the holes they make, or have the bolts drawn in the model.",
)
NO_BOLT = register(
    "bolt-empty",
    HOLD,
    "These fasteners are neither drawn nor placed.",
    "Have them written again with a place, or add their holes by hand.",
)
COUNT_DIFFERS = register(
    "bolt-count-differs",
    CHECK,
    "The model says {0} bolts but {1} are drawn; what is drawn was used.",
    "Ask the designer how many bolts are meant.",
)

TOTALS_TAKEN = register(
    "bolt-counts-of-groups",
    ASSUMED,
    "The nuts or washers that these groups of bolts state were taken as the number of the whole group.",
    "Check one group: if the number is meant for one bolt, the order list has too few of them.",
)
COUNTS_UNEVEN = register(
    "bolt-counts-uneven",
    CHECK,
    "These groups of {0} bolts state {1} nuts and {2} washers, which is no whole number for each bolt.",
    "Ask the designer how many nuts and washers go on each bolt; the job's own numbers were counted.",
)
BENT = register(
    "bolt-bent",
    CHECK,
    "These fasteners are bent; only their straight legs were read, each as a bolt.",
    "Check the holes of both legs; hooks and bends make none.",
)
ODD_BODIES = register(
    "bolt-odd-bodies",
    CHECK,
    "Of what these fasteners draw, {0} bodies are no bolts and were left out.",
    "See whether a plate or a washer is drawn with the bolts that has to be made.",
)

DAMAGE: Final = (TypeError, ValueError, IndexError, AttributeError, RuntimeError, ArithmeticError)
"""What reading an entity that breaks its schema raises (LinAlgError is a ValueError)."""
FASTENER_CLASSES: Final = ("IfcMechanicalFastener", "IfcFastener")
_NAME, _OBJECT_TYPE, _SHAPE, _FIRST_OWN = 2, 4, 6, 8
"""Attribute positions of IfcElement and its subtypes, the same in IFC2x3, IFC4 and IFC4x3."""
_USUAL_HOLES: Final = HoleSettings()
_EYE: Final = np.eye(4)
_NO_ROWS: Final = np.empty((0, COLUMNS))


@dataclass(frozen=True, slots=True)
class Heard:
    """What a part of another class is as a fastener, and further texts that may have its size."""

    kind: str
    texts: tuple[str, ...] = ()


_HEARD_NOTHING: Final[Mapping[int, Heard]] = MappingProxyType({})


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """Bolts a representation draws: rows of COLUMNS in the axes of ``matrix`` (None: the product's own)."""

    rows: FloatArray
    thickness: float = 0.0
    length: float = 0.0
    failure: str = ""
    problems: tuple[Problem, ...] = ()
    bent: int = 0
    """How many of the bodies are bent rods, whose legs are rows of their own."""


def fastener_kind(ifc_class: str, predefined: str, *texts: str) -> str:
    """bolt, anchor, stud, rod, nut, washer, weld or other; empty where a product is no fastener.

    ``texts`` are its name, object type, section and type's name, whichever it has.
    """
    return kind_of_class(ifc_class, predefined, [text for text in texts if text])


def read_fasteners(
    ctx: Context,
    products: Sequence[Entity],
    properties: Properties | None = None,
    holes: HoleSettings = _USUAL_HOLES,
    heard: Mapping[int, Heard] = _HEARD_NOTHING,
    nuts: bool = False,
) -> list[Fastener]:
    """One Fastener for each product, in their order; bolts in model coordinates, mm.

    Products may be of any class; those of other classes than IfcMechanicalFastener and
    IfcFastener are judged by their names (see ``fastener_kind``). ``count`` is as
    stated, of the whole entity; ``nuts`` and ``washers`` are worked out for one bolt.
    ``holes`` tells how thick a bolt may be drawn for the hole it stands in, ``heard`` what is known already of some
    products by their id; with ``nuts`` nuts and washers have their axes as bolts.
    """
    matrices, unplaced = frames(ctx, products)
    reader = _Reader(ctx, Properties(ctx) if properties is None else properties, holes, heard, nuts)
    drawn: list[_Drawn] = []
    stated: list[tuple[Stated, ...]] = []
    moved: list[int] = []
    moves: list[FloatArray] = []
    for i, product in enumerate(products):
        sets = reader.stated(product)
        stated.append(sets)
        body, own = reader.drawn(product, sets)
        drawn.append(body)
        if own is not None:
            moved.append(i)
            moves.append(own)
    if moved:
        matrices[moved] = matrices[moved] @ np.array(moves)
    bolts = _in_model(drawn, matrices)
    return [
        reader.fastener(product, stated[i], drawn[i], bolts[i], matrices[i], unplaced.get(i, ""))
        for i, product in enumerate(products)
    ]


def _in_model(drawn: Sequence[_Drawn], matrices: FloatArray) -> list[tuple[Bolt, ...]]:
    """Bolts of each product: its rows under its matrix, all products of one body in one go."""
    by_body: dict[int, list[int]] = {}
    placed = {int(i) for i in np.flatnonzero(np.isfinite(matrices.reshape(-1, 16)).all(axis=1))}
    for i, body in enumerate(drawn):
        if len(body.rows) and i in placed:
            by_body.setdefault(id(body), []).append(i)
    result: list[tuple[Bolt, ...]] = [()] * len(drawn)
    for indices in by_body.values():
        rows = drawn[indices[0]].rows
        points, along, shank, across = _moved(rows, matrices[indices])
        # noise of the last digits would make like bolts differ, and -0.0 prints badly
        places = (np.round(points, 6) + 0.0).tolist()
        ways = (np.round(along, 12) + 0.0).tolist()
        shanks = np.round(shank, 6).tolist()
        thick = np.round(across, 6).tolist()
        for k, i in enumerate(indices):
            result[i] = tuple(
                [
                    Bolt((px, py, pz), (dx, dy, dz), s, t)
                    for (px, py, pz), (dx, dy, dz), s, t in zip(places[k], ways[k], shanks[k], thick[k], strict=True)
                ]
            )
    return result


def _moved(rows: FloatArray, matrices: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Points (k, n, 3), unit directions (k, n, 3), shanks and diameters (k, n) of n rows under k matrices (4, 4)."""
    turn = matrices[:, :3, :3]
    points = np.einsum("kij,nj->kni", turn, rows[:, :3]) + matrices[:, None, :3, 3]
    along = np.einsum("kij,nj->kni", turn, rows[:, 3:6])
    stretch = np.linalg.norm(along, axis=2)
    across = np.sqrt(np.abs(np.linalg.det(turn))[:, None] / stretch)
    return points, along / stretch[:, :, None], stretch * rows[:, 6], across * rows[:, 7]


class _Reader:
    """Caches of one call: bodies by representation map and facts by what is stated."""

    def __init__(
        self, ctx: Context, properties: Properties, holes: HoleSettings, heard: Mapping[int, Heard], nuts: bool
    ) -> None:
        self.ctx = ctx
        self.properties = properties
        self.holes = holes
        self.heard = heard
        self.nuts = nuts
        self.bodies: dict[Any, _Drawn] = {}
        self.facts: dict[Any, Facts] = {}
        self.types: dict[int, tuple[Any, ...]] = {}
        self.groups: dict[Any, tuple[FloatArray, tuple[Problem, ...], int]] = {}
        self.nothing = _Drawn(_NO_ROWS)

    def drawn(self, product: Entity, sets: Sequence[Stated]) -> tuple[_Drawn, FloatArray | None]:
        """What a product draws, and the (4, 4) from its own axes to the product's (None: the same)."""
        items = body_items(product)
        if not items:
            return self.nothing, None
        if len(items) == 1 and items[0].is_a() == "IfcMappedItem":
            item = items[0]
            source = argument(item, 0)
            key = ("map", source.id(), _expected(sets) if sets else None)
            body = self.bodies.get(key)
            if body is None:
                body = self.bodies[key] = self._read_all(list(argument(argument(source, 1), 3)), key[2])
            if body.failure:
                return body, None
            try:
                return body, map_matrix(self.ctx, item)
            except Unread as error:
                return _Drawn(_NO_ROWS, failure=error.sentence), None
            except DAMAGE as error:
                return _Drawn(_NO_ROWS, failure=f"its mapping is damaged in the model file ({_kind(error)})"), None
        key = ("shape", argument(product, _SHAPE).id(), _expected(sets))
        body = self.bodies.get(key)
        if body is None:
            body = self.bodies[key] = self._read_all(items, key[2])
        return body, None

    def stated(self, product: Entity) -> tuple[Stated, ...]:
        """What a product's property sets and its type's say."""
        sets = self.properties.sets(product)
        return tuple([stated_of(self.ctx, s) for s in sets]) if sets else ()

    def _read_all(self, items: Sequence[Entity], expected: int | None) -> _Drawn:
        try:
            rows, problems, bent = self._rows(items, expected)
        except Unread as error:
            return _Drawn(_NO_ROWS, failure=error.sentence)
        except DAMAGE as error:
            return _Drawn(_NO_ROWS, failure=f"its body is damaged in the model file ({_kind(error)})")
        if not np.isfinite(rows).all():
            return _Drawn(_NO_ROWS, failure="its body is damaged in the model file (numbers missing)")
        if not len(rows):
            return self.nothing
        return _Drawn(rows, float(np.median(rows[:, 7])), float(np.median(rows[:, 6])), problems=problems, bent=bent)

    def _rows(self, items: Sequence[Entity], expected: int | None) -> tuple[FloatArray, tuple[Problem, ...], int]:
        """A group whose items all map one representation has a bolt (or more) an item: evaluated once."""
        if len(items) > 1 and all(item.is_a() == "IfcMappedItem" for item in items):
            representations = [argument(argument(item, 0), 1) for item in items]
            representation = representations[0]
            if len({each.id() for each in representations}) == 1:
                each = expected // len(items) if expected and expected % len(items) == 0 else None
                rows, problems, bent = self._bolts(list(argument(representation, 3)), each)
                return self._mapped(rows, items), problems, bent * len(items)
        return self._bolts(items, expected)

    def _bolts(self, items: Sequence[Entity], expected: int | None) -> tuple[FloatArray, tuple[Problem, ...], int]:
        """Rows of the bolts some items of one representation draw, what else they draw, how many bent rods."""
        key = ("items", tuple(item.id() for item in items), expected)
        found = self.groups.get(key)
        if found is None:
            bodies: list[Turned] = []
            bent = 0
            for item in items:
                drawn = turned_bodies(self.ctx, item)
                bent += any(body.bent for body in drawn)
                bodies += drawn
            rows = bolts_of(bodies, expected)
            odd = odd_ones(rows)
            problems = []
            if odd.any():
                problems.append(Problem(ODD_BODIES, (str(int(odd.sum())),)))
            if bent:
                problems.append(Problem(BENT))
            found = self.groups[key] = (rows[~odd], tuple(problems), bent)
        return found

    def _mapped(self, rows: FloatArray, items: Sequence[Entity]) -> FloatArray:
        """Rows of one representation in the axes of each of the items that map it."""
        found = [map_matrix(self.ctx, item) for item in items]
        matrices = np.array([_EYE if matrix is None else matrix for matrix in found])
        points, along, shank, across = _moved(rows, matrices)
        table = np.concatenate([points, along, shank[:, :, None], across[:, :, None]], axis=2)
        return table.reshape(-1, COLUMNS)

    def fastener(
        self,
        product: Entity,
        sets: tuple[Stated, ...],
        body: _Drawn,
        bolts: tuple[Bolt, ...],
        matrix: FloatArray,
        unplaced: str,
    ) -> Fastener:
        facts = self._facts(product, sets, body)
        status, reason, problems = LISTED, "", (*facts.problems, *body.problems)
        if facts.kind not in _HOLED:
            status, reason = _NOT_HOLED[facts.kind]
            bolts, problems = bolts if self.nuts and facts.kind in (NUT, WASHER) else (), ()
        elif unplaced or body.failure:
            sentence = unplaced or body.failure
            status, reason, bolts = HELD, sentence, ()
            problems = (*problems, Problem(NOT_READ, (sentence,)))
        elif not bolts and _children(product):
            status, reason, problems = LEFT_OUT, "it only holds other parts together, which are listed themselves", ()
        elif not bolts and product.is_a() not in FASTENER_CLASSES:
            status, reason = HELD, "it is named as a fastener, but nothing is drawn of it"
            problems = (*problems, Problem(NOT_READ, (reason,)))
        elif not bolts and argument(product, 5) is None:
            status, reason = HELD, "it is neither drawn nor placed"
            problems = (*problems, Problem(NO_BOLT))
        elif not bolts:
            point, along = matrix[:3, 3], matrix[:3, 2]
            place = tuple((np.round(point, 6) + 0.0).tolist())
            way = tuple((np.round(along, 12) + 0.0).tolist())
            bolts = (Bolt(place, way, facts.length or 0.0),)
            problems = (*problems, Problem(NO_BODY))
        pieces = body.bent if bolts and body.bent else None
        if facts.kind in _HOLED and bolts and facts.count not in (None, len(bolts), pieces):
            problems = (*problems, Problem(COUNT_DIFFERS, (str(facts.count), str(pieces or len(bolts)))))
        nuts, washers, more = _of_one(facts.nuts, facts.washers, len(bolts))
        problems = (*problems, *more)
        return Fastener(
            global_id=argument(product, 0) or "",
            ifc_class=product.is_a(),
            name=argument(product, _NAME) or "",
            model=self.ctx.name,
            # a bent bolt is bought by its drawing, not from the list of straight ones
            kind=ROD if pieces and facts.kind == BOLT else facts.kind,
            diameter=facts.diameter,
            length=facts.length,
            grade=facts.grade,
            standard=facts.standard,
            hole_diameter=facts.hole_diameter,
            slot_x=facts.slot_x,
            slot_y=facts.slot_y,
            nuts=nuts,
            washers=washers,
            place=facts.place,
            count=facts.count,
            bolts=bolts,
            status=status,
            reason=reason,
            problems=problems,
            pieces=pieces,
        )

    def _facts(self, product: Entity, sets: tuple[Stated, ...], body: _Drawn) -> Facts:
        ifc_class = product.is_a()
        diameter = length = None
        predefined = ""
        if ifc_class == "IfcMechanicalFastener":
            diameter, length = argument(product, _FIRST_OWN), argument(product, _FIRST_OWN + 1)
            if self.ctx.schema != "IFC2X3":
                predefined = argument(product, _FIRST_OWN + 2) or ""
        elif ifc_class == "IfcFastener" and self.ctx.schema != "IFC2X3":
            predefined = argument(product, _FIRST_OWN) or ""
        kind_entity = self.properties.types.get(product.id())
        typed = self._type(kind_entity) if kind_entity is not None else _NO_TYPE
        name, object_type = argument(product, _NAME) or "", argument(product, _OBJECT_TYPE) or ""
        heard = self.heard.get(product.id()) if self.heard else None
        key = (
            heard, ifc_class, predefined, diameter, length, typed, tuple(map(id, sets)), name, object_type,
            body.thickness, body.length, body.bent > 0,
        )  # fmt: skip
        found = self.facts.get(key)
        if found is None:
            type_name, type_diameter, type_length, type_predefined = typed
            texts = [text for text in (name, object_type, type_name) if text]
            kind = kind_of_class(ifc_class, _enum(predefined) or _enum(type_predefined), texts) or OTHER
            if heard is not None:
                kind, texts = heard.kind, [*texts, *heard.texts]
            found = self.facts[key] = facts_of(
                kind,
                _given(("attribute", diameter), ("type", type_diameter)),
                _given(("attribute", length), ("type", type_length)),
                texts,
                sets,
                self.ctx.mm,
                body.thickness,
                body.length,
                self.holes,
                straight=not body.bent,
            )
        return found

    def _type(self, kind: Entity) -> tuple[Any, ...]:
        """(name, diameter, length, predefined type) of a type; cached."""
        key = kind.id()
        found = self.types.get(key)
        if found is None:
            diameter = length = None
            predefined = ""
            if kind.is_a() == "IfcMechanicalFastenerType" and self.ctx.schema != "IFC2X3":
                predefined, diameter, length = kind.PredefinedType or "", kind.NominalDiameter, kind.NominalLength
            found = self.types[key] = (kind.Name or "", diameter, length, predefined)
        return found


def _expected(sets: Sequence[Stated]) -> int | None:
    """How many bolts the model says a product has."""
    for stated in sets:
        for meaning, _, value in stated.values:
            if meaning == "count":
                return int(value) or None
    return None


def _kind(error: Exception) -> str:
    return f"{type(error).__name__}: {str(error).strip()[:80]}"


def _children(product: Entity) -> bool:
    """Whether a product is an assembly of others."""
    return bool(product.IsDecomposedBy)


_NO_TYPE: tuple[Any, ...] = ("", None, None, "")
_HOLED: Final = frozenset({BOLT, STEP_BOLT, "anchor", "rod", STUD})
"""Kinds that pass through steel and so make holes."""
_NOT_HOLED: Final = {
    NUT: (BOUGHT_OUT, "a nut drawn on its own"),
    WASHER: (BOUGHT_OUT, "a washer drawn on its own"),
    WELD: (LEFT_OUT, "a weld, not a bolt"),
    OTHER: (LEFT_OUT, "a fastener that makes no hole"),
}


def _enum(value: str) -> str:
    return "" if value in ("NOTDEFINED", "USERDEFINED") else value


def _given(*pairs: tuple[str, float | None]) -> list[tuple[str, float]]:
    return [(source, float(value)) for source, value in pairs if value is not None]


def _of_one(nuts: int | None, washers: int | None, bolts: int) -> tuple[int | None, int | None, tuple[Problem, ...]]:
    """Nuts and washers of one bolt, from what a group states: real models state the whole group's.

    A number smaller than the group can only be meant for each bolt.
    """
    if bolts < 2:
        return nuts, washers, ()
    found: list[int | None] = []
    taken = uneven = False
    for stated in (nuts, washers):
        if not stated or stated < bolts:
            found.append(stated)
        elif stated % bolts == 0:
            found.append(stated // bolts)
            taken = True
        else:
            found.append(None)
            uneven = True
    problems: tuple[Problem, ...] = (Problem(TOTALS_TAKEN),) if taken else ()
    if uneven:
        problems = (*problems, Problem(COUNTS_UNEVEN, (str(bolts), str(nuts or 0), str(washers or 0))))
    return found[0], found[1], problems
