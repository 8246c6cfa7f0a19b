"""The settings file: what it may hold, and what is said where it holds something else."""

import dataclasses
import re
import tomllib
import typing

import pytest

from takeoff.settings import Settings
from takeoff.settings_file import SettingsError, as_dict, default_text, entries, load


def written(tmp_path, text):
    path = tmp_path / "shop.toml"
    path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    return path


def fault(tmp_path, text):
    with pytest.raises(SettingsError) as caught:
        load(written(tmp_path, text))
    return "\n".join(caught.value.sentences)


def test_the_default_file_loads_to_the_defaults(tmp_path):
    assert load(written(tmp_path, default_text())) == Settings()


def test_the_default_file_names_and_explains_every_option():
    text = default_text()
    parsed = tomllib.loads(text)
    for group in dataclasses.fields(Settings):
        assert set(parsed[group.name]) == {f.name for f in dataclasses.fields(getattr(Settings(), group.name))}
    for entry in entries():
        about = " ".join(entry.option.about.split())
        assert len(about) > 10
        assert about in re.sub(r"\s*\n# ", " ", text)
    assert max(map(len, (line for line in text.splitlines() if line.startswith("#")))) <= 100


def test_every_option_can_be_set(tmp_path):
    """Each default, changed to another allowed value, comes back; a key that nothing reads would not."""
    for entry in entries():
        if isinstance(entry.default, bool):
            value, text = not entry.default, str(not entry.default).lower()
        elif isinstance(entry.default, int | float):
            value = entry.option.high
            text = repr(type(entry.default)(value))
        elif isinstance(entry.default, tuple):
            value = tuple(max(part, entry.option.low) for part in (12.5, 30.0))
            text = f"[{value[0]}, {value[1]:g}]"
        elif isinstance(entry.default, dict):
            keys = {
                "gauges.legs_mm": "60",
                "bars.prices": "6000",
                "bars.available": "6000",
                "bars.in_stock": "L 100x100x10, S355J2, 3400",
            }
            key = next(iter(entry.default), keys.get(entry.key, "M16"))
            part = {float: 1.5, int: 7, str: "W"}[typing.get_args(entry.kind)[1]]
            part = entry.option.choices[-1] if entry.option.choices else part
            part = max(part, entry.option.low) if isinstance(part, float) else part
            value, text = {**entry.default, key: part}, f'{{"{key}" = {part!r}}}'
            if entry.key == "bars.prices":
                # some lengths with a price and some without are refused
                value, text = {key: part, "12000": part}, f'{{"{key}" = {part!r}, "12000" = {part!r}}}'
        else:
            texts = {
                "marks.scheme": "{letter}-{number:03}",
                "nc.marking": "{mark}",
                "documents.date": "2031-04-30",
                "line.angle_least": "40x40x4",
                "line.angle_largest": "200x200x24",
                "line.flat_least": "60x6",
                "line.flat_largest": "200x20",
            }
            value = entry.option.choices[-1] if entry.option.choices else texts.get(entry.key, "Ł 7")
            text = f'"{value}"'
        settings = load(written(tmp_path, f"[{entry.group}]\n{entry.name} = {text}\n"))
        assert as_dict(settings)[entry.group][entry.name] == (list(value) if isinstance(value, tuple) else value), (
            entry.key
        )
        group = dataclasses.replace(getattr(settings, entry.group), **{entry.name: entry.default})
        assert dataclasses.replace(settings, **{entry.group: group}) == Settings(), "nothing else changed"


def test_a_byte_order_mark_and_other_line_ends_are_no_fault(tmp_path):
    text = '[documents]\r\njob = "Mast at Nowhere"\r\n'
    assert load(written(tmp_path, b"\xef\xbb\xbf" + text.encode())).documents.job == "Mast at Nowhere"


def test_an_empty_file_is_the_defaults(tmp_path):
    assert load(written(tmp_path, "")) == Settings()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[hole]\ntowers = true", "`hole` is not known. Did you mean `holes`?"),
        ("[holes]\ntower = true", "`holes.tower` is not known. Did you mean `towers`?"),
        ("towers = true", "`towers` belongs under [holes]"),
        ("[marks]\ntowers = true", "`towers` belongs under [holes]"),
        ("holes = 3", "write [holes] on a line"),
        ("[zzz]\na = 1", "Known here: model, holes, identity"),
        ('[holes]\nrule = "mine"', '`holes.rule` must be "EN 1090-2"'),
        ('[holes]\ntowers = "yes"', '`holes.towers` must be true or false, not "yes"'),
        ("[holes]\nclearance_mm = {M16 = -1}", "must lie between 0 and 20, not -1"),
        ("[holes]\nclearance_mm = {16 = 1}", 'must name bolt sizes as "M16" or "3/4", not "16"'),
        ("[holes]\nclearance_mm = 2", "must be a table as {M16 = 1.5}, not 2"),
        ("[identity]\nposition_mm = nan", "must be a number"),
        ("[identity]\nposition_mm = true", "must be a number, not true"),
        ("[identity]\nposition_mm = 0", "must lie between 0.01 and 5, not 0"),
        ("[identity]\nclearance_share = 1.01", "must lie between 0.01 and 1"),
        ("[marks]\nstart = 1.5", "must be a whole number, not 1.5"),
        ('[marks]\nscheme = "{letter}"', "must hold {number}"),
        ('[marks]\nscheme = "{number.real}"', "must hold {number}"),
        ('[marks]\nscheme = "{number:q}"', "must hold {number}"),
        ('[marks]\nletters = {angel = "L"}', "`marks.letters.angel` is not known. Did you mean `angle`?"),
        ('[marks]\nletters = {angle = "L 1"}', "without a space"),
        ('[weights]\nmass = "guessed"', '"table" or "computed"'),
        ("[flats]\nwidths_mm = 20", "must be a list of numbers"),
        ("[flats]\nwidths_mm = [20, -1]", "must lie between 1 and 2000, not -1"),
        ('[documents]\ndate = "30.4.2031"', "a date as 2031-04-30"),
        ("[documents]\ndate = 2031-04-30", "must be text in quotes"),
        ("[documents]\njob = 12", "must be text in quotes"),
        ("[documents\njob = 1", "not valid TOML"),
        ("[documents]\njob = 'a'\njob = 'b'\n", "Cannot overwrite"),
        (b"[documents]\njob = '\xff'", "not UTF-8"),
    ],
)
def test_a_fault_is_named_with_its_remedy(text, said, tmp_path):
    message = fault(tmp_path, text)
    assert said in message
    assert "shop.toml" in message


def test_all_faults_are_named_at_once(tmp_path):
    assert len(fault(tmp_path, "[holes]\na = 1\nb = 2\n[zz]\n").splitlines()) == 3


def test_a_letter_changed_leaves_the_others(tmp_path):
    letters = load(written(tmp_path, '[marks.letters]\nangle = "W"\n')).marks.letters
    assert letters == {**Settings().marks.letters, "angle": "W"}


def test_a_file_that_is_not_there_or_a_folder(tmp_path):
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(SettingsError, match="cannot be read"):
            load(path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("kerf_mm = 2.5", "`bars.kerf_mm` must be in whole mm, not 2.5"),
        ("front_trim_mm = 7.5", "`bars.front_trim_mm` must be in whole mm, not 7.5"),
        ("end_trim_mm = 7.5", "`bars.end_trim_mm` must be in whole mm"),
        ("grip_mm = 99.9", "`bars.grip_mm` must be in whole mm"),
        ("keep_mm = 800.1", "`bars.keep_mm` must be in whole mm"),
        ("lengths_mm = [6000, 6000.5]", "`bars.lengths_mm` must be in whole mm, not 6000.5"),
        ("lengths_mm = []", "`bars.lengths_mm` must name one length at least"),
        ("prices = {7000 = 7100}", "`bars.prices` names bars of 7000 mm, and `bars.lengths_mm` holds 6000 and 12000"),
        ("prices = {6000 = 36}", "`bars.prices` has a price for bars of 6000 mm and none for 12000 mm"),
        ("lengths_mm = [6000]\navailable = {12000 = 4}", "`bars.available` names bars of 12000 mm"),
    ],
)
def test_options_of_the_bars_that_no_plan_could_follow(tmp_path, text, words):
    assert words in fault(tmp_path, f"[bars]\n{text}")


def test_whole_mm_may_be_written_with_a_point(tmp_path):
    loaded = load(written(tmp_path, "[bars]\nkerf_mm = 4.0\nlengths_mm = [7000.0]\nprices = {7000 = 7100}"))
    assert (loaded.bars.kerf_mm, loaded.bars.lengths_mm, loaded.bars.prices) == (4.0, (7000.0,), {"7000": 7100.0})
