"""Every document of a run, written into one folder; for a big model two workers side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from takeoff.beside import Beside, can_fork
from takeoff.dispatch import Dispatch
from takeoff.entries import Entries, settle
from takeoff.exchange.machine import Machine
from takeoff.plans import Bars
from takeoff.progress import Progress, silent
from takeoff.queries import SEVERITIES, Query
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
    dispatch: Dispatch | None = None,
    entries: Entries | None = None,
) -> list[str]:
    """Write every document into ``folder`` (which exists and is empty) and return their names, sorted.

    A document that would be empty is not written; ``machine`` holds the files for machines, where asked for, ``bars``
    the cutting plan, unless it is left out, ``dispatch`` what goes with the steel, worked out here where not given,
    ``entries`` what people entered in the last workbook.
    The same takeoff gives the same bytes, side by side or not. Raises OSError where a document cannot be written.
    """
    progress("Writing tables and sheets", 0.0)
    if dispatch is None:
        dispatch, takeoff = dispatch_of(takeoff, settings)

    def tables() -> None:
        write_tables(takeoff, folder, bars, dispatch, entries, settings)

    def sheets() -> None:
        write_sheets(takeoff, settings, folder, bars, dispatch)

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
    from takeoff.routing import hole_off_line
    from takeoff.running import running_order

    planned = plan_bars(takeoff, settings.bars)
    pieces = {piece.mark: piece for piece in takeoff.pieces}
    running = running_order(
        planned.plans,
        pieces,
        settings.bars.punches_per_head,
        settings.line,
        lambda piece, hole: hole_off_line(piece, hole, settings),
    )
    return replace(planned, running=running), _with_queries(takeoff, planned.queries)


def _with_queries(takeoff: Takeoff, more: Sequence[Query]) -> Takeoff:
    """The takeoff with further queries in their places among its own."""
    if not more:
        return takeoff
    order = {severity: k for k, severity in enumerate(SEVERITIES)}
    queries = sorted(
        dict.fromkeys((*takeoff.queries, *more)),
        key=lambda q: (order[q.severity], q.code, q.piece_mark, q.message, q.global_ids),
    )
    return replace(takeoff, queries=tuple(queries))


def dispatch_of(takeoff: Takeoff, settings: Settings) -> tuple[Dispatch, Takeoff]:
    """What goes with the steel, and the takeoff with the queries that it raises among its own."""
    from takeoff.boltbags import pack_bolts
    from takeoff.bundles import pack
    from takeoff.erection import plan_erection
    from takeoff.lookalikes import find_look_alikes
    from takeoff.plateorder import plate_order

    erection = plan_erection(takeoff, settings.erection)
    levels: dict[str, dict[int, int]] = {}
    for stand in erection.stands:
        of_mark = levels.setdefault(stand.mark, {})
        of_mark[stand.level] = of_mark.get(stand.level, 0) + len(stand.members)
    bundles, unpacked, queries = pack(takeoff.pieces, levels, settings.shipping)
    dispatch = Dispatch(
        erection=erection,
        bags=pack_bolts(takeoff, erection.row_levels, settings.shipping),
        bundles=bundles,
        unpacked=unpacked,
        look_alikes=find_look_alikes(takeoff.pieces, settings.inspection.look_alike_mm),
        plates=plate_order(takeoff.pieces),
        queries=queries,
    )
    return dispatch, _with_queries(takeoff, queries)


def write_machine_files(machine: Machine, folder: Path) -> None:
    """nc/*.nc and dxf/*.dxf."""
    for name, content in machine.files().items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)


def write_tables(
    takeoff: Takeoff,
    folder: Path,
    bars: Bars | None = None,
    dispatch: Dispatch | None = None,
    entries: Entries | None = None,
    settings: Settings | None = None,
) -> None:
    """tables/*.csv and lists.xlsx with the ``entries`` in it; job and revision of the ``settings`` on its pages."""
    from takeoff.lists import tables, write_csv
    from takeoff.workbook import write_workbook

    frames = tables(takeoff, bars, dispatch)
    write_csv(frames, folder / "tables")
    printed = settings.documents if settings else None
    heading = " ".join(filter(None, (printed.job, printed.revision))) if printed else ""
    settled = settle(entries or Entries(), takeoff.pieces)
    write_workbook(frames, folder / "lists.xlsx", settled, heading or takeoff.model.name)


def write_sheets(
    takeoff: Takeoff, settings: Settings, folder: Path, bars: Bars | None = None, dispatch: Dispatch | None = None
) -> None:
    """The PDF sheets and the review page."""
    from takeoff import review, sheets

    cut_from = bars.of_mark() if bars else {}
    pages = sheets.cut_and_punch(takeoff, settings, folder / "cut-and-punch.pdf", cut_from)
    sheets.bolts(takeoff, settings, folder / "bolts.pdf", dispatch)
    sheets.weights(takeoff, settings, folder / "weights.pdf", dispatch)
    if dispatch:
        sheets.inspection(takeoff, settings, dispatch.look_alikes, folder / "inspection.pdf")
        sheets.erection(takeoff, settings, dispatch.erection, folder / "erection.pdf")
        sheets.packing(takeoff, settings, dispatch, folder / "packing.pdf")
        sheets.tags(takeoff, settings, dispatch, folder / "tags.pdf")
    if bars:
        sheets.bars(takeoff, settings, bars, folder / "bars.pdf")
    if takeoff.queries:
        sheets.queries(takeoff, settings, folder / "queries.pdf")
    review.write(takeoff, settings, folder / "review.html", pages=pages)
