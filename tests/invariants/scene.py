"""One small scene of every common shape, and the many ways in which a model may be written that holds it.

The scene is values only: parts by their piece frames, bolts by point and direction. ``write``
puts it into a file in the way a ``Writing`` says; ``mirrored`` is the scene in a looking-glass.
The steel is the same however it is written, and so must the lists be.
"""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from takeoff.ifc.profile_writer import Ring
from takeoff.ifc.step_text import Ref
from takeoff.ifc.writer import ModelWriter, frame
from takeoff.steel import Frame

Corner = tuple[float, ...]


@dataclass(frozen=True)
class Opening:
    """A hole drawn through a face: round where ``outline`` is empty. (x, across) of the face."""

    face: str
    ring: Ring | None = None
    outline: tuple[Corner, ...] = ()


@dataclass(frozen=True)
class Steel:
    """A part: ``shape`` and ``size`` as the profile writer takes them; clips are (point, normal) in (x, u, v)."""

    label: str
    shape: str
    size: tuple[float, ...]
    frame: Frame
    length: float
    clips: tuple[tuple[Corner, Corner], ...] = ()
    openings: tuple[Opening, ...] = ()
    outline: tuple[Corner, ...] = ()
    grade: str = "S355J2"
    assembly: str = ""


@dataclass(frozen=True)
class Bolts:
    """A fastener entity: bolts alike at (point under the head, direction to the nut)."""

    places: tuple[tuple[Corner, Corner], ...]
    diameter: float
    grip: float
    assembly: str = ""


@dataclass(frozen=True)
class Scene:
    parts: tuple[Steel, ...] = ()
    bolts: tuple[Bolts, ...] = ()
    assemblies: tuple[tuple[str, str], ...] = ()
    """(label, label of the parent or empty), parents first."""


@dataclass(frozen=True)
class Writing:
    """How a model is written.

    ``profile``: parametric, derived, mirrored, polyline or composite. ``seat``: where parametric profiles lie in
    their own plane, (u, v of the box's centre, degrees turned); the placement makes good for it.
    """

    schema: str = "IFC4"
    unit: str = "mm"
    origin: Corner = (0.0, 0.0, 0.0)
    rotation: Any = None
    offset: str = "site"
    style: str = "z"
    profile: str = "parametric"
    seat: Corner | None = None
    shared: bool = False
    agreement: bool = False
    curve: str = "composite"
    order: int = 0
    """Seed of the order of parts, and of instance names and lines; 0 leaves them."""
    openings_absolute: bool = False
    bolt_body: str = "full"
    named: dict[str, Any] = field(default_factory=dict)


# ---------------------------------------------------------------- the scene


def arc_slot(x: float, across: float, diameter: float, length: float) -> tuple[Corner, ...]:
    """A slot along x: two straight sides and two half circles (bulge 1)."""
    r, half = diameter / 2, (length - diameter) / 2
    return (
        (x - half, across - r),
        (x + half, across - r, 1.0),
        (x + half, across + r),
        (x - half, across + r, 1.0),
    )


def plain() -> Scene:
    """The scene: parts stand 3 m apart so that nothing touches but what is meant to."""
    parts: list[Steel] = []
    bolts: list[Bolts] = []

    def at(number: int, x: Corner = (1, 0, 0), v: Corner = (0, 0, 1)) -> Frame:
        return frame((0, 3000 * number, 0), x, v)

    def bolted(
        part: Steel,
        face: str,
        holes: Sequence[tuple[float, float]],
        wall: float,
        size: float = 16,
        thick: float = 10,
        assembly: str = "",
    ) -> None:
        """A plate on the outside of a face with bolts through both, as one group."""
        f = part.frame
        x, u, v = f.axes
        # Outward normal, the direction of `across`, and its zero, per face.
        out, along, zero = {
            "A": (-u, v, f.origin),
            "web": (-u, v, f.origin),
            "face": (-u, v, f.origin),
            "front": (-u, v, f.origin),
            "B": (-v, u, f.origin),
            "I-web": (-u, v, f.origin - u * wall / 2),
            "stem": (-u, v, f.origin - u * wall / 2),
            "top": (v, u, f.origin + v * (part.size[0] if part.shape != "plate" else 0)),
        }[face]
        xs, acs = [h[0] for h in holes], [h[1] for h in holes]
        low = (min(xs) - 30, min(acs) - 30)
        wide, high = max(xs) - min(xs) + 70, max(acs) - min(acs) + 65
        corner = zero + x * low[0] + along * low[1] + out * thick
        # A plate's steel runs from its face (u = 0) inward; u = v cross x must be -out.
        turn = np.cross(along, x)
        place = frame(corner, x, along) if turn @ out < 0 else frame(corner + x * wide, -x, along)
        parts.append(
            Steel(
                f"plate on {part.label} {face}",
                "plate",
                (thick,),
                place,
                wide,
                outline=((0, 0), (wide, 0), (wide, high), (0, high)),
                assembly=assembly,
            )
        )
        places = tuple((tuple(zero + x * hx + along * ha + out * thick), tuple(-out)) for hx, ha in holes)
        bolts.append(Bolts(places, size, thick + wall, assembly))

    def add(part: Steel) -> Steel:
        parts.append(part)
        return part

    uneven = (75, 50, 6, 7, 3.5)
    even = (60, 60, 6, 8, 4)
    skewed = frame((0, 0, 0), (1, 2, 2), (0, 1, -1))  # a direction with no coordinate zero

    # An unequal angle with holes in both legs, and one in a slanting place of the model.
    one = add(Steel("uneven", "angle", uneven, at(0), 1200, assembly="P1"))
    bolted(one, "A", [(40, 40), (100, 40)], 6, assembly="P1")
    bolted(one, "B", [(1150, 28)], 6, 12, 8, assembly="P1")
    same = add(
        Steel("uneven again", "angle", uneven, Frame(np.array([-4000.0, 500, 800]), skewed.axes), 1200, assembly="P2")
    )
    bolted(same, "A", [(40, 40), (100, 40)], 6, assembly="P2")
    bolted(same, "B", [(1150, 28)], 6, 12, 8, assembly="P2")
    # Its opposite hand: the holes of leg A at the other end.
    hand = add(Steel("uneven hand", "angle", uneven, at(1), 1200))
    bolted(hand, "A", [(1160, 40), (1100, 40)], 6)
    bolted(hand, "B", [(50, 28)], 6, 12, 8)
    # An equal angle, and one end for end with its legs exchanged: one piece.
    leg = add(Steel("even", "angle", even, at(2), 900))
    bolted(leg, "A", [(45, 35), (95, 35)], 6)
    bolted(leg, "B", [(600, 33)], 6)
    turned = add(Steel("even turned", "angle", even, at(3), 900))
    bolted(turned, "B", [(855, 35), (805, 35)], 6)
    bolted(turned, "A", [(300, 33)], 6)
    # The same holes without the exchange: the opposite hand.
    other = add(Steel("even hand", "angle", even, at(4), 900))
    bolted(other, "B", [(45, 35), (95, 35)], 6)
    bolted(other, "A", [(600, 33)], 6)
    # A channel, an I, a T, a flat.
    channel = add(Steel("channel", "channel", (120, 55, 7, 9, 9, 4.5, 0.0798298), at(5), 1500))
    bolted(channel, "web", [(50, 40), (50, 80), (110, 40)], 7, 20)
    beam = add(Steel("beam", "i_shape", (200, 100, 5.6, 8.5, 12), at(6), 2000))
    bolted(beam, "I-web", [(60, 70), (60, 130), (1900, 70)], 5.6)
    crane = add(Steel("crane beam", "i_shape", (200, 100, 5.6, 8.5, 12), at(12), 2000))
    bolted(crane, "top", [(100, 28), (100, -28), (180, 28)], 8.5, 12)
    tee = add(Steel("tee", "tee", (100, 120, 9, 10), at(7), 800))
    bolted(tee, "stem", [(60, 60), (130, 60)], 9)
    bar = add(
        Steel(
            "bar", "flat", (80, 8), at(8), 640,
            openings=(Opening("face", Ring(320, 25, 22)), Opening("face", outline=arc_slot(500, 40, 18, 40))),
        )
    )  # fmt: skip
    bolted(bar, "face", [(40, 30)], 8)
    # A plate with five corners, a hole and a slot drawn as openings.
    corners = ((0, 0), (300, 0), (300, 120), (180, 200), (0, 200))
    add(
        Steel(
            "gusset", "plate", (12,), at(9), 300, outline=corners, grade="S235JR",
            openings=(Opening("face", Ring(60, 50, 18)), Opening("face", outline=arc_slot(220, 60, 18, 45))),
        )
    )  # fmt: skip
    # A hollow section, one wall drilled.
    add(
        Steel(
            "tube", "hollow_rectangle", (60, 100, 5, 10, 5), at(10), 700,
            openings=(Opening("front", Ring(80, 35, 18)),),
        )
    )  # fmt: skip
    post = add(Steel("post", "hollow_rectangle", (50, 80, 4, 8, 4), at(13), 1100))
    f = post.frame  # one long bolt through both walls
    bolts.append(Bolts(((tuple(f.to_model((150, 0, 30))), tuple(f.axes[1])),), 12, 50))
    add(Steel("pipe", "hollow_circle", (76.1, 5), at(14), 950))
    # An angle with a skew end and a drawn hole.
    s = math.sqrt(0.5)
    cut = ((0, 0, 0), (-s, 0, s))
    add(Steel("skew", "angle", even, at(11), 1000, clips=(cut,), openings=(Opening("A", Ring(700, 35, 18)),)))
    return Scene(tuple(parts), tuple(bolts), (("Whole", ""), ("P1", "Whole"), ("P2", "Whole")))


# ---------------------------------------------------------------- the looking-glass


def mirrored(scene: Scene) -> Scene:
    """The scene mirrored in the plane Y = 0. A prism is its own mirror image across its length."""
    glass = np.diag([1.0, -1.0, 1.0])

    def corners(outline: Sequence[Corner], length: float) -> tuple[Corner, ...]:
        back = [(length - c[0], c[1]) for c in reversed(outline)]
        bulges = [c[2] if len(c) > 2 else 0.0 for c in reversed(outline)]
        bulges = bulges[1:] + bulges[:1]
        return tuple((*p, b) if b else p for p, b in zip(back, bulges, strict=True))

    parts = []
    for part in scene.parts:
        x, u, v = part.frame.axes @ glass
        start = (part.frame.origin + part.frame.axes[0] * part.length) @ glass
        openings = tuple(
            Opening(
                o.face,
                Ring(part.length - o.ring.u, o.ring.v, o.ring.diameter) if o.ring else None,
                corners(o.outline, part.length),
            )
            for o in part.openings
        )
        clips = tuple(((part.length - p[0], *p[1:]), (-n[0], *n[1:])) for p, n in part.clips)
        outline = corners(part.outline, part.length)
        parts.append(
            replace(
                part,
                frame=Frame(start, np.array([-x, u, v])),
                openings=openings,
                clips=clips,
                outline=outline,
            )
        )
    bolts = tuple(
        replace(
            group,
            places=tuple((tuple(np.array(p) @ glass), tuple(np.array(d) @ glass)) for p, d in group.places),
        )
        for group in scene.bolts
    )
    return Scene(tuple(parts), bolts, scene.assemblies)


def handed(scene: Scene) -> Scene:
    """The scene and its mirror image in one model, the image 100 m aside in Y."""
    glass = mirrored(scene)
    aside = np.array([0.0, -100_000.0, 0.0])
    parts = tuple(
        replace(p, label=f"{p.label} mirrored", frame=Frame(p.frame.origin + aside, p.frame.axes)) for p in glass.parts
    )
    bolts = tuple(replace(b, places=tuple((tuple(np.array(p) + aside), d) for p, d in b.places)) for b in glass.bolts)
    return Scene(scene.parts + parts, scene.bolts + bolts, scene.assemblies)


def swapped(scene: Scene) -> Scene:
    """Every part written from its other end: the same steel, its start where its end was.

    A section seen from its other end is mirrored; equal angles come back to themselves with the
    legs exchanged, channels and T by turning over. Others stay as they are.
    """
    parts = []
    for part in scene.parts:
        x, u, v = part.frame.axes
        end = part.frame.origin + x * part.length
        drawn = bool(part.clips or part.openings or part.outline)
        if part.shape == "angle" and part.size[0] == part.size[1] and not drawn:
            part = replace(part, frame=Frame(end, np.array([-x, v, u])))
        elif part.shape == "channel" and not drawn:
            h = part.size[0]
            part = replace(part, frame=Frame(end + v * h, np.array([-x, u, -v])))
        elif part.shape in ("i_shape", "tee") and not drawn:
            part = replace(part, frame=Frame(end, np.array([-x, -u, v])))
        parts.append(part)
    return replace(scene, parts=tuple(parts))


# ---------------------------------------------------------------- writing


def write(scene: Scene, path: Path, how: Writing = Writing()) -> dict[str, str]:
    """Write the scene; returns GlobalId by label."""
    model = ModelWriter(how.schema, how.unit, how.origin, how.rotation, how.offset, **how.named)
    assemblies: dict[str, Any] = {}
    for label, parent in scene.assemblies:
        assemblies[label] = model.assembly(label, parent=assemblies.get(parent))
    chance = random.Random(how.order)
    jobs: list[Callable[[], None]] = []
    ids: dict[str, str] = {}

    def part_job(part: Steel) -> Callable[[], None]:
        return lambda: _write_part(model, part, how, assemblies, ids)

    def bolt_job(group: Bolts) -> Callable[[], None]:
        def job() -> None:
            places = list(group.places)
            if how.order:
                chance.shuffle(places)
            model.bolts(
                places, group.diameter, group.grip, name=f"M{group.diameter:g}", material="8.8",
                body=how.bolt_body, assembly=assemblies.get(group.assembly),
            )  # fmt: skip

        return job

    jobs = [*map(part_job, scene.parts), *map(bolt_job, scene.bolts)]
    if how.order:
        chance.shuffle(jobs)
    for job in jobs:
        job()
    model.save(path)
    if how.order:
        _shuffle_file(path, chance)
    return ids


def _write_part(model: ModelWriter, part: Steel, how: Writing, assemblies: dict[str, Any], ids: dict[str, str]) -> None:
    named: dict[str, Any] = {
        "material": part.grade,
        "assembly": assemblies.get(part.assembly),
        "shared": how.shared,
    }
    f = part.frame
    if part.shape == "plate":
        curve = how.curve if how.curve != "indexed" or how.schema != "IFC2X3" else "composite"
        made = model.plate(part.outline, f, part.size[0], curve=curve, **named)
    else:
        profile, flipped, seat = _profile(model, part, how)
        f, clips = _seated(part, seat) if seat is not None else (f, part.clips)
        if flipped:  # a mirrored section runs the other way to be the same steel
            x, u, v = f.axes
            f = Frame(f.origin + x * part.length, np.array([-x, -u, v]))
            clips = tuple(((part.length - p[0], -p[1], p[2]), (-n[0], -n[1], n[2])) for p, n in clips)
        made = model.member(profile, f, part.length, clips=clips, style=how.style, agreement=how.agreement, **named)
    ids[part.label] = made.global_id
    for opening in part.openings:
        depth = 40.0
        x, u, v = part.frame.axes
        if opening.face == "B":
            where = Frame(part.frame.origin - v * depth / 2, np.array([x, v, u]))
        else:
            where = Frame(part.frame.origin - u * depth / 2, part.frame.axes)
        model.opening(
            made, opening.ring or opening.outline, where, depth, curve="composite", absolute=how.openings_absolute
        )


CENTRES: dict[str, Callable[[tuple[float, ...]], tuple[float, float, float]]] = {
    "angle": lambda s: (s[1] / 2, s[0] / 2, 0.0),
    "channel": lambda s: (s[1] / 2, s[0] / 2, 0.0),
    "i_shape": lambda s: (0.0, s[0] / 2, 0.0),
    "tee": lambda s: (0.0, s[0] / 2, 180.0),
    "flat": lambda s: (s[1] / 2, s[0] / 2, 0.0),
    "hollow_rectangle": lambda s: (s[0] / 2, s[1] / 2, 0.0),
    "hollow_circle": lambda s: (0.0, 0.0, 0.0),
}
"""Centre of a shape's box in the piece frame, and how the standard's own drawing of it is turned there."""


def _seated(part: Steel, seat: Corner) -> tuple[Frame, tuple[tuple[Corner, Corner], ...]]:
    """The frame in which a profile seated elsewhere is the same steel, and the clips in it."""
    u0, v0, degrees = seat
    cu, cv, _ = CENTRES[part.shape](part.size)
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    x, u, v = part.frame.axes
    gu, gv = c * u - s * v, s * u + c * v
    seated = Frame(part.frame.origin + cu * u + cv * v - u0 * gu - v0 * gv, np.array([x, gu, gv]))
    clips = tuple(
        (
            tuple(seated.to_piece(part.frame.to_model(np.array(p, dtype=float)))),
            tuple(seated.direction_to_piece(np.array(n, dtype=float) @ part.frame.axes)),
        )
        for p, n in part.clips
    )
    return seated, clips


def _profile(model: ModelWriter, part: Steel, how: Writing) -> tuple[Ref, bool, Corner | None]:
    """The part's profile, whether it is mirrored in u, and where it is seated (None: on the piece frame)."""
    p = model.profiles
    size = part.size
    if part.shape == "flat":
        make, size = p.rectangle, (part.size[1], part.size[0])
    else:
        make = getattr(p, part.shape)
    if part.shape == "angle" and how.profile in ("polyline", "composite"):
        return p.closed(angle_outline(*size, rounded=how.profile == "composite"), curve="composite"), False, None
    named: dict[str, Any] = {}
    if how.seat is not None:
        named["at"] = (*how.seat[:2], how.seat[2] + CENTRES[part.shape](part.size)[2])
    made = make(*size, **named)
    if how.profile == "derived":
        return p.derived(made, axis1=(-1, 0), axis2=(0, 1)), True, how.seat
    if how.profile == "mirrored":
        return p.mirrored(made), True, how.seat
    return made, False, how.seat


def angle_outline(
    a: float, b: float, t: float, r1: float = 0.0, r2: float = 0.0, rounded: bool = True
) -> tuple[Corner, ...]:
    """An angle's outline in (u, v), anti-clockwise from the heel, with its radii or sharp."""
    if not rounded or not r1:
        return ((0, 0), (b, 0), (b, t), (t, t), (t, a), (0, a))
    q = math.tan(math.pi / 8)  # the bulge of a quarter circle
    return (
        (0, 0), (b, 0), (b, t - r2, q), (b - r2, t), (t + r1, t, -q), (t, t + r1),
        (t, a - r2, q), (t - r2, a), (0, a),
    )  # fmt: skip


def _shuffle_file(path: Path, chance: random.Random) -> None:
    """New instance names, lines in any order: the same model by ISO 10303-21."""
    text = path.read_text(encoding="ascii")
    head, rest = text.split("DATA;\n", 1)
    body, tail = rest.split("\nENDSEC;", 1)
    lines = body.split("\n")
    names = list(range(1, len(lines) + 1))
    chance.shuffle(names)
    renamed = [_renamed(line, names) for line in lines]
    chance.shuffle(renamed)
    path.write_text(head + "DATA;\n" + "\n".join(renamed) + "\nENDSEC;" + tail, encoding="ascii")


def _renamed(line: str, names: Sequence[int]) -> str:
    """Instance names replaced outside strings."""
    pieces = line.split("'")
    pieces[::2] = [re.sub(r"#(\d+)", lambda m: f"#{names[int(m[1]) - 1]}", piece) for piece in pieces[::2]]
    return "'".join(pieces)
