"""The catalogue is whole, and a German run prints German: every text, the decimal comma, tables as ever."""

import ast
import string
from functools import lru_cache
from pathlib import Path

import polib
import pytest
from demo_jobs import MAST, TRESTLE, demo

import takeoff
from takeoff.settings import DocumentSettings, Settings
from takeoff.sheets import bolt_list, cut_and_punch_pages, first_piece, measure, packing_list, weight_list
from takeoff.sheets.page import Text
from takeoff.words import Figure, Phrase, catalogue, joined, phrase, said, say, sentence, speaking, spoken

ROOT = Path(takeoff.__file__).parent
GERMAN = Settings(documents=DocumentSettings(language="de"))
SAYING = {"say", "phrase", "later"}
NO_GERMAN = {
    "the", "holes", "bolts", "marks", "pieces", "heel", "leg", "washer", "notch", "shear", "drill", "ream", "gauge",
    "grade", "length", "weight", "assembly", "erection", "bundle", "nuts", "washers", "plies", "quantity", "galvanised",
}  # fmt: skip
"""Common English words of the trade that are no German ones."""


def called(tree):
    """Literals of a module that are said, now or later."""
    names = {
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module == "takeoff.words"
        for alias in node.names
    }
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in names & SAYING):
            continue
        if isinstance(node.args[0], ast.Constant):
            yield node.args[0].value


def in_code():
    return {text for path in ROOT.rglob("*.py") for text in called(ast.parse(path.read_text(encoding="utf-8")))}


def entries():
    return {entry.msgid: entry.msgstr for entry in polib.pofile(str(catalogue("de")))}


def fields(text):
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def test_every_text_is_in_the_catalogue_and_none_is_left_over():
    found = in_code()
    assert len(found) > 500
    assert found - entries().keys() == set()
    assert entries().keys() - found == set()


def test_translations_keep_the_fields():
    assert [msgid for msgid, msgstr in entries().items() if not msgstr or fields(msgid) != fields(msgstr)] == []


def test_a_phrase_is_english_text_until_it_is_said():
    made = phrase("holes nearer to the end than {least} mm", least=Figure("12.5"))
    assert made == "holes nearer to the end than 12.5 mm"
    assert isinstance(made, Phrase)
    with speaking("de"):
        assert spoken(made) == "Löcher liegen näher am Ende als 12,5 mm"
        assert spoken(sentence(made)).endswith("mm.")
        assert spoken(joined("; ", [phrase("1 hole"), "A1"])) == "1 Loch; A1"
        assert say("Rules: {rules}", rules=phrase("1 hole")) == "Regeln: 1 Loch"
    assert spoken(made) == made
    assert said(Figure("1.5")) == "1.5"


def test_data_is_never_translated():
    with speaking("de"):
        assert spoken("holes") == "holes"
        assert say("revision {revision}", revision="1.2") == "Revision 1.2"


def test_figures_have_the_decimal_sign_of_the_language():
    assert measure.length(1845.2) == "1845.2"
    with speaking("de"):
        assert (measure.length(1845.2), measure.mass(6.5), measure.figure(2.0, 1)) == ("1845,2", "6,50", "2,0")


@lru_cache
def pages(name):
    job, dispatch = demo(name)
    with speaking("de"), measure.measuring(GERMAN.documents):
        return [
            *cut_and_punch_pages.compose(job, GERMAN),
            *bolt_list.compose(job, GERMAN, dispatch),
            *weight_list.compose(job, GERMAN, dispatch),
            *first_piece.compose(job, GERMAN, dispatch.look_alikes),
            *packing_list.compose(job, GERMAN, dispatch),
        ]


@pytest.mark.parametrize("name", [MAST, TRESTLE])
def test_no_english_word_is_left_on_german_pages(name):
    job, _ = demo(name)
    asked = " ".join(f"{query.message} {query.remedy}" for query in job.queries)
    found = set()
    for page in pages(name):
        for item in page.items:
            # queries are in English, whatever the language
            if isinstance(item, Text) and item.text.split(": ")[-1] not in asked and item.text not in asked:
                words = {word.strip(string.punctuation) for word in item.text.split()}
                if "ANGENOMMEN" not in words and "PRÜFEN" not in words:
                    found |= {(word, item.text) for word in words & NO_GERMAN}
    assert found == set()


@pytest.mark.parametrize("name", [MAST, TRESTLE])
def test_german_texts_stay_on_the_page(name):
    outside = []
    for page in pages(name):
        for item in page.items:
            if (
                isinstance(item, Text)
                and item.anchor == "start"
                and not item.angle
                and item.x + item.width > page.width
            ):
                outside.append(item.text)
    assert outside == []
