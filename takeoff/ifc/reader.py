"""A model file as the shop's nouns: every part once, with its body and place or the reason it has none.

Read as parts: beams, columns, members, plates, piles and railings' parts (all IfcBuiltElement of
those kinds), accessories and proxies. Fasteners are read by takeoff.ifc.fasteners.
What cannot be read is held, left out or bought out, and says why.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from takeoff.ifc import words
from takeoff.ifc.assemblies import Assemblies, read_assemblies
from takeoff.ifc.bodies import Bodies, Drawn
from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.doors import open_model
from takeoff.ifc.fasteners import fastener_kind, read_fasteners
from takeoff.ifc.marks import Marks
from takeoff.ifc.materials import UNKNOWN, Materials, judge
from takeoff.ifc.openings import read_openings
from takeoff.ifc.placements import frames
from takeoff.ifc.properties import Properties
from takeoff.ifc.representations import body_items
from takeoff.queries import ASSUMED, CHECK, HOLD, Query, query, register
from takeoff.settings import Settings
from takeoff.steel import (
    BOUGHT_OUT,
    HELD,
    LEFT_OUT,
    LISTED,
    Body,
    DrawnHole,
    FloatArray,
    Frame,
    Member,
    Model,
    Notch,
    Problem,
)

NO_BODY = register(
    "part-no-body",
    HOLD,
    "Parts of steel have no body in the model.",
    "Ask for the model with the bodies of these parts, or for their drawings.",
)
DRAWN_BODY = register(
    "part-drawn-body",
    HOLD,
    "The body of these parts cannot be read: {0}.",
    "Ask for the model with these parts as extruded profiles, or take them from the drawings.",
)
UNREAD_BODY = register(
    "part-body-unread",
    HOLD,
    "The body of these parts cannot be read: {0}.",
    "Take these parts from the drawings, or ask for the model with their bodies drawn in another way.",
)
SEVERAL_BODIES = register(
    "part-several-bodies",
    HOLD,
    "These parts consist of several bodies ({0}).",
    "Ask whether each is one piece welded together or several pieces, and for the model with one part for each.",
)
NO_PLACE = register(
    "part-no-place",
    HOLD,
    "The place of these parts cannot be read: {0}.",
    "Ask for the model with these parts placed by local placements.",
)
DAMAGED = register(
    "part-damaged",
    HOLD,
    "These parts are damaged in the model file ({0}).",
    "Have the model written again; take these parts from the drawings meanwhile.",
)
TOO_THICK = register(
    "part-too-thick",
    HOLD,
    "These parts are solid, {0} mm thick and have no material: steel or not?",
    "Ask what they are made of, and have the material written into the model.",
)
NO_GRADE = register(
    "part-no-grade",
    CHECK,
    "Parts have no grade of steel in the model ({0} of {1}).",
    "Ask which grade they are; the lists leave it empty.",
)
NO_MEANING = register(
    "part-not-clear",
    CHECK,
    "Parts that say neither a section nor a material of steel were left out.",
    "See in the list of members whether any of them is steel to be made.",
)
Z_WIDTH = register(
    "profile-assumed",
    ASSUMED,
    "A dimension of a profile was read so: {0}.",
    "Check one such section against a drawing.",
)

KINDS = ("IfcBeam", "IfcColumn", "IfcMember", "IfcPlate", "IfcBuildingElementProxy", "IfcDiscreteAccessory", "IfcPile")
"""Classes read as parts, subclasses included (IfcBeamStandardCase and the like)."""
FASTENERS = ("IfcFastener", "IfcMechanicalFastener")
BOLTS = ("bolt",)
"""Kinds of hardware that make holes and are read as fasteners, whatever class they are drawn with."""
THICKEST_MM = 160.0
"""Without a material, a solid thicker than this is hardly rolled steel. Common practice, no source."""
_DAMAGE = (
    RuntimeError,
    TypeError,
    ValueError,
    IndexError,
    KeyError,
    AttributeError,
    ZeroDivisionError,
    np.linalg.LinAlgError,
)
"""What entities that do not keep to their schema raise."""

Progress = Callable[[str, float], None]


@dataclass(slots=True)
class _Part:
    """What was found of one part on the way to its Member."""

    body: Body | None = None
    local: FloatArray | None = None
    section_text: str = ""
    problem: Problem | None = None
    no_body: bool = False


def read(path: Path, settings: Settings, progress: Progress | None = None) -> tuple[Model, tuple[Query, ...]]:
    """The model of a file and the queries that reading raised, one for each cause.

    Members, fasteners and assemblies come in the order of their GlobalIds. Raises ReadError where the
    file cannot be read at all. ``progress`` is called with what is being done and the share done, 0 to 1.
    """
    say = progress or (lambda what, share: None)
    say("opening the model", 0.0)
    ctx = open_model(path)
    say("reading properties", 0.4)
    return Reader(ctx, settings, say).model()


class Reader:
    """One file being read."""

    def __init__(self, ctx: Context, settings: Settings, say: Progress) -> None:
        self._ctx = ctx
        self._settings = settings
        self._say = say
        self._properties = Properties(ctx)
        self._materials = Materials(ctx, self._properties.types)
        self._assemblies = Assemblies(ctx)
        self._bodies = Bodies(ctx, settings)
        self._marks = Marks()
        self._found: dict[tuple[str, tuple[str, ...]], list[str]] = defaultdict(list)
        """GlobalIds by code and values of a finding."""
        self._openings = _openings(ctx)
        self._kinds: dict[tuple[str, tuple[str | None, ...]], str] = {}

    def model(self) -> tuple[Model, tuple[Query, ...]]:
        ctx = self._ctx
        everything = _by_global_id(ctx, KINDS)
        kinds = [self._hardware(part) for part in everything]
        parts = [part for part, kind in zip(everything, kinds, strict=True) if kind not in BOLTS]
        bolts = [part for part, kind in zip(everything, kinds, strict=True) if kind in BOLTS]
        self._say("reading parts", 0.5)
        members = self._members(parts)
        self._say("reading fasteners", 0.8)
        products = _by_global_id(ctx, FASTENERS) + bolts
        fasteners = read_fasteners(ctx, products, self._properties)
        for i, product in enumerate(products):
            assembly = self._assemblies.innermost(product)
            if assembly and not fasteners[i].assembly:
                fasteners[i] = replace(fasteners[i], assembly=assembly)
        for fastener in fasteners:
            for problem in fastener.problems:
                self._found[problem.code, problem.values].append(fastener.global_id)
        assemblies = read_assemblies(ctx, self._assemblies, self._properties, parts)
        self._say("model read", 1.0)
        model = Model(
            name=ctx.name,
            schema=ctx.schema,
            checksum=ctx.checksum,
            date=ctx.date,
            members=tuple(members),
            fasteners=tuple(sorted(fasteners, key=lambda f: f.global_id)),
            assemblies=tuple(assemblies),
            application=ctx.application,
            length_unit=ctx.length_unit,
        )
        return model, tuple(ctx.queries) + self._queries(members)

    def _hardware(self, part: Entity) -> str:
        """Which kind of fastener a part's texts call it (bolt, nut, anchor ...); empty where none."""
        kind = self._properties.types.get(part.id())
        texts = (
            argument(part, 2),
            argument(part, 4),
            argument(part, 3),
            self._materials.of(part)[1],
            argument(kind, 2) if kind is not None else None,
        )
        key = (part.is_a(), texts)
        known = self._kinds.get(key)
        if known is None:
            known = self._kinds[key] = fastener_kind(key[0], "", *(str(text) for text in texts if text))
        return known

    # ------------------------------------------------------------ members

    def _members(self, parts: Sequence[Entity]) -> list[Member]:
        places, unplaced = frames(self._ctx, parts)
        read = [self._part(part) for part in parts]
        locals_ = np.array([np.eye(4) if p.local is None else p.local for p in read]).reshape(-1, 4, 4)
        world = places @ locals_ if len(parts) else locals_
        axes = np.ascontiguousarray(world[:, :3, :3].transpose(0, 2, 1))
        origins = np.ascontiguousarray(world[:, :3, 3])
        members = []
        for i, (part, found) in enumerate(zip(parts, read, strict=True)):
            frame = None
            if found.body is not None:
                if i in unplaced:
                    found.problem = Problem(NO_PLACE, (unplaced[i],))
                    found.body = None
                else:
                    frame = Frame(origins[i], axes[i])
            members.append(self._member(part, found, frame))
        return members

    def _part(self, part: Entity) -> _Part:
        """The body of a part in its own coordinates, or the problem in its way."""
        found = _Part()
        try:
            found.section_text = self._section_text(part)
            items = body_items(part)
            if not items:
                found.no_body = True
                found.problem = Problem(NO_BODY)
                return found
            if len(items) == 1:
                found.body, found.local, solid = self._bodies.read(items[0], found.section_text)
                found.section_text = self._bodies.text(solid) or found.section_text
                return found
            self._several(found, items)
        except Drawn as error:
            found.problem = Problem(DRAWN_BODY, (error.sentence,))
        except Unread as error:
            found.problem = Problem(UNREAD_BODY, (error.sentence,))
        except _DAMAGE as error:
            found.problem = Problem(DAMAGED, (f"{type(error).__name__}: {str(error).strip()[:120]}",))
        return found

    def _several(self, found: _Part, items: Sequence[Entity]) -> None:
        """Bodies that are one and the same count once; others hold the part."""
        read = [self._bodies.read(item, found.section_text) for item in items]
        body, local, solid = read[0]
        for other, place, _ in read[1:]:
            if other is not body or not np.allclose(place, local, atol=1e-3):
                found.problem = Problem(SEVERAL_BODIES, (f"{len(items)} in one part",))
                return
        found.body, found.local = body, local
        found.section_text = self._bodies.text(solid) or found.section_text

    def _section_text(self, part: Entity) -> str:
        """What the part calls its section where its profile has no name."""
        called = self._materials.of(part)[1]
        if called:
            return called
        for index in (4, 3, 2):  # ObjectType, Description, Name
            text = words.known(argument(part, index))
            if text and words.looks_like_section(text):
                return text
        return ""

    def _member(self, part: Entity, found: _Part, frame: Frame | None) -> Member:
        global_id = str(argument(part, 0))
        name = str(argument(part, 2) or "").strip()
        meaning = self._properties.meaning(part)
        material, _ = self._materials.of(part)
        stated = judge(meaning["grade"][1]) if "grade" in meaning else UNKNOWN
        grade = material.grade or stated.grade
        foreign = material.foreign or ("" if material.steel else stated.foreign)
        holes: tuple[DrawnHole, ...] = ()
        notches: tuple[Notch, ...] = ()
        problems = [found.problem] if found.problem is not None else []
        status, reason = self._status(part, found, name, foreign, material.steel or stated.steel)
        body = found.body
        if status == LISTED and body is not None and frame is not None:
            opened = self._openings.get(part.id())
            if opened:
                holes, notches, more = read_openings(self._ctx, part, body, frame, opened)
                problems += more
            problems += body.problems
            problems += self._thick(body, material.name)
        if status == LISTED and problems:
            status = HELD
        if status == HELD:
            reason = _sentences(problems)
        if status not in (LISTED, HELD):
            problems = []
        for problem in problems:
            self._found[problem.code, problem.values].append(global_id)
        return Member(
            global_id=global_id,
            ifc_class=part.is_a(),
            name=name,
            model=self._ctx.name,
            mark=self._marks.of(part, name, meaning),
            assembly=self._assemblies.innermost(part),
            grade=grade,
            finish=meaning["finish"][1] if "finish" in meaning else "",
            section_text=found.section_text,
            body=body,
            frame=frame,
            holes=holes,
            notches=notches,
            status=status,
            reason=reason,
            problems=tuple(problems),
        )

    def _status(self, part: Entity, found: _Part, name: str, foreign: str, is_steel: bool) -> tuple[str, str]:
        """Listed, held, left out or bought out, from what the part is made of and called; and why."""
        if foreign:
            return LEFT_OUT, f"made of {foreign}"
        kind = self._hardware(part) or words.bought_out(name) or words.bought_out(found.section_text)
        if kind:
            return BOUGHT_OUT, f"{kind} drawn as a part"
        if not is_steel:
            other = words.not_steel(name)
            if other:
                return LEFT_OUT, f"called {other}"
        if found.no_body:
            if part.id() in self._assemblies.broken_up:
                return LEFT_OUT, "consists of parts that are listed themselves"
            if part.is_a("IfcBuildingElementProxy") and not is_steel:
                return LEFT_OUT, "a proxy without a body"
            return HELD, ""
        looks = is_steel or words.looks_like_section(found.section_text) or words.looks_like_section(name)
        if found.body is None and not looks:
            unclear = part.is_a("IfcBuildingElementProxy") or part.is_a("IfcDiscreteAccessory")
            if unclear:
                self._found[NO_MEANING, ()].append(str(argument(part, 0)))
                return LEFT_OUT, "a proxy or accessory that says neither section nor material of steel"
        return (HELD, "") if found.body is None else (LISTED, "")

    @staticmethod
    def _thick(body: Body, material: str) -> list[Problem]:
        section = body.section
        thick = section.b if section.shape in ("flat", "plate") else section.h if section.shape == "round" else 0.0
        if thick > THICKEST_MM and not material:
            return [Problem(TOO_THICK, (f"{thick:.0f}",))]
        return []

    # ------------------------------------------------------------ queries

    def _queries(self, members: Sequence[Member]) -> tuple[Query, ...]:
        found = [
            query(code, *values, global_ids=tuple(sorted(ids))) for (code, values), ids in sorted(self._found.items())
        ]
        steel = [m for m in members if m.status in (LISTED, HELD)]
        bare = tuple(sorted(m.global_id for m in steel if not m.grade))
        if bare:
            found.append(query(NO_GRADE, len(bare), len(steel), global_ids=bare))
        assumed = sorted({p.assumed for p in self._bodies.profiles.all() if p.assumed})
        found += [query(Z_WIDTH, what) for what in assumed]
        return tuple(found + self._marks.queries(members))


def _sentences(problems: Sequence[Problem]) -> str:
    """The reason a part is held, for the list of members."""
    from takeoff.queries import KINDS as CODES

    return " ".join(CODES[problem.code].sentence.format(*problem.values) for problem in problems)


def _by_global_id(ctx: Context, kinds: Sequence[str]) -> list[Entity]:
    """Elements of some classes, each once, in the order of their GlobalIds."""
    found: dict[int, Entity] = {}
    for kind in kinds:
        for element in ctx.file.by_type(kind):
            found.setdefault(element.id(), element)
    return sorted(found.values(), key=lambda element: (str(argument(element, 0)), element.id()))


def _openings(ctx: Context) -> dict[int, list[Entity]]:
    """Openings by the id of the element they void."""
    found: dict[int, list[Entity]] = defaultdict(list)
    for relation in ctx.file.by_type("IfcRelVoidsElement"):
        element, opening = argument(relation, 4), argument(relation, 5)
        if element is not None and opening is not None:
            found[element.id()].append(opening)
    for openings in found.values():
        openings.sort(key=lambda opening: str(argument(opening, 0)))
    return found
