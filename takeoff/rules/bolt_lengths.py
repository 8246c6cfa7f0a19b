"""The length of a bolt from what it clamps.

Vocabulary: grip (outer face to outer face of the steel), clamp (grip and washers), thread (b), plain shank (from the
head to the thread's run-out), protrusion (thread beyond the nut).
Sources: EN 1090-2, 8.2.2: at least one pitch beyond the nut; a full thread between nut face and shank, four for
preloaded EN 14399-3 bolts; clamp of EN 14399-3 by L less half its js17 tolerance, derived and checked against a
published M30 x 100. ISO 888 lengths (90 from memory); every 5 mm for structural bolts to DIN 7990 and EN 14399. DIN
7990 M16: L - 24.5 as published, other sizes by the general rule. Inch: add-to-grip by diameter, 5/32 in a flat and
5/16 in a bevel washer, next quarter inch. js17, the plain shank L - b - 5P of ISO 4014 and EN 14399-3, the transition
thread of ASME B18.2.6, spring washers of DIN 127 and taper washers of DIN 434 are from memory. The clamp lengths of EN
14399-4 (Table A.1) were not at hand: no length is chosen for such a bolt.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, NamedTuple

from takeoff.rules.fasteners import (
    DIN_7990,
    HR,
    HV,
    INCH,
    ISO_4014,
    LONGEST,
    Bolt,
    bolts,
    family,
    nuts,
    size_of,
    washers,
)  # fmt: skip
from takeoff.rules.sizes import INCH_MM, inch_size
from takeoff.units import millimetres
from takeoff.words import Figure, Phrase, joined, later, phrase

ISO_888: Final = (
    12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100, 110, 120, 130, 140, 150, 160, 180, 200, 220, 240,
    260, 280, 300, 320, 340, 360, 380, 400, 420, 440, 460, 480, 500,
)  # fmt: skip
STRUCTURAL: Final = tuple(range(25, 201, 5))
ADD_TO_GRIP_IN: Final = {
    "1/2": 11 / 16, "5/8": 7 / 8, "3/4": 1.0, "7/8": 9 / 8, "1": 5 / 4, "1-1/8": 3 / 2, "1-1/4": 13 / 8,
    "1-3/8": 7 / 4, "1-1/2": 15 / 8,
}  # fmt: skip
"""RCSC, as printed in a public copy of its table C1."""
FLAT_IN: Final = 5 / 32
BEVEL_IN: Final = 5 / 16
DIN_7990_M16_MM: Final = 24.5
SPRING_MM: Final = {"M8": 2.0, "M10": 2.2, "M12": 2.5, "M14": 3.0, "M16": 3.5, "M18": 3.5, "M20": 4.0, "M22": 4.0,
                    "M24": 5.0, "M27": 5.0, "M30": 6.0}  # fmt: skip
"""DIN 127, from memory."""
TAPER_MM: Final = {"M12": 4.9, "M16": 5.9, "M20": 7.0, "M22": 8.0, "M24": 8.5, "M27": 8.5}
"""DIN 434 (8 %), from memory, low confidence."""
HR_WASHER_MM: Final = {
    "M12": (2.7, 3.3), "M14": (2.7, 3.3), "M16": (3.7, 4.3), "M18": (3.7, 4.3), "M20": (3.7, 4.3), "M22": (3.7, 4.3),
    "M24": (3.7, 4.3), "M27": (4.4, 5.6), "M30": (4.4, 5.6), "M36": (5.4, 6.6),
}  # fmt: skip
"""EN 14399-6: least and greatest thickness."""
RUN_OUT_PITCHES: Final = {ISO_4014: 5.0, HR: 5.0, HV: 3.0}
"""Pitches of incomplete thread between thread and plain shank at most (of EN 14399-4 seen); DIN 7990's b has them."""
TRANSITION_IN: Final = {
    "1/2": 0.19, "5/8": 0.22, "3/4": 0.25, "7/8": 0.28, "1": 0.31, "1-1/8": 0.34, "1-1/4": 0.38, "1-3/8": 0.44,
    "1-1/2": 0.44,
}  # fmt: skip
"""The same of inch bolts, ASME B18.2.6, from memory."""
_JS17: Final = ((18, 0.9), (30, 1.05), (50, 1.25), (80, 1.5), (120, 1.75), (180, 2.0), (250, 2.3), (315, 2.6))
"""Half the tolerance js17 by length up to, ISO 286-1 (from memory; 1.75 at 100 as in the published M30 x 100)."""


class Grip(NamedTuple):
    """What a bolt clamps: ``steel`` in mm; numbers of nuts and of flat, taper, spring washers; the last ply."""

    steel: float
    nuts: int = 1
    washers: int = 1
    tapers: int = 0
    springs: int = 0
    last_ply: float = 0.0
    taper_mm: float = 0.0
    """Thickness of a taper washer, 0: by the table."""
    spring_mm: float = 0.0
    """Thickness of a spring washer, 0: by the table."""


class Choice(NamedTuple):
    """``length`` in mm (None: none can be chosen), the ``least`` that would do, the standard it is of, and why."""

    length: float | None
    least: float | None
    standard: str
    why: str


@lru_cache(maxsize=8192)
def bolt_length(diameter: float, grip: Grip, standard: str = "", out_of_shear: bool = False) -> Choice:
    """The next length that clamps ``grip`` with a bolt of ``diameter`` mm by the rule of its standard.

    ``standard`` is what the model calls the standard; ``out_of_shear`` asks for a plain shank through every shear
    plane. Nothing is interpolated: a size of no table gives no length, and the sentence says so.
    """
    size = size_of(diameter)
    if not size:
        return Choice(None, None, "", f"A diameter of {diameter:g} mm is no nominal size.")
    inch = inch_size(diameter) is not None
    kin = family(standard, inch)
    if grip.nuts < 1:
        return Choice(None, None, kin.bolts[0], f"{size}: without a nut the length depends on the tapped part.")
    if inch:
        return _inch(size, grip, out_of_shear)
    if kin.bolts[0] == HV:
        return Choice(None, None, HV, f"{size}: the clamp lengths of EN 14399-4 (Table A.1) are not at hand.")
    if kin.bolts[0] == HR:
        return _preloaded(size, grip, out_of_shear)
    return _metric(size, grip, kin.bolts, kin.nut, kin.washer, out_of_shear)


def plain_shank(standard: str, size: str, length: float) -> float | None:
    """The least plain shank in mm of a bolt of this length, run-out not counted; None where no table has its thread."""
    bolt = bolts().get((standard, size))
    thread = bolt.thread_length(length) if bolt else None
    if bolt is None or thread is None:
        return None
    if bolt.full:
        return 0.0
    run_out = RUN_OUT_PITCHES.get(standard, 0.0) * bolt.pitch
    if standard == INCH:
        run_out = TRANSITION_IN[size] * INCH_MM
    return max(0.0, length - thread - run_out)


def _shear_plane(grip: Grip, others: float) -> float:
    """From under the head to the last shear plane, mm; ``others``: thickness of all washers.

    One washer lies under the nut, the next one under the head: common practice.
    """
    number = grip.washers + grip.tapers + grip.springs
    under_head = others / number if grip.washers > 1 else 0.0
    return grip.steel - grip.last_ply + under_head


@lru_cache(maxsize=4096)
def thread_in_shear(diameter: float, length: float, grip: Grip, standard: str) -> str:
    """The standard whose bolt of a stated length has its thread in the last shear plane; empty where none has, or
    where no table tells its thread.
    """
    size = size_of(diameter)
    if not size or not grip.last_ply:
        return ""
    kin = family(standard, inch_size(diameter) is not None)
    more, _, missing = _stack(size, grip, kin.washer)
    for name in kin.bolts:
        bolt = bolts().get((name, size))
        plain = plain_shank(name, size, length)
        if bolt is None or plain is None or length < bolt.shortest:
            continue
        return name if plain < _shear_plane(grip, 0.0 if missing else more) - 1e-6 else ""
    return ""


def _inch(size: str, grip: Grip, out_of_shear: bool) -> Choice:
    add, nut = ADD_TO_GRIP_IN.get(size), nuts().get((INCH, size))
    if add is None or nut is None:
        return Choice(None, None, INCH, f"{size}: not in the table of add-to-grip lengths.")
    if grip.springs:
        return Choice(None, None, INCH, f"{size}: no rule for spring washers under inch bolts is at hand.")
    taper = grip.taper_mm / INCH_MM if grip.taper_mm else BEVEL_IN
    least = grip.steel / INCH_MM + add + grip.washers * FLAT_IN + grip.tapers * taper
    least += (grip.nuts - 1) * nut.height / INCH_MM
    # A hundredth of a millimetre is the rounding of the grip.
    quarters = math.ceil((least - 0.01 / INCH_MM) * 4)
    longer_thread = False
    if out_of_shear:
        longer = _inch_out_of_shear(size, grip, quarters, taper)
        if longer is None:
            why = f"{size} in: none has its thread out of the shear planes and clear of the nut; add washers."
            return Choice(None, least * INCH_MM, INCH, why)
        longer_thread = longer > quarters
        quarters = longer
    parts = [
        phrase("grip {grip}", grip=Figure(f"{grip.steel / INCH_MM:.3f}")),
        phrase("add {add}", add=Figure(f"{add:.4g}")),
    ]
    if grip.washers:
        parts.append(phrase("{number} flat washer 5/32", number=grip.washers))
    if grip.tapers:
        parts.append(phrase("{number} bevel washer {each}", number=grip.tapers, each=Figure(f"{taper:.4g}")))
    if grip.nuts > 1:
        height = Figure(f"{nut.height / INCH_MM:.3f}")
        parts.append(phrase("{number} more nut {each}", number=grip.nuts - 1, each=height))
    sums = {"terms": joined(" + ", parts), "sum": Figure(f"{least:.3f}"), "length": Figure(f"{quarters / 4:g}")}
    if longer_thread:
        why = phrase(
            "{size} in: {terms} = {sum} in; next quarter inch {length} in (RCSC add-to-grip), thread out of the shear "
            "planes.",
            size=size,
            **sums,
        )
    else:
        why = phrase(
            "{size} in: {terms} = {sum} in; next quarter inch {length} in (RCSC add-to-grip).", size=size, **sums
        )
    return Choice(quarters / 4 * INCH_MM, least * INCH_MM, INCH, why)


def _inch_out_of_shear(size: str, grip: Grip, quarters: int, taper: float) -> int | None:
    """The least length in quarter inches whose plain shank passes every shear plane and whose nut still clamps."""
    bolt = bolts()[INCH, size]
    others = (grip.washers * FLAT_IN + grip.tapers * taper) * INCH_MM
    plane = _shear_plane(grip, others)
    for count in range(quarters, quarters + 4 * 4):
        length = count / 4 * INCH_MM
        plain, thread = plain_shank(INCH, size, length), bolt.thread_length(length)
        if plain is None or thread is None or length - thread + bolt.pitch > grip.steel + others + 1e-6:
            return None
        if plain >= plane - 1e-6:
            return count
    return None


def _stack(size: str, grip: Grip, washer_standard: str) -> tuple[float, list[Phrase], str]:
    """Thickness in mm of everything between head and nut but steel, its words, and what is missing of a table."""
    total = 0.0
    words: list[Phrase] = []
    if grip.washers:
        washer = washers().get((washer_standard, size))
        if washer is None:
            return 0.0, [], f"{size}: no washer of this size in the table of {washer_standard}."
        total += grip.washers * washer.thickness
        words.append(_times(grip.washers, "washer", washer.thickness))
    for number, name, own, table in (
        (grip.tapers, "taper washer", grip.taper_mm, TAPER_MM),
        (grip.springs, "spring washer", grip.spring_mm, SPRING_MM),
    ):
        if number:
            thickness = own or table.get(size, 0.0)
            if not thickness:
                return 0.0, [], f"{size}: no {name} of this size in the table."
            total += number * thickness
            words.append(_times(number, name, thickness))
    return total, words, ""


_ONE: Final = {
    "washer": later("washer {each}"),
    "taper washer": later("taper washer {each}"),
    "spring washer": later("spring washer {each}"),
    "nut": later("nut {each}"),
}
_MORE: Final = {
    "washer": later("{number} washers {each}"),
    "taper washer": later("{number} taper washers {each}"),
    "spring washer": later("{number} spring washers {each}"),
    "nut": later("{number} nuts {each}"),
}


def _times(number: int, name: str, each: float) -> Phrase:
    thick = Figure(f"{each:g}")
    return phrase(_ONE[name], each=thick) if number == 1 else phrase(_MORE[name], number=number, each=thick)


def _metric(
    size: str, grip: Grip, standards: tuple[str, ...], nut_standard: str, washer_standard: str, out_of_shear: bool
) -> Choice:
    nut = nuts().get((nut_standard, size))
    first = bolts().get((standards[0], size)) or bolts().get((standards[-1], size))
    if nut is None or first is None:
        return Choice(None, None, standards[0], f"{size}: not in the tables of {' or '.join(standards)}.")
    more, words, missing = _stack(size, grip, washer_standard)
    if missing:
        return Choice(None, None, standards[0], missing)
    clamp = grip.steel + more
    nut_height = nut.height
    pitch = first.pitch
    if (standards[0], size) == (DIN_7990, "M16"):
        # The published clamp L - 24.5 with its 8 mm washer: nut and protrusion together are 16.5 mm.
        nut_height, pitch = 14.5, 2.0
    least = clamp + grip.nuts * nut_height + pitch
    words = [
        phrase("grip {grip}", grip=Figure(millimetres(grip.steel))),
        *words,
        _times(grip.nuts, "nut", nut_height),
        phrase("one pitch {pitch}", pitch=Figure(f"{pitch:g}")),
    ]
    total = phrase("{size}: {terms} = {sum}", size=size, terms=joined(" + ", words), sum=Figure(f"{least:.1f}"))
    source = "EN 1090-2, 8.2.2"
    series = STRUCTURAL if standards[0] == DIN_7990 else ISO_888
    plane = _shear_plane(grip, more) if out_of_shear else 0.0
    refused = ""
    shortest = min(bolts()[s, size].shortest for s in standards if (s, size) in bolts())
    for length in (n for n in series if n >= least - 1e-6):
        for standard in standards:
            bolt = bolts().get((standard, size))
            if bolt is None:
                continue
            wrong = _unfit(standard, size, bolt, float(length), clamp, plane)
            if not wrong:
                fields = {"total": total, "length": length, "standard": standard, "source": source}
                if refused:
                    why = phrase(
                        "{total}; {standard} x {length}, since {refused} ({source}).", refused=refused, **fields
                    )
                else:
                    why = phrase("{total}; next length {length} ({standard}; {source}).", **fields)
                return Choice(float(length), least, standard, why)
            refused = wrong
        # A longer bolt has more plain shank: beyond the shortest one that is made, another length mends nothing.
        if not plane and length >= shortest:
            break
    if plane:
        refused = "none has its thread out of the shear planes and clear of the shank under the nut; add washers"
    return Choice(None, least, standards[0], f"{total}; no length will do: {refused or 'longer than the series'}.")


def _unfit(standard: str, size: str, bolt: Bolt, length: float, clamp: float, plane: float) -> str:
    """Why a bolt of this length will not do, empty where it does. ``plane``: distance of the last shear plane or 0."""
    thread = bolt.thread_length(length)
    longest = LONGEST.get((standard, size), 200)
    if length < bolt.shortest - 1e-6:
        least = Figure(f"{bolt.shortest:g}")
        return phrase("the shortest {standard} {size} is {length}", standard=standard, size=size, length=least)
    if length > longest or thread is None:
        return phrase("the longest {standard} {size} is {length}", standard=standard, size=size, length=longest)
    # DIN 7990's own grips, which follow from its thread and washer, are a step of 5 mm wide for every length.
    if standard != DIN_7990 and length - thread + bolt.pitch > clamp + 1e-6 and not bolt.full:
        return phrase("{bolt} leaves no full thread between nut and shank", bolt=f"{standard} x {length:g}")
    if plane and (plain_shank(standard, size, length) or 0.0) < plane - 1e-6:
        return phrase("{bolt} has its thread in a shear plane", bolt=f"{standard} x {length:g}")
    return ""


def hr_clamp(size: str, length: float) -> tuple[float, float] | None:
    """Least and greatest clamp in mm (steel and washers) of an EN 14399-3 bolt; None where the tables lack it.

    Greatest: the shortest such bolt less nut and one pitch. Least: four threads between nut face and shank.
    """
    bolt, nut = bolts().get((HR, size)), nuts().get((HR, size))
    thread = bolt.thread_length(length) if bolt else None
    half = next((t for up_to, t in _JS17 if length <= up_to), None)
    if bolt is None or nut is None or thread is None or half is None:
        return None
    return max(0.0, length - thread) + 4 * bolt.pitch, length - half - nut.height - bolt.pitch


def hr_grip(size: str, length: float, number: int) -> tuple[int, int] | None:
    """Least and greatest grip in whole mm of an EN 14399-3 bolt with ``number`` washers of EN 14399-6."""
    clamp, washer = hr_clamp(size, length), HR_WASHER_MM.get(size)
    if clamp is None or washer is None:
        return None
    return math.ceil(clamp[0] - number * washer[0] - 1e-6), math.floor(clamp[1] - number * washer[1] + 1e-6)


def _preloaded(size: str, grip: Grip, out_of_shear: bool) -> Choice:
    washer = HR_WASHER_MM.get(size)
    nut = nuts().get((HR, size))
    if washer is None or nut is None or (HR, size) not in bolts():
        return Choice(None, None, HR, f"{size}: not in the tables of EN 14399-3.")
    if grip.springs:
        return Choice(None, None, HR, f"{size}: a preloaded bolt takes no spring washer.")
    taper = grip.tapers * (grip.taper_mm or TAPER_MM.get(size, 0.0))
    if grip.tapers and not taper:
        return Choice(None, None, HR, f"{size}: no taper washer of this size in the table.")
    more = taper + (grip.nuts - 1) * nut.height
    least_clamp, most_clamp = (grip.steel + more + grip.washers * t for t in washer)
    plane = _shear_plane(grip, taper + grip.washers * washer[1]) if out_of_shear else 0.0
    for length in STRUCTURAL:
        limits = hr_clamp(size, length)
        if limits is None or limits[1] < most_clamp - 1e-6:
            continue
        least = most_clamp + length - limits[1]
        words = f"{size}: grip {millimetres(grip.steel)} + {_times(grip.washers, 'washer', washer[1])}"
        if limits[0] > least_clamp + 1e-6:
            shear = ", shorter ones have their thread in a shear plane" if plane else ""
            words += f"; x {length} leaves fewer than four threads under the nut (EN 1090-2, 8.2.2){shear}."
            return Choice(None, least, HR, words)
        if plane and (plain_shank(HR, size, length) or 0.0) < plane - 1e-6:
            continue
        why = f"{words} = {most_clamp:.1f}; x {length} clamps {limits[0]:.2f} to {limits[1]:.2f} (EN 14399-3, derived)."
        return Choice(float(length), least, HR, why)
    return Choice(None, None, HR, f"{size}: longer than the lengths of EN 14399-3 at hand.")


@lru_cache(maxsize=4096)
def nut_on_shank(diameter: float, length: float, grip: Grip, standard: str) -> bool:
    """Whether a bolt of a stated standard and length leaves no full thread between its nut and its plain shank.

    False where the standard is not stated, or the thread's length or a washer is in no table.
    """
    size = size_of(diameter)
    if not size or not standard.strip() or inch_size(diameter) is not None:
        return False
    kin = family(standard, False)
    if kin.assumed or kin.bolts[0] in (HV, DIN_7990):
        return False
    bolt = bolts().get((kin.bolts[0], size))
    more, _, missing = _stack(size, grip, kin.washer)
    if bolt is None or missing or bolt.full or length < bolt.shortest:
        return False
    thread = bolt.thread_length(length)
    threads = 4 if kin.bolts[0] == HR else 1
    return thread is not None and length - thread + threads * bolt.pitch > grip.steel + more + 1e-6
