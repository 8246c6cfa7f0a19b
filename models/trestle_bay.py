"""A small trestle bay in one plane, with whole-millimetre positions, for counting by hand.

Axes: X across the bay, Y away from the viewer who stands in front of it, Z up. The plane
Y = 0 is the contact plane: posts and cap stand behind it, braces, horizontal and corner
gussets in front. Posts have their heels on (0, 0) and (2400, 0). See README.md.
"""

from __future__ import annotations

from pathlib import Path

from sections import section

from takeoff.ifc.writer import ModelWriter, Part, frame

X, Y, Z = (1, 0, 0), (0, 1, 0), (0, 0, 1)
WIDTH = 2400
S355, S235 = "S355J2", "S235JR"
LENGTHS: dict[tuple[int, float], float] = {
    (16, 13): 35, (16, 16): 40, (16, 20): 40, (16, 25): 45, (20, 17): 45, (20, 20): 45, (20, 24): 50,
}  # fmt: skip
"""Bolt length by size and grip, mm: room for a washer, a full nut and one pitch. Worked out in README.md."""


def write(path: Path) -> Path:
    """Write the trestle bay: 13 members, 26 bolts."""
    model = ModelWriter(name="Trestle bay")
    bay = model.assembly("Trestle bay", tag="TB1")

    def member(
        name: str, designation: str, origin: tuple[float, ...], x: object, v: object, length: float,
        grade: str = S355, tag: str | None = None, reference: str = "", kind: str = "IfcMember",
    ) -> Part:  # fmt: skip
        return model.member(
            section(model, designation), frame(origin, x, v), length, kind=kind, name=name, tag=tag,
            material=grade, assembly=bay,
            psets={f"Pset_{kind[3:]}Common": {"Reference": reference}} if reference else None,
        )  # fmt: skip

    def bolt(point: tuple[float, float, float], direction: tuple[int, int, int], size: int, grip: float) -> None:
        model.bolt(
            point, direction, size, grip, length=LENGTHS[size, grip], name=f"M{size}", assembly=bay, material="8.8",
            psets={"Fastening": {"Grade": "8.8", "Standard": "ISO 4017", "Nut count": 1, "Washer count": 1}},
        )  # fmt: skip

    # Posts: one leg in the plane of the bay, the other along Y; heels at the outer corners.
    post = "L100x100x10"
    member("Post", post, (0, 0, 0), Z, Y, 2400, tag="TP1", kind="IfcColumn")
    member("Post", post, (WIDTH, 0, 2400), (0, 0, -1), Y, 2400, tag="TP2", kind="IfcColumn")
    # Cap: back of the web on the contact plane, toes to the rear, between the posts.
    member("Cap beam", "UPN140", (110, 0, 2245), X, Z, 2180, reference="TC1", kind="IfcBeam")
    # Horizontal: long leg on the contact plane, heel on top, short leg to the front.
    member("Horizontal", "L75x50x6", (15, 0, 340), X, (0, 0, -1), 2370)
    member("Tie", "FL60x8", (25, 10, 270), X, Z, 2350, grade=S235)
    # Braces: slope 3 across to 4 up, heel on the lower side, outstanding leg to the front.
    # Bolt line from (40, 915) to (1105, 2335); the heel lies 35 mm to its lower side.
    start = (40 - 0.6 * 30 + 0.8 * 35, 0, 915 - 0.8 * 30 - 0.6 * 35)
    end = (start[0] + 0.6 * 1845, 0, start[2] + 0.8 * 1845)
    member("Brace", "L60x60x6", end, (-0.6, 0, -0.8), (-0.8, 0, 0.6), 1845)
    member("Brace", "L60x60x6", (WIDTH - start[0], 0, start[2]), (-0.6, 0, 0.8), (0.8, 0, 0.6), 1845)
    gusset = [(0, 0), (175, 0), (175, 140), (0, 140)]
    for left in (15, WIDTH - 190):
        model.plate(gusset, frame((left, -10, 2245), X, Z), 10, name="Gusset", tag="TG1", material=S355, assembly=bay)
    # Cleats outside the posts' rear legs, long leg up, on base plates whose top is Z = 0.
    base = [(0, 0), (240, 0), (240, 150), (0, 150)]
    member("Cleat", "L150x100x10", (0, 5, 0), Y, Z, 100)
    member("Cleat", "L150x100x10", (WIDTH, 105, 0), (0, -1, 0), Z, 100)
    for left in (-130, WIDTH - 110):
        model.plate(
            base, frame((left, -20, 0), X, Y), 15, name="Base plate", material=S235, assembly=bay,
        )  # fmt: skip

    for side in (False, True):

        def at(x: float, y: float, z: float, side: bool = side) -> tuple[float, float, float]:
            return (WIDTH - x if side else x, y, z)

        for z in (2285, 2345):
            bolt(at(55, -10, z), Y, 20, 20)
            bolt(at(150, -10, z), Y, 20, 17)
        bolt(at(55, -6, 300), Y, 20, 24)
        for x, z in ((40, 915), (70, 955)):
            bolt(at(x, -6, z), Y, 16, 16)
        for x, z in ((1075, 2295), (1105, 2335)):
            bolt(at(x, -6, z), Y, 16, 13)
        for z in (60, 110):
            bolt(at(-10, 55, z), (-1 if side else 1, 0, 0), 16, 20)
        for y in (35, 75):
            bolt(at(-60, y, 10), (0, 0, -1), 16, 25)
    return model.save(path)
