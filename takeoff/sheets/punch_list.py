"""Hits by punch over the whole job: which punches to set up, how often each hits, in which marks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from takeoff.order import natural
from takeoff.rules import punching
from takeoff.sheets.flow import Flow
from takeoff.sheets.shop_notes import punches
from takeoff.sheets.tables import TOTAL, Column, Row
from takeoff.steel import HELD, Piece
from takeoff.words import say

MARKS: Final = 12
"""Marks named in a row; each sheet has its own hits anyway."""


def compose(flow: Flow, pieces: Sequence[Piece]) -> None:
    """The table; nothing where no hole is punched. Held pieces are not made and not counted, and it says so."""
    hits: dict[str, int] = {}
    marks: dict[str, list[str]] = {}
    left_out = 0
    other = 0
    for piece in pieces:
        own = punches(piece)
        if piece.status == HELD:
            left_out += len(piece.holes) * piece.quantity
            continue
        other += sum(h.make not in (punching.PUNCH, punching.REAM) for h in piece.holes) * piece.quantity
        for name, many in own.items():
            hits[name] = hits.get(name, 0) + many * piece.quantity
            marks.setdefault(name, []).append(piece.mark)
    if not hits:
        return
    flow.heading(say("Hits by punch"), 12.0)
    columns = (
        Column(say("Punch"), bold=True),
        Column(say("Hits"), "right", bold=True),
        Column(say("Marks"), "right"),
        Column(say("In"), flex=1.0),
    )
    rows = []
    for name in sorted(hits, key=natural):
        own_marks = sorted(marks[name], key=natural)
        named = ", ".join(own_marks[:MARKS])
        if len(own_marks) > MARKS:
            named = say("{marks} and {count} more", marks=named, count=len(own_marks) - MARKS)
        rows.append(Row((name, str(hits[name]), str(len(own_marks)), named)))
    rows.append(Row((say("All"), str(sum(hits.values())), "", ""), TOTAL))
    flow.table(columns, rows)
    if other:
        flow.paragraph(say("Drilled, cut, or of no known make, and not counted here: {count} holes.", count=other))
    if left_out:
        flow.paragraph(say("On hold and not counted here: {count} holes.", count=left_out))
