"""Shapes as features, and one shape laid on another in every way that a person could turn it.

Vocabulary
----------
form       the holes, corners and outlines of a piece as rows (columns of turned.py)
lying      a form of the new piece brought into the old piece's frame by a turn and a shift along (and across)
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache, partial
from math import pi

import numpy as np

from takeoff.holerows import KINDS, SUNK
from takeoff.identity import agreement
from takeoff.outlines import rectangle
from takeoff.sections.shapes import faces
from takeoff.sections.turns import around, turns
from takeoff.settings import IdentitySettings
from takeoff.steel import CHS, FLAT, PLATE, ROUND, Body, FloatArray, Piece, Section
from takeoff.turned import (
    ACROSS,
    ANGLE,
    BOLT,
    BOTH,
    COLUMNS,
    CORNER,
    DEPTH,
    FACE,
    FAR,
    KIND,
    NEAR,
    ROUND_END,
    SIDE,
    SIZE,
    SLOT,
    TYPE,
    WIDTH,
    X,
    blank_features,
    period,
    straight_angle,
    turn_features,
)

SECTION_MM = 0.1
"""Sections whose dimensions differ by less are one section, as in grouping."""
FULL_MM = 0.03
"""Corners this close to those of the whole face are they: tables hold hundredths."""
BROAD = (FLAT, PLATE)
MOST_SHIFTS = 6

Move = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class Form:
    """``holes`` (n, COLUMNS) in the order of ``piece.holes``; ``corners`` (m, COLUMNS) of what is no plain rectangle;
    ``loops`` (face number, points (k, 2)) the outlines of all faces as corner rows. ``by_cuts``: the corners are rows
    of cuts.csv instead, since the tables do not hold the outline wholly; the loops are then not to be relied on.
    """

    piece: Piece
    holes: FloatArray
    corners: FloatArray
    loops: tuple[FloatArray, ...]
    by_cuts: bool = False

    @property
    def girth(self) -> float:
        section = self.piece.section
        return pi * section.h if section.shape in (CHS, ROUND) else 0.0

    @property
    def rows(self) -> FloatArray:
        return np.concatenate([self.holes, self.corners])


@dataclass(frozen=True, slots=True, eq=False)
class Lying:
    """A form in the frame of another: ``length`` and ``width`` of it as it lies, ``shift`` (x, across) mm.

    ``turned``: not as its own sheet shows it.
    """

    holes: FloatArray
    corners: FloatArray
    loops: tuple[FloatArray, ...]
    length: float
    width: float
    shift: tuple[float, float]
    turned: bool


@lru_cache(maxsize=4096)
def _bolt_mm(name: str) -> float:
    """A bolt's diameter from its size as the tables write it (``M16``, ``3/4``, ``1-1/8``); 0 where there is none."""
    if name.startswith("M"):
        return float(name[1:])
    return sum(float(Fraction(part)) for part in name.split("-")) * 25.4 if name else 0.0


def said_in_part(piece: Piece) -> bool:
    """Whether rows of cuts.csv do not say the whole outline: bevels, notches (their box only), arcs."""
    return any(cut.kind in ("bevel", "notch") or (cut.kind == "outline" and cut.size > 0) for cut in piece.cuts)


def form_of(piece: Piece, tables: bool = False) -> Form:
    """The form of a piece. ``tables``: it is compared with one of which only the tables are known."""
    number = {face.name: k for k, face in enumerate(faces(piece.section))}
    holes = np.zeros((len(piece.holes), COLUMNS))
    for row, hole in zip(holes, piece.holes, strict=True):
        row[FACE] = number.get(hole.face, 0)
        row[X], row[ACROSS], row[SIZE] = hole.x, hole.across, hole.diameter
        row[SLOT], row[ANGLE], row[WIDTH] = hole.slot_length, hole.slot_angle, hole.width
        row[KIND], row[DEPTH], row[BOLT] = KINDS.index(hole.kind), hole.depth, _bolt_mm(hole.bolt)
        row[SIDE] = (FAR if hole.side == "far" else NEAR) if hole.kind in SUNK else BOTH
    loops = tuple(_corner_rows(number[o.face], o.points, BOTH) for o in piece.outlines if o.face in number)
    if tables and said_in_part(piece):
        return Form(piece, holes, _cut_rows(piece, number), loops, True)
    return Form(piece, holes, _corners(piece, number), loops)


def _cut_rows(piece: Piece, number: dict[str, int]) -> FloatArray:
    """Rows of cuts.csv as features: the same on either side, whatever the tables leave out."""
    rows = np.zeros((len(piece.cuts), COLUMNS))
    for row, cut in zip(rows, piece.cuts, strict=True):
        row[TYPE], row[SIDE], row[FACE] = CORNER, BOTH, number.get(cut.face, 0)
        row[X], row[ACROSS], row[SIZE], row[DEPTH] = cut.x, cut.across, cut.size, cut.angle
    return rows


def _corner_rows(face: int, points: FloatArray, side: float) -> FloatArray:
    rows = np.zeros((len(points), COLUMNS))
    rows[:, TYPE], rows[:, FACE], rows[:, SIDE] = CORNER, face, side
    if len(points):
        rows[:, X], rows[:, ACROSS] = np.asarray(points, dtype=float).T
    return rows


def _corners(piece: Piece, number: dict[str, int]) -> FloatArray:
    if piece.outline:
        return blank_features(Body(piece.section, piece.length, outline=piece.outline), ())
    found = [np.zeros((0, COLUMNS))]
    if piece.section.shape in (CHS, ROUND):
        for cut in piece.cuts:
            row = np.zeros((1, COLUMNS))
            row[0, TYPE], row[0, SIDE], row[0, ACROSS] = ROUND_END, BOTH, cut.across
            if cut.kind == "skew":
                row[0, X] = cut.x - cut.size / 2 if cut.end == "left" else cut.x + cut.size / 2
                row[0, SIZE] = cut.angle
            else:
                row[0, TYPE], row[0, X], row[0, SIZE] = CORNER, cut.x, cut.size
            found.append(row)
        return np.concatenate(found)
    walls = faces(piece.section)
    for outline in piece.outlines:
        if outline.face not in number:
            continue
        k = number[outline.face]
        full = np.array(rectangle(walls[k], piece.length))
        sides = [(outline.points, BOTH)] if outline.far is None else [(outline.points, NEAR), (outline.far, FAR)]
        for points, side in sides:
            if side != BOTH or not _is_full(np.asarray(points, dtype=float), full):
                found.append(_corner_rows(k, points, side))
    return np.concatenate(found)


def _is_full(points: FloatArray, full: FloatArray) -> bool:
    """Whether a loop is the whole face, but for the noise of coordinates and of the tables' hundredths."""
    if len(points) != len(full):
        return False
    away = np.hypot(*(points[:, None] - full[None]).transpose(2, 0, 1))
    return bool(away.min(axis=0).max() <= FULL_MM and away.min(axis=1).max() <= FULL_MM)


# ---------------------------------------------------------------- sections


def broad(section: Section) -> bool:
    """Whether it is a flat or a plate: its width is the piece's own."""
    return section.shape in BROAD


def known(section: Section) -> bool:
    """Whether its dimensions are known and not its name only."""
    return section.b > 0 or bool(section.outline) or broad(section)


def same_section(one: Section, other: Section) -> bool:
    """Whether the shop takes both from one bar; of flats and plates whether they are equally thick."""
    if broad(one) and broad(other):
        return abs(one.tw - other.tw) <= SECTION_MM
    if one.shape != other.shape:
        return False
    if not (known(one) and known(other)) or one.outline or other.outline:
        same_outline = len(one.outline) == len(other.outline) and all(
            max(abs(a[0] - b[0]), abs(a[1] - b[1])) <= SECTION_MM
            for a, b in zip(one.outline, other.outline, strict=True)
        )
        return one.designation == other.designation or bool(one.outline and same_outline)
    sizes = ("h", "b", "tw", "tf", "b2", "tf2", "lip")
    return all(abs(getattr(one, name) - getattr(other, name)) <= SECTION_MM for name in sizes)


# ---------------------------------------------------------------- turns


def _moves(form: Form, other: Form) -> Iterator[tuple[Move, float, float, bool]]:
    """Ways to lay ``form`` as ``other`` lies: (move of rows, length and width as it then lies, turned)."""
    piece = form.piece
    section, length = piece.section, piece.length
    if broad(section):
        yield from _flat_moves(length, section.h, quarter=PLATE in (section.shape, other.piece.section.shape))
        return
    if form.girth:
        datums = sorted({round(float(a), 6) for a in form.holes[:, ACROSS]}) or [0.0]
        wanted = sorted({round(float(a), 6) for a in other.holes[:, ACROSS]}) or [0.0]
        rolls = sorted({round((a - b) % form.girth, 4) for a in datums for b in wanted})
        first = True
        for roll in [0.0, *(r for r in rolls if r)]:
            for reverse in (False, True):
                turn = around(section, length, roll, reverse)
                yield partial(turn_features, turn=turn, girth=form.girth), length, section.h, not first
                first = False
        return
    if not known(section):
        yield (lambda rows: rows), length, section.h, False
        return
    for k, turn in enumerate(turns(section, length)):
        yield partial(turn_features, turn=turn), length, section.h, k > 0


def _flat_moves(length: float, width: float, *, quarter: bool) -> Iterator[tuple[Move, float, float, bool]]:
    """The eight ways to lay a plate, both broad sides up; without quarter turns four."""
    for quarters in (0, 1, 2, 3) if quarter else (0, 2):
        for over in (False, True):

            def move(rows: FloatArray, quarters: int = quarters, over: bool = over) -> FloatArray:
                out = rows.copy()
                if not len(out):
                    return out
                wide, high = length, width
                lean = out[:, ANGLE].copy()
                if over:
                    out[:, ACROSS] = high - out[:, ACROSS]
                    lean = -lean
                    sided = out[:, SIDE] >= 0
                    out[sided, SIDE] = 1.0 - out[sided, SIDE]
                for _ in range(quarters):
                    out[:, X], out[:, ACROSS] = high - out[:, ACROSS], out[:, X].copy()
                    wide, high = high, wide
                    lean = lean + 90.0
                slotted = out[:, SLOT] > 0
                out[slotted, ANGLE] = straight_angle(lean, period(out))[slotted]
                return out

            swapped = quarters % 2 == 1
            yield move, width if swapped else length, length if swapped else width, bool(quarters or over)


def same_form(one: Form, other: Form, rules: IdentitySettings) -> float | None:
    """How far two pieces are apart where they are one piece by the rules of grouping, mm; None where they are not."""
    a, b = one.piece, other.piece
    if a.grade != b.grade or a.finish != b.finish or not same_section(a.section, b.section):
        return None
    if len(one.holes) != len(other.holes) or len(one.corners) != len(other.corners):
        return None
    best: float | None = None
    for move, length, width, _ in _moves(other, one):
        if abs(length - a.length) > rules.length_mm + 1e-6:
            continue
        if broad(a.section) and abs(width - a.section.h) > rules.position_mm + 1e-6:
            continue
        off = agreement(one.rows, move(other.rows), rules, girth=one.girth)
        if off is not None and (best is None or off < best):
            best = off
    return best


def lyings(new: Form, old: Form) -> Iterator[Lying]:
    """Every way in which ``new`` can lie on ``old``, where both have sections of one form."""
    for move, length, width, turned in _moves(new, old):
        holes, corners = move(new.holes), move(new.corners)
        loops = tuple(move(loop) for loop in new.loops)
        flat = broad(new.piece.section) and broad(old.piece.section)
        across = _shifts(old, holes, ACROSS, old.piece.section.h - width) if flat else [0.0]
        for dx in _shifts(old, holes, X, old.piece.length - length):
            for da in across:
                yield Lying(
                    _shifted(holes, dx, da),
                    _shifted(corners, dx, da),
                    tuple(_shifted(loop, dx, da) for loop in loops),
                    length,
                    width,
                    (dx, da),
                    turned,
                )


def _shifted(rows: FloatArray, dx: float, da: float) -> FloatArray:
    if not len(rows) or (dx == 0.0 and da == 0.0):
        return rows
    out = rows.copy()
    out[:, X] += dx
    out[:, ACROSS] += da
    return out


def _shifts(old: Form, holes: FloatArray, column: int, spare: float) -> list[float]:
    """Shifts worth a try: either end together, and those that bring most holes together, ends between the ends."""
    if abs(spare) < 1e-6:
        return [0.0]
    found = [0.0, spare]
    if len(holes) and len(old.holes):
        gaps = old.holes[:, None, column] - holes[None, :, column]
        alike = old.holes[:, None, FACE] == holes[None, :, FACE]
        low, high = min(0.0, spare), max(0.0, spare)
        gaps = np.round(gaps[alike & (gaps > low + 0.05) & (gaps < high - 0.05)], 1)
        values, counts = np.unique(gaps, return_counts=True)
        order = np.lexsort((np.abs(values), -counts))[:MOST_SHIFTS]
        found += [float(values[k]) for k in order]
    return found


def legs(piece: Piece) -> Sequence[str]:
    """Names of the faces, by their number in a form's rows."""
    return [face.name for face in faces(piece.section)]
