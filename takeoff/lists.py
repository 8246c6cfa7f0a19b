"""The tables: one data frame each, and the CSV files written from them.

Numbers are rounded here once, so that every file a table goes into says the same.
Empty means not known; a mass of nothing is not known, never 0.

Rows stand in an order that follows from what they say (marks counted as a person counts:
A2 before A10), not from the order of entities in the model.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from takeoff.bartables import BAR_ROWS
from takeoff.columns import ALL_COLUMNS, BAR_COLUMNS, COLUMNS, COUNT, DECIMALS, DISPATCH_COLUMNS, TEXT
from takeoff.dispatch import Dispatch
from takeoff.dispatchtables import DISPATCH_ROWS
from takeoff.order import natural
from takeoff.plans import Bars
from takeoff.queries import SEVERITIES
from takeoff.rules import wording
from takeoff.steel import BoltRow, Piece, Takeoff

if TYPE_CHECKING:
    import pandas as pd

_RISKY: Final = ("=", "+", "-", "@", "\t")
_SURROGATES: Final = re.compile("[\ud800-\udfff]")

Row = tuple[Any, ...]


def tables(takeoff: Takeoff, bars: Bars | None = None, dispatch: Dispatch | None = None) -> dict[str, pd.DataFrame]:
    """Every table by name, in the order of ``COLUMNS``, with ``dispatch`` and ``bars`` those of theirs.

    Text columns hold str (empty: not known), counts the nullable Int64, all others
    float64 with NaN for not known. Text is already guarded (see :func:`guarded`).
    """
    frames = {name: _frame(columns, _ROWS[name](takeoff)) for name, columns in COLUMNS.items()}
    if dispatch is not None:
        frames |= {name: _frame(cs, DISPATCH_ROWS[name](takeoff, dispatch)) for name, cs in DISPATCH_COLUMNS.items()}
    if bars is not None:
        frames |= {name: _frame(columns, BAR_ROWS[name](bars)) for name, columns in BAR_COLUMNS.items()}
    return frames


def _frame(columns: Mapping[str, str], cells_by_row: Iterable[Row]) -> pd.DataFrame:
    import pandas as pd

    rows = list(cells_by_row)
    values: Iterable[Sequence[Any]] = zip(*rows, strict=True) if rows else [()] * len(columns)
    return pd.DataFrame(
        {column: _series(kind, cells) for (column, kind), cells in zip(columns.items(), values, strict=True)}
    )


def write_csv(frames: dict[str, pd.DataFrame], folder: Path) -> list[Path]:
    """Write ``folder/<table>.csv`` for each table and return the paths.

    UTF-8 without a byte order mark, comma, ``\\n``, quotes where needed, a dot as the
    decimal sign, no trailing zeros. Raises OSError where a file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, frame in frames.items():
        path = folder / f"{name}.csv"
        kinds = ALL_COLUMNS[name]
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(frame.columns)
            writer.writerows(zip(*(cell_texts(kinds[c], frame[c]) for c in frame.columns), strict=True))
        paths.append(path)
    return paths


def cell_texts(kind: str, column: pd.Series[Any]) -> list[str]:
    """A column's cells as the files write them; empty where not known."""
    if kind == TEXT:
        return column.tolist()
    if kind == COUNT:
        known = column.notna().tolist()
        return [str(v) if k else "" for v, k in zip(column.fillna(0).tolist(), known, strict=True)]
    pattern = f"%.{DECIMALS[kind]}f"
    # A column repeats its numbers (one length a mark), so each is worded once.
    texts: dict[float, str] = {}
    cells = []
    for value in column.tolist():
        text = texts.get(value)
        if text is None:
            text = "" if math.isnan(value) else (pattern % value).rstrip("0").rstrip(".")
            texts[value] = text
        cells.append(text)
    return cells


def guarded(text: str) -> str:
    """Text that a spreadsheet takes as text.

    An apostrophe stands in front where it would else be read as a formula. Half characters
    (lone surrogates, which a broken escape in a model yields) become the replacement sign,
    since no file can hold them.
    """
    if text.startswith(_RISKY):
        text = f"'{text}"
    return _SURROGATES.sub("\ufffd", text)


def mark_order(mark: str) -> tuple[bool, tuple[tuple[int, int, str], ...], str]:
    """Sort key of a mark: numbers by their value, no mark at all last."""
    return (not mark, natural(mark), mark)


def _series(kind: str, cells: Sequence[Any]) -> pd.Series[Any]:
    import pandas as pd

    if kind == TEXT:
        cache: dict[str, str] = {}
        return pd.Series([cache.get(c) or cache.setdefault(c, guarded(c)) for c in cells], dtype=object)
    if kind == COUNT:
        return pd.Series(list(cells), dtype="Int64")
    numbers = np.array([math.nan if c is None else c for c in cells], dtype=float)
    numbers[~np.isfinite(numbers)] = math.nan
    # Rounding twice lets two runs that differ by float noise agree on a tie as 100.125.
    numbers = np.round(np.round(numbers, 6), DECIMALS[kind]) + 0.0
    return pd.Series(numbers)


def _known(value: float) -> float | None:
    """A size or mass that cannot be nothing: 0 says it was not found out."""
    return value if value > 0 else None


def _member_rows(takeoff: Takeoff) -> Iterator[Row]:
    model = takeoff.model
    ends: dict[int, tuple[Piece, list[float]]] = {}
    for piece in takeoff.pieces:
        if piece.frames:
            left = np.array([frame.origin for frame in piece.frames])
            right = left + piece.length * np.array([frame.axes[0] for frame in piece.frames])
            places = np.hstack([left, right]).tolist()
            ends.update((m, (piece, place)) for m, place in zip(piece.members, places, strict=True))
    rows: list[Row] = []
    for index, member in enumerate(model.members):
        section = ""
        length: float | None = None
        place: Sequence[float | None] = (None,) * 6
        if index in ends:
            piece, place = ends[index]
            section, length = piece.section.designation, piece.length
        elif member.body:
            section, length = member.body.section.designation, member.body.length
        mark = takeoff.member_marks[index]
        rows.append(
            (
                member.global_id,
                member.ifc_class,
                member.name,
                section,
                member.grade,
                length,
                mark,
                takeoff.member_assemblies[index],
                takeoff.member_status[index],
                takeoff.member_reasons[index],
                *place,
                member.model or model.name,
                member.mark,
                member.section_text,
            )
        )
    keys: dict[str, Any] = {mark: mark_order(mark) for mark in set(takeoff.member_marks)}
    rows.sort(key=lambda row: (keys[row[6]], row[16], row[0], row[1], row[2]))
    yield from rows


def _piece_rows(takeoff: Takeoff) -> Iterator[Row]:
    # The issue of the register that released the mark first; nothing while it is on HOLD.
    register = takeoff.release.register.pieces if takeoff.release else ()
    released = {entry.mark: entry.released for entry in register}
    for piece in takeoff.pieces:
        section = piece.section
        yield (
            piece.mark,
            piece.quantity,
            section.shape,
            section.designation,
            piece.grade,
            piece.finish,
            piece.length,
            _known(section.h),
            _known(section.tw),
            _known(piece.gross),
            _known(piece.net),
            _known(piece.surface),
            len(piece.holes),
            piece.opposite_hand_of,
            " ".join(piece.model_marks),
            piece.status,
            " ".join(piece.reasons),
            _known(section.mass_kg_per_m),
            section.standard or "dimensions",
            wording.routing_words(piece),
            " ".join(piece.off_line),
            _known(piece.zinc),
            piece.net + piece.zinc if piece.zinc and piece.net else None,
            wording.stamp_words(piece),
            piece.stamp.x if piece.stamp else None,
            piece.stamp.across if piece.stamp else None,
            wording.gauge_words(piece),
            piece.nut_clearance,
            wording.grind_words(piece),
            wording.bend_words(piece),
            "; ".join(piece.remarks),
            released.get(piece.mark) or "",
        )


def _times(each: int | None, bolts: int) -> int | None:
    """Nuts or washers of a row's bolts together; None where the model does not say."""
    return None if each is None else each * max(1, bolts)


def _hole_rows(takeoff: Takeoff) -> Iterator[Row]:
    for piece in takeoff.pieces:
        for hole in piece.holes:
            yield (
                piece.mark,
                hole.label,
                hole.face,
                hole.x,
                hole.across,
                None if hole.kind == "rectangle" else _known(hole.diameter),
                hole.slot_length,
                hole.slot_angle,
                hole.gauge_line or None,
                hole.bolt,
                hole.source,
                hole.kind,
                _known(hole.width),
                hole.diameter_source,
                piece.status,
                hole.diameter / 2 if hole.kind == "rectangle" else None,
                hole.hole_class,
                hole.make,
                _known(wording.size_to_punch(hole)),
                _known(hole.force_kn),
                hole.side,
                _known(hole.depth),
                _known(hole.head_diameter),
            )


def _cut_rows(takeoff: Takeoff) -> Iterator[Row]:
    for piece in takeoff.pieces:
        for cut in piece.cuts:
            yield (
                piece.mark,
                cut.end,
                cut.face,
                cut.kind,
                cut.x,
                cut.across,
                cut.angle,
                cut.size,
                piece.status,
            )


def _fastener_rows(takeoff: Takeoff) -> Iterator[Row]:
    model = takeoff.model
    rows: list[Row] = []
    ids = [member.global_id for member in model.members]
    marks = takeoff.member_marks
    node_of = {joint.number: joint.node for joint in takeoff.joints}
    for bolt_row in _every_fastener(takeoff):
        fastener = model.fasteners[bolt_row.fastener]
        rows.append(
            (
                fastener.global_id,
                bolt_row.bolts,
                fastener.diameter,
                bolt_row.length,
                fastener.grade,
                bolt_row.grip,
                bolt_row.plies,
                _times(fastener.nuts, bolt_row.bolts),
                _times(fastener.washers, bolt_row.bolts),
                fastener.place,
                " ".join([ids[m] for m in bolt_row.members]),
                " ".join([marks[m] for m in bolt_row.members if marks[m]]),
                bolt_row.joint,
                bolt_row.assembly_mark,
                bolt_row.status,
                bolt_row.reason,
                fastener.model or model.name,
                fastener.kind,
                fastener.name,
                fastener.standard,
                bolt_row.length_source,
                bolt_row.rule_length,
                node_of.get(bolt_row.joint) if bolt_row.joint is not None else None,
            )
        )
    rows.sort(key=lambda row: (row[16], row[0], -1 if row[12] is None else row[12], row[5] or 0, row[10]))
    yield from rows


def _every_fastener(takeoff: Takeoff) -> Iterator[BoltRow]:
    """The bolt rows, and a row for each fastener that has none (a weld, an anchor), so that none is lost."""
    yield from takeoff.bolt_rows
    rowed = {row.fastener for row in takeoff.bolt_rows}
    for index, fastener in enumerate(takeoff.model.fasteners):
        if index not in rowed:
            yield BoltRow(
                fastener=index,
                bolts=len(fastener.bolts),
                length=fastener.length,
                grip=None,
                plies=None,
                members=(),
                joint=None,
                assembly_mark="",
                status=fastener.status,
                reason=fastener.reason,
            )


def _bolt_rows(takeoff: Takeoff) -> Iterator[Row]:
    for line in takeoff.bolt_lines:
        yield (
            line.diameter,
            line.length,
            line.grade,
            line.standard,
            line.quantity,
            line.spare,
            line.to_order,
            line.nuts,
            line.washers,
            line.weight,
            line.length_source,
            # Where the model puts no bolt of a line anywhere, 0 would say that it does.
            line.shop if line.shop or line.site else None,
            line.site if line.shop or line.site else None,
            line.springs,
            line.tapers,
            line.spare_nuts,
            line.spare_washers,
        )


def _bought_out_rows(takeoff: Takeoff) -> Iterator[Row]:
    for row in takeoff.bought_out:
        yield (row.name, row.size, row.quantity, " ".join(row.global_ids))


def _assembly_rows(takeoff: Takeoff) -> Iterator[Row]:
    for assembly in takeoff.assemblies:
        yield (
            assembly.mark,
            assembly.quantity,
            sum(count for _, count in assembly.pieces),
            assembly.bolts,
            _known(assembly.gross),
            _known(assembly.net),
            # No bolts weigh nothing; bolts that weigh nothing were not weighed.
            assembly.bolt_weight if assembly.bolts == 0 else _known(assembly.bolt_weight),
            _known(assembly.surface),
            " ".join(f"{mark} x{count}" for mark, count in assembly.pieces),
            _known(assembly.zinc),
            assembly.net + assembly.zinc if assembly.zinc and assembly.net else None,
        )


def _routing_rows(takeoff: Takeoff) -> Iterator[Row]:
    for row in takeoff.stations:
        yield (row.station, row.mark, row.quantity, row.each, row.quantity * row.each, _known(row.weight), row.why)


def _query_rows(takeoff: Takeoff) -> Iterator[Row]:
    ordered = sorted(
        takeoff.queries,
        key=lambda q: (
            SEVERITIES.index(q.severity),
            q.code,
            mark_order(q.piece_mark),
            q.global_ids,
            q.message,
        ),
    )
    for q in ordered:
        yield (q.code, q.severity, q.piece_mark, " ".join(q.global_ids), q.message, q.remedy)


_ROWS: Final[dict[str, Callable[[Takeoff], Iterator[Row]]]] = {
    "members": _member_rows,
    "pieces": _piece_rows,
    "holes": _hole_rows,
    "cuts": _cut_rows,
    "fasteners": _fastener_rows,
    "bolts": _bolt_rows,
    "bought_out": _bought_out_rows,
    "assemblies": _assembly_rows,
    "routing": _routing_rows,
    "queries": _query_rows,
}
