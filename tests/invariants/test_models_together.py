"""A job of several files: the same lists as of one file that holds everything."""

from __future__ import annotations

from pathlib import Path

from digest import differences, digest, take
from scene import Scene, plain, write

from takeoff.pipeline import take_off
from takeoff.settings import Settings


def write_apart(folder: Path) -> tuple[list[Path], dict[str, str]]:
    """Every other part in one file, the rest and the bolts in another. GlobalIds of the second are made to differ."""
    scene = plain()
    first, second = folder / "a.ifc", folder / "b.ifc"
    ids = write(Scene(scene.parts[::2], (), scene.assemblies), first)
    # The writer counts its GlobalIds: parts without steel in front would do as well, swapped letters are shorter.
    others = write(Scene(scene.parts[1::2], scene.bolts, scene.assemblies), second)
    text = second.read_text(encoding="ascii")
    renamed = {}
    for label, global_id in others.items():
        renamed[label] = global_id[:1] + global_id[1:][::-1]
        text = text.replace(global_id, renamed[label])
    second.write_text(text, encoding="ascii")
    return [first, second], ids | renamed


def test_two_files_are_one_job(tmp_path: Path) -> None:
    """Bolts of one file find the parts of the other; marks count through."""
    whole = tmp_path / "whole.ifc"
    ids = write(plain(), whole)
    paths, apart = write_apart(tmp_path)
    one, two = digest(take(whole), ids), digest(take_off(paths, Settings()), apart)
    for key in ("pieces", "bolt lines", "bolt rows", "joints"):
        assert differences(one[key], two[key]) == [], key


def test_the_order_of_the_files_is_no_matter(tmp_path: Path) -> None:
    paths, ids = write_apart(tmp_path)
    one, two = take_off(paths, Settings()), take_off(paths[::-1], Settings())
    assert differences(digest(one, ids), digest(two, ids)) == []


def test_the_same_file_twice_is_asked_about(tmp_path: Path) -> None:
    """Quantities double, and a query says why; one file alone says nothing of the kind."""
    path = tmp_path / "model.ifc"
    write(plain(), path)
    alone, doubled = take(path), take_off([path, path], Settings())
    assert sum(p.quantity for p in doubled.pieces) == 2 * sum(p.quantity for p in alone.pieces)
    assert "element-counted-twice" not in {q.code for q in alone.queries}
    [asked] = [q for q in doubled.queries if q.code == "element-counted-twice"]
    assert len(asked.global_ids) == len(alone.model.members) + len(alone.model.fasteners)
