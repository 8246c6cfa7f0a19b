"""The other end of takeoff.ifc.kernel: meshes one item after another, a line of JSON in and one out.

Runs as a process of its own (``python -m takeoff.ifc.kernel_worker``), because a geometry kernel may crash or
hang on a damaged body. A line in holds the text of a small file and the id of the item in it.
"""

from __future__ import annotations

import json
import os
import sys
from typing import IO, Any

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
        return {"error": str(error)[:200] or "no body"}
    log = _LIBRARY.get_log().removeprefix(before)
    failed = [line for line in log.splitlines() if line.startswith("[error]")]
    if failed or not len(shape.faces):
        return {"error": failed[0][:200] if failed else "no body"}
    return {"points": list(shape.verts), "triangles": list(shape.faces)}


def serve(jobs: IO[str], answers: IO[str]) -> None:
    """Answer every job until there are no more."""
    for line in jobs:
        job = json.loads(line)
        file = _LIBRARY.file.from_string(job["file"])
        answers.write(json.dumps(mesh(file, job["item"])) + "\n")
        answers.flush()


if __name__ == "__main__":
    # what the kernel itself prints must not get among the answers
    answers_to = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    serve(sys.stdin, answers_to)
