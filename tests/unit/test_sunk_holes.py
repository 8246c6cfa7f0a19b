"""Countersunk and blind holes: the side they are open to, their depth and head, in every position of the piece."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import steelwork as sw
from build import Build, Ring, frame
from hypothesis import given
from hypothesis import settings as limits

from takeoff.columns import COLUMNS
from takeoff.lists import tables
from takeoff.pipeline import take_off, work_out
from takeoff.sections.faces import faces
from takeoff.settings import Settings
from takeoff.sheets import piece_notes
from takeoff.sheets.wording import kind_words, opening
from takeoff.steel import Hole, Member, Piece, Takeoff

SETTINGS = Settings()


def mouths(taken: Takeoff) -> list[tuple[str, str, tuple[float, ...], float, float]]:
    """Sunk holes of every part as they lie in the model, by its piece: (part, kind, middle of the mouth, depth, head).

    The mouth is on the outside of the wall where the hole is near, on its inside where it is far.
    """
    found = []
    for piece in taken.pieces:
        walls = {face.name: face for face in piece.faces}
        for index, at in zip(piece.members, piece.frames, strict=True):
            for hole in piece.holes:
                if not hole.side:
                    continue
                face = walls[hole.face]
                deep = face.thickness if hole.side == "far" else 0.0
                uv = np.array(face.origin) + hole.across * np.array(face.direction) + deep * np.array(face.inward)
                place = tuple((np.round(at.to_model(np.array([hole.x, *uv])), 2) + 0.0).tolist())
                name = taken.model.members[index].global_id
                found.append((name, hole.kind, place, hole.depth, hole.head_diameter))
    return sorted(found)


def drawn_mouths(members: list[Member]) -> list[tuple[str, str, tuple[float, ...], float, float]]:
    """The same from what the parts draw in the frame of their bodies."""
    found = []
    for member in members:
        assert member.body is not None
        assert member.frame is not None
        walls = {face.name: face for face in faces(member.body.section)}
        for hole in member.body.holes:
            if hole.kind not in ("countersunk", "blind"):
                continue
            face = walls[hole.face]
            deep = face.thickness if hole.far else 0.0
            uv = np.array(face.origin) + hole.across * np.array(face.direction) + deep * np.array(face.inward)
            place = tuple((np.round(member.frame.to_model(np.array([hole.x, *uv])), 2) + 0.0).tolist())
            blind = hole.kind == "blind"
            found.append(
                (member.global_id, hole.kind, place, hole.depth if blind else 0.0, 0.0 if blind else hole.width)
            )
    return sorted(found)


def part_with(section: Any, far: bool, kind: str, **more: Any) -> Member:
    """A part with one sunk hole off every axis of symmetry of its first face, and a plain one."""
    face = faces(section)[0]
    across = face.low + 0.3 * (face.high - face.low)
    if kind == "blind":
        sunk = sw.hole(face.name, 110, across, 12, kind="blind", depth=0.6 * face.thickness, far=far)
    else:
        sunk = sw.hole(face.name, 110, across, 14, kind="countersunk", width=28.0, far=far)
    plain = sw.hole(face.name, 170, across + 2, 18)
    outline = sw.rectangle(400, 200) if section.shape == "plate" else ()
    holes = (sunk, plain)
    if outline:
        return sw.plate(outline, section.tw, body_holes=holes, **more)
    return sw.member(section, 400, body_holes=holes, **more)


SECTIONS = {name: sw.PRISMS[name] for name in ("equal angle", "unequal angle", "channel", "I", "T", "flat", "RHS")}
SECTIONS["plate"] = sw.PL10


@pytest.mark.parametrize("kind", ["countersunk", "blind"])
@pytest.mark.parametrize("far", [False, True])
@pytest.mark.parametrize("name", SECTIONS)
@limits(max_examples=8, deadline=None)
@given(vector=sw.vectors)
def test_the_mouth_stays_where_it_is_however_the_piece_is_turned(name: str, far: bool, kind: str, vector: Any) -> None:
    one = part_with(SECTIONS[name], far, kind)
    # laid turned, and as its own mirror image, which is the opposite hand of the piece
    members = [one, sw.moved(part_with(SECTIONS[name], far, kind), sw.rotation(vector), (50, -700, 3000))]
    members.append(sw.changed(sw.mirrored(one), global_id=sw.global_id()))
    taken = work_out(sw.model(members), SETTINGS)
    assert len(mouths(taken)) == 3
    for mine, theirs in zip(mouths(taken), drawn_mouths(members), strict=True):
        assert mine[:2] == theirs[:2]
        assert mine[2] == pytest.approx(theirs[2], abs=0.02)
        assert mine[3:] == pytest.approx(theirs[3:], abs=1e-3)


def test_two_plates_sunk_from_opposite_sides_are_opposite_hands() -> None:
    near, far = (part_with(sw.PL10, side, "countersunk") for side in (False, True))
    pieces = work_out(sw.model([near, far]), SETTINGS).pieces
    assert len(pieces) == 2
    assert {p.opposite_hand_of for p in pieces} == {p.mark for p in pieces}


def one_piece(path: Path) -> tuple[Takeoff, Piece]:
    taken = take_off([path], SETTINGS)
    (piece,) = taken.pieces
    return taken, piece


@pytest.mark.parametrize("far", [False, True])
def test_an_opening_that_stops_in_a_plate_is_blind_from_the_side_it_enters(tmp_path: Path, far: bool) -> None:
    model = Build()
    part = model.plate([(0, 0), (300, 0), (300, 120), (0, 120)], thickness=20)
    at = frame((0, 0, 0), (1, 0, 0), (0, 0, 1))
    u = at.axes[1]
    # 12 mm deep: from u = -5 to 12, or from u = 8 to 25
    origin = at.origin + u * (8.0 if far else -5.0)
    model.writer.opening(part, Ring(70, 40, 18), frame(origin, (1, 0, 0), (0, 0, 1)), 17.0)
    model.hole(part, "face", 200, 50, 18)
    taken, piece = one_piece(model.save(tmp_path / "m.ifc"))
    assert piece.status == "listed"
    ((_, kind, place, depth, head),) = mouths(taken)
    assert (kind, depth, head) == ("blind", 12.0, 0.0)
    assert place == pytest.approx(tuple(at.origin + u * (20.0 if far else 0.0) + (70, 0, 40)), abs=0.01)
    (sunk,) = [hole for hole in piece.holes if hole.side]
    (row,) = [row for row in tables(taken)["holes"].to_dict("records") if row["kind"] == "blind"]
    assert (row["hole"], row["side"], row["depth_mm"]) == (sunk.label, sunk.side, 12.0)


def test_columns_of_the_hole_table_are_added_at_its_end() -> None:
    assert list(COLUMNS["holes"])[-3:] == ["side", "depth_mm", "head_diameter_mm"]


def test_words_of_the_sheets() -> None:
    sunk = Hole("F1", "face", 0, 0, 18.0, kind="countersunk", width=32.0, side="far")
    assert kind_words(sunk) == "CSK FAR SIDE Ø32"
    assert opening(sunk) == "Ø18 CSK FAR SIDE Ø32"
    assert (
        kind_words(Hole("F1", "face", 0, 0, 18.0, kind="blind", side="near", depth=12.0)) == "BLIND 12 DEEP, NEAR SIDE"
    )
    # a drawing that leaves out the head or the depth is not completed by a guess
    assert kind_words(Hole("F1", "face", 0, 0, 18.0, kind="countersunk", side="near")) == "CSK NEAR SIDE"
    assert kind_words(Hole("F1", "face", 0, 0, 18.0, kind="blind", side="near")) == "BLIND, DEPTH NOT KNOWN, NEAR SIDE"


def test_the_sheet_of_a_sunk_piece_says_which_side_is_near() -> None:
    (piece,) = work_out(sw.model([part_with(sw.PL10, True, "countersunk")]), SETTINGS).pieces
    _, rows = piece_notes.hole_table(piece)
    words = [cell for row in rows for cell in row.cells]
    assert f"CSK {next(h.side for h in piece.holes if h.side).upper()} SIDE Ø28" in words
    assert any("Near side" in cell for row in piece_notes.notes(piece, ()) for cell in row.cells)
