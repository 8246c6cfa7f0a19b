"""What of a Takeoff must not depend on how the model was written, and how two of them differ."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import astuple
from pathlib import Path
from typing import Any

from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import Piece, Takeoff

PLACE_MM = 0.01
KG = 1e-3


def take(path: Path) -> Takeoff:
    return take_off([path], Settings())


def by_label(takeoff: Takeoff, ids: Mapping[str, str]) -> dict[str, Piece]:
    """The piece of each labelled part."""
    label = {global_id: name for name, global_id in ids.items()}
    return {label[takeoff.model.members[i].global_id]: p for p in takeoff.pieces for i in p.members}


def digest(takeoff: Takeoff, ids: Mapping[str, str]) -> dict[str, Any]:
    """Plain values by name. Parts go by their labels, GlobalIds by nothing."""
    label = {global_id: name for name, global_id in ids.items()}
    member = [label[m.global_id] for m in takeoff.model.members]
    pieces = {
        p.mark: {
            "quantity": p.quantity,
            "members": sorted(member[i] for i in p.members),
            "section": (p.section.shape, p.section.designation, p.section.standard),
            "sizes": (p.section.h, p.section.b, p.section.tw, p.section.tf),
            "grade": p.grade,
            "length": p.length,
            "holes": [astuple(h) for h in p.holes],
            "cuts": sorted(astuple(c) for c in p.cuts),
            "outline": [astuple(v) for v in p.outline],
            "weights": (p.gross, p.net, p.surface),
            "opposite": p.opposite_hand_of,
            "status": (p.status, p.reasons),
        }
        for p in takeoff.pieces
    }
    assemblies = {
        a.mark: (a.quantity, a.pieces, a.bolts, a.gross, a.net, a.bolt_weight, a.surface) for a in takeoff.assemblies
    }
    lines = sorted(astuple(line) for line in takeoff.bolt_lines)
    rows = sorted(
        (r.bolts, r.length or -1.0, r.grip or -1.0, r.plies or -1.0, sorted(member[i] for i in r.members), r.status)
        for r in takeoff.bolt_rows
    )
    joints = Counter(tuple(sorted(member[i] for i in j.members)) for j in takeoff.joints)
    return {
        "pieces": pieces,
        "assemblies": assemblies,
        "bolt lines": lines,
        "bolt rows": rows,
        "joints": dict(sorted(joints.items())),
        "queries": sorted((q.code, q.severity, q.message, q.piece_mark) for q in takeoff.queries),
        "balance": dict(takeoff.balance),
    }


def differences(one: Any, other: Any, path: str = "", tolerance: float = PLACE_MM) -> list[str]:
    """Where two digests differ by more than the tolerance, a line each."""
    if isinstance(one, dict) and isinstance(other, dict):
        found = [f"{path}/{k}: only in the first" for k in one if k not in other]
        found += [f"{path}/{k}: only in the second" for k in other if k not in one]
        for key in one:
            if key in other:
                found += differences(one[key], other[key], f"{path}/{key}", tolerance)
        return found
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        if len(one) != len(other):
            return [f"{path}: {one} != {other}"]
        return [d for k, (a, b) in enumerate(zip(one, other, strict=True)) for d in differences(a, b, f"{path}[{k}]")]
    numbers = int | float
    if isinstance(one, numbers) and isinstance(other, numbers):
        return [] if abs(one - other) <= tolerance else [f"{path}: {one} != {other}"]
    return [] if one == other else [f"{path}: {one} != {other}"]
