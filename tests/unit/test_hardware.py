"""Nuts, washers, step bolts, anchors and rods as entities of their own: each counted once, where it belongs."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from build import Build

from takeoff.ifc.fasteners import fastener_kind
from takeoff.ifc.reader import read
from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import Member, Model

SETTINGS = Settings()


def lying(part_at: tuple[float, float, float]) -> dict[str, object]:
    """Where a nut or rod begins that runs along model y."""
    return {"origin": part_at, "x": (0, 1, 0), "v": (0, 0, 1), "material": None}


def flats(model: Build, grip: float = 20.0) -> None:
    """Two flats of half the grip, on each other: steel from y = 0 to -grip, bolts run along -y."""
    half = grip / 2
    model.flat((0, -half, 0), size=(80, half))
    model.flat((0, -grip, 0), size=(80, half))


def job(model: Build, path: Path) -> tuple[Model, dict[str, int]]:
    found, queries = read(model.save(path / "m.ifc"), SETTINGS)
    return found, Counter(q.code for q in queries)


def nut(model: Build, x: float, y: float, z: float, name: str, across: float = 27.7, high: float = 13.0, **named):
    """A hexagon nut or a round washer along y, as a part of another class."""
    profile = (
        model.profiles.hollow_circle(across, (across - 17) / 2)
        if "washer" in name.lower()
        else model.profiles.closed([(across / 2 * np.cos(a), across / 2 * np.sin(a)) for a in np.arange(6) * np.pi / 3])
    )
    return model.member(profile, **lying((x, y, z)), length=high, name=name, **named)


@pytest.mark.parametrize("kind", ["IfcBeam", "IfcBuildingElementProxy", "IfcDiscreteAccessory"])
def test_nuts_and_washers_drawn_as_parts_are_counted_with_their_bolts(tmp_path: Path, kind: str) -> None:
    model = Build()
    flats(model)
    bolts = model.bolts([((x, 0, 40), (0, -1, 0)) for x in (50, 120)], 16, 20, body="shank", length=50)
    for x in (50, 120):
        nut(model, x, -36, 40, "Nut M16", kind=kind)
        nut(model, x, -23, 40, "Washer M16", across=30, high=3, kind=kind)
    stray = nut(model, 300, -36, 40, "Nut M16", kind=kind)
    found, asked = job(model, tmp_path)
    (fastener,) = found.fasteners
    assert (fastener.global_id, fastener.nuts, fastener.washers) == (bolts.global_id, 1, 1)
    assert asked["nuts-drawn-apart"] == 1
    reasons = Counter((m.status, m.reason.split(" of ")[0]) for m in found.members if m.status != "listed")
    assert reasons == {
        ("left out", "a nut"): 2, ("left out", "a washer"): 2, ("bought out", "nut drawn as a part"): 1,
    }  # fmt: skip
    taken = take_off([tmp_path / "m.ifc"], SETTINGS)
    assert [(line.quantity, line.nuts, line.washers) for line in taken.bolt_lines] == [(2, 2, 2)]
    # the stray nut once, the joined ones not at all
    assert [(b.name, b.quantity, b.global_ids) for b in taken.bought_out] == [("Nut M16", 1, (stray.global_id,))]


def test_nuts_that_are_fasteners_of_their_own(tmp_path: Path) -> None:
    model = Build()
    flats(model)
    model.bolt((50, 0, 40), (0, -1, 0), 16, 20, body="shank", length=50)
    for y in (-23, -36):
        nut(model, 50, y, 40, "Nut M16", kind="IfcMechanicalFastener")
    found, _ = job(model, tmp_path)
    by_kind = {f.kind: f for f in found.fasteners}
    assert by_kind["bolt"].nuts == 2
    assert (by_kind["nut"].status, by_kind["nut"].bolts) == ("left out", ())
    assert by_kind["nut"].reason.startswith("a nut of the bolt")


@pytest.mark.parametrize(
    ("stated", "counted", "code"),
    [(1, 1, ""), (0, 1, "nuts-more-drawn"), (2, 2, "")],
)
def test_stated_nuts_beside_drawn_ones(tmp_path: Path, stated: int, counted: int, code: str) -> None:
    model = Build()
    flats(model)
    model.bolt((50, 0, 40), (0, -1, 0), 16, 20, body="shank", length=50, psets={"Bolt": {"Nut count": stated}})
    nut(model, 50, -33, 40, "Nut M16")
    found, asked = job(model, tmp_path)
    (fastener,) = found.fasteners
    assert fastener.nuts == counted
    assert [c for c in asked if c.startswith("nuts-")] == ([code] if code else [])


def test_a_nut_beside_the_axis_or_far_along_it_joins_no_bolt(tmp_path: Path) -> None:
    model = Build()
    flats(model)
    model.bolt((50, 0, 40), (0, -1, 0), 16, 20, body="shank", length=50)
    nut(model, 60, -36, 40, "Nut M16")
    nut(model, 50, -120, 40, "Nut M16")
    found, _ = job(model, tmp_path)
    assert [f.nuts for f in found.fasteners] == [None]
    assert [m.status for m in found.members if m.status != "listed"] == ["bought out"] * 2


def test_nuts_on_a_rod_are_bought_with_it_and_not_lost(tmp_path: Path) -> None:
    model = Build()
    flats(model)
    model.member(model.profiles.circle(16), **lying((50, -60, 40)), length=100, name="Threaded rod M16", kind="IfcBeam")
    for y in (-36, 3):
        nut(model, 50, y, 40, "Nut M16")
    taken = take_off([model.save(tmp_path / "m.ifc")], SETTINGS)
    assert [(b.name, b.size, b.quantity) for b in taken.bought_out] == [
        ("Nut M16", "", 2), ("Threaded rod M16", "16 x 100", 1),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "Step bolt M16x180", "STEPBOLT M16", "Climbing bolts M20", "Steigbolzen M20x200", "Steigschraube M16",
        "boulon d'échelon M16", "Klimbout M16", "perno de escalamiento M16", "Parafuso degrau M16",
        "bullone di salita M16", "śruba stopniowa M16", "klätterbult M16", "степ-болт М16",
    ],
)  # fmt: skip
def test_words_for_step_bolts(text: str) -> None:
    """Common practice of the languages, no source."""
    assert fastener_kind("IfcMechanicalFastener", "BOLT", text) == "step bolt"
    assert fastener_kind("IfcBeam", "", text) == "step bolt"


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Ankerstange M24", "anchor"), ("Holding-down bolt M30", "anchor"), ("śruba fundamentowa M24", "anchor"),
        ("chumbador M20", "anchor"), ("Ankerplatte 200x20", ""), ("tige filetée M16", "rod"),
        ("Barra filettata M20", "rod"), ("pręt gwintowany M12", "rod"), ("Stiftschraube M16", "stud"),
    ],
)  # fmt: skip
def test_words_for_anchors_rods_and_studs(text: str, kind: str) -> None:
    """Common practice of the languages, no source."""
    assert fastener_kind("IfcBeam", "", text) == kind


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("M16x50 8.8", "bolt"), ("M20x60-10.9", "bolt"), ("M 24 x 100 / 8.8", "bolt"),
        ("M12x11.8", ""), ("M8x6.5", ""), ("M16x50", ""), ("Plate M16x50 8.8", ""), ("Nut M16x50 8.8", "nut"),
    ],
)  # fmt: skip
def test_a_size_and_a_property_class_are_a_bolt_a_beam_by_its_mass_is_none(text: str, kind: str) -> None:
    """M12x11.8 and M8x6.5 are shapes of the AISC manual; property classes are those of ISO 898-1."""
    assert fastener_kind("IfcBuildingElementProxy", "", text) == kind


def test_a_step_bolts_nut_is_a_nut_and_a_stepped_bolt_is_a_bolt() -> None:
    assert fastener_kind("IfcBuildingElementProxy", "", "Nut for step bolt M16") == "nut"
    assert fastener_kind("IfcMechanicalFastener", "", "Bolt M16 step 2") == "bolt"


@pytest.mark.parametrize("kind", ["IfcMechanicalFastener", "IfcBuildingElementProxy"])
def test_step_bolts_keep_their_length_make_holes_and_are_listed_apart(tmp_path: Path, kind: str) -> None:
    model = Build()
    model.angle(legs=(100, 100, 10), length=2000)
    for x in (200, 600, 1000):
        model.bolts([((x, -150, 50), (0, 1, 0))], 16, 160, length=180, kind=kind, name="Step bolt M16x180")
    taken = take_off([model.save(tmp_path / "m.ifc")], SETTINGS)
    assert {(f.kind, f.length) for f in taken.model.fasteners} == {("step bolt", 180.0)}
    assert taken.bolt_lines == ()
    (line,) = taken.bought_out
    assert (line.name, line.size, line.quantity) == ("Step bolt M16x180", "16 x 180", 3)
    (piece,) = taken.pieces
    # EN 1090-2:2018 Table 11: a normal round hole of M16 is 18
    assert [(h.face, h.diameter, h.bolt) for h in piece.holes] == [("A", 18.0, "M16")] * 3


@pytest.mark.parametrize("name", ["Threaded rod M20", "Gewindestange M20", "DRAADSTANG M20", "Anchor M20", "Stud M20"])
@pytest.mark.parametrize("kind", ["IfcBeam", "IfcMember", "IfcBuildingElementProxy", "IfcMechanicalFastener"])
def test_a_rod_drawn_as_a_part_makes_the_holes_of_what_it_passes(tmp_path: Path, kind: str, name: str) -> None:
    model = Build()
    flats(model)
    rod = model.member(model.profiles.circle(20), **lying((80, -160, 40)), length=300, name=name, kind=kind)
    taken = take_off([model.save(tmp_path / "m.ifc")], SETTINGS)
    assert [m.global_id for m in taken.model.members if m.global_id == rod.global_id] == []
    (fastener,) = taken.model.fasteners
    assert (fastener.diameter, fastener.length) == (20.0, 300.0)
    assert {(h.diameter, h.bolt) for p in taken.pieces for h in p.holes} == {(22.0, "M20")}
    (line,) = taken.bought_out
    assert (line.size, line.quantity, line.global_ids) == ("20 x 300", 1, (rod.global_id,))
    assert "bought-length-drawn" in {q.code for q in taken.queries}
    assert taken.bolt_lines == ()


def test_an_anchor_that_is_no_round_stays_a_bought_out_part_with_its_size(tmp_path: Path) -> None:
    model = Build()
    part = model.flat(size=(60, 8), length=400, name="Anchor strap", material=None)
    taken = take_off([model.save(tmp_path / "m.ifc")], SETTINGS)
    (member,) = taken.model.members
    assert member.status == "bought out"
    assert [(b.name, b.size, b.global_ids) for b in taken.bought_out] == [
        ("Anchor strap", size_of(member), (part.global_id,))
    ]
    assert size_of(member)


def size_of(member: Member) -> str:
    assert member.body is not None
    return member.section_text or member.body.section.designation


def test_a_size_that_only_the_section_of_a_part_names(tmp_path: Path) -> None:
    model = Build()
    flats(model)
    profile = model.profiles.circle(18, name="BOLT M16*45")
    model.member(profile, **lying((80, -30, 40)), length=45, name="part 7", kind="IfcBeam")
    found, _ = job(model, tmp_path)
    (fastener,) = found.fasteners
    assert (fastener.kind, fastener.diameter, fastener.length, fastener.status) == ("bolt", 16.0, 45.0, "listed")


@pytest.mark.parametrize(
    ("drawn", "length", "bolt"), [(16, 50, True), (18, 50, True), (30, 50, False), (16, 900, False)]
)
def test_a_round_bar_called_by_a_bolts_size_is_that_bolt(
    tmp_path: Path, drawn: float, length: float, bolt: bool
) -> None:
    model = Build()
    flats(model)
    model.member(model.profiles.circle(drawn), **lying((80, -length, 40)), length=length, name="M16x50", kind="IfcBeam")
    found, _ = job(model, tmp_path)
    assert [(f.kind, f.diameter, f.length) for f in found.fasteners] == ([("bolt", 16.0, 50.0)] if bolt else [])
    assert len(found.members) + len(found.fasteners) == 3


def test_a_bought_out_part_has_the_size_that_its_object_type_names(tmp_path: Path) -> None:
    model = Build()
    flats(model)
    part = model.member(
        model.profiles.circle(20),
        **lying((300, -36, 40)),
        length=13,
        name="LIGGER",
        type_name="MOER_M10",
        kind="IfcBeam",
    )
    taken = take_off([model.save(tmp_path / "m.ifc")], SETTINGS)
    assert [(b.name, b.size, b.global_ids) for b in taken.bought_out] == [("LIGGER", "MOER_M10", (part.global_id,))]
