"""Room in the joints: nuts and washers beside root and heel, and the bolts of one leg beside those of the other.

Vocabulary
----------
inside     the side of a leg, web or flange that the other wall of the section stands on
bearing    where head, nut or washer sits on the outermost ply of its side
reach      how far head, nut or bolt end stands out from the outside of the leg, measured through the leg
room       from the bolt's axis to the root radius (washers) or to the inside of the next wall (tools)
Bolts are taken as boxes round washer, nut and thread: two boxes at an angle may touch where round parts just pass.
Sizes are those of the bolt's standard; sockets are common practice. See settings, [clearances].
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from math import sqrt
from typing import Final, NamedTuple

import numpy as np

from takeoff.joints.plies import IntArray, Plies
from takeoff.queries import CHECK, register
from takeoff.rules.fasteners import bolts, family, nuts, size_of, washers
from takeoff.rules.findings import REMARKS, Ruling
from takeoff.rules.sizes import inch_size, size_name
from takeoff.settings import BoltSettings, ClearanceSettings, Settings
from takeoff.steel import ANGLE, CHANNEL, I_SHAPE, T_SHAPE, Fastener, FloatArray, Piece, Section
from takeoff.words import Figure, later, phrase

CORNERS: Final = 2 / sqrt(3)
"""Width across corners of a hexagon over its width across flats."""
SOCKET_SHARE, SOCKET_MORE_MM = 1.25, 8.0

WASHER_ON_FILLET = register(
    "washer-on-fillet",
    CHECK,
    "Lines of bolts where {2} lies on the root radius: {0} ({1}). Worst: {3}, {4} mm of room, {5} mm needed.",
    "Ask the designer for another gauge, or put bevelled washers under it.",
)
SOCKET_AT_LEG = register(
    "socket-at-leg",
    CHECK,
    "Lines of bolts where the socket of {2} does not go down beside the next wall: {0} ({1}). Worst: {3}, {4} mm of "
    "room, {5} mm needed.",
    "Turn the bolt round, tighten it with a spanner, or ask the designer for another gauge.",
)
NUTS_MEET = register(
    "nuts-meet",
    CHECK,
    "Pairs of bolts, one in each leg, that stand in each other's way ({2}): {0} ({1}). Worst: {3}, {4} mm clear, "
    "{5} mm asked.",
    "Turn one of the bolts round, or ask the designer to move it.",
)
REMARKS[WASHER_ON_FILLET] = later("{where}: {cause} lies on the root radius, {found} mm of room for {asked}")
REMARKS[SOCKET_AT_LEG] = later("{where}: {found} mm of room for the socket of {cause}, {asked} needed")
REMARKS[NUTS_MEET] = later("{where}: nuts or bolt ends {found} mm clear of each other ({cause})")


class Parts(NamedTuple):
    """A bolt's sizes in mm: width across flats, heights of head and nut, outside and thickness of the washer."""

    diameter: float
    flats: float
    head: float
    nut: float
    washer: float
    washer_mm: float
    pitch: float


@lru_cache(maxsize=512)
def parts_of(diameter: float, standard: str) -> Parts | None:
    """Sizes of a bolt and what belongs to it; None where the tables have no such size."""
    size = size_of(diameter)
    if not size:
        return None
    kin = family(standard, inch_size(diameter) is not None)
    bolt = next((bolts()[s, size] for s in kin.bolts if (s, size) in bolts()), None)
    nut, washer = nuts().get((kin.nut, size)), washers().get((kin.washer, size))
    if bolt is None or nut is None or washer is None:
        return None
    flats = max(bolt.flats, nut.flats)
    return Parts(diameter, flats, bolt.head, nut.height, washer.outer, washer.thickness, bolt.pitch)


class _Seat(NamedTuple):
    """Where a nut or head sits: what all bolts of a line have in common."""

    piece: int
    face: int
    across: float
    inside: bool
    is_nut: bool
    diameter: float
    standard: str
    washers: int


def room_to_root(section: Section, face: str, across: float, inside: bool) -> tuple[float, float] | None:
    """From a bolt's axis to the root radius and to the inside of the next wall, mm; None where neither is near.

    ``inside`` is the side the other wall stands on; both sides of an I's or T's web are. A root radius of 0 is not
    known: the first number is then that to the wall.
    """
    s = section
    if s.shape == ANGLE and inside:
        return across - s.tw - s.r1, across - s.tw
    if s.shape == CHANNEL and inside:
        if face == "web":
            near = min(across, s.h - across)
            return near - s.tf - s.r1, near - s.tf
        return across - s.tw - s.r1, across - s.tw
    if s.shape == I_SHAPE and face == "web":
        near = min(across - (s.tf2 or s.tf), s.h - across - s.tf)
        return near - s.r1, near
    if s.shape == T_SHAPE and face == "stem":
        return across - s.tf - s.r1, across - s.tf
    if s.shape in (I_SHAPE, T_SHAPE) and inside:
        return abs(across) - s.tw / 2 - s.r1, abs(across) - s.tw / 2
    return None


def socket(diameter: float, flats: float, settings: ClearanceSettings) -> float:
    """Outside diameter in mm of the socket for a bolt."""
    own = settings.socket_mm.get(size_name(diameter))
    return own if own is not None else SOCKET_SHARE * flats + SOCKET_MORE_MM


def beside_root(
    plies: Plies, pieces: Sequence[Piece], fasteners: Sequence[Fastener], settings: Settings
) -> list[tuple[str, Ruling]]:
    """Washers, nuts and heads that lie over a root radius, and nuts beside which no socket goes down."""
    first, last = plies.before < 0, plies.after < 0
    first &= plies.enter == plies.head
    last &= plies.leave == plies.end
    found: list[tuple[str, Ruling]] = []
    seats: dict[_Seat, None] = {}
    for rows, is_nut in ((np.flatnonzero(first), False), (np.flatnonzero(last), True)):
        # The nut of a bolt that goes inward sits inside; so does the head of one that goes outward.
        inside = plies.inward[rows] == (1 if is_nut else -1)
        columns = zip(
            plies.piece[rows].tolist(), plies.face[rows].tolist(), np.round(plies.across[rows], 1).tolist(),
            plies.fastener[rows].tolist(), inside.tolist(), strict=True,
        )  # fmt: skip
        for p, f, across, bolt, within in columns:
            fastener = fasteners[bolt]
            if fastener.diameter:
                washer_number = settings.bolts.washers if fastener.washers is None else fastener.washers
                standard = fastener.standard or settings.bolts.standard
                seats.setdefault(_Seat(p, f, across, within, is_nut, fastener.diameter, standard, washer_number))
    for seat in seats:
        sizes = parts_of(seat.diameter, seat.standard)
        piece = pieces[seat.piece]
        face = piece.faces[seat.face]
        room = room_to_root(piece.section, face.name, seat.across, seat.inside)
        if sizes is None or room is None:
            continue
        is_nut = seat.is_nut
        # One washer lies under the nut, a second one under the head: common practice.
        has_washer = seat.washers >= (1 if is_nut else 2)
        radius = sizes.washer / 2 if has_washer else sizes.flats * CORNERS / 2
        bolt_name = size_name(sizes.diameter)
        across = Figure(f"{seat.across:g}")
        where = phrase("face {face} {across} mm from the datum", face=face.name, across=across)
        if piece.section.r1 > 0 and room[0] < radius - settings.clearances.fillet_mm - 1e-6:
            cause = (
                phrase("the washer of {bolt}", bolt=bolt_name)
                if has_washer
                else phrase("the nut of {bolt}", bolt=bolt_name)
                if is_nut
                else phrase("the head of {bolt}", bolt=bolt_name)
            )
            found.append((piece.mark, Ruling(WASHER_ON_FILLET, cause, where, max(0.0, room[0]), radius)))
        need = socket(sizes.diameter, sizes.flats, settings.clearances) / 2
        if is_nut and room[1] < need - 1e-6:
            found.append((piece.mark, Ruling(SOCKET_AT_LEG, bolt_name, where, max(0.0, room[1]), need)))
    return found


def between_legs(
    plies: Plies,
    pieces: Sequence[Piece],
    fasteners: Sequence[Fastener],
    settings: Settings,
    sets: FloatArray,
) -> tuple[dict[int, float], list[tuple[str, Ruling]]]:
    """Least gap in mm between the bolts of one leg and those of the other, by piece, and the pairs nearer than asked.

    ``sets`` (passages, 3) holds each bolt's length in mm (NaN where not known), and how many nuts and washers it has.
    """
    angles = np.array([p.section.shape == ANGLE for p in pieces], dtype=bool)
    rows = np.flatnonzero(angles[plies.piece]) if len(plies.piece) else np.empty(0, dtype=np.intp)
    if not len(rows):
        return {}, []
    boxes = _boxes(rows, plies, pieces, fasteners, settings.bolts, sets)
    known = ~np.isnan(boxes[:, 0, 0])
    rows, boxes = rows[known], boxes[known]
    a, b = _near_pairs(rows, plies)
    if not len(a):
        return {}, []
    gap = _gap(boxes, a, b, plies.x[rows], plies.across[rows])
    least: dict[int, float] = {}
    found: list[tuple[str, Ruling]] = []
    seen: set[tuple[object, ...]] = set()
    asked = settings.clearances.nut_mm
    for k in np.argsort(gap, kind="stable").tolist():
        p = int(plies.piece[rows[a[k]]])
        least.setdefault(p, round(float(gap[k]), 2))
        if gap[k] >= asked - 1e-6:
            continue
        where = [(round(float(plies.x[rows[i[k]]])), round(float(plies.across[rows[i[k]]]))) for i in (a, b)]
        if (p, *where) in seen:
            continue
        seen.add((p, *where))
        sizes = [size_name(fasteners[plies.fastener[rows[i[k]]]].diameter or 0.0) for i in (a, b)]
        cause = phrase("{one} in A, {other} in B", one=sizes[0], other=sizes[1])
        words = phrase("A at x {one}, B at x {other}", one=where[0][0], other=where[1][0])
        found.append((pieces[p].mark, Ruling(NUTS_MEET, cause, words, round(float(gap[k]), 1), asked or 1e-9)))
    return {p: gap for p, gap in least.items() if gap < NEAR_MM}, found


NEAR_MM: Final = 50.0
"""Bolts of two legs farther from each other than this are not near."""


def _boxes(
    rows: IntArray,
    plies: Plies,
    pieces: Sequence[Piece],
    fasteners: Sequence[Fastener],
    settings: BoltSettings,
    sets: FloatArray,
) -> FloatArray:
    """(n, 3, 2): reach of washer, nut (or head) and bolt end from outside the leg, and their radii; NaN unknown."""
    kind, sizes = _kinds(fasteners, settings)
    diameter, flats, head, nut, washer, washer_mm, pitch = sizes[kind[plies.fastener[rows]]].T
    length, nut_number, washer_number = sets[plies.passage[rows]].T
    inside = plies.inward[rows] > 0
    thick = np.array([p.section.tw for p in pieces])[plies.piece[rows]]
    beyond = np.where(inside, plies.end[rows] - plies.leave[rows], plies.enter[rows] - plies.head[rows])
    bearing = thick + beyond
    grip = plies.end[rows] - plies.head[rows]
    # One washer lies under the nut, a second one under the head: common practice.
    under = np.where(inside, np.minimum(washer_number, 1), np.maximum(washer_number - 1, 0)) * washer_mm
    solid = under + np.where(inside, nut_number * nut, head)
    end = length - grip - np.maximum(washer_number - 1, 0) * washer_mm
    end = np.where(np.isnan(end), solid + pitch, end)
    thread = np.where(inside, np.maximum(solid, end), solid)
    corner = flats * CORNERS / 2
    radii = (np.where(under > 0, washer / 2, corner), corner, diameter / 2)
    reaches = (bearing + under, bearing + solid, bearing + thread)
    return np.stack([np.stack([r, w], axis=1) for r, w in zip(reaches, radii, strict=True)], axis=1)


def _kinds(fasteners: Sequence[Fastener], settings: BoltSettings) -> tuple[IntArray, FloatArray]:
    """The kind of every fastener, and the sizes of each kind: Parts; NaN unknown."""
    numbers: dict[tuple[object, ...], int] = {}
    sizes: list[tuple[float, ...]] = []
    kinds = []
    for fastener in fasteners:
        key = (fastener.diameter, fastener.standard)
        if key not in numbers:
            numbers[key] = len(sizes)
            standard = fastener.standard or settings.standard
            parts = parts_of(fastener.diameter, standard) if fastener.diameter else None
            sizes.append(tuple(parts or (np.nan,) * len(Parts._fields)))
        kinds.append(numbers[key])
    return np.array(kinds, dtype=np.intp), np.array(sizes, dtype=float).reshape(-1, len(Parts._fields))


def _near_pairs(rows: IntArray, plies: Plies) -> tuple[IntArray, IntArray]:
    """Positions in ``rows`` of bolts in leg A and in leg B of the same member, near each other along it."""
    if not len(rows):
        return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp)
    member, face, x = plies.member[rows], plies.face[rows], plies.x[rows]
    first, second = np.flatnonzero(face == 0), np.flatnonzero(face == 1)
    step = float(x.max() - x.min()) + 4 * NEAR_MM
    key = member * step + (x - x.min())
    second = second[np.argsort(key[second], kind="stable")]
    low = np.searchsorted(key[second], key[first] - 2 * NEAR_MM)
    high = np.searchsorted(key[second], key[first] + 2 * NEAR_MM)
    number = high - low
    a = np.repeat(first, number)
    start = np.repeat(low - np.concatenate([[0], np.cumsum(number)[:-1]]), number)
    b = second[(np.arange(len(a)) + start).astype(np.intp)] if len(a) else np.empty(0, dtype=np.intp)
    return a, b


def _gap(boxes: FloatArray, a: IntArray, b: IntArray, x: FloatArray, across: FloatArray) -> FloatArray:
    """Least gap of every pair over the three boxes of each bolt; negative where two boxes overlap."""
    least = np.full(len(a), np.inf)
    for i in range(3):
        for j in range(3):
            reach_a, radius_a = boxes[a, i, 0], boxes[a, i, 1]
            reach_b, radius_b = boxes[b, j, 0], boxes[b, j, 1]
            gaps = np.stack(
                [
                    abs(x[a] - x[b]) - radius_a - radius_b,
                    across[b] - radius_b - reach_a,
                    across[a] - radius_a - reach_b,
                ]
            )
            apart = np.sqrt((np.maximum(gaps, 0.0) ** 2).sum(axis=0))
            least = np.minimum(least, np.where((gaps > 0).any(axis=0), apart, gaps.max(axis=0)))
    return least


def with_clearances(pieces: Sequence[Piece], least: Mapping[int, float]) -> list[Piece]:
    """The pieces with the least gap between the bolts of their legs."""
    return [replace(p, nut_clearance=least[k]) if k in least else p for k, p in enumerate(pieces)]
