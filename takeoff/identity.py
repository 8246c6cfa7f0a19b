"""When two shapes are the same piece: features, turns and tolerances.

Vocabulary
----------
shape       section, grade, finish, length and features of a part, in some position
canonical   the position whose sorted features, snapped to 0.01 mm, are the smallest
agreement   how far two feature lists in one frame differ; none when they are not the same piece
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from math import pi
from typing import Any

import numpy as np

from takeoff.sections.turns import Turn, around, turns
from takeoff.settings import IdentitySettings
from takeoff.steel import CHS, FLAT, PLATE, ROUND, Body, FloatArray, Notch, Section
from takeoff.turned import (
    ACROSS,
    ANGLE,
    BOLT,
    COLUMNS,
    DEPTH,
    FACE,
    KIND,
    SIDE,
    SIZE,
    SLOT,
    TYPE,
    WIDTH,
    X,
    period,
    turn_features,
    wrap,
)
from takeoff.units import COINCIDENCE_MM

NOISE_MM = 0.02
"""Shapes this close differ by the noise of their coordinates and count together when the commonest is sought."""
SLOT_DEG = 0.5

Key = tuple[object, ...]


STORED_PLACES = 6
"""Decimals of a millimetre to which shapes are remembered; what is printed is what is remembered."""


@dataclass(slots=True, eq=False)
class Shape:
    """A shape that one or more members have, in the frame of the first one's body.

    ``rows`` (n, COLUMNS) features; ``members`` those that have exactly these; ``key`` its snapped canonical form.
    """

    section: Section
    section_class: int
    grade: str
    finish: str
    length: float
    width: float
    rows: FloatArray
    body: Body
    notches: tuple[Notch, ...]
    members: list[int] = field(default_factory=list)
    canonical: FloatArray = field(default_factory=lambda: np.zeros((0, COLUMNS)))
    turn: Turn | None = None
    key: Key = ()
    sources: tuple[tuple[int, int], ...] = ()
    """Where each hole and its diameter come from (columns ``source`` and ``diameter_source`` of its row)."""
    sketch: FloatArray = field(default_factory=lambda: np.zeros(0))
    """Distances of the features from the middle of the piece, sorted: no turn and no mirror changes them."""
    tie: Key = ()
    """What decides between shapes of one key: not part of identity, but the lists print it."""

    @property
    def girth(self) -> float:
        return pi * self.section.h if self.section.shape in (CHS, ROUND) else 0.0

    @property
    def bucket(self) -> Key:
        return (self.section_class, self.grade, self.finish, len(self.rows))


@dataclass(slots=True, eq=False)
class Group:
    """A representative and the members that agree with it: (member, turn of its body to the piece, deviation mm)."""

    shape: Shape
    turn: Turn
    rows: FloatArray
    """Features of the piece, in its own frame."""
    members: list[tuple[int, Turn, float]] = field(default_factory=list)
    opposite: int | None = None
    """Number of the group that is its mirror image; its own number where it has no hand."""
    known: int | None = None
    """Number of the known shape (see Known) that represents it."""
    absent_mate: int | None = None
    """Number of the known shape that is its mirror image where no member has that one now."""
    rank: int = 0
    """How many representatives came before it: the first of them that a shape agrees with takes it."""
    lead: tuple[Shape, Turn] | None = None
    """The commonest shape of its members and its turn to the piece, where a remembered shape represents them."""

    @property
    def spread(self) -> float:
        return max((away for _, _, away in self.members), default=0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Remembered:
    """A shape that has a mark already, in its piece's frame: ``rules`` are those it was first shown by.

    ``mate`` is the number of the remembered shape that is its opposite hand.
    """

    shape: Shape
    rules: IdentitySettings
    mate: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What an earlier run decided: shapes, and sections that others were held against, both in the order they came.

    Shapes join the first representative that they agree with, so that what was decided once is decided alike again,
    whatever comes after.
    """

    shapes: tuple[Remembered, ...] = ()
    sections: tuple[Section, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Marking:
    """``marks`` and ``model_marks`` run parallel to the groups.

    ``absent_mates`` gives, by number of the group, the mark of an opposite hand that no part has now.
    """

    marks: tuple[str, ...]
    model_marks: tuple[tuple[str, ...], ...]
    absent_mates: Mapping[int, str] = field(default_factory=dict)


def rounded_section(section: Section) -> Section:
    """The section as it is remembered, without the noise of the model's coordinates."""
    values: dict[str, Any] = {}
    for entry in fields(section):
        value = getattr(section, entry.name)
        if entry.name == "outline":
            values[entry.name] = tuple((_stored(u), _stored(v)) for u, v in value)
        else:
            values[entry.name] = value if isinstance(value, str) else _stored(value)
    return Section(**values)


def _stored(value: float) -> float:
    return round(float(value), STORED_PLACES) + 0.0


def all_turns(shape: Shape, rows: FloatArray) -> list[Turn]:
    """Every position of the shape; a round's follow from its features, each of them once at the datum."""
    if not shape.girth:
        return list(turns(shape.section, shape.length))
    datums = sorted({float(round(a, 6)) for a in rows[:, ACROSS]}) or [0.0]
    return [around(shape.section, shape.length, a, reverse) for a in datums for reverse in (False, True)]


_ASIDE = 1 / 32
"""Rounding turns this share of a hundredth before the half: halves of a hundredth are common (3/8 in is 9.525 mm)
and would fall either way with the last digit of the coordinates; 1/64 in never comes this near to the turn."""
_ORDER = (TYPE, X, FACE, ACROSS, SIZE, SLOT, ANGLE, WIDTH, KIND, DEPTH, SIDE)


def _snap(rows: FloatArray) -> tuple[tuple[int, ...], ...]:
    """Features in hundredths, sorted: type first (holes, then cuts), then along the piece."""
    return tuple(sorted(_hundredths(rows)))


def _hundredths(rows: FloatArray) -> list[tuple[int, ...]]:
    numbers = np.floor(rows[:, _ORDER] / COINCIDENCE_MM + 0.5 + _ASIDE).astype(np.int64)
    return [tuple(row) for row in numbers.tolist()]


def make_canonical(shape: Shape) -> None:
    """Set the shape's canonical features, the turn that leads to them, and its key."""
    best: tuple[tuple[tuple[int, ...], ...], Turn, FloatArray] | None = None
    for turn in all_turns(shape, shape.rows):
        rows = turn_features(shape.rows, turn, shape.girth)
        snapped = _snap(rows)
        if best is None or snapped < best[0]:
            best = (snapped, turn, rows)
    assert best is not None
    snapped, shape.turn, shape.canonical = best
    shape.sketch = _sketch(shape)
    shape.key = (shape.section_class, round(shape.length, 2), round(shape.width, 2), len(shape.rows), snapped)
    numbers = _hundredths(shape.canonical[: len(shape.sources)])
    order = sorted(range(len(numbers)), key=lambda k: numbers[k])
    made = tuple((float(shape.canonical[k, BOLT]), *shape.sources[k]) for k in order)
    section = shape.section
    shape.tie = (section.shape, section.designation, section.standard, section.mass_kg_per_m, made)


def _sketch(shape: Shape) -> FloatArray:
    along = shape.rows[:, X] - shape.length / 2
    # A square plate may be turned a quarter: its distances are from its centre.
    flat = shape.section.shape in (FLAT, PLATE)
    across = shape.rows[:, ACROSS] - shape.width / 2 if flat else np.zeros(len(along))
    return np.sort(np.hypot(along, across))


# ---------------------------------------------------------------- agreement


class ShapeIndex:
    """Numbered shapes, so that only those of nearly the same length and sketch are compared feature by feature.

    Where two shapes agree within ``position`` and ``length`` mm in some position, no entry of their sketches differs
    by more than both together.
    """

    def __init__(self, position: float, length: float) -> None:
        self._limit = 2 * position + length
        self._numbers: dict[Key, list[int]] = {}
        self._rows: dict[Key, FloatArray] = {}

    def add(self, number: int, shape: Shape) -> None:
        numbers = self._numbers.setdefault(shape.bucket, [])
        rows = self._rows.get(shape.bucket)
        if rows is None or len(rows) == len(numbers):
            more = np.zeros((max(8, len(numbers)), 1 + len(shape.sketch)))
            rows = more if rows is None else np.concatenate([rows, more])
            self._rows[shape.bucket] = rows
        rows[len(numbers)] = (shape.length, *shape.sketch)
        numbers.append(number)

    def near(self, shape: Shape) -> list[int]:
        """Numbers of the shapes that may agree with this one, or with its mirror image, in the order they came."""
        numbers = self._numbers.get(shape.bucket)
        if not numbers:
            return []
        mine = np.array([shape.length, *shape.sketch])
        off = np.abs(self._rows[shape.bucket][: len(numbers)] - mine).max(axis=1)
        return [numbers[k] for k in np.flatnonzero(off <= self._limit).tolist()]


def agreement(
    one: FloatArray, other: FloatArray, rules: IdentitySettings, *, girth: float = 0.0, position: float | None = None
) -> float | None:
    """How far two feature lists in one frame differ, mm; None when they are not the same piece.

    ``position`` replaces the tolerance on positions. Features are paired one to one.
    """
    if len(one) != len(other):
        return None
    if not len(one):
        return 0.0
    dx = one[:, None, X] - other[None, :, X]
    da = one[:, None, ACROSS] - other[None, :, ACROSS]
    if girth:
        da = wrap(da + girth / 2, girth) - girth / 2
    away = np.hypot(dx, da)
    limit = np.minimum(_tolerance(one, rules)[:, None], _tolerance(other, rules)[None, :])
    if position is not None:
        limit = np.minimum(limit, position)
    lean = np.abs(one[:, None, ANGLE] - other[None, :, ANGLE])
    turn = np.minimum(period(one)[:, None], period(other)[None, :])
    lean = np.minimum(lean % turn, turn - lean % turn)
    slots = (one[:, None, SLOT] > 0) | (other[None, :, SLOT] > 0)
    fits = away <= limit + 1e-6
    for column in (TYPE, FACE, KIND, SIDE):
        fits &= one[:, None, column] == other[None, :, column]
    for column in (SIZE, SLOT, WIDTH, DEPTH):
        fits &= np.abs(one[:, None, column] - other[None, :, column]) <= rules.diameter_mm + 1e-6
    fits &= ~slots | (lean <= SLOT_DEG)
    if not (fits.any(axis=1).all() and fits.any(axis=0).all()):
        return None
    if (fits.sum(axis=1) == 1).all() and (fits.sum(axis=0) == 1).all():
        return float(away[fits].max())
    from scipy.optimize import linear_sum_assignment

    row, column_of = linear_sum_assignment(np.where(fits, away, 1e6))
    if not fits[row, column_of].all():
        return None
    return float(away[row, column_of].max())


def _tolerance(rows: FloatArray, rules: IdentitySettings) -> FloatArray:
    """Per feature: the setting, and for a bolt's hole a share of the bolt's clearance in it."""
    limit = np.full(len(rows), rules.position_mm)
    bolted = rows[:, BOLT] > 0
    room = np.where(rows[:, WIDTH] > 0, np.minimum(rows[:, SLOT], rows[:, WIDTH]), rows[:, SIZE])
    share = rules.clearance_share * (room - rows[:, BOLT])
    return np.where(bolted, np.minimum(limit, np.maximum(share, NOISE_MM)), limit)


def fit(
    shape: Shape, rows: FloatArray, length: float, width: float, rules: IdentitySettings, position: float | None = None
) -> tuple[Turn, float] | None:
    """The turn of ``shape`` that agrees best with a piece's features, and how far it is off; None if none does."""
    limit = rules.length_mm if position is None else position
    if abs(shape.length - length) > limit + 1e-6:
        return None
    across = rules.position_mm if position is None else position
    if shape.section.shape in (FLAT, PLATE) and abs(shape.width - width) > across + 1e-6:
        return None
    best: tuple[Turn, float] | None = None
    for turn in all_turns(shape, shape.rows):
        moved = turn_features(shape.rows, turn, shape.girth)
        off = agreement(rows, moved, rules, girth=shape.girth, position=position)
        if off is not None and (best is None or off < best[1] - 1e-4):
            best = (turn, off)
    return best


def paired(one: FloatArray, other: FloatArray, girth: float = 0.0) -> list[int]:
    """For every feature of ``one`` the number of the like feature of ``other``; both agree and lie in one frame."""
    dx = one[:, None, X] - other[None, :, X]
    da = one[:, None, ACROSS] - other[None, :, ACROSS]
    if girth:
        da = wrap(da + girth / 2, girth) - girth / 2
    away = np.hypot(dx, da)
    for column in (SIZE, SLOT, WIDTH, DEPTH):
        away = away + np.abs(one[:, None, column] - other[None, :, column])
    for column in (TYPE, FACE, KIND, SIDE):
        away = away + 1e6 * (one[:, None, column] != other[None, :, column])
    nearest = [int(k) for k in away.argmin(axis=1)] if len(other) else []
    if len(set(nearest)) == len(nearest):
        return nearest
    from scipy.optimize import linear_sum_assignment

    return [int(k) for k in linear_sum_assignment(away)[1]]
