"""The mark the model gives a part, and where it was found.

In order: a property whose name means a part mark; ``Reference`` of a Pset_*Common;
the Tag, where it looks like a mark and not like an identifier of the authoring
program; the Name, where it looks like a mark and is neither a word for a kind of part
nor a section's designation. Sources that disagree are asked about.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from takeoff.ifc import words
from takeoff.ifc.context import Entity, argument
from takeoff.ifc.properties import looks_like_mark
from takeoff.queries import ASSUMED, CHECK, Query, query, register
from takeoff.steel import HELD, LISTED, Member

FROM_NAME = register(
    "mark-from-name",
    ASSUMED,
    "Parts state a mark nowhere but in their name; the name was taken for it ({0} parts).",
    "Look through the piece marks; have the marks written into a property if they are wrong.",
)
DISPUTED = register(
    "mark-disputed",
    CHECK,
    "The model states two marks for {0} parts, such as {1} in the properties and {2} in the tag; "
    "that of the properties was taken.",
    "Ask which of the two the drawings carry.",
)
_NAME = re.compile(r"^[A-Za-zÀ-ž]{0,4}[-_. /]?\d{1,5}(?:[-_./]?[A-Za-z0-9]{1,6}){0,3}$")


class Marks:
    """Marks of one file's parts, and what was chosen on the way."""

    def __init__(self) -> None:
        self._named: set[str] = set()
        self._disputed: list[tuple[str, str, str]] = []

    def of(self, part: Entity, name: str, meaning: Mapping[str, tuple[int, str]]) -> str:
        """The part's mark, empty where the model gives none."""
        tag = words.known(argument(part, 7))
        tag = tag if looks_like_mark(tag) and _says_which(tag) else ""
        stated = meaning.get("mark")
        if stated is not None and _says_which(stated[1]):  # Reference often holds the section, or the type's name
            if tag and tag != stated[1]:
                self._disputed.append((str(argument(part, 0)), stated[1], tag))
            return stated[1]
        if tag:
            return tag
        if _NAME.match(name) and looks_like_mark(name) and _says_which(name, strict=True):
            self._named.add(str(argument(part, 0)))
            return name
        return ""

    def queries(self, members: Sequence[Member]) -> list[Query]:
        """What to say about the marks of listed and held parts."""
        steel = {m.global_id for m in members if m.status in (LISTED, HELD)}
        found = []
        disputed = sorted(entry for entry in self._disputed if entry[0] in steel)
        if disputed:
            ids = tuple(global_id for global_id, _, _ in disputed)
            found.append(query(DISPUTED, len(ids), *disputed[0][1:], global_ids=ids))
        named = tuple(sorted(self._named & steel))
        if named:
            found.append(query(FROM_NAME, len(named), global_ids=named))
        return found


def _says_which(text: str, *, strict: bool = False) -> bool:
    """Whether a text can tell one part from others: no section's name and no word for a kind of part.

    ``strict``: a word for a kind of part with a number (``Leg 2``) is none either.
    """
    if words.looks_like_section(text):
        return False
    bare = words.plain(text)
    if strict:
        bare = re.sub(r"[^a-z ]", " ", bare).strip()
    return bare not in words.GENERIC_NAMES
