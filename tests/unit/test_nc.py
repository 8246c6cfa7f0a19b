"""Machine files: header, contours, holes and stamps, each held against the part in space or against hand figures."""

import math
from dataclasses import replace
from itertools import pairwise

import nc_reader
import numpy as np
import pytest
import shapely
import steelwork as sw

from takeoff.exchange.machine import machine_files
from takeoff.exchange.nc import nc_files, nc_text
from takeoff.pipeline import work_out
from takeoff.sections import shapes
from takeoff.settings import HoleSettings, Settings
from takeoff.steel import HELD, FlangeBend, HeelGrind, Notch, Plane

RULES = Settings(holes=HoleSettings(clearance_mm={"M16": 2.0}))
L100X65 = shapes.angle(100, 65, 8, 10, 5)
EXACT = 0.011


def make(*members, settings=RULES, skip=None):
    takeoff = work_out(sw.model(members), settings)
    return takeoff, nc_files(takeoff, settings, skip)


def one(part, settings=RULES, skip=None):
    """The only file of a part, read, with its piece and what was asked."""
    takeoff, made = make(part, settings=settings, skip=skip)
    assert not made.without, made.without
    (text,) = made.files.values()
    return nc_reader.read(text), takeoff.pieces[0], made.queries


def codes(queries):
    return sorted(q.code for q in queries)


# ---------------------------------------------------------------- header


def test_header_fields_of_an_angle_in_order():
    part = sw.member(L100X65, 1200.0, grade="S355J2", finish="galvanised", body_holes=(sw.hole("A", 70, 65),))
    settings = replace(RULES, documents=replace(RULES.documents, job="Job 7", revision="C"))
    file, piece, asked = one(part, settings)
    assert file.fields == [
        "Job 7", "A1", "-", "A1", "S355J2", "1", "L 100x65x8", "L", "1200.00,1200.00", "100.00", "65.00", "8.00",
        "8.00", "10.00", f"{piece.gross / 1.2:.3f}", "0.321", "0.000", "0.000", "0.000", "0.000", "galvanised",
        "-", "revision C", "-",
    ]  # fmt: skip
    assert asked == ()
    (stamp,) = file.stamps
    assert (stamp.text, stamp.turns, stamp.height) == ("A1 C", True, 10.0)


def test_a_plate_has_kg_and_m2_per_m2_and_no_flange():
    """10 mm at 7850 kg/m3 is 78.5 kg/m2 (EN 1991-1-1 table A.4); two sides of paint are 2 m2/m2."""
    file, _, _ = one(sw.plate(sw.rectangle(300, 200), 10.0, body_holes=(sw.hole("face", 40, 50),)))
    assert (file.code, file.height, file.width, file.flange, file.web) == ("B", 200, 0, 0, 10)
    assert (file.mass, file.paint) == (78.5, 2.0)
    assert file.contours == []


def test_opposite_hands_name_each_other():
    part = sw.member(L100X65, 900.0, body_holes=(sw.hole("A", 70, 65),))
    _, made = make(part, sw.mirrored(part))
    files = [nc_reader.read(text) for text in made.files.values()]
    assert {f.fields[21] for f in files} == {"opposite hand of A1", "opposite hand of A2"}


def plane_angles(file_points):
    """Web and flange angle of a cut plane from three of its points (x, Y, Z), by the digest: positive anti-clockwise.

    In the front view x runs right and Y up, in the bottom view x right and Z up; an end's line that leans toward -x
    as it rises is turned anti-clockwise from square.
    """
    a, b, c = map(np.array, file_points)
    n = np.cross(b - a, c - a)
    # On the plane dx/dY = -nY/nx and dx/dZ = -nZ/nx.
    return math.degrees(math.atan(n[1] / n[0])), math.degrees(math.atan(n[2] / n[0]))


SKEW_ENDED = {
    "angle": (L100X65, lambda u, v: (v, 65 - u)),
    "channel": (sw.U160, lambda u, v: (v, 65 - u)),
    "I": (sw.IPE200, lambda u, v: (v, 50 - u)),
    # Half a turn about x: the flange comes up.
    "T": (sw.T100, lambda u, v: (100 - v, 50 + u)),
    "RHS": (sw.RHS120, lambda u, v: (v, 80 - u)),
    "CHS": (sw.CHS114, lambda u, v: (57.15 + v, 57.15 - u)),
}


@pytest.mark.parametrize(
    "toward", [(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0)], ids=["up", "back", "down", "out"]
)
@pytest.mark.parametrize("name", SKEW_ENDED)
def test_cut_angles_are_those_of_the_plane(name, toward):
    """The plane's points in the piece frame, moved to the standard's axes by hand, give the header's four angles."""
    section, move = SKEW_ENDED[name]
    left = sw.skew(60.0, 15.0, end="left", toward=toward)
    right = sw.skew(1340.0, 10.0, end="right", toward=toward)
    face = shapes.faces(section)[0]
    hole = sw.hole(face.name, 300, (face.low + face.high) * 0.4)
    part = sw.member(section, 1400.0, left=(left,), right=(right,), body_holes=(hole,))
    takeoff, made = make(part)
    (text,) = made.files.values()
    file, piece, frame = nc_reader.read(text), takeoff.pieces[0], takeoff.pieces[0].frames[0]
    want = []
    for plane in (left, right):
        n, p = np.array(plane.normal), np.array(plane.point)
        spots = [(p[0] - (n[1] * (u - p[1]) + n[2] * (v - p[2])) / n[0], u, v) for u, v in ((0, 0), (30, 0), (0, 30))]
        # The part may be turned in its piece: through the model into the piece frame.
        there = frame.to_piece(part.frame.to_model(np.array(spots)))
        want.append(plane_angles([(x, *move(u, v)) for x, u, v in there.tolist()]))
    if frame.axes[0] @ part.frame.axes[0] < 0:
        want.reverse()
    (web_start, flange_start), (web_end, flange_end) = want
    assert file.angles == pytest.approx((web_start, web_end, flange_start, flange_end), abs=0.01)
    # The tangents of both views make up the lean, whichever way the bar lies: 15 degrees and 10.
    leans = sorted(math.hypot(*(math.tan(math.radians(file.angles[k])) for k in (end, end + 2))) for end in (0, 1))
    assert leans == pytest.approx([math.tan(math.radians(10)), math.tan(math.radians(15))], abs=1e-4)
    assert file.length == pytest.approx(piece.length, abs=0.01)


def test_cut_angles_of_an_angle_with_its_shorter_leg_in_front():
    """x runs from the other end, Y up the shorter leg, Z from the longer leg's toe: x = L - x, Y = u, Z = 100 - v."""
    left = sw.skew(60.0, 15.0, end="left", toward=(0.0, 1.0))
    right = sw.skew(1340.0, 10.0, end="right", toward=(1.0, 0.0))
    part = sw.member(L100X65, 1400.0, left=(left,), right=(right,), body_holes=(sw.hole("A", 300, 50),))
    file, piece, _ = one(part, replace(RULES, nc=replace(RULES.nc, v_leg="shorter")))
    want = []
    for plane in (right, left):
        n, p = np.array(plane.normal), np.array(plane.point)
        spots = [(p[0] - (n[1] * (u - p[1]) + n[2] * (v - p[2])) / n[0], u, v) for u, v in ((0, 0), (30, 0), (0, 30))]
        there = piece.frames[0].to_piece(part.frame.to_model(np.array(spots)))
        want.append(plane_angles([(piece.length - x, u, 100 - v) for x, u, v in there.tolist()]))
    (web_start, flange_start), (web_end, flange_end) = want
    assert file.angles == pytest.approx((web_start, web_end, flange_start, flange_end), abs=0.01)


def test_a_flat_longer_at_its_top_has_the_signs_of_the_standards_sketch():
    """Digest section 2: left end +15, right end -15."""
    left, right = (sw.skew(x, 15.0, end=e, toward=(0.0, -1.0)) for x, e in ((26.795, "left"), (373.205, "right")))
    hole = sw.hole("face", 80, 80, 22)
    file, _, _ = one(
        sw.member(sw.FL100, 400.0, left=(left,), right=(right,), body_holes=(hole, sw.hole("face", 150, 20)))
    )
    (outline,) = file.contours
    top = [p[0] for p in outline.points if p[1] > 99]
    assert (min(top), max(top)) == (0.0, 400.0) or max(top) - min(top) < 350
    sign = 1 if max(top) - min(top) > 350 else -1
    assert file.angles == pytest.approx((15 * sign, -15 * sign, 0, 0), abs=0.01)


def test_contours_agree_with_the_headers_angles():
    left = sw.skew(40.0, 20.0, end="left")
    file, _, _ = one(sw.member(L100X65, 900.0, left=(left,), body_holes=(sw.hole("A", 400, 65), sw.hole("B", 600, 40))))
    front = next(c for c in file.contours if c.face == "v")
    found = [math.degrees(math.atan(-(b[0] - a[0]) / (b[1] - a[1]))) for a, b in pairwise(front.points)
             if abs(b[1] - a[1]) > 1 and abs(b[0] - a[0]) > 1]  # fmt: skip
    assert [a for a in file.angles[:2] if a] == pytest.approx(found, abs=0.02)
    assert {c.face for c in file.contours} == {"v", "u"}


def test_a_bevel_is_a_flange_angle_and_asked_about():
    cut = sw.skew(0.0, 30.0, end="left", toward=(1.0, 0.0))
    file, piece, asked = one(sw.member(sw.FL100, 400.0, left=(cut,), body_holes=(sw.hole("face", 80, 40),)))
    assert codes(asked) == ["machine-bevel", "machine-skew-sign"]
    assert sorted(map(abs, file.angles)) == pytest.approx([0, 0, 0, 30], abs=0.01)
    (drawn,) = [o for o in piece.outlines if o.far is not None]
    # Seen from below: Z is up, the side in front at Z = t. A side in front that begins later leans to +x: clockwise.
    start = file.angles[2] != 0
    pick = np.min if start else np.max
    later = pick(drawn.points[:, 0]) - pick(drawn.far[:, 0])
    assert np.sign(file.angles[2] or file.angles[3]) == -np.sign(later)


# ---------------------------------------------------------------- contours


def area(contour):
    """Area of a contour with its arcs, mm2, positive anti-clockwise in (x, q)."""
    total = nc_reader.contour_area(contour.points)
    for (ax, ay, r), (bx, by, _) in pairwise(contour.points):
        if r:
            half = math.asin(min(1.0, math.hypot(bx - ax, by - ay) / 2 / abs(r)))
            seen = 1 if contour.face in "vu" else -1
            total += seen * math.copysign(r * r * (half - math.sin(half) * math.cos(half)), r)
    return total


def test_arcs_of_a_plate_are_arcs():
    """A 300 x 200 plate with a half round end: bulge 1, radius 100; area 200 x 200 + pi 100^2 / 2."""
    round_end = ((0, 0), (200, 0, 1.0), (200, 200), (0, 200))
    part = sw.plate(round_end, 10.0, body_holes=(sw.hole("face", 50, 60),))
    part = replace(part, body=replace(part.body, length=300.0))
    file, _, _ = one(part)
    (outline,) = file.contours
    radii = sorted({abs(p[2]) for p in outline.points})
    assert radii == [0.0, 100.0]
    assert area(outline) == pytest.approx(200 * 200 + math.pi * 100**2 / 2, rel=1e-4)
    assert sum(1 for p in outline.points if p[2]) == 2


def test_a_concave_arc_has_the_other_sign():
    """A bite of a quarter circle of 50 mm in a corner: anti-clockwise outlines turn right along it."""
    bite = -math.tan(math.radians(90) / 4)
    corners = ((0, 0), (300, 0), (300, 150, bite), (250, 200), (0, 200))
    file, _, _ = one(sw.plate(corners, 10.0, body_holes=(sw.hole("face", 50, 60),)))
    (outline,) = file.contours
    assert [p[2] for p in outline.points if p[2]] == [pytest.approx(-50.0, abs=0.01)]
    assert area(outline) == pytest.approx(300 * 200 - math.pi * 50**2 / 4, rel=1e-4)


def test_a_notch_and_a_clip_are_on_every_face_they_are_on():
    notch = Notch("B", ((0, 30), (120, 30), (120, 65), (0, 65)))
    part = sw.member(L100X65, 900.0, notches=(notch,), body_holes=(sw.hole("A", 400, 65), sw.hole("B", 600, 40)))
    file, _, _ = one(part)
    by_face = {c.face: c for c in file.contours}
    assert set(by_face) == {"v", "u"}
    assert abs(area(by_face["v"])) == pytest.approx(900 * 100)
    assert area(by_face["u"]) == pytest.approx(900 * 65 - 120 * 35)
    # The notch is at the toe of the second leg: q from 0 to 35, where the heel is at 65.
    inner = [p for p in by_face["u"].points[:-1] if p[1] == 35.0]
    assert len(inner) == 2


@pytest.mark.parametrize(
    "section", [sw.IPE200, sw.U160, sw.T100, sw.RHS120, L100X65, sw.C200], ids=lambda s: s.designation
)
def test_outlines_of_every_face_keep_their_area_and_direction(section):
    """The reader refuses a wrong direction; areas are those of the piece's outlines."""
    cut = sw.skew(100.0, 25.0, end="left", toward=(0.6, 0.8))
    face = shapes.faces(section)[0]
    part = sw.member(section, 1000.0, left=(cut,), body_holes=(sw.hole(face.name, 500, face.high * 0.3),))
    file, piece, _ = one(part)
    assert len(file.contours) == len(piece.outlines)
    have = sorted(round(abs(area(c)), 0) for c in file.contours)
    want = sorted(round(shapely.Polygon(o.points).area, 0) for o in piece.outlines)
    assert have == pytest.approx(want, abs=20)


def test_a_face_that_cuts_part_has_no_file_and_a_reason():
    gap = Notch("B", ((400, -5), (500, -5), (500, 70), (400, 70)))
    part = sw.member(L100X65, 900.0, notches=(gap,), body_holes=(sw.hole("A", 100, 65),))
    _, made = make(part)
    assert "in two" in made.without["A1"]
    assert codes(made.queries) == ["machine-no-file"]
    assert made.files == {}


def test_a_shape_without_a_code_has_no_file_and_a_reason():
    _, made = make(sw.member(sw.Z200, 900.0, body_holes=(sw.hole("web", 100, 80),)))
    (reason,) = made.without.values()
    assert "code" in reason
    assert codes(made.queries) == ["machine-no-file"]
    assert made.files == {}


# ---------------------------------------------------------------- holes


SLOTTED = [
    (L100X65, "A"), (L100X65, "B"), (sw.U160, "web"), (sw.U160, "top"), (sw.U160, "bottom"), (sw.IPE200, "web"),
    (sw.IPE200, "top"), (sw.IPE200, "bottom"), (sw.T100, "stem"), (sw.T100, "bottom"), (sw.FL100, "face"),
    (sw.RHS120, "front"), (sw.RHS120, "top"), (sw.RHS120, "back"), (sw.RHS120, "bottom"),
]  # fmt: skip


def seen_from_outside(file, face, x, q):
    """(right, up) of a face's point for somebody outside, x to his right where the standard draws it so.

    Digest section 4: v and u are seen as (x, q); o and h mirrored, so that he sees -q upward with x to the right.
    """
    return (x, q) if face in "vu" else (x, -q)


def slot_ends(file, hole):
    """Centres of the end arcs of a slot on its face, (x, q)."""
    b, h, w = hole.slot
    turn = math.radians(w)
    x, up = seen_from_outside(file, hole.face, hole.x, hole.y)
    c, s = math.cos(turn), math.sin(turn)
    steps = [(i * b, j * h) for i in (0, 1) for j in ((0, 1) if h else (0,))]
    corners = [(x + along * c - aside * s, up + along * s + aside * c) for along, aside in steps]
    return [(cx, cup if hole.face in "vu" else -cup) for cx, cup in corners]


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0, 150.0])
@pytest.mark.parametrize(("section", "face"), SLOTTED, ids=lambda v: getattr(v, "designation", v))
def test_ends_of_slots_and_corners_of_rectangles_stand_where_the_model_has_them(section, face, angle):
    wall = next(f for f in shapes.faces(section) if f.name == face)
    # Beside the web or stem where there is one behind the face.
    middle = wall.low + (0.75 if wall.low < 0 else 0.5) * (wall.high - wall.low)
    other = next((f for f in shapes.faces(section) if f.name != face), wall)
    holes = [
        sw.hole(face, 200, middle + 3, 12, slot_length=32, slot_angle=angle, kind="slot"),
        sw.hole(face, 500, middle - 2, 6, slot_length=30, width=20, slot_angle=angle, kind="rectangle"),
        sw.hole(other.name, 800, other.low + 0.3 * (other.high - other.low), 14),
    ]
    part = sw.member(section, 1000.0, body_holes=tuple(holes))
    takeoff, made = make(part)
    piece = takeoff.pieces[0]
    (text,) = made.files.values()
    file = nc_reader.read(text)
    slots = [h for h in file.holes if h.slot]
    assert len(slots) == 2
    for mine in piece.holes:
        if mine.kind == "round":
            continue
        d = 12 if mine.kind == "slot" else 6
        its = next(h for h in slots if h.diameter == d)
        # By hand: end arcs of the piece's slot in its own face, as seen from outside by somebody for whom across runs
        # up; then the file's ends as seen from outside. One may be turned by half a circle against the other, never
        # mirrored: distances to the plain hole's x and to the face's own middle decide.
        lean = math.radians(mine.slot_angle)
        b, h = mine.slot_length - d, (mine.width - d if mine.kind == "rectangle" else 0.0)
        ends = [(mine.x + i * b / 2 * math.cos(lean) - j * h / 2 * math.sin(lean),
                 mine.across + i * b / 2 * math.sin(lean) + j * h / 2 * math.cos(lean))
                for i in (-1, 1) for j in ((-1, 1) if h else (0,))]  # fmt: skip
        have = sorted(slot_ends(file, its))
        want = sorted((x, by_hand_q(section, face, across)) for x, across in ends)
        assert np.array(have) == pytest.approx(np.array(want), abs=0.02)


def by_hand_q(section, face, across):
    """q of a point across a face, from the digest's sections 5 and 6 and the contract's table of faces."""
    return {
        # Angle: v y = g; u y = b - g.
        "A": across, "B": section.b - across,
        # Channel and I: web from the bottom; flanges from the toes (channel) or the edge behind (I).
        "web": across,
        "top": section.b - across if section.shape != "I" else section.b / 2 + across,
        "bottom": {"I": section.b / 2 + across, "T": section.b / 2 - across}.get(section.shape, section.b - across),
        # T: the flange is the top, so the stem's toe is at the bottom.
        "stem": section.h - across,
        "face": across, "front": across, "back": across,
    }[face]  # fmt: skip


def test_askew_slots_on_faces_seen_from_above_are_asked_about():
    slot = sw.hole("top", 200, 30, 12, slot_length=32, slot_angle=30, kind="slot")
    _, _, asked = one(sw.member(sw.U160, 1000.0, body_holes=(slot, sw.hole("web", 700, 60))))
    assert "Slots of piece mark" in asked[0].message
    straight = replace(slot, slot_angle=0.0)
    _, _, quiet = one(sw.member(sw.U160, 1000.0, body_holes=(straight, sw.hole("web", 700, 60))))
    assert (codes(asked), codes(quiet)) == (["machine-slot-sense"], [])


def test_an_opening_with_sharp_corners_is_an_inner_contour():
    opening = sw.hole("face", 150, 100, 0.0, slot_length=60, width=40, slot_angle=0, kind="rectangle")
    file, _, _ = one(sw.plate(sw.rectangle(300, 200), 10.0, body_holes=(opening, sw.hole("face", 40, 50))))
    (inner,) = [c for c in file.contours if c.code == "IK"]
    assert len(inner.points) == 5
    assert area(inner) == pytest.approx(-60 * 40)
    assert [h.diameter for h in file.holes] == [18.0]


def sunk_plate(*kinds):
    """A plate with holes countersunk from 18 to 34; they open toward the viewer of the body's frame."""
    holes = [sw.hole("face", 60 + 90 * k, 50 + 20 * k, 18, kind=kind, width=34.0 if kind == "countersunk" else 0.0)
             for k, kind in enumerate(kinds)]  # fmt: skip
    return sw.plate(sw.rectangle(400, 180), 12.0, body_holes=tuple(holes), grade="S235JR")


def mouths(part):
    """Places in the model of the countersinks' mouths."""
    from takeoff.sections.faces import faces

    (face,) = faces(part.body.section)
    return part.frame.to_model(np.array([(h.x, face.origin[0], h.across) for h in part.body.holes if h.width]))


@pytest.mark.parametrize("turned", [False, True])
def test_countersinks_open_toward_the_side_in_front_and_the_hole_goes_through(turned):
    """Digest section 7: s, diameter at the surface, depth, 0 0 and the angle; the hole through follows in its place.

    Depth by hand: (34 - 18) / 2 / tan 45 = 8.
    """
    part = sunk_plate("countersunk", "round", "countersunk")
    part = sw.mirrored(part) if turned else part
    _, made = make(part)
    assert codes(made.queries) == ["machine-countersink-angle"]
    (text,) = made.files.values()
    file = nc_reader.read(text)
    sunk = [h for h in file.holes if h.code == "s"]
    through = [h for h in file.holes if not h.code]
    assert (len(sunk), len(through)) == (2, 3)
    for hole in sunk:
        assert (hole.diameter, hole.depth, hole.countersink_deg, hole.face) == (34.0, 8.0, 90.0, "v")
        follower = file.holes[file.holes.index(hole) + 1]
        assert (follower.x, follower.y, follower.code, follower.diameter) == (hole.x, hole.y, "", 18.0)
    # In space: x right, q up and the side in front toward the viewer make a right-handed frame. The mouths of the
    # countersinks, the plain hole and the depth below them must fit the model without a mirror.
    plain = next(h for h in through if (h.x, h.y) not in {(s.x, s.y) for s in sunk})
    spots = sorted((h.x, h.y) for h in sunk)
    source = np.array([(x, y, z) for x, y in (*spots, (plain.x, plain.y)) for z in (12.0, 0.0)])
    fits = []
    there = mouths(part)
    odd = next(h for h in part.body.holes if not h.width)
    base = part.frame.to_model(np.array([(odd.x, 0.0, odd.across)]))[0]
    into = 12.0 * part.frame.axes[1]
    for a, b in ((0, 1), (1, 0)):
        target = np.array([p + k * into for p in (there[a], there[b], base) for k in (0, 1)])
        fits.append(rigid_rest(source, target))
    assert min(fits) < EXACT


def rigid_rest(source, target):
    """What a turn and a shift leave of the distance between two rows of points (Kabsch's method, no mirror)."""
    a, b = source - source.mean(axis=0), target - target.mean(axis=0)
    u, _, vt = np.linalg.svd(a.T @ b)
    turn = u @ np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    return float(np.abs(a @ turn - b).max())


def test_a_countersink_without_a_diameter_at_the_surface_is_drilled_through_and_asked_about():
    part = sw.plate(sw.rectangle(400, 180), 12.0, body_holes=(sw.hole("face", 60, 50, 18, kind="countersunk"),))
    file, _, asked = one(part)
    assert codes(asked) == ["machine-countersink-left-out"]
    assert [(h.code, h.diameter) for h in file.holes] == [("", 18.0)]


@pytest.mark.parametrize(("t", "written"), [(8.0, True), (7.9, False)])
def test_a_countersink_deeper_than_the_wall_is_not_written(t, written):
    """From 18 to 34 at 90 degrees is 8 mm deep."""
    hole = sw.hole("face", 60, 50, 18, kind="countersunk", width=34.0)
    file, _, asked = one(sw.plate(sw.rectangle(400, 180), t, body_holes=(hole,)))
    assert any(h.code == "s" for h in file.holes) == written
    assert codes(asked) == ["machine-countersink-angle" if written else "machine-countersink-left-out"]


def test_a_blind_hole_has_its_depth():
    part = sw.plate(sw.rectangle(400, 180), 12.0, body_holes=(sw.hole("face", 60, 50, 18, kind="blind", depth=7.0),))
    _, made = make(part)
    (text,) = made.files.values()
    (hole,) = nc_reader.read(text).holes
    assert (hole.diameter, hole.depth, hole.code) == (18.0, 7.0, "")


def test_what_the_line_cannot_make_is_left_out_with_a_query():
    part = sw.member(L100X65, 900.0, body_holes=(sw.hole("A", 70, 65), sw.hole("A", 400, 22)))
    file, piece, asked = one(part, skip=lambda piece, hole: "it is too near the heel" if hole.across < 30 else None)
    assert len(file.holes) == 1
    (question,) = asked
    assert question.code == "machine-hole-left-out"
    assert "too near the heel" in question.message
    left_out = next(h for h in piece.holes if h.across < 30)
    assert left_out.label in question.message


def test_a_mark_s_left_out_holes_are_one_query_by_reason():
    holes = [sw.hole("A", x, 22) for x in (70, 170, 270)] + [sw.hole("A", 400, 65, 30), sw.hole("B", 500, 40)]
    part = sw.member(L100X65, 900.0, body_holes=tuple(holes))
    reasons = {22.0: "it is too near the heel", 65.0: "the line has no such punch"}
    file, piece, asked = one(part, skip=lambda piece, hole: reasons.get(hole.across))
    assert [h.face for h in file.holes] == ["u"]
    (question,) = asked
    near = ", ".join(h.label for h in piece.holes if h.across == 22)
    (big,) = (h.label for h in piece.holes if h.across == 65)
    assert f"{near}: it is too near the heel; {big}: the line has no such punch" in question.message
    told = [c for c in file.comments if c.startswith("NOT IN THIS FILE")]
    assert told == [f"NOT IN THIS FILE: holes {near}", f"NOT IN THIS FILE: holes {big}"]


def test_all_holes_left_out_leave_no_empty_block():
    part = sw.member(L100X65, 900.0, body_holes=(sw.hole("A", 70, 65),))
    file, _, asked = one(part, skip=lambda piece, hole: "the line has no such punch")
    assert file.holes == []
    assert len(asked) == 1


# ---------------------------------------------------------------- stamps


def box_of(stamp, file, rules):
    """The stamp's box (x0, q0, x1, q1)."""
    wide = len(stamp.text) * rules.stamp.width_mm
    assert stamp.angle == 0.0
    # The text's lower left corner as seen from outside: on o and h, q runs downward there.
    q = stamp.y if stamp.face in "vu" else stamp.y - stamp.height
    return stamp.x, q, stamp.x + wide, q + stamp.height


@pytest.mark.parametrize("gauge", [20, 35, 50, 65, 80])
def test_stamps_keep_clear_of_holes_ends_and_edges(gauge):
    holes = tuple(sw.hole("A", x, gauge, 22) for x in range(30, 880, 60))
    file, _, asked = one(sw.member(L100X65, 900.0, body_holes=holes))
    assert asked == ()
    (stamp,) = file.stamps
    x0, q0, x1, q1 = box_of(stamp, file, RULES)
    clear = RULES.stamp.clear_mm
    assert clear <= x0 < x1 <= 900 - clear
    assert clear <= q0 < q1 <= file.band(stamp.face) - clear
    box = shapely.box(x0, q0, x1, q1)
    for hole in file.holes:
        if hole.face == stamp.face:
            assert box.distance(shapely.Point(hole.x, hole.y)) >= hole.diameter / 2 + clear - 0.01


@pytest.mark.parametrize("section", [sw.U160, sw.IPE200, sw.T100, sw.RHS120], ids=lambda s: s.designation)
def test_stamps_go_to_another_face_where_the_first_is_full(section):
    """Web, stem and front wall are full of holes; a flange, seen from above or below, takes the stamp."""
    full, other = shapes.faces(section)[:2]
    last = full.high - (15 if full.name == "stem" else 27)
    rows = np.linspace(27, last, math.ceil((last - 27) / 36) + 1).tolist()
    holes = [sw.hole(full.name, x, across, 26) for x in range(30, 880, 40) for across in rows]
    holes += [sw.hole(other.name, x, other.low + 0.8 * (other.high - other.low), 14) for x in range(30, 880, 90)]
    file, _, _ = one(sw.member(section, 900.0, body_holes=tuple(holes)))
    (stamp,) = file.stamps
    x0, q0, x1, q1 = box_of(stamp, file, RULES)
    clear = RULES.stamp.clear_mm
    assert clear <= x0 < x1 <= 900 - clear
    assert clear <= q0 < q1 <= file.band(stamp.face) - clear
    assert stamp.face in "ou"
    box = shapely.box(x0, q0, x1, q1)
    near = [box.distance(shapely.Point(h.x, h.y)) - h.diameter / 2 for h in file.holes if h.face == stamp.face]
    assert min(near, default=clear) >= clear - 0.01


def test_stamps_keep_clear_of_skew_ends():
    left = sw.skew(100.0, 45.0, end="left")
    file, _, _ = one(sw.member(L100X65, 500.0, left=(left,), body_holes=(sw.hole("A", 300, 50), sw.hole("B", 400, 40))))
    (stamp,) = file.stamps
    x0, q0, x1, q1 = box_of(stamp, file, RULES)
    face = next(c for c in file.contours if c.face == stamp.face)
    steel = shapely.Polygon([p[:2] for p in face.points])
    assert steel.buffer(-RULES.stamp.clear_mm + 0.01).contains(shapely.box(x0, q0, x1, q1))


def test_no_room_for_a_stamp_is_asked_about():
    file, _, asked = one(
        sw.member(L100X65, 50.0, body_holes=(sw.hole("A", 20, 60, 26), sw.hole("B", 25, 38, 22))),
        replace(RULES, stamp=replace(RULES.stamp, height_mm=25.0, width_mm=20.0)),
    )
    assert file.stamps == []
    assert codes(asked) == ["machine-mark-no-room"]


def test_a_stamp_can_be_switched_off_or_worded():
    part = sw.member(L100X65, 900.0, body_holes=(sw.hole("A", 70, 65),))
    assert one(part, replace(RULES, nc=replace(RULES.nc, marking="")))[0].stamps == []
    assert one(part, replace(RULES, line=replace(RULES.line, stamps=False)))[0].stamps == []
    worded = replace(RULES, nc=replace(RULES.nc, marking="{mark}/{revision}"))
    worded = replace(worded, documents=replace(worded.documents, revision="É 2"))
    assert one(part, worded)[0].stamps[0].text == "A1/E 2"


def test_work_that_no_block_holds_is_told_in_comments():
    takeoff, _ = make(sw.member(L100X65, 900.0, body_holes=(sw.hole("A", 70, 65),)))
    piece = replace(
        takeoff.pieces[0],
        heel_grinds=(HeelGrind(0.0, 250.0, 10.0, 0.0, 1),),
        flange_bends=(FlangeBend("B", 600.0, 900.0, -4.5, 1),),
        holes=tuple(replace(hole, make="punch and ream", punch_mm=16.0) for hole in takeoff.pieces[0].holes),
    )
    file = nc_reader.read(nc_text(piece, RULES, text="A1")[0])
    told = [c for c in file.comments if c.startswith("NOT IN THIS FILE")]
    assert any("heel ground from 0.0 to 250.0" in c for c in told)
    assert any("leg B closed by 4.5 degrees from 600.0 to 900.0" in c for c in told)
    assert "REAM AFTER: 1 hole punched 16, to be reamed to 18." in file.comments


def test_a_stamp_that_is_too_long_is_cut_and_asked_about():
    """Forty characters by the standard; the header takes eighty."""
    mark = "M" * 50
    part = sw.member(L100X65, 900.0, mark=mark, body_holes=(sw.hole("A", 70, 65),))
    file, piece, asked = one(part)
    assert (piece.mark, file.mark) == (mark, mark)
    assert len(file.stamps[0].text) == 40
    assert "machine-stamp-text" in codes(asked)


# ---------------------------------------------------------------- the set


def test_held_pieces_have_no_file():
    good = sw.member(L100X65, 900.0, body_holes=(sw.hole("A", 70, 65),))
    bad = sw.member(L100X65, 800.0, status=HELD, reason="It is not certain.", body_holes=(sw.hole("A", 70, 65),))
    takeoff, made = make(good, bad)
    held = next(p.mark for p in takeoff.pieces if p.status == HELD)
    assert made.without == {held: "it is held"}
    assert len(made.files) == 1


def test_the_order_of_the_model_changes_no_byte():
    parts = [
        sw.member(L100X65, 900.0, body_holes=(sw.hole("A", 70, 65),)),
        sw.member(sw.U160, 700.0, body_holes=(sw.hole("web", 70, 65),)),
        sw.plate(((0, 0), (400, 0), (400, 150), (330, 220), (0, 220)), 12.0, body_holes=(sw.hole("face", 50, 40),)),
    ]
    assert make(*parts)[1].files == make(*reversed(parts))[1].files


def test_round_bars_and_tubes_have_their_own_codes():
    """Digest section 3: RO is the round tube, RU the solid round."""
    tube, bar = sw.member(sw.CHS114, 900.0, body_holes=(sw.hole("wall", 70, 0),)), sw.member(sw.RND30, 700.0)
    files = [nc_reader.read(text) for text in make(tube, bar)[1].files.values()]
    assert {(f.code, f.height, f.web) for f in files} == {("RO", 114.3, 5.0), ("RU", 30.0, 0.0)}


@pytest.mark.parametrize("across", [0.0, 100.0])
def test_a_slot_round_a_tube_stays_within_the_development(across):
    """The datum line goes through the first hole, so that a slot's first end may lie before it: by hand 10 mm."""
    slot = sw.hole("wall", 300, across, 12, slot_length=32, slot_angle=90, kind="slot")
    file, piece, _ = one(sw.member(sw.CHS114, 900.0, body_holes=(slot, sw.hole("wall", 500, across + 40, 16))))
    (mine,) = [h for h in file.holes if h.slot]
    (own,) = [h for h in piece.holes if h.slot_length]
    assert mine.y == pytest.approx((own.across - 10.0) % (math.pi * 114.3), abs=0.01)


def test_a_sharp_opening_across_the_datum_line_of_a_tube_is_left_out():
    opening = sw.hole("wall", 300, 0.0, 0.0, slot_length=40, width=30, kind="rectangle")
    file, _, asked = one(sw.member(sw.CHS114, 900.0, body_holes=(opening, sw.hole("wall", 500, 40, 16))))
    assert file.contours == []
    (question,) = [q for q in asked if q.code == "machine-hole-left-out"]
    assert "development" in question.message


def test_a_cut_along_the_piece_leaves_a_narrow_leg():
    """A cut along the piece that takes leg B away but for its thickness: 8 mm of u are left, at the heel."""
    along = Plane((0.0, 8.0, 0.0), (0.0, 1.0, 0.0))
    file, _, _ = one(sw.member(L100X65, 900.0, right=(along,), body_holes=(sw.hole("A", 70, 65),)))
    rest = next(c for c in file.contours if c.face == "u")
    assert {p[1] for p in rest.points} == {57.0, 65.0}


# ---------------------------------------------------------------- arcs and chords, cut angles, marks like codes


def rounded(face, x, low, radius=30.0, steps=18, flat=1.0):
    """A notch at a leg's toe whose bottom is half a circle in steps of ten degrees; ``flat`` < 1: half an ellipse."""
    turns = [math.pi + math.pi * k / steps for k in range(steps + 1)]
    bow = [(x + radius * math.cos(a), low + flat * radius * math.sin(a)) for a in turns]
    return Notch(face, (*bow, (x + radius, 101.0), (x - radius, 101.0)))


@pytest.mark.parametrize(
    ("section", "face"),
    [(L100X65, "A"), (sw.U160, "web"), (sw.U160, "top"), (sw.RHS120, "back"), (sw.FL100, "face"), (sw.T100, "stem")],
)
def test_an_arc_drawn_in_chords_is_written_as_an_arc(section, face):
    """A notch of half a circle, radius 30, at an edge: two arcs of a quarter, whose radius and area are by hand."""
    wall = next(f for f in shapes.faces(section) if f.name == face)
    notch = rounded(face, 300.0, 70.0)
    notch = replace(notch, loop=tuple((x, a + wall.high - 100.0) for x, a in notch.loop))
    file, _piece, asked = one(sw.member(section, 900.0, notches=(notch,), body_holes=(sw.hole(face, 700, 30),)))
    assert [q for q in asked if q.code == "machine-chords"] == []
    (cut,) = [c for c in file.contours if any(p[2] for p in c.points)]
    radii = {p[2] for p in cut.points if p[2]}
    assert len(radii) == 1
    # The bite is concave: clockwise on an outline that runs anti-clockwise as seen from outside.
    assert radii.pop() == pytest.approx(-30.0, abs=0.01)
    full = 900.0 * (wall.high - wall.low)
    # The straight part of the bite is 30 high; shapely's difference cuts it a hundredth outside the edge.
    assert abs(area(cut)) == pytest.approx(full - math.pi * 30**2 / 2 - 60 * 30, abs=2.0)


def test_both_legs_hands_and_ends_keep_an_arcs_centre():
    """The arc's ends and centre in the file are those of the drawn notch, whichever way the angle lies."""
    part = sw.member(L100X65, 900.0, notches=(rounded("B", 250.0, 40.0),), body_holes=(sw.hole("A", 700, 60),))
    for mine, leg in ((part, "longer"), (sw.mirrored(part), "longer"), (part, "shorter")):
        file, _piece, _ = one(mine, replace(RULES, nc=replace(RULES.nc, v_leg=leg)))
        (cut,) = [c for c in file.contours if any(p[2] for p in c.points)]
        on = [(a, b) for a, b in pairwise(cut.points) if a[2]]
        assert cut.face == ("u" if leg == "longer" else "v")
        # Its deepest place is 40 - 30 = 10 mm from the heel, half-way along.
        heel = file.width if leg == "longer" else 0.0
        ends = [abs(heel - p[1]) for pair in on for p in pair]
        assert max(ends) == pytest.approx(40.0, abs=0.02)
        xs = sorted(p[0] for pair in on for p in pair)
        middle = (xs[0] + xs[-1]) / 2
        assert min(abs(middle - 250.0), abs(middle - 650.0)) < 0.02
        hole = file.holes[0]
        assert abs(hole.x - middle) == pytest.approx(450.0, abs=0.02)


def test_a_curve_that_is_no_arc_is_asked_about_once_a_mark():
    """Half an ellipse, as a tube cut askew leaves it."""
    notches = (rounded("A", 300.0, 70.0, flat=0.5), rounded("A", 600.0, 70.0, flat=0.5))
    file, _, asked = one(sw.member(L100X65, 900.0, notches=notches))
    assert max(len(c.points) for c in file.contours) > 30
    (question,) = asked
    assert question.code == "machine-chords"
    assert "(face A)" in question.message


def test_a_notch_with_straight_sides_has_no_chords():
    square = Notch("A", ((270.0, 70.0), (330.0, 70.0), (330.0, 101.0), (270.0, 101.0)))
    file, _, asked = one(sw.member(L100X65, 900.0, notches=(square,)))
    assert file.contours
    assert asked == ()


def test_cut_angles_have_a_comment_each_and_one_query_for_all():
    parts = [
        sw.member(L100X65, length, left=(sw.skew(0.0, 20.0, end="left"),), mark=mark)
        for mark, length in (("K1", 900.0), ("K2", 700.0))
    ]
    parts.append(sw.member(L100X65, 500.0, mark="K3"))
    takeoff, made = make(*parts)
    assert [p.mark for p in takeoff.pieces] == ["K1", "K2", "K3"]
    (question,) = [q for q in made.queries if q.code == "machine-skew-sign"]
    assert question.piece_mark == "K1"
    assert "header: 2, the first that of piece mark K1" in question.message
    for mark, name in made.names.items():
        file = nc_reader.read(made.files[name])
        told = [c for c in file.comments if "CUT ANGLES" in c]
        assert len(told) == any(file.angles) == (mark != "K3")


@pytest.mark.parametrize("mark", ["PR3", "KA1", "IN2", "SC4", "TO5", "KO6", "PU7", "UE8", "X-ST12"])
def test_marks_that_no_reader_takes_for_a_block_stay_as_they_are(mark):
    """By the standard a code stands in columns 1 and 2, where lines of the header have blanks (digest section 1)."""
    file, _, asked = one(sw.member(L100X65, 900.0, mark=mark, body_holes=(sw.hole("A", 70, 65),)))
    assert (file.mark, file.fields[1], file.stamps[0].text) == (mark, mark, mark)
    assert asked == ()


def test_all_reworded_marks_are_one_query():
    parts = [
        sw.member(L100X65, 500.0 + 50 * k, mark=mark, body_holes=(sw.hole("A", 70, 65),))
        for k, mark in enumerate(("ST12", "ST13", "Träger 7", "A4"))
    ]
    _takeoff, made = make(*parts)
    (question,) = [q for q in made.queries if q.code == "machine-mark-text"]
    for words in ('"ST12" as "_ST12" (ST12.nc)', '"ST13" as "_ST13" (ST13.nc)', '"Träger 7" as "Trager 7"'):
        assert words in question.message
    assert len(question.global_ids) == 3
    assert made.reworded == {"ST12": "_ST12", "ST13": "_ST13", "Träger 7": "Trager 7"}
    assert "A4" not in question.message


@pytest.mark.parametrize("mark", ["EN", "BO1", "ST12", "** A", "SI"])
def test_no_line_of_a_mark_begins_like_a_block_or_a_comment(mark):
    """A reader that drops blanks first looks at a line's first two letters (dstvparser 0.1.2 does)."""
    part = sw.member(L100X65, 900.0, mark=mark, body_holes=(sw.hole("A", 70, 65),))
    other = sw.member(L100X65, 500.0, mark=f"_{mark}")
    settings = replace(RULES, documents=replace(RULES.documents, job=mark))
    takeoff, made = make(part, other, settings=settings)
    read = {piece.mark: nc_reader.read(made.files[made.names[piece.mark]]) for piece in takeoff.pieces}
    assert read[f"_{mark}"].mark == f"_{mark}"
    file = read[mark]
    assert file.mark.startswith(f"_{mark}")
    assert file.mark != f"_{mark}"
    assert file.stamps[0].text.startswith(mark)
    lines = made.files[made.names[mark]].decode().split("\n")
    blocks = [line[:2] for line in map(str.strip, lines) if line[:2] in nc_reader.CODES]
    assert blocks == ["ST", "BO", "SI", "EN"]
    assert [q.piece_mark for q in made.queries if q.code == "machine-mark-text"] == [mark]


def test_a_mark_with_both_kinds_of_file_is_asked_about_its_arcs_once():
    part = sw.member(sw.FL100, 900.0, mark="K1", notches=(rounded("face", 300.0, 70.0, flat=0.5),))
    takeoff = work_out(sw.model([part]), RULES)
    machine, asked = machine_files(takeoff, RULES, nc=True, dxf=True)
    assert [made.queries[0].code for made in machine.kinds.values()] == ["machine-chords", "machine-chords"]
    (question,) = [q for q in asked.queries if q.code == "machine-chords"]
    assert question.global_ids


def test_arcs_that_are_written_as_arcs_are_not_asked_about():
    rounding = [(0.0, 0.0), (300.0, 0.0), (300.0, 150.0, math.tan(math.pi / 8)), (250.0, 200.0), (0.0, 200.0)]
    takeoff = work_out(sw.model([sw.plate(rounding)]), RULES)
    machine, asked = machine_files(takeoff, RULES, nc=True, dxf=True)
    (text,) = machine.kinds["nc"].files.values()
    assert any(radius for *_, radius in nc_reader.read(text).contours[0].points)
    assert not [q for q in asked.queries if q.code == "machine-chords"]
