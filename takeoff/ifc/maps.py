"""Where mapped items put what they map."""

from __future__ import annotations

from typing import Any

import numpy as np

from takeoff.ifc.context import Context, Entity, argument
from takeoff.ifc.placements import axis2placement3d, operator3d
from takeoff.steel import FloatArray

_EYE = np.eye(4)


class _Maps:
    """What has been worked out of one file's maps."""

    def __init__(self) -> None:
        self.matrices: dict[tuple[int, int], FloatArray | None] = {}
        self.turns: dict[tuple[Any, ...], FloatArray] = {}
        self.origins: dict[int, FloatArray | None] = {}


def map_matrix(ctx: Context, mapped: Entity) -> FloatArray | None:
    """(4, 4) mm from a mapped representation to the item that maps it: the origin comes to lie on the target.

    None where both lie alike. Shared: do not change it. Raises Unread.
    """
    kept: _Maps | None = ctx.maps
    if kept is None:
        kept = ctx.maps = _Maps()
    operator, origin = argument(mapped, 1), argument(argument(mapped, 0), 0)
    origin_key = origin.id()
    key = (operator.id(), origin_key)
    if key in kept.matrices:
        return kept.matrices[key]
    if origin_key not in kept.origins:
        place = axis2placement3d(ctx, origin)
        kept.origins[origin_key] = None if np.array_equal(place, _EYE) else np.asarray(np.linalg.inv(place), float)
    back = kept.origins[origin_key]
    matrix: FloatArray = _operator(ctx, operator, kept)
    if back is not None:
        matrix = np.asarray(matrix @ back, dtype=float)
    found = kept.matrices[key] = None if (matrix == _EYE).all() else matrix
    return found


def _operator(ctx: Context, operator: Entity, kept: _Maps) -> FloatArray:
    """operator3d, its turn kept for the next operator with the same axes: bolts mostly differ in place only."""
    if operator.is_a() != "IfcCartesianTransformationOperator3D":
        return operator3d(ctx, operator)
    first, second, third = argument(operator, 0), argument(operator, 1), argument(operator, 4)
    key = (
        first and first.id(), second and second.id(), third and third.id(), argument(operator, 3),
    )  # fmt: skip
    turn = kept.turns.get(key)
    if turn is None:
        turn = kept.turns[key] = operator3d(ctx, operator)
    matrix = turn.copy()
    matrix[:3, 3] = [*ctx.point(argument(operator, 2)), 0.0][:3]
    return matrix
