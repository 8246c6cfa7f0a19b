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
    "Make these holes by hand from the sheet, after the line.",
)
SLOT_SENSE: Final = register(
    "machine-slot-sense",
    CHECK,
    "Slot {0} of piece mark {1} lies askew or across on a face seen from above or behind. Its angle is written "
    "anti-clockwise as seen from outside, which the standard's text does not say for these faces.",
    "Check the slot on the first piece.",
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
    "The countersink of hole {0} of piece mark {1} is not in its machine file, the hole through is: {2}.",
    "Countersink the hole by hand after the line.",
)
CHORDS: Final = register(
    "machine-chords",
    CHECK,
    "Arcs in the outline of piece mark {0} (face {1}) are written in its files for machines as short straight lines.",
    "Have the edge ground smooth where that matters, or set the arc out from the sheet.",
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
MARK_TEXT: Final = register(
    "machine-mark-text",
    CHECK,
    'Piece mark "{0}" is written as "{1}" in its machine file, and the file is called {2}: such files take '
    "ASCII letters of limited number only, and some readers take a word that begins like a block's code or a comment "
    "for one.",
    "Tell the shop which mark it stands for, or give the part a plainer mark in the model.",
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

BLOCKS: Final = ("ST", "EN", "BO", "SI", "AK", "IK", "PU", "KO", "SC", "TO", "UE", "PR", "KA", "IN")
"""Codes that begin a block, by the standard."""
COMMENT: Final = "**"
"""What a line of comment begins with."""

BLANK: Final = "-"
"""What stands in a header field that has nothing to say: some readers count lines that are not empty."""


def no_code(text: str) -> str:
    """The text with an underscore before it where it begins as a block or a comment does.

    By the standard two blanks before it are enough; readers that drop blanks first take its line for a block.
    """
    return f"_{text}" if text.startswith((*BLOCKS, COMMENT)) else text


def number(value: float, decimals: int = 2) -> str:
    """A number as the file writes it, without a negative zero."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"
