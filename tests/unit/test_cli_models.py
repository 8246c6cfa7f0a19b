"""The whole way through from the command line, on models: demo ones, broken ones, real ones."""

import csv
import json
import re
import zipfile
from pathlib import Path

import pytest

from takeoff import cli
from takeoff.columns import COLUMNS

ROOT = Path(__file__).parents[2]
TRESTLE = ROOT / "models" / "trestle_bay.ifc"
REAL = sorted((ROOT.parent / "shared" / "models").glob("*.ifc"))
PARTS = re.compile(
    r"=\s*IFC(BEAM|COLUMN|MEMBER|PLATE)(STANDARDCASE)?\(|=\s*IFC(BUILDINGELEMENTPROXY|DISCRETEACCESSORY)\(", re.I
)
FASTENERS = re.compile(r"=\s*IFC(MECHANICAL)?FASTENER\(", re.I)


def table(folder, name):
    with (folder / "tables" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def content(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.fixture(scope="module")
def trestle(tmp_path_factory):
    """The lists of the trestle bay, and the exit status."""
    folder = tmp_path_factory.mktemp("trestle") / "lists"
    return folder, cli.main(["lists", str(TRESTLE), "-o", str(folder)])


def test_the_demo_model_gives_every_document(trestle):
    folder, status = trestle
    assert status == 0
    names = set(content(folder))
    assert {"cut-and-punch.pdf", "bolts.pdf", "weights.pdf", "review.html", "lists.xlsx", "summary.json"} <= names
    assert {f"tables/{name}.csv" for name in COLUMNS} <= names
    assert ("queries.pdf" in names) == bool(table(folder, "queries"))


def test_quantities_and_marks_of_the_tables_agree(trestle):
    folder, _ = trestle
    members, pieces = table(folder, "members"), table(folder, "pieces")
    for piece in pieces:
        assert int(piece["quantity"]) == sum(m["piece_mark"] == piece["piece_mark"] for m in members)
        assert int(piece["holes"]) == sum(h["piece_mark"] == piece["piece_mark"] for h in table(folder, "holes"))
    marks = {piece["piece_mark"] for piece in pieces}
    for row in table(folder, "fasteners"):
        assert set(row["piece_marks"].split()) <= marks
    ordered = sum(int(line["quantity"]) for line in table(folder, "bolts"))
    assert ordered == sum(int(row["bolts"]) for row in table(folder, "fasteners") if row["status"] == "listed")


def test_a_second_run_gives_the_same_bytes(trestle, tmp_path):
    folder, _ = trestle
    cli.main(["lists", str(TRESTLE), "-o", str(tmp_path / "again")])
    assert content(tmp_path / "again") == content(folder)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("none.ifc", None),
        ("empty.ifc", b""),
        ("text.ifc", b"hello\n"),
        ("binary.ifc", bytes(range(256)) * 20),
        ("cut.ifc", TRESTLE.read_bytes()[:5000]),
        ("header.ifc", TRESTLE.read_bytes().split(b"DATA;")[0]),
        ("empty.ifczip", b""),
        ("text.ifczip", b"PK not really"),
    ],
)
def test_a_file_that_is_no_model_is_a_sentence(name, data, tmp_path, capsys):
    model = tmp_path / name
    if data is not None:
        model.write_bytes(data)
    assert cli.main(["lists", str(model), "-o", str(tmp_path / "out")]) == 3
    err = capsys.readouterr().err
    assert "Traceback" not in err
    assert name in err
    assert not (tmp_path / "out").exists()


def test_a_folder_is_no_model(tmp_path, capsys):
    assert cli.main(["lists", str(tmp_path), "-o", str(tmp_path / "out")]) == 3
    assert "folder" in capsys.readouterr().err


def test_a_zipped_model_gives_the_same_tables(trestle, tmp_path):
    with zipfile.ZipFile(tmp_path / "trestle_bay.ifczip", "w") as archive:
        archive.write(TRESTLE, "trestle_bay.ifc")
    out = tmp_path / "out"
    assert cli.main(["lists", str(tmp_path / "trestle_bay.ifczip"), "-o", str(out)]) == 0
    for name in COLUMNS:
        assert table(out, name) == table(trestle[0], name)


@pytest.mark.skipif(not REAL, reason="no real models beside the project")
@pytest.mark.parametrize("model", REAL, ids=lambda path: path.stem)
def test_a_real_model_runs_and_no_element_is_lost(model, tmp_path, capsys):
    status = cli.main(["lists", str(model), "-o", str(tmp_path / "out")])
    assert status in (0, 1), capsys.readouterr().err
    rows = table(tmp_path / "out", "members") + table(tmp_path / "out", "fasteners")
    assert all(row["reason"] for row in rows if row["status"] != "listed")
    assert {row["status"] for row in rows} <= {"listed", "held", "left out", "bought out"}
    text = model.read_text(encoding="latin-1")
    expected = sorted(
        match[1]
        for line in text.replace("\r", "\n").split("\n")
        if PARTS.search(line) or FASTENERS.search(line)
        for match in [re.search(r"\(\s*'([^']{22})'", line)]
        if match
    )
    assert expected
    assert sorted({row["global_id"] for row in rows}) == sorted(set(expected))
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["counts"]["parts"]["in_model"] == len(table(tmp_path / "out", "members"))
    assert status == int("held" in {row["status"] for row in rows} or summary["counts"]["queries"]["hold"] > 0)
