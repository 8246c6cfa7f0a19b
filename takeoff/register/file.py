"""The register's file: JSON with a line for each mark, so that a person can open it and compare two states.

A checksum over the content stands in front: a register that a disk, a program or a hand has changed is refused
rather than half believed. Numbers are written in full, so that what is read is what was written, to the last bit.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np

from takeoff.released import Issue, Register, ReleasedAssembly, ReleasedPiece
from takeoff.settings import IdentitySettings
from takeoff.steel import Body, FloatArray, Frame, Notch, Plane, Section, Vec, Vertex
from takeoff.turned import COLUMNS

FORMAT: Final = 1
"""Raised when an older program could misread what is written."""
HEAD: Final = "takeoff mark register"
ABOUT: Final = (
    "Each mark names one shape for ever. Lengths in mm. Written by `takeoff lists --register`; a change by hand is "
    "refused. Keep it with the job's models and in its backups."
)
FEATURES: Final = (
    "type", "face", "x", "across", "size", "slot_length", "angle", "width", "kind", "depth", "side", "bolt",
)  # fmt: skip
"""Names of the columns of turned.py, in order; type 0: a hole, 1: a corner, 2: an arc's middle, 3: a round end."""


class RegisterError(Exception):
    """The register cannot be used; the message is a sentence with its remedy."""


def read_register(path: Path) -> Register:
    """The register of a file. Raises RegisterError where it is not there, unreadable, damaged, or of a newer format."""
    try:
        content = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise RegisterError(
            f"The register {path} cannot be read: {reason[:1].lower()}{reason[1:]}. Name the job's register."
        ) from error
    return parsed(content, path)


def parsed(content: bytes, path: Path) -> Register:
    """The register that ``content`` holds; ``path`` is named in the sentences of RegisterError."""
    damaged = RegisterError(
        f"The register {path} is damaged, was changed by hand, or is no register at all. Restore it from a copy: "
        "without it marks that were released could be given to other pieces."
    )
    try:
        data = json.loads(content.decode("utf-8"))
    except ValueError as error:
        raise damaged from error
    if not isinstance(data, dict) or data.get("file") != HEAD or not isinstance(data.get("format"), int):
        raise damaged
    if data["format"] > FORMAT:
        raise RegisterError(
            f"The register {path} was written by a newer version of this program, which may remember more than this "
            "one understands. Use that version or a newer one."
        )
    if data.get("checksum") != _checksum(data):
        raise damaged
    try:
        return _register(data)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        raise damaged from error


def written(register: Register) -> bytes:
    """The file's content: the same register gives the same bytes."""
    data: dict[str, Any] = {
        "file": HEAD,
        "format": FORMAT,
        "checksum": "",
        "about": ABOUT,
        "job": register.job,
        "projects": list(register.projects),
        "feature_columns": list(FEATURES),
        "issues": [_plain_issue(issue) for issue in register.issues],
        "sections": [_plain_section(section) for section in register.sections],
        "pieces": [_plain_piece(piece) for piece in register.pieces],
        "assemblies": [_plain_assembly(assembly) for assembly in register.assemblies],
    }
    data["checksum"] = _checksum(data)
    lines = []
    for key, value in data.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            rows = ",\n".join(f"  {_text(row)}" for row in value)
            lines.append(f"{_text(key)}: [\n{rows}\n]")
        else:
            lines.append(f"{_text(key)}: {_text(value)}")
    body = ",\n".join(lines)
    return f"{{\n{body}\n}}\n".encode()


def _text(value: Any) -> str:
    # Letters of all languages as escapes: half a character of a broken escape in a model has no UTF-8.
    return json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(", ", ": "))


def _checksum(data: Mapping[str, Any]) -> str:
    content = {key: value for key, value in data.items() if key != "checksum"}
    text = json.dumps(content, ensure_ascii=True, allow_nan=True, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _number(value: float) -> float | int:
    """Whole numbers without a point: 0, not 0.0, which halves the file."""
    value = float(value)
    return int(value) if value.is_integer() and abs(value) < 2**53 else value


def _numbers(values: Any) -> list[float | int]:
    return [_number(value) for value in values]


# ---------------------------------------------------------------- to plain values


def _plain_issue(issue: Issue) -> dict[str, Any]:
    return {**dataclasses.asdict(issue), "rules": _plain_rules(issue.rules)}


def _plain_rules(rules: IdentitySettings) -> dict[str, Any]:
    return {field.name: _number(getattr(rules, field.name)) for field in dataclasses.fields(rules)}


def _plain_section(section: Section) -> dict[str, Any]:
    plain: dict[str, Any] = {}
    for field in dataclasses.fields(section):
        value = getattr(section, field.name)
        if field.name == "outline":
            plain[field.name] = [_numbers(point) for point in value]
        else:
            plain[field.name] = value if isinstance(value, str) else _number(value)
    # What is not there for this shape is left out.
    return {name: value for name, value in plain.items() if value not in ("", 0, [])}


def _plain_piece(piece: ReleasedPiece) -> dict[str, Any]:
    body = piece.body
    return {
        "mark": piece.mark,
        "shown": piece.shown,
        "quantities": dict(piece.quantities),
        "opposite_hand_of": piece.opposite_hand_of,
        "model_marks": list(piece.model_marks),
        "section": _plain_section(piece.section),
        "grade": piece.grade,
        "finish": piece.finish,
        "length": _number(piece.length),
        "left": [_plain_plane(plane) for plane in body.left],
        "right": [_plain_plane(plane) for plane in body.right],
        "outline": [_numbers((v.x, v.across, v.bulge)) for v in body.outline],
        "notches": [[notch.face, [_numbers(point) for point in notch.loop]] for notch in body.notches],
        "features": [_numbers(row) for row in piece.rows.tolist()],
        "hole_sources": [list(pair) for pair in piece.sources],
        "tolerances": _plain_rules(piece.rules),
    }


def _plain_plane(plane: Plane) -> list[list[float | int]]:
    return [_numbers(plane.point), _numbers(plane.normal)]


def _plain_assembly(assembly: ReleasedAssembly) -> dict[str, Any]:
    return {
        "mark": assembly.mark,
        "shown": assembly.shown,
        "quantities": dict(assembly.quantities),
        "parts": [
            [mark, _numbers(frame.origin.tolist()), [_numbers(axis) for axis in frame.axes.tolist()]]
            for mark, frame in assembly.parts
        ],
    }


# ---------------------------------------------------------------- from plain values


def _register(data: Mapping[str, Any]) -> Register:
    return Register(
        job=_word(data["job"]),
        projects=tuple(_word(p) for p in data["projects"]),
        issues=tuple(_issue(entry) for entry in data["issues"]),
        sections=tuple(_section(entry) for entry in data["sections"]),
        pieces=tuple(_piece(entry) for entry in data["pieces"]),
        assemblies=tuple(_assembly(entry) for entry in data["assemblies"]),
    )


def _word(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    return value


def _issue(entry: Mapping[str, Any]) -> Issue:
    words = {name: _word(entry[name]) for name in ("revision", "date", "model", "checksum", "mass", "program")}
    return Issue(**words, rules=_rules(entry["rules"]))


def _rules(entry: Mapping[str, Any]) -> IdentitySettings:
    return IdentitySettings(**{name: float(value) for name, value in entry.items()})


def _section(entry: Mapping[str, Any]) -> Section:
    values: dict[str, Any] = {"h": 0.0, "b": 0.0, "designation": ""}
    for name, value in entry.items():
        if name == "outline":
            values[name] = tuple((float(u), float(v)) for u, v in value)
        else:
            values[name] = value if isinstance(value, str) else float(value)
    return Section(**values)


def _piece(entry: Mapping[str, Any]) -> ReleasedPiece:
    section, length = _section(entry["section"]), float(entry["length"])
    body = Body(
        section,
        length,
        left=tuple(_plane(plane) for plane in entry["left"]),
        right=tuple(_plane(plane) for plane in entry["right"]),
        outline=tuple(Vertex(float(x), float(a), float(b)) for x, a, b in entry["outline"]),
        notches=tuple(
            Notch(_word(face), tuple((float(x), float(a)) for x, a in loop)) for face, loop in entry["notches"]
        ),
    )
    return ReleasedPiece(
        mark=_word(entry["mark"]),
        section=section,
        grade=_word(entry["grade"]),
        finish=_word(entry["finish"]),
        length=length,
        body=body,
        rows=_rows(entry["features"]),
        sources=tuple((int(source), int(size)) for source, size in entry["hole_sources"]),
        rules=_rules(entry["tolerances"]),
        shown=_word(entry["shown"]),
        quantities={_word(name): int(number) for name, number in entry["quantities"].items()},
        opposite_hand_of=_word(entry["opposite_hand_of"]),
        model_marks=tuple(_word(mark) for mark in entry["model_marks"]),
    )


def _rows(features: Any) -> FloatArray:
    rows = np.array(features, dtype=float).reshape(-1, COLUMNS)
    if len(rows) != len(features):
        raise ValueError("features of another width")
    return rows


def _plane(entry: Any) -> Plane:
    point, normal = entry
    return Plane(_vector(point), _vector(normal))


def _vector(entry: Any) -> Vec:
    x, u, v = entry
    return float(x), float(u), float(v)


def _assembly(entry: Mapping[str, Any]) -> ReleasedAssembly:
    parts = []
    for mark, origin, axes in entry["parts"]:
        frame = Frame(np.array(origin, dtype=float).reshape(3), np.array(axes, dtype=float).reshape(3, 3))
        parts.append((_word(mark), frame))
    return ReleasedAssembly(
        mark=_word(entry["mark"]),
        parts=tuple(parts),
        shown=_word(entry["shown"]),
        quantities={_word(name): int(number) for name, number in entry["quantities"].items()},
    )
