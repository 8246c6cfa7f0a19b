"""Openings of a part as holes and notches of its faces.

Each solid of an opening is held against each wall of the part. Where it stands square to
the wall it is a hole, or a notch where it reaches over an edge or an end of the face;
where it runs along the wall and cuts it from side to side it is a notch or a rectangular
hole; a wall it does not reach is left alone. What is neither is a problem that holds.

Does not know: openings that end inside a wall from its inner side (but for plates and webs,
which a drill reaches from both), that only bevel a wall, or that meet a wall askew by more
than TILT_MOST_DEG.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from takeoff.ifc import opening_unions
from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.opening_prisms import Prism, Solid, item_solids, solids_of
from takeoff.ifc.opening_shapes import shape_of
from takeoff.ifc.opening_walls import Wall, curved_walls, walls_of
from takeoff.ifc.placements import placement
from takeoff.outlines import TWO_SIDED
from takeoff.queries import CHECK, HOLD, register
from takeoff.sections import loops
from takeoff.sections.voids import Void
from takeoff.steel import CHS, ROUND, Body, DrawnHole, FloatArray, Frame, Notch, Problem
from takeoff.units import COINCIDENCE_MM, PARALLEL_DEG

if TYPE_CHECKING:
    from shapely.geometry import Polygon

NOT_READ = register(
    "opening-not-read",
    HOLD,
    "An opening could not be read: {0}.",
    "Take the hole from the drawing, or have the opening written again as a round, slot or rectangle.",
)
NOTHING = register(
    "opening-removes-nothing",
    CHECK,
    "An opening belongs to the part but does not meet its steel.",
    "Ask the designer where the hole is meant to be.",
)
NO_SHAPE = register(
    "opening-shape-unknown",
    HOLD,
    "An opening in face {0} at x = {1} mm is neither round, slotted nor rectangular.",
    "Take its shape from the drawing and cut it by hand or by torch.",
)
NOT_THROUGH = register(
    "opening-not-through",
    HOLD,
    "An opening in face {0} at x = {1} mm does not go through the wall: it stops {2}.",
    "Ask the designer whether the hole goes through.",
)
ASKEW = register(
    "opening-askew",
    HOLD,
    "An opening meets face {0} at x = {1} mm at {2} degrees from square.",
    "Such a hole is not punched; ask the designer.",
)
ALONG = register(
    "opening-along-wall",
    HOLD,
    "An opening at x = {1} mm runs along face {0} and takes away part of its thickness.",
    "Take the cut from the drawing.",
)
OVERLAP = register(
    "opening-overlap",
    HOLD,
    "Openings of face {0} overlap at x = {1} mm, and together they are neither slot nor rectangle.",
    "Take the shape they make together from the drawing, or have them written as one opening.",
)
NO_FACE = register(
    "opening-no-face",
    HOLD,
    "The part has openings, but its section has no faces they could be measured on.",
    "Take the holes from the drawing.",
)

DAMAGE: Final = (TypeError, ValueError, IndexError, AttributeError, RuntimeError, ArithmeticError)
"""What reading an entity that breaks its schema raises."""
TILT_MOST_DEG: Final = 45.0
"""Holes further from square than this are not read; from PARALLEL_DEG on they carry their angle."""
SKIN_MM: Final = 0.1
"""Steel thinner than this left over an opening's end does not count: the opening goes through."""
TOUCH_MM: Final = 0.05
"""A cut along a wall whose sides are straight to this cuts it square."""
RADIAL_MM: Final = 0.5
"""A hole in a tube aims at the tube's middle to this."""
SLIVER_MM2: Final = 0.5
"""Overlaps smaller than this are touching, not overlapping."""

Found = tuple[tuple[DrawnHole, ...], tuple[Notch, ...], tuple[Problem, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class _Cut:
    """What one solid takes away from one face: its region, and the hole it is if it lies within."""

    region: Polygon
    hole: DrawnHole | None
    problem: Problem | None = None
    square: bool = True
    """Whether it stands square to the face."""


def read_openings(
    ctx: Context, product: Entity, body: Body, frame: Frame, openings: Sequence[Entity] | None = None
) -> Found:
    """Holes and notches in the piece frame of ``body``, and what is wrong with the openings.

    ``frame`` places the body in the model; ``openings`` are the part's IfcOpeningElements,
    None: those of its relations. Two openings that take away the same count once.
    """
    if openings is None:
        voids = sorted(product.HasOpenings, key=lambda relation: str(argument(relation, 0)))
        openings = [relation.RelatedOpeningElement for relation in voids]
    solids: list[Solid] = []
    problems: list[Problem] = []
    for opening in openings:
        try:
            place = placement(ctx, argument(opening, 5))
            solids += [in_piece(solid, place, frame) for solid in solids_of(ctx, opening)]
        except Unread as error:
            problems.append(Problem(NOT_READ, (error.sentence,)))
        except DAMAGE as error:
            sentence = f"it is damaged in the model file ({type(error).__name__}: {str(error).strip()[:80]})"
            problems.append(Problem(NOT_READ, (sentence,)))
    holes, notches, more = cut_by(body, solids)
    return holes, notches, (*problems, *more)


def read_subtracted(ctx: Context, items: Sequence[Entity], place: FloatArray, body: Body, frame: Frame) -> Found:
    """The same for solids a boolean takes away from a body: ``place`` (4, 4) mm takes their axes to the model."""
    solids: list[Solid] = []
    problems: list[Problem] = []
    for item in items:
        try:
            solids += [in_piece(solid, place, frame) for solid in item_solids(ctx, item)]
        except Unread as error:
            problems.append(Problem(NOT_READ, (error.sentence,)))
        except DAMAGE as error:
            sentence = f"it is damaged in the model file ({type(error).__name__}: {str(error).strip()[:80]})"
            problems.append(Problem(NOT_READ, (sentence,)))
    holes, notches, more = cut_by(body, solids)
    return holes, notches, (*problems, *more)


def in_piece(solid: Solid, place: FloatArray, frame: Frame) -> Solid:
    """A solid in the piece frame: ``place`` (4, 4) mm takes its axes to the model, ``frame`` the piece's."""
    to_piece = np.eye(4)
    to_piece[:3, :3] = frame.axes
    to_piece[:3, 3] = -frame.axes @ frame.origin
    matrix = to_piece @ place
    return tuple(prism.moved(matrix) for prism in solid)


def cut_by(body: Body, solids: Sequence[Solid]) -> Found:
    """What solids in the body's piece frame take away from its faces."""
    if not solids:
        return (), (), ()
    problems: list[Problem] = []
    walls: dict[tuple[str, float], Wall] = {}
    cuts: dict[tuple[str, float], list[_Cut]] = {}
    for wall in walls_of(body):
        walls[wall.name, 0.0] = wall
    curved = body.section.shape in (CHS, ROUND)
    if not walls and not curved:
        return (), (), (Problem(NO_FACE),)
    for solid in solids:
        met: list[tuple[tuple[str, float], Wall, list[_Cut]]] = []
        if curved:
            found, problem = _curved(body, solid)
            if problem is not None:
                problems.append(problem)
                continue
            met = [((wall.name, round(wall.turn, 9)), wall, taken) for wall, taken in found]
        else:
            met = [(key, wall, _cuts(wall, solid)) for key, wall in walls.items()]
        if not any(taken for _, _, taken in met):
            problems.append(Problem(NOTHING))
        for key, wall, taken in met:
            walls.setdefault(key, wall)
            cuts.setdefault(key, []).extend(taken)
    holes: list[DrawnHole] = []
    notches: list[Notch] = []
    for key, taken in cuts.items():
        within, over, more = _sorted_out(walls[key], taken)
        holes += within
        notches += over
        problems += more
    return tuple(holes), tuple(notches), tuple(dict.fromkeys(problems))


def _curved(body: Body, solid: Solid) -> tuple[list[tuple[Wall, list[_Cut]]], Problem | None]:
    """The same for a tube or round: the solid is seen square to the piece, the deepest way."""
    square = [p for p in solid if abs(float(p.axes[2][0])) <= math.sin(math.radians(PARALLEL_DEG))]
    if not square:
        prism = solid[0]
        angle = 90.0 - math.degrees(math.acos(min(1.0, abs(float(prism.axes[2][0])))))
        return [], Problem(ASKEW, ("wall", _text(float(prism.origin[0])), f"{angle:.0f}"))
    prism = max(square, key=lambda p: round(p.depth, 6))
    along = np.array([0.0, prism.axes[2][1], prism.axes[2][2]])
    along = along / np.linalg.norm(along)
    return [(wall, _across(wall, prism, 0.0)) for wall in curved_walls(body, along)], None


def _cuts(wall: Wall, solid: Solid) -> list[_Cut]:
    """What a solid takes from a wall, seen in the way that is most nearly square to it; empty where it misses."""
    prism = max(solid, key=lambda p: round(abs(float(p.axes[2] @ wall.inward)), 6))
    square = abs(float(prism.axes[2] @ wall.inward))
    angle = math.degrees(math.acos(min(1.0, square)))
    if angle > 90.0 - PARALLEL_DEG:
        return _along(wall, prism)
    return _across(wall, prism, angle)


def _across(wall: Wall, prism: Prism, angle: float) -> list[_Cut]:
    matrix = _on_face(wall, prism)
    flat = loops.flatten(prism.loop)
    start, end = _reach(wall, prism, flat)
    if end <= SKIN_MM or start >= wall.thickness - SKIN_MM:
        gouged = _gouged(wall, prism, flat) if angle > PARALLEL_DEG else None
        if gouged is None:
            return []
        return [_Cut(gouged, None, Problem(ASKEW, (wall.name, _text(wall.middle(gouged)[0]), f"{angle:.0f}")))]
    corners = np.column_stack([flat, np.ones(len(flat))]) @ matrix.T
    region = wall.region(corners[:, :2])
    if region is None:
        return []
    x = _text(wall.middle(region)[0])
    if angle > TILT_MOST_DEG:
        return [_Cut(region, None, Problem(ASKEW, (wall.name, x, f"{angle:.0f}")))]
    inside = start > SKIN_MM
    through = end >= wall.bottom(region) - SKIN_MM
    if inside and through and wall.name in TWO_SIDED and angle <= PARALLEL_DEG:
        sunk = _hole(wall, prism, matrix, angle)
        if sunk is not None and sunk.kind == "round":
            deep = _round(wall.bottom(region) - start)
            return [_Cut(region, replace(sunk, kind="blind", depth=deep, far=True), square=True)]
    if inside:
        return [_Cut(region, None, Problem(NOT_THROUGH, (wall.name, x, "short of its outside")))]
    hole = _hole(wall, prism, matrix, angle)
    if not through:
        if hole is None or hole.kind != "round":
            return [_Cut(region, None, Problem(NOT_THROUGH, (wall.name, x, f"at {end:.1f} mm from its outside")))]
        hole = replace(hole, kind="blind", depth=_round(end))
    return [_Cut(region, hole, square=angle <= PARALLEL_DEG)]


def _reach(wall: Wall, prism: Prism, flat: FloatArray) -> tuple[float, float]:
    """From which depth under the outside of the wall to which the whole loop is taken away."""
    ends = []
    for pushed in (0.0, prism.depth):
        base = prism.origin + pushed * prism.axes[2]
        depths = (base - wall.origin) @ wall.inward + flat @ (prism.axes[:2] @ wall.inward)
        ends.append((float(depths.min()), float(depths.max())))
    first, second = sorted(ends)
    return first[1], second[0]


def _gouged(wall: Wall, prism: Prism, flat: FloatArray) -> Polygon | None:
    """Where a prism whose ends lie askew to the wall runs into it with a part of its loop; None where it misses it."""
    near = prism.origin + flat @ prism.axes[:2]
    far = near + prism.depth * prism.axes[2]
    starts = np.concatenate([near, near, far])
    stops = np.concatenate([far, np.roll(near, -1, axis=0), np.roll(far, -1, axis=0)])
    a, b = (starts - wall.origin) @ wall.inward, (stops - wall.origin) @ wall.inward
    low, high = SKIN_MM, wall.thickness - SKIN_MM
    inside = (a >= low) & (a <= high)
    within = [starts[inside], stops[(b >= low) & (b <= high)]]
    for level in (low, high):
        crossing = (a - level) * (b - level) < 0
        share = (level - a[crossing]) / (b[crossing] - a[crossing])
        within.append(starts[crossing] + share[:, None] * (stops[crossing] - starts[crossing]))
    points = np.concatenate(within)
    if len(points) < 3:
        return None
    from shapely import MultiPoint

    seen = np.column_stack([points @ wall.x, (points - wall.origin) @ wall.direction])
    shadow = MultiPoint(seen).convex_hull
    if shadow.geom_type != "Polygon":
        return None
    return wall.region(np.array(shadow.exterior.coords[:-1]))


def _on_face(wall: Wall, prism: Prism) -> FloatArray:
    """(3, 3) from the loop's plane along the prism to (x, across) on the outside of the face."""
    along = prism.axes[2]
    fall = float(along @ wall.inward)

    def shadow(point: FloatArray) -> FloatArray:
        moved: FloatArray = point - float((point - wall.origin) @ wall.inward) / fall * along
        return moved

    base = shadow(prism.origin)
    sides = [shadow(prism.origin + axis) - base for axis in prism.axes[:2]]
    matrix: FloatArray = np.eye(3)
    for column, vector in enumerate(sides):
        matrix[0, column], matrix[1, column] = vector @ wall.x, vector @ wall.direction
    matrix[0, 2] = (base - wall.origin) @ wall.x
    matrix[1, 2] = (base - wall.origin) @ wall.direction
    return matrix


def _hole(wall: Wall, prism: Prism, matrix: FloatArray, angle: float) -> DrawnHole | None:
    """The hole of a loop in the plane it is drawn in, set down on the face; None where its shape has no name."""
    shape = shape_of(prism.loop)
    if shape is None or (shape.kind != "round" and angle > PARALLEL_DEG):
        return None
    x, across, _ = (matrix @ np.array([shape.x, shape.y, 1.0])).tolist()
    if wall.radius and abs(across) > RADIAL_MM:
        return None
    turn = 0.0
    if shape.kind != "round":
        way = matrix[:2, :2] @ np.array(
            [math.cos(math.radians(shape.slot_angle)), math.sin(math.radians(shape.slot_angle))]
        )
        turn = math.degrees(math.atan2(way[1], way[0])) % 180.0
    return _as_hole(wall, shape, x, across, turn, angle)


def _as_hole(wall: Wall, shape: Void, x: float, across: float, turn: float, angle: float) -> DrawnHole:
    """A shape set down on a face at (x, across), turned by ``turn`` and drilled ``angle`` degrees from square."""
    return DrawnHole(
        face=wall.name,
        x=_round(x),
        across=_round(wall.across(across)),
        diameter=_round(shape.diameter),
        slot_length=_round(shape.slot_length),
        slot_angle=0.0 if turn > 180.0 - 1e-6 else _round(turn),
        width=_round(shape.width),
        kind=shape.kind,
        tilt_deg=_round(angle) if angle > PARALLEL_DEG else 0.0,
    )


def _along(wall: Wall, prism: Prism) -> list[_Cut]:
    """A prism that runs along the wall: where it takes all of the thickness, the strip between its sides."""
    flat = loops.flatten(prism.loop)
    depths = (prism.origin - wall.origin) @ wall.inward + flat @ (prism.axes[:2] @ wall.inward)
    if depths.max() <= SKIN_MM or depths.min() >= wall.thickness - SKIN_MM:
        return []
    side = np.cross(wall.inward, prism.axes[2])
    places = (prism.origin - wall.origin) @ side + flat @ (prism.axes[:2] @ side)
    ends = float((prism.origin - wall.origin) @ prism.axes[2])
    outline = _slice(depths, places, 0.0, wall.thickness)
    low, high = float(places.min()), float(places.max())
    whole = _strip(wall, prism.axes[2], side, ends, prism.depth, low, high)
    region = wall.region(whole)
    if region is None:
        return []
    if outline is None:
        return [_Cut(region, None, Problem(ALONG, (wall.name, _text(wall.middle(region)[0]))))]
    corners = _strip(wall, prism.axes[2], side, ends, prism.depth, *outline)
    region = wall.region(corners)
    if region is None:
        return []
    shape = shape_of(tuple((float(x), float(y), 0.0) for x, y in corners))
    if shape is None:
        return [_Cut(region, None, Problem(NO_SHAPE, (wall.name, _text(wall.middle(region)[0]))))]
    hole = DrawnHole(
        wall.name, _round(shape.x), _round(wall.across(shape.y)), 0.0, _round(shape.slot_length),
        _round(shape.slot_angle), _round(shape.width), "rectangle",
    )  # fmt: skip
    return [_Cut(region, hole)]


def _strip(
    wall: Wall, along: FloatArray, side: FloatArray, start: float, depth: float, low: float, high: float
) -> FloatArray:
    """(4, 2) of (x, across): between two distances to the side, over the length of the prism."""
    points = [(start + t) * along + q * side for t, q in ((0.0, low), (depth, low), (depth, high), (0.0, high))]
    return np.array([(float(p @ wall.x), float(p @ wall.direction)) for p in points])


def _slice(depths: FloatArray, places: FloatArray, outside: float, inside: float) -> tuple[float, float] | None:
    """Between which places the outline takes away the wall over all its thickness; None where that changes."""
    from shapely.geometry import Polygon, box

    outline = Polygon(np.column_stack([places, depths]))
    if not outline.is_valid:
        outline = outline.buffer(0)
    low, high = float(places.min()) - 1.0, float(places.max()) + 1.0
    taken = outline.intersection(box(low, outside, high, inside))
    if taken.is_empty or taken.geom_type != "Polygon":
        return None
    left, bottom, right, top = taken.bounds
    full = (right - left) * (inside - outside)
    if top - bottom < inside - outside - SKIN_MM or full - taken.area > TOUCH_MM * (inside - outside):
        return None
    return left, right


def _sorted_out(wall: Wall, cuts: Sequence[_Cut]) -> tuple[list[DrawnHole], list[Notch], list[Problem]]:
    """Holes within the face, notches over its edges, and what overlaps or has no name."""
    problems = [cut.problem for cut in cuts if cut.problem is not None]
    alone: list[_Cut] = []
    for cut in cuts:
        if cut.problem is None and not (cut.hole and any(o.hole and _same(cut.hole, o.hole) for o in alone)):
            alone.append(cut)
    holes: list[tuple[DrawnHole, Any]] = []
    over: list[Any] = []
    for cut in _united(wall, alone):
        x = _text(wall.middle(cut.region)[0])
        if wall.within(cut.region):
            if cut.hole is None:
                problems.append(Problem(NO_SHAPE, (wall.name, x)))
            else:
                holes.append((cut.hole, cut.region))
        elif cut.hole is not None and cut.hole.kind == "blind":
            problems.append(Problem(NOT_THROUGH, (wall.name, x, "in the wall, at an edge")))
        else:
            over.append(cut.region)
    notched = wall.clipped(over)
    for i, (_, region) in enumerate(holes):
        others = [other for _, other in holes[i + 1 :]] + notched
        for other in others:
            shared = region.intersection(other)
            if shared.area > SLIVER_MM2:
                problems.append(Problem(OVERLAP, (wall.name, _text(wall.middle(shared)[0]))))
    notches = []
    for region in notched:
        if region.interiors:
            problems.append(Problem(OVERLAP, (wall.name, _text(wall.middle(region)[0]))))
        notches.append(Notch(wall.name, wall.loop(region)))
    found = sorted((hole for hole, _ in holes), key=lambda h: (h.x, h.across, h.diameter, h.slot_length, h.slot_angle))
    return found, sorted(notches, key=lambda n: n.loop), problems


def _united(wall: Wall, cuts: Sequence[_Cut]) -> list[_Cut]:
    """The cuts, those that touch and together are one slot or rectangle as one; the rest as they are.

    Only what goes square through the wall: a counterbore is no bigger hole. Two rounds one inside the other
    stay two: which diameter is meant cannot be known.
    """
    if len(cuts) < 2:
        return list(cuts)
    found: list[_Cut] = []
    for numbers in opening_unions.groups([cut.region for cut in cuts]):
        group = [cuts[i] for i in numbers]
        whole = None
        if len(group) > 1 and all(_plain(cut) for cut in group):
            whole = opening_unions.together([cut.region for cut in group])
        if whole is None:
            slot = None
            if len(group) > 1 and not wall.radius and all(_plain(cut) for cut in group):
                slot = opening_unions.open_slot([cut.region for cut in group], wall.outline)
            found += group if slot is None else [_Cut(slot, None)]
            continue
        shape, region = whole
        doubtful = shape.kind == "round" and any(cut.hole is not None for cut in group)
        if doubtful or (wall.radius and abs(shape.y) > RADIAL_MM):
            found += group
        else:
            found.append(_Cut(region, _as_hole(wall, shape, shape.x, shape.y, shape.slot_angle, 0.0)))
    return found


def _plain(cut: _Cut) -> bool:
    return cut.square and (cut.hole is None or (cut.hole.kind != "blind" and cut.hole.tilt_deg == 0))


def _same(one: DrawnHole, other: DrawnHole) -> bool:
    numbers = ("x", "across", "diameter", "slot_length", "slot_angle", "width")
    return (one.kind, one.far) == (other.kind, other.far) and all(
        abs(getattr(one, name) - getattr(other, name)) <= COINCIDENCE_MM for name in numbers
    )


def _round(value: float) -> float:
    """To a millionth: the noise of transformations would otherwise tell equal holes apart."""
    return round(value, 6) + 0.0


def _text(value: float) -> str:
    return f"{value:.1f}"
