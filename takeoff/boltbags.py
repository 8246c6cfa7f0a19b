"""Bolt bags: the bolts of each section of the structure, spares in a bag apart; bags and spares make up the order.

Vocabulary: bag (the bolts of one level or one assembly, with their nuts and washers), spare (see boltlists.py).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from takeoff.dispatch import Bag, BagLine, BoltKind
from takeoff.order import natural
from takeoff.rules.bolt_mass import bolt_set_mass
from takeoff.settings import ShippingSettings
from takeoff.steel import BOUGHT_OUT, LEFT_OUT, BoltLine, BoltRow, BoltSet, Takeoff

ORDERED: Final = "bolt"
"""The kind of fastener that stands on the order list."""


def pack_bolts(takeoff: Takeoff, row_levels: Sequence[int], settings: ShippingSettings) -> tuple[Bag, ...]:
    """Bags in the order of levels or assemblies, the spares last.

    ``row_levels`` runs parallel to ``takeoff.bolt_rows``. Every bolt of the order list is in one bag: of each kind the
    bags' bolts make up the line's quantity, and with the spares what is to order.
    """
    sections: dict[str, dict[BoltKind, list[tuple[BoltRow, BoltSet]]]] = defaultdict(lambda: defaultdict(list))
    kinds: dict[tuple[object, ...], BoltKind] = {}
    fasteners = takeoff.model.fasteners
    for row, level in zip(takeoff.bolt_rows, row_levels, strict=True):
        fastener = fasteners[row.fastener]
        if fastener.kind != ORDERED or row.status in (LEFT_OUT, BOUGHT_OUT) or not row.bolts:
            continue
        made = row.bolt_set or BoltSet(
            fastener.nuts or 0, fastener.washers or 0, 0, 0, row.length, row.length_source, fastener.standard, None, ""
        )
        key = (fastener.diameter, row.length, fastener.grade, made.standard, made.source)
        kind = kinds.get(key)
        if kind is None:
            kind = kinds[key] = BoltKind(
                fastener.diameter or 0.0, row.length or 0.0, fastener.grade, made.standard, made.source == "rule"
            )
        section = (str(level) if level else "") if settings.bags_by == "level" else row.assembly_mark
        sections[section][kind].append((row, made))
    bags = []
    for number, section in enumerate(sorted(sections, key=lambda s: (not s, natural(s))), start=1):
        lines = [_line(kind, rows) for kind, rows in sorted(sections[section].items())]
        bags.append(Bag(number, section, tuple(lines)))
    spares = tuple(_spare(line) for line in takeoff.bolt_lines if line.spare)
    if spares:
        bags.append(Bag(len(bags) + 1, "", spares, spare=True))
    return tuple(bags)


def line_kind(line: BoltLine) -> BoltKind:
    """The kind of a line of the order list."""
    return BoltKind(
        line.diameter or 0.0, line.length or 0.0, line.grade, line.standard, line.length_source == "rule"
    )  # fmt: skip


@lru_cache(maxsize=4096)
def _mass(diameter: float, length: float, nuts: int, washers: int, standard: str) -> float | None:
    return bolt_set_mass(diameter, length, nuts, washers, standard)[0] if diameter and length else None


def _line(kind: BoltKind, rows: Sequence[tuple[BoltRow, BoltSet]]) -> BagLine:
    numbers = [0] * 5
    weight: float | None = 0.0
    for row, made in rows:
        for k, each in enumerate((1, made.nuts, made.washers, made.springs, made.tapers)):
            numbers[k] += each * row.bolts
        mass = _mass(kind.diameter, kind.length, made.nuts, made.washers, kind.standard)
        weight = None if weight is None or mass is None else weight + mass * row.bolts
    return BagLine(kind, numbers[0], numbers[1], numbers[2], numbers[3], numbers[4], weight)


def _spare(line: BoltLine) -> BagLine:
    kind = line_kind(line)
    nuts, washers = line.spare_nuts // line.spare, line.spare_washers // line.spare
    mass = _mass(kind.diameter, kind.length, nuts, washers, kind.standard)
    return BagLine(
        kind, line.spare, line.spare_nuts, line.spare_washers, line.spare_springs, line.spare_tapers,
        None if mass is None else mass * line.spare,
    )  # fmt: skip
