"""Bodies to write: extrusions, half-space cuts, facets, bolts, and maps that many parts share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from takeoff.ifc.profile_writer import ProfileWriter
from takeoff.ifc.step_text import Ref, StepText, encode, real
from takeoff.steel import Frame

HEX_MM: Final = {
    10: (16, 6.4, 8.4), 12: (18, 7.5, 10.8), 16: (24, 10, 14.8), 20: (30, 12.5, 18), 22: (34, 14, 19.4),
    24: (36, 15, 21.5), 27: (41, 17, 23.8), 30: (46, 18.7, 25.6), 36: (55, 22.5, 31),
}  # fmt: skip
"""Bolt diameter: width across flats, head height, nut height; ISO 4014 and ISO 4032."""
STYLES: Final = ("z", "-z", "x", "-x")
Cut = tuple[Sequence[float], Sequence[float]]
"""A half space: a point, and the normal that points to the steel that goes away; in (x, u, v) of the part."""


def hex_sizes(diameter: float) -> tuple[float, float, float]:
    """Width across flats, head height and nut height; other sizes by proportion (drawing only)."""
    return HEX_MM.get(round(diameter), (1.5 * diameter, 0.625 * diameter, 0.9 * diameter))


def prism(
    outline: Sequence[Sequence[float]], start: float, end: float
) -> tuple[npt.NDArray[np.float64], list[list[int]]]:
    """Corners (2 n, 3) and outward faces of an outline (anti-clockwise in x, y) extruded along z."""
    n = len(outline)
    points = np.array([[p[0], p[1], z] for z in (start, end) for p in outline])
    sides = [[i, (i + 1) % n, n + (i + 1) % n, n + i] for i in range(n)]
    return points, [list(range(n - 1, -1, -1)), list(range(n, 2 * n)), *sides]


class SolidWriter:
    """Writes representation items in a part's own placement; mm in, file units out."""

    def __init__(self, step: StepText, profiles: ProfileWriter, per_mm: float, context: Ref) -> None:
        self._step = step
        self._profiles = profiles
        self._k = per_mm
        self._context = context

    def axis3(self, o: Any, z: Any = None, x: Any = None) -> Ref:
        """An IfcAxis2Placement3D from an origin in mm and its z and x directions."""
        k = self._k
        at = self._step.point((o[0] * k, o[1] * k, o[2] * k))
        axis = "$" if z is None else self._step.direction(z)
        side = "$" if x is None else self._step.direction(x)
        return self._step.once(f"IFCAXIS2PLACEMENT3D({at},{axis},{side})")

    def extrude(self, profile: Ref, length: float, style: str = "z", start: float = 0.0) -> Ref:
        """An IfcExtrudedAreaSolid running along the placement's z or x, forward or backward."""
        if style not in STYLES:
            raise ValueError(f"style {style} is not one of {', '.join(STYLES)}")
        axis = self.axis3((0, 0, start)) if style[-1] == "z" else self.axis3((0, 0, 0), (1, 0, 0), (0, 1, 0))
        along = self._step.direction((0, 0, -1 if style[0] == "-" else 1))
        return self._step.once(f"IFCEXTRUDEDAREASOLID({profile},{axis},{along},{real(length * self._k)})")

    def solid(
        self,
        profile: Ref,
        length: float,
        clips: Sequence[Cut] = (),
        style: str = "z",
        agreement: bool = False,
    ) -> Ref:
        """An extrusion with half spaces cut away. ``agreement`` writes their planes the other way round."""
        item = self.extrude(profile, length, style)
        for point, normal in clips:
            p = _to_local(point, length if style[0] == "-" else 0.0, style)
            n = _to_local(normal, 0.0, style)
            if agreement:
                n = (-n[0], -n[1], -n[2])
            plane = self._step.once(f"IFCPLANE({self.axis3(p, n)})")
            half = self._step.once(f"IFCHALFSPACESOLID({plane},{encode(agreement)})")
            item = self._step.add(f"IFCBOOLEANCLIPPINGRESULT(.DIFFERENCE.,{item},{half})")
        return item

    def brep(self, vertices: npt.ArrayLike, faces: Sequence[Sequence[int]]) -> Ref:
        """An IfcFacetedBrep from corners (n, 3) in mm and outward corner lists."""
        refs = [self._step.point(p) for p in np.asarray(vertices, dtype=float) * self._k]
        made = []
        for corners in faces:
            loop = self._step.add(f"IFCPOLYLOOP({encode([refs[i] for i in corners])})")
            bound = self._step.add(f"IFCFACEOUTERBOUND({loop},.T.)")
            made.append(self._step.add(f"IFCFACE(({bound}))"))
        shell = self._step.add(f"IFCCLOSEDSHELL({encode(made)})")
        return self._step.add(f"IFCFACETEDBREP({shell})")

    def tessellation(self, vertices: npt.ArrayLike, faces: Sequence[Sequence[int]]) -> Ref:
        """An IfcTriangulatedFaceSet (IFC4 and later) of convex faces."""
        points = (np.asarray(vertices, dtype=float) * self._k).tolist()
        listed = self._step.entity("IfcCartesianPointList3D", CoordList=points)
        triangles = [(f[0] + 1, f[i] + 1, f[i + 1] + 1) for f in faces for i in range(1, len(f) - 1)]
        return self._step.entity("IfcTriangulatedFaceSet", Coordinates=listed, Closed=True, CoordIndex=triangles)

    def bolt(self, diameter: float, drawn: float, grip: float, length: float, body: str) -> list[Ref]:
        """Shank, head and nut along z from the bearing face under the head; see ModelWriter.bolts."""
        flats, head, nut = hex_sizes(diameter)
        r = flats / math.sqrt(3)
        hexagon = [(r * math.cos(math.pi / 3 * i), r * math.sin(math.pi / 3 * i)) for i in range(6)]
        if body == "shank":
            return [self.extrude(self._profiles.circle(drawn), length)]
        if body == "full":
            shape = self._profiles.closed(hexagon)
            return [
                self.extrude(self._profiles.circle(drawn), length),
                self.extrude(shape, head, start=-head),
                self.extrude(shape, nut, start=grip),
            ]
        if body == "faceted":
            q = drawn / 2
            ring = [(q * math.cos(math.pi / 6 * i), q * math.sin(math.pi / 6 * i)) for i in range(12)]
            parts = ((ring, 0.0, length), (hexagon, -head, 0.0), (hexagon, grip, grip + nut))
            return [self.brep(*prism(*part)) for part in parts]
        raise ValueError(f"a bolt's body is full, shank, faceted or none, not {body}")

    def represent(self, items: Sequence[Ref], kind: str) -> Ref:
        """An IfcShapeRepresentation ``Body``."""
        return self._step.add(f"IFCSHAPEREPRESENTATION({self._context},'Body','{kind}',{encode(items)})")

    def shape(self, items: Sequence[Ref], kind: str) -> Ref:
        """An IfcProductDefinitionShape with one body."""
        return self._step.add(f"IFCPRODUCTDEFINITIONSHAPE($,$,({self.represent(items, kind)}))")

    def map(self, items: Sequence[Ref], kind: str) -> Ref:
        """An IfcRepresentationMap of items."""
        shown = self.represent(items, kind)
        return self._step.add(f"IFCREPRESENTATIONMAP({self.axis3((0, 0, 0))},{shown})")

    def mapped(self, source: Ref, at: Frame | None = None) -> Ref:
        """An IfcMappedItem; ``at`` (rows x, y, z) moves it in the part's placement."""
        step = self._step
        if at is None:
            origin = step.point((0, 0, 0))
            operator = step.once(f"IFCCARTESIANTRANSFORMATIONOPERATOR3D($,$,{origin},$,$)")
            return step.add(f"IFCMAPPEDITEM({source},{operator})")
        x, y, z = (step.direction(row) for row in at.axes)
        origin = step.point(at.origin * self._k)
        operator = step.once(f"IFCCARTESIANTRANSFORMATIONOPERATOR3D({x},{y},{origin},$,{z})")
        return step.add(f"IFCMAPPEDITEM({source},{operator})")


def _to_local(vector: Sequence[float], shift: float, style: str) -> tuple[float, float, float]:
    """(x, u, v) of the part as (x, y, z) of its placement, which starts ``shift`` along x."""
    x, u, v = vector[0] - shift, vector[1], vector[2]
    # "z": placement z = x, x = u, y = v. "x": placement x = x, y = u, z = v.
    return (u, v, x) if style[-1] == "z" else (x, u, v)
