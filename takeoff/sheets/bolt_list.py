"""bolts.pdf: the order list, bolts by joint and by assembly, holes held against bolts."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from takeoff.settings import Settings
from takeoff.sheets import draw
from takeoff.sheets.balance import bolt_checks, set_balance
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.page import Page
from takeoff.sheets.tables import GROUP, TOTAL, Column, Row
from takeoff.sheets.wording import bolt_size, count, number, ranges, several
from takeoff.steel import LISTED, BoltRow, Joint, Takeoff

MOST_RUNS: Final = 20
"""Runs of joint numbers printed of one group of alike joints; fasteners.csv has them all."""

_Bolt = tuple[float | None, float | None, str, float | None]
"""Diameter, length, grade, grip."""


def bolts(takeoff: Takeoff, settings: Settings, path: Path) -> bool:
    """Write bolts.pdf to ``path``; True. OSError where it cannot be written, ValueError for an unknown paper."""
    draw.write(compose(takeoff, settings), path, "Bolts")
    return True


def compose(takeoff: Takeoff, settings: Settings) -> list[Page]:
    """The pages of bolts.pdf."""
    head = imprint(takeoff, settings, "Bolts")
    flow = Flow(head, name="bolts", entry="Bolts")
    flow.heading("Bolts", 16.0)
    _order(flow, takeoff)
    _reconciliation(flow, takeoff)
    _joints(flow, takeoff)
    _assemblies(flow, takeoff)
    _outside(flow, takeoff)
    number_pages(flow.pages, head)
    return flow.pages


def _order(flow: Flow, takeoff: Takeoff) -> None:
    flow.heading("Order list")
    if not takeoff.bolt_lines:
        flow.paragraph("No bolts to order.")
        return
    columns = (
        Column("Size", bold=True),
        Column("Length mm", "right", bold=True),
        Column("Grade", flex=0.5),
        Column("Standard", flex=1.0),
        Column("Needed", "right"),
        Column("Spare", "right"),
        Column("To order", "right", bold=True),
        Column("Nuts", "right"),
        Column("Washers", "right"),
        Column("Sets needed kg", "right"),
    )
    lines = takeoff.bolt_lines
    placed = any(line.shop or line.site for line in lines)
    ruled = any(line.length_source == "rule" for line in lines)
    springs, tapers = any(line.springs for line in lines), any(line.tapers for line in lines)
    more = (
        *((Column("Shop", "right"), Column("Site", "right")) if placed else ()),
        *((Column("Spring washers", "right"),) if springs else ()),
        *((Column("Taper washers", "right"),) if tapers else ()),
        *((Column("Length from"),) if ruled else ()),
    )
    columns = (*columns, *more)
    rows = []
    weight, unweighed = 0.0, 0
    for line in takeoff.bolt_lines:
        if line.weight is None:
            unweighed += line.quantity
        else:
            weight += round(line.weight, 1)
        rows.append(
            Row(
                (
                    bolt_size(line.diameter) or "not known",
                    number(line.length) or "not known",
                    line.grade or "not stated",
                    line.standard or "not stated",
                    str(line.quantity),
                    str(line.spare),
                    str(line.to_order),
                    count(line.nuts),
                    count(line.washers),
                    "" if line.weight is None else f"{line.weight:.1f}",
                    *((str(line.shop), str(line.site)) if placed else ()),
                    *((str(line.springs),) if springs else ()),
                    *((str(line.tapers),) if tapers else ()),
                    *((line.length_source if line.length is not None else "",) if ruled else ()),
                )
            )
        )
    needed = sum(line.quantity for line in takeoff.bolt_lines)
    spare = sum(line.spare for line in takeoff.bolt_lines)
    order = sum(line.to_order for line in takeoff.bolt_lines)
    nuts = sum(line.nuts or 0 for line in takeoff.bolt_lines)
    washers = sum(line.washers or 0 for line in takeoff.bolt_lines)
    cells: tuple[str, ...] = (
        "All",
        "",
        "",
        "",
        str(needed),
        str(spare),
        str(order),
        str(nuts),
        str(washers),
        f"{weight:.1f}",
    )
    cells += (str(sum(line.shop for line in lines)), str(sum(line.site for line in lines))) if placed else ()
    cells += (str(sum(line.springs for line in lines)),) if springs else ()
    cells += (str(sum(line.tapers for line in lines)),) if tapers else ()
    cells += ("",) if ruled else ()
    rows.append(Row(cells, TOTAL))
    flow.table(columns, rows)
    if not ruled and any(line.length is not None for line in lines):
        flow.paragraph("Lengths are the model's.")
    if placed:
        flow.paragraph("Shop and site as the model says; of the rest it says neither.")
    if takeoff.length_example:
        flow.paragraph("Worked example of a length", 8.5, True)
        flow.paragraph(takeoff.length_example)
    if unweighed:
        flow.paragraph(f"{several(unweighed, 'bolt')} could not be weighed: size or length is not known.")


def _reconciliation(flow: Flow, takeoff: Takeoff) -> None:
    flow.heading("Holes and bolts reconciled")
    flow.paragraph(
        "Every bolt makes one hole in each ply it passes, so the plies over all bolts and the holes for bolts in all "
        "pieces must be one number."
    )
    set_balance(flow, bolt_checks(takeoff.balance))
    by_size: dict[float | None, list[int]] = defaultdict(lambda: [0, 0])
    for passage in takeoff.passages:
        entry = by_size[takeoff.model.fasteners[passage.fastener].diameter]
        entry[0] += 1
        entry[1] += len(passage.plies)
    if by_size:
        rows = [
            Row((bolt_size(diameter) or "not known", str(many), str(plies)))
            for diameter, (many, plies) in sorted(by_size.items(), key=lambda item: item[0] or 0.0)
        ]
        total = [sum(pair[i] for pair in by_size.values()) for i in (0, 1)]
        rows.append(Row(("All", str(total[0]), str(total[1])), TOTAL))
        columns = (
            Column("Bolt", bold=True, least=80.0),
            Column("Bolts drawn", "right", least=80.0),
            Column("Plies passed", "right", least=80.0),
        )
        flow.table(columns, rows, full=False)


def _bolt(takeoff: Takeoff, row: BoltRow) -> _Bolt:
    fastener = takeoff.model.fasteners[row.fastener]
    # to half millimetres: battered plies make every grip a little different, and no bolt is chosen closer
    grip = None if row.grip is None else round(row.grip * 2) / 2
    return fastener.diameter, row.length, fastener.grade, grip


def _order_of(bolt: _Bolt) -> tuple[float, float, str, float]:
    return bolt[0] or 0.0, bolt[1] or 0.0, bolt[2], bolt[3] or 0.0


def _bolt_text(bolt: _Bolt) -> str:
    diameter, length, grade, _ = bolt
    size = bolt_size(diameter) or "size not known"
    return f"{size} × {number(length) or 'length not known'}{' ' + grade if grade else ''}"


def _joints(flow: Flow, takeoff: Takeoff) -> None:
    flow.heading("By joint")
    if not takeoff.joints:
        flow.paragraph("No joints.")
        return
    rows_of: dict[int, list[BoltRow]] = defaultdict(list)
    for row in takeoff.bolt_rows:
        if row.joint is not None:
            rows_of[row.joint].append(row)
    groups: dict[tuple[bool, int], list[Joint]] = defaultdict(list)
    for joint in takeoff.joints:
        groups[bool(joint.alike), joint.alike or joint.number].append(joint)
    flow.paragraph(
        f"{several(len(takeoff.joints), 'joint')} of {several(len(groups), 'kind')}. Joints alike are printed once, "
        "with how many there are. Grip is from outer face to outer face, to half a "
        "millimetre; tables/fasteners.csv has it closer."
    )
    columns = (
        Column("Kind", "right"),
        Column("Joints", "right", bold=True),
        Column("Joins", flex=2.0),
        Column("Bolts in one", "right", bold=True),
        Column("Bolt", flex=1.0, bold=True),
        Column("Grip mm", "right"),
        Column("Bolts in all", "right"),
        Column("Numbers", flex=1.0),
    )
    table: list[Row] = []
    total = 0
    ordered = sorted(groups.values(), key=lambda joints: joints[0].number)
    for kind, joints in enumerate(ordered, start=1):
        first = joints[0]
        made_of: Counter[_Bolt] = Counter()
        for row in rows_of[first.number]:
            made_of[_bolt(takeoff, row)] += row.bolts
        joins = _marks(takeoff, first.members)
        shown = ranges((joint.number for joint in joints), MOST_RUNS, "tables/fasteners.csv")
        everything: Counter[_Bolt] = Counter()
        for joint in joints:
            for row in rows_of[joint.number]:
                everything[_bolt(takeoff, row)] += row.bolts
        lines = sorted(everything, key=_order_of)
        for index, bolt in enumerate(lines):
            total += everything[bolt]
            lead = (str(kind), str(len(joints)), joins) if index == 0 else ("", "", "")
            one = str(made_of[bolt]) if everything[bolt] == made_of[bolt] * len(joints) else "varies"
            cells = (*lead, one, _bolt_text(bolt), number(bolt[3]), str(everything[bolt]))
            table.append(Row((*cells, shown if index == 0 else "")))
        if not lines:
            table.append(Row((str(kind), str(len(joints)), joins, "0", "", "", "0", shown)))
    table.append(Row(("", "", "All", "", "", "", str(total), ""), TOTAL))
    flow.table(columns, table, 7.0)


def _marks(takeoff: Takeoff, members: Iterable[int]) -> str:
    """Piece marks of the members joined, with how many of each."""
    counted: Counter[str] = Counter()
    for member in members:
        counted[takeoff.member_marks[member] or takeoff.model.members[member].name or "without a mark"] += 1
    return " + ".join(mark if many == 1 else f"{many} × {mark}" for mark, many in sorted(counted.items()))


def _assemblies(flow: Flow, takeoff: Takeoff) -> None:
    flow.heading("By assembly")
    groups: dict[str, Counter[_Bolt]] = defaultdict(Counter)
    for row in takeoff.bolt_rows:
        if row.status == LISTED:
            diameter, length, grade, _ = _bolt(takeoff, row)
            groups[row.assembly_mark][diameter, length, grade, None] += row.bolts
    if not groups:
        flow.paragraph("No bolts listed.")
        return
    quantities = {assembly.mark: assembly.quantity for assembly in takeoff.assemblies}
    table: list[Row] = []
    total = 0
    for mark in sorted(groups, key=lambda name: (not name, name)):
        quantity = quantities.get(mark, 1)
        title = f"{mark} · {quantity} off" if mark in quantities else (mark or "between assemblies, on site")
        table.append(Row((title,), GROUP))
        for bolt in sorted(groups[mark], key=_order_of):
            many = groups[mark][bolt]
            total += many
            # Assemblies alike in their pieces may differ in the bolts that the model put into them.
            one = str(many // quantity) if many % quantity == 0 else "varies"
            one = one if mark in quantities else ""
            table.append(Row((_bolt_text(bolt), one, str(many))))
    table.append(Row(("All", "", str(total)), TOTAL))
    columns = (Column("Bolt", flex=1.0), Column("In one", "right", least=60.0), Column("In all", "right", least=60.0))
    flow.table(columns, table)


def _outside(flow: Flow, takeoff: Takeoff) -> None:
    rows = _by_reason(takeoff, [row for row in takeoff.bolt_rows if row.status != LISTED])
    if rows:
        flow.heading("Not in the order list")
        columns = (
            Column("Status", bold=True),
            Column("Why", flex=1.0),
            Column("Size"),
            Column("Bolts", "right"),
        )
        flow.table(columns, rows)
    if takeoff.bought_out:
        flow.heading("Bought out, not cut")
        flow.table(
            (Column("What", flex=1.0), Column("Size", flex=1.0), Column("Quantity", "right")),
            [Row((item.name, item.size, str(item.quantity))) for item in takeoff.bought_out],
        )


def _by_reason(takeoff: Takeoff, rows: Sequence[BoltRow]) -> list[Row]:
    counted: Counter[tuple[str, str, str]] = Counter()
    for row in rows:
        fastener = takeoff.model.fasteners[row.fastener]
        size = bolt_size(fastener.diameter) or "not known"
        counted[row.status, row.reason or fastener.reason, size] += row.bolts
    return [Row((*key, str(many))) for key, many in sorted(counted.items())]
