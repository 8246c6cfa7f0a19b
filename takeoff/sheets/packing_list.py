"""packing.pdf: bundles and boxes with what is in them, and what is in none."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from takeoff.dispatch import Bundle, Dispatch
from takeoff.settings import Settings
from takeoff.sheets import draw, measure
from takeoff.sheets.adding import add_up
from takeoff.sheets.flow import Flow
from takeoff.sheets.furniture import imprint, number_pages
from takeoff.sheets.measure import measuring
from takeoff.sheets.page import Page
from takeoff.sheets.places import level_words
from takeoff.sheets.tables import GROUP, TOTAL, Column, Row
from takeoff.sheets.wording import designation
from takeoff.steel import Piece, Takeoff
from takeoff.words import decimal, say, speaking

NUMBER_WIDTH: Final = 52.0


def packing(takeoff: Takeoff, settings: Settings, dispatch: Dispatch, path: Path) -> bool:
    """Write packing.pdf. False, and no file, where nothing is packed. OSError where it cannot be written."""
    if not dispatch.bundles:
        return False
    with speaking(settings.documents.language), measuring(settings.documents):
        draw.write(compose(takeoff, settings, dispatch), path, say("Packing list"))
    return True


def compose(takeoff: Takeoff, settings: Settings, dispatch: Dispatch) -> list[Page]:
    """The pages of packing.pdf."""
    head = imprint(takeoff, settings, say("Packing list"))
    flow = Flow(head, name="packing", entry=say("Packing list"))
    pieces = {piece.mark: piece for piece in takeoff.pieces}
    shipping = settings.shipping
    flow.heading(say("Packing list"), 16.0)
    flow.paragraph(
        say(
            "Bundles and boxes of at most {weight} kg and {length}; pieces up to {box} go in boxes. The shortest piece "
            "of a bundle is no less than {share} % of its longest. The settings say so ([shipping]). Pieces are packed "
            "by themselves, not in the model's assemblies. Weights are net, with zinc where it is known; a line is "
            "rounded so that the lines of a bundle add up to it.",
            weight=decimal(f"{shipping.bundle_kg:g}"),
            length=measure.with_unit(shipping.bundle_mm),
            box=measure.with_unit(shipping.box_mm),
            share=f"{100 * shipping.shortest_share:.0f}",
        )
    )
    totals = dict(
        zip((b.number for b in dispatch.bundles), add_up([b.weight for b in dispatch.bundles], 2), strict=True)
    )
    _bundles(flow, dispatch, pieces, totals)
    _contents(flow, dispatch, pieces, totals)
    _unpacked(flow, dispatch, pieces)
    number_pages(flow.pages, head)
    return flow.pages


def bundle_name(bundle: Bundle) -> str:
    """``Bundle 3``, ``Box 4``, ``Piece 5`` for one beyond the limits."""
    if bundle.over:
        return say("Piece {number}", number=bundle.number)
    return say("Box {number}", number=bundle.number) if bundle.boxed else say("Bundle {number}", number=bundle.number)


def _remark(bundle: Bundle) -> str:
    found = []
    if "length" in bundle.over:
        found.append(say("longer than a bundle may be"))
    if "weight" in bundle.over:
        found.append(say("heavier than a bundle may be"))
    return "; ".join(found)


def _what(bundle: Bundle, pieces: Mapping[str, Piece]) -> str:
    if bundle.section:
        return designation(pieces[bundle.lines[0][0]].section)
    return say("small pieces") if bundle.boxed else say("plates")


def _bundles(flow: Flow, dispatch: Dispatch, pieces: Mapping[str, Piece], totals: Mapping[int, float]) -> None:
    levels = {level.number: level for level in dispatch.erection.levels}
    remarks = any(bundle.over for bundle in dispatch.bundles)
    leveled = any(bundle.level for bundle in dispatch.bundles)
    finished = any(bundle.finish for bundle in dispatch.bundles)
    columns = (
        Column(say("No."), bold=True, least=NUMBER_WIDTH),
        Column(say("What"), flex=1.0),
        *((Column(say("Finish"), flex=0.5),) if finished else ()),
        *((Column(say("For"), flex=0.8),) if leveled else ()),
        Column(say("Marks"), "right"),
        Column(say("Pieces"), "right"),
        Column(say("Length {unit}", unit="" if measure.inches() else "mm").strip(), "right"),
        Column(say("kg"), "right", bold=True),
        *((Column(say("Remark"), flex=1.0),) if remarks else ()),
    )
    rows = []
    for bundle in dispatch.bundles:
        rows.append(
            Row(
                (
                    bundle_name(bundle),
                    _what(bundle, pieces),
                    *((bundle.finish,) if finished else ()),
                    *((level_words(bundle.level, levels) if bundle.level else "",) if leveled else ()),
                    str(len(bundle.lines)),
                    str(bundle.pieces),
                    measure.length(bundle.length),
                    measure.figure(totals[bundle.number], 2),
                    *((_remark(bundle),) if remarks else ()),
                ),
                link=f"bundle {bundle.number}",
            )
        )
    rows.append(
        Row(
            (
                say("All"),
                "",
                *(("",) if finished else ()),
                *(("",) if leveled else ()),
                "",
                str(sum(b.pieces for b in dispatch.bundles)),
                "",
                measure.figure(sum(totals.values()), 2),
                *(("",) if remarks else ()),
            ),
            TOTAL,
        )
    )
    flow.table(columns, rows)


def _contents(flow: Flow, dispatch: Dispatch, pieces: Mapping[str, Piece], totals: Mapping[int, float]) -> None:
    flow.heading(say("What is in them"), 12.0, 60.0)
    columns = (
        Column(say("Mark"), bold=True, least=NUMBER_WIDTH),
        Column(say("Pieces"), "right", bold=True),
        Column(say("Section"), flex=1.0),
        Column(say("Grade"), flex=0.6),
        Column(say("Length {unit}", unit="" if measure.inches() else "mm").strip(), "right"),
        Column(say("kg"), "right"),
        Column(say("Packed"), flex=0.5),
    )
    # what is alike but for its number stands once: a hundred pieces too long for a bundle are one line
    for bundle in dispatch.bundles:
        weights = [(pieces[mark].net + pieces[mark].zinc) * many for mark, many in bundle.lines]
        rows = [Row((f"{bundle_name(bundle)} · {_what(bundle, pieces)}",), GROUP)]
        rows += [
            Row(
                (
                    mark,
                    str(many),
                    designation(pieces[mark].section),
                    pieces[mark].grade,
                    measure.length(pieces[mark].length),
                    measure.figure(weight, 2),
                    "",
                )
            )
            for (mark, many), weight in zip(bundle.lines, _shares(weights, totals[bundle.number]), strict=True)
        ]
        weight_of_all = measure.figure(totals[bundle.number], 2)
        rows.append(Row((say("All"), str(bundle.pieces), "", "", "", weight_of_all, ""), TOTAL))
        flow.need(60.0)
        flow.page.more.append((f"bundle {bundle.number}", bundle_name(bundle), 1))
        flow.table(columns, rows, 7.0)


def _shares(weights: list[float], total: float) -> list[float]:
    """Lines that add up to the bundle's own figure, which may be a hundredth off for the sake of the total."""
    rounded = add_up(weights, 2)
    off = round(total - sum(rounded), 2)
    if off:
        largest = max(range(len(weights)), key=lambda k: weights[k])
        rounded[largest] = round(rounded[largest] + off, 2)
    return rounded


def _unpacked(flow: Flow, dispatch: Dispatch, pieces: Mapping[str, Piece]) -> None:
    if not dispatch.unpacked:
        return
    reasons = {"held": say("on hold"), "weight": say("weight not known")}
    why: Counter[str] = Counter()
    rows = []
    for mark, many, reason in dispatch.unpacked:
        why[reason] += many
        rows.append(Row((mark, str(many), designation(pieces[mark].section), reasons[reason])))
    rows.append(Row((say("All"), str(sum(why.values())), "", ""), TOTAL))
    flow.heading(say("In no bundle"), 12.0, 50.0)
    columns = (
        Column(say("Mark"), bold=True, least=NUMBER_WIDTH),
        Column(say("Pieces"), "right", least=NUMBER_WIDTH),
        Column(say("Section"), flex=1.0),
        Column(say("Why"), flex=1.0),
    )
    flow.table(columns, rows)
