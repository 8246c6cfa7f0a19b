"""The nouns of a comparison: two states of one job, and what is different between them.

Vocabulary
----------
state       the pieces, bolts, assemblies and places of one revision, from a model or from the tables of a run
difference  one thing that tells two shapes apart: a hole moved, a length, a grade
change      a row of changes.csv: pieces added, gone, changed in quantity or shape; assemblies, bolts, weight
verdict     what becomes of pieces that the shop may have made already: as it was, rework, scrap, or ask

Lengths mm, masses kg.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from takeoff.steel import FloatArray, Piece

RELEASED, ADDED, GONE, QUANTITY, SHAPE, HOLD = "released", "added", "gone", "quantity", "shape", "hold"
ASSEMBLY, BOLTS, BOUGHT, UNREAD, WEIGHT = "assembly", "bolts", "bought out", "not read", "weight"
KINDS: Final = (RELEASED, SHAPE, ADDED, GONE, QUANTITY, HOLD, ASSEMBLY, BOLTS, BOUGHT, UNREAD, WEIGHT)
"""Kinds of change in the order in which they are listed."""

AS_IT_WAS, REWORK, SCRAP, ASK = "as it was", "rework", "scrap", "ask the engineer"
VERDICTS: Final = (SCRAP, REWORK, ASK, AS_IT_WAS)
"""Verdicts in the order in which they are listed."""


class Stand(NamedTuple):
    """A part where it stands: GlobalId, mark and, in model coordinates, left end, right end and middle.

    ``axes`` (3, 3) are those of its piece frame; None where only the tables are known.
    """

    global_id: str
    mark: str
    left: FloatArray
    right: FloatArray
    middle: FloatArray
    axes: FloatArray | None = None


class BoltKind(NamedTuple):
    """A line of the order list without its quantity. mm; None where not known."""

    diameter: float | None
    length: float | None
    grade: str
    standard: str


class Built(NamedTuple):
    """An assembly mark: how many there are, its pieces by mark, bolts of one."""

    mark: str
    quantity: int
    pieces: tuple[tuple[str, int], ...]
    bolts: int


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """One of the two things compared. ``limits``: what cannot be seen from it, a sentence each.

    ``unread`` counts parts without a piece by (IFC class, status, reason); ``bought`` hardware by size.
    """

    name: str
    from_tables: bool
    pieces: tuple[Piece, ...]
    stands: tuple[Stand, ...]
    bolts: Mapping[BoltKind, int]
    bought: Mapping[str, int]
    assemblies: tuple[Built, ...]
    unread: Mapping[tuple[str, str, str], int]
    gross: float
    net: float
    quantities: Mapping[str, int] = field(default_factory=dict)
    """Quantity by mark; with structures that of the whole job."""
    limits: tuple[str, ...] = ()


class Difference(NamedTuple):
    """What tells two shapes apart: ``old`` and ``new`` as words, ``mm`` how far where that is a distance.

    ``kind`` is section, grade, finish, length, width, hole moved, hole added, hole gone, hole size, outline or cut.
    ``hole_old`` and ``hole_new`` are labels on the two sheets.
    """

    kind: str
    old: str = ""
    new: str = ""
    hole_old: str = ""
    hole_new: str = ""
    mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """A row of changes.csv. Empty or None where it does not apply."""

    change: str
    mark_old: str = ""
    mark_new: str = ""
    quantity_old: int | None = None
    quantity_new: int | None = None
    what: str = ""
    verdict: str = ""
    quantity: int | None = None
    """How many pieces the row is about, where that is neither quantity."""
    differences: tuple[Difference, ...] = ()
    turned: bool = False
    """Whether the new piece lies end for end, or turned over, against the old one."""


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """What a new state changes. ``renamed`` gives marks that changed without a change of steel."""

    old: State
    new: State
    changes: tuple[Change, ...]
    renamed: tuple[tuple[str, str], ...] = ()
    released: Mapping[str, Piece] = field(default_factory=dict)
    """Released pieces by mark, as they were released."""
    register: str = ""

    @property
    def differs(self) -> bool:
        """Whether anything is different: a released piece that is as it was is none."""
        return any(change.verdict != AS_IT_WAS for change in self.changes)
