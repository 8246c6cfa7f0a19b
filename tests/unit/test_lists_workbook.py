"""lists.xlsx, read back with a library of its own (openpyxl), says what the tables say."""

import dataclasses
import math
import re
import zipfile
from decimal import Decimal
from xml.etree import ElementTree

import numpy as np
import openpyxl
import pandas as pd
import pytest
from openpyxl.utils.cell import coordinate_to_tuple, range_boundaries
from small_job import small_job

from takeoff import workbook
from takeoff.columns import COLUMNS, ENTRY_COLUMNS, LINE_TOTALS, SHAPE_KEY, TEXT
from takeoff.entries import Entries, settle
from takeoff.lists import tables
from takeoff.sheetcells import CELL_LIMIT, ReadySheet
from takeoff.workbook import RowsNotWrittenError, write_workbook

SPACE = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def named(name):
    return small_job(held=True, name=name)


def more_columns(table):
    """Columns that only the workbook has, after those of the table."""
    entries = (*ENTRY_COLUMNS, SHAPE_KEY) if table == "pieces" else ()
    return (*LINE_TOTALS.get(table, ()), *entries)


def test_every_cell_comes_back_typed(tmp_path):
    frames = tables(small_job(held=True))
    write_workbook(frames, tmp_path / "lists.xlsx")
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx")
    assert book.sheetnames == ["totals", *COLUMNS, "section_weights", "assembly_weights"]
    for name, frame in frames.items():
        header, *rows = list(book[name].values) or [()]
        assert header == (*COLUMNS[name], *more_columns(name))
        assert len(rows) == len(frame)
        for row, (_, expected) in zip(rows, frame.iterrows(), strict=True):
            for cell, (column, value) in zip(row[: len(expected)], expected.items(), strict=True):
                if COLUMNS[name][column] == TEXT:
                    assert (cell or "") == value, (name, column)
                elif pd.isna(value):
                    assert cell is None, (name, column)
                else:
                    assert isinstance(cell, int | float)
                    assert math.isclose(cell, value, abs_tol=1e-9), (name, column)


def test_it_is_set_up_to_filter_and_print(tmp_path):
    write_workbook(tables(small_job()), tmp_path / "lists.xlsx", heading="Mast & trestle")
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx")
    for name in COLUMNS:
        sheet = book[name]
        columns = [*COLUMNS[name], *more_columns(name)]
        last = f"{sheet.cell(1, len(columns)).column_letter}{sheet.max_row}"
        assert sheet.dimensions == f"A1:{last}"
        assert sheet.auto_filter.ref == f"A1:{last}"
        assert sheet.freeze_panes == "B2"
        printed = len(columns) - (SHAPE_KEY in columns)
        area = f"$A$1:${sheet.cell(1, printed).column_letter}${sheet.max_row}"
        assert sheet.print_area == f"'{name}'!{area}"
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.page_setup.fitToHeight == 0
        assert sheet.print_title_rows == "$1:$1"
        # & begins a code in a header and stands for itself when doubled (ECMA-376 part 1, 18.3.1.46).
        assert "Mast && trestle" in sheet.oddHeader.left.text


def test_no_page_is_printed_too_small_to_read(tmp_path):
    """A4 landscape within the margins is 277 mm, a character of 11 point about 1.9 mm (7 pixels of 96 to the inch)."""
    write_workbook(tables(small_job()), tmp_path / "lists.xlsx")
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx")
    for name in COLUMNS:
        sheet = book[name]
        widths = [
            d.width for letter, d in sheet.column_dimensions.items() if not d.hidden for _ in range(d.min, d.max + 1)
        ]
        # ECMA-376 part 1, 18.3.1.63: fitToWidth is 1 where it is not written.
        across = sheet.page_setup.fitToWidth or 1
        assert sum(widths) * 1.9 / across * (5.5 / 11) <= 277, name
        assert (across > 1) == (sheet.print_title_cols == "$A:$A")


def test_the_same_tables_give_the_same_bytes(tmp_path):
    for name in ("a", "b"):
        job = small_job()
        write_workbook(tables(job), tmp_path / name, settle(Entries(), job.pieces), "job")
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


@pytest.mark.parametrize(
    "text",
    ["<b>&\"'</b>", "  two blanks ", "line\nline", "Łącznik śruby Ω 鋼 😀", "_x0041_", "a\x07b", "a\rb", "]]>"],
)
def test_any_text_survives(text, tmp_path):
    write_workbook(tables(named(text)), tmp_path / "lists.xlsx")
    names = [row[2] for row in openpyxl.load_workbook(tmp_path / "lists.xlsx")["members"].values]
    # openpyxl leaves _xHHHH_ as written (ECMA-376 part 1, 22.9.2.19); a spreadsheet program undoes it.
    undone = [re.sub("_x([0-9A-F]{4})_", lambda m: chr(int(m[1], 16)), n) for n in names if n]
    assert text in undone


def test_a_formula_stays_text(tmp_path):
    write_workbook(tables(named("=1+1")), tmp_path / "lists.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "lists.xlsx")["members"]
    assert "'=1+1" in [cell.value for cell in sheet["C"]]
    with zipfile.ZipFile(tmp_path / "lists.xlsx") as archive:
        formulas = [f for name in archive.namelist() for f in re.findall(b"<f>(.*?)</f>", archive.read(name))]
    # The workbook's own stay: none of them is the model's text.
    assert formulas
    assert not any(b"1+1" in formula for formula in formulas)


def test_a_text_longer_than_a_cell_is_cut_and_says_so(tmp_path):
    long = "😀" * CELL_LIMIT
    write_workbook(tables(named(long)), tmp_path / "lists.xlsx")
    names = [row[2] for row in openpyxl.load_workbook(tmp_path / "lists.xlsx")["members"].values]
    (cut,) = [name for name in names if name and name.startswith("😀")]
    assert len(cut.encode("utf-16-le")) // 2 <= CELL_LIMIT
    assert cut.endswith("cut: all of it in tables/members.csv")


def test_rows_that_the_library_does_not_ask_for_are_an_error(tmp_path, monkeypatch):
    monkeypatch.delattr(ReadySheet, "_write_sheet_data")
    with pytest.raises(RowsNotWrittenError):
        write_workbook(tables(small_job()), tmp_path / "lists.xlsx")


def test_a_sheet_without_rows_opens(tmp_path):
    job = dataclasses.replace(small_job(), queries=(), bought_out=())
    write_workbook(tables(job), tmp_path / "lists.xlsx")
    assert openpyxl.load_workbook(tmp_path / "lists.xlsx")["queries"].max_row == 1


def test_a_disk_that_is_full_is_an_error_of_the_system(tmp_path):
    full = tmp_path / "lists.xlsx"
    try:
        full.symlink_to("/dev/full")
        full.open("wb").close()
    except OSError:
        pytest.skip("no device that is always full here")
    with pytest.raises(OSError, match="No space left"):
        write_workbook(tables(small_job()), full)


def test_more_rows_than_a_sheet_can_hold_are_said(tmp_path, monkeypatch):
    monkeypatch.setattr(workbook, "ROW_LIMIT", 3)
    write_workbook(tables(small_job()), tmp_path / "lists.xlsx")
    rows = list(openpyxl.load_workbook(tmp_path / "lists.xlsx")["members"].values)
    assert len(rows) == 4
    assert rows[-1][0] == "5 rows are more than a sheet can hold: all of them in tables/members.csv"
    assert set(rows[-1][1:]) == {None}


def test_every_part_is_well_formed(tmp_path):
    job = named("<b>&\x07]]>")
    write_workbook(tables(job), tmp_path / "lists.xlsx", heading='"<&>"')
    with zipfile.ZipFile(tmp_path / "lists.xlsx") as archive:
        assert archive.testzip() is None
        for name in archive.namelist():
            ElementTree.fromstring(archive.read(name))


def test_rows_stand_in_order_with_cells_in_order(tmp_path):
    """ECMA-376 part 1, 18.3.1.73 and 18.3.1.4: programs refuse or mend a sheet whose cells stand out of order."""
    write_workbook(tables(small_job(held=True)), tmp_path / "lists.xlsx")
    with zipfile.ZipFile(tmp_path / "lists.xlsx") as archive:
        sheets = [n for n in archive.namelist() if n.startswith("xl/worksheets/sheet")]
        assert len(sheets) == len(COLUMNS) + 3
        for name in sheets:
            rows = ElementTree.fromstring(archive.read(name)).iter(f"{SPACE}row")
            places = [coordinate_to_tuple(cell.get("r")) for row in rows for cell in row.iter(f"{SPACE}c")]
            assert places == sorted(set(places))


def test_totals_are_formulas_with_their_values(tmp_path):
    """The values are those of the CSV's numbers added up with exact decimals."""
    job = small_job(held=True)
    frames = tables(job)
    write_workbook(frames, tmp_path / "lists.xlsx")
    formulas = {row[0]: row for row in openpyxl.load_workbook(tmp_path / "lists.xlsx")["totals"].values}
    values = {row[0]: row for row in openpyxl.load_workbook(tmp_path / "lists.xlsx", data_only=True)["totals"].values}
    pieces = frames["pieces"]
    net = sum(
        (Decimal(int(q)) * Decimal(str(w)) for q, w in zip(pieces["quantity"], pieces["net_weight_kg"], strict=True)),
        Decimal(0),
    )
    held = sum(
        Decimal(int(q)) * Decimal(str(w))
        for q, w, s in zip(pieces["quantity"], pieces["net_weight_kg"], pieces["status"], strict=True)
        if s == "held"
    )
    assert held > 0
    line = values["Net weight of pieces, kg"]
    assert line[3:7] == (float(net), float(net), float(held), 0)
    letters = next(
        c.column_letter
        for c in openpyxl.load_workbook(tmp_path / "lists.xlsx")["pieces"][1]
        if c.value == "all_net_weight_kg"
    )
    place = f"pieces!${letters}$2:${letters}${len(pieces) + 1}"
    assert formulas["Net weight of pieces, kg"][3:5] == (f"=SUM({place})", f"=SUBTOTAL(109,{place})")
    assert values["Pieces to make"][3] == int(pieces["quantity"].sum())
    assert values["Bolts needed"][3] == int(frames["bolts"]["quantity"].sum())


def test_every_formula_comes_to_its_value(tmp_path):
    """Worked out by a spreadsheet library that is no part of the program; it does not know SUBTOTAL."""
    formulas = pytest.importorskip("formulas", reason="the spreadsheet library formulas is not installed")
    path = tmp_path / "lists.xlsx"
    write_workbook(tables(small_job(held=True)), path)
    worked_out = {
        str(key).upper(): np.ravel(getattr(value, "value", value))[0]
        for key, value in formulas.ExcelModel().loads(str(path)).finish().calculate().items()
    }
    values = openpyxl.load_workbook(path, data_only=True)
    checked = 0
    for sheet in openpyxl.load_workbook(path):
        for cell in (c for row in sheet.iter_rows() for c in row if c.data_type == "f"):
            if "SUBTOTAL" in cell.value:
                continue
            expected = values[sheet.title][cell.coordinate].value
            found = worked_out[f"'[LISTS.XLSX]{sheet.title.upper()}'!{cell.coordinate}"]
            assert found == (expected if isinstance(expected, str) else pytest.approx(expected)), cell.value
            checked += 1
    assert checked > 40


def test_a_row_whose_weight_is_not_known_is_counted_not_added(tmp_path):
    job = small_job()
    first, *rest = job.pieces
    frames = tables(dataclasses.replace(job, pieces=(dataclasses.replace(first, net=0.0), *rest)))
    write_workbook(frames, tmp_path / "lists.xlsx")
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx", data_only=True)
    line = next(row for row in book["totals"].values if row[0] == "Net weight of pieces, kg")
    assert line[3] == pytest.approx(sum(p.quantity * round(p.net, 3) for p in rest))
    assert line[6] == 1


def test_weights_by_section_and_assembly_add_up_and_are_drawn(tmp_path):
    frames = tables(small_job())
    write_workbook(frames, tmp_path / "lists.xlsx")
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx", data_only=True)
    for name, column, table in (("section_weights", 3, "pieces"), ("assembly_weights", 3, "assemblies")):
        _, *lines, total = list(book[name].values)
        weights = [line[column] for line in lines]
        assert weights == sorted(weights, reverse=True)
        assert total[0] == "total"
        assert total[column] == pytest.approx(sum(weights))
        each = frames[table]
        assert total[column] == pytest.approx((each["quantity"] * each["net_weight_kg"]).sum())
    for name, letters in (("section_weights", "D"), ("assembly_weights", "D")):
        (chart,) = openpyxl.load_workbook(tmp_path / "lists.xlsx")[name]._charts
        (series,) = chart.series
        # The chart is printed with its sheet: it stands within the print area.
        *_, right, down = range_boundaries(book[name].print_area.split("!")[1])
        assert chart.anchor.to.col < right
        assert chart.anchor.to.row < down
        last = book[name].max_row - 1
        # One cell stands for a range of one.
        assert series.val.numRef.f in (f"{name}!${letters}$2:${letters}${last}", f"{name}!${letters}${last}")
        drawn = [float(point.v) for point in series.val.numRef.numCache.pt]
        assert drawn == [book[name][f"{letters}{row}"].value for row in range(2, last + 1)]


def test_a_chart_shows_the_heaviest_and_says_of_how_many(tmp_path):
    job = small_job()
    (assembly, *_) = job.assemblies
    many = tuple(dataclasses.replace(assembly, mark=f"F{k}", net=float(k)) for k in range(1, 41))
    write_workbook(tables(dataclasses.replace(job, assemblies=many)), tmp_path / "lists.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "lists.xlsx")["assembly_weights"]
    (chart,) = sheet._charts
    assert len(chart.series[0].val.numRef.numCache.pt) == 30
    assert float(chart.series[0].val.numRef.numCache.pt[0].v) == 40.0 * assembly.quantity
    with zipfile.ZipFile(tmp_path / "lists.xlsx") as archive:
        assert b"the 30 heaviest of 40" in archive.read("xl/charts/chart2.xml")


def test_a_job_without_pieces_has_totals_of_nothing(tmp_path):
    job = dataclasses.replace(small_job(), pieces=(), assemblies=(), bolt_lines=())
    write_workbook(tables(job), tmp_path / "lists.xlsx")
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx", data_only=True)
    line = next(row for row in book["totals"].values if row[0] == "Net weight of pieces, kg")
    assert line[3:7] == (0, 0, 0, 0)
    assert not openpyxl.load_workbook(tmp_path / "lists.xlsx")["section_weights"]._charts
