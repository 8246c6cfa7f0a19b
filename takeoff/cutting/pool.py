"""The patterns found so far, as columns."""

from __future__ import annotations

import numpy as np

from takeoff.cutting.problem import IntArray, Pattern, Problem, Use


class Pool:
    """Patterns without repetition, in the order they were found.

    ``counts`` (n, m) holds the pieces of each size in each pattern, ``bars`` (m,) the kinds.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.uses: list[Use] = []
        self._known: dict[Use, int] = {}
        self._counts = np.zeros((len(problem.sizes), 256), dtype=np.int64)

    def __len__(self) -> int:
        return len(self.uses)

    @property
    def counts(self) -> IntArray:
        return self._counts[:, : len(self.uses)]

    @property
    def bars(self) -> IntArray:
        return np.array([use.bar for use in self.uses], dtype=np.int64)

    def add(self, use: Use) -> bool:
        """Whether the pattern was new; ValueError where it does not fit its bar."""
        if use in self._known:
            return False
        if self.problem.used(use.pattern) > self.problem.capacities[use.bar]:
            raise ValueError(f"a pattern of {self.problem.used(use.pattern)} does not fit its bar")
        column = len(self.uses)
        if column == self._counts.shape[1]:
            self._counts = np.concatenate([self._counts, np.zeros_like(self._counts)], axis=1)
        for i, many in use.pattern:
            self._counts[i, column] = many
        self._known[use] = column
        self.uses.append(use)
        return True

    def index(self, use: Use) -> int:
        """Where a known pattern stands."""
        return self._known[use]


def filled_up(problem: Problem, bar: int, pattern: Pattern, bounds: IntArray) -> Use:
    """A pattern with further pieces as long as any fits, the longest first, at most ``bounds`` (n,) of each."""
    room = problem.capacities[bar] - problem.used(pattern)
    if room < problem.sizes[-1]:
        return Use(bar, pattern)
    counts = dict(pattern)
    for i in np.flatnonzero((problem.sizes <= room) & (bounds > 0)):
        size = int(problem.sizes[i])
        more = min(room // size, int(bounds[i]) - counts.get(int(i), 0))
        if more > 0:
            counts[int(i)] = counts.get(int(i), 0) + more
            room -= more * size
    return Use(bar, tuple(sorted(counts.items())))
