"""Openings that take more than an edge of a piece: it is held, never listed with steel that is not there."""

import pytest
from build import Build

from takeoff.pipeline import take_off
from takeoff.settings import Settings


def held(tmp_path, *, low, high, shape="angle"):
    """A 600 mm bar and an opening through all of it from x = low to high."""
    model = Build()
    if shape == "angle":
        part = model.angle(length=600, legs=(100, 65, 8), material="S235JR")
    else:
        part = model.flat(length=600, size=(100, 10), material="S235JR")
    face = "A" if shape == "angle" else "face"
    model.cut(part, face, [(low, -20), (high, -20), (high, 120), (low, 120)], depth=400)
    (piece,) = take_off([model.save(tmp_path / "m.ifc")], Settings()).pieces
    return piece


@pytest.mark.parametrize("shape", ["angle", "flat"])
def test_a_whole_end_that_an_opening_takes_holds_the_piece(tmp_path, shape):
    piece = held(tmp_path, low=-50, high=100, shape=shape)
    assert piece.status == "held"
    assert any("takes the whole end of the piece away, 100 mm" in reason for reason in piece.reasons)


@pytest.mark.parametrize("shape", ["angle", "flat"])
def test_a_slice_across_the_piece_holds_it(tmp_path, shape):
    piece = held(tmp_path, low=250, high=350, shape=shape)
    assert piece.status == "held"
    assert any("cuts the piece in two" in reason and "250" in reason and "350" in reason for reason in piece.reasons)


@pytest.mark.parametrize("shape", ["angle", "flat"])
def test_nothing_left_holds_the_piece(tmp_path, shape):
    piece = held(tmp_path, low=-50, high=650, shape=shape)
    assert piece.status == "held"
    assert any("all of the steel" in reason for reason in piece.reasons)


def test_a_notch_in_one_leg_only_is_listed(tmp_path):
    model = Build()
    part = model.angle(length=600, legs=(100, 65, 8), material="S235JR")
    model.cut(part, "A", [(-50, 60), (80, 60), (80, 120), (-50, 120)], depth=40)
    (piece,) = take_off([model.save(tmp_path / "m.ifc")], Settings()).pieces
    assert (piece.status, piece.length) == ("listed", 600)


def test_a_bolt_through_a_hole_that_does_not_go_through_holds_the_piece(tmp_path):
    model = Build()
    part = model.flat(length=400, size=(100, 10), material="S235JR")
    model.hole(part, "face", 100, 50, 18, depth=12)  # from 6 mm outside to 6 mm inside
    model.bolt(part.frame.to_model((100, 0, 50)), part.frame.axes[1], 16, grip=10)
    (piece,) = take_off([model.save(tmp_path / "m.ifc")], Settings()).pieces
    assert piece.status == "held"
    assert any("does not go through" in reason for reason in piece.reasons)


@pytest.mark.parametrize(
    ("name", "material", "status"),
    [
        ("Grating support", "S275JR", "listed"),
        ("Timber stud", "S355J2", "listed"),
        ("Glass clamp angle", None, "held"),
        ("Timber stud", "C24 timber", "left out"),
    ],
)
def test_a_word_does_not_make_a_rolled_section_anything_else(tmp_path, name, material, status):
    model = Build()
    model.angle(legs=(80, 80, 8), name=name, material=material)
    found = take_off([model.save(tmp_path / "m.ifc")], Settings())
    assert found.member_status == (status,)
    assert status == "left out" or found.queries


def test_an_opening_without_a_relation_goes_to_the_only_part_it_is_in(tmp_path):
    model = Build()
    part = model.flat(length=400, size=(100, 10), material="S235JR")
    model.hole(part, "face", 100, 50, 18)
    path = model.save(tmp_path / "m.ifc")
    text = path.read_text()
    path.write_text("".join(line for line in text.splitlines(True) if "IFCRELVOIDSELEMENT" not in line.upper()))
    found = take_off([path], Settings())
    assert [(h.x, h.across, h.diameter) for h in found.pieces[0].holes] == [(100, 50, 18)]
    assert "opening-adopted" in {q.code for q in found.queries}
