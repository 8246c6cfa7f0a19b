"""Between what the register remembers of a mark and the shapes that members are compared with.

A shape is compared and drawn as it is remembered, in the first run too: so the run that begins a register and the
one that finds it write the same lists.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from takeoff.identity import STORED_PLACES, Group, Known, Remembered, Shape, all_turns, rounded_section
from takeoff.released import Register, ReleasedPiece
from takeoff.settings import IdentitySettings
from takeoff.steel import Body, Notch, Plane, Section, Vec, Vertex
from takeoff.turned import COLUMNS, turn_body

DIRECTION_PLACES = 12


def known_shapes(register: Register) -> Known:
    """What the register remembers, for grouping: shapes by the number of their piece in it."""
    number = {piece.mark: k for k, piece in enumerate(register.pieces)}
    return Known(
        tuple(
            Remembered(shape_of(piece), piece.rules, number.get(piece.opposite_hand_of)) for piece in register.pieces
        ),
        register.sections,
    )


def shape_of(piece: ReleasedPiece) -> Shape:
    """A remembered piece as a shape, in its piece frame; its section's class is for grouping to set."""
    return Shape(
        section=piece.section,
        section_class=-1,
        grade=piece.grade,
        finish=piece.finish,
        length=piece.length,
        width=piece.section.h,
        rows=piece.rows,
        body=piece.body,
        notches=(),
        sources=piece.sources,
    )


def group_of(piece: ReleasedPiece) -> Group:
    """A remembered piece as a group without members: what a piece is made and drawn from."""
    shape = shape_of(piece)
    return Group(shape, _stay(shape), shape.rows)


def as_remembered(groups: Sequence[Group]) -> list[Group]:
    """The groups with their shapes as the register keeps them: new ones rounded, all in their piece frame.

    A known shape takes what the model's section has beside its dimensions (the table it is in, its mass), so that
    weights follow the settings of this run.
    """
    return [_kept(group) if group.known is not None else _new(group) for group in groups]


def _kept(group: Group) -> Group:
    assert group.lead is not None
    shape = group.shape
    now = rounded_section(group.lead[0].section)
    if dimensions(now) == dimensions(shape.section):
        shape.section, shape.body = now, replace(shape.body, section=now)
    return group


def _new(group: Group) -> Group:
    old = group.shape
    section = rounded_section(old.section)
    body = _rounded_body(turn_body(old.body, old.notches, group.turn), section)
    rows = np.round(group.rows, STORED_PLACES) + 0.0
    shape = replace(
        old, section=section, length=body.length, width=section.h, rows=rows, body=body, notches=(), members=[]
    )
    return replace(group, shape=shape, turn=_stay(shape), rows=rows, lead=(old, group.turn))


def _stay(shape: Shape) -> Any:
    """The turn that leaves a shape as it lies."""
    return all_turns(shape, np.zeros((0, COLUMNS)))[0]


def dimensions(section: Section) -> tuple[object, ...]:
    """What a section measures, without its name, its table, its area and its mass."""
    s = section
    return (s.shape, s.h, s.b, s.tw, s.tf, s.r1, s.r2, s.b2, s.tf2, s.slope, s.lip, s.outline)


def _rounded_body(body: Body, section: Section) -> Body:
    return Body(
        section,
        _round(body.length),
        left=tuple(_rounded_plane(plane) for plane in body.left),
        right=tuple(_rounded_plane(plane) for plane in body.right),
        outline=tuple(Vertex(_round(v.x), _round(v.across), _round(v.bulge, DIRECTION_PLACES)) for v in body.outline),
        notches=tuple(Notch(n.face, tuple((_round(x), _round(a)) for x, a in n.loop)) for n in body.notches),
    )


def _rounded_plane(plane: Plane) -> Plane:
    return Plane(_rounded_vector(plane.point, STORED_PLACES), _rounded_vector(plane.normal, DIRECTION_PLACES))


def _rounded_vector(vector: Vec, places: int) -> Vec:
    x, u, v = vector
    return _round(x, places), _round(u, places), _round(v, places)


def _round(value: float, places: int = STORED_PLACES) -> float:
    return round(float(value), places) + 0.0


def entry_of(group: Group, rules: IdentitySettings, mark: str, shown: str) -> ReleasedPiece:
    """The register's entry of a group as it is remembered, nothing released yet; the issue ``shown`` shows it first."""
    shape = group.shape
    return ReleasedPiece(
        mark=mark,
        section=shape.section,
        grade=shape.grade,
        finish=shape.finish,
        length=shape.length,
        body=shape.body,
        rows=group.rows,
        sources=shape.sources,
        rules=rules,
        shown=shown,
    )
