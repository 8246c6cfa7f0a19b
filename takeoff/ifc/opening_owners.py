"""Openings that no relation ties to a part: whose they are, where that is certain.

An opening that is placed relative to one part and meets its steel is that part's. Any other is the part's
whose wall it goes through as a hole, where there is one such part only and it touches no other: a pocket
over a part's end or edge may be meant for the wall it sits in. What is not certain stays nobody's.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence

import numpy as np

from takeoff.ifc.context import DAMAGE, Context, Entity, Unread, argument
from takeoff.ifc.opening_prisms import Solid, solids_of
from takeoff.ifc.openings import NOTHING, Found, cut_by, in_piece
from takeoff.ifc.placements import placement
from takeoff.sections import loops, shapes
from takeoff.steel import Body, FloatArray, Member

_EYE = np.eye(4)
_FEATURES = "IfcFeatureElementSubtraction"


def lost(ctx: Context, owned: Collection[int]) -> list[Entity]:
    """Openings that are not among the ``owned`` entity ids, in the order of their GlobalIds."""
    found = [opening for opening in ctx.file.by_type(_FEATURES) if opening.id() not in owned]
    return sorted(found, key=lambda opening: (str(argument(opening, 0)), opening.id()))


def owners(
    ctx: Context, openings: Sequence[Entity], parts: Sequence[Entity], members: Sequence[Member]
) -> dict[int, list[Entity]]:
    """The openings of each part that are certainly its own, by the part's index.

    ``members`` run parallel to ``parts``.
    """
    index = {part.id(): i for i, part in enumerate(parts) if members[i].is_made}
    found: dict[int, list[Entity]] = defaultdict(list)
    boxes: tuple[list[int], FloatArray] | None = None
    for opening in openings:
        try:
            place = placement(ctx, argument(opening, 5))
        except (Unread, *DAMAGE):
            continue
        owner = index.get(_placed_on(ctx, opening))
        try:
            solids = [tuple(prism.moved(place) for prism in solid) for solid in solids_of(ctx, opening)]
        except (Unread, *DAMAGE):
            # it is drawn in a way that is not read: its part is held for it
            if owner is not None:
                found[owner].append(opening)
            continue
        if owner is not None and _meets(_taken(members[owner], solids)):
            found[owner].append(opening)
            continue
        if boxes is None:
            boxes = _boxes(members)
        owner = _gone_through(members, solids, boxes)
        if owner is not None:
            found[owner].append(opening)
    return found


def _placed_on(ctx: Context, opening: Entity) -> int:
    """The id of the one product on whose placement an opening's own stands; 0 where there is none, or several."""
    link, seen = argument(opening, 5), set[int]()
    while link is not None and link.id() not in seen:
        seen.add(link.id())
        users = [user for user in ctx.file.get_inverse(link) if user.is_a("IfcProduct")]
        users = [user for user in users if not user.is_a(_FEATURES)]
        if users:
            return int(users[0].id()) if len(users) == 1 else 0
        link = argument(link, 0) if link.is_a("IfcLocalPlacement") else None
    return 0


def _taken(member: Member, solids: Sequence[Solid]) -> Found:
    assert member.body is not None
    assert member.frame is not None
    return cut_by(member.body, [in_piece(solid, _EYE, member.frame) for solid in solids])


def _meets(found: Found) -> bool:
    holes, notches, problems = found
    return bool(holes or notches or any(problem.code != NOTHING for problem in problems))


def _gone_through(
    members: Sequence[Member], solids: Sequence[Solid], boxes: tuple[list[int], FloatArray]
) -> int | None:
    """The index of the only part that solids touch, where they go through it as holes and no more."""
    numbers, bounds = boxes
    corners = np.concatenate([_corners(solid) for solid in solids])
    low, high = corners.min(axis=0), corners.max(axis=0)
    near = ((bounds[:, 0] <= high) & (bounds[:, 1] >= low)).all(axis=1)
    met = [(numbers[k], found) for k in np.flatnonzero(near) if _meets(found := _taken(members[numbers[k]], solids))]
    if len(met) != 1:
        return None
    i, (holes, notches, problems) = met[0]
    return i if holes and not notches and not problems else None


def _corners(solid: Solid) -> FloatArray:
    prism = solid[0]
    ring = loops.flatten(prism.loop) @ prism.axes[:2] + prism.origin
    return np.concatenate([ring, ring + prism.depth * prism.axes[2]])


def _boxes(members: Sequence[Member]) -> tuple[list[int], FloatArray]:
    """Indices of the parts that are made, and the boxes (n, 2, 3) round them in the model."""
    local: dict[Body, FloatArray] = {}
    numbers: list[int] = []
    found: list[tuple[FloatArray, FloatArray]] = []
    for i, member in enumerate(members):
        body, frame = member.body, member.frame
        if body is None or frame is None or not member.is_made:
            continue
        box = local.get(body)
        if box is None:
            ring = shapes.outline(body.section)
            (u0, v0), (u1, v1) = ring.min(axis=0), ring.max(axis=0)
            box = local[body] = np.array([(x, u, v) for x in (0.0, body.length) for u in (u0, u1) for v in (v0, v1)])
        corners = frame.to_model(box)
        numbers.append(i)
        found.append((corners.min(axis=0), corners.max(axis=0)))
    return numbers, np.array(found).reshape(-1, 2, 3)
