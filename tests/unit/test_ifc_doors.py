"""Opening files: what is refused says what to do, what is mended says so, units are converted once."""

import gzip
import hashlib
import io
import re
import zipfile
from dataclasses import replace

import pytest
from build import Build
from ifc_scene import one_angle

from takeoff.ifc.context import ReadError
from takeoff.ifc.doors import open_model
from takeoff.ifc.reader import read
from takeoff.pipeline import take_off
from takeoff.settings import ModelSettings, Settings


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
        ("model.ifc.gz", gzip.compress(b"ISO-10303-21;" * 50)[:-9], "cut short"),
        ("model.dwg", b"AC1032" + bytes(60), "saved as .ifc"),
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


def zipped(*files):
    store = io.BytesIO()
    with zipfile.ZipFile(store, "w") as archive:
        for name, data in files:
            archive.writestr(name, data)
    return store.getvalue()


PACKED = {
    "gzip": ("model.ifc.gz", gzip.compress),
    "gzip by content alone": ("model.ifc", gzip.compress),
    "zip under another ending": ("model.zip", lambda data: zipped(("model.ifc", data))),
    "zip in gzip": ("model.ifczip", lambda data: gzip.compress(zipped(("model.ifc", data)))),
    "what file managers add": (
        "model.ifczip",
        lambda data: zipped(
            ("a/", b""), ("a/model.IFC", data), ("__MACOSX/a/._model.ifc", b"x"), ("a/._model.ifc", b"x"),
            ("a/.DS_Store", b"x"), ("a/notes.txt", b"x"),
        ),
    ),
    "another ending inside": ("model.ifczip", lambda data: zipped(("model.stp", data))),
}  # fmt: skip


@pytest.mark.parametrize(("name", "pack"), PACKED.values(), ids=PACKED.keys())
def test_packed_models_are_read(tmp_path, name, pack):
    plain = one_angle(tmp_path / "plain.ifc", length=1234.5).read_bytes()
    path = tmp_path / "packed" / name
    path.parent.mkdir()
    path.write_bytes(pack(plain))
    assert length_of(path) == (pytest.approx(1234.5), set())
    assert open_model(path).name == "model"


def test_a_damaged_archive_is_refused(tmp_path, model):
    data = bytearray(zipped(("model.ifc", model.read_bytes())))
    data[60:90] = bytes(30)
    path = tmp_path / "broken.ifczip"
    path.write_bytes(bytes(data))
    with pytest.raises(ReadError, match="damaged"):
        open_model(path)


@pytest.mark.parametrize(
    ("spelling", "schema"),
    [
        ("IFC2X3_TC1", "IFC2X3"), ("ifc2x3 TC1", "IFC2X3"), ("IFC2X_FINAL", "IFC2X3"), ("IFC 4", "IFC4"),
        ("IFC4 ADD2 TC1", "IFC4"), ("IFC4_ADD1", "IFC4"), ("IFC4X3_ADD1", "IFC4X3"), ("ifc4x3_tc1", "IFC4X3"),
    ],
)  # fmt: skip
def test_spellings_of_schemas(tmp_path, spelling, schema):
    path = one_angle(tmp_path / "model.ifc", schema={"IFC4X3": "IFC4X3_ADD2"}.get(schema, schema), length=1234.5)
    path.write_bytes(re.sub(rb"(?<=FILE_SCHEMA\(\(')[^']*", spelling.encode(), path.read_bytes()))
    found, queries = read(path, Settings())
    assert found.schema == schema
    assert found.members[0].body.length == pytest.approx(1234.5)
    assert {q.code for q in queries} <= {"file-mended", "part-no-grade"}


@pytest.mark.parametrize("draft", ["IFC4X1", "IFC4X3_RC1", "IFC2X2_FINAL"])
def test_drafts_and_old_schemas_are_refused_by_name(model, draft):
    """Their entities differ from those of the schemas that are read."""
    model.write_bytes(model.read_bytes().replace(b"'IFC4'", f"'{draft}'".encode()))
    with pytest.raises(ReadError, match=draft):
        open_model(model)


@pytest.mark.parametrize(
    "header",
    [b"FILE_SCHEMA\n (\n ( 'IFC4' ) )", b"File_Schema(('IFC4'))", b"FILE_SCHEMA(('IFC4','OTHER'))",
     b"/* FILE_SCHEMA(('IFC9')) */FILE_SCHEMA(('IFC4'))"],
)  # fmt: skip
def test_headers_as_people_write_them(model, header):
    model.write_bytes(model.read_bytes().replace(b"FILE_SCHEMA(('IFC4'))", header))
    assert length_of(model) == (pytest.approx(1234.5), set())


NAME = "Stütze Łódź"
"""Letters of Western and Central Europe."""


@pytest.mark.parametrize(
    ("written", "name"),
    [
        (NAME.encode(), NAME),
        ("Stütze".encode("latin-1"), "Stütze"),
        (b"St\\X\\FCtze", "Stütze"),  # the three ways of ISO 10303-21, 6.4.3
        (b"St\\S\\|tze", "Stütze"),
        (b"\\X2\\0141\\X0\\odz", "Łodz"),
        (b"C:\\Temp\\new", r"C:\Temp\new"),
        (b"a;b''c(#3)", "a;b'c(#3)"),
    ],
)
@pytest.mark.parametrize("line_end", [b"\n", b"\r\n", b"\r"])
def test_no_letter_of_a_text_is_lost(tmp_path, written, name, line_end):
    model = Build()
    model.angle(length=1234.5, name="HERE", material="S355J2")
    path = model.save(tmp_path / "model.ifc")
    path.write_bytes(path.read_bytes().replace(b"'HERE'", b"'" + written + b"'").replace(b"\n", line_end))
    found, queries = read(path, Settings())
    assert found.members[0].name == name
    assert {q.code for q in queries} <= {"file-mended"}


def test_two_byte_text_keeps_its_letters(tmp_path):
    model = Build()
    model.angle(name="HERE", material="S355J2")
    path = model.save(tmp_path / "model.ifc")
    for coding in ("utf-16", "utf-16-le", "utf-16-be"):
        wide = tmp_path / f"{coding}.ifc"
        wide.write_bytes(path.read_text().replace("HERE", NAME).encode(coding))
        assert read(wide, Settings())[0].members[0].name == NAME


def test_marks_that_differ_in_a_letter_beyond_ascii_stay_two(tmp_path):
    model = Build()
    model.angle((0, 0, 0), length=900, name="one", material="S355J2")
    model.angle((0, 900, 0), length=950, name="two", material="S355J2")
    path = model.save(tmp_path / "model.ifc")
    path.write_text(path.read_text().replace("'one'", "'Ä1'").replace("'two'", "'Ö1'"), encoding="utf-8")
    assert {m.name for m in read(path, Settings())[0].members} == {"Ä1", "Ö1"}


def two_parts(tmp_path):
    model = Build()
    model.angle((0, 0, 0), length=900, name="one", material="S355J2")
    model.angle((0, 900, 0), length=950, name="two", material="S355J2")
    return model.save(tmp_path / "model.ifc")


DAMAGE = {
    "an entity is gone": lambda text: re.sub(r"\n#\d+=IFCLOCALPLACEMENT\(#\d+,#\d+\);", "", text, count=1),
    "an end is gone": lambda text: re.sub(r"(IFCMEMBER\('[^;]*'one'[^;]*)\);", r"\1", text),
    "a number is used twice": lambda text: re.sub(r"#\d+(=IFCMEMBER\('[^;]*'two')", r"#1\1", text),
    "an unknown entity": lambda text: re.sub(r"=IFCMEMBER\(('[^;]*'two')", r"=IFCMEMBERX(\1", text),
    "cut short, then closed": lambda text: text[: text.index("'two'")] + "'\nENDSEC;\nEND-ISO-10303-21;\n",
    "a comma for the point": lambda text: text.replace(",950.)", ",950,25)"),
}


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=DAMAGE.keys())
def test_a_damaged_file_says_so_and_stops_the_shop(tmp_path, damage):
    """The library reads what it can and only logs the rest; the lists must not look complete."""
    path = two_parts(tmp_path)
    text = path.read_text()
    path.write_text(damage(text))
    assert path.read_text() != text
    _, queries = read(path, Settings())
    assert [q.severity for q in queries if q.code == "file-damaged"] == ["hold"]


def test_a_sound_file_is_not_called_damaged(tmp_path):
    assert read(two_parts(tmp_path), Settings())[1] == ()


def without_unit(path):
    path.write_text(path.read_text().replace(".LENGTHUNIT.", ".TIMEUNIT."))


@pytest.mark.parametrize("unit", ["mm", "cm", "inch", "foot"])
def test_a_model_without_a_unit_gives_no_wrong_number(tmp_path, unit):
    """In feet a 100 mm leg reads as 328 mm in metres: wrong without looking it."""
    model = Build(unit=unit)
    part = model.angle(legs=(100, 100, 10), length=1500, material="S355J2")
    bolt = model.bolt((100, -10, 45), (0, 1, 0), 16, grip=20)
    path = model.save(tmp_path / "model.ifc")
    without_unit(path)
    takeoff = take_off([path], Settings())
    (query,) = [q for q in takeoff.queries if q.code == "unit-length-unknown"]
    assert query.severity == "hold"
    assert query.global_ids == tuple(sorted([part.global_id, bolt.global_id]))
    assert "length_unit" in query.remedy
    assert takeoff.pieces == ()
    assert [m.status for m in takeoff.model.members] == ["held"]
    assert [(row.bolts, row.status, row.length, row.grip) for row in takeoff.bolt_rows] == [(1, "held", None, None)]
    assert {line.diameter for line in takeoff.bolt_lines} <= {None}
    given = replace(Settings(), model=ModelSettings(length_unit=unit))
    takeoff = take_off([path], given)
    assert [(p.length, p.section.designation) for p in takeoff.pieces] == [(pytest.approx(1500), "L 100x100x10")]
    assert "unit-length-assumed" in {q.code for q in takeoff.queries}


def test_the_settings_do_not_change_a_unit_that_is_stated(model):
    found, queries = read(model, replace(Settings(), model=ModelSettings(length_unit="inch")))
    assert found.members[0].body.length == pytest.approx(1234.5)
    assert {q.code for q in queries} == {"part-no-grade"}


def test_several_units_are_held(model):
    text = model.read_text()
    text = text.replace("IFCUNITASSIGNMENT((", "IFCUNITASSIGNMENT((#9999,")
    model.write_text(text.replace("DATA;\n", "DATA;\n#9999=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);\n"))
    found, queries = read(model, Settings())
    assert found.members[0].body is None
    assert "unit-length-unknown" in {q.code for q in queries}


def test_a_unit_that_belies_its_name_is_held(tmp_path):
    """25.4 mm to the inch, ISO 80000-3; a file that says 0.0254 mm is wrong in one of the two."""
    path = one_angle(tmp_path / "model.ifc", unit="inch", length=1234.5)
    text = path.read_text()
    factor = re.search(r"IFCMEASUREWITHUNIT\(IFC\w+\(([\d.E-]+)\)", text)
    path.write_text(text.replace(factor.group(), factor.group().replace(factor[1], f"{float(factor[1]) / 1000}")))
    found, queries = read(path, Settings())
    assert found.members[0].body is None
    assert "unit-length-unknown" in {q.code for q in queries}


def test_millimetres_called_metres_are_held(tmp_path):
    path = one_angle(tmp_path / "model.ifc", length=1234.5)
    path.write_text(path.read_text().replace(".LENGTHUNIT.,.MILLI.", ".LENGTHUNIT.,$"))
    found, queries = read(path, Settings())
    assert found.members[0].body is None
    assert "unit-length-impossible" in {q.code for q in queries}


def test_a_prefix_that_is_none_is_refused(model):
    model.write_text(model.read_text().replace(".MILLI.", ".MICKY."))
    with pytest.raises(ReadError, match="MICKY"):
        open_model(model)


@pytest.mark.parametrize("items", ["()", "$"])
def test_an_empty_body_is_held(model, items):
    model.write_text(re.sub(r"('Body','SweptSolid',)\(#\d+\)", rf"\g<1>{items}", model.read_text()))
    found, queries = read(model, Settings())
    assert found.members[0].status == "held"
    assert "part-no-body" in {q.code for q in queries}
