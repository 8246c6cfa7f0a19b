"""Several openings of one part that together are one slot, and those that are not."""

from __future__ import annotations

import math
from typing import Any

import pytest
from entity_scene import Scene
from hypothesis import given, settings
from hypothesis import strategies as st
from test_ifc_openings import along_u, codes, opened

from takeoff.sections import shapes
from takeoff.steel import Body


class Face:
    """Openings through leg A of an angle, drawn about (200, 50) and turned by ``turn`` degrees seen from outside."""

    def __init__(self, turn: float = 0.0) -> None:
        self.scene = Scene()
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        self.axes = self.scene.axes((200, -5, 50), z=(0, 1, 0), x=(-c, 0, s))

    def round(self, x: float, d: float = 18.0, deep: float = 20.0) -> Any:
        return self.scene.extruded(self.scene.circle(d, x), deep, self.axes)

    def slot(self, x: float, length: float, d: float = 18.0) -> Any:
        place = self.scene.flat_axes(x)
        profile = self.scene.add("IfcRoundedRectangleProfileDef", "AREA", None, place, length, d, d / 2)
        return self.scene.extruded(profile, 20, self.axes)

    def box(self, x: float, length: float, width: float = 18.0, y: float = 0.0) -> Any:
        place = self.scene.flat_axes(x, y)
        profile = self.scene.add("IfcRectangleProfileDef", "AREA", None, place, length, width)
        return self.scene.extruded(profile, 20, self.axes)

    def read(self, *solids: Any) -> Any:
        return opened(self.scene, list(solids))


@settings(max_examples=25, deadline=None)
@given(turn=st.floats(0, 179), pitch=st.floats(2, 40), d=st.sampled_from([14.0, 18.0, 22.0, 26.0]))
def test_two_rounds_and_the_box_between_them_are_a_slot(turn: float, pitch: float, d: float) -> None:
    face = Face(turn)
    found = face.read(face.round(-pitch / 2, d), face.round(pitch / 2, d), face.box(0, pitch, d))
    (hole,) = found[0]
    assert codes(found) == []
    assert (hole.face, hole.kind, hole.diameter) == ("A", "slot", pytest.approx(d, abs=0.05))
    assert hole.slot_length == pytest.approx(pitch + d, abs=0.05)
    assert (hole.x, hole.across) == (pytest.approx(200, abs=0.05), pytest.approx(50, abs=0.05))
    # the opening's x runs against the piece's, so it is seen turned the other way
    away = (hole.slot_angle + turn) % 180.0
    assert min(away, 180.0 - away) * pitch / 57.3 < 0.1


def test_a_round_within_a_slot_a_row_of_rounds_and_two_boxes() -> None:
    face = Face()
    (hole,) = face.read(face.slot(0, 40), face.round(-5))[0]
    assert (hole.kind, hole.diameter, hole.slot_length) == ("slot", 18, 40)
    face = Face()
    (hole,) = face.read(*(face.round(x) for x in range(-9, 10)))[0]
    assert (hole.kind, hole.diameter, hole.slot_length) == ("slot", 18, 36)
    face = Face()
    (hole,) = face.read(face.box(-10, 20), face.box(10, 20))[0]
    assert (hole.kind, hole.slot_length, hole.width) == ("rectangle", 40, 18)


def test_rounds_that_leave_a_waist_and_boxes_in_an_l_hold() -> None:
    face = Face()
    assert codes(face.read(face.round(-5), face.round(5))) == ["opening-overlap"]
    face = Face()
    assert set(codes(face.read(face.box(-10, 20), face.box(0, 10, 30, y=10)))) == {"opening-overlap"}
    face = Face()  # the box is narrower than the rounds: steps stand at both ends
    assert set(codes(face.read(face.round(-15), face.round(15), face.box(0, 30, 17)))) == {"opening-overlap"}


def test_rounds_one_in_the_other_hold() -> None:
    """Which diameter is meant cannot be known, and a counterbore is no bigger hole."""
    face = Face()
    assert codes(face.read(face.round(0, 18), face.round(0, 22))) == ["opening-overlap"]
    face = Face()
    assert codes(face.read(face.round(0, 18), face.round(0, 30, 9))) == ["opening-overlap"]


def test_holes_side_by_side_stay_apart() -> None:
    face = Face()
    found = face.read(face.round(-15), face.round(15))
    assert ([h.kind for h in found[0]], codes(found)) == (["round", "round"], [])


def test_a_slot_that_runs_out_over_the_end_is_a_notch() -> None:
    """A round and a box as wide as it, over the end of a flat: an open slot, its steel counted once."""
    scene = Scene()
    flat = Body(shapes.flat(100, 8), 1000)
    drill = scene.extruded(scene.circle(18), 20, along_u(scene, 20, 50))
    box = scene.extruded(scene.rectangle(40, 18), 20, along_u(scene, 0, 50))
    holes, (notch,), problems = opened(scene, [drill, box], body=flat)
    assert (holes, problems) == ((), ())
    xs, acrosses = zip(*notch.loop, strict=True)
    assert (min(xs), max(xs), min(acrosses), max(acrosses)) == pytest.approx((0, 29, 41, 59), abs=0.02)
    # a wider box is no slot: the hole stands in a corner of the notch
    scene = Scene()
    drill = scene.extruded(scene.circle(18), 20, along_u(scene, 20, 50))
    box = scene.extruded(scene.rectangle(40, 30), 20, along_u(scene, 0, 50))
    assert codes(opened(scene, [drill, box], body=flat)) == ["opening-overlap"]


def test_an_opening_askew_that_runs_into_a_wall_with_one_side_only_is_not_lost() -> None:
    """A box turned by 60 degrees about the piece's own axis gouges leg A from outside: it holds the part."""
    scene = Scene()
    c, s = 0.5, 3**0.5 / 2
    box = scene.extruded(scene.rectangle(40, 30), 40, scene.axes((300, -20, 40), z=(0, c, s), x=(1, 0, 0)))
    holes, notches, problems = opened(scene, [box])
    assert (holes, notches) == ((), ())
    assert [problem.code for problem in problems] == ["opening-askew"]
