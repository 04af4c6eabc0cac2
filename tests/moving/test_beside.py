"""An export of years takes its time: people go on working meanwhile, and it is of one moment."""

from __future__ import annotations

import zipfile
from pathlib import Path
from threading import Thread

import pytest
from django.db import connection

from farmbuild.moving.going import write_export
from farmbuild.sites.models import Site
from tests.factories import OrganisationFactory, SiteFactory

pytestmark = pytest.mark.django_db(transaction=True)


def test_people_store_while_it_is_written_and_it_is_of_the_moment_before(tmp_path: Path) -> None:
    organisation = OrganisationFactory()
    SiteFactory(organisation=organisation, name="North")
    stored: list[str] = []

    def store() -> None:
        try:
            if connection.vendor == "sqlite":
                with connection.cursor() as cursor:
                    cursor.execute("PRAGMA busy_timeout = 100")
            stored.append(SiteFactory(organisation=organisation, name="South").name)
        finally:
            connection.close()

    def meanwhile(done: int, *_: object) -> None:
        # The moment is that of the first rows.
        if done == 1:
            thread = Thread(target=store)
            thread.start()
            thread.join()

    write_export(organisation=organisation, to=tmp_path / "farm.zip", progress=meanwhile)
    assert stored == ["South"] and Site.objects.count() == 2
    with zipfile.ZipFile(tmp_path / "farm.zip") as archive:
        assert archive.read("rows/sites.Site.jsonl").decode().count("\n") == 1
    # What is stored next takes its lock at the beginning again.
    SiteFactory(organisation=organisation, name="East")
    assert connection.vendor != "sqlite" or connection.transaction_mode == "IMMEDIATE"
