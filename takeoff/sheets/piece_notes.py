"""The hole table of a piece, and the sentences that stand beside its drawing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from takeoff.queries import HOLD, Query
from takeoff.rules.findings import REMARKS
from takeoff.sheets import shop_notes
from takeoff.sheets.bands import Band, bands, flat_on
from takeoff.sheets.tables import GROUP, PLAIN, Column, Row
from takeoff.sheets.wording import angle, datum, face_name, number, slot
from takeoff.steel import HELD, Cut, Piece
from takeoff.units import COINCIDENCE_MM, millimetres

SQUARE_MM: Final = 0.05
"""A cut that runs back by less is square: figures print to 0.1 mm."""


def hole_table(piece: Piece) -> tuple[tuple[Column, ...], tuple[Row, ...]]:
    """The hole table; no column that says nothing (slots, kinds, an only face, source or class, plain punching)."""
    flat = flat_on(piece)
    slots = any(hole.slot_length for hole in piece.holes)
    sources = len({hole.source for hole in piece.holes}) > 1
    kinds = any(hole.kind not in ("round", "slot") for hole in piece.holes)
    made = shop_notes.specially_made(piece)
    classes = len({hole.hole_class for hole in piece.holes}) > 1
    columns = [
        Column("Hole", bold=True),
        *([] if flat else [Column("Face")]),
        Column("x", "right", bold=True),
        Column("Line", "right"),
        Column("Across", "right", bold=True),
        Column("Ø", "right"),
        *([Column("Slot, overall")] if slots else []),
        *([Column("Kind")] if kinds else []),
        Column("Bolt"),
        *([Column("Class")] if classes else []),
        *([Column("Make")] if made else []),
        *([Column("From")] if sources else []),
    ]
    rows = [
        Row(
            (
                hole.label,
                *([] if flat else [face_name(piece.section.shape, hole.face)]),
                millimetres(hole.x),
                str(hole.gauge_line) if hole.gauge_line else "",
                millimetres(hole.across),
                number(hole.diameter or None),
                *([slot(hole)] if slots else []),
                *([hole.kind] if kinds else []),
                hole.bolt,
                *([shop_notes.class_words(hole)] if classes else []),
                *([shop_notes.make_words(hole)] if made else []),
                *([hole.source] if sources else []),
            )
        )
        for hole in piece.holes
    ]
    return tuple(columns), tuple(rows)


def hold_reasons(piece: Piece, queries: Sequence[Query]) -> list[str]:
    """Why the piece is held, then what to do about it; a query's own words where the piece gives no reason."""
    held = [query for query in queries if query.severity == HOLD]
    reasons = list(piece.reasons) or [query.message for query in held]
    return [*reasons, *(f"Remedy: {remedy}" for remedy in dict.fromkeys(query.remedy for query in held))]


def notes(piece: Piece, queries: Sequence[Query], cut_from: Sequence[int] = ()) -> tuple[Row, ...]:
    """Hold reasons first, then what the checks found, ends and edges, holes, the work, and the queries on the piece."""
    lines: list[tuple[str, str]] = []
    if piece.status == HELD:
        lines.append(("On hold: do not cut, do not punch", GROUP))
        lines += [(reason, PLAIN) for reason in hold_reasons(piece, queries)]
    if checks := shop_notes.check_lines(piece):
        lines.append(("Checks: ask before you run it", GROUP))
        lines += [(line, PLAIN) for line in checks]
    if cut_from:
        noun = "pattern" if len(cut_from) == 1 else "patterns"
        lines.append((f"Cut from bars of {noun} {', '.join(map(str, cut_from))} (bars.pdf).", PLAIN))
    lines.append(("Ends and edges", GROUP))
    lines += [(line, PLAIN) for line in _ends(piece)]
    if piece.holes:
        sources = {hole.source for hole in piece.holes}
        origin = f"Where the holes come from: {piece.holes[0].source}. " if len(sources) == 1 else ""
        lines.append((f"{origin}Across is measured from: {datum(piece.section.shape)}.", PLAIN))
        lines += [(line, PLAIN) for line in shop_notes.hole_lines(piece)]
    if work := shop_notes.work_lines(piece):
        lines.append(("Work", GROUP))
        lines += [(line, PLAIN) for line in work]
    told = {*piece.reasons} if piece.reasons else {q.message for q in queries if q.severity == HOLD}
    others = [
        query
        for query in queries
        if not (piece.status == HELD and query.message in told)
        # the checks above name this piece's own holes; the sentence for the whole job stands in queries.pdf
        and not (piece.remarks and query.code in REMARKS and query.severity != HOLD)
    ]
    if others:
        lines.append(("Queries on this piece", GROUP))
        lines += [(f"{q.severity.upper()}: {q.message} Remedy: {q.remedy}", PLAIN) for q in others]
    return tuple(Row((text,), style) for text, style in lines)


def _ends(piece: Piece) -> list[str]:
    if not piece.faces:
        return ["Not known."]
    lines = [_cut_words(piece, cut) for cut in piece.cuts if cut.kind != "outline"]
    # a plate has many corners: one row for all leaves room for the rest of the notes
    if corners := [_cut_words(piece, cut) for cut in piece.cuts if cut.kind == "outline"]:
        lines.insert(0, "; ".join(corners))
    if flat_on(piece):
        return lines or ["Plain rectangle."]
    if not piece.cuts:
        return ["Both ends square."]
    for band in bands(piece):
        lines += _lengths(piece, band)
    return lines


def _lengths(piece: Piece, band: Band) -> list[str]:
    """Lengths along both edges of a face, where the ends are not square."""
    low, high = _reach(band, band.face.low), _reach(band, band.face.high)
    if low is None or high is None:
        return []
    if all(abs(a) < COINCIDENCE_MM and abs(b - piece.length) < COINCIDENCE_MM for a, b in (low, high)):
        return []
    names = ("heel", "toe") if band.face.name in ("A", "B") else ("lower edge", "upper edge")
    if not band.up and names[0] != "heel":
        names = (names[1], names[0])
    name = face_name(piece.section.shape, band.face.name)
    parts = (
        f"{word} {millimetres(b - a)} long, x {millimetres(a)} to {millimetres(b)}"
        for word, (a, b) in zip(names, (low, high), strict=True)
    )
    return [f"{name}: {'; '.join(parts)}"]


def _reach(band: Band, across: float) -> tuple[float, float] | None:
    """First and last x of the outline on one edge of the face; None where it has no corner there."""
    xs = [x for loop in band.outlines for x, y in loop if abs(y - across) < 0.05]
    return (min(xs), max(xs)) if len(xs) > 1 else None


def _cut_words(piece: Piece, cut: Cut) -> str:
    """A row of cuts.csv as a sentence; what its numbers mean depends on the kind."""
    face = f", {face_name(piece.section.shape, cut.face)}" if cut.face and not flat_on(piece) else ""
    end = f"{cut.end} end" if cut.end in ("left", "right") else cut.end
    x, across, size = millimetres(cut.x), millimetres(cut.across), millimetres(cut.size)
    if cut.kind == "outline":
        arc = f", arc of radius {size} from here" if cut.size else ""
        return f"corner{face} at x {x}, across {across}{arc}"
    if cut.kind == "skew" and cut.size < SQUARE_MM:
        return f"{end}{face}: square, at x {x}"
    if cut.kind in ("skew", "bevel"):
        through = " through the thickness" if cut.kind == "bevel" else ""
        return f"{end}{face}: {cut.kind}{through} {angle(cut.angle)} from square, from x {x}, runs back {size}"
    if cut.kind == "clip":
        return (
            f"{end}{face}: corner clipped {angle(cut.angle)} from square, from x {x} to across {across}, "
            f"{size} off the end"
        )
    if cut.kind == "notch":
        return f"{end}{face}: notch, inner end at x {x}, from across {across}, {size} wide"
    return f"{end}{face}: {cut.kind} at x {x}, across {across}, {angle(cut.angle)}, {size}"
