"""Other cases of the worked kinds, in coins of no, two and three decimals, each worked out again by fractions alone."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction as F

import pytest

from farmbuild.costs.equipment.services import charge_day
from farmbuild.costs.rates import set_equipment_rate, set_pay_rate
from farmbuild.costs.time.services import type_time
from farmbuild.quotes.against.bridge import Cause, progress
from farmbuild.quotes.against.selectors import costs_of
from farmbuild.quotes.bills import services as bills
from farmbuild.quotes.bills.selectors import Billing
from farmbuild.quotes.bridge import Kind, price_frozen
from farmbuild.stock import services as stock
from tests.costs.making import DAY
from tests.factories import FOOT, PlaceFactory
from tests.quotes.agreed import accepted_job, goods, hours, line
from tests.quotes.built import TEN, Built

pytestmark = pytest.mark.django_db
D = Decimal
DECIMALS = {"JPY": 0, "USD": 2, "KWD": 3}


def coins(amount: F, currency: str) -> F:
    """Half up to the coin, below nothing away from it."""
    coin = F(1, 10 ** DECIMALS[currency])
    whole = (abs(amount) / coin + F(1, 2)).__floor__()
    return (whole if amount >= 0 else -whole) * coin


@pytest.fixture
def reckons(organisation):
    def in_currency(currency: str):
        organisation.currency = currency
        organisation.save()
        return organisation

    return in_currency


#: Labour, overhead, contingency, margin; tax of materials, work, equipment; (quantity, price) of goods; hours; uses.
QUOTES = {
    "USD": (
        *("27.45", "9.85", "7.5", "23", "8.875", "0", "2"),
        [("29", "13.95"), ("3", "0"), ("1210", "0.0655"), ("1", "64.5")],
        ["0", "18.35", "7.2"],
        [("3", "22.5"), ("5", "31.09")],
    ),
    "JPY": (
        *("2350", "815", "3", "17.5", "10", "10", "10"),
        [("38", "1985"), ("2", "0"), ("90", "7.5"), ("1", "12800")],
        ["11.25", "0", "31.4"],
        [("2", "2750"), ("3", "4105.5")],
    ),
    "KWD": (
        *("4.275", "1.6", "5", "21", "0", "0", "0"),
        [("44", "3.4125"), ("1", "0"), ("733", "0.0185"), ("6", "2.2225")],
        ["5.75", "22.3", "0"],
        [("1", "6.5"), ("7", "3.1415")],
    ),
}


@pytest.mark.parametrize("currency", QUOTES)
def test_a_quote_with_lines_of_nothing(currency):
    labour, overhead, contingency, margin, *taxes, bought, worked, used = QUOTES[currency]
    names = ("labour", "overhead", "contingency", "margin", "tax_materials", "tax_work", "tax_equipment")
    rates = dict(zip(names, (labour, overhead, contingency, margin, *taxes), strict=True))
    lines = [goods(f"Thing {at}", *row) for at, row in enumerate(bought)]
    lines += [hours(f"step {at}", many) for at, many in enumerate(worked)]
    lines += [line("equipment", f"Use {at}", *row) for at, row in enumerate(used)]
    found = price_frozen(rates, lines, currency)

    all_hours = sum(map(F, worked))
    costs = {
        Kind.MATERIALS: sum(coins(F(many) * F(each), currency) for many, each in bought),
        Kind.WORK: coins(all_hours * F(labour), currency) + coins(all_hours * F(overhead), currency),
        Kind.EQUIPMENT: sum(coins(F(many) * F(each), currency) for many, each in used),
    }
    total = F(0)
    for (kind, cost), tax in zip(costs.items(), taxes, strict=True):
        kept_by = coins(cost * F(contingency) / 100, currency)
        price = coins((cost + kept_by) / (1 - F(margin) / 100), currency)
        taxed = coins(price * F(tax) / 100, currency)
        part = found.part(kind)
        assert [F(part.cost), F(part.price), F(part.tax)] == [cost, price, taxed]
        total += price + taxed
    assert F(found.total) == total
    assert F(found.cost) == sum(costs.values())


#: Standard price and quantity of sticks; lots (pieces, price); labour, overhead, hours quoted; (minutes, pay) of rows;
#: days of a bender quoted, used, and the price of one.
USED = {
    # 958 minutes at 27.45 an hour are 438.285 to the last decimal.
    "USD": (
        *("13.95", 29, [(17, "14.35"), (15, "12.8")]),
        *("27.45", "9.85", "18.35", [(611, "24.6"), (347, "31")], 3, 2, "22.5"),
    ),
    "JPY": ("1985", 38, [(38, "2011.5")], "2350", "815", "11.25", [(0, "1"), (725, "2105")], 1, 3, "2750"),
    "KWD": (
        *("3.4125", 44, [(20, "3.3335"), (31, "3.5")]),
        *("4.275", "1.6", "22.3", [(480, "4.15"), (1337, "4.4")], 0, 1, "6.5"),
    ),
}


@pytest.mark.parametrize("currency", USED)
def test_differences_by_cause(currency, reckons, user):
    price, quoted, lots, labour, overhead, many_hours, times, days_quoted, days, a_day = USED[currency]
    organisation = reckons(currency)
    rates = dict.fromkeys(("contingency", "margin", "tax_materials", "tax_work", "tax_equipment"), "0")
    rates |= {"labour": labour, "overhead": overhead, "waste": "0"}
    planned = [goods("Rail, 10'", quoted, price, "rail", TEN), hours("set", many_hours)]
    planned += [line("equipment", "Bender", days_quoted, a_day)] if days_quoted else []
    job = accepted_job(organisation, user, planned, rates=rates)
    built = Built(organisation, user, job)
    place = PlaceFactory(organisation=organisation)
    for pieces, each in lots:
        lot = stock.receive_lot(
            **built.who,
            material=built.materials["rail"],
            quantity=pieces,
            place=place,
            received_on=DAY,
            length=FOOT * 10,
            unit_cost=D(each),
        )
        stock.issue_pieces(**built.who, lot=lot, quantity=pieces, reason="frame", house=built.house)
    worked = [row for row in times if row[0]]
    for at, (minutes, an_hour) in enumerate(worked):
        day = DAY + timedelta(days=2 * at)
        set_pay_rate(**built.who, since=day, an_hour=D(an_hour), person=built.team.ann)
        first = min(minutes, 900)
        for some, on in ((first, day), (minutes - first, day + timedelta(days=1))):
            if some:
                type_time(**built.who, person=built.team.ann, day=on, house=built.house, step="set", minutes=some)
    thing = set_equipment_rate(**built.who, since=date(2026, 1, 1), a_day=D(a_day), name="Bender").equipment
    for at in range(days):
        charge_day(**built.who, equipment=thing, day=DAY + timedelta(days=at), house=built.house)

    def r(amount: F) -> F:
        return coins(amount, currency)

    pieces = sum(many for many, _ in lots)
    paid = sum(r(many * F(each)) for many, each in lots)
    spent = F(sum(minutes for minutes, _ in worked), 60)
    wages = F(0)
    for minutes, an_hour in worked:
        first = min(minutes, 900)
        wages += r(F(first, 60) * F(an_hour)) + r(F(minutes - first, 60) * F(an_hour))
    expected = {
        Cause.CHANGE_ORDER: F(0),
        Cause.MATERIAL_PRICE: paid - r(pieces * F(price)),
        Cause.MATERIAL_QUANTITY: r(pieces * F(price)) - r(quoted * F(price)),
        Cause.HOURS: r(spent * F(labour)) - r(F(many_hours) * F(labour)),
        Cause.RATE: wages - r(spent * F(labour)),
        Cause.OVERHEAD: r(spent * F(overhead)) - r(F(many_hours) * F(overhead)),
        Cause.EQUIPMENT: days * r(F(a_day)) - r(days_quoted * F(a_day)),
    }
    costs = costs_of(job=job)
    assert {cause: F(amount) for cause, amount in costs.comparison.differences.by_cause.items()} == expected
    assert F(costs.actual - costs.quoted) == sum(expected.values())


#: Percents of three stages, percent kept back, the price of the one thing in the quote, tax; cost and still to come.
BILLED = {
    "USD": ((35, 45, 20), "7.5", "8421.37", "8.875", "2750.55", "3111.08"),
    "JPY": ((33, 33, 34), "10", "987654", "10", "401001", "333333"),
    "KWD": ((25, 50, 25), "2.5", "3141.593", "5", "1234.567", "0"),
}


@pytest.mark.parametrize("currency", BILLED)
def test_three_bills_and_what_was_kept_back(currency, reckons, user):
    percents, kept_percent, price, tax, cost, to_come = BILLED[currency]
    organisation = reckons(currency)
    rates = dict.fromkeys(("labour", "overhead", "contingency", "margin", "waste", "tax_work", "tax_equipment"), "0")
    job = accepted_job(organisation, user, [goods("House", 1, price)], rates=rates | {"tax_materials": tax})
    who = {"organisation": organisation, "user": user, "job": job}
    names = ("On acceptance", "Hoops stand", "Finished")
    rows = [(name, D(percent)) for name, percent in zip(names, percents, strict=True)]
    bills.save_stages(**who, rows=rows, kept_percent=D(kept_percent), pay_days=30)
    made = [bills.bill_stage(**who, stage=stage) for stage in job.stages.all()]
    released = bills.bill_kept(**who)

    def r(amount: F) -> F:
        return coins(amount, currency)

    contract, kept, billed = r(F(price)), F(0), F(0)
    for bill, percent in zip(made, percents, strict=True):
        last = bill is made[-1]
        amount = contract - billed if last else r(contract * F(percent) / 100)
        billed += amount
        back = r(billed * F(kept_percent) / 100) - kept
        kept += back
        assert [F(bill.billed), F(bill.kept)] == [amount, back]
        assert F(bill.due) == amount - back + F(bill.tax)
    assert F(released.due) == kept == -F(released.kept)
    assert sum(F(bill.tax) for bill in made) == r(contract * F(tax) / 100)
    assert sum(F(bill.due) for bill in (*made, released)) == contract + r(contract * F(tax) / 100)
    assert Billing(costs_of(job=job).contract).open == 0
    whole = F(cost) + F(to_come)
    found = progress(
        contract=D(price), cost=D(cost), to_come=D(to_come), billed=made[0].billed + made[1].billed, currency=currency
    )
    assert F(found.earned) == r(contract * F(cost) / whole)
    assert F(found.overbilled) == F(made[0].billed + made[1].billed) - r(contract * F(cost) / whole)
    assert F(found.profit) == contract - whole
