"""queries.pdf: what to ask the designer, what was assumed, what is held and why, grouped by cause."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from takeoff.queries import ASSUMED, CHECK, HOLD, SEVERITIES, Query
from takeoff.settings import Settings
from takeoff.sheets import draw
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.page import Page
from takeoff.sheets.tables import Column, Row
from takeoff.sheets.wording import some
from takeoff.steel import Takeoff
from takeoff.words import later, say, speaking

MOST_MESSAGES: Final = 150
"""Different sentences of one cause that are printed; queries.csv has them all."""
MOST_IDS: Final = 12
MOST_MARKS: Final = 24
_WHERE: Final = "tables/queries.csv"

_TITLES: Final = {
    HOLD: (later("HOLD"), later("Do not make these parts until the query is answered.")),
    CHECK: (later("CHECK"), later("Look at these before work starts; the lists go ahead as they stand.")),
    ASSUMED: (
        later("ASSUMED"),
        later("Taken as said here because the model does not say it. Confirm or correct."),
    ),
}


def queries(takeoff: Takeoff, settings: Settings, path: Path) -> bool:
    """Write queries.pdf to ``path``. False, and no file, where there are no queries."""
    if not takeoff.queries:
        return False
    with speaking(settings.documents.language):
        draw.write(compose(takeoff, settings), path, say("Queries"))
    return True


def compose(takeoff: Takeoff, settings: Settings) -> list[Page]:
    """The pages of queries.pdf."""
    head = imprint(takeoff, settings, say("Queries"))
    flow = Flow(head, name="queries", entry=say("Queries"))
    flow.heading(say("Queries"), 16.0)
    severities = {severity: _by_cause(takeoff.queries, severity) for severity in SEVERITIES}
    summary = [
        Row((say(_TITLES[severity][0]), _cause(queries), str(len(queries))))
        for severity, causes in severities.items()
        for queries in causes.values()
    ]
    flow.paragraph(
        say("What the model leaves open, worst first. Every query and GlobalId stands in {where}.", where=_WHERE)
    )
    flow.table(
        (Column(say("Kind"), bold=True), Column(say("Cause"), flex=1.0), Column(say("Queries"), "right")),
        summary,
    )
    for severity, causes in severities.items():
        if not causes:
            continue
        title, meaning = (say(text) for text in _TITLES[severity])
        total = sum(len(queries) for queries in causes.values())
        fields = {"severity": title, "queries": _queries_words(total), "causes": _causes_words(len(causes))}
        flow.heading(say("{severity}: {queries}, {causes}", **fields), 13.0, 70.0)
        flow.paragraph(meaning)
        for queries in causes.values():
            _set_cause(flow, queries)
    number_pages(flow.pages, head)
    return flow.pages


def _queries_words(count: int) -> str:
    return say("1 query") if count == 1 else say("{count} queries", count=count)


def _causes_words(count: int) -> str:
    return say("1 cause") if count == 1 else say("{count} causes", count=count)


def _by_cause(queries: tuple[Query, ...], severity: str) -> dict[str, list[Query]]:
    causes: dict[str, list[Query]] = {}
    for query in queries:
        if query.severity == severity:
            causes.setdefault(query.cause or query.code, []).append(query)
    return causes


def _cause(queries: list[Query]) -> str:
    """The cause in words: its code, which is one, read aloud."""
    return (queries[0].cause or queries[0].code).replace("-", " ")


def _set_cause(flow: Flow, queries: list[Query]) -> None:
    flow.heading(f"{_cause(queries)} ({len(queries)})", 10.0, 60.0)
    for remedy in dict.fromkeys(query.remedy for query in queries):
        flow.paragraph(say("Remedy: {remedy}", remedy=remedy), indent=4.0)
    alike: dict[str, tuple[dict[str, None], dict[str, None], int]] = {}
    for query in queries:
        marks, ids, many = alike.get(query.message, ({}, {}, 0))
        if query.piece_mark:
            marks[query.piece_mark] = None
        ids.update(dict.fromkeys(query.global_ids))
        alike[query.message] = (marks, ids, many + 1)
    rows = [
        Row((message, some(marks, MOST_MARKS, _WHERE), some(ids, MOST_IDS, _WHERE), str(many)))
        for message, (marks, ids, many) in list(alike.items())[:MOST_MESSAGES]
    ]
    flow.table(
        (
            Column(say("What"), flex=3.0),
            Column(say("Piece marks"), flex=1.0, least=48.0, bold=True),
            Column("GlobalIds", flex=2.0),
            Column("×", "right"),
        ),
        rows,
        7.0,
    )
    if len(alike) > MOST_MESSAGES:
        more = len(alike) - MOST_MESSAGES
        flow.paragraph(say("{count} more of this cause in {where}.", count=more, where=_WHERE), bold=True)
