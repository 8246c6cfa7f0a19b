"""The rows of the tables of the cutting plan: bars.csv and order.csv."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from takeoff.plans import Bars

Row = tuple[Any, ...]


def bar_rows(bars: Bars) -> Iterator[Row]:
    """bars.csv: a row for each mark of each pattern; ``quantity`` is of one bar."""
    for plan in bars.plans:
        for pattern in plan.patterns:
            lengths = {piece.mark: piece.length for piece in pattern.pieces}
            for mark, many in pattern.marks().items():
                yield (
                    pattern.number,
                    plan.section.designation,
                    plan.grade,
                    pattern.stock_length,
                    pattern.times,
                    mark,
                    many,
                    pattern.offcut,
                    plan.finish,
                    lengths[mark],
                    "yes" if pattern.kept else "no",
                    "yes" if pattern.in_stock else "no",
                    "",
                    "",
                )


def order_rows(bars: Bars) -> Iterator[Row]:
    """order.csv: the bars of each section, grade, finish and length, the shop's own apart."""
    for line in bars.order:
        yield (
            line.section,
            line.grade,
            line.stock_length,
            line.bars,
            line.weight,
            line.least_bars,
            line.finish,
            "yes" if line.in_stock else "no",
            "",
            "",
        )


BAR_ROWS: Final[Mapping[str, Callable[[Bars], Iterator[Row]]]] = {"bars": bar_rows, "order": order_rows}
"""Table -> its rows; the columns stand in columns.py."""
