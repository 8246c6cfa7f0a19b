"""The settings file: TOML with one table a group of settings.py.

:func:`default_text` writes one with every option and its explanation; :func:`load` reads
one and says in sentences what is wrong with it.
"""

from __future__ import annotations

import dataclasses
import difflib
import math
import re
import textwrap
import tomllib
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from takeoff.settings import Option, Settings, bar_faults, tag_faults


class SettingsError(Exception):
    """A settings file that cannot be used. ``sentences`` say what is wrong and what to do, one each."""

    def __init__(self, sentences: tuple[str, ...]) -> None:
        super().__init__("\n".join(sentences))
        self.sentences = sentences


@dataclass(frozen=True, slots=True)
class Entry:
    """An option in its place: ``group.name``, its type (``float``, ``tuple[float, ...]`` ...) and default."""

    group: str
    name: str
    kind: Any
    option: Option
    default: Any

    @property
    def key(self) -> str:
        return f"{self.group}.{self.name}"


def entries() -> Iterator[Entry]:
    """Every option there is, in the order of the default file."""
    defaults = Settings()
    for group in dataclasses.fields(Settings):
        table = getattr(defaults, group.name)
        for name, hint in typing.get_type_hints(type(table), include_extras=True).items():
            kind, option = typing.get_args(hint)[:2]
            yield Entry(group.name, name, kind, option, getattr(table, name))


def default_text() -> str:
    """The default settings file: every option with its default, what it means and what it may hold."""
    lines = [
        "# Settings of the shop. Leave out what should stay as it is: these are the defaults.",
        "# Lengths in mm, masses in kg.",
    ]
    group = ""
    for entry in entries():
        if entry.group != group:
            group = entry.group
            about = type(getattr(Settings(), group)).__doc__ or ""
            lines += ["", f"[{group}]", f"# {about.strip().splitlines()[0]}"]
        lines += ["", *textwrap.wrap(entry.option.about, 98, initial_indent="# ", subsequent_indent="# ")]
        allowed = _allowed(entry)
        if allowed:
            lines.append(f"# Allowed: {allowed}.")
        lines.append(f"{entry.name} = {_toml(entry.default)}")
    return "\n".join(lines) + "\n"


def load(path: Path) -> Settings:
    """The settings of a TOML file, over the defaults.

    Raises SettingsError naming every fault of the file, each with its key, what is allowed
    and the remedy. Unknown keys are faults: a misspelt option would otherwise change nothing
    and nobody would know.
    """
    import cattrs

    try:
        # utf-8-sig: editors of one platform put a byte order mark in front, which TOML refuses.
        data = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise SettingsError(
            (f"The settings file {path} cannot be read: {reason}. Give the path of a TOML file.",)
        ) from error
    except UnicodeDecodeError as error:
        raise SettingsError(
            (f"The settings file {path} is not UTF-8 text. Save it as UTF-8 in a text editor.",)
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(
            (
                f"The settings file {path} is not valid TOML: {error}. Mend that line, or start from "
                "the file that `takeoff settings` prints.",
            )
        ) from error
    faults = tuple(f"Settings file {path}: {fault}" for fault in _faults(data))
    if faults:
        raise SettingsError(faults)
    settings = cattrs.structure(_over_defaults(data), Settings)
    together = (*bar_faults(settings.bars), *tag_faults(settings.tags, settings.documents.paper))
    faults = tuple(f"Settings file {path}: {fault}" for fault in together)
    if faults:
        raise SettingsError(faults)
    return settings


def as_dict(settings: Settings) -> dict[str, dict[str, Any]]:
    """The settings as plain tables of numbers, texts and lists, for a summary."""
    plain: dict[str, dict[str, Any]] = {}
    for entry in entries():
        value = getattr(getattr(settings, entry.group), entry.name)
        plain.setdefault(entry.group, {})[entry.name] = list(value) if isinstance(value, tuple) else value
    return plain


def _over_defaults(data: Mapping[str, Any]) -> dict[str, Any]:
    """The file's tables, where an option that is a table itself is laid over its default."""
    merged: dict[str, Any] = {group: dict(table) for group, table in data.items()}
    for entry in entries():
        table = merged.get(entry.group, {})
        if isinstance(entry.default, dict) and entry.name in table:
            table[entry.name] = {**entry.default, **table[entry.name]}
    return merged


def _faults(data: Mapping[str, Any]) -> Iterator[str]:
    known: dict[str, dict[str, Entry]] = {}
    for entry in entries():
        known.setdefault(entry.group, {})[entry.name] = entry
    everywhere = [entry.key for group in known.values() for entry in group.values()]
    for group, table in data.items():
        if group not in known:
            # An option written above the first [group] is the commonest slip.
            homes = [key for key in everywhere if key.split(".")[1] == group]
            yield f"`{group}` is not known. {_nearest(group, list(known), homes)}"
        elif not isinstance(table, dict):
            yield f"`{group}` must be a table: write [{group}] on a line and its options below it."
        else:
            for name, value in table.items():
                if name in known[group]:
                    yield from _value_faults(known[group][name], value)
                else:
                    homes = [key for key in everywhere if key.split(".")[1] == name]
                    yield f"`{group}.{name}` is not known. {_nearest(name, list(known[group]), homes)}"


def _nearest(name: str, names: list[str], homes: list[str]) -> str:
    if homes:
        group, option = homes[0].split(".")
        return f"`{option}` belongs under [{group}]."
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
    if close:
        return f"Did you mean `{close[0]}`?"
    return f"Known here: {', '.join(names)}."


def _value_faults(entry: Entry, value: Any) -> Iterator[str]:
    remedy = _allowed(entry)
    origin = typing.get_origin(entry.kind) or entry.kind
    parts: list[Any]
    item: Any
    if origin is tuple:
        if not isinstance(value, list):
            yield f"`{entry.key}` must be a list of numbers as [20, 25.5], not {_shown(value)}."
            return
        parts, item = value, float
    elif origin is dict:
        if not isinstance(value, dict):
            example = _toml(entry.default or {"M16": 1.5})
            yield f"`{entry.key}` must be a table as {example}, not {_shown(value)}."
            return
        parts, item = list(value.values()), typing.get_args(entry.kind)[1]
        yield from _key_faults(entry, value)
    else:
        parts, item = [value], entry.kind
    for part in parts:
        wrong = _kind_fault(item, part)
        if not wrong and item in (int, float) and not entry.option.low <= part <= entry.option.high:
            wrong = f"must lie {remedy}"
        elif not wrong and entry.option.choices and part not in entry.option.choices:
            wrong = f"must be {remedy}"
        elif not wrong and entry.option.check and (item is str or origin is not dict):
            wrong = entry.option.check(part)
        if wrong:
            yield f"`{entry.key}` {wrong}, not {_shown(part)}."


def _key_faults(entry: Entry, value: Mapping[str, Any]) -> Iterator[str]:
    for key in value:
        if entry.default and key not in entry.default:
            yield f"`{entry.key}.{key}` is not known. {_nearest(key, list(entry.default), [])}"
        elif not entry.default and entry.option.check:
            wrong = entry.option.check(key)
            if wrong:
                yield f"`{entry.key}` {wrong}, not {_shown(key)}."


def _kind_fault(kind: Any, value: Any) -> str:
    # bool is an int to Python, and neither to a person.
    if kind is bool:
        return "" if isinstance(value, bool) else "must be true or false"
    if kind is str:
        return "" if isinstance(value, str) else 'must be text in quotes, as "..."'
    if kind is int:
        return "" if isinstance(value, int) and not isinstance(value, bool) else "must be a whole number"
    number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    return "" if number else "must be a number"


def _allowed(entry: Entry) -> str:
    """What an option may hold, as words; empty where its example says enough."""
    option = entry.option
    if option.choices:
        return " or ".join(f'"{choice}"' for choice in option.choices)
    if math.isfinite(option.low) and math.isfinite(option.high):
        return f"between {option.low:g} and {option.high:.10g}"
    return ""


def _shown(value: Any) -> str:
    text = _toml(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


_ESCAPES: Final = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def _toml(value: Any) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + "".join(_ESCAPES.get(c, c) for c in value) + '"'
    if isinstance(value, tuple | list):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_toml_key(key)} = {_toml(item)}" for key, item in value.items()) + "}"
    return str(value)


def _toml_key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _toml(key)
