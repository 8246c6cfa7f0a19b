"""The printed lists as PDF: composed as plain positions first, then drawn."""

from takeoff.sheets.bar_plan import bars
from takeoff.sheets.bolt_list import bolts
from takeoff.sheets.cut_and_punch_pages import cut_and_punch
from takeoff.sheets.query_list import queries
from takeoff.sheets.weight_list import weights

__all__ = ["bars", "bolts", "cut_and_punch", "queries", "weights"]
