"""Two write to jobs and quotes at once. PostgreSQL alone lets two write at once."""

from __future__ import annotations

import pytest

from farmbuild.quotes.jobs import services as jobs
from farmbuild.quotes.models import Option, Quote
from farmbuild.quotes.pricing import services
from tests.factories import HouseFactory
from tests.quotes.begun import begin
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


def test_two_at_once_never_get_one_number_or_place(who):
    job, quote, option = begin(**who)
    data = {"customer": job.customer, "name": "Another"}
    assert (
        comes_second(lambda: jobs.create_job(**who, data=data), lambda: jobs.create_job(**who, data=data)).reference
        == "J-0003"
    )
    comes_second(lambda: services.create_quote(**who, job=job), lambda: services.create_quote(**who, job=job))
    assert sorted(Quote.objects.values_list("number", flat=True)) == [1, 2, 3]
    comes_second(
        lambda: services.add_option(**who, quote=quote, name="Two", like=option),
        lambda: services.add_option(**who, quote=quote, name="Three", like=option),
    )
    assert list(Option.objects.filter(quote=quote).values_list("position", flat=True)) == [1, 2, 3]
    again = lambda: services.add_option(**who, quote=quote, name="Four")  # noqa: E731
    assert "Another option has this name" in comes_second(again, again)


def test_a_house_goes_to_one_of_two_jobs(who):
    job, _, _ = begin(**who)
    other = jobs.create_job(**who, data={"customer": job.customer, "name": "Another"})
    house = HouseFactory(site__organisation=who["organisation"])
    told = comes_second(
        lambda: jobs.tie_house(**who, job=job, house=house), lambda: jobs.tie_house(**who, job=other, house=house)
    )
    assert "built for J-0001 already" in told


def test_a_quote_is_not_priced_once_its_job_is_lost(who):
    job, _, option = begin(**who)
    told = comes_second(
        lambda: jobs.lose_job(**who, job=job, because="too dear"),
        lambda: services.rename_option(**who, option=option, name="Other"),
    )
    assert "This job is lost" in told
