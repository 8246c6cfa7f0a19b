"""A battered four-legged lattice mast for a weather radar on an invented hill.

Vocabulary. A *face* is one of the four leaning sides; it has axes e1 (level), e2 (up the slope)
and n (outward), and q is the distance up e2. The heels of the two legs of a face lie in its plane
n = 0. A *node* is where bracing meets a leg; p is the level distance from the heel inward.

Layers of a face along n: legs, horizontals and inside braces have their outer face on n = 0 and
their steel behind it; gussets, packers, outer splice flats and steps fill 0 to 8; outside braces
begin at 8. So every ply touches the next. A leg of 90 degrees cannot lie in two leaning faces at
once: at a batter of 1 in 25 each of its faces is 0.05 degrees out, 0.04 mm at the gauge line.

Opposite faces are mirror images of each other, neighbours are staggered by ``STAGGER``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from sections import ANGLES, section

from takeoff.ifc.writer import Length, ModelWriter, Part, frame
from takeoff.steel import Frame

HALF = 800.0
"""Half the width over heels on the base plates."""
BATTER = 1 / 25
HEIGHT = 7900.0
LEVELS = (400.0, 2050.0, 3700.0, 5350.0, 7000.0)
"""q of the nodes of faces 0 and 2."""
STAGGER = 70.0
SPLICE = 4450.0
"""Distance along the leg from the base plate to the leg splice."""
PLATE = 8.0
GAUGE = 55.0
LEG_BOLTS = (-100, -50, 0, 50, 100)
"""Bolts of a gusset in a leg, from the node along the leg."""
LOWER_LEG, UPPER_LEG = "L100x100x10", "L100x100x8"
S355, S235 = "S355J2", "S235JR"
FASTENING: dict[str, str | int] = {"Grade": "8.8", "Standard": "ISO 4017", "Nut count": 1, "Washer count": 1}
"""What every bolt says of itself; numbers of nuts and washers are of one bolt, in a group as well."""
FACES = ("N", "W", "S", "E")
LEGS = ("NE", "NW", "SW", "SE")
HANDS = ("1", "2", "3", "2")
"""Legs alike: NE carries the steps, NW and SE are alike, SW is their opposite hand."""
STEPS = (800, 1100, 1400, 1700, 2400, 2700, 3000, 3300, 4000, 4750, 5050, 5650, 5950, 6250, 6550)
COS = 1 / math.hypot(1, BATTER)
LEAN = BATTER * COS
"""How far a heel comes in per unit of q, in the face."""


@dataclass(frozen=True)
class Bracing:
    """How the braces of a panel are made: section, bolts, and where the first bolt of a node stands."""

    designation: str
    size: int
    bolts: int
    pitch: float
    gauge: float
    p: float
    rise: float
    ends: tuple[float, float]

    @property
    def thickness(self) -> float:
        return float(ANGLES[self.designation][2])


HEAVY = Bracing("L60x60x6", 16, 3, 45, 35, 165, 100, (30, 40))
LIGHT = Bracing("L50x50x5", 12, 3, 40, 28, 150, 90, (25, 35))
PANELS = (HEAVY, HEAVY, LIGHT, LIGHT)
HORIZONTALS = {0: ("L75x50x6", 16, 40), 2: ("L75x50x6", 16, 40), 4: ("L60x40x5", 12, 35)}
"""Level: section, bolt, gauge in the long leg."""


@dataclass(frozen=True)
class Face:
    """One side of the mast. ``mirror`` is -1 where its bracing is the mirror image."""

    index: int

    @property
    def mirror(self) -> int:
        return 1 if self.index in (0, 3) else -1

    @property
    def axes(self) -> np.ndarray:
        """Rows e1, e2, n."""
        turn = _turn(self.index)
        n = np.array([0, COS, BATTER * COS])
        e2 = np.array([0, -BATTER * COS, COS])
        return np.array([np.cross(e2, n), e2, n]) @ turn.T

    def at(self, e1: float, q: float, n: float = 0.0) -> np.ndarray:
        return _turn(self.index) @ np.array([0, HALF, 0]) + np.array([e1, q, n]) @ self.axes

    def along(self, e1: float, q: float) -> np.ndarray:
        return np.asarray(np.array([e1, q, 0.0]) @ self.axes)

    def level(self, number: int) -> float:
        return LEVELS[number] + STAGGER * (self.index % 2)


def half(q: float) -> float:
    """Half the width of a face over heels at q."""
    return HALF - LEAN * q


def _turn(quarter: int) -> np.ndarray:
    c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarter]
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]], dtype=float)


def leg_frame(index: int) -> Frame:
    """Heel of a leg from the base plate upward; leg A lies in face ``index - 1``, leg B in face ``index``."""
    turn = _turn(index)
    d = np.array([-BATTER, -BATTER, 1.0])
    d /= np.linalg.norm(d)
    b = np.array([-1.0, -1.0, 0.0]) - (-1.0 * d[0] - 1.0 * d[1]) * d
    b /= np.linalg.norm(b)
    v = turn @ ((b + np.cross(d, b)) / math.sqrt(2))
    return frame(turn @ np.array([HALF, HALF, 0.0]), turn @ d, v)


class Mast:
    def __init__(self) -> None:
        self.model = ModelWriter(name="Weather radar mast")
        mast = self.model.assembly("Weather radar mast", tag="MAST")
        self.sections = [self.model.assembly(n, tag=t, parent=mast) for n, t in _SECTIONS]
        self.faces = {
            (i, s): self.model.assembly(f"Face {FACES[i]}", parent=self.sections[s]) for s in (0, 1) for i in range(4)
        }
        self.legs = {
            (i, s): self.model.assembly(
                f"Leg {LEGS[i]}", tag=f"{'UL' if s else 'LL'}{HANDS[i]}", parent=self.sections[s]
            )
            for s in (0, 1)
            for i in range(4)
        }

    def write(self, path: Path) -> Path:
        for index in range(4):
            self.leg(index)
            self.splice(index)
            self.base(index)
        for index in range(4):
            face = Face(index)
            for panel in range(len(PANELS)):
                self.panel(face, panel)
            for level in range(len(LEVELS)):
                for side in (-1, 1):
                    self.node(face, level, side)
                if level in HORIZONTALS:
                    self.horizontal(face, level)
            self.platform(face)
        for q in STEPS:
            self.step(q)
        return self.model.save(path)

    # --- legs ------------------------------------------------------------------------

    def leg(self, index: int) -> None:
        along = math.sqrt(1 + 2 * BATTER**2)
        lower, upper = leg_frame(index), leg_frame(index)
        upper = Frame(upper.to_model((SPLICE + 2, 0, 0)), upper.axes)
        hand = HANDS[index]
        self.model.member(
            section(self.model, LOWER_LEG), lower, SPLICE - 2, name="Leg", tag=f"ML{hand}", material=S355,
            assembly=self.legs[index, 0],
        )  # fmt: skip
        self.model.member(
            section(self.model, UPPER_LEG), upper, round(HEIGHT * along) - SPLICE - 2, name="Leg", material=S355,
            assembly=self.legs[index, 1], psets={"Pset_MemberCommon": {"Reference": f"MU{hand}"}}, style="x",
        )  # fmt: skip

    def splice(self, index: int) -> None:
        """Flats outside and inside of each leg face, packers of 2 mm where the upper leg is thinner."""
        group = self.legs[index, 1]
        for side in ("A", "B"):
            place = _FacePlace(leg_frame(index), side)
            face = (index - 1) % 4 if side == "A" else index
            # Nuts of the two legs at the same height would meet: neighbouring faces are half a pitch apart.
            offsets = (40, 120, 200) if face % 2 else (80, 160, 240)
            reach = offsets[-1] + 35
            for designation, low, start, depth, name in (
                ("FL90x8", 10, SPLICE - reach, -8, "Splice flat"),
                ("FL70x8", 28, SPLICE - reach, 10, "Splice flat"),
                ("FL70x2", 28, SPLICE + 3, 8, "Packer"),
            ):
                length = reach - 3 if name == "Packer" else 2 * reach
                self.model.member(
                    section(self.model, designation), place.frame(start, low, depth, length), length, kind="IfcPlate",
                    name=name, material=S355, assembly=group,
                )  # fmt: skip
            for offset in (*(-o for o in reversed(offsets)), *offsets):
                self.bolt(place.at(SPLICE + offset, GAUGE, -8), place.inward, 20, 26, group, hole=21.5, length=60)

    def base(self, index: int) -> None:
        """A base plate square to the leg and two cleats outside it.

        The two bolts of a cleat in the leg stand at two heights, and the other way round in the other
        leg: so they have their pitch, and their nuts miss each other near the heel.
        """
        leg, group = leg_frame(index), self.legs[index, 0]
        outline = [(0, 0), (300, 0), (300, 300), (0, 300)]
        plate = Frame(leg.to_model((0, -140, -140)), np.array([leg.axes[1], -leg.axes[0], leg.axes[2]]))
        self.model.plate(outline, plate, 20, name="Base plate", material=S355, assembly=group)
        for side in ("A", "B"):
            place = _FacePlace(leg, side)
            face = (index - 1) % 4 if side == "A" else index
            heights = (45, 80) if face % 2 else (80, 45)
            heel = place.at(0, 8 if side == "A" else 138, 0)
            along = place.across if side == "A" else -place.across
            self.model.member(
                section(self.model, "L120x120x12"), frame(heel, along, leg.axes[0]), 130, name="Base cleat",
                material=S355, assembly=group, style="-x",
            )  # fmt: skip
            for height, across in zip(heights, (38, 78), strict=True):
                self.bolt(place.at(height, across, -12), place.inward, 16, 22, group)
            for across in (40.5, 105.5):
                self.bolt(place.at(12, across, -65), -leg.axes[0], 24, 32, group, length=65)

    # --- faces -----------------------------------------------------------------------

    def panel(self, face: Face, number: int) -> None:
        """Two crossing braces, one outside and one inside, a packer and a bolt where they cross."""
        make = PANELS[number]
        q0, q1 = face.level(number), face.level(number + 1)
        group = self.faces[face.index, 1 if number >= 2 else 0]
        for outward in (True, False):
            rising = face.mirror if outward else -face.mirror
            start = np.array([-rising * (half(q0) - make.p), q0 + make.rise])
            end = np.array([rising * (half(q1) - make.p), q1 - make.rise])
            way = (end - start) / np.linalg.norm(end - start)
            normal = np.array([-way[1], way[0]]) * rising
            low = start - way * make.ends[0] + normal * make.gauge
            length = float(np.linalg.norm(end - start)) + sum(make.ends)
            cut = None
            if number == 0:
                # Room for the leg: the lower end is cut parallel to it, 120 mm from the heel.
                low, length = low - way * 10, length + 10
                cut = self.leg_line(q0, -rising, 120)
            self.angle(face, make, low, way, -normal, outward, length, cut, group)
            depth = PLATE + make.thickness if outward else PLATE
            for i in range(make.bolts):
                for at in (start + way * make.pitch * i, end - way * make.pitch * i):
                    self.bolt(face.at(*at, depth), -face.axes[2], make.size, PLATE + make.thickness, group)
        crossing = q0 + make.rise + (half(q0) - make.p) * way[1] / abs(way[0])
        a = 30.0
        outline = [(-a, -a), (a, -a), (a, a), (-a, a)]
        self.plate(face, 0, crossing, outline, "Packer", group)
        point = face.at(0, crossing, PLATE + make.thickness)
        self.bolt(point, -face.axes[2], make.size, PLATE + 2 * make.thickness, group)

    def angle(
        self, face: Face, make: Bracing, low: np.ndarray, way: np.ndarray, toe: np.ndarray, outward: bool,
        length: float, cut: tuple[np.ndarray, np.ndarray] | None, group: Part,
    ) -> None:  # fmt: skip
        """A brace: heel from ``low`` along ``way``, bolted leg toward ``toe``, before or behind the gussets."""
        n = face.axes[2]
        u, v = (n if outward else -n), face.along(*toe)
        x = np.cross(u, v)
        origin = face.at(*low, PLATE if outward else 0)
        if x @ face.along(*way) < 0:
            origin = origin + face.along(*way) * length
        at = frame(origin, x, v)
        clips = []
        if cut is not None:
            clips = [(at.to_piece(face.at(*cut[0])), at.direction_to_piece(face.along(*cut[1])))]
        self.model.member(
            section(self.model, make.designation), at, length, name="Brace", material=S235, assembly=group,
            clips=clips, shared=not clips,
        )  # fmt: skip

    def leg_line(self, q: float, side: int, distance: float) -> tuple[np.ndarray, np.ndarray]:
        """A line parallel to a leg's heel, ``distance`` inward: a point and the normal toward the leg, in (e1, q)."""
        inward = np.array([-side, -LEAN]) / math.hypot(1, LEAN)
        return np.array([side * half(q), q]) + inward * distance, -inward

    def node(self, face: Face, level: int, side: int) -> None:
        """A gusset and its bolts to the leg. Its holes say how big it is."""
        q = face.level(level)
        index = 0 if q < SPLICE else 1
        group = self.faces[face.index, index]
        holes = [(GAUGE, t) for t in LEG_BOLTS]
        if level in HORIZONTALS:
            holes += [(145, 0), (195, 0)]
        for number, up in ((level - 1, -1), (level, 1)):
            if 0 <= number < len(PANELS):
                make, other = PANELS[number], face.level(level + up)
                run = half(q) + half(other) - 2 * make.p
                rise = abs(other - q) - 2 * make.rise
                reach = make.pitch * (make.bolts - 1) / math.hypot(run, rise)
                holes.append((make.p + run * reach, up * (make.rise + rise * reach)))
        wide = math.ceil(max(p for p, _ in holes) + 32)
        low = math.floor(min(t for _, t in holes) - 32)
        high = math.ceil(max(t for _, t in holes) + 32)
        clip = 25.0
        shape = [
            (12, low),
            (wide - clip, low),
            (wide, low + clip),
            (wide, high - clip),
            (wide - clip, high),
            (12, high),
        ]
        outline = [(-side * p, t) for p, t in (shape if side < 0 else shape[::-1])]
        self.plate(face, side * half(q), q, outline, "Gusset", group)
        inward = np.array([-side, -LEAN]) / math.hypot(1, LEAN)
        up_leg = np.array([-side * LEAN, 1]) / math.hypot(1, LEAN)
        places = []
        for t in LEG_BOLTS:
            at = np.array([side * half(q), q]) + inward * GAUGE + up_leg * t
            places.append((face.at(*at, PLATE), -face.axes[2]))
        thickness = ANGLES[UPPER_LEG if index else LOWER_LEG][2]
        self.model.bolts(
            places, 16, PLATE + thickness, name="M16", material="8.8", assembly=group,
            psets={"Fastening": {**FASTENING, "Bolt count": len(LEG_BOLTS)}},
        )  # fmt: skip

    def plate(
        self, face: Face, e1: float, q: float, outline: list[tuple[float, float]], name: str, group: Part
    ) -> None:
        at = frame(face.at(e1, q, PLATE), face.axes[0], face.axes[1])
        self.model.plate(outline, at, PLATE, name=name, material=S355, assembly=group)

    def horizontal(self, face: Face, level: int) -> None:
        """An unequal angle between the legs, long leg on the gussets, heel on top, short leg inward."""
        designation, size, gauge = HORIZONTALS[level]
        q = face.level(level)
        group = self.faces[face.index, 0 if q < SPLICE else 1]
        n, e1, e2 = face.axes[2], face.axes[0], face.axes[1]
        x = np.cross(-n, -e2)
        reach = half(q) - 110
        at = frame(face.at(0, q + gauge) - x * reach, x, -e2)
        mark = f"MH{1 + level // 2 * 2 + face.index % 2}"
        self.model.member(
            section(self.model, designation), at, 2 * reach, name="Horizontal", tag=mark if level == 0 else None,
            material=S235, assembly=group,
        )  # fmt: skip
        for side in (-1, 1):
            for p in (145, 195):
                point = face.at(0, q, PLATE) + e1 * side * (half(q) - p)
                self.bolt(point, -n, size, PLATE + ANGLES[designation][2], group)

    def platform(self, face: Face) -> None:
        """A channel outside two legs, back of its web on them; opposite pairs pass over each other."""
        q = 7660.0 if face.index % 2 else 7500.0
        group = self.faces[face.index, 1]
        at = frame(face.at(900, q - 60), -face.axes[0], face.axes[1])
        self.model.member(
            section(self.model, "UPN120"), at, 1800, kind="IfcBeam", name="Platform channel",
            tag=f"MP{1 + face.index % 2}", material=S235, assembly=group,
        )  # fmt: skip
        for side in (-1, 1):
            for t in (-25, 25):
                point = face.at(side * (half(q) - GAUGE), q + t, 7)
                self.bolt(point, -face.axes[2], 16, 15, group)

    def step(self, q: float) -> None:
        """A flat that sticks out beside leg NE, on face N."""
        face = Face(0)
        group = self.legs[0, 0 if q < SPLICE else 1]
        heel = -half(q)
        at = frame(face.at(heel - 182, q - 25, PLATE), face.axes[0], face.axes[1])
        self.model.member(
            section(self.model, "FL50x8"), at, 280, name="Step", material=S235, assembly=group, shared=True
        )
        thickness = ANGLES[LOWER_LEG if q < SPLICE else UPPER_LEG][2]
        for p in (38, 78):
            self.bolt(face.at(heel + p, q, PLATE), -face.axes[2], 12, PLATE + thickness, group)

    def bolt(
        self, point: np.ndarray, direction: np.ndarray, size: int, grip: float, group: Part,
        hole: float | None = None, length: float | None = None,
    ) -> None:  # fmt: skip
        values: dict[str, str | int | Length] = dict(FASTENING)
        if hole is not None:
            values["Hole diameter"] = Length(hole)
        self.model.bolt(
            point, direction, size, grip, length=length, name=f"M{size}", material="8.8", assembly=group,
            psets={"Fastening": values},
        )  # fmt: skip


class _FacePlace:
    """Positions on one outside face of a leg: x along, ``across`` from the heel, depth inward."""

    def __init__(self, leg: Frame, side: str) -> None:
        _, u, v = leg.axes
        self.leg = leg
        self.side = side
        self.across, self.inward = (v, u) if side == "A" else (u, v)

    def at(self, x: float, across: float, depth: float) -> np.ndarray:
        return self.leg.origin + self.leg.axes[0] * x + self.across * across + self.inward * depth

    def frame(self, x: float, across: float, depth: float, length: float) -> Frame:
        """The frame of a flat of that length from x, lying on the face at a depth, its steel further in."""
        if self.side == "A":
            return frame(self.at(x, across, depth), self.leg.axes[0], self.across)
        return frame(self.at(x + length, across, depth), -self.leg.axes[0], self.across)


_SECTIONS = (("Lower section", "S1"), ("Upper section", "S2"))


def write(path: Path) -> Path:
    """Write the mast."""
    return Mast().write(path)
