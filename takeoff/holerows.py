"""How the holes of a job are kept between the stages: one array, a row a hole, in the frame of the part's body."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

KINDS: Final = ("round", "slot", "rectangle", "countersunk", "blind")
SUNK: Final = ("countersunk", "blind")
"""Kinds that belong to one side of their wall."""
SOURCES: Final = {"bolt": 1, "opening": 2, "solid": 4}
DIAMETER_SOURCES: Final = ("rule", "property", "opening", "solid", "unknown")
ROW = np.dtype(
    [
        ("member", np.intp),
        ("face", np.intp),
        ("x", float),
        ("across", float),
        ("diameter", float),
        ("slot", float),
        ("angle", float),
        ("width", float),
        ("depth", float),
        ("far", bool),
        ("kind", np.intp),
        ("bolt", float),
        ("source", np.intp),
        ("diameter_source", np.intp),
        ("passage", np.intp),
    ]
)
"""One hole: lengths mm, angle degrees; ``kind`` indexes KINDS, ``source`` adds up SOURCES, ``bolt`` is its diameter (0:
none), ``depth`` how deep a blind hole goes (inf: through), ``far`` whether it or a countersink is open to the inside of
its wall, ``passage`` the bolt's Passage or -1."""

Rows = npt.NDArray[np.void]


@dataclass(frozen=True, slots=True, eq=False)
class Holes:
    """``rows`` (n,) of dtype ROW, sorted by member, face, x, across; ``held`` the codes that hold a member.

    ``ply_count`` counts plies over bolts; ``merged`` how many rows fell together with another one: a bolt that the
    model has twice, a hole drawn twice.
    """

    rows: Rows
    held: Mapping[int, tuple[str, ...]]
    ply_count: int
    merged: int
