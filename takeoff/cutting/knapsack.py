"""The most valuable pattern of every capacity at once: the bounded knapsack as one table.

Each size with its bound is split into lots of 1, 2, 4 ... pieces (and the rest), so that a
size that may come thirty times costs five rows, each a few numpy operations over the
whole range of capacities (Kellerer, Pferschy, Pisinger, "Knapsack Problems", 2004,
chapter 7). Values are whole numbers held as floats below 2**53, so sums are exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from takeoff.cutting.problem import BoolArray, FloatArray, IntArray, Pattern


@dataclass(frozen=True)
class Table:
    """``best`` (capacity + 1,) the greatest value of each capacity.

    ``lots`` (m, 2) are (size index, pieces) in the order they were tried; ``taken``
    (m, capacity + 1) whether the lot is in the best filling of the lots so far; ``tops``
    (m, kinds) the best value of each kind's capacity after each lot.
    """

    best: FloatArray
    lots: IntArray
    taken: BoolArray
    tops: FloatArray
    sizes: IntArray

    def pattern(self, capacity: int, last: int | None = None) -> Pattern:
        """The best pattern of ``capacity``, of all lots or of those up to ``last``."""
        counts: dict[int, int] = {}
        stage = len(self.lots) if last is None else last + 1
        while stage > 0:
            hits = np.flatnonzero(self.taken[:stage, capacity])
            if not len(hits):
                break
            stage = int(hits[-1])
            size, many = int(self.lots[stage, 0]), int(self.lots[stage, 1])
            counts[size] = counts.get(size, 0) + many
            capacity -= int(self.sizes[size]) * many
        return tuple(sorted(counts.items()))


def fill(
    sizes: IntArray, bounds: IntArray, values: FloatArray, capacities: Sequence[int], order: Sequence[int] | IntArray
) -> Table:
    """The table for ``values`` (n,) with at most ``bounds`` (n,) pieces of each size.

    ``order`` lists the sizes in the order they are tried; those of no value and those that
    may not come at all are passed over.
    """
    top = max(capacities)
    lots: list[tuple[int, int]] = []
    for i in order:
        most = min(int(bounds[i]), top // int(sizes[i]))
        if values[i] <= 0:
            continue
        lot = 1
        while most > 0:
            lots.append((int(i), min(lot, most)))
            most -= min(lot, most)
            lot *= 2
    best = np.zeros(top + 1)
    candidate = np.empty(top + 1)
    taken = np.zeros((len(lots), top + 1), dtype=bool)
    tops = np.zeros((len(lots), len(capacities)))
    ends = np.array(capacities)
    for row, (i, many) in enumerate(lots):
        shift = int(sizes[i]) * many
        if shift <= top:
            room = candidate[: top + 1 - shift]
            np.add(best[: top + 1 - shift], values[i] * many, out=room)
            np.greater(room, best[shift:], out=taken[row, shift:])
            np.maximum(best[shift:], room, out=best[shift:])
        tops[row] = best[ends]
    return Table(best, np.array(lots, dtype=np.int64).reshape(-1, 2), taken, tops, sizes)


def patterns_worth(
    sizes: IntArray, bounds: IntArray, values: FloatArray, capacity: int, least: float, limit: int
) -> list[Pattern] | None:
    """Every full pattern of ``capacity`` worth ``least`` or more; None where they are more than ``limit``.

    Full: no further piece fits. A plan that cuts at least the demand needs no others, since
    any pattern may be filled up. Depth first over the sizes, cut short by the table of what
    the sizes still to come can add, so that nearly no branch is walked in vain.
    """
    order = [int(i) for i in np.argsort(-sizes, kind="stable") if bounds[i] > 0 and sizes[i] <= capacity]
    if not order:
        return []
    # best[j][c]: the most that the sizes order[j:] can add within capacity c
    best = np.zeros((len(order) + 1, capacity + 1))
    for j in range(len(order) - 1, -1, -1):
        row = best[j]
        row[:] = best[j + 1]
        i = order[j]
        most, lot = min(int(bounds[i]), capacity // int(sizes[i])), 1
        while most > 0:
            many = min(lot, most)
            shift = int(sizes[i]) * many
            if shift <= capacity:
                np.maximum(row[shift:], row[: capacity + 1 - shift] + values[i] * many, out=row[shift:])
            most -= many
            lot *= 2
    found: list[Pattern] = []
    visits = 0
    smallest = _smallest_open(sizes, order)
    stack: list[tuple[int, int, float, Pattern]] = [(0, capacity, 0.0, ())]
    while stack:
        j, room, worth, pattern = stack.pop()
        visits += 1
        if visits > 40 * limit:
            return None
        if j == len(order) or room < smallest:
            if _full(sizes, bounds, order, pattern, room):
                found.append(pattern)
                if len(found) > limit:
                    return None
            continue
        i = order[j]
        for many in range(min(int(bounds[i]), room // int(sizes[i])) + 1):
            rest = room - many * int(sizes[i])
            value = worth + many * values[i]
            if value + best[j + 1][rest] >= least:
                stack.append((j + 1, rest, value, (*pattern, (i, many)) if many else pattern))
    return sorted({tuple(sorted(pattern)) for pattern in found})


def _smallest_open(sizes: IntArray, order: Sequence[int]) -> int:
    return int(min(sizes[i] for i in order))


def _full(sizes: IntArray, bounds: IntArray, order: Sequence[int], pattern: Pattern, room: int) -> bool:
    counts = dict(pattern)
    # the smallest sizes stand last in the order
    for i in reversed(order):
        if sizes[i] > room:
            return True
        if counts.get(i, 0) < bounds[i]:
            return False
    return True


def further(table: Table, kind: int, capacity: int, least: float, most: int) -> Iterator[Pattern]:
    """Good patterns of one kind of bar worth more than ``least``, the best first.

    The best filling of the lots up to each one is a pattern of its own wherever that lot
    improved on those before it: many columns from one table.
    """
    if len(table.lots):
        stages = np.flatnonzero(table.taken[:, capacity] & (table.tops[:, kind] > least))
        for stage in stages[::-1][:most]:
            yield table.pattern(capacity, int(stage))
