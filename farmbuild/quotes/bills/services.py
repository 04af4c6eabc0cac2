"""Writes of stages, terms and bills: one transaction a user action. A bill is never changed; a credit takes it back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from hashlib import sha256

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import as_kept, said_day
from farmbuild.measure import format_decimal, format_money, places
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.agreed.bridge import Amounts
from farmbuild.quotes.agreed.contract import contract_of
from farmbuild.quotes.bills.frozen import bill_pdf, bill_workbook, frozen_bill
from farmbuild.quotes.bills.selectors import Billing, counts, parts_of
from farmbuild.quotes.models import Bill, BillTerms, ChangeOrder, Job, Stage

MAX_STAGES = 10
NOT_ACCEPTED = gettext_lazy("Nothing is accepted yet, so nothing can be billed. Send the quote, and have it accepted.")
BILLED = gettext_lazy("There are bills of this job. Take them back first, then change its stages.")


def _locked(organisation: Organisation, job: Job) -> Job:
    """Numbers, sums and currency are nobody else's until the transaction ends."""
    lock_currency(organisation=organisation)
    return Job.objects.of(organisation).select_for_update().select_related("customer").get(pk=job.pk)


def _billing(organisation: Organisation, job: Job) -> Billing:
    contract = contract_of(job=job)
    if contract is None:
        raise ValidationError(NOT_ACCEPTED)
    if contract.currency != organisation.currency:
        raise ValidationError(
            gettext("This job is accepted in %(currency)s. Bills in other money are not made.")
            % {"currency": contract.currency}
        )
    return Billing(contract)


def check_stages(rows: Sequence[tuple[str, Decimal]]) -> None:
    """``rows``: name and percent. Raises ValidationError in words."""
    if not rows:
        raise ValidationError(gettext("Type one stage at least: a name, and 100 percent."))
    if len(rows) > MAX_STAGES:
        raise ValidationError(gettext("A job has up to %(most)s stages.") % {"most": MAX_STAGES})
    if any(percent <= 0 for _, percent in rows):
        raise ValidationError(gettext("Each stage is more than 0 percent."))
    if (made := sum(percent for _, percent in rows)) != 100:
        raise ValidationError(
            gettext("The stages make %(value)s percent together. Make it 100.")
            % {"value": format_decimal(made.normalize() + 0)}
        )


@needs(Act.SEND)
@transaction.atomic
def save_stages(
    *,
    organisation: Organisation,
    user: User,
    job: Job,
    rows: Sequence[tuple[str, Decimal]],
    kept_percent: Decimal,
    pay_days: int,
) -> None:
    """All stages of a job at once, and what is kept back. Raises ValidationError; once a bill counts they stay."""
    current = _locked(organisation, job)
    check_stages(rows)
    if any(counts(bill) for bill in Bill.objects.filter(job=current).select_related("reversed_by")):
        raise ValidationError(BILLED)
    terms = BillTerms(organisation=organisation, job=current, kept_percent=kept_percent, pay_days=pay_days)
    terms.full_clean(validate_unique=False, validate_constraints=False)
    terms._state.adding = not BillTerms.objects.filter(job=current).exists()
    terms.save()
    had = {stage.position: stage for stage in Stage.objects.filter(job=current)}
    for position, (name, percent) in enumerate(rows, start=1):
        stage = had.pop(position, None) or Stage(organisation=organisation, job=current, position=position)
        stage.name, stage.percent = name, percent
        stage.full_clean(validate_unique=False, validate_constraints=False)
        stage.save()
    for stage in had.values():
        if stage.bills.exists():
            raise ValidationError(
                gettext("%(stage)s was billed once and stays in the books. Give it a percent.") % {"stage": stage.name}
            )
        stage.delete()


@needs(Act.SEND)
@transaction.atomic
def bill_stage(
    *,
    organisation: Organisation,
    user: User,
    job: Job,
    stage: Stage,
    amount: Decimal | None = None,
    day: date | None = None,
) -> Bill:
    """``amount``: before tax; None: what its percent comes to. Raises ValidationError, at "amount" where that is it."""
    current = _locked(organisation, job)
    billing = _billing(organisation, current)
    stage = Stage.objects.filter(job=current, pk=stage.pk).first()
    if stage is None:
        raise ValidationError(gettext("This stage is not there any more. Look at the stages again."))
    if bill := billing.bill_of(stage):
        raise ValidationError(
            gettext("%(stage)s is billed already, by %(reference)s.")
            % {"stage": stage.name, "reference": bill.reference}
        )
    usual = billing.amount_of(stage)
    if amount is None:
        amount = usual
    _check_amount(billing, stage, amount, usual)
    return _make(
        organisation,
        user,
        billing,
        what=stage.name,
        amounts=Amounts(billing.parts_for(amount), billing.kept_of(amount)),
        day=day,
        stage=stage,
        percent=stage.percent,
        changes=[one.change.number for one in billing.staged if one.change],
    )


def _check_amount(billing: Billing, stage: Stage, amount: Decimal, usual: Decimal) -> None:
    def words(value: Decimal) -> str:
        return format_money(value, billing.currency)

    if amount < 0 and amount != usual:
        raise ValidationError({"amount": gettext("Type an amount of 0 or more.")})
    if amount != amount.quantize(Decimal(1).scaleb(-places(billing.currency))):
        raise ValidationError(
            {"amount": gettext("%(currency)s has no coins as small as that.") % {"currency": billing.currency}}
        )
    if amount > billing.left:
        raise ValidationError(
            {
                "amount": gettext("This is above the contract: %(words)s of it is not billed yet. Bill that or less.")
                % {"words": words(billing.left)}
            }
        )
    if billing.is_last(stage) and amount != usual:
        raise ValidationError(
            {
                "amount": gettext("This is the last stage. It asks for all that is left: %(words)s.")
                % {"words": words(usual)}
            }
        )
    if not amount:
        left = gettext("%(words)s of the contract is left to bill. Type that or less, but more than 0.") % {
            "words": words(billing.left)
        }
        raise ValidationError({"amount": left if billing.left else gettext("Nothing of the contract is left to bill.")})


@needs(Act.SEND)
@transaction.atomic
def bill_change(
    *, organisation: Organisation, user: User, job: Job, change: ChangeOrder, day: date | None = None
) -> Bill:
    """The whole of an accepted change order, by itself. Raises ValidationError."""
    current = _locked(organisation, job)
    billing = _billing(organisation, current)
    agreed = next((one for one in billing.contract.changes if one.change.pk == change.pk), None)
    if agreed is None:
        raise ValidationError(gettext("This change is not accepted, so it is not billed."))
    if bill := billing.bill_of_change(change):
        raise ValidationError(
            gettext("Change %(number)s is billed already, by %(reference)s.")
            % {"number": change.number, "reference": bill.reference}
        )
    if bill := billing.within(change):
        raise ValidationError(
            gettext("%(reference)s asks for a part of change %(number)s already. So do the next stages.")
            % {"reference": bill.reference, "number": change.number}
        )
    return _make(
        organisation,
        user,
        billing,
        what=agreed.name,
        amounts=Amounts(agreed.parts, billing.kept_of(agreed.before_tax)),
        day=day,
        change=change,
    )


@needs(Act.SEND)
@transaction.atomic
def bill_kept(*, organisation: Organisation, user: User, job: Job, day: date | None = None) -> Bill:
    """The last bill: what was kept back of all others. Raises ValidationError."""
    current = _locked(organisation, job)
    billing = _billing(organisation, current)
    if bill := billing.release:
        raise ValidationError(
            gettext("What was kept back is billed already, by %(reference)s.") % {"reference": bill.reference}
        )
    if billing.open:
        left = format_money(billing.open, billing.currency)
        raise ValidationError(
            gettext("%(left)s of the contract is not billed yet. What was kept back comes last.") % {"left": left}
        )
    if not billing.kept:
        raise ValidationError(gettext("Nothing was kept back."))
    return _make(organisation, user, billing, what="Kept back until now", amounts=Amounts((), -billing.kept), day=day)


@needs(Act.SEND)
@transaction.atomic
def take_back(*, organisation: Organisation, user: User, bill: Bill, reason: str) -> Bill:
    """A credit with the same amounts below 0. Raises ValidationError at "reason"."""
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": gettext("Say why in a few words, for example: wrong stage.")})
    current = _locked(organisation, bill.job)
    billing = _billing(organisation, current)
    row = next((one for one in billing.bills if one.pk == bill.pk), None)
    if row is None or not counts(row):
        raise ValidationError(
            gettext("%(reference)s is taken back already, or takes back another.") % {"reference": bill.reference}
        )
    if billing.release and billing.release.pk != row.pk:
        raise ValidationError(
            gettext("Take back %(reference)s first: it paid what was kept back.")
            % {"reference": billing.release.reference}
        )
    return _make(
        organisation,
        user,
        billing,
        what=f"Credit for {row.reference}: {row.what}",
        amounts=Amounts(parts_of(row), row.kept).taken_back(),
        day=None,
        stage=row.stage,
        change=row.change,
        reverses=row,
        reason=reason,
    )


def _make(
    organisation: Organisation,
    user: User,
    billing: Billing,
    *,
    what: str,
    amounts: Amounts,
    day: date | None,
    stage: Stage | None = None,
    change: ChangeOrder | None = None,
    percent: Decimal | None = None,
    changes: Sequence[int] = (),
    reverses: Bill | None = None,
    reason: str = "",
) -> Bill:
    today = today_of(organisation=organisation)
    day = day or today
    if day > today:
        raise ValidationError({"day": gettext("A bill is of today or of an earlier day.")})
    if day < billing.contract.accepted_on:
        since = said_day(billing.contract.accepted_on)
        raise ValidationError(
            {"day": gettext("The quote was accepted on %(since)s. Type that day or a later one.") % {"since": since}}
        )
    last = Bill.objects.of(organisation).aggregate(last=Max("number"))["last"] or 0
    bill = Bill(
        organisation=organisation,
        number=last + 1,
        job=billing.job,
        stage=stage,
        change=change,
        what=what[:240],
        currency=billing.currency,
        day=day,
        due_on=day if reverses else day + timedelta(days=billing.terms.pay_days),
        billed=amounts.billed,
        kept=amounts.kept,
        tax=amounts.tax,
        due=amounts.due,
        made_by=user,
        reverses=reverses,
        reason=reason,
    )
    bill.shown = frozen_bill(
        organisation=organisation, bill=bill, amounts=amounts, billing=billing, percent=percent, changes=changes
    )
    with as_kept():
        bill.pdf, bill.workbook = bill_pdf(bill.shown), bill_workbook(bill.shown)
    bill.sha256 = sha256(bill.pdf).hexdigest()
    bill.full_clean(validate_unique=False, validate_constraints=False)
    bill.save(force_insert=True)
    return bill
