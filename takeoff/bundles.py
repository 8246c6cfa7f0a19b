"""Bundles and boxes: what is strapped together for the lorry, within the limits of weight and length.

Vocabulary
----------
bundle   bars of one section and finish, longest first, the shortest not too short for the straps
box      pieces no longer than a box; of one finish
over     a single piece heavier or longer than a bundle may be: it goes by itself

Pieces go by themselves, not in the model's assemblies: what is bolted together before it leaves the shop no model
says. Weights are net, with zinc where it is known. Held pieces are in no bundle.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from takeoff.dispatch import Bundle
from takeoff.order import natural
from takeoff.queries import CHECK, Query, query, register
from takeoff.settings import ShippingSettings
from takeoff.steel import HELD, PLATE, Piece

PIECE_BEYOND_BUNDLE = register(
    "piece-beyond-bundle",
    CHECK,
    "{0} pieces are longer than {1} mm or heavier than {2} kg, the limits of a bundle: {3}.",
    "Arrange their transport, or set the limits under [shipping] in the settings.",
)
NAMED = 12


def pack(
    pieces: Sequence[Piece], levels: Mapping[str, Mapping[int, int]], settings: ShippingSettings
) -> tuple[tuple[Bundle, ...], tuple[tuple[str, int, str], ...], tuple[Query, ...]]:
    """Bundles in the order of their numbers, what is in none and why, and the queries.

    ``levels`` gives, for each mark, how many of its pieces stand at each level; it counts where bundles are by level.
    """
    unpacked = []
    groups: dict[tuple[int, bool, str, str], list[tuple[Piece, int]]] = defaultdict(list)
    by_level = settings.bundle_by == "level"
    for piece in pieces:
        if piece.status == HELD or not piece.net > 0:
            unpacked.append((piece.mark, piece.quantity, "held" if piece.status == HELD else "weight"))
            continue
        boxed = piece.length <= settings.box_mm
        # plates are boxed or laid together whatever their size; a bundle of bars has one section
        section = "" if boxed or piece.section.shape == PLATE else piece.section.designation
        shares = levels.get(piece.mark, {}) if by_level else {0: piece.quantity}
        for level, many in sorted(shares.items()):
            groups[level, boxed, piece.finish, section].append((piece, many))
    bundles: list[Bundle] = []
    for (level, boxed, finish, section), items in sorted(groups.items(), key=lambda g: (g[0][:3], natural(g[0][3]))):
        items.sort(key=lambda item: (0.0 if boxed else -item[0].length, natural(item[0].mark)))
        for lines, weight, length, over in _fill(items, boxed, settings):
            bundles.append(Bundle(0, boxed, level, finish, section, lines, weight, length, over))
    numbered = tuple(replace(bundle, number=k) for k, bundle in enumerate(bundles, start=1))
    return numbered, tuple(unpacked), tuple(_asked(numbered, settings))


def mass(piece: Piece) -> float:
    """kg of one piece as it leaves: net, with zinc where it is known."""
    return piece.net + piece.zinc


_Filled = tuple[tuple[tuple[str, int], ...], float, float, tuple[str, ...]]


def _fill(items: Sequence[tuple[Piece, int]], boxed: bool, settings: ShippingSettings) -> list[_Filled]:
    """(lines, kg, longest, over) of each bundle of one group, filled in the order of the items."""
    found: list[_Filled] = []
    lines: dict[str, int] = {}
    weight = longest = 0.0

    def close() -> None:
        nonlocal lines, weight, longest
        if lines:
            found.append((tuple(lines.items()), weight, longest, ()))
        lines, weight, longest = {}, 0.0, 0.0

    for piece, many in items:
        one = mass(piece)
        over = tuple(
            what
            for what, beyond in (("length", piece.length > settings.bundle_mm), ("weight", one > settings.bundle_kg))
            if beyond
        )
        if over:
            found += [(((piece.mark, 1),), one, piece.length, over)] * many
            continue
        if not boxed and lines and piece.length < settings.shortest_share * longest:
            close()
        left = many
        while left:
            # a hair, so that what fills a bundle exactly is not one piece short by a rounding error
            room = int((settings.bundle_kg - weight) / one + 1e-9)
            if not room:
                close()
                continue
            put = min(left, room)
            lines[piece.mark] = lines.get(piece.mark, 0) + put
            weight += put * one
            longest = max(longest, piece.length)
            left -= put
    close()
    return found


def _asked(bundles: Sequence[Bundle], settings: ShippingSettings) -> list[Query]:
    beyond: dict[str, int] = {}
    for bundle in bundles:
        if bundle.over:
            mark = bundle.lines[0][0]
            beyond[mark] = beyond.get(mark, 0) + 1
    if not beyond:
        return []
    names = sorted(beyond, key=natural)
    words = ", ".join(names[:NAMED]) + (f" and {len(names) - NAMED} more" if len(names) > NAMED else "")
    limits = f"{settings.bundle_mm:g}", f"{settings.bundle_kg:g}"
    mark = names[0] if len(names) == 1 else ""
    return [query(PIECE_BEYOND_BUNDLE, sum(beyond.values()), *limits, words, piece_mark=mark)]
