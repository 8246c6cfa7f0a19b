"""The checks by the trade's rules: the list, and their findings over the whole job."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from takeoff.checks.distances import end_and_edge, greatest_edge, pitches
from takeoff.checks.sizes import bath, classes, vents
from takeoff.queries import HOLD, Query
from takeoff.rules.findings import Ruling, gathered, remarks
from takeoff.settings import Settings
from takeoff.steel import Piece

JOB_CHECKS: tuple[Callable[[Piece, Settings], Iterable[Ruling]], ...] = (
    classes,
    end_and_edge,
    pitches,
    greatest_edge,
    vents,
    bath,
)


def check_job(
    pieces: Sequence[Piece],
    ids: Mapping[str, tuple[str, ...]],
    settings: Settings,
    of_joints: Sequence[tuple[str, Ruling]] = (),
) -> tuple[list[Query], dict[str, list[str]], dict[str, tuple[str, ...]]]:
    """Findings on all pieces, one query a cause; by piece mark the sentences of those that hold it, and all in phrases.

    ``ids`` are the GlobalIds of the members of each mark; ``of_joints`` what was found where pieces meet.
    """
    severity = settings.checks.severity
    rulings = [(p.mark, ruling) for p in pieces for check in JOB_CHECKS for ruling in check(p, settings)]
    rulings += of_joints
    asked = gathered(rulings, ids, severity)
    held: dict[str, list[str]] = {}
    for question in asked:
        if question.severity == HOLD:
            concerned = {*question.global_ids}
            for mark in dict.fromkeys(mark for mark, ruling in rulings if ruling.code == question.code):
                if concerned & {*ids.get(mark, ())}:
                    held.setdefault(mark, []).append(question.message)
    return asked, held, remarks(rulings, severity)
