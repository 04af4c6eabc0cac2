"""A job through the services of all rooms: quoted, sent, accepted, changed, billed, and held against its quote."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.orgs.clock import today_of
from farmbuild.quotes.against.selectors import costs_of
from farmbuild.quotes.agreed.contract import contract_of
from farmbuild.quotes.bills import services as bills
from farmbuild.quotes.changes import services as changes
from farmbuild.quotes.changes.selectors import contract_of as agreed_amounts_of
from farmbuild.quotes.sending.accepting import Answer, accept_on_behalf
from tests.quotes.begun import lines_of
from tests.quotes.sent import quoted, sent
from tests.reading import text_of

pytestmark = pytest.mark.django_db
D = Decimal


def test_what_was_accepted_is_what_is_billed_and_held_against(organisation, user, signed_in):
    who, today = {"organisation": organisation, "user": user}, today_of(organisation=organisation)
    _, quote = quoted(organisation, user, ("48'",))
    version = sent(organisation, user, quote)
    said = Answer(version.shown["options"][0]["option"], "Ada Fern", today, "by letter")
    job = accept_on_behalf(**who, version=version, answer=said).job
    door = changes.draft_change(**who, job=job, what="A door at the back")
    for kind, what, quantity, price in lines_of("door"):
        door = changes.add_line(**who, change=door, kind=kind, what=what, quantity=quantity, price=price)
    door = changes.send_change(**who, change=door, valid_until=today + timedelta(days=14), how="by e-mail")
    changes.answer_on_behalf(**who, change=door, accept=True, name="Ada Fern", day=today, how="by letter")

    contract = contract_of(job=job)
    assert (contract.before_tax, contract.tax) == (D("6160.25"), D("139.87"))
    told = agreed_amounts_of(job=job)
    assert (told.before_tax, told.tax) == (contract.before_tax, contract.tax)
    rows = [("On acceptance", D(30)), ("Hoops stand", D(40)), ("Finished", D(30))]
    bills.save_stages(**who, job=job, rows=rows, kept_percent=D(5), pay_days=30)
    made = [bills.bill_stage(**who, job=job, stage=stage) for stage in job.stages.all()]
    assert [bill.billed for bill in made] == [D("1848.08"), D("2464.10"), D("1848.07")]
    assert sum(bill.tax for bill in made) == contract.tax
    costs = costs_of(job=job)
    # Quoted by lines, each rounded: the cost of the quote and of the change to the coin here.
    assert (costs.quoted, costs.changed, costs.actual) == (D("4646.43"), D("210.68"), 0)
    assert [row.house for row in costs.by_house] == [row.house for row in job.job_houses.all()]
    page = text_of(signed_in.get(reverse("quotes:job", args=[job.number])))
    assert reverse("quotes:job-bills", args=[job.number]) in page
    assert reverse("quotes:against", args=[job.number]) in page
    assert "$4,646.43" in text_of(signed_in.get(reverse("quotes:against", args=[job.number])))
