"""A bolt as a line of the order list names it."""

from __future__ import annotations

from takeoff.dispatch import BoltKind
from takeoff.sheets.wording import bolt_size, number
from takeoff.steel import BOUGHT_OUT, LEFT_OUT, BoltRow, Takeoff
from takeoff.words import say


def kind_words(kind: BoltKind) -> str:
    """``M16 × 45 8.8 ISO 4017``; what is not known is said."""
    size = bolt_size(kind.diameter) if kind.diameter else say("size not known")
    length = number(kind.length) if kind.length else say("length not known")
    return " ".join(part for part in (f"{size} × {length}", kind.grade, kind.standard) if part)


def bolts_words(count: int) -> str:
    """``1 bolt``, ``2 bolts``."""
    return say("1 bolt") if count == 1 else say("{count} bolts", count=count)


def on_order(takeoff: Takeoff, row: BoltRow) -> bool:
    """Whether a row's bolts stand on the order list, held ones too."""
    return takeoff.model.fasteners[row.fastener].kind == "bolt" and row.status not in (LEFT_OUT, BOUGHT_OUT)
