"""The printed lists, on a takeoff put together from the nouns alone."""

from __future__ import annotations

import numpy as np

from takeoff import steel
from takeoff.queries import Query
from takeoff.settings import Settings
from takeoff.steel import (
    Assembly,
    Bolt,
    BoltLine,
    BoltRow,
    BoughtOut,
    Cut,
    Face,
    FaceOutline,
    Fastener,
    Hole,
    Joint,
    Member,
    Model,
    Passage,
    Piece,
    Ply,
    Section,
    Takeoff,
    Vertex,
)

L100 = Section("angle", "L100×75×8", 100, 75, 8, r1=10, r2=5, mass_kg_per_m=10.6, standard="EN 10056-1")
L90 = Section("angle", "L90×90×8", 90, 90, 8, mass_kg_per_m=10.9, standard="EN 10056-1")
U160 = Section("channel", "UPN 160", 160, 65, 7.5, 10.5, slope=0.08, mass_kg_per_m=18.8, standard="EN 10365")
IPE200 = Section("I", "IPE 200", 200, 100, 5.6, 8.5, mass_kg_per_m=22.4, standard="EN 10365")
FL60 = Section("flat", "FL60×8", 60, 8, 8, mass_kg_per_m=3.77)
PL12 = Section("plate", "PL12", 340, 12, 12)
SHS80 = Section("RHS", "SHS 80×5", 80, 80, 5, mass_kg_per_m=11.5)


def angle_faces(section: Section) -> tuple[Face, ...]:
    return (
        Face("A", (0, 0), (0, 1), (1, 0), section.tw, 0, section.h),
        Face("B", (0, 0), (1, 0), (0, 1), section.tw, 0, section.b),
    )


def channel_faces(s: Section) -> tuple[Face, ...]:
    return (
        Face("web", (0, 0), (0, 1), (1, 0), s.tw, 0, s.h),
        Face("top", (0, s.h), (1, 0), (0, -1), s.tf, 0, s.b),
        Face("bottom", (0, 0), (1, 0), (0, 1), s.tf, 0, s.b),
    )


def i_faces(s: Section) -> tuple[Face, ...]:
    return (
        Face("web", (-s.tw / 2, 0), (0, 1), (1, 0), s.tw, 0, s.h),
        Face("top", (0, s.h), (-1, 0), (0, -1), s.tf, -s.b / 2, s.b / 2),
        Face("bottom", (0, 0), (-1, 0), (0, 1), s.tf, -s.b / 2, s.b / 2),
    )


def flat_faces(s: Section) -> tuple[Face, ...]:
    return (Face("face", (0, 0), (0, 1), (1, 0), s.tw, 0, s.h),)


def square(face: Face, length: float) -> FaceOutline:
    return FaceOutline(
        face.name, np.array([(0, face.low), (length, face.low), (length, face.high), (0, face.high)], dtype=float)
    )


def piece(mark: str, section: Section, length: float, holes=(), faces=None, outlines=None, **more) -> Piece:
    made = {"angle": angle_faces, "channel": channel_faces, "I": i_faces, "flat": flat_faces, "plate": flat_faces}
    faces = faces if faces is not None else made[section.shape](section)
    outlines = outlines if outlines is not None else tuple(square(face, length) for face in faces)
    values = {
        "grade": "S355J2",
        "finish": "hot dip galvanised",
        "gross": section.mass_kg_per_m * length / 1000,
        "net": section.mass_kg_per_m * length / 1000 - 0.02 * len(holes),
        "surface": 0.35 * length / 1000,
        "cuts": (),
    }
    return Piece(mark, section, length=length, holes=tuple(holes), faces=faces, outlines=outlines, **(values | more))


def holes(face: str, places, diameter=18.0, bolt="M16", lines=None, start=1, **more) -> list[Hole]:
    gauges = sorted({across for _, across in places})
    return [
        Hole(f"{face[0].upper()}{i}", face, x, y, diameter, gauge_line=gauges.index(y) + 1, bolt=bolt, **more)
        for i, (x, y) in enumerate(sorted(places), start=start)
    ]


def pieces() -> list[Piece]:
    leg = [(30 + 50 * i, 45) for i in range(4)] + [(5970 - 50 * i, 45) for i in range(4)] + [(3000, 45), (3050, 65)]
    skew = (
        FaceOutline("A", np.array([(0, 0), (6000, 0), (5958.5, 100), (46.6, 100)], dtype=float)),
        FaceOutline("B", np.array([(0, 0), (6000, 0), (6000, 75), (0, 75)], dtype=float)),
    )
    cuts = (
        Cut("left", "A", "skew", 0, 0, 25.0, 46.6),
        Cut("right", "A", "skew", 6000, 0, 22.5, 41.5),
    )
    other = holes("B", [(60, 40), (110, 40), (5890, 40.3), (5940.5, 40)], 22, "M20")
    legs = holes("A", leg) + other
    short = holes("A", [(30, 50), (80, 50), (1170, 50), (1220, 50)]) + holes("B", [(600, 50)], 14, "M12")
    web = holes("web", [(40, 50), (40, 110), (1460, 50), (1460, 110)], 22, "M20")
    flange = holes("top", [(200 + 150 * i, 35) for i in range(8)], 18, "M16") + holes("bottom", [(750, 35)], 14, "M12")
    beam = holes("web", [(50 + 60 * i, y) for i in range(2) for y in (50, 100, 150)], 22, "M20") + holes(
        "top", [(300, -28), (300, 28), (2700, -28), (2700, 28)]
    )
    flat = holes("face", [(30, 30), (1105, 30), (2180, 30)])
    plate_holes = holes("face", [(40 + 60 * i, 40 + 55 * j) for i in range(5) for j in range(4)], 18, "M16")
    slots = [
        Hole("F21", "face", 420, 100, 18, 40, 30, gauge_line=0, bolt="M16", source="opening", kind="slot"),
        Hole("F22", "face", 420, 220, 0, 60, 90, 30, source="opening", kind="rectangle"),
    ]
    outline = (
        Vertex(0, 0), Vertex(480, 0), Vertex(520, 40, 0.0), Vertex(520, 290, 0.4142), Vertex(470, 340), Vertex(120, 340),
        Vertex(0, 260),
    )  # fmt: skip
    crowded = [(20 + 23.5 * i, 30 + 25 * (i % 3)) for i in range(250)]
    return [
        piece("A1", L100, 6000, legs, outlines=skew, cuts=cuts, opposite_hand_of="A2", members=tuple(range(8))),
        piece("A2", L100, 6000, legs, outlines=skew, cuts=cuts, opposite_hand_of="A1", members=tuple(range(8, 16))),
        piece("A3", L90, 1250, short, members=(16, 17), model_marks=("ŁĄCZNIK-7", "Ω-4")),
        piece("A4", L90, 6000, holes("A", crowded), members=(18,)),
        piece("C1", U160, 1500, web + flange, members=(19, 20)),
        piece("B1", IPE200, 3000, beam, members=(21,)),
        piece("F1", FL60, 2210, flat, members=(22, 23, 24)),
        piece("P1", PL12, 520, plate_holes + slots, outline=outline, members=(25, 26), gross=16.6, net=14.2,
              cuts=tuple(Cut("edge", "face", "outline", v.x, v.across) for v in outline)),
        piece("A5", L90, 820, short[:2], members=(27,), status=steel.HELD,
              reasons=("Hole A2 runs 3 mm off the edge of leg A.",)),
        piece("X1", PL12, 300, (), faces=(), outlines=(), members=(28,), status=steel.HELD,
              reasons=("Its body is curved and cannot be unfolded.",)),
    ]  # fmt: skip


def example() -> Takeoff:
    made = pieces()
    marks = [p.mark for p in made for _ in p.members]
    members = tuple(Member(f"{i:022d}", "IfcMember", f"član {i}") for i in range(len(marks)))
    fasteners = tuple(
        Fastener(f"F{i:021d}", "IfcMechanicalFastener", diameter=16.0, length=45.0, grade="8.8",
                 bolts=(Bolt((0, 0, 0), (0, 0, 1), 45),))
        for i in range(12)
    )  # fmt: skip
    plies = (Ply(0, "A", 0, 8, 30, 45, 0), Ply(16, "A", 8, 16, 30, 50, 0))
    passages = tuple(Passage(i, 0, plies, 16.0, 16.0) for i in range(12))
    joints = tuple(Joint(n, (0, 16), tuple(range(2 * n - 2, 2 * n)), n, 1 if n < 6 else 0) for n in range(1, 7))
    rows = tuple(
        BoltRow(i, 1, 45.0, 16.0, 16.0, (0, 16), i // 2 + 1, "M1" if i < 8 else "", "listed") for i in range(11)
    ) + (BoltRow(11, 1, None, None, None, (0,), None, "", "held", "it passes through one part only"),)
    queries = (
        Query("hole-off-edge", "hold", "Hole A2 of A5 runs 3 mm off the edge of leg A.",
              "Ask the designer for the gauge.", "A5", ("0" * 22,), "hole-off-edge"),
        Query("shape-curved", "hold", "The body of X1 is curved.", "Send a drawing of it.", "X1", ("1" * 22,)),
        Query("gap-in-grip", "check", "A gap of 3 mm stands between A1 and A3.", "Add a packer.", "A1",
              tuple(f"{i:022d}" for i in range(30)), "gap-in-grip"),
        Query("clearance-assumed", "assumed", "Clearance 2 mm for M16 from the table.", "Confirm.", "", (),
              "clearance-assumed"),
    )  # fmt: skip
    return Takeoff(
        model=Model("maszt-święty-Ωμέγα.ifc", "IFC4", "9f86d081884c7d659a2feaa0c55ad015", "2026-03-01T10:00:00",
                    members, fasteners, application="a text editor", length_unit="mm"),
        pieces=tuple(made),
        assemblies=(
            Assembly("M1", 4, (("A1", 2), ("A2", 2), ("A3", 1)), 8, 270.0, 268.5, 1.2, 9.5),
            Assembly("loose", 1, (("A4", 1), ("P1", 2), ("A5", 1)), 0, 110.0, 104.0, 0.0, 3.1),
        ),
        joints=joints,
        passages=passages,
        bolt_rows=rows,
        bolt_lines=(
            BoltLine(16.0, 45.0, "8.8", "ISO 4014", 11, 2, 13, 11, 22, 1.54),
            BoltLine(20.0, None, "8.8", "", 4, 2, 6, None, None, None),
        ),
        bought_out=(BoughtOut("anchor", "M24 × 600", 8, ()),),
        member_marks=tuple(marks),
        member_assemblies=tuple("M1" for _ in marks),
        member_status=tuple("listed" for _ in marks),
        member_reasons=tuple("" for _ in marks),
        queries=queries,
        balance={
            "parts_in_model": 33, "parts_listed": 27, "parts_held": 2, "parts_bought_out": 1, "parts_left_out": 3,
            "fasteners_in_model": 12, "bolts_in_model": 12, "bolts_listed": 11, "bolts_held": 1, "bolts_left_out": 0,
            "bolt_holes": 24, "plies_over_bolts": 24, "openings_in_model": 2, "gross_weight_kg": 1190.4,
            "net_weight_kg": 1184.25, "net_weight_from_members_kg": 1184.25,
        },
        rules=("hole clearance EN 1090-2 Table 11", "masses per metre EN 10056-1, EN 10365, else computed",
               "same piece within 0.5 mm", "bolt length: grip + nut + washer + two threads"),
    )  # fmt: skip


SETTINGS = Settings()
