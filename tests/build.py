"""The smallest models a test needs, in a few lines each: a thin front of the model writer.

Typical use::

    model = Build()                                  # IFC4, mm; Build("IFC2X3", unit="inch", ...)
    a = model.angle((0, 0, 0), x=(1, 0, 0), v=(0, 0, 1), length=1000, legs=(100, 75, 8))
    model.bolt((100, -8, 45), (0, 1, 0), 16, grip=16)
    path = model.save(tmp_path / "m.ifc")

A member is given by its piece frame (see ``takeoff.steel``): ``origin`` is the datum at x = 0
(an angle's heel), ``x`` runs along it, ``v`` up its first face (an angle's leg A); u = v cross x points
away from the viewer (an angle's leg B). So a hole at (x, across) of an angle's face A is the
model point ``origin + x * x_axis + across * v_axis``, and its outside face is u = 0; on face B it is
``origin + x * x_axis + across * u_axis``, and its outside face is v = 0.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from takeoff.ifc.profile_writer import Outline, Ring
from takeoff.ifc.writer import Length, ModelWriter, Part, frame
from takeoff.steel import Frame

__all__ = ["Build", "Length", "Ring", "frame", "one_angle", "two_angles_one_bolt"]

ALONG_X: npt.ArrayLike = (1, 0, 0)
UP: npt.ArrayLike = (0, 0, 1)


class Build:
    """One model under construction. Every method returns the written part (its ``global_id`` above all).

    ``named`` goes to the writer: name, tag, material, psets, assembly, type_name, kind, clips, shared,
    style (z, -z, x, -x: how the extrusion is written), agreement.
    """

    def __init__(self, schema: str = "IFC4", unit: str = "mm", **named: Any) -> None:
        self.writer = ModelWriter(schema, unit, **named)
        self.profiles = self.writer.profiles

    def save(self, path: Path | str) -> Path:
        return self.writer.save(path)

    def member(
        self,
        profile: Any,
        origin: npt.ArrayLike = (0, 0, 0),
        x: npt.ArrayLike = ALONG_X,
        v: npt.ArrayLike = UP,
        length: float = 1000,
        **named: Any,
    ) -> Part:
        """A member of any profile of ``self.profiles``."""
        return self.writer.member(profile, frame(origin, x, v), length, **named)

    def angle(
        self,
        origin: npt.ArrayLike = (0, 0, 0),
        x: npt.ArrayLike = ALONG_X,
        v: npt.ArrayLike = UP,
        length: float = 1000,
        legs: tuple[float, ...] = (70, 70, 7),
        profile_name: str = "",
        **named: Any,
    ) -> Part:
        """``legs``: leg A, leg B, thickness[, root radius[, toe radius]]; heel along x from ``origin``."""
        profile = self.profiles.angle(*legs, name=profile_name)
        return self.member(profile, origin, x, v, length, **named)

    def channel(
        self,
        origin: npt.ArrayLike = (0, 0, 0),
        x: npt.ArrayLike = ALONG_X,
        v: npt.ArrayLike = UP,
        length: float = 1000,
        size: tuple[float, ...] = (100, 50, 6, 8.5),
        **named: Any,
    ) -> Part:
        """``size``: depth, flange width, web, flange thickness[, root radius[, toe radius]]."""
        return self.member(self.profiles.channel(*size), origin, x, v, length, **named)

    def flat(
        self,
        origin: npt.ArrayLike = (0, 0, 0),
        x: npt.ArrayLike = ALONG_X,
        v: npt.ArrayLike = UP,
        length: float = 500,
        size: tuple[float, float] = (60, 6),
        profile_name: str = "",
        **named: Any,
    ) -> Part:
        """``size``: width (along v), thickness (along u)."""
        width, thickness = size
        profile = self.profiles.rectangle(thickness, width, profile_name)
        return self.member(profile, origin, x, v, length, **named)

    def plate(
        self,
        outline: Outline,
        origin: npt.ArrayLike = (0, 0, 0),
        x: npt.ArrayLike = ALONG_X,
        v: npt.ArrayLike = UP,
        thickness: float = 10,
        **named: Any,
    ) -> Part:
        """``outline``: corners (x, across[, bulge]) seen from outside; steel from u = 0 to ``thickness``."""
        return self.writer.plate(outline, frame(origin, x, v), thickness, **named)

    def bolt(
        self,
        point: npt.ArrayLike,
        direction: npt.ArrayLike,
        diameter: float = 16,
        grip: float = 20,
        **named: Any,
    ) -> Part:
        """One bolt: ``point`` under the head, ``direction`` from head to nut, the nut at ``grip``."""
        return self.writer.bolt(point, direction, diameter, grip, **named)

    def bolts(self, places: Any, diameter: float = 16, grip: float = 20, **named: Any) -> Part:
        """A group: one fastener entity with a bolt at each (point, direction)."""
        return self.writer.bolts(places, diameter, grip, **named)

    def hole(self, part: Part, face: str, x: float, across: float, diameter: float, depth: float = 100) -> Part:
        """A round opening through an angle's or plate's face at (x, across), from 50 mm outside inward."""
        return self.cut(part, face, Ring(x, across, diameter), depth)

    def cut(self, part: Part, face: str, shape: Outline | Ring, depth: float = 100, **named: Any) -> Part:
        """An opening: ``shape`` in (x, across) of ``face`` (A, web, face; B: an angle's other leg)."""
        at = part.frame
        ex, u, v = at.axes
        if face in ("A", "face", "web"):
            placed = Frame(at.origin - u * depth / 2, at.axes)
        elif face == "B":
            placed = Frame(at.origin - v * depth / 2, np.array([ex, v, u]))
        else:
            raise ValueError(f"no face {face} here")
        return self.writer.opening(part, shape, placed, depth, **named)


def one_angle(path: Path, legs: tuple[float, ...] = (70, 70, 7), length: float = 1000, **named: Any) -> Path:
    """A file with one angle along model X: heel on the axis, leg A along +Z, leg B along +Y."""
    model = Build(**{k: named.pop(k) for k in ("schema", "unit", "origin", "rotation") if k in named})
    model.angle(length=length, legs=legs, **named)
    return model.save(path)


def two_angles_one_bolt(path: Path, diameter: float = 16, x: float = 50, across: float = 40, **named: Any) -> Path:
    """Two 70 x 70 x 7 angles back to back along model X, one bolt square through both A legs.

    ``across`` from each heel, ``x`` from the first one's start: grip 14, both heels on the X axis.
    The second is the first turned end for end about model Z.
    """
    model = Build(**named)
    first = model.angle((0, 0, 0), (1, 0, 0), (0, 0, 1), 1000)
    model.angle((1000, 0, 0), (-1, 0, 0), (0, 0, 1), 1000)
    u = first.frame.axes[1]
    point = np.array([x, 0.0, across]) + u * 7
    model.bolt(point, -u, diameter, grip=14)
    return model.save(path)
