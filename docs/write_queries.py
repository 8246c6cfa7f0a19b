"""Writes queries.md beside this file: every query code with its sentence and remedy.

Run it as ``python docs/write_queries.py`` after adding or rewording a code; a test fails while
the page is not current.
"""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path

import takeoff
from takeoff.queries import ASSUMED, CHECK, HOLD, KINDS

PAGE = Path(__file__).parent / "queries.md"
HEADINGS = {
    HOLD: (
        "Held",
        "The part's shape or holes are not certain. It is in the lists marked HOLD; do not cut it yet.",
    ),
    CHECK: ("To check", "The part is listed as the model has it, and somebody should look at it."),
    ASSUMED: ("Assumed", "The model does not say; the lists took what is written here."),
}


def load_every_code() -> None:
    """Import every module of the package, so that each registers its codes."""
    for found in pkgutil.walk_packages(takeoff.__path__, "takeoff."):
        if not found.name.endswith("__main__"):
            importlib.import_module(found.name)


def text() -> str:
    """The page."""
    load_every_code()
    lines = [
        "# Queries",
        "",
        "What the lists ask, by code. `{0}`, `{1}` ... stand for numbers and names of the case.",
        "This page is written by `python docs/write_queries.py`.",
    ]
    for severity, (heading, about) in HEADINGS.items():
        lines += ["", f"## {heading}", "", about, "", "| code | sentence | what to do |", "|---|---|---|"]
        for code in sorted(code for code, kind in KINDS.items() if kind.severity == severity):
            kind = KINDS[code]
            lines.append(f"| `{code}` | {_cell(kind.sentence)} | {_cell(kind.remedy)} |")
    return "\n".join(lines) + "\n"


def _cell(words: str) -> str:
    return " ".join(words.split()).replace("|", "\\|").replace("<", "&lt;")


if __name__ == "__main__":
    PAGE.write_text(text(), encoding="utf-8", newline="\n")
