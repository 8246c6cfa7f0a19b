"""What the trade's rules say about a piece, as sentences for its own sheet: way, stamp, holes, gauges, bends, zinc."""

from __future__ import annotations

from collections import Counter

from takeoff.order import natural
from takeoff.rules import punching
from takeoff.rules.hole_classes import PHRASES as CLASSES
from takeoff.rules.wording import bend_words, gauge_words, grind_words, routing_words
from takeoff.sheets import measure
from takeoff.sheets.wording import angle, face_name, opening
from takeoff.steel import HELD, Hole, Piece
from takeoff.units import PRINT_EXACT_MM
from takeoff.words import joined, say, sentence, spoken

PLAIN_CLASSES = ("", "normal")
"""Classes of hole that need no word in the table."""


def make_words(hole: Hole) -> str:
    """How a hole is made: ``punch``, ``punch 16, ream``, ``drill``, ``cut``; empty where that is not known."""
    if hole.make == punching.REAM and hole.punch_mm:
        return say("punch {size}, ream", size=measure.size(hole.punch_mm))
    names = {
        punching.PUNCH: say("punch"),
        punching.REAM: say("punch and ream"),
        punching.DRILL: say("drill"),
        punching.CUT: say("cut"),
    }
    return names.get(hole.make, hole.make)


def class_words(hole: Hole) -> str:
    """The class of a hole for its bolt; empty for a normal one."""
    return "" if hole.hole_class in PLAIN_CLASSES else spoken(CLASSES[hole.hole_class])


def specially_made(piece: Piece) -> bool:
    """Whether any hole is not plainly punched, so that the hole table has to say how."""
    return any(hole.make not in ("", punching.PUNCH) for hole in piece.holes)


def check_lines(piece: Piece) -> list[str]:
    """What the checks found on the piece: the hole, what was found and what is asked."""
    return [spoken(sentence(remark)) for remark in piece.remarks]


def punches(piece: Piece) -> dict[str, int]:
    """Hits of one piece by punch, commonest first: its size or, of what is not round, its width and length."""
    hits: Counter[str] = Counter()
    for hole in piece.holes:
        if hole.make not in (punching.PUNCH, punching.REAM):
            continue
        hits[f"Ø{measure.size(hole.punch_mm)}" if hole.punch_mm else opening(hole)] += 1
    return dict(sorted(hits.items(), key=lambda item: (-item[1], natural(item[0]))))


def punch_lines(piece: Piece) -> list[str]:
    """Hits by punch, of one piece and of all."""
    hits = punches(piece)
    if not hits:
        return []
    each = "; ".join(say("{punch}: {hits}", punch=name, hits=many) for name, many in hits.items())
    if piece.quantity == 1:
        return [say("Hits by punch: {each}.", each=each)]
    every = "; ".join(say("{punch}: {hits}", punch=name, hits=many * piece.quantity) for name, many in hits.items())
    fields = {"each": each, "every": every, "quantity": piece.quantity}
    return [say("Hits by punch, each: {each}. All {quantity}: {every}.", **fields)]


def tape_lines(piece: Piece) -> list[str]:
    """Two lengths a face that a tape checks without the datum: first to last hole, last hole to the far end."""
    lines = []
    back = measure.from_right()
    for face in dict.fromkeys(hole.face for hole in piece.holes):
        xs = sorted(hole.x for hole in piece.holes if hole.face == face)
        fields = {
            "face": face_name(piece.section.shape, face),
            "span": measure.length(xs[-1] - xs[0]),
            "rest": measure.length(xs[0] if back else piece.length - xs[-1]),
        }
        several = xs[-1] - xs[0] > PRINT_EXACT_MM
        if back and several:
            lines.append(
                say("Tape check, {face}: first to last hole {span}, last hole to the left end {rest}.", **fields)
            )
        elif back:
            lines.append(say("Tape check, {face}: hole to the left end {rest}.", **fields))
        elif several:
            lines.append(
                say("Tape check, {face}: first to last hole {span}, last hole to the right end {rest}.", **fields)
            )
        else:
            lines.append(say("Tape check, {face}: hole to the right end {rest}.", **fields))
    return lines


def hole_lines(piece: Piece) -> list[str]:
    """The class of all holes where they share one, the largest force, and lines off their usual gauges."""
    first = []
    classes = {hole.hole_class for hole in piece.holes}
    if len(classes) == 1 and (only := next(iter(classes))) and only != "none":
        first.append(say("Class of all holes for their bolts: {hole_class}.", hole_class=CLASSES[only]))
    hardest = max(piece.holes, key=lambda hole: hole.force_kn, default=None)
    if hardest is not None and hardest.force_kn > 0:
        force = f"{hardest.force_kn:.0f}"
        first.append(say("Largest punching force: {force} kN, hole {hole}.", force=force, hole=hardest.label))
    lines = [" ".join(first)] if first else []
    if words := gauge_words(piece):
        lines.append(say("Not on the usual gauge: {gauges}.", gauges=words))
    if piece.nut_clearance is not None:
        gap = piece.nut_clearance
        if gap > 0:
            lines.append(
                say("Least room between nuts, heads and bolt ends of the two legs: {gap}.", gap=measure.with_unit(gap))
            )
        else:
            lines.append(
                say(
                    "No room between nuts, heads and bolt ends of the two legs: they meet by {gap}.",
                    gap=measure.with_unit(-gap),
                )
            )
    return lines


def work_lines(piece: Piece) -> list[str]:
    """The way through the shop, the stamp, what is ground or bent, and the weight with zinc."""
    lines = []
    if words := routing_words(piece):
        lines.append(say("Each: {routing}.", routing=words))
    if piece.off_line:
        lines.append(say("Not on the line, or not all of it: {why}", why=joined(" ", piece.off_line)))
    lines += [_stamp(piece)] if piece.stamp else []
    if words := grind_words(piece):
        lines.append(say("GRIND THE HEEL (hatched): {grinds}.", grinds=words))
    if words := bend_words(piece):
        lines.append(say("BEND: {bends}.", bends=words))
    if piece.zinc > 0 and piece.status != HELD:
        white = piece.net + piece.zinc
        lines.append(
            say(
                "When galvanised: {zinc} kg of zinc, {white} kg white each, {all} kg in all.",
                zinc=measure.mass(piece.zinc),
                white=measure.mass(white),
                all=measure.mass(white * piece.quantity),
            )
        )
    return lines


def _stamp(piece: Piece) -> str:
    """Where the mark is stamped, in the piece's own figures."""
    stamp = piece.stamp
    if stamp is None:
        return ""
    fields = {
        "mark": piece.mark,
        "face": face_name(piece.section.shape, stamp.face),
        "x": measure.length(stamp.x),
        "across": measure.length(stamp.across),
        "size": f"{measure.length(stamp.length)} × {measure.length(stamp.height)}",
    }
    if measure.from_right():
        # letters run from left to right whichever end is measured from
        fields["x"] = measure.running(stamp.x, piece.length)
        if stamp.far:
            return say(
                "Stamp {mark}: {face}, far side, left edge {x} from the right end, middle of the letters {across} "
                "across, {size}.",
                **fields,
            )
        return say(
            "Stamp {mark}: {face}, left edge {x} from the right end, middle of the letters {across} across, {size}.",
            **fields,
        )
    if stamp.far:
        return say(
            "Stamp {mark}: {face}, far side, from x {x}, middle of the letters {across} across, {size}.", **fields
        )
    return say("Stamp {mark}: {face}, from x {x}, middle of the letters {across} across, {size}.", **fields)


def bend_label(degrees: float) -> str:
    """``opened 3°``, ``closed 2.5°``: how a leg is bent, for the drawing."""
    if degrees > 0:
        return say("opened {angle}", angle=angle(degrees))
    return say("closed {angle}", angle=angle(-degrees))
