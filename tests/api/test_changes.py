"""Changes since a mark: each once, in one order, whoever is at work meanwhile, and only what the token may see."""

from __future__ import annotations

import random
import time
from concurrent.futures import ThreadPoolExecutor
from threading import Event, Thread

import pytest
from django.db import connections, transaction

from farmbuild.catalogue.models import Supplier
from farmbuild.history.models import Entry
from farmbuild.history.recording import recorded
from farmbuild.history.selectors import entries_after
from farmbuild.sites.models import Site
from tests.api.conftest import Program, make
from tests.factories import MembershipFactory, OrganisationFactory, SiteFactory, SupplierFactory


def rename(person, row, name, *, wait=lambda: None):
    """One act of a person, told and then left open until ``wait`` is over."""
    with transaction.atomic():
        with recorded(user=person.user, organisation=person.organisation):
            row.name = name
            row.save()
        wait()


def told(program, **asked):
    answer = program.get("/changes", **asked)
    assert answer.status_code == 200, answer.content
    return answer.json()


@pytest.mark.django_db
class TestTold:
    def test_from_a_mark_on_each_once(self, program, organisation, user):
        person, site = user.memberships.get(), SiteFactory(organisation=organisation, name="North")
        for name in ("South", "East", "West"):
            rename(person, site, name)
        first = told(program, limit=2)
        assert [each["changes"][0]["after"]["text"] for each in first["items"]] == ["South", "East"]
        assert first["items"][0]["who"] == user.display_name and first["items"][0]["kind"] == "site"
        assert first["items"][0]["key"] == site.slug
        rest = told(program, after=first["next"])
        assert [each["name"] for each in rest["items"]] == ["West"]
        assert told(program, after=rest["next"]) == {"items": [], "next": rest["next"]}
        rename(person, site, "Up")
        assert len(told(program, after=rest["next"])["items"]) == 1

    def test_nothing_of_others_and_no_costs_unseen(self, program, organisation, user):
        stranger = MembershipFactory(organisation=OrganisationFactory())
        rename(stranger, SiteFactory(organisation=stranger.organisation), "Elsewhere")
        supplier = SupplierFactory(organisation=organisation)
        with recorded(user=user, organisation=organisation):
            Supplier.objects.filter(pk=supplier.pk).update(minimum_order="12.50", contact="by phone")
        hidden = Program(make(organisation, user, "read"))
        [seen], [unseen] = told(program)["items"], told(hidden)["items"]
        assert {change["what"] for change in seen["changes"]} - {change["what"] for change in unseen["changes"]}
        amounts = [change["after"] for change in seen["changes"] if change["after"].get("amount")]
        assert [(each["amount"], each["currency"]) for each in amounts] == [("12.5", organisation.currency)]
        assert "12.5" not in str(unseen)
        assert Program(make(organisation, user, "stock")).get("/changes").status_code == 403


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_what_commits_later_with_an_earlier_key_is_not_passed_over(self):
        person = MembershipFactory()
        sites = [SiteFactory(organisation=person.organisation) for _ in range(2)]
        written, end = Event(), Event()

        def slow():
            rename(person, sites[0], "first", wait=lambda: (written.set(), end.wait(20)))
            connections.close_all()

        thread = Thread(target=slow)
        thread.start()
        assert written.wait(20)
        rename(person, sites[1], "second")
        # The second is there and the first, with the earlier key, is not: a plain reading would pass it over.
        assert [entry.name for entry in Entry.objects.all()] == ["second"]
        assert entries_after(organisation=person.organisation, mark=0, most=50) == ([], 0)
        end.set()
        thread.join()
        found, mark = entries_after(organisation=person.organisation, mark=0, most=50)
        assert [entry.name for entry in found] == ["first", "second"] and mark == found[-1].pk

    def test_many_writers_and_a_reader(self):
        person = MembershipFactory()
        sites = [SiteFactory(organisation=person.organisation) for _ in range(4)]
        draw = random.Random(7)
        pauses = [[draw.random() / 50 for _ in range(8)] for _ in sites]

        def write(number):
            try:
                row = Site.objects.get(pk=sites[number].pk)
                for at, pause in enumerate(pauses[number]):
                    rename(person, row, f"{number}-{at}", wait=lambda pause=pause: time.sleep(pause))
                    time.sleep(0.02)
            finally:
                connections.close_all()

        found, mark = [], 0
        with ThreadPoolExecutor(len(sites)) as pool:
            work = [pool.submit(write, number) for number in range(len(sites))]
            while not all(each.done() for each in work) or not found or found[-1] != Entry.objects.latest("pk").pk:
                some, mark = entries_after(organisation=person.organisation, mark=mark, most=5)
                found += [entry.pk for entry in some]
            [each.result() for each in work]
        assert found == sorted(Entry.objects.values_list("pk", flat=True)) and len(found) == 32
