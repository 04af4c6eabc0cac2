"""A farm, a contractor and a cooperative go out, through a database of the other kind, and come into a third beside
others that are there: from SQLite by PostgreSQL to SQLite, or from PostgreSQL by SQLite to PostgreSQL.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape
from io import StringIO
from itertools import islice
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.test import Client

from farmbuild.common.doctor.examining import examine
from farmbuild.history.models import Entry
from farmbuild.moving.erasing import FORMER, erase_person
from farmbuild.moving.figures import figures_of
from farmbuild.moving.going import write_export
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.plans.models import Plan
from farmbuild.stock.models import Movement
from tests.factories import LotFactory, MembershipFactory
from tests.kept import copy_sqlite
from tests.postgres import TEMPLATE, Cluster, binaries
from tests.upgrades.conftest import default_database
from tests.upgrades.keep import COMMITS
from tests.upgrades.kinds import empty, three
from tests.upgrades.rows import rows_of
from tests.walks import walk
from tests.where import ROOT

pytestmark = pytest.mark.skipif(
    not binaries() and not os.environ.get("FARMBUILD_REQUIRE_ALL"), reason="needs PostgreSQL's own programs"
)
#: What the doctor looks at besides the database.
NOT_OF_ROWS = ("Settings", "Files")
#: Enough to see most kinds of page.
PAGES = 25
#: In the database between: each comes, and goes out again.
THROUGH = """
import json, sys, zipfile, django
django.setup()
from django.core.management import call_command
for file in sys.argv[1:]:
    address = json.loads(zipfile.ZipFile(file).read("manifest.json"))["organisation"]["address"]
    call_command("import", file)
    call_command("export", address, file.replace(".zip", ".between.zip"))
"""


@dataclass(frozen=True)
class Moved:
    """``files``: as they first went out, and as they went on from the database between. ``said``: what the last
    imports said. ``before``: rows of the others there before them. ``empty``: tables without a row at the source.
    """

    source: str
    target: str
    files: list[Path]
    between: list[Path]
    said: list[str]
    before: dict
    empty: list[str]

    @property
    def file(self) -> Path:
        """Of the cooperative."""
        return self.files[0]


def manifest_of(file: Path) -> dict:
    with zipfile.ZipFile(file) as archive:
        return json.loads(archive.read("manifest.json"))


@pytest.fixture(scope="module")
def of_the_other_kind(tmp_path_factory) -> Iterator[str]:
    """The address of an empty database: PostgreSQL where the tests are with SQLite, else SQLite."""
    if connection.vendor == "postgresql":
        file = tmp_path_factory.mktemp("between") / "between.sqlite3"
        copy_sqlite(file)
        yield f"sqlite:///{file}"
        return
    cluster = Cluster(binaries())
    cluster.start()
    yield cluster.address(TEMPLATE)
    cluster.stop()


@pytest.fixture(scope="module")
def moved(upgraded, new_database, of_the_other_kind, tmp_path_factory, django_db_blocker) -> Moved:
    kept, folder = upgraded(COMMITS[-1]).name, tmp_path_factory.mktemp("moved")
    # Others look at the kept one too.
    source = new_database("source", like=kept)
    if connection.vendor == "sqlite":
        shutil.copyfile(kept, source)
    target = new_database("target", like=TEMPLATE)
    if connection.vendor == "sqlite":
        copy_sqlite(Path(target))
    with django_db_blocker.unblock():
        with default_database(source):
            mine = [*three(Organisation.objects.get())]
            files = [folder / f"{one.slug}.zip" for one in mine]
            for one, file in zip(mine, files, strict=True):
                said = StringIO()
                call_command("export", one.slug, str(file), stdout=said)
                assert "rows and" in said.getvalue()
            lacking = empty(mine)
        given = {"DATABASE_URL": of_the_other_kind, "DJANGO_SETTINGS_MODULE": "farmbuild.settings"}
        command = [sys.executable, "-c", THROUGH, *map(str, files)]
        subprocess.run(command, cwd=ROOT, env=os.environ | given, check=True, stdout=subprocess.DEVNULL)
        between = [file.with_suffix(".between.zip") for file in files]
        with default_database(target):
            # Those of another organisation have the low keys.
            for _ in range(3):
                MembershipFactory(user__email="someone@example.org")
                LotFactory()
            before = rows_of(connection.introspection.table_names())
            told = []
            for file in between:
                said = StringIO()
                call_command("import", str(file), stdout=said)
                told.append(said.getvalue())
    return Moved(source, target, files, between, told, before, lacking)


@pytest.fixture
def there(moved, django_db_blocker):
    with django_db_blocker.unblock(), default_database(moved.target):
        yield moved


def came(moved: Moved) -> list[Organisation]:
    """The three, in the order in which they went."""
    return [Organisation.objects.get(slug=manifest_of(file)["organisation"]["address"]) for file in moved.files]


def test_every_table_has_a_row_to_move(moved):
    assert moved.empty == [], "give one a row in FILLED of tests/upgrades/kinds.py"


def test_every_row_came_and_nothing_else_changed(there):
    for file, between, said in zip(there.files, there.between, there.said, strict=True):
        first, second = manifest_of(file), manifest_of(between)
        assert {first["database"], second["database"]} == {"sqlite", "postgresql"}
        rows = sum(rows for rows, _ in first["tables"].values())
        assert f"{rows:,}".replace(",", " ") in said.replace(",", " ")
        for label, (count, _) in first["tables"].items():
            assert second["tables"][label][0] == count, label
        assert (second["figures"], second["files"]) == (first["figures"], first["files"])
    assert sum(rows for rows, _ in manifest_of(there.file)["tables"].values()) > 900
    for table, before in there.before.items():
        after = rows_of([table])[table]
        # The counter of keys is all that moved of what was there.
        assert table in ("sqlite_sequence",) or before.found - after.found == {}, table


def test_the_database_is_well(there):
    assert [fault for found in examine() for fault in found.faults if found.what not in NOT_OF_ROWS] == []


def test_keys_are_others_and_plans_the_same(there, moved):
    organisation = came(there)[0]
    digests = [*Plan.objects.filter(organisation=organisation).values_list("inputs_digest", "result_digest")]
    with default_database(moved.source):
        of_it = Plan.objects.filter(organisation__slug=organisation.slug)
        assert digests == [*of_it.values_list("inputs_digest", "result_digest")]
        assert Movement.objects.order_by("pk").first().pk <= 10
    mine = Movement.objects.filter(lot__organisation=organisation).order_by("pk").first()
    assert mine.pk > Movement.objects.exclude(lot__organisation__in=came(there)).count()


def test_people_come_without_a_password(there):
    organisation = came(there)[0]
    people = User.objects.filter(memberships__organisation=organisation)
    assert people
    for user in people:
        assert not user.has_usable_password() and not user.is_staff and not user.is_superuser
    with zipfile.ZipFile(there.file) as archive:
        names = archive.namelist()
        told = b"".join(archive.read(name) for name in names if name.startswith(("rows/", "people", "sheets/")))
    with default_database(there.source):
        for user in User.objects.exclude(password=""):
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

    slug = came(there)[0].slug
    here = pages()
    with default_database(moved.source):
        before = pages()
    assert [path for path, _ in here] == [path for path, _ in before]
    for (path, now), (_, then) in zip(here, before, strict=True):
        assert now == then, path


def test_it_comes_once(there):
    with pytest.raises(CommandError, match="is here already"):
        call_command("import", str(there.file))


def test_each_goes_on_from_there(there, tmp_path):
    """Exported there it is what it was, with nothing of the others."""
    for file, organisation in zip(there.files, came(there), strict=True):
        again = write_export(organisation=organisation, to=tmp_path / file.name)
        first = manifest_of(file)
        assert {label: rows for label, (rows, _) in again["tables"].items()} == {
            label: rows for label, (rows, _) in first["tables"].items()
        }
        assert again["figures"] == first["figures"]
        assert Entry.objects.filter(organisation=organisation).count() == again["tables"]["history.Entry"][0]


def test_the_books_of_each_are_whole_after_a_person_is_erased(there):
    """Who did most of it, and may go because another owner is there."""
    for organisation in came(there):
        with transaction.atomic():
            before = figures_of(organisation.pk)
            gone = Membership.objects.filter(organisation=organisation, role="owner").order_by("pk").first()
            keeper = MembershipFactory(organisation=organisation, role="owner").user
            assert erase_person(organisation=organisation, user=keeper, person=gone)
            assert User.objects.get(pk=gone.user_id).get_full_name() == FORMER
            assert figures_of(organisation.pk) == before
            assert [fault for found in examine() for fault in found.faults if found.what not in NOT_OF_ROWS] == []
            transaction.set_rollback(True)
