"""Section designations as people write them, read into sections.

Reads L100x8, L 100x65x8, L100/65/8, L4x3x5/16 (inches), FL80*8, PL10*120, UPN160, UNP 160, HE200A,
RHS100x50x4, CHS 76.1x4, RD20 and their like, with x, X, × or * between the sizes, a decimal point or
comma. Sizes with a fraction, an inch mark or a bare leading point (.25) are inches, all others mm.

Does not know: designations that name a mass instead of dimensions (W16x36, C10x15.3), double sections
(2L...), and what a name may mean besides. Those are None: nothing is guessed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from functools import lru_cache
from typing import Final

from takeoff import steel
from takeoff.sections import shapes, tables
from takeoff.steel import Section

_INCH_MM: Final = 25.4
_SIZE: Final = r"(?:\d+[ -]\d+/\d+|\d+/\d+|\d+[.,]\d+|[.,]\d+|\d+)"
_WRITTEN: Final = re.compile(rf"([A-ZØ∅∠]+)[ _.-]*({_SIZE}(?:[xX×*]{_SIZE})*)(INCH|IN|\"|MM)?")
_SLASHES: Final = re.compile(r"([A-ZØ∅∠]+)[ _.-]*(\d+(?:[.,]\d+)?(?:/\d+(?:[.,]\d+)?)+)")
_FRACTION: Final = re.compile(r"(?:^|[ -])(?:1/2|[13]/4|[1357]/8|\d{1,2}/(?:16|32|64))$")
"""What is a fraction of an inch; 100/8 is two sizes."""
_H_BEFORE: Final = re.compile(r"HE[ -]*(\d+)[ -]*([ABM])")

Sizes = tuple[float, ...]


def _angle(sizes: Sizes) -> Section:
    if len(sizes) == 2:
        sizes = (sizes[0], *sizes)
    return shapes.angle(*sizes)


def _plate(sizes: Sizes) -> Section:
    if len(sizes) == 1:
        # The width is the piece's own, so a plate's name need not say it: 0 is not known.
        name = f"PL {shapes.number(sizes[0])}"
        return Section(steel.PLATE, name, h=0.0, b=sizes[0], tw=sizes[0])
    return shapes.plate(max(sizes), min(sizes))


def _hollow(sizes: Sizes) -> Section:
    if len(sizes) == 2:
        sizes = (sizes[0], *sizes)
    return shapes.rhs(*sizes)


def _lipped(sizes: Sizes) -> Section:
    if len(sizes) == 3:
        return shapes.lipped_channel(*sizes)
    h, b, lip, t = sizes
    return shapes.lipped_channel(h, b, t, lip)


def _zed(sizes: Sizes) -> Section:
    if len(sizes) == 3:
        return shapes.zed(*sizes)
    h, b, lip, t = sizes
    return shapes.zed(h, b, t, lip)


def _i_section(sizes: Sizes) -> Section:
    h, b, tw, tf, *bottom = sizes
    return shapes.i_section(h, b, tw, tf, 0.0, *bottom)


_FORMS: Final[tuple[tuple[str, tuple[int, ...], Callable[[Sizes], Section]], ...]] = (
    # words in front (several languages, without accents; from memory), how many sizes may follow, what they make
    (
        "L ANGLE RSA EA UA ∠ WINKEL WINKELSTAHL CORNIERE ANGOLARE ANGULAR CANTONEIRA HOEKLIJN HOEKSTAAL HOEKPROFIEL "
        "VINKEL VINKELSTAL VINKELSTANG KATOWNIK UHELNIK SZOGACEL KULMATERAS CORNIER",
        (2, 3),
        _angle,
    ),
    (
        "FL FLAT FLA FB STRIP FLT FLACH FLACHSTAHL PLAT LAPOS LAPOSACEL PLATTSTAL FLATSTAL PLASKOWNIK PLATINA PLETINA "
        "PIATTO PLOCHAC PLATBAND",
        (2,),
        lambda sizes: shapes.flat(*sizes),
    ),
    ("PL PLATE PLT BL BLECH TOLE PLAAT PLATTE CHAPA LAMIERA BLACHA PLECH LEMEZ PLAT", (1, 2), _plate),
    ("U", (4,), lambda sizes: shapes.channel(*sizes)),
    ("I H", (4, 6), _i_section),
    ("T", (4,), lambda sizes: shapes.tee(*sizes)),
    ("RHS SHS HSS TS", (2, 3), _hollow),
    ("CHS ROR RO ROHR PIPE TUBE", (2,), lambda sizes: shapes.chs(max(sizes), min(sizes))),
    ("RND RD R ROUND D Ø ∅ RUND RUNDSTAHL ROND TONDO REDONDO", (1,), lambda sizes: shapes.round_bar(*sizes)),
    ("C", (3, 4), _lipped),
    ("Z", (3, 4), _zed),
)
_BUILDERS: Final = {
    (word, count): make for words, counts, make in reversed(_FORMS) for word in words.split() for count in counts
}
"""By word and number of sizes; the first form of a word counts."""
_SERIES: Final = {
    "IPE": "IPE",
    "HEA": "HEA",
    "HEB": "HEB",
    "HEM": "HEM",
    "IPBL": "HEA",
    "IPBV": "HEM",
    "UPN": "UPN",
    "UNP": "UPN",
    "UPE": "UPE",
    "PFC": "PFC",
}
"""Names of rolled series and their older spellings, and the series of the tables they mean."""


@lru_cache(maxsize=4096)
def read(text: str) -> Section | None:
    """The section a designation names, as the tables have it where they do, else from its sizes; or None.

    Radii are the table's or 0. ``h`` is 0 for a plate whose name gives the thickness only.
    """
    written = " ".join(_plain(text.upper()).split()).replace("”", '"')
    written = re.sub(r" ?([X×*/]) ?", r"\1", written)
    before = _H_BEFORE.fullmatch(written)
    if before:
        return tables.by_designation().get(tables.key(f"HE{before[2]}{before[1]}"))
    found = _WRITTEN.fullmatch(written)
    if found is None:
        return _slashes(written)
    word, sizes_text, unit = found[1], found[2], found[3] or ""
    if word in _SERIES:
        return _listed(_SERIES[word], sizes_text)
    parts = re.split("[X×*]", sizes_text)
    if not all(_FRACTION.search(part) for part in parts if "/" in part):
        return _slashes(written)
    inches = unit in ("IN", "INCH", '"') or any("/" in part or part.startswith((".", ",")) for part in parts)
    if inches and unit == "MM":
        return None
    sizes = tuple(round(_size(part) * (_INCH_MM if inches else 1.0), 6) for part in parts)
    return _made(word, sizes)


def _plain(text: str) -> str:
    """Capitals without accents: KĄTOWNIK is KATOWNIK. Ø stays: it is a letter of its own and the sign of a diameter."""
    parts = unicodedata.normalize("NFD", text.replace("Ł", "L"))
    return unicodedata.normalize("NFC", "".join(c for c in parts if not unicodedata.combining(c)))


def _slashes(written: str) -> Section | None:
    found = _SLASHES.fullmatch(written)
    if found is None:
        return None
    return _made(found[1], tuple(_size(part) for part in found[2].split("/")))


def _listed(series: str, sizes: str) -> Section | None:
    listed = tables.by_designation()
    wanted = tables.key(f"{series}{sizes}")
    if wanted in listed:
        return listed[wanted]
    # A series named by depth, width and mass is often written without the mass.
    longer = [section for key, section in listed.items() if key.startswith(wanted + "x")]
    return longer[0] if len(longer) == 1 and "x" in wanted else None


def _made(word: str, sizes: Sizes) -> Section | None:
    make = _BUILDERS.get((word, len(sizes)))
    if make is None or min(sizes) <= 0:
        return None
    try:
        return tables.match(make(sizes))
    except ValueError:
        # Sizes that make no such section: the name means something else.
        return None


def _size(text: str) -> float:
    if "/" in text:
        *whole, fraction = re.split("[ -]", text)
        above, below = fraction.split("/")
        return (int(whole[0]) if whole else 0) + int(above) / int(below)
    return float(text.replace(",", "."))
