"""Hardware that a model draws as parts: which of it makes holes, and which is counted with a bolt.

Bolts and step bolts by their words are fasteners, whatever class draws them. Anchors, studs and rods are so where they
are drawn round: they make the holes of what they pass. A strap, or a plate with anchors on it, stays a bought-out part
and makes none. Nuts and washers join the bolt they stand on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from takeoff.ifc.fastener_words import bare_size, kind_of, size_of
from takeoff.ifc.fasteners import ODD_BODIES
from takeoff.ifc.loose_nuts import Loose, join
from takeoff.ifc.standing import Said, hardware_of
from takeoff.rules.shanks import explained
from takeoff.settings import HoleSettings
from takeoff.steel import BOUGHT_OUT, CHS, LEFT_OUT, LISTED, ROUND, Fastener, Member

BOLTS: Final = ("bolt", "step bolt")
"""Kinds of hardware that make holes and are read as fasteners, whatever class they are drawn with."""
RODS: Final = ("anchor", "stud", "rod")
"""Kinds that are so where a part of another class draws them round; else they stay bought-out parts."""
NUTS: Final = ("nut", "washer")
BOLT_LENGTH_MM: Final = 1.0
"""A round bar whose length is that of the bolt it is called, to this, is the bolt."""


def kinds(members: Sequence[Member], said: Sequence[Said], holes: HoleSettings) -> dict[int, str]:
    """The kind of hardware of each member that is to be looked at as a fastener, by its number."""
    found: dict[int, str] = {}
    for i, (member, heard) in enumerate(zip(members, said, strict=True)):
        if member.status == BOUGHT_OUT:
            kind = heard.hardware or hardware_of(member.section_text)
            if kind in (*BOLTS, *RODS, *NUTS):
                found[i] = kind
        elif member.status == LISTED and _is_named_bolt(member, holes):
            found[i] = BOLTS[0]
    return found


def size_text(said: Said) -> str:
    """Of what is said of a bought-out part the first text with a size, else with a word for hardware; else empty."""
    sized = (text for text in said.texts if size_of(text).diameter)
    return next(sized, next((text for text in said.texts if kind_of(text)), ""))


def placed(
    members: Sequence[Member], kinds: Mapping[int, str], read_so: Mapping[int, Fastener], fasteners: Sequence[Fastener]
) -> tuple[list[Member], list[Fastener]]:
    """Members without those that are fasteners; fasteners with them, and with the nuts and washers that stand on bolts.

    ``read_so`` are the members of ``kinds`` read as fasteners, nuts and washers with their axes.
    """
    left = list(members)
    rods = [i for i, kind in kinds.items() if kind not in NUTS and _is_rod(members[i], read_so[i])]
    made = [*fasteners, *(read_so[i] for i in rods)]
    nuts = [i for i, kind in kinds.items() if kind in NUTS and read_so[i].bolts]
    own = [f for f, fastener in enumerate(made) if fastener.kind in NUTS and fastener.bolts]
    if nuts or own:
        drawn = [*(made[f] for f in own), *(read_so[i] for i in nuts)]
        made, joined = join(made, [Loose(nut.kind, nut.diameter, nut.bolts) for nut in drawn])
        for f, (owner, many) in zip(own, joined[: len(own)], strict=True):
            made[f] = _of_bolt(made[f], owner, many)
        for i, (owner, many) in zip(nuts, joined[len(own) :], strict=True):
            # a part with more nuts than stand on bolts stays to be bought: rather one too many than one too few
            if owner and many == len(read_so[i].bolts):
                reason = f"a {kinds[i]} of the bolt {owner}, counted with it"
                left[i] = replace(left[i], status=LEFT_OUT, reason=reason)
    gone = set(rods)
    return [member for i, member in enumerate(left) if i not in gone], made


def _is_rod(member: Member, fastener: Fastener) -> bool:
    """Whether a bought-out part is drawn as round bars with straight axes and nothing else, such as a plate."""
    if any(problem.code == ODD_BODIES for problem in fastener.problems):
        return False
    shape = member.body.section.shape if member.body is not None else ROUND
    return shape in (ROUND, CHS) and fastener.status == LISTED and bool(fastener.bolts)


def _is_named_bolt(member: Member, holes: HoleSettings) -> bool:
    """Whether a part is called by a bolt's size alone and drawn as a round bar of that diameter and length."""
    body = member.body
    if body is None or body.section.shape != ROUND:
        return False
    for text in (member.name, member.section_text):
        size = bare_size(text)
        if size.diameter and abs(body.length - size.length) <= BOLT_LENGTH_MM:
            return explained(size.diameter, body.section.h, 0.0, "", holes)
    return False


def _of_bolt(nut: Fastener, owner: str, many: int) -> Fastener:
    """A nut or washer without its axes: left out where all of its entity joined bolts, else so many fewer."""
    rest = len(nut.bolts) - many
    if owner and not rest:
        reason = f"a {nut.kind} of the bolt {owner}, counted with it"
        return nut._replace(bolts=(), status=LEFT_OUT, reason=reason)
    return nut._replace(bolts=(), count=rest)
