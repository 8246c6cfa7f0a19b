"""Counts and weights that must agree, each reached by two ways."""

from __future__ import annotations

from collections import Counter

from takeoff.holerows import SOURCES, Holes
from takeoff.steel import BOUGHT_OUT, HELD, LEFT_OUT, LISTED, Takeoff


def balance_of(takeoff: Takeoff, holes: Holes) -> dict[str, float]:
    """The figures of the balance box: parts, bolts, holes, and weights by pieces and by members.

    ``plies_over_bolts`` counts, bolt by bolt, the thicknesses it passes; ``bolt_holes`` counts, member by member, the
    holes that have a bolt, with ``bolt_holes_merged`` for bolts that the model has twice in one hole.
    """
    model = takeoff.model
    status = Counter(takeoff.member_status)
    bolts = Counter[str]()
    for row in takeoff.bolt_rows:
        bolts[row.status] += row.bolts
    bolted = int(((holes.rows["source"] & SOURCES["bolt"]) > 0).sum())
    weight_of = {i: piece for piece in takeoff.pieces for i in piece.members}
    return {
        "parts_in_model": len(model.members),
        "parts_listed": status[LISTED],
        "parts_held": status[HELD],
        "parts_bought_out": status[BOUGHT_OUT],
        "parts_left_out": status[LEFT_OUT],
        "fasteners_in_model": len(model.fasteners),
        "fasteners_listed": len({row.fastener for row in takeoff.bolt_rows}),
        "bolts_in_model": sum(len(f.bolts) for f in model.fasteners),
        "bolts_listed": bolts[LISTED],
        "bolts_held": bolts[HELD],
        "bolts_bought_out": bolts[BOUGHT_OUT],
        "bolts_left_out": bolts[LEFT_OUT],
        "plies_over_bolts": sum(len(passage.plies) for passage in takeoff.passages),
        "bolt_holes": bolted,
        "bolt_holes_merged": holes.ply_count - bolted,
        "holes_by_pieces": sum(len(piece.holes) * piece.quantity for piece in takeoff.pieces),
        "holes_by_members": len(holes.rows),
        "gross_weight_kg": sum(piece.gross * piece.quantity for piece in takeoff.pieces),
        "net_weight_kg": sum(piece.net * piece.quantity for piece in takeoff.pieces),
        "gross_weight_from_members_kg": sum(weight_of[i].gross for i in sorted(weight_of)),
        "net_weight_from_members_kg": sum(weight_of[i].net for i in sorted(weight_of)),
        "net_weight_from_assemblies_kg": sum(a.net * a.quantity for a in takeoff.assemblies),
        "surface_m2": sum(piece.surface * piece.quantity for piece in takeoff.pieces),
        "bolt_weight_kg": sum(a.bolt_weight * a.quantity for a in takeoff.assemblies),
    }
