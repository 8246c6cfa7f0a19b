"""Several models as one job."""

from __future__ import annotations

from collections.abc import Sequence

from takeoff.steel import Model


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
