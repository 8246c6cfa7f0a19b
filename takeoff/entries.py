"""What people entered in the last lists.xlsx: kept by mark when the workbook is written anew.

Vocabulary. An *entry* is what somebody typed beside a piece mark: that so many are cut, the day it was shipped;
any number, date or text. It stands in one of ``ENTRY_COLUMNS`` or in a column that somebody added. The *shape key*
tells the piece an entry was made for: without a register a mark may mean another piece in the next run, and
"cut" beside a piece that nobody cut would be worse than nothing. Such entries, and those of marks that are gone,
are *kept* on a sheet of their own, and come back with their piece.

Not carried over: notes, colours, and what is typed into other sheets. A sheet that somebody added stops the run.
"""

from __future__ import annotations

import hashlib
import io
import math
import re
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Final

from takeoff.columns import (
    ALL_COLUMNS,
    COLUMNS,
    ENTRY_COLUMNS,
    KEPT,
    LINE_TOTALS,
    SHAPE_KEY,
    WORKBOOK_SHEETS,
)
from takeoff.order import natural
from takeoff.steel import Piece

Entry = tuple[float | bool | str, str]
"""What a cell holds and its number format. A date is its serial number (ECMA-376 part 1, 18.17.4.1)."""

GONE: Final = "No piece has this mark now."
CHANGED: Final = "The piece of this mark is not the one this was entered for."
UNPROVED: Final = "Which piece this was entered for cannot be told."
TWICE: Final = "Something else is entered beside this mark."
NO_MARK: Final = "Entered beside no mark."

_KNOWN: Final = {*COLUMNS["pieces"], *LINE_TOTALS["pieces"], SHAPE_KEY, "remark"}
_ESCAPED: Final = re.compile("_x([0-9a-fA-F]{4})_")
_GUARDED: Final = re.compile("'(?=[=+@\t-])")


class EntriesError(Exception):
    """The last workbook cannot be replaced without losing what is in it; the message is a sentence with the remedy."""


@dataclass(frozen=True, slots=True)
class EntryRow:
    """The entries beside one mark, by column, and what the row says of its piece. ``length`` mm, None: not said."""

    mark: str
    entries: dict[str, Entry]
    key: str = ""
    section: str = ""
    grade: str = ""
    length: float | None = None
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Entries:
    """Every entry of a workbook. ``columns`` are those that somebody added; ``sha256`` is empty where there is none."""

    path: Path = Path()
    sha256: str = ""
    columns: tuple[str, ...] = ()
    rows: tuple[EntryRow, ...] = ()

    def still_there(self) -> None:
        """Raises EntriesError where the workbook is not the one that was read: somebody saved it meanwhile."""
        if _checksum(_bytes(self.path)) != self.sha256:
            raise EntriesError(
                f"{self.path} was changed while this run was at work; what was entered there would be lost. "
                "Nothing was replaced. Close it and run again."
            )


@dataclass(frozen=True, slots=True)
class Settled:
    """Entries in their places: for each column one or None a piece, ``keys`` the pieces' shape keys, ``kept`` the rest.

    ``placed`` counts the marks that have entries.
    """

    columns: dict[str, list[Entry | None]]
    keys: list[str]
    kept: tuple[EntryRow, ...] = ()
    placed: int = 0


@dataclass(slots=True)
class _Found:
    """What the sheets of one workbook yield."""

    columns: dict[str, None] = field(default_factory=dict)
    rows: list[EntryRow] = field(default_factory=list)
    formulas: bool = False


def read_entries(path: Path) -> Entries:
    """The entries of the workbook at ``path``; none where there is no such file.

    Raises EntriesError where it cannot be read, is open in another program, or holds what a run would lose.
    """
    content = _bytes(path)
    if not content:
        return Entries(path, _checksum(content))
    found = _read(path, content, values=False)
    if found.formulas:
        # A formula would point to rows that move; what it came to is kept, its text where that is not in the file.
        worked_out = _read(path, content, values=True)
        found.rows = [
            replace(row, entries=_filled({c: other.entries.get(c, entry) for c, entry in row.entries.items()}))
            for row, other in zip(found.rows, worked_out.rows, strict=True)
        ]
    rows = tuple(row for row in found.rows if row.entries)
    return Entries(path, _checksum(content), tuple(found.columns), rows)


def settle(entries: Entries, pieces: Sequence[Piece]) -> Settled:
    """Every entry beside its piece, or kept with a remark why not. Pieces in the order of the table."""
    columns: dict[str, list[Entry | None]] = {c: [None] * len(pieces) for c in (*ENTRY_COLUMNS, *entries.columns)}
    keys = [shape_key(piece) for piece in pieces]
    row_of = {piece.mark: row for row, piece in enumerate(pieces)}
    placed: set[int] = set()
    kept = []
    for entered in entries.rows:
        at = row_of.get(entered.mark)
        if at is None:
            remark = GONE if entered.mark else NO_MARK
        elif not _is_for(entered, pieces[at], keys[at]):
            remark = CHANGED if entered.key else UNPROVED
        elif any(columns[c][at] not in (None, entry) for c, entry in entered.entries.items()):
            remark = TWICE
        else:
            for column, entry in entered.entries.items():
                columns[column][at] = entry
            placed.add(at)
            continue
        kept.append(replace(entered, remark=remark))
    kept.sort(key=lambda row: (natural(row.mark), row.mark, row.key, repr(sorted(row.entries.items()))))
    return Settled(columns, keys, tuple(kept), len(placed))


def shape_key(piece: Piece) -> str:
    """What a piece is, as 12 hexadecimal digits: section, grade, length, holes and cuts, places to the whole mm."""
    holes = sorted(
        f"{h.face} {_mm(h.x)} {_mm(h.across)} {h.diameter:.1f} {_mm(h.slot_length)} {_mm(h.slot_angle)} {h.kind}"
        f" {h.width:.1f} {h.side} {_mm(h.depth)}"
        for h in piece.holes
    )
    cuts = sorted(f"{c.end} {c.face} {c.kind} {_mm(c.x)} {_mm(c.across)} {_mm(c.angle)}" for c in piece.cuts)
    text = "\n".join([piece.section.designation, piece.grade, _mm(piece.length), *holes, "", *cuts])
    return hashlib.sha256(text.encode("utf-8", errors="replace")).hexdigest()[:12]


def _mm(value: float | None) -> str:
    # Drawings give whole and half millimetres: neither stands where noise would tip it.
    return "" if value is None or not math.isfinite(value) else str(math.floor(round(value, 2) + 0.25))


def _is_for(entered: EntryRow, piece: Piece, key: str) -> bool:
    """Whether a row's entries were made for this piece; by what the row says where the key was deleted."""
    if entered.key:
        return entered.key == key
    says = bool(entered.section) and entered.length is not None
    return says and entered.section == piece.section.designation and abs((entered.length or 0) - piece.length) <= 0.5


def _bytes(path: Path) -> bytes:
    """The file's content, nothing where there is none. Raises EntriesError while another program has it open."""
    if not path.is_file():
        return b""
    # Office programs leave such a file beside a document as long as it is open.
    for owner in (f"~${path.name}", f".~lock.{path.name}#"):
        if (path.parent / owner).exists():
            raise EntriesError(
                f"{path} is open in another program, whose lock file {owner} stands beside it. Nothing was replaced. "
                "Save and close it there (or delete the lock file of a program that has crashed) and run again."
            )
    try:
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise EntriesError(
            f"{path} cannot be read: {reason[:1].lower()}{reason[1:]}, and what was entered there would be lost. "
            "Nothing was replaced. Close it in other programs or make it readable, and run again."
        ) from error


def _checksum(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest() if content else ""


def _read(path: Path, content: bytes, *, values: bool) -> _Found:
    import openpyxl

    # It warns of what it does not carry over from sheets; nothing is carried over but entries.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=values)
            strange = [name for name in book.sheetnames if name not in ALL_COLUMNS and name not in WORKBOOK_SHEETS]
            strange = [name for name in strange if _holds_something(book[name])]
            found = _Found()
            if not strange:
                for name in ("pieces", KEPT):
                    if name in book.sheetnames:
                        _read_sheet(path, name, book[name], found, values=values)
        except EntriesError:
            raise
        except Exception as error:
            # A damaged file makes the library fail in any way.
            raise EntriesError(
                f"{path} cannot be read as a workbook ({type(error).__name__}), and what was entered there would be "
                "lost. Nothing was replaced. Mend it, or move it elsewhere or delete it, and run again."
            ) from error
    if strange:
        raise EntriesError(
            f'{path} has a sheet of its own, "{strange[0]}", which would be lost. Nothing was replaced. '
            "Move it to a workbook of another name and run again."
        )
    return found


def _holds_something(sheet: Any) -> bool:
    """Whether a sheet that is none of ours holds anything; one of a chart only does."""
    if not hasattr(sheet, "iter_rows"):
        return True
    return any(cell is not None for row in sheet.iter_rows(values_only=True) for cell in row)


def _read_sheet(path: Path, name: str, sheet: Any, found: _Found, *, values: bool) -> None:
    rows: Iterator[Sequence[Any]] = sheet.iter_rows()
    header = {at: _text(cell.value) for at, cell in enumerate(next(rows, ())) if cell.value is not None}
    places: dict[str, int] = {}
    for at, column in header.items():
        if column in places:
            raise EntriesError(
                f'{path} has two columns "{column}" on its sheet {name}; which entries count cannot be told. '
                "Nothing was replaced. Give one of them another heading and run again."
            )
        places[column] = at
    own = {column: at for column, at in places.items() if column not in _KNOWN}
    for at_row, row in enumerate(rows, 2):
        nameless = next((c for at, c in enumerate(row) if at not in header and c.value is not None), None)
        if nameless is not None:
            raise EntriesError(
                f'{path} has "{str(nameless.value)[:40]}" in row {at_row} of its sheet {name}, in a column without a '
                "heading, and it would be lost. Nothing was replaced. Give the column a heading and run again."
            )

        def said(column: str, row: Sequence[Any] = row) -> Any:
            at = places.get(column)
            return row[at].value if at is not None and at < len(row) else None

        entries = {}
        for column, at in own.items():
            entry = _entry(row[at]) if at < len(row) else None
            if entry is not None and (values or entry[0] != ""):
                entries[column] = entry
                found.formulas |= row[at].data_type == "f"
        length = said("length_mm")
        found.rows.append(
            EntryRow(
                _GUARDED.sub("", _text(said("piece_mark")), count=1),
                entries,
                _text(said(SHAPE_KEY)),
                _text(said("section")),
                _text(said("grade")),
                float(length) if isinstance(length, int | float) else None,
            )
        )
    found.columns |= {column: None for column in own if column not in ENTRY_COLUMNS}


def _text(value: Any) -> str:
    """A cell as a text; ``_xHHHH_`` of the file is a character (ECMA-376 part 1, 22.9.2.19 ST_Xstring)."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), str(value))


def _entry(cell: Any) -> Entry | None:
    """A cell's entry, blanks as an empty text; None where it holds nothing."""
    from openpyxl.utils.datetime import to_excel

    value = cell.value
    if value is None:
        return None
    form = str(cell.number_format or "General")
    if isinstance(value, datetime | date | time | timedelta):
        return float(to_excel(value)), form
    if isinstance(value, bool):
        return value, "General"
    if isinstance(value, int | float):
        return float(value), form
    return _text(value) if value.strip() else "", "General"


def _filled(entries: dict[str, Entry]) -> dict[str, Entry]:
    return {column: entry for column, entry in entries.items() if entry[0] != ""}
