"""What every model opens with: owner, units, context, project, site, building, storey."""

from __future__ import annotations

from typing import Final

from takeoff.ifc.step_text import Enum, Ref, StepText, real, string

UNITS_MM: Final = {
    "um": 0.001, "mm": 1.0, "cm": 10.0, "dm": 100.0, "m": 1000.0, "inch": 25.4, "foot": 304.8, "yard": 914.4,
}  # fmt: skip
"""Length units that can be written, and their mm."""
PREFIXES: Final = {"um": "MICRO", "mm": "MILLI", "cm": "CENTI", "dm": "DECI"}


def owner_history(step: StepText) -> Ref:
    """An owner history of nobody; IFC2X3 demands one."""
    maker = step.entity("IfcOrganization", Name="Invented")
    person = step.entity("IfcPerson", FamilyName="Nobody")
    both = step.entity("IfcPersonAndOrganization", ThePerson=person, TheOrganization=maker)
    made_by = step.entity(
        "IfcApplication",
        ApplicationDeveloper=maker, Version="1", ApplicationFullName="model writer",
        ApplicationIdentifier="writer",
    )  # fmt: skip
    return step.entity(
        "IfcOwnerHistory",
        OwningUser=both, OwningApplication=made_by, ChangeAction=Enum("ADDED"), CreationDate=1714979289,
    )  # fmt: skip


def representation_context(step: StepText) -> Ref:
    """The model context, its coordinate system at the origin."""
    world = step.once(f"IFCAXIS2PLACEMENT3D({step.point((0, 0, 0))},$,$)")
    return step.entity(
        "IfcGeometricRepresentationContext",
        ContextType="Model", CoordinateSpaceDimension=3, Precision=1e-5, WorldCoordinateSystem=world,
    )  # fmt: skip


def length_unit(step: StepText, unit: str) -> Ref:
    """An SI unit with or without prefix, or a unit converted to metres."""
    prefix = f".{PREFIXES[unit]}." if unit in PREFIXES else "$"
    if unit == "m" or unit in PREFIXES:
        return step.once(f"IFCSIUNIT(*,.LENGTHUNIT.,{prefix},.METRE.)")
    metre = step.once("IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.)")
    factor = step.add(f"IFCMEASUREWITHUNIT(IFCLENGTHMEASURE({real(UNITS_MM[unit] / 1000)}),{metre})")
    powers = step.add("IFCDIMENSIONALEXPONENTS(1,0,0,0,0,0,0)")
    return step.add(f"IFCCONVERSIONBASEDUNIT({powers},.LENGTHUNIT.,{string(unit.upper())},{factor})")


def spatial_tree(step: StepText, name: str, unit: str, owner: Ref, context: Ref, site_axes: Ref) -> tuple[Ref, Ref]:
    """Project to storey, the site placed at ``site_axes``; the storey and its placement."""
    units = [
        length_unit(step, unit),
        step.once("IFCSIUNIT(*,.PLANEANGLEUNIT.,$,.RADIAN.)"),
        step.once("IFCSIUNIT(*,.AREAUNIT.,$,.SQUARE_METRE.)"),
        step.once("IFCSIUNIT(*,.MASSUNIT.,.KILO.,.GRAM.)"),
    ]
    project = step.entity(
        "IfcProject",
        GlobalId=step.global_id(), OwnerHistory=owner, Name=name, RepresentationContexts=[context],
        UnitsInContext=step.entity("IfcUnitAssignment", Units=units),
    )  # fmt: skip
    plain = step.once(f"IFCAXIS2PLACEMENT3D({step.point((0, 0, 0))},$,$)")
    placement, above = Ref("$"), project
    for kind in ("IfcSite", "IfcBuilding", "IfcBuildingStorey"):
        axes = site_axes if kind == "IfcSite" else plain
        placement = step.add(f"IFCLOCALPLACEMENT({placement},{axes})")
        below = step.entity(
            kind,
            GlobalId=step.global_id(), OwnerHistory=owner, Name=kind[3:], ObjectPlacement=placement,
            CompositionType=Enum("ELEMENT"),
        )  # fmt: skip
        step.entity(
            "IfcRelAggregates",
            GlobalId=step.global_id(), OwnerHistory=owner, RelatingObject=above, RelatedObjects=[below],
        )  # fmt: skip
        above = below
    return above, placement
