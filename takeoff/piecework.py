"""From a group of like members to the piece that the shop makes: holes numbered, cuts listed, checked.

The piece stands in its canonical frame; the frames of its members say how each of them lies in the model.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import cast

from takeoff.cuts import cuts_of, face_outlines
from takeoff.gauges import gauge_lines
from takeoff.holerows import DIAMETER_SOURCES, KINDS, SOURCES, SUNK
from takeoff.identity import Group, Marking, paired
from takeoff.rules.clearances import size_name
from takeoff.sections.shapes import faces
from takeoff.steel import Cut, Frame, Hole, Member, Piece
from takeoff.turned import (
    ACROSS,
    ANGLE,
    BOLT,
    DEPTH,
    FACE,
    FAR,
    KIND,
    NEAR,
    SIDE,
    SIZE,
    SLOT,
    WIDTH,
    X,
    turn_body,
    turn_features,
    turn_frames,
)

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

_SIDES: Mapping[float, str] = {NEAR: "near", FAR: "far"}


def make_pieces(groups: Sequence[Group], marking: Marking, members: Sequence[Member]) -> tuple[Piece, ...]:
    """Pieces in the order of the groups, not yet checked or weighed."""
    return tuple(_piece(number, groups, marking, members) for number in range(len(groups)))


def _piece(number: int, groups: Sequence[Group], marking: Marking, members: Sequence[Member]) -> Piece:
    group = groups[number]
    shape = group.shape
    body = turn_body(shape.body, shape.notches, group.turn)
    frames = turn_frames([cast(Frame, members[i].frame) for i, _, _ in group.members], [t for _, t, _ in group.members])
    opposite = group.opposite
    mate = marking.absent_mates.get(number, "")
    if opposite is not None and opposite != number:
        mate = marking.marks[opposite]
    cuts: tuple[Cut, ...] = cuts_of(body)
    return Piece(
        mark=marking.marks[number],
        section=shape.section,
        grade=shape.grade,
        finish=shape.finish,
        length=shape.length,
        holes=_holes(group),
        cuts=cuts,
        faces=faces(shape.section),
        outlines=face_outlines(body),
        outline=body.outline,
        members=tuple(i for i, _, _ in group.members),
        frames=tuple(frames),
        opposite_hand_of=mate,
        model_marks=marking.model_marks[number],
        model_sections=tuple(sorted({members[i].section_text for i, _, _ in group.members if members[i].section_text})),
        spread=group.spread,
    )


def _holes(group: Group) -> tuple[Hole, ...]:
    """The piece's holes in running order, face by face, with labels and gauge lines."""
    origins = _origins(group)
    features = group.rows[: len(origins)]
    walls = faces(group.shape.section)
    order = sorted(
        range(len(origins)),
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
        (diameter, made, size), feature = origins[k], features[k]
        name = walls[int(feature[FACE])].name
        counts[name] = counts.get(name, 0) + 1
        source = "+".join(word for word, bit in SOURCES.items() if made & bit)
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
                bolt=size_name(diameter) if diameter else "",
                source=source,
                kind=KINDS[int(feature[KIND])],
                diameter_source=DIAMETER_SOURCES[size],
                side=_SIDES[float(feature[SIDE])] if KINDS[int(feature[KIND])] in SUNK else "",
                depth=round(float(feature[DEPTH]), 4) if KINDS[int(feature[KIND])] == "blind" else 0.0,
            )
        )
    return tuple(found)


def _origins(group: Group) -> list[tuple[float, int, int]]:
    """For each hole its bolt's diameter and where it and its own diameter come from (see holerows.py).

    Features keep the order of the holes they came from. A remembered shape has the bolts that the model has now.
    """
    shape, rows = group.shape, group.rows
    order = list(range(len(shape.sources)))
    if group.lead is not None:
        shape, turn = group.lead
        rows = turn_features(shape.rows[: len(order)], turn, shape.girth)
        order = paired(group.rows[: len(order)], rows, shape.girth)
    return [(float(rows[k, BOLT]), *shape.sources[k]) for k in order]


def _clean(value: float) -> float:
    """Without the noise of the model's coordinates: to a ten-thousandth of a millimetre, and no -0."""
    return round(float(value), 4) + 0.0
