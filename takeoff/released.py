"""The nouns of the mark register: what is remembered of a mark for ever.

Vocabulary
----------
register   the file beside a job that knows every piece and assembly mark ever listed, with its shape
issue      one revision for which lists were written with the register
shown      a mark stands on the lists of an issue, held or not; from then on it names this shape only
released   shown without HOLD: the shop may have cut it
reserved   shown on HOLD only: the mark is taken, nothing may have been cut
retired    known, but no part of the model has the shape now; its mark is never given to another one

The geometry of a piece is that of the issue that showed it first and is never written again, so that comparing with
it cannot drift. Lengths mm, angles degrees.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from takeoff.settings import IdentitySettings
from takeoff.steel import Body, FloatArray, Frame, Section


@dataclass(frozen=True, slots=True)
class Issue:
    """A revision: its name (``revision``), date, models with their checksums, and what decided about shapes.

    ``mass`` is the setting by which weights were found (``table`` or ``computed``), ``program`` the version.
    """

    revision: str
    date: str
    model: str
    checksum: str
    rules: IdentitySettings
    mass: str
    program: str


@dataclass(frozen=True, slots=True, eq=False)
class ReleasedPiece:
    """A piece mark and the shape it names for ever, in its piece frame (see steel.py), the way it was first drawn.

    ``body`` is the blank with its end planes, outline and notches, without holes. ``rows`` (n, COLUMNS of turned.py)
    are its features, the holes first: ``sources`` has (source, diameter_source of holerows.py) for each of those.
    ``rules`` are the tolerances of the issue that showed it first; membership is always judged by them.
    ``section.standard`` names the table that the section came from. ``quantities`` gives the pieces released by issue.
    """

    mark: str
    section: Section
    grade: str
    finish: str
    length: float
    body: Body
    rows: FloatArray
    sources: tuple[tuple[int, int], ...]
    rules: IdentitySettings
    shown: str
    quantities: Mapping[str, int] = field(default_factory=dict)
    opposite_hand_of: str = ""
    model_marks: tuple[str, ...] = ()

    @property
    def released(self) -> str | None:
        """The issue that released it first; None while it is only reserved."""
        return next(iter(self.quantities), None)

    @property
    def most(self) -> int:
        """The largest quantity that any issue released: so many may have been cut."""
        return max(self.quantities.values(), default=0)


@dataclass(frozen=True, slots=True, eq=False)
class ReleasedAssembly:
    """An assembly mark and how its pieces stand: (piece mark, frame) each, all in the frame of one of them."""

    mark: str
    parts: tuple[tuple[str, Frame], ...]
    shown: str
    quantities: Mapping[str, int] = field(default_factory=dict)

    @property
    def released(self) -> str | None:
        """The issue that released it first; None while it is only reserved."""
        return next(iter(self.quantities), None)


@dataclass(frozen=True, slots=True, eq=False)
class Register:
    """A job's marks in the order in which they were first shown; the last issue stands last.

    ``job`` is the settings' name of the job, ``projects`` the GlobalIds of the IfcProjects seen. ``sections`` are the
    sections that others were held against, in the order in which they came: with them a section stays what it was.
    """

    job: str = ""
    projects: tuple[str, ...] = ()
    issues: tuple[Issue, ...] = ()
    sections: tuple[Section, ...] = ()
    pieces: tuple[ReleasedPiece, ...] = ()
    assemblies: tuple[ReleasedAssembly, ...] = ()

    @property
    def latest(self) -> Issue | None:
        return self.issues[-1] if self.issues else None

    def piece(self, mark: str) -> ReleasedPiece | None:
        """The piece of a mark, None where the mark was never shown."""
        return next((piece for piece in self.pieces if piece.mark == mark), None)


class Standing(NamedTuple):
    """Marks of an issue: first shown by it, known before, known but in it no more; ``reserved`` are on HOLD only."""

    new: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    retired: tuple[str, ...] = ()
    reserved: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Release:
    """What the register says of a run: the issue's name, its marks, and the register as it is to be written."""

    revision: str
    pieces: Standing
    assemblies: Standing
    register: Register

    @property
    def marks(self) -> tuple[str, ...]:
        """All piece marks there have ever been, in the order in which they were first shown."""
        return tuple(piece.mark for piece in self.register.pieces)
