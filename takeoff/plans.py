"""The nouns of cutting bars and running the line, as frozen values. Lengths mm, masses kg.

A *batch* is what is cut together: one section, grade and finish. A *stop* is where a cut
is made, measured from the end of the bar that goes into the line first. A *head* is the
line's: one for each leg of an angle, the first for flats and channels too. A *set-up* is what the heads hold while
bars run without a change.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from takeoff.queries import Query
from takeoff.steel import Section

NEAR_HEEL: Final = "near the heel"
"""Kind of the tool that reaches nearer to the heel than the normal one."""


class BarPiece(NamedTuple):
    """One piece in its place in a bar: it lies between ``start`` and ``stop``."""

    mark: str
    length: float
    start: float
    stop: float


@dataclass(frozen=True, slots=True)
class BarPattern:
    """``times`` bars cut alike. ``number`` is unique in the job and names the pattern on every list.

    ``offcut`` mm are left of each bar; ``kept``: that is worth keeping. ``in_stock``: the
    bar is one that the shop has already. ``pieces`` stand in cutting order.
    """

    number: int
    stock_length: int
    in_stock: bool
    times: int
    pieces: tuple[BarPiece, ...]
    offcut: int
    kept: bool

    def marks(self) -> dict[str, int]:
        """Pieces of each mark in one bar, in cutting order."""
        counts: dict[str, int] = {}
        for piece in self.pieces:
            counts[piece.mark] = counts.get(piece.mark, 0) + 1
        return counts


class SecondPattern(NamedTuple):
    """A pattern of a second plan: ``times`` bars of a length, (mark, pieces) of each, the longest first."""

    stock_length: int
    in_stock: bool
    times: int
    marks: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class SecondPlan:
    """A plan of fewer patterns: what it cuts, and its cost beside the plan's own."""

    patterns: tuple[SecondPattern, ...]
    extra_cost: float
    """Share of the plan's cost."""

    @property
    def bars(self) -> int:
        return sum(pattern.times for pattern in self.patterns)


@dataclass(frozen=True, slots=True)
class BarPlan:
    """The bars of one batch.

    ``least_bars``: no plan needs fewer (None where several lengths of bar make the number
    of bars no measure); ``cost`` and ``least_cost`` likewise, in the settings' prices, or,
    ``in_mm``, in mm of bar.
    ``used`` is the length of the pieces over the length of the bars; ``too_long`` the marks
    longer than any bar; ``not_cut`` (mark, pieces) for which the stock is too small.
    """

    section: Section
    grade: str
    finish: str
    patterns: tuple[BarPattern, ...]
    cost: float
    least_cost: float
    least_bars: int | None
    in_mm: bool
    proved: bool
    stopped: bool
    used: float
    second: SecondPlan | None = None
    too_long: tuple[str, ...] = ()
    not_cut: tuple[tuple[str, int], ...] = ()

    @property
    def bars(self) -> int:
        return sum(pattern.times for pattern in self.patterns)


class OrderLine(NamedTuple):
    """Bars to order: a row of order.csv. ``in_stock`` ones are there already. ``weight`` None: not known.

    ``least_bars``: with the batch's bars of other lengths as planned, no plan needs fewer of
    this length (None: no bound, since pieces are left uncut).
    """

    section: str
    grade: str
    finish: str
    stock_length: int
    in_stock: bool
    bars: int
    weight: float | None
    least_bars: int | None


class Tool(NamedTuple):
    """A punch: the head that needs it, and what it punches (see Hole); a hole reamed after is punched smaller.

    ``kind`` is the hole's, or NEAR_HEEL.
    """

    head: str
    diameter: float
    slot_length: float
    width: float
    kind: str


class Hits(NamedTuple):
    """How often a tool hits steel of a thickness, and on which gauge lines (mm, from the datum of ``face``)."""

    tool: Tool
    thickness: float
    hits: int
    lines: tuple[float, ...]
    face: str = ""


@dataclass(frozen=True, slots=True)
class SetUp:
    """Bars that run without a change of tools.

    ``tools`` is what the heads hold, ``mounted`` what is put in for it. ``patterns`` are the
    numbers of the patterns that follow; of a pattern that needs more tools than the heads
    hold, only ``marks`` are run here.
    """

    section: str
    grade: str
    finish: str
    tools: tuple[Tool, ...]
    mounted: tuple[Tool, ...]
    patterns: tuple[int, ...]
    bars: int
    marks: tuple[str, ...]
    hits: tuple[Hits, ...]
    new_section: bool


@dataclass(frozen=True, slots=True)
class Running:
    """The order in which the line runs. Changes count tools put in, the first ones included, and sections set up.

    ``kept_by_mark_changes`` are those of the sections in the order of their first marks and the bars of each by mark:
    as many sections are set up. ``by_mark`` counts are those of all bars in the order of their first mark, whatever
    their section.
    """

    set_ups: tuple[SetUp, ...]
    changes: int
    sections: int
    kept_by_mark_changes: int
    by_mark_changes: int
    by_mark_sections: int
    elsewhere: tuple[int, ...] = ()
    """Patterns of sections that the line does not take; they are sawn."""
    partly: tuple[str, ...] = ()
    """Marks of which something is made elsewhere (Piece.off_line says what)."""


@dataclass(frozen=True, slots=True)
class Bars:
    """Cutting plans of a job. ``waiting`` are the held marks that would be cut from bars, (mark, quantity)."""

    plans: tuple[BarPlan, ...]
    order: tuple[OrderLine, ...]
    waiting: tuple[tuple[str, int], ...]
    rules: tuple[str, ...]
    queries: tuple[Query, ...]
    running: Running | None = None

    def of_mark(self) -> dict[str, tuple[int, ...]]:
        """For each mark the numbers of the patterns that it is cut from."""
        found: dict[str, list[int]] = {}
        for plan in self.plans:
            for pattern in plan.patterns:
                for mark in pattern.marks():
                    found.setdefault(mark, []).append(pattern.number)
        return {mark: tuple(numbers) for mark, numbers in found.items()}
