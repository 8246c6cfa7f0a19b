"""Every document of a run, written into one folder; for a big model two workers side by side."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import traceback
from collections.abc import Callable
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Final

from takeoff.exchange.machine import Machine
from takeoff.plans import Bars
from takeoff.progress import Progress, silent
from takeoff.queries import SEVERITIES
from takeoff.settings import Settings
from takeoff.steel import Takeoff

BIG: Final = 2_000
"""Parts and bolt rows from which a second process pays for its start."""
SUMMARY: Final = "summary.json"


class WorkerError(RuntimeError):
    """A worker ended without its documents; the message holds its own traceback."""


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
    if big and _can_fork():
        _side_by_side(tables, sheets)
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


def _can_fork() -> bool:
    """A forked worker sees the takeoff without a copy; elsewhere passing it over costs more than it saves."""
    return sys.platform == "linux" and (os.cpu_count() or 1) > 1


def _side_by_side(theirs: Callable[[], None], ours: Callable[[], None]) -> None:
    """Run ``theirs`` in a forked worker and ``ours`` here; both have succeeded when this returns.

    Raises what ``ours`` raises, the worker's OSError, or WorkerError for any other end of it.
    """
    context = multiprocessing.get_context("fork")
    receiver, sender = context.Pipe(duplex=False)
    worker = context.Process(target=_work, args=(theirs, sender), daemon=True)
    worker.start()
    sender.close()  # so that the worker's death ends the pipe
    try:
        ours()
        try:
            failure = receiver.recv()
        except EOFError:
            worker.join()
            raise WorkerError(f"a worker writing documents ended with status {worker.exitcode}") from None
        worker.join()
    finally:
        if worker.is_alive():
            worker.kill()
            worker.join()
        receiver.close()
    if isinstance(failure, OSError):
        raise failure
    if failure is not None:
        raise WorkerError(str(failure))


def _work(job: Callable[[], None], sender: Connection) -> None:
    # Ctrl-C reaches the whole process group; the parent alone answers it, and ends this worker.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    try:
        job()
    except OSError as error:
        sender.send(error)
    except BaseException:
        sender.send(traceback.format_exc())
    else:
        sender.send(None)
