"""lists.xlsx, read back with a library of its own (openpyxl), says what the tables say."""

import dataclasses
import math
import re
import zipfile

import openpyxl
import pandas as pd
import pytest
from small_job import small_job

from takeoff import workbook
from takeoff.columns import COLUMNS, TEXT
from takeoff.lists import tables
from takeoff.workbook import CELL_LIMIT, RowsNotWrittenError, _Sheet, write_workbook


def named(name):
    return small_job(held=True, name=name)


def test_every_cell_comes_back_typed(tmp_path):
    frames = tables(small_job(held=True))
    write_workbook(frames, tmp_path / "lists.xlsx")
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx")
    assert book.sheetnames == list(COLUMNS)
    for name, frame in frames.items():
        header, *rows = list(book[name].values) or [()]
        assert header == tuple(COLUMNS[name])
        assert len(rows) == len(frame)
        for row, (_, expected) in zip(rows, frame.iterrows(), strict=True):
            for cell, (column, value) in zip(row, expected.items(), strict=True):
                if COLUMNS[name][column] == TEXT:
                    assert (cell or "") == value, (name, column)
                elif pd.isna(value):
                    assert cell is None, (name, column)
                else:
                    assert isinstance(cell, int | float)
                    assert math.isclose(cell, value, abs_tol=1e-9), (name, column)


def test_it_is_set_up_to_filter_and_print(tmp_path):
    write_workbook(tables(small_job()), tmp_path / "lists.xlsx")
    for sheet in openpyxl.load_workbook(tmp_path / "lists.xlsx"):
        last = f"{sheet.cell(1, len(COLUMNS[sheet.title])).column_letter}{sheet.max_row}"
        assert sheet.dimensions == f"A1:{last}"
        assert sheet.auto_filter.ref == f"A1:{last}"
        assert sheet.freeze_panes == "B2"
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        # ECMA-376 part 1, 18.3.1.63: fitToWidth is 1 where it is not written.
        assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
        assert sheet.print_title_rows == "$1:$1"


def test_the_same_tables_give_the_same_bytes(tmp_path):
    for name in ("a", "b"):
        write_workbook(tables(small_job()), tmp_path / name)
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
        for name in archive.namelist():
            assert b"<f>" not in archive.read(name)


def test_a_text_longer_than_a_cell_is_cut_and_says_so(tmp_path):
    long = "😀" * CELL_LIMIT
    write_workbook(tables(named(long)), tmp_path / "lists.xlsx")
    names = [row[2] for row in openpyxl.load_workbook(tmp_path / "lists.xlsx")["members"].values]
    (cut,) = [name for name in names if name and name.startswith("😀")]
    assert len(cut.encode("utf-16-le")) // 2 <= CELL_LIMIT
    assert cut.endswith("cut: all of it in tables/members.csv")


def test_rows_that_the_library_does_not_ask_for_are_an_error(tmp_path, monkeypatch):
    monkeypatch.delattr(_Sheet, "_write_sheet_data")
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
