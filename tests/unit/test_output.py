"""The last good documents survive whatever happens to a run."""

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from takeoff import output
from takeoff.output import JOURNAL, PREFIX, OutputError, Staging

OLD = {"cut-and-punch.pdf": "old", "tables/members.csv": "old", "nc/A1.nc": "old", "summary.json": ""}
NEW = {"cut-and-punch.pdf": "new", "tables/members.csv": "new", "review.html": "new", "summary.json": ""}


def write(folder, documents):
    for name, text in documents.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps({"files": dict.fromkeys(documents, "x")}) if name == "summary.json" else text)


def run(target, documents):
    with Staging(target) as staging:
        write(staging.folder, documents)
        return staging.swap()


def content(target):
    """Every file of ours or the user's, by name, without the summary's text."""
    return {
        p.relative_to(target).as_posix(): "" if p.name == "summary.json" else p.read_text()
        for p in target.rglob("*")
        if p.is_file() and not p.relative_to(target).parts[0].startswith(PREFIX)
    }


def hidden(target):
    return [p for p in target.iterdir() if p.name.startswith(PREFIX)]


@pytest.fixture
def target(tmp_path):
    """A folder with the documents of an earlier run and files of the user's own."""
    folder = tmp_path / "job"
    run(folder, OLD)
    (folder / "notes.txt").write_text("mine")
    (folder / "tables" / "mine.csv").write_text("mine")
    return folder


MINE = {"notes.txt": "mine", "tables/mine.csv": "mine"}


def test_the_new_take_the_place_of_the_old_and_the_users_stay(target):
    assert run(target, NEW) == sorted(NEW)
    # nc/A1.nc is in no list of known names: the last summary said that it was ours.
    assert content(target) == {**NEW, **MINE}
    assert not (target / "nc").exists()
    assert hidden(target) == []


def test_a_known_document_that_is_not_written_now_goes(tmp_path):
    tmp_path.joinpath("queries.pdf").write_text("of a run whose summary is lost")
    run(tmp_path, NEW)
    assert content(tmp_path) == NEW


def test_a_summary_cannot_point_outside(target, tmp_path):
    outside = tmp_path / "precious.txt"
    outside.write_text("keep")
    names = ["../precious.txt", str(outside), "tables/../../precious.txt", 7, "C:\\x"]
    (target / "summary.json").write_text(json.dumps({"files": names}))
    run(target, NEW)
    assert outside.read_text() == "keep"


@pytest.mark.parametrize("text", ["", "[]", '{"files": 3}', '{"files": null}', "\xff"])
def test_a_summary_that_is_not_ours_is_no_obstacle(text, target):
    (target / "summary.json").write_text(text, encoding="latin-1")
    run(target, NEW)
    assert content(target)["cut-and-punch.pdf"] == "new"


def test_a_run_that_fails_before_the_swap_changes_nothing(target):
    staging = Staging(target)
    with staging:
        write(staging.folder, NEW)
    assert not staging.swapped
    assert content(target) == {**OLD, **MINE}
    assert hidden(target) == []


def test_a_first_run_that_fails_leaves_no_folder(tmp_path):
    with pytest.raises(ZeroDivisionError), Staging(tmp_path / "output" / "job"):
        raise ZeroDivisionError
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("failing", range(8))
def test_an_error_at_any_move_is_undone(failing, target, monkeypatch):
    replace, count = os.replace, iter(range(100))

    def failing_replace(source, place):
        if Path(place).name != JOURNAL and next(count) == failing:
            raise PermissionError(13, "Permission denied", str(place))
        replace(source, place)

    with Staging(target) as staging:
        write(staging.folder, NEW)
        monkeypatch.setattr(os, "replace", failing_replace)
        with pytest.raises(OutputError, match="permission denied"):
            staging.swap()
        assert next(count) > failing, "the failure happened"
    monkeypatch.undo()
    assert content(target) == {**OLD, **MINE}
    assert hidden(target) == []


@pytest.mark.parametrize("moves", range(8))
def test_a_kill_at_any_move_is_finished_by_the_next_run(moves, target):
    killed = multiprocessing.get_context("fork").Process(target=_killed_in_swap, args=(target, moves))
    killed.start()
    killed.join()
    assert killed.exitcode == -signal.SIGKILL
    assert hidden(target) != []
    # The next run fails to read its model; what the killed one was about to put in place is whole.
    with pytest.raises(ZeroDivisionError), Staging(target):
        raise ZeroDivisionError
    assert content(target) == {**NEW, **MINE}
    assert hidden(target) == []


def _killed_in_swap(target, moves):
    replace, count = os.replace, iter(range(100))

    def killing_replace(source, place):
        if Path(place).name != JOURNAL and next(count) == moves:
            os.kill(os.getpid(), signal.SIGKILL)
        replace(source, place)

    with Staging(target) as staging:
        write(staging.folder, NEW)
        os.replace = killing_replace
        staging.swap()


def test_a_kill_before_the_swap_leaves_the_old_and_the_next_run_tidies_up(target):
    script = (
        "import sys, time; from pathlib import Path; from takeoff.output import Staging\n"
        "with Staging(Path(sys.argv[1])) as s:\n"
        "    (s.folder / 'review.html').write_text('half'); print('ready', flush=True); time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", script, str(target)], stdout=subprocess.PIPE) as process:
        assert process.stdout.readline() == b"ready\n"
        # While it lives its staging folder is its own: another run leaves it alone.
        run(target, OLD)
        assert len(hidden(target)) == 1
        process.kill()
    assert content(target) == {**OLD, **MINE}
    run(target, NEW)
    assert hidden(target) == []


def test_ctrl_c_within_the_swap_waits_for_its_end(target, monkeypatch):
    move = output._move

    def interrupted(*arguments):
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.01)
        move(*arguments)

    monkeypatch.setattr(output, "_move", interrupted)
    staging = Staging(target)
    with staging:
        write(staging.folder, NEW)
        with pytest.raises(KeyboardInterrupt):
            staging.swap()
    assert staging.swapped
    assert content(target) == {**NEW, **MINE}
    assert hidden(target) == []


def test_a_file_in_the_way_is_named(tmp_path):
    (tmp_path / "job").write_text("a file")
    with pytest.raises(OutputError, match="is a file, not a folder"), Staging(tmp_path / "job"):
        pass
    with pytest.raises(OutputError, match="cannot be written"), Staging(tmp_path / "job" / "below"):
        pass
    assert (tmp_path / "job").read_text() == "a file"


@pytest.mark.parametrize(("blocked", "said"), [("review.html", "folder named review.html"), ("tables", "tables")])
def test_a_folder_or_file_where_a_document_goes_is_named(blocked, said, tmp_path):
    if blocked == "tables":
        (tmp_path / blocked).write_text("mine")
    else:
        (tmp_path / blocked).mkdir()
    with Staging(tmp_path) as staging:
        write(staging.folder, NEW)
        with pytest.raises(OutputError, match=said):
            staging.swap()
    assert set(os.listdir(tmp_path)) == {blocked}


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_rights_is_a_sentence(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputError, match="name another folder"), Staging(tmp_path / "job"):
            pass
    finally:
        tmp_path.chmod(0o700)


@pytest.mark.skipif(sys.platform == "win32", reason="folders cannot be locked")
def test_a_second_run_waits_for_the_swap_of_the_first(target):
    script = (
        "import fcntl, os, sys, time\n"
        "fcntl.flock(os.open(sys.argv[1], os.O_RDONLY), fcntl.LOCK_EX); print('locked', flush=True); time.sleep(0.5)"
    )
    with Staging(target) as staging:
        write(staging.folder, NEW)
        with subprocess.Popen([sys.executable, "-c", script, str(target)], stdout=subprocess.PIPE) as other:
            assert other.stdout.readline() == b"locked\n"
            staging.swap()
            assert other.wait(timeout=5) == 0, "the swap came after the other run had let go"
    assert content(target) == {**NEW, **MINE}


def test_runs_side_by_side_never_leave_a_mixture(tmp_path):
    """Several processes swap whole sets into one folder at once; what stands at the end is one of the sets."""
    target = tmp_path / "job"
    names = [f"tables/{i}.csv" for i in range(40)]
    script = (
        "import sys, json; from pathlib import Path; from takeoff.output import Staging\n"
        "names = json.loads(sys.argv[3])\n"
        "for _ in range(10):\n"
        "    with Staging(Path(sys.argv[1])) as s:\n"
        "        (s.folder / 'tables').mkdir()\n"
        "        for name in names: (s.folder / name).write_text(sys.argv[2])\n"
        "        (s.folder / 'summary.json').write_text(json.dumps({'files': names}))\n"
        "        s.swap()\n"
    )
    runs = [
        subprocess.Popen([sys.executable, "-c", script, str(target), mark, json.dumps(names)]) for mark in ("a", "b")
    ]
    assert [run.wait(timeout=60) for run in runs] == [0, 0]
    texts = {text for name, text in content(target).items() if name != "summary.json"}
    assert len(texts) == 1
    assert set(content(target)) == {*names, "summary.json"}
    assert hidden(target) == []


def test_a_target_that_the_system_refuses_is_a_sentence(tmp_path, monkeypatch):
    def refuse(path, mode=0o777):
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(os, "mkdir", refuse)
    with pytest.raises(OutputError, match=r"permission denied.*name another folder"), Staging(tmp_path / "job"):
        pass
