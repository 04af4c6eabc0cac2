"""A project workbook out: empty with notes, drop-downs and an invented example, or filled from a season."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal

from openpyxl.utils import get_column_letter

from farmbuild.measure import (
    FILM_BELOW_MM,
    THIN_SPACE,
    LengthError,
    UnitSystem,
    current_style,
    format_decimal,
    format_film,
    format_length,
    parse_length,
    use_style,
)
from farmbuild.planning.house.own_rows import PER_NAMES
from farmbuild.planning.house.spec import HouseSpec, Recipe
from farmbuild.planning.inputs import Season
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project_layout import Field, SheetLayout, Type
from farmbuild.workbooks.project_units import HOW_TO_TYPE, shown_in
from farmbuild.workbooks.words import COUNT, DAY
from farmbuild.workbooks.writing import (
    HEAD,
    LABEL,
    NOTE,
    PLAIN,
    TEXT,
    TITLE,
    WRAPPED,
    Book,
    Column,
    Look,
    Sheet,
    Value,
)

#: The template is the same file on every day.
TEMPLATE_DAY = date(2027, 1, 1)
EXAMPLE_LOOK = Look(grey=True, wrap=True, line=True, indent=1)
AMOUNT = Look(number="#,##0.00####", align="right", line=True)
_LOOKS = {
    Type.LONG_TEXT: TEXT,
    Type.COUNT: COUNT,
    Type.MONEY: AMOUNT,
    Type.PERCENT: AMOUNT,
    Type.QUANTITY: AMOUNT,
    Type.DAY: DAY,
    Type.YES_NO: PLAIN,
    Type.CHOICE: PLAIN,
}

Row = Mapping[str, object]


def project_template(units: UnitSystem = UnitSystem.IMPERIAL, *, decimal_sign: str = "") -> bytes:
    """The bytes of an empty project workbook; the same every time. The one in metres says so already.

    ``decimal_sign``: "point" or "comma"; left empty it is for whoever fills the workbook in.
    """
    known = {"units": layout.UNIT_WORDS[units]} if units is UnitSystem.METRIC else {}
    known |= {"decimal_sign": decimal_sign} if decimal_sign else {}
    return _write(known, {}, units, TEMPLATE_DAY, examples=True)


def write_project(
    season: Season,
    *,
    more: Mapping[str, Mapping[str, Row]] | None = None,
    recipes: Iterable[Recipe] = (),
    benders: Iterable[Row] = (),
) -> bytes:
    """The bytes of a project workbook that reads back as an equal season, its text by the buyer's decimal sign.

    ``more``: what the site keeps besides, by sheet and name of the row; ``recipes`` of no house; ``benders``.

    Raises ValueError when one recipe name stands for two recipes, or an offer has more price steps than the
    sheet has columns. An empty name comes back as the code beside it.
    """
    tables = {
        "Sites": _plain(season.sites),
        "Materials": [
            vars(row) | {"kind": layout.KIND_WORDS[row.kind], "swaged": row.swaged, "yield_mpa": row.yield_mpa or None}
            for row in season.materials
        ],
        "Benders": list(benders),
        "Recipes": _plain(_recipes(season, recipes)),
        "Houses": [
            {"ref": h.ref, "name": h.name, "site": h.site, "need_date": h.need_date} | _spec(h.spec)
            for h in season.houses
        ],
        "Own rows": [
            vars(row) | {"house": h.ref, "per": PER_NAMES[row.per], "step": layout.STEP_WORDS.get(row.step, "")}
            for h in season.houses
            for row in h.spec.own_rows
        ],
        "Suppliers": _plain(season.suppliers),
        "Offers": [vars(row) | _steps(row.breaks, row.ref) for row in season.offers],
        "Stock": _plain(season.lots),
    }
    for title, values in (more or {}).items():
        key = layout.BY_TITLE[title].key
        tables[title] = [{**row, **values.get(str(row[key]), {})} for row in tables[title]]
    buyer = season.buyer
    project = vars(buyer) | {
        "units": layout.UNIT_WORDS[buyer.units],
        "decimal_sign": buyer.style.name,
        "prices": layout.PRICES[buyer.prices_include_tax],
        "delivery_site": season.delivery_site,
        "as_of": season.as_of,
        "kerf": season.kerf,
        "keep_from": season.keep_from,
    }
    with use_style(buyer.style):
        return _write(project, tables, buyer.units, season.as_of, examples=False)


def _plain(rows: Iterable[object]) -> list[Row]:
    return [vars(row) for row in rows]


def _recipes(season: Season, more: Iterable[Recipe]) -> list[Recipe]:
    found: dict[str, Recipe] = {}
    for wanted in (*(house.spec.recipe for house in season.houses), *more):
        recipe = found.setdefault(wanted.name, wanted)
        if recipe != wanted:
            raise ValueError(f"Two different recipes are named {recipe.name}.")
    return list(found.values())


def _spec(spec: HouseSpec) -> dict[str, object]:
    return vars(spec) | {"recipe": spec.recipe.name}


def _steps(breaks: Iterable[object], ref: str) -> dict[str, object]:
    row: dict[str, object] = {}
    for n, step in enumerate(breaks, 1):
        if n > layout.MAX_BREAKS:
            raise ValueError(f"The offer {ref} has more than {layout.MAX_BREAKS} price steps.")
        row |= {f"from_{n}": step.from_quantity, f"price_{n}": step.unit_price}
    return row


def _write(project: Row, tables: Mapping[str, list[Row]], units: UnitSystem, stamp: date, *, examples: bool) -> bytes:
    book = Book(title="Project", author=str(project.get("name", "")), stamp=stamp, units=units)
    _project_sheet(book, project, units)
    for sheet in layout.SHEETS:
        _table_sheet(book, sheet, tables.get(sheet.title, []), units, examples=examples)
    return book.to_bytes()


def _project_sheet(book: Book, project: Row, units: UnitSystem) -> None:
    columns = [
        Column("What", 26, PLAIN),
        Column("Answer", 36, WRAPPED),
        Column("Invented example", 26, EXAMPLE_LOOK),
        Column(layout.NOTE_HEADING, 60, EXAMPLE_LOOK),
    ]
    sheet = book.sheet("Project", columns, freeze=layout.HEADING_ROW, landscape=True, foot="Project")
    sheet.row(["Project: houses to build in one season"], TITLE, height=24)
    sheet.row(
        [
            "Fill in the answers here and the rows of the other sheets. Lengths are typed as you write them: "
            f"{HOW_TO_TYPE[units]}. Grey rows and columns are examples and are not read."
        ],
        NOTE,
        height=32,
    )
    sheet.join(1, 4)
    sheet.headings()
    fields = (shown_in("Project", field, units) for field in layout.PROJECT)
    for at, field in enumerate(fields, layout.HEADING_ROW + 1):
        value = _value(field, project.get(field.name), units)
        heading = f"{field.heading} *" if field.required else field.heading
        looks = [PLAIN, _answer_look(field), EXAMPLE_LOOK, EXAMPLE_LOOK]
        sheet.row([heading, value, _example(field), field.note], looks)
        _help(sheet, field, 2, at, at)
    sheet.blank()
    sheet.row(["* has to be filled in"], LABEL)
    sheet.finish()


def _example(field: Field) -> Value:
    """A number or day as such, so that every program shows it in its own writing."""
    text = str(field.example or "")
    if not text:
        return None
    match field.type:
        case Type.COUNT | Type.MONEY | Type.PERCENT | Type.QUANTITY:
            return Decimal(text)
        case Type.DAY:
            return date.fromisoformat(text)
        case _:
            return text


def _answer_look(field: Field) -> Look:
    look = _LOOKS.get(field.type, TEXT)
    return Look(number=look.number, line=True, wrap=True, align="left", indent=1)


def _shown(sheet: SheetLayout, rows: list[Row]) -> list[Field]:
    """All columns, but only as many price steps as are used, and a few to fill in."""
    used = max((n for row in rows for n in range(1, layout.MAX_BREAKS + 1) if f"from_{n}" in row), default=0)
    steps = max(used, layout.BREAKS_SHOWN)
    hidden = {f"{what}_{n}" for n in range(steps + 1, layout.MAX_BREAKS + 1) for what in ("from", "price")}
    return [field for field in sheet.fields if field.name not in hidden]


def _table_sheet(book: Book, table: SheetLayout, rows: list[Row], units: UnitSystem, *, examples: bool) -> None:
    fields = [shown_in(table.title, field, units) for field in _shown(table, rows)]
    columns = [Column(layout.NOTE_HEADING, 26, EXAMPLE_LOOK)]
    columns += [
        Column(f"{f.heading} *" if f.required else f.heading, f.width, _LOOKS.get(f.type, TEXT)) for f in fields
    ]
    sheet = book.sheet(
        table.title,
        columns,
        freeze=layout.HEADING_ROW,
        freeze_columns=2,
        landscape=True,
        foot=table.title,
    )
    sheet.row([table.title], TITLE, height=24)
    sheet.row([table.note], NOTE, height=32)
    sheet.join(1, min(max(len(columns), 4), 9))
    sheet.row([column.heading for column in columns], HEAD, height=46)
    if examples:
        sheet.row([layout.EXAMPLE_MARK, *map(_example, fields)], EXAMPLE_LOOK)
    first = sheet.rows + 1
    for row in rows:
        sheet.row([None, *(_value(field, row.get(field.name), units) for field in fields)])
    for at, field in enumerate(fields, 2):
        _help(sheet, field, at, first, layout.ROWS_HELPED)
    sheet.finish()


def _help(sheet: Sheet, field: Field, column: int, first: int, last: int) -> None:
    """A drop-down where there is a choice, and the note when the cell is entered."""
    source = ""
    if field.refers:
        other = layout.BY_TITLE[field.refers]
        letter = get_column_letter(other.column(other.key))
        # The row below the headings may hold the example, which is no choice; without one it is harmless.
        source = f"{other.title}!${letter}${layout.HEADING_ROW + 1}:${letter}${layout.ROWS_HELPED}"
    elif field.type is Type.YES_NO:
        source = '"yes,no"'
    elif field.choices:
        source = f'"{",".join(field.choices)}"'
    text = field.note or {
        Type.LENGTH: "Type a length with its unit.",
        Type.LENGTHS: "Type lengths with semicolons between.",
        Type.DAY: "Type a date, year first: 2027-05-12.",
    }.get(field.type, "")
    if source:
        text = text or (f"Choose a row of the sheet {field.refers}." if field.refers else "Choose one.")
        sheet.choose(column, first, last, source, title=field.heading, text=text)
    elif text:
        sheet.prompt(column, first, last, title=field.heading, text=text)


def exact_length(length: Decimal, units: UnitSystem) -> str:
    """Text that reads back as the same length: rounded where that is exact, millimetres where not; without groups."""
    shown = format_film(length, units) if 0 < length < FILM_BELOW_MM else format_length(length, units)
    shown = shown.replace(THIN_SPACE, "").replace(current_style().other, "")
    try:
        reads_back = parse_length(shown, layout.default_unit(True, units)) == length
    except LengthError:
        # Rounding up can pass the longest length there is, which is then no length.
        reads_back = False
    return shown if reads_back else f"{format_decimal(length.normalize()).replace(current_style().group, '')} mm"


def _value(field: Field, value: object, units: UnitSystem) -> Value:
    told = field.keep_empty or field.required or field.default is not None
    if value is None or (value == 0 and not told and field.type is not Type.COUNT):
        return None
    match field.type:
        case Type.LENGTH:
            return exact_length(Decimal(str(value)), units)
        case Type.LENGTHS:
            return "; ".join(exact_length(length, units) for length in value) or None  # type: ignore[attr-defined]
        case Type.YES_NO:
            return "yes" if value else "no" if told else None
        case Type.COUNT | Type.MONEY | Type.PERCENT | Type.QUANTITY | Type.DAY:
            return value  # type: ignore[return-value]
        case _:
            return str(value) or None
