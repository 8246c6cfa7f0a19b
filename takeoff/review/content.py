"""What the page knows, as plain values for JSON: pieces with their faces, members, bolts, queries.

Lengths mm rounded to 0.01, masses kg, angles degrees. Long columns of text that repeats are
written once with numbers pointing at it.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from takeoff.queries import SEVERITIES
from takeoff.review.scene import Scene
from takeoff.steel import HELD, Face, Fastener, Piece, Takeoff

STRIPS = ("back", "top", "A", "web", "stem", "face", "front", "wall", "B", "bottom")
"""Faces of any shape as they lie one under the other when the piece is unfolded, seen from outside."""


def page_data(takeoff: Takeoff, scene: Scene, pages: Mapping[str, int] | None) -> dict[str, Any]:
    """Everything the page's script needs, ready for ``json.dumps``."""
    shown = [member for batch in scene.batches for member in batch.members]
    place_of = {member: number for number, member in enumerate(shown)}
    return {
        "centre": [round(float(c), 3) for c in scene.centre],
        "pieces": _pieces(takeoff, scene, pages or {}),
        "batches": _batches(scene),
        "placements": packed(scene.placements, "<f4"),
        "members": _members(takeoff, shown),
        "bolts": packed(scene.bolts, "<f4"),
        "boltOf": packed(scene.bolt_of[:, 0], "<u4"),
        "fasteners": _fasteners(takeoff),
        "groups": _query_groups(takeoff, place_of),
        "absent": _absent(takeoff, scene),
    }


def packed(values: npt.NDArray[Any], kind: str) -> str:
    """An array as base64 of its little-endian bytes, row after row."""
    return base64.b64encode(np.ascontiguousarray(values, dtype=kind).tobytes()).decode("ascii")


def coded(values: Iterable[str]) -> dict[str, list[Any]]:
    """A column of text as the different texts (in order of appearance) and a number for each row."""
    numbers: dict[str, int] = {}
    rows = [numbers.setdefault(value, len(numbers)) for value in values]
    return {"texts": list(numbers), "rows": rows}


def upward(face: Face) -> int:
    """1 where ``across`` grows upward on a face seen from outside with x to the right, else -1.

    Seen from outside, up is (outward normal) x (x axis); with x = u x v that is
    (n_v, -n_u) in the section's plane.
    """
    nu, nv = -face.inward[0], -face.inward[1]
    return 1 if face.direction[0] * nv - face.direction[1] * nu >= 0 else -1


def size_text(fastener: Fastener) -> str:
    """Diameter and length as stated, in mm: ``16 x 45``; empty where the model states no diameter."""
    if fastener.diameter is None:
        return ""
    text = f"{fastener.diameter:g}"
    return text if fastener.length is None else f"{text} x {fastener.length:g}"


def _mm(value: float) -> float:
    return round(float(value), 2) + 0.0


def _batches(scene: Scene) -> dict[str, Any]:
    meshes = [batch.mesh for batch in scene.batches]
    starts = np.cumsum([0, *(len(mesh.points) for mesh in meshes)])
    triangles = [mesh.triangles + start for mesh, start in zip(meshes, starts, strict=False)]
    edges = [mesh.edges + start for mesh, start in zip(meshes, starts, strict=False)]
    empty = np.empty((0, 3))
    return {
        "points": packed(np.concatenate([m.points for m in meshes]) if meshes else empty, "<f4"),
        "triangles": packed(np.concatenate(triangles) if meshes else empty, "<u4"),
        "edges": packed(np.concatenate(edges) if meshes else empty, "<u4"),
        "rows": [
            [b.piece, b.first, len(b.members), len(b.mesh.points), len(b.mesh.triangles), len(b.mesh.edges)]
            for b in scene.batches
        ],
    }


def _pieces(takeoff: Takeoff, scene: Scene, pages: Mapping[str, int]) -> list[dict[str, Any]]:
    used: dict[str, list[list[Any]]] = {}
    for assembly in takeoff.assemblies:
        for mark, count in assembly.pieces:
            used.setdefault(mark, []).append([assembly.mark, assembly.quantity, count])
    first = {batch.piece: batch.first for batch in scene.batches}
    asked: dict[str, list[int]] = {}
    for number, query in enumerate(takeoff.queries):
        if query.piece_mark:
            asked.setdefault(query.piece_mark, []).append(number)
    return [
        _piece(piece, first.get(number, -1), used.get(piece.mark, []), asked, pages.get(piece.mark))
        for number, piece in enumerate(takeoff.pieces)
    ]


def _piece(
    piece: Piece, first: int, used: list[list[Any]], asked: Mapping[str, list[int]], page: int | None
) -> dict[str, Any]:
    order = {name: number for number, name in enumerate(STRIPS)}
    faces = sorted(piece.faces, key=lambda face: order.get(face.name, len(order)))
    outlines = {outline.face: outline for outline in piece.outlines}
    return {
        "mark": piece.mark,
        "quantity": piece.quantity,
        "shape": piece.section.shape,
        "section": piece.section.designation,
        "grade": piece.grade,
        "finish": piece.finish,
        "length": _mm(piece.length),
        "gross": _mm(piece.gross),
        "net": _mm(piece.net),
        "surface": round(piece.surface, 4),
        "hand": piece.opposite_hand_of,
        "modelMarks": list(piece.model_marks),
        "status": piece.status,
        "reasons": list(piece.reasons),
        "page": page,
        "first": first,
        "used": used,
        "queries": asked.get(piece.mark, []),
        "faces": [
            {
                "name": face.name,
                "origin": [_mm(c) for c in face.origin],
                "direction": list(face.direction),
                "inward": list(face.inward),
                "thickness": _mm(face.thickness),
                "low": _mm(face.low),
                "high": _mm(face.high),
                "up": upward(face),
                "outline": [_mm(c) for c in np.asarray(outlines[face.name].points).ravel()]
                if face.name in outlines
                else None,
            }
            for face in faces
        ],
        "holes": [
            [
                h.label,
                h.face,
                _mm(h.x),
                _mm(h.across),
                _mm(h.diameter),
                _mm(h.slot_length),
                _mm(h.slot_angle),
                _mm(h.width),
                h.gauge_line,
                h.bolt,
                h.source,
                h.kind,
            ]
            for h in piece.holes
        ],
        "cuts": [[c.end, c.face, c.kind, _mm(c.x), _mm(c.across), _mm(c.angle), _mm(c.size)] for c in piece.cuts],
    }


def _members(takeoff: Takeoff, shown: Sequence[int]) -> dict[str, Any]:
    members = takeoff.model.members
    return {
        "ids": [members[k].global_id for k in shown],
        "names": coded(members[k].name for k in shown),
        "classes": coded(members[k].ifc_class for k in shown),
        "assemblies": coded(takeoff.member_assemblies[k] for k in shown),
        "status": coded(takeoff.member_status[k] for k in shown),
        "reasons": coded(takeoff.member_reasons[k] for k in shown),
        "models": coded(members[k].model for k in shown),
    }


def _fasteners(takeoff: Takeoff) -> dict[str, Any]:
    fasteners = takeoff.model.fasteners
    held = {row.fastener for row in takeoff.bolt_rows if row.status == HELD}
    reasons: dict[int, str] = {}
    for row in takeoff.bolt_rows:
        if row.reason:
            reasons.setdefault(row.fastener, row.reason)
    return {
        "ids": [f.global_id for f in fasteners],
        "names": coded(f.name for f in fasteners),
        "kinds": coded(f.kind for f in fasteners),
        "sizes": coded(size_text(f) for f in fasteners),
        "grades": coded(f.grade for f in fasteners),
        "places": coded(f.place for f in fasteners),
        "status": coded(HELD if k in held else f.status for k, f in enumerate(fasteners)),
        "reasons": coded(reasons.get(k, f.reason) for k, f in enumerate(fasteners)),
    }


def _query_groups(takeoff: Takeoff, place_of: Mapping[int, int]) -> list[dict[str, Any]]:
    """Queries by severity, then cause, the commonest cause first; ids as numbers where they are shown."""
    members: dict[str, list[int]] = {}
    for number, member in enumerate(takeoff.model.members):
        members.setdefault(member.global_id, []).append(number)
    fasteners: dict[str, list[int]] = {}
    for number, fastener in enumerate(takeoff.model.fasteners):
        fasteners.setdefault(fastener.global_id, []).append(number)
    groups: dict[tuple[int, str], list[int]] = {}
    for number, query in enumerate(takeoff.queries):
        groups.setdefault((SEVERITIES.index(query.severity), query.cause or query.code), []).append(number)
    ordered = sorted(groups.items(), key=lambda item: (item[0][0], -len(item[1]), item[0][1]))
    result = []
    for (severity, cause), numbers in ordered:
        rows = []
        for number in numbers:
            query = takeoff.queries[number]
            places = [place_of[k] for i in query.global_ids for k in members.get(i, ()) if k in place_of]
            bolts = [k for i in query.global_ids for k in fasteners.get(i, ())]
            rest = [
                i for i in query.global_ids if i not in fasteners and not any(k in place_of for k in members.get(i, ()))
            ]
            rows.append([number, query.message, query.remedy, query.piece_mark, places, bolts, rest])
        result.append({"severity": SEVERITIES[severity], "cause": cause, "queries": rows})
    return result


def _absent(takeoff: Takeoff, scene: Scene) -> list[dict[str, Any]]:
    """Parts and fasteners that the view cannot show, by status and reason, the commonest first."""
    groups: dict[tuple[str, str], list[list[str]]] = {}
    for k in scene.absent:
        member = takeoff.model.members[k]
        key = (takeoff.member_status[k], takeoff.member_reasons[k] or "it has no shape that can be drawn")
        groups.setdefault(key, []).append([member.global_id, member.ifc_class, member.name])
    for k in scene.absent_fasteners:
        fastener = takeoff.model.fasteners[k]
        key = (fastener.status, fastener.reason or "no bolt of it is drawn or placed in the model")
        groups.setdefault(key, []).append([fastener.global_id, fastener.ifc_class, fastener.name])
    ordered = sorted(groups.items(), key=lambda item: (-len(item[1]), item[0]))
    return [{"status": status, "reason": reason, "rows": rows} for (status, reason), rows in ordered]
