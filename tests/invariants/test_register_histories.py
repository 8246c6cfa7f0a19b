"""Histories of a job: whatever is added, taken out, changed, mirrored, moved, renamed, shuffled or taken back, a mark
never changes its shape and no shape its mark.

Held against what the test itself put into the model: a part's own body and holes, and where its holes stand in the
model, never against the program's idea of what is alike.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule
from steelwork import (
    CHS114,
    FL100,
    L80X60,
    L100,
    U160,
    global_id,
    hole,
    member,
    mirrored,
    moved,
    places,
    plate,
    rotation,
    vectors,
)

from takeoff.pipeline import work_out
from takeoff.register.file import parsed, written
from takeoff.released import Register
from takeoff.sections import shapes
from takeoff.sections.shapes import faces
from takeoff.settings import Settings
from takeoff.steel import HELD, Model, ModelAssembly

SECTIONS = (L100, L80X60, FL100, U160, CHS114, *(shapes.angle(80, 60, t) for t in (6.07, 6.14)))
"""With angles whose thicknesses make a chain: each within 0.1 mm of the next, the ends not."""
OFFSETS = (0.0, 0.1, 0.3, 0.45, 0.6, 0.9)
"""Moves of a hole within, at and beyond the tolerance of 0.5 mm: near twins that make chains."""

blanks = st.tuples(st.sampled_from(SECTIONS), st.sampled_from((400.0, 400.3, 400.6, 700.0)))


def part_of(section, length, offsets, diameter):
    """A part with a hole for each offset, none on a middle or a usual line, so that most have a hand."""
    face = faces(section)[0]
    across = 0.4 * face.low + 0.6 * face.high
    holes = tuple(hole(face.name, 60 + 90 * k + d, across + d / 2, diameter) for k, d in enumerate(offsets))
    return member(section, length, holes=holes)


parts = st.builds(
    lambda blank, offsets, diameter: part_of(*blank, offsets, diameter),
    blanks,
    st.lists(st.sampled_from(OFFSETS), max_size=2),
    st.sampled_from((14.0, 14.08, 18.0)),
)
plates = st.builds(
    lambda corner, offset: plate(
        ((0, 0), (300, 0), (300, 150), (corner, 200), (0, 200)), holes=(hole("face", 80 + offset, 70, 18),)
    ),
    st.sampled_from((100.0, 100.3, 101.0)),
    st.sampled_from(OFFSETS),
)
any_part = st.one_of(parts, parts, plates)


def shape_of(part):
    """What the part is, whatever its name and wherever it stands."""
    return part.body, part.holes, part.grade, part.finish


def drawn(piece):
    """Everything of a piece that the shop works by."""
    return (
        piece.section.shape, piece.grade, piece.finish, piece.length, piece.cuts, piece.outline,
        tuple((h.label, h.face, h.x, h.across, h.diameter, h.slot_length, h.slot_angle, h.kind) for h in piece.holes),
    )  # fmt: skip


def in_model(section, frame, holes):
    """Where holes stand in the model, (n, 3), on the outside of their faces; of a flat, which may be turned over, in
    the middle of its thickness."""
    walls = {face.name: face for face in faces(section)}
    points = []
    for h in holes:
        wall = walls[h.face]
        if section.shape == "CHS":
            angle = h.across / (section.h / 2)
            start = np.array(wall.origin) / np.linalg.norm(wall.origin) * section.h / 2
            # The developed position runs clockwise in (u, v).
            c, s = np.cos(-angle), np.sin(-angle)
            u, v = c * start[0] - s * start[1], s * start[0] + c * start[1]
        else:
            u, v = np.array(wall.origin) + h.across * np.array(wall.direction)
            if section.shape in ("flat", "plate"):
                u += wall.thickness / 2
        points.append((h.x, u, v))
    return frame.to_model(np.array(points).reshape(-1, 3))


class History(RuleBasedStateMachine):
    """A model under change, and the register that its issues are written to."""

    def __init__(self):
        super().__init__()
        self.parts = []
        self.assemblies = {}  # GlobalId: (what it was built from, mark in the model)
        self.content = b""
        self.saved = []
        self.issues = 0
        self.drawn_as = {}
        self.mark_of = {}
        self.hands = {}
        self.assembly_marks = {}
        self.options = Settings()

    @initialize(first=st.lists(any_part, min_size=1, max_size=4))
    def begin(self, first):
        self.parts = list(first)
        self.issue()

    # ------------------------------------------------------------ what designers do

    @rule(part=any_part, mark=st.sampled_from(("", "", "P1", "P2", "A1", "p1")))
    def add(self, part, mark):
        self.parts.append(replace(part, mark=mark, global_id=global_id()))

    @rule(data=st.data())
    def add_another(self, data):
        part = self._one(data)
        if part:
            self.parts.append(replace(part, global_id=global_id(), assembly=""))

    @rule(data=st.data())
    def add_opposite(self, data):
        part = self._one(data)
        if part:
            self.parts.append(replace(mirrored(part), global_id=global_id(), assembly=""))

    @rule(data=st.data())
    def take_out(self, data):
        part = self._one(data)
        if part:
            self._dissolve(part.assembly)
            self.parts = [p for p in self.parts if p.global_id != part.global_id]

    @rule(data=st.data(), by=st.sampled_from(OFFSETS))
    def move_a_hole(self, data, by):
        part = self._one(data)
        if part and part.holes:
            first = replace(part.holes[0], x=part.holes[0].x + by)
            self._swap(part, replace(part, holes=(first, *part.holes[1:])))

    @rule(data=st.data(), grade=st.sampled_from(("S235JR", "S355J2")))
    def regrade(self, data, grade):
        part = self._one(data)
        if part:
            self._swap(part, replace(part, grade=grade))

    @rule(data=st.data())
    def mirror(self, data):
        part = self._one(data)
        if part:
            self._swap(part, mirrored(part))

    @rule(data=st.data(), vector=vectors, place=places)
    def move(self, data, vector, place):
        part = self._one(data)
        if part:
            self._swap(part, moved(part, rotation(vector), place))

    @rule(vector=vectors, place=places)
    def move_everything(self, vector, place):
        turn = rotation(vector)
        self.parts = [moved(part, turn, place) for part in self.parts]

    @rule(data=st.data(), mark=st.sampled_from(("", "P1", "P2", "A1", "F1", "A1-1")))
    def rename(self, data, mark):
        part = self._one(data)
        if part:
            self._swap(part, replace(part, mark=mark), keep=True)

    @rule(data=st.data())
    def shuffle(self, data):
        self.parts = data.draw(st.permutations(self.parts))

    @rule()
    def name_anew(self):
        """As a program that gives new GlobalIds at every export."""
        names = {key: global_id() for key in self.assemblies}
        self.assemblies = {names[key]: entry for key, entry in self.assemblies.items()}
        self.parts = [replace(p, global_id=global_id(), assembly=names.get(p.assembly, "")) for p in self.parts]

    @rule(
        some=st.lists(any_part, min_size=1, max_size=3),
        mark=st.sampled_from(("", "K1", "K2")),
        copies=st.integers(1, 2),
    )
    def assemble(self, some, mark, copies):
        built = tuple(moved(part, np.eye(3), (0.0, 500.0 * k, 300.0 * k)) for k, part in enumerate(some))
        self._place(built, mark, copies)

    @rule(data=st.data(), vector=vectors, place=places)
    def assemble_another(self, data, vector, place):
        if self.assemblies:
            built, mark = data.draw(st.sampled_from(list(self.assemblies.values())))
            self._place(tuple(moved(part, rotation(vector), place) for part in built), mark, 1, built)

    @rule()
    def keep(self):
        self.saved.append((list(self.parts), dict(self.assemblies)))

    @rule(data=st.data())
    def go_back(self, data):
        if self.saved:
            kept, assemblies = data.draw(st.sampled_from(self.saved))
            self.parts, self.assemblies = list(kept), dict(assemblies)

    @rule(source=st.sampled_from(("model", "scheme")), position=st.sampled_from((0.5, 0.5, 0.2, 1.0)))
    def change_the_settings(self, source, position):
        self.options = replace(
            self.options,
            marks=replace(self.options.marks, source=source),
            identity=replace(self.options.identity, position_mm=position, length_mm=position),
        )

    # ------------------------------------------------------------ what the shop gets

    @rule()
    def issue(self):
        self.issues += 1
        documents = replace(self.options.documents, job="Test mast", revision=f"R{self.issues}")
        options = replace(self.options, documents=documents)
        found = self._run(options)
        self._hold_pieces(found)
        self._hold_assemblies(found)
        content = written(found.release.register)
        self.content = content
        again = self._run(options)
        assert written(again.release.register) == content
        assert [(p.mark, p.quantity, drawn(p)) for p in again.pieces] == [
            (p.mark, p.quantity, drawn(p)) for p in found.pieces
        ]
        assert (again.queries, again.member_marks, again.assemblies) == (
            found.queries, found.member_marks, found.assemblies,
        )  # fmt: skip
        for one, other in zip(again.pieces, found.pieces, strict=True):
            for here, there in zip(one.frames, other.frames, strict=True):
                assert (here.origin == there.origin).all()
                assert (here.axes == there.axes).all()

    @rule()
    def next_issue(self):
        """Twice among the rules, so that there are issues enough between the changes."""
        self.issue()

    @rule(data=st.data(), by=st.sampled_from(OFFSETS))
    def change_and_issue(self, data, by):
        self.move_a_hole(data, by)
        self.issue()

    def _hold_pieces(self, found):
        marks = [piece.mark for piece in found.pieces]
        assert len({mark.casefold() for mark in marks if mark not in ("p1", "P1")}) == len(
            [m for m in marks if m not in ("p1", "P1")]
        )
        by_mark = {piece.mark: piece for piece in found.pieces}
        for mark, piece in by_mark.items():
            assert self.drawn_as.setdefault(mark, drawn(piece)) == drawn(piece), mark
            entry = found.release.register.piece(mark)
            quantity = 0 if piece.status == HELD else piece.quantity
            assert entry.quantities.get(f"R{self.issues}", 0) == quantity
        for part, mark in zip(self.parts, found.member_marks, strict=True):
            assert mark
            assert self.mark_of.setdefault(shape_of(part), mark) == mark
        for piece in found.pieces:
            for i, frame in zip(piece.members, piece.frames, strict=True):
                self._stands(piece, frame, self.parts[i])
        for entry in found.release.register.pieces:
            if entry.opposite_hand_of:
                assert self.hands.setdefault(entry.mark, entry.opposite_hand_of) == entry.opposite_hand_of
                assert found.release.register.piece(entry.opposite_hand_of).opposite_hand_of == entry.mark

    @staticmethod
    def _stands(piece, frame, part):
        """Every hole that the sheet draws is where the model has one, and the piece lies where the part does."""
        sheet = in_model(piece.section, frame, piece.holes)
        model = in_model(part.body.section, part.frame, part.holes)
        assert len(sheet) == len(model)
        if len(model):
            away = np.linalg.norm(sheet[:, None] - model[None], axis=2)
            assert away.min(axis=1).max() < 1.0 + 0.2 + 1.0  # widest tolerance, sections of a class, lengths
            assert away.min(axis=0).max() < 1.0 + 0.2 + 1.0

    def _hold_assemblies(self, found):
        at = {part.global_id: mark for part, mark in zip(self.parts, found.member_assemblies, strict=True)}
        for key, (built, _) in self.assemblies.items():
            marks = {at[p.global_id] for p in self.parts if p.assembly == key}
            assert len(marks) == 1
            (mark,) = marks
            content = tuple(shape_of(part) for part in built)
            places = tuple(tuple(np.round(p.frame.origin - built[0].frame.origin, 3).tolist()) for p in built)
            assert self.assembly_marks.setdefault((content, places), mark) == mark
        names = [a.mark for a in found.assemblies]
        assert len(set(names)) == len(names)

    def _run(self, options):
        register = parsed(self.content, Path("register")) if self.content else Register()
        assemblies = tuple(ModelAssembly(key, mark=mark) for key, (_, mark) in self.assemblies.items())
        model = Model("job", "IFC4", "0" * 64, "2031-04-30", tuple(self.parts), (), assemblies, projects=("P" * 22,))
        return work_out(model, options, register=register)

    # ------------------------------------------------------------ the model under change

    def _one(self, data):
        return data.draw(st.sampled_from(self.parts)) if self.parts else None

    def _swap(self, part, other, keep=False):
        if not keep:
            self._dissolve(part.assembly)
            other = replace(other, assembly="")
        self.parts = [other if p.global_id == part.global_id else p for p in self.parts]

    def _dissolve(self, key):
        """An assembly that loses or changes a part is no more what it was built as."""
        if key:
            del self.assemblies[key]
            self.parts = [replace(p, assembly="") if p.assembly == key else p for p in self.parts]

    def _place(self, placed, mark, copies, built=None):
        for _ in range(copies):
            key = global_id()
            self.assemblies[key] = (built or placed, mark)
            self.parts += [replace(part, global_id=global_id(), assembly=key) for part in placed]


History.TestCase.settings = settings(
    max_examples=25, stateful_step_count=14, deadline=None, suppress_health_check=list(HealthCheck)
)
TestHistories = History.TestCase
