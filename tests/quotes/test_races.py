"""Two write to jobs and quotes at once. PostgreSQL alone lets two write at once."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from farmbuild.quotes.jobs import services as jobs
from farmbuild.quotes.models import Option, Quote, QuoteLine
from farmbuild.quotes.pricing import services
from tests.common.test_edit_conflicts import opened
from tests.factories import HouseFactory
from tests.quotes.begun import add_lines, begin
from tests.reading import text_of
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


@pytest.fixture
def film(who):
    *_, option = begin(**who)
    add_lines(option, "48'", who["user"])
    return option.lines.get(what="film")


def at_the_line(user, line):
    """Somebody with the form of the line open: a client, its address and what it would send."""
    client, address = Client(), reverse("quotes:line", args=[1, 1, line.pk])
    client.force_login(user)
    return client, address, opened(client, address)


def test_two_type_over_one_line(who, film):
    """One changes the price, the other the quantity: the second is told, keeps what was typed, and saves both."""
    one, address, first = at_the_line(who["user"], film)
    other, _, second = at_the_line(who["user"], film)
    answer = comes_second(
        lambda: one.post(address, first | {"price": "310"}), lambda: other.post(address, second | {"quantity": "2"})
    )
    assert answer.status_code == 200
    assert "Someone else saved this while you were typing" in text_of(answer)
    film.refresh_from_db()
    assert (film.quantity, film.price) == (1, 310)
    again = {field.html_name: field.value() for field in answer.context["form"] if field.value() is not None}
    assert other.post(address, again).status_code == 302
    film.refresh_from_db()
    assert (film.quantity, film.price) == (2, 310)


def test_an_option_goes_while_somebody_types_a_line_of_it(who, film):
    """Nothing is saved, and what was typed is told, whether it is gone or just going."""
    services.add_option(**who, quote=film.option.quote, name="Other")
    client, address, typed = at_the_line(who["user"], film)
    answer = comes_second(
        lambda: services.remove_option(**who, option=film.option),
        lambda: client.post(address, typed | {"price": "310"}, follow=True),
    )
    assert "out while you were typing" in text_of(answer)
    answer = client.post(address, typed | {"price": "311"}, follow=True)
    assert "You typed" in text_of(answer)
    assert "311" in text_of(answer)
    answer = client.post(reverse("quotes:line-new", args=[1, 1]), typed | {"quantity": "7"}, follow=True)
    assert "Somebody took this option out" in text_of(answer)
    assert not QuoteLine.objects.exists()
    assert Quote.objects.get().options.get().name == "Other"
    with pytest.raises(ValidationError, match="took the option"):
        services.save_line(**who, line=film, data={"price": Decimal(1)})
