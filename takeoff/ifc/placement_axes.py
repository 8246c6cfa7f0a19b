"""Piece frames and placement axes for the model writer, from the directions a person has at hand."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from takeoff.steel import Frame

WORLD: Final = Frame(np.zeros(3), np.eye(3))


def frame(origin: npt.ArrayLike, x: npt.ArrayLike, v: npt.ArrayLike) -> Frame:
    """A piece frame from its origin, its x axis and the direction of v (made square to x); u = v cross x."""
    ex = np.asarray(x, dtype=float)
    ex = ex / np.linalg.norm(ex)
    ev = np.asarray(v, dtype=float)
    ev = ev - (ev @ ex) * ex
    ev = ev / np.linalg.norm(ev)
    return Frame(np.asarray(origin, dtype=float), np.array([ex, np.cross(ev, ex), ev]))


def axes(origin: npt.ArrayLike, z: npt.ArrayLike, x: npt.ArrayLike) -> Frame:
    """Placement axes (rows x, y, z) from z and x, which must be square to each other."""
    ez, ex = np.asarray(z, dtype=float), np.asarray(x, dtype=float)
    ez, ex = ez / np.linalg.norm(ez), ex / np.linalg.norm(ex)
    return Frame(np.asarray(origin, dtype=float), np.array([ex, np.cross(ez, ex), ez]))


def facing(at: Frame, depth: float) -> Frame:
    """Axes for a profile in (x, v) of ``at`` whose body fills u = 0 to ``depth``.

    Where (x, v, u) is left-handed, as it is in every piece frame, the extrusion starts at the far
    side and comes back.
    """
    x, u, v = at.axes
    z = np.cross(x, v)
    return axes(at.origin if z @ u > 0 else at.origin + u * depth, z, x)


def side(direction: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Any unit vector square to a direction; the same for the same direction."""
    d = np.asarray(direction, dtype=float)
    d = d / np.linalg.norm(d)
    least = np.zeros(3)
    least[int(np.argmin(np.abs(d)))] = 1.0
    square = np.cross(d, least)
    return np.asarray(square / np.linalg.norm(square))
