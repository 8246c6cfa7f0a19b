"""What the cover says of the mark register: the issue, and what became of its marks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from takeoff.steel import Takeoff
from takeoff.words import say

NAMED: Final = 30
"""Marks that the cover names before it counts the rest; summary.json has them all."""


def register_facts(takeoff: Takeoff) -> tuple[tuple[str, str], ...]:
    """Rows of the cover's table of facts: (what, text); none where there is no register."""
    release = takeoff.release
    if release is None:
        return ()
    pieces = release.pieces
    rows = [
        (
            say("Register"),
            say(
                "issue {issue}: marks {new} new, {kept} kept, {retired} retired",
                issue=release.revision,
                new=len(pieces.new),
                kept=len(pieces.kept),
                retired=len(pieces.retired),
            ),
        )
    ]
    # In the issue that begins a register all marks are new; naming them would say nothing.
    if pieces.new and pieces.kept:
        rows.append((say("New marks"), _named(pieces.new)))
    if pieces.retired:
        rows.append((say("Retired marks"), _named(pieces.retired)))
    if pieces.reserved:
        rows.append((say("On HOLD, not released"), _named(pieces.reserved)))
    return tuple(rows)


def _named(marks: Sequence[str]) -> str:
    more = len(marks) - NAMED
    text = ", ".join(marks[:NAMED])
    return say("{marks} and {more} more", marks=text, more=more) if more > 0 else text
