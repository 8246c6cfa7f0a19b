"""Words that models use, by meaning. Data: extend a list, not the code that reads it.

Languages: English, German, Dutch, French, Spanish, Italian, Portuguese, Polish, Czech,
Swedish, Norwegian, Finnish, Turkish, Hungarian, Romanian, as far as they occur in drawings
of steel. Common practice, no source. Words are compared in lower case without accents.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Final

FLAT_NAMES: Final = (
    "fl", "flat", "flat bar", "flt", "fb", "fla", "strip", "flach", "flachstahl", "flacheisen", "platstaf",
    "platstaal", "fer plat", "plat", "piatto", "pletina", "barra chata", "plaskownik", "plocha tyc",
    "plattstang", "flattstal", "lattateras", "lama", "laposacel", "platbanda",
)  # fmt: skip
"""What a section's name begins with, before its sizes, where it is a rolled flat."""

PLATE_NAMES: Final = (
    "pl", "plt", "plate", "blech", "bl", "blacha", "plaat", "plaatwerk", "tole", "lamiera", "chapa", "plech",
    "levy", "sac", "lemez", "tabla", "ek",
)  # fmt: skip

MARK_PROPERTIES: Final = (
    "part mark", "partmark", "piece mark", "piecemark", "part position", "part pos", "part no", "part number",
    "position number", "pos nr", "posnr", "positionsnummer", "bauteilposition", "einzelteilposition",
    "onderdeelmerk", "merk onderdeel", "merknummer", "posnummer", "positienummer", "repere", "repere piece",
    "marca de pieza", "marca pieza", "marca de peca", "marca pezzo", "marca particolare",
    "numer pozycji", "pozycja", "numer elementu", "cislo pozice", "pozice", "detaljmarke", "osanumero",
    "osatunnus", "poz no", "parca no", "tetelszam",
)  # fmt: skip
"""Names of properties that hold a part's piece mark."""

ASSEMBLY_MARK_PROPERTIES: Final = (
    "assembly mark", "assemblymark", "assembly cast unit mark", "assembly position", "assembly no",
    "assembly number", "assembly pos", "main mark", "shipping mark", "baugruppenposition", "baugruppe pos",
    "merk samenstelling", "samenstellingsmerk", "repere assemblage", "marca de conjunto", "marca conjunto",
    "marca assieme", "numer zespolu", "cislo sestavy", "kokoonpanotunnus",
)  # fmt: skip

GRADE_PROPERTIES: Final = (
    "grade", "steel grade", "material grade", "strength grade", "strengthgrade", "steelgrade", "materialgrade",
    "stahlgute", "stahlsorte", "staalkwaliteit", "nuance", "nuance d acier", "calidad", "qualita acciaio",
    "gatunek stali", "gatunek", "jakost oceli", "jakost", "stalsort", "stalkvalitet", "teraslaatu",
)  # fmt: skip

FINISH_PROPERTIES: Final = (
    "finish", "coating", "surface treatment", "surfacetreatment", "corrosion protection", "corrosiontreatment",
    "oberflache", "oberflachenbehandlung", "korrosionsschutz", "oppervlaktebehandeling", "afwerking", "finition",
    "traitement de surface", "acabado", "finitura", "trattamento superficiale", "zabezpieczenie antykorozyjne",
    "powloka", "povrchova uprava", "ytbehandling", "overflatebehandling", "pintakasittely",
)  # fmt: skip

SECTION_PROPERTIES: Final = (
    "profile", "section", "section name", "section size", "profile name", "profilename", "cross section", "profil",
    "profilbezeichnung", "profiel", "perfil", "seccion", "profilo", "sezione", "profile designation", "profiili",
    "prurez", "ksztaltownik",
)  # fmt: skip
"""Names of properties that hold the name of a part's section."""

NOT_STEEL: Final[dict[str, tuple[str, ...]]] = {
    "concrete": (
        "concrete", "beton", "hormigon", "calcestruzzo", "cls", "concreto", "betao", "betong", "betoni", "screed",
        "precast", "grout", "mortar", "mortel", "rebar", "reinforcement",
    ),
    "timber": (
        "timber", "wood", "holz", "hout", "bois", "madera", "madeira", "legno", "drewno", "drevo", "glulam",
        "plywood", "osb", "spruce", "pine", "oak", "larch", "trae", "puu", "kvh", "bsh", "clt",
    ),
    "glass": ("glass", "glas", "verre", "vidrio", "vetro", "vidro", "szklo", "sklo", "lasi"),
    "masonry": ("masonry", "brick", "mauerwerk", "baksteen", "brique", "stone", "natuursteen", "sandstone", "lime"),
    "rubber or plastic": (
        "rubber", "epdm", "neoprene", "neopren", "ptfe", "teflon", "plastic", "kunststoff", "kunststof", "pvc",
        "hdpe", "polyethylene", "grp", "frp", "gfk", "nylon", "gummi",
    ),
    "insulation": ("insulation", "mineral wool", "isolatie", "dammung", "isolation", "gypsum", "gips", "eps", "xps"),
    "aluminium": ("aluminium", "aluminum", "alu", "alluminio", "aluminio"),
}  # fmt: skip
"""Materials that leave a part out, with the word its reason uses."""

STEEL_WORDS: Final = (
    "steel", "stahl", "staal", "acier", "acero", "acciaio", "aco", "stal", "ocel", "teras", "celik",
    "acel", "otel", "metal", "metall", "metaal", "iron", "eisen", "ijzer", "fer",
)  # fmt: skip
GENERIC_MATERIALS: Final = (
    "default",
    "undefined",
    "none",
    "unknown",
    "miscellaneous",
    "material",
    "other",
    "not defined",
)

BOUGHT_OUT: Final[dict[str, tuple[str, ...]]] = {
    "grating": (
        "grating", "gitterrost", "gitterroste", "rooster", "looprooster", "caillebotis", "rejilla", "grigliato",
        "krata pomostowa", "krata", "gallerdurk", "ritila",
    ),
    "turnbuckle": ("turnbuckle", "spanschroef", "spannschloss", "ridoir", "tenditore", "vantskruv"),
    "shackle": ("shackle", "schakel", "harpsluiting", "manille"),
    "wire rope": ("wire rope", "guy wire", "drahtseil", "staalkabel", "hauban"),
    "bearing": ("elastomeric bearing", "bearing pad", "oplegrubber", "elastomerlager"),
}  # fmt: skip
"""Hardware that is bought and not cut, by what it is; fasteners have their own words beside this module."""

SENTINELS: Final = (
    "",
    "$",
    "-",
    "n/a",
    "n.a.",
    "none",
    "null",
    "undefined",
    "<undefined>",
    "not defined",
    "notdefined",
)

GENERIC_NAMES: Final = (
    "beam", "column", "member", "plate", "brace", "bracing", "purlin", "rafter", "post", "girder", "angle", "part",
    "balk", "ligger", "kolom", "plaat", "trager", "stutze", "blech", "platte", "profil", "poutre", "poteau", "viga",
    "pilar", "columna", "placa", "trave", "colonna", "piastra", "belka", "slup", "blacha", "nosnik", "sloup", "plech",
    "pelare", "palkki", "pilari", "levy", "col", "gusset", "stiffener", "leg", "diagonal", "horizontal", "strut",
    "element", "steel", "building element proxy", "proxy", "accessory", "cleat", "dummy part", "dummy", "unnamed",
)  # fmt: skip
"""Names that say what a part does, not which one it is."""


NAMELESS: Final = frozenset(
    ("part", "element", "steel", "building element proxy", "proxy", "accessory", "dummy part", "dummy", "unnamed")
)
"""Generic names that do not even say what a part does."""


@lru_cache(maxsize=65536)
def plain(text: str) -> str:
    """Lower case, accents off, every run of other characters than letters and digits one space."""
    folded = unicodedata.normalize("NFKD", text.replace("ł", "l").replace("Ł", "L").replace("ø", "o")).lower()
    bare = "".join(c for c in folded if not unicodedata.combining(c)).replace("ß", "ss")
    return re.sub(r"[^a-z0-9]+", " ", bare).strip()


_LEADING = re.compile(r"^[a-z ]+")


@lru_cache(maxsize=8192)
def names_flat(text: str) -> bool:
    """Whether a section's name calls it a flat: ``FL100x10``, ``Strip 50*5``, ``flat bar 80 x 8``."""
    found = _LEADING.match(plain(text))
    if found is None:
        return False
    word = found.group().strip()
    return word in _FLATS or any(word.startswith(f"{name} ") for name in _LONG_FLATS)


@lru_cache(maxsize=8192)
def sizes(text: str) -> tuple[float, ...]:
    """The sizes in a section's name in mm, in their order: ``STRIP15*100`` has 15 and 100; inches are converted."""
    inches = '"' in text or "''" in text or "/" in text
    found = []
    for whole, top, below, number in _SIZES.findall(text.replace(",", ".")):
        if below:
            found.append((float(whole or 0) + float(top) / float(below)) * 25.4)
        else:
            found.append(float(number) * (25.4 if inches else 1.0))
    return tuple(found)


_SIZES = re.compile(r"(?:(\d+)[ -])?(\d+)/(\d+)|(\d+(?:\.\d+)?)")
_FLATS = frozenset(FLAT_NAMES)
_LONG_FLATS = tuple(name for name in FLAT_NAMES if len(name) > 3)


@lru_cache(maxsize=8192)
def bought_out(text: str) -> str:
    """What kind of hardware a name or section text means, empty when none.

    Words count as whole words, sizes apart.
    """
    words = re.sub(r"\bm?\d+\b", " ", plain(text)).split()
    joined = f" {' '.join(words)} "
    for kind, names in BOUGHT_OUT.items():
        if any(f" {plain(name)} " in joined for name in names):
            return kind
    return ""


@lru_cache(maxsize=8192)
def not_steel(text: str) -> str:
    """The kind of material a name means where it is not steel, else empty."""
    words = set(re.findall(r"[a-z]+|\d+", plain(text)))
    joined = f" {plain(text)} "
    for kind, names in NOT_STEEL.items():
        if any(name in words if " " not in name else f" {name} " in joined for name in names):
            return kind
    if re.search(r"\bc\d{2}/\d{2,3}\b", text.lower()):  # strength classes of EN 206
        return "concrete"
    if re.match(r"\s*\d+\s*\(\d+\)\s*\d+", text):  # panes and gaps of insulating or laminated glass: 5(2)5
        return "glass"
    return ""


@lru_cache(maxsize=8192)
def names_part(text: str) -> bool:
    """Whether a name says that something is a part of a steel structure: ``gusset 3``, ``Knotenblech``, ``PLAAT``."""
    found = re.findall(r"[a-z]+", plain(text))
    return any(word in GENERIC_NAMES and word not in NAMELESS for word in found)


def known(value: object) -> str:
    """A property's text, empty where it only stands for nothing: blanks, ``$``, the largest float."""
    if value is None or isinstance(value, bool):
        return ""
    if isinstance(value, float):
        if not abs(value) < 1e300:
            return ""
        return f"{value:g}"
    text = str(value).strip()
    if text.lower() in SENTINELS:
        return ""
    try:
        return "" if abs(float(text)) > 1e300 else text
    except ValueError:
        return text


_SECTION = re.compile(
    r"^(?:"
    r"(?:l|la|ts|rsa|ea|ua|ub|uc|rsj|pfc|ipe|ipn|inp|he|hea|heb|hem|hd|hl|hp|upn|upe|unp|uap|w|wt|mt|st|s|c|mc|hss|"
    r"shs|rhs|chs|tub|tubo|koker|buis|ro|rd|rnd|rohr|rond|r|d|t|tee|z|u|i|k|pl|plt|bl|pip|pipe|2l|isa|ismb|ismc|"
    r"ld|lnp|ns|corniere|angle|channel|plate|rod|round|tube|profile|winkel|cornier|angolare|katownik|uglovik)"
    r"[\s_.\-]*\d"
    r"|(?:\d+(?:[.,]\d+)?\s*[x*×]\s*)+\d"
    r")"
)


@lru_cache(maxsize=65536)
def looks_like_section(text: str) -> bool:
    """Whether a text names a section by kind and sizes: ``L 100x100x10``, ``HEB220``, ``PL19.1``, ``120*8``.

    A letter and one number alone (``C12``, ``R5``) could be a mark as well and is none, unless sizes
    follow or the letters are those of a rolled series.
    """
    low = text.strip().lower()
    if names_flat(text) and any(c.isdigit() for c in low):
        return True
    if not _SECTION.match(low):
        return False
    sizes = re.findall(r"\d+(?:[.,/]\d+)?", low)
    letters = re.match(r"[a-z]*", low)
    return len(sizes) > 1 or (letters is not None and len(letters.group()) > 1)
