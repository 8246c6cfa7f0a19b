"""The columns of every table, in the order of the files: what other people's scripts rely on.

Columns are added at the end of a table only; one is renamed or dropped only with a note in
the change log. mm are given to 0.01, kg to 0.001, m2 to 0.0001, degrees to 0.001, kN to 0.1.
"""

from __future__ import annotations

from typing import Final

TEXT, COUNT, MM, KG, M2, DEGREES, KN = "text", "count", "mm", "kg", "m2", "degrees", "kN"
DECIMALS: Final = {MM: 2, KG: 3, M2: 4, DEGREES: 3, KN: 1}

COLUMNS: Final[dict[str, dict[str, str]]] = {
    "members": {
        "global_id": TEXT,
        "ifc_class": TEXT,
        "name": TEXT,
        "section": TEXT,
        "grade": TEXT,
        "length_mm": MM,
        "piece_mark": TEXT,
        "assembly_mark": TEXT,
        "status": TEXT,
        "reason": TEXT,
        "left_x_mm": MM,
        "left_y_mm": MM,
        "left_z_mm": MM,
        "right_x_mm": MM,
        "right_y_mm": MM,
        "right_z_mm": MM,
        "model": TEXT,
        "model_mark": TEXT,
        "model_section": TEXT,
    },
    "pieces": {
        "piece_mark": TEXT,
        "quantity": COUNT,
        "shape": TEXT,
        "section": TEXT,
        "grade": TEXT,
        "finish": TEXT,
        "length_mm": MM,
        "width_mm": MM,
        "thickness_mm": MM,
        "gross_weight_kg": KG,
        "net_weight_kg": KG,
        "surface_m2": M2,
        "holes": COUNT,
        "opposite_hand_of": TEXT,
        "model_marks": TEXT,
        "status": TEXT,
        "reason": TEXT,
        "mass_kg_per_m": KG,
        "mass_source": TEXT,
        "routing": TEXT,
        "off_line": TEXT,
        "zinc_kg": KG,
        "white_weight_kg": KG,
        "stamp_face": TEXT,
        "stamp_x_mm": MM,
        "stamp_across_mm": MM,
        "gauge_deviations": TEXT,
        "nut_clearance_mm": MM,
        "heel_grind": TEXT,
        "flange_bend": TEXT,
        "findings": TEXT,
        "released_in": TEXT,
    },
    "holes": {
        "piece_mark": TEXT,
        "hole": TEXT,
        "face": TEXT,
        "x_mm": MM,
        "across_mm": MM,
        "diameter_mm": MM,
        "slot_length_mm": MM,
        "slot_angle_deg": DEGREES,
        "gauge_line": COUNT,
        "bolt": TEXT,
        "source": TEXT,
        "kind": TEXT,
        "width_mm": MM,
        "diameter_source": TEXT,
        "status": TEXT,
        "corner_radius_mm": MM,
        "hole_class": TEXT,
        "make": TEXT,
        "punch_mm": MM,
        "force_kn": KN,
        "side": TEXT,
        "depth_mm": MM,
        "head_diameter_mm": MM,
    },
    "cuts": {
        "piece_mark": TEXT,
        "end": TEXT,
        "face": TEXT,
        "kind": TEXT,
        "x_mm": MM,
        "across_mm": MM,
        "angle_deg": DEGREES,
        "size_mm": MM,
        "status": TEXT,
    },
    "fasteners": {
        "global_id": TEXT,
        "bolts": COUNT,
        "diameter_mm": MM,
        "length_mm": MM,
        "grade": TEXT,
        "grip_mm": MM,
        "plies_mm": MM,
        "nuts": COUNT,
        "washers": COUNT,
        "place": TEXT,
        "members": TEXT,
        "piece_marks": TEXT,
        "joint": COUNT,
        "assembly_mark": TEXT,
        "status": TEXT,
        "reason": TEXT,
        "model": TEXT,
        "kind": TEXT,
        "name": TEXT,
        "standard": TEXT,
        "length_source": TEXT,
        "rule_length_mm": MM,
        "node": COUNT,
    },
    "bolts": {
        "diameter_mm": MM,
        "length_mm": MM,
        "grade": TEXT,
        "standard": TEXT,
        "quantity": COUNT,
        "spare": COUNT,
        "to_order": COUNT,
        "nuts": COUNT,
        "washers": COUNT,
        "weight_kg": KG,
        "length_source": TEXT,
        "shop": COUNT,
        "site": COUNT,
        "spring_washers": COUNT,
        "taper_washers": COUNT,
        "spare_nuts": COUNT,
        "spare_washers": COUNT,
    },
    "bought_out": {"name": TEXT, "size": TEXT, "quantity": COUNT, "global_ids": TEXT},
    "assemblies": {
        "assembly_mark": TEXT,
        "quantity": COUNT,
        "pieces": COUNT,
        "bolts": COUNT,
        "gross_weight_kg": KG,
        "net_weight_kg": KG,
        "bolt_weight_kg": KG,
        "surface_m2": M2,
        "piece_marks": TEXT,
        "zinc_kg": KG,
        "white_weight_kg": KG,
    },
    "routing": {
        "station": TEXT,
        "piece_mark": TEXT,
        "quantity": COUNT,
        "each": COUNT,
        "total": COUNT,
        "weight_kg": KG,
        "why": TEXT,
    },
    "queries": {
        "code": TEXT,
        "severity": TEXT,
        "piece_mark": TEXT,
        "global_ids": TEXT,
        "message": TEXT,
        "remedy": TEXT,
    },
}
"""Table -> column -> kind. The order is that of the files; new columns only at the end of a table."""

BAR_COLUMNS: Final[dict[str, dict[str, str]]] = {
    "bars": {
        "pattern": COUNT,
        "section": TEXT,
        "grade": TEXT,
        "stock_length_mm": COUNT,
        "times": COUNT,
        "piece_mark": TEXT,
        "quantity": COUNT,
        "offcut_mm": COUNT,
        "finish": TEXT,
        "piece_length_mm": MM,
        "offcut_kept": TEXT,
        "own_stock": TEXT,
        "heat": TEXT,
        "certificate": TEXT,
    },
    "order": {
        "section": TEXT,
        "grade": TEXT,
        "stock_length_mm": COUNT,
        "bars": COUNT,
        "weight_kg": KG,
        "lower_bound_bars": COUNT,
        "finish": TEXT,
        "own_stock": TEXT,
        "heat": TEXT,
        "certificate": TEXT,
    },
}
"""The tables of the cutting plan, written unless it is left out.

``quantity`` is of one bar; ``lower_bound_bars`` the least number of this length with the batch's
bars of other lengths as planned.
"""

DISPATCH_COLUMNS: Final[dict[str, dict[str, str]]] = {
    "erection": {
        "level": COUNT,
        "level_height_mm": MM,
        "face": TEXT,
        "piece_mark": TEXT,
        "quantity": COUNT,
        "end_up": TEXT,
        "right_end_to": TEXT,
        "outsides": TEXT,
        "x_mm": MM,
        "y_mm": MM,
        "z_mm": MM,
        "to_x_mm": MM,
        "to_y_mm": MM,
        "to_z_mm": MM,
        "status": TEXT,
        "global_ids": TEXT,
    },
    "bolt_bags": {
        "bag": COUNT,
        "section_of_structure": TEXT,
        "diameter_mm": MM,
        "length_mm": MM,
        "grade": TEXT,
        "standard": TEXT,
        "quantity": COUNT,
        "nuts": COUNT,
        "washers": COUNT,
        "spring_washers": COUNT,
        "taper_washers": COUNT,
        "weight_kg": KG,
    },
    "bundles": {
        "bundle": COUNT,
        "kind": TEXT,
        "piece_mark": TEXT,
        "quantity": COUNT,
        "section": TEXT,
        "grade": TEXT,
        "finish": TEXT,
        "length_mm": MM,
        "weight_kg": KG,
        "bundle_length_mm": MM,
        "bundle_weight_kg": KG,
        "level": COUNT,
        "remark": TEXT,
    },
    "plates": {
        "thickness_mm": MM,
        "grade": TEXT,
        "finish": TEXT,
        "marks": COUNT,
        "pieces": COUNT,
        "held": COUNT,
        "longest_mm": MM,
        "widest_mm": MM,
        "area_m2": M2,
        "gross_weight_kg": KG,
    },
    "look_alikes": {"piece_mark": TEXT, "other_mark": TEXT, "section": TEXT, "differences": TEXT},
}
"""The tables of what leaves the shop.

``erection`` has a row for pieces of one mark that stand alike at one level and face, x, y, z and to_x, to_y, to_z
bounding their middles; ``bundles`` a row for each mark of each bundle, its last rows what is in none and why.
"""

ALL_COLUMNS: Final = {**COLUMNS, **BAR_COLUMNS, **DISPATCH_COLUMNS}

LINE_TOTALS: Final[dict[str, dict[str, tuple[str, str]]]] = {
    "pieces": {
        "all_holes": ("quantity", "holes"),
        "all_gross_weight_kg": ("quantity", "gross_weight_kg"),
        "all_net_weight_kg": ("quantity", "net_weight_kg"),
        "all_white_weight_kg": ("quantity", "white_weight_kg"),
        "all_surface_m2": ("quantity", "surface_m2"),
    },
    "assemblies": {
        "all_gross_weight_kg": ("quantity", "gross_weight_kg"),
        "all_net_weight_kg": ("quantity", "net_weight_kg"),
        "all_bolt_weight_kg": ("quantity", "bolt_weight_kg"),
        "all_surface_m2": ("quantity", "surface_m2"),
    },
}
"""Table -> column that only the workbook has, a formula in every row -> the two columns that it multiplies."""

ENTRY_COLUMNS: Final = ("cut", "punched", "zinc", "shipped")
"""Columns of the workbook's sheet ``pieces`` that people fill in; a run keeps their entries by mark."""
SHAPE_KEY: Final = "shape_key"
"""The workbook's hidden last column of ``pieces``: which shape an entry was made for."""
TOTALS, SECTION_WEIGHTS, ASSEMBLY_WEIGHTS, KEPT = "totals", "section_weights", "assembly_weights", "kept_entries"
WORKBOOK_SHEETS: Final = (TOTALS, SECTION_WEIGHTS, ASSEMBLY_WEIGHTS, KEPT)
"""Sheets of the workbook that are no tables."""

CHANGE_COLUMNS: Final[dict[str, str]] = {
    "change": TEXT,
    "piece_mark_old": TEXT,
    "piece_mark_new": TEXT,
    "quantity_old": COUNT,
    "quantity_new": COUNT,
    "what": TEXT,
    "verdict": TEXT,
    "quantity": COUNT,
}
"""The table ``changes`` of a comparison. ``quantity`` is how many pieces a row is about."""
