"""Assembly marks and what one assembly of each weighs.

Vocabulary
----------
assembly     parts that the model puts together: the innermost IfcElementAssembly that holds them
alike        the same pieces standing the same way: a rigid motion brings one assembly on the other
loose        parts in no assembly; they stand under one row of that name, so that the totals add up

Whether two assemblies are alike is a matter of the pieces' places, not of their names. An assembly that the register
knows keeps its mark as a piece does: it is held against the places that its pieces had when it was first shown.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count

import numpy as np

from takeoff.identity import Group, agreement, all_turns
from takeoff.order import natural
from takeoff.queries import CHECK, Query, query, register
from takeoff.released import ReleasedAssembly
from takeoff.sections.turns import Turn
from takeoff.settings import IdentitySettings, MarkSettings
from takeoff.steel import CHS, LOOSE, ROUND, Assembly, FloatArray, Frame, ModelAssembly, Piece
from takeoff.turned import turn_features, turn_frame

PLACE_MM = 2.0
"""Pieces of alike assemblies stand this close after the motion (mm); directions to 0.5 degrees."""
TURN_COSINE = float(np.cos(np.radians(0.5)))

ASSEMBLY_MARK_COVERS = register(
    "assembly-mark-covers",
    CHECK,
    "The model's assembly mark {0} covers {1} assemblies that are not alike; they are marked {2} here.",
    "Do not ship by the model's mark. Ask the designer to mark the assemblies apart.",
)
ASSEMBLY_MARK_CHANGED = register(
    "assembly-mark-changed",
    CHECK,
    "The model marks the assembly {0} that is listed as {1}, because of the register.",
    "Check that the erection drawings name the assembly by the mark on the steel.",
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
    """``mark_of`` gives the assembly mark by the model's assembly, ``members`` the members by assembly.

    ``standing`` gives for each mark how its pieces stand: (piece mark, frame) each, in the frame of one of them.
    """

    mark_of: Mapping[str, str]
    members: Mapping[str, tuple[int, ...]]
    standing: Mapping[str, tuple[tuple[str, Frame], ...]] = field(default_factory=dict)


def group_assemblies(
    member_assembly: Mapping[int, str],
    pieces: Sequence[Piece],
    groups: Sequence[Group],
    model_assemblies: Sequence[ModelAssembly],
    rules: IdentitySettings,
    marks: MarkSettings,
    released: Sequence[ReleasedAssembly] = (),
) -> tuple[Grouped, tuple[Query, ...]]:
    """Which assemblies are alike, and their marks.

    ``member_assembly`` gives, for every member that is made, the GlobalId of its assembly ("" when loose);
    ``released`` are those that have their marks already.
    """
    placed = _placed(pieces, groups, rules) if any(member_assembly.values()) else {}
    inside: dict[str, list[int]] = {}
    for member, assembly in member_assembly.items():
        inside.setdefault(assembly, []).append(member)
    known = {a.global_id: a for a in model_assemblies}
    real = [a for a in inside if a]
    signature = {a: _signature([placed[m] for m in inside[a]]) for a in real}
    sketch = {a: _sketch([placed[m] for m in inside[a]]) for a in real}
    alike: list[list[str]] = [[] for _ in released]
    heads: list[Sequence[Placed]] = []
    by_signature: dict[object, list[int]] = {}
    numbers = {piece.mark: number for number, piece in enumerate(pieces)}
    for number, known_one in enumerate(released):
        # Without all of its pieces in the model it cannot be there.
        complete = placed and all(mark in numbers for mark, _ in known_one.parts)
        heads.append(_placed_as_released(known_one, numbers, placed.values()) if complete else ())
        if complete:
            by_signature.setdefault(_signature(heads[-1]), []).append(number)
    outlines = {number: _sketch(head) for number, head in enumerate(heads) if head}
    # The order of the model's entities must not matter: by content, and by GlobalId only among equals.
    for assembly in sorted(real, key=lambda a: (signature[a], a)):
        for number in by_signature.get(signature[assembly], []):
            near = np.abs(outlines[number] - sketch[assembly]).max() <= 2 * PLACE_MM
            if near and _same(heads[number], [placed[m] for m in inside[assembly]]):
                alike[number].append(assembly)
                break
        else:
            by_signature.setdefault(signature[assembly], []).append(len(alike))
            outlines[len(alike)] = sketch[assembly]
            alike.append([assembly])
            heads.append([placed[m] for m in inside[assembly]])
    mark_of, found = _marks(alike, known, marks, [assembly.mark for assembly in released])
    standing = {mark_of[same[0]]: _standing(head, pieces) for same, head in zip(alike, heads, strict=True) if same}
    loose = inside.get("", [])
    if loose:
        mark_of[""] = LOOSE
        if real:
            found.append(query(PARTS_IN_NO_ASSEMBLY, len(loose)))
    return Grouped(mark_of, {a: tuple(sorted(m)) for a, m in inside.items()}, standing), tuple(found)


def _placed_as_released(
    assembly: ReleasedAssembly, numbers: Mapping[str, int], placed: Iterable[Placed]
) -> list[Placed]:
    """The pieces of a released assembly as they stood in it: a known piece keeps its frame, so these still hold."""
    like: dict[int, Placed] = {}
    wanted = {numbers[mark] for mark, _ in assembly.parts}
    for part in placed:
        if part.piece in wanted:
            like.setdefault(part.piece, part)
    found = []
    for mark, frame in assembly.parts:
        part = like[numbers[mark]]
        found.append(replace(part, frame=frame, centre=frame.to_model(part.frame.to_piece(part.centre))))
    return found


def _standing(placed: Sequence[Placed], pieces: Sequence[Piece]) -> tuple[tuple[str, Frame], ...]:
    """(piece mark, frame) of each piece in the frame of the first by mark, to a millionth of a millimetre."""
    ordered = sorted(placed, key=lambda p: natural(pieces[p.piece].mark))
    base = ordered[0].frame
    found = []
    for part in ordered:
        origin = np.round(base.to_piece(part.frame.origin), 6) + 0.0
        axes = np.round(base.direction_to_piece(part.frame.axes), 12) + 0.0
        found.append((pieces[part.piece].mark, Frame(origin, axes)))
    return tuple(found)


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


def _marks(
    alike: Sequence[Sequence[str]], known: Mapping[str, ModelAssembly], settings: MarkSettings, given: Sequence[str]
) -> tuple[dict[str, str], list[Query]]:
    """The released mark, then the model's where it means one assembly, with a suffix where it means several, else
    numbers. The first of ``alike`` have the marks ``given``."""
    used = [Counter(known[a].mark for a in same if a in known and known[a].mark) for same in alike]
    owners: dict[str, list[int]] = {}
    for number, counter in enumerate(used):
        for mark in counter:
            owners.setdefault(mark, []).append(number)
    marks = [*given, *[""] * (len(alike) - len(given))]
    taken = {LOOSE, *owners, *given}
    if settings.source == "model":
        for number, counter in enumerate(used):
            own = [(-many, mark) for mark, many in counter.items() if len(owners[mark]) == 1]
            own = [entry for entry in own if entry[1] != LOOSE and entry[1] not in given]
            if not marks[number] and own:
                marks[number] = min(own)[1]
        for number, counter in enumerate(used):
            if not marks[number] and counter:
                _, mark = min((-many, mark) for mark, many in counter.items())
                marks[number] = next(m for n in count(1) if (m := f"{mark}-{n}") not in taken)
                taken.add(marks[number])
    free = (m for n in count(1) if (m := f"AS{n}") not in taken)
    marks = [mark or next(free) for mark in marks]
    found = []
    for mark in sorted(owners):
        ids = tuple(a for n in owners[mark] for a in alike[n] if a in known and known[a].mark == mark)
        if len(owners[mark]) > 1:
            here = sorted(marks[n] for n in owners[mark])
            found.append(query(ASSEMBLY_MARK_COVERS, mark, len(here), ", ".join(here), global_ids=ids))
        elif given and settings.source == "model":
            (number,) = owners[mark]
            if marks[number] != mark and len(used[number]) == 1:
                found.append(query(ASSEMBLY_MARK_CHANGED, mark, marks[number], global_ids=ids))
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
                zinc=sum(p.zinc * n for p, n in parts) / quantity,
            )
        )
    return tuple(rows)
