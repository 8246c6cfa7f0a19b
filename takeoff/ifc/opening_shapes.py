"""What the loop of an opening is: round, slot, rectangle with or without rounded corners, or none of these.

Loops drawn as many short steps get their arcs back first: a corner drawn in steps is a
rounded corner, and a polygon of twelve sides or more is a circle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from takeoff.sections import loops, plates
from takeoff.sections.loops import Corner, Loop
from takeoff.sections.voids import SHAPE_MM, Void, void

STEP_DEG: Final = 31.0
"""Longest step of an arc drawn as a polygon: a circle of twelve sides steps by 30 degrees."""
FEWEST_STEPS: Final = 3
"""Fewer steps are a chamfer, not an arc."""
ON_ARC_MM: Final = 0.02
"""Corners this near to one circle are on it."""
LARGEST_RADIUS: Final = 2000.0


def shape_of(loop: Sequence[Corner]) -> Void | None:
    """The hole a closed loop makes, in the loop's plane; None where it is none of those that can be named.

    A rectangle's ``diameter`` is twice the radius of its corners, 0 where they are sharp.
    """
    drawn = tuple(loop)
    found = void(drawn)
    if found is not None:
        return found
    rounded = with_arcs(drawn)
    return void(rounded) or _rounded_rectangle(rounded)


def with_arcs(loop: Loop) -> Loop:
    """The loop with runs of short straight steps that lie on one circle drawn as arcs."""
    count = len(loop)
    if count < FEWEST_STEPS + 1:
        return loop
    used = 0
    corners: list[Corner] = []
    start = _start(loop)
    ring = [loop[(start + i) % count] for i in range(count)]
    closed = [*ring, ring[0]]
    while used < count:
        end, sweep = _run(closed, used)
        if end - used < FEWEST_STEPS:
            corners.append(closed[used])
            used += 1
            continue
        pieces = 2 if abs(sweep) > math.pi else 1
        middle = used + (end - used) // 2
        stops = [used, middle, end] if pieces == 2 else [used, end]
        for a, b in pairwise(stops):
            share = sweep * (b - a) / (end - used)
            corners.append((closed[a][0], closed[a][1], math.tan(share / 4)))
        used = end
    return tuple(corners)


def _start(loop: Loop) -> int:
    """A corner at which no arc is under way: the start of the longest edge, by its direction among equals."""
    edges = list(loops.edges(loop))
    lengths = [round(math.dist(a[:2], b[:2]), 3) for a, b in edges]
    return max(range(len(edges)), key=lambda i: (lengths[i], -i))


def _run(points: Sequence[Corner], first: int) -> tuple[int, float]:
    """The last point of the arc of short steps that starts at ``first``, and its signed sweep."""
    if first + FEWEST_STEPS >= len(points) or any(p[2] for p in points[first : first + FEWEST_STEPS]):
        return first, 0.0
    circle = _circle(points[first], points[first + 1], points[first + 2])
    if circle is None:
        return first, 0.0
    cx, cy, radius = circle
    last, total, sign = first, 0.0, 0.0
    for i in range(first, len(points) - 1):
        a, b = points[i], points[i + 1]
        if a[2] or abs(math.dist((cx, cy), b[:2]) - radius) > ON_ARC_MM:
            break
        step = math.atan2(
            (a[0] - cx) * (b[1] - cy) - (a[1] - cy) * (b[0] - cx),
            (a[0] - cx) * (b[0] - cx) + (a[1] - cy) * (b[1] - cy),
        )
        if abs(step) > math.radians(STEP_DEG) or step * sign < 0:
            break
        sign = step
        total += step
        last = i + 1
    return last, total


def _circle(a: Corner, b: Corner, c: Corner) -> tuple[float, float, float] | None:
    bx, by, cx, cy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    d = 2 * (bx * cy - by * cx)
    if abs(d) < 1e-9:
        return None
    x = (cy * (bx * bx + by * by) - by * (cx * cx + cy * cy)) / d
    y = (bx * (cx * cx + cy * cy) - cx * (bx * bx + by * by)) / d
    radius = math.hypot(x, y)
    return (a[0] + x, a[1] + y, radius) if radius < LARGEST_RADIUS else None


def _rounded_rectangle(loop: Sequence[Corner]) -> Void | None:
    """Four straight sides square to each other and four quarter arcs of one radius between them."""
    shape = plates.merged(plates.anticlockwise(loop))
    edges = list(loops.edges(shape))
    straight = [(a, b) for a, b in edges if not a[2]]
    arcs = [plates.arc(a, b) for a, b in edges if a[2]]
    if len(edges) != 8 or len(straight) != 4 or len(arcs) != 4:
        return None
    if any(bool(a[2]) == bool(b[2]) for (a, _), (b, _) in zip(edges, [*edges[1:], edges[0]], strict=True)):
        return None
    radius = sum(arc[2] for arc in arcs) / 4
    if any(abs(arc[2] - radius) > SHAPE_MM or abs(arc[4] - math.pi / 2) > 0.01 for arc in arcs):
        return None
    sides = [(b[0] - a[0], b[1] - a[1]) for a, b in straight]
    lengths = [math.hypot(*side) for side in sides]
    if abs(lengths[0] - lengths[2]) > SHAPE_MM or abs(lengths[1] - lengths[3]) > SHAPE_MM:
        return None
    if abs(sides[0][0] * sides[1][0] + sides[0][1] * sides[1][1]) > SHAPE_MM * lengths[0]:
        return None
    long = 0 if lengths[0] >= lengths[1] else 1
    angle = math.degrees(math.atan2(sides[long][1], sides[long][0])) % 180.0
    if angle > 180.0 - 1e-9:
        angle = 0.0
    x, y = (sum(arc[k] for arc in arcs) / 4 for k in (0, 1))
    return Void(x, y, 2 * radius, lengths[long] + 2 * radius, angle, lengths[1 - long] + 2 * radius, kind="rectangle")
