"""A takeoff of a few parts, put together by hand, for tests of what is written from one."""

import numpy as np

from takeoff.queries import ASSUMED, CHECK, HOLD, Query
from takeoff.steel import (
    ANGLE,
    BOUGHT_OUT,
    FLAT,
    HELD,
    LEFT_OUT,
    LISTED,
    Assembly,
    Body,
    Bolt,
    BoltLine,
    BoltRow,
    BoughtOut,
    Cut,
    Face,
    FaceOutline,
    Fastener,
    Frame,
    Hole,
    Joint,
    Member,
    Model,
    Passage,
    Piece,
    Ply,
    Section,
    Takeoff,
)

ANGLE_SECTION = Section(
    ANGLE, "L 100x100x8", 100.0, 100.0, 8.0, mass_kg_per_m=12.2, area_mm2=1551.0, standard="EN 10056-1"
)
FLAT_SECTION = Section(FLAT, "FL 80x10", 80.0, 10.0, 10.0, mass_kg_per_m=6.28, area_mm2=800.0)
ANGLE_FACES = (
    Face("A", (0.0, 0.0), (0.0, 1.0), (1.0, 0.0), 8.0, 0.0, 100.0),
    Face("B", (0.0, 0.0), (1.0, 0.0), (0.0, 1.0), 8.0, 0.0, 100.0),
)
FLAT_FACES = (Face("face", (0.0, 0.0), (0.0, 1.0), (1.0, 0.0), 10.0, 0.0, 80.0),)


def _id(number):
    return f"0ABCDEFGHIJKLMNOPQRS{number:02d}"


def _rectangle(face, length, high):
    return FaceOutline(face, np.array([[0.0, 0.0], [length, 0.0], [length, high], [0.0, high]]))


def small_job(*, held=False, queries=True, name="portal"):
    """Two angles of one mark, a flat (held where asked), a left-out beam and an anchor that is bought out.

    One bolt joins angle and flat; a weld is left out. ``name`` is what the model calls the first angle.
    """
    angle_body, flat_body = Body(ANGLE_SECTION, 1200.0), Body(FLAT_SECTION, 300.0)
    frame = Frame(np.zeros(3), np.eye(3))
    # x along model -y: right-handed, x = u x v.
    turned = Frame(np.array([5_000_000.125, 20.0, -0.004]), np.array([[0.0, -1.0, 0.0], [1.0, 0, 0], [0, 0, 1.0]]))
    flat_frame = Frame(np.array([0.0, 0.0, 8.0]), np.eye(3))
    members = (
        Member(_id(3), "IfcMember", name, "job", "10", "", "S355J2", "", "L100x8", angle_body, frame),
        Member(_id(1), "IfcMember", "brace", "job", "2", "", "S355J2", "", "L100x8", angle_body, turned),
        Member(_id(2), "IfcPlate", "strap", "job", "", "", "S235JR", "", "FL80*10", flat_body, flat_frame),
        Member(_id(4), "IfcBeam", "slab edge", "job", status=LEFT_OUT, reason="It is concrete."),
        Member(_id(5), "IfcBeam", "anchor M24", "job", status=BOUGHT_OUT, reason="It is an anchor."),
    )
    fasteners = (
        Fastener(
            _id(11),
            "IfcMechanicalFastener",
            "bolt",
            "job",
            diameter=16.0,
            length=45.0,
            grade="8.8",
            nuts=1,
            bolts=(Bolt((600.0, 40.0, 0.0), (0.0, 0.0, 1.0), 45.0),),
        ),
        Fastener(_id(12), "IfcFastener", "fillet", "job", kind="weld", status=LEFT_OUT, reason="It is a weld."),
    )
    flat_status = HELD if held else LISTED
    pieces = (
        Piece(
            "A10",
            ANGLE_SECTION,
            "S355J2",
            "",
            1200.0,
            (Hole("A1", "A", 600.0, 45.5, 18.0, gauge_line=1, bolt="M16"),),
            (Cut("right", "A", "skew", 1200.0, 0.0, 12.5, 0.0),),
            ANGLE_FACES,
            (_rectangle("A", 1200.0, 100.0), _rectangle("B", 1200.0, 100.0)),
            members=(0, 1),
            frames=(frame, turned),
            gross=14.64,
            net=14.6245,
            surface=0.468,
            model_marks=("10", "2"),
        ),
        Piece(
            "F2",
            FLAT_SECTION,
            "S235JR",
            "",
            300.0,
            (Hole("F1", "face", 40.0, 40.0, 18.0, 30.0, 90.0, 0.0, 1, "M16", "bolt+opening", "slot", "opening"),),
            (),
            FLAT_FACES,
            (_rectangle("face", 300.0, 80.0),),
            members=(2,),
            frames=(flat_frame,),
            gross=1.884,
            net=1.86,
            surface=0.054,
            status=flat_status,
            reasons=("The slot's middle is not certain.",) if held else (),
        ),
    )
    asked = (
        Query("drawn-twice", CHECK, "Two parts lie in one place.", "Delete one.", "A10", (_id(1), _id(3))),
        Query("clearance", ASSUMED, "Holes are 2 mm larger.", "Say so if not.", "", ()),
    )
    if held:
        asked += (Query("slot-unclear", HOLD, "The slot is not certain.", "Ask.", "F2", (_id(2),)),)
    ply = (Ply(0, "A", 0.0, 8.0, 600.0, 45.5, 0.0), Ply(2, "face", 8.0, 18.0, 40.0, 40.0, 0.0))
    return Takeoff(
        model=Model("job", "IFC4", "c0ffee" * 10 + "c0ff", "2031-04-30", members, fasteners),
        pieces=pieces,
        assemblies=(Assembly("loose", 1, (("A10", 2), ("F2", 1)), 1, 31.164, 31.109, 0.15, 0.99),),
        joints=(Joint(1, (0, 2), (0,), 1),),
        passages=(Passage(0, 0, ply, 18.0, 18.0),),
        bolt_rows=(BoltRow(0, 1, 45.0, 18.0, 18.0, (0, 2), 1, "loose", LISTED),),
        bolt_lines=(BoltLine(16.0, 45.0, "8.8", "ISO 4014", 1, 2, 3, 3, 3, 0.15),),
        bought_out=(BoughtOut("anchor", "M24", 1, (_id(5),)),),
        member_marks=("A10", "A10", "F2", "", ""),
        member_assemblies=("loose", "loose", "loose", "", ""),
        member_status=(LISTED, LISTED, flat_status, LEFT_OUT, BOUGHT_OUT),
        member_reasons=("", "", pieces[1].reasons[0] if held else "", "It is concrete.", "It is an anchor."),
        queries=asked if queries or held else (),
        balance={"parts_in_model": 5, "parts_listed": 3, "net_weight_kg": 31.109},
        rules=("hole clearances EN 1090-2",),
    )
