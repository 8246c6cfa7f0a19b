"""One bar pattern drawn to scale: pieces with their marks and lengths, trim, off-cut.

A run of like pieces that are too narrow for their words is named once, under the bar, with
its number: "15 × P7, 320 each". Where many such runs stand side by side they are numbered
instead, and what each number is stands below.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Final, NamedTuple

from takeoff.plans import BarPattern, BarPiece
from takeoff.sheets import fonts, measure
from takeoff.sheets.page import Item, Line, Shape, Text, frame
from takeoff.words import say

HEIGHT: Final = 26.0
"""Of the bar on paper (pt); its depth is not to scale."""
MARK: Final = 8.0
LENGTH: Final = 7.0
LANE: Final = 9.5
"""Height of a line of words under the bar."""
CLEAR: Final = 4.0
"""Between words of one line."""
LANES: Final = 3
"""Lines of words under a bar at most; where they would be more, runs are numbered."""
TICK: Final = 4.0
"""Depth of the bracket under a run."""


class _Label(NamedTuple):
    """Words under the bar: ``left`` to ``right`` is what they name, ``at`` where they begin, ``lane`` their line."""

    words: str
    left: float
    right: float
    at: float
    lane: int

    @property
    def middle(self) -> float:
        return (self.left + self.right) / 2

    @property
    def end(self) -> float:
        return self.at + fonts.width(self.words, LENGTH)


@dataclass(frozen=True, slots=True)
class BarDrawing:
    """A bar laid out from ``x`` (pt) at ``scale`` pt a mm; drawn when its place down the page is known."""

    pattern: BarPattern
    x: float
    scale: float
    labels: tuple[_Label, ...]
    numbers: tuple[str, ...] = ()
    """Lines that say what each number is."""

    @property
    def height(self) -> float:
        """Of bar and words together."""
        lanes = self._lanes + len(self.numbers)
        return HEIGHT + (TICK + lanes * LANE + 2.0 if lanes else 0.0)

    @property
    def _lanes(self) -> int:
        return max((label.lane for label in self.labels), default=-1) + 1

    def items(self, top: float) -> list[Item]:
        """The bar with its top edge at ``top``."""
        x, low, pattern = self.x, top - HEIGHT, self.pattern
        items: list[Item] = []
        begin = pattern.pieces[0].start if pattern.pieces else 0.0
        if begin > 0:
            items.append(frame((x, low, x + begin * self.scale, top), 0.4, 0.55))
        for piece in pattern.pieces:
            left, right = x + piece.start * self.scale, x + piece.stop * self.scale
            items.append(frame((left, low, right, top), min(0.8, max(0.2, (right - left) / 6.0))))
            if _roomy(piece, right - left):
                middle = (left + right) / 2
                items.append(Text(middle, low + HEIGHT - 11.0, piece.mark, MARK, True, "middle"))
                items.append(Text(middle, low + 5.0, measure.length(piece.length), LENGTH, False, "middle"))
        items += self._offcut(low, top)
        end = x + pattern.stock_length * self.scale
        items.append(Shape(((x, low), (end, low), (end, top), (x, top)), 1.2))
        # words last: they clear what runs behind them
        for label in self.labels:
            items += _leader(label, low)
        items += [Text(label.at, _base(label, low), label.words, LENGTH, halo=True) for label in self.labels]
        first = low - TICK - (self._lanes + 1) * LANE + 2.0
        items += [Text(x, first - n * LANE, line, LENGTH) for n, line in enumerate(self.numbers)]
        return items

    def _offcut(self, low: float, top: float) -> list[Item]:
        pattern = self.pattern
        if not pattern.offcut:
            return []
        left, right = _offcut_box(pattern, self.x, self.scale)
        items: list[Item] = [frame((left, low, right, top), 0.6, None if pattern.kept else 0.85)]
        if pattern.kept:
            # crossed: nothing is made of it here
            items += [Line(left, low, right, top, 0.3), Line(left, top, right, low, 0.3)]
        words = _offcut_words(pattern)
        if _fits(words, right - left):
            items.append(Text((left + right) / 2, low + HEIGHT / 2 - 2.5, words, LENGTH, False, "middle", halo=True))
        return items


def layout(pattern: BarPattern, x: float, right: float, scale: float) -> BarDrawing:
    """A bar with its front end at ``x``, its words kept left of ``right``."""
    named: list[tuple[str, float, float]] = []
    for (mark, length), group in groupby(pattern.pieces, key=lambda piece: (piece.mark, piece.length)):
        run = list(group)
        if _roomy(run[0], length * scale):
            continue
        size = measure.length(length)
        many = len(run)
        words = say("{mark}, {length}", mark=mark, length=size)
        if many > 1:
            words = say("{count} × {mark}, {length} each", count=many, mark=mark, length=size)
        named.append((fonts.printable(words), x + run[0].start * scale, x + run[-1].stop * scale))
    labels = _placed(named, x, right)
    if max((label.lane for label in labels), default=-1) < LANES:
        return BarDrawing(pattern, x, scale, labels)
    return BarDrawing(pattern, x, scale, _numbered(named, x, right), _meanings(named, right - x))


def _roomy(piece: BarPiece, wide: float) -> bool:
    """Whether mark and length stand in the piece side by side with its edges."""
    mark = fonts.width(fonts.printable(piece.mark), MARK, True)
    return max(mark, fonts.width(measure.length(piece.length), LENGTH)) + 2.0 <= wide


def _fits(words: str, wide: float) -> bool:
    return fonts.width(words, LENGTH) + 4.0 <= wide


def _offcut_box(pattern: BarPattern, x: float, scale: float) -> tuple[float, float]:
    end = x + pattern.stock_length * scale
    return end - pattern.offcut * scale, end


def _offcut_words(pattern: BarPattern) -> str:
    return say("off-cut {length}", length=measure.length(pattern.offcut))


def _meanings(named: list[tuple[str, float, float]], room: float) -> tuple[str, ...]:
    """What the numbers are, as many to a line as fit; one is broken only where it is too long for a line."""
    lines: list[str] = []
    for number, (words, _, _) in enumerate(named, 1):
        entry = f"{number}: {words}"
        together = f"{lines[-1]}    {entry}" if lines else entry
        if lines and fonts.width(together, LENGTH) <= room:
            lines[-1] = together
        else:
            lines += fonts.wrap(entry, LENGTH, room)
    return tuple(lines)


def _numbered(named: list[tuple[str, float, float]], least: float, most: float) -> tuple[_Label, ...]:
    """A number under each run, the first and last of them under neighbours too narrow for one each."""
    labels: list[_Label] = []
    first = 0
    for last, (_, _, right) in enumerate(named):
        left = named[first][1]
        words = str(first + 1) if first == last else f"{first + 1}–{last + 1}"
        wide = fonts.width(words, LENGTH)
        at = min(max(least, (left + right - wide) / 2), most - wide)
        clear = not labels or labels[-1].end + CLEAR / 2 <= at
        following = named[last + 1][1] if last + 1 < len(named) else most + CLEAR
        if clear and at + wide + CLEAR / 2 <= max(following, right + CLEAR / 2):
            labels.append(_Label(words, left, right, at, 0))
            first = last + 1
    if first < len(named):
        # the last ones find no room of their own: they join the neighbours before them
        left, right = named[first][1], named[-1][2]
        while labels:
            left = labels[-1].left
            begun = int(labels.pop().words.split("–")[0])
            words = f"{begun}–{len(named)}"
            at = min((left + right - fonts.width(words, LENGTH)) / 2, most - fonts.width(words, LENGTH))
            if not labels or labels[-1].end + CLEAR / 2 <= at:
                return (*labels, _Label(words, left, right, at, 0))
        words = f"1–{len(named)}"
        labels.append(_Label(words, left, right, max(least, most - fonts.width(words, LENGTH)), 0))
    return tuple(labels)


def _placed(named: list[tuple[str, float, float]], least: float, most: float) -> tuple[_Label, ...]:
    """Words that begin at their leader, the leftmost lowest, so that no leader runs through words.

    Near the right edge they end at it, and there the rightmost stand lowest.
    """
    onward, back = [], []
    for words, left, right in named:
        middle, wide = (left + right) / 2, fonts.width(words, LENGTH)
        if middle - 1.0 + wide <= most:
            onward.append(_Label(words, left, right, middle - 1.0, 0))
        else:
            back.append(_Label(words, left, right, max(least, min(most, middle + 1.0) - wide), 0))
    placed: list[_Label] = []
    for label in [*reversed(onward), *back]:
        lanes = (label._replace(lane=lane) for lane in range(len(placed) + 1))
        free = (there for there in lanes if not any(_clash(there, other) for other in placed))
        # Where every line is crossed, words clear the leader that runs behind them.
        lowest = max((other.lane for other in placed), default=-1) + 1
        placed.append(next(free, label._replace(lane=lowest)))
    return tuple(placed)


def _clash(one: _Label, other: _Label) -> bool:
    if one.lane == other.lane:
        return one.at < other.end + CLEAR and other.at < one.end + CLEAR
    upper, lower = (one, other) if one.lane < other.lane else (other, one)
    return upper.at < lower.middle < upper.end


def _base(label: _Label, low: float) -> float:
    return low - TICK - (label.lane + 1) * LANE + 2.0


def _leader(label: _Label, low: float) -> list[Item]:
    """A bracket under what is named, and the line from it to the words."""
    bracket = low - TICK / 2
    left, right = min(label.left + 0.4, label.middle), max(label.right - 0.4, label.middle)
    return [
        Line(left, low, left, bracket, 0.4),
        Line(right, low, right, bracket, 0.4),
        Line(left, bracket, right, bracket, 0.4),
        Line(label.middle, bracket, label.middle, _base(label, low) + LENGTH * fonts.ASCENT + 0.5, 0.4),
    ]
