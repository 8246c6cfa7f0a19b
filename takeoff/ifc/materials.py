"""Materials of parts: is it steel, and which grade.

A part's own material comes before its type's; within a set the first known steel grade
counts. Patterns of grades: EN 10025, EN 10210, EN 10219, EN 10149, EN 10027-1, old DIN, ASTM,
JIS, GB and IS designations (from memory of the standards' naming rules).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from takeoff.ifc import words
from takeoff.ifc.context import Context, Entity, argument, entities, related

_EN = re.compile(
    r"(?<![A-Z0-9])([SP]\s?\d{3}(?:JR|J0|JO|J2|K2|L0|NL|ML|QL1|QL|N|M|Q|W|MC|NC|H|C|G\d|\+[A-Z]+)*)(?![A-Z0-9])"
)
_OTHER = (
    re.compile(r"(?<![A-Z0-9])((?:ST|RST|UST)\s?(?:33|37|44|50|52|60)(?:[-.]\d)?[A-Z]?)(?![A-Z0-9])"),
    re.compile(r"(?<![A-Z0-9])(A(?:36|53|106|242|283|441|500|501|529|572|588|618|709|847|913|992|1011|1085)M?"
               r"(?:[\s\-_./]*(?:GR(?:ADE)?\.?|TYPE)?[\s\-_.]*(?:[A-E]|\d{2,3}))?)(?![A-Z0-9])"),
    re.compile(r"(?<![A-Z0-9])(Q\d{3}[A-F]?)(?![A-Z0-9])"),
    re.compile(r"(?<![A-Z0-9])((?:SS|SM|SN|STK|STKR|STKN|SMA)\s?\d{3}[A-C]{0,2})(?![A-Z0-9])"),
    re.compile(r"(?<![A-Z0-9])(FE\s?[EB]?\s?\d{3}[A-D]?)(?![A-Z0-9])"),
    re.compile(r"(?<![A-Z0-9])(E(?:295|335|360)(?:GC|C)?)(?![A-Z0-9])"),
    re.compile(r"(?<![A-Z0-9])(E\s?(?:165|250|275|300|350|410|450)\s?(?:A|BR|BO|B0|C)?)(?![A-Z0-9])"),
    re.compile(r"(?<![A-Z0-9])(C(?:235|245|255|275|285|345|355|375|390|440))(?![A-Z0-9/])"),
    re.compile(r"(?<![A-Z0-9])((?:260|300|350|380|400|480|550|700)\s?(?:W|WT|A|AT|Q|QT|G|PLUS))(?![A-Z0-9])"),
    re.compile(r"(?<![A-Z0-9])(1\.[048]\d{3})(?![0-9])"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Material:
    """``grade`` as far as known; ``foreign`` the kind of material where it is not steel; ``name`` as in the file."""

    name: str = ""
    grade: str = ""
    foreign: str = ""
    steel: bool = False
    """The name says steel, or holds a grade of steel."""


UNKNOWN = Material()


@lru_cache(maxsize=4096)
def grade_of(text: str) -> str:
    """The steel grade in a text, as standards write it (``STEEL/S355JO`` gives ``S355J0``); empty when none."""
    upper = text.upper().replace("Ö", "O")
    found = _EN.search(upper)
    if found:
        grade = found.group(1).replace("JO", "J0").replace(" ", "")
        return grade if len(grade) > 3 else ""
    for pattern in _OTHER:
        found = pattern.search(upper)
        if found:
            return _as_written(text[found.start(1) : found.end(1)])
    return ""


def _as_written(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


@lru_cache(maxsize=4096)
def judge(name: str) -> Material:
    """What a material's name says."""
    text = words.known(name)
    if not text or words.plain(text) in words.GENERIC_MATERIALS:
        return Material(text)
    foreign = words.not_steel(text)
    grade = grade_of(text)
    tokens = set(re.findall(r"[a-z]+", words.plain(text)))
    says_steel = any(word in tokens for word in words.STEEL_WORDS)
    if foreign and not (grade and says_steel):
        return Material(text, foreign=foreign)
    if grade:
        return Material(text, grade, steel=True)
    bare = tokens - set(words.STEEL_WORDS) - {"structural", "carbon", "galvanized", "galvanised", "mild", "profile"}
    if says_steel and not bare and not re.search(r"\d", text):
        return Material(text, steel=True)  # it says steel, but no grade
    if words.plain(text).split()[:1] and words.plain(text).split()[0] in words.GENERIC_MATERIALS:
        return Material(text)  # ``Undefined/3500``: whatever follows is no grade
    stripped = re.sub(r"^\s*(?:steel|stahl|staal|acier|acciaio|acero)\s*[/:\-]\s*", "", text, flags=re.I)
    return Material(text, stripped.strip() or text, steel=says_steel)


class Materials:
    """Materials by element, in one pass over the relations."""

    def __init__(self, ctx: Context, types: dict[int, Entity]) -> None:
        self._types = types
        self._of: dict[int, list[Entity]] = {}
        self._judged: dict[int, tuple[Material, str]] = {}
        for relating, elements in related(ctx.file, "IfcRelAssociatesMaterial", 5, 4):
            for element in elements:
                self._of.setdefault(element.id(), []).append(relating)

    def of(self, element: Entity) -> tuple[Material, str]:
        """The element's material, its type's where it has none itself, and what a profile set calls the section."""
        key = element.id()
        result = self._best(key)
        if result[0] is UNKNOWN or not (result[0].name or result[1]):
            kind = self._types.get(key)
            if kind is not None:
                other = self._best(kind.id())
                if other[0].name:
                    return other[0], result[1] or other[1]
                return result[0], result[1] or other[1]
        return result

    def _best(self, key: int) -> tuple[Material, str]:
        found = [self._judge(relating) for relating in self._of.get(key, ())]
        if not found:
            return UNKNOWN, ""
        return min(found, key=lambda pair: (_rank(pair[0]), pair[1]))

    def _judge(self, relating: Entity) -> tuple[Material, str]:
        key = relating.id()
        known = self._judged.get(key)
        if known is None:
            names, section = _names(relating)
            judged = [judge(name) for name in names]
            best = min(judged, key=_rank, default=UNKNOWN)
            known = self._judged[key] = (best, section)
        return known


def _rank(material: Material) -> tuple[bool, bool, bool, str]:
    """Materials that say most come first."""
    return not material.grade, not material.steel, not material.foreign, material.name


_PARTS = {
    "IfcMaterialList": 0,
    "IfcMaterialLayerSetUsage": 0,
    "IfcMaterialLayerSet": 0,
    "IfcMaterialLayer": 0,
    "IfcMaterialLayerWithOffsets": 0,
    "IfcMaterialProfileSetUsage": 0,
    "IfcMaterialProfileSetUsageTapering": 0,
    "IfcMaterialProfileSet": 2,
    "IfcMaterialProfile": 2,
    "IfcMaterialProfileWithOffsets": 2,
    "IfcMaterialConstituentSet": 2,
    "IfcMaterialConstituent": 2,
}
"""Position of the attribute that leads on to the materials."""


def _names(relating: Entity) -> tuple[list[str], str]:
    """Names of the materials of a material select, and what its first profile is called."""
    kind = relating.is_a()
    if kind == "IfcMaterial":
        name = words.known(argument(relating, 0))
        if not name and len(relating) > 2:
            name = words.known(argument(relating, 2))  # the category, where the name says nothing
        return [name], ""
    index = _PARTS.get(kind)
    if index is None:
        return [], ""
    names: list[str] = []
    section = ""
    if kind.startswith("IfcMaterialProfile") and not kind.startswith("IfcMaterialProfileSet"):
        section = next((words.known(argument(profile, 1)) for profile in entities(argument(relating, 3))), "")
        section = section or words.known(argument(relating, 0))
    for part in entities(argument(relating, index)):
        more, called = _names(part)
        names += more
        section = section or called
    return names, section
