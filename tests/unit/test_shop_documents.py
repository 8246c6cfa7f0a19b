"""inspection.pdf, erection.pdf, packing.pdf, bolts.pdf and weights.pdf read back against the tables."""

import re
from collections import Counter
from dataclasses import replace

import pypdf
import pytest
from demo_jobs import MAST, TRESTLE, demo
from hypothesis import given
from hypothesis import strategies as st
from test_sheets import check_page, example, read_tables, words_of

from takeoff.columns import DISPATCH_COLUMNS
from takeoff.documents import dispatch_of, write_documents
from takeoff.lists import tables
from takeoff.rules.tolerances import EDGE, HOLE, LENGTH, NOTCH, SIZE, SQUARENESS, tolerance
from takeoff.settings import DocumentSettings, InspectionSettings, Settings, ShippingSettings
from takeoff.sheets import bolt_list, erection_list, first_piece, packing_list, weight_list
from takeoff.sheets.adding import add_up
from takeoff.steel import HELD, LISTED

SETTINGS = Settings()


def every_page(takeoff, dispatch, settings):
    yield from erection_list.compose(takeoff, settings, dispatch.erection)
    yield from packing_list.compose(takeoff, settings, dispatch)
    yield from first_piece.compose(takeoff, settings, dispatch.look_alikes)
    yield from bolt_list.compose(takeoff, settings, dispatch)
    yield from weight_list.compose(takeoff, settings, dispatch)


def awkward():
    """A takeoff of every shape with texts as long and odd as models have them, one mark held."""
    takeoff = example()
    odd = "Ü" * 90 + " " + "word " * 30
    pieces = list(takeoff.pieces)
    pieces[2] = replace(pieces[2], mark="M" * 40, grade=odd, finish=odd)
    return replace(takeoff, pieces=tuple(pieces))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("units", ["mm", "feet-inches"])
def test_nothing_overlaps_or_leaves_the_page(paper, units):
    settings = Settings(documents=DocumentSettings(job="Maszt Żuraw", revision="B", paper=paper, units=units))
    jobs = [demo(MAST), demo(TRESTLE)]
    odd = awkward()
    jobs.append((odd, dispatch_of(odd, settings)[0]))
    for takeoff, dispatch in jobs:
        for page in every_page(takeoff, dispatch, settings):
            check_page(page)


@given(st.lists(st.floats(0, 5000), max_size=60), st.sampled_from([0, 1, 2]))
def test_rounded_lines_add_up_to_the_rounded_sum(values, decimals):
    rounded = add_up(values, decimals)
    last = 10**-decimals
    assert sum(rounded) == pytest.approx(round(sum(values), decimals), abs=last * 0.51)
    assert f"{sum(rounded):.{decimals}f}" == f"{round(sum(values) + 0.0, decimals):.{decimals}f}" or (
        abs(sum(values) / last % 1 - 0.5) < 1e-3
    )
    assert all(abs(a - b) <= last + 1e-5 for a, b in zip(rounded, values, strict=True))


def test_one_third_and_two_thirds_make_one():
    assert add_up([1 / 3] * 3) == [0.4, 0.3, 0.3]
    assert add_up([]) == []


def numbers_under(rows, start, stop, columns):
    """Sums of the last ``columns`` figures of the rows between two, and the figures of ``stop``."""
    body = [row for row in rows[start:stop] if len(row) >= columns and all(_figure(c) for c in row[-columns:])]
    assert body
    sums = [round(sum(float(row[k]) for row in body), 2) for k in range(-columns, 0)]
    return sums, [float(c) for c in rows[stop][-columns:]]


def _figure(text):
    return re.fullmatch(r"-?\d+(\.\d+)?", text) is not None


@pytest.mark.parametrize("name", [MAST, TRESTLE])
def test_totals_of_the_weights_add_up_and_agree_between_lists(name):
    takeoff, dispatch = demo(name)
    rows = [row for page in weight_list.compose(takeoff, SETTINGS, dispatch) for row in read_tables(page)]
    first = next(k for k, row in enumerate(rows) if row[0] == "By assembly")
    second = next(k for k, row in enumerate(rows) if row[0] == "By section and grade")
    all_assemblies = next(k for k in range(first, second) if rows[k][0] == "All")
    all_sections = next(k for k in range(second, len(rows)) if rows[k][0] == "All")
    sums, totals = numbers_under(rows, first, all_assemblies, 5)  # gross, net, white, bolts, m2
    assert sums == pytest.approx(totals, abs=0.001)
    sums, by_section = numbers_under(rows, second, all_sections, 5)  # gross, net, m2, zinc, white
    assert sums == pytest.approx(by_section, abs=0.001)
    assert totals[0] == by_section[0] == round(sum(p.gross * p.quantity for p in takeoff.pieces), 1)
    assert totals[1] == by_section[1] == round(sum(p.net * p.quantity for p in takeoff.pieces), 1)
    assert totals[4] == by_section[2] == round(sum(p.surface * p.quantity for p in takeoff.pieces), 1)
    assert by_section[4] == pytest.approx(by_section[1] + by_section[3], abs=0.001)


def test_the_plate_order_is_the_table():
    takeoff, dispatch = demo(MAST)
    rows = [row for page in weight_list.compose(takeoff, SETTINGS, dispatch) for row in read_tables(page)]
    frame = tables(takeoff, None, dispatch)["plates"]
    for line in frame.to_dict("records"):
        row = next(r for r in rows if r[:2] == [f"{line['thickness_mm']:g}", line["grade"]])
        assert row[2:4] == [str(line["marks"]), str(line["pieces"])]
        assert float(row[-2]) == pytest.approx(line["area_m2"], abs=0.011)
        assert float(row[-1]) == pytest.approx(line["gross_weight_kg"], abs=0.11)
    assert frame["pieces"].sum() == sum(p.quantity for p in takeoff.pieces if p.section.shape == "plate")


def test_the_chart_has_a_bar_for_each_section_in_proportion():
    takeoff, dispatch = demo(MAST)
    pages = weight_list.compose(takeoff, SETTINGS, dispatch)
    page = next(page for page in pages if "Where the weight lies" in words_of([page]))
    shares = [float(t.text.split(" kg, ")[0]) for t in page.texts() if re.fullmatch(r"[\d.]+ kg, \d+ %", t.text)]
    bars = [s for s in page.items if getattr(s, "fill", None) == 0.45]
    widths = [bar.points[1][0] - bar.points[0][0] for bar in bars]
    assert len(shares) == len(widths) == 12
    for share, width in zip(shares, widths, strict=True):
        assert width / widths[0] == pytest.approx(share / shares[0], rel=0.02, abs=0.01)
    assert sum(shares) == pytest.approx(sum(p.net * p.quantity for p in takeoff.pieces), abs=0.7)


@pytest.mark.parametrize("name", [MAST, TRESTLE])
def test_the_erection_list_names_every_piece_as_often_as_it_stands(name):
    takeoff, dispatch = demo(name)
    counted, where = Counter(), {}
    marks = {piece.mark for piece in takeoff.pieces}
    inverse = False
    pages = erection_list.compose(takeoff, SETTINGS, dispatch.erection)
    for page in (page for page in pages if not page.name.startswith("face ")):
        for row in read_tables(page):
            inverse = inverse or row[0] == "Where each mark goes"
            if row[0] in marks and inverse:
                where[row[0]] = int(row[1])
            elif row[0] in marks:
                counted[row[0]] += int(row[1])
    assert counted == where == {piece.mark: piece.quantity for piece in takeoff.pieces}


def test_held_pieces_stand_in_the_erection_list_marked():
    takeoff, _ = demo(TRESTLE)
    held = replace(takeoff.pieces[0], status=HELD, reasons=("not certain",))
    takeoff = replace(takeoff, pieces=(held, *takeoff.pieces[1:]))
    dispatch, _ = dispatch_of(takeoff, SETTINGS)
    words = words_of(erection_list.compose(takeoff, SETTINGS, dispatch.erection))
    assert words.count(f"{held.mark} HOLD") == held.quantity + 1
    words = words_of(packing_list.compose(takeoff, SETTINGS, dispatch))
    assert "In no bundle" in words
    pages = first_piece.compose(takeoff, SETTINGS, dispatch.look_alikes)
    assert f"inspect {held.mark}" not in {page.name for page in pages}
    assert "On hold, no sheet" in words_of(pages)


@pytest.mark.parametrize("name", [MAST, TRESTLE])
def test_the_packing_list_adds_up_on_the_page(name):
    takeoff, dispatch = demo(name)
    rows = [row for page in packing_list.compose(takeoff, SETTINGS, dispatch) for row in read_tables(page)]
    weights = [row[-1] for row in rows if re.match(r"(Bundle|Box|Piece) \d+$", row[0])]
    total = next(row for row in rows if row[0] == "All")
    assert sum(map(float, weights)) == pytest.approx(float(total[-1]), abs=0.001)
    assert float(total[-1]) == pytest.approx(sum((p.net + p.zinc) * p.quantity for p in takeoff.pieces), abs=0.006)
    inside, bundles, marks = 0.0, [], {p.mark for p in takeoff.pieces}
    for row in rows[rows.index(total) + 1 :]:
        if row[0] in marks:
            inside += float(row[-1])
        elif row[0] == "All":
            assert inside == pytest.approx(float(row[-1]), abs=0.001)
            bundles.append(row[-1])
            inside = 0.0
    assert bundles == weights


def test_bags_in_the_document_prove_the_order():
    takeoff, dispatch = demo(MAST)
    words = words_of(bolt_list.compose(takeoff, SETTINGS, dispatch))
    assert words.count("agrees") == 2 + len(takeoff.bolt_lines)
    assert "DOES NOT AGREE" not in words
    short = replace(dispatch, bags=(*dispatch.bags[:1], *dispatch.bags[2:]))
    assert "DOES NOT AGREE" in words_of(bolt_list.compose(takeoff, SETTINGS, short))


def test_bolts_by_joint_node_and_assembly_have_one_total():
    takeoff, dispatch = demo(MAST)
    rows = [row for page in bolt_list.compose(takeoff, SETTINGS, dispatch) for row in read_tables(page)]
    start = next(k for k, row in enumerate(rows) if row[0] == "By joint")
    stop = next(k for k, row in enumerate(rows) if row[0] == "Bolt bags")
    totals = [row[1] for row in rows[start:stop] if row[0] == "All"]
    assert totals == ["582"] * 3  # models/README.md


def test_held_bolts_are_ordered_and_said_to_be_held():
    words = words_of(bolt_list.compose(example(), SETTINGS))
    assert "In the order list, but on hold" in words
    assert "it passes through one part only" in words


def test_shop_and_site_bolts_stand_apart():
    takeoff, dispatch = demo(TRESTLE)
    lines = tuple(replace(line, shop=1, site=line.quantity - 2) for line in takeoff.bolt_lines)
    rows = [
        row
        for page in bolt_list.compose(replace(takeoff, bolt_lines=lines), SETTINGS, dispatch)
        for row in read_tables(page)
    ]
    found = {}
    for title in ("In the shop", "On site", "The model does not say"):
        start = next(k for k, row in enumerate(rows) if row[0] == title)
        found[title] = int(next(row for row in rows[start:] if row[0] == "All")[1])
    assert found == {
        "In the shop": len(lines), "On site": 26 - 2 * len(lines), "The model does not say": len(lines),
    }  # fmt: skip


def test_an_inspection_sheet_has_every_hole_with_its_nominals():
    takeoff, dispatch = demo(TRESTLE)
    pages = {page.name: page for page in first_piece.compose(takeoff, SETTINGS, dispatch.look_alikes)}
    for piece in takeoff.pieces:
        rows = read_tables(pages[f"inspect {piece.mark}"])
        start = next(k for k, row in enumerate(rows) if row[0] == "Hole")
        # models/README.md: every position is a whole millimetre
        found = [(row[0], row[2], row[3], row[4]) for row in rows[start + 1 :] if len(row) == 5]
        expected = [(h.label, f"{h.x:.0f}", f"{h.across:.0f}", f"Ø{h.diameter:g}") for h in piece.holes]
        assert found == expected
        assert ["Heat number", "Certificate", "Measured by", "Date", "Accepted"] in rows


def test_look_alikes_stand_on_both_sheets():
    takeoff, dispatch = demo(MAST)
    pages = {page.name: page for page in first_piece.compose(takeoff, SETTINGS, dispatch.look_alikes)}
    for pair in dispatch.look_alikes:
        for mark, other in ((pair.mark, pair.other), (pair.other, pair.mark)):
            assert re.search(rf"^{other}: ", words_of([pages[f"inspect {mark}"]]), re.MULTILINE)


def test_tolerances_by_hand():
    """The formulas of EN 1090-2, Annex B, from memory as the table says: L / 5000 + 2, D / 100 and the rest."""
    assert tolerance(LENGTH, 1, 5000.0)[:2] == pytest.approx((3.0, 3.0))
    assert tolerance(LENGTH, 2, 5000.0)[:2] == pytest.approx((2.5, 2.5))
    assert tolerance(SQUARENESS, 1, 100.0).plus == pytest.approx(1.0)
    assert tolerance(SQUARENESS, 2, 90.0).plus == pytest.approx(0.3)
    assert tolerance(HOLE, 1)[:2] == (2.0, 2.0)
    assert tolerance(HOLE, 2)[:2] == (1.0, 1.0)
    assert tolerance(EDGE, 1)[:2] == (0.0, 3.0)
    assert tolerance(NOTCH, 2)[:2] == (0.0, 2.0)
    assert tolerance(SIZE, 2)[:2] == (0.5, 0.5)
    assert all("memory" in tolerance(item, 1).source for item in (LENGTH, HOLE, EDGE, NOTCH, SIZE, SQUARENESS))


@pytest.mark.parametrize(("functional", "limits"), [(1, "± 2.4"), (2, "± 2.2")])
def test_the_class_of_the_settings_is_printed(functional, limits):
    takeoff, dispatch = demo(TRESTLE)
    brace = next(p for p in takeoff.pieces if round(p.length) == 1845)  # models/README.md
    settings = Settings(inspection=InspectionSettings(functional_class=functional))
    pages = {page.name: page for page in first_piece.compose(takeoff, settings, dispatch.look_alikes)}
    rows = read_tables(pages[f"inspect {brace.mark}"])
    assert ["Length", "1845", limits] in rows  # 1845 / 5000 + 2 = 2.37, 1845 / 10000 + 2 = 2.18
    assert "from memory" in words_of([pages[f"inspect {brace.mark}"]])


def test_tables_of_what_leaves_the_shop():
    takeoff, dispatch = demo(MAST)
    frames = tables(takeoff, None, dispatch)
    for name, columns in DISPATCH_COLUMNS.items():
        assert list(frames[name].columns) == list(columns)
    assert frames["erection"]["quantity"].sum() == 163  # models/README.md
    ids = " ".join(frames["erection"]["global_ids"]).split()
    listed = [m.global_id for m, s in zip(takeoff.model.members, takeoff.member_status, strict=True) if s == LISTED]
    assert sorted(ids) == sorted(listed)
    assert frames["bundles"]["quantity"].sum() == 163
    assert frames["bolt_bags"]["quantity"].sum() == frames["bolts"]["to_order"].sum()
    assert frames["fasteners"]["node"].nunique() == sum(len(n.nodes) for n in dispatch.erection.nodes)


def test_what_would_be_empty_is_not_written(tmp_path):
    takeoff, _ = demo(TRESTLE)
    for name, pieces in (("full", takeoff.pieces), ("empty", ())):
        (tmp_path / name).mkdir()
        job = replace(takeoff, pieces=pieces) if pieces else replace(takeoff, pieces=(), joints=(), bolt_rows=())
        write_documents(job, SETTINGS, tmp_path / name)
    wanted = {"inspection.pdf", "erection.pdf", "packing.pdf", "tags.pdf"}
    assert wanted <= {path.name for path in (tmp_path / "full").iterdir()}
    assert not wanted & {path.name for path in (tmp_path / "empty").iterdir()}


def test_the_files_read_back_with_their_links(tmp_path):
    takeoff, _ = demo(TRESTLE)
    write_documents(takeoff, SETTINGS, tmp_path)
    reader = pypdf.PdfReader(tmp_path / "erection.pdf")
    pages = {page.indirect_reference.idnum for page in reader.pages}
    links = [a.get_object() for page in reader.pages for a in page.get("/Annots", [])]
    assert links
    assert {link.raw_get("/Dest").get_object()[0].idnum for link in links} <= pages
    text = "\n".join(page.extract_text() for page in reader.pages)
    assert "Level 1, from +0.000 m" in text
    assert len(pypdf.PdfReader(tmp_path / "inspection.pdf").pages) == 1 + len(takeoff.pieces)


def test_two_runs_give_the_same_bytes(tmp_path):
    takeoff, _ = demo(TRESTLE)
    settings = Settings(shipping=ShippingSettings(bundle_by="level", bags_by="assembly"))
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        write_documents(takeoff, settings, tmp_path / name)
    for path in sorted((tmp_path / "one").glob("*.pdf")):
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes(), path.name


def test_views_of_the_faces_name_what_stands_in_them():
    takeoff, dispatch = demo(MAST)
    pages = erection_list.compose(takeoff, SETTINGS, dispatch.erection)
    for view in dispatch.erection.views:
        drawn = [p for p in pages if p.name.startswith(f"face {view.side} ")]
        assert len(drawn) == -(-len(view.lines) // 60)
        printed = {text.text for page in drawn for text in page.texts()}
        marks = {line[0] for line in view.lines}
        lost = sum(int(t.rsplit(" ", 1)[1].rstrip(".")) for t in printed if t.startswith("Marks without room"))
        assert len(marks - printed) <= lost


def test_a_face_of_too_many_pieces_says_so():
    takeoff, dispatch = demo(TRESTLE)
    view = dispatch.erection.views[0]
    crowded = replace(dispatch.erection, views=(view._replace(lines=view.lines * 500),))
    assert "too many to draw here" in words_of(erection_list.compose(takeoff, SETTINGS, crowded)).replace("\n", " ")
