"""The pages and files of the demo season, each fetched once, for all tests that read what they say."""

from __future__ import annotations

import json
import re
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from html import unescape
from typing import TYPE_CHECKING, Any
from unittest.mock import patch
from urllib.parse import urlsplit

from django.http.response import HttpResponseBase
from django.urls import resolve

from tests.languages.marks import marked
from tests.loaded import loaded
from tests.size import LONG, sized
from tests.upgrades.addresses import GIVEN, addresses

if TYPE_CHECKING:
    from django.test import Client

#: A walk for each system of units, and so one for each decimal sign.
SIGN = {"imperial": ".", "metric": ","}
#: What is true of the demo anyway.
AS_IT_IS = {"unit_system": "imperial", "decimal_sign": "."}
#: Fields in which people type; what stands there is shown as it was typed.
TYPED = frozenset(
    """
    address code condition contact first_name last_name name note problem reason reference source title username what
    disputed_why tax_name answer
    out_condition back_condition kept_at slug browser
    corner_stake damage_reason exclusions how number paper sent_how supplier_code told yield_source
    """.split()  # noqa: SIM905
)
#: It answers with no page of its own, and ends the walk.
NO_PAGES_OF_CREWS = frozenset({"sign-out"})
#: Enough to find each kind of page; pages of one kind differ only in their rows.
PAGES_OF_ONE_KIND = 2
#: Of these a row is like another only in the same state: what can be done with it, and so is linked, goes by that.
OF_MANY_STATES = {"buying:order", "crew:task", "hoops:batch", "plans:plan", "quotes:quote", "sites:house", "stock:lot"}
LINK = re.compile(r'<a\b[^>]*\bhref="([^"]*)"')


@cache
def kind_of(path: str) -> tuple[str, ...]:
    """The address with names and numbers blanked by Django's own resolver: one value a kind of page."""
    match = resolve(path)
    return (match.view_name, *sorted(match.kwargs))


def walk(
    client: Client, start: str = "/houses/", most: Callable[[str], int] = lambda name: PAGES_OF_ONE_KIND
) -> Iterator[tuple[str, int, HttpResponseBase]]:
    """Pages reachable by links from ``start``: address, number in its kind, and the answer.

    ``most``: so many of a kind at most, by the name of the address.
    """
    queue, seen, kinds = deque([start]), {start}, {}
    while queue:
        path = queue.popleft()
        kind = kind_of(path)
        if kinds.get(kind, 0) >= most(kind[0]) or path.startswith("/admin/"):
            continue
        kinds[kind] = kinds.get(kind, 0) + 1
        answer = client.get(path)
        if answer.status_code == 302:
            # The page that it leads on to, with what the address asks of it; no way out to the sign-in.
            path = urlsplit(answer.headers["Location"]).path
            assert path != "/sign-in/", kind
            answer = client.get(answer.headers["Location"])
        assert answer.status_code == 200, (path, answer.status_code)
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        yield path, kinds[kind], answer
        for href in LINK.findall(answer.content.decode()):
            target = urlsplit(unescape(href))
            if not target.netloc and target.path.startswith("/") and target.path not in seen:
                seen.add(target.path)
                queue.append(target.path)


@dataclass(frozen=True)
class Answer:
    status: int
    #: Its type, as ``text/html``.
    kind: str
    body: bytes

    @classmethod
    def of(cls, answer: HttpResponseBase) -> Answer:
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        return cls(answer.status_code, answer.headers.get("Content-Type", "").partition(";")[0], body)

    @property
    def page(self) -> str:
        """The page, where it is one that answers; else nothing."""
        return self.body.decode() if self.status == 200 and self.kind == "text/html" else ""


@dataclass(frozen=True)
class Walk:
    #: What links lead to.
    linked: dict[str, Answer]
    #: By name of address, all that the resolver knows: what links lead to, or else of a row that is there; in the long
    #: run of its first and last row. Those of visitors as one of them.
    named: dict[str, dict[str, Answer]]
    #: What people called things, the longest first: it stays as they typed it.
    typed: list[str]
    #: Those of ``linked`` and ``named`` in Spanish, with marks around all that is put into it, where it was asked for.
    marked: dict[str, str]
    #: Pages that a crew and a visitor open, in Spanish with such marks.
    spanish: dict[str, str]
    #: All that somebody typed into a field of ``TYPED``, the longest first.
    typed_names: list[str]


def load(**own: Any) -> Any:
    """The demo season, with these details of its organisation."""
    from farmbuild.demo import services

    enter, add = services.create_organisation, services.add_starting_catalogue
    # As it is without a word.
    own = {name: value for name, value in own.items() if AS_IT_IS.get(name) != value}
    with (
        patch.object(services, "create_organisation", lambda **given: enter(**given | own)),
        # The invented season of the demo names materials of that catalogue.
        patch.object(services, "add_starting_catalogue", lambda **given: add(**given | {"units": "imperial"})),
    ):
        return loaded(tuple(sorted(own.items())), services.load_demo)


def add_job(demo: Any) -> None:
    """A job of a customer, quoted, accepted, changed, begun and billed today, with what its hours and benders cost."""
    from farmbuild.demo.costs import enter_prices
    from farmbuild.demo.jobs import JobOfThen
    from farmbuild.demo.quotes import enter_rates
    from farmbuild.demo.season import WORK
    from farmbuild.orgs.clock import today_of, zone_in_force
    from farmbuild.sites.models import House

    rows, given = json.loads(WORK.read_text(encoding="utf-8")), (demo.organisation, demo.user)
    today = today_of(organisation=demo.organisation)
    enter_prices(*given, rows["costs"], today - timedelta(days=30))
    enter_rates(*given)
    row = rows["jobs"][-1]
    job = JobOfThen(*given, House.objects.get(organisation=demo.organisation, name=row["like"]), row)
    with zone_in_force(demo.organisation):
        job.send(today)
        job.accept(today)
        job.use_goods(today)
        job.build(today)
        for change in row["changes"]:
            job.change(change, today)
        job.bill(today)


def add_together(demo: Any) -> None:
    """Joint orders, charges, an account and a lot of the members of the demo season, in the weeks before today."""
    from farmbuild.demo.diary import Diary
    from farmbuild.demo.season import WORK
    from farmbuild.demo.together import enter_together
    from farmbuild.orgs.clock import today_of, zone_in_force, zone_of

    organisation = demo.organisation
    diary = Diary(today_of(organisation=organisation), zone_of(organisation=organisation))
    rows = json.loads(WORK.read_text(encoding="utf-8"))["together"]
    with zone_in_force(organisation):
        enter_together(diary, organisation=organisation, user=demo.user, rows=rows)
        diary.play()


def typed() -> list[str]:
    from farmbuild.catalogue.models import Material, Offer, Supplier
    from farmbuild.hoops.models import Bender, Recipe

    names = {
        getattr(row, name)
        for model, fields in (
            (Material, ("name", "code", "note", "yield_source")),
            (Supplier, ("name", "code")),
            (Offer, ("supplier_code",)),
            (Recipe, ("name", "slug")),
            (Bender, ("name", "slug")),
        )
        for row in model.objects.all()
        for name in fields
    }
    return sorted(names - {""}, key=len, reverse=True)


def most_of(name: str) -> int:
    """Pages of that name in a walk: one has all that its template says."""
    return sized(PAGES_OF_ONE_KIND if name in OF_MANY_STATES else 1, PAGES_OF_ONE_KIND)


def typed_names() -> list[str]:
    from django.apps import apps
    from django.db.models import CharField, TextField

    found = set()
    for model in apps.get_models():
        names = [
            field.name
            for field in model._meta.fields
            if field.name in TYPED and isinstance(field, CharField | TextField) and not field.choices
        ]
        for row in model._default_manager.values_list(*names) if names else ():
            # An address of several lines is shown line by line.
            lines = {line for text in row if isinstance(text, str) for line in (text, *text.splitlines())}
            found |= {text for text in lines if len(text) > 1}
    return sorted(found, key=len, reverse=True)


def spanish() -> dict[str, str]:
    """What a crew and a visitor read, with marks."""
    from django.test import Client

    from farmbuild.crew.models import Person
    from farmbuild.orgs.acts import READY_SETS, Role
    from farmbuild.orgs.gates import FREE, lets
    from farmbuild.orgs.models import Language, Membership, Organisation, User
    from farmbuild.orgs.visitors import PAGES

    user = User.objects.create_user("walker", first_name="Walker", language=Language.SPANISH)
    Membership.objects.create(organisation=Organisation.objects.get(), user=user, role=Role.CREW)
    Person.objects.filter(pk=Person.objects.filter(user=None).first().pk).update(user=user)
    visitor = User.objects.filter(visitor=True).last()
    User.objects.filter(pk=visitor.pk).update(language=Language.SPANISH)
    crew, seen = Client(), Client()
    crew.force_login(user)
    seen.force_login(visitor)
    found = {}
    with marked():
        for name, paths in addresses():
            if name in NO_PAGES_OF_CREWS:
                continue
            if name in PAGES and name.startswith(("crew:", "coop:")):
                client = seen
            elif name in FREE or lets(name, READY_SETS[Role.CREW], "GET"):
                client = crew
            else:
                continue
            for path in paths:
                answer = client.get(path, follow=True)
                if answer.status_code == 200 and answer.headers.get("Content-Type", "").startswith("text/html"):
                    found[path] = answer.content.decode()
    return found


def _with_marks(client: Client, paths: list[str]) -> dict[str, str]:
    """Pages as whoever owns all reads them in Spanish, with marks."""
    from farmbuild.orgs.models import Language, User

    User.objects.filter(visitor=False).update(language=Language.SPANISH)
    with marked():
        pages = {path: Answer.of(client.get(path)).page for path in paths}
    return {path: page for path, page in pages.items() if page}


def fetch(with_marks: bool) -> Walk:
    """Every page and file of the season that is loaded. Marks take as long again."""
    # This file is read before the client of tests is put in its place.
    from django.test import Client

    from farmbuild.orgs.models import User
    from farmbuild.orgs.visitors import PAGES

    clients = {user.visitor: Client() for user in User.objects.all()}
    for user in User.objects.all():
        clients[user.visitor].force_login(user)
    linked = {path: Answer.of(answer) for path, _, answer in walk(clients[False], most=most_of)}
    of_name: dict[str, list[str]] = {}
    for path in linked:
        of_name.setdefault(resolve(path).view_name, []).append(path)
    named: dict[str, dict[str, Answer]] = {}
    for name, found in addresses():
        theirs = name in PAGES and name.startswith(("crew:", "coop:"))
        if not (theirs or LONG or name in GIVEN):
            found = of_name.get(name, found)
        named[name] = {}
        for path in reversed(found):
            known = linked.get(path) if not theirs else None
            named[name][path] = known or Answer.of(clients[theirs].get(path))
            # Not every row has such a page, as the end of a batch that is over.
            if named[name][path].status == 200 and not LONG and name not in GIVEN:
                break
    read = linked | {path: answer for answers in named.values() for path, answer in answers.items() if answer.page}
    pages = _with_marks(clients[False], sorted(read)) if with_marks else {}
    return Walk(linked, named, typed(), pages, spanish(), typed_names())
