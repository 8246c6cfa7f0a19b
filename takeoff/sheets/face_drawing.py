"""A drawing of faces while it is made: where each lies on paper, and what is drawn on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot

from takeoff.sheets import fonts, measure
from takeoff.sheets.bands import Band, between, flat_on, refined
from takeoff.sheets.dimensions import Mark
from takeoff.sheets.labels import Spot, meet
from takeoff.sheets.lengthwise import COMPRESSED, Lengthwise
from takeoff.sheets.page import Box, Item, Line, Shape, Text
from takeoff.sheets.symbols import LEAST_RADIUS, Size, size_key, symbol
from takeoff.sheets.wording import angle, face_name, holes_words
from takeoff.steel import ANGLE, Hole, Piece, Point2
from takeoff.words import say

SAME_PLACE = 0.06
"""Figures print to 0.1 mm; what differs by less is one place on a dimension line (mm)."""
PLATE_LINES = 6
"""Heights of a plate's holes that are dimensioned on its drawing."""
BREAK = 5.0
"""Half the white stripe of a break (pt)."""


@dataclass(slots=True)
class FaceDrawing:
    """``scale`` is pt of paper per mm across the piece; shows the steel from ``start`` to ``end`` mm."""

    piece: Piece
    along: Lengthwise
    scale: float
    start: float
    end: float
    items: list[Item] = field(default_factory=list)
    datums: dict[str, float] = field(default_factory=dict)

    def place(self, band: Band, edge: float) -> None:
        """Lay the band so that its low side stands at ``edge``."""
        sign = 1.0 if band.up else -1.0
        self.datums[band.face.name] = edge - sign * band.face.low * self.scale

    def height(self, band: Band, across: float) -> float:
        """Height on paper of a distance across the face."""
        sign = 1.0 if band.up else -1.0
        return self.datums[band.face.name] + sign * across * self.scale

    def span(self, band: Band) -> tuple[float, float]:
        """Lower and upper edge of the band on paper."""
        ends = (self.height(band, band.face.low), self.height(band, band.face.high))
        return min(ends), max(ends)

    def own(self, band: Band) -> list[Hole]:
        """Holes of the face on this stretch, in running order."""
        holes = [h for h in self.piece.holes if h.face == band.face.name and self.start <= h.x <= self.end]
        return sorted(holes, key=lambda h: (h.x, h.across, h.label))

    def outline(self, band: Band) -> None:
        """The face's outline, cut off at the ends of the stretch; the inside of a bevelled one dashed."""
        for loop in band.outlines:
            self._loop(band, loop, 1.0, ())
        for loop in band.far:
            self._loop(band, loop, 0.4, (3.0, 2.0))

    def _loop(self, band: Band, loop: tuple[Point2, ...], width: float, dash: tuple[float, ...]) -> None:
        points = between(loop, self.start, self.end)
        if len(points) < 3:
            return
        fine = refined(points, [x for x in self.along.xs if self.start < x < self.end])
        drawn = tuple((self.along.at(x), self.height(band, across)) for x, across in fine)
        self.items.append(Shape(drawn, width, True, None, dash))

    def edge(self, band: Band, x: float, up: bool) -> float:
        """Where the witness line of ``x`` starts: at the farthest hole or corner there, else at the band's edge."""
        heights = [self.height(band, hole.across) for hole in self.own(band) if abs(hole.x - x) < SAME_PLACE]
        heights += [self.height(band, across) for at, across in band.corners if abs(at - x) < SAME_PLACE]
        low, high = self.span(band)
        if not heights:
            return high if up else low
        return min(heights) if up else max(heights)

    def breaks(self, band: Band) -> None:
        """Zigzag lines where steel is left out, and at the ends of a stretch that goes on."""
        low, high = self.span(band)
        for place in self.along.breaks:
            left, right = _zigzag(place - BREAK, low, high), _zigzag(place + BREAK, low, high)
            self.items.append(Shape((*left, *reversed(right)), 0.0, True, 1.0))
            self.items += [Shape(left, 0.5, False), Shape(right, 0.5, False)]
        if self.start > 0.0:
            self.items.append(Shape(_zigzag(self.along.at(self.start), low, high), 0.5, False))
        if self.end < self.piece.length:
            self.items.append(Shape(_zigzag(self.along.at(self.end), low, high), 0.5, False))

    def stripes(self, band: Band) -> list[Box]:
        """The boxes that the breaks take on paper."""
        low, high = self.span(band)
        reach = BREAK + 3.0
        return [(place - reach, low - 3.0, place + reach, high + 3.0) for place in self.along.breaks]

    def heel(self, drawn: Sequence[Band]) -> None:
        """The heel line as far as there is steel on either leg, strong, interrupted at the breaks."""
        xs = [x for band in drawn for loop in band.outlines for x, across in loop if abs(across) < SAME_PLACE]
        if not xs:
            return
        y = self.height(drawn[0], 0.0)
        stops = [self.along.at(max(min(xs), self.start))]
        for place in self.along.breaks:
            stops += [place - BREAK, place + BREAK]
        stops.append(self.along.at(min(max(xs), self.end)))
        self.items += [Line(a, y, b, y, 2.0) for a, b in zip(stops[::2], stops[1::2], strict=True) if b > a]

    def name(
        self,
        band: Band,
        x: float,
        right: float,
        top: float,
        bottom: float,
        sizes: Mapping[tuple[str, str], Size],
    ) -> None:
        """The face's name and its holes, left of the band, between ``x`` and ``right``."""
        shape = self.piece.section.shape
        own = [hole for hole in self.piece.holes if hole.face == band.face.name]
        kinds = {size_key(hole) for hole in own}
        room = right - x - 8.0
        lines = [(word, 8.5, True) for word in fonts.wrap(face_name(shape, band.face.name).upper(), 8.5, room, True)]
        lines.append((holes_words(len(own)), 7.0, False))
        if len(kinds) == 1:
            size = sizes[next(iter(kinds))]
            words = say("all {size}", size=size.text) if len(own) > 1 else size.text
            lines += [(line, 7.0, True) for line in fonts.wrap(words, 7.0, room, True)]
            if size.bolt:
                lines.append((say("for {bolt}", bolt=size.bolt), 7.0, False))
        tall = sum(points * 1.18 for _, points, _ in lines)
        y = (top + bottom) / 2 + tall / 2
        if shape == ANGLE:
            # the words of both legs keep clear of the heel line between them, where its own name stands
            y = max(y, bottom + tall + 5.0) if band.up else min(y, top - 5.0)
            if band.up:
                self.items.append(Text(right - 4.0, bottom - 2.4, say("heel"), 7.0, True, "end"))
        for words, points, bold in lines:
            y -= points
            self.items.append(Text(x, y, words, points, bold))
            y -= points * 0.18

    def gauges(self, band: Band) -> list[Mark]:
        """Draw the gauge lines; distances across, one for each line, and the full width in bold.

        Plates have no gauges: lines are drawn through holes at one height, and where there are many heights only the
        table gives them.
        """
        found: dict[str, Mark] = {}
        crowded = crowded_across(self, band)
        for holes in self._lines(band):
            y = self.height(band, holes[0].across)
            places = [self.along.at(hole.x) for hole in holes]
            if len(holes) > 1 or not flat_on(self.piece):
                self.items.append(Line(min(places), y, max(places), y, 0.25, (6.0, 2.0, 1.0, 2.0)))
            figures = list(dict.fromkeys(measure.length(h.across) for h in sorted(holes, key=lambda h: h.across)))
            figure = figures[0] if len(figures) == 1 else f"{figures[0]}–{figures[-1]}"
            line = 0 if flat_on(self.piece) else holes[0].gauge_line
            text = say("{gauge} line {line}", gauge=figure, line=line) if line else figure
            if not crowded:
                found.setdefault(figure, Mark(y, max(places), text))
        if not flat_on(self.piece):
            for x, across in sorted(band.corners):
                inner = band.face.low + SAME_PLACE < across < band.face.high - SAME_PLACE
                if inner and self.start <= x <= self.end:
                    figure = measure.length(across)
                    text = say("{figure} edge", figure=figure)
                    found.setdefault(figure, Mark(self.height(band, across), self.along.at(x), text))
        end = self.along.at(self.end)
        high = measure.length(band.face.high)
        found.setdefault(high, Mark(self.height(band, band.face.high), end, high, True))
        if band.face.low < -SAME_PLACE:
            low = measure.length(band.face.low)
            found.setdefault(low, Mark(self.height(band, band.face.low), end, low, True))
        return list(found.values())

    def _lines(self, band: Band) -> list[list[Hole]]:
        """Holes of one gauge line together, else those whose distances across print alike."""
        lines: dict[str, list[Hole]] = {}
        for hole in sorted(self.own(band), key=lambda h: (h.across, h.x)):
            numbered = hole.gauge_line and not flat_on(self.piece)
            lines.setdefault(f"line {hole.gauge_line}" if numbered else measure.length(hole.across), []).append(hole)
        return list(lines.values())

    def radii(self, band: Band, taken: list[Box], room: Box) -> None:
        """The radius of each arc beside its middle, with a leader, and a cross at its centre."""
        for arc in band.arcs:
            if not self.start <= arc.middle[0] <= self.end:
                continue
            x, y = self.along.at(arc.middle[0]), self.height(band, arc.middle[1])
            cx, cy = self.along.at(arc.centre[0]), self.height(band, arc.centre[1])
            if room[0] <= cx <= room[2] and room[1] <= cy <= room[3]:
                self.items += [Line(cx - 2.5, cy, cx + 2.5, cy, 0.3), Line(cx, cy - 2.5, cx, cy + 2.5, 0.3)]
            span = hypot(cx - x, cy - y) or 1.0
            words = say("R {radius}", radius=measure.length(arc.radius))
            for side, away in ((1.0, 10.0), (-1.0, 10.0), (1.0, 18.0), (-1.0, 18.0)):
                px, py = x + side * away * (cx - x) / span, y + side * away * (cy - y) / span
                text = Text(px, py - 2.5, words, 7.0, anchor="start" if px >= x else "end", halo=True)
                box = text.box()
                inside = box[0] >= room[0] and box[1] >= room[1] and box[2] <= room[2] and box[3] <= room[3]
                if inside and not any(meet(box, other) for other in taken):
                    self.items += [Line(x, y, px, py, 0.25), text]
                    taken.append(box)
                    break

    def angles(self, band: Band) -> list[Text]:
        """The angles of skew ends and clipped corners, each outside the middle of its cut."""
        texts = []
        for cut in self.piece.cuts:
            if cut.face != band.face.name or cut.kind not in ("skew", "clip") or abs(cut.angle) < 0.05:
                continue
            left = cut.end == "left"
            if cut.kind == "skew":
                # a skew is given by its inner end
                x = cut.x + (-cut.size / 2 if left else cut.size / 2)
                across = (band.face.low + band.face.high) / 2
            else:
                edge = band.face.low if cut.across < (band.face.low + band.face.high) / 2 else band.face.high
                x = (cut.x + (0.0 if left else self.piece.length)) / 2
                across = (cut.across + edge) / 2
            if self.start <= x <= self.end:
                # outside the steel, but for a flat, whose corners are dimensioned there
                outward = not flat_on(self.piece)
                left = left if outward else not left
                place = self.along.at(x) + (-4.0 if left else 4.0)
                y = self.height(band, across) - 2.5
                texts.append(Text(place, y, angle(cut.angle), 7.0, anchor="end" if left else "start", halo=True))
        return texts

    def holes(self, band: Band, sizes: Mapping[tuple[str, str], Size]) -> list[Spot]:
        """Draw the hole symbols; where they are."""
        own = self.own(band)
        places = [(self.along.at(hole.x), self.height(band, hole.across)) for hole in own]
        spots = []
        for hole, (x, y) in zip(own, places, strict=True):
            most = _clear(x, y, places) if self.along.manner == COMPRESSED else float("inf")
            self.items += symbol(hole, x, y, self.scale, band.up, sizes[size_key(hole)].filling, most)
            half = min((hole.slot_length or hole.diameter) / 2 * self.scale, most)
            spots.append(Spot(hole, x, y, max(LEAST_RADIUS, half)))
        return spots


def crowded_across(sheet: FaceDrawing, band: Band) -> bool:
    """Whether a plate has holes at so many heights that dimensions across would be noise; its table has them."""
    heights = {measure.length(hole.across) for hole in sheet.own(band)}
    return flat_on(sheet.piece) and len(heights) > PLATE_LINES


def _zigzag(place: float, low: float, high: float) -> tuple[tuple[float, float], ...]:
    middle = (low + high) / 2
    return (
        (place, high + 3.0),
        (place, middle + 4.0),
        (place + 2.5, middle + 2.0),
        (place - 2.5, middle - 2.0),
        (place, middle - 4.0),
        (place, low - 3.0),
    )


def _clear(x: float, y: float, places: list[tuple[float, float]]) -> float:
    """Largest radius at which the symbol at (x, y) keeps clear of its neighbours."""
    near = [((x - a) ** 2 + (y - b) ** 2) ** 0.5 for a, b in places if (a, b) != (x, y)]
    return 0.42 * min(near, default=float("inf"))
