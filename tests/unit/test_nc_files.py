"""Machine files from the command line on: the folder, the summary, the queries, the test piece, and other readers."""

import contextlib
import csv
import io
import json
from pathlib import Path

import ezdxf
import nc_reader
import pytest
import steelwork as sw
from build import Build
from dstvparser.parsers.factory import NCFileParserFactory

from takeoff import cli
from takeoff.exchange.machine import machine_files
from takeoff.exchange.nc import nc_files
from takeoff.exchange.trial import MARK, trial_files
from takeoff.pipeline import take_off, work_out
from takeoff.settings import Settings
from takeoff.settings_file import load

ROOT = Path(__file__).resolve().parents[2]


def run(*arguments):
    """Exit status and standard output of the command line."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        status = cli.main([str(a) for a in arguments])
    return status, out.getvalue()


@pytest.fixture(scope="module")
def trestle(tmp_path_factory):
    """The demo trestle's lists with files for machines, written once."""
    folder = tmp_path_factory.mktemp("trestle")
    status, out = run("lists", ROOT / "models" / "trestle_bay.ifc", "-o", folder, "--nc", "--dxf")
    assert status in (cli.WRITTEN, cli.WRITTEN_SOME_HELD)
    return folder, out


def test_a_file_for_each_mark_and_a_summary_that_adds_up(trestle):
    folder, out = trestle
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    files = sorted(p.name for p in (folder / "nc").iterdir())
    told = summary["machine_files"]["nc"]
    assert sorted(told["files"].values()) == files
    assert len(files) + len(told["without"]) == summary["counts"]["piece_marks"]
    assert {f"nc/{name}" for name in files} <= set(summary["files"])
    assert f"nc       {len(files)} files" in out
    assert "test-piece" in out


def test_both_readers_read_every_file_of_the_trestle(trestle):
    folder, _ = trestle
    for path in sorted((folder / "nc").iterdir()):
        file = nc_reader.read(path.read_bytes())
        other = NCFileParserFactory.create_parser(path).parse()
        assert (other.piece_id, other.quantity, other.length) == (file.mark, file.quantity, file.length)
        assert (other.profile_type, other.material) == (file.code, file.fields[4])
        have = sorted((h.face, h.x, h.y, h.diameter) for h in (*other.holes, *other.slots))
        assert have == sorted((h.face, h.x, h.y, h.diameter) for h in file.holes)


@pytest.mark.parametrize("name", sorted({**sw.PRISMS, **sw.ROUNDS}))
def test_the_other_reader_reads_every_shape(name, tmp_path):
    """dstvparser 0.1.2: an independent reader; it knows no SO, and of SI nothing."""
    section = {**sw.PRISMS, **sw.ROUNDS}[name]
    walls = sw.faces(section)
    slot = sw.hole(walls[0].name, 200, walls[0].high * 0.3, 14, slot_length=34, kind="slot")
    cut = sw.skew(60.0, 12.0, end="right")
    part = sw.member(
        section, 900.0, right=(cut,), body_holes=(slot, sw.hole(walls[-1].name, 500, walls[-1].high * 0.7, 18))
    )
    made = nc_files(work_out(sw.model([part]), Settings()), Settings())
    for file_name, content in made.files.items():
        path = tmp_path / file_name
        path.write_bytes(content)
        file = nc_reader.read(content)
        other = NCFileParserFactory.create_parser(path).parse()
        if file.code == "SO":
            assert other is None
            continue
        assert (other.piece_id, other.length, other.profile_type) == (file.mark, file.length, file.code)
        assert len(other.holes) + len(other.slots) == len(file.holes)
        for face in "vouh":
            points = [p for c in file.contours if c.code == "AK" and c.face == face for p in c.points]
            assert [tuple(p) for p in getattr(other, f"{face}_contour")] == points
    assert made.files or name == "Z" or made.without


def test_without_being_asked_nothing_is_written(tmp_path):
    status, _ = run("lists", ROOT / "models" / "trestle_bay.ifc", "-o", tmp_path)
    assert status in (cli.WRITTEN, cli.WRITTEN_SOME_HELD)
    assert not (tmp_path / "nc").exists()
    assert not (tmp_path / "dxf").exists()
    assert json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))["machine_files"] == {}


def test_files_of_an_earlier_run_do_not_stay_behind(tmp_path):
    run("lists", ROOT / "models" / "trestle_bay.ifc", "-o", tmp_path, "--nc")
    assert (tmp_path / "nc").exists()
    (tmp_path / "own.txt").write_text("mine")
    run("lists", ROOT / "models" / "trestle_bay.ifc", "-o", tmp_path)
    assert not (tmp_path / "nc").exists()
    assert (tmp_path / "own.txt").exists()


HOSTILE = ("../../evil", "..\\evil", "CON", "a1", "A1", "x" * 200, "Träger/7", "BO1", "line\nbreak", "балка", "балки")


def test_whatever_a_model_calls_its_parts_files_stay_in_their_folder(tmp_path):
    model = Build()
    for k, mark in enumerate(HOSTILE):
        origin, x = np_line(k)
        model.angle(origin, x=x, length=600 + 50 * k, legs=(70, 70, 7), tag=mark, name="angle")
    path = model.save(tmp_path / "m.ifc")
    folder = tmp_path / "deep" / "er" / "out"
    status, _ = run("lists", path, "-o", folder, "--nc")
    assert status in (cli.WRITTEN, cli.WRITTEN_SOME_HELD)
    outside = {p for p in tmp_path.rglob("*") if p.is_file() and folder not in p.parents}
    assert outside == {path}
    files = sorted((folder / "nc").iterdir())
    assert len(files) == len(HOSTILE)
    read = [nc_reader.read(p.read_bytes()) for p in files]
    assert len({f.mark for f in read}) == len(HOSTILE)
    assert all(p.is_file() and p.parent == folder / "nc" for p in files)
    told = json.loads((folder / "summary.json").read_text(encoding="utf-8"))["machine_files"]["nc"]["files"]
    assert sorted(told.values()) == [p.name for p in files]


def np_line(k):
    """Members side by side, 500 mm apart."""
    return (0.0, 500.0 * k, 0.0), (1, 0, 0)


def test_a_mark_that_had_to_be_reworded_is_asked_about_with_its_parts(tmp_path):
    model = Build()
    part = model.angle((0, 0, 0), length=700, legs=(70, 70, 7), tag="Träger 7", name="angle")
    takeoff = take_off([model.save(tmp_path / "m.ifc")], Settings())
    if takeoff.pieces[0].mark != "Träger 7":
        pytest.skip("the model's mark is not kept")
    machine, asked = machine_files(takeoff, Settings(), nc=True)
    (question,) = [q for q in asked.queries if q.code == "machine-mark-text"]
    assert question.piece_mark == "Träger 7"
    assert question.global_ids == (part.global_id,)
    assert '"Trager 7"' in question.message
    assert list(machine.files()) == ["nc/Trager_7.nc"]
    severities = [q.severity for q in asked.queries]
    assert severities == sorted(severities, key=("hold", "check", "assumed").index)


def test_holes_that_the_line_cannot_make_are_not_in_its_files(tmp_path):
    """One hole of two lies 14 mm from the heel of an L 70x70x7: 7 mm from the other leg, under any punch's reach."""
    model = Build()
    angle = model.angle((0, 0, 0), length=900, legs=(70, 70, 7), tag="K1", name="angle")
    model.hole(angle, "A", 200, 40, 18)
    model.hole(angle, "A", 400, 14, 12)
    status, out = run("lists", model.save(tmp_path / "m.ifc"), "-o", tmp_path / "o", "--nc", "--no-bars")
    assert status == cli.WRITTEN
    (path,) = (tmp_path / "o" / "nc").iterdir()
    file = nc_reader.read(path.read_bytes())
    assert len(file.holes) == 1
    assert [(h.x, h.y) for h in file.holes] in ([(200.0, 40.0)], [(700.0, 40.0)])
    assert sum(c.startswith("NOT IN THIS FILE") for c in file.comments) == 1
    assert len(NCFileParserFactory.create_parser(path).parse().holes) == 1
    with (tmp_path / "o" / "tables" / "queries.csv").open(encoding="utf-8-sig", newline="") as table:
        rows = [row for row in csv.DictReader(table) if "machine-hole-left-out" in row.values()]
    assert len(rows) == 1
    # Where it is made is what the routing says.
    assert "(station drill)" in rows[0]["message"]
    with (tmp_path / "o" / "tables" / "routing.csv").open(encoding="utf-8-sig", newline="") as table:
        drilled = [row for row in csv.DictReader(table) if row["station"] == "drill"]
    assert [row["piece_mark"] for row in drilled] == ["K1"]
    told = json.loads((tmp_path / "o" / "summary.json").read_text(encoding="utf-8"))["machine_files"]["nc"]
    (label,) = told["holes_left_out"].values()
    assert f"{label}: holes 14 mm" in rows[0]["message"]
    assert "1 hole of each piece left out of the files of K1" in out


def test_slots_stay_out_of_the_files_of_a_line_that_makes_none(tmp_path):
    model = Build()
    angle = model.angle((0, 0, 0), length=900, legs=(70, 70, 7), tag="K1", name="angle")
    model.hole(angle, "A", 200, 40, 18)
    # 40 long, 18 wide: its ends are half circles.
    model.cut(angle, "A", [(489, 31, 0), (511, 31, 1), (511, 49, 0), (489, 49, 1)], curve="indexed")
    source = model.save(tmp_path / "m.ifc")
    for slots, left in (("true", 2), ("false", 1)):
        shop = tmp_path / f"{slots}.toml"
        shop.write_text(f"[line]\nslots = {slots}\n")
        run("lists", source, "-o", tmp_path / slots, "--nc", "--no-bars", "--settings", shop)
        (path,) = (tmp_path / slots / "nc").iterdir()
        assert len(nc_reader.read(path.read_bytes()).holes) == left


def test_the_test_piece_is_written_on_request(tmp_path):
    status, out = run("test-piece", "-o", tmp_path / "t")
    assert status == cli.WRITTEN
    assert str(tmp_path / "t") in out
    assert sorted(p.name for p in (tmp_path / "t").iterdir()) == [f"{MARK}.nc", f"{MARK}.txt"]
    file = nc_reader.read((tmp_path / "t" / f"{MARK}.nc").read_bytes())
    assert sorted(h.face for h in file.holes) == ["u", "v"]
    page = (tmp_path / "t" / f"{MARK}.txt").read_text(encoding="ascii")
    for figure in ("90 from the left end", "65 from the heel", "240 from the left end", "38 from the heel"):
        assert figure in page


def test_the_test_piece_follows_the_settings(tmp_path):
    path = tmp_path / "shop.toml"
    path.write_text('[nc]\nu_datum = "heel"\n')
    assert run("test-piece", "-o", tmp_path, "--settings", path)[0] == cli.WRITTEN
    hole = next(h for h in nc_reader.read((tmp_path / f"{MARK}.nc").read_bytes()).holes if h.face == "u")
    assert hole.y == 38.0
    assert 'u_datum = "toe"' in trial_files(load(path))[f"{MARK}.txt"].decode()


def test_a_folder_that_cannot_be_written_is_wrong_use(tmp_path):
    (tmp_path / "file").write_text("")
    assert run("test-piece", "-o", tmp_path / "file")[0] == cli.WRONG_USE


@pytest.mark.parametrize("line", ['u_datum = "top"', 'v_leg = "A"', 'marking = "{name}"', 'marking = "{revision}"'])
def test_settings_that_mean_nothing_are_refused(line, tmp_path):
    path = tmp_path / "shop.toml"
    path.write_text(f"[nc]\n{line}\n")
    assert run("test-piece", "-o", tmp_path, "--settings", path)[0] == cli.WRONG_USE


MODELS = ROOT.parent / "shared" / "models"


@pytest.mark.parametrize(
    "name",
    ["angles_and_plates_small", "portal_frame_marks", "bolt_groups_excerpt", "handrails_openings", "mirrored_profiles"],
)
def test_files_of_real_models_are_read_by_both_readers_and_hold_every_hole(name, tmp_path):
    path = MODELS / f"{name}.ifc"
    if not path.exists():
        pytest.skip("the shared models are not there")
    takeoff = take_off([path], Settings())
    machine, _ = machine_files(takeoff, Settings(), nc=True, dxf=True)
    made = machine.kinds["nc"]
    files = {}
    for file_name, content in made.files.items():
        (tmp_path / file_name).write_bytes(content)
        file = nc_reader.read(content)
        files[file.mark] = file
        if file.code != "SO":
            assert NCFileParserFactory.create_parser(tmp_path / file_name).parse().length == file.length
    assert len(files) + len(made.without) == len(takeoff.pieces)
    left_out = {q.piece_mark for q in made.queries if q.code == "machine-hole-left-out"}
    for piece in takeoff.pieces:
        if piece.mark in files and piece.mark not in left_out:
            file = files[piece.mark]
            through = [h for h in file.holes if h.code != "s"]
            assert len(through) + sum(c.code == "IK" for c in file.contours) == len(piece.holes)
            assert file.quantity == piece.quantity
            assert file.length == pytest.approx(piece.length, abs=0.0051)
    for content in machine.kinds["dxf"].files.values():
        audit = ezdxf.read(io.StringIO(content.decode("utf-8"))).audit()
        assert (audit.errors, audit.fixes) == ([], [])


# ---------------------------------------------------------------- the strict reader itself

GOOD = trial_files(Settings())[f"{MARK}.nc"].decode()
CORNERS = ("0.00u 0.00", "400.00u 0.00", "380.00u 100.00", "0.00u 100.00", "0.00u 0.00")
SKEW = "AK\n" + "".join(f"  v {corner} 0.00\n" for corner in CORNERS)


def test_the_reader_takes_a_good_file():
    assert nc_reader.read(GOOD).mark == MARK
    assert len(nc_reader.read(GOOD.replace("EN\n", SKEW + "EN\n")).contours) == 1


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("ST\n", "ST\nST\n"),
        ("EN\n", ""),
        ("EN\n", "EN\nBO\n"),
        ("  S235JR\n", ""),
        ("  S235JR\n", "  S235JR\n  \n"),
        ("  S235JR\n", f"  {'x' * 81}\n"),
        ("  S235JR\n", "  S235J\u00d6\n"),
        ("BO\n", "XX\n"),
        ("BO\n", " BO\n"),
        ("  v      90.00u", "  h      90.00u"),
        ("  v      90.00u", "  v     900.00u"),
        ("65.00     22.00     0.00", "65.00     22.00"),
        ("65.00     22.00     0.00", "105.00     22.00     0.00"),
        ("65.00     22.00     0.00", "65.00     0.00     0.00"),
        ("10.00r TEST-PIECE", f"10.00r {'x' * 41}"),
        ("  L\n", "  Q\n"),
        ("  1\n", "  1.5\n"),
        ("EN\n", SKEW + SKEW + "EN\n"),
        ("EN\n", SKEW.replace("  v 380.00u 100.00 0.00\n", "") + "EN\n"),
        ("EN\n", "AK\n" + "".join(reversed(SKEW.splitlines(keepends=True)[1:])) + "EN\n"),
        ("EN\n", SKEW.removesuffix("  v 0.00u 0.00 0.00\n") + "EN\n"),
        ("EN\n", SKEW.replace("400.00u 0.00 0.00", "400.00u 0.00 10.00") + "EN\n"),
        ("EN\n", SKEW.replace("AK", "IK") + "EN\n"),
    ],
)
def test_the_reader_refuses_what_the_standard_does_not_allow(old, new):
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    # Three corners are a contour too: that one case is only the check of the checks.
    if "380.00" not in text and "AK" in text:
        assert nc_reader.read(text).contours
        return
    with pytest.raises(nc_reader.Refused):
        nc_reader.read(text)
