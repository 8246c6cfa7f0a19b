"""Whether the lengths of a model can be what they say: its unit where it states none, and sizes that no steel has.

A model without a unit is read in metres only where its rolled sections are then found in the tables of sections,
which no other unit brings about. Else its parts and bolts are held without a number: one that is wrong by a factor of
1000 looks wrong, one that is wrong by 3.28 does not.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from takeoff.ifc.context import UNIT_ASSUMED, Context
from takeoff.ifc.findings import sentences
from takeoff.queries import HOLD, Query, query, register
from takeoff.steel import (
    ANGLE,
    CHANNEL,
    CHS,
    HELD,
    I_SHAPE,
    LISTED,
    RHS,
    T_SHAPE,
    Body,
    Fastener,
    Member,
    Model,
    Problem,
)

UNIT_UNKNOWN = register(
    "unit-length-unknown",
    HOLD,
    "The model states {0} unit of length; its parts and bolts are held without sizes.",
    "Have the model written again with its unit, or set length_unit under [model] in the settings to the unit that "
    "its author confirms.",
)
UNIT_IMPOSSIBLE = register(
    "unit-length-impossible",
    HOLD,
    "Read in the unit that the model states ({0}), most of its parts have sizes that steel is not made in; its parts "
    "and bolts are held without sizes.",
    "Have the model written again: it states a wrong unit of length.",
)
ABSURD_SIZE = register(
    "part-absurd-size",
    HOLD,
    "These parts have sizes that steel is not made in ({0}).",
    "Ask for the model's unit of length; most likely it states a wrong one.",
)

ROLLED: Final = (ANGLE, CHANNEL, I_SHAPE, T_SHAPE, RHS, CHS)
SHARE_IN_TABLES: Final = 0.5
"""Of the rolled sections of a model without a unit that must be found in the tables."""
SHARE_ABSURD: Final = 0.5
"""Of the parts, above which it is the unit that is wrong."""
SIZELESS: Final = ("file-", "part-no-grade", "part-no-body", "opening-of-nothing")
"""Beginnings of the codes of queries that hold whatever the unit is."""
LONGEST_MM: Final = 100_000.0
WIDEST_MM: Final = 30_000.0
THICKEST_MM: Final = 1_000.0
THINNEST_MM: Final = 0.2
"""Bounds of what a mill or a shop makes in one piece, with room (common practice, no source)."""


def absurd(body: Body) -> tuple[Problem, ...]:
    """Sizes that no shop makes in one piece: a wrong unit, or damage."""
    section = body.section
    thin, thick = section.tw or section.h, max(section.tw, section.tf)
    if not body.length <= LONGEST_MM:
        return (Problem(ABSURD_SIZE, (f"{body.length:.3g} mm long",)),)
    if not max(section.h, section.b) <= WIDEST_MM:
        return (Problem(ABSURD_SIZE, (f"{max(section.h, section.b):.3g} mm wide",)),)
    if not thick <= THICKEST_MM:
        return (Problem(ABSURD_SIZE, (f"{thick:.3g} mm thick",)),)
    if not thin >= THINNEST_MM:
        return (Problem(ABSURD_SIZE, (f"{thin:.3g} mm thick",)),)
    return ()


def settled(ctx: Context, model: Model, asked: tuple[Query, ...]) -> tuple[Model, tuple[Query, ...]]:
    """The model and the queries of reading as they may go on where its unit of length is not certain."""
    settled_model, found = _settled(ctx, model)
    if settled_model is not model:
        asked = tuple(question for question in asked if question.code.startswith(SIZELESS))
    return settled_model, asked + found


def _settled(ctx: Context, model: Model) -> tuple[Model, tuple[Query, ...]]:
    if not ctx.length_doubt or ctx.length_given:
        bodies = [m.body for m in model.members if m.is_made and m.body is not None]
        strange = sum(bool(absurd(body)) for body in bodies)
        if bodies and strange > SHARE_ABSURD * len(bodies):
            return _without_sizes(model, UNIT_IMPOSSIBLE, ctx.length_unit)
    if not ctx.length_doubt:
        return model, ()
    if ctx.length_given:
        return model, (query(UNIT_ASSUMED, ctx.length_doubt, ctx.length_given, "the settings say so"),)
    if ctx.length_doubt == "no":
        rolled = [m.body.section for m in model.members if m.body is not None and m.body.section.shape in ROLLED]
        known = sum(bool(section.standard) for section in rolled)
        if rolled and known >= SHARE_IN_TABLES * len(rolled):
            why = f"{known} of {len(rolled)} rolled sections are then found in the tables"
            return model, (query(UNIT_ASSUMED, "no", "metres, the unit of the standard", why),)
    return _without_sizes(model, UNIT_UNKNOWN, ctx.length_doubt)


def _without_sizes(model: Model, code: str, value: str) -> tuple[Model, tuple[Query, ...]]:
    problem = Problem(code, (value,))
    reason = sentences([problem])
    fasteners = tuple(_bare(fastener, problem, reason) for fastener in model.fasteners)
    members = tuple(_held(member, problem, reason) for member in model.members)
    ids = sorted({e.global_id for group in (members, fasteners) for e in group if e.status == HELD})
    held = replace(model, members=members, fasteners=fasteners, length_unit="")
    return held, (query(code, value, global_ids=tuple(ids)),)


def _bare(fastener: Fastener, problem: Problem, reason: str) -> Fastener:
    bare = fastener._replace(
        diameter=None, length=None, hole_diameter=None, slot_x=0.0, slot_y=0.0,
        bolts=tuple(bolt._replace(shank=0.0, drawn_diameter=0.0) for bolt in fastener.bolts), problems=(problem,),
    )  # fmt: skip
    if fastener.status not in (LISTED, HELD):
        return bare
    return bare._replace(status=HELD, reason=reason)


def _held(member: Member, problem: Problem, reason: str) -> Member:
    bare = replace(member, body=None, frame=None, holes=(), notches=())
    if member.status not in (LISTED, HELD):
        return bare
    return replace(bare, status=HELD, reason=reason, problems=(problem,))
