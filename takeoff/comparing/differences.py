"""What tells one shape from another, in the position in which they are most alike.

Holes are paired place by place first, then the rest by distance: what is nearer than MOVED_MM on one face is one hole
that moved, what is farther is a hole gone and another one added.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from takeoff.comparing.forms import Form, Lying, broad, legs, lyings, same_section
from takeoff.revision import Difference
from takeoff.settings import IdentitySettings
from takeoff.steel import FloatArray
from takeoff.turned import ACROSS, ANGLE, DEPTH, FACE, KIND, SIDE, SIZE, SLOT, TYPE, WIDTH, X, period
from takeoff.units import millimetres

MOVED_MM = 100.0
"""A hole farther away than this is taken for another hole."""
SLOT_DEG = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Pairing:
    """Holes by number: ``same`` place, ``moved``, ``gone`` of the old, ``added`` of the new; pairs are (old, new)."""

    same: tuple[tuple[int, int], ...]
    moved: tuple[tuple[int, int], ...]
    gone: tuple[int, ...]
    added: tuple[int, ...]


def pair_holes(old: FloatArray, new: FloatArray, position: float, girth: float) -> Pairing:
    """Which hole of one is which of the other; both lie in one frame."""
    if not len(old) or not len(new):
        return Pairing((), (), tuple(range(len(old))), tuple(range(len(new))))
    from scipy.optimize import linear_sum_assignment

    dx = new[None, :, X] - old[:, None, X]
    da = new[None, :, ACROSS] - old[:, None, ACROSS]
    if girth:
        da = (da + girth / 2) % girth - girth / 2
    away = np.hypot(dx, da)
    away[old[:, None, FACE] != new[None, :, FACE]] = np.inf
    same: list[tuple[int, int]] = []
    near = np.where(away <= position + 1e-6, away, 1e6)
    for a, b in zip(*linear_sum_assignment(near), strict=True):
        if near[a, b] < 1e6:
            same.append((int(a), int(b)))
    rest_old = [a for a in range(len(old)) if a not in {p for p, _ in same}]
    rest_new = [b for b in range(len(new)) if b not in {q for _, q in same}]
    moved: list[tuple[int, int]] = []
    if rest_old and rest_new:
        # Of two moves alike the one that keeps the size is the likelier.
        cost = away[np.ix_(rest_old, rest_new)]
        cost = cost + 0.1 * np.abs(old[rest_old][:, None, SIZE] - new[rest_new][None, :, SIZE])
        cost = np.where(away[np.ix_(rest_old, rest_new)] <= MOVED_MM, cost, 1e6)
        for a, b in zip(*linear_sum_assignment(cost), strict=True):
            if cost[a, b] < 1e6:
                moved.append((rest_old[int(a)], rest_new[int(b)]))
    gone = tuple(a for a in rest_old if a not in {p for p, _ in moved})
    added = tuple(b for b in rest_new if b not in {q for _, q in moved})
    return Pairing(tuple(same), tuple(moved), gone, added)


def same_size(a: FloatArray, b: FloatArray, rules: IdentitySettings) -> bool:
    """Whether two holes in one place are one hole: kind, side, sizes, and which way a slot runs."""
    if any(a[c] != b[c] for c in (KIND, SIDE)):
        return False
    if any(abs(a[c] - b[c]) > rules.diameter_mm + 1e-6 for c in (SIZE, SLOT, WIDTH, DEPTH)):
        return False
    if a[SLOT] <= 0 and b[SLOT] <= 0:
        return True
    turn = float(min(period(a[None])[0], period(b[None])[0]))
    lean = abs(a[ANGLE] - b[ANGLE]) % turn
    return bool(min(lean, turn - lean) <= SLOT_DEG)


def differences(old: Form, new: Form, rules: IdentitySettings) -> tuple[tuple[Difference, ...], bool]:
    """What tells ``new`` from ``old``, and whether it lies turned against it. Nothing where they agree."""
    one, other = old.piece, new.piece
    found = []
    if not same_section(one.section, other.section):
        found.append(Difference("section", one.section.designation, other.section.designation))
    if one.grade != other.grade:
        found.append(Difference("grade", one.grade, other.grade))
    if one.finish != other.finish:
        found.append(Difference("finish", one.finish, other.finish))
    comparable = one.section.shape == other.section.shape or (broad(one.section) and broad(other.section))
    if not comparable or list(legs(one)) != list(legs(other)):
        if abs(one.length - other.length) > rules.length_mm:
            found.append(_size("length", one.length, other.length))
        return tuple(found), False
    best: tuple[tuple[float, ...], tuple[Difference, ...], bool] | None = None
    for lying in lyings(new, old):
        count, far, apart = _apart(old, new, lying, rules)
        score = (count, lying.turned, round(far, 3))
        if best is None or score < best[0]:
            best = (score, apart, lying.turned)
    assert best is not None
    return (*found, *best[1]), best[2]


def _size(kind: str, old: float, new: float) -> Difference:
    return Difference(kind, millimetres(old), millimetres(new), mm=(new - old, 0.0))


def _apart(old: Form, new: Form, lying: Lying, rules: IdentitySettings) -> tuple[int, float, tuple[Difference, ...]]:
    """Number of differences, how far holes moved in all, and the differences in words."""
    found: list[Difference] = []
    one = old.piece
    if abs(one.length - lying.length) > rules.length_mm + 1e-6:
        found.append(_size("length", one.length, lying.length))
    if broad(one.section) and abs(one.section.h - lying.width) > rules.position_mm + 1e-6:
        found.append(_size("width", one.section.h, lying.width))
    away = 0.0
    pairs = pair_holes(old.holes, lying.holes, rules.position_mm, old.girth)
    labels_old = [hole.label for hole in one.holes]
    labels_new = [hole.label for hole in new.piece.holes]
    for a, b in sorted((*pairs.same, *pairs.moved)):
        here, there = old.holes[a], lying.holes[b]
        if (a, b) in pairs.moved:
            dx, da = float(there[X] - here[X]), float(there[ACROSS] - here[ACROSS])
            if old.girth:
                da = (da + old.girth / 2) % old.girth - old.girth / 2
            away += float(np.hypot(dx, da))
            found.append(Difference("hole moved", "", "", labels_old[a], labels_new[b], (dx, da)))
        if not same_size(here, there, rules):
            words = hole_words(old, a), hole_words(new, b)
            found.append(Difference("hole size", *words, labels_old[a], labels_new[b]))
    found += [Difference("hole gone", hole_words(old, a), "", labels_old[a]) for a in pairs.gone]
    found += [Difference("hole added", "", hole_words(new, b), "", labels_new[b]) for b in pairs.added]
    found += outline_differences(old, lying, rules)
    return len(found), away + _crossed(old, new), tuple(found)


def _crossed(old: Form, new: Form) -> float:
    """Nothing where hole counts agree face by face: only there may ties be left to the distance."""
    return 0.0 if len(old.holes) == len(new.holes) else 0.001


def hole_words(form: Form, number: int) -> str:
    """A hole's size as the tables say it."""
    hole = form.piece.holes[number]
    if hole.kind == "slot":
        return f"slot {millimetres(hole.diameter)} x {millimetres(hole.slot_length)} at {hole.slot_angle:g} deg"
    if hole.kind == "rectangle":
        return f"{millimetres(hole.slot_length)} x {millimetres(hole.width)}"
    more = f" {hole.kind} {hole.side}" if hole.side else ""
    return f"dia {millimetres(hole.diameter)}{more}"


def outline_differences(old: Form, lying: Lying, rules: IdentitySettings) -> list[Difference]:
    """Corners that have no match, end by end: a corner may be as far from its own end as before, or in its place."""
    mine, theirs = old.corners, lying.corners
    if not len(mine) and not len(theirs):
        return []
    shift = lying.shift[0]
    length, start, stop = old.piece.length, shift, shift + lying.length
    lost_old = [row for row in mine if not _matched(row, theirs, (0.0, start, stop - length), rules)]
    lost_new = [row for row in theirs if not _matched(row, mine, (0.0, -start, length - stop), rules)]
    found = []
    for end in ("left", "right", "edge"):
        before = [row for row in lost_old if _end(row, 0.0, length) == end]
        after = [row for row in lost_new if _end(row, start, stop) == end]
        if before or after:
            found.append(Difference("outline", _places(old, before), _places(old, after), end, end))
    return found


def _matched(row: FloatArray, others: FloatArray, shifts: tuple[float, ...], rules: IdentitySettings) -> bool:
    if not len(others):
        return False
    alike = (others[:, TYPE] == row[TYPE]) & (others[:, FACE] == row[FACE]) & (others[:, SIDE] == row[SIDE])
    alike &= np.abs(others[:, ACROSS] - row[ACROSS]) <= rules.position_mm + 1e-6
    alike &= np.abs(others[:, SIZE] - row[SIZE]) <= SLOT_DEG
    if not alike.any():
        return False
    xs = others[alike, X]
    return any(bool((np.abs(xs - row[X] - shift) <= rules.position_mm + 1e-6).any()) for shift in shifts)


def _end(row: FloatArray, start: float, stop: float) -> str:
    share = (row[X] - start) / (stop - start)
    return "left" if share < 0.25 else "right" if share > 0.75 else "edge"


def _places(old: Form, rows: list[FloatArray]) -> str:
    names = legs(old.piece)
    words = [f"{names[int(r[FACE])]} ({millimetres(float(r[X]))} | {millimetres(float(r[ACROSS]))})" for r in rows]
    return ", ".join(dict.fromkeys(words)) if words else "square"


def summary_words(found: tuple[Difference, ...]) -> str:
    """Differences as one line of the table: the holes by the labels on both sheets."""
    return "; ".join(_words(one) for one in found)


def _words(one: Difference) -> str:
    both = one.hole_old if one.hole_old == one.hole_new else f"{one.hole_old} (new {one.hole_new})"
    if one.kind == "hole moved" and one.mm:
        dx, da = one.mm
        moves = [f"{millimetres(abs(dx))} mm {'to the right' if dx > 0 else 'to the left'}"] if abs(dx) >= 0.05 else []
        moves += [f"{millimetres(abs(da))} mm {'outward' if da > 0 else 'inward'} across"] if abs(da) >= 0.05 else []
        return f"hole {both} moved {' and '.join(moves)}"
    if one.kind == "hole size":
        return f"hole {both} {one.old} to {one.new}"
    if one.kind == "hole gone":
        return f"hole {one.hole_old} gone ({one.old})"
    if one.kind == "hole added":
        return f"hole {one.hole_new} added ({one.new})"
    if one.kind == "outline":
        return f"outline at the {one.hole_old} {one.old} to {one.new}"
    if one.kind in ("length", "width") and one.mm:
        return f"{one.kind} {one.old} to {one.new} ({'+' if one.mm[0] > 0 else '-'}{millimetres(abs(one.mm[0]))})"
    return f"{one.kind} {one.old or 'not stated'} to {one.new or 'not stated'}"
