"""Bolts by joint and by node, alike ones once with their number."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import Final

from takeoff.dispatch import Erection, NodeBolts
from takeoff.order import natural
from takeoff.sheets.bolt_words import kind_words
from takeoff.sheets.flow import Flow
from takeoff.sheets.tables import TOTAL, Column, Row
from takeoff.sheets.wording import bolt_size, number, ranges
from takeoff.steel import BoltRow, Joint, Takeoff
from takeoff.words import say

MOST_RUNS: Final = 20
"""Runs of joint numbers printed of one group of alike joints; fasteners.csv has them all."""
WHERE: Final = "tables/fasteners.csv"

Bolt = tuple[float | None, float | None, str, float | None]
"""Diameter, length, grade, grip."""


def bolt_of(takeoff: Takeoff, row: BoltRow) -> Bolt:
    """What a row's bolts are told apart by on paper."""
    fastener = takeoff.model.fasteners[row.fastener]
    # to half millimetres: battered plies make every grip a little different, and no bolt is chosen closer
    grip = None if row.grip is None else round(row.grip * 2) / 2
    return fastener.diameter, row.length, fastener.grade, grip


def order_of(bolt: Bolt) -> tuple[float, float, str, float]:
    """A key that puts bolts in the order of the lists."""
    return bolt[0] or 0.0, bolt[1] or 0.0, bolt[2], bolt[3] or 0.0


def bolt_text(bolt: Bolt) -> str:
    """``M16 × 45 8.8``."""
    diameter, length, grade, _ = bolt
    size = bolt_size(diameter) or say("size not known")
    return f"{size} × {number(length) or say('length not known')}{' ' + grade if grade else ''}"


def set_joints(flow: Flow, takeoff: Takeoff) -> None:
    """Every kind of joint with its parts, bolts, grips and numbers."""
    flow.heading(say("By joint"))
    if not takeoff.joints:
        flow.paragraph(say("No joints."))
        return
    rows_of: dict[int, list[BoltRow]] = defaultdict(list)
    for row in takeoff.bolt_rows:
        if row.joint is not None:
            rows_of[row.joint].append(row)
    groups: dict[tuple[bool, int], list[Joint]] = defaultdict(list)
    for joint in takeoff.joints:
        groups[bool(joint.alike), joint.alike or joint.number].append(joint)
    joints_in_all = len(takeoff.joints)
    flow.paragraph(
        say(
            "{joints} of {kinds}. Joints alike are printed once, with how many there are. Grip is from outer face to "
            "outer face, to half a millimetre; tables/fasteners.csv has it closer.",
            joints=say("1 joint") if joints_in_all == 1 else say("{count} joints", count=joints_in_all),
            kinds=say("1 kind") if len(groups) == 1 else say("{count} kinds", count=len(groups)),
        )
    )
    columns = (
        Column(say("Kind"), "right"),
        Column(say("Joints"), "right", bold=True),
        Column(say("Joins"), flex=2.0),
        Column(say("Bolts in one"), "right", bold=True),
        Column(say("Bolt"), flex=1.0, bold=True),
        Column(say("Grip mm"), "right"),
        Column(say("Bolts in all"), "right"),
        Column(say("Numbers"), flex=1.0),
    )
    table: list[Row] = []
    total = 0
    ordered = sorted(groups.values(), key=lambda joints: joints[0].number)
    for kind, joints in enumerate(ordered, start=1):
        first = joints[0]
        made_of: Counter[Bolt] = Counter()
        for row in rows_of[first.number]:
            made_of[bolt_of(takeoff, row)] += row.bolts
        joins = _marks(takeoff, first.members)
        shown = ranges((joint.number for joint in joints), MOST_RUNS, WHERE)
        everything: Counter[Bolt] = Counter()
        for joint in joints:
            for row in rows_of[joint.number]:
                everything[bolt_of(takeoff, row)] += row.bolts
        lines = sorted(everything, key=order_of)
        for index, bolt in enumerate(lines):
            total += everything[bolt]
            lead = (str(kind), str(len(joints)), joins) if index == 0 else ("", "", "")
            one = str(made_of[bolt]) if everything[bolt] == made_of[bolt] * len(joints) else say("varies")
            cells = (*lead, one, bolt_text(bolt), number(bolt[3]), str(everything[bolt]))
            table.append(Row((*cells, shown if index == 0 else "")))
        if not lines:
            table.append(Row((str(kind), str(len(joints)), joins, "0", "", "", "0", shown)))
    table.append(Row(("", "", say("All"), "", "", "", str(total), ""), TOTAL))
    flow.table(columns, table, 7.0)


def _marks(takeoff: Takeoff, members: Iterable[int]) -> str:
    """Piece marks of the members joined, with how many of each."""
    counted: Counter[str] = Counter()
    for member in members:
        counted[takeoff.member_marks[member] or takeoff.model.members[member].name or say("without a mark")] += 1
    return marks_words(counted.items())


def marks_words(counted: Iterable[tuple[str, int]]) -> str:
    """``2 × A3 + P1``."""
    ordered = sorted(counted, key=lambda item: natural(item[0]))
    return " + ".join(mark if many == 1 else f"{many} × {mark}" for mark, many in ordered)


def set_nodes(flow: Flow, plan: Erection) -> None:
    """Every kind of node with what meets in it, its bolts and numbers; alike ones of all levels together."""
    groups: dict[tuple[object, ...], list[NodeBolts]] = defaultdict(list)
    for node in plan.nodes:
        if node.nodes:
            groups[node.marks, node.bolts].append(node)
    if not groups:
        return
    flow.heading(say("By node"))
    flow.paragraph(
        say(
            "A node is where members meet: joints whose bolts follow each other along a member. Nodes alike are "
            "printed once, with how many there are; erection.pdf has them level by level."
        )
    )
    columns = (
        Column(say("Kind"), "right"),
        Column(say("Nodes"), "right", bold=True),
        Column(say("What meets"), flex=2.0),
        Column(say("Bolts in one"), "right", bold=True),
        Column(say("Bolt"), flex=1.2, bold=True),
        Column(say("Grip mm"), "right"),
        Column(say("Bolts in all"), "right"),
        Column(say("Numbers"), flex=0.8),
    )
    table: list[Row] = []
    total = 0
    ordered = sorted(groups.values(), key=lambda alike: min(n.nodes[0] for n in alike))
    for kind, alike in enumerate(ordered, start=1):
        numbers = [n for node in alike for n in node.nodes]
        for index, (bolt, grip, each) in enumerate(alike[0].bolts):
            total += each * len(numbers)
            lead = (str(kind), str(len(numbers)), marks_words(alike[0].marks)) if index == 0 else ("", "", "")
            shown = ranges(numbers, MOST_RUNS, WHERE) if index == 0 else ""
            cells = (*lead, str(each), kind_words(bolt), number(grip), str(each * len(numbers)), shown)
            table.append(Row(cells))
    table.append(Row(("", "", say("All"), "", "", "", str(total), ""), TOTAL))
    flow.table(columns, table, 7.0)
