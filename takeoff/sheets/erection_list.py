"""erection.pdf: what stands where and how, by level and face; bolts node by node; where each mark goes."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from takeoff.dispatch import Erection, Level, NodeBolts, Stand
from takeoff.settings import Settings
from takeoff.sheets import draw, measure
from takeoff.sheets.bolt_words import kind_words
from takeoff.sheets.face_views import set_views
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.measure import measuring
from takeoff.sheets.page import Page
from takeoff.sheets.places import end_words, height_words, level_words, outside_words, sides_words
from takeoff.sheets.tables import GROUP, TOTAL, Column, Row
from takeoff.sheets.wording import designation, number, ranges
from takeoff.steel import HELD, Piece, Takeoff
from takeoff.words import say, speaking

MOST_RUNS: Final = 12
WHERE: Final = "tables/erection.csv"


def erection(takeoff: Takeoff, settings: Settings, plan: Erection, path: Path) -> bool:
    """Write erection.pdf. False, and no file, where there is no piece. OSError where it cannot be written."""
    if not plan.stands:
        return False
    with speaking(settings.documents.language), measuring(settings.documents):
        draw.write(compose(takeoff, settings, plan), path, say("Erection list"))
    return True


def compose(takeoff: Takeoff, settings: Settings, plan: Erection) -> list[Page]:
    """The pages of erection.pdf."""
    head = imprint(takeoff, settings, say("Erection list"))
    flow = Flow(head, name="erection", entry=say("Erection list"))
    pieces = {piece.mark: piece for piece in takeoff.pieces}
    levels = {level.number: level for level in plan.levels}
    flow.heading(say("Erection list"), 16.0)
    for sentence in _sentences(plan, settings):
        flow.paragraph(sentence)
    _levels(flow, plan, levels)
    _by_level(flow, plan, levels, pieces)
    _where(flow, plan, levels, pieces)
    set_views(flow, plan)
    number_pages(flow.pages, head)
    return flow.pages


def _sentences(plan: Erection, settings: Settings) -> list[str]:
    found = [
        say(
            "Heights and sides are the model's: {sides} are directions in plan, X and Y the model's axes. A piece "
            "stands in a face when both its ends do, at a corner when it stands in two.",
            sides=", ".join(plan.sides),
        ),
        say(
            "Left and right end, legs and drawn side are those of the piece's sheet in cut-and-punch.pdf. Outward and "
            "inward are of the face it stands in. Two legs' outsides meet at the heel."
        ),
    ]
    if settings.erection.levels_mm:
        found.append(say("Levels are the settings'."))
    else:
        found.append(
            say(
                "The model's storeys are not used: a level is where long pieces begin, within {reach} of each other; a "
                "piece belongs to the level at which its lower end stands, a short one to that below its middle.",
                reach=measure.with_unit(settings.erection.level_mm),
            )
        )
    return found


def _levels(flow: Flow, plan: Erection, levels: Mapping[int, Level]) -> None:
    pieces: Counter[int] = Counter()
    for stand in plan.stands:
        pieces[stand.level] += len(stand.members)
    nodes: Counter[int] = Counter()
    bolts: Counter[int] = Counter()
    for node in plan.nodes:
        nodes[node.level] += len(node.nodes)
        bolts[node.level] += _bolts_of(node)
    rows = [
        Row((
            level_words(level, levels), str(pieces[level]), str(nodes[level]), str(bolts[level])
        ), link=f"level {level}")
        for level in sorted(set(pieces) | set(bolts), key=lambda k: (not k, k))
    ]  # fmt: skip
    rows.append(Row((say("All"), *(str(sum(c.values())) for c in (pieces, nodes, bolts))), TOTAL))
    columns = (
        Column(say("Level"), flex=1.0, bold=True),
        Column(say("Pieces"), "right", least=60.0),
        Column(say("Nodes"), "right", least=60.0),
        Column(say("Bolts"), "right", least=60.0),
    )
    flow.table(columns, rows)


def _bolts_of(node: NodeBolts) -> int:
    return max(1, len(node.nodes)) * sum(many for _, _, many in node.bolts)


def _by_level(flow: Flow, plan: Erection, levels: Mapping[int, Level], pieces: Mapping[str, Piece]) -> None:
    stands: dict[int, list[Stand]] = defaultdict(list)
    nodes: dict[int, list[NodeBolts]] = defaultdict(list)
    for stand in plan.stands:
        stands[stand.level].append(stand)
    for node in plan.nodes:
        nodes[node.level].append(node)
    for level in sorted(set(stands) | set(nodes), key=lambda k: (not k, k)):
        title = level_words(level, levels)
        flow.need(110.0)
        flow.page.more.append((f"level {level}", title, 1))
        flow.heading(title, 13.0, 70.0)
        _stands(flow, stands[level], pieces)
        _nodes(flow, nodes[level])


def _stands(flow: Flow, stands: list[Stand], pieces: Mapping[str, Piece]) -> None:
    if not stands:
        return
    columns = (
        Column(say("Mark"), bold=True),
        Column(say("Pieces"), "right"),
        Column(say("Section"), flex=0.6),
        Column(say("Length {unit}", unit="" if measure.inches() else "mm").strip(), "right"),
        Column(say("Which end up"), flex=1.0),
        Column(say("Which side"), flex=1.4),
        Column(say("Middle at x, y, z in m"), flex=1.2),
    )
    rows: list[Row] = []
    total = 0
    face: tuple[str, ...] | None = None
    for stand in stands:
        if stand.sides != face:
            face = stand.sides
            rows.append(Row((sides_words(face),), GROUP))
        piece = pieces[stand.mark]
        total += len(stand.members)
        mark = say("{mark} HOLD", mark=stand.mark) if piece.status == HELD else stand.mark
        rows.append(
            Row(
                (
                    mark,
                    str(len(stand.members)),
                    designation(piece.section),
                    measure.length(piece.length),
                    end_words(stand),
                    outside_words(stand, piece.section),
                    _at(stand),
                ),
            )
        )
    rows.append(Row((say("All"), str(total), "", "", "", "", ""), TOTAL))
    flow.table(columns, rows, 7.0)


def _at(stand: Stand) -> str:
    """Where the middle stands, or between which places the middles of several do."""
    if not stand.level:
        return say("not known")
    low = ", ".join(_metres(v) for v in stand.low)
    if stand.low == stand.high:
        return low
    return say("{first} to {last}", first=low, last=", ".join(_metres(v) for v in stand.high))


def _metres(value: float) -> str:
    text = measure.figure(value / 1000, 2)
    return "0.00" if text == "-0.00" else text


def _nodes(flow: Flow, nodes: list[NodeBolts]) -> None:
    if not nodes:
        return
    columns = (
        Column(say("Nodes"), "right", bold=True),
        Column(say("Where"), flex=1.0),
        Column(say("What meets"), flex=2.0),
        Column(say("Bolt"), flex=1.2, bold=True),
        Column(say("Grip {unit}", unit="" if measure.inches() else "mm").strip(), "right"),
        Column(say("In one"), "right", bold=True),
        Column(say("In all"), "right"),
        Column(say("Numbers"), flex=0.6),
    )
    rows: list[Row] = []
    total = 0
    for node in nodes:
        many = max(1, len(node.nodes))
        where = "; ".join(sides_words(sides) for sides in node.sides) if node.nodes else ""
        meets = " + ".join(mark if n == 1 else f"{n} × {mark}" for mark, n in node.marks)
        lead = (str(len(node.nodes)) if node.nodes else "", where, meets or say("in no node"))
        for k, (kind, grip, each) in enumerate(node.bolts):
            total += each * many
            shown = ranges(node.nodes, MOST_RUNS, "tables/fasteners.csv") if node.nodes else ""
            rows.append(
                Row(
                    (
                        *(lead if k == 0 else ("", "", "")),
                        kind_words(kind),
                        number(grip) if not measure.inches() or grip is None else measure.length(grip),
                        str(each) if node.nodes else "",
                        str(each * many),
                        shown if k == 0 else "",
                    )
                )
            )
    rows.append(Row(("", "", say("All bolts"), "", "", "", str(total), ""), TOTAL))
    flow.heading(say("Bolts node by node"), 10.0, 50.0)
    flow.table(columns, rows, 7.0)


def _where(flow: Flow, plan: Erection, levels: Mapping[int, Level], pieces: Mapping[str, Piece]) -> None:
    """The inverse: where does mark X go."""
    places: dict[str, Counter[tuple[int, tuple[str, ...]]]] = defaultdict(Counter)
    for stand in plan.stands:
        places[stand.mark][stand.level, stand.sides] += len(stand.members)
    rows = []
    for mark, piece in pieces.items():
        if not places[mark]:
            continue
        words = []
        by_level: dict[int, list[str]] = defaultdict(list)
        for (level, sides), many in places[mark].items():
            by_level[level].append(f"{sides_words(sides)} × {many}" if many > 1 else sides_words(sides))
        for level, faces in by_level.items():
            name = say("level {number}", number=level) if level else say("place not known")
            if level in levels:
                name = f"{name} ({height_words(levels[level].height)})"
            words.append(f"{name}: {', '.join(faces)}")
        shown = say("{mark} HOLD", mark=mark) if piece.status == HELD else mark
        rows.append(Row((shown, str(piece.quantity), designation(piece.section), "; ".join(words))))
    if not rows:
        return
    rows.append(Row((say("All"), str(sum(pieces[m].quantity for m in pieces)), "", ""), TOTAL))
    flow.need(90.0)
    flow.page.more.append(("where", say("Where each mark goes"), 1))
    flow.heading(say("Where each mark goes"), 13.0, 60.0)
    columns = (
        Column(say("Mark"), bold=True),
        Column(say("Pieces"), "right"),
        Column(say("Section")),
        Column(say("Where"), flex=1.0),
    )
    flow.table(columns, rows, 7.0)
    flow.paragraph(
        say("The same with GlobalIds is in {table}; the place of each single piece in tables/members.csv.", table=WHERE)
    )
