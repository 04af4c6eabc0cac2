"""Every field of a house, once: what it is called, how it is typed, and what it may be.

The form and its groups, the limits, the columns of the project workbook, starters and checks take it from here; the
model and stored plans have the same fields, which a test holds. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Any

from farmbuild.measure import ByUnits, Usual
from farmbuild.measure.speech import Sentence, sentence
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.usual import CHANNEL_SCREWS, DOOR_CLEARANCE, FIRST_MARK, PITCH, STOP_GAP
from farmbuild.planning.house.spec import SLEEVES, HouseSpec, Joint, SideClosing
from farmbuild.planning.materials import Kind

#: 10 km: longer than anything that is built or bought here.
MAX_LENGTH = Decimal(10_000_000)
FOOT, INCH = Decimal("304.8"), Decimal("25.4")


class FieldKind(StrEnum):
    LENGTH = "length"
    LENGTHS = "lengths"
    COUNT = "count"
    FLAG = "flag"
    CHOICE = "choice"
    #: By code; "" for none.
    MATERIAL = "material"
    RECIPE = "recipe"


_NOTHING: dict[FieldKind, Any] = {
    FieldKind.LENGTH: Decimal(0),
    FieldKind.LENGTHS: (),
    FieldKind.COUNT: 0,
    FieldKind.FLAG: False,
    FieldKind.MATERIAL: "",
}


def _never(spec: HouseSpec) -> bool:
    return False


@dataclass(frozen=True)
class SpecField:
    """One field of a house spec or of a recipe.

    ``smallest`` and ``largest`` hold where it is not 0 for none. ``needed`` says of which houses it may not be none;
    ``required`` ones have it always. ``noun`` is what sentences call it, ``heading`` its column in the workbook, where
    that is not the label. ``small``: a bare number is in inches or mm, not in feet or metres. ``even``: counted over
    both sides of the house together. ``default`` is what a house has that says nothing of it; ``usual`` what stands in
    a new form, by the reader's units. ``choices``: of a CHOICE,
    each with the words for it; its default is one of them. ``otherwise``: what else to do where a material is needed.
    """

    name: str
    kind: FieldKind
    label: str
    help: str = ""
    noun: str = ""
    heading: str = ""
    section: str = ""
    required: bool = False
    needed: Callable[[HouseSpec], bool] = _never
    small: bool = False
    smallest: Decimal | int = 0
    largest: Decimal | int = MAX_LENGTH
    even: bool = False
    materials: tuple[Kind, ...] = ()
    otherwise: str = _("type 0 for how many")
    choices: tuple[tuple[str, str], ...] = ()
    default: Any = None
    usual: Usual | None = None
    #: Stands in the empty workbook, as invented example.
    example: str | int = ""

    @property
    def called(self) -> str:
        """In a sentence: 'The {called} is 0.'"""
        return str(self.said)

    @property
    def said(self) -> Sentence:
        """The same, for a page in another language."""
        noun = sentence(self.noun or self.label)
        return sentence("number of %(noun)s", noun=noun) if self.kind is FieldKind.COUNT else noun

    @property
    def column(self) -> str:
        return self.heading or self.label[:1].upper() + self.label[1:]

    def may_be_none(self, spec: HouseSpec | None = None) -> bool:
        """0 or no material; what is required may be 0 unless it has a least size."""
        always = self.required and (self.kind is FieldKind.MATERIAL or self.smallest > 0)
        return not (always or (spec is not None and self.needed(spec)))


def _field(kind: FieldKind, name: str, label: str, **more: Any) -> SpecField:
    values: dict[str, Any] = {"default": _NOTHING.get(kind)} | more
    return SpecField(name, kind, label, **values)


def _length(name: str, label: str, **more: Any) -> SpecField:
    usual: Usual | None = more.get("usual")
    return _field(FieldKind.LENGTH, name, label, **({"default": usual.imperial} if usual else {}) | more)


def _lengths(name: str, label: str, **more: Any) -> SpecField:
    return _field(FieldKind.LENGTHS, name, label, **more)


def _count(name: str, label: str, largest: int, **more: Any) -> SpecField:
    return _field(FieldKind.COUNT, name, label, largest=largest, **more)


def _flag(name: str, label: str, **more: Any) -> SpecField:
    return _field(FieldKind.FLAG, name, label, **more)


def _material(name: str, label: str, noun: str, *materials: Kind, **more: Any) -> SpecField:
    return _field(FieldKind.MATERIAL, name, label, noun=noun, materials=materials, **more)


def _fitting(name: str, label: str, **more: Any) -> SpecField:
    """What is counted; suppliers list the same thing as a fastener or as hardware."""
    return _material(name, label, f"{label}s", Kind.FASTENER, Kind.HARDWARE, **more)


def _each(name: str, label: str, noun: str, *, default: int) -> SpecField:
    """How many of a fitting at each place; where there is to be none, it has no material."""
    words = sentence("%(count)s is common practice, no source.", count=default)
    return _count(name, label, 8, noun=noun, smallest=1, default=default, help=words, example=default)


def _curtain(kind: FieldKind, name: str, label: str, **more: Any) -> SpecField:
    """Needed of a house whose sides close with roll-up curtains, and of no other."""
    return _field(
        kind,
        name,
        label,
        needed=lambda spec: spec.side_closing == SideClosing.CURTAIN,
        otherwise=_("choose how else the sides close"),
        **more,
    )


def _section(title: str, *fields: SpecField) -> tuple[SpecField, ...]:
    return tuple(replace(field, section=title) for field in fields)


def _purlins(spec: HouseSpec) -> bool:
    return spec.ridge_purlins + spec.side_purlins > 0


def _purlin_sleeves(spec: HouseSpec) -> bool:
    return _purlins(spec) and spec.purlin_joint in SLEEVES


def _screws(spec: HouseSpec) -> bool:
    """Whether any joint takes one."""
    recipe, each = spec.recipe, spec.screws_per_joint
    in_hoops = (recipe.sleeve_screws if recipe.sleeved else each) if recipe.sticks > 1 else 0
    in_purlins = (spec.purlin_sleeve_screws if _purlin_sleeves(spec) else each) if _purlins(spec) else 0
    return bool(in_hoops or in_purlins or (each and spec.side_closing == SideClosing.CURTAIN))


_JOINTS = (
    (Joint.SWAGE.value, _("swage: one end slides into the next stick")),
    (Joint.INNER.value, _("sleeve inside both sticks, which butt")),
    (Joint.OUTER.value, _("sleeve over both sticks, which butt")),
    (Joint.NONE.value, _("none: one stick")),
)
_SLEEVE_LENGTH = _("The whole sleeve, half of it on either side of the joint.")
_SLEEVE_SCREWS = _("2, one in each stick, is common practice, no source. They take the joint screw of the house.")
_SLEEVE_TUBE = _("Of a sleeve alone. It is cut of sticks of this tube.")


def _boards(spec: HouseSpec) -> bool:
    return spec.hip_board_rows + spec.base_board_rows > 0


#: In the order of the form and of the workbook.
FIELDS: tuple[SpecField, ...] = (
    *_section(
        _("Size and hoops"),
        _length(
            "post_span",
            _("post span"),
            required=True,
            smallest=FOOT,
            help=_("Between ground posts, centre to centre."),
            example="12'",
        ),
        _length(
            "length",
            _("house length"),
            required=True,
            smallest=FOOT,
            help=_("First hoop to last hoop."),
            example="48'",
        ),
        _length(
            "spacing_wanted",
            _("hoop spacing"),
            required=True,
            smallest=INCH,
            help=_("Hoops are re-spaced evenly, never wider than this."),
            example="4'",
        ),
        _field(FieldKind.RECIPE, "recipe", _("hoop recipe"), heading="Recipe", required=True, example="12 ft hoop"),
    ),
    *_section(
        _("Ground posts"),
        _material("post_material", _("ground post tube"), _("ground posts"), Kind.TUBE, example="post"),
        _length(
            "post_length",
            _("ground post length"),
            small=True,
            needed=lambda spec: bool(spec.post_material),
            example='48"',
        ),
        _length(
            "post_depth",
            _("ground post depth in the ground"),
            small=True,
            noun=_("depth of the ground posts"),
            heading="Depth in the ground",
            example='24"',
        ),
        _length(
            "post_socket_depth",
            _("socket depth"),
            small=True,
            help=_("How far a hoop stands in its post, or slides over it."),
            example='6"',
        ),
        _flag(
            "hoop_over_post", _("hoop slides over the post"), help=_("Otherwise it stands in the post."), example="no"
        ),
        _material(
            "post_stop_material",
            _("hoop stop"),
            _("hoop stops"),
            Kind.FASTENER,
            help=_("One in each post, at the socket depth. None: the post is crimped there."),
            example="bolt",
        ),
    ),
    *_section(
        _("Purlins"),
        _material("purlin_material", _("purlin tube"), _("purlins"), Kind.TUBE, needed=_purlins, example="rail"),
        _length(
            "purlin_stick_length",
            _("purlin stick length"),
            needed=_purlins,
            help=_("A plan takes other lengths of the same tube where they are cheaper."),
            example="10'",
        ),
        _field(
            FieldKind.CHOICE,
            "purlin_joint",
            _("how purlin sticks are joined"),
            choices=_JOINTS,
            default=Joint.SWAGE,
            example="swage",
        ),
        _length("purlin_insertion", _("purlin insertion"), small=True, help=_("At each joint."), example='4"'),
        _material(
            "purlin_sleeve_material",
            _("purlin sleeve tube"),
            _("purlin sleeves"),
            Kind.TUBE,
            needed=_purlin_sleeves,
            otherwise=_("choose another joint"),
            help=_SLEEVE_TUBE,
        ),
        _length(
            "purlin_sleeve_length",
            _("purlin sleeve length"),
            small=True,
            noun=_("length of the purlin sleeves"),
            needed=_purlin_sleeves,
            help=_SLEEVE_LENGTH,
        ),
        _count(
            "purlin_sleeve_screws",
            _("screws at each purlin sleeve"),
            12,
            noun=_("screws a purlin sleeve"),
            default=2,
            help=_SLEEVE_SCREWS,
        ),
        _length(
            "purlin_first_stick",
            _("first stick of every second purlin"),
            noun=_("first stick of every second purlin"),
            help=_(
                "Of purlins with sleeves: sawn to this, so that joints side by side do not line up. 0: a whole stick."
            ),
        ),
        _count("ridge_purlins", _("ridge purlins"), 1, example=1),
        # A wide house has a purlin every few feet of its arc, and the workbook always took so many.
        _count("side_purlins", _("side purlins"), 50, even=True, help=_("Both sides together."), example=2),
    ),
    *_section(
        _("Hip and base boards"),
        _material(
            "hip_board_material",
            _("hip board"),
            _("hip boards"),
            Kind.LUMBER,
            needed=lambda spec: spec.hip_board_rows > 0,
            example="2x4",
        ),
        _count(
            "hip_board_rows",
            _("hip board rows"),
            50,
            noun=_("hip boards on each side"),
            help=_("On each side."),
            example=1,
        ),
        _lengths(
            "hip_board_lengths",
            _("hip board lengths"),
            noun=_("board length"),
            help=_("That may be bought, with semicolons between."),
            example="8', 12', 16'",
        ),
        _material(
            "base_board_material",
            _("base board"),
            _("base boards"),
            Kind.LUMBER,
            needed=lambda spec: spec.base_board_rows > 0,
            example="2x6",
        ),
        # Low walls of boards are many rows high, and the workbook always took so many.
        _count(
            "base_board_rows",
            _("base board rows"),
            50,
            noun=_("base boards on each side"),
            help=_("On each side."),
            example=1,
        ),
        _lengths(
            "base_board_lengths",
            _("base board lengths"),
            noun=_("board length"),
            help=_("That may be bought, with semicolons between."),
            example="8', 12', 16'",
        ),
    ),
    *_section(
        _("End walls and doors"),
        _count("end_walls", _("framed end walls"), 2, help=_("1: the front only."), example=2),
        _material(
            "end_frame_material",
            _("end wall frame"),
            _("end wall frames"),
            Kind.LUMBER,
            Kind.TUBE,
            needed=lambda spec: spec.end_walls > 0,
            example="2x4",
        ),
        _length(
            "end_stud_spacing",
            _("stud spacing"),
            small=True,
            needed=lambda spec: spec.end_walls > 0,
            example='24"',
        ),
        _count("front_door_count", _("front doors"), 4, example=1),
        _length(
            "front_door_width",
            _("front door width"),
            small=True,
            noun=_("door width"),
            needed=lambda spec: spec.front_door_count != 0,
            example='36"',
        ),
        _length(
            "front_door_height",
            _("front door height"),
            small=True,
            noun=_("door height"),
            needed=lambda spec: spec.front_door_count != 0,
            example='80"',
        ),
        _count("back_door_count", _("back doors"), 4, example=0),
        _length(
            "back_door_width",
            _("back door width"),
            small=True,
            noun=_("door width"),
            needed=lambda spec: spec.back_door_count != 0,
        ),
        _length(
            "back_door_height",
            _("back door height"),
            small=True,
            noun=_("door height"),
            needed=lambda spec: spec.back_door_count != 0,
        ),
        _length(
            "door_clearance",
            _("door clearance"),
            small=True,
            noun=_("clearance of the doors"),
            usual=DOOR_CLEARANCE,
            help=ByUnits(
                _("Between a door and its opening, at each edge. 1/4 in is common practice, no source."),
                _("Between a door and its opening, at each edge. 6 mm is common practice, no source."),
            ),
            example='1/4"',
        ),
        _material(
            "door_latch_material",
            _("door latch"),
            _("door latches"),
            Kind.HARDWARE,
            help=_("One for each door."),
            example="latch",
        ),
    ),
    *_section(
        _("Corner braces"),
        _material(
            "brace_material",
            _("corner brace"),
            _("corner braces"),
            Kind.TUBE,
            Kind.LUMBER,
            needed=lambda spec: spec.brace_count > 0,
            example="rail",
        ),
        # A long house may be braced in every bay, and the workbook always took so many.
        _count("brace_count", _("corner braces"), 1_000, example=4),
        _length(
            "brace_length",
            _("corner brace length"),
            small=True,
            noun=_("length of the corner braces"),
            needed=lambda spec: spec.brace_count != 0,
            example='72"',
        ),
    ),
    *_section(
        _("Film"),
        _material(
            "film_material", _("film"), _("film"), Kind.FILM, needed=lambda spec: spec.film_layers > 0, example="film"
        ),
        _count("film_layers", _("layers of film"), 2, example=1),
        _length(
            "film_side_allowance", _("film to spare, each side"), small=True, noun=_("film to spare"), example='24"'
        ),
        _length("film_end_allowance", _("film to spare, each end"), small=True, noun=_("film to spare"), example='24"'),
        _length(
            "end_film_allowance",
            _("end wall film to spare"),
            small=True,
            noun=_("film to spare"),
            help=_("On each side and above the ridge. 0: as much as each side has, and none above."),
            example='24"',
        ),
    ),
    *_section(
        _("Sides"),
        _field(
            FieldKind.CHOICE,
            "side_closing",
            _("how the sides close"),
            help=_("How far down the film must reach at each side."),
            choices=(
                (SideClosing.BURIED.value, _("film to the ground, buried")),
                (SideClosing.BOARD.value, _("film on the base boards")),
                (SideClosing.CURTAIN.value, _("film to the hip boards, a roll-up curtain below")),
                (SideClosing.OPEN.value, _("left open on purpose")),
            ),
            default=SideClosing.BURIED,
            example="buried",
        ),
        _curtain(
            FieldKind.MATERIAL,
            "curtain_film_material",
            _("curtain film"),
            materials=(Kind.FILM,),
            noun=_("roll-up curtains"),
        ),
        _curtain(
            FieldKind.LENGTH,
            "curtain_spare",
            _("curtain to spare"),
            small=True,
            help=_("Over its height: the lap at the hip board and the turns round the pipe."),
        ),
        _curtain(
            FieldKind.MATERIAL,
            "curtain_pipe_material",
            _("curtain pipe"),
            materials=(Kind.TUBE,),
            noun=_("curtain pipes"),
            help=_("The curtain rolls up round it."),
        ),
        _curtain(FieldKind.LENGTH, "curtain_pipe_stick_length", _("curtain pipe stick length")),
        _length("curtain_pipe_insertion", _("curtain pipe insertion"), small=True, help=_("At each joint.")),
        _curtain(
            FieldKind.MATERIAL,
            "curtain_crank_material",
            _("curtain crank"),
            materials=(Kind.HARDWARE,),
            noun=_("curtain cranks"),
            help=_("One for each side."),
        ),
        _curtain(
            FieldKind.MATERIAL,
            "curtain_guide_material",
            _("curtain guide"),
            materials=(Kind.HARDWARE,),
            noun=_("curtain guides"),
            help=_("One at each hoop on each side."),
        ),
    ),
    *_section(
        _("Fixing channel"),
        _material(
            "channel_material",
            _("fixing channel"),
            _("fixing channel"),
            Kind.CHANNEL,
            needed=lambda spec: spec.channel_runs > 0 or spec.channel_on_ends,
            example="channel",
        ),
        # Two layers, vents and curtains each have runs of their own, and the workbook always took so many.
        _count("channel_runs", _("runs of channel"), 50, help=_("Along the house."), example=2),
        _flag("channel_on_ends", _("channel over end hoops"), example="yes"),
    ),
    *_section(
        _("Fasteners"),
        _material(
            "screw_material",
            _("joint screw"),
            _("joint screws"),
            Kind.FASTENER,
            needed=_screws,
            example="screw",
        ),
        _count("screws_per_joint", _("screws at each joint"), 8, noun=_("screws a joint"), example=1),
        _material(
            "bolt_material",
            _("board bolt"),
            _("board bolts"),
            Kind.FASTENER,
            needed=lambda spec: _boards(spec) and spec.bolts_per_crossing > 0,
            example="bolt",
        ),
        _count(
            "bolts_per_crossing",
            _("bolts at each crossing"),
            8,
            noun=_("bolts a crossing"),
            help=_("Of a board and a hoop."),
            example=1,
        ),
    ),
    *_section(
        _("Anchors"),
        _material(
            "anchor_material",
            _("anchor"),
            _("anchors"),
            Kind.ANCHOR,
            needed=lambda spec: spec.anchor_count > 0,
            example="anchor",
        ),
        _count("anchor_count", _("anchors"), 1_000, example=8),
    ),
    # Counts, spacing and defaults: common practice, no source.
    *_section(
        _("Fittings"),
        _fitting(
            "purlin_connector_material",
            _("purlin connector"),
            help=_("One where each purlin crosses a hoop."),
            example="connector",
        ),
        _fitting(
            "post_fastener_material",
            _("hoop-to-post fastener"),
            help=_("Two posts for each hoop."),
            example="post-screw",
        ),
        _each("fasteners_per_post", _("fasteners at each post"), _("fasteners a post"), default=1),
        _fitting("brace_clamp_material", _("brace clamp"), help=_("Two for each corner brace."), example="clamp"),
        _fitting(
            "end_screw_material",
            _("end wall screw"),
            help=_("At each joint of the frame and of the doors."),
            example="wood-screw",
        ),
        _each("end_screws_per_joint", _("screws at each end wall joint"), _("end wall screws a joint"), default=2),
        _fitting("hinge_material", _("door hinge"), example="hinge"),
        _each("hinges_per_door", _("hinges on each door"), _("hinges a door"), default=3),
        _fitting("door_stop_material", _("door stop"), help=_("One for each door."), example="stop"),
        _material(
            "door_skin_material",
            _("door skin"),
            _("door skins"),
            Kind.FILM,
            Kind.HARDWARE,
            help=_("Film is cut off its roll to cover each door; sheets are counted, one for each door."),
            example="film",
        ),
        _material(
            "wire_material",
            _("fixing wire"),
            _("fixing wire"),
            Kind.CHANNEL,
            help=_("As long as the channel. Leave it out where the channel is sold with its wire."),
        ),
        _fitting("channel_screw_material", _("channel screw"), example="screw"),
        _length(
            "channel_screw_spacing",
            _("spacing of channel screws"),
            small=True,
            smallest=INCH,
            needed=lambda spec: bool(spec.channel_screw_material),
            usual=CHANNEL_SCREWS,
            help=ByUnits(
                _("At most, along each run. 24 in is common practice, no source."),
                _("At most, along each run. 600 mm is common practice, no source."),
            ),
            example='24"',
        ),
        _fitting("fan_material", _("inflation fan"), help=_("One for a house with two layers of film.")),
        _fitting("hose_material", _("inflation hose"), help=_("One for a house with two layers of film.")),
        _fitting("tape_material", _("joint tape"), help=_("So that no joint of pipe cuts the film."), example="tape"),
        _count(
            "joints_per_roll",
            _("joints taped from one roll"),
            1_000,
            noun=_("joints to a roll"),
            smallest=1,
            default=50,
            help=_("50 is common practice, no source."),
            example=50,
        ),
        _fitting("anchor_tie_material", _("anchor tie"), help=_("One for each anchor."), example="tie"),
    ),
)
BY_NAME = {field.name: field for field in FIELDS}


def names_of(kind: FieldKind) -> tuple[str, ...]:
    return tuple(field.name for field in FIELDS if field.kind is kind)


def sections() -> dict[str, list[str]]:
    """Names of fields by section, in order."""
    found: dict[str, list[str]] = {}
    for field in FIELDS:
        found.setdefault(field.section, []).append(field.name)
    return found


#: Of a recipe, but for its name. Usual marks and stop gap: common practice, no source.
RECIPE_FIELDS: tuple[SpecField, ...] = (
    _material("tube", _("tube"), _("hoops"), Kind.TUBE, required=True, default=None, example="rail"),
    _length(
        "stick_length",
        _("stick length"),
        noun=_("stick length of the recipe"),
        required=True,
        smallest=INCH,
        default=None,
        help=_("One full stick as bought, swaged end included."),
        example="10'",
    ),
    _count(
        "sticks",
        _("sticks in one hoop"),
        12,
        noun=_("sticks in a hoop"),
        heading="Sticks in a hoop",
        required=True,
        smallest=1,
        default=2,
        example=2,
    ),
    _length(
        "insertion",
        _("insertion at each joint"),
        small=True,
        noun=_("insertion of the recipe"),
        heading="Insertion",
        help=_("How far the swaged end slides in."),
        example='4"',
    ),
    _length(
        "radius",
        _("bend radius to the centreline"),
        small=True,
        noun=_("bending radius of the recipe"),
        heading="Bend radius",
        required=True,
        smallest=INCH,
        default=None,
        help=_("The one radius that the bender makes."),
        example='79"',
    ),
    _length(
        "first_mark",
        _("first mark from the end that goes in first"),
        small=True,
        noun=_("first mark of the recipe"),
        heading="First mark",
        required=True,
        help=_("The swaged end where the tube has one, else one and the same end of every stick."),
        usual=FIRST_MARK,
        example='9"',
    ),
    _length(
        "pitch",
        _("distance between marks"),
        small=True,
        noun=_("distance between marks of the recipe"),
        heading="Between marks",
        required=True,
        smallest=INCH,
        usual=PITCH,
        example='18"',
    ),
    _length(
        "stop_gap",
        _("stop gap"),
        small=True,
        noun=_("stop gap of the recipe"),
        usual=STOP_GAP,
        help=_("Distance left from flat at each pull; it guards against over-bending."),
        example='1"',
    ),
    _field(
        FieldKind.CHOICE,
        "joint",
        _("how sticks are joined"),
        noun=_("joint of the recipe"),
        heading="Joint",
        choices=_JOINTS,
        default=Joint.SWAGE,
        help=_("A sleeve loses no length: type 0 as insertion."),
        example="swage",
    ),
    _material("sleeve_material", _("sleeve tube"), _("hoop sleeves"), Kind.TUBE, help=_SLEEVE_TUBE),
    _length(
        "sleeve_length", _("sleeve length"), small=True, noun=_("sleeve length of the recipe"), help=_SLEEVE_LENGTH
    ),
    _count(
        "sleeve_screws",
        _("screws at each sleeve"),
        12,
        noun=_("screws a sleeve"),
        default=2,
        help=_SLEEVE_SCREWS,
    ),
)
RECIPE_BY_NAME = {field.name: field for field in RECIPE_FIELDS}
