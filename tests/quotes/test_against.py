"""Cost against quote of jobs entered through services: causes, what is to come, what is earned, houses and files."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from farmbuild.buying.receiving import Arrival, receive_goods
from farmbuild.costs.equipment.services import charge_day
from farmbuild.costs.rates import set_equipment_rate
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.quotes.against import services
from farmbuild.quotes.against.bridge import Cause
from farmbuild.quotes.against.csv_files import costs_csv
from farmbuild.quotes.against.lessons import lessons_of
from farmbuild.quotes.against.selectors import costs_of
from farmbuild.quotes.bills import services as bills
from farmbuild.quotes.models import Job, JobHouse, QuoteRates, ToCome
from farmbuild.stock import services as stock
from farmbuild.stock.models import Lot, Reservation
from tests.buying.sent_order import sent_order
from tests.costs.making import DAY
from tests.factories import BenderFactory, HouseFactory, OrganisationFactory, PlaceFactory, SiteFactory
from tests.quotes.agreed import DOOR, accepted_change, accepted_job, goods, hours, line, staged
from tests.quotes.built import CHANGED, QUOTED, TEN, Built
from tests.reading import text_of

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def built(organisation, user):
    job = accepted_job(organisation, user, QUOTED)
    accepted_change(job, user, CHANGED)
    return Built(organisation, user, job).all()


def test_the_differences_of_the_worked_example(built, signed_in):
    costs = costs_of(job=built.job)
    assert (costs.quoted, costs.changed, costs.actual) == (D("2649.13"), D("210.68"), D("3165.48"))
    assert costs.comparison.differences.by_cause == {
        Cause.CHANGE_ORDER: D("210.68"),
        Cause.MATERIAL_PRICE: D("8.17"),
        Cause.MATERIAL_QUANTITY: D("29.26"),
        Cause.HOURS: D("179.40"),
        Cause.RATE: D("4.72"),
        Cause.OVERHEAD: D("66.12"),
        Cause.EQUIPMENT: D("18.00"),
    }
    rows = {row.name: row for row in costs.comparison.rows}
    assert (rows["Rail, 10'"].of_quantity, rows["Rail, 10'"].of_price) == (D("14.60"), D("-23.00"))
    assert (rows["Screw"].of_quantity, rows["Screw"].of_price) == (D("0.91"), D("-0.73"))
    [lumber] = [row for row in costs.comparison.rows if not row.foreseen and row.used == 10]
    assert (lumber.of_quantity, lumber.of_price) == (D("122.00"), D("4.50"))
    assert costs.unquoted(lumber) == "not quoted: at the cheapest offer of the day of the quote"
    assert costs.by_day[-1][1] == costs.actual
    assert costs.budget_by_day[-1][1] == costs.quoted + costs.changed
    page = text_of(signed_in.get(reverse("quotes:against", args=[built.job.number])))
    for amount in ("$2,649.13", "$3,165.48", "$516.35", "210.68", "8.17", "29.26", "179.40", "4.72", "66.12", "18.00"):
        assert amount in page


def test_the_progress_of_the_worked_example(organisation, user, signed_in):
    """The contract is 6,160.25 and its cost so far that of the other example."""
    job = accepted_job(organisation, user)
    accepted_change(job, user, DOOR)
    Built(organisation, user, job).all()
    services.type_to_come(
        organisation=organisation, user=user, job=job, amount=D("1934.52"), reason="The ends take longer"
    )
    for stage in staged(job)[:2]:
        bills.bill_stage(organisation=organisation, user=user, job=job, stage=stage)
    costs = costs_of(job=job)
    assert (costs.actual, costs.at_completion, costs.billed) == (D("3165.48"), D("5100.00"), D("4312.18"))
    found = costs.progress
    assert (found.earned, found.overbilled, found.profit) == (D("3823.56"), D("488.62"), D("1060.25"))
    page = text_of(signed_in.get(reverse("quotes:against", args=[job.number])))
    for said in ("62.07 %", "$3,823.56", "$488.62", "$1,060.25", "$5,100.00", "The ends take longer"):
        assert said in page
    page = text_of(signed_in.get(reverse("quotes:job-bills", args=[job.number])))
    assert "$4,312.18" in page
    assert "$215.61" in page


def test_what_nobody_offered_is_told(organisation, user):
    job = accepted_job(organisation, user, QUOTED)
    built = Built(organisation, user, job)
    built.uses_materials()
    costs = costs_of(job=job)
    [lumber] = [row for row in costs.comparison.rows if not row.foreseen and row.used == 10]
    assert (lumber.of_quantity, lumber.of_price) == (D("126.50"), 0)
    assert costs.unquoted(lumber) == "not quoted: at the price paid, since nothing was offered that day"


def test_still_to_come_may_be_typed_and_goes_back(built, organisation, user):
    who = {"organisation": organisation, "user": user, "job": built.job}
    worked = costs_of(job=built.job).to_come
    # Of the quote's lines the 2x6 of 16 ft and 1.25 hours of film are not used.
    assert worked == D("115.85") + D("39.00") + D("14.38")
    for amount, words in ((D(-1), "0 or more"), (D("1.005"), "no coins as small")):
        with pytest.raises(ValidationError, match=words):
            services.type_to_come(**who, amount=amount, reason="So")
    with pytest.raises(ValidationError, match="Say why"):
        services.type_to_come(**who, amount=D(10), reason=" ")
    services.type_to_come(**who, amount=D(10), reason="Nearly done")
    assert costs_of(job=built.job).to_come == 10
    services.type_to_come(**who, amount=None, reason="")
    assert costs_of(job=built.job).to_come == worked
    assert ToCome.objects.count() == 2


def test_houses_make_up_the_job(built, organisation, user):
    other = HouseFactory(site=SiteFactory(organisation=organisation), length=built.house.length * 2)
    JobHouse.objects.create(organisation=organisation, job=built.job, house=other)
    costs = costs_of(job=built.job)
    rows = costs.by_house
    assert [row.house for row in rows] == [built.house, other]
    assert sum(row.quoted for row in rows) == costs.quoted
    assert sum(row.actual for row in rows) == costs.actual
    assert sum(row.to_come for row in rows) == costs.to_come
    assert (rows[0].actual, rows[1].actual) == (costs.actual, 0)
    assert rows[1].quoted > rows[0].quoted


def test_a_job_without_houses_costs_nothing_yet(organisation, user, signed_in):
    job = accepted_job(organisation, user)
    costs = costs_of(job=job)
    assert (costs.actual, costs.by_house[0].house, costs.by_house[0].quoted) == (0, None, costs.quoted)
    assert costs.progress.part == 0
    assert "It comes to what was quoted" in text_of(signed_in.get(reverse("quotes:against", args=[job.number])))


def test_nothing_accepted(organisation, user, signed_in):
    job = accepted_job(organisation, user)
    other = Job.objects.create(organisation=organisation, number=9, customer=job.customer, name="Asked only")
    assert costs_of(job=other) is None
    with pytest.raises(ValidationError, match="Nothing is accepted yet"):
        services.type_to_come(organisation=organisation, user=user, job=other, amount=D(1), reason="So")
    for name in ("quotes:against", "quotes:job-bills"):
        assert "Nothing is accepted yet" in text_of(signed_in.get(reverse(name, args=[9])))


@pytest.mark.parametrize(("currency", "coin"), [("JPY", "1"), ("KWD", "0.001")])
def test_currencies_of_no_and_of_three_decimals(user, organisation, currency, coin):
    organisation.currency = currency
    organisation.save()
    job = accepted_job(organisation, user, (goods("Film", 3, "333.3335"), hours("set", "7.25")))
    stages = staged(job, (33, 33, 34))
    made = [bills.bill_stage(organisation=organisation, user=user, job=job, stage=stage) for stage in stages]
    contract = costs_of(job=job).contract
    assert sum(bill.billed for bill in made) == contract.before_tax
    assert sum(bill.tax for bill in made) == contract.tax
    assert all(bill.billed == bill.billed.quantize(D(coin)) for bill in made)


def test_files_add_up_to_the_pages(built, organisation):
    costs = costs_of(job=built.job)
    rows = list(csv.DictReader(io.StringIO(costs_csv([built.job]).decode("utf-8-sig"))))
    assert sum(D(row["Amount"]) for row in rows) == costs.actual - costs.comparison.overhead[2]
    assert {row["Kind"] for row in rows} == {"Materials", "Time", "Equipment"}
    some = costs_csv([built.job], last=date.fromisoformat(rows[0]["Day"]))
    assert 1 < len(some.splitlines()) < len(rows) + 1


def test_queries_do_not_grow_with_what_was_used(built, organisation, user):
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            costs = costs_of(job=Job.objects.select_related("organisation").get(pk=built.job.pk))
            assert costs.progress and costs.by_house and costs.by_day
        return len(queries)

    before = asked()
    built.uses_materials()
    assert asked() == before <= 16


def test_finished_jobs_teach_and_nothing_is_taken_by_itself(built, organisation, user, signed_in):
    who = {"organisation": organisation, "user": user}
    QuoteRates.objects.create(organisation=organisation, labour=D(30))
    assert lessons_of(organisation=organisation) == []
    services.finish_job(**who, job=built.job)
    assert not built.job.job_houses.filter(live=True).exists()
    with pytest.raises(ValidationError, match="finished; only an accepted"):
        services.finish_job(**who, job=built.job)
    lessons = {one.key: one for one in lessons_of(organisation=organisation)}
    assert lessons["step-set"].spread.jobs == 1
    prices = lessons["prices"]
    assert QuoteRates.objects.get().contingency == 0
    with pytest.raises(ValidationError, match="changed since"):
        services.take_lesson(**who, key="prices", seen="99/1")
    page = text_of(signed_in.get(reverse("quotes:lessons")))
    assert "1 finished job" in page
    signed_in.post(reverse("quotes:lesson-take"), {"key": "prices", "seen": prices.token})
    assert QuoteRates.objects.get().contingency == prices.proposed
    services.take_lesson(**who, key="step-set", seen=lessons["step-set"].token)
    again = {one.key: one for one in lessons_of(organisation=organisation)}
    assert again["step-set"].taken
    assert again["prices"].taken


def test_a_job_of_others_is_not_there(organisation, user, signed_in):
    other = OrganisationFactory()
    job = accepted_job(other, user)
    for name in ("quotes:against", "quotes:job-bills", "quotes:stages"):
        assert signed_in.get(reverse(name, args=[job.number])).status_code == 404


def test_hours_that_were_typed_are_found_by_the_name_of_their_step(organisation, user):
    job = accepted_job(organisation, user, [line("hours", "film", "9.25"), line("hours", "Set posts", 4)])
    Built(organisation, user, job).works()
    rows = {row.name: row for row in costs_of(job=job).comparison.rows}
    assert (rows["film"].quoted, rows["film"].used) == (D("9.25"), 8)
    assert (rows["Set posts"].used, rows["Other work"].quoted) == (0, 0)


def test_a_delivery_that_is_in_the_cost_of_goods_is_used_as_they_are(organisation, user, signed_in):
    """Of 40 rails at 14.60 half came with the delivery in their cost: half of it is still to come with the others."""
    planned = [goods("Rail", 40, "14.60", "rail", TEN), line("charge", "Delivery, Hilltop Pipe", 1, "85")]
    job = accepted_job(organisation, user, planned)
    built = Built(organisation, user, job)
    place = PlaceFactory(organisation=organisation)

    def comes(amount: str) -> None:
        lot = stock.receive_lot(
            **built.who,
            material=built.materials["rail"],
            quantity=20,
            place=place,
            received_on=DAY,
            length=D(TEN),
            amount=D(amount),
        )
        stock.issue_pieces(**built.who, lot=lot, quantity=20, reason="frame", house=built.house)

    comes("340.70")
    costs = costs_of(job=job)
    # 20 x 14.60 and half of 85 are still to come, and half of it is spent.
    assert (costs.to_come, costs.quoted) == (D("334.50"), D("669.00"))
    by_cause = costs.comparison.differences.by_cause
    # 340.70 less 292.00, and 42.50 of the delivery: it cost 6.20 more.
    assert (by_cause[Cause.MATERIAL_PRICE], by_cause[Cause.MATERIAL_QUANTITY]) == (D("6.20"), D("-334.50"))
    assert "in the cost of the goods that it brings" in text_of(signed_in.get(reverse("quotes:against", args=[1])))
    comes("340.70")
    costs = costs_of(job=job)
    assert (costs.to_come, costs.actual) == (0, D("681.40"))
    by_cause = costs.comparison.differences.by_cause
    assert (by_cause[Cause.MATERIAL_PRICE], by_cause[Cause.MATERIAL_QUANTITY]) == (D("12.40"), 0)


def test_days_of_benders_are_held_against_the_bender_that_came(organisation, user):
    job = accepted_job(organisation, user, [line("equipment", "Bender, days", 2, "18", key="bender")])
    built = Built(organisation, user, job)
    who = {"organisation": organisation, "user": user}
    bender = BenderFactory(organisation=organisation, name="Long bender")
    for what in ({"bender": bender}, {"name": "Post driver"}):
        thing = set_equipment_rate(**who, since=date(2026, 1, 1), a_day=D(20), **what).equipment
        charge_day(**who, equipment=thing, day=DAY, house=built.house)
    rows = {row.name: row for row in costs_of(job=job).comparison.rows}
    assert (rows["Bender, days"].used, rows["Bender, days"].paid, rows["Bender, days"].left) == (1, 20, 1)
    assert rows["Post driver"].quoted == 0
    assert costs_of(job=job).to_come == 18


def test_an_order_that_is_closed_short_is_to_come_at_the_price_of_the_quote_again(organisation, user, signed_in):
    job = accepted_job(organisation, user, [goods("Rail", 40, "14.60", "rail", TEN)])
    built = Built(organisation, user, job)
    order = sent_order(organisation, 40, price="15", otherwise={1: {"material": built.materials["rail"]}})
    Plan.objects.filter(pk=order.plan_id).update(accepted_at=timezone.now(), state="ready", result={})
    PlanHouse.objects.create(plan=order.plan, house=built.house, accepted=True)
    held = {"organisation": organisation, "plan": order.plan, "house": built.house, "purpose": "hoops"}
    Reservation.objects.create(**held, order_line=order.lines.get(), quantity=40, need_by=order.need_by)
    costs = costs_of(job=job)
    assert (costs.committed, costs.to_come, costs.at_completion) == (600, 600, 600)
    came = [Arrival(order.lines.get().pk, 25)]
    receive_goods(**built.who, order=order, arrivals=came, received_on=DAY, token=str(uuid4()), place="Barn rack")
    lot = Lot.objects.get()
    stock.issue_pieces(**built.who, lot=lot, quantity=25, reason="frame", house=built.house)
    costs = costs_of(job=job)
    assert (costs.actual, costs.committed, costs.to_come) == (375, 225, 225)
    signed_in.post(reverse("buying:close", args=[order.number]), {"reason": "no longer made"})
    costs = costs_of(job=Job.objects.get())
    # 15 x 14.60.
    assert (costs.actual, costs.committed, costs.to_come, costs.at_completion) == (375, 0, 219, 594)
    assert "$594.00" in text_of(signed_in.get(reverse("quotes:against", args=[1])))
