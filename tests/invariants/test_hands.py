"""Turning a part keeps its mark; a looking-glass turns every piece into its opposite hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from digest import by_label, differences, digest, take
from scene import Writing, handed, mirrored, plain, swapped, write


def test_swapped_ends_keep_everything(tmp_path: Path) -> None:
    """Which end the model calls the start changes no list."""
    first, second = tmp_path / "a.ifc", tmp_path / "b.ifc"
    ids = write(plain(), first)
    one = digest(take(first), ids)
    ids = write(swapped(plain()), second)
    assert differences(one, digest(take(second), ids)) == []


# By hand. Its own mirror image is: a flat or plate (it can be turned over), the tee with stem holes and the
# beam with web holes (in the middle plane of stem or web, which every hole crosses square), the post
# drilled through both walls alike (in the middle plane between those walls), the bare pipe.
# Not: the channel (one turn only, and its three holes are alike neither up and down nor end for end),
# the crane beam (of two holes at x = 100 and one at 180 the single one stands on one side of the web),
# the tube (one wall drilled off its middle line and off its middle length), the angles with three holes
# in two legs, the skew angle (its hole is in one leg only).
SYMMETRIC = {"beam", "tee", "bar", "gusset", "post", "pipe"}
HANDED = {"uneven", "uneven again", "uneven hand", "even", "even turned", "even hand", "channel", "skew",
          "crane beam", "tube"}  # fmt: skip


def test_looking_glass(tmp_path: Path) -> None:
    """A mirrored model alone: the same pieces with hands exchanged, so the same weights, bolts and quantities."""
    first, second = tmp_path / "a.ifc", tmp_path / "b.ifc"
    ids = write(plain(), first)
    one = take(first)
    image_ids = write(mirrored(plain()), second)
    glass = take(second)
    pieces, images = by_label(one, ids), by_label(glass, image_ids)
    assert pieces.keys() == images.keys()
    for label, piece in pieces.items():
        image = images[label]
        assert image.quantity == piece.quantity, label
        assert image.length == pytest.approx(piece.length, abs=0.01), label
        assert image.net == pytest.approx(piece.net, abs=1e-6), label
        assert image.surface == pytest.approx(piece.surface, abs=1e-6), label
        assert sorted(h.diameter for h in image.holes) == sorted(h.diameter for h in piece.holes), label
    for key in ("bolts_listed", "plies_over_bolts", "net_weight_kg", "bolt_weight_kg", "surface_m2"):
        assert glass.balance[key] == pytest.approx(one.balance[key], abs=1e-6), key
    assert glass.bolt_lines == one.bolt_lines


@pytest.mark.parametrize("how", [Writing(), Writing(profile="derived", unit="inch", order=3)], ids=["plain", "derived"])
def test_piece_and_image_in_one_model(how: Writing, tmp_path: Path) -> None:
    """Every piece meets its mirror image: the same mark where it is symmetric, else the opposite hand."""
    path = tmp_path / "model.ifc"
    ids = write(handed(plain()), path, how)
    pieces = by_label(take(path), ids)
    for label in [name for name in pieces if not name.endswith(" mirrored")]:
        piece, image = pieces[label], pieces[f"{label} mirrored"]
        if piece.mark == image.mark:
            assert piece.opposite_hand_of == "", label
        else:
            assert piece.opposite_hand_of == image.mark, label
            assert image.opposite_hand_of == piece.mark, label
    same = {
        name for name in pieces if f"{name} mirrored" in pieces and pieces[name].mark == pieces[f"{name} mirrored"].mark
    }
    assert same >= SYMMETRIC
    assert same & HANDED == set()
    assert all(name in same for name in pieces if name.startswith("plate on") and not name.endswith("mirrored"))
