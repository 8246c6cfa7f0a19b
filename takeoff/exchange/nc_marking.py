"""The stamp (SI) of a piece: its mark and revision where the die strikes plain steel.

A place is looked for on each face in turn, front first, near the start of the piece and near the middle of the face,
on a grid of 5 mm: a box of the text's height, as wide as its letters, clear of holes, of edges and of cut ends.
What other parts cover of the piece once it stands is no matter here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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
    for face in sorted(piece.faces, key=lambda f: _ORDER.index(placing.seats[f.name].letter)):
        spot = _spot(piece, placing, face, wide, rules)
        if spot is None:
            continue
        seat = placing.seats[face.name]
        # On o and h a text that is read from outside runs against x: it starts at the box's other end, turned over.
        x, q = spot
        angle = 0.0
        if seat.seen < 0:
            x, angle = x + wide, 180.0
        place = f"  {seat.letter} {number(x):>10}{seat.edge} {number(q):>10}"
        return ["SI", f"{place} {number(angle)} {number(height)}r {text}"]
    return None


def _spot(piece: Piece, placing: Placing, face: Face, wide: float, rules: StampSettings) -> Point2 | None:
    """The corner of least x and q of the first box that is clear, in the file's coordinates."""
    seat, height, clear = placing.seats[face.name], rules.height_mm, rules.clear_mm
    for x, q in _grid(piece.length, face, placing, wide, rules):
        a = ((x - placing.x_shift) / placing.x_sign, (q - seat.shift) / seat.sign)
        b = ((x + wide - placing.x_shift) / placing.x_sign, (q + height - seat.shift) / seat.sign)
        low, high = (min(a[0], b[0]), min(a[1], b[1])), (max(a[0], b[0]), max(a[1], b[1]))
        if _is_clear(piece, face, low, high, clear):
            return x, q
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
