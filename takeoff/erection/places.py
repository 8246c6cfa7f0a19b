"""Levels, and the sides of a structure in plan: how far it reaches at each height, and what lies at its faces."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, cos, degrees, radians, sin
from typing import Final

import numpy as np
import numpy.typing as npt

from takeoff.dispatch import DOWN, UP
from takeoff.erection.standing import IntArray, Standing, long_pieces
from takeoff.settings import ErectionSettings
from takeoff.steel import FloatArray, Piece

STEEP_SINE: Final = sin(radians(20.0))
"""A face that looks up or down by more than this is said to; less, it looks to a side."""
NARROW: Final = 0.12
"""A face is never thicker than this share of the structure's width there."""
ALIGNED_DEG: Final = 1.0
SIDE_COUNT: Final = 4


def level_heights(standing: Standing, pieces: Sequence[Piece], settings: ErectionSettings) -> FloatArray:
    """Heights of the levels, rising: the settings', else the lowest of each heap of lower ends of long pieces."""
    if settings.levels_mm:
        return np.array(sorted(set(settings.levels_mm)), dtype=float)
    low = np.minimum(standing.left[:, 2], standing.right[:, 2])[long_pieces(standing, pieces)]
    if not len(low):
        return np.zeros(0)
    # a hair of the model's noise must not order two ends differently in a moved model
    low = np.unique(np.round(low, 1))
    heaps = np.split(low, np.flatnonzero(np.diff(low) > settings.level_mm) + 1)
    found: list[float] = []
    for heap in heaps:
        found += _split(heap, 3 * settings.level_mm)
    return np.array(sorted(found))


def _split(heap: FloatArray, most: float) -> list[float]:
    """The lowest of a heap; one wider than ``most`` is parted at its widest gap, the lowest of equal ones."""
    starts: list[float] = []
    waiting = [heap]
    while waiting:
        one = waiting.pop()
        if one[-1] - one[0] <= most or len(one) < 2:
            starts.append(float(one[0]))
            continue
        cut = int(np.argmax(np.round(np.diff(one), 1))) + 1
        waiting += [one[:cut], one[cut:]]
    return starts


def level_of(height: FloatArray, heights: FloatArray, settings_reach: float) -> IntArray:
    """Number of the last level at or below each height, from 1; what lies below the lowest belongs to it."""
    if not len(heights):
        return np.zeros(len(height), dtype=np.int64)
    return np.maximum(1, np.searchsorted(heights, height + settings_reach, side="right")).astype(np.int64)


def plan_axes(standing: Standing) -> FloatArray:
    """Two unit directions in plan (2, 2): along and across the way most steel runs, by length.

    The model's own axes where nearly as much runs along them.
    """
    run = (standing.right - standing.left)[:, :2]
    length = np.hypot(run[:, 0], run[:, 1])
    turned = np.degrees(np.arctan2(run[:, 1], run[:, 0])) % 90.0
    # a hundredth of a degree, so that the noise of a moved model tips no vote
    bins, at = np.unique(np.round(turned, 2) % 90.0, return_inverse=True)
    weight = np.bincount(at, weights=length) if len(length) else np.zeros(0)

    def away(angle: float) -> FloatArray:
        return np.abs((bins - angle + 45.0) % 90.0 - 45.0)

    def votes(angle: float) -> float:
        return round(float(weight[away(angle) <= ALIGNED_DEG].sum()))

    best = max(bins.tolist(), key=lambda a: (votes(a), -min(a, 90.0 - a), -a), default=0.0)
    angle = 0.0 if votes(0.0) >= 0.8 * votes(best) else best
    if angle:
        near = away(angle) <= ALIGNED_DEG
        angle += float(np.average((bins[near] - angle + 45.0) % 90.0 - 45.0, weights=weight[near]))
    turn = radians(angle)
    return np.array([[cos(turn), sin(turn)], [-sin(turn), cos(turn)]])


class Profile:
    """How far the structure reaches to its four sides at every height; names of the sides."""

    def __init__(self, standing: Standing, heights: FloatArray, axes: FloatArray, settings: ErectionSettings) -> None:
        self.axes = np.concatenate([axes, -axes])
        self.names = tuple(_name(direction) for direction in self.axes.tolist())
        self.thick = settings.face_mm
        self.reach = settings.level_mm / 2
        top = float(np.max(np.maximum(standing.left[:, 2], standing.right[:, 2]), initial=0.0))
        knots = [*heights.tolist(), top] if len(heights) and top > heights[-1] else heights.tolist()
        self.knots: list[float] = []
        rows = []
        low, high = (f(standing.left[:, 2], standing.right[:, 2]) for f in (np.minimum, np.maximum))
        for knot in knots:
            bottom, ceiling = knot - self.reach, knot + self.reach
            here = (low <= ceiling) & (high >= bottom)
            if not here.any():
                continue
            left, right = standing.left[here], standing.right[here]
            rise = right[:, 2] - left[:, 2]
            # of a piece that goes on above or below, the point at the knot alone: a leaning face has one place there
            level = np.abs(rise) < 1.0
            share = np.where(level, 0.0, (knot - left[:, 2]) / np.where(level, 1.0, rise))[:, None]
            at = left + np.clip(share, 0.0, 1.0) * (right - left)
            points = np.concatenate([at, right[level]])[:, :2] @ self.axes.T
            self.knots.append(knot)
            rows.append(points.max(axis=0))
        self.rows = np.array(rows).reshape(-1, SIDE_COUNT)

    def near(self, points: FloatArray) -> npt.NDArray[np.bool_]:
        """(n, 4): whether each point (n, 3) lies at each side of the structure."""
        if not len(self.rows):
            return np.zeros((len(points), SIDE_COUNT), dtype=bool)
        far = np.stack([np.interp(points[:, 2], self.knots, self.rows[:, s]) for s in range(SIDE_COUNT)], axis=1)
        width = far[:, :2] + far[:, 2:]
        thick = np.minimum(self.thick, NARROW * width)
        # where both sides of a direction are one (a flat frame), it has no faces there
        found: npt.NDArray[np.bool_] = points[:, :2] @ self.axes.T >= far - np.concatenate([thick, thick], axis=1) - 1.0
        narrow = width < 2 * self.reach
        return np.asarray(found & ~np.concatenate([narrow, narrow], axis=1), dtype=bool)

    def sides(self, near: npt.NDArray[np.bool_]) -> tuple[str, ...]:
        """The names of one row of :meth:`near`; none where opposite sides are near at once."""
        two = [s for s in range(SIDE_COUNT) if near[s] and not near[(s + 2) % SIDE_COUNT]]
        return tuple(self.names[s] for s in two)

    def looks(self, directions: FloatArray) -> IntArray:
        """(n,): the nearest side 0..3, 4 up, 5 down, -1 for no direction at all."""
        plan = np.round(directions[:, :2] @ self.axes.T, 4)
        found = np.argmax(plan, axis=1)
        found = np.where(directions[:, 2] > STEEP_SINE, 4, np.where(directions[:, 2] < -STEEP_SINE, 5, found))
        return np.where(np.abs(directions).max(axis=1) < 1e-9, -1, found).astype(np.int64)

    def word(self, number: int) -> str:
        """What :meth:`looks` found, as a word; empty for -1."""
        return "" if number < 0 else (*self.names, UP, DOWN)[number]


def _name(direction: Sequence[float]) -> str:
    """``+X`` where it runs along a model axis, else degrees from the model's X, anti-clockwise."""
    turned = degrees(atan2(direction[1], direction[0])) % 360.0
    nearest = round(turned / 90.0) % 4
    if min(abs(turned - 90.0 * k) for k in range(5)) <= ALIGNED_DEG:
        return ("+X", "+Y", "-X", "-Y")[nearest]
    return f"{turned:.0f}°"
