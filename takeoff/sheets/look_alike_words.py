"""What tells look-alikes apart, in words."""

from __future__ import annotations

from takeoff.dispatch import Difference, LookAlike
from takeoff.sheets import measure
from takeoff.words import say


def difference_words(found: Difference) -> str:
    """One difference, the one's value first."""
    own, other = found.own or say("not stated"), found.other or say("not stated")
    if found.what == "hand":
        return say("opposite hand")
    if found.what == "nothing":
        return say("less than 0.1 mm: nothing that a tape or the eye can tell")
    if found.what == "grade":
        return say("grade {own} / {other}", own=own, other=other)
    if found.what == "finish":
        return say("finish {own} / {other}", own=own, other=other)
    if found.what == "length":
        return say("length {own} / {other}", own=measure.length(found.own_mm), other=measure.length(found.other_mm))
    if found.what == "width":
        return say("width {own} / {other}", own=measure.length(found.own_mm), other=measure.length(found.other_mm))
    if found.what == "outline":
        return say("corners up to {away} apart", away=measure.with_unit(found.other_mm))
    if found.what == "hole place":
        return say("holes up to {away} apart", away=measure.with_unit(found.other_mm))
    if found.what == "hole size":
        return say(
            "hole {label}: {own} / {other}", label=found.own, own=measure.size(found.own_mm),
            other=measure.size(found.other_mm),
        )  # fmt: skip
    if found.own and found.other:
        return say("hole {own} / {other} elsewhere", own=found.own, other=found.other)
    return say("hole {own} / none", own=found.own) if found.own else say("no hole / {other}", other=found.other)


def differences(pair: LookAlike) -> str:
    """All of them, the first mark's value first."""
    return "; ".join(difference_words(found) for found in pair.differences)


def reverse(pair: LookAlike) -> LookAlike:
    """The pair seen from the other mark. ``hole size`` keeps the first mark's labels: both are alike but for it."""
    turned = tuple(
        found if found.what in ("outline", "hole place", "hand")
        else Difference(found.what, found.other, found.own, found.other_mm, found.own_mm)
        for found in pair.differences
    )  # fmt: skip
    return LookAlike(pair.other, pair.mark, turned)
