"""Piece marks: those that the register knows, then the model's or the scheme's, as the shop chooses.

A mark in the register names one shape for ever: it stays with its shape and no other one gets it, whatever the model
calls its parts. Erection drawings carry the model's marks, so a good one is kept unless the shop wants its own. A
mark that covers two shapes cannot be used in a shop: its shapes get it with a suffix each, none gets it bare (save
the one that it was released for), and a query names it. A shape with several marks in the model keeps the commonest
one and lists the others.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import count
from typing import Final

from takeoff.identity import Group, Marking
from takeoff.queries import CHECK, Query, query, register
from takeoff.settings import MarkSettings
from takeoff.steel import SHAPES, Member

MODEL: Final = "model"

MARK_COVERS_SHAPES = register(
    "mark-covers-shapes",
    CHECK,
    "The model's mark {0} covers {1} different shapes; they are marked {2} here.",
    "Do not punch by the model's mark. Ask the designer to mark the shapes apart.",
)
SHAPE_HAS_MARKS = register(
    "shape-has-marks",
    CHECK,
    "Parts marked {0} in the model are one shape; they are made under the mark {1}.",
    "If they must stay apart (another finish, another delivery), have the model say so.",
)
SHAPE_ALSO_UNMARKED = register(
    "shape-also-unmarked",
    CHECK,
    "{0} parts without a mark in the model have the shape of marked ones and took their mark ({1} marks).",
    "Check that the erection drawings show them under that mark.",
)
MARK_RELEASED_OTHERWISE = register(
    "mark-released-otherwise",
    CHECK,
    "The model's mark {0} is in the register for another piece; these parts are made under {1}.",
    "Pieces cut under {0} are not these. Ask the designer for another mark, and mend the erection drawings.",
)
MARK_CHANGED = register(
    "mark-changed-in-model",
    CHECK,
    "The model marks {0} what the register knows as {1}; it is made under {1}.",
    "Check that the erection drawings name the piece by the mark on the steel.",
)


def mark_pieces(
    groups: Sequence[Group], members: Sequence[Member], settings: MarkSettings, given: Sequence[str] = ()
) -> tuple[Marking, tuple[Query, ...]]:
    """A mark for every group; no two alike, none that depends on the order of the model's entities.

    ``given`` are the marks of the known shapes, by number (see identity.Known).
    """
    used = [Counter(members[i].mark for i, _, _ in g.members) for g in groups]
    owners: dict[str, list[int]] = {}
    for number, counter in enumerate(used):
        for mark in counter:
            if mark:
                owners.setdefault(mark, []).append(number)
    marks = ["" if group.known is None else given[group.known] for group in groups]
    taken = {*owners, *given}
    # No new mark differs from another one by the size of its letters alone: spoken, and on some disks, they are one.
    folded = {mark.casefold() for mark in taken}
    order = _shop_order(groups)
    if settings.source == MODEL:
        released = set(given)
        for number in order:
            if not marks[number]:
                alone = [mark for mark in used[number] if len(owners.get(mark, ())) == 1]
                marks[number] = _commonest(used[number], alone, released)
        for number in order:
            mark = "" if marks[number] else _commonest(used[number], used[number])
            if mark:
                marks[number] = next(m for n in count(1) if (m := f"{mark}-{n}").casefold() not in folded)
                folded.add(marks[number].casefold())
    counters = _numbers_used(taken, settings)
    for number in order:
        if not marks[number]:
            letter = settings.letters.get(groups[number].shape.section.shape, "X")
            while not marks[number] or marks[number].casefold() in folded:
                counters[letter] = counters.get(letter, settings.start - 1) + 1
                marks[number] = settings.scheme.format(letter=letter, number=counters[letter])
            folded.add(marks[number].casefold())
    found = _queries(groups, members, used, owners, marks)
    if given and settings.source == MODEL:
        found += _against_register(groups, members, used, owners, marks, given)
    model_marks = tuple(tuple(sorted(mark for mark in counter if mark)) for counter in used)
    absent = {n: given[g.absent_mate] for n, g in enumerate(groups) if g.absent_mate is not None}
    return Marking(tuple(marks), model_marks, absent), tuple(found)


def _commonest(used: Counter[str], among: Iterable[str], without: Iterable[str] = ()) -> str:
    """The commonest of a group's marks in the model, the smaller one of equals; empty where there is none."""
    fit = [(-used[mark], mark) for mark in among if mark and mark not in without]
    return min(fit)[1] if fit else ""


def _numbers_used(taken: Iterable[str], settings: MarkSettings) -> dict[str, int]:
    """The highest number of each letter. New marks go on above it, so that none is taken for one of another drawing."""
    counters: dict[str, int] = {}
    for mark in taken:
        for letter in settings.letters.values():
            if mark.startswith(letter) and mark[len(letter) :].isdecimal():
                counters[letter] = max(counters.get(letter, settings.start - 1), int(mark[len(letter) :]))
    return counters


def _against_register(
    groups: Sequence[Group],
    members: Sequence[Member],
    used: Sequence[Counter[str]],
    owners: dict[str, list[int]],
    marks: Sequence[str],
    given: Sequence[str],
) -> list[Query]:
    """Where a mark that the model gives one shape is not the one that the piece is made under.

    By what model and register say, not by what this run gave: the next run on the same model asks the same.
    """
    released = set(given)
    found = []
    for number, counter in enumerate(used):
        named = [mark for mark in counter if mark]
        if len(named) != 1 or len(owners[named[0]]) != 1 or named[0] == marks[number]:
            continue
        code = MARK_RELEASED_OTHERWISE if named[0] in released else MARK_CHANGED
        ids = tuple(members[i].global_id for i, _, _ in groups[number].members)
        found.append(query(code, named[0], marks[number], piece_mark=marks[number], global_ids=ids))
    return found


def _shop_order(groups: Sequence[Group]) -> list[int]:
    """By shape, section and length; opposite hands next to each other."""

    def key(number: int) -> tuple[object, ...]:
        shape = groups[number].shape
        section = shape.section
        # Rounded: noise of a model's coordinates must not say which of two comes first.
        h, b, tw, tf = (round(value, 2) for value in (section.h, section.b, section.tw, section.tf))
        return (
            SHAPES.index(section.shape), h, b, tw, tf, section.designation,
            shape.grade, shape.finish, round(shape.length, 1), shape.key,
        )  # fmt: skip

    order: list[int] = []
    for number in sorted(range(len(groups)), key=key):
        if number in order:
            continue
        order.append(number)
        opposite = groups[number].opposite
        if opposite is not None and opposite != number:
            order.append(opposite)
    return order


def _queries(
    groups: Sequence[Group],
    members: Sequence[Member],
    used: Sequence[Counter[str]],
    owners: dict[str, list[int]],
    marks: Sequence[str],
) -> list[Query]:
    def ids(number: int, wanted: str | None = None) -> tuple[str, ...]:
        return tuple(
            members[i].global_id for i, _, _ in groups[number].members if wanted is None or members[i].mark == wanted
        )

    found = []
    for mark in sorted(owners):
        numbers = owners[mark]
        if len(numbers) > 1:
            here = sorted(marks[n] for n in numbers)
            concerned = tuple(g for n in numbers for g in ids(n, mark))
            found.append(query(MARK_COVERS_SHAPES, mark, len(numbers), ", ".join(here), global_ids=concerned))
    unmarked: list[int] = []
    for number, counter in enumerate(used):
        named = sorted(mark for mark in counter if mark)
        if len(named) > 1:
            found.append(
                query(
                    SHAPE_HAS_MARKS, ", ".join(named), marks[number], piece_mark=marks[number], global_ids=ids(number)
                )
            )
        if named and counter[""]:
            unmarked.append(number)
    if unmarked:
        concerned = tuple(g for n in unmarked for g in ids(n, ""))
        found.append(query(SHAPE_ALSO_UNMARKED, len(concerned), len(unmarked), global_ids=concerned))
    return found
