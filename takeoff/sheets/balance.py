"""The balance box: sums that must come out even, with their numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from takeoff.sheets import measure
from takeoff.sheets.flow import Flow
from takeoff.sheets.tables import Column, Row
from takeoff.words import decimal, say

WEIGHT_SHARE: Final = 1e-6
"""Weights summed two ways may differ by this share, the noise of adding thousands of numbers."""


@dataclass(frozen=True, slots=True)
class Check:
    """``what`` = sum of ``terms``: (number, words) each. ``even`` says whether it is."""

    what: str
    value: float
    terms: tuple[tuple[float, str], ...]
    unit: str = ""

    @property
    def even(self) -> bool:
        total = sum(value for value, _ in self.terms)
        return (
            abs(self.value - total) <= max(0.005, WEIGHT_SHARE * abs(self.value)) if self.unit else self.value == total
        )

    def text(self) -> str:
        figures = " + ".join(f"{self._figure(value)} {words}" for value, words in self.terms)
        return f"{self._figure(self.value)}{self.unit} = {figures}"

    def _figure(self, value: float) -> str:
        if self.unit:
            return measure.figure(value, 2)
        return decimal(f"{value:g}") if value != int(value) else str(int(value))


Rows = Sequence[tuple[str, str, Sequence[tuple[str, str]]]]
"""What is summed, its name in the balance, and the terms: names in the balance and their words."""


def _parts() -> Rows:
    return (
        (
            say("Parts in the model"),
            "parts_in_model",
            (
                ("parts_listed", say("listed")),
                ("parts_held", say("held")),
                ("parts_bought_out", say("bought out")),
                ("parts_left_out", say("left out")),
            ),
        ),
        (say("Holes of all pieces"), "holes_by_pieces", (("holes_by_members", say("member by member")),)),
        (
            say("Gross weight of all pieces"),
            "gross_weight_kg",
            (("gross_weight_from_members_kg", say("member by member")),),
        ),
        (
            say("Net weight of all pieces"),
            "net_weight_kg",
            (("net_weight_from_members_kg", say("member by member")),),
        ),
        (
            say("Net weight of all pieces"),
            "net_weight_kg",
            (("net_weight_from_assemblies_kg", say("assembly by assembly")),),
        ),
    )


def _bolts() -> Rows:
    return (
        (
            say("Bolts in the model"),
            "bolts_in_model",
            (
                ("bolts_listed", say("listed")),
                ("bolts_held", say("held")),
                ("bolts_bought_out", say("bought out")),
                ("bolts_left_out", say("left out")),
            ),
        ),
        (
            say("Plies over all bolts"),
            "plies_over_bolts",
            (("bolt_holes", say("holes for bolts")), ("bolt_holes_merged", say("second bolts in one hole"))),
        ),
    )


def _others() -> Mapping[str, str]:
    return {
        "fasteners_in_model": say("Fasteners in the model"),
        "fasteners_listed": say("Fasteners listed"),
        "surface_m2": say("Surface"),
        "bolt_weight_kg": say("Weight of the bolts"),
    }


_OPTIONAL: Final = frozenset(("bolts_bought_out", "bolt_holes_merged"))
"""Terms that a balance without such bolts need not hold."""


def _checks(balance: Mapping[str, float], rows: Rows) -> list[Check]:
    """The checks for which the balance holds the numbers."""
    made = []
    for what, whole, parts in rows:
        if whole in balance and all(name in balance or name in _OPTIONAL for name, _ in parts):
            terms = tuple((balance[name], words) for name, words in parts if name in balance)
            made.append(Check(what, balance[whole], terms, " kg" if whole.endswith("_kg") else ""))
    return made


def part_checks(balance: Mapping[str, float]) -> list[Check]:
    """Parts, holes and weights, each reached by two ways."""
    return _checks(balance, _parts())


def bolt_checks(balance: Mapping[str, float]) -> list[Check]:
    """Bolts of the model, and holes for bolts against plies."""
    return _checks(balance, _bolts())


def other_figures(balance: Mapping[str, float]) -> list[Row]:
    """Figures of the balance that stand in no check, in their own words."""
    every = (*_parts(), *_bolts())
    checked = {whole for _, whole, _ in every} | {name for _, _, parts in every for name, _ in parts}
    known = _others()
    rows = []
    for name, value in balance.items():
        if name in checked:
            continue
        unit = next((u for ending, u in (("_kg", " kg"), ("_m2", " m²")) if name.endswith(ending)), "")
        words = known.get(name) or name.removesuffix("_kg").removesuffix("_m2").replace("_", " ")
        plain = str(int(value)) if value == int(value) else decimal(f"{value:g}")
        figure = f"{measure.figure(value, 2)}{unit}" if unit else plain
        rows.append(Row((words[:1].upper() + words[1:], figure, "")))
    return rows


def set_balance(flow: Flow, checks: Sequence[Check], more: Sequence[Row] = ()) -> None:
    """The box: what, its sum, and whether it comes out even."""
    rows = [Row((check.what, check.text(), say("agrees") if check.even else say("DOES NOT AGREE"))) for check in checks]
    columns = (Column(say("Balance"), bold=True), Column(say("Figures"), flex=1.0), Column("", bold=True))
    flow.table(columns, [*rows, *more], 8.0)
