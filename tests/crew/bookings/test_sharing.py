"""Days had as sharing counts them, the rules of a cooperative, and what the pages say of both."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse

from farmbuild.crew.bookings import proposals
from farmbuild.crew.bookings.having import Had, had_by_member, had_of, season_of, sharing_rules_of
from farmbuild.crew.bookings.proposals import proposal_of
from farmbuild.crew.bookings.sharing_rules import effects_of, save_sharing_rules
from farmbuild.crew.models import BenderBooking, BenderRequest, Member, SharingRules
from farmbuild.orgs.clock import today_of
from tests.factories import (
    BenderBookingFactory,
    BenderFactory,
    BenderRequestFactory,
    MemberFactory,
    MemberSignInFactory,
)

pytestmark = pytest.mark.django_db
NOW = datetime(2027, 6, 10, 20, tzinfo=UTC)


def text_of(response) -> str:
    return " ".join(re.sub(r"<[^>]*>", "", response.content.decode()).split())


@pytest.fixture
def bender(organisation):
    return BenderFactory(organisation=organisation, name="West bender")


@pytest.fixture
def in_june(organisation, monkeypatch):
    """10 June in New York, 11 June in Auckland."""
    organisation.time_zone = "America/New_York"
    organisation.save()
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def booked(bender, member, first, last, state="booked", out=None, back=None):
    return BenderBookingFactory(
        bender=bender, member=member, first=first, last=last, state=state, out_at=out, back_at=back
    )


def at(month, day, hour=12):
    return datetime(2027, month, day, hour, tzinfo=UTC)


def test_days_are_counted_as_they_were(in_june, organisation, bender):
    """Out to back where it is known, late days too; booked days else, fetched or not; cancelled none; own work is
    nobody's. What reaches over the start of the season is counted on both sides of it."""
    alder, brook, copse, never = (MemberFactory(organisation=organisation, name=name) for name in "ABCD")
    booked(bender, alder, date(2027, 5, 1), date(2027, 5, 10), "back", at(5, 3), at(5, 5))
    booked(bender, alder, date(2027, 5, 11), date(2027, 5, 12), "back", at(5, 11), at(5, 20))
    booked(bender, alder, date(2027, 5, 21), date(2027, 5, 22))
    booked(bender, alder, date(2027, 5, 23), date(2027, 5, 30), "cancelled")
    booked(bender, None, date(2027, 5, 23), date(2027, 5, 24))
    booked(bender, brook, date(2027, 6, 1), date(2027, 6, 4), "out", at(6, 2), None)
    booked(bender, brook, date(2027, 7, 1), date(2027, 7, 3))
    booked(bender, copse, date(2026, 12, 30), date(2027, 1, 2))
    booked(bender, copse, date(2025, 12, 30), date(2026, 1, 1))
    found = had_by_member(organisation=organisation, rules=SharingRules())
    assert found == {
        alder.pk: Had(3 + 10 + 2, 0, 0, date(2027, 5, 22)),
        brook.pk: Had(9 + 3, 0, 1 + 3, date(2027, 7, 3)),
        copse.pk: Had(2, 2 + 1, 0, date(2027, 1, 2)),
    }
    assert had_of(member=brook) == found[brook.pk]
    assert had_of(member=never) == Had()


def test_a_day_is_that_of_the_clock_on_the_wall(in_june, organisation, bender):
    """Two in the morning in Greenwich is the evening before in New York."""
    member = MemberFactory(organisation=organisation)
    booked(bender, member, date(2027, 5, 1), date(2027, 5, 9), "back", at(5, 2, 2), at(5, 3, 2))
    assert had_of(member=member).days == 2


@pytest.mark.parametrize(
    ("month", "day", "today", "start", "before"),
    [
        (1, 1, date(2027, 6, 10), date(2027, 1, 1), date(2026, 1, 1)),
        (6, 10, date(2027, 6, 10), date(2027, 6, 10), date(2026, 6, 10)),
        (6, 11, date(2027, 6, 10), date(2026, 6, 11), date(2025, 6, 11)),
        (2, 28, date(2028, 2, 29), date(2028, 2, 28), date(2027, 2, 28)),
    ],
)
def test_a_season_begins_once_a_year(month, day, today, start, before):
    season = season_of(SharingRules(season_month=month, season_day=day), today)
    assert (season.start, season.before) == (start, before)


def test_rules_are_kept_told_and_refused_at_their_field(organisation, user):
    who = {"organisation": organisation, "user": user}
    assert sharing_rules_of(organisation=organisation).last_season_percent == 50
    assert not SharingRules.objects.exists()
    save_sharing_rules(**who, data={"season_month": 10, "season_day": 31, "most_days_open": 14})
    row = SharingRules.objects.get()
    assert (row.season_month, row.season_day, row.most_days_open, row.together) == (10, 31, 14, True)
    for data, field, words in (
        ({"season_month": 2, "season_day": 29}, "season_day", "Every February has 28 days. Type a day from 1 to 28."),
        ({"season_day": 32}, "season_day", ""),
        ({"last_season_percent": 101}, "last_season_percent", ""),
        ({"most_days_open": 0}, "most_days_open", ""),
        ({"days_a_week_sooner": 61}, "days_a_week_sooner", ""),
        ({"season_month": 13}, "season_month", ""),
    ):
        with pytest.raises(ValidationError) as refused:
            save_sharing_rules(**who, data=data)
        assert field in refused.value.message_dict, data
        assert words in " ".join(refused.value.message_dict[field])
    row.refresh_from_db()
    assert (row.season_month, row.season_day) == (10, 31)


def test_the_database_keeps_rules_and_shares_in_bounds(organisation, user):
    save_sharing_rules(organisation=organisation, user=user, data={})
    MemberFactory(organisation=organisation)
    for sql, name in (
        ("UPDATE crew_sharingrules SET season_month = 13", "sharing_month_is_one"),
        ("UPDATE crew_sharingrules SET season_day = 0", "sharing_day_is_one"),
        ("UPDATE crew_sharingrules SET last_season_percent = 101", "sharing_last_season_in_part"),
        ("UPDATE crew_sharingrules SET most_days_open = 0", "sharing_a_day_or_more_open"),
        ("UPDATE crew_member SET share = 0", "member_has_a_share_or_more"),
    ):
        with pytest.raises(IntegrityError, match=name), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql)


def test_each_rule_says_what_it_does():
    today = date(2027, 6, 10)
    usual = effects_of(SharingRules(), today)
    changed = effects_of(
        SharingRules(season_month=3, last_season_percent=0, together=False, most_days_open=14, days_a_week_sooner=2),
        today,
    )
    assert len(usual) == len(changed) == 5
    assert not set(usual) & set(changed)
    assert "1 January 2027" in usual[0] and "1 March 2027" in changed[0]
    assert "50 in a hundred" in usual[1]
    assert "more than 14 days at a time" in changed[3]


def test_the_page_of_the_rules_changes_them_and_the_proposal_follows(signed_in, organisation, bender):
    """Alder had 10 days last season, Brook 4 in this one; one bender for one of them."""
    today = today_of(organisation=organisation)
    alder, brook = (MemberFactory(organisation=organisation, name=name) for name in ("Alder Patch", "Brook Acre"))
    season = season_of(SharingRules(), today)
    booked(bender, alder, season.before, season.before + timedelta(days=9))
    booked(bender, brook, season.start, season.start + timedelta(days=3))
    for member in (alder, brook):
        BenderRequestFactory(member=member, days=2, earliest=today + timedelta(9), need_by=today + timedelta(10))
    page = signed_in.get(reverse("crew:proposal"))
    words = text_of(page)
    assert "Brook Acre goes before Alder Patch" in words
    assert "it had 4 days this season, for 1 share; Alder Patch had 0 and 10 the season before, for 1 share" in words
    assert "proven to be the best by these rules" in words
    assert [row.member for row in page.context["proposal"].members] == [brook, alder]
    assert "Brook Acre: 4 days a share, with this 6 days a share" in page.content.decode()
    address = reverse("crew:sharing-rules")
    shown = signed_in.get(address)
    assert "Of days between" in text_of(shown) and "50 in a hundred count" in text_of(shown)
    sent = {name: shown.context["form"][name].value() for name in shown.context["form"].fields}
    sent = {name: "" if value is None else value for name, value in sent.items()} | {"last_season_percent": 20}
    assert "Type a whole number from 0 to 100." in text_of(
        signed_in.post(address, sent | {"last_season_percent": "much"})
    )
    assert signed_in.post(address, sent)["Location"] == address
    assert "Alder Patch goes before Brook Acre" in text_of(signed_in.get(reverse("crew:proposal")))
    signed_in.post(address, sent | {"last_season_percent": 30, "together": "False"})
    told = text_of(signed_in.get(address))
    assert "Last season counts, percent: 20 to 30" in told
    assert "Each wish counts by itself" in told


def test_a_member_reads_what_it_had_and_nothing_of_others(organisation, bender):
    today = today_of(organisation=organisation)
    mine = MemberFactory(organisation=organisation, name="Alder Patch", share=3)
    other = MemberFactory(organisation=organisation, name="Brook Acre", share=7)
    booked(bender, mine, today, today + timedelta(days=4))
    booked(bender, other, today + timedelta(days=5), today + timedelta(days=50))
    visitor = Client()
    visitor.force_login(MemberSignInFactory(member=mine).user)
    words = text_of(visitor.get(reverse("crew:own", args=[organisation.slug])))
    assert "5 days this season, with what is booked to come, for 3 shares" in words
    assert "Brook" not in words and "46 days" not in words and "7 shares" not in words
    assert visitor.get(reverse("crew:sharing-rules")).status_code in (302, 403, 404)


def test_many_wishes_of_one_keep_nobody_out(organisation, bender, monkeypatch):
    """Where a proposal takes no more, the first wish of each member comes before the second of any."""
    monkeypatch.setattr(proposals, "MAX_REQUESTS", 2)
    today = today_of(organisation=organisation)
    alder, brook = (MemberFactory(organisation=organisation, name=name) for name in ("Alder Patch", "Brook Acre"))
    for n in range(3):
        BenderRequestFactory(member=alder, days=1, earliest=today, need_by=today + timedelta(days=n))
    BenderRequestFactory(member=brook, days=1, earliest=today, need_by=today + timedelta(days=30))
    found = proposal_of(organisation=organisation)
    assert {row.request.member for row in found.given} == {alder, brook}
    assert (found.asked, found.left_over) == (2, 2)


def test_two_members_of_one_name_are_two(organisation, bender):
    """One is archived: its days are not those of the other."""
    today = today_of(organisation=organisation)
    gone = MemberFactory(organisation=organisation, name="Alder Patch", slug="gone", archived_at=NOW)
    here = MemberFactory(organisation=organisation, name="Alder Patch", slug="here")
    booked(bender, gone, today - timedelta(days=9), today - timedelta(days=1))
    BenderRequestFactory(member=here, days=1, earliest=today, need_by=today)
    (row,) = proposal_of(organisation=organisation).members
    assert (row.member, row.had) == (here, Had())


def test_a_proposal_asks_no_more_of_the_database_for_many(organisation, bender, django_assert_max_num_queries):
    today = today_of(organisation=organisation)
    for n in range(12):
        member = MemberFactory(organisation=organisation, name=f"Farm {n}")
        BenderRequestFactory(member=member, days=1, earliest=today, need_by=today + timedelta(days=20))
    with django_assert_max_num_queries(7):
        found = proposal_of(organisation=organisation)
    assert len(found.given) == 12
    assert BenderRequest.objects.count() == 12
    assert not BenderBooking.objects.exists()
    assert Member.objects.count() == 12
