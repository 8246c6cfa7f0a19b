"""Pages to PDF. No decision is made here: what to print and where was decided before."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from takeoff.sheets import fonts
from takeoff.sheets.page import Disc, Line, Link, Page, Shape, Text


def write(pages: Sequence[Page], path: Path, title: str) -> None:
    """Write ``pages`` as one PDF with embedded fonts: same pages, same bytes.

    OSError where ``path`` cannot be written.
    """
    fonts.load(False)
    fonts.load(True)
    # without a first font of our own the library would put one of its, not embedded, on every page
    canvas = Canvas(str(path), invariant=1, pageCompression=1, initialFontName=fonts.REGULAR)  # type: ignore[arg-type]  # a name; the stubs have it wrong
    canvas.setTitle(title)
    canvas.setSubject(title)
    canvas.setAuthor("")
    canvas.setCreator("takeoff")
    for page in pages:
        canvas.setPageSize((page.width, page.height))
        if page.chapter:
            canvas.bookmarkPage(f"chapter {page.name}")
            canvas.addOutlineEntry(fonts.printable(page.chapter), f"chapter {page.name}", level=0)
        for name, entry, level in ((page.name, page.entry, page.level), *page.more):
            if name:
                canvas.bookmarkPage(name)
            if name and entry:
                canvas.addOutlineEntry(fonts.printable(entry), name, level=level)
        _page(canvas, page)
        canvas.showPage()
    canvas.save()


def _page(canvas: Canvas, page: Page) -> None:
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for item in page.items:
        if isinstance(item, Text):
            _text(canvas, item)
        elif isinstance(item, Line):
            canvas.setLineWidth(item.width)
            canvas.setDash(list(item.dash))
            canvas.line(item.x1, item.y1, item.x2, item.y2)
        elif isinstance(item, Shape):
            _shape(canvas, item)
        elif isinstance(item, Disc):
            canvas.setLineWidth(item.width)
            canvas.setDash([])
            if item.fill is not None:
                canvas.setFillGray(item.fill)
            canvas.circle(item.x, item.y, item.radius, stroke=int(item.width > 0), fill=int(item.fill is not None))
        elif isinstance(item, Link):
            canvas.linkRect("", item.target, Rect=item.box, thickness=0)


def _shape(canvas: Canvas, shape: Shape) -> None:
    canvas.setLineWidth(shape.width)
    canvas.setDash(list(shape.dash))
    if shape.fill is not None:
        canvas.setFillGray(shape.fill)
    path = canvas.beginPath()
    path.moveTo(*shape.points[0])
    for point in shape.points[1:]:
        path.lineTo(*point)
    if shape.closed:
        path.close()
    canvas.drawPath(path, stroke=int(shape.width > 0), fill=int(shape.fill is not None))


def _text(canvas: Canvas, text: Text) -> None:
    if not text.text:
        return
    x, y = text.start
    if text.halo:
        x0, y0, x1, y1 = text.box()
        canvas.setFillGray(1.0)
        canvas.rect(x0 - 0.6, y0 + 0.4, x1 - x0 + 1.2, y1 - y0 - 0.4, stroke=0, fill=1)
    canvas.setFillGray(1.0 if text.white else 0.0)
    name = fonts.BOLD if text.bold else fonts.REGULAR
    if text.ghost:
        _ghost(canvas, text, x, y, name)
        return
    if text.angle == 0.0:
        canvas.setFont(name, text.size)
        canvas.drawString(x, y, text.text)
        return
    canvas.saveState()
    canvas.translate(x, y)
    canvas.rotate(text.angle)
    canvas.setFont(name, text.size)
    canvas.drawString(0, 0, text.text)
    canvas.restoreState()


def _ghost(canvas: Canvas, text: Text, x: float, y: float, name: str) -> None:
    """Outlined letters, so that what lies under them stays legible."""
    canvas.saveState()
    canvas.translate(x, y)
    canvas.rotate(text.angle)
    canvas.setLineWidth(1.2)
    canvas.setDash([])
    letters = canvas.beginText(0, 0)
    letters.setFont(name, text.size)
    letters.setTextRenderMode(1)
    letters.textOut(text.text)
    canvas.drawText(letters)
    canvas.restoreState()
