"""What people entered in lists.xlsx stays with its mark over a rerun, and is never lost."""

import dataclasses
import datetime
import zipfile

import openpyxl
import pytest
from build import Build
from small_job import small_job

from takeoff import cli, entries
from takeoff.columns import ENTRY_COLUMNS, KEPT
from takeoff.entries import CHANGED, GONE, NO_MARK, TWICE, UNPROVED, EntriesError, read_entries, settle, shape_key
from takeoff.lists import tables
from takeoff.workbook import write_workbook


def write(job, path):
    """The workbook of a job over the one at ``path``, as a run writes it."""
    settled = settle(read_entries(path), job.pieces)
    write_workbook(tables(job), path, settled)
    return settled


def column(sheet, name):
    return next(cell.column for cell in sheet[1] if cell.value == name)


def row_of(sheet, mark):
    return next(cell.row for cell in sheet["A"] if cell.value == mark)


def enter(path, values, sheet="pieces"):
    """Type ``values``, (mark, column) -> value, as a person does; a new column at the right where there is none."""
    book = openpyxl.load_workbook(path)
    page = book[sheet]
    for (mark, name), value in values.items():
        if name not in [cell.value for cell in page[1]]:
            page.cell(1, page.max_column + 1, name)
        page.cell(row_of(page, mark), column(page, name), value)
    book.save(path)


def entered(path, mark, name, sheet="pieces"):
    page = openpyxl.load_workbook(path)[sheet]
    return page.cell(row_of(page, mark), column(page, name)).value


@pytest.fixture
def job():
    return small_job(held=True)


@pytest.fixture
def path(job, tmp_path):
    place = tmp_path / "lists.xlsx"
    write(job, place)
    return place


def test_the_columns_to_fill_in_are_there_and_empty(job, path):
    page = openpyxl.load_workbook(path)["pieces"]
    for name in ENTRY_COLUMNS:
        cells = [page.cell(row, column(page, name)).value for row in range(2, page.max_row + 1)]
        assert cells == [None] * len(job.pieces)
    assert page.data_validations.dataValidation[0].prompt


@pytest.mark.parametrize(
    "value",
    [
        3,
        2.5,
        "done",
        "=SUM",
        True,
        datetime.datetime(2031, 4, 30),
        datetime.datetime(2031, 4, 30, 14, 35),
        "a_x0041_\n<b>&",
    ],
)
def test_an_entry_comes_back_as_it_was_typed_however_often(job, path, value):
    mark = job.pieces[0].mark
    book = openpyxl.load_workbook(path)
    page = book["pieces"]
    cell = page.cell(row_of(page, mark), column(page, "cut"))
    # A spreadsheet program writes a literal _xHHHH_ with its first sign escaped (ECMA-376 part 1, 22.9.2.19).
    cell.value = value.replace("_x0041_", "_x005F_x0041_") if isinstance(value, str) else value
    if isinstance(value, str):
        cell.data_type = "s"
    book.save(path)
    for _ in range(3):
        assert write(job, path).placed == 1
    found = entered(path, mark, "cut")
    assert (entries._text(found) if isinstance(found, str) else found) == value
    assert type(found) is type(value)


def test_a_day_stays_written_as_the_readers_country_does(job, path):
    """Format 14 of ECMA-376 part 1, 18.8.30, is the one that a day typed by hand gets; programs show it by country."""
    mark = job.pieces[0].mark
    book = openpyxl.load_workbook(path)
    page = book["pieces"]
    cell = page.cell(row_of(page, mark), column(page, "shipped"), datetime.datetime(2031, 4, 30))
    cell.number_format = "mm-dd-yy"
    assert cell._style.numFmtId == 14
    book.save(path)
    write(job, path)
    write(job, path)
    page = openpyxl.load_workbook(path)["pieces"]
    cell = page.cell(row_of(page, mark), column(page, "shipped"))
    assert (cell.value, cell._style.numFmtId) == (datetime.datetime(2031, 4, 30), 14)


def test_entries_follow_their_mark_when_the_sheet_was_sorted(job, path):
    first, second = (piece.mark for piece in job.pieces[:2])
    enter(path, {(first, "shipped"): "first", (second, "shipped"): "second"})
    book = openpyxl.load_workbook(path)
    page = book["pieces"]
    rows = [[cell.value for cell in row] for row in page.iter_rows(min_row=2)]
    for at, row in enumerate(reversed(rows), 2):
        for k, value in enumerate(row, 1):
            page.cell(at, k).value = value
    book.save(path)
    write(job, path)
    assert [entered(path, mark, "shipped") for mark in (first, second)] == ["first", "second"]


def test_a_column_that_somebody_added_is_kept(job, path):
    mark = job.pieces[0].mark
    enter(path, {(mark, "heat number"): 4711})
    write(job, path)
    write(job, path)
    assert entered(path, mark, "heat number") == 4711


def test_entries_of_a_mark_that_is_gone_are_kept_and_come_back(job, path):
    gone, *rest = job.pieces
    enter(path, {(gone.mark, "cut"): 7, (gone.mark, "note"): "rack 3"})
    smaller = dataclasses.replace(job, pieces=tuple(rest))
    for _ in range(2):
        assert write(smaller, path).placed == 0
        assert entered(path, gone.mark, "cut", KEPT) == 7
        assert entered(path, gone.mark, "note", KEPT) == "rack 3"
        assert entered(path, gone.mark, "remark", KEPT) == GONE
        assert entered(path, gone.mark, "section", KEPT) == gone.section.designation
    assert write(job, path).kept == ()
    assert entered(path, gone.mark, "cut") == 7
    assert KEPT not in openpyxl.load_workbook(path).sheetnames


@pytest.mark.parametrize("change", ["length", "hole"])
def test_an_entry_does_not_pass_to_another_piece_of_the_same_mark(job, path, change):
    """A piece with one hole elsewhere is not the one that was punched."""
    piece, *rest = job.pieces
    enter(path, {(piece.mark, "punched"): 2})
    if change == "length":
        other = dataclasses.replace(piece, length=piece.length + 25)
    else:
        hole, *holes = piece.holes
        other = dataclasses.replace(piece, holes=(dataclasses.replace(hole, x=hole.x + 10), *holes))
    write(dataclasses.replace(job, pieces=(other, *rest)), path)
    assert entered(path, piece.mark, "punched") is None
    assert entered(path, piece.mark, "punched", KEPT) == 2
    assert entered(path, piece.mark, "remark", KEPT) == CHANGED
    # A new entry for the new piece, and the old one waits for its own.
    enter(path, {(piece.mark, "punched"): 9})
    write(dataclasses.replace(job, pieces=(other, *rest)), path)
    assert (entered(path, piece.mark, "punched"), entered(path, piece.mark, "punched", KEPT)) == (9, 2)


def test_noise_and_what_the_shop_does_not_see_leave_a_shape_its_key(job):
    piece = job.pieces[0]
    hole, *holes = piece.holes
    same = dataclasses.replace(
        piece,
        length=piece.length + 1e-7,
        net=piece.net + 1,
        finish="other",
        holes=(*holes, dataclasses.replace(hole, x=hole.x - 1e-7, label="Z9")),
    )
    assert shape_key(same) == shape_key(piece)


def test_without_its_key_an_entry_goes_by_section_and_length(job, path):
    first, second = job.pieces[:2]
    enter(path, {(first.mark, "cut"): 1, (second.mark, "cut"): 2})
    book = openpyxl.load_workbook(path)
    page = book["pieces"]
    page.cell(row_of(page, second.mark), column(page, "length_mm")).value = 5
    page.delete_cols(column(page, "shape_key"))
    book.save(path)
    write(job, path)
    assert entered(path, first.mark, "cut") == 1
    assert entered(path, second.mark, "cut", KEPT) == 2
    assert entered(path, second.mark, "remark", KEPT) == UNPROVED


def test_rows_that_were_doubled_or_have_no_mark_are_kept(job, path):
    mark = job.pieces[0].mark
    enter(path, {(mark, "cut"): 1})
    book = openpyxl.load_workbook(path)
    page = book["pieces"]
    last = page.max_row
    for k, cell in enumerate(page[row_of(page, mark)], 1):
        page.cell(last + 1, k).value = cell.value
    page.cell(last + 1, column(page, "cut")).value = 5
    page.cell(last + 3, column(page, "cut")).value = "for Monday"
    book.save(path)
    settled = write(job, path)
    assert entered(path, mark, "cut") == 1
    assert sorted((row.remark, row.entries["cut"][0]) for row in settled.kept) == sorted(
        [(TWICE, 5.0), (NO_MARK, "for Monday")]
    )


def test_of_a_formula_what_it_came_to_is_kept(job, path):
    """openpyxl works nothing out: the value is put beside the formula in the file itself."""
    mark = job.pieces[0].mark
    enter(path, {(mark, "cut"): "=1+2", (mark, "zinc"): "=4+5"})
    rewritten = {}
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            rewritten[name] = archive.read(name).replace(b"<f>1+2</f><v></v>", b"<f>1+2</f><v>3</v>")
            rewritten[name] = rewritten[name].replace(b"<f>1+2</f><v />", b"<f>1+2</f><v>3</v>")
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in rewritten.items():
            archive.writestr(name, content)
    write(job, path)
    assert entered(path, mark, "cut") == 3
    # Nobody had worked this one out: its text, not nothing.
    assert entered(path, mark, "zinc") == "=4+5"


def test_what_would_be_lost_stops_the_run(job, path):
    whole = path.read_bytes()
    enter(path, {(job.pieces[0].mark, "cut"): 1})
    book = openpyxl.load_workbook(path)
    book.create_sheet("empty")
    book.save(path)
    read_entries(path)
    book.create_sheet("notes")["A1"] = "ask about the packers"
    book.save(path)
    with pytest.raises(EntriesError, match='sheet of its own, "notes"'):
        read_entries(path)
    path.write_bytes(whole)
    book = openpyxl.load_workbook(path)
    book["pieces"].cell(2, book["pieces"].max_column + 2).value = "beside it all"
    book.save(path)
    with pytest.raises(EntriesError, match="without a heading"):
        read_entries(path)
    path.write_bytes(whole)
    book = openpyxl.load_workbook(path)
    book["pieces"].cell(1, book["pieces"].max_column + 1).value = "cut"
    book.save(path)
    with pytest.raises(EntriesError, match='two columns "cut"'):
        read_entries(path)


@pytest.mark.parametrize("keep", [0.3, 0.9])
def test_a_damaged_workbook_is_a_sentence(path, keep):
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * keep)])
    with pytest.raises(EntriesError, match="cannot be read as a workbook"):
        read_entries(path)


@pytest.mark.parametrize("owner", ["~$lists.xlsx", ".~lock.lists.xlsx#"])
def test_a_workbook_that_is_open_elsewhere_is_a_sentence(path, owner):
    (path.parent / owner).touch()
    with pytest.raises(EntriesError, match="open in another program"):
        read_entries(path)


def test_the_same_entries_give_the_same_bytes(job, path, tmp_path):
    enter(path, {(job.pieces[0].mark, "cut"): datetime.date(2031, 4, 30), (job.pieces[1].mark, "note"): "x"})
    again = tmp_path / "again.xlsx"
    again.write_bytes(path.read_bytes())
    write(job, path)
    write(job, again)
    assert path.read_bytes() == again.read_bytes()
    write(job, path)
    assert path.read_bytes() == again.read_bytes()


@pytest.fixture
def model(tmp_path):
    build = Build()
    build.angle(name="a", tag="P1", length=1000)
    build.angle(origin=(0, 500, 0), name="b", tag="P2", length=800)
    return build.save(tmp_path / "m.ifc")


def run(model, out, capsys):
    status = cli.main(["lists", str(model), "-o", str(out), "--no-bars"])
    return status, capsys.readouterr()


def test_a_run_keeps_entries_and_says_so(model, tmp_path, capsys):
    out = tmp_path / "out"
    run(model, out, capsys)
    path = out / "lists.xlsx"
    first, second = [row[0].value for row in openpyxl.load_workbook(path)["pieces"].iter_rows(min_row=2)]
    enter(path, {(first, "cut"): 1, (second, "shipped"): datetime.datetime(2031, 4, 30)})
    status, told = run(model, out, capsys)
    assert status in (0, 1)
    assert "entries  2 marks with what was entered in lists.xlsx" in told.out
    assert entered(path, first, "cut") == 1
    assert entered(path, second, "shipped") == datetime.datetime(2031, 4, 30)
    build = Build()
    build.angle(name="a", tag="P1", length=1000)
    status, told = run(build.save(tmp_path / "m.ifc"), out, capsys)
    assert "1 row whose mark is gone or another piece now: see its sheet kept_entries" in told.out


def test_a_run_replaces_nothing_that_it_cannot_read(model, tmp_path, capsys):
    out = tmp_path / "out"
    run(model, out, capsys)
    (out / "lists.xlsx").write_bytes(b"damaged")
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    status, told = run(model, out, capsys)
    assert status == 2
    assert "cannot be read as a workbook" in told.err
    assert "Traceback" not in told.err
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before


def test_a_workbook_saved_while_a_run_is_at_work_is_not_replaced(model, tmp_path, capsys, monkeypatch):
    out = tmp_path / "out"
    run(model, out, capsys)
    path = out / "lists.xlsx"
    mark = openpyxl.load_workbook(path)["pieces"]["A2"].value
    from takeoff import documents

    written = documents.write_documents

    def somebody_saves(*given):
        enter(path, {(mark, "cut"): 1})
        return written(*given)

    monkeypatch.setattr(documents, "write_documents", somebody_saves)
    status, told = run(model, out, capsys)
    assert status == 2
    assert "was changed while this run was at work" in told.err
    assert entered(path, mark, "cut") == 1
