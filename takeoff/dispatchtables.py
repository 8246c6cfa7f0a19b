"""The rows of the tables of what leaves the shop: where pieces stand, bolt bags, bundles, plate, look-alikes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from takeoff.dispatch import Difference, Dispatch, Stand
from takeoff.steel import Piece, Takeoff

Row = tuple[Any, ...]


def _pieces(takeoff: Takeoff) -> Mapping[str, Piece]:
    return {piece.mark: piece for piece in takeoff.pieces}


def _erection_rows(takeoff: Takeoff, dispatch: Dispatch) -> Iterator[Row]:
    pieces = _pieces(takeoff)
    levels = {level.number: level for level in dispatch.erection.levels}
    for stand in dispatch.erection.stands:
        known = stand.level in levels
        yield (
            stand.level if known else None,
            levels[stand.level].height if known else None,
            face_text(stand),
            stand.mark,
            len(stand.members),
            stand.way.end_up,
            stand.way.right_to,
            "; ".join(f"{name} {direction}" for name, direction in stand.way.outsides if direction),
            *(stand.low if known else (None,) * 3),
            *(stand.high if known else (None,) * 3),
            pieces[stand.mark].status,
            " ".join(sorted(takeoff.model.members[m].global_id for m in stand.members)),
        )


def face_text(stand: Stand) -> str:
    """The sides a stand is at, ``inside`` for none; empty where its place is not known."""
    if not stand.level:
        return ""
    return " ".join(stand.sides) or "inside"


def _bag_rows(takeoff: Takeoff, dispatch: Dispatch) -> Iterator[Row]:
    for bag in dispatch.bags:
        for line in bag.lines:
            kind = line.kind
            yield (
                bag.number,
                "spares" if bag.spare else bag.section,
                kind.diameter or None,
                kind.length or None,
                kind.grade,
                kind.standard,
                line.bolts,
                line.nuts,
                line.washers,
                line.springs,
                line.tapers,
                line.weight,
            )


def _bundle_rows(takeoff: Takeoff, dispatch: Dispatch) -> Iterator[Row]:
    pieces = _pieces(takeoff)
    for bundle in dispatch.bundles:
        for mark, many in bundle.lines:
            piece = pieces[mark]
            yield (
                bundle.number,
                "piece" if bundle.over else "box" if bundle.boxed else "bundle",
                mark,
                many,
                piece.section.designation,
                piece.grade,
                piece.finish,
                piece.length,
                (piece.net + piece.zinc) * many,
                bundle.length,
                bundle.weight,
                bundle.level or None,
                " and ".join(bundle.over),
            )
    for mark, many, reason in dispatch.unpacked:
        piece = pieces[mark]
        why = "on hold" if reason == "held" else "weight not known"
        known = (piece.section.designation, piece.grade, piece.finish, piece.length)
        yield (None, "", mark, many, *known, None, None, None, None, why)


def _plate_rows(takeoff: Takeoff, dispatch: Dispatch) -> Iterator[Row]:
    for line in dispatch.plates:
        yield (
            line.thickness, line.grade, line.finish, line.marks, line.pieces, line.held, line.longest, line.widest,
            line.area, line.weight,
        )  # fmt: skip


def _look_alike_rows(takeoff: Takeoff, dispatch: Dispatch) -> Iterator[Row]:
    pieces = _pieces(takeoff)
    for pair in dispatch.look_alikes:
        yield (
            pair.mark,
            pair.other,
            pieces[pair.mark].section.designation,
            "; ".join(_difference_text(found) for found in pair.differences),
        )


def _difference_text(found: Difference) -> str:
    if found.what in ("outline", "hole place"):
        return f"{found.what} {found.other_mm:.2f} mm"
    if found.own_mm or found.other_mm:
        name = f"{found.what} {found.own}".strip()
        return f"{name} {found.own_mm:.2f} / {found.other_mm:.2f} mm"
    if found.own or found.other:
        return f"{found.what} {found.own or 'none'} / {found.other or 'none'}"
    return found.what


DISPATCH_ROWS: Final[dict[str, Callable[[Takeoff, Dispatch], Iterator[Row]]]] = {
    "erection": _erection_rows,
    "bolt_bags": _bag_rows,
    "bundles": _bundle_rows,
    "plates": _plate_rows,
    "look_alikes": _look_alike_rows,
}
