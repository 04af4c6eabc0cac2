"""A filled project workbook in: a season, or every problem in it with its sheet, row and column."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from farmbuild.measure import (
    POINT,
    LengthError,
    Unit,
    UnitSystem,
    activate_style,
    number_style,
    parse_lengths,
    typed_as,
    use_style,
)
from farmbuild.measure.limits import Days, kerf_problem, wall_problem
from farmbuild.measure.usual import longer_than_any
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.inputs import Season
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.season.plan import SeasonError, check_season
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.cells import MAX_QUANTITY
from farmbuild.workbooks.headings import OWN_NOTES, key, nearest, unit_said, with_units
from farmbuild.workbooks.project_layout import Field, SheetLayout, Type, default_unit
from farmbuild.workbooks.project_season import (
    KINDS,
    Line,
    Table,
    build_material,
    build_recipe,
    build_season,
    build_spec,
    own_lines,
)
from farmbuild.workbooks.project_units import when_empty
from farmbuild.workbooks.reading import (
    Book,
    Cell,
    CellError,
    Row,
    Rules,
    WorkbookError,
    as_bool,
    as_date,
    as_length,
    as_money,
    as_quantity,
    as_text,
    unread,
)
from farmbuild.workbooks.reading import Table as Read

#: Told how many steps are done, of how many, and what is being done now.
Progress = Callable[[int, int, str], None]

ZERO = Decimal(0)
_ASK_PRICE = "This cell is empty. Type the price of one, for example {}."
#: Of the first column, which says what is an example.
MARK = "mark of an example"
_UNITS = {words: units for units, words in layout.UNIT_WORDS.items()}


@dataclass(frozen=True)
class Problem:
    """One thing to put right. ``row`` is 0 for a whole sheet, ``column`` is its heading or ""."""

    sheet: str
    row: int
    column: str
    sentence: str

    def __str__(self) -> str:
        where = [self.sheet, f"row {self.row}" if self.row else "", self.column]
        return f"{', '.join(part for part in where if part)}: {self.sentence}"


class ProjectProblems(ValueError):
    """Everything that keeps a project workbook from being read, in the order of the sheets."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, problems)))


def read_project(data: bytes, filename: str, *, progress: Progress | None = None) -> Season:
    """The season that the workbook holds; ``progress`` is told sheets done, of how many, and what is read.

    Text is read by the decimal sign of the workbook, whatever is in force. Raises WorkbookError when the file is no
    workbook, and ProjectProblems with all that is wrong inside it.
    """
    reading = _Reading(Book(data, filename), progress or (lambda *_: None))
    with use_style(POINT):
        return reading.season()


@dataclass(frozen=True)
class ProjectBook:
    """Everything that stands in a workbook, for the site: more than a plan takes."""

    project: Line
    tables: Mapping[str, Table]
    units: UnitSystem
    season: Season


def read_project_book(data: bytes, filename: str) -> ProjectBook:
    """As ``read_project``, for whoever keeps it: there need be no house, and no day or site of a plan."""
    reading = _Reading(Book(data, filename), lambda *_: None, to_plan=False)
    with use_style(POINT):
        return reading.book_read()


class _Reading:
    def __init__(self, book: Book, tell: Progress, *, to_plan: bool = True) -> None:
        self.to_plan = to_plan
        self.book = book
        self.tell = tell
        self.problems: list[Problem] = []
        self.units = UnitSystem.IMPERIAL
        self.currency = ""
        #: Rows of the answers on the Project sheet.
        self.rows: dict[str, int] = {}

    def season(self) -> Season:
        return self.book_read().season

    def book_read(self) -> ProjectBook:
        self._check_sheets()
        project = self._project()
        self.units = _UNITS.get(project.values.get("units", ""), UnitSystem.IMPERIAL)
        tables = {}
        for done, sheet in enumerate(layout.SHEETS, 1):
            self.tell(done, len(layout.SHEETS), f"Reading the sheet {sheet.title}")
            tables[sheet.title] = self._table(sheet)
        for table in tables.values():
            self._check_keys(table)
            for line in table.lines:
                self._check_references(table.layout.title, table.layout.by_name, line, tables)
        self._check_references("Project", {f.name: f for f in layout.PROJECT}, project, tables)
        self._check_answers(project)
        self._check_materials(tables)
        self._check_things(tables)
        self._check_houses(tables)
        self._stop_at_problems()
        season = build_season(project, tables, self.units)
        try:
            check_season(season)
        except SeasonError as error:
            self.problems += [Problem("Project", 0, "", reason) for reason in error.reasons]
        self._stop_at_problems()
        return ProjectBook(project, tables, self.units, season)

    def _check_sheets(self) -> None:
        """A sheet under a name near to that of one that is not there would be left out with all that is on it."""
        missing = [title for title in layout.BY_TITLE if not self.book.has_sheet(title)]
        for title in self.book.sheets:
            if key(title) in map(key, ("Project", *layout.BY_TITLE)):
                continue
            if near := nearest(title, missing):
                sentence = f"There is no sheet of this name in a project workbook: “{title}”. Did you mean “{near}”?"
                self.problems.append(Problem(near, 0, "", sentence))

    def _stop_at_problems(self) -> None:
        if self.problems:
            order = ["Project", *layout.BY_TITLE]
            raise ProjectProblems(sorted(self.problems, key=lambda p: (order.index(p.sheet), p.row)))

    def _add(self, sheet: str, line: Line, column: Field, sentence: str) -> None:
        line.bad.add(column.name)
        self.problems.append(Problem(sheet, line.row, column.heading, sentence))

    def _project(self) -> Line:
        """The answers of the Project sheet, as one line; problems keep the row of their own answer."""
        answers = Line(0, {})
        try:
            table = self.book.table(
                headings={"what": ("What",), "answer": ("Answer",)},
                required={"what", "answer"},
                sheet="Project",
                rules=unread("Invented example"),
            )
        except WorkbookError as error:
            self.problems.append(Problem("Project", 0, "", str(error)))
            answers.bad.update(f.name for f in layout.PROJECT)
            return answers
        rows = self._answers(table)
        # By these two the other answers are read.
        fields = sorted(layout.PROJECT, key=lambda f: f.name not in ("units", "decimal_sign"))
        for wanted in fields:
            row = rows.get(key(wanted.heading))
            self.rows[wanted.name] = row.number if row else 0
            if row is None and self._asked(wanted).required:
                self.problems.append(
                    Problem("Project", 0, wanted.heading, f"There is no row “{wanted.heading}”. Add it.")
                )
            line = Line(row.number if row else 0, {})
            self._cell("Project", line, self._asked(wanted), row["answer"] if row else Cell())
            answers.values |= line.values
            answers.bad |= line.bad
            if wanted.name == "units":
                self.units = _UNITS.get(line.values.get("units", ""), UnitSystem.IMPERIAL)
            if wanted.name == "decimal_sign":
                self._use_sign(line, wanted)
        self.currency = currency = str(answers.values.get("currency", ""))
        if "currency" not in answers.bad and not re.fullmatch(r"[A-Z]{3}", currency):
            row = rows.get("currency")
            answers.bad.add("currency")
            self.problems.append(
                Problem(
                    "Project",
                    row.number if row else 0,
                    "Currency",
                    "Type the three letters of the currency, for example USD.",
                )
            )
        return answers

    def _asked(self, wanted: Field) -> Field:
        """Day and site of the plan are asked where there is to be one."""
        of_the_plan = wanted.name in ("as_of", "delivery_site")
        return replace(wanted, required=False) if of_the_plan and not self.to_plan else wanted

    def _answers(self, table: Read) -> dict[str, Row]:
        """Rows by their question; an answer to one that is not known, or answered already, is refused by name."""
        headings = [f.heading for f in layout.PROJECT]
        known, rows = {key(heading): heading for heading in headings}, {}
        for row in table.rows:
            asked = key(row["what"].text)
            if asked in known and asked in rows and not row["answer"].blank and not rows[asked]["answer"].blank:
                sentence = f"Row {rows[asked].number} has “{known[asked]}” already. Take one of the two out."
                self.problems.append(Problem("Project", row.number, known[asked], sentence))
            elif asked in known and (asked not in rows or not row["answer"].blank):
                rows[asked] = row
            elif asked not in known and not row["answer"].blank and asked not in map(key, OWN_NOTES):
                near = nearest(asked, headings)
                said = row["what"].text[:60]
                hint = f"Did you mean “{near}”?" if near else f"Take the row out, or call it “{OWN_NOTES[0]}”."
                self.problems.append(
                    Problem("Project", row.number, said, f"“{said}” is nothing that is asked here. {hint}")
                )
        return rows

    def _use_sign(self, line: Line, wanted: Field) -> None:
        """Workbooks that were filled in before there was such a row have a point."""
        sign = layout.SIGN_WORDS.get(line.values.get("decimal_sign", ""), "")
        metric = self.units is UnitSystem.METRIC
        if metric and line.row and not sign and wanted.name not in line.bad:
            self._add("Project", line, wanted, f"This cell is empty. {_ask(wanted, self.units)}")
        activate_style(number_style(sign or ".", self.units))

    def _table(self, sheet: SheetLayout) -> Table:
        found = Table(sheet)
        if sheet.may_be_missing and not self.book.has_sheet(sheet.title):
            return found
        headings = {f.name: self._headings(f) for f in sheet.fields} | {MARK: (layout.NOTE_HEADING,)}
        try:
            table = self.book.table(
                headings=headings,
                required={f.name for f in sheet.fields if f.required},
                sheet=sheet.title,
                max_rows=sheet.most_rows,
                rules=Rules(skip=_is_example, collect=True),
            )
        except WorkbookError as error:
            self.problems.append(Problem(sheet.title, 0, "", str(error)))
            return found
        self.problems += [
            Problem(sheet.title, table.heading_row, column.heading or f"column {column.column}", column.sentence)
            for column in table.strange
        ]
        found.there = frozenset(table.columns)
        said = {name: unit for name, head in table.heads.items() if (unit := unit_said(head))}
        for row in table.rows:
            if all(cell.blank for name, cell in row.cells.items() if name != MARK):
                continue
            line = Line(row.number, {})
            for wanted in sheet.fields:
                self._cell(sheet.title, line, wanted, row[wanted.name], said.get(wanted.name))
            found.lines.append(line)
        return found

    def _headings(self, wanted: Field) -> tuple[str, ...]:
        """A heading may say the unit of its lengths, or the currency of its amounts."""
        match wanted.type:
            case Type.LENGTH | Type.LENGTHS:
                texts = [wanted.heading, *layout.FORMER_HEADINGS.get(wanted.heading, ())]
                return tuple(words for text in texts for words in with_units(text))
            case Type.MONEY if self.currency:
                texts = [wanted.heading, *([f"{wanted.heading} 1"] if wanted.name == "price_1" else [])]
                return (*texts, *(f"{text}, {self.currency}" for text in texts))
            case _:
                return (wanted.heading, *([f"{wanted.heading} 1"] if wanted.name == "from_1" else []))

    def _cell(self, sheet: str, line: Line, wanted: Field, cell: Cell, said: Unit | None = None) -> None:
        if cell.blank:
            if wanted.required:
                self._add(sheet, line, wanted, f"This cell is empty. {_ask(wanted, self.units)}")
            line.values[wanted.name] = _empty(wanted, self.units)
            return
        try:
            line.values[wanted.name] = self._value(wanted, cell, said)
        except CellError as error:
            self._add(sheet, line, wanted, str(error))
            line.values[wanted.name] = _empty(wanted, self.units)

    def _value(self, wanted: Field, cell: Cell, said: Unit | None) -> Any:
        unit = said or default_unit(wanted.small, self.units)
        readers: dict[Type, Callable[[], Any]] = {
            Type.TEXT: lambda: as_text(cell, most=wanted.most or 200),
            Type.LONG_TEXT: lambda: as_text(cell, most=wanted.most or 2000, lines=True),
            Type.LENGTH: lambda: as_length(cell, unit, told=said is not None),
            Type.LENGTHS: lambda: self._lengths(cell, unit, told=said is not None),
            Type.COUNT: lambda: as_quantity(cell, least=wanted.least, most=wanted.most or MAX_QUANTITY),
            Type.MONEY: lambda: as_money(cell, places=wanted.places, currency=self.currency),
            Type.PERCENT: lambda: _percent(cell, wanted.places),
            Type.QUANTITY: lambda: _amount(cell, wanted),
            Type.DAY: lambda: _day(cell, wanted.days),
            Type.YES_NO: lambda: as_bool(cell),
            Type.CHOICE: lambda: _choice(cell, wanted.choices),
        }
        return readers[wanted.type]()

    def _lengths(self, cell: Cell, unit: Unit, *, told: bool) -> tuple[Decimal, ...]:
        if not isinstance(cell.value, str) or cell.formula or cell.error:
            return (as_length(cell, unit, told=told),)
        try:
            lengths = tuple(parse_lengths(cell.text, unit))
        except LengthError as error:
            raise CellError(str(error)) from error
        for length in lengths:
            if problem := longer_than_any(Kind.LUMBER, self.units, length):
                raise CellError(problem)
        return lengths

    def _check_keys(self, table: Table) -> None:
        """No name stands for two rows; a name left empty is made from the row."""
        if not table.layout.key:
            return
        key = table.layout.by_name[table.layout.key]
        seen: dict[str, int] = {}
        for line in table.lines:
            name = line.values[key.name]
            if not name and not key.required:
                line.values[key.name] = f"{table.layout.title.lower()} row {line.row}"
                continue
            if name and name in seen:
                self._add(
                    table.layout.title,
                    line,
                    key,
                    f"“{name}” already stands in row {seen[name]}. Give each row a name of its own.",
                )
            seen.setdefault(name, line.row)

    def _check_references(
        self, sheet: str, fields: Mapping[str, Field], line: Line, tables: Mapping[str, Table]
    ) -> None:
        for wanted in fields.values():
            name = line.values.get(wanted.name)
            if not wanted.refers or not name or wanted.name in line.bad:
                continue
            keys = tables[wanted.refers].keys
            if name not in keys:
                near = difflib.get_close_matches(str(name), sorted(keys), n=1)
                hint = f" Did you mean “{near[0]}”?" if near else ""
                row = line if line.row else Line(self.rows[wanted.name], {})
                self._add(sheet, row, wanted, f"“{name}” is not on the sheet {wanted.refers}.{hint}")
                line.bad.add(wanted.name)

    def _check_answers(self, project: Line) -> None:
        kerf = {f.name: f for f in layout.PROJECT}["kerf"]
        if kerf.name not in project.bad and (problem := kerf_problem(project.values[kerf.name], self.units)):
            self._add("Project", Line(self.rows[kerf.name], {}), kerf, problem)

    def _check_materials(self, tables: Mapping[str, Table]) -> None:
        """Of all that are listed, and not of those alone that a house takes."""
        wall = layout.MATERIALS.by_name["thickness"]
        for line in tables["Materials"].lines:
            if line.bad or KINDS.get(line.values["kind"]) is not Kind.TUBE:
                continue
            if problem := wall_problem(line.values["width"], line.values["thickness"], self.units):
                self._add("Materials", line, wall, problem)

    def _check_things(self, tables: Mapping[str, Table]) -> None:
        """What is sold by length has one, what is counted has none; price steps rise."""
        kinds = {line.values["code"]: line.values["kind"] for line in tables["Materials"].lines}
        for title in ("Offers", "Stock"):
            sheet = layout.BY_TITLE[title]
            for line in tables[title].lines:
                kind = KINDS.get(kinds.get(line.values["material"], ""))
                if kind is None or {"material", "length"} & line.bad:
                    continue
                length = line.values["length"]
                by_length = Material("", "", kind).by_length
                if by_length and not length:
                    self._add(
                        title,
                        line,
                        sheet.by_name["length"],
                        f"“{line.values['material']}” comes in lengths. Type the length of one piece.",
                    )
                if not by_length and length is not None:
                    self._add(
                        title,
                        line,
                        sheet.by_name["length"],
                        f"“{line.values['material']}” is counted and has no length. Leave this cell empty.",
                    )
                elif problem := longer_than_any(kind, self.units, length or ZERO):
                    self._add(title, line, sheet.by_name["length"], problem)
        for line in tables["Offers"].lines:
            self._check_steps(line)

    def _check_steps(self, line: Line) -> None:
        offers = layout.OFFERS.by_name
        before = 0
        for n in range(1, layout.MAX_BREAKS + 1):
            first, price = offers[f"from_{n}"], offers[f"price_{n}"]
            if {first.name, price.name} & line.bad:
                return
            quantity, amount = line.values[first.name], line.values[price.name]
            if n == 1 and amount is not None and quantity is None:
                quantity = line.values[first.name] = 1
            if amount is None and (quantity is not None or n == 1):
                self._add("Offers", line, price, _ASK_PRICE.format(typed_as(Decimal("12.50"))))
            elif quantity is None and amount is not None:
                self._add("Offers", line, first, "This cell is empty. Type from how many on the price beside it holds.")
            elif quantity is not None and quantity <= before:
                self._add(
                    "Offers",
                    line,
                    first,
                    f"Price steps have to rise: {quantity} is not more than {before}. Put the steps in order.",
                )
            before = quantity or before

    def _check_houses(self, tables: Mapping[str, Table]) -> None:
        if self.to_plan and not tables["Houses"].lines and not any(p.sheet == "Houses" for p in self.problems):
            self.problems.append(Problem("Houses", 0, "", "There is no house to plan. Fill in at least one row."))
        if any(line.bad for title in ("Materials", "Recipes") for line in tables[title].lines):
            # Houses are checked once what they are made of can be read.
            return
        materials = {m.code: m for m in map(build_material, tables["Materials"].lines)}
        recipes = {line.values["name"]: line for line in tables["Recipes"].lines}
        own = own_lines(tables)
        told: set[tuple[str, str, str]] = set()
        for line in tables["Houses"].lines:
            lines = own.get(line.values["ref"], [])
            if line.bad or any(row.bad for row in lines):
                continue
            recipe = recipes[line.values["recipe"]]
            for problem in check_spec(build_spec(line, build_recipe(recipe), lines), materials, self.units):
                if problem.field == "own_rows":
                    at = min(problem.row, len(lines) - 1)
                    column = layout.OWN_ROWS.by_name[problem.part or "house"]
                    self._add("Own rows", lines[at], column, problem.message)
                    continue
                if problem.field == "recipe" and problem.part in layout.RECIPES.by_name:
                    key = (line.values["recipe"], problem.part, problem.message)
                    if key not in told:
                        told.add(key)
                        self._add("Recipes", recipe, layout.RECIPES.by_name[problem.part], problem.message)
                    continue
                self._add("Houses", line, layout.HOUSES.by_name[problem.field], problem.message)


def _is_example(cells: Mapping[str, Cell]) -> bool:
    return MARK in cells and layout.EXAMPLE in cells[MARK].text.casefold()


def _ask(wanted: Field, units: UnitSystem) -> str:
    if wanted.refers:
        return f"Type a name from the sheet {wanted.refers}."
    if wanted.choices:
        return f"Choose one of: {', '.join(wanted.choices)}."
    return {
        Type.LENGTH: "Type a length, for example " + ("7' 3 1/2\"." if units == "imperial" else "2380 mm."),
        Type.COUNT: "Type a whole number.",
        Type.DAY: "Type a date, for example 2027-05-12.",
    }.get(wanted.type, f"It has to be filled in, for example {wanted.example}.")


def _empty(wanted: Field, units: UnitSystem) -> Any:
    if wanted.keep_empty or wanted.default is not None:
        return when_empty(wanted, units)
    match wanted.type:
        case Type.LENGTH | Type.MONEY | Type.PERCENT | Type.QUANTITY:
            return ZERO
        case Type.LENGTHS:
            return ()
        case Type.COUNT:
            return wanted.least
        case Type.YES_NO:
            return False
        case Type.DAY:
            return None
        case _:
            return ""


def _percent(cell: Cell, places: int) -> Decimal:
    percent = as_money(cell, places=places)
    if percent > 100:
        example = typed_as(Decimal("6.25"))
        raise CellError(f"{typed_as(percent.normalize())} is more than 100. Type a percentage, for example {example}.")
    return percent


def _amount(cell: Cell, wanted: Field) -> Decimal:
    amount = as_money(cell, places=wanted.places)
    if wanted.span and not wanted.span[0] <= amount <= wanted.span[1]:
        raise CellError(f"{typed_as(amount.normalize())} cannot be right. {wanted.span[2]}")
    return amount


def _day(cell: Cell, days: Days) -> date:
    day = as_date(cell)
    if problem := days.problem(day):
        raise CellError(f"{day.isoformat()} cannot be right. {problem}")
    return day


def _choice(cell: Cell, choices: tuple[str, ...]) -> str:
    text = " ".join(as_text(cell).casefold().split())
    if text not in choices:
        raise CellError(f"“{cell.text}” is not one of the choices. Choose one of: {', '.join(choices)}.")
    return text
