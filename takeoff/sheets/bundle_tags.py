"""tags.pdf: a label for each mark of each bundle, on the grid of the settings, with a 2-D code.

The code is a QR code (ISO/IEC 18004) of six lines: mark, quantity, section, length in mm, weight in kg, number of the
bundle; in every language and unit the same. Held pieces have no tag: they are in no bundle.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from takeoff.dispatch import Bundle, Dispatch
from takeoff.settings import Settings, label_mm
from takeoff.sheets import draw, fonts, measure
from takeoff.sheets.measure import measuring
from takeoff.sheets.packing_list import bundle_name
from takeoff.sheets.page import LEAST_TEXT, MM, Box, Item, Page, Shape, Text, fitted, paper_size
from takeoff.sheets.wording import designation
from takeoff.steel import Piece, Takeoff
from takeoff.words import say, speaking

QUIET: Final = 4
"""Empty modules round a QR code (ISO/IEC 18004)."""
PAD: Final = 2.5 * MM
MOST_ASSEMBLIES: Final = 3
MASKS: Final = 8
_FINDER: Final = np.array([1, 0, 1, 1, 1, 0, 1, 0, 0, 0, 0], dtype=bool)


class Tag(NamedTuple):
    """The words of one tag; ``code`` is what the 2-D code holds."""

    mark: str
    lines: tuple[str, ...]
    code: str


def tags(takeoff: Takeoff, settings: Settings, dispatch: Dispatch, path: Path) -> bool:
    """Write tags.pdf. False, and no file, where nothing is packed.

    OSError where it cannot be written.
    """
    if not dispatch.bundles:
        return False
    with speaking(settings.documents.language), measuring(settings.documents):
        draw.write(compose(takeoff, settings, dispatch), path, say("Bundle tags"))
    return True


def compose(takeoff: Takeoff, settings: Settings, dispatch: Dispatch) -> list[Page]:
    """The pages of tags.pdf: labels row by row from the top left."""
    boxes = grid(settings)
    made = list(tags_of(takeoff, settings, dispatch))
    width, height = paper_size(settings.documents.paper)
    pages = []
    for start in range(0, len(made), len(boxes)):
        first = made[start]
        page = Page(width, height, [], f"tags {start}", say("Tags from {mark}", mark=first.mark))
        for tag, box in zip(made[start : start + len(boxes)], boxes, strict=False):
            page.items += label(tag, box)
        pages.append(page)
    return pages


def grid(settings: Settings) -> list[Box]:
    """The labels of one sheet in pt, row by row."""
    tag = settings.tags
    _, height = paper_size(settings.documents.paper)
    across, down = (side * MM for side in label_mm(tag, settings.documents.paper))
    found = []
    for row in range(tag.rows):
        top = height - tag.margin_y_mm * MM - row * (down + tag.gap_y_mm * MM)
        for column in range(tag.columns):
            left = tag.margin_x_mm * MM + column * (across + tag.gap_x_mm * MM)
            found.append((left, top - down, left + across, top))
    return found


def tags_of(takeoff: Takeoff, settings: Settings, dispatch: Dispatch) -> Iterator[Tag]:
    """A tag for each mark of each bundle, in the order of the bundles; alike ones beyond the limits each their own."""
    pieces = {piece.mark: piece for piece in takeoff.pieces}
    assemblies: dict[str, list[str]] = {}
    for assembly in takeoff.assemblies:
        for mark, _ in assembly.pieces:
            assemblies.setdefault(mark, []).append(assembly.mark)
    for bundle in dispatch.bundles:
        for mark, many in bundle.lines:
            yield _tag(pieces[mark], many, bundle, assemblies.get(mark, []), settings)


def _tag(piece: Piece, many: int, bundle: Bundle, assemblies: Sequence[str], settings: Settings) -> Tag:
    each = piece.net + piece.zinc
    named = ", ".join(assemblies[:MOST_ASSEMBLIES])
    if len(assemblies) > MOST_ASSEMBLIES:
        named = say("{names} and {count} more", names=named, count=len(assemblies) - MOST_ASSEMBLIES)
    lines = [
        say("{count} pieces", count=many) if many != 1 else say("1 piece"),
        f"{designation(piece.section)} · {measure.with_unit(piece.length)}",
        " · ".join(part for part in (piece.grade, piece.finish) if part),
        say("{weight} kg ({each} kg each)", weight=measure.figure(each * many, 1), each=measure.figure(each, 2))
        if many > 1
        else say("{weight} kg", weight=measure.figure(each, 1)),
        say("Assembly {mark}", mark=named) if named else "",
        " · ".join(part for part in (bundle_name(bundle), settings.documents.job) if part),
    ]
    shown = tuple(line for line in lines if line)
    code = (piece.mark, str(many), piece.section.designation, f"{piece.length:.1f}", f"{each * many:.1f}")
    return Tag(piece.mark, shown, "\n".join((*code, str(bundle.number))))


def code_modules(text: str) -> list[list[bool]]:
    """The dark modules of the QR code of ``text``, row by row from the top. Error correction M."""
    from reportlab.graphics.barcode.qrencoder import QR8bitByte, QRCode, QRErrorCorrectLevel

    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(QR8bitByte(text.encode("utf-8")))
    code.version = code.calculate_version()  # type: ignore[no-untyped-call]
    # the library weighs the masks module by module, which takes ten times as long as all the rest of a tag
    penalties = []
    for mask in range(MASKS):
        code.makeImpl(True, mask)
        penalties.append(_penalty(np.array(code.modules, dtype=bool)))
    code.makeImpl(False, penalties.index(min(penalties)))
    return [[bool(dark) for dark in row] for row in code.modules]


def _penalty(dark: npt.NDArray[np.bool_]) -> int:
    """How ill a masked symbol reads: the four rules of ISO/IEC 18004 (runs, blocks, finder-like patterns, balance)."""
    found = 0
    for rows in (dark, dark.T):
        changed = np.ones((len(rows), len(rows) + 1), dtype=bool)
        changed[:, 1:-1] = rows[:, 1:] != rows[:, :-1]
        runs = np.diff(np.flatnonzero(changed.ravel()))
        # between the end of a row and the start of the next lies a step of 1 that is no run
        long = runs[runs >= 5]
        found += int((long - 2).sum())
        windows = np.lib.stride_tricks.sliding_window_view(rows, len(_FINDER), axis=1)
        found += 40 * int(sum((windows == pattern).all(axis=2).sum() for pattern in (_FINDER, _FINDER[::-1])))
    same = (dark[1:] == dark[:-1])[:, 1:] & (dark[1:] == dark[:-1])[:, :-1] & (dark[1:, 1:] == dark[1:, :-1])
    found += 3 * int(same.sum())
    return found + 10 * int(abs(100 * dark.mean() - 50) // 5)


def label(tag: Tag, box: Box) -> list[Item]:
    """One label: mark and words at the left, the code at the right."""
    x0, y0, x1, y1 = box[0] + PAD, box[1] + PAD, box[2] - PAD, box[3] - PAD
    side = min(y1 - y0, (x1 - x0) * 0.42)
    items: list[Item] = list(_code(tag.code, x1 - side, (y0 + y1) / 2 - side / 2, side))
    room = x1 - side - x0 - 4.0
    tall = y1 - y0
    head = fitted(Text(x0, 0.0, tag.mark, min(24.0, tall * 0.26), True), room, LEAST_TEXT)
    size = max(LEAST_TEXT, min(9.5, (tall - head.size * 1.1) / (len(tag.lines) * 1.2)))
    y = y1 - head.size * 0.85
    items.append(Text(x0, y, fonts.shorten(tag.mark, head.size, room, True), head.size, True))
    y -= head.size * 0.35
    for line in tag.lines:
        y -= size * 1.2
        small = fitted(Text(x0, y, line, size), room, LEAST_TEXT)
        items.append(Text(x0, y, fonts.shorten(line, small.size, room), small.size))
    return items


def _code(text: str, x: float, y: float, side: float) -> Iterator[Shape]:
    """Dark modules run together along each row, so that readers see no seams."""
    modules = code_modules(text)
    count = len(modules)
    step = side / (count + 2 * QUIET)
    for row, dark in enumerate(modules):
        top = y + side - (QUIET + row) * step
        column = 0
        while column < count:
            if not dark[column]:
                column += 1
                continue
            end = column
            while end < count and dark[end]:
                end += 1
            left, right = x + (QUIET + column) * step, x + (QUIET + end) * step
            yield Shape(((left, top - step), (right, top - step), (right, top), (left, top)), 0.0, True, 0.0)
            column = end
