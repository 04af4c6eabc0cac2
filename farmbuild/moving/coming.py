"""An organisation comes in: all that its export has, compared with what was written, or nothing of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path
from typing import Any

from django.apps import apps
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, connection, transaction
from django.db.models import BinaryField, CharField, ForeignKey, Model
from django.db.models.sql import InsertQuery
from django.utils.dateparse import parse_datetime

from farmbuild.common.backups import contents
from farmbuild.common.doctor.examining import RECOUNTS, named_guards, triggers
from farmbuild.common.guards import as_made, guards_down
from farmbuild.common.schema_version import known, why_not_to_serve
from farmbuild.moving import numbers
from farmbuild.moving.archive import PEOPLE, Damaged, Package, rows_name
from farmbuild.moving.figures import differences, figures_of
from farmbuild.moving.going import Counted
from farmbuild.moving.keys import rewritten
from farmbuild.moving.ownership import ORGANISATION, owned_models
from farmbuild.moving.telling import told_rows
from farmbuild.moving.values import unpacked
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.bridge import digest_of
from farmbuild.plans.models import Plan

#: Rows stored at once; those with files one by one.
_AT_ONCE = 200
_NOTHING = "Nothing was stored."


@dataclass
class Came:
    """What came in. ``left_out``: why what an organisation had besides did not."""

    organisation: Organisation
    rows: int
    new_people: list[str] = field(default_factory=list)
    known_people: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)


def read_export(*, file: Path, match_email: bool = False, address: str = "") -> Came:
    """All of it in one transaction. ``match_email``: whoever has the same e-mail here is the same person; else people
    come along as new ones without a password. ``address``: the short name in its addresses here.

    Raises CommandError, in words for whoever runs the server, and then nothing was stored.
    """
    if why := why_not_to_serve():
        raise CommandError(why)
    with Package.opened(file) as package:
        _check_version(package)
        package.check_digests()
        try:
            with transaction.atomic():
                return _read(package, match_email, address)
        except DatabaseError as error:
            said = str(error).splitlines()[0]
            raise CommandError(f"The database did not take {file}: {said}. {_NOTHING}") from error


def _check_version(package: Package) -> None:
    made, here = {tuple(row) for row in package.manifest["migrations"]}, known()
    if newer := sorted(made - here):
        raise CommandError(
            f"This export was made by a newer farmbuild ({' '.join(newer[0])}). Install that version here first."
        )
    if older := sorted(here - made):
        raise CommandError(
            f"This export is of an older farmbuild (it lacks {' '.join(older[0])}). Import it by that version into an"
            " empty folder, run migrate there with this one, and export it again."
        )


def _read(package: Package, match_email: bool, address: str) -> Came:
    models = owned_models()
    _check_new(package, address)
    faults_before = _faults() if Organisation.objects.exists() else []
    guards_before = as_made()
    new, known_already, people = _people(package, match_email)
    with guards_down([model._meta.db_table for model in models]):
        keys = _keys(package, people)
        for model in models:
            _store(package, model, keys, address)
        for label in keys.bounds:
            numbers.give_after(_model(label), keys.last(label))
    organisation = Organisation.objects.get(pk=keys.last(ORGANISATION))
    try:
        organisation.full_clean()
    except ValidationError as error:
        raise CommandError(f"{organisation} cannot be here: {' '.join(error.messages)} {_NOTHING}") from error
    connection.check_constraints([model._meta.db_table for model in models])
    told = [
        *_differences(package, organisation, keys),
        *_changed_plans(organisation),
        *_lacking_guards(guards_before),
        *(fault for fault in _faults() if fault not in faults_before),
    ]
    if told:
        more = f" and {len(told) - 5} more differences" if len(told) > 5 else ""
        raise CommandError(f"What came in is not what went out: {'; '.join(told[:5])}{more}. {_NOTHING}")
    return Came(
        organisation,
        sum(rows for rows, _ in package.manifest["tables"].values()),
        new,
        known_already,
        [f"{label}: {why}" for label, why in package.manifest["left out"].items() if why[:1].isdigit()],
    )


def _check_new(package: Package, address: str) -> None:
    told = package.manifest["organisation"]
    there = Organisation.objects.filter(identity=told["identity"]).first()
    if there:
        raise CommandError(f"{there} is here already, at /of/{there.slug}/. It comes in once. {_NOTHING}")
    slug = address or told["address"]
    if other := Organisation.objects.filter(slug__iexact=slug).first():
        raise CommandError(
            f"{other} has the address /of/{slug}/ here. Give this one another: --address SHORT-NAME. {_NOTHING}"
        )


def _model(label: str) -> type[Model]:
    try:
        return apps.get_model(label)
    except (LookupError, ValueError):
        raise Damaged(f"The export names a table {label}, which nobody knows. {_NOTHING}") from None


def _keys(package: Package, people: dict[int, int]) -> numbers.Keys:
    try:
        bounds = {label: (int(first), int(last)) for label, (first, last) in package.manifest["keys"].items()}
    except (TypeError, ValueError):
        raise Damaged(f"{package.file}: its manifest is damaged. {_NOTHING}") from None
    first, last = bounds.get(ORGANISATION, (0, 1))
    if first != last or any(not 0 < low <= high < 1 << 60 for low, high in bounds.values()):
        raise Damaged(f"{package.file} does not hold one organisation. {_NOTHING}")
    models = [_model(label) for label in bounds]
    numbers.hold(models)
    return numbers.Keys(bounds, {model._meta.label: numbers.last_given(model) for model in models}, people)


def _people(package: Package, match_email: bool) -> tuple[list[str], list[str], dict[int, int]]:
    """Names of the new and of those who were here, and everybody's keys there and here."""
    new, old, keys = [], [], {}
    for number, row in enumerate(package.lines(PEOPLE), 1):
        try:
            found = _same_person(row, keys.values()) if match_email else None
            user = found or _new_person(row)
            keys[int(row["id"])] = user.pk
        except (KeyError, TypeError, ValueError, ValidationError) as error:
            raise Damaged(f"Line {number} of {PEOPLE} cannot be read: {error}. {_NOTHING}") from error
        (old if found else new).append(f"{user.display_name} ({user.username})")
    return new, old, keys


def _same_person(row: dict[str, Any], taken: Iterable[int]) -> User | None:
    if row["visitor"] or not row["email"]:
        return None
    found = list(User.objects.filter(email__iexact=row["email"], visitor=False, is_active=True)[:2])
    return found[0] if len(found) == 1 and found[0].pk not in {*taken} else None


def _new_person(row: dict[str, Any]) -> User:
    """Nobody signs in as them until they get a link for a new password; what they may do on this server beyond their
    organisation stays behind."""
    user = User(
        username=_free_name(str(row["username"])),
        first_name=row["first_name"],
        last_name=row["last_name"],
        email=row["email"],
        language=row["language"],
        units=row["units"],
        large_letters=bool(row["large_letters"]),
        visitor=bool(row["visitor"]),
        is_active=bool(row["is_active"]),
        date_joined=parse_datetime(row["date_joined"]),
    )
    user.set_unusable_password()
    user.clean_fields()
    user.save()
    return user


def _free_name(wanted: str) -> str:
    name, number = wanted, 1
    while User.objects.filter(username__iexact=name).exists():
        number += 1
        name = f"{wanted[:140]}-{number}"
    return name


def _store(package: Package, model: type[Model], keys: numbers.Keys, address: str) -> None:
    label, fields = model._meta.label, model._meta.concrete_fields
    with_files = any(isinstance(each, BinaryField) for each in fields)
    some: list[Model] = []

    def put() -> None:
        if some:
            query = InsertQuery(model)
            query.insert_values(fields, some, raw=True)
            query.get_compiler(connection=connection).execute_sql()
            some.clear()

    at_once = 1 if with_files else min(_AT_ONCE, connection.ops.bulk_batch_size(fields, [None] * _AT_ONCE))
    names = {each.name for each in fields}
    for number, row in enumerate(package.lines(rows_name(label)), 1):
        try:
            if row.keys() != names:
                raise Damaged(f"its columns are not those of {label}")
            some.append(model(**dict(_values(package, model, rewritten(label, row, keys.here), keys))))
        except (ValidationError, ValueError, TypeError, KeyError, ArithmeticError, AttributeError) as error:
            said = " ".join(error.messages) if isinstance(error, ValidationError) else str(error)
            raise Damaged(f"Line {number} of {rows_name(label)} cannot be read: {said}. {_NOTHING}") from error
        except Damaged as error:
            raise Damaged(f"Line {number} of {rows_name(label)}: {error}. {_NOTHING}") from error
        if label == ORGANISATION and address:
            some[-1].slug = address  # type: ignore[attr-defined]
        if len(some) >= at_once:
            put()
    put()


def _values(package: Package, model: type[Model], row: dict[str, Any], keys: numbers.Keys) -> Iterator[tuple[str, Any]]:
    label = model._meta.label
    for each in model._meta.concrete_fields:
        value = row[each.name]
        if value is None:
            pass
        elif isinstance(each, ForeignKey):
            value = keys.here(each.related_model._meta.label, value)
        elif each.primary_key:
            value = keys.here(label, value)
        elif isinstance(each, BinaryField):
            value = package.data_of(value)
        elif f"{label}.{each.name}" == "quotes.QuoteLink.digest":
            # Nothing that somebody sends has this digest, and each row has one of its own.
            value = f"ended {keys.here(label, row['id'])}"
        if not isinstance(each, ForeignKey | BinaryField):
            value = unpacked(each, value)
            if isinstance(each, CharField) and each.max_length and len(value or "") > each.max_length:
                raise ValueError(f"{each.name} is longer than {each.max_length} signs")
            if each.choices and value not in ("", None, *dict(each.flatchoices)):
                raise ValueError(f"{each.name} is not one of its choices")
        yield each.attname, value


def _differences(package: Package, organisation: Organisation, keys: numbers.Keys) -> Iterator[str]:
    """Every row as it is here now against what was written, told back in the keys of then."""
    tables = {}
    for model in owned_models():
        counted = Counted(_as_before(package, row) for row in told_rows(model, organisation.pk, keys.there))
        for _ in counted:
            pass
        tables[model._meta.label] = [counted.rows, counted.sum]
    written = {"tables": package.manifest["tables"], "guards": ""}
    yield from contents.differences(written, {"tables": tables, "guards": ""})
    yield from differences(package.manifest["figures"], figures_of(organisation.pk))


def _as_before(package: Package, row: dict[str, Any]) -> dict[str, Any]:
    """The address here may be another."""
    return row | {"slug": package.manifest["organisation"]["address"]} if "identity" in row else row


def _changed_plans(organisation: Organisation) -> Iterator[str]:
    rows = Plan.objects.filter(organisation=organisation, state=Plan.State.READY).order_by("pk")
    columns = ("number", "inputs", "inputs_digest", "result", "result_digest")
    for number, inputs, of_inputs, result, of_result in rows.values_list(*columns).iterator(chunk_size=1):
        if digest_of(inputs) != of_inputs or digest_of(result) != of_result:
            yield f"plan {number} has another digest"


def _lacking_guards(before: list[tuple[str, ...]]) -> Iterator[str]:
    if as_made() != before:
        yield "guards of the database are others than before"
    there = triggers()
    yield from (f"the guard {name} is off" for name in sorted(named_guards(connection.vendor)) if not there.get(name))


def _faults() -> list[str]:
    """What does not add up in the books of this server, a line each."""
    told: list[str] = []
    for name in RECOUNTS:
        said = StringIO()
        try:
            call_command(name, stdout=said)
        except CommandError:
            told += said.getvalue().splitlines()
    return told
