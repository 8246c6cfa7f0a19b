"""Bolts counted: rows alike of each fastener, the order list, joints alike, hardware that is not cut.

Vocabulary
----------
set        a bolt with its nuts and washers
alike      bolts of one fastener entity with the same parts, grip and joint; joints with the same piece marks and sets
spare      bolts ordered beyond the need: a percentage, and at least a number, per line of the order list
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from math import ceil

import numpy as np

from takeoff.order import natural
from takeoff.queries import ASSUMED, CHECK, Query, query, register
from takeoff.rules.bolt_mass import bolt_set_mass
from takeoff.settings import BoltSettings
from takeoff.steel import (
    BOUGHT_OUT,
    LEFT_OUT,
    LISTED,
    ROUND,
    BoltLine,
    BoltRow,
    BoltSet,
    BoughtOut,
    Fastener,
    Joint,
    Member,
    Passage,
)  # fmt: skip

ORDERED = ("bolt",)
"""Kinds of fastener that stand on the order list; anchors, studs and rods keep their length and are bought out."""

_Way = tuple[float | None, float | None, tuple[int, ...], int | None]
"""Grip, plies, members and joint of a bolt."""
_Length = tuple[float | None, float | None, str]
"""Length, the rule's length and where the length is from."""

BOLT_LENGTH_NOT_STATED = register(
    "bolt-length-not-stated",
    CHECK,
    "{0} bolts state no length; they stand on the order list without one.",
    "Their grips are in the bolt list. Choose the length by the grip before ordering.",
)
BOLT_SHORTER_THAN_GRIP = register(
    "bolt-shorter-than-grip",
    CHECK,
    "{0} bolts are no longer than the steel they clamp (worst: {1} mm long through {2} mm).",
    "The model's bolt lengths are often wrong. Choose the length by the grip before ordering.",
)
BOLT_WEIGHT_UNKNOWN = register(
    "bolt-weight-unknown",
    CHECK,
    "{0} bolts have no weight here: {1}.",
    "Their weight is missing from the totals; add it by hand.",
)
NUTS_WASHERS_ASSUMED = register(
    "nuts-washers-assumed",
    ASSUMED,
    "{0} bolts state no nuts or no washers: {1} nut and {2} washer each were counted{3}.",
    "Set the job's own numbers under [bolts] in the settings.",
)


WASHERS_NOT_WEIGHED = register(
    "washers-not-weighed",
    ASSUMED,
    "{0} spring washers and {1} taper washers are ordered; the weights of the bolt sets are without them.",
    "Their dimensions are in no table here. Add their weight by hand where it counts.",
)


_Line = tuple[float, float, str, str, bool]
"""Diameter, length, grade, standard, and whether the length is the rule's."""


def bolt_rows(
    fasteners: Sequence[Fastener],
    passages: Sequence[Passage],
    joints: Sequence[Joint],
    assembly_marks: Mapping[str, str],
    sets: Sequence[BoltSet],
) -> tuple[BoltRow, ...]:
    """Bolts alike of every fastener entity; the rows of one entity add up to its bolts.

    An entity without a single bolt (a weld, a nut) gives one row with 0 bolts and its reason.
    """
    joint_of = {p: joint.number for joint in joints for p in joint.passages}
    alike: dict[int, Counter[tuple[_Way, _Length, BoltSet]]] = {}
    alone = [len(fastener.bolts) < 2 for fastener in fasteners]
    parts_of = {joint.number: joint.members for joint in joints}
    single: dict[int, tuple[_Way, _Length, BoltSet]] = {}
    for p, (f, _, plies, grip, steel, _) in enumerate(passages):
        joint = joint_of.get(p)
        key: _Way = (None, None, (), None)
        if joint is not None:
            key = (round(grip, 1), round(steel, 1), parts_of[joint], joint)
        elif plies:
            key = (round(grip, 1), round(steel, 1), tuple(sorted({ply.member for ply in plies})), None)
        length = (sets[p].length, sets[p].rule_length, sets[p].source)
        if alone[f]:
            single[f] = key, length, sets[p]
        else:
            alike.setdefault(f, Counter())[key, length, sets[p]] += 1
    rows = []
    for f, fastener in enumerate(fasteners):
        mark = assembly_marks.get(fastener.assembly, "") if fastener.assembly else ""
        own = single.get(f)
        if own is not None:
            rows.append(BoltRow(f, 1, own[1][0], *own[0], mark, fastener.status, fastener.reason, *own[1][1:], own[2]))
            continue
        groups = alike.get(f)
        if not groups:
            reason = fastener.reason or "it has no bolt that could be found"
            status = fastener.status if fastener.status != LISTED else LEFT_OUT
            rows.append(BoltRow(f, 0, fastener.length, None, None, (), None, mark, status, reason))
            continue
        for way, length, own_set in sorted(groups, key=lambda k: tuple((v is None, v) for part in k for v in part)):
            number = groups[way, length, own_set]
            row = BoltRow(f, number, length[0], *way, mark, fastener.status, fastener.reason, *length[1:])
            rows.append(row._replace(bolt_set=own_set))
    return tuple(rows)


def order_list(
    fasteners: Sequence[Fastener], passages: Sequence[Passage], sets: Sequence[BoltSet], settings: BoltSettings
) -> tuple[tuple[BoltLine, ...], dict[int, float], tuple[Query, ...]]:
    """Lines of the order list, the mass in kg of the sets of each fastener, and what is missing or was assumed."""
    alike: dict[tuple[int, BoltSet], int] = {}
    for passage, bolt in zip(passages, sets, strict=True):
        alike[passage.fastener, bolt] = alike.get((passage.fastener, bolt), 0) + 1
    lines: dict[_Line, list[tuple[int, BoltSet, int]]] = {}
    masses: dict[int, float | None] = {}
    no_length, no_weight, assumed = 0, Counter[str](), 0
    ids_length: dict[str, None] = {}
    for (f, bolt), number in alike.items():
        fastener = fasteners[f]
        if fastener.kind not in ORDERED or fastener.status in (LEFT_OUT, BOUGHT_OUT):
            continue
        key = (fastener.diameter or 0.0, bolt.length or 0.0, fastener.grade, bolt.standard, bolt.source == "rule")
        lines.setdefault(key, []).append((f, bolt, number))
        if not bolt.length:
            no_length += number
            ids_length.setdefault(fastener.global_id)
        if fastener.nuts is None or fastener.washers is None:
            assumed += number
    rows, found = [], []
    for key in sorted(lines):
        diameter, length, grade, standard, by_rule = key
        weight: float | None = 0.0
        for f, bolt, number in lines[key]:
            mass = None
            if diameter and length:
                mass = bolt_set_mass(diameter, length, bolt.nuts, bolt.washers, standard)[0]
            if mass is None:
                no_weight[f"{diameter:g} x {length:g}" if length else f"{diameter:g}"] += number
                weight, masses[f] = None, None
                continue
            weight = None if weight is None else weight + mass * number
            before = masses.get(f, 0.0)
            masses[f] = None if before is None else before + mass * number
        quantity = sum(number for _, _, number in lines[key])
        spare = max(settings.spare_minimum, ceil(quantity * settings.spare_percent / 100 - 1e-9))

        def total(what: str, entries: Sequence[tuple[int, BoltSet, int]] = lines[key]) -> int:
            return sum(getattr(bolt, what) * number for _, bolt, number in entries)

        def most(what: str, entries: Sequence[tuple[int, BoltSet, int]] = lines[key]) -> int:
            return max(int(getattr(bolt, what)) for _, bolt, _ in entries)

        def placed(place: str, entries: Sequence[tuple[int, BoltSet, int]] = lines[key]) -> int:
            return sum(number for f, _, number in entries if fasteners[f].place == place)

        rows.append(
            BoltLine(
                diameter or None,
                length or None,
                grade,
                standard,
                quantity,
                spare,
                quantity + spare,
                total("nuts"),
                total("washers"),
                weight,
                shop=placed("shop"),
                site=placed("site"),
                length_source="rule" if by_rule else "model" if length else "",
                springs=total("springs"),
                tapers=total("tapers"),
                spare_nuts=spare * most("nuts"),
                spare_washers=spare * most("washers"),
                spare_springs=spare * most("springs"),
                spare_tapers=spare * most("tapers"),
            )
        )
    per_fastener = {f: mass for f, mass in masses.items() if mass is not None}
    if no_length:
        found.append(query(BOLT_LENGTH_NOT_STATED, no_length, global_ids=tuple(ids_length)))
    if no_weight:
        found.append(query(BOLT_WEIGHT_UNKNOWN, sum(no_weight.values()), ", ".join(sorted(no_weight))))
    if assumed:
        zones = "; in the zones of bolts.sets what they say" if settings.sets else ""
        found.append(query(NUTS_WASHERS_ASSUMED, assumed, settings.nuts, settings.washers, zones))
    springs, tapers = sum(row.springs for row in rows), sum(row.tapers for row in rows)
    if springs or tapers:
        found.append(query(WASHERS_NOT_WEIGHED, springs, tapers))
    short = [
        (p, fasteners[p.fastener].length or 0.0)
        for p in passages
        if fasteners[p.fastener].length
        and fasteners[p.fastener].kind in ORDERED
        and p.plies
        and p.grip > (fasteners[p.fastener].length or 0.0) - 1e-6
    ]
    if short:
        worst, length = max(short, key=lambda entry: (entry[0].grip - entry[1], entry[0].grip))
        ids = tuple(dict.fromkeys(fasteners[p.fastener].global_id for p, _ in short))
        found.append(query(BOLT_SHORTER_THAN_GRIP, len(short), f"{length:g}", f"{worst.grip:.1f}", global_ids=ids))
    return tuple(rows), per_fastener, tuple(found)


def number_alike(
    joints: Sequence[Joint], passages: Sequence[Passage], fasteners: Sequence[Fastener], member_marks: Sequence[str]
) -> tuple[Joint, ...]:
    """Joints with the same piece marks, bolts and grips under one number; in that order, and numbered by it."""

    # What a joint is made of as small numbers first; the people's order only for what is different.
    kinds: dict[tuple[float, float, str, float, float], int] = {}
    kind_of = []
    sets = [(f.diameter or 0.0, f.length or 0.0, f.grade) for f in fasteners]
    for passage in passages:
        kind = (*sets[passage.fastener], round(passage.grip, 1), round(passage.plies_mm, 1))
        kind_of.append(kinds.setdefault(kind, len(kinds)))
    by_number = list(kinds)
    made = [
        (
            tuple(sorted([member_marks[m] for m in joint.members])),
            tuple(sorted([kind_of[p] for p in joint.passages])),
        )
        for joint in joints
    ]

    def order(make_up: tuple[tuple[str, ...], tuple[int, ...]]) -> tuple[object, ...]:
        marks, bolts = make_up
        return (tuple(sorted(natural(m) for m in marks)), marks, sorted(by_number[k] for k in bolts))

    numbers = {m: k for k, m in enumerate(sorted(set(made), key=order), start=1)}
    return _renumber(
        [joint._replace(alike=numbers[m]) for joint, m in zip(joints, made, strict=True)], passages, fasteners
    )


def _renumber(joints: list[Joint], passages: Sequence[Passage], fasteners: Sequence[Fastener]) -> tuple[Joint, ...]:
    """Numbers that follow what is joined and where it stands, not the order of the model's entities."""

    points = np.array([fasteners[p.fastener].bolts[p.bolt].point for p in passages]).reshape(-1, 3)
    places = list(map(tuple, np.round(points, 1).tolist()))

    def place(joint: Joint) -> tuple[int, list[tuple[float, ...]]]:
        return joint.alike, sorted([places[p] for p in joint.passages])

    ordered = sorted(joints, key=place)
    nodes: dict[int, int] = {}
    for joint in ordered:
        nodes.setdefault(joint.node, len(nodes) + 1)
    return tuple(joint._replace(number=k, node=nodes[joint.node]) for k, joint in enumerate(ordered, start=1))


def bought_out(
    members: Sequence[Member], fasteners: Sequence[Fastener], passages: Sequence[Passage]
) -> tuple[BoughtOut, ...]:
    """Hardware that is not cut, from parts and from fasteners that are no bolts of the order list."""
    counts = Counter(p.fastener for p in passages)
    found: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for member in members:
        if member.status == BOUGHT_OUT:
            found.setdefault((member.name, _size_of_part(member)), []).append((1, member.global_id))
    for f, fastener in enumerate(fasteners):
        if fastener.status == LEFT_OUT or (fastener.kind in ORDERED and fastener.status != BOUGHT_OUT):
            continue
        size = f"{fastener.diameter:g}" if fastener.diameter else ""
        if size and fastener.length:
            size += f" x {fastener.length:g}"
        name = fastener.name or fastener.kind
        # a nut or washer is no bolt with a way of its own: its entity says how many it is
        many = fastener.pieces or counts[f] or fastener.count or 1
        found.setdefault((name, size), []).append((many, fastener.global_id))
    return tuple(
        BoughtOut(name, size, sum(n for n, _ in items), tuple(sorted(g for _, g in items)))
        for (name, size), items in sorted(found.items())
    )


def _size_of_part(member: Member) -> str:
    """What the model calls its section; else, of a rod, its diameter and length as drawn."""
    if member.section_text or member.body is None or member.reason.startswith(("nut", "washer")):
        return member.section_text  # a nut's body is no size of it
    if member.body.section.shape == ROUND:
        return f"{member.body.section.h:.4g} x {member.body.length:.4g}"
    return member.body.section.designation
