"""Write the demo models beside this script: ``python models/write_models.py [FOLDER]``."""

from __future__ import annotations

import sys
from pathlib import Path

import mast
import trestle_bay

WRITERS = {"trestle_bay.ifc": trestle_bay.write, "mast.ifc": mast.write}


def main(folder: Path) -> None:
    for name, write in WRITERS.items():
        write(folder / name)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
