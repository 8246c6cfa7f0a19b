"""The printed lists as PDF: composed as plain positions first, then drawn."""

from takeoff.sheets.bar_plan import bars
from takeoff.sheets.bolt_list import bolts
from takeoff.sheets.bundle_tags import tags
from takeoff.sheets.changes import changes
from takeoff.sheets.cut_and_punch_pages import cut_and_punch
from takeoff.sheets.erection_list import erection
from takeoff.sheets.first_piece import inspection
from takeoff.sheets.packing_list import packing
from takeoff.sheets.query_list import queries
from takeoff.sheets.weight_list import weights

__all__ = [
    "bars",
    "bolts",
    "changes",
    "cut_and_punch",
    "erection",
    "inspection",
    "packing",
    "queries",
    "tags",
    "weights",
]
