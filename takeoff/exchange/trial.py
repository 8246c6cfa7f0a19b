"""The test piece: an unequal angle with one hole in each leg, to be made once before a line's first job.

The legs, the holes' diameters, their distances from the end and from the heel all differ, so that no exchange of
legs, ends or edges and no mirror image can pass for the piece.
"""

from __future__ import annotations

from typing import Final

from takeoff.cuts import face_outlines
from takeoff.exchange.nc import ENDING, nc_text
from takeoff.sections import shapes
from takeoff.settings import Settings
from takeoff.steel import Body, Hole, Piece
from takeoff.units import STEEL_DENSITY, millimetres

MARK: Final = "TEST-PIECE"
_LENGTH_MM: Final = 400.0
_LEG_A: Final = Hole("A1", "A", 90.0, 65.0, 22.0, gauge_line=1)
_LEG_B: Final = Hole("B1", "B", 240.0, 38.0, 18.0, gauge_line=1)


def trial_piece() -> Piece:
    """The test piece: L 100x65x8 (root radius 10, EN 10056-1), 400 mm, a hole in each leg."""
    section = shapes.angle(100.0, 65.0, 8.0, 10.0, 5.0)
    mass = section.area_mm2 * _LENGTH_MM * STEEL_DENSITY * 1e-9
    return Piece(
        mark=MARK,
        section=section,
        grade="S235JR",
        finish="",
        length=_LENGTH_MM,
        holes=(_LEG_A, _LEG_B),
        cuts=(),
        faces=shapes.faces(section),
        outlines=face_outlines(Body(section, _LENGTH_MM)),
        members=(0,),
        gross=mass,
        net=mass,
    )


def trial_files(settings: Settings) -> dict[str, bytes]:
    """The test piece's machine file and a page that says what the piece must look like."""
    piece = trial_piece()
    text, *_ = nc_text(piece, settings, text=MARK)
    return {f"{MARK}{ENDING}": text.encode("ascii"), f"{MARK}.txt": _page(settings).encode("ascii")}


def _page(settings: Settings) -> str:
    """How to hold the finished piece, and where its holes must be."""

    def place(hole: Hole) -> str:
        x, gauge, diameter = (millimetres(value) for value in (hole.x, hole.across, hole.diameter))
        return f"diameter {diameter}, {x} from the left end, {gauge} from the heel, on the outside of the leg"

    rules = settings.nc
    other = "heel" if rules.u_datum == "toe" else "toe"
    gauge = millimetres(_LEG_B.across)
    from_toe = millimetres(65.0 - _LEG_B.across)
    return f"""\
TEST PIECE

Make one piece from {MARK}{ENDING} before the first job of a line, and after every change of its control.
It is an angle L 100x65x8, {millimetres(_LENGTH_MM)} mm long. All lengths in mm.

Hold the finished piece so that you look at the OUTSIDE of the long leg (100), upright, heel at the BOTTOM; the short
leg (65) points away from you. Then it must have

  in the long leg (100):   {place(_LEG_A)}
  in the short leg (65):   {place(_LEG_B)}

and nothing else but its stamp. If the piece is right, files of angles are right on this line.

If only the hole of the short leg is wrong, and is {from_toe} from the heel instead of {gauge}: the control reads that
leg from its other edge. Set u_datum = "{other}" in the table [nc] of the settings, write the test piece again and
make it again.
If the holes are in each other's leg, or their distances are from the right end, do not use the files on this line:
pieces come out as their opposite hand, and no setting mends that. Ask whoever set up the control.

This file was written with u_datum = "{rules.u_datum}" and v_leg = "{rules.v_leg}".
"""
