"""A file in memory with entities made one by one, for what the model writer does not write."""

import ifcopenshell
import numpy as np
import pytest

from takeoff.ifc.bodies import Bodies
from takeoff.ifc.context import Context
from takeoff.ifc.writer import ModelWriter, frame
from takeoff.sections import shapes
from takeoff.settings import Settings


class Scene:
    """A file in memory with what a profile needs."""

    def __init__(self, schema="IFC4"):
        self.file = ifcopenshell.file(schema=schema)
        units = [
            self.file.create_entity("IfcSIUnit", UnitType="LENGTHUNIT", Prefix="MILLI", Name="METRE"),
            self.file.create_entity("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN"),
        ]
        assignment = self.file.create_entity("IfcUnitAssignment", Units=units)
        self.file.create_entity("IfcProject", GlobalId="0" * 22, UnitsInContext=assignment)
        self.ctx = Context(self.file, "scene")

    def point(self, *xy):
        return self.file.create_entity("IfcCartesianPoint", Coordinates=[float(c) for c in xy])

    def direction(self, *xy):
        return self.file.create_entity("IfcDirection", DirectionRatios=[float(c) for c in xy])

    def profile(self, name, sizes, place=None):
        """A parametric profile with its Position: (origin, direction of x), None for none."""
        position = None
        if place is not None:
            position = self.file.create_entity(
                "IfcAxis2Placement2D", Location=self.point(*place[0]), RefDirection=self.direction(*place[1])
            )
        return self.file.create_entity(name, ProfileType="AREA", Position=position, **sizes)

    def derived(self, parent, axis1, axis2, origin, scale):
        operator = self.file.create_entity(
            "IfcCartesianTransformationOperator2D",
            Axis1=self.direction(*axis1) if axis1 else None,
            Axis2=self.direction(*axis2) if axis2 else None,
            LocalOrigin=self.point(*origin),
            Scale=scale,
        )
        return self.file.create_entity(
            "IfcDerivedProfileDef", ProfileType="AREA", ParentProfile=parent, Operator=operator
        )

    def extrude(self, profile, depth, direction=(0, 0, 1)):
        axes = self.file.create_entity("IfcAxis2Placement3D", Location=self.point(0, 0, 0))
        return self.file.create_entity(
            "IfcExtrudedAreaSolid",
            SweptArea=profile, Position=axes, ExtrudedDirection=self.direction(*direction), Depth=float(depth),
        )  # fmt: skip

    def mapped(self, item, x, y, z, origin=(0, 0, 0), scale=None):
        world = self.file.create_entity("IfcAxis2Placement3D", Location=self.point(0, 0, 0))
        context = self.file.create_entity(
            "IfcGeometricRepresentationContext", CoordinateSpaceDimension=3, WorldCoordinateSystem=world
        )
        shown = self.file.create_entity("IfcShapeRepresentation", ContextOfItems=context, Items=[item])
        source = self.file.create_entity(
            "IfcRepresentationMap",
            MappingOrigin=self.file.create_entity("IfcAxis2Placement3D", Location=self.point(0, 0, 0)),
            MappedRepresentation=shown,
        )
        operator = self.file.create_entity(
            "IfcCartesianTransformationOperator3D",
            Axis1=self.direction(*x), Axis2=self.direction(*y), Axis3=self.direction(*z),
            LocalOrigin=self.point(*origin), Scale=scale,
        )  # fmt: skip
        return self.file.create_entity("IfcMappedItem", MappingSource=source, MappingTarget=operator)

    def corners(self, item):
        """Corners of the body as read, in the item's coordinates, after proving its frame right-handed."""
        body, place, _ = Bodies(self.ctx, Settings()).read(item, "")
        assert np.allclose(place[:3, :3].T @ place[:3, :3], np.eye(3), atol=1e-12)
        assert np.linalg.det(place[:3, :3]) == pytest.approx(1.0)
        assert np.allclose(np.cross(place[:3, 1], place[:3, 2]), place[:3, 0], atol=1e-12)
        ring = shapes.outline(body.section)
        points = np.array([(x, u, v) for x in (0.0, body.length) for u, v in ring])
        return points @ place[:3, :3].T + place[:3, 3], body


def one_angle(path, schema="IFC4", unit="mm", legs=(100, 65, 8), length=1000.0, **named):
    """A file with one angle, heel along model X."""
    writer = ModelWriter(schema, unit)
    writer.member(writer.profiles.angle(*legs), frame((0, 0, 0), (1, 0, 0), (0, 0, 1)), length, **named)
    return writer.save(path)
