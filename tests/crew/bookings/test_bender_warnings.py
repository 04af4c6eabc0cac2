"""A bender whose service is overdue, or that drifts, warns everybody booked: on pages, and once by e-mail."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.core.management import CommandError, call_command
from django.urls import reverse

from farmbuild.crew.bookings.bender_warnings import own_findings, shared_wear, warned_bookings
from farmbuild.crew.bookings.services import cancel
from farmbuild.crew.models import SentWarning
from farmbuild.crew.standing.next_steps import next_steps
from farmbuild.hoops.batches.measured import services
from farmbuild.orgs.clock import today_of
from tests.factories import BenderBookingFactory, BenderFactory, MemberFactory, MembershipFactory, MemberSignInFactory

pytestmark = pytest.mark.django_db
SITE = "https://growers.example.org"


@pytest.fixture
def overdue(settings):
    """Two members are booked on a bender that made more pulls than between services, one on another; own work too."""
    settings.EMAIL_HOST = "mail.example.org"

    class Overdue:
        manager = MembershipFactory()
        organisation = manager.organisation
        today = today_of(organisation=organisation)
        bender = BenderFactory(organisation=organisation, name="Wide bender", service_pulls=100, earlier_pulls=130)
        sound = BenderFactory(organisation=organisation, name="Sound bender")
        ada = MemberFactory(organisation=organisation, name="Ada's")
        ben = MemberFactory(organisation=organisation, name="Ben's")
        cy = MemberFactory(organisation=organisation, name="Cy's")
        first, last = today + timedelta(days=3), today + timedelta(days=4)
        of_ada = BenderBookingFactory(bender=bender, member=ada, first=first, last=last)
        of_ben = BenderBookingFactory(bender=bender, member=ben, first=last + timedelta(days=2))
        of_cy = BenderBookingFactory(bender=sound, member=cy, first=first)
        own_work = BenderBookingFactory(bender=bender, member=None, first=last + timedelta(days=20))
        over = BenderBookingFactory(bender=bender, member=cy, first=today - timedelta(days=40), state="back")

        @property
        def who(self):
            return {"organisation": self.organisation, "user": self.manager.user}

        def service(self):
            data = {"day": self.today, "done": "Greased", "who": "Dee"}
            return services.record_service(**self.who, bender=self.bender, data=data)

    found = Overdue()
    found.sign_ins = {
        member.name: MemberSignInFactory(member=member, user__email=f"{member.slug}@example.org")
        for member in (found.ada, found.ben, found.cy)
    }
    return found


def send(site=SITE) -> str:
    out = StringIO()
    call_command("send_bender_warnings", site=site, stdout=out)
    return out.getvalue()


def test_everybody_booked_and_nobody_else_is_warned(overdue):
    assert {row.pk for row, _ in warned_bookings(organisation=overdue.organisation)} == {
        overdue.of_ada.pk,
        overdue.of_ben.pk,
        overdue.own_work.pk,
    }
    [finding] = own_findings(member=overdue.ada)
    assert "130 pulls since its first use here" in finding.words
    assert own_findings(member=overdue.cy) == []
    [row] = shared_wear(organisation=overdue.organisation, benders=[overdue.bender, overdue.sound])
    assert "Ada's" in row.words
    assert "Ben's" in row.words
    [step] = [step for step in next_steps(organisation=overdue.organisation) if "Wide bender" in step.says]
    assert step.url == reverse("hoops:bender-wear", args=[overdue.bender.slug])
    overdue.service()
    assert list(warned_bookings(organisation=overdue.organisation)) == []
    assert shared_wear(organisation=overdue.organisation, benders=[overdue.bender]) == []
    assert not any("Wide bender" in step.says for step in next_steps(organisation=overdue.organisation))


def test_once_a_booking_and_finding(overdue):
    MemberSignInFactory(member=overdue.ada, user__email="")
    assert send() == "2 warnings sent.\n"
    assert sorted(message.to[0] for message in mail.outbox) == sorted(
        overdue.sign_ins[name].user.email for name in ("Ada's", "Ben's")
    )
    to_ada = next(message for message in mail.outbox if message.to == [overdue.sign_ins["Ada's"].user.email])
    assert "Service overdue." in to_ada.body
    assert "Ben" not in to_ada.body
    assert send() == "0 warnings sent.\n"
    # What is found after the next service is another finding.
    row = overdue.service()
    assert send() == "0 warnings sent.\n"
    services.take_back_service(**overdue.who, row=row, reason="It was the other bender.")
    assert send() == "0 warnings sent.\n"
    overdue.service()
    overdue.of_ben.state, overdue.of_ben.pulls = "back", 101
    overdue.of_ben.back_at = overdue.of_ben.out_at = row.at
    overdue.of_ben.save()
    assert send() == "1 warning sent.\n"
    assert SentWarning.objects.filter(sent_at=None).count() == 0


def test_a_booking_that_is_cancelled_and_a_shut_sign_in_get_none(overdue):
    cancel(**overdue.who, booking=overdue.of_ada)
    sign_in = overdue.sign_ins["Ben's"]
    sign_in.shut_at = sign_in.made_at
    sign_in.save()
    assert send() == "0 warnings sent.\n"
    assert mail.outbox == []


def test_what_failed_is_tried_again(overdue, monkeypatch):
    with monkeypatch.context() as patch:

        def refuse(self, messages):
            raise OSError("The mail server is away.")

        patch.setattr(EmailBackend, "send_messages", refuse)
        with pytest.raises(CommandError, match="2 warnings not sent"):
            send()
    assert SentWarning.objects.filter(sent_at=None).count() == 2
    assert send() == "2 warnings sent.\n"


def test_nothing_is_sent_where_no_e_mail_is_set_up(overdue, settings):
    settings.EMAIL_HOST = ""
    assert send() == "Nothing is sent: FARMBUILD_EMAIL is not set.\n"
    assert not SentWarning.objects.exists()


def test_the_manager_sees_it_on_booking_and_list(overdue, client):
    client.force_login(overdue.manager.user)
    page = client.get(reverse("crew:booking", args=[overdue.of_ada.pk]), follow=True).content.decode()
    assert "Service overdue." in page
    assert "none accepted on it yet" in page
    page = client.get(reverse("crew:shared"), follow=True).content.decode()
    assert "Wide bender: service overdue." in page
    assert (
        "Service overdue."
        not in client.get(reverse("crew:booking", args=[overdue.of_cy.pk]), follow=True).content.decode()
    )
