"""The language of what is printed: English in the code, other languages from message catalogues beside this file.

A text is looked up as it stands in the code, before its fields are filled in. A text that a catalogue lacks is
printed in English, so that nothing is ever missing; the tests hold every catalogue complete.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Final

ENGLISH: Final = "en"
LANGUAGES: Final = ("en", "de")

_LANGUAGE: ContextVar[str] = ContextVar("language", default=ENGLISH)


def catalogue(language: str) -> Path:
    """The gettext catalogue (.po) of a language."""
    return Path(__file__).parent / f"{language}.po"


@cache
def messages(language: str) -> Mapping[str, str]:
    """English text -> text in ``language``; those not translated are left out."""
    if language == ENGLISH:
        return {}
    import polib

    return {entry.msgid: entry.msgstr for entry in polib.pofile(str(catalogue(language))) if entry.msgstr}


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """What is composed within is in ``language``, one of LANGUAGES."""
    before = _LANGUAGE.set(language)
    try:
        yield
    finally:
        _LANGUAGE.reset(before)


def say(text: str, **fields: object) -> str:
    """``text`` in the language spoken, its ``{fields}`` filled in. ``text`` is a literal, so that tests find it."""
    translated = messages(_LANGUAGE.get()).get(text, text)
    return translated.format(**fields) if fields else translated
