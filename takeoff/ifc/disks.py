"""Rounds and tubes drawn as a disk swept along a straight line (IfcSweptDiskSolid)."""

from __future__ import annotations

import numpy as np

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.paths import path_points, straight_runs
from takeoff.sections import shapes, tables
from takeoff.settings import Settings
from takeoff.steel import Body, FloatArray, Frame
from takeoff.units import COINCIDENCE_MM


def read_disk(ctx: Context, item: Entity, seen: FloatArray, text: str, settings: Settings) -> tuple[Body, Frame]:
    """A round bar or tube along a straight path; Unread where the path bends or only a part of it is swept.

    ``seen`` (4, 4) mirrors and scales the item's coordinates before they are read.
    """
    path = path_points(ctx, argument(item, 0), 0)
    corners = [point for point in path if point is not None]
    runs = straight_runs(path)
    if len(corners) != len(path) or len(runs) != 1:
        raise Unread("its body is drawn as a round along a curve or bent line, which is not read yet")
    start, end = ((seen[:3, :3] @ point + seen[:3, 3]) for point in runs[0])
    _require_whole(item, len(path) - 1)
    sizes = np.linalg.norm(seen[:3, :3], axis=0)
    if float(np.ptp(sizes)) > 1e-6 * sizes[0] or abs(float(seen[:3, 0] @ seen[:3, 1])) > 1e-6 * sizes[0] ** 2:
        raise Unread("its mapping stretches a round, which is not read yet")
    scale = float(sizes[0]) * ctx.mm
    outer, inner = float(argument(item, 1)) * scale, float(argument(item, 2) or 0.0) * scale
    if not outer > inner >= 0:
        raise Unread("its round has no steel")
    section = shapes.chs(2 * outer, outer - inner) if inner > COINCIDENCE_MM else shapes.round_bar(2 * outer)
    length = float(np.linalg.norm(end - start))
    x = (end - start) / length
    across = np.eye(3)[int(np.argmin(np.round(np.abs(x), 6)))]
    v = across - (across @ x) * x
    v = v / np.linalg.norm(v)
    frame = Frame(start, np.array([x, np.cross(v, x), v]))
    return Body(tables.match(section, text, settings.weights.mass), length), frame


def _require_whole(item: Entity, steps: int) -> None:
    """Unread where the parameters sweep only a part of the path; whole is from 0 to the number of its steps, or 1."""
    start, end = argument(item, 3), argument(item, 4)
    if (start is not None and abs(start) > 1e-9) or (end is not None and min(abs(end - steps), abs(end - 1)) > 1e-9):
        raise Unread("only a part of its round's path is swept, which is not read yet")
