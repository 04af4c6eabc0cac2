"""The administration shows every row of this app and changes none of them."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.contrib import admin
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.crew import feeds, models
from farmbuild.crew.bookings import moving
from farmbuild.orgs.clock import today_of
from farmbuild.stock.counts.services import start_count
from tests.factories import (
    BenderBookingFactory,
    BenderFactory,
    BenderRequestFactory,
    DayOffFactory,
    HouseFactory,
    LotFactory,
    MemberSignInFactory,
    PersonFactory,
    SkillFactory,
)
from tests.signing_in import keeper_of_the_server

pytestmark = pytest.mark.django_db
#: Shown with the row that they belong to.
INSIDE = {models.WorkHours, models.WorkStep, models.StepAfter, models.BookingMove}


@pytest.fixture
def keeper(client):
    client.force_login(keeper_of_the_server())
    return client


@pytest.fixture
def rows(organisation, user):
    """One of most kinds."""
    given = {"organisation": organisation, "user": user}
    today = today_of(organisation=organisation)
    person = PersonFactory(crew__organisation=organisation)
    bender = BenderFactory(organisation=organisation)
    booking = BenderBookingFactory(bender=bender, first=today)
    moving.move(**given, booking=booking, bender=bender, first=today, last=today)
    house = HouseFactory(site__organisation=organisation)
    task = models.Task.objects.create(organisation=organisation, house=house, kind="posts")
    sign_in = MemberSignInFactory(member=booking.member)
    lot = LotFactory(material__organisation=organisation)
    count = start_count(**given, places=[lot.place])
    return [
        person,
        person.crew,
        person.crew.week,
        SkillFactory(organisation=organisation),
        DayOffFactory(organisation=organisation),
        booking,
        booking.member,
        sign_in,
        BenderRequestFactory(member=booking.member),
        feeds.make_feed(**given, bender=bender),
        task,
        models.Actual.objects.create(
            organisation=organisation, task=task, key="3f0a8f4e-1c1d-4a46-9b7e-7f8d5f9e2a11", problem="Bent post"
        ),
        models.Schedule.objects.create(organisation=organisation, number=1, starts_at=timezone.now(), inputs={}),
        models.WorkTemplate.objects.create(organisation=organisation, name="Usual", slug="usual"),
        count,
        count.lines.first(),
    ]


def address(row, what):
    return reverse(f"admin:{row._meta.app_label}_{row._meta.model_name}_{what}", args=[row.pk])


def test_every_kind_can_be_looked_at_alone():
    for model in set(apps.get_app_config("crew").get_models(include_auto_created=False)) - INSIDE:
        assert isinstance(admin.site.get_model_admin(model), ReadOnlyAdmin), model


def test_rows_are_shown_and_not_changed(keeper, rows):
    for row in rows:
        name = f"admin:{row._meta.app_label}_{row._meta.model_name}"
        assert keeper.get(reverse(f"{name}_changelist")).status_code == 200, name
        assert keeper.get(address(row, "change")).status_code == 200, name
        before = type(row).objects.filter(pk=row.pk).values().get()
        assert keeper.post(address(row, "change"), {"name": "Other", "first": "2020-01-01"}).status_code == 403, name
        assert keeper.post(address(row, "delete"), {"post": "yes"}).status_code == 403, name
        assert keeper.get(reverse(f"{name}_add")).status_code == 403, name
        assert type(row).objects.filter(pk=row.pk).values().get() == before, name


def test_the_secret_of_a_calendar_is_not_shown(keeper, rows):
    (feed,) = [row for row in rows if isinstance(row, models.CalendarFeed)]
    for page in (address(feed, "change"), reverse("admin:crew_calendarfeed_changelist")):
        text = keeper.get(page).content.decode()
        assert feed.secret not in text and feed.digest not in text


def test_lists_cost_the_same_at_any_length(keeper, rows, organisation):
    def queries():
        found = {}
        for model in apps.get_app_config("crew").get_models():
            if model in INSIDE:
                continue
            with CaptureQueriesContext(connection) as made:
                assert keeper.get(reverse(f"admin:crew_{model._meta.model_name}_changelist")).status_code == 200
            found[model] = len(made)
        return found

    few = queries()
    for _ in range(5):
        person = PersonFactory(crew__organisation=organisation)
        DayOffFactory(organisation=organisation, person=person)
        booking = BenderBookingFactory(bender__organisation=organisation)
        MemberSignInFactory(member=booking.member)
        BenderRequestFactory(member=booking.member, bender=booking.bender)
        house = HouseFactory(site__organisation=organisation)
        models.Task.objects.create(organisation=organisation, house=house, kind="posts", crew=person.crew)
    assert queries() == few
