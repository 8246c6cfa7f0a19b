"""A state from the tables of an earlier run: its folder's tables/*.csv and summary.json.

The tables hold what was rounded to 0.01 mm, and not everything that a model holds; ``State.limits`` says what cannot
be seen from them. Nothing is filled in: a section whose name gives no dimensions is compared by its name, and its
piece only in the position in which it was listed.
"""

from __future__ import annotations

import csv
import json
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import atan
from pathlib import Path
from typing import Any, Final

import numpy as np

from takeoff.comparing.forms import said_in_part
from takeoff.outlines import flatten
from takeoff.revision import BoltKind, Built, Stand, State
from takeoff.sections import designations, shapes
from takeoff.sections.shapes import faces
from takeoff.steel import (
    CHS,
    FLAT,
    LEFT_OUT,
    LOOSE,
    OTHER,
    PLATE,
    ROUND,
    Cut,
    Face,
    FaceOutline,
    FloatArray,
    Hole,
    Piece,
    Point2,
    Section,
    Vertex,
)
from takeoff.units import COINCIDENCE_MM

TABLES: Final = ("pieces", "holes", "cuts", "members", "bolts", "bought_out", "assemblies")
NAME_MM: Final = 0.6
"""What a section's name gives may differ from what was listed by less: names round half millimetres."""

Row = Mapping[str, str]


class UnreadableLists(Exception):
    """The tables of a folder cannot be used; the message is a sentence with its remedy."""


def state_of_lists(folder: Path) -> State:
    """The state that a folder of lists describes. Raises UnreadableLists, or OSError where a file cannot be read."""
    tables = {name: _table(folder, name) for name in TABLES}
    try:
        return _state(folder, tables)
    except (KeyError, ValueError) as error:
        raise UnreadableLists(
            f"The tables of {folder} cannot be used ({error}): a column is missing or a cell is no number. Compare the "
            "models, or write the lists again."
        ) from error


def _state(folder: Path, tables: Mapping[str, list[dict[str, str]]]) -> State:
    holes, cuts = _by_mark(tables["holes"]), _by_mark(tables["cuts"])
    limits = [
        f"{folder.name} is compared from its tables: shapes to 0.01 mm, a part's place by its two ends; how the pieces "
        "of an assembly stand, welds and finish of edges are not in them."
    ]
    pieces, by_name, unclear = [], [], []
    for row in tables["pieces"]:
        mark = row["piece_mark"]
        piece, named, clear = _piece(row, holes.get(mark, []), cuts.get(mark, []))
        pieces.append(piece)
        by_name += [] if named else [mark]
        unclear += [] if clear else [mark]
    if by_name:
        limits.append(
            f"Sections of {_some(by_name)} in {folder.name} are known by name only: these pieces are compared as they "
            "lie on their sheets, not turned."
        )
    if unclear:
        limits.append(
            f"Notches, bevels and arcs of {_some(unclear)} in {folder.name} are not wholly in the tables: they are "
            "compared by their rows in the table of cuts."
        )
    quantities = {row["piece_mark"]: int(row["quantity"]) for row in tables["pieces"]}
    bolts: Counter[BoltKind] = Counter()
    for row in tables["bolts"]:
        sizes = _maybe(row["diameter_mm"]), _maybe(row["length_mm"])
        kind = BoltKind(*sizes, _text(row["grade"]), _text(row["standard"]))
        bolts[kind] += int(row["quantity"])
    bought: Counter[str] = Counter()
    for row in tables["bought_out"]:
        bought[_text(row["size"])] += int(row["quantity"])
    unread = Counter(
        (row["ifc_class"], row["status"], row["reason"])
        for row in tables["members"]
        if not row["piece_mark"] and row["status"] != LEFT_OUT
    )
    return State(
        name=_name(folder),
        from_tables=True,
        pieces=tuple(pieces),
        stands=tuple(_stands(tables["members"])),
        bolts=bolts,
        bought=bought,
        assemblies=tuple(_assemblies(tables["assemblies"])),
        unread=unread,
        gross=sum(p.gross * quantities[p.mark] for p in pieces),
        net=sum(p.net * quantities[p.mark] for p in pieces),
        quantities=quantities,
        limits=tuple(limits),
    )


def _table(folder: Path, name: str) -> list[dict[str, str]]:
    path = folder / "tables" / f"{name}.csv"
    try:
        with path.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))
    except FileNotFoundError as error:
        raise UnreadableLists(
            f"{folder} has no tables/{name}.csv: it is no complete folder of lists. Give a model, or a folder that "
            "`takeoff lists` wrote."
        ) from error
    except UnicodeDecodeError as error:
        raise UnreadableLists(
            f"{path} is no UTF-8 text; was it saved by a spreadsheet? Write the lists again."
        ) from error


def _name(folder: Path) -> str:
    """The model's name as the summary has it, else the folder's."""
    try:
        data: Any = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
        name = data["model"]["name"]
    except (OSError, ValueError, KeyError, TypeError):
        return folder.resolve().name
    return f"{name} (lists in {folder.resolve().name})"


def _by_mark(rows: list[dict[str, str]]) -> dict[str, list[dict[str, str]]]:
    found: dict[str, list[dict[str, str]]] = defaultdict(list)
    for row in rows:
        found[row["piece_mark"]].append(row)
    return found


def _some(marks: list[str]) -> str:
    return ", ".join(marks[:10]) + (f" and {len(marks) - 10} more" if len(marks) > 10 else "")


def _text(cell: str) -> str:
    """A cell's text without the apostrophe that keeps spreadsheets from taking it as a formula."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in ("=", "+", "-", "@", "\t") else cell


def _maybe(cell: str) -> float | None:
    return float(cell) if cell else None


def _number(cell: str | None) -> float:
    return float(cell) if cell else 0.0


# ---------------------------------------------------------------- pieces


def _piece(row: Row, holes: list[dict[str, str]], cuts: list[dict[str, str]]) -> tuple[Piece, bool, bool]:
    """The piece; whether its section's dimensions are known; whether its outline is wholly in the tables."""
    section, named = _section(row)
    walls = faces(section) if named else ()
    length = float(row["length_mm"])
    listed = tuple(
        Cut(
            c["end"], c["face"], c["kind"], float(c["x_mm"]), _number(c["across_mm"]), _number(c["angle_deg"]),
            _number(c["size_mm"]),
        )
        for c in cuts
    )  # fmt: skip
    outline = _outline([cut for cut in listed if cut.kind == "outline"])
    outlines = _outlines(walls, length, listed, outline, section)
    piece = Piece(
        mark=row["piece_mark"],
        section=section,
        grade=_text(row["grade"]),
        finish=_text(row["finish"]),
        length=length,
        holes=tuple(_hole(h) for h in holes),
        cuts=listed,
        faces=walls,
        outlines=outlines,
        outline=outline,
        gross=_number(row["gross_weight_kg"]),
        net=_number(row["net_weight_kg"]),
        surface=_number(row["surface_m2"]),
        opposite_hand_of=row["opposite_hand_of"],
        status=row["status"],
        reasons=(row["reason"],) if row["reason"] else (),
    )
    return piece, named, not said_in_part(piece)


def _section(row: Row) -> tuple[Section, bool]:
    """The section as its name gives it where that agrees with the sizes listed, and whether it does."""
    shape, name = row["shape"], row["section"]
    high, thick = _number(row["width_mm"]), _number(row["thickness_mm"])
    if shape in (FLAT, PLATE) and high and thick:
        made = shapes.flat(high, thick) if shape == FLAT else shapes.plate(high, thick)
        return replace(made, designation=name), True
    found = designations.read(name)
    if found and found.shape == shape and shape != OTHER and abs(found.h - high) <= NAME_MM:
        return replace(found, designation=name), True
    return Section(shape, name, high, 0.0, thick), False


def _hole(row: Row) -> Hole:
    rectangle = row["kind"] == "rectangle"
    return Hole(
        label=row["hole"],
        face=row["face"],
        x=float(row["x_mm"]),
        across=float(row["across_mm"]),
        diameter=2 * _number(row.get("corner_radius_mm")) if rectangle else _number(row["diameter_mm"]),
        slot_length=_number(row["slot_length_mm"]),
        slot_angle=_number(row["slot_angle_deg"]),
        width=_number(row.get("width_mm")),
        gauge_line=int(row["gauge_line"] or 0),
        bolt=row["bolt"],
        source=row["source"],
        kind=row["kind"],
        side=row.get("side", ""),
        depth=_number(row.get("depth_mm")),
    )


def _outline(cuts: list[Cut]) -> tuple[Vertex, ...]:
    """A plate's corners; an arc's bulge follows from its radius, its side from the angle at the corner.

    A table gives no side: of the two arcs of one radius the one that bows outward is taken where the corners before
    and after it turn smoothly that way, else inward.
    """
    if len(cuts) < 3:
        return ()
    found = []
    count = len(cuts)
    for k, cut in enumerate(cuts):
        after = cuts[(k + 1) % count]
        bulge = 0.0
        if cut.size > 0:
            chord = float(np.hypot(after.x - cut.x, after.across - cut.across))
            half = min(chord / (2 * cut.size), 1.0)
            bulge = float(np.tan(np.arcsin(half) / 2))
            bulge *= _bows(cuts[k - 1], cut, after, bulge)
        found.append(Vertex(cut.x, cut.across, bulge))
    return tuple(found)


def _bows(before: Cut, here: Cut, after: Cut, bulge: float) -> float:
    """1 where an arc that bows outward goes on from the edge before it more smoothly than one that bows inward."""
    edge = np.arctan2(here.across - before.across, here.x - before.x)
    chord = np.arctan2(after.across - here.across, after.x - here.x)
    half = 2 * atan(bulge)
    outward = abs(np.angle(np.exp(1j * (chord - half - edge))))
    inward = abs(np.angle(np.exp(1j * (chord + half - edge))))
    return 1.0 if outward <= inward else -1.0


def _outlines(
    walls: tuple[Face, ...], length: float, cuts: tuple[Cut, ...], outline: tuple[Vertex, ...], section: Section
) -> tuple[FaceOutline, ...]:
    """The faces as the cuts leave them, as far as the cuts say it."""
    if section.shape in (CHS, ROUND):
        return ()
    if outline:
        # Which way an arc bows is worked out from its neighbours, not said by the table.
        return (FaceOutline("face", np.array(flatten(outline), dtype=float)),)
    found = []
    for face in walls:
        own = [cut for cut in cuts if cut.face == face.name]
        loops = _face_loops(face, length, own)
        found += [FaceOutline(face.name, loop) for loop in loops]
    return tuple(found)


def _face_loops(face: Face, length: float, cuts: list[Cut]) -> list[FloatArray]:
    import shapely

    rest: Any = shapely.box(0.0, face.low, length, face.high)
    for cut in cuts:
        gone = _gone(cut, face, length)
        if gone:
            rest = rest.difference(shapely.Polygon(gone))
    parts = [part for part in getattr(rest, "geoms", [rest]) if part.geom_type == "Polygon" and part.area > 1.0]
    parts.sort(key=lambda part: (-part.area, part.bounds))
    # A cut's rounded row may miss the corner that it leaves by a hundredth: no corner of its own.
    smooth = [part.simplify(2 * COINCIDENCE_MM) for part in parts]
    return [
        _without_slivers(np.array(shapely.geometry.polygon.orient(part).exterior.coords[:-1], dtype=float))
        for part in smooth
    ]


def _without_slivers(points: FloatArray) -> FloatArray:
    """The loop without corners that lie on the one before, or on the line between their neighbours."""
    kept = [p for k, p in enumerate(points) if np.hypot(*(p - points[k - 1])) > 2 * COINCIDENCE_MM]
    loop = np.array(kept).reshape(-1, 2)
    before, after = np.roll(loop, 1, axis=0), np.roll(loop, -1, axis=0)
    chord = after - before
    cross = chord[:, 0] * (loop - before)[:, 1] - chord[:, 1] * (loop - before)[:, 0]
    return np.asarray(loop[np.abs(cross) > 2 * COINCIDENCE_MM * np.hypot(*chord.T)], dtype=float)


def _gone(cut: Cut, face: Face, length: float) -> list[Point2]:
    """What a cut takes from a rectangular face, reaching a hair beyond its edges (see cuts.py for the columns)."""
    hair = COINCIDENCE_MM
    end = -hair if cut.end == "left" else length + hair
    low_edge = abs(cut.across - face.low) <= abs(cut.across - face.high)
    if cut.kind == "skew":
        other = face.high if low_edge else face.low
        tip = cut.x - cut.size if cut.end == "left" else cut.x + cut.size
        return [(cut.x, cut.across), (tip, other), (end, other), (end, cut.across)]
    if cut.kind == "clip":
        edge = face.high if cut.across > (face.low + face.high) / 2 else face.low
        tip = 0.0 if cut.end == "left" else length
        return [(cut.x, edge), (tip, cut.across), (end, cut.across), (end, edge)]
    if cut.kind == "notch" and cut.end != "edge":
        low, high = cut.across, cut.across + cut.size
        low = low - hair if abs(low - face.low) < hair else low
        high = high + hair if abs(high - face.high) < hair else high
        return [(cut.x, low), (end, low), (end, high), (cut.x, high)]
    return []


# ---------------------------------------------------------------- places and assemblies


def _stands(rows: list[dict[str, str]]) -> Iterator[Stand]:
    for row in rows:
        if not row["piece_mark"] or not row["left_x_mm"]:
            continue
        left = np.array([float(row[f"left_{axis}_mm"]) for axis in "xyz"])
        right = np.array([float(row[f"right_{axis}_mm"]) for axis in "xyz"])
        yield Stand(row["global_id"], row["piece_mark"], left, right, (left + right) / 2)


def _assemblies(rows: list[dict[str, str]]) -> Iterator[Built]:
    for row in rows:
        if row["assembly_mark"] == LOOSE:
            continue
        pieces = tuple(_pairs(row["piece_marks"]))
        yield Built(row["assembly_mark"], int(row["quantity"]), pieces, int(row["bolts"] or 0))


def _pairs(text: str) -> Iterator[tuple[str, int]]:
    """``A1 x2 A2 x1`` as pairs; marks may hold spaces."""
    words = _text(text).split(" ")
    mark: list[str] = []
    for word in words:
        if word[:1] == "x" and word[1:].isdigit() and mark:
            yield " ".join(mark), int(word[1:])
            mark = []
        else:
            mark.append(word)
