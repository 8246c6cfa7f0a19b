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
    "Hole {0} of piece mark {1} is not in its machine file: {2}.",
    "Make the hole by hand from the sheet, after the line.",
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
    "ASCII letters of limited number only.",
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

BLANK: Final = "-"
"""What stands in a header field that has nothing to say: some readers count lines that are not empty."""


def number(value: float, decimals: int = 2) -> str:
    """A number as the file writes it, without a negative zero."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"
