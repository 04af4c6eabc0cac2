"""What is watched while it is worked out stands as long as the tables that it was seen to read."""

from __future__ import annotations

from datetime import date

import pytest

from farmbuild.coop.models import FarmCard
from farmbuild.costs.models import TripRate
from farmbuild.crew.models import Crew
from farmbuild.orgs.answers import content, kept
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.models import User
from farmbuild.sites.models import House, Site
from tests.factories import CrewFactory, HouseFactory, UserFactory
from tests.orgs.test_answers import page

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    return HouseFactory()


@pytest.fixture(autouse=True)
def nothing_seen(monkeypatch):
    monkeypatch.setattr(kept, "_seen", {})
    monkeypatch.setattr(kept, "_together", {})


def names(own):
    return sorted(House.objects.of(own).values_list("name", flat=True))


def watched(own, *by, work=None, name="watched"):
    worked = []
    with Answers(page(own)) as answers:
        found = answers.watched(name, lambda: worked.append(1) or (work or names)(own), *by)
    return found, bool(worked)


def test_it_stands_until_a_row_changes_of_a_table_that_it_read(house):
    own, crew = house.organisation, CrewFactory(organisation=house.organisation)
    assert watched(own) == ([house.name], True)
    Crew.objects.filter(pk=crew.pk).update(name="Unread")
    assert watched(own) == ([house.name], False)
    House.objects.update(name="Long house")
    assert watched(own) == (["Long house"], True)
    assert watched(own) == (["Long house"], False)
    assert watched(own, "by another")[1]


def test_what_it_reads_only_sometimes_is_told_as_soon_as_it_did(house):
    """Of a table that was not read before the work nothing says what it was then: kept from the next time on."""
    own, crew = house.organisation, CrewFactory(organisation=house.organisation, name="First")

    def work(organisation):
        found = names(organisation)
        return found + (list(Crew.objects.values_list("name", flat=True)) if "and crews" in found else [])

    watched(own, work=work)
    House.objects.update(name="and crews")
    assert [watched(own, work=work)[1] for _ in range(3)] == [True, True, False]
    Crew.objects.filter(pk=crew.pk).update(name="Second")
    assert watched(own, work=work) == (["and crews", "Second"], True)


def test_what_was_written_while_it_worked_is_not_kept(house):
    own = house.organisation

    def work(organisation):
        found = names(organisation)
        House.objects.update(name="Written meanwhile")
        return found

    assert watched(own, work=work) == ([house.name], True)
    assert watched(own) == (["Written meanwhile"], True)


def test_it_rests_on_what_a_part_within_it_was_made_of_also_where_that_was_kept(house):
    own, crew = house.organisation, CrewFactory(organisation=house.organisation, name="First")

    def inner(organisation):
        return list(Crew.objects.of(organisation).values_list("name", flat=True))

    def work(organisation):
        with Answers(page(organisation)) as answers:
            return answers.watched("inner", lambda: inner(organisation))

    def with_others(organisation):
        with Answers(page(organisation)) as answers:
            return answers.get("others", lambda: inner(organisation), without={"stock"})

    for around in (work, with_others):
        around(own)
        watched(own, work=around, name=around.__name__)
        Crew.objects.filter(pk=crew.pk).update(name=around.__name__)
        assert watched(own, work=around, name=around.__name__) == ([around.__name__], True)


def test_names_of_people_and_rows_of_costs_are_told_and_secrets_keep_nothing(house):
    own, ann = house.organisation, UserFactory(first_name="Ann")

    def people(_):
        return list(User.objects.values_list("first_name", flat=True))

    def trips(_):
        return list(TripRate.objects.values_list("each", flat=True))

    for work, change in (
        (people, lambda: User.objects.filter(pk=ann.pk).update(first_name="Beth")),
        (trips, lambda: TripRate.objects.create(organisation=own, since=date(2027, 5, 3), each=77)),
    ):
        watched(own, work=work, name=work.__name__)
        assert not watched(own, work=work, name=work.__name__)[1]
        change()
        assert watched(own, work=work, name=work.__name__) == (work(own), True)

    def secrets(_):
        return list(FarmCard.objects.values_list("pk", flat=True))

    assert [watched(own, work=secrets, name="secrets")[1] for _ in range(3)] == [True] * 3


def test_a_row_that_it_is_told_of_stands_for_those_it_was_loaded_with(house):
    def loaded():
        return House.objects.select_related("site").get(pk=house.pk)

    def told(row):
        return watched(house.organisation, row, work=lambda _: row.site.name, name="told")

    assert told(loaded()) == (house.site.name, True)
    assert told(loaded()) == (house.site.name, False)
    Site.objects.update(name="Elsewhere")
    assert told(loaded()) == ("Elsewhere", True)


def test_what_parts_of_a_page_rest_on_is_read_at_once(house, monkeypatch):
    own, read, reads = house.organisation, content._read, []
    monkeypatch.setattr(content, "_read", lambda own, labels: reads.append(set(labels)) or read(own, labels))

    def opened():
        reads.clear()
        with Answers(page(own)) as answers:
            answers.watched("houses", lambda: names(own))
            answers.watched("crews", lambda: list(Crew.objects.values_list("name", flat=True)))
        return [set(one) for one in reads]

    opened()
    [again] = opened()
    assert {"sites.House", "crew.Crew"} < again < set(content.told())
