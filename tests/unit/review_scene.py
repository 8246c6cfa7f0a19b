"""Takeoffs for the tests of the review page, put together from the nouns: a square mast of any height."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from takeoff import steel
from takeoff.queries import ASSUMED, CHECK, HOLD, Query
from takeoff.sections import shapes
from takeoff.steel import (
    Assembly,
    Bolt,
    BoltRow,
    FaceOutline,
    Fastener,
    Frame,
    Hole,
    Member,
    Model,
    Passage,
    Piece,
    Ply,
    Section,
    Takeoff,
)

NASTY = "</script><img src=x onerror=alert(1)><!-- {{data}} & 'quoted' \"twice\""


def piece(
    mark: str,
    section: Section,
    length: float,
    holes: tuple[Hole, ...] = (),
    ends: tuple[float, float] = (0.0, 0.0),
    outline: np.ndarray | None = None,
    **more: object,
) -> Piece:
    """A piece whose faces are full rectangles; ``ends`` slant leg A's ends by so much from heel to toe."""
    faces = shapes.faces(section)
    outlines = []
    for number, face in enumerate(faces):
        slant = ends if number == 0 else (0.0, 0.0)
        points = [(0.0, face.low), (length, face.low), (length - slant[1], face.high), (slant[0], face.high)]
        outlines.append(FaceOutline(face.name, np.array(points) if outline is None else outline))
    mass = section.mass_kg_per_m * length / 1000.0
    values: dict[str, object] = {
        "mark": mark,
        "section": section,
        "grade": "S355J2",
        "finish": "",
        "length": length,
        "holes": holes,
        "cuts": (),
        "faces": faces,
        "outlines": tuple(outlines),
        "gross": mass,
        "net": mass * 0.98,
        "surface": section.perimeter_mm * length * 1e-6,
    }
    return Piece(**(values | more))  # type: ignore[arg-type]


def along(start: np.ndarray, end: np.ndarray, up: np.ndarray) -> Frame:
    """A frame at ``start`` whose x runs to ``end`` and whose v is nearest to ``up``."""
    x = (end - start) / np.linalg.norm(end - start)
    v = up - x * (up @ x)
    v /= np.linalg.norm(v)
    return Frame(start, np.array([x, np.cross(v, x), v]))


def row(count: int, face: str, first: float, pitch: float, across: float, diameter: float = 17.5) -> list[Hole]:
    return [
        Hole(f"{face[:1].upper()}{k + 1}", face, first + k * pitch, across, diameter, gauge_line=1, bolt="M16")
        for k in range(count)
    ]


def mast(bays: int = 6, offset: tuple[float, float, float] = (500_000.0, 5_800_000.0, 120.0)) -> Takeoff:
    """A square mast: 4 legs, 8 diagonals, 4 horizontals and 8 gussets a bay, and bolts at the gussets.

    One diagonal mark is held; one member in a bay has no body; a concrete base is left out.
    """
    wide, tall = 2400.0, 2800.0
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * wide / 2
    at = np.array(offset)
    leg, brace, tie = (
        shapes.angle(120, 120, 10, 13, 6.5),
        shapes.angle(70, 70, 7, 9, 4.5),
        shapes.angle(90, 60, 8, 8, 4),
    )
    sheet = shapes.plate(260, 10)
    bare = np.hypot(wide, tall)
    gusset = np.array([(0, 0), (340, 0), (340, 160), (240, 260), (0, 260)], dtype=float)
    slot = Hole("F9", "face", 170, 200, 18, 40, 30, kind="slot", source="opening", bolt="M16")
    members: list[Member] = []
    fasteners: list[Fastener] = []
    passages: list[Passage] = []
    where: dict[str, list[tuple[int, Frame]]] = {mark: [] for mark in ("L1", "D1", "D2", "H1", "G1")}

    def add(mark: str, name: str, frame: Frame, assembly: str) -> None:
        where[mark].append((len(members), frame))
        members.append(Member(f"0{mark}{len(members):019d}", "IfcMember", name, assembly=assembly, status=steel.LISTED))

    for bay in range(bays):
        base, top = (at + np.array([0, 0, level * tall]) for level in (bay, bay + 1))
        for side in range(4):
            here = np.append(corners[side], 0.0)
            there = np.append(corners[(side + 1) % 4], 0.0)
            run = (there - here) / wide
            inward = np.cross([0.0, 0.0, 1.0], run)
            add("L1", "Leg", along(base + here, top + here, run), "M1")
            add(
                "D1",
                "Diagonal",
                along(base + here + inward * 12, top + there + inward * 12, np.array([0, 0, 1.0])),
                "M1",
            )
            add(
                "D2",
                "Diagonal",
                along(base + there + inward * 30, top + here + inward * 30, np.array([0, 0, 1.0])),
                "M1",
            )
            add("H1", "Horizontal", along(top + here, top + there, np.array([0, 0, 1.0])), "M1")
            for end, way in ((here, run), (there, -run)):
                frame = along(
                    base + end + way * 30 + inward * 2 * (way is run), base + end + way * 400, np.array([0, 0, 1.0])
                )
                add("G1", "Gusset", frame, "")
                number = where["G1"][-1][0]
                bolts = tuple(
                    Bolt(tuple(frame.to_model([60 + 80 * i, -12, 60 + 70 * j])), tuple(frame.axes[1]), 45.0)
                    for i in range(2)
                    for j in range(2)
                )
                fastener = len(fasteners)
                fasteners.append(
                    Fastener(
                        f"1B{fastener:020d}",
                        "IfcMechanicalFastener",
                        "Bolt M16x45",
                        diameter=16.0,
                        length=45.0,
                        grade="8.8",
                        bolts=bolts,
                    )
                )
                passages += [
                    Passage(
                        fastener,
                        b,
                        (Ply(number, "face", 0, 12, 60, 60, 0), Ply(number, "face", 12, 22, 60, 60, 0)),
                        22,
                        22,
                    )
                    for b in range(len(bolts))
                ]
    statuses = [member.status for member in members]
    unread = len(members)
    members.append(Member("2NotRead00000000000001", "IfcBeam", "Curved " + NASTY, status=steel.HELD, reason="curved"))
    members.append(
        Member("2Concrete0000000000001", "IfcFooting", "Base", status=steel.LEFT_OUT, reason="not steel: concrete")
    )
    members.append(
        Member(
            "2Ladder00000000000001x",
            "IfcMember",
            "Rung",
            status=steel.BOUGHT_OUT,
            reason="bought out",
            body=steel.Body(shapes.round_bar(20), 400.0),
            frame=along(at, at + np.array([400.0, 0, 0]), np.array([0, 0, 1.0])),
        )
    )
    statuses += [member.status for member in members[unread:]]
    ends = [*row(3, "A", 40, 60, 55), *row(3, "A", wide - 160, 60, 55)]
    shape = {
        "L1": piece("L1", leg, tall, tuple(row(6, "A", 40, 60, 65) + row(6, "B", 70, 60, 65))),
        "D1": piece(
            "D1",
            brace,
            bare,
            tuple(row(2, "A", 35, 50, 38) + row(2, "A", bare - 85, 50, 38)),
            (40.0, 25.0),
            opposite_hand_of="D2",
        ),
        "D2": piece(
            "D2",
            brace,
            bare,
            tuple(row(2, "B", 35, 50, 38)),
            opposite_hand_of="D1",
            status=steel.HELD,
            reasons=("Hole D2 B1 lies in the heel.",),
        ),
        "H1": piece("H1", tie, wide, tuple(ends)),
        "G1": piece("G1", sheet, 340, (*row(2, "face", 60, 80, 60), slot), outline=gusset),
    }
    pieces = []
    marks = [""] * len(members)
    for mark, one in shape.items():
        numbers = tuple(number for number, _ in where[mark])
        frames = tuple(frame for _, frame in where[mark])
        pieces.append(replace(one, members=numbers, frames=frames, model_marks=(f"old-{mark}",)))
        for number in numbers:
            marks[number] = mark
            statuses[number] = one.status
    queries = (
        Query(
            "hole-in-heel", HOLD, "Hole B1 lies in the heel.", "Ask where the hole goes.", "D2", (members[2].global_id,)
        ),
        Query("part-curved", HOLD, f"{NASTY} is curved.", "Ask for a straight one.", "", ("2NotRead00000000000001",)),
        Query(
            "bolt-short",
            CHECK,
            "The bolt is shorter than its grip.",
            "Check the length.",
            "",
            (fasteners[0].global_id,),
        ),
        Query(
            "bolt-short",
            CHECK,
            "Another bolt is shorter than its grip.",
            "Check the length.",
            "",
            (fasteners[1].global_id,),
        ),
        Query("hole-clearance", ASSUMED, "Holes are 1.5 mm larger than their bolts.", "Say so if not.", "", ()),
    )
    return Takeoff(
        model=Model("mast.ifc", "IFC4", "a1b2c3d4e5f6", "2026-01-05T08:00:00", tuple(members), tuple(fasteners)),
        pieces=tuple(pieces),
        assemblies=(Assembly("M1", 1, tuple((m, len(where[m])) for m in ("L1", "D1", "D2", "H1")), 0, 0, 0, 0, 0),),
        joints=(),
        passages=tuple(passages),
        bolt_rows=tuple(
            BoltRow(k, len(f.bolts), f.length, 22.0, 22.0, (), None, "M1", steel.LISTED)
            for k, f in enumerate(fasteners)
        ),
        bolt_lines=(),
        bought_out=(),
        member_marks=tuple(marks),
        member_assemblies=tuple("M1" if member.assembly else "" for member in members),
        member_status=tuple(statuses),
        member_reasons=tuple(member.reason for member in members),
        queries=queries,
        balance={"parts_in_model": len(members), "parts_listed": unread, "gross_weight_kg": 1234.5},
        rules=("Clearances by EN 1090-2 Table 11", "Density 7850 kg/m3"),
    )
