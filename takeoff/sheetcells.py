"""Cells of a spreadsheet worded ready-made, a column at a time (ECMA-376 part 1, 18.3.1.4: row and cell elements).

xlsxwriter's cell-by-cell calls take longer than the whole reading of a large model. It writes everything
but the rows below the header; they are worded here, text as inline strings, and handed over as one text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from xlsxwriter.worksheet import Worksheet

CELL_LIMIT: Final = 32_767
"""Characters a cell can hold (the published limits of spreadsheet programs)."""
FIRST_ROW: Final = 2
"""The number of the first row below the header."""
CUT_TEXT: Final = " ... cut: all of it in {whole}"

_ILLEGAL: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
_LITERAL_ESCAPE: Final = re.compile("_(?=x[0-9a-fA-F]{4}_)")

_BY_COUNTRY: Final = {"mm-dd-yy": 14, "m/d/yy h:mm": 22}
"""Formats by number that programs show as the reader's country writes days (18.8.30 numFmt); a text would fix them."""


class ReadySheet(Worksheet):  # type: ignore[misc]
    """A worksheet whose rows below the header are given as one text of row elements.

    ``ready_written`` says whether the library asked for them: it rests on one of its inner methods.
    """

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


def row_elements(columns: Iterable[Sequence[str]]) -> str:
    """Columns of cell elements as one text of row elements; an empty text is no cell."""
    rows = enumerate(zip(*columns, strict=True), FIRST_ROW)
    return "".join(f'<row r="{row}">{"".join(cells)}</row>' for row, cells in rows)


def text_cells(letters: str, style: int, texts: Sequence[str], whole: str) -> list[str]:
    """Texts as cells of the column ``letters``; ``whole`` says where a text stands that a cell cannot hold."""
    start, middle = f'<c r="{letters}', f'" s="{style}" t="inlineStr"><is><t'
    # A column repeats its texts, so each is worded once.
    worded = {text: _text_element(text, whole) for text in set(texts)}
    return [f"{start}{row}{middle}{worded[text]}</is></c>" if text else "" for row, text in enumerate(texts, FIRST_ROW)]


def number_cells(letters: str, style: int, numbers: Sequence[str]) -> list[str]:
    """Numbers, already worded, as cells of the column ``letters``."""
    start, middle = f'<c r="{letters}', f'" s="{style}"><v>'
    return [f"{start}{row}{middle}{cell}</v></c>" if cell else "" for row, cell in enumerate(numbers, FIRST_ROW)]


def product_cells(letters: str, style: int, factors: tuple[str, str], values: Sequence[str]) -> list[str]:
    """A formula a row, the product of two columns, with its value; no cell where that is not known."""
    start, one, other = f'<c r="{letters}', *factors
    return [
        f'{start}{row}" s="{style}"><f>{one}{row}*{other}{row}</f><v>{value}</v></c>' if value else ""
        for row, value in enumerate(values, FIRST_ROW)
    ]


def entry_cells(
    letters: str, styles: Mapping[str, int], entries: Sequence[tuple[float | bool | str, str] | None], whole: str
) -> list[str]:
    """What people entered, (value, number format) or None, as cells; ``styles`` by number format."""
    cells = []
    for row, entry in enumerate(entries, FIRST_ROW):
        if entry is None:
            cells.append("")
            continue
        value, form = entry
        start = f'<c r="{letters}{row}" s="{styles[form]}"'
        if isinstance(value, bool):
            cells.append(f'{start} t="b"><v>{value:d}</v></c>')
        elif isinstance(value, str):
            cells.append(f'{start} t="inlineStr"><is><t{_text_element(value, whole)}</is></c>')
        else:
            number = int(value) if float(value).is_integer() else value
            cells.append(f"{start}><v>{number!r}</v></c>")
    return cells


def number_format(form: str) -> str | int:
    """What xlsxwriter takes for a number format as openpyxl words it."""
    return _BY_COUNTRY.get(form, form)


def _text_element(text: str, whole: str) -> str:
    """The rest of a ``<t`` element; what XML cannot hold is written ``_xHHHH_`` (22.9.2.19 ST_Xstring)."""
    # The limit counts UTF-16 units.
    if len(text) + sum(c > "\uffff" for c in text) > CELL_LIMIT:
        note = CUT_TEXT.format(whole=whole)
        units = text.encode("utf-16-le")[: 2 * (CELL_LIMIT - len(note))]
        text = units.decode("utf-16-le", errors="ignore") + note
    text = _LITERAL_ESCAPE.sub("_x005F_", text)
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("\r", "_x000D_")
    text = _ILLEGAL.sub(lambda match: f"_x{ord(match.group()):04X}_", text)
    return f' xml:space="preserve">{text}</t>' if text != text.strip() or "\n" in text else f">{text}</t>"
