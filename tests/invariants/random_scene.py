"""Scenes at random: any shape, any place in space, holes drawn and bolted, ends cut askew. Same seed, same scene."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
from scene import Bolts, Corner, Opening, Scene, Steel, arc_slot

from takeoff.ifc.profile_writer import Ring
from takeoff.steel import Frame

SHAPES: dict[str, list[tuple[float, ...]]] = {
    "angle": [(100, 75, 8, 10, 5), (60, 60, 6, 8, 4), (75, 50, 6, 7, 3.5), (100, 100, 10, 12, 6), (80, 65, 9)],
    "channel": [(140, 60, 7, 10, 10, 5, 0.0798298), (200, 75, 8, 10)],
    "i_shape": [(200, 100, 5.6, 8.5, 12), (180, 180, 9, 14, 15)],
    "tee": [(100, 120, 9, 12), (80, 80, 9, 9, 9)],
    "flat": [(80, 8), (100, 10), (60, 6)],
    "hollow_rectangle": [(60, 100, 5, 10, 5), (80, 80, 4, 8, 4)],
    "plate": [(8,), (12,)],
}
WALLS = {
    # face of u = 0 (or of the web's middle), range of across that is clear of fillets; then the face of v = 0.
    "angle": lambda s: (("A", s[2], 22 + s[2], s[0] - 16), ("B", s[2], 22 + s[2], s[1] - 14)),
    "channel": lambda s: (("web", s[2], 34, s[0] - 34), ("B", s[3], 34, s[1] - 14)),
    "i_shape": lambda s: (("I-web", s[2], 40, s[0] - 40), ("B", s[3], 26, s[1] / 2 - 14)),
    "tee": lambda s: (("I-web", s[2], 34, s[0] - 16), ("B", s[3], 26, s[1] / 2 - 12)),
    "flat": lambda s: (("face", s[1], 16, s[0] - 16),),
    "hollow_rectangle": lambda s: (("front", s[2], 22, s[1] - 22), ("B", s[2], 22, s[0] - 22)),
}


def random_scene(seed: int, parts: int = 12) -> tuple[Scene, dict[str, list[Corner]]]:
    """The scene, and for every part the points in model coordinates where its holes meet their outside faces."""
    chance = random.Random(seed)
    made: list[Steel] = []
    bolts: list[Bolts] = []
    points: dict[str, list[Corner]] = {}
    for number in range(parts):
        shape = chance.choice(list(SHAPES))
        size = chance.choice(SHAPES[shape])
        turn = random_turn(chance)
        frame = Frame(np.array([5000.0 * number, chance.uniform(-900, 900), chance.uniform(-900, 900)]), turn)
        label = f"{number} {shape}"
        if shape == "plate":
            part, holes = _plate(chance, label, size, frame)
        else:
            part, holes, groups = _member(chance, label, shape, size, frame)
            bolts += groups
        made.append(part)
        points[label] = holes
        if chance.random() < 0.4:  # a twin somewhere else, or its mirror image across its length
            aside = Frame(frame.origin + np.array([0, 20000.0, 0]), random_turn(chance))
            twin = replace(part, label=f"{label} twin", frame=aside)
            made.append(twin)
            moved = [tuple(aside.to_model(frame.to_piece(np.array(p)))) for p in holes]
            points[twin.label] = moved
            for group in groups if shape != "plate" else []:
                bolts.append(
                    replace(
                        group,
                        places=tuple(
                            (
                                tuple(aside.to_model(frame.to_piece(np.array(p)))),
                                tuple(frame.direction_to_piece(np.array(d)) @ aside.axes),
                            )
                            for p, d in group.places
                        ),
                    )
                )
    return Scene(tuple(made), tuple(bolts)), points


def random_turn(chance: random.Random) -> np.ndarray:
    q = np.array([chance.gauss(0, 1) for _ in range(4)])
    if chance.random() < 0.3:  # square to the axes, as most steel stands
        axes = [np.eye(3), np.array([[0, 1, 0], [0, 0, 1], [1, 0, 0]]), np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1]])]
        return np.array(chance.choice(axes), dtype=float)
    w, x, y, z = q / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def _plate(chance: random.Random, label: str, size: tuple[float, ...], frame: Frame) -> tuple[Steel, list[Corner]]:
    """A polygon of four to seven corners round an ellipse, with holes drawn near its middle."""
    count = chance.randint(4, 7)
    start = chance.uniform(0, 1)
    angles = [(start + k + chance.uniform(-0.25, 0.25)) * 2 * math.pi / count for k in range(count)]
    outline = tuple((round(200 + 190 * math.cos(a), 1), round(150 + 130 * math.sin(a), 1)) for a in angles)
    openings, points = [], []
    for k in range(chance.randint(0, 3)):
        x, across = 170 + 34.0 * k, 150 + chance.randint(-12, 12)
        if chance.random() < 0.3:
            openings.append(Opening("face", outline=arc_slot(x, across, 14, 24)))
        else:
            openings.append(Opening("face", Ring(x, across, chance.choice([14, 18, 22]))))
        points.append(tuple(frame.to_model((x, 0, across))))
    part = Steel(label, "plate", size, frame, 400, outline=outline, openings=tuple(openings), grade="S235JR")
    return part, points


def _member(
    chance: random.Random, label: str, shape: str, size: tuple[float, ...], frame: Frame
) -> tuple[Steel, list[Corner], list[Bolts]]:
    length = float(chance.randint(700, 2500))
    clips: list[tuple[Corner, Corner]] = []
    for x, along in ((0.0, -1.0), (length, 1.0)):
        if chance.random() < 0.35:
            lean, way = math.radians(chance.uniform(5, 45)), chance.choice([0, math.pi / 2, math.pi, -math.pi / 2])
            normal = (along * math.cos(lean), math.sin(lean) * math.cos(way), math.sin(lean) * math.sin(way))
            clips.append(((x - 60 * along, 0, 0), normal))
    openings, points, bolts = [], [], []
    x = 260.0
    for wall in WALLS[shape](size):
        face, thick, low, high = wall
        for _ in range(chance.randint(0, 3)):
            across = float(chance.randint(math.ceil(low), math.floor(high)))
            if shape in ("i_shape", "tee") and face == "B" and chance.random() < 0.5:
                across = -across
            u, v = (0.0, across) if face != "B" else (across, 0.0)
            if face == "I-web":
                u = -thick / 2
            kind = chance.choice(["bolt", "bolt", "hole", "slot"])
            diameter = chance.choice([12, 16])
            if kind == "bolt":
                outward = np.array([0.0, -1, 0] if face != "B" else [0, 0, -1])
                head = frame.to_model(np.array([x, u, v]))
                bolts.append(Bolts(((tuple(head), tuple(-outward @ frame.axes)),), diameter, thick))
            elif kind == "hole":
                openings.append(Opening("B" if face == "B" else "A", Ring(x, across, diameter + 2)))
            else:
                openings.append(Opening("B" if face == "B" else "A", outline=arc_slot(x, across, 14, 26)))
            points.append(tuple(frame.to_model((x, u, v))))
            x += chance.choice([40.0, 55.0, 62.5])
    part = Steel(label, shape, size, frame, length, tuple(clips), tuple(openings))
    return part, points, bolts


ODD: dict[str, list[tuple[float, ...]]] = {
    "angle": [(60, 60, 6, 8, 4), (75, 50, 6, 7, 3.5)],
    "flat": [(80, 8)],
    "channel": [(120, 55, 7, 9, 9, 4.5, 0.0798298)],
    "i_shape": [(200, 100, 5.6, 8.5, 12)],
    "tee": [(100, 120, 9, 10)],
    "hollow_rectangle": [(80, 80, 5, 10, 5), (60, 100, 5, 10, 5)],
    "hollow_circle": [(76.1, 5), (114.3, 6.3)],
    "c_shape": [(150, 60, 3, 20, 3), (200, 75, 2, 20)],
    "plate": [(10,)],
}
QUARTER = math.tan(math.pi / 8)
ROUNDED: tuple[Corner, ...] = (
    (30, 0), (270, 0, QUARTER), (300, 30), (300, 200), (60, 200), (0, 140), (0, 30, QUARTER),
)  # fmt: skip
"""A plate with two rounded corners and one cut off."""


def odd_scene(seed: int, parts: int = 8) -> Scene:
    """Notched ends and edges, rectangular holes, ends cut by two planes, tubes and lipped channels."""
    chance = random.Random(seed)
    made = []
    for number in range(parts):
        shape = chance.choice(list(ODD))
        size = chance.choice(ODD[shape])
        length = 300.0 if shape == "plate" else float(chance.randint(500, 1500))
        openings = _odd_openings(chance, shape, size, length)
        clips = []
        for x, along in ((0.0, -1.0), (length, 1.0)):
            for _ in range(0 if shape == "plate" or any(o.outline for o in openings) else chance.choice([0, 0, 1, 2])):
                lean, way = math.radians(chance.uniform(10, 45)), chance.choice([0, math.pi / 2, math.pi, -math.pi / 2])
                normal = (along * math.cos(lean), math.sin(lean) * math.cos(way), math.sin(lean) * math.sin(way))
                clips.append(((x - 90 * along, 0.0, 0.0), normal))
        frame = Frame(np.array([3000.0 * number, 0, 0]), random_turn(chance))
        outline = ROUNDED if shape == "plate" else ()
        made.append(Steel(f"{number} {shape}", shape, size, frame, length, tuple(clips), openings, outline))
    return Scene(tuple(made))


def _odd_openings(chance: random.Random, shape: str, size: tuple[float, ...], length: float) -> tuple[Opening, ...]:
    found = []
    if shape == "plate":
        if chance.random() < 0.5:
            found.append(Opening("face", outline=((100, 180), (140, 180), (140, 260), (100, 260))))
        if chance.random() < 0.5:
            found.append(Opening("face", Ring(chance.randint(80, 220), chance.randint(60, 120), 18)))
    elif shape in ("angle", "flat", "channel", "hollow_rectangle"):
        x0, x1 = (-30.0, 60.5) if chance.random() < 0.5 else (length - 60.5, length + 30)
        if chance.random() < 0.6 and shape == "hollow_rectangle":  # a slot in the end of one wall
            found.append(Opening("A", outline=((x0, 40), (x1, 40), (x1, 50), (x0, 50))))
        elif chance.random() < 0.6 and shape != "channel":  # a corner taken off the toe
            low, high = size[0] - chance.choice([20, 30]), size[0] + 30
            found.append(Opening("A", outline=((x0, low), (x1, low), (x1, high), (x0, high))))
        if chance.random() < 0.6:
            found.append(Opening("A", Ring(chance.randint(150, 300), 45 if shape == "hollow_rectangle" else 30, 14)))
        if chance.random() < 0.5:
            found.append(Opening("A", outline=((350, 30), (372, 30), (372, 42), (350, 42))))
    return tuple(found)


def bolted_through_scene(seed: int, parts: int = 5) -> Scene:
    """Tubes, hollow sections and flanges with bolts through one wall or two, each part twice in different places."""
    chance = random.Random(seed)
    made: list[Steel] = []
    bolts: list[Bolts] = []
    for number in range(parts):
        shape, size = chance.choice(
            [
                ("hollow_circle", (76.1, 5.0)), ("hollow_circle", (114.3, 6.3)),
                ("hollow_rectangle", (60, 100, 5, 10, 5)), ("hollow_rectangle", (80, 80, 5, 10, 5)),
                ("i_shape", (200, 100, 5.6, 8.5, 12)),
                ("channel", (120, 55, 7, 9, 9, 4.5, 0.0798298)), ("angle", (60, 60, 6, 8, 4)),
            ]
        )  # fmt: skip
        length = float(chance.randint(500, 1500))
        first = Frame(np.array([3000.0 * number, 0, 0]), random_turn(chance))
        second = Frame(first.origin + np.array([0, 9000.0, 0]), random_turn(chance))
        places = [_through(chance, shape, size, 80.0 + 70 * k) for k in range(chance.randint(0, 4))]
        for label, frame in ((f"{number} {shape}", first), (f"{number} {shape} twin", second)):
            made.append(Steel(label, shape, size, frame, length))
            for point, way, grip in places:
                axis = (tuple(frame.to_model(np.array(point))), tuple(np.array(way) @ frame.axes))
                bolts.append(Bolts((axis,), 12, grip))
    return Scene(tuple(made), tuple(bolts))


def _through(chance: random.Random, shape: str, size: tuple[float, ...], x: float) -> tuple[Corner, Corner, float]:
    """Head, direction and grip of a bolt in the piece frame."""
    if shape == "hollow_circle":
        around, r = math.radians(chance.choice([0, 30, 45, 90, 200, 270])), size[0] / 2
        way = (0.0, math.cos(around), math.sin(around))
        return (x, -way[1] * r, -way[2] * r), way, 2 * r
    if shape == "hollow_rectangle":
        if chance.random() < 0.5:
            return (x, 0, chance.choice([30, size[1] / 2, size[1] - 30])), (0, 1, 0), size[0]
        return (x, size[0] / 2, 0), (0, 0, 1), size[1]
    if shape == "angle":
        return (x, 0, 35), (0, 1, 0), size[2]
    across = 30.0 if shape == "channel" else chance.choice([28.0, -28.0, 30.0])
    if chance.random() < 0.5:
        return (x, across, size[0]), (0, 0, -1), size[3]
    return (x, across, 0), (0, 0, 1), size[3]
