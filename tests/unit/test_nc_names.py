"""Marks as ASCII texts and file names: unique, short enough, safe on every system, the same in any order."""

import ntpath
import posixpath
import re

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from takeoff.exchange.ascii_text import LONGEST_FILE_NAME, file_names, plain, shortened, unique_texts

# Names of devices and signs that are not allowed in names there: "Naming Files, Paths, and Namespaces", the file
# system documentation of the system concerned.
RESERVED = {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(10)), *(f"lpt{n}" for n in range(10))}
FORBIDDEN = set('<>:"/\\|?*')

marks = st.one_of(
    st.text(max_size=30),
    st.text(alphabet="aAbB.-_ /\\1é", max_size=8),
    st.text(alphabet="xX", min_size=60, max_size=240),
    st.sampled_from(["CON", "con.nc", "..", ".", "", "../../etc/passwd", "C:\\x", "A1", "a1", "A1 ", "A\n1", "\ud800"]),
)


@settings(max_examples=300, deadline=None)
@given(st.lists(marks, max_size=12))
@example(["../../etc/passwd", "..", ".", "", "/", "\\\\server\\share", "nul", "NUL.txt", "COM1", "lpt9.", "-o", "~"])
@example(["COM¹", "conin$", "aux.x.nc", "NUL .a", "a:b", "a\u202eb", "CON ", " con"])
@example(["A1", "a1", "Á1", "A1 ", "A1."])
@example(["é" * 200, "e" * 200, "E" * 200])
def test_file_names_are_safe_and_unique_on_every_system(names):
    made = file_names(names, ".nc")
    assert set(made) == set(names)
    assert len({name.casefold() for name in made.values()}) == len(made)
    for name in made.values():
        stem = name.removesuffix(".nc")
        assert name.endswith(".nc")
        assert 0 < len(stem) <= LONGEST_FILE_NAME
        assert name.isascii()
        assert not any(c in FORBIDDEN or ord(c) < 32 for c in name)
        assert stem.split(".")[0].casefold() not in RESERVED
        assert not stem.startswith((".", "-"))
        assert not stem.endswith((".", " "))
        assert ".." not in name
        for path in (posixpath, ntpath):
            assert path.basename(name) == name
            assert path.normpath(path.join("nc", name)) == path.join("nc", name)


@settings(max_examples=200, deadline=None)
@given(st.lists(marks, max_size=12), st.sampled_from([40, 80]), st.randoms())
def test_texts_are_unique_printable_and_the_same_in_any_order(names, longest, random):
    made = unique_texts(names, longest)
    assert len(set(made.values())) == len(set(names))
    for text in made.values():
        assert re.fullmatch(r"[!-~]+( [!-~]+)*", text)
        assert len(text) <= longest
    shuffled = list(names)
    random.shuffle(shuffled)
    assert unique_texts(shuffled, longest) == made
    assert file_names(shuffled, ".nc") == file_names(names, ".nc")


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("A12", "A12"),
        ("Träger Ø 12", "Trager O 12"),
        ("Łódź-3", "Lodz-3"),
        ("weiß", "weiss"),
        ("½", "1_2"),
        ("балка 7", "_____ 7"),
        (" a \t b\n", "a b"),
        ("", ""),
        ("a\x00b", "a_b"),
    ],
)
def test_letters_become_their_ascii_relatives(text, want):
    assert plain(text) == want


def test_a_plain_mark_is_its_own_name():
    assert file_names(["A1", "B-2", "P10+4"], ".nc") == {"A1": "A1.nc", "B-2": "B-2.nc", "P10+4": "P10+4.nc"}


def test_a_mark_that_is_its_own_text_keeps_it_and_the_other_gets_a_tail():
    made = unique_texts(["A1", "Á1"], 80)
    assert made["A1"] == "A1"
    assert re.fullmatch(r"A1-[0-9a-f]{8}", made["Á1"])
    # A part that is called like the other's tailed text moves neither.
    third = unique_texts(["A1", "Á1", made["Á1"]], 80)
    assert third["A1"] == "A1"
    assert third[made["Á1"]] == made["Á1"]
    assert len(set(third.values())) == 3


def test_marks_that_differ_in_case_are_two_files():
    made = file_names(["p1", "P1", "p2"], ".nc")
    assert made["p2"] == "p2.nc"
    assert len({name.casefold() for name in made.values()}) == 3


def test_a_long_text_is_cut_with_a_tail_of_the_whole():
    one, other = "x" * 99 + "1", "x" * 99 + "2"
    assert len(shortened(one, 40)) == 40
    assert shortened(one, 40) != shortened(other, 40)
    assert shortened("short", 40) == "short"
