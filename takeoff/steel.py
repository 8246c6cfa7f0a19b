"""The nouns of the shop, as frozen values: dataclasses, and named tuples for what a big job has by the ten thousand.

Every stage takes and returns these; nothing here reads, computes or draws.
All lengths mm, masses kg, areas mm2 (surface m2 where named so), angles degrees.

Frames
------
The *piece frame* has x along the piece from its left end, and the two section
axes u and v with x = u x v (right-handed, always). v points up and u away from a
viewer who looks at the piece's first face, x runs to his right:

=========  =============================================  ==========================
shape      origin of (u, v)                               u, v
=========  =============================================  ==========================
angle      heel                                           along leg B, along leg A
channel    back of the web, outside of the bottom flange  toward the toes, up the web
I          web centre line, outside of the bottom flange  away, up the web
T          stem centre line, outside of the flange        away, up the stem
flat       near broad side, bottom edge                   into the thickness, across
plate      near broad side, bottom edge of its rectangle  into the thickness, across
RHS        outside of front wall, outside of bottom wall  front to back, up
CHS/round  centre                                         any, any
other      lower left corner of the section's box         across, up
=========  =============================================  ==========================

A prism is its own mirror image across its length, so every extruded section can
be given a right-handed frame; a mirrored profile only exchanges the ends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from takeoff.queries import Query

if TYPE_CHECKING:
    from takeoff.released import Release

FloatArray = npt.NDArray[np.float64]
Vec = tuple[float, float, float]
Point2 = tuple[float, float]

ANGLE, CHANNEL, I_SHAPE, T_SHAPE = "angle", "channel", "I", "T"
FLAT, PLATE, RHS, CHS, ROUND, OTHER = "flat", "plate", "RHS", "CHS", "round", "other"
SHAPES = (ANGLE, CHANNEL, I_SHAPE, T_SHAPE, FLAT, PLATE, RHS, CHS, ROUND, OTHER)

LISTED, HELD, LEFT_OUT, BOUGHT_OUT = "listed", "held", "left out", "bought out"
LOOSE = "loose"
"""What the one assembly is called that all parts in no assembly stand under."""


@dataclass(frozen=True, slots=True)
class Section:
    """A constant cross-section, in mm.

    ``h`` is the extent along v and ``b`` along u (angle: h = leg A, the longer;
    flat and plate: h = width, tw = thickness = b; round: h = b = diameter).
    ``tw`` is the web, stem, leg or wall thickness, ``tf`` the flange's (top
    flange for a monosymmetric I; ``b2``, ``tf2`` then the bottom flange's).
    ``r1`` is the root radius (RHS: outer corner), ``r2`` the toe radius (RHS:
    inner corner). ``slope`` is the taper of the inner flange faces (0.08 = 8 %).
    ``outline`` holds the measured (u, v) corners where ``shape`` is ``other``.
    """

    shape: str
    designation: str
    h: float
    b: float
    tw: float = 0.0
    tf: float = 0.0
    r1: float = 0.0
    r2: float = 0.0
    b2: float = 0.0
    tf2: float = 0.0
    slope: float = 0.0
    lip: float = 0.0
    area_mm2: float = 0.0
    perimeter_mm: float = 0.0
    mass_kg_per_m: float = 0.0
    standard: str = ""
    """The table the section was found in (``EN 10056-1``); empty: computed from dimensions."""
    outline: tuple[Point2, ...] = ()


@dataclass(frozen=True, slots=True)
class Face:
    """One outside face of a section: a wall that can be punched.

    A point (x, across) of the face lies at section point
    ``origin + across * direction``; the wall's steel reaches ``thickness`` along
    ``inward``. ``low`` and ``high`` bound ``across``.
    """

    name: str
    origin: Point2
    direction: Point2
    inward: Point2
    thickness: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Plane:
    """A cut. The steel on the side ``normal`` points to is gone. Piece frame."""

    point: Vec
    normal: Vec


@dataclass(frozen=True, slots=True)
class Vertex:
    """A corner of a plate's outline and the bulge of the edge that starts there.

    ``bulge`` = tan(included angle / 4), positive where the arc runs anti-clockwise, as in
    DXF; 0 is a straight edge. Outlines run anti-clockwise in (x, across).
    """

    x: float
    across: float
    bulge: float = 0.0


@dataclass(frozen=True, slots=True)
class Notch:
    """Steel missing from a face at its end or edge: a closed loop in (x, across)."""

    face: str
    loop: tuple[Point2, ...]


@dataclass(frozen=True, slots=True)
class DrawnHole:
    """A hole the model draws: an opening, or a void of a profile. Body frame.

    ``depth`` is how far it goes into the wall from the outside of the face
    (>= the wall: through). ``slot_length`` is overall; 0 for a round hole.
    ``width`` is the second side of a rectangle (its first is ``slot_length``; its ``diameter`` is twice the
    radius of its corners).
    """

    face: str
    x: float
    across: float
    diameter: float
    slot_length: float = 0.0
    slot_angle: float = 0.0
    width: float = 0.0
    kind: str = "round"
    depth: float = float("inf")
    source: str = "opening"
    tilt_deg: float = 0.0
    far: bool = False
    """Whether a countersunk or blind hole is open to the inside of its wall, away from who looks at the face."""


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with one entity, found while reading it."""

    code: str
    values: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Body:
    """The steel of one part in its own piece frame, before bolts make holes in it.

    ``left`` and ``right`` are the planes that end it; empty means square. The body
    is what lies between x = 0 and x = ``length`` inside every plane. Bodies drawn
    by one IFC item are one object, so that later stages work once a body.
    """

    section: Section
    length: float
    left: tuple[Plane, ...] = ()
    right: tuple[Plane, ...] = ()
    outline: tuple[Vertex, ...] = ()
    notches: tuple[Notch, ...] = ()
    holes: tuple[DrawnHole, ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A rigid placement: ``origin`` (3,) mm and ``axes`` (3, 3), rows x, u, v (unit, right-handed)."""

    origin: FloatArray
    axes: FloatArray

    def to_model(self, points: npt.ArrayLike) -> FloatArray:
        """Points (..., 3) of the piece frame in model coordinates."""
        return np.asarray(points, dtype=float) @ self.axes + self.origin

    def to_piece(self, points: npt.ArrayLike) -> FloatArray:
        """Model points (..., 3) in the piece frame."""
        return (np.asarray(points, dtype=float) - self.origin) @ self.axes.T

    def direction_to_piece(self, vectors: npt.ArrayLike) -> FloatArray:
        """Model directions (..., 3) in the piece frame."""
        return np.asarray(vectors, dtype=float) @ self.axes.T


@dataclass(frozen=True, slots=True, eq=False)
class Member:
    """One part of the model, steel or not, read or not.

    ``body`` and ``frame`` are None where it could not be read; ``status`` and
    ``reason`` then say what becomes of it. ``section_text`` is what the model calls
    the section, ``mark`` what it calls the part. ``holes`` and ``notches`` come from
    this part's own openings, in the body's frame.
    """

    global_id: str
    ifc_class: str
    name: str = ""
    model: str = ""
    mark: str = ""
    assembly: str = ""
    """GlobalId of the innermost assembly, empty when loose."""
    grade: str = ""
    finish: str = ""
    section_text: str = ""
    body: Body | None = None
    frame: Frame | None = None
    holes: tuple[DrawnHole, ...] = ()
    notches: tuple[Notch, ...] = ()
    status: str = LISTED
    reason: str = ""
    problems: tuple[Problem, ...] = ()

    @property
    def is_made(self) -> bool:
        """Whether it is a piece of the shop: steel with a body, neither left out nor bought out."""
        return self.body is not None and self.frame is not None and self.status in (LISTED, HELD)


class Bolt(NamedTuple):
    """One bolt of a fastener entity, in model coordinates.

    ``point`` is the centre of the bearing face under the head (or, where head and
    nut cannot be told apart, one end of the shank), ``direction`` a unit vector from
    head to nut, ``shank`` the drawn length from ``point``; 0 where nothing was drawn.
    """

    point: Vec
    direction: Vec
    shank: float
    drawn_diameter: float = 0.0


class Fastener(NamedTuple):
    """One fastener entity of the model: one bolt, or a group of them.

    ``diameter`` is nominal, ``length`` as the model states it (None: not stated).
    ``count`` is what the model's count property says (None: no such property).
    ``kind`` is bolt, step bolt, anchor, stud, rod, nut, washer, weld or other.
    ``nuts`` and ``washers`` are of ONE bolt. ``place`` is shop, site or empty.
    ``hole_diameter`` is stated by a property.
    """

    global_id: str
    ifc_class: str
    name: str = ""
    model: str = ""
    kind: str = "bolt"
    diameter: float | None = None
    length: float | None = None
    grade: str = ""
    standard: str = ""
    hole_diameter: float | None = None
    slot_x: float = 0.0
    slot_y: float = 0.0
    nuts: int | None = None
    washers: int | None = None
    place: str = ""
    count: int | None = None  # type: ignore[assignment]  # hides tuple.count, which nobody calls here
    assembly: str = ""
    bolts: tuple[Bolt, ...] = ()
    status: str = LISTED
    reason: str = ""
    problems: tuple[Problem, ...] = ()
    pieces: int | None = None
    """How many it is to buy where ``bolts`` are the legs of bent rods; None: as many as there are bolts."""


@dataclass(frozen=True, slots=True)
class ModelAssembly:
    """An IfcElementAssembly: its mark in the model and the assembly it lies in."""

    global_id: str
    name: str = ""
    mark: str = ""
    parent: str = ""
    model: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """What the reader found in one or more files: every element exactly once."""

    name: str
    schema: str
    checksum: str
    date: str
    """From the file header, ISO 8601, empty when absent."""
    members: tuple[Member, ...] = ()
    fasteners: tuple[Fastener, ...] = ()
    assemblies: tuple[ModelAssembly, ...] = ()
    application: str = ""
    length_unit: str = ""
    projects: tuple[str, ...] = ()
    """GlobalIds of the IfcProjects."""


class Ply(NamedTuple):
    """One thickness of steel that a bolt passes.

    ``member`` indexes Model.members. ``enter`` and ``leave`` are distances along the
    bolt from its ``point``; ``x`` and ``across`` are on the outside of the face, in the
    member's body frame; ``tilt_deg`` is the angle between bolt and face normal.
    """

    member: int
    face: str
    enter: float
    leave: float
    x: float
    across: float
    tilt_deg: float


class Passage(NamedTuple):
    """A bolt's way through the steel, plies in order from the head.

    ``gaps`` holds (index of the ply before the gap, width). ``fastener`` indexes
    Model.fasteners, ``bolt`` the bolt in it. Empty ``plies``: it goes through nothing.
    """

    fastener: int
    bolt: int
    plies: tuple[Ply, ...]
    grip: float
    plies_mm: float
    gaps: tuple[tuple[int, float], ...] = ()


class Joint(NamedTuple):
    """Bolts that join the same parts at one place. ``node`` numbers where members meet."""

    number: int
    members: tuple[int, ...]
    passages: tuple[int, ...]
    node: int
    alike: int = 0
    """Joints of the same make-up (pieces, bolts, grips) share this number."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A hole of a piece, as it is punched. See CONTRACT: holes.csv.

    ``label`` is unique in the piece and lasts as long as the shape (A1, A2, B1 ...: the
    face's letter and a number in running order). ``diameter_source`` says where the
    diameter comes from: ``property``, ``opening``, ``solid`` or ``rule``.
    """

    label: str
    face: str
    x: float
    across: float
    diameter: float
    slot_length: float = 0.0
    slot_angle: float = 0.0
    width: float = 0.0
    gauge_line: int = 0
    bolt: str = ""
    source: str = "bolt"
    kind: str = "round"
    diameter_source: str = "rule"
    hole_class: str = ""
    """Its class for its bolt (``normal``, ``tower``, ``oversize``, ``short slot`` ...; see rules/hole_classes.py)."""
    make: str = ""
    """``punch``, ``punch and ream``, ``drill`` or ``cut``; see rules/punching.py."""
    punch_mm: float = 0.0
    """Diameter punched first where the hole is reamed after; 0: its own."""
    force_kn: float = 0.0
    """Force to punch it (see rules/punching.py); 0 where it is not punched."""
    side: str = ""
    """Where a countersunk or blind hole is open: ``near``, seen on the face as the frame looks at it, or ``far``."""
    depth: float = 0.0
    """How deep a blind hole goes into the wall from that side; 0 for any other."""

    @property
    def head_diameter(self) -> float:
        """Diameter of a countersink at the surface; 0 where it is not drawn, and for any other hole."""
        return self.width if self.kind == "countersunk" else 0.0


@dataclass(frozen=True, slots=True)
class Cut:
    """A row of cuts.csv: an end cut, clip, notch, bevel or outline corner."""

    end: str
    face: str
    kind: str
    x: float
    across: float
    angle: float = 0.0
    size: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class FaceOutline:
    """What a punched face looks like from outside: ``points`` (n, 2) of (x, across), closed implicitly.

    ``far`` is the same on the inside of the wall where a bevel makes it differ.
    """

    face: str
    points: FloatArray
    far: FloatArray | None = None


class GaugeLine(NamedTuple):
    """A gauge line of a face beside the usual gauge: mm from the heel (an I's flange: between its two lines).

    ``deviation`` is the line less the nearest usual gauge, 0 where they agree; ``source`` says whose gauge it is.
    ``hole`` is the line's largest hole where the table's largest one for such a wall (``largest``) is smaller, else 0.
    """

    face: str
    line: int
    mm: float
    usual: float
    deviation: float
    source: str
    hole: float = 0.0
    largest: float = 0.0


class Operation(NamedTuple):
    """What one station does to a piece: ``each`` hits, holes or cuts of one piece; ``why`` where it is not plain.

    ``pieces`` of the mark pass it, 0: all of them.
    """

    station: str
    each: int
    why: str = ""
    pieces: int = 0


class Stamp(NamedTuple):
    """Where the mark is stamped: left edge and middle of the text, on the outside of a face. mm.

    ``far``: on the far broad side of a flat or plate, at the same x and across.
    """

    face: str
    x: float
    across: float
    length: float
    height: float
    far: bool = False


class HeelGrind(NamedTuple):
    """A heel ground so that the angle lies in another's root: from x to x, to a ``radius`` or a 45 degree ``chamfer``.

    mm. ``members`` of the mark need it: all of them, or those that lie inside another angle.
    """

    x_from: float
    x_to: float
    radius: float
    chamfer: float
    members: int


class FlangeBend(NamedTuple):
    """A leg opened (positive) or closed by ``degrees``, from x to x; ``members`` of the mark need it."""

    face: str
    x_from: float
    x_to: float
    degrees: float
    members: int


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One piece mark: a shape, and every member of the model that has it.

    ``members`` index Model.members; ``frames`` are their piece frames, in the same
    order, turned the way the mark is drawn. ``gross``, ``net`` kg and ``surface`` m2 are
    of one piece. ``queries`` index Takeoff.queries.
    """

    mark: str
    section: Section
    grade: str
    finish: str
    length: float
    holes: tuple[Hole, ...]
    cuts: tuple[Cut, ...]
    faces: tuple[Face, ...]
    outlines: tuple[FaceOutline, ...]
    outline: tuple[Vertex, ...] = ()
    members: tuple[int, ...] = ()
    frames: tuple[Frame, ...] = ()
    gross: float = 0.0
    net: float = 0.0
    surface: float = 0.0
    opposite_hand_of: str = ""
    model_marks: tuple[str, ...] = ()
    model_sections: tuple[str, ...] = ()
    """What the model calls the section, as written there; for reading only, never for identity."""
    status: str = LISTED
    reasons: tuple[str, ...] = ()
    """Why it is held, a sentence each; empty when it is not."""
    spread: float = 0.0
    """Largest distance in mm between a hole of a member and the mark's, after turning."""
    gauges: tuple[GaugeLine, ...] = ()
    """Its gauge lines beside the usual gauges, where there are any."""
    routing: tuple[Operation, ...] = ()
    """The stations it passes, in order."""
    off_line: tuple[str, ...] = ()
    """Why the punching and shearing line does not take it, or not all of it; empty: it fits."""
    stamp: Stamp | None = None
    zinc: float = 0.0
    """kg of zinc on one piece when it is galvanised; 0 where the settings give it none."""
    heel_grinds: tuple[HeelGrind, ...] = ()
    flange_bends: tuple[FlangeBend, ...] = ()
    remarks: tuple[str, ...] = ()
    """What the checks by the trade's rules found on it, a phrase a place: the hole, found, asked."""
    nut_clearance: float | None = None
    """Least gap in mm between nuts, heads and bolt ends of one leg and those of the other; None: none are near."""

    @property
    def quantity(self) -> int:
        return len(self.members)


@dataclass(frozen=True, slots=True)
class BoltLine:
    """A row of the order list: see CONTRACT, bolts.csv. ``weight`` kg of the whole quantity needed."""

    diameter: float | None
    length: float | None
    grade: str
    standard: str
    quantity: int
    spare: int
    to_order: int
    nuts: int | None
    washers: int | None
    weight: float | None
    shop: int = 0
    site: int = 0
    """How many of ``quantity`` the model puts in the shop and on site; the rest is not said."""
    length_source: str = "model"
    """``model``, or ``rule`` where the length follows from the grip."""
    springs: int = 0
    tapers: int = 0
    """Spring and taper washers of the quantity needed."""
    spare_nuts: int = 0
    spare_washers: int = 0
    spare_springs: int = 0
    spare_tapers: int = 0
    """What goes with the spare bolts: each takes as many as any bolt of the line."""


@dataclass(frozen=True, slots=True)
class Assembly:
    """An assembly mark. Weights in kg and surface in m2 are of ONE assembly.

    ``pieces`` holds (piece mark, how many in one assembly). Members in no assembly of
    the model stand under the mark ``loose``: an Assembly with quantity 1.
    """

    mark: str
    quantity: int
    pieces: tuple[tuple[str, int], ...]
    bolts: int
    gross: float
    net: float
    bolt_weight: float
    surface: float
    instances: tuple[str, ...] = ()
    """GlobalIds of the model's assemblies that share the mark."""
    zinc: float = 0.0
    """kg of zinc on its pieces, bolts not counted; 0 where the settings give them none."""


@dataclass(frozen=True, slots=True)
class BoughtOut:
    """Hardware that is not cut: a row of bought_out.csv."""

    name: str
    size: str
    quantity: int
    global_ids: tuple[str, ...]


class BoltRow(NamedTuple):
    """Bolts alike of one fastener entity: a row of fasteners.csv."""

    fastener: int
    bolts: int
    length: float | None
    grip: float | None
    plies: float | None
    members: tuple[int, ...]
    joint: int | None
    assembly_mark: str
    status: str
    reason: str = ""
    rule_length: float | None = None
    """The length that the rule of its standard asks for the grip; None where no rule gives one."""
    length_source: str = ""
    """``model`` or ``rule``; empty where there is no length."""
    bolt_set: BoltSet | None = None
    """What each of them is ordered with; None for what is no bolt."""


class BoltSet(NamedTuple):
    """What one bolt is ordered with. ``length`` mm by the ``source`` (``model``, ``rule``, empty: not known).

    ``standard`` is the model's, or the rule's where the length is. ``rule_length`` is what the rule asks, ``why`` how
    it follows or why there is none.
    """

    nuts: int
    washers: int
    springs: int
    tapers: int
    length: float | None
    source: str
    standard: str
    rule_length: float | None
    why: str


class StationRow(NamedTuple):
    """A row of routing.csv: a piece mark at a station.

    ``each`` hits, holes or cuts of one piece; ``weight`` kg of the whole quantity that passes the station.
    """

    station: str
    mark: str
    quantity: int
    each: int
    weight: float
    why: str


class SolidCheck(NamedTuple):
    """A mark's net weight by its section and holes against the model's own solid of one of its parts. kg.

    ``solid`` is None where nothing was measured, ``why`` then ends a sentence about the part. ``drawn`` says how the
    solid draws the section: ``as listed``, ``sharp`` (without radii), ``polygon of n sides``, ``differs``.
    """

    mark: str
    global_id: str
    listed: float
    solid: float | None
    drawn: str
    why: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Takeoff:
    """Everything the lists, sheets and files are written from; computed once.

    ``member_marks``, ``member_assemblies``, ``member_status`` and ``member_reasons`` run
    parallel to ``model.members``. ``balance`` holds the counts that must add up.
    """

    model: Model
    pieces: tuple[Piece, ...]
    assemblies: tuple[Assembly, ...]
    joints: tuple[Joint, ...]
    passages: tuple[Passage, ...]
    bolt_rows: tuple[BoltRow, ...]
    bolt_lines: tuple[BoltLine, ...]
    bought_out: tuple[BoughtOut, ...]
    member_marks: tuple[str, ...]
    member_assemblies: tuple[str, ...]
    member_status: tuple[str, ...]
    member_reasons: tuple[str, ...]
    queries: tuple[Query, ...] = ()
    balance: Mapping[str, float] = field(default_factory=dict)
    rules: tuple[str, ...] = ()
    """The rules and settings used, a phrase each, for the foot of every page."""
    stations: tuple[StationRow, ...] = ()
    """The routing, station by station in shop order."""
    length_example: str = ""
    """One bolt length worked out step by step, for print under the order list."""
    solids: tuple[SolidCheck, ...] = ()
    """The marks' weights against the model's own solids; empty where that was not asked for."""
    release: Release | None = None
    """What the mark register says of this run; None without a register."""
