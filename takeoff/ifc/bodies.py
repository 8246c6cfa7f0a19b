"""Representation items as bodies of the shop: what was extruded, mapped and cut.

An item is followed through maps and boolean differences down to the solid it draws;
what is met on the way (transformations, half spaces) is collected. The solid's body is
made once per item, hand and scale, in the axes of its own sweep, and shared by every
part that draws it; each part only gets its own place.

``DRAWN`` names what no profile describes; readers of such bodies stand in ``DRAWN_READERS``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.ifc.cuts import HalfSpace, half_space, taken
from takeoff.ifc.disks import read_disk
from takeoff.ifc.drawn_bodies import read_drawn
from takeoff.ifc.facets import FACETED
from takeoff.ifc.joined import one_of
from takeoff.ifc.kernel import KERNEL
from takeoff.ifc.maps import map_matrix
from takeoff.ifc.opening_prisms import Prism, item_solids
from takeoff.ifc.openings import cut_by
from takeoff.ifc.placements import axis2placement3d, operator3d
from takeoff.ifc.plate_edges import trimmed
from takeoff.ifc.prisms import prism
from takeoff.ifc.profiles import Profiles
from takeoff.sections import shapes
from takeoff.settings import Settings
from takeoff.steel import Body, FloatArray, Frame, Notch
from takeoff.units import COINCIDENCE_MM

_EYE = np.eye(4)
_RIGID = 1e-6
SAME_MM = 0.001
"""Bodies of one part this close are one body drawn twice."""
DEEPEST = 16
"""Maps within maps."""

DRAWN = {
    "IfcFacetedBrep": "facets",
    "IfcFacetedBrepWithVoids": "facets with voids",
    "IfcAdvancedBrep": "a body with curved faces",
    "IfcAdvancedBrepWithVoids": "a body with curved faces and voids",
    "IfcManifoldSolidBrep": "a boundary body",
    "IfcTriangulatedFaceSet": "triangles",
    "IfcTriangulatedIrregularNetwork": "triangles",
    "IfcPolygonalFaceSet": "polygons",
    "IfcFaceBasedSurfaceModel": "surfaces",
    "IfcShellBasedSurfaceModel": "surfaces",
    "IfcRevolvedAreaSolid": "a profile turned about an axis",
    "IfcRevolvedAreaSolidTapered": "a tapering profile turned about an axis",
    "IfcExtrudedAreaSolidTapered": "a tapering profile",
    "IfcFixedReferenceSweptAreaSolid": "a profile along a curve",
    "IfcSurfaceCurveSweptAreaSolid": "a profile along a curve",
    "IfcDirectrixCurveSweptAreaSolid": "a profile along a curve",
    "IfcSweptDiskSolid": "a round along a line",
    "IfcSweptDiskSolidPolygonal": "a round along a bent line",
    "IfcSectionedSolidHorizontal": "sections along a curve",
    "IfcSectionedSpine": "sections along a curve",
    "IfcCsgSolid": "a body built from simple ones",
    "IfcBlock": "a block",
    "IfcRightCircularCylinder": "a cylinder",
    "IfcRightCircularCone": "a cone",
    "IfcSphere": "a sphere",
    "IfcBoundingBox": "a bounding box",
    "IfcGeometricSet": "lines and surfaces",
    "IfcGeometricCurveSet": "lines",
}
"""What a body is drawn as, in words, where no profile describes it."""


class Drawn(Unread):
    """A body that no profile describes; the sentence names what it is drawn as."""

    def __init__(self, kind: str) -> None:
        words = DRAWN.get(kind, f"an {kind}")
        super().__init__(f"its body is drawn as {words}, which is not read yet")


class Several(Unread):
    """An item that maps several bodies."""


class BuiltUp(Unread):
    """A part of several bodies that are not certainly one piece; the sentence says what they are."""


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """An extrusion in the coordinates of the item it came from.

    ``item`` is the id of the outermost item without its maps, ``place`` (4, 4) the sweep's axes,
    steel from z = ``low`` to ``high`` along them, ``cuts`` in the item's coordinates.
    """

    item: int
    profile: Entity | None
    place: FloatArray
    low: float = 0.0
    high: float = 0.0
    cuts: tuple[HalfSpace, ...] = ()
    subtracted: tuple[Entity, ...] = ()
    """Solids taken away from it, to be read as openings."""
    drawn: Entity | None = None
    """The item itself, where it is no extrusion: ``profile`` then is None and ``place`` the identity."""


Placed = tuple[Body, Frame]
"""A body and its frame in the coordinates of the product."""


class Bodies:
    """Bodies of one file, each made once."""

    def __init__(self, ctx: Context, settings: Settings) -> None:
        self._ctx = ctx
        self._settings = settings
        self.profiles = Profiles(ctx)
        self._solids: dict[int, tuple[Solid, FloatArray | None] | Unread] = {}
        self._maps: dict[tuple[int, int], tuple[Solid, FloatArray | None]] = {}
        self._read_maps: dict[tuple[int, int, str], tuple[Body, FloatArray, Solid]] = {}
        self._swept: dict[tuple[object, ...], tuple[Body, FloatArray] | Unread] = {}
        self._shared: dict[Body, Body] = {}
        self._joined: dict[tuple[object, ...], tuple[Body, FloatArray] | Unread] = {}

    def read(self, item: Entity, text: str) -> tuple[Body, FloatArray, Solid]:
        """The body an item draws, its piece axes (4, 4: columns x, u, v, origin) in the item's coordinates, its solid.

        ``text`` is what the model calls the section. Raises Drawn and Unread.
        """
        if item.is_a() != "IfcMappedItem":
            return self._read(item, text)
        # Parts that map one body the same way are one body in one place.
        key = (argument(item, 0).id(), argument(item, 1).id(), text)
        found = self._read_maps.get(key)
        if found is None:
            found = self._read_maps[key] = self._read(item, text)
        return found

    def _read(self, item: Entity, text: str) -> tuple[Body, FloatArray, Solid]:
        solid, matrix = self.solid(item)
        return (*self._left_over(solid, matrix, text), solid)

    def _left_over(self, solid: Solid, matrix: FloatArray | None, text: str) -> tuple[Body, FloatArray]:
        """The body of a solid and its piece axes; what was taken away is read from what is left, if need be."""
        try:
            return self._placed(solid, matrix, text)
        except Unread:
            if not solid.subtracted:
                raise
            left = Solid(solid.item, None, _EYE, drawn=self._ctx.file.by_id(solid.item))
            return self._placed(left, matrix, self.text(solid) or text)

    def read_together(self, items: Sequence[Entity], text: str) -> tuple[Body, FloatArray, str, bool]:
        """The one body that several items draw, its piece axes, what the section is called, and whether it was joined.

        Bodies that are one and the same count once. Raises Drawn, Unread, and BuiltUp where they are several.
        """
        placed: list[tuple[Body, FloatArray]] = []
        for item in items:
            for body, axes, named in self._each(item, None, text, 0):
                text = named or text
                if not any(body is one and np.allclose(axes, at, atol=SAME_MM, rtol=0.0) for one, at in placed):
                    placed.append((body, axes))
        if len(placed) == 1:
            return (*placed[0], text, False)
        # like parts lie alike within themselves: joined once, in the axes of their first body
        back = np.linalg.inv(placed[0][1])
        here = [(body, back @ axes) for body, axes in placed]
        key = (text, *((id(body), np.round(axes, 3).tobytes()) for body, axes in here))
        found = self._joined.get(key)
        if found is None:
            try:
                found = one_of(here, text, self._settings)
                found = self._shared.setdefault(found[0], found[0]), found[1]
            except Unread as error:
                found = error
            self._joined[key] = found
        if isinstance(found, Unread):
            raise BuiltUp(found.sentence)
        body, local = found
        return body, placed[0][1] @ local, text, True

    def _each(
        self, item: Entity, matrix: FloatArray | None, text: str, depth: int
    ) -> Iterator[tuple[Body, FloatArray, str]]:
        """The bodies an item draws, with their axes under a matrix and what each is called."""
        if depth > DEEPEST:
            raise Unread("its mapping refers to itself")
        if item.is_a() == "IfcMappedItem" and len(argument(argument(argument(item, 0), 1), 3)) != 1:
            own = map_matrix(self._ctx, item)
            under = own if matrix is None else matrix if own is None else matrix @ own
            for inner in argument(argument(argument(item, 0), 1), 3):
                yield from self._each(inner, under, text, depth + 1)
            return
        solid, own = self.solid(item)
        under = own if matrix is None else matrix if own is None else matrix @ own
        body, axes = self._left_over(solid, under, text)
        yield body, axes, self.text(solid)

    def _placed(self, solid: Solid, matrix: FloatArray | None, text: str) -> tuple[Body, FloatArray]:
        """The body of a solid and its piece axes (4, 4) under the maps' matrix; raises Unread."""
        place = solid.place if matrix is None else matrix @ solid.place
        rigid, mirror, scale = (place, False, 1.0) if matrix is None else _split(place)
        if not scale:
            return self._stretched(solid, place, text)
        name = self.text(solid) or text
        key: tuple[object, ...]
        if solid.cuts or solid.subtracted or solid.profile is None:
            key = (solid.item, solid.profile is None, mirror, scale, name)
        else:
            key = (solid.profile.id(), solid.low, solid.high, mirror, scale, name)
        found = self._swept.get(key)
        if found is None:
            try:
                found = self._sweep(solid, mirror, scale, name)
            except Unread as error:
                found = error
            self._swept[key] = found
        if isinstance(found, Unread):
            raise found
        body, local = found
        return body, rigid @ local

    def _stretched(self, solid: Solid, place: FloatArray, text: str) -> tuple[Body, FloatArray]:
        """The body of a solid under a ``place`` (4, 4) that stretches it in one direction or shears it.

        What it draws is stretched as the standard defines it (ISO 16739-1,
        IfcCartesianTransformationOperator3DnonUniform): points move, and the body is what they then enclose.
        """
        name = self.text(solid) or text
        key = (solid.item, np.round(place[:3, :3], 9).tobytes(), name)
        found = self._swept.get(key)
        if found is None:
            try:
                found = self._stretch(solid, place, name)
            except Unread as error:
                found = error
            self._swept[key] = found
        if isinstance(found, Unread):
            raise found
        body, local = found
        there = np.eye(4)
        there[:3, 3] = place[:3, 3]
        return body, there @ local

    def _stretch(self, solid: Solid, place: FloatArray, text: str) -> tuple[Body, FloatArray]:
        """The body and its axes where the place's origin is at zero."""
        linear = np.eye(4)
        linear[:3, :3] = place[:3, :3]
        if solid.profile is None:
            item = solid.drawn
            assert item is not None
            body, frame = DRAWN_READERS[item.is_a()](self._ctx, item, linear, text, self._settings)
            return self._shared.setdefault(body, body), _matrix(frame)
        if solid.subtracted:
            raise Unread("its mapping stretches a body that others are taken away from, which is not read yet")
        axes, plane = _unstretched(linear)
        profile = self.profiles.stretched(solid.profile, plane)
        deep = float(np.linalg.norm(linear[:3, 2]))
        into = np.linalg.inv(axes) @ linear @ np.linalg.inv(solid.place)
        cuts = [cut.stretched(into) for cut in solid.cuts]
        body, frame, partly = prism(profile, solid.low * deep, solid.high * deep, cuts, text, self._settings)
        assert not partly, "cuts that are stretched are unbounded"
        return self._shared.setdefault(body, body), axes @ _matrix(frame)

    def text(self, solid: Solid) -> str:
        """What the solid's profile is called; empty for a drawn body."""
        return "" if solid.profile is None else self.profiles.read(solid.profile).text

    def _sweep(self, solid: Solid, mirror: bool, scale: float, text: str) -> tuple[Body, FloatArray]:
        """The body in the rigid part of the sweep's axes. A mirror image is swept the other way."""
        if solid.profile is None:
            return self._from_drawing(solid, mirror, scale, text)
        profile = self.profiles.read(solid.profile, scale)
        low, high = solid.low * scale, solid.high * scale
        if mirror:
            low, high = -high, -low
        into = np.diag([scale, scale, -scale if mirror else scale, 1.0]) @ np.linalg.inv(solid.place)
        cuts = [cut.moved(into) for cut in solid.cuts]
        body, frame, partly = prism(profile, low, high, cuts, text, self._settings)
        if partly or solid.subtracted:
            body = self._notched(body, frame, partly, solid.subtracted, into)
            left = trimmed(replace(body, notches=()), frame, body.notches)
            if left is not None:
                body, frame, _ = left
        return self._shared.setdefault(body, body), _matrix(frame)

    def _from_drawing(self, solid: Solid, mirror: bool, scale: float, text: str) -> tuple[Body, FloatArray]:
        """The body of an item that is no extrusion, seen mirrored (z turned about) and scaled."""
        item = solid.drawn
        assert item is not None
        if solid.cuts or solid.subtracted:
            raise Unread(f"its body is drawn as {DRAWN.get(item.is_a(), item.is_a())} and cut, which is not read yet")
        seen = np.diag([scale, scale, -scale if mirror else scale, 1.0])
        body, frame = DRAWN_READERS[item.is_a()](self._ctx, item, seen, text, self._settings)
        return self._shared.setdefault(body, body), _matrix(frame)

    def _notched(
        self, body: Body, frame: Frame, partly: list[HalfSpace], items: tuple[Entity, ...], into: FloatArray
    ) -> Body:
        """The body with what bounded cuts and other bodies take out of its faces."""
        to_piece = np.eye(4)
        to_piece[:3, :3] = frame.axes
        to_piece[:3, 3] = -frame.axes @ frame.origin
        solids: list[tuple[Prism, ...]] = [(part.moved(to_piece),) for cut in partly for part in taken(cut)]
        for item in items:
            matrix = to_piece @ into
            solids += [tuple(p.moved(matrix) for p in seen) for seen in item_solids(self._ctx, item)]
        holes, notches, problems = cut_by(body, solids)
        _require_ends(body, notches)
        holes = tuple(replace(hole, source="solid") for hole in holes)
        return replace(body, holes=body.holes + holes, notches=notches, problems=(*body.problems, *problems))

    def solid(self, item: Entity) -> tuple[Solid, FloatArray | None]:
        """The solid an item draws in the coordinates of its own map, and the maps' matrix (None: no map)."""
        key = item.id()
        found = self._solids.get(key)
        if found is None:
            try:
                found = self._follow(item)
            except Unread as error:
                found = error
            self._solids[key] = found
        if isinstance(found, Unread):
            raise found
        return found

    def _follow(self, item: Entity) -> tuple[Solid, FloatArray | None]:
        kind = item.is_a()
        reader = READERS.get(kind)
        if reader is not None:
            return reader(self, item)
        if kind in DRAWN_READERS:
            return Solid(item.id(), None, _EYE, drawn=item), None
        raise Drawn(kind)

    def _extruded(self, item: Entity) -> tuple[Solid, FloatArray | None]:
        profile, position, direction = (argument(item, index) for index in range(3))
        if profile is None:
            raise Unread("its extrusion has no profile")
        depth = float(argument(item, 3)) * self._ctx.mm
        ratios = self._ctx.direction(direction)
        size = float(np.linalg.norm(ratios))
        if not size > 0:
            raise Unread("its extrusion has no direction")
        along = ratios[2] / size if len(ratios) > 2 else 0.0
        if abs(along) < 1e-9:
            raise Unread("its extrusion lies in the plane of its profile")
        if abs(abs(along) - 1.0) > 1e-9:
            slant = float(np.hypot(ratios[0], ratios[1])) / size * depth
            if slant > COINCIDENCE_MM:
                raise Unread("its profile is extruded askew, which is not read yet")
        low, high = (0.0, depth) if along > 0 else (-depth, 0.0)
        return Solid(item.id(), profile, axis2placement3d(self._ctx, position), low, high), None

    def _mapped(self, item: Entity) -> tuple[Solid, FloatArray | None]:
        source, target = argument(item, 0), argument(item, 1)
        key = (source.id(), target.id())
        found = self._maps.get(key)
        if found is None:
            found = self._maps[key] = self._map(source, target)
        return found

    def _map(self, source: Entity, target: Entity) -> tuple[Solid, FloatArray | None]:
        items = argument(argument(source, 1), 3)
        if len(items) != 1:
            raise Several("its mapped body consists of several bodies")
        solid, inner = self.solid(items[0])
        origin = axis2placement3d(self._ctx, argument(source, 0))
        matrix = operator3d(self._ctx, target) @ np.linalg.inv(origin)
        if inner is not None:
            matrix = matrix @ inner
        if np.array_equal(matrix, _EYE):
            return solid, None
        return solid, matrix

    def _boolean(self, item: Entity) -> tuple[Solid, FloatArray | None]:
        operator, first, second = (argument(item, index) for index in range(3))
        drawn = Solid(item.id(), None, _EYE, drawn=item)
        if operator != "DIFFERENCE":
            return drawn, None
        solid, inner = self.solid(first)
        if inner is not None:  # only an operand that is mapped itself; a solid is not, by the standard
            raise Unread("its body is cut after it was mapped, which is not read yet")
        if solid.profile is None:
            return drawn, None
        if second.is_a("IfcHalfSpaceSolid"):
            cuts = (*solid.cuts, half_space(self._ctx, second))
            return Solid(item.id(), solid.profile, solid.place, solid.low, solid.high, cuts, solid.subtracted), None
        return replace(solid, item=item.id(), subtracted=(*solid.subtracted, second)), None


def _matrix(frame: Frame) -> FloatArray:
    """A frame as a (4, 4) whose columns are x, u, v and the origin."""
    matrix = np.eye(4)
    matrix[:3, :3] = frame.axes.T
    matrix[:3, 3] = frame.origin
    return matrix


def _require_ends(body: Body, notches: tuple[Notch, ...]) -> None:
    """Unread where notches take all of the section away somewhere: the part is shorter, or in two."""
    faces = shapes.faces(body.section)
    worn = {face.name: [n for n in notches if n.face == face.name] for face in faces}
    if not all(worn.values()):
        return
    spans = [
        [
            (min(p[0] for p in n.loop), max(p[0] for p in n.loop))
            for n in worn[face.name]
            if min(p[1] for p in n.loop) <= face.low + COINCIDENCE_MM
            and max(p[1] for p in n.loop) >= face.high - COINCIDENCE_MM
        ]
        for face in faces
    ]
    for start, stop in spans[0]:
        if all(any(a < stop and b > start for a, b in other) for other in spans[1:]):
            raise Unread("a body that is taken away from it shortens it or parts it, which is not read yet")


Reader = Callable[[Bodies, Entity], tuple[Solid, FloatArray | None]]

READERS: dict[str, Reader] = {
    "IfcExtrudedAreaSolid": Bodies._extruded,
    "IfcMappedItem": Bodies._mapped,
    "IfcBooleanClippingResult": Bodies._boolean,
    "IfcBooleanResult": Bodies._boolean,
}
"""How each kind of item is followed to its solid."""

DrawnReader = Callable[[Context, Entity, FloatArray, str, Settings], tuple[Body, Frame]]

DRAWN_READERS: dict[str, DrawnReader] = {
    "IfcSweptDiskSolid": read_disk,
    "IfcSweptDiskSolidPolygonal": read_disk,
    **dict.fromkeys((*FACETED, *KERNEL), read_drawn),
}
"""Readers of bodies that no profile describes, by the item's class. Called with the context, the item, a (4, 4)
that mirrors and scales its coordinates, what the model calls the section, and the settings; they return the
body and its piece frame in those coordinates, right-handed, and raise Unread with a sentence. Kinds that are
neither here nor in ``READERS`` are Drawn."""


def _split(place: FloatArray) -> tuple[FloatArray, bool, float]:
    """A matrix as a rigid one times (1, 1, -1 where mirrored) times a scale; scale 0 where it stretches or shears."""
    linear = place[:3, :3]
    volume = float(np.linalg.det(linear))
    scale = abs(volume) ** (1 / 3)
    if not scale > 0:
        raise Unread("its mapping flattens it to nothing")
    if float(np.abs(linear.T @ linear / scale**2 - np.eye(3)).max()) > _RIGID:
        return place, False, 0.0
    mirror = volume < 0
    rigid = place.copy()
    rigid[:3, :3] = linear / scale
    if mirror:
        rigid[:3, 2] = -rigid[:3, 2]
    if abs(scale - 1.0) < _RIGID:
        scale = 1.0
    return rigid, mirror, round(scale, 9)


def _unstretched(linear: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Right-handed axes (4, 4) of a stretched sweep, z along it, and what its profile undergoes in them (3, 3).

    Unread where the sweep is no longer square to the profile.
    """
    x, y, z = linear[:3, :3].T
    up = z / np.linalg.norm(z)
    if max(abs(float(up @ x)) / np.linalg.norm(x), abs(float(up @ y)) / np.linalg.norm(y)) > _RIGID:
        raise Unread("its mapping shears its extrusion, which is not read yet")
    first = x / np.linalg.norm(x)
    axes = np.eye(4)
    axes[:3, :3] = np.array([first, np.cross(up, first), up]).T
    plane = np.eye(3)
    plane[:2, :2] = axes[:3, :2].T @ np.array([x, y]).T
    return axes, np.round(plane, 12)
