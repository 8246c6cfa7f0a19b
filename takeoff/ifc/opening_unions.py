"""Openings of one face that together make one hole: two rounds and a box between them are a slot.

A union counts only where it *is* a round, a slot or a rectangle: every point of its edge lies within
``LIKE_MM`` of that shape's edge. Two rounds side by side are none: the waist between them stays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from takeoff.ifc.opening_shapes import shape_of
from takeoff.sections.measures import snap
from takeoff.sections.voids import Void

if TYPE_CHECKING:
    from shapely.geometry import Polygon

LIKE_MM: Final = 0.1
"""How far the edge of a union may stray from the shape it is read as: far less than a punch's own play."""
TOUCH_MM: Final = 0.02
"""Openings that leave less steel than this between them leave none."""
_QUARTER: Final = 32


def groups(regions: Sequence[Polygon]) -> list[list[int]]:
    """The numbers of regions that touch or overlap, group by group, each in order."""
    from shapely import STRtree

    grown = [region.buffer(TOUCH_MM / 2) for region in regions]
    parent = list(range(len(grown)))

    def root(i: int) -> int:
        while parent[i] != i:
            i = parent[i]
        return i

    if len(grown) > 1:
        pairs = STRtree(grown).query(grown, predicate="intersects")
        for a, b in pairs.T.tolist():
            one, two = root(a), root(b)
            parent[max(one, two)] = min(one, two)
    found: dict[int, list[int]] = {}
    for i in range(len(grown)):
        found.setdefault(root(i), []).append(i)
    return list(found.values())


def together(regions: Sequence[Polygon]) -> tuple[Void, Polygon] | None:
    """The round, slot or rectangle that regions make together, and their union; None where they make none."""
    from shapely import union_all

    # half the gap that counts as none, out and in again, closes it and leaves sharp corners as they are
    grown = [region.buffer(TOUCH_MM / 2, join_style="mitre") for region in regions]
    whole = union_all(grown).buffer(-TOUCH_MM / 2, join_style="mitre")
    if whole.geom_type != "Polygon" or any(hole.length > TOUCH_MM for hole in map(_ring, whole.interiors)):
        return None
    for region in regions:
        if region.buffer(TOUCH_MM).covers(whole):
            # it covers the others: the hole itself, exactly as it was drawn
            whole = region
    edge = whole.simplify(1e-4).exterior.coords[:-1]
    exact = shape_of(tuple((float(x), float(y), 0.0) for x, y in edge))
    if exact is None or not _like(whole, exact):
        exact = _fitted(whole)
    return None if exact is None else (_tidy(exact), whole)


def open_slot(regions: Sequence[Polygon], outline: Polygon) -> Polygon | None:
    """The union of regions where they make a slot or rectangle that runs out over a straight edge of an upright
    rectangle; None where they do not.

    Such a one and its mirror image in the edge are a whole slot.
    """
    from shapely import union_all
    from shapely.affinity import scale

    left, low, right, high = outline.bounds
    if outline.area < (right - left) * (high - low) - 1e-6:
        return None
    whole = union_all(list(regions))
    here = whole.intersection(outline)
    if here.geom_type != "Polygon":
        return None
    for number, edge in enumerate((left, low, right, high)):
        if abs(here.bounds[number] - edge) > TOUCH_MM:
            continue
        upright = number % 2 == 0
        image = scale(here, *((-1, 1) if upright else (1, -1)), origin=(edge, 0.0) if upright else (0.0, edge))
        found = together([here, image])
        if found is not None and found[0].kind != "round":
            return whole
    return None


def _ring(ring: Any) -> Any:
    from shapely import Polygon

    return Polygon(ring)


def _tidy(void: Void) -> Void:
    """Without the noise of the union: sizes as they are drawn, the angle to a thousandth of a degree."""
    angle = round(void.slot_angle, 3) % 180.0
    return Void(
        void.x, void.y, snap(void.diameter), snap(void.slot_length), angle + 0.0, snap(void.width), kind=void.kind
    )


def _fitted(whole: Polygon) -> Void | None:
    """The shape of the union's smallest rectangle that fits its edge, if one does."""
    from shapely import LineString, Point

    box = whole.minimum_rotated_rectangle
    if box.geom_type != "Polygon":
        return None
    corners = list(box.exterior.coords)
    sides = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(corners[:3])]
    lengths = [math.hypot(*side) for side in sides]
    long = 0 if lengths[0] >= lengths[1] else 1
    length, width = lengths[long], lengths[1 - long]
    if length - width > LIKE_MM:
        # the corners lie on the arcs, the sides of the box may lie on chords
        half = (length - width) / 2
        way = (sides[long][0] / length, sides[long][1] / length)
        spine = LineString([(box.centroid.x + t * way[0], box.centroid.y + t * way[1]) for t in (-half, half)])
        reach = 2 * max(spine.distance(Point(corner)) for corner in whole.exterior.coords)
        width = reach if abs(reach - width) < LIKE_MM else width
    angle = math.degrees(math.atan2(sides[long][1], sides[long][0])) % 180.0
    middle = box.centroid
    tries = [
        Void(middle.x, middle.y, width, length, angle, kind="slot"),
        Void(middle.x, middle.y, 0.0, length, angle, width, kind="rectangle"),
    ]
    if length - width <= LIKE_MM:
        tries.insert(0, Void(middle.x, middle.y, (length + width) / 2))
    return next((void for void in tries if _like(whole, void)), None)


def _like(whole: Polygon, void: Void) -> bool:
    """Whether a region is a shape, everywhere and both ways."""
    ideal = _drawn(void)
    return bool(ideal.buffer(LIKE_MM).covers(whole) and whole.buffer(LIKE_MM).covers(ideal))


def _drawn(void: Void) -> Any:
    from shapely import LineString, Point, box
    from shapely.affinity import rotate, translate

    if void.kind == "round":
        return Point(void.x, void.y).buffer(void.diameter / 2, quad_segs=_QUARTER)
    if void.kind == "slot":
        half = (void.slot_length - void.diameter) / 2
        shape = LineString([(-half, 0.0), (half, 0.0)]).buffer(void.diameter / 2, quad_segs=_QUARTER)
    else:
        r = void.diameter / 2
        x, y = void.slot_length / 2 - r, void.width / 2 - r
        shape = box(-x, -y, x, y)
        shape = shape.buffer(r, quad_segs=_QUARTER) if r > 0 else shape
    return translate(rotate(shape, void.slot_angle, origin=(0, 0)), void.x, void.y)
