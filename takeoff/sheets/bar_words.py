"""How bars, patterns and their numbers are written on paper."""

from __future__ import annotations

from takeoff.plans import BarPlan, Bars
from takeoff.settings import BarSettings
from takeoff.sheets import measure
from takeoff.sheets.wording import designation
from takeoff.words import say


def bars_words(count: int) -> str:
    """``1 bar``, ``2 bars``."""
    return say("1 bar") if count == 1 else say("{count} bars", count=count)


def patterns_words(count: int) -> str:
    """``1 pattern``, ``2 patterns``."""
    return say("1 pattern") if count == 1 else say("{count} patterns", count=count)


def punches_words(count: int) -> str:
    """``1 punch``, ``2 punches``."""
    return say("1 punch") if count == 1 else say("{count} punches", count=count)


def sections_words(count: int) -> str:
    """``1 section``, ``2 sections``."""
    return say("1 section") if count == 1 else say("{count} sections", count=count)


def length_title() -> str:
    """The heading of a column of lengths."""
    return say("Length") if measure.inches() else say("Length mm")


def grade_words(grade: str) -> str:
    """A grade, or that there is none."""
    return grade or say("not stated")


def batch_words(plan: BarPlan) -> str:
    """Section, grade and finish."""
    return " ".join(word for word in (designation(plan.section), plan.grade, plan.finish) if word)


def sections_by_name(plans: Bars) -> dict[str, str]:
    """Each section's name in the lists, and as it is written on paper."""
    return {plan.section.designation: designation(plan.section) for plan in plans.plans}


def rules_words(settings: BarSettings) -> str:
    """What the plan was made with, in one sentence."""
    lengths = say("Bars of {lengths}", lengths=_all(settings.lengths_mm))
    limits = [
        say("at most {count} of {length}", count=many, length=measure.with_unit(float(length)))
        for length, many in sorted(settings.available.items(), key=lambda item: float(item[0]))
    ]
    own = sum(settings.in_stock.values())
    if own:
        limits.append(say("bars and off-cuts of the shop's own: {count}", count=own))
    if settings.prices:
        limits.append(say("prices by bar"))
    rest = say(
        "kerf {kerf}; trims {front} in front and {end} at the end; {grip} that the grip cannot feed; off-cuts kept "
        "from {keep} on.",
        kerf=measure.with_unit(settings.kerf_mm),
        front=measure.with_unit(settings.front_trim_mm),
        end=measure.with_unit(settings.end_trim_mm),
        grip=measure.with_unit(settings.grip_mm),
        keep=measure.with_unit(settings.keep_mm),
    )
    return "; ".join((lengths, *limits, rest))


def _all(lengths: tuple[float, ...]) -> str:
    return ", ".join(measure.with_unit(length) for length in sorted(lengths)) or say("no length")
