"""Curves in space as corners: what a disk or a rod is swept along."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.steel import FloatArray

_DEPTH: Final = 16


def path_points(ctx: Context, curve: Entity, depth: int) -> list[FloatArray | None]:
    """Corners (3,) mm of an open curve in space; None stands for a bend between two of them."""
    if depth > _DEPTH:
        raise Unread("its path refers to itself")
    kind = curve.is_a()
    if kind == "IfcPolyline":
        return [spatial(ctx.point(point)) for point in argument(curve, 0)]
    if kind == "IfcIndexedPolyCurve":
        points = [spatial(tuple(v * ctx.mm for v in p)) for p in argument(argument(curve, 0), 0)]
        segments = argument(curve, 1)
        if segments is None:
            return list(points)
        out: list[FloatArray | None] = []
        for segment in segments:
            run = [points[i - 1] for i in argument(segment, 0)]
            out += [run[0], None, run[-1]] if segment.is_a("IfcArcIndex") else run
        return out
    if kind in ("IfcCompositeCurve", "IfcGradientCurve"):
        parts: list[FloatArray | None] = []
        for segment in argument(curve, 0):
            part = path_points(ctx, argument(segment, 2), depth + 1)
            parts += part if argument(segment, 1) else part[::-1]
        return parts
    if kind == "IfcTrimmedCurve":
        return _trimmed(ctx, curve)
    if curve.is_a("IfcConic"):
        return [None]
    raise Unread(f"its path is an {kind}, which is not read yet")


def spatial(point: tuple[float, ...]) -> FloatArray:
    """A point (3,) of two or three coordinates."""
    return np.array([*point, 0.0][:3], dtype=float)


def _trimmed(ctx: Context, curve: Entity) -> list[FloatArray | None]:
    basis = argument(curve, 0)
    if not basis.is_a("IfcLine"):
        return [None]
    origin = spatial(ctx.point(argument(basis, 0)))
    vector = argument(basis, 1)
    ratios = spatial(ctx.direction(argument(vector, 0)))
    step = ratios / np.linalg.norm(ratios) * float(argument(vector, 1)) * ctx.mm
    ends: list[FloatArray | None] = []
    for trims in (argument(curve, 1), argument(curve, 2)):
        given = [t for t in trims if t.is_a("IfcCartesianPoint")]
        values = [t for t in trims if not t.is_a("IfcCartesianPoint")]
        if given:
            ends.append(spatial(ctx.point(given[0])))
        else:
            ends.append(origin + step * float(argument(values[0], 0)))
    return ends if argument(curve, 3) else ends[::-1]


def straight_runs(path: list[FloatArray | None]) -> list[tuple[FloatArray, FloatArray]]:
    """Straight stretches of a path, neighbours in one line joined, longest first."""
    runs: list[tuple[FloatArray, FloatArray]] = []
    for a, b in pairwise(path):
        if a is None or b is None:
            continue
        length = float(np.linalg.norm(b - a))
        if length < 0.01:
            continue
        if runs:
            start, end = runs[-1]
            before = (end - start) / np.linalg.norm(end - start)
            if np.linalg.norm(a - end) < 0.01 and float(before @ (b - a)) / length > 0.99999:
                runs[-1] = (start, b)
                continue
        runs.append((a, b))
    return sorted(runs, key=lambda run: -round(float(np.linalg.norm(run[1] - run[0])), 3))
