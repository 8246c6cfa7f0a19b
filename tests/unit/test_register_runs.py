"""The register of whole runs: killed at any moment, two at once, refused, put back."""

import csv
import os
import random
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from build import Build

from takeoff import cli
from takeoff.register import Ledger, RegisterError, read_register
from takeoff.released import Register

SHOP = '[documents]\njob = "Test mast"\nrevision = "{}"\n'


def tower(path, *holes_at, count=2, **named):
    """A model with angles that differ in where their hole is, ``count`` of each."""
    model = Build(**named)
    for k, x in enumerate(holes_at):
        for n in range(count):
            part = model.angle((0, 1000 * k, 500 * n), length=1000)
            model.hole(part, "A", x, 40, 18)
    return model.save(path)


def shop(folder, revision):
    path = folder / f"{revision}.toml"
    path.write_text(SHOP.format(revision))
    return path


def arguments(model, register, out, options):
    return ["lists", str(model), "--register", str(register), "-o", str(out), "--settings", str(options), "--no-bars"]


def files(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def listed(out):
    """From the lists on the shop's table: for each mark where its holes are."""
    found = {}
    with (out / "tables" / "holes.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["piece_mark"], []).append((row["face"], row["x_mm"], row["across_mm"]))
    return found


def remembered(path):
    """From the register: for each mark where its holes are."""
    return {
        piece.mark: [("AB"[int(row[1])], f"{row[2]:g}", f"{row[3]:g}") for row in piece.rows[: len(piece.sources)]]
        for piece in read_register(path).pieces
    }


def numbers(holes):
    return {mark: [(face, float(x), float(across)) for face, x, across in rows] for mark, rows in holes.items()}


@pytest.fixture
def job(tmp_path):
    """Two states of a model, and lists of the first one written with a register."""
    old, new = tower(tmp_path / "a.ifc", 100, 200), tower(tmp_path / "b.ifc", 150, 200, 300)
    register, out = tmp_path / "register.json", tmp_path / "out"
    assert cli.main(arguments(old, register, out, shop(tmp_path, "A"))) in (0, 1)
    return old, new, register, out, shop(tmp_path, "B")


def test_the_same_run_again_gives_the_same_bytes(capsys, job, tmp_path):
    old, _, register, out, _ = job
    assert "begun by this run: issue A: marks 2 new, 0 kept, 0 retired" in capsys.readouterr().out
    before = files(tmp_path)
    (project,) = read_register(register).projects
    assert f"IFCPROJECT('{project}'" in old.read_text()
    cli.main(arguments(old, register, out, tmp_path / "A.toml"))
    assert files(tmp_path) == before
    assert "issue A: marks 2 new" in capsys.readouterr().out
    assert not list(tmp_path.glob(".register.json.new"))


def test_the_next_issue_says_what_is_new_and_what_is_retired(job, capsys):
    _, new, register, out, options = job
    before = listed(out)
    cli.main(arguments(new, register, out, options))
    assert "issue B: marks 2 new, 1 kept, 1 retired" in capsys.readouterr().out
    after = listed(out)
    assert set(before) == {"A1", "A2"}
    assert set(after) == {"A2", "A3", "A4"}
    assert after["A2"] == before["A2"]
    with (out / "tables" / "pieces.csv").open(encoding="utf-8", newline="") as file:
        released = {row["piece_mark"]: row["released_in"] for row in csv.DictReader(file)}
    assert released == {"A2": "A", "A3": "B", "A4": "B"}
    assert numbers(remembered(register)) == numbers({**before, **after})


def refusal(capsys, *more):
    status = cli.main(*more)
    return status, capsys.readouterr().err


@pytest.mark.parametrize(
    "fault", ["damaged", "newer", "foreign", "read-only", "folder", "no folder", "empty", "model", "list"]
)
def test_a_register_that_cannot_be_used_is_status_2_and_nothing_is_replaced(fault, job, tmp_path, capsys):
    _, new, register, out, options = job
    said = fault
    if fault == "damaged":
        register.write_bytes(register.read_bytes().replace(b'"length": 1000', b'"length": 1001', 1))
    elif fault == "newer":
        register.write_bytes(register.read_bytes().replace(b'"format": 1', b'"format": 2'))
    elif fault == "foreign":
        options.write_text(SHOP.format("B").replace("mast", "trestle"))
        said = "of the job Test mast, and the settings name the job Test trestle"
    elif fault == "read-only":
        register.chmod(stat.S_IRUSR)
    elif fault == "folder":
        register = tmp_path
        said = "is a folder"
    elif fault == "no folder":
        register = tmp_path / "gone" / "register.json"
        said = "there is no folder"
    elif fault == "empty":
        register.write_bytes(b"")
        said = "damaged"
    elif fault == "model":
        register, said = new, "no register at all"
    else:
        register, said = out / "summary.json", "one of the lists"
    before = files(tmp_path)
    status, err = refusal(capsys, arguments(new, register, out, options))
    assert status == 2
    assert said in err
    assert "Traceback" not in err
    assert files(tmp_path) == {**before, **{n: b"" for n in files(tmp_path) if n.endswith(".lock")}}


def test_a_model_that_cannot_be_read_leaves_the_register(job, tmp_path, capsys):
    *_, register, out, options = job
    bad = tmp_path / "bad.ifc"
    bad.write_text("no model")
    before = files(tmp_path)
    assert cli.main(arguments(bad, register, out, options)) == 3
    assert files(tmp_path) == before


def test_lists_that_cannot_be_put_in_place_leave_the_register(job, tmp_path, capsys):
    _, new, register, out, options = job
    (out / "bolts.pdf").unlink()
    (out / "bolts.pdf").mkdir()
    before = files(tmp_path)
    assert cli.main(arguments(new, register, out, options)) == 2
    assert "bolts.pdf" in capsys.readouterr().err
    assert files(tmp_path) == before
    # Nor does a register begin with lists that were not written.
    fresh = tmp_path / "fresh.json"
    assert cli.main(arguments(new, fresh, out, options)) == 2
    assert not fresh.exists()


def test_a_register_changed_meanwhile_is_not_overwritten(tmp_path):
    path = tmp_path / "register.json"
    with Ledger(path) as one:
        path.write_bytes(b"by somebody who takes no lock")
        with pytest.raises(RegisterError, match="changed by another program"):
            one.replace(Register(job="Test mast"))
    assert path.read_bytes() == b"by somebody who takes no lock"


def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "server").mkdir()
    link = tmp_path / "register.json"
    try:
        link.symlink_to(tmp_path / "server" / "register.json")
    except OSError:
        pytest.skip("no symbolic links here")
    with Ledger(link) as ledger:
        ledger.replace(Register(job="Test mast"))
    assert link.is_symlink()
    assert read_register(tmp_path / "server" / "register.json").job == "Test mast"


def test_rights_of_the_register_stay(tmp_path):
    path = tmp_path / "register.json"
    with Ledger(path) as ledger:
        ledger.replace(Register(job="Test mast"))
    path.chmod(0o660)
    with Ledger(path) as ledger:
        ledger.replace(Register(job="Test mast 2"))
    assert stat.S_IMODE(path.stat().st_mode) == 0o660


# ---------------------------------------------------------------- processes


def started(*run):
    return subprocess.Popen(
        [sys.executable, "-m", "takeoff", *map(str, run)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def test_two_runs_at_once_go_one_after_the_other(job, tmp_path):
    """Each has a piece that the other has not: without waiting both would get the same new mark."""
    register = job[2]
    models = [tower(tmp_path / f"{name}.ifc", 200, x) for name, x in (("c", 310), ("d", 370))]
    runs = [
        started(*arguments(model, register, tmp_path / f"out-{n}", shop(tmp_path, f"R{n}")))
        for n, model in enumerate(models)
    ]
    said = [run.communicate(timeout=120) for run in runs]
    assert [run.returncode for run in runs] == [0, 0], said
    holes = numbers(remembered(register))
    assert len(holes) == 4
    for n in range(2):
        for mark, rows in numbers(listed(tmp_path / f"out-{n}")).items():
            assert holes[mark] == rows
    assert {i.revision for i in read_register(register).issues} == {"A", "R0", "R1"}


def test_a_run_that_waits_says_so_and_can_be_stopped(job, tmp_path):
    if not hasattr(os, "fork"):
        pytest.skip("signals of this kind are not for this system")
    _, new, register, out, options = job
    before = files(out)
    with Ledger(register):
        run = started(*arguments(new, register, out, options))
        assert "waits until it ends" in run.stderr.readline()
        run.send_signal(signal.SIGINT)
        run.communicate(timeout=60)
    assert run.returncode == 130
    assert files(out) == before


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL on this system")
def test_killed_at_any_moment_register_and_lists_agree(tmp_path):
    """Whatever lists stand after a kill, the register knows their marks with the same holes; the next run mends all."""
    old, new = tower(tmp_path / "a.ifc", 100, 200), tower(tmp_path / "b.ifc", 150, 200, 300)
    first, second = shop(tmp_path, "A"), shop(tmp_path, "B")
    good, out = tmp_path / "good.json", tmp_path / "out"
    began = time.monotonic()
    assert started(*arguments(old, good, out, first)).wait(120) in (0, 1)
    took = time.monotonic() - began
    chosen = random.Random(8)
    ends = [chosen.uniform(0.2, 0.75) * took for _ in range(1)] + [chosen.uniform(0.75, 1.1) * took for _ in range(4)]
    for number, end in enumerate(ends):
        register, target = tmp_path / f"{number}.json", tmp_path / f"out-{number}"
        assert cli.main(arguments(old, register, target, first)) in (0, 1)
        shown = numbers(listed(target))
        run = started(*arguments(new, register, target, second))
        time.sleep(end)
        run.send_signal(signal.SIGKILL)
        run.communicate()
        known = numbers(remembered(register))
        assert shown.items() <= known.items()
        if (target / "tables" / "holes.csv").exists():
            assert numbers(listed(target)).items() <= known.items()
        assert cli.main(arguments(new, register, target, second)) in (0, 1)
        assert numbers(remembered(register)) == numbers({**shown, **listed(target)})
        assert numbers(listed(target)) == {
            "A2": [("A", 200.0, 40.0)],
            "A3": [("A", 150.0, 40.0)],
            "A4": [("A", 300.0, 40.0)],
        }
        (entry,) = (piece for piece in read_register(register).pieces if piece.mark == "A2")
        assert dict(entry.quantities) == {"A": 2, "B": 2}


@pytest.mark.parametrize("where", ["replace", "swap"])
def test_killed_between_register_and_lists(where, job, tmp_path, monkeypatch):
    """The two moments that a random kill rarely meets: after the register's new file is written but not in place,
    and after the register is in place but no list is."""
    _, new, register, out, options = job
    before = files(out)
    text = register.read_bytes()
    ran = tmp_path / "run.py"
    patch = {
        "replace": "import os\nfrom takeoff.register import ledger\n"
        "ledger._flush_folder = lambda folder: None\n"
        "real = os.replace\n"
        "def kill(source, place):\n"
        "    if str(place).endswith('register.json'): os.kill(os.getpid(), 9)\n"
        "    real(source, place)\n"
        "os.replace = kill\n",
        "swap": "import os\nfrom takeoff.output import Staging\nStaging.swap = lambda self: os.kill(os.getpid(), 9)\n",
    }[where]
    ran.write_text(f"{patch}\nimport sys\nfrom takeoff.cli import main\nsys.exit(main(sys.argv[1:]))\n")
    done = subprocess.run(
        [sys.executable, ran, *arguments(new, register, out, options)], capture_output=True, timeout=120
    )
    assert done.returncode == -9
    assert {n: c for n, c in files(out).items() if not n.startswith(".takeoff-")} == before
    if where == "replace":
        assert register.read_bytes() == text
    else:
        assert set(remembered(register)) == {"A1", "A2", "A3", "A4"}
    assert cli.main(arguments(new, register, out, options)) in (0, 1)
    assert not [n for n in files(out) if n.startswith(".takeoff-")]
    assert numbers(remembered(register)).items() >= numbers(listed(out)).items()
    assert set(listed(out)) == {"A2", "A3", "A4"}


def test_the_lock_and_the_draft_are_hidden_and_beside_the_register(tmp_path):
    with Ledger(tmp_path / "register.json") as ledger:
        ledger.replace(Register(job="Test mast"))
    assert sorted(p.name for p in Path(tmp_path).iterdir()) == [".register.json.lock", "register.json"]
