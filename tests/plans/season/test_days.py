"""Days of houses for the season line: their work, the orders held for them, and whose they are."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.services import send_order
from farmbuild.common.season_line import Sign, Stretch
from farmbuild.crew.models import Actual, HouseWork, Kind, Task, WorkTemplate
from farmbuild.plans.season.presenters import work_line
from farmbuild.plans.season.rows import by_urgency, house_row, supplied_row
from farmbuild.plans.season.selectors import day_span, days_of_houses
from farmbuild.stock.models import Reservation
from tests.factories import HouseFactory, MembershipFactory, SiteFactory
from tests.plans.small_season import AS_OF

pytestmark = pytest.mark.django_db
MONDAY = date(2027, 5, 3)


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *args, **more: AS_OF)


def at(day: date, hour: int) -> datetime:
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


def a_task(house, kind=Kind.POSTS, first: date | None = None, last: date | None = None, **more) -> Task:
    return Task.objects.create(
        organisation=house.organisation,
        house=house,
        kind=kind,
        position=Task.objects.filter(house=house).count(),
        people=1,
        minutes=60,
        starts_at=first and at(first, 15),
        ends_at=last and at(last, 19),
        **more,
    )


def due(house, day: date) -> None:
    template, _ = WorkTemplate.objects.get_or_create(organisation=house.organisation, name="Plain", slug="plain")
    HouseWork.objects.create(organisation=house.organisation, house=house, template=template, due=day)


def pressed(task: Task, day: date, **more) -> Actual:
    return Actual.objects.create(organisation=task.organisation, task=task, key=uuid4(), day=day, **more)


def test_work_is_where_tasks_stand_and_done_work_where_it_was_done(season):
    house = season.houses[0]
    a_task(house, Kind.POSTS, MONDAY, MONDAY + timedelta(days=1))
    a_task(house, Kind.SET, MONDAY + timedelta(days=4), MONDAY + timedelta(days=4))
    a_task(house, Kind.FILM)
    done = a_task(house, Kind.SAW, MONDAY, MONDAY, state="done")
    pressed(done, MONDAY - timedelta(days=6), done=1)
    wrong = pressed(done, MONDAY - timedelta(days=20), done=1)
    Actual.objects.create(organisation=house.organisation, task=done, key=uuid4(), reverses=wrong)
    due(house, MONDAY + timedelta(days=2))
    [found] = days_of_houses(organisation=house.organisation)
    friday = MONDAY + timedelta(days=4)
    assert found.work == (
        Stretch(MONDAY - timedelta(days=6), MONDAY - timedelta(days=6)),
        Stretch(MONDAY, MONDAY + timedelta(days=1)),
        Stretch(friday, friday),
    )
    assert (found.tasks, found.tasks_done, found.need) == (4, 1, house.need_date)
    row = house_row(found, today=AS_OF)
    assert (row.note, row.late) == ("7 May, 2 days late", True)
    assert row.href == f"/houses/{house.slug}/" and "1 of 4 tasks done" in row.said


def test_a_schedule_says_where_its_tasks_stand_and_another_does_not_matter(season):
    house = season.houses[0]
    first, second = a_task(house, Kind.POSTS, MONDAY, MONDAY), a_task(house, Kind.SET, MONDAY, MONDAY)
    day = MONDAY + timedelta(days=10)
    [found] = days_of_houses(organisation=house.organisation, places={first.pk: (at(day, 15), at(day, 19))})
    assert found.work == (Stretch(day, day),)
    [now] = days_of_houses(organisation=house.organisation)
    assert now.work == (Stretch(MONDAY, MONDAY),) and second.starts_at


def test_days_are_those_of_the_clock_there():
    zone = ZoneInfo("America/New_York")
    # Clocks go on in the night to 14 March 2027; what ends at midnight ended on the day before.
    assert day_span(datetime(2027, 3, 14, 3, tzinfo=UTC), datetime(2027, 3, 15, 4, tzinfo=UTC), zone) == Stretch(
        date(2027, 3, 13), date(2027, 3, 14)
    )
    assert day_span(datetime(2027, 3, 14, 5, tzinfo=UTC), datetime(2027, 3, 14, 5, tzinfo=UTC), zone) == Stretch(
        date(2027, 3, 14), date(2027, 3, 14)
    )


def test_flags_are_the_days_of_the_orders_held_for_it(accepted, season, user):
    keys = [house.pk for house in season.houses]
    organisation = accepted.organisation
    [before, *_] = days_of_houses(organisation=organisation, houses=keys)
    drafts = {order.number: order.order_by for order in PurchaseOrder.objects.all()}
    assert before.orders and all(not order.sent and drafts[order.order] == order.day for order in before.orders)
    for order in PurchaseOrder.objects.all():
        send_order(organisation=organisation, user=user, order=order, sent_on=AS_OF, how="by hand")
    PurchaseOrderLine.objects.filter(material__code="rail").update(promised_on=date(2027, 6, 1))
    for found in days_of_houses(organisation=organisation, houses=keys):
        held = Reservation.objects.filter(house=found.pk, order_line__isnull=False)
        days = {
            (
                row.order_line.order.number,
                row.order_line.promised_on or row.order_line.need_by + timedelta(days=row.order_line.late_days),
            )
            for row in held
        }
        assert days and {(order.order, order.day) for order in found.orders} == days
        assert len(found.orders) == len(days) and all(order.sent for order in found.orders)
        flags = {(flag.day, flag.sign) for flag in house_row(found, today=AS_OF).flags}
        assert flags == {(day, Sign.DELIVERY) for _, day in days}


def test_late_houses_come_first_and_done_ones_last(season):
    late, early = season.houses
    site = season.north
    done = HouseFactory(site=site, organisation=season.organisation, name="A done one", recipe=late.recipe)
    bare = HouseFactory(site=site, organisation=season.organisation, name="Without days", recipe=late.recipe)
    a_task(early, first=MONDAY, last=MONDAY)
    due(early, MONDAY + timedelta(days=30))
    a_task(late, first=MONDAY + timedelta(days=9), last=MONDAY + timedelta(days=9))
    due(late, MONDAY)
    a_task(done, state="done")
    a_task(bare)
    found = sorted(days_of_houses(organisation=season.organisation), key=by_urgency)
    rows = [house_row(house, today=AS_OF) for house in found]
    assert [(row.name, row.note) for row in rows] == [
        (late.name, "12 May, 9 days late"),
        (early.name, "3 May, 30 days early"),
        ("Without days", "no day yet"),
        ("A done one", "done"),
    ]


def test_other_organisations_are_hidden_and_queries_do_not_grow(season, user):
    strange = MembershipFactory().organisation
    theirs = HouseFactory(site=SiteFactory(organisation=strange), organisation=strange, name="Theirs")
    a_task(theirs, first=MONDAY, last=MONDAY)
    a_task(season.houses[0], first=MONDAY, last=MONDAY)
    given = {"organisation": season.organisation, "title": "The season"}
    with CaptureQueriesContext(
        connection,
    ) as few:
        line = work_line(**given)
    assert [row.name for row in line.rows] == [season.houses[0].name]
    for n in range(40):
        more = HouseFactory(
            site=season.north, organisation=season.organisation, name=f"More {n}", recipe=season.houses[0].recipe
        )
        pressed(a_task(more, first=MONDAY, last=MONDAY, state="started"), MONDAY, done=1)
    with CaptureQueriesContext(connection) as many:
        line = work_line(**given)
    assert len(line.rows) == 41 and len(many) == len(few) <= 6
    assert not days_of_houses(organisation=season.organisation, houses=[theirs.pk])


def test_materials_that_come_after_they_are_needed_are_late(accepted, season, user):
    for order in PurchaseOrder.objects.all():
        send_order(organisation=season.organisation, user=user, order=order, sent_on=AS_OF, how="by hand")
    house = season.houses[0]
    lines = PurchaseOrderLine.objects.filter(reservations__house=house)
    for days, note, late in ((-4, "4 days early", False), (0, "on the day", False), (1, "1 day late", True)):
        comes = house.need_date + timedelta(days=days)
        PurchaseOrderLine.objects.filter(pk__in=list(lines.values_list("pk", flat=True))).update(promised_on=comes)
        [found] = days_of_houses(organisation=season.organisation, houses=[house.pk])
        row = supplied_row(found, today=AS_OF)
        assert (row.note, row.late) == (f"{comes.day} {comes:%b}, {note}", late)
        assert [flag.day for flag in row.flags if flag.sign is Sign.LIMIT] == [house.need_date]
    Reservation.objects.all().delete()
    [found] = days_of_houses(organisation=season.organisation, houses=[house.pk])
    row = supplied_row(found, today=AS_OF)
    assert (row.note, row.late, row.waits) == ("needed 12 May", False, None)
