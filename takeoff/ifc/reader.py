"""A model file as the shop's nouns: every part once, with its body and place or the reason it has none.

Read as parts: beams, columns, members, plates, piles, accessories and proxies, with
their subclasses. Fasteners are read by takeoff.ifc.fasteners, and so are bolts that are
drawn as parts of another class. What cannot be read is held, left out or bought out, and
says why (takeoff.ifc.standing).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from takeoff.beside import Beside, WorkerError, can_fork
from takeoff.ifc import hardware, opening_owners
from takeoff.ifc.assemblies import Assemblies, read_assemblies
from takeoff.ifc.bodies import Bodies, BuiltUp, Drawn, Several
from takeoff.ifc.context import DAMAGE, Context, Entity, ReadError, Unread, argument, related
from takeoff.ifc.doors import open_model
from takeoff.ifc.elsewhere import steel_elsewhere
from takeoff.ifc.fasteners import Heard, read_fasteners
from takeoff.ifc.findings import Findings, holding, sentences
from takeoff.ifc.joined import JOINED
from takeoff.ifc.lengths import absurd, settled
from takeoff.ifc.marks import Marks
from takeoff.ifc.openings import read_openings
from takeoff.ifc.placements import frames
from takeoff.ifc.plate_edges import trimmed
from takeoff.ifc.properties import Properties
from takeoff.ifc.representations import body_items
from takeoff.ifc.standing import Said, Sayings, doubts, standing
from takeoff.queries import ASSUMED, CHECK, HOLD, Query, query, register
from takeoff.settings import Settings
from takeoff.steel import (
    BOUGHT_OUT,
    HELD,
    LISTED,
    Body,
    DrawnHole,
    Fastener,
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
    "These parts consist of several bodies: {0}.",
    "Ask whether each is one piece welded together or several pieces, and for the model with one part for each.",
)
NO_PLACE = register(
    "part-no-place",
    HOLD,
    "The place of these parts cannot be read: {0}.",
    "Ask for the model with these parts placed by local placements.",
)
NOT_PLACED = register(
    "part-not-placed",
    CHECK,
    "Parts have a body and no placement in the model; they were read as standing at its origin.",
    "Ask whether they are drawn where they stand: bolts meet them there or not at all. Their own sizes are sure.",
)
OPENING_OF_NOTHING = register(
    "opening-of-nothing",
    CHECK,
    "{0} openings of the model belong to no part by any relation; the holes they draw are not in the lists.",
    "Ask the designer which parts they are meant for, and have the model written with that relation.",
)
OPENING_ADOPTED = register(
    "opening-adopted",
    ASSUMED,
    "Openings that belong to no part by any relation were read as these parts' own: they are placed on them, or go "
    "through them and no other part.",
    "Look at the holes of these parts once; have the model written with that relation.",
)
DAMAGED = register(
    "part-damaged",
    HOLD,
    "These parts are damaged in the model file ({0}).",
    "Have the model written again; take these parts from the drawings meanwhile.",
)
NO_GRADE = register(
    "part-no-grade",
    CHECK,
    "Parts have no grade of steel in the model ({0} of {1}).",
    "Ask which grade they are; the lists leave it empty.",
)
ASSUMED_SIZE = register(
    "profile-assumed",
    ASSUMED,
    "A dimension of a profile was read so: {0}.",
    "Check one such section against a drawing.",
)


KINDS = (
    "IfcBeam", "IfcColumn", "IfcMember", "IfcPlate", "IfcPile", "IfcBuildingElementProxy", "IfcDiscreteAccessory",
)  # fmt: skip
"""Classes read as parts, subclasses included (IfcBeamStandardCase and the like)."""
FASTENERS = ("IfcFastener", "IfcMechanicalFastener")
Progress = Callable[[str, float], None]


def read(path: Path, settings: Settings, progress: Progress | None = None) -> tuple[Model, tuple[Query, ...]]:
    """The model of a file and the queries that reading raised, one for each cause.

    Members, fasteners and assemblies come in the order of their GlobalIds. Raises ReadError where the
    file cannot be read at all. ``progress`` is called with what is being done and the share done, 0 to 1.
    """
    say = progress or (lambda what, share: None)
    say("Opening the model", 0.0)
    try:
        ctx = open_model(path, settings.model.length_unit)
        say("Reading properties", 0.4)
        return settled(ctx, *Reader(ctx, settings, say).model())
    except DAMAGE as error:
        raise ReadError(
            f"{path.name} is damaged beyond reading ({type(error).__name__}: {str(error).strip()[:120]}). "
            "Have the model written again."
        ) from error


@dataclass(slots=True)
class _Drawing:
    """A part's body in its own coordinates, or the problem in its way."""

    body: Body | None = None
    local: FloatArray | None = None
    section_text: str = ""
    problem: Problem | None = None
    remark: Problem | None = None
    has_body: bool = True


_HERE = np.eye(4)
_OBJECT_PLACEMENT = 5
"""Its place among the attributes of an IfcProduct."""


MANY: Final = 5_000
"""Bolts from which a second process pays for its start."""
SHARE: Final = 0.67
"""Of the bolts, for the second process: the parts, read meanwhile, take about as long as a third of them."""


@dataclass(frozen=True, slots=True)
class _Aside:
    """A worker that reads the first ``count`` bolts and sends them with what it asks."""

    count: int
    worker: Beside[tuple[list[Fastener], list[Query]]]


class Reader:
    """One file being read."""

    def __init__(self, ctx: Context, settings: Settings, say: Progress) -> None:
        self._ctx = ctx
        self._say = say
        self._properties = Properties(ctx)
        self._sayings = Sayings(ctx, self._properties)
        self._assemblies = Assemblies(ctx)
        self._bodies = Bodies(ctx, settings)
        self._holes = settings.holes
        self._heard: dict[int, Heard] = {}
        self._marks = Marks()
        self._findings = Findings()
        self._openings = _openings(ctx)
        self._untrimmed: dict[int, tuple[Body, Frame]] = {}

    def model(self) -> tuple[Model, tuple[Query, ...]]:
        """Everything, in the order of GlobalIds."""
        ctx = self._ctx
        parts: list[Entity] = []
        said: list[Said] = []
        bolts = _by_global_id(ctx, FASTENERS)
        aside = self._start_aside(bolts)
        for part in _by_global_id(ctx, KINDS):
            heard = self._sayings.of(part)
            if heard.hardware in hardware.BOLTS:
                bolts.append(part)
                self._heard[part.id()] = Heard(heard.hardware, heard.texts)
            else:
                parts.append(part)
                said.append(heard)
        self._say("Reading parts", 0.5)
        members = self._members(parts, said)
        self._adopt(parts, members)
        self._say("Reading bolts", 0.7)
        assemblies = read_assemblies(ctx, self._assemblies, self._properties, parts)
        fasteners = self._read_all_bolts(bolts, aside)
        members, fasteners = self._hardware(parts, said, members, fasteners)
        fasteners = self._told(fasteners)
        self._say("Model read", 1.0)
        model = Model(
            name=ctx.name,
            schema=ctx.schema,
            checksum=ctx.checksum,
            date=ctx.date,
            members=tuple(members),
            fasteners=tuple(fasteners),
            assemblies=tuple(assemblies),
            application=ctx.application,
            length_unit=ctx.length_unit,
            projects=tuple(sorted({str(argument(project, 0)) for project in ctx.file.by_type("IfcProject")})),
        )
        return model, self._queries(members)

    def _start_aside(self, bolts: list[Entity]) -> _Aside | None:
        """Where there are many bolts, the first of them are read by a second process meanwhile."""
        if len(bolts) < MANY or not can_fork():
            return None
        count = int(len(bolts) * SHARE)
        told = len(self._ctx.queries)

        def work() -> tuple[list[Fastener], list[Query]]:
            return self._read_bolts(bolts[:count]), self._ctx.queries[told:]

        return _Aside(count, Beside(work))

    def _read_bolts(self, products: list[Entity]) -> list[Fastener]:
        try:
            return read_fasteners(self._ctx, products, self._properties, self._holes, self._heard, nuts=True)
        except DAMAGE:
            return [self._fastener(product) for product in products]

    def _read_all_bolts(self, products: list[Entity], aside: _Aside | None) -> list[Fastener]:
        if aside is None:
            found = self._read_bolts(products)
        else:
            with aside.worker as worker:
                rest = self._read_bolts(products[aside.count :])
                try:
                    first, queries = worker.value()
                except (WorkerError, OSError):  # it was killed, say: here then
                    first, queries = self._read_bolts(products[: aside.count]), []
            found = first + rest
            self._ctx.queries += [asked for asked in queries if asked not in self._ctx.queries]
        return self._in_assemblies(products, found)

    def _in_assemblies(self, products: Sequence[Entity], found: list[Fastener]) -> list[Fastener]:
        for i, product in enumerate(products):
            assembly = self._assemblies.innermost(product)
            if assembly and not found[i].assembly:
                found[i] = found[i]._replace(assembly=assembly)
        return found

    def _told(self, found: list[Fastener]) -> list[Fastener]:
        """The fasteners in the order of their GlobalIds, with what is wrong with them noted."""
        for fastener in found:
            if fastener.problems:
                self._findings.add(fastener.global_id, fastener.problems)
        return sorted(found, key=lambda fastener: str(fastener.global_id))

    def _hardware(
        self, parts: Sequence[Entity], said: Sequence[Said], members: list[Member], fasteners: list[Fastener]
    ) -> tuple[list[Member], list[Fastener]]:
        """Rods, studs and anchors drawn as parts go to the fasteners; nuts and washers to the bolts they stand on."""
        kinds = hardware.kinds(members, said, self._holes)
        for i, kind in kinds.items():
            self._heard[parts[i].id()] = Heard(kind, (*said[i].texts, members[i].section_text))
        products = [parts[i] for i in kinds]
        read_so = self._in_assemblies(products, self._read_bolts(products)) if products else []
        return hardware.placed(members, kinds, dict(zip(kinds, read_so, strict=True)), fasteners)

    def _fastener(self, product: Entity) -> Fastener:
        """One fastener of a file in which another one is damaged."""
        try:
            return read_fasteners(self._ctx, [product], self._properties, self._holes, self._heard, nuts=True)[0]
        except DAMAGE as error:
            problem = _damaged(error)
            return Fastener(
                str(argument(product, 0)),
                product.is_a(),
                model=self._ctx.name,
                status=HELD,
                reason=sentences([problem]),
                problems=(problem,),
            )

    # ------------------------------------------------------------ members

    def _members(self, parts: Sequence[Entity], said: Sequence[Said]) -> list[Member]:
        if not parts:
            return []
        places, unplaced = frames(self._ctx, parts)
        drawings = [self._drawing(part, heard) for part, heard in zip(parts, said, strict=True)]
        world = places @ np.array([_HERE if d.local is None else d.local for d in drawings])
        axes = np.ascontiguousarray(world[:, :3, :3].transpose(0, 2, 1))
        origins = np.ascontiguousarray(world[:, :3, 3])
        members = []
        for i, (part, heard, drawing) in enumerate(zip(parts, said, drawings, strict=True)):
            frame = None
            if drawing.body is not None:
                if i in unplaced:
                    drawing.problem = Problem(NO_PLACE, (unplaced[i],))
                    drawing.body = None
                else:
                    frame = Frame(origins[i], axes[i])
            members.append(self._member(part, heard, drawing, frame))
        self._ask_not_placed(parts, members, places)
        return members

    def _ask_not_placed(self, parts: Sequence[Entity], members: Sequence[Member], places: FloatArray) -> None:
        for i in np.flatnonzero((places == _HERE).all(axis=(1, 2))).tolist():
            member = members[i]
            made = member.status in (LISTED, HELD) and member.body is not None
            if made and argument(parts[i], _OBJECT_PLACEMENT) is None:
                self._findings.add(member.global_id, (Problem(NOT_PLACED),))

    def _drawing(self, part: Entity, said: Said) -> _Drawing:
        found = _Drawing(section_text=said.section)
        try:
            items = body_items(part)
            if not items:
                found.has_body = False
                found.problem = Problem(NO_BODY)
            else:
                self._draw(found, items)
        except Drawn as error:
            found.problem = Problem(DRAWN_BODY, (error.sentence,))
        except Unread as error:
            found.problem = Problem(UNREAD_BODY, (error.sentence,))
        except DAMAGE as error:
            found.problem = _damaged(error)
        return found

    def _draw(self, found: _Drawing, items: Sequence[Entity]) -> None:
        """The one body of a part. Several that are not certainly one piece hold it."""
        if len(items) == 1:
            try:
                found.body, found.local, solid = self._bodies.read(items[0], found.section_text)
            except Several:
                pass
            else:
                found.section_text = self._bodies.text(solid) or found.section_text
                return
        try:
            body, local, text, joined = self._bodies.read_together(items, found.section_text)
        except BuiltUp as error:
            found.problem = Problem(SEVERAL_BODIES, (error.sentence,))
            return
        found.body, found.local, found.section_text = body, local, text
        if joined:
            found.remark = Problem(JOINED, (body.section.designation,))

    def _member(self, part: Entity, said: Said, drawing: _Drawing, frame: Frame | None) -> Member:
        body = drawing.body
        status, reason, remarks = standing(
            part,
            said,
            drawing.section_text,
            has_body=drawing.has_body,
            body=body,
            has_parts=part.id() in self._assemblies.broken_up,
        )
        holes: tuple[DrawnHole, ...] = ()
        notches: tuple[Notch, ...] = ()
        problems: list[Problem] = []
        if status in (LISTED, HELD):
            if drawing.problem is not None:
                problems.append(drawing.problem)
            if drawing.remark is not None:
                problems.append(drawing.remark)
            if body is not None and frame is not None:
                opened = self._openings.get(part.id())
                if opened:
                    holes, notches, found = self._opened(part, body, frame, opened)
                    problems += found
                    left = trimmed(body, frame, notches, holes)
                    if left is not None:
                        self._untrimmed[part.id()] = (body, frame)
                        (body, frame, holes), notches = left, ()
                problems += (*body.problems, *absurd(body), *doubts(body, said, drawing.section_text))
            held = holding((*problems, *remarks))
            if held:
                status, reason = HELD, sentences(held)
            self._findings.add(said.global_id, problems)
        self._findings.add(said.global_id, remarks)
        meaning = said.meaning
        return Member(
            global_id=said.global_id,
            ifc_class=part.is_a(),
            name=said.name,
            model=self._ctx.name,
            mark=self._marks.of(part, said.name, meaning),
            assembly=self._assemblies.innermost(part),
            grade=said.grade,
            finish=meaning["finish"][1] if "finish" in meaning else "",
            section_text=drawing.section_text or (hardware.size_text(said) if status == BOUGHT_OUT else ""),
            body=body,
            frame=frame,
            holes=holes,
            notches=notches,
            status=status,
            reason=reason,
            problems=tuple(problems),
        )

    def _opened(
        self, part: Entity, body: Body, frame: Frame, openings: Sequence[Entity]
    ) -> tuple[tuple[DrawnHole, ...], tuple[Notch, ...], Iterable[Problem]]:
        try:
            return read_openings(self._ctx, part, body, frame, openings)
        except DAMAGE as error:
            return (), (), (_damaged(error),)

    def _adopt(self, parts: Sequence[Entity], members: list[Member]) -> None:
        """Gives openings without a relation to the parts that they are certainly of."""
        owned = {opening.id() for openings in self._openings.values() for opening in openings}
        lost = opening_owners.lost(self._ctx, owned)
        if not lost:
            return
        for i, openings in sorted(opening_owners.owners(self._ctx, lost, parts, members).items()):
            part, member = parts[i], members[i]
            whole = self._openings[part.id()] = [*self._openings.get(part.id(), ()), *openings]
            assert member.body is not None
            assert member.frame is not None
            body, frame = self._untrimmed.get(part.id(), (member.body, member.frame))
            holes, notches, found = self._opened(part, body, frame, whole)
            left = trimmed(body, frame, notches, holes)
            if left is not None:
                (body, frame, holes), notches = left, ()
            fresh = [problem for problem in found if problem not in member.problems]
            fresh.append(Problem(OPENING_ADOPTED))
            status, reason = member.status, member.reason
            held = holding(fresh)
            if held:
                status, reason = HELD, f"{reason} {sentences(held)}".strip()
            self._findings.add(member.global_id, fresh)
            members[i] = replace(
                member,
                body=body,
                frame=frame,
                holes=holes,
                notches=notches,
                status=status,
                reason=reason,
                problems=(*member.problems, *fresh),
            )

    # ------------------------------------------------------------ queries

    def _queries(self, members: Sequence[Member]) -> tuple[Query, ...]:
        found = list(self._ctx.queries) + self._findings.queries()
        steel = [member for member in members if member.status in (LISTED, HELD)]
        owned = {opening.id() for openings in self._openings.values() for opening in openings}
        lost = opening_owners.lost(self._ctx, owned)
        if lost and steel:
            ids = tuple(sorted(str(argument(opening, 0)) for opening in lost))
            found.append(query(OPENING_OF_NOTHING, len(lost), global_ids=ids))
        bare = tuple(member.global_id for member in steel if not member.grade)
        if bare:
            found.append(query(NO_GRADE, len(bare), len(steel), global_ids=bare))
        broken_up = self._assemblies.broken_up
        found += steel_elsewhere(
            self._ctx, KINDS + FASTENERS, self._sayings.steel, lambda element: element.id() in broken_up
        )
        assumed = sorted({profile.assumed for profile in self._bodies.profiles.all() if profile.assumed})
        found += [query(ASSUMED_SIZE, what) for what in assumed]
        return tuple(found + self._marks.queries(members))


def _damaged(error: Exception) -> Problem:
    return Problem(DAMAGED, (f"{type(error).__name__}: {str(error).strip()[:120]}",))


def _by_global_id(ctx: Context, kinds: Sequence[str]) -> list[Entity]:
    """Elements of some classes, each once, in the order of their GlobalIds."""
    found: dict[int, tuple[str, Entity]] = {}
    for kind in kinds:
        for element in ctx.file.by_type(kind):
            found[element.id()] = (str(argument(element, 0)), element)
    return [element for _, (_, element) in sorted(found.items(), key=lambda item: (item[1][0], item[0]))]


def _openings(ctx: Context) -> dict[int, list[Entity]]:
    """Openings by the id of the element they void, in the order of their GlobalIds."""
    found: dict[int, list[Entity]] = defaultdict(list)
    for element, openings in related(ctx.file, "IfcRelVoidsElement", 4, 5):
        found[element.id()] += openings
    for listed in found.values():
        listed.sort(key=lambda opening: str(argument(opening, 0)))
    return found
