"""The head of a piece sheet: title strip, the band for the opposite hand, the band for a hold, sign-off boxes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from takeoff.sheets import fonts, measure
from takeoff.sheets.bands import flat_on
from takeoff.sheets.page import Box, Item, Line, Link, Text, fitted, frame
from takeoff.sheets.tables import LEADING
from takeoff.sheets.wording import designation, mass_source, thickness
from takeoff.steel import Piece, Takeoff
from takeoff.words import say

HOLD_LINES: Final = 3
"""Lines of reasons in the hold band; the notes have them all."""


@dataclass(frozen=True, slots=True)
class Use:
    """An assembly mark that holds the piece: how many in one, and how many assemblies."""

    assembly: str
    in_one: int
    quantity: int


def uses(takeoff: Takeoff) -> dict[str, list[Use]]:
    """Where each piece mark is used."""
    found: dict[str, list[Use]] = {}
    for assembly in takeoff.assemblies:
        for mark, many in assembly.pieces:
            found.setdefault(mark, []).append(Use(assembly.mark, many, assembly.quantity))
    return found


def strip(piece: Piece, used: Sequence[Use], box: Box) -> list[Item]:
    """The strip on top: mark and quantity large, then section, lengths, weights and use."""
    x0, y0, x1, y1 = box
    items: list[Item] = [frame(box, 1.2)]
    mark_room, quantity_room = 168.0, 74.0
    mark = fonts.printable(piece.mark)
    big = fitted(Text(x0 + 6.0, y0 + 16.0, mark, 38.0, True), mark_room - 12.0, 12.0)
    if big.width > mark_room - 12.0 or big.size < 18.0:
        items += _long_mark(mark, x0 + 6.0, y1 - 12.0, mark_room - 12.0, y1 - y0 - 15.0)
    else:
        items.append(big)
    items.append(Text(x0 + 6.0, y1 - 8.5, say("PIECE MARK"), 6.5))
    x = x0 + mark_room
    items.append(Line(x, y0, x, y1, 0.8))
    items.append(Text(x + 5.0, y1 - 8.5, say("QUANTITY"), 6.5))
    items.append(fitted(Text(x + 5.0, y0 + 22.0, str(piece.quantity), 30.0, True), quantity_room - 10.0, 12.0))
    items.append(Text(x + 5.0, y0 + 6.0, say("off"), 9.0))
    x += quantity_room
    items.append(Line(x, y0, x, y1, 0.8))
    called = _called(piece)
    fields = (
        (
            (
                (say("Section"), designation(piece.section), True),
                (say("Grade"), piece.grade or say("not stated"), True),
                (say("Finish"), piece.finish or say("not stated"), False),
                _size(piece),
            ),
            180.0,
        ),
        (
            (
                (say("Length"), measure.with_unit(piece.length), True),
                (say("Gross"), _each(piece.gross, piece.quantity), False),
                (say("Net"), _each(piece.net, piece.quantity), False),
                (say("Surface"), say("{surface} m² each", surface=measure.figure(piece.surface, 3)), False),
            ),
            178.0,
        ),
    )
    for column, room in fields:
        y, step = y1 - 13.0, 13.5
        lead = max(40.0, 9.0 + max(fonts.width(label, 7.0) for label, _, _ in column))
        for label, value, strong in column:
            size = 10.0 if strong else 8.0
            items.append(Text(x + 5.0, y, label, 7.0))
            value = fonts.printable(value)
            text = fitted(Text(x + lead, y, value, size, strong), room - lead - 4.0, 6.5)
            if text.width > room - lead - 4.0:
                text = Text(x + lead, y, fonts.shorten(value, 6.5, room - lead - 4.0, strong), 6.5, strong)
            items.append(text)
            if called and label == say("Section"):
                # what the model calls it stands small under what it is
                small = fonts.shorten(fonts.printable(called), 6.5, room - lead - 4.0)
                items.append(Text(x + lead, y - 9.0, small, 6.5))
                y, step = y - 7.5, 11.0
            y -= step
        x += room
        items.append(Line(x, y0, x, y1, 0.4))
    items.append(Text(x + 5.0, y1 - 8.5, say("WHERE USED"), 6.5))
    words = fonts.wrap("; ".join(places(piece, used)), 8.0, x1 - x - 10.0)
    if len(words) > 5:
        words = (*words[:4], fonts.shorten(" ".join(words[4:]), 8.0, x1 - x - 10.0))
    items += [Text(x + 5.0, y1 - 18.5 - 9.6 * i, line, 8.0) for i, line in enumerate(words)]
    return items


def places(piece: Piece, used: Sequence[Use]) -> list[str]:
    """Where the piece is used, and what the model calls it where that is another name."""
    found = []
    for use in used:
        fields = {"assembly": use.assembly, "count": use.in_one, "quantity": use.quantity}
        if use.quantity == 1:
            found.append(say("{assembly}: {count}", **fields))
        else:
            found.append(say("{assembly}: {count} in each of {quantity}", **fields))
    if piece.model_marks and tuple(piece.model_marks) != (piece.mark,):
        found.append(say("in the model: {names}", names=", ".join(piece.model_marks)))
    return found or [say("in no assembly")]


def _each(kg: float, quantity: int) -> str:
    return say("{each} kg each, {all} in all", each=measure.mass(kg), all=measure.mass(kg * quantity))


def _called(piece: Piece) -> str:
    """What the model calls the section, where that is not the same but for blanks and the sign between sizes."""
    own = _bare(piece.section.designation)
    names = dict.fromkeys(name.strip() for name in piece.model_sections)
    others = [name for name in names if name and _bare(name) != own]
    return say("in the model: {names}", names=", ".join(others)) if others else ""


def _bare(name: str) -> str:
    return "".join(name.lower().split()).replace("×", "x").replace("*", "x")


def _size(piece: Piece) -> tuple[str, str, bool]:
    """Mass per metre with its source; of a plate its width and thickness, which the section's name may not say."""
    section = piece.section
    if flat_on(piece):
        fields = {"width": measure.length(section.h), "thickness": thickness(section.tw or section.b)}
        return say("Size"), say("{width} wide, {thickness} thick", **fields), False
    return say("Mass"), mass_source(section) or say("not known"), False


def _long_mark(mark: str, x: float, top: float, room: float, height: float) -> list[Item]:
    """A mark too long for one line, in the largest type at which its lines fit the box."""
    for size in (22.0, 18.0, 15.0, 12.0, 10.0, 8.0, 6.5):
        lines = fonts.wrap(mark, size, room, True)
        if len(lines) * size * 1.1 <= height:
            break
    most = int(height / (size * 1.1))
    lines = (*lines[: most - 1], fonts.shorten("".join(lines[most - 1 :]), size, room, True))
    return [Text(x, top - size * (0.85 + 1.1 * i), line, size, True) for i, line in enumerate(lines)]


def opposite_hand(piece: Piece, box: Box, target: str) -> list[Item]:
    """The band that keeps two hands apart, white on black; it leads to the other's sheet, ``target``."""
    x0, y0, x1, _ = box
    words = say(
        "OPPOSITE HAND: {other} is the mirror image of {mark}. Keep the two apart.",
        other=piece.opposite_hand_of,
        mark=piece.mark,
    )
    text = fitted(
        Text((x0 + x1) / 2, y0 + 7.0, fonts.printable(words), 15.0, True, "middle", white=True), x1 - x0 - 12.0, 7.0
    )
    if text.width > x1 - x0 - 12.0:
        text = Text(
            text.x, text.y, fonts.shorten(text.text, 7.0, x1 - x0 - 12.0, True), 7.0, True, "middle", white=True
        )
    return [frame(box, 0.0, 0.0), text, Link(box, target)]


def hold(reasons: Sequence[str], box: Box) -> list[Item]:
    """The band of a held piece: HOLD, why, and what to do."""
    x0, y0, x1, y1 = box
    word = Text(x0 + 8.0, (y0 + y1) / 2 - 9.0, say("HOLD"), 26.0, True)
    left = x0 + 20.0 + word.width
    lines = fonts.wrap(" ".join((say("Do not make this piece."), *reasons)), 8.5, x1 - left - 6.0, True)
    if len(lines) > HOLD_LINES:
        rest = " ".join(lines[HOLD_LINES - 1 :])
        lines = (*lines[: HOLD_LINES - 1], fonts.shorten(rest, 8.5, x1 - left - 6.0, True))
    step = 8.5 * LEADING
    base = (y0 + y1) / 2 + len(lines) * step / 2 - 8.0
    return [
        frame(box, 2.4),
        word,
        Line(left - 7.0, y0, left - 7.0, y1, 1.2),
        *(Text(left, base - i * step, line, 8.5, True) for i, line in enumerate(lines)),
    ]


def hold_across(box: Box) -> list[Item]:
    """HOLD across the sheet in outlined letters, so that the drawing under it can still be read."""
    x0, y0, x1, y1 = box
    return [Text((x0 + x1) / 2 + 18.0, (y0 + y1) / 2 - 40.0, say("HOLD"), 150.0, True, "middle", 22.0, ghost=True)]


def sign_off(box: Box) -> list[Item]:
    """Boxes to sign for the first and the last piece."""
    x0, y0, x1, y1 = box
    items: list[Item] = [frame(box, 0.8)]
    half = (x1 - x0) / 2
    for index, which in enumerate((say("FIRST PIECE"), say("LAST PIECE"))):
        x = x0 + index * half
        if index:
            items.append(Line(x, y0, x, y1, 0.8))
        items.append(Text(x + 5.0, y0 + 17.0, which, 9.0, True))
        items.append(Text(x + 5.0, y0 + 6.0, say("held against this sheet"), 6.5))
        for label, start, end in ((say("name"), 0.30, 0.66), (say("date"), 0.68, 0.98)):
            a, b = x + half * start, x + half * end
            items += [Text(a, y0 + 6.0, label, 7.0), Line(a + 20.0, y0 + 5.0, b, y0 + 5.0, 0.4)]
    return items
