"""Heels to grind and legs to bend on the end view: drawn on the section and named, inside of their box."""

from dataclasses import replace
from itertools import pairwise

import pytest
from steelwork import IPE200, L100, member, model

from takeoff.pipeline import work_out
from takeoff.settings import Settings
from takeoff.sheets import end_view
from takeoff.sheets.page import Line, Shape, Text
from takeoff.steel import FlangeBend, HeelGrind

BOX = (20.0, 20.0, 185.0, 200.0)


def piece(section=L100, **more):
    (made,) = work_out(model([member(section, 500)]), Settings()).pieces
    return replace(made, **more)


def view(made):
    items = end_view.compose(made, BOX)
    return items, [item.text for item in items if isinstance(item, Text)]


def test_a_ground_heel_is_drawn_and_named():
    plain, _ = view(piece())
    items, words = view(piece(heel_grinds=(HeelGrind(0.0, 300.0, 12.0, 12.0, 1),)))
    assert "heel ground, radius or chamfer 12" in words
    (cut,) = [i for i in items if isinstance(i, Shape) and i.dash and i not in plain]
    heel, along, up = cut.points
    # The two new corners stand as far from the heel as the radius, on the scale of the section.
    section = next(i for i in items if isinstance(i, Shape) and i.fill == 0.75).points
    scale = (max(x for x, _ in section) - min(x for x, _ in section)) / 100
    assert heel == (min(x for x, _ in section), min(y for _, y in section))
    assert along[0] - heel[0] == pytest.approx(12 * scale)
    assert up[1] - heel[1] == pytest.approx(12 * scale)


def test_an_unknown_root_is_said():
    _, words = view(piece(heel_grinds=(HeelGrind(0.0, 300.0, 0.0, 0.0, 1),)))
    assert "heel ground to the root" in words


@pytest.mark.parametrize(
    ("face", "degrees", "word", "side"),
    [
        ("A", 3.0, "opened 3°", -1),
        ("A", -3.0, "closed 3°", 1),
        ("B", 3.0, "opened 3°", -1),
        ("B", -3.0, "closed 3°", 1),
    ],
)
def test_a_bent_leg_is_dashed_to_its_side(face, degrees, word, side):
    items, words = view(piece(flange_bends=(FlangeBend(face, 100.0, 300.0, degrees, 1),)))
    assert f"leg {face} {word}" in words
    (line,) = [i for i in items if isinstance(i, Line) and i.dash]
    # An opened leg leans away from the other one: A to the left, B downward.
    lean = line.x2 - line.x1 if face == "A" else line.y2 - line.y1
    assert lean * side > 0


def test_its_words_stay_in_the_box_and_off_each_other():
    bends = tuple(FlangeBend(face, 100.0, 300.0, 12.5, 1) for face in "AB")
    plain, _ = view(piece())
    items, _ = view(piece(heel_grinds=(HeelGrind(0.0, 300.0, 12.0, 12.0, 1),), flange_bends=bends))
    boxes = [item.box() for item in items if isinstance(item, Text) and item not in plain]
    assert len(boxes) == 3
    for left, low, right, high in boxes:
        assert BOX[0] <= left < right <= BOX[2]
        assert BOX[1] <= low < high <= BOX[3]
    tops = sorted((low, high) for _, low, _, high in boxes)
    assert all(below[1] <= above[0] for below, above in pairwise(tops))


def test_other_sections_have_none():
    plain, _ = view(piece(IPE200))
    assert not [i for i in plain if isinstance(i, Line | Shape) and i.dash]
