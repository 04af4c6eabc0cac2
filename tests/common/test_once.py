"""A form counts once however often it arrives, and what the database gave up is tried again."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.contrib import messages
from django.db import OperationalError, connection, transaction
from django.http import HttpResponse
from django.shortcuts import redirect
from django.test import Client
from django.urls import path
from django.utils import timezone

from farmbuild.common.models import Press
from farmbuild.common.once import KEPT, TRIES, counted_once
from farmbuild.orgs import gatekeeper
from farmbuild.stock.models import Lot, Movement
from farmbuild.urls import urlpatterns as site
from tests.factories import LotFactory, MaterialFactory

SENT = {"quantity": 3, "house": "", "reason": "gate by the road", "paper": "", "once": "a" * 32}


@pytest.fixture
def lot(organisation):
    return LotFactory(material=MaterialFactory(organisation=organisation))


def issue(client: Client, lot: Lot, **changes):
    return client.post(f"/stock/lots/{lot.pk}/issue/", SENT | changes, follow=True)


def on_hand(lot: Lot) -> int:
    lot.refresh_from_db()
    return lot.on_hand


def test_a_form_sent_again_counts_once_and_leads_to_the_same_page(signed_in, lot):
    first = issue(signed_in, lot)
    again = issue(signed_in, lot)
    assert on_hand(lot) == 17
    assert again.redirect_chain[-1] == first.redirect_chain[-1]
    assert "recorded already" in again.content.decode()


def test_another_token_or_other_figures_are_another_press(signed_in, lot):
    issue(signed_in, lot)
    issue(signed_in, lot, once="b" * 32)
    issue(signed_in, lot, quantity=1)
    assert on_hand(lot) == 13


def test_the_form_of_another_person_is_its_own(signed_in, lot, organisation):
    from tests.factories import MembershipFactory

    issue(signed_in, lot)
    other = Client()
    other.force_login(MembershipFactory(organisation=organisation).user)
    issue(other, lot)
    assert on_hand(lot) == 14


def test_what_was_refused_may_be_sent_again_once_it_is_put_right(signed_in, lot):
    issue(signed_in, lot, quantity=21)
    assert on_hand(lot) == 20 and not Press.objects.exists()
    Lot.objects.filter(pk=lot.pk).update(on_hand=30)
    Movement.objects.create(lot=lot, kind=Movement.Kind.RECEIVE, quantity=10)
    issue(signed_in, lot, quantity=21)
    assert on_hand(lot) == 9


def test_a_form_without_a_token_still_works(signed_in, lot):
    issue(signed_in, lot, once="")
    issue(signed_in, lot, once="")
    assert on_hand(lot) == 14


def test_presses_are_forgotten_after_a_month(signed_in, lot, user):
    for day, token in ((KEPT, "old"), (KEPT - timedelta(hours=1), "young")):
        row = Press.objects.create(user=user, token=token, digest="")
        Press.objects.filter(pk=row.pk).update(at=timezone.now() - day)
    issue(signed_in, lot)
    assert set(Press.objects.values_list("token", flat=True)) == {"young", SENT["once"]}


@pytest.mark.django_db(transaction=True)
def test_pressed_by_several_at_the_same_moment_it_counts_once(user, lot):
    gate = threading.Barrier(4)

    def press(_: int) -> int:
        client = Client()
        client.force_login(user)
        gate.wait()
        try:
            return issue(client, lot).status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(press, range(4))) == [200] * 4
    assert on_hand(lot) == 17
    assert Movement.objects.filter(lot=lot, kind=Movement.Kind.ISSUE).count() == 1


# What another try puts right

MEET = threading.Barrier(2)
TRIED: list[str] = []


def crossing(request, first: int, second: int):
    """Locks one lot and then the other; two who come from both ends meet in the middle."""
    TRIED.append(request.path)
    messages.success(request, "crossed")
    Lot.objects.select_for_update().get(pk=first)
    if len(TRIED) <= 2:
        MEET.wait(timeout=10)
    Lot.objects.select_for_update().get(pk=second)
    for pk in (first, second):
        Movement.objects.create(lot_id=pk, kind=Movement.Kind.COUNT, quantity=1)
    return redirect("stock:lots")


class _Deadlock(Exception):
    sqlstate = "40P01"


def never(request):
    TRIED.append(request.path)
    raise OperationalError("deadlock detected") from _Deadlock()


def full(request):
    TRIED.append(request.path)
    raise OperationalError("disk full")


def half(request):
    lot = Lot.objects.get()
    Movement.objects.create(lot=lot, kind=Movement.Kind.COUNT, quantity=1)
    with transaction.atomic():
        raise ValueError("a fault in the program")
    return HttpResponse()


urlpatterns = [
    path("cross/<int:first>/<int:second>/", crossing),
    path("never/", never),
    path("full/", full),
    path("half/", half),
    *site,
]
counted_once(urlpatterns)


@pytest.fixture
def open_pages(monkeypatch):
    """Pages of this file have no gate."""
    own = {f"{__name__}.{view.__name__}" for view in (crossing, never, full, half)}
    monkeypatch.setattr(gatekeeper, "FREE", gatekeeper.FREE | own)


@pytest.mark.postgres
@pytest.mark.usefixtures("open_pages")
@pytest.mark.urls(__name__)
@pytest.mark.django_db(transaction=True)
def test_a_deadlock_is_tried_again_before_anybody_is_told(user, lot):
    TRIED.clear()
    other = LotFactory(material=lot.material)

    def cross(way: tuple[int, int]) -> list[str]:
        client = Client()
        client.force_login(user)
        try:
            answer = client.post(f"/cross/{way[0]}/{way[1]}/", follow=True)
            return [str(said) for said in answer.context["messages"]]
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        said = list(pool.map(cross, [(lot.pk, other.pk), (other.pk, lot.pk)]))
    assert said == [["crossed"], ["crossed"]]
    assert len(TRIED) == 3
    assert Movement.objects.filter(kind=Movement.Kind.COUNT).count() == 4


@pytest.mark.usefixtures("open_pages")
@pytest.mark.urls(__name__)
def test_tries_are_bounded_and_then_it_is_said(signed_in):
    TRIED.clear()
    answer = signed_in.post("/never/")
    assert answer.status_code == 503 and len(TRIED) == TRIES
    assert "Nothing was done" in answer.content.decode()


@pytest.mark.usefixtures("open_pages")
@pytest.mark.urls(__name__)
def test_what_no_other_try_puts_right_is_said_at_once(signed_in):
    TRIED.clear()
    assert signed_in.post("/full/").status_code == 503
    assert len(TRIED) == 1


@pytest.mark.usefixtures("open_pages")
@pytest.mark.urls(__name__)
def test_a_fault_leaves_nothing_half_done(signed_in, lot):
    signed_in.raise_request_exception = False
    before = Movement.objects.count()
    assert signed_in.post("/half/").status_code == 500
    assert Movement.objects.count() == before
