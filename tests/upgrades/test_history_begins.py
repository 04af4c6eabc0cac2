"""In a database of before changes were kept nothing is told of what was; it says so, and tells from then on."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from farmbuild.history.models import Entry
from farmbuild.history.presenters import changes_of
from farmbuild.history.recording import recorded
from farmbuild.orgs.models import Membership
from farmbuild.sites.models import House
from tests.size import LONG


@pytest.mark.parametrize("kept", ["4414d06", "4938ab67"] if LONG else ["4938ab67"], indirect=True)
def test_the_history_begins_empty_and_tells_the_next_change(kept):
    with transaction.atomic():
        begins_empty()
        # Others read the same database after this, with nobody signed in since.
        transaction.set_rollback(True)


def begins_empty() -> None:
    assert not Entry.objects.exists()
    member = Membership.objects.filter(user__is_active=True).order_by("pk").first()
    house = House.objects.of(member.organisation).order_by("pk").first()
    client = Client()
    client.force_login(member.user)
    assert (
        "Nobody has changed anything since changes are kept." in client.get(reverse("history:changes")).content.decode()
    )
    assert "Nobody has changed it since changes are kept." in client.get(house.get_absolute_url()).content.decode()
    with recorded(user=member.user, organisation=member.organisation):
        House.objects.filter(pk=house.pk).update(length=house.length + Decimal("304.8"))
    entry = Entry.objects.get()
    assert (entry.user, entry.name) == (member.user, house.name)
    (change,) = changes_of(entry, member.organisation, costs=True)
    assert change.before != change.after
