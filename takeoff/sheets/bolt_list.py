"""bolts.pdf: the order list, holes held against bolts, bolts by joint, node, assembly and bag."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import Path

from takeoff.dispatch import Dispatch
from takeoff.order import natural
from takeoff.settings import Settings
from takeoff.sheets import draw
from takeoff.sheets.bolt_bag_list import set_bags
from takeoff.sheets.bolt_joints import Bolt, bolt_of, bolt_text, order_of, set_joints, set_nodes
from takeoff.sheets.bolt_order import set_order, set_reconciliation
from takeoff.sheets.bolt_words import on_order
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.page import Page
from takeoff.sheets.tables import GROUP, TOTAL, Column, Row
from takeoff.sheets.wording import bolt_size, status_words
from takeoff.steel import LISTED, BoltRow, Takeoff
from takeoff.words import say, speaking


def bolts(takeoff: Takeoff, settings: Settings, path: Path, dispatch: Dispatch | None = None) -> bool:
    """Write bolts.pdf to ``path``; True. OSError where it cannot be written, ValueError for an unknown paper."""
    with speaking(settings.documents.language):
        draw.write(compose(takeoff, settings, dispatch), path, say("Bolts"))
    return True


def compose(takeoff: Takeoff, settings: Settings, dispatch: Dispatch | None = None) -> list[Page]:
    """The pages of bolts.pdf; nodes and bags are in ``dispatch``. Bolts are in mm whatever the unit of the sheets."""
    head = imprint(takeoff, settings, say("Bolts"))
    flow = Flow(head, name="bolts", entry=say("Bolts"))
    flow.heading(say("Bolts"), 16.0)
    set_order(flow, takeoff)
    set_reconciliation(flow, takeoff)
    set_joints(flow, takeoff)
    if dispatch:
        set_nodes(flow, dispatch.erection)
    _assemblies(flow, takeoff)
    _outside(flow, takeoff)
    if dispatch:
        set_bags(flow, takeoff, settings, dispatch)
    number_pages(flow.pages, head)
    return flow.pages


def _assemblies(flow: Flow, takeoff: Takeoff) -> None:
    flow.heading(say("By assembly"))
    groups: dict[str, Counter[Bolt]] = defaultdict(Counter)
    for row in takeoff.bolt_rows:
        if on_order(takeoff, row) and row.bolts:
            diameter, length, grade, _ = bolt_of(takeoff, row)
            groups[row.assembly_mark][diameter, length, grade, None] += row.bolts
    if not groups:
        flow.paragraph(say("No bolts listed."))
        return
    quantities = {assembly.mark: assembly.quantity for assembly in takeoff.assemblies}
    table: list[Row] = []
    total = 0
    for mark in sorted(groups, key=lambda name: (not name, natural(name), name)):
        quantity = quantities.get(mark, 1)
        known = say("{mark} · {count} off", mark=mark, count=quantity)
        title = known if mark in quantities else (mark or say("between assemblies, on site"))
        table.append(Row((title,), GROUP))
        for bolt in sorted(groups[mark], key=order_of):
            many = groups[mark][bolt]
            total += many
            # Assemblies alike in their pieces may differ in the bolts that the model put into them.
            one = str(many // quantity) if many % quantity == 0 else say("varies")
            one = one if mark in quantities else ""
            table.append(Row((bolt_text(bolt), one, str(many))))
    table.append(Row((say("All"), "", str(total)), TOTAL))
    columns = (
        Column(say("Bolt"), flex=1.0),
        Column(say("In one"), "right", least=60.0),
        Column(say("In all"), "right", least=60.0),
    )
    flow.table(columns, table)


def _outside(flow: Flow, takeoff: Takeoff) -> None:
    columns = (
        Column(say("Status"), bold=True),
        Column(say("Why"), flex=1.0),
        Column(say("Size")),
        Column(say("Bolts"), "right"),
    )
    others = [row for row in takeoff.bolt_rows if row.status != LISTED]
    for title, rows in (
        (say("In the order list, but on hold"), [row for row in others if on_order(takeoff, row)]),
        (say("Not in the order list"), [row for row in others if not on_order(takeoff, row)]),
    ):
        if rows:
            flow.heading(title)
            flow.table(columns, _by_reason(takeoff, rows))
    if takeoff.bought_out:
        flow.heading(say("Bought out, not cut"))
        flow.table(
            (Column(say("What"), flex=1.0), Column(say("Size"), flex=1.0), Column(say("Quantity"), "right")),
            [
                *(Row((item.name, item.size, str(item.quantity))) for item in takeoff.bought_out),
                Row((say("All"), "", str(sum(item.quantity for item in takeoff.bought_out))), TOTAL),
            ],
        )


def _by_reason(takeoff: Takeoff, rows: Sequence[BoltRow]) -> list[Row]:
    counted: Counter[tuple[str, str, str]] = Counter()
    for row in rows:
        fastener = takeoff.model.fasteners[row.fastener]
        size = bolt_size(fastener.diameter) or say("not known")
        counted[row.status, row.reason or fastener.reason, size] += row.bolts
    return [Row((status_words(status), why, size, str(many))) for (status, why, size), many in sorted(counted.items())]
