"""Tags: what stands on them, that their codes read back, and that they keep to their grid."""

from dataclasses import replace

import pytest
from demo_jobs import MAST, TRESTLE, demo
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from qr_reader import read
from test_sheets import check_page

from takeoff.documents import dispatch_of
from takeoff.settings import DocumentSettings, Settings, TagSettings, label_mm, tag_faults
from takeoff.settings.shipping import LEAST_LABEL_MM, PAPER_MM
from takeoff.sheets import tags
from takeoff.sheets.bundle_tags import code_modules, compose, grid, tags_of
from takeoff.sheets.page import MM, PAPERS, Shape, extent
from takeoff.steel import HELD


def test_a_known_code_is_read():
    """The word is read back by rules that know nothing of the writer."""
    for text in ("A1\n4", "Ł7\n12\nL 100x100x10\n4448.0\n267.5\n6", "x" * 80):
        assert read(code_modules(text)) == text


@given(st.text(st.characters(codec="utf-8"), min_size=1, max_size=25))
@hypothesis_settings(max_examples=40, deadline=None)
def test_any_code_reads_back(text):
    assert read(code_modules(text)) == text


def test_the_reader_tells_a_spoilt_code():
    modules = code_modules("A1\n4")
    modules[0][0] = False
    with pytest.raises(ValueError, match="finder"):
        read(modules)


def drawn_codes(page, boxes):
    """The modules of the codes of a page, from the dark rectangles in each label."""
    for box in boxes:
        dark = [
            extent([item]) for item in page.items
            if isinstance(item, Shape)
            and box[0] <= item.points[0][0] <= box[2]
            and box[1] <= item.points[0][1] <= box[3]
        ]  # fmt: skip
        if not dark:
            continue
        step = min(min(d[2] - d[0] for d in dark), min(d[3] - d[1] for d in dark))
        left, top = min(d[0] for d in dark), max(d[3] for d in dark)
        count = round((max(d[2] for d in dark) - left) / step)
        modules = [[False] * count for _ in range(count)]
        for x0, _, x1, y1 in dark:
            row = round((top - y1) / step)
            for column in range(round((x0 - left) / step), round((x1 - left) / step)):
                modules[row][column] = True
        yield modules


@pytest.mark.parametrize("name", [MAST, TRESTLE])
def test_what_is_drawn_says_what_the_bundles_hold(name):
    takeoff, dispatch = demo(name)
    settings = Settings()
    codes = [
        read(modules) for page in compose(takeoff, settings, dispatch) for modules in drawn_codes(page, grid(settings))
    ]
    pieces = {piece.mark: piece for piece in takeoff.pieces}
    expected = []
    for bundle in dispatch.bundles:
        for mark, many in bundle.lines:
            p = pieces[mark]
            weight = f"{(p.net + p.zinc) * many:.1f}"
            length = f"{p.length:.1f}"
            expected.append("\n".join((mark, str(many), p.section.designation, length, weight, str(bundle.number))))
    assert codes == expected


def test_a_tag_says_mark_quantity_section_length_weight_and_assembly():
    takeoff, dispatch = demo(MAST)
    tag = next(t for t in tags_of(takeoff, Settings(documents=DocumentSettings(job="Hill mast")), dispatch))
    piece = next(p for p in takeoff.pieces if p.mark == tag.mark)
    words = "\n".join(tag.lines)
    assert f"{piece.quantity} pieces" in words
    assert "L 50 × 50 × 5 · 1803.9 mm" in words
    assert f"{2 * (piece.net + piece.zinc):.1f} kg" in words
    assert "Assembly AS" in words
    assert "Bundle 1 · Hill mast" in words


def test_held_pieces_have_no_tag(tmp_path):
    takeoff, _ = demo(TRESTLE)
    held = replace(takeoff.pieces[0], status=HELD, reasons=("its shape is not certain",))
    takeoff = replace(takeoff, pieces=(held, *takeoff.pieces[1:]))
    dispatch, _ = dispatch_of(takeoff, Settings())
    assert held.mark not in {tag.mark for tag in tags_of(takeoff, Settings(), dispatch)}
    assert dispatch.unpacked == ((held.mark, held.quantity, "held"),)
    everything = replace(takeoff, pieces=tuple(replace(p, status=HELD) for p in takeoff.pieces))
    dispatch, _ = dispatch_of(everything, Settings())
    assert tags(everything, Settings(), dispatch, tmp_path / "tags.pdf") is False
    assert not (tmp_path / "tags.pdf").exists()


GRIDS = [TagSettings(), TagSettings(columns=1, rows=4), TagSettings(columns=4, rows=8, margin_x_mm=4.0, gap_x_mm=1.0)]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("tag", GRIDS)
def test_labels_keep_to_the_grid(tag, paper):
    settings = Settings(documents=DocumentSettings(job="Hill mast " * 9, paper=paper), tags=tag)
    assert list(tag_faults(tag, paper)) == []
    boxes = grid(settings)
    assert len(boxes) == tag.columns * tag.rows
    takeoff, dispatch = demo(MAST)
    long = replace(takeoff.pieces[0], mark="VERY-LONG-MARK-0001/B", finish="galvanised " * 12)
    takeoff = replace(takeoff, pieces=(long, *takeoff.pieces[1:]))
    dispatch, _ = dispatch_of(takeoff, settings)
    for page in compose(takeoff, settings, dispatch):
        check_page(page)
        for item in page.items:
            x0, y0, x1, y1 = extent([item])
            inside = [b for b in boxes if b[0] <= x0 and b[1] <= y0 and x1 <= b[2] and y1 <= b[3]]
            assert len(inside) == 1, item


def test_the_papers_of_settings_and_sheets_are_one():
    assert {name.upper(): tuple(round(side * MM, 6) for side in sides) for name, sides in PAPER_MM.items()} == {
        name: tuple(round(side, 6) for side in sides) for name, sides in PAPERS.items()
    }


def test_a_grid_of_labels_too_small_is_refused():
    small = TagSettings(columns=4, gap_x_mm=10.0)
    assert label_mm(small, "A4")[0] < LEAST_LABEL_MM[0]
    (fault,) = tag_faults(small, "A4")
    assert "fewer `tags.columns`" in fault
