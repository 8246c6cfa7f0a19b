"""The balance box: sums that must come out even, with their numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from takeoff.sheets.flow import Flow
from takeoff.sheets.tables import Column, Row

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
        return f"{value:.2f}" if self.unit else f"{value:g}" if value != int(value) else str(int(value))


def _check(
    balance: Mapping[str, float], what: str, whole: str, parts: Sequence[tuple[str, str]], unit: str = ""
) -> list[Check]:
    """The check, where the balance holds its numbers."""
    if whole not in balance or not all(name in balance for name, _ in parts):
        return []
    return [Check(what, balance[whole], tuple((balance[name], words) for name, words in parts), unit)]


def part_checks(balance: Mapping[str, float]) -> list[Check]:
    """Parts of the model and weights."""
    return [
        *_check(
            balance,
            "Parts in the model",
            "parts_in_model",
            (
                ("parts_listed", "listed"),
                ("parts_held", "held"),
                ("parts_bought_out", "bought out"),
                ("parts_left_out", "left out"),
            ),
        ),
        *_check(
            balance,
            "Net weight, pieces × quantity",
            "net_weight_kg",
            (("net_weight_from_members_kg", "summed over the members"),),
            " kg",
        ),
    ]


def bolt_checks(balance: Mapping[str, float]) -> list[Check]:
    """Bolts of the model, and holes for bolts against plies."""
    return [
        *_check(
            balance,
            "Bolts in the model",
            "bolts_in_model",
            (("bolts_listed", "listed"), ("bolts_held", "held"), ("bolts_left_out", "left out")),
        ),
        *_check(
            balance,
            "Holes for bolts, all pieces",
            "bolt_holes",
            (("plies_over_bolts", "plies over all bolts"),),
        ),
    ]


_CHECKED: Final = frozenset(
    (
        "parts_in_model",
        "parts_listed",
        "parts_held",
        "parts_bought_out",
        "parts_left_out",
        "net_weight_kg",
        "net_weight_from_members_kg",
        "bolts_in_model",
        "bolts_listed",
        "bolts_held",
        "bolts_left_out",
        "bolt_holes",
        "plies_over_bolts",
    )
)


def other_figures(balance: Mapping[str, float]) -> list[Row]:
    """Figures of the balance that stand in no check, in their own words."""
    rows = []
    for name, value in balance.items():
        if name in _CHECKED:
            continue
        words = name.removesuffix("_kg").replace("_", " ")
        figure = f"{value:.2f} kg" if name.endswith("_kg") else f"{value:g}" if value % 1 else str(int(value))
        rows.append(Row((words[:1].upper() + words[1:], figure, "")))
    return rows


def set_balance(flow: Flow, checks: Sequence[Check], more: Sequence[Row] = ()) -> None:
    """The box: what, its sum, and whether it comes out even."""
    rows = [Row((check.what, check.text(), "agrees" if check.even else "DOES NOT AGREE")) for check in checks]
    columns = (Column("Balance", bold=True), Column("Figures", flex=1.0), Column("", bold=True))
    flow.table(columns, [*rows, *more], 8.0)
