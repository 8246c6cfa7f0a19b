"""Whether a plan does what was asked, worked out anew from lengths alone; shares no code with the engine."""

from __future__ import annotations

from collections.abc import Sequence


def faults(
    lengths: Sequence[int],
    quantities: Sequence[int],
    stock: Sequence[tuple[int, float, int | None]],
    patterns: Sequence[tuple[int, int, Sequence[int]]],
    kinds: Sequence[int],
    missing: Sequence[int],
    *,
    kerf: int,
    trim: int,
    stub: int,
) -> list[str]:
    """Sentences on every fault of a plan; none for a sound one.

    ``patterns`` are (stock length, times, pieces of each length), ``kinds`` the entries of
    ``stock`` they are cut from, ``missing`` the pieces of each length that are not cut.
    """
    found = []
    cut = [0] * len(lengths)
    taken = [0] * len(stock)
    for (bar, times, pieces), kind in zip(patterns, kinds, strict=True):
        if bar != stock[kind][0]:
            found.append(f"a pattern of {bar} mm is said to come from a bar of {stock[kind][0]} mm")
        if times < 1 or min(pieces) < 0 or sum(pieces) < 1:
            found.append(f"a pattern of {bar} mm cuts nothing")
        # piece, kerf, piece, kerf ... piece: the end of the last piece
        end = sum(n * length for n, length in zip(pieces, lengths, strict=True)) + kerf * (sum(pieces) - 1)
        if trim + end + stub > bar:
            found.append(f"pieces of {end} mm do not fit a bar of {bar} mm")
        taken[kind] += times
        for i, n in enumerate(pieces):
            cut[i] += n * times
    for length, asked, made, lacking in zip(lengths, quantities, cut, missing, strict=True):
        if made + lacking != asked or lacking < 0:
            found.append(f"{made} of {asked} pieces of {length} mm are cut, {lacking} are said to be missing")
    for (bar, _, most), many in zip(stock, taken, strict=True):
        if most is not None and many > most:
            found.append(f"{many} bars of {bar} mm are cut, of {most} there are")
    return found
