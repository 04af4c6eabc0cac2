"""The demo season of a kept database goes out, and comes into another database beside an organisation that is there."""

from __future__ import annotations

import json
import re
import zipfile
from dataclasses import dataclass
from html import unescape
from io import StringIO
from itertools import islice
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client

from farmbuild.common.doctor.examining import examine
from farmbuild.history.models import Entry
from farmbuild.moving.going import write_export
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.plans.models import Plan
from farmbuild.stock.models import Movement
from tests.factories import LotFactory, MembershipFactory
from tests.kept import copy_sqlite
from tests.postgres import TEMPLATE
from tests.upgrades.conftest import default_database
from tests.upgrades.keep import COMMITS
from tests.upgrades.rows import rows_of
from tests.walks import walk

#: Enough to see most kinds of page.
PAGES = 25


@dataclass(frozen=True)
class Moved:
    """``said``: what the import said. ``before``: rows of the others there before it."""

    source: str
    target: str
    file: Path
    said: str
    before: dict


@pytest.fixture(scope="module")
def moved(upgraded, new_database, tmp_path_factory, django_db_blocker) -> Moved:
    source = upgraded(COMMITS[-1]).name
    file = tmp_path_factory.mktemp("moved") / "season.zip"
    target = new_database("target", like=TEMPLATE)
    if connection.vendor == "sqlite":
        copy_sqlite(Path(target))
    with django_db_blocker.unblock():
        with default_database(source):
            said = StringIO()
            call_command("export", Organisation.objects.get().slug, str(file), stdout=said)
            assert "rows and" in said.getvalue()
        with default_database(target):
            # Those of another organisation have the low keys.
            for _ in range(3):
                MembershipFactory(user__email="someone@example.org")
                LotFactory()
            before = rows_of(connection.introspection.table_names())
            said = StringIO()
            call_command("import", str(file), stdout=said)
    return Moved(source, target, file, said.getvalue(), before)


@pytest.fixture
def there(moved, django_db_blocker):
    with django_db_blocker.unblock(), default_database(moved.target):
        yield moved


def test_every_row_came_and_nothing_else_changed(there):
    manifest = json.loads(zipfile.ZipFile(there.file).read("manifest.json"))
    rows = sum(rows for rows, _ in manifest["tables"].values())
    assert rows > 900 and f"{rows:,}".replace(",", " ") in there.said.replace(",", " ")
    for table, before in there.before.items():
        after = rows_of([table])[table]
        # The counter of keys is all that moved of what was there.
        assert table in ("sqlite_sequence",) or before.found - after.found == {}, table


def test_the_database_is_well(there):
    assert [fault for found in examine() for fault in found.faults if found.what not in ("Settings", "Files")] == []


def test_keys_are_others_and_plans_the_same(there, moved):
    organisation = Organisation.objects.order_by("-pk").first()
    digests = [*Plan.objects.filter(organisation=organisation).values_list("inputs_digest", "result_digest")]
    with default_database(moved.source):
        assert digests == [*Plan.objects.values_list("inputs_digest", "result_digest")]
        assert Movement.objects.order_by("pk").first().pk <= 10
    mine = Movement.objects.filter(lot__organisation=organisation).order_by("pk").first()
    assert mine.pk > Movement.objects.exclude(lot__organisation=organisation).count()


def test_people_come_without_a_password(there):
    organisation = Organisation.objects.order_by("-pk").first()
    people = User.objects.filter(memberships__organisation=organisation)
    assert people
    for user in people:
        assert not user.has_usable_password() and not user.is_staff and not user.is_superuser
    with zipfile.ZipFile(there.file) as archive:
        names = archive.namelist()
        told = b"".join(archive.read(name) for name in names if name.startswith(("rows/", "people", "sheets/")))
    with default_database(there.source):
        for user in User.objects.all():
            assert user.password.encode() not in told
    assert b"pbkdf2" not in told and b"md5$" not in told


def seen(client: Client) -> list[tuple[str, str]]:
    found = []
    for path, _, answer in islice(walk(client), PAGES):
        html = re.sub(r"(?s)<(script|svg)\b.*?</\1>", "", answer.content.decode())
        words = re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", html)))
        # A board says what time it is; the other walk may come a minute later.
        words = re.sub(r"\bnow \d\d:\d\d\b", "now", words)
        found.append((re.sub(r"\d+", "1", path), words))
    return found


def test_pages_say_the_same(there, moved):
    def pages() -> list[tuple[str, str]]:
        owner = Membership.objects.filter(organisation__slug=slug, role="owner").order_by("pk").first().user
        client = Client()
        client.force_login(owner)
        return seen(client)

    slug = Organisation.objects.order_by("-pk").first().slug
    here = pages()
    with default_database(moved.source):
        before = pages()
    assert [path for path, _ in here] == [path for path, _ in before]
    for (path, now), (_, then) in zip(here, before, strict=True):
        assert now == then, path


def test_it_comes_once(there):
    with pytest.raises(CommandError, match="is here already"):
        call_command("import", str(there.file))


def test_it_goes_on_from_there(there, moved, tmp_path):
    """Exported there it is what it was, with nothing of the others."""
    organisation = Organisation.objects.order_by("-pk").first()
    again = write_export(organisation=organisation, to=tmp_path / "again.zip")
    first = json.loads(zipfile.ZipFile(moved.file).read("manifest.json"))
    assert {label: rows for label, (rows, _) in again["tables"].items()} == {
        label: rows for label, (rows, _) in first["tables"].items()
    }
    assert again["figures"] == first["figures"]
    assert Entry.objects.filter(organisation=organisation).count() == again["tables"]["history.Entry"][0]
