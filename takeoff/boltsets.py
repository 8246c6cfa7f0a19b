"""What each bolt is ordered with: nuts and washers by zone, and its length, the model's held against the rule's.

Vocabulary
----------
zone       where other nuts and washers are asked: shop, site, an assembly, above or below a height ([bolts.sets])
taper      a sloped flange under head or nut, which takes a taper washer
short      the nut is not full, or less than a pitch stands out of it
on shank   the nut meets the plain shank before it clamps
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import numpy as np

from takeoff.queries import ASSUMED, CHECK, Query, query, register
from takeoff.rules.bolt_lengths import Choice, Grip, bolt_length, nut_on_shank, thread_in_shear
from takeoff.rules.sizes import inch_size, size_name
from takeoff.sections.shapes import faces
from takeoff.settings import BoltSettings, Settings
from takeoff.steel import BoltSet, Fastener, FloatArray, Member, ModelAssembly, Passage

LONG_MM: Final = 15.0
"""A model's length this much beyond the rule's is asked about: more than a step or two of the series."""
NAMED: Final = 6

BOLT_LENGTH_CHOSEN = register(
    "bolt-length-chosen",
    ASSUMED,
    "{0} bolts state no length; it was chosen by their grips: {1}.",
    "The bolt list shows how a length is worked out. Set the job's nuts and washers under [bolts] in the settings.",
)
BOLT_LENGTH_SHORT = register(
    "bolt-length-short",
    CHECK,
    "{0} bolts are shorter than a full nut and one pitch ask: {1}.",
    "Ask the designer, or order by the rule: bolts.length under [bolts] in the settings.",
)
BOLT_LENGTH_LONG = register(
    "bolt-length-long",
    CHECK,
    "{0} bolts are longer than they should be: {1}.",
    "Ask the designer, or order by the rule: bolts.length under [bolts] in the settings.",
)
BOLT_THREAD_IN_SHEAR = register(
    "bolt-thread-in-shear",
    CHECK,
    "The settings ask for threads out of the shear planes; {0} bolts have theirs in one: {1}.",
    "Ask the designer for the length, order by the rule (bolts.length), or set bolts.threads_out_of_shear to false.",
)
BOLT_LENGTH_NO_RULE = register(
    "bolt-length-no-rule",
    CHECK,
    "The lengths of {0} bolts could not be worked out: {1}.",
    "Take their lengths from the standard or the maker before ordering.",
)


def bolt_sets(
    members: Sequence[Member],
    fasteners: Sequence[Fastener],
    passages: Sequence[Passage],
    assemblies: Sequence[ModelAssembly],
    settings: Settings,
) -> tuple[list[BoltSet], tuple[Query, ...]]:
    """The set of every passage's bolt, and what was chosen, differs or could not be worked out."""
    marks = {a.global_id: a.mark or a.name for a in assemblies}
    zones = [(zone, _numbers(text)) for zone, text in settings.bolts.sets.items()]
    ready: dict[tuple[object, ...], BoltSet] = {}
    sets = []
    sloped = any(m.body is not None and m.body.section.slope for m in members)
    for passage in passages:
        fastener = fasteners[passage.fastener]
        height = fastener.bolts[passage.bolt].point[2] if zones else 0.0
        own = _zone(zones, fastener.place, marks.get(fastener.assembly, ""), height)
        tapers = _tapers(passage, members, fastener) if sloped else 0
        last = passage.plies[-1] if passage.plies else None
        grip = _grip(passage.grip, fastener.diameter)
        last_mm = round(last.leave - last.enter, 1) if last else 0.0
        whole = len(passage.plies) > 1
        key = (
            fastener.kind, fastener.diameter, fastener.length, fastener.standard, fastener.nuts, fastener.washers,
            tuple(own.items()), tapers, grip, last_mm, whole,
        )  # fmt: skip
        if key not in ready:
            ready[key] = _set(fastener, own, tapers, grip, last_mm, whole, settings.bolts)
        sets.append(ready[key])
    return sets, tuple(_asked(fasteners, passages, sets, settings))


def _grip(grip: float, diameter: float | None) -> float:
    """A grip without the model's noise: to 0.1 mm, of an inch bolt to 0.01, so that quarter inches are not missed."""
    return round(grip, 2 if diameter and inch_size(diameter) is not None else 1)


def _numbers(text: str) -> dict[str, int]:
    return {what.rstrip("s"): int(n) for n, what in re.findall(r"(\d+)\s+(nuts?|washers?|springs?)", text)}


def _zone(zones: Sequence[tuple[str, dict[str, int]]], place: str, assembly: str, height: float) -> Mapping[str, int]:
    for zone, numbers in zones:
        word, _, number = zone.partition(" ")
        if word == "above" and number:
            fits = height > float(number)
        elif word == "below" and number:
            fits = height < float(number)
        else:
            fits = zone in (place, assembly)
        if fits:
            return numbers
    return {}


def _tapers(passage: Passage, members: Sequence[Member], fastener: Fastener) -> int:
    """How many ends of the bolt bear on the sloped inside of a flange."""
    if not passage.plies:
        return 0
    found = 0
    for ply, way in ((passage.plies[0], -1.0), (passage.plies[-1], 1.0)):
        body, frame = members[ply.member].body, members[ply.member].frame
        if body is None or frame is None or not body.section.slope or ply.face not in ("top", "bottom"):
            continue
        wall = next(face for face in faces(body.section) if face.name == ply.face)
        direction = frame.axes[1:] @ np.array(fastener.bolts[passage.bolt].direction)
        # The nut bears on the inside where the bolt goes inward, the head where it goes outward.
        found += float(direction @ np.array(wall.inward)) * way > 0
    return found


def _set(
    fastener: Fastener, own: Mapping[str, int], tapers: int, grip: float, last: float, whole: bool, bolts: BoltSettings
) -> BoltSet:
    nuts = own.get("nut", bolts.nuts if fastener.nuts is None else fastener.nuts)
    washers = own.get("washer", bolts.washers if fastener.washers is None else fastener.washers)
    springs = own.get("spring", bolts.spring_washers)
    standard = fastener.standard or bolts.standard
    choice = Choice(None, None, standard, "it passes through no part or one part only, so its grip is not known")
    if whole and fastener.diameter and fastener.kind == "bolt":
        size = size_name(fastener.diameter)
        stack = Grip(
            grip, nuts, washers, tapers, springs, last, bolts.taper_washer_mm.get(size, 0.0),
            bolts.spring_washer_mm.get(size, 0.0),
        )  # fmt: skip
        choice = bolt_length(fastener.diameter, stack, standard, bolts.threads_out_of_shear)
    elif whole:
        why = "its diameter is not known" if fastener.kind == "bolt" else f"it is a {fastener.kind}, not a bolt"
        choice = choice._replace(why=why)
    length, source = fastener.length, "model" if fastener.length else ""
    if choice.length is not None and (not length or bolts.length == "rule"):
        length, source, standard = choice.length, "rule", choice.standard
    else:
        standard = fastener.standard
    return BoltSet(nuts, washers, springs, tapers, length or None, source, standard, choice.length, choice.why)


def _asked(
    fasteners: Sequence[Fastener], passages: Sequence[Passage], sets: Sequence[BoltSet], settings: Settings
) -> Iterable[Query]:
    counters: dict[str, Counter[str]] = {}
    ids: dict[str, dict[str, None]] = {}
    # Bolts alike share one set: what is found about the first of them is found about all.
    told: dict[int, list[tuple[str, str]]] = {}
    for passage, bolt in zip(passages, sets, strict=True):
        fastener = fasteners[passage.fastener]
        if id(bolt) not in told:
            told[id(bolt)] = list(_findings(fastener, passage, bolt, settings.bolts))
        for code, words in told[id(bolt)]:
            counters.setdefault(code, Counter())[words] += 1
            ids.setdefault(code, {}).setdefault(fastener.global_id)
    severity = settings.checks.severity
    for code in sorted(counters):
        how = severity.get(code)
        if how != "off":
            counter = counters[code]
            total = sum(counter.values())
            yield query(code, total, _words(counter), global_ids=tuple(sorted(ids[code])), severity=how)


def _findings(fastener: Fastener, passage: Passage, bolt: BoltSet, bolts: BoltSettings) -> Iterable[tuple[str, str]]:
    """What is to be told of a bolt's length: codes, each with its words."""
    if fastener.kind != "bolt" or not fastener.diameter or len(passage.plies) < 2:
        return
    size = size_name(fastener.diameter)
    tapped = fastener.nuts == 0 and fastener.length
    if bolt.rule_length is None and not tapped:
        yield BOLT_LENGTH_NO_RULE, bolt.why.rstrip(".")
    if not fastener.length:
        if bolt.rule_length is not None:
            yield BOLT_LENGTH_CHOSEN, f"{size} {bolt.standard}"
        return
    grip = _grip(passage.grip, fastener.diameter)
    stated = f"{size} x {fastener.length:g} through {grip:g} mm"
    stack = _stack(grip, bolt, size, bolts)
    standard = fastener.standard or bolts.standard
    if bolts.threads_out_of_shear:
        last = passage.plies[-1]
        stack_to_last = stack._replace(last_ply=round(last.leave - last.enter, 1))
        if name := thread_in_shear(fastener.diameter, fastener.length, stack_to_last, standard):
            yield BOLT_THREAD_IN_SHEAR, f"{stated}, as {name}"
    if bolt.rule_length is not None and fastener.length < bolt.rule_length - 1e-6:
        # A length off the series or of another standard may be enough all the same.
        least = bolt_length(fastener.diameter, stack, standard).least
        enough = least is not None and fastener.length >= least - 0.05
        # Shorter than the grip itself is another query.
        if fastener.length > passage.grip and not enough:
            yield BOLT_LENGTH_SHORT, f"{stated}, by the rule {bolt.rule_length:g}"
    elif nut_on_shank(fastener.diameter, fastener.length, stack, standard):
        taken = "" if fastener.standard else f" if it is {standard}, which the model does not say"
        yield BOLT_LENGTH_LONG, f"{stated}: the nut meets the plain shank{taken}"
    elif bolt.rule_length is not None and fastener.length > bolt.rule_length + LONG_MM:
        yield BOLT_LENGTH_LONG, f"{stated}, by the rule {bolt.rule_length:g}"


def _stack(grip: float, bolt: BoltSet, size: str, bolts: BoltSettings) -> Grip:
    """What a bolt clamps, its last ply left out."""
    return Grip(
        grip, bolt.nuts, bolt.washers, bolt.tapers, bolt.springs, 0.0, bolts.taper_washer_mm.get(size, 0.0),
        bolts.spring_washer_mm.get(size, 0.0),
    )  # fmt: skip


def _words(counter: Counter[str]) -> str:
    """The commonest first, with how many of each."""
    ordered = sorted(counter.items(), key=lambda entry: (-entry[1], entry[0]))
    words = "; ".join(f"{text} ({number})" for text, number in ordered[:NAMED])
    rest = sum(number for _, number in ordered[NAMED:])
    return f"{words}; and {rest} more" if rest else words


def worked_example(fasteners: Sequence[Fastener], passages: Sequence[Passage], sets: Sequence[BoltSet]) -> str:
    """How the rule's length of the job's commonest bolt follows, step by step; empty where no rule gives one."""
    counts = Counter(
        bolt.why for passage, bolt in zip(passages, sets, strict=True)
        if bolt.rule_length is not None and fasteners[passage.fastener].kind == "bolt"
    )  # fmt: skip
    if not counts:
        return ""
    return min(counts, key=lambda why: (-counts[why], why))


def set_sizes(sets: Sequence[BoltSet]) -> FloatArray:
    """(passages, 3): each bolt's length in mm (NaN where not known), and how many nuts and washers it has."""
    rows = [(math.nan if s.length is None else s.length, s.nuts, s.washers) for s in sets]
    return np.array(rows, dtype=float).reshape(-1, 3)
