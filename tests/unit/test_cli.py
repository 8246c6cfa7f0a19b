"""The command line: exit status, sentences instead of tracebacks, and what a person reads at the end.

The stages are replaced by ones that answer at once: reading models has tests of its own.
"""

import errno
import os
import re
import signal
import subprocess
import sys
import time
import types
from pathlib import Path

import pytest
from small_job import small_job

from takeoff import __version__, cli, documents, measuring


class Unreadable(Exception):
    """As the pipeline's: a model that could not be read."""


@pytest.fixture
def stages(monkeypatch, tmp_path):
    """Stand-ins: ``stages.take_off`` may be replaced; sheets are short texts."""
    monkeypatch.chdir(tmp_path)
    pipeline = types.ModuleType("takeoff.pipeline")
    pipeline.Unreadable = Unreadable
    pipeline.take_off = lambda paths, settings, progress: small_job()
    monkeypatch.setitem(sys.modules, "takeoff.pipeline", pipeline)

    def write_sheets(takeoff, settings, folder, *_):
        for name in ("cut-and-punch.pdf", "review.html", *(["queries.pdf"] if takeoff.queries else [])):
            (folder / name).write_text(settings.documents.job)

    monkeypatch.setattr(documents, "write_sheets", write_sheets)
    # there is no file whose solids could be measured
    monkeypatch.setattr(measuring, "with_solids", lambda takeoff, solids: takeoff)
    return pipeline


def raising(error):
    def take_off(paths, settings, progress):
        raise error

    return take_off


def test_lists_go_to_a_folder_named_after_the_model(stages, capsys):
    assert cli.main(["lists", "some/where/mast.ifc"]) == 0
    written = {p.relative_to("output/mast").as_posix() for p in Path("output/mast").rglob("*") if p.is_file()}
    assert {"cut-and-punch.pdf", "lists.xlsx", "summary.json", "tables/holes.csv", "queries.pdf"} <= written
    assert not any(name.startswith(".") for name in written)
    out, err = capsys.readouterr()
    assert "mast.ifc: 3 pieces under 2 marks, 1 bolt\n" in out
    assert "5 in the model: 3 listed, 0 held, 1 bought out, 1 left out" in out
    assert "31.1 kg net, 31.2 kg gross; bolt sets 0.15 kg" in out
    assert "3: 0 hold, 1 check, 2 assumed" in out
    assert f"{len(written)} files in {Path('output/mast')}" in out
    assert "queries.pdf" in out
    assert "Writing" in err
    assert "\r" not in err
    assert "\x1b" not in err


def test_several_models_are_one_job(stages):
    seen = []
    stages.take_off = lambda paths, settings, progress: seen.extend(paths) or small_job()
    assert cli.main(["lists", "a.ifc", "b.ifczip"]) == 0
    assert seen == [Path("a.ifc"), Path("b.ifczip")]
    assert Path("output/a+b/summary.json").exists()


@pytest.mark.parametrize("name", ["tower.ifc", "tower.ifc.gz", "tower.ifczip", "tower.step"])
def test_the_folder_is_named_as_the_model_whatever_packs_it(stages, name):
    assert cli.main(["lists", name]) == 0
    assert [folder.name for folder in Path("output").iterdir()] == ["tower"]


def test_a_very_long_job_name_is_cut_to_what_a_folder_can_be_called(stages):
    assert cli.main(["lists", *(f"{'x' * 60}{i}.ifc" for i in range(9))]) == 0
    (folder,) = Path("output").iterdir()
    assert folder.name.endswith("+8 more")


def test_something_held_is_status_1_and_said(stages, capsys):
    stages.take_off = lambda *_: small_job(held=True)
    assert cli.main(["lists", "m.ifc", "-o", "out"]) == 1
    assert "HELD: 1 mark (1.86 kg), 1 part and 0 bolts." in capsys.readouterr().out


def test_a_model_without_steel_is_status_0_with_a_sentence(stages, capsys):
    import dataclasses

    job = small_job(queries=False)
    bare = dataclasses.replace(job, pieces=(), bolt_rows=(), bolt_lines=(), member_status=("left out",) * 5)
    stages.take_off = lambda *_: bare
    assert cli.main(["lists", "m.ifc", "-o", "out"]) == 0
    out = capsys.readouterr().out
    assert "no steel to cut, punch or bolt was found" in out
    assert "cut-and-punch.pdf" in out
    assert not Path("out/queries.pdf").exists()


def test_queries_of_an_earlier_run_do_not_stay(stages):
    cli.main(["lists", "m.ifc", "-o", "out"])
    assert Path("out/queries.pdf").exists()
    stages.take_off = lambda *_: small_job(queries=False)
    cli.main(["lists", "m.ifc", "-o", "out", "--no-bars"])
    assert not Path("out/queries.pdf").exists()


def test_the_cutting_plan_is_written_unless_it_is_left_out(stages):
    cli.main(["lists", "m.ifc", "-o", "out"])
    planned = {"tables/bars.csv", "tables/order.csv"}
    assert all((Path("out") / name).exists() for name in planned)
    cli.main(["lists", "m.ifc", "-o", "out", "--no-bars"])
    assert not any((Path("out") / name).exists() for name in planned)
    assert "bars-assumed" not in Path("out/tables/queries.csv").read_text()


def test_a_model_that_cannot_be_read_is_status_3_and_the_last_lists_stay(stages, capsys):
    cli.main(["lists", "m.ifc", "-o", "out"])
    before = {p: p.read_bytes() for p in Path("out").rglob("*") if p.is_file()}
    for error in (
        Unreadable("m.ifc is empty. Export it again."),
        PermissionError(13, "Permission denied", "m.ifc"),
        MemoryError(),
    ):
        stages.take_off = raising(error)
        assert cli.main(["lists", "m.ifc", "-o", "out"]) == 3
        err = capsys.readouterr().err
        assert "Traceback" not in err
        assert "unchanged" in err
    assert {p: p.read_bytes() for p in Path("out").rglob("*") if p.is_file()} == before


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["lists"],
        ["lists", "m.ifc", "--frobnicate"],
        ["list", "m.ifc"],
        ["lists", "-o"],
        ["compare", "a.ifc"],
    ],
)
def test_wrong_arguments_are_status_2(arguments, capsys):
    with pytest.raises(SystemExit) as caught:
        cli.main(arguments)
    assert caught.value.code == 2
    assert "usage: takeoff" in capsys.readouterr().err


def test_one_model_twice_is_wrong_use(stages, capsys):
    assert cli.main(["lists", "m.ifc", "./m.ifc"]) == 2
    assert "given twice" in capsys.readouterr().err


def test_bad_settings_are_status_2_and_every_fault_is_said(stages, capsys):
    Path("shop.toml").write_text("[holes]\ntower = true\n[bolts]\nnuts = -1\n")
    assert cli.main(["lists", "m.ifc", "--settings", "shop.toml"]) == 2
    err = capsys.readouterr().err
    assert "Did you mean `towers`?" in err
    assert "`bolts.nuts` must lie between 0 and 4" in err
    assert not Path("output").exists()
    assert cli.main(["lists", "m.ifc", "--settings", "none.toml"]) == 2


def test_settings_reach_the_stages(stages):
    Path("shop.toml").write_text('[documents]\njob = "Mast 7"\n')
    assert cli.main(["lists", "m.ifc", "-o", "out", "--settings", "shop.toml"]) == 0
    assert Path("out/review.html").read_text() == "Mast 7"


def test_an_output_that_cannot_be_written_is_status_2_before_anything_is_read(stages, capsys):
    Path("taken").write_text("a file")
    stages.take_off = raising(AssertionError("not to be called"))
    assert cli.main(["lists", "m.ifc", "-o", "taken"]) == 2
    assert "is a file, not a folder" in capsys.readouterr().err
    assert Path("taken").read_text() == "a file"


def test_a_full_disk_is_status_2_and_the_last_lists_stay(stages, capsys, monkeypatch):
    cli.main(["lists", "m.ifc", "-o", "out"])

    def full(takeoff, folder, *_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(documents, "write_tables", full)
    assert cli.main(["lists", "m.ifc", "-o", "out"]) == 2
    assert "no space left on device" in capsys.readouterr().err
    assert Path("out/lists.xlsx").exists()


def test_a_fault_of_the_program_shows_itself_and_has_a_status_of_its_own(stages, capsys):
    stages.take_off = raising(ZeroDivisionError("of ours"))
    assert cli.main(["lists", "m.ifc", "-o", "out"]) == 70
    assert "ZeroDivisionError: of ours" in capsys.readouterr().err
    assert not Path("out").exists()


def test_version_and_help(capsys):
    for arguments in (["--version"], ["--help"], ["lists", "--help"], ["settings", "--help"]):
        with pytest.raises(SystemExit) as caught:
            cli.main(arguments)
        assert caught.value.code == 0
        out = capsys.readouterr().out
        assert __version__ in out if arguments == ["--version"] else "usage" in out
    with pytest.raises(SystemExit):
        cli.main(["lists", "--help"])
    assert "130" in capsys.readouterr().out


def test_settings_prints_the_default_file(capsys):
    from takeoff.settings_file import default_text

    assert cli.main(["settings"]) == 0
    assert capsys.readouterr().out == default_text()


SCRIPT = """
import sys, time, types
sys.path.insert(0, {here!r})
from small_job import small_job
from takeoff import cli, documents
pipeline = types.ModuleType("takeoff.pipeline")
pipeline.Unreadable = RuntimeError
def take_off(paths, settings, progress):
    progress("Reading {name}", 0.5)
    time.sleep({wait})
    return small_job(name="Tr\\u00e4ger \\u0141")
pipeline.take_off = take_off
sys.modules["takeoff.pipeline"] = pipeline
documents.write_sheets = lambda takeoff, settings, folder, *_: (folder / "cut-and-punch.pdf").write_text("new")
sys.exit(cli.main(["lists", {name!r} + ".ifc", "-o", "out"]))
"""


def started(folder, wait, name="mast", **options):
    script = SCRIPT.format(here=str(Path(__file__).parent), wait=wait, name=name)
    return subprocess.Popen([sys.executable, "-c", script], cwd=folder, stderr=subprocess.PIPE, text=True, **options)


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGKILL, -9)])
def test_a_run_that_is_stopped_leaves_the_last_lists(number, status, tmp_path):
    with started(tmp_path, 0) as first:
        assert "Reading" in first.stderr.read()
    assert first.returncode == 0
    before = {p.name: p.read_bytes() for p in (tmp_path / "out").rglob("*") if p.is_file()}
    with started(tmp_path, 60) as second:
        while "Reading" not in second.stderr.readline():
            pass
        time.sleep(0.05)
        second.send_signal(number)
        err = second.stderr.read()
    assert second.returncode == status
    assert "Traceback" not in err
    if number == signal.SIGINT:
        assert "Stopped. The last lists are unchanged." in err
    after = {p.name: p.read_bytes() for p in (tmp_path / "out").rglob("*") if p.is_file()}
    assert {name: after[name] for name in before} == before
    if number != signal.SIGKILL:
        assert after == before


@pytest.mark.skipif(os.name == "nt", reason="a pipe of POSIX")
def test_a_reader_that_has_had_enough_is_no_fault(tmp_path):
    reading, writing = os.pipe()
    os.close(reading)
    with started(tmp_path, 0, stdout=writing) as process:
        os.close(writing)
        err = process.stderr.read()
    assert process.returncode == 0
    assert "Traceback" not in err
    assert "BrokenPipe" not in err


def test_a_terminal_that_lacks_a_letter_is_no_fault(tmp_path):
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    with started(tmp_path, 0, name="Łódź", stdout=subprocess.PIPE, env=environment) as process:
        out, err = process.communicate()
    assert process.returncode == 0, err
    assert re.search(r"\\u0141\S*\.ifc: 3 pieces", out)


def test_a_bar_on_a_terminal(monkeypatch):
    import io

    from takeoff.progress import part, shown_on

    class Terminal(io.StringIO):
        def isatty(self):
            return True

    monkeypatch.setenv("TERM", "xterm")
    terminal = Terminal()
    with shown_on(terminal) as progress:
        part(progress, 0.0, 0.5)("reading", 1.0)
        part(progress, 0.5, 1.0)("punching", 1.0)
    assert "Reading" in terminal.getvalue()
    assert "Punching" in terminal.getvalue()


def test_a_part_of_a_progress():
    from takeoff.progress import part

    seen = []
    inner = part(part(lambda stage, share: seen.append((stage, round(share, 6))), 0.5, 1.0), 0.0, 0.4)
    for share in (0.0, 0.5, 1.0, 7.0):
        inner("x", share)
    assert seen == [("x", 0.5), ("x", 0.6), ("x", 0.7), ("x", 0.7)]


def test_the_module_runs_as_the_command_does():
    done = subprocess.run([sys.executable, "-m", "takeoff", "--version"], capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, f"takeoff {__version__}\n")
