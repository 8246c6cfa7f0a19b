"""The header (ST) of a numerical control file: twenty-four lines in the standard's order.

Cut angles
----------
The *web* angle is seen in the front view (x right, Y up), the *flange* angle in the bottom view (x right, Z up). An
angle is how far the line of the end is turned from square, positive anti-clockwise: with the end's line rising by dq
over dx, tan(angle) = -dx / dq. So an end whose top stands out further has a positive angle on the left and a
negative one on the right, as in the standard's sketch (+15 and -15). The sign is read from that sketch's figures and
from the standard's rule for angles, its drawing itself was not at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan, cos, degrees, radians, sin
from typing import Final

from takeoff import steel
from takeoff.exchange.ascii_text import plain, shortened
from takeoff.exchange.bevels import ENDS, full_bevel
from takeoff.exchange.nc_codes import BLANK, no_code, number
from takeoff.exchange.nc_frames import BEHIND, BOTTOM, FRONT, TOP, Placing
from takeoff.steel import Cut, Piece

LONGEST_TEXT: Final = 80
"""Characters of a text in the header, by the standard."""
WEB_START, WEB_END, FLANGE_START, FLANGE_END = range(4)
_SQUARE_DEG: Final = 0.005


def header(
    piece: Piece,
    placing: Placing,
    *,
    text: str,
    order: str,
    revision: str,
    angles: Sequence[float],
) -> list[str]:
    """The lines from ST to the last text line.

    The drawing is the piece's own sheet, so that its number is the mark; there is no phase. The four texts are the
    finish, the opposite hand, the revision and nothing.
    ``text`` stands for the piece mark; ``angles`` are those of :func:`cut_angles`. The saw length is written equal
    to the length: both are the piece's overall length, what the bar gives up.
    """
    section, length = piece.section, piece.length
    plate = placing.code == "B"
    if plate:
        mass = piece.gross / (section.h * length) * 1e6
        paint = 2.0
    else:
        mass = piece.gross / length * 1e3
        paint = section.perimeter_mm * 1e-3
    opposite = f"opposite hand of {piece.opposite_hand_of}" if piece.opposite_hand_of else ""
    fields = [
        no_code(_words(order)),
        _words(text),
        BLANK,
        _words(text),
        _words(piece.grade),
        str(piece.quantity),
        _words(section.designation),
        placing.code,
        f"{number(length)},{number(length)}",
        number(placing.height),
        number(placing.width),
        number(placing.flange),
        number(placing.web),
        number(placing.radius),
        number(mass, 3),
        number(paint, 3),
        *(number(angle, 3) for angle in angles),
        no_code(_words(piece.finish)),
        _words(opposite),
        _words(f"revision {revision}" if plain(revision) else ""),
        BLANK,
    ]
    return ["ST", *(f"  {field}" for field in fields)]


def _words(text: str) -> str:
    return shortened(text, LONGEST_TEXT) if plain(text) else BLANK


def cut_angles(piece: Piece, placing: Placing) -> tuple[float, float, float, float]:
    """Web start, web end, flange start and flange end cut in degrees; 0 where an end is square or not one plane.

    ``placing`` must have the standard's datum on every face.
    """
    found = [0.0, 0.0, 0.0, 0.0]
    # Where both flanges are cut the bottom one counts, which the standard's view shows.
    ranks = {FRONT: 0, BEHIND: 1, BOTTOM: 0, TOP: 1}
    skews = [cut for cut in piece.cuts if cut.kind == "skew"]
    if piece.section.shape in (steel.CHS, steel.ROUND):
        for cut in skews:
            web, flange = _round_angles(cut, piece.section.h)
            end = 0 if cut.end == "left" else 1
            found[WEB_START + end], found[FLANGE_START + end] = web, flange
        return found[0], found[1], found[2], found[3]
    for cut in sorted(skews, key=lambda c: -ranks[placing.seats[c.face].letter]):
        seat = placing.seats[cut.face]
        start = (cut.end == "left") == (placing.x_sign > 0)
        first = WEB_START if seat.letter in (FRONT, BEHIND) else FLANGE_START
        found[first + (0 if start else 1)] = _skew(piece, placing, cut)
    for end, name in enumerate(ENDS):
        if back := full_bevel(piece, name):
            # Z runs from the far side, 0, to the near one, the thickness: unless the plate lies on its other side.
            turned = -back if placing.over else back
            found[FLANGE_START + end] = _tidy(degrees(atan(-turned / piece.section.tw)))
    return found[0], found[1], found[2], found[3]


def _skew(piece: Piece, placing: Placing, cut: Cut) -> float:
    """The angle of an end's cut on one face, from where it leaves the edge to the end of the piece."""
    face = next(f for f in piece.faces if f.name == cut.face)
    far = face.high if abs(cut.across - face.low) < abs(cut.across - face.high) else face.low
    out = cut.x - cut.size if cut.end == "left" else cut.x + cut.size
    x0, q0 = placing.point(cut.face, cut.x, cut.across)
    x1, q1 = placing.point(cut.face, out, far)
    return _tidy(degrees(atan(-(x1 - x0) / (q1 - q0))))


def _round_angles(cut: Cut, diameter: float) -> tuple[float, float]:
    """Web and flange angle of a round's skew end, whose normal leans by ``angle`` toward ``across``.

    The normal is (+-cos, -sin cos w, sin sin w) in (x, u, v) with w the direction round the bar; on the cut's plane
    dx/dY = -nv/nx, and Z falls with u, so that dx/dZ = nu/nx.
    """
    lean = radians(cut.angle)
    w = 2 * cut.across / diameter
    nx = -cos(lean) if cut.end == "left" else cos(lean)
    nu, nv = -sin(lean) * cos(w), sin(lean) * sin(w)
    return _tidy(degrees(atan(nv / nx))), _tidy(degrees(atan(-nu / nx)))


def _tidy(angle: float) -> float:
    return 0.0 if abs(angle) < _SQUARE_DEG else round(angle, 6)
