"""Bodies mapped with another scale along each axis: what the standard's definition makes of them.

ISO 16739-1, IfcCartesianTransformationOperator3DnonUniform: Scale applies to the first axis, Scale2 to the second and
Scale3 to the third, each Scale where it is left out.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from entity_scene import BOX_FACETS, Scene, box_points

from takeoff.ifc.bodies import Bodies
from takeoff.ifc.context import Unread
from takeoff.settings import Settings
from takeoff.steel import Body


class Mapped(Scene):
    def map(self, item: Any, scales: tuple[float, float | None, float | None], mirrored: bool = False) -> Any:
        shown = self.add("IfcShapeRepresentation", None, "Body", "SweptSolid", [item])
        source = self.add("IfcRepresentationMap", self.axes(), shown)
        second = self.way(0, -1 if mirrored else 1, 0)
        operator = self.add(
            "IfcCartesianTransformationOperator3DnonUniform",
            self.way(1, 0, 0), second, self.point(50, 60, 70), scales[0], self.way(0, 0, 1), *scales[1:],
        )  # fmt: skip
        return self.add("IfcMappedItem", source, operator)

    def angle(self, root: float | None = None) -> Any:
        return self.extruded(self.add("IfcLShapeProfileDef", "AREA", None, None, 100.0, 65.0, 8.0, root), 500)

    def cut(self, item: Any) -> Any:
        plane = self.add("IfcPlane", self.axes((0, 0, 400), z=(0, 0.6, 0.8)))
        half = self.add("IfcHalfSpaceSolid", plane, False)
        return self.add("IfcBooleanClippingResult", "DIFFERENCE", item, half)

    def read(self, item: Any) -> tuple[Body, Any]:
        body, place, _ = Bodies(self.ctx, Settings()).read(item, "")
        assert np.allclose(place[:3, :3].T @ place[:3, :3], np.eye(3), atol=1e-9)
        assert np.linalg.det(place[:3, :3]) == pytest.approx(1.0)
        return body, place


@pytest.mark.parametrize("drawn", ["extruded", "faceted"])
@pytest.mark.parametrize(
    ("scales", "sizes"),
    [
        ((1.0, None, None), (8, 60, 500)),
        ((2.0, None, None), (16, 120, 1000)),
        ((1.0, 1.0, 2.0), (8, 60, 1000)),
        ((1.0, 2.0, 1.0), (8, 120, 500)),
        ((2.0, 1.0, 1.0), (16, 60, 500)),
    ],
)
def test_a_box_is_stretched_alike_however_it_is_drawn(drawn: str, scales: Any, sizes: Any) -> None:
    scene = Mapped()
    if drawn == "faceted":
        item = scene.brep(box_points((8, 60, 500), (-4, -30, 0)), BOX_FACETS)
    else:
        item = scene.extruded(scene.rectangle(8, 60), 500)
    body, place = scene.read(scene.map(item, scales))
    assert (body.section.tw, body.section.h, body.length) == pytest.approx(sizes)
    # the middle of the drawn box goes to the middle of the stretched one
    here = place[:3, :3] @ (body.length / 2, body.section.tw / 2, body.section.h / 2) + place[:3, 3]
    assert here == pytest.approx((50, 60, 70 + sizes[2] / 2))


@pytest.mark.parametrize("mirrored", [False, True])
def test_an_angle_stretched_along_itself_is_a_longer_one_and_its_cut_leans_less(mirrored: bool) -> None:
    scene = Mapped()
    body, _ = scene.read(scene.map(scene.cut(scene.angle(10.0)), (1.0, 1.0, 2.0), mirrored))
    # the cut falls by 0.6/0.8 over the depth of 100, about the middle: 37.5 to either side of 400, doubled
    assert (body.section.designation, body.length) == ("L 100x65x8", pytest.approx(875))
    (plane,) = body.left + body.right
    slope = np.hypot(plane.normal[1], plane.normal[2]) / abs(plane.normal[0])
    assert slope == pytest.approx(1.5)


def test_what_a_stretch_makes_unlike_any_section_is_held_with_the_reason() -> None:
    scene = Mapped()
    with pytest.raises(Unread, match=r"legs are 8\.0 and 16\.0 mm thick"):
        scene.read(scene.map(scene.angle(), (1.0, 2.0, 1.0)))
    scene = Mapped()
    with pytest.raises(Unread, match="its arcs"):
        scene.read(scene.map(scene.angle(10.0), (1.0, 2.0, 1.0)))
    scene = Mapped()
    with pytest.raises(Unread, match="its arcs"):
        scene.read(scene.map(scene.extruded(scene.circle(20), 500), (1.0, 2.0, 1.0)))
    scene = Mapped()
    body, _ = scene.read(scene.map(scene.extruded(scene.circle(20), 500), (1.0, 1.0, 2.0)))
    assert (body.section.shape, body.section.h, body.length) == ("round", 20, 1000)
