"""A straight box girder of bolted angles, of any size, for measuring speed.

Four chords of angles, spliced at every panel; on each of the four sides a post and a diagonal a
panel, and on each chord a cleat. Everything lies outside the chords' legs, so every bolt goes
squarely through two touching plies. A panel has 24 members and 80 bolts; 500 panels make 12,008
members of 14 shapes and 40,000 bolts, each a fastener entity with a mapped body.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from takeoff.ifc.step_text import Ref
from takeoff.ifc.writer import ModelWriter, Psets, frame

DEFAULT_PANELS: Final = 500
PITCH: Final = 2000.0
HALF: Final = 750.0
"""Half the girder's width and depth over the chords' heels."""
GAP: Final = 4.0
"""Between the chords at a splice."""
BOLT: Final = 16
CHORDS: Final = ("L120x120x12", "L120x120x12", "L120x120x10", "L120x120x10")
ANGLES: Final = {
    # EN 10056-1: leg A, leg B, thickness, root radius, toe radius
    "L120x120x12": (120, 120, 12, 13, 6.5), "L120x120x10": (120, 120, 10, 13, 6.5),
    "L80x80x8": (80, 80, 8, 10, 5), "L75x50x6": (75, 50, 6, 7, 3.5),
    "L60x60x6": (60, 60, 6, 8, 4), "L50x50x5": (50, 50, 5, 7, 3.5),
}  # fmt: skip
GAUGES: Final = {"L80x80x8": 40.0, "L75x50x6": 40.0, "L60x60x6": 35.0, "L50x50x5": 28.0}
POSTS: Final = ("L60x60x6", "L50x50x5")
DIAGONALS: Final = ("L75x50x6", "L60x60x6")
CLEATS: Final = ("L80x80x8", "L75x50x6")
FLATS: Final = ((80.0, 8.0), (90.0, 8.0))
"""By side: even sides take the first of each pair, odd sides the second."""
SPLICE_BOLTS: Final = (-90.0, -40.0, 40.0, 90.0)
SPLICE_GAUGE: Final = 55.0
END: Final = 30.0
"""End distance of posts and diagonals."""


class Girder:
    """Writes the girder panel by panel; side k has axes X, ``across[k]``, ``out[k]`` (right-handed)."""

    def __init__(self, model: ModelWriter, properties: bool = False) -> None:
        self.model = model
        self.properties = properties
        self.count = 0
        self.out = [np.array(n, dtype=float) for n in ((0, 0, 1), (0, 1, 0), (0, 0, -1), (0, -1, 0))]
        self.across = [np.array(a, dtype=float) for a in ((0, 1, 0), (0, 0, -1), (0, -1, 0), (0, 0, 1))]
        self.profiles: dict[str, Ref] = {}

    def at(self, side: int, x: float, across: float, out: float = 0.0) -> npt.NDArray[np.float64]:
        """The model point of a side's (x, across from its middle, out of the chords' outer faces)."""
        point = np.array([x, 0.0, 0.0]) + self.across[side] * across + self.out[side] * (HALF + out)
        return np.asarray(point)

    def angle(
        self, designation: str, origin: npt.ArrayLike, x: npt.ArrayLike, v: npt.ArrayLike, length: float,
        grade: str, name: str,
    ) -> None:  # fmt: skip
        profile = self.profiles.get(designation)
        if profile is None:
            profile = self.model.profiles.angle(*ANGLES[designation], name=designation)
            self.profiles[designation] = profile
        said = self.said(name, Profile=designation, Grade=grade, Length=float(length))
        self.model.member(profile, frame(origin, x, v), length, name=name, material=grade, shared=True, psets=said)

    def said(self, name: str, **more: str | float) -> Psets | None:
        """A property set as detailing models have it with every part: what it is, its phase and lot, and sizes."""
        if not self.properties:
            return None
        self.count += 1
        return {"Part": {"Name": name, "Control number": self.count, "Phase": "1", "Class": "2", **more}}

    def bolt(self, side: int, x: float, across: float, thickness: float) -> None:
        """A bolt through a part of that thickness and the chord behind it."""
        chord = CHORDS[side if across > 0 else side - 1]
        self.model.bolt(
            self.at(side, x, across, thickness), -self.out[side], BOLT, thickness + ANGLES[chord][2],
            name=f"M{BOLT}", material="8.8", psets=self.said(f"M{BOLT}", Standard="ISO 4017", Grade="8.8"),
        )  # fmt: skip

    def panel(self, number: int) -> None:
        start = number * PITCH
        for side in range(4):
            heel = self.at(side, start + GAP / 2, HALF)
            self.angle(CHORDS[side], heel, (1, 0, 0), -self.out[side], PITCH - GAP, "S355J2", "Chord")
            self.post(side, start + 300)
            self.diagonal(side, start + 500, start + 1500)
            self.cleat(side, start + 1640)

    def post(self, side: int, x: float) -> None:
        designation = POSTS[side % 2]
        reach = HALF - 40 + END
        heel = self.at(side, x - GAUGES[designation], -reach)
        self.angle(designation, heel, self.across[side], (1, 0, 0), 2 * reach, "S235JR", "Post")
        for across in (40, 85):
            for sign in (-1, 1):
                self.bolt(side, x, sign * (HALF - across), ANGLES[designation][2])

    def diagonal(self, side: int, x0: float, x1: float) -> None:
        designation = DIAGONALS[side % 2]
        reach = HALF - 40
        length = math.hypot(x1 - x0, 2 * reach)
        dx, da = (x1 - x0) / length, 2 * reach / length
        along = np.array([dx, 0.0, 0.0]) + self.across[side] * da
        toe = np.array([da, 0.0, 0.0]) - self.across[side] * dx
        heel = self.at(side, x0, -reach) - along * END - toe * GAUGES[designation]
        self.angle(designation, heel, along, toe, length + 2 * END, "S235JR", "Diagonal")
        for offset in (0.0, 50.0, length - 50.0, length):
            self.bolt(side, x0 + dx * offset, -reach + da * offset, ANGLES[designation][2])

    def cleat(self, side: int, x: float) -> None:
        designation = CLEATS[side % 2]
        heel = self.at(side, x, HALF - 10)
        self.angle(designation, heel, (1, 0, 0), -self.across[side], 220, "S355J2", "Cleat")
        for offset in (27.5, 82.5, 137.5, 192.5):
            self.bolt(side, x + offset, HALF - 10 - GAUGES[designation], ANGLES[designation][2])

    def joint(self, x: float, bolts: tuple[float, ...]) -> None:
        """Flats over the chords' joint at x, on both legs of all four; half flats at the girder's ends."""
        low, high = min(bolts) - 35, max(bolts) + 35
        for side in range(4):
            width, thickness = FLATS[side % 2]
            profile = self.model.profiles.rectangle(thickness, width, name=f"FL{width:g}x{thickness:g}")
            for sign in (-1, 1):
                across = sign * (HALF - SPLICE_GAUGE)
                origin = self.at(side, x + low, across - width / 2, thickness)
                at = frame(origin, (1, 0, 0), self.across[side])
                said = self.said("Splice flat", Profile=f"FL{width:g}x{thickness:g}", Length=high - low)
                self.model.member(
                    profile, at, high - low, name="Splice flat", material="S355J2", kind="IfcPlate", shared=True,
                    psets=said,
                )  # fmt: skip
                for offset in bolts:
                    self.bolt(side, x + offset, across, thickness)


def write_lattice(
    path: Path | str, panels: int = DEFAULT_PANELS, schema: str = "IFC4", unit: str = "mm", properties: bool = False
) -> Path:
    """Write a girder of that many panels: 24 * panels + 8 members, 80 * panels bolts.

    ``properties`` gives every part and bolt a property set of its own, as detailing models have.

    Raises ValueError for fewer than one panel.
    """
    if panels < 1:
        raise ValueError("a girder has one panel or more")
    model = ModelWriter(schema, unit, name="Lattice girder")
    girder = Girder(model, properties)
    girder.joint(0.0, SPLICE_BOLTS[2:])
    for number in range(panels):
        girder.panel(number)
        end = number == panels - 1
        girder.joint((number + 1) * PITCH, SPLICE_BOLTS[:2] if end else SPLICE_BOLTS)
    return model.save(path)
