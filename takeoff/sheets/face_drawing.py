"""A drawing of faces while it is made: where each lies on paper, and what is drawn on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from takeoff.sheets import fonts
from takeoff.sheets.bands import Band, between, flat_on, refined
from takeoff.sheets.dimensions import Mark
from takeoff.sheets.labels import Spot
from takeoff.sheets.lengthwise import COMPRESSED, Lengthwise
from takeoff.sheets.page import Box, Item, Line, Shape, Text
from takeoff.sheets.symbols import LEAST_RADIUS, Size, size_key, symbol
from takeoff.sheets.wording import angle, face_name, several
from takeoff.steel import ANGLE, Hole, Piece, Point2
from takeoff.units import millimetres

SAME_PLACE = 0.06
"""Figures print to 0.1 mm; what differs by less is one place on a dimension line (mm)."""
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
        lines.append((several(len(own), "hole") if own else "no holes", 7.0, False))
        if len(kinds) == 1:
            size = sizes[next(iter(kinds))]
            lines.append((("all " if len(own) > 1 else "") + size.text, 7.0, True))
            if size.bolt:
                lines.append((f"for {size.bolt}", 7.0, False))
        tall = sum(points * 1.18 for _, points, _ in lines)
        y = (top + bottom) / 2 + tall / 2
        if shape == ANGLE:
            # the words of both legs keep clear of the heel line between them, where its own name stands
            y = max(y, bottom + tall + 5.0) if band.up else min(y, top - 5.0)
            if band.up:
                self.items.append(Text(right - 4.0, bottom - 2.4, "heel", 7.0, True, "end"))
        for words, points, bold in lines:
            y -= points
            self.items.append(Text(x, y, words, points, bold))
            y -= points * 0.18

    def gauges(self, band: Band) -> list[Mark]:
        """Draw the gauge lines; distances across, one for each line, and the full width in bold."""
        lines: dict[str, list[Hole]] = {}
        for hole in sorted(self.own(band), key=lambda h: (h.across, h.x)):
            lines.setdefault(millimetres(hole.across), []).append(hole)
        found: dict[str, Mark] = {}
        for figure, holes in lines.items():
            y = self.height(band, holes[0].across)
            places = [self.along.at(hole.x) for hole in holes]
            self.items.append(Line(min(places), y, max(places), y, 0.25, (6.0, 2.0, 1.0, 2.0)))
            line = "" if flat_on(self.piece) or not holes[0].gauge_line else f" line {holes[0].gauge_line}"
            text = figure + line
            found[figure] = Mark(y, max(places), text)
        end = self.along.at(self.end)
        high = millimetres(band.face.high)
        found.setdefault(high, Mark(self.height(band, band.face.high), end, high, True))
        if band.face.low < -SAME_PLACE:
            low = millimetres(band.face.low)
            found.setdefault(low, Mark(self.height(band, band.face.low), end, low, True))
        return list(found.values())

    def angles(self, band: Band) -> list[Text]:
        """The angles of skew ends and clipped corners, each outside the middle of its cut."""
        texts = []
        for cut in self.piece.cuts:
            if cut.face != band.face.name or cut.kind not in ("skew", "clip") or abs(cut.angle) < 0.05:
                continue
            left = cut.end == "left"
            if cut.kind == "skew":
                x = cut.x + (cut.size / 2 if left else -cut.size / 2)
                across = (band.face.low + band.face.high) / 2
            else:
                edge = band.face.low if cut.across < (band.face.low + band.face.high) / 2 else band.face.high
                x = (cut.x + (0.0 if left else self.piece.length)) / 2
                across = (cut.across + edge) / 2
            if self.start <= x <= self.end:
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
