"""Findings as values: what is wrong, what to look at, what was assumed.

A query has a stable code; the sentence and the remedy of a code stand in one table,
so that every list, sheet and file words the same finding the same way.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

HOLD, CHECK, ASSUMED = "hold", "check", "assumed"
SEVERITIES: Final = (HOLD, CHECK, ASSUMED)


@dataclass(frozen=True, slots=True)
class Query:
    """One finding. ``cause`` groups findings with the same cause on the query sheet."""

    code: str
    severity: str
    message: str
    remedy: str
    piece_mark: str = ""
    global_ids: tuple[str, ...] = ()
    cause: str = ""


@dataclass(frozen=True, slots=True)
class Kind:
    """A code's severity, its sentence with ``{0}``-style places, and what to do about it."""

    severity: str
    sentence: str
    remedy: str


KINDS: dict[str, Kind] = {}


def register(code: str, severity: str, sentence: str, remedy: str) -> str:
    """Add a code to the table and return it; raises ValueError on a second use."""
    if code in KINDS or severity not in SEVERITIES:
        raise ValueError(f"query code {code} used twice, or unknown severity {severity}")
    KINDS[code] = Kind(severity, sentence, remedy)
    return code


def query(
    code: str,
    *values: object,
    piece_mark: str = "",
    global_ids: tuple[str, ...] = (),
    severity: str | None = None,
) -> Query:
    """The query of a registered code with its sentence filled in."""
    kind = KINDS[code]
    return Query(
        code=code,
        severity=severity or kind.severity,
        message=kind.sentence.format(*values),
        remedy=kind.remedy,
        piece_mark=piece_mark,
        global_ids=global_ids,
        cause=code,
    )
