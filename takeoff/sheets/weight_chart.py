"""Where the weight lies: a bar for each section, heaviest first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from takeoff.sheets import fonts, measure
from takeoff.sheets.flow import Flow
from takeoff.sheets.page import Item, Line, Text, frame
from takeoff.words import say

MOST_BARS: Final = 12
STEP: Final = 13.0
BAR: Final = 8.0
SIZE: Final = 7.5
NAMES: Final = 110.0
FIGURES: Final = 92.0
GREY: Final = 0.45


def set_chart(flow: Flow, weights: Sequence[tuple[str, float]], total: float) -> None:
    """Bars of (name, kg), heaviest first, the lightest together; nothing for a single section or none.

    ``total`` kg is what shares are of.
    """
    shown = sorted(((n, w) for n, w in weights if w > 0), key=lambda item: (-item[1], item[0]))
    if len(shown) < 2 or total <= 0:
        return
    if len(shown) > MOST_BARS:
        rest = shown[MOST_BARS - 1 :]
        shown = [*shown[: MOST_BARS - 1], (say("{count} others", count=len(rest)), sum(w for _, w in rest))]
    flow.heading(say("Where the weight lies: net kg by section"), 12.0, len(shown) * STEP + 10.0)
    left = flow.left + NAMES
    room = flow.right - left - FIGURES
    longest = max(weight for _, weight in shown)
    top = flow.y
    items: list[Item] = []
    for name, weight in shown:
        flow.gap(STEP)
        long = room * weight / longest
        items.append(frame((left, flow.y, left + long, flow.y + BAR), 0.0, GREY))
        base = flow.y + 1.2
        items.append(Text(left - 5.0, base, fonts.shorten(name, SIZE, NAMES - 6.0), SIZE, anchor="end"))
        share = say("{weight} kg, {share} %", weight=measure.figure(weight, 1), share=f"{100 * weight / total:.0f}")
        items.append(Text(left + long + 4.0, base, share, SIZE))
    items.append(Line(left, top, left, flow.y - 2.0, 0.5))
    flow.add(items)
    flow.gap(10.0)
