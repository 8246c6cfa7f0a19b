"""Texts for files that hold nothing but ASCII: every name of a job as one that is unique and short enough.

Vocabulary
----------
plain     a text of printable ASCII with single spaces, made letter by letter: accents dropped, letters without an
          ASCII relative replaced by an underscore
tail      eight hexadecimal digits of the name's SHA-256, put behind a plain text that would be another name's too,
          or that had to be cut short; it depends on the name alone, so that it stays from run to run
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final

_RELATIVES: Final[Mapping[str, str]] = {
    "ß": "ss",
    "ẞ": "SS",
    "æ": "ae",
    "Æ": "AE",
    "œ": "oe",
    "Œ": "OE",
    "ø": "o",
    "Ø": "O",
    "ł": "l",
    "Ł": "L",
    "đ": "d",
    "Đ": "D",
    "ð": "d",
    "Ð": "D",
    "þ": "th",
    "Þ": "Th",
    "ħ": "h",
    "Ħ": "H",
    "ı": "i",
    "×": "x",
    "·": ".",
    "–": "-",
    "—": "-",
    "−": "-",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
}
_RESERVED: Final = frozenset(
    ["con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))]
)
"""Names of devices on one system, whatever their ending."""
LONGEST_FILE_NAME: Final = 80
"""Characters of a file name without its ending: leaves room for folders where a whole path is limited to 260."""


def plain(text: str) -> str:
    """The text in printable ASCII, blanks run together; empty stays empty."""
    kept = []
    for letter in text:
        if letter.isspace():
            kept.append(" ")
            continue
        letter = _RELATIVES.get(letter, letter)
        letters = "".join(c for c in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(c))
        # Not by str.isprintable: a lone surrogate, a control letter or a sign of another script are all "_".
        kept += [c if " " <= c <= "~" else "_" for c in letters]
    return " ".join("".join(kept).split())


def shortened(text: str, longest: int) -> str:
    """The plain text within ``longest`` characters, a tail at its end where it was cut."""
    kept = plain(text)
    return kept if len(kept) <= longest else _with_tail(kept, text, longest)


def unique_texts(
    names: Iterable[str], longest: int, safe: Callable[[str], str] = str, lasting: Sequence[str] = ()
) -> dict[str, str]:
    """A plain text for each name, at most ``longest`` characters (16 or more), no two alike.

    ``safe`` makes of a plain text one that the file can hold; it changes the beginning only. ``lasting`` are all
    names that there have ever been, in the order in which they came (the marks of a register): each keeps the text
    that it had then, whatever came after, and no other one gets it.
    """

    def make(name: str) -> str:
        return safe(plain(name) or "_")

    return _lasting(names, lasting, make, longest, str) if lasting else _unique(names, make, longest, str)


def file_names(names: Iterable[str], ending: str, lasting: Sequence[str] = ()) -> dict[str, str]:
    """A file name for each name, with ``ending`` (as ``.nc``): safe on every system, in no folder but its own.

    Letters, digits, ``+``, ``=``, ``-``, ``_`` and single dots stay, all else becomes ``_``; no leading dot or
    hyphen, no reserved name. Names that differ in case only, and would be one file on some systems, get tails.
    ``lasting`` as of :func:`unique_texts`: a file of a released piece never becomes another one's.
    """
    if lasting:
        stems = _lasting(names, lasting, _stem, LONGEST_FILE_NAME, str.casefold)
    else:
        stems = _unique(names, _stem, LONGEST_FILE_NAME, str.casefold)
    return {name: f"{stem}{ending}" for name, stem in stems.items()}


def _stem(name: str) -> str:
    kept = re.sub(r"[^A-Za-z0-9+=_.-]+", "_", plain(name))
    kept = re.sub(r"\.{2,}", "_", kept).rstrip(".")
    kept = re.sub(r"^[.-]+", "_", kept) or "_"
    return f"_{kept}" if kept.split(".")[0].casefold() in _RESERVED else kept


def _unique(
    names: Iterable[str], make: Callable[[str], str], longest: int, fold: Callable[[str], str]
) -> dict[str, str]:
    made = {}
    for name in sorted(set(names)):
        text = make(name)
        made[name] = text if len(text) <= longest else _with_tail(text, name, longest)
    # A name that is its own text keeps it; another that comes to the same text gets a tail.
    times = Counter(fold(text) for text in made.values())
    kept = Counter(fold(text) for name, text in made.items() if text == name)
    for name, text in made.items():
        if times[fold(text)] > 1 and not (text == name and kept[fold(text)] == 1):
            made[name] = _with_tail(text, name, longest)
    # Somebody may call a part by another one's text with its tail: then a tail of another digest.
    taken: set[str] = set()
    for name in sorted(made, key=lambda n: (made[n] != n, n)):
        text, turn = made[name], 0
        while fold(text) in taken:
            turn += 1
            text = _with_tail(make(name), name, longest, turn)
        taken.add(fold(text))
        made[name] = text
    return made


def _lasting(
    names: Iterable[str],
    all_names: Sequence[str],
    make: Callable[[str], str],
    longest: int,
    fold: Callable[[str], str],
) -> dict[str, str]:
    """First come, first named: what one of ``all_names`` gets depends on those before it only."""
    made: dict[str, str] = {}
    taken: set[str] = set()
    for name in all_names:
        text, turn = make(name), 0
        if len(text) > longest:
            text = _with_tail(text, name, longest)
        while fold(text) in taken:
            text = _with_tail(make(name), name, longest, turn)
            turn += 1
        taken.add(fold(text))
        made[name] = text
    return {name: made[name] for name in names}


def _with_tail(text: str, name: str, longest: int, turn: int = 0) -> str:
    salt = f"{turn}:" if turn else ""
    tail = hashlib.sha256(f"{salt}{name}".encode("utf-8", errors="surrogatepass")).hexdigest()[:8]
    return f"{text[: max(longest - len(tail) - 1, 0)].rstrip(' .')}-{tail}"
