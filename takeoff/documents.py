"""Every document of a run, written into one folder; for a big model two workers side by side."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import traceback
from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Final

from takeoff.progress import Progress, silent
from takeoff.settings import Settings
from takeoff.steel import Takeoff

BIG: Final = 2_000
"""Parts and bolt rows from which a second process pays for its start."""
SUMMARY: Final = "summary.json"


class WorkerError(RuntimeError):
    """A worker ended without its documents; the message holds its own traceback."""


def write_documents(takeoff: Takeoff, settings: Settings, folder: Path, progress: Progress = silent) -> list[str]:
    """Write every document into ``folder`` (which exists and is empty) and return their names, sorted.

    queries.pdf is written only when there is something to ask. The same takeoff gives the
    same bytes, side by side or not. Raises OSError where a document cannot be written.
    """
    progress("Writing tables and sheets", 0.0)

    def tables() -> None:
        write_tables(takeoff, folder)

    def sheets() -> None:
        write_sheets(takeoff, settings, folder)

    big = len(takeoff.model.members) + len(takeoff.bolt_rows) >= BIG
    if big and _can_fork():
        _side_by_side(tables, sheets)
    else:
        tables()
        progress("Writing tables and sheets", 0.5)
        sheets()
    from takeoff.summary import write_summary

    files = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    write_summary(takeoff, settings, folder / SUMMARY, files)
    progress("Writing tables and sheets", 1.0)
    return sorted([*files, SUMMARY])


def write_tables(takeoff: Takeoff, folder: Path) -> None:
    """tables/*.csv and lists.xlsx."""
    from takeoff.lists import tables, write_csv
    from takeoff.workbook import write_workbook

    frames = tables(takeoff)
    write_csv(frames, folder / "tables")
    write_workbook(frames, folder / "lists.xlsx")


def write_sheets(takeoff: Takeoff, settings: Settings, folder: Path) -> None:
    """The PDF sheets and the review page."""
    from takeoff import review, sheets

    pages = sheets.cut_and_punch(takeoff, settings, folder / "cut-and-punch.pdf")
    sheets.bolts(takeoff, settings, folder / "bolts.pdf")
    sheets.weights(takeoff, settings, folder / "weights.pdf")
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
