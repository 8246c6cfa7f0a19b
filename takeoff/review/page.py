"""Puts review.html together: template, styles, scripts, the static tables, and the data for the scripts.

Everything that comes from the model is escaped here, once: text in the page by ``escape``,
data for the scripts by ``embedded``. The scripts only ever set text, never markup, and the
page's content policy refuses every script but the project's own.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from html import escape
from importlib.resources import files
from math import fsum
from pathlib import Path
from typing import Any

from takeoff.queries import ASSUMED, CHECK, HOLD
from takeoff.review.content import page_data
from takeoff.review.scene import scene
from takeoff.settings import Settings
from takeoff.steel import HELD, Piece, Takeoff
from takeoff.units import kilograms, millimetres

SCRIPTS = ("shaders.js", "meshes.js", "view.js", "faces.js", "page.js")

DOCUMENTS: Mapping[str, str] = {
    "cut-and-punch.pdf": "Cut list and a sheet for each piece mark",
    "bolts.pdf": "Bolt lists; holes and bolts reconciled",
    "weights.pdf": "Weights and surfaces",
    "bars.pdf": "Cutting plan of the bars and running order",
    "queries.pdf": "Queries, printed",
    "lists.xlsx": "All tables",
}
"""What may lie beside the page, and what it is."""

CAUTIONS = (
    "Check the first piece of a mark against the drawing before the quantity is run.",
    "A held piece is not cut before its queries are answered.",
    "The checks assist. A deviation goes to the engineer; local codes and licensed practice decide.",
    "The view is for finding parts. Measure nothing from it: the sheets and the tables hold the numbers.",
)

BALANCE_TEXT = {"mm": " (mm)", "kg": " (kg)", "m2": " (m²)"}


def write(
    takeoff: Takeoff,
    settings: Settings,
    path: Path,
    pages: Mapping[str, int] | None = None,
    documents: Sequence[str] | None = None,
) -> None:
    """Write the page to ``path``.

    ``pages`` gives the page of cut-and-punch.pdf a piece mark's sheet is on. ``documents`` are the
    names of the files beside the page to link to (default: those of DOCUMENTS that are always
    written). Raises OSError where ``path`` cannot be written.
    """
    path.write_text(html(takeoff, settings, pages, documents), encoding="utf-8", newline="\n")


def html(
    takeoff: Takeoff,
    settings: Settings,
    pages: Mapping[str, int] | None = None,
    documents: Sequence[str] | None = None,
) -> str:
    """The whole page as text; see ``write``."""
    if documents is None:
        documents = ["cut-and-punch.pdf", "bolts.pdf", "weights.pdf", "lists.xlsx"]
        if takeoff.queries:
            documents.insert(3, "queries.pdf")
    built = scene(takeoff)
    data = page_data(takeoff, built, pages)
    script = "(() => {\n'use strict';\n" + "".join(_resource(name) for name in SCRIPTS) + "})();\n"
    style = _resource("page.css")
    model = takeoff.model
    places = {
        "title": escape(settings.documents.job or model.name or "Takeoff"),
        "policy": escape(
            "default-src 'none'; base-uri 'none'; form-action 'none'; img-src data: blob:; "
            f"script-src '{_digest(script)}'; style-src '{_digest(style)}'"
        ),
        "style": style,
        "script": script,
        "data": embedded(data),
        "subtitle": _subtitle(takeoff, settings),
        "totals": _totals(takeoff),
        "cautions": "".join(f"<li>{escape(text)}</li>" for text in CAUTIONS),
        "pieces": "".join(_piece_row(k, piece, pages or {}) for k, piece in enumerate(takeoff.pieces)),
        "piece_count": str(len(takeoff.pieces)),
        "query_count": str(len(takeoff.queries)),
        "queries": _query_groups(data["groups"]),
        "balance": _balance(takeoff),
        "sections": _sections(takeoff.pieces),
        "absent_count": str(sum(len(group["rows"]) for group in data["absent"])),
        "absent": _absent_groups(data["absent"]),
        "documents": "".join(
            f'<li><a href="{escape(name)}">{escape(name)}</a> {escape(DOCUMENTS.get(name, ""))}</li>'
            for name in documents
        ),
        "rules": "".join(f"<li>{escape(rule)}</li>" for rule in takeoff.rules) or "<li>None stated.</li>",
    }
    # One pass over the template: text of the model that looks like a place is never filled in.
    return re.sub(r"\{\{(\w+)\}\}", lambda match: places[match[1]], _resource("page.html"))


def embedded(data: Any) -> str:
    """JSON that can stand inside a script element: no text in it can end the element or open a comment."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    # A lone surrogate of a damaged file has no UTF-8.
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def _resource(name: str) -> str:
    return files("takeoff.review").joinpath(name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _subtitle(takeoff: Takeoff, settings: Settings) -> str:
    model = takeoff.model
    parts = [
        f"Model {model.name}" if model.name else "",
        model.schema,
        f"checksum {model.checksum}" if model.checksum else "",
        settings.documents.date or model.date,
        f"revision {settings.documents.revision}" if settings.documents.revision else "",
    ]
    return " · ".join(f"<span>{escape(part)}</span>" for part in parts if part)


def _totals(takeoff: Takeoff) -> str:
    pieces = takeoff.pieces
    held = [piece for piece in pieces if piece.status == HELD]
    severities = [query.severity for query in takeoff.queries]
    rows = [
        ("Piece marks", str(len(pieces))),
        ("Pieces", str(sum(piece.quantity for piece in pieces))),
        ("Held marks", str(len(held))),
        ("Held pieces", str(sum(piece.quantity for piece in held))),
        ("Net weight", f"{kilograms(fsum(piece.quantity * piece.net for piece in pieces))} kg"),
        ("Holes", str(sum(piece.quantity * len(piece.holes) for piece in pieces))),
        ("Bolts", str(sum(row.bolts for row in takeoff.bolt_rows))),
        ("To hold", str(severities.count(HOLD))),
        ("To check", str(severities.count(CHECK))),
        ("Assumed", str(severities.count(ASSUMED))),
    ]
    return "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in rows)


def _piece_row(number: int, piece: Piece, pages: Mapping[str, int]) -> str:
    page = pages.get(piece.mark)
    sheet = "" if page is None else f'<a href="cut-and-punch.pdf#page={int(page)}">{int(page)}</a>'
    held = piece.status == HELD
    cells = [
        ("", f'<button type="button" class="mark">{escape(piece.mark)}</button>', piece.mark),
        ("n", str(piece.quantity), str(piece.quantity)),
        ("", escape(piece.section.designation), piece.section.designation),
        ("", escape(piece.grade), piece.grade),
        ("n", millimetres(piece.length), repr(float(piece.length))),
        ("n", kilograms(piece.net), repr(float(piece.net))),
        ("n", kilograms(piece.quantity * piece.net), repr(float(piece.quantity * piece.net))),
        ("n", str(len(piece.holes)), str(len(piece.holes))),
        ("", escape(piece.opposite_hand_of), piece.opposite_hand_of),
        ("", "<strong>HOLD</strong>" if held else escape(piece.status), piece.status),
        ("n", sheet, str(page or 0)),
    ]
    inner = "".join(
        f'<td{" class=n" if kind else ""} data-v="{escape(value)}">{content}</td>' for kind, content, value in cells
    )
    return f'<tr data-piece="{number}"{" class=held" if held else ""}>{inner}</tr>\n'


SEVERITY_TITLES = {
    HOLD: ("Hold", "wrong or not certain: not to be cut"),
    CHECK: ("Check", "to look at"),
    ASSUMED: ("Assumed", "filled in by a rule"),
}


def _query_groups(groups: Sequence[Mapping[str, Any]]) -> str:
    if not groups:
        return "<p>No queries.</p>"
    parts: list[str] = []
    severity = ""
    for number, group in enumerate(groups):
        if group["severity"] != severity:
            severity = group["severity"]
            title, meaning = SEVERITY_TITLES[severity]
            count = sum(len(g["queries"]) for g in groups if g["severity"] == severity)
            parts.append(f"<h3>{title} <small>{count}, {meaning}</small></h3>")
        queries = group["queries"]
        more = f" <small>and {len(queries) - 1} more of this cause</small>" if len(queries) > 1 else ""
        parts.append(
            f'<details class="group {escape(severity)}" data-group="{number}"><summary><b>{len(queries)}</b> '
            f"{escape(queries[0][1])}{more}</summary>"
            f"<p class=remedy>{escape(queries[0][2])}</p>"
            f"<p class=code>{escape(group['cause'])} "
            '<button type="button" class="show">Show the parts of all</button></p><ul class="rows"></ul></details>'
        )
    return "".join(parts)


def _absent_groups(groups: Sequence[Mapping[str, Any]]) -> str:
    if not groups:
        return "<p>Everything in the model is shown.</p>"
    return "".join(
        f'<details data-absent="{number}"><summary><b>{len(group["rows"])}</b> '
        f"{escape(group['status'])}: {escape(group['reason'])}</summary>"
        '<ul class="rows"></ul></details>'
        for number, group in enumerate(groups)
    )


def _balance(takeoff: Takeoff) -> str:
    rows = []
    for name, value in takeoff.balance.items():
        words = name.split("_")
        unit = BALANCE_TEXT.get(words[-1], "")
        label = " ".join(words[:-1] if unit else words)
        number = f"{value:.2f}" if unit == " (kg)" else f"{value:g}" if value != int(value) else str(int(value))
        rows.append(
            f"<tr><th scope=row>{escape(label[:1].upper() + label[1:] + unit)}</th><td class=n>{number}</td></tr>"
        )
    return "".join(rows) or "<tr><td colspan=2>No balance.</td></tr>"


def _sections(pieces: Sequence[Piece]) -> str:
    groups: dict[tuple[str, str, str], list[Piece]] = {}
    for piece in pieces:
        key = (piece.section.shape, piece.section.designation, piece.grade)
        groups.setdefault(key, []).append(piece)
    rows = []
    for (_, designation, grade), some in sorted(groups.items()):
        metres = fsum(piece.quantity * piece.length for piece in some) / 1000.0
        rows.append(
            f"<tr><td>{escape(designation)}</td><td>{escape(grade)}</td>"
            f"<td class=n>{sum(piece.quantity for piece in some)}</td><td class=n>{metres:.2f}</td>"
            f"<td class=n>{kilograms(fsum(piece.quantity * piece.gross for piece in some))}</td>"
            f"<td class=n>{kilograms(fsum(piece.quantity * piece.net for piece in some))}</td></tr>"
        )
    return "".join(rows)
