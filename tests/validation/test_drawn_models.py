"""Drawn bodies of public models against what the models themselves call the parts.

The files lie beside the project and are not part of it; without them these tests are skipped.
"""

import re
from pathlib import Path

import ifcopenshell
import pytest

from takeoff.ifc.reader import read
from takeoff.sections import tables
from takeoff.settings import Settings

FOLDER = Path(__file__).parents[2].parent / "shared" / "models"


def model_of(name):
    path = FOLDER / name
    if not path.exists():
        pytest.skip(f"{name} is not beside the project")
    return read(path, Settings())[0], ifcopenshell.open(str(path))


def numbers(text):
    return [float(n) for n in re.findall(r"\d+(?:\.\d+)?", text)]


def test_every_drawn_part_has_the_size_its_name_says():
    """``bolt_groups_excerpt.ifc``: ObjectType holds the designation the model was drawn from (open data, CC BY 4.0)."""
    model, file = model_of("bolt_groups_excerpt.ifc")
    checked = {}
    for member in model.members:
        if member.status == "bought out" or member.reason.startswith("a nut of the bolt"):
            continue
        text = file.by_guid(member.global_id).ObjectType or ""
        assert member.status == "listed", (text, member.reason)
        section = member.body.section
        sizes = numbers(text)
        kind = re.match(r"[A-Z]+", text)[0]
        if kind in ("STRIP", "PL"):  # thickness * width, the width before it was trimmed
            assert section.shape in ("flat", "plate"), text
            assert section.tw == pytest.approx(sizes[0], abs=0.02), text
            assert section.h <= max(sizes[1], member.body.length) + 0.02, text
        elif kind == "L":
            assert (section.shape, section.h, section.b, section.tw) == ("angle", *sizes), text
        elif kind == "K":
            side = sizes if len(sizes) == 3 else [sizes[0], *sizes]
            assert (section.shape, section.h, section.b, section.tw) == ("RHS", *side), text
        elif kind == "R":
            assert (section.shape, section.h) == ("round", sizes[0]), text
        elif kind == "B":
            assert (section.shape, section.h, section.tw) == ("CHS", *sizes), text
        else:
            assert tables.key(section.designation) == tables.key(text), text
        checked[kind] = checked.get(kind, 0) + 1
    assert sum(checked.values()) == 115
    assert set(checked) == {"STRIP", "PL", "L", "K", "R", "B", "HEA", "HEB"}


def test_built_up_shoes_are_held_saying_so():
    """``structure_tessellated_ifc4.ifc``: two shoes of welded sheet, drawn as one triangulated body each."""
    model, _ = model_of("structure_tessellated_ifc4.ifc")
    shoes = [m for m in model.members if m.name == "beam shoe"]
    assert [m.status for m in shoes] == ["held", "held"]
    assert all("section changes along its length" in m.reason for m in shoes)


def test_a_curved_beam_is_held_as_curved():
    model, _ = model_of("beams_curved_path.ifc")
    (held,) = (m for m in model.members if m.status == "held")
    assert "curved" in held.reason
