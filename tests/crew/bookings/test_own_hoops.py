"""A member writes down a hoop that it measured; the cooperative sees whose it is, other members see the drift alone."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from farmbuild.hoops.batches.measured.models import MeasuredHoop
from farmbuild.hoops.batches.measured.wear import wear_of
from farmbuild.orgs.clock import today_of
from tests.crew.own import own
from tests.factories import (
    BenderBookingFactory,
    BenderFactory,
    MaterialFactory,
    MemberFactory,
    MembershipFactory,
    MemberSignInFactory,
)

pytestmark = pytest.mark.django_db
SIZES = {"free_span": "12'", "rise": "6' 6\"", "pipe": "19' 10\""}


@pytest.fixture
def lent(client):
    """Ada's has a bender out since three days ago, and Ben's is booked on it."""

    class Lent:
        manager = MembershipFactory()
        organisation = manager.organisation
        today = today_of(organisation=organisation)
        bender = BenderFactory(organisation=organisation, name="Wide bender")
        tube = MaterialFactory(organisation=organisation, name="Plain rail")
        ada = MemberFactory(organisation=organisation, name="Ada's")
        ben = MemberFactory(organisation=organisation, name="Ben's")
        sign_in = MemberSignInFactory(member=ada)
        other = MemberSignInFactory(member=ben)
        booking = BenderBookingFactory(
            bender=bender,
            member=ada,
            first=today - timedelta(days=3),
            last=today,
            state="out",
            out_at=timezone.now() - timedelta(days=3),
        )
        next = BenderBookingFactory(bender=bender, member=ben, first=today + timedelta(days=2))

        def data(self, **more):
            return SIZES | {"day": self.today.isoformat(), "tube": self.tube.pk} | more

    client.force_login(Lent.sign_in.user)
    return Lent()


def test_it_is_written_down_and_taken_back(client, lent):
    address = own("hoop", lent.booking.pk)
    assert client.get(address).status_code == 200
    answer = client.post(address, lent.data(pipe="12'"))
    assert "Measure all three again." in answer.content.decode()
    answer = client.post(address, lent.data(day=(lent.today - timedelta(days=9)).isoformat()))
    assert "The bender left on" in answer.content.decode()
    assert not MeasuredHoop.objects.exists()
    assert client.post(address, lent.data()).status_code == 302
    row = MeasuredHoop.objects.get()
    assert (row.member, row.booking, row.by) == (lent.ada, lent.booking, lent.sign_in.user)
    again = client.post(address, lent.data())
    assert "This hoop is written down already" in again.content.decode()
    page = client.get(own("booking", lent.booking.pk)).content.decode()
    assert "none accepted on it yet" in page
    back = own("hoop-back", row.pk)
    assert back in page
    assert "Say why" in client.post(back, {"reason": " "}).content.decode()
    assert client.post(back, {"reason": "Misread."}).status_code == 302
    row.refresh_from_db()
    assert (row.removed_reason, row.removed_by) == ("Misread.", lent.sign_in.user)
    assert wear_of(bender=lent.bender).hoops == ()


def test_another_member_reaches_none_of_it_and_sees_no_name(client, lent):
    client.post(own("hoop", lent.booking.pk), lent.data())
    row = MeasuredHoop.objects.get()
    client.force_login(lent.other.user)
    for address in (own("hoop", lent.booking.pk), own("hoop-back", row.pk), own("hoop", lent.next.pk)):
        assert client.get(address).status_code == 404
        assert client.post(address, lent.data(reason="x")).status_code == 404
    page = client.get(own("booking", lent.next.pk)).content.decode()
    assert "Ada" not in page
    row.refresh_from_db()
    assert row.removed_at is None


def test_the_cooperative_sees_whose_it_is(client, lent):
    client.post(own("hoop", lent.booking.pk), lent.data())
    client.force_login(lent.manager.user)
    page = client.get(reverse("hoops:bender-wear", args=[lent.bender.slug]), follow=True).content.decode()
    assert "Ada&#x27;s" in page
    assert client.get(reverse("crew:booking", args=[lent.booking.pk]), follow=True).status_code == 200
    address = client.get(reverse("crew:booking-hoop", args=[lent.booking.pk]), follow=True).request["PATH_INFO"]
    assert client.post(address, lent.data(rise="6' 5\"")).status_code == 302
    assert MeasuredHoop.objects.filter(booking=lent.booking).count() == 2
    text = client.get(reverse("hoops:bender-history", args=[lent.bender.slug]), follow=True).content.decode("utf-8-sig")
    assert "Hoop of a member" in text
    assert "72.00" in text


def test_a_member_is_warned_on_its_pages_of_what_is_found(client, lent):
    lent.bender.service_pulls, lent.bender.earlier_pulls = 100, 200
    lent.bender.save()
    for address in (
        own(),
        own("days"),
        own("booking", lent.booking.pk),
        reverse("coop:seen", args=[lent.organisation.slug]),
    ):
        assert "Service overdue." in client.get(address).content.decode(), address
