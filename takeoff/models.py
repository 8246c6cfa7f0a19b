"""Several models as one job."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from takeoff.queries import CHECK, Query, query, register
from takeoff.steel import Model

COUNTED_TWICE = register(
    "element-counted-twice",
    CHECK,
    "{0} elements have a GlobalId that another one has too; each of them was counted, so quantities may be double.",
    "If the models given are two states of one, or overlap, give the newest of each only.",
)


def join_models(models: Sequence[Model]) -> Model:
    """One Model of all parts and fasteners, each of which says which file it comes from."""
    if len(models) == 1:
        return models[0]
    return Model(
        name=" + ".join(m.name for m in models),
        schema=", ".join(dict.fromkeys(m.schema for m in models)),
        checksum=" ".join(m.checksum for m in models),
        date=max((m.date for m in models), default=""),
        members=tuple(part for m in models for part in m.members),
        fasteners=tuple(part for m in models for part in m.fasteners),
        assemblies=tuple(part for m in models for part in m.assemblies),
        application=", ".join(dict.fromkeys(m.application for m in models if m.application)),
        length_unit=", ".join(dict.fromkeys(m.length_unit for m in models)),
    )


def counted_twice(model: Model) -> tuple[Query, ...]:
    """A GlobalId names one element for ever: one that comes back is most likely the same steel a second time."""
    counts = Counter([m.global_id for m in model.members] + [f.global_id for f in model.fasteners])
    again = tuple(sorted(global_id for global_id, count in counts.items() if count > 1))
    if not again:
        return ()
    return (query(COUNTED_TWICE, sum(counts[g] for g in again), global_ids=again),)
