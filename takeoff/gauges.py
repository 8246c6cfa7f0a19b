"""Gauge lines: the lines parallel to the heel on which the holes of a face lie."""

from __future__ import annotations

from collections.abc import Iterable

from takeoff.units import GROUPING_MM


def gauge_lines(across: Iterable[float]) -> list[float]:
    """Lines parallel to the heel on which holes lie, from the heel outward, mm; holes within 0.5 mm share one."""
    lines: list[list[float]] = []
    for value in sorted(across):
        if lines and value - lines[-1][0] <= GROUPING_MM:
            lines[-1].append(value)
        else:
            lines.append([value])
    return [sum(line) / len(line) for line in lines]
