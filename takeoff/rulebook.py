"""The rules a run went by, a phrase each, for the foot of every page."""

from __future__ import annotations

from takeoff.settings import Settings


def rules_used(settings: Settings) -> tuple[str, ...]:
    """What decided holes, identity and weights."""
    holes = settings.holes
    table = "Table 11" if holes.rule == "EN 1090-2" else "Tables J3.3"
    clearance = f"holes without a stated diameter: {holes.rule} {table}, normal round holes"
    if holes.towers:
        clearance += ", less 0.5 mm (towers and masts)"
    if holes.clearance_mm:
        own = ", ".join(f"{size} + {more:g} mm" for size, more in sorted(holes.clearance_mm.items()))
        clearance += f"; the shop's own: {own}"
    mass = "published mass per metre" if settings.weights.mass == "table" else "mass computed from dimensions"
    identity = settings.identity
    return (
        clearance,
        f"one mark: length within {identity.length_mm:g} mm, holes within {identity.position_mm:g} mm",
        f"weights: {mass}, {settings.weights.density_kg_m3:g} kg/m3",
        f"distances: {settings.distances.rule}; "
        f"punching: {settings.punching.rule}, {settings.punching.execution_class}",
    )
