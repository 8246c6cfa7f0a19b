"""The least that writes a structural steel model to IFC: for tests, demo models and benchmarks.

Everything is given in mm in model coordinates and written in the model's unit. A member's
frame is the piece frame of ``steel.py`` (rows x, u, v), so that a test states what the reader
must find. Same calls, same bytes: GlobalIds come from a counter, the date is fixed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from takeoff.ifc.placement_axes import WORLD, axes, facing, frame, side
from takeoff.ifc.profile_writer import Outline, ProfileWriter, Ring
from takeoff.ifc.solid_writer import Cut, SolidWriter, hex_sizes
from takeoff.ifc.spatial_writer import UNITS_MM, owner_history, representation_context, spatial_tree
from takeoff.ifc.step_text import Enum, Ref, StepText, Typed
from takeoff.steel import Frame

DATE: Final = "2024-05-06T07:08:09"
ENDS: Final = {
    "IfcRelAggregates": ("RelatingObject", "RelatedObjects"),
    "IfcRelAssociatesMaterial": ("RelatingMaterial", "RelatedObjects"),
    "IfcRelDefinesByType": ("RelatingType", "RelatedObjects"),
    "IfcRelDefinesByProperties": ("RelatingPropertyDefinition", "RelatedObjects"),
}


@dataclass(frozen=True, slots=True)
class Length:
    """A length in mm for a property: written in the model's unit."""

    mm: float
    type: str = "IfcPositiveLengthMeasure"


__all__ = ["WORLD", "Length", "ModelWriter", "Part", "bolt_length", "frame"]

Value = str | float | int | bool | Typed | Length | None
Psets = Mapping[str, Mapping[str, Value]]


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A product that was written.

    ``frame`` is the piece frame it was given; ``local`` its placement's axes (rows x, y, z); both in
    model coordinates.
    """

    ref: Ref
    global_id: str
    placement: Ref
    frame: Frame
    local: Frame


class ModelWriter:
    """One model. ``origin`` (mm) and ``rotation`` (3, 3 acting on columns) move it as a whole.

    ``offset`` says where that move is written: ``site`` (the site's placement) or ``parts`` (into
    every placement, as flat models with real-world coordinates do).
    """

    def __init__(
        self,
        schema: str = "IFC4",
        unit: str = "mm",
        origin: npt.ArrayLike = (0, 0, 0),
        rotation: npt.ArrayLike | None = None,
        offset: str = "site",
        name: str = "model",
    ) -> None:
        if unit not in UNITS_MM:
            raise ValueError(f"unit {unit} is not one of {', '.join(UNITS_MM)}")
        if offset not in ("site", "parts"):
            raise ValueError(f"the offset is written to site or parts, not {offset}")
        turn = np.eye(3) if rotation is None else np.asarray(rotation, dtype=float)
        self.step = StepText(schema)
        self.name = name
        self.k = 1 / UNITS_MM[unit]
        self.profiles = ProfileWriter(self.step, self.k)
        self._move = Frame(np.asarray(origin, dtype=float), turn.T)
        self._parts_move = offset == "parts"
        self._maps: dict[tuple[Any, ...], Ref] = {}
        self._types: dict[tuple[str, str], Ref] = {}
        self._related: dict[tuple[str, Ref], list[Ref]] = {}
        self._contained: list[Ref] = []
        self._owner = owner_history(self.step)
        context = representation_context(self.step)
        self.solids = SolidWriter(self.step, self.profiles, self.k, context)
        site = WORLD if self._parts_move else self._move
        self._storey, self._storey_placement = spatial_tree(
            self.step,
            name,
            unit,
            self._owner,
            context,
            self.solids.axis3(site.origin, site.axes[2], site.axes[0]),
        )

    def member(
        self,
        profile: Ref,
        at: Frame,
        length: float,
        kind: str = "IfcMember",
        clips: Sequence[Cut] = (),
        shared: bool = False,
        style: str = "z",
        agreement: bool = False,
        **named: Any,
    ) -> Part:
        """An extruded part whose profile runs along ``at``'s x from 0 to ``length``.

        ``style`` is the extrusion's direction in the part's own placement (z, -z, x, -x): the same
        steel, four ways of writing it. ``clips`` are cuts in the part's (x, u, v). ``shared`` puts the
        body into a representation map used by every part with the same body. ``agreement`` writes
        the clips' planes the other way round. Further names: see ``product``.
        """
        key = (profile, length, repr(clips), style, agreement)
        form = "Clipping" if clips else "SweptSolid"
        shape = self._shape(lambda: [self.solids.solid(profile, length, clips, style, agreement)], form, key, shared)
        x, u, v = at.axes
        start = at.origin + x * length if style[0] == "-" else at.origin
        local = axes(start, x, u) if style[-1] == "z" else axes(start, v, x)
        return self.product(kind, local, shape, at, **named)

    def plate(
        self,
        outline: Outline,
        at: Frame,
        thickness: float,
        voids: Sequence[Outline | Ring] = (),
        kind: str = "IfcPlate",
        curve: str = "polyline",
        profile_name: str = "",
        shared: bool = False,
        **named: Any,
    ) -> Part:
        """A plate: ``outline`` in (x, across) of the piece frame ``at``; steel from u = 0 to ``thickness``.

        ``curve``: polyline, indexed or composite (the last two take bulges). Further names: see ``product``.
        """
        profile = self.profiles.closed(outline, voids, curve, profile_name)
        shape = self._shape(
            lambda: [self.solids.extrude(profile, thickness)], "SweptSolid", (profile, thickness), shared
        )
        return self.product(kind, facing(at, thickness), shape, at, **named)

    def mesh(
        self,
        vertices: npt.ArrayLike,
        faces: Sequence[Sequence[int]],
        at: Frame = WORLD,
        kind: str = "IfcMember",
        form: str = "brep",
        **named: Any,
    ) -> Part:
        """A part drawn as facets: ``form`` brep, or tessellation (IFC4 and later).

        ``vertices`` (n, 3) are (x, u, v) of ``at``; ``faces`` are corner lists, 0-based, seen from outside
        anti-clockwise.
        """
        if form == "brep":
            shape = self.solids.shape([self.solids.brep(vertices, faces)], "Brep")
        elif form == "tessellation":
            shape = self.solids.shape([self.solids.tessellation(vertices, faces)], "Tessellation")
        else:
            raise ValueError(f"form {form} is not brep or tessellation")
        return self.product(kind, axes(at.origin, at.axes[2], at.axes[0]), shape, at, **named)

    def opening(
        self,
        part: Part,
        shape: Outline | Ring,
        at: Frame,
        depth: float,
        curve: str = "polyline",
        absolute: bool = False,
        voids: bool = True,
    ) -> Part:
        """An opening of ``part``: ``shape`` in (x, v) of ``at`` (model coordinates), ``depth`` along u.

        ``absolute`` places it in the world instead of relative to its part; ``voids=False`` leaves
        out the relation that cuts it.
        """
        if isinstance(shape, Ring):
            profile = self.profiles.circle(shape.diameter, at=(shape.u, shape.v, 0))
        else:
            profile = self.profiles.closed(shape, curve=curve)
        body = self.solids.shape([self.solids.extrude(profile, depth)], "SweptSolid")
        local = facing(at, depth)
        parent = None if absolute else part
        made = self.product("IfcOpeningElement", local, body, at, contained=False, relative_to=parent)
        if voids:
            self._rooted("IfcRelVoidsElement", RelatingBuildingElement=part.ref, RelatedOpeningElement=made.ref)
        return made

    def bolt(self, point: npt.ArrayLike, direction: npt.ArrayLike, diameter: float, grip: float, **named: Any) -> Part:
        """One bolt: ``point`` under the head, ``direction`` from head to nut. See ``bolts``."""
        return self.bolts([(point, direction)], diameter, grip, **named)

    def bolts(
        self,
        places: Sequence[tuple[npt.ArrayLike, npt.ArrayLike]],
        diameter: float,
        grip: float,
        length: float | None = None,
        body: str = "full",
        drawn: float | None = None,
        stated: bool = True,
        kind: str = "IfcMechanicalFastener",
        **named: Any,
    ) -> Part:
        """A fastener entity of one or many bolts alike, one mapped item a bolt.

        ``body``: full (shank, hexagon head and nut as extrusions), shank (a rod of ``length``), faceted
        (the same as breps, shanks 12-sided) or none. ``length`` defaults to grip + nut + 5 mm, rounded up
        to 5 mm. ``drawn`` is the shank's drawn diameter. ``stated=False`` leaves NominalDiameter and
        NominalLength empty. Further names: see ``product``.
        """
        long = bolt_length(diameter, grip) if length is None else length
        placed = [axes(np.asarray(p, dtype=float), d, side(d)) for p, d in places]
        first = placed[0]
        shape = None
        if body != "none":
            key = ("bolt", drawn or diameter, diameter, grip, long, body)
            if key not in self._maps:
                items = self.solids.bolt(diameter, drawn or diameter, grip, long, body)
                form = "Brep" if body == "faceted" else "SweptSolid"
                self._maps[key] = self.solids.map(items, form)
            moved = [None, *(Frame(first.to_piece(a.origin), a.axes @ first.axes.T) for a in placed[1:])]
            items = [self.solids.mapped(self._maps[key], a) for a in moved]
            shape = self.solids.shape(items, "MappedRepresentation")
        extra: dict[str, Any] = {}
        if stated and kind == "IfcMechanicalFastener":
            extra = {"NominalDiameter": diameter * self.k, "NominalLength": long * self.k}
        return self.product(kind, first, shape, first, extra=extra, **named)

    def assembly(
        self,
        name: str | None = None,
        tag: str | None = None,
        parent: Part | None = None,
        at: Frame = WORLD,
        **named: Any,
    ) -> Part:
        """An IfcElementAssembly, inside ``parent`` where given. Its parts' placements stay the storey's."""
        extra = {"PredefinedType": Enum("NOTDEFINED")}
        local = axes(at.origin, at.axes[2], at.axes[0])
        return self.product("IfcElementAssembly", local, None, at, name, tag, assembly=parent, extra=extra, **named)

    def product(
        self,
        kind: str,
        local: Frame,
        shape: Ref | None,
        at: Frame,
        name: str | None = None,
        tag: str | None = None,
        material: str | None = None,
        psets: Psets | None = None,
        assembly: Part | None = None,
        type_name: str | None = None,
        object_type: str | None = None,
        description: str | None = None,
        contained: bool = True,
        relative_to: Part | str | None = "storey",
        extra: Mapping[str, Any] | None = None,
    ) -> Part:
        """Any product with placement axes ``local`` (rows x, y, z) and a shape of this writer.

        ``tag``, ``material``, ``psets``, ``assembly``, ``type_name``: as named. Strings of a pset become
        IfcLabel, numbers IfcReal or IfcInteger, a ``Length`` a length in the file's unit.
        ``extra`` holds further attributes of the entity.
        """
        identity = self.step.global_id()
        given: dict[str, Any] = {
            "GlobalId": identity, "OwnerHistory": self._owner, "Name": name, "Description": description,
            "ObjectType": object_type, "ObjectPlacement": self._placement(local, relative_to),
            "Representation": shape, **(extra or {}),
        }  # fmt: skip
        if tag is not None:
            given["Tag"] = tag
        ref = self.step.entity(kind, **given)
        if assembly is not None:
            self._relate("IfcRelAggregates", assembly.ref, ref)
        elif contained:
            self._contained.append(ref)
        if material is not None:
            self._relate("IfcRelAssociatesMaterial", self.material(material), ref)
        if type_name is not None:
            self._relate("IfcRelDefinesByType", self.type(kind, type_name), ref)
        for title, values in (psets or {}).items():
            self._relate("IfcRelDefinesByProperties", self._pset(title, values), ref)
        return Part(ref, identity, given["ObjectPlacement"], at, local)

    def material(self, name: str) -> Ref:
        return self.step.once(self.step.text("IfcMaterial", Name=name))

    def type(self, kind: str, name: str, material: str | None = None, psets: Psets | None = None) -> Ref:
        """The type of a class of products (``IfcMember`` gives IfcMemberType), with a material of its own."""
        key = (kind, name)
        if key not in self._types:
            given: dict[str, Any] = {"Name": name}
            if self.step.has(f"{kind}Type", "PredefinedType"):
                given["PredefinedType"] = Enum("NOTDEFINED")
            if psets:
                given["HasPropertySets"] = [self._pset(t, v) for t, v in psets.items()]
            self._types[key] = self._rooted(f"{kind}Type", **given)
        if material is not None:
            self._relate("IfcRelAssociatesMaterial", self.material(material), self._types[key])
        return self._types[key]

    def save(self, path: Path | str) -> Path:
        """Write the relations and the file. The writer is finished then: save once."""
        for (kind, relating), related in self._related.items():
            one, many = ENDS[kind]
            self._rooted(kind, **{one: relating, many: related})
        if self._contained:
            self._rooted(
                "IfcRelContainedInSpatialStructure",
                RelatedElements=self._contained,
                RelatingStructure=self._storey,
            )
        self.step.save(path, self.name, DATE, "model writer")
        return Path(path)

    def _rooted(self, kind: str, **values: Any) -> Ref:
        return self.step.entity(kind, GlobalId=self.step.global_id(), OwnerHistory=self._owner, **values)

    def _relate(self, kind: str, relating: Ref, related: Ref) -> None:
        self._related.setdefault((kind, relating), []).append(related)

    def _shape(self, items: Any, form: str, key: tuple[Any, ...], shared: bool) -> Ref:
        if not shared:
            return self.solids.shape(items(), form)
        if key not in self._maps:
            self._maps[key] = self.solids.map(items(), form)
        return self.solids.shape([self.solids.mapped(self._maps[key])], "MappedRepresentation")

    def _placement(self, local: Frame, relative_to: Part | str | None) -> Ref:
        x, _, z = local.axes
        origin = local.origin
        if isinstance(relative_to, Part):
            host, parent = relative_to.local, relative_to.placement
            origin, x, z = host.to_piece(origin), host.direction_to_piece(x), host.direction_to_piece(z)
        else:
            parent = self._storey_placement if relative_to == "storey" else Ref("$")
            if self._parts_move or relative_to is None:
                origin, x, z = self._move.to_model(origin), x @ self._move.axes, z @ self._move.axes
        return self.step.add(f"IFCLOCALPLACEMENT({parent},{self.solids.axis3(origin, z, x)})")

    def _pset(self, title: str, values: Mapping[str, Value]) -> Ref:
        made = []
        for name, value in values.items():
            if isinstance(value, Length):
                value = Typed(value.type, float(value.mm * self.k))
            elif isinstance(value, bool):
                value = Typed("IfcBoolean", value)
            elif isinstance(value, int):
                value = Typed("IfcInteger", value)
            elif isinstance(value, float):
                value = Typed("IfcReal", value)
            elif isinstance(value, str):
                value = Typed("IfcLabel", value)
            single = self.step.text("IfcPropertySingleValue", Name=name, NominalValue=value)
            made.append(self.step.once(single))
        key = ("pset", title, *made)
        if key not in self._maps:
            self._maps[key] = self._rooted("IfcPropertySet", Name=title, HasProperties=made)
        return self._maps[key]


def bolt_length(diameter: float, grip: float) -> float:
    """A plausible drawn length: grip, nut and 5 mm, rounded up to 5 mm (common practice, no source)."""
    return float(math.ceil((grip + hex_sizes(diameter)[2] + 5) / 5 - 1e-9) * 5)
