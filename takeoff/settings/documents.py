"""What is printed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from takeoff.settings.option import Option


def _check_date(text: str) -> str:
    try:
        date.fromisoformat(text or "2031-04-30")
    except ValueError:
        return "must be empty or a date as 2031-04-30"
    return ""


@dataclass(frozen=True, slots=True)
class DocumentSettings:
    """What is printed on the sheets."""

    job: Annotated[str, Option("The job, printed on every page.")] = ""
    revision: Annotated[str, Option("The model's revision, printed on every page.")] = ""
    date: Annotated[str, Option("The date printed, as 2031-04-30; empty: the model file's own.", check=_check_date)] = (
        ""
    )
    language: Annotated[
        str, Option("The language of headings and labels on the sheets; queries are in English.", choices=("en", "de"))
    ] = "en"
    paper: Annotated[str, Option("Paper of the sheets.", choices=("A4", "Letter"))] = "A4"
    supersedes: Annotated[str, Option("What this issue replaces, printed on every page: a revision, a date.")] = ""
    units: Annotated[
        str,
        Option(
            "How the sheets print lengths: mm, or feet, inches and sixteenths; tables stay in mm.",
            choices=("mm", "feet-inches"),
        ),
    ] = "mm"
    datum_end: Annotated[
        str,
        Option("The end that running dimensions start from: right for lines fed the other way.",
               choices=("left", "right")),
    ] = "left"  # fmt: skip
    small_pieces: Annotated[
        str,
        Option("Small pieces: one a sheet, or two of a section and grade on one.", choices=("one", "together")),
    ] = "one"
