"""The hole table of a piece, and the sentences that stand beside its drawing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from takeoff.queries import ASSUMED, CHECK, HOLD, Query
from takeoff.rules.findings import REMARKS
from takeoff.sheets import end_notes, measure, shop_notes
from takeoff.sheets.bands import bands, flat_on
from takeoff.sheets.tables import GROUP, PLAIN, Column, Row
from takeoff.sheets.wording import assumed, datum, face_name, kind_words, slot
from takeoff.steel import HELD, Hole, Piece
from takeoff.words import say

ROW_LETTERS: Final = 130
"""Sentences up to so many letters together share a row of the notes."""


def hole_table(piece: Piece) -> tuple[tuple[Column, ...], tuple[Row, ...]]:
    """The hole table, and under it the corners of a plate's outline.

    No column that says nothing (slots, kinds, an only face, source or class, plain punching); plates have no gauge
    lines. ``assumed`` stands beside a diameter that the model does not state.
    """
    flat = flat_on(piece)
    slots = any(hole.slot_length for hole in piece.holes)
    sources = len({hole.source for hole in piece.holes}) > 1
    kinds = any(hole.kind not in ("round", "slot") for hole in piece.holes)
    made = shop_notes.specially_made(piece)
    classes = len({hole.hole_class for hole in piece.holes}) > 1
    right = measure.from_right()
    corners = [band for band in bands(piece) if band.ring and band.corners]
    columns = [
        Column(say("Hole"), bold=True),
        *([] if flat else [Column(say("Face"))]),
        *([Column(say("From right end"), "right", bold=True)] if right else []),
        Column("x", "right", bold=not right),
        *([] if flat else [Column(say("Line"), "right")]),
        Column(say("Across"), "right", bold=True),
        Column("Ø", "right"),
        *([Column(say("Slot, overall"))] if slots else []),
        *([Column(say("Kind"))] if kinds else []),
        Column(say("Bolt")),
        *([Column(say("Class"))] if classes else []),
        *([Column(say("Make"))] if made else []),
        *([Column(say("From"))] if sources else []),
    ]
    rows = [
        Row(
            (
                hole.label,
                *([] if flat else [face_name(piece.section.shape, hole.face)]),
                *([measure.running(hole.x, piece.length)] if right else []),
                measure.length(hole.x),
                *([] if flat else [str(hole.gauge_line) if hole.gauge_line else ""]),
                measure.length(hole.across),
                _diameter(hole),
                *([slot(hole)] if slots else []),
                *([kind_words(hole)] if kinds else []),
                hole.bolt,
                *([shop_notes.class_words(hole)] if classes else []),
                *([shop_notes.make_words(hole)] if made else []),
                *([source_words(hole.source)] if sources else []),
            )
        )
        for hole in piece.holes
    ]
    for band in corners:
        rows.append(Row((say("Corners, anti-clockwise"),), GROUP))
        starts = {arc.start: arc for arc in band.arcs}
        for number, (x, across) in enumerate(band.ring, start=1):
            arc = starts.get((x, across))
            cells = {
                0: say("corner {number}", number=number),
                (1 if flat else 2) + right: measure.length(x),
                (2 if flat else 4) + right: measure.length(across),
                (3 if flat else 5) + right: say("R {radius}", radius=measure.length(arc.radius)) if arc else "",
            }
            if right:
                cells[1] = measure.running(x, piece.length)
            rows.append(Row(tuple(cells.get(k, "") for k in range(len(columns)))))
    return tuple(columns), tuple(rows)


def _diameter(hole: Hole) -> str:
    if not hole.diameter or hole.kind == "rectangle":
        return ""
    text = measure.size(hole.diameter)
    return say("{size} assumed", size=text) if assumed(hole) else text


def source_words(source: str) -> str:
    """Where a hole comes from: the sources joined by ``+``, as in holes.csv."""
    names = {"bolt": say("bolt"), "opening": say("opening"), "solid": say("solid")}
    return "+".join(names.get(part, part) for part in source.split("+"))


def hold_reasons(piece: Piece, queries: Sequence[Query]) -> list[str]:
    """Why the piece is held, then what to do about it; a query's own words where the piece gives no reason."""
    held = [query for query in queries if query.severity == HOLD]
    reasons = list(piece.reasons) or [query.message for query in held]
    remedies = dict.fromkeys(query.remedy for query in held)
    return [*reasons, *(say("Remedy: {remedy}", remedy=remedy) for remedy in remedies)]


def notes(piece: Piece, queries: Sequence[Query], cut_from: Sequence[int] = ()) -> tuple[Row, ...]:
    """Hold reasons first, then what the checks found, ends and edges, holes, the work, and the queries on the piece."""
    lines: list[tuple[str, str]] = []
    if piece.status == HELD:
        lines.append((say("On hold: do not cut, do not punch"), GROUP))
        lines += [(reason, PLAIN) for reason in hold_reasons(piece, queries)]
    if checks := shop_notes.check_lines(piece):
        lines.append((say("Checks: ask before you run it"), GROUP))
        lines += [(line, PLAIN) for line in checks]
    if cut_from:
        patterns = ", ".join(map(str, cut_from))
        lines.append((say("Cut from bars of pattern {patterns} (bars.pdf).", patterns=patterns), PLAIN))
    lines.append((say("Ends and edges"), GROUP))
    lines += [(line, PLAIN) for line in _joined(end_notes.lines(piece))]
    if piece.holes:
        lines.append((say("Holes"), GROUP))
        lines += [(line, PLAIN) for line in _joined([*_origin(piece), *shop_notes.hole_lines(piece)])]
    if work := shop_notes.work_lines(piece):
        lines.append((say("Work"), GROUP))
        lines += [(line, PLAIN) for line in _joined(work)]
    told = {*piece.reasons} if piece.reasons else {q.message for q in queries if q.severity == HOLD}
    others = [
        query
        for query in queries
        if not (piece.status == HELD and query.message in told)
        # the checks above name this piece's own holes; the sentence for the whole job stands in queries.pdf
        and not (piece.remarks and query.code in REMARKS and query.severity != HOLD)
    ]
    if others:
        lines.append((say("Queries on this piece"), GROUP))
        lines += [(_query_words(query), PLAIN) for query in others]
    return tuple(note(text, style) for text, style in lines)


def _joined(lines: Sequence[str]) -> list[str]:
    """Short sentences in one row, so that the notes stay on the sheet."""
    rows: list[str] = []
    for line in lines:
        if rows and len(rows[-1]) + len(line) <= ROW_LETTERS:
            rows[-1] += f"  ·  {line}"
        else:
            rows.append(line)
    return rows


def note(text: str, style: str = PLAIN) -> Row:
    """A row of the notes."""
    return Row((text,), style)


def _origin(piece: Piece) -> list[str]:
    """Hits, tape check, and what the figures of the holes are measured from and come from."""
    told = [say("Across is measured from: {datum}.", datum=datum(piece.section.shape))]
    sources = {hole.source for hole in piece.holes}
    if len(sources) == 1:
        told.append(say("Holes from: {source}.", source=source_words(sources.pop())))
    if any(assumed(hole) for hole in piece.holes):
        told.append(say("assumed: not in the model, bolt plus clearance."))
    if any(hole.side for hole in piece.holes):
        told.append(say("Near side: the one seen as the face is drawn; far side: the one behind it."))
    return [*shop_notes.punch_lines(piece), *shop_notes.tape_lines(piece), " ".join(told)]


def _query_words(query: Query) -> str:
    severity = {HOLD: say("HOLD"), CHECK: say("CHECK"), ASSUMED: say("ASSUMED")}.get(query.severity, query.severity)
    fields = {"severity": severity, "message": query.message, "remedy": query.remedy}
    return say("{severity}: {message} Remedy: {remedy}", **fields)
