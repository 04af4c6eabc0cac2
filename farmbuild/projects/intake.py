"""A project workbook into the site, through the services of each room, in the caller's transaction.

What the page says before is found in the same way and taken back, so it is what happens. Nothing is deleted; what
stands in the site and not in the workbook stays.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.text import slugify
from django.utils.translation import gettext

from farmbuild.catalogue import services as catalogue
from farmbuild.catalogue.models import Material, Supplier
from farmbuild.catalogue.selectors import materials_of, suppliers_of
from farmbuild.common.speaking import said_day
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.services import FIELDS as BENDER_FIELDS
from farmbuild.hoops.benders.services import create_bender, save_bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.services import create_recipe, save_recipe
from farmbuild.measure import UnitSystem, format_count, format_length, format_money, typed_as
from farmbuild.measure.lengths import FILM_BELOW_MM, format_film
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.projects.outcomes import Fault, Outcome, Outcomes, State
from farmbuild.sites.models import HouseOwnRow, Site
from farmbuild.sites.own_rows import own_rows_words
from farmbuild.sites.selectors import any_house_of
from farmbuild.sites.services import PLACE_FIELDS, create_house, create_site, save_house, save_site
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project import ProjectBook
from farmbuild.workbooks.project_layout import Field, SheetLayout, Type
from farmbuild.workbooks.project_season import KINDS, Line, Table

#: Rows that are read at once: each goes through the checks of its form. All lots are stored by one transaction, which
#: took 45 s for 5,000 on two processors with eleven at work (seen), and others wait for it.
MOST_ROWS, MOST_LOTS = 3_000, 2_000
AMOUNTS = (Type.MONEY,)


def slug_of(code: str) -> str:
    """A short name as the site has them."""
    return slugify(code)


class Intake:
    """One reading; ``outcomes`` says what was done, or what keeps it from being done."""

    def __init__(self, *, organisation: Organisation, user: User, book: ProjectBook, filename: str, today: date):
        self.organisation, self.user, self.book, self.filename, self.today = organisation, user, book, filename, today
        self.units = UnitSystem(organisation.unit_system)
        self.outcomes = Outcomes()
        self.materials: dict[str, Material] = {}
        self.suppliers: dict[str, Supplier] = {}
        self.sites: dict[str, Site] = {}
        self.benders: dict[str, Bender] = {}
        self.recipes: dict[str, Recipe] = {}

    def run(self) -> Outcomes:
        """In the caller's transaction, which has to be taken back where there are faults."""
        lock_currency(organisation=self.organisation)
        if self._too_long() or self._other_money():
            return self.outcomes
        self._answers()
        self._sites()
        self._materials()
        self._benders()
        self._recipes()
        self._suppliers()
        self._houses()
        return self.outcomes

    # What all sheets share

    def table(self, title: str) -> Table:
        return self.book.tables[title]

    def fault(self, sheet: str, line: Line | None, column: str, sentence: str) -> None:
        self.outcomes.faults.append(Fault(sheet, line.row if line else 0, column, sentence))

    def tell(self, sheet: str, line: Line, name: str, state: State, words: str = "", changes: Iterable = ()) -> None:
        self.outcomes.rows.append(Outcome(sheet, line.row, name, state, tuple(changes), words))

    def slugs(self, table: Table, find: Mapping[str, Any]) -> dict[int, str]:
        """Short names of the rows, by row; two rows that come to one are refused."""
        sheet, key = table.layout, table.layout.by_name[table.layout.key]
        seen: dict[str, int] = {}
        found = {}
        for line in table.lines:
            code = line.values[key.name]
            slug = code if code in find else slug_of(code)
            if not slug:
                words = gettext(
                    "“%(code)s” has no letter a to z and no figure. Type a short name, for example north-1."
                ) % {"code": code}
                self.fault(sheet.title, line, key.heading, words)
            elif slug in seen:
                words = gettext("“%(code)s” comes to the short name %(slug)s, as row %(seen)s does. Type another.") % {
                    "code": code,
                    "slug": slug,
                    "seen": seen[slug],
                }
                self.fault(sheet.title, line, key.heading, words)
            else:
                found[line.row] = slug
            seen.setdefault(slug, line.row)
        return found

    def put(
        self,
        sheet: SheetLayout,
        line: Line,
        name: str,
        *,
        wanted: Mapping[str, Any],
        current: Mapping[str, Any] | None,
        store: Callable[[Mapping[str, Any]], Any],
        say: Mapping[str, Callable[[Any], str]] | None = None,
        words: str = "",
        extra: frozenset[str] = frozenset(),
    ) -> Any:
        """Store a row that is new (``current`` is None) or differs; gives what ``store`` gives, None where it may not.

        A column that the workbook does not have says nothing of what is stored.
        """
        there = self.table(sheet.title).there | extra
        if current is not None:
            wanted = {key: value for key, value in wanted.items() if key in there and current[key] != value}
            if not wanted:
                self.tell(sheet.title, line, name, State.SAME)
                return None
        try:
            with transaction.atomic():
                stored = store(wanted)
        except ValidationError as error:
            self.refuse(sheet, line, error)
            return None
        if current is None:
            self.tell(sheet.title, line, name, State.NEW, words)
        else:
            changes = [self._change(sheet, key, current[key], value, say or {}) for key, value in wanted.items()]
            self.tell(sheet.title, line, name, State.CHANGED, words, changes)
        return stored

    def refuse(self, sheet: SheetLayout, line: Line, error: ValidationError) -> None:
        """What a service says, at the column that it says it of."""
        by_field = error.message_dict if hasattr(error, "error_dict") else {"": error.messages}
        for name, sentences in by_field.items():
            column = sheet.by_name.get(name)
            for sentence in sentences:
                self.fault(sheet.title, line, column.heading if column else "", sentence)

    def _change(
        self, sheet: SheetLayout, name: str, was: Any, now: Any, say: Mapping[str, Callable[[Any], str]]
    ) -> tuple[str, str, str]:
        column = sheet.by_name.get(name)
        words = say.get(name) or (lambda value: self.say(column, value))
        return (column.heading if column else name, words(was), words(now))

    def say(self, column: Field | None, value: Any) -> str:
        """A value as people read it."""
        if value in (None, "", ()):
            return "empty"
        match column and column.type:
            case Type.LENGTH:
                return self.length(value)
            case Type.LENGTHS:
                return "; ".join(self.length(Decimal(one)) for one in value)
            case Type.MONEY:
                return format_money(value, self.organisation.currency)
            case Type.PERCENT | Type.QUANTITY:
                return typed_as(Decimal(value).normalize())
            case Type.COUNT:
                return format_count(value)
            case Type.DAY:
                return said_day(value)
            case Type.YES_NO:
                return "yes" if value else "no"
            case _:
                return str(value)

    def length(self, value: Decimal) -> str:
        return format_film(value, self.units) if 0 < value < FILM_BELOW_MM else format_length(value, self.units)

    # Project

    def _too_long(self) -> bool:
        rows = sum(len(table.lines) for title, table in self.book.tables.items() if title != "Stock")
        lots = len(self.table("Stock").lines)
        for title, count, most in (("Houses", rows, MOST_ROWS), ("Stock", lots, MOST_LOTS)):
            if count > most:
                what = gettext("its sheets but Stock") if title == "Houses" else gettext("its sheet Stock")
                words = gettext("This workbook has %(count)s rows on %(what)s. At most %(most)s are read") % {
                    "count": format_count(count),
                    "what": what,
                    "most": format_count(most),
                }
                instead = (
                    ""
                    if title == "Houses"
                    else gettext(" Many lots go into stock as a file of their own, under Stock.")
                )
                self.fault(
                    title,
                    None,
                    "",
                    gettext("%(words)s at once. Split it into smaller workbooks.%(instead)s")
                    % {"words": words, "instead": instead},
                )
        return bool(self.outcomes.faults)

    def _other_money(self) -> bool:
        """Amounts of another currency, or with the tax in them where the site's are without, mean something else."""
        amounts = any(
            line.values[column.name]
            for table in self.book.tables.values()
            for column in table.layout.fields
            if column.type in AMOUNTS
            for line in table.lines
        )
        buyer, own = self.book.season.buyer, self.organisation
        if not amounts:
            return False
        if buyer.currency != own.currency:
            words = gettext("Amounts of this workbook are in %(currency)s; %(own)s buys in %(currency2)s.") % {
                "currency": buyer.currency,
                "own": own.name,
                "currency2": own.currency,
            }
            advice = gettext("Type them in that currency, or change it on the page of the organisation first.")
            self.fault("Project", None, "Currency", f"{words} {advice}")
        if buyer.prices_include_tax != own.prices_include_tax:
            words = gettext("Prices here are %(prices)s, and in this workbook not.") % {
                "prices": layout.PRICES[own.prices_include_tax]
            }
            advice = gettext("Change the answer, or the organisation's page, where it is wrong.")
            self.fault("Project", None, "Supplier prices", f"{words} {advice}")
        return bool(self.outcomes.faults)

    def _answers(self) -> None:
        """What the organisation is stays as its page has it; where the workbook differs, it is said."""
        own, project = self.organisation, self.book.project
        here = {
            "address": own.address,
            "contact": own.contact,
            "units": layout.UNIT_WORDS[self.units],
            "decimal_sign": {sign: word for word, sign in layout.SIGN_WORDS.items()}[own.decimal_sign],
            "tax_name": own.tax_name,
            "tax_percent": own.tax_percent,
            "kerf": own.kerf,
            "keep_from": own.keep_from,
        }
        for column in layout.PROJECT:
            there = project.values.get(column.name)
            if column.name not in here or there in (None, "") or there == here[column.name]:
                continue
            change = (column.heading, self.say(column, here[column.name]), self.say(column, there))
            words = {
                "units": gettext("Lengths are taken exactly as they are, and shown in your units."),
                "decimal_sign": gettext("The workbook is read by its own sign."),
            }.get(column.name, gettext("This is changed on the page of the organisation."))
            self.outcomes.rows.append(Outcome("Project", 0, column.heading, State.LEFT, (change,), words))

    # Sheets

    def _sites(self) -> None:
        sheet, table = layout.SITES, self.table("Sites")
        there = {site.slug: site for site in Site.objects.of(self.organisation)}
        slugs = self.slugs(table, there)
        for line in table.lines:
            if not (slug := slugs.get(line.row)):
                continue
            code = line.values["code"]
            wanted = {"name": line.values["name"] or code} | _some(
                line, "address", "note", "corner_stake", "plan_bearing", "walkway"
            )
            found = there.get(slug)
            if found and found.archived_at:
                self._archived(sheet, line, gettext("The site %(found)s") % {"found": found})
                continue

            def store(data: Mapping[str, Any], found: Site | None = found, slug: str = slug) -> Site:
                if found:
                    return save_site(organisation=self.organisation, user=self.user, site=found, data=data)
                made = create_site(organisation=self.organisation, user=self.user, slug=slug, **data)
                return _named_so(made, slug)

            stored = self.put(sheet, line, wanted["name"], wanted=wanted, current=_now(found, wanted), store=store)
            if site := stored or found:
                self.sites[code] = site

    def _archived(self, sheet: SheetLayout, line: Line, what: str) -> None:
        words = gettext("%(what)s is archived. Bring it back first, or take this row out.") % {"what": what}
        self.fault(sheet.title, line, sheet.by_name[sheet.key].heading, words)

    def _materials(self) -> None:
        sheet, table = layout.MATERIALS, self.table("Materials")
        there = {material.code: material for material in materials_of(organisation=self.organisation)}
        slugs = self.slugs(table, there)
        for line in table.lines:
            if not (slug := slugs.get(line.row)):
                continue
            code = line.values["code"]
            names = ("width", "thickness", "swaged", "tax_percent", "yield_mpa", "yield_source", "note")
            wanted = {"name": line.values["name"] or code, "kind": KINDS[line.values["kind"]].value} | _some(
                line, *names
            )
            found = there.get(slug)

            def store(data: Mapping[str, Any], found: Material | None = found, slug: str = slug) -> Material:
                if found:
                    return catalogue.change_material(
                        organisation=self.organisation, user=self.user, material=found, data=data
                    )
                return catalogue.create_material(organisation=self.organisation, user=self.user, code=slug, **data)

            words = gettext("It stays archived.") if found and found.archived_at else ""
            stored = self.put(
                sheet, line, wanted["name"], wanted=wanted, current=_now(found, wanted), store=store, words=words
            )
            if material := stored or found:
                self.materials[code] = material

    def _benders(self) -> None:
        sheet, table = layout.BENDERS, self.table("Benders")
        rows = Bender.objects.of(self.organisation).prefetch_related("tubes")
        there = _by_slug_and_name(rows)
        for line in table.lines:
            name = line.values["name"]
            wanted = _some(line, *BENDER_FIELDS)
            codes = [code.strip() for code in line.values["tubes"].split(";") if code.strip()]
            if lost := [code for code in codes if code not in self.materials]:
                self.fault("Benders", line, sheet.by_name["tubes"].heading, _not_there(lost[0], "Materials"))
                continue
            wanted["tubes"] = tuple(sorted(self.materials[code].code for code in codes))
            found = _found(there, line)
            current = _now(found, wanted)
            if found and current:
                current["tubes"] = tuple(sorted(tube.code for tube in found.tubes.all()))

            def store(data: Mapping[str, Any], found: Bender | None = found, line: Line = line) -> Bender:
                by_code = {material.code: material for material in self.materials.values()}
                data = dict(data)
                if "tubes" in data:
                    data["tubes"] = [by_code[code] for code in data["tubes"]]
                if found:
                    return save_bender(organisation=self.organisation, user=self.user, bender=found, data=data)
                data["slug"] = line.values["slug"]
                return create_bender(organisation=self.organisation, user=self.user, data=data)

            stored = self.put(sheet, line, name, wanted=wanted, current=current, store=store, say={"tubes": "; ".join})
            if bender := stored or found:
                self.benders[name] = bender

    def _recipes(self) -> None:
        sheet, table = layout.RECIPES, self.table("Recipes")
        rows = Recipe.objects.of(self.organisation).select_related("tube", "sleeve_material", "bender", "organisation")
        there = _by_slug_and_name(rows)
        for line in table.lines:
            values = line.values
            wanted = dict(values)
            given = wanted.pop("slug")
            wanted["joint"] = str(values["joint"])
            named = [values[name] for name in ("tube", "sleeve_material") if values[name]]
            if any(code not in self.materials for code in named) or (
                values["bender"] and values["bender"] not in self.benders
            ):
                continue
            for name in ("tube", "sleeve_material"):
                wanted[name] = self.materials[values[name]] if values[name] else None
            wanted["bender"] = self.benders[values["bender"]] if values["bender"] else None
            if wanted["lever_length"] is None:
                del wanted["lever_length"]
            found = _found(there, line)

            def store(data: Mapping[str, Any], found: Recipe | None = found, given: str = given) -> Recipe:
                if found:
                    return save_recipe(organisation=self.organisation, user=self.user, recipe=found, data=data)
                return create_recipe(
                    organisation=self.organisation, user=self.user, data={**data, **({"slug": given} if given else {})}
                )

            words = gettext("It stays archived.") if found and found.archived_at else ""
            stored = self.put(
                sheet, line, values["name"], wanted=wanted, current=_now(found, wanted), store=store, words=words
            )
            if recipe := stored or found:
                self.recipes[values["name"]] = recipe

    def _suppliers(self) -> None:
        sheet, table = layout.SUPPLIERS, self.table("Suppliers")
        there = {supplier.code: supplier for supplier in suppliers_of(organisation=self.organisation)}
        slugs = self.slugs(table, there)
        for line in table.lines:
            if not (slug := slugs.get(line.row)):
                continue
            code = line.values["code"]
            names = ("address", "contact", "delivery_charge", "free_delivery_from", "minimum_order")
            wanted = {"name": line.values["name"] or code} | _some(line, *names)
            found = there.get(slug)

            def store(data: Mapping[str, Any], found: Supplier | None = found, slug: str = slug) -> Supplier:
                if found:
                    return catalogue.change_supplier(
                        organisation=self.organisation, user=self.user, supplier=found, data=data
                    )
                return catalogue.create_supplier(organisation=self.organisation, user=self.user, code=slug, **data)

            stored = self.put(sheet, line, wanted["name"], wanted=wanted, current=_now(found, wanted), store=store)
            if supplier := stored or found:
                self.suppliers[code] = supplier

    def _houses(self) -> None:
        sheet, table = layout.HOUSES, self.table("Houses")
        there = {house.slug: house for house in any_house_of(organisation=self.organisation)}
        slugs = self.slugs(table, there)
        specs = {house.ref: house.spec for house in self.book.season.houses}
        own = frozenset({"own_rows"} if self.table("Own rows").there else ())
        for line in table.lines:
            values = line.values
            if not (slug := slugs.get(line.row)):
                continue
            if values["site"] not in self.sites or values["recipe"] not in self.recipes:
                continue
            wanted = {name: value for name, value in values.items() if name not in ("ref", "site", "recipe")}
            wanted |= {"name": values["name"] or values["ref"]}
            wanted |= {"site": self.sites[values["site"]], "recipe": self.recipes[values["recipe"]]}
            for column in sheet.fields:
                if column.refers == "Materials":
                    wanted[column.name] = self.materials.get(values[column.name])
                elif column.type is Type.LENGTHS:
                    wanted[column.name] = [str(length) for length in sorted(set(values[column.name]))]
                elif column.type is Type.CHOICE:
                    wanted[column.name] = str(values[column.name])
            if any(values[c.name] and wanted[c.name] is None for c in sheet.fields if c.refers == "Materials"):
                continue
            rows = [self._own_row(row) for row in specs[values["ref"]].own_rows]
            if any(row["material"] is None for row in rows):
                continue
            wanted["own_rows"] = [_own_values(row) for row in rows]
            found = there.get(slug)
            if found and (found.archived_at or found.site.archived_at):
                self._archived(sheet, line, gettext("The house %(found)s") % {"found": found})
                continue
            current = _now(found, wanted, but="own_rows")
            if found and current:
                current["own_rows"] = [_own_values(vars_of(row)) for row in found.own_rows.all()]
                for column in sheet.fields:
                    if column.type is Type.LENGTHS:
                        current[column.name] = [str(Decimal(one)) for one in current[column.name]]

            def store(
                data: Mapping[str, Any], found: Any = found, slug: str = slug, rows: list = rows, values: Any = values
            ) -> Any:
                typed = rows if "own_rows" in data else None
                plain = {name: value for name, value in data.items() if name != "own_rows"}
                if found and "site" in plain:
                    # Who moves to another site stands there where the workbook says.
                    plain = {name: values[name] for name in PLACE_FIELDS if name in table.there} | plain
                if found:
                    return save_house(
                        organisation=self.organisation, user=self.user, house=found, data=plain, own_rows=typed
                    )
                start = {name: plain.pop(name) for name in ("site", "name", "need_date")}
                made = create_house(
                    organisation=self.organisation, user=self.user, data=plain, own_rows=rows, slug=slug, **start
                )
                return _named_so(made, slug)

            def say_rows(values: list[tuple]) -> str:
                names = ("material", "quantity", "per", "length", "step", "note")
                return own_rows_words([HouseOwnRow(**dict(zip(names, row, strict=True))) for row in values], self.units)

            self.put(
                sheet,
                line,
                wanted["name"],
                wanted=wanted,
                current=current,
                store=store,
                say={"own_rows": say_rows},
                extra=own,
            )

    def _own_row(self, row: Any) -> dict[str, Any]:
        return {**vars(row), "material": self.materials.get(row.material), "per": str(row.per)}


def vars_of(row: HouseOwnRow) -> dict[str, Any]:
    return {name: getattr(row, name) for name in ("material", "quantity", "per", "length", "step", "note")}


def _own_values(row: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(row[name] for name in ("material", "quantity", "per", "length", "step", "note"))


def _some(line: Line, *names: str) -> dict[str, Any]:
    return {name: line.values[name] for name in names}


def _now(found: Any, wanted: Mapping[str, Any], *, but: str = "") -> dict[str, Any] | None:
    """What is stored under the same names; None where nothing is."""
    return None if found is None else {name: getattr(found, name) for name in wanted if name not in (but, "tubes")}


def _by_slug_and_name(rows: Iterable[Any]) -> dict[str, Any]:
    """By short name, and by name in small letters where no short name is that."""
    rows = list(rows)
    return {row.name.casefold(): row for row in reversed(rows)} | {row.slug: row for row in rows}


def _found(there: Mapping[str, Any], line: Line) -> Any:
    name, slug = line.values["name"], line.values["slug"]
    return there.get(slug or "") or there.get(name.casefold()) or there.get(slugify(name))


def _named_so(made: Any, slug: str) -> Any:
    """Some words are pages of the site; a row that got another short name would be made again by the next reading."""
    if made.slug != slug:
        raise ValidationError(gettext("“%(slug)s” cannot be a short name here. Type another.") % {"slug": slug})
    return made


def _not_there(code: str, sheet: str) -> str:
    return gettext("“%(code)s” is not on the sheet %(sheet)s.") % {"code": code, "sheet": sheet}
