"""Bevelled ends of flats, as files for machines can say them.

Vocabulary
----------
full      one plane through the whole thickness: an angle says it
by hand   a bevel through a part of the thickness, or one from each side: no angle of an end says it, so that files
          show the end before it is bevelled
nose      what stands out farthest of a bevelled end
"""

from __future__ import annotations

from collections.abc import Iterable
from math import cos, radians, tan
from typing import Final

from takeoff.sections.loops import Corner
from takeoff.steel import Cut, FloatArray, Piece

ENDS: Final = ("left", "right")
_SAME_MM: Final = 0.1
"""Rows of cuts are rounded, and an end's offset is the difference of two outlines."""


def bevel_rows(piece: Piece, end: str) -> list[Cut]:
    """The bevels of one end."""
    return [cut for cut in piece.cuts if cut.kind == "bevel" and cut.end == end]


def full_bevel(piece: Piece, end: str) -> float:
    """By how many mm the near side of an end with a full bevel has a greater x than its far side; 0 without one."""
    rows = bevel_rows(piece, end)
    back = _offset(piece, end)
    if len(rows) != 1 or not back:
        return 0.0
    skew = max((cut.angle for cut in piece.cuts if cut.kind == "skew" and cut.end == end), default=0.0)
    whole = piece.section.tw * tan(radians(rows[0].angle)) / cos(radians(skew))
    return back if abs(abs(back) - whole) < _SAME_MM else 0.0


def by_hand(piece: Piece) -> list[str]:
    """The ends whose bevels no angle says."""
    return [end for end in ENDS if bevel_rows(piece, end) and not full_bevel(piece, end)]


def before_bevelling(piece: Piece, ends: Iterable[str]) -> list[Corner] | None:
    """The broad side with these ends drawn out to their noses, corners (x, across, 0) in mm; None where the outline
    is no plain quadrangle, so that it cannot be told which of its corners the bevel moved.
    """
    drawn = [outline for outline in piece.outlines if outline.face == "face"]
    if len(drawn) != 1:
        return None
    near = drawn[0].points
    far = near if drawn[0].far is None else drawn[0].far
    if len(near) != 4 or len(far) != 4:
        return None
    corners = _from_low_left(near)
    others = _from_low_left(far)
    for end in ends:
        first = end == "left"
        mine = (0, 3) if first else (1, 2)
        out = [min(corners[k][0], others[k][0]) if first else max(corners[k][0], others[k][0]) for k in mine]
        # A nose within the thickness stands out farther than either side: at x = 0, or at the length.
        more = min(out) if first else max(out) - piece.length
        for k, x in zip(mine, out, strict=True):
            corners[k] = (x - more, corners[k][1])
    return [(x, across, 0.0) for x, across in corners]


def blank(piece: Piece) -> list[Corner] | None:
    """The broad side of a bevelled flat as it is cut out, before it is bevelled; None where that cannot be told."""
    ends = [end for end in ENDS if bevel_rows(piece, end)]
    whole = before_bevelling(piece, ends)
    if whole is not None or by_hand(piece) or any(cut.kind == "notch" for cut in piece.cuts):
        return whole
    import shapely

    # Full bevels have their corners on either side, so that what stands out between them is straight.
    sides = [side for drawn in piece.outlines for side in (drawn.points, drawn.far) if side is not None]
    hull = shapely.MultiPoint([(x, across) for side in sides for x, across in side.tolist()]).convex_hull
    ring = shapely.geometry.polygon.orient(hull).exterior
    return [(float(x), float(across), 0.0) for x, across in ring.coords[:-1]]


def _from_low_left(loop: FloatArray) -> list[tuple[float, float]]:
    """The corners of a quadrangle: left and right on its low edge, right and left on its high one."""
    corners = sorted(((float(x), float(across)) for x, across in loop), key=lambda p: p[1])
    return [*sorted(corners[:2]), *sorted(corners[2:], reverse=True)]


def _offset(piece: Piece, end: str) -> float:
    """By how many mm the near side of an end has a greater x than its far side, at its outermost."""
    drawn = [outline for outline in piece.outlines if outline.far is not None]
    if not drawn:
        return 0.0
    near = [float(x) for outline in drawn for x in outline.points[:, 0]]
    far = [float(x) for outline in drawn if outline.far is not None for x in outline.far[:, 0]]
    return min(near) - min(far) if end == "left" else max(near) - max(far)
