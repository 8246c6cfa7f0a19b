"""Numerical control files of steel parts: one file a piece mark, in the open text format of the German
steel-construction association (7th edition, July 1998).

What the standard's text states, what its own example shows and what is derived from both (the second face of an
angle, the sign of cut angles, slots on faces seen from above or behind) stands where it is used: in
:mod:`takeoff.exchange.nc_frames`, ``nc_header``, ``nc_contours`` and ``nc_holes``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from takeoff import steel
from takeoff.exchange.ascii_text import file_names, plain, shortened, unique_texts
from takeoff.exchange.bevels import ENDS, by_hand, full_bevel
from takeoff.exchange.chords import chord_query
from takeoff.exchange.nc_codes import (
    BEVEL,
    BEVEL_BY_HAND,
    COMMENT,
    MARK_TEXT,
    NO_FILE,
    NO_ROOM,
    SKEW_SIGN,
    STAMP_TEXT,
    no_code,
    number,
)
from takeoff.exchange.nc_contours import NoContour, outer_contours, written_outlines
from takeoff.exchange.nc_frames import place
from takeoff.exchange.nc_header import LONGEST_TEXT, cut_angles, header
from takeoff.exchange.nc_holes import Skip, holes
from takeoff.exchange.nc_marking import LONGEST_STAMP, stamp
from takeoff.exchange.sides import Side, sides
from takeoff.queries import Query, query
from takeoff.settings import Settings
from takeoff.steel import HELD, Piece, Takeoff

ENDING: Final = ".nc"
MOST_NAMED: Final = 20
"""Marks named in the query about all that are written otherwise."""


@dataclass(frozen=True, slots=True)
class MachineFiles:
    """Files of one kind. ``files``: name to content; ``names``: piece mark to the name of its file; ``without``: piece
    mark to why it has none; ``left_out``: piece mark to the holes that its file lacks; ``reworded``: piece
    mark to how its file writes it, where not alike; and what to ask.
    """

    files: Mapping[str, bytes] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    without: Mapping[str, str] = field(default_factory=dict)
    queries: tuple[Query, ...] = ()
    left_out: Mapping[str, Sequence[str]] = field(default_factory=dict)
    reworded: Mapping[str, str] = field(default_factory=dict)


def nc_files(takeoff: Takeoff, settings: Settings, skip: Skip | None = None) -> MachineFiles:
    """A numerical control file for every piece mark that is not held and has a shape the standard knows.

    ``skip`` gives for a hole why the line cannot make it, as the end of a sentence, or None; such a hole is left
    out of its file, with a query.
    """
    marks = [piece.mark for piece in takeoff.pieces]
    known = takeoff.release.marks if takeoff.release else ()
    texts = unique_texts(marks, LONGEST_TEXT, lasting=known)
    # A stamp stands within its line and keeps the mark's own beginning.
    heads = unique_texts(marks, LONGEST_TEXT, no_code, known)
    names = file_names(marks, ENDING, known)
    files: dict[str, bytes] = {}
    without: dict[str, str] = {}
    asked: list[Query] = []
    leaning: list[str] = []
    reworded: dict[str, str] = {}
    left_out: dict[str, list[str]] = {}
    for piece in takeoff.pieces:
        if piece.status == HELD:
            without[piece.mark] = "it is held"
            continue
        try:
            text, found, gone = nc_text(
                piece,
                settings,
                text=heads[piece.mark],
                stamped=texts[piece.mark],
                sunk=sides(piece),
                skip=skip,
            )
        except NoContour as reason:
            without[piece.mark] = str(reason)
            asked.append(query(NO_FILE, "numerical control", piece.mark, reason, piece_mark=piece.mark))
            continue
        files[names[piece.mark]] = text.encode("ascii")
        asked += found
        if gone:
            left_out[piece.mark] = gone
        if _leans(piece, settings):
            leaning.append(piece.mark)
        if heads[piece.mark] != piece.mark:
            reworded[piece.mark] = heads[piece.mark]
    if leaning:
        asked.append(query(SKEW_SIGN, len(leaning), leaning[0], piece_mark=leaning[0]))
    if reworded:
        ids = tuple(i for mark in reworded for i in ids_by_mark(takeoff)[mark])
        only = next(iter(reworded)) if len(reworded) == 1 else ""
        told = [f'"{mark}" as "{head}" ({names[mark]})' for mark, head in reworded.items()]
        more = [f"{len(told) - MOST_NAMED} more"] if len(told) > MOST_NAMED else []
        asked.append(query(MARK_TEXT, "; ".join([*told[:MOST_NAMED], *more]), piece_mark=only, global_ids=ids))
    return MachineFiles(
        files, {m: n for m, n in names.items() if m not in without}, without, tuple(asked), left_out, reworded
    )


def ids_by_mark(takeoff: Takeoff) -> dict[str, tuple[str, ...]]:
    """GlobalIds of the parts of each piece mark."""
    members = takeoff.model.members
    return {piece.mark: tuple(members[i].global_id for i in piece.members) for piece in takeoff.pieces}


def _leans(piece: Piece, settings: Settings) -> bool:
    """Whether the header of a piece has a cut angle that is not 0."""
    placing = place(piece.section, piece.length, v_leg=settings.nc.v_leg) if piece.cuts else None
    return placing is not None and any(cut_angles(piece, placing))


def nc_text(
    piece: Piece,
    settings: Settings,
    *,
    text: str,
    stamped: str = "",
    sunk: Mapping[str, Side] | None = None,
    skip: Skip | None = None,
) -> tuple[str, list[Query], list[str]]:
    """The file of one piece, what to ask about it and the labels of the holes that are not in it.

    ``text`` is the piece mark in ASCII, ``stamped`` is the mark of the stamp where that is another text.
    Raises NoContour where no file can describe the piece.
    """
    sunk = sunk or {}
    rules = settings.nc
    # A plate whose countersinks all face away is laid on its other side.
    over = piece.section.shape in (steel.FLAT, steel.PLATE) and any(s.far for s in sunk.values())
    over = over and all(side.far for side in sunk.values())
    placing = place(piece.section, piece.length, u_datum=rules.u_datum, v_leg=rules.v_leg, over=over)
    as_stated = place(piece.section, piece.length, v_leg=rules.v_leg, over=over)
    if placing is None or as_stated is None:
        raise NoContour(f"the standard has no code for its section {piece.section.designation}")
    revision = settings.documents.revision
    angles = cut_angles(piece, as_stated)
    contours = outer_contours(piece, placing)
    drilled, asked, gone = holes(piece, placing, sunk, rules.countersink_deg, skip)
    lines = header(piece, placing, text=text, order=settings.documents.job, revision=revision, angles=angles)
    comments = [*_comments(piece, rules.u_datum, over), *_by_hand(piece)]
    if any(angles):
        comments.append("CUT ANGLES of the header: sign positive anti-clockwise. Check the first piece.")
    lines += [f"{COMMENT} {comment}" for comment in comments]
    lines += drilled
    wanted = plain(rules.marking.format(mark=stamped or text, revision=plain(revision)))
    words = shortened(wanted, LONGEST_STAMP)
    if words and settings.line.stamps:
        if words != wanted:
            asked.append(query(STAMP_TEXT, piece.mark, words, piece_mark=piece.mark))
        block = stamp(piece, placing, words, settings.stamp)
        if block is None:
            height = f"{settings.stamp.height_mm:g}"
            asked.append(query(NO_ROOM, piece.mark, height, piece_mark=piece.mark))
        lines += block or []
    lines += [*contours, "EN"]
    asked += chord_query(piece, written_outlines(piece).items())
    if any(full_bevel(piece, end) for end in ENDS):
        asked.append(query(BEVEL, piece.mark, piece_mark=piece.mark))
    asked += bevels_left_out(piece)
    return "\n".join(lines) + "\n", asked, gone


def bevels_left_out(piece: Piece) -> list[Query]:
    """A query about ends whose bevels no file for machines says; in the same words for every kind of file."""
    ends = by_hand(piece)
    words = " and ".join(f"{end} end" for end in ends)
    return [query(BEVEL_BY_HAND, piece.mark, words, piece_mark=piece.mark)] if ends else []


def _comments(piece: Piece, u_datum: str, over: bool) -> list[str]:
    """What whoever reads the file must know to place the second coordinate."""
    shape = piece.section.shape
    if shape == steel.ANGLE:
        told = "face v y=0 at heel, face u y=0 at toe" if u_datum == "toe" else "faces v and u y=0 at heel"
        return [f"ANGLE: {told}. Run the test piece before the first job."]
    if shape in (steel.CHS, steel.ROUND):
        return ["ROUND: face v is the outside developed, y=0 on the datum line, y up as seen from outside."]
    if shape == steel.I_SHAPE and piece.section.b2:
        top, bottom = (piece.section.b, piece.section.tf), (piece.section.b2, piece.section.tf2)
        sizes = [f"{number(width)} x {number(thick)}" for width, thick in (top, bottom)]
        return [f"SPECIAL: I section, flange o {sizes[0]} as in the header, flange u {sizes[1]}, on one axis."]
    return ["PLATE: laid on its other side, countersinks in front."] if over else []


def _by_hand(piece: Piece) -> list[str]:
    """Work of the piece that no block of the file holds; lengths from the piece's left end."""
    found = [f"heel ground from {number(g.x_from, 1)} to {number(g.x_to, 1)}" for g in piece.heel_grinds]
    for bend in piece.flange_bends:
        turn = "opened" if bend.degrees > 0 else "closed"
        found.append(
            f"leg {bend.face} {turn} by {number(abs(bend.degrees), 1)} degrees from {number(bend.x_from, 1)} "
            f"to {number(bend.x_to, 1)}"
        )
    found += [f"bevel at the {end} end" for end in by_hand(piece)]
    return [f"NOT IN THIS FILE: {words}, see the piece's sheet." for words in found]
