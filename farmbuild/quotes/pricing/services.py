"""Writes of rates, quotes, their options, houses and lines: one transaction a user action.

Nothing here orders or holds anything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.text import format_lazy
from django.utils.translation import gettext, gettext_lazy

from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import check_currency, lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.models import (
    MAX_OPTIONS,
    Job,
    Option,
    OptionHouse,
    Quote,
    QuoteLine,
    QuoteRates,
    QuoteVersion,
    RateFields,
)
from farmbuild.quotes.pricing.specs import MissingRow, houses_from, packed_house, packed_rows, packed_spec
from farmbuild.quotes.pricing.working_out import WorkedOption, worked_option
from farmbuild.quotes.tied import NAMES, check_tied
from farmbuild.sites.bridge import problems_of
from farmbuild.sites.models import House
from farmbuild.sites.services import OwnRowError, prepare_starter
from farmbuild.sites.starters import Starter

RATES = tuple(field.name for field in RateFields._meta.fields)
NO_RATES = gettext_lazy("Type the rates of your quotes first: what an hour of work costs, and the margin.")
TOO_MANY = format_lazy(gettext_lazy("A quote has up to {most} options. Take one out first."), most=MAX_OPTIONS)
ACCEPTED = gettext_lazy("This job is accepted, so its quote stays as it is. What changes now is a change order.")


def _store(row: Any) -> None:
    row.full_clean(validate_unique=False, validate_constraints=False)
    row.save()


# Rates


@needs(Act.PLAN)
@transaction.atomic
def save_rates(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> QuoteRates:
    """What new quotes begin with; those that there are keep theirs. Raises ValidationError by field."""
    lock_currency(organisation=organisation)
    rates = QuoteRates.objects.filter(organisation=organisation).first() or QuoteRates(organisation=organisation)
    _take(rates, data)
    return rates


def _take(rates: RateFields, data: Mapping[str, Any]) -> None:
    for name in RATES:
        if name in data:
            setattr(rates, name, data[name])
    _store(rates)


# Quotes


@needs(Act.PLAN)
@transaction.atomic
def create_quote(*, organisation: Organisation, user: User, job: Job) -> Quote:
    """With its own copy of all rates, and one empty option. Raises ValidationError: no rates, or the job is over."""
    lock_currency(organisation=organisation)
    job = Job.objects.of(organisation).select_for_update().get(pk=job.pk)
    if job.state not in (Job.State.ENQUIRY, Job.State.QUOTED):
        raise ValidationError(
            gettext("This job is %(state)s: nothing more is quoted for it.")
            % {"state": job.get_state_display().lower()}
        )
    rates = QuoteRates.objects.filter(organisation=organisation).first()
    if rates is None:
        raise ValidationError(NO_RATES)
    last = Quote.objects.of(organisation).aggregate(last=Max("number"))["last"] or 0
    quote = Quote(
        organisation=organisation,
        number=last + 1,
        job=job,
        currency=organisation.currency,
        made_by=user,
        **{name: getattr(rates, name) for name in RATES},
    )
    _store(quote)
    _store(Option(organisation=organisation, quote=quote, position=1, name="Option 1"))
    return quote


@needs(Act.PLAN)
@transaction.atomic
def save_quote(*, organisation: Organisation, user: User, quote: Quote, data: Mapping[str, Any]) -> Quote:
    """Its own rates and note; lines that were worked out follow. Raises ValidationError by field."""
    current = _locked(organisation, quote)
    _take(current, data)
    if "note" in data:
        current.note = data["note"]
        _store(current)
    for option in current.options.all():
        if option.priced_at:
            _work_out(organisation, option, current)
    return current


def _locked(organisation: Organisation, quote: Quote) -> Quote:
    """The quote, while nobody else writes to it; not once its job is accepted or over.

    That the quote is there keeps the currency as it is, so that nobody else waits while its options are worked out.
    """
    # The job first, as everywhere: it is lost or accepted by one and priced by another in one order.
    job = Job.objects.of(organisation).select_for_update().get(quotes=quote.pk)
    current = Quote.objects.of(organisation).select_for_update().get(pk=quote.pk)
    current.job = job
    check_currency(organisation=organisation)
    if current.job.state == Job.State.LOST:
        raise ValidationError(gettext("This job is lost. Take it up again before you change its quote."))
    if current.job.state not in (Job.State.ENQUIRY, Job.State.QUOTED):
        raise ValidationError(ACCEPTED)
    return current


def _option(organisation: Organisation, option: Option) -> tuple[Quote, Option]:
    quote = _locked(organisation, option.quote)
    current = Option.objects.of(organisation).filter(pk=option.pk, quote=quote).first()
    if current is None:
        raise ValidationError(
            gettext("Somebody took the option %(option)s out. Nothing is saved.") % {"option": option.name}
        )
    return quote, current


def _line(organisation: Organisation, line: QuoteLine) -> tuple[Quote, Option, QuoteLine]:
    quote, option = _option(organisation, line.option)
    current = QuoteLine.objects.of(organisation).filter(pk=line.pk, option=option).first()
    if current is None:
        raise ValidationError(gettext("Somebody took the line %(what)s out. Nothing is saved.") % {"what": line.what})
    return quote, option, current


# Options


@needs(Act.PLAN)
@transaction.atomic
def add_option(
    *, organisation: Organisation, user: User, quote: Quote, name: str, like: Option | None = None
) -> Option:
    """Empty, or with the houses and lines of another of the quote. Raises ValidationError at the name."""
    current = _locked(organisation, quote)
    taken = list(current.options.values_list("position", "name"))
    if len(taken) >= MAX_OPTIONS:
        raise ValidationError(TOO_MANY)
    _check_name(name, [other for _, other in taken])
    position = min({*range(1, MAX_OPTIONS + 1)} - {at for at, _ in taken})
    option = Option(organisation=organisation, quote=current, position=position, name=name.strip(), based_on=like)
    if like:
        like = Option.objects.of(organisation).get(pk=like.pk, quote=current)
        option.priced_at, option.unpriced = like.priced_at, like.unpriced
    _store(option)
    for row in [*like.houses.all(), *like.lines.all()] if like else ():
        row.pk, row.option = None, option
        row._state.adding = True
        row.save()
    return option


def _check_name(name: str, taken: Sequence[str]) -> None:
    if not name.strip():
        raise ValidationError({"name": gettext("Type a name, for example Longer.")})
    if name.strip().casefold() in {other.casefold() for other in taken}:
        raise ValidationError({"name": gettext("Another option has this name. Type another one.")})


@needs(Act.PLAN)
@transaction.atomic
def rename_option(*, organisation: Organisation, user: User, option: Option, name: str) -> Option:
    quote, current = _option(organisation, option)
    _check_name(name, list(quote.options.exclude(pk=current.pk).values_list("name", flat=True)))
    current.name = name.strip()
    _store(current)
    return current


@needs(Act.PLAN)
@transaction.atomic
def remove_option(*, organisation: Organisation, user: User, option: Option) -> None:
    """Raises ValidationError where it is the only one, and where a customer may accept it still."""
    quote, current = _option(organisation, option)
    if quote.options.count() == 1:
        raise ValidationError(gettext("A quote has one option at least. Change this one instead."))
    for version in quote.versions.filter(state=QuoteVersion.State.SENT):
        if any(row["option"] == current.pk for row in version.shown["options"]):
            raise ValidationError(
                gettext("%(current)s stands in version %(number)s, which holds. Withdraw that first.")
                % {"current": current.name, "number": version.number}
            )
    current.delete()


@needs(Act.PLAN)
@transaction.atomic
def price_option(*, organisation: Organisation, user: User, option: Option) -> Option:
    """Work its lines out anew of its houses, at today's offers; what was typed stays as typed.

    Raises ValidationError in sentences: no house, or one that cannot be built.
    """
    quote, current = _option(organisation, option)
    return _work_out(organisation, current, quote)


def _work_out(organisation: Organisation, option: Option, quote: Quote) -> Option:
    worked = worked_option(organisation=organisation, option=option, rates=quote)
    _take_lines(option, worked)
    option.unpriced, option.priced_at = worked.unpriced, timezone.now()
    option.save(update_fields=["unpriced", "priced_at"])
    return option


def _take_lines(option: Option, worked: WorkedOption) -> None:
    there = {line.key: line for line in option.lines.exclude(key="")}
    for position, (key, values) in enumerate(worked.lines.items(), start=1):
        line = there.pop(key, None) or QuoteLine(organisation=option.organisation, option=option, key=key)
        values = values | {"worked_quantity": values["quantity"], "worked_price": values["price"]}
        if line.typed_at:
            values = {name: value for name, value in values.items() if name not in ("quantity", "price", "source")}
        for name, value in values.items():
            setattr(line, name, value)
        line.position = position
        line.save()
    for line in there.values():
        line.delete()
    for position, line in enumerate(option.lines.filter(key="").order_by("position", "pk"), len(worked.lines) + 1):
        if line.position != position:
            line.position = position
            line.save(update_fields=["position"])


# Houses


@needs(Act.PLAN)
def begin_with(*, organisation: Organisation, user: User, starter: Starter) -> None:
    """Put what a starter is made of into the lists of the organisation."""
    prepare_starter(organisation=organisation, user=user, starter=starter)


@needs(Act.PLAN)
@transaction.atomic
def add_house(
    *,
    organisation: Organisation,
    user: User,
    option: Option,
    name: str,
    quantity: int,
    data: Mapping[str, Any],
    own_rows: Sequence[Mapping[str, Any]] = (),
    source: House | None = None,
    starter: str = "",
) -> OptionHouse:
    """``data``: fields of HouseSpec. The option is priced in the same action.

    Raises ValidationError by field when such a house cannot be built.
    """
    quote, current = _option(organisation, option)
    if source and source.organisation_id != organisation.pk:
        raise ValidationError({"name": gettext("Choose one of your own houses.")})
    last = current.houses.aggregate(last=Max("position"))["last"] or 0
    row = OptionHouse(
        organisation=organisation, option=current, position=last + 1, source_house=source, starter=starter
    )
    _take_house(row, name, quantity, packed_spec(data), packed_rows(own_rows))
    _work_out(organisation, current, quote)
    return row


@needs(Act.PLAN)
@transaction.atomic
def take_house(
    *, organisation: Organisation, user: User, option: Option, house: House, quantity: int = 1
) -> OptionHouse:
    """One of the organisation's houses as it is."""
    quote, current = _option(organisation, option)
    spec, rows = packed_house(House.objects.of(organisation).get(pk=house.pk))
    last = current.houses.aggregate(last=Max("position"))["last"] or 0
    row = OptionHouse(organisation=organisation, option=current, position=last + 1, source_house=house)
    _take_house(row, house.name, quantity, spec, rows)
    _work_out(organisation, current, quote)
    return row


@needs(Act.PLAN)
@transaction.atomic
def save_house(
    *,
    organisation: Organisation,
    user: User,
    house: OptionHouse,
    name: str,
    quantity: int,
    data: Mapping[str, Any],
    own_rows: Sequence[Mapping[str, Any]] | None = None,
) -> OptionHouse:
    """``own_rows`` None: those that there are stay."""
    quote, option = _option(organisation, house.option)
    row = OptionHouse.objects.of(organisation).get(pk=house.pk, option=option)
    rows = row.own_rows if own_rows is None else packed_rows(own_rows)
    _take_house(row, name, quantity, packed_spec(data), rows)
    _work_out(organisation, option, quote)
    return row


def _take_house(
    row: OptionHouse, name: str, quantity: int, spec: dict[str, Any], own_rows: list[dict[str, Any]]
) -> None:
    row.name, row.quantity, row.spec, row.own_rows = name, quantity, spec, own_rows
    row.full_clean(validate_unique=False, validate_constraints=False)
    _check_buildable(row)
    row.save()


def _check_buildable(row: OptionHouse) -> None:
    try:
        house = houses_from([row], organisation=row.organisation)[0]
    except MissingRow as error:
        raise ValidationError(str(error)) from error
    problems: dict[str, list[Any]] = {}
    for problem in problems_of(house, row.organisation.unit_system):
        of_row = problem.field == "own_rows"
        said = OwnRowError(problem.message, row=problem.row, part=problem.part) if of_row else problem.message
        problems.setdefault(problem.field, []).append(said)
    if problems:
        raise ValidationError(problems)


@needs(Act.PLAN)
@transaction.atomic
def remove_house(*, organisation: Organisation, user: User, house: OptionHouse) -> None:
    """Its lines go with it: what is left is worked out anew."""
    quote, option = _option(organisation, house.option)
    OptionHouse.objects.of(organisation).get(pk=house.pk, option=option).delete()
    if option.houses.exists():
        _work_out(organisation, option, quote)
        return
    option.lines.exclude(key="").delete()
    option.priced_at, option.unpriced = None, []
    option.save(update_fields=["priced_at", "unpriced"])


# Lines


@needs(Act.PLAN)
@transaction.atomic
def add_line(*, organisation: Organisation, user: User, option: Option, data: Mapping[str, Any]) -> QuoteLine:
    """``data``: kind, what, quantity, price, source, and what it is of. Raises ValidationError by field."""
    _, current = _option(organisation, option)
    last = current.lines.aggregate(last=Max("position"))["last"] or 0
    line = QuoteLine(organisation=organisation, option=current, position=last + 1)
    _type_line(line, user, data)
    return line


@needs(Act.PLAN)
@transaction.atomic
def save_line(*, organisation: Organisation, user: User, line: QuoteLine, data: Mapping[str, Any]) -> QuoteLine:
    """Type it over; of one that was worked out what it is stays. Raises ValidationError by field."""
    *_, current = _line(organisation, line)
    if current.key:
        data = {name: value for name, value in data.items() if name not in ("kind", "what", *NAMES)}
    _type_line(current, user, data)
    return current


def _type_line(line: QuoteLine, user: User | None, data: Mapping[str, Any]) -> None:
    for name in ("kind", "what", "quantity", "price", "source", "left_out", *NAMES):
        if name in data:
            setattr(line, name, data[name])
    if line.material and line.material.organisation_id != line.organisation_id:
        raise ValidationError({"material": gettext("Choose one of your own materials.")})
    if not line.key:
        check_tied(kind=line.kind, material=line.material, length=line.length, step=line.step)
    if line.kind == QuoteLine.Kind.HOURS:
        line.price = None
    elif line.price is None:
        raise ValidationError({"price": gettext("Type the price of one.")})
    line.typed_at, line.typed_by = timezone.now(), user
    _store(line)


@needs(Act.PLAN)
@transaction.atomic
def forget_typed(*, organisation: Organisation, user: User, line: QuoteLine) -> QuoteLine:
    """Back to what was worked out, at today's offers."""
    quote, option, current = _line(organisation, line)
    if not current.key:
        raise ValidationError(gettext("This line was added by hand. Take it out instead."))
    current.typed_at = current.typed_by = None
    current.left_out = False
    current.save()
    _work_out(organisation, option, quote)
    current.refresh_from_db()
    return current


@needs(Act.PLAN)
@transaction.atomic
def remove_line(*, organisation: Organisation, user: User, line: QuoteLine) -> None:
    """One that was added by hand; one that was worked out is left out of the price instead."""
    *_, current = _line(organisation, line)
    if current.key:
        raise ValidationError(gettext("This line follows from the houses. Leave it out of the price instead."))
    current.delete()
