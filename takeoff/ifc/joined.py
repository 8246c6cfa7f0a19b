"""Several bodies of one part as the one piece they draw, where that is certain.

Read as one: lengths of one section end to end; and prisms of one depth whose outlines together are one outline
(a plate in two halves, an angle as leg and leg). Plates must lie in one plane: two on one another are two
plates. A rolled shape made of several counts only where it is in a table or the part is called by it, since
plates welded to an I look the same.

Anything else is built up: Unread says of what.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from takeoff.drawn import Refusal, read_solid
from takeoff.ifc.context import Unread
from takeoff.ifc.prisms import is_flat
from takeoff.outlines import clip, flatten, rectangle
from takeoff.queries import ASSUMED, register
from takeoff.sections import designations, shapes, tables
from takeoff.sections.named import disagreement
from takeoff.settings import Settings
from takeoff.steel import FLAT, OTHER, PLATE, Body, DrawnHole, FloatArray, Notch, Plane

if TYPE_CHECKING:
    from shapely.geometry import Polygon

JOINED = register(
    "part-bodies-joined",
    ASSUMED,
    "These parts are drawn as several bodies that touch; they were read as one piece each: {0}.",
    "Look at one of them: are they one piece, not several welded together?",
)
TOUCH_MM: Final = 0.05
"""Bodies with less between them touch."""
MOST_SHARED: Final = 0.5
"""Of the smaller of two bodies: what shares more is no half or leg beside another."""
_PARALLEL: Final = 1e-6
_BROAD: Final = (FLAT, PLATE)

Placed = tuple[Body, FloatArray]
"""A body and its piece axes (4, 4: columns x, u, v, origin) in common coordinates."""


def one_of(pieces: Sequence[Placed], text: str, settings: Settings) -> Placed:
    """The piece that bodies draw together; raises Unread with the end of a sentence about the part.

    ``text`` is what the model calls the section.
    """
    if not _hang_together(pieces):
        raise Unread(f"{_listed(pieces)}, which do not touch")
    found = _end_to_end(pieces)
    if found is not None:
        return found
    reason = "built up, of one piece or of several is not said"
    for way in _ways(*pieces[0]):
        outlines = [way.outline]
        for body, axes in pieces[1:]:
            match = next((other for other in _ways(body, axes) if way.alike(other)), None)
            if match is None:
                break
            outlines.append(match.seen_in(way))
        if len(outlines) < len(pieces):
            continue
        if _cover(outlines):
            reason = "one lies over the other, and which is meant is not said"
            continue
        whole = _union(outlines)
        if whole is None:
            continue
        made = _swept(whole, way, text, settings)
        if made is None:
            continue
        doubt = _doubt(made, pieces, text)
        if not doubt:
            return made
        reason = doubt
    raise Unread(f"{_listed(pieces)}: {reason}")


def _listed(pieces: Sequence[Placed]) -> str:
    """What the bodies are: ``2 x PL 10x200, 1 x L 100x100x8``."""
    names = Counter(body.section.designation for body, _ in pieces)
    return ", ".join(f"{count} x {name}" for name, count in sorted(names.items()))


def _doubt(made: Placed, pieces: Sequence[Placed], text: str) -> str:
    """Why a piece made of several bodies is not certain; empty where it is."""
    body, axes = made
    section = body.section
    if section.shape in _BROAD:
        in_plane = all(
            one.section.shape in _BROAD
            and abs(one.section.tw - section.tw) <= TOUCH_MM
            and abs(float(at[:3, 1] @ axes[:3, 1])) > 1 - _PARALLEL
            for one, at in pieces
        )
        return "" if in_plane else "plates on one another"
    if section.shape == OTHER and not section.tw:
        return "together they are none of the known shapes"
    called = bool(text) and designations.read(text) is not None and disagreement(text, section) is None
    if section.standard or called:
        return ""
    return f"together they would be {section.designation}, in no table: rolled or welded is not said"


# ------------------------------------------------------------ touching


def _hang_together(pieces: Sequence[Placed]) -> bool:
    """Whether the boxes round the bodies touch, one after another."""
    boxes = [_box(body, axes) for body, axes in pieces]
    reached, rest = [0], list(range(1, len(boxes)))
    for i in reached:
        low, high = boxes[i]
        for j in list(rest):
            other_low, other_high = boxes[j]
            if (low - TOUCH_MM <= other_high).all() and (other_low <= high + TOUCH_MM).all():
                reached.append(j)
                rest.remove(j)
    return not rest


def _box(body: Body, axes: FloatArray) -> tuple[FloatArray, FloatArray]:
    ring = shapes.outline(body.section)
    corners = np.array([(x, u, v) for x in (0.0, body.length) for u, v in ring.tolist()])
    here = corners @ axes[:3, :3].T + axes[:3, 3]
    return here.min(axis=0), here.max(axis=0)


# ------------------------------------------------------------ end to end


def _end_to_end(pieces: Sequence[Placed]) -> Placed | None:
    """Lengths of one rolled section, lying alike on one line without a gap; None where they are not that."""
    first, frame = pieces[0]
    if first.section.shape in _BROAD:
        return None
    back = np.linalg.inv(frame)
    stretches: list[tuple[float, Body]] = []
    for body, axes in pieces:
        here = back @ axes
        if body.section != first.section or float(np.abs(here[:3, :3] - np.eye(3)).max()) > _PARALLEL:
            return None
        if float(np.abs(here[1:3, 3]).max()) > TOUCH_MM:
            return None
        stretches.append((float(here[0, 3]), body))
    stretches.sort(key=lambda s: (round(s[0], 6), round(s[1].length, 6)))
    begin = stretches[0][0]
    end = begin + stretches[0][1].length
    holes: list[DrawnHole] = []
    notches: list[Notch] = []
    for k, (start, body) in enumerate(stretches):
        if k and start > end + TOUCH_MM:
            return None
        overlap = end - start if k else 0.0
        # where they overlap a hole of one may be filled by the other
        pierced = any(b.holes or b.notches for _, b in stretches)
        if overlap > MOST_SHARED * body.length or (overlap > TOUCH_MM and pierced):
            return None
        if (k and body.left) or (k < len(stretches) - 1 and body.right):
            return None
        for notch in body.notches:
            xs = [x for x, _ in notch.loop]
            if (k and min(xs) < TOUCH_MM) or (k < len(stretches) - 1 and max(xs) > body.length - TOUCH_MM):
                return None
        shift = start - begin
        holes += [replace(hole, x=round(hole.x + shift, 6)) for hole in body.holes]
        notches += [replace(n, loop=tuple((round(x + shift, 6), y) for x, y in n.loop)) for n in body.notches]
        end = max(end, start + body.length)
    last_start, last = max(stretches, key=lambda s: round(s[0] + s[1].length, 6))
    right = tuple(_moved(plane, last_start - begin) for plane in last.right)
    problems = tuple(dict.fromkeys(problem for _, body in stretches for problem in body.problems))
    whole = Body(
        first.section, round(end - begin, 6), stretches[0][1].left, right, (), tuple(notches), tuple(holes), problems
    )
    place = frame.copy()
    place[:3, 3] += begin * frame[:3, 0]
    return whole, place


def _moved(plane: Plane, shift: float) -> Plane:
    x, u, v = plane.point
    return Plane((x + shift, u, v), plane.normal)


# ------------------------------------------------------------ prisms of one depth


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """A body seen as a prism: ``outline`` in the plane of ``e1`` and ``e2``, pushed along ``along`` from low to high.

    All in the common coordinates: a point is ``a e1 + b e2 + t along``.
    """

    e1: FloatArray
    e2: FloatArray
    along: FloatArray
    low: float
    high: float
    outline: Any

    def alike(self, other: _Way) -> bool:
        """Whether both run the same way over the same stretch."""
        same = float(self.along @ other.along)
        if abs(same) < 1 - _PARALLEL:
            return False
        low, high = (other.low, other.high) if same > 0 else (-other.high, -other.low)
        return abs(low - self.low) <= TOUCH_MM and abs(high - self.high) <= TOUCH_MM

    def seen_in(self, other: _Way) -> Polygon:
        """The outline in another one's plane."""
        from shapely.affinity import affine_transform

        turn = [
            float(self.e1 @ other.e1), float(self.e2 @ other.e1),
            float(self.e1 @ other.e2), float(self.e2 @ other.e2), 0.0, 0.0,
        ]  # fmt: skip
        return affine_transform(self.outline, turn)


def _ways(body: Body, axes: FloatArray) -> list[_Way]:
    """Every way to see a body as a prism, a plate first through its thickness."""
    from shapely import Polygon

    x, u, v, origin = (axes[:3, k] for k in range(4))
    section = body.section

    def way(e1: FloatArray, e2: FloatArray, along: FloatArray, depth: float, outline: Any) -> _Way:
        from shapely.affinity import translate

        start = float(origin @ along)
        return _Way(e1, e2, along, start, start + depth, translate(outline, float(origin @ e1), float(origin @ e2)))

    found: list[_Way] = []
    plain = not (body.left or body.right or body.holes or body.notches or body.outline)
    if section.shape in _BROAD:
        outline = _broad(body)
        if outline is not None:
            found.append(way(x, v, u, section.tw, outline))
    if plain:
        outer, *inners = shapes.rings(section)
        found.append(way(u, v, x, body.length, Polygon(outer, inners)))
        if section.shape in _BROAD:
            long = Polygon([(0, 0), (body.length, 0), (body.length, section.b), (0, section.b)])
            found.append(way(x, u, v, section.h, long))
    return found


def _broad(body: Body) -> Polygon | None:
    """A plate seen on its broad side in (x, across); None where its edges or holes are not square to it."""
    from shapely import Polygon

    (face,) = shapes.faces(body.section)
    if any(abs(plane.normal[1]) * face.thickness > TOUCH_MM for plane in (*body.left, *body.right)):
        return None
    points = flatten(body.outline) if body.outline else rectangle(face, body.length)
    for plane in () if body.outline else (*body.left, *body.right):
        points = clip(points, face, plane, False)
    whole = Polygon(points)
    for notch in body.notches:
        whole = whole.difference(Polygon(notch.loop).buffer(1e-6))
    for hole in body.holes:
        if hole.kind not in ("round", "slot", "rectangle") or hole.tilt_deg:
            return None
        whole = whole.difference(_mouth(hole))
    return whole if whole.geom_type == "Polygon" else None


def _mouth(hole: DrawnHole) -> Any:
    from shapely import LineString, Point, box
    from shapely.affinity import rotate, translate

    shape: Any
    if hole.kind == "round":
        return Point(hole.x, hole.across).buffer(hole.diameter / 2, quad_segs=24)
    r = hole.diameter / 2
    if hole.kind == "slot":
        half = hole.slot_length / 2 - r
        shape = LineString([(-half, 0.0), (half, 0.0)]).buffer(r, quad_segs=24)
    else:
        x, y = hole.slot_length / 2 - r, hole.width / 2 - r
        shape = box(-x, -y, x, y)
        shape = shape.buffer(r, quad_segs=24) if r else shape
    return translate(rotate(shape, hole.slot_angle, origin=(0, 0)), hole.x, hole.across)


def _union(outlines: Sequence[Polygon]) -> Polygon | None:
    """The outlines as one, seams closed; None where they are several or touch in a corner only."""
    from shapely import union_all

    half = TOUCH_MM / 2
    whole = union_all([outline.buffer(half, join_style="mitre") for outline in outlines])
    whole = whole.buffer(-half, join_style="mitre")
    if whole.geom_type != "Polygon" or whole.buffer(-half).geom_type != "Polygon":
        return None
    return whole.simplify(1e-3)


def _cover(outlines: Sequence[Polygon]) -> bool:
    """Whether two outlines share most of one of them: a part drawn twice, not quite alike."""
    return any(
        one.intersection(other).area > MOST_SHARED * min(one.area, other.area)
        for one, other in combinations(outlines, 2)
    )


def _swept(whole: Polygon, way: _Way, text: str, settings: Settings) -> Placed | None:
    """The piece that an outline swept along a way is, read as any drawn body; None where it is none."""
    rings = [np.array(ring.coords[:-1]) for ring in (whole.exterior, *whole.interiors)]
    points: list[FloatArray] = []
    facets: list[tuple[tuple[int, ...], ...]] = []
    caps: tuple[list[tuple[int, ...]], list[tuple[int, ...]]] = ([], [])
    first = 0
    for ring in rings:
        count = len(ring)
        flat = ring[:, :1] * way.e1 + ring[:, 1:] * way.e2
        points += [flat + way.low * way.along, flat + way.high * way.along]
        near, far = tuple(range(first, first + count)), tuple(range(first + count, first + 2 * count))
        caps[0].append(near)
        caps[1].append(far)
        facets += [((near[i - 1], near[i], far[i], far[i - 1]),) for i in range(count)]
        first += 2 * count
    facets += [tuple(cap) for cap in caps]
    flats: Callable[[float, float, float], bool] = lambda width, thick, length: is_flat(  # noqa: E731
        width, thick, length, text, settings.flats
    )
    read = read_solid(np.round(np.concatenate(points), 6), facets, flats, TOUCH_MM / 10)
    if isinstance(read, Refusal):
        return None
    place = np.eye(4)
    place[:3, :3] = read.axes.T
    place[:3, 3] = read.origin
    return replace(read.body, section=tables.match(read.body.section, text, settings.weights.mass)), place
