"""Two revisions held against each other, in order: read or worked out, compared, written. Nothing is printed here."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from takeoff.columns import CHANGE_COLUMNS
from takeoff.comparing import compare, state_of, state_of_lists
from takeoff.identity import Marking
from takeoff.piecework import make_pieces
from takeoff.pipeline import take_off
from takeoff.progress import Progress, part, silent
from takeoff.register.shapes import group_of
from takeoff.released import Register
from takeoff.revision import KINDS, RELEASED, VERDICTS, Comparison, State
from takeoff.settings import IdentitySettings, Settings
from takeoff.steel import Piece

CHANGES_PDF: Final = "changes.pdf"
CHANGES_CSV: Final = "tables/changes.csv"


def compare_revisions(
    old: Path, new: Path, settings: Settings, progress: Progress = silent, register: Path | None = None
) -> Comparison:
    """What ``new`` changes against ``old``: models, or folders of lists.

    With a ``register`` models are marked by it and every released piece gets a verdict. The register is read only.
    Raises Unreadable, RegisterError, UnreadableLists, OSError.
    """
    known: Register | None = None
    if register is not None:
        from takeoff.register import read_register

        known = read_register(register)
    before = _state(old, settings, part(progress, 0.0, 0.45), known)
    after = _state(new, settings, part(progress, 0.45, 0.9), known)
    progress("Comparing", 0.9)
    released = _released(known) if known else []
    return compare(before, after, settings.identity, released, str(register or ""))


def _state(path: Path, settings: Settings, progress: Progress, register: Register | None) -> State:
    if path.is_dir():
        return state_of_lists(path)
    if register is None:
        return state_of(take_off([path], settings, progress))
    # No issue: the register is not written, and an issue's name must not bind what is only looked at.
    looked_at = replace(settings, documents=replace(settings.documents, revision=f"comparison of {path.name}"))
    return state_of(take_off([path], looked_at, progress, register))


def _released(register: Register) -> list[tuple[Piece, int, IdentitySettings]]:
    """Released pieces, as they were released, with the largest quantity that any issue released."""
    found = []
    for entry in register.pieces:
        if entry.most <= 0:
            continue
        (piece,) = make_pieces([group_of(entry)], Marking((entry.mark,), (entry.model_marks,)), [])
        found.append((piece, entry.most, entry.rules))
    return found


def comparison_summary(comparison: Comparison, files: Sequence[Path]) -> str:
    """What a person wants to know at the end of a comparison: verdicts first, then counts, then where it stands."""
    lines = [
        f"{comparison.old.name} to {comparison.new.name}: {'differences' if comparison.differs else 'no difference'}"
    ]
    verdicts: Counter[str] = Counter()
    for change in comparison.changes:
        if change.change == RELEASED:
            verdicts[change.verdict] += change.quantity or 0
    if verdicts:
        lines.append("  released " + ", ".join(f"{verdicts[v]} {v}" for v in VERDICTS if verdicts[v]))
    counts = Counter(change.change for change in comparison.changes)
    named = [f"{counts[kind]} {kind}" for kind in KINDS if counts[kind] and kind != RELEASED]
    if named:
        lines.append("  changes  " + ", ".join(named))
    if comparison.renamed:
        lines.append(f"  marks    {len(comparison.renamed)} changed without a change of steel")
    lines += [f"  note     {limit}" for limit in (*comparison.old.limits, *comparison.new.limits)]
    lines += [f"  written  {file}" for file in files]
    return "\n".join(lines)


def write_comparison(comparison: Comparison, settings: Settings, folder: Path) -> None:
    """Write changes.pdf and tables/changes.csv into ``folder``. Raises OSError."""
    from takeoff import sheets

    sheets.changes(comparison, settings, folder / CHANGES_PDF)
    write_changes(comparison, folder / CHANGES_CSV)


def write_changes(comparison: Comparison, path: Path) -> None:
    """Write the table of changes; cells as in every table: UTF-8, comma, ``\\n``, empty where it does not apply."""
    from takeoff.lists import guarded

    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(CHANGE_COLUMNS)
        for change in comparison.changes:
            cells: Sequence[str | int | None] = (
                change.change, change.mark_old, change.mark_new, change.quantity_old, change.quantity_new, change.what,
                change.verdict, change.quantity,
            )  # fmt: skip
            writer.writerow([guarded(c) if isinstance(c, str) else "" if c is None else c for c in cells])
