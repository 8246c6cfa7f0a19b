"""Opening a model file: .ifc and .ifczip, with what real files get wrong mended in memory.

Every refusal is a ReadError whose text says what to do; every repair is a query.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from pathlib import Path
from typing import Any

import ifcopenshell

from takeoff.ifc.context import Context, ReadError

_SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
_HEADER_BYTES = 65536
_FILE_SCHEMA = re.compile(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']*)'", re.IGNORECASE)
_BARE_SCHEMAS = {
    "IFC4X3": "IFC4X3_ADD2",
    "IFC4X3_FINAL": "IFC4X3_ADD2",
    "IFC4X3_RC4": "IFC4X3_ADD2",
    "IFC4_ADD1": "IFC4",
    "IFC4_ADD2": "IFC4",
    "IFC4_ADD2_TC1": "IFC4",
    "IFC2X_FINAL": "IFC2X3",
    "IFC2X3_TC1": "IFC2X3",
    "IFC2X3_FINAL": "IFC2X3",
}
"""Spellings found in files that the library does not know, and the schema meant."""


def open_model(path: Path) -> Context:
    """Open a model file. Raises ReadError with a sentence for whatever cannot be read."""
    data = _bytes(path)
    checksum = hashlib.sha256(data).hexdigest()
    stored = data
    if path.suffix.lower() == ".ifczip" or data[:4] == b"PK\x03\x04":
        data = _unzipped(path, data)
    data, mended = _mend(path, data)
    file = _parse(path, data, as_stored=data is stored)
    if file.schema not in _SCHEMAS:
        raise ReadError(
            f"{path.name} is written in {file.schema}, which is not read. Have it written again in IFC4 or IFC2x3."
        )
    date, application = _header(file)
    return Context(
        file,
        path.stem,
        checksum=checksum,
        date=date,
        application=application,
        mended=mended,
    )


def _bytes(path: Path) -> bytes:
    if path.is_dir():
        raise ReadError(f"{path} is a folder. Give the name of the .ifc file in it.")
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise ReadError(f"There is no file {path}. Check the name and the folder.") from None
    except OSError as error:
        raise ReadError(f"{path} cannot be read ({error.strerror or error}). Check that it may be opened.") from error
    if not data.strip():
        raise ReadError(f"{path.name} is empty. Fetch the model again.")
    return data


def _unzipped(path: Path, data: bytes) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = [name for name in archive.namelist() if name.lower().endswith(".ifc")]
            if len(names) != 1:
                what = "no .ifc file" if not names else f"{len(names)} .ifc files"
                raise ReadError(f"{path.name} holds {what}. Give one model: unpack it and name the .ifc file.")
            return archive.read(names[0])
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError, EOFError) as error:
        raise ReadError(f"{path.name} is a damaged or locked archive ({error}). Fetch it again.") from error


def _mend(path: Path, data: bytes) -> tuple[bytes, tuple[str, ...]]:
    """The file's text as the library accepts it, and what was changed."""
    mended: list[str] = []
    if data[:3] == b"\xef\xbb\xbf":
        data = data[3:]
        mended.append("a byte order mark before the first line was left out")
    elif data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            data = data.decode("utf-16").encode("latin-1")
        except UnicodeError:
            raise ReadError(f"{path.name} is not plain text as IFC asks. Have it written again.") from None
        mended.append("its text was in two-byte characters")
    stripped = data.lstrip()
    if not stripped[:13].upper().startswith(b"ISO-10303-21"):
        if stripped[:5] == b"<?xml" or stripped[:1] in (b"<", b"{"):
            raise ReadError(f"{path.name} is not an IFC file in the STEP format (.ifc). Have the model saved as .ifc.")
        raise ReadError(f"{path.name} is not an IFC file: it does not begin with ISO-10303-21.")
    if len(stripped) != len(data):
        data = stripped
        mended.append("blank lines before the first line were left out")
    head = data[:_HEADER_BYTES]
    if b"\n" not in head and b"\r" in head:
        data = data.replace(b"\r", b"\n")
        mended.append("its lines end with carriage returns alone")
    found = _FILE_SCHEMA.search(data[:_HEADER_BYTES])
    if found:
        spelling = found.group(1).decode("latin-1").strip()
        meant = _meant(spelling)
        if meant != found.group(1).decode("latin-1"):
            data = data[: found.start(1)] + meant.encode() + data[found.end(1) :]
            if meant.upper() != spelling.upper():
                mended.append(f"its schema {spelling} was read as {meant}")
    return data, tuple(mended)


def _meant(spelling: str) -> str:
    """The schema the library knows for a spelling."""
    upper = spelling.upper()
    known = {name.upper() for name in ifcopenshell.ifcopenshell_wrapper.schema_names()}
    if upper in known:
        return upper
    return _BARE_SCHEMAS.get(upper, spelling)


def _parse(path: Path, data: bytes, *, as_stored: bool) -> Any:
    """The parsed file; ``as_stored``: the bytes are those of the path."""
    tail = data[-4096:].rstrip(b" \t\r\n\x00\x1a")
    if not tail.upper().endswith(b"END-ISO-10303-21;"):
        raise ReadError(f"{path.name} is cut short: its last line is missing. Fetch or write the model again.")
    try:
        if as_stored:
            file = ifcopenshell.open(path, format=".ifc")
        else:
            file = ifcopenshell.file.from_string(_decoded(data))
    except (RuntimeError, ValueError, OSError, ifcopenshell.Error) as error:
        found = _FILE_SCHEMA.search(data[:_HEADER_BYTES])
        schema = found.group(1).decode("latin-1") if found else "no schema"
        raise ReadError(
            f"{path.name} cannot be read as IFC ({schema}): {_first_line(error)}. "
            "Have the model written again in IFC4 or IFC2x3."
        ) from error
    if file is None:
        raise ReadError(f"{path.name} cannot be read as IFC. Have the model written again.")
    return file


def _decoded(data: bytes) -> str:
    """The text of a file; IFC is ASCII with escapes, but files hold UTF-8 or Latin-1 as well."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _first_line(error: Exception) -> str:
    return str(error).strip().splitlines()[0].rstrip(".") if str(error).strip() else type(error).__name__


def _header(file: Any) -> tuple[str, str]:
    """Date and authoring application of the file header and the model."""
    date = str(file.header.file_name.time_stamp or "").strip()
    if not re.match(r"\d{4}-\d\d-\d\d", date):
        date = ""
    names = sorted(
        {
            " ".join(str(part) for part in (app.ApplicationFullName, app.Version) if part)
            for app in file.by_type("IfcApplication")
        }
    )
    return date, ", ".join(name for name in names if name)
