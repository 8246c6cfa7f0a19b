"""What reading a drawn body ends in: the body and its axes, or why it is not read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from takeoff.steel import Body, FloatArray

SENTENCES: Final[dict[str, str]] = {
    "nothing": "it draws no facets",
    "no-place": "it has points without a place",
    "grain": "its points are rounded to {0} mm, too coarsely to find its section and holes",
    "open": "its surface is not closed: {0} edges have a facet on one side only",
    "crossed": "its facets meet three at an edge, so that its inside cannot be told from its outside",
    "flat": "it has no volume",
    "tangled": "its facets cross each other",
    "several": "it consists of {0} separate bodies",
    "built": "it consists of several bodies: {0}",
    "hollow": "it has a closed hollow inside",
    "no-axis": "it has no direction along which its section could be constant",
    "tapered": "its section grows along its length from {0} to {1} mm2: it is tapered",
    "curved": "its section wanders by {0} mm along its length: it is curved or cranked",
    "changing": "its section changes along its length: it is built up of several, or cut in a way that is not read",
    "split": "its section consists of {0} separate parts: it is built up of several",
    "block": "its outline, {0} by {1} mm, is no known shape's, and it is only {2} mm long: a tapered plate or a block",
    "coarse": "its section is drawn with {0} even sides: round, or with flat sides",
    "voids": "its section has {0} hollows",
    "opened": "it is an angle whose legs stand at {0} degrees",
    "uneven": "it is an angle whose legs are {0} and {1} mm thick",
    "bent": "it is a plate {0} mm thick bent to {1} legs",
    "rolled": "it is a plate {0} mm thick rolled to a curve",
    "odd-holes": "its section ({0}) is none of the known shapes, and its holes or cuts need faces to be measured on",
    "both-sides": "it has holes that open to both of its broad sides",
    "feature": "a hole, notch or recess near x = {0} mm is drawn in a way that is not read",
    "recess": "a recess in {0} near x = {1} mm does not go through",
    "odd-hole": "a hole in {0} near x = {1} mm is neither round, slotted nor rectangular",
    "inner-countersink": "a hole in {0} near x = {1} mm is countersunk from the inner side of the wall",
    "askew-hole": "a hole near x = {0} mm stands {1} degrees from square",
    "rip": "a face runs at {0} degrees to its length: it is tapered or cut along its length",
    "rounded-end": "its {0} end is cut by {1} planes: it is rounded or shaped to another part",
    "shaped-end": "its end is shaped in a way that planes and notches do not describe",
    "bevel": "the edges of its plate are bevelled",
    "outline": "the outline of its plate has no area",
    "volume": "what was read of it has {0} mm3, what is drawn {1} mm3",
}
"""The end of a sentence about a part, by code."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """A body that is not read: a code of :data:`SENTENCES` and the values in its sentence."""

    code: str
    values: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """Why, as the end of a sentence about the part."""
        return SENTENCES[self.code].format(*self.values)


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """The body of a mesh and its piece frame in the mesh's axes: ``axes`` (3, 3) rows x, u, v, ``origin`` (3,) mm."""

    body: Body
    axes: FloatArray
    origin: FloatArray


class Refused(Exception):
    """Carries a refusal up to the reader of the body."""

    def __init__(self, code: str, *values: object) -> None:
        super().__init__(code)
        self.refusal = Refusal(code, tuple(str(value) for value in values))
