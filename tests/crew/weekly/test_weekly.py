"""The week by e-mail: to whoever wants it, once a week, with what they may read, by their organisation's clock."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import StringIO
from smtplib import SMTPException

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from farmbuild.access import weekly
from farmbuild.access.models import SentSheet, WeeklySheet
from farmbuild.access.people import take_out
from farmbuild.buying.models import PurchaseOrder
from farmbuild.crew.models import Task
from farmbuild.orgs.acts import Role
from tests.factories import (
    CrewFactory,
    HouseFactory,
    MaterialFactory,
    MembershipFactory,
    OrganisationFactory,
    PersonFactory,
    SupplierFactory,
)
from tests.reading import text_of
from tests.waiting import comes_second

pytestmark = pytest.mark.django_db
SITE = "https://growers.example.org"
#: A Saturday in New York, and Sunday already where UTC is.
NOW = datetime(2027, 4, 4, 2, 0, tzinfo=UTC)
MONDAY = date(2027, 4, 5)
AMOUNT = "Order 1 to Plain Pipe by 8 April 2027, $1 234,50"


@pytest.fixture(autouse=True)
def set_up(settings, monkeypatch):
    settings.EMAIL_HOST = "mail.example.org"
    monkeypatch.setattr(timezone, "now", lambda: NOW)


@pytest.fixture
def farm():
    return OrganisationFactory(name="Invented Acres", slug="acres", time_zone="America/New_York", decimal_sign=",")


def wants(farm, role=Role.OWNER, **given):
    email = given.pop("email", f"{role}@example.org")
    person = MembershipFactory(organisation=farm, role=role, user__email=email, user__first_name=role.title(), **given)
    weekly.save_wanted(user=person.user, organisations=[farm])
    return person


def send(site=SITE):
    out = StringIO()
    call_command("send_weekly_sheets", site=site, stdout=out)
    return out.getvalue()


def work_of(farm, crew, house, kind="posts", **given):
    starts = datetime(2027, 4, 6, 13, 0, tzinfo=UTC)
    ends = starts + timedelta(hours=3)
    return Task.objects.create(
        organisation=farm,
        house=house,
        kind=kind,
        crew=crew,
        starts_at=starts,
        ends_at=ends,
        people=2,
        minutes=180,
        **given,
    )


@pytest.fixture
def season(farm):
    """Work of two crews, and an order that has to go out."""
    house = HouseFactory(organisation=farm, name="Invented Row 1")
    mine, theirs = CrewFactory(organisation=farm, name="Crew North"), CrewFactory(organisation=farm, name="Crew South")
    work_of(farm, mine, house, count=24)
    work_of(farm, theirs, HouseFactory(organisation=farm, name="Invented Row 2"))
    order = PurchaseOrder.objects.create(
        organisation=farm,
        number="1",
        supplier=SupplierFactory(organisation=farm, name="Plain Pipe"),
        delivery_site=house.site,
        order_by=date(2027, 4, 8),
        need_by=date(2027, 4, 20),
        currency="USD",
        goods=Decimal("1234.50"),
        delivery=0,
        tax=0,
        total=Decimal("1234.50"),
    )
    order.lines.create(
        material=MaterialFactory(organisation=farm),
        description="Pipe",
        position=1,
        quantity=1,
        needed=1,
        pack=1,
        tax=0,
        unit_price=Decimal("1234.50"),
        line_total=Decimal("1234.50"),
        need_by=date(2027, 4, 20),
    )
    return mine


def body_of(address):
    return next(message.body for message in mail.outbox if message.to == [address])


def test_whoever_wants_it_gets_the_next_week_by_the_clock_of_the_organisation(farm, season):
    wants(farm)
    assert send() == "1 sheet sent.\n"
    (message,) = mail.outbox
    assert message.subject == "Week from 5 April 2027, Invented Acres"
    said = message.body
    assert "Tuesday 6 April 2027" in said
    # Nine in the morning there is 13:00 by UTC.
    assert "- 09:00 to 12:00  Ground posts, Invented Row 1" in said and "24 posts; Crew North" in said
    assert "Invented Row 2" in said and AMOUNT in said.replace("\u202f", " ").replace("\xa0", " ")
    assert f"{SITE}/of/acres/crew/week/2027-04-05/" in said
    assert "Take care" in said and "None" not in said and "&" not in said


def test_costs_go_to_those_alone_who_see_them(farm, season):
    for role in (Role.OWNER, Role.PLANNER, Role.YARD, Role.LOOKS):
        wants(farm, role)
    wants(farm, Role.YARD, also=["costs"], email="more@example.org")
    wants(farm, Role.OWNER, without=["costs"], email="less@example.org")
    send()
    priced = {message.to[0] for message in mail.outbox if "234,50" in message.body}
    assert len(mail.outbox) == 6
    assert priced == {"owner@example.org", "planner@example.org", "more@example.org"}


def test_a_crew_is_told_of_its_own_work_alone(farm, season):
    person = wants(farm, Role.CREW)
    PersonFactory(crew=season, user=person.user)
    other = wants(farm, Role.CREW, email="new@example.org")
    send()
    said = body_of("crew@example.org")
    assert "of Crew North" in said and "Invented Row 1" in said and "24 posts" in said
    for hidden in ("Invented Row 2", "Crew South", "Plain Pipe", "234,50", "crew/week"):
        assert hidden not in said, hidden
    assert "You are in no crew yet." in body_of(other.user.email)


def test_once_a_week_however_often_it_is_run(farm, monkeypatch):
    wants(farm)
    for _ in range(3):
        send()
    assert len(mail.outbox) == 1
    for days, number in ((4, 1), (6, 2), (9, 2)):
        # To Thursday it is that week's, which went out; from Friday on the next one's.
        monkeypatch.setattr(timezone, "now", lambda days=days: NOW + timedelta(days=days))
        send()
        assert len(mail.outbox) == number, days
    assert list(SentSheet.objects.order_by("pk").values_list("monday", flat=True)) == [
        MONDAY,
        MONDAY + timedelta(days=7),
    ]


@pytest.mark.parametrize(
    ("today", "monday"),
    [
        ((2027, 4, 1), (2027, 3, 29)),
        ((2027, 4, 2), (2027, 4, 5)),
        ((2027, 4, 4), (2027, 4, 5)),
        ((2027, 4, 5), (2027, 4, 5)),
    ],
)
def test_which_week_is_due(today, monday):
    assert weekly.week_of(date(*today)) == date(*monday)


def test_nothing_goes_out_where_no_e_mail_is_set_up(farm, settings):
    wants(farm)
    settings.EMAIL_HOST = ""
    assert send() == "Nothing is sent: FARMBUILD_EMAIL is not set.\n"
    assert not mail.outbox and not SentSheet.objects.exists()


@pytest.mark.parametrize("why", ["no address", "closed", "out", "taken out"])
def test_who_gets_none(farm, why):
    owner, person = MembershipFactory(organisation=farm), wants(farm, Role.YARD)
    if why == "no address":
        person.user.email = ""
    elif why == "closed":
        person.user.is_active = False
    elif why == "out":
        person.delete()
    else:
        take_out(organisation=farm, user=owner.user, person=person)
        assert not WeeklySheet.objects.exists()
    person.user.save()
    assert send() == "0 sheets sent.\n"


def test_what_failed_is_logged_and_tried_again_and_keeps_nobody_else_from_theirs(farm, monkeypatch, caplog):
    broken, whole = wants(farm), wants(farm, Role.YARD)
    from django.core.mail.backends.locmem import EmailBackend

    there = EmailBackend.send_messages

    def refuse(self, messages):
        if messages[0].to == [broken.user.email]:
            raise SMTPException("451 try later")
        return there(self, messages)

    monkeypatch.setattr(EmailBackend, "send_messages", refuse)
    with pytest.raises(CommandError, match="1 sheet not sent; the next run tries again"):
        send()
    assert [message.to for message in mail.outbox] == [[whole.user.email]]
    assert "451 try later" in caplog.text
    monkeypatch.setattr(EmailBackend, "send_messages", there)
    monkeypatch.setattr(timezone, "now", lambda: NOW + timedelta(seconds=1))
    assert send() == "1 sheet sent.\n"
    assert [message.to for message in mail.outbox] == [[whole.user.email], [broken.user.email]]


def test_one_that_cannot_be_written_is_tried_again_too(farm, monkeypatch, caplog):
    from farmbuild.crew.weekly import sending

    wants(farm)
    monkeypatch.setattr(sending, "sheet_of", lambda **given: 1 / 0)
    with pytest.raises(CommandError):
        send()
    assert "ZeroDivisionError" in caplog.text and SentSheet.objects.get().sent_at is None


def test_what_a_process_that_ended_left_behind_is_taken_up_when_its_time_is_over(farm, monkeypatch):
    sheet = WeeklySheet.objects.get(user=wants(farm).user)
    assert weekly.claim(sheet=sheet, monday=MONDAY)
    send()
    assert not mail.outbox
    monkeypatch.setattr(timezone, "now", lambda: NOW + weekly.CLAIM)
    send()
    assert len(mail.outbox) == 1


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_at_once_one_sends(farm):
    sheet = WeeklySheet.objects.get(user=wants(farm).user)
    assert (
        comes_second(lambda: weekly.claim(sheet=sheet, monday=MONDAY), lambda: weekly.claim(sheet=sheet, monday=MONDAY))
        is None
    )
    weekly.let_go(SentSheet.objects.get())
    assert (
        comes_second(lambda: weekly.claim(sheet=sheet, monday=MONDAY), lambda: weekly.claim(sheet=sheet, monday=MONDAY))
        is None
    )


def test_it_is_ticked_on_ones_own_page_for_each_organisation(farm, settings):
    person = MembershipFactory(organisation=farm, user__email="")
    other, stranger = MembershipFactory(user=person.user), OrganisationFactory()
    browser = Client()
    browser.force_login(person.user)
    address = reverse("access:weekly")
    assert "has no e-mail address yet" in text_of(browser.get(address))
    assert browser.post(address, {"organisations": [farm.pk, other.organisation_id]}).status_code == 302
    assert weekly.wanted_by(user=person.user) == {farm.pk, other.organisation_id}
    assert "Choose among the organisations that you belong to." in text_of(
        browser.post(address, {"organisations": [stranger.pk]})
    )
    assert weekly.wanted_by(user=person.user) == {farm.pk, other.organisation_id}
    assert "Invented Acres" in text_of(browser.get(reverse("access:account")))
    browser.post(address, {"organisations": [farm.pk]})
    assert weekly.wanted_by(user=person.user) == {farm.pk}
    settings.EMAIL_HOST = ""
    assert "This server sends no e-mail" in text_of(browser.get(address))


def test_the_link_in_it_ends_it_and_opening_it_alone_does_not(farm):
    wants(farm)
    send()
    (message,) = mail.outbox
    (link,) = set(re.findall(rf"{SITE}(/weekly/\S+/)", message.body))
    assert message.extra_headers["List-Unsubscribe"] == f"<{SITE}{link}>"
    browser = Client()
    assert "Send it no more" in text_of(browser.get(link))
    assert WeeklySheet.objects.exists()
    assert browser.get(link.replace("weekly/", "weekly/9")).status_code == 200
    browser.post(link.replace("weekly/", "weekly/9"))
    assert WeeklySheet.objects.exists()
    for _ in range(2):
        assert "does not come by e-mail any more" in text_of(browser.post(link))
        assert not WeeklySheet.objects.exists()


def test_a_command_without_an_address_of_the_site_says_so(farm, settings):
    wants(farm)
    for site in ("", "growers.example.org", "ftp://growers.example.org"):
        with pytest.raises(CommandError, match="Say where the site answers"):
            send(site)
    settings.PUBLIC_HOSTS = ["farm.example.org"]
    send("")
    assert "https://farm.example.org/weekly/" in mail.outbox[0].body
    assert not mail.outbox[0].body.count("growers.example.org")


def test_a_site_below_another_page_keeps_its_place(farm):
    wants(farm)
    send("https://example.org/growers/")
    assert "https://example.org/growers/of/acres/crew/week/2027-04-05/" in mail.outbox[0].body
    assert "https://example.org/growers/weekly/" in mail.outbox[0].body
