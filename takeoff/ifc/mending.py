"""The text of a STEP physical file (ISO 10303-21) as the library accepts it, whatever wrote it.

Each repair is said in a phrase. Letters beyond ASCII are written as the standard's escapes: the library drops them
without a word, so that two marks could become one.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import ifcopenshell

from takeoff.ifc.context import ReadError

HEADER_BYTES: Final = 65536
FILE_SCHEMA: Final = re.compile(
    rb"FILE_SCHEMA\s*\(\s*(?:/\*.*?\*/\s*)?\(\s*'([^']*)'[^)]*\)\s*\)", re.IGNORECASE | re.DOTALL
)
_KEYWORDS: Final = (b"HEADER", b"FILE_DESCRIPTION", b"FILE_NAME", b"FILE_SCHEMA", b"ENDSEC", b"DATA")
_COMMENTS: Final = re.compile(rb"\A(?:\s*/\*.*?\*/)+\s*", re.DOTALL)
_BEYOND_ASCII: Final = re.compile("[^\x00-\x7f]+")
_LONE_BACKSLASH: Final = re.compile(
    rb"\\\\|\\S\\.|\\P[A-I]\\|\\X\\[0-9A-Fa-f]{2}"
    rb"|\\X2\\(?:[0-9A-Fa-f]{4})+\\X0\\|\\X4\\(?:[0-9A-Fa-f]{8})+\\X0\\|(\\)"
)
"""The control directives of ISO 10303-21, 6.4.3; what is left of backslashes is in a group."""
_FAMILIES: Final = (("IFC4X3", "IFC4X3_ADD2"), ("IFC2X3", "IFC2X3"), ("IFC4", "IFC4"))
_WORKS: Final = ("ADD1", "ADD2", "ADD2TC1", "TC1", "TC2", "TC3", "FINAL", "RC4", "ADD1TC1", "COORDINATION", "RV", "DTV")
"""Addenda, corrigenda and views of a schema in spellings that files have. They keep its entities; drafts do not."""
_OTHERS: Final = {"IFC2X_FINAL": "IFC2X3"}


def mended(path: Path, data: bytes) -> tuple[bytes, tuple[str, ...]]:
    """The file's text and what was changed in it. Raises ReadError where it is no such file."""
    said: list[str] = []
    data = _as_bytes_of_characters(path, data, said)
    stripped = data.lstrip()
    led = _COMMENTS.match(stripped)
    if led:
        stripped = stripped[led.end() :]
        said.append("a comment before the first line was left out")
    if not stripped[:13].upper().startswith(b"ISO-10303-21"):
        _refuse(path, stripped)
    if len(stripped) != len(data) and not led:
        said.append("blank lines before the first line were left out")
    data = stripped
    head = data[:HEADER_BYTES]
    if b"\n" not in head and b"\r" in head:
        data = data.replace(b"\r", b"\n")
        said.append("its lines end with carriage returns alone")
    data = _header(data, said)
    if not data.isascii():
        data = _escaped(data, said)
    return data, tuple(said)


def without_lone_backslashes(data: bytes) -> bytes:
    """Backslashes that begin no control directive doubled, as the standard writes a backslash."""
    return _LONE_BACKSLASH.sub(lambda found: b"\\\\" if found.group(1) else found.group(), data)


def schema_said(data: bytes) -> str:
    """The schema that the header names, for a sentence."""
    found = FILE_SCHEMA.search(data[:HEADER_BYTES])
    return found.group(1).decode("latin-1") if found else "no schema"


def meant(spelling: str) -> str:
    """The schema the library knows for a spelling; the spelling where none is meant."""
    known = {name.upper() for name in ifcopenshell.ifcopenshell_wrapper.schema_names()}
    upper = spelling.upper()
    if upper in known:
        return upper
    if upper in _OTHERS:
        return _OTHERS[upper]
    plain = re.sub(r"[^A-Z0-9]", "", upper)
    for family, schema in _FAMILIES:
        if plain == family or (plain.startswith(family) and plain[len(family) :] in _WORKS):
            return schema
    return spelling


def _as_bytes_of_characters(path: Path, data: bytes, said: list[str]) -> bytes:
    """UTF-8 without its mark, two-byte text as UTF-8."""
    if data[:3] == b"\xef\xbb\xbf":
        said.append("a byte order mark before the first line was left out")
        return data[3:]
    wide = {b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16", b"I\x00": "utf-16-le", b"\x00I": "utf-16-be"}.get(data[:2])
    if wide:
        try:
            data = data.decode(wide).encode("utf-8")
        except UnicodeError:
            raise ReadError(f"{path.name} is not plain text as IFC asks. Have it written again.") from None
        said.append("its text was in two-byte characters")
    return data


def _refuse(path: Path, data: bytes) -> None:
    if data[:5] == b"<?xml" or data[:1] in (b"<", b"{"):
        raise ReadError(f"{path.name} is not an IFC file in the STEP format (.ifc). Have the model saved as .ifc.")
    raise ReadError(
        f"{path.name} is not an IFC file: it does not begin with ISO-10303-21. Have the model saved as .ifc."
    )


def _header(data: bytes, said: list[str]) -> bytes:
    """Keywords in capitals and the schema's name as the library knows it."""
    end = re.search(rb"\bDATA\s*;", data[:HEADER_BYTES], re.IGNORECASE)
    cut = end.end() if end else min(len(data), HEADER_BYTES)
    head = data[:cut]
    for keyword in _KEYWORDS:
        head = re.sub(rb"(?<![\w'])" + keyword + rb"(?=\s*[(;])", keyword, head, flags=re.IGNORECASE)
    found = FILE_SCHEMA.search(head)
    if found:
        spelling = found.group(1).decode("latin-1").strip()
        wanted = meant(spelling)
        head = head[: found.start()] + f"FILE_SCHEMA(('{wanted}'))".encode("latin-1") + head[found.end() :]
        if wanted.upper() != spelling.upper():
            said.append(f"its schema {spelling} was read as {wanted}")
    return data if head == data[:cut] else head + data[cut:]


def _escaped(data: bytes, said: list[str]) -> bytes:
    """Letters beyond ASCII as the escapes of ISO 10303-21, 6.4.3."""
    try:
        text, coding = data.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        text, coding = data.decode("cp1252", errors="replace"), "Windows-1252, a guess"
    said.append(f"letters stand in it as they are, not escaped, and were read as {coding}")
    return _BEYOND_ASCII.sub(_directive, text).encode("ascii")


def _directive(found: re.Match[str]) -> str:
    letters = found.group()
    if all(ord(letter) <= 0xFFFF for letter in letters):
        return f"\\X2\\{letters.encode('utf-16-be').hex().upper()}\\X0\\"
    return f"\\X4\\{letters.encode('utf-32-be').hex().upper()}\\X0\\"
