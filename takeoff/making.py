"""How each hole of a piece is made, which class it is, and its gauge lines beside the usual gauges."""

from __future__ import annotations

from dataclasses import replace

from takeoff.gauges import gauge_lines
from takeoff.rules import gauges, hole_classes, punching
from takeoff.rules.sizes import diameter_of
from takeoff.settings import Settings
from takeoff.steel import ANGLE, CHANNEL, I_SHAPE, GaugeLine, Hole, Piece
from takeoff.units import PRINT_EXACT_MM


def finish_holes(piece: Piece, settings: Settings) -> Piece:
    """The piece with the class and make of its holes and its gauge lines filled in."""
    thickness = {face.name: face.thickness for face in piece.faces}
    holes = tuple(_finished(hole, thickness.get(hole.face, 0.0), piece.grade, settings) for hole in piece.holes)
    if piece.section.shape in punching.DIELESS:
        holes = tuple(
            hole if hole.make in ("", punching.CUT) else replace(hole, make=punching.DRILL, punch_mm=0.0, force_kn=0.0)
            for hole in holes
        )
    return replace(piece, holes=holes, gauges=gauges_of(piece, settings))


def _finished(hole: Hole, thickness: float, grade: str, settings: Settings) -> Hole:
    bolt = diameter_of(hole.bolt)
    if hole.kind == "rectangle":
        return replace(hole, make=punching.CUT)
    if not hole.diameter > 0 or not thickness:
        return hole
    kind = ""
    if bolt and hole.kind in ("round", "slot"):
        kind = hole_classes.class_of(bolt, hole.diameter, hole.slot_length, settings.holes)
    if hole.kind in ("countersunk", "blind"):
        # Both need a drill: one for the cone, the other for its depth.
        return replace(hole, hole_class=kind, make=punching.DRILL)
    slot = hole.slot_length > hole.diameter
    make = punching.make_of(hole.diameter, bolt, thickness, grade, settings.punching, slot)
    force = 0.0
    if make.how != punching.DRILL:
        force = round(punching.punching_force(make.punch_mm or hole.diameter, thickness, grade), 1)
    return replace(hole, hole_class=kind, make=make.how, punch_mm=make.punch_mm, force_kn=force)


def gauges_of(piece: Piece, settings: Settings) -> tuple[GaugeLine, ...]:
    """The gauge lines of legs and flanges, each beside the nearest usual gauge; none where no table helps."""
    found: list[GaugeLine] = []
    for face in piece.faces:
        mine = [h for h in piece.holes if h.face == face.name]
        usual = _usual(piece, face.name, face.high, settings) if mine else None
        if usual is None:
            continue
        for number, mm in enumerate(gauge_lines(h.across for h in mine), start=1):
            # An I's gauge is between its two lines, which lie to both sides of the web.
            measured = 2 * abs(mm) if piece.section.shape == I_SHAPE else mm
            nearest = min(usual.lines, key=lambda gauge: abs(gauge - measured))
            deviation = measured - nearest
            if abs(deviation) <= PRINT_EXACT_MM:
                deviation = 0.0
            hole = max((h.diameter for h in mine if h.gauge_line == number), default=0.0)
            if not usual.largest_hole or hole <= usual.largest_hole:
                hole = 0.0
            found.append(
                GaugeLine(
                    face.name, number, round(measured, 2), nearest, round(deviation, 2), usual.source, hole,
                    usual.largest_hole,
                )
            )  # fmt: skip
    return tuple(found)


def _usual(piece: Piece, face: str, width: float, settings: Settings) -> gauges.Usual | None:
    """Usual gauges of a face; None where there is no table for it."""
    if piece.section.shape == ANGLE:
        return gauges.leg_gauges(width, settings.gauges)
    if piece.section.shape in (CHANNEL, I_SHAPE) and face in ("top", "bottom"):
        return gauges.flange_gauge(piece.section.designation, settings.gauges)
    return None
