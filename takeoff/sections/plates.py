"""Plates as outlines: the smallest rectangle round one, and cutting one along a line.

The smallest rectangle has its sides along edges of the outline's hull. Of the
rectangles within 0.5 % of the least area it is the one that lies on the longest
straight edge of the outline, then the longest one. Where several are alike in
all that (a triangle's tie exactly) the first of them in the order of the outlines as
they look in them is taken, so that the answer depends on the shape alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from takeoff.sections import loops
from takeoff.sections.loops import Corner, Loop
from takeoff.steel import FloatArray, Point2
from takeoff.units import COINCIDENCE_MM

AREA_SHARE = 0.005
"""Rectangles this little larger than the least compete for it."""
_COLLINEAR = 1e-6


@dataclass(frozen=True, slots=True)
class Rectangle:
    """``origin`` is the corner x and across are measured from, ``x`` the unit vector along the longer side.

    ``across`` is ``x`` turned a quarter turn to the left. ``outline`` is the loop in that
    frame, anti-clockwise, from its corner nearest to the left, then the lowest.
    """

    origin: Point2
    x: Point2
    length: float
    width: float
    outline: Loop

    def place(self, point: Point2) -> Point2:
        """(x, across) of a point of the plane."""
        dx, dy = point[0] - self.origin[0], point[1] - self.origin[1]
        return dx * self.x[0] + dy * self.x[1], dy * self.x[0] - dx * self.x[1]


def anticlockwise(loop: Sequence[Corner]) -> Loop:
    """The loop, turned about where it runs clockwise."""
    return tuple(loop) if loops.area(loop) > 0 else backwards(loop)


def backwards(loop: Sequence[Corner]) -> Loop:
    """The same loop run the other way."""
    return tuple((loop[i][0], loop[i][1], -loop[i - 1][2]) for i in range(len(loop) - 1, -1, -1))


def merged(loop: Sequence[Corner]) -> Loop:
    """The loop without corners that lie between two straight edges of one line, and without empty edges."""
    corners = [c for c, d in loops.edges(loop) if c[2] or math.dist(c[:2], d[:2]) > COINCIDENCE_MM / 10]
    kept: list[Corner] = []
    for i, corner in enumerate(corners):
        before, after = corners[i - 1], corners[(i + 1) % len(corners)]
        if not (before[2] or corner[2]) and _flat(before, corner, after):
            continue
        kept.append(corner)
    return tuple(kept)


def _flat(a: Corner, b: Corner, c: Corner) -> bool:
    dx, dy = c[0] - a[0], c[1] - a[1]
    size = math.hypot(dx, dy)
    if size == 0:
        return False
    off = abs(dx * (b[1] - a[1]) - dy * (b[0] - a[0])) / size
    forward = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1]) > 0
    return off < COINCIDENCE_MM / 2 and forward


def smallest_rectangle(loop: Sequence[Corner]) -> Rectangle:
    """The smallest rectangle round a closed outline by the rule above.

    Raises ValueError for an outline without area.
    """
    return smallest_rectangles(loop)[0]


def smallest_rectangles(loop: Sequence[Corner]) -> tuple[Rectangle, ...]:
    """Every rectangle that ties for the smallest (both ways round), the one that is taken first."""
    shape = merged(anticlockwise(loop))
    if len(shape) < 2 or loops.area(shape) <= 0:
        raise ValueError("the outline has no area")
    found: list[tuple[float, float, float, float]] = []  # area, flush edge, longer side, direction
    for angle in _directions(shape):
        turned = _turned(shape, angle)
        low, high = _box(turned)
        wide, tall = high[0] - low[0], high[1] - low[1]
        flush = _flush(turned, low, high)
        found.append((wide * tall, flush, max(wide, tall), angle if wide >= tall else angle + math.pi / 2))
    least = min(f[0] for f in found)
    near = [f for f in found if f[0] <= least * (1 + AREA_SHARE)]
    edge = max(f[1] for f in near)
    near = [f for f in near if f[1] >= edge - COINCIDENCE_MM]
    side = max(f[2] for f in near)
    near = [f for f in near if f[2] >= side - COINCIDENCE_MM]
    ties: dict[tuple[tuple[float, float, float], ...], Rectangle] = {}
    for *_, angle in near:
        square = _is_square(shape, angle)
        for turn in range(4) if square else (0, 2):
            made = _rectangle(shape, angle + turn * math.pi / 2)
            ties.setdefault(_snapped(made.outline), made)
    return tuple(ties[key] for key in sorted(ties))


def _snapped(loop: Loop) -> tuple[tuple[float, float, float], ...]:
    """The outline's corners as they compare: to 0.01 mm, minus zero put right."""
    return tuple((round(x, 2) + 0.0, round(y, 2) + 0.0, round(bulge, 3) + 0.0) for x, y, bulge in loop)


def _is_square(shape: Loop, angle: float) -> bool:
    low, high = _box(_turned(shape, angle))
    return abs((high[0] - low[0]) - (high[1] - low[1])) <= COINCIDENCE_MM


def _rectangle(shape: Loop, angle: float) -> Rectangle:
    turned = _turned(shape, angle)
    low, high = _box(turned)
    c, s = math.cos(angle), math.sin(angle)
    origin = (c * low[0] - s * low[1], s * low[0] + c * low[1])
    moved = [(x - low[0], y - low[1], bulge) for x, y, bulge in turned]
    first = min(range(len(moved)), key=lambda i: (round(moved[i][0], 2), round(moved[i][1], 2)))
    outline = tuple(moved[first:] + moved[:first])
    return Rectangle(origin, (c, s), high[0] - low[0], high[1] - low[1], outline)


def _turned(shape: Loop, angle: float) -> Loop:
    """The shape seen in axes turned by an angle."""
    c, s = math.cos(angle), math.sin(angle)
    return tuple((c * x + s * y, c * y - s * x, bulge) for x, y, bulge in shape)


def _directions(shape: Loop) -> list[float]:
    """Directions of the hull's straight edges, 0 to a quarter turn; the axes' own for a shape of arcs alone."""
    points = loops.flatten(shape, 2.0)
    bent = _bent(shape)
    hull = _hull(points)
    found: list[float] = []
    for i, j in zip(hull, [*hull[1:], hull[0]], strict=True):
        dx, dy = points[j] - points[i]
        if math.hypot(dx, dy) < COINCIDENCE_MM or (bent[i] and j == (i + 1) % len(points)):
            continue
        found.append(math.atan2(dy, dx) % (math.pi / 2))
    found.sort()
    unique: list[float] = []
    for angle in found:
        if not unique or angle - unique[-1] > _COLLINEAR:
            unique.append(angle)
    if len(unique) > 1 and unique[0] + math.pi / 2 - unique[-1] <= _COLLINEAR:
        unique.pop()
    return unique or [0.0]


def _bent(shape: Loop) -> list[bool]:
    """For each edge of the flattened shape whether it is a chord of an arc."""
    marks: list[bool] = []
    for a, b in loops.edges(shape):
        marks += [bool(a[2])] * (len(loops.flatten((a, (b[0], b[1], 0.0)), 2.0)) - 1)
    return marks


def _hull(points: FloatArray) -> list[int]:
    """Indices of the convex hull, anti-clockwise (Andrew's monotone chain)."""
    order = sorted(range(len(points)), key=lambda i: (points[i][0], points[i][1]))

    def half(run: Sequence[int]) -> list[int]:
        chain: list[int] = []
        for i in run:
            while len(chain) > 1 and _cross(points, chain[-2], chain[-1], i) <= 0:
                chain.pop()
            chain.append(i)
        return chain

    return half(order)[:-1] + half(order[::-1])[:-1]


def _cross(points: FloatArray, a: int, b: int, c: int) -> float:
    (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
    return float((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))


def _box(shape: Loop) -> tuple[Point2, Point2]:
    """Lowest and highest x and y, the swell of arcs included."""
    xs = [corner[0] for corner in shape]
    ys = [corner[1] for corner in shape]
    for a, b in loops.edges(shape):
        if a[2]:
            for x, y in _extremes(a, b):
                xs.append(x)
                ys.append(y)
    return (min(xs), min(ys)), (max(xs), max(ys))


def arc(a: Corner, b: Corner) -> tuple[float, float, float, float, float]:
    """Centre x and y, radius, start angle and signed sweep of the edge from ``a`` to ``b`` (bulge not 0)."""
    sweep = 4 * math.atan(a[2])
    chord = math.dist(a[:2], b[:2])
    radius = chord / (2 * abs(math.sin(sweep / 2)))
    reach = (1 - a[2] ** 2) / (4 * a[2])
    cx = (a[0] + b[0]) / 2 - reach * (b[1] - a[1])
    cy = (a[1] + b[1]) / 2 + reach * (b[0] - a[0])
    return cx, cy, radius, math.atan2(a[1] - cy, a[0] - cx), sweep


def _extremes(a: Corner, b: Corner) -> list[Point2]:
    cx, cy, radius, start, sweep = arc(a, b)
    found = []
    for quarter in range(4):
        angle = quarter * math.pi / 2
        ahead = (angle - start) % (2 * math.pi) if sweep > 0 else (start - angle) % (2 * math.pi)
        if ahead <= abs(sweep):
            found.append((cx + radius * math.cos(angle), cy + radius * math.sin(angle)))
    return found


def _flush(shape: Loop, low: Point2, high: Point2) -> float:
    """The longest straight edge of the shape that lies on a side of its box."""
    best = 0.0
    for a, b in loops.edges(shape):
        if a[2]:
            continue
        for axis in (0, 1):
            for side in (low[axis], high[axis]):
                if abs(a[axis] - side) <= COINCIDENCE_MM and abs(b[axis] - side) <= COINCIDENCE_MM:
                    best = max(best, math.dist(a[:2], b[:2]))
    return best


def cut(loop: Sequence[Corner], point: Point2, normal: Point2) -> tuple[Loop, ...]:
    """What is left of an outline when the side of a line that ``normal`` points to is taken away.

    Several loops where the cut separates parts; none where nothing is left.
    """
    edges: list[tuple[Corner, Corner]] = []
    for a, b in loops.edges(loop):
        edges += _split(a, b, point, normal)
    if all(_side(a, b, point, normal) <= COINCIDENCE_MM / 10 for a, b in edges):
        return (tuple(loop),)
    kept = [e for e in edges if _side(*e, point, normal) < 0]
    if not kept:
        return ()
    return _joined(kept, point, normal)


def _side(a: Corner, b: Corner, point: Point2, normal: Point2) -> float:
    """Distance of an edge's middle past the line."""
    if a[2]:
        cx, cy, radius, start, sweep = arc(a, b)
        x, y = cx + radius * math.cos(start + sweep / 2), cy + radius * math.sin(start + sweep / 2)
    else:
        x, y = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
    return (x - point[0]) * normal[0] + (y - point[1]) * normal[1]


def _split(a: Corner, b: Corner, point: Point2, normal: Point2) -> list[tuple[Corner, Corner]]:
    """An edge cut where it crosses the line."""
    shares: list[float]
    if a[2]:
        cx, cy, radius, start, sweep = arc(a, b)
        reach = ((point[0] - cx) * normal[0] + (point[1] - cy) * normal[1]) / math.hypot(*normal)
        if abs(reach) >= radius:
            return [(a, b)]
        middle, half = math.atan2(normal[1], normal[0]), math.acos(reach / radius)
        shares = []
        for angle in (middle - half, middle + half):
            ahead = (angle - start) if sweep > 0 else (start - angle)
            shares.append((ahead % (2 * math.pi)) / abs(sweep))
        shares = sorted(share for share in shares if 1e-9 < share < 1 - 1e-9)
        corners = [a]
        steps = [0.0, *shares, 1.0]
        for share in shares:
            angle = start + sweep * share
            corners.append((cx + radius * math.cos(angle), cy + radius * math.sin(angle), 0.0))
        corners.append(b)
        quarter = math.atan(a[2])
        return [
            ((*corners[i][:2], math.tan(quarter * (steps[i + 1] - steps[i]))), corners[i + 1])
            for i in range(len(corners) - 1)
        ]
    da = (a[0] - point[0]) * normal[0] + (a[1] - point[1]) * normal[1]
    db = (b[0] - point[0]) * normal[0] + (b[1] - point[1]) * normal[1]
    if da * db >= 0:
        return [(a, b)]
    share = da / (da - db)
    middle_corner = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]), 0.0)
    return [(a, middle_corner), (middle_corner, b)]


def _joined(kept: list[tuple[Corner, Corner]], point: Point2, normal: Point2) -> tuple[Loop, ...]:
    """Loops from the edges that are left, closed along the cut.

    The ends of the runs lie on the line; walking along it in the direction that keeps the
    steel on the left, an end is joined to the next beginning.
    """
    runs: list[list[tuple[Corner, Corner]]] = []
    for edge in kept:
        if runs and math.dist(runs[-1][-1][1][:2], edge[0][:2]) < COINCIDENCE_MM / 10:
            runs[-1].append(edge)
        else:
            runs.append([edge])
    if len(runs) > 1 and math.dist(runs[-1][-1][1][:2], runs[0][0][0][:2]) < COINCIDENCE_MM / 10:
        runs[0] = runs.pop() + runs[0]
    along = (-normal[1], normal[0])

    def station(corner: Corner) -> float:
        return (corner[0] - point[0]) * along[0] + (corner[1] - point[1]) * along[1]

    # Steel lies on the line's left when it is walked along ``along``; an anti-clockwise run that
    # left it comes back further on.
    order = sorted(range(len(runs)), key=lambda i: station(runs[i][0][0]))
    used: set[int] = set()
    made: list[Loop] = []
    for first in order:
        if first in used:
            continue
        loop: list[Corner] = []
        run = first
        while run not in used:
            used.add(run)
            loop += [a for a, _ in runs[run]]
            end = runs[run][-1][1]
            loop.append((end[0], end[1], 0.0))
            ahead = [i for i in order if station(runs[i][0][0]) >= station(end) - COINCIDENCE_MM]
            run = min(ahead, key=lambda i: station(runs[i][0][0])) if ahead else first
        made.append(merged(loop))
    return tuple(made)


def polygon(loop: Sequence[Corner]) -> FloatArray:
    """The loop's corners alone, (n, 2)."""
    return np.array([corner[:2] for corner in loop], dtype=float)
