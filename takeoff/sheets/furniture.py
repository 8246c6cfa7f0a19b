"""What stands on every page: the frame, and the foot with model, checksum, rules and page number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from takeoff.settings import Settings
from takeoff.sheets import fonts
from takeoff.sheets.page import LEAST_TEXT, MM, Box, Line, Page, Text, paper_size
from takeoff.steel import Takeoff
from takeoff.words import joined, say

FILING: Final = 18.0 * MM
"""Left margin, wide enough for the punch of a file."""
MARGIN: Final = 9.0 * MM
RULE_LINES: Final = 3
"""Lines of the foot that the rules may fill; they stand in full on the cover."""
FOOT: Final = (RULE_LINES + 1) * LEAST_TEXT * 1.25 + 4.0


@dataclass(frozen=True, slots=True)
class Imprint:
    """What the foot of every page says, and the paper it stands on."""

    title: str
    source: str
    rules: str
    paper: tuple[float, float]

    def page(self, landscape: bool = False, name: str = "", entry: str = "", level: int = 0) -> Page:
        width, height = self.paper
        if landscape:
            width, height = height, width
        return Page(width, height, [], name, entry, level)


def imprint(takeoff: Takeoff, settings: Settings, title: str) -> Imprint:
    """The imprint of one document. ValueError for a paper that is not known."""
    model = takeoff.model
    parts = [
        say("Model {name}", name=model.name),
        say("checksum {sum}", sum=model.checksum[:12]) if model.checksum else say("no checksum"),
    ]
    date = settings.documents.date or model.date[:10]
    if settings.documents.job:
        parts.insert(0, settings.documents.job)
    if settings.documents.revision:
        parts.append(say("revision {revision}", revision=settings.documents.revision))
    if date:
        parts.append(date)
    if earlier := supersedes(takeoff, settings):
        parts.append(say("supersedes {earlier}", earlier=earlier))
    rules = say("Rules: {rules}", rules=joined("; ", takeoff.rules) if takeoff.rules else say("none stated"))
    return Imprint(title, fonts.printable(" · ".join(parts)), rules, paper_size(settings.documents.paper))


def supersedes(takeoff: Takeoff, settings: Settings) -> str:
    """What this issue replaces: as the settings say, else the register's issue before it; empty where neither knows."""
    if settings.documents.supersedes:
        return settings.documents.supersedes
    if takeoff.release is None:
        return ""
    before = [issue for issue in takeoff.release.register.issues if issue.revision != takeoff.release.revision]
    if not before:
        return ""
    last = before[-1]
    if last.date and last.date != last.revision:
        return say("revision {revision} of {date}", revision=last.revision, date=last.date[:10])
    return say("revision {revision}", revision=last.revision)


def inner(page: Page) -> Box:
    """The room for content: inside the margins, above the foot."""
    return FILING, MARGIN + FOOT, page.width - MARGIN, page.height - MARGIN


def number_pages(pages: Sequence[Page], imprint: Imprint) -> None:
    """Put the foot on every page, now that it is known how many there are."""
    for index, page in enumerate(pages, start=1):
        x0, _, x1, _ = inner(page)
        top = MARGIN + FOOT - 5.0
        step = LEAST_TEXT * 1.25
        page.items.append(Line(x0, top, x1, top, 0.5))
        base = top - LEAST_TEXT - 1.5
        number = Text(
            x1, base, say("page {number} of {count}", number=index, count=len(pages)), LEAST_TEXT, True, "end"
        )
        page.items.append(number)
        heading = f"{imprint.title} · {imprint.source}"
        room = x1 - x0 - number.width - 8.0
        page.items.append(Text(x0, base, fonts.shorten(heading, LEAST_TEXT, room), LEAST_TEXT))
        lines = list(fonts.wrap(imprint.rules, LEAST_TEXT, x1 - x0))
        if len(lines) > RULE_LINES:
            rest = " ".join(lines[RULE_LINES - 1 :])
            lines = [*lines[: RULE_LINES - 1], fonts.shorten(rest, LEAST_TEXT, x1 - x0)]
        for i, line in enumerate(lines):
            page.items.append(Text(x0, base - (i + 1) * step, line, LEAST_TEXT))
