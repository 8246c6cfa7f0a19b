"""Public models from outside the project: nothing lost, nothing damaged, and values worked out by hand.

The files lie beside the project and are not part of it; without them these tests are skipped.
"""

import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from takeoff.ifc.reader import read
from takeoff.sections import loops
from takeoff.settings import Settings

FOLDER = Path(__file__).parents[2].parent / "shared" / "models"
FILES = sorted(FOLDER.glob("*.ifc"))
READ = (
    "BEAM", "BEAMSTANDARDCASE", "COLUMN", "COLUMNSTANDARDCASE", "MEMBER", "MEMBERSTANDARDCASE", "PLATE",
    "PLATESTANDARDCASE", "BUILDINGELEMENTPROXY", "DISCRETEACCESSORY", "PILE", "FASTENER", "MECHANICALFASTENER",
)  # fmt: skip

pytestmark = pytest.mark.skipif(not FILES, reason="the public models are not beside the project")


@pytest.fixture(scope="module")
def models():
    known = {}

    def get(name):
        if name not in known:
            known[name] = read(FOLDER / name, Settings())
        return known[name]

    return get


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_element_is_there_once_and_says_what_becomes_of_it(models, path):
    text = path.read_text(encoding="latin-1")
    pattern = rf"=\s*IFC(?:{'|'.join(READ)})\s*\(\s*'([^']+)'"
    written = Counter(re.findall(pattern, text, re.IGNORECASE))
    model, queries = models(path.name)
    found = Counter([m.global_id for m in model.members] + [f.global_id for f in model.fasteners])
    assert found == written
    assert "part-damaged" not in {q.code for q in queries}
    for part in (*model.members, *model.fasteners):
        assert part.status in ("listed", "held", "left out", "bought out")
        assert bool(part.reason) == (part.status != "listed"), part
    held = {m.global_id for m in model.members if m.status == "held"}
    asked = {i for q in queries if q.severity == "hold" for i in q.global_ids}
    assert held <= asked
    for member in model.members:
        if member.body is not None:
            assert np.allclose(member.frame.axes @ member.frame.axes.T, np.eye(3), atol=1e-9)
            assert np.linalg.det(member.frame.axes) == pytest.approx(1)
            assert member.body.length > 0


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_same_file_is_read_the_same(models, path):
    again, queries = read(path, Settings())
    model, before = models(path.name)
    assert queries == before
    assert [repr(m) for m in again.members] == [repr(m) for m in model.members]


def by_text(model, text):
    return [m for m in model.members if m.section_text == text]


def test_clipped_plates_and_angles(models):
    """angles_and_plates_small.ifc, worked out from the entities by hand."""
    model, _ = models("angles_and_plates_small.ifc")
    assert Counter(m.body.section.shape for m in model.members) == {"angle": 4, "plate": 6, "I": 3, "RHS": 1}
    assert {m.grade for m in model.members} == {"A36", "A992", "A500-GR.B"}
    # #102: a rectangle 120.65 x 318.8494 with two corners cut off by 25.4
    for member in by_text(model, "PL19.1"):
        body = member.body
        assert (body.length, body.section.h, body.section.tw) == pytest.approx((318.8494, 120.65, 19.1), abs=1e-3)
        corners = [(v.x, v.across, v.bulge) for v in body.outline]
        assert loops.area(corners) == pytest.approx(120.65 * 318.8494 - 25.4**2, rel=1e-6)
    # #287: a plain rectangle
    for member in by_text(model, "PL9.5")[:1]:
        assert member.body.section.tw == pytest.approx(9.5)
    holes = [h for m in model.members for h in m.holes]
    assert holes or any(m.problems for m in model.members)


def test_a_mirrored_angle_has_its_heel_where_the_standard_puts_it(models):
    """mirrored_profiles.ifc, #40, in inches: the derived profile turns x about, so its heel is at (2, -3).

    Its placements then take the heel to (2219.8125, y, 4213.8125), leg A down, leg B toward -X, the
    extrusion along Y from -3 to 3: x = u x v runs toward -Y and starts at y = 3.
    """
    model, _ = models("mirrored_profiles.ifc")
    (member,) = by_text(model, "L6x4x1/2")
    assert (member.body.section.h, member.body.section.b) == pytest.approx((152.4, 101.6))
    assert member.body.length == pytest.approx(152.4)
    assert member.frame.origin / 25.4 == pytest.approx([2219.8125, 3, 4213.8125], abs=1e-6)
    assert member.frame.axes == pytest.approx(np.array([[0, -1, 0], [-1, 0, 0], [0, 0, -1.0]]), abs=1e-9)


def test_marks_grades_and_assemblies_of_the_portal_frame(models):
    model, queries = models("portal_frame_marks.ifc")
    assert Counter(m.mark for m in model.members) == {
        "1001": 3, "1002": 3, "1003": 3, "1004": 2, "1005": 2, "1006": 2, "1007": 4, "1008": 2,
    }  # fmt: skip
    assert {m.grade for m in model.members} == {"S275J0"}
    assert Counter(a.mark for a in model.assemblies) == Counter(m.mark for m in model.members)
    assert {m.assembly for m in model.members} == {a.global_id for a in model.assemblies}
    assert queries == ()
    # lengths stated by the file's own quantities for these marks
    assert {round(m.body.length, 3) for m in model.members if m.mark == "1008"} == {7200.0}


def test_what_is_not_steel_is_left_out_with_its_material(models):
    model, _ = models("stairs_embeds_breps.ifc")
    assert all(m.status != "listed" for m in model.members)
    reasons = Counter(m.reason for m in model.members if m.status == "left out")
    assert reasons["made of concrete"] == 15
    model, _ = models("grid_placement.ifc")
    assert {m.reason for m in model.members} == {"made of concrete"}


def test_flats_named_in_another_language(models):
    model, _ = models("bolt_groups_excerpt.ifc")
    strips = [m for m in model.members if m.section_text.startswith("STRIP15*100") and m.body]
    assert strips
    assert {m.body.section.designation for m in strips} == {"FL 100x15"}
    # 24 nuts, of which 8 stand on the axes of bolts that are drawn
    joined = [m for m in model.members if m.reason.startswith("a nut of the bolt ")]
    assert {m.status for m in joined} == {"left out"}
    assert len(joined) == 8
    assert Counter(m.status for m in model.members)["bought out"] == 16
    bolts = {f.global_id: f for f in model.fasteners}
    owners = Counter(m.reason.split(" ")[5].rstrip(",") for m in joined)
    # two groups of two bolts M10, with a nut under either end of each; the M10 nuts round rods of 12 mm join none
    assert {(len(bolts[owner].bolts), bolts[owner].diameter, many) for owner, many in owners.items()} == {(2, 10.0, 4)}
    assert {bolts[owner].nuts for owner in owners} == {2}


def test_curved_and_tapered_members_are_held_not_guessed(models):
    for name, words in (
        ("beam_tapered_revolved.ifc", "tapering"),
        ("beams_curved_path.ifc", "turned about an axis"),
    ):
        model, _ = models(name)
        held = [m for m in model.members if m.status == "held"]
        assert len(held) == 1
        assert words in held[0].reason
        assert held[0].body is None or held[0].problems
