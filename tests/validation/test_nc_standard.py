"""Machine files read by the standard alone, put in space and held against the steel that they are of.

Every file is read by tests/nc_reader.py, which knows the standard's digest and nothing of the project, and its holes
are placed in three dimensions by the standard's axes. The steel is a part with bolts somewhere in the model: its own
bolts say where the holes are. File and model must agree after one rigid motion, a turn and a shift; a mirror image
must not. Holes are told apart by diameter, so nothing of how the project names or orders them is used.

Source of the axes: ../shared/facts/NC_STANDARD.md sections 4 to 7, a digest of the German steel-construction
association's exchange format, 7th edition, 1998. What that digest marks as derived (the second leg of an angle) is
what the test piece asks the shop to prove.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "unit")]

import nc_reader  # noqa: E402
import steelwork as sw  # noqa: E402

from takeoff.exchange import nc, nc_frames  # noqa: E402
from takeoff.exchange.nc import nc_files  # noqa: E402
from takeoff.exchange.trial import trial_files  # noqa: E402
from takeoff.pipeline import take_off, work_out  # noqa: E402
from takeoff.sections import shapes  # noqa: E402
from takeoff.sections.shapes import faces  # noqa: E402
from takeoff.settings import HoleSettings, Settings  # noqa: E402
from takeoff.steel import ANGLE, LISTED  # noqa: E402

L100X65 = shapes.angle(100, 65, 8, 10, 5)
LENGTH = 1400.0
EXACT_MM = 0.011
"""The file has two decimals."""

# A clearance of its own for each bolt, none of them alike, so that a diameter tells which bolt made the hole.
PLAIN = Settings(holes=HoleSettings(clearance_mm={f"M{d}": 2.0 for d in (10, 12, 14, 16, 18, 20, 22, 24, 27, 30)}))

# Face, x, across and bolt. No two parts of these patterns are alike under any turn or mirror.
DRILLED = {
    "unequal angle": (L100X65, [("A", 70, 65, 12), ("B", 240, 38, 16), ("A", 1000, 50, 20)]),
    "equal angle": (sw.L100, [("A", 70, 55, 12), ("B", 240, 45, 16), ("A", 1000, 50, 20)]),
    "channel": (sw.U160, [("web", 70, 60, 12), ("top", 240, 40, 16), ("bottom", 500, 38, 10), ("web", 900, 100, 20)]),
    "I": (sw.IPE200, [("web", 70, 60, 12), ("top", 240, 25, 16), ("bottom", 500, -30, 10), ("web", 900, 140, 20)]),
    "monosymmetric I": (sw.MONO, [("web", 70, 60, 12), ("top", 240, 35, 16), ("bottom", 500, -25, 10)]),
    "T": (sw.T100, [("stem", 70, 60, 12), ("bottom", 240, 30, 16), ("bottom", 500, -25, 10), ("stem", 900, 70, 20)]),
    "flat": (sw.FL100, [("face", 70, 60, 12), ("face", 240, 30, 16), ("face", 900, 55, 20)]),
    "RHS": (sw.RHS120, [("front", 70, 50, 12), ("top", 240, 30, 16), ("back", 500, 80, 10), ("bottom", 900, 45, 20)]),
    "SHS": (sw.SHS100, [("front", 70, 60, 12), ("top", 240, 30, 16), ("back", 500, 70, 10), ("bottom", 900, 45, 20)]),
    "cold-formed C": (sw.C200, [("web", 70, 60, 12), ("top", 240, 40, 16), ("bottom", 500, 30, 10)]),
}
MOTIONS = {
    "as drawn": (np.eye(3), (0.0, 0.0, 0.0)),
    "end for end": (sw.rotation((0.0, 0.0, np.pi)), (120.0, -40.0, 7.0)),
    "on its side": (sw.rotation((np.pi / 2, 0.0, 0.0)), (0.0, 500.0, 0.0)),
    "upside down and away": (sw.rotation((0.3, -2.1, 1.2)), (48_000.0, -9_000.0, 6_500.0)),
}


def drilled(name):
    """A part with its holes drawn as openings, and its holes' mouths in space by diameter."""
    section, pattern = DRILLED[name]
    own = tuple(sw.hole(face, x, across, d + 2.0, source="opening") for face, x, across, d in pattern)
    return sw.member(section, LENGTH, body_holes=own, grade="S235JR")


def truth(part):
    """Diameter -> both mouths (2, 3) of the hole in the model, outside first, from the part's own face table."""
    walls = {face.name: face for face in faces(part.body.section)}
    found = {}
    for hole in (*part.body.holes, *part.holes):
        face = walls[hole.face]
        outside = np.array([hole.x, *(np.array(face.origin) + hole.across * np.array(face.direction))])
        inside = outside + face.thickness * np.array([0.0, *face.inward])
        found[hole.diameter] = part.frame.to_model(np.array([outside, inside]))
    return found


def true_corners(part):
    """Ends of the edges of the part's section box in the model, from the frame table of takeoff.steel."""
    s = part.body.section
    h, b = s.h, s.b
    uv = {
        "angle": [(0, 0), (0, h), (b, 0)],
        "channel": [(0, 0), (b, 0), (0, h), (b, h)],
        "other": [(0, 0), (b, 0), (0, h), (b, h)],
        "I": [(-b / 2, 0), (b / 2, 0), (-b / 2, h), (b / 2, h)],
        "T": [(-b / 2, 0), (b / 2, 0), (-s.tw / 2, h), (s.tw / 2, h)],
        "flat": [(0, 0), (b, 0), (0, h), (b, h)],
        "plate": [(0, 0), (b, 0), (0, h), (b, h)],
        "RHS": [(0, 0), (b, 0), (0, h), (b, h)],
    }[s.shape]
    return part.frame.to_model(np.array([(x, u, v) for x in (0.0, part.body.length) for u, v in uv]))


def files_of(members, settings=PLAIN, skip=None):
    takeoff = work_out(sw.model(members), settings)
    assert {piece.status for piece in takeoff.pieces} == {LISTED}, [p.reasons for p in takeoff.pieces]
    made = nc_files(takeoff, settings, skip)
    assert not made.without
    by_mark = {nc_reader.read(text).mark: nc_reader.read(text) for text in made.files.values()}
    return takeoff, by_mark


def rigid(source, target):
    """The turn and shift that bring points (n, 3) nearest to others, and what is left (Kabsch's method).

    Only proper turns are tried: a mirror image leaves a rest.
    """
    a, b = source - source.mean(axis=0), target - target.mean(axis=0)
    u, _, vt = np.linalg.svd(a.T @ b)
    sign = np.sign(np.linalg.det(u @ vt))
    turn = u @ np.diag([1.0, 1.0, sign]) @ vt
    shift = target.mean(axis=0) - source.mean(axis=0) @ turn
    return turn, shift, float(np.abs(source @ turn + shift - target).max())


def misfit(file, part):
    """By how many mm the file's holes and bar differ from a part in space, after the best rigid motion."""
    holes = truth(part)
    assert sorted(h.diameter for h in file.holes) == sorted(holes)
    placed = {h.diameter: np.array(file.segment(h.face, h.x, h.y)) for h in file.holes}
    order = sorted(holes)
    # A hole through a web or a flat may be given from either side.
    either = [False] + ([True] if file.code in ("I", "SO", "T", "B") else [])
    # The header of a special section has one flange's thickness: of holes in the other one only the mouth is told.
    outside_only = {h.diameter for h in file.holes if file.code == "SO" and h.face == "u"}
    rests = []
    for turned_over in either:
        mine = []
        for d in order:
            face = next(h.face for h in file.holes if h.diameter == d)
            mouths = placed[d][::-1] if turned_over and face in "vh" else placed[d]
            mine.append(mouths[:1] if d in outside_only else mouths)
        steel_mouths = [holes[d][:1] if d in outside_only else holes[d] for d in order]
        turn, shift, rest = rigid(np.concatenate(mine), np.concatenate(steel_mouths))
        bar = np.array([(x, y, z) for x in (0.0, file.length) for y, z in file.corners()]) @ turn + shift
        steel = true_corners(part)
        near = np.linalg.norm(bar[:, None] - steel[None], axis=2)
        rests.append(max(rest, float(near.min(axis=0).max()), float(near.min(axis=1).max())))
    return min(rests)


@pytest.mark.parametrize("motion", MOTIONS)
@pytest.mark.parametrize("name", DRILLED)
def test_holes_of_the_file_are_the_models_in_space_for_both_hands(name, motion):
    turn, shift = MOTIONS[motion]
    part = sw.moved(drilled(name), turn, shift)
    hand = sw.moved(sw.mirrored(drilled(name)), turn, np.add(shift, (0.0, 5000.0, 0.0)))
    takeoff, files = files_of([part, hand])
    for i, member in enumerate((part, hand)):
        assert misfit(files[takeoff.member_marks[i]], member) < EXACT_MM


@pytest.mark.parametrize("name", DRILLED)
def test_members_turned_end_for_end_have_one_file_that_fits_both(name):
    part = drilled(name)
    other = sw.moved(part, *MOTIONS["end for end"])
    third = sw.moved(part, *MOTIONS["upside down and away"])
    takeoff, files = files_of([part, other, third])
    (file,) = files.values()
    assert file.quantity == 3
    assert all(misfit(file, member) < EXACT_MM for member in (part, other, third))
    assert len(takeoff.pieces) == 1


@pytest.mark.parametrize("name", [n for n in DRILLED if n != "flat"])
def test_a_piece_and_its_opposite_hand_have_different_files(name):
    part, hand = drilled(name), sw.mirrored(drilled(name))
    takeoff, files = files_of([part, hand])
    assert len(files) == 2
    mine, its = (files[mark] for mark in takeoff.member_marks)
    assert mine.holes != its.holes
    # And the check can tell: either file is wrong for the other part, by more than a hole.
    assert misfit(mine, hand) > 1.0
    assert misfit(its, part) > 1.0


def swap_legs(file):
    """The file with the legs exchanged: v's holes in u at the same distance from the heel, and the other way round."""
    holes = []
    for h in file.holes:
        gauge = h.y if h.face == "v" else file.width - h.y
        face = "u" if h.face == "v" else "v"
        holes.append(replace(h, face=face, y=gauge if face == "v" else file.height - gauge))
    fields = list(file.fields)
    fields[9], fields[10] = fields[10], fields[9]
    return nc_reader.Part(fields, holes)


def flip_second_leg(file):
    """The file with the second leg read from its other edge."""
    return nc_reader.Part(file.fields, [replace(h, y=file.width - h.y) if h.face == "u" else h for h in file.holes])


def reverse(file):
    """The file with its ends exchanged and nothing else."""
    return nc_reader.Part(file.fields, [replace(h, x=file.length - h.x) for h in file.holes])


@pytest.mark.parametrize("name", ["unequal angle", "equal angle"])
@pytest.mark.parametrize("wrong", [swap_legs, flip_second_leg, reverse])
def test_the_check_refuses_exchanged_legs_edges_and_ends(name, wrong):
    part = drilled(name)
    _, files = files_of([part])
    (file,) = files.values()
    assert misfit(file, part) < EXACT_MM
    assert misfit(wrong(file), part) > 1.0


@pytest.mark.parametrize("name", ["unequal angle", "equal angle"])
def test_exchanging_ends_and_legs_at_once_is_the_same_piece(name):
    """Digest section 5: reversing x and swapping legs gives the same physical piece."""
    part = drilled(name)
    _, files = files_of([part])
    (file,) = files.values()
    assert misfit(reverse(swap_legs(file)), part) < EXACT_MM


@pytest.mark.parametrize("name", ["unequal angle", "equal angle"])
def test_a_writer_that_exchanges_legs_is_found_out(name, monkeypatch):
    """The same with the project's own code made wrong, not its file: the check watches the writer."""
    part = drilled(name)
    right = nc_frames._angle

    def wrong(section, length, u_datum, v_leg):
        placing = right(section, length, u_datum, v_leg)
        if section.h == section.b:
            seats = {"A": placing.seats["B"], "B": placing.seats["A"]}
            return replace(placing, seats=seats)
        # Legs exchanged, ends not.
        return replace(right(section, length, u_datum, "shorter"), x_sign=1.0, x_shift=0.0)

    monkeypatch.setattr(nc_frames, "_angle", wrong)
    _, files = files_of([part])
    (file,) = files.values()
    assert misfit(file, part) > 1.0


FACES = [(name, face) for name, (_, rows) in DRILLED.items() if name != "flat" for face in sorted({r[0] for r in rows})]


@pytest.mark.parametrize(("name", "face"), FACES)
def test_a_writer_that_reads_one_face_from_its_other_edge_is_found_out(name, face, monkeypatch):
    part = drilled(name)
    right = nc.place

    def wrong(section, length, **rules):
        placing = right(section, length, **rules)
        seat = placing.seats[face]
        wall = next(f for f in faces(section) if f.name == face)
        ends = [seat.sign * across + seat.shift for across in (wall.low, wall.high)]
        other = replace(seat, sign=-seat.sign, shift=sum(ends) - seat.shift)
        return replace(placing, seats={**placing.seats, face: other})

    monkeypatch.setattr(nc, "place", wrong)
    _, files = files_of([part])
    (file,) = files.values()
    assert misfit(file, part) > 1.0


@pytest.mark.parametrize("name", [name for name in DRILLED if name != "flat"])
def test_a_writer_that_runs_x_from_the_right_end_is_found_out(name, monkeypatch):
    part = drilled(name)
    right = nc.place
    monkeypatch.setattr(nc, "place", lambda s, length, **r: replace(right(s, length, **r), x_sign=-1.0, x_shift=length))
    _, files = files_of([part])
    (file,) = files.values()
    assert misfit(file, part) > 1.0


@pytest.mark.parametrize("name", ["unequal angle", "equal angle"])
def test_the_shorter_leg_in_front_is_the_same_piece(name):
    part, hand = drilled(name), sw.mirrored(drilled(name))
    settings = replace(PLAIN, nc=replace(PLAIN.nc, v_leg="shorter"))
    takeoff, files = files_of([part, hand], settings)
    for i, member in enumerate((part, hand)):
        file = files[takeoff.member_marks[i]]
        assert file.height <= file.width
        assert misfit(file, member) < EXACT_MM


def test_the_other_datum_of_the_second_leg_moves_its_holes_only():
    part = drilled("unequal angle")
    _, stated = files_of([part])
    _, other = files_of([part], replace(PLAIN, nc=replace(PLAIN.nc, u_datum="heel")))
    (stated,), (other,) = stated.values(), other.values()
    assert misfit(other, part) > 1.0
    assert misfit(flip_second_leg(other), part) < EXACT_MM
    assert [h for h in stated.holes if h.face == "v"] == [h for h in other.holes if h.face == "v"]
    assert any("u y=0 at toe" in c for c in stated.comments)
    assert any("u y=0 at heel" in c or "v and u y=0 at heel" in c for c in other.comments)


def test_gauges_of_the_test_piece_by_hand():
    """Digest section 5: v has y = g from the heel with letter u; u has y = b - g, the heel at y = b.

    By hand: leg 100 in front, hole 65 from the heel -> 65; leg 65 below, hole 38 from the heel -> 65 - 38 = 27.
    """
    file = nc_reader.read(trial_files(Settings())["TEST-PIECE.nc"])
    assert (file.code, file.height, file.width, file.flange, file.web, file.radius) == ("L", 100, 65, 8, 8, 10)
    assert [(h.face, h.x, h.ref, h.y, h.diameter) for h in file.holes] == [
        ("v", 90.0, "u", 65.0, 22.0),
        ("u", 240.0, "o", 27.0, 18.0),
    ]
    # EN 10056-1: L 100 x 65 x 8 has 9.94 kg/m (from memory; the project's table holds it too).
    assert file.mass == pytest.approx(9.94, abs=0.01)


def test_a_plates_holes_and_outline_stand_where_its_corners_are():
    """Three holes in a plate with a clipped corner: distances between holes and corners, in any turn of the plate."""
    corners = ((0, 0), (400, 0), (400, 150), (330, 220), (0, 220))
    own = (sw.hole("face", 50, 40, 14), sw.hole("face", 300, 60, 18), sw.hole("face", 120, 180, 22))
    part = sw.plate(corners, 12.0, body_holes=own)
    _, files = files_of([part])
    (file,) = files.values()
    assert (file.code, file.length, file.height, file.width, file.web) == ("B", 400, 220, 0, 12)
    (outline,) = file.contours
    have = {h.diameter: np.array((h.x, h.y)) for h in file.holes}
    want = {h.diameter: np.array((h.x, h.across)) for h in own}
    mine = np.array([p[:2] for p in outline.points[:-1]])
    for d in have:
        gaps = sorted(np.linalg.norm(mine - have[d], axis=1))
        assert gaps == pytest.approx(sorted(np.linalg.norm(np.array(corners) - want[d], axis=1)), abs=EXACT_MM)
        for e in have:
            assert np.linalg.norm(have[d] - have[e]) == pytest.approx(np.linalg.norm(want[d] - want[e]), abs=EXACT_MM)


@pytest.mark.parametrize("hand", [False, True], ids=["piece", "opposite hand"])
def test_a_tubes_holes_stand_round_it_as_in_the_model(hand):
    """Developed positions (digest section 6): the tube's wall is a plate as wide as its circumference."""
    tube = sw.CHS114
    girth = np.pi * 114.3
    own = tuple(sw.hole("wall", x, a, d) for x, a, d in ((70, 0.05, 14), (240, 0.2, 18), (500, 0.62, 22)))
    own = tuple(replace(h, across=round(h.across * girth, 3)) for h in own)
    part = sw.member(tube, LENGTH, body_holes=own)
    part = sw.mirrored(part) if hand else part
    part = sw.moved(part, *MOTIONS["upside down and away"])
    _, files = files_of([part])
    (file,) = files.values()
    placed, there = [], []
    for h in sorted(file.holes, key=lambda h: h.diameter):
        placed += [file.point("v", h.x, h.y), file.point("v", h.x, h.y, 5.0)]
    for h in sorted(part.body.holes, key=lambda h: h.diameter):
        w, r = h.across / 57.15, 57.15
        # The face table of takeoff.sections.faces: (-r cos w, r sin w).
        there += [(h.x, -k * np.cos(w), k * np.sin(w)) for k in (r, r - 5.0)]
    _, _, rest = rigid(np.array(placed), part.frame.to_model(np.array(there)))
    assert rest < 0.02


SUNK = {
    "unequal angle": L100X65,
    "equal angle": sw.L100,
    "channel": sw.U160,
    "I": sw.IPE200,
    "T": sw.T100,
    "flat": sw.FL100,
    "RHS": sw.RHS120,
    "cold-formed C": sw.C200,
}
SUNK_FACES = [(name, face.name) for name, section in SUNK.items() for face in faces(section)]
BOTH_SIDES = ("face", "web", "stem")
"""Walls that a tool reaches from either side; of the others the inside is out of its reach."""


@pytest.mark.parametrize("hand", [False, True], ids=["piece", "opposite hand"])
@pytest.mark.parametrize("far", [False, True], ids=["near", "far"])
@pytest.mark.parametrize("kind", ["countersunk", "blind"])
@pytest.mark.parametrize(("name", "face"), SUNK_FACES)
def test_sunk_holes_open_to_the_side_they_have_in_the_model(name, face, kind, far, hand):
    """Mouth and bottom of what is sunk, from the file and in the model, with the mouths of two plain holes.

    Depth of a countersink by hand: from 14 to 18 with 90 degrees is 2 mm. A blind hole goes 2.5 mm deep.
    """
    section = SUNK[name]
    walls = {f.name: f for f in faces(section)}
    wall = walls[face]
    middle = wall.low + (0.7 if wall.low < 0 else 0.45) * (wall.high - wall.low)
    other = next((f for f in walls.values() if f.name != face), wall)
    sunk = sw.hole(face, 200, middle, 14, kind=kind, far=far, width=18.0 if kind == "countersunk" else 0.0,
                   depth=2.5 if kind == "blind" else float("inf"))  # fmt: skip
    plain = (
        sw.hole(face, 500, middle + 5, 12),
        sw.hole(other.name, 1000, other.low + 0.7 * (other.high - other.low), 10),
    )
    part = sw.member(section, LENGTH, body_holes=(sunk, *plain))
    part = sw.moved(sw.mirrored(part) if hand else part, *MOTIONS["upside down and away"])
    takeoff = work_out(sw.model([part]), PLAIN)
    made = nc_files(takeoff, PLAIN)
    (text,) = made.files.values()
    file = nc_reader.read(text)
    found = [h for h in file.holes if h.code == "s" or h.depth]
    if far and face not in BOTH_SIDES:
        assert found == []
        code = "machine-hole-left-out" if kind == "blind" else "machine-countersink-left-out"
        assert code in {q.code for q in made.queries}
        assert len(file.holes) == (2 if kind == "blind" else 3)
        return
    (mine,) = found
    assert (mine.diameter, mine.depth) == ((18.0, 2.0) if kind == "countersunk" else (14.0, 2.5))
    # The model: plain mouths from the part's own faces; of the sunk hole mouth, and mouth less the depth.
    there = truth(part)
    outside, inside = there.pop(14.0)
    mouth, back = (inside, outside) if far else (outside, inside)
    into = (back - mouth) / np.linalg.norm(back - mouth)
    target = [mouth, mouth + mine.depth * into]
    # A web, a stem and a broad side may be given from either side: their plain holes count with both mouths.
    source_mouth, source_back = map(np.array, file.segment(mine.face, mine.x, mine.y))
    deep = (source_back - source_mouth) / np.linalg.norm(source_back - source_mouth)
    source = [source_mouth, source_mouth + mine.depth * deep]
    rests = []
    for flip in (False, True):
        s, t = list(source), list(target)
        for d in sorted(there):
            hole = next(h for h in file.holes if h.diameter == d)
            mouths = file.segment(hole.face, hole.x, hole.y)
            may = hole.face in "vh" and file.code in ("I", "T", "B")
            s += list(mouths[::-1] if flip and may else mouths)
            t += list(there[d])
        rests.append(rigid(np.array(s), np.array(t))[2])
    assert min(rests) < EXACT_MM


def _ends_in_the_file(file, hole):
    """Centres of a slot's or rectangle's end arcs, (x, q), by the digest's section 7 and 4: o and h are mirrored."""
    b, h, w = hole.slot
    seen = 1 if hole.face in "vu" else -1
    c, s = np.cos(np.radians(w)), np.sin(np.radians(w))
    steps = [(i * b, j * h) for i in (0, 1) for j in ((0, 1) if h else (0,))]
    return [(hole.x + i * c - j * s, hole.y + seen * (i * s + j * c)) for i, j in steps]


@pytest.mark.parametrize("hand", [False, True], ids=["piece", "opposite hand"])
@pytest.mark.parametrize("kind", ["slot", "rectangle"])
@pytest.mark.parametrize(("name", "face"), SUNK_FACES)
def test_askew_slots_lie_in_space_as_in_the_model(name, face, kind, hand):
    """The centres of the ends of a slot at 30 degrees, with the mouths of two plain holes, by one rigid motion."""
    section = SUNK[name]
    walls = {f.name: f for f in faces(section)}
    wall = walls[face]
    middle = wall.low + (0.75 if wall.low < 0 else 0.5) * (wall.high - wall.low)
    other = next((f for f in walls.values() if f.name != face), wall)
    d, width = (12.0, 0.0) if kind == "slot" else (6.0, 14.0)
    slot = sw.hole(face, 200, middle, d, kind=kind, slot_length=26.0, slot_angle=30.0, width=width)
    plain = (
        sw.hole(face, 500, middle + 5, 16),
        sw.hole(other.name, 1000, other.low + 0.7 * (other.high - other.low), 10),
    )
    part = sw.member(section, LENGTH, body_holes=(slot, *plain))
    part = sw.moved(sw.mirrored(part) if hand else part, *MOTIONS["upside down and away"])
    _, files = files_of([part])
    (file,) = files.values()
    (mine,) = [h for h in file.holes if h.slot]
    # The model's own ends, from its body: b and h are the overall sizes less the diameter.
    (own,) = [h for h in part.body.holes if h.slot_length]
    b, h = own.slot_length - d, own.width - d if kind == "rectangle" else 0.0
    c, s = np.cos(np.radians(own.slot_angle)), np.sin(np.radians(own.slot_angle))
    corners = [(own.x + i * b / 2 * c - j * h / 2 * s, own.across + i * b / 2 * s + j * h / 2 * c)
               for i in (-1, 1) for j in ((-1, 1) if h else (0,))]  # fmt: skip
    wall = {f.name: f for f in faces(part.body.section)}[own.face]
    # At mid-wall, so that it does not matter from which side a web is seen.
    deep = wall.thickness / 2 * np.array(wall.inward)
    target = part.frame.to_model(
        np.array([(x, *(np.array(wall.origin) + a * np.array(wall.direction) + deep)) for x, a in corners])
    )
    source = np.array([np.mean(file.segment(mine.face, x, q), axis=0) for x, q in _ends_in_the_file(file, mine)])
    there = {d: mouths for d, mouths in truth(part).items() if d != own.diameter}
    rests = []
    for flip in (False, True):
        plain_source, plain_target = [], []
        for diameter in sorted(there):
            hole = next(h for h in file.holes if h.diameter == diameter)
            mouths = file.segment(hole.face, hole.x, hole.y)
            plain_source += list(
                mouths[::-1] if flip and hole.face in "vh" and file.code in ("I", "T", "B") else mouths
            )
            plain_target += list(there[diameter])
        turn, shift, rest = rigid(np.array(plain_source), np.array(plain_target))
        near = np.linalg.norm((source @ turn + shift)[:, None] - target[None], axis=2)
        rests.append(max(rest, float(near.min(axis=0).max()), float(near.min(axis=1).max())))
    assert min(rests) < 2 * EXACT_MM


def map_of(file, piece):
    """The turn and shift from a file to its piece frame, corner on corner of the section.

    Corners by the digest (tests/nc_reader.py) and by the frame table of takeoff.steel: heel and toes of an angle; of
    the others the box, low and high, behind (Z = 0) and in front.
    """
    h, b = piece.section.h, piece.section.b
    front, behind = {"I": (-b / 2, b / 2)}.get(piece.section.shape, (0.0, b))
    if piece.section.shape == ANGLE:
        corners = [(0, 0), (0, h), (b, 0)]
    else:
        corners = [(behind, 0), (front, 0), (behind, h), (front, h)]
    bar = np.array([(x, y, z) for x in (0.0, file.length) for y, z in file.corners()])
    turn, shift, rest = rigid(bar, np.array([(x, u, v) for x in (0.0, piece.length) for u, v in corners]))
    assert rest < EXACT_MM
    return turn, shift


MODELS = {
    "trestle_bay": (HERE.parents[1] / "models", 20),
    "mast": (HERE.parents[1] / "models", 800),
    "bolt_groups_excerpt": (HERE.parents[2] / "shared" / "models", 100),
}
"""Model -> its folder, and the least number of holes that are to be looked at in it."""


@pytest.mark.parametrize("model", MODELS)
def test_bolts_of_a_model_pass_the_holes_of_its_files(model):
    """From the IFC file to the machine file and back: every hole from a bolt lies round a bolt of the model."""
    folder, least = MODELS[model]
    if not (folder / f"{model}.ifc").exists():
        pytest.skip("the shared models are not there")
    settings = Settings()
    takeoff = take_off([folder / f"{model}.ifc"], settings)
    made = nc_files(takeoff, settings)
    files = {nc_reader.read(text).mark: nc_reader.read(text) for text in made.files.values()}
    axes = {}
    for passage in takeoff.passages:
        bolt = takeoff.model.fasteners[passage.fastener].bolts[passage.bolt]
        for ply in passage.plies:
            axes.setdefault(ply.member, []).append((np.array(bolt.point), np.array(bolt.direction)))
    looked = 0
    for piece in takeoff.pieces:
        if piece.status != LISTED or not all(hole.source == "bolt" for hole in piece.holes):
            continue
        file = files[piece.mark]
        if file.code not in "LIUBM":
            continue
        turn, shift = map_of(file, piece)
        assert len(file.holes) == len(piece.holes)
        for i, frame in zip(piece.members, piece.frames, strict=True):
            for hole in file.holes:
                mouth = frame.to_model(np.array(file.segment(hole.face, hole.x, hole.y)[:1]) @ turn + shift)[0]
                off = [float(np.linalg.norm(np.cross(mouth - p, d))) for p, d in axes[i]]
                # A member may differ from its mark by the tolerance of grouping.
                assert min(off) < 0.5 + EXACT_MM, (piece.mark, hole)
                looked += 1
    assert looked >= least


# ---------------------------------------------------------------- the digest's own examples


def part_of(code, height, width, flange, web, radius, mass, paint, length, *blocks):
    """A file's text around the digest's vectors."""
    fields = [
        "-",
        "-",
        "-",
        "P1",
        "S235JR",
        "1",
        "X",
        code,
        f"{length}",
        height,
        width,
        flange,
        web,
        radius,
        mass,
        paint,
    ]
    head = ["ST", *(f"  {f}" for f in (*fields, "0.000", "0.000", "0.000", "0.000", "-", "-", "-", "-"))]
    return "\n".join([*head, *blocks, "EN"]) + "\n"


HEB400 = ("I", "400", "300", "24.00", "13.50", "27.00", "155.000", "1.930", 2000)


def test_the_standards_example_is_read_as_it_says():
    """Digest section 13: the HEB400 example's header and hole lines."""
    text = part_of(
        *HEB400,
        "BO",
        "  v 450.00o 280.00 24.00 0.00",
        "  v 1512.00o 144.00 24.00 0.00l 100.00 60.00 10.00",
        "  u 1415.00s 251.50 24.00 0.00l 70.00 0.00 0.00",
    )
    file = nc_reader.read(text)
    assert (file.height, file.width, file.flange, file.web, file.radius) == (400, 300, 24, 13.5, 27)
    plain, rectangle, slot = file.holes
    assert (plain.face, plain.x, plain.ref, plain.y, plain.diameter) == ("v", 450, "o", 280, 24)
    assert rectangle.slot == (100, 60, 10)
    assert (slot.face, slot.ref, slot.y) == ("u", "s", 251.5)


def test_a_heb400_of_the_project_has_the_examples_header():
    """HEB 400 by EN 10365: 400 x 300, web 13.5, flange 24, radius 27; the example gives 155 kg/m and 1.93 m2/m."""
    heb = shapes.i_section(400, 300, 13.5, 24, 27)
    _, files = files_of([sw.member(heb, 2000.0, body_holes=(sw.hole("web", 450, 280, 24),))])
    (file,) = files.values()
    assert (file.code, file.height, file.width, file.flange, file.web, file.radius) == ("I", 400, 300, 24, 13.5, 27)
    assert file.mass == pytest.approx(155.0, rel=0.005)
    assert file.paint == pytest.approx(1.93, abs=0.005)
    assert file.saw_length == file.length == 2000.0


def test_a_slot_in_the_middle_of_a_bar_begins_half_its_centres_before_it():
    """Digest section 7, sample HEA160, L 458.78: a slot at mid-length, 40 overall, is written at 218.39 with b 22.

    218.39 + 22 / 2 = 229.39 = L / 2.
    """
    hea = shapes.i_section(152, 160, 6, 9, 15)
    slot = sw.hole("top", 229.39, 22, 18, slot_length=40, kind="slot")
    _, files = files_of([sw.member(hea, 458.78, body_holes=(slot, sw.hole("web", 60, 76, 14)))])
    (file,) = files.values()
    (found,) = [h for h in file.holes if h.slot]
    assert (found.x, found.diameter, found.slot) == (218.39, 18.0, (22.0, 0.0, 0.0))
    assert found.y in (102.0, 58.0)


def test_a_channel_has_the_samples_header():
    """Digest section 6, sample UPN 200: 200, 75, 11.5, 8.5."""
    upn = shapes.channel(200, 75, 8.5, 11.5, 11.5, 6, 0.08)
    _, files = files_of([sw.member(upn, 1000.0, body_holes=(sw.hole("web", 60, 76, 14),))])
    (file,) = files.values()
    assert (file.code, file.height, file.width, file.flange, file.web) == ("U", 200, 75, 11.5, 8.5)
