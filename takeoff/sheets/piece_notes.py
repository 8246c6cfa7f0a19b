"""The hole table of a piece, and the sentences that stand beside its drawing."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan, hypot, sin

from takeoff.queries import HOLD, Query
from takeoff.sheets.bands import Band, bands, flat_on
from takeoff.sheets.tables import GROUP, PLAIN, Column, Row
from takeoff.sheets.wording import angle, datum, face_name, number, slot
from takeoff.steel import HELD, Cut, Piece
from takeoff.units import COINCIDENCE_MM, millimetres


def hole_table(piece: Piece) -> tuple[tuple[Column, ...], tuple[Row, ...]]:
    """The hole table; columns for slots and kinds only where there are any, none for a plate's only face."""
    flat = flat_on(piece)
    slots = any(hole.slot_length for hole in piece.holes)
    kinds = any(hole.kind not in ("round", "slot") for hole in piece.holes)
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
        Column("From"),
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
                hole.source,
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


def notes(piece: Piece, queries: Sequence[Query]) -> tuple[Row, ...]:
    """Hold reasons first, then ends and edges, what across is measured from, and the queries on the piece."""
    lines: list[tuple[str, str]] = []
    if piece.status == HELD:
        lines.append(("On hold: do not cut, do not punch", GROUP))
        lines += [(reason, PLAIN) for reason in hold_reasons(piece, queries)]
    lines.append(("Ends and edges", GROUP))
    lines += [(line, PLAIN) for line in _ends(piece)]
    if piece.holes:
        lines.append((f"Across is measured from: {datum(piece.section.shape)}.", PLAIN))
    told = {*piece.reasons} if piece.reasons else {q.message for q in queries if q.severity == HOLD}
    others = [query for query in queries if not (piece.status == HELD and query.message in told)]
    if others:
        lines.append(("Queries on this piece", GROUP))
        lines += [(f"{q.severity.upper()}: {q.message} Remedy: {q.remedy}", PLAIN) for q in others]
    return tuple(Row((text,), style) for text, style in lines)


def _ends(piece: Piece) -> list[str]:
    if not piece.faces:
        return ["Not known."]
    lines = [_cut_words(piece, cut) for cut in piece.cuts]
    if flat_on(piece):
        lines += _arcs(piece)
        return lines or ["Plain rectangle."]
    if not piece.cuts:
        return ["Both ends square."]
    for band in bands(piece):
        lines += _lengths(piece, band)
    return lines


def _arcs(piece: Piece) -> list[str]:
    """Curved edges of a plate with their radius."""
    lines = []
    for here, there in zip(piece.outline, (*piece.outline[1:], *piece.outline[:1]), strict=True):
        if here.bulge:
            chord = hypot(there.x - here.x, there.across - here.across)
            radius = chord / 2 / abs(sin(2 * atan(here.bulge)))
            lines.append(
                f"arc of radius {millimetres(radius)} from x {millimetres(here.x)}, across {millimetres(here.across)} "
                f"to x {millimetres(there.x)}, across {millimetres(there.across)}"
            )
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
    xs = [x for x, y in band.outline if abs(y - across) < 0.05]
    return (min(xs), max(xs)) if len(xs) > 1 else None


def _cut_words(piece: Piece, cut: Cut) -> str:
    face = f", {face_name(piece.section.shape, cut.face)}" if cut.face and not flat_on(piece) else ""
    where = f" at x {millimetres(cut.x)}, across {millimetres(cut.across)}"
    turn = f", {angle(cut.angle)}" if cut.angle else ""
    size = f", size {millimetres(cut.size)}" if cut.size else ""
    if cut.kind == "outline":
        return f"corner{face}{where}{turn}{size}"
    end = f"{cut.end} end" if cut.end in ("left", "right") else cut.end
    return f"{end}{face}: {cut.kind}{turn}{where}{size}"
