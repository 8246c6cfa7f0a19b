"""Opening a model file: .ifc, .ifczip and gzip, with what real files get wrong mended in memory.

Every refusal is a ReadError whose text says what to do; every repair is a query, and so is all that the library
leaves out of a damaged file with no more than a line in its log.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path
from typing import Any, Final

import ifcopenshell

from takeoff.ifc.archives import model_name, unpacked
from takeoff.ifc.context import Context, ReadError
from takeoff.ifc.mending import mended, schema_said, without_lone_backslashes
from takeoff.queries import CHECK, HOLD, Query, query, register

FILE_DAMAGED = register(
    "file-damaged",
    HOLD,
    "The model file is damaged: {0}. Parts of the model may be missing from these lists.",
    "Have the model written or sent again before anything is cut; compare the number of parts with the designer's.",
)
FILE_ATTRIBUTES = register(
    "file-attributes",
    CHECK,
    "{0} entities of the model file have more or fewer attributes than its schema gives them (the first is {1}).",
    "Have the model written again in the schema that its header names.",
)

_SCHEMAS: Final = ("IFC2X3", "IFC4", "IFC4X3")
_END: Final = re.compile(rb"END-ISO-10303-21\s*;", re.IGNORECASE)
_TAIL_BYTES: Final = 4096
_LAST_BYTES: Final = 65536
_INSTANCE: Final = re.compile(rb"(?m)^[ \t]*(#\d+)\s*=")
_NAMED: Final = 5
"""Instances that a query names before it stops."""
_LOST: Final = (
    (r"Instance reference (#\d+) used by instance #\d+", "entities that others need are not in it ({0})"),
    (r"Overwriting instance with name (#\d+)", "entities have one and the same number ({0})"),
    (r"Entity with name '([^']*)' not found in schema", "its schema knows no {0}"),
)
_FAULT: Final = re.compile(r"\] ((?:Unexpected|Expected) '[^\n]*)")
_NO_UNIT: Final = re.compile(r"An enumeration literal '([^']*)' is not valid for type 'IfcSI\w+'")
_MISCOUNTED: Final = re.compile(r"Expected (\d+) attribute values, found (\d+) for instance (#\d+)")
_SWALLOWED: Final = 4
"""Attributes too many from which the entity has swallowed the next one, whose own (four or more) it then has."""


def open_model(path: Path, length_unit: str = "") -> Context:
    """Open a model file; ``length_unit`` is the unit of one that states none, empty for not known.

    Raises ReadError with a sentence for whatever cannot be read.
    """
    stored = _bytes(path)
    data, said = mended(path, unpacked(path, stored))
    before = _log()
    file, changed = _parse(path, data, as_stored=data == stored)
    log = _log().removeprefix(before)
    if unknown := _NO_UNIT.search(log):
        raise ReadError(
            f"{path.name} has a unit that the SI does not know: {unknown.group(1)}. Have the model written again."
        )
    if file.schema not in _SCHEMAS:
        raise ReadError(
            f"{path.name} is written in {file.schema}, which is not read. Have it written again in IFC4 or IFC2x3."
        )
    date, application = _header(file)
    ctx = Context(
        file,
        model_name(path),
        checksum=hashlib.sha256(stored).hexdigest(),
        date=date,
        application=application,
        mended=(*said, *changed),
        length_unit=length_unit,
    )
    ctx.queries += _damage(log, data)
    return ctx


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


def _parse(path: Path, data: bytes, *, as_stored: bool) -> tuple[Any, tuple[str, ...]]:
    """The parsed file, and what had to be changed for it; ``as_stored``: the bytes are those of the path."""
    if not _END.search(data[-_TAIL_BYTES:]):
        raise ReadError(f"{path.name} is cut short: its last line is missing. Fetch or write the model again.")
    try:
        if as_stored:
            return ifcopenshell.open(path, format=".ifc"), ()
        return _from_text(data), ()
    except (RuntimeError, ValueError, OSError, ifcopenshell.Error) as error:
        mended_text = without_lone_backslashes(data)
        if mended_text != data:
            try:
                return _from_text(mended_text), ("backslashes in its texts were not doubled",)
            except (RuntimeError, ValueError, OSError, ifcopenshell.Error):
                pass  # the first error says more: it is about the file as it is
        raise ReadError(
            f"{path.name} cannot be read as IFC ({schema_said(data)}): {_first_line(error)}. "
            "Have the model written again in IFC4 or IFC2x3."
        ) from error


def _from_text(data: bytes) -> Any:
    """The file of a text. The library stops at a fault in it with no more than a line in its log."""
    before = _log()
    file = ifcopenshell.file.from_string(data.decode("ascii"))
    fault = _FAULT.search(_log().removeprefix(before))
    if file is None or fault:
        raise ValueError(f"its text has a fault: {fault.group(1)}" if fault else "its text makes no file")
    return file


def _log() -> str:
    library: Any = ifcopenshell
    return str(library.get_log())


def _damage(log: str, data: bytes) -> list[Query]:
    """What the library left out of the file, or could not make sense of, by its log.

    Programs leave out attributes at the end of an entity; of the last entity a file that was cut short does.
    """
    if not log:
        return []
    asked = []
    phrases = [phrase.format(_some(found)) for text, phrase in _LOST if (found := set(re.findall(text, log)))]
    broken: set[str] = set()
    odd: set[str] = set()
    names = _INSTANCE.findall(data[-_LAST_BYTES:])
    last = names[-1].decode() if names else ""
    for wanted, had, name in _MISCOUNTED.findall(log):
        surplus = int(had) - int(wanted)
        lost = name == last or surplus >= _SWALLOWED or (surplus > 0 and _has_whole_number(data, name))
        (broken if lost else odd).add(name)
    if broken:
        phrases.append(f"entities are cut short, run into the next one or have a comma for the point ({_some(broken)})")
    if phrases:
        asked.append(query(FILE_DAMAGED, "; ".join(phrases)))
    if odd:
        asked.append(query(FILE_ATTRIBUTES, len(odd), min(odd, key=_in_order)))
    return asked


def _has_whole_number(data: bytes, name: str) -> bool:
    """Whether an entity holds a number without a point: with an attribute too many, ``12,5`` for ``12.5``."""
    found = re.search(rb"(?m)^[ \t]*" + name.encode() + rb"\s*=([^;]*);", data)
    return bool(found and re.search(rb"[(,]\s*-?\d+\s*[,)]", found.group(1)))


def _some(names: set[str]) -> str:
    ordered = sorted(names, key=_in_order)
    more = f" and {len(ordered) - _NAMED} more" if len(ordered) > _NAMED else ""
    return ", ".join(ordered[:_NAMED]) + more


def _in_order(name: str) -> tuple[int, str]:
    return (int(name[1:]) if name.startswith("#") else 0, name)


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
