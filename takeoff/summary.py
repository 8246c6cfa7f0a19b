"""summary.json: what was counted and weighed, how it adds up, and what it was made from."""

from __future__ import annotations

import hashlib
import json
import platform
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Final

from takeoff import __version__
from takeoff.queries import HOLD, SEVERITIES
from takeoff.released import Release
from takeoff.settings import Settings
from takeoff.settings_file import as_dict
from takeoff.steel import BOUGHT_OUT, HELD, LEFT_OUT, LISTED, Takeoff

LIBRARIES: Final = (
    "ezdxf",
    "highspy",
    "ifcopenshell",
    "networkx",
    "numpy",
    "pandas",
    "reportlab",
    "scipy",
    "shapely",
    "xlsxwriter",
)
"""Libraries whose version can change a number or a byte of the documents."""

STATUSES: Final = (LISTED, HELD, BOUGHT_OUT, LEFT_OUT)


@dataclass(frozen=True, slots=True)
class Figures:
    """The counts and masses a person asks for first. Masses kg, surface m2, of the whole job.

    ``parts`` and ``bolts`` go by status, ``queries`` by severity. ``pieces`` is how many are to
    be cut, ``marks`` how many different ones; held ones are in both.
    """

    parts: dict[str, int]
    bolts: dict[str, int]
    queries: dict[str, int]
    marks: int
    held_marks: int
    pieces: int
    holes: int
    assemblies: int
    gross_weight_kg: float
    net_weight_kg: float
    held_net_weight_kg: float
    surface_m2: float
    bolt_weight_kg: float | None
    """None where a bolt of the order list could not be weighed."""
    white_weight_kg: float | None = None
    """Net with zinc, bolts not counted; None where the settings give no piece its zinc."""

    @property
    def something_held(self) -> bool:
        return bool(self.parts[HELD] or self.bolts[HELD] or self.held_marks or self.queries[HOLD])


def figures(takeoff: Takeoff) -> Figures:
    """Count and add up a takeoff."""
    statuses = Counter(takeoff.member_status)
    bolts: Counter[str] = Counter()
    for row in takeoff.bolt_rows:
        bolts[row.status] += row.bolts
    severities = Counter(query.severity for query in takeoff.queries)
    weights = [line.weight for line in takeoff.bolt_lines]
    pieces = takeoff.pieces
    return Figures(
        parts={status: statuses[status] for status in STATUSES},
        bolts={status: bolts[status] for status in STATUSES},
        queries={severity: severities[severity] for severity in SEVERITIES},
        marks=len(pieces),
        held_marks=sum(piece.status == HELD for piece in pieces),
        pieces=sum(piece.quantity for piece in pieces),
        holes=sum(piece.quantity * len(piece.holes) for piece in pieces),
        assemblies=sum(assembly.quantity for assembly in takeoff.assemblies if assembly.instances),
        gross_weight_kg=sum(piece.quantity * piece.gross for piece in pieces),
        net_weight_kg=sum(piece.quantity * piece.net for piece in pieces),
        held_net_weight_kg=sum(piece.quantity * piece.net for piece in pieces if piece.status == HELD),
        surface_m2=sum(piece.quantity * piece.surface for piece in pieces),
        bolt_weight_kg=None if None in weights else sum(w for w in weights if w is not None),
        white_weight_kg=sum(p.quantity * (p.net + p.zinc) for p in pieces) if any(p.zinc for p in pieces) else None,
    )


def summary(
    takeoff: Takeoff,
    settings: Settings,
    folder: Path,
    files: Iterable[str],
    machine_files: Mapping[str, Mapping[str, Mapping[str, str]]] | None = None,
) -> dict[str, Any]:
    """The content of summary.json. ``files`` are the documents written, relative to ``folder``.

    ``machine_files`` holds for each kind asked for the ``files`` by piece mark and the marks ``without`` one, and why.
    Raises OSError where one of them cannot be read.
    """
    model = takeoff.model
    found = figures(takeoff)
    in_file = Counter(member.model or model.name for member in takeoff.model.members)
    fasteners_in_file = Counter(fastener.model or model.name for fastener in model.fasteners)
    return {
        "takeoff": __version__,
        "model": {
            "name": model.name,
            "sha256": model.checksum,
            "header_date": model.date,
            "schema": model.schema,
            "application": model.application,
            "length_unit": model.length_unit,
            "parts_in_file": dict(in_file),
            "fastener_entities_in_file": dict(fasteners_in_file),
        },
        "counts": {
            "parts": {"in_model": len(model.members), **found.parts},
            "ifc_classes": dict(Counter(e.ifc_class for group in (model.members, model.fasteners) for e in group)),
            "fastener_entities": len(model.fasteners),
            "bolts": found.bolts,
            "piece_marks": found.marks,
            "piece_marks_held": found.held_marks,
            "pieces": found.pieces,
            "holes": found.holes,
            "assemblies": found.assemblies,
            "joints": len(takeoff.joints),
            "queries": found.queries,
            "queries_by_code": dict(Counter(query.code for query in takeoff.queries)),
        },
        "totals": {
            "gross_weight_kg": found.gross_weight_kg,
            "net_weight_kg": found.net_weight_kg,
            "held_net_weight_kg": found.held_net_weight_kg,
            "surface_m2": found.surface_m2,
            "bolt_weight_kg": found.bolt_weight_kg,
            "white_weight_kg": found.white_weight_kg,
        },
        "reconciliation": dict(takeoff.balance),
        "solids": solids_summary(takeoff),
        "rules": list(takeoff.rules),
        "register": _register(takeoff.release),
        "settings": as_dict(settings),
        "machine_files": machine_files or {},
        "versions": versions(),
        "files": {name: _sha256(folder / name) for name in files},
    }


def solids_summary(takeoff: Takeoff) -> dict[str, Any]:
    """How the net weight of a part of each mark compares with the model's own solid; holes by bolts are in neither.

    ``lists_kg`` are by the section's area, without a table's rounding, ``solids_kg`` as drawn: a rolled section drawn
    without its radii or as a polygon says so. Sums are over the marks that were measured, one part each.
    """
    measured = [check for check in takeoff.solids if check.solid is not None]
    return {
        "marks_measured": len(measured),
        "marks_not_measured": {check.mark: f"The part {check.why}." for check in takeoff.solids if check.why},
        "lists_kg": sum(check.listed for check in measured),
        "solids_kg": sum(check.solid or 0.0 for check in measured),
        "marks_that_differ": sorted(check.mark for check in measured if check.drawn == "differs"),
        "by_mark": {
            check.mark: {
                "global_id": check.global_id,
                "lists_kg": check.listed,
                "solid_kg": check.solid,
                "solid_draws_the_section": check.drawn,
            }
            for check in measured
        },
    }


def _register(release: Release | None) -> dict[str, Any] | None:
    """The issue as which the mark register has these lists, and its marks; None where no register was given."""
    if release is None:
        return None
    return {
        "issue": release.revision,
        "piece_marks": {name: list(marks) for name, marks in release.pieces._asdict().items()},
        "assembly_marks": {name: list(marks) for name, marks in release.assemblies._asdict().items()},
    }


def write_summary(
    takeoff: Takeoff,
    settings: Settings,
    path: Path,
    files: Iterable[str],
    machine_files: Mapping[str, Mapping[str, Mapping[str, str]]] | None = None,
) -> None:
    """Write summary.json: UTF-8, sorted keys, numbers to 0.001. Raises OSError."""
    content = _rounded(summary(takeoff, settings, path.parent, files, machine_files))
    text = json.dumps(content, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    # A broken escape in a model yields half a character, which no UTF-8 file can hold.
    path.write_bytes(f"{text}\n".encode("utf-8", errors="replace"))


def versions() -> dict[str, str]:
    """Versions of this package, of Python and of the libraries, read without importing them."""
    found = {"takeoff": __version__, "python": platform.python_version()}
    for name in LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:  # installed some other way than as a package
            found[name] = "unknown"
    return found


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    if isinstance(value, float):
        rounded = round(round(value, 6), 3) + 0.0
        return int(rounded) if rounded.is_integer() else rounded
    return value
