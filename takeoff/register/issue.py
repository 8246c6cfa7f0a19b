"""The register after a run: what it shows for the first time, what it releases, what it has no more.

The same run again gives the same register: an issue's quantities are set, not added, and what an issue showed first
stays its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from takeoff.identity import Group, rounded_section
from takeoff.order import natural
from takeoff.queries import CHECK, Query, query
from takeoff.queries import register as register_code
from takeoff.register.job import adopted, issue_of
from takeoff.register.shapes import entry_of
from takeoff.released import Register, Release, ReleasedAssembly, ReleasedPiece, Standing
from takeoff.settings import Settings
from takeoff.steel import HELD, Assembly, Frame, Model, Piece, Section

NOTHING_KNOWN = register_code(
    "register-nothing-known",
    CHECK,
    "None of the {0} marks that the register has from earlier issues is in this model.",
    "Make sure that it is this job's register. If it is another one's, put that one back from a copy.",
)


def strangers(release: Release) -> tuple[Query, ...]:
    """Asks where no piece of an earlier issue is in this one: a wrong register would look like this."""
    earlier = sum(piece.shown != release.revision for piece in release.register.pieces)
    return (query(NOTHING_KNOWN, earlier),) if earlier and not release.pieces.kept else ()


def issue(
    known: Register,
    model: Model,
    settings: Settings,
    sections: Sequence[Section],
    groups: Sequence[Group],
    pieces: Sequence[Piece],
    assemblies: Sequence[Assembly],
    standing: Mapping[str, tuple[tuple[str, Frame], ...]],
) -> Release:
    """What this run makes of the register ``known``.

    ``groups`` and ``pieces`` run parallel; ``standing`` gives how each assembly mark's pieces stand. Pieces on HOLD
    are shown, not released; neither is an assembly that one of them is in.
    """
    this = issue_of(model, settings)
    revision = this.revision
    entries = {piece.mark: piece for piece in known.pieces}
    by_rank = sorted(zip(groups, pieces, strict=True), key=lambda pair: pair[0].rank)
    for group, piece in by_rank:
        entry = entries.get(piece.mark) or entry_of(group, settings.identity, piece.mark, revision)
        entries[piece.mark] = replace(
            entry,
            opposite_hand_of=entry.opposite_hand_of or piece.opposite_hand_of,
            model_marks=tuple(sorted({*entry.model_marks, *piece.model_marks})),
        )
    for entry in tuple(entries.values()):
        # A mate that the model has no more is named too.
        mate = entries.get(entry.opposite_hand_of)
        if mate and not mate.opposite_hand_of:
            entries[mate.mark] = replace(mate, opposite_hand_of=entry.mark)
    released = {p.mark: p.quantity for p in pieces if p.status != HELD}
    listed = tuple(
        replace(entry, quantities=_quantities(entry.quantities, revision, released.get(mark)))
        for mark, entry in entries.items()
    )
    held = {p.mark for p in pieces if p.status == HELD}
    built = {a.mark: a for a in assemblies if a.instances}
    whole = {mark: a.quantity for mark, a in built.items() if not held & {name for name, _ in standing[mark]}}
    frames = {assembly.mark: assembly for assembly in known.assemblies}
    for mark in sorted(built, key=natural):
        frames.setdefault(mark, ReleasedAssembly(mark, standing[mark], revision))
    stand = tuple(
        replace(entry, quantities=_quantities(entry.quantities, revision, whole.get(mark)))
        for mark, entry in frames.items()
    )
    job, projects = adopted(known, model, settings)
    earlier = tuple(entry for entry in known.issues if entry.revision != revision)
    register = Register(
        job=job,
        projects=projects,
        issues=(*earlier, this),
        sections=(*known.sections, *(rounded_section(s) for s in sections[len(known.sections) :])),
        pieces=listed,
        assemblies=stand,
    )
    return Release(
        revision,
        _standing(listed, {p.mark for p in pieces}, revision),
        _standing(stand, set(built), revision),
        register,
    )


def _quantities(before: Mapping[str, int], revision: str, now: int | None) -> Mapping[str, int]:
    """With this issue's quantity. An issue that released some and has none now says 0: they may have been cut."""
    if now is None:
        return {**before, revision: 0} if revision in before else before
    return {**before, revision: now}


def _standing(
    entries: Sequence[ReleasedPiece] | Sequence[ReleasedAssembly], present: set[str], revision: str
) -> Standing:
    """The marks of this issue by what became of them, each in the order of marks."""
    here = [entry for entry in entries if entry.mark in present]

    def sorted_marks(chosen: Sequence[ReleasedPiece | ReleasedAssembly]) -> tuple[str, ...]:
        return tuple(sorted((entry.mark for entry in chosen), key=natural))

    return Standing(
        new=sorted_marks([entry for entry in here if entry.shown == revision]),
        kept=sorted_marks([entry for entry in here if entry.shown != revision]),
        retired=sorted_marks([entry for entry in entries if entry.mark not in present]),
        reserved=sorted_marks([entry for entry in here if entry.released is None]),
    )
