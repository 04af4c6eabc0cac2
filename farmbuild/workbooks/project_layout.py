"""The sheets and columns of a project workbook: what ``project_write`` writes and ``project_read`` reads."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import Enum, auto

from farmbuild.measure import Unit, UnitSystem
from farmbuild.measure.limits import MAX_LEAD_DAYS, PAPER_DAYS, SEASON_DAYS, YIELD_LEAST, YIELD_MOST, YIELD_SPAN, Days
from farmbuild.planning.house.fields import FIELDS, RECIPE_FIELDS, FieldKind, SpecField
from farmbuild.planning.house.own_rows import MAX_NOTE, PER_NAMES, PLACES
from farmbuild.planning.house.part import WORK_NAMES
from farmbuild.planning.materials import Kind

#: A row with this word in its first column is shown to the reader and not read.
EXAMPLE = "example"
EXAMPLE_MARK = "invented example, not read"
NOTE_HEADING = "Note"
HEADING_ROW = 3
#: Drop-downs and notes reach down to this row.
ROWS_HELPED = 2000
MAX_BREAKS = 30
BREAKS_SHOWN = 3
#: Headings of workbooks that were written before; they are read as those of today.
FORMER_HEADINGS = {"Stop gap": ("Stop short of flat by",)}


class Type(Enum):
    TEXT = auto()
    LONG_TEXT = auto()
    LENGTH = auto()
    LENGTHS = auto()
    COUNT = auto()
    MONEY = auto()
    PERCENT = auto()
    DAY = auto()
    QUANTITY = auto()
    YES_NO = auto()
    CHOICE = auto()


@dataclass(frozen=True)
class Field:
    """One column. ``small`` decides what a bare number is: inches or mm, not feet or metres.

    ``keep_empty`` tells an empty cell (None) from a zero. ``default``: what an empty cell means where that is neither
    nothing nor zero, which are then written out. ``refers`` names the sheet whose codes the cell takes.
    """

    name: str
    heading: str
    type: Type = Type.TEXT
    example: object = None
    note: str = ""
    required: bool = False
    small: bool = False
    keep_empty: bool = False
    default: object = None
    least: int = 0
    #: Characters of a text, or the largest whole number; None: as the type has it.
    most: int | None = None
    #: Decimals of an amount or percentage.
    places: int = 4
    days: Days = SEASON_DAYS
    #: Least and most of an amount, and what to type.
    span: tuple[Decimal, Decimal, str] | None = None
    #: Kept by the site; no plan takes it.
    site_only: bool = False
    refers: str = ""
    choices: tuple[str, ...] = ()
    width: float = 14


@dataclass(frozen=True)
class SheetLayout:
    """``key`` is the field by which other sheets name a row; no two rows may have the same."""

    title: str
    note: str
    fields: tuple[Field, ...]
    key: str = ""
    most_rows: int = 5_000
    #: Workbooks that were filled in before there was such a sheet lack it.
    may_be_missing: bool = False
    #: Kept by the site; no plan takes it.
    site_only: bool = False
    by_name: dict[str, Field] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {f.name: f for f in self.fields})

    def column(self, name: str) -> int:
        """Column number from 1; the note column comes first."""
        return 2 + [f.name for f in self.fields].index(name)


UNIT_WORDS = {UnitSystem.IMPERIAL: "feet and inches", UnitSystem.METRIC: "metres and millimetres"}
SIGN_WORDS = {"point": ".", "comma": ","}
KIND_WORDS = {
    Kind.TUBE: "tube",
    Kind.LUMBER: "lumber",
    Kind.FILM: "film",
    Kind.CHANNEL: "fixing channel",
    Kind.FASTENER: "fastener",
    Kind.ANCHOR: "anchor",
    Kind.HARDWARE: "hardware",
}


#: Whether prices include the tax.
PRICES = {False: "before tax", True: "with tax"}


def default_unit(small: bool, units: UnitSystem) -> Unit:
    """What a bare number means."""
    if units == UnitSystem.IMPERIAL:
        return Unit.INCH if small else Unit.FOOT
    return Unit.MILLIMETRE if small else Unit.METRE


def _text(name: str, heading: str, example: str = "", **more: object) -> Field:
    return Field(name, heading, Type.TEXT, example, **more)  # type: ignore[arg-type]


def _length(name: str, heading: str, example: str = "", **more: object) -> Field:
    return Field(name, heading, Type.LENGTH, example, **more)  # type: ignore[arg-type]


def _count(name: str, heading: str, example: int = 0, **more: object) -> Field:
    return Field(name, heading, Type.COUNT, example, **more)  # type: ignore[arg-type]


def _degrees(name: str, heading: str, example: int, **more: object) -> Field:
    return _count(name, heading, example, most=359, site_only=True, **more)


def _of(name: str, heading: str, sheet: str, example: str = "", **more: object) -> Field:
    return Field(name, heading, Type.TEXT, example, refers=sheet, width=18, **more)  # type: ignore[arg-type]


#: The Project sheet has one row for each of these.
PROJECT = (
    _text("name", "Your name", "Made-up Growers", required=True, most=120, note="Stands on every order as the buyer."),
    Field("address", "Your address", Type.LONG_TEXT, "1 Invented Lane"),
    _text("contact", "Your contact", "Pat, yard", most=200, note="Whom the supplier can ask."),
    Field(
        "units",
        "Units",
        Type.CHOICE,
        "feet and inches",
        required=True,
        choices=tuple(UNIT_WORDS.values()),
        note="What you read and write lengths in.",
    ),
    Field(
        "decimal_sign",
        "Decimal sign",
        Type.CHOICE,
        "point",
        choices=tuple(SIGN_WORDS),
        note="How you type decimals in cells of text. A cell that holds a number is that number in any case.",
    ),
    _text("currency", "Currency", "USD", required=True, most=40, note="Three letters, one currency for all prices."),
    _text("tax_name", "Name of the tax", "Sales tax", most=40, note="Leave empty when no tax is added."),
    Field(
        "tax_percent", "Tax, percent", Type.PERCENT, "6.25", places=3, note="Line by line; a material may have its own."
    ),
    Field(
        "prices",
        "Supplier prices",
        Type.CHOICE,
        PRICES[False],
        choices=tuple(PRICES.values()),
        note=f"Whether the tax is in them. Empty: {PRICES[False]}, and it is added.",
    ),
    _of("delivery_site", "Deliver to", "Sites", "north", required=True, note="A site of the Sites sheet."),
    Field(
        "as_of",
        "Plan as of",
        Type.DAY,
        "2027-02-01",
        required=True,
        note="The day on which the orders go out; deliveries are counted from it.",
    ),
    _length(
        "kerf",
        "Saw cut",
        '1/8"',
        small=True,
        keep_empty=True,
        note='What the blade takes away at each cut. Empty: 1/8".',
    ),
    _length(
        "keep_from",
        "Shortest offcut to keep",
        "2'",
        small=True,
        keep_empty=True,
        note="Shorter ends are scrap. Empty: 2'.",
    ),
)

SITES = SheetLayout(
    "Sites",
    "Every field or yard where a house stands or goods are delivered.",
    (
        _text("code", "Site", "north", required=True, most=120, note="A short name of your own; other sheets use it."),
        _text("name", "Name", "North Field", width=24, most=120),
        Field("address", "Address", Type.LONG_TEXT, "1 Invented Lane", width=40),
        Field("note", "Remarks", Type.LONG_TEXT, "gate on the north side", width=40, site_only=True),
        _text(
            "corner_stake",
            "Corner stake",
            "gate stake",
            most=60,
            width=18,
            note="The stake that houses are measured from.",
            site_only=True,
        ),
        _degrees(
            "plan_bearing",
            "Compass bearing across",
            20,
            keep_empty=True,
            note="Looking across the site from the corner stake, the base line to your right. North is 0, east 90.",
        ),
        _length(
            "walkway",
            "Walkway",
            "3'",
            keep_empty=True,
            note="Houses nearer than this are named. Empty: as usual.",
            site_only=True,
        ),
    ),
    key="code",
)

MATERIALS = SheetLayout(
    "Materials",
    "Everything that is bought or in the yard, without its length. Measure your own: sizes differ by maker.",
    (
        _text(
            "code", "Material", "rail", required=True, most=60, note="A short name of your own; other sheets use it."
        ),
        _text("name", "Name", "1-3/8 in fence top rail", width=34, most=120),
        Field("kind", "Kind", Type.CHOICE, "tube", required=True, choices=tuple(KIND_WORDS.values())),
        _length(
            "width",
            "Width or outside diameter",
            '1 3/8"',
            small=True,
            keep_empty=True,
            note="Tube: outside diameter. Lumber: dressed width. Film: width of the roll.",
        ),
        _length(
            "thickness",
            "Thickness or wall",
            '0.065"',
            small=True,
            keep_empty=True,
            note="Tube: wall. Lumber: dressed thickness. Film: with its unit, for example 6 mil or 150 µm.",
        ),
        Field("swaged", "One end swaged", Type.YES_NO, "yes", note="Yes when one end slides into the next stick."),
        Field(
            "tax_percent",
            "Tax, percent",
            Type.PERCENT,
            keep_empty=True,
            places=3,
            note="Where it differs from that of the Project sheet. Empty: as there.",
        ),
        Field(
            "yield_mpa",
            "Stated yield, MPa",
            Type.QUANTITY,
            "345",
            "Tube: from its maker or a standard. Empty: nobody states it.",
            keep_empty=True,
            places=2,
            span=(YIELD_LEAST, YIELD_MOST, YIELD_SPAN),
        ),
        _text("yield_source", "Where the yield comes from", "the maker's sheet", most=200, width=24, site_only=True),
        _text("note", "Where the sizes come from", "measured", most=200, width=24, site_only=True),
    ),
    key="code",
)

_TYPES = {
    FieldKind.LENGTH: Type.LENGTH,
    FieldKind.LENGTHS: Type.LENGTHS,
    FieldKind.COUNT: Type.COUNT,
    FieldKind.FLAG: Type.YES_NO,
    FieldKind.CHOICE: Type.CHOICE,
    FieldKind.MATERIAL: Type.TEXT,
    FieldKind.RECIPE: Type.TEXT,
}
_REFERS = {FieldKind.MATERIAL: "Materials", FieldKind.RECIPE: "Recipes"}


def _of_spec(field: SpecField, default: object = None) -> Field:
    """The column of a field of a house or of a recipe."""
    wide = field.kind in (FieldKind.LENGTHS, FieldKind.MATERIAL, FieldKind.RECIPE)
    return Field(
        field.name,
        field.column,
        _TYPES[field.kind],
        field.example,
        field.help,
        required=field.required,
        small=field.small,
        least=int(field.smallest) if field.kind is FieldKind.COUNT else 0,
        refers=_REFERS.get(field.kind, ""),
        choices=tuple(dict(field.choices)),
        width=18 if wide else 14,
        default=default,
    )


def _of_house(field: SpecField) -> Field:
    return _of_spec(field, field.default or None)


def _of_recipe(field: SpecField) -> Field:
    """An empty stop gap is none, so what is usual is not its default."""
    usual = not field.required and field.kind in (FieldKind.CHOICE, FieldKind.COUNT)
    return _of_spec(field, field.default if usual else None)


_ADDRESS = "Last part of its address on the site. Empty: made of the name."
_SITE_OF_RECIPE = (
    _length(
        "lever_length",
        "Lever bar below",
        '36"',
        small=True,
        keep_empty=True,
        note="With less free pipe than this, slide a lever bar over the plain end. Empty: as usual.",
        site_only=True,
    ),
    _of("bender", "Bender it is bent on", "Benders", "12 ft bender", site_only=True),
    _text(
        "slug",
        "Short name",
        "hoop-12",
        most=120,
        note=_ADDRESS,
        width=18,
        site_only=True,
    ),
)

BENDERS = SheetLayout(
    "Benders",
    "What hoops are bent on, where the site keeps that. No plan takes it.",
    (
        _text("name", "Bender", "12 ft bender", required=True, width=20, most=120),
        _text("slug", "Short name", "bender-12", most=120, note=_ADDRESS, width=18),
        _length("rated_radius", "Rated radius", '72"', required=True, small=True, note="To the centreline."),
        _length("rated_span", "Rated span", "12'", required=True, note="The span it is sold for."),
        Field(
            "way",
            "What is known of it",
            Type.CHOICE,
            "radius",
            "Empty: the radius. Label: the span that it says. Hoop: one that was measured.",
            choices=("radius", "label", "hoop"),
            default="radius",
        ),
        _count("label_sticks", "Sticks of the label", 2, least=1, most=12, keep_empty=True),
        _length("label_stick_length", "Stick of the label", "10'", keep_empty=True),
        _length("label_insertion", "Insertion of the label", '4"', small=True, keep_empty=True),
        _length("bent_span", "Free span measured", "", keep_empty=True),
        _length("bent_rise", "Rise measured", "", keep_empty=True),
        Field("tubes", "Tubes it fits", Type.LONG_TEXT, "rail", "Materials, with semicolons between.", width=24),
        _text("owner", "Owner", "", most=120, note="Who it belongs to, when it is not yours."),
        _text("kept_at", "Where it is", "shed", most=120),
        _count("service_pulls", "Service every so many pulls", 5000, least=1, most=2_000_000_000, keep_empty=True),
        _count("service_months", "Service every so many months", 12, least=1, most=120, keep_empty=True),
        _count(
            "earlier_pulls",
            "Pulls before",
            0,
            most=2_000_000_000,
            keep_empty=True,
            note="Before they were counted here.",
        ),
        _length("drift_limit", "Radius may change by", '1"', small=True, keep_empty=True),
        Field("note", "Remarks", Type.LONG_TEXT, "", width=40),
    ),
    key="name",
    may_be_missing=True,
    site_only=True,
)

RECIPES = SheetLayout(
    "Recipes",
    "How each hoop is bent. A bender makes one radius only; prove it on one hoop before the stack.",
    (
        _text("name", "Recipe", "12 ft hoop", required=True, width=20, most=120),
        *map(_of_recipe, RECIPE_FIELDS),
        *_SITE_OF_RECIPE,
    ),
    key="name",
)

_PLACED = "Along the base line from the corner stake to the front corner post on your right as you walk in."

HOUSES = SheetLayout(
    "Houses",
    "One row a house. Leave the cells of a part empty when the house has none of it. "
    "Wind, snow and codes are for your engineer and your building office.",
    (
        _text("ref", "House", "north-1", required=True, most=120, note="A short name of your own, used once."),
        _text("name", "Name", "North Field 1", width=22, most=120),
        _of("site", "Site", "Sites", "north", required=True),
        Field("need_date", "Needed by", Type.DAY, "2027-04-05", required=True),
        *map(_of_house, FIELDS),
        _length("along", "Along", "12'", keep_empty=True, note=_PLACED, site_only=True),
        _length("across", "Across", "8'", keep_empty=True, note="As Along, square to the base line.", site_only=True),
        _degrees("ridge_turn", "Ridge turned", 0, note="Degrees clockwise from the base line. Empty: along it."),
    ),
    key="ref",
)

STEP_WORDS = {kind.value: name.lower() for kind, name in WORK_NAMES.items()}

OWN_ROWS = SheetLayout(
    "Own rows",
    "Anything else that a house takes, one row each, in the order in which it shows them.",
    (
        _of("house", "House", "Houses", "north-1", required=True),
        _of("material", "Material", "Materials", "screw", required=True),
        Field(
            "quantity",
            "Quantity",
            Type.QUANTITY,
            "2",
            "Rounded up for the whole house.",
            required=True,
            places=PLACES,
        ),
        Field("per", "For each", Type.CHOICE, "hoop", "Empty: house.", choices=tuple(PER_NAMES.values()), width=24),
        _length("length", "Length of each piece", "", small=True, note="Empty for counted things."),
        Field(
            "step",
            "Used in",
            Type.CHOICE,
            "film",
            "Which work waits for it. Empty: none.",
            choices=tuple(STEP_WORDS.values()),
            width=22,
        ),
        Field("note", "What it is for", Type.LONG_TEXT, "tape over the joints", width=40, most=MAX_NOTE),
    ),
    may_be_missing=True,
)

SUPPLIERS = SheetLayout(
    "Suppliers",
    "Whom you can buy from, and on what terms.",
    (
        _text(
            "code", "Supplier", "pipe", required=True, most=60, note="A short name of your own; other sheets use it."
        ),
        _text("name", "Name", "Invented Pipe", width=28, most=120),
        Field("address", "Address", Type.LONG_TEXT, "3 Invented Quay", width=36),
        _text("contact", "Contact", "Counter", width=22, most=200),
        Field("delivery_charge", "Delivery charge", Type.MONEY, "85", places=2),
        Field(
            "free_delivery_from", "Delivery free from", Type.MONEY, "3000", "Empty: never.", keep_empty=True, places=2
        ),
        Field("minimum_order", "Smallest order", Type.MONEY, "150", places=2),
    ),
    key="code",
)


def _breaks() -> tuple[Field, ...]:
    found = []
    for n in range(1, MAX_BREAKS + 1):
        end = "" if n == 1 else f" {n}"
        found += [
            _count(f"from_{n}", f"From quantity{end}", (1, 50, 0)[min(n, 3) - 1], least=1, keep_empty=True),
            Field(
                f"price_{n}",
                f"Price of one{end}",
                Type.MONEY,
                ("14.60", "13.40", None)[min(n, 3) - 1],
                "What one piece costs from that many on." if n == 1 else "",
                keep_empty=True,
            ),
        ]
    return tuple(found)


OFFERS = SheetLayout(
    "Offers",
    "What each supplier asks for each length. More price steps go into further columns to the right: "
    f"From quantity 4, Price of one 4, and so on up to {MAX_BREAKS}.",
    (
        _text("ref", "Offer", "pipe-rail-10", note="A short name of your own; empty: one is made.", width=20),
        _of("supplier", "Supplier", "Suppliers", "pipe", required=True),
        _of("material", "Material", "Materials", "rail", required=True),
        _length("length", "Length of one", "10'", keep_empty=True, note="Empty for counted things."),
        _count("pack", "Pieces in a pack", 1, least=1, note="Empty: 1."),
        _count(
            "lead_days",
            "Days to deliver",
            6,
            keep_empty=True,
            note="Empty: not known. Plans then say so.",
            most=MAX_LEAD_DAYS,
        ),
        Field("valid_until", "Good until", Type.DAY, None, "Empty: no end.", keep_empty=True, days=PAPER_DAYS),
        _text("supplier_code", "Supplier's number", "IP-138", width=18, most=60),
        _text("listed_as", "What the supplier calls it", "top rail", width=24, most=200, site_only=True),
        *_breaks(),
    ),
    key="ref",
)

STOCK = SheetLayout(
    "Stock",
    "What lies in the yard: sticks, boards, rolls, fasteners, and offcuts with their length.",
    (
        _text("ref", "Lot", "rack-1", note="A short name of your own; empty: one is made.", width=18, most=40),
        _of("material", "Material", "Materials", "rail", required=True),
        _length("length", "Length of one", "10'", keep_empty=True, note="Empty for counted things."),
        _count("quantity", "Quantity", 24, required=True),
        Field("unit_cost", "Cost of one", Type.MONEY, "11.90"),
        _text("place", "Place", "Rack 1", width=22, most=80),
        Field("offcut", "Offcut", Type.YES_NO, "no", "Yes when the swaged end is gone."),
        _of("site", "Site", "Sites", "north", note="Empty: no site of the list."),
        Field(
            "available_from", "There from", Type.DAY, None, "Empty: it is there now.", keep_empty=True, days=PAPER_DAYS
        ),
        _of("supplier", "Supplier", "Suppliers", "pipe", site_only=True),
        Field(
            "received_on",
            "Received on",
            Type.DAY,
            None,
            "Empty: the day on which it is read.",
            keep_empty=True,
            days=PAPER_DAYS,
            site_only=True,
        ),
    ),
    key="ref",
    most_rows=10_000,
)

SHEETS = (SITES, MATERIALS, BENDERS, RECIPES, HOUSES, OWN_ROWS, SUPPLIERS, OFFERS, STOCK)
BY_TITLE = {layout.title: layout for layout in SHEETS}
