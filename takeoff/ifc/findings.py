"""Findings about parts, gathered by cause: one query for each cause, with every GlobalId."""

from __future__ import annotations

from collections.abc import Iterable

from takeoff.queries import HOLD, KINDS, Query, query
from takeoff.steel import Problem


class Findings:
    """Problems by code and values, and the parts that have them."""

    def __init__(self) -> None:
        self._ids: dict[Problem, list[str]] = {}

    def add(self, global_id: str, problems: Iterable[Problem]) -> None:
        for problem in problems:
            self._ids.setdefault(problem, []).append(global_id)

    def queries(self) -> list[Query]:
        """One query for each cause, in the order of codes and values."""
        ordered = sorted(self._ids.items(), key=lambda item: (item[0].code, item[0].values))
        return [query(problem.code, *problem.values, global_ids=tuple(sorted(set(ids)))) for problem, ids in ordered]


def holding(problems: Iterable[Problem]) -> list[Problem]:
    """The problems that hold a part."""
    return [problem for problem in problems if KINDS[problem.code].severity == HOLD]


def sentences(problems: Iterable[Problem]) -> str:
    """The problems as text, for the reason of a part."""
    return " ".join(KINDS[problem.code].sentence.format(*problem.values) for problem in problems)
