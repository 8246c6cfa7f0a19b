"""Inner loops of a plate as holes: round, slotted, rectangular."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from takeoff.sections import loops, plates
from takeoff.sections.loops import Corner

ROUND_SHARE = 0.005
"""Corners of a polygon this near to one circle, as a share of its radius, are on it."""
SHAPE_MM = 0.05
"""Sides of a slot or rectangle agree within this."""
LEAST_SIDES = 12
"""A regular polygon of fewer sides is not taken for a circle."""


@dataclass(frozen=True, slots=True)
class Void:
    """A hole in the plane: middle, and sizes as in :class:`takeoff.steel.DrawnHole`."""

    x: float
    y: float
    diameter: float
    slot_length: float = 0.0
    slot_angle: float = 0.0
    width: float = 0.0
    kind: str = "round"


def void(loop: Sequence[Corner]) -> Void | None:
    """What a closed loop cuts out: a circle, a slot (two half circles and two lines) or a rectangle; else None."""
    shape = plates.merged(plates.anticlockwise(loop))
    return _circle(shape) or _slot(shape) or _rectangle(shape)


def _circle(shape: Sequence[Corner]) -> Void | None:
    arcs = [plates.arc(a, b) for a, b in loops.edges(shape) if a[2]]
    if len(arcs) == len(shape):
        cx, cy, radius = arcs[0][:3]
        if all(math.dist((cx, cy), a[:2]) < SHAPE_MM and abs(a[2] - radius) < SHAPE_MM for a in arcs):
            return Void(cx, cy, 2 * radius)
        return None
    if arcs or len(shape) < LEAST_SIDES:
        return None
    cx = sum(c[0] for c in shape) / len(shape)
    cy = sum(c[1] for c in shape) / len(shape)
    radii = [math.dist((cx, cy), c[:2]) for c in shape]
    radius = sum(radii) / len(radii)
    if max(abs(r - radius) for r in radii) > max(ROUND_SHARE * radius, 0.01):
        return None
    sides = [math.dist(a[:2], b[:2]) for a, b in loops.edges(shape)]
    if max(sides) > 4 * math.pi * radius / len(shape):
        return None
    return Void(cx, cy, 2 * radius)


def _slot(shape: Sequence[Corner]) -> Void | None:
    runs = _slot_runs(shape)
    if runs is None:
        return None
    (ax, ay, ra), (bx, by, rb) = runs
    if abs(ra - rb) > SHAPE_MM:
        return None
    pitch = math.dist((ax, ay), (bx, by))
    angle = math.degrees(math.atan2(by - ay, bx - ax)) % 180.0
    if angle > 180.0 - 1e-9:
        angle = 0.0
    return Void((ax + bx) / 2, (ay + by) / 2, 2 * ra, pitch + 2 * ra, angle, kind="slot")


def _slot_runs(
    shape: Sequence[Corner],
) -> tuple[tuple[float, float, float], tuple[float, float, float]] | None:
    """Centres and radii of the two half circles of a slot; arcs may be drawn in several pieces."""
    edges = list(loops.edges(shape))
    straight = [i for i, (a, _) in enumerate(edges) if not a[2]]
    if len(straight) != 2:
        return None
    first, second = straight
    sides = (edges[first + 1 : second], edges[second + 1 :] + edges[:first])
    found = []
    for side in sides:
        arcs = [plates.arc(a, b) for a, b in side]
        if not arcs or abs(sum(a[4] for a in arcs) - math.pi) > 0.01:
            return None
        if any(math.dist(a[:2], arcs[0][:2]) > SHAPE_MM for a in arcs):
            return None
        found.append(arcs[0][:3])
    return found[0], found[1]


def _rectangle(shape: Sequence[Corner]) -> Void | None:
    if len(shape) != 4 or any(c[2] for c in shape):
        return None
    sides = [(b[0] - a[0], b[1] - a[1]) for a, b in loops.edges(shape)]
    sizes = [math.hypot(*side) for side in sides]
    for i in range(4):
        here, there = sides[i], sides[(i + 1) % 4]
        if abs(here[0] * there[0] + here[1] * there[1]) > SHAPE_MM * sizes[i]:
            return None
    long = 0 if sizes[0] >= sizes[1] else 1
    angle = math.degrees(math.atan2(sides[long][1], sides[long][0])) % 180.0
    if angle > 180.0 - 1e-9:
        angle = 0.0
    x, y = (sum(c[k] for c in shape) / 4 for k in (0, 1))
    short = sizes[1 - long]
    return Void(x, y, 0.0, sizes[long], angle, short, kind="rectangle")
