"""What would make a wrong piece: small functions over a finished piece, collected in CHECKS.

Each takes a Piece and yields findings: (code, values), or a Spot for each hole. Spots of one cause are one query that
counts and names the holes; it does not name the mark, so that the query sheet can put marks alike into one row. The
codes' severities say what follows: only what would make scrap or a dangerous piece holds it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from math import cos, hypot, pi, radians, sin
from typing import NamedTuple

from takeoff.queries import ASSUMED, HOLD, Query, query, register
from takeoff.sections.shapes import is_lipped_channel, is_zed
from takeoff.steel import ANGLE, CHANNEL, CHS, I_SHAPE, OTHER, RHS, ROUND, T_SHAPE, Hole, Piece, Point2, Section
from takeoff.turned import slot_ends
from takeoff.units import PRINT_EXACT_MM, millimetres

EDGE_MM = 0.05
"""A hole may touch an edge by this much before it is said to run off it: rounding of the model."""

HOLES_NAMED = 24
"""Holes of one cause that a query names; the hole table has them all."""


class Spot(NamedTuple):
    """A hole, or two, that a check found: the ``wall`` it is about, which ``holes``, their size and by how much, mm."""

    code: str
    wall: str
    holes: str
    size: str
    amount: float


Finding = tuple[str, tuple[object, ...]]

HOLE_OFF_EDGE = register(
    "hole-off-edge",
    HOLD,
    "Off the edge of {2} by {1} mm: {0}.",
    "The hole cannot be made as drawn. Ask the designer where it belongs.",
)
HOLE_OFF_END = register(
    "hole-off-end",
    HOLD,
    "Off the end of the piece by {1} mm: {0}.",
    "The hole cannot be made as drawn. Ask the designer for the length or the hole.",
)
HOLE_IN_OTHER_WALL = register(
    "hole-in-other-wall",
    HOLD,
    "Into {2} by {1} mm: {0}.",
    "The bolt would stand in the corner of the section. Ask the designer for the gauge.",
)
HOLES_OVERLAP = register(
    "holes-overlap",
    HOLD,
    "Holes in {2} run into each other, {1} mm between their centres: {0}.",
    "Ask the designer whether this is one slot or two bolts in each other's way.",
)
END_MM = 0.1
"""How far a piece's steel may fall short of its ends: rounding of the model."""
END_CUT_AWAY = register(
    "end-cut-away",
    HOLD,
    "An opening takes the whole end of the piece away, {0} mm of its length.",
    "The piece is shorter than it is modelled. Ask for the model with the part cut to length, or detail it by hand.",
)
PIECE_IN_TWO = register(
    "piece-in-two",
    HOLD,
    "An opening cuts the piece in two: no steel is left between x = {0} and {1} mm.",
    "Ask the designer whether these are two pieces.",
)
NOTHING_LEFT = register(
    "nothing-left",
    HOLD,
    "Openings take all of the steel away.",
    "Ask the designer whether the part or the opening is meant.",
)
SECTION_WITHOUT_FACES = register(
    "section-without-faces",
    HOLD,
    "Its section is none of the shapes whose holes can be found ({0}).",
    "Detail this piece by hand from the model; the list carries its length only.",
)
NEAR_TWINS = register(
    "near-twins",
    ASSUMED,
    "The {0} parts of this mark differ by up to {1} mm in the model; they were taken as one piece.",
    "Nothing, if they are meant to be alike. Else narrow the tolerances in the settings, [identity].",
)

_WALLS = {"A": "leg", "B": "leg", "web": "the", "top": "the", "bottom": "the", "stem": "the", "face": "the"}


def _wall(name: str) -> str:
    """``leg A`` for an angle's face, ``the web`` for another's."""
    return f"{_WALLS.get(name, 'the')} {name}"


def reach_across(hole: Hole) -> tuple[float, float]:
    """Lowest and highest across of a hole's edge, mm."""
    points, radius = _core(hole)
    return min(a for _, a in points) - radius, max(a for _, a in points) + radius


def reach_along(hole: Hole) -> tuple[float, float]:
    """Leftmost and rightmost x of a hole's edge, mm."""
    points, radius = _core(hole)
    return min(x for x, _ in points) - radius, max(x for x, _ in points) + radius


def strips(section: Section, face: str) -> tuple[tuple[float, float, str], ...]:
    """Where a face has no other wall behind it: (low, high, name of the wall that bounds it), mm."""
    s = section
    if s.shape == ANGLE:
        return ((s.tw, s.h if face == "A" else s.b, "leg B" if face == "A" else "leg A"),)
    if s.shape == CHANNEL or is_lipped_channel(s) or is_zed(s):
        return ((s.tf, s.h - s.tf, "the flange"),) if face == "web" else ((s.tw, s.b2 or s.b, "the web"),)
    if s.shape == I_SHAPE and face == "web":
        return ((s.tf2 or s.tf, s.h - s.tf, "the flange"),)
    if s.shape == T_SHAPE and face == "stem":
        return ((s.tf, s.h, "the flange"),)
    if s.shape in (I_SHAPE, T_SHAPE):
        half = (s.b2 or s.b) / 2 if face == "bottom" else s.b / 2
        wall = "the web" if s.shape == I_SHAPE else "the stem"
        return ((-half, -s.tw / 2, wall), (s.tw / 2, half, wall))
    if s.shape == RHS:
        side = s.h if face in ("front", "back") else s.b
        return ((s.tw, side - s.tw, "the next wall"),)
    return ()


def hole_in_other_wall(piece: Piece) -> Iterator[Spot]:
    """A hole that cuts the heel, the web or a flange behind its face."""
    for hole in piece.holes:
        free = strips(piece.section, hole.face)
        if not free:
            continue
        low, high = reach_across(hole)
        face = next(f for f in piece.faces if f.name == hole.face)

        def deep(strip: tuple[float, float, str], low: float = low, high: float = high) -> float:
            return max(strip[0] - low, high - strip[1])

        best = min(free, key=deep)
        # Beyond the toe there is no wall to run into: that is the edge's business.
        into = max(
            best[0] - low if best[0] > face.low + EDGE_MM else 0.0,
            high - best[1] if best[1] < face.high - EDGE_MM else 0.0,
        )
        if into > EDGE_MM:
            size = millimetres(hole.diameter or hole.width)
            yield Spot(HOLE_IN_OTHER_WALL, f"{best[2]} from {_wall(hole.face)}", hole.label, size, into)


def hole_off_edge(piece: Piece) -> Iterator[Spot]:
    """A hole that is not wholly inside its face, cuts and notches taken into account."""
    if not piece.holes:
        return
    import shapely

    outlines: dict[str, list[object]] = {}
    for outline in piece.outlines:
        outlines.setdefault(outline.face, []).append(shapely.Polygon(outline.points))
    for hole in piece.holes:
        size = millimetres(hole.diameter or hole.width)
        left, right = reach_along(hole)
        off = max(-left, right - piece.length)
        if off > EDGE_MM:
            yield Spot(HOLE_OFF_END, "", hole.label, size, off)
            continue
        if hole.face not in outlines:
            continue
        steel = shapely.union_all(outlines[hole.face])
        edge = shapely.boundary(steel)
        points, radius = _core(hole)
        over = 0.0
        for point in points:
            spot = shapely.Point(point)
            away = shapely.distance(spot, edge)
            over = max(over, radius + (-away if shapely.covers(steel, spot) else away))
        if over > EDGE_MM:
            yield Spot(HOLE_OFF_EDGE, _wall(hole.face), hole.label, size, over)


def holes_overlap(piece: Piece) -> Iterator[Spot]:
    """Two holes of a face that cut each other."""
    by_face: dict[str, list[Hole]] = {}
    for hole in piece.holes:
        by_face.setdefault(hole.face, []).append(hole)
    girth = pi * piece.section.h if piece.section.shape in (CHS, ROUND) else 0.0
    for face, holes in by_face.items():
        ordered = sorted(holes, key=lambda h: h.x)
        longest = max(max(h.diameter, hypot(h.slot_length, h.width)) for h in ordered)
        for k, one in enumerate(ordered):
            for other in ordered[k + 1 :]:
                if other.x - one.x > longest:
                    break
                # Round a tube the nearest way may lead across the datum.
                over = girth * round((one.across - other.across) / girth) if girth else 0.0
                if _clear(one, other, over) < -EDGE_MM:
                    away = hypot(one.x - other.x, one.across - other.across - over)
                    yield Spot(HOLES_OVERLAP, _wall(face), f"{one.label} and {other.label}", "", away)


def _clear(one: Hole, other: Hole, over: float) -> float:
    """Steel between two holes, mm, the second moved by ``over`` across; negative where they overlap."""
    if not (one.slot_length or other.slot_length):
        return hypot(one.x - other.x, one.across - other.across - over) - (one.diameter + other.diameter) / 2
    import shapely

    (first, radius), (second, reach) = _core(one), _core(other)
    moved = [(x, across + over) for x, across in second]

    def shape(points: Sequence[Point2]) -> object:
        return shapely.MultiPoint(points).convex_hull

    return float(shapely.distance(shape(first), shape(moved))) - radius - reach


def _core(hole: Hole) -> tuple[list[Point2], float]:
    """Points whose hull, widened by a radius, is the hole: its centre, a slot's ends, a rectangle's inner corners."""
    if hole.kind == "rectangle":
        # Sharp corners are taken a hair round, so that touching and overlapping can be told apart.
        radius = max(hole.diameter / 2, EDGE_MM)
        long, short = max(hole.slot_length / 2 - radius, 0.0), max(hole.width / 2 - radius, 0.0)
        c, s = cos(radians(hole.slot_angle)), sin(radians(hole.slot_angle))
        corners = [(i * long, j * short) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        return [(hole.x + p * c - q * s, hole.across + p * s + q * c) for p, q in corners], radius
    if hole.slot_length:
        return list(slot_ends(hole.x, hole.across, hole.slot_length, hole.diameter, hole.slot_angle)), hole.diameter / 2
    return [(hole.x, hole.across)], hole.diameter / 2


def section_without_faces(piece: Piece) -> Iterator[Finding]:
    """A section in which bolts cannot be given a place."""
    if piece.section.shape == OTHER and not piece.faces:
        yield SECTION_WITHOUT_FACES, (piece.section.designation,)


def steel_left(piece: Piece) -> Iterator[Finding]:
    """Openings and notches that take more than an edge: a whole end, a slice across, or everything.

    Its length and its holes would then be measured from steel that is not there.
    """
    if not piece.faces or piece.section.shape in (CHS, ROUND):
        return
    loops: dict[str, list[tuple[float, float]]] = {face.name: [] for face in piece.faces}
    for outline in piece.outlines:
        if len(outline.points) >= 3:
            xs = outline.points[:, 0]
            loops[outline.face].append((float(xs.min()), float(xs.max())))
    spans = [span for found in loops.values() for span in found]
    if not spans:
        yield NOTHING_LEFT, ()
        return
    left, right = min(low for low, _ in spans), max(high for _, high in spans)
    # The extreme point of a skew end may lie inside the section, where no outside face reaches.
    askew = {cut.end for cut in piece.cuts if cut.kind in ("skew", "clip", "bevel")}
    for end, away in (("left", left), ("right", piece.length - right)):
        if away > (max(piece.section.h, piece.section.b) if end in askew else END_MM):
            yield END_CUT_AWAY, (millimetres(away),)
    reach = left
    for low, high in sorted(spans):
        if low > reach + END_MM:
            yield PIECE_IN_TWO, (millimetres(reach), millimetres(low))
            return
        reach = max(reach, high)


def near_twins(piece: Piece) -> Iterator[Finding]:
    """Parts that are not quite the same and got one mark; what a drawing would not show is not worth a word."""
    if piece.spread > PRINT_EXACT_MM:
        yield NEAR_TWINS, (piece.quantity, f"{piece.spread:.2f}")


CHECKS: tuple[Callable[[Piece], Iterable[Finding | Spot]], ...] = (
    section_without_faces,
    steel_left,
    hole_off_edge,
    hole_in_other_wall,
    holes_overlap,
    near_twins,
)


def check_piece(piece: Piece, global_ids: tuple[str, ...]) -> list[Query]:
    """All findings on one piece, as queries that name it; holes of one cause in one query."""
    found: dict[tuple[str, str | tuple[object, ...]], list[Spot]] = {}
    for check in CHECKS:
        for finding in check(piece):
            if isinstance(finding, Spot):
                found.setdefault((finding.code, finding.wall), []).append(finding)
            else:
                found[finding] = []
    asked = []
    for (code, cause), spots in found.items():
        values = (_named(spots), _amounts(code, spots), cause) if isinstance(cause, str) else cause
        asked.append(query(code, *values, piece_mark=piece.mark, global_ids=global_ids))
    return asked


def _named(spots: Sequence[Spot]) -> str:
    """``hole A1 (18 mm)``, ``3 holes: A1, A2 and A5 (18, 22 mm)``."""
    sizes = ", ".join(dict.fromkeys(spot.size for spot in spots if spot.size))
    size = f" ({sizes} mm)" if sizes else ""
    if len(spots) == 1:
        return f"{'' if ' ' in spots[0].holes else 'hole '}{spots[0].holes}{size}"
    names = [spot.holes for spot in spots]
    rest = f" and {len(names) - HOLES_NAMED} more" if len(names) > HOLES_NAMED else ""
    kind = "pairs" if " " in names[0] else "holes"
    return f"{len(spots)} {kind}: {', '.join(names[:HOLES_NAMED])}{rest}{size}"


def _amounts(code: str, spots: Sequence[Spot]) -> str:
    """By how much, in mm: the least distance of holes that overlap, else the most that one runs off."""
    least, most = (millimetres(pick(spot.amount for spot in spots)) for pick in (min, max))
    if least == most:
        return most
    return f"{least} to {most}" if code == HOLES_OVERLAP else f"up to {most}"
