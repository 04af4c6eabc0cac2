"""The pages of the demo season as people see them who may not do everything: no money, and nothing that is refused."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from html import unescape
from io import BytesIO
from urllib.parse import urlsplit

import pytest
from django.db import transaction
from django.http import HttpResponseNotFound
from django.test import Client
from django.urls import Resolver404, resolve
from openpyxl import load_workbook

from farmbuild import urls
from farmbuild.measure import NOT_SHOWN
from farmbuild.orgs.acts import READY_SETS, Role
from farmbuild.orgs.gates import FREE, lets
from farmbuild.orgs.models import Organisation
from tests.access.people import STRANGER, people_of
from tests.upgrades.addresses import addresses
from tests.walks import load

pytestmark = pytest.mark.django_db
WITHOUT_COSTS = (Role.LOOKS, Role.YARD, Role.CREW)
#: $12.50, 12.50 USD, and whatever stands where an amount was left out by the last guard alone.
MONEY = re.compile(rf"\$\s?\d|\bUSD\s?\d|\d\s?USD\b|{NOT_SHOWN.replace(' ', chr(92) + 's')}")
LINK = re.compile(r'<a\b[^>]*\bhref="([^"]*)"')
FORM = re.compile(r"<form\b([^>]*)>")
#: A starter is shipped, and every week has its sheet.
OF_NO_ROW = ("sites:house-create", "crew:week-sheet")
ACTION = re.compile(r'\baction="([^"]*)"')


@pytest.fixture(scope="module")
def season(django_db_setup, django_db_blocker) -> Iterator[dict[str, Client]]:
    """Signed in as each role and as somebody of another organisation. Nothing of it stays in the database."""
    with django_db_blocker.unblock(), transaction.atomic():
        organisation = load().organisation
        clients = {}
        for who, user in people_of(organisation).items():
            clients[who] = Client()
            if user:
                clients[who].force_login(user)
        clients["paths"] = [(name, found) for name, found in addresses() if name not in FREE]
        yield clients
        transaction.set_rollback(True)


@contextmanager
def taken_back():
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def name_of(address: str, page: str) -> str | None:
    path = urlsplit(unescape(address)).path or page
    try:
        return resolve(path).view_name
    except Resolver404:
        return None


def shut(html: str, page: str, role: str) -> Iterator[str]:
    """Where its links and forms lead that this role is refused."""
    acts = READY_SETS[Role(role)]
    asked = [(href, "GET") for href in LINK.findall(html)]
    for tag in FORM.findall(html):
        action = ACTION.search(tag)
        asked.append((action[1] if action else "", "POST" if 'method="post"' in tag else "GET"))
    for address, method in asked:
        name = name_of(address, page)
        if name and ":" in name and not lets(name, acts, method):
            yield f"{method} {name}"


@pytest.mark.parametrize("role", WITHOUT_COSTS)
def test_pages_show_no_money_and_nothing_that_is_refused(season, role):
    money, refused, seen = [], [], 0
    for name, found in season["paths"]:
        if not found or not lets(name, READY_SETS[role], "GET"):
            continue
        answer = season[role].get(found[0])
        # Some rows have no such page, such as the end of a batch that is over.
        assert answer.status_code in (200, 302, 404, 405), (name, answer.status_code)
        if answer.status_code != 200 or answer.streaming:
            continue
        if answer["Content-Type"].startswith("text/html"):
            html = answer.content.decode()
            said = re.sub(r"<[^>]*>", " ", html.partition("<main")[2])
            money += [(name, match[0]) for match in MONEY.finditer(said)]
            refused += [(name, where) for where in shut(html, found[0], role)]
            seen += 1
        elif "spreadsheet" in answer["Content-Type"]:
            cells = [
                str(cell)
                for sheet in load_workbook(BytesIO(answer.content), read_only=True)
                for row in sheet.iter_rows(values_only=True)
                for cell in row
                if isinstance(cell, str)
            ]
            # An empty list to fill in has boxes for costs, and none in them.
            money += [(name, cell) for cell in cells if MONEY.search(cell)]
    assert not money
    assert not refused
    assert seen > {Role.LOOKS: 50, Role.YARD: 80, Role.CREW: 15}[role]


def test_rows_of_others_are_not_found(season, monkeypatch):
    """By whatever address, read or sent to: the owner of another organisation learns nothing of what is here."""
    # Hundreds of times the same page, which other tests read.
    monkeypatch.setattr(urls, "handler404", lambda request, exception: HttpResponseNotFound(), raising=False)
    reached, asked = [], 0
    for name, found in season["paths"]:
        if not found or not resolve(found[0]).kwargs or name in OF_NO_ROW:
            continue
        asked += 1
        for method in ("GET", "POST"):
            if (name, method) == ("crew:day-tick", "GET"):
                # Leads to one's own day, whatever task it names.
                continue
            with taken_back():
                status = season[STRANGER].generic(method, found[0]).status_code
            if status not in (404, 405):
                reached.append((name, method, status))
    assert not reached and asked > 150
    assert Organisation.objects.count() > 1
