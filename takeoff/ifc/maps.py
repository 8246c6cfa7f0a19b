"""Where mapped items put what they map."""

from __future__ import annotations

from typing import Any
from weakref import WeakKeyDictionary

import numpy as np

from takeoff.ifc.context import Context, Entity, argument
from takeoff.ifc.placements import axis2placement3d, operator3d
from takeoff.steel import FloatArray

_MAPS: WeakKeyDictionary[Context, dict[tuple[int, int], FloatArray | None]] = WeakKeyDictionary()
_TURNS: WeakKeyDictionary[Context, dict[tuple[Any, ...], FloatArray]] = WeakKeyDictionary()


def map_matrix(ctx: Context, mapped: Entity) -> FloatArray | None:
    """(4, 4) mm from a mapped representation to the item that maps it: the origin comes to lie on the target.

    None where both lie alike. Shared: do not change it.
    """
    operator, origin = argument(mapped, 1), argument(argument(mapped, 0), 0)
    cache = _MAPS.setdefault(ctx, {})
    key = (operator.id(), origin.id())
    if key in cache:
        return cache[key]
    matrix = _operator(ctx, operator) @ np.linalg.inv(axis2placement3d(ctx, origin))
    found = cache[key] = None if np.array_equal(matrix, np.eye(4)) else matrix
    return found


def _operator(ctx: Context, operator: Entity) -> FloatArray:
    """operator3d, its turn kept for the next operator with the same axes: bolts mostly differ in place only."""
    if operator.is_a() != "IfcCartesianTransformationOperator3D":
        return operator3d(ctx, operator)
    axes = [argument(operator, i) for i in (0, 1, 4)]
    key = (*(None if axis is None else axis.id() for axis in axes), argument(operator, 3))
    cache = _TURNS.setdefault(ctx, {})
    turn = cache.get(key)
    if turn is None:
        turn = cache[key] = operator3d(ctx, operator)
    matrix = turn.copy()
    matrix[:3, 3] = [*ctx.point(argument(operator, 2)), 0.0][:3]
    return matrix
