"""Opening files: what is refused says what to do, what is mended says so, units are converted once."""

import hashlib
import zipfile

import pytest
from ifc_scene import one_angle

from takeoff.ifc.context import ReadError
from takeoff.ifc.doors import open_model
from takeoff.ifc.reader import read
from takeoff.settings import Settings


@pytest.fixture
def model(tmp_path):
    return one_angle(tmp_path / "model.ifc", length=1234.5)


def length_of(path):
    found, queries = read(path, Settings())
    (member,) = found.members
    return member.body.length, {query.code for query in queries} - {"part-no-grade"}


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("empty.ifc", b"", "is empty"),
        ("blank.ifc", b" \n\n", "is empty"),
        ("photo.ifc", b"\x89PNG\r\n\x1a\n" + bytes(200), "not an IFC file"),
        ("text.ifc", b"Dear colleague,\n", "not an IFC file"),
        ("model.ifc", b"<?xml version='1.0'?><ifc/>", "STEP format"),
        ("model.ifczip", b"PK\x03\x04" + bytes(40), "damaged"),
        ("short.ifc", b"ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n#1=IFCPERSON(", "cut short"),
    ],
)
def test_what_is_no_model_is_refused_with_a_sentence(tmp_path, name, data, words):
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(ReadError, match=words) as error:
        open_model(path)
    assert name in str(error.value)


def test_missing_files_and_folders_are_refused(tmp_path):
    with pytest.raises(ReadError, match="no file"):
        open_model(tmp_path / "nowhere.ifc")
    with pytest.raises(ReadError, match="is a folder"):
        open_model(tmp_path)


def test_an_unknown_schema_is_named(tmp_path, model):
    text = model.read_text().replace("'IFC4'", "'IFC9'")
    model.write_text(text)
    with pytest.raises(ReadError, match="IFC9"):
        open_model(model)


def test_checksum_date_and_name_are_the_files_own(model):
    ctx = open_model(model)
    assert ctx.checksum == hashlib.sha256(model.read_bytes()).hexdigest()
    assert ctx.date.startswith("2024-05-06")
    assert ctx.name == "model"
    assert ctx.queries == []


def test_an_archive_of_one_model_is_opened(tmp_path, model):
    path = tmp_path / "model.ifczip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.write(model, "inside/model.ifc")
    assert length_of(path) == (pytest.approx(1234.5), set())
    with zipfile.ZipFile(path, "a") as archive:
        archive.write(model, "inside/other.ifc")
    with pytest.raises(ReadError, match=r"2 \.ifc files"):
        open_model(path)


@pytest.mark.parametrize(
    ("mend", "said"),
    [
        (lambda data: b"\xef\xbb\xbf" + data, "byte order mark"),
        (lambda data: b"\r\n\r\n" + data, "blank lines"),
        (lambda data: data.replace(b"\n", b"\r"), "carriage returns"),
        (lambda data: data.decode().encode("utf-16"), "two-byte"),
        (lambda data: data.replace(b"'IFC4'", b"'IFC4_ADD2'"), "IFC4_ADD2 was read as IFC4"),
    ],
)
def test_what_files_get_wrong_is_mended_and_said(model, mend, said):
    model.write_bytes(mend(model.read_bytes()))
    found, queries = read(model, Settings())
    (query,) = [q for q in queries if q.code == "file-mended"]
    assert said in query.message
    assert found.members[0].body.length == pytest.approx(1234.5)


def test_the_bare_name_of_the_newest_schema_is_read(tmp_path):
    path = one_angle(tmp_path / "model.ifc", schema="IFC4X3_ADD2", length=1234.5)
    path.write_bytes(path.read_bytes().replace(b"IFC4X3_ADD2", b"IFC4X3"))
    assert length_of(path) == (pytest.approx(1234.5), {"file-mended"})


def test_a_model_without_a_unit_of_length_says_what_was_assumed(tmp_path):
    path = one_angle(tmp_path / "model.ifc", unit="m", length=1500)
    text = path.read_text()
    unit = next(line for line in text.splitlines() if "LENGTHUNIT" in line)
    path.write_text(text.replace(unit, unit.replace("LENGTHUNIT", "LUMINOUSINTENSITYUNIT").replace("METRE", "CANDELA")))
    assert length_of(path) == (pytest.approx(1500), {"unit-length-assumed"})


@pytest.mark.parametrize("unit", ["um", "mm", "cm", "dm", "m", "inch", "foot", "yard"])
def test_units_are_converted_once_at_the_door(tmp_path, unit):
    path = one_angle(tmp_path / "model.ifc", unit=unit, legs=(100, 65, 8, 10, 5), length=2345.6)
    found, _ = read(path, Settings())
    body = found.members[0].body
    assert body.length == pytest.approx(2345.6)
    assert body.section.designation == "L 100x65x8"
    assert body.section.standard  # found in a table: the sizes came through exactly
