"""Turns are rotations that a person can make: checked on the sections' own polygons with shapely."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from steelwork import CHS114, L80X60, L100, PL10, PRISMS, RND30, U160

from takeoff.sections import shapes
from takeoff.sections.shapes import faces, rings
from takeoff.sections.turns import around, turns
from takeoff.turned import COLUMNS, FACE, X, turn_features

LENGTH = 1000.0
CASES = {**PRISMS, "plate": PL10, "square plate": PL10}


def length_of(name):
    return 200.0 if name == "square plate" else LENGTH


def polygon(section):
    outer, *inner = rings(section)
    return shapely.Polygon(outer, inner)


def place(section, face, x, across):
    """The 3-D point of (x, across) on the outside of a face."""
    return np.array([x, face.origin[0] + across * face.direction[0], face.origin[1] + across * face.direction[1]])


@pytest.mark.parametrize(
    ("name", "count"),
    [
        ("equal angle", 2), ("unequal angle", 1), ("channel", 2), ("T", 2), ("I", 4), ("monosymmetric I", 2),
        ("flat", 4), ("plate", 4), ("square plate", 8), ("RHS", 4), ("SHS", 8), ("cold-formed C", 2), ("Z", 2),
    ],
)  # fmt: skip
def test_the_number_of_frames_is_the_contract_s(name, count):
    # The contract's table of frames; Z by its symmetry (half a turn about its axis).
    assert len(turns(CASES[name], length_of(name))) == count


@pytest.mark.parametrize("name", CASES)
def test_every_turn_is_a_proper_rotation_and_none_comes_twice(name):
    found = turns(CASES[name], length_of(name))
    for turn in found:
        assert np.allclose(turn.rotation @ turn.rotation.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(turn.rotation) == pytest.approx(1.0)
    assert np.allclose(found[0].rotation, np.eye(3))
    assert len({t.rotation.round(6).tobytes() for t in found}) == len(found)


@pytest.mark.parametrize("name", CASES)
def test_every_turn_maps_the_prism_on_itself(name):
    section, length = CASES[name], length_of(name)
    steel = polygon(section)
    for turn in turns(section, length):
        ends = np.array([turn.rotation @ [x, 0.0, 0.0] + turn.translation for x in (0.0, length)])
        if turn.swaps:
            # A square plate: the outline as seen, x and v.
            corners = [
                turn.rotation @ [x, 0, v] + turn.translation for x, v in ((0, 0), (200, 0), (200, 200), (0, 200))
            ]
            turned = shapely.Polygon([(c[0], c[2]) for c in corners])
            assert turned.symmetric_difference(shapely.box(0, 0, 200, 200)).area < 1e-6
            continue
        assert sorted(ends[:, 0]) == pytest.approx([0.0, length])
        turned = shapely.transform(steel, lambda p, t=turn: p @ t.rotation[1:, 1:].T + t.translation[1:])
        assert turned.symmetric_difference(steel).area < 1e-6 * steel.area


@pytest.mark.parametrize("name", CASES)
def test_faces_move_as_points_on_them_do(name):
    section, length = CASES[name], length_of(name)
    walls = faces(section)
    for turn in turns(section, length):
        for number, face in enumerate(walls):
            for x, across in ((0.0, face.low), (130.0, face.low + 7.0), (length, face.high)):
                rows = np.zeros((1, COLUMNS))
                rows[0, FACE], rows[0, X], rows[0, X + 1] = number, x, across
                moved = turn_features(rows, turn)[0]
                other = walls[int(moved[FACE])]
                here = turn.rotation @ place(section, face, x, across) + turn.translation
                there = place(section, other, moved[X], moved[X + 1])
                off = here - there
                if turn.moves[number].over:
                    # What was the outside of the wall is its inside now.
                    off = off - other.thickness * np.array([0.0, *other.inward])
                assert np.allclose(off, 0.0, atol=1e-9)
                assert other.low - 1e-9 <= moved[X + 1] <= other.high + 1e-9


@pytest.mark.parametrize("name", CASES)
def test_turns_are_a_group(name):
    """Two turns one after the other are a turn."""
    found = turns(CASES[name], length_of(name))
    for one in found:
        for other in found:
            both = other.rotation @ one.rotation
            shift = other.rotation @ one.translation + other.translation
            assert any(np.allclose(both, t.rotation) and np.allclose(shift, t.translation) for t in found)


@pytest.mark.parametrize("section", [L80X60, L100, U160], ids=lambda s: s.designation)
def test_sections_with_an_inside_are_never_turned_inside_out(section):
    assert not any(move.over for turn in turns(section, LENGTH) for move in turn.moves)


def test_a_nearly_equal_angle_has_one_frame_only():
    assert len(turns(shapes.angle(100, 99, 8), LENGTH)) == 1


@given(across=st.floats(0.0, 400.0), at=st.floats(0.0, 359.0), x=st.floats(0.0, 1000.0), reverse=st.booleans())
@pytest.mark.parametrize("section", [CHS114, RND30], ids=lambda s: s.designation)
def test_around_a_tube_points_move_with_the_wall(section, across, at, x, reverse):
    radius, girth = section.h / 2, np.pi * section.h
    turn = around(section, LENGTH, across % girth, reverse)
    assert np.linalg.det(turn.rotation) == pytest.approx(1.0)
    assert np.allclose(turn.rotation @ turn.rotation.T, np.eye(3), atol=1e-12)

    def wall(x, across):
        w = across / radius
        return np.array([x, -radius * np.cos(w), radius * np.sin(w)])

    for developed in (across % girth, np.radians(at) * radius):
        rows = np.zeros((1, COLUMNS))
        rows[0, X], rows[0, X + 1] = x, developed
        moved = turn_features(rows, turn, girth)[0]
        here = turn.rotation @ wall(x, developed) + turn.translation
        assert np.allclose(here, wall(moved[X], moved[X + 1]), atol=2e-3)
    rows[0, X + 1] = across % girth
    datum = turn_features(rows, turn, girth)[0, X + 1]
    assert min(datum, girth - datum) == pytest.approx(0.0, abs=1e-6)
