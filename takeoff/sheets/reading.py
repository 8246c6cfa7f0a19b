"""How to read the sheets: each sign with what it means."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from takeoff.sheets import fonts, measure
from takeoff.sheets.flow import Flow
from takeoff.sheets.page import Disc, Item, Line, Shape, Text
from takeoff.sheets.symbols import filling_of, symbol
from takeoff.steel import Hole
from takeoff.words import say

SIZE: Final = 7.5
SIGN: Final = 34.0
"""Room for a sign (pt)."""
STEP: Final = 10.0

HEIGHT: Final = 270.0
"""Room that all of it takes at most, so that it stays together (pt)."""

Sign = tuple[Callable[[float, float], Sequence[Item]], str]
"""Draws the sign about a middle; what it means."""


def compose(flow: Flow) -> None:
    """Signs and words in two columns."""
    flow.heading(say("How to read the sheets"), 12.0)
    flow.gap(3.0)
    room = (flow.right - flow.left) / 2 - SIGN - 10.0
    signs = _signs()
    for left, right in zip(signs[::2], [*signs[1::2], None], strict=False):
        pair = [sign for sign in (left, right) if sign is not None]
        lines = [fonts.wrap(words, SIZE, room) for _, words in pair]
        deep = max(max(len(text) for text in lines) * STEP, 15.0)
        flow.need(deep + 2.0)
        for column, ((drawn, _), text) in enumerate(zip(pair, lines, strict=True)):
            x = flow.left + column * (flow.right - flow.left) / 2
            flow.add(list(drawn(x + SIGN / 2, flow.y - 7.0)))
            base = flow.y - 9.5 + (STEP / 2 if len(text) > 1 else 0.0)
            flow.add([Text(x + SIGN + 4.0, base - k * STEP, line, SIZE) for k, line in enumerate(text)])
        flow.gap(deep + 1.0)
    flow.gap(4.0)
    for sentence in _sentences():
        flow.paragraph(sentence, SIZE)


def _signs() -> list[Sign]:
    round_hole = Hole("", "", 0, 0, 18.0)
    slot = Hole("", "", 0, 0, 18.0, 40.0, kind="slot")
    return [
        (lambda x, y: symbol(round_hole, x, y, 0.4, True, 0, 9.0),
         say("hole, to scale, with its centre cross; its diameter is what is punched, before galvanising")),
        (lambda x, y: [item for k in (1, 2) for item in symbol(round_hole, x + 16 * k - 24, y, 0.4, True, k, 9.0)],
         say("hole of another size: each size has its own filling, named on the sheet")),
        (lambda x, y: symbol(slot, x, y, 0.4, True, 0, 99.0),
         say("slot: width × overall length, from end to end of the rounding")),
        (lambda x, y: symbol(Hole("", "", 0, 0, 0.0, 40.0, 0.0, 24.0, kind="rectangle"), x, y, 0.4, True, 0, 99.0),
         say("rectangle: width × overall length")),
        (lambda x, y: symbol(Hole("", "", 0, 0, 14.0, kind="countersunk"), x, y, 0.4, True, 0, 9.0),
         say("countersunk hole: outer circle round it, dashed on the far side")),
        (lambda x, y: symbol(Hole("", "", 0, 0, 18.0, kind="blind"), x, y, 0.4, True, 0, 9.0),
         say("blind hole, not through: small circle in it, dashed on the far side")),
        (lambda x, y: [Line(x - 15, y, x + 15, y, 2.0)], say("heel of an angle, both legs laid flat")),
        (lambda x, y: [Line(x - 15, y, x + 15, y, 0.25, (6.0, 2.0, 1.0, 2.0))],
         say("gauge line, with its distance from the heel or datum edge at the right")),
        (lambda x, y: [Line(x - 15, y, x + 15, y, 0.4), Disc(x - 12, y, 1.8, 0.5, 1.0), _tick(x, y), _tick(x + 12, y)],
         say("running dimensions: the small circle is the 0 they are all measured from")),
        (lambda x, y: [*_zigzag(x - 3, y), *_zigzag(x + 3, y)],
         say("steel left out of the drawing, or a drawing that goes on elsewhere; figures run on")),
        (lambda x, y: [_box(x, y, 14, 4, ()), Line(x - 14, y - 4, x + 14, y - 4, 1.2)],
         say("where the mark is stamped; letters stand on the strong line; dashed: on the far side")),
        (lambda x, y: [_box(x, y, 15, 6, (1.0, 2.0))], say("place drawn again at a larger scale, with its number")),
        (lambda x, y: [Line(x - 15, y, x + 15, y, 0.4, (3.0, 2.0))],
         say("edge on the inside of a bevelled wall, or a leg that is bent")),
        (lambda x, y: [*filling_of(x, y, 0.1, 0), Line(x - 3, y, x + 3, y, 0.3), Line(x, y - 3, x, y + 3, 0.3)],
         say("centre of an arc; R is its radius")),
    ]  # fmt: skip


def _sentences() -> list[str]:
    found = [
        say("Every running dimension is rounded from its own distance to the 0, never summed from others."),
        say("x runs along the piece from its left end, across from the heel or the datum edge that the sheet names."),
        say("Slots and rectangles are given by their middle and their overall size."),
        say(
            "assumed: the model does not state the number; it was taken by the rules on the cover. HOLD: do not make "
            "the piece."
        ),
        say(
            "The section is named as in ISO 5261; holes are drawn as in ISO 5845-1, with a circle to scale round the "
            "cross."
        ),
    ]
    if measure.inches():
        found.append(
            say(
                "Lengths on the sheets are in feet, inches and sixteenths, each rounded on its own; diameters that are "
                "no sixteenth are in mm, like queries and remarks. Tables and files are in mm."
            )
        )
    if measure.from_right():
        found.append(say("RUNNING DIMENSIONS START AT THE RIGHT END: for a line fed the other way."))
    found.append(
        say("{sign} stands for a letter that the typeface lacks, {line} for a line break.", sign=fonts.NO_GLYPH,
            line=fonts.LINE_BREAK)
    )  # fmt: skip
    return found


def _tick(x: float, y: float) -> Shape:
    return Shape(((x - 1.4, y - 1.4), (x + 1.4, y + 1.4)), 0.7, False)


def _box(x: float, y: float, half: float, high: float, dash: tuple[float, ...]) -> Shape:
    corners = ((x - half, y - high), (x + half, y - high), (x + half, y + high), (x - half, y + high))
    return Shape(corners, 0.5, True, None, dash)


def _zigzag(x: float, y: float) -> list[Item]:
    points = ((x, y + 7), (x, y + 2), (x + 2, y + 1), (x - 2, y - 1), (x, y - 2), (x, y - 7))
    return [Shape(points, 0.5, False)]
