"""Reading a drawn body: plates first, then bars, at the tolerance of its own coordinates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from takeoff.drawn.axis import directions
from takeoff.drawn.bars import read_bar
from takeoff.drawn.mesh import Facet, Mesh, clean
from takeoff.drawn.oddities import refuse_taper
from takeoff.drawn.plates import IsFlat, read_plate
from takeoff.drawn.results import Drawn, Refusal, Refused
from takeoff.drawn.sizes import FINE_MM
from takeoff.steel import Body, FloatArray

COARSE_MM = 0.25
"""Coordinates rounded so that faces stray by more than this are not read."""

_VAGUE = (
    "bent", "block", "changing", "curved", "feature", "no-axis", "odd-holes", "opened", "rip", "rolled",
    "rounded-end", "shaped-end", "split", "uneven", "volume",
)  # fmt: skip
"""Refusals after which a body is looked at for a taper."""


def read_solid(
    points: npt.ArrayLike, facets: Sequence[Facet], is_flat: IsFlat, grain: float = 0.0, solid: bool = True
) -> Drawn | Refusal:
    """The body a closed mesh draws, or why it is not read.

    ``points`` (n, 3) mm; ``facets`` are tuples of rings of point numbers, the outer ring first, in any
    direction. ``is_flat(width, thickness, length)`` says whether a rectangle is a flat.
    ``grain`` is the step to which the coordinates are rounded (see :func:`grain_of`), mm. ``solid`` says that the
    facets are meant to close, so that a missing flat face may be put in where only one fits.
    """
    array = np.asarray(points, dtype=float).reshape(-1, 3)
    base = array[0].copy() if len(array) else np.zeros(3)
    first: Refusal | None = None
    for tolerance, step in _tolerances(grain):
        try:
            body, axes, origin = _read(clean(array - base, facets, step, solid), tolerance, is_flat)
        except Refused as error:
            first = first or error.refusal
            continue
        if step and grain > COARSE_MM and _askew(array - base, facets, grain, solid):
            # it closes at this tolerance, but its sizes are the rounding's
            return Refusal("grain", (f"{grain:g}",))
        return Drawn(body, axes, origin + base)
    assert first is not None
    if first.code in _VAGUE or grain > COARSE_MM:
        try:
            refuse_taper(clean(array - base, facets, min(grain, COARSE_MM / 3), solid), grain)
        except Refused as error:
            if error.refusal.code == "tapered":
                return error.refusal
    if grain > COARSE_MM and _askew(array - base, facets, grain, solid):
        return Refusal("grain", (f"{grain:g}",))
    return first


def _askew(points: FloatArray, facets: Sequence[Facet], grain: float, solid: bool) -> bool:
    """Whether the body does not lie along the axes, so that rounded coordinates are not its own."""
    try:
        mesh = clean(points, facets, min(grain, COARSE_MM / 3), solid)
    except Refused:
        return False
    main = directions(mesh, 3)
    along = sum(float(np.abs(direction).max()) >= 1 - 1e-9 for direction in main)
    # the third may be that of a bevel or sloping edge
    return along < min(2, len(main))


def _read(mesh: Mesh, tolerance: float, is_flat: IsFlat) -> tuple[Body, FloatArray, FloatArray]:
    from shapely.errors import ShapelyError

    try:
        return _plate_or_bar(mesh, tolerance, is_flat)
    except (ShapelyError, np.linalg.LinAlgError):
        # outlines that cross themselves, points all alike: damage that the checks before did not see
        raise Refused("tangled") from None


def _plate_or_bar(mesh: Mesh, tolerance: float, is_flat: IsFlat) -> tuple[Body, FloatArray, FloatArray]:
    try:
        found = read_plate(mesh, tolerance, is_flat)
    except Refused as broad:
        # a hollow section too has two alike sides, and edges between them that are no plate's
        try:
            return read_bar(mesh, tolerance, is_flat)
        except Refused:
            raise broad from None
    return found or read_bar(mesh, tolerance, is_flat)


def _tolerances(grain: float) -> list[tuple[float, float]]:
    """Tolerances to try with the step points are rounded to: as if exact first, since round numbers may be exact."""
    coarse = min(3 * grain, COARSE_MM)
    return [(FINE_MM, 0.0)] if coarse <= 3e-3 else [(FINE_MM, 0.0), (max(coarse, FINE_MM), min(grain, COARSE_MM / 3))]


def grain_of(points: FloatArray, unit_mm: float = 1.0) -> float:
    """The step in mm to which coordinates (n, 3) seem rounded: single precision, or a number of decimals.

    ``unit_mm`` is the file's unit. 0 where they are as fine as double precision.
    """
    values = np.asarray(points, dtype=float) / unit_mm
    largest = float(np.abs(values).max()) if values.size else 0.0
    if largest == 0.0:
        return 0.0
    single = values.astype(np.float32).astype(float)
    step = 0.0
    if float(np.abs(single - values).max()) <= 1e-13 * largest:
        whole = np.round(values * 1000) / 1000
        if float(np.abs(whole - values).max()) > 1e-9:
            step = float(np.spacing(np.float32(largest)))
    for decimals in range(7):
        if float(np.abs(np.round(values, decimals) - values).max()) <= 1e-12 * max(largest, 1.0):
            step = max(step, 10.0**-decimals)
            break
    return step * unit_mm
