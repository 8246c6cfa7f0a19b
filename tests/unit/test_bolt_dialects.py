"""One joint, its bolts written in every way a model may write them: the same holes, grips and order list."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from build import Build

from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import Frame, Takeoff

SETTINGS = Settings()
PLACES = ((80, 0, 40), (140, 0, 40))
"""Under the heads; the bolts run along -y through the plies."""
WORLD = Frame(np.zeros(3), np.eye(3))
Mesh = tuple[list[tuple[float, float, float]], list[tuple[int, ...]]]


def turned(place: tuple[float, float, float], sides: int = 12, thick: float = 16.0, length: float = 50.0) -> Mesh:
    """A bolt in one body: a head over ``place``, 10 high and 27.7 over corners (M16 of ISO 4014), a shank below it."""
    x, y, z = place
    profile = [(10.0, 0.0), (10.0, 13.86), (0.0, 13.86), (0.0, thick / 2), (-length, thick / 2), (-length, 0.0)]
    points: list[tuple[float, float, float]] = []
    rings: list[list[int]] = []
    for up, radius in profile:
        ring = range(sides if radius else 1)
        rings.append([len(points) + k for k in ring])
        points += [
            (x + radius * np.cos(2 * np.pi * k / sides), y + up, z + radius * np.sin(2 * np.pi * k / sides))
            for k in ring
        ]
    facets: list[tuple[int, ...]] = []
    for above, below in pairwise(rings):
        for k in range(sides):
            n = (k + 1) % sides
            if len(above) == 1:
                facets.append((above[0], below[k], below[n]))
            elif len(below) == 1:
                facets.append((above[k], below[0], above[n]))
            else:
                facets += [(above[k], below[k], below[n]), (above[k], below[n], above[n])]
    return points, facets


def merged(meshes: list[Mesh]) -> Mesh:
    points: list[tuple[float, float, float]] = []
    facets: list[tuple[int, ...]] = []
    for own, rings in meshes:
        facets += [tuple(i + len(points) for i in ring) for ring in rings]
        points += own
    return points, facets


def as_mesh(change: Callable[[Mesh], Mesh] = lambda mesh: mesh, form: str = "tessellation", **named: Any) -> Any:
    def write(model: Build) -> None:
        for place in PLACES:
            points, facets = change(turned(place, **named))
            model.writer.mesh(points, facets, WORLD, form=form, kind="IfcMechanicalFastener", name="Bolt M16x50")

    return write


def as_group_mesh(model: Build) -> None:
    points, facets = merged([turned(place) for place in PLACES])
    model.writer.mesh(points, facets, WORLD, form="tessellation", kind="IfcMechanicalFastener", name="Bolt M16x50")


def as_written(together: bool = False, **named: Any) -> Any:
    def write(model: Build) -> None:
        ways = [(place, (0, -1, 0)) for place in PLACES]
        for group in [ways] if together else [[way] for way in ways]:
            model.bolts(group, 16, GRIP, length=50, **named)

    return write


GRIP = 30.0
DIALECTS = {
    "head, shank and nut": as_written(body="full"),
    "a group": as_written(together=True, body="full"),
    "shanks": as_written(body="shank"),
    "shanks drawn as their holes": as_written(body="shank", drawn=18),
    "faceted": as_written(body="faceted"),
    "a group of faceted ones": as_written(together=True, body="faceted"),
    "placed only": as_written(body="none"),
    "proxies": as_written(body="full", kind="IfcBuildingElementProxy", name="Bolt M16x50"),
    "beams": as_written(body="shank", kind="IfcBeam", name="SCHRAUBE M16x50"),
    "sizes in properties": as_written(
        body="shank", stated=False, psets={"Daten": {"Nenndurchmesser": 16.0, "Schraubenlänge": 50.0}}
    ),
    "one mesh": as_mesh(),
    "one brep": as_mesh(form="brep"),
    "eight sides": as_mesh(sides=8),
    "facets missing": as_mesh(lambda mesh: (mesh[0], mesh[1][3:-2])),
    "facets flipped": as_mesh(lambda m: (m[0], [f[::-1] if k % 3 == 0 else f for k, f in enumerate(m[1])])),
    "facets twice": as_mesh(lambda mesh: (mesh[0], mesh[1] + mesh[1][::5])),
    "two bolts in one mesh": as_group_mesh,
}
NOT_DRAWN = {"placed only"}


def joint(write: Any, path: Path, gap: float = 0.0) -> Takeoff:
    """Three plies of 10 mm under the heads; the last one ``gap`` mm below the others."""
    model = Build()
    for k in range(3):
        model.flat((0, -10 * (k + 1) - (gap if k == 2 else 0.0), 0), size=(80, 10), material="S235JR")
    write(model)
    return take_off([model.save(path / "m.ifc")], SETTINGS)


@pytest.mark.parametrize("gap", [0.0, 5.0])
@pytest.mark.parametrize("name", DIALECTS)
def test_the_lists_do_not_depend_on_how_bolts_are_written(tmp_path: Path, name: str, gap: float) -> None:
    if gap and name in NOT_DRAWN:
        pytest.skip("nothing is drawn that would span the gap")
    taken = joint(DIALECTS[name], tmp_path, gap)
    (piece,) = taken.pieces
    # EN 1090-2:2018 Table 11: 18 for M16
    assert [(h.x, h.across, h.diameter, h.bolt) for h in piece.holes] == [
        (pytest.approx(80, abs=0.01), pytest.approx(40, abs=0.01), 18.0, "M16"),
        (pytest.approx(140, abs=0.01), pytest.approx(40, abs=0.01), 18.0, "M16"),
    ]
    assert (piece.quantity, piece.status) == (3, "listed")
    assert sum(row.bolts for row in taken.bolt_rows) == 2
    assert {(row.length, row.grip, row.plies) for row in taken.bolt_rows} == {(50.0, 30.0 + gap, 30.0)}
    assert [(b.diameter, b.length, b.quantity) for b in taken.bolt_lines] == [(16.0, 50.0, 2)]
    assert taken.bought_out == ()
    asked = {q.code for q in taken.queries if q.code.startswith(("bolt-", "hole", "grip"))}
    expected = {"hole-size-from-rule"} | ({"grip-has-gap"} if gap else set())
    assert asked - {"bolt-length-short"} == expected | ({"bolt-without-body"} if name in NOT_DRAWN else set())


@pytest.mark.parametrize("name", DIALECTS)
def test_a_shank_shorter_than_its_grip_still_finds_the_plies_that_touch(tmp_path: Path, name: str) -> None:
    def write(model: Build) -> None:
        DIALECTS[name](model)
        model.flat((0, -40, 0), size=(80, 10), material="S235JR")
        model.flat((0, -50, 0), size=(80, 10), material="S235JR")
        model.flat((0, -60, 0), size=(80, 10), material="S235JR")

    taken = joint(write, tmp_path)
    assert {len(passage.plies) for passage in taken.passages} == {6}
    assert {q.code for q in taken.queries} >= {"bolt-shorter-than-grip"}
