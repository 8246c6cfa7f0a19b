"""Piece marks: the model's where one mark is one shape, the scheme's for everything else.

Erection drawings carry the model's marks, so a good one is kept. A mark that covers two shapes cannot be used in a
shop: all its shapes get new marks, and a query names it. A shape with several marks in the model keeps the
commonest one and lists the others.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from takeoff.identity import Group, Marking
from takeoff.queries import CHECK, Query, query, register
from takeoff.settings import MarkSettings
from takeoff.steel import SHAPES, Member

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


def mark_pieces(
    groups: Sequence[Group], members: Sequence[Member], settings: MarkSettings
) -> tuple[Marking, tuple[Query, ...]]:
    """A mark for every group; no two alike, none that depends on the order of the model's entities."""
    used = [Counter(members[i].mark for i, _, _ in g.members) for g in groups]
    owners: dict[str, list[int]] = {}
    for number, counter in enumerate(used):
        for mark in counter:
            if mark:
                owners.setdefault(mark, []).append(number)
    marks: list[str] = [""] * len(groups)
    if settings.keep_model_marks:
        for number, counter in enumerate(used):
            own = [(-count, mark) for mark, count in counter.items() if mark and len(owners[mark]) == 1]
            if own:
                marks[number] = min(own)[1]
    taken = set(owners)
    # New marks go on above the model's own, so that none is taken for one of another drawing.
    counters: dict[str, int] = {}
    for mark in owners:
        for letter in settings.letters.values():
            if mark.startswith(letter) and mark[len(letter) :].isdecimal():
                counters[letter] = max(counters.get(letter, settings.start - 1), int(mark[len(letter) :]))
    for number in _shop_order(groups):
        if not marks[number]:
            letter = settings.letters.get(groups[number].shape.section.shape, "X")
            while not marks[number] or marks[number] in taken:
                counters[letter] = counters.get(letter, settings.start - 1) + 1
                marks[number] = settings.scheme.format(letter=letter, number=counters[letter])
            taken.add(marks[number])
    found = _queries(groups, members, used, owners, marks)
    model_marks = tuple(tuple(sorted(mark for mark in counter if mark)) for counter in used)
    return Marking(tuple(marks), model_marks), tuple(found)


def _shop_order(groups: Sequence[Group]) -> list[int]:
    """By shape, section and length; opposite hands next to each other."""

    def key(number: int) -> tuple[object, ...]:
        shape = groups[number].shape
        section = shape.section
        return (
            SHAPES.index(section.shape), section.h, section.b, section.tw, section.tf, section.designation,
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
