"""The pictures of the README, from real output: python docs/make_pictures.py

Runs the main job on the demo mast into a scratch folder and turns pages of its documents into PNG files under
docs/pictures. Needs ``pdftoppm`` (Debian: poppler-utils), and ``chromium`` for the review page; says which is missing.
Run it after a change that shows, and look at what it made.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
PICTURES = HERE / "pictures"
MODEL = HERE.parent / "models" / "mast.ifc"

PAGES = {
    "cover": ("cut-and-punch.pdf", "Cut and punch", 60),
    "cut-list": ("cut-and-punch.pdf", "Cut list", 60),
    "leg": ("cut-and-punch.pdf", "ML2", 90),
    "gusset": ("cut-and-punch.pdf", "P3", 70),
    "bolts": ("bolts.pdf", "Bolts", 60),
    "weights": ("weights.pdf", "Weights", 60),
    "bars": ("bars.pdf", "Bars", 60),
}
"""Picture: the document, a title in its outline (or the words its page begins with), and dots per inch."""


def flat(outline: list[Any]) -> list[Any]:
    """An outline without its levels."""
    return [entry for item in outline for entry in (flat(item) if isinstance(item, list) else [item])]


def page_of(document: Path, title: str) -> int:
    """The page that a document's outline gives for a title; the first page where it has no such title."""
    from pypdf import PdfReader

    reader = PdfReader(document)
    found = [item for item in flat(reader.outline) if str(item.title).startswith(title)]
    exact = [item for item in found if str(item.title).split()[0] == title] or found
    if not exact:
        return 1
    number = reader.get_destination_page_number(exact[0])
    return 1 if number is None else number + 1


def main() -> int:
    missing = [name for name in ("pdftoppm", "chromium") if shutil.which(name) is None]
    if "pdftoppm" in missing:
        sys.exit("pdftoppm is missing: install poppler-utils")
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        lists = Path(scratch) / "mast"
        subprocess.run([sys.executable, "-m", "takeoff", "lists", str(MODEL), "-o", str(lists)], check=True)
        for name, (document, title, dpi) in PAGES.items():
            number = str(page_of(lists / document, title))
            target = PICTURES / name
            subprocess.run(
                ["pdftoppm", "-r", str(dpi), "-f", number, "-l", number, "-singlefile", "-gray", "-png",
                 str(lists / document), str(target)],
                check=True,
            )  # fmt: skip
        if "chromium" in missing:
            print("chromium is missing: review.png is as it was")
            return 0
        subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
             "--disable-background-networking", "--no-first-run", f"--user-data-dir={scratch}/browser",
             "--window-size=1600,1000", "--virtual-time-budget=6000",
             f"--screenshot={PICTURES / 'review.png'}", f"file://{lists}/review.html#ML2"],
            check=True, stderr=subprocess.DEVNULL,
        )  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
