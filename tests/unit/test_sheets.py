"""The printed lists, on a takeoff put together from the nouns alone."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pypdf
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from takeoff import sheets, steel
from takeoff.queries import Query
from takeoff.settings import DocumentSettings, Settings
from takeoff.sheets import (
    bands,
    bolt_list,
    cut_and_punch_pages,
    dimensions,
    furniture,
    labels,
    lengthwise,
    piece_notes,
    piece_sheet,
    query_list,
    views,
    weight_list,
)
from takeoff.sheets.page import DIMENSION_TEXT, LEAST_TEXT, Disc, Line, Link, Page, Text, extent
from takeoff.steel import (
    Assembly,
    Bolt,
    BoltLine,
    BoltRow,
    BoughtOut,
    Cut,
    Face,
    FaceOutline,
    Fastener,
    Hole,
    Joint,
    Member,
    Model,
    Passage,
    Piece,
    Ply,
    Section,
    Takeoff,
    Vertex,
)
from takeoff.units import millimetres

L100 = Section("angle", "L100×75×8", 100, 75, 8, r1=10, r2=5, mass_kg_per_m=10.6, standard="EN 10056-1")
L90 = Section("angle", "L90×90×8", 90, 90, 8, mass_kg_per_m=10.9, standard="EN 10056-1")
U160 = Section("channel", "UPN 160", 160, 65, 7.5, 10.5, slope=0.08, mass_kg_per_m=18.8, standard="EN 10365")
IPE200 = Section("I", "IPE 200", 200, 100, 5.6, 8.5, mass_kg_per_m=22.4, standard="EN 10365")
FL60 = Section("flat", "FL60×8", 60, 8, 8, mass_kg_per_m=3.77)
PL12 = Section("plate", "PL12", 340, 12, 12)
SHS80 = Section("RHS", "SHS 80×5", 80, 80, 5, mass_kg_per_m=11.5)


def angle_faces(section: Section) -> tuple[Face, ...]:
    return (
        Face("A", (0, 0), (0, 1), (1, 0), section.tw, 0, section.h),
        Face("B", (0, 0), (1, 0), (0, 1), section.tw, 0, section.b),
    )


def channel_faces(s: Section) -> tuple[Face, ...]:
    return (
        Face("web", (0, 0), (0, 1), (1, 0), s.tw, 0, s.h),
        Face("top", (0, s.h), (1, 0), (0, -1), s.tf, 0, s.b),
        Face("bottom", (0, 0), (1, 0), (0, 1), s.tf, 0, s.b),
    )


def i_faces(s: Section) -> tuple[Face, ...]:
    return (
        Face("web", (-s.tw / 2, 0), (0, 1), (1, 0), s.tw, 0, s.h),
        Face("top", (0, s.h), (-1, 0), (0, -1), s.tf, -s.b / 2, s.b / 2),
        Face("bottom", (0, 0), (-1, 0), (0, 1), s.tf, -s.b / 2, s.b / 2),
    )


def flat_faces(s: Section) -> tuple[Face, ...]:
    return (Face("face", (0, 0), (0, 1), (1, 0), s.tw, 0, s.h),)


def square(face: Face, length: float) -> FaceOutline:
    return FaceOutline(
        face.name, np.array([(0, face.low), (length, face.low), (length, face.high), (0, face.high)], dtype=float)
    )


def piece(mark: str, section: Section, length: float, holes=(), faces=None, outlines=None, **more) -> Piece:
    made = {"angle": angle_faces, "channel": channel_faces, "I": i_faces, "flat": flat_faces, "plate": flat_faces}
    faces = faces if faces is not None else made[section.shape](section)
    outlines = outlines if outlines is not None else tuple(square(face, length) for face in faces)
    values = {
        "grade": "S355J2",
        "finish": "hot dip galvanised",
        "gross": section.mass_kg_per_m * length / 1000,
        "net": section.mass_kg_per_m * length / 1000 - 0.02 * len(holes),
        "surface": 0.35 * length / 1000,
        "cuts": (),
    }
    return Piece(mark, section, length=length, holes=tuple(holes), faces=faces, outlines=outlines, **(values | more))


def holes(face: str, places, diameter=18.0, bolt="M16", lines=None, start=1, **more) -> list[Hole]:
    gauges = sorted({across for _, across in places})
    return [
        Hole(f"{face[0].upper()}{i}", face, x, y, diameter, gauge_line=gauges.index(y) + 1, bolt=bolt, **more)
        for i, (x, y) in enumerate(sorted(places), start=start)
    ]


def pieces() -> list[Piece]:
    leg = [(30 + 50 * i, 45) for i in range(4)] + [(5970 - 50 * i, 45) for i in range(4)] + [(3000, 45), (3050, 65)]
    skew = (
        FaceOutline("A", np.array([(0, 0), (6000, 0), (5958.5, 100), (46.6, 100)], dtype=float)),
        FaceOutline("B", np.array([(0, 0), (6000, 0), (6000, 75), (0, 75)], dtype=float)),
    )
    cuts = (
        Cut("left", "A", "skew", 46.6, 100, 25.0, 46.6),
        Cut("right", "A", "skew", 5958.5, 100, 22.5, 41.5),
    )
    other = holes("B", [(60, 40), (110, 40), (5890, 40.3), (5940.5, 40)], 22, "M20")
    legs = holes("A", leg) + other
    short = holes("A", [(30, 50), (80, 50), (1170, 50), (1220, 50)]) + holes("B", [(600, 50)], 14, "M12")
    web = holes("web", [(40, 50), (40, 110), (1460, 50), (1460, 110)], 22, "M20")
    flange = holes("top", [(200 + 150 * i, 35) for i in range(8)], 18, "M16") + holes("bottom", [(750, 35)], 14, "M12")
    beam = holes("web", [(50 + 60 * i, y) for i in range(2) for y in (50, 100, 150)], 22, "M20") + holes(
        "top", [(300, -28), (300, 28), (2700, -28), (2700, 28)]
    )
    flat = holes("face", [(30, 30), (1105, 30), (2180, 30)])
    plate_holes = holes("face", [(40 + 60 * i, 40 + 55 * j) for i in range(5) for j in range(4)], 18, "M16")
    slots = [
        Hole("F21", "face", 420, 100, 18, 40, 30, gauge_line=0, bolt="M16", source="opening", kind="slot"),
        Hole("F22", "face", 420, 220, 0, 60, 90, 30, source="opening", kind="rectangle"),
    ]
    outline = (
        Vertex(0, 0), Vertex(480, 0), Vertex(520, 40, 0.0), Vertex(520, 290, 0.4142), Vertex(470, 340),
        Vertex(120, 340), Vertex(0, 260),
    )  # fmt: skip
    crowded = [(20 + 23.5 * i, 30 + 25 * (i % 3)) for i in range(250)]
    return [
        piece("A1", L100, 6000, legs, outlines=skew, cuts=cuts, opposite_hand_of="A2", members=tuple(range(8))),
        piece("A2", L100, 6000, legs, outlines=skew, cuts=cuts, opposite_hand_of="A1", members=tuple(range(8, 16))),
        piece("A3", L90, 1250, short, members=(16, 17), model_marks=("ŁĄCZNIK-7", "Ω-4")),
        piece("A4", L90, 6000, holes("A", crowded), members=(18,)),
        piece("C1", U160, 1500, web + flange, members=(19, 20)),
        piece("B1", IPE200, 3000, beam, members=(21,)),
        piece("F1", FL60, 2210, flat, members=(22, 23, 24)),
        piece("P1", PL12, 520, plate_holes + slots, outline=outline, members=(25, 26), gross=16.6, net=14.2,
              cuts=tuple(Cut("edge", "face", "outline", v.x, v.across) for v in outline)),
        piece("A5", L90, 820, short[:2], members=(27,), status=steel.HELD,
              reasons=("Hole A2 runs 3 mm off the edge of leg A.",)),
        piece("X1", PL12, 300, (), faces=(), outlines=(), members=(28,), status=steel.HELD,
              reasons=("Its body is curved and cannot be unfolded.",)),
    ]  # fmt: skip


def example() -> Takeoff:
    made = pieces()
    marks = [p.mark for p in made for _ in p.members]
    members = tuple(Member(f"{i:022d}", "IfcMember", f"član {i}") for i in range(len(marks)))
    fasteners = tuple(
        Fastener(f"F{i:021d}", "IfcMechanicalFastener", diameter=16.0, length=45.0, grade="8.8",
                 bolts=(Bolt((0, 0, 0), (0, 0, 1), 45),))
        for i in range(12)
    )  # fmt: skip
    plies = (Ply(0, "A", 0, 8, 30, 45, 0), Ply(16, "A", 8, 16, 30, 50, 0))
    passages = tuple(Passage(i, 0, plies, 16.0, 16.0) for i in range(12))
    joints = tuple(Joint(n, (0, 16), tuple(range(2 * n - 2, 2 * n)), n, 1 if n < 6 else 0) for n in range(1, 7))
    rows = (
        *(BoltRow(i, 1, 45.0, 16.0, 16.0, (0, 16), i // 2 + 1, "M1" if i < 8 else "", "listed") for i in range(11)),
        BoltRow(11, 1, None, None, None, (0,), None, "", "held", "it passes through one part only"),
    )
    queries = (
        Query("hole-off-edge", "hold", "Hole A2 of A5 runs 3 mm off the edge of leg A.",
              "Ask the designer for the gauge.", "A5", ("0" * 22,), "hole-off-edge"),
        Query("shape-curved", "hold", "The body of X1 is curved.", "Send a drawing of it.", "X1", ("1" * 22,)),
        Query("gap-in-grip", "check", "A gap of 3 mm stands between A1 and A3.", "Add a packer.", "A1",
              tuple(f"{i:022d}" for i in range(30)), "gap-in-grip"),
        Query("clearance-assumed", "assumed", "Clearance 2 mm for M16 from the table.", "Confirm.", "", (),
              "clearance-assumed"),
    )  # fmt: skip
    return Takeoff(
        model=Model("maszt-święty-Ωμέγα.ifc", "IFC4", "9f86d081884c7d659a2feaa0c55ad015", "2026-03-01T10:00:00",
                    members, fasteners, application="a text editor", length_unit="mm"),
        pieces=tuple(made),
        assemblies=(
            Assembly("M1", 4, (("A1", 2), ("A2", 2), ("A3", 1)), 8, 270.0, 268.5, 1.2, 9.5),
            Assembly("loose", 1, (("A4", 1), ("P1", 2), ("A5", 1)), 0, 110.0, 104.0, 0.0, 3.1),
        ),
        joints=joints,
        passages=passages,
        bolt_rows=rows,
        bolt_lines=(
            BoltLine(16.0, 45.0, "8.8", "ISO 4014", 11, 2, 13, 11, 22, 1.54),
            BoltLine(20.0, None, "8.8", "", 4, 2, 6, None, None, None),
        ),
        bought_out=(BoughtOut("anchor", "M24 × 600", 8, ()),),
        member_marks=tuple(marks),
        member_assemblies=tuple("M1" for _ in marks),
        member_status=tuple("listed" for _ in marks),
        member_reasons=tuple("" for _ in marks),
        queries=queries,
        balance={
            "parts_in_model": 33, "parts_listed": 27, "parts_held": 2, "parts_bought_out": 1, "parts_left_out": 3,
            "fasteners_in_model": 12, "bolts_in_model": 12, "bolts_listed": 11, "bolts_held": 1, "bolts_left_out": 0,
            "bolt_holes": 24, "plies_over_bolts": 24, "openings_in_model": 2, "gross_weight_kg": 1190.4,
            "net_weight_kg": 1184.25, "net_weight_from_members_kg": 1184.25,
        },
        rules=("hole clearance EN 1090-2 Table 11", "masses per metre EN 10056-1, EN 10365, else computed",
               "same piece within 0.5 mm", "bolt length: grip + nut + washer + two threads"),
    )  # fmt: skip


SETTINGS = Settings()


# --- the pages as positions -------------------------------------------------------------------------------------


def check_page(page: Page) -> None:
    """Nothing outside the page, nothing too small to read, no two texts on one another."""
    for item in page.items:
        x0, y0, x1, y1 = extent([item])
        ghost = isinstance(item, Text) and item.ghost
        assert ghost or (x0 >= 0 and y0 >= 0 and x1 <= page.width and y1 <= page.height), item
    texts = [text for text in page.texts() if not text.ghost and text.text]
    for text in texts:
        assert text.size >= LEAST_TEXT - 1e-9, text
        assert text.size >= DIMENSION_TEXT - 1e-9 or text.angle == 0.0, text
    boxes = sorted(((text.box(), text) for text in texts), key=lambda pair: pair[0])
    for i, (a, first) in enumerate(boxes):
        for b, second in boxes[i + 1 :]:
            if b[0] >= a[2]:
                break
            over = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
            # boxes hold ascent and descent that no letter fills both: half a point is no collision
            assert min(over) <= 0.5, (first, second)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_nothing_overlaps_or_leaves_the_page(paper):
    settings = Settings(documents=DocumentSettings(job="Maszt Żuraw", revision="B", paper=paper))
    takeoff = example()
    for document in (cut_and_punch_pages, bolt_list, weight_list, query_list):
        for page in document.compose(takeoff, settings):
            check_page(page)


@st.composite
def crowded(draw) -> Piece:
    section = draw(st.sampled_from([L100, L90, FL60, PL12, IPE200, U160]))
    length = draw(st.floats(150, 12_000))
    made = {"angle": angle_faces, "channel": channel_faces, "I": i_faces, "flat": flat_faces, "plate": flat_faces}
    found = []
    for face in made[section.shape](section):
        low, high = face.low + 8, face.high - 8
        place = st.tuples(st.floats(8, length - 8), st.sampled_from([low, (low + high) / 2, high - 0.3, high]))
        for n, (x, across) in enumerate(sorted(draw(st.lists(place, max_size=110)))):
            diameter = draw(st.sampled_from([14.0, 18.0, 22.0]))
            found.append(Hole(f"{face.name[0].upper()}{n + 1}", face.name, x, across, diameter, bolt="M16"))
    return piece("Z9", section, length, found, members=(0,))


@given(crowded())
@hypothesis_settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
def test_crowded_holes_stay_legible_and_every_figure_is_printed(made):
    head = furniture.imprint(example(), SETTINGS, "Cut and punch")
    pages = piece_sheet.compose(made, (), (), head)
    for page in pages:
        check_page(page)
    printed = [text.text for page in pages for text in page.texts()]
    for hole in made.holes:
        assert millimetres(hole.x) in printed
        assert hole.label in printed
    upright = [text for page in pages for text in page.texts() if text.angle == 90.0]
    assert any(text.text == millimetres(made.length) and text.bold for text in upright)


@given(crowded())
@hypothesis_settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
def test_running_dimensions_begin_at_nought_and_close_to_the_length(made):
    box = (60.0, 250.0, 810.0, 480.0)
    lines: dict[str, list[str]] = {}
    for stretch in views.plan(made, box):
        drawn = views.compose(made, box, stretch)
        for face, figures in drawn.figures.items():
            lines.setdefault(face, []).extend(figures)
    for face, figures in lines.items():
        assert figures[0] == "0"
        assert figures[-1] == millimetres(made.length)
        values = [float(figure) for figure in figures]
        assert values == sorted(values)
        # from the datum, not summed: the very figures of the holes, rounded one by one
        wanted = {millimetres(hole.x) for hole in made.holes if hole.face == face}
        assert wanted <= set(figures)


def test_skew_end_figures_name_heel_and_toe():
    leg = pieces()[0]
    box = (60.0, 250.0, 810.0, 480.0)
    drawn = [views.compose(leg, box, stretch) for stretch in views.plan(leg, box)]
    assert drawn[0].figures["A"][:4] == ["0", "30", "46.6 toe", "80"]
    # toe of leg A: 5958.5 - 46.6 = 5911.9, counted by hand
    words = [row.cells[0] for row in piece_notes.notes(leg, ())]
    assert any("heel 6000 long" in line and "toe 5911.9 long, x 46.6 to 5958.5" in line for line in words)


def test_skew_angles_stand_on_the_drawing():
    leg = pieces()[0]
    box = (60.0, 250.0, 810.0, 480.0)
    (stretch,) = views.plan(leg, box)
    words = [item.text for item in views.compose(leg, box, stretch).items if isinstance(item, Text)]
    assert "25°" in words
    assert "22.5°" in words


@given(st.lists(st.tuples(st.floats(20, 480), st.floats(20, 180), st.floats(2, 12)), max_size=50))
@hypothesis_settings(deadline=None)
def test_a_hole_name_is_nearest_to_its_own_hole(places):
    spots = [labels.Spot(Hole(f"A{n}", "A", x, y, 18.0), x, y, reach) for n, (x, y, reach) in enumerate(sorted(places))]
    items, lost = labels.label([spots], [], (0.0, 0.0, 500.0, 200.0))
    assert sum(isinstance(item, Text) for item in items) + len(lost) == len(spots)
    for before, text in pairwise([None, *items]):
        if isinstance(text, Line):
            continue
        x0, y0, x1, y1 = text.box()
        if isinstance(before, Line):
            # a leader says whose it is: it begins at the hole's symbol and ends at the name
            own = next(spot for spot in spots if spot.hole.label == text.text)
            assert math.hypot(before.x1 - own.x, before.y1 - own.y) == pytest.approx(max(own.reach, 1.5) + 0.5)
            assert x0 - 3 <= before.x2 <= x1 + 3
            assert y0 - 3 <= before.y2 <= y1 + 3
            continue
        own = next(spot for spot in spots if spot.hole.label == text.text)
        corners = [(x, y) for x in (x0, x1) for y in (y0, y1)]
        if all(math.hypot(x - own.x, y - own.y) <= own.reach + 1e-6 for x, y in corners):
            continue  # inside its own symbol
        away = {
            spot.hole.label: math.hypot(max(x0 - spot.x, spot.x - x1, 0.0), max(y0 - spot.y, spot.y - y1, 0.0))
            - spot.reach
            for spot in spots
        }
        assert min(away, key=lambda label: away[label]) == text.text
        assert min(away.values()) > -0.51
    if len(spots) == 1:
        assert not lost


def test_a_break_is_drawn_only_where_there_is_no_hole():
    leg = pieces()[0]
    box = (60.0, 250.0, 810.0, 480.0)
    (stretch,) = views.plan(leg, box)
    drawn = views.compose(leg, box, stretch)
    assert drawn.manner == lengthwise.BROKEN
    note = next(t.text for t in drawn.items if isinstance(t, Text) and "Scale 1:" in t.text)
    assert "broken out" in note


def test_length_that_cannot_be_broken_is_compressed_and_says_so():
    long = piece("A9", L90, 6000, holes("A", [(60 + 150 * i, 50) for i in range(40)]), members=(0,))
    box = (60.0, 250.0, 810.0, 480.0)
    (stretch,) = views.plan(long, box)
    drawn = views.compose(long, box, stretch)
    assert drawn.manner == lengthwise.COMPRESSED
    assert any("NOT TO SCALE ALONG THE LENGTH" in t.text for t in drawn.items if isinstance(t, Text))
    discs = [item for item in drawn.items if isinstance(item, Disc) and item.radius > 2.5]
    discs.sort(key=lambda disc: disc.x)
    assert len(discs) == 40
    assert all(b.x - a.x > a.radius + b.radius for a, b in pairwise(discs))


def test_to_scale_holes_stand_where_their_scale_says():
    short = piece("A9", L90, 500, holes("A", [(50, 50), (450, 50)]), members=(0,))
    box = (60.0, 250.0, 810.0, 480.0)
    (stretch,) = views.plan(short, box)
    drawn = views.compose(short, box, stretch)
    assert drawn.manner == lengthwise.TO_SCALE
    a, b = (item for item in drawn.items if isinstance(item, Disc) and item.radius > 2.5)
    # 400 mm of steel at 1:n are 400/n mm of paper, and a millimetre is 72/25.4 pt
    assert b.x - a.x == pytest.approx(400 / drawn.n * 72 / 25.4)
    assert a.radius == pytest.approx(9 / drawn.n * 72 / 25.4)


def test_faces_unfold_as_seen_from_outside():
    # the piece frame (x right, u away from the viewer, v up) gives: leg A above the heel, leg B below it;
    # a channel's top flange grows up from the web, its bottom flange down; an I's flanges are positive
    # toward the viewer, so down on the top flange seen from above and up on the bottom flange seen from below
    assert [bands.grows_up(face) for face in angle_faces(L100)] == [True, False]
    assert [bands.grows_up(face) for face in channel_faces(U160)] == [True, True, False]
    assert [bands.grows_up(face) for face in i_faces(IPE200)] == [True, False, True]


def test_unfolded_leg_b_is_no_mirror_image():
    """Fold the drawing back: right x up must be the way to the viewer of each face (a right-handed screen)."""
    for faces in (angle_faces(L100), channel_faces(U160), i_faces(IPE200)):
        for face in faces:
            up = np.array([0, *face.direction], dtype=float) * (1 if bands.grows_up(face) else -1)
            toward_viewer = -np.array([0, *face.inward], dtype=float)
            # in (x, u, v) coordinates, right-handed by definition of the piece frame
            assert np.cross([1.0, 0.0, 0.0], up) @ toward_viewer == pytest.approx(1.0)


def test_arcs_of_an_outline():
    # DXF reference, LWPOLYLINE group 42: bulge = tan(included angle / 4); a quarter turn is tan 22.5 deg = 0.41421.
    # A square of 100 with one corner rounded by 50 loses 50^2 (1 - pi/4) of its area.
    corners = (Vertex(0, 0), Vertex(100, 0), Vertex(100, 50, math.tan(math.pi / 8)), Vertex(50, 100), Vertex(0, 100))
    points = bands.polygon(corners)
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, (*points[1:], points[0]), strict=True)) / 2
    assert area == pytest.approx(100**2 - 50**2 * (1 - math.pi / 4), abs=8)
    assert all(x <= 100 + 1e-9 and y <= 100 + 1e-9 for x, y in points)


@given(st.lists(st.floats(0, 500), max_size=60), st.floats(1, 8))
def test_figures_are_set_apart_in_order_and_within_their_room(wanted, pitch):
    wanted.sort()
    places = dimensions.spread(wanted, pitch, 0.0, 500.0)
    if (len(wanted) - 1) * pitch > 500.0:
        assert places is None
        return
    assert places is not None
    assert all(b - a >= pitch - 1e-6 for a, b in pairwise(places))
    assert all(-1e-6 <= place <= 500.0 + 1e-6 for place in places)
    if all(b - a >= pitch for a, b in pairwise(wanted)):
        assert places == pytest.approx(wanted, abs=1e-6)


@given(st.lists(st.floats(1, 11_999), min_size=1, max_size=50), st.floats(0.05, 2))
def test_places_rise_along_the_piece_and_stay_to_scale_between_breaks(xs, scale):
    features = sorted({0.0, 12_000.0, *(round(x, 1) for x in xs)})
    made = lengthwise.broken(features, scale, 10.0, 600.0)
    if made is None:
        made = lengthwise.compressed(features, 10.0, 600.0)
    places = [made.at(x) for x in features]
    assert all(b > a for a, b in pairwise(places))
    assert places[0] == pytest.approx(10.0)
    assert places[-1] <= 610.0 + 1e-6
    if made.manner == lengthwise.BROKEN:
        near = 5.0 / scale
        for x in features[:-1]:
            if made.at(x + near) < min([b for b in made.breaks if b > made.at(x)], default=1e9):
                assert made.at(x + near) - made.at(x) <= 5.0 + 1e-6


# --- what the pages say -----------------------------------------------------------------------------------------


def words_of(pages: list[Page]) -> str:
    return "\n".join(text.text for page in pages for text in page.texts())


def test_cover_and_cut_list():
    pages = cut_and_punch_pages.compose(example(), SETTINGS)
    words = words_of(pages)
    assert "33 = 27 listed + 2 held + 1 bought out + 3 left out" in words
    assert "24 = 24 holes for bolts" in words
    assert "DOES NOT AGREE" not in words
    assert "Check the first piece of every mark against the drawing" in words
    links = {item.target: page for page in pages for item in page.items if isinstance(item, Link)}
    names = {page.name for page in pages if page.name} | {name for page in pages for name, _, _ in page.more}
    assert set(links) <= names
    assert {f"piece {p.mark}" for p in pieces()} <= set(links)
    # the number in the contents and the cut list is the page that carries it
    front = next(i for i, page in enumerate(pages) if page.name.startswith("piece "))
    for row_page in pages[:front]:
        for item in row_page.items:
            if isinstance(item, Link):
                number = next(
                    text.text
                    for text in row_page.texts()
                    if item.box[1] < text.y < item.box[3] and text.anchor == "end" and text.x > item.box[2] - 5
                )
                found = pages[int(number) - 1]
                assert item.target in (found.name, *(name for name, _, _ in found.more))


def test_parts_without_a_sheet_stand_at_the_end_of_the_cut_list():
    takeoff = example()
    members = (
        *takeoff.model.members,
        Member("h" * 22, "IfcBeam", "bent beam", section_text="HEA 180"),
        Member("c" * 22, "IfcColumn", "sloup"),
    )
    takeoff = replace(
        takeoff,
        model=replace(takeoff.model, members=members),
        member_marks=(*takeoff.member_marks, "", ""),
        member_status=(*takeoff.member_status, "held", "left out"),
        member_reasons=(*takeoff.member_reasons, "its axis is curved", "made of concrete"),
    )
    words = words_of(cut_and_punch_pages.compose(takeoff, SETTINGS))
    for text in ("On hold, not measured: 1 part", "bent beam", "HEA 180", "its axis is curved", "made of concrete"):
        assert text in words
    assert "On hold: 1 part could not be measured." in words


def test_a_query_on_a_member_stands_on_the_sheet_of_its_piece():
    takeoff = example()
    asked = Query("two-parts", "check", "Two parts touch.", "Ask which.", "", (f"{0:022d}", f"{16:022d}"), "two-parts")
    pages = cut_and_punch_pages.compose(replace(takeoff, queries=(asked,)), SETTINGS)
    bearing, name = set(), ""
    for page in pages:
        name = page.name or name  # a continuation page has no name of its own
        if "Two parts touch." in words_of([page]):
            bearing.add(name)
    assert bearing == {"piece A1", "piece A3"}


def test_a_balance_that_is_off_is_said():
    takeoff = example()
    takeoff = replace(takeoff, balance={**takeoff.balance, "plies_over_bolts": 25})
    assert "DOES NOT AGREE" in words_of(cut_and_punch_pages.compose(takeoff, SETTINGS))
    assert "DOES NOT AGREE" in words_of(bolt_list.compose(takeoff, SETTINGS))


def test_every_page_names_model_checksum_rules_and_number():
    takeoff = example()
    for document in (cut_and_punch_pages, bolt_list, weight_list, query_list):
        pages = document.compose(takeoff, SETTINGS)
        for index, page in enumerate(pages, start=1):
            words = words_of([page])
            assert "maszt-święty-Ωμέγα.ifc" in words
            assert "9f86d081884c" in words
            assert "hole clearance EN 1090-2 Table 11" in words
            assert f"page {index} of {len(pages)}" in words


def test_opposite_hand_and_hold_stand_large_on_their_sheets():
    pages = {page.name: page for page in cut_and_punch_pages.compose(example(), SETTINGS)}
    hand = next(text for text in pages["piece A1"].texts() if "OPPOSITE HAND" in text.text)
    assert "A2" in hand.text
    assert hand.size >= 14
    assert not any("OPPOSITE HAND" in text.text for text in pages["piece A3"].texts())
    held = pages["piece A5"].texts()
    assert any(text.ghost and text.text == "HOLD" and text.size > 100 for text in held)
    assert any("Hole A2 runs 3 mm off the edge of leg A." in text.text for text in held)
    assert any("Ask the designer for the gauge." in text.text for text in held)
    assert not any(text.text == "HOLD" for text in pages["piece A1"].texts())


def test_hole_table_flows_over_pages_without_losing_a_hole():
    pages = cut_and_punch_pages.compose(example(), SETTINGS)
    start = next(i for i, page in enumerate(pages) if page.name == "piece A4")
    end = next(i for i, page in enumerate(pages) if page.name == "piece C1")
    assert end - start > 1
    labels = [text.text for page in pages[start:end] for text in page.texts() if text.bold and text.angle == 0.0]
    assert {f"A{i}" for i in range(1, 251)} <= set(labels)


def test_weights_add_up_on_the_page():
    (page,) = weight_list.compose(example(), SETTINGS)
    tables = read_tables(page)
    assemblies = [row for row in tables if row[0] in ("M1", "loose")]
    total = next(row for row in tables if row[0] == "All" and len(row) == 5)
    for column in range(-4, 0):
        assert sum(float(row[column]) for row in assemblies) == pytest.approx(float(total[column]))


def read_tables(page: Page) -> list[list[str]]:
    """Texts of one height, from left to right."""
    rows: dict[float, list[Text]] = {}
    for text in page.texts():
        rows.setdefault(round(text.y, 1), []).append(text)
    return [[text.text for text in sorted(row, key=lambda text: text.box()[0])] for row in rows.values()]


def test_joints_alike_are_printed_once():
    words = words_of(bolt_list.compose(example(), SETTINGS))
    assert "6 joints of 2 kinds" in words
    assert "1-5" in words
    assert "A1 + A3" in words


def test_queries_are_grouped_and_compact():
    words = words_of(query_list.compose(example(), SETTINGS))
    assert "HOLD: 2 queries, 2 causes" in words
    assert "18 more in" in words.replace("\n", " ")  # 30 GlobalIds, 12 printed
    assert words.index("HOLD: ") < words.index("CHECK: ") < words.index("ASSUMED: ")


def test_no_queries_no_file(tmp_path):
    path = tmp_path / "queries.pdf"
    assert sheets.queries(replace(example(), queries=()), SETTINGS, path) is False
    assert not path.exists()
    assert sheets.queries(example(), SETTINGS, path) is True


def test_a_model_without_steel_still_prints(tmp_path):
    model = Model("empty.ifc", "IFC4", "00", "")
    nothing = Takeoff(model, (), (), (), (), (), (), (), (), (), (), ())
    assert sheets.cut_and_punch(nothing, SETTINGS, tmp_path / "a.pdf") == {}
    assert sheets.bolts(nothing, SETTINGS, tmp_path / "b.pdf")
    assert sheets.weights(nothing, SETTINGS, tmp_path / "c.pdf")


def test_unknown_paper_is_refused():
    with pytest.raises(ValueError, match="A4 or Letter"):
        cut_and_punch_pages.compose(example(), Settings(documents=DocumentSettings(paper="foolscap")))


def test_long_texts_from_a_model_wrap_and_stay_on_the_page():
    long = "Ü" * 400 + " " + "word " * 300
    takeoff = example()
    made = replace(takeoff.pieces[2], mark="M" * 60, grade=long, finish=long, model_marks=(long,))
    queries = (Query("long", "check", long, long, made.mark, ("x" * 22,) * 50, "long"),)
    takeoff = replace(takeoff, pieces=(made,), queries=queries, rules=(long,))
    for document in (cut_and_punch_pages, bolt_list, weight_list, query_list):
        for page in document.compose(takeoff, SETTINGS):
            check_page(page)


# --- what the trade's rules say -----------------------------------------------------------------------------------


def ruled() -> Piece:
    """An angle with everything that the rules can say about one."""
    made = pieces()[2]
    punched = [replace(hole, make="punch", hole_class="normal", force_kn=120.0) for hole in made.holes]
    punched[0] = replace(punched[0], make="punch and ream", punch_mm=16.0, force_kn=140.4)
    punched[1] = replace(punched[1], make="drill", hole_class="oversize", force_kn=0.0)
    return replace(
        made,
        holes=tuple(punched),
        gauges=(
            steel.GaugeLine("A", 1, 50, 50, 0, "table"),
            steel.GaugeLine("B", 1, 50, 45, 5, "table"),
        ),
        routing=(steel.Operation("shear", 2), steel.Operation("punch", 3), steel.Operation("drill", 1)),
        off_line=("No punch of 18 mm in the rack.",),
        stamp=steel.Stamp("B", 200.0, 45.0, 60.0, 10.0),
        zinc=0.5,
        heel_grinds=(steel.HeelGrind(0.0, 150.0, 9.0, 0.0, 2),),
        flange_bends=(steel.FlangeBend("B", 900.0, 1250.0, 3.5, 1),),
        remarks=("hole A1: 30 mm from the end, 33 asked (table)",),
        nut_clearance=2.5,
        model_sections=("L90*90*8", "corner iron 90"),
    )


def ruled_takeoff() -> Takeoff:
    takeoff = example()
    return replace(takeoff, pieces=(*takeoff.pieces[:2], ruled(), *takeoff.pieces[3:]))


def test_a_sheet_says_what_the_rules_say():
    pages = cut_and_punch_pages.compose(ruled_takeoff(), SETTINGS)
    start = next(i for i, page in enumerate(pages) if page.name == "piece A3")
    end = next(i for i, page in enumerate(pages) if i > start and page.name)
    for page in pages[start:end]:
        check_page(page)
    words = words_of(pages[start:end]).replace("\n", " ")
    for text in (
        "punch 16, ream", "drill", "oversize", "Largest punching force: 140 kN, hole A1",
        "B line 1: 50, usual 45", "Each: shear 2; punch 3; drill 1.", "No punch of 18 mm in the rack.",
        "Stamp A3: leg B, from x 200, middle of the letters 45", "x 0 to 150 to radius 9",
        "opened by 3.5 degrees (1 of 2)",
        "Hole A1: 30 mm from the end, 33 asked", "of the two legs: 2.5 mm", "0.50 kg of zinc", "corner iron 90",
        "grind heel", "opened 3.5°",
    ):  # fmt: skip
        assert text in words, text
    assert "usual 50" not in words  # a line on its usual gauge needs no word
    assert "L90*90*8" not in words  # the same but for the sign between the sizes
    assert any(text.text == "stamp" for text in pages[start].texts())


def test_the_stamp_is_drawn_where_it_stands():
    made = replace(ruled(), holes=(), length=500.0, heel_grinds=(), flange_bends=(), outlines=())
    box = (60.0, 250.0, 810.0, 480.0)
    (stretch,) = views.plan(made, box)
    drawn = views.compose(made, box, stretch)
    assert drawn.manner == lengthwise.TO_SCALE
    scale = 72 / 25.4 / drawn.n
    boxes = [extent([item]) for item in drawn.items if not isinstance(item, Text)]
    wanted = [b for b in boxes if math.isclose(b[2] - b[0], 60 * scale) and math.isclose(b[3] - b[1], 10 * scale)]
    assert len(wanted) == 1


def test_the_sentence_for_the_job_gives_way_to_the_remark_of_the_piece(monkeypatch):
    monkeypatch.setitem(piece_notes.REMARKS, "hole-end", "{0}")
    asked = Query("hole-end", "check", "Seven holes are near the end.", "Ask.", "A3", (), "hole-end")
    words = words_of(cut_and_punch_pages.compose(replace(ruled_takeoff(), queries=(asked,)), SETTINGS))
    assert "Seven holes" not in words
    words = words_of(cut_and_punch_pages.compose(replace(example(), queries=(asked,)), SETTINGS))
    assert "Seven holes" in words


def test_stations_have_their_lists():
    rows = (
        steel.StationRow("punch", "A1", 8, 14, 500.04, ""),
        steel.StationRow("punch", "A3", 2, 4, 27.0, "not on the line"),
        steel.StationRow("punch", "A3", 2, 1, 27.0, "special punch near the heel"),
    )
    pages = cut_and_punch_pages.compose(replace(example(), stations=rows), SETTINGS)
    page = next(page for page in pages if page.name == "stations")
    check_page(page)
    assert "Punch: 10 pieces, 122 in all" in words_of([page])  # 8 x 14 + 2 x 4 + 2 x 1
    assert ["All", "10", "122", "527.0"] in read_tables(page)


def test_white_weight_stands_beside_black_with_its_source():
    pages = weight_list.compose(ruled_takeoff(), SETTINGS)
    words = words_of(pages)
    assert "White kg" in words.replace("\n", " ")
    assert "ISO 1461" in words
    total = next(row for page in pages for row in read_tables(page) if row[0] == "All" and len(row) == 8)
    assert float(total[-2]) == pytest.approx(1.0)  # two pieces with 0.5 kg each
    assert float(total[-1]) == pytest.approx(float(total[-4]) + float(total[-2]))


def test_order_list_says_place_length_and_washers():
    lines = (
        BoltLine(16.0, 45.0, "8.8", "ISO 4014", 11, 2, 13, 11, 22, 1.5, shop=4, site=6, length_source="rule",
                 springs=11, tapers=3),
    )  # fmt: skip
    takeoff = replace(example(), bolt_lines=lines, length_example="M16: grip 14 and so on")
    pages = bolt_list.compose(takeoff, SETTINGS)
    for page in pages:
        check_page(page)
    assert "M16: grip 14 and so on" in words_of(pages)
    row = next(row for page in pages for row in read_tables(page) if row[0] == "M16" and "ISO 4014" in row)
    assert row[-5:] == ["4", "6", "11", "3", "rule"]


# --- the files --------------------------------------------------------------------------------------------------


def test_text_reads_back_in_any_european_script_with_fonts_embedded(tmp_path):
    path = tmp_path / "cut-and-punch.pdf"
    takeoff = example()
    named = replace(takeoff.pieces[2], finish="ocynkowana, žárově zinkováno, γαλβανισμένο", mark="Ł7-Žďár")
    sheets.cut_and_punch(replace(takeoff, pieces=(*takeoff.pieces[:2], named)), SETTINGS, path)
    reader = pypdf.PdfReader(path)
    text = "\n".join(page.extract_text() for page in reader.pages)
    for word in ("Ł7-Žďár", "žárově", "γαλβανισμένο", "maszt-święty-Ωμέγα", "ŁĄCZNIK-7", "Ø18"):
        assert word in text
    fonts_used = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    embedded = [font for font in fonts_used if "DejaVu" in font["/BaseFont"]]
    assert embedded
    assert all("/FontFile2" in font["/FontDescriptor"].get_object() for font in embedded)
    # ISO 216: A4 is 210 x 297 mm; lists upright, sheets on their side
    sizes = {tuple(round(float(x) / 72 * 25.4) for x in page.mediabox[2:]) for page in reader.pages}
    assert sizes == {(210, 297), (297, 210)}


def test_same_takeoff_same_bytes(tmp_path):
    takeoff = example()
    for name in ("cut_and_punch", "bolts", "weights", "queries"):
        first, second = tmp_path / f"{name}1.pdf", tmp_path / f"{name}2.pdf"
        getattr(sheets, name)(takeoff, SETTINGS, first)
        getattr(sheets, name)(takeoff, SETTINGS, second)
        assert first.read_bytes() == second.read_bytes()
