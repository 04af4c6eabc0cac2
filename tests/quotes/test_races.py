"""Two write to jobs and quotes at once. PostgreSQL alone lets two write at once."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from farmbuild.crew.problems.pictures import Picture
from farmbuild.orgs.clock import today_of
from farmbuild.quotes.against import services as against
from farmbuild.quotes.customers.services import archive_customer, save_customer
from farmbuild.quotes.jobs import services as jobs
from farmbuild.quotes.models import Option, Quote, QuoteLine, Survey, SurveyPhoto
from farmbuild.quotes.pricing import services
from farmbuild.quotes.sending import links
from farmbuild.quotes.sending import services as sending
from tests.common.test_edit_conflicts import opened
from tests.factories import HouseFactory, MembershipFactory
from tests.quotes.agreed import accepted_job
from tests.quotes.begun import add_lines, begin
from tests.quotes.sent import quoted
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


def test_a_job_is_over_once(who):
    job, _, _ = begin(**who)
    done = accepted_job(who["organisation"], who["user"])

    def lose():
        jobs.lose_job(**who, job=job, because="too dear")

    def again():
        jobs.open_again(**who, job=job)

    def finish():
        against.finish_job(**who, job=done)

    assert "is lost and cannot be lost any more" in comes_second(lose, lose)
    assert comes_second(again, again) == "This job is not lost."
    assert "This job is finished" in comes_second(finish, finish)


def test_a_house_of_a_lost_job_is_taken_up_by_one(who):
    job, _, _ = begin(**who)
    other = jobs.create_job(**who, data={"customer": job.customer, "name": "Another"})
    house = HouseFactory(site__organisation=who["organisation"])
    jobs.tie_house(**who, job=job, house=house)
    jobs.lose_job(**who, job=job, because="too dear")
    jobs.tie_house(**who, job=other, house=house)
    with pytest.raises(ValidationError, match="built for J-0002 already"):
        jobs.open_again(**who, job=job)


def test_the_ground_of_a_job_is_written_down_once_and_photos_are_counted(who, monkeypatch):
    job, _, _ = begin(**who)

    def seen(note):
        return lambda: jobs.save_survey(**who, job=job, data={"note": note})

    comes_second(seen("wet"), seen("dry"))
    assert Survey.objects.filter(job=job).count() == 1
    monkeypatch.setattr(jobs, "MAX_PHOTOS", 1)

    def taken(name):
        picture = Picture(data=name, thumbnail=b"y", width=4, height=3)
        return lambda: jobs.add_photos(**who, job=job, pictures=[picture])

    assert "Up to 1 photos go with one job; it has 1" in comes_second(taken(b"one"), taken(b"two"))
    photo = SurveyPhoto.objects.get()

    def away():
        jobs.remove_photo(**who, photo=photo)

    assert comes_second(away, away) == "This photo is removed already."


def test_a_version_goes_out_and_is_withdrawn_once(who):
    _, quote = quoted(**who, names=("48'",))
    day = today_of(organisation=who["organisation"])

    def send():
        return sending.send_quote(**who, quote=quote, valid_until=day).number

    assert comes_second(send, send) == 2
    version = quote.versions.get(number=2)
    assert quote.versions.get(number=1).state == "withdrawn"

    def back():
        sending.withdraw_version(**who, version=version)

    link = links.make_link(**who, of=version).link
    other = MembershipFactory(organisation=who["organisation"]).user
    comes_second(
        lambda: links.end_link(**who, link=link),
        lambda: links.end_link(organisation=who["organisation"], user=other, link=link),
    )
    link.refresh_from_db()
    assert link.ended_by == who["user"]
    assert comes_second(back, back) == "This version does not hold any more already."


def test_a_customer_is_archived_or_gets_a_job_never_both(who):
    one, other = (save_customer(**who, data={"name": name}) for name in ("Made-up Farm", "Another Farm"))

    def job(customer):
        return lambda: jobs.create_job(**who, data={"customer": customer, "name": "One house"})

    def archive(customer):
        return lambda: archive_customer(**who, customer=customer)

    assert "J-0001 of Made-up Farm is not over" in comes_second(job(one), archive(one))
    assert comes_second(archive(other), job(other)) == "Another Farm is archived. Bring them back first."


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
