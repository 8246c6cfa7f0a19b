"""lists.xlsx: the tables as sheets that a person filters and prints.

xlsxwriter writes everything but the rows. Its cell-by-cell calls take longer than the
whole reading of a large model, so the rows are worded a column at a time and handed to it
ready-made (ECMA-376 part 1, 18.3.1.4: row and cell elements, text as inline strings).
"""

from __future__ import annotations

import io
import re
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from xlsxwriter import Workbook
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from takeoff.columns import ALL_COLUMNS, COUNT, DEGREES, KG, KN, M2, MM, TEXT
from takeoff.lists import cell_texts

if TYPE_CHECKING:
    import pandas as pd

CREATED: Final = datetime(2000, 1, 1)
"""A fixed date: the file's bytes must follow from the model, not from the day it is written."""
CELL_LIMIT: Final = 32_767
"""Characters a cell can hold (the published limits of spreadsheet programs)."""
ROW_LIMIT: Final = 1_048_575
"""Rows below the header that a sheet can hold."""
CUT_TEXT: Final = " ... cut: all of it in tables/{table}.csv"

CUT_ROWS: Final = "{count} rows are more than a sheet can hold: all of them in tables/{table}.csv"

_NUMBER_FORMATS: Final = {MM: "0.0#", KG: "0.00#", M2: "0.00##", DEGREES: "0.0##", KN: "0.0", COUNT: "0", TEXT: "@"}
_SENTENCES: Final = ("reason", "message", "remedy")
_WIDEST: Final = 60
_ILLEGAL: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
_LITERAL_ESCAPE: Final = re.compile("_(?=x[0-9a-fA-F]{4}_)")


class RowsNotWrittenError(RuntimeError):
    """xlsxwriter did not ask for the rows: its inner workings changed, and the sheets would be empty."""


class _Sheet(Worksheet):  # type: ignore[misc]
    """A worksheet whose rows below the header are given as one text of row elements."""

    ready_rows = ""
    ready_range = "A1"
    ready_written = False

    def _write_dimension(self) -> None:
        self._xml_empty_tag("dimension", [("ref", self.ready_range)])

    def _write_sheet_data(self) -> None:
        self._xml_start_tag("sheetData")
        self._write_rows()  # the header, through the library
        self.fh.write(self.ready_rows)
        self._xml_end_tag("sheetData")
        self.ready_written = True


def write_workbook(frames: dict[str, pd.DataFrame], path: Path) -> None:
    """Write the tables to ``path``, a sheet each: typed cells, frozen header, filter, print set-up.

    The same tables give the same bytes. A text longer than a cell can hold is cut, says so,
    and stands whole in the CSV file of its table. Raises OSError where the file cannot be written.
    """
    # Into memory first: the library would turn a full disk into an error of its own.
    packed = io.BytesIO()
    book = Workbook(packed, {"in_memory": True})
    book.set_properties({"created": CREATED, "title": "Shop lists"})
    header = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    sheets = []
    for name, frame in frames.items():
        sheet = book.add_worksheet(name, worksheet_class=_Sheet)
        sheets.append(sheet)
        kinds = ALL_COLUMNS[name]
        texts = {c: cell_texts(kinds[c], frame[c].head(ROW_LIMIT)) for c in frame.columns}
        if len(frame) > ROW_LIMIT:
            # The last row gives way to a sentence; the CSV file has them all.
            note = CUT_ROWS.format(count=len(frame), table=name)
            place = next(column for column in frame.columns if kinds[column] == TEXT)
            for column, cells in texts.items():
                cells[-1] = note if column == place else ""
        styles = {}
        for at, column in enumerate(frame.columns):
            sheet.write_string(0, at, column, header)
            style = book.add_format(
                {
                    "num_format": _NUMBER_FORMATS[kinds[column]],
                    "valign": "top",
                    "text_wrap": column in _SENTENCES,
                }
            )
            sheet.set_column(at, at, _width(column, texts[column]), style)
            styles[column] = style._get_xf_index()
        sheet.ready_rows = _rows(name, texts, styles)
        _set_up(sheet, name, len(frame.columns), min(len(frame), ROW_LIMIT))
    book.close()
    if not all(sheet.ready_written for sheet in sheets):
        raise RowsNotWrittenError("the installed xlsxwriter did not write the rows of the sheets")
    path.write_bytes(packed.getvalue())


def _set_up(sheet: _Sheet, name: str, columns: int, rows: int) -> None:
    """Frozen and repeated header, filter, A4 landscape fitted to the page's width, page numbers."""
    sheet.ready_range = f"A1:{xl_col_to_name(columns - 1)}{rows + 1}"
    sheet.freeze_panes(1, 1)
    sheet.autofilter(0, 0, rows, columns - 1)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.6)
    sheet.set_footer(f"&L{name}&RPage &P of &N")


def _width(column: str, texts: list[str]) -> int:
    """A column's width in characters: its longest word of the header or cell, within reason."""
    longest = max((len(text) for text in set(texts)), default=0)
    return min(max(longest, len(column)) + 2, _WIDEST)


def _rows(table: str, texts: dict[str, list[str]], styles: dict[str, int]) -> str:
    """The sheet's rows below the header as one text of row elements."""
    columns: list[list[str]] = []
    for at, (column, cells) in enumerate(texts.items()):
        start = f'<c r="{xl_col_to_name(at)}'
        if ALL_COLUMNS[table][column] == TEXT:
            middle = f'" s="{styles[column]}" t="inlineStr"><is><t'
            worded = {cell: _text_element(table, cell) for cell in set(cells)}
            columns.append(
                [f"{start}{row}{middle}{worded[cell]}</is></c>" if cell else "" for row, cell in enumerate(cells, 2)]
            )
        else:
            middle = f'" s="{styles[column]}"><v>'
            columns.append([f"{start}{row}{middle}{cell}</v></c>" if cell else "" for row, cell in enumerate(cells, 2)])
    lines = (f'<row r="{row}">{"".join(cells)}</row>' for row, cells in enumerate(zip(*columns, strict=True), 2))
    return "".join(lines)


def _text_element(table: str, text: str) -> str:
    """The rest of a ``<t`` element; what XML cannot hold is written ``_xHHHH_`` (22.9.2.19 ST_Xstring)."""
    # The limit counts UTF-16 units.
    if len(text) + sum(c > "\uffff" for c in text) > CELL_LIMIT:
        note = CUT_TEXT.format(table=table)
        units = text.encode("utf-16-le")[: 2 * (CELL_LIMIT - len(note))]
        text = units.decode("utf-16-le", errors="ignore") + note
    text = _LITERAL_ESCAPE.sub("_x005F_", text)
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("\r", "_x000D_")
    text = _ILLEGAL.sub(lambda match: f"_x{ord(match.group()):04X}_", text)
    return f' xml:space="preserve">{text}</t>' if text != text.strip() or "\n" in text else f">{text}</t>"
