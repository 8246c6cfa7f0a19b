"""A state from a takeoff: what a model holds now."""

from __future__ import annotations

from collections import Counter

import numpy as np

from takeoff.revision import BoltKind, Built, Stand, State
from takeoff.steel import ANGLE, CHS, I_SHAPE, LEFT_OUT, LOOSE, ROUND, T_SHAPE, Section, Takeoff


def state_of(takeoff: Takeoff) -> State:
    """The state of a takeoff."""
    stands = []
    for piece in takeoff.pieces:
        if not piece.frames:
            continue
        origins = np.array([frame.origin for frame in piece.frames])
        axes = np.array([frame.axes for frame in piece.frames])
        rights = origins + piece.length * axes[:, 0]
        middles = origins + np.array([piece.length / 2, *_middle(piece.section)]) @ axes
        for k, i in enumerate(piece.members):
            one = takeoff.model.members[i].global_id
            stands.append(Stand(one, piece.mark, origins[k], rights[k], middles[k], axes[k]))
    unread = Counter(
        (member.ifc_class, status, reason)
        for member, mark, status, reason in zip(
            takeoff.model.members, takeoff.member_marks, takeoff.member_status, takeoff.member_reasons, strict=True
        )
        if not mark and status != LEFT_OUT
    )
    bolts: Counter[BoltKind] = Counter()
    for line in takeoff.bolt_lines:
        bolts[BoltKind(line.diameter, line.length, line.grade, line.standard)] += line.quantity
    bought: Counter[str] = Counter()
    for row in takeoff.bought_out:
        bought[row.size] += row.quantity
    return State(
        name=takeoff.model.name,
        from_tables=False,
        pieces=takeoff.pieces,
        stands=tuple(stands),
        bolts=bolts,
        bought=bought,
        assemblies=tuple(Built(a.mark, a.quantity, a.pieces, a.bolts) for a in takeoff.assemblies if a.mark != LOOSE),
        unread=unread,
        gross=sum(p.gross * p.quantity for p in takeoff.pieces),
        net=sum(p.net * p.quantity for p in takeoff.pieces),
        quantities={p.mark: p.quantity for p in takeoff.pieces},
    )


def _middle(section: Section) -> tuple[float, float]:
    """A point (u, v) of the section that no turn moves in the model: of an angle the heel."""
    if section.shape in (ANGLE, CHS, ROUND):
        return 0.0, 0.0
    if section.shape in (I_SHAPE, T_SHAPE):
        return 0.0, section.h / 2
    return section.b / 2, section.h / 2
