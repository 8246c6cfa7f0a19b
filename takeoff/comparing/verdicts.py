"""What a piece that was made already is good for, now that another shape is wanted.

A shop can take steel away and cannot put it back (common practice, no source):

- rework: further holes, larger ones about the same middle or slots that take the old hole in, a piece cut shorter at
  an end, a further cope or clip, a hole countersunk;
- scrap: a hole that is in the way or too large, a hole moved, a piece too short, another section;
- the engineer is asked where grade or finish differ alone, where the new shape is on HOLD, and where a shape cannot be
  laid on the other one.

Welding holes shut or pieces on is no rework: it needs the engineer's leave, which he may give for what is scrap here.
"""

from __future__ import annotations

from math import cos, radians, sin
from typing import Any

import numpy as np

from takeoff.comparing.differences import outline_differences, pair_holes, same_size
from takeoff.comparing.forms import Form, Lying, broad, legs, lyings, same_section
from takeoff.holerows import KINDS
from takeoff.revision import AS_IT_WAS, ASK, REWORK, SCRAP
from takeoff.settings import IdentitySettings
from takeoff.steel import HELD, FloatArray
from takeoff.turned import ACROSS, ANGLE, FACE, KIND, SIZE, SLOT, TYPE, WIDTH, X
from takeoff.units import millimetres

TOUCH_MM = 0.5
"""A hole this far beyond the steel that is left is cut away with it."""
_RANK = {AS_IT_WAS: 0, REWORK: 1, ASK: 2, SCRAP: 3}


def judge(made: Form, wanted: Form, rules: IdentitySettings) -> tuple[str, str]:
    """The verdict on ``made`` where ``wanted`` is needed, and why or what to do, as words."""
    one, other = made.piece, wanted.piece
    if other.status == HELD:
        return ASK, "the new shape is on HOLD"
    if not same_section(one.section, other.section):
        return SCRAP, f"section {other.section.designation} is needed"
    comparable = one.section.shape == other.section.shape or (broad(one.section) and broad(other.section))
    if not comparable or list(legs(one)) != list(legs(other)):
        return ASK, "the two shapes cannot be laid on each other"
    if made.by_cuts or wanted.by_cuts:
        outline = min((outline_differences(made, lying, rules) for lying in lyings(wanted, made)), key=len)
        if outline:
            return ASK, "the outlines differ, and the tables do not hold them wholly: compare the models"
    best = min((_lay(made, lying, rules) for lying in lyings(wanted, made)), key=lambda f: (_RANK[f[0]], f[1], f[2]))
    verdict, _, words = best
    asked = [
        f"{name} {now or 'not stated'} is needed, made of {was or 'not stated'}"
        for name, was, now in (("grade", one.grade, other.grade), ("finish", one.finish, other.finish))
        if was != now
    ]
    if asked and verdict != SCRAP:
        return ASK, "; ".join([*asked, *([words] if words else [])])
    return verdict, words


def _lay(made: Form, lying: Lying, rules: IdentitySettings) -> tuple[str, int, str]:
    """Verdict, number of steps or faults, and words, with the wanted piece lying so on the one made."""
    faults: list[str] = []
    steps: list[str] = []
    shift, spare = lying.shift[0], made.piece.length - lying.length
    left, right = shift, spare - shift
    if left < -rules.length_mm or right < -rules.length_mm:
        faults.append(f"it is {millimetres(max(-left, 0) + max(-right, 0))} mm too short")
    ends = ((left, "left"), (right, "right"))
    cut = [f"{millimetres(v)} mm at the {end} end" for v, end in ends if v > rules.length_mm]
    if cut:
        steps.append("shorten by " + " and ".join(cut))
    if broad(made.piece.section):
        below, above = lying.shift[1], made.piece.section.h - lying.width - lying.shift[1]
        if min(below, above) < -rules.position_mm:
            faults.append("it is too narrow")
        elif max(below, above) > rules.position_mm:
            steps.append(f"trim the width by {millimetres(below + above)}")
    wanted, short = _wanted_steel(made, lying, steps, rules)
    if short:
        faults.append(short)
    _holes(made, lying, wanted, rules, faults, steps)
    if faults:
        return SCRAP, len(faults), "; ".join(faults)
    if steps:
        return REWORK, len(steps), "; ".join(steps)
    return AS_IT_WAS, 0, ""


def _holes(
    made: Form, lying: Lying, wanted: dict[int, Any], rules: IdentitySettings, faults: list[str], steps: list[str]
) -> None:
    labels = [hole.label for hole in made.piece.holes]
    pairs = pair_holes(made.holes, lying.holes, rules.position_mm, made.girth)
    opened: list[str] = []
    for a, b in pairs.same:
        here, there = made.holes[a], lying.holes[b]
        if same_size(here, there, rules):
            continue
        if _takes_in(here, there, rules):
            opened.append(labels[a])
        else:
            faults.append(f"hole {labels[a]} is too large or of another kind")
    added = list(pairs.added)
    for a, b in (*pairs.moved, *((a, -1) for a in pairs.gone)):
        here = made.holes[a]
        if b >= 0 and here[SLOT] <= 0 and lying.holes[b][SLOT] > 0 and _inside(here, lying.holes[b], rules):
            opened.append(labels[a])
            continue
        if b >= 0:
            added.append(b)
        if not _cut_away(here, wanted):
            faults.append(f"hole {labels[a]} is {'elsewhere' if b >= 0 else 'not wanted'} now")
    if opened:
        steps.append(f"open up {len(opened)} holes ({', '.join(sorted(opened))})")
    if added:
        steps.append(f"add {len(added)} {'hole' if len(added) == 1 else 'holes'}")


def _takes_in(here: FloatArray, there: FloatArray, rules: IdentitySettings) -> bool:
    """Whether a hole can be opened up to another one with the same middle."""
    kinds = KINDS[int(here[KIND])], KINDS[int(there[KIND])]
    if kinds[0] not in ("round", "slot"):
        return False
    slack = rules.diameter_mm
    if kinds == ("round", "round"):
        return bool(there[SIZE] >= here[SIZE] - slack)
    if kinds == ("round", "countersunk"):
        return bool(there[SIZE] >= here[SIZE] - slack)
    if kinds == ("round", "slot"):
        return bool(there[SIZE] >= here[SIZE] - slack)
    if kinds == ("round", "rectangle"):
        return bool(min(there[SLOT], there[WIDTH]) >= here[SIZE] - slack)
    if kinds == ("slot", "slot"):
        lean = abs(here[ANGLE] - there[ANGLE]) % 180.0
        along = min(lean, 180.0 - lean) <= 0.5
        return bool(along and there[SIZE] >= here[SIZE] - slack and there[SLOT] >= here[SLOT] - slack)
    return False


def _inside(here: FloatArray, there: FloatArray, rules: IdentitySettings) -> bool:
    """Whether a round hole lies within a slot whose middle is elsewhere."""
    half = (there[SLOT] - there[SIZE]) / 2
    c, s = cos(radians(there[ANGLE])), sin(radians(there[ANGLE]))
    dx, da = here[X] - there[X], here[ACROSS] - there[ACROSS]
    along, aside = dx * c + da * s, -dx * s + da * c
    along = max(abs(along) - half, 0.0)
    reach = float(np.hypot(along, aside)) + here[SIZE] / 2
    return bool(here[FACE] == there[FACE] and reach <= there[SIZE] / 2 + rules.diameter_mm)


def _wanted_steel(made: Form, lying: Lying, steps: list[str], rules: IdentitySettings) -> tuple[dict[int, Any], str]:
    """By face what the wanted piece has of steel, and what the one made lacks as the end of a sentence."""
    import shapely

    def areas(loops: tuple[FloatArray, ...]) -> dict[int, Any]:
        found: dict[int, list[Any]] = {}
        for loop in loops:
            if len(loop) >= 3:
                polygon = shapely.make_valid(shapely.Polygon(loop[:, [X, ACROSS]]))
                found.setdefault(int(loop[0, FACE]), []).append(polygon)
        return {face: shapely.union_all(parts) for face, parts in found.items()}

    have, need = areas(made.loops), areas(lying.loops)
    if not need and len(lying.corners) + len(made.corners):
        same = len(lying.corners) == len(made.corners) and np.allclose(
            np.sort(lying.corners[:, [TYPE, X, ACROSS, SIZE]], axis=0),
            np.sort(made.corners[:, [TYPE, X, ACROSS, SIZE]], axis=0),
            atol=rules.position_mm,
        )
        return need, "" if same else "its ends differ"
    names = legs(made.piece)
    start, stop = lying.shift[0], lying.shift[0] + lying.length
    for face, polygon in need.items():
        steel = have.get(face)
        # A strip thinner than the tolerance on lengths is within it.
        lacking = polygon if steel is None else polygon.difference(steel.buffer(rules.length_mm, join_style="mitre"))
        if lacking.area > 1.0 and start >= -rules.length_mm and stop <= made.piece.length + rules.length_mm:
            return need, f"steel is missing on {names[face]}"
        if steel is not None:
            low, high = steel.bounds[1], steel.bounds[3]
            extra = steel.intersection(shapely.box(start, low, stop, high)).difference(
                polygon.buffer(rules.position_mm, join_style="mitre")
            )
            if extra.area > 1.0 and not _only_trim(extra, polygon):
                steps.append(f"cut the outline of {names[face]}")
    return need, ""


def _only_trim(extra: Any, polygon: Any) -> bool:
    """Whether what is to go lies beside the wanted piece: its trimmed width says so already."""
    low, high = polygon.bounds[1], polygon.bounds[3]
    return bool(extra.bounds[3] <= low + TOUCH_MM or extra.bounds[1] >= high - TOUCH_MM)


def _cut_away(hole: FloatArray, wanted: dict[int, Any]) -> bool:
    """Whether a hole goes with the steel that is cut off."""
    import shapely

    steel = wanted.get(int(hole[FACE]))
    if steel is None:
        return False
    reach = max(hole[SIZE], hole[SLOT], hole[WIDTH]) / 2
    return bool(steel.distance(shapely.Point(hole[X], hole[ACROSS])) >= reach + TOUCH_MM or steel.is_empty)
