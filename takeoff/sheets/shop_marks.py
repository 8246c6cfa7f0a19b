"""What is done to a face beside its holes, on the drawing: the stamp, a heel to grind, a leg to bend."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import cos, radians, sin

from takeoff.sheets import fonts, measure
from takeoff.sheets.bands import Band
from takeoff.sheets.face_drawing import BREAK, FaceDrawing
from takeoff.sheets.labels import meet
from takeoff.sheets.page import DIMENSION_TEXT, Box, Item, Line, Shape, Text
from takeoff.sheets.shop_notes import bend_label
from takeoff.sheets.wording import face_name
from takeoff.steel import ANGLE, Piece, Point2
from takeoff.words import say

HATCH = 5.0
"""Distance and reach of the strokes across a heel to grind (pt)."""
BEND_IN = 3.0
"""How far inside the toe the line of a bend stands (pt)."""

Wanted = tuple[Box, str]
"""Where something was drawn, and what it is called."""


def on_end(piece: Piece, at: Callable[[float, float], Point2], most: float) -> list[Item]:
    """On the end view of an angle: the ground heel and the bent legs, dashed, each named; none reaches beyond ``most``.

    ``at`` gives the place on paper of a point (u, v) of the section. A grind of unknown radius is drawn a wall deep.
    """
    section = piece.section
    if section.shape != ANGLE:
        return []
    items: list[Item] = []
    words: list[str] = []
    if piece.heel_grinds:
        radius = max(grind.radius for grind in piece.heel_grinds)
        size = max(radius, *(grind.chamfer for grind in piece.heel_grinds)) or section.tw
        # What is taken off is white, with its edge before the grinding dashed.
        items.append(Shape((at(0.0, 0.0), at(size, 0.0), at(0.0, size)), 0.4, True, 1.0, (1.5, 1.5)))
        items.append(Line(*at(size, 0.0), *at(0.0, size), 1.2))
        if radius:
            words.append(say("heel ground, radius or chamfer {radius}", radius=measure.length(radius)))
        else:
            words.append(say("heel ground to the root"))
    for bend in piece.flange_bends:
        a = radians(bend.degrees)
        tip = (
            (-section.h * sin(a), section.h * cos(a)) if bend.face == "A" else (section.b * cos(a), -section.b * sin(a))
        )
        items.append(Line(*at(0.0, 0.0), *at(*tip), 0.8, (4.0, 2.0)))
        label = f"{face_name(section.shape, bend.face)} {bend_label(bend.degrees)}"
        words += [label] if label not in words else []
    for row, text in enumerate(words):
        # In the corner between the legs, under the note of the wall's thickness.
        x, y = at(section.tw, section.h * 0.9)
        left = min(x + 4.0, most - fonts.width(text, DIMENSION_TEXT))
        items.append(Text(left, y - 10.0 * (row + 1), text, DIMENSION_TEXT, halo=True))
    return items


def features(piece: Piece, drawn: Sequence[Band], start: float, end: float) -> set[float]:
    """Where marks begin and end along a stretch, so that no break falls into a stamp or hides the end of a bend."""
    names = {band.face.name for band in drawn}
    found: set[float] = set()
    if piece.stamp and piece.stamp.face in names:
        found |= {piece.stamp.x, piece.stamp.x + piece.stamp.length}
    for grind in piece.heel_grinds:
        found |= {grind.x_from, grind.x_to}
    for bend in piece.flange_bends:
        if bend.face in names:
            found |= {bend.x_from, bend.x_to}
    return {x for x in found if start < x < end}


def draw(sheet: FaceDrawing, drawn: Sequence[Band]) -> list[Wanted]:
    """Draw the marks; where they stand and the words that name them."""
    wanted = []
    for band in drawn:
        wanted += _stamp(sheet, band)
        wanted += _bends(sheet, band)
    if drawn:
        wanted += _grinds(sheet, drawn[0])
    return wanted


def name(sheet: FaceDrawing, wanted: Sequence[Wanted], taken: list[Box], room: Box) -> None:
    """Put each mark's name beside it where nothing else stands; the notes name them all."""
    for (x0, y0, x1, y1), words in wanted:
        size = DIMENSION_TEXT
        places = (
            (x1 + 3.0, (y0 + y1) / 2 - 2.5, "start"),
            (x0, y0 - 7.5, "start"),
            (x0, y1 + 2.5, "start"),
            ((x0 + x1) / 2, y0 - 7.5, "middle"),
            ((x0 + x1) / 2, y1 + 2.5, "middle"),
            (x0 - 3.0, (y0 + y1) / 2 - 2.5, "end"),
        )
        for x, y, anchor in places:
            text = Text(x, y, words, size, anchor=anchor, halo=True)
            box = text.box()
            inside = box[0] >= room[0] and box[1] >= room[1] and box[2] <= room[2] and box[3] <= room[3]
            if inside and not any(meet(box, other) for other in taken):
                sheet.items.append(text)
                taken.append(box)
                break


def _stamp(sheet: FaceDrawing, band: Band) -> list[Wanted]:
    """The box that the letters stand in, dashed where they are on the far side."""
    stamp = sheet.piece.stamp
    if stamp is None or stamp.face != band.face.name or not sheet.start <= stamp.x < sheet.end:
        return []
    x0, x1 = sheet.along.at(stamp.x), sheet.along.at(min(stamp.x + stamp.length, sheet.end))
    ends = [sheet.height(band, stamp.across + side * stamp.height / 2) for side in (-1.0, 1.0)]
    box = (x0, min(ends), x1, max(ends))
    corners = ((x0, box[1]), (x1, box[1]), (x1, box[3]), (x0, box[3]))
    sheet.items.append(Shape(corners, 0.5, True, None, (2.0, 1.5) if stamp.far else ()))
    # the side that the letters stand on
    sheet.items.append(Line(x0, box[1], x1, box[1], 1.2))
    return [(box, say("stamp, far side") if stamp.far else say("stamp"))]


def _steel(sheet: FaceDrawing, start: float, end: float) -> Iterator[tuple[float, float]]:
    """The parts of a span on this stretch's paper, without the breaks."""
    start, end = max(start, sheet.start), min(end, sheet.end)
    if end <= start:
        return
    stops = [sheet.along.at(start)]
    for place in sorted(sheet.along.breaks):
        if sheet.along.at(start) < place < sheet.along.at(end):
            stops += [place - BREAK, place + BREAK]
    stops.append(sheet.along.at(end))
    yield from ((a, b) for a, b in zip(stops[::2], stops[1::2], strict=True) if b > a)


def _grinds(sheet: FaceDrawing, band: Band) -> list[Wanted]:
    """Strokes across the heel where it is ground."""
    y = sheet.height(band, 0.0)
    wanted = []
    for grind in sheet.piece.heel_grinds:
        spans = list(_steel(sheet, grind.x_from, grind.x_to))
        for left, right in spans:
            steps = max(1, round((right - left) / HATCH))
            for step in range(steps + 1):
                x = left + (right - left) * step / steps
                sheet.items.append(Line(x - HATCH / 2, y - HATCH / 2, x + HATCH / 2, y + HATCH / 2, 0.6))
        if spans:
            wanted.append(((spans[0][0], y - HATCH, spans[-1][1], y + HATCH), say("grind heel")))
    return wanted


def _bends(sheet: FaceDrawing, band: Band) -> list[Wanted]:
    """A dashed line inside the toe of a leg as far as it is bent."""
    wanted = []
    high, low = sheet.height(band, band.face.high), sheet.height(band, band.face.low)
    inward = 1.0 if low > high else -1.0
    y = high + inward * BEND_IN
    for bend in sheet.piece.flange_bends:
        if bend.face != band.face.name:
            continue
        spans = list(_steel(sheet, bend.x_from, bend.x_to))
        sheet.items += [Line(a, y, b, y, 0.9, (5.0, 2.0)) for a, b in spans]
        if spans:
            left, right = spans[0][0], spans[-1][1]
            sheet.items += [Line(x, y - 2.5, x, y + 2.5, 0.9) for x in (left, right)]
            wanted.append(((left, y - 2.0, right, y + 2.0), bend_label(bend.degrees)))
    return wanted
