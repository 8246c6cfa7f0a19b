"""Drawings 1:1 for cutting (DXF R2010, mm): plates and flats, and where asked angles with their legs developed.

Outline, holes and the mark's text lie on layers of their own. Arcs are arcs (bulges of the outline's polyline),
round holes circles, slots closed polylines with bulges. x and y are the piece's x and across: the side in front is
seen. A bevelled flat is drawn as it is before it is bevelled, the edges of the bevel on layers of their own; a hole
that is reamed has the diameter made first. A developed angle has leg A above the heel line and leg B below it, both
seen from outside.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from math import cos, radians, sin
from typing import TYPE_CHECKING, Any, Final

from takeoff.exchange.ascii_text import file_names, plain
from takeoff.exchange.bevels import ENDS, bevel_rows, blank
from takeoff.exchange.chords import chord_query, drawn_loop
from takeoff.exchange.nc import MachineFiles, bevels_left_out
from takeoff.exchange.nc_codes import NO_FILE
from takeoff.exchange.reaming import as_punched, reaming_words
from takeoff.exchange.sides import Side, sides
from takeoff.queries import Query, query
from takeoff.sections.loops import Corner
from takeoff.settings import DxfSettings, Settings
from takeoff.steel import ANGLE, FLAT, HELD, PLATE, Hole, Piece, Takeoff
from takeoff.units import COINCIDENCE_MM, millimetres

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts import Modelspace

ENDING: Final = ".dxf"
_TAN_QUARTER: Final = 0.41421356237309503
"""tan(90 / 4 degrees): the bulge of a quarter of a circle."""


@dataclass(frozen=True, slots=True)
class _View:
    """A face on the drawing: y = ``sign`` * across."""

    face: str
    sign: float


def dxf_files(takeoff: Takeoff, settings: Settings) -> MachineFiles:
    """A drawing for every plate and flat that is not held, and every angle where the settings ask for it.

    Pieces of other shapes are not named in ``without``: nobody expects a drawing of them.
    """
    shapes = (PLATE, FLAT, ANGLE) if settings.dxf.angle_legs else (PLATE, FLAT)
    drawn = [piece for piece in takeoff.pieces if piece.section.shape in shapes]
    known = takeoff.release.marks if takeoff.release else ()
    names = file_names([piece.mark for piece in takeoff.pieces], ENDING, known)
    files: dict[str, bytes] = {}
    without: dict[str, str] = {}
    asked: list[Query] = []
    for piece in drawn:
        reason = _no_drawing(piece)
        unknown = [hole.label for hole in piece.holes if hole.kind != "rectangle" and hole.diameter < COINCIDENCE_MM]
        if piece.status == HELD:
            without[piece.mark] = "it is held"
        elif reason or unknown:
            without[piece.mark] = reason or f"the diameter of hole {unknown[0]} is not known"
            asked.append(query(NO_FILE, "DXF", piece.mark, without[piece.mark], piece_mark=piece.mark))
        else:
            revision = settings.documents.revision
            files[names[piece.mark]] = dxf_drawing(piece, settings.dxf, revision, sides(piece))
            # Unmirrored, so that a mark with both kinds of file is asked about in the same words.
            loops = [(view.face, loop) for view in _views(piece) for loop in _outlines(piece, _View(view.face, 1.0))]
            asked += chord_query(piece, loops)
            asked += bevels_left_out(piece)
    made = {piece.mark: names[piece.mark] for piece in drawn if piece.mark not in without}
    return MachineFiles(files, made, without, tuple(asked))


def _no_drawing(piece: Piece) -> str:
    """Why no drawing can show a piece as it is cut out, as the end of a sentence."""
    if _bevelled(piece) and blank(piece) is None:
        return "an end is bevelled and the outline is cut besides, so that what is cut out first is not certain"
    return ""


def _bevelled(piece: Piece) -> list[str]:
    return [end for end in ENDS if bevel_rows(piece, end)]


def dxf_drawing(piece: Piece, rules: DxfSettings, revision: str = "", sunk: Mapping[str, Side] | None = None) -> bytes:
    """The drawing of one piece: a plate, a flat or an angle; ``sunk`` tells about its countersinks and blind holes."""
    with _held_clock():
        return _written(_drawing(piece, rules, revision, sunk or {}))


def _drawing(piece: Piece, rules: DxfSettings, revision: str, sunk: Mapping[str, Side]) -> Drawing:
    import ezdxf
    from ezdxf import units

    document = ezdxf.new("R2010", setup=False)
    document.units = units.MM
    document.header["$MEASUREMENT"] = 1
    for name, colour in (
        (rules.outline_layer, 7),
        (rules.hole_layer, 1),
        (rules.mark_layer, 3),
        (rules.fold_layer, 5),
        (rules.far_side_layer, 8),
        (rules.bevel_layer, 6),
        (rules.sunk_layer, 4),
    ):
        if name not in document.layers:
            document.layers.add(name, color=colour)
    space = document.modelspace()
    for view in _views(piece):
        for loop in _outlines(piece, view):
            _polyline(space, loop, rules.outline_layer)
        for drawn in piece.outlines:
            if drawn.face == view.face and _bevelled(piece):
                far = drawn.points if drawn.far is None else drawn.far
                for points, layer in ((drawn.points, rules.bevel_layer), (far, rules.far_side_layer)):
                    _polyline(space, [(float(x), view.sign * float(a), 0.0) for x, a in points], layer)
        for hole in piece.holes:
            if hole.face == view.face:
                _hole(space, as_punched(hole), view, rules, sunk.get(hole.label))
    if piece.section.shape == ANGLE:
        space.add_line((0, 0), (piece.length, 0), dxfattribs={"layer": rules.fold_layer})
    _words(space, piece, rules, revision)
    return document


def _views(piece: Piece) -> list[_View]:
    return [_View("A", 1.0), _View("B", -1.0)] if piece.section.shape == ANGLE else [_View("face", 1.0)]


def _outlines(piece: Piece, view: _View) -> Iterable[list[Corner]]:
    # An opening at a plate's edge is in the drawn face only.
    if piece.outline and not any(cut.kind == "notch" for cut in piece.cuts):
        return [[(v.x, v.across, v.bulge) for v in piece.outline]]
    whole = blank(piece) if _bevelled(piece) else None
    if whole is not None:
        return [whole]
    return [
        [(x, view.sign * across, view.sign * bulge) for x, across, bulge in drawn_loop(drawn.points)]
        for drawn in piece.outlines
        if drawn.face == view.face
    ]


def _polyline(space: Modelspace, loop: list[Corner], layer: str) -> None:
    points = [(_round(x), _round(y), bulge) for x, y, bulge in loop]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": layer})


def _hole(space: Modelspace, hole: Hole, view: _View, rules: DxfSettings, side: Side | None) -> None:
    """A hole through; the mouth of a countersink and a blind hole are noted beside it, and not cut."""
    attributes: dict[str, Any] = {"layer": rules.hole_layer}
    x, y = _round(hole.x), _round(view.sign * hole.across)
    if hole.kind in ("slot", "rectangle") and hole.slot_length > hole.diameter + COINCIDENCE_MM:
        points = [(_round(px), _round(view.sign * pa), view.sign * b) for px, pa, b in slot_loop(hole)]
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=attributes)
        return
    if hole.kind == "blind":
        deep = f", {millimetres(side.depth)} deep" if side and side.depth is not None else ", depth not known"
        note = f"{hole.label}: blind hole {millimetres(hole.diameter)}{deep}{_from(side)}"
        space.add_circle((x, y), hole.diameter / 2, dxfattribs={"layer": rules.sunk_layer})
        _note(space, note, x, y, hole.diameter, rules)
        return
    space.add_circle((x, y), hole.diameter / 2, dxfattribs=attributes)
    if hole.kind == "countersunk":
        wide = f" to {millimetres(hole.width)}" if hole.width > hole.diameter else ""
        if wide:
            space.add_circle((x, y), hole.width / 2, dxfattribs={"layer": rules.sunk_layer})
        _note(space, f"{hole.label}: countersunk{wide}{_from(side)}", x, y, hole.diameter, rules)


def _from(side: Side | None) -> str:
    if side is None:
        return ", side not known"
    return ", on the far side" if side.far else ", on this side"


def slot_loop(hole: Hole) -> list[Corner]:
    """Corners (x, across, bulge) of a slot or rectangle in mm, anti-clockwise; its corners have half its diameter."""
    r = hole.diameter / 2
    half, side = hole.slot_length / 2, (hole.width if hole.kind == "rectangle" else hole.diameter) / 2
    corners: list[Corner]
    if hole.kind == "slot":
        corners = [(-half + r, -r, 0.0), (half - r, -r, 1.0), (half - r, r, 0.0), (-half + r, r, 1.0)]
    elif r < COINCIDENCE_MM / 2:
        corners = [(-half, -side, 0.0), (half, -side, 0.0), (half, side, 0.0), (-half, side, 0.0)]
    else:
        corners = [
            (-half + r, -side, 0.0),
            (half - r, -side, _TAN_QUARTER),
            (half, -side + r, 0.0),
            (half, side - r, _TAN_QUARTER),
            (half - r, side, 0.0),
            (-half + r, side, _TAN_QUARTER),
            (-half, side - r, 0.0),
            (-half, -side + r, _TAN_QUARTER),
        ]
    c, s = cos(radians(hole.slot_angle)), sin(radians(hole.slot_angle))
    return [(hole.x + c * x - s * y, hole.across + s * x + c * y, bulge) for x, y, bulge in corners]


def _note(space: Modelspace, words: str, x: float, y: float, diameter: float, rules: DxfSettings) -> None:
    height = max(diameter / 4, 2.0)
    place = (_round(x + diameter), _round(y))
    space.add_text(words, height=_round(height), dxfattribs={"layer": rules.mark_layer, "insert": place})


def _words(space: Modelspace, piece: Piece, rules: DxfSettings, revision: str) -> None:
    """Mark, quantity, thickness and grade below the drawing, where nothing is cut."""
    height = _round(min(max(piece.section.h / 15, 3.0), 20.0))
    below = -piece.section.b if piece.section.shape == ANGLE else 0.0
    size = (
        piece.section.designation
        if piece.section.shape == ANGLE
        else f"t = {millimetres(piece.section.tw)} ({piece.section.designation})"
    )
    lines = [
        " ".join(part for part in (piece.mark, f"rev {revision}" if revision else "") if part),
        f"{piece.quantity} off, {size}, {piece.grade or 'grade not known'}",
    ]
    if piece.opposite_hand_of:
        lines.append(f"opposite hand of {piece.opposite_hand_of}")
    lines += reaming_words(piece, piece.holes)
    if ends := _bevelled(piece):
        lines.append(f"bevel at the {' and '.join(ends)} end after cutting, see the sheet")
    for number, words in enumerate(lines):
        place = (0.0, _round(below - height * (2.0 + 1.6 * number)))
        # ASCII: a reader of drawings may take the text in another alphabet than it was written in.
        space.add_text(plain(words), height=height, dxfattribs={"layer": rules.mark_layer, "insert": place})


def _round(value: float) -> float:
    """To a ten-thousandth of a millimetre, so that noise of the last digit changes no byte; no negative zero."""
    return round(value, 4) + 0.0


def _written(document: Drawing) -> bytes:
    # The library would register them in the order of a set, which differs from run to run.
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8")


@contextmanager
def _held_clock() -> Iterator[None]:
    """Hold the library's time stamps and identifiers fast, so that two runs write the same bytes."""
    import ezdxf

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
