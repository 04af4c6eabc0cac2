"""Addresses are told of each change: in order, at least once under one name, whoever is killed or comes second."""

from __future__ import annotations

import base64
import contextlib
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier, Event

import pytest
from django.core import mail
from django.db import InterfaceError, OperationalError, connection, connections
from django.utils import timezone

from farmbuild.api.models import Attempt, Token, Webhook
from farmbuild.api.tasks import wake_all
from farmbuild.api.webhooks import posting, sending, services, signing
from farmbuild.api.webhooks.sending import MOST_TRIES, wait_after
from farmbuild.common.background import take_up_left_behind
from farmbuild.common.long_work import SILENCE
from farmbuild.history.models import Entry
from farmbuild.sites.models import Site
from tests.api.conftest import webhook
from tests.api.test_changes import rename
from tests.factories import LotFactory, MembershipFactory, SiteFactory
from tests.stock.killing import database_url
from tests.where import ROOT


def change(organisation, *names: str) -> list[str]:
    """Marks of what was changed."""
    person = organisation.memberships.order_by("pk").first()
    site = Site.objects.of(organisation).first() or SiteFactory(organisation=organisation)
    last = Entry.objects.order_by("pk").last()
    for name in names:
        rename(person, site, name)
    entries = Entry.objects.filter(pk__gt=last.pk if last else 0).order_by("pk")
    return [str(pk) for pk in entries.values_list("pk", flat=True)]


def work(row: Webhook) -> None:
    """As a worker to whom it was handed, whether anything is due or not."""
    Webhook.objects.filter(pk=row.pk, state="ready").update(state="waiting")
    sending.work_on_webhook(row.pk)


def due_now(row: Webhook) -> None:
    Webhook.objects.filter(pk=row.pk).update(next_try_at=timezone.now())


def test_a_signature_that_the_specification_shows():
    """Secret, message and signature from memory of its examples."""
    key = base64.b64decode("MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw")
    given = {"message": "msg_p5jXN8AQM9LWM0D4loKWxJek", "at": 1614265330, "body": b'{"test": 2432232314}'}
    assert signing.signature(key, **given) == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_tries_last_about_three_days():
    waits = [wait_after(tries) for tries in range(1, MOST_TRIES)]
    assert waits == sorted(waits) and waits[0] == timedelta(minutes=1)
    assert timedelta(days=2.5) < sum(waits, timedelta()) < timedelta(days=4)


@pytest.mark.django_db
class TestTold:
    def test_in_order_signed_and_without_a_value(self, organisation, user, receiver):
        shown = webhook(organisation, user, receiver.url)
        marks = change(organisation, "South", "East")
        lot = LotFactory(material__organisation=organisation, on_hand=7)
        with_lot = sending.messages._address_of(Entry(kind="lot", record=lot.pk, organisation=organisation, pk=9))
        assert with_lot == f"/api/1/lots/{lot.reference}"
        work(shown.webhook)
        assert receiver.marks[-2:] == marks and receiver.marks == sorted(receiver.marks, key=int)
        assert all(receiver.is_ours(shown.secret, at) for at in range(len(receiver.told)))
        path, headers, body = receiver.told[-1]
        assert path == "/told?by=farm" and headers["content-type"] == "application/json"
        site = Site.objects.of(organisation).get()
        assert receiver.body()["type"] == "change"
        assert receiver.body()["data"] == {
            "mark": marks[-1],
            "organisation": organisation.slug,
            "kind": "site",
            "key": site.slug,
            "address": f"/api/1/sites/{site.slug}",
            "removed": False,
        }
        assert b"East" not in body
        row = Webhook.objects.get()
        assert row.state == "ready" and str(row.mark) == marks[-1]
        before = len(receiver.told)
        work(row)
        assert len(receiver.told) == before and Attempt.objects.filter(status=204).count() == before

    def test_what_was_not_taken_goes_out_again_before_what_follows(self, organisation, user, receiver):
        row = webhook(organisation, user, receiver.url).webhook
        marks = change(organisation, "South", "East")[-2:]
        Webhook.objects.update(mark=int(marks[0]) - 1)
        receiver.answers = [500]
        work(row)
        assert receiver.marks == marks[:1]
        row.refresh_from_db()
        assert row.tries == 1 and row.next_try_at > timezone.now() and row.failing_since
        work(row)
        wake_all()
        assert receiver.marks == marks[:1], "it waits"
        due_now(row)
        wake_all()
        assert receiver.marks == [marks[0], *marks] and receiver.names[0] == receiver.names[1]
        row.refresh_from_db()
        assert (row.tries, row.failing_since, row.next_try_at) == (0, None, None)
        assert [*Attempt.objects.order_by("pk").values_list("words", "number")][:2] == [
            ("It refused (500).", 1),
            ("Taken (204).", 2),
        ]

    def test_people_wake_it(self, organisation, user, receiver, django_capture_on_commit_callbacks):
        webhook(organisation, user, receiver.url)
        Webhook.objects.update(mark=10**9)
        with django_capture_on_commit_callbacks(execute=True):
            change(organisation, "Far")
        assert receiver.told == [], "nothing after its mark"
        Webhook.objects.update(mark=0)
        with django_capture_on_commit_callbacks(execute=True):
            marks = change(organisation, "Farther")
        assert receiver.marks[-1:] == marks

    def test_it_is_stopped_after_days_and_owners_are_told(
        self, organisation, user, receiver, settings, django_capture_on_commit_callbacks
    ):
        settings.EMAIL_HOST, settings.PUBLIC_HOSTS = "mail.example", ["farm.example"]
        user.email = "odile@farm.example"
        user.save()
        row = webhook(organisation, user, receiver.url).webhook
        marks = change(organisation, "South")
        receiver.usual = 503
        Webhook.objects.update(tries=MOST_TRIES - 1, mark=int(marks[-1]) - 1)
        with django_capture_on_commit_callbacks(execute=True):
            work(row)
        row.refresh_from_db()
        assert row.stopped_at and row.why_stopped == f"It refused (503). Nothing was taken in {MOST_TRIES} tries."
        [letter] = mail.outbox
        assert letter.to == [user.email] and receiver.url in letter.body and "Nothing was taken" in letter.body
        assert f"https://farm.example/of/{organisation.slug}/programs/webhooks/{row.pk}/" in letter.body
        wake_all()
        assert len(receiver.told) == 1
        receiver.usual = 200
        services.start_again(organisation=organisation, user=user, webhook=row, wake=lambda pk: None)
        work(row)
        assert receiver.marks[:2] == [marks[-1]] * 2

    def test_gone_is_for_good(self, organisation, user, receiver):
        row = webhook(organisation, user, receiver.url).webhook
        change(organisation, "South")
        receiver.usual = 410
        work(row)
        assert Webhook.objects.get().stopped_at and len(receiver.told) == 1

    def test_two_secrets_for_a_day(self, organisation, user, receiver):
        shown = webhook(organisation, user, receiver.url)
        newer = services.change_secret(organisation=organisation, user=user, webhook=shown.webhook)
        change(organisation, "South")
        work(shown.webhook)
        assert receiver.is_ours(shown.secret) and receiver.is_ours(newer.secret) and newer.secret != shown.secret
        Webhook.objects.update(before_until=timezone.now())
        change(organisation, "East")
        work(shown.webhook)
        assert receiver.is_ours(newer.secret) and not receiver.is_ours(shown.secret)

    @pytest.mark.parametrize("end", ["over", "ended", "gone", "out", "blind"])
    def test_no_token_no_message(self, organisation, user, receiver, end):
        row = webhook(organisation, user, receiver.url).webhook
        change(organisation, "South")
        token = Token.objects.get()
        if end == "gone":
            token.delete()
        elif end == "out":
            user.memberships.all().delete()
        elif end == "blind":
            user.memberships.update(without=["see"])
        else:
            token.ended_at = timezone.now() if end == "ended" else None
            token.ends_at = timezone.now() + timedelta(days=end == "ended")
            token.made_at = timezone.now() - timedelta(days=1)
            token.save()
        work(row)
        row.refresh_from_db()
        assert receiver.told == [] and row.stopped_at and "Choose another" in row.why_stopped

    def test_a_trial_goes_out_once_though_it_is_stopped(self, organisation, user, receiver):
        row = webhook(organisation, user, receiver.url).webhook
        given = {"organisation": organisation, "user": user, "webhook": row}
        services.stop_webhook(**given)
        woken = []
        for _ in range(2):
            services.ask_for_trial(**given, wake=woken.append)
        work(row)
        work(row)
        assert receiver.marks == ["trial"] and receiver.body()["data"] == {"organisation": organisation.slug}
        assert Attempt.objects.get().mark is None and Webhook.objects.get().trial_at is None

    def test_a_fault_of_ours_is_tried_again_later(self, organisation, user, receiver, monkeypatch):
        row = webhook(organisation, user, receiver.url).webhook
        change(organisation, "South")
        with monkeypatch.context() as broken:
            broken.setattr(sending, "post", lambda *_: 1 / 0)
            work(row)
        assert Attempt.objects.get().words.startswith("A fault in the program")
        with monkeypatch.context() as broken:
            broken.setattr(sending, "_row", lambda _: 1 / 0)
            work(row)
        row.refresh_from_db()
        assert row.state == "failed"
        due_now(row)
        wake_all()
        assert receiver.told == []
        Webhook.objects.update(heard_from_at=timezone.now() - SILENCE - timedelta(seconds=1))
        wake_all()
        assert receiver.told and Webhook.objects.get().state == "ready"

    def test_so_many_answers_are_kept(self, organisation, user, receiver, monkeypatch):
        monkeypatch.setattr(sending, "KEPT", 3)
        row = webhook(organisation, user, receiver.url).webhook
        marks = change(organisation, *(f"Site {number}" for number in range(5)))
        work(row)
        assert [str(mark) for mark in Attempt.objects.order_by("pk").values_list("mark", flat=True)] == marks[-3:]


class TestPosted:
    def test_nothing_is_followed(self, receiver):
        receiver.usual, receiver.headers = 302, {"Location": receiver.url}
        answer = posting.post(receiver.url, b"{}", {})
        assert (answer.status, answer.taken, len(receiver.told)) == (302, False, 1) and "not followed" in answer.words

    def test_who_is_slow_is_left(self, receiver, monkeypatch):
        monkeypatch.setattr(posting, "LONGEST", 0.4)
        late = Event()
        receiver.answers = [lambda: late.wait(20) and 204]
        began = time.monotonic()
        answer = posting.post(receiver.url, b"{}", {})
        late.set()
        assert answer.status == 0 and "No answer within" in answer.words and time.monotonic() - began < 5

    def test_another_name_has_no_certificate(self, receiver, settings):
        settings.WEBHOOK_HOSTS = [f"127.0.0.1:{receiver.port}"]
        answer = posting.post(f"https://127.0.0.1:{receiver.port}/", b"{}", {})
        assert answer.status == 0 and "certificate" in answer.words and receiver.told == []

    def test_nobody_there(self, receiver, settings):
        settings.WEBHOOK_HOSTS = ["localhost:9", "no.such.invalid"]
        assert posting.post("https://localhost:9/", b"{}", {}).words == "Nothing listens there."
        assert posting.post("https://no.such.invalid/", b"{}", {}).words == "The name of the host was not found."

    def test_a_name_that_leads_inside_is_refused(self, receiver, settings):
        settings.WEBHOOK_NETWORKS = []
        answer = posting.post(receiver.url, b"{}", {})
        assert answer.status == 0 and "not open to everybody" in answer.words and receiver.told == []


@pytest.mark.django_db(transaction=True)
class TestWorkers:
    def test_one_that_was_killed_is_relieved(self, receiver, certificate, settings):
        person = MembershipFactory()
        row = webhook(person.organisation, person.user, receiver.url).webhook
        marks = change(person.organisation, "South", "East")[-2:]
        # It was told at once; now once more, by a worker of its own.
        receiver.told.clear()
        Webhook.objects.update(mark=int(marks[0]) - 1, state="waiting")
        asked, go_on = Event(), Event()

        def hold() -> int:
            asked.set()
            go_on.wait(30)
            return 204

        receiver.answers = [hold]
        code = f"import django; django.setup(); from farmbuild.api.webhooks.sending import *; work_on_webhook({row.pk})"
        given = {
            "DJANGO_SETTINGS_MODULE": "farmbuild.settings",
            "DATABASE_URL": database_url(),
            "FARMBUILD_SECRET_KEY": settings.SECRET_KEY,
            "FARMBUILD_WEBHOOK_HOSTS": ",".join(settings.WEBHOOK_HOSTS),
            "FARMBUILD_WEBHOOK_NETWORKS": ",".join(map(str, settings.WEBHOOK_NETWORKS)),
            "SSL_CERT_FILE": str(certificate),
        }
        process = subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, env=os.environ | given)
        try:
            assert asked.wait(30)
            process.send_signal(signal.SIGTERM if os.name == "nt" else signal.SIGKILL)
        finally:
            process.wait(30)
        go_on.set()
        assert Webhook.objects.get().state == "working"
        wake_all()
        work(row)
        assert receiver.marks == marks[:1], "it may be at work still"
        Webhook.objects.update(heard_from_at=timezone.now() - SILENCE - timedelta(seconds=1))
        take_up_left_behind()
        assert receiver.marks == [marks[0], *marks] and receiver.names[0] == receiver.names[1]
        assert Webhook.objects.get().mark == int(marks[-1])

    def test_two_at_once_tell_each_thing_once(self, receiver):
        if connection.vendor != "postgresql":
            pytest.skip("one writer at a time")
        person = MembershipFactory()
        row = webhook(person.organisation, person.user, receiver.url).webhook
        marks = change(person.organisation, *(f"Site {number}" for number in range(12)))
        receiver.told.clear()
        Webhook.objects.update(mark=int(marks[0]) - 1)
        start = Barrier(3)

        def worker(_: int) -> None:
            try:
                start.wait()
                for _ in range(3):
                    work(row)
            finally:
                connections.close_all()

        with ThreadPoolExecutor(3) as pool:
            [*pool.map(worker, range(3))]
        work(row)
        assert receiver.marks == marks

    def test_a_database_that_is_started_anew_loses_nothing(self, receiver):
        """All sessions end while the other side thinks."""
        if connection.vendor != "postgresql":
            pytest.skip("a file is not started anew")
        person = MembershipFactory()
        row = webhook(person.organisation, person.user, receiver.url).webhook
        marks = change(person.organisation, "South", "East")[-2:]
        receiver.told.clear()
        Webhook.objects.update(mark=int(marks[0]) - 1)

        def end_all() -> int:
            others = (
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
            with connection.cursor() as cursor:
                cursor.execute(others)
            connection.close()
            return 204

        receiver.answers = [end_all]
        # Its last word finds the database again, or does not.
        with contextlib.suppress(OperationalError, InterfaceError):
            work(row)
        connection.close()
        told = Webhook.objects.get()
        assert told.state in ("working", "failed") and told.mark == int(marks[0]) - 1
        Webhook.objects.update(heard_from_at=timezone.now() - SILENCE - timedelta(seconds=1))
        take_up_left_behind()
        assert receiver.marks == [marks[0], *marks] and receiver.names[0] == receiver.names[1]
        assert Webhook.objects.get().mark == int(marks[-1])
