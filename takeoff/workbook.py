"""lists.xlsx: the tables as sheets that a person filters, fills in and prints.

xlsxwriter writes everything but the rows, which are handed to it ready-made (``sheetcells.py``).
"""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from xlsxwriter import Workbook
from xlsxwriter.utility import xl_col_to_name

from takeoff.columns import (
    ALL_COLUMNS,
    ASSEMBLY_WEIGHTS,
    COUNT,
    DEGREES,
    ENTRY_COLUMNS,
    KEPT,
    KG,
    KN,
    LINE_TOTALS,
    M2,
    MM,
    SECTION_WEIGHTS,
    SHAPE_KEY,
    TEXT,
    TOTALS,
)
from takeoff.entries import Settled
from takeoff.lists import cell_texts
from takeoff.sheetcells import (
    ReadySheet,
    entry_cells,
    number_cells,
    number_format,
    product_cells,
    row_elements,
    text_cells,
)
from takeoff.totalsheets import SUMS, Range, TotalSheets, rounded, set_up_print

if TYPE_CHECKING:
    import pandas as pd

CREATED: Final = datetime(2000, 1, 1)
"""A fixed date: the file's bytes must follow from the model, not from the day it is written."""
ROW_LIMIT: Final = 1_048_575
"""Rows below the header that a sheet can hold."""
CUT_ROWS: Final = "{count} rows are more than a sheet can hold: all of them in tables/{table}.csv"
ENTRY_HINT: Final = (
    "How many are done, or the day. What stands here is kept by mark when the lists are written anew; "
    "columns that you add to the right are kept too."
)
PAGE_CHARACTERS: Final = 230
"""Characters across an A4 page in landscape at the smallest print that is still read: about 6 point."""

_NUMBER_FORMATS: Final = {MM: "0.0#", KG: "0.00#", M2: "0.00##", DEGREES: "0.0##", KN: "0.0", COUNT: "0", TEXT: "@"}
_SUMMED: Final = {(table, column) for table, column, _ in SUMS} | {
    (table, factor) for table, products in LINE_TOTALS.items() for factors in products.values() for factor in factors
}
_SENTENCES: Final = ("reason", "message", "remedy")
_WIDEST: Final = 60
_WIDEST_ENTRY: Final = 40
_ENTERED: Final = {"valign": "top", "text_wrap": True, "bg_color": "#FFF8E1", "border": 1, "border_color": "#D9D2C0"}
_WHOLE_NUMBER: Final = "0"


class RowsNotWrittenError(RuntimeError):
    """xlsxwriter did not ask for the rows: its inner workings changed, and the sheets would be empty."""


def write_workbook(
    frames: dict[str, pd.DataFrame], path: Path, settled: Settled | None = None, heading: str = ""
) -> None:
    """Write the tables to ``path``, a sheet each: typed cells, frozen header, filter, print set-up.

    Before them a sheet of totals, after them weights with charts; on ``pieces`` columns to fill in, with the entries
    of ``settled`` (whose rows are those of ``pieces``) in them, what has no piece on a sheet of its own. ``heading``
    is printed above each page. The same input gives the same bytes. A text longer than a cell can hold is cut, says
    so, and stands whole in the CSV file of its table. Raises OSError where the file cannot be written.
    """
    count = len(frames["pieces"])
    if settled is None:
        settled = Settled({column: [None] * count for column in ENTRY_COLUMNS}, [""] * count)
    # Into memory first: the library would turn a full disk into an error of its own.
    packed = io.BytesIO()
    book = Workbook(packed, {"in_memory": True})
    book.set_properties({"created": CREATED, "title": heading or "Shop lists"})
    totals = book.add_worksheet(TOTALS)
    sheets = [_TableSheet(book, name, frame, settled, heading) for name, frame in frames.items()]
    ranges = {key: found for sheet in sheets for key, found in sheet.ranges.items()}
    more = TotalSheets(book, ranges, heading)
    filled = {column: sum(entry is not None for entry in cells) for column, cells in settled.columns.items()}
    pieces = frames["pieces"]
    more.totals(totals, pieces["status"].tolist(), filled)
    more.section_weights(book.add_worksheet(SECTION_WEIGHTS), pieces["section"].tolist(), pieces["grade"].tolist())
    more.assembly_weights(book.add_worksheet(ASSEMBLY_WEIGHTS), frames["assemblies"]["assembly_mark"].tolist())
    if settled.kept:
        more.kept(book.add_worksheet(KEPT), settled)
    book.close()
    if not all(sheet.sheet.ready_written for sheet in sheets):
        raise RowsNotWrittenError("the installed xlsxwriter did not write the rows of the sheets")
    path.write_bytes(packed.getvalue())


class _TableSheet:
    """One table's sheet; ``ranges`` are its columns that formulas may point to, by (table, column)."""

    def __init__(self, book: Workbook, name: str, frame: pd.DataFrame, settled: Settled, heading: str) -> None:
        self.name = name
        self.sheet: Any = book.add_worksheet(name, worksheet_class=ReadySheet)
        self.ranges: dict[tuple[str, str], Range] = {}
        self._book = book
        self._header = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
        self._rows = min(len(frame), ROW_LIMIT)
        self._cells: list[list[str]] = []
        self._wide = 0
        self._whole = f"tables/{name}.csv"
        self._table(frame)
        for column, factors in LINE_TOTALS.get(name, {}).items():
            self._products(column, factors)
        printed = len(self._cells)
        if name == "pieces":
            self._entries(settled)
            printed = len(self._cells)
            self._keys(settled.keys)
        self._highlight(frame)
        self._set_up(heading, printed)

    def _column(self, column: str, width: float, form: Mapping[str, Any], hidden: bool = False) -> tuple[str, int]:
        """Begin the next column: its header and width. Returns its letters and its cells' style."""
        at = len(self._cells)
        style = self._book.add_format({"valign": "top", **form})
        self.sheet.write_string(0, at, column, self._header)
        self.sheet.set_column(at, at, width, style, {"hidden": hidden})
        if not hidden:
            self._wide += math.ceil(width)
        return xl_col_to_name(at), style._get_xf_index()

    def _table(self, frame: pd.DataFrame) -> None:
        kinds = ALL_COLUMNS[self.name]
        texts = {c: cell_texts(kinds[c], frame[c].head(ROW_LIMIT)) for c in frame.columns}
        if len(frame) > ROW_LIMIT:
            # The last row gives way to a sentence; the CSV file has them all.
            note = CUT_ROWS.format(count=len(frame), table=self.name)
            place = next(column for column in frame.columns if kinds[column] == TEXT)
            for column, cells in texts.items():
                cells[-1] = note if column == place else ""
        for column, cells in texts.items():
            kind = kinds[column]
            form = {"num_format": _NUMBER_FORMATS[kind], "text_wrap": column in _SENTENCES}
            letters, style = self._column(column, _width(column, cells), form)
            if kind == TEXT:
                self._cells.append(text_cells(letters, style, cells, self._whole))
                values: list[float | None] = []
            else:
                self._cells.append(number_cells(letters, style, cells))
                wanted = (self.name, column) in _SUMMED
                values = [float(cell) if cell else None for cell in cells] if wanted else []
            self.ranges[self.name, column] = Range(self.name, letters, self._rows, values, kind == COUNT)

    def _products(self, column: str, factors: tuple[str, str]) -> None:
        one, other = (self.ranges[self.name, factor] for factor in factors)
        values = [
            None if a is None or b is None else rounded(a * b) for a, b in zip(one.values, other.values, strict=True)
        ]
        texts = ["" if value is None else str(value) for value in values]
        whole = one.whole and other.whole
        letters, style = self._column(column, _width(column, texts), {"num_format": _WHOLE_NUMBER if whole else "0.00"})
        self._cells.append(product_cells(letters, style, (one.letters, other.letters), texts))
        self.ranges[self.name, column] = Range(self.name, letters, self._rows, values, whole)

    def _entries(self, settled: Settled) -> None:
        first = len(self._cells)
        for column, entries in settled.columns.items():
            texts = [str(entry[0]) for entry in entries if entry]
            letters, style = self._column(column, min(_width(column, [*texts, "2000-01-01"]), _WIDEST_ENTRY), _ENTERED)
            forms = sorted({entry[1] for entry in entries if entry} - {"General"})
            styles = {"General": style}
            for form in forms:
                made = self._book.add_format({**_ENTERED, "num_format": number_format(form)})
                styles[form] = made._get_xf_index()
            self._cells.append(entry_cells(letters, styles, entries[: self._rows], "the last workbook"))
            self.ranges[self.name, column] = Range(self.name, letters, self._rows, [], True)
        if self._rows:
            last = len(self._cells) - 1
            hint = {"validate": "any", "input_title": "Entries", "input_message": ENTRY_HINT}
            self.sheet.data_validation(1, first, self._rows, last, hint)

    def _keys(self, keys: Sequence[str]) -> None:
        letters, style = self._column(SHAPE_KEY, 14, {"num_format": "@"}, hidden=True)
        self._cells.append(text_cells(letters, style, keys[: self._rows], ""))

    def _highlight(self, frame: pd.DataFrame) -> None:
        """Rows on HOLD stand out, wherever a sort puts them."""
        column = next((c for c in ("status", "severity") if c in frame.columns), "")
        if column and self._rows:
            letters = self.ranges[self.name, column].letters
            for word, form in ((("held", "hold"), {"bg_color": "#F9D6D0"}), (("check",), {"bg_color": "#FCEFC7"})):
                tests = ",".join(f'${letters}2="{w}"' for w in word)
                rule = {"type": "formula", "criteria": f"=OR({tests})", "format": self._book.add_format(form)}
                self.sheet.conditional_format(1, 0, self._rows, len(frame.columns) - 1, rule)

    def _set_up(self, heading: str, printed: int) -> None:
        """Frozen header, filter, print area (without the hidden column), as many pages across as can be read."""
        sheet = self.sheet
        sheet.ready_rows = row_elements(self._cells)
        last = len(self._cells) - 1
        sheet.ready_range = f"A1:{xl_col_to_name(last)}{self._rows + 1}"
        sheet.freeze_panes(1, 1)
        sheet.autofilter(0, 0, self._rows, last)
        sheet.print_area(0, 0, self._rows, printed - 1)
        set_up_print(sheet, self.name, heading, math.ceil(self._wide / PAGE_CHARACTERS))


def _width(column: str, texts: Sequence[str]) -> int:
    """A column's width in characters: its longest cell or its header with the filter's button, within reason."""
    longest = max((len(text) for text in set(texts)), default=0)
    return min(max(longest + 2, len(column) + 3), _WIDEST)
