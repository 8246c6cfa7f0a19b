"""Files for machines."""

from __future__ import annotations

import string
from dataclasses import dataclass
from typing import Annotated

from takeoff.settings.option import Option


def _check_stamp(scheme: str) -> str:
    try:
        fields = {name for _, name, _, _ in string.Formatter().parse(scheme) if name is not None}
        scheme.format(mark="A1", revision="B")
    except (ValueError, KeyError, IndexError, AttributeError):
        fields = {""}
    if fields <= {"mark", "revision"} and (not scheme or "mark" in fields):
        return ""
    return "must be empty, or hold {mark} and may hold {revision}, as in {mark} {revision}"


def _check_layer(name: str) -> str:
    # The signs that DXF does not allow in a name.
    if 0 < len(name) <= 255 and name == name.strip() and not any(c in '<>/\\":;?*|=,`' or c < " " for c in name):
        return ""
    return 'must be a name without any of < > / \\ " : ; ? * | = , `'


@dataclass(frozen=True, slots=True)
class NcSettings:
    """Numerical control files."""

    u_datum: Annotated[
        str,
        Option(
            "Where y is 0 on the second leg of an angle (face u): toe, as follows from the standard, or heel. Run the "
            "test piece (`takeoff test-piece`) before changing it: the wrong one moves every hole of that leg.",
            choices=("toe", "heel"),
        ),
    ] = "toe"
    v_leg: Annotated[
        str,
        Option("Which leg of an unequal angle lies in front (face v).", choices=("longer", "shorter")),
    ] = "longer"
    marking: Annotated[
        str,
        Option(
            "What is stamped, in letters by [stamp]: {mark} and, where the job has one, {revision}; empty: nothing.",
            check=_check_stamp,
        ),
    ] = "{mark} {revision}"
    countersink_deg: Annotated[float, Option("Full angle of countersinks.", low=60.0, high=150.0)] = 90.0


@dataclass(frozen=True, slots=True)
class DxfSettings:
    """Drawings 1:1 for cutting (DXF)."""

    outline_layer: Annotated[str, Option("Layer of outlines.", check=_check_layer)] = "OUTLINE"
    hole_layer: Annotated[str, Option("Layer of holes.", check=_check_layer)] = "HOLES"
    mark_layer: Annotated[str, Option("Layer of the mark's text.", check=_check_layer)] = "MARK"
    fold_layer: Annotated[str, Option("Layer of the heel line of developed angles.", check=_check_layer)] = "HEEL"
    far_side_layer: Annotated[
        str, Option("Layer of what is on the far side: a bevelled end's edge there.", check=_check_layer)
    ] = "FAR_SIDE"
    bevel_layer: Annotated[
        str, Option("Layer of a bevelled end's edge on the side that is seen.", check=_check_layer)
    ] = "BEVEL"
    sunk_layer: Annotated[
        str, Option("Layer of the mouths of countersinks and of blind holes.", check=_check_layer)
    ] = "COUNTERSINK"
    angle_legs: Annotated[bool, Option("Draw angles too, both legs developed about the heel.")] = False
