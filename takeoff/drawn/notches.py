"""What is missing from a face: notches between what it would be and what is drawn of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from takeoff.drawn.curves import with_arcs
from takeoff.sections import loops
from takeoff.steel import Point2
from takeoff.units import COINCIDENCE_MM

_LEAST_MM2 = 0.5
"""A missing patch smaller than this is the grain of the drawing."""


def missing(full: Sequence[Point2], drawn: Any, tolerance: float) -> list[tuple[Point2, ...]]:
    """Loops, anti-clockwise, of what a shapely geometry lacks against a polygon; holes of the geometry do not count.

    Patches thinner than twice the tolerance are none.
    """
    from shapely import Polygon, union_all

    solid = union_all([Polygon(part.exterior) for part in getattr(drawn, "geoms", [drawn]) if not part.is_empty])
    rest = Polygon(full).difference(solid)
    found = []
    for part in getattr(rest, "geoms", [rest]):
        if part.geom_type != "Polygon" or part.area < _LEAST_MM2 or part.buffer(-tolerance).is_empty:
            continue
        found.append(_loop(part, tolerance))
    return sorted(found)


def _loop(part: Any, tolerance: float) -> tuple[Point2, ...]:
    from shapely.geometry.polygon import orient

    # slivers that hang on to a notch along the face's edge are cut off by opening and closing it again
    core = part.buffer(-tolerance, join_style="mitre").buffer(tolerance, join_style="mitre")
    if core.geom_type != "Polygon":
        core = max(core.geoms, key=lambda p: p.area)
    ring = np.array(orient(core.simplify(COINCIDENCE_MM / 2)).exterior.coords[:-1])
    # arcs in the steps in which all arcs of notches are drawn, whatever steps the model drew them in
    ring = loops.flatten(with_arcs(ring, tolerance)).tolist()
    corners = [(round(x, 4) + 0.0, round(y, 4) + 0.0) for x, y in ring]
    start = min(range(len(corners)), key=lambda i: corners[i])
    return tuple(corners[start:] + corners[:start])
