"""The walls of a body as openings meet them: where a face lies in space, and how far it reaches.

A tube's or round's wall is curved: it is taken as the plane that touches it where an
opening comes in, and distances to the side are laid round the circumference.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from takeoff.drawn.curves import with_arcs
from takeoff.sections import loops
from takeoff.sections.shapes import faces
from takeoff.steel import CHS, ROUND, Body, FloatArray, Point2

if TYPE_CHECKING:
    from shapely.geometry import Polygon

ARC_MM: Final = 0.02
"""Corners this near to one circle are on it."""
EDGE_MM: Final = 0.05
"""Steel narrower than this between an opening and the edge of its face does not count: it is a notch."""
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
    """shapely polygon of (x, across); of a curved wall (x, distance to the side of where it is touched)."""
    radius: float = 0.0
    """Of a curved wall, else 0."""
    turn: float = 0.0
    """Where round a curved wall it is touched, radians from the point nearest to the viewer."""

    @property
    def x(self) -> FloatArray:
        return np.array([1.0, 0.0, 0.0])

    def across(self, value: float) -> float:
        """The face's ``across`` of a distance along ``direction`` from the origin; may run past a full turn."""
        if not self.radius:
            return value
        return self.radius * (self.turn + math.asin(max(-1.0, min(1.0, value / self.radius))))

    def bottom(self, region: Polygon) -> float:
        """The depth at which the wall ends everywhere under a region."""
        if not self.radius or self.thickness >= self.radius:
            return self.thickness
        _, low, _, high = region.bounds
        away = min(max(abs(low), abs(high)), self.radius)
        inner = self.radius - self.thickness
        # beside the tube's middle the inside lies deeper; past its inside the chord is all steel
        return self.radius - math.sqrt(max(inner * inner - away * away, 0.0))

    def region(self, corners: FloatArray) -> Polygon | None:
        """A polygon (n, 2) on the face; None where it does not meet it."""
        from shapely.geometry import Polygon

        shape = Polygon(corners)
        if not shape.is_valid:
            shape = shape.buffer(0)
        return shape if shape.intersection(self.outline).area > LEAST_MM2 else None

    def within(self, region: Polygon) -> bool:
        """Whether steel is left all round a region."""
        return bool(self.outline.buffer(-EDGE_MM, join_style="mitre").contains(region))

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
        """The region's corners, anti-clockwise from the lowest and leftmost one, rounded to a millionth.

        Arcs are drawn anew, in the steps of all notches, whatever steps the model drew them in.
        """
        from shapely.geometry.polygon import orient

        ring = np.array(orient(region).exterior.coords[:-1])
        ring = loops.flatten(with_arcs(ring, ARC_MM))
        corners = [(round(x, 6) + 0.0, round(y, 6) + 0.0) for x, y in ring.tolist()]
        start = min(range(len(corners)), key=lambda i: (corners[i][0], corners[i][1]))
        turned = corners[start:] + corners[:start]
        return tuple((x, round(self.across(y), 6) + 0.0) for x, y in turned)


def walls_of(body: Body) -> list[Wall]:
    """The walls of a body whose faces are flat; empty where its section has none."""
    from shapely.geometry import Polygon, box

    walls = []
    if body.section.shape in (CHS, ROUND):
        return []
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


def curved_walls(body: Body, along: FloatArray) -> list[Wall]:
    """The sides at which what comes ``along`` (unit, square to the piece) meets a tube, two, or a round, one."""
    from shapely.geometry import box

    section = body.section
    radius = section.h / 2
    thickness = section.tw or section.h
    walls = []
    for sign in (1.0, -1.0):
        u, v = sign * float(along[1]), sign * float(along[2])
        turn = math.atan2(-v, u) % (2 * math.pi)
        if turn > 2 * math.pi - 1e-9:
            turn = 0.0
        inward = np.array([0.0, u, v])
        direction = np.array([0.0, math.sin(turn), math.cos(turn)])
        outline = box(0.0, -radius, body.length, radius)
        walls.append(Wall("wall", -radius * inward, direction, inward, thickness, outline, radius, turn))
    walls.sort(key=lambda wall: wall.turn)
    return walls if section.tw else walls[:1]
