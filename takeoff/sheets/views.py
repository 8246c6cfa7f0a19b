"""The drawing of a piece: its faces unfolded, holes, gauge lines and running dimensions in a given room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from takeoff.sheets import (
    details,
    dimensions,
    drawing_head,
    labels,
    lengthwise,
    measure,
    shop_marks,
    symbols,
    view_words,
)
from takeoff.sheets.bands import Band, Stretch, bands, flat_on
from takeoff.sheets.dimensions import Mark
from takeoff.sheets.face_drawing import FaceDrawing, crowded_across
from takeoff.sheets.labels import Spot
from takeoff.sheets.lengthwise import TO_SCALE, Lengthwise
from takeoff.sheets.page import MM, Box, Item, Text
from takeoff.steel import ANGLE, Piece
from takeoff.units import COINCIDENCE_MM
from takeoff.words import say

SCALES: Final = (1, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5, 8, 10, 12.5, 15, 20, 25, 30, 40, 50, 60, 75, 100, 150, 200)
"""1 : n. ISO 5455 recommends 1, 2, 5, 10 ...; the steps between are common practice, no source."""
LEFT: Final = 62.0
"""Room for face names left of the view (pt)."""
LEFT_PLATE: Final = 46.0
"""Room for the edge dimensions left of a plate (pt)."""
RIGHT: Final = 74.0
"""Room for gauges right of the view (pt)."""
LEGIBLE: Final = 22.0
"""Least height of a face on paper before the length is broken or compressed instead (pt)."""
COMFORT: Final = 32.0
"""Height that every face should have before faces are spread over several drawings (pt)."""
TALLEST: Final = 120.0
"""A face of a long piece is drawn no taller than this (pt)."""
BETWEEN: Final = 8.0
OFFSET: Final = 10.0
"""From a face's edge to its dimension line (pt)."""
DETAIL_HEIGHT: Final = 450.0
"""Room that a detail has on a page of its own (pt)."""
PLAIN_TO_SEE: Final = 45.0
"""A face lower than this is drawn broken out, if that shows it clearly larger, rather than all to scale (pt)."""
LARGER: Final = 0.67
"""Clearly larger: 1 : n with n at most this share."""
CROWDED: Final = 0.7
"""Share of the figures a line could hold that it gets where the piece has to be drawn in stretches anyway."""

Label = tuple[float, str, bool]
"""x in mm, figure, bold."""


@dataclass(slots=True)
class Views:
    """What was drawn. ``lost`` counts hole labels that found no room; ``n`` is the scale 1 : n across the piece."""

    items: list[Item]
    n: float
    manner: str
    lost: int = 0
    figures: dict[str, list[str]] = field(default_factory=dict)
    """Figures of each face's running dimension line, from the left."""
    details: tuple[Stretch, ...] = ()
    """Places so crowded that they are drawn again at a larger scale."""
    spots: list[Spot] = field(default_factory=list)
    """Where the holes were drawn."""


def labels_along(piece: Piece, band: Band) -> list[Label]:
    """The running dimensions of a face, both ends among them, in order; equal figures once."""
    found: dict[str, Label] = {}
    for hole in sorted((h for h in piece.holes if h.face == band.face.name), key=lambda h: h.x):
        text = measure.running(hole.x, piece.length)
        found.setdefault(text, (hole.x, text, False))
    if not flat_on(piece):
        for x, across in sorted(band.corners):
            text = measure.running(x, piece.length)
            if text not in found and COINCIDENCE_MM < x < piece.length - COINCIDENCE_MM:
                found[text] = (x, _edge(piece, band, across, text), False)
    return _between_ends(piece, found)


def _between_ends(piece: Piece, found: dict[str, Label]) -> list[Label]:
    """The figures in order, with the datum's 0 and the overall length in bold at the ends."""
    start, end = (measure.running(x, piece.length) for x in (0.0, piece.length))
    inner = sorted(label for text, label in found.items() if text not in (start, end))
    back = measure.from_right()
    return [(0.0, start, back), *inner, (piece.length, end, not back)]


def _edge(piece: Piece, band: Band, across: float, figure: str) -> str:
    """The figure of a corner of the outline with what it stands on."""
    if piece.section.shape == ANGLE and abs(across - band.face.low) < 0.05:
        return say("{figure} heel", figure=figure)
    if piece.section.shape == ANGLE and abs(across - band.face.high) < 0.05:
        return say("{figure} toe", figure=figure)
    return say("{figure} edge", figure=figure)


def edges_along(piece: Piece, band: Band) -> list[Label]:
    """The running dimensions of a plate's corners, apart from its holes; empty for a plain rectangle."""
    if not flat_on(piece) or not band.corners:
        return []
    found: dict[str, Label] = {}
    for x, _ in sorted(band.corners):
        text = measure.running(x, piece.length)
        found.setdefault(text, (x, text, False))
    row = _between_ends(piece, found)
    return row if len(row) > 2 else []


def plan(piece: Piece, box: Box) -> list[Stretch]:
    """The drawings that show all of the piece, each with room for every figure; empty without faces.

    Faces go on separate drawings where together they would be too low to read, legs of an
    angle never; the length is split where a face has more figures than stand side by side.
    """
    drawn = bands(piece)
    if not drawn:
        return []
    rows = [[x for x, _, _ in labels_along(piece, band)] for band in drawn]
    room = box[2] - box[0] - _left(piece) - RIGHT
    most = dimensions.capacity(room)
    if max(len(row) for row in rows) > most:
        most = int(most * CROWDED)
    stretches = lengthwise.stretches(rows, (0.0, piece.length), most)
    groups = _groups(piece, drawn, box[2] - box[0], box[3] - box[1])
    return [Stretch(group, start, end) for start, end in stretches for group in groups]


def wanted(piece: Piece, width: float) -> float:
    """Height in which the first drawing of the piece, ``width`` pt wide, stays easy to read (pt)."""
    drawn = bands(piece)
    if not drawn:
        return 0.0
    first = drawn if piece.section.shape == ANGLE else drawn[:1]
    scale = COMFORT / min(band.width for band in first)
    needs = [
        _depth(labels_along(piece, band))
        + (_depth(edges) if (edges := edges_along(piece, band)) else 0.0)
        + min(band.width * scale, TALLEST)
        for band in first
    ]
    return sum(needs) + view_words.height(piece, drawn, width)


def _groups(piece: Piece, drawn: Sequence[Band], width: float, height: float) -> list[tuple[Band, ...]]:
    if piece.section.shape == ANGLE:
        return [tuple(drawn)]
    scale = COMFORT / min(band.width for band in drawn)
    groups: list[list[Band]] = [[]]
    above = view_words.height(piece, drawn, width)
    used = above
    for band in drawn:
        need = dimensions.depth([text for _, text, _ in labels_along(piece, band)]) + band.width * scale + BETWEEN
        if groups[-1] and used + need > height:
            groups.append([])
            used = above
        groups[-1].append(band)
        used += need
    return [tuple(group) for group in groups]


def _left(piece: Piece) -> float:
    return LEFT_PLATE if flat_on(piece) else LEFT


def compose(piece: Piece, box: Box, stretch: Stretch, details_from: int = 1) -> Views:
    """The faces of ``stretch`` inside ``box``; details of crowded places are numbered from ``details_from``."""
    drawn, start, end = stretch.faces, stretch.start, stretch.end
    x0, y0, x1, y1 = box
    note_room = view_words.height(piece, drawn, x1 - x0)
    left = x0 + _left(piece)
    right = x1 - RIGHT
    rows = [_within(labels_along(piece, band), start, end) for band in drawn]
    edges = [_within(edges_along(piece, band), start, end) for band in drawn]
    joined = piece.section.shape == ANGLE and len(drawn) == 2
    depths = [_depth(row) for row in rows]
    below = [_depth(row) if row else 0.0 for row in edges]
    fixed = sum(depths) + sum(below) + note_room + (len(drawn) - 1) * (0.0 if joined else BETWEEN)
    figured = {start, end} | {x for row in (*rows, *edges) for x, _, _ in row}
    features = sorted(figured | shop_marks.features(piece, drawn, start, end))
    n, along = _choose(piece, drawn, features, left, right - left, y1 - y0 - fixed)
    scale = MM / n
    sheet = FaceDrawing(piece, along, scale, start, end)
    views = Views(sheet.items, n, along.manner)
    sizes = symbols.sizes(piece.holes)
    # the dimensions across stand near the steel, but never where figures along the piece have to spread to
    figures = max(len(row) for row in (*rows, *edges))
    right = min(right, max(along.at(end), left - 18.0 + (figures - 1) * dimensions.PITCH + 0.1))
    room = (left - 6.0, right + 12.0)
    tall = fixed + sum(band.width for band in drawn) * scale
    y = y1 - note_room - max(0.0, (y1 - y0 - tall) * 0.35)
    gauges: list[Mark] = []
    datums: list[float] = []
    for index, band in enumerate(drawn):
        hangs = joined and index == 1
        y -= 0.0 if hangs else depths[index]
        top, bottom = y, y - band.width * scale
        sheet.place(band, bottom if band.up else top)
        sheet.outline(band)
        line = bottom - OFFSET if hangs else top + OFFSET
        _running(sheet, band, rows[index], line, not hangs, room)
        views.figures[band.face.name] = [text for _, text, _ in rows[index]]
        if edges[index]:
            _running(sheet, band, edges[index], bottom - OFFSET, False, room, dashed=True)
        if flat_on(piece):
            _edges_across(sheet, band, left - 10.0, y0, y1 - note_room)
        else:
            sheet.name(band, x0, left, top, bottom, sizes)
        gauges += sheet.gauges(band)
        if not datums or not joined:
            datums.append(sheet.height(band, max(band.face.low, min(0.0, band.face.high))))
        y = bottom - (depths[index] if hangs else below[index])
        y -= 0.0 if joined or index == len(drawn) - 1 else BETWEEN
    gauges.sort(key=lambda mark: mark.at)
    across = dimensions.across(gauges, right + 16.0, True, y0, y1 - note_room, datums)
    sheet.items += across or []
    for band in drawn:
        sheet.breaks(band)
    if joined:
        sheet.heel(drawn)
    marked = shop_marks.draw(sheet, drawn)
    spots = [sheet.holes(band, sizes) for band in drawn]
    views.spots = [spot for row in spots for spot in row]
    taken = [item.box() for item in sheet.items if isinstance(item, Text)]
    taken += [stripe for band in drawn for stripe in sheet.stripes(band)]
    if joined:
        heel = sheet.height(drawn[0], 0.0)
        taken.append((left, heel - 1.5, right, heel + 1.5))
    taken += [mark_box for mark_box, _ in marked]
    label_room = (left - 2.0, y0, right + 10.0, y1 - note_room)
    # the notes say every angle and radius; on the drawing they stand where there is room
    for text in (text for band in drawn for text in sheet.angles(band)):
        if not any(labels.meet(text.box(), other) for other in taken):
            sheet.items.append(text)
            taken.append(text.box())
    for band in drawn:
        sheet.radii(band, taken, label_room)
    names, lost = labels.label(spots, taken, label_room)
    views.lost = len(lost)
    sheet.items += names
    taken += [item.box() for item in names if isinstance(item, Text)]
    taken += [(s.x - s.reach, s.y - s.reach, s.x + s.reach, s.y + s.reach) for row in spots for s in row]
    shop_marks.name(sheet, marked, taken, label_room)
    if not stretch.detail:
        spans = details.crowded(piece, sheet, spots, lost, right - left)

        def scale_of(a: float, b: float) -> float:
            inside = [x for x in features if a <= x <= b]
            n, manner = _choose(piece, drawn, sorted({a, *inside, b}), left, right - left, DETAIL_HEIGHT - fixed)
            return n if manner.manner == TO_SCALE else float("inf")

        spans = [span for span in spans if details.worth(sheet, n, scale_of(*span))]
        views.details = tuple(Stretch(drawn, a, b, k) for k, (a, b) in enumerate(spans, start=details_from))
        details.mark(sheet, drawn, [(d.start, d.end, d.detail) for d in views.details], taken, label_room)
    omitted = view_words.omitted(views.lost, across is None or any(crowded_across(sheet, band) for band in drawn))
    note = " ".join((view_words.shown(piece, stretch, n, along.manner), *omitted))
    sheet.items += drawing_head.compose(note, piece.holes, (x0, y0, x1, y1))
    return views


def _within(row: Sequence[Label], start: float, end: float) -> list[Label]:
    return [label for label in row if start - 1e-9 <= label[0] <= end + 1e-9]


def _depth(row: Sequence[Label]) -> float:
    return dimensions.depth([text for _, text, _ in row]) + OFFSET - 5.0


def _running(
    sheet: FaceDrawing,
    band: Band,
    row: Sequence[Label],
    line: float,
    up: bool,
    room: tuple[float, float],
    dashed: bool = False,
) -> None:
    """A line of running dimensions; ``plan`` has seen to it that its figures fit."""
    marks = [Mark(sheet.along.at(x), sheet.edge(band, x, up), text, bold, dashed) for x, text, bold in row]
    datum = None
    if measure.from_right() and sheet.end >= sheet.piece.length:
        datum = sheet.along.at(sheet.piece.length)
    elif not measure.from_right() and sheet.start <= 0.0:
        datum = sheet.along.at(0.0)
    items = dimensions.along(marks, line, up, *room, datum)
    if items is None:
        raise ValueError(f"{len(row)} running dimensions do not fit {room[1] - room[0]:.0f} pt")
    sheet.items += items


def _edges_across(sheet: FaceDrawing, band: Band, x: float, low: float, high: float) -> None:
    """Distances of a plate's corners from its bottom edge, left of the view; they stand in the notes too."""
    edge = sheet.along.at(sheet.start)
    figures = {measure.length(across): across for _, across in sorted(band.corners, key=lambda corner: corner[1])}
    limits = (measure.length(band.face.low), measure.length(band.face.high))
    marks = [
        Mark(sheet.height(band, across), edge, text)
        for text, across in figures.items()
        if text not in limits and sheet.start <= 0.0
    ]
    if marks:
        datum = sheet.height(band, band.face.low)
        sheet.items += dimensions.across(marks, x, False, low, high, [datum]) or []


def _choose(
    piece: Piece, drawn: Sequence[Band], features: list[float], left: float, room: float, height: float
) -> tuple[float, Lengthwise]:
    """Scale and lengthwise layout: all to scale where faces stay legible, else broken, else compressed."""
    total = sum(band.width for band in drawn)
    narrow = min(band.width for band in drawn)
    start, end = features[0], features[-1]
    fitting = [n for n in SCALES if total * MM / n <= height] or [SCALES[-1]]
    smallest = min((hole.diameter for hole in piece.holes if hole.diameter > 0), default=20.0)
    legible = [n for n in fitting if narrow * MM / n >= LEGIBLE and smallest * MM / n >= 3.0] or fitting[:1]
    broad = total * 4 > end - start
    modest = [n for n in legible if narrow * MM / n <= TALLEST] or legible
    for n in fitting if broad else legible:
        if (end - start) * MM / n <= room:
            if not broad and narrow * MM / n < PLAIN_TO_SEE:
                for larger in (m for m in modest if m <= n * LARGER):
                    along = lengthwise.broken(features, MM / larger, left, room)
                    if along is not None:
                        return larger, along
            return n, lengthwise.to_scale(start, end, MM / n, left)
    for n in modest:
        along = lengthwise.broken(features, MM / n, left, room)
        if along is not None:
            return n, along
    n = modest[min(1, len(modest) - 1)]
    return n, lengthwise.compressed(features, left, room)
