"""The faces of the structure seen from outside, each piece a line with its mark: what stands where at a glance.

Lines are the middles of the sections, to scale. A tall face goes over several pages from the ground up, so that marks
find room; one that finds none is counted and stands in the list.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil
from typing import Final

from takeoff.dispatch import Erection, FaceView, Level
from takeoff.sheets.flow import Flow
from takeoff.sheets.labels import meet
from takeoff.sheets.page import DIMENSION_TEXT, Box, Disc, Item, Line, Text
from takeoff.sheets.places import height_words
from takeoff.words import say

LINES_A_PAGE: Final = 60
MOST_PAGES: Final = 12
"""A face of more pages than this is no help on paper."""
SCALE_ROOM: Final = 62.0
"""Room for the heights of the levels at the left (pt)."""
SHORT: Final = 9.0
"""A piece shorter than this on paper (pt) is a dot."""

Segment = tuple[str, float, float, float, float]


def set_views(flow: Flow, plan: Erection) -> None:
    """A page or more for each face; nothing where the structure has no faces."""
    levels = {level.number: level for level in plan.levels}
    for view in plan.views:
        count = ceil(len(view.lines) / LINES_A_PAGE)
        if count > MOST_PAGES:
            flow.need(30.0)
            flow.paragraph(
                say("Face {side} has {count} pieces, too many to draw here.", side=view.side, count=len(view.lines))
            )
            continue
        heights = [z for _, _, z0, _, z1 in view.lines for z in (z0, z1)]
        low, high = min(heights), max(heights)
        step = (high - low) / count
        for band in range(count):
            _page(flow, view, levels, low + band * step, low + (band + 1) * step, band, count)


def _page(
    flow: Flow, view: FaceView, levels: Mapping[int, Level], low: float, high: float, band: int, count: int
) -> None:
    title = say("Face {side} seen from outside, {right} at the right", side=view.side, right=view.right)
    if count > 1:
        title = say("{title}, part {number} of {count}", title=title, number=band + 1, count=count)
    flow.turn(f"face {view.side} {band}", title, 1)
    flow.heading(title, 12.0)
    segments = [cut for line in view.lines if (cut := _within(line, low, high))]
    if not segments:
        return
    xs = [x for _, x0, _, x1, _ in segments for x in (x0, x1)]
    room: Box = (flow.left + SCALE_ROOM, flow.bottom + 26.0, flow.right - 12.0, flow.y - 14.0)
    wide, tall = max(max(xs) - min(xs), 1.0), max(high - low, 1.0)
    scale = min((room[2] - room[0]) / wide, (room[3] - room[1]) / tall)
    x_middle, foot = (max(xs) + min(xs)) / 2, room[3] - tall * scale

    def place(x: float, z: float) -> tuple[float, float]:
        return (room[0] + room[2]) / 2 + (x - x_middle) * scale, foot + (z - low) * scale

    items, taken = _levels(flow, levels, low, high, place(0.0, low)[1], scale)
    drawn = [(mark, *place(x0, z0), *place(x1, z1)) for mark, x0, z0, x1, z1 in segments]
    for _, x0, y0, x1, y1 in drawn:
        if abs(x1 - x0) + abs(y1 - y0) < SHORT:
            items.append(Disc((x0 + x1) / 2, (y0 + y1) / 2, 1.6, 0.4, 0.6))
        else:
            items.append(Line(x0, y0, x1, y1, 0.9))
    texts, lost = _marks(drawn, taken, (flow.left, room[1] - 8.0, flow.right, room[3] + 10.0))
    flow.add([*items, *texts])
    flow.y = foot - 12.0
    if lost:
        flow.paragraph(say("Marks without room here, but in the list: {count}.", count=lost), DIMENSION_TEXT)


def _within(line: Segment, low: float, high: float) -> Segment | None:
    """The part of a line between two heights; None where it is outside."""
    mark, x0, z0, x1, z1 = line
    if max(z0, z1) < low or min(z0, z1) > high:
        return None
    if abs(z1 - z0) < 1e-6:
        return line

    def at(z: float) -> tuple[float, float]:
        bounded = min(max(z, low), high)
        return x0 + (x1 - x0) * (bounded - z0) / (z1 - z0), bounded

    return mark, *at(z0), *at(z1)


def _levels(
    flow: Flow, levels: Mapping[int, Level], low: float, high: float, foot: float, scale: float
) -> tuple[list[Item], list[Box]]:
    """A dashed line at each level with its number and height."""
    items: list[Item] = []
    taken: list[Box] = []
    for level in levels.values():
        if not low - 1.0 <= level.height <= high + 1.0:
            continue
        y = foot + (level.height - low) * scale
        words = say("{number}: {height}", number=level.number, height=height_words(level.height))
        text = Text(flow.left, y + 2.0, words, DIMENSION_TEXT, True)
        box = text.box()
        items.append(Line(flow.left, y, flow.right, y, 0.25, (3.0, 2.0)))
        if not any(meet(box, other) for other in taken):
            items.append(text)
            taken.append(box)
    return items, taken


def _marks(drawn: Sequence[Segment], taken: Sequence[Box], room: Box) -> tuple[list[Text], int]:
    """Marks on their lines where nothing else stands, the longest lines first; and how many found no room."""
    used = list(taken)
    texts: list[Text] = []
    lost = 0
    for mark, x0, y0, x1, y1 in sorted(drawn, key=lambda s: -round((s[3] - s[1]) ** 2 + (s[4] - s[2]) ** 2, 3)):
        text = _free(mark, x0, y0, x1, y1, used, room)
        if text is None:
            lost += 1
            continue
        texts.append(text)
        used.append(text.box())
    return texts, lost


def _free(mark: str, x0: float, y0: float, x1: float, y1: float, used: Sequence[Box], room: Box) -> Text | None:
    drop = DIMENSION_TEXT * 0.35
    if abs(x1 - x0) + abs(y1 - y0) < SHORT:
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        places = [
            (x + 4.0, y - drop, "start"),
            (x - 4.0, y - drop, "end"),
            (x, y + 4.0, "middle"),
            (x, y - 9.0, "middle"),
        ]
    else:
        # not in the middle first: there braces cross
        shares = (0.36, 0.64, 0.26, 0.74, 0.5, 0.14, 0.86)
        places = [(x0 + t * (x1 - x0), y0 + t * (y1 - y0) - drop, "middle") for t in shares]
    for x, y, anchor in places:
        text = Text(x, y, mark, DIMENSION_TEXT, anchor=anchor, halo=True)
        box = text.box()
        inside = box[0] >= room[0] and box[1] >= room[1] and box[2] <= room[2] and box[3] <= room[3]
        if inside and not any(meet(box, other) for other in used):
            return text
    return None
