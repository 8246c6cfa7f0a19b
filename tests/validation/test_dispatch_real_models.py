"""What leaves the shop, on every public model near the project: nothing lost, order proved, pages whole."""

from __future__ import annotations

import re
from collections import Counter

import pytest
from real_models import taken
from test_real_models import MODELS

from takeoff.boltbags import line_kind
from takeoff.documents import dispatch_of
from takeoff.settings import DocumentSettings, Settings
from takeoff.sheets import bolt_list, erection_list, first_piece, packing_list, weight_list
from takeoff.sheets.bundle_tags import compose as tag_pages
from takeoff.sheets.page import Text, extent
from takeoff.steel import HELD

SETTINGS = Settings(documents=DocumentSettings(paper="Letter"))


@pytest.mark.parametrize("name", MODELS)
def test_every_piece_stands_and_is_packed_once(name: str) -> None:
    takeoff = taken(name)
    dispatch, _ = dispatch_of(takeoff, SETTINGS)
    stood = Counter(m for stand in dispatch.erection.stands for m in stand.members)
    assert sorted(stood.elements()) == sorted(m for piece in takeoff.pieces for m in piece.members)
    packed: Counter[str] = Counter({mark: many for mark, many, _ in dispatch.unpacked})
    for bundle in dispatch.bundles:
        packed.update(dict(bundle.lines))
    assert packed == {piece.mark: piece.quantity for piece in takeoff.pieces}
    held = {piece.mark for piece in takeoff.pieces if piece.status == HELD}
    assert not held & {mark for bundle in dispatch.bundles for mark, _ in bundle.lines}


@pytest.mark.parametrize("name", MODELS)
def test_bags_and_nodes_add_up_to_the_order(name: str) -> None:
    takeoff = taken(name)
    dispatch, _ = dispatch_of(takeoff, SETTINGS)
    bags: Counter[object] = Counter()
    for bag in dispatch.bags:
        for line in bag.lines:
            bags[line.kind] += line.bolts
    assert bags == {line_kind(line): line.to_order for line in takeoff.bolt_lines}
    nodes: Counter[object] = Counter()
    for node in dispatch.erection.nodes:
        for kind, _, each in node.bolts:
            nodes[kind] += each * max(1, len(node.nodes))
    assert nodes == {line_kind(line): line.quantity for line in takeoff.bolt_lines}


@pytest.mark.parametrize("name", MODELS)
def test_pages_hold_what_is_printed_and_no_sum_is_off(name: str) -> None:
    takeoff = taken(name)
    dispatch, _ = dispatch_of(takeoff, SETTINGS)
    pages = [
        *erection_list.compose(takeoff, SETTINGS, dispatch.erection),
        *packing_list.compose(takeoff, SETTINGS, dispatch),
        *tag_pages(takeoff, SETTINGS, dispatch),
        *first_piece.compose(takeoff, SETTINGS, dispatch.look_alikes),
        *bolt_list.compose(takeoff, SETTINGS, dispatch),
        *weight_list.compose(takeoff, SETTINGS, dispatch),
    ]
    for page in pages:
        x0, y0, x1, y1 = extent(page.items)
        assert min(x0, y0) >= 0
        assert x1 <= page.width
        assert y1 <= page.height
        for text in (item.text for item in page.items if isinstance(item, Text)):
            assert "DOES NOT AGREE" not in text
            assert not re.search(r"\bnan\b|\binf\b|\bNone\b", text)
