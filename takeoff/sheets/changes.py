"""changes.pdf: what a new revision changes; what becomes of released pieces first, then every change, then both shapes.

Holes that differ have a ring on both drawings. Each shape lies as its own sheet shows it, so that its labels are those
of the sheets; where one lies turned against the other it says so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from takeoff.revision import AS_IT_WAS, KINDS, RELEASED, SHAPE, VERDICTS, Change, Comparison
from takeoff.settings import Settings
from takeoff.sheets import draw, fonts, measure, views
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import Imprint, inner, number_pages
from takeoff.sheets.page import Box, Disc, Item, Line, Page, Text, frame, paper_size
from takeoff.sheets.tables import Column, Row
from takeoff.sheets.wording import designation
from takeoff.steel import Piece
from takeoff.words import say

MOST_DRAWN: Final = 400
"""Pairs of shapes that are drawn; the table has all."""
HEAD: Final = 34.0
TITLE: Final = 16.0
RING: Final = 4.5
"""A ring's distance from the hole it marks (pt)."""


def changes(comparison: Comparison, settings: Settings, path: Path) -> None:
    """Write changes.pdf."""
    draw.write(compose(comparison, settings), path, "Changes")


def compose(comparison: Comparison, settings: Settings) -> list[Page]:
    """The pages of changes.pdf."""
    with measure.measuring(settings.documents):
        return _compose(comparison, settings)


def _compose(comparison: Comparison, settings: Settings) -> list[Page]:
    head = _imprint(comparison, settings)
    flow = Flow(head, landscape=True, name="changes", entry=say("Changes"))
    flow.heading(say("Changes from {old} to {new}", old=comparison.old.name, new=comparison.new.name), 16.0)
    counts = Counter(change.change for change in comparison.changes)
    if not comparison.differs:
        flow.paragraph(say("No difference: the same pieces, assemblies and bolts."), 10.0, True)
    else:
        words = "; ".join(f"{_kind(kind)}: {counts[kind]}" for kind in KINDS if counts[kind])
        flow.paragraph(words, 9.0, True)
    for limit in (*comparison.old.limits, *comparison.new.limits):
        flow.paragraph(limit, 7.5)
    _set_released(flow, comparison)
    _set_changes(flow, comparison)
    if comparison.renamed:
        flow.heading(say("Marks that changed without a change of steel: {count}", count=len(comparison.renamed)), 11.0)
        flow.paragraph(", ".join(f"{old} → {new}" for old, new in comparison.renamed), 7.5)
    pages = flow.pages + _drawings(comparison, head)
    number_pages(pages, head)
    return pages


def _imprint(comparison: Comparison, settings: Settings) -> Imprint:
    documents = settings.documents
    parts = [documents.job, f"{comparison.old.name} → {comparison.new.name}", documents.date]
    tolerances = say(
        "one shape: length within {length} mm, holes within {position} mm, diameters within {diameter} mm",
        length=settings.identity.length_mm,
        position=settings.identity.position_mm,
        diameter=settings.identity.diameter_mm,
    )
    return Imprint(
        say("Changes"),
        fonts.printable(" · ".join(filter(None, parts))),
        say("Rules: {rules}", rules=tolerances),
        paper_size(documents.paper),
    )


def _kind(kind: str) -> str:
    names = {
        RELEASED: say("released pieces"),
        SHAPE: say("changed in shape"),
        "added": say("added"),
        "gone": say("gone"),
        "quantity": say("changed in quantity"),
        "hold": say("on or off HOLD"),
        "assembly": say("assemblies"),
        "bolts": say("bolts"),
        "bought out": say("bought out"),
        "not read": say("parts without a piece"),
        "weight": say("weight"),
    }
    return names[kind]


def _verdict(verdict: str) -> str:
    names = {
        AS_IT_WAS: say("as it was"),
        "rework": say("REWORK"),
        "scrap": say("SCRAP"),
        "ask the engineer": say("ASK THE ENGINEER"),
    }
    return names[verdict] if verdict else ""


def _set_released(flow: Flow, comparison: Comparison) -> None:
    rows = [change for change in comparison.changes if change.change == RELEASED]
    if not rows:
        if comparison.register:
            flow.paragraph(say("The register {name} has no released pieces.", name=comparison.register))
        return
    totals = Counter[str]()
    for change in rows:
        totals[change.verdict] += change.quantity or 0
    flow.heading(say("Released pieces: what becomes of them"), 13.0, 60.0)
    flow.boxed(
        [
            "   ".join(f"{_verdict(v)}: {totals[v]}" for v in VERDICTS if totals[v]),
            say("By the register {name}: so many may have been made. Stop them in the shop first; then this list.",
                name=comparison.register),
        ]
    )  # fmt: skip
    flow.table(
        (
            Column(say("Verdict"), bold=True),
            Column(say("Pieces"), "right", bold=True),
            Column(say("Mark released"), bold=True),
            Column(say("Released"), "right"),
            Column(say("Mark now"), bold=True),
            Column(say("Wanted now"), "right"),
            Column(say("What to do, or why"), flex=1.0),
        ),
        [
            Row(
                (
                    _verdict(change.verdict),
                    _number(change.quantity),
                    change.mark_old,
                    _number(change.quantity_old),
                    change.mark_new or "–",
                    _number(change.quantity_new),
                    change.what,
                ),
                link=_page_name(change) if change.differences else "",
            )
            for change in rows
        ],
        8.0,
    )


def _set_changes(flow: Flow, comparison: Comparison) -> None:
    rows = [change for change in comparison.changes if change.change != RELEASED]
    for kind in KINDS:
        own = [change for change in rows if change.change == kind]
        if not own:
            continue
        flow.heading(f"{_kind(kind)[:1].upper()}{_kind(kind)[1:]}: {len(own)}", 11.0, 50.0)
        flow.table(
            (
                Column(say("Mark old"), bold=True),
                Column(say("Mark new"), bold=True),
                Column(say("Old"), "right"),
                Column(say("New"), "right"),
                Column(say("What"), flex=1.0),
            ),
            [
                Row(
                    (
                        change.mark_old or "–",
                        change.mark_new or "–",
                        _number(change.quantity_old),
                        _number(change.quantity_new),
                        change.what,
                    ),
                    link=_page_name(change) if change.differences else "",
                )
                for change in own
            ],
            8.0,
        )


def _number(value: int | None) -> str:
    return "" if value is None else str(value)


def _page_name(change: Change) -> str:
    return f"{change.change} {change.mark_old} {change.mark_new}"


# ---------------------------------------------------------------- both shapes


def _drawings(comparison: Comparison, head: Imprint) -> list[Page]:
    before = {piece.mark: piece for piece in comparison.old.pieces}
    after = {piece.mark: piece for piece in comparison.new.pieces}
    pages: list[Page] = []
    drawn = [change for change in comparison.changes if change.differences and change.mark_new]
    for change in drawn[:MOST_DRAWN]:
        old = (comparison.released if change.change == RELEASED else before)[change.mark_old]
        pages += _pair(change, old, after[change.mark_new], head)
    if len(drawn) > MOST_DRAWN:
        page = head.page(True)
        x0, _, _, y1 = inner(page)
        words = say("{count} more pairs are not drawn; tables/changes.csv has them all.", count=len(drawn) - MOST_DRAWN)
        page.items.append(Text(x0, y1 - 20.0, words, 9.0))
        pages.append(page)
    return pages


def _pair(change: Change, old: Piece, new: Piece, head: Imprint) -> list[Page]:
    """A page, or several where a shape needs more than one drawing: the old shape above, the new one below."""
    first = head.page(True, _page_name(change), f"{change.mark_old} → {change.mark_new}", 1)
    x0, y0, x1, y1 = inner(first)
    words = fonts.wrap(_sentence(change), 8.0, x1 - x0 - 4.0)
    top = y1 - HEAD - 10.0 * len(words)
    middle = (y0 + top) / 2
    upper, lower = (x0, middle + 4.0, x1, top), (x0, y0, x1, middle - 4.0)
    rings_old = {d.hole_old for d in change.differences if d.kind.startswith("hole") and d.hole_old}
    rings_new = {d.hole_new for d in change.differences if d.kind.startswith("hole") and d.hole_new}
    title = say("RELEASED") if change.change == RELEASED else say("OLD")
    halves = (
        _half(old, title, change.quantity_old, upper, rings_old),
        _half(new, say("NEW"), change.quantity_new, lower, rings_new),
    )
    pages = []
    for k in range(max(len(half) for half in halves)):
        page = first if k == 0 else head.page(True)
        page.items += _title(change, words, (x0, top, x1, y1))
        page.items.append(Line(x0, middle, x1, middle, 0.4, (6.0, 4.0)))
        for half in halves:
            page.items += half[min(k, len(half) - 1)]
        pages.append(page)
    return pages


def _sentence(change: Change) -> str:
    words = change.what
    if change.turned:
        words = say("{what}. The new piece lies turned against the old one.", what=words)
    return words


def _title(change: Change, words: Sequence[str], box: Box) -> list[Item]:
    x0, _, x1, y1 = box
    head = frame((x0, y1 - HEAD + 6.0, x1, y1), 1.2)
    items: list[Item] = [head, Text(x0 + 5.0, y1 - 20.0, f"{change.mark_old} → {change.mark_new}", TITLE, True)]
    verdict = _verdict(change.verdict)
    if verdict:
        words_here = say("{verdict}: {count} off", verdict=verdict, count=change.quantity or 0)
        items.append(Text(x1 - 5.0, y1 - 20.0, words_here, 13.0, True, "end"))
    y = y1 - HEAD - 2.0
    for line in words:
        items.append(Text(x0 + 2.0, y, line, 8.0))
        y -= 10.0
    return items


def _half(piece: Piece, title: str, quantity: int | None, box: Box, rings: set[str]) -> list[list[Item]]:
    """The drawings of a piece, each within ``box``, with its name above."""
    x0, y0, x1, y1 = box
    grade = piece.grade or say("grade not stated")
    words = f"{title}: {piece.mark} · {designation(piece.section)} · {grade} · {measure.with_unit(piece.length)}"
    if quantity is not None:
        words += " · " + say("{quantity} off", quantity=quantity)
    name: Item = Text(x0 + 2.0, y1 - 10.0, fonts.shorten(words, 9.0, x1 - x0 - 4.0, True), 9.0, True)
    room = (x0, y0, x1, y1 - 14.0)
    stretches = views.plan(piece, room)
    if not stretches:
        return [[name, Text(x0 + 2.0, y1 - 24.0, say("This shape is not drawn: its faces are not known."), 8.0)]]
    halves = []
    for stretch in stretches:
        drawn = views.compose(piece, room, stretch)
        marks: list[Item] = [
            Disc(spot.x, spot.y, spot.reach + RING, 1.4) for spot in drawn.spots if spot.hole.label in rings
        ]
        halves.append([name, *drawn.items, *marks])
    return halves
