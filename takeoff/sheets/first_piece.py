"""inspection.pdf: the first piece of each mark, nominal and tolerance beside room for what is measured; look-alikes.

Tolerances are those of rules/tolerances.py; what no rule here gives is left to the standard of the section and says so.
Held marks have no sheet: there is no first piece until their queries are answered.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from takeoff.dispatch import LookAlike
from takeoff.rules.tolerances import EDGE, GROUPS, HOLE, LENGTH, NOTCH, SIZE, SOURCE, SQUARENESS, Tolerance, tolerance
from takeoff.settings import Settings
from takeoff.sheets import draw, measure
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.look_alike_words import differences, reverse
from takeoff.sheets.measure import measuring
from takeoff.sheets.page import Page
from takeoff.sheets.tables import Column, Row
from takeoff.sheets.wording import angle, designation, face_name, opening, thickness
from takeoff.steel import CHS, FLAT, HELD, PLATE, ROUND, Cut, Hole, Piece, Takeoff
from takeoff.words import say, speaking

BLANK: Final = 52.0
"""Width of a column to write in (pt)."""
ROW: Final = 10.5
"""Letters of the tables: a row as high as a pen needs."""
MOST_ALIKE: Final = 8
"""Look-alikes named on one sheet; the list in front has them all."""
WHERE: Final = "tables/look_alikes.csv"


def inspection(takeoff: Takeoff, settings: Settings, alike: Sequence[LookAlike], path: Path) -> bool:
    """Write inspection.pdf. False, and no file, where there is no mark to make. OSError where it cannot be written."""
    if all(piece.status == HELD for piece in takeoff.pieces):
        return False
    with speaking(settings.documents.language), measuring(settings.documents):
        draw.write(compose(takeoff, settings, alike), path, say("First-piece inspection"))
    return True


def compose(takeoff: Takeoff, settings: Settings, alike: Sequence[LookAlike]) -> list[Page]:
    """The pages of inspection.pdf: a cover with the look-alikes, then a sheet for each mark."""
    head = imprint(takeoff, settings, say("First-piece inspection"))
    flow = Flow(head, name="inspection", entry=say("First-piece inspection"))
    functional = settings.inspection.functional_class
    flow.heading(say("First-piece inspection"), 16.0)
    flow.paragraph(
        say(
            "One sheet for each mark. Measure the first piece before the quantity is run. x is measured along the "
            "piece from the end that its sheet measures from, across on the outside of the face from the heel or "
            "datum edge."
        )
    )
    flow.paragraph(_trust(functional))
    flow.paragraph(
        say(
            "Distance between groups of holes: {groups}; hole to a cut edge: {edge}.",
            groups=_limits(tolerance(GROUPS, functional)),
            edge=_limits(tolerance(EDGE, functional)),
        )
    )
    sections = {piece.mark: designation(piece.section) for piece in takeoff.pieces}
    _look_alikes(flow, alike, sections, settings.inspection.look_alike_mm)
    held = [piece.mark for piece in takeoff.pieces if piece.status == HELD]
    if held:
        flow.heading(say("On hold, no sheet"), 12.0)
        flow.paragraph(", ".join(held))
    beside: dict[str, list[LookAlike]] = defaultdict(list)
    for pair in alike:
        beside[pair.mark].append(pair)
        beside[pair.other].append(reverse(pair))
    for piece in takeoff.pieces:
        if piece.status != HELD:
            flow.turn(f"inspect {piece.mark}", piece.mark, 1)
            _sheet(flow, piece, functional, beside[piece.mark])
    number_pages(flow.pages, head)
    return flow.pages


def _trust(functional: int) -> str:
    return say(
        "Tolerances: {source}, functional tolerances of class {number}, from memory and not looked up: check them "
        "against the standard and the job's own before they decide anything. Limits of the section itself are those "
        "of its standard.",
        source=SOURCE,
        number=functional,
    )


def _look_alikes(flow: Flow, alike: Sequence[LookAlike], sections: Mapping[str, str], within: float) -> None:
    flow.heading(say("Look-alikes"), 13.0)
    if not alike:
        flow.paragraph(say("No two marks look alike."))
        return
    flow.paragraph(
        say(
            "Marks that differ by less than {within}, by one hole, by hand, grade or finish only. The value of the "
            "first mark stands first.",
            within=measure.with_unit(within),
        )
    )
    columns = (
        Column(say("Mark"), bold=True),
        Column(say("Looks like"), bold=True),
        Column(say("Section")),
        Column(say("What differs"), flex=1.0),
        Column(say("Told apart by"), least=BLANK + 20.0),
    )
    flow.table(columns, [Row((p.mark, p.other, sections[p.mark], differences(p), "")) for p in alike])


def _sheet(flow: Flow, piece: Piece, functional: int, alike: Sequence[LookAlike]) -> None:
    flow.heading(say("First piece of {mark}", mark=piece.mark), 16.0, 60.0)
    about = [designation(piece.section), piece.grade or say("grade not stated"), piece.finish]
    about.append(say("{count} pieces", count=piece.quantity) if piece.quantity != 1 else say("1 piece"))
    flow.paragraph(" · ".join(part for part in about if part), 10.0, True)
    _written(flow)
    if alike:
        lines = [say("Do not take it for another")]
        lines += [say("{mark}: {differences}", mark=p.other, differences=differences(p)) for p in alike[:MOST_ALIKE]]
        if len(alike) > MOST_ALIKE:
            lines.append(say("{count} more in {table}", count=len(alike) - MOST_ALIKE, table=WHERE))
        flow.boxed(lines)
    _body(flow, piece, functional)
    _holes(flow, piece, functional)
    flow.paragraph(_trust(functional), 7.0)


def _written(flow: Flow) -> None:
    """Room for what the inspector writes."""
    columns = tuple(Column(title, least=60.0) for title in (
        say("Heat number"), say("Certificate"), say("Measured by"), say("Date"), say("Accepted"),
    ))  # fmt: skip
    flow.table(columns, [Row(("",) * len(columns))], 11.0)


def _limits(found: Tolerance) -> str:
    text = f"± {measure.metric(found.plus)}"
    if found.minus != found.plus:
        text = f"- {measure.metric(found.minus)} + {measure.metric(found.plus)}"
    return say("{limits} mm", limits=text) if measure.inches() else text


def _nominal(value: float) -> str:
    """A nominal; with its millimetres in inch shops, where a sixteenth is as much as the tolerance."""
    if not measure.inches():
        return measure.length(value)
    return say("{length} ({metric} mm)", length=measure.length(value), metric=measure.metric(value))


def _body(flow: Flow, piece: Piece, functional: int) -> None:
    section = piece.section
    rows = [(say("Length"), _nominal(piece.length), _limits(tolerance(LENGTH, functional, piece.length)))]
    by_standard = say("section's standard")
    if section.shape in (PLATE, FLAT):
        rows.append((say("Width"), _nominal(section.h), by_standard))
        rows.append((say("Thickness"), thickness(section.tw), by_standard))
    else:
        rows += [(say("Depth"), _nominal(section.h), by_standard)]
        if section.shape not in (CHS, ROUND):
            rows.append((say("Width"), _nominal(section.b), by_standard))
        if section.tw:
            rows.append((say("Thickness"), thickness(section.tw), by_standard))
    if section.shape != PLATE:
        rows += _ends(piece, functional)
    rows += [_notch(piece, cut, functional) for cut in piece.cuts if cut.kind in ("notch", "clip")]
    rows += _end_distances(piece, functional)
    columns = (
        Column(say("What"), flex=1.0, bold=True),
        Column(say("Nominal"), "right", bold=True),
        Column(say("Tolerance"), "right"),
        Column(say("Measured"), least=2 * BLANK),
    )
    flow.table(columns, [Row((*row, "")) for row in rows], ROW)


def _ends(piece: Piece, functional: int) -> list[tuple[str, str, str]]:
    """Square ends out of square; skew ends by their angle, the deviation at the far edge."""
    deep = piece.section.h
    limits = _limits(tolerance(SQUARENESS, functional, deep))
    over = say("{limits} over {depth}", limits=limits, depth=measure.length(deep))
    found = []
    for end, name in (("left", say("Left end")), ("right", say("Right end"))):
        cuts = [cut for cut in piece.cuts if cut.end == end and cut.kind in ("skew", "bevel")]
        if not cuts:
            found.append((say("{end}, out of square", end=name), "0", over))
        for cut in cuts:
            face = face_name(piece.section.shape, cut.face) if cut.face else ""
            found.append((say("{end}, {face}", end=name, face=face) if face else name, angle(cut.angle), over))
    return found


def _notch(piece: Piece, cut: Cut, functional: int) -> tuple[str, str, str]:
    where = face_name(piece.section.shape, cut.face) if cut.face else ""
    kind = say("notch") if cut.kind == "notch" else say("clip")
    what = say("{kind} in {face} at x {x}", kind=kind, face=where, x=measure.length(cut.x))
    return what, _nominal(cut.size), _limits(tolerance(NOTCH, functional))


def _end_distances(piece: Piece, functional: int) -> list[tuple[str, str, str]]:
    """First and last hole to a square end; at a skew end no tape reads it."""
    if not piece.holes or piece.section.shape == PLATE:
        return []
    limits = _limits(tolerance(EDGE, functional))
    uneven = {cut.end for cut in piece.cuts}
    found = []
    if "left" not in uneven:
        found.append((say("Left end to the first hole"), _nominal(min(h.x for h in piece.holes)), limits))
    if "right" not in uneven:
        last = piece.length - max(h.x for h in piece.holes)
        found.append((say("Last hole to the right end"), _nominal(last), limits))
    return found


def _holes(flow: Flow, piece: Piece, functional: int) -> None:
    if not piece.holes:
        return
    place = _limits(tolerance(HOLE, functional))
    size = _limits(tolerance(SIZE, functional))
    flow.heading(say("Holes"), 11.0, 50.0)
    flow.paragraph(
        say("Tolerance of places: {place}; of diameters and slot widths: {size}.", place=place, size=size), 8.5
    )
    columns = (
        Column(say("Hole"), bold=True),
        Column(say("Face"), flex=0.4),
        Column(say("x"), "right", bold=True),
        Column(say("measured"), least=BLANK),
        Column(say("Across"), "right", bold=True),
        Column(say("measured"), least=BLANK),
        Column(say("Punch"), flex=0.4, bold=True),
        Column(say("measured"), least=BLANK),
    )
    flow.table(columns, [_hole(piece, hole) for hole in piece.holes], ROW)


def _hole(piece: Piece, hole: Hole) -> Row:
    x = piece.length - hole.x if measure.from_right() else hole.x
    return Row(
        (
            hole.label, face_name(piece.section.shape, hole.face), _nominal(x), "",
            _nominal(hole.across), "", opening(hole), "",
        )
    )  # fmt: skip
