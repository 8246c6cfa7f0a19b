"""Model files inside archives: .ifczip and gzip, told by their first bytes whatever they are called."""

from __future__ import annotations

import gzip
import io
import zipfile
import zlib
from pathlib import Path, PurePosixPath
from typing import Final

from takeoff.ifc.context import ReadError

ZIP: Final = b"PK\x03\x04"
GZIP: Final = b"\x1f\x8b"
LAYERS: Final = 3
"""Archives in archives that are opened: a file packed by one program and sent by another."""
DAMAGE: Final = (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError, EOFError, zlib.error)
"""What the standard library raises for a damaged archive, an unknown way of packing (NotImplementedError: its word for
it) and a password (RuntimeError)."""


def unpacked(path: Path, data: bytes) -> bytes:
    """The model file in ``data``, which may be packed; raises ReadError where it is damaged or holds several."""
    for _ in range(LAYERS):
        if data[:2] == GZIP:
            data = _gunzipped(path, data)
        elif data[:4] == ZIP or (path.suffix.lower() == ".ifczip" and data[:2] == b"PK"):
            data = _unzipped(path, data)
        else:
            break
    return data


def model_name(path: Path) -> str:
    """The file's name without the endings of a model and of what packs it."""
    while path.suffix.lower() in (".ifc", ".ifczip", ".gz", ".zip") and path.stem:
        path = path.with_suffix("")
    return path.name


def _gunzipped(path: Path, data: bytes) -> bytes:
    try:
        return gzip.decompress(data)
    except DAMAGE as error:
        raise ReadError(f"{path.name} is a damaged or cut short archive ({error}). Fetch it again.") from error


def _unzipped(path: Path, data: bytes) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            held = [name for name in archive.namelist() if not _is_aside(name)]
            names = [name for name in held if name.lower().endswith((".ifc", ".ifc.gz"))]
            if not names and len(held) == 1:  # a model under another ending: its first line decides
                names = held
            if len(names) != 1:
                what = "no .ifc file" if not names else f"{len(names)} .ifc files"
                raise ReadError(f"{path.name} holds {what}. Give one model: unpack it and name the .ifc file.")
            return archive.read(names[0])
    except DAMAGE as error:
        raise ReadError(f"{path.name} is a damaged or locked archive ({error}). Fetch it again.") from error


def _is_aside(name: str) -> bool:
    """Folders, and what file managers put beside the files of an archive: ``__MACOSX/``, ``._*``, ``.DS_Store``."""
    parts = PurePosixPath(name.replace("\\", "/")).parts
    return not parts or name.endswith("/") or "__MACOSX" in parts or parts[-1].startswith(".")
