"""Four odd houses in each unit system, with what they are built of and what it costs, as typed. All invented."""

from __future__ import annotations

from tests.outside.books import Project
from tests.outside.rows import Typed
from tests.outside.typed import IMPERIAL, METRIC

ANSWERS = {
    "name": "Made-up Growers",
    "currency": "USD",
    "tax_name": "Sales tax",
    "tax_percent": "6.875",
    "delivery_site": "north",
    "as_of": "2027-02-01",
    "kerf": '1/8"',
    "keep_from": "2'",
}


def _rows(table: str, *names: str) -> dict[str, Typed]:
    """Lines of a table with | between, by their first column."""
    found = {}
    for line in table.strip().splitlines():
        first, *rest = (part.strip() for part in line.split("|"))
        found[first] = dict(zip(names, rest, strict=True))
    return found


FEET_MATERIALS = _rows(
    """
    rail    | tube           | 1 3/8"  | 0.065" | yes
    post    | tube           | 1.66"   | 0.065" |
    emt     | tube           | 0.922"  | 0.049" |
    emt-1   | tube           | 1.163"  | 0.057" |
    2x4     | lumber         | 3 1/2"  | 1 1/2" |
    2x6     | lumber         | 5 1/2"  | 1 1/2" |
    1x6     | lumber         | 5 1/2"  | 3/4"   |
    film    | film           | 40'     | 6 mil  |
    narrow  | film           | 14'     | 6 mil  |
    channel | fixing channel |         |        |
    screw   | fastener       |         |        |
    bolt    | fastener       |         |        |
    anchor  | anchor         |         |        |
    latch   | hardware       |         |        |
    connector | hardware | | |
    post-pin | fastener | | |
    clamp | hardware | | |
    wood | fastener | | |
    hinge | hardware | | |
    stop | hardware | | |
    wire | fixing channel | | |
    fan | hardware | | |
    hose | hardware | | |
    tape | hardware | | |
    tie | hardware | | |
    crank | hardware | | |
    guide | hardware | | |
    """,
    "kind",
    "width",
    "thickness",
    "swaged",
)
FEET_RECIPES = _rows(
    """
    one stick    | emt  | 10' | 1 | 0"  | 38"  | 9" | 18" | 1" | | | |
    on legs      | rail | 10' | 2 | 4"  | 60"  | 9" | 18" | 1" | swage | | |
    sleeves      | emt-1 | 10' | 2 | 0"  | 60"  | 15" | 18" | 1" | inner sleeve | emt | 12" | 4
    two sticks   | rail | 10' | 2 | 4"  | 79"  | 9" | 18" | 1" | | | |
    three sticks | rail | 10' | 3 | 4"  | 131" | 9" | 18" | 1" | | | |
    """,
    "tube",
    "stick_length",
    "sticks",
    "insertion",
    "radius",
    "first_mark",
    "pitch",
    "stop_gap",
    "joint",
    "sleeve_material",
    "sleeve_length",
    "sleeve_screws",
)

#: An odd span and spacing, one framed end wall with two doors, many rows of boards, braces of tube.
FEET_ONE_END = {
    "site": "north",
    "need_date": "2027-04-05",
    "recipe": "three sticks",
    "post_span": "20' 3 5/8\"",
    "length": "53' 5 1/4\"",
    "spacing_wanted": "4' 1 1/2\"",
    "post_material": "post",
    "post_length": '54 1/2"',
    "post_depth": '26"',
    "post_socket_depth": '5 3/4"',
    "post_stop_material": "bolt",
    "purlin_material": "rail",
    "purlin_stick_length": "10'",
    "purlin_insertion": '4 1/4"',
    "ridge_purlins": "1",
    "side_purlins": "4",
    "hip_board_material": "1x6",
    "hip_board_rows": "2",
    "hip_board_lengths": "8'; 10'; 14'",
    "base_board_material": "2x6",
    "base_board_rows": "5",
    "base_board_lengths": "10'; 16'",
    "end_walls": "1",
    "end_frame_material": "2x4",
    "end_stud_spacing": '22 1/2"',
    "front_door_count": "2",
    "front_door_width": '30 1/4"',
    "front_door_height": '78"',
    "brace_material": "post",
    "brace_count": "5",
    "brace_length": '86 3/16"',
    "film_material": "film",
    "film_layers": "1",
    "film_side_allowance": '40"',
    "film_end_allowance": '27 1/2"',
    "channel_material": "channel",
    "channel_runs": "3",
    "screw_material": "screw",
    "screws_per_joint": "1",
    "bolt_material": "bolt",
    "bolts_per_crossing": "2",
    "anchor_material": "anchor",
    "anchor_count": "6",
    "purlin_connector_material": "connector",
    "post_fastener_material": "post-pin",
    "brace_clamp_material": "clamp",
    "end_screw_material": "wood",
    "hinge_material": "hinge",
    "channel_screw_material": "screw",
    "channel_screw_spacing": '22"',
    "tape_material": "tape",
    "anchor_tie_material": "tie",
    "side_closing": "board",
}
#: A tunnel of nothing but hoops and film.
FEET_TUNNEL = {
    "site": "north",
    "need_date": "2027-03-20",
    "recipe": "one stick",
    "post_span": "5' 10 1/4\"",
    "length": "37' 7 1/2\"",
    "spacing_wanted": "3' 5\"",
    "film_material": "narrow",
    "film_layers": "1",
    "film_side_allowance": '11"',
    "film_end_allowance": "3'",
}
#: Plain hoops joined by sleeves on straight legs, end walls framed of tube, doors of two sizes, purlins of one stick.
FEET_TUBES = {
    "site": "north",
    "need_date": "2027-04-20",
    "recipe": "sleeves",
    "post_span": "9' 5 1/2\"",
    "length": "19' 11\"",
    "spacing_wanted": "4'",
    "post_material": "emt",
    "post_length": '40"',
    "post_depth": '18 1/2"',
    "post_socket_depth": '6 1/8"',
    "hoop_over_post": "yes",
    "purlin_material": "rail",
    "purlin_stick_length": "21'",
    "ridge_purlins": "1",
    "end_walls": "2",
    "end_frame_material": "post",
    "end_stud_spacing": '19"',
    "front_door_count": "1",
    "front_door_width": '42"',
    "front_door_height": '80"',
    "back_door_count": "2",
    "back_door_width": '28"',
    "back_door_height": '76 1/2"',
    "door_clearance": '3/8"',
    "door_latch_material": "latch",
    "film_material": "film",
    "film_layers": "1",
    "film_side_allowance": '30"',
    "end_film_allowance": '5"',
    "film_end_allowance": '30"',
    "screw_material": "screw",
    "screws_per_joint": "2",
    "door_skin_material": "narrow",
    "end_screw_material": "wood",
    "side_closing": "open",
}
#: A house with everything.
FEET_ALL = FEET_ONE_END | {
    "need_date": "2027-05-03",
    "recipe": "two sticks",
    "post_span": "11' 7 3/8\"",
    "length": "61' 1/16\"",
    "spacing_wanted": "2' 9\"",
    "purlin_material": "post",
    "purlin_joint": "inner sleeve",
    "purlin_insertion": "",
    "purlin_sleeve_material": "rail",
    "purlin_sleeve_length": '10 1/2"',
    "purlin_first_stick": "4' 3\"",
    "purlin_sleeve_screws": "3",
    "side_purlins": "2",
    "hip_board_rows": "3",
    "base_board_rows": "4",
    "end_walls": "2",
    "end_stud_spacing": '13 3/8"',
    "front_door_count": "1",
    "front_door_width": '36"',
    "back_door_count": "2",
    "back_door_width": '24 1/2"',
    "back_door_height": '74"',
    "door_clearance": "0",
    "door_latch_material": "latch",
    "brace_material": "2x4",
    "film_layers": "2",
    "channel_on_ends": "yes",
    "fasteners_per_post": "2",
    "end_screws_per_joint": "3",
    "hinges_per_door": "2",
    "door_stop_material": "stop",
    "door_skin_material": "film",
    "wire_material": "wire",
    "fan_material": "fan",
    "hose_material": "hose",
    "joints_per_roll": "12",
    "side_closing": "curtain",
    "curtain_film_material": "narrow",
    "curtain_spare": '13 1/2"',
    "curtain_pipe_material": "rail",
    "curtain_pipe_stick_length": "10'",
    "curtain_pipe_insertion": '3 3/4"',
    "curtain_crank_material": "crank",
    "curtain_guide_material": "guide",
}
FEET_SUPPLIERS = _rows(
    """
    pipe | Invented Pipe   | 85    | 3000 | 150
    farm | Invented Grower | 40.55 |      | 0
    """,
    "name",
    "delivery_charge",
    "free_delivery_from",
    "minimum_order",
)
_OFFER = ("supplier", "material", "length", "pack", "lead_days", "from_1", "price_1", "from_2", "price_2")
FEET_OFFERS = _rows(
    """
    p-rail-10 | pipe | rail    | 10'  | 1   | 6  | 1 | 14.605 | 50   | 13.4
    p-rail-21 | pipe | rail    | 21'  | 5   | 6  | 1 | 33.10  |      |
    f-rail-10 | farm | rail    | 10'  | 10  | 20 | 1 | 13.95  | 60   | 12.875
    p-post-21 | pipe | post    | 21'  | 1   | 6  | 1 | 41     | 20   | 38.2
    p-post-10 | pipe | post    | 10'  | 1   | 6  | 1 | 21.5   |      |
    p-emt     | pipe | emt     | 10'  | 1   | 4  | 1 | 7.333  |      |
    p-emt-1   | pipe | emt-1   | 10'  | 1   | 4  | 1 | 9.87   |      |
    f-2x4-8   | farm | 2x4     | 8'   | 1   | 9  | 1 | 4.18   | 100  | 3.9
    f-2x4-12  | farm | 2x4     | 12'  | 1   | 9  | 1 | 7.02   |      |
    f-2x6-10  | farm | 2x6     | 10'  | 1   | 9  | 1 | 9.4    |      |
    f-2x6-16  | farm | 2x6     | 16'  | 1   | 9  | 1 | 15.125 |      |
    f-1x6-8   | farm | 1x6     | 8'   | 1   | 9  | 1 | 5      |      |
    f-1x6-14  | farm | 1x6     | 14'  | 6   | 9  | 1 | 8.31   |      |
    f-film    | farm | film    | 100' | 1   | 12 | 1 | 615    |      |
    f-film-60 | farm | film    | 60'  | 1   | 12 | 1 | 402.25 |      |
    f-narrow  | farm | narrow  | 50'  | 1   | 12 | 1 | 61.2   |      |
    f-narrow-long | farm | narrow | 100' | 1 | 12 | 1 | 118.4 | |
    f-channel | farm | channel | 12'  | 1   | 12 | 1 | 9.8    | 40   | 8.75
    p-screw   | pipe | screw   |      | 100 | 3  | 1 | 0.0855 | 500  | 0.0601
    f-bolt    | farm | bolt    |      | 50  | 3  | 1 | 0.414  | 1000 | 0.3333
    f-anchor  | farm | anchor  |      | 1   | 3  | 1 | 11.05  |      |
    f-latch   | farm | latch   |      | 2   | 3  | 1 | 9.995  |      |
    f-connector | farm | connector |  | 25 | 5 | 1 | 1.155 | |
    f-post-pin | farm | post-pin |  | 100 | 5 | 1 | 0.0625 | |
    f-clamp | farm | clamp |  | 4 | 5 | 1 | 2.345 | |
    f-wood | farm | wood |  | 250 | 5 | 1 | 0.0375 | |
    f-hinge | farm | hinge |  | 1 | 5 | 1 | 6.66 | |
    f-stop | farm | stop |  | 1 | 5 | 1 | 3.05 | |
    f-wire | farm | wire | 12' | 1 | 5 | 1 | 2.15 | |
    f-fan | farm | fan |  | 1 | 5 | 1 | 89.99 | |
    f-hose | farm | hose |  | 1 | 5 | 1 | 17.5 | |
    f-tape | farm | tape |  | 1 | 5 | 1 | 4.444 | |
    f-tie | farm | tie |  | 10 | 5 | 1 | 0.805 | |
    f-crank | farm | crank | | 1 | 5 | 1 | 44.1 | |
    f-guide | farm | guide | | 10 | 5 | 1 | 0.95 | |
    """,
    *_OFFER,
)
_LOT = ("material", "length", "quantity", "unit_cost", "place", "offcut")
FEET_STOCK = _rows(
    """
    rack-1 | rail  | 10'      | 31  | 12.1 | Rack 1 |
    rack-2 | 2x4   | 61 1/4"  | 7   | 2.05 | Rack 2 | yes
    rack-3 | post  | 54 1/2"  | 9   | 8    | Rack 3 |
    box-1  | screw |          | 130 | 0.07 | Shed   |
    """,
    *_LOT,
)

METRE_MATERIALS = _rows(
    """
    rohr-33 | tube           | 33.7 mm  | 2 mm    | yes
    rohr-42 | tube           | 42.4 mm  | 2.6 mm  |
    rohr-25 | tube           | 25 mm    | 1.5 mm  |
    latte   | lumber         | 95 mm    | 45 mm   |
    brett   | lumber         | 140 mm   | 21 mm   |
    bohle   | lumber         | 145 mm   | 45 mm   |
    film    | film           | 16 m     | 180 µm  |
    narrow  | film           | 4.5 m    | 0.15 mm |
    channel | fixing channel |          |         |
    screw   | fastener       |          |         |
    bolt    | fastener       |          |         |
    anchor  | anchor         |          |         |
    latch   | hardware       |          |         |
    connector | hardware | | |
    post-pin | fastener | | |
    clamp | hardware | | |
    wood | fastener | | |
    hinge | hardware | | |
    stop | hardware | | |
    wire | fixing channel | | |
    fan | hardware | | |
    hose | hardware | | |
    tape | hardware | | |
    tie | hardware | | |
    crank | hardware | | |
    guide | hardware | | |
    """,
    "kind",
    "width",
    "thickness",
    "swaged",
)
METRE_RECIPES = _rows(
    """
    one stick    | rohr-25 | 3 m   | 1 | 0 mm   | 970 mm  | 250 mm | 400 mm | 25 mm | | | |
    on legs      | rohr-33 | 3.5 m | 2 | 100 mm | 1750 mm | 250 mm | 450 mm | 25 mm | | | |
    sleeves      | rohr-25 | 3 m   | 2 | 0 mm   | 1750 mm | 345 mm | 450 mm | 25 mm | outer sleeve | rohr-33 | 240 mm |
    two sticks   | rohr-33 | 3.5 m | 2 | 100 mm | 2400 mm | 250 mm | 450 mm | 25 mm | swage | | |
    three sticks | rohr-33 | 6 m   | 2 | 120 mm | 4400 mm | 250 mm | 500 mm | 25 mm | | | |
    """,
    *FEET_RECIPES["one stick"],
)
METRE_ONE_END = FEET_ONE_END | {
    "post_span": "8.215 m",
    "length": "21.37 m",
    "spacing_wanted": "1.33 m",
    "post_material": "rohr-42",
    "post_length": "1425 mm",
    "post_depth": "655",
    "post_socket_depth": "148 mm",
    "purlin_material": "rohr-33",
    "purlin_stick_length": "6 m",
    "purlin_insertion": "118 mm",
    "hip_board_material": "brett",
    "hip_board_lengths": "3 m; 4.2 m; 5.1 m",
    "base_board_material": "bohle",
    "base_board_lengths": "3000 mm; 4800 mm",
    "end_frame_material": "latte",
    "end_stud_spacing": "570 mm",
    "front_door_width": "815 mm",
    "front_door_height": "1985 mm",
    "brace_material": "rohr-42",
    "brace_length": "2.185 m",
    "film_side_allowance": "1.05 m",
    "film_end_allowance": "0.705 m",
    "channel_screw_spacing": "555 mm",
}
METRE_TUNNEL = FEET_TUNNEL | {
    "post_span": "1.83 m",
    "length": "11.49",
    "spacing_wanted": "105 cm",
    "film_side_allowance": "275 mm",
    "film_end_allowance": "905 mm",
}
METRE_TUBES = FEET_TUBES | {
    "post_span": "3.27 m",
    "length": "5.96 m",
    "spacing_wanted": "1.2 m",
    "post_material": "rohr-33",
    "hoop_over_post": "",
    "post_length": "1010 mm",
    "post_depth": "460 mm",
    "post_socket_depth": "155 mm",
    "purlin_material": "rohr-33",
    "purlin_stick_length": "6 m",
    "end_frame_material": "rohr-42",
    "end_stud_spacing": "485 mm",
    "front_door_width": "1070 mm",
    "front_door_height": "2030 mm",
    "back_door_width": "710 mm",
    "back_door_height": "1945 mm",
    "door_clearance": "8 mm",
    "film_side_allowance": "760 mm",
    "end_film_allowance": "130 mm",
    "film_end_allowance": "760 mm",
}
METRE_ALL = FEET_ALL | {
    name: METRE_ONE_END[name]
    for name in METRE_ONE_END
    if name.startswith(("post_", "purlin_", "hip_board_l", "hip_board_m", "base_board_l", "base_board_m", "film_"))
    or name == "end_frame_material"
}
METRE_ALL |= {
    "post_span": "4.41 m",
    "purlin_material": "rohr-42",
    "purlin_insertion": "",
    "purlin_sleeve_material": "rohr-33",
    "purlin_sleeve_length": "310 mm",
    "purlin_first_stick": "2.35 m",
    "length": "18.613 m",
    "spacing_wanted": "0.83 m",
    "end_stud_spacing": "345 mm",
    "front_door_width": "915 mm",
    "front_door_height": "1980 mm",
    "back_door_width": "620 mm",
    "back_door_height": "1875 mm",
    "brace_material": "latte",
    "brace_length": "2190 mm",
    "film_layers": "2",
    "curtain_spare": "345 mm",
    "curtain_pipe_material": "rohr-33",
    "curtain_pipe_stick_length": "3.5 m",
    "curtain_pipe_insertion": "95 mm",
}
METRE_OFFERS = _rows(
    """
    p-33-6    | pipe | rohr-33 | 6 m    | 1   | 6  | 1 | 24.605 | 50   | 23.4
    p-33-35   | pipe | rohr-33 | 3.5 m  | 5   | 6  | 1 | 15.10  |      |
    f-33-6    | farm | rohr-33 | 6 m    | 10  | 20 | 1 | 23.95  | 60   | 22.875
    p-42      | pipe | rohr-42 | 6 m    | 1   | 6  | 1 | 41     | 20   | 38.2
    p-25      | pipe | rohr-25 | 3 m    | 1   | 4  | 1 | 7.333  |      |
    f-latte-3 | farm | latte   | 3 m    | 1   | 9  | 1 | 4.18   | 100  | 3.9
    f-latte-5 | farm | latte   | 4.8 m  | 1   | 9  | 1 | 7.02   |      |
    f-bohle-3 | farm | bohle   | 3 m    | 1   | 9  | 1 | 9.4    |      |
    f-bohle-5 | farm | bohle   | 4.8 m  | 1   | 9  | 1 | 15.125 |      |
    f-brett-3 | farm | brett   | 3 m    | 1   | 9  | 1 | 5      |      |
    f-brett-5 | farm | brett   | 5.1 m  | 6   | 9  | 1 | 8.31   |      |
    f-film    | farm | film    | 50 m   | 1   | 12 | 1 | 615    |      |
    f-film-25 | farm | film    | 25 m   | 1   | 12 | 1 | 402.25 |      |
    f-narrow  | farm | narrow  | 15 m   | 1   | 12 | 1 | 61.2   |      |
    f-narrow-long | farm | narrow | 30 m | 1 | 12 | 1 | 118.4 | |
    f-channel | farm | channel | 4 m    | 1   | 12 | 1 | 9.8    | 40   | 8.75
    p-screw   | pipe | screw   |        | 100 | 3  | 1 | 0.0855 | 500  | 0.0601
    f-bolt    | farm | bolt    |        | 50  | 3  | 1 | 0.414  | 1000 | 0.3333
    f-anchor  | farm | anchor  |        | 1   | 3  | 1 | 11.05  |      |
    f-latch   | farm | latch   |        | 2   | 3  | 1 | 9.995  |      |
    f-connector | farm | connector |  | 25 | 5 | 1 | 1.155 | |
    f-post-pin | farm | post-pin |  | 100 | 5 | 1 | 0.0625 | |
    f-clamp | farm | clamp |  | 4 | 5 | 1 | 2.345 | |
    f-wood | farm | wood |  | 250 | 5 | 1 | 0.0375 | |
    f-hinge | farm | hinge |  | 1 | 5 | 1 | 6.66 | |
    f-stop | farm | stop |  | 1 | 5 | 1 | 3.05 | |
    f-wire | farm | wire | 4 m | 1 | 5 | 1 | 2.15 | |
    f-fan | farm | fan |  | 1 | 5 | 1 | 89.99 | |
    f-hose | farm | hose |  | 1 | 5 | 1 | 17.5 | |
    f-tape | farm | tape |  | 1 | 5 | 1 | 4.444 | |
    f-tie | farm | tie |  | 10 | 5 | 1 | 0.805 | |
    f-crank | farm | crank | | 1 | 5 | 1 | 44.1 | |
    f-guide | farm | guide | | 10 | 5 | 1 | 0.95 | |
    """,
    *_OFFER,
)
METRE_STOCK = _rows(
    """
    rack-1 | rohr-33 | 6 m     | 31  | 12.1 | Rack 1 |
    rack-2 | latte   | 1552 mm | 7   | 2.05 | Rack 2 | yes
    rack-3 | rohr-42 | 1425 mm | 9   | 8    | Rack 3 |
    box-1  | screw   |         | 130 | 0.07 | Shed   |
    """,
    *_LOT,
)

FEET_OWN = {
    "one end": [
        {"material": "tie", "quantity": "1.5", "per": "hoop", "step": "film"},
        {"material": "rail", "quantity": "0.25", "per": "bay", "length": '31 1/8"'},
        {"material": "tape", "quantity": "0.07", "per": "foot of house length"},
        {"material": "clamp", "quantity": "1", "per": "door", "step": "end walls"},
        {"material": "clamp", "quantity": "2.25"},
        {"material": "stop", "quantity": "1", "per": "end of the house"},
    ],
    "tunnel": [{"material": "hinge", "quantity": "1", "per": "ground post"}],
    "all": [
        {"material": "bolt", "quantity": "1", "per": "ground post", "step": "ground posts"},
        {"material": "screw", "quantity": "2", "per": "purlin crossing", "step": "ridge and purlins"},
        {"material": "film", "quantity": "0.3", "per": "metre of house length", "length": "24"},
        {"material": "channel", "quantity": "1", "length": "15' 3/8\""},
    ],
}
METRE_OWN = {
    house: [
        row
        | {"material": row["material"].replace("rail", "rohr-33")}
        | ({"length": "787"} if row.get("length") else {})
        for row in rows
    ]
    for house, rows in FEET_OWN.items()
}

PROJECTS = {
    "feet": Project(
        IMPERIAL,
        ANSWERS,
        FEET_MATERIALS,
        FEET_RECIPES,
        {"one end": FEET_ONE_END, "tunnel": FEET_TUNNEL, "tubes": FEET_TUBES, "all": FEET_ALL},
        FEET_SUPPLIERS,
        FEET_OFFERS,
        FEET_STOCK,
        FEET_OWN,
    ),
    "metres": Project(
        METRIC,
        ANSWERS
        | {"currency": "EUR", "decimal_sign": "point", "kerf": "3 mm", "keep_from": "600 mm"}
        | {"tax_percent": "19", "prices": "with tax"},
        METRE_MATERIALS | {code: METRE_MATERIALS[code] | {"tax_percent": "7"} for code in ("brett", "screw")},
        METRE_RECIPES,
        {"one end": METRE_ONE_END, "tunnel": METRE_TUNNEL, "tubes": METRE_TUBES, "all": METRE_ALL},
        FEET_SUPPLIERS,
        METRE_OFFERS,
        METRE_STOCK,
        METRE_OWN,
    ),
}
