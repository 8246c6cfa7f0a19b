"""Parametric profiles of ISO 16739-1: each as a section and its axes about the centre of its bounding box.

Attributes are read by position: IFC2x3, IFC4 and IFC4x3 name some of them differently (the
flanges of an asymmetric I) but keep their places.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from takeoff.ifc.context import Context, Entity, Unread, argument
from takeoff.sections import shapes
from takeoff.steel import Point2, Section

Local = tuple[Section, Point2, Point2, Point2]
"""A section, the origin of its axes and the directions of u and v, before Position. mm."""


class Sizes:
    """A parametric profile's dimensions by position, in mm times the scale it is drawn with."""

    def __init__(self, ctx: Context, entity: Entity, scale: float) -> None:
        self.ctx = ctx
        self._entity = entity
        self._factor = ctx.mm * scale

    def need(self, index: int, what: str) -> float:
        value = argument(self._entity, index)
        if value is None or not float(value) > 0 or not math.isfinite(value):
            raise Unread(f"its profile does not say its {what}")
        return float(value) * self._factor

    def may(self, index: int) -> float:
        """An optional dimension; 0 where the file leaves it out."""
        value = argument(self._entity, index)
        if value is None:
            return 0.0
        if not 0 <= float(value) < 1e9:
            raise Unread(f"a dimension of its profile is {float(value):g}")
        return float(value) * self._factor

    def says(self, index: int) -> bool:
        """Whether the file gives an optional dimension."""
        return argument(self._entity, index) is not None

    def slope(self, index: int) -> float:
        """The tangent of an optional angle."""
        value = argument(self._entity, index)
        return math.tan(abs(float(value)) * self.ctx.rad) if value else 0.0

    def straight(self, index: int, what: str) -> None:
        if argument(self._entity, index):
            raise Unread(f"{what} of its profile taper, which is not read yet")


def _angle(s: Sizes) -> Local:
    depth, t = s.need(3, "depth"), s.need(5, "thickness")
    # left out, it is the depth (ISO 16739-1, IfcLShapeProfileDef); nought is not left out
    width = s.need(4, "width") if s.says(4) else depth
    s.straight(8, "the legs")
    section = shapes.angle(depth, width, t, s.may(6), s.may(7))
    heel = (-width / 2, -depth / 2)
    return (section, heel, (1, 0), (0, 1)) if depth >= width else (section, heel, (0, 1), (1, 0))


def _channel(s: Sizes) -> Local:
    h, b = s.need(3, "depth"), s.need(4, "flange width")
    section = shapes.channel(
        h, b, s.need(5, "web thickness"), s.need(6, "flange thickness"), s.may(7), s.may(8), s.slope(9)
    )
    return section, (-b / 2, -h / 2), (1, 0), (0, 1)


def _i_shape(s: Sizes) -> Local:
    b, h = s.need(3, "width"), s.need(4, "depth")
    newer = s.ctx.schema != "IFC2X3"
    section = shapes.i_section(
        h,
        b,
        s.need(5, "web thickness"),
        s.need(6, "flange thickness"),
        s.may(7),
        slope=s.slope(9) if newer else 0.0,
        r2=s.may(8) if newer else 0.0,
    )
    return section, (0, -h / 2), (1, 0), (0, 1)


def _asymmetric_i(s: Sizes) -> Local:
    bottom, h, tw = s.need(3, "bottom flange width"), s.need(4, "depth"), s.need(5, "web thickness")
    bottom_t = s.need(6, "bottom flange thickness")
    top, top_t = s.need(8, "top flange width"), s.may(9) or bottom_t
    newer = s.ctx.schema != "IFC2X3"
    slope = s.slope(12) if newer else 0.0
    if newer and abs(s.slope(14) - slope) > 1e-6:
        raise Unread("the flanges of its profile taper differently, which is not read yet")
    section = shapes.i_section(h, top, tw, top_t, s.may(7), bottom, bottom_t, slope)
    if (top, top_t) >= (bottom, bottom_t):
        return section, (0, -h / 2), (1, 0), (0, 1)
    return section, (0, h / 2), (1, 0), (0, -1)  # the wider flange is the section's top


def _tee(s: Sizes) -> Local:
    h, b = s.need(3, "depth"), s.need(4, "flange width")
    s.straight(10, "the stem's sides")
    section = shapes.tee(
        h, b, s.need(5, "stem thickness"), s.need(6, "flange thickness"), s.may(7), s.may(8), s.slope(11)
    )
    return section, (0, h / 2), (1, 0), (0, -1)  # IFC draws the flange on top, the frame has it below


def _hollow_box(s: Sizes) -> Local:
    x, y, t = s.need(3, "width"), s.need(4, "depth"), s.need(5, "wall thickness")
    section = shapes.rhs(y, x, t, s.may(7), s.may(6))
    corner = (-x / 2, -y / 2)
    return (section, corner, (1, 0), (0, 1)) if y >= x else (section, corner, (0, 1), (1, 0))


def _round(s: Sizes) -> Local:
    return shapes.round_bar(2 * s.need(3, "radius")), (0, 0), (1, 0), (0, 1)


def _tube(s: Sizes) -> Local:
    return shapes.chs(2 * s.need(3, "radius"), s.need(4, "wall thickness")), (0, 0), (1, 0), (0, 1)


def _lipped(s: Sizes) -> Local:
    h, b = s.need(3, "depth"), s.need(4, "width")
    section = shapes.lipped_channel(h, b, s.need(5, "wall thickness"), s.need(6, "girth"), s.may(7))
    return section, (-b / 2, -h / 2), (1, 0), (0, 1)


def _zed(s: Sizes) -> Local:
    """A Z: the bottom flange points to +x, the top one back. The flange width is taken over the web."""
    h, b, tw, tf = s.need(3, "depth"), s.need(4, "flange width"), s.need(5, "web"), s.need(6, "flange")
    if s.may(7) or abs(tw - tf) <= 1e-6:
        if abs(tw - tf) > 1e-6:
            raise Unread("its Z profile has flanges of another thickness than its web, which is not read yet")
        section = shapes.zed(h, b, tw, 0.0, s.may(7))
    else:
        far = 2 * b - tw
        lower = ((b - tw, 0), (far, 0), (far, tf), (b, tf))
        section = shapes.other((*lower, (b, h), (0, h), (0, h - tf), (b - tw, h - tf)))
    return section, (-section.b / 2, -h / 2), (1, 0), (0, 1)


PARAMETRIC: dict[str, Callable[[Sizes], Local]] = {
    "IfcLShapeProfileDef": _angle,
    "IfcUShapeProfileDef": _channel,
    "IfcIShapeProfileDef": _i_shape,
    "IfcAsymmetricIShapeProfileDef": _asymmetric_i,
    "IfcTShapeProfileDef": _tee,
    "IfcRectangleHollowProfileDef": _hollow_box,
    "IfcCircleProfileDef": _round,
    "IfcCircleHollowProfileDef": _tube,
    "IfcCShapeProfileDef": _lipped,
    "IfcZShapeProfileDef": _zed,
}
"""How each class is read; raises Unread, and ValueError from the section for impossible dimensions."""
