"""Parts alike in one place under GlobalIds of their own: asked about, and nothing else is."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from build import Build

from takeoff.models import IN_ONE_PLACE
from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import Takeoff

STEEL = {"material": "S355J2"}


def asked(model: Build, tmp_path: Path) -> tuple[Takeoff, list[tuple[str, ...]]]:
    takeoff = take_off([model.save(tmp_path / "model.ifc")], Settings())
    return takeoff, [q.global_ids for q in takeoff.queries if q.code == IN_ONE_PLACE]


@pytest.mark.parametrize("off", [0.0, 0.4])
def test_an_angle_and_its_copy(tmp_path: Path, off: float) -> None:
    model = Build()
    one = model.angle((0, 0, 0), **STEEL)
    two = model.angle((off, off, 0), **STEEL)
    model.angle((0, 500, 0), **STEEL)
    takeoff, found = asked(model, tmp_path)
    assert found == [tuple(sorted([one.global_id, two.global_id]))]
    (query,) = [q for q in takeoff.queries if q.code == IN_ONE_PLACE]
    assert query.severity == "check"
    assert one.global_id in query.message
    assert two.global_id in query.message
    assert query.piece_mark == takeoff.pieces[0].mark
    assert takeoff.pieces[0].quantity == 3


def test_copies_written_from_their_other_end(tmp_path: Path) -> None:
    """The same steel, its start where its end was: an angle with its legs exchanged, a flat turned over, a tube."""
    model = Build()
    pairs = [
        (model.angle((0, 0, 0), **STEEL), model.angle((1000, 0, 0), (-1, 0, 0), (0, 1, 0), **STEEL)),
        (
            model.channel((0, 900, 0), **STEEL),
            model.channel((1000, 900, 100), (-1, 0, 0), (0, 0, -1), **STEEL),
        ),
        (
            model.flat((0, 1800, 0), **STEEL),
            model.flat((500, 1800, 60), (-1, 0, 0), (0, 0, -1), **STEEL),
        ),
    ]
    square = model.profiles.hollow_rectangle(60, 60, 4, 8, 4)
    pairs.append(
        (
            model.member(square, (0, 2700, 0), **STEEL),
            model.member(square, (0, 2700, 60), (1, 0, 0), (0, 1, 0), **STEEL),
        )
    )
    frames = [part.frame for pair in pairs for part in pair]
    assert all(np.linalg.det(f.axes) > 0 for f in frames)
    _, found = asked(model, tmp_path)
    wanted = {tuple(sorted(part.global_id for part in pair)) for pair in pairs}
    assert set(found) == wanted


def test_parts_that_only_share_their_box(tmp_path: Path) -> None:
    """Two angles that make a box, two angles back to back, two channels toe to toe, plates one on the other."""
    model = Build()
    model.angle((0, 0, 0), legs=(70, 70, 7), **STEEL)
    model.angle((1000, 70, 70), (-1, 0, 0), (0, 0, -1), legs=(70, 70, 7), **STEEL)
    model.angle((0, 900, 0), legs=(80, 80, 8), **STEEL)
    model.angle((1000, 900, 0), (-1, 0, 0), (0, 0, 1), legs=(80, 80, 8), **STEEL)
    model.channel((0, 1800, 0), **STEEL)
    model.channel((1000, 1900, 0), (-1, 0, 0), (0, 0, 1), **STEEL)
    corners = ((0, 0), (200, 0), (200, 150), (0, 150))
    model.plate(corners, (0, 2700, 0), thickness=10, **STEEL)
    model.plate(corners, (0, 2710, 0), thickness=10, **STEEL)
    takeoff, found = asked(model, tmp_path)
    assert found == []
    assert sorted(p.quantity for p in takeoff.pieces) == [2, 2, 2, 2]


def test_two_models_of_one_part(tmp_path: Path) -> None:
    """The designer's model and the detailer's hold the same column; the GlobalIds are their own."""
    first, second = Build(), Build()
    first.angle((0, 0, 0), **STEEL)
    second.flat((0, 5000, 0), **STEEL)  # takes the first GlobalId
    second.angle((0, 0, 0), **STEEL)
    paths = [first.save(tmp_path / "a.ifc"), second.save(tmp_path / "b.ifc")]
    takeoff = take_off(paths, Settings())
    (query,) = [q for q in takeoff.queries if q.code == IN_ONE_PLACE]
    assert len(query.global_ids) == 2


def test_one_element_given_twice_is_asked_about_once(tmp_path: Path) -> None:
    model = Build()
    model.angle((0, 0, 0), **STEEL)
    path = model.save(tmp_path / "a.ifc")
    other = tmp_path / "b.ifc"
    other.write_bytes(path.read_bytes())
    codes = [q.code for q in take_off([path, other], Settings()).queries]
    assert codes.count("element-counted-twice") == 1
    assert IN_ONE_PLACE not in codes
