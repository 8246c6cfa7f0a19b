"""From a takeoff to bars: batches, held pieces, rounding, stock of the shop, queries, tables and sheets."""

import itertools
import math
import random
import re
from collections import Counter
from dataclasses import replace

import pypdf
import pytest
from small_job import ANGLE_FACES, ANGLE_SECTION, FLAT_SECTION, small_job

from takeoff.bars import plan_bars
from takeoff.columns import BAR_COLUMNS
from takeoff.documents import bars_of
from takeoff.lists import tables
from takeoff.plans import BarPattern, BarPiece
from takeoff.settings import BarSettings, Settings
from takeoff.sheets import bar_plan
from takeoff.sheets.bar_drawing import layout
from takeoff.sheets.page import Text
from takeoff.steel import HELD, PLATE, Piece, Section

SHOP = BarSettings(grip_mm=0.0, kerf_mm=4.0, front_trim_mm=10.0, end_trim_mm=20.0, keep_mm=800.0)


def piece(mark, length, quantity, *, section=ANGLE_SECTION, **more):
    grade = more.pop("grade", "S355J2")
    finish = more.pop("finish", "")
    members = tuple(0 for _ in range(quantity))
    return Piece(mark, section, grade, finish, length, (), (), ANGLE_FACES, (), members=members, **more)


def job(*pieces):
    return replace(small_job(queries=False), pieces=pieces)


def cut(bars):
    counts = Counter()
    for plan in bars.plans:
        for pattern in plan.patterns:
            for mark, many in pattern.marks().items():
                counts[mark] += many * pattern.times
    return dict(counts)


def test_one_plan_for_each_section_grade_and_finish_and_none_for_plates():
    sheet = Section(PLATE, "PL 12", 300.0, 12.0, 12.0)
    bars = plan_bars(
        job(
            piece("A1", 1500.0, 3),
            piece("A2", 1500.0, 3, grade="S235JR"),
            piece("A3", 1500.0, 3, finish="galvanised"),
            piece("F1", 400.0, 2, section=FLAT_SECTION),
            piece("P1", 400.0, 2, section=sheet),
        ),
        SHOP,
    )
    assert [(p.section.designation, p.grade, p.finish) for p in bars.plans] == [
        ("L 100x100x8", "S235JR", ""),
        ("L 100x100x8", "S355J2", ""),
        ("L 100x100x8", "S355J2", "galvanised"),
        ("FL 80x10", "S355J2", ""),
    ]
    assert cut(bars) == {"A1": 3, "A2": 3, "A3": 3, "F1": 2}
    numbers = [pattern.number for plan in bars.plans for pattern in plan.patterns]
    assert numbers == list(range(1, len(numbers) + 1))


def test_held_pieces_wait():
    bars = plan_bars(job(piece("A1", 1500.0, 3), piece("A2", 900.0, 2, status=HELD)), SHOP)
    assert bars.waiting == (("A2", 2),)
    assert cut(bars) == {"A1": 3}


def test_pieces_lie_one_behind_the_other_with_their_true_lengths():
    bars = plan_bars(job(piece("A1", 1500.4, 2), piece("A2", 1200.0, 1)), replace(SHOP, lengths_mm=(6000.0,)))
    (pattern,) = bars.plans[0].patterns
    assert [p.mark for p in pattern.pieces] == ["A1", "A1", "A2"]
    starts = [p.start for p in pattern.pieces]
    stops = [p.stop for p in pattern.pieces]
    assert starts[0] == 10.0  # the front trim
    assert stops == pytest.approx([1510.4, 3014.8, 4218.8])
    assert [b - a for a, b in zip(stops, starts[1:], strict=False)] == pytest.approx([4.0, 4.0])
    # the plan rounds pieces up to whole mm: 10 + 1501 + 4 + 1501 + 4 + 1200 + 4
    assert pattern.offcut == 6000 - 4224
    assert pattern.kept


def test_the_grip_keeps_its_length_and_the_kerf_before_it():
    one = job(piece("A1", 2795.0, 2))
    shop = replace(SHOP, lengths_mm=(6000.0,), grip_mm=392.0)
    # 10 + 2795 + 4 + 2795 + 4 = 5608, which leaves 392 for the grip
    (pattern,) = plan_bars(one, shop).plans[0].patterns
    assert (pattern.times, pattern.offcut) == (1, 392)
    assert plan_bars(one, replace(shop, grip_mm=393.0)).plans[0].bars == 2


def test_pieces_longer_than_any_bar_are_one_query_and_in_no_plan():
    takeoff = job(piece("A10", 13_000.0, 1), piece("A1", 11_970.5, 2), piece("A2", 11_970.0, 1))
    bars = plan_bars(takeoff, SHOP)
    (query,) = bars.queries
    assert (query.code, query.piece_mark, query.severity) == ("bar-too-short", "", "check")
    # 12 000 - 10 - 20
    assert "2 x A1 of 11970.5 mm, 1 x A10 of 13000 mm. The longest piece that a bar of 12000 mm gives is 11970 mm" in (
        query.message
    )
    assert query.global_ids == (takeoff.model.members[0].global_id,)
    assert bars.plans[0].too_long == ("A10", "A1")
    assert cut(bars) == {"A2": 1}


def test_a_query_about_one_mark_names_it():
    (query,) = plan_bars(job(piece("A1", 11_970.5, 2), piece("A2", 11_970.0, 1)), SHOP).queries
    assert query.piece_mark == "A1"


def test_too_few_bars_are_one_query_with_the_pieces_that_stay_uncut():
    shop = replace(SHOP, lengths_mm=(6000.0,), available={"6000": 1})
    bars = plan_bars(job(piece("A1", 5000.0, 3), piece("A2", 5100.0, 2)), shop)
    (query,) = bars.queries
    assert (query.code, query.piece_mark) == ("bars-not-enough", "")
    missing = dict(bars.plans[0].not_cut)
    assert sum(missing.values()) == 4
    for mark, many in missing.items():
        assert f"{many} x {mark}" in query.message


def test_two_finishes_of_a_section_share_its_limit_of_new_bars():
    shop = replace(SHOP, lengths_mm=(6000.0,), available={"6000": 3})
    bars = plan_bars(job(piece("A1", 5000.0, 2), piece("A2", 5000.0, 2, finish="painted")), shop)
    assert sum(line.bars for line in bars.order) == 3
    (query,) = bars.queries
    assert (query.code, query.piece_mark) == ("bars-not-enough", "A2")
    assert "1 x A2" in query.message


def test_prices_of_some_lengths_only_are_refused():
    with pytest.raises(ValueError, match="none for 12000 mm"):
        plan_bars(job(piece("A1", 1500.0, 3)), replace(SHOP, prices={"6000": 36.0}))


def test_a_second_plan_of_fewer_patterns_cuts_the_same_pieces():
    """Thirty lengths drawn at random: about as many patterns, and half of them where a few bars more are taken."""
    draw = random.Random(1)
    pieces = [piece(f"A{n}", float(draw.randrange(400, 5900)), draw.randrange(1, 40)) for n in range(1, 31)]
    bars = plan_bars(job(*pieces), replace(SHOP, lengths_mm=(12000.0,)))
    (plan,) = bars.plans
    second = plan.second
    assert second is not None
    assert len(second.patterns) < len(plan.patterns)
    assert 0.0 < second.extra_cost <= 0.02
    assert second.bars * 12000 == pytest.approx(plan.cost * (1.0 + second.extra_cost))
    lengths = {p.mark: math.ceil(p.length) for p in pieces}
    made = Counter()
    for pattern in second.patterns:
        used = sum(n * (lengths[mark] + 4) for mark, n in pattern.marks) - 4
        assert 10 + used + 20 <= pattern.stock_length == 12000
        for mark, n in pattern.marks:
            made[mark] += n * pattern.times
    assert made == {p.mark: p.quantity for p in pieces}


def test_offcuts_in_stock_are_used_first_and_only_once():
    shop = replace(SHOP, in_stock={"L 100x100x8, S355J2, 2100": 1, "L 100x100x8, S235JR, 2100": 5})
    bars = plan_bars(job(piece("A1", 2000.0, 1), piece("A2", 2000.0, 1, finish="painted")), shop)
    used = [(p.finish, q.in_stock, q.stock_length) for p in bars.plans for q in p.patterns]
    assert used == [("", True, 2100), ("painted", False, 6000)]
    assert [line.in_stock for line in bars.order] == [True, False]


def test_bars_in_stock_count_a_share_of_the_cheapest_new_bar_in_the_same_money():
    # new: 36 for 6 m is 0.006 a mm, 84 for 12 m is 0.007; half of 0.006 x 2100 is 6.3
    money = replace(SHOP, prices={"6000": 36.0, "12000": 84.0}, in_stock={"L 100x100x8, S355J2, 2100": 1})
    bars = plan_bars(job(piece("A1", 2000.0, 1)), money)
    assert [(p.in_stock, p.stock_length) for p in bars.plans[0].patterns] == [(True, 2100)]
    assert bars.plans[0].cost == pytest.approx(6.3)


@pytest.mark.parametrize(
    "fraction",
    [{"kerf_mm": 2.5}, {"front_trim_mm": 7.5}, {"end_trim_mm": 0.5}, {"grip_mm": 99.9}, {"lengths_mm": (6000.5,)}],
)
def test_fractions_of_a_mm_in_the_settings_are_refused_and_not_rounded(fraction):
    with pytest.raises(ValueError, match="whole mm"):
        plan_bars(job(piece("A1", 1500.0, 3)), replace(SHOP, **fraction))


def test_bars_in_stock_of_a_section_that_the_job_has_not_are_asked_about():
    rack = {
        "L 100x100x8, S355J2, 2100": 1,
        "L100x100x8, S355J2, 2100": 2,
        "L100x100x8, S355J2, 900": 2,
        "L 100x100x8, S275, 900": 1,
        "L 50x50x5, S355J2, 900": 0,
    }
    takeoff = job(piece("A1", 2000.0, 1), piece("F1", 400.0, 1, section=FLAT_SECTION, status=HELD))
    (query,) = plan_bars(takeoff, replace(SHOP, in_stock=rack)).queries
    assert (query.code, query.severity) == ("bars-in-stock-no-section", "check")
    assert query.message.endswith(": L100x100x8 S355J2; L 100x100x8 S275.")
    # a held piece's section is one of the job's
    assert plan_bars(takeoff, replace(SHOP, in_stock={"FL 80x10, S355J2, 900": 1})).queries == ()


def test_a_piece_that_is_too_long_takes_the_bound_from_nothing_else():
    (plan,) = plan_bars(job(piece("A1", 2900.0, 9), piece("A2", 7000.0, 1)), replace(SHOP, lengths_mm=(6000.0,))).plans
    assert (plan.too_long, plan.bars, plan.least_bars, plan.proved) == (("A2",), 5, 5, True)


def test_a_shop_without_new_bars_cuts_what_it_has_and_asks_about_the_rest():
    shop = replace(SHOP, lengths_mm=(), in_stock={"L 100x100x8, S355J2, 2100": 1}, in_stock_price=0.0)
    bars = plan_bars(job(piece("A1", 2000.0, 2), piece("F1", 400.0, 1, section=FLAT_SECTION)), shop)
    assert cut(bars) == {"A1": 1}
    assert [(q.code, q.piece_mark) for q in bars.queries] == [("bars-not-enough", "A1"), ("bars-not-enough", "F1")]


def test_default_stock_is_asked_about_once_and_a_shops_own_is_not():
    pieces = job(piece("A1", 1500.0, 3), piece("F1", 400.0, 2, section=FLAT_SECTION))
    assert [q.code for q in plan_bars(pieces, BarSettings()).queries] == ["bars-assumed"]
    assert plan_bars(pieces, SHOP).queries == ()
    assert plan_bars(job(), BarSettings()).queries == ()


def test_bars_to_order_with_their_weight_and_the_least_number():
    bars = plan_bars(job(piece("A1", 2900.0, 9)), replace(SHOP, lengths_mm=(6000.0,)))
    (line,) = bars.order
    assert (line.bars, line.least_bars) == (5, 5)
    # EN 10056-1: L 100x100x8 weighs 12.2 kg/m
    assert line.weight == pytest.approx(5 * 6.0 * 12.2)


def test_the_least_number_of_one_length_is_what_the_bound_leaves_for_it():
    # a piece of 5970 fills a 6 m bar, one of 7000 has a 12 m bar to itself
    bars = plan_bars(job(piece("A1", 5970.0, 3), piece("A2", 7000.0, 2)), SHOP)
    assert [(line.stock_length, line.bars, line.least_bars) for line in bars.order] == [(6000, 3, 3), (12000, 2, 2)]
    assert bars.plans[0].least_bars is None
    assert bars.plans[0].in_mm


def test_marks_name_their_patterns():
    bars = plan_bars(job(piece("A1", 5000.0, 1), piece("A2", 5500.0, 2), piece("A3", 400.0, 1)), SHOP)
    of_mark = bars.of_mark()
    assert set(of_mark) == {"A1", "A2", "A3"}
    for plan in bars.plans:
        for pattern in plan.patterns:
            assert all(pattern.number in of_mark[mark] for mark in pattern.marks())


@pytest.fixture
def planned():
    takeoff = job(
        piece("A1", 1733.3, 7), piece("A2", 805.0, 11), piece("A3", 90.0, 6), piece("A4", 700.0, 1, status=HELD)
    )
    bars, takeoff = bars_of(takeoff, Settings(bars=SHOP))
    return takeoff, bars


def test_the_tables_cut_exactly_what_is_not_held(planned):
    takeoff, bars = planned
    frames = tables(takeoff, bars)
    assert list(frames)[-2:] == list(BAR_COLUMNS)
    rows = frames["bars"]
    cut_in_all = (rows["times"] * rows["quantity"]).groupby(rows["piece_mark"]).sum().to_dict()
    assert cut_in_all == {"A1": 7, "A2": 11, "A3": 6}
    for _, bar in rows.groupby("pattern"):
        first = bar.iloc[0]
        pieces = int(bar["quantity"].sum())
        used = sum(n * math.ceil(length) for n, length in zip(bar["quantity"], bar["piece_length_mm"], strict=True))
        assert first["offcut_mm"] == first["stock_length_mm"] - 10 - used - 4 * pieces
        assert first["offcut_mm"] >= 20 - 4
        assert (first["offcut_kept"] == "yes") == (first["offcut_mm"] >= 800)
    order = frames["order"]
    assert order["bars"].sum() == rows.drop_duplicates("pattern")["times"].sum()
    assert set(rows["heat"]) | set(rows["certificate"]) | set(order["heat"]) | set(order["certificate"]) == {""}
    assert list(tables(takeoff)) == [name for name in frames if name not in BAR_COLUMNS]


def test_patterns_are_drawn_to_scale_within_the_page(planned):
    takeoff, bars = planned
    pages = bar_plan.compose(takeoff, Settings(bars=SHOP), bars)
    for page in pages:
        for item in page.texts():
            x0, y0, x1, y1 = item.box()
            assert x0 >= 0
            assert y0 >= 0
            assert x1 <= page.width
            assert y1 <= page.height
            assert item.size >= 6.5
    words = " ".join(item.text for page in pages for item in page.items if isinstance(item, Text))
    for plan in bars.plans:
        for pattern in plan.patterns:
            assert f"Pattern {pattern.number}:" in words
    assert "1 piece of 1 mark on hold" in words
    assert "1 × A4" in words


def drawn(*runs, stock=12000):
    """A bar of runs (mark, length, how many) as drawn on A4, and its pattern."""
    placed, at = [], 10.0
    for mark, length, many in runs:
        for _ in range(many):
            placed.append(BarPiece(mark, float(length), at, at + length))
            at += length + 3
    pattern = BarPattern(1, stock, False, 1, tuple(placed), int(stock - at), False)
    # A4 upright less its margins
    return layout(pattern, 50.0, 560.0, 510.0 / 12000), pattern


def named_pieces(drawing):
    """How many pieces of each mark the words in and under a bar name."""
    counts = Counter()
    texts = [item for item in drawing.items(700.0) if isinstance(item, Text)]
    counts.update(item.text for item in texts if item.bold)
    for item in texts:
        for entry in re.split(r" {4}", item.text):
            many, mark = (
                re.match(r"(?:\d+: )?(?:(\d+) × )?([A-Z]\d+), \d+", entry).groups() if "," in entry else (0, "")
            )
            if mark:
                counts[mark] += int(many or 1)
    return counts


NARROW = [("P7", 320, 15)]
MIXED = [("A1", 3000, 1), ("P7", 320, 15), ("P8", 90, 20), ("P9", 85, 1)]
CROWDED = [(f"N{n}", 260 - 2 * n, 1 + n % 3) for n in range(24)]
THREADS = [("A1", 9000, 1), *((f"T{n}", 80 - n, 1) for n in range(30))]


@pytest.mark.parametrize("runs", [NARROW, MIXED, CROWDED, THREADS])
def test_every_piece_of_a_bar_is_named_in_print(runs):
    drawing, pattern = drawn(*runs)
    assert named_pieces(drawing) == Counter(piece.mark for piece in pattern.pieces)
    texts = [item for item in drawing.items(700.0) if isinstance(item, Text)]
    for one, other in itertools.combinations([text.box() for text in texts], 2):
        # letters of two words never lie over each other (their boxes hold the room below the line too)
        assert one[2] <= other[0] + 0.1 or other[2] <= one[0] + 0.1 or one[3] <= other[1] + 2 or other[3] <= one[1] + 2
    for text in texts:
        x0, y0, x1, _ = text.box()
        assert x0 >= 50.0 - 0.1
        assert x1 <= 560.0 + 0.1
        assert y0 >= 700.0 - drawing.height - 1.0
        assert text.size >= 7.0


def test_a_row_of_like_narrow_pieces_is_named_once_with_its_number():
    drawing, _ = drawn(*NARROW)
    assert "15 × P7, 320 each" in [item.text for item in drawing.items(700.0) if isinstance(item, Text)]


def test_the_office_has_the_last_pages_and_the_shops_carry_no_bound(planned):
    takeoff, bars = planned
    pages = bar_plan.compose(takeoff, Settings(bars=SHOP), bars)
    office = next(i for i, page in enumerate(pages) if page.name == "office")
    texts = [" ".join(item.text for item in page.texts()) for page in pages]
    assert "For the office" in texts[office]
    assert "leave these pages out" in texts[office]
    assert "at least" in " ".join(texts[office:])
    assert "by mark" in " ".join(texts[office:])
    for text in texts[:office]:
        assert "at least" not in text
        assert "least" not in text.split()
    assert "running" in [page.name for page in pages[:office]]


def test_the_second_plan_is_printed_in_full_for_the_office():
    draw = random.Random(1)
    pieces = [piece(f"A{n}", float(draw.randrange(400, 5900)), draw.randrange(1, 40)) for n in range(1, 31)]
    settings = Settings(bars=replace(SHOP, lengths_mm=(12000.0,)))
    bars, takeoff = bars_of(job(*pieces), settings)
    second = bars.plans[0].second
    pages = bar_plan.compose(takeoff, settings, bars)
    office = next(i for i, page in enumerate(pages) if page.name == "office")
    words = " ".join(item.text for page in pages[office:] for item in page.texts())
    assert "Plans with fewer patterns" in words
    assert f"{len(second.patterns)} patterns, {second.bars} bars, {second.extra_cost * 100:.2f} % dearer" in words
    for pattern in second.patterns:
        assert ", ".join(f"{many} × {mark}" for mark, many in pattern.marks) in words


def test_the_pdf_reads_back_and_two_are_alike(planned, tmp_path):
    takeoff, bars = planned
    for name in ("a.pdf", "b.pdf"):
        bar_plan.bars(takeoff, Settings(bars=SHOP), bars, tmp_path / name)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "a.pdf").pages)
    assert "Running order" in text
    for section in ("L 100 × 100 × 8", "Heat", "Certificate"):
        assert section in text
    for mark in ("A1", "A2", "A3"):
        assert mark in text


def test_a_job_without_bars_says_so():
    takeoff = job()
    bars, _ = bars_of(takeoff, Settings())
    (page,) = bar_plan.compose(takeoff, Settings(), bars)
    assert any("No bars" in item.text for item in page.texts())
