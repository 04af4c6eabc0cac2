"""What changes after the acceptance has a price of its own, is sent, and is accepted or declined once."""

from __future__ import annotations

import re
import subprocess
import threading
from datetime import UTC, datetime, time, timedelta
from decimal import Decimal
from hashlib import sha256

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, connections, transaction
from django.test import Client

from farmbuild.demo.diary import clock_at
from farmbuild.orgs.acts import NotAllowed, Role
from farmbuild.orgs.addresses import reverse_outside
from farmbuild.orgs.clock import today_of
from farmbuild.quotes.changes import services
from farmbuild.quotes.changes.presenters import changed_houses, offer_of_change
from farmbuild.quotes.changes.selectors import contract_of, file_of_change
from farmbuild.quotes.models import ChangeOrder, Job
from farmbuild.quotes.sending.accepting import Answer, accept_on_behalf
from farmbuild.quotes.sending.links import make_link
from farmbuild.sites.outdated import outdated_of
from farmbuild.sites.services import save_house
from tests.factories import MaterialFactory, MembershipFactory
from tests.quotes.begun import lines_of
from tests.quotes.sent import quoted, sent

pytestmark = pytest.mark.django_db
D = Decimal
DOOR = [D("267.21"), D("5.70"), D("272.91")]


@pytest.fixture
def job(organisation, user):
    _, quote = quoted(organisation, user, ("48'",))
    version = sent(organisation, user, quote)
    answer = Answer(version.shown["options"][0]["option"], "Ada Fern", today_of(organisation=organisation), "by letter")
    return accept_on_behalf(organisation=organisation, user=user, version=version, answer=answer).job


def who(job, user):
    return {"organisation": job.organisation, "user": user}


def door(job, user, sign=1):
    change = services.draft_change(**who(job, user), job=job, what="A door at the back")
    for kind, what, quantity, price in lines_of("door"):
        change = services.add_line(
            **who(job, user), change=change, kind=kind, what=what, quantity=sign * quantity, price=price
        )
    return change


def send(change, user, days=14):
    until = today_of(organisation=change.organisation) + timedelta(days=days)
    return services.send_change(**who(change.job, user), change=change, valid_until=until, how="by e-mail")


def amounts(row):
    return [row.before_tax, row.tax, row.total]


def accept(change, user, **more):
    said = {"accept": True, "name": "Ada", "day": today_of(organisation=change.organisation), "how": "by letter"}
    return services.answer_on_behalf(**who(change.job, user), change=change, **said | more)


def test_the_worked_example_is_added_to_what_was_agreed(job, user, tmp_path):
    assert amounts(contract_of(job=job)) == [D("5893.04"), D("134.17"), D("6027.21")]
    change = door(job, user)
    assert (change.cost, amounts(change)) == (D("210.68"), DOOR)
    change = send(change, user)
    made = make_link(**who(job, user), of=change)
    address = reverse_outside("quotes:offered", made.secret)
    text = Client().get(address).content.decode()
    assert "$272.91" in text and "$267.21" in text and "210.68" not in text
    pdf = file_of_change(change=change, name="pdf")
    assert change.sha256 == sha256(pdf).hexdigest()
    path = tmp_path / "change.pdf"
    path.write_bytes(pdf)
    words = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True, text=True).stdout
    assert all(figure in words for figure in ("$91.20", "$176.01", "$267.21", "$5.70", "$272.91", "A door at the back"))
    today = today_of(organisation=job.organisation)
    done = Client().post(address, {"name": "Ada Fern", "day": today.isoformat(), "answer": "accept"})
    assert (done.status_code, done["Location"]) == (302, "./")
    change.refresh_from_db()
    assert (change.state, change.accepted_name, change.accepted_link) == ("accepted", "Ada Fern", made.link)
    assert amounts(contract_of(job=job)) == [D("6160.25"), D("139.87"), D("6300.12")]
    assert "Ada Fern accepted it" in Client().get(address).content.decode()


def test_a_draft_is_shown_as_it_would_be_sent(job, user):
    change = door(job, user)
    draft = offer_of_change(change)
    assert offer_of_change(send(change, user, days=0)) == draft


def test_a_line_is_of_ones_own_materials(job, user):
    change = door(job, user)
    given = {"kind": "goods", "what": "Rail", "quantity": D(1), "price": D(5), "material": MaterialFactory()}
    with pytest.raises(ValidationError, match="one of your own materials"):
        services.add_line(**who(job, user), change=change, **given)


def test_a_change_may_reduce(job, user):
    change = send(door(job, user, sign=-1), user)
    assert amounts(change) == [-figure for figure in DOOR]
    accept(change, user)
    assert amounts(contract_of(job=job)) == [D("5893.04") - DOOR[0], D("134.17") - DOOR[1], D("6027.21") - DOOR[2]]


def test_declined_is_no_part_of_it(job, user):
    change = send(door(job, user), user)
    link = make_link(**who(job, user), of=change).link
    services.answer_by_link(link=link, name="Bo", day=today_of(organisation=job.organisation), accept=False)
    assert amounts(contract_of(job=job))[2] == D("6027.21")
    with pytest.raises(ValidationError, match="Bo declined this change already: on"):
        accept(change, user)


def test_what_is_refused_in_words(organisation, job, user):
    change = services.draft_change(**who(job, user), job=job, what="Vents")
    line = {"kind": "goods", "what": "vent", "quantity": D(1), "price": D(4)}
    for wrong, words in (
        ({"kind": "magic"}, "from the list"),
        ({"quantity": D(0)}, "below 0 takes away"),
        ({"price": None}, "Type the price of one"),
        ({"price": D(-4)}, "quantity below 0"),
        ({"what": " "}, "Type what it is"),
    ):
        with pytest.raises(ValidationError, match=words):
            services.add_line(**who(job, user), change=change, **line | wrong)
    with pytest.raises(ValidationError, match="Nothing stands on"):
        send(change, user)
    with pytest.raises(ValidationError, match="not sent yet"):
        accept(change, user)
    with pytest.raises(ValidationError, match="a draft"):
        make_link(**who(job, user), of=change)
    services.add_line(**who(job, user), change=change, **line)
    for at in (-1, 1):
        with pytest.raises(ValidationError, match="gone already"):
            services.remove_line(**who(job, user), change=change, at=at)
    with pytest.raises(ValidationError, match="is over"):
        send(change, user, days=-1)
    change = send(change, user)
    for press in (
        lambda: services.add_line(**who(job, user), change=change, **line),
        lambda: services.remove_line(**who(job, user), change=change, at=0),
        lambda: services.drop_change(**who(job, user), change=change),
        lambda: send(change, user),
    ):
        with pytest.raises(ValidationError, match="was sent and stays as it is"):
            press()
    late = change.valid_until + timedelta(days=1)
    with clock_at(datetime.combine(late, time(18), tzinfo=UTC)), pytest.raises(ValidationError, match="held until"):
        accept(change, user, day=late)
    with pytest.raises(ValidationError, match="still to come"):
        accept(change, user, day=today_of(organisation=organisation) + timedelta(days=1))
    assert ChangeOrder.objects.get().state == "sent"
    with clock_at(datetime.combine(change.valid_until, time(18), tzinfo=UTC)):
        assert accept(change, user, day=change.valid_until).state == "accepted"


def test_a_job_that_is_not_accepted_has_none(organisation, user):
    job, _ = quoted(organisation, user, ("48'",))
    with pytest.raises(ValidationError, match="not accepted yet"):
        services.draft_change(**who(job, user), job=job, what="A door")


def test_who_may(job, user):
    yard = MembershipFactory(organisation=job.organisation, role=Role.YARD).user
    change = send(door(job, user), user)
    for press in (lambda: door(job, yard), lambda: accept(change, yard)):
        with pytest.raises(NotAllowed):
            press()
    draft = door(job, user)
    with pytest.raises(NotAllowed):
        send(draft, yard)


@pytest.mark.parametrize(
    "change",
    [
        *("shown = '{}'", "lines = '[]'", "pdf = workbook", "total = 1", "valid_until = '2040-01-01'", "what = 'x'"),
        *("state = 'draft'", "accepted_name = 'Bo'", "accepted_on = '2020-01-01'"),
    ],
)
def test_nothing_of_it_changes_by_sql(job, user, change):
    row = accept(send(door(job, user), user), user)
    for sql in (
        f"UPDATE quotes_changeorder SET {change} WHERE id = %s",
        "DELETE FROM quotes_changeorder WHERE id = %s",
    ):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql, [row.pk])


def test_a_house_that_changes_asks_for_one(job, user):
    house = job.job_houses.get().house
    assert changed_houses(job=job) == [] and not [row for row in outdated_of(house=house) if "J-" in row.name]
    save_house(organisation=job.organisation, user=user, house=house, data={"length": house.length * 2})
    house.refresh_from_db()
    assert changed_houses(job=job) == [house]
    (told,) = [row for row in outdated_of(house=house) if job.reference in row.name]
    assert "make a change order" in told.what_to_do and told.url.endswith(f"/jobs/{job.number}/changes/new/")
    accept(send(door(job, user), user), user)
    assert changed_houses(job=job) == []


def test_a_house_is_as_agreed_however_its_sizes_were_written(organisation, user):
    _, quote = quoted(organisation, user, ("48'",))
    house = quote.options.get().houses.get()
    house.spec |= {"length": "18288", "post_length": "1219.20", "film_side_allowance": "0"}
    house.save()
    version = sent(organisation, user, quote)
    said = Answer(version.shown["options"][0]["option"], "Ada", today_of(organisation=organisation), "by letter")
    job = accept_on_behalf(organisation=organisation, user=user, version=version, answer=said).job
    assert changed_houses(job=job) == []


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_answers_at_once(organisation, user):
    _, quote = quoted(organisation, user, ("48'",))
    version = sent(organisation, user, quote)
    answer = Answer(version.shown["options"][0]["option"], "Ada", today_of(organisation=organisation), "by letter")
    job = accept_on_behalf(organisation=organisation, user=user, version=version, answer=answer).job
    link = make_link(**who(job, user), of=send(door(job, user), user)).link
    gate, told = threading.Barrier(4), []

    def press(at: int) -> None:
        gate.wait()
        try:
            today = today_of(organisation=organisation)
            services.answer_by_link(link=link, name=f"Buyer {at}", day=today, accept=at % 2 == 0)
        except ValidationError as error:
            told.append(" ".join(error.messages))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=press, args=(at,)) for at in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    change = ChangeOrder.objects.get()
    assert len(told) == 3
    assert all(words.startswith(f"{change.accepted_name} {change.state} this change already") for words in told)


def test_by_the_pages(job, user, client):
    client.force_login(user)
    there = client.post(f"/jobs/{job.number}/changes/new/", {"what": "A door"}, follow=True)
    assert "A draft with no line yet." in there.content.decode()
    base = f"/jobs/{job.number}/changes/1/"
    refused = client.post(base, {"kind": "goods", "what": "set", "quantity": "1", "price": ""})
    assert "Type the price of one" in refused.content.decode()
    for kind, what, quantity, price in lines_of("door"):
        added = {"kind": kind, "what": what, "quantity": str(quantity), "price": "" if price is None else str(price)}
        assert client.post(base, added).status_code == 302
    assert "$272.91" in client.get(base).content.decode()
    client.post(f"{base}lines/0/remove/")
    assert len(ChangeOrder.objects.get().lines) == 2
    until = today_of(organisation=job.organisation) + timedelta(days=9)
    client.post(f"{base}send/", {"valid_until": until.isoformat(), "how": ""})
    text = client.post(f"{base}link/", {"days": "0"}, follow=True).content.decode()
    assert "greater than or equal to 1" in text and "/offered/" not in text
    text = client.post(f"{base}link/", {"days": "9"}, follow=True).content.decode()
    assert re.search(r"http://testserver/offered/[\w-]{43}/", text)
    assert client.get(f"{base}change.pdf").content.startswith(b"%PDF")
    assert client.get(f"{base}change.xlsx").content.startswith(b"PK")
    today = today_of(organisation=job.organisation).isoformat()
    client.post(f"{base}answer/", {"accept": "yes", "name": "Ada", "day": today, "how": "by telephone"})
    assert ChangeOrder.objects.get().state == "accepted" and Job.objects.get().state == "accepted"
