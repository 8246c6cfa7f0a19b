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
from dataclasses import replace
from math import ceil

from takeoff.order import natural
from takeoff.queries import ASSUMED, CHECK, Query, query, register
from takeoff.rules.bolt_mass import bolt_set_mass
from takeoff.settings import BoltSettings
from takeoff.steel import BOUGHT_OUT, LEFT_OUT, LISTED, BoltLine, BoltRow, BoughtOut, Fastener, Joint, Member, Passage

ORDERED = ("bolt",)
"""Kinds of fastener that stand on the order list; anchors, studs and rods keep their length and are bought out."""

_Way = tuple[float | None, float | None, tuple[int, ...], int | None]
"""Grip, plies, members and joint of a bolt."""

BOLT_LENGTH_NOT_STATED = register(
    "bolt-length-not-stated",
    CHECK,
    "{0} bolts state no length; they stand on the order list without one.",
    "Their grips are in the bolt list. Choose the length by the grip before ordering.",
)
BOLT_SHORTER_THAN_GRIP = register(
    "bolt-shorter-than-grip",
    CHECK,
    "{0} bolts are shorter than the steel they clamp (worst: {1} mm long through {2} mm).",
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
    "{0} bolts state no nuts or no washers: {1} nut and {2} washer each were counted.",
    "Set the job's own numbers under [bolts] in the settings.",
)


def bolt_rows(
    fasteners: Sequence[Fastener],
    passages: Sequence[Passage],
    joints: Sequence[Joint],
    assembly_marks: Mapping[str, str],
) -> tuple[BoltRow, ...]:
    """Bolts alike of every fastener entity; the rows of one entity add up to its bolts.

    An entity without a single bolt (a weld, a nut) gives one row with 0 bolts and its reason.
    """
    joint_of = {p: joint.number for joint in joints for p in joint.passages}
    alike: dict[int, Counter[_Way]] = {}
    for p, passage in enumerate(passages):
        grip = round(passage.grip, 1) if passage.plies else None
        plies = round(passage.plies_mm, 1) if passage.plies else None
        parts = tuple(dict.fromkeys(ply.member for ply in passage.plies))
        key: _Way = (grip, plies, tuple(sorted(parts)), joint_of.get(p))
        alike.setdefault(passage.fastener, Counter())[key] += 1
    rows = []
    for f, fastener in enumerate(fasteners):
        mark = assembly_marks.get(fastener.assembly, "") if fastener.assembly else ""
        groups = alike.get(f)
        if not groups:
            reason = fastener.reason or "it has no bolt that could be found"
            status = fastener.status if fastener.status != LISTED else LEFT_OUT
            rows.append(BoltRow(f, 0, fastener.length, None, None, (), None, mark, status, reason))
            continue
        for key in sorted(groups, key=lambda k: tuple((v is None, v) for v in k)):
            grip, plies, members, joint = key
            rows.append(
                BoltRow(
                    f, groups[key], fastener.length, grip, plies, members, joint,
                    mark, fastener.status, fastener.reason,
                )
            )  # fmt: skip
    return tuple(rows)


def order_list(
    fasteners: Sequence[Fastener], passages: Sequence[Passage], settings: BoltSettings
) -> tuple[tuple[BoltLine, ...], dict[int, float], tuple[Query, ...]]:
    """Lines of the order list, the mass in kg of one set by fastener, and what is missing or was assumed."""
    lines: dict[tuple[float, float, str, str], list[int]] = {}
    per_set: dict[int, float] = {}
    counts = Counter(p.fastener for p in passages)
    no_length, no_weight, assumed = 0, Counter[str](), 0
    ids_length: list[str] = []
    for f, fastener in enumerate(fasteners):
        number = counts[f]
        if fastener.kind not in ORDERED or fastener.status in (LEFT_OUT, BOUGHT_OUT) or not number:
            continue
        key = (fastener.diameter or 0.0, fastener.length or 0.0, fastener.grade, fastener.standard)
        lines.setdefault(key, []).append(f)
        if not fastener.length:
            no_length += number
            ids_length.append(fastener.global_id)
        if fastener.nuts is None or fastener.washers is None:
            assumed += number
    rows, found = [], []
    for key in sorted(lines):
        diameter, length, grade, standard = key
        members = lines[key]
        quantity = sum(counts[f] for f in members)
        nuts = sum(counts[f] * _number(fasteners[f].nuts, settings.nuts) for f in members)
        washers = sum(counts[f] * _number(fasteners[f].washers, settings.washers) for f in members)
        weight: float | None = 0.0
        for f in members:
            mass = None
            if diameter and length:
                n, w = _number(fasteners[f].nuts, settings.nuts), _number(fasteners[f].washers, settings.washers)
                mass = bolt_set_mass(diameter, length, n, w, standard)[0]
            if mass is None or weight is None:
                weight = None
                no_weight[f"{diameter:g} x {length:g}" if length else f"{diameter:g}"] += counts[f]
                continue
            per_set[f] = mass
            weight += mass * counts[f]
        spare = max(settings.spare_minimum, ceil(quantity * settings.spare_percent / 100 - 1e-9))
        rows.append(
            BoltLine(
                diameter or None,
                length or None,
                grade,
                standard,
                quantity,
                spare,
                quantity + spare,
                nuts,
                washers,
                weight,
            )
        )
    if no_length:
        found.append(query(BOLT_LENGTH_NOT_STATED, no_length, global_ids=tuple(ids_length)))
    if no_weight:
        found.append(query(BOLT_WEIGHT_UNKNOWN, sum(no_weight.values()), ", ".join(sorted(no_weight))))
    if assumed:
        found.append(query(NUTS_WASHERS_ASSUMED, assumed, settings.nuts, settings.washers))
    short = [
        (p, fasteners[p.fastener].length or 0.0)
        for p in passages
        if fasteners[p.fastener].length
        and fasteners[p.fastener].kind in ORDERED
        and p.plies
        and p.grip > (fasteners[p.fastener].length or 0.0) + 0.5
    ]
    if short:
        worst, length = max(short, key=lambda entry: (entry[0].grip - entry[1], entry[0].grip))
        ids = tuple(dict.fromkeys(fasteners[p.fastener].global_id for p, _ in short))
        found.append(query(BOLT_SHORTER_THAN_GRIP, len(short), f"{length:g}", f"{worst.grip:.1f}", global_ids=ids))
    return tuple(rows), per_set, tuple(found)


def _number(stated: int | None, assumed: int) -> int:
    return assumed if stated is None else stated


def number_alike(
    joints: Sequence[Joint], passages: Sequence[Passage], fasteners: Sequence[Fastener], member_marks: Sequence[str]
) -> tuple[Joint, ...]:
    """Joints with the same piece marks, bolts and grips under one number; in that order, and numbered by it."""

    # What a joint is made of as small numbers first; the people's order only for what is different.
    kinds: dict[tuple[float, float, str, float, float], int] = {}
    kind_of = []
    for passage in passages:
        fastener = fasteners[passage.fastener]
        kind = (
            fastener.diameter or 0.0,
            fastener.length or 0.0,
            fastener.grade,
            round(passage.grip, 1),
            round(passage.plies_mm, 1),
        )
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
        [replace(joint, alike=numbers[m]) for joint, m in zip(joints, made, strict=True)], passages, fasteners
    )


def _renumber(joints: list[Joint], passages: Sequence[Passage], fasteners: Sequence[Fastener]) -> tuple[Joint, ...]:
    """Numbers that follow what is joined and where it stands, not the order of the model's entities."""

    def place(joint: Joint) -> tuple[int, list[tuple[float, ...]]]:
        points = [fasteners[passages[p].fastener].bolts[passages[p].bolt].point for p in joint.passages]
        return joint.alike, sorted([tuple(round(c, 1) for c in point) for point in points])

    ordered = sorted(joints, key=place)
    nodes: dict[int, int] = {}
    for joint in ordered:
        nodes.setdefault(joint.node, len(nodes) + 1)
    return tuple(replace(joint, number=k, node=nodes[joint.node]) for k, joint in enumerate(ordered, start=1))


def bought_out(
    members: Sequence[Member], fasteners: Sequence[Fastener], passages: Sequence[Passage]
) -> tuple[BoughtOut, ...]:
    """Hardware that is not cut, from parts and from fasteners that are no bolts of the order list."""
    counts = Counter(p.fastener for p in passages)
    found: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for member in members:
        if member.status == BOUGHT_OUT:
            found.setdefault((member.name, member.section_text), []).append((1, member.global_id))
    for f, fastener in enumerate(fasteners):
        if fastener.status == LEFT_OUT or (fastener.kind in ORDERED and fastener.status != BOUGHT_OUT):
            continue
        size = f"{fastener.diameter:g}" if fastener.diameter else ""
        if size and fastener.length:
            size += f" x {fastener.length:g}"
        name = fastener.name or fastener.kind
        found.setdefault((name, size), []).append((max(1, counts[f]), fastener.global_id))
    return tuple(
        BoughtOut(name, size, sum(n for n, _ in items), tuple(sorted(g for _, g in items)))
        for (name, size), items in sorted(found.items())
    )
