"""What becomes of a part: listed, held, left out or bought out, from what it is made of and called.

A part of another material is left out; hardware is bought out; what looks like steel
and cannot be read is held; a proxy or accessory that says nothing of steel and is
drawn as no rolled section is left out, and a query says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from takeoff.ifc import words
from takeoff.ifc.context import Context, Entity, argument
from takeoff.ifc.fastener_words import BOLT, NUT, STEP_BOLT, WASHER, kind_of
from takeoff.ifc.fasteners import fastener_kind
from takeoff.ifc.materials import UNKNOWN, Material, Materials, judge
from takeoff.ifc.properties import Properties
from takeoff.queries import CHECK, HOLD, register
from takeoff.sections.named import disagreement
from takeoff.steel import (
    ANGLE,
    BOUGHT_OUT,
    CHANNEL,
    FLAT,
    HELD,
    I_SHAPE,
    LEFT_OUT,
    LISTED,
    OTHER,
    PLATE,
    RHS,
    ROUND,
    T_SHAPE,
    Body,
    Problem,
)

_ROLLED = (ANGLE, CHANNEL, I_SHAPE, T_SHAPE, RHS)
"""Shapes that are rolled in steel; a word alone does not make them anything else."""

CALLED_OTHERWISE = register(
    "part-called-otherwise",
    CHECK,
    "Parts are called {0}, but are rolled sections; they are listed as steel.",
    "If they are bought out, say so to the shop; nothing else has to be done.",
)
CALLED_NOT_STEEL = register(
    "part-called-not-steel",
    HOLD,
    "Parts are called {0} and have no material, but are rolled sections: steel or not?",
    "Ask the designer for the material of these parts.",
)
NAME_DISAGREES = register(
    "section-name-disagrees",
    CHECK,
    "Parts called {0} are drawn as {1}; they are listed as they are drawn.",
    "Ask the designer which of the two is right before cutting.",
)
TOO_THICK = register(
    "part-too-thick",
    HOLD,
    "These parts are solid, {0} mm thick and have no material: steel or not?",
    "Ask what they are made of, and have the material written into the model.",
)
NO_MEANING = register(
    "part-not-clear",
    CHECK,
    "Parts that say neither a section nor a material of steel were left out.",
    "See in the list of members whether any of them is steel to be made.",
)

THICKEST_MM = 160.0
"""Without a material, a solid thicker than this is hardly rolled steel. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Said:
    """What the model says of a part in words. ``section`` is its profile's or material profile's name, or a text
    of the part that looks like one; ``hardware`` the kind of fastener its texts mean."""

    global_id: str
    name: str
    section: str
    material: Material
    hardware: str
    meaning: dict[str, tuple[int, str]]
    """Of its property sets, see takeoff.ifc.properties."""
    texts: tuple[str, ...] = ()
    """Of hardware: its object type, description, section and type, any of which may have its size."""

    @property
    def stated(self) -> Material:
        """What a property says of its grade."""
        return judge(self.meaning["grade"][1]) if "grade" in self.meaning else UNKNOWN

    @property
    def grade(self) -> str:
        return self.material.grade or self.stated.grade

    @property
    def steel(self) -> bool:
        """Whether material or property say steel, or name a grade of it."""
        return self.material.steel or self.stated.steel

    @property
    def foreign(self) -> str:
        """The kind of material, where it is not steel."""
        return self.material.foreign or ("" if self.material.steel else self.stated.foreign)


class Sayings:
    """Reads what the model says of its parts."""

    def __init__(self, ctx: Context, properties: Properties) -> None:
        self._properties = properties
        self._materials = Materials(ctx, properties.types)
        self._kinds: dict[tuple[str | None, ...], str] = {}

    def steel(self, element: Entity) -> bool:
        """Whether an element's material is known to be steel."""
        return self._materials.of(element)[0].steel

    def of(self, part: Entity) -> Said:
        name, description, object_type = (_text(part, index) for index in (2, 3, 4))
        material, section = self._materials.of(part)
        kind = self._properties.types.get(part.id())
        texts = (part.is_a(), name, object_type, description, section, _text(kind, 2) if kind is not None else None)
        hardware = self._kinds.get(texts)
        if hardware is None:
            hardware = fastener_kind(texts[0], "", *(str(text) for text in texts[1:] if text))
            self._kinds[texts] = hardware
        meaning = self._properties.meaning(part)
        if not section:
            stated = meaning["section"][1] if "section" in meaning else ""
            texts_of_it = (stated, *map(words.known, (object_type, description, name)))
            section = next((text for text in texts_of_it if words.looks_like_section(text)), "")
        return Said(
            str(argument(part, 0)),
            str(name or "").strip(),
            section,
            material,
            hardware,
            meaning,
            tuple(text for text in (object_type, description, section, texts[5]) if text) if hardware else (),
        )


def _text(element: Entity, index: int) -> str | None:
    """A text attribute, None where it is left out or something else stands in its place."""
    value = argument(element, index)
    return value if isinstance(value, str) else None


def hardware_of(section_text: str) -> str:
    """The kind of hardware that the name of a drawn section means; a rod's or stud's may be a bar to be cut."""
    kind = kind_of(section_text)
    return kind if kind in (BOLT, STEP_BOLT, NUT, WASHER) else ""


def standing(
    part: Entity, said: Said, section_text: str, *, has_body: bool, body: Body | None, has_parts: bool
) -> tuple[str, str, tuple[Problem, ...]]:
    """Status, reason (empty where it is listed, or held for what was found reading it) and what to say of it.

    ``has_body``: the model draws it; ``body``: as it was read; ``has_parts``: it consists of other elements.
    """
    if said.foreign:
        return LEFT_OUT, f"made of {said.foreign}", ()
    # A rolled section is steel whatever a word in its name says: "grating support", "glass clamp angle".
    shaped = body is not None and body.section.shape in _ROLLED
    kind = said.hardware or hardware_of(section_text) or words.bought_out(said.name) or words.bought_out(section_text)
    if kind and not shaped:
        return BOUGHT_OUT, f"{kind} drawn as a part", ()
    remarks: tuple[Problem, ...] = (Problem(CALLED_OTHERWISE, (kind,)),) if kind else ()
    if not said.steel:
        mark = said.meaning["mark"][1] if "mark" in said.meaning else ""
        other = words.not_steel(said.name) or words.not_steel(mark)
        if other and shaped:
            return HELD, "", (Problem(CALLED_NOT_STEEL, (other,)),)
        if other:
            return LEFT_OUT, f"called {other}", ()
    unclear = part.is_a("IfcBuildingElementProxy") or part.is_a("IfcDiscreteAccessory")
    if not has_body:
        if has_parts:
            return LEFT_OUT, "consists of parts that are listed themselves", ()
        if unclear and not said.steel:
            return LEFT_OUT, "a proxy or accessory without a body", ()
        return HELD, "", ()
    looks = said.steel or any(
        words.looks_like_section(text) or words.names_part(text) for text in (section_text, said.name)
    )
    rolled = body is not None and body.section.shape not in (FLAT, PLATE, ROUND, OTHER)
    if unclear and not looks and not rolled:
        reason = "a proxy or accessory that says neither section nor material of steel"
        return LEFT_OUT, reason, (Problem(NO_MEANING),)
    if body is not None:
        return LISTED, "", remarks
    return HELD, "", ()


def doubts(body: Body, said: Said, section_text: str) -> tuple[Problem, ...]:
    """What makes a body doubtful though it was read: no steel perhaps, or another section than it is called."""
    section = body.section
    thick = section.b if section.shape in (FLAT, PLATE) else section.h if section.shape == ROUND else 0.0
    found: list[Problem] = []
    if thick > THICKEST_MM and not said.material.name:
        found.append(Problem(TOO_THICK, (f"{thick:.0f}",)))
    other = disagreement(section_text, section)
    if other is not None:
        found.append(Problem(NAME_DISAGREES, other))
    return tuple(found)
