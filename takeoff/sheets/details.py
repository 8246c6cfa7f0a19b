"""Where holes crowd on a drawing, so that the place is drawn again at a larger scale."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil, hypot
from typing import Final

from takeoff.sheets.bands import Band
from takeoff.sheets.face_drawing import FaceDrawing
from takeoff.sheets.labels import Spot, meet
from takeoff.sheets.lengthwise import COMPRESSED
from takeoff.sheets.page import DIMENSION_TEXT, Box, Shape, Text
from takeoff.steel import Piece
from takeoff.words import say

CLEAR: Final = 2.0
"""Symbols closer than this on paper touch to the eye (pt)."""
GAIN: Final = 0.67
"""A detail is worth its room where its 1 : n is no more than this share of the drawing's."""
MARGIN_MM: Final = 20.0
"""Steel shown beyond the outermost hole of a detail."""
MOST: Final = 6
"""Details of one drawing; the table has every hole anyway."""

Span = tuple[float, float]


def crowded(
    piece: Piece, sheet: FaceDrawing, spots: Sequence[Sequence[Spot]], lost: Sequence[Spot], room: float
) -> list[Span]:
    """Spans of x in which hole symbols touch or names found no place, none longer than ``room`` pt shows well."""
    places = [(spot.hole.x, spot.hole.x) for spot in lost]
    for row in spots:
        near = sorted(row, key=lambda spot: spot.x)
        for index, spot in enumerate(near):
            for other in near[index + 1 :]:
                reach = spot.reach + other.reach + CLEAR
                if other.x - spot.x > 2 * reach + 40.0:
                    break
                if hypot(spot.x - other.x, spot.y - other.y) < reach:
                    places.append((min(spot.hole.x, other.hole.x), max(spot.hole.x, other.hole.x)))
    margin = MARGIN_MM + max((hole.slot_length or hole.diameter for hole in piece.holes), default=0.0) / 2
    merged: list[list[float]] = []
    for start, end in sorted(places):
        if merged and start - margin <= merged[-1][1] + margin:
            merged[-1][1] = max(merged[-1][1], end)
        else:
            merged.append([start, end])
    xs = sorted({spot.hole.x for row in spots for spot in row})
    longest = room / sheet.scale * (1.0 if sheet.along.manner == COMPRESSED else 0.5)
    found: list[Span] = []
    for start, end in merged:
        found += _parts(start, end, xs, longest, margin)
    # one hole alone does not crowd: its name was in the way of others, and the table has it
    found = [(a, b) for a, b in found if sum(a <= x <= b for x in xs) > 1]
    return [(max(a, sheet.start), min(b, sheet.end)) for a, b in found][:MOST]


def _parts(start: float, end: float, xs: Sequence[float], longest: float, margin: float) -> list[Span]:
    """The span with its margins, in parts no longer than ``longest`` that are cut midway between holes."""
    inside = [x for x in xs if start <= x <= end]
    gaps = [(a + b) / 2 for a, b in pairwise(inside)]
    count = max(1, ceil((end - start) / max(longest - 2 * margin, 1.0)))
    cuts = []
    for k in range(1, count):
        wanted = start + (end - start) * k / count
        if gaps:
            cuts.append(min(gaps, key=lambda place: abs(place - wanted)))
    bounds = sorted({start - margin, *cuts, end + margin})
    return list(pairwise(bounds))


def worth(sheet: FaceDrawing, n: float, detail: float) -> bool:
    """Whether a detail at 1 : ``detail`` shows more than the drawing at 1 : ``n``."""
    return detail <= (n if sheet.along.manner == COMPRESSED else n * GAIN)


def mark(
    sheet: FaceDrawing, drawn: Sequence[Band], spans: Sequence[tuple[float, float, int]], taken: list[Box], room: Box
) -> None:
    """A thin frame round each place on the drawing, and its number where nothing else stands."""
    edges = [edge for band in drawn for edge in sheet.span(band)]
    low, high = min(edges) - 3.0, max(edges) + 3.0
    for start, end, number in spans:
        left, right = sheet.along.at(start), sheet.along.at(end)
        corners = ((left, low), (right, low), (right, high), (left, high))
        sheet.items.append(Shape(corners, 0.3, True, None, (1.0, 2.0)))
        words = say("detail {number}", number=number)
        for x, y in (
            (left + 1.0, low - 7.0),
            (left + 1.0, high + 2.5),
            (left + 1.0, high - 8.0),
            (left + 1.0, low + 2.5),
        ):
            text = Text(x, y, words, DIMENSION_TEXT, True, halo=True)
            box = text.box()
            inside = box[0] >= room[0] and box[1] >= room[1] and box[2] <= room[2] and box[3] <= room[3]
            if inside and not any(meet(box, other) for other in taken):
                sheet.items.append(text)
                taken.append(box)
                break
