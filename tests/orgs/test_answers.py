"""What pages keep stands as long as the rows that it was worked out of, and no longer."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.http import HttpResponse, QueryDict
from django.template import engines
from django.test import RequestFactory
from django.utils import timezone

from farmbuild.coop.models import MemberFarm
from farmbuild.crew.models import Crew
from farmbuild.orgs.acts import Act
from farmbuild.orgs.answers import content, kept
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.answers.pages import kept_page
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.plans.models import Plan
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot
from tests.factories import (
    CrewFactory,
    HouseFactory,
    LotFactory,
    MemberFactory,
    MembershipFactory,
    UserFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    return HouseFactory()


def page(organisation, acts=frozenset(Act)):
    request = RequestFactory().get("/")
    request.organisation, request.acts = Organisation.objects.get(pk=organisation.pk), acts
    return request


def answered(organisation, *by, name="houses", without=(), dear=False, **given):
    """What stands on the page, and whether it was worked out for it."""
    worked = []

    def work():
        worked.append(1)
        return sorted(House.objects.of(organisation).values_list("name", flat=True))

    with Answers(page(organisation, **given), dear=dear) as answers:
        found = answers.get(name, work, *by, without=without)
    return found, bool(worked)


def test_it_is_worked_out_once_and_again_when_a_row_changes_however_it_was_written(house):
    own = house.organisation
    assert answered(own) == ([house.name], True)
    assert answered(own) == ([house.name], False)
    # As another process, or somebody at the database, would.
    with connection.cursor() as cursor:
        cursor.execute("UPDATE sites_house SET name = 'Long house' WHERE id = %s", [house.pk])
    assert answered(own) == (["Long house"], True)
    HouseFactory(site=house.site, name="Another")
    assert answered(own) == (["Another", "Long house"], True)
    House.objects.filter(name="Another").delete()
    assert answered(own)[0] == ["Long house"]


def test_what_was_rolled_back_changes_nothing(house):
    own = house.organisation
    answered(own)
    with transaction.atomic():
        House.objects.update(name="Never so")
        assert answered(own) == (["Never so"], True)
        transaction.set_rollback(True)
    assert answered(own) == ([house.name], False)


def test_what_others_wrote_meanwhile_is_shown_and_not_kept(house):
    own = house.organisation

    def work():
        House.objects.update(name="Written meanwhile")
        return "of both"

    with Answers(page(own)) as answers:
        assert answers.get("houses", work) == "of both"
    House.objects.update(name=house.name)
    assert answered(own) == ([house.name], True)


def test_a_row_that_was_loaded_before_stands_for_what_it_says(house):
    """It may have changed before the rows were read, and what is made of it is of none of them."""
    own, loaded = house.organisation, House.objects.get(pk=house.pk)
    House.objects.filter(pk=house.pk).update(name="Meanwhile")
    with Answers(page(own)) as answers:
        assert answers.get("sheet", lambda: loaded.name, loaded) == house.name
    with Answers(page(own)) as answers:
        assert answers.get("sheet", lambda: "worked out", House.objects.get(pk=house.pk)) == "worked out"
    House.objects.filter(pk=house.pk).update(name=house.name)
    with Answers(page(own)) as answers:
        assert answers.get("sheet", lambda: "anew", loaded) == "anew", "kept with the rows of then alone"


def test_an_organisation_that_was_loaded_before_stands_for_what_it_says(house):
    asked = page(house.organisation)
    Organisation.objects.update(name="Meanwhile")
    with Answers(asked) as answers:
        answers.get("head", lambda: asked.organisation.name)
    with Answers(page(house.organisation)) as answers:
        assert answers.get("head", lambda: answers.organisation.name) == "Meanwhile"


def test_a_fault_keeps_nothing(house):
    with pytest.raises(ZeroDivisionError), Answers(page(house.organisation)) as answers:
        answers.get("houses", lambda: ["half of it"])
        answers.get("more", lambda: 1 // 0)
    assert answered(house.organisation) == ([house.name], True)


def test_each_reader_day_and_name_has_its_own(house, monkeypatch):
    own = house.organisation
    answered(own)
    assert answered(own, acts=frozenset({Act.SEE}))[1]
    assert answered(own, name="more")[1]
    assert answered(own, "by another")[1]
    assert not answered(own)[1]
    tomorrow = timezone.now() + timedelta(days=1)
    monkeypatch.setattr(timezone, "now", lambda: tomorrow)
    assert answered(own)[1], "past midnight"
    Organisation.objects.update(unit_system="metric")
    assert answered(own)[1]


def test_minutes_are_those_of_the_clock(house, monkeypatch):
    said = []
    for seconds in (1, 59, 60):
        monkeypatch.setattr(
            timezone, "now", lambda at=seconds: datetime(2027, 5, 3, 12, 0, tzinfo=UTC) + timedelta(seconds=at)
        )
        said.append(Answers(page(house.organisation)).minute)
    assert said[0] == said[1] != said[2]


def test_a_part_that_reads_no_row_of_some_tables_outlasts_their_changes(house):
    own, crew = house.organisation, CrewFactory(organisation=house.organisation)
    for without in ({"crew"}, {"crew.Crew"}):
        answered(own, without=without)
        Crew.objects.filter(pk=crew.pk).update(name=f"Not {without}")
        assert not answered(own, without=without)[1]
        assert answered(own)[1]
        House.objects.filter(pk=house.pk).update(name=f"Without {without}")
        assert answered(own, without=without) == ([f"Without {without}"], True)


def test_of_what_others_wrote_meanwhile_only_what_reads_it_is_not_kept(house):
    own, crew = house.organisation, CrewFactory(organisation=house.organisation)
    with Answers(page(own)) as answers:
        answers.get("houses", lambda: ["kept"], without={"crew"})
        answers.get("more", lambda: Crew.objects.filter(pk=crew.pk).update(name="Written meanwhile"))
    assert answered(own, without={"crew"}) == (["kept"], False)
    assert answered(own, name="more")[1]


def test_a_copy_is_given_out(house):
    found, _ = answered(house.organisation)
    found.append("put there by a page")
    assert answered(house.organisation) == ([house.name], False)


class TestDigest:
    def test_it_is_of_its_own_rows_of_its_cooperatives_and_of_names(self, house):
        own = house.organisation
        first = content.digests_of(organisation=own)
        stranger = LotFactory()
        assert content.digests_of(organisation=own) == content.digests_of(organisation=own)
        before = content.digests_of(organisation=own)
        assert before != first, "another organisation is there, whose name may be said"
        Lot.objects.filter(pk=stranger.pk).update(reference="of others")
        assert content.digests_of(organisation=own) == before
        member = MemberFactory(organisation=stranger.organisation)
        MemberFarm.objects.create(organisation=stranger.organisation, member=member, farm=own)
        joined = content.digests_of(organisation=own)
        Lot.objects.filter(pk=stranger.pk).update(reference="of the coop")
        assert before != joined != content.digests_of(organisation=own) != before
        left = content.digests_of(organisation=own)
        somebody = UserFactory(first_name="Nobody's")
        assert content.digests_of(organisation=own) != left
        left = content.digests_of(organisation=own)
        User.objects.filter(pk=somebody.pk).update(first_name="Renamed")
        assert content.digests_of(organisation=own) != left

    def test_rights_are_told_and_pages_that_were_only_opened_are_not(self, house):
        row = MembershipFactory(organisation=house.organisation)
        before = content.digests_of(organisation=house.organisation)
        Membership.objects.filter(pk=row.pk).update(used_at=timezone.now())
        assert content.digests_of(organisation=house.organisation) == before
        Membership.objects.filter(pk=row.pk).update(role="crew")
        assert content.digests_of(organisation=house.organisation) != before

    def test_rows_are_told_by_what_they_say_and_not_by_their_order_or_number(self, house):
        one, other = (
            CrewFactory(organisation=house.organisation, name="One"),
            CrewFactory(organisation=house.organisation, name="Other"),
        )
        before = content.digests_of(organisation=house.organisation)
        Crew.objects.filter(pk=one.pk).update(slug="x")
        Crew.objects.filter(pk=one.pk).update(name="Other")
        Crew.objects.filter(pk=other.pk).update(name="One")
        assert content.digests_of(organisation=house.organisation) != before

    def test_of_rows_that_never_change_it_is_told_which_there_are(self, house, monkeypatch):
        own = house.organisation
        first, second, _ = (CrewFactory(organisation=own, name=name) for name in ("First", "Second", "Last"))
        monkeypatch.setattr(content, "GROWING", {"crew.Crew"})

        def told():
            with connection.cursor() as cursor:
                cursor.execute(content.sql_of(Crew, connection.vendor), [own.pk])
                return cursor.fetchone()[0]

        key, with_all = second.pk, told()
        second.delete()
        without_second = told()
        CrewFactory(organisation=own, name="Second", pk=key)
        assert told() == with_all != without_second
        first.delete()
        assert told() not in (with_all, without_second), "as many as without the second, and the same is the last"


def test_every_table_of_an_organisation_is_read_or_left_out_for_a_reason():
    read = set(content.models_read())
    ours = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model.__module__.startswith("farmbuild.") and model._meta.app_label not in content.LEFT_OUT_APPS
    ]
    assert content.READ_ALL_THE_SAME.keys() <= {model._meta.label for model in read}
    assert sorted(m._meta.label for m in ours if m not in read and m._meta.label not in content.LEFT_OUT) == [
        "orgs.User",
        "orgs.User_groups",
        "orgs.User_user_permissions",
    ]
    labels = {model._meta.label for model in apps.get_models(include_auto_created=True)}
    assert content.LEFT_OUT.keys() | content.COLUMNS_LEFT_OUT.keys() | content.GROWING <= labels
    assert all(why for why in (content.LEFT_OUT_APPS | content.LEFT_OUT | content.READ_ALL_THE_SAME).values())
    for label, columns in content.COLUMNS_LEFT_OUT.items():
        assert columns <= {field.attname for field in apps.get_model(label)._meta.concrete_fields}, label


def test_snapshots_that_are_left_out_have_their_digest_beside_them():
    told = {field.attname for field in content.columns_of(Plan)}
    assert {f"{name}_digest" for name in content.COLUMNS_LEFT_OUT["plans.Plan"]} <= told


def test_of_many_rows_only_what_is_dear_is_kept(house, monkeypatch, django_assert_num_queries):
    """Else they would be read for each opening of a page that is sooner worked out."""
    own = house.organisation
    monkeypatch.setattr(kept, "MANY", 1)
    assert answered(own)[1]
    with django_assert_num_queries(2):
        assert answered(own) == ([house.name], True)
    assert [answered(own, dear=True)[1] for _ in range(2)] == [False, False]
    House.objects.update(name="Long house")
    assert answered(own) == answered(own, dear=True) == (["Long house"], True)


def test_how_many_rows_are_read_is_told(house):
    digests, rows = content.contents_of(organisation=house.organisation)
    assert digests == content.digests_of(organisation=house.organisation)
    HouseFactory(site=house.site)
    assert content.contents_of(organisation=house.organisation)[1] > rows > 0


@pytest.mark.django_db(transaction=True)
class TestRowsAreReadOnceUntilSomebodyWrites:
    @pytest.fixture
    def reads(self, monkeypatch):
        """One for each time that the rows were read."""
        found, read = [], content._read
        monkeypatch.setattr(content, "_read", lambda own, labels: found.append(own) or read(own, labels))
        return found

    def _were(self, reads, times):
        """What others write in other databases of a PostgreSQL has it read anew too."""
        assert len(reads) == times or (connection.vendor == "postgresql" and len(reads) > times)

    def test_by_this_connection_or_by_another(self, house, reads):
        own = house.organisation
        first = content.digests_of(organisation=own)
        assert content.digests_of(organisation=own) == first
        self._were(reads, 1)
        House.objects.filter(pk=house.pk).update(name="Here")
        second = content.digests_of(organisation=own)
        assert second != first

        def elsewhere():
            House.objects.filter(pk=house.pk).update(name="There")
            connection.close()

        with ThreadPoolExecutor(1) as threads:
            threads.submit(elsewhere).result()
        third = content.digests_of(organisation=own)
        assert third not in (first, second)
        self._were(reads, 3)

    def test_of_each_organisation(self, house, reads):
        other = HouseFactory().organisation
        found = [content.digests_of(organisation=each) for each in (house.organisation, other, house.organisation)]
        assert found[0] == found[2] != found[1]
        self._were(reads, 2)

    def test_never_within_a_transaction(self, house, reads):
        own = house.organisation
        first = content.digests_of(organisation=own)
        with transaction.atomic():
            House.objects.update(name="Never so")
            assert content.digests_of(organisation=own) != first
            transaction.set_rollback(True)
        assert content.digests_of(organisation=own) == first
        with transaction.atomic():
            content.digests_of(organisation=own)
            content.digests_of(organisation=own)
        self._were(reads, 5)

    def test_a_connection_that_was_opened_anew_reads_anew(self, house, reads):
        first = content.digests_of(organisation=house.organisation)
        connection.close()
        assert content.digests_of(organisation=house.organisation) == first
        self._were(reads, 2)


class TestAPageThatIsKeptWhole:
    @pytest.fixture
    def opened(self, house):
        """Its markup, and how often it was made."""
        made, ann = [], UserFactory.build(pk=1)

        @kept_page("a page")
        def view(request):
            made.append(request)
            rows = House.objects.of(request.organisation).values_list("name", flat=True)
            form = '<form>{% load farm %}{% csrf_token %}{% once %}<input type="hidden" name="key" value="one"></form>'
            words = engines["django"].from_string("{{ rows|join:', ' }}, {{ request.GET.q }}" + form)
            return HttpResponse(words.render({"rows": list(rows)}, request), status=404 if "no" in request.GET else 200)

        def opened(path="/", user=None, message="", **given):
            request = page(house.organisation, **given)
            request.GET, request.path_info = QueryDict(path.partition("?")[2]), path.partition("?")[0]
            request.META["QUERY_STRING"] = path.partition("?")[2]
            request.user = user or ann
            request.session, request._messages = {}, [message] if message else []
            return view(request).content.decode(), len(made)

        return opened

    def test_has_tokens_of_its_own_each_time(self, house, opened):
        tokens = [re.findall(r'name="(\w+)" value="(\w[^"]*)"', opened()[0]) for _ in range(3)]
        assert opened()[1] == 1
        assert [[name for name, _ in found] for found in tokens] == [["csrfmiddlewaretoken", "once", "key"]] * 3
        assert len({value for found in tokens for _, value in found}) == 9

    def test_is_made_anew_for_rows_readers_addresses_and_messages(self, house, opened):
        assert opened()[1] == opened()[1] == 1
        assert opened("/?q=one")[1] == 2 and "one" in opened("/?q=one")[0]
        assert opened(user=UserFactory.build(pk=2))[1] == 3
        assert opened(acts=frozenset({Act.SEE}))[1] == 4
        assert opened(message="Kept.")[1] == 5
        assert opened()[1] == 5
        House.objects.filter(pk=house.pk).update(name="Another")
        found, times = opened()
        assert times == 6 and found.startswith("Another")

    def test_that_is_not_found_is_not_kept(self, opened):
        assert opened("/?no")[1] == 1
        assert opened("/?no")[1] == 2
