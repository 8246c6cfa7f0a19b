"""Every public model near the project: read without a traceback, every element accounted for, sums that hold."""

from __future__ import annotations

from collections import Counter

import ifcopenshell
import pytest
from real_models import model_path, taken

from takeoff.steel import BOUGHT_OUT, HELD, LEFT_OUT, LISTED

MODELS = (
    "angles_and_plates_small.ifc",
    "beam_tapered_revolved.ifc",
    "beams_cardinal_points.ifc",
    "beams_curved_path.ifc",
    "beams_profile_usage.ifc",
    "bolt_groups_excerpt.ifc",
    "design_transfer_ifc4.ifc",
    "grid_placement.ifc",
    "handrails_openings.ifc",
    "mirrored_profiles.ifc",
    "portal_frame_marks.ifc",
    "stairs_embeds_breps.ifc",
    "structure_tessellated_ifc4.ifc",
)
ELEMENTS = (
    "IfcBeam", "IfcColumn", "IfcMember", "IfcPlate", "IfcMechanicalFastener", "IfcFastener",
    "IfcDiscreteAccessory", "IfcBuildingElementProxy",
)  # fmt: skip
"""What the contract promises to account for; subtypes (IfcBeamStandardCase ...) included."""
STATUSES = {LISTED, HELD, LEFT_OUT, BOUGHT_OUT}


def elements(name: str) -> Counter[str]:
    """GlobalIds of a file's elements, read with the library alone."""
    model = ifcopenshell.open(str(model_path(name)))
    return Counter(e.GlobalId for kind in ELEMENTS for e in model.by_type(kind))


@pytest.mark.parametrize("name", MODELS)
def test_every_element_is_accounted_for_once(name: str) -> None:
    wanted = elements(name)
    takeoff = taken(name)
    found = Counter(m.global_id for m in takeoff.model.members)
    found += Counter(f.global_id for f in takeoff.model.fasteners)
    assert {g for g in wanted if g not in found} == set()
    assert {g: n for g, n in found.items() if n > 1} == {}
    for member, status, reason in zip(
        takeoff.model.members, takeoff.member_status, takeoff.member_reasons, strict=True
    ):
        assert status in STATUSES
        assert bool(reason) == (status != LISTED), (member.global_id, status, reason)
    listed = {row.fastener for row in takeoff.bolt_rows}
    assert listed == set(range(len(takeoff.model.fasteners)))
    for row in takeoff.bolt_rows:
        assert row.status in STATUSES
        assert row.reason or row.status == LISTED


@pytest.mark.parametrize("name", MODELS)
def test_balance(name: str) -> None:
    """The sums of the balance box, and each of them against the values it is made of."""
    takeoff = taken(name)
    b = takeoff.balance
    assert b["parts_in_model"] == len(takeoff.model.members)
    assert b["parts_in_model"] == sum(b[f"parts_{s}"] for s in ("listed", "held", "bought_out", "left_out"))
    assert b["fasteners_listed"] == b["fasteners_in_model"] == len(takeoff.model.fasteners)
    assert b["plies_over_bolts"] == b["bolt_holes"] + b["bolt_holes_merged"]
    assert b["holes_by_pieces"] == b["holes_by_members"]
    assert b["net_weight_kg"] == pytest.approx(b["net_weight_from_members_kg"], abs=1e-6)
    assert b["gross_weight_kg"] == pytest.approx(b["gross_weight_from_members_kg"], abs=1e-6)
    assert b["net_weight_kg"] == pytest.approx(b["net_weight_from_assemblies_kg"], abs=1e-6)
    mine = sum(p.quantity * p.net for p in takeoff.pieces)
    assert b["net_weight_kg"] == pytest.approx(mine, abs=1e-6)
    # A member with a body stands in exactly one piece; one without stands in none.
    places = Counter(i for p in takeoff.pieces for i in p.members)
    assert set(places.values()) <= {1}
    for i, (status, mark) in enumerate(zip(takeoff.member_status, takeoff.member_marks, strict=True)):
        assert (places[i] == 1) == bool(mark)
        if status == LISTED:
            assert mark
        if status in (LEFT_OUT, BOUGHT_OUT):
            assert not mark


@pytest.mark.parametrize("name", MODELS)
def test_pieces_are_sound(name: str) -> None:
    """Marks differ, opposite hands name each other, net is no more than gross, holes of listed pieces lie on a face."""
    takeoff = taken(name)
    pieces = {p.mark: p for p in takeoff.pieces}
    assert len(pieces) == len(takeoff.pieces)
    for piece in takeoff.pieces:
        assert 0 < piece.net <= piece.gross + 1e-9, piece.mark
        if piece.opposite_hand_of:
            assert pieces[piece.opposite_hand_of].opposite_hand_of == piece.mark
        assert bool(piece.reasons) == (piece.status == HELD)
        faces = {f.name: f for f in piece.faces}
        assert len({h.label for h in piece.holes}) == len(piece.holes)
        if piece.status == LISTED:
            for hole in piece.holes:
                face = faces[hole.face]
                assert 0 <= hole.x <= piece.length, (piece.mark, hole)
                assert face.low - 1e-6 <= hole.across <= face.high + 1e-6, (piece.mark, hole)


def properties_of(entity: ifcopenshell.entity_instance) -> dict[str, float]:
    """Numbers of an entity's property sets by property name, read with the library alone."""
    found: dict[str, float] = {}
    for relation in entity.IsDefinedBy:
        if relation.is_a("IfcRelDefinesByProperties"):
            for prop in getattr(relation.RelatingPropertyDefinition, "HasProperties", ()) or ():
                value = getattr(getattr(prop, "NominalValue", None), "wrappedValue", None)
                if isinstance(value, int | float):
                    found.setdefault(prop.Name, float(value))
    return found


def test_bolts_per_fastener_equal_the_models_count() -> None:
    """bolt_groups_excerpt: one entity is a group of 1 to 46 bolts; `Bolt count` says how many."""
    name = "bolt_groups_excerpt.ifc"
    takeoff = taken(name)
    model = ifcopenshell.open(str(model_path(name)))
    drawn = {f.global_id: len(f.bolts) for f in takeoff.model.fasteners}
    counts = {
        e.GlobalId: int(numbers["Bolt count"])
        for e in model.by_type("IfcMechanicalFastener")
        if "Bolt count" in (numbers := properties_of(e))
    }
    assert len(counts) > 10
    assert {g: (drawn[g], n) for g, n in counts.items() if drawn[g] != n} == {}
    rows: Counter[str] = Counter()
    for row in takeoff.bolt_rows:
        rows[takeoff.model.fasteners[row.fastener].global_id] += row.bolts
    assert {g: rows[g] for g in counts} == counts


def test_hole_diameters_equal_the_models_property() -> None:
    """bolt_groups_excerpt: `Bolt hole diameter` is the hole's, whatever the shank was drawn with."""
    name = "bolt_groups_excerpt.ifc"
    takeoff = taken(name)
    model = ifcopenshell.open(str(model_path(name)))
    stated = {
        e.GlobalId: value
        for e in model.by_type("IfcMechanicalFastener")
        if (value := properties_of(e).get("Bolt hole diameter", 0.0)) > 0
    }
    allowed: dict[str, set[float]] = {}
    for passage in takeoff.passages:
        fastener = takeoff.model.fasteners[passage.fastener]
        if fastener.global_id in stated:
            for ply in passage.plies:
                mark = takeoff.member_marks[ply.member]
                allowed.setdefault(mark, set()).add(round(stated[fastener.global_id], 2))
    checked = 0
    for piece in takeoff.pieces:
        for hole in piece.holes:
            if hole.diameter_source == "property":
                assert round(hole.diameter, 2) in allowed[piece.mark], (piece.mark, hole)
                checked += 1
    assert checked > 20
