"""Parts that no bolt touches, in a model that has bolts."""

from __future__ import annotations

from collections.abc import Sequence

from takeoff.queries import CHECK, Query, query, register
from takeoff.steel import Member

PART_WITHOUT_BOLT = register(
    "part-without-bolt",
    CHECK,
    "{0} parts are touched by no bolt.",
    "They may be welded, or their bolts are in another model. Their lists show the holes that the model draws.",
)
MODEL_WITHOUT_BOLTS = register(
    "model-without-bolts",
    CHECK,
    "The model has no bolts: the {0} parts have only the holes that it draws.",
    "Ask for the model with its fasteners before punching.",
)


def untouched_query(members: Sequence[Member], untouched: Sequence[int], bolts: int) -> tuple[Query, ...]:
    """One query for all of them; another one where there are no bolts at all."""
    if not untouched:
        return ()
    ids = tuple(members[i].global_id for i in untouched)
    if not bolts:
        return (query(MODEL_WITHOUT_BOLTS, len(ids)),)
    return (query(PART_WITHOUT_BOLT, len(ids), global_ids=ids),)
