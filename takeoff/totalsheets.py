"""The sheets of lists.xlsx that are no tables: totals, weights with their charts, entries that have lost their piece.

Every number here is a formula over the tables' sheets with its value beside it, so that a person sees where it
comes from, and a program that does not calculate shows it all the same.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from xlsxwriter import Workbook
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from takeoff.columns import ASSEMBLY_WEIGHTS, KEPT, SECTION_WEIGHTS, SHAPE_KEY, TOTALS
from takeoff.entries import Entry, Settled
from takeoff.sheetcells import number_format

CHARTED: Final = 30
"""Bars of a chart at most: the heaviest; the sheet beside it has them all."""
CHART_COLUMNS: Final = 11
"""Columns of the usual width, 64 pixels, that a chart covers."""

SUMS: Final = (
    ("pieces", "quantity", "Pieces to make"),
    ("pieces", "all_holes", "Holes in them"),
    ("pieces", "all_gross_weight_kg", "Gross weight of pieces, kg"),
    ("pieces", "all_net_weight_kg", "Net weight of pieces, kg"),
    ("pieces", "all_white_weight_kg", "Net weight with zinc, kg"),
    ("pieces", "all_surface_m2", "Surface of pieces, m2"),
    ("assemblies", "all_net_weight_kg", "Net weight by assembly, kg"),
    ("assemblies", "all_bolt_weight_kg", "Bolts by assembly, kg"),
    ("fasteners", "bolts", "Bolts in the model"),
    ("bolts", "quantity", "Bolts needed"),
    ("bolts", "spare", "Spare bolts"),
    ("bolts", "to_order", "Bolts to order"),
    ("bolts", "nuts", "Nuts needed"),
    ("bolts", "washers", "Washers needed"),
    ("bolts", "weight_kg", "Weight of bolts needed, kg"),
    ("bought_out", "quantity", "Bought-out hardware"),
    ("order", "bars", "Bars to order"),
    ("order", "weight_kg", "Weight of bars to order, kg"),
    ("plates", "pieces", "Pieces cut from plate"),
    ("plates", "gross_weight_kg", "Gross weight of plate, kg"),
    ("bolt_bags", "quantity", "Bolts in bags"),
    ("bolt_bags", "weight_kg", "Weight of bolts in bags, kg"),
)
"""(table, column, words) of each line of the sheet ``totals``."""

ROUNDING: Final = (
    "These add up what the sheets show, 0.001 kg a piece or assembly; weights.pdf adds up before it rounds, "
    "so that they may differ by some grams."
)

_NUMBERS: Final = {True: "#,##0", False: "#,##0.00"}


@dataclass(frozen=True, slots=True)
class Range:
    """A column of a table's sheet: its name, letters, first and last row, and values (None: not known)."""

    sheet: str
    letters: str
    rows: int
    values: Sequence[float | None]
    whole: bool

    def __str__(self) -> str:
        # A table without rows still has a row below its header to point to.
        return f"{self.sheet}!${self.letters}$2:${self.letters}${max(self.rows, 1) + 1}"

    @property
    def total(self) -> float:
        return rounded(sum(value for value in self.values if value is not None))


def rounded(value: float) -> float:
    """Float noise taken off, as a spreadsheet shows its own sums; a whole number as one."""
    clean = round(value, 6) + 0.0
    return int(clean) if clean.is_integer() else clean


def _chart_height(rows: int) -> int:
    """Pixels of a chart of so many lines."""
    return 110 + 26 * min(rows, CHARTED)


def _chart_rows(rows: int) -> int:
    """The last row of the sheet (from 0) that a chart of so many lines covers; a row is 20 pixels high."""
    return 1 + math.ceil(_chart_height(rows) / 20) if rows else 0


class TotalSheets:
    """Writes the sheets that follow from the tables' ranges: (table, column) -> Range."""

    def __init__(self, book: Workbook, ranges: Mapping[tuple[str, str], Range], heading: str) -> None:
        self._book = book
        self._ranges = ranges
        self._heading = heading
        self._header = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
        self._bold = book.add_format({"bold": True, "top": 1})
        self._formats = {whole: book.add_format({"num_format": form}) for whole, form in _NUMBERS.items()}
        self._sums = {whole: book.add_format({"num_format": form, "bold": True, "top": 1})
                      for whole, form in _NUMBERS.items()}  # fmt: skip

    def totals(self, sheet: Worksheet, status: Sequence[str], filled: Mapping[str, int]) -> None:
        """A line for each total: all rows, those that a filter shows, held ones, and rows whose value is not known.

        ``status`` is that of each piece; ``filled`` says how many marks have an entry in each column for entries.
        """
        self._head(sheet, ("total of", "sheet", "column", "all", "shown by filter", "of it held", "rows not known"),
                   (34, 14, 24, 14, 16, 14, 16))  # fmt: skip
        row = 0
        for table, column, words in SUMS:
            found = self._ranges.get((table, column))
            if found is None:
                continue
            row += 1
            number = self._formats[found.whole]
            for at, text in enumerate((words, table, column)):
                sheet.write_string(row, at, text)
            sheet.write_formula(row, 3, f"=SUM({found})", number, found.total)
            # 109: the sum over the rows that are shown (ECMA-376 part 1, 18.17.7: SUBTOTAL).
            sheet.write_formula(row, 4, f"=SUBTOTAL(109,{found})", number, found.total)
            if table == "pieces":
                held = sum(v for v, s in zip(found.values, status, strict=True) if v is not None and s == "held")
                states = self._ranges["pieces", "status"]
                sheet.write_formula(row, 5, f'=SUMIF({states},"held",{found})', number, rounded(held))
            missing = sum(value is None for value in found.values)
            formula = f"=ROWS({found})-COUNT({found})" if found.rows else "=0"
            sheet.write_formula(row, 6, formula, self._formats[True], missing)
        for column, count in filled.items():
            row += 1
            place = self._ranges["pieces", column]
            for at, text in enumerate((f"Marks with an entry: {column}", "pieces", column)):
                sheet.write_string(row, at, text)
            sheet.write_formula(row, 3, f"=COUNTA({place})", self._formats[True], count)
        sheet.write_string(row + 2, 0, ROUNDING)
        self._set_up(sheet, TOTALS, row + 2, 6)

    def section_weights(self, sheet: Worksheet, sections: Sequence[str], grades: Sequence[str]) -> None:
        """Pieces by section and grade (of each row of ``pieces``), heaviest first, with their sum and chart."""
        columns = ("quantity", "all_net_weight_kg", "all_gross_weight_kg", "all_surface_m2")
        ranges = [self._ranges["pieces", column] for column in columns]
        sums: dict[tuple[str, str], list[float]] = {}
        for at, key in enumerate(zip(sections, grades, strict=True)):
            line = sums.setdefault(key, [0.0] * len(columns))
            for k, found in enumerate(ranges):
                line[k] += found.values[at] or 0.0
        lines = sorted(sums.items(), key=lambda item: (-item[1][1], item[0]))
        self._head(sheet, ("section", "grade", "pieces", "net_weight_kg", "gross_weight_kg", "surface_m2"),
                   (22, 12, 10, 16, 16, 14))  # fmt: skip
        section, grade = self._ranges["pieces", "section"], self._ranges["pieces", "grade"]
        for row, (key, values) in enumerate(lines, 1):
            for at, text in enumerate(key):
                sheet.write_string(row, at, text)
            for at, (found, value) in enumerate(zip(ranges, values, strict=True), 2):
                # EXACT: a criterion of SUMIFS would read * ? < > = in a section's name as signs.
                same = f"EXACT({section},$A{row + 1})*EXACT({grade},$B{row + 1})"
                sheet.write_formula(row, at, f"=SUMPRODUCT({same},{found})", self._formats[found.whole], rounded(value))
        self._sum_line(sheet, len(lines), [(at, found) for at, found in enumerate(ranges, 2)])
        self._chart(sheet, SECTION_WEIGHTS, "Net weight by section and grade, kg", len(lines), (0, 1), 3, "H2")
        self._set_up(sheet, SECTION_WEIGHTS, max(len(lines) + 1, _chart_rows(len(lines))), 7 + CHART_COLUMNS)

    def assembly_weights(self, sheet: Worksheet, marks: Sequence[str]) -> None:
        """Assemblies (``marks`` of the rows of ``assemblies``), heaviest first, one and all, with sum and chart."""
        columns = ("quantity", "net_weight_kg", "all_net_weight_kg", "all_bolt_weight_kg")
        ranges = [self._ranges["assemblies", column] for column in columns]
        order = sorted(range(len(marks)), key=lambda k: (-(ranges[2].values[k] or 0.0), marks[k]))
        self._head(sheet, ("assembly_mark", "quantity", "one_net_weight_kg", "all_net_weight_kg", "all_bolt_weight_kg"),
                   (20, 10, 18, 18, 18))  # fmt: skip
        mark = self._ranges["assemblies", "assembly_mark"]
        for row, k in enumerate(order, 1):
            sheet.write_formula(row, 0, f"=assemblies!{mark.letters}{k + 2}", None, marks[k])
            for at, found in enumerate(ranges, 1):
                value = found.values[k]
                if value is not None:
                    place = f"=assemblies!{found.letters}{k + 2}"
                    sheet.write_formula(row, at, place, self._formats[found.whole], rounded(value))
        summed = [(at, found) for at, found in enumerate(ranges, 1) if at != 2]
        self._sum_line(sheet, len(order), summed)
        self._chart(sheet, ASSEMBLY_WEIGHTS, "Net weight by assembly, kg", len(order), (0, 0), 3, "G2")
        self._set_up(sheet, ASSEMBLY_WEIGHTS, max(len(order) + 1, _chart_rows(len(order))), 6 + CHART_COLUMNS)

    def kept(self, sheet: Worksheet, settled: Settled) -> None:
        """Entries that stand beside no piece, and why. They come back with their piece."""
        told = ("piece_mark", "section", "grade", "length_mm", "remark")
        columns = (*told, *settled.columns, SHAPE_KEY)
        self._head(sheet, columns, (14, 22, 12, 12, 60, *([14] * len(settled.columns)), 14))
        forms: dict[str, Any] = {}
        for row, kept in enumerate(settled.kept, 1):
            for at, text in ((0, kept.mark), (1, kept.section), (2, kept.grade), (4, kept.remark)):
                if text:
                    sheet.write_string(row, at, text)
            if kept.length is not None:
                sheet.write_number(row, 3, kept.length)
            for at, column in enumerate(settled.columns, len(told)):
                if column in kept.entries:
                    self._entry(sheet, row, at, kept.entries[column], forms)
            if kept.key:
                sheet.write_string(row, len(columns) - 1, kept.key)
        sheet.set_column(len(columns) - 1, len(columns) - 1, 14, None, {"hidden": True})
        sheet.autofilter(0, 0, len(settled.kept), len(columns) - 1)
        self._set_up(sheet, KEPT, len(settled.kept), len(columns) - 2)

    def _entry(self, sheet: Worksheet, row: int, at: int, entry: Entry, forms: dict[str, Any]) -> None:
        value, form = entry
        if form not in forms:
            forms[form] = self._book.add_format({"num_format": number_format(form)})
        if isinstance(value, bool):
            sheet.write_boolean(row, at, value, forms[form])
        elif isinstance(value, str):
            sheet.write_string(row, at, value, forms[form])
        else:
            sheet.write_number(row, at, value, forms[form])

    def _head(self, sheet: Worksheet, columns: Sequence[str], widths: Sequence[int]) -> None:
        for at, (column, width) in enumerate(zip(columns, widths, strict=True)):
            sheet.write_string(0, at, column, self._header)
            sheet.set_column(at, at, width)
        sheet.freeze_panes(1, 1)

    def _sum_line(self, sheet: Worksheet, rows: int, summed: Sequence[tuple[int, Range]]) -> None:
        """The line below the last, which adds up what stands above it."""
        sheet.write_string(rows + 1, 0, "total", self._bold)
        for at, found in summed:
            letters = xl_col_to_name(at)
            formula = f"=SUM({letters}2:{letters}{max(rows, 1) + 1})" if rows else "=0"
            sheet.write_formula(rows + 1, at, formula, self._sums[found.whole], found.total)

    def _chart(
        self, sheet: Worksheet, name: str, title: str, rows: int, names: tuple[int, int], weights: int, place: str
    ) -> None:
        if not rows:
            return
        shown = min(rows, CHARTED)
        chart = self._book.add_chart({"type": "bar"})
        chart.add_series(
            {
                "categories": [name, 1, names[0], shown, names[1]],
                "values": [name, 1, weights, shown, weights],
                "data_labels": {"value": True, "num_format": "#,##0"},
                "fill": {"color": "#4A6A85"},
                "gap": 40,
            }
        )
        chart.set_title({"name": title if shown == rows else f"{title}: the {shown} heaviest of {rows}",
                         "name_font": {"size": 12}, "overlay": False})  # fmt: skip
        chart.set_legend({"none": True})
        # The first row at the top, as the sheet has it.
        chart.set_y_axis({"reverse": True})
        chart.set_x_axis({"num_format": "#,##0", "major_gridlines": {"visible": True, "line": {"color": "#D0D0D0"}}})
        chart.set_size({"width": CHART_COLUMNS * 64, "height": _chart_height(rows)})
        sheet.insert_chart(place, chart, {"description": title})

    def _set_up(self, sheet: Worksheet, name: str, last_row: int, last_column: int) -> None:
        sheet.print_area(0, 0, max(last_row, 1), last_column)
        set_up_print(sheet, name, self._heading, 1)


def set_up_print(sheet: Worksheet, name: str, heading: str, wide: int) -> None:
    """A4 landscape, ``wide`` pages across, header row and first column on each, the job above, page numbers below."""
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(wide, 0)
    sheet.repeat_rows(0)
    if wide > 1:
        sheet.repeat_columns(0)
    sheet.set_margins(left=0.4, right=0.4, top=0.75, bottom=0.6)
    # 255 characters are the format's limit; & begins a code there.
    sheet.set_header(f"&L{heading[:100].replace('&', '&&')}&R{name}")
    sheet.set_footer("&RPage &P of &N")
