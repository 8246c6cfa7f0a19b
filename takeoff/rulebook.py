"""The rules a run went by, a phrase each, for the foot of every page."""

from __future__ import annotations

from takeoff.rules.zinc import SOURCE
from takeoff.settings import (
    BoltSettings,
    DistanceSettings,
    GaugeSettings,
    HoleSettings,
    LineSettings,
    PunchingSettings,
    Settings,
    ZincSettings,
)
from takeoff.words import Figure, Phrase, joined, phrase


def rules_used(settings: Settings) -> tuple[str, ...]:
    """What decided holes, identity and weights."""
    identity, weights = settings.identity, settings.weights
    density = Figure(f"{weights.density_kg_m3:g}")
    return (
        _holes(settings.holes),
        phrase(
            "one mark: length within {length} mm, holes within {position} mm",
            length=Figure(f"{identity.length_mm:g}"),
            position=Figure(f"{identity.position_mm:g}"),
        ),
        phrase("weights: published mass per metre, {density} kg/m3", density=density)
        if weights.mass == "table"
        else phrase("weights: mass computed from dimensions, {density} kg/m3", density=density),
        joined("; ", (_distances(settings.distances), _punching(settings.punching))),
        joined("; ", (_bolt_lengths(settings.bolts), _gauges(settings.gauges))),
        joined("; ", (_line(settings.line), *_zinc(settings.zinc))),
    )


def _holes(holes: HoleSettings) -> Phrase:
    """Where the diameter of a hole comes from that the model does not state."""
    fields = {"rule": holes.rule, "table": "11" if holes.rule == "EN 1090-2" else "J3.3"}
    if holes.towers:
        words = phrase(
            "holes without a stated diameter: {rule} Table {table}, normal round holes, less 0.5 mm (towers and masts)",
            **fields,
        )
    else:
        words = phrase("holes without a stated diameter: {rule} Table {table}, normal round holes", **fields)
    if not holes.clearance_mm:
        return words
    own = [
        phrase("{size} + {more} mm", size=size, more=Figure(f"{more:g}"))
        for size, more in sorted(holes.clearance_mm.items())
    ]
    return phrase("{rules}; the shop's own: {own}", rules=words, own=joined(", ", own))


def _distances(distances: DistanceSettings) -> Phrase:
    """The rule of distances, and that the client's own values go before it, where he has any."""
    if distances.rule == "own":
        words = phrase("distances: own")
    else:
        words = phrase("distances: {rule}", rule=distances.rule)
    names = {"end": phrase("end"), "edge": phrase("edge"), "pitch": phrase("pitch")}
    own = [word for name, word in names.items() if getattr(distances, f"{name}_mm")]
    return phrase("{rules}, the client's own {names} before it", rules=words, names=joined(", ", own)) if own else words


def _punching(punching: PunchingSettings) -> Phrase:
    return phrase("punching: {rule}, {execution_class}", rule=punching.rule, execution_class=punching.execution_class)


def _bolt_lengths(bolts: BoltSettings) -> Phrase:
    if bolts.length == "model":
        words = phrase("bolt lengths: the model's, else EN 1090-2, 8.2.2 and ISO 888, inch bolts RCSC")
    else:
        words = phrase("bolt lengths: EN 1090-2, 8.2.2 and ISO 888, inch bolts RCSC")
    if not bolts.threads_out_of_shear:
        return words
    return phrase("{rules}, threads out of the shear planes", rules=words)


def _gauges(gauges: GaugeSettings) -> Phrase:
    words = phrase("gauges: {table}", table=_table(gauges.table, gauges.table in ("DIN 997", "SP 6")))
    if gauges.flanges != gauges.table:
        flanges = _table(gauges.flanges, gauges.flanges == "DIN 997")
        words = phrase("{rules}, flanges {table}", rules=words, table=flanges)
    if not (gauges.legs_mm or gauges.flanges_mm):
        return words
    return phrase("{rules}, the client's own before them", rules=words)


def _table(name: str, from_memory: bool) -> str:
    name = phrase("none") if name == "none" else name
    return phrase("{table} (from memory)", table=name) if from_memory else name


def _line(line: LineSettings) -> Phrase:
    if line == LineSettings():
        return phrase("line: common practice, no source")
    return phrase("line: the shop's own")


def _zinc(zinc: ZincSettings) -> tuple[Phrase, ...]:
    if zinc.parts == "none":
        return ()
    if zinc.coating_g_m2:
        return (phrase("zinc: {coating} g/m2 (settings)", coating=Figure(f"{zinc.coating_g_m2:g}")),)
    return (phrase("zinc: {source}", source=SOURCE),)
