"""One scene of bolted steel written in the dialects of many programs: every axis of a dialect by itself, and in pairs.

The steel is sharp-cornered, so that a profile and a body of facets draw the same. ``write`` puts the scene into a
file in a ``Dialect``; ``selection`` are the dialects to try.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from itertools import combinations, product
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from drawn_meshes import Mesh, circle, pierced
from scene import Bolts, Corner, Opening, Scene, Steel, Writing, _profile, _seated, angle_outline
from scipy.spatial.transform import Rotation

from takeoff.ifc.profile_writer import Ring
from takeoff.ifc.step_text import Ref, encode
from takeoff.ifc.writer import ModelWriter, axes, frame
from takeoff.steel import Frame

TURN = Rotation.from_euler("zyx", [37.123, -21.7, 64.01], degrees=True).as_matrix()
SEATS: dict[str, Corner] = {"datum": (), "centre": (0.0, 0.0, 0.0), "aside": (-40.0, 25.0, 90.0)}
SIDES = 32
"""Of the polygons that holes are drawn as; a bolt's hole through them stays the circle through their corners."""


@dataclass(frozen=True)
class Dialect:
    """How the scene is written. The defaults are the plainest."""

    body: str = "extrusion"
    heel: str = "datum"
    hand: str = "as designed"
    holes: str = "none"
    fastener: str = "one by one"
    unit: str = "mm"
    schema: str = "IFC4"
    turned: bool = False

    def __str__(self) -> str:
        return ", ".join(str(v) for k, v in asdict(self).items() if v != asdict(Dialect())[k]) or "plain"


AXES: dict[str, tuple[Any, ...]] = {
    "body": ("extrusion", "arbitrary profile", "brep", "triangles", "polygons", "csg", "mapped"),
    "heel": tuple(SEATS),
    "hand": ("as designed", "mirrored"),
    "holes": ("none", "openings", "drawn", "slots"),
    "fastener": ("one by one", "groups", "shanks", "faceted", "accessories"),
    "unit": ("mm", "m", "inch", "foot"),
    "schema": ("IFC4", "IFC2X3", "IFC4X3_ADD2"),
    "turned": (False, True),
}
FACETS = ("brep", "triangles", "polygons")


def possible(how: Dialect) -> bool:
    """Tessellations came with IFC4; holes can be drawn in facets and in trees of solids only."""
    if how.body in ("triangles", "polygons") and how.schema == "IFC2X3":
        return False
    return how.holes != "drawn" or how.body in (*FACETS, "csg")


def selection() -> list[Dialect]:
    """Each value of each axis alone, then dialects until every possible pair of values has met; the same every time."""
    alone = [Dialect(**{axis: value}) for axis, values in AXES.items() for value in values]
    chosen = [how for how in dict.fromkeys(alone) if possible(how)]
    everything = [how for how in (Dialect(*values) for values in product(*AXES.values())) if possible(how)]
    everything = everything[:: 1 if len(everything) < 2000 else 7]  # a stride that no axis has
    wanted = {pair for how in everything for pair in pairs(how)}
    for how in chosen:
        wanted -= pairs(how)
    while wanted:
        best = max(everything, key=lambda how: len(wanted & pairs(how)))
        chosen.append(best)
        wanted -= pairs(best)
    return chosen


def pairs(how: Dialect) -> set[tuple[tuple[str, Any], tuple[str, Any]]]:
    """The pairs of values that a dialect has."""
    return set(combinations(asdict(how).items(), 2))


# ---------------------------------------------------------------- the scene


def steel() -> Scene:
    """Angles, a flat, a plate, a channel and an I, 3 m apart; each hole has a bolt, one joint has two plies."""

    def part(number: int, label: str, shape: str, size: tuple[float, ...], length: float, *holes: Any) -> Steel:
        placed = frame((0, 3000 * number, 0), (1, 0, 0), (0, 0, 1))
        drawn = tuple(Opening(face, Ring(x, across, 18)) for face, x, across in holes)
        return Steel(label, shape, size, placed, length, openings=drawn)

    parts = [
        part(0, "uneven", "angle", (100, 75, 8), 1200, ("A", 60, 55), ("A", 130, 55), ("B", 1100, 45)),
        part(1, "even", "angle", (70, 70, 7), 900, ("A", 50, 40), ("B", 760, 40)),
        part(2, "bar", "flat", (80, 10), 500, ("face", 40, 40), ("face", 460, 40)),
        part(3, "channel", "channel", (120, 55, 7, 9), 1500, ("web", 50, 60), ("web", 1400, 40)),
        part(4, "beam", "i_shape", (200, 100, 5.6, 8.5), 2000, ("web", 60, 70), ("web", 1900, 120)),
        part(5, "plate", "flat", (230, 12), 310, ("face", 60, 60), ("face", 250, 160)),
    ]
    # a flat on the outside of the uneven angle's leg A
    mate = frame((30, -10, 15), (1, 0, 0), (0, 0, 1))
    both = tuple(Opening("face", Ring(x, 40, 18)) for x in (30, 100))
    parts.append(Steel("mate", "flat", (80, 10), mate, 130, openings=both))
    bolts = [Bolts(((tuple(p), tuple(d)),), 16, grip) for p, d, grip in _shanks(parts)]
    return Scene(tuple(parts), tuple(bolts))


def _shanks(parts: Sequence[Steel]) -> Iterator[tuple[np.ndarray, np.ndarray, float]]:
    """A bolt in every hole; through the mate and the uneven angle one for both."""
    for part in parts:
        if part.label == "mate":
            continue
        for opening in part.openings:
            assert opening.ring is not None
            x, u, v = part.frame.axes
            out, along = (-v, u) if opening.face == "B" else (-u, v)
            wall = _side(part, opening.face)[2]
            zero = wall / 2 if part.shape == "i_shape" else 0.0
            two = part.label == "uneven" and opening.face == "A"
            thick = 10.0 if two else 0.0
            point = part.frame.origin + x * opening.ring.u + along * opening.ring.v + out * (zero + thick)
            yield point, -out, wall + thick


# ---------------------------------------------------------------- writing


def write(scene: Scene, path: Path, how: Dialect) -> dict[str, str]:
    """Write the scene; returns GlobalId by label."""
    model = ModelWriter(how.schema, how.unit, rotation=TURN if how.turned else None)
    ids = {part.label: _part(model, part, how) for part in scene.parts}
    kind = "IfcDiscreteAccessory" if how.fastener == "accessories" else "IfcMechanicalFastener"
    body = {"shanks": "shank", "faceted": "faceted"}.get(how.fastener, "full")
    groups: dict[tuple[float, float], list[Any]] = {}
    for bolt in scene.bolts:
        groups.setdefault((bolt.diameter, bolt.grip), []).extend(bolt.places)
    for (diameter, grip), places in groups.items():
        for some in [places] if how.fastener == "groups" else [[place] for place in places]:
            model.bolts(
                some, diameter, grip, name=f"Bolt M{diameter:g}", material="8.8", body=body, kind=kind,
                object_type=f"Bolt M{diameter:g}",
            )  # fmt: skip
    model.save(path)
    return ids


def _part(model: ModelWriter, part: Steel, how: Dialect) -> str:
    seat = SEATS[how.heel]
    seated = _seated(part, seat)[0] if seat else part.frame
    kind = "IfcPlate" if part.label == "plate" else "IfcMember"
    if how.body in FACETS:
        shape = _facets(model, part, seated, how)
        local = axes(seated.origin, seated.axes[2], seated.axes[0])
    else:
        shape = _swept(model, part, seated, how)
        local = axes(seated.origin, seated.axes[0], seated.axes[1])
    made = model.product(kind, local, shape, part.frame, material="S355J2")
    if how.holes in ("openings", "slots"):
        for face, ring in rings(part):
            model.opening(made, _loop(ring, how), _outside(part, face), 60.0, curve="composite")
    return made.global_id


def rings(part: Steel) -> list[tuple[str, Ring]]:
    """The part's holes: face and ring."""
    return [(opening.face, opening.ring) for opening in part.openings if opening.ring is not None]


def _loop(ring: Ring, how: Dialect) -> Any:
    if how.holes != "slots":
        return ring
    r, half = ring.diameter / 2, 10.0
    x, y = ring.u, ring.v
    return ((x - half, y - r), (x + half, y - r, 1.0), (x + half, y + r), (x - half, y + r, 1.0))


def _outside(part: Steel, face: str) -> Frame:
    x, u, v = part.frame.axes
    if face == "B":
        return Frame(part.frame.origin - v * 30, np.array([x, v, u]))
    return Frame(part.frame.origin - u * 30, part.frame.axes)


def _outline(part: Steel) -> tuple[Corner, ...]:
    """The section's corners in (u, v), anti-clockwise."""
    s = part.size
    if part.shape == "angle":
        return angle_outline(*s, rounded=False)
    if part.shape == "flat":
        return ((0, 0), (s[1], 0), (s[1], s[0]), (0, s[0]))
    h, b, tw, tf = s
    if part.shape == "channel":
        return ((0, 0), (b, 0), (b, tf), (tw, tf), (tw, h - tf), (b, h - tf), (b, h), (0, h))
    b, tw = b / 2, tw / 2
    right = ((b, 0), (b, tf), (tw, tf), (tw, h - tf), (b, h - tf), (b, h))
    return (*right, *((-u, v) for u, v in reversed(right)))


def _side(part: Steel, face: str) -> tuple[int, int, float, float, float]:
    """Of a face: its side of the outline, the side behind it, the wall, and across = first + sense x distance."""
    h, wall = part.size[0], part.size[-1]
    if part.shape == "angle":
        return (5, 3, wall, h, -1.0) if face == "A" else (0, 2, wall, 0.0, 1.0)
    if part.shape == "flat":
        return 3, 1, wall, h, -1.0
    if part.shape == "channel":
        return 7, 3, part.size[2], h, -1.0
    return 8, 2, part.size[2], h - part.size[3], -1.0


def _facets(model: ModelWriter, part: Steel, seated: Frame, how: Dialect) -> Ref:
    holes = []
    if how.holes == "drawn":
        for face, ring in rings(part):
            outer, inner, wall, first, sense = _side(part, face)
            holes.append((outer, inner, circle(ring.diameter, ring.u, (ring.v - first) * sense, SIDES), wall))
    mesh = pierced(_outline(part), part.length, holes)
    points = seated.to_piece(part.frame.to_model(mesh.array))
    if how.body == "brep":
        return model.solids.shape([_brep(model, points, mesh)], "Brep")
    if how.body == "triangles":
        return model.solids.shape([model.solids.tessellation(points, _triangles(mesh))], "Tessellation")
    return model.solids.shape([_polygons(model, points, mesh)], "Tessellation")


def _brep(model: ModelWriter, points: np.ndarray, mesh: Mesh) -> Ref:
    step = model.step
    refs = [step.point(p) for p in points * model.k]
    faces = []
    for facet in mesh.facets:
        bounds = []
        for i, ring in enumerate(facet):
            loop = step.add(f"IFCPOLYLOOP({encode([refs[k] for k in ring])})")
            bounds.append(step.add(f"IFCFACE{'OUTER' if i == 0 else ''}BOUND({loop},.T.)"))
        faces.append(step.add(f"IFCFACE({encode(bounds)})"))
    return step.add(f"IFCFACETEDBREP({step.add(f'IFCCLOSEDSHELL({encode(faces)})')})")


def _polygons(model: ModelWriter, points: np.ndarray, mesh: Mesh) -> Ref:
    step = model.step
    faces = []
    for outer, *inner in mesh.facets:
        numbers = tuple(k + 1 for k in outer)
        if inner:
            voids = tuple(tuple(k + 1 for k in ring) for ring in inner)
            faces.append(step.entity("IfcIndexedPolygonalFaceWithVoids", CoordIndex=numbers, InnerCoordIndices=voids))
        else:
            faces.append(step.entity("IfcIndexedPolygonalFace", CoordIndex=numbers))
    listed = step.entity("IfcCartesianPointList3D", CoordList=(points * model.k).tolist())
    return step.entity("IfcPolygonalFaceSet", Coordinates=listed, Closed=True, Faces=faces)


def _triangles(mesh: Mesh) -> list[list[int]]:
    """Every facet in triangles between its own corners."""
    found = []
    for facet in mesh.facets:
        corners = mesh.array[[k for ring in facet for k in ring]]
        outer = mesh.array[list(facet[0])]
        normal = sum(np.cross(a, b) for a, b in zip(outer, np.roll(outer, -1, axis=0), strict=True))
        normal = normal / np.linalg.norm(normal)
        side = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
        side /= np.linalg.norm(side)
        flat = (corners - corners[0]) @ np.array([side, np.cross(normal, side)]).T
        numbers = [k for ring in facet for k in ring]
        cuts = np.cumsum([len(ring) for ring in facet])[:-1]
        shell, *inner = np.split(flat, cuts)
        for triangle in shapely.constrained_delaunay_triangles(shapely.Polygon(shell, inner)).geoms:
            ring = np.array(shapely.geometry.polygon.orient(triangle).exterior.coords)[:3]
            found.append([numbers[int(np.argmin(np.linalg.norm(flat - p, axis=1)))] for p in ring])
    return found


def _swept(model: ModelWriter, part: Steel, seated: Frame, how: Dialect) -> Ref:
    """An extrusion along the placement's z: bare, mapped, or longer and cut back, holes taken out as cylinders."""
    solids = model.solids
    if how.body == "arbitrary profile":
        corners = [(0.0, *corner) for corner in _outline(part)]
        local = seated.to_piece(part.frame.to_model(corners))[:, 1:]
        profile = model.profiles.closed([tuple(p) for p in local])
    else:
        profile = _profile(model, part, Writing(seat=SEATS[how.heel] or None))[0]
    if how.body == "mapped":
        return solids.shape([solids.mapped(solids.map([solids.extrude(profile, part.length)], "SweptSolid"))],
                            "MappedRepresentation")  # fmt: skip
    if how.body != "csg":
        return solids.shape([solids.extrude(profile, part.length)], "SweptSolid")
    ends = [((0, 0, 0), (-1, 0, 0)), ((part.length, 0, 0), (1, 0, 0))]
    item = solids.extrude(profile, part.length + 80, start=-40)
    for point, normal in ends:
        plane = model.step.once(f"IFCPLANE({solids.axis3((0, 0, point[0]), (0, 0, normal[0]), (1, 0, 0))})")
        half = model.step.once(f"IFCHALFSPACESOLID({plane},.F.)")
        item = model.step.add(f"IFCBOOLEANCLIPPINGRESULT(.DIFFERENCE.,{item},{half})")
    if how.holes == "drawn":
        for face, ring in rings(part):
            item = model.step.add(f"IFCBOOLEANRESULT(.DIFFERENCE.,{item},{_cylinder(model, part, seated, face, ring)})")
    return solids.shape([item], "CSG" if how.holes == "drawn" else "Clipping")


def _cylinder(model: ModelWriter, part: Steel, seated: Frame, face: str, ring: Ring) -> Ref:
    """An extruded circle through one wall, in the placement of an extrusion: z along the part."""
    outside = _outside(part, face)
    x, inward, across = outside.axes
    start = outside.origin + x * ring.u + across * ring.v + inward * (30 - 5)
    if part.shape == "i_shape":
        start = start - inward * part.size[2] / 2
    wall = _side(part, face)[2]
    local, way, side = seated.to_piece(start), seated.direction_to_piece(inward), seated.direction_to_piece(x)
    turn = [1, 2, 0]  # (x, u, v) of the part as (x, y, z) of its placement
    place = model.solids.axis3(local[turn], way[turn], side[turn])
    circle_profile = model.profiles.circle(ring.diameter)
    up = model.step.direction((0, 0, 1))
    return model.step.add(f"IFCEXTRUDEDAREASOLID({circle_profile},{place},{up},{encode((wall + 10) * model.k)})")
