"""Members' accounts: posted once, taken back by the opposite, never edited."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction

from farmbuild.coop.books.services import NewEntry, post_entries, take_entries_back
from farmbuild.coop.models import MemberEntry
from farmbuild.orgs.currency import why_fixed
from tests.factories import MemberFactory, MembershipFactory

pytestmark = pytest.mark.django_db
Kind = MemberEntry.Kind
DAY = date(2026, 5, 4)


def post(coop, *entries):
    with transaction.atomic():
        return post_entries(**coop.who, entries=entries)


def new(member, amount="12.50", source="", kind=Kind.OTHER):
    return NewEntry(member, DAY, kind, "stakes", Decimal(amount), source=source)


def refused(words):
    return pytest.raises(IntegrityError, match=words)


def test_what_was_posted_for_a_source_stands_once_and_again_once_it_is_taken_back(coop):
    [row] = post(coop, new(coop.alder, source="order 1", kind=Kind.ORDER))
    with pytest.raises(ValidationError, match="stands in the members' accounts already"):
        post(coop, new(coop.birch), new(coop.alder, source="order 1", kind=Kind.ORDER))
    assert coop.owes(coop.birch) == 0
    # One of several stands: none is posted.
    with pytest.raises(ValidationError, match="stands in the members' accounts already"):
        post(coop, *(new(one, source="order 1", kind=Kind.ORDER) for one in (coop.birch, coop.alder)))
    # Another member or another kind of the same source is another entry.
    post(coop, new(coop.birch, source="order 1", kind=Kind.ORDER), new(coop.alder, source="order 1", kind=Kind.STOCK))
    with transaction.atomic():
        take_entries_back(**coop.who, entries=[row], reason="typed twice")
    post(coop, new(coop.alder, "3", source="order 1", kind=Kind.ORDER))
    assert coop.owes(coop.alder) == Decimal("15.50")
    assert [entry.amount for entry in MemberEntry.objects.filter(member=coop.alder).net()] == [
        Decimal("12.50"),
        Decimal(3),
    ]


def test_nothing_is_no_entry(coop):
    assert post(coop, new(coop.alder, "0")) == []


def test_of_several_all_are_taken_back_or_none(coop):
    [one], [two] = post(coop, new(coop.alder)), post(coop, new(coop.birch))
    with transaction.atomic():
        take_entries_back(**coop.who, entries=[one], reason="typed twice")
    with pytest.raises(ValidationError), transaction.atomic():
        take_entries_back(**coop.who, entries=[one, two], reason="typed twice")
    assert coop.owes(coop.birch) == Decimal("12.50")


def test_an_entry_is_taken_back_once_and_with_a_reason(coop):
    [row] = post(coop, new(coop.alder))
    with pytest.raises(ValidationError, match="Say why"), transaction.atomic():
        take_entries_back(**coop.who, entries=[row], reason=" ")
    with transaction.atomic():
        [back] = take_entries_back(**coop.who, entries=[row], reason="another member's")
    assert (back.amount, back.day, back.reverses) == (Decimal("-12.50"), DAY, row)
    for entry in (row, back):
        with pytest.raises(ValidationError, match="taken back already"), transaction.atomic():
            take_entries_back(**coop.who, entries=[entry], reason="again")


def test_the_database_keeps_entries_as_they_are(coop):
    [row] = post(coop, new(coop.alder))
    rows = MemberEntry.objects.filter(pk=row.pk)
    stranger = MemberFactory()
    fields = {"organisation": coop.organisation, "day": DAY, "kind": Kind.OTHER, "what": "stakes"}
    with refused("member_entry_never_edited"), transaction.atomic():
        rows.update(amount=1)
    with refused("member_entry_never_deleted"), transaction.atomic():
        rows.delete()
    with refused("member_entry_of_one_organisation"), transaction.atomic():
        MemberEntry.objects.create(**fields, member=stranger, amount=1)
    with refused("member_entry_taken_back_by_its_opposite"), transaction.atomic():
        MemberEntry.objects.create(**fields, member=coop.alder, amount=Decimal(-12), reverses=row, reason="no")
    with refused("member_entry_of_some_money|CHECK"), transaction.atomic():
        MemberEntry.objects.create(**fields, member=coop.alder, amount=0)
    with refused("member_entry_taken_back_says_why|CHECK"), transaction.atomic():
        MemberEntry.objects.create(**fields, member=coop.alder, amount=1, reason="why")


def test_the_currency_stays_once_there_are_entries(coop):
    assert why_fixed(coop.organisation) == ""
    post(coop, new(coop.alder), new(coop.birch))
    assert "2 entries of members' accounts" in why_fixed(coop.organisation)


@pytest.mark.django_db(transaction=True)
def test_of_eight_who_post_one_source_at_once_one_does():
    membership = MembershipFactory()
    who = {"organisation": membership.organisation, "user": membership.user}
    member = MemberFactory(organisation=membership.organisation)

    def work(number):
        try:
            with transaction.atomic():
                post_entries(**who, entries=[new(member, source="order 1", kind=Kind.ORDER)])
            return 1
        except ValidationError:
            return 0
        finally:
            connection.close()

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(work, range(8))) == 1
    assert MemberEntry.objects.count() == 1
