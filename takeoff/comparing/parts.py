"""Which part of the old state became which part of the new one.

In this order, each part once: the same GlobalId with the same shape; the same shape in the same place; the same
GlobalId; the same place. A model moved or turned as a whole has its parts in the same places: the motion that brings
most parts of one shape together is found first.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from takeoff.comparing.forms import known
from takeoff.revision import Stand, State
from takeoff.sections.turns import turns
from takeoff.steel import CHS, ROUND, FloatArray, Section

SAME_MM = 1.0
"""Parts of one shape whose middles are this close stand in one place."""
TABLES_MM = 5.0
"""The same where only the ends are known, which a turn of the piece may move across it."""
NEAR_MM = 25.0
"""An end or the middle of another shape this close says that it took the part's place."""
PARALLEL = 0.99
ENOUGH = 0.5
"""Share of the parts that a motion must bring together before it is believed."""
MOST_MOTIONS = 96
SAMPLE = 300


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """p' = p @ ``turn`` + ``shift``, from the old model to the new one."""

    turn: FloatArray
    shift: FloatArray

    def __call__(self, points: FloatArray) -> FloatArray:
        return points @ self.turn + self.shift


STILL = Motion(np.eye(3), np.zeros(3))


def became(old: State, new: State, same: Mapping[str, str]) -> Counter[tuple[str, str]]:
    """How many parts of an old mark became parts of a new mark; ``same`` gives the new mark of each shape that stays.

    Parts that have no counterpart are not counted.
    """
    flow: Counter[tuple[str, str]] = Counter()
    here, there = list(old.stands), list(new.stands)
    if not here or not there:
        return flow
    motion = _motion(here, there, same, old, new)
    left, right = set(range(len(here))), set(range(len(there)))

    def take(a: int, b: int) -> None:
        left.discard(a)
        right.discard(b)
        flow[here[a].mark, there[b].mark] += 1

    for a, b in _by_id(here, there, left, right, same):
        take(a, b)
    tables = old.from_tables or new.from_tables
    for a, b in _by_place_and_shape(here, there, left, right, same, motion, TABLES_MM if tables else SAME_MM):
        take(a, b)
    for a, b in _by_id(here, there, left, right, None):
        take(a, b)
    for a, b in _by_place(here, there, left, right, motion):
        take(a, b)
    return flow


def _by_id(
    here: Sequence[Stand],
    there: Sequence[Stand],
    left: set[int],
    right: set[int],
    same: Mapping[str, str] | None,
) -> list[tuple[int, int]]:
    found: dict[str, list[int]] = defaultdict(list)
    for b in sorted(right):
        found[there[b].global_id].append(b)
    pairs = []
    for a in sorted(left):
        choices = found.get(here[a].global_id, [])
        fitting = [b for b in choices if same is None or same.get(here[a].mark) == there[b].mark]
        if fitting:
            choices.remove(fitting[0])
            pairs.append((a, fitting[0]))
    return pairs


def _classes(stands: Sequence[Stand], chosen: Sequence[int], names: Mapping[str, int]) -> FloatArray:
    return np.array([names.get(stands[k].mark, -1) for k in chosen], dtype=float)


def _by_place_and_shape(
    here: Sequence[Stand],
    there: Sequence[Stand],
    left: set[int],
    right: set[int],
    same: Mapping[str, str],
    motion: Motion,
    within: float,
) -> list[tuple[int, int]]:
    from scipy.spatial import cKDTree

    number = {mark: k for k, mark in enumerate(sorted(set(same.values())))}
    mine = [a for a in sorted(left) if here[a].mark in same]
    yours = [b for b in sorted(right) if there[b].mark in number]
    if not mine or not yours:
        return []
    # Shapes lie in layers of their own, farther apart than any two places are near.
    layer = 10 * NEAR_MM
    shapes_old = np.array([number[same[here[a].mark]] for a in mine]) * layer
    shapes_new = _classes(there, yours, number) * layer
    points_old = np.column_stack([motion(np.array([here[a].middle for a in mine])), shapes_old])
    points_new = np.column_stack([np.array([there[b].middle for b in yours]), shapes_new])
    pairs = cKDTree(points_old).query_ball_tree(cKDTree(points_new), within)
    near = [
        (float(np.linalg.norm(points_old[i] - points_new[j])), mine[i], yours[j])
        for i, found in enumerate(pairs)
        for j in found
    ]
    return _nearest_first(near)


def _nearest_first(near: list[tuple[float, int, int]]) -> list[tuple[int, int]]:
    taken_old: set[int] = set()
    taken_new: set[int] = set()
    pairs = []
    for _, a, b in sorted((round(off, 3), a, b) for off, a, b in near):
        if a not in taken_old and b not in taken_new:
            taken_old.add(a)
            taken_new.add(b)
            pairs.append((a, b))
    return pairs


def _by_place(
    here: Sequence[Stand], there: Sequence[Stand], left: set[int], right: set[int], motion: Motion
) -> list[tuple[int, int]]:
    """Parts whose ends or middles are near each other and which lie the same way."""
    from scipy.spatial import cKDTree

    mine, yours = sorted(left), sorted(right)
    if not mine or not yours:
        return []

    def points(stands: Sequence[Stand], chosen: Sequence[int]) -> FloatArray:
        return np.array([(stands[k].left, stands[k].right, stands[k].middle) for k in chosen])

    old, new = motion(points(here, mine)), points(there, yours)
    along_old, along_new = _directions(old), _directions(new)
    tree = cKDTree(new.reshape(-1, 3))
    near: list[tuple[float, int, int]] = []
    for i in range(len(mine)):
        hits = {j // 3 for point in old[i] for j in tree.query_ball_point(point, NEAR_MM)}
        for j in hits:
            if abs(float(along_old[i] @ along_new[j])) < PARALLEL:
                continue
            gaps = np.sort(np.linalg.norm(old[i][:, None] - new[j][None, :], axis=2).min(axis=1))
            near.append((float(gaps.sum()), mine[i], yours[j]))
    return _nearest_first(near)


def _directions(points: FloatArray) -> FloatArray:
    along = points[:, 1] - points[:, 0]
    return np.asarray(along / np.maximum(np.linalg.norm(along, axis=1), 1e-9)[:, None])


# ---------------------------------------------------------------- the motion of a whole model


def _motion(here: Sequence[Stand], there: Sequence[Stand], same: Mapping[str, str], old: State, new: State) -> Motion:
    """How the whole model was moved: not at all, unless another motion brings more parts of one shape together."""
    by_mark_old: dict[str, list[Stand]] = defaultdict(list)
    by_mark_new: dict[str, list[Stand]] = defaultdict(list)
    for stand in here:
        by_mark_old[stand.mark].append(stand)
    for stand in there:
        by_mark_new[stand.mark].append(stand)
    shared = [(a, b) for a, b in same.items() if by_mark_old[a] and by_mark_new[b]]
    if not shared:
        return STILL
    score = _Score(shared, by_mark_old, by_mark_new, TABLES_MM if old.from_tables or new.from_tables else SAME_MM)
    best, most = STILL, score(STILL)
    if most >= ENOUGH:
        return STILL
    sections = {piece.mark: piece.section for piece in old.pieces}
    lengths = {piece.mark: piece.length for piece in old.pieces}
    rarest = sorted(shared, key=lambda pair: (len(by_mark_old[pair[0]]) * len(by_mark_new[pair[1]]), pair))
    tried = 0
    for a, b in rarest[:4]:
        for one in by_mark_old[a][:4]:
            for other in by_mark_new[b]:
                for motion in _motions(one, other, sections[a], lengths[a]):
                    tried += 1
                    share = score(motion)
                    if share > most:
                        best, most = motion, share
                if most > 0.95 or tried > MOST_MOTIONS:
                    return best if most >= ENOUGH else STILL
    return best if most >= ENOUGH else STILL


def _motions(one: Stand, other: Stand, section: Section, length: float) -> list[Motion]:
    found = [Motion(np.eye(3), other.middle - one.middle)]
    if one.axes is None or other.axes is None or not known(section) or section.shape in (CHS, ROUND):
        return found
    for turn in turns(section, length):
        rotation = (turn.rotation @ one.axes).T @ other.axes
        found.append(Motion(rotation, other.middle - one.middle @ rotation))
    return found


class _Score:
    """The share of a sample of parts that a motion brings to a part of their shape."""

    def __init__(
        self,
        shared: Sequence[tuple[str, str]],
        old: Mapping[str, Sequence[Stand]],
        new: Mapping[str, Sequence[Stand]],
        within: float,
    ) -> None:
        from scipy.spatial import cKDTree

        points = [(k, stand.middle) for k, (a, _) in enumerate(shared) for stand in old[a]]
        step = max(1, len(points) // SAMPLE)
        self._within = within
        self._layer = 10 * NEAR_MM
        self._old = np.array([point for _, point in points[::step]])
        self._kinds = np.array([k for k, _ in points[::step]]) * self._layer
        rows = [(*stand.middle, k * self._layer) for k, (_, b) in enumerate(shared) for stand in new[b]]
        self._tree = cKDTree(np.array(rows))

    def __call__(self, motion: Motion) -> float:
        moved = np.column_stack([motion(self._old), self._kinds])
        away, _ = self._tree.query(moved, distance_upper_bound=self._within)
        return float(np.isfinite(away).mean())
