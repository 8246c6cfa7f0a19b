"""What names say of fasteners: their kind, size, grade and standard. The words are data, in takeoff/ifc/data.

Does not know: names in other alphabets' compounds, and codes of one maker's catalogue.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

BOLT, STEP_BOLT, ANCHOR, STUD, ROD, NUT, WASHER, WELD, OTHER = (
    "bolt", "step bolt", "anchor", "stud", "rod", "nut", "washer", "weld", "other",
)  # fmt: skip
PREDEFINED: Final = {
    "ANCHORBOLT": ANCHOR,
    "BOLT": BOLT,
    "SCREW": BOLT,
    "RIVET": BOLT,
    "DOWEL": STUD,
    "SHEARCONNECTOR": STUD,
    "STUDSHEARCONNECTOR": STUD,
    "NAIL": OTHER,
    "NAILPLATE": OTHER,
    "STAPLE": OTHER,
    "GLUE": OTHER,
    "MORTAR": OTHER,
    "WELD": WELD,
}
"""IfcMechanicalFastenerTypeEnum and IfcFastenerTypeEnum of ISO 16739-1 as kinds."""
ORDER: Final = (WELD, NUT, WASHER, STEP_BOLT, ANCHOR, ROD, STUD, BOLT)
"""Of several words the first of these decides: a bolt's nut is a nut, an anchor bolt an anchor."""

METRIC: Final = re.compile(
    r"(?<![^\W_])M\s?(\d{1,3}(?:[.,]\d)?)(?!\d)"
    r"(?:\s?[x×*X/]\s?(\d{1,4}(?:[.,]\d+)?))?(?:\s?[x×*X/]\s?(\d{1,4}(?:[.,]\d+)?))?"
)
_FRACTION: Final = r"(?:(\d{1,2})[\s-])?(\d{1,2})/(2|4|8|16|32)"
INCH: Final = re.compile(
    rf"(?<![\d/.]){_FRACTION}\s?(?:\"|''|″|in\b|inch\b)"
    r"(?:\s?[x×*X]\s?(?:(\d{1,2})(?![/\d])[\s-]?)?(?:(\d{1,2})/(2|4|8|16))?)?",
)
BARE_INCH: Final = re.compile(rf"(?<![\d/.]){_FRACTION}(?![\d/])")
"""A fraction without a mark of inches: a size only where nothing but a bolt can be meant."""
GRADE: Final = re.compile(
    r"(?<![\d.,])((?:3\.6|4\.[68]|5\.[68]|6\.[68]|8\.8|9\.8|10\.9|12\.9))(?![\d.,])"
    r"|\b(A325M?|A490M?|F3125|F1852|F2280|A307|A354|A449|F1554|F10T|S10T|F8T|A[245]-(?:50|70|80))\b"
)
"""Property classes of ISO 898-1 and ISO 3506-1, designations of ASTM and JIS."""
_NAMELESS: Final = re.compile(
    r"(?<![^\W_])M\s?\d{1,2}\s?[x×*X]\s?\d{2,3}(?![\d.,])[\s_/-]+(?:4\.[68]|5\.[68]|6\.8|8\.8|9\.8|10\.9|12\.9)(?![\d.,])"
)
"""A size and a property class of ISO 898-1 mean a bolt without a word for it: ``M16x50 8.8``. A size alone may be a
rolled section (M12x11.8 is a beam by its mass)."""
_BARE_SIZE: Final = re.compile(r"\s*M\s?\d{1,2}\s?[x×*X]\s?\d{2,3}\s*")
STANDARD: Final = re.compile(
    r"\b((?:DIN EN ISO|DIN EN|DIN ISO|EN ISO|NF EN|BS EN|DIN|ISO|EN|NEN|BS|NF|ASTM|ASME|JIS|GB/T|GB|UNI|PN|ČSN|CSN"
    r"|AS|IS|GOST|ГОСТ)"
    r"[\s-]?[A-Z]?\d[\d.]*(?:-\d+)*)"
)
MM_PER_INCH: Final = 25.4


@dataclass(frozen=True, slots=True)
class Size:
    """``diameter`` and ``length`` in mm as written; 0 where not written. ``text`` as found."""

    diameter: float = 0.0
    length: float = 0.0
    text: str = ""


def rows(name: str) -> Iterator[dict[str, str]]:
    """Rows of a table of words beside this package; lines that begin with # are remarks."""
    text = files("takeoff.ifc").joinpath("data", name).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    yield from csv.DictReader(lines)


@dataclass(frozen=True, slots=True)
class _Words:
    whole: dict[str, tuple[str, bool]]
    starts: tuple[tuple[str, str, bool], ...]
    ends: tuple[tuple[str, str, bool], ...]
    phrases: tuple[tuple[str, str, bool], ...]


@cache
def _words() -> _Words:
    whole: dict[str, tuple[str, bool]] = {}
    starts: list[tuple[str, str, bool]] = []
    ends: list[tuple[str, str, bool]] = []
    phrases: list[tuple[str, str, bool]] = []
    for row in rows("fastener_words.csv"):
        word, kind, needs_size = row["word"].casefold(), row["kind"], row["size"] == "yes"
        if row["match"] == "word":
            whole[word] = (kind, needs_size)
        elif row["match"] == "phrase":
            phrases.append((f" {word} ", kind, needs_size))
        else:
            (starts if row["match"] == "start" else ends).append((word, kind, needs_size))
    return _Words(whole, tuple(starts), tuple(ends), tuple(phrases))


@cache
def kind_of(text: str) -> str:
    """The kind of fastener a name or section speaks of; empty where it speaks of none or of a part as well."""
    known = _words()
    sized = METRIC.search(text) is not None or INCH.search(text) is not None
    written = re.findall(r"[^\W\d_]+", text.casefold())
    line = f" {' '.join(written)} "
    found: set[str] = {kind for phrase, kind, needs in known.phrases if phrase in line and (sized or not needs)}
    for word in written:
        entry = known.whole.get(word)
        matches = [entry] if entry else []
        matches += [(kind, needs) for end, kind, needs in known.ends if word.endswith(end)]
        matches += [(kind, needs) for start, kind, needs in known.starts if word.startswith(start)]
        # of the ways one word can be read, a compound's own entry says more than its ending
        for kind, needs_size in [entry] if entry else matches:
            if sized or not needs_size:
                found.add(kind)
    if "no" in found:
        return ""
    if not found and _NAMELESS.search(text):
        return BOLT
    return next((kind for kind in ORDER if kind in found), "")


def bare_size(text: str) -> Size:
    """The size of a text that is nothing but one, as ``M16x50``; empty for any other."""
    return size_of(text) if _BARE_SIZE.fullmatch(text) else Size()


@cache
def size_of(text: str, *, fastener: bool = True) -> Size:
    """The size a text writes: ``M16``, ``M16x45``, ``M20x1.5x60``, ``3/4" x 2 1/2``; bare fractions of fasteners."""
    found = METRIC.search(text)
    if found:
        diameter = _number(found[1])
        second, third = (_number(found[i]) if found[i] else 0.0 for i in (2, 3))
        # a fine thread writes its pitch between diameter and length
        length = third if third and second < 0.35 * diameter else second
        return Size(diameter, length, found[0].strip())
    inch = INCH.search(text) or (BARE_INCH.search(text) if fastener else None)
    if inch:
        diameter = (float(inch[1] or 0) + float(inch[2]) / float(inch[3])) * MM_PER_INCH
        length = 0.0
        if inch.re is INCH:
            length = (float(inch[4] or 0) + (float(inch[5]) / float(inch[6]) if inch[5] else 0.0)) * MM_PER_INCH
        return Size(diameter, length, inch[0].strip())
    return Size()


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def first(pattern: re.Pattern[str], texts: Iterable[str]) -> str:
    """The first find of a pattern in some texts; empty where none has it."""
    for text in texts:
        found = pattern.search(text)
        if found:
            return next(group for group in found.groups() if group)
    return ""
