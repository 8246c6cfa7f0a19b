"""The pages of the project say what the program does: options, files, tables, queries, commands."""

import argparse
import importlib.util
import re
from pathlib import Path

import pytest

from takeoff import cli
from takeoff.columns import COLUMNS
from takeoff.output import KNOWN
from takeoff.queries import KINDS
from takeoff.settings_file import default_text, entries

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"), *ROOT.glob("models/*.md"), *ROOT.glob("output/*.md")])


def actions(parser, command="takeoff"):
    """Every argument of the command line with its command."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, sub in action.choices.items():
                yield from actions(sub, f"{command} {name}")
        else:
            yield command, action


def test_every_option_is_in_the_readme_and_explained_by_help():
    found = list(actions(cli._parser()))
    assert {option for _, a in found for option in a.option_strings} >= {"-o", "--settings", "--version"}
    for command, action in found:
        assert command in README
        assert action.help
        for option in action.option_strings:
            assert f"`{option}" in README, option


def test_the_readme_promises_no_option_that_does_not_exist():
    known = {option for _, action in actions(cli._parser()) for option in action.option_strings}
    table = README.split("## Command line")[1]
    assert set(re.findall(r"`(-{1,2}[a-z][a-z-]*)", table)) <= known


def test_every_exit_status_is_in_the_readme_and_in_help():
    for status in (cli.WRITTEN, cli.WRITTEN_SOME_HELD, cli.WRONG_USE, cli.UNREADABLE, cli.FAULT, cli.INTERRUPTED):
        assert f"| {status} |" in README
        assert re.search(rf"^  {status} ", cli.EXIT_STATUS, re.MULTILINE)


def test_the_readme_opens_with_one_paragraph_that_states_the_job():
    title, job, following = README.split("\n\n")[:3]
    assert title.startswith("# ")
    assert "IFC" in job
    assert "\n" not in job
    assert following.startswith("## ")


def test_ci_runs_the_test_command_of_the_readme():
    (command,) = re.findall(r"^    (python3 -m venv .*pytest.*)$", README, re.MULTILINE)
    assert command in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_the_main_command_of_the_readme_names_a_model_that_is_there():
    (model,) = re.findall(r"^    python3 -m venv .*takeoff lists (\S+)$", README, re.MULTILINE)
    assert (ROOT / model).exists()


def test_every_table_and_file_is_in_the_readme():
    for table in COLUMNS:
        assert f"`{table}`" in README
    later = {"bars.pdf", "queries.bcf"}  # known to the swap so that they never stay behind as stale
    for name in set(KNOWN) - later:
        assert f"`{name}`" in README


def test_every_settings_key_is_in_the_default_file():
    text = default_text()
    for entry in entries():
        assert re.search(rf"^{entry.name} = ", text, re.MULTILINE)


def test_the_page_of_queries_is_current():
    spec = importlib.util.spec_from_file_location("write_queries", ROOT / "docs" / "write_queries.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert module.text() == module.PAGE.read_text(encoding="utf-8"), "run python docs/write_queries.py"
    for code in KINDS:
        assert f"| `{code}` |" in module.PAGE.read_text(encoding="utf-8")


def test_every_query_code_is_lower_case_words_with_a_sentence_and_a_remedy():
    for code, kind in KINDS.items():
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", code)
        # A sentence may end with a place that is filled with sentences.
        assert kind.sentence.rstrip().endswith((".", "?", "}")), code
        assert kind.remedy.rstrip().endswith((".", "?")), code


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_links_between_pages_lead_somewhere(page):
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", text):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_modules_named_in_developers_exist():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for name in re.findall(r"`((?:takeoff|tests|docs|models)/[\w/.-]*)`", text):
        assert (ROOT / name).exists(), name


def test_every_module_of_the_package_is_on_the_map():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for path in (ROOT / "takeoff").glob("*.py"):
        assert f"`{path.name}`" in text, path.name
