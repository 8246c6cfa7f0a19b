"""The rules a run went by, a phrase each, for the foot of every page."""

from __future__ import annotations

from takeoff.rules.zinc import SOURCE
from takeoff.settings import BoltSettings, DistanceSettings, GaugeSettings, LineSettings, Settings, ZincSettings


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
        f"distances: {settings.distances.rule}{_own_distances(settings.distances)}; "
        f"punching: {settings.punching.rule}, {settings.punching.execution_class}",
        f"{_bolt_lengths(settings.bolts)}; {_gauges(settings.gauges)}",
        "line: " + ("common practice, no source" if settings.line == LineSettings() else "the shop's own")
        + _zinc(settings.zinc),
    )  # fmt: skip


def _own_distances(distances: DistanceSettings) -> str:
    """That the client's own values go before the rule, where he has any."""
    own = [name for name in ("end", "edge", "pitch") if getattr(distances, f"{name}_mm")]
    return f", the client's own {', '.join(own)} before it" if own else ""


def _bolt_lengths(bolts: BoltSettings) -> str:
    first = "the model's, else " if bolts.length == "model" else ""
    words = f"bolt lengths: {first}EN 1090-2, 8.2.2 and ISO 888, inch bolts RCSC"
    return f"{words}, threads out of the shear planes" if bolts.threads_out_of_shear else words


def _gauges(gauges: GaugeSettings) -> str:
    from_memory = " (from memory)" if gauges.table in ("DIN 997", "SP 6") else ""
    words = f"gauges: {gauges.table}{from_memory}"
    if gauges.flanges != gauges.table:
        words += f", flanges {gauges.flanges}" + (" (from memory)" if gauges.flanges == "DIN 997" else "")
    return f"{words}, the client's own before them" if gauges.legs_mm or gauges.flanges_mm else words


def _zinc(zinc: ZincSettings) -> str:
    if zinc.parts == "none":
        return ""
    return f"; zinc: {zinc.coating_g_m2:g} g/m2 (settings)" if zinc.coating_g_m2 else f"; zinc: {SOURCE}"
