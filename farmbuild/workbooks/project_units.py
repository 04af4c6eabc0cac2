"""The project workbook in metres and millimetres: its invented example, its notes, and what an empty cell means.

The example is a house of 8 m that can be built as it stands there. It is written without a decimal sign, which differs
from country to country.
"""

from __future__ import annotations

from dataclasses import replace

from farmbuild.measure import UnitSystem, in_units
from farmbuild.measure.usual import KEEP_FROM, KERF
from farmbuild.planning.house.fields import FIELDS
from farmbuild.workbooks.project_layout import UNIT_WORDS, Field

#: By sheet and field; what is not named is the same in both.
EXAMPLES: dict[str, dict[str, object]] = {
    "Project": {
        "units": UNIT_WORDS[UnitSystem.METRIC],
        "decimal_sign": "comma",
        "currency": "EUR",
        "tax_name": "VAT",
        "tax_percent": "20",
        "kerf": "3 mm",
        "keep_from": "600 mm",
    },
    "Materials": {
        "code": "tube",
        "name": "Precision tube 40 × 2 mm",
        "width": "40 mm",
        "thickness": "2 mm",
        "swaged": "no",
        "yield_mpa": "235",
    },
    "Benders": {
        "name": "8 m bender",
        "slug": "bender-8",
        "rated_radius": "3950 mm",
        "rated_span": "8 m",
        "label_stick_length": "6 m",
        "label_insertion": "100 mm",
        "drift_limit": "25 mm",
        "tubes": "tube",
    },
    "Recipes": {
        "lever_length": "900 mm",
        "bender": "8 m bender",
        "slug": "hoop-8",
        "name": "8 m hoop",
        "tube": "tube",
        "stick_length": "6 m",
        "insertion": "",
        "joint": "inner sleeve",
        "sleeve_material": "sleeve",
        "sleeve_length": "300 mm",
        "radius": "3950 mm",
        "first_mark": "340 mm",
        "pitch": "380 mm",
        "stop_gap": "25 mm",
    },
    "Sites": {"walkway": "900 mm"},
    "Houses": {
        "along": "3600 mm",
        "across": "2400 mm",
        "post_span": "8 m",
        "length": "24 m",
        "spacing_wanted": "1500 mm",
        "recipe": "8 m hoop",
        "post_length": "1450 mm",
        "post_depth": "750 mm",
        "post_socket_depth": "200 mm",
        "purlin_material": "tube",
        "purlin_stick_length": "6 m",
        "purlin_insertion": "",
        "purlin_joint": "inner sleeve",
        "purlin_sleeve_material": "sleeve",
        "purlin_sleeve_length": "200 mm",
        "hip_board_material": "board",
        "hip_board_lengths": "3 m; 4 m; 5 m",
        "base_board_material": "board",
        "base_board_lengths": "3 m; 4 m; 5 m",
        "end_frame_material": "frame",
        "end_stud_spacing": "600 mm",
        "front_door_width": "1200 mm",
        "front_door_height": "2200 mm",
        "door_clearance": "6 mm",
        "brace_material": "tube",
        "brace_length": "2900 mm",
        "film_side_allowance": "900 mm",
        "film_end_allowance": "900 mm",
        "end_film_allowance": "500 mm",
        "channel_screw_spacing": "600 mm",
    },
    "Offers": {
        "ref": "pipe-tube-6",
        "material": "tube",
        "length": "6 m",
        "supplier_code": "IP-40",
        "price_1": "15",
        "price_2": "14",
    },
    "Stock": {"material": "tube", "length": "6 m", "unit_cost": "12"},
}
NOTES = {
    "kerf": "What the blade takes away at each cut. Empty: 3 mm.",
    "keep_from": "Shorter ends are scrap. Empty: 600 mm.",
    "thickness": "Tube: wall. Lumber: dressed thickness. Film: with its unit, for example 200 µm.",
}
HOW_TO_TYPE = {
    UnitSystem.IMPERIAL: "12', 7' 3 1/2\", 93.5\", 2.38 m or 2380 mm",
    UnitSystem.METRIC: "12 m or 2380 mm",
}
#: What an empty cell means.
EMPTY = {"kerf": KERF, "keep_from": KEEP_FROM} | {field.name: field.usual for field in FIELDS if field.usual}


def shown_in(sheet: str, field: Field, units: UnitSystem) -> Field:
    """The column as it is shown to whoever uses these units."""
    if units is UnitSystem.IMPERIAL:
        return field
    example = EXAMPLES.get(sheet, {}).get(field.name, field.example)
    return replace(field, example=example, note=NOTES.get(field.name) or in_units(field.note, units))


def when_empty(field: Field, units: UnitSystem) -> object:
    """What a cell without anything in it means there, where that is not nothing."""
    usual = EMPTY.get(field.name)
    return usual.of(units) if usual else field.default
