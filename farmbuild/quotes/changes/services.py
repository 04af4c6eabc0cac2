"""Change orders of accepted jobs: drafted line by line, sent as they are, accepted or declined once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.models import Material
from farmbuild.common.speaking import said_day
from farmbuild.measure import format_money
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.bridge import PARTS, QuoteError, offered_of, price_frozen
from farmbuild.quotes.changes.selectors import contract_of
from farmbuild.quotes.models import Acceptance, ChangeOrder, Job, JobHouse, QuoteLink
from farmbuild.quotes.sending.agreed import agreed_digest
from farmbuild.quotes.sending.files import files_of
from farmbuild.quotes.sending.freezing import frozen_change
from farmbuild.quotes.sending.services import check_valid_until, lock_job
from farmbuild.quotes.tied import check_tied

State = ChangeOrder.State
#: Of one change order.
MAX_LINES = 200
NOT_ACCEPTED = gettext_lazy("This job is not accepted yet. Change its quote, and send that again.")
NO_LINES = gettext_lazy("Nothing stands on this change order yet. Add a line, then send it.")


@needs(Act.PLAN)
@transaction.atomic
def draft_change(*, organisation: Organisation, user: User | None, job: Job, what: str) -> ChangeOrder:
    """An empty one, at the rates of what was accepted. Raises ValidationError."""
    current = lock_job(organisation=organisation, job=job.pk)
    if current.state != Job.State.ACCEPTED:
        raise ValidationError(NOT_ACCEPTED)
    accepted = Acceptance.objects.select_related("version").get(job=current)
    last = current.changes.aggregate(last=Max("number"))["last"] or 0
    change = ChangeOrder(
        organisation=organisation,
        job=current,
        number=last + 1,
        what=what.strip(),
        currency=accepted.version.currency,
        lines=[],
        rates=accepted.version.shown["rates"],
        made_by=user,
        **dict.fromkeys(("cost", "before_tax", "tax", "total"), Decimal(0)),
    )
    change.clean_fields(exclude=["lines", "rates", "shown", "pdf", "workbook"])
    change.save()
    return change


@needs(Act.PLAN)
@transaction.atomic
def add_line(
    *,
    organisation: Organisation,
    user: User | None,
    change: ChangeOrder,
    kind: str,
    what: str,
    quantity: Decimal,
    price: Decimal | None,
    material: Material | None = None,
    length: Decimal | None = None,
    step: str = "",
) -> ChangeOrder:
    """``quantity`` below 0 takes away what was agreed. Raises ValidationError by field."""
    current = _draft(organisation, change)
    if material and material.organisation_id != organisation.pk:
        raise ValidationError({"material": gettext("Choose one of your own materials.")})
    problems = {}
    if kind not in PARTS:
        problems["kind"] = gettext("Choose one from the list.")
    if not what.strip():
        problems["what"] = gettext("Type what it is.")
    if not quantity:
        problems["quantity"] = gettext("Type how many: above 0 adds, below 0 takes away.")
    if kind == "hours":
        price = None
    elif price is None or price < 0:
        problems["price"] = gettext("Type the price of one, 0 or more. To take away, type the quantity below 0.")
    if len(current.lines) >= MAX_LINES:
        problems["what"] = gettext("A change order has up to %(most)s lines. Make another one.") % {"most": MAX_LINES}
    if problems:
        raise ValidationError(problems)
    check_tied(kind=kind, material=material, length=length, step=step)
    line = {
        "kind": kind,
        "key": "",
        "what": what.strip(),
        "material": material.code if material else "",
        "length": "" if length is None else str(length),
        "step": step,
        "quantity": str(quantity),
        "price": "" if price is None else str(price),
    }
    return _price(current, [*current.lines, line])


@needs(Act.PLAN)
@transaction.atomic
def remove_line(*, organisation: Organisation, user: User | None, change: ChangeOrder, at: int) -> ChangeOrder:
    """``at``: from 0. Raises ValidationError where it is gone."""
    current = _draft(organisation, change)
    if not 0 <= at < len(current.lines):
        raise ValidationError(gettext("This line is gone already."))
    return _price(current, [line for number, line in enumerate(current.lines) if number != at])


@needs(Act.PLAN)
@transaction.atomic
def drop_change(*, organisation: Organisation, user: User | None, change: ChangeOrder) -> None:
    """A draft alone; what was sent is kept."""
    _draft(organisation, change).delete()


def _lock(organisation: Organisation, change: ChangeOrder) -> ChangeOrder:
    """The job is held, and with it all of its change orders."""
    lock_job(organisation=organisation, job=change.job_id)
    rows = ChangeOrder.objects.of(organisation).select_related("job__customer", "organisation").filter(pk=change.pk)
    current = rows.first()
    if current is None:
        raise ValidationError(gettext("This change order is gone. Somebody took the draft away."))
    return current


def _draft(organisation: Organisation, change: ChangeOrder) -> ChangeOrder:
    current = _lock(organisation, change)
    if current.state != State.DRAFT:
        raise ValidationError(
            gettext("Change %(number)s was sent and stays as it is. Make another change order.")
            % {"number": current.number}
        )
    return current


def _price(change: ChangeOrder, lines: Sequence[Mapping[str, Any]]) -> ChangeOrder:
    try:
        priced = price_frozen(change.rates, lines, change.currency, change=True)
    except QuoteError as error:
        raise ValidationError(str(error)) from error
    change.lines = list(lines)
    change.cost, change.before_tax, change.tax, change.total = (
        priced.cost,
        priced.before_tax,
        priced.tax,
        priced.total,
    )
    change.save(update_fields=["lines", "cost", "before_tax", "tax", "total"])
    return change


@needs(Act.SEND)
@transaction.atomic
def send_change(
    *, organisation: Organisation, user: User | None, change: ChangeOrder, valid_until: date, how: str = ""
) -> ChangeOrder:
    """It stays as it is from now on, with PDF and workbook. Raises ValidationError."""
    current = _draft(organisation, change)
    if current.job.state != Job.State.ACCEPTED:
        raise ValidationError(
            gettext("Job %(reference)s is closed. Nothing more is sent for it.") % {"reference": current.job.reference}
        )
    if not current.lines:
        raise ValidationError(NO_LINES)
    _check_left(current)
    today = today_of(organisation=organisation)
    check_valid_until(valid_until, today)
    shown = frozen_change(
        organisation=organisation,
        job=current.job,
        number=current.number,
        what=current.what,
        lines=current.lines,
        rates=current.rates,
        day=today,
        valid_until=valid_until,
    )
    files = files_of(offered_of(shown))
    current.shown, current.pdf, current.workbook, current.sha256 = shown, files.pdf, files.workbook, files.sha256
    current.valid_until, current.sent_how, current.state = valid_until, how.strip(), State.SENT
    current.sent_at, current.sent_by = timezone.now(), user
    current.full_clean(exclude=["pdf", "workbook", "lines", "rates"])
    current.save()
    return current


@needs(Act.ACCEPT)
@transaction.atomic
def answer_on_behalf(
    *,
    organisation: Organisation,
    user: User,
    change: ChangeOrder,
    accept: bool,
    name: str,
    day: date,
    how: str,
) -> ChangeOrder:
    """What the customer said otherwise, on the day on which it was said. Raises ValidationError by field."""
    if not how.strip():
        raise ValidationError({"how": gettext("Say how it was said, for example: by telephone.")})
    current = _lock(organisation, change)
    current.accepted_by, current.accepted_how = user, how.strip()
    return _answer(current, accept, name, day, until=day)


@transaction.atomic
def answer_by_link(*, link: QuoteLink, name: str, day: date, accept: bool) -> ChangeOrder:
    """By the customer, at an open link. Raises ValidationError in words that a customer can act on."""
    current = _lock(link.organisation, link.change)
    current.accepted_link = link
    return _answer(current, accept, name, day, until=today_of(organisation=link.organisation))


def _answer(change: ChangeOrder, accept: bool, name: str, day: date, *, until: date) -> ChangeOrder:
    organisation = change.organisation
    zone = zone_of(organisation=organisation)
    if change.state == State.DRAFT:
        raise ValidationError(gettext("Change %(number)s is not sent yet.") % {"number": change.number})
    if change.state != State.SENT:
        local = change.accepted_at.astimezone(zone)
        # The row as it is stored: what was typed just now is not.
        words = (
            gettext("%(name)s accepted this change already: on %(day)s at %(time)s.")
            if change.state == State.ACCEPTED
            else gettext("%(name)s declined this change already: on %(day)s at %(time)s.")
        )
        said = {"name": change.accepted_name, "day": said_day(local.date()), "time": f"{local:%H:%M}"}
        raise ValidationError(words % said)
    if accept and until > change.valid_until:
        raise ValidationError(
            gettext("This change held until %(valid_until)s. Ask %(organisation)s for a new one.")
            % {"valid_until": said_day(change.valid_until), "organisation": organisation.name}
        )
    problems = {}
    if not name.strip():
        problems["name"] = gettext("Type the name of who says so.")
    if day > today_of(organisation=organisation):
        problems["day"] = gettext("%(day)s is still to come. Type the day of today.") % {"day": said_day(day)}
    elif day < change.sent_at.astimezone(zone).date():
        problems["day"] = gettext("That is before the day on which it was sent. Type that day or a later one.")
    if problems:
        raise ValidationError(problems)
    if accept:
        _check_left(change)
    change.state = State.ACCEPTED if accept else State.DECLINED
    change.accepted_name, change.accepted_on, change.accepted_at = name.strip(), day, timezone.now()
    change.save(
        update_fields=[
            *("state", "accepted_name", "accepted_on", "accepted_at", "accepted_by", "accepted_how", "accepted_link"),
        ]
    )
    if accept:
        _agree(change.job)
    return change


def _check_left(change: ChangeOrder) -> None:
    """Raise ValidationError where it takes away more than is agreed."""
    agreed = contract_of(job=change.job)
    if agreed and agreed.before_tax + change.before_tax < 0:
        whole = format_money(agreed.before_tax, change.currency)
        raise ValidationError(
            gettext("It takes away more than is agreed: %(whole)s before tax. Take away that or less.")
            % {"whole": whole}
        )


def _agree(job: Job) -> None:
    """Its houses as they are now are what the customer has agreed to."""
    for row in JobHouse.objects.filter(job=job).select_related("house__recipe__tube"):
        row.agreed = agreed_digest(row.house)
        row.save(update_fields=["agreed"])
