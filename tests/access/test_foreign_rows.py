"""Functions that read for one organisation answer it the same whatever another has, and those that write take no row
of another. They are found by what they ask for, so a new one is tried as it comes."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import re
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from functools import cache
from typing import Any
from uuid import UUID

import pytest
from django.apps import apps
from django.core.cache import cache as kept_answers
from django.db import connection, models, transaction
from django.db.models import Model, QuerySet
from django.utils import timezone

from farmbuild.common.guards import guards_down
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from tests.size import LONG
from tests.walks import add_job, add_together, load
from tests.where import ROOT

pytestmark = pytest.mark.django_db
_NOT_ROOMS = {"migrations", "demo", "planning", "mechanics", "measure", "management", "templatetags"}
MODELS = {model.__name__: model for model in apps.get_models() if model.__module__.startswith("farmbuild.")}
OWNED = {
    name: model for name, model in MODELS.items() if any(each.name == "organisation" for each in model._meta.fields)
}
OWN_APPS = {config.label for config in apps.get_app_configs() if config.name.startswith("farmbuild.")}
#: What the keys of the other organisation are more than those of ours.
APART = 1_000_000
#: Of all organisations: what is read to see whether anything changed, and sums held for whoever runs the machine.
OF_ALL = {"farmbuild.orgs.answers.content.contents_of", "farmbuild.costs.law.sides_of"}
RAISED = "raised"
#: What stands in each file that has a function of these.
ASKED = "organisation: Organisation"
NOT_ONES_OWN = re.compile(
    r"DoesNotExist|KeyError\(|Choose one from the list|Choose (one|a material) of your own|do not belong to this org"
)
#: These ask first for what else is wrong with them, or find none of their own rows in what they were given.
REFUSED_BEFORE = {
    "farmbuild.buying.drafting.joining.join_orders",
    "farmbuild.coop.charges.services.take_back_charge",
    "farmbuild.coop.members.services.end_farm",
    "farmbuild.coop.members.services.leave",
    "farmbuild.coop.statement.payments.take_back_payment",
    "farmbuild.costs.equipment.services.take_back_day",
    "farmbuild.costs.time.services.take_back_time",
    "farmbuild.costs.trips.services.take_back_trip",
    "farmbuild.crew.actuals.services.record",
    "farmbuild.crew.bookings.member_requests.archive_member",
    "farmbuild.crew.bookings.member_requests.bring_back_member",
    "farmbuild.crew.people.services.bring_back_crew",
    "farmbuild.crew.people.services.bring_back_person",
    "farmbuild.plans.accepting.release_house",
    "farmbuild.plans.changing.services.plan_change",
    "farmbuild.plans.from_yard.services.try_houses",
    "farmbuild.plans.reserving.services.release",
    "farmbuild.plans.savings.services.change_houses_as_tried",
    "farmbuild.plans.savings.services.try_saving",
    "farmbuild.sites.services.archive_house",
    "farmbuild.sites.services.archive_site",
    "farmbuild.sites.services.bring_back_site",
    "farmbuild.stock.counts.importing.make_draft",
    "farmbuild.stock.cutting.cut_reserved",
}


@dataclasses.dataclass(frozen=True)
class Asking:
    name: str
    #: By parameter that has no default, what stands behind its colon.
    asks: Mapping[str, str]
    writes: bool
    #: Whether its module asks the database itself.
    asks_rows: bool

    @property
    def is_selector(self) -> bool:
        """What other modules read by; the long run tries all that ask the database themselves."""
        return self.name.split(".")[-2].endswith(("selectors", "bridge", "lists", "rates"))

    def called(self, **given: Any) -> Any:
        module, _, function = self.name.rpartition(".")
        return getattr(importlib.import_module(module), function)(**given)


@cache
def asking() -> tuple[Asking, ...]:
    """Every public function of a room that asks for the organisation by name."""
    found = []
    for path in sorted((ROOT / "farmbuild").rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        if _NOT_ROOMS & {*parts}:
            continue
        source = path.read_text(encoding="utf-8")
        for node in ast.parse(source).body if ASKED in source else ():
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            first, rest = node.args.args, zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True)
            needed = first[: len(first) - len(node.args.defaults)] + [arg for arg, given in rest if given is None]
            asks = {arg.arg: ast.unparse(arg.annotation) if arg.annotation else "" for arg in needed}
            if asks.get("organisation") == "Organisation":
                decorated = " ".join(ast.unparse(each) for each in node.decorator_list)
                writes = "needs(" in decorated or "atomic" in decorated
                found.append(Asking(".".join((*parts, node.name)), asks, writes, ".objects" in source))
    return tuple(found)


class Given:
    """What a parameter is given by what stands behind its colon; LookupError where nothing is known for it."""

    def __init__(self, organisation: Organisation, user: User, *, rows_of: Organisation) -> None:
        now = timezone.now().replace(minute=0, second=0, microsecond=0)
        self.simple = {"Organisation": organisation, "User": user, "datetime": now, "Mapping[str, Any]": {}}
        self.simple |= {"date": today_of(organisation=organisation), "str": "Some words", "int": 1, "bool": True}
        self.simple |= {"Decimal": Decimal(1), "bytes": b"words", "UUID": UUID(int=1)}
        self.rows_of = rows_of
        self.read: dict[type[Model], Any] = {}

    def of(self, kind: str) -> Any:
        kind = kind.removesuffix(" | None")
        if kind in self.simple:
            return self.simple[kind]
        if kind in OWNED:
            return self._row(OWNED[kind])
        if match := re.fullmatch(r"(?:Collection|Sequence|Iterable)\[(\w+)\]", kind):
            return [self.of(match[1])]
        if match := re.fullmatch(r"QuerySet\[(\w+)\]", kind):
            return OWNED[match[1]]._base_manager.filter(organisation=self.rows_of).order_by("pk")
        raise LookupError(kind)

    def _row(self, model: type[Model]) -> Model:
        """The first: read once, and another object each time."""
        names = [field.attname for field in model._meta.concrete_fields]
        if model not in self.read:
            rows = model._base_manager.filter(organisation=self.rows_of).order_by("pk")
            self.read[model] = rows.values_list(*names).first()
        if self.read[model] is None:
            raise LookupError(model.__name__)
        return model.from_db("default", names, self.read[model])

    def all_for(self, one: Asking) -> dict[str, Any]:
        return {name: self.of(kind) for name, kind in one.asks.items()}


def plain(value: Any, depth: int = 9) -> Any:
    """What can be compared: rows by their keys."""
    if isinstance(value, Model):
        return type(value).__name__, value.pk
    if depth == 0 or value is None or isinstance(value, str | int | float):
        return value if depth else None
    if isinstance(value, bytes):
        return "a file"
    if isinstance(value, set | frozenset):
        return sorted(repr(plain(one, depth - 1)) for one in value)
    if isinstance(value, Mapping):
        return [(plain(key, depth - 1), plain(one, depth - 1)) for key, one in value.items()]
    if dataclasses.is_dataclass(value):
        return [plain(getattr(value, field.name), depth - 1) for field in dataclasses.fields(value)]
    if isinstance(value, QuerySet) or (isinstance(value, Iterable) and not isinstance(value, type)):
        return [plain(one, depth - 1) for one in value]
    return re.sub(r" at 0x\w+", "", repr(value))


def answered(one: Asking, given: dict[str, Any]) -> Any:
    """Or what it raised; what it stored is taken back."""
    try:
        with transaction.atomic():
            found = plain(one.called(**given))
            transaction.set_rollback(True)
    except Exception as error:
        return RAISED, repr(error)
    return found


class Changed:
    """Tables of which rows were changed or deleted while it stands around what is executed."""

    def __init__(self) -> None:
        self.tables: set[str] = set()

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        done = execute(sql, params, many, context)
        match = re.match(r'(?:UPDATE|DELETE FROM) "(\w+)"', sql)
        if match and context["cursor"].rowcount:
            self.tables.add(match[1])
        return done


def _columns(model: type[Model]) -> Iterator[tuple[str, str]]:
    """Each column, and what stands in it of the other organisation."""
    for field in model._meta.concrete_fields:
        column = f'"{field.column}"'
        related = field.related_model if field.is_relation else model
        key = field.target_field if field.is_relation else field
        if key.primary_key and isinstance(key, models.AutoField) and related._meta.app_label in OWN_APPS:
            yield column, f"{column} + {APART}"
        elif field.unique and isinstance(field, models.CharField | models.TextField):
            yield column, f"substr({column} || '~', 2)"
        elif field.unique and isinstance(field, models.UUIDField):
            yield column, f"substr({column}, 9) || substr({column}, 1, 8)"
        else:
            yield column, column


def every_table() -> dict[str, type[Model]]:
    found = [model for model in apps.get_models(include_auto_created=True) if model._meta.app_label in OWN_APPS]
    return {model._meta.db_table: model for model in found if model._meta.managed and not model._meta.proxy}


def _copy() -> None:
    """All rows once more, of organisations and people of their own."""
    tables = every_table()
    with guards_down(tables.keys()), connection.cursor() as cursor:
        for table, model in tables.items():
            names, values = zip(*_columns(model), strict=True)
            cursor.execute(f'INSERT INTO "{table}" ({", ".join(names)}) SELECT {", ".join(values)} FROM "{table}"')


def _remove() -> None:
    """All rows that were there before."""
    tables = every_table()
    with guards_down(tables.keys()), connection.cursor() as cursor:
        for table, model in tables.items():
            cursor.execute(f'DELETE FROM "{table}" WHERE "{model._meta.pk.column}" <= {APART}')


def test_nothing_of_another_organisation_is_read_or_changed():
    demo = load()
    add_job(demo)
    add_together(demo)
    _copy()
    other, user = (type(row).objects.get(pk=row.pk + APART) for row in (demo.organisation, demo.user))
    _takes_no_row_of(demo.organisation, Given(other, user, rows_of=demo.organisation))
    _reads_the_same(Given(other, user, rows_of=other))


def _takes_no_row_of(ours: Organisation, given: Given) -> None:
    tried, taken, changing = set(), {}, {}
    for one in asking():
        if not (one.writes and any(re.search(rf"\b{name}\b", " ".join(one.asks.values())) for name in OWNED)):
            continue
        try:
            rows = given.all_for(one)
        except LookupError:
            continue
        tried.add(one.name)
        with connection.execute_wrapper(changed := Changed()):
            got = answered(one, rows)
        if changed.tables:
            changing[one.name] = changed.tables
        refused = got[1] if isinstance(got, tuple) and got[0] == RAISED else ""
        if refused and (one.name in REFUSED_BEFORE or NOT_ONES_OWN.search(refused)):
            continue
        if got or refused:
            taken[one.name] = got
    assert not taken, "\n".join(
        ("these take rows of another organisation, or refuse them first for something else", *map(str, taken.items()))
    )
    assert changing == {}, "these change rows"
    assert len(tried) > 170


def _reads_the_same(given: Given) -> None:
    """Beside the rows of the other, and after these are gone."""
    before, differing = {}, set()
    for beside in (True, False):
        for one in asking():
            if one.writes or not (one.is_selector or (LONG and one.asks_rows)) or one.name in OF_ALL:
                continue
            try:
                rows = given.all_for(one)
            except LookupError:
                continue
            if before.setdefault(one.name, got := answered(one, rows)) != got:
                differing.add(one.name)
        if beside:
            kept_answers.clear()
            _remove()
    assert differing == set(), "these answer otherwise where another organisation has the same"
    answers = [got for got in before.values() if not (isinstance(got, tuple) and got[0] == RAISED)]
    assert len(answers) > (300 if LONG else 120)
