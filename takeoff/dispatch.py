"""The nouns of what leaves the shop and where it goes, as frozen values. Lengths mm, masses kg, areas m2.

A *level* is a height from which pieces rise; it reaches to the next one. A *side* is a direction in plan
that the structure turns a face to: ``+X``, ``-Y`` where it stands along the model's axes, else degrees from the
model's X anti-clockwise. A *stand* is one piece in its place. A *bag* holds the bolts of one section of the
structure, a *bundle* pieces strapped or boxed together. *Look-alikes* are marks that a tired eye takes for each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from takeoff.queries import Query

UP, DOWN = "up", "down"
LEFT, RIGHT = "left", "right"


@dataclass(frozen=True, slots=True)
class Level:
    """``number`` from the lowest, 1; ``height`` its z in the model."""

    number: int
    height: float


class Way(NamedTuple):
    """How a piece stands.

    ``end_up`` is the end that is higher, ``left`` or ``right``; empty where it lies level, and then ``right_to`` is
    where its right end points. ``outsides`` holds (leg or side, where its outside faces): ``up``, ``down`` or a side.
    """

    end_up: str
    right_to: str
    outsides: tuple[tuple[str, str], ...]


class Stand(NamedTuple):
    """Pieces of one mark that stand alike at one level and face: a line of the erection list.

    ``sides``: of the structure, none where it stands inside, two at a corner. ``members`` index Model.members;
    ``low`` and ``high`` (x, y, z) hold their middles. ``level`` 0: its place is not known.
    """

    level: int
    sides: tuple[str, ...]
    mark: str
    way: Way
    members: tuple[int, ...]
    low: tuple[float, float, float]
    high: tuple[float, float, float]


class NodeBolts(NamedTuple):
    """Bolts of nodes made alike at one level. ``bolts``: (size and length as sold, grip mm, number in one node).

    ``nodes`` are their numbers, ``sides`` where they stand; ``marks`` (mark, how many) what meets in one.
    """

    level: int
    nodes: tuple[int, ...]
    sides: tuple[tuple[str, ...], ...]
    marks: tuple[tuple[str, int], ...]
    bolts: tuple[tuple[BoltKind, float | None, int], ...]


class BoltKind(NamedTuple):
    """A bolt as a line of the order list tells it from another; ``length`` and ``diameter`` 0: not known."""

    diameter: float
    length: float
    grade: str
    standard: str
    by_rule: bool


class FaceView(NamedTuple):
    """A face of the structure seen from outside: each piece's middle line as (mark, x, z, x, z), x to the right.

    ``right``: the side that lies to the viewer's right. Pieces at a corner are in both its faces.
    """

    side: str
    right: str
    lines: tuple[tuple[str, float, float, float, float], ...]


@dataclass(frozen=True, slots=True)
class Erection:
    """The structure level by level. ``node_level`` gives the level of each node by its number."""

    levels: tuple[Level, ...]
    stands: tuple[Stand, ...]
    nodes: tuple[NodeBolts, ...]
    sides: tuple[str, ...]
    """The sides that the structure has, in the order of the list."""
    views: tuple[FaceView, ...] = ()
    row_levels: tuple[int, ...] = ()
    """Level of each of Takeoff.bolt_rows; 0: not known."""


class BagLine(NamedTuple):
    """Bolts of one kind in a bag, with their nuts and washers. ``weight`` None: not known."""

    kind: BoltKind
    bolts: int
    nuts: int
    washers: int
    springs: int
    tapers: int
    weight: float | None


@dataclass(frozen=True, slots=True)
class Bag:
    """``section`` is a level's number or an assembly mark; empty: of no section; ``spare``: the bag of spares."""

    number: int
    section: str
    lines: tuple[BagLine, ...]
    spare: bool = False


@dataclass(frozen=True, slots=True)
class Bundle:
    """``lines``: (mark, quantity); ``over``: ``length``, ``weight`` or both where one piece is beyond the limits."""

    number: int
    boxed: bool
    level: int
    finish: str
    section: str
    lines: tuple[tuple[str, int], ...]
    weight: float
    length: float
    over: tuple[str, ...] = ()

    @property
    def pieces(self) -> int:
        return sum(many for _, many in self.lines)


class Difference(NamedTuple):
    """What tells two look-alikes apart: ``what`` of one (``own``) and of the other, in words or in mm.

    ``what`` is ``hand``, ``grade``, ``finish``, ``length``, ``width``, ``outline`` (corners this far apart at most),
    ``hole place`` (this far apart at most), ``hole size`` (its label and diameters), ``hole`` (one that only this or
    only the other has, or that stands elsewhere; the label of each, empty where it has none), ``nothing`` (less than is
    measured here).
    """

    what: str
    own: str = ""
    other: str = ""
    own_mm: float = 0.0
    other_mm: float = 0.0


class LookAlike(NamedTuple):
    """Two marks and what tells them apart; ``mark`` comes first in the order of marks."""

    mark: str
    other: str
    differences: tuple[Difference, ...]


class PlateLine(NamedTuple):
    """Plate to order: a thickness, grade and finish. ``area``, ``weight``: smallest rectangles of all pieces."""

    thickness: float
    grade: str
    finish: str
    marks: int
    pieces: int
    area: float
    weight: float
    longest: float
    widest: float
    held: int


@dataclass(frozen=True, slots=True)
class Dispatch:
    """What goes with the steel, worked out once for the sheets and tables."""

    erection: Erection
    bags: tuple[Bag, ...]
    bundles: tuple[Bundle, ...]
    unpacked: tuple[tuple[str, int, str], ...]
    """(mark, quantity, ``held`` or ``weight``): why it is in no bundle."""
    look_alikes: tuple[LookAlike, ...]
    plates: tuple[PlateLine, ...]
    queries: tuple[Query, ...] = ()
