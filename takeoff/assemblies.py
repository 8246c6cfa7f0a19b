"""Assembly marks and what one assembly of each weighs.

Vocabulary
----------
assembly     parts that the model puts together: the innermost IfcElementAssembly that holds them
alike        the same pieces standing the same way: a rigid motion brings one assembly on the other
loose        parts in no assembly; they stand under one row of that name, so that the totals add up

Whether two assemblies are alike is a matter of the pieces' places, not of their names.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from takeoff.identity import Group, agreement, all_turns
from takeoff.order import natural
from takeoff.queries import CHECK, Query, query, register
from takeoff.sections.turns import Turn
from takeoff.settings import IdentitySettings
from takeoff.steel import CHS, ROUND, Assembly, FloatArray, Frame, ModelAssembly, Piece
from takeoff.turned import turn_features, turn_frame

LOOSE = "loose"
PLACE_MM = 2.0
"""Pieces of alike assemblies stand this close after the motion (mm); directions to 0.5 degrees."""
TURN_COSINE = float(np.cos(np.radians(0.5)))

ASSEMBLY_MARK_COVERS = register(
    "assembly-mark-covers",
    CHECK,
    "The model's assembly mark {0} covers {1} assemblies that are not alike; they are marked {2} here.",
    "Do not ship by the model's mark. Ask the designer to mark the assemblies apart.",
)
PARTS_IN_NO_ASSEMBLY = register(
    "parts-in-no-assembly",
    CHECK,
    "{0} parts stand in no assembly while others do; they are listed as loose.",
    "Check that loose parts are meant to be shipped loose.",
)


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A piece in the model: its number, its frame, and the turns that leave it as it is.

    ``spins`` is true of a plain round, which looks the same however it lies about its axis and from either end.
    """

    piece: int
    frame: Frame
    own: tuple[Turn, ...]
    centre: FloatArray
    spins: bool = False

    @property
    def frames(self) -> tuple[Frame, ...]:
        """Every frame in which the piece looks the same."""
        return tuple(turn_frame(self.frame, turn) for turn in self.own) or (self.frame,)


@dataclass(frozen=True, slots=True, eq=False)
class Grouped:
    """``mark_of`` gives the assembly mark by the model's assembly, ``members`` the members by assembly."""

    mark_of: Mapping[str, str]
    members: Mapping[str, tuple[int, ...]]


def group_assemblies(
    member_assembly: Mapping[int, str],
    pieces: Sequence[Piece],
    groups: Sequence[Group],
    model_assemblies: Sequence[ModelAssembly],
    rules: IdentitySettings,
) -> tuple[Grouped, tuple[Query, ...]]:
    """Which assemblies are alike, and their marks.

    ``member_assembly`` gives, for every member that is made, the GlobalId of its assembly ("" when loose).
    """
    placed = _placed(pieces, groups, rules) if any(member_assembly.values()) else {}
    inside: dict[str, list[int]] = {}
    for member, assembly in member_assembly.items():
        inside.setdefault(assembly, []).append(member)
    known = {a.global_id: a for a in model_assemblies}
    real = [a for a in inside if a]
    signature = {a: _signature([placed[m] for m in inside[a]]) for a in real}
    sketch = {a: _sketch([placed[m] for m in inside[a]]) for a in real}
    alike: list[list[str]] = []
    by_signature: dict[object, list[int]] = {}
    # The order of the model's entities must not matter: by content, and by GlobalId only among equals.
    for assembly in sorted(real, key=lambda a: (signature[a], a)):
        for number in by_signature.get(signature[assembly], []):
            head = alike[number][0]
            near = np.abs(sketch[head] - sketch[assembly]).max() <= 2 * PLACE_MM
            if near and _same([placed[m] for m in inside[head]], [placed[m] for m in inside[assembly]]):
                alike[number].append(assembly)
                break
        else:
            by_signature.setdefault(signature[assembly], []).append(len(alike))
            alike.append([assembly])
    mark_of, found = _marks(alike, known)
    loose = inside.get("", [])
    if loose:
        mark_of[""] = LOOSE
        if real:
            found.append(query(PARTS_IN_NO_ASSEMBLY, len(loose)))
    return Grouped(mark_of, {a: tuple(sorted(m)) for a, m in inside.items()}), tuple(found)


def _placed(pieces: Sequence[Piece], groups: Sequence[Group], rules: IdentitySettings) -> dict[int, Placed]:
    """Where every member stands, with the turns that leave its piece as it is."""
    found = {}
    for number, (piece, group) in enumerate(zip(pieces, groups, strict=True)):
        shape = group.shape
        own = tuple(turn for turn in all_turns(shape, group.rows) if _is_own(group, turn, rules))
        spins = shape.section.shape in (CHS, ROUND) and not len(group.rows)
        box = _middle(piece)
        for member, frame in zip(piece.members, piece.frames, strict=True):
            found[member] = Placed(number, frame, own, frame.to_model(box), spins)
    return found


def _is_own(group: Group, turn: Turn, rules: IdentitySettings) -> bool:
    """Whether the piece looks the same after the turn."""
    girth = group.shape.girth
    return agreement(group.rows, turn_features(group.rows, turn, girth), rules, girth=girth) is not None


def _middle(piece: Piece) -> FloatArray:
    """A point of the piece that no turn moves: the middle of its length on the section's middle."""
    s = piece.section
    if s.shape in (CHS, ROUND):
        return np.array([piece.length / 2, 0.0, 0.0])
    if s.shape in ("I", "T"):
        return np.array([piece.length / 2, 0.0, s.h / 2])
    if s.shape == "angle":
        # On the bisector of the legs: an equal angle exchanges them.
        return np.array([piece.length / 2, s.b / 4, s.b / 4])
    return np.array([piece.length / 2, s.b / 2, s.h / 2])


def _signature(placed: Sequence[Placed]) -> tuple[tuple[int, int], ...]:
    return tuple(sorted(Counter(p.piece for p in placed).items()))


def _sketch(placed: Sequence[Placed]) -> FloatArray:
    """Distances of the pieces from their common middle, sorted, mm: no rigid motion changes them."""
    centres = np.array([p.centre for p in placed])
    return np.sort(np.linalg.norm(centres - centres.mean(axis=0), axis=1))


def _same(one: Sequence[Placed], other: Sequence[Placed]) -> bool:
    """Whether a rigid motion brings one assembly on the other; both have the same pieces."""
    # A round that spins does not say how the assembly lies: start from another piece where there is one.
    counts = Counter(p.piece for p in one if not p.spins) or Counter(p.piece for p in one)
    rarest = min(counts, key=lambda n: (counts[n], n))
    anchor = next(p for p in one if p.piece == rarest)
    start = anchor.frame
    targets = np.array([p.centre for p in other])
    for candidate in other:
        if candidate.piece != rarest:
            continue
        for frame in candidate.frames:
            rotation = start.axes.T @ frame.axes
            shift = frame.origin - start.origin @ rotation
            if _lands(one, other, targets, rotation, shift):
                return True
    return False


def _lands(
    one: Sequence[Placed], other: Sequence[Placed], targets: FloatArray, rotation: FloatArray, shift: FloatArray
) -> bool:
    free = set(range(len(other)))
    for part in one:
        centre = part.centre @ rotation + shift
        away = np.linalg.norm(targets - centre, axis=1)
        axes = part.frame.axes @ rotation
        for k in np.flatnonzero(away <= PLACE_MM).tolist():
            if k not in free or other[k].piece != part.piece:
                continue
            if part.spins:
                lies = abs(float(axes[0] @ other[k].frame.axes[0])) >= TURN_COSINE
            else:
                lies = any((np.einsum("ij,ij->i", axes, f.axes) >= TURN_COSINE).all() for f in other[k].frames)
            if lies:
                free.discard(k)
                break
        else:
            return False
    return True


def _marks(alike: Sequence[Sequence[str]], known: Mapping[str, ModelAssembly]) -> tuple[dict[str, str], list[Query]]:
    """The model's assembly mark where it means one assembly, else numbers."""
    used = [Counter(known[a].mark for a in same if a in known and known[a].mark) for same in alike]
    owners: dict[str, list[int]] = {}
    for number, counter in enumerate(used):
        for mark in counter:
            owners.setdefault(mark, []).append(number)
    marks = [""] * len(alike)
    for number, counter in enumerate(used):
        own = [(-count, mark) for mark, count in counter.items() if len(owners[mark]) == 1 and mark != LOOSE]
        if own:
            marks[number] = min(own)[1]
    taken = {*owners, LOOSE}
    counter_of = 0
    for number in range(len(alike)):
        while not marks[number] or (marks[number] in taken and marks[number] not in used[number]):
            counter_of += 1
            marks[number] = f"AS{counter_of}"
    found = []
    for mark in sorted(owners):
        if len(owners[mark]) > 1:
            here = sorted(marks[n] for n in owners[mark])
            ids = tuple(a for n in owners[mark] for a in alike[n] if a in known and known[a].mark == mark)
            found.append(query(ASSEMBLY_MARK_COVERS, mark, len(here), ", ".join(here), global_ids=ids))
    return {a: marks[n] for n, same in enumerate(alike) for a in same}, found


def assembly_rows(
    grouped: Grouped, pieces: Sequence[Piece], bolts: Mapping[str, tuple[int, float]]
) -> tuple[Assembly, ...]:
    """One row an assembly mark, weights of one assembly; ``bolts`` gives number and kg by the model's assembly.

    Alike assemblies may hold different numbers of bolts where the model put them so; the row shows their mean.
    """
    piece_of = {m: piece for piece in pieces for m in piece.members}
    by_name = {piece.mark: piece for piece in pieces}
    by_mark: dict[str, list[str]] = {}
    for assembly in sorted({*grouped.mark_of, *bolts}):
        by_mark.setdefault(grouped.mark_of.get(assembly, LOOSE), []).append(assembly)
    rows = []
    for mark in sorted(by_mark, key=natural):
        instances = by_mark[mark]
        quantity = 1 if mark == LOOSE else len(instances)
        counts = Counter(piece_of[m].mark for a in instances for m in grouped.members.get(a, ()) if m in piece_of)
        parts = [(by_name[name], counts[name]) for name in sorted(counts, key=natural)]
        number = sum(bolts.get(a, (0, 0.0))[0] for a in instances)
        weight = sum(bolts.get(a, (0, 0.0))[1] for a in instances)
        rows.append(
            Assembly(
                mark=mark,
                quantity=quantity,
                pieces=tuple((p.mark, n // quantity) for p, n in parts),
                bolts=round(number / quantity),
                gross=sum(p.gross * n for p, n in parts) / quantity,
                net=sum(p.net * n for p, n in parts) / quantity,
                bolt_weight=weight / quantity,
                surface=sum(p.surface * n for p, n in parts) / quantity,
                instances=tuple(a for a in instances if a),
            )
        )
    return tuple(rows)
