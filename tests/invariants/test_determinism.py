"""The same model gives the same lists: value for value, and byte for byte in every file."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

from digest import take
from scene import Writing, plain, write


def files(folder: Path) -> dict[str, str]:
    """Checksum by path below the folder."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def run(model: Path, folder: Path, seed: str) -> None:
    environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": "Asia/Tokyo" if seed == "1" else "UTC"}
    done = subprocess.run(
        [sys.executable, "-m", "takeoff", "lists", str(model), "-o", str(folder)],
        env=environment, cwd=folder.parent, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def test_two_takeoffs_are_equal(tmp_path: Path) -> None:
    path = tmp_path / "model.ifc"
    write(plain(), path)
    one, other = take(path), take(path)
    for field in ("assemblies", "joints", "passages", "bolt_rows", "bolt_lines", "bought_out", "queries", "rules"):
        assert repr(getattr(one, field)) == repr(getattr(other, field)), field
    for a, b in zip(one.pieces, other.pieces, strict=True):
        for name in ("mark", "section", "length", "holes", "cuts", "outline", "members", "gross", "net", "surface"):
            assert repr(getattr(a, name)) == repr(getattr(b, name)), (a.mark, name)
        assert all((f.axes == g.axes).all() for f, g in zip(a.frames, b.frames, strict=True))
    assert dict(one.balance) == dict(other.balance)


def test_writing_the_scene_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    """What the tests build is itself reproducible, shuffled or not."""
    for name, how in {"a": Writing(), "b": Writing(order=7)}.items():
        first, second = tmp_path / f"{name}1.ifc", tmp_path / f"{name}2.ifc"
        write(plain(), first, how)
        write(plain(), second, how)
        assert first.read_bytes() == second.read_bytes()


def test_two_runs_write_the_same_bytes(tmp_path: Path) -> None:
    """Another hash seed, time zone and process: every table, sheet and page is the same file."""
    model = tmp_path / "model.ifc"
    write(plain(), model)
    run(model, tmp_path / "one", "1")
    run(model, tmp_path / "two", "2")
    one, two = files(tmp_path / "one"), files(tmp_path / "two")
    assert "tables/pieces.csv" in one
    assert "cut-and-punch.pdf" in one
    assert one == two
