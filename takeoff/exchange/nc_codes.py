"""Queries about files for machines, and the small words of their text."""

from __future__ import annotations

from typing import Final

from takeoff.queries import ASSUMED, CHECK, register

NO_FILE: Final = register(
    "machine-no-file",
    CHECK,
    "No {0} file is written for piece mark {1}: {2}.",
    "Set this piece out by hand from its sheet.",
)
HOLE_LEFT_OUT: Final = register(
    "machine-hole-left-out",
    CHECK,
    "Holes of piece mark {0} are not in its machine file: {1}.",
    "Make these holes from the sheet, after the line.",
)
SLOT_SENSE: Final = register(
    "machine-slot-sense",
    CHECK,
    "Slots of piece mark {1} lie askew or across on a face seen from above or behind: {0}. Their angles are written "
    "anti-clockwise as seen from outside, which the standard's text does not say for these faces.",
    "Check these slots on the first piece.",
)
COUNTERSINK_ASSUMED: Final = register(
    "machine-countersink-angle",
    ASSUMED,
    "Countersinks of piece mark {0} are written with {1} degrees and as deep as their diameters ask for; the lists "
    "hold no angle of a countersink.",
    "Check the angle against the bolt's head, or set nc.countersink_deg.",
)
COUNTERSINK_LEFT_OUT: Final = register(
    "machine-countersink-left-out",
    CHECK,
    "Countersinks of piece mark {0} are not in its machine file, their holes through are: {1}.",
    "Countersink these holes by hand after the line.",
)
CHORDS: Final = register(
    "machine-chords",
    CHECK,
    "A curve in the outline of piece mark {0} (face {1}) is not certain to be an arc; its files for machines have it "
    "in short straight lines, as it is drawn.",
    "Have the edge ground smooth where that matters.",
)
SKEW_SIGN: Final = register(
    "machine-skew-sign",
    CHECK,
    "Numerical control files with a cut angle in the header: {0}, the first that of piece mark {1}. The sign of these "
    "angles is read from the figures of the standard. The contours in the files do not depend on it; round steel has "
    "none.",
    "Check the first of these pieces before the others are cut.",
)
BEVEL: Final = register(
    "machine-bevel",
    CHECK,
    "The bevelled end of piece mark {0} stands in its machine file as a cut angle of the header; the outline there is "
    "that of the side in front.",
    "Check the bevel on the first piece.",
)
BEVEL_BY_HAND: Final = register(
    "machine-bevel-left-out",
    CHECK,
    "The bevel of piece mark {0}, {1}, is not in its files for machines: it goes through a part of the thickness, or "
    "there is one from each side. The files end at its nose, square through the thickness.",
    "Bevel this end by hand from the sheet.",
)
MARK_TEXT: Final = register(
    "machine-mark-text",
    CHECK,
    "Piece marks that are written otherwise in their machine files (all in summary.json): {0}. Such files take ASCII "
    "letters of limited number only, and readers that drop blanks take a word for a block that begins with its code.",
    "Tell the shop which marks they stand for, or give the parts plainer marks in the model.",
)
STAMP_TEXT: Final = register(
    "machine-stamp-text",
    CHECK,
    'The stamp of piece mark "{0}" is too long for a machine file and is written as "{1}".',
    "Tell the shop which mark it stands for, or choose a shorter nc.marking.",
)
NO_ROOM: Final = register(
    "machine-mark-no-room",
    CHECK,
    "No place for the stamp {1} mm high is clear of holes on piece mark {0}; its machine file has none.",
    "Mark the piece by hand, or set smaller letters (stamp.height_mm, stamp.width_mm).",
)

BLOCKS: Final = ("ST", "EN", "BO", "SI", "AK", "IK")
"""Codes of the blocks that these files have. By the standard a code stands in columns 1 and 2, and a word behind two
blanks is none; a reader that drops blanks stops at one of these all the same, since they are what it looks for."""
COMMENT: Final = "**"
"""What a line of comment begins with."""

BLANK: Final = "-"
"""What stands in a header field that has nothing to say: some readers count lines that are not empty."""


def no_code(text: str) -> str:
    """The text with an underscore before it where it begins as a block of these files or a comment does.

    For a line of the header only: a stamp stands behind its numbers, and a file's name is read by nobody.
    """
    return f"_{text}" if text.startswith((*BLOCKS, COMMENT)) else text


def number(value: float, decimals: int = 2) -> str:
    """A number as the file writes it, without a negative zero."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"
