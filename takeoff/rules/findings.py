"""What a check by the trade's rules finds, and how findings of one cause become one query."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from takeoff.order import natural
from takeoff.queries import Query, query
from takeoff.units import millimetres
from takeoff.words import Figure, Phrase, joined, phrase

MARKS_NAMED: Final = 8
OFF: Final = "off"


REMARKS: Final[dict[str, str]] = {}
"""How one place is worded on the piece's own sheet, by code; fields ``where``, ``found``, ``asked``, ``cause``."""


class Ruling(NamedTuple):
    """One finding: its code, what it has in common with others (``cause``), where, and what was found and asked, mm.

    ``found`` and ``asked`` are None where the rule is not one of size.
    """

    code: str
    cause: str
    where: str
    found: float | None = None
    asked: float | None = None
    more: str = ""
    """What is told with the cause once, not at every place."""

    @property
    def lack(self) -> float:
        """How far it is from what is asked, as a share; the worst of a cause is told."""
        if self.found is None or not self.asked:
            return 0.0
        return abs(self.asked - self.found) / self.asked

    @property
    def sizes(self) -> tuple[str, str]:
        """What was found and asked, as print."""
        return (
            "" if self.found is None else millimetres(self.found),
            "" if self.asked is None else millimetres(self.asked),
        )


def remarks(rulings: Sequence[tuple[str, Ruling]], severity: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """By piece mark: its findings in phrases, places alike in one, in the order of the codes; none that is off."""
    places: dict[str, dict[tuple[str, str, str, str], dict[str, None]]] = {}
    for mark, ruling in sorted(rulings, key=lambda entry: (entry[1].code, natural(entry[1].where))):
        if severity.get(ruling.code) != OFF:
            alike = (ruling.code, *ruling.sizes, ruling.cause)
            places.setdefault(mark, {}).setdefault(alike, {}).setdefault(ruling.where)
    return {
        mark: tuple(
            phrase(REMARKS[code], where=_joined(list(wheres)), found=Figure(found), asked=Figure(asked), cause=cause)
            for (code, found, asked, cause), wheres in phrases.items()
        )
        for mark, phrases in places.items()
    }


def hole_at(label: str) -> Phrase:
    """``hole A1``: where a finding is."""
    return phrase("hole {label}", label=label)


def _joined(wheres: Sequence[str]) -> Phrase:
    """``holes A1, A2`` for "hole A1" and "hole A2"; other places after each other."""
    if len(wheres) > 1 and all(where.startswith("hole ") for where in wheres):
        return phrase("holes {labels}", labels=", ".join(where.removeprefix("hole ") for where in wheres))
    return joined("; ", wheres)


def named(marks: Iterable[str]) -> str:
    """Marks in a person's order, the first eight by name: ``A1, A2 and 3 more``."""
    ordered = sorted(set(marks), key=natural)
    if len(ordered) <= MARKS_NAMED + 1:
        return ", ".join(ordered)
    return f"{', '.join(ordered[:MARKS_NAMED])} and {len(ordered) - MARKS_NAMED} more"


def gathered(
    rulings: Sequence[tuple[str, Ruling]], ids: Mapping[str, tuple[str, ...]], severity: Mapping[str, str]
) -> list[Query]:
    """One query for each code and cause, from (piece mark, ruling) pairs.

    Sentences get: {0} how many, {1} in which marks, {2} the cause, {3} the worst place, {4} found, {5} asked there.
    ``ids`` are the GlobalIds of each mark, ``severity`` what the settings do with each code; codes that are off are
    left out.
    """
    by_cause: dict[tuple[str, str], list[tuple[str, Ruling]]] = {}
    for mark, ruling in rulings:
        if severity.get(ruling.code) != OFF:
            by_cause.setdefault((ruling.code, ruling.cause), []).append((mark, ruling))
    asked = []
    for code, cause in sorted(by_cause):
        found = by_cause[code, cause]
        marks = sorted({mark for mark, _ in found}, key=natural)
        # Ties go by name, so that the same job is worded the same whatever the order of its parts.
        mark, worst = min(found, key=lambda entry: (-round(entry[1].lack, 6), natural(entry[0]), entry[1].where))
        asked.append(
            query(
                code,
                len(found),
                named(marks),
                cause + worst.more,
                f"{worst.where} of {mark}",
                *worst.sizes,
                piece_mark=mark if len(marks) == 1 else "",
                global_ids=tuple(g for m in marks for g in ids.get(m, ())),
                severity=severity.get(code),
            )
        )
    return asked
