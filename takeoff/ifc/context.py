"""An open model file and what every reading module needs to know of it.

``mm`` is millimetres per unit of length of the file, ``rad`` radians per unit of
plane angle. Modules of this package read coordinates in file units and hand out
millimetres; nothing outside the package sees a file unit.

Attributes are read by position with ``argument(entity, index)`` on the hot path:
by name an attribute costs five times as much, and a misspelt name looks for schema
files on disk. Positions used so are the same in IFC2x3, IFC4 and IFC4x3.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import ifcopenshell

from takeoff.queries import ASSUMED, CHECK, Query, query, register

Entity = Any
"""An ifcopenshell entity. The library is untyped."""

UNIT_ASSUMED = register(
    "unit-length-assumed",
    ASSUMED,
    "The model states {0} unit of length; it was read in {1}: {2}.",
    "Have the model written again with its unit, or check one length of the lists against a drawing.",
)
ANGLE_ASSUMED = register(
    "unit-angle-assumed",
    ASSUMED,
    "The model states no unit of angle but draws arcs by angle; radians were assumed.",
    "Have the model written again with its units, or check the arcs of the plates against a drawing.",
)
FILE_MENDED = register(
    "file-mended",
    CHECK,
    "The model file was mended in memory before reading: {0}.",
    "Nothing, if the lists look right; better have the file written again by the standard.",
)

PREFIXES = {
    "EXA": 1e18, "PETA": 1e15, "TERA": 1e12, "GIGA": 1e9, "MEGA": 1e6, "KILO": 1e3, "HECTO": 1e2,
    "DECA": 1e1, "DECI": 1e-1, "CENTI": 1e-2, "MILLI": 1e-3, "MICRO": 1e-6, "NANO": 1e-9,
    "PICO": 1e-12, "FEMTO": 1e-15, "ATTO": 1e-18,
}  # fmt: skip
"""IfcSIPrefix, ISO 10303-41."""

GIVEN_MM: dict[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4, "foot": 304.8}
"""Units that the settings can give, in mm. International inch and foot, ISO 80000-3."""
NAMED_MM = {
    "inch": 25.4, "inches": 25.4, "foot": 304.8, "feet": 304.8, "yard": 914.4, "yards": 914.4, "mile": 1609344.0,
    "millimetre": 1.0, "millimeter": 1.0, "centimetre": 10.0, "centimeter": 10.0, "metre": 1000.0, "meter": 1000.0,
}  # fmt: skip
"""Names of units by conversion in IfcConversionBasedUnit (IFC4, 8.16.3.4), in mm."""


class ReadError(Exception):
    """A model that cannot be read at all. The text is a sentence with the remedy."""


class Unread(Exception):
    """One entity that cannot be read. The text is a sentence without its part's name."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def argument(entity: Entity, index: int) -> Any:
    """An attribute by position, None where the file has ``$``.

    Never the library's unbound method: given None, as a file that leaves out what it must not
    leave out makes us do, it takes the whole process down instead of raising an error.
    """
    return entity.get_argument(index)


DAMAGE = (RuntimeError, TypeError, ValueError, LookupError, AttributeError, ArithmeticError)
"""What entities that do not keep to their schema raise on the way through readers that trust the schema."""


def entities(value: Any) -> tuple[Entity, ...]:
    """The entities of an attribute that refers to one or several; what else a damaged file has there is left out."""
    if isinstance(value, tuple):
        return tuple(one for one in value if isinstance(one, ifcopenshell.entity_instance))
    return (value,) if isinstance(value, ifcopenshell.entity_instance) else ()


def related(file: Any, relation: str, one: int, many: int) -> Iterator[tuple[Entity, tuple[Entity, ...]]]:
    """(Relating, related) of every relation of a class, by the positions of these attributes."""
    for found in file.by_type(relation):
        for relating in entities(argument(found, one)):
            yield relating, entities(argument(found, many))


class Context:
    """An open file, its units, and caches by entity id shared by the reading modules."""

    def __init__(
        self,
        file: Any,
        name: str,
        *,
        checksum: str = "",
        date: str = "",
        application: str = "",
        mended: tuple[str, ...] = (),
        length_unit: str = "",
    ) -> None:
        self.file = file
        self.name = name
        self.checksum = checksum
        self.date = date
        self.application = application
        self.schema: str = file.schema
        self.queries: list[Query] = []
        """Findings about the file as a whole."""
        for change in mended:
            self.queries.append(query(FILE_MENDED, change))
        self.length_unit = ""
        self.length_doubt = ""
        """``no`` or ``several (...)`` where the file's own unit of length is not certain; empty where it is."""
        self.length_given = length_unit
        """The unit the settings give for that case (mm, cm, m, inch, foot), empty for none."""
        self.mm = self._length()
        self._rad: float | None = None
        self._angle_stated = False
        self._find_angle()
        self.points: dict[int, tuple[float, ...]] = {}
        self.directions: dict[int, tuple[float, ...]] = {}
        self.maps: Any = None
        """What takeoff.ifc.maps has worked out."""
        self.placements: dict[int, Any] = {}
        """(4, 4) mm by id of IfcLocalPlacement; filled by takeoff.ifc.placements."""
        self.axes: dict[int, Any] = {}
        """(4, 4) mm by id of axis placements and operators; filled by takeoff.ifc.placements."""

    @property
    def rad(self) -> float:
        """Radians per unit of plane angle; where the file states none the first use says so."""
        if not self._angle_stated:
            self._angle_stated = True
            self.queries.append(query(ANGLE_ASSUMED))
        return 1.0 if self._rad is None else self._rad

    def point(self, entity: Entity) -> tuple[float, ...]:
        """The coordinates of an IfcCartesianPoint in mm, two or three of them."""
        key = entity.id()
        found = self.points.get(key)
        if found is None:
            mm = self.mm
            found = tuple(value * mm for value in argument(entity, 0))
            self.points[key] = found
        return found

    def direction(self, entity: Entity) -> tuple[float, ...]:
        """The ratios of an IfcDirection as the file has them, not normalised."""
        key = entity.id()
        found = self.directions.get(key)
        if found is None:
            found = tuple(argument(entity, 0))
            self.directions[key] = found
        return found

    def _units(self, kind: str) -> list[Entity]:
        """Units of a kind, those assigned to the project first."""
        found: list[Entity] = []
        for project in sorted(self.file.by_type("IfcProject"), key=lambda e: e.id()):
            for assignment in entities(project.UnitsInContext):
                found += [unit for unit in entities(assignment.Units) if _unit_type(unit) == kind]
        return found

    def _length(self) -> float:
        units = self._units("LENGTHUNIT")
        factors = [si_factor(unit) * 1000.0 for unit in units]
        same = bool(factors) and all(math.isclose(f, factors[0], rel_tol=1e-12) for f in factors)
        if same and not _belies_its_name(units[0], factors[0]):
            self.length_unit = _unit_name(units[0])
            return factors[0]
        said = sorted({f"{_unit_name(unit)} of {f:.6g} mm" for unit, f in zip(units, factors, strict=True)})
        self.length_doubt = f"an uncertain ({', '.join(said)})" if said else "no"
        self.length_unit = self.length_given or "metre"
        return GIVEN_MM[self.length_given] if self.length_given else 1000.0

    def _find_angle(self) -> None:
        units = self._units("PLANEANGLEUNIT")
        if units:
            self._rad = si_factor(units[0])
            self._angle_stated = True


def _belies_its_name(unit: Entity, mm: float) -> bool:
    """Whether a unit by conversion has the name of a known one and another size."""
    if not unit.is_a("IfcConversionBasedUnit"):
        return False
    known = NAMED_MM.get(_unit_name(unit).strip())
    return known is not None and not math.isclose(known, mm, rel_tol=1e-4)


def _unit_type(unit: Entity) -> str:
    """LENGTHUNIT and so on; empty for monetary and derived units."""
    return str(unit.UnitType) if unit.is_a("IfcNamedUnit") else ""


def _unit_name(unit: Entity) -> str:
    if unit.is_a("IfcSIUnit"):
        return f"{unit.Prefix or ''}{unit.Name}".lower()
    return str(unit.Name).lower()


def si_factor(unit: Entity) -> float:
    """SI units (metre, radian, gram for mass) in one of ``unit``; raises ReadError where it has no size."""
    if unit.is_a("IfcSIUnit"):
        factor = PREFIXES.get(str(unit.Prefix), 0.0) if unit.Prefix else 1.0
        if not factor:
            raise ReadError(f"The model's unit has no prefix of the SI: {unit.Prefix}. Have the model written again.")
        name = str(unit.Name)
        if name.startswith("SQUARE_"):
            return factor**2
        return factor**3 if name.startswith("CUBIC_") else factor
    if unit.is_a("IfcConversionBasedUnit"):
        for measure in entities(unit.ConversionFactor):
            for value in entities(argument(measure, 0)):
                size = argument(value, 0)
                if isinstance(size, float | int) and size > 0 and math.isfinite(size):
                    return float(size) * si_factor(measure.UnitComponent)
    raise ReadError(
        f"The model's unit {_unit_name(unit)!r} has no size in SI units. "
        "Have the model written again in millimetres, metres, inches or feet."
    )
