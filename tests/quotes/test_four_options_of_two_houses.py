"""Four options of two houses each, one accepted, reduced and billed: typed through pages, held against fractions."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction as F

import pytest

from farmbuild.measure import format_money
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import Bill, Customer, Job, Option
from tests.factories import HouseFactory, SiteFactory
from tests.quotes.sent import put_house
from tests.quotes.test_own_cases import coins
from tests.quotes.test_pages import RATES
from tests.quotes.typing import Typing

pytestmark = pytest.mark.django_db
#: How many of each: pieces, hours, days.
FIRST = {"Rail": "41", "Film": "2", "Delivery": "1", "Setting": "64.5", "Bender": "3"}
#: What another option has instead.
OTHERS = {
    "Longer": {"Rail": "60"},
    "Wider": {"Film": "3"},
    "By the customer": {"Setting": "11.25"},
}
#: What the reduction takes away again.
LESS = {"Rail": "6", "Setting": "3.75"}
KINDS = {"Rail": "goods", "Film": "goods", "Delivery": "charge", "Setting": "hours", "Bender": "equipment"}
PARTS = {"goods": 0, "charge": 0, "hours": 1, "equipment": 2}
CASES = {
    "USD": {
        "prices": {"Rail": "14.6", "Film": "298", "Delivery": "85.15", "Bender": "18"},
        "rates": {"labour": "31.2", "overhead": "11.5", "contingency": "4", "margin": "18"},
        "taxes": ("6.25", "0", "2"),
        "kept": "10",
    },
    "JPY": {
        "prices": {"Rail": "1985", "Film": "40250", "Delivery": "12800", "Bender": "2750"},
        "rates": {"labour": "2350", "overhead": "815", "contingency": "3", "margin": "17.5"},
        "taxes": ("10", "10", "10"),
        "kept": "0",
    },
    "KWD": {
        "prices": {"Rail": "3.4125", "Film": "91.75", "Delivery": "22.2225", "Bender": "6.5"},
        "rates": {"labour": "4.275", "overhead": "1.6", "contingency": "5", "margin": "21"},
        "taxes": ("0", "5", "0"),
        "kept": "10",
    },
}


def priced(case, quantities, currency):
    """Price before tax, and tax, by fractions alone."""
    costs = [F(0), F(0), F(0)]
    rates = {name: F(rate) for name, rate in case["rates"].items()}
    for what, many in quantities.items():
        if what == "Setting":
            costs[1] += sum(coins(F(many) * rates[name], currency) for name in ("labour", "overhead"))
        else:
            costs[PARTS[KINDS[what]]] += coins(F(many) * F(case["prices"][what]), currency)
    before = tax = F(0)
    for cost, percent in zip(costs, case["taxes"], strict=True):
        more = coins(cost * rates["contingency"] / 100, currency)
        price = coins((cost + more) / (1 - rates["margin"] / 100), currency)
        before, tax = before + price, tax + coins(price * F(percent) / 100, currency)
    return before, tax


@pytest.mark.parametrize("currency", CASES)
def test_from_four_options_to_what_was_kept_back(signed_in, organisation, currency):
    case = CASES[currency]
    Organisation.objects.update(currency=currency)
    typing = Typing(signed_in)

    def said(amount):
        return format_money(Decimal(F(amount).numerator) / F(amount).denominator, currency)

    typed_lines(typing, case)
    figures = {"Option 1": priced(case, FIRST, currency)}
    for at, (name, other) in enumerate(OTHERS.items(), start=2):
        first = Option.objects.get(position=1)
        typing.form("quotes:option-new", 1, name=name, like=first.pk)
        for what, many in other.items():
            row = Option.objects.get(position=at).lines.get(what=what)
            typing.form("quotes:line", 1, at, row.pk, quantity=many)
        figures[name] = priced(case, FIRST | other, currency)
    page = typing.page("quotes:quote", 1)
    whole = sum(figures["Option 1"])
    for name, amounts in figures.items():
        assert f"{name}: {said(sum(amounts))}" in page
        more = sum(amounts) - whole
        assert not more or f"{name} costs {said(abs(more))} {'more' if more > 0 else 'less'} than Option 1" in page

    typing.form("quotes:send", 1)
    longer = Option.objects.get(name="Longer")
    typing.form("quotes:accept-behalf", 1, 1, name="Ada Fern", how="by letter", option=longer.pk)
    assert Job.objects.get().job_houses.count() == 2
    contract, tax = figures["Longer"]
    typing.form("quotes:stages", 1, rows="Posts stand 30\nHoops stand 40\nFinished 30", kept_percent=case["kept"])
    typing.form("quotes:bill-new", 1, query="?stage=1")
    reduced = reduction(typing, case, currency)
    for at in (2, 3):
        typing.form("quotes:bill-new", 1, query=f"?stage={at}")
    first = coins(contract * F(30, 100), currency)
    second = coins((contract + reduced[0]) * F(40, 100), currency)
    contract, tax = contract + reduced[0], tax + reduced[1]
    bills = list(Bill.objects.order_by("number"))
    assert [F(bill.billed) for bill in bills] == [first, second, contract - first - second]
    kept = F(0)
    for at, bill in enumerate(bills, start=1):
        back = coins(sum(F(one.billed) for one in bills[:at]) * F(case["kept"]) / 100, currency) - kept
        kept += back
        assert F(bill.kept) == back
        assert F(bill.due) == F(bill.billed) - back + F(bill.tax)
    page = typing.page("quotes:job-bills", 1)
    assert all(said(bill.due) in page for bill in bills)
    if kept:
        typing.form("quotes:bill-new", 1, query="?kept=1")
        assert F(Bill.objects.latest("number").due) == kept
    assert sum(F(bill.due) for bill in Bill.objects.all()) == contract + tax
    assert sum(F(bill.tax) for bill in Bill.objects.all()) == tax
    assert "All is billed." in typing.page("quotes:job-bills", 1)


def typed_lines(typing, case):
    typing.form("quotes:customer-new", name="Fernhill Growers (invented)")
    typing.form("quotes:job-new", customer=Customer.objects.get().pk, name="Two growing houses")
    taxes = dict(zip(("tax_materials", "tax_work", "tax_equipment"), case["taxes"], strict=True))
    typing.form("quotes:rates", **RATES | case["rates"] | taxes)
    typing.press("quotes:quote-new", 1)
    option = Option.objects.get()
    site = SiteFactory(organisation=option.organisation, name="Own yard")
    put_house(option, HouseFactory(organisation=option.organisation, site=site), "48'", quantity=2)
    for what, many in FIRST.items():
        price = case["prices"].get(what, "")
        typing.form("quotes:line-new", 1, 1, kind=KINDS[what], what=what, quantity=many, price=price)


def reduction(typing, case, currency):
    """What it comes to before tax and in tax, below 0."""
    typing.form("quotes:change-new", 1, what="Less of it")
    for what, many in LESS.items():
        price = case["prices"].get(what, "")
        typing.form("quotes:change", 1, 1, kind=KINDS[what], what=what, quantity=f"-{many}", price=price)
    typing.form("quotes:change-send", 1, 1)
    typing.form("quotes:change-answer", 1, 1, accept="yes", name="Ada Fern", how="by telephone")
    found = priced(case, {what: f"-{many}" for what, many in LESS.items()}, currency)
    assert found[0] < 0
    return found
