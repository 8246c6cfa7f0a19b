"""Mirrored and derived profiles against the same part drawn as facets: the hand by the standard's definition.

ISO 16739-1: a derived profile is its parent under the operator, so that an angle mirrored about its own y axis
has leg B where -x was. The facets are laid down by hand here; the geometry kernel draws these parts unmirrored.
"""

import numpy as np
import pytest
from drawn_meshes import circle, pierced

from takeoff.ifc.profile_writer import Ring
from takeoff.ifc.writer import ModelWriter, frame
from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import Frame

ANGLE = [(0, 0), (65, 0), (65, 8), (8, 8), (8, 100), (0, 100)]
HOLES = [
    (5, 3, [(x, 100 - s) for x, s in circle(18, 60, 55)][::-1], 8),
    (0, 2, circle(14, 90, 35), 8),
]
"""Leg A at x 60, across 55; leg B at x 90, across 35."""


def openings(model, part, hand):
    """The same two holes as openings; ``hand`` -1: leg B lies along -u of the part's frame."""
    x, u, v = part.frame.axes
    leg_a = Frame(part.frame.origin - 50 * u, np.array([x, u, v]))
    model.opening(part, Ring(60, 55, 18), leg_a, 100)
    leg_b = Frame(part.frame.origin - 50 * v, np.array([x, v, hand * u]))
    model.opening(part, Ring(90, 35, 14), leg_b, 100)


def drawn(model, at, hand):
    mesh = pierced(ANGLE, 500, HOLES)
    points = mesh.array * (1, hand, 1)
    # one ring a facet: the writer's breps have no bounds within bounds
    triangles = [ring for facet in mesh.facets for ring in bridged(facet, mesh.array)]
    order = (lambda ring: ring) if hand > 0 else (lambda ring: ring[::-1])
    return model.mesh(points, [list(order(ring)) for ring in triangles], at)


def bridged(facet, points):
    """A facet with holes as one ring that runs to each hole and back."""
    outer = list(facet[0])
    for hole in facet[1:]:
        gaps = np.linalg.norm(points[outer][:, None] - points[list(hole)][None], axis=2)
        i, j = np.unravel_index(int(gaps.argmin()), gaps.shape)
        outer = [*outer[: i + 1], *hole[j:], *hole[: j + 1], *outer[i:]]
    return [tuple(outer)]


def profiles(writer):
    angle = writer.profiles.angle(100, 65, 8)
    return {
        "plain": (angle, 1),
        "mirrored": (writer.profiles.mirrored(angle), -1),
        "derived": (writer.profiles.derived(angle, (-1, 0), (0, 1)), -1),
        "twice": (writer.profiles.derived(writer.profiles.derived(angle, (-1, 0), (0, 1)), (-1, 0), (0, 1)), 1),
    }


@pytest.mark.parametrize("name", ["plain", "mirrored", "derived", "twice"])
@pytest.mark.parametrize("style", ["z", "-z"])
def test_a_mirrored_profile_is_the_hand_of_its_faceted_twin(tmp_path, name, style):
    writer = ModelWriter("IFC4")
    profile, hand = profiles(writer)[name]
    at = [frame((0, 3000 * k, 0), (1, 2, 0.5), (-0.5, 0.0, 1)) for k in range(3)]
    part = writer.member(profile, at[0], 500, style=style)
    openings(writer, part, hand)
    twin, opposite = drawn(writer, at[1], hand), drawn(writer, at[2], -hand)
    taken = take_off([writer.save(tmp_path / "m.ifc")], Settings())
    mark = {m.global_id: mark for m, mark in zip(taken.model.members, taken.member_marks, strict=True)}
    assert {m.status for m in taken.model.members} == {"listed"}, [m.reason for m in taken.model.members]
    assert mark[part.global_id] == mark[twin.global_id] != mark[opposite.global_id]
    by_mark = {piece.mark: piece for piece in taken.pieces}
    assert by_mark[mark[opposite.global_id]].opposite_hand_of == mark[twin.global_id]
    piece = by_mark[mark[twin.global_id]]
    assert (piece.quantity, len(piece.holes)) == (2, 2)
