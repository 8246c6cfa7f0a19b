"""The language of what is printed: English in the code, other languages from message catalogues beside this file.

A text is looked up as it stands in the code, before its fields are filled in. A text that a catalogue lacks is
printed in English, so that nothing is ever missing; the tests hold every catalogue complete.

say      at once, in the language spoken, for what is composed on a page
phrase   later: English text that remembers how it was made, for what a stage words and a page or a table shows
said     a phrase in the language spoken; any other text as it stands
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Final

ENGLISH: Final = "en"
LANGUAGES: Final = ("en", "de")
COMMA: Final = ("de",)
"""Languages whose decimal sign is a comma."""

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
    """``text`` in the language spoken, its ``{fields}`` filled in. ``text`` is a literal, so that tests find it.

    Fields that are phrases are said in the same language.
    """
    translated = messages(_LANGUAGE.get()).get(text, text)
    return translated.format(**{name: said(value) for name, value in fields.items()}) if fields else translated


class Phrase(str):
    """An English text that can be said in another language: to tables, files and comparisons it is plain text."""

    template: str
    fields: Mapping[str, object]
    capital: bool = False

    def said(self) -> str:
        """The text in the language spoken."""
        text = say(self.template, **self.fields)
        return text[:1].upper() + text[1:] if self.capital else text


class Figure(str):
    """A number as print, with a dot; said with the decimal sign of the language spoken."""


def phrase(text: str, **fields: object) -> Phrase:
    """``text`` in English, its ``{fields}`` filled in, to be said later. ``text`` is a literal, so that tests find it.

    Fields may be phrases and figures.
    """
    made = Phrase(text.format(**fields) if fields else text)
    made.template, made.fields = text, fields
    return made


def joined(sign: str, texts: Sequence[str]) -> Phrase:
    """Phrases after each other, with ``sign`` between them."""
    return phrase(sign.join(f"{{part{k}}}" for k in range(len(texts))), **{f"part{k}": t for k, t in enumerate(texts)})


def sentence(clause: str) -> Phrase:
    """A clause as a sentence of its own: a capital first, a full stop last."""
    made = Phrase(f"{clause[:1].upper()}{clause[1:]}.")
    made.template, made.fields, made.capital = "{clause}.", {"clause": clause}, True
    return made


def later(text: str) -> str:
    """``text`` itself: a literal that is kept in a table and said, or made a phrase, later; so that tests find it."""
    return text


def said(text: object) -> object:
    """A phrase or a figure in the language spoken; anything else as it stands."""
    if isinstance(text, Phrase):
        return text.said()
    return decimal(text) if isinstance(text, Figure) else text


def spoken(text: str) -> str:
    """A text in the language spoken where it is a phrase, else as it stands."""
    return str(said(text))


def decimal(figure: str) -> str:
    """A number written with a dot, with the decimal sign of the language spoken (DIN 1333: a comma in German)."""
    return figure.replace(".", ",") if _LANGUAGE.get() in COMMA else figure
