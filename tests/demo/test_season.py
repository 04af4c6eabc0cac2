"""The demo season at work is where it promises to be, on whatever day it is loaded, and contradicts itself nowhere."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import takewhile
from typing import Any
from unittest import mock
from zoneinfo import ZoneInfo

import pytest
from django.apps import apps
from django.core.cache import cache
from django.db import IntegrityError, connection, transaction
from django.db.models import F, Model
from django.test import Client, TestCase
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.common.guards import guards_down
from farmbuild.crew.models import Actual, BenderBooking, DayOff, Kind, Member, Schedule, Task, WorkHours
from farmbuild.demo.season import load_season
from farmbuild.demo.services import Demo
from farmbuild.hoops.fits.models import HouseFit
from farmbuild.orgs.answers.content import GROWING, columns_of, models_read, sql_of, way_to_organisation
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.answers.tokens import without_tokens
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.orgs.visitors import PAGES
from farmbuild.plans.models import Plan
from farmbuild.quotes.models import Job, QuoteLine
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot, Movement, Reservation
from tests.demo.checker import contradictions, stages
from tests.main_pages import main_pages
from tests.size import LONG
from tests.upgrades.addresses import all_arguments, patterns

PROMISED = {
    "covered": 1,
    "being sighted": 1,
    "trial hoop waiting": 1,
    "half received": 1,
    "due within a week": True,
    "problems with a photo": 1,
    "bookings of members": 2,
    "joint orders under way": 1,
    "joint orders finished": 1,
    "pipe between members": 1,
    "wishes for common stock": 1,
    "damage disputed": 1,
}
ZONE = ZoneInfo("America/New_York")
CLOCKS_GO_BACK = datetime(2027, 11, 7, 0, 30, tzinfo=ZONE)
#: All days of the week, with the ends of a year, a leap day, and the days on which clocks are changed (tz database).
DAYS = {"a Sunday on which clocks go back": CLOCKS_GO_BACK}
LEAP_DAY = datetime(2028, 2, 29, 6, 15, tzinfo=ZONE)
if LONG:
    DAYS |= {
        "the first of January, a Friday": datetime(2027, 1, 1, 9, 0, tzinfo=ZONE),
        "the Monday after clocks went ahead": datetime(2027, 3, 15, 12, 10, tzinfo=ZONE),
        "the last of December, a Thursday": datetime(2026, 12, 31, 23, 50, tzinfo=ZONE),
        "a Wednesday": datetime(2027, 6, 2, 16, 0, tzinfo=ZONE),
        "a Saturday": datetime(2027, 11, 6, 11, 45, tzinfo=ZONE),
        "the Sunday on which clocks go ahead": datetime(2027, 3, 14, 23, 59, tzinfo=ZONE),
    }


def early_fit() -> None:
    HouseFit.objects.update(house=Task.objects.filter(kind=Kind.SET, state="open").first().house)


def bend_with_what_is_lent() -> None:
    lent = BenderBooking.objects.get(state="out").bender
    now = timezone.now()
    Task.objects.filter(bender=lent, state="open").update(starts_at=now, ends_at=now + timedelta(hours=1))


#: What is made wrong, and what of it is found.
WRONG = {
    "a ridge sighted without hoops": (early_fit, "ridges"),
    "a covered house without anchors": (
        lambda: Task.objects.filter(kind=Kind.ANCHORS, state="done").update(state="open", done=0),
        "covered",
    ),
    "a house begun from its end": (
        lambda: Task.objects.filter(kind=Kind.SET, state="done").update(state="open", done=0),
        "steps",
    ),
    "work when nobody works": (lambda: WorkHours.objects.filter(day=4).delete(), "presses"),
    "work on a day off": (
        lambda: DayOff.objects.filter(person=None).update(first=F("first") - timedelta(days=365)),
        "presses",
    ),
    "a bender that is lent and bends": (bend_with_what_is_lent, "bookings"),
    "a hold that is let go": (lambda: Reservation.objects.filter(purpose="hoops").first().delete(), "holds"),
    "a trial that is done and not accepted": (
        lambda: Task.objects.filter(kind=Kind.TRIAL, state="started").update(state="done"),
        "hoops",
    ),
    "a schedule without places": (lambda: Task.objects.update(starts_at=None, ends_at=None), "schedule"),
    "a lot that came after it was used": (
        lambda: Lot.objects.filter(movements__kind=Movement.Kind.CUT).update(
            received_on=timezone.localdate() + timedelta(days=2)
        ),
        "ledger",
    ),
}


#: What the demo has no page of, and why not.
NOTHING_TO_SHOW = {
    **dict.fromkeys(
        ("hoops:bender-service-back", "hoops:bender-hoop-back", "crew:own-hoop", "crew:own-hoop-back"),
        "no service or hoop of a member is written down",
    ),
    **dict.fromkeys(
        tuple(f"plans:savings-{part}" for part in ("progress", "run", "end", "try")), "nobody looked for savings"
    ),
    **dict.fromkeys(
        tuple(f"plans:from-yard-{part}" for part in ("progress", "run", "end", "try")),
        "nobody asked what the yard gives",
    ),
    "plans:houses-as-tried": "no plan tried a change of its houses",
    "catalogue:list": "a supplier's list as it was read; the offers of the demo are typed",
    **dict.fromkeys(
        ("common:understood", "crew:own-understood"), "says of a box what was read, and is asked with what was typed"
    ),
    "crew:calendar": "at an address that is kept by its hash, and is known to whoever was shown it alone",
    **dict.fromkeys(("api:tokens", "api:token", "api:token-end"), "no other program is let in"),
    **dict.fromkeys(
        (f"api:webhook{part}" for part in ("s", "", "-trial", "-secret", "-token", "-stop", "-start", "-end")),
        "no other program is told of changes",
    ),
    "moving:export-download": "no export was asked for",
    "access:weekly-end": "at a signed address, which stands in an e-mail alone",
    **dict.fromkeys(("quotes:offered", "quotes:offered-pdf"), "at a secret address that was handed to a customer"),
    "quotes:link-end": "no link was made for the quotes of the demo",
    **dict.fromkeys(
        ("coop:cooperatives", "coop:seen-joint-stock", "coop:seen-leave"),
        "of a farm that is a member; the demo is a cooperative",
    ),
    **dict.fromkeys(
        [f"coop:seen-pipe{part}-{answer}" for part in ("", "-return") for answer in ("agree", "refuse")]
        + ["coop:pipe-agree", "coop:pipe-return-agree"],
        "of what one of two members told; the members of the demo told the manager",
    ),
    **dict.fromkeys(("coop:card-link", "coop:card-take"), "of a card that was handed to a farm"),
    "quotes:bill-new": "leads to the stages, where it is chosen what is billed",
    **dict.fromkeys(
        [f"stock:import-{part}" for part in ("run", "stop", "progress")],
        "of a file that is being read in; lots of the demo were typed",
    ),
    "sign-in-code": "asks for the code of whoever has a second step; nobody of the demo has one",
    **dict.fromkeys(("access:step-papers", "access:step-off"), "of whoever has a second step"),
    **dict.fromkeys(("access:join", "access:join-link"), "of whoever was invited, by what was handed over"),
    **dict.fromkeys(
        ("access:invitation", "access:invitation-renew", "access:invitation-withdraw"), "nobody is invited in the demo"
    ),
}
#: Between a file that is sent and its being stored there is nothing that stays.
BETWEEN = re.compile(r"(?:[-:])(?:preview|store)$")
#: These lead on to a page by what they are asked.
LEADS_ON = {
    "home",
    "set-password",
    "catalogue:offer-wanted",
    "crew:day-tick",
    "crew:own-before",
    "crew:own-page-before",
    "stock:season-end-scrap",
    "admin-sign-in",
}
#: A list of nothing, and a table without rows.
EMPTY = re.compile(r'<div class="empty">|<tr role="row" class="none">')


def why_not(client: Client, name: str, given: dict[str, object]) -> str:
    """Why the page shows nothing; "" where it does, or where it is a form to send or leads on to another page."""
    address = reverse(name, kwargs=given)
    answer = client.get(address)
    if answer.status_code == 302:
        return "" if name in LEADS_ON else f"{address} leads back"
    if answer.status_code not in (200, 405):
        return f"{address} answers {answer.status_code}"
    page = answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/html")
    return f"{address} is empty" if page and EMPTY.search(answer.content.decode()) else ""


#: Statements of a main page at most.
ASKED_AT_MOST = 12


#: Main pages with parts that are kept.
KEPT = (
    "crew", "today's list", "plan", "cutting", "houses", "availability", "stock", "ledger", "orders", "house",
    "house form", "take-off",
)  # fmt: skip
#: Main pages that are kept whole, and of each a row that it shows with another value in it.
KEPT_WHOLE: dict[str, Callable[[], object]] = {
    "take-off": lambda: House.objects.update(length=F("length") + 5000),
    "cutting": lambda: Plan.objects.update(name="Another season"),
    "job": lambda: Job.objects.update(note="Another note"),
    "quote": lambda: QuoteLine.objects.update(quantity=F("quantity") + 1),
    "costs": lambda: House.objects.update(name="Another house"),
    "accounts": lambda: Member.objects.update(name="Another member"),
}


def tomorrow() -> None:
    now = timezone.now() + timedelta(days=1)
    timezone.now = lambda: now


#: What makes it another reader's page, or another day's.
OTHERWISE: dict[str, Callable[[], object]] = {
    "language": lambda: User.objects.update(language="es"),
    "units": lambda: Organisation.objects.update(unit_system="metric"),
    "role": lambda: Membership.objects.update(role="looks", also=["costs", "record", "benders", "plan"]),
    "name": lambda: User.objects.update(first_name="Somebody", last_name="Else"),
    "currency": lambda: Organisation.objects.update(currency="JPY"),
    "day": tomorrow,
}


def silent_columns(model: type[Model], organisation: int) -> list[str]:
    """Columns of which another value leaves the text of the table as it is; guards and constraints look away."""
    rows = model._base_manager.filter(**{f"{way_to_organisation(model)}__in": [organisation]})
    row, sql, found = rows.values().latest("pk"), sql_of(model, connection.vendor), []
    table, key = model._meta.db_table, model._meta.pk.column
    with transaction.atomic(), connection.cursor() as cursor:
        # Alone it is soon read, however often.
        cursor.execute(f'DELETE FROM "{table}" WHERE "{key}" <> %s', [row[model._meta.pk.attname]])
        cursor.execute(sql, [organisation])
        before = cursor.fetchone()
        for field in columns_of(model):
            # Of another organisation a row is gone from the text, whatever else it says.
            if field.primary_key:
                continue
            value = None if row[field.attname] is not None and field.null else 7_654_321
            cursor.execute(f'SELECT quote("{field.column}") FROM "{table}"')
            [as_it_was] = cursor.fetchone()
            cursor.execute(f'UPDATE "{table}" SET "{field.column}" = %s', [value])
            cursor.execute(sql, [organisation])
            if cursor.fetchone() == before:
                found.append(f"{model._meta.label}.{field.name}")
            # Not rolled back: where guards are down, SQLite then reads its whole schema anew.
            cursor.execute(f'UPDATE "{table}" SET "{field.column}" = {as_it_was}')
        cursor.execute(sql, [organisation])
        assert cursor.fetchone() == before, model
        transaction.set_rollback(True)
    return found


class TestLeapDay(TestCase):
    """Loaded once, on a leap day that is a Tuesday, for all that look at it."""

    season: Demo

    @classmethod
    def setUpClass(cls) -> None:
        cls.enterClassContext(mock.patch.object(timezone, "now", lambda: LEAP_DAY))
        super().setUpClass()

    @classmethod
    def setUpTestData(cls) -> None:
        cls.season = load_season()

    def test_it_contradicts_itself_nowhere_and_is_where_it_promises(self) -> None:
        assert contradictions(self.season.organisation) == []
        assert stages(self.season.organisation) == PROMISED

    def test_what_is_made_wrong_is_found(self) -> None:
        for wrong, (change, found) in WRONG.items():
            with transaction.atomic():
                change()
                told = contradictions(self.season.organisation, only=found)
                transaction.set_rollback(True)
            assert told, wrong

    def test_another_day_it_is_as_it_was_loaded(self) -> None:
        rows = self.rows()
        now = timezone.now() + timedelta(days=9)
        with mock.patch.object(timezone, "now", lambda: now):
            again = load_season()
        assert (again.fresh, again.plan) == (False, self.season.plan)
        assert self.rows() == rows

    def test_every_kind_of_page_has_something_to_show(self) -> None:
        clients = {user.visitor: Client() for user in User.objects.all()}
        for user in User.objects.all():
            clients[user.visitor].force_login(user)
        without = {}
        for name, route, wanted in patterns():
            client = clients[name in PAGES and name.startswith(("crew:own", "coop:"))]
            found = [{}] if not wanted else all_arguments(name, route)
            reasons = (why_not(client, name, given) for given in found)
            # One page of a kind is enough; many pages are for one state of their row alone.
            if len(whys := [*takewhile(bool, reasons)]) == len(found) and not BETWEEN.search(name):
                without[name] = whys
        # The hours of a week begin with its Monday, of which there may be none yet.
        if today_of(organisation=self.season.organisation).weekday() == 0:
            without.pop("crew:hours", None)
        assert sorted(without.keys() - NOTHING_TO_SHOW.keys()) == [], without
        assert sorted(NOTHING_TO_SHOW.keys() - without.keys()) == []
        with transaction.atomic():
            DayOff.objects.all().delete()
            assert why_not(clients[False], "crew:days-off", {}), "a page without rows is not found"
            transaction.set_rollback(True)

    def test_main_pages_ask_little(self) -> None:
        client = Client()
        client.force_login(self.season.user)
        asked = {}
        for name, path in main_pages().items():
            # The first view fills what is kept of houses that stay as they are.
            client.get(path)
            with CaptureQueriesContext(connection) as queries:
                assert client.get(path).status_code == 200, name
            asked[name] = len(queries)
        assert {name: n for name, n in asked.items() if n > ASKED_AT_MOST} == {}

    def test_what_pages_keep_rests_on_all_that_they_read(self) -> None:
        client = Client()
        client.force_login(self.season.user)
        tables = {model._meta.db_table: model._meta.label for model in models_read()}
        tables[User._meta.db_table] = "names"
        parts: dict[str, list[str]] = {}
        get = Answers.get

        def watched(answers: Answers, name: str, work: Callable[[], Any], *by: object, without: Any = ()) -> Any:
            def working() -> Any:
                with CaptureQueriesContext(connection) as queries:
                    found = work()
                asked = {table for one in queries for table in re.findall(r'(?:FROM|JOIN) "(\w+)"', one["sql"])}
                labels = {table: tables.get(table, "left out") for table in asked}
                parts.setdefault(name, []).extend(
                    f"{name} reads {table}"
                    for table, label in labels.items()
                    if label == "left out" or label in without or label.split(".")[0] in without
                )
                return found

            return get(answers, name, working, *by, without=without)

        pages = main_pages()
        addresses = [pages[name] for name in KEPT] + [reverse("plans:plans"), reverse("crew:schedule", args=[1])]
        with mock.patch.object(Answers, "get", watched):
            for address in addresses:
                cache.clear()
                assert client.get(address).status_code == 200, address
        assert [words for found in parts.values() for words in found] == []
        assert len(parts) >= 16

    def test_pages_kept_whole_are_those_of_their_reader_day_and_rows(self) -> None:
        """As made anew each time, and not what was kept of before."""
        client, pages = Client(), main_pages()
        client.force_login(self.season.user)

        def shown(path: str) -> str:
            answer = client.get(path)
            assert answer.status_code == 200, path
            return without_tokens(answer.content.decode())

        told = set()
        for name, change in KEPT_WHOLE.items():
            first = shown(pages[name])
            assert shown(pages[name]) == first
            others = OTHERWISE if LONG or name in ("job", "accounts") else {}
            for what, other in {**others, "row": change}.items():
                with transaction.atomic(), mock.patch.object(timezone, "now", timezone.now):
                    other()
                    found = shown(pages[name])
                    cache.clear()
                    assert found == shown(pages[name]), (name, what)
                    assert what != "row" or found != first, name
                    told |= {what} if found != first else set()
                    transaction.set_rollback(True)
        assert told == {*OTHERWISE, "row"}, "what nobody shows proves nothing"

    def test_pages_kept_whole_are_made_once(self) -> None:
        client, pages = Client(), main_pages()
        client.force_login(self.season.user)
        made: list[str] = []
        get = Answers.watched

        def watched(answers: Answers, name: str, work: Callable[[], Any], *by: object) -> Any:
            return get(answers, name, lambda: made.append(name) or work(), *by)

        with mock.patch.object(Answers, "watched", watched):
            for name in KEPT_WHOLE:
                client.get(pages[name])
                made.clear()
                client.get(pages[name])
                assert made == [], name

    @pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL has no way around its constraints")
    def test_every_value_of_a_row_is_told(self) -> None:
        organisation, silent = self.season.organisation.pk, []
        tables = [model._meta.db_table for model in models_read()]
        with transaction.atomic(), guards_down(tables), connection.cursor() as cursor:
            cursor.execute("PRAGMA ignore_check_constraints = ON")
            for model in models_read():
                ours = {f"{way_to_organisation(model)}__in": [organisation]}
                if model._meta.label not in GROWING and model._base_manager.filter(**ours).exists():
                    silent += silent_columns(model, organisation)
            cursor.execute("PRAGMA ignore_check_constraints = OFF")
        assert silent == []

    def test_rows_that_are_told_by_their_keys_never_change(self) -> None:
        for label in GROWING:
            model = apps.get_model(label)
            _, column, *_ = columns_of(model)
            with pytest.raises(IntegrityError), transaction.atomic():
                model._base_manager.update(**{column.attname: F(column.attname)})

    def rows(self) -> dict[str, list[tuple[object, ...]]]:
        return {
            model._meta.label: list(model.objects.order_by("pk").values_list())
            for model in (House, Task, Actual, Movement, Reservation, BenderBooking, PurchaseOrderLine, Schedule)
        }


@pytest.mark.skipif(
    not LONG, reason="in the long run: else SQLite has the leap day, and PostgreSQL a Sunday in test_thrown_away.py"
)
@pytest.mark.django_db
@pytest.mark.parametrize("day", DAYS)
def test_any_day(monkeypatch, day):
    monkeypatch.setattr(timezone, "now", lambda: DAYS[day])
    season = load_season()
    assert contradictions(season.organisation) == []
    assert stages(season.organisation) == PROMISED
