"""Profiles to write: dimensions in mm, placed so that a member's frame is the piece frame of steel.py.

``at`` says where the profile lies in the (u, v) plane of the member's frame: ``"datum"`` puts
the shape's own datum (heel, back of web at the bottom flange, ...) on the origin, ``"centre"``
the centre of its box, and ``(u, v, degrees)`` its box's centre there, turned.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from takeoff.ifc.step_text import DERIVED, Enum, Ref, StepText, Typed, encode, real

At = str | tuple[float, float, float]
Outline = Sequence[Sequence[float]]
"""Corners (u, v) or (u, v, bulge of the edge that starts there), as steel.Vertex; closed implicitly."""


@dataclass(frozen=True, slots=True)
class Ring:
    """A circular void of a profile: centre and diameter in mm."""

    u: float
    v: float
    diameter: float


class ProfileWriter:
    """Writes profile definitions; equal ones are written once."""

    def __init__(self, step: StepText, per_mm: float) -> None:
        self._step = step
        self._k = per_mm

    def angle(
        self,
        leg_a: float,
        leg_b: float,
        t: float,
        r1: float | None = None,
        r2: float | None = None,
        name: str = "",
        at: At = "datum",
        slope: float | None = None,
    ) -> Ref:
        """IfcLShapeProfileDef: leg A along v, leg B along u, the heel on the datum."""
        return self._parametric(
            "IfcLShapeProfileDef", name, at, (leg_b / 2, leg_a / 2, 0),
            Depth=leg_a, Width=leg_b, Thickness=t, FilletRadius=r1, EdgeRadius=r2,
            plain={"LegSlope": slope},
        )  # fmt: skip

    def channel(
        self,
        h: float,
        b: float,
        tw: float,
        tf: float,
        r1: float | None = None,
        r2: float | None = None,
        slope: float | None = None,
        name: str = "",
        at: At = "datum",
    ) -> Ref:
        """IfcUShapeProfileDef: web along v on the datum, flanges toward +u. ``slope`` in radians."""
        return self._parametric(
            "IfcUShapeProfileDef", name, at, (b / 2, h / 2, 0),
            Depth=h, FlangeWidth=b, WebThickness=tw, FlangeThickness=tf, FilletRadius=r1, EdgeRadius=r2,
            plain={"FlangeSlope": slope},
        )  # fmt: skip

    def i_shape(
        self,
        h: float,
        b: float,
        tw: float,
        tf: float,
        r: float | None = None,
        name: str = "",
        at: At = "datum",
    ) -> Ref:
        """IfcIShapeProfileDef: web along v, the bottom flange's outside on the datum."""
        return self._parametric(
            "IfcIShapeProfileDef", name, at, (0, h / 2, 0),
            OverallWidth=b, OverallDepth=h, WebThickness=tw, FlangeThickness=tf, FilletRadius=r,
        )  # fmt: skip

    def asymmetric_i(
        self,
        h: float,
        b_top: float,
        b_bottom: float,
        tw: float,
        tf_top: float,
        tf_bottom: float,
        r: float | None = None,
        name: str = "",
        at: At = "datum",
    ) -> Ref:
        """IfcAsymmetricIShapeProfileDef; the attribute names differ between the schemas."""
        old = self._step.has("IfcAsymmetricIShapeProfileDef", "OverallWidth")
        bottom = ("OverallWidth", "FlangeThickness", "FilletRadius")
        if not old:
            bottom = ("BottomFlangeWidth", "BottomFlangeThickness", "BottomFlangeFilletRadius")
        sizes = {bottom[0]: b_bottom, bottom[1]: tf_bottom, bottom[2]: r}
        return self._parametric(
            "IfcAsymmetricIShapeProfileDef", name, at, (0, h / 2, 0),
            OverallDepth=h, WebThickness=tw, TopFlangeWidth=b_top, TopFlangeThickness=tf_top,
            TopFlangeFilletRadius=r, sizes=sizes,
        )  # fmt: skip

    def tee(
        self,
        h: float,
        b: float,
        tw: float,
        tf: float,
        r: float | None = None,
        name: str = "",
        at: At = "datum",
    ) -> Ref:
        """IfcTShapeProfileDef, turned half round: its flange lies at the bottom on the datum."""
        return self._parametric(
            "IfcTShapeProfileDef", name, at, (0, h / 2, 180),
            Depth=h, FlangeWidth=b, WebThickness=tw, FlangeThickness=tf, FilletRadius=r,
        )  # fmt: skip

    def rectangle(self, u: float, v: float, name: str = "", at: At = "datum") -> Ref:
        """IfcRectangleProfileDef ``u`` by ``v``, lower left corner on the datum (a flat: u its thickness)."""
        return self._parametric("IfcRectangleProfileDef", name, at, (u / 2, v / 2, 0), XDim=u, YDim=v)

    def hollow_rectangle(
        self,
        u: float,
        v: float,
        t: float,
        outer: float | None = None,
        inner: float | None = None,
        name: str = "",
        at: At = "datum",
    ) -> Ref:
        return self._parametric(
            "IfcRectangleHollowProfileDef", name, at, (u / 2, v / 2, 0),
            XDim=u, YDim=v, WallThickness=t, OuterFilletRadius=outer, InnerFilletRadius=inner,
        )  # fmt: skip

    def circle(self, diameter: float, name: str = "", at: At = "datum") -> Ref:
        return self._parametric("IfcCircleProfileDef", name, at, (0, 0, 0), Radius=diameter / 2)

    def hollow_circle(self, diameter: float, t: float, name: str = "", at: At = "datum") -> Ref:
        return self._parametric("IfcCircleHollowProfileDef", name, at, (0, 0, 0), Radius=diameter / 2, WallThickness=t)

    def c_shape(
        self,
        h: float,
        b: float,
        t: float,
        lip: float,
        r: float | None = None,
        name: str = "",
        at: At = "datum",
    ) -> Ref:
        """IfcCShapeProfileDef: a lipped channel. ``r`` is the inner bend radius."""
        radius = (
            "InternalFilletRadius" if self._step.has("IfcCShapeProfileDef", "InternalFilletRadius") else "FilletRadius"
        )
        return self._parametric(
            "IfcCShapeProfileDef", name, at, (b / 2, h / 2, 0),
            Depth=h, Width=b, WallThickness=t, Girth=lip, sizes={radius: r},
        )  # fmt: skip

    def z_shape(
        self,
        h: float,
        b: float,
        tw: float,
        tf: float,
        r: float | None = None,
        name: str = "",
        at: At = "datum",
    ) -> Ref:
        """IfcZShapeProfileDef; ``b`` is one flange's width over the web."""
        return self._parametric(
            "IfcZShapeProfileDef", name, at, (b - tw / 2, h / 2, 0),
            Depth=h, FlangeWidth=b, WebThickness=tw, FlangeThickness=tf, FilletRadius=r,
        )  # fmt: skip

    def closed(
        self, outline: Outline, voids: Sequence[Outline | Ring] = (), curve: str = "polyline", name: str = ""
    ) -> Ref:
        """An arbitrary closed profile, (u, v) as given. ``curve``: polyline, indexed or composite.

        Polylines take no bulges (ValueError); ``indexed`` needs IFC4 or later.
        """
        values: dict[str, Any] = {
            "ProfileType": Enum("AREA"),
            "ProfileName": name or None,
            "OuterCurve": self.curve(outline, curve),
        }
        if not voids:
            return self._step.once(self._step.text("IfcArbitraryClosedProfileDef", **values))
        inner = [self.circle_curve(v) if isinstance(v, Ring) else self.curve(v, curve) for v in voids]
        return self._step.once(self._step.text("IfcArbitraryProfileDefWithVoids", InnerCurves=inner, **values))

    def derived(
        self,
        parent: Ref,
        axis1: tuple[float, float] | None = None,
        axis2: tuple[float, float] | None = None,
        origin: tuple[float, float] = (0, 0),
        scale: float | None = None,
        name: str = "",
    ) -> Ref:
        """IfcDerivedProfileDef; axis1 (-1, 0) with axis2 (0, 1) mirrors left to right."""
        operator = self._step.entity(
            "IfcCartesianTransformationOperator2D",
            Axis1=self._step.direction(axis1) if axis1 else None,
            Axis2=self._step.direction(axis2) if axis2 else None,
            LocalOrigin=self._step.point((origin[0] * self._k, origin[1] * self._k)),
            Scale=scale,
        )
        return self._step.entity(
            "IfcDerivedProfileDef",
            ProfileType=Enum("AREA"), ProfileName=name or None, ParentProfile=parent, Operator=operator,
        )  # fmt: skip

    def mirrored(self, parent: Ref, name: str = "") -> Ref:
        """IfcMirroredProfileDef (IFC4 and later): the parent mirrored about its own y axis."""
        return self._step.entity(
            "IfcMirroredProfileDef",
            ProfileType=Enum("AREA"), ProfileName=name or None, ParentProfile=parent, Operator=DERIVED,
        )  # fmt: skip

    def curve(self, outline: Outline, kind: str = "polyline") -> Ref:
        """A closed two-dimensional curve in the file's unit."""
        corners = [(float(c[0]), float(c[1]), float(c[2]) if len(c) > 2 else 0.0) for c in outline]
        if kind == "polyline":
            if any(bulge for *_, bulge in corners):
                raise ValueError("a polyline has no arcs: choose indexed or composite")
            points = [self._point(u, v) for u, v, _ in corners]
            return self._step.once(f"IFCPOLYLINE({encode([*points, points[0]])})")
        edges = list(zip(corners, corners[1:] + corners[:1], strict=True))
        if kind == "indexed":
            return self._indexed(edges)
        if kind == "composite":
            return self._composite(edges)
        raise ValueError(f"curve {kind} is not polyline, indexed or composite")

    def circle_curve(self, ring: Ring) -> Ref:
        place = self._step.once(f"IFCAXIS2PLACEMENT2D({self._point(ring.u, ring.v)},$)")
        return self._step.once(f"IFCCIRCLE({place},{real(ring.diameter / 2 * self._k)})")

    def _point(self, u: float, v: float) -> Ref:
        return self._step.point((u * self._k, v * self._k))

    def _indexed(self, edges: Sequence[Any]) -> Ref:
        points: list[tuple[float, float]] = []
        segments: list[Typed] = []
        for (u, v, bulge), (u2, v2, _) in edges:
            first = len(points) + 1
            points.append((u * self._k, v * self._k))
            if bulge:
                middle = ((u + u2) / 2 + bulge * (v2 - v) / 2, (v + v2) / 2 - bulge * (u2 - u) / 2)
                points.append((middle[0] * self._k, middle[1] * self._k))
                segments.append(Typed("IfcArcIndex", (first, first + 1, first + 2)))
            else:
                segments.append(Typed("IfcLineIndex", (first, first + 1)))
        points.append(points[0])
        listed = self._step.entity("IfcCartesianPointList2D", CoordList=points)
        values = {"Points": listed, "Segments": segments, "SelfIntersect": False}
        return self._step.entity("IfcIndexedPolyCurve", **values)

    def _composite(self, edges: Sequence[Any]) -> Ref:
        segments = []
        for (u, v, bulge), (u2, v2, _) in edges:
            start, end = self._point(u, v), self._point(u2, v2)
            if bulge:
                parent = self._arc((u, v), (u2, v2), bulge, start, end)
            else:
                parent = self._step.once(f"IFCPOLYLINE(({start},{end}))")
            segments.append(self._step.add(f"IFCCOMPOSITECURVESEGMENT(.CONTINUOUS.,.T.,{parent})"))
        return self._step.add(f"IFCCOMPOSITECURVE({encode(segments)},.F.)")

    def _arc(self, a: tuple[float, float], b: tuple[float, float], bulge: float, start: Ref, end: Ref) -> Ref:
        """A trimmed circle from ``a`` to ``b``; a positive bulge runs anti-clockwise."""
        offset = (1 - bulge * bulge) / (4 * bulge)
        centre = (
            (a[0] + b[0]) / 2 - offset * (b[1] - a[1]),
            (a[1] + b[1]) / 2 + offset * (b[0] - a[0]),
        )
        circle = self.circle_curve(Ring(*centre, 2 * math.dist(centre, a)))
        sense = bulge > 0
        return self._step.add(f"IFCTRIMMEDCURVE({circle},({start}),({end}),{encode(sense)},.CARTESIAN.)")

    def _parametric(
        self,
        ifc_class: str,
        name: str,
        at: At,
        datum: tuple[float, float, float],
        plain: dict[str, float | None] | None = None,
        sizes: dict[str, float | None] | None = None,
        **named: float | None,
    ) -> Ref:
        if at == "datum":
            place = datum
        elif at == "centre":
            place = (0.0, 0.0, datum[2])
        elif isinstance(at, str):
            raise ValueError(f"a profile lies at datum, centre or (u, v, degrees), not {at}")
        else:
            place = at
        turn = math.radians(place[2])
        axis = self._step.direction((math.cos(turn), math.sin(turn))) if place[2] else None
        position = self._step.once(f"IFCAXIS2PLACEMENT2D({self._point(place[0], place[1])},{encode(axis)})")
        scaled = {key: None if value is None else value * self._k for key, value in {**(sizes or {}), **named}.items()}
        values: dict[str, Any] = {"ProfileType": Enum("AREA"), "ProfileName": name or None}
        text = self._step.text(ifc_class, Position=position, **values, **scaled, **(plain or {}))
        return self._step.once(text)
