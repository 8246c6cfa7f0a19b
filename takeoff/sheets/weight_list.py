"""weights.pdf: tonnage per assembly, per section and grade, black and white, the surface to coat, plate to order.

Every column is rounded so that its lines add up to its total, and the total is the rounded sum (adding.py): the same
weight stands on every page of the job.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from pathlib import Path

from takeoff.dispatch import Dispatch
from takeoff.rules.zinc import SOURCE
from takeoff.settings import Settings
from takeoff.sheets import draw, measure, wording
from takeoff.sheets.adding import add_up
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.measure import measuring
from takeoff.sheets.page import Page
from takeoff.sheets.plate_order import set_plate_order
from takeoff.sheets.tables import GROUP, TOTAL, Column, Row
from takeoff.sheets.weight_chart import set_chart
from takeoff.steel import HELD, PLATE, Piece, Takeoff
from takeoff.words import say, speaking


def weights(takeoff: Takeoff, settings: Settings, path: Path, dispatch: Dispatch | None = None) -> bool:
    """Write weights.pdf to ``path``; True. OSError where it cannot be written, ValueError for an unknown paper."""
    with speaking(settings.documents.language), measuring(settings.documents):
        draw.write(compose(takeoff, settings, dispatch), path, say("Weights"))
    return True


def compose(takeoff: Takeoff, settings: Settings, dispatch: Dispatch | None = None) -> list[Page]:
    """The pages of weights.pdf; the plate order is in ``dispatch``."""
    head = imprint(takeoff, settings, say("Weights"))
    flow = Flow(head, name="weights", entry=say("Weights"))
    flow.heading(say("Weights and surface"), 16.0)
    flow.paragraph(
        say(
            "kg and m². Gross weight is mass per metre times overall length (plates: the smallest rectangle); "
            "net is after cuts and holes. The surface is the lateral surface, holes not deducted. Lines are rounded so "
            "that they add up to the total below them, which is the rounded sum: a line may be a tenth off its own."
        )
    )
    _assemblies(flow, takeoff)
    _sections(flow, takeoff, settings)
    _chart(flow, takeoff)
    if dispatch:
        set_plate_order(flow, dispatch.plates)
    _held(flow, takeoff)
    number_pages(flow.pages, head)
    return flow.pages


def _assemblies(flow: Flow, takeoff: Takeoff) -> None:
    assemblies = takeoff.assemblies
    if not assemblies:
        flow.paragraph(say("No assemblies."))
        return
    zinc = any(assembly.zinc > 0 for assembly in assemblies)
    columns = (
        Column(say("Assembly"), flex=1.0, bold=True),
        Column(say("Qty"), "right"),
        Column(say("Pieces in one"), "right"),
        Column(say("Bolts in one"), "right"),
        Column(say("Gross of one"), "right"),
        Column(say("Net of one"), "right"),
        *((Column(say("White of one"), "right"),) if zinc else ()),
        Column(say("Bolts of one"), "right"),
        Column(say("m² of one"), "right"),
        Column(say("Gross all"), "right"),
        Column(say("Net all"), "right"),
        *((Column(say("White all"), "right"),) if zinc else ()),
        Column(say("Bolts all"), "right"),
        Column(say("m² all"), "right"),
    )
    each = [
        (a.gross, a.net, *((a.net + a.zinc,) if zinc else ()), a.bolt_weight, a.surface) for a in assemblies
    ]  # fmt: skip
    columns_of_all = [
        add_up([one[k] * a.quantity for one, a in zip(each, assemblies, strict=True)]) for k in range(len(each[0]))
    ]
    rows = [
        Row(
            (
                assembly.mark,
                str(assembly.quantity),
                str(sum(many for _, many in assembly.pieces)),
                str(assembly.bolts),
                *(measure.figure(value, 2) for value in one),
                *(measure.figure(value, 1) for value in together),
            )
        )
        for assembly, one, together in zip(assemblies, each, zip(*columns_of_all, strict=True), strict=True)
    ]
    totals = [measure.figure(sum(column), 1) for column in columns_of_all]
    rows.append(Row((say("All"), *("",) * (len(columns) - 1 - len(totals)), *totals), TOTAL))
    flow.heading(say("By assembly"))
    flow.table(columns, rows, 7.0)
    if zinc:
        flow.paragraph(
            say("White: net weight of the pieces with their zinc, worked out as below; bolts without theirs.")
        )


def _sections(flow: Flow, takeoff: Takeoff, settings: Settings) -> None:
    groups: dict[tuple[str, str, str], list[Piece]] = defaultdict(list)
    for piece in takeoff.pieces:
        groups[piece.section.shape, piece.section.designation, piece.grade].append(piece)
    if not groups:
        flow.paragraph(say("No steel pieces."))
        return
    zinc = any(piece.zinc > 0 for piece in takeoff.pieces)
    columns: tuple[Column, ...] = (
        Column(say("Section"), flex=1.0, bold=True),
        Column(say("Grade"), flex=0.5),
        Column(say("kg/m"), "right"),
        Column(say("from"), flex=0.5),
        Column(say("Marks"), "right"),
        Column(say("Pieces"), "right"),
        Column(say("Length m"), "right"),
        Column(say("Gross kg"), "right"),
        Column(say("Net kg"), "right"),
        Column(say("Surface m²"), "right"),
    )
    if zinc:
        columns = (*columns, Column(say("Zinc kg"), "right"), Column(say("White kg"), "right"))
    # pieces stand in the order of marks; sections of one shape come together, in the order of their first marks
    shapes = list(dict.fromkeys(shape for shape, _, _ in groups))
    keys = [key for shape in shapes for key in groups if key[0] == shape]
    values = [
        add_up([sum(getattr(p, name) * p.quantity for p in groups[key]) for key in keys])
        for name in ("gross", "net", "surface")
    ]
    if zinc:
        coats = add_up([sum(p.zinc * p.quantity for p in groups[key]) for key in keys])
        # white is what is printed as net and zinc together, so that the line adds up across, too
        values += [coats, [net + coat for net, coat in zip(values[1], coats, strict=True)]]
    metres = add_up([sum(p.length * p.quantity for p in groups[key]) / 1000.0 for key in keys], 2)
    rows: list[Row] = []
    shape = ""
    for k, key in enumerate(keys):
        if key[0] != shape:
            shape = key[0]
            rows.append(Row((shape_words(shape),), GROUP))
        section = groups[key][0].section
        # plates of one thickness have a width each, so that no mass a metre is theirs
        mass = measure.figure(section.mass_kg_per_m, 2) if section.mass_kg_per_m and section.shape != PLATE else ""
        source = (section.standard or say("computed")) if mass else ""
        counts = (str(len(groups[key])), str(sum(p.quantity for p in groups[key])))
        figures = (measure.figure(metres[k], 2), *(measure.figure(column[k], 1) for column in values))
        name = wording.designation(section)
        rows.append(Row((name, key[2] or say("not stated"), mass, source, *counts, *figures)))
    marks, pieces = len(takeoff.pieces), sum(p.quantity for p in takeoff.pieces)
    totals = (measure.figure(sum(column), 1) for column in values)
    rows.append(Row((say("All"), "", "", "", str(marks), str(pieces), "", *totals), TOTAL))
    flow.heading(say("By section and grade"))
    flow.table(columns, rows, 7.0)
    if zinc:
        own = settings.zinc.coating_g_m2
        source = (
            say("{coating} g/m² (settings)", coating=measure.metric(own))
            if own
            else say("{source}; the least mean it asks, baths leave more", source=SOURCE)
        )
        flow.paragraph(
            say(
                "Black is net. White weight is net weight with zinc: the surface of the pieces that are galvanised, "
                "inside of tubes included, times the coating. Coating: {source}.",
                source=source,
            )
        )


def shape_words(shape: str) -> str:
    """A shape as a heading: the trade's plural."""
    names = {
        "angle": say("Angles"),
        "channel": say("Channels"),
        "I": say("I and H sections"),
        "T": say("T sections"),
        "flat": say("Flats"),
        "plate": say("Plates"),
        "RHS": say("Rectangular hollow sections"),
        "CHS": say("Circular hollow sections"),
        "round": say("Rounds"),
        "other": say("Other sections"),
    }
    return names.get(shape, shape)


def _chart(flow: Flow, takeoff: Takeoff) -> None:
    by_section: Counter[str] = Counter()
    for piece in takeoff.pieces:
        by_section[wording.designation(piece.section)] += piece.net * piece.quantity  # type: ignore[assignment]
    set_chart(flow, list(by_section.items()), sum(by_section.values()))


def _held(flow: Flow, takeoff: Takeoff) -> None:
    held = [piece for piece in takeoff.pieces if piece.status == HELD]
    if held:
        flow.heading(say("Of these on hold"))
        flow.paragraph(
            say(
                "{pieces} of {marks}, {weight} kg net: not certain until their queries are answered. Marks: {names}.",
                pieces=wording.pieces_words(sum(piece.quantity for piece in held)),
                marks=wording.marks_words(len(held)),
                weight=measure.figure(sum(piece.net * piece.quantity for piece in held), 1),
                names=", ".join(piece.mark for piece in held),
            )
        )
