"""The other end of takeoff.ifc.kernel: meshes the items of one small file, one line of JSON each.

Runs as a process of its own, because a geometry kernel may crash or hang on a damaged body:
``python -m takeoff.ifc.kernel_worker IN OUT``, where IN holds the file's text and the ids to mesh.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom

_LIBRARY: Any = ifcopenshell
_GEOMETRY: Any = ifcopenshell.geom
"""The library is typed for its own use, not for ours."""

ANGULAR_RAD = 0.25
"""The step in which curves are drawn: 26 sides to a circle, their corners on it."""


def mesh(file: Any, number: int) -> dict[str, Any]:
    """Points in metres and triangles of an item, or what is wrong with it.

    The kernel leaves an operand it cannot draw out of a boolean and only logs it: any error in its log counts.
    """
    settings = _GEOMETRY.settings()
    settings.set("mesher-angular-deflection", ANGULAR_RAD)
    before = _LIBRARY.get_log()
    try:
        shape = _GEOMETRY.create_shape(settings, file.by_id(number), geometry_library="opencascade")
    except (RuntimeError, ValueError, TypeError) as error:
        return {"id": number, "error": str(error)[:200] or "no body"}
    log = _LIBRARY.get_log().removeprefix(before)
    failed = [line for line in log.splitlines() if line.startswith("[error]")]
    if failed or not len(shape.faces):
        return {"id": number, "error": failed[0][:200] if failed else "no body"}
    return {"id": number, "points": list(shape.verts), "triangles": list(shape.faces)}


def main(source: Path, target: Path) -> None:
    """Mesh the items named in ``source`` and append a line for each to ``target``."""
    job = json.loads(source.read_text(encoding="utf-8"))
    file = _LIBRARY.file.from_string(job["file"])
    with target.open("a", encoding="utf-8") as out:
        for number in job["items"]:
            out.write(json.dumps(mesh(file, number)) + "\n")
            out.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
