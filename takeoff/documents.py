"""Every document of a run, written into one folder; for a big model two workers side by side."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

from takeoff.beside import Beside, can_fork
from takeoff.exchange.machine import Machine
from takeoff.plans import Bars
from takeoff.progress import Progress, silent
from takeoff.queries import SEVERITIES
from takeoff.settings import Settings
from takeoff.steel import Takeoff

BIG: Final = 2_000
"""Parts and bolt rows from which a second process pays for its start."""
SUMMARY: Final = "summary.json"


def write_documents(
    takeoff: Takeoff,
    settings: Settings,
    folder: Path,
    progress: Progress = silent,
    machine: Machine | None = None,
    bars: Bars | None = None,
) -> list[str]:
    """Write every document into ``folder`` (which exists and is empty) and return their names, sorted.

    queries.pdf is written only when there is something to ask; ``machine`` holds the files for machines, where
    asked for, ``bars`` the cutting plan, unless it is left out. The same takeoff gives the same bytes, side by side
    or not. Raises OSError where a document cannot be written.
    """
    progress("Writing tables and sheets", 0.0)
    planned = (bars,) if bars else ()

    def tables() -> None:
        write_tables(takeoff, folder, *planned)

    def sheets() -> None:
        write_sheets(takeoff, settings, folder, *planned)

    big = len(takeoff.model.members) + len(takeoff.bolt_rows) >= BIG
    if big and can_fork():
        with Beside(tables) as worker:
            sheets()
            worker.value()
    else:
        tables()
        progress("Writing tables and sheets", 0.5)
        sheets()
    if machine:
        write_machine_files(machine, folder)
    from takeoff.summary import write_summary

    files = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    write_summary(takeoff, settings, folder / SUMMARY, files, machine.told() if machine else {})
    progress("Writing tables and sheets", 1.0)
    return sorted([*files, SUMMARY])


def bars_of(takeoff: Takeoff, settings: Settings) -> tuple[Bars, Takeoff]:
    """The cutting plan with its running order, and the takeoff with the queries that they raise among its own."""
    from takeoff.bars import plan_bars
    from takeoff.running import running_order

    planned = plan_bars(takeoff, settings.bars)
    pieces = {piece.mark: piece for piece in takeoff.pieces}
    running = running_order(planned.plans, pieces, settings.bars.punches_per_head)
    order = {severity: k for k, severity in enumerate(SEVERITIES)}
    queries = sorted(
        dict.fromkeys((*takeoff.queries, *planned.queries)),
        key=lambda q: (order[q.severity], q.code, q.piece_mark, q.message, q.global_ids),
    )
    return replace(planned, running=running), replace(takeoff, queries=tuple(queries))


def write_machine_files(machine: Machine, folder: Path) -> None:
    """nc/*.nc and dxf/*.dxf."""
    for name, content in machine.files().items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)


def write_tables(takeoff: Takeoff, folder: Path, bars: Bars | None = None) -> None:
    """tables/*.csv and lists.xlsx."""
    from takeoff.lists import tables, write_csv
    from takeoff.workbook import write_workbook

    frames = tables(takeoff, bars)
    write_csv(frames, folder / "tables")
    write_workbook(frames, folder / "lists.xlsx")


def write_sheets(takeoff: Takeoff, settings: Settings, folder: Path, bars: Bars | None = None) -> None:
    """The PDF sheets and the review page."""
    from takeoff import review, sheets

    cut_from = bars.of_mark() if bars else {}
    pages = sheets.cut_and_punch(takeoff, settings, folder / "cut-and-punch.pdf", cut_from)
    sheets.bolts(takeoff, settings, folder / "bolts.pdf")
    sheets.weights(takeoff, settings, folder / "weights.pdf")
    if bars:
        sheets.bars(takeoff, settings, bars, folder / "bars.pdf")
    if takeoff.queries:
        sheets.queries(takeoff, settings, folder / "queries.pdf")
    review.write(takeoff, settings, folder / "review.html", pages=pages)
