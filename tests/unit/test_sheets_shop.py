"""The cut-and-punch document as the shop hand has it: read back from the PDF, and held against other people's sums."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from math import atan, cos, degrees, hypot, pi, sin
from pathlib import Path

import numpy as np
import pypdf
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from test_sheets import (
    IPE200,
    L90,
    L100,
    PL12,
    check_page,
    crowded,
    example,
    flat_faces,
    holes,
    i_faces,
    piece,
    pieces,
    square,
    words_of,
)

from takeoff import sheets
from takeoff.cuts import cuts_of, face_outlines
from takeoff.lists import tables
from takeoff.pipeline import take_off
from takeoff.released import Issue, Register, Release, Standing
from takeoff.rules import punching
from takeoff.sections.shapes import faces
from takeoff.settings import DocumentSettings, Settings
from takeoff.sheets import (
    arcs,
    cut_and_punch_pages,
    cut_order,
    end_notes,
    fonts,
    furniture,
    measure,
    piece_notes,
    piece_sheet,
    shop_notes,
    symbols,
    views,
    wording,
)
from takeoff.sheets.page import Disc, Link, Page, Shape, Text
from takeoff.steel import Body, Cut, FaceOutline, Hole, Piece, Plane, Stamp, Takeoff, Vertex
from takeoff.units import feet_inches, millimetres

METRIC = DocumentSettings()
INCH = DocumentSettings(units="feet-inches")
RIGHT = DocumentSettings(datum_end="right")
BOX = (60.0, 250.0, 810.0, 480.0)
SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]


def value_of(figure: str) -> Fraction:
    """Inches of a figure such as 3'-0 1/2\", by the standard library's fractions."""
    figure = figure.replace(fonts.NO_BREAK, " ").removesuffix('"')
    feet, _, rest = figure.rpartition("'-")
    return Fraction(feet or 0) * 12 + sum((Fraction(word) for word in rest.split()), Fraction(0))


# --- feet and inches ----------------------------------------------------------------------------------------------


def test_lengths_in_feet_and_inches():
    # 25.4 mm to the inch exactly: the international yard and pound agreement of 1959
    assert feet_inches(0) == "0"
    assert feet_inches(25.4) == '1"'
    assert feet_inches(304.8) == "1'-0\""
    assert feet_inches(12.7) == '1/2"'
    assert feet_inches(3048 + 3.5 * 25.4) == "10'-3 1/2\""
    assert feet_inches(304.8 + 6.35) == "1'-0 1/4\""
    assert feet_inches(304.7) == "1'-0\""  # 11 31.94/32 rounds up to the foot, never to 12 inches
    assert feet_inches(-38.1) == '-1 1/2"'


@given(st.floats(0, 20_000))
def test_feet_and_inches_are_the_nearest_sixteenth(mm):
    exact = Fraction(mm) * 5 / 127  # 127 mm are 5 inches
    printed = value_of(feet_inches(mm))
    assert abs(printed - exact) <= Fraction(1, 32) + Fraction(1, 10**8)
    assert (printed * 16).denominator == 1


def test_a_size_is_a_fraction_only_where_it_is_one():
    with measure.measuring(INCH):
        assert measure.size(20.6) == '13/16"'  # AISC 360-16 table J3.3: the standard hole of a 3/4 bolt
        assert measure.size(18.0) == "18 mm"  # 11/16 would be 17.46
        assert wording.opening(Hole("A1", "A", 0, 0, 18.0)) == "Ø18 mm"
        assert wording.thickness(9.525) == '3/8"'
    assert measure.size(18.0) == "18"


# --- from either end, rounded from the datum -------------------------------------------------------------------


@given(crowded(), st.sampled_from([INCH, RIGHT, replace(INCH, datum_end="right", paper="Letter")]))
@hypothesis_settings(max_examples=30, deadline=None, suppress_health_check=SLOW)
def test_crowded_sheets_in_any_unit_and_from_either_end(made, documents):
    with measure.measuring(documents):
        head = furniture.imprint(example(), Settings(documents=documents), "Cut and punch")
        pages = piece_sheet.compose(made, (), (), head)
        wanted = {measure.running(hole.x, made.length) for hole in made.holes}
    for page in pages:
        check_page(page)
        assert (page.width, page.height) == (head.paper[1], head.paper[0])
    printed = {text.text for page in pages for text in page.texts()}
    assert wanted <= printed
    assert {hole.label for hole in made.holes} <= printed


@st.composite
def busy(draw) -> Piece:
    """A crowded piece with slots and rectangles, many sizes, skew ends, a stamp, a bend, an opposite hand, on hold."""
    made = draw(crowded())
    kinds = st.sampled_from(["round", "round", "slot", "rectangle", "countersunk", "blind"])
    own = []
    for hole in made.holes:
        kind = draw(kinds)
        long = kind in ("slot", "rectangle")
        own.append(
            replace(
                hole,
                kind=kind,
                diameter=draw(st.sampled_from([11.0, 13.0, 14.0, 17.5, 18.0, 21.5, 22.0, 26.0])),
                slot_length=40.0 if long else 0.0,
                slot_angle=draw(st.sampled_from([0.0, 30.0, 90.0])) if long else 0.0,
                width=20.0 if kind == "rectangle" else 0.0,
                bolt=draw(st.sampled_from(["", "M12", "M16", "3/4"])),
                diameter_source=draw(st.sampled_from(["rule", "property"])),
                make=draw(st.sampled_from(["punch", "punch and ream", "drill", "cut", ""])),
            )
        )
    outlines, cuts = [], []
    for face in made.faces:
        left, right = (draw(st.floats(0.1, 60)) for _ in range(2))
        corners = [(left, face.low), (made.length, face.low), (made.length - right, face.high), (0, face.high)]
        outlines.append(FaceOutline(face.name, np.array(corners, float)))
        height = face.high - face.low
        cuts.append(Cut("left", face.name, "skew", left, face.low, degrees(atan(left / height)), left))
        cuts.append(
            Cut("right", face.name, "skew", made.length - right, face.high, degrees(atan(right / height)), right)
        )
    held = draw(st.booleans())
    return replace(
        made,
        holes=tuple(own),
        outlines=tuple(outlines),
        cuts=tuple(cuts),
        stamp=Stamp(made.faces[0].name, 10.0, made.faces[0].high / 2, 30.0, 10.0, draw(st.booleans())),
        opposite_hand_of=draw(st.sampled_from(["", "Z8"])),
        status="held" if held else "listed",
        reasons=("Hole A1 runs off the edge.",) if held else (),
        remarks=("hole A1: 20 mm from the end, 33 asked (table)",) * draw(st.integers(0, 4)),
    )


@given(busy(), st.sampled_from([METRIC, replace(INCH, datum_end="right", paper="Letter")]))
@hypothesis_settings(max_examples=40, deadline=None, suppress_health_check=SLOW)
def test_busy_sheets_stay_legible(made, documents):
    with measure.measuring(documents):
        head = furniture.imprint(example(), Settings(documents=documents), "Cut and punch")
        pages = piece_sheet.compose(made, (), (), head)
        wanted = {measure.running(hole.x, made.length) for hole in made.holes}
        table = [row.cells[0] for row in piece_notes.hole_table(made)[1]]
    for page in pages:
        check_page(page)
    printed = [text.text for page in pages for text in page.texts()]
    assert wanted <= set(printed)
    assert set(table) <= set(printed)


@given(crowded())
@hypothesis_settings(max_examples=30, deadline=None, suppress_health_check=SLOW)
def test_from_the_right_end_figures_fall_to_nought(made):
    with measure.measuring(RIGHT):
        lines: dict[str, list[str]] = {}
        for stretch in views.plan(made, BOX):
            for face, figures in views.compose(made, BOX, stretch).figures.items():
                lines.setdefault(face, []).extend(figures)
    for face, figures in lines.items():
        assert figures[0] == millimetres(made.length)
        assert figures[-1] == "0"
        assert {millimetres(made.length - hole.x) for hole in made.holes if hole.face == face} <= set(figures)


def test_each_figure_is_rounded_from_the_datum_not_summed():
    # ten pitches of 33.34: summed roundings would print 333, the tenth stands at 333.4
    made = piece("A1", L90, 400.0, holes("A", [(33.34 * k, 50) for k in range(1, 11)]))
    (stretch,) = views.plan(made, BOX)
    assert views.compose(made, BOX, stretch).figures["A"][10] == "333.4"
    with measure.measuring(RIGHT):
        assert views.compose(made, BOX, stretch).figures["A"][1] == "366.7"  # 400 - 33.34 = 366.66


def test_the_sheet_says_from_which_end():
    takeoff = example()
    words = words_of(cut_and_punch_pages.compose(takeoff, Settings(documents=RIGHT)))
    assert "RUNNING DIMENSIONS FROM THE RIGHT END." in words
    assert "from the RIGHT end of the piece" in words
    assert "RIGHT END" not in words_of(cut_and_punch_pages.compose(takeoff, Settings()))
    columns, rows = (None, None)
    with measure.measuring(RIGHT):
        columns, rows = piece_notes.hole_table(pieces()[2])
    assert [column.title for column in columns][2:4] == ["From right end", "x"]
    # A1 of 1250 long at 30: 1220 from the right
    assert rows[0].cells[2:4] == ("1220", "30")


# --- ends, arcs, plates -------------------------------------------------------------------------------------------


def coped(steps: int) -> Piece:
    """An I whose top left corner is coped 100 × 50 with a fillet of radius 15 at (85, 165), in ``steps`` chords."""
    turn = pi / 2 / steps
    fillet = [(85 + 15 * cos(turn * k), 165 - 15 * sin(turn * k)) for k in range(1, steps + 1)]
    cope = [(0, 0), (3000, 0), (3000, 200), (100, 200), (100, 165), *fillet, (0, 150)]
    _, *flanges = i_faces(IPE200)
    outlines = (FaceOutline("web", np.array(cope, float)), *(square(face, 3000) for face in flanges))
    return piece("B9", IPE200, 3000, holes("web", [(60, 50)], 22, "M20"), outlines=outlines,
                 cuts=(Cut("left", "web", "notch", 100, 150, 0, 50),), members=(0,))  # fmt: skip


@pytest.mark.parametrize("steps", [4, 8, 18, 40])
def test_a_round_cope_is_a_radius_and_a_centre(steps):
    made = coped(steps)
    (stretch,) = views.plan(made, BOX)
    drawn = views.compose(made, BOX, stretch)
    assert drawn.figures["web"] == ["0", "60", "85 edge", "100 edge", "3000"]
    assert "R 15" in [item.text for item in drawn.items if isinstance(item, Text)]
    assert any("arc of radius 15, centre x 85, across 165" in line for line in end_notes.lines(made))


@given(
    st.floats(5, 500), st.floats(20, 320), st.integers(6, 90), st.floats(0, 360), st.floats(-500, 500),
)  # fmt: skip
def test_arcs_are_found_whatever_their_place(radius, sweep, steps, start, shift):
    """Against the circle that the points are made from."""
    if sweep / steps > arcs.MOST_TURN_DEG:
        steps = int(sweep / arcs.MOST_TURN_DEG) + 1
    turns = [(start + sweep * k / steps) * pi / 180 for k in range(steps + 1)]
    points = [(shift + radius * cos(t), 3 * shift + radius * sin(t)) for t in turns]
    corners, found = arcs.of_loop([*points, (shift, 3 * shift)])
    (arc,) = found
    assert arc.radius == pytest.approx(radius, abs=0.02)
    assert hypot(arc.centre[0] - shift, arc.centre[1] - 3 * shift) < 0.05
    assert len(corners) == 3


def test_a_chamfered_corner_is_no_arc():
    loop = [(0, 0), (100, 0), (100, 80), (90, 90), (80, 100), (0, 100)]
    assert arcs.of_loop(loop) == (loop, [])
    octagon = [(50 * cos(pi / 4 * k), 50 * sin(pi / 4 * k)) for k in range(8)]
    assert arcs.of_loop(octagon) == (octagon, [])


def test_a_bulge_is_an_arc():
    # bulge tan(90/4 degrees): a quarter circle, as DXF defines it
    _, (arc,) = arcs.of_vertices((Vertex(0, 0), Vertex(100, 0, 2**0.5 - 1), Vertex(150, 50), Vertex(0, 50)))
    assert arc.radius == pytest.approx(50)
    assert arc.centre == pytest.approx((100, 50))
    assert arc.middle == pytest.approx((100 + 50 * sin(pi / 4), 50 - 50 * cos(pi / 4)))


def skewed(normal: tuple[float, float, float]) -> Piece:
    """An unequal angle of 1200 whose right end is cut by a plane through the heel."""
    body = Body(L100, 1200.0, right=(Plane((1200.0, 0.0, 0.0), normal),))
    return Piece("S9", L100, "S355", "", 1200.0, tuple(holes("A", [(80, 50)])), cuts_of(body), faces(L100),
                 face_outlines(body), members=(0,))  # fmt: skip


def test_a_compound_skew_has_its_bevels():
    # the plane x + 0.3 u + 0.5 v = 1200: leg B (along u) leans atan 0.3, leg A (along v) atan 0.5, and each runs
    # through the other's 8 mm: 0.3 * 8 = 2.4 and 0.5 * 8 = 4, by hand
    words = end_notes.lines(skewed((1.0, 0.3, 0.5)))
    assert f"{degrees(atan(0.5)):.1f}" == "26.6"
    assert "right end, leg A: skew 26.6° from square, from x 1150, runs back 50" in words
    assert "leg A: heel 1200 long, x 0 to 1200; toe 1150 long, x 0 to 1150" in words
    assert "right end, leg A: bevel 16.7° through the thickness, inside shorter by 2.4" in words
    assert "right end, leg B: bevel 26.6° through the thickness, inside shorter by 4" in words
    assert not any("farthest out" in line for line in words)


def test_a_length_that_no_face_shows_is_explained():
    made = skewed((1.0, 0.3, 0.5))
    # as if the farthest point lay 3 mm beyond the outside faces
    words = end_notes.lines(replace(made, length=1203.0))
    assert any("The length 1203 mm runs to the point farthest out, at the right end" in w and " 3 beyond" in w
               for w in words)  # fmt: skip


def test_skew_angles_stand_at_the_cut():
    made = skewed((1.0, 0.0, 0.5))
    (stretch,) = views.plan(made, BOX)
    drawn = views.compose(made, BOX, stretch)
    (text,) = [item for item in drawn.items if isinstance(item, Text) and item.text == "26.6°"]
    figures = {item.text: item.x for item in drawn.items if isinstance(item, Text) and item.angle == 90.0}
    assert figures["1150 toe"] - 12 < text.x < figures["1200"] + 12


def gusset() -> Piece:
    places = [(30 + 31 * k, 25 + 17 * k) for k in range(10)]
    outline = (Vertex(0, 0), Vertex(480, 0), Vertex(520, 40), Vertex(520, 340), Vertex(0, 340))
    cuts = tuple(Cut("edge", "face", "outline", v.x, v.across) for v in outline)
    return piece("P9", PL12, 520, holes("face", places), outline=outline, cuts=cuts, members=(0,))


def test_a_plate_has_a_table_of_x_and_across_and_no_gauge_lines():
    made = gusset()
    (stretch,) = views.plan(made, BOX)
    drawn = views.compose(made, BOX, stretch)
    level = [item.text for item in drawn.items if isinstance(item, Text) and item.angle == 0.0]
    assert "line" not in " ".join(level)
    assert "178" not in level  # the tenth hole's height: in the table only
    assert any("see the hole table" in text for text in level)
    columns, rows = piece_notes.hole_table(made)
    titles = [column.title for column in columns]
    assert "Line" not in titles
    corners = [row.cells for row in rows if row.cells[0].startswith("corner ")]
    assert [(cells[titles.index("x")], cells[titles.index("Across")]) for cells in corners] == [
        (millimetres(v.x), millimetres(v.across)) for v in made.outline
    ]


def test_holes_of_one_gauge_line_share_one_figure():
    made = piece("A1", L90, 900, holes("A", [(50, 50), (150, 50)], lines=None))
    off = replace(made.holes[1], across=49.9, gauge_line=1)
    made = replace(made, holes=(replace(made.holes[0], gauge_line=1), off))
    (stretch,) = views.plan(made, BOX)
    level = [t.text for t in views.compose(made, BOX, stretch).items if isinstance(t, Text) and t.angle == 0.0]
    assert [text for text in level if "line" in text and "zigzag" not in text] == ["49.9–50 line 1"]


# --- what is punched, what a tape finds ----------------------------------------------------------------------


def punched() -> Piece:
    made = pieces()[2]  # A3: leg A 30, 80, 1170, 1220; leg B 600; 1250 long, two off
    own = [replace(hole, make=punching.PUNCH) for hole in made.holes]
    own[0] = replace(own[0], make=punching.REAM, punch_mm=16.0)
    own[1] = replace(own[1], make=punching.DRILL)
    return replace(made, holes=tuple(own))


def test_a_countersink_is_drawn_to_scale_and_dashed_on_the_far_side():
    near = Hole("F1", "face", 0, 0, 18.0, kind="countersunk", width=36.0, side="near")
    scale = 0.5  # pt of paper for a mm: radii 4.5 and 9
    (hole, ring) = [item for item in symbols.symbol(near, 0, 0, scale, True, 0, 99.0) if isinstance(item, Disc)]
    assert (hole.radius, ring.radius) == (4.5, 9.0)
    far = symbols.symbol(replace(near, side="far"), 0, 0, scale, True, 0, 99.0)
    (dashed,) = [item for item in far if isinstance(item, Shape)]
    assert dashed.dash
    assert all(hypot(x, y) == pytest.approx(9.0) for x, y in dashed.points)


def test_hits_by_punch_and_tape_check():
    made = punched()
    assert shop_notes.punches(made) == {"Ø18": 2, "Ø14": 1, "Ø16": 1}  # the drilled one is no hit
    assert "All 2: Ø18: 4; Ø14: 2; Ø16: 2." in shop_notes.punch_lines(made)[0]
    assert shop_notes.tape_lines(made) == [
        "Tape check, leg A: first to last hole 1190, last hole to the right end 30.",
        "Tape check, leg B: hole to the right end 650.",
    ]
    with measure.measuring(RIGHT):
        assert shop_notes.tape_lines(made)[0].endswith("last hole to the left end 30.")


def test_hits_of_the_job_add_up_to_its_holes():
    takeoff = example()
    made = tuple(
        replace(p, holes=tuple(replace(h, make=punching.PUNCH) for h in p.holes), status="listed", reasons=())
        for p in takeoff.pieces
    )
    takeoff = replace(takeoff, pieces=made)
    pages = cut_and_punch_pages.compose(takeoff, Settings())
    page = next(page for page in pages if "Hits by punch" in [t.text for t in page.texts()])
    rows: dict[float, list[Text]] = {}
    for text in page.texts():
        rows.setdefault(round(text.y, 1), []).append(text)
    below = next(t.y for t in page.texts() if t.text == "Hits by punch")
    table = [[t.text for t in sorted(row, key=lambda t: t.x)] for y, row in rows.items() if y < below]
    (total,) = [row for row in table if row[0] == "All"]
    assert int(total[1]) == sum(len(p.holes) * p.quantity for p in made)


def test_assumed_stands_beside_the_number():
    made = pieces()[2]
    stated = replace(made.holes[4], diameter_source="property")
    made = replace(made, holes=(*made.holes[:4], stated))
    columns, rows = piece_notes.hole_table(made)
    at = [column.title for column in columns].index("Ø")
    assert [row.cells[at] for row in rows] == ["18 assumed"] * 4 + ["14"]
    (stretch,) = views.plan(made, BOX)
    words = words_of([Page(0, 0, views.compose(made, BOX, stretch).items)]).replace("\n", " ")
    assert "all Ø18 assumed" in words
    assert "Ø14 assumed" not in words


def test_slots_and_rectangles_are_overall_and_read_the_same_everywhere():
    slot = Hole("A1", "A", 0, 0, 18, 40, 30, kind="slot")
    rectangle = Hole("A2", "A", 0, 0, 0, 30, 90, 20, kind="rectangle")
    assert wording.opening(slot) == "18 × 40 overall"
    assert wording.opening(rectangle) == "20 × 30 overall rectangle"
    assert wording.slot(slot) == "18 × 40 at 30°"
    assert wording.slot(rectangle) == "20 × 30 at 90°"


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("L60x60x6", "L 60 × 60 × 6"), ("L 100×75×8", "L 100 × 75 × 8"), ("FL 60X8", "FL 60 × 8"),
        ("PL12", "PL 12"), ("IPE 200", "IPE 200"), ("L4X3-1/2X3/8", "L4X3-1/2X3/8"), ("UPN 160", "UPN 160"),
    ],
)  # fmt: skip
def test_sections_are_named_as_in_the_standard(name, printed):
    # ISO 5261:1995: letter, then sizes with the sign × between them, from memory
    assert wording.designation(replace(L90, designation=name)) == printed


# --- order, hands, several on a sheet ------------------------------------------------------------------------


def test_sheets_lie_in_the_order_of_the_cut_list_and_hands_side_by_side():
    takeoff = example()
    first, other = takeoff.pieces[0], takeoff.pieces[1]
    # between the two by name, alike in length: it must not part them
    between = replace(takeoff.pieces[2], section=L100, length=first.length, mark="A1a", holes=(), opposite_hand_of="")
    takeoff = replace(takeoff, pieces=(first, other, between, *takeoff.pieces[3:]))
    pages = cut_and_punch_pages.compose(takeoff, Settings())
    order = [page.name.removeprefix("piece ") for page in pages if page.name.startswith("piece ")]
    assert order.index("A2") == order.index("A1") + 1
    assert sorted(order) == sorted(piece.mark for piece in takeoff.pieces)
    assert order == [piece.mark for _, group in cut_order.groups(takeoff.pieces) for piece in group]
    listed = [item.target for page in pages for item in page.items if isinstance(item, Link)]
    inside = [name.removeprefix("piece ") for name in listed if name.startswith("piece ")]
    assert inside[1 : 1 + len(order)] == order  # after the one of the contents, the rows of the cut list
    # each hand with its own drawing and table, leading to the other
    for mark, to in (("A1", "A2"), ("A2", "A1")):
        page = next(page for page in pages if page.name == f"piece {mark}")
        assert f"piece {to}" in [item.target for item in page.items if isinstance(item, Link)]
        assert "Hole" in [text.text for text in page.texts()]


def test_small_pieces_share_a_sheet():
    takeoff = example()
    small = [piece(f"K{k}", L90, 300.0 + k, holes("A", [(40, 50), (240, 50)]), members=(k,)) for k in range(5)]
    hands = [replace(p, mark=mark, opposite_hand_of=other, length=900.0)
             for p, mark, other in ((small[0], "H1", "H2"), (small[1], "H2", "H1"))]  # fmt: skip
    takeoff = replace(takeoff, pieces=(*small, *hands, *takeoff.pieces))
    alone = cut_and_punch_pages.compose(takeoff, Settings())
    settings = Settings(documents=replace(METRIC, small_pieces="together"))
    pages = cut_and_punch_pages.compose(takeoff, settings)
    assert len(pages) < len(alone)
    for page in pages:
        check_page(page)
    on = {name: page for page in pages for name in (page.name, *(name for name, _, _ in page.more))}
    for made in takeoff.pieces:
        texts = [text.text for text in on[f"piece {made.mark}"].texts()]
        assert made.mark in texts
    assert on["piece H1"] is on["piece H2"]  # the two hands one above the other
    assert {"OPPOSITE HAND: H1", "OPPOSITE HAND: H2"} <= {text.text for text in on["piece H1"].texts()}
    held = next(p for p in takeoff.pieces if p.status == "held" and p.holes)
    assert not on[f"piece {held.mark}"].more  # what is on hold has a sheet of its own
    for made in small:
        printed = [text.text for text in on[f"piece {made.mark}"].texts()]
        assert {millimetres(hole.x) for hole in made.holes} <= set(printed)


@given(st.lists(crowded(), min_size=1, max_size=4))
@hypothesis_settings(max_examples=15, deadline=None, suppress_health_check=SLOW)
def test_pieces_together_lose_no_hole(many):
    made = tuple(replace(one, mark=f"Z{k}", members=(k,)) for k, one in enumerate(many))
    takeoff = replace(example(), pieces=made, queries=())
    pages = cut_and_punch_pages.compose(takeoff, Settings(documents=replace(METRIC, small_pieces="together")))
    for page in pages:
        check_page(page)
    printed = [text.text for page in pages for text in page.texts() if text.bold]
    for name in {hole.label for one in made for hole in one.holes}:
        assert printed.count(name) >= sum(name == hole.label for one in made for hole in one.holes)


# --- details --------------------------------------------------------------------------------------------------


def test_holes_that_crowd_are_drawn_again_larger():
    close = [(2000 + 20 * k, y) for k in range(6) for y in (35, 55, 75)]
    made = piece("C9", L100, 6000, holes("A", [(40, 50), *close, (5960, 50)]), members=(0,))
    head = furniture.imprint(example(), Settings(), "Cut and punch")
    pages = piece_sheet.compose(made, (), (), head)
    for page in pages:
        check_page(page)
    (detail,) = [t.text for page in pages for t in page.texts() if t.text.startswith("DETAIL 1: ")]
    (whole,) = [t.text for page in pages for t in page.texts() if t.text.startswith("Faces seen")]
    scale = [float(re.search(r"Scale 1:([0-9.]*[0-9])", words)[1]) for words in (whole, detail)]
    assert scale[1] <= 0.7 * scale[0]
    assert "detail 1" in [text.text for text in pages[0].texts()]
    # running dimensions of the detail still count from the datum
    upright = [text.text for text in pages[-1].texts() if text.angle == 90.0]
    assert upright == [millimetres(2000 + 20 * k) for k in range(6)]
    assert {hole.label for hole in made.holes if 2000 <= hole.x <= 2100} <= {t.text for t in pages[-1].texts()}


def test_holes_with_room_need_no_detail():
    head = furniture.imprint(example(), Settings(), "Cut and punch")
    for made in (pieces()[0], pieces()[2], pieces()[6]):
        words = words_of(piece_sheet.compose(made, (), (), head))
        assert "DETAIL" not in words


# --- texts that a model may hold -------------------------------------------------------------------------------


def test_line_breaks_and_letters_without_a_glyph_are_seen():
    assert fonts.printable("A\n7") == "A↵7"
    assert fonts.printable("A\r\n7\t8") == "A↵7 8"
    assert fonts.printable("横梁1") == "▯▯1"
    assert fonts.printable("\x00\x07ß") == "▯▯ß"
    assert fonts.printable("e\N{COMBINING ACUTE ACCENT}") == "é"
    assert fonts.printable("קורה") == "▯▯▯▯"  # would run the wrong way round
    for letter in (fonts.LINE_BREAK, fonts.NO_GLYPH, fonts.NO_BREAK, *"ŁąČžΩβЖяÞğ×Ø°²"):
        assert fonts.printable(letter) == letter


@given(st.text(max_size=60), st.text(max_size=200), st.text(max_size=60))
@hypothesis_settings(max_examples=40, deadline=None)
def test_no_text_breaks_a_sheet(mark, finish, grade):
    takeoff = example()
    mark = mark or "A"
    odd = replace(takeoff.pieces[2], mark=mark, finish=finish, grade=grade, model_marks=(finish,))
    takeoff = replace(takeoff, pieces=(odd,), queries=())
    for together in ("one", "together"):
        pages = cut_and_punch_pages.compose(takeoff, Settings(documents=replace(METRIC, small_pieces=together)))
        for page in pages:
            check_page(page)
            assert all(text.text == fonts.printable(text.text) for text in page.texts())


def test_odd_marks_reach_the_file(tmp_path):
    takeoff = example()
    odd = ("横梁\n1", "\x00(a)", "Ω/#%<>", "A  B")
    made = tuple(replace(p, mark=mark, opposite_hand_of="") for p, mark in zip(takeoff.pieces, odd, strict=False))
    numbers = sheets.cut_and_punch(replace(takeoff, pieces=made, queries=()), Settings(), tmp_path / "a.pdf")
    reader = pypdf.PdfReader(tmp_path / "a.pdf")
    assert list(numbers) == list(odd)
    for mark, number in numbers.items():
        assert fonts.printable(mark) in reader.pages[number - 1].extract_text()


# --- the file ---------------------------------------------------------------------------------------------------


def written(takeoff: Takeoff, documents: DocumentSettings, path) -> pypdf.PdfReader:
    numbers = sheets.cut_and_punch(takeoff, Settings(documents=documents), path)
    reader = pypdf.PdfReader(path)
    for mark, number in numbers.items():
        assert mark in reader.pages[number - 1].extract_text()
    return reader


def test_every_font_is_embedded(tmp_path):
    reader = written(example(), METRIC, tmp_path / "a.pdf")
    named = {}
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            named[font.get_object()["/BaseFont"]] = font.get_object()
    assert named
    for name, font in named.items():
        assert "DejaVu" in name
        assert "/FontFile2" in font["/FontDescriptor"].get_object()


def test_contents_follow_the_cut_list(tmp_path):
    reader = written(example(), METRIC, tmp_path / "a.pdf")
    chapters = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    assert chapters[:3] == ["Cover", "How to read the sheets", "Cut list"]
    groups = cut_order.groups(example().pieces)
    assert len(chapters) == 3 + len(groups)
    inner = [entry.title for level in reader.outline if isinstance(level, list) for entry in level]
    assert [title.split("  ")[0] for title in inner] == [p.mark for _, group in groups for p in group]


def test_page_numbers_links_and_supersedes(tmp_path):
    documents = DocumentSettings(revision="B", supersedes="revision A of 2024-01-02", date="2024-03-04")
    reader = written(example(), documents, tmp_path / "a.pdf")
    for number, page in enumerate(reader.pages, start=1):
        text = page.extract_text()
        assert f"page {number} of {len(reader.pages)}" in text
        assert "supersedes revision A of 2024-01-02" in text
    assert "Supersedes" in reader.pages[0].extract_text()
    assert "supersedes" not in written(example(), METRIC, tmp_path / "b.pdf").pages[1].extract_text()
    # every link's target stands in the document
    pages = {page.indirect_reference.idnum for page in reader.pages}
    targets = [a.get_object()["/Dest"][0].idnum for page in reader.pages for a in page.get("/Annots", [])]
    assert len(set(targets)) > len(example().pieces)
    assert set(targets) <= pages


def test_the_register_says_what_is_superseded():
    identity = Settings().identity
    issues = tuple(
        Issue(name, date, "m", "0", identity, "table", "1")
        for name, date in (("A", "2024-01-02"), ("B", "2024-02-03T10:00:00"), ("C", "2024-03-04"))
    )
    release = Release("C", Standing(), Standing(), Register(issues=issues))
    takeoff = replace(example(), release=release)
    assert furniture.supersedes(takeoff, Settings()) == "revision B of 2024-02-03"
    assert "supersedes revision B of 2024-02-03" in furniture.imprint(takeoff, Settings(), "x").source
    # the settings' own words come first; the first issue replaces none
    named = Settings(documents=DocumentSettings(supersedes="the drawing of May"))
    assert furniture.supersedes(takeoff, named) == "the drawing of May"
    first = replace(release, revision="A", register=Register(issues=issues[:1]))
    assert furniture.supersedes(replace(takeoff, release=first), Settings()) == ""
    assert furniture.supersedes(example(), Settings()) == ""


def test_a_hand_that_is_not_printed_has_no_link(tmp_path):
    takeoff = example()
    takeoff = replace(takeoff, pieces=tuple(p for p in takeoff.pieces if p.mark != "A2"))
    reader = written(takeoff, METRIC, tmp_path / "a.pdf")
    assert "OPPOSITE HAND: A2" in "\n".join(page.extract_text() for page in reader.pages)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_numbers_of_the_file_are_those_of_the_pieces(tmp_path, paper):
    documents = DocumentSettings(paper=paper, units="feet-inches", small_pieces="together")
    takeoff = example()
    reader = written(takeoff, documents, tmp_path / "a.pdf")
    text = "\n".join(page.extract_text() for page in reader.pages).replace(fonts.NO_BREAK, " ")
    for made in takeoff.pieces:
        assert feet_inches(made.length) in text
        for hole in made.holes:
            assert feet_inches(hole.x) in text
    # ANSI/ASME Y14.1 letter 8.5 × 11 in, ISO 216 A4 210 × 297 mm
    sides = (612, 792) if paper == "Letter" else (595, 842)
    for page in reader.pages:
        assert sorted(round(float(side)) for side in page.mediabox[2:]) == sorted(sides)


MODELS = Path(__file__).resolve().parents[2] / "models"


@pytest.mark.parametrize("name", ["trestle_bay.ifc", "mast.ifc"])
@pytest.mark.parametrize(
    "documents", [METRIC, replace(INCH, datum_end="right", paper="Letter", small_pieces="together")]
)
def test_sheets_of_the_demo_models_carry_the_numbers_of_the_tables(name, documents, tmp_path):
    takeoff = take_off([MODELS / name], Settings())
    for page in cut_and_punch_pages.compose(takeoff, Settings(documents=documents)):
        check_page(page)
    numbers = sheets.cut_and_punch(takeoff, Settings(documents=documents), tmp_path / "a.pdf")
    texts = [page.extract_text().replace(fonts.NO_BREAK, " ") for page in pypdf.PdfReader(tmp_path / "a.pdf").pages]
    figure = feet_inches if documents.units == "feet-inches" else millimetres
    frames = tables(takeoff)
    lengths = dict(zip(frames["pieces"]["piece_mark"], frames["pieces"]["length_mm"], strict=True))
    first = sorted({*numbers.values(), len(texts) + 1})
    for mark, x, across in frames["holes"][["piece_mark", "x_mm", "across_mm"]].itertuples(index=False):
        # the sheet and its continuation, up to the next sheet
        start = numbers[mark]
        words = "\n".join(texts[start - 1 : first[first.index(start) + 1] - 1]).split("\n")
        shown = lengths[mark] - x if documents.datum_end == "right" else x
        # tables carry 0.1 mm, so that a figure on the edge between two may print as either
        assert any(figure(shown + off) in words for off in (0.0, 0.05, -0.05)), (mark, x)
        assert any(figure(across + off) in " ".join(words) for off in (0.0, 0.05, -0.05)), (mark, across)


def test_settings_change_the_sheets_and_not_the_numbering_of_pages(tmp_path):
    first = sheets.cut_and_punch(example(), Settings(documents=RIGHT), tmp_path / "a.pdf")
    again = sheets.cut_and_punch(example(), Settings(documents=RIGHT), tmp_path / "b.pdf")
    assert first == again
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    assert list(first) == [piece.mark for piece in example().pieces]
    # what one document set does not stay for the next
    assert not measure.from_right()
    assert flat_faces(PL12)[0].name == "face"
