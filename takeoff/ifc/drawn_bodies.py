"""Drawn bodies as bodies of the shop: from the entity's facets, or the kernel's, to takeoff.drawn and back.

Bodies that draw the same facets in the same place relative to their first point are read once,
whatever entities draw them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from weakref import WeakKeyDictionary

import numpy as np

from takeoff.drawn import Drawn, Refusal, grain_of, read_solid
from takeoff.ifc.context import Context, Entity, Unread
from takeoff.ifc.facets import FACETED, Facet, shells
from takeoff.ifc.joined import JOINED, one_of
from takeoff.ifc.kernel import KERNEL, meshed
from takeoff.ifc.prisms import is_flat
from takeoff.sections import tables
from takeoff.settings import Settings
from takeoff.steel import Body, FloatArray, Frame, Problem

_SEVERAL = ("several", "crossed")
"""Refusals of meshes that may be several bodies which touch."""
_FEWEST = 4
"""Facets of the smallest closed shell."""
_DECIMALS = 4
"""Places of points are compared to this many decimals of a mm."""


@dataclass(frozen=True, slots=True, eq=False)
class DrawnMesh:
    """``points`` (n, 3) mm in the item's coordinates, ``facets`` as rings of their numbers, ``grain`` mm.

    ``solid``: the file says that the facets close.
    """

    points: FloatArray
    facets: tuple[Facet, ...]
    grain: float
    solid: bool


@dataclass(slots=True)
class _Known:
    """What has been read of one file."""

    meshes: dict[int, DrawnMesh] = field(default_factory=dict)
    bodies: dict[tuple[object, ...], Drawn | Refusal] = field(default_factory=dict)


_KNOWN: WeakKeyDictionary[Context, _Known] = WeakKeyDictionary()


def read_drawn(ctx: Context, item: Entity, seen: FloatArray, text: str, settings: Settings) -> tuple[Body, Frame]:
    """The body an item draws without a profile, and its piece frame in the coordinates ``seen`` makes of the item's.

    ``seen`` (4, 4) mirrors and scales the coordinates before they are read; ``text`` is what the model
    calls the section. Raises Unread with what the body is where it cannot be read.
    """
    known = _KNOWN.setdefault(ctx, _Known())
    mesh = known.meshes.get(item.id())
    if mesh is None:
        mesh = known.meshes[item.id()] = _mesh(ctx, item)
    points = mesh.points @ seen[:3, :3].T + seen[:3, 3]
    grain = mesh.grain * float(np.linalg.norm(seen[:3, :3], axis=0).max())
    base = points[0]
    # read from rounded places, so that the answer does not depend on which of the like bodies came first
    places = np.round(points - base, _DECIMALS) + 0.0
    key = (places.tobytes(), mesh.facets, grain, mesh.solid, text)
    found = known.bodies.get(key)
    if found is None:
        found = read_solid(places, mesh.facets, _flat(text, settings), grain, mesh.solid)
        if isinstance(found, Refusal) and found.code in _SEVERAL:
            found = _together(places, mesh, grain, text, settings) or found
        known.bodies[key] = found
    if isinstance(found, Refusal):
        drawn = KERNEL.get(item.is_a(), "")
        raise Unread(f"its body is drawn as {drawn}, and {found.sentence}" if drawn else found.sentence)
    section = tables.match(found.body.section, text, settings.weights.mass)
    return replace(found.body, section=section), Frame(found.origin + base, found.axes)


def _together(
    places: FloatArray, mesh: DrawnMesh, grain: float, text: str, settings: Settings
) -> Drawn | Refusal | None:
    """The one piece that several closed shells of one mesh draw, or what they are; None where they cannot be read."""
    pieces: list[tuple[Body, FloatArray]] = []
    for facets in _shells(mesh.facets):
        if len(facets) < _FEWEST:
            continue  # the side on which two shells meet, which both have
        found = read_solid(places, facets, _flat(text, settings), grain, mesh.solid)
        if isinstance(found, Refusal):
            return None
        place = np.eye(4)
        place[:3, :3], place[:3, 3] = found.axes.T, found.origin
        pieces.append((found.body, place))
    if len(pieces) < 2:
        return None
    try:
        body, place = one_of(pieces, text, settings)
    except Unread as error:
        return Refusal("built", (error.sentence,))
    body = replace(body, problems=(*body.problems, Problem(JOINED, (body.section.designation,))))
    return Drawn(body, place[:3, :3].T, place[:3, 3])


def _shells(facets: Sequence[Facet]) -> list[list[Facet]]:
    """Facets that hang together by edges that two of them share and no more."""
    users: dict[tuple[int, int], list[int]] = {}
    for number, facet in enumerate(facets):
        for ring in facet:
            for a, b in pairwise((*ring, ring[0])):
                users.setdefault((min(a, b), max(a, b)), []).append(number)
    parent = list(range(len(facets)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for pair in users.values():
        if len(pair) == 2:
            one, two = sorted((root(pair[0]), root(pair[1])))
            parent[two] = one
    groups: dict[int, list[Facet]] = {}
    for number, facet in enumerate(facets):
        groups.setdefault(root(number), []).append(facet)
    return list(groups.values())


def _flat(text: str, settings: Settings) -> Callable[[float, float, float], bool]:
    return lambda width, thick, length: is_flat(width, thick, length, text, settings.flats)


def _mesh(ctx: Context, item: Entity) -> DrawnMesh:
    kind = item.is_a()
    if kind in FACETED:
        try:
            return _faceted(ctx, item)
        except Unread:
            if kind not in KERNEL:
                raise
    made = meshed(ctx, item)
    return DrawnMesh(made.points, made.facets, 0.0, True)


def _faceted(ctx: Context, item: Entity) -> DrawnMesh:
    parts = shells(ctx, item)
    if not parts:
        raise Unread("its body draws no facets")
    points = np.concatenate([part.points for part in parts])
    facets: list[Facet] = []
    first = 0
    for part in parts:
        facets += [tuple(tuple(i + first for i in ring) for ring in facet) for facet in part.facets]
        first += len(part.points)
    return DrawnMesh(points, tuple(facets), grain_of(points, ctx.mm), _says_solid(item))


def _says_solid(item: Entity) -> bool:
    """Whether the standard or the item itself says that its facets enclose a volume."""
    if item.is_a("IfcSolidModel") or item.is_a("IfcClosedShell"):
        return True
    return bool(item.is_a("IfcTessellatedFaceSet") and item.Closed)
