"""Bodies as points and facets, made by hand: what the tests of takeoff.drawn read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from takeoff.sections import loops, shapes
from takeoff.settings import Settings
from takeoff.steel import Section

FLATS = Settings().flats


def is_flat(width, thick, length):
    """Flats by the rolled sizes alone, as where a part has no name."""
    return width in FLATS.widths_mm and thick in FLATS.thicknesses_mm and length >= 2 * width


class Mesh:
    """``points`` (list of xyz) and ``facets`` (tuples of rings), seen anti-clockwise from outside."""

    def __init__(self) -> None:
        self.points: list[tuple[float, float, float]] = []
        self.facets: list[tuple[tuple[int, ...], ...]] = []

    def ring(self, corners: Sequence[Sequence[float]]) -> tuple[int, ...]:
        first = len(self.points)
        self.points += [tuple(float(c) for c in corner) for corner in corners]
        return tuple(range(first, len(self.points)))

    def facet(self, *rings: Sequence[int]) -> None:
        self.facets.append(tuple(tuple(ring) for ring in rings))

    def skin(self, a: Sequence[int], b: Sequence[int]) -> None:
        """Four-cornered facets from ring ``a`` to ring ``b``, outward where both run anti-clockwise seen from ``b``."""
        for i in range(len(a)):
            j = (i + 1) % len(a)
            self.facet((a[i], a[j], b[j], b[i]))

    @property
    def array(self) -> np.ndarray:
        return np.array(self.points)


def at_x(loop, x):
    """A loop of (u, v) in the plane at x; anti-clockwise in (u, v) is so seen from +x."""
    return [(x, u, v) for u, v in loop]


def bar(loop_, length, hollows=()):
    """A prism of an outline and hollows (all anti-clockwise) from x = 0 to ``length``."""
    mesh = Mesh()
    left, right = mesh.ring(at_x(loop_, 0)), mesh.ring(at_x(loop_, length))
    mesh.skin(left, right)
    holes = []
    for hollow in hollows:
        a, b = mesh.ring(at_x(hollow[::-1], 0)), mesh.ring(at_x(hollow[::-1], length))
        mesh.skin(a, b)
        holes.append((a, b))
    mesh.facet(left[::-1], *(a[::-1] for a, _ in holes))
    mesh.facet(right, *(b for _, b in holes))
    return mesh


def section_bar(section: Section, length: float, step: float = 15.0):
    """A prism of a section, its roundings in steps of ``step`` degrees."""
    outer, *inner = shapes.loops_of(section)
    rings = [loops.flatten(loop, step).tolist() for loop in (outer, *inner)]
    return bar(rings[0], length, [ring[::-1] for ring in rings[1:]])


def loft(rings):
    """A body through rings of (x, y, z), all anti-clockwise seen from the last one's side."""
    mesh = Mesh()
    made = [mesh.ring(ring) for ring in rings]
    for a, b in pairwise(made):
        mesh.skin(a, b)
    mesh.facet(made[0][::-1])
    mesh.facet(made[-1])
    return mesh


def circle(d, x=0.0, y=0.0, sides=24, start=0.0):
    """A polygon whose corners lie on a circle of diameter ``d``, anti-clockwise."""
    return [
        (x + d / 2 * math.cos(start + 2 * math.pi * k / sides), y + d / 2 * math.sin(start + 2 * math.pi * k / sides))
        for k in range(sides)
    ]


def slot(length, width, x=0.0, y=0.0, angle=0.0, steps=8):
    """A slot ``length`` overall, its ends in ``steps`` sides each, anti-clockwise."""
    half = (length - width) / 2
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    points = []
    for sign in (1, -1):
        for k in range(steps + 1):
            turn = math.pi * k / steps - math.pi / 2
            points.append((sign * (half + width / 2 * math.cos(turn)), sign * width / 2 * math.sin(turn)))
    return [(x + c * px - s * py, y + s * px + c * py) for px, py in points]


def plate(outline, thick, mouths=(), far_mouths=None):
    """A plate in x and y, z = 0 to ``thick``: ``mouths`` on top, ``far_mouths`` (as many corners) at the bottom."""
    mesh = Mesh()
    top = mesh.ring([(x, y, thick) for x, y in outline])
    bottom = mesh.ring([(x, y, 0.0) for x, y in outline])
    mesh.skin(bottom, top)
    highs, lows = [], []
    for k, mouth in enumerate(mouths):
        far = mouth if far_mouths is None else far_mouths[k]
        high = mesh.ring([(x, y, thick) for x, y in mouth[::-1]])
        low = mesh.ring([(x, y, 0.0) for x, y in far[::-1]])
        mesh.skin(low, high)
        highs.append(high)
        lows.append(low)
    mesh.facet(top, *highs)
    mesh.facet(bottom[::-1], *(low[::-1] for low in lows))
    return mesh


def countersunk(outline, thick, x, y, d, outer, deep):
    """A plate with one hole whose mouth on top is a cone from ``outer`` to ``d``, ``deep`` mm deep."""
    mesh = Mesh()
    top = mesh.ring([(a, b, thick) for a, b in outline])
    bottom = mesh.ring([(a, b, 0.0) for a, b in outline])
    mesh.skin(bottom, top)
    rings = [
        mesh.ring([(a, b, z) for a, b in circle(size, x, y)[::-1]])
        for size, z in ((d, 0.0), (d, thick - deep), (outer, thick))
    ]
    mesh.skin(rings[0], rings[1])
    mesh.skin(rings[1], rings[2])
    mesh.facet(top, rings[2])
    mesh.facet(bottom[::-1], rings[0][::-1])
    return mesh


def drilled(outline, thick, x, y, d, deep):
    """A plate with one blind hole from the top."""
    mesh = Mesh()
    top = mesh.ring([(a, b, thick) for a, b in outline])
    bottom = mesh.ring([(a, b, 0.0) for a, b in outline])
    mesh.skin(bottom, top)
    low = mesh.ring([(a, b, thick - deep) for a, b in circle(d, x, y)[::-1]])
    high = mesh.ring([(a, b, thick) for a, b in circle(d, x, y)[::-1]])
    mesh.skin(low, high)
    mesh.facet(top, high)
    mesh.facet(low[::-1])
    mesh.facet(bottom[::-1])
    return mesh


def pierced(outline, length, holes):
    """A prism with holes: (outer side, inner side, loop, wall's thickness), sides by the corner they start at.

    A loop's corners are (x, distance along the outer side from its start), anti-clockwise.
    """
    mesh = bar(outline, length)
    count = len(outline)
    mouths: dict[int, list[tuple[int, ...]]] = {}
    for outer, inner, loop, thick in holes:
        a, b = np.array(outline[outer], dtype=float), np.array(outline[(outer + 1) % count], dtype=float)
        along = (b - a) / np.hypot(*(b - a))
        inward = np.array([-along[1], along[0]])
        near = [(x, *(a + s * along)) for x, s in loop]
        far = [(x, *(a + s * along + thick * inward)) for x, s in loop]
        first, second = mesh.ring(near), mesh.ring(far)
        mesh.skin(first, second)
        mouths.setdefault(outer, []).append(first)
        mouths.setdefault(inner, []).append(second[::-1])
    for side, rings in mouths.items():
        mesh.facets[side] = (*mesh.facets[side], *rings)
    return mesh
