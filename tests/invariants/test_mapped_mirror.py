"""A mapped item may mirror: its operator's second axis turned round. ISO 16739-1, IfcBaseAxis keeps its sign."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from digest import by_label, take
from scene import Scene, Steel, Writing, write

from takeoff.ifc.writer import frame
from takeoff.steel import LISTED, Frame

LENGTH = 1200.0
UNEVEN = (75, 50, 6, 7, 3.5)


def mirror_maps(path: Path, axis: str) -> int:
    """Every plain mapping operator of the file mirrors the item's x or y; how many there were."""
    text = path.read_text(encoding="ascii")
    names = [int(n) for n in re.findall(r"^#(\d+)=", text, re.M)]
    first = max(names) + 1
    x, y = ("(-1.,0.,0.)", "(0.,1.,0.)") if axis == "x" else ("(1.,0.,0.)", "(0.,-1.,0.)")
    lines = f"#{first}=IFCDIRECTION({x});\n#{first + 1}=IFCDIRECTION({y});\n#{first + 2}=IFCDIRECTION((0.,0.,1.));\n"
    pattern = r"(IFCCARTESIANTRANSFORMATIONOPERATOR3D\()\$,\$,(#\d+),\$,\$\)"
    text, count = re.subn(pattern, rf"\1#{first},#{first + 1},\2,$,#{first + 2})", text)
    path.write_text(text.replace("\nENDSEC;\nEND-ISO", "\n" + lines + "ENDSEC;\nEND-ISO"), encoding="ascii")
    return count


@pytest.mark.parametrize("unit", ["mm", "inch"])
@pytest.mark.parametrize("axis", ["x", "y"])
def test_mirrored_mapping_is_the_opposite_hand(axis: str, unit: str, tmp_path: Path) -> None:
    """An angle by a mirroring map: the piece frame is the right-handed one that fits it.

    The item is extruded along z with leg B along x and leg A along y. Mirrored in x, leg B points to -u, so the piece
    runs the other way: frame (-x, -u, v) from its far end; mirrored in y, (-x, u, -v).
    """
    place = frame((100, 200, 300), (2, 1, 0), (0, 0, 1))
    x, u, v = place.axes
    far = place.origin + x * LENGTH
    truth = Frame(far, np.array([-x, -u, v] if axis == "x" else [-x, u, -v]))
    path = tmp_path / "model.ifc"
    scene = Scene((Steel("angle", "angle", UNEVEN, place, LENGTH),))
    ids = write(scene, path, Writing(shared=True, unit=unit))
    assert mirror_maps(path, axis) == 1
    piece = by_label(take(path), ids)["angle"]
    [found] = piece.frames
    assert piece.status == LISTED
    assert found.axes == pytest.approx(truth.axes, abs=1e-9)
    assert found.origin == pytest.approx(truth.origin, abs=0.01)
