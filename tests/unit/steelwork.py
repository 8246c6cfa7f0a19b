"""Parts and bolts as values, and random ones, for tests of the stages between the reader and the lists.

Steel is built where the numbers are easy: a part in ``FRAME`` has its piece frame on the model's axes.
"""

from dataclasses import replace

import numpy as np
from hypothesis import strategies as st

from takeoff.sections import shapes
from takeoff.sections.shapes import faces
from takeoff.steel import Body, Bolt, DrawnHole, Fastener, Frame, Member, Model, Plane, Vertex

FRAME = Frame(np.zeros(3), np.eye(3))

L100 = shapes.angle(100, 100, 8)
L80X60 = shapes.angle(80, 60, 6)
U160 = shapes.channel(160, 65, 7.5, 10.5)
IPE200 = shapes.i_section(200, 100, 5.6, 8.5)
MONO = shapes.i_section(200, 120, 6, 10, b2=80, tf2=8)
T100 = shapes.tee(100, 100, 8, 10)
FL100 = shapes.flat(100, 10)
RHS120 = shapes.rhs(120, 80, 5)
SHS100 = shapes.rhs(100, 100, 5)
CHS114 = shapes.chs(114.3, 5)
RND30 = shapes.round_bar(30)
C200 = shapes.lipped_channel(200, 70, 2, 20, 3)
Z200 = shapes.zed(200, 70, 2, 20, 3)
PL10 = shapes.plate(200, 10)

PRISMS = {
    "equal angle": L100,
    "unequal angle": L80X60,
    "channel": U160,
    "I": IPE200,
    "monosymmetric I": MONO,
    "T": T100,
    "flat": FL100,
    "RHS": RHS120,
    "SHS": SHS100,
    "cold-formed C": C200,
    "Z": Z200,
}
ROUNDS = {"CHS": CHS114, "round": RND30}

_counter = iter(range(10**9))


def global_id():
    """A GlobalId of its own, 22 characters."""
    return f"{next(_counter):022d}"


def frame(origin=(0.0, 0.0, 0.0), x=(1.0, 0.0, 0.0), u=(0.0, 1.0, 0.0)):
    """A piece frame from its origin and two directions; v = x cross u."""
    x, u = np.array(x, dtype=float), np.array(u, dtype=float)
    return Frame(np.array(origin, dtype=float), np.array([x, u, np.cross(x, u)]))


def member(section, length, *, at=FRAME, outline=(), left=(), right=(), notches=(), body_holes=(), **more):
    """A part of ``section`` with its body; ``more`` are fields of Member."""
    body = Body(section, float(length), tuple(left), tuple(right), tuple(outline), tuple(notches), tuple(body_holes))
    more.setdefault("global_id", global_id())
    return Member(ifc_class="IfcMember", body=body, frame=at, **more)


def plate(corners, t=10.0, *, at=FRAME, **more):
    """A plate from its corners (x, across) or (x, across, bulge), anti-clockwise, lowest x and across 0."""
    outline = tuple(Vertex(*map(float, c)) for c in corners)
    section = shapes.plate(max(v.across for v in outline), t)
    return member(section, max(v.x for v in outline), at=at, outline=outline, **more)


def rectangle(length, width):
    return ((0, 0), (length, 0), (length, width), (0, width))


def fastener(*bolts, diameter=16.0, **more):
    """A fastener entity of these bolts."""
    more.setdefault("global_id", global_id())
    return Fastener(ifc_class="IfcMechanicalFastener", diameter=diameter, bolts=tuple(bolts), **more)


def changed(value, **fields):
    """A copy of a value with other fields, whichever kind of value it is."""
    return value._replace(**fields) if hasattr(value, "_replace") else replace(value, **fields)


def bolt(point, direction=(0.0, 1.0, 0.0), shank=40.0):
    return Bolt(tuple(map(float, point)), tuple(map(float, direction)), float(shank))


def bolt_in(part, face_name, x, across, *, head=0.0, shank=40.0):
    """A bolt square through a flat face of a part, head ``head`` mm outside of it."""
    face = next(f for f in faces(part.body.section) if f.name == face_name)
    inward = np.array([0.0, *face.inward])
    on_face = np.array([x, face.origin[0] + across * face.direction[0], face.origin[1] + across * face.direction[1]])
    point = part.frame.to_model(on_face - head * inward)
    return bolt(point.tolist(), (inward @ part.frame.axes).tolist(), shank)


def model(members, fasteners=(), assemblies=()):
    return Model("job", "IFC4", "0" * 64, "2031-04-30", tuple(members), tuple(fasteners), tuple(assemblies))


def skew(x, angle_deg, *, end, toward=(0.0, 1.0)):
    """A plane through (x, 0, 0) that leans by an angle: it takes more steel on the side of ``toward`` (u, v)."""
    a = np.radians(angle_deg)
    normal = np.array([-np.cos(a) if end == "left" else np.cos(a), np.sin(a) * toward[0], np.sin(a) * toward[1]])
    return Plane((float(x), 0.0, 0.0), tuple(normal.tolist()))


# ---------------------------------------------------------------- motions


def rotation(vector):
    """The rotation matrix about a vector by its length in radians (Rodrigues' formula)."""
    vector = np.array(vector, dtype=float)
    angle = np.linalg.norm(vector)
    if angle < 1e-12:
        return np.eye(3)
    k = vector / angle
    cross = np.array([[0, -k[2], k[1]], [k[2], 0, -k[0]], [-k[1], k[0], 0]])
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


def moved(part, turn, shift):
    """A part or fastener after the rigid motion p -> turn @ p + shift of the model."""
    shift = np.array(shift, dtype=float)
    if isinstance(part, Member):
        return replace(part, frame=Frame(turn @ part.frame.origin + shift, part.frame.axes @ turn.T))
    bolts = tuple(
        Bolt(tuple((turn @ b.point + shift).tolist()), tuple((turn @ b.direction).tolist()), b.shank, b.drawn_diameter)
        for b in part.bolts
    )
    return changed(part, bolts=bolts)


def mirrored(part):
    """A member or fastener mirrored at the model's plane y = 0.

    A prism's mirror image is drawn by the same section with its ends exchanged: x' = length - x, and a frame whose
    x runs the other way.
    """
    flip = np.diag([1.0, -1.0, 1.0])
    if isinstance(part, Member):
        body, length = part.body, part.body.length
        axes = part.frame.axes @ flip
        origin = flip @ part.frame.origin + length * axes[0]
        axes = axes * np.array([[-1.0], [1.0], [1.0]])
        return replace(
            part,
            frame=Frame(origin, axes),
            body=mirror_body(body),
            holes=tuple(_mirror_hole(h, length) for h in part.holes),
            notches=tuple(_mirror_notch(n, length) for n in part.notches),
        )
    bolts = tuple(
        Bolt(tuple((flip @ b.point).tolist()), tuple((flip @ b.direction).tolist()), b.shank, b.drawn_diameter)
        for b in part.bolts
    )
    return changed(part, bolts=bolts)


def mirror_body(body):
    """The body of the opposite hand: mirrored across the middle of its length."""
    length = body.length

    def plane(p):
        return Plane((length - p.point[0], *p.point[1:]), (-p.normal[0], *p.normal[1:]))

    outline = [Vertex(length - v.x, v.across, v.bulge) for v in body.outline]
    if outline:
        # Run backwards: the edge that starts at a corner is the one that ended there.
        bulges = [outline[k - 1].bulge for k in range(len(outline))]
        outline = [replace(v, bulge=b) for v, b in zip(outline, bulges, strict=True)][::-1]
    return replace(
        body,
        left=tuple(plane(p) for p in body.right),
        right=tuple(plane(p) for p in body.left),
        outline=tuple(outline),
        notches=tuple(_mirror_notch(n, length) for n in body.notches),
        holes=tuple(_mirror_hole(h, length) for h in body.holes),
    )


def _mirror_hole(hole, length):
    return replace(hole, x=length - hole.x, slot_angle=(180.0 - hole.slot_angle) % 180.0)


def _mirror_notch(notch, length):
    return replace(notch, loop=tuple((length - x, a) for x, a in reversed(notch.loop)))


# ---------------------------------------------------------------- random pieces


def hole(face, x, across, diameter=18.0, **more):
    return DrawnHole(face, float(x), float(across), float(diameter), **more)


vectors = st.tuples(*(st.floats(-3.0, 3.0, allow_nan=False) for _ in range(3)))
places = st.tuples(*(st.floats(-50_000.0, 50_000.0, allow_nan=False) for _ in range(3)))


@st.composite
def holes_of(draw, section, length, smallest=1, kinds=("round", "slot", "rectangle")):
    """Holes on the faces of a section, none near another: each in a field of its own along the piece."""
    number = draw(st.integers(smallest, 5))
    field = length / (number + 1)
    found = []
    for k in range(number):
        face = draw(st.sampled_from(faces(section)))
        x = round(field * (k + 1) + draw(st.floats(-0.3, 0.3)) * field, 1)
        across = round(face.low + (face.high - face.low) * draw(st.floats(0.3, 0.7)), 1)
        diameter = draw(st.sampled_from((14.0, 18.0, 22.0)))
        kind = draw(st.sampled_from(kinds))
        angle = draw(st.sampled_from((0.0, 30.0, 45.0, 90.0, 150.0)))
        if kind == "slot":
            found.append(hole(face.name, x, across, diameter, slot_length=diameter + 12, slot_angle=angle, kind="slot"))
        elif kind == "rectangle":
            found.append(hole(face.name, x, across, 0.0, slot_length=30.0, width=16.0, slot_angle=angle, kind=kind))
        elif kind == "countersunk":
            found.append(hole(face.name, x, across, diameter, kind="countersunk"))
        else:
            found.append(hole(face.name, x, across, diameter))
    return tuple(found)
