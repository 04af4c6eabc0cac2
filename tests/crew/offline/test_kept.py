"""Which pages a phone keeps without being asked, for whom, and what comes of a count that waited on it."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from urllib.parse import quote
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from farmbuild.crew.models import Kind, Task
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Membership
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.stock.counts import services
from farmbuild.stock.counts.views.places import BOXES
from farmbuild.stock.models import CountEntry
from tests.factories import (
    FOOT,
    CrewFactory,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    MembershipFactory,
    PersonFactory,
    PlaceFactory,
)
from tests.hoops.batches.making import TARGET, make_shop
from tests.reading import text_of
from tests.where import ROOT

pytestmark = pytest.mark.django_db
JSON = {"accept": "application/json"}


@pytest.fixture
def today(organisation):
    return today_of(organisation=organisation)


@pytest.fixture
def person(organisation, user):
    return PersonFactory(
        organisation=organisation, user=user, name="Wren", slug="wren", crew=CrewFactory(organisation=organisation)
    )


def a_plan(house, number):
    return Plan.objects.create(
        organisation=house.site.organisation,
        number=number,
        name="Spring",
        as_of=date(2027, 3, 1),
        delivery_site=house.site,
        state="ready",
        accepted_at=timezone.now(),
        inputs={},
        result={},
        inputs_digest="x",
        result_digest="y",
    )


def task_on(person, day, kind, house):
    at = datetime.combine(day, time(9), zone_of(organisation=person.organisation)).astimezone(UTC)
    return Task.objects.create(
        organisation=person.organisation,
        house=house,
        kind=kind,
        count=10,
        people=1,
        minutes=60,
        crew=person.crew,
        starts_at=at,
        ends_at=at + timedelta(hours=1),
    )


def kept(client):
    return [page["url"] for page in client.get(reverse("crew:kept"), headers=JSON).json()["pages"]]


def days(person, *which):
    return [f"/crew/day/?person={person.slug}&day={day.isoformat()}" for day in which]


def test_the_lists_of_two_days_with_their_bending_sheets_and_cut_lists(signed_in, organisation, user, person, today):
    shop = make_shop(organisation, user)
    bends, saws, later = (
        HouseFactory(site__organisation=organisation, recipe=shop.batch.recipe, post_span=FOOT * 12) for _ in range(3)
    )
    from farmbuild.hoops.batches.services import create_batch

    batch = create_batch(
        **shop.who,
        recipe=shop.batch.recipe,
        bender=shop.batch.bender,
        quantity=4,
        shares={bends: 4},
        data={"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12},
    )
    plan = a_plan(saws, 7)
    for house in (saws, later):
        PlanHouse.objects.create(plan=plan, house=house, accepted=True)
    tomorrow = today + timedelta(days=1)
    task_on(person, today, Kind.BEND, bends)
    task_on(person, tomorrow, Kind.SAW, saws)
    task_on(person, today + timedelta(days=2), Kind.SAW, later)
    assert kept(signed_in) == [
        *days(person, today, tomorrow),
        f"/hoops/batches/{batch.number}/sheet/",
        f"/plans/7/cutting/?house={quote(saws.slug)}",
    ]
    # As a page too, for whoever wants to know; each of its links answers.
    page = signed_in.get(reverse("crew:kept"))
    assert "these open from this phone" in text_of(page)
    for url in (found := kept(signed_in)):
        assert f'href="{escape(url)}"' in page.content.decode() and len(found) == 4


def test_whoever_is_not_among_the_people_keeps_the_sheets_of_counts_alone(signed_in, organisation, user, today):
    assert kept(signed_in) == []
    rail = MaterialFactory(organisation=organisation)
    rack, shed = (PlaceFactory(organisation=organisation, name=name) for name in ("Rack", "Shed"))
    for number in range(BOXES + 1):
        LotFactory(organisation=organisation, material=rail, place=rack, reference=f"R-{number}")
    count = services.start_count(organisation=organisation, user=user, places=[rack, shed])
    sheets = f"/stock/counts/{count.number}/places"
    assert kept(signed_in) == [
        f"/stock/counts/{count.number}/",
        f"{sheets}/{rack.pk}/",
        f"{sheets}/{rack.pk}/?page=1",
        f"{sheets}/{rack.pk}/?page=2",
        f"{sheets}/{shed.pk}/",
    ]
    for url in kept(signed_in):
        assert signed_in.get(url).status_code == 200


def test_a_crew_keeps_what_it_may_open(client, organisation, person, today):
    member = MembershipFactory(organisation=organisation, role=Membership.Role.CREW)
    person.user = member.user
    person.save()
    PlaceFactory(organisation=organisation)
    house = HouseFactory(site__organisation=organisation)
    PlanHouse.objects.create(plan=a_plan(house, 1), house=house, accepted=True)
    task_on(person, today, Kind.SAW, house)
    client.force_login(member.user)
    found = kept(client)
    assert found == [*days(person, today, today + timedelta(days=1)), f"/plans/1/cutting/?house={house.slug}"]


def test_many_tasks_ask_as_often_as_few(signed_in, organisation, person, today):
    def asked():
        with CaptureQueriesContext(
            connection,
        ) as queries:
            kept(signed_in)
        return len(queries)

    plan = a_plan(HouseFactory(site__organisation=organisation), 1)

    def more(some):
        for _ in range(some):
            house = HouseFactory(site__organisation=organisation)
            PlanHouse.objects.create(plan=plan, house=house, accepted=True)
            task_on(person, today, Kind.SAW, house)
            task_on(person, today, Kind.BEND, house)

    more(1)
    few = asked()
    more(9)
    assert asked() == few <= 20
    assert len(kept(signed_in)) == 12


def test_a_page_that_is_only_kept_takes_no_word_from_the_reader(signed_in, organisation, person):
    signed_in.post(reverse("crew:person-new"), {"name": "Ann Hooper"})
    words = "Ann Hooper is"
    assert words not in signed_in.get(reverse("crew:day"), headers={"x-kept": "1"}).content.decode()
    found = signed_in.get(reverse("crew:day")).content.decode()
    assert 'class="message success"' in found


class TestACountThatWaited:
    @pytest.fixture
    def lot(self, organisation):
        return LotFactory(
            organisation=organisation, place=PlaceFactory(organisation=organisation, name="Rack"), on_hand=9
        )

    @pytest.fixture
    def count(self, organisation, user, lot):
        count = services.start_count(organisation=organisation, user=user, places=[lot.place])
        # Begun an hour ago, so that something can have waited.
        type(count).objects.filter(pk=count.pk).update(started_at=timezone.now() - timedelta(hours=1))
        return count

    def sent(self, client, count, lot, pieces, at, **more):
        given = {f"lot_{lot.pk}": pieces, "pressed_at": at.isoformat(), "once": uuid4().hex} | more
        url = reverse("stock:count-place", args=[count.number, lot.place_id])
        return client.post(url, given, headers=JSON), given

    def test_it_is_as_of_its_press_and_once_however_often_it_comes(self, signed_in, count, lot):
        at = timezone.now() - timedelta(minutes=30)
        answer, given = self.sent(signed_in, count, lot, "7", at)
        assert answer.status_code == 201
        assert answer.json() == {"kept": True, "to": reverse("stock:count", args=[count.number])}
        again = signed_in.post(reverse("stock:count-place", args=[count.number, lot.place_id]), given, headers=JSON)
        assert again.status_code == 200 and again.json() == answer.json()
        entry = CountEntry.objects.get()
        # The pieces came in after that; nothing was there when it was counted.
        assert (entry.counted, entry.expected) == (7, 0)
        assert abs(entry.counted_at - at) < timedelta(seconds=1)

    def test_a_phone_that_is_ahead_counts_now(self, signed_in, count, lot):
        answer, _ = self.sent(signed_in, count, lot, "7", timezone.now() + timedelta(days=1))
        assert answer.status_code == 201
        assert CountEntry.objects.get().counted_at <= timezone.now()

    @pytest.mark.parametrize(
        ("pieces", "back", "words"),
        [("a few", 1, "whole number"), ("7", 60 * 24, "when Count 1 was started")],
    )
    def test_what_cannot_be_is_said_in_words_and_nothing_is_entered(self, signed_in, count, lot, pieces, back, words):
        answer, _ = self.sent(signed_in, count, lot, pieces, timezone.now() - timedelta(minutes=back))
        assert answer.status_code == 422
        assert words in answer.json()["problem"] and not answer.json()["kept"]
        assert not CountEntry.objects.exists()

    def test_a_count_that_ended_meanwhile_says_so(self, signed_in, organisation, user, count, lot):
        services.cancel_count(organisation=organisation, user=user, count=count)
        answer, _ = self.sent(signed_in, count, lot, "7", timezone.now())
        assert answer.status_code == 422 and "has ended" in answer.json()["problem"]

    def test_it_is_sent_in_the_name_of_who_counted_or_not_at_all(self, client, organisation, user, count, lot):
        other = MembershipFactory(organisation=organisation, role=Membership.Role.YARD).user
        client.force_login(other)
        given = {f"lot_{lot.pk}": "7", "pressed_at": timezone.now().isoformat(), "once": uuid4().hex}
        url = reverse("stock:count-place", args=[count.number, lot.place_id])
        refused = client.post(url, given, headers=JSON | {"x-pressed-by": str(user.pk)})
        assert refused.status_code == 403 and not CountEntry.objects.exists()
        sent = client.post(url, given, headers=JSON | {"x-pressed-by": str(other.pk)})
        assert sent.status_code == 201 and CountEntry.objects.get().by == other


def test_every_script_that_another_asks_for_is_named_by_the_pages_that_are_kept(
    signed_in, organisation, user, person, today
):
    lot = LotFactory(organisation=organisation, place=PlaceFactory(organisation=organisation))
    count = services.start_count(organisation=organisation, user=user, places=[lot.place])
    task_on(person, today, Kind.POSTS, HouseFactory(site__organisation=organisation))
    scripts = ROOT / "farmbuild/common/static/farmbuild"
    for url in (*days(person, today), f"/stock/counts/{count.number}/places/{lot.place_id}/", reverse("crew:kept")):
        named = set(re.findall(r'(?:src|href)="/static/farmbuild/([^"]+)"', signed_in.get(url).content.decode()))
        asked = {
            found
            for name in named
            if name.endswith(".js")
            for found in re.findall(r'^import .* from "\./([^"]+)";$', (scripts / name).read_text(), re.MULTILINE)
        }
        assert {"day-presses.js", "sending.js", "waiting.js"} <= asked <= named


def test_a_phone_keeps_nothing_for_whoever_neither_records_nor_counts(client, organisation):
    for role, nothing in ((Membership.Role.LOOKS, True), (Membership.Role.YARD, False)):
        client.force_login(MembershipFactory(organisation=organisation, role=role).user)
        page = client.get("/houses/").content.decode()
        assert ("data-keeps-nothing" in page, 'data-person="' not in page) == (nothing, nothing)
