"""From a group of like members to the piece that the shop makes: holes numbered, cuts listed, checked.

The piece stands in its canonical frame; the frames of its members say how each of them lies in the model.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import cast

from takeoff.cuts import cuts_of, face_outlines
from takeoff.gauges import gauge_lines
from takeoff.holerows import DIAMETER_SOURCES, KINDS, SOURCES, Holes
from takeoff.identity import Group, Marking
from takeoff.rules.clearances import size_name
from takeoff.sections.shapes import faces
from takeoff.steel import Cut, Frame, Hole, Member, Piece
from takeoff.turned import ACROSS, ANGLE, FACE, SIZE, SLOT, WIDTH, X, turn_body, turn_frames

FACE_LETTERS: Mapping[str, str] = {
    "A": "A",
    "B": "B",
    "web": "W",
    "top": "T",
    "bottom": "U",
    "stem": "S",
    "face": "F",
    "front": "F",
    "back": "K",
    "wall": "R",
}
"""What a hole's label begins with: the leg's letter, else one letter a face (U: underside, K: back)."""


def make_pieces(
    groups: Sequence[Group], marking: Marking, members: Sequence[Member], holes: Holes
) -> tuple[Piece, ...]:
    """Pieces in the order of the groups, not yet checked or weighed."""
    return tuple(_piece(number, groups, marking, members, holes) for number in range(len(groups)))


def _piece(number: int, groups: Sequence[Group], marking: Marking, members: Sequence[Member], holes: Holes) -> Piece:
    group = groups[number]
    shape = group.shape
    body = turn_body(shape.body, shape.notches, group.turn)
    frames = turn_frames([cast(Frame, members[i].frame) for i, _, _ in group.members], [t for _, t, _ in group.members])
    opposite = group.opposite
    cuts: tuple[Cut, ...] = cuts_of(body)
    return Piece(
        mark=marking.marks[number],
        section=shape.section,
        grade=shape.grade,
        finish=shape.finish,
        length=shape.length,
        holes=_holes(group, holes),
        cuts=cuts,
        faces=faces(shape.section),
        outlines=face_outlines(body),
        outline=body.outline,
        members=tuple(i for i, _, _ in group.members),
        frames=tuple(frames),
        opposite_hand_of=marking.marks[opposite] if opposite is not None and opposite != number else "",
        model_marks=marking.model_marks[number],
        model_sections=tuple(sorted({members[i].section_text for i, _, _ in group.members if members[i].section_text})),
        spread=group.spread,
    )


def _holes(group: Group, holes: Holes) -> tuple[Hole, ...]:
    """The piece's holes in running order, face by face, with labels and gauge lines.

    Features keep the order of the rows they came from, so the rows tell where each hole comes from.
    """
    mine = holes.rows[holes.rows["member"] == group.shape.members[0]]
    features = group.rows[: len(mine)]
    walls = faces(group.shape.section)
    order = sorted(
        range(len(mine)),
        key=lambda k: (
            features[k, FACE], round(features[k, X], 2), round(features[k, ACROSS], 2), features[k, SIZE],
        ),
    )  # fmt: skip
    lines = {
        face: gauge_lines(features[k, ACROSS] for k in order if features[k, FACE] == face)
        for face in {float(features[k, FACE]) for k in order}
    }
    found = []
    counts: dict[str, int] = {}
    for k in order:
        row, feature = mine[k], features[k]
        name = walls[int(feature[FACE])].name
        counts[name] = counts.get(name, 0) + 1
        source = "+".join(word for word, bit in SOURCES.items() if row["source"] & bit)
        line = min(
            range(len(lines[float(feature[FACE])])),
            key=lambda n: abs(lines[float(feature[FACE])][n] - feature[ACROSS]),
        )
        found.append(
            Hole(
                label=f"{FACE_LETTERS[name]}{counts[name]}",
                face=name,
                x=_clean(feature[X]),
                across=_clean(feature[ACROSS]),
                diameter=float(feature[SIZE]),
                slot_length=float(feature[SLOT]),
                slot_angle=float(feature[ANGLE]),
                width=float(feature[WIDTH]),
                gauge_line=line + 1,
                bolt=size_name(float(row["bolt"])) if row["bolt"] else "",
                source=source,
                kind=KINDS[int(row["kind"])],
                diameter_source=DIAMETER_SOURCES[int(row["diameter_source"])],
            )
        )
    return tuple(found)


def _clean(value: float) -> float:
    """Without the noise of the model's coordinates: to a ten-thousandth of a millimetre, and no -0."""
    return round(float(value), 4) + 0.0
