"""What a house is asked to be: plain values, lengths in exact Decimal millimetres (six places).

``fields.py`` says what each field of a spec is and what it may be.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from farmbuild.planning.house.own_rows import OwnRow


class Joint(StrEnum):
    """How sticks are joined; what a workbook says."""

    SWAGE = "swage"
    INNER = "inner sleeve"
    OUTER = "outer sleeve"
    NONE = "none"


#: The sticks butt, so a joint loses no length.
SLEEVES = frozenset({Joint.INNER, Joint.OUTER})


@dataclass(frozen=True)
class Recipe:
    """How one hoop is made: sticks joined and bent on one centreline radius. One stick has no joint, whatever it says.

    ``sleeve_length`` is the whole of a sleeve, half of it on either side of the joint.
    """

    name: str
    tube: str
    stick_length: Decimal
    sticks: int
    insertion: Decimal
    radius: Decimal
    first_mark: Decimal
    pitch: Decimal
    stop_gap: Decimal
    joint: Joint = Joint.SWAGE
    sleeve_material: str = ""
    sleeve_length: Decimal = Decimal(0)
    sleeve_screws: int = 2

    @property
    def sleeved(self) -> bool:
        return self.sticks > 1 and self.joint in SLEEVES


class SideClosing(StrEnum):
    """How the film ends at each side; what a workbook says."""

    BURIED = "buried"
    BOARD = "board"
    CURTAIN = "curtain"
    OPEN = "open"


@dataclass(frozen=True)
class HouseSpec:
    """Everything that decides what one house is made of. A material code of "": the house has none."""

    post_span: Decimal
    length: Decimal
    spacing_wanted: Decimal
    recipe: Recipe
    post_material: str = ""
    post_length: Decimal = Decimal(0)
    post_depth: Decimal = Decimal(0)
    #: How far a hoop stands in its post, or slides over it.
    post_socket_depth: Decimal = Decimal(0)
    hoop_over_post: bool = False
    #: One in each post; "": the post is crimped, which buys nothing.
    post_stop_material: str = ""
    purlin_material: str = ""
    purlin_stick_length: Decimal = Decimal(0)
    purlin_joint: Joint = Joint.SWAGE
    purlin_insertion: Decimal = Decimal(0)
    purlin_sleeve_material: str = ""
    purlin_sleeve_length: Decimal = Decimal(0)
    purlin_sleeve_screws: int = 2
    #: Of every second sleeved run, so that joints of neighbours do not line up; 0: a whole stick.
    purlin_first_stick: Decimal = Decimal(0)
    #: 0 or 1.
    ridge_purlins: int = 0
    #: Over both sides together, so an even number.
    side_purlins: int = 0
    hip_board_material: str = ""
    #: On each side, like the base boards.
    hip_board_rows: int = 0
    hip_board_lengths: tuple[Decimal, ...] = ()
    base_board_material: str = ""
    base_board_rows: int = 0
    base_board_lengths: tuple[Decimal, ...] = ()
    #: Framed end walls: 1 is the front, 2 front and back.
    end_walls: int = 0
    end_frame_material: str = ""
    end_stud_spacing: Decimal = Decimal(0)
    #: Leaves side by side in one opening in the middle of a framed end wall.
    front_door_count: int = 0
    front_door_width: Decimal = Decimal(0)
    front_door_height: Decimal = Decimal(0)
    back_door_count: int = 0
    back_door_width: Decimal = Decimal(0)
    back_door_height: Decimal = Decimal(0)
    #: At each edge of each leaf.
    door_clearance: Decimal = Decimal("6.35")
    door_latch_material: str = ""
    brace_material: str = ""
    brace_count: int = 0
    brace_length: Decimal = Decimal(0)
    film_material: str = ""
    film_layers: int = 0
    film_side_allowance: Decimal = Decimal(0)
    film_end_allowance: Decimal = Decimal(0)
    #: 0: as much as each side has, and none above the ridge.
    end_film_allowance: Decimal = Decimal(0)
    side_closing: SideClosing = SideClosing.BURIED
    #: The roll-up curtains of both sides count only where these close so.
    curtain_film_material: str = ""
    #: Over its height: the lap at the hip board and the turns round the pipe.
    curtain_spare: Decimal = Decimal(0)
    curtain_pipe_material: str = ""
    curtain_pipe_stick_length: Decimal = Decimal(0)
    curtain_pipe_insertion: Decimal = Decimal(0)
    curtain_crank_material: str = ""
    curtain_guide_material: str = ""
    channel_material: str = ""
    channel_runs: int = 0
    channel_on_ends: bool = False
    screw_material: str = ""
    screws_per_joint: int = 0
    bolt_material: str = ""
    bolts_per_crossing: int = 0
    anchor_material: str = ""
    anchor_count: int = 0
    purlin_connector_material: str = ""
    post_fastener_material: str = ""
    fasteners_per_post: int = 1
    brace_clamp_material: str = ""
    end_screw_material: str = ""
    end_screws_per_joint: int = 2
    hinge_material: str = ""
    hinges_per_door: int = 3
    door_stop_material: str = ""
    #: Film or a sheet for each door.
    door_skin_material: str = ""
    wire_material: str = ""
    channel_screw_material: str = ""
    channel_screw_spacing: Decimal = Decimal("609.6")
    fan_material: str = ""
    hose_material: str = ""
    tape_material: str = ""
    joints_per_roll: int = 50
    anchor_tie_material: str = ""
    own_rows: tuple[OwnRow, ...] = ()


@dataclass(frozen=True)
class House:
    ref: str
    name: str
    site: str
    need_date: date
    spec: HouseSpec
