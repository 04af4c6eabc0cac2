"""A customer accepts at a link that needs no account, or somebody does for them: once, and all of it."""

from __future__ import annotations

import re
import threading
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, connections, transaction
from django.test import Client

from farmbuild.buying.models import PurchaseOrder
from farmbuild.demo.diary import clock_at
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.orgs.acts import NotAllowed, Role
from farmbuild.orgs.addresses import reverse_outside
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.plans.models import Plan
from farmbuild.quotes.models import Acceptance, Job, JobHouse, QuoteLink
from farmbuild.quotes.pricing.services import remove_option
from farmbuild.quotes.sending.accepting import Answer, accept_by_link, accept_on_behalf
from farmbuild.quotes.sending.links import WRONG_HERE, digest_of, end_link, make_link
from farmbuild.quotes.sending.services import withdraw_version
from farmbuild.sites.models import Site
from farmbuild.stock.models import Reservation
from tests.factories import MembershipFactory, MemberSignInFactory
from tests.quotes.sent import quoted, sent

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def visitor():
    """A browser of nobody."""
    return Client()


@pytest.fixture
def offer(organisation, user):
    _, quote = quoted(organisation, user)
    return sent(organisation, user, quote)


def link_to(version, user, days=45):
    return make_link(organisation=version.organisation, user=user, of=version, days=days)


def page(made):
    return reverse_outside("quotes:offered", made.secret)


def answer(version, name="Ada Fern", day=None, at=0, how=""):
    key = version.shown["options"][at]["option"]
    return Answer(key, name, day or today_of(organisation=version.organisation), how)


def test_a_customer_sees_it_as_sent_and_accepts(organisation, user, offer, visitor):
    made = link_to(offer, user)
    told = visitor.get(page(made))
    text = told.content.decode()
    assert told.status_code == 200 and "$6,027.21" in text and "$7,997.84" in text and text.count("<svg") >= 4
    assert "Levelling of the ground" in text and "Take care" in text
    # What it costs is nobody's business but the sender's.
    assert not re.search(r"4,646\.43|185\.86|31\.20|11\.50", text)
    assert told["Cache-Control"] == "private, no-store" and "noindex" in told["X-Robots-Tag"]
    assert told["Referrer-Policy"] == "same-origin" and "sessionid" not in visitor.cookies
    pdf = visitor.get(f"{page(made)}quote.pdf")
    assert pdf.content.startswith(b"%PDF") and pdf["Cache-Control"] == "private, no-store"
    today = today_of(organisation=organisation)
    sent_back = visitor.post(
        page(made), {"option": offer.shown["options"][1]["option"], "name": "Ada Fern", "day": today.isoformat()}
    )
    assert (sent_back.status_code, sent_back["Location"]) == (302, "./")
    accepted = Acceptance.objects.get()
    assert (accepted.name, accepted.day, accepted.option_name) == ("Ada Fern", today, "72'")
    assert (accepted.total, accepted.before_tax, accepted.link) == (D("7997.84"), D("7828.82"), made.link)
    text = visitor.get(page(made)).content.decode()
    assert "Ada Fern accepted" in text and 'name="name"' not in text
    job = Job.objects.select_related("site", "plan").get()
    assert job.state == "accepted" and job.site.name == "Fernhill Growers (invented)"
    assert [row.house.name for row in job.job_houses.all()] == ["House 72'"]
    # Only a role that may send spends: a plan is tried, and neither ordered nor held by it.
    assert job.plan.houses.get() == job.job_houses.get().house
    assert not PurchaseOrder.objects.exists() and not Reservation.objects.exists() and not job.plan.accepted_at


def test_whoever_is_signed_in_elsewhere_sees_it_too(organisation, user, offer, client):
    address = page(link_to(offer, user))
    for other in (MembershipFactory().user, MemberSignInFactory().user):
        client.force_login(other)
        assert "$6,027.21" in client.get(address).content.decode()


def test_the_secret_is_kept_nowhere(organisation, user, offer, client, visitor):
    made = link_to(offer, user)
    assert made.link.digest == digest_of(made.secret) and len(made.secret) == 43
    client.force_login(user)
    client.post(
        page(made),
        {"option": offer.shown["options"][0]["option"], "name": "A", "day": "2020-01-01", "once": "0" * 32},
    )
    client.get(page(made))
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            assert made.secret not in str(cursor.fetchall()), table


def test_whatever_leads_nowhere_says_the_same(organisation, user, offer, visitor):
    over, ended, good = (link_to(offer, user, days) for days in (1, 30, 30))
    end_link(organisation=organisation, user=user, link=ended.link)
    bodies = set()
    with clock_at(over.link.expires_at + timedelta(minutes=1)):
        for secret in (over.secret, ended.secret, good.secret[:-1], f"{good.secret}A", "x"):
            for address in (reverse_outside("quotes:offered", secret), reverse_outside("quotes:offered-pdf", secret)):
                told = visitor.get(address)
                assert told.status_code == 404 and "no-store" in told["Cache-Control"] and told["X-Robots-Tag"]
                bodies.add(re.sub(r"csrf\S+|\d{2}:\d{2}", "", told.content.decode()))
        [words] = bodies
        assert "ended" in words and "How this is done" not in words
        assert visitor.get(page(good)).status_code == 200
        for _ in range(WRONG_HERE):
            told = visitor.get(reverse_outside("quotes:offered", "guess"))
        assert told.status_code == 429
        assert visitor.get(page(good)).status_code == 429
        assert visitor.get(page(good), REMOTE_ADDR="10.0.0.9").status_code == 200
    with clock_at(over.link.expires_at + timedelta(minutes=30)):
        assert visitor.get(page(good)).status_code == 200


def test_a_link_ends_once_by_sql(organisation, user, offer):
    made = link_to(offer, user)
    end_link(organisation=organisation, user=user, link=made.link)
    end_link(organisation=organisation, user=user, link=made.link)
    for change in ("ended_at = NULL", "expires_at = '2040-01-01'", "digest = 'a'", "version_id = NULL"):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f"UPDATE quotes_quotelink SET {change} WHERE id = %s", [made.link.pk])


@pytest.mark.parametrize("where", ["link", "behalf"])
def test_not_after_its_day(organisation, user, offer, where):
    made = link_to(offer, user, 300)
    late = offer.valid_until + timedelta(days=1)
    with clock_at(datetime.combine(late, time(18), tzinfo=UTC)), pytest.raises(ValidationError, match="held until"):
        if where == "link":
            accept_by_link(link=made.link, answer=answer(offer, day=offer.valid_until))
        else:
            who = {"organisation": organisation, "user": user, "version": offer}
            accept_on_behalf(**who, answer=answer(offer, day=late, how="by telephone"))
    nothing_done()


@pytest.mark.parametrize(("late", "status"), [(0, 302), (1, 200)])
def test_at_its_page_on_the_last_day_and_on_the_day_after(organisation, user, offer, visitor, late, status):
    """A minute before midnight where the organisation is."""
    made = link_to(offer, user, 300)
    day = offer.valid_until + timedelta(days=late)
    data = {"option": offer.shown["options"][0]["option"], "name": "Ada Fern", "day": day.isoformat()}
    with clock_at(datetime.combine(day, time(23, 59), tzinfo=zone_of(organisation=organisation))):
        told = visitor.post(page(made), data)
    assert told.status_code == status
    if late:
        assert "This quote held until" in told.content.decode()
        nothing_done()
    else:
        assert Acceptance.objects.get().day == day


def test_a_link_opens_in_its_last_hour_and_not_after_it(offer, user, visitor):
    made = link_to(offer, user, 1)
    for minutes, status in ((-59, 200), (-1, 200), (1, 404)):
        with clock_at(made.link.expires_at + timedelta(minutes=minutes)):
            assert visitor.get(page(made)).status_code == status, minutes


def nothing_done():
    assert not Acceptance.objects.exists() and not JobHouse.objects.exists() and not Plan.objects.exists()
    assert Job.objects.get().state == "quoted"


def test_not_an_older_version_and_not_one_taken_back(organisation, user, offer, visitor):
    made = link_to(offer, user)
    second = sent(organisation, user, offer.quote)
    with pytest.raises(ValidationError, match="Version 1 no longer holds: version 2 was sent on"):
        accept_by_link(link=made.link, answer=answer(offer))
    text = visitor.get(page(made)).content.decode()
    assert "Version 1 no longer holds" in text and 'name="name"' not in text and "$6,027.21" in text
    withdraw_version(organisation=organisation, user=user, version=second)
    second.refresh_from_db()
    with pytest.raises(ValidationError, match="took it back"):
        accept_by_link(link=link_to(second, user).link, answer=answer(second))
    nothing_done()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"name": " "}, "Type the name"),
        ({"day": date(2001, 1, 1)}, "It was sent on"),
        ({"day": date(2060, 1, 1)}, "still to come"),
    ],
)
def test_what_is_typed_wrongly(organisation, user, offer, typed, words):
    made = link_to(offer, user)
    with pytest.raises(ValidationError, match=words):
        accept_by_link(link=made.link, answer=answer(offer, **typed))
    with pytest.raises(ValidationError, match="Choose one of the options"):
        accept_by_link(link=made.link, answer=Answer(0, "Ada", today_of(organisation=organisation)))
    nothing_done()


def test_what_was_sent_is_accepted_whatever_the_quote_says_now(organisation, user, offer):
    option = offer.quote.options.first()
    row = option.houses.get()
    row.spec |= {"length": "999999"}
    row.quantity = 3
    row.save()
    option.lines.all().delete()
    accepted = accept_by_link(link=link_to(offer, user).link, answer=answer(offer))
    assert accepted.total == D("6027.21")
    assert JobHouse.objects.get().house.length < 20_000


def test_an_option_that_may_be_accepted_is_not_taken_out(organisation, user, offer):
    option = offer.quote.options.last()
    with pytest.raises(ValidationError, match="stands in version 1, which holds"):
        remove_option(organisation=organisation, user=user, option=option)
    withdraw_version(organisation=organisation, user=user, version=offer)
    remove_option(organisation=organisation, user=user, option=option)


def test_all_of_it_or_nothing(organisation, user, offer):
    """A recipe that is no longer there stops the houses, and with them the acceptance."""
    made = link_to(offer, user)
    Recipe.objects.update(slug="another")
    with pytest.raises(ValidationError, match="cannot build this as it was offered any more"):
        accept_by_link(link=made.link, answer=answer(offer))
    assert not Acceptance.objects.exists() and Job.objects.get().state == "quoted"
    assert Site.objects.count() == 1


def test_on_behalf_by_who_may(organisation, user, offer):
    yard = MembershipFactory(organisation=organisation, role=Role.YARD).user
    said = answer(offer, how="by telephone")
    who = {"organisation": organisation, "version": offer}
    with pytest.raises(NotAllowed):
        accept_on_behalf(**who, user=yard, answer=said)
    with pytest.raises(ValidationError, match="Say how it was said"):
        accept_on_behalf(**who, user=user, answer=answer(offer))
    own = Site.objects.get()
    accepted = accept_on_behalf(**who, user=user, answer=said, site=own)
    assert (accepted.by_user, accepted.how, accepted.link) == (user, "by telephone", None)
    assert JobHouse.objects.get().house.site == own == Job.objects.get().site
    with pytest.raises(ValidationError, match=r"Ada Fern accepted Option 1 already, for \$6,027.21: on"):
        accept_on_behalf(**who, user=user, answer=answer(offer, name="Bo", how="by letter"))
    with pytest.raises(ValidationError, match="change order"):
        sent(organisation, user, offer.quote)
    with pytest.raises(ValidationError, match="change order"):
        withdraw_version(organisation=organisation, user=user, version=offer)


def test_several_of_a_house_get_names_of_their_own(organisation, user):
    _, quote = quoted(organisation, user, ("48'",))
    row = quote.options.get().houses.get()
    row.quantity = 3
    row.save()
    version = sent(organisation, user, quote)
    accept_by_link(link=link_to(version, user).link, answer=answer(version))
    assert [row.house.name for row in JobHouse.objects.all()] == ["House 48'", "House 48' 2", "House 48' 3"]


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_at_once(organisation, user):
    """The second is told who accepted what, and when."""
    _, quote = quoted(organisation, user)
    version = sent(organisation, user, quote)
    links = [link_to(version, user).link for _ in range(4)]
    gate, told = threading.Barrier(len(links)), []

    def press(at: int) -> None:
        gate.wait()
        try:
            accept_by_link(link=links[at], answer=answer(version, name=f"Buyer {at}", at=at % 2))
        except ValidationError as error:
            told.append(" ".join(error.messages))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=press, args=(at,)) for at in range(len(links))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    accepted = Acceptance.objects.get()
    assert len(told) == 3
    assert all(words.startswith(f"{accepted.name} accepted {accepted.option_name} already") for words in told)
    assert JobHouse.objects.count() == Plan.objects.count() == 1


def test_pages_of_another_organisation(organisation, user, offer, client):
    """Neither by its address nor by a link's number."""
    made = link_to(offer, user)
    stranger = MembershipFactory().user
    client.force_login(stranger)
    for address in (f"/quotes/{offer.quote.number}/versions/1/", f"/quotes/{offer.quote.number}/versions/1/quote.pdf"):
        assert client.get(address).status_code == 404
    assert client.post(f"/quotes/links/{made.link.pk}/end/").status_code == 404
    assert QuoteLink.objects.get().ended_at is None
    with pytest.raises(ValidationError, match="your own"):
        make_link(organisation=stranger.memberships.get().organisation, user=stranger, of=offer)


def test_sending_and_linking_by_the_pages(organisation, user, signed_in, settings, mailoutbox):
    settings.EMAIL_HOST = "mail.example"
    job, quote = quoted(organisation, user)
    customer = job.customer
    customer.email = "ada@fernhill.example"
    customer.save()
    until = today_of(organisation=organisation) + timedelta(days=20)
    address = f"/quotes/{quote.number}/send/"
    assert signed_in.get(address).status_code == 200
    there = signed_in.post(address, {"valid_until": until.isoformat(), "how": "by e-mail"}, follow=True)
    assert "Version 1 is kept as it is now." in there.content.decode()
    shown = signed_in.post(f"/quotes/{quote.number}/versions/1/link/", {"days": "9", "by_email": "on"}, follow=True)
    (address,) = re.findall(r"http://testserver/offered/[\w-]{43}/", shown.content.decode())
    (letter,) = mailoutbox
    assert letter.to == ["ada@fernhill.example"] and address in letter.body
    assert Client().get(address).status_code == 200
    version = quote.versions.get()
    done = signed_in.post(
        f"/quotes/{quote.number}/versions/1/accept/",
        {"option": version.shown["options"][0]["option"], "name": "Ada", "day": "2000-01-01", "how": "by telephone"},
    )
    assert "It was sent on" in done.content.decode()


def test_a_link_is_refused_for_days_that_it_cannot_last(organisation, user, offer):
    for days in (0, 367):
        with pytest.raises(ValidationError, match="from 1 to 366"):
            link_to(offer, user, days)
