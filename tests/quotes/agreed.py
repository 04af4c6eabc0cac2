"""Jobs whose quote is accepted, as rows: what bills and costs are held against."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from farmbuild.quotes.bridge import price_frozen
from farmbuild.quotes.models import (
    Acceptance,
    BillTerms,
    ChangeOrder,
    Customer,
    Job,
    Option,
    Quote,
    QuoteVersion,
    Stage,
)

#: Rates of the worked quote.
RATES = {
    "labour": "31.20",
    "overhead": "11.50",
    "contingency": "4",
    "margin": "18",
    "waste": "5",
    "tax_materials": "6.25",
    "tax_work": "0",
    "tax_equipment": "0",
}
SENT = datetime(2026, 9, 1, 12, tzinfo=UTC)


def line(kind: str, what: str, quantity: Any, price: Any = "", **more: str) -> dict[str, str]:
    found = {"kind": kind, "key": "", "what": what, "material": "", "length": "", "step": ""}
    return found | {"quantity": str(quantity), "price": str(price)} | more


def goods(what: str, quantity: Any, price: Any, material: str = "", length: str = "") -> dict[str, str]:
    return line("goods", what, quantity, price, material=material, length=length)


def hours(step: str, quantity: Any) -> dict[str, str]:
    return line("hours", step, quantity, step=step)


#: Option A of the worked examples, and the door that was added.
OPTION_A = (
    goods("Rail 10'", 41, "14.60"),
    goods("Pipe 21'", 6, "36.40"),
    goods("Rail 21'", 9, "29.90"),
    goods("Film", 1, "298"),
    goods("Channel", 12, "11.25"),
    goods("Screw", 150, "0.07"),
    goods("Anchor", 8, "9.75"),
    line("charge", "Delivery", 1, "85"),
    hours("set", "64.50"),
    line("equipment", "Bender", 2, "18"),
    line("trip", "Trip", 6, "27.28"),
)
DOOR = (goods("2x4", 4, "7.60"), goods("Door set", 1, "41.50"), hours("ends", "3.25"))


def accepted_job(
    organisation: Any,
    user: Any,
    lines: Sequence[dict[str, str]] = OPTION_A,
    *,
    rates: dict[str, str] = RATES,
    name: str = "Two houses",
) -> Job:
    customer = Customer.objects.get_or_create(
        organisation=organisation, slug="made-up-farm", defaults={"name": "Made-up Farm", "address": "1 Lane\nNowhere"}
    )[0]
    currency = organisation.currency
    number = Job.objects.filter(organisation=organisation).count() + 1
    job = Job.objects.create(
        organisation=organisation, number=number, customer=customer, name=name, state=Job.State.ACCEPTED
    )
    of_quote = {name: Decimal(value) for name, value in rates.items()}
    quote = Quote.objects.create(organisation=organisation, number=number, job=job, currency=currency, **of_quote)
    option = Option.objects.create(organisation=organisation, quote=quote, position=1, name="As asked")
    priced = price_frozen(rates, lines, currency)
    version = QuoteVersion.objects.create(
        organisation=organisation,
        quote=quote,
        number=1,
        currency=currency,
        shown={"rates": rates, "options": [{"option": option.pk, "name": option.name, "lines": list(lines)}]},
        pdf=b"",
        workbook=b"",
        sha256="0" * 64,
        workbook_sha256="0" * 64,
        valid_until=date(2026, 10, 1),
        sent_at=SENT,
        state=QuoteVersion.State.ACCEPTED,
    )
    Acceptance.objects.create(
        organisation=organisation,
        job=job,
        version=version,
        option=option,
        option_name=option.name,
        name="Ann Invented",
        day=date(2026, 9, 3),
        by_user=user,
        before_tax=priced.before_tax,
        tax=priced.tax,
        total=priced.total,
    )
    return job


def accepted_change(
    job: Job, user: Any, lines: Sequence[dict[str, str]] = DOOR, *, rates: dict[str, str] = RATES, what: str = "A door"
) -> ChangeOrder:
    currency = job.organisation.currency
    priced = price_frozen(rates, lines, currency, change=True)
    return ChangeOrder.objects.create(
        organisation=job.organisation,
        job=job,
        number=job.changes.count() + 1,
        what=what,
        currency=currency,
        lines=list(lines),
        rates=rates,
        cost=priced.cost,
        before_tax=priced.before_tax,
        tax=priced.tax,
        total=priced.total,
        state=ChangeOrder.State.ACCEPTED,
        sent_at=SENT,
        accepted_on=date(2026, 9, 10),
        accepted_name="Ann Invented",
        accepted_at=SENT,
        accepted_by=user,
    )


def staged(job: Job, percents: Sequence[int] = (30, 40, 30), kept: str = "5") -> list[Stage]:
    organisation = job.organisation
    BillTerms.objects.create(organisation=organisation, job=job, kept_percent=Decimal(kept))
    rows = [
        Stage(organisation=organisation, job=job, position=at, name=f"Stage {at}", percent=Decimal(percent))
        for at, percent in enumerate(percents, start=1)
    ]
    return Stage.objects.bulk_create(rows)
