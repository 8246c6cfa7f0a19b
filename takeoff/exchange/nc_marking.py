"""The stamp (SI) of a piece: its mark and revision where the die strikes plain steel.

The place is the piece's own (steel.Stamp), which keeps clear of other parts too, where the text fits there. A longer
text, or a piece without such a place, is set on the first face that has room, front first, near the start of the
piece and near the middle of the face, on a grid of 5 mm: a box of the text's height, as wide as its letters, clear of
holes, of edges and of cut ends. What other parts cover of the piece once it stands is no matter there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Final

from takeoff import steel
from takeoff.exchange.nc_codes import number
from takeoff.exchange.nc_frames import BEHIND, BOTTOM, FRONT, TOP, Placing
from takeoff.settings import StampSettings
from takeoff.steel import Face, Hole, Piece, Point2

LONGEST_STAMP: Final = 40
"""Characters of a stamp, by the standard."""
_STEP_MM: Final = 5.0
_ORDER: Final = (FRONT, BOTTOM, TOP, BEHIND)


def stamp(piece: Piece, placing: Placing, text: str, rules: StampSettings) -> list[str] | None:
    """The SI block of ``text`` in letters as the settings say; None where no face has room for it.

    The text's lower left corner is given, in the direction of x; ``r``: it turns with the piece.
    """
    wide, height = len(text) * rules.width_mm, rules.height_mm
    box = _own(piece, wide, height, rules.clear_mm)
    for face in sorted(piece.faces, key=lambda f: _ORDER.index(placing.seats[f.name].letter)):
        box = box or _spot(piece, placing, face, wide, rules)
    if box is None:
        return None
    seat = placing.seats[box.face]
    corners = [placing.point(box.face, *corner) for corner in (box.low, box.high)]
    (ax, aq), (bx, bq) = corners
    x, q, top = min(ax, bx), min(aq, bq), max(aq, bq)
    # Seen from outside with x to the right, q runs downward on o and h: the lower edge is the one of greater q.
    lower = q if seat.seen > 0 else top
    place = f"  {seat.letter} {number(x):>10}{seat.edge} {number(lower):>10}"
    return ["SI", f"{place} {number(0.0)} {number(height)}r {text}"]


@dataclass(frozen=True, slots=True)
class _Box:
    """Where a text stands: corners of least and greatest (x, across) on a face of the piece, mm."""

    face: str
    low: Point2
    high: Point2


def _own(piece: Piece, wide: float, height: float, clear: float) -> _Box | None:
    """The piece's own place for its stamp, if a text of this size is clear there."""
    spot = piece.stamp
    if spot is None:
        return None
    face = next(f for f in piece.faces if f.name == spot.face)
    box = _Box(spot.face, (spot.x, spot.across - height / 2), (spot.x + wide, spot.across + height / 2))
    # What was found clear for a text as long stays so.
    fits = wide <= spot.length + 1e-9 and height <= spot.height + 1e-9
    return box if fits or _is_clear(piece, face, box.low, box.high, clear) else None


def _spot(piece: Piece, placing: Placing, face: Face, wide: float, rules: StampSettings) -> _Box | None:
    """The first box on a face that is clear, from the start of the file's x."""
    seat, height = placing.seats[face.name], rules.height_mm
    for x, q in _grid(piece.length, face, placing, wide, rules):
        a = ((x - placing.x_shift) / placing.x_sign, (q - seat.shift) / seat.sign)
        b = ((x + wide - placing.x_shift) / placing.x_sign, (q + height - seat.shift) / seat.sign)
        low, high = (min(a[0], b[0]), min(a[1], b[1])), (max(a[0], b[0]), max(a[1], b[1]))
        if _is_clear(piece, face, low, high, rules.clear_mm):
            return _Box(face.name, low, high)
    return None


def _grid(length: float, face: Face, placing: Placing, wide: float, rules: StampSettings) -> Iterator[Point2]:
    seat, height = placing.seats[face.name], rules.height_mm
    ends = sorted(seat.sign * across + seat.shift for across in (face.low, face.high))
    middle = (ends[0] + ends[1] - height) / 2
    reach = (ends[1] - ends[0] - height) / 2 - rules.clear_mm
    steps = int((length - wide - rules.from_end_mm - rules.clear_mm) // _STEP_MM)
    if reach < 0 or steps < 0:
        return
    aside = [0.0]
    for k in range(1, int(reach // _STEP_MM) + 1):
        aside += [k * _STEP_MM, -k * _STEP_MM]
    for k in range(steps + 1):
        for away in aside:
            yield rules.from_end_mm + k * _STEP_MM, middle + away


def _is_clear(piece: Piece, face: Face, low: Point2, high: Point2, clear: float) -> bool:
    for hole in piece.holes:
        if hole.face == face.name and _gap(hole, low, high) < clear:
            return False
    if piece.section.shape in (steel.CHS, steel.ROUND):
        ends = [cut.size for cut in piece.cuts if cut.kind == "skew"]
        back = max(ends, default=0.0)
        return low[0] >= back + clear - 1e-9 and high[0] <= piece.length - back - clear + 1e-9
    grown = ((low[0] - clear, low[1] - clear), (high[0] + clear, high[1] + clear))
    return any(_inside(drawn.points.tolist(), *grown) for drawn in piece.outlines if drawn.face == face.name)


def _gap(hole: Hole, low: Point2, high: Point2) -> float:
    """From the circle round a hole to a box, mm; negative where they overlap."""
    reach = max(hypot(hole.slot_length, hole.width), hole.diameter, hole.width) / 2
    dx = max(low[0] - hole.x, 0.0, hole.x - high[0])
    da = max(low[1] - hole.across, 0.0, hole.across - high[1])
    return hypot(dx, da) - reach


def _inside(outline: Sequence[Sequence[float]], low: Point2, high: Point2) -> bool:
    """Whether a box lies within an outline: a corner does, and no edge of the outline comes into the box."""
    if not _holds(outline, ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2)):
        return False
    edges = zip(outline, (*outline[1:], outline[0]), strict=True)
    return not any(_crosses(a, b, low, high) for a, b in edges)


def _holds(outline: Sequence[Sequence[float]], point: Point2) -> bool:
    inside = False
    for (ax, ay), (bx, by) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if (ay > point[1]) != (by > point[1]) and point[0] < ax + (point[1] - ay) * (bx - ax) / (by - ay):
            inside = not inside
    return inside


def _crosses(a: Sequence[float], b: Sequence[float], low: Point2, high: Point2) -> bool:
    """Whether the line from a to b has a part strictly within a box (the slab method)."""
    enter, leave = 0.0, 1.0
    for k in (0, 1):
        step = b[k] - a[k]
        least, most = low[k] + 1e-6, high[k] - 1e-6
        if abs(step) < 1e-12:
            if not least < a[k] < most:
                return False
            continue
        near, far = sorted(((least - a[k]) / step, (most - a[k]) / step))
        enter, leave = max(enter, near), min(leave, far)
    return enter < leave
