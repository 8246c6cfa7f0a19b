"""The embedded typefaces and how wide text runs in them.

DejaVu Sans Condensed prints every European language; its free licence stands beside it.
"""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from pathlib import Path
from typing import Final

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR: Final = "TakeoffSans"
BOLD: Final = "TakeoffSans-Bold"
ASCENT: Final = 0.76
"""Height of the tallest letters above the base line, as a share of the size."""
DESCENT: Final = 0.24
"""Depth of the lowest letters below the base line, as a share of the size."""

LINE_BREAK: Final = "↵"
NO_BREAK: Final = "\N{NO-BREAK SPACE}"
"""A space at which no line is broken: between inches and their fraction."""
NO_GLYPH: Final = "▯"
_BREAKS: Final = "\n\r\v\f\x85\u2028\u2029"

_FILES: Final = {REGULAR: "DejaVuSansCondensed.ttf", BOLD: "DejaVuSansCondensed-Bold.ttf"}


@cache
def load(bold: bool) -> TTFont:
    """The face, registered with the PDF library once a process."""
    name = BOLD if bold else REGULAR
    font = TTFont(name, str(Path(__file__).parent / _FILES[name]))
    pdfmetrics.registerFont(font)
    return font


@lru_cache(maxsize=200_000)
def width(text: str, size: float, bold: bool = False) -> float:
    """Width of ``text`` in pt at ``size`` pt."""
    face = load(bold).face
    default = face.defaultWidth
    widths = face.charWidths
    return float(sum(widths.get(ord(c), default) for c in text)) * size / 1000.0


def printable(text: str) -> str:
    """``text`` on one line, every letter of it visible.

    A line break becomes ↵, a tab or other space a space, and what the face cannot show (control characters, scripts
    outside Europe, scripts that run from right to left) a box each, so that a mark never loses a letter unseen.
    """
    if text.isascii() and text.isprintable():
        return text
    return _printable(text)


@lru_cache(maxsize=50_000)
def _printable(text: str) -> str:
    # both faces hold the same letters but for a few signs
    faces = [load(bold).face.charToGlyph for bold in (False, True)]
    found = []
    for letter in unicodedata.normalize("NFC", text.replace("\r\n", "\n")):
        if letter in _BREAKS:
            found.append(LINE_BREAK)
        elif letter.isspace():
            found.append(letter if letter == NO_BREAK else " ")
        elif (
            letter.isprintable()
            and all(ord(letter) in face for face in faces)
            and unicodedata.bidirectional(letter) not in ("R", "AL")
        ):
            found.append(letter)
        else:
            found.append(NO_GLYPH)
    return "".join(found)


def wrap(text: str, size: float, room: float, bold: bool = False) -> tuple[str, ...]:
    """``text`` in lines no wider than ``room`` pt, broken at spaces, inside words only where a word is too long.

    At least one line; a single character wider than the room stands alone.
    """
    return _wrap(printable(text), size, round(room, 3), bold)


@lru_cache(maxsize=50_000)
def _wrap(text: str, size: float, room: float, bold: bool) -> tuple[str, ...]:
    if width(text, size, bold) <= room:
        return (text,)
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        trial = f"{line} {word}" if line else word
        if width(trial, size, bold) <= room:
            line = trial
            continue
        if line:
            lines.append(line)
        line = word
        while width(line, size, bold) > room and len(line) > 1:
            fit = _fitting(line, size, room, bold)
            lines.append(line[:fit])
            line = line[fit:]
    if line:
        lines.append(line)
    return tuple(lines)


def _fitting(word: str, size: float, room: float, bold: bool) -> int:
    """How many leading characters of ``word`` fit into ``room``; at least one."""
    used = 0.0
    for index, letter in enumerate(word):
        used += width(letter, size, bold)
        if used > room:
            return max(1, index)
    return len(word)


def shorten(text: str, size: float, room: float, bold: bool = False) -> str:
    """``text`` cut with an ellipsis to fit ``room``. Only for text that stands in full elsewhere."""
    text = printable(text)
    if width(text, size, bold) <= room:
        return text
    fit = _fitting(text, size, max(0.0, room - width("…", size, bold)), bold)
    return text[:fit].rstrip() + "…"
