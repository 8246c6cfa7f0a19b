"""End, edge and pitch distances of the holes of a piece, true to skew ends, clips and plate outlines.

Vocabulary: free edge (where the steel of a face ends; the heel of an angle is none), core (the points a hole's radius
is measured from: its centre, or the two centres of a slot's ends).
"""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot
from typing import Final

import numpy as np

from takeoff.queries import CHECK, register
from takeoff.rules import edges
from takeoff.rules.findings import REMARKS, Ruling, hole_at
from takeoff.rules.hole_classes import OVERSIZE
from takeoff.rules.sizes import diameter_of
from takeoff.settings import Settings
from takeoff.steel import ANGLE, FLAT, I_SHAPE, PLATE, RHS, T_SHAPE, FloatArray, Hole, Piece, Section
from takeoff.turned import slot_ends
from takeoff.words import Phrase, later, phrase

EXACT_MM: Final = 0.05
"""A distance this little short is not: rounding of the model."""
ON_EDGE_MM: Final = 0.05
EDGE_SLOPE: Final = 3**0.5

HOLE_END = register(
    "hole-end-distance",
    CHECK,
    "Holes nearer to the end than {2} asks: {0} ({1}). Worst: {3}, {4} mm found, {5} mm asked.",
    "Ask the designer whether the end distance is meant, or set the client's own under [distances] in the settings.",
)
HOLE_EDGE = register(
    "hole-edge-distance",
    CHECK,
    "Holes nearer to an edge than {2} asks: {0} ({1}). Worst: {3}, {4} mm found, {5} mm asked.",
    "Ask the designer whether the edge distance is meant, or set the client's own under [distances] in the settings.",
)
HOLE_PITCH = register(
    "hole-pitch",
    CHECK,
    "Pairs of holes nearer to each other than {2} asks: {0} ({1}). Worst: {3}, {4} mm found, {5} mm asked.",
    "Ask the designer whether the pitch is meant, or set the client's own under [distances] in the settings.",
)
HOLE_EDGE_MAXIMUM = register(
    "hole-edge-maximum",
    CHECK,
    "Edges farther from their nearest hole than {2} allows: {0} ({1}). Worst: {3}, {4} mm found, {5} mm allowed.",
    "For steel exposed to weather ask the designer; else set distances.maximum to false.",
)
REMARKS[HOLE_END] = later("{where}: {found} mm from the end, {asked} asked ({cause})")
REMARKS[HOLE_EDGE] = later("{where}: {found} mm from the edge, {asked} asked ({cause})")
REMARKS[HOLE_PITCH] = later("{where}: {found} mm apart, {asked} asked ({cause})")
REMARKS[HOLE_EDGE_MAXIMUM] = later("{where}: an edge {found} mm from its nearest hole, {asked} allowed ({cause})")


def free_edges(section: Section, face: str) -> tuple[bool, bool]:
    """Whether the steel of a face ends at its low and at its high edge (elsewhere another wall goes on)."""
    shape = section.shape
    if shape in (FLAT, PLATE):
        return True, True
    if shape == ANGLE:
        return False, True
    if shape in (I_SHAPE, T_SHAPE) and face in ("top", "bottom"):
        return True, True
    if shape == T_SHAPE:
        return False, True
    if face in ("top", "bottom") and shape != RHS and not section.lip:
        return False, True
    return False, False


def bolt_holes(piece: Piece) -> list[Hole]:
    """The holes that the rules for bolts are about: those with a bolt, and of the others those as large as the least
    hole with one, whose bolt may be in another model. A smaller hole (earthing, a drain) is for no bolt of the joint.
    """
    plain = [h for h in piece.holes if h.kind in ("round", "slot", "countersunk") and (h.bolt or h.diameter > 0)]
    least = min((h.diameter for h in plain if h.bolt), default=0.0)
    return [h for h in plain if h.bolt or h.diameter >= least - EXACT_MM]


def core(hole: Hole) -> list[tuple[float, float]]:
    """The centre of a round hole, the two centres of a slot's ends; (x, across)."""
    if hole.slot_length > hole.diameter:
        return list(slot_ends(hole.x, hole.across, hole.slot_length, hole.diameter, hole.slot_angle))
    return [(hole.x, hole.across)]


def _segments(piece: Piece, face: str) -> tuple[FloatArray, FloatArray]:
    """Both ends (n, 2) of every straight piece of a face's free outline."""
    wall = next(f for f in piece.faces if f.name == face)
    low_free, high_free = free_edges(piece.section, face)
    starts, stops = [], []
    for outline in piece.outlines:
        if outline.face != face:
            continue
        for loop in (outline.points, outline.far):
            if loop is None or not len(loop):
                continue
            start, stop = np.asarray(loop, dtype=float), np.roll(np.asarray(loop, dtype=float), -1, axis=0)
            keep = np.ones(len(start), dtype=bool)
            for free, across in ((low_free, wall.low), (high_free, wall.high)):
                if not free:
                    on = (abs(start[:, 1] - across) < ON_EDGE_MM) & (abs(stop[:, 1] - across) < ON_EDGE_MM)
                    keep &= ~on
            starts.append(start[keep])
            stops.append(stop[keep])
    if not starts:
        return np.empty((0, 2)), np.empty((0, 2))
    return np.concatenate(starts), np.concatenate(stops)


def _distances(points: FloatArray, start: FloatArray, stop: FloatArray) -> FloatArray:
    """Distance (points, segments) of every point from every segment."""
    along = stop - start
    length2 = np.maximum((along**2).sum(axis=1), 1e-12)
    t = np.clip(((points[:, None, :] - start[None]) * along[None]).sum(axis=2) / length2, 0.0, 1.0)
    return np.asarray(np.linalg.norm(points[:, None, :] - (start[None] + t[..., None] * along[None]), axis=2))


def end_and_edge(piece: Piece, settings: Settings) -> Iterator[Ruling]:
    """Holes nearer to an end or an edge than the rule allows."""
    holes = [h for h in bolt_holes(piece) if h.diameter > 0]
    plate = piece.section.shape == PLATE
    for face in dict.fromkeys(h.face for h in holes):
        mine = [h for h in holes if h.face == face]
        start, stop = _segments(piece, face)
        if not len(start):
            continue
        run = abs(stop - start)
        # What leans more than 30 degrees to the piece is an end: a skew cut, a clip.
        is_edge = (run[:, 0] >= EDGE_SLOPE * run[:, 1]) | plate
        cores = [core(h) for h in mine]
        owner = np.repeat(np.arange(len(mine)), [len(c) for c in cores])
        away = _distances(np.array([p for c in cores for p in c]), start, stop)
        for k, hole in enumerate(mine):
            bolt = diameter_of(hole.bolt)
            slot = hole.slot_length > hole.diameter
            oversize = hole.hole_class == OVERSIZE
            for code, rule, which in (
                (HOLE_END, edges.end_distance, ~is_edge),
                (HOLE_EDGE, edges.edge_distance, is_edge),
            ):
                if not which.any():
                    continue
                found = float(away[np.ix_(owner == k, which)].min())
                least = rule(bolt, hole.diameter, slot, settings.distances, oversize)
                if plate:
                    # A plate does not tell which way its holes are loaded: the lesser of both rules is asked.
                    end = edges.end_distance(bolt, hole.diameter, slot, settings.distances, oversize)
                    least = min((e for e in (least, end) if e.mm > 0), key=lambda e: e.mm, default=least)
                if found < least.mm - EXACT_MM:
                    yield Ruling(code, least.source, hole_at(hole.label), found, least.mm)


def pitches(piece: Piece, settings: Settings) -> Iterator[Ruling]:
    """Pairs of holes of one face nearer to each other than the rule allows."""
    plate = piece.section.shape == PLATE
    by_face: dict[str, list[Hole]] = {}
    for hole in bolt_holes(piece):
        by_face.setdefault(hole.face, []).append(hole)
    for holes in by_face.values():
        holes.sort(key=lambda h: h.x)
        widest = max(h.diameter for h in holes)
        longest = max(h.slot_length for h in holes)
        reach = max((edges.PITCH_ACROSS + 1.0) * widest, *settings.distances.pitch_mm.values(), 0.0) + longest
        for k, one in enumerate(holes):
            for other in holes[k + 1 :]:
                if other.x - one.x > reach:
                    break
                yield from _pitch(one, other, plate, settings)


def _pair(one: Hole, other: Hole) -> Phrase:
    return phrase("holes {one} and {other}", one=one.label, other=other.label)


def _pitch(one: Hole, other: Hole, plate: bool, settings: Settings) -> Iterator[Ruling]:
    along, across = min(
        ((abs(a[0] - b[0]), abs(a[1] - b[1])) for a in core(one) for b in core(other)), key=lambda d: hypot(*d)
    )
    found = hypot(along, across)
    # A plate does not tell which way its holes are loaded: the lesser rule is asked, that along the force.
    hole = max(one.diameter, other.diameter)
    bolt = max(diameter_of(one.bolt), diameter_of(other.bolt))
    least = edges.pitch(bolt, hole, along, 0.0 if plate else across, settings.distances)
    touching = found < (one.diameter + other.diameter) / 2
    if found < least.mm - EXACT_MM and not touching:
        yield Ruling(HOLE_PITCH, least.source, _pair(one, other), found, least.mm)


def greatest_edge(piece: Piece, settings: Settings) -> Iterator[Ruling]:
    """Edges whose nearest hole is farther away than the rule allows; only where the settings ask for it."""
    if not settings.distances.maximum:
        return
    holes = bolt_holes(piece)
    for wall in piece.faces:
        mine = [h for h in holes if h.face == wall.name]
        start, stop = _segments(piece, wall.name)
        if not mine or not len(start):
            continue
        most = edges.greatest_edge(wall.thickness, settings.distances)
        nearest = _distances(np.array([p for h in mine for p in core(h)]), start, stop).min(axis=0)
        long = np.linalg.norm(stop - start, axis=1) > most.mm
        for found in nearest[long & (nearest > most.mm + EXACT_MM)]:
            where = phrase("face {face}", face=wall.name)
            yield Ruling(HOLE_EDGE_MAXIMUM, most.source, where, float(found), most.mm)
