"""The order list of bolts, shop and site apart, and holes, bolts, nuts and washers held against each other."""

from __future__ import annotations

from collections import defaultdict

from takeoff.sheets import measure
from takeoff.sheets.adding import add_up
from takeoff.sheets.balance import bolt_checks, set_balance
from takeoff.sheets.bolt_words import bolts_words
from takeoff.sheets.flow import Flow
from takeoff.sheets.tables import TOTAL, Column, Row
from takeoff.sheets.wording import bolt_size, count, number
from takeoff.steel import BoltLine, Takeoff
from takeoff.words import say, spoken


def set_order(flow: Flow, takeoff: Takeoff) -> None:
    """Lines of the order list with their total, and how lengths came about."""
    flow.heading(say("Order list"))
    lines = takeoff.bolt_lines
    if not lines:
        flow.paragraph(say("No bolts to order."))
        return
    placed = any(line.shop or line.site for line in lines)
    ruled = any(line.length_source == "rule" for line in lines)
    springs, tapers = any(line.springs for line in lines), any(line.tapers for line in lines)
    columns = (
        Column(say("Size"), bold=True),
        Column(say("Length mm"), "right", bold=True),
        Column(say("Grade"), flex=0.5),
        Column(say("Standard"), flex=1.0),
        Column(say("Needed"), "right"),
        Column(say("Spare"), "right"),
        Column(say("To order"), "right", bold=True),
        Column(say("Nuts"), "right"),
        Column(say("Washers"), "right"),
        Column(say("Sets needed kg"), "right"),
        *((Column(say("Shop"), "right"), Column(say("Site"), "right")) if placed else ()),
        *((Column(say("Spring washers"), "right"),) if springs else ()),
        *((Column(say("Taper washers"), "right"),) if tapers else ()),
        *((Column(say("Length from")),) if ruled else ()),
    )
    weights = add_up([line.weight or 0.0 for line in lines])
    rows = [
        Row(
            (
                bolt_size(line.diameter) or say("not known"),
                number(line.length) or say("not known"),
                line.grade or say("not stated"),
                line.standard or say("not stated"),
                str(line.quantity),
                str(line.spare),
                str(line.to_order),
                count(line.nuts),
                count(line.washers),
                "" if line.weight is None else measure.figure(weight, 1),
                *((str(line.shop), str(line.site)) if placed else ()),
                *((str(line.springs),) if springs else ()),
                *((str(line.tapers),) if tapers else ()),
                *((_source(line),) if ruled else ()),
            )
        )
        for line, weight in zip(lines, weights, strict=True)
    ]
    rows.append(
        Row(
            (
                say("All"), "", "", "",
                str(sum(line.quantity for line in lines)),
                str(sum(line.spare for line in lines)),
                str(sum(line.to_order for line in lines)),
                str(sum(line.nuts or 0 for line in lines)),
                str(sum(line.washers or 0 for line in lines)),
                measure.figure(sum(weights), 1),
                *((str(sum(line.shop for line in lines)), str(sum(line.site for line in lines))) if placed else ()),
                *((str(sum(line.springs for line in lines)),) if springs else ()),
                *((str(sum(line.tapers for line in lines)),) if tapers else ()),
                *(("",) if ruled else ()),
            ),
            TOTAL,
        )
    )  # fmt: skip
    flow.table(columns, rows)
    flow.paragraph(say("Nuts and washers are those of the bolts needed; those of the spares are in the bag of spares."))
    if not ruled and any(line.length is not None for line in lines):
        flow.paragraph(say("Lengths are the model's."))
    if takeoff.length_example:
        flow.paragraph(say("Worked example of a length"), 8.5, True)
        flow.paragraph(spoken(takeoff.length_example))
    unweighed = sum(line.quantity for line in lines if line.weight is None)
    if unweighed:
        flow.paragraph(say("{bolts} could not be weighed: size or length is not known.", bolts=bolts_words(unweighed)))
    if placed:
        _apart(flow, takeoff)


def _source(line: BoltLine) -> str:
    if line.length is None:
        return ""
    return {"rule": say("rule"), "model": say("model")}.get(line.length_source, line.length_source)


def _apart(flow: Flow, takeoff: Takeoff) -> None:
    """Shop bolts, site bolts, and those of which the model says neither, each with its own total."""
    groups: tuple[tuple[str, list[tuple[BoltLine, int]]], ...] = (
        (say("In the shop"), [(line, line.shop) for line in takeoff.bolt_lines if line.shop]),
        (say("On site"), [(line, line.site) for line in takeoff.bolt_lines if line.site]),
        (
            say("The model does not say"),
            [(li, rest) for li in takeoff.bolt_lines if (rest := li.quantity - li.shop - li.site)],
        ),
    )
    columns = (
        Column(say("Size"), bold=True, least=60.0),
        Column(say("Length mm"), "right", bold=True, least=60.0),
        Column(say("Grade"), flex=1.0),
        Column(say("Standard"), flex=1.0),
        Column(say("Bolts"), "right", bold=True, least=60.0),
    )
    for title, lines in groups:
        if not lines:
            continue
        flow.heading(title, 10.0, 50.0)
        rows = [
            Row((
                bolt_size(line.diameter) or say("not known"), number(line.length) or say("not known"),
                line.grade or say("not stated"), line.standard or say("not stated"), str(many),
            ))
            for line, many in lines
        ]  # fmt: skip
        rows.append(Row((say("All"), "", "", "", str(sum(many for _, many in lines))), TOTAL))
        flow.table(columns, rows)


def set_reconciliation(flow: Flow, takeoff: Takeoff) -> None:
    """Bolts drawn, plies passed, and by size what is ordered with them."""
    flow.heading(say("Holes and bolts reconciled"))
    flow.paragraph(
        say(
            "Every bolt makes one hole in each ply it passes, so the plies over all bolts and the holes for bolts in "
            "all pieces must be one number."
        )
    )
    set_balance(flow, bolt_checks(takeoff.balance))
    drawn: dict[float, list[int]] = defaultdict(lambda: [0] * 6)
    for passage in takeoff.passages:
        entry = drawn[takeoff.model.fasteners[passage.fastener].diameter or 0.0]
        entry[0] += 1
        entry[1] += len(passage.plies)
    for line in takeoff.bolt_lines:
        entry = drawn[line.diameter or 0.0]
        for k, value in enumerate((line.quantity, line.nuts or 0, line.washers or 0), start=2):
            entry[k] += value
        entry[5] += line.springs + line.tapers
    if not drawn:
        return
    special = any(numbers[5] for numbers in drawn.values())
    columns = (
        Column(say("Bolt"), bold=True, least=60.0),
        Column(say("Bolts drawn"), "right", least=60.0),
        Column(say("Plies passed"), "right", least=60.0),
        Column(say("Bolts ordered"), "right", least=60.0),
        Column(say("Nuts"), "right", least=60.0),
        Column(say("Washers"), "right", least=60.0),
        *((Column(say("Spring and taper washers"), "right", least=60.0),) if special else ()),
    )
    shown = 6 if special else 5
    rows = [
        Row((bolt_size(diameter or None) or say("not known"), *(str(n) for n in numbers[:shown])))
        for diameter, numbers in sorted(drawn.items())
    ]
    rows.append(Row((say("All"), *(str(sum(n[k] for n in drawn.values())) for k in range(shown))), TOTAL))
    flow.table(columns, rows, full=False)
    flow.paragraph(
        say("Drawn bolts that are not ordered, and why, are under Not in the order list and Bought out, not cut.")
    )
