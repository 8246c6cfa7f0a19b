"""The printed lists as PDF: composed as plain positions first, then drawn."""

from takeoff.sheets.bolt_list import bolts
from takeoff.sheets.cut_and_punch_pages import cut_and_punch
from takeoff.sheets.query_list import queries
from takeoff.sheets.weight_list import weights

__all__ = ["bolts", "cut_and_punch", "queries", "weights"]
