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
