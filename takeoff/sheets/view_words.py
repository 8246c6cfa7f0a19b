"""What stands over a drawing in words: what it shows, how, and what it leaves to the table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from takeoff.sheets import drawing_head, fonts, measure
from takeoff.sheets.bands import Band, Stretch, bands, flat_on
from takeoff.sheets.lengthwise import BROKEN, COMPRESSED, TO_SCALE
from takeoff.sheets.wording import face_name
from takeoff.steel import Piece
from takeoff.words import decimal, say

MANNERS: Final = (TO_SCALE, BROKEN, COMPRESSED)


def height(piece: Piece, faces: Sequence[Band], width: float) -> float:
    """Room for the lines over a drawing, whatever they come to say (pt)."""
    whole = Stretch(tuple(faces), 0.0, piece.length)
    part = Stretch(tuple(faces), piece.length / 3, piece.length * 2 / 3, 9)
    stretches = (whole, part)
    longest = max(
        (" ".join((shown(piece, one, 12.5, manner), *omitted(99))) for one in stretches for manner in MANNERS),
        key=lambda words: fonts.width(words, drawing_head.SIZE),
    )
    return drawing_head.height(longest, piece.holes, width)


def omitted(lost: int, across: bool = True) -> list[str]:
    """What a drawing leaves to the table."""
    found = []
    if across:
        found.append(say("Distances across: see the hole table."))
    if lost:
        found.append(
            say("Hole names left out for room: {count}; names run from left to right, see the table.", count=lost)
        )
    return found


def shown(piece: Piece, stretch: Stretch, n: float, manner: str) -> str:
    """What a drawing shows and at which scale, a sentence each; 1 : ``n`` across, ``manner`` one of MANNERS."""
    sentences = []
    if stretch.start > 0.0 or stretch.end < piece.length:
        ends = sorted((stretch.start, stretch.end), reverse=measure.from_right())
        start, end = (measure.running(x, piece.length) for x in ends)
        fields = {"start": start, "end": end, "whole": measure.with_unit(piece.length), "number": stretch.detail}
        if stretch.detail:
            sentences.append(say("DETAIL {number}: from {start} to {end} of {whole}.", **fields))
        else:
            sentences.append(say("From {start} to {end} of {whole}.", **fields))
    if flat_on(piece):
        sentences.append(say("Broad side, seen from outside."))
    else:
        sentences.append(say("Faces seen from outside, left end to the left."))
    if measure.from_right():
        sentences.append(say("RUNNING DIMENSIONS FROM THE RIGHT END."))
    elsewhere = [band for band in bands(piece) if band not in stretch.faces]
    if elsewhere:
        names = ", ".join(face_name(piece.section.shape, band.face.name) for band in elsewhere)
        sentences.append(say("On another page: {faces}.", faces=names))
    scale = decimal(f"1:{n:g}")
    if manner == TO_SCALE:
        sentences.append(say("Scale {scale}.", scale=scale))
    elif manner == COMPRESSED:
        sentences.append(say("Across {scale}. NOT TO SCALE ALONG THE LENGTH, nor are the hole symbols.", scale=scale))
    else:
        sentences.append(say("Scale {scale}, broken out at the zigzag lines.", scale=scale))
    return " ".join(sentences)
