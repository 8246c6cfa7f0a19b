"""The walls of a body as openings meet them: where a face lies in space, and how far it reaches.

A tube's or round's wall is taken at the side an opening comes from; see ``walls_of``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from takeoff.sections import loops
from takeoff.sections.shapes import faces
from takeoff.steel import Body, FloatArray, Point2

if TYPE_CHECKING:
    from shapely.geometry import Polygon

EDGE_MM: Final = 0.05
"""An opening that reaches less than this over an edge of its face lies within it."""
LEAST_MM2: Final = 0.5
"""A meeting of an opening with a face smaller than this is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Wall:
    """A face in the piece frame: a point at ``origin + x * x_axis + across * direction + depth * inward``."""

    name: str
    origin: FloatArray
    direction: FloatArray
    inward: FloatArray
    thickness: float
    outline: Any
    """shapely polygon of (x, across)."""

    @property
    def x(self) -> FloatArray:
        return np.array([1.0, 0.0, 0.0])

    def across(self, value: float) -> float:
        """The face's ``across`` of a distance along ``direction`` from the origin."""
        return value

    def region(self, corners: FloatArray) -> Polygon | None:
        """A polygon (n, 2) on the face; None where it does not meet it."""
        from shapely.geometry import Polygon

        shape = Polygon(corners)
        if not shape.is_valid:
            shape = shape.buffer(0)
        return shape if shape.intersection(self.outline).area > LEAST_MM2 else None

    def within(self, region: Polygon) -> bool:
        return bool(self.outline.buffer(EDGE_MM, join_style="mitre").contains(region)) and not bool(
            self.outline.exterior.buffer(EDGE_MM).intersects(region)
        )

    def clipped(self, regions: Sequence[Polygon]) -> list[Polygon]:
        """What regions take from the face together, parts that touch joined."""
        from shapely import unary_union

        if not regions:
            return []
        joined = unary_union(list(regions)).intersection(self.outline)
        parts = [part for part in getattr(joined, "geoms", [joined]) if part.geom_type == "Polygon"]
        return [part for part in parts if part.area > LEAST_MM2]

    @staticmethod
    def middle(region: Polygon) -> Point2:
        left, low, right, high = region.bounds
        return ((left + right) / 2, (low + high) / 2)

    def loop(self, region: Polygon) -> tuple[Point2, ...]:
        """The region's corners, anti-clockwise from the lowest and leftmost one, rounded to a millionth."""
        from shapely.geometry.polygon import orient

        corners = [(round(x, 6) + 0.0, round(y, 6) + 0.0) for x, y in orient(region).exterior.coords[:-1]]
        start = min(range(len(corners)), key=lambda i: (corners[i][0], corners[i][1]))
        turned = corners[start:] + corners[:start]
        return tuple((x, round(self.across(y), 6) + 0.0) for x, y in turned)


def walls_of(body: Body) -> list[Wall]:
    """The walls of a body whose faces are flat; empty where its section has none."""
    from shapely.geometry import Polygon, box

    walls = []
    for face in faces(body.section):
        outline = box(0.0, face.low, body.length, face.high)
        if body.outline:
            outline = Polygon(loops.flatten([(v.x, v.across, v.bulge) for v in body.outline]))
        walls.append(
            Wall(
                face.name,
                np.array([0.0, *face.origin]),
                np.array([0.0, *face.direction]),
                np.array([0.0, *face.inward]),
                face.thickness,
                outline,
            )
        )
    return walls


def wall_angle(w: float, diameter: float) -> float:
    """Distance round a tube's wall of the angle ``w`` (radians) from the point nearest to the viewer."""
    return (w % (2 * math.pi)) * diameter / 2
