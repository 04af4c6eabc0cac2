"""Every page, sheet and workbook shows the day and the time of the organisation's time zone."""

from __future__ import annotations

import ast
import io
import re
import zipfile
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime
from urllib.parse import urlsplit

import pytest
from django.db import transaction
from django.template import defaulttags
from django.urls import reverse
from django.utils import timezone
from django.utils.html import strip_tags

from farmbuild.buying.models import PurchaseOrder, Receipt
from farmbuild.crew import feeds
from farmbuild.crew.models import Actual, Person
from farmbuild.hoops.batches.models import TrialHoop
from farmbuild.hoops.fits.models import HouseFit
from farmbuild.orgs.clock import today, today_of, zone_in_force
from farmbuild.stock.models import StockCount
from tests.factories import OrganisationFactory
from tests.size import sized
from tests.walks import PAGES_OF_ONE_KIND, kind_of
from tests.where import ROOT

#: Half past midnight of the 11th in Auckland, 13 hours ahead of UTC in November (tz database).
NOW = datetime(2026, 11, 10, 11, 30, tzinfo=UTC)
THERE, IN_UTC = "11 November 2026", "10 November 2026"


@pytest.fixture(scope="module")
def half_past_midnight():
    class Clock(datetime):
        @classmethod
        def now(cls, tz=None):
            return NOW.astimezone(tz)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(timezone, "now", lambda: NOW)
        patch.setattr(defaulttags, "datetime", Clock)
        yield


@pytest.fixture(scope="module")
def loaded(half_past_midnight, django_db_setup, django_db_blocker):
    """The demo season, loaded once for all tests of this file; nothing of it stays in the database."""
    from farmbuild.demo import services

    enter = services.create_organisation
    with django_db_blocker.unblock(), pytest.MonkeyPatch.context() as patch, transaction.atomic():
        patch.setattr(
            services, "create_organisation", lambda **given: enter(**given | {"time_zone": "Pacific/Auckland"})
        )
        yield services.load_demo()
        transaction.set_rollback(True)


@pytest.fixture
def demo(loaded, db):
    return loaded


def text_of(response) -> str:
    page = response.content.decode()
    page = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.S)
    return " ".join(strip_tags(page).split())


def workbook_text(data: bytes) -> str:
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        return " ".join(book.read(name).decode() for name in book.namelist() if name.endswith(".xml"))


def pages_from(client, first: str, most: int = 400) -> Iterator[tuple[str, object]]:
    """Answers of all that can be reached by links from ``first``, of each kind of address and its keys."""
    waiting, asked, seen = [first], set(), Counter()
    while waiting and len(asked) < most:
        address = waiting.pop(0)
        parts = urlsplit(address)
        # A page that is asked for a day shows that day.
        if "2026-" in address or parts.netloc or not parts.path.startswith("/") or "/static/" in parts.path:
            continue
        # One or two of each kind of row are enough; ten of a kind say the same.
        kind = kind_of(parts.path), tuple(sorted(re.findall(r"(\w+)=", parts.query)))
        if address in asked or seen[kind] >= sized(1, PAGES_OF_ONE_KIND):
            continue
        asked.add(address)
        seen[kind] += 1
        response = client.get(address, follow=True)
        if response.status_code != 200:
            continue
        yield address, response
        if response["Content-Type"].startswith("text/html"):
            for link in re.findall(r'href="([^"#]+)', response.content.decode()):
                link = link.replace("&amp;", "&")
                waiting.append(parts.path + link if link.startswith("?") else link)


def test_all_pages_show_the_day_of_the_organisation(demo, client):
    client.force_login(demo.user)
    told, workbooks = {}, 0
    for address, response in pages_from(client, "/houses/"):
        kind = response["Content-Type"]
        if kind.startswith("text/html"):
            text = text_of(response)
            assert IN_UTC not in text, address
            assert not re.search(r"\bUTC\b", text) or "organisation" in address, address
            assert not re.search(r'value="2026-11-10', response.content.decode()), address
            # The foot of what is printed is on every page; it does not count.
            said = text.split("Printed")[0]
            told[address] = THERE in said or "11 Nov 2026" in said
        elif "spreadsheet" in kind:
            workbooks += 1
            inside = workbook_text(b"".join(response) if response.streaming else response.content)
            assert "2026-11-10" not in inside, address
            assert IN_UTC not in inside, address
    assert len(told) > 150
    assert sum(told.values()) > 20
    assert workbooks


def test_what_was_done_is_shown_by_the_clock_of_the_organisation(demo, client):
    """House, ledger, trial hoop, fit, task, plan, count and receipt, which once had a zone each."""
    client.force_login(demo.user)
    receipt = Receipt.objects.first()
    trial, fit, actual = TrialHoop.objects.first(), HouseFit.objects.first(), Actual.objects.latest("pk")
    for address in (
        reverse("sites:house", args=[fit.house.slug]),
        reverse("stock:ledger"),
        reverse("hoops:batch-attempt", args=[trial.batch.number, trial.attempt]),
        reverse("hoops:fit", args=[fit.house.slug, fit.pk]),
        reverse("crew:task", args=[actual.task_id]),
        reverse("plans:plan", args=[demo.plan.number]),
        reverse("stock:count", args=[StockCount.objects.first().number]),
        reverse("buying:receipt", args=[receipt.order.number, receipt.number]),
    ):
        response = client.get(address)
        assert response.status_code == 200, address
        assert THERE in text_of(response).split("Printed")[0], address


def test_a_form_begins_with_the_day_of_the_organisation(demo, client):
    client.force_login(demo.user)
    draft = PurchaseOrder.objects.filter(state="draft").first()
    for address in (reverse("stock:receive"), reverse("buying:send", args=[draft.number])):
        assert 'value="2026-11-11"' in client.get(address).content.decode(), address


def test_a_calendar_is_made_by_the_clock_of_the_organisation(demo, client, monkeypatch):
    """A feed has no sign-in, so its organisation is that of its address."""
    seen = []
    feed = feeds.make_feed(organisation=demo.organisation, user=demo.user, person=Person.objects.first())
    maker = feeds.MAKERS["person"]
    monkeypatch.setitem(feeds.MAKERS, "person", lambda row: (seen.append(today()), maker(row))[1])
    assert client.get(feed.get_absolute_url()).status_code == 200
    assert seen == [date(2026, 11, 11)]


def test_a_request_leaves_no_zone_behind(demo, client):
    client.force_login(demo.user)
    client.get("/houses/")
    assert timezone.get_current_timezone_name() == "UTC"


def test_the_day_of_a_filter_begins_at_midnight_there(demo, client):
    """All movements of the demo were made in the first hour of the 11th: none is of the 10th."""
    client.force_login(demo.user)
    assert len(client.get("/stock/ledger/?since=2026-11-11&until=2026-11-11").context["table"].data) > 0
    assert len(client.get("/stock/ledger/?since=2026-11-10&until=2026-11-10").context["table"].data) == 0


def test_today_is_the_organisation_s(half_past_midnight):
    farm = OrganisationFactory.build(time_zone="Pacific/Auckland")
    assert today_of(organisation=farm) == date(2026, 11, 11)
    assert today() == date(2026, 11, 10)
    with zone_in_force(farm):
        assert today() == date(2026, 11, 11)
    assert today_of(organisation=OrganisationFactory.build(time_zone="Pacific/Honolulu")) == date(2026, 11, 10)
    assert today_of(organisation=OrganisationFactory.build()) == date(2026, 11, 10)


#: The computer's own clock, and the day of a moment before it is brought to the zone.
_ASKED = re.compile(r"(^|\.)(date\.today|datetime\.(now|utcnow|today)|localdate)$")
_NOT_BROUGHT = re.compile(r"(\bnow\(\)|_at|\bat|\bwhen)\.(date\(\)|strftime\(.*\))$")
_CLOCK = ROOT / "farmbuild" / "orgs" / "clock.py"


def asked_wrongly(source: str) -> list[str]:
    """Expressions that take a day by another clock than the organisation's."""
    tree = ast.parse(source)
    # ``localdate(moment)`` is the day of that moment; without one it is today, whoever's.
    fine = {id(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call) and node.args}
    return [
        text
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute | ast.Name | ast.Call)
        and (text := ast.unparse(node))
        and ((_ASKED.search(text) and not (id(node) in fine and "localdate" in text)) or _NOT_BROUGHT.search(text))
    ]


def test_no_code_asks_another_clock():
    found = {
        str(path.relative_to(ROOT)): wrong
        for path in sorted((ROOT / "farmbuild").rglob("*.py"))
        if path != _CLOCK and "migrations" not in path.parts and (wrong := asked_wrongly(path.read_text("utf-8")))
    }
    assert found == {}


@pytest.mark.parametrize(
    ("source", "wrong"),
    [
        ("x = date.today()", True),
        ("f(initial=date.today)", True),
        ("x = datetime.datetime.now()", True),
        ("x = timezone.localdate()", True),
        ("x = timezone.now().date()", True),
        ("x = order.sent_at.date()", True),
        ("x = timezone.localdate(order.sent_at)", False),
        ("x = order.sent_at.astimezone(zone).date()", False),
        ("x = timezone.now()", False),
    ],
)
def test_what_the_rule_finds(source, wrong):
    assert bool(asked_wrongly(source)) is wrong


def test_no_template_takes_the_day_of_a_moment_in_utc():
    files = sorted((ROOT / "templates").rglob("*.html"))
    assert len(files) > 100
    wrong = re.compile(r"\.date\b\s*(\||}}|%})|}}\s*UTC\b")
    assert [str(path.relative_to(ROOT)) for path in files if wrong.search(path.read_text("utf-8"))] == []


def test_the_time_zone_is_set_with_the_organisation(organisation, signed_in):
    page = signed_in.post(reverse("orgs:organisation"), form_values(signed_in) | {"time_zone": "Europe/Vienna"})
    assert page.status_code == 302
    organisation.refresh_from_db()
    assert organisation.time_zone == "Europe/Vienna"
    page = signed_in.post(reverse("orgs:organisation"), form_values(signed_in) | {"time_zone": "Mars/Olympus"})
    assert set(page.context["form"].errors) == {"time_zone"}


def form_values(client) -> dict[str, str]:
    form = client.get(reverse("orgs:organisation")).context["form"]
    return {field.html_name: field.value() for field in form if field.value() is not None}
