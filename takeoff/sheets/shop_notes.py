"""What the trade's rules say about a piece, as sentences for its own sheet: way, stamp, holes, gauges, bends, zinc."""

from __future__ import annotations

from takeoff.rules import punching
from takeoff.rules.wording import bend_words, gauge_words, grind_words, routing_words, stamp_words
from takeoff.sheets.wording import angle, face_name
from takeoff.steel import HELD, Hole, Piece
from takeoff.units import kilograms, millimetres

PLAIN_CLASSES = ("", "normal")
"""Classes of hole that need no word in the table."""


def make_words(hole: Hole) -> str:
    """How a hole is made: ``punch``, ``punch 16, ream``, ``drill``, ``cut``; empty where that is not known."""
    if hole.make == punching.REAM and hole.punch_mm:
        return f"punch {millimetres(hole.punch_mm)}, ream"
    return hole.make


def class_words(hole: Hole) -> str:
    """The class of a hole for its bolt; empty for a normal one."""
    return "" if hole.hole_class in PLAIN_CLASSES else hole.hole_class


def specially_made(piece: Piece) -> bool:
    """Whether any hole is not plainly punched, so that the hole table has to say how."""
    return any(hole.make not in ("", punching.PUNCH) for hole in piece.holes)


def check_lines(piece: Piece) -> list[str]:
    """What the checks found on the piece: the hole, what was found and what is asked."""
    return [f"{remark[:1].upper()}{remark[1:]}." for remark in piece.remarks]


def hole_lines(piece: Piece) -> list[str]:
    """The class of all holes where they share one, the largest force, and lines off their usual gauges."""
    lines = []
    classes = {hole.hole_class for hole in piece.holes}
    if len(classes) == 1 and (only := next(iter(classes))) and only != "none":
        lines.append(f"Class of all holes for their bolts: {only}.")
    hardest = max(piece.holes, key=lambda hole: hole.force_kn, default=None)
    if hardest is not None and hardest.force_kn > 0:
        lines.append(f"Largest punching force: {hardest.force_kn:.0f} kN, hole {hardest.label}.")
    if words := gauge_words(piece):
        lines.append(f"Not on the usual gauge: {words}.")
    if piece.nut_clearance is not None:
        gap = piece.nut_clearance
        found = f"{millimetres(gap)} mm" if gap > 0 else f"none, they meet by {millimetres(-gap)} mm"
        lines.append(f"Least room between nuts, heads and bolt ends of the two legs: {found}.")
    return lines


def work_lines(piece: Piece) -> list[str]:
    """The way through the shop, the stamp, what is ground or bent, and the weight with zinc."""
    lines = []
    if words := routing_words(piece):
        lines.append(f"Each: {words}.")
    if piece.off_line:
        lines.append("Not on the line, or not all of it: " + " ".join(piece.off_line))
    lines += [_stamp(piece)] if piece.stamp else []
    if words := grind_words(piece):
        lines.append(f"GRIND THE HEEL (hatched): {words}.")
    if words := bend_words(piece):
        lines.append(f"BEND: {words}.")
    if piece.zinc > 0 and piece.status != HELD:
        white = piece.net + piece.zinc
        lines.append(
            f"When galvanised: {kilograms(piece.zinc)} kg of zinc, {kilograms(white)} kg white each, "
            f"{kilograms(white * piece.quantity)} kg in all."
        )
    return lines


def _stamp(piece: Piece) -> str:
    """Where the mark is stamped, in the piece's own figures."""
    stamp = piece.stamp
    if stamp is None:
        return ""
    side = stamp_words(piece).replace(stamp.face, face_name(piece.section.shape, stamp.face), 1)
    return (
        f"Stamp {piece.mark}: {side}, from x {millimetres(stamp.x)}, middle of the letters {millimetres(stamp.across)} "
        f"across, {millimetres(stamp.length)} × {millimetres(stamp.height)}."
    )


def bend_label(degrees: float) -> str:
    """``opened 3°``, ``closed 2.5°``: how a leg is bent, for the drawing."""
    return f"{'opened' if degrees > 0 else 'closed'} {angle(abs(degrees))}"
