"""Of two who change one record at once each has an entry of their own, with what really was before."""

from __future__ import annotations

import pytest

from farmbuild.history.models import Entry
from farmbuild.history.presenters import changes_of
from farmbuild.history.recording import recorded
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import Site
from tests.factories import MembershipFactory, SiteFactory
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def test_the_second_is_told_from_what_the_first_left(organisation, user):
    site, other = (
        SiteFactory(organisation=organisation, note="First"),
        MembershipFactory(organisation=organisation).user,
    )

    def write(who, note):
        def act():
            with recorded(user=who, organisation=organisation):
                Site.objects.filter(pk=site.pk).update(note=note)

        return act

    comes_second(write(user, "Second"), write(other, "Third"))
    told = [
        (entry.user, change.before, change.after)
        for entry in Entry.objects.order_by("pk")
        for change in changes_of(entry, organisation, costs=True)
    ]
    assert told == [(user, "First", "Second"), (other, "Second", "Third")]


def test_a_saved_row_too(organisation, user):
    other = MembershipFactory(organisation=organisation).user

    def save(who, name):
        def act():
            with recorded(user=who, organisation=organisation):
                row = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
                row.name = name
                row.save()

        return act

    before = organisation.name
    comes_second(save(user, "Invented Meadow"), save(other, "Invented Hill"))
    told = [
        (entry.user, change.before, change.after)
        for entry in Entry.objects.order_by("pk")
        for change in changes_of(entry, organisation, costs=True)
    ]
    assert told == [(user, before, "Invented Meadow"), (other, "Invented Meadow", "Invented Hill")]


def test_who_is_refused_after_waiting_leaves_none(organisation, user):
    """Archived already by the first: the second archives nothing, and is told of nothing."""
    from django.utils import timezone

    site, other = SiteFactory(organisation=organisation), MembershipFactory(organisation=organisation).user

    def archive(who):
        def act():
            with recorded(user=who, organisation=organisation):
                Site.objects.filter(pk=site.pk, archived_at=None).update(archived_at=timezone.now())

        return act

    comes_second(archive(user), archive(other))
    assert [*Entry.objects.values_list("user", "deed")] == [(user.pk, "archived")]
