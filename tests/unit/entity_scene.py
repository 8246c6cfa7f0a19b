"""Single entities in a file in memory, for tests of the reading modules: bodies the model writer does not write."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.guid
import pytest

from takeoff.ifc.context import Context

MODELS = Path(__file__).parents[3] / "shared" / "models"
PER_UNIT = {"mm": 1.0, "m": 1000.0, "inch": 25.4}
Three = Sequence[float]


def shared(name: str) -> Path:
    """A real model beside the project; skips the test where it is absent."""
    path = MODELS / name
    if not path.exists():
        pytest.skip(f"{name} is not beside the project")
    return path


class Scene:
    """``add`` writes an entity in file units; lengths given to the named methods are mm."""

    def __init__(self, schema: str = "IFC4", unit: str = "mm") -> None:
        self.file = ifcopenshell.file(schema=schema)
        self.mm = PER_UNIT[unit]
        metre = {"UnitType": "LENGTHUNIT", "Name": "METRE"}
        if unit == "inch":
            base = self.add("IfcSIUnit", **metre)
            value = self.add("IfcLengthMeasure", 0.0254)
            factor = self.add("IfcMeasureWithUnit", ValueComponent=value, UnitComponent=base)
            exponents = self.add("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0)
            length = self.add(
                "IfcConversionBasedUnit",
                Dimensions=exponents,
                UnitType="LENGTHUNIT",
                Name="INCH",
                ConversionFactor=factor,
            )
        else:
            length = self.add("IfcSIUnit", **metre, **({"Prefix": "MILLI"} if unit == "mm" else {}))
        angle = self.add("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN")
        units = self.add("IfcUnitAssignment", Units=[length, angle])
        self.add("IfcProject", GlobalId=self.guid(), UnitsInContext=units)
        self._ctx: Context | None = None

    @staticmethod
    def guid() -> str:
        return str(ifcopenshell.guid.new())

    @property
    def ctx(self) -> Context:
        if self._ctx is None:
            self._ctx = Context(self.file, "scene")
        return self._ctx

    def add(self, kind: str, *values: Any, **named: Any) -> Any:
        return self.file.create_entity(kind, *values, **named)

    def point(self, *mm: float) -> Any:
        return self.add("IfcCartesianPoint", [float(v) / self.mm for v in mm])

    def way(self, *ratios: float) -> Any:
        return self.add("IfcDirection", [float(v) for v in ratios])

    def axes(self, origin: Three = (0, 0, 0), z: Three = (0, 0, 1), x: Three = (1, 0, 0)) -> Any:
        return self.add("IfcAxis2Placement3D", self.point(*origin), self.way(*z), self.way(*x))

    def flat_axes(self, x: float = 0, y: float = 0) -> Any:
        return self.add("IfcAxis2Placement2D", self.point(x, y), self.way(1, 0))

    def polygon(self, corners: Sequence[Three]) -> Any:
        points = [self.point(*c) for c in corners]
        curve = self.add("IfcPolyline", [*points, points[0]])
        return self.add("IfcArbitraryClosedProfileDef", "AREA", None, curve)

    def circle(self, diameter: float, x: float = 0, y: float = 0) -> Any:
        return self.add("IfcCircleProfileDef", "AREA", None, self.flat_axes(x, y), diameter / 2 / self.mm)

    def rectangle(self, x: float, y: float, radius: float = 0.0) -> Any:
        sizes = [x / self.mm, y / self.mm]
        if radius:
            sizes.append(radius / self.mm)
        kind = "IfcRoundedRectangleProfileDef" if radius else "IfcRectangleProfileDef"
        return self.add(kind, "AREA", None, self.flat_axes(), *sizes)

    def extruded(self, profile: Any, depth: float, axes: Any = None, way: Three = (0, 0, 1)) -> Any:
        return self.add("IfcExtrudedAreaSolid", profile, axes or self.axes(), self.way(*way), depth / self.mm)

    def brep(self, points: Sequence[Three], facets: Sequence[Sequence[Sequence[int]]]) -> Any:
        """``facets``: rings of point numbers, the outer one first."""
        made = [self.point(*p) for p in points]
        faces = []
        for rings in facets:
            bounds = []
            for i, ring in enumerate(rings):
                loop = self.add("IfcPolyLoop", [made[k] for k in ring])
                bounds.append(self.add("IfcFaceBound" if i else "IfcFaceOuterBound", loop, True))
            faces.append(self.add("IfcFace", bounds))
        return self.add("IfcFacetedBrep", self.add("IfcClosedShell", faces))

    def shape(self, items: Sequence[Any], kind: str = "SweptSolid", name: str = "Body") -> Any:
        representation = self.add("IfcShapeRepresentation", None, name, kind, list(items))
        return self.add("IfcProductDefinitionShape", None, None, [representation])

    def product(self, kind: str, items: Sequence[Any] | None, axes: Any = None, **named: Any) -> Any:
        placement = self.add("IfcLocalPlacement", None, axes or self.axes())
        return self.add(
            kind,
            GlobalId=self.guid(),
            ObjectPlacement=placement,
            Representation=None if items is None else self.shape(items),
            **named,
        )

    def properties(self, product: Any, values: dict[str, Any], name: str = "Data") -> None:
        """``values``: text, numbers, or (measure type, number)."""
        made = []
        for title, value in values.items():
            kind, raw = value if isinstance(value, tuple) else (_measure(value), value)
            made.append(self.add("IfcPropertySingleValue", title, None, self.add(kind, raw)))
        definition = self.add("IfcPropertySet", GlobalId=self.guid(), Name=name, HasProperties=made)
        self.add(
            "IfcRelDefinesByProperties",
            GlobalId=self.guid(),
            RelatedObjects=[product],
            RelatingPropertyDefinition=definition,
        )


def _measure(value: Any) -> str:
    if isinstance(value, bool):
        return "IfcBoolean"
    if isinstance(value, int):
        return "IfcInteger"
    return "IfcReal" if isinstance(value, float) else "IfcLabel"


BOX_FACETS = (
    ((0, 3, 2, 1),), ((4, 5, 6, 7),), ((0, 1, 5, 4),), ((1, 2, 6, 5),), ((2, 3, 7, 6),), ((3, 0, 4, 7),),
)  # fmt: skip
"""The six sides of ``box_points``, seen anti-clockwise from outside."""


def box_points(size: Three, at: Three = (0, 0, 0)) -> list[tuple[float, float, float]]:
    (x, y, z), (a, b, c) = size, at
    return [(a + p, b + q, c + r) for r in (0, z) for p, q in ((0, 0), (x, 0), (x, y), (0, y))]
