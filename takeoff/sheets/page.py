"""Marks on paper as plain values, in points from the lower left corner of the page.

Composing yields these; drawing only walks over them. So a test can ask where every
line, circle and word stands without reading a PDF.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import cos, radians, sin
from typing import Final

from takeoff.sheets import fonts

MM: Final = 72.0 / 25.4
"""Points in a millimetre of paper."""

LEAST_TEXT: Final = 6.5
"""No text on any sheet is smaller (pt)."""
DIMENSION_TEXT: Final = 7.0
"""Dimension figures are never smaller (pt)."""

Box = tuple[float, float, float, float]

PAPERS: Final[dict[str, tuple[float, float]]] = {
    # ISO 216 for A4; ANSI/ASME Y14.1 for the letter size
    "A4": (210.0 * MM, 297.0 * MM),
    "LETTER": (8.5 * 72.0, 11.0 * 72.0),
}


def paper_size(name: str) -> tuple[float, float]:
    """Width and height in pt of a paper held upright; ValueError names the papers there are."""
    try:
        return PAPERS[name.strip().upper()]
    except KeyError:
        raise ValueError(f"paper {name!r} is not known: use A4 or Letter") from None


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text. ``anchor`` is start, middle or end of the base line; ``angle`` anti-clockwise.

    ``halo`` clears the paper under it. ``ghost`` text lies across others on purpose: outlined letters.
    """

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    anchor: str = "start"
    angle: float = 0.0
    halo: bool = False
    ghost: bool = False
    white: bool = False

    def __post_init__(self) -> None:
        if not self.text.isascii() or not self.text.isprintable():
            # whatever a model holds: one line, every letter visible
            object.__setattr__(self, "text", fonts.printable(self.text))

    @property
    def width(self) -> float:
        return fonts.width(self.text, self.size, self.bold)

    @property
    def start(self) -> tuple[float, float]:
        """Where the base line begins."""
        back = {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * self.width
        turn = radians(self.angle)
        return self.x - back * cos(turn), self.y - back * sin(turn)

    def box(self) -> Box:
        """Smallest upright box round the letters."""
        x, y = self.start
        length, up, down = self.width, fonts.ASCENT * self.size, -fonts.DESCENT * self.size
        if self.angle == 0.0:
            return x, y + down, x + length, y + up
        turn = radians(self.angle)
        c, s = cos(turn), sin(turn)
        corners = [(x + a * c - b * s, y + a * s + b * c) for a in (0.0, length) for b in (down, up)]
        xs, ys = [p[0] for p in corners], [p[1] for p in corners]
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True, slots=True)
class Line:
    x1: float
    y1: float
    x2: float
    y2: float
    width: float = 0.5
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Shape:
    """A line through ``points``, closed or open; ``fill`` is a grey from 0 (black) to 1 (white)."""

    points: tuple[tuple[float, float], ...]
    width: float = 0.5
    closed: bool = True
    fill: float | None = None
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Disc:
    x: float
    y: float
    radius: float
    width: float = 0.5
    fill: float | None = None


@dataclass(frozen=True, slots=True)
class Link:
    """A spot that leads to the page named ``target``."""

    box: Box
    target: str


Item = Text | Line | Shape | Disc | Link


@dataclass(slots=True)
class Page:
    """A page being filled. ``name`` is where links lead; ``entry`` its line in the reader's contents.

    ``chapter`` is a line of the contents above its own, where a chapter begins with this page; ``more`` holds name,
    entry and level of further things on it.
    """

    width: float
    height: float
    items: list[Item] = field(default_factory=list)
    name: str = ""
    entry: str = ""
    level: int = 0
    chapter: str = ""
    more: list[tuple[str, str, int]] = field(default_factory=list)

    def texts(self) -> list[Text]:
        return [item for item in self.items if isinstance(item, Text)]


def frame(box: Box, width: float = 0.5, fill: float | None = None) -> Shape:
    """A rectangle."""
    x0, y0, x1, y1 = box
    return Shape(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), width, True, fill)


def fitted(text: Text, room: float, least: float) -> Text:
    """``text`` in the largest size up to its own that fits ``room``, no smaller than ``least``."""
    wide = text.width
    if wide <= room:
        return text
    return replace(text, size=max(least, int(text.size * room / wide * 4) / 4))


def extent(items: Sequence[Item]) -> Box:
    """Smallest box round everything that prints."""
    x0 = y0 = float("inf")
    x1 = y1 = float("-inf")
    for item in items:
        if isinstance(item, Text):
            boxes = [item.box()]
        elif isinstance(item, Line):
            boxes = [(min(item.x1, item.x2), min(item.y1, item.y2), max(item.x1, item.x2), max(item.y1, item.y2))]
        elif isinstance(item, Shape):
            boxes = [(x, y, x, y) for x, y in item.points]
        elif isinstance(item, Disc):
            r = item.radius
            boxes = [(item.x - r, item.y - r, item.x + r, item.y + r)]
        else:
            boxes = [item.box]
        for box in boxes:
            x0, y0, x1, y1 = min(x0, box[0]), min(y0, box[1]), max(x1, box[2]), max(y1, box[3])
    return x0, y0, x1, y1
